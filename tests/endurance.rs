//! The real program, killed at any moment: what was acknowledged is there exactly once, and what was not is there once or not at
//! all.
//!
//! `kill -9` ends a program between any two of its steps. It does not test a power cut: what the program handed to the system before
//! is still written by the system. What stands for a power cut here is, first, that the open ledger has `synchronous=FULL` and a
//! write-ahead log, so that SQLite has every commit on the disk before it returns (as far as the disk says the truth); and second, a
//! log cut off at any byte, as a machine that lost its power leaves it: the ledger opens, is whole, and holds the first so many acts.
//! No disk that lies about what it has written, and no file system that loses what was synced, is tested here.
//!
//! A short form runs with the other tests. The long one:
//! `TALLYPAIL_KILLS=2000 cargo test --test main -- endurance --nocapture`; `TALLYPAIL_SEED` begins it elsewhere.
//!
//! Sources: SQLite's documentation, "Write-Ahead Logging", "PRAGMA synchronous" and "WAL-mode File Format" (the log's header is 32
//! bytes, a frame 24 and a page; how many frames are in the ledger itself already stands in the shared index at bytes 96 and 128).

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test may fail loudly")]

mod cut;
mod jobs;
mod writers;

use crate::{farm::Farm, mornings, program::Program};
use sqlx::{ConnectOptions, Connection, SqliteConnection, sqlite::SqliteConnectOptions};
use std::{
    env, fs,
    path::{Path, PathBuf},
    thread,
    time::Duration,
};
use tallypail::store::{Ledger, check};
use writers::{Attempt, Form, Hand};

/// Figures of chance from a seed, so that a run can be had again: splitmix64 (Steele, Lea and Flood, 2014).
pub struct Chance(u64);

impl Chance {
    /// The next 64 bits.
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut bits = self.0;
        bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        bits ^ (bits >> 31)
    }

    /// A figure below another.
    pub fn below(&mut self, bound: u64) -> u64 {
        self.bits() % bound
    }

    /// Waits up to so many microseconds.
    pub fn wait(&mut self, most: u64) {
        thread::sleep(Duration::from_micros(self.below(most)));
    }
}

/// What a run came to.
#[derive(Debug, Default)]
pub struct Tally {
    kills: usize,
    in_flight: usize,
    requests_cut: usize,
    acknowledged: usize,
    kept_unacknowledged: usize,
    lost: usize,
    doubled: usize,
    wrongs: usize,
    cuts: usize,
    /// Kills in the middle of a copy, an import, a migration, a restore; and how many of those had not ended yet.
    jobs: [(usize, usize); 4],
}

fn setting(name: &str, otherwise: u64) -> u64 {
    env::var(name).ok().and_then(|own| own.parse().ok()).unwrap_or(otherwise)
}

/// Kills of one ledger before another is begun.
const OF_ONE_LEDGER: usize = 50;

/// A farm to write in, closed: six lots to count, a cow to hold and hands to sign in.
async fn ledger_to_write_in(folder: &Path) -> PathBuf {
    let farm = Farm::new().await;
    for nth in 1..=6 {
        mornings::fill(&farm, &format!("2026-05-0{nth}"), "6", true).await;
    }
    farm.ledger.close().await;
    let file = folder.join("farm.ledger");
    fs::copy(farm.file(), &file).unwrap();
    file
}

async fn looking(file: &Path) -> SqliteConnection {
    SqliteConnectOptions::new().filename(file).read_only(true).busy_timeout(Duration::from_secs(10)).connect().await.unwrap()
}

/// How often each attempt's record is in the ledger: never, once, or in part or twice.
async fn found(file: &Path, attempts: &[Attempt]) -> Vec<i64> {
    let mut db = looking(file).await;
    let mut found = Vec::new();
    for own in attempts {
        found.push(writers::times_kept(&mut db, own).await);
    }
    db.close().await.unwrap();
    found
}

async fn wrongs(file: &Path) -> Vec<String> {
    let mut db = looking(file).await;
    let wrongs = check::wrongs(&mut db).await.unwrap();
    db.close().await.unwrap();
    wrongs
}

/// Kills the program while four hands write, so often, on one ledger.
async fn one_ledger(chance: &mut Chance, kills: usize, tally: &mut Tally) {
    let folder = tempfile::tempdir().unwrap();
    let file = ledger_to_write_in(folder.path()).await;
    let mut program = Program::serve(&file, &[]);
    let hand = Hand::signed_in(&program, &file).await;
    let mut all: Vec<Attempt> = Vec::new();
    for nth in 0..kills {
        let attempts = writers::write_until_killed(program, &hand, chance);
        tally.kills += 1;
        let cut = attempts.iter().filter(|own| !own.acknowledged).count();
        (tally.requests_cut, tally.in_flight) = (tally.requests_cut + cut, tally.in_flight + usize::from(cut > 0));
        if nth % 10 == 3 {
            tally.cuts += cut::cut_anywhere(&file, chance).await;
        }
        // Now and then it is killed again before it listens.
        if chance.below(10) == 0 {
            jobs::killed_at_its_start(&file, chance);
            tally.kills += 1;
        }
        program = Program::serve(&file, &[]);
        assert!(!program.address.is_empty(), "it did not start again: {}", program.said());
        let times = found(&file, &attempts).await;
        for (own, times) in attempts.iter().zip(times) {
            match (own.acknowledged, times) {
                (true, 1) => tally.acknowledged += 1,
                (true, 0) => tally.lost += 1,
                (false, 0) => {}
                (false, 1) => tally.kept_unacknowledged += 1,
                _ => tally.doubled += 1,
            }
        }
        // Whoever got no answer sends the same form again, as a browser does.
        let again: Vec<Attempt> = attempts.into_iter().filter(|own| !own.acknowledged || chance.below(20) == 0).collect();
        for own in &again {
            assert!(hand.sends(&program.address, own).is_ok_and(|answer| answer.status == 303), "a form sent again was not taken");
        }
        tally.doubled += found(&file, &again).await.into_iter().filter(|times| *times != 1).count();
        all.extend(again);
        let wrong = wrongs(&file).await;
        assert_eq!(wrong, Vec::<String>::new(), "after {} kills", tally.kills);
        tally.wrongs += wrong.len();
    }
    program.kill();
    tally.doubled += found(&file, &all).await.into_iter().filter(|times| *times != 1).count();
    crate::program::said(&crate::program::run(folder.path(), &["--ledger", "farm.ledger", "check"]), true);
}

#[tokio::test]
async fn endurance_nothing_acknowledged_is_lost() {
    let (kills, seed) = (usize::try_from(setting("TALLYPAIL_KILLS", 12)).unwrap(), setting("TALLYPAIL_SEED", 1));
    let (mut chance, mut tally) = (Chance(seed), Tally::default());
    let ground = jobs::Ground::laid().await;
    while tally.kills < kills {
        // With each ledger one kill falls into a copy, one into an import, a migration and a restore.
        for job in 0..4 {
            ground.kill_in(job, &mut chance, &mut tally).await;
        }
        one_ledger(&mut chance, kills.saturating_sub(tally.kills).min(OF_ONE_LEDGER - 4), &mut tally).await;
        if kills > 100 {
            println!("{} kills so far, {} acknowledged, {} lost, {} doubled", tally.kills, tally.acknowledged, tally.lost, tally.doubled);
        }
    }
    let [copies, imports, migrations, restores] = tally.jobs;
    println!(
        "seed {seed}: {} kills; with a request in flight {}, requests cut off {}; acknowledged {}, of them lost {}; found though not acknowledged {}; kept twice or in part {}; wrongs {}; logs cut {}; killed (in the middle) in a copy {copies:?}, an import {imports:?}, a migration {migrations:?}, a restore {restores:?}",
        tally.kills,
        tally.in_flight,
        tally.requests_cut,
        tally.acknowledged,
        tally.lost,
        tally.kept_unacknowledged,
        tally.doubled,
        tally.wrongs,
        tally.cuts
    );
    assert_eq!((tally.lost, tally.doubled, tally.wrongs), (0, 0, 0));
    assert!(tally.acknowledged > 0 && tally.requests_cut > 0, "nothing was written, so nothing was tried: {tally:?}");
}

/// Source: SQLite's documentation, "PRAGMA synchronous": 2 is FULL, and in WAL mode only FULL has each commit on the disk.
#[tokio::test]
async fn endurance_every_commit_is_on_the_disk_before_it_is_answered() {
    let farm = Farm::new().await;
    let mut tx = farm.ledger.begin().await.unwrap();
    let (synchronous, journal): (i64, String) =
        sqlx::query_as("SELECT * FROM pragma_synchronous, pragma_journal_mode").fetch_one(&mut *tx).await.unwrap();
    assert_eq!((synchronous, journal.as_str()), (2, "wal"));
    tx.rollback().await.unwrap();
    drop(Ledger::open(farm.file()).await.unwrap());
}

/// What is sent and how it is told whether it was kept are themselves right: a form is kept once and then found once.
#[tokio::test]
async fn endurance_a_form_that_was_kept_is_found() {
    let folder = tempfile::tempdir().unwrap();
    let file = ledger_to_write_in(folder.path()).await;
    let program = Program::serve(&file, &[]);
    let hand = Hand::signed_in(&program, &file).await;
    let mut chance = Chance(7);
    for form in [Form::Hold, Form::Minutes, Form::Count] {
        let own = Attempt::of(form, &mut chance);
        assert_eq!(found(&file, std::slice::from_ref(&own)).await, [0]);
        for _ in 0..2 {
            let answer = hand.sends(&program.address, &own).unwrap();
            assert_eq!(answer.status, 303, "{form:?}: {}", answer.text);
        }
        assert_eq!(found(&file, std::slice::from_ref(&own)).await, [1]);
    }
}
