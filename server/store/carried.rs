//! What a new form of the ledger made of old records, written into the journal.
//!
//! A migration is plain SQL and cannot seal a line, so what it moved would look as if somebody had changed it behind the
//! journal's back. Form 2 hung every lab result on the bottle it came from, and form 4 made a record of what a household is
//! promised; each record that came of it, or lost a cell to it, gets its line here, once, the first time the ledger is opened in
//! its new form.

use super::{
    Failure, journal,
    records::{self, Act, line},
};
use crate::trade::{kinds::kind, when::Moment};
use sqlx::SqliteConnection;

/// What each form moved: its kinds, and how to see that their lines are missing.
const MOVED: [(&str, [&str; 2], &str); 2] = [
    (
        "form 2",
        ["samples", "results"],
        "SELECT count(*) FROM samples WHERE source = 'form 1'
         AND NOT EXISTS (SELECT 1 FROM journal WHERE journal.kind = 'samples' AND journal.number = samples.number)",
    ),
    (
        "form 4",
        ["people", "shares"],
        "SELECT count(*) FROM people WHERE (SELECT after FROM journal WHERE kind = 'people' AND number = people.number ORDER BY seq DESC LIMIT 1)
         LIKE '%\"share_jars\"%'",
    ),
];

/// Writes the lines that are missing, if any are.
///
/// # Errors
/// When the ledger cannot be read or written.
pub async fn write_down(db: &mut SqliteConnection) -> Result<(), Failure> {
    for (form, kinds, asked) in MOVED {
        let missing: i64 = sqlx::query_scalar(asked).fetch_one(&mut *db).await?;
        if missing > 0 {
            write_lines(&mut *db, form, kinds).await?;
        }
    }
    Ok(())
}

async fn write_lines(db: &mut SqliteConnection, form: &str, kinds: [&str; 2]) -> Result<(), Failure> {
    // A store has no clock: the lines carry the time of the last thing anybody wrote.
    let (last, at): (i64, i64) =
        sqlx::query_as("SELECT coalesce(max(act), 0), coalesce(max(at), 0) FROM journal").fetch_one(&mut *db).await?;
    let act = Act { number: last + 1, at: Moment::seconds(at), who: "Tallypail".to_owned(), source: form.to_owned() };
    let why = format!("brought to {form} of the ledger");
    let mut lines = Vec::new();
    for kind in kinds.into_iter().filter_map(kind) {
        let moved = records::list(&mut *db, kind).await?;
        lines.extend(moved.iter().map(|record| line(&act, "imported", kind, record.number, None, Some(record.as_line(kind)), Some(&why))));
    }
    journal::write(db, lines).await
}
