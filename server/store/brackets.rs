//! What the lab looked for in the lots around one in which it was found.

use super::{Failure, results};
use crate::trade::{
    analytes::Analyte,
    bracket::{Outcome, Tested},
    lab::Of,
    trace::LotId,
    when::Moment,
};
use sqlx::SqliteConnection;
use std::collections::HashMap;

/// The lots filled between two moments, in the order of filling, each with what its tests for this say: found in any means found, and
/// only then clear in any means clear.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn tested(db: &mut SqliteConnection, analyte: &Analyte, from: Moment, until: Moment) -> Result<Vec<Tested>, Failure> {
    let lots: Vec<(i64, String)> =
        sqlx::query_as("SELECT number, code FROM lots WHERE filled >= ? AND filled <= ? ORDER BY filled, number")
            .bind(from.in_seconds())
            .bind(until.in_seconds())
            .fetch_all(&mut *db)
            .await?;
    let asked = results::asking("", "WHERE s.lot IN (SELECT number FROM lots WHERE filled >= ? AND filled <= ?)");
    let rows = sqlx::query(asked).bind(from.in_seconds()).bind(until.in_seconds()).fetch_all(db).await?;
    let mut outcomes: HashMap<String, Outcome> = HashMap::new();
    for result in results::readable(&rows)?.into_iter().filter(|own| own.analyte.answers(analyte) || own.analyte == *analyte) {
        let Of::Lot(code) = &result.of else { continue };
        let now = if result.is_found() { Outcome::Positive } else { Outcome::Clear };
        let known = outcomes.entry(code.clone()).or_insert(now);
        if now == Outcome::Positive {
            *known = now;
        }
    }
    let outcome = |code: &str| outcomes.get(code).copied().unwrap_or(Outcome::NotTested);
    Ok(lots.into_iter().map(|(number, code)| Tested { lot: LotId(number), outcome: outcome(&code), code }).collect())
}
