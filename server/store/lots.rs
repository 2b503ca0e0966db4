//! Lots: what is on hand, and every fact a verdict rests on.

use super::{Failure, among, dose, farm, jars};
use crate::trade::{
    balance::{Count, Movement, What},
    chill::{MilkingTimes, Reading},
    herd::{Dose, Foremilk},
    jars::Jars,
    measure::{Scale, Temperature},
    verdict::{CowsPart, Facts, Hold, LONGEST_FRESH_DAYS, Milking, judge},
    when::{Moment, Zone},
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
}

impl OnHand {
    /// The jars to go by: what was counted if nothing moved since, and otherwise what the book leaves.
    #[must_use]
    pub const fn jars(&self) -> Jars {
        self.by_the_book
    }
}

/// The lots with jars left by the book, oldest first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn on_hand(db: &mut SqliteConnection, now: Moment) -> Result<Vec<OnHand>, Failure> {
    let recent: Vec<i64> = sqlx::query_scalar("SELECT number FROM lots WHERE filled >= ? AND filled <= ? ORDER BY filled")
        .bind(now.plus_hours(-40 * 24).in_seconds())
        .bind(now.in_seconds())
        .fetch_all(&mut *db)
        .await?;
    let lots = list(&mut *db, &recent).await?;
    let moved = moved(&mut *db, &recent).await?;
    let counts = counts(&mut *db, &recent).await?;
    let mut standing = Vec::new();
    for lot in lots {
        let gone: Jars = moved
            .get(&lot.number)
            .map_or(&[][..], Vec::as_slice)
            .iter()
            .filter(|m| m.what != What::Filled)
            .map(|m| if m.what == What::Returned { Jars::NONE - m.jars } else { m.jars })
            .sum();
        let by_the_book = lot.jars - gone;
        let counted = counts.get(&lot.number).and_then(|counts| counts.last()).map(|count| (count.jars, count.at));
        let missing_for_good =
            counted.is_some_and(|(jars, at)| jars.is_none() && moved.get(&lot.number).is_none_or(|moves| moves.iter().all(|m| m.at <= at)));
        if !by_the_book.is_none() && !missing_for_good {
            standing.push(OnHand { lot, by_the_book, counted });
        }
    }
    Ok(standing)
}

/// Everything that came and went of some lots, with who took it, by lot.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn moved(db: &mut SqliteConnection, lots: &[i64]) -> Result<HashMap<i64, Vec<Movement>>, Failure> {
    let rows = sqlx::query(
        "SELECT number, filled, 'filled', gallons, half_gallons, quarts, pints, '' FROM lots WHERE number IN (SELECT value FROM json_each(?1))
         UNION ALL
         SELECT p.lot, p.at, 'handed out', p.gallons, p.half_gallons, p.quarts, p.pints, coalesce(people.label, 'an unknown walk-in')
         FROM pickups p LEFT JOIN people ON people.number = p.person WHERE p.lot IN (SELECT value FROM json_each(?1))
         UNION ALL
         SELECT lot, at, sort, gallons, half_gallons, quarts, pints, '' FROM asides WHERE lot IN (SELECT value FROM json_each(?1))
         ORDER BY 2",
    )
    .bind(among(lots))
    .fetch_all(db)
    .await?;
    let mut by_lot: HashMap<i64, Vec<Movement>> = HashMap::new();
    for row in rows {
        let sort: String = row.try_get(2)?;
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
        by_lot.entry(row.try_get(0)?).or_default().push(Movement {
            at: Moment::seconds(row.try_get(1)?),
            what,
            jars: jars(&row, 3)?,
            who: row.try_get(7)?,
        });
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

/// Every fact the verdicts on some lots rest on, in the order asked. Parents of made lots are judged first, at `now`.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn facts(db: &mut SqliteConnection, numbers: &[i64], zone: Zone, now: Moment) -> Result<Vec<Facts>, Failure> {
    let parents: Vec<(i64, i64)> = sqlx::query_as(
        // Only a parent filled before its child, so that no ring of sources, however it came about, is walked for ever.
        "SELECT s.lot, s.parent FROM sources s JOIN lots l ON l.number = s.lot JOIN lots p ON p.number = s.parent
         WHERE (p.filled, p.number) < (l.filled, l.number) AND s.lot IN (SELECT value FROM json_each(?))",
    )
    .bind(among(numbers))
    .fetch_all(&mut *db)
    .await?;
    let mut judged = HashMap::new();
    if !parents.is_empty() {
        let mut above: Vec<i64> = parents.iter().map(|(_, parent)| *parent).collect();
        above.sort_unstable();
        above.dedup();
        for (number, facts) in above.iter().zip(Box::pin(facts(&mut *db, &above, zone, now)).await?) {
            judged.insert(*number, (facts.code.clone(), judge(&facts, now), facts.oldest()));
        }
    }
    let mut parts = Parts::of(&mut *db, numbers).await?;
    let mut all = Vec::with_capacity(numbers.len());
    for number in numbers {
        let Some(lot) = parts.lots.remove(number) else { continue };
        let rules = farm::rules_on(&mut *db, zone.day(lot.filled)).await?;
        all.push(Facts {
            milkings: parts.milkings.remove(number).unwrap_or_default(),
            readings: parts.readings.remove(number).unwrap_or_default(),
            holds: parts.holds.remove(number).unwrap_or_default(),
            parents: parents.iter().filter(|(child, _)| child == number).filter_map(|(_, parent)| judged.get(parent).cloned()).collect(),
            code: lot.code,
            filled: lot.filled,
            rules,
            zone,
        });
    }
    Ok(all)
}

/// What was read for many lots at once, by lot.
struct Parts {
    lots: HashMap<i64, Lot>,
    milkings: HashMap<i64, Vec<Milking>>,
    readings: HashMap<i64, Vec<Reading>>,
    holds: HashMap<i64, Vec<Hold>>,
}

impl Parts {
    async fn of(db: &mut SqliteConnection, numbers: &[i64]) -> Result<Parts, Failure> {
        Ok(Parts {
            lots: list(&mut *db, numbers).await?.into_iter().map(|lot| (lot.number, lot)).collect(),
            milkings: milkings(&mut *db, numbers).await?,
            readings: readings(&mut *db, numbers).await?,
            holds: holds(&mut *db, numbers).await?,
        })
    }
}

async fn milkings(db: &mut SqliteConnection, lots: &[i64]) -> Result<HashMap<i64, Vec<Milking>>, Failure> {
    let rows = sqlx::query(
        "SELECT s.lot, m.number, m.session, m.started, m.ended, m.well FROM sources s JOIN milkings m ON m.number = s.milking
         WHERE s.lot IN (SELECT value FROM json_each(?)) ORDER BY m.started",
    )
    .bind(among(lots))
    .fetch_all(&mut *db)
    .await?;
    let numbers: Vec<i64> = rows.iter().map(|row| row.try_get(1)).collect::<Result<_, _>>()?;
    let mut cows = cows_parts(db, &numbers).await?;
    let mut by_lot: HashMap<i64, Vec<Milking>> = HashMap::new();
    for row in rows {
        let (number, well): (i64, Option<String>) = (row.try_get(1)?, row.try_get(5)?);
        by_lot.entry(row.try_get(0)?).or_default().push(Milking {
            session: row.try_get(2)?,
            times: MilkingTimes { start: Moment::seconds(row.try_get(3)?), end: row.try_get::<Option<i64>, _>(4)?.map(Moment::seconds) },
            well: well.map(|well| well == "yes"),
            cows: cows.get_mut(&number).map(|cows| cows.clone()).unwrap_or_default(),
        });
    }
    Ok(by_lot)
}

async fn cows_parts(db: &mut SqliteConnection, milkings: &[i64]) -> Result<HashMap<i64, Vec<CowsPart>>, Failure> {
    let rows = sqlx::query(
        "SELECT p.milking, p.cow, c.name, coalesce(p.foremilk, ''), m.started,
                (SELECT max(e.at) FROM events e WHERE e.cow = p.cow AND e.sort = 'calved' AND e.at <= m.started)
         FROM pails p JOIN cows c ON c.number = p.cow JOIN milkings m ON m.number = p.milking
         WHERE p.went = 'can' AND p.milking IN (SELECT value FROM json_each(?)) ORDER BY p.number",
    )
    .bind(among(milkings))
    .fetch_all(&mut *db)
    .await?;
    let mut by_milking: HashMap<i64, Vec<CowsPart>> = HashMap::new();
    for row in rows {
        let (cow, at): (i64, i64) = (row.try_get(1)?, row.try_get(4)?);
        let calved: Option<i64> = row.try_get(5)?;
        let doses = doses(&mut *db, cow, Moment::seconds(at)).await?;
        // Her milkings only matter to a running clock: those since her first dose or her calving, if either is near.
        let since =
            doses.iter().map(|dose| dose.at.in_seconds()).chain(calved.filter(|calved| at - calved < LONGEST_FRESH_DAYS * 86_400)).min();
        let milked = match since {
            Some(since) => milked_between(&mut *db, cow, since, at).await?,
            None => Vec::new(),
        };
        let foremilk: String = row.try_get(3)?;
        by_milking.entry(row.try_get(0)?).or_default().push(CowsPart {
            cow: row.try_get(2)?,
            foremilk: Foremilk::parse(&foremilk).unwrap_or_default(),
            doses,
            milked,
            calved: calved.map(Moment::seconds),
        });
    }
    Ok(by_milking)
}

/// The doses a cow was given in the 120 days up to a moment, because no milk clock known here is longer; a dose whose clock
/// nobody wrote is never forgotten.
///
/// # Errors
/// When the ledger cannot be read.
async fn doses(db: &mut SqliteConnection, cow: i64, until: Moment) -> Result<Vec<Dose>, Failure> {
    let rows = sqlx::query("SELECT at, product, milk_hours, milk_milkings, as_labelled, vet_figure FROM treatments WHERE cow = ? AND at <= ? AND (at > ? OR (milk_hours IS NULL AND milk_milkings IS NULL)) ORDER BY at")
        .bind(cow)
        .bind(until.in_seconds())
        .bind(until.plus_hours(-120 * 24).in_seconds())
        .fetch_all(db)
        .await?;
    rows.iter().map(|row| dose(row, 0)).collect()
}

/// When a cow was milked between two moments, both counted.
///
/// # Errors
/// When the ledger cannot be read.
async fn milked_between(db: &mut SqliteConnection, cow: i64, from: i64, until: i64) -> Result<Vec<Moment>, Failure> {
    let times: Vec<i64> = sqlx::query_scalar("SELECT m.started FROM pails p JOIN milkings m ON m.number = p.milking WHERE p.cow = ? AND m.started BETWEEN ? AND ? ORDER BY m.started").bind(cow).bind(from).bind(until).fetch_all(db).await?;
    Ok(times.into_iter().map(Moment::seconds).collect())
}

async fn readings(db: &mut SqliteConnection, lots: &[i64]) -> Result<HashMap<i64, Vec<Reading>>, Failure> {
    let rows = sqlx::query("SELECT lot, at, temperature_as FROM chill WHERE lot IN (SELECT value FROM json_each(?)) ORDER BY at")
        .bind(among(lots))
        .fetch_all(db)
        .await?;
    let mut by_lot: HashMap<i64, Vec<Reading>> = HashMap::new();
    for row in rows {
        let typed: String = row.try_get(2)?;
        if let Ok(temperature) = Temperature::parse(&typed, Scale::Fahrenheit) {
            by_lot.entry(row.try_get(0)?).or_default().push(Reading { at: Moment::seconds(row.try_get(1)?), temperature });
        }
    }
    Ok(by_lot)
}

/// Holds that have not been lifted and touch these lots: on the lot, on everything, on its vessel while the lot was in
/// it, or on a cow whose milk is in it.
async fn holds(db: &mut SqliteConnection, lots: &[i64]) -> Result<HashMap<i64, Vec<Hold>>, Failure> {
    let rows = sqlx::query(
        "SELECT t.lot, CASE h.scope WHEN 'lot' THEN 'This lot' WHEN 'everything' THEN 'All milk' WHEN 'cow' THEN c.name ELSE v.name END, coalesce(h.reason, ''), h.at
         FROM touched t JOIN holds h ON h.number = t.hold LEFT JOIN cows c ON c.number = h.cow LEFT JOIN vessels v ON v.number = h.vessel
         WHERE t.lot IN (SELECT value FROM json_each(?)) AND NOT EXISTS (SELECT 1 FROM lifts WHERE lifts.hold = h.number)
         ORDER BY h.at",
    )
    .bind(among(lots))
    .fetch_all(db)
    .await?;
    let mut by_lot: HashMap<i64, Vec<Hold>> = HashMap::new();
    for row in rows {
        by_lot.entry(row.try_get(0)?).or_default().push(Hold {
            what: row.try_get(1)?,
            reason: row.try_get(2)?,
            at: Moment::seconds(row.try_get(3)?),
        });
    }
    Ok(by_lot)
}

/// Two pieces of SQL that are both part of the program.
fn const_str(first: &'static str, then: &'static str) -> sqlx::AssertSqlSafe<String> {
    sqlx::AssertSqlSafe(format!("{first}{then}"))
}
