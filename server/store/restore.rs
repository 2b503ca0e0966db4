//! Making a ledger of a copy again, on this machine or on another: all of it, or nothing.

use super::{
    Failure, Ledger,
    backup::{named_for_good, sweep_away},
    check,
    place::{Serving, beside},
    records, written_in,
};
use crate::trade::{copies::HALF, when::Moment};
use sqlx::SqliteConnection;
use std::path::Path;

/// What was restored.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Restored {
    /// How many records.
    pub records: usize,
    /// When the last change in it was written; nothing when there is none.
    pub until: Option<Moment>,
}

/// Makes a ledger of a copy. The copy is only read.
///
/// # Errors
/// When there is a ledger already, the copy is none, is damaged, or was written by a newer program: the sentence says which,
/// and nothing is left behind.
pub async fn restore(copy: &Path, to: &Path) -> Result<Restored, Failure> {
    if let Some(there) = [to.to_owned(), beside(to, "-wal"), beside(to, "-journal")].into_iter().find(|own| own.exists()) {
        return Err(Failure::File(format!(
            "{} is there already, and nothing is ever restored over a ledger. Name a new file with --ledger.",
            there.display()
        )));
    }
    if !copy.is_file() {
        return Err(Failure::File(format!("There is no copy at {}. Give the place of the file itself.", copy.display())));
    }
    if Serving::is_served(copy) {
        return Err(Failure::File(format!(
            "{} is no copy but a ledger that is being served. Make a copy of it with tallypail backup, and restore that.",
            copy.display()
        )));
    }
    let half = beside(to, HALF);
    sweep_away(&half);
    let restored = from_half(copy, &half, to).await;
    if restored.is_err() {
        sweep_away(&half);
    }
    restored
}

async fn from_half(copy: &Path, half: &Path, to: &Path) -> Result<Restored, Failure> {
    let no_room = |error: std::io::Error| {
        Failure::File(format!(
            "{} could not be copied to {}: {error}. Check that folder and the room on the disk.",
            copy.display(),
            to.display()
        ))
    };
    tokio::fs::copy(copy, half).await.map_err(no_room)?;
    writable(half).await.map_err(no_room)?;
    // A copy that somebody made by hand has its last changes, or what is to be taken back of them, in a file beside it.
    for more in ["-wal", "-journal"].into_iter().filter(|more| beside(copy, more).exists()) {
        tokio::fs::copy(beside(copy, more), beside(half, more)).await.map_err(no_room)?;
        writable(&beside(half, more)).await.map_err(no_room)?;
    }
    let restored = read(half).await.map_err(|failure| {
        let (says, half, copy) = (failure.to_string(), half.display().to_string(), copy.display().to_string());
        Failure::File(format!("Nothing was restored. {}", says.replace(&half, &copy)))
    })?;
    named_for_good(half, to).await.map_err(no_room)?;
    Ok(restored)
}

/// A copy may come from a medium that nothing can be written to.
async fn writable(file: &Path) -> std::io::Result<()> {
    let mut may = tokio::fs::metadata(file).await?.permissions();
    if may.readonly() {
        #[cfg(unix)]
        std::os::unix::fs::PermissionsExt::set_mode(&mut may, 0o600);
        #[cfg(not(unix))]
        may.set_readonly(false);
        tokio::fs::set_permissions(file, may).await?;
    }
    Ok(())
}

/// Opens what was copied, brings it to the newest form, ends what does not belong to this machine, and checks all of it.
async fn read(half: &Path) -> Result<Restored, Failure> {
    if written_in(half).await? == 0 {
        return Err(Failure::File(format!("{} is no Tallypail ledger: it is empty.", half.display())));
    }
    let ledger = Ledger::open_restored(half).await?;
    let mut tx = ledger.begin().await?;
    for emptied in ["DELETE FROM sessions", "DELETE FROM visits"] {
        sqlx::query(emptied).execute(&mut *tx).await?;
    }
    tx.commit().await?;
    let mut db = ledger.read().await?;
    let (wrongs, restored) = (check::wrongs(&mut db).await?, counted(&mut db).await?);
    drop(db);
    ledger.close().await;
    if let Some(first) = wrongs.first() {
        return Err(Failure::File(format!(
            "{} is not whole: {first} ({} thing{} wrong). Take an older copy.",
            half.display(),
            wrongs.len(),
            if wrongs.len() == 1 { "" } else { "s" }
        )));
    }
    if beside(half, "-wal").metadata().is_ok_and(|log| log.len() > 0) {
        return Err(Failure::File(format!("{} could not be put together with the log beside it. Try once more.", half.display())));
    }
    Ok(restored)
}

async fn counted(db: &mut SqliteConnection) -> Result<Restored, Failure> {
    let until: Option<i64> = sqlx::query_scalar("SELECT at FROM journal ORDER BY seq DESC LIMIT 1").fetch_optional(&mut *db).await?;
    Ok(Restored { records: records::book(db).await?.size(), until: until.map(Moment::seconds) })
}
