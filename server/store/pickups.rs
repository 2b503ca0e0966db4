//! Questions about hand-outs: those of a day, those of one person, and what was held at a moment that is over.

use super::{Failure, jars};
use crate::trade::{
    caps::{Cap, Caps},
    jars::Jars,
    when::{Day, Moment, Zone},
};
use sqlx::{Row, SqliteConnection, sqlite::SqliteRow};

/// A hand-out as a list shows it.
#[derive(Clone, Debug)]
pub struct HandedOut {
    /// Its number.
    pub number: i64,
    /// When the jars went.
    pub at: Moment,
    /// When it was written down.
    pub written: Moment,
    /// Who wrote it.
    pub who: String,
    /// The lot's code.
    pub lot: String,
    /// Whose number; empty for an unknown walk-in.
    pub label: String,
    /// Their name; empty for an unknown walk-in.
    pub name: String,
    /// The jars.
    pub jars: Jars,
    /// How it is known.
    pub evidence: String,
    /// Who fetched them, if somebody else did.
    pub taken_by: String,
    /// The lot's word as it stood then.
    pub verdict: String,
    /// And its reason.
    pub because: String,
    /// What was marked on it.
    pub marked: String,
}

const HANDED_OUT: &str = "SELECT p.number, p.at, p.written, p.who, l.code, coalesce(people.label, ''), coalesce(people.name, ''),
    p.gallons, p.half_gallons, p.quarts, p.pints, p.evidence, coalesce(p.taken_by, ''), p.verdict, p.because, coalesce(p.marked, '')
    FROM pickups p JOIN lots l ON l.number = p.lot LEFT JOIN people ON people.number = p.person ";

fn handed_out(row: &SqliteRow) -> Result<HandedOut, Failure> {
    Ok(HandedOut {
        number: row.try_get(0)?,
        at: Moment::seconds(row.try_get(1)?),
        written: Moment::seconds(row.try_get(2)?),
        who: row.try_get(3)?,
        lot: row.try_get(4)?,
        label: row.try_get(5)?,
        name: row.try_get(6)?,
        jars: Jars { gallons: row.try_get(7)?, half_gallons: row.try_get(8)?, quarts: row.try_get(9)?, pints: row.try_get(10)? },
        evidence: row.try_get(11)?,
        taken_by: row.try_get(12)?,
        verdict: row.try_get(13)?,
        because: row.try_get(14)?,
        marked: row.try_get(15)?,
    })
}

/// What went out between two moments, or was written down between them, newest first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn between(db: &mut SqliteConnection, from: Moment, until: Moment) -> Result<Vec<HandedOut>, Failure> {
    let asked = asking("WHERE (p.at >= ?1 AND p.at < ?2) OR (p.written >= ?1 AND p.written < ?2) ORDER BY p.at DESC, p.number DESC");
    sqlx::query(asked).bind(from.in_seconds()).bind(until.in_seconds()).fetch_all(db).await?.iter().map(handed_out).collect()
}

/// What one person took last, newest first, up to so many.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn of_person(db: &mut SqliteConnection, person: i64, most: i64) -> Result<Vec<HandedOut>, Failure> {
    let asked = asking("WHERE p.person = ? ORDER BY p.at DESC, p.number DESC LIMIT ?");
    sqlx::query(asked).bind(person).bind(most).fetch_all(db).await?.iter().map(handed_out).collect()
}

/// How often one person took something, and the jars of it all.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn taken_by(db: &mut SqliteConnection, person: i64) -> Result<(i64, Jars), Failure> {
    let asked =
        "SELECT count(*), coalesce(sum(gallons), 0), coalesce(sum(half_gallons), 0), coalesce(sum(quarts), 0), coalesce(sum(pints), 0)
         FROM pickups WHERE person = ?";
    let row = sqlx::query(asked).bind(person).fetch_one(db).await?;
    Ok((row.try_get(0)?, jars(&row, 1)?))
}

/// What one person took between two moments.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn of_person_between(db: &mut SqliteConnection, person: i64, from: Moment, until: Moment) -> Result<Vec<HandedOut>, Failure> {
    let asked = asking("WHERE p.person = ? AND p.at >= ? AND p.at < ? ORDER BY p.at");
    sqlx::query(asked).bind(person).bind(from.in_seconds()).bind(until.in_seconds()).fetch_all(db).await?.iter().map(handed_out).collect()
}

/// Everybody known who took something between two moments, by the record's number.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn takers_between(db: &mut SqliteConnection, from: Moment, until: Moment) -> Result<Vec<i64>, Failure> {
    Ok(sqlx::query_scalar("SELECT DISTINCT person FROM pickups WHERE person IS NOT NULL AND at >= ? AND at < ?")
        .bind(from.in_seconds())
        .bind(until.in_seconds())
        .fetch_all(db)
        .await?)
}

/// Whether a form with this mark was kept before.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn is_kept(db: &mut SqliteConnection, entry: &str) -> Result<bool, Failure> {
    let kept: i64 = sqlx::query_scalar("SELECT count(*) FROM pickups WHERE entry = ?").bind(entry).fetch_one(db).await?;
    Ok(kept > 0)
}

/// What every hand-out between two moments took, each with its day on the farm's clock.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn taken_between(db: &mut SqliteConnection, from: Moment, until: Moment, zone: Zone) -> Result<Vec<(Day, Jars)>, Failure> {
    let rows = sqlx::query("SELECT at, gallons, half_gallons, quarts, pints FROM pickups WHERE at >= ? AND at < ?")
        .bind(from.in_seconds())
        .bind(until.in_seconds())
        .fetch_all(db)
        .await?;
    rows.iter().map(|row| Ok((zone.day(Moment::seconds(row.try_get(0)?)), jars(row, 1)?))).collect()
}

/// The caps of every rule set that is followed on a day, and the first day anything was filled.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn caps_on(db: &mut SqliteConnection, day: Day, zone: Zone) -> Result<(Vec<Cap>, Day), Failure> {
    // A set that stands alone ends whatever came before it, as it does for the verdict.
    let lines: Vec<String> = sqlx::query_scalar(
        "SELECT coalesce(caps, '') FROM rules WHERE since <= ?1 AND NOT EXISTS (
            SELECT 1 FROM rules later WHERE later.since <= ?1 AND coalesce(later.beside, 'no') <> 'yes'
              AND (later.since, later.number) > (rules.since, rules.number))
         ORDER BY since, number",
    )
    .bind(day.to_string())
    .fetch_all(&mut *db)
    .await?;
    let first: Option<i64> = sqlx::query_scalar("SELECT min(filled) FROM lots").fetch_one(db).await?;
    let caps = lines.iter().flat_map(|line| Caps::parse(line).unwrap_or_default().0).collect();
    Ok((caps, first.map_or(day, |first| zone.day(Moment::seconds(first)))))
}

/// The list's own columns and one ending, both part of the program.
fn asking(ending: &'static str) -> sqlx::AssertSqlSafe<String> {
    sqlx::AssertSqlSafe(format!("{HANDED_OUT}{ending}"))
}
