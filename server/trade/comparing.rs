//! How one figure stands against one limit.
//!
//! A figure is compared in the unit the law is written in, and never rounded first. Where a figure cannot say whether
//! the limit is kept, the answer is “can't tell” and why: “<100” says nothing about a limit of 10.

use super::{
    analytes::{Analyte, Unit},
    lab::{Figure, grouped, spoken},
    limits::{Amount, Limit},
};
use rust_decimal::Decimal;

/// How one result stands against one limit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Compared {
    /// It keeps the limit.
    Within,
    /// It does not.
    Over,
    /// The figure cannot say, and why.
    CantTell(String),
}

pub(super) fn cant_tell(why: impl Into<String>) -> Compared {
    Compared::CantTell(why.into())
}

/// Holds one figure against one limit, in the unit of the law.
#[must_use]
pub fn compare(limit: &Limit, figure: &Figure, unit: Option<Unit>) -> Compared {
    match limit.amount {
        Amount::NotKnown => cant_tell("What the law allows is not known here."),
        Amount::NoneFound(portion) => none_found(portion, figure, unit),
        Amount::AtMost(..) | Amount::Below(..) => against(&limit.amount, figure, unit),
    }
}

/// The comparison as a sentence: `Coliforms 12 per mL; the limit is at most 10 per mL.`
#[must_use]
pub fn reason(limit: &Limit, analyte: &Analyte, figure: &Figure, unit: Option<Unit>) -> String {
    let converted = limit.amount.figure().zip(unit).zip(figure.bare()).and_then(|(((_, law), unit), bare)| {
        let same = in_law(bare, unit, law).filter(|_| unit != law)?;
        let by_weight = if unit == Unit::PerG || law == Unit::PerG { " at 1.03 kg a litre" } else { "" };
        Some(format!(", which is {} {law}{by_weight}", grouped(same.round_dp(2))))
    });
    let said = format!("{}{}; the limit is {}.", spoken(analyte, figure, unit), converted.unwrap_or_default(), limit.amount.spoken());
    match compare(limit, figure, unit) {
        Compared::CantTell(why) => format!("{said} {why}"),
        Compared::Within | Compared::Over => said,
    }
}

/// The further test a figure asks for, where it is surely above the second figure of the limit.
#[must_use]
pub fn calls_for<'a>(limit: &'a Limit, figure: &Figure, unit: Option<Unit>) -> Option<&'a Analyte> {
    let (above, test) = limit.further.as_ref()?;
    let (_, law) = limit.amount.figure()?;
    (against(&Amount::AtMost(*above, law), figure, unit) == Compared::Over).then_some(test)
}

/// A figure against a law that wants none of it, in a portion of so many millilitres where it names one.
fn none_found(portion: Option<u32>, figure: &Figure, unit: Option<Unit>) -> Compared {
    let clear = match figure {
        Figure::NoneFound => true,
        Figure::Number(bare) => bare.is_zero(),
        Figure::Below(bare) if *bare <= Decimal::ONE => true,
        Figure::Below(_) => return cant_tell(format!("{figure} leaves room for some of it. Ask the lab whether any was found.")),
        Figure::Above(_) | Figure::Found => false,
    };
    let looked_in = match unit {
        Some(Unit::InMl(ml)) => Some(ml),
        Some(Unit::Per100Ml) => Some(100),
        Some(Unit::PerMl) => Some(1),
        _ => None,
    };
    match (clear, portion) {
        (false, _) => Compared::Over,
        (true, Some(ml)) if looked_in.is_none_or(|looked| looked < ml) => {
            cant_tell(format!("The law looks in {ml} mL, and the result does not say that the lab looked in so much."))
        }
        (true, _) => Compared::Within,
    }
}

/// A figure against a law that allows some of it.
pub(super) fn against(amount: &Amount, figure: &Figure, unit: Option<Unit>) -> Compared {
    let Some((allowed, law)) = amount.figure() else { return cant_tell("The law names no figure.") };
    let counted = law.in_a_millilitre();
    let (bare, unit) = match (figure, unit) {
        (Figure::Found, _) => {
            return cant_tell(format!(
                "The lab found it and did not say how much, and the law allows {}. Ask the lab for a count.",
                amount.spoken()
            ));
        }
        (Figure::NoneFound, _) if law == Unit::Celsius => return cant_tell("A freezing point is a figure. Ask the lab for it."),
        (Figure::NoneFound, _) if counted.is_none() || allowed.is_zero() => return Compared::Within,
        // None in a millilitre is fewer than one in it, which need not be few enough for a law that looks at 100.
        (Figure::NoneFound, unit) => (Decimal::ONE, unit.unwrap_or(Unit::PerMl)),
        (_, None) => return cant_tell(format!("Write what {figure} is counted in: the law counts {law}.")),
        (Figure::Number(bare) | Figure::Below(bare) | Figure::Above(bare), Some(unit)) => (*bare, unit),
    };
    if counted.is_some() && bare.is_sign_negative() {
        return cant_tell("A count is never below nothing.");
    }
    let Some((found, allowed)) = side_by_side(bare, unit, allowed, law) else {
        return cant_tell(format!("The result is in {unit} and the law in {law}; one cannot be turned into the other."));
    };
    let equal_is_fine = matches!(amount, Amount::AtMost(..));
    match figure {
        Figure::Number(_) if found < allowed || (equal_is_fine && found == allowed) => Compared::Within,
        Figure::Number(_) => Compared::Over,
        Figure::Above(_) if found >= allowed => Compared::Over,
        Figure::Below(_) | Figure::NoneFound if found <= allowed => Compared::Within,
        Figure::NoneFound => {
            cant_tell(format!("None was found, but the lab does not say that it looked closely enough for {}.", amount.spoken()))
        }
        _ => cant_tell(format!("{figure} can be more or less than the law allows. Ask the lab for a closer figure.")),
    }
}

/// Both figures on one footing, by whole factors alone so that nothing is rounded.
fn side_by_side(bare: Decimal, unit: Unit, allowed: Decimal, law: Unit) -> Option<(Decimal, Decimal)> {
    match (unit.in_a_millilitre(), law.in_a_millilitre()) {
        (Some((up, down)), Some((law_up, law_down))) => {
            let times = |figure: Decimal, by: u32, then: u32| figure.saturating_mul(Decimal::from(by)).saturating_mul(Decimal::from(then));
            Some((times(bare, up, law_down), times(allowed, law_up, down)))
        }
        _ => (unit == law).then_some((bare, allowed)),
    }
}

/// A figure turned into the unit of the law, for showing and for means.
pub(super) fn in_law(bare: Decimal, unit: Unit, law: Unit) -> Option<Decimal> {
    let (found, one) = side_by_side(bare, unit, Decimal::ONE, law)?;
    found.checked_div(one)
}
