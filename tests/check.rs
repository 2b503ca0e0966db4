//! `check` says what was changed behind the ledger's back. Each test here reaches past the program, into the file, as a
//! clumsy or dishonest hand would, and the ledger must say so in a sentence a farmer can read.
//!
//! Source: the chain is a hash chain (Haber and Stornetta, 1991); a change anywhere breaks it from there on.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::farm::Farm;
use sqlx::{AssertSqlSafe, ConnectOptions, Connection, sqlite::SqliteConnectOptions};
use std::fs;
use tallypail::store::{Ledger, check};

/// Changes the file with these statements, links unguarded, and gives back what `check` then says.
async fn after(statements: &[&str]) -> Vec<String> {
    let farm = Farm::sample().await;
    let mut db = SqliteConnectOptions::new().filename(farm.file()).foreign_keys(false).connect().await.unwrap();
    for statement in statements {
        let done = sqlx::query(AssertSqlSafe((*statement).to_owned())).execute(&mut db).await.unwrap();
        assert!(done.rows_affected() > 0, "{statement} changed nothing, so the test would show nothing");
    }
    db.close().await.unwrap();
    check::wrongs(&mut farm.ledger.read().await.unwrap()).await.unwrap()
}

#[track_caller]
fn says(wrongs: &[String], sentence: &str) {
    assert!(wrongs.iter().any(|wrong| wrong.contains(sentence)), "no “{sentence}” among {wrongs:#?}");
}

#[tokio::test]
async fn the_sample_farm_is_whole() {
    let farm = Farm::sample().await;
    assert_eq!(check::wrongs(&mut farm.ledger.read().await.unwrap()).await.unwrap(), Vec::<String>::new());
}

#[tokio::test]
async fn one_changed_byte_of_a_record_shows() {
    let wrongs = after(&["UPDATE chill SET thermometer = replace(thermometer, 'e', 'a') WHERE number = 40"]).await;
    assert_eq!(wrongs, ["The chill reading 40 was changed behind the journal's back: it is not what was written."]);
    let wrongs = after(&["UPDATE chill SET temperature = temperature + 1 WHERE number = 40"]).await;
    assert_eq!(wrongs, ["The chill reading 40 was changed behind the journal's back: it is not what was written."]);
    let wrongs = after(&["UPDATE pickups SET written = written + 1, who = who WHERE number = 7"]).await;
    assert_eq!(wrongs, ["The hand-out 7 was changed behind the journal's back: it is not what was written."]);
}

#[tokio::test]
async fn a_lots_source_pointed_elsewhere_shows() {
    let wrongs = after(&["UPDATE sources SET milking = milking - 1 WHERE number = 300 AND milking IS NOT NULL"]).await;
    assert_eq!(wrongs, ["The source of a lot 300 was changed behind the journal's back: it is not what was written."]);
}

#[tokio::test]
async fn a_deleted_record_shows() {
    let wrongs = after(&["DELETE FROM notices WHERE number = 1"]).await;
    assert_eq!(wrongs, ["The notice or request 1 is gone, and the journal does not say that it was struck."]);
    let wrongs = after(&["DELETE FROM sources WHERE lot = 60"]).await;
    says(&wrongs, "is gone, and the journal does not say that it was struck");
    says(&wrongs, "has no milking and no parent lot: nothing says what milk is in it");
    let wrongs = after(&["DELETE FROM cows WHERE number = 1"]).await;
    says(&wrongs, "names a record of cows that is not there");
}

#[tokio::test]
async fn an_added_record_shows() {
    let slipped_in = "INSERT INTO breaks (entry, vessel, at, washed, sanitised, done_by, written, who, source, version)
        SELECT 'f3b1a5c2-0000-4000-8000-000000000001', vessel, at + 60, 'yes', 'yes', done_by, written, who, source, 1 FROM breaks LIMIT 1";
    let wrongs = after(&[slipped_in]).await;
    assert_eq!(wrongs.len(), 1, "{wrongs:#?}");
    says(&wrongs, "appeared without a line in the journal");
}

#[tokio::test]
async fn a_changed_missing_or_added_journal_line_shows() {
    let wrongs = after(&["UPDATE journal SET who = 'Somebody' WHERE seq = 500"]).await;
    assert_eq!(wrongs.len(), 1, "{wrongs:#?}");
    says(&wrongs, "The journal does not fit together from line 500 on");
    let wrongs = after(&["DELETE FROM journal WHERE seq = 501"]).await;
    says(&wrongs, "The journal does not fit together from line 502 on");
    says(&wrongs, "appeared without a line in the journal");
    let wrongs = after(&["DELETE FROM journal WHERE seq = (SELECT max(seq) FROM journal)"]).await;
    says(&wrongs, "appeared without a line in the journal");
    let wrongs = after(&["INSERT INTO journal (act, at, who, did, kind, number, before, after, why, seal) SELECT act, at, who, 'struck', kind, number, after, NULL, 'never was', seal FROM journal WHERE kind = 'complaints'"]).await;
    says(&wrongs, "The journal does not fit together from line");
}

/// A hand that changes the record and its line alike, but cannot make the seals fit again.
#[tokio::test]
async fn a_record_changed_together_with_its_line_shows() {
    let wrongs = after(&[
        "UPDATE tickets SET amount = amount + 100 WHERE number = 1",
        "UPDATE journal SET after = json_set(after, '$.amount', json_extract(after, '$.amount') + 100) WHERE kind = 'tickets' AND number = 1",
    ])
    .await;
    assert_eq!(wrongs.len(), 1, "{wrongs:#?}");
    says(&wrongs, "The journal does not fit together from line");
}

#[tokio::test]
async fn a_changed_missing_or_added_correction_shows() {
    let says_so = |wrongs: Vec<String>| {
        assert_eq!(wrongs.len(), 1, "{wrongs:#?}");
        says(&wrongs, "is not what the journal says");
        says(&wrongs, "What was struck through of the");
    };
    says_so(after(&["UPDATE struck SET was = replace(was, 'half_gallons', 'half_gallon') WHERE seq = 1"]).await);
    says_so(after(&["UPDATE struck SET why = 'no reason' WHERE seq = 1"]).await);
    says_so(after(&["DELETE FROM struck WHERE seq = 1"]).await);
    says_so(after(&["INSERT INTO struck (kind, number, version, was, at, who, why) SELECT kind, number, 9, was, at, who, 'never was' FROM struck WHERE seq = 1"]).await);
}

/// One bit turned in the middle of the file itself, where SQLite keeps a page of something.
#[tokio::test]
async fn a_damaged_file_shows() {
    let farm = Farm::sample().await;
    farm.ledger.close().await;
    let mut bytes = fs::read(farm.file()).unwrap();
    let place = bytes.len() / 2 / 4096 * 4096;
    bytes[place] ^= 0x10;
    fs::write(farm.file(), &bytes).unwrap();
    let said = match Ledger::open(farm.file()).await {
        Ok(ledger) => match check::wrongs(&mut ledger.read().await.unwrap()).await {
            Ok(wrongs) => wrongs.join(" "),
            Err(failure) => failure.to_string(),
        },
        Err(failure) => failure.to_string(),
    };
    assert!(said.contains("damaged") || said.contains("could not be read") || said.contains("malformed"), "{said}");
}
