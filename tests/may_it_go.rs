//! May this lot go out? The whole verdict, in rule-set terms: what the lab found, the way it is to go, what the owner
//! decided, and that nothing worse ever makes it better.

#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use proptest::prelude::*;
use std::sync::Arc;
use tallypail::trade::{
    analytes::Analyte,
    chill::{MilkingTimes, Reading},
    herd::{ColostrumRule, Dose, Foremilk},
    lab::{Figure, LabResult, Of, Unit},
    limits::Limits,
    measure::Temperature,
    rules::{Channel, CountedFrom, RuleSet, places},
    tested::{Known, Waiting},
    verdict::{CowsPart, Decision, Facts, Finding, Milking, Rules, RulesOfDay, Word, judge, judge_for},
    when::{Moment, Zone, parse_day},
};

fn zone() -> Zone {
    Zone::parse("America/New_York").unwrap()
}

fn at(typed: &str) -> Moment {
    zone().parse_moment(typed).unwrap()
}

fn place(id: &str) -> RuleSet {
    places().unwrap().into_iter().find(|set| set.id == id).unwrap()
}

/// The rules a farm follows when it has copied a built-in set and added nothing but its own days after calving.
fn rules(set: &RuleSet) -> Rules {
    Rules {
        source: set.citation.clone(),
        steps: set.steps.clone(),
        fresh: ColostrumRule { days_after: Some(5), ..ColostrumRule::default() },
        best_by: Some((10, CountedFrom::OldestMilking)),
        channels: set.channels.clone(),
        limits: set.limits.clone(),
        strip_fails: None,
    }
}

fn under(limits: &str) -> Rules {
    Rules { limits: Limits::parse(limits).unwrap(), ..rules(&place("us-pa-permit")) }
}

const NOW: &str = "2026-05-14T12:00";

/// A lot with nothing against it: one cow, milked from 05:40 to 06:05, 39 °F at 07:35.
fn lot(base: Rules) -> Facts {
    Facts {
        code: "6134A-S".to_owned(),
        filled: at("2026-05-14T06:20"),
        milkings: vec![Milking {
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
        }],
        readings: vec![reading("2026-05-14T07:35", 3900)],
        holds: vec![],
        parents: vec![],
        rules: RulesOfDay { base, beside: vec![], used: vec![] },
        lab: Known { milked: vec![("Damson".to_owned(), at("2026-05-14T05:40"))], ..Known::default() },
        decisions: vec![],
        zone: zone(),
    }
}

fn reading(when: &str, hundredths: i64) -> Reading {
    Reading::of(at(when), Temperature::hundredths(hundredths, tallypail::trade::measure::Scale::Fahrenheit))
}

fn result(of: Of, drawn: &str, analyte: &str, figure: &str, unit: &str) -> LabResult {
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
    }
}

fn own(analyte: &str, figure: &str, unit: &str) -> LabResult {
    result(Of::Lot("6134A-S".to_owned()), "2026-05-14T06:20", analyte, figure, unit)
}

/// The word of the lot under these limits when the lab found these things in it.
fn word(limits: &str, found: &[LabResult]) -> Word {
    let mut facts = lot(under(limits));
    facts.lab.own = found.to_vec();
    facts.lab.farm = Arc::new(found.to_vec());
    judge(&facts, at(NOW)).word()
}

/// Source: 7 Pa. Code 59a.408 and .409, Conn. 22-133-129, S.C. R.61-34, 25 TAC 217.27, N.M. 21.34.2: the same milk, plate
/// count 18,000 and coliforms 12, is over a limit in some places and not in others. Pennsylvania and South Carolina judge so
/// many of the last so many, so one over makes the owner decide; Texas judges each result.
#[test]
fn the_same_milk_stands_differently_in_each_place() {
    for (id, expected) in [
        ("us-pa-permit", Word::Wait),
        ("us-ct-retail-raw", Word::CanGo),
        ("us-tx-raw-retail", Word::KeepBack),
        ("us-nm-retail-raw", Word::CanGo),
    ] {
        let mut facts = lot(rules(&place(id)));
        facts.lab.own = vec![own("plate count", "18,000", "per mL"), own("coliforms", "12", "per mL")];
        facts.lab.farm = Arc::new(facts.lab.own.clone());
        let verdict = judge(&facts, at(NOW));
        assert_eq!(verdict.word(), expected, "{id}: {}", verdict.reason());
    }
}

/// Source: Reg. (EC) 853/2004 Annex III Section IX (read second-hand): a rolling mean needs two plate counts a month, so with
/// none there is no verdict; 7 Pa. Code 59a.408-409 asks nothing of a lot nobody tested.
#[test]
fn a_mean_with_too_few_samples_tells_nothing() {
    let mean = "plate count at most 100000 per mL, geometric mean of 2 months, 2 samples a month [second-hand]";
    assert_eq!(word(mean, &[]), Word::CantTell);
    assert_eq!(word("plate count at most 20000 per mL, 2 of 4 notice, 3 of 5 action [read]", &[]), Word::CanGo);
}

/// Source: 7 Pa. Code 59a.409(a): three of the last five over the limit stop the milk, all of it.
#[test]
fn three_of_five_keep_back_lots_that_were_never_tested() {
    let limit = "coliforms at most 10 per mL, 2 of 4 notice, 3 of 5 action [read]";
    let row = |figures: &[&str]| {
        let mut facts = lot(under(limit));
        let other = |nth: usize, figure: &&str| {
            result(Of::Lot(format!("610{nth}A")), &format!("2026-04-{:02}T06:00", nth + 1), "coliforms", figure, "per mL")
        };
        facts.lab.farm = Arc::new(figures.iter().enumerate().map(|(nth, figure)| other(nth, figure)).collect());
        judge(&facts, at(NOW)).word()
    };
    assert_eq!(row(&["12", "8", "11", "9"]), Word::CanGo, "a notice is said and stops nothing");
    assert_eq!(row(&["12", "8", "11", "9", "13"]), Word::KeepBack);
}

/// Source: this program's own caution, whatever the place's rule: a pathogen found is never freed. France's class plan for
/// Listeria, arrêté of 13 July 2012, allows up to 100 per mL.
#[test]
fn a_pathogen_found_is_never_freed() {
    for limits in ["", "Salmonella none found [read]", "pathogens none found [memory]"] {
        let mut facts = lot(under(limits));
        facts.lab.own = vec![own("Salmonella", "positive", "in 25 mL"), own("Salmonella", "none detected", "in 25 mL")];
        facts.decisions = vec![Decision {
            at: at("2026-05-14T11:00"),
            by: "Mina".to_owned(),
            over: vec!["Test: Salmonella in 6134A-S".to_owned()],
            reason: "x".to_owned(),
        }];
        let verdict = judge(&facts, at(NOW));
        assert_eq!(verdict.word(), Word::KeepBack, "{limits}");
        assert!(verdict.to_decide().is_empty() && verdict.decided().is_empty());
    }
    let french = "Listeria monocytogenes at most 100 per mL, 5 units with 0 above 100 [read]";
    let five: Vec<LabResult> = (1..=5).map(|part| LabResult { part: Some(part), ..own("Listeria monocytogenes", "5", "per mL") }).collect();
    assert_eq!(word(french, &five), Word::CanGo);
    assert_eq!(word("Listeria monocytogenes none found [read]", &five), Word::KeepBack);
}

/// Source: this program's own caution: a name slipped in one letter must not let through what the lab called positive.
#[test]
fn something_found_that_nobody_knows_is_kept_back() {
    assert_eq!(word("Salmonella none found [read]", &[own("Salmonela", "positive", "in 25 mL")]), Word::KeepBack);
    assert_eq!(word("", &[own("beta lactams by strip", "positive", "")]), Word::KeepBack);
    assert_eq!(word("", &[own("urea", "24", "")]), Word::CanGo, "a figure of something with no limit says nothing");
}

#[test]
fn a_cow_with_a_pathogen_keeps_back_what_her_milk_is_in_until_she_is_clear() {
    let cow = |drawn: &str, figure: &str| result(Of::Cow("Damson".to_owned()), drawn, "Listeria monocytogenes", figure, "in 25 mL");
    let with = |results: Vec<LabResult>| {
        let mut facts = lot(under(""));
        facts.lab.cows = results;
        judge(&facts, at(NOW)).word()
    };
    assert_eq!(with(vec![cow("2026-05-10T06:00", "positive")]), Word::KeepBack);
    assert_eq!(with(vec![cow("2026-05-10T06:00", "positive"), cow("2026-05-13T06:00", "none detected")]), Word::CanGo);
    assert_eq!(with(vec![cow("2026-05-16T06:00", "positive")]), Word::CanGo, "not known yet, and milked more than a day before");
}

#[test]
fn a_lot_held_for_a_test_waits_for_it_and_without_a_bottle_nobody_can_tell() {
    let held = "coliforms at most 10 per mL, held until clear [chosen]";
    assert_eq!(word(held, &[]), Word::CantTell);
    assert_eq!(word(held, &[own("coliforms", "<1", "per mL")]), Word::CanGo);
    assert_eq!(word(held, &[own("coliforms", "11", "per mL")]), Word::KeepBack);
    let mut facts = lot(under(held));
    facts.lab.waiting = vec![Waiting { drawn: at("2026-05-14T06:20"), asked: vec![Analyte::parse("coliforms")] }];
    let verdict = judge(&facts, at(NOW));
    assert_eq!(verdict.word(), Word::Wait);
    assert!(verdict.next().contains("Wait for the lab"), "{}", verdict.next());
}

#[test]
fn a_result_counts_from_the_day_it_was_reported() {
    let mut facts = lot(under("coliforms at most 10 per mL [read]"));
    facts.lab.own = vec![LabResult { reported: parse_day("2026-05-17").unwrap(), ..own("coliforms", "250", "per mL") }];
    assert_eq!(judge(&facts, at("2026-05-16T23:59")).word(), Word::CanGo, "what was known then");
    assert_eq!(judge(&facts, at("2026-05-17T00:00")).word(), Word::KeepBack);
}

/// Source: the Vermont agency's page on raw milk (read second-hand): up to 350 quarts a week, picked up at the farm; any
/// delivery belongs to the second tier.
#[test]
fn a_lot_may_go_one_way_and_not_another() {
    let first = lot(Rules { steps: place("us-pa-permit").steps, ..rules(&place("us-vt-tier1")) });
    assert_eq!(judge_for(&first, Channel::FarmGate, at(NOW)).word(), Word::CanGo);
    assert_eq!(judge_for(&first, Channel::Delivery, at(NOW)).word(), Word::KeepBack);
    let second = lot(Rules { steps: place("us-pa-permit").steps, ..rules(&place("us-vt-tier2")) });
    assert_eq!(judge_for(&second, Channel::Delivery, at(NOW)).word(), Word::CanGo);
    // From memory only: nothing is forbidden for certain, and nothing allowed.
    assert_eq!(judge_for(&lot(rules(&place("us-pa-permit"))), Channel::CollectionPoint, at(NOW)).word(), Word::CantTell);
    assert_eq!(judge_for(&lot(rules(&place("not-listed"))), Channel::FarmGate, at(NOW)).word(), Word::CantTell);
}

/// Source: Tenn. Code 53-3-119 (herd share) beside 7 Pa. Code 59a (sale), as an invented farm might follow both.
#[test]
fn rules_that_stand_beside_others_hold_for_their_own_ways() {
    let mut facts = lot(Rules { steps: place("us-pa-permit").steps, ..rules(&place("us-tn-herdshare")) });
    facts.rules.beside =
        vec![Rules { limits: Limits::parse("coliforms at most 10 per mL [read]").unwrap(), ..rules(&place("us-ct-retail-raw")) }];
    facts.lab.own = vec![own("coliforms", "12", "per mL")];
    assert_eq!(judge_for(&facts, Channel::Herdshare, at(NOW)).word(), Word::CanGo);
    facts.rules.beside[0].channels = tallypail::trade::rules::Channels::parse("farm gate [read]").unwrap();
    assert_eq!(judge_for(&facts, Channel::FarmGate, at(NOW)).word(), Word::KeepBack);
    assert_eq!(facts.rules.ways(), [Channel::Herdshare, Channel::FarmGate]);
}

fn decided(facts: &mut Facts) {
    let over = judge(facts, at(NOW)).to_decide();
    assert!(!over.is_empty());
    facts.decisions.push(Decision {
        at: at(NOW),
        by: "Mina".to_owned(),
        over,
        reason: "Cold to the hand at seven, and Tobe stood by".to_owned(),
    });
}

#[test]
fn the_owner_may_decide_what_nobody_can_tell_and_nothing_else() {
    let mut facts = lot(rules(&place("us-pa-permit")));
    facts.readings = vec![reading("2026-05-14T08:45", 3800)];
    assert_eq!(judge(&facts, at(NOW)).word(), Word::CantTell, "a late reading");
    decided(&mut facts);
    let verdict = judge(&facts, at("2026-05-14T12:01"));
    assert_eq!(verdict.word(), Word::CanGo);
    assert!(verdict.reason().contains("Tobe stood by") && verdict.reason().contains("Can't tell"), "{}", verdict.reason());
    assert!(verdict.facts().contains("Tobe stood by"), "frozen into whatever goes out");
    // It was decided about the chill, so nothing else is covered.
    facts.milkings[0].cows[0].foremilk = Foremilk::NotLooked;
    assert_eq!(judge(&facts, at("2026-05-14T12:01")).word(), Word::CantTell);
    facts.milkings[0].cows[0].foremilk = Foremilk::Normal;
    // And a reading that shows it too warm is no longer what was decided about.
    facts.readings = vec![reading("2026-05-14T08:45", 5200)];
    assert_eq!(judge(&facts, at("2026-05-14T12:01")).word(), Word::KeepBack);
}

#[test]
fn a_drug_whose_time_nobody_knows_is_not_the_owners_to_free() {
    let mut facts = lot(rules(&place("us-pa-permit")));
    facts.milkings[0].cows[0].doses = vec![Dose {
        at: at("2026-05-12T06:00"),
        product: "udder tube".to_owned(),
        milk_hours: None,
        milk_milkings: None,
        as_labelled: true,
        vet_figure: false,
        from_calving: false,
        dry_days: None,
    }];
    let verdict = judge(&facts, at(NOW));
    assert_eq!(verdict.word(), Word::CantTell);
    assert!(verdict.to_decide().is_empty());
    facts.decisions =
        vec![Decision { at: at(NOW), by: "Mina".to_owned(), over: vec![verdict.findings[0].topic()], reason: "It will do".to_owned() }];
    assert_eq!(judge(&facts, at(NOW)).word(), Word::CantTell);
}

#[test]
fn every_built_in_set_judges_a_lot_with_everything_in_it() {
    for set in places().unwrap() {
        let mut facts = lot(rules(&set));
        facts.lab.own = vec![own("plate count", "<1", "per mL"), own("coliforms", ">250", ""), own("somatic cells", "620,000", "per mL")];
        facts.lab.farm = Arc::new(facts.lab.own.clone());
        for (way, _) in Channel::WORDS {
            let verdict = judge_for(&facts, way, at(NOW));
            assert!(!verdict.reason().is_empty() && !verdict.next().is_empty(), "{}", set.id);
            assert!(verdict.rules.contains(&set.citation), "{}", set.id);
            let named = set.channels.name(way);
            assert!(named || verdict.word() >= Word::CantTell, "{} does not name {way}", set.id);
        }
    }
}

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
        facts.milkings[0].cows[0].foremilk = look;
        facts.milkings[0].cows[0].doses = vec![Dose {
            at: at("2026-05-10T06:00"), product: "tube".to_owned(), milk_hours: hours, milk_milkings: None,
            as_labelled: true, vet_figure: false, from_calving: false, dry_days: None,
        }];
        facts.lab.own = count.map(|count| own("coliforms", &count.to_string(), "per mL")).into_iter().collect();
        facts.lab.waiting = if out { vec![Waiting { drawn: at("2026-05-14T06:20"), asked: vec![] }] } else { vec![] };
        let whole = judge(&facts, at(NOW)).word();
        let without: [Without; 8] = [
            ("readings", |facts| facts.readings.clear()),
            ("end", |facts| facts.milkings[0].times.end = None),
            ("foremilk", |facts| facts.milkings[0].cows[0].foremilk = Foremilk::NotLooked),
            ("hours", |facts| facts.milkings[0].cows[0].doses[0].milk_hours = None),
            ("bottle", |facts| facts.lab.waiting.clear()),
            ("milking", |facts| facts.milkings.clear()),
            ("cows", |facts| facts.milkings[0].cows.clear()),
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

/// The finding that is looked at is found by what it is about, never by its place in the list.
#[test]
fn each_topic_is_said_once_for_each_thing_it_is_about() {
    let mut facts = lot(rules(&place("us-ct-retail-raw")));
    facts.lab.own = vec![own("plate count", "1000", "per mL"), own("coliforms", "1", "per mL")];
    let verdict = judge(&facts, at(NOW));
    let mut topics: Vec<String> = verdict.findings.iter().map(Finding::topic).collect();
    let all = topics.len();
    topics.sort();
    topics.dedup();
    assert_eq!(topics.len(), all);
}
