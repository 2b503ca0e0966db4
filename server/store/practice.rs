//! Past lots to practise with, and practices that were done.

use super::Failure;
use crate::trade::{practice::Past, trace::LotId, when::Moment};
use sqlx::SqliteConnection;

/// The lots filled between two moments, with how many households had some of each.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn past(db: &mut SqliteConnection, from: Moment, until: Moment) -> Result<Vec<Past>, Failure> {
    let rows: Vec<(i64, String, i64)> = sqlx::query_as(
        "SELECT l.number, l.code, (SELECT count(DISTINCT p.person) FROM pickups p WHERE p.lot = l.number) FROM lots l
         WHERE l.filled >= ? AND l.filled < ? ORDER BY l.filled",
    )
    .bind(from.in_seconds())
    .bind(until.in_seconds())
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|(number, code, households)| Past { lot: LotId(number), code, households }).collect())
}

/// Practices that were ended, newest first: number, when, and how they went.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn done(db: &mut SqliteConnection) -> Result<Vec<(i64, Moment, String)>, Failure> {
    let rows: Vec<(i64, i64, String)> = sqlx::query_as(
        "SELECT c.number, s.at, s.says FROM callbacks c JOIN courses s ON s.callback = c.number
         WHERE c.sort = 'practice' AND s.sort = 'closed' ORDER BY s.at DESC LIMIT 20",
    )
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|(number, at, says)| (number, Moment::seconds(at), says)).collect())
}
