//! Jars, counted by size. Two quarts never cancel a half-gallon, so sizes are never added together.

use super::measure::Weight;
use rust_decimal::Decimal;
use std::fmt;

/// The sizes jars come in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Size {
    /// A gallon jar.
    Gallon,
    /// A half-gallon jar, the usual one.
    HalfGallon,
    /// A quart jar.
    Quart,
    /// A pint jar.
    Pint,
}

impl Size {
    /// Every size, largest first.
    pub const ALL: [Size; 4] = [Size::Gallon, Size::HalfGallon, Size::Quart, Size::Pint];

    /// Half-gallons of milk that fit in one.
    #[must_use]
    pub fn half_gallons(self) -> Decimal {
        match self {
            Size::Gallon => Decimal::TWO,
            Size::HalfGallon => Decimal::ONE,
            Size::Quart => Decimal::new(5, 1),
            Size::Pint => Decimal::new(25, 2),
        }
    }

    /// The size in words, for one jar.
    #[must_use]
    pub const fn one(self) -> &'static str {
        match self {
            Size::Gallon => "gallon",
            Size::HalfGallon => "half-gallon",
            Size::Quart => "quart",
            Size::Pint => "pint",
        }
    }
}

/// Whole jars by size. Signed, because a balance can be short.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Jars {
    /// Gallon jars.
    pub gallons: i64,
    /// Half-gallon jars.
    pub half_gallons: i64,
    /// Quart jars.
    pub quarts: i64,
    /// Pint jars.
    pub pints: i64,
}

impl Jars {
    /// No jars.
    pub const NONE: Jars = Jars { gallons: 0, half_gallons: 0, quarts: 0, pints: 0 };

    /// So many half-gallon jars and nothing else.
    #[must_use]
    pub const fn halves(half_gallons: i64) -> Jars {
        Jars { gallons: 0, half_gallons, quarts: 0, pints: 0 }
    }

    /// The count of one size.
    #[must_use]
    pub const fn of(self, size: Size) -> i64 {
        match size {
            Size::Gallon => self.gallons,
            Size::HalfGallon => self.half_gallons,
            Size::Quart => self.quarts,
            Size::Pint => self.pints,
        }
    }

    /// Whether there is not one jar of any size.
    #[must_use]
    pub fn is_none(self) -> bool {
        self == Jars::NONE
    }

    /// Whether every size has at least as many as `other`.
    #[must_use]
    pub fn covers(self, other: Jars) -> bool {
        Size::ALL.iter().all(|size| self.of(*size) >= other.of(*size))
    }

    /// The smaller count of each size.
    #[must_use]
    pub fn at_most(self, other: Jars) -> Jars {
        Jars {
            gallons: self.gallons.min(other.gallons),
            half_gallons: self.half_gallons.min(other.half_gallons),
            quarts: self.quarts.min(other.quarts),
            pints: self.pints.min(other.pints),
        }
    }

    /// How much milk these jars hold, in half-gallons: the divisor of every cost.
    #[must_use]
    pub fn in_half_gallons(self) -> Decimal {
        Size::ALL.iter().map(|size| Decimal::from(self.of(*size)) * size.half_gallons()).sum()
    }

    /// How much the milk in these jars weighs.
    #[must_use]
    pub fn milk(self) -> Weight {
        Weight::half_gallons(self.in_half_gallons())
    }

    /// The jars short of zero, and the jars over it, told apart by size.
    #[must_use]
    pub fn short_and_over(self) -> (Jars, Jars) {
        let part = |keep: fn(i64) -> i64| Jars {
            gallons: keep(self.gallons),
            half_gallons: keep(self.half_gallons),
            quarts: keep(self.quarts),
            pints: keep(self.pints),
        };
        (part(|count| count.max(0)), part(|count| (-count).max(0)))
    }
}

impl fmt::Display for Jars {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let said: Vec<String> = Size::ALL
            .iter()
            .filter(|size| self.of(**size) != 0)
            .map(|size| {
                let count = self.of(*size);
                format!("{count} {}{}", size.one(), if count == 1 { "" } else { "s" })
            })
            .collect();
        if said.is_empty() { f.write_str("no jars") } else { f.write_str(&said.join(", ")) }
    }
}

impl std::ops::Add for Jars {
    type Output = Jars;
    fn add(self, other: Jars) -> Jars {
        Jars {
            gallons: self.gallons + other.gallons,
            half_gallons: self.half_gallons + other.half_gallons,
            quarts: self.quarts + other.quarts,
            pints: self.pints + other.pints,
        }
    }
}

impl std::ops::Sub for Jars {
    type Output = Jars;
    fn sub(self, other: Jars) -> Jars {
        self + Jars { gallons: -other.gallons, half_gallons: -other.half_gallons, quarts: -other.quarts, pints: -other.pints }
    }
}

impl std::iter::Sum for Jars {
    fn sum<I: Iterator<Item = Jars>>(jars: I) -> Jars {
        jars.fold(Jars::NONE, |sum, more| sum + more)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_never_cancel() {
        let balance = Jars { half_gallons: 1, quarts: -2, ..Jars::NONE };
        assert!(!balance.is_none());
        let (short, over) = balance.short_and_over();
        assert_eq!(short.to_string(), "1 half-gallon");
        assert_eq!(over.to_string(), "2 quarts");
    }

    /// Source: definition; a gallon is two half-gallons, four quarts, eight pints (NIST Handbook 44, Appendix C).
    #[test]
    fn sizes_add_up_as_milk() {
        let one_of_each = Jars { gallons: 1, half_gallons: 1, quarts: 1, pints: 1 };
        assert_eq!(one_of_each.in_half_gallons(), Decimal::new(375, 2));
        assert_eq!(Jars::NONE.to_string(), "no jars");
    }
}
