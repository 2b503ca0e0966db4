//! Copies that are made by themselves: when, under what name, which go again, and what is said when none can be made.
//!
//! Sources: the rule of thinning as docs/copies.md states it; SQLite's documentation of VACUUM INTO.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::{
    farm::{Farm, at},
    today::due,
};
use std::{
    collections::BTreeSet,
    fs,
    path::{Path, PathBuf},
};
use tallypail::{
    copies::{Copier, Copies},
    pages::App,
    store::{Ledger, backup, check, records},
    trade::{copies::Every, when::Moment},
    web::{clock::Clock, visitor::Role},
};

/// A farm with a stick in, and one copy a day asked for.
async fn with_a_stick() -> (Farm, PathBuf) {
    let mut farm = Farm::new().await;
    let stick = farm.folder.path().join("stick");
    fs::create_dir(&stick).unwrap();
    farm.copies = Some(Copies::new(&stick, Every::DAY));
    (farm, stick)
}

/// One round of whoever makes the copies. Gives back when to look again.
async fn round(farm: &Farm) -> Moment {
    let copier = Copier { ledger: farm.ledger.clone(), clock: Clock::Stopped(farm.now), copies: farm.copies.clone().unwrap() };
    copier.round().await
}

fn names(folder: &Path) -> BTreeSet<String> {
    fs::read_dir(folder).unwrap().map(|own| own.unwrap().file_name().into_string().unwrap()).collect()
}

#[tokio::test]
async fn a_copy_a_day_is_made_checked_and_shown() {
    let (mut farm, stick) = with_a_stick().await;
    farm.visit(Role::Owner, "/").await.says("There is no copy yet; one is made every day by itself.");
    assert_eq!(round(&farm).await, at("2026-05-15T12:00"));
    let first = "tansyditch-farm-2026-05-14-120000.ledger".to_owned();
    assert_eq!(names(&stick), BTreeSet::from([first.clone()]), "nothing else is left in the folder");
    farm.visit(Role::Owner, "/").await.says("The newest copy is 0 min old; one is made every day by itself.");
    farm.visit(Role::Owner, "/binder").await.says(&first).says("made every day by itself, in").says("14 May 2026, 12:00");
    farm.visit(Role::Helper, "/").await.never_says("newest copy");

    farm.clock("2026-05-15T11:59");
    assert_eq!(round(&farm).await, at("2026-05-15T12:00"));
    assert_eq!(names(&stick).len(), 1, "not before its time");
    farm.clock("2026-05-15T12:00");
    round(&farm).await;
    let both = BTreeSet::from([first.clone(), "tansyditch-farm-2026-05-15-120000.ledger".to_owned()]);
    assert_eq!(names(&stick), both);
    let here = records::book(&mut farm.ledger.read().await.unwrap()).await.unwrap();
    for name in both {
        let copy = Ledger::open(&stick.join(&name)).await.unwrap();
        let mut db = copy.read().await.unwrap();
        assert_eq!(check::wrongs(&mut db).await.unwrap(), Vec::<String>::new());
        assert!(records::book(&mut db).await.unwrap() == here, "{name} holds other records");
    }
}

#[tokio::test]
async fn a_stick_that_is_away_is_told_and_tried_again() {
    let (mut farm, stick) = with_a_stick().await;
    fs::remove_dir(&stick).unwrap();
    let again = round(&farm).await;
    assert_eq!(again, at("2026-05-14T12:01"), "within a minute of being put in it gets its copy");
    assert!(!stick.exists(), "a folder that is not there is never made: it would lie on this machine");
    farm.clock("2026-05-14T12:10");
    round(&farm).await;
    let page = farm.visit(Role::Owner, "/").await;
    assert!(due(&page).contains("No copy by itself since 12:00") && due(&page).contains("Put the stick in"), "{}", due(&page));
    page.says("one ought to be made every day by itself");
    farm.visit(Role::Owner, "/binder")
        .await
        .says("None could be made since 14 May 2026, 12:00")
        .never_says("There is none in that folder now");
    farm.visit(Role::Helper, "/").await.came_with(200).never_says("Put the stick in");
    let sent = farm.submit(Role::Helper, "/stop", &[("what", "cow Wren"), ("reason", "a hot quarter")]).await;
    sent.came_with(303);
    fs::create_dir(&stick).unwrap();
    round(&farm).await;
    assert_eq!(names(&stick).len(), 1);
    farm.visit(Role::Owner, "/").await.never_says("No copy by itself");

    // Another stick in its place has no copy yet, so it gets one at once.
    fs::rename(&stick, farm.folder.path().join("first stick")).unwrap();
    fs::create_dir(&stick).unwrap();
    farm.clock("2026-05-14T12:20");
    round(&farm).await;
    assert_eq!(names(&stick).len(), 1);
}

/// Sixty days of a copy a day, among files of other people. Only copies that bear such a name and that this ledger noted go.
#[tokio::test]
async fn only_its_own_old_copies_go() {
    let (mut farm, stick) = with_a_stick().await;
    let others = ["letter.txt", "another-farm-2026-05-15-120000.ledger", "tansyditch-farm-2026-05-16-120000.ledger", "kept-by-hand.ledger"];
    for other in &others[..3] {
        fs::write(stick.join(other), "somebody else's").unwrap();
    }
    backup::write(&farm.ledger, &stick.join(others[3]), farm.now).await.unwrap();
    let mut made = BTreeSet::new();
    for day in 0..60 {
        farm.now = at("2026-05-14T13:00").plus_hours(24 * day);
        let before = names(&stick);
        round(&farm).await;
        made.extend(names(&stick).difference(&before).cloned());
    }
    assert_eq!(made.len(), 60);
    let left = names(&stick);
    for other in others {
        assert!(left.contains(other), "{other} was taken away");
    }
    assert_eq!(fs::read_to_string(stick.join(others[2])).unwrap(), "somebody else's");
    let kept: Vec<&String> = left.iter().filter(|own| made.contains(*own)).collect();
    // By hand, from the calendar of 2026: the last is of 12 July, so 5 to 12 July are a week old at most; before that the first of
    // each week (Mondays, and Thursday 14 May as the very first), and the first of May, June and July.
    let days: Vec<&str> = kept.iter().map(|own| &own["tansyditch-farm-2026-".len()..][..5]).collect();
    let expected = [
        "05-14", "05-18", "05-25", "06-01", "06-08", "06-15", "06-22", "06-29", "07-01", "07-05", "07-06", "07-07", "07-08", "07-09",
        "07-10", "07-11", "07-12",
    ];
    assert_eq!(days, expected);
}

#[tokio::test]
async fn what_a_stop_left_half_is_no_copy_and_is_cleared_away() {
    let (farm, stick) = with_a_stick().await;
    let half = "tansyditch-farm-2026-05-13-120000.ledger.half";
    let others = ["another-farm-2026-05-13-120000.ledger.half", "letter.half"];
    for name in [half, &format!("{half}-journal"), others[0], others[1]] {
        fs::write(stick.join(name), "half").unwrap();
    }
    farm.visit(Role::Owner, "/binder").await.says("There is none in that folder now");
    round(&farm).await;
    let left = names(&stick);
    let own: Vec<&String> = left.iter().filter(|own| own.starts_with("tansyditch")).collect();
    assert_eq!(own, ["tansyditch-farm-2026-05-14-120000.ledger"]);
    assert!(others.iter().all(|own| left.contains(*own)), "{left:?}");
}

#[tokio::test]
async fn a_clock_that_jumps_neither_stops_the_copies_nor_loses_one() {
    let (mut farm, stick) = with_a_stick().await;
    let mut made = 0;
    for now in ["2026-05-14T12:00", "2099-12-30T00:00", "2026-05-14T12:30", "2026-05-15T12:00", "1990-01-02T00:00", "2026-05-16T12:00"] {
        farm.clock(now);
        round(&farm).await;
        // One still young when the clock is put right is enough.
        made += usize::from(now != "2026-05-14T12:30");
        assert_eq!(names(&stick).len(), made, "{now}");
        farm.visit(Role::Owner, "/").await.came_with(200).never_says("No copy by itself").never_says("No copy for");
    }
}

#[cfg(target_os = "linux")]
#[tokio::test]
async fn a_folder_nothing_can_be_written_to_gets_a_sentence() {
    let mut farm = Farm::new().await;
    let file = farm.folder.path().join("letter.txt");
    fs::write(&file, "no folder").unwrap();
    // The kernel's own folder takes no file, whoever asks.
    for (folder, says) in [(file.as_path(), "cannot be read"), (Path::new("/proc/self"), "could not be written")] {
        farm.copies = Some(Copies::new(folder, Every::DAY));
        round(&farm).await;
        farm.visit(Role::Owner, "/").await.came_with(200).says("No copy by itself since 12:00").says(says);
    }
    assert_eq!(backup::last(&mut farm.ledger.read().await.unwrap(), farm.now).await.unwrap(), None);
}

#[tokio::test]
async fn before_the_farm_is_set_up_there_is_nothing_to_copy() {
    let mut farm = Farm::empty().await;
    farm.copies = Some(Copies::new(farm.folder.path(), Every::DAY));
    round(&farm).await;
    assert!(names(farm.folder.path()).iter().all(|own| own.starts_with("farm.ledger")));
    // A folder that is not there is known before anybody relies on it.
    let copies = Copies::new(&farm.folder.path().join("no stick"), Every::DAY);
    farm.copies = Some(copies.clone());
    round(&farm).await;
    assert!(copies.schedule().failed.is_some_and(|(_, says)| says.contains("Put the stick in")));
}

#[tokio::test]
async fn the_sample_farm_copies_nothing() {
    let farm = Farm::new().await;
    assert!(App::new(farm.ledger.clone(), Clock::Stopped(farm.now)).copies.is_none());
    farm.visit(Role::Owner, "/binder").await.says("None is made by itself.");
}
