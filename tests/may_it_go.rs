//! May this lot go out? The whole verdict, in rule-set terms: the worst part, what the lab found, the way it is to go
//! and what the owner decided.

#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use crate::one_lot::{NOW, at, lot, own, place, reading, result, rules, under, word};
use std::sync::Arc;
use tallypail::store::verdict;
use tallypail::trade::{
    analytes::Analyte,
    chill::Reading,
    herd::{Foremilk, Turn},
    lab::{LabResult, Of},
    limits::Limits,
    measure::Temperature,
    rules::{Channel, places},
    steps::Steps,
    tested::Bottle,
    verdict::{Decision, Facts, Finding, Hold, Judging, Rules, Word, judge, judge_for},
    when::{Zone, parse_day},
};

/// The word of a lot with nothing against it but this.
fn word_with(change: impl FnOnce(&mut Facts)) -> Word {
    let mut changed = lot(rules(&place("us-pa-permit")));
    change(&mut changed);
    judge(&changed, at(NOW)).word()
}

/// Source: the worst part wins, by this program's own rule; the chill step is 7 Pa. Code 59a.408's.
#[test]
fn the_worst_part_wins_and_missing_is_never_can_go() {
    assert_eq!(word_with(|_| ()), Word::CanGo);
    assert_eq!(word_with(|facts| facts.readings.clear()), Word::CantTell);
    assert_eq!(word_with(|facts| facts.readings[0].temperature = Temperature::fahrenheit(46)), Word::CantTell);
    assert_eq!(word_with(|facts| facts.rules.base.steps = Steps::default()), Word::CantTell);
    assert_eq!(word_with(|facts| facts.milkings.clear()), Word::CantTell);
    assert_eq!(word_with(|facts| Arc::make_mut(&mut facts.milkings[0]).cows.clear()), Word::CantTell);
    assert_eq!(word_with(|facts| Arc::make_mut(&mut facts.milkings[0]).cows[0].foremilk = Foremilk::NotLooked), Word::CantTell);
    assert_eq!(word_with(|facts| Arc::make_mut(&mut facts.milkings[0]).cows[0].foremilk = Foremilk::Flakes), Word::KeepBack);
    assert_eq!(word_with(|facts| Arc::make_mut(&mut facts.milkings[0]).well = Some(false)), Word::KeepBack);
    let hold = |facts: &Facts| Hold { what: "This lot".to_owned(), reason: String::new(), at: facts.filled, lifted: None };
    assert_eq!(word_with(|facts| facts.holds.push(hold(facts))), Word::KeepBack);
    assert_eq!(
        word_with(|facts| Arc::make_mut(&mut facts.milkings[0]).cows[0].turns.push((Turn::Calved, at("2026-05-12T02:00")))),
        Word::KeepBack
    );
}

/// Source: the farm's own rule of the lot under test, ten days from the oldest milking; the days, counted by hand.
#[test]
fn the_last_day_counts_from_the_oldest_milking() {
    let facts = lot(rules(&place("us-pa-permit")));
    assert_eq!(facts.best_by(), Some(parse_day("2026-05-24").unwrap()));
    assert_eq!(judge(&facts, at("2026-05-24T23:00")).word(), Word::CanGo);
    assert_eq!(judge(&facts, at("2026-05-25T00:30")).word(), Word::KeepBack);
}

#[test]
fn a_made_lot_takes_its_parents_worst() {
    let mut parent = lot(rules(&place("us-pa-permit")));
    parent.readings.clear();
    assert_eq!(word_with(|facts| facts.parents.push(parent)), Word::CantTell);
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
            facts: judge(&facts, at(NOW)).facts(),
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
}

/// Source: this program's own caution. A figure under a name nobody knows may be a germ with a slip in it; what milk is made of
/// is no question of limits; and a count says nothing for the lot where the place's limits are not known.
#[test]
fn a_figure_without_a_limit_is_not_taken_for_a_good_one() {
    let limit = "coliforms at most 10 per mL [read]";
    for (name, figure, unit) in [("Salmonela", "12", "per mL"), ("Salmonela", ">1", ""), ("aflatoxin M1", "0.9", "ppb")] {
        assert_eq!(word(limit, &[own(name, figure, unit)]), Word::CantTell, "{name} {figure}");
    }
    for (name, figure, unit) in [("urea", "24", ""), ("butterfat", "4.8", "%"), ("ash", "0.7", "%"), ("Salmonela", "not detected", "")] {
        assert_eq!(word(limit, &[own(name, figure, unit)]), Word::CanGo, "{name} {figure}");
    }
    assert_eq!(word(limit, &[own("plate count", "900,000", "per mL")]), Word::CanGo, "these rules name coliforms and no plate count");
    for (name, figure, unit) in [("E. coli", "positive", ""), ("S. aureus", "40", "per mL"), ("freezing point", "-0.2", "°C")] {
        assert_eq!(word(limit, &[own(name, figure, unit)]), Word::CantTell, "{name} {figure}");
    }
    assert_eq!(word(limit, &[own("S. aureus", "<1", "per mL")]), Word::CanGo);
    // A germ under any name of its kind is that germ; “<500” of one is no clear bottle.
    for name in ["Salmonella enterica", "Campylobacter coli", "Coxiella burnetii", "E. coli O26"] {
        assert_eq!(word(limit, &[own(name, "4", "per g")]), Word::KeepBack, "{name}");
        assert_eq!(word(limit, &[own(name, "<500", "per g")]), Word::CantTell, "{name}");
    }
    // What nobody knows is named and not decided away.
    let mut facts = lot(under(limit));
    facts.lab.own = vec![own("Salmonela", "12", "per mL")];
    assert!(judge(&facts, at(NOW)).to_decide().is_empty());
    assert_eq!(word("", &[own("plate count", "18,000", "per mL")]), Word::CantTell, "no limit is known at all");
}

/// Source: Penn. 7 Pa. Code 59a and others name a panel of germs; here the panel is the four that raw milk is commonly looked
/// through for (common practice) unless the rule names its own.
#[test]
fn one_germ_does_not_answer_for_the_panel() {
    let held = "pathogens none found in 25 mL, held until clear [chosen]";
    let clear = |name: &str| own(name, "not detected", "in 25 mL");
    let four = ["Salmonella", "Listeria spp.", "Campylobacter", "STEC"];
    for many in 0..4 {
        let some: Vec<LabResult> = four.iter().take(many).map(|name| clear(name)).collect();
        assert_eq!(word(held, &some), Word::CantTell, "{many} of four");
    }
    // Listeria of any kind not found means that monocytogenes was not found.
    assert_eq!(word(held, &four.map(clear)), Word::CanGo);
    assert_eq!(word(held, &[clear("pathogen panel")]), Word::CanGo, "a lab that says so tested its own panel");
    let own_panel = "Salmonella none found [read]; pathogens none found in 25 mL, held until clear [chosen]";
    assert_eq!(word(own_panel, &[clear("Salmonella")]), Word::CanGo);
    assert_eq!(word(own_panel, &[clear("Campylobacter")]), Word::CantTell);
    let o157 = "Shiga toxin-producing E. coli none found, held until clear [chosen]";
    assert_eq!(word(o157, &[clear("O157:H7")]), Word::CantTell, "one of them is not all of them");
}

/// A mean looks at the farm; a lot that is held until its own test is clear needs its own figure within the limit too.
#[test]
fn a_held_lot_is_held_against_the_limit_by_itself() {
    let held = "plate count at most 20000 per mL, geometric mean of 1 month, 1 sample a month, held until clear [chosen]";
    let farm = |own_figure: &str| {
        let mut facts = lot(under(held));
        facts.lab.own = vec![own("plate count", own_figure, "per mL")];
        let low = result(Of::Lot("6120A".to_owned()), "2026-05-02T06:00", "plate count", "100", "per mL");
        facts.lab.farm = Arc::new(vec![low, facts.lab.own[0].clone()]);
        judge(&facts, at(NOW)).word()
    };
    assert_eq!(farm("9,000"), Word::CanGo);
    assert_eq!(farm("60,000"), Word::KeepBack, "the mean is within the limit, and this lot is not");
}

/// Source: O.C.G.A. 26-2-457(f): the results of one day count as one, their average.
#[test]
fn results_of_one_day_count_as_one_where_the_law_says_so() {
    let with = |averaged: &str| {
        let mut facts = lot(under(&format!("coliforms at most 10 per mL, 2 of 4 notice, 3 of 5 action{averaged} [read]")));
        let evening = LabResult { number: 2, ..result(Of::Lot("6134P".to_owned()), "2026-05-14T08:00", "coliforms", "4", "per mL") };
        facts.lab.own = vec![own("coliforms", "14", "per mL")];
        facts.lab.farm = Arc::new(vec![facts.lab.own[0].clone(), evening]);
        judge(&facts, at(NOW))
    };
    assert_eq!(with("").word(), Word::Wait);
    assert_eq!(with(", same day averaged").word(), Word::CanGo);
    assert!(with(", same day averaged").facts().contains("their average keeps it"), "and it is said");
}

/// Source: Iowa Code 195.6 (2023 SF 315): plate and coliform counts of each dairy animal, monthly. The limit here is invented:
/// the Code's own was not seen.
#[test]
fn a_count_of_each_cow_is_held_against_the_limit_where_the_law_tests_each_cow() {
    let hers = |drawn: &str, figure: &str| result(Of::Cow("Damson".to_owned()), drawn, "coliforms", figure, "per mL");
    let with = |each_cow: bool, found: Vec<LabResult>| {
        let mut facts = lot(under("coliforms at most 10 per mL [chosen]"));
        facts.rules.base.each_cow = if each_cow { place("us-ia-raw-dairy").tests.of_each_cow() } else { vec![] };
        facts.lab.cows = Arc::new(found);
        judge(&facts, at(NOW)).word()
    };
    assert_eq!(with(true, vec![hers("2026-05-10T06:00", "250")]), Word::KeepBack);
    assert_eq!(with(false, vec![hers("2026-05-10T06:00", "250")]), Word::CanGo, "elsewhere a cow's count is the farm's own business");
    assert_eq!(with(true, vec![hers("2026-05-10T06:00", "250"), hers("2026-05-13T06:00", "3")]), Word::CanGo, "the newest speaks");
}

/// A pathogen in one lot keeps back every lot with the same milk in it, and no clear bottle of theirs lifts it.
#[test]
fn what_was_found_in_the_same_milk_keeps_it_back() {
    let mut facts = lot(under("Salmonella none found [read]"));
    facts.lab.kin = vec![result(Of::Lot("6134B".to_owned()), "2026-05-14T06:25", "Salmonella", "positive", "in 25 mL")];
    facts.lab.own = vec![own("Salmonella", "not detected", "in 25 mL")];
    let verdict = judge(&facts, at(NOW));
    assert_eq!(verdict.word(), Word::KeepBack);
    assert!(verdict.reason().contains("6134B"), "{}", verdict.reason());
}

/// Source: 7 Pa. Code 59a.408: 40 °F until handed out. Milk poured over from cold jars is cold already, and has to be read.
#[test]
fn what_was_made_is_read_once_and_stays_cold() {
    let mut made = lot(rules(&place("us-pa-permit")));
    made.parents = vec![made.clone()];
    (made.milkings, made.readings, made.filled) = (vec![], vec![], at("2026-05-14T09:00"));
    made.rules.base.steps = Steps::parse("cool 40 °F within 120 min of milking end [read]; hold 40 °F until handed out [read]").unwrap();
    let word = |readings: &[(&str, i64)]| {
        let readings = readings.iter().map(|(when, heat)| reading(when, *heat)).collect();
        judge(&Facts { readings, ..made.clone() }, at(NOW)).word()
    };
    assert_eq!(word(&[]), Word::CantTell, "nobody read it");
    assert_eq!(word(&[("2026-05-14T09:10", 3900)]), Word::CanGo);
    assert_eq!(word(&[("2026-05-14T09:10", 4600)]), Word::KeepBack);
    assert_eq!(word(&[("2026-05-14T09:10", 3900), ("2026-05-14T11:00", 5200)]), Word::KeepBack);
    assert_eq!(word(&[("2026-05-14T08:10", 3900)]), Word::CantTell, "a reading of before it was made is of something else");
    made.rules.base.steps.0.pop();
    let bare = |readings: Vec<Reading>| judge(&Facts { readings, ..made.clone() }, at(NOW)).word();
    assert_eq!(bare(vec![]), Word::CanGo, "no holding limit is known, and what it was made from was cold in time");
    assert_eq!(bare(vec![reading("2026-05-14T11:00", 5200)]), Word::CantTell, "that it warmed is a fact all the same");
}

/// What a lot was made from is judged for the same way, by the rules of its own day.
#[test]
fn what_it_was_made_from_is_judged_for_the_same_way() {
    let mut made = lot(rules(&place("us-pa-permit")));
    let mut parent = made.clone();
    parent.rules.beside = vec![Rules {
        channels: tallypail::trade::rules::Channels::parse("herdshare [read]").unwrap(),
        ..under("coliforms at most 10 per mL [read]")
    }];
    parent.lab.own = vec![own("coliforms", "12", "per mL")];
    parent.rules.base.limits = Limits::default();
    parent.rules.base.limits = Limits::parse("coliforms at most 50 per mL [read]").unwrap();
    made.parents = vec![parent];
    assert_eq!(judge(&made, at(NOW)).word(), Word::CanGo);
    made.rules.base.channels = tallypail::trade::rules::Channels::parse("herdshare, farm gate [read]").unwrap();
    made.parents[0].rules.base.channels = made.rules.base.channels.clone();
    assert_eq!(judge_for(&made, Channel::FarmGate, at(NOW)).word(), Word::CanGo);
    assert_eq!(judge_for(&made, Channel::Herdshare, at(NOW)).word(), Word::KeepBack);
}

/// What is written down and cannot be read is never taken for not being there.
#[test]
fn what_cannot_be_read_is_not_left_out() {
    let mut facts = lot(rules(&place("us-pa-permit")));
    facts.unread = vec!["Lab result 12 (coliforms many) cannot be read.".to_owned()];
    assert_eq!(judge(&facts, at(NOW)).word(), Word::CantTell);
    facts.unread.clear();
    facts.rules.base.unread = vec!["The limits in the rules of Pennsylvania cannot be read.".to_owned()];
    let verdict = judge(&facts, at(NOW));
    assert!(verdict.word() == Word::CantTell && verdict.reason().contains("cannot be read"), "{}", verdict.reason());
    assert!(verdict.to_decide().is_empty());
}

/// Source: Canada, Food and Drug Regulations B.08.002.2(1) (read second-hand): raw milk is not sold, whatever the way.
#[test]
fn where_every_way_is_forbidden_every_way_says_so() {
    let facts = lot(Rules { steps: place("us-pa-permit").steps, ..rules(&place("ca-prohibited")) });
    for (way, _) in Channel::WORDS {
        assert_eq!(judge_for(&facts, way, at(NOW)).word(), Word::KeepBack, "{way}");
    }
}

#[test]
fn a_cow_with_a_pathogen_keeps_back_what_her_milk_is_in_until_she_is_clear() {
    let cow = |drawn: &str, figure: &str| result(Of::Cow("Damson".to_owned()), drawn, "Listeria monocytogenes", figure, "in 25 mL");
    let with = |results: Vec<LabResult>| {
        let mut facts = lot(under(""));
        facts.lab.cows = Arc::new(results);
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
    facts.lab.bottles = vec![Bottle { number: 1, drawn: at("2026-05-14T06:20"), asked: vec![Analyte::parse("coliforms")] }];
    let verdict = judge(&facts, at(NOW));
    assert_eq!(verdict.word(), Word::Wait);
    assert!(verdict.next().contains("Wait for the lab"), "{}", verdict.next());
}

#[test]
fn a_result_counts_from_when_it_was_known() {
    let mut facts = lot(under("coliforms at most 10 per mL [read]"));
    let result =
        LabResult { reported: parse_day("2026-05-17").unwrap(), written: at("2026-05-17T15:00"), ..own("coliforms", "250", "per mL") };
    facts.lab.own = vec![result.clone()];
    assert_eq!(judge(&facts, at("2026-05-17T10:00")).word(), Word::CanGo, "what was known that morning, when a jar went out");
    assert_eq!(judge(&facts, at("2026-05-17T15:00")).word(), Word::KeepBack);
    facts.lab.own = vec![LabResult { written: at("2026-05-19T08:00"), ..result.clone() }];
    assert_eq!(judge(&facts, at("2026-05-18T10:00")).word(), Word::KeepBack, "the lab had told it the day before, whenever it was typed");
    // A day that is still to come is a slip, and a positive must not hide behind it.
    facts.lab.own = vec![LabResult { reported: parse_day("2026-12-17").unwrap(), ..result }];
    assert_eq!(judge(&facts, at("2026-05-17T15:00")).word(), Word::KeepBack);
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
    let own_limit = Limits::parse("coliforms at most 50 per mL [chosen]").unwrap();
    let mut facts = lot(Rules { steps: place("us-pa-permit").steps, limits: own_limit, ..rules(&place("us-tn-herdshare")) });
    facts.rules.beside =
        vec![Rules { limits: Limits::parse("coliforms at most 10 per mL [read]").unwrap(), ..rules(&place("us-ct-retail-raw")) }];
    facts.lab.own = vec![own("coliforms", "12", "per mL")];
    assert_eq!(judge_for(&facts, Channel::Herdshare, at(NOW)).word(), Word::CanGo);
    facts.rules.beside[0].channels = tallypail::trade::rules::Channels::parse("farm gate [read]").unwrap();
    assert_eq!(judge_for(&facts, Channel::FarmGate, at(NOW)).word(), Word::KeepBack);
    assert_eq!(facts.rules.ways(), [Channel::Herdshare, Channel::FarmGate]);
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

/// What lots share is worked out once, and no verdict differs by that: every lot of the sample farm, at the end of each of a hundred
/// days, beside the others and by itself.
#[tokio::test]
async fn lots_judged_together_are_judged_as_each_by_itself() {
    let farm = crate::farm::Farm::sample().await;
    let mut db = farm.ledger.read().await.unwrap();
    let numbers: Vec<i64> = farm.list("lots").await.iter().map(|lot| lot.number).collect();
    let mut differing = 0;
    for day in (0..100).step_by(7) {
        let now = farm.now.plus_hours(-24 * day);
        let facts = verdict::facts(&mut db, &numbers, farm_zone(), now).await.unwrap();
        let mut judging = Judging::at(now);
        for facts in &facts {
            let alone = judge(facts, now);
            assert_eq!(format!("{:?}", judging.lot(facts)), format!("{alone:?}"), "{} at {now:?}", facts.code);
            for way in facts.rules.ways() {
                assert_eq!(format!("{:?}", judging.lot_for(facts, way)), format!("{:?}", judge_for(facts, way, now)), "{}", facts.code);
            }
            differing += usize::from(alone.word() != Word::CanGo);
        }
    }
    assert!(differing > 100, "{differing} verdicts say something else than Can go");
}

fn farm_zone() -> Zone {
    Zone::parse("America/New_York").unwrap()
}
