//! Questions about the books: every entry, the terms, counts of the tin, and what a household's weeks and jars rest on.

use super::{Failure, jars};
use crate::trade::{
    channels::Channel,
    money::Money,
    terms::Terms,
    transfers::{Account, Sort, Transfer},
    wear::Span,
    when::{Day, Moment, Zone, parse_day},
};
use rust_decimal::Decimal;
use sqlx::{Row, SqliteConnection, sqlite::SqliteRow};
use std::collections::HashMap;

fn unreadable(what: &str) -> Failure {
    Failure::File(format!("{what} in the ledger cannot be read. Run tallypail check."))
}

const ENTRY: &str = "SELECT number, day, sort, from_account, to_account, person, amount, coalesce(paid_by, ''), month, jars, corrects,
    coalesce(note, '') FROM transfers ";

fn entry(row: &SqliteRow) -> Result<Transfer, Failure> {
    let number: i64 = row.try_get(0)?;
    let wrong = || unreadable(&format!("Entry {number} of the books"));
    let (day, sort, from, to): (String, String, String, String) = (row.try_get(1)?, row.try_get(2)?, row.try_get(3)?, row.try_get(4)?);
    let account = |word: &str| Account::WORDS.iter().find(|(_, own)| *own == word).map(|(account, _)| *account).ok_or_else(wrong);
    Ok(Transfer {
        number,
        day: parse_day(&day).map_err(|_| wrong())?,
        sort: Sort::parse(&sort).ok_or_else(wrong)?,
        from: account(&from)?,
        to: account(&to)?,
        person: row.try_get(5)?,
        amount: Money::cents(row.try_get(6)?),
        paid_by: row.try_get(7)?,
        month: row.try_get::<Option<String>, _>(8)?.and_then(|month| parse_day(&month).ok()),
        jars: row.try_get(9)?,
        corrects: row.try_get(10)?,
        note: row.try_get(11)?,
    })
}

/// Every entry, in order of number.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn all(db: &mut SqliteConnection) -> Result<Vec<Transfer>, Failure> {
    let asked = sqlx::AssertSqlSafe(format!("{ENTRY} ORDER BY number"));
    sqlx::query(asked).fetch_all(db).await?.iter().map(entry).collect()
}

/// Every entry that names a household, in order of number.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn of_household(db: &mut SqliteConnection, person: i64) -> Result<Vec<Transfer>, Failure> {
    let asked = sqlx::AssertSqlSafe(format!("{ENTRY} WHERE person = ? ORDER BY number"));
    sqlx::query(asked).bind(person).fetch_all(db).await?.iter().map(entry).collect()
}

/// One entry and all that undid it, one after the other, as far as they are there.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn one(db: &mut SqliteConnection, number: i64) -> Result<Vec<Transfer>, Failure> {
    let asked = sqlx::AssertSqlSafe(format!(
        "WITH RECURSIVE undoings(own) AS (SELECT ?1 UNION SELECT transfers.number FROM transfers JOIN undoings ON transfers.corrects = own)
         {ENTRY} WHERE number IN (SELECT own FROM undoings) ORDER BY number"
    ));
    sqlx::query(asked).bind(number).fetch_all(db).await?.iter().map(entry).collect()
}

/// What the cash tin holds by the books.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn in_the_tin(db: &mut SqliteConnection) -> Result<Money, Failure> {
    let asked = "SELECT coalesce(sum(CASE WHEN to_account = 'cash tin' THEN amount ELSE -amount END), 0) FROM transfers
         WHERE (to_account = 'cash tin') <> (from_account = 'cash tin')";
    Ok(Money::cents(sqlx::query_scalar(asked).fetch_one(db).await?))
}

/// The terms of every way, oldest first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn terms(db: &mut SqliteConnection) -> Result<Vec<Terms>, Failure> {
    let rows =
        sqlx::query("SELECT channel, since, share_cost, boarding, jar, deposit, coalesce(missed, '') FROM terms ORDER BY since, number")
            .fetch_all(db)
            .await?;
    let read = |row: &SqliteRow| {
        let (way, since): (String, String) = (row.try_get(0)?, row.try_get(1)?);
        let money = |place: usize| row.try_get::<Option<i64>, _>(place).map(|cents| cents.map(Money::cents));
        Ok(Terms {
            way: Channel::parse(&way).ok_or_else(|| unreadable("The way of some terms"))?,
            since: parse_day(&since).map_err(|_| unreadable("The first day of some terms"))?,
            share_cost: money(2)?,
            boarding: money(3)?,
            jar: money(4)?,
            deposit: money(5)?,
            missed: row.try_get(6)?,
        })
    };
    rows.iter().map(read).collect()
}

/// Days of a span on which a household was promised jars, there were not enough, and its portion was none. Where there were
/// enough and the jar of that day had been had ahead, the farm missed nothing.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn empty_days(db: &mut SqliteConnection, span: Span) -> Result<Vec<(i64, Day)>, Failure> {
    let rows: Vec<(i64, String)> = sqlx::query_as(
        "SELECT portions.person, packings.day FROM portions JOIN packings ON packings.number = portions.packing
         WHERE portions.jars = 0 AND CAST(portions.fair AS REAL) < CAST(portions.promised AS REAL) AND packings.day BETWEEN ? AND ?",
    )
    .bind(span.from.to_string())
    .bind(span.to.to_string())
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().filter_map(|(person, day)| Some((person, parse_day(&day).ok()?))).collect())
}

/// Half-gallons each household received on the days of a span.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn received(db: &mut SqliteConnection, zone: Zone, span: Span) -> Result<HashMap<i64, Decimal>, Failure> {
    let rows = sqlx::query(
        "SELECT sum(gallons), sum(half_gallons), sum(quarts), sum(pints), person FROM pickups
         WHERE person IS NOT NULL AND at >= ? AND at < ? GROUP BY person",
    )
    .bind(zone.start_of(span.from).in_seconds())
    .bind(zone.end_of(span.to).in_seconds())
    .fetch_all(db)
    .await?;
    rows.iter().map(|row| Ok((row.try_get(4)?, jars(row, 0)?.in_half_gallons()))).collect()
}

/// A count of the tin.
#[derive(Clone, Debug)]
pub struct TinCount {
    /// Its number.
    pub number: i64,
    /// When.
    pub at: Moment,
    /// What was in it.
    pub counted: Money,
    /// Who counted.
    pub counter: String,
}

/// The newest counts of the tin, newest first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn tin_counts(db: &mut SqliteConnection, most: i64) -> Result<Vec<TinCount>, Failure> {
    let rows: Vec<(i64, i64, i64, String)> =
        sqlx::query_as("SELECT number, at, counted, counter FROM tin_counts ORDER BY at DESC, number DESC LIMIT ?")
            .bind(most)
            .fetch_all(db)
            .await?;
    let count = |(number, at, cents, counter)| TinCount { number, at: Moment::seconds(at), counted: Money::cents(cents), counter };
    Ok(rows.into_iter().map(count).collect())
}

/// Which count of the tin an entry of a difference is of, as its note says: `entry`, `count` and when it was counted.
const OF_COUNTS: &str = "WITH of_counts AS (SELECT transfers.number AS entry, tin_counts.number AS count, tin_counts.at FROM transfers
    JOIN tin_counts ON transfers.sort = 'tin counted' AND transfers.note LIKE 'Count ' || tin_counts.number || ' by %'),
    undone AS (SELECT corrects FROM transfers WHERE sort = 'taken back' AND corrects IS NOT NULL) ";

/// One count of the tin, if it is there, with what the books had in it: the entries of days before, and those of its day that
/// were written down before it. A count typed in on a later day knows all that was written by then of its own day, which was
/// over. Of differences only those of earlier counts are in it, and only while they stand.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn tin_count(db: &mut SqliteConnection, zone: Zone, number: i64) -> Result<Option<(TinCount, Money)>, Failure> {
    let row: Option<(i64, i64, String, i64)> = sqlx::query_as("SELECT at, counted, counter, written FROM tin_counts WHERE number = ?")
        .bind(number)
        .fetch_optional(&mut *db)
        .await?;
    let Some((at, cents, counter, written)) = row else { return Ok(None) };
    let (at, written) = (Moment::seconds(at), Moment::seconds(written));
    let day = zone.day(at);
    let known = if zone.day(written) > day { written.in_seconds() } else { at.in_seconds() + 59 };
    let asked = sqlx::AssertSqlSafe(format!(
        "{OF_COUNTS} SELECT coalesce(sum(CASE WHEN to_account = 'cash tin' THEN amount WHEN from_account = 'cash tin' THEN -amount END), 0)
         FROM transfers WHERE (to_account = 'cash tin' OR from_account = 'cash tin') AND CASE
             WHEN number IN (SELECT entry FROM of_counts)
             THEN number NOT IN (SELECT corrects FROM undone) AND number IN (SELECT entry FROM of_counts WHERE (at, count) < (?3, ?4))
             WHEN corrects IN (SELECT entry FROM of_counts) THEN 0
             ELSE day < ?1 OR day = ?1 AND written <= ?2 END"
    ));
    let book: i64 = sqlx::query_scalar(asked).bind(day.to_string()).bind(known).bind(at.in_seconds()).bind(number).fetch_one(db).await?;
    Ok(Some((TinCount { number, at, counted: Money::cents(cents), counter }, Money::cents(book))))
}

/// How a count's difference stands in the books.
#[derive(Clone, Copy, Debug, Default)]
pub struct Difference {
    /// The entry that still stands: its own, or that of a later count, which found all that was missing by then.
    pub entry: Option<i64>,
    /// Whether that entry is of a later count.
    pub is_later: bool,
    /// How many entries were ever kept of this count.
    pub ever: usize,
}

/// How a count's difference stands in the books.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn difference_of(db: &mut SqliteConnection, count: i64) -> Result<Difference, Failure> {
    let own = sqlx::AssertSqlSafe(format!("{OF_COUNTS} SELECT count(*) FROM of_counts WHERE count = ?"));
    let ever: i64 = sqlx::query_scalar(own).bind(count).fetch_one(&mut *db).await?;
    let standing = sqlx::AssertSqlSafe(format!(
        "{OF_COUNTS} SELECT entry, count FROM of_counts WHERE entry NOT IN (SELECT corrects FROM undone)
         AND (at, count) >= (SELECT at, number FROM tin_counts WHERE number = ?1) ORDER BY count <> ?1, at, count LIMIT 1"
    ));
    let found: Option<(i64, i64)> = sqlx::query_as(standing).bind(count).fetch_optional(db).await?;
    Ok(Difference {
        entry: found.map(|(entry, _)| entry),
        is_later: found.is_some_and(|(_, of)| of != count),
        ever: usize::try_from(ever).unwrap_or_default(),
    })
}
