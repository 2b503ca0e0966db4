//! One lot with nothing against it, and what is needed to put something against it.

#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use std::sync::Arc;
use tallypail::trade::{
    analytes::Analyte,
    chill::{MilkingTimes, Reading},
    herd::{ColostrumRule, Foremilk},
    lab::{Figure, LabResult, Of, Unit},
    limits::Limits,
    measure::{Scale, Temperature},
    rules::{CountedFrom, RuleSet, places},
    tested::Known,
    verdict::{CowsPart, Facts, Milking, Rules, RulesOfDay, Word, judge},
    warm::HouseRule,
    when::{Moment, Zone, parse_day},
};

/// The farm's clock.
pub fn zone() -> Zone {
    Zone::parse("America/New_York").unwrap()
}

/// A moment on it.
pub fn at(typed: &str) -> Moment {
    zone().parse_moment(typed).unwrap()
}

/// A built-in set.
pub fn place(id: &str) -> RuleSet {
    places().unwrap().into_iter().find(|set| set.id == id).unwrap()
}

/// The rules a farm follows when it has copied a built-in set and added nothing but its own days after calving.
pub fn rules(set: &RuleSet) -> Rules {
    Rules {
        source: set.citation.clone(),
        steps: set.steps.clone(),
        fresh: ColostrumRule { days_after: Some(5), ..ColostrumRule::default() },
        best_by: Some((10, CountedFrom::OldestMilking)),
        channels: set.channels.clone(),
        limits: set.limits.clone(),
        strip_fails: None,
        each_cow: set.tests.of_each_cow(),
        unread: vec![],
    }
}

/// Pennsylvania's rules with other limits.
pub fn under(limits: &str) -> Rules {
    Rules { limits: Limits::parse(limits).unwrap(), ..rules(&place("us-pa-permit")) }
}

/// When it is asked.
pub const NOW: &str = "2026-05-14T12:00";

/// A lot with nothing against it: one cow, milked from 05:40 to 06:05, 39 °F at 07:35.
pub fn lot(base: Rules) -> Facts {
    Facts {
        code: "6134A-S".to_owned(),
        filled: at("2026-05-14T06:20"),
        milkings: vec![Arc::new(Milking {
            session: "2026-05-14 AM".to_owned(),
            times: MilkingTimes { start: at("2026-05-14T05:40"), end: Some(at("2026-05-14T06:05")) },
            well: Some(true),
            cows: vec![CowsPart {
                cow: "Damson".to_owned(),
                foremilk: Foremilk::Normal,
                doses: vec![],
                milked: vec![at("2026-05-14T05:40")],
                turns: vec![],
                strips: vec![],
            }],
        })],
        readings: vec![reading("2026-05-14T07:35", 3900)],
        holds: vec![],
        parents: vec![],
        rules: RulesOfDay { base, beside: vec![], used: vec![] },
        lab: Known { milked: vec![("Damson".to_owned(), at("2026-05-14T05:40"))], since: Some(at("2026-05-14T05:40")), ..Known::default() },
        decisions: vec![],
        tied: vec![],
        shared: vec![],
        warmed: vec![],
        house: HouseRule::default(),
        unread: vec![],
        zone: zone(),
    }
}

/// A reading in hundredths of a °F.
pub fn reading(when: &str, hundredths: i64) -> Reading {
    Reading::of(at(when), Temperature::hundredths(hundredths, Scale::Fahrenheit))
}

/// One result.
pub fn result(of: Of, drawn: &str, analyte: &str, figure: &str, unit: &str) -> LabResult {
    LabResult {
        number: 1,
        sample: 1,
        drawn: at(drawn),
        of,
        analyte: Analyte::parse(analyte),
        figure: Figure::parse(figure).unwrap(),
        unit: Unit::parse(unit).ok(),
        part: None,
        reported: parse_day(drawn.split('T').next().unwrap()).unwrap(),
        written: at(drawn),
    }
}

/// A result of the lot itself.
pub fn own(analyte: &str, figure: &str, unit: &str) -> LabResult {
    result(Of::Lot("6134A-S".to_owned()), "2026-05-14T06:20", analyte, figure, unit)
}

/// The word of the lot under these limits when the lab found these things in it.
pub fn word(limits: &str, found: &[LabResult]) -> Word {
    let mut facts = lot(under(limits));
    facts.lab.own = found.to_vec();
    facts.lab.farm = Arc::new(found.to_vec());
    judge(&facts, at(NOW)).word()
}
