//! Nothing worse ever makes a verdict better: a higher count, a fact that is missing, a warmer or a later reading.

#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use crate::one_lot::{NOW, at, lot, own, place, reading, rules, under, word};
use proptest::prelude::*;
use std::sync::Arc;
use tallypail::trade::{
    chill::Reading,
    herd::{Dose, Foremilk},
    lab::LabResult,
    limits::Limits,
    tested::Bottle,
    verdict::{Facts, Word, judge},
};

/// A fact by its name, and how it is taken away.
type Without = (&'static str, fn(&mut Facts));

fn any_limit() -> impl Strategy<Value = &'static str> {
    prop::sample::select(vec![
        "coliforms at most 10 per mL [read]",
        "coliforms below 100 per mL [read]",
        "coliforms at most 10 per mL, 2 of 4 notice, 3 of 5 action [read]",
        "coliforms at most 10 per mL, geometric mean of 2 months, 1 samples a month [read]",
        "coliforms at most 100 per mL, 1 units with 0 above 10 [read]",
        "coliforms at most 10 per mL, held until clear [read]",
        "coliforms at most 10 per mL, above 20 calls for pathogens [read]",
    ])
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// A higher count never improves a verdict, in any shape of limit.
    #[test]
    fn a_higher_count_never_improves(limit in any_limit(), low in 0u32..300, more in 0u32..300, sign in prop::sample::select(vec!["", ">"])) {
        let Ok(_) = Limits::parse(limit) else { return Ok(()) };
        let of = |figure: String| LabResult { part: Some(1), ..own("coliforms", &figure, "per mL") };
        let before = word(limit, &[of(low.to_string())]);
        let after = word(limit, &[of(format!("{sign}{}", low + more))]);
        prop_assert!(after >= before, "{limit}: {low} {before}, {sign}{} {after}", low + more);
    }

    /// A fact that is missing never improves a verdict: no readings, no end of milking, nobody looked, no hours on a dose,
    /// no result of a test every lot is held for, no bottle, no milking, no rule.
    #[test]
    fn a_missing_fact_never_improves(
        minutes in 0i64..400,
        degrees in 3000i64..6000,
        look in prop::sample::select(vec![Foremilk::Normal, Foremilk::NotLooked]),
        hours in prop::option::of(1i64..120),
        count in prop::option::of(0u32..30),
        out in any::<bool>(),
    ) {
        let mut facts = lot(under("coliforms at most 10 per mL, held until clear [chosen]"));
        facts.readings = vec![Reading::of(at("2026-05-14T05:40").plus_minutes(minutes), reading(NOW, degrees).temperature)];
        Arc::make_mut(&mut facts.milkings[0]).cows[0].foremilk = look;
        Arc::make_mut(&mut facts.milkings[0]).cows[0].doses = vec![Dose {
            at: at("2026-05-10T06:00"), product: "tube".to_owned(), milk_hours: hours, milk_milkings: None,
            as_labelled: true, vet_figure: false, from_calving: false, dry_days: None,
        }];
        facts.lab.own = count.map(|count| own("coliforms", &count.to_string(), "per mL")).into_iter().collect();
        facts.lab.bottles = if out { vec![Bottle { number: 2, drawn: at("2026-05-14T06:20"), asked: vec![] }] } else { vec![] };
        let whole = judge(&facts, at(NOW)).word();
        let without: [Without; 8] = [
            ("readings", |facts| facts.readings.clear()),
            ("end", |facts| Arc::make_mut(&mut facts.milkings[0]).times.end = None),
            ("foremilk", |facts| Arc::make_mut(&mut facts.milkings[0]).cows[0].foremilk = Foremilk::NotLooked),
            ("hours", |facts| Arc::make_mut(&mut facts.milkings[0]).cows[0].doses[0].milk_hours = None),
            ("bottle", |facts| facts.lab.bottles.clear()),
            ("milking", |facts| facts.milkings.clear()),
            ("cows", |facts| Arc::make_mut(&mut facts.milkings[0]).cows.clear()),
            ("chill rule", |facts| facts.rules.base.steps.0.clear()),
        ];
        for (what, take) in without {
            let mut less = facts.clone();
            take(&mut less);
            let word = judge(&less, at(NOW)).word();
            // What a fact showed to be wrong is no longer shown without it; but what is then said is never “can go”.
            prop_assert!(word >= whole.min(Word::CantTell), "without {what}: {whole} became {word}");
        }
        if whole == Word::CanGo {
            facts.lab.own.clear();
            prop_assert!(judge(&facts, at(NOW)).word() != Word::CanGo, "its clear result taken away");
        }
    }

    /// A warmer log never improves a verdict, nor does the same reading taken later.
    #[test]
    fn a_warmer_or_a_later_reading_never_improves(minutes in 26i64..400, degrees in 3000i64..6000, warmer in 0i64..2000, later in 0i64..300) {
        let with = |minutes: i64, degrees: i64| {
            let mut facts = lot(rules(&place("us-ma-retail")));
            facts.readings = vec![Reading::of(at("2026-05-14T05:40").plus_minutes(minutes), reading(NOW, degrees).temperature)];
            judge(&facts, at("2026-05-15T12:00")).word()
        };
        prop_assert!(with(minutes, degrees + warmer) >= with(minutes, degrees));
        // A warm reading in time says nothing of the deadline, and a warm one after it does: later is never better.
        prop_assert!(with(minutes + later, degrees) >= with(minutes, degrees));
    }
}
