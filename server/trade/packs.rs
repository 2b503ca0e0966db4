//! What a bale, a bag or a box holds, and amounts of what is kept in a store.
//!
//! Hay is sold by the bale and eaten by the pound. A bale has no weight until somebody names one: a bale is anything from
//! forty to seventy-five pounds, so costing hay by the bale without a weight would be a guess in disguise. A hundredweight
//! and a ton are what the law says they are and need no naming.

use super::{
    Fault,
    measure::{figure_of, fixed, rounded, trimmed, without_dress},
    short,
};
use rust_decimal::{Decimal, RoundingStrategy, prelude::ToPrimitive};
use std::fmt;

/// An amount in thousandths of what a store is counted in, so that parts always add up to the whole.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Amount(i64);

impl Amount {
    /// Nothing.
    pub const ZERO: Amount = Amount(0);

    /// So many thousandths.
    #[must_use]
    pub const fn thousandths(thousandths: i64) -> Amount {
        Amount(thousandths)
    }

    /// How many thousandths.
    #[must_use]
    pub const fn in_thousandths(self) -> i64 {
        self.0
    }

    /// The nearest amount to a figure, half away from zero.
    #[must_use]
    pub fn of(figure: Decimal) -> Amount {
        let thousandths = figure.checked_mul(Decimal::ONE_THOUSAND).unwrap_or_default();
        Amount(thousandths.round_dp_with_strategy(0, RoundingStrategy::MidpointAwayFromZero).to_i64().unwrap_or_default())
    }

    /// It as a figure.
    #[must_use]
    pub fn figure(self) -> Decimal {
        Decimal::new(self.0, 3)
    }
}

impl fmt::Display for Amount {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&fixed(self.figure(), 1))
    }
}

impl std::ops::Add for Amount {
    type Output = Amount;
    fn add(self, other: Amount) -> Amount {
        Amount(self.0.saturating_add(other.0))
    }
}

impl std::ops::Sub for Amount {
    type Output = Amount;
    fn sub(self, other: Amount) -> Amount {
        Amount(self.0.saturating_sub(other.0))
    }
}

impl std::iter::Sum for Amount {
    fn sum<I: Iterator<Item = Amount>>(amounts: I) -> Amount {
        amounts.fold(Amount::ZERO, |sum, own| sum + own)
    }
}

/// Measures of weight that always hold the same, in pounds. Source: NIST Handbook 44, Appendix C: a hundredweight is 100 lb, a
/// short ton 2,000 lb, a kilogram 1 ÷ 0.453 592 37 lb.
const POUNDS: [(&str, Decimal); 5] = [
    ("lb", Decimal::ONE),
    ("pound", Decimal::ONE),
    ("cwt", Decimal::ONE_HUNDRED),
    ("ton", Decimal::from_parts(2_000, 0, 0, false, 0)),
    ("kg", Decimal::from_parts(2_204_622_622, 0, 0, false, 9)),
];

/// The same for volumes, in millilitres: a US gallon is 3,785.411784 mL (the same source).
const MILLILITERS: [(&str, Decimal); 5] = [
    ("ml", Decimal::ONE),
    ("l", Decimal::ONE_THOUSAND),
    ("liter", Decimal::ONE_THOUSAND),
    ("gallon", Decimal::from_parts(3_785_411_784, 0, 0, false, 6)),
    ("gal", Decimal::from_parts(3_785_411_784, 0, 0, false, 6)),
];

/// The farm's own measures of one store: `bale = 45; bag = 50`.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Packs(Vec<(String, Decimal)>);

impl Packs {
    /// Reads `bale = 45; bag = 50`; the unit the store is counted in may follow the figure.
    ///
    /// # Errors
    /// A sentence for a measure that holds nothing, or is no measure.
    pub fn parse(typed: &str) -> Result<Packs, Fault> {
        let mut packs: Vec<(String, Decimal)> = Vec::new();
        for part in typed.split(';').map(str::trim).filter(|part| !part.is_empty()) {
            let wrong = || Fault::says(format!("“{}” is not a measure. Write what one holds, like bale = 45.", short(part)));
            let (name, holds) = part.split_once('=').ok_or_else(wrong)?;
            let name = singular(name);
            let holds = holds.trim().trim_end_matches(|c: char| c.is_alphabetic() || c == ' ');
            let holds = figure_of(&without_dress(holds)).ok_or_else(wrong)?;
            if name.is_empty() || name.chars().any(|c| c.is_ascii_digit() || c.is_control()) {
                return Err(wrong());
            }
            // As it is kept: what is nothing once it is written down holds nothing.
            let holds = rounded(holds, 4);
            if holds <= Decimal::ZERO {
                return Err(Fault::says(format!("A {} must hold something: weigh ten of them and write the mean.", short(&name))));
            }
            if packs.iter().any(|(own, _)| *own == name) {
                return Err(Fault::says(format!("A {} stands here twice. Leave one.", short(&name))));
            }
            packs.push((name, holds));
        }
        if packs.is_empty() && !typed.trim().is_empty() {
            return Err(Fault::says("A semicolon alone is no measure. Write what one holds, like bale = 45."));
        }
        Ok(Packs(packs))
    }

    /// How much so many of a unit are, for a store counted in pounds, pieces or millilitres.
    ///
    /// # Errors
    /// A sentence when the unit has no weight yet.
    pub fn amount(&self, figure: Decimal, unit: &str, counted_in: &str) -> Result<Amount, Fault> {
        let one = self.holds(unit, counted_in).ok_or_else(|| self.unknown(unit, counted_in))?;
        figure.checked_mul(one).map(Amount::of).ok_or_else(|| Fault::says(format!("{figure} {} is more than any farm has.", short(unit))))
    }

    fn holds(&self, unit: &str, counted_in: &str) -> Option<Decimal> {
        let unit = singular(unit);
        let known: &[(&str, Decimal)] = match counted_in {
            "lb" => &POUNDS,
            "mL" => &MILLILITERS,
            _ => &[("piece", Decimal::ONE), ("each", Decimal::ONE), ("dozen", Decimal::from_parts(12, 0, 0, false, 0))],
        };
        let own = self.0.iter().find(|(name, _)| *name == unit).map(|(_, holds)| *holds);
        own.or_else(|| known.iter().find(|(name, _)| *name == unit).map(|(_, holds)| *holds))
    }

    fn unknown(&self, unit: &str, counted_in: &str) -> Fault {
        let unit = singular(&short(unit));
        if unit.is_empty() {
            return Fault::says(format!("Write the unit: {counted_in}, or one of the store's own."));
        }
        let what = if counted_in == "lb" { "has no weight" } else { "has no size" };
        Fault::says(format!("A {unit} {what} yet. Name it on the store, like {unit} = 45, or write it in {counted_in}."))
    }
}

/// A unit's name without its plural and its capitals: `Bales` is `bale`.
fn singular(unit: &str) -> String {
    let unit = unit.trim().to_lowercase();
    match unit.strip_suffix('s') {
        // A glass is no glas, and what is read again must come out as it went in.
        Some(one) if one.len() > 2 && one.ends_with(|c: char| c.is_alphabetic() && c != 's') => one.to_owned(),
        _ if unit == "lbs" => "lb".to_owned(),
        _ => unit,
    }
}

impl fmt::Display for Packs {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let all: Vec<String> = self.0.iter().map(|(name, holds)| format!("{name} = {}", trimmed(*holds, 4))).collect();
        f.write_str(&all.join("; "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pounds(packs: &str, figure: i64, unit: &str) -> Result<String, String> {
        let packs = Packs::parse(packs).map_err(|fault| fault.to_string())?;
        packs.amount(Decimal::from(figure), unit, "lb").map(|own| own.to_string()).map_err(|fault| fault.to_string())
    }

    /// Source: NIST Handbook 44, Appendix C, for the hundredweight and the ton; a farm's own bale is weighed.
    #[test]
    fn a_bale_is_what_the_farm_weighed() {
        assert_eq!(pounds("", 9, "cwt"), Ok("900.0".into()));
        assert_eq!(pounds("", 3, "Tons"), Ok("6000.0".into()));
        assert_eq!(pounds("", 100, "kg"), Ok("220.5".into()));
        assert_eq!(pounds("bale = 42 lb; bag = 50", 10, "bales"), Ok("420.0".into()));
        assert_eq!(pounds("ton = 2240", 1, "ton"), Ok("2240.0".into()), "a farm that buys by the long ton says so");
        assert_eq!(Packs::default().amount(Decimal::from(6), "dozen", "piece").map(Amount::in_thousandths), Ok(72_000));
    }

    #[test]
    fn a_bale_without_a_weight_gets_a_sentence() {
        assert!(pounds("", 10, "bale").unwrap_err().contains("A bale has no weight yet. Name it on the store, like bale = 45"));
        assert!(pounds("bale = 0", 1, "bale").unwrap_err().contains("must hold something"));
        assert!(pounds("bale = 0.00004", 1, "bale").unwrap_err().contains("must hold something"));
        assert!(pounds("bale 45", 1, "bale").unwrap_err().contains("is not a measure"));
        assert!(pounds("bale = 45; Bales = 50", 1, "bale").unwrap_err().contains("stands here twice"));
        assert!(pounds("", 1, " ").unwrap_err().contains("Write the unit: lb"));
        assert_eq!(Packs::parse("Bale=45;round bale = 1,100 lb").map(|own| own.to_string()), Ok("bale = 45; round bale = 1100".into()));
        assert_eq!(Packs::parse("glass = 1; Glasses = 2").map(|own| own.to_string()), Ok("glass = 1; glasse = 2".into()));
    }
}
