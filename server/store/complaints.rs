//! Complaints of illness with every answer that stands, and what a household took.

use super::{Failure, jars as jars_of};
use crate::trade::{
    complaint::{Answer, Told},
    jars::Jars,
    recipients::Household,
    when::Moment,
};
use sqlx::{Row, SqliteConnection, sqlite::SqliteRow};
use std::collections::BTreeMap;

const COMPLAINTS: &str = "SELECT c.number, c.at, coalesce(c.caller, ''), coalesce(c.says, ''), c.taken_by, c.person, h.label, h.name,
        coalesce(h.phone, ''), coalesce(h.second_way, ''), c.picked_up, l.code, c.ill_since, c.doctor, c.who
     FROM complaints c LEFT JOIN people h ON h.number = c.person LEFT JOIN lots l ON l.number = c.lot";

/// The complaints, newest first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn list(db: &mut SqliteConnection, most: i64) -> Result<Vec<Told>, Failure> {
    let asked = sqlx::AssertSqlSafe(format!("{COMPLAINTS} ORDER BY c.at DESC, c.number DESC LIMIT ?"));
    let rows = sqlx::query(asked).bind(most).fetch_all(&mut *db).await?;
    let mut all = Vec::new();
    for row in &rows {
        all.push(told(db, row).await?);
    }
    Ok(all)
}

/// One complaint.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn one(db: &mut SqliteConnection, number: i64) -> Result<Option<Told>, Failure> {
    let asked = sqlx::AssertSqlSafe(format!("{COMPLAINTS} WHERE c.number = ?"));
    match sqlx::query(asked).bind(number).fetch_optional(&mut *db).await? {
        Some(row) => told(db, &row).await.map(Some),
        None => Ok(None),
    }
}

/// A complaint with its answers. What its own record says of the same questions is the first answer to them.
async fn told(db: &mut SqliteConnection, row: &SqliteRow) -> Result<Told, Failure> {
    let (number, at): (i64, i64) = (row.try_get(0)?, row.try_get(1)?);
    let (at, who): (Moment, String) = (Moment::seconds(at), row.try_get(14)?);
    let mut answers: BTreeMap<String, Answer> = BTreeMap::new();
    for (key, column) in [("picked up", 10), ("lot", 11), ("ill since", 12), ("doctor", 13)] {
        let says: Option<String> = row.try_get(column)?;
        answers.extend(says.map(|says| (key.to_owned(), Answer { says, at, who: who.clone() })));
    }
    let later: Vec<(String, String, i64, String)> =
        sqlx::query_as("SELECT question, says, at, who FROM answers WHERE complaint = ? ORDER BY at, number")
            .bind(number)
            .fetch_all(db)
            .await?;
    answers.extend(later.into_iter().map(|(key, says, at, who)| (key, Answer { says, at: Moment::seconds(at), who })));
    let person: Option<i64> = row.try_get(5)?;
    let by = match person {
        Some(number) => {
            Some(Household { number, label: row.try_get(6)?, name: row.try_get(7)?, phone: row.try_get(8)?, second_way: row.try_get(9)? })
        }
        None => None,
    };
    Ok(Told { number, at, by, caller: row.try_get(2)?, says: row.try_get(3)?, taken_by: row.try_get(4)?, answers })
}

/// Jars a household took of one lot at one time.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Took {
    /// The lot's number.
    pub lot: i64,
    /// Its code.
    pub code: String,
    /// When.
    pub at: Moment,
    /// How many.
    pub jars: Jars,
}

/// What a household took since a moment, newest first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn took(db: &mut SqliteConnection, person: i64, since: Moment) -> Result<Vec<Took>, Failure> {
    let rows = sqlx::query(
        "SELECT p.lot, l.code, p.at, p.gallons, p.half_gallons, p.quarts, p.pints FROM pickups p JOIN lots l ON l.number = p.lot
         WHERE p.person = ? AND p.at >= ? ORDER BY p.at DESC, p.number DESC",
    )
    .bind(person)
    .bind(since.in_seconds())
    .fetch_all(db)
    .await?;
    rows.iter()
        .map(|row| Ok(Took { lot: row.try_get(0)?, code: row.try_get(1)?, at: Moment::seconds(row.try_get(2)?), jars: jars_of(row, 3)? }))
        .collect()
}
