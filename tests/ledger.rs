//! Keeping a record and changing one's mind: a form sent twice, a correction with its history, a strike, the ten-second
//! undo, and two people writing at once.
//!
//! Source: this project's own rules for records, as DEVELOPERS.md states them.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::farm::{Farm, kind_of};
use std::collections::BTreeSet;
use tallypail::{
    paper::folder,
    store::{
        Ledger, check, journal,
        records::{self, Refusal},
    },
    trade::{
        journal::Line,
        records::{Cell, Record, Ways, read},
        when::Moment,
    },
    web::{secret, visitor::Role},
};

const COW: [(&str, &str); 4] = [("name", "Thimble"), ("quarters", "3"), ("since", "2026-05-01"), ("note", "")];

async fn lines(farm: &Farm) -> Vec<Line> {
    journal::newest(&mut farm.ledger.read().await.unwrap(), 100).await.unwrap()
}

#[track_caller]
fn one_named<'a>(cows: &'a [Record], name: &str) -> Option<&'a Record> {
    let found: Vec<&Record> = cows.iter().filter(|cow| cow.cell(kind_of("cows"), "name").text() == name).collect();
    assert!(found.len() < 2, "{name} is there {} times", found.len());
    found.first().copied()
}

async fn whole(farm: &Farm) {
    assert_eq!(check::wrongs(&mut farm.ledger.read().await.unwrap()).await.unwrap(), Vec::<String>::new());
}

#[tokio::test]
async fn the_same_form_sent_twice_keeps_one_record() {
    let farm = Farm::new().await;
    let form = farm.visit(Role::Owner, "/records/cows/new").await;
    let (before, entry) = (lines(&farm).await.len(), form.entry());
    let mut typed = COW.to_vec();
    typed.push(("entry", &entry));
    let first = farm.submit(Role::Owner, "/records/cows", &typed).await;
    let again = farm.submit(Role::Owner, "/records/cows", &typed).await;
    assert_eq!((first.status, &first.location), (303, &again.location), "both sendings end on the same record");
    assert!(one_named(&farm.list("cows").await, "Thimble").is_some());
    assert_eq!(lines(&farm).await.len(), before + 1, "one line in the journal for one record");
    whole(&farm).await;
}

/// Somebody who goes back, puts the figure right and sends the old form again must not read that it is kept.
#[tokio::test]
async fn the_same_form_sent_again_with_something_else_in_it_is_not_called_kept() {
    let farm = Farm::new().await;
    let entry = farm.visit(Role::Owner, "/records/cows/new").await.entry();
    let typed = |quarters| [("name", "Thimble"), ("quarters", quarters), ("since", "2026-05-01"), ("note", ""), ("entry", &entry)];
    farm.submit(Role::Owner, "/records/cows", &typed("3")).await.came_with(303);
    farm.submit(Role::Owner, "/records/cows", &typed("4")).await.came_with(422).says("kept already, with something else here");
    let cows = farm.list("cows").await;
    assert_eq!(one_named(&cows, "Thimble").unwrap().cell(kind_of("cows"), "quarters").whole(), Some(3));
    // Put right since, the first sending is still the same form.
    let right = [("name", "Thimble"), ("quarters", "4"), ("since", "2026-05-01"), ("note", ""), ("why", "Looked again"), ("version", "1")];
    let number = one_named(&cows, "Thimble").unwrap().number;
    farm.submit(Role::Owner, &format!("/records/cows/{number}"), &right).await.came_with(303);
    farm.submit(Role::Owner, "/records/cows", &typed("3")).await.came_with(303);
    whole(&farm).await;
}

#[tokio::test]
async fn a_form_without_its_mark_is_not_kept_and_says_so() {
    let farm = Farm::new().await;
    for entry in ["", "not-a-mark", "💧"] {
        let mut typed = COW.to_vec();
        typed.push(("entry", entry));
        farm.submit(Role::Owner, "/records/cows", &typed).await.came_with(422).says("lost its mark");
    }
    assert!(one_named(&farm.list("cows").await, "Thimble").is_none());
}

#[tokio::test]
async fn a_correction_keeps_both_figures_and_says_who_and_why() {
    let mut farm = Farm::new().await;
    farm.clock("2026-05-15T07:00");
    let number = farm.keep("cows", &COW).await;
    farm.clock("2026-05-16T08:30");
    let path = format!("/records/cows/{number}");
    let mut typed = COW.to_vec();
    typed[1] = ("quarters", "4");
    typed.extend([("version", "1"), ("why", "")]);
    farm.submit(Role::Owner, &path, &typed).await.came_with(422).says("Say in a few words why").says("value=\"4\"");
    typed.retain(|(name, _)| *name != "why");
    typed.push(("why", "the left hind came back"));
    assert_eq!(farm.submit(Role::Owner, &path, &typed).await.came_with(303).location, path);

    let page = farm.visit(Role::Owner, &path).await;
    page.says("struck through: </span>3</s> 4").says("Corrected by Mina, 16 May 2026, 08:30: the left hind came back");
    let kind = kind_of("cows");
    let mut db = farm.ledger.read().await.unwrap();
    let now = records::find(&mut db, kind, number).await.unwrap().unwrap();
    assert_eq!((now.version, now.cell(kind, "quarters").whole()), (2, Some(4)));
    let struck = records::struck(&mut db, kind, number).await.unwrap();
    assert_eq!((struck.len(), struck[0].version, struck[0].who.as_str()), (1, 1, "Mina"));
    assert!(struck[0].was.contains("\"quarters\":3"), "{}", struck[0].was);
    drop(db);
    let line = lines(&farm).await.remove(0);
    assert_eq!((line.did.as_str(), line.why.as_deref()), ("corrected", Some("the left hind came back")));
    assert!(line.before.unwrap().contains("\"quarters\":3") && line.after.unwrap().contains("\"quarters\":4"));
    whole(&farm).await;

    farm.submit(Role::Owner, &path, &typed).await.came_with(422).says("Somebody corrected this record in the meantime");
    whole(&farm).await;
}

#[tokio::test]
async fn a_struck_record_is_gone_from_the_list_and_stays_in_the_journal() {
    let farm = Farm::new().await;
    let number = farm.keep("cows", &COW).await;
    let path = format!("/records/cows/{number}/strike");
    farm.submit(Role::Owner, &path, &[("why", "")]).await.came_with(422).says("why this never happened");
    farm.submit(Role::Owner, &path, &[("why", "she is the neighbour's")]).await.came_with(303);
    assert!(one_named(&farm.list("cows").await, "Thimble").is_none());
    farm.visit(Role::Owner, &format!("/records/cows/{number}")).await.came_with(404).says("was struck through");
    let line = lines(&farm).await.remove(0);
    assert_eq!((line.did.as_str(), line.after, line.why.as_deref()), ("struck", None, Some("she is the neighbour's")));
    assert!(line.before.unwrap().contains("Thimble"));
    whole(&farm).await;
    assert!(farm.keep("cows", &COW).await > number, "the number of a struck record is never given again");
    whole(&farm).await;
}

#[tokio::test]
async fn what_others_lean_on_is_not_struck() {
    let farm = Farm::new().await;
    farm.keep("events", &[("cow", "Wren"), ("at", "2026-05-01T06:00"), ("sort", "calved")]).await;
    let wren = one_named(&farm.list("cows").await, "Wren").unwrap().number;
    let page = farm.submit(Role::Owner, &format!("/records/cows/{wren}/strike"), &[("why", "slip")]).await;
    page.came_with(422).says("Other records lean on this one");
    assert!(one_named(&farm.list("cows").await, "Wren").is_some());
    whole(&farm).await;
}

/// Keeps a cow through her page and gives back her address.
async fn written_down(farm: &Farm, role: Role) -> String {
    farm.submit(role, "/records/cows", &COW).await.came_with(303).location.clone()
}

#[tokio::test]
async fn undo_is_open_for_ten_seconds_and_closed_after() {
    let mut farm = Farm::new().await;
    farm.wait(60);
    let address = written_down(&farm, Role::Owner).await;
    let page = farm.visit(Role::Owner, &address).await;
    page.says("Undo").says("data-seconds=\"10\"");
    let act = page.hidden("act");
    farm.visit(Role::Helper, "/stop").await.never_says("action=\"/undo\"");
    farm.wait(10);
    farm.submit(Role::Helper, "/undo", &[("act", &act)]).await.came_with(409).says("ten seconds are over");
    farm.submit(Role::Owner, "/undo", &[("act", &act)]).await.came_with(303);
    assert!(one_named(&farm.list("cows").await, "Thimble").is_none());
    assert_eq!(lines(&farm).await[0].did, "undone");
    whole(&farm).await;
    farm.submit(Role::Owner, "/undo", &[("act", &act)]).await.came_with(409);
    assert_eq!(lines(&farm).await.iter().filter(|line| line.did == "undone").count(), 1, "nothing is undone twice");

    let address = written_down(&farm, Role::Owner).await;
    let act = farm.visit(Role::Owner, &address).await.hidden("act");
    farm.wait(11);
    farm.visit(Role::Owner, &address).await.never_says("action=\"/undo\"");
    farm.submit(Role::Owner, "/undo", &[("act", &act)]).await.came_with(409).says("ten seconds are over").says("correct it");
    assert!(one_named(&farm.list("cows").await, "Thimble").is_some());
    whole(&farm).await;
}

#[tokio::test]
async fn what_was_corrected_or_leaned_on_is_not_undone() {
    let farm = Farm::new().await;
    let address = written_down(&farm, Role::Owner).await;
    let act = farm.visit(Role::Owner, &address).await.hidden("act");
    let mut typed = COW.to_vec();
    typed.extend([("version", "1"), ("why", "looked again")]);
    typed[3] = ("note", "a white foot");
    farm.submit(Role::Owner, &address, &typed).await.came_with(303);
    farm.submit(Role::Owner, "/undo", &[("act", &act)]).await.came_with(409).says("nothing to take back");
    let cows = farm.list("cows").await;
    assert_eq!(one_named(&cows, "Thimble").unwrap().version, 2);
    whole(&farm).await;
}

#[tokio::test]
async fn a_hold_is_never_undone() {
    let farm = Farm::new().await;
    farm.submit(Role::Helper, "/stop", &[("what", "everything")]).await.came_with(303);
    let act = lines(&farm).await[0].act.to_string();
    farm.visit(Role::Helper, "/stop").await.says("All milk is stopped").never_says("action=\"/undo\"");
    farm.submit(Role::Helper, "/undo", &[("act", &act)]).await.came_with(409);
    assert_eq!(farm.list("holds").await.len(), 1);
}

/// A hold and its lift, each one tap, and what the ledger then holds goes out and comes in again.
#[tokio::test]
async fn a_lift_is_the_owners_has_a_reason_and_carries_a_mark_that_can_be_read_back() {
    let farm = Farm::new().await;
    farm.submit(Role::Helper, "/stop", &[("what", "cow Wren")]).await.came_with(303);
    farm.submit(Role::Helper, "/stop/1/lift", &[("reason", "looks fine")]).await.came_with(403);
    farm.submit(Role::Helper, "/records/lifts", &[("hold", "1"), ("at", "2026-05-14T11:00"), ("reason", "looks fine")])
        .await
        .came_with(403);
    farm.submit(Role::Owner, "/stop/1/lift", &[("reason", "")]).await.came_with(422).says("lifted with a reason");
    let entry = farm.visit(Role::Owner, "/stop").await.entry();
    for _ in 0..2 {
        farm.submit(Role::Owner, "/stop/1/lift", &[("reason", "strip test clean"), ("entry", &entry)]).await.came_with(303);
    }
    let lifts = farm.list("lifts").await;
    assert_eq!(lifts.len(), 1, "one tap twice is one lift");
    let book = records::book(&mut farm.ledger.read().await.unwrap()).await.unwrap();
    let files = folder::write(&book);
    let back = folder::read(&files, farm.now, "import").unwrap();
    assert_eq!(back, book);
}

fn cow(farm_ways: Ways, name: &str) -> Vec<Cell> {
    let typed = |column: &str| match column {
        "name" => name.to_owned(),
        "quarters" => "4".to_owned(),
        "since" => "2026-05-01".to_owned(),
        _ => String::new(),
    };
    read(kind_of("cows"), typed, farm_ways).unwrap()
}

async fn kept(ledger: Ledger, farm_now: Moment, entry: String, cells: Vec<Cell>) -> Result<records::Kept, Refusal> {
    let mut tx = ledger.begin().await?;
    let act = records::act(&mut tx, farm_now, "Mina", "screen").await?;
    let kept = records::keep(&mut tx, kind_of("cows"), &entry, cells, &act).await?;
    tx.commit().await?;
    Ok(kept)
}

/// Two phones, and a second program on the same file: forty writes at once, each kept once, none lost.
#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn two_writers_at_once_lose_nothing() {
    let farm = Farm::new().await;
    let other = Ledger::open(farm.file()).await.unwrap();
    let ways = farm.ways().await;
    let before = lines(&farm).await.len();
    let shared = secret::entry();
    let mut writing = Vec::new();
    for nth in 0..20 {
        for (which, ledger) in [("A", &farm.ledger), ("B", &other)] {
            let cells = cow(ways, &format!("{which}{nth}"));
            writing.push(tokio::spawn(kept(ledger.clone(), farm.now, secret::entry(), cells)));
        }
        // The same form from both, over and over: one record.
        writing.push(tokio::spawn(kept(
            if nth % 2 == 0 { &farm.ledger } else { &other }.clone(),
            farm.now,
            shared.clone(),
            cow(ways, "Sorrel"),
        )));
    }
    let mut already = 0;
    for one in writing {
        already += usize::from(one.await.unwrap().unwrap().already);
    }
    assert_eq!(already, 19, "the shared form was kept once and recognised nineteen times");
    let cows = farm.list("cows").await;
    let numbers: BTreeSet<i64> = cows.iter().map(|cow| cow.number).collect();
    assert_eq!((cows.len(), numbers.len()), (3 + 41, 3 + 41));
    let lines = journal::newest(&mut farm.ledger.read().await.unwrap(), 1000).await.unwrap();
    assert_eq!(lines.len(), before + 41);
    let acts: BTreeSet<i64> = lines.iter().map(|line| line.act).collect();
    assert_eq!(acts.len(), lines.len(), "no two acts share a number");
    whole(&farm).await;
    other.close().await;
}

/// Half of an act is never kept: the second record is refused, and the first goes with it.
#[tokio::test]
async fn an_act_is_kept_whole_or_not_at_all() {
    let farm = Farm::new().await;
    let before = lines(&farm).await.len();
    let mut tx = farm.ledger.begin().await.unwrap();
    let act = records::act(&mut tx, farm.now, "Mina", "screen").await.unwrap();
    let ways = farm.ways().await;
    records::keep(&mut tx, kind_of("cows"), &secret::entry(), cow(ways, "Sorrel"), &act).await.unwrap();
    let unknown = |column: &str| match column {
        "cow" => "Damzon".to_owned(),
        "at" => "2026-05-14T06:00".to_owned(),
        "sort" => "calved".to_owned(),
        _ => String::new(),
    };
    let cells = read(kind_of("events"), unknown, ways).unwrap();
    match records::keep(&mut tx, kind_of("events"), &secret::entry(), cells, &act).await {
        Err(Refusal::Remarks(remarks)) => {
            assert_eq!(remarks[0].says, "There is no cow “Damzon”. Did you mean Damson?");
        }
        other => panic!("{other:?}"),
    }
    drop(tx);
    assert!(one_named(&farm.list("cows").await, "Sorrel").is_none());
    assert_eq!(lines(&farm).await.len(), before);
    whole(&farm).await;
}
