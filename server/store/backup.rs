//! A consistent copy of the ledger while it is in use, opened and checked before it counts as a copy.

use super::{Failure, Ledger, check};
use crate::trade::when::Moment;
use sqlx::Connection;
use std::path::Path;

/// Writes a copy, opens it, checks it, and notes it in the ledger. Gives back how many journal lines it holds.
///
/// # Errors
/// When the file is already there, cannot be written, or the copy does not check.
pub async fn write(ledger: &Ledger, to: &Path, now: Moment) -> Result<i64, Failure> {
    if to.exists() {
        return Err(Failure::File(format!(
            "{} is already there. Give the copy a new name: an old copy is never overwritten.",
            to.display()
        )));
    }
    let mut reading = ledger.copier().await?;
    // VACUUM INTO reads one consistent state, however much is being written meanwhile.
    sqlx::query("VACUUM INTO ?").bind(to.display().to_string()).execute(&mut reading).await.map_err(|error| {
        Failure::File(format!("The copy {} could not be written: {error}. Check the folder and the room on the disk.", to.display()))
    })?;
    reading.close().await?;
    let copy = Ledger::open(to).await?;
    let mut db = copy.read().await?;
    let wrongs = check::wrongs(&mut db).await?;
    let lines: i64 = sqlx::query_scalar("SELECT count(*) FROM journal").fetch_one(&mut *db).await?;
    drop(db);
    copy.close().await;
    if let Some(first) = wrongs.first() {
        return Err(Failure::File(format!(
            "The copy was written, but it does not check: {first} Run tallypail check on the ledger itself."
        )));
    }
    let mut tx = ledger.begin().await?;
    sqlx::query("INSERT INTO backups (at, file, records) VALUES (?, ?, ?)")
        .bind(now.in_seconds())
        .bind(to.display().to_string())
        .bind(lines)
        .execute(&mut *tx)
        .await?;
    tx.commit().await?;
    Ok(lines)
}

/// When the last good copy was made.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn last(db: &mut sqlx::SqliteConnection) -> Result<Option<Moment>, Failure> {
    let at: Option<i64> = sqlx::query_scalar("SELECT max(at) FROM backups").fetch_one(db).await?;
    Ok(at.map(Moment::seconds))
}
