//! Writing and reading the journal. Nothing here changes a line once it is written.

use super::{Failure, Values};
use crate::trade::{
    journal::{Line, OPENING, seal},
    when::Moment,
};
use sqlx::{
    Row, Sqlite, SqliteConnection,
    query::Query,
    sqlite::{SqliteArguments, SqliteRow},
};

/// How many lines one statement writes.
pub(super) const AT_ONCE: usize = 800;

/// Writes lines, each sealed with the one before.
///
/// # Errors
/// When the journal cannot be written.
pub async fn write(db: &mut SqliteConnection, lines: Vec<Line>) -> Result<(), Failure> {
    let mut sealing = Sealing::after_the_last(&mut *db).await?;
    for some in lines.chunks(AT_ONCE) {
        sealing.statement(some)?.execute(&mut *db).await?;
    }
    Ok(())
}

/// The chain, held at its end while lines are put behind it.
pub(super) struct Sealing(String);

impl Sealing {
    /// The chain as it ends now.
    pub(super) async fn after_the_last(db: &mut SqliteConnection) -> Result<Sealing, Failure> {
        let last: Option<String> = sqlx::query_scalar("SELECT seal FROM journal ORDER BY seq DESC LIMIT 1").fetch_optional(db).await?;
        Ok(Sealing(last.unwrap_or_else(|| OPENING.to_owned())))
    }

    /// The statement that writes these lines behind the last.
    pub(super) fn statement(&mut self, lines: &[Line]) -> Result<Query<'static, Sqlite, SqliteArguments>, Failure> {
        let mut values = Values::default();
        for line in lines {
            self.0 = seal(&self.0, line);
            let numbers = [line.act, line.at.in_seconds()];
            numbers.into_iter().try_for_each(|number| values.push(number))?;
            [&line.who, &line.did, &line.kind].into_iter().try_for_each(|text| values.push(text.as_str()))?;
            values.push(line.number)?;
            [&line.before, &line.after, &line.why].into_iter().try_for_each(|text| values.push(text.as_deref()))?;
            values.push(self.0.as_str())?;
        }
        let columns = ["act", "at", "who", "did", "kind", "number", "before", "after", "why", "seal"];
        Ok(values.into_table("journal", &columns, lines.len(), lines.len() == 1 || lines.len() == AT_ONCE))
    }
}

/// Every line with the seal it carries, oldest first.
///
/// # Errors
/// When the journal cannot be read.
pub async fn sealed(db: &mut SqliteConnection) -> Result<Vec<(i64, Line, String)>, Failure> {
    let rows = sqlx::query("SELECT act, at, who, did, kind, number, before, after, why, seal, seq FROM journal ORDER BY seq")
        .fetch_all(db)
        .await?;
    rows.iter().map(|row| Ok((row.try_get(10)?, read(row)?, row.try_get(9)?))).collect()
}

/// When the last line was written, by the clock of then.
///
/// # Errors
/// When the journal cannot be read.
pub async fn last_written(db: &mut SqliteConnection) -> Result<Option<Moment>, Failure> {
    let at: Option<i64> = sqlx::query_scalar("SELECT at FROM journal ORDER BY seq DESC LIMIT 1").fetch_optional(db).await?;
    Ok(at.map(Moment::seconds))
}

/// The lines of one act.
///
/// # Errors
/// When the journal cannot be read.
pub async fn of_act(db: &mut SqliteConnection, act: i64) -> Result<Vec<Line>, Failure> {
    let rows = sqlx::query("SELECT act, at, who, did, kind, number, before, after, why FROM journal WHERE act = ? ORDER BY seq")
        .bind(act)
        .fetch_all(db)
        .await?;
    rows.iter().map(read).collect()
}

/// The newest lines, newest first.
///
/// # Errors
/// When the journal cannot be read.
pub async fn newest(db: &mut SqliteConnection, most: i64) -> Result<Vec<Line>, Failure> {
    let rows = sqlx::query("SELECT act, at, who, did, kind, number, before, after, why FROM journal ORDER BY seq DESC LIMIT ?")
        .bind(most)
        .fetch_all(db)
        .await?;
    rows.iter().map(read).collect()
}

/// The last act of one person since a moment, when it can still be undone.
///
/// # Errors
/// When the journal cannot be read.
pub async fn undoable(db: &mut SqliteConnection, who: &str, since: Moment) -> Result<Option<(i64, Moment)>, Failure> {
    let last = sqlx::query("SELECT act, at, who, did, kind FROM journal ORDER BY seq DESC LIMIT 1").fetch_optional(db).await?;
    let Some(row) = last else { return Ok(None) };
    let (act, at, by, did, kind): (i64, i64, String, String, String) =
        (row.try_get(0)?, row.try_get(1)?, row.try_get(2)?, row.try_get(3)?, row.try_get(4)?);
    let open = by == who && did == "kept" && may_be_undone(&kind) && at >= since.in_seconds();
    Ok(open.then_some((act, Moment::seconds(at))))
}

/// Whether anything happened to a line's record in a later act.
///
/// # Errors
/// When the journal cannot be read.
pub async fn changed_after(db: &mut SqliteConnection, line: &Line) -> Result<bool, Failure> {
    let later: i64 = sqlx::query_scalar("SELECT count(*) FROM journal WHERE kind = ? AND number = ? AND act > ?")
        .bind(&line.kind)
        .bind(line.number)
        .bind(line.act)
        .fetch_one(db)
        .await?;
    Ok(later > 0)
}

fn read(row: &SqliteRow) -> Result<Line, Failure> {
    Ok(Line {
        act: row.try_get(0)?,
        at: Moment::seconds(row.try_get(1)?),
        who: row.try_get(2)?,
        did: row.try_get(3)?,
        kind: row.try_get(4)?,
        number: row.try_get(5)?,
        before: row.try_get(6)?,
        after: row.try_get(7)?,
        why: row.try_get(8)?,
    })
}

/// A stop is lifted and not undone, and the farm itself is what every page stands on.
#[must_use]
pub fn may_be_undone(kind: &str) -> bool {
    !matches!(kind, "holds" | "lifts" | "farm" | "rules" | "mailings" | "deliveries")
}
