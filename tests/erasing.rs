//! A name that is erased is nowhere any more: not in a record, not in what was struck, not in the journal, not in the bytes of
//! the file, not in an exported folder. The milk it is about stays, and the journal still shows what anybody changed by hand.
//!
//! Source: SQLite's documentation of VACUUM and of the write-ahead log, for what lies on in a file; the keeping time is that of
//! the rule set written here.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::{
    farm::{Farm, kind_of},
    mornings::fill,
};
use sqlx::{AssertSqlSafe, ConnectOptions, Connection, sqlite::SqliteConnectOptions};
use std::fs;
use tallypail::{
    paper::folder,
    store::{check, records},
    trade::book::{Book, sha256},
    web::visitor::Role::{Helper, Owner},
};

/// Words that say who it was, in every spelling the ledger holds.
const WHO: [&str; 8] = ["Orla", "Tremont", "802-555-0117", "orla@example.org", "Jory", "Tamblyn", "555-0185", "sleeps late"];

/// A household that left in March 2023, with a share, a stand-in, a signed paper, jars, a complaint, and corrections of most.
async fn household() -> (Farm, String) {
    let mut farm = Farm::new().await;
    let lot = fill(&farm, "2026-05-12", "7", true).await;
    farm.follow_for(3).await;
    let person = [("label", "M17"), ("name", "Orla Tremont"), ("sort", "member"), ("channel", "herdshare"), ("since", "2026-01-02")];
    let ways = [("phone", "802-555-0117"), ("second_way", "orla@example.org"), ("note", "sleeps late")];
    farm.keep("people", &[person.as_slice(), &ways].concat()).await;
    farm.promise("M17", "2", "herdshare").await;
    let stand_in = [("person", "M17"), ("name", "Jory Tamblyn"), ("reach", "555-0185"), ("since", "2026-02-01")];
    farm.keep("collectors", &stand_in).await;
    let out = [("person", "M17"), ("lot", lot.as_str()), ("half_gallons", "2"), ("evidence", "seen"), ("taken_by", "Jory Tamblyn")];
    farm.submit(Owner, "/pickup", &out).await.came_with(303);
    let said = [("at", "2026-05-14T11:00"), ("person", "M17"), ("says", "Orla here, my jar smelt of onion"), ("taken_by", "Mina")];
    farm.keep("complaints", &said).await;
    let other = [("label", "M18"), ("name", "Barnaby Twill"), ("sort", "member"), ("channel", "herdshare"), ("since", "2026-01-02")];
    farm.keep("people", &[other.as_slice(), &[("note", "Took over the share of ORLA TREMONT")]].concat()).await;
    // A correction, so that what was struck through holds the name too; and the day they left.
    let gone = [("until", "2026-05-14"), ("version", "1"), ("why", "Orla Tremont moved away"), ("phone", "802-555-0117")];
    farm.submit(Owner, "/records/people/1", &[person.as_slice(), &gone].concat()).await.came_with(303);
    let tidied = [stand_in.as_slice(), &[("until", "2026-05-14"), ("version", "1"), ("why", "Tamblyn no longer comes")]].concat();
    farm.submit(Owner, "/records/collectors/1", &tidied).await.came_with(303);
    farm.clock("2029-05-15T12:00");
    (farm, lot)
}

async fn paper_of(farm: &Farm) {
    let bytes: &[u8] = b"%PDF-1.4 signed by Orla Tremont";
    let (hash, size) = (sha256(bytes), bytes.len().to_string());
    let kept = [("name", "Tremont.pdf"), ("at", "2026-05-14T10:00"), ("hash", hash.as_str()), ("size", size.as_str())];
    let number = farm.keep("documents", &kept).await.to_string();
    let mut tx = farm.ledger.begin().await.unwrap();
    tallypail::store::lab::keep_bytes(&mut tx, &hash, bytes).await.unwrap();
    tx.commit().await.unwrap();
    let paper = [("person", "M17"), ("sort", "other"), ("given", "2026-01-02"), ("signed", "2026-01-02"), ("document", number.as_str())];
    farm.keep("agreements", &paper).await;
}

async fn book(farm: &Farm) -> Book {
    records::book(&mut farm.ledger.read().await.unwrap()).await.unwrap()
}

async fn wrongs(farm: &Farm) -> Vec<String> {
    check::wrongs(&mut farm.ledger.read().await.unwrap()).await.unwrap()
}

/// Which words stand in some bytes, whatever their capitals.
fn found_in(bytes: &[u8]) -> Vec<&'static str> {
    let low = bytes.to_ascii_lowercase();
    let there = |word: &&&str| low.windows(word.len()).any(|own| own == word.to_ascii_lowercase().as_bytes());
    WHO.iter().filter(there).copied().collect()
}

/// The ledger's file and the log beside it.
fn bytes_of(farm: &Farm) -> Vec<u8> {
    let file = farm.file().display().to_string();
    ["", "-wal"].iter().flat_map(|end| fs::read(format!("{file}{end}")).unwrap_or_default()).collect()
}

async fn erase(farm: &Farm) {
    let first = farm.submit(Owner, "/people/M17/erase", &[("why", "Orla asked for it")]).await;
    first.came_with(200).says("This cannot be taken back.").says("A backup made before still holds the name");
    let second = farm.submit(Owner, "/people/M17/erase", &[("why", "Orla asked for it"), ("step", "erase")]).await;
    assert_eq!((second.status, second.location.as_str()), (303, "/people/M17"), "{}", second.text);
}

#[tokio::test]
async fn an_erased_name_is_nowhere_and_the_milk_stays() {
    let (farm, lot) = household().await;
    paper_of(&farm).await;
    let before = book(&farm).await;
    assert_eq!(found_in(&bytes_of(&farm)), WHO, "the test looks where the words are");
    assert_eq!(wrongs(&farm).await, Vec::<String>::new());
    erase(&farm).await;
    assert_eq!(wrongs(&farm).await, Vec::<String>::new());
    assert_eq!(found_in(&bytes_of(&farm)), Vec::<&str>::new());
    let after = book(&farm).await;
    for (name, bytes) in &folder::write(&after) {
        assert_eq!(found_in(bytes), Vec::<&str>::new(), "{name}");
    }
    for name in ["lots", "sources", "milkings", "pails", "chill", "cows", "rules", "shares"] {
        assert_eq!(after.of(name), before.of(name), "{name} are untouched");
    }
    let (then, now) = (&before.of("pickups")[0], &after.of("pickups")[0]);
    for column in ["at", "lot", "person", "half_gallons", "evidence", "verdict", "because", "facts"] {
        assert_eq!(then.cell(kind_of("pickups"), column), now.cell(kind_of("pickups"), column), "{column}");
    }
    assert_eq!(after.size(), before.size(), "no record is gone");
    let page = farm.visit(Owner, "/people/M17").await;
    page.says("M17 member 17").says(&lot).says("stand-in");
    farm.visit(Owner, "/records/complaints/1").await.says("member 17 here, my jar smelt of onion");
    farm.visit(Owner, "/records/people/2").await.says("Took over the share of member 17");
    farm.visit(Owner, "/documents/1").await.came_with(200);
    farm.visit(Owner, "/binder/journal").await.says("erased a name from");
    let said = check::erasures(&mut farm.ledger.read().await.unwrap()).await.unwrap();
    assert_eq!(said.len(), 1);
    assert!(said[0].contains("lines of the journal by Mina on 15 May 2029"), "{said:?}");
    farm.visit(Owner, "/people/M17/erase").await.says("Their name was erased already.");
    // It is taken in elsewhere as any folder.
    let mut into = Farm::empty().await;
    into.now = farm.now;
    into.take_in(&folder::write(&after)).await.unwrap();
    assert_eq!(wrongs(&into).await, Vec::<String>::new());
}

/// A backup or another window that reads for longer than the ledger waits: the name is out of the records, and the page says what
/// is not done and offers it again.
#[tokio::test]
async fn a_file_that_is_being_read_is_written_anew_later() {
    let (farm, _) = household().await;
    let mut reading = farm.ledger.read().await.unwrap();
    sqlx::query("BEGIN").execute(&mut *reading).await.unwrap();
    let _: i64 = sqlx::query_scalar("SELECT count(*) FROM people").fetch_one(&mut *reading).await.unwrap();
    let form = [("why", "Orla asked for it"), ("step", "erase")];
    let page = farm.submit(Owner, "/people/M17/erase", &form).await;
    page.came_with(422)
        .says("What was erased is out of every record")
        .says("Their name was erased already.")
        .says("Write the file anew")
        .never_says("Orla");
    assert_ne!(found_in(&bytes_of(&farm)), Vec::<&str>::new(), "which is why it has to be said");
    sqlx::query("COMMIT").execute(&mut *reading).await.unwrap();
    drop(reading);
    let again = farm.submit(Owner, "/people/M17/erase", &[("step", "sweep")]).await;
    assert_eq!((again.status, again.location.as_str()), (303, "/people/M17"), "{}", again.text);
    assert_eq!(found_in(&bytes_of(&farm)), Vec::<&str>::new());
}

#[tokio::test]
async fn a_line_changed_by_hand_still_shows_beside_an_erasure() {
    let (farm, _) = household().await;
    erase(&farm).await;
    let by_hand = async |statement: &str| {
        let mut db = SqliteConnectOptions::new().filename(farm.file()).foreign_keys(false).connect().await.unwrap();
        let done = sqlx::query(AssertSqlSafe(statement.to_owned())).execute(&mut db).await.unwrap();
        assert!(done.rows_affected() > 0, "{statement} changed nothing");
        db.close().await.unwrap();
        wrongs(&farm).await
    };
    let found = by_hand("UPDATE journal SET who = 'Somebody' WHERE kind = 'lots' AND number = 1").await;
    assert!(found.iter().any(|wrong| wrong.contains("The journal does not fit together") && wrong.contains("lots 1")), "{found:?}");
    by_hand("UPDATE journal SET who = 'Mina' WHERE kind = 'lots' AND number = 1").await;
    assert_eq!(wrongs(&farm).await, Vec::<String>::new(), "put back, it fits again");
    let found = by_hand("UPDATE people SET name = 'Somebody' WHERE number = 1").await;
    assert!(found.iter().any(|wrong| wrong.contains("changed behind the journal's back")), "{found:?}");
    by_hand("UPDATE people SET name = 'member 17' WHERE number = 1").await;
    let stretched =
        "UPDATE journal SET before = json_insert(before, '$.lines[#]', 1) WHERE did = 'erased' AND kind = 'people' AND number = 1";
    let found = by_hand(stretched).await;
    assert!(found.iter().any(|wrong| wrong.contains("does not fit together")), "{found:?}");
}

#[tokio::test]
async fn a_name_is_not_erased_before_its_time() {
    let (mut farm, _) = household().await;
    farm.clock("2029-05-14T12:00");
    let kept = "The rules you follow have it kept until Mon 14 May 2029: 3 years";
    farm.visit(Owner, "/people/M17/erase").await.says("Not yet.").says(kept);
    farm.submit(Owner, "/people/M17/erase", &[("why", "they asked"), ("step", "erase")]).await.came_with(422).says(kept);
    farm.visit(Owner, "/people/M18/erase").await.says("M18 Barnaby Twill has not left.");
    farm.visit(Helper, "/people/M17/erase").await.came_with(403);
    farm.clock("2029-05-15T12:00");
    farm.submit(Owner, "/people/M17/erase", &[("why", " "), ("step", "erase")]).await.came_with(422).says("Say in a few words why");
    farm.visit(Owner, "/people/M17").await.says("Orla Tremont");
    // Without a rule that says how long, nobody can say that it is over.
    let silent = Farm::new().await;
    let left = [
        ("label", "M17"),
        ("name", "Orla Tremont"),
        ("sort", "member"),
        ("channel", "herdshare"),
        ("since", "2020-01-02"),
        ("until", "2020-03-01"),
    ];
    silent.keep("people", &left).await;
    silent.visit(Owner, "/people/M17/erase").await.says("No rule you follow says how many years records are kept");
}

/// Somebody who has milk of a call-back that is still open may have to be rung again; once it is closed their name may go, and they
/// stay on its list all the same.
#[tokio::test]
async fn nobody_is_erased_out_of_an_open_call_back() {
    let (farm, lot) = household().await;
    let call_back = [("at", "2026-05-14T11:30"), ("sort", "call-back"), ("because", "illness")];
    let number = farm.keep("callbacks", &call_back).await.to_string();
    let called = [("callback", number.as_str()), ("at", "2026-05-14T11:30"), ("lot", lot.as_str()), ("tie", "certain")];
    farm.keep("called", &[called.as_slice(), &[("because", "is the lot asked about"), ("stands", "called back")]].concat()).await;
    farm.visit(Owner, "/people/M17/erase").await.says("which is still open");
    let closed = [("callback", number.as_str()), ("at", "2026-05-16T11:30"), ("sort", "closed"), ("says", "over"), ("signed", "Mina")];
    farm.keep("courses", &closed).await;
    farm.visit(Owner, "/people/M17/erase").await.never_says("which is still open");
    erase(&farm).await;
    farm.visit(Owner, &format!("/callbacks/{number}/people")).await.says("member 17");
    farm.visit(Owner, &format!("/callbacks/{number}/people/h1")).await.says("erased on request");
}
