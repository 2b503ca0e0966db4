//! A backup copy: whole while the ledger is being written, never over an old one, and equal when it is opened.
//!
//! Source: SQLite's documentation of VACUUM INTO; restoring is opening the copy, as docs and `tallypail backup --help` say.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::{
    farm::{Farm, at, kind_of},
    program::{run, said},
};
use std::fs;
use tallypail::{
    paper::folder,
    store::{Ledger, backup, check, records},
    trade::{
        records::{Ways, read},
        when::Moment,
    },
    web::secret,
};

async fn keeps_a_cow(ledger: &Ledger, ways: Ways, now: Moment, name: String) {
    let typed = |column: &str| match column {
        "name" => name.clone(),
        "quarters" => "4".to_owned(),
        "since" => "2026-05-01".to_owned(),
        _ => String::new(),
    };
    let cells = read(kind_of("cows"), typed, ways).unwrap();
    let mut tx = ledger.begin().await.unwrap();
    let act = records::act(&mut tx, now, "Mina", "screen").await.unwrap();
    records::keep(&mut tx, kind_of("cows"), &secret::entry(), cells, &act).await.unwrap();
    tx.commit().await.unwrap();
}

#[tokio::test]
async fn a_restored_copy_holds_the_same_records() {
    let farm = Farm::sample().await;
    let copy = farm.folder.path().join("copy.ledger");
    let lines = backup::write(&farm.ledger, &copy, farm.now).await.unwrap();
    assert_eq!(backup::last(&mut farm.ledger.read().await.unwrap(), farm.now).await.unwrap(), Some(farm.now));
    let restored = Ledger::open(&copy).await.unwrap();
    let here = records::book(&mut farm.ledger.read().await.unwrap()).await.unwrap();
    let there = records::book(&mut restored.read().await.unwrap()).await.unwrap();
    assert!(here == there, "the copy's records differ");
    assert!(folder::write(&here) == folder::write(&there));
    let written = here.size() + here.struck.len();
    assert_eq!(lines, i64::try_from(written).unwrap(), "an imported farm has one line for each record and each one struck");
    assert_eq!(check::wrongs(&mut restored.read().await.unwrap()).await.unwrap(), Vec::<String>::new());
}

#[tokio::test]
async fn an_old_copy_is_never_overwritten() {
    let farm = Farm::new().await;
    let copy = farm.folder.path().join("copy.ledger");
    fs::write(&copy, "last week's copy").unwrap();
    let said = backup::write(&farm.ledger, &copy, farm.now).await.unwrap_err().to_string();
    assert!(said.contains("already there") && said.contains("new name"), "{said}");
    assert_eq!(fs::read_to_string(&copy).unwrap(), "last week's copy");
    let own = backup::write(&farm.ledger, farm.file(), farm.now).await.unwrap_err().to_string();
    assert!(own.contains("already there"), "{own}");
    assert_eq!(backup::last(&mut farm.ledger.read().await.unwrap(), farm.now).await.unwrap(), None, "no copy was made, so none is noted");
    let nowhere =
        backup::write(&farm.ledger, &farm.folder.path().join("gone").join("copy.ledger"), farm.now).await.unwrap_err().to_string();
    assert!(nowhere.contains("could not be written") && nowhere.contains("Check the folder"), "{nowhere}");
}

/// A writer keeps two hundred cows, one act each, while five copies are taken: every copy checks, and holds a whole
/// number of acts.
#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn a_copy_taken_while_writing_is_whole() {
    let farm = Farm::new().await;
    let (ledger, ways, now) = (farm.ledger.clone(), farm.ways().await, farm.now);
    let writer = tokio::spawn(async move {
        for nth in 0..200 {
            keeps_a_cow(&ledger, ways, now, format!("Cow {nth}")).await;
        }
    });
    let mut sizes = Vec::new();
    for nth in 0..5 {
        let copy = farm.folder.path().join(format!("copy-{nth}.ledger"));
        let lines = backup::write(&farm.ledger, &copy, at("2026-05-14T12:00")).await.unwrap();
        let restored = Ledger::open(&copy).await.unwrap();
        let mut db = restored.read().await.unwrap();
        assert_eq!(check::wrongs(&mut db).await.unwrap(), Vec::<String>::new(), "copy {nth}");
        let book = records::book(&mut db).await.unwrap();
        assert_eq!(lines, i64::try_from(book.size()).unwrap(), "copy {nth}: a record and its line go together");
        sizes.push(book.size());
    }
    writer.await.unwrap();
    assert!(sizes.is_sorted(), "{sizes:?}");
    assert_eq!(farm.list("cows").await.len(), 203, "no write was lost to a copy");
}

/// Whoever copies the file by hand after a command has all of it: nothing is left in a log beside it. A refused command too.
#[test]
fn after_a_command_the_ledger_is_one_file() {
    let folder = tempfile::tempdir().unwrap();
    let sample = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-data");
    let commands: [(&[&str], bool); 6] = [
        (&["import", sample], true),
        (&["import", sample], false),
        (&["report", "onhand"], true),
        (&["export", "out"], true),
        (&["binder", "bound", "--from", "2026-11-01", "--to", "2026-11-21"], true),
        (&["backup", "copy.ledger"], true),
    ];
    for (words, well) in commands {
        said(&run(folder.path(), &[&["--ledger", "farm.ledger"], words].concat()), well);
        let own = fs::read_dir(folder.path()).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap());
        let beside: Vec<String> = own.filter(|name| name.starts_with("farm.") && name != "farm.ledger").collect();
        assert_eq!(beside, Vec::<String>::new(), "{words:?}");
    }
    said(&run(folder.path(), &["--ledger", "copy.ledger", "check"]), true);
}
