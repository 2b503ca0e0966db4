//! The one room that speaks SQL: the ledger file, and one file of questions for each subject.
//!
//! One connection writes and four read. Every write happens in a transaction that takes the write lock at once, so two
//! phones never half-write over one another; every commit reaches the disk before it is answered.

/// What SQL asks of a hold called `h`: that nothing has lifted it.
macro_rules! stands {
    () => {
        "NOT EXISTS (SELECT 1 FROM lifts WHERE lifts.hold = h.number)"
    };
}

pub mod backup;
pub mod binder;
pub mod books;
pub mod brackets;
pub mod calendar;
pub mod callbacks;
pub mod carried;
pub mod check;
pub mod clocks;
pub mod complaints;
pub mod corrections;
pub mod costs;
pub mod empties;
pub mod erasing;
pub mod events;
pub mod farm;
pub mod forecast;
pub mod hands;
pub mod herd;
pub mod jar;
pub mod journal;
pub mod lab;
pub mod late;
pub mod lotfile;
pub mod lots;
pub mod milkings;
pub mod own;
pub mod packing;
pub mod passes;
pub mod people;
pub mod pickups;
pub mod place;
pub mod post;
pub mod practice;
pub mod records;
pub mod restore;
pub mod results;
pub mod rules;
pub mod stops;
pub mod today;
pub mod trace;
pub mod treated;
pub mod verdict;
pub mod warm;

use crate::trade::{
    copies::HALF,
    jars::Jars,
    lotsheet::Stopped,
    measure::{Scale, Temperature},
    thermometers::IceCheck,
    when::Moment,
};
use serde::de::DeserializeOwned;
use sqlx::{
    Arguments, AssertSqlSafe, ConnectOptions, Connection, Encode, Row, Sqlite, SqliteConnection, SqlitePool, Transaction, Type,
    migrate::Migrator,
    pool::PoolConnection,
    query::Query,
    sqlite::{SqliteArguments, SqliteConnectOptions, SqliteJournalMode, SqlitePoolOptions, SqliteRow, SqliteSynchronous},
};
use std::{fmt, path::Path, path::PathBuf, sync::Arc, time::Duration};

static FORMS: Migrator = sqlx::migrate!("./migrations");

/// Connections that read.
const READERS: u32 = 4;

/// What went wrong in the ledger, as opposed to in what somebody typed.
#[derive(Debug)]
pub enum Failure {
    /// SQLite said no.
    Sql(sqlx::Error),
    /// The file could not be read, written or understood; the sentence says which and what to do.
    File(String),
    /// The file was moved, deleted or replaced while the program had it open; the sentence says which and what to do.
    Moved(String),
}

/// What a ledger that cannot be written to suffers from, where somebody can do something about it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ail {
    /// The disk is full.
    Full,
    /// The file or its folder may not be written to.
    ReadOnly,
    /// Another program holds it.
    Busy,
    /// The disk did not do what it was told.
    Disk,
}

/// What SQLite's answer means, by its primary result code.
///
/// Source: SQLite's documentation, "Result and Error Codes": an extended code carries the primary one in its lowest eight bits.
#[must_use]
pub fn ail(error: &sqlx::Error) -> Option<Ail> {
    let code: i64 = match error {
        sqlx::Error::Database(said) => said.code()?.parse().ok()?,
        // Whoever writes was waited for as long as anybody waits for a page.
        sqlx::Error::PoolTimedOut => return Some(Ail::Busy),
        _ => return None,
    };
    match code & 0xff {
        13 => Some(Ail::Full),
        8 => Some(Ail::ReadOnly),
        5 | 6 => Some(Ail::Busy),
        10 | 14 => Some(Ail::Disk),
        _ => None,
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Failure::Sql(error) => write!(f, "the ledger could not be read or written: {error}"),
            Failure::File(sentence) | Failure::Moved(sentence) => f.write_str(sentence),
        }
    }
}

impl std::error::Error for Failure {}

impl From<sqlx::Error> for Failure {
    fn from(error: sqlx::Error) -> Failure {
        Failure::Sql(error)
    }
}

/// The open ledger.
#[derive(Clone, Debug)]
pub struct Ledger {
    writer: SqlitePool,
    reader: SqlitePool,
    file: PathBuf,
    opened: Arc<place::Opened>,
    costs: Arc<costs::AtHand>,
}

/// What becomes of an older ledger before it is brought to a new form.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Before {
    /// It is copied.
    Copied,
    /// It is a copy itself.
    IsACopy,
}

impl Ledger {
    /// Opens the ledger file, making or bringing it up to the newest form first.
    ///
    /// # Errors
    /// When the file cannot be opened, is no ledger, or was written by a newer program.
    pub async fn open(file: &Path) -> Result<Ledger, Failure> {
        Ledger::open_in_form(file, &FORMS).await
    }

    /// Opens it in the newest of these forms; a test has forms of its own.
    ///
    /// # Errors
    /// As [`Ledger::open`].
    pub async fn open_in_form(file: &Path, forms: &Migrator) -> Result<Ledger, Failure> {
        Ledger::open_as(file, forms, Before::Copied).await
    }

    /// Opens what is itself a copy, so that no other is made of it.
    async fn open_restored(file: &Path) -> Result<Ledger, Failure> {
        Ledger::open_as(file, &FORMS, Before::IsACopy).await
    }

    async fn open_as(file: &Path, forms: &Migrator, before: Before) -> Result<Ledger, Failure> {
        let no_entry = |error: sqlx::Error| {
            Failure::File(format!(
                "The ledger {} cannot be opened: {error}. Check that the folder is there and may be written to.",
                file.display()
            ))
        };
        let (written, newest) = (written_in(file).await?, forms.iter().map(|form| form.version).max().unwrap_or(0));
        if written > newest {
            return Err(Failure::File(format!(
                "The ledger {} is of form {written}, written by a newer Tallypail; this program knows forms up to {newest}. Nothing was changed. Start the newer program.",
                file.display()
            )));
        }
        let options = SqliteConnectOptions::new()
            .filename(file)
            .create_if_missing(true)
            .journal_mode(SqliteJournalMode::Wal)
            .synchronous(SqliteSynchronous::Full)
            .foreign_keys(true)
            .busy_timeout(Duration::from_secs(5))
            .pragma("trusted_schema", "0")
            // A row that has to wait for a free place wakes two threads; most answers fit in this many.
            .row_buffer_size(2048)
            .pragma("cache_size", "-16000");
        let writer = SqlitePoolOptions::new()
            .max_connections(1)
            .idle_timeout(None)
            .max_lifetime(None)
            .connect_with(options.clone())
            .await
            .map_err(no_entry)?;
        if before == Before::Copied && written > 0 && written < newest {
            copy_before(&writer, file, newest).await?;
        }
        bring_up_to_date(&writer, file, forms, newest).await?;
        let reading = options.create_if_missing(false).read_only(true).pragma("query_only", "1");
        let reader = SqlitePoolOptions::new()
            .max_connections(READERS)
            .idle_timeout(None)
            .max_lifetime(None)
            .connect_with(reading)
            .await
            .map_err(no_entry)?;
        // A relative name would mean another file as soon as somebody changed the folder the program stands in.
        let file = std::path::absolute(file).unwrap_or_else(|_| file.to_owned());
        Ok(Ledger { writer, reader, opened: Arc::new(place::Opened::now(&file)), file, costs: Arc::default() })
    }

    /// A connection that may only read.
    ///
    /// # Errors
    /// When none comes free in time, or a new one would open another file than this ledger.
    pub async fn read(&self) -> Result<PoolConnection<Sqlite>, Failure> {
        if self.reader.num_idle() == 0 && self.reader.size() < READERS {
            self.still_there()?;
        }
        Ok(self.reader.acquire().await?)
    }

    /// A transaction that holds the write lock from its first moment.
    ///
    /// # Errors
    /// When the ledger is busy for more than five seconds, or its file is not where it was.
    pub async fn begin(&self) -> Result<Transaction<'static, Sqlite>, Failure> {
        self.still_there()?;
        match self.writer.begin_with("BEGIN IMMEDIATE").await {
            // When the disk fails in the middle, SQLite takes the transaction back by itself, and the connection goes on believing
            // in it. Such a one would never write again, so it is closed and another opened.
            Err(sqlx::Error::InvalidSavePointStatement) => {
                self.writer.acquire().await?.close().await?;
                Ok(self.writer.begin_with("BEGIN IMMEDIATE").await?)
            }
            begun => Ok(begun?),
        }
    }

    /// Fails when the ledger's file was moved, deleted or replaced since it was opened.
    ///
    /// # Errors
    /// What is not where it was, and what to do.
    pub fn still_there(&self) -> Result<(), Failure> {
        self.opened.still_there()
    }

    /// A connection of its own for copying, so that neither readers nor the writer wait for it.
    ///
    /// # Errors
    /// When the file cannot be opened.
    pub async fn copier(&self) -> Result<SqliteConnection, Failure> {
        let options = SqliteConnectOptions::new().filename(&self.file).busy_timeout(Duration::from_secs(5));
        Ok(options.connect().await?)
    }

    /// Writes the whole file anew, so that nothing that was taken out lies on in its free places or in the log beside it.
    ///
    /// # Errors
    /// When there is no room on the disk for a second copy, or somebody else has the file open.
    pub async fn sweep(&self) -> Result<(), Failure> {
        let mut db = self.writer.acquire().await?;
        sqlx::query("VACUUM").execute(&mut *db).await?;
        let (busy, _, _): (i64, i64, i64) = sqlx::query_as("PRAGMA wal_checkpoint(TRUNCATE)").fetch_one(&mut *db).await?;
        if busy == 0 { Ok(()) } else { Err(Failure::File("The ledger is being read, so its log could not be emptied.".to_owned())) }
    }

    /// Where the ledger lies.
    #[must_use]
    pub fn file(&self) -> &Path {
        &self.file
    }

    /// Closes every connection, so that the file is whole on its own.
    pub async fn close(&self) {
        self.reader.close().await;
        self.writer.close().await;
    }
}

/// Which form a file was written in, found out without changing a byte of it: 0 for no file yet.
async fn written_in(file: &Path) -> Result<i64, Failure> {
    if !file.metadata().is_ok_and(|there| there.len() > 0) {
        return Ok(0);
    }
    let no_ledger = |error: &dyn fmt::Display| {
        Failure::File(format!("{} is no Tallypail ledger: {error}. Nothing was changed. Name another file.", file.display()))
    };
    let opened = async |only_read: bool| {
        let options = SqliteConnectOptions::new().filename(file).read_only(only_read).busy_timeout(Duration::from_secs(5));
        let mut db = options.connect().await?;
        let tables: Vec<String> = sqlx::query_scalar("SELECT name FROM sqlite_master WHERE type = 'table'").fetch_all(&mut db).await?;
        Ok::<_, sqlx::Error>((db, tables))
    };
    let (mut db, tables) = match opened(true).await {
        // A program that was killed in the middle of writing left something to be taken back first, which takes writing.
        Err(error) if ail(&error) == Some(Ail::ReadOnly) => opened(false).await,
        opened => opened,
    }
    .map_err(|error| no_ledger(&error))?;
    let ours = tables.iter().any(|name| name == "_sqlx_migrations");
    if !ours && !tables.is_empty() {
        return Err(no_ledger(&"its tables are another program's"));
    }
    let written =
        if ours { sqlx::query_scalar("SELECT coalesce(max(version), 0) FROM _sqlx_migrations").fetch_one(&mut db).await? } else { 0 };
    db.close().await?;
    Ok(written)
}

/// The values of many rows, to be put into a table by one statement.
#[derive(Default)]
struct Values(SqliteArguments);

impl Values {
    /// One more value.
    fn push<'t>(&mut self, value: impl Encode<'t, Sqlite> + Type<Sqlite>) -> Result<(), Failure> {
        self.0.add(value).map_err(|error| Failure::Sql(sqlx::Error::Encode(error)))
    }

    /// The statement. Only one that comes again is remembered by the connection.
    fn into_table(self, table: &str, columns: &[&str], rows: usize, comes_again: bool) -> Query<'static, Sqlite, SqliteArguments> {
        let row = format!("({})", vec!["?"; columns.len()].join(", "));
        let sql = format!("INSERT INTO {table} ({}) VALUES {}", columns.join(", "), vec![row.as_str(); rows].join(", "));
        sqlx::query_with(AssertSqlSafe(sql), self.0).persistent(comes_again)
    }
}

/// Numbers as one bound value: a JSON array.
#[must_use]
pub fn among(numbers: &[i64]) -> String {
    serde_json::json!(numbers).to_string()
}

/// A long list that came as one row of JSON: handed over one by one, rows cost more than all that SQLite does for them.
///
/// # Errors
/// When it is no such list.
pub fn listed<T: DeserializeOwned>(all: &str) -> Result<T, Failure> {
    serde_json::from_str(all).map_err(|error| Failure::File(format!("A list in the ledger cannot be read: {error}. Run tallypail check.")))
}

/// Jars by size from four columns side by side.
///
/// # Errors
/// When a column is no number.
pub fn jars(row: &SqliteRow, first: usize) -> Result<Jars, Failure> {
    Ok(Jars {
        gallons: row.try_get(first)?,
        half_gallons: row.try_get(first + 1)?,
        quarts: row.try_get(first + 2)?,
        pints: row.try_get(first + 3)?,
    })
}

/// When and why a hold was lifted, and by whom, from three columns side by side; nothing while it stands.
///
/// # Errors
/// When a column is not what it should be.
pub fn lift(row: &SqliteRow, first: usize) -> Result<Option<(Moment, String, String)>, Failure> {
    let Some(at) = row.try_get::<Option<i64>, _>(first)? else { return Ok(None) };
    Ok(Some((Moment::seconds(at), row.try_get(first + 1)?, row.try_get(first + 2)?)))
}

/// A hold with its lift, if it has one: what, why, when, by whom, and the three columns of [`lift`].
///
/// # Errors
/// When a column is not what it should be.
pub fn stop(row: &SqliteRow) -> Result<Stopped, Failure> {
    let at = Moment::seconds(row.try_get(2)?);
    Ok(Stopped { what: row.try_get(0)?, reason: row.try_get(1)?, at, who: row.try_get(3)?, lifted: lift(row, 4)? })
}

/// The checks of each thermometer in ice water since a moment, and the last one before it, oldest first: what twenty years of
/// checks said is not read again for this morning's jar.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn ice_checks(db: &mut SqliteConnection, since: Moment) -> Result<Vec<IceCheck>, Failure> {
    let asked = "SELECT thermometer, at, reading_as FROM ice_checks i
         WHERE at >= coalesce((SELECT max(b.at) FROM ice_checks b WHERE b.thermometer = i.thermometer AND b.at <= ?), 0) ORDER BY at, number";
    let rows: Vec<(String, i64, String)> = sqlx::query_as(asked).bind(since.in_seconds()).fetch_all(db).await?;
    let read = |(thermometer, at, typed): (String, i64, String)| {
        let reading = Temperature::parse(&typed, Scale::Fahrenheit).ok()?;
        Some(IceCheck { thermometer, at: Moment::seconds(at), reading })
    };
    Ok(rows.into_iter().filter_map(read).collect())
}

/// Copies an older ledger before it is brought to a new form. A copy that is there already, from a start that was cut short, is
/// never overwritten, and one that was half written is not taken for a copy.
async fn copy_before(writer: &SqlitePool, file: &Path, newest: i64) -> Result<(), Failure> {
    let named =
        |nth: usize| file.with_extension(format!("before-form-{newest}{}", if nth == 0 { String::new() } else { format!("-{nth}") }));
    let copy = (0..).map(named).find(|own| !own.exists()).unwrap_or_else(|| named(0));
    let no_copy = |error: &dyn fmt::Display| {
        Failure::File(format!(
            "Before the ledger is brought to form {newest} it is copied to {}, and that failed: {error}. Nothing was changed.",
            copy.display()
        ))
    };
    let half = place::beside(&copy, HALF);
    backup::sweep_away(&half);
    sqlx::query("VACUUM INTO ?").bind(half.display().to_string()).execute(writer).await.map_err(|error| no_copy(&error))?;
    backup::named_for_good(&half, &copy).await.map_err(|error| no_copy(&error))
}

async fn bring_up_to_date(writer: &SqlitePool, file: &Path, forms: &Migrator, newest: i64) -> Result<(), Failure> {
    forms.run(writer).await.map_err(|error| {
        Failure::File(format!(
            "The ledger {} could not be brought to form {newest}: {error}. Its copy from before is beside it.",
            file.display()
        ))
    })?;
    let mut tx = writer.begin_with("BEGIN IMMEDIATE").await?;
    carried::write_down(&mut tx).await?;
    Ok(tx.commit().await?)
}
