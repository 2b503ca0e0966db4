//! What a tired person sends, and what must never come of it. Each was once possible.

use crate::farm::Farm;
use tallypail::{
    store::{corrections, journal, records, verdict},
    trade::verdict::{Word, judge},
    web::visitor::Role::{Helper, Owner},
};

/// A milking of Damson into Can 1, cold in time, and the lot filled from it.
async fn filled(farm: &Farm) -> String {
    farm.keep(
        "milkings",
        &[("session", "2026-05-14 AM"), ("started", "2026-05-14T05:40"), ("ended", "2026-05-14T06:05"), ("milker", "Mina")],
    )
    .await;
    farm.keep(
        "lots",
        &[
            ("code", "6134A-S"),
            ("filled", "2026-05-14T06:20"),
            ("vessel", "Can 1"),
            ("gallons", "0"),
            ("half_gallons", "3"),
            ("quarts", "0"),
            ("pints", "0"),
        ],
    )
    .await;
    farm.keep("sources", &[("lot", "6134A-S"), ("milking", "2026-05-14 AM")]).await;
    farm.keep("chill", &[("lot", "6134A-S"), ("at", "2026-05-14T07:30"), ("temperature", "38 °F")]).await;
    "6134A-S".to_owned()
}

async fn word(farm: &Farm, code: &str) -> Word {
    let mut db = farm.ledger.read().await.unwrap();
    let number = records::number_of(&mut db, "lots", code, i64::MAX).await.unwrap().unwrap();
    let facts = verdict::facts(&mut db, &[number], farm.ways().await.zone, farm.now).await.unwrap();
    judge(&facts[0], farm.now).word()
}

#[tokio::test]
async fn a_milking_with_no_cow_written_down_is_no_can_go() {
    let mut farm = Farm::new().await;
    farm.clock("2026-05-14T12:00");
    let code = filled(&farm).await;
    assert_eq!(word(&farm, &code).await, Word::CantTell);
    farm.keep(
        "pails",
        &[
            ("milking", "2026-05-14 AM"),
            ("cow", "Damson"),
            ("read", "14 lb"),
            ("milk", "14 lb"),
            ("went", "can"),
            ("vessel", "Can 1"),
            ("foremilk", "ok"),
        ],
    )
    .await;
    assert_eq!(word(&farm, &code).await, Word::CanGo);
}

#[tokio::test]
async fn lots_made_from_each_other_in_a_ring_are_refused_and_never_walked_for_ever() {
    let mut farm = Farm::new().await;
    farm.clock("2026-05-14T12:00");
    let code = filled(&farm).await;
    let made = [
        ("code", "6134B-Q"),
        ("filled", "2026-05-14T08:00"),
        ("gallons", "0"),
        ("half_gallons", "1"),
        ("quarts", "0"),
        ("pints", "0"),
        ("made", "cream"),
    ];
    farm.keep("lots", &made).await;
    let entry = farm.visit(Helper, "/records/sources/new").await.entry();
    let ring = [("entry", entry.as_str()), ("lot", code.as_str()), ("parent", "6134B-Q")];
    farm.submit(Helper, "/records/sources", &ring).await.came_with(422).says("filled before it");
    // However such a ring came into the ledger, judging it must end.
    farm.keep("sources", &[("lot", "6134B-Q"), ("parent", &code)]).await;
    farm.keep("sources", &[("lot", &code), ("parent", "6134B-Q")]).await;
    assert_eq!(word(&farm, "6134B-Q").await, Word::CantTell);
}

#[tokio::test]
async fn a_name_that_is_taken_gets_a_sentence_and_keeps_what_was_typed() {
    let farm = Farm::new().await;
    let form = farm.visit(Owner, "/records/cows/new").await;
    let typed = [
        ("entry", form.entry()),
        ("name", "Damson".to_owned()),
        ("quarters", "4".to_owned()),
        ("since", "2026-01-01".to_owned()),
        ("note", "the brown one".to_owned()),
    ];
    let typed: Vec<(&str, &str)> = typed.iter().map(|(name, value)| (*name, value.as_str())).collect();
    farm.submit(Owner, "/records/cows", &typed).await.came_with(422).says("There is a cow like this already").says("the brown one");
}

#[tokio::test]
async fn kinds_with_a_page_of_their_own_cannot_be_slipped_in_past_it() {
    let farm = Farm::new().await;
    for (name, own) in [("pickups", "/pickup"), ("lots", "/fills/new"), ("milkings", "/milkings/new"), ("holds", "/stop")] {
        let before = farm.list(name).await.len();
        assert_eq!(farm.visit(Owner, &format!("/records/{name}/new")).await.location, own);
        farm.submit(Owner, &format!("/records/{name}"), &[("scope", "lot"), ("at", "2026-05-14T06:00")]).await.came_with(404).says(own);
        assert_eq!(farm.list(name).await.len(), before);
    }
    let entry = farm.visit(Helper, "/records/events/new").await.entry();
    let joined = [("entry", entry.as_str()), ("cow", "Damson"), ("at", "2026-01-05T06:00"), ("sort", "joined the can")];
    farm.submit(Helper, "/records/events", &joined).await.came_with(422).says("on her own page");
}

#[tokio::test]
async fn a_correction_keeps_when_it_was_first_written_and_breaks_no_law() {
    let mut farm = Farm::new().await;
    farm.clock("2026-05-14T07:35");
    filled(&farm).await;
    farm.keep(
        "asides",
        &[
            ("at", "2026-05-14T07:00"),
            ("lot", "6134A-S"),
            ("sort", "household"),
            ("gallons", "0"),
            ("half_gallons", "2"),
            ("quarts", "0"),
            ("pints", "0"),
        ],
    )
    .await;
    let written = farm.list("lots").await[0].written;
    farm.clock("2026-05-16T21:00");
    let lot = [
        ("version", "1"),
        ("code", "6134A-S"),
        ("filled", "2026-05-14T06:20"),
        ("vessel", "Can 1"),
        ("gallons", "0"),
        ("quarts", "0"),
        ("pints", "0"),
        ("why", "counted twice"),
    ];
    let one: Vec<(&str, &str)> = lot.iter().copied().chain([("half_gallons", "2")]).collect();
    farm.submit(Owner, "/records/lots/1", &one).await.came_with(303);
    let now = farm.list("lots").await.remove(0);
    assert_eq!((now.version, now.written), (2, written), "the first writing stands; the journal says who corrected it");
    let fewer: Vec<(&str, &str)> = one
        .iter()
        .copied()
        .map(|(name, value)| match name {
            "version" => (name, "2"),
            "half_gallons" => (name, "1"),
            _ => (name, value),
        })
        .collect();
    farm.submit(Owner, "/records/lots/1", &fewer).await.came_with(422).says("1 half-gallon too many");
    let again: Vec<(&str, &str)> =
        one.iter().copied().map(|(name, value)| if name == "version" { (name, "1") } else { (name, value) }).collect();
    farm.submit(Owner, "/records/lots/1", &again).await.came_with(422).says("in the meantime");
}

#[tokio::test]
async fn where_a_stranger_wanted_to_go_is_not_lost_at_the_sign_in() {
    let farm = Farm::new().await;
    let page = farm.visit(tallypail::web::visitor::Role::Stranger, "/trace?person=M05&day=2026-08-18").await;
    assert_eq!(page.location, "/signin?back=/trace%3Fperson%3DM05%26day%3D2026-08-18");
}

#[tokio::test]
async fn what_sets_the_farm_up_is_not_undone_with_a_tap() {
    let farm = Farm::new().await;
    let mut tx = farm.ledger.begin().await.unwrap();
    let act = records::act(&mut tx, farm.now, "Mina", "set-up").await.unwrap();
    let set_up: i64 = 1;
    let undone = corrections::undo(&mut tx, set_up, &act).await;
    assert!(matches!(undone, Err(records::Refusal::Remarks(_))), "undoing the farm leaves nothing to stand on: {undone:?}");
    assert!(!journal::may_be_undone("farm") && !journal::may_be_undone("holds") && journal::may_be_undone("chill"));
}

#[tokio::test]
async fn one_code_never_names_two_lots() {
    let mut farm = Farm::new().await;
    farm.clock("2026-05-14T12:00");
    filled(&farm).await;
    farm.keep(
        "lots",
        &[
            ("code", "6134B-Q"),
            ("filled", "2026-05-14T08:00"),
            ("gallons", "0"),
            ("half_gallons", "1"),
            ("quarts", "0"),
            ("pints", "0"),
            ("made", "cream"),
        ],
    )
    .await;
    farm.keep("sources", &[("lot", "6134B-Q"), ("parent", "6134A-S")]).await;
    let other = [
        ("version", "1"),
        ("code", "6134A-S"),
        ("filled", "2026-05-14T08:00"),
        ("made", "cream"),
        ("gallons", "0"),
        ("half_gallons", "1"),
        ("quarts", "0"),
        ("pints", "0"),
        ("why", "misread"),
    ];
    farm.submit(Owner, "/records/lots/2", &other).await.came_with(422).says("Two lots carry the code 6134A-S");
}

#[tokio::test]
async fn enter_never_answers_a_question() {
    let farm = Farm::new().await;
    for path in ["/milkings/new", "/fills/new", "/chill/new", "/counts/new", "/pickup", "/records/tickets/new"] {
        let page = farm.visit(Owner, path).await;
        for form in page.text.split("<form").skip(1).filter(|form| form.contains("name=\"entry\"")) {
            let first = form.split("<button").nth(1).unwrap_or_else(|| panic!("{path} has a form with no button"));
            assert!(!first.split('>').next().unwrap().contains("name="), "{path}: Enter would press {first}");
        }
    }
}

#[tokio::test]
async fn days_to_come_and_cells_that_contradict_each_other_are_refused() {
    let farm = Farm::sample().await;
    farm.visit(Owner, "/trace?person=M05&day=2027-01-01").await.came_with(422).says("has not come yet");
    let entry = farm.visit(Owner, "/records/complaints/new").await.entry();
    let told = [("entry", entry.as_str()), ("at", "2026-11-21T14:00"), ("says", "ill"), ("taken_by", "Del"), ("picked_up", "2027-08-18")];
    farm.submit(Owner, "/records/complaints", &told).await.came_with(422).says("has not come yet");
    let entry = farm.visit(Owner, "/records/gear/new").await.entry();
    let gear = [
        ("entry", entry.as_str()),
        ("name", "Churn"),
        ("sort", "gear"),
        ("bought", "2026-05-01"),
        ("gone", "2026-04-01"),
        ("price", "800"),
        ("salvage", "900"),
        ("life_years", "10"),
        ("milk_share", "100"),
    ];
    farm.submit(Owner, "/records/gear", &gear).await.came_with(422).says("before Fri 1 May 2026").says("cannot be worth more");
    farm.visit(Owner, "/records/complaints/new").await.says("M05 Tamsin Oakhurst-Bly");
}

/// The barn page and the lot's verdict read the same doses: one whose milk time nobody wrote is never forgotten by either.
#[tokio::test]
async fn a_treatment_with_no_time_written_is_never_forgotten() {
    let mut farm = Farm::new().await;
    farm.clock("2026-05-14T12:00");
    let code = filled(&farm).await;
    farm.keep(
        "pails",
        &[
            ("milking", "2026-05-14 AM"),
            ("cow", "Damson"),
            ("read", "14 lb"),
            ("milk", "14 lb"),
            ("went", "can"),
            ("vessel", "Can 1"),
            ("foremilk", "ok"),
        ],
    )
    .await;
    assert_eq!(word(&farm, &code).await, Word::CanGo);
    farm.keep(
        "treatments",
        &[("cow", "Damson"), ("at", "2025-09-01T06:00"), ("product", "udder tube"), ("as_labelled", "yes"), ("vet_figure", "no")],
    )
    .await;
    assert_eq!(word(&farm, &code).await, Word::CantTell);
    farm.visit(Helper, "/herd/Damson").await.says("ask the vet");
}
