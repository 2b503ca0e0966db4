//! The one room that speaks SQL: the ledger file, and one file of questions for each subject.
//!
//! One connection writes and four read. Every write happens in a transaction that takes the write lock at once, so two
//! phones never half-write over one another; every commit reaches the disk before it is answered.

pub mod backup;
pub mod check;
pub mod costs;
pub mod farm;
pub mod hands;
pub mod herd;
pub mod journal;
pub mod lots;
pub mod milkings;
pub mod people;
pub mod pickups;
pub mod records;
pub mod stops;
pub mod trace;

use sqlx::{
    ConnectOptions, Sqlite, SqliteConnection, SqlitePool, Transaction,
    migrate::Migrator,
    pool::PoolConnection,
    sqlite::{SqliteConnectOptions, SqliteJournalMode, SqlitePoolOptions, SqliteSynchronous},
};
use std::{fmt, path::Path, path::PathBuf, time::Duration};

static FORMS: Migrator = sqlx::migrate!("./migrations");

/// What went wrong in the ledger, as opposed to in what somebody typed.
#[derive(Debug)]
pub enum Failure {
    /// SQLite said no.
    Sql(sqlx::Error),
    /// The file could not be read, written or understood; the sentence says which and what to do.
    File(String),
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Failure::Sql(error) => write!(f, "the ledger could not be read or written: {error}"),
            Failure::File(sentence) => f.write_str(sentence),
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
}

impl Ledger {
    /// Opens the ledger file, making or bringing it up to the newest form first.
    ///
    /// # Errors
    /// When the file cannot be opened, is no ledger, or was written by a newer program.
    pub async fn open(file: &Path) -> Result<Ledger, Failure> {
        let options = SqliteConnectOptions::new()
            .filename(file)
            .create_if_missing(true)
            .journal_mode(SqliteJournalMode::Wal)
            .synchronous(SqliteSynchronous::Full)
            .foreign_keys(true)
            .busy_timeout(Duration::from_secs(5))
            .pragma("trusted_schema", "0")
            .pragma("cache_size", "-16000");
        let no_entry = |error: sqlx::Error| {
            Failure::File(format!(
                "The ledger {} cannot be opened: {error}. Check that the folder is there and may be written to.",
                file.display()
            ))
        };
        let writer = SqlitePoolOptions::new()
            .max_connections(1)
            .idle_timeout(None)
            .max_lifetime(None)
            .connect_with(options.clone())
            .await
            .map_err(no_entry)?;
        bring_up_to_date(&writer, file).await?;
        let reading = options.create_if_missing(false).read_only(true).pragma("query_only", "1");
        let reader = SqlitePoolOptions::new()
            .max_connections(4)
            .idle_timeout(None)
            .max_lifetime(None)
            .connect_with(reading)
            .await
            .map_err(no_entry)?;
        Ok(Ledger { writer, reader, file: file.to_owned() })
    }

    /// A connection that may only read.
    ///
    /// # Errors
    /// When none comes free in time.
    pub async fn read(&self) -> Result<PoolConnection<Sqlite>, Failure> {
        Ok(self.reader.acquire().await?)
    }

    /// A transaction that holds the write lock from its first moment.
    ///
    /// # Errors
    /// When the ledger is busy for more than five seconds.
    pub async fn begin(&self) -> Result<Transaction<'static, Sqlite>, Failure> {
        Ok(self.writer.begin_with("BEGIN IMMEDIATE").await?)
    }

    /// A connection of its own for copying, so that neither readers nor the writer wait for it.
    ///
    /// # Errors
    /// When the file cannot be opened.
    pub async fn copier(&self) -> Result<SqliteConnection, Failure> {
        let options = SqliteConnectOptions::new().filename(&self.file).busy_timeout(Duration::from_secs(5));
        Ok(options.connect().await?)
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

async fn bring_up_to_date(writer: &SqlitePool, file: &Path) -> Result<(), Failure> {
    let newest = FORMS.iter().map(|form| form.version).max().unwrap_or(0);
    let known: Option<i64> =
        sqlx::query_scalar("SELECT count(*) FROM sqlite_master WHERE name = '_sqlx_migrations'").fetch_optional(writer).await?;
    let written: i64 = match known {
        Some(1) => sqlx::query_scalar("SELECT coalesce(max(version), 0) FROM _sqlx_migrations").fetch_one(writer).await?,
        _ => 0,
    };
    if written > newest {
        return Err(Failure::File(format!(
            "The ledger {} is of form {written}, written by a newer Tallypail; this program knows forms up to {newest}. Nothing was changed. Start the newer program.",
            file.display()
        )));
    }
    if written > 0 && written < newest {
        let copy = file.with_extension(format!("before-form-{newest}"));
        sqlx::query("VACUUM INTO ?").bind(copy.display().to_string()).execute(writer).await?;
    }
    FORMS.run(writer).await.map_err(|error| {
        Failure::File(format!(
            "The ledger {} could not be brought to form {newest}: {error}. Its copy from before is beside it.",
            file.display()
        ))
    })
}
