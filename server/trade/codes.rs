//! Lot codes: short enough for a grease pencil and a phone call, and they say their own date.
//!
//! One digit of the year, three of the day of the year, a fill letter, and one check character over them by ISO/IEC 7064
//! MOD 37,36, as in `6134A-S`. A slipped character is caught, and never put right in silence.

use super::{
    Fault, short,
    when::{Day, parse_day},
};
use chrono::Datelike;
use std::fmt;

const CHARACTERS: &[u8; 36] = b"0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ";

/// A lot code whose check character is right.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct LotCode(String);

impl LotCode {
    /// The code of the `nth` fill of a day, counting from 0. Letters I and O are skipped, and so is any letter whose
    /// check character would be I or O, because both are misread. Gives nothing back when the day's letters are used up.
    #[must_use]
    pub fn of_fill(day: Day, nth: usize) -> Option<LotCode> {
        LotCode::of_day(day).nth(nth)
    }

    /// The codes of a day's fills, in their order.
    pub fn of_day(day: Day) -> impl Iterator<Item = LotCode> {
        let stem = format!("{}{:03}", day.year().rem_euclid(10), day.ordinal());
        ('A'..='Z').filter(|letter| !matches!(letter, 'I' | 'O')).filter_map(move |letter| {
            let payload = format!("{stem}{letter}");
            let check = check_character(&payload)?;
            (!matches!(check, 'I' | 'O')).then(|| LotCode(format!("{payload}-{check}")))
        })
    }

    /// The first code of a day that is not taken.
    #[must_use]
    pub fn first_free(day: Day, taken: &[String]) -> Option<LotCode> {
        LotCode::of_day(day).find(|code| !taken.iter().any(|own| own == code.as_str()))
    }

    /// Reads a typed code: spaces are dropped, letters put in capitals, O read as 0 and I as 1.
    ///
    /// # Errors
    /// A sentence when the code is malformed or its check character does not fit.
    pub fn parse(typed: &str) -> Result<LotCode, Fault> {
        let plain: String = typed
            .trim()
            .to_uppercase()
            .chars()
            .filter(|c| !c.is_whitespace() && *c != '-')
            .map(|c| match c {
                'O' => '0',
                'I' => '1',
                other => other,
            })
            .collect();
        let shape = plain.len() == 6
            && plain.is_ascii()
            && plain.chars().take(4).all(|c| c.is_ascii_digit())
            && plain.chars().nth(4).is_some_and(|c| c.is_ascii_uppercase());
        if !shape {
            return Err(Fault::says(format!(
                "“{}” is not a lot code. A code has four digits, a letter and a check character, like 6134A-S.",
                short(typed)
            )));
        }
        let (payload, check) = plain.split_at(5);
        if check_character(payload).map(String::from).as_deref() == Some(check) {
            Ok(LotCode(format!("{payload}-{check}")))
        } else {
            Err(Fault::says(format!("“{}” has a slipped character: its check character does not fit. Read the lid again.", short(typed))))
        }
    }

    /// The code as it stands on the lid.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// Every code whose check character is right and that differs from a typed one in a single character.
    #[must_use]
    pub fn one_slip_from_typed(typed: &str) -> Vec<LotCode> {
        let plain: Vec<char> = typed.trim().to_uppercase().chars().filter(|c| !c.is_whitespace() && *c != '-').collect();
        if plain.len() != 6 {
            return Vec::new();
        }
        let slip = |(place, with): (usize, &u8)| {
            let mut other = plain.clone();
            other[place] = char::from(*with);
            LotCode::parse(&other.iter().collect::<String>()).ok().filter(|code| code.one_slip_from(typed))
        };
        (0..6).flat_map(|place| CHARACTERS.iter().map(move |with| (place, with))).filter_map(slip).collect()
    }

    /// Whether a mistyped code differs from this one in a single character.
    #[must_use]
    pub fn one_slip_from(&self, typed: &str) -> bool {
        let plain = |text: &str| text.trim().to_uppercase().chars().filter(|c| !c.is_whitespace() && *c != '-').collect::<Vec<char>>();
        let (own, other) = (plain(&self.0), plain(typed));
        own.len() == other.len() && own.iter().zip(&other).filter(|(a, b)| a != b).count() == 1
    }
}

/// A lot as a record names it: by its code, and by the day of its fill where the code came round again after ten years.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LotName {
    /// The code on the lid.
    pub code: LotCode,
    /// The day it was filled, where the code alone would name another.
    pub filled: Option<Day>,
}

impl LotName {
    /// Reads `6134A-S` or `6134A-S 2026-05-14`.
    ///
    /// # Errors
    /// As [`LotCode::parse`].
    pub fn parse(typed: &str) -> Result<LotName, Fault> {
        let split = typed.trim().rsplit_once(char::is_whitespace).and_then(|(code, day)| Some((code, parse_day(day).ok()?)));
        match split {
            Some((code, day)) => Ok(LotName { code: LotCode::parse(code)?, filled: Some(day) }),
            None => Ok(LotName { code: LotCode::parse(typed)?, filled: None }),
        }
    }
}

impl fmt::Display for LotName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.filled {
            Some(day) => write!(f, "{} {day}", self.code),
            None => write!(f, "{}", self.code),
        }
    }
}

impl fmt::Display for LotCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// The check character of ISO/IEC 7064 hybrid system MOD 37,36, or nothing when the payload has a character outside
/// digits and capital letters.
#[must_use]
pub fn check_character(payload: &str) -> Option<char> {
    let mut product = 36;
    for byte in payload.bytes() {
        let value = CHARACTERS.iter().position(|c| *c == byte)?;
        let sum = match (product + value) % 36 {
            0 => 36,
            sum => sum,
        };
        product = (sum * 2) % 37;
    }
    CHARACTERS.get((37 - product) % 36).map(|byte| char::from(*byte))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Source: ISO/IEC 7064 MOD 37,36 as used in the published Global Release Identifier and ISAN examples.
    #[test]
    fn the_published_examples_check() {
        for (payload, check) in [("A12425GABC1234002", 'M'), ("00000000C36D002B", 'K'), ("00000000C36D002B00000000", 'E')] {
            assert_eq!(check_character(payload), Some(check), "{payload}");
        }
    }

    #[test]
    fn a_code_says_its_date_and_is_read_as_typed_by_hand() {
        let code = LotCode::of_fill(Day::from_ymd_opt(2026, 5, 14).unwrap(), 0).unwrap();
        assert!(code.as_str().starts_with("6134A-"), "{code}");
        let spoken = code.as_str().replace('-', " ").to_lowercase();
        assert_eq!(LotCode::parse(&format!("  {spoken} ")).unwrap(), code);
    }

    #[test]
    fn letters_that_are_misread_never_stand_in_a_code() {
        for ordinal in 1..=366 {
            let day = Day::from_yo_opt(2028, ordinal).unwrap();
            let codes: Vec<LotCode> = (0..30).map_while(|nth| LotCode::of_fill(day, nth)).collect();
            assert!(codes.len() >= 20, "day {ordinal} has only {} codes", codes.len());
            assert!(codes.iter().all(|code| !code.as_str().contains(['I', 'O'])));
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        /// Source: ISO/IEC 7064; every single substitution is caught.
        #[test]
        fn one_slipped_character_is_caught(ordinal in 1u32..366, nth in 0usize..20, place in 0usize..7, to in 0usize..36) {
            let code = LotCode::of_fill(Day::from_yo_opt(2026, ordinal).unwrap(), nth).unwrap();
            let mut slipped: Vec<char> = code.as_str().chars().collect();
            let to = char::from(CHARACTERS[to]);
            prop_assume!(place != 5 && slipped[place] != to && !matches!(to, 'I' | 'O'));
            slipped[place] = to;
            let slipped: String = slipped.into_iter().collect();
            prop_assert!(LotCode::parse(&slipped).is_err());
            prop_assert!(code.one_slip_from(&slipped));
        }
    }
}
