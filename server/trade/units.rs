//! What a lab's figure is counted in, read as labs write it.

use super::{Fault, short};
use std::fmt;

/// What a figure is counted in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Unit {
    /// In each millilitre.
    PerMl,
    /// In each 100 millilitres, as water is.
    Per100Ml,
    /// In each gram.
    PerG,
    /// Degrees Celsius.
    Celsius,
    /// Parts in a thousand million.
    Ppb,
    /// Parts in a hundred.
    Percent,
    /// In a portion of so many millilitres.
    InMl(u32),
}

impl Unit {
    /// Reads `cfu/ml`, `cells per mL`, `MPN per 100 mL`, `in 25 ml` and the like. Labs write `in 25 g` and `in 25 mL`
    /// for the same portion of milk (common practice), so it is read as one.
    ///
    /// # Errors
    /// A sentence when it is no unit of a lab's result.
    pub fn parse(typed: &str) -> Result<Unit, Fault> {
        let small = typed.to_lowercase();
        if small.contains("1000") || small.contains("1,000") || small.contains("thousand") {
            return Err(Fault::says("Write the whole count: 220 thousand per mL is 220,000 per mL."));
        }
        let plain = small.replace(['.', '(', ')'], " ").replace('/', " per ");
        let words: Vec<&str> = plain
            .split_whitespace()
            .filter(|word| !matches!(*word, "cfu" | "mpn" | "cells" | "cell" | "colonies" | "count" | "a"))
            .collect();
        let portion = |text: &str| {
            let split = text.find(|c: char| !c.is_ascii_digit()).unwrap_or(text.len());
            let (figure, unit) = text.split_at(split);
            let ml = matches!(unit, "ml" | "millilitre" | "milliliter" | "millilitres" | "milliliters");
            let gram = matches!(unit, "g" | "gram" | "grams");
            let many = if figure.is_empty() { Some(1) } else { figure.parse::<u32>().ok().filter(|many| (1..=10_000).contains(many)) };
            many.filter(|_| ml || gram).map(|many| (many, gram))
        };
        let read = match (words.first().copied(), words.get(1..).unwrap_or_default().concat()) {
            (Some("°c" | "c" | "celsius"), rest) if rest.is_empty() => Some(Unit::Celsius),
            (Some("°" | "deg" | "degrees"), rest) if matches!(rest.as_str(), "c" | "celsius") => Some(Unit::Celsius),
            (Some("ppb"), rest) if rest.is_empty() => Some(Unit::Ppb),
            (Some("ug" | "µg" | "μg" | "mcg"), rest) if matches!(rest.as_str(), "perkg" | "perl") => Some(Unit::Ppb),
            (Some("%" | "percent"), rest) if rest.is_empty() => Some(Unit::Percent),
            (Some("per"), rest) => portion(&rest).map(|amount| match amount {
                (1, false) => Unit::PerMl,
                (1, true) => Unit::PerG,
                (100, false) => Unit::Per100Ml,
                (many, _) => Unit::InMl(many),
            }),
            (Some("in"), rest) => portion(&rest).map(|(many, _)| Unit::InMl(many)),
            _ => None,
        };
        read.ok_or_else(|| {
            Fault::says(format!("“{}” is not a unit of a lab's figure. Write it like per mL, per 100 mL or in 25 mL.", short(typed)))
        })
    }

    /// What a count in this unit is per millilitre, as a part of whole numbers: times the first, by the second. One
    /// gram of milk is taken as 1/1.03 mL, the trade's round figure. Nothing for what is no count.
    #[must_use]
    pub const fn in_a_millilitre(self) -> Option<(u32, u32)> {
        match self {
            Unit::PerMl => Some((1, 1)),
            Unit::Per100Ml => Some((1, 100)),
            Unit::PerG => Some((103, 100)),
            Unit::InMl(many) => Some((1, many)),
            Unit::Celsius | Unit::Ppb | Unit::Percent => None,
        }
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Unit::PerMl => f.write_str("per mL"),
            Unit::Per100Ml => f.write_str("per 100 mL"),
            Unit::PerG => f.write_str("per g"),
            Unit::Celsius => f.write_str("°C"),
            Unit::Ppb => f.write_str("ppb"),
            Unit::Percent => f.write_str("%"),
            Unit::InMl(many) => write!(f, "in {many} mL"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_unit_is_read_as_labs_write_it() {
        for (typed, unit) in [
            ("cfu/ml", Unit::PerMl),
            ("cells/mL", Unit::PerMl),
            ("per mL", Unit::PerMl),
            ("CFU per 1 mL", Unit::PerMl),
            ("MPN per 100 mL", Unit::Per100Ml),
            ("/100 mL", Unit::Per100Ml),
            ("cfu/g", Unit::PerG),
            ("in 25 ml", Unit::InMl(25)),
            ("/25g", Unit::InMl(25)),
            ("deg. C", Unit::Celsius),
            ("µg/kg", Unit::Ppb),
        ] {
            assert_eq!(Unit::parse(typed).unwrap(), unit, "{typed}");
            assert_eq!(Unit::parse(&unit.to_string()).unwrap(), unit);
        }
        for typed in ["", "jars", "per", "per 0 mL", "in 99999999999 mL", "x1000/mL", "°F", "per 100 mL per g", "🥛"] {
            assert!(Unit::parse(typed).is_err(), "{typed}");
        }
    }
}
