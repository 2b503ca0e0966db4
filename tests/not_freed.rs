//! Ways in which milk must not be freed, from plain facts: each of these once said “can go”, and is held here for ever.

#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use super::one_lot::{NOW, at, lot, own, place, reading, result, rules, under};
use std::sync::Arc;
use tallypail::trade::{
    deciding::Open,
    lab::{LabResult, Of},
    rules::{Channel, Channels},
    steps::Steps,
    verdict::{Decision, Facts, Rules, Word, judge, judge_for},
};

fn decide(facts: &mut Facts, when: &str) {
    let chosen = Open::of(facts, at(when)).choose(std::iter::empty()).unwrap();
    let decision =
        Decision { at: at(when), by: "Mina".to_owned(), over: chosen.over, facts: chosen.facts, reason: "In slush all morning".to_owned() };
    facts.decisions.push(decision);
}

/// A decision about the chill is about the readings there were. Sources: 7 Pa. Code 59a.408 and RCW 15.36 (40 °F in 2 h).
#[test]
fn a_later_warm_reading_was_never_decided_about() {
    for (place_id, later) in [("us-pa-permit", 7000), ("us-wa-raw", 4700)] {
        let mut facts = lot(rules(&place(place_id)));
        facts.readings = vec![reading("2026-05-14T08:45", 3800)];
        decide(&mut facts, NOW);
        assert_eq!(judge(&facts, at("2026-05-14T13:00")).word(), Word::CanGo, "{place_id}");
        facts.readings.push(reading("2026-05-14T14:00", 3700));
        assert_eq!(judge(&facts, at("2026-05-14T15:00")).word(), Word::CanGo, "a further cold reading takes nothing from it");
        facts.readings.push(reading("2026-05-14T18:00", later));
        assert!(judge(&facts, at("2026-05-14T19:00")).word() >= Word::CantTell, "{place_id}");
    }
}

/// A decision about what stands against every way frees no way that stands under a stricter rule of its own.
#[test]
fn a_way_that_was_not_ticked_is_not_freed() {
    let mut facts = lot(under("plate count at most 100000 per mL, held until clear [chosen]"));
    facts.rules.base.channels = Channels::parse("farm gate [read]").unwrap();
    let shop = Channels::parse("shop [read]").unwrap();
    facts.rules.beside = vec![Rules { channels: shop, ..under("plate count at most 10000 per mL, held until clear [chosen]") }];
    decide(&mut facts, NOW);
    assert_eq!(judge_for(&facts, Channel::FarmGate, at(NOW)).word(), Word::CanGo);
    assert_eq!(judge_for(&facts, Channel::Shop, at(NOW)).word(), Word::CantTell);
    // The same with the chill, where the shop's rule has milk held cold besides.
    let mut facts = lot(Rules { channels: facts.rules.base.channels, ..rules(&place("us-pa-permit")) });
    let held = Steps::parse("cool 40 °F within 120 min of milking end [read]; hold 40 °F until handed out [read]").unwrap();
    facts.rules.beside = vec![Rules { steps: held, channels: Channels::parse("shop [read]").unwrap(), ..facts.rules.base.clone() }];
    facts.readings = vec![reading("2026-05-14T08:45", 3800)];
    decide(&mut facts, NOW);
    assert_eq!(judge_for(&facts, Channel::FarmGate, at(NOW)).word(), Word::CanGo);
    assert_eq!(judge_for(&facts, Channel::Shop, at(NOW)).word(), Word::CantTell);
}

/// Source: Cal. Food & Ag. Code 35783 (50 °F in 4 h of the first milking's start) and 35782 (45 °F in 2 h, and kept): the slower
/// step gives no leave to warm milk that had to be cold already.
#[test]
fn a_slower_step_gives_no_leave_to_warm_again() {
    let mut facts = lot(rules(&place("us-ca-market-raw")));
    facts.readings = vec![reading("2026-05-14T07:50", 4400), reading("2026-05-14T09:35", 4400)];
    assert_eq!(judge(&facts, at(NOW)).word(), Word::CanGo);
    facts.readings.push(reading("2026-05-14T09:00", 6000));
    assert_eq!(judge(&facts, at(NOW)).word(), Word::KeepBack);
}

/// When milking ended is written down and not decided; and a reading of which nobody wrote the thermometer is no better than the
/// worst of them.
#[test]
fn a_blank_is_not_worth_more_than_the_fact() {
    let mut facts = lot(rules(&place("us-wa-raw")));
    Arc::make_mut(&mut facts.milkings[0]).times.end = None;
    facts.readings = vec![reading("2026-05-14T08:45", 7000)];
    assert!(judge(&facts, at(NOW)).word() == Word::CantTell && Open::of(&facts, at(NOW)).is_nothing());
    let check = |name: &str, hundredths: i64| tallypail::trade::thermometers::IceCheck {
        thermometer: name.to_owned(),
        at: at("2026-05-01T08:00"),
        reading: reading(NOW, hundredths).temperature,
    };
    let checks = [check("Probe", 4000), check("Dial", 3300)];
    let of = |name: &str| tallypail::trade::thermometers::guard(&checks, name, at(NOW)).by;
    assert!(of("Probe") == of("") && of("Dial") < of(""), "a blank is the worst of them");
}

/// Source: common practice: milk starts to freeze at about 31 °F.
#[test]
fn colder_than_milk_can_be_proves_nothing() {
    for hundredths in [2500, 400, -4000] {
        let mut facts = lot(rules(&place("us-pa-permit")));
        facts.readings = vec![reading("2026-05-14T07:35", hundredths)];
        assert_eq!(judge(&facts, at(NOW)).word(), Word::CantTell, "{hundredths}");
    }
}

/// Source: 7 Pa. Code 59a.409: three of the last five stop the milk. A result that says nothing is not one within the limit.
#[test]
fn a_result_that_says_nothing_does_not_hold_the_milk_up() {
    let limit = "plate count at most 20000 per mL, 2 of 4 notice, 3 of 5 action [read]";
    let with = |unit: &str| {
        let one = |(nth, figure): (usize, &&str)| {
            let drawn = format!("2026-0{}-10T06:20", nth + 1);
            LabResult {
                number: 10,
                ..result(Of::Lot(format!("L{nth}")), &drawn, "plate count", figure, if nth == 4 { unit } else { "per mL" })
            }
        };
        let mut facts = lot(under(limit));
        facts.lab.farm = Arc::new(["5000", "90000", "5000", "90000", "90000"].iter().enumerate().map(one).collect());
        judge(&facts, at(NOW)).word()
    };
    assert_eq!((with("per mL"), with("")), (Word::KeepBack, Word::CantTell));
}

/// A wider search answers for one germ only where it keeps that germ's limit.
#[test]
fn a_wider_search_that_shows_nothing_answers_nothing() {
    let held = |limit: &str, found: LabResult| {
        let mut facts = lot(under(limit));
        facts.lab.own = vec![found];
        judge(&facts, at(NOW)).word()
    };
    let o157 = "E. coli O157:H7 none found, held until clear [chosen]";
    assert_eq!(held(o157, own("STEC", "not detected", "in 25 mL")), Word::CanGo);
    assert_eq!(held(o157, own("STEC", "<500", "per mL")), Word::CantTell);
    let listeria = "Listeria monocytogenes none found in 25 mL, held until clear [chosen]";
    assert_eq!(held(listeria, own("Listeria spp.", "not detected", "in 25 mL")), Word::CanGo);
    assert_eq!(held(listeria, own("Listeria spp.", "not detected", "")), Word::CantTell, "nobody says in how much the lab looked");
    // A bottle drawn before there was any milk of this lot is of something else.
    let early = LabResult { drawn: at("2026-05-10T06:00"), ..own("STEC", "not detected", "in 25 mL") };
    assert_eq!(held(o157, early), Word::CantTell);
}

/// A kind of a germ under a name of its own is that germ when it is found, and answers for no other kind when it is not.
#[test]
fn one_kind_of_a_germ_answers_for_no_other() {
    let held = |limit: &str, name: &str| {
        let mut facts = lot(under(&format!("{limit} none found in 25 mL, held until clear [chosen]")));
        facts.lab.own = vec![own(name, "not detected", "in 25 mL")];
        judge(&facts, at(NOW)).word()
    };
    for (limit, name) in [
        ("Shiga toxin-producing E. coli", "E. coli O26"),
        ("Shiga toxin-producing E. coli", "E. coli O157 H7"),
        ("Listeria monocytogenes", "Listeria innocua"),
        ("Salmonella", "Salmonella Dublin"),
        ("Shiga toxin-producing E. coli", "shiga toxin negative control"),
        ("drug residue", "beta-lactam"),
    ] {
        assert_eq!(held(limit, name), Word::CantTell, "{name} for {limit}");
    }
    assert_eq!(held("E. coli O157:H7", "E. coli O157-H7"), Word::CanGo, "however it is written");
    for name in ["E. coli O26", "Salmonella Dublin", "Listeria innocua"] {
        let mut facts = lot(under(""));
        facts.lab.own = vec![own(name, "positive", "in 25 mL")];
        assert_eq!(judge(&facts, at(NOW)).word(), Word::KeepBack, "{name}");
    }
    let mut facts = lot(under("coliforms at most 10 per mL [read]"));
    facts.lab.own = vec![own("E. coli other", "3", "per mL")];
    assert_eq!(judge(&facts, at(NOW)).word(), Word::CantTell, "no germ of the name, and nobody knows it");
    // A cow's finding is cleared by the same search and no narrower one.
    let hers = |drawn: &str, name: &str, figure: &str| result(Of::Cow("Damson".to_owned()), drawn, name, figure, "in 25 mL");
    let later = |name: &str| {
        let mut facts = lot(under(""));
        facts.lab.cows = Arc::new(vec![hers("2026-05-10T06:00", "O157:H7", "positive"), hers("2026-05-12T06:00", name, "not detected")]);
        judge(&facts, at(NOW)).word()
    };
    assert_eq!((later("E. coli O26"), later("STEC")), (Word::KeepBack, Word::CanGo));
}

/// A decision is about the milkings and the calving there were.
#[test]
fn another_milking_or_calving_is_another_question() {
    let mut facts = lot(rules(&place("us-pa-permit")));
    facts.readings.clear();
    decide(&mut facts, NOW);
    assert_eq!(judge(&facts, at(NOW)).word(), Word::CanGo);
    let mut moved = facts.clone();
    Arc::make_mut(&mut moved.milkings[0]).times.start = at("2026-05-14T02:40");
    assert_eq!(judge(&moved, at(NOW)).word(), Word::CantTell);
    let mut facts = lot(rules(&place("us-pa-permit")));
    facts.rules.base.fresh = tallypail::trade::herd::ColostrumRule::default();
    let calved = |when: &str| vec![(tallypail::trade::herd::Turn::Calved, at(when))];
    Arc::make_mut(&mut facts.milkings[0]).cows[0].turns = calved("2026-04-20T02:00");
    decide(&mut facts, NOW);
    assert_eq!(judge(&facts, at(NOW)).word(), Word::CanGo);
    Arc::make_mut(&mut facts.milkings[0]).cows[0].turns = calved("2026-05-14T02:00");
    assert_eq!(judge(&facts, at(NOW)).word(), Word::CantTell);
}

/// Where no mean can be told yet, the lot's own high figure is not passed over. Source: Reg. (EC) 853/2004, read second-hand.
#[test]
fn a_mean_nobody_can_tell_hides_no_high_figure() {
    let mut facts = lot(under("plate count at most 100000 per mL, geometric mean of 2 months, 2 samples a month [second-hand]"));
    decide(&mut facts, NOW);
    assert_eq!(judge(&facts, at(NOW)).word(), Word::CanGo);
    facts.lab.own = vec![own("plate count", "9,000,000", "per mL")];
    facts.lab.farm = Arc::new(facts.lab.own.clone());
    assert!(judge(&facts, at(NOW)).word() >= Word::Wait);
}

/// Sources: Utah's rule before 2026 (50 °F in an hour and 41 °F in two of leaving the cow); Cal. Food & Ag. Code 35782-35783.
#[test]
fn warm_between_two_deadlines_is_warm() {
    let with = |id: &str, readings: &[(&str, i64)]| {
        let mut facts = lot(rules(&place(id)));
        facts.readings = readings.iter().map(|(when, heat)| reading(when, *heat)).collect();
        judge(&facts, at(NOW)).word()
    };
    let utah = [("2026-05-14T06:10", 4500), ("2026-05-14T06:42", 9000), ("2026-05-14T07:38", 3900)];
    assert_ne!(with("us-ut-pre2026", &utah), Word::CanGo);
    assert_ne!(with("us-ut-pre2026", &utah[1..]), Word::CanGo, "nor without the first");
    assert_eq!(with("us-ut-pre2026", &[utah[0], utah[2]]), Word::CanGo);
}
