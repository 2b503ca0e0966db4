//! The rule sets a farm has written down, and the day its records begin.

use super::Failure;
use crate::trade::{
    followed::Version,
    when::{Day, parse_day},
};
use sqlx::SqliteConnection;

/// Every rule set of the ledger, the oldest first; of two from one day the one written first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn versions(db: &mut SqliteConnection) -> Result<Vec<Version>, Failure> {
    type Row = (i64, String, String, String, String, String);
    let rows: Vec<Row> = sqlx::query_as(
        "SELECT number, title, since, coalesce(beside, 'no'), coalesce(check_by, ''), coalesce(why, '') FROM rules ORDER BY since, number",
    )
    .fetch_all(db)
    .await?;
    let damaged = |_| Failure::File("A rule set has no day it is followed from. Run tallypail check.".to_owned());
    rows.into_iter()
        .map(|(number, title, since, beside, check_by, why)| {
            let since = parse_day(&since).map_err(damaged)?;
            Ok(Version { number, title, since, beside: beside == "yes", check_by: parse_day(&check_by).ok(), why })
        })
        .collect()
}

/// The day the farm's records begin, if it has been set up.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn began(db: &mut SqliteConnection) -> Result<Option<Day>, Failure> {
    let day: Option<String> = sqlx::query_scalar("SELECT min(since) FROM farm").fetch_one(db).await?;
    Ok(day.and_then(|day| parse_day(&day).ok()))
}
