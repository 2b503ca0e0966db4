//! Slips on a lab's paper: what is asked or refused before its figures are kept.
//!
//! The figures of one paper are typed from it line by line, tired and late. A unit a hundred times too large, one zero too
//! many or the same paper typed twice would each change what is said of the milk, so each gets its question here.

use super::{
    analytes::{Analyte, Unit},
    colonies,
    lab::{Figure, LabResult, grouped},
    limits::{Amount, Limit},
    remarks::Remark,
    when::{Day, day_shown},
};
use rust_decimal::{Decimal, prelude::FromPrimitive};

/// One line of a lab's paper as it was typed; its remarks are on fields called `figure.3`, `unit.3` and so on.
#[derive(Clone, Debug)]
pub struct Line {
    /// Which line of the form it is.
    pub nth: usize,
    /// What was tested for.
    pub analyte: Analyte,
    /// What was found.
    pub figure: Figure,
    /// The unit as typed.
    pub unit: String,
    /// Which of several units of one lot.
    pub part: Option<i64>,
    /// The plates or tubes behind the figure.
    pub plates: Option<colonies::Read>,
}

/// What is known when the lines are read.
#[derive(Clone, Copy, Debug)]
pub struct Known<'a> {
    /// The day the bottle was drawn.
    pub drawn: Day,
    /// The day the lab reported.
    pub reported: Day,
    /// Whether the bottle is of water, which is counted in 100 mL and stands under no limit on milk.
    pub water: bool,
    /// The limits the bottle stands under.
    pub limits: &'a [&'a Limit],
    /// What is kept of this bottle already.
    pub own: &'a [LabResult],
    /// What was found in earlier bottles of the same sort, oldest first.
    pub earlier: &'a [LabResult],
}

/// Everything there is to ask or refuse about a paper's lines.
#[must_use]
pub fn remarks(lines: &[Line], known: Known) -> Vec<Remark> {
    let mut remarks = Vec::new();
    if known.reported < known.drawn {
        remarks.push(Remark::fault(
            "reported",
            format!("This is before the bottle was drawn, on {}. Look at both days.", day_shown(known.drawn)),
        ));
    }
    for (place, line) in lines.iter().enumerate() {
        remarks.extend(name_remark(line));
        remarks.extend(thousands_remark(line));
        let unit = unit_remark(line, known);
        let is_clear = unit.is_none();
        remarks.extend(unit);
        remarks.extend(below_nothing(line));
        remarks.extend(plates_remark(line).or_else(|| ten_times(line, known.earlier).filter(|_| is_clear)));
        remarks.extend(twice(line, &lines[..place], known.own));
    }
    remarks
}

fn on(field: &str, line: &Line) -> String {
    format!("{field}.{}", line.nth)
}

/// A test nobody here knows: its limits cannot be found, and a germ with a slipped letter would pass for nothing.
fn name_remark(line: &Line) -> Option<Remark> {
    if line.analyte.is_known() {
        return None;
    }
    let near = super::near::unknown("test", line.analyte.name(), super::analytes::KNOWN.iter().copied());
    Some(Remark::question(&format!("figure.{}", line.nth), format!("{near} Keep it under this name only if it is no slip."), None))
}

/// A figure like 12.000: twelve, or twelve thousand as some labs write it.
fn thousands_remark(line: &Line) -> Option<Remark> {
    let counted = Unit::parse(&line.unit).is_ok_and(|unit| unit.in_a_millilitre().is_some());
    let Figure::Number(figure) = line.figure else { return None };
    let thousands = (figure * Decimal::from(1000)).normalize();
    (counted && figure.scale() == 3 && figure >= Decimal::ONE).then(|| {
        let says = format!("Is this {}, or {}?", figure.normalize(), grouped(thousands));
        Remark::question(&format!("figure.{}", line.nth), says, Some(grouped(thousands)))
    })
}

/// A unit that is missing where a limit needs it, or that is not the one such figures come in.
fn unit_remark(line: &Line, known: Known) -> Option<Remark> {
    let about = |limit: &&&Limit| limit.analyte.covers(&line.analyte) && (!known.water || limit.analyte.is_of_water());
    let own = known.limits.iter().filter(about);
    let usual = line.analyte.usual_unit().map(|unit| if known.water && unit == Unit::PerMl { Unit::Per100Ml } else { unit });
    let field = on("unit", line);
    if line.unit.trim().is_empty() {
        let needs = own.clone().find(|limit| limit.amount.figure().is_some() && line.figure.bare().is_some());
        if let Some(limit) = needs {
            let says = format!("Write the unit from the lab's paper: the limit is {}.", limit.amount.spoken());
            return Some(Remark::fault(&field, says));
        }
        let portion = own.clone().find_map(|limit| if let Amount::NoneFound(Some(ml)) = limit.amount { Some(ml) } else { None });
        if let Some(ml) = portion.filter(|_| line.figure == Figure::NoneFound) {
            let says = format!("In how much did the lab look? The law looks in {ml} mL, and a result that does not say cannot show it.");
            return Some(Remark::question(&field, says, Some(Unit::InMl(ml).to_string())));
        }
        return counted_in(line, usual, &field);
    }
    match (Unit::parse(&line.unit), usual) {
        (Err(fault), _) if own.clone().any(|limit| limit.amount.figure().is_some()) => Some(Remark::fault(&field, fault)),
        (Ok(unit @ (Unit::PerMl | Unit::Per100Ml)), Some(usual @ (Unit::PerMl | Unit::Per100Ml))) if unit != usual => {
            let says =
                format!("{} {unit}? {} is usually counted {usual}, and the two differ a hundredfold.", line.figure, line.analyte.spoken());
            Some(Remark::question(&field, says, Some(usual.to_string())))
        }
        _ => None,
    }
}

/// A count without a unit, under a name that is always counted: no limit asks for it yet, and one may later.
fn counted_in(line: &Line, usual: Option<Unit>, field: &str) -> Option<Remark> {
    let usual = usual.filter(|unit| unit.in_a_millilitre().is_some())?;
    line.figure.bare()?;
    Some(Remark::question(field, format!("Counted in what? Labs usually give it {usual}."), Some(usual.to_string())))
}

/// Only a temperature is ever below nothing.
fn below_nothing(line: &Line) -> Option<Remark> {
    let negative = line.figure.bare().is_some_and(|bare| bare.is_sign_negative() && !bare.is_zero());
    let heat = line.analyte.usual_unit() == Some(Unit::Celsius);
    (negative && !heat).then(|| Remark::fault(&on("figure", line), "A lab finds nothing or more, never less than nothing."))
}

/// Plates that make another figure than the one typed, by more than a tenth.
fn plates_remark(line: &Line) -> Option<Remark> {
    let made = Decimal::from_f64(line.plates.as_ref()?.estimate()?)?;
    let Figure::Number(typed) = line.figure else { return None };
    let (up, down) = Unit::parse(&line.unit).ok()?.in_a_millilitre()?;
    let typed_per_ml = typed.checked_mul(Decimal::from(up))?.checked_div(Decimal::from(down))?;
    let apart = made.checked_sub(typed_per_ml)?.abs();
    let shown = grouped(made.round_sf(2)?);
    (apart > made.checked_div(Decimal::TEN)?).then(|| {
        let says = format!("These plates make {shown} per mL, and {} is typed above. Look at both on the lab's paper.", line.figure);
        Remark::question(&on("plates", line), says, None)
    })
}

/// A count ten times the last one or more: often one zero too many.
fn ten_times(line: &Line, earlier: &[LabResult]) -> Option<Remark> {
    let Figure::Number(typed) = line.figure else { return None };
    let unit = Unit::parse(&line.unit).ok();
    let last = earlier.iter().rev().find(|own| own.analyte == line.analyte && own.unit == unit)?;
    let bare = last.figure.bare().filter(|bare| *bare >= Decimal::ONE)?;
    let tenth = typed.checked_div(Decimal::TEN)?;
    (tenth >= bare).then(|| {
        let says = format!("{} is ten times the last figure or more, which was {}. Is it one zero too many?", line.figure, last.figure);
        let instead = (tenth.fract().is_zero()).then(|| tenth.normalize().to_string());
        Remark::question(&on("figure", line), says, instead)
    })
}

/// A second result of one analyte for one bottle. One that says which unit it is of several is no second one.
fn twice(line: &Line, before: &[Line], own: &[LabResult]) -> Option<Remark> {
    let same =
        |analyte: &Analyte, part: Option<i64>| *analyte == line.analyte && (part == line.part || part.is_none() || line.part.is_none());
    let kept = own.iter().find(|result| same(&result.analyte, result.part)).map(|result| result.figure.to_string());
    let typed = before.iter().find(|other| same(&other.analyte, other.part)).map(|other| other.figure.to_string());
    let first = kept.or(typed)?;
    let says = format!(
        "This bottle has a result for {} already: {first}. Is it a second unit, a repeat by the lab, or the same paper twice? For a second unit write which one; for a repeat keep it; the same paper needs no second line.",
        line.analyte
    );
    Some(Remark::question(&on("part", line), says, None))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::{lab::Of, limits::Limits, when::Moment};

    fn line(analyte: &str, figure: &str, unit: &str) -> Line {
        Line {
            nth: 0,
            analyte: Analyte::parse(analyte),
            figure: Figure::parse(figure).unwrap(),
            unit: unit.to_owned(),
            part: None,
            plates: None,
        }
    }

    fn kept(analyte: &str, figure: &str, unit: &str) -> LabResult {
        LabResult {
            number: 1,
            sample: 1,
            drawn: Moment::seconds(0),
            of: Of::Lot("6134A-S".to_owned()),
            analyte: Analyte::parse(analyte),
            figure: Figure::parse(figure).unwrap(),
            unit: Unit::parse(unit).ok(),
            part: None,
            reported: Day::from_ymd_opt(2026, 5, 17).unwrap(),
            written: Moment::seconds(0),
        }
    }

    fn said(line: Line, own: &[LabResult], earlier: &[LabResult]) -> Vec<(String, bool, Option<String>)> {
        let limits = Limits::parse("plate count at most 20000 per mL [read]; Salmonella none found in 25 mL [read]").unwrap();
        let limits: Vec<&Limit> = limits.0.iter().collect();
        let day = |typed: &str| typed.parse::<Day>().unwrap();
        let known = Known { drawn: day("2026-05-14"), reported: day("2026-05-17"), water: false, limits: &limits, own, earlier };
        let all = remarks(&[line], known);
        all.into_iter().map(|own| (own.field, own.question.is_some(), own.question.and_then(|meant| meant.instead))).collect()
    }

    #[test]
    fn a_paper_as_labs_write_it_is_not_asked_about() {
        assert_eq!(said(line("plate count", "1,900", "per mL"), &[], &[]), []);
        assert_eq!(said(line("plate count", "<1", "cfu/mL"), &[], &[kept("plate count", "1,900", "per mL")]), []);
        assert_eq!(said(line("Salmonella", "not detected", "in 25 mL"), &[], &[]), []);
        assert_eq!(said(line("water coliforms", "<1", "per 100 mL"), &[], &[]), []);
        assert_eq!(said(line("freezing point", "-0.535", "°C"), &[], &[]), []);
    }

    /// Source: arithmetic; a hundred millilitres hold a hundred times what one holds.
    #[test]
    fn a_unit_that_is_missing_or_a_hundredfold_off_is_asked_about() {
        let meant = |unit: &str| [("unit.0".to_owned(), true, Some(unit.to_owned()))];
        assert_eq!(said(line("water coliforms", "4", "per mL"), &[], &[]), meant("per 100 mL"));
        assert_eq!(said(line("plate count", "1,900", "per 100 mL"), &[], &[]), meant("per mL"));
        assert_eq!(said(line("Salmonella", "negative", ""), &[], &[]), meant("in 25 mL"));
        assert_eq!(said(line("plate count", "1,900", ""), &[], &[]), [("unit.0".to_owned(), false, None)]);
        assert_eq!(said(line("plate count", "1,900", "jars"), &[], &[]), [("unit.0".to_owned(), false, None)]);
        assert_eq!(said(line("butterfat", "4.1", ""), &[], &[]), [], "no limit needs its unit");
        assert_eq!(said(line("somatic cells", "220,000", ""), &[], &[]), meant("per mL"), "a count that no limit is about");
        assert_eq!(said(line("water coliforms", "<1", ""), &[], &[]), meant("per 100 mL"));
        assert_eq!(said(line("coliforms", "none detected", ""), &[], &[]), [], "what was not there was counted in nothing");
    }

    /// Source: FDA Bacteriological Analytical Manual, chapter 3: these plates make 25,000 per mL.
    #[test]
    fn plates_and_figure_are_held_against_each_other() {
        let with = |figure: &str| Line {
            plates: Some(colonies::Read::parse("232, 244 at 1:100; 33, 28 at 1:1000").unwrap()),
            ..line("plate count", figure, "per mL")
        };
        assert_eq!(said(with("25,000"), &[], &[]), []);
        assert_eq!(said(with("2,500"), &[], &[]), [("plates.0".to_owned(), true, None)]);
    }

    #[test]
    fn one_zero_too_many_and_the_same_paper_twice_are_asked_about() {
        let last = [kept("plate count", "1,900", "per mL")];
        let asked = said(line("plate count", "19,000", "per mL"), &[], &last);
        assert_eq!(asked, [("figure.0".to_owned(), true, Some("1900".to_owned()))]);
        assert_eq!(said(line("plate count", "18,999", "per mL"), &[], &last), []);
        assert_eq!(said(line("plate count", "1,900", "per mL"), &last, &[]), [("part.0".to_owned(), true, None)]);
        let first = [LabResult { part: Some(1), ..kept("plate count", "1,900", "per mL") }];
        let second = Line { part: Some(2), ..line("plate count", "1,900", "per mL") };
        assert_eq!(said(second, &first, &[]), []);
        assert_eq!(said(line("plate count", "-5", "per mL"), &[], &[])[0], ("figure.0".to_owned(), false, None));
    }
}
