//! What only the first page asks: vessels, the last count, and the dates of the rules and of the ledger itself.

use super::{
    Failure, among, jars,
    results::{BACK_DAYS, WIDTH, asking, readable, result},
};
use crate::trade::{
    jars::Jars,
    lab::LabResult,
    today::{Vessel, WatchedRules},
    when::{Day, Moment, parse_day},
};
use sqlx::{Row, SqliteConnection, sqlite::SqliteRow};

/// Every vessel that milk went into or was filled from in the week before, with its last clean break.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn vessels(db: &mut SqliteConnection, now: Moment) -> Result<Vec<Vessel>, Failure> {
    let rows = sqlx::query(
        "WITH poured AS (SELECT p.vessel, max(m.started) AS at FROM milkings m JOIN pails p ON p.milking = m.number
                         WHERE m.started > ?1 AND m.started <= ?2 AND p.went = 'can' AND p.vessel IS NOT NULL GROUP BY p.vessel),
              filled AS (SELECT vessel, max(filled) AS at, left_in FROM lots WHERE filled > ?1 AND filled <= ?2 AND vessel IS NOT NULL GROUP BY vessel)
         SELECT v.name, poured.at, filled.at, coalesce(filled.left_in, 0),
                (SELECT max(b.at) FROM breaks b WHERE b.vessel = v.number AND b.washed = 'yes' AND b.sanitised = 'yes' AND b.at <= ?2)
         FROM vessels v LEFT JOIN poured ON poured.vessel = v.number LEFT JOIN filled ON filled.vessel = v.number
         WHERE poured.at IS NOT NULL OR filled.at IS NOT NULL ORDER BY v.number",
    )
    .bind(now.plus_hours(-7 * 24).in_seconds())
    .bind(now.in_seconds())
    .fetch_all(db)
    .await?;
    let moment = |at: Option<i64>| at.map(Moment::seconds);
    rows.iter()
        .map(|row| {
            Ok(Vessel {
                name: row.try_get(0)?,
                poured: moment(row.try_get(1)?),
                filled: moment(row.try_get(2)?),
                milk_left: row.try_get::<i64, _>(3)? > 0,
                clean: moment(row.try_get(4)?),
            })
        })
        .collect()
}

/// The milkings of the last three days whose cans nobody has dealt with: neither held, nor emptied and washed since.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn loose_milkings(db: &mut SqliteConnection, now: Moment) -> Result<Vec<i64>, Failure> {
    let asked = "SELECT DISTINCT m.number FROM milkings m CROSS JOIN pails p ON p.milking = m.number AND p.went = 'can'
         WHERE m.started > ?1 AND m.started <= ?2
           AND NOT EXISTS (SELECT 1 FROM holds h WHERE (h.vessel = p.vessel OR h.scope = 'everything') AND h.at >= m.started
                           AND NOT EXISTS (SELECT 1 FROM lifts WHERE lifts.hold = h.number))
           AND NOT EXISTS (SELECT 1 FROM breaks b WHERE b.vessel = p.vessel AND b.washed = 'yes' AND b.at > m.started AND b.at <= ?2)";
    Ok(sqlx::query_scalar(asked).bind(now.plus_hours(-72).in_seconds()).bind(now.in_seconds()).fetch_all(db).await?)
}

/// When anything was last counted.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn last_count(db: &mut SqliteConnection, now: Moment) -> Result<Option<Moment>, Failure> {
    let at: Option<i64> = sqlx::query_scalar("SELECT max(at) FROM counts WHERE at <= ?").bind(now.in_seconds()).fetch_one(db).await?;
    Ok(at.map(Moment::seconds))
}

/// The lots that were counted since a moment: number and code.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn counted_since(db: &mut SqliteConnection, since: Moment) -> Result<Vec<(i64, String)>, Failure> {
    let asked = "SELECT number, code FROM lots WHERE number IN (SELECT lot FROM counts WHERE at >= ?) ORDER BY filled, number";
    Ok(sqlx::query_as(asked).bind(since.in_seconds()).fetch_all(db).await?)
}

/// When the first line of the journal was written: the age of the ledger.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn begun(db: &mut SqliteConnection) -> Result<Option<Moment>, Failure> {
    let at: Option<i64> = sqlx::query_scalar("SELECT at FROM journal ORDER BY seq LIMIT 1").fetch_optional(db).await?;
    Ok(at.map(Moment::seconds))
}

/// The rule set followed on a day, with the day by which it is to be checked again.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn rules(db: &mut SqliteConnection, day: Day) -> Result<Option<WatchedRules>, Failure> {
    let asked = "SELECT number, place, check_by FROM rules WHERE since <= ? ORDER BY since DESC, number DESC LIMIT 1";
    let row: Option<(i64, String, Option<String>)> = sqlx::query_as(asked).bind(day.to_string()).fetch_optional(db).await?;
    Ok(row.map(|(number, place, by)| WatchedRules { number, place, check_by: by.and_then(|by| parse_day(&by).ok()) }))
}

/// What the lab found in water and on surfaces, oldest first: the tap or the surface, and the result.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn around(db: &mut SqliteConnection, now: Moment) -> Result<Vec<(String, LabResult)>, Failure> {
    let ending = "WHERE s.subject IN ('water', 'swab') AND s.drawn BETWEEN ? AND ? ORDER BY s.drawn, r.number";
    let rows = sqlx::query(asking(", coalesce(s.place, '')", ending))
        .bind(now.plus_hours(-BACK_DAYS * 24).in_seconds())
        .bind(now.in_seconds())
        .fetch_all(db)
        .await?;
    let mut around = Vec::with_capacity(rows.len());
    for row in &rows {
        if let Ok(read) = result(row)? {
            around.push((row.try_get(WIDTH)?, read));
        }
    }
    Ok(around)
}

/// The results of bottles of milk drawn since a moment.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn results_since(db: &mut SqliteConnection, since: Moment) -> Result<Vec<LabResult>, Failure> {
    let asked = asking("", "WHERE s.subject IN ('lot', 'cow') AND s.drawn >= ? ORDER BY s.drawn, r.number");
    readable(&sqlx::query(asked).bind(since.in_seconds()).fetch_all(db).await?)
}

/// A lot of which jars are with households.
#[derive(Clone, Debug)]
pub struct OutLot {
    /// Its number.
    pub number: i64,
    /// The jars handed out and not returned.
    pub jars: Jars,
    /// Whether a call-back in earnest has it.
    pub called_back: bool,
    /// Whether one looked at it and left it out, with a reason.
    pub left_out: bool,
}

/// The lots of which jars are out: those that went since a moment, and those with the milk of some bottles whenever they went: of the
/// lot or the cow, of the same milking, and whatever was made of any of them.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn out(db: &mut SqliteConnection, since: Moment, samples: &[i64]) -> Result<Vec<OutLot>, Failure> {
    let rows = sqlx::query(
        "WITH RECURSIVE hit (lot) AS (
            SELECT lot FROM samples WHERE lot IS NOT NULL AND number IN (SELECT value FROM json_each(?2))
            UNION SELECT s.lot FROM samples x JOIN pails p ON p.cow = x.cow AND p.went = 'can' JOIN milkings m ON m.number = p.milking AND m.started >= x.drawn - 86400
                JOIN sources s ON s.milking = m.number WHERE x.number IN (SELECT value FROM json_each(?2))
            UNION SELECT o.lot FROM hit JOIN sources a ON a.lot = hit.lot JOIN sources o ON o.milking = a.milking
            UNION SELECT s.lot FROM sources s JOIN hit ON s.parent = hit.lot),
         own (lot) AS (SELECT lot FROM hit UNION SELECT lot FROM pickups WHERE at >= ?1),
         moved AS (
            SELECT lot, gallons, half_gallons, quarts, pints FROM pickups WHERE lot IN (SELECT lot FROM own)
            UNION ALL SELECT lot, -gallons, -half_gallons, -quarts, -pints FROM asides WHERE sort = 'returned' AND lot IN (SELECT lot FROM own)),
         word AS (
            SELECT c.lot, c.stands FROM called c JOIN callbacks b ON b.number = c.callback AND b.sort = 'call-back'
            WHERE NOT EXISTS (SELECT 1 FROM called later WHERE later.callback = c.callback AND later.lot = c.lot AND (later.at, later.number) > (c.at, c.number)))
         SELECT lot, sum(gallons), sum(half_gallons), sum(quarts), sum(pints),
                EXISTS (SELECT 1 FROM word WHERE word.lot = moved.lot AND word.stands = 'called back'),
                EXISTS (SELECT 1 FROM word WHERE word.lot = moved.lot AND word.stands = 'left out')
         FROM moved GROUP BY lot ORDER BY lot",
    )
    .bind(since.in_seconds())
    .bind(among(samples))
    .fetch_all(db)
    .await?;
    let read = |row: &SqliteRow| {
        Ok(OutLot { number: row.try_get(0)?, jars: jars(row, 1)?, called_back: row.try_get(5)?, left_out: row.try_get(6)? })
    };
    rows.iter().map(read).collect()
}
