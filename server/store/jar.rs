//! What is known about a lot to anybody who reads its code off a lid.

use super::Failure;
use crate::trade::when::Moment;
use sqlx::SqliteConnection;

/// A lot as anybody may ask about it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Asked {
    /// Its number.
    pub number: i64,
    /// Whether a call-back in earnest has it, open or closed: a jar may stand frozen long after.
    pub called_back: bool,
    /// Whether a hold stands on it.
    pub held: bool,
}

/// The newest fill with a code, with its call-backs and holds as they stand at a moment.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn asked(db: &mut SqliteConnection, code: &str, now: Moment) -> Result<Option<Asked>, Failure> {
    let row: Option<(i64, bool, bool)> = sqlx::query_as(concat!(
        "SELECT l.number,
            EXISTS (SELECT 1 FROM called c JOIN callbacks b ON b.number = c.callback AND b.sort = 'call-back'
                WHERE c.lot = l.number AND c.stands = 'called back'
                  AND NOT EXISTS (SELECT 1 FROM called later WHERE later.callback = c.callback AND later.lot = c.lot AND (later.at, later.number) > (c.at, c.number))),
            EXISTS (SELECT 1 FROM touched t JOIN holds h ON h.number = t.hold WHERE t.lot = l.number AND h.at <= ?2 AND ",
        stands!(),
        ")
         FROM lots l WHERE l.code = ?1 ORDER BY l.filled DESC LIMIT 1"
    ))
    .bind(code)
    .bind(now.in_seconds())
    .fetch_optional(db)
    .await?;
    Ok(row.map(|(number, called_back, held)| Asked { number, called_back, held }))
}
