//! What stands on a lot's own paper besides its facts: its hand-outs as they were frozen, its holds with their lifts, the
//! owner's decisions, and the lab's own text.

use super::{Failure, among, jars, stop};
use crate::trade::{
    lotsheet::{Handed, Ruled, Stopped, StruckReading},
    when::Moment,
};
use sqlx::{Row, SqliteConnection};
use std::collections::HashMap;

/// Every hand-out of a lot, oldest first, with the verdict of its moment.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn handed(db: &mut SqliteConnection, lot: i64) -> Result<Vec<Handed>, Failure> {
    let rows = sqlx::query(
        "SELECT p.at, coalesce(h.label, ''), p.gallons, p.half_gallons, p.quarts, p.pints, p.evidence, p.verdict, p.because, coalesce(p.marked, '')
         FROM pickups p LEFT JOIN people h ON h.number = p.person WHERE p.lot = ? ORDER BY p.at, p.number",
    )
    .bind(lot)
    .fetch_all(db)
    .await?;
    rows.iter()
        .map(|row| {
            Ok(Handed {
                at: Moment::seconds(row.try_get(0)?),
                label: row.try_get(1)?,
                jars: jars(row, 2)?,
                evidence: row.try_get(6)?,
                then: row.try_get(7)?,
                because: row.try_get(8)?,
                marked: row.try_get(9)?,
            })
        })
        .collect()
}

/// Every hold that touched a lot, oldest first, lifted or not.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn stopped(db: &mut SqliteConnection, lot: i64) -> Result<Vec<Stopped>, Failure> {
    let rows = sqlx::query(
        "SELECT CASE h.scope WHEN 'lot' THEN 'This lot' WHEN 'everything' THEN 'All milk' WHEN 'cow' THEN c.name ELSE v.name END,
                coalesce(h.reason, ''), h.at, h.who, x.at, x.reason, x.who
         FROM touched t JOIN holds h ON h.number = t.hold LEFT JOIN cows c ON c.number = h.cow LEFT JOIN vessels v ON v.number = h.vessel
         LEFT JOIN lifts x ON x.hold = h.number JOIN lots l ON l.number = t.lot
         WHERE t.lot = ? AND (x.at IS NULL OR x.at >= l.filled) ORDER BY h.at, h.number",
    )
    .bind(lot)
    .fetch_all(db)
    .await?;
    rows.iter().map(stop).collect()
}

/// What the owner decided about a lot, oldest first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn ruled(db: &mut SqliteConnection, lot: i64) -> Result<Vec<Ruled>, Failure> {
    let rows = sqlx::query("SELECT at, who, over, verdict, because, facts, reason FROM decisions WHERE lot = ? ORDER BY at, number")
        .bind(lot)
        .fetch_all(db)
        .await?;
    rows.iter()
        .map(|row| {
            let over: String = row.try_get(2)?;
            Ok(Ruled {
                at: Moment::seconds(row.try_get(0)?),
                who: row.try_get(1)?,
                over: over.lines().map(str::to_owned).collect(),
                verdict: row.try_get(3)?,
                because: row.try_get(4)?,
                facts: row.try_get(5)?,
                reason: row.try_get(6)?,
            })
        })
        .collect()
}

/// The chill readings of a lot that were struck through, oldest first: those that never happened, and the old version of those
/// that were corrected.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn struck_readings(db: &mut SqliteConnection, lot: i64) -> Result<Vec<StruckReading>, Failure> {
    let rows: Vec<(i64, String, i64, String, String)> = sqlx::query_as(
        "SELECT coalesce(json_extract(was, '$.at'), 0), coalesce(json_extract(was, '$.temperature_as'), json_extract(was, '$.temperature'), ''), at, who, why
         FROM struck WHERE kind = 'chill' AND json_extract(was, '$.lot') = ? ORDER BY 1, number",
    )
    .bind(lot)
    .fetch_all(db)
    .await?;
    let read = |(at, showed, struck, who, why): (i64, String, i64, String, String)| StruckReading {
        at: Moment::seconds(at),
        showed,
        struck: Moment::seconds(struck),
        who,
        why,
    };
    Ok(rows.into_iter().map(read).collect())
}

/// What the lab wrote, to the letter, by the number of the result.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn wrote(db: &mut SqliteConnection, results: &[i64]) -> Result<HashMap<i64, String>, Failure> {
    let rows: Vec<(i64, String)> =
        sqlx::query_as("SELECT number, figure || coalesce(' ' || unit, '') FROM results WHERE number IN (SELECT value FROM json_each(?))")
            .bind(among(results))
            .fetch_all(db)
            .await?;
    Ok(rows.into_iter().collect())
}

/// The thermometer of each reading of a lot, in the order of the readings.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn thermometers(db: &mut SqliteConnection, lot: i64) -> Result<Vec<(Moment, String)>, Failure> {
    let rows: Vec<(i64, String)> =
        sqlx::query_as("SELECT at, coalesce(thermometer, '') FROM chill WHERE lot = ? ORDER BY at, number").bind(lot).fetch_all(db).await?;
    Ok(rows.into_iter().map(|(at, name)| (Moment::seconds(at), name)).collect())
}
