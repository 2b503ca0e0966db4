//! A dead machine: the words of the README, run as they stand in an empty folder, bring everything back. And what is no good copy
//! leaves nothing behind.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test may fail loudly")]

use crate::{
    documents,
    farm::{Farm, PASSWORD},
    program::{Program, run, said, tallypail},
};
use sqlx::{ConnectOptions, Connection, sqlite::SqliteConnectOptions};
use std::{
    collections::BTreeSet,
    fs,
    io::Write,
    path::Path,
    process::{Command, Stdio},
};
use tallypail::{
    paper::folder,
    store::{Ledger, backup, check, records},
    trade::{book::Book, copies},
    web::visitor::Role,
};

/// The commands in the README's fenced block after a line that begins with these words.
fn words_of(mark: &str) -> Vec<Vec<String>> {
    let readme = fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/README.md")).unwrap();
    let (_, rest) = readme.split_once(&format!("<!-- {mark}")).unwrap_or_else(|| panic!("no block “{mark}” in the README"));
    let block = rest.split_once("```\n").unwrap().1.split_once("```").unwrap().0;
    let lines: Vec<Vec<String>> = block.lines().map(|line| line.split_whitespace().map(str::to_owned).collect()).collect();
    assert!(lines.len() > 2 && lines.iter().all(|line| line[0] == "tallypail"), "{block}");
    lines
}

/// Runs such commands in a folder, types the password where it is asked for, and gives back the program that serves at the end.
fn follow(folder: &Path, lines: &[Vec<String>]) -> Program {
    let ready = |line: &[String]| -> Command {
        let mut command = tallypail(folder);
        // Only where it listens is not the README's: the usual port may be taken here.
        command.args(&line[1..]).env("TALLYPAIL_LISTEN", "127.0.0.1:0");
        command
    };
    let (last, before) = lines.split_last().unwrap();
    for line in before {
        let mut running = ready(line).stdin(Stdio::piped()).stdout(Stdio::null()).stderr(Stdio::piped()).spawn().unwrap();
        // A command that reads nothing may be gone already.
        let _ = running.stdin.take().unwrap().write_all(format!("{PASSWORD}\n").as_bytes());
        said(&running.wait_with_output().unwrap(), true);
    }
    assert_eq!(last.last().map(String::as_str), Some("serve"));
    Program::begin(ready(last))
}

async fn book(ledger: &Ledger) -> Book {
    let mut db = ledger.read().await.unwrap();
    assert_eq!(check::wrongs(&mut db).await.unwrap(), Vec::<String>::new());
    records::book(&mut db).await.unwrap()
}

/// The sample farm with a lab's paper in it and a struck record.
async fn farm_with_a_paper() -> Farm {
    let farm = Farm::sample().await;
    let sample = farm.list("samples").await[0].number;
    documents::send(&farm, Role::Owner, sample, "plate count.pdf", b"%PDF-1.4\nferrier valley\n%%EOF\n").await.came_with(303);
    assert!(!farm.list("documents").await.is_empty());
    farm
}

#[tokio::test]
async fn the_readmes_words_restore_a_copy_on_an_empty_machine() {
    let farm = farm_with_a_paper().await;
    let (machine, lines) = (tempfile::tempdir().unwrap(), words_of("a copy, restored"));
    let name = lines[0].last().unwrap();
    let zone = farm.ways().await.zone;
    assert_eq!(name, &format!("stick/{}", copies::called("Tansyditch Farm", farm.now, zone)), "the README names a copy as it is called");
    fs::create_dir(machine.path().join("stick")).unwrap();
    backup::write(&farm.ledger, &machine.path().join(name), farm.now).await.unwrap();
    let before = fs::read(machine.path().join(name)).unwrap();

    let program = follow(machine.path(), &lines);
    program.sign_in();
    program.kill();
    let restored = Ledger::open(&machine.path().join("farm.ledger")).await.unwrap();
    let (here, there) = (book(&farm.ledger).await, book(&restored).await);
    assert!(!here.contents.is_empty() && here.contents == there.contents, "the documents' bytes differ");
    assert!(here == there, "the restored records differ");
    assert!(fs::read(machine.path().join(name)).unwrap() == before, "the copy was changed");
}

#[tokio::test]
async fn the_readmes_words_take_in_a_folder_on_an_empty_machine() {
    let farm = farm_with_a_paper().await;
    let (machine, lines) = (tempfile::tempdir().unwrap(), words_of("a farm folder, taken in"));
    let stick = machine.path().join("stick");
    fs::create_dir(&stick).unwrap();
    let out = tallypail(machine.path()).arg("--ledger").arg(farm.file()).args(["export", "stick/farm-folder"]).output().unwrap();
    said(&out, true);
    let program = follow(machine.path(), &lines);
    program.sign_in();
    program.kill();
    let restored = Ledger::open(&machine.path().join("farm.ledger")).await.unwrap();
    let (here, there) = (book(&farm.ledger).await, book(&restored).await);
    assert!(!here.contents.is_empty() && here.contents == there.contents, "the documents' bytes differ");
    assert!(folder::write(&here) == folder::write(&there), "the folder differs");
}

#[tokio::test]
async fn a_restored_ledger_says_what_it_holds_and_nobody_is_signed_in() {
    let farm = Farm::new().await;
    let (machine, copy) = (tempfile::tempdir().unwrap(), farm.folder.path().join("copy.ledger"));
    backup::write(&farm.ledger, &copy, farm.now).await.unwrap();
    let copy = copy.display().to_string();
    let told = said(&run(machine.path(), &["--ledger", "farm.ledger", "restore", &copy]), true);
    let size = book(&farm.ledger).await.size();
    assert!(told.contains(&format!("farm.ledger holds {size} records, as it stood on 14 May 2026, 12:00")), "{told}");
    assert!(told.contains("Passwords and PINs came along"), "{told}");
    let mut db = SqliteConnectOptions::new().filename(machine.path().join("farm.ledger")).connect().await.unwrap();
    let (sessions, visits, hands): (i64, i64, i64) =
        sqlx::query_as("SELECT (SELECT count(*) FROM sessions), (SELECT count(*) FROM visits), (SELECT count(*) FROM hands)")
            .fetch_one(&mut db)
            .await
            .unwrap();
    assert_eq!((sessions, visits, hands), (0, 0, 2));
    db.close().await.unwrap();

    // Never over a ledger, nor beside what is left of one.
    let before = fs::read(machine.path().join("farm.ledger")).unwrap();
    let told = said(&run(machine.path(), &["--ledger", "farm.ledger", "restore", &copy]), false);
    assert!(told.contains("farm.ledger is there already") && told.contains("Name a new file"), "{told}");
    assert!(fs::read(machine.path().join("farm.ledger")).unwrap() == before);
    fs::write(machine.path().join("other.ledger-wal"), "left of another").unwrap();
    let told = said(&run(machine.path(), &["--ledger", "other.ledger", "restore", &copy]), false);
    assert!(told.contains("other.ledger-wal is there already"), "{told}");
}

/// A copy by hand of a ledger in use lies in two files: what was written last is in the log.
#[tokio::test]
async fn a_copy_made_by_hand_is_restored_with_the_log_beside_it() {
    let farm = Farm::new().await;
    farm.submit(Role::Owner, "/stop", &[("what", "cow Wren"), ("reason", "a hot quarter")]).await.came_with(303);
    let machine = tempfile::tempdir().unwrap();
    for ending in ["", "-wal"] {
        fs::copy(format!("{}{ending}", farm.file().display()), machine.path().join(format!("copy.ledger{ending}"))).unwrap();
    }
    said(&run(machine.path(), &["--ledger", "farm.ledger", "restore", "copy.ledger"]), true);
    let restored = Ledger::open(&machine.path().join("farm.ledger")).await.unwrap();
    assert!(book(&restored).await == book(&farm.ledger).await);
}

/// Damaged, foreign, empty, cut short, not there, a folder, of a newer form, and changed behind the journal's back.
#[tokio::test]
async fn what_is_no_good_copy_gets_a_sentence_and_leaves_nothing() {
    let farm = Farm::sample().await;
    let stick = tempfile::tempdir().unwrap();
    let file = |name: &str| stick.path().join(name);
    backup::write(&farm.ledger, &file("good.ledger"), farm.now).await.unwrap();
    let good = fs::read(file("good.ledger")).unwrap();
    let mut damaged = good.clone();
    // Every page from the third on, but for its first bytes.
    for page in damaged.chunks_mut(4096).skip(2) {
        page[8..2000].fill(0x5a);
    }
    fs::write(file("damaged.ledger"), damaged).unwrap();
    fs::write(file("short.ledger"), &good[..good.len() / 2]).unwrap();
    fs::write(file("letter.txt"), "Dear Mina, the hay comes on Thursday. ".repeat(200)).unwrap();
    fs::write(file("empty.ledger"), "").unwrap();
    fs::create_dir(file("folder")).unwrap();
    for (name, sql) in [
        ("newer.ledger", "INSERT INTO _sqlx_migrations SELECT 99, 'later', installed_on, 1, checksum, 0 FROM _sqlx_migrations LIMIT 1"),
        ("changed.ledger", "UPDATE lots SET half_gallons = half_gallons + 1 WHERE number = 1"),
    ] {
        fs::copy(file("good.ledger"), file(name)).unwrap();
        let mut db = SqliteConnectOptions::new().filename(file(name)).connect().await.unwrap();
        sqlx::raw_sql(sql).execute(&mut db).await.unwrap();
        db.close().await.unwrap();
    }
    for (name, says) in [
        ("damaged.ledger", "Nothing was restored."),
        ("short.ledger", "Nothing was restored."),
        ("letter.txt", "is no Tallypail ledger"),
        ("empty.ledger", "it is empty"),
        ("folder", "There is no copy at"),
        ("gone.ledger", "There is no copy at"),
        ("newer.ledger", "written by a newer Tallypail"),
        ("changed.ledger", "behind the journal's back"),
    ] {
        let machine = tempfile::tempdir().unwrap();
        let before = fs::read(file(name)).ok();
        let told = said(&run(machine.path(), &["--ledger", "farm.ledger", "restore", &file(name).display().to_string()]), false);
        assert!(told.contains(says) && told.contains(name) && !told.contains(".half"), "{name}: {told}");
        let left: BTreeSet<_> = fs::read_dir(machine.path()).unwrap().map(|own| own.unwrap().file_name()).collect();
        assert!(left.is_empty(), "{name} left {left:?}");
        assert!(fs::read(file(name)).ok() == before, "{name} was changed");
    }
}

/// An older copy is brought to the newest form on the way, and no second copy of it is left beside the ledger.
#[tokio::test]
async fn a_copy_of_an_older_form_is_brought_up_to_date() {
    let machine = tempfile::tempdir().unwrap();
    crate::migrations::old_ledger(&machine.path().join("old.ledger"), 5).await;
    let told = said(&run(machine.path(), &["--ledger", "farm.ledger", "restore", "old.ledger"]), true);
    assert!(told.contains("Restored and checked"), "{told}");
    let left: BTreeSet<String> = fs::read_dir(machine.path()).unwrap().map(|own| own.unwrap().file_name().into_string().unwrap()).collect();
    assert_eq!(left, ["farm.ledger", "old.ledger"].map(str::to_owned).into());
    said(&run(machine.path(), &["--ledger", "farm.ledger", "check"]), true);
}
