//! Finding a text in another to take it out, however it is spelt: in capitals, with its accents, a phone with any signs between
//! its digits.

use super::reach::digits;

/// How a text has to be spelt to be the one that is looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Spelt {
    /// In what is the household's own: any capitals, and the beginning of a longer word too.
    Own,
    /// In what others wrote: a name has its capital, and is a word or its plural.
    OfOthers,
    /// Where it is only pointed out: any capitals, but a short one with its capital.
    Found,
}

/// How long a text must be to be taken out of the middle of a word, as in a plural.
const LONG: usize = 5;
/// Digits of a phone: fewer are a count or a year, more are no phone.
const PHONE: std::ops::RangeInclusive<usize> = 7..=15;
/// Digits of a number within its area.
const LOCAL: usize = 7;
/// Digits with the area before them.
const WHOLE: usize = 10;

impl Spelt {
    /// A text with every place of another taken out.
    #[must_use]
    pub fn without(self, text: &str, gone: &str, place: &str) -> String {
        let (chars, needle): (Vec<char>, Vec<char>) = (text.chars().collect(), gone.chars().collect());
        let number = digits(gone);
        let number = if PHONE.contains(&number.len()) && !gone.contains('@') { number } else { String::new() };
        let (mut left, mut at) = (String::with_capacity(text.len()), 0);
        while at < chars.len() {
            let end = self.spelt_at(&chars, at, &needle).or_else(|| phone_at(&chars, at, &number));
            match end {
                Some(_) => left.push_str(place),
                None => left.push(chars[at]),
            }
            at = end.unwrap_or(at + 1);
        }
        left
    }

    /// Where a text ends that stands at a place.
    fn spelt_at(self, chars: &[char], at: usize, needle: &[char]) -> Option<usize> {
        let end = at + needle.len();
        let same = |(own, other): (&char, &char)| own == other || own.to_lowercase().eq(other.to_lowercase());
        let found = chars.get(at..end).filter(|found| !found.is_empty() && found.iter().zip(needle).all(same))?;
        let starts = !at.checked_sub(1).is_some_and(|before| chars[before].is_alphanumeric());
        let is_long = needle.len() >= LONG && !needle.last().is_some_and(char::is_ascii_digit);
        let rest: String = chars[end..].iter().take_while(|c| c.is_alphanumeric()).collect();
        let ends = rest.is_empty() || is_long && (self != Spelt::OfOthers || matches!(rest.to_lowercase().as_str(), "s" | "es"));
        let has_capital = !needle[0].is_uppercase() || found[0].is_uppercase();
        let capital = has_capital || self == Spelt::Own || (self == Spelt::Found && is_long);
        (starts && ends && capital).then_some(end)
    }
}

/// Where a phone ends that begins at a place, whatever stands between its digits; the country before it, or the area missing,
/// make no other number of it.
fn phone_at(chars: &[char], at: usize, number: &str) -> Option<usize> {
    if number.is_empty() || !(chars[at].is_ascii_digit() || matches!(chars[at], '+' | '(')) {
        return None;
    }
    // Digits that stand right before belong to a number that is longer than this one.
    let before = chars[..at].iter().rev().find(|c| !is_between(**c));
    if before.is_some_and(char::is_ascii_digit) {
        return None;
    }
    let last = |many: usize| number.get(number.len().saturating_sub(many)..).unwrap_or(number).to_owned();
    let spellings = [number.to_owned(), format!("1{}", last(WHOLE)), last(WHOLE), last(LOCAL)];
    spellings.iter().find_map(|own| run_at(chars, at, own))
}

/// Whether a sign may stand between two digits of a phone.
fn is_between(c: char) -> bool {
    matches!(c, ' ' | '\u{a0}' | '-' | '–' | '.' | '(' | ')' | '/' | '+')
}

/// Where digits end that stand at a place one after another.
fn run_at(chars: &[char], at: usize, digits: &str) -> Option<usize> {
    let (mut wanted, mut end) = (digits.chars().peekable(), at);
    while let Some(next) = wanted.peek() {
        let own = chars.get(end)?;
        if own == next {
            wanted.next();
        } else if !is_between(*own) {
            return None;
        }
        end += 1;
    }
    (!chars.get(end).is_some_and(char::is_ascii_digit)).then_some(end)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: ITU-T E.123 for the ways a number is written. The numbers are from the range kept free for stories.
    #[test]
    fn a_phone_goes_in_any_spelling_and_no_other_goes() {
        for spelt in ["802-555-0117", "(802) 555 0117", "+1 802 555 0117", "8025550117", "1.802.555.0117", "555-0117", "555 0117"] {
            assert_eq!(Spelt::Own.without(&format!("Ring {spelt}, soon"), "802-555-0117", "x"), "Ring x, soon", "{spelt}");
        }
        for other in ["603-555-0117", "802-555-01170", "802-555-0118", "9 802 555 0117", "0117"] {
            assert_eq!(Spelt::Own.without(other, "802-555-0117", "x"), other);
        }
        assert_eq!(
            Spelt::Own.without("802 555 0117 802 555 0118", "802-555-0117", "x"),
            "802 555 0117 802 555 0118".replacen("802 555 0117", "x", 1)
        );
        assert_eq!(Spelt::OfOthers.without("2 jars on 2026-05-14", "2 jars", "x"), "x on 2026-05-14");
    }

    /// Source: the Unicode Standard's simple case mappings: É and é are one letter.
    #[test]
    fn a_name_goes_in_capitals_with_its_accents() {
        assert_eq!(Spelt::OfOthers.without("ÉMILE CÔTÉ came", "Émile Côté", "x"), "x came");
        assert_eq!(Spelt::OfOthers.without("the Tremonts, Tremontville", "Tremont", "x"), "the xs, Tremontville");
        assert_eq!(Spelt::OfOthers.without("it may rain on May", "May", "x"), "it may rain on x");
        assert_eq!(Spelt::Own.without("may here", "May", "x"), "x here");
        assert_eq!(Spelt::Found.without("tremont", "Tremont", ""), "");
        assert_eq!(Spelt::Own.without("🐄", "", "x"), "🐄");
    }
}
