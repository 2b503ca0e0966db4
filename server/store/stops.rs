//! Holds: what is stopped, since when, by whom and why, and what lifted it.

use super::{Failure, lift};
use crate::trade::when::Moment;
use sqlx::{Row, SqliteConnection};

/// A hold, lifted or not.
#[derive(Clone, Debug)]
pub struct Stop {
    /// Its number.
    pub number: i64,
    /// What is held, in words.
    pub what: String,
    /// The lot's code, when it is a lot.
    pub lot: String,
    /// Why.
    pub reason: String,
    /// Since when.
    pub at: Moment,
    /// By whom.
    pub who: String,
    /// When and why it was lifted, and by whom.
    pub lifted: Option<(Moment, String, String)>,
}

/// Whether all milk is stopped.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn everything(db: &mut SqliteConnection) -> Result<bool, Failure> {
    let held: i64 =
        sqlx::query_scalar(concat!("SELECT count(*) FROM holds h WHERE h.scope = 'everything' AND ", stands!())).fetch_one(db).await?;
    Ok(held > 0)
}

/// Every hold that has not been lifted, newest first, and then the newest that have.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn list(db: &mut SqliteConnection) -> Result<Vec<Stop>, Failure> {
    let rows = sqlx::query(
        "SELECT h.number, CASE h.scope WHEN 'lot' THEN 'Lot ' || l.code WHEN 'cow' THEN c.name WHEN 'vessel' THEN v.name ELSE 'All milk' END,
                coalesce(l.code, ''), coalesce(h.reason, ''), h.at, h.who, x.at, x.reason, x.who
         FROM holds h LEFT JOIN lots l ON l.number = h.lot LEFT JOIN cows c ON c.number = h.cow LEFT JOIN vessels v ON v.number = h.vessel
         LEFT JOIN lifts x ON x.hold = h.number
         WHERE x.number IS NULL OR h.number IN (SELECT hold FROM lifts ORDER BY at DESC LIMIT 100)
         ORDER BY x.number IS NOT NULL, h.at DESC, h.number DESC",
    )
    .fetch_all(db)
    .await?;
    rows.iter()
        .map(|row| {
            Ok(Stop {
                number: row.try_get(0)?,
                what: row.try_get(1)?,
                lot: row.try_get(2)?,
                reason: row.try_get(3)?,
                at: Moment::seconds(row.try_get(4)?),
                who: row.try_get(5)?,
                lifted: lift(row, 6)?,
            })
        })
        .collect()
}

/// The lots a hold touches, newest first, and those it does not although they were filled from the held vessel in the three days
/// before: a clean break stands between, and what was wrong may be older than that.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn reach(db: &mut SqliteConnection, hold: i64) -> Result<(Vec<String>, Vec<String>), Failure> {
    let asked =
        "SELECT l.code FROM touched t JOIN lots l ON l.number = t.lot WHERE t.hold = ? ORDER BY l.filled DESC, l.number DESC LIMIT 12";
    let touched = sqlx::query_scalar(asked).bind(hold).fetch_all(&mut *db).await?;
    let asked = "SELECT l.code FROM holds h JOIN lots l ON l.vessel = h.vessel AND l.filled BETWEEN h.at - 3 * 86400 AND h.at
         WHERE h.number = ? AND NOT EXISTS (SELECT 1 FROM touched t WHERE t.hold = h.number AND t.lot = l.number) ORDER BY l.filled DESC, l.number DESC";
    let before = sqlx::query_scalar(asked).bind(hold).fetch_all(db).await?;
    Ok((touched, before))
}
