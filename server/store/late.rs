//! What was known on the day of a hand-out, and the lots a cow's bottle is about.

use super::{Failure, among, jars};
use crate::trade::{jars::Jars, when::Moment};
use sqlx::{Row, SqliteConnection};

/// A hand-out with everything that was frozen on it.
#[derive(Clone, Debug)]
pub struct Then {
    /// The number of the hand-out.
    pub number: i64,
    /// When.
    pub at: Moment,
    /// The number of the lot.
    pub lot: i64,
    /// Its code.
    pub code: String,
    /// The jars.
    pub jars: Jars,
    /// The number the household goes by; empty for an unknown walk-in.
    pub to: String,
    /// How it is known.
    pub evidence: String,
    /// The verdict then.
    pub verdict: String,
    /// Because of what.
    pub because: String,
    /// Everything known then.
    pub facts: String,
    /// What was marked on it.
    pub marked: String,
}

/// Every hand-out of some lots, oldest first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn handed_out(db: &mut SqliteConnection, lots: &[i64]) -> Result<Vec<Then>, Failure> {
    let rows = sqlx::query(
        "SELECT p.number, p.at, p.lot, l.code, p.gallons, p.half_gallons, p.quarts, p.pints, coalesce(h.label, ''), p.evidence, p.verdict, p.because,
                p.facts, coalesce(p.marked, '')
         FROM pickups p JOIN lots l ON l.number = p.lot LEFT JOIN people h ON h.number = p.person
         WHERE p.lot IN (SELECT value FROM json_each(?)) ORDER BY p.at, p.number",
    )
    .bind(among(lots))
    .fetch_all(db)
    .await?;
    rows.iter()
        .map(|row| {
            Ok(Then {
                number: row.try_get(0)?,
                at: Moment::seconds(row.try_get(1)?),
                lot: row.try_get(2)?,
                code: row.try_get(3)?,
                jars: jars(row, 4)?,
                to: row.try_get(8)?,
                evidence: row.try_get(9)?,
                verdict: row.try_get(10)?,
                because: row.try_get(11)?,
                facts: row.try_get(12)?,
                marked: row.try_get(13)?,
            })
        })
        .collect()
}

/// The lots with a cow's milk in them, milked since a moment, newest first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn lots_with(db: &mut SqliteConnection, cow: &str, since: Moment) -> Result<Vec<i64>, Failure> {
    Ok(sqlx::query_scalar(
        "SELECT DISTINCT l.number FROM pails p JOIN cows c ON c.number = p.cow JOIN milkings m ON m.number = p.milking
         JOIN sources s ON s.milking = p.milking JOIN lots l ON l.number = s.lot
         WHERE c.name = ? AND p.went = 'can' AND m.started >= ? ORDER BY l.filled DESC LIMIT 60",
    )
    .bind(cow)
    .bind(since.in_seconds())
    .fetch_all(db)
    .await?)
}

/// The jars of some lots that are with households: handed out, and not returned.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn out(db: &mut SqliteConnection, lots: &[i64]) -> Result<Jars, Failure> {
    let row = sqlx::query(
        "WITH moved AS (
            SELECT gallons, half_gallons, quarts, pints FROM pickups WHERE lot IN (SELECT value FROM json_each(?1))
            UNION ALL SELECT -gallons, -half_gallons, -quarts, -pints FROM asides WHERE sort = 'returned' AND lot IN (SELECT value FROM json_each(?1)))
         SELECT coalesce(sum(gallons), 0), coalesce(sum(half_gallons), 0), coalesce(sum(quarts), 0), coalesce(sum(pints), 0) FROM moved",
    )
    .bind(among(lots))
    .fetch_one(db)
    .await?;
    jars(&row, 0)
}
