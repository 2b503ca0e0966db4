//! A treated cow whose milk went into the can: the milkings it may have been, the vessels it went into, and every lot filled from them
//! between two clean breaks.

use super::{Failure, among};
use crate::trade::when::Moment;
use sqlx::{Row, SqliteConnection};

/// A milking of the last days.
#[derive(Clone, Debug)]
pub struct Recent {
    /// Its number.
    pub number: i64,
    /// Its day and session.
    pub session: String,
    /// Who milked.
    pub milker: String,
    /// The cows whose milk is written as in the can.
    pub cows: String,
}

/// The milkings of the last four days, newest first: no dose is remembered later than that at the fridge.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn milkings(db: &mut SqliteConnection, now: Moment) -> Result<Vec<Recent>, Failure> {
    let rows = sqlx::query(
        "SELECT m.number, m.session, m.milker, coalesce(group_concat(c.name, ', '), '')
         FROM milkings m LEFT JOIN pails p ON p.milking = m.number AND p.went = 'can' LEFT JOIN cows c ON c.number = p.cow
         WHERE m.started BETWEEN ? AND ? GROUP BY m.number ORDER BY m.started DESC",
    )
    .bind(now.plus_hours(-96).in_seconds())
    .bind(now.plus_minutes(5).in_seconds())
    .fetch_all(db)
    .await?;
    rows.iter()
        .map(|row| Ok(Recent { number: row.try_get(0)?, session: row.try_get(1)?, milker: row.try_get(2)?, cows: row.try_get(3)? }))
        .collect()
}

/// The vessels a cow's milk went into at some milkings, by name. Where she is not written as in the can, every vessel of the milking:
/// what is written is what went wrong.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn vessels(db: &mut SqliteConnection, cow: &str, sessions: &[String]) -> Result<Vec<String>, Failure> {
    let asked = "SELECT DISTINCT v.name FROM milkings m JOIN pails p ON p.milking = m.number AND p.went = 'can' JOIN vessels v ON v.number = p.vessel
         WHERE m.session IN (SELECT value FROM json_each(?1))
           AND (p.cow = (SELECT number FROM cows WHERE name = ?2)
                OR NOT EXISTS (SELECT 1 FROM pails o JOIN cows c ON c.number = o.cow WHERE o.milking = m.number AND o.went = 'can' AND c.name = ?2))
         ORDER BY v.name";
    Ok(sqlx::query_scalar(asked).bind(serde_json::json!(sessions).to_string()).bind(cow).fetch_all(db).await?)
}

/// A lot that has such milk in it, or may have.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct In {
    /// Its code.
    pub code: String,
    /// Whether the milk itself leads there, and not only the vessel.
    pub certain: bool,
}

/// Every lot with milk of some milkings, every lot filled from their vessels between the last clean break before those milkings and
/// the first one after, and whatever was made of any of them; oldest first. A vessel that was tapped by itself is looked at as of now.
/// Where nobody wrote a clean break, ten days are looked back: no milk lasts longer in a can.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn lots(
    db: &mut SqliteConnection,
    sessions: &[String],
    vessels: &[String],
    tapped: &[String],
    now: Moment,
) -> Result<Vec<In>, Failure> {
    let rows: Vec<(String, bool)> = sqlx::query_as(
        "WITH RECURSIVE chosen (milking, started) AS (SELECT number, started FROM milkings WHERE session IN (SELECT value FROM json_each(?1))),
         went (vessel, at) AS (
            SELECT v.number, c.started FROM vessels v
                JOIN chosen c ON EXISTS (SELECT 1 FROM pails p WHERE p.milking = c.milking AND p.vessel = v.number AND p.went = 'can')
                WHERE v.name IN (SELECT value FROM json_each(?2))
            UNION SELECT number, ?3 FROM vessels WHERE name IN (SELECT value FROM json_each(?4))),
         stretch (vessel, since, until) AS (
            SELECT vessel,
                max(at - 10 * 86400, coalesce((SELECT max(b.at) FROM breaks b WHERE b.vessel = went.vessel AND b.washed = 'yes' AND b.sanitised = 'yes' AND b.at <= went.at), 0)),
                coalesce((SELECT min(b.at) FROM breaks b WHERE b.vessel = went.vessel AND b.washed = 'yes' AND b.sanitised = 'yes' AND b.at > went.at), ?3)
            FROM went),
         hers (lot) AS (SELECT lot FROM sources WHERE milking IN (SELECT milking FROM chosen) UNION SELECT s.lot FROM sources s JOIN hers ON s.parent = hers.lot),
         own (lot) AS (
            SELECT lot FROM hers
            UNION SELECT l.number FROM lots l JOIN stretch t ON l.vessel = t.vessel AND l.filled > t.since AND l.filled <= t.until
            UNION SELECT s.lot FROM stretch t JOIN pails p ON p.vessel = t.vessel AND p.went = 'can' JOIN milkings m ON m.number = p.milking AND m.started > t.since AND m.started < t.until
                JOIN sources s ON s.milking = m.number
            UNION SELECT s.lot FROM sources s JOIN own ON s.parent = own.lot)
         SELECT l.code, l.number IN (SELECT lot FROM hers) FROM own JOIN lots l ON l.number = own.lot ORDER BY l.filled, l.number",
    )
    .bind(serde_json::json!(sessions).to_string())
    .bind(serde_json::json!(vessels).to_string())
    .bind(now.in_seconds())
    .bind(serde_json::json!(tapped).to_string())
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|(code, certain)| In { code, certain }).collect())
}

/// The holds of one such act: the cow's, her vessels' and the lots'.
#[derive(Clone, Debug)]
pub struct Held {
    /// The number of the hold on the cow.
    pub number: i64,
    /// The cow.
    pub cow: String,
    /// Her number.
    pub cow_number: i64,
    /// What was written of it.
    pub reason: String,
    /// Since when.
    pub at: Moment,
    /// By whom.
    pub who: String,
    /// The vessels: the number of the hold, the vessel, and what was written of it.
    pub vessels: Vec<(i64, String, String)>,
    /// The lots held with them, by number.
    pub lots: Vec<i64>,
}

/// A hold on a cow, with whatever was held in the same act: at the same moment, written at the same moment, by the same person.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn find(db: &mut SqliteConnection, hold: i64) -> Result<Option<Held>, Failure> {
    let row = sqlx::query(
        "SELECT h.number, c.name, c.number, coalesce(h.reason, ''), h.at, h.who, h.written FROM holds h JOIN cows c ON c.number = h.cow
         WHERE h.number = ? AND h.scope = 'cow'",
    )
    .bind(hold)
    .fetch_optional(&mut *db)
    .await?;
    let Some(row) = row else { return Ok(None) };
    let (at, who, written): (i64, String, i64) = (row.try_get(4)?, row.try_get(5)?, row.try_get(6)?);
    let beside: Vec<(i64, Option<i64>, Option<String>, String)> = sqlx::query_as(
        "SELECT h.number, h.lot, v.name, coalesce(h.reason, '') FROM holds h LEFT JOIN vessels v ON v.number = h.vessel
         WHERE h.at = ? AND h.written = ? AND h.who = ? AND h.scope IN ('lot', 'vessel') ORDER BY h.number",
    )
    .bind(at)
    .bind(written)
    .bind(&who)
    .fetch_all(db)
    .await?;
    Ok(Some(Held {
        number: row.try_get(0)?,
        cow: row.try_get(1)?,
        cow_number: row.try_get(2)?,
        reason: row.try_get(3)?,
        at: Moment::seconds(at),
        who,
        lots: beside.iter().filter_map(|(_, lot, ..)| *lot).collect(),
        vessels: beside.into_iter().filter_map(|(number, _, vessel, reason)| Some((number, vessel?, reason))).collect(),
    }))
}

/// The holds on a cow that were made together with one on a vessel or a lot, newest first: number, cow and when.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn newest(db: &mut SqliteConnection, most: i64) -> Result<Vec<(i64, String, Moment)>, Failure> {
    let rows: Vec<(i64, String, i64)> = sqlx::query_as(
        "SELECT h.number, c.name, h.at FROM holds h JOIN cows c ON c.number = h.cow
         WHERE h.scope = 'cow' AND EXISTS (SELECT 1 FROM holds o WHERE o.at = h.at AND o.written = h.written AND o.who = h.who AND o.scope IN ('lot', 'vessel'))
         ORDER BY h.at DESC, h.number DESC LIMIT ?",
    )
    .bind(most)
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|(number, cow, at)| (number, cow, Moment::seconds(at))).collect())
}

/// The codes of those of some lots that went to somebody.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn went_out(db: &mut SqliteConnection, lots: &[i64]) -> Result<Vec<String>, Failure> {
    let asked = "SELECT l.code FROM lots l WHERE l.number IN (SELECT value FROM json_each(?))
         AND EXISTS (SELECT 1 FROM pickups p WHERE p.lot = l.number) ORDER BY l.filled, l.number";
    Ok(sqlx::query_scalar(asked).bind(among(lots)).fetch_all(db).await?)
}
