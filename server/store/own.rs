//! What a household comes in with: the PIN it was given, its short visits, and who fetches for it. PINs and visits are no part
//! of the farm folder.

use super::Failure;
use crate::trade::{
    numbers::names,
    when::{Day, Moment, parse_day},
};
use sqlx::SqliteConnection;

/// A household as the door knows it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Own {
    /// Its record's number.
    pub person: i64,
    /// What the clipboard calls it.
    pub label: String,
    /// The PIN it was given, if it was given one.
    pub pin: Option<Pin>,
}

/// A PIN that was given.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pin {
    /// Its hash; nothing once it was shut.
    pub secret: Option<String>,
    /// When it was given.
    pub made: Moment,
}

/// An open visit.
#[derive(Clone, Debug)]
pub struct Visit {
    /// Whose.
    pub person: i64,
    /// What the clipboard calls them.
    pub label: String,
    /// The seal their forms carry.
    pub seal: String,
}

/// The household a typed number names: `M05`, `m5`, or only `5`.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn find(db: &mut SqliteConnection, typed: &str) -> Result<Option<Own>, Failure> {
    // Members before walk-ins, for whoever types the digits only.
    let rows: Vec<(i64, String, Option<String>, Option<i64>)> = sqlx::query_as(
        "SELECT people.number, people.label, pins.secret, pins.made FROM people LEFT JOIN pins ON pins.person = people.number
         ORDER BY people.sort, people.label",
    )
    .fetch_all(db)
    .await?;
    // The number as it stands on the card before one that is only spelt like it.
    let exact = rows.iter().position(|(_, label, _, _)| label.eq_ignore_ascii_case(typed.trim()));
    let meant = exact.or_else(|| rows.iter().position(|(_, label, _, _)| names(label, typed)));
    let own = meant.and_then(|place| rows.into_iter().nth(place));
    Ok(own.map(|(person, label, secret, made)| {
        let pin = secret
            .zip(made)
            .map(|(secret, made)| Pin { secret: Some(secret).filter(|secret| !secret.is_empty()), made: Moment::seconds(made) });
        Own { person, label, pin }
    }))
}

/// Gives a household a PIN, or another in place of the one it has. Whoever came in with the old one is shown out.
///
/// # Errors
/// When the ledger refuses.
pub async fn give(db: &mut SqliteConnection, person: i64, secret: &str, at: Moment) -> Result<(), Failure> {
    // A second within the same second is later all the same, so that a form made for the first is known by its moment.
    sqlx::query(
        "INSERT INTO pins (person, secret, made) VALUES (?1, ?2, ?3)
         ON CONFLICT (person) DO UPDATE SET secret = excluded.secret, made = max(excluded.made, pins.made + 1)",
    )
    .bind(person)
    .bind(secret)
    .bind(at.in_seconds())
    .execute(&mut *db)
    .await?;
    end_visits(db, person).await
}

/// Shuts a PIN: nothing opens with it any more until another is given.
///
/// # Errors
/// When the ledger refuses.
pub async fn shut(db: &mut SqliteConnection, person: i64) -> Result<(), Failure> {
    sqlx::query("UPDATE pins SET secret = '' WHERE person = ?").bind(person).execute(&mut *db).await?;
    end_visits(db, person).await
}

/// Takes a PIN away.
///
/// # Errors
/// When the ledger refuses.
pub async fn take_away(db: &mut SqliteConnection, person: i64) -> Result<(), Failure> {
    sqlx::query("DELETE FROM pins WHERE person = ?").bind(person).execute(&mut *db).await?;
    end_visits(db, person).await
}

async fn end_visits(db: &mut SqliteConnection, person: i64) -> Result<(), Failure> {
    sqlx::query("DELETE FROM visits WHERE person = ?").bind(person).execute(db).await?;
    Ok(())
}

/// Opens a visit and drops those that have ended.
///
/// # Errors
/// When the ledger refuses.
pub async fn open_visit(
    db: &mut SqliteConnection,
    person: i64,
    token_hash: &str,
    seal: &str,
    now: Moment,
    until: Moment,
) -> Result<(), Failure> {
    sqlx::query("DELETE FROM visits WHERE until <= ?").bind(now.in_seconds()).execute(&mut *db).await?;
    sqlx::query("INSERT INTO visits (token_hash, person, seal, until) VALUES (?, ?, ?, ?)")
        .bind(token_hash)
        .bind(person)
        .bind(seal)
        .bind(until.in_seconds())
        .execute(db)
        .await?;
    Ok(())
}

/// The visit a token opens, if it has not ended.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn visit(db: &mut SqliteConnection, token_hash: &str, now: Moment) -> Result<Option<Visit>, Failure> {
    let row: Option<(i64, String, String)> = sqlx::query_as(
        "SELECT v.person, people.label, v.seal FROM visits v JOIN people ON people.number = v.person WHERE v.token_hash = ? AND v.until > ?",
    )
    .bind(token_hash)
    .bind(now.in_seconds())
    .fetch_optional(db)
    .await?;
    Ok(row.map(|(person, label, seal)| Visit { person, label, seal }))
}

/// Ends a visit.
///
/// # Errors
/// When the ledger refuses.
pub async fn end_visit(db: &mut SqliteConnection, token_hash: &str) -> Result<(), Failure> {
    sqlx::query("DELETE FROM visits WHERE token_hash = ?").bind(token_hash).execute(db).await?;
    Ok(())
}

/// The names of those who fetch for a household on a day, without the ways to reach them.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn stand_ins(db: &mut SqliteConnection, person: i64, on: Day) -> Result<Vec<String>, Failure> {
    let rows: Vec<(String, String, Option<String>)> =
        sqlx::query_as("SELECT name, since, until FROM collectors WHERE person = ? ORDER BY since, number")
            .bind(person)
            .fetch_all(db)
            .await?;
    let day = |typed: &str| parse_day(typed).ok();
    let fetches = |since: &str, until: Option<&str>| {
        day(since).is_none_or(|since| since <= on) && until.and_then(day).is_none_or(|until| until >= on)
    };
    Ok(rows.into_iter().filter(|(_, since, until)| fetches(since, until.as_deref())).map(|(name, _, _)| name).collect())
}
