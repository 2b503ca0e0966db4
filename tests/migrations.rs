//! The ledger's forms: each migration is applied in turn onto rows written in the form before it, and nothing is lost.
//!
//! Beside each migration that changes a table stands `tests/migrations/<number>.sql`: rows of every table, as a program of that
//! form wrote them.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::farm::Farm;
use sqlx::{
    AssertSqlSafe, ConnectOptions, Connection, SqliteConnection,
    migrate::{Migration, MigrationType, Migrator},
    sqlite::{SqliteConnectOptions, SqliteJournalMode},
};
use std::{
    fs,
    path::{Path, PathBuf},
};
use tallypail::{
    store::{Ledger, check, records},
    trade::{
        kinds::{KINDS, Kind},
        records::Shape,
    },
};

async fn forms() -> Migrator {
    Migrator::new(Path::new(env!("CARGO_MANIFEST_DIR")).join("migrations")).await.unwrap()
}

async fn raw(file: &Path) -> SqliteConnection {
    SqliteConnectOptions::new().filename(file).create_if_missing(true).foreign_keys(true).connect().await.unwrap()
}

/// The rows as a program of that form wrote them. A form that changes no table has those of the form before: they stand without
/// the names of columns, so a table that did change refuses them.
fn rows_beside(version: i64) -> PathBuf {
    let own = |version: i64| Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("tests/migrations/{version:04}.sql"));
    (1..=version).rev().map(own).find(|rows| rows.exists()).unwrap_or_else(|| own(version))
}

async fn tables(db: &mut SqliteConnection) -> Vec<(String, i64)> {
    sqlx::query_as("SELECT name, strict FROM pragma_table_list WHERE schema = 'main' AND type = 'table' AND name NOT LIKE 'sqlite%' AND name <> '_sqlx_migrations' ORDER BY name")
        .fetch_all(db)
        .await
        .unwrap()
}

async fn count(db: &mut SqliteConnection, table: &str) -> i64 {
    sqlx::query_scalar(AssertSqlSafe(format!("SELECT count(*) FROM {table}"))).fetch_one(db).await.unwrap()
}

/// Makes a ledger of an older form, with the rows a program of that form wrote.
pub async fn old_ledger(file: &Path, version: i64) {
    let until = Migrator::with_migrations(forms().await.iter().filter(|own| own.version <= version).cloned().collect());
    let mut db = raw(file).await;
    until.run(&mut db).await.unwrap();
    let beside = rows_beside(version);
    let rows = fs::read_to_string(&beside).unwrap_or_else(|_| panic!("{} is missing: every form has rows", beside.display()));
    sqlx::raw_sql(AssertSqlSafe(rows)).execute(&mut db).await.unwrap();
    db.close().await.unwrap();
}

/// Every form there has been: a ledger of that form, with its rows, is brought up to the newest and still checks.
#[tokio::test]
async fn every_form_is_brought_up_to_the_newest_with_its_rows() {
    let all: Vec<Migration> = forms().await.iter().cloned().collect();
    for form in &all {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("old.ledger");
        old_ledger(&file, form.version).await;
        let mut db = raw(&file).await;
        let mut before = Vec::new();
        for (table, _) in tables(&mut db).await {
            let rows = count(&mut db, &table).await;
            assert!(rows > 0, "{table} has no row in {}", rows_beside(form.version).display());
            before.push((table, rows));
        }
        db.close().await.unwrap();

        let ledger = Ledger::open(&file).await.unwrap();
        let mut db = ledger.read().await.unwrap();
        assert_eq!(check::wrongs(&mut db).await.unwrap(), Vec::<String>::new(), "from form {}", form.version);
        for (table, rows) in &before {
            // The journal also tells what a later form made of old records: samples in form 2, promises in form 4.
            let now = count(&mut db, table).await;
            assert!(
                now == *rows || form.version < 4 && table == "journal" && now > *rows,
                "{table} from form {}: {now} of {rows}",
                form.version
            );
        }
        for kind in KINDS {
            let had = before.iter().any(|(table, _)| table == kind.name);
            // Every result of form 1 hangs on a bottle since, and every promise of form 3 is a record; no other kind comes of nothing.
            let has = had || form.version == 1 && kind.name == "samples" || form.version < 4 && kind.name == "shares";
            let found = records::list(&mut db, kind).await.unwrap();
            assert_eq!(!found.is_empty(), has, "{} from form {}: {}", kind.name, form.version, found.len());
        }
    }
}

/// Source: SQLite's documentation, "STRICT Tables": only there does a column's type hold.
#[tokio::test]
async fn every_table_is_strict_and_every_link_is_a_foreign_key() {
    let farm = Farm::empty().await;
    let mut db = farm.ledger.read().await.unwrap();
    let tables = tables(&mut db).await;
    assert!(tables.len() > KINDS.len());
    let loose: Vec<&String> = tables.iter().filter(|(_, strict)| *strict == 0).map(|(name, _)| name).collect();
    assert!(loose.is_empty(), "not STRICT: {loose:?}");
    let on: i64 = sqlx::query_scalar("PRAGMA foreign_keys").fetch_one(&mut *db).await.unwrap();
    assert_eq!(on, 1, "foreign keys are off");
    for kind in KINDS {
        let links: Vec<(String, String)> = sqlx::query_as("SELECT \"from\", \"table\" FROM pragma_foreign_key_list(?) ORDER BY 1")
            .bind(kind.name)
            .fetch_all(&mut *db)
            .await
            .unwrap();
        let mut expected: Vec<(String, String)> = kind
            .columns
            .iter()
            .filter_map(|column| match column.shape {
                Shape::Key(target) => Some((column.name.to_owned(), target.to_owned())),
                _ => None,
            })
            .collect();
        expected.sort();
        assert_eq!(links, expected, "{}", kind.name);
    }
}

#[tokio::test]
async fn the_columns_of_a_kind_are_the_columns_of_its_table() {
    let farm = Farm::empty().await;
    let mut db = farm.ledger.read().await.unwrap();
    for kind in KINDS {
        let columns: Vec<(String, String, i64)> =
            sqlx::query_as("SELECT name, type, \"notnull\" FROM pragma_table_info(?)").bind(kind.name).fetch_all(&mut *db).await.unwrap();
        assert_eq!(columns, expected(kind), "{}", kind.name);
    }
}

/// Name, type and NOT NULL of each column a kind's table must have, in order. SQLite calls a primary key nullable.
fn expected(kind: &Kind) -> Vec<(String, String, i64)> {
    let column = |name: &str, holds: &str, must: bool| (name.to_owned(), holds.to_owned(), i64::from(must));
    let own = kind.columns.iter().flat_map(|own| {
        let must = !own.may_be_empty;
        match own.shape {
            Shape::Milk | Shape::Heat => vec![column(own.name, "INTEGER", must), column(&format!("{}_as", own.name), "TEXT", must)],
            Shape::Count(..) | Shape::Money | Shape::Moment | Shape::Key(_) => vec![column(own.name, "INTEGER", must)],
            _ => vec![column(own.name, "TEXT", must)],
        }
    });
    let first = [column("number", "INTEGER", false), column("entry", "TEXT", true)];
    let last = [("written", "INTEGER"), ("who", "TEXT"), ("source", "TEXT"), ("version", "INTEGER")];
    first.into_iter().chain(own).chain(last.map(|(name, holds)| column(name, holds, true))).collect()
}

/// A ledger of the newest form, closed.
async fn closed_ledger() -> (Farm, PathBuf) {
    let farm = Farm::new().await;
    farm.ledger.close().await;
    let file = farm.file().to_owned();
    (farm, file)
}

/// In both of the ways a ledger may lie on the disk: as it is served, and as a backup copy is.
#[tokio::test]
async fn a_ledger_of_a_newer_form_is_refused_and_left_unchanged() {
    for mode in [SqliteJournalMode::Wal, SqliteJournalMode::Delete] {
        let (_farm, file) = closed_ledger().await;
        let mut db = SqliteConnectOptions::new().filename(&file).journal_mode(mode).connect().await.unwrap();
        sqlx::query("INSERT INTO _sqlx_migrations SELECT 99, 'later', installed_on, 1, checksum, 0 FROM _sqlx_migrations LIMIT 1")
            .execute(&mut db)
            .await
            .unwrap();
        db.close().await.unwrap();
        let before = fs::read(&file).unwrap();
        let said = Ledger::open(&file).await.unwrap_err().to_string();
        assert!(said.contains("form 99, written by a newer Tallypail") && said.contains("Nothing was changed"), "{said}");
        assert!(fs::read(&file).unwrap() == before, "the file was changed all the same ({mode:?})");
    }
}

#[tokio::test]
async fn what_is_no_ledger_is_refused_and_left_unchanged() {
    let folder = tempfile::tempdir().unwrap();
    let letter = folder.path().join("letter.txt");
    fs::write(&letter, "Dear Mina, the hay comes on Thursday. ".repeat(200)).unwrap();
    let other = folder.path().join("recipes.sqlite");
    let mut db = raw(&other).await;
    sqlx::query("CREATE TABLE recipes (name TEXT)").execute(&mut db).await.unwrap();
    db.close().await.unwrap();
    for file in [letter, other] {
        let before = fs::read(&file).unwrap();
        let said = Ledger::open(&file).await.unwrap_err().to_string();
        assert!(said.contains("is no Tallypail ledger") && said.contains("Nothing was changed"), "{said}");
        assert!(fs::read(&file).unwrap() == before, "{} was changed", file.display());
    }
    let nowhere = folder.path().join("no-such-folder").join("farm.ledger");
    let said = Ledger::open(&nowhere).await.unwrap_err().to_string();
    assert!(said.contains("cannot be opened") && said.contains("no-such-folder"), "{said}");
}

/// The program's own forms and one more that nobody has written yet.
async fn with_a_later_form(sql: &'static str) -> Migrator {
    let mut all: Vec<Migration> = forms().await.iter().cloned().collect();
    let next = all.iter().map(|form| form.version).max().unwrap() + 1;
    all.push(Migration::new(next, "later".into(), MigrationType::Simple, sqlx::SqlSafeStr::into_sql_str(sql), false));
    Migrator::with_migrations(all)
}

#[tokio::test]
async fn an_older_ledger_is_copied_before_it_is_changed() {
    let (_farm, file) = closed_ledger().await;
    let later = with_a_later_form("ALTER TABLE cows ADD COLUMN horns TEXT; UPDATE cows SET note = 'from the later form';").await;
    let newest = later.iter().map(|form| form.version).max().unwrap();
    Ledger::open_in_form(&file, &later).await.unwrap().close().await;
    let copy = file.with_extension(format!("before-form-{newest}"));
    for (file, note) in [(&copy, None), (&file, Some("from the later form"))] {
        let mut db = raw(file).await;
        let found: Option<String> = sqlx::query_scalar("SELECT note FROM cows WHERE name = 'Wren'").fetch_one(&mut db).await.unwrap();
        assert_eq!(found.as_deref(), note, "{}", file.display());
    }
    let ledger = Ledger::open(&copy).await.unwrap();
    assert_eq!(check::wrongs(&mut ledger.read().await.unwrap()).await.unwrap(), Vec::<String>::new(), "the copy is whole");
}

#[tokio::test]
async fn a_migration_that_fails_leaves_the_ledger_as_it_was() {
    let (_farm, file) = closed_ledger().await;
    let later = with_a_later_form("UPDATE cows SET note = 'half done'; ALTER TABLE no_such_table ADD COLUMN horns TEXT;").await;
    let said = Ledger::open_in_form(&file, &later).await.unwrap_err().to_string();
    assert!(said.contains("could not be brought to form") && said.contains("copy from before"), "{said}");
    let ledger = Ledger::open(&file).await.unwrap();
    let mut db = ledger.read().await.unwrap();
    let half: i64 = sqlx::query_scalar("SELECT count(*) FROM cows WHERE note = 'half done'").fetch_one(&mut *db).await.unwrap();
    assert_eq!(half, 0);
    assert_eq!(check::wrongs(&mut db).await.unwrap(), Vec::<String>::new());
}

/// A program that was killed while a ledger lay there as a copy does, with a rollback journal: what it had half written is taken back.
///
/// Source: SQLite's documentation, "Atomic Commit In SQLite", 4: a hot journal is played back by whoever opens the file next.
#[tokio::test]
async fn what_a_kill_left_half_written_is_taken_back_when_the_ledger_is_opened() {
    let folder = tempfile::tempdir().unwrap();
    let (copy, left) = (folder.path().join("copy.ledger"), folder.path().join("left.ledger"));
    old_ledger(&copy, 5).await;
    let mut db = raw(&copy).await;
    // With hardly any cache, pages go into the file before the end of the transaction, and the journal is synced before they do.
    sqlx::raw_sql("PRAGMA cache_size = 1; BEGIN; UPDATE cows SET note = 'half done'; UPDATE journal SET why = hex(zeroblob(9000));")
        .execute(&mut db)
        .await
        .unwrap();
    for ending in ["", "-journal"] {
        fs::copy(format!("{}{ending}", copy.display()), format!("{}{ending}", left.display())).unwrap();
    }
    db.close().await.unwrap();
    let read_only = async {
        let mut db = SqliteConnectOptions::new().filename(&left).read_only(true).connect().await?;
        sqlx::query_scalar::<_, i64>("SELECT count(*) FROM cows").fetch_one(&mut db).await
    };
    assert!(read_only.await.is_err(), "nothing was left to be taken back, so this test tries nothing");
    let ledger = Ledger::open(&left).await.unwrap();
    let mut db = ledger.read().await.unwrap();
    assert_eq!(check::wrongs(&mut db).await.unwrap(), Vec::<String>::new());
    let half: i64 = sqlx::query_scalar("SELECT count(*) FROM cows WHERE note = 'half done'").fetch_one(&mut *db).await.unwrap();
    assert_eq!(half, 0);
}
