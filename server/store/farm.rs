//! The farm, the rules it follows on a day, and what it assumes.

use super::Failure;
use crate::trade::{
    herd::ColostrumRule,
    measure::{Scale, figure_of},
    records::Ways,
    rules::CountedFrom,
    steps::Steps,
    verdict::Rules,
    when::{Day, Zone},
};
use rust_decimal::Decimal;
use sqlx::{Row, SqliteConnection};

/// The farm as every page needs it.
#[derive(Clone, Debug)]
pub struct Farm {
    /// Its name.
    pub name: String,
    /// Its clock and its thermometers' scale.
    pub ways: Ways,
    /// Address, phone, vet and health department, as written.
    pub address: String,
    /// Phone.
    pub phone: String,
    /// Vet, with phone.
    pub vet: String,
    /// Health department, with phone.
    pub health: String,
}

/// The farm, if it has been set up.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn current(db: &mut SqliteConnection) -> Result<Option<Farm>, Failure> {
    let row = sqlx::query("SELECT name, zone, scale, coalesce(address, ''), coalesce(phone, ''), coalesce(vet, ''), coalesce(health, '') FROM farm ORDER BY since DESC, number DESC LIMIT 1").fetch_optional(db).await?;
    row.map(|row| {
        let (zone, scale): (String, String) = (row.try_get(1)?, row.try_get(2)?);
        Ok(Farm {
            name: row.try_get(0)?,
            ways: Ways { zone: Zone::parse(&zone).unwrap_or(Zone::UTC), scale: Scale::parse(&scale).unwrap_or(Scale::Fahrenheit) },
            address: row.try_get(3)?,
            phone: row.try_get(4)?,
            vet: row.try_get(5)?,
            health: row.try_get(6)?,
        })
    })
    .transpose()
}

/// The rules of a day. A lot is judged by the rules of the day it was filled, so this is asked with that day.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn rules_on(db: &mut SqliteConnection, day: Day) -> Result<Rules, Failure> {
    let row = sqlx::query(
        "SELECT title, coalesce(citation, ''), sure, coalesce(steps, ''), fresh_days, fresh_milkings, best_by_days, best_by_from, since
         FROM rules WHERE since <= ? ORDER BY since DESC, number DESC LIMIT 1",
    )
    .bind(day.to_string())
    .fetch_optional(db)
    .await?;
    let Some(row) = row else { return Ok(Rules { source: "no rule set was chosen for that day".to_owned(), ..Rules::default() }) };
    let (title, citation, sure, steps, since): (String, String, String, String, String) =
        (row.try_get(0)?, row.try_get(1)?, row.try_get(2)?, row.try_get(3)?, row.try_get(8)?);
    let (days, from): (Option<i64>, Option<String>) = (row.try_get(6)?, row.try_get(7)?);
    let from = if from.as_deref() == Some("filling") { CountedFrom::Filling } else { CountedFrom::OldestMilking };
    Ok(Rules {
        source: format!(
            "{title} ({}{sure}), followed from {since}",
            if citation.is_empty() { String::new() } else { format!("{citation}; ") }
        ),
        steps: Steps::parse(&steps).unwrap_or_default(),
        fresh: ColostrumRule { days_before: None, days_after: row.try_get(4)?, milkings: row.try_get(5)? },
        best_by: days.map(|days| (days, from)),
    })
}

/// A figure the farm assumes, as it stood on a day.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn assumed(db: &mut SqliteConnection, name: &str, day: Day) -> Result<Option<Decimal>, Failure> {
    let figure: Option<String> =
        sqlx::query_scalar("SELECT figure FROM assumptions WHERE name = ? AND since <= ? ORDER BY since DESC, number DESC LIMIT 1")
            .bind(name)
            .bind(day.to_string())
            .fetch_optional(db)
            .await?;
    Ok(figure.and_then(|figure| figure_of(&figure)))
}
