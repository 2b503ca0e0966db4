//! Slips in a set of rules that is written down: what got lost from the set before it, a nought too many, and a set by which
//! no milk goes out at all.
//!
//! A set decides for a year what every lot is held against, and it is typed from a law once. Each slip is asked about and can
//! be kept, for laws do change, and some do say nought.

use super::{
    channels::Channels,
    lab::grouped,
    limits::{Limit, Limits},
    records::{Cell, Kind},
    remarks::Remark,
    when::{Day, day_shown, parse_day},
};
use rust_decimal::Decimal;
use std::mem::discriminant;

/// A set of rules, as far as the questions look at it.
#[derive(Clone, Debug, Default)]
pub struct Set {
    /// What it is called.
    pub title: String,
    /// Its limits.
    pub limits: Limits,
    /// The ways of handing out it names.
    pub channels: Channels,
    /// The day by which it is to be looked up again.
    pub check_by: Option<Day>,
}

impl Set {
    /// A set as far as it is asked about, from the cells of its record.
    #[must_use]
    pub fn of(kind: &Kind, cells: &[Cell]) -> Set {
        let said = |name: &str| kind.cell(cells, name).text();
        Set {
            title: said("title").to_owned(),
            limits: Limits::parse(said("limits")).unwrap_or_default(),
            channels: Channels::parse(said("channels")).unwrap_or_default(),
            check_by: parse_day(said("check_by")).ok(),
        }
    }
}

/// What there is to ask about a set, beside the set of the same place before it.
#[must_use]
pub fn remarks(set: &Set, before: Option<&Set>, today: Day) -> Vec<Remark> {
    let none = Limits::default();
    let limits = about_limits(&set.limits, before.map_or(&none, |before| &before.limits));
    let ask = |field: &str, says: String| Remark::question(field, says, None);
    let over = before.and_then(|before| {
        let by = before.check_by.filter(|by| *by < today)?;
        Some(format!("“{}” was to be looked up again by {}. Did you look it up? Keep it once you have.", before.title, day_shown(by)))
    });
    let limits = (!limits.is_empty()).then(|| ask("limits", limits.join(" ")));
    let barred = barred(&set.title, &set.channels).map(|says| ask("channels", says));
    [limits, barred, over.map(|says| ask("check_by", says))].into_iter().flatten().collect()
}

/// The question about a set by whose title or ways no milk goes out; nothing for any other.
#[must_use]
pub fn barred(title: &str, channels: &Channels) -> Option<String> {
    let why = if title.to_lowercase().contains("prohibited") {
        format!("“{title}” says itself that it prohibits.")
    } else if matches!(channels, Channels::Named(ways, _) if ways.is_empty()) {
        format!("“{title}” names no way of handing milk out.")
    } else {
        return None;
    };
    Some(format!("{why} Follow it all the same? Ask the health department before any milk goes out."))
}

fn about_limits(limits: &Limits, before: &Limits) -> Vec<String> {
    let mut asked = Vec::new();
    let is_left_out = |old: &&Limit| !limits.0.iter().any(|own| own.analyte == old.analyte);
    let mut left_out: Vec<&str> = before.0.iter().filter(is_left_out).map(|old| old.analyte.name()).collect();
    left_out.dedup();
    if !left_out.is_empty() {
        asked.push(format!(
            "The set before this one has a limit for {}, and here there is none. Is that left out on purpose?",
            left_out.join(", ")
        ));
    }
    for (place, limit) in limits.0.iter().enumerate() {
        asked.extend(odd_figure(limit, before));
        let same = |other: &Limit| other.analyte == limit.analyte && discriminant(&other.pattern) == discriminant(&limit.pattern);
        if limits.0.iter().take(place).any(same) {
            asked.push(format!("{} has two limits of one kind. Is one of them an old one?", limit.analyte.spoken()));
        }
    }
    asked
}

/// A limit of nothing at all, or of ten times what it was.
fn odd_figure(limit: &Limit, before: &Limits) -> Option<String> {
    let (figure, unit) = limit.amount.figure()?;
    let old = before.0.iter().filter(|old| old.analyte == limit.analyte && discriminant(&old.pattern) == discriminant(&limit.pattern));
    let old: Vec<Decimal> = old.filter_map(|old| old.amount.figure()).filter(|(_, own)| *own == unit).map(|(figure, _)| figure).collect();
    if old.contains(&figure) || unit == super::analytes::Unit::Celsius {
        return None;
    }
    let name = limit.analyte.spoken();
    if figure.is_zero() {
        return Some(format!("{name} at most 0 {unit}: does the rule say so, or is a figure missing?"));
    }
    let tenth = figure.checked_div(Decimal::TEN)?;
    let least = old.into_iter().filter(|old| *old > Decimal::ZERO && *old <= tenth).max()?;
    Some(format!(
        "{name}: {} is ten times the figure before or more, which was {}. Is it one zero too many?",
        grouped(figure),
        grouped(least)
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::{rules::places, when::parse_day};

    fn said(limits: &str, before: &str) -> String {
        about_limits(&Limits::parse(limits).unwrap(), &Limits::parse(before).unwrap()).join(" ")
    }

    /// Source: arithmetic; the limits are the shape of PMO section 7, table 1.
    #[test]
    fn what_was_lost_or_grew_is_asked_about() {
        let before = "plate count at most 20000 per mL, 2 of 4 notice, 3 of 5 action [read]; coliforms at most 10 per mL [read]";
        assert_eq!(said(before, before), "");
        assert!(said("coliforms at most 10 per mL [read]", before).contains("a limit for plate count, and here there is none"));
        let tenfold = "plate count at most 200000 per mL, 2 of 4 notice, 3 of 5 action [read]; coliforms at most 99 per mL [read]";
        assert_eq!(
            said(tenfold, before),
            "Plate count: 200,000 is ten times the figure before or more, which was 20,000. Is it one zero too many?"
        );
        assert!(said("coliforms at most 0 per mL [read]", "").contains("Coliforms at most 0 per mL"));
        assert!(said("coliforms at most 10 per mL [read]; coliforms at most 50 per mL [read]", "").contains("two limits of one kind"));
        assert_eq!(
            said(
                "coliforms at most 10 per mL [read]; coliforms at most 50 per mL, geometric mean of 2 months, 1 sample a month [read]",
                ""
            ),
            ""
        );
    }

    #[test]
    fn no_built_in_set_has_a_slip_of_its_own() {
        for set in places().unwrap() {
            assert_eq!(about_limits(&set.limits, &set.limits), Vec::<String>::new(), "{}", set.id);
            let barred = barred(&set.title, &set.channels).is_some();
            assert_eq!(barred, matches!(set.id.as_str(), "ca-prohibited" | "us-pmo-grade-a-raw-for-pasteurization"), "{}", set.id);
        }
        let day = |typed: &str| parse_day(typed).unwrap();
        let old = Set { title: "Old".to_owned(), check_by: Some(day("2026-05-13")), ..Set::default() };
        let asked = remarks(&Set::default(), Some(&old), day("2026-05-14"));
        assert_eq!(asked.iter().map(|own| own.field.as_str()).collect::<Vec<_>>(), ["check_by"]);
        assert!(remarks(&Set::default(), Some(&old), day("2026-05-13")).is_empty());
    }
}
