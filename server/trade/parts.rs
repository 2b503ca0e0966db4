//! Part of a share, and hundredths of a jar.
//!
//! A household may own half a share, or a third. What that comes to is reckoned in hundredths of a jar, which are whole
//! numbers: so what is promised, what was fair and what is carried to the next week always add up.

use super::{Fault, measure::figure_of, short};
use num_rational::Ratio;
use rust_decimal::{Decimal, prelude::ToPrimitive};
use std::{
    fmt,
    ops::{Add, Neg, Sub},
};

/// Part of a whole: `1`, `1/2`, `1 1/2`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Part(Ratio<i64>);

impl Part {
    /// All of it.
    #[must_use]
    pub fn whole() -> Part {
        Part(Ratio::from_integer(1))
    }

    /// None of it, to add parts to.
    #[must_use]
    pub fn none() -> Part {
        Part(Ratio::from_integer(0))
    }

    /// Reads `1`, `1/2`, `1 1/2` or `0.5`.
    ///
    /// # Errors
    /// A sentence when it is no part of a whole.
    pub fn parse(typed: &str) -> Result<Part, Fault> {
        let wrong = || Fault::says(format!("“{}” is not a part of a share. Write it like 1, 1/2 or 1 1/2.", short(typed)));
        let read = |text: &str| -> Option<Ratio<i64>> {
            match text.split_once('/') {
                Some((over, under)) => {
                    let (over, under) = (over.trim().parse::<u16>().ok()?, under.trim().parse::<u16>().ok()?);
                    (under > 0 && under <= 100).then(|| Ratio::new(i64::from(over), i64::from(under)))
                }
                None => {
                    let hundredths = figure_of(text)?.checked_mul(Decimal::ONE_HUNDRED)?;
                    hundredths.fract().is_zero().then(|| hundredths.to_i64()).flatten().map(|hundredths| Ratio::new(hundredths, 100))
                }
            }
        };
        let text = typed.trim();
        let mixed = text.split_once(' ').filter(|(_, rest)| rest.contains('/') && !text.starts_with('/'));
        let part = match mixed {
            Some((whole, rest)) if !whole.contains('/') && !rest.trim_start().starts_with('/') => {
                let whole = whole.parse::<u16>().ok().map(i64::from).map(Ratio::from_integer);
                whole.zip(read(rest)).map(|(whole, rest)| whole + rest)
            }
            _ => read(text),
        };
        let part = part.ok_or_else(wrong)?;
        if part <= Ratio::from_integer(0) || part > Ratio::from_integer(40) {
            return Err(Fault::says(format!("{} cannot be right here: a part is more than 0 and at most 40.", short(typed))));
        }
        Ok(Part(part))
    }

    /// So much of some jars, to the hundredth, half away from zero.
    #[must_use]
    pub fn of(self, jars: i64) -> Hundredths {
        Hundredths((self.0 * Ratio::from_integer(jars * 100)).round().to_integer())
    }

    /// So much of an amount of cents, exactly.
    #[must_use]
    pub fn times(self, cents: i64) -> Decimal {
        Decimal::from(cents) * Decimal::from(*self.0.numer()) / Decimal::from(*self.0.denom())
    }
}

impl fmt::Display for Part {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (whole, rest) = (self.0.to_integer(), self.0.fract());
        match (whole, *rest.numer()) {
            (whole, 0) => write!(f, "{whole}"),
            (0, _) => write!(f, "{rest}"),
            (whole, _) => write!(f, "{whole} {rest}"),
        }
    }
}

impl Add for Part {
    type Output = Part;
    fn add(self, other: Part) -> Part {
        Part(self.0 + other.0)
    }
}

impl std::iter::Sum for Part {
    fn sum<I: Iterator<Item = Part>>(parts: I) -> Part {
        parts.fold(Part::none(), |sum, part| sum + part)
    }
}

/// Hundredths of a jar: what is promised, what is fair, what is carried.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Hundredths(i64);

impl Hundredths {
    /// Nothing.
    pub const ZERO: Hundredths = Hundredths(0);

    /// So many whole jars.
    #[must_use]
    pub const fn jars(jars: i64) -> Hundredths {
        Hundredths(jars.saturating_mul(100))
    }

    /// So many hundredths.
    #[must_use]
    pub const fn new(hundredths: i64) -> Hundredths {
        Hundredths(hundredths)
    }

    /// How many hundredths.
    #[must_use]
    pub const fn count(self) -> i64 {
        self.0
    }

    /// The nearest whole number of jars, a half upwards.
    #[must_use]
    pub const fn nearest(self) -> i64 {
        (self.0 + 50).div_euclid(100)
    }

    /// So many half-gallons, in words: `1 half-gallon`, `1.5 half-gallons`.
    #[must_use]
    pub fn half_gallons(self) -> String {
        format!("{self} half-gallon{}", if self == Hundredths::jars(1) { "" } else { "s" })
    }

    /// Reads what a record keeps, such as `3.39`.
    #[must_use]
    pub fn parse(kept: &str) -> Option<Hundredths> {
        figure_of(kept)?.checked_mul(Decimal::ONE_HUNDRED)?.round().to_i64().map(Hundredths)
    }
}

impl fmt::Display for Hundredths {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", Decimal::new(self.0, 2).normalize())
    }
}

impl Add for Hundredths {
    type Output = Hundredths;
    fn add(self, other: Hundredths) -> Hundredths {
        Hundredths(self.0.saturating_add(other.0))
    }
}

impl Sub for Hundredths {
    type Output = Hundredths;
    fn sub(self, other: Hundredths) -> Hundredths {
        Hundredths(self.0.saturating_sub(other.0))
    }
}

impl Neg for Hundredths {
    type Output = Hundredths;
    fn neg(self) -> Hundredths {
        Hundredths(-self.0)
    }
}

impl std::iter::Sum for Hundredths {
    fn sum<I: Iterator<Item = Hundredths>>(parts: I) -> Hundredths {
        parts.fold(Hundredths::ZERO, |sum, part| sum + part)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_are_read_and_shown() {
        for (typed, shown) in
            [("1", "1"), ("1/2", "1/2"), ("2/4", "1/2"), ("0.5", "1/2"), ("1 1/2", "1 1/2"), ("1.25", "1 1/4"), ("3", "3")]
        {
            assert_eq!(Part::parse(typed).unwrap().to_string(), shown, "{typed}");
        }
        for typed in ["", "0", "-1", "1/0", "half", "1/2/3", "41", "1e9", "🐄", "1 1", "/2", "1/1000", ".11 5/3"] {
            assert!(Part::parse(typed).is_err(), "{typed}");
        }
    }

    #[test]
    fn three_thirds_of_three_jars_are_three() {
        let third = Part::parse("1/3").unwrap();
        assert_eq!(third.of(3), Hundredths::jars(1));
        assert_eq!(third.of(2).to_string(), "0.67");
        assert_eq!((third.of(3).half_gallons().as_str(), third.of(2).half_gallons().as_str()), ("1 half-gallon", "0.67 half-gallons"));
        assert_eq!(third + third + third, Part::whole());
        assert_eq!(Hundredths::new(-61).to_string(), "-0.61");
        assert_eq!(Hundredths::new(150).nearest(), 2);
        assert_eq!(Hundredths::new(-50).nearest(), 0);
        assert_eq!(Hundredths::parse("-0.61"), Some(Hundredths::new(-61)));
    }
}
