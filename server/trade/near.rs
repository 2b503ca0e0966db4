//! What to say when a name or a lot code is not known: offer what was probably meant, never take it in silence.

use super::{codes::LotCode, short};

/// A sentence about a key nobody knows, with the nearest known ones.
#[must_use]
pub fn unknown<'a>(one: &str, typed: &str, known: impl Iterator<Item = &'a str> + Clone) -> String {
    let named = short(typed);
    let offered = offered(typed, known.clone());
    if !offered.is_empty() {
        return format!("There is no {one} “{named}”.{offered}");
    }
    let some: Vec<&str> = known.take(6).collect();
    let here = if some.is_empty() { String::new() } else { format!(" There is: {}…", some.join(", ")) };
    format!("There is no {one} “{named}”.{here}")
}

/// ` Did you mean 6134A-S?`, when a known key is near: one slip away for a lot code, two letters for anything else.
#[must_use]
pub fn offered<'a>(typed: &str, known: impl Iterator<Item = &'a str> + Clone) -> String {
    let slips: Vec<&str> = known.clone().filter(|key| LotCode::parse(key).is_ok_and(|code| code.one_slip_from(typed))).collect();
    let mut close: Vec<&str> = if slips.is_empty() { known.filter(|key| apart(key, typed) <= 2).collect() } else { slips };
    close.dedup();
    close.truncate(4);
    if close.is_empty() { String::new() } else { format!(" Did you mean {}?", close.join(" or ")) }
}

/// How many single letters must change, come or go to make one word of the other (Levenshtein 1966).
#[must_use]
pub fn apart(one: &str, other: &str) -> usize {
    let (one, other): (Vec<char>, Vec<char>) =
        (one.to_lowercase().chars().take(60).collect(), other.trim().to_lowercase().chars().take(60).collect());
    let mut row: Vec<usize> = (0..=other.len()).collect();
    for (i, a) in one.iter().enumerate() {
        let mut corner = row[0];
        row[0] = i + 1;
        for (j, b) in other.iter().enumerate() {
            let swap = corner + usize::from(a != b);
            corner = row[j + 1];
            row[j + 1] = swap.min(corner + 1).min(row[j] + 1);
        }
    }
    row[other.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: the textbook pair kitten/sitting, three edits apart (from memory).
    #[test]
    fn near_names_are_offered() {
        assert_eq!(apart("kitten", "sitting"), 3);
        let cows = ["Damson", "Kettle", "Wren", "Thimble"];
        assert_eq!(unknown("cow", "Damzon", cows.into_iter()), "There is no cow “Damzon”. Did you mean Damson?");
        assert!(unknown("cow", "🐄", cows.into_iter()).starts_with("There is no cow “🐄”. There is: Damson"));
    }

    #[test]
    fn a_slipped_code_offers_the_codes_one_character_away() {
        let day = super::super::when::Day::from_ymd_opt(2026, 5, 14).unwrap();
        let code = LotCode::of_fill(day, 0).unwrap();
        let slipped = code.as_str().replacen("6134", "6184", 1);
        assert!(unknown("lot", &slipped, [code.as_str()].into_iter()).ends_with(&format!("Did you mean {code}?")));
    }
}
