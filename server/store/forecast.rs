//! What the look ahead rests on: each cow's milk by day, what was filled and milked lately, and into how many shares the herd
//! is divided.

use super::{Failure, jars};
use crate::trade::{
    jars::Jars,
    measure::Weight,
    when::{Day, Moment, Zone, parse_day},
};
use sqlx::{SqliteConnection, sqlite::SqliteRow};
use std::collections::HashMap;

/// Each cow's milk on the days before a day, by her name, oldest first, as far back as a dry cow's last level may lie.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn milk_by_day(db: &mut SqliteConnection, zone: Zone, today: Day) -> Result<HashMap<String, Vec<(Day, Weight)>>, Failure> {
    let start = zone.start_of(today);
    let rows: Vec<(String, String, i64)> = sqlx::query_as(
        "SELECT c.name, substr(m.session, 1, 10) AS day, sum(p.milk) FROM milkings m CROSS JOIN pails p ON p.milking = m.number
         JOIN cows c ON c.number = p.cow WHERE m.started >= ? AND m.started < ? GROUP BY p.cow, day ORDER BY day",
    )
    .bind(start.plus_hours(-400 * 24).in_seconds())
    .bind(start.in_seconds())
    .fetch_all(db)
    .await?;
    let mut by_cow: HashMap<String, Vec<(Day, Weight)>> = HashMap::new();
    for (cow, day, milk) in rows {
        if let Ok(day) = parse_day(&day) {
            by_cow.entry(cow).or_default().push((day, Weight::milligrams(milk)));
        }
    }
    Ok(by_cow)
}

/// What was filled straight from milkings between two moments, and everything milked between them. A lot made from lots holds
/// milk that was filled before.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn filled_and_milked(db: &mut SqliteConnection, from: Moment, until: Moment) -> Result<(Jars, Weight), Failure> {
    let filled = sqlx::query(
        "SELECT gallons, half_gallons, quarts, pints FROM lots WHERE filled >= ? AND filled < ?
         AND NOT EXISTS (SELECT 1 FROM sources WHERE sources.lot = lots.number AND sources.parent IS NOT NULL)",
    )
    .bind(from.in_seconds())
    .bind(until.in_seconds())
    .fetch_all(&mut *db)
    .await?;
    let filled: Vec<Jars> = filled.iter().map(|row: &SqliteRow| jars(row, 0)).collect::<Result<_, Failure>>()?;
    let milked: i64 = sqlx::query_scalar(
        "SELECT coalesce(sum(p.milk), 0) FROM milkings m CROSS JOIN pails p ON p.milking = m.number WHERE m.started >= ? AND m.started < ?",
    )
    .bind(from.in_seconds())
    .bind(until.in_seconds())
    .fetch_one(db)
    .await?;
    Ok((filled.into_iter().sum(), Weight::milligrams(milked)))
}

/// How many shares the herd is divided into by the terms of a day, where they say it.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn herd_shares(db: &mut SqliteConnection, on: Day) -> Result<Option<i64>, Failure> {
    let asked = "SELECT herd_shares FROM terms WHERE channel = 'herdshare' AND since <= ? ORDER BY since DESC, number DESC LIMIT 1";
    Ok(sqlx::query_scalar(asked).bind(on.to_string()).fetch_optional(db).await?.flatten())
}
