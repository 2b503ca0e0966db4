//! What one cow's milk does to a lot, judged in the book of the trade.
#![allow(clippy::unwrap_used, reason = "a test that cannot read its own figures should stop")]

use crate::farm::at;
use proptest::prelude::*;
use std::sync::Arc;
use tallypail::trade::{
    analytes::Analyte,
    chill::MilkingTimes,
    findings::{Finding, Word},
    herd::{ColostrumRule, Dose, Foremilk, Turn, Withheld, withdrawal},
    lab::{Figure, LabResult, Of},
    limits::Limits,
    poured::{Asked, CowsPart, judge},
    strips::{Quarter, Score, StripTest},
    tested::Known,
    when::{Zone, parse_day},
};

fn farm() -> Zone {
    Zone::parse("America/New_York").unwrap()
}

/// Source: Cal. Food & Agric. Code 35602: none from 15 days before to 5 days after calving.
const CALIFORNIA: ColostrumRule = ColostrumRule { days_before: Some(15), days_after: Some(5), milkings: None };

fn dose(when: &str, hours: Option<i64>) -> Dose {
    Dose {
        at: at(when),
        product: "udder tube".to_owned(),
        milk_hours: hours,
        milk_milkings: None,
        as_labelled: true,
        vet_figure: false,
        from_calving: false,
        dry_days: None,
    }
}

/// Source: drug labels with a milk time of zero exist (from memory). A label's nought holds for its own use only.
#[test]
fn a_label_may_keep_nothing_out() {
    let nil = dose("2026-04-01T06:00", Some(0));
    let none = Dose { milk_hours: None, milk_milkings: Some(0), ..nil.clone() };
    for own in [&nil, &none] {
        assert_eq!(withdrawal(std::slice::from_ref(own), &[], &[], own.at), Withheld::Clear(Some(own.at)));
        let odd = Dose { as_labelled: false, ..own.clone() };
        assert!(matches!(withdrawal(std::slice::from_ref(&odd), &[], &[], at("2026-04-09T06:00")), Withheld::NotKnown(_)));
        let vets = withdrawal(&[Dose { vet_figure: true, ..odd }], &[], &[], at("2026-04-01T06:00"));
        assert!(matches!(vets, Withheld::Clear(_)), "{vets}");
    }
    let both = Dose { milk_milkings: Some(2), ..nil };
    let both = withdrawal(&[both], &[], &[], at("2026-04-01T06:00"));
    assert!(matches!(both, Withheld::Until(_)), "the later of the two holds: {both}");
}

fn damson() -> CowsPart {
    CowsPart { cow: "Damson".to_owned(), foremilk: Foremilk::Normal, milked: vec![at("2026-06-06T06:00")], ..CowsPart::default() }
}

/// Her part in the milking of 6 June 2026, 06:00 to 06:40, under California's days and these limits.
fn asked<'a>(limits: &'a Limits, lab: &'a Known) -> Asked<'a> {
    Asked {
        session: "2026-06-06 AM",
        times: MilkingTimes { start: at("2026-06-06T06:00"), end: Some(at("2026-06-06T06:40")) },
        fresh: CALIFORNIA,
        strip_fails: Score::USUAL,
        limits,
        lab,
        zone: farm(),
        now: at("2026-06-12T00:00"),
    }
}

fn worst(findings: &[Finding]) -> Word {
    findings.iter().map(Finding::word).max().unwrap()
}

fn word(change: impl FnOnce(&mut CowsPart)) -> Word {
    let mut part = damson();
    change(&mut part);
    worst(&judge(&part, &asked(&Limits::default(), &Known::default())))
}

/// Source: label custom, hours from the last dose; a blank is no zero, by this program's own rule.
#[test]
fn a_treated_cow_keeps_the_lot_back_and_an_unknown_time_cannot_be_told() {
    for (hours, expected) in [(Some(96), Word::KeepBack), (None, Word::CantTell), (Some(24), Word::CanGo)] {
        assert_eq!(word(|part| part.doses.push(dose("2026-06-04T06:00", hours))), expected, "{hours:?}");
    }
}

/// Source: Cal. Food & Agric. Code 35602: due 20 June, so nothing from 5 June on. That a service stands 283 days is common
/// practice: served 10 September, due 20 June.
#[test]
fn a_cow_near_her_day_is_kept_back() {
    let due = parse_day("2026-06-20").ok();
    let served = (Turn::Served(None), at("2025-09-10T09:00"));
    for turns in
        [vec![served], vec![(Turn::InCalf(due), at("2025-12-01T09:00"))], vec![served, (Turn::InCalf(None), at("2025-12-01T09:00"))]]
    {
        assert_eq!(word(|part| part.turns = turns.clone()), Word::KeepBack, "{turns:?}");
    }
    let part = CowsPart { turns: vec![served], ..damson() };
    let found = judge(&part, &asked(&Limits::default(), &Known::default())).into_iter().find(|own| own.word() == Word::KeepBack).unwrap();
    assert_eq!(
        found.reason(farm()),
        "Damson was milked into it at 2026-06-06 AM, and she is due Sat 20 Jun 2026: her milk is kept back from Fri 5 Jun 2026."
    );
    assert!(!found.may_be_decided());
    for ended in [(Turn::NotInCalf, at("2026-05-01T09:00")), (Turn::Calved, at("2026-05-01T09:00"))] {
        assert_eq!(word(|part| part.turns = vec![served, ended]), Word::CanGo, "{ended:?}");
    }
    let a_day_later = (Turn::Served(None), at("2025-09-12T09:00"));
    assert_eq!(word(|part| part.turns = vec![a_day_later]), Word::CanGo, "due 22 June: from 7 June on");
}

/// Source: Cal. Food & Agric. Code 35602, read in hours: calved 1 May 14:00, 112 hours are inside five days and 124 are not.
#[test]
fn five_days_after_calving_are_hours() {
    let calved = (Turn::Calved, at("2026-05-01T14:00"));
    for (milked, expected) in [("2026-05-06T06:00", Word::KeepBack), ("2026-05-06T18:00", Word::CanGo)] {
        let (limits, lab) = (Limits::default(), Known::default());
        let times = MilkingTimes { start: at(milked), end: None };
        let part = CowsPart { turns: vec![calved], milked: vec![at(milked)], ..damson() };
        assert_eq!(worst(&judge(&part, &Asked { times, ..asked(&limits, &lab) })), expected, "{milked}");
    }
}

/// Source: the California mastitis test's scores; that 1 and above keep milk out, until that quarter passes, is common practice.
#[test]
fn the_last_strip_test_of_each_quarter_counts() {
    let test = |when: &str, quarter: &str, score| StripTest { at: at(when), quarter: Quarter::of(quarter), score };
    let failed = test("2026-06-05T06:10", "left hind", Score::Two);
    assert_eq!(word(|part| part.strips = vec![failed]), Word::KeepBack);
    assert_eq!(word(|part| part.strips = vec![failed, test("2026-06-06T06:20", "left hind", Score::Trace)]), Word::CanGo);
    assert_eq!(word(|part| part.strips = vec![failed, test("2026-06-06T06:20", "all", Score::Negative)]), Word::CanGo);
    assert_eq!(word(|part| part.strips = vec![failed, test("2026-06-06T06:20", "left fore", Score::Negative)]), Word::KeepBack);
    assert_eq!(word(|part| part.strips = vec![failed, test("2026-06-06T18:00", "left hind", Score::Negative)]), Word::KeepBack, "later");
    assert_eq!(word(|part| part.strips = vec![test("2026-06-06T06:20", "left hind", Score::One)]), Word::KeepBack, "seen at the milking");
    assert_eq!(word(|part| part.strips = vec![test("2026-06-06T06:41", "left hind", Score::One)]), Word::CanGo, "after it was over");
}

/// Source: 21 CFR 131.110(a): milk is from healthy cows; only “well again” ends it, by this program's own rule.
#[test]
fn a_cow_that_is_not_well_is_kept_back() {
    let unwell = (Turn::Unwell, at("2026-06-05T18:00"));
    assert_eq!(word(|part| part.turns = vec![unwell]), Word::KeepBack);
    assert_eq!(word(|part| part.turns = vec![unwell, (Turn::WellAgain, at("2026-06-06T05:00"))]), Word::CanGo);
    assert_eq!(word(|part| part.turns = vec![unwell, (Turn::WellAgain, at("2026-06-06T09:00"))]), Word::KeepBack);
    assert_eq!(word(|part| part.turns = vec![(Turn::Unwell, at("2026-06-06T06:30"))]), Word::KeepBack, "seen at the milking");
}

/// Source: this program's own rule: what somebody kept out by hand had no business in the can until somebody joined her.
#[test]
fn a_cow_kept_out_by_hand_keeps_the_lot_back_until_she_is_joined() {
    let out = (Turn::KeptOut, at("2026-05-13T17:00"));
    assert_eq!(word(|part| part.turns = vec![out]), Word::KeepBack);
    assert_eq!(word(|part| part.turns = vec![out, (Turn::JoinedCan, at("2026-05-14T05:00"))]), Word::CanGo);
    assert_eq!(word(|part| part.turns = vec![(Turn::DriedOff, at("2026-05-10T17:00"))]), Word::KeepBack);
    assert_eq!(word(|part| part.turns.clear()), Word::CanGo, "nothing is written of where she stands");
}

/// Source: label custom for dry-off products; extra-label article of the National Mastitis Council for the early calving.
#[test]
fn a_dry_cow_that_calved_early_waits_for_the_vet() {
    let dry = Dose { from_calving: true, dry_days: Some(45), ..dose("2026-04-20T18:00", Some(96)) };
    let (on_time, early) = ((Turn::Calved, at("2026-06-04T19:00")), (Turn::Calved, at("2026-05-25T03:00")));
    assert_eq!(word(|part| part.doses = vec![dry.clone()]), Word::CantTell, "no calving is written");
    assert_eq!(word(|part| (part.doses, part.turns) = (vec![dry.clone()], vec![on_time])), Word::KeepBack, "45 days dry, 35 hours after");
    assert_eq!(word(|part| (part.doses, part.turns) = (vec![dry.clone()], vec![early])), Word::CantTell, "34 days dry");
    let vets = Dose { vet_figure: true, milk_hours: Some(240), ..dry };
    assert_eq!(word(|part| (part.doses, part.turns) = (vec![vets], vec![early])), Word::CanGo, "the vet's ten days are over on 4 June");
}

fn result(of: Of, drawn: &str, figure: &str) -> LabResult {
    LabResult {
        number: 1,
        sample: 1,
        drawn: at(drawn),
        of,
        analyte: Analyte::parse("drug residue"),
        figure: Figure::parse(figure).unwrap(),
        unit: None,
        part: None,
        reported: parse_day("2026-06-10").unwrap(),
        written: at("2026-06-10T00:00"),
    }
}

/// Source: this program's reading of a rule that lets a clear drug-residue test lift a keep-back, as its own words say; where a
/// rule does not, time alone lifts it (label custom).
#[test]
fn a_clear_test_lifts_a_treatment_only_where_the_rule_says_so() {
    let (silent, lifts) = (
        Limits::parse("drug residue none found [read]").unwrap(),
        Limits::parse("drug residue none found, a clear test lifts a drug keep-back [read]").unwrap(),
    );
    let part = CowsPart { doses: vec![dose("2026-06-05T06:00", Some(96))], ..damson() };
    let judged = |limits: &Limits, lab: &Known| worst(&judge(&part, &asked(limits, lab)));
    let hers =
        |drawn: &str, figure: &str| Known { cows: Arc::new(vec![result(Of::Cow("Damson".to_owned()), drawn, figure)]), ..Known::default() };
    let lots = |figure: &str| Known { own: vec![result(Of::Lot("6157A-0".to_owned()), "2026-06-06T07:00", figure)], ..Known::default() };
    for clear in [hers("2026-06-06T06:10", "not detected"), lots("not detected")] {
        assert_eq!(judged(&lifts, &clear), Word::CanGo);
        assert_eq!(judged(&silent, &clear), Word::KeepBack);
    }
    for (name, lab) in [
        ("found", hers("2026-06-06T06:10", "detected")),
        ("found in the lot", lots("detected")),
        ("drawn before the dose", hers("2026-06-05T05:00", "not detected")),
        ("drawn after the milking", hers("2026-06-07T06:10", "not detected")),
        (
            "another cow's",
            Known { cows: Arc::new(vec![result(Of::Cow("Wren".to_owned()), "2026-06-06T06:10", "not detected")]), ..Known::default() },
        ),
        ("none", Known::default()),
    ] {
        assert_eq!(judged(&lifts, &lab), Word::KeepBack, "{name}");
    }
    let found = judge(&part, &asked(&lifts, &lots("not detected")));
    let said = found.iter().find(|own| matches!(own, Finding::ClearOfDrugs { .. })).unwrap();
    assert!(said.reason(farm()).ends_with("the bottle of this lot drawn Sat 6 Jun 2026 is clear."), "{}", said.reason(farm()));
    assert_eq!(said.topic(), "Treatment: Damson, 2026-06-06 AM");
    // What only the vet can say, no test answers.
    let part = CowsPart { doses: vec![dose("2026-06-05T06:00", None)], ..damson() };
    assert_eq!(worst(&judge(&part, &asked(&lifts, &lots("not detected")))), Word::CantTell);
}

#[test]
fn every_finding_about_a_cow_says_what_it_is_and_what_to_do() {
    let part = CowsPart {
        doses: vec![Dose { from_calving: true, ..dose("2026-04-20T18:00", Some(96)) }],
        turns: vec![(Turn::Served(None), at("2025-09-10T09:00")), (Turn::Unwell, at("2026-06-05T18:00"))],
        strips: vec![StripTest { at: at("2026-06-05T06:10"), quarter: None, score: Score::Three }],
        ..damson()
    };
    let found = judge(&part, &asked(&Limits::default(), &Known::default()));
    let about: Vec<&str> = found.iter().map(Finding::about).collect();
    assert_eq!(about, ["Foremilk", "Treatment", "Near calving", "Strip test", "Cow unwell"]);
    for own in found.iter().skip(1) {
        let (reason, next) = (own.reason(farm()), own.next(farm()));
        assert!(reason.starts_with("Damson") && reason.ends_with('.') && next.ends_with('.') && next.len() > 20, "{reason} {next}");
        assert!(own.topic().contains("Damson, 2026-06-06 AM") && !own.may_be_decided(), "{}", own.topic());
    }
    assert!(matches!(&found[1], Finding::Treated { withheld: Withheld::UntilCalving(_), .. }));
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// Source: this program's own rule: a missing fact never improves a verdict. What speaks for her milk is taken away one at a
    /// time: a test that passed, “well again”, a finding that she is empty, a clear bottle, the look at her first squirts, the
    /// end of the milking.
    #[test]
    fn a_missing_fact_never_lets_a_lot_go(
        strips in prop::collection::vec((0i64..72, 0usize..5, 0usize..5), 0..5),
        turns in prop::collection::vec((0i64..72, 0usize..4), 0..5),
        bottle in prop::option::of(0i64..60),
        nth in 0usize..5,
    ) {
        let from = at("2026-06-04T06:00");
        let limits = Limits::parse("drug residue none found, a clear test lifts a drug keep-back [read]").unwrap();
        let scores = [Score::Negative, Score::Trace, Score::One, Score::Two, Score::Three];
        let quarters = ["left fore", "right fore", "left hind", "right hind", "all"].map(Quarter::of);
        let words = [Turn::Unwell, Turn::WellAgain, Turn::Served(None), Turn::NotInCalf];
        let part = CowsPart {
            doses: vec![dose("2026-06-05T06:00", Some(96))],
            strips: strips.iter().map(|(hour, quarter, score)| StripTest { at: from.plus_hours(*hour), quarter: quarters[*quarter], score: scores[*score] }).collect(),
            turns: turns.iter().map(|(hour, turn)| (words[*turn], from.plus_hours(*hour - 24 * if *turn > 1 { 280 } else { 0 }))).collect(),
            ..damson()
        };
        let lab = Known {
            cows: Arc::new(bottle.iter().map(|hour| LabResult { drawn: from.plus_hours(*hour), ..result(Of::Cow("Damson".to_owned()), "2026-06-06T06:00", "not detected") }).collect()),
            ..Known::default()
        };
        let none = Known::default();
        let full = worst(&judge(&part, &asked(&limits, &lab)));
        let less = |change: &dyn Fn(&mut CowsPart)| { let mut part = part.clone(); change(&mut part); part };
        let pass = less(&|part| if part.strips.get(nth).is_some_and(|own| own.score < Score::One) { part.strips.remove(nth); });
        let better = less(&|part| if part.turns.get(nth).is_some_and(|(turn, _)| matches!(turn, Turn::WellAgain | Turn::NotInCalf)) { part.turns.remove(nth); });
        let unseen = less(&|part| part.foremilk = Foremilk::NotLooked);
        for part in [&pass, &better, &unseen] {
            prop_assert!(worst(&judge(part, &asked(&limits, &lab))) >= full);
        }
        prop_assert!(worst(&judge(&part, &asked(&limits, &none))) >= full, "without her bottle");
        let endless = Asked { times: MilkingTimes { start: at("2026-06-06T06:00"), end: None }, ..asked(&limits, &lab) };
        prop_assert!(worst(&judge(&part, &endless)) >= full, "without the end of the milking");
    }
}
