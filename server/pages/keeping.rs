//! Keeping some records together: all in one act, or none, with what there is to remark. It owns no door.

use super::{Here, kind_of, remarks_of};
use crate::{
    store::{Failure, records},
    trade::records::{Remark, read},
    web::{
        answer::{Answer, Trouble, onward},
        form::Fields,
        secret,
    },
};
use sqlx::SqliteConnection;

/// A record to keep: its kind and its cells as typed.
pub struct Line {
    /// The kind.
    pub kind: &'static str,
    /// What each column says.
    pub cells: Fields,
}

impl Line {
    /// A record of a kind with nothing in it yet.
    #[must_use]
    pub fn of(kind: &'static str) -> Line {
        Line { kind, cells: Fields::default() }
    }

    /// The same with a column filled in.
    #[must_use]
    pub fn with(mut self, column: &str, says: impl Into<String>) -> Line {
        self.cells = self.cells.with(column, says);
        self
    }

    /// The same with the moment it happened: now.
    #[must_use]
    pub fn now(self, here: &Here) -> Line {
        let now = here.zone().for_file(here.now);
        self.with("at", now)
    }
}

/// Keeps the lines in an act that the caller opened, in their order; each has its own mark made from the form's, so that the same
/// form sent twice keeps each once. Gives their numbers, or what there is to remark.
///
/// # Errors
/// When the ledger fails.
pub async fn within(
    db: &mut SqliteConnection,
    here: &Here,
    act: &records::Act,
    entry: &str,
    lines: Vec<Line>,
) -> Result<Result<Vec<i64>, Vec<Remark>>, Trouble> {
    let mut numbers = Vec::new();
    for (nth, line) in lines.into_iter().enumerate() {
        let kind = kind_of(line.kind)?;
        let cells = match read(kind, |column| line.cells.get(column).to_owned(), here.farm.ways) {
            Ok(cells) => cells,
            Err(remarks) => return Ok(Err(remarks)),
        };
        let mark = if nth == 0 { entry.to_owned() } else { secret::entry_within(entry, nth) };
        match records::keep(&mut *db, kind, &mark, cells, act).await {
            Ok(kept) => numbers.push(kept.number),
            Err(refusal) => return remarks_of(refusal).map(Err),
        }
    }
    Ok(Ok(numbers))
}

/// Keeps some lines in an act of their own.
///
/// # Errors
/// When the ledger fails.
pub async fn all(here: &Here, entry: &str, lines: Vec<Line>) -> Result<Result<Vec<i64>, Vec<Remark>>, Trouble> {
    let mut tx = here.app.ledger.begin().await?;
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    let kept = within(&mut tx, here, &act, entry, lines).await?;
    if kept.is_ok() {
        tx.commit().await.map_err(Failure::from)?;
    }
    Ok(kept)
}

/// On to an address when the lines were kept; the sentences otherwise, on a page of their own.
///
/// # Errors
/// As [`all`]; and what there is to remark, where the form could not have been filled in otherwise.
pub async fn then(here: &Here, entry: &str, lines: Vec<Line>, onto: &str) -> Answer {
    match all(here, entry, lines).await? {
        Ok(_) => onward(onto),
        Err(remarks) => Err(Trouble::Refused(remarks.into_iter().map(|own| own.says).collect::<Vec<_>>().join(" "))),
    }
}
