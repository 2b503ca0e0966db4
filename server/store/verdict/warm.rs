//! The fridges found warm that some lots stood in.

use super::{ByLot, Failure, among, ice_checks};
use crate::trade::{
    measure::{Scale, Temperature},
    thermometers::guard,
    warm::WarmFridge,
    when::Moment,
};
use sqlx::{Row, SqliteConnection};
use std::collections::HashMap;

/// Every fridge found warm that some lots stood in, by lot, oldest first, each with how far its thermometer is known to be off by
/// the checks up to `now`; and what to call those nobody can read any more.
pub(super) async fn fridges(db: &mut SqliteConnection, lots: &[i64], now: Moment) -> Result<(ByLot<WarmFridge>, ByLot<String>), Failure> {
    let rows = sqlx::query(
        "SELECT w.lot, f.number, f.fridge, f.last_cold, f.found, f.warmest_as, coalesce(f.thermometer, '')
         FROM warmed w JOIN warm_fridges f ON f.number = w.warm_fridge WHERE w.lot IN (SELECT value FROM json_each(?)) ORDER BY f.found, f.number",
    )
    .bind(among(lots))
    .fetch_all(&mut *db)
    .await?;
    let (mut by_lot, mut unread): (ByLot<WarmFridge>, ByLot<String>) = (HashMap::new(), HashMap::new());
    let Some(first) = rows.first() else { return Ok((by_lot, unread)) };
    let mut checks = ice_checks(db, Moment::seconds(first.try_get(4)?)).await?;
    checks.retain(|check| check.at <= now);
    for row in rows {
        let (lot, typed, found): (i64, Option<String>, i64) = (row.try_get(0)?, row.try_get(5)?, row.try_get(4)?);
        let (thermometer, found): (String, Moment) = (row.try_get(6)?, Moment::seconds(found));
        let warmest = typed.as_deref().map(|typed| Temperature::parse(typed, Scale::Fahrenheit));
        if let (Some(Err(_)), Some(typed)) = (&warmest, &typed) {
            unread.entry(lot).or_default().push(format!("The warmest jar of a fridge found warm, “{typed}”, cannot be read."));
        }
        by_lot.entry(lot).or_default().push(WarmFridge {
            number: row.try_get(1)?,
            fridge: row.try_get(2)?,
            last_cold: row.try_get::<Option<i64>, _>(3)?.map(Moment::seconds),
            found,
            off_by: guard(&checks, &thermometer, found).by,
            warmest: warmest.and_then(Result::ok),
        });
    }
    Ok((by_lot, unread))
}
