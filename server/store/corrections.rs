//! Correcting, striking and taking back what the ledger holds. Nothing is deleted: what a correction replaces moves to
//! `struck`, and the journal keeps before and after.

use super::{
    Failure,
    journal::{self, may_be_undone},
    records::{Act, Refusal, find, line, looked_up, names, taken, to_array},
};
use crate::trade::{
    kinds::Kind,
    records::{Cell, Record, Remark},
};
use serde_json::json;
use sqlx::{AssertSqlSafe, SqliteConnection};

/// Corrects a record: what was written is struck through and kept beside the new version.
///
/// # Errors
/// Remarks where the correction names a record the ledger does not have, or was made on an older version.
pub async fn correct(
    db: &mut SqliteConnection,
    kind: &'static Kind,
    before: &Record,
    cells: Vec<Cell>,
    why: &str,
    act: &Act,
) -> Result<(), Refusal> {
    may_change(kind)?;
    unchanged(db, kind, before).await?;
    let cells = looked_up(db, kind, cells).await?;
    // When it was first written, and by whom, stays: the journal says who corrected it and when.
    let after = Record { cells, version: before.version + 1, ..before.clone() };
    strike_line(db, kind, before, why, act).await?;
    let sets: Vec<String> =
        names(kind).iter().enumerate().map(|(place, name)| format!("{name} = json_extract(?1, '$[{place}]')")).collect();
    let change = AssertSqlSafe(format!("UPDATE {} SET {} WHERE number = ?2", kind.name, sets.join(", ")));
    let changed = sqlx::query(change).bind(json!(to_array(kind, &after)).to_string()).bind(before.number).execute(&mut *db).await;
    changed.map_err(|error| taken(error.into(), kind))?;
    journal::write(db, vec![line(act, "corrected", kind, before.number, Some(before.as_line(kind)), Some(after.as_line(kind)), Some(why))])
        .await?;
    Ok(())
}

/// Strikes a record through altogether: it never happened, and the page says who found that and why.
///
/// # Errors
/// A remark where other records lean on it.
pub async fn strike(db: &mut SqliteConnection, kind: &'static Kind, before: &Record, why: &str, act: &Act) -> Result<(), Refusal> {
    may_change(kind)?;
    unchanged(db, kind, before).await?;
    strike_line(db, kind, before, why, act).await?;
    remove(db, kind, before.number)
        .await
        .map_err(|failure| leaned_on(failure, "Other records lean on this one. Strike those first, or correct this one instead."))?;
    journal::write(db, vec![line(act, "struck", kind, before.number, Some(before.as_line(kind)), None, Some(why))]).await?;
    Ok(())
}

/// Takes back what one person kept in the last ten seconds.
///
/// # Errors
/// A remark when the ten seconds are over or something leans on it already.
pub async fn undo(db: &mut SqliteConnection, number: i64, act: &Act) -> Result<(), Refusal> {
    let lines = journal::of_act(db, number).await?;
    let may = lines.iter().all(|line| {
        line.did == "kept" && line.who == act.who && act.at.in_seconds() - line.at.in_seconds() <= UNDO_SECONDS && may_be_undone(&line.kind)
    });
    if lines.is_empty() || !may {
        return Err(Refusal::Remarks(vec![Remark::fault(
            "undo",
            "The ten seconds are over, so this stands. You can correct it, and both versions are kept.",
        )]));
    }
    let mut undone = Vec::new();
    for kept in lines.iter().rev() {
        if journal::changed_after(db, kept).await? {
            return Err(Refusal::Remarks(vec![Remark::fault(
                "undo",
                "This was corrected, struck or undone already, so there is nothing to take back.",
            )]));
        }
        let Some(kind) = crate::trade::kinds::kind(&kept.kind) else { continue };
        remove(db, kind, kept.number)
            .await
            .map_err(|failure| leaned_on(failure, "Something already leans on this. Correct it instead."))?;
        undone.push(line(act, "undone", kind, kept.number, kept.after.clone(), None, None));
    }
    journal::write(db, undone).await?;
    Ok(())
}

/// How long what was kept can be taken back, in seconds.
pub const UNDO_SECONDS: i64 = 10;

async fn strike_line(db: &mut SqliteConnection, kind: &Kind, before: &Record, why: &str, act: &Act) -> Result<(), Failure> {
    sqlx::query("INSERT INTO struck (kind, number, version, was, at, who, why) VALUES (?, ?, ?, ?, ?, ?, ?)")
        .bind(kind.name)
        .bind(before.number)
        .bind(before.version)
        .bind(before.as_line(kind))
        .bind(act.at.in_seconds())
        .bind(&act.who)
        .bind(why)
        .execute(db)
        .await?;
    Ok(())
}

async fn remove(db: &mut SqliteConnection, kind: &Kind, number: i64) -> Result<(), sqlx::Error> {
    sqlx::query(AssertSqlSafe(format!("DELETE FROM {} WHERE number = ?", kind.name))).bind(number).execute(db).await.map(|_| ())
}

/// Refuses to change what stands for ever.
fn may_change(kind: &Kind) -> Result<(), Refusal> {
    if !kind.stands_for_ever() {
        return Ok(());
    }
    let says = match kind.name {
        "transfers" => "An entry in the books is never changed or struck. Take it back on its own page, and write it anew.",
        "mailings" | "deliveries" => "What was sent, or may have been, is never changed or struck. Write to them again, or ring them.",
        _ => "What was decided stands for ever, with its reason. If the lot may not go after all, hold it.",
    };
    Err(Refusal::Remarks(vec![Remark::fault("why", says)]))
}

/// Refuses a change made on a version that is no longer the newest.
async fn unchanged(db: &mut SqliteConnection, kind: &'static Kind, before: &Record) -> Result<(), Refusal> {
    let now = find(db, kind, before.number).await?;
    if now.is_some_and(|now| now.version == before.version) {
        return Ok(());
    }
    let says = "Somebody corrected or struck this record in the meantime. Look at it again before you change it.";
    Err(Refusal::Remarks(vec![Remark::fault("why", says)]))
}

fn leaned_on(failure: sqlx::Error, says: &str) -> Refusal {
    match &failure {
        sqlx::Error::Database(error) if error.is_foreign_key_violation() => Refusal::Remarks(vec![Remark::fault("why", says)]),
        _ => Refusal::Failure(failure.into()),
    }
}
