//! Lots: what was filled, what is on hand, and everything that came and went.

use super::{Failure, among, jars, listed};
use crate::trade::{
    balance::{Count, Movement, What},
    codes::LotCode,
    jars::Jars,
    when::Moment,
};
use sqlx::{Row, SqliteConnection, sqlite::SqliteRow};
use std::collections::HashMap;

/// A lot as a list shows it.
#[derive(Clone, Debug)]
pub struct Lot {
    /// Its number.
    pub number: i64,
    /// Its code.
    pub code: String,
    /// When it was filled.
    pub filled: Moment,
    /// The vessel it was filled from, by name.
    pub vessel: String,
    /// Jars filled.
    pub jars: Jars,
    /// What it was made into, for a made lot.
    pub made: String,
    /// Who wrote it.
    pub who: String,
    /// A note.
    pub note: String,
}

const LOT: &str = "SELECT l.number, l.code, l.filled, coalesce(v.name, ''), l.gallons, l.half_gallons, l.quarts, l.pints, coalesce(l.made, ''), l.who, coalesce(l.note, '')
    FROM lots l LEFT JOIN vessels v ON v.number = l.vessel ";

fn lot(row: &SqliteRow) -> Result<Lot, Failure> {
    Ok(Lot {
        number: row.try_get(0)?,
        code: row.try_get(1)?,
        filled: Moment::seconds(row.try_get(2)?),
        vessel: row.try_get(3)?,
        jars: jars(row, 4)?,
        made: row.try_get(8)?,
        who: row.try_get(9)?,
        note: row.try_get(10)?,
    })
}

/// The newest fill with a code.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn find(db: &mut SqliteConnection, code: &str) -> Result<Option<Lot>, Failure> {
    let asked = const_str(LOT, "WHERE l.code = ? ORDER BY l.filled DESC LIMIT 1");
    sqlx::query(asked).bind(code).fetch_optional(db).await?.map(|row| lot(&row)).transpose()
}

/// Lots by number.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn list(db: &mut SqliteConnection, numbers: &[i64]) -> Result<Vec<Lot>, Failure> {
    let asked = const_str(LOT, "WHERE l.number IN (SELECT value FROM json_each(?)) ORDER BY l.filled, l.number");
    sqlx::query(asked).bind(among(numbers)).fetch_all(db).await?.iter().map(lot).collect()
}

/// The codes of the farm that somebody may have meant by one that is none of them: those one character away, or else the
/// newest.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn codes_near(db: &mut SqliteConnection, typed: &str) -> Result<Vec<String>, Failure> {
    let slips: Vec<String> = LotCode::one_slip_from_typed(typed).iter().map(ToString::to_string).collect();
    let asked = "SELECT DISTINCT code FROM lots WHERE code IN (SELECT value FROM json_each(?)) ORDER BY filled DESC LIMIT 4";
    let near: Vec<String> = sqlx::query_scalar(asked).bind(serde_json::json!(slips).to_string()).fetch_all(&mut *db).await?;
    if !near.is_empty() {
        return Ok(near);
    }
    Ok(sqlx::query_scalar("SELECT code FROM lots ORDER BY filled DESC, number DESC LIMIT 6").fetch_all(db).await?)
}

/// The newest lots, newest first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn newest(db: &mut SqliteConnection, most: i64) -> Result<Vec<Lot>, Failure> {
    let asked = const_str(LOT, "ORDER BY l.filled DESC, l.number DESC LIMIT ?");
    sqlx::query(asked).bind(most).fetch_all(db).await?.iter().map(lot).collect()
}

/// How many fills a day already has, for its next letter.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn codes_on(db: &mut SqliteConnection, from: Moment, until: Moment) -> Result<Vec<String>, Failure> {
    Ok(sqlx::query_scalar("SELECT code FROM lots WHERE filled >= ? AND filled < ?")
        .bind(from.in_seconds())
        .bind(until.in_seconds())
        .fetch_all(db)
        .await?)
}

/// A lot that still has jars somewhere on the farm.
#[derive(Clone, Debug)]
pub struct OnHand {
    /// The lot.
    pub lot: Lot,
    /// Jars that ought to be there by the book.
    pub by_the_book: Jars,
    /// Jars last counted, and when.
    pub counted: Option<(Jars, Moment)>,
    /// Jars that moved after that count.
    gone_since: Jars,
}

impl OnHand {
    /// The jars to go by: what the book leaves.
    #[must_use]
    pub const fn jars(&self) -> Jars {
        self.by_the_book
    }

    /// The jars that may be promised: what was counted, less what went since, and never more than the book leaves. Filling is
    /// a count too.
    #[must_use]
    pub fn to_promise(&self) -> Jars {
        let counted = self.counted.map_or(self.by_the_book, |(jars, _)| jars - self.gone_since);
        self.by_the_book.at_most(counted).short_and_over().0
    }
}

/// The lots with jars left by the book, oldest first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn on_hand(db: &mut SqliteConnection, now: Moment) -> Result<Vec<OnHand>, Failure> {
    let recent = left(&mut *db, now.plus_hours(-40 * 24), now).await?;
    let lots = list(&mut *db, &recent).await?;
    let moved = moved(&mut *db, &recent).await?;
    let counts = counts(&mut *db, &recent).await?;
    let mut standing = Vec::new();
    for lot in lots {
        let moves = moved.get(&lot.number).map_or(&[][..], Vec::as_slice);
        let gone = |after: Moment| -> Jars {
            moves
                .iter()
                .filter(|m| m.what != What::Filled && m.at > after)
                .map(|m| if m.what == What::Returned { Jars::NONE - m.jars } else { m.jars })
                .sum()
        };
        let by_the_book = lot.jars - gone(Moment::seconds(i64::MIN));
        let counted = counts.get(&lot.number).and_then(|counts| counts.last()).map(|count| (count.jars, count.at));
        let gone_since = counted.map_or(Jars::NONE, |(_, at)| gone(at));
        let missing_for_good =
            counted.is_some_and(|(jars, at)| jars.is_none() && moved.get(&lot.number).is_none_or(|moves| moves.iter().all(|m| m.at <= at)));
        if !by_the_book.is_none() && !missing_for_good {
            standing.push(OnHand { lot, by_the_book, counted, gone_since });
        }
    }
    Ok(standing)
}

/// The lots filled between two moments that what went has not emptied, oldest first.
async fn left(db: &mut SqliteConnection, from: Moment, until: Moment) -> Result<Vec<i64>, Failure> {
    let asked = "WITH recent AS MATERIALIZED (SELECT number, filled, gallons, half_gallons, quarts, pints FROM lots WHERE filled >= ?1 AND filled <= ?2),
         went AS (
            SELECT p.lot, p.gallons, p.half_gallons, p.quarts, p.pints FROM recent CROSS JOIN pickups p ON p.lot = recent.number
            UNION ALL
            SELECT a.lot, a.gallons * way, a.half_gallons * way, a.quarts * way, a.pints * way
            FROM (SELECT asides.*, CASE sort WHEN 'returned' THEN -1 ELSE 1 END AS way FROM recent CROSS JOIN asides ON asides.lot = recent.number) a),
         gone AS (SELECT lot, sum(gallons) AS g, sum(half_gallons) AS h, sum(quarts) AS q, sum(pints) AS p FROM went GROUP BY lot)
         SELECT number FROM recent LEFT JOIN gone ON gone.lot = recent.number
         WHERE (gallons, half_gallons, quarts, pints) <> (coalesce(g, 0), coalesce(h, 0), coalesce(q, 0), coalesce(p, 0)) ORDER BY filled, number";
    Ok(sqlx::query_scalar(asked).bind(from.in_seconds()).bind(until.in_seconds()).fetch_all(db).await?)
}

/// Everything that came and went of some lots, with who took it, by lot.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn moved(db: &mut SqliteConnection, lots: &[i64]) -> Result<HashMap<i64, Vec<Movement>>, Failure> {
    let asked = "SELECT json_group_array(json_array(lot, at, sort, json_array(gallons, half_gallons, quarts, pints), who)) FROM (
         SELECT number AS lot, filled AS at, 'filled' AS sort, gallons, half_gallons, quarts, pints, '' AS who
         FROM lots WHERE number IN (SELECT value FROM json_each(?1))
         UNION ALL
         SELECT p.lot, p.at, 'handed out', p.gallons, p.half_gallons, p.quarts, p.pints, coalesce(people.label, 'an unknown walk-in')
         FROM pickups p LEFT JOIN people ON people.number = p.person WHERE p.lot IN (SELECT value FROM json_each(?1))
         UNION ALL
         SELECT lot, at, sort, gallons, half_gallons, quarts, pints, '' FROM asides WHERE lot IN (SELECT value FROM json_each(?1))
         ORDER BY 2)";
    let all: String = sqlx::query_scalar(asked).bind(among(lots)).fetch_one(db).await?;
    let mut by_lot: HashMap<i64, Vec<Movement>> = HashMap::new();
    for (lot, at, sort, [gallons, half_gallons, quarts, pints], who) in listed::<Vec<(i64, i64, String, [i64; 4], String)>>(&all)? {
        let what = match sort.as_str() {
            "filled" => What::Filled,
            "handed out" => What::HandedOut,
            "household" => What::Household,
            "calf" => What::Calf,
            "made" => What::IntoLot,
            "sample" => What::Sample,
            "shelf jar" => What::ShelfJar,
            "broken" => What::Broken,
            "returned" => What::Returned,
            _ => What::ThrownOut,
        };
        let jars = Jars { gallons, half_gallons, quarts, pints };
        by_lot.entry(lot).or_default().push(Movement { at: Moment::seconds(at), what, jars, who });
    }
    Ok(by_lot)
}

/// Every count of some lots, by lot, oldest first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn counts(db: &mut SqliteConnection, lots: &[i64]) -> Result<HashMap<i64, Vec<Count>>, Failure> {
    let rows = sqlx::query("SELECT lot, at, gallons, half_gallons, quarts, pints FROM counts WHERE lot IN (SELECT value FROM json_each(?)) ORDER BY at, number").bind(among(lots)).fetch_all(db).await?;
    let mut by_lot: HashMap<i64, Vec<Count>> = HashMap::new();
    for row in rows {
        by_lot.entry(row.try_get(0)?).or_default().push(Count { at: Moment::seconds(row.try_get(1)?), jars: jars(&row, 2)? });
    }
    Ok(by_lot)
}

/// The lots that were counted at a moment.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn counted_at(db: &mut SqliteConnection, at: Moment) -> Result<Vec<i64>, Failure> {
    Ok(sqlx::query_scalar("SELECT lot FROM counts WHERE at = ? ORDER BY lot").bind(at.in_seconds()).fetch_all(db).await?)
}

/// Two pieces of SQL that are both part of the program.
fn const_str(first: &'static str, then: &'static str) -> sqlx::AssertSqlSafe<String> {
    sqlx::AssertSqlSafe(format!("{first}{then}"))
}
