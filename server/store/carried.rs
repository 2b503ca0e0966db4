//! What a new form of the ledger made of old records, written into the journal.
//!
//! A migration is plain SQL and cannot seal a line, so what it moved would look as if somebody had changed it behind the
//! journal's back. Form 2 hung every lab result on the bottle it came from; each such sample and result gets its line here,
//! once, the first time the ledger is opened in its new form.

use super::{
    Failure, journal,
    records::{self, Act, line},
};
use crate::trade::{kinds::kind, when::Moment};
use sqlx::SqliteConnection;

/// Writes the lines that are missing, if any are.
///
/// # Errors
/// When the ledger cannot be read or written.
pub async fn write_down(db: &mut SqliteConnection) -> Result<(), Failure> {
    let missing: i64 = sqlx::query_scalar(
        "SELECT count(*) FROM samples WHERE source = 'form 1'
         AND NOT EXISTS (SELECT 1 FROM journal WHERE journal.kind = 'samples' AND journal.number = samples.number)",
    )
    .fetch_one(&mut *db)
    .await?;
    if missing == 0 {
        return Ok(());
    }
    // A store has no clock: the lines carry the time of the last thing anybody wrote.
    let (last, at): (i64, i64) =
        sqlx::query_as("SELECT coalesce(max(act), 0), coalesce(max(at), 0) FROM journal").fetch_one(&mut *db).await?;
    let act = Act { number: last + 1, at: Moment::seconds(at), who: "Tallypail".to_owned(), source: "form 2".to_owned() };
    let mut lines = Vec::new();
    for kind in ["samples", "results"].into_iter().filter_map(kind) {
        let moved = records::list(&mut *db, kind).await?;
        let why = Some("brought to form 2 of the ledger");
        lines.extend(moved.iter().map(|record| line(&act, "imported", kind, record.number, None, Some(record.as_line(kind)), why)));
    }
    journal::write(db, lines).await
}
