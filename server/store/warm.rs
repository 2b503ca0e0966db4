//! Fridges found warm: each as it was written down, the lots that stood in it, and what went in the hours before.

use super::{Failure, among, ice_checks, jars};
use crate::trade::{
    jars::Jars,
    measure::{Scale, Temperature},
    thermometers::guard,
    warm::WarmFridge,
    when::Moment,
};
use sqlx::{Row, SqliteConnection};

/// A fridge found warm, as it was written down.
#[derive(Clone, Debug)]
pub struct Found {
    /// The fridge, how long and how warm.
    pub fridge: WarmFridge,
    /// The thermometer the warmest jar was read with.
    pub thermometer: String,
    /// A note.
    pub note: String,
    /// Who wrote it down.
    pub who: String,
    /// When.
    pub written: Moment,
    /// The lots that stood in it, by number.
    pub lots: Vec<i64>,
}

/// One fridge found warm.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn find(db: &mut SqliteConnection, number: i64) -> Result<Option<Found>, Failure> {
    Ok(list(db, &[number]).await?.into_iter().next())
}

/// Fridges found warm, by number, the last found first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn list(db: &mut SqliteConnection, numbers: &[i64]) -> Result<Vec<Found>, Failure> {
    let rows = sqlx::query(
        "SELECT number, fridge, last_cold, found, warmest_as, coalesce(thermometer, ''), coalesce(note, ''), who, written,
                (SELECT json_group_array(lot) FROM warmed WHERE warm_fridge = warm_fridges.number)
         FROM warm_fridges WHERE number IN (SELECT value FROM json_each(?)) ORDER BY found DESC, number DESC",
    )
    .bind(among(numbers))
    .fetch_all(&mut *db)
    .await?;
    let first = rows.iter().map(|row| row.try_get::<i64, _>(3)).collect::<Result<Vec<_>, _>>()?.into_iter().min();
    let checks = match first {
        Some(first) => ice_checks(db, Moment::seconds(first)).await?,
        None => Vec::new(),
    };
    rows.iter()
        .map(|row| {
            let (found, thermometer, lots): (i64, String, String) = (row.try_get(3)?, row.try_get(5)?, row.try_get(9)?);
            let found = Moment::seconds(found);
            Ok(Found {
                fridge: WarmFridge {
                    number: row.try_get(0)?,
                    fridge: row.try_get(1)?,
                    last_cold: row.try_get::<Option<i64>, _>(2)?.map(Moment::seconds),
                    found,
                    warmest: row.try_get::<Option<String>, _>(4)?.and_then(|typed| Temperature::parse(&typed, Scale::Fahrenheit).ok()),
                    off_by: guard(&checks, &thermometer, found).by,
                },
                thermometer,
                note: row.try_get(6)?,
                who: row.try_get(7)?,
                written: Moment::seconds(row.try_get(8)?),
                lots: serde_json::from_str(&lots).unwrap_or_default(),
            })
        })
        .collect()
}

/// The numbers of the fridges found warm, the last found first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn newest(db: &mut SqliteConnection, most: i64) -> Result<Vec<i64>, Failure> {
    Ok(sqlx::query_scalar("SELECT number FROM warm_fridges ORDER BY found DESC, number DESC LIMIT ?").bind(most).fetch_all(db).await?)
}

/// The names fridges were written down by, the newest first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn names(db: &mut SqliteConnection) -> Result<Vec<String>, Failure> {
    let asked = "SELECT trim(fridge) FROM warm_fridges GROUP BY lower(trim(fridge)) ORDER BY max(found) DESC LIMIT 6";
    Ok(sqlx::query_scalar(asked).fetch_all(db).await?)
}

/// The jars of every lot that went to somebody between two moments, both counted, by the code of the lot.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn went_between(db: &mut SqliteConnection, from: Moment, until: Moment) -> Result<Vec<(String, Jars)>, Failure> {
    let rows = sqlx::query(
        "SELECT l.code, sum(p.gallons), sum(p.half_gallons), sum(p.quarts), sum(p.pints)
         FROM pickups p JOIN lots l ON l.number = p.lot WHERE p.at BETWEEN ? AND ? GROUP BY l.number ORDER BY l.filled, l.number",
    )
    .bind(from.in_seconds())
    .bind(until.in_seconds())
    .fetch_all(db)
    .await?;
    rows.iter().map(|row| Ok((row.try_get(0)?, jars(row, 1)?))).collect()
}
