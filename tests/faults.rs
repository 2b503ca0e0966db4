//! What breaks around the program: a disk that is full, fails, or may only be read; a ledger that was moved away; a second program; a
//! clock that jumps. Each gets a sentence that says what to do, nothing acknowledged is lost, and the ledger checks afterwards.
//!
//! Sources: SQLite's documentation, "Result and Error Codes"; setrlimit(2): a write beyond RLIMIT_FSIZE fails with EFBIG where
//! SIGXFSZ is ignored, which SQLite takes as it takes any write that the disk refuses; mount_namespaces(7) for a disk of the test's own.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test may fail loudly")]

use crate::{
    farm::{Farm, at},
    program::{Answer, Program, ask, run, said, tallypail},
};
use sqlx::{ConnectOptions, Connection, SqliteConnection, sqlite::SqliteConnectOptions};
use std::{
    fs,
    io::Write,
    path::{Path, PathBuf},
    process::{Command, Stdio},
};
use tallypail::{
    store::{check, place::Serving},
    trade::when::Moment,
    web::{secret, visitor::Role},
};
use tempfile::TempDir;

/// A closed ledger in a folder of its own.
async fn ledger() -> (TempDir, PathBuf) {
    let farm = Farm::new().await;
    farm.ledger.close().await;
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("farm.ledger");
    fs::copy(farm.file(), &file).unwrap();
    (folder, file)
}

async fn raw(file: &Path) -> SqliteConnection {
    SqliteConnectOptions::new().filename(file).connect().await.unwrap()
}

async fn whole(farm: &Farm) {
    assert_eq!(check::wrongs(&mut farm.ledger.read().await.unwrap()).await.unwrap(), Vec::<String>::new());
}

/// Somebody at a program's page.
struct Guest<'a> {
    program: &'a Program,
    known: (String, String),
}

impl Guest<'_> {
    fn of(program: &Program) -> Guest<'_> {
        assert!(!program.address.is_empty(), "{}", program.said());
        Guest { program, known: program.sign_in() }
    }

    fn holds(&self, entry: &str) -> Answer {
        let reason = "a hot quarter ".repeat(12);
        let fields = [("seal", self.known.1.as_str()), ("entry", entry), ("what", "cow Wren"), ("reason", &reason)];
        ask(&self.program.address, "POST", "/stop", &self.known.0, &fields).unwrap()
    }

    #[track_caller]
    fn is_told(&self, entry: &str, status: u16, says: &[&str]) {
        let answer = self.holds(entry);
        assert_eq!(answer.status, status, "{}{}", self.program.said(), answer.text);
        for own in says {
            assert!(answer.text.contains(own), "no “{own}” in {}", answer.text);
        }
    }
}

async fn holds_in(file: &Path, entry: &str) -> i64 {
    let mut db = SqliteConnectOptions::new().filename(file).read_only(true).connect().await.unwrap();
    sqlx::query_scalar("SELECT count(*) FROM holds WHERE entry = ?").bind(entry).fetch_one(&mut db).await.unwrap()
}

const HOLD: [(&str, &str); 2] = [("what", "cow Wren"), ("reason", "a hot quarter")];

/// As far as SQLite is concerned the disk is full when the ledger may grow no more.
#[tokio::test]
async fn a_full_disk_is_told_and_loses_nothing() {
    let farm = Farm::new().await;
    let limit = async |pages: &'static str| {
        let mut tx = farm.ledger.begin().await.unwrap();
        sqlx::raw_sql(pages).execute(&mut *tx).await.unwrap();
        tx.commit().await.unwrap();
    };
    limit("PRAGMA max_page_count = 1").await;
    let entry = secret::entry();
    let mut status = 303;
    // The pages there are take some more holds.
    for _ in 0..400 {
        if status == 303 {
            let reason = "a hot quarter ".repeat(14);
            status = farm.submit(Role::Owner, "/stop", &[HOLD[0], ("reason", &reason)]).await.status;
        }
    }
    assert_eq!(status, 507);
    // SQLite took that transaction back by itself, so another connection writes from here on, and knows of no limit yet.
    limit("PRAGMA max_page_count = 1").await;
    let kept = farm.list("holds").await.len();
    let page = farm.submit(Role::Owner, "/stop", &[HOLD[0], ("reason", &"flakes ".repeat(25)), ("entry", &entry)]).await;
    page.came_with(507).says("The disk is full").says("Nothing was kept").says("Write it on paper");
    farm.visit(Role::Owner, "/stop").await.came_with(200);
    assert_eq!(farm.list("holds").await.len(), kept);
    whole(&farm).await;
    limit("PRAGMA max_page_count = 1000000").await;
    farm.submit(Role::Owner, "/stop", &[HOLD[0], ("reason", &"flakes ".repeat(25)), ("entry", &entry)]).await.came_with(303);
    assert_eq!(farm.list("holds").await.len(), kept + 1);
    whole(&farm).await;
}

/// A real disk of four megabytes, filled to the brim while the program runs. It needs a name space of its own, which some machines
/// do not give to everybody.
#[cfg(target_os = "linux")]
#[tokio::test]
async fn a_real_disk_that_fills_up_is_told_and_loses_nothing() {
    if !Command::new("unshare").args(["-rm", "true"]).stderr(Stdio::null()).status().is_ok_and(|own| own.success()) {
        println!("not tried: this machine gives no name space to mount a disk in");
        return;
    }
    let (folder, file) = ledger().await;
    let disk = folder.path().join("disk");
    fs::create_dir(&disk).unwrap();
    let mut command = Command::new("unshare");
    let words =
        "mount -t tmpfs -o size=4m none disk && cp farm.ledger disk/ && exec \"$0\" --ledger disk/farm.ledger serve --listen 127.0.0.1:0";
    command.args(["-rm", "sh", "-c", words, env!("CARGO_BIN_EXE_tallypail")]).current_dir(folder.path()).env_remove("TALLYPAIL_SMTP");
    let program = Program::begin(command);
    let guest = Guest::of(&program);
    guest.is_told(&secret::entry(), 303, &[]);
    // The disk as that program sees it.
    let seen = PathBuf::from(format!("/proc/{}/root", program.number())).join(disk.strip_prefix("/").unwrap());
    let mut filling = fs::File::create(seen.join("hay.jpg")).unwrap();
    while filling.write_all(&[7; 4096]).is_ok() {}
    while filling.write_all(&[7]).is_ok() {}
    drop(filling);
    let mut last = (String::new(), 303);
    for _ in 0..100 {
        if last.1 == 303 {
            let entry = secret::entry();
            let status = guest.holds(&entry).status;
            last = (entry, status);
        }
    }
    assert_eq!(last.1, 507);
    guest.is_told(&last.0, 507, &["The disk is full", "Nothing was kept"]);
    assert_eq!(ask(&program.address, "GET", "/stop", &guest.known.0, &[]).unwrap().status, 200);
    // A copy onto the same disk, made where that disk is seen.
    let mut copying = Command::new("nsenter");
    copying.args(["-t", &program.number(), "--user", "--mount", "--preserve-credentials", env!("CARGO_BIN_EXE_tallypail"), "--ledger"]);
    let copied = said(&copying.arg(disk.join("farm.ledger")).arg("backup").arg(disk.join("copy.ledger")).output().unwrap(), false);
    assert!(copied.contains("could not be written") && copied.contains("room on the disk"), "{copied}");
    let left: Vec<String> = fs::read_dir(&seen).unwrap().map(|own| own.unwrap().file_name().into_string().unwrap()).collect();
    assert!(left.iter().all(|own| !own.starts_with("copy")), "a part of a copy was left: {left:?}");
    fs::remove_file(seen.join("hay.jpg")).unwrap();
    guest.is_told(&last.0, 303, &[]);
    for ending in ["", "-wal"] {
        fs::copy(seen.join(format!("farm.ledger{ending}")), folder.path().join(format!("after.ledger{ending}"))).unwrap();
    }
    said(&run(folder.path(), &["--ledger", "after.ledger", "check"]), true);
    assert_eq!(holds_in(&folder.path().join("after.ledger"), &last.0).await, 1);
    drop(file);
}

/// From one moment on every write is refused, as it is on a disk that fails or a file system that the kernel set to reading only;
/// reading goes on.
#[cfg(target_os = "linux")]
#[tokio::test]
async fn a_disk_that_takes_nothing_any_more_is_told_and_loses_nothing() {
    if !Command::new("prlimit").arg("--version").stdout(Stdio::null()).status().is_ok_and(|own| own.success()) {
        println!("not tried: there is no prlimit here");
        return;
    }
    let (folder, file) = ledger().await;
    let mut command = Command::new("bash");
    let words = "trap '' XFSZ; exec \"$0\" --ledger farm.ledger serve --listen 127.0.0.1:0";
    command.args(["-c", words, env!("CARGO_BIN_EXE_tallypail")]).current_dir(folder.path());
    let program = Program::begin(command);
    let guest = Guest::of(&program);
    let (first, second) = (secret::entry(), secret::entry());
    guest.is_told(&first, 303, &[]);
    let limit = |soft: &str| {
        let done = Command::new("prlimit").args(["--pid", &program.number(), &format!("--fsize={soft}:unlimited")]).status().unwrap();
        assert!(done.success());
    };
    limit("1");
    for _ in 0..2 {
        guest.is_told(&second, 503, &["The disk did not answer as it should", "kept only once", "makes a copy first"]);
    }
    assert_eq!(ask(&program.address, "GET", "/stop", &guest.known.0, &[]).unwrap().status, 200);
    limit("unlimited");
    guest.is_told(&second, 303, &[]);
    for entry in [first, second] {
        assert_eq!(holds_in(&file, &entry).await, 1);
    }
    program.kill();
    said(&run(folder.path(), &["--ledger", "farm.ledger", "check"]), true);
}

#[tokio::test]
async fn a_ledger_that_may_only_be_read_is_told() {
    let farm = Farm::new().await;
    let mut tx = farm.ledger.begin().await.unwrap();
    sqlx::raw_sql("PRAGMA query_only = 1").execute(&mut *tx).await.unwrap();
    tx.rollback().await.unwrap();
    let page = farm.submit(Role::Owner, "/stop", &HOLD).await;
    page.came_with(503).says("The ledger cannot be written to").says("make a copy first").says("Write it on paper");
    farm.visit(Role::Owner, "/stop").await.came_with(200);
    assert!(farm.list("holds").await.is_empty());
    whole(&farm).await;
}

/// The kernel's own folder takes no file, whoever asks; and a folder is no ledger.
#[cfg(target_os = "linux")]
#[test]
fn where_no_ledger_can_be_there_is_a_sentence_and_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    let there = folder.path().display().to_string();
    for (ledger, says) in [("/proc/self/farm.ledger", "cannot be opened"), (there.as_str(), "is no Tallypail ledger")] {
        let told = said(&run(folder.path(), &["--ledger", ledger, "serve", "--listen", "127.0.0.1:0"]), false);
        assert!(told.contains(says) && told.contains(ledger) && told.lines().count() == 1, "{told}");
    }
}

/// Moved and put back, deleted, replaced, and its log deleted.
#[tokio::test]
async fn a_ledger_that_was_moved_away_takes_no_more_writing() {
    let (folder, file) = ledger().await;
    let (elsewhere, log) = (folder.path().join("old").with_extension("ledger"), file.with_extension("ledger-wal"));
    let program = Program::serve(&file, &[]);
    let guest = Guest::of(&program);
    let mut kept = vec![secret::entry()];
    guest.is_told(&kept[0], 303, &[]);
    for (from, to) in [(&file, &elsewhere), (&log, &elsewhere)] {
        fs::rename(from, to).unwrap();
        let entry = secret::entry();
        guest.is_told(&entry, 503, &["The ledger is not where it was", "delete nothing", &from.display().to_string(), "Nothing was kept"]);
        fs::write(from, "another file").unwrap();
        guest.is_told(&entry, 503, &["is another file than the one the program opened"]);
        fs::rename(to, from).unwrap();
        guest.is_told(&entry, 303, &[]);
        kept.push(entry);
    }
    for entry in &kept {
        assert_eq!(holds_in(&file, entry).await, 1);
    }
    program.kill();
    said(&run(folder.path(), &["--ledger", "farm.ledger", "check"]), true);
    // Deleted for good: it is said, and nothing that follows is acknowledged.
    let program = Program::serve(&file, &[]);
    let guest = Guest::of(&program);
    fs::remove_file(&file).unwrap();
    guest.is_told(&secret::entry(), 503, &["restore the newest copy"]);
    assert!(!file.exists(), "no new ledger was begun in its place");
}

#[tokio::test]
async fn a_ledger_is_served_once_and_everything_else_goes_on_beside_it() {
    let (folder, file) = ledger().await;
    let program = Program::serve(&file, &[]);
    let guest = Guest::of(&program);
    guest.is_told(&secret::entry(), 303, &[]);
    // By whatever name it is called.
    std::os::unix::fs::symlink(&file, folder.path().join("same.ledger")).unwrap();
    for name in ["farm.ledger", "same.ledger"] {
        let told = said(&run(folder.path(), &["--ledger", name, "serve", "--listen", "127.0.0.1:0"]), false);
        assert!(told.contains(name) && told.contains("is being served already"), "{told}");
    }
    for words in [&["backup", "copy.ledger"][..], &["check"], &["report", "cost"], &["export", "folder"]] {
        said(&run(folder.path(), &[&["--ledger", "farm.ledger"], words].concat()), true);
    }
    let mut hand = tallypail(folder.path());
    let mut typing = hand.args(["--ledger", "farm.ledger", "hand", "Joss", "--role", "helper"]).stdin(Stdio::piped()).spawn().unwrap();
    typing.stdin.take().unwrap().write_all(b"rinse wash acid\n").unwrap();
    assert!(typing.wait().unwrap().success());
    let told = said(&run(folder.path(), &["--ledger", "new.ledger", "restore", "farm.ledger"]), false);
    assert!(told.contains("is being served") && told.contains("tallypail backup"), "{told}");
    guest.is_told(&secret::entry(), 303, &[]);
    assert!(Serving::is_served(&file));
    program.kill();
    assert!(!Serving::is_served(&file), "a killed program gives its ledger up");
    said(&run(folder.path(), &["--ledger", "farm.ledger", "check"]), true);
}

/// A ledger waits five seconds for whoever else is writing (SQLite's busy timeout, as the store sets it).
#[tokio::test]
async fn whoever_else_writes_for_too_long_is_told() {
    let farm = Farm::new().await;
    let mut other = raw(farm.file()).await;
    sqlx::raw_sql("BEGIN IMMEDIATE").execute(&mut other).await.unwrap();
    farm.submit(Role::Owner, "/stop", &HOLD).await.came_with(503).says("Somebody else is writing").says("send it again in a moment");
    sqlx::raw_sql("ROLLBACK").execute(&mut other).await.unwrap();
    other.close().await.unwrap();
    farm.submit(Role::Owner, "/stop", &HOLD).await.came_with(303);
    whole(&farm).await;
}

/// An empty battery sets the clock to 1970: the page says so, a session goes on, and what happened can be written down with its true
/// time, which that clock takes for the future.
#[tokio::test]
async fn a_clock_that_jumps_back_is_told_and_refuses_no_record() {
    let mut farm = Farm::new().await;
    let says = "and the last record was written on 14 May 2026, 12:00";
    for role in [Role::Owner, Role::Helper] {
        farm.visit(role, "/").await.came_with(200).never_says(says);
    }
    farm.now = Moment::seconds(40);
    for role in [Role::Owner, Role::Helper] {
        farm.visit(role, "/").await.came_with(200).says("This machine’s clock says 31 Dec 1969, 19:00").says(says);
    }
    farm.submit(Role::Helper, "/stop", &HOLD).await.came_with(303);
    farm.clock("2026-05-13T12:00");
    farm.keep("holds", &[("at", "2026-05-13T12:00"), ("scope", "cow"), ("cow", "Kettle")]).await;
    farm.clock("2026-05-12T12:00");
    let clean = [("vessel", "Can 1"), ("at", "2026-05-13T12:30"), ("washed", "yes"), ("sanitised", "yes"), ("done_by", "Mina")];
    farm.submit(Role::Owner, "/records/breaks", &clean).await.came_with(303);
    assert_eq!(farm.list("breaks").await.len(), 1);
    // The clock is right again, and what truly lies ahead is refused again.
    farm.clock("2026-05-14T13:00");
    farm.visit(Role::Owner, "/").await.never_says("This machine’s clock");
    let mut ahead = clean;
    ahead[1].1 = "2026-05-15T12:30";
    farm.submit(Role::Owner, "/records/breaks", &ahead).await.came_with(422).says("This has not come yet");
    whole(&farm).await;
}

/// A clock that runs years ahead is not known to; once it is right again, the page says what was written meanwhile.
#[tokio::test]
async fn a_clock_that_jumped_ahead_is_told_once_it_is_right_again() {
    let mut farm = Farm::new().await;
    farm.clock("2031-05-14T12:00");
    farm.submit(Role::Owner, "/stop", &HOLD).await.came_with(303);
    farm.clock("2026-05-14T12:30");
    farm.visit(Role::Helper, "/").await.came_with(200).says("the last record was written on 14 May 2031, 12:00").says("it was wrong then");
    farm.visit(Role::Owner, "/binder/journal").await.came_with(200).says("14 May 2031");
    farm.submit(Role::Owner, "/stop", &[("what", "cow Kettle"), ("reason", "")]).await.came_with(303);
    assert_eq!(farm.list("holds").await.len(), 2);
    assert!(farm.now < at("2026-05-15T00:00"));
    farm.visit(Role::Helper, "/").await.never_says("This machine’s clock");
    whole(&farm).await;
}
