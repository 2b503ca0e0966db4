//! A consistent copy of the ledger while it is in use, opened and checked before it counts as a copy.

use super::{
    Failure, Ledger, check,
    place::{beside, on_the_disk},
};
use crate::trade::{
    copies::{HALF, Made, is_a_copy, is_half},
    when::Moment,
};
use sqlx::{ConnectOptions, Connection, SqliteConnection, sqlite::SqliteConnectOptions};
use std::{io, path::Path};

/// Writes a copy, opens it, checks it, and notes it in the ledger. Gives back how many journal lines it holds.
///
/// It is written under another name and given its own only when it was found whole and is on the disk, so that whatever bears
/// a copy's name is one.
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
    ledger.still_there()?;
    let half = beside(to, HALF);
    sweep_away(&half);
    let written = whole(ledger, &half, to).await;
    if written.is_err() {
        sweep_away(&half);
    }
    let lines = written?;
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

async fn whole(ledger: &Ledger, half: &Path, to: &Path) -> Result<i64, Failure> {
    let no_copy = |error: &dyn std::fmt::Display| {
        Failure::File(format!("The copy {} could not be written: {error}. Check the folder and the room on the disk.", to.display()))
    };
    let mut reading = ledger.copier().await?;
    // VACUUM INTO reads one consistent state, however much is being written meanwhile.
    let copied = sqlx::query("VACUUM INTO ?").bind(half.display().to_string()).execute(&mut reading).await;
    reading.close().await?;
    copied.map_err(|error| no_copy(&error))?;
    let mut copy = SqliteConnectOptions::new().filename(half).read_only(true).connect().await?;
    let wrongs = check::wrongs(&mut copy).await?;
    let lines: i64 = sqlx::query_scalar("SELECT count(*) FROM journal").fetch_one(&mut copy).await?;
    copy.close().await?;
    if let Some(first) = wrongs.first() {
        return Err(Failure::File(format!(
            "The copy was written, but it does not check: {first} Run tallypail check on the ledger itself."
        )));
    }
    named_for_good(half, to).await.map_err(|error| no_copy(&error))?;
    Ok(lines)
}

/// Gives a file that is whole its name: its bytes are on the disk before, and the name after.
///
/// # Errors
/// When something has that name already, or the disk fails.
pub async fn named_for_good(half: &Path, to: &Path) -> io::Result<()> {
    on_the_disk(half).await?;
    if to.exists() {
        return Err(io::Error::new(io::ErrorKind::AlreadyExists, "something of that name came there meanwhile"));
    }
    tokio::fs::rename(half, to).await?;
    match to.parent().filter(|folder| !folder.as_os_str().is_empty()) {
        Some(folder) => on_the_disk(folder).await,
        None => on_the_disk(Path::new(".")).await,
    }
}

/// Takes away what is half written, with whatever SQLite put beside it. What cannot be taken away is no copy all the same.
pub fn sweep_away(half: &Path) {
    for more in ["", "-journal", "-wal", "-shm"] {
        let _ = std::fs::remove_file(beside(half, more));
    }
}

/// When the last good copy was made. One that lies ahead of the clock counts only where there is no other.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn last(db: &mut SqliteConnection, now: Moment) -> Result<Option<Moment>, Failure> {
    let asked = "SELECT coalesce((SELECT max(at) FROM backups WHERE at <= ?), (SELECT at FROM backups ORDER BY rowid DESC LIMIT 1))";
    let at: Option<i64> = sqlx::query_scalar(asked).bind(now.in_seconds()).fetch_one(db).await?;
    Ok(at.map(Moment::seconds))
}

/// The copies in a folder that this ledger noted as good and that bear the name of one made by itself, in the order they were
/// made. Whatever else lies there is somebody else's.
///
/// # Errors
/// When the folder or the ledger cannot be read.
pub async fn there(db: &mut SqliteConnection, folder: &Path) -> Result<Vec<Made>, Failure> {
    let names = names(folder).await?;
    let noted: Vec<(i64, String)> = sqlx::query_as("SELECT at, file FROM backups ORDER BY rowid").fetch_all(db).await?;
    let mut made: Vec<Made> = Vec::new();
    for (at, file) in noted {
        let name = Path::new(&file).file_name().map(|own| own.to_string_lossy().into_owned()).unwrap_or_default();
        if is_a_copy(&name) && names.contains(&name) && made.iter().all(|own| own.name != name) {
            made.push(Made { at: Moment::seconds(at), name });
        }
    }
    Ok(made)
}

/// The names of the files in a folder for copies.
///
/// # Errors
/// When it is not there or cannot be read: a sentence that says what may have happened to it.
pub async fn names(folder: &Path) -> Result<Vec<String>, Failure> {
    let no_folder = |error: io::Error| {
        Failure::File(format!(
            "The folder for copies, {}, cannot be read: {error}. Put the stick in, or make the folder on it: it is never made by itself, because where a stick is missing the copies would end on this machine.",
            folder.display()
        ))
    };
    let mut entries = tokio::fs::read_dir(folder).await.map_err(no_folder)?;
    let mut names = Vec::new();
    while let Some(entry) = entries.next_entry().await.map_err(no_folder)? {
        if entry.file_type().await.is_ok_and(|own| own.is_file()) {
            names.push(entry.file_name().to_string_lossy().into_owned());
        }
    }
    Ok(names)
}

/// Takes away what copies of this farm were left half written in a folder.
///
/// # Errors
/// When the folder cannot be read.
pub async fn clear_halves(folder: &Path, farm: &str) -> Result<(), Failure> {
    for name in names(folder).await?.iter().filter(|name| is_half(name, farm)) {
        let _ = tokio::fs::remove_file(folder.join(name)).await;
    }
    Ok(())
}
