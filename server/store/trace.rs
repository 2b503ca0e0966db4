//! What a trace is made of: thin lists for the walk, and the few full records the walk ends at.

mod lists;
mod starts;

pub use lists::{lists, reached};
pub use starts::{bought, filters, kept, treated, washed};

use super::{Failure, among, jars as jars_of};
use crate::trade::{
    behind::{Milked, Poured, Read, Tested, Washed, day_words},
    recipients::{HandedOut, Household},
    when::Moment,
};
use sqlx::{Row, SqliteConnection, sqlite::SqliteRow};

fn household(row: &SqliteRow, first: usize) -> Result<Household, Failure> {
    Ok(Household {
        number: row.try_get(first)?,
        label: row.try_get(first + 1)?,
        name: row.try_get(first + 2)?,
        phone: row.try_get(first + 3)?,
        second_way: row.try_get(first + 4)?,
    })
}

/// Every household, by the number it goes by.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn households(db: &mut SqliteConnection) -> Result<Vec<Household>, Failure> {
    let rows =
        sqlx::query("SELECT number, label, name, coalesce(phone, ''), coalesce(second_way, '') FROM people ORDER BY label COLLATE NOCASE")
            .fetch_all(db)
            .await?;
    rows.iter().map(|row| household(row, 0)).collect()
}

/// Every hand-out of some lots, oldest first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn handed_out(db: &mut SqliteConnection, numbers: &[i64]) -> Result<Vec<HandedOut>, Failure> {
    let rows = sqlx::query(
        "SELECT p.number, p.lot, p.at, p.gallons, p.half_gallons, p.quarts, p.pints, p.evidence, coalesce(p.taken_by, ''), p.person,
                h.number, h.label, h.name, coalesce(h.phone, ''), coalesce(h.second_way, '')
         FROM pickups p LEFT JOIN people h ON h.number = p.person WHERE p.lot IN (SELECT value FROM json_each(?)) ORDER BY p.at, p.number",
    )
    .bind(among(numbers))
    .fetch_all(db)
    .await?;
    rows.iter()
        .map(|row| {
            let person: Option<i64> = row.try_get(9)?;
            Ok(HandedOut {
                number: row.try_get(0)?,
                lot: row.try_get(1)?,
                at: Moment::seconds(row.try_get(2)?),
                jars: jars_of(row, 3)?,
                evidence: row.try_get(7)?,
                taken_by: row.try_get(8)?,
                to: if person.is_some() { Some(household(row, 10)?) } else { None },
            })
        })
        .collect()
}

/// The lots a household took between two moments, the second not counted, newest first: when, number and code.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn taken(db: &mut SqliteConnection, person: i64, from: Moment, until: Moment) -> Result<Vec<(Moment, i64, String)>, Failure> {
    let rows: Vec<(i64, i64, String)> = sqlx::query_as(
        "SELECT p.at, p.lot, l.code FROM pickups p JOIN lots l ON l.number = p.lot WHERE p.person = ? AND p.at >= ? AND p.at < ? ORDER BY p.at DESC, p.number DESC",
    )
    .bind(person)
    .bind(from.in_seconds())
    .bind(until.in_seconds())
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|(at, lot, code)| (Moment::seconds(at), lot, code)).collect())
}

/// The lots filled between two moments, the second not counted, oldest first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn filled(db: &mut SqliteConnection, from: Moment, until: Moment) -> Result<Vec<(i64, Moment)>, Failure> {
    let rows: Vec<(i64, i64)> = sqlx::query_as("SELECT number, filled FROM lots WHERE filled >= ? AND filled < ? ORDER BY filled")
        .bind(from.in_seconds())
        .bind(until.in_seconds())
        .fetch_all(db)
        .await?;
    Ok(rows.into_iter().map(|(number, filled)| (number, Moment::seconds(filled))).collect())
}

/// Which of some lots a hold stands on by name.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn held(db: &mut SqliteConnection, numbers: &[i64]) -> Result<Vec<i64>, Failure> {
    Ok(sqlx::query_scalar(concat!(
        "SELECT DISTINCT h.lot FROM holds h WHERE h.scope = 'lot' AND h.lot IN (SELECT value FROM json_each(?))
         AND ",
        stands!()
    ))
    .bind(among(numbers))
    .fetch_all(db)
    .await?)
}

/// Milkings by number, oldest first. `certain` says which the milk itself leads to.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn milked(db: &mut SqliteConnection, numbers: &[i64], certain: impl Fn(i64) -> bool) -> Result<Vec<Milked>, Failure> {
    let rows = sqlx::query("SELECT number, session, milker, well, started, ended FROM milkings WHERE number IN (SELECT value FROM json_each(?)) ORDER BY started").bind(among(numbers)).fetch_all(db).await?;
    rows.iter()
        .map(|row| {
            let (number, well, ended): (i64, Option<String>, Option<i64>) = (row.try_get(0)?, row.try_get(3)?, row.try_get(5)?);
            Ok(Milked {
                number,
                session: row.try_get(1)?,
                milker: row.try_get(2)?,
                well: well.map(|well| well == "yes"),
                started: Moment::seconds(row.try_get(4)?),
                ended: ended.map(Moment::seconds),
                certain: certain(number),
            })
        })
        .collect()
}

/// The cows whose milk went into a can at some milkings. Their clocks are left for the verdicts to say.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn poured(db: &mut SqliteConnection, milkings: &[i64]) -> Result<Vec<Poured>, Failure> {
    let rows = sqlx::query(
        "SELECT m.session, c.name, p.milk_as, coalesce(v.name, ''), coalesce(p.foremilk, '') FROM pails p
         JOIN milkings m ON m.number = p.milking JOIN cows c ON c.number = p.cow LEFT JOIN vessels v ON v.number = p.vessel
         WHERE p.went = 'can' AND p.milking IN (SELECT value FROM json_each(?)) ORDER BY m.started, p.number",
    )
    .bind(among(milkings))
    .fetch_all(db)
    .await?;
    rows.iter()
        .map(|row| {
            Ok(Poured {
                session: row.try_get(0)?,
                cow: row.try_get(1)?,
                milk: row.try_get(2)?,
                vessel: row.try_get(3)?,
                foremilk: row.try_get(4)?,
                clocks: String::new(),
            })
        })
        .collect()
}

/// The chill readings of some lots, lot by lot.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn readings(db: &mut SqliteConnection, numbers: &[i64]) -> Result<Vec<Read>, Failure> {
    let rows = sqlx::query(
        "SELECT l.code, r.at, r.temperature_as, coalesce(r.thermometer, '') FROM chill r JOIN lots l ON l.number = r.lot
         WHERE r.lot IN (SELECT value FROM json_each(?)) ORDER BY l.filled, l.number, r.at",
    )
    .bind(among(numbers))
    .fetch_all(db)
    .await?;
    rows.iter()
        .map(|row| {
            Ok(Read {
                lot: row.try_get(0)?,
                at: Moment::seconds(row.try_get(1)?),
                temperature: row.try_get(2)?,
                thermometer: row.try_get(3)?,
            })
        })
        .collect()
}

/// The lab results on some lots, and on some cows between two moments, oldest first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn results(
    db: &mut SqliteConnection,
    numbers: &[i64],
    cows: &[i64],
    from: Moment,
    until: Moment,
) -> Result<Vec<Tested>, Failure> {
    let rows = sqlx::query(
        "SELECT r.number, coalesce(l.code, c.name, ''), s.drawn, r.analyte, r.figure || coalesce(' ' || r.unit, ''), r.reported,
                coalesce(s.lab, '') || coalesce(' (' || s.lab_ref || ')', '')
         FROM results r JOIN samples s ON s.number = r.sample LEFT JOIN lots l ON l.number = s.lot LEFT JOIN cows c ON c.number = s.cow
         WHERE s.lot IN (SELECT value FROM json_each(?1)) OR (s.cow IN (SELECT value FROM json_each(?2)) AND s.drawn BETWEEN ?3 AND ?4)
         ORDER BY s.drawn, r.number",
    )
    .bind(among(numbers))
    .bind(among(cows))
    .bind(from.in_seconds())
    .bind(until.in_seconds())
    .fetch_all(db)
    .await?;
    rows.iter()
        .map(|row| {
            let reported: String = row.try_get(5)?;
            Ok(Tested {
                number: row.try_get(0)?,
                of: row.try_get(1)?,
                drawn: Moment::seconds(row.try_get(2)?),
                analyte: row.try_get(3)?,
                figure: row.try_get(4)?,
                reported: day_words(&reported),
                lab: row.try_get(6)?,
            })
        })
        .collect()
}

/// The washings of the vessels some lots were filled from, from the last clean break before the first use to the first
/// one after the last.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn washings(db: &mut SqliteConnection, numbers: &[i64]) -> Result<Vec<Washed>, Failure> {
    let rows = sqlx::query(
        "WITH used AS (
            SELECT vessel, min(at) AS first, max(at) AS last FROM (
                SELECT vessel, filled AS at FROM lots WHERE number IN (SELECT value FROM json_each(?1)) AND vessel IS NOT NULL
                UNION ALL
                SELECT p.vessel, m.started FROM sources s JOIN pails p ON p.milking = s.milking JOIN milkings m ON m.number = s.milking
                WHERE s.lot IN (SELECT value FROM json_each(?1)) AND p.went = 'can' AND p.vessel IS NOT NULL)
            GROUP BY vessel)
         SELECT b.number, v.name, b.at, b.washed, b.sanitised, coalesce(b.with_what, ''), b.done_by
         FROM used u JOIN breaks b ON b.vessel = u.vessel JOIN vessels v ON v.number = u.vessel
         WHERE b.at >= coalesce((SELECT max(at) FROM breaks WHERE vessel = u.vessel AND washed = 'yes' AND sanitised = 'yes' AND at < u.first), u.first - 172800)
           AND b.at <= coalesce((SELECT min(at) FROM breaks WHERE vessel = u.vessel AND washed = 'yes' AND sanitised = 'yes' AND at > u.last), u.last + 172800)
         ORDER BY v.name, b.at",
    )
    .bind(among(numbers))
    .fetch_all(db)
    .await?;
    rows.iter()
        .map(|row| {
            let (washed, sanitised): (String, String) = (row.try_get(3)?, row.try_get(4)?);
            Ok(Washed {
                number: row.try_get(0)?,
                vessel: row.try_get(1)?,
                at: Moment::seconds(row.try_get(2)?),
                washed: washed == "yes",
                sanitised: sanitised == "yes",
                with_what: row.try_get(5)?,
                done_by: row.try_get(6)?,
            })
        })
        .collect()
}
