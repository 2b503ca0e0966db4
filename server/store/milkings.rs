//! Milkings: what the last one was like, what each cow usually gives, and what is still in the can.

use super::Failure;
use crate::trade::{measure::Weight, when::Moment};
use sqlx::{Row, SqliteConnection};

/// How the last milking was measured, so that the next form opens the same way.
#[derive(Clone, Debug, Default)]
pub struct Last {
    /// Cow numbers in the order they were milked.
    pub order: Vec<i64>,
    /// The vessel, by name.
    pub vessel: String,
    /// The bucket's empty weight, as written.
    pub tare: String,
    /// The unit the milk was read in.
    pub unit: String,
}

/// How the newest milking of a morning or an evening was measured.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn last(db: &mut SqliteConnection, half: &str) -> Result<Last, Failure> {
    let rows = sqlx::query(
        "SELECT p.cow, coalesce(v.name, ''), coalesce(p.tare_as, ''), p.read FROM pails p LEFT JOIN vessels v ON v.number = p.vessel
         WHERE p.milking = (SELECT number FROM milkings WHERE session LIKE '%' || ? ORDER BY started DESC LIMIT 1) ORDER BY p.number",
    )
    .bind(half)
    .fetch_all(db)
    .await?;
    let mut last = Last { unit: "lb".to_owned(), ..Last::default() };
    for row in rows {
        let (vessel, tare, read): (String, String, String) = (row.try_get(1)?, row.try_get(2)?, row.try_get(3)?);
        last.order.push(row.try_get(0)?);
        last.vessel = if vessel.is_empty() { last.vessel } else { vessel };
        last.tare = if tare.is_empty() { last.tare } else { tare };
        last.unit = if read.ends_with("in") {
            "in"
        } else if read.ends_with("gal") {
            "gal"
        } else {
            "lb"
        }
        .to_owned();
    }
    Ok(last)
}

/// What a cow gave on average at her last fourteen mornings or evenings.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn usual(db: &mut SqliteConnection, cow: i64, half: &str) -> Result<Option<Weight>, Failure> {
    let average: Option<i64> = sqlx::query_scalar(
        "SELECT sum(milk) / count(*) FROM (SELECT p.milk AS milk FROM pails p JOIN milkings m ON m.number = p.milking WHERE p.cow = ? AND m.session LIKE '%' || ? ORDER BY m.started DESC LIMIT 14)",
    )
    .bind(cow)
    .bind(half)
    .fetch_one(db)
    .await?;
    Ok(average.map(Weight::milligrams))
}

/// A milking whose milk went into a vessel and has not been filled into jars.
#[derive(Clone, Debug)]
pub struct Unfilled {
    /// Its day and session.
    pub session: String,
    /// When it started.
    pub started: Moment,
    /// The vessel, by name.
    pub vessel: String,
    /// How much went in.
    pub milk: Weight,
    /// Whose, in the order they were milked.
    pub cows: String,
}

/// Milkings of the last two days with milk in a vessel, that no lot has been filled from.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn unfilled(db: &mut SqliteConnection, now: Moment) -> Result<Vec<Unfilled>, Failure> {
    let rows = sqlx::query(
        "SELECT m.session, m.started, coalesce(v.name, ''), sum(p.milk), group_concat(c.name, ', ')
         FROM milkings m CROSS JOIN pails p ON p.milking = m.number AND p.went = 'can' JOIN cows c ON c.number = p.cow
            LEFT JOIN vessels v ON v.number = p.vessel
         WHERE m.started BETWEEN ? AND ? AND NOT EXISTS (SELECT 1 FROM sources s WHERE s.milking = m.number)
         GROUP BY m.number ORDER BY m.started",
    )
    .bind(now.plus_hours(-48).in_seconds())
    .bind(now.plus_minutes(5).in_seconds())
    .fetch_all(db)
    .await?;
    rows.iter()
        .map(|row| {
            Ok(Unfilled {
                session: row.try_get(0)?,
                started: Moment::seconds(row.try_get(1)?),
                vessel: row.try_get(2)?,
                milk: Weight::milligrams(row.try_get(3)?),
                cows: row.try_get(4)?,
            })
        })
        .collect()
}

/// How much milk of some milkings went into the can, when the first of them started and the last ended.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn in_the_can(db: &mut SqliteConnection, sessions: &[String]) -> Result<(Weight, Option<Moment>), Failure> {
    let (milk, started): (Option<i64>, Option<i64>) = sqlx::query_as(
        "SELECT sum(p.milk), max(m.started) FROM milkings m JOIN pails p ON p.milking = m.number AND p.went = 'can' WHERE m.session IN (SELECT value FROM json_each(?))",
    )
    .bind(serde_json::json!(sessions).to_string())
    .fetch_one(db)
    .await?;
    Ok((Weight::milligrams(milk.unwrap_or(0)), started.map(Moment::seconds)))
}

/// The last lot filled from a vessel with no clean break of it since, if there is one: a new fill would be tied to it.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn tied_to(db: &mut SqliteConnection, vessel: &str, before: Moment) -> Result<Option<String>, Failure> {
    Ok(sqlx::query_scalar(
        "SELECT l.code FROM lots l JOIN vessels v ON v.number = l.vessel WHERE v.name = ?1 AND l.filled < ?2
           AND NOT EXISTS (SELECT 1 FROM breaks b WHERE b.vessel = l.vessel AND b.washed = 'yes' AND b.sanitised = 'yes' AND b.at > l.filled AND b.at <= ?2)
         ORDER BY l.filled DESC LIMIT 1",
    )
    .bind(vessel)
    .bind(before.in_seconds())
    .fetch_optional(db)
    .await?)
}

/// A vessel's empty weight and dipstick table, as written.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn vessel(db: &mut SqliteConnection, name: &str) -> Result<Option<(Option<Weight>, String)>, Failure> {
    let row: Option<(Option<i64>, String)> =
        sqlx::query_as("SELECT capacity, coalesce(dipstick, '') FROM vessels WHERE name = ? COLLATE NOCASE")
            .bind(name)
            .fetch_optional(db)
            .await?;
    Ok(row.map(|(capacity, table)| (capacity.map(Weight::milligrams), table)))
}
