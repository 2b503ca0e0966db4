//! The number a household goes by on the clipboard: which one was meant by what was typed, and whether it is a number at all.

/// What a record is written from when a household that came in by its number writes it on its own page.
pub const OWN_PAGE: &str = "fridge page";

/// Whether what was typed means this number: `M05`, `m5` and `m 05` are one, and the digits alone will do.
#[must_use]
pub fn names(label: &str, typed: &str) -> bool {
    let (stem, count) = parted(label);
    let (typed_stem, typed_count) = parted(typed);
    count == typed_count && (stem == typed_stem || (typed_stem.is_empty() && !typed_count.is_empty()))
}

/// What was typed as one spelling, so that a number is the same number however it is typed.
#[must_use]
pub fn one_spelling(typed: &str) -> String {
    let (stem, count) = parted(typed);
    format!("{stem}{count}")
}

/// The letters before a number in one case, and its digits without the zeros before them.
fn parted(label: &str) -> (String, String) {
    let plain: String = label.chars().filter(|c| !c.is_whitespace() && *c != '-').take(20).collect::<String>().to_lowercase();
    let stem = plain.trim_end_matches(|c: char| c.is_ascii_digit());
    let digits = &plain[stem.len()..];
    let count = digits.trim_start_matches('0');
    (stem.to_owned(), if count.is_empty() && !digits.is_empty() { "0".to_owned() } else { count.to_owned() })
}

/// Whether a label is a number and no name: at most two letters before its figures, and not the first letters of a name.
#[must_use]
pub fn is_number(label: &str, name: &str) -> bool {
    let stem = label.trim_end_matches(|c: char| c.is_ascii_digit());
    let is_name = stem.len() > 1 && name.split(|c: char| !c.is_alphanumeric()).any(|word| word.eq_ignore_ascii_case(stem));
    stem.len() < label.len() && stem.len() <= 2 && stem.chars().all(|c| c.is_ascii_alphabetic()) && !is_name
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_is_taken_however_it_is_typed() {
        for typed in ["M05", "m05", "m5", " M 5 ", "M-05", "5", "05", "M005"] {
            assert!(names("M05", typed), "{typed}");
        }
        for typed in ["", "M", "M50", "W05", "M0", "5M", "M05x", "🐄"] {
            assert!(!names("M05", typed), "{typed}");
        }
        assert!(!names("M", ""), "nothing typed names nobody");
        assert_eq!(one_spelling("M 005"), one_spelling("m5"));
        assert_ne!(one_spelling("M05"), one_spelling("W05"));
        assert!(one_spelling(&"9".repeat(10_000)).len() <= 20);
    }

    #[test]
    fn a_number_is_a_letter_or_two_and_figures() {
        for label in ["M17", "W03", "7", "HH12"] {
            assert!(is_number(label, "Orla Tremont"), "{label}");
        }
        for (label, name) in [("ORLA", "Orla Tremont"), ("TREMONT2", "Orla Tremont"), ("ORLA2", ""), ("Bo7", "Bo Li"), ("M-17", "")] {
            assert!(!is_number(label, name), "{label}");
        }
    }
}
