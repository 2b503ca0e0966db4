//! What the owner may decide, and that a decision covers what it was about and nothing else.

#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use crate::one_lot::{NOW, at, lot, own, place, reading, rules, under};
use std::sync::Arc;
use tallypail::trade::{
    deciding::Open,
    gaps::LotSeen,
    herd::{Dose, Foremilk},
    lab::LabResult,
    limits::Limits,
    rules::{Channel, Channels},
    verdict::{Decision, Facts, Rules, Word, judge, judge_for},
};

fn decided(facts: &mut Facts) {
    decided_on(facts, &[]);
}

fn decided_on(facts: &mut Facts, lines: &[&str]) {
    let chosen = Open::of(facts, at(NOW)).choose(lines.iter().copied()).unwrap();
    facts.decisions.push(Decision {
        at: at(NOW),
        by: "Mina".to_owned(),
        over: chosen.over,
        facts: chosen.facts,
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
    Arc::make_mut(&mut facts.milkings[0]).cows[0].foremilk = Foremilk::NotLooked;
    assert_eq!(judge(&facts, at("2026-05-14T12:01")).word(), Word::CantTell);
    Arc::make_mut(&mut facts.milkings[0]).cows[0].foremilk = Foremilk::Normal;
    // And a reading that shows it too warm is no longer what was decided about.
    facts.readings = vec![reading("2026-05-14T08:45", 5200)];
    assert_eq!(judge(&facts, at("2026-05-14T12:01")).word(), Word::KeepBack);
}

/// What the owner decided frees the lot and mends no record: the gap stays, and says so.
#[test]
fn a_gap_says_that_the_lot_was_let_go_by_a_decision() {
    let mut facts = lot(rules(&place("us-pa-permit")));
    facts.readings = vec![reading("2026-05-14T08:45", 3800)];
    let says = |facts: &Facts| {
        let gaps = LotSeen { facts, movements: &[], counts: &[] }.gaps(at("2026-05-14T12:01"));
        assert_eq!(gaps.len(), 1, "{gaps:?}");
        gaps[0].says.clone()
    };
    assert!(says(&facts).ends_with("None of it was handed out."), "{}", says(&facts));
    decided(&mut facts);
    assert!(says(&facts).ends_with("None of it was handed out. Mina decided on 14 May 2026, 12:00 that it may go."), "{}", says(&facts));
}

#[test]
fn a_drug_whose_time_nobody_knows_is_not_the_owners_to_free() {
    let mut facts = lot(rules(&place("us-pa-permit")));
    Arc::make_mut(&mut facts.milkings[0]).cows[0].doses = vec![Dose {
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
    facts.decisions = vec![Decision {
        at: at(NOW),
        by: "Mina".to_owned(),
        over: vec![verdict.findings[0].topic()],
        facts: verdict.facts(),
        reason: "It will do".to_owned(),
    }];
    assert_eq!(judge(&facts, at(NOW)).word(), Word::CantTell);
}

/// A second warming, a second bottle with the same figure, or another limit is another question.
#[test]
fn the_same_topic_again_is_not_what_was_decided() {
    let mut facts = lot(Rules {
        steps: tallypail::trade::steps::Steps::parse("cool 40 °F within 120 min of milking end [read]").unwrap(),
        ..under("coliforms at most 10 per mL, 2 of 4 notice, 3 of 5 action [read]")
    });
    facts.readings.push(reading("2026-05-14T10:00", 4600));
    assert_eq!(judge(&facts, at(NOW)).word(), Word::CantTell, "it warmed again, and no holding limit is known");
    decided(&mut facts);
    assert_eq!(judge(&facts, at(NOW)).word(), Word::CanGo);
    facts.readings.push(reading("2026-05-14T11:30", 5200));
    assert_eq!(judge(&facts, at("2026-05-14T12:10")).word(), Word::CantTell, "a second warming was never decided about");
    facts.readings.truncate(1);
    facts.lab.own = vec![own("coliforms", "12", "per mL")];
    assert_eq!(judge(&facts, at(NOW)).word(), Word::Wait);
    decided(&mut facts);
    assert_eq!(judge(&facts, at(NOW)).word(), Word::CanGo);
    facts.lab.own.push(LabResult { number: 2, sample: 2, ..own("coliforms", "12", "per mL") });
    assert_eq!(judge(&facts, at(NOW)).word(), Word::Wait, "a second bottle says the same, and nobody decided about it");
    facts.lab.own.pop();
    facts.rules.base.limits = Limits::parse("coliforms at most 11 per mL, 2 of 4 notice, 3 of 5 action [read]").unwrap();
    assert_eq!(judge(&facts, at(NOW)).word(), Word::Wait, "nor about another limit");
}

/// What stands only against one way is decided for that way, and only when it was named.
#[test]
fn one_way_is_decided_for_itself() {
    let mut facts = lot(rules(&place("us-pa-permit")));
    facts.rules.used = vec![Channel::FarmGate, Channel::CollectionPoint];
    assert_eq!(judge(&facts, at(NOW)).word(), Word::CanGo);
    assert_eq!(judge_for(&facts, Channel::CollectionPoint, at(NOW)).word(), Word::CantTell, "the list of ways is from memory");
    let open = Open::of(&facts, at(NOW));
    assert!(open.always.is_empty() && open.choose(std::iter::empty()).is_none(), "nothing stands against every way");
    let topics: Vec<String> = open.only.iter().map(|(finding, _)| finding.topic()).collect();
    assert_eq!(topics, ["Way: collection point"]);
    let line = open.only[0].0.line(facts.zone);
    decided_on(&mut facts, &[&line]);
    assert_eq!(judge_for(&facts, Channel::CollectionPoint, at(NOW)).word(), Word::CanGo);
    assert_eq!(
        judge_for(&facts, Channel::Shop, at(NOW)).word(),
        judge_for(&lot(rules(&place("us-pa-permit"))), Channel::Shop, at(NOW)).word()
    );
    // A way the rule leaves out for certain is not there to be decided about.
    facts.decisions.clear();
    facts.rules.base.channels = Channels::parse("farm gate [read]").unwrap();
    assert!(Open::of(&facts, at(NOW)).is_nothing());
}

/// Whose milk it is, is written down and not decided: otherwise a treated cow's milk goes once her milking is struck through.
#[test]
fn milk_from_nowhere_is_not_the_owners_to_free() {
    let mut facts = lot(rules(&place("us-pa-permit")));
    Arc::make_mut(&mut facts.milkings[0]).cows.clear();
    assert!(judge(&facts, at(NOW)).word() == Word::CantTell && Open::of(&facts, at(NOW)).is_nothing());
    facts.milkings.clear();
    assert!(judge(&facts, at(NOW)).word() == Word::CantTell && Open::of(&facts, at(NOW)).is_nothing());
}

/// Two ways under limits of their own on one thing are two questions: answering one frees only that way.
#[test]
fn two_ways_with_one_topic_are_two_questions() {
    let beside = |ways: &str, most: u32| Rules {
        channels: Channels::parse(&format!("{ways} [read]")).unwrap(),
        ..under(&format!("plate count at most {most} per mL, held until clear [chosen]"))
    };
    let mut facts = lot(rules(&place("us-pa-permit")));
    facts.rules.beside = vec![beside("shop", 10_000), beside("delivery", 5_000)];
    let open = Open::of(&facts, at(NOW));
    let shop = open.only.iter().find(|(_, ways)| *ways == [Channel::Shop]).unwrap().0.line(facts.zone);
    decided_on(&mut facts, &[&shop]);
    assert_eq!(judge_for(&facts, Channel::Shop, at(NOW)).word(), Word::CanGo);
    assert_eq!(judge_for(&facts, Channel::Delivery, at(NOW)).word(), Word::CantTell);
}
