//! Whom a call-back has reached and where every jar is, for any farm: nobody is dropped, and every jar stands in one place.
#![allow(clippy::unwrap_used, reason = "a test that cannot read its own figures should stop")]

use proptest::prelude::*;
use std::collections::{BTreeMap, BTreeSet};
use tallypail::trade::{
    accounted::lines,
    called::*,
    case::to_check,
    jars::{Jars, Size},
    kinds::{BECAME, OUTCOMES},
    recipients::Household,
    trace::Tie,
    verdict::Word,
    when::Moment,
    whereabouts::Caught,
};

fn hour(hour: i64) -> Moment {
    Moment::seconds(0).plus_hours(hour)
}

fn household(number: i64) -> Household {
    let label = format!("M{number:02}");
    Household { number, name: format!("House {number}"), phone: "555-0100".to_owned(), second_way: String::new(), label }
}

fn out(number: i64, lot: i64, to: Option<i64>, halves: i64, quarts: i64) -> Out {
    Out {
        number,
        lot,
        at: hour(number),
        jars: Jars { half_gallons: halves, quarts, ..Jars::NONE },
        evidence: "seen".to_owned(),
        carried: String::new(),
        household: to.map(household),
        then: (String::new(), String::new()),
    }
}

fn tried(number: i64, to: To, outcome: &str) -> Try {
    Try {
        number: Some(number),
        to,
        at: hour(100 + number),
        written: hour(100 + number),
        who: "Del".to_owned(),
        way: "phone".to_owned(),
        outcome: outcome.to_owned(),
        note: String::new(),
    }
}

fn telling(contact: i64, lot: i64, became: &str, halves: i64) -> Telling {
    Telling { contact, lot, became: became.to_owned(), jars: Jars::halves(halves), note: String::new() }
}

fn caught(number: i64) -> Caught {
    Caught {
        number,
        code: format!("L{number}"),
        filled: hour(0),
        vessel: String::new(),
        made: String::new(),
        tie: Tie::Certain(String::new()),
        word: Word::CantTell,
        held: true,
        movements: Vec::new(),
        counts: Vec::new(),
    }
}

/// Source: 21 CFR 7.42(b)(3), from a secondary table; rounding up is common practice.
#[test]
fn so_many_households_are_asked_at_each_level() {
    assert_eq!([to_check('A', 37), to_check('C', 37), to_check('D', 37), to_check('E', 37)], [Some(37), Some(4), Some(1), Some(0)]);
    assert_eq!(to_check('B', 37), None, "the authority sets it");
}

#[test]
fn whoever_may_have_the_most_left_is_rung_first_and_the_reached_last() {
    let outs =
        [out(1, 1, Some(1), 1, 0), out(2, 1, Some(2), 4, 0), out(3, 1, None, 2, 0), out(4, 1, Some(3), 4, 0), out(5, 2, Some(1), 1, 0)];
    let order = |tries: &[Try], told: &[Telling]| recipients(&outs, tries, told).iter().map(|own| own.to).collect::<Vec<_>>();
    assert_eq!(order(&[], &[]), [To::Household(3), To::Household(2), To::Household(1), To::WalkIn(3)]);
    let reached = [tried(1, To::Household(3), "reached"), tried(2, To::Household(2), "no answer")];
    assert_eq!(order(&reached, &[]), [To::Household(2), To::Household(1), To::WalkIn(3), To::Household(3)]);
}

#[test]
fn somebody_once_reached_stays_reached_and_a_wrong_number_can_be_put_right() {
    let outs = [out(1, 1, Some(1), 2, 0)];
    let standing = |outcomes: &[&str]| {
        let tries: Vec<Try> = outcomes.iter().zip(1..).map(|(outcome, number)| tried(number, To::Household(1), outcome)).collect();
        recipients(&outs, &tries, &[])[0].standing()
    };
    assert_eq!(standing(&[]), Standing::NotTried);
    assert_eq!(standing(&["wrong number", "message left"]), Standing::Message);
    assert_eq!(standing(&["reached", "no answer"]), Standing::Reached);
    let marks: Vec<Option<To>> = ["h17", "w3", "x1", "h", "h1;"].into_iter().map(To::parse).collect();
    assert_eq!(marks, [Some(To::Household(17)), Some(To::WalkIn(3)), None, None, None]);
}

#[test]
fn a_deadline_is_kept_late_or_still_due() {
    let zone = tallypail::trade::when::Zone::UTC;
    assert!(deadline(hour(0), 2, Some(hour(1)), hour(9), zone).contains("in time"));
    assert!(deadline(hour(0), 2, Some(hour(3)), hour(9), zone).contains("1 h late"));
    assert!(deadline(hour(0), 2, None, hour(1), zone).starts_with("due by"));
    assert!(deadline(hour(0), 2, None, hour(3), zone).starts_with("was due by"));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1000, failure_persistence: None, ..ProptestConfig::default() })]

    /// Source: a mass balance is conservation: what went out is in exactly one place, or missing by name.
    #[test]
    fn every_jar_handed_out_is_in_one_place(
        outs in prop::collection::vec((1i64..4, prop::option::of(1i64..6), 0i64..4, 0i64..3), 0..25),
        tries in prop::collection::vec((1i64..6, 0usize..4), 0..15),
        told in prop::collection::vec((0usize..15, 1i64..4, 0usize..6, 0i64..4), 0..30),
    ) {
        let outs: Vec<Out> = outs.into_iter().zip(1..).map(|((lot, to, halves, quarts), number)| out(number, lot, to, halves, quarts)).collect();
        let tries: Vec<Try> = tries.into_iter().zip(1..).map(|((to, outcome), number)| tried(number, To::Household(to), OUTCOMES[outcome])).collect();
        let told: Vec<Telling> = told.into_iter().map(|(contact, lot, became, halves)| telling(i64::try_from(contact).unwrap(), lot, BECAME[became], halves)).collect();
        let all = recipients(&outs, &tries, &told);
        // Nobody is dropped: each household once, and each hand-out to somebody unknown.
        let households: BTreeSet<i64> = outs.iter().filter_map(|out| out.household.as_ref().map(|own| own.number)).collect();
        let walk_ins = outs.iter().filter(|out| out.household.is_none()).count();
        let progress = Progress::of(&all);
        prop_assert_eq!((progress.households, progress.walk_ins), (households.len(), walk_ins));
        prop_assert_eq!(progress.households, progress.reached + progress.messages + progress.unanswered + progress.untried);
        // Every jar once.
        let mut handed: BTreeMap<(i64, Size), i64> = BTreeMap::new();
        for out in &outs {
            for size in Size::ALL {
                *handed.entry((out.lot, size)).or_default() += out.jars.of(size);
            }
        }
        let lots: Vec<Caught> = (1..4).map(caught).collect();
        let lines = lines(&lots, &all);
        for line in &lines {
            prop_assert!(line.closes(), "{line:?}");
        }
        for ((lot, size), count) in handed {
            let stood: i64 = lines.iter().filter(|line| line.code == format!("L{lot}") && line.size == size).map(|line| line.handed_out).sum();
            prop_assert_eq!(stood, count);
        }
    }
}
