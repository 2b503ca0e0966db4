//! The herd: every cow with what her clocks need, and the history of one.

use super::{
    Failure,
    clocks::{LONGEST_CLOCK_DAYS, by_cow, dose, strip, turns},
    listed,
    results::{BACK_DAYS, WIDTH, asking, result},
};
use crate::trade::{
    cows::{FRESH_DAYS, Known},
    herd::{Dose, Foremilk, Turn},
    lab::LabResult,
    measure::Weight,
    strips::StripTest,
    when::{Day, Moment, Zone, parse_day},
};
use sqlx::{Row, SqliteConnection, sqlite::SqliteRow};
use std::collections::{BTreeSet, HashMap};

/// A cow, with what is known of her now.
#[derive(Clone, Debug)]
pub struct Cow {
    /// Her number.
    pub number: i64,
    /// Her tag.
    pub tag: String,
    /// When she was born.
    pub born: String,
    /// Her breed.
    pub breed: String,
    /// Quarters milked.
    pub quarters: i64,
    /// Here since.
    pub since: Option<Day>,
    /// A note.
    pub note: String,
    /// What her clocks need.
    pub known: Known,
    /// Her recent milkings, oldest first: three weeks at least.
    pub pails: Vec<Pail>,
}

/// One cow's milk at one milking.
#[derive(Clone, Debug)]
pub struct Pail {
    /// When the milking started.
    pub at: Moment,
    /// Its day and session.
    pub session: String,
    /// The milking's number.
    pub milking: i64,
    /// Her milk.
    pub milk: Weight,
    /// Where it went.
    pub went: String,
    /// The vessel it was poured into, by name; empty when it went nowhere near one.
    pub vessel: String,
    /// What her first squirts looked like.
    pub foremilk: Foremilk,
}

/// A line of a cow's history that leads to its record.
#[derive(Clone, Debug)]
pub struct Past {
    /// The kind of record.
    pub kind: &'static str,
    /// Its number.
    pub number: i64,
    /// When.
    pub at: Moment,
    /// What, in a few words.
    pub what: String,
    /// What more there is to say.
    pub more: String,
}

/// Every cow, those that left too, in the order they were written down.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn list(db: &mut SqliteConnection, now: Moment, zone: Zone) -> Result<Vec<Cow>, Failure> {
    let rows = sqlx::query(
        "SELECT number, name, coalesce(tag, ''), coalesce(born, ''), coalesce(breed, ''), quarters, since, coalesce(note, '') FROM cows ORDER BY number",
    )
    .fetch_all(&mut *db)
    .await?;
    let mut turns = turns(&mut *db, None, now).await?;
    let mut doses = doses(&mut *db, now).await?;
    let mut held = held(&mut *db, now).await?;
    let mut strips = strips(&mut *db, now).await?;
    let mut results = results(&mut *db, now).await?;
    let mut pails = pails(&mut *db, &longer(&turns, &doses, now), now).await?;
    let mut cows = Vec::with_capacity(rows.len());
    for row in rows {
        let (number, since): (i64, String) = (row.try_get(0)?, row.try_get(6)?);
        let since = parse_day(&since).ok();
        let pails = pails.remove(&number).unwrap_or_default();
        let known = Known {
            name: row.try_get(1)?,
            turns: since
                .map(|day| (Turn::Arrived, zone.start_of(day)))
                .into_iter()
                .chain(turns.remove(&number).unwrap_or_default())
                .collect(),
            doses: doses.remove(&number).unwrap_or_default(),
            milked: pails.iter().map(|pail| pail.at).collect::<BTreeSet<_>>().into_iter().collect(),
            foremilk: pails.iter().rev().find(|pail| pail.foremilk != Foremilk::NotLooked).map(|pail| (pail.foremilk, pail.at)),
            held: held.remove(&number).unwrap_or_default(),
            strips: strips.remove(&number).unwrap_or_default(),
            results: results.remove(&number).unwrap_or_default(),
        };
        cows.push(Cow {
            number,
            tag: row.try_get(2)?,
            born: row.try_get(3)?,
            breed: row.try_get(4)?,
            quarters: row.try_get(5)?,
            since,
            note: row.try_get(7)?,
            known,
            pails,
        });
    }
    Ok(cows)
}

/// How many days back every cow's milkings are read.
const NEAR_DAYS: i64 = 21;

/// The cows whose milkings matter for longer, and since when: since the first dose or the last calving whose clock may still run.
fn longer(turns: &HashMap<i64, Vec<(Turn, Moment)>>, doses: &HashMap<i64, Vec<Dose>>, now: Moment) -> Vec<[i64; 2]> {
    let (fresh, near) = (now.plus_hours(-FRESH_DAYS * 24), now.plus_hours(-NEAR_DAYS * 24));
    let calved = |turns: &[(Turn, Moment)]| turns.iter().filter(|(turn, at)| *turn == Turn::Calved && *at > fresh).map(|(_, at)| *at).min();
    let calvings = turns.iter().filter_map(|(cow, turns)| Some((*cow, calved(turns)?)));
    let given = doses.iter().filter_map(|(cow, doses)| Some((*cow, doses.iter().map(|dose| dose.at).min()?)));
    let mut since: HashMap<i64, Moment> = HashMap::new();
    for (cow, at) in calvings.chain(given).filter(|(_, at)| *at < near) {
        since.entry(cow).and_modify(|own| *own = at.min(*own)).or_insert(at);
    }
    since.into_iter().map(|(cow, at)| [cow, at.in_seconds()]).collect()
}

/// The last strip test of each quarter of each cow; of several in one minute every one.
async fn strips(db: &mut SqliteConnection, now: Moment) -> Result<HashMap<i64, Vec<StripTest>>, Failure> {
    let rows = sqlx::query(
        "SELECT s.cow, s.at, s.quarter, s.score FROM strip_tests s
         JOIN (SELECT cow, quarter, max(at) AS at FROM strip_tests WHERE at <= ? GROUP BY cow, quarter) last
           ON last.cow = s.cow AND last.quarter = s.quarter AND last.at = s.at ORDER BY s.number",
    )
    .bind(now.in_seconds())
    .fetch_all(db)
    .await?;
    by_cow(&rows, strip)
}

/// What the lab found in the bottles of each cow: cell counts of the last three years, and everything else for ever, because
/// what may never be in milk is not forgotten. A figure nobody can read any more is left out; `check` says so.
async fn results(db: &mut SqliteConnection, now: Moment) -> Result<HashMap<i64, Vec<LabResult>>, Failure> {
    let ending = "WHERE s.subject = 'cow' AND s.drawn <= ? AND (s.drawn >= ? OR r.analyte NOT LIKE '%somatic%') ORDER BY s.drawn, r.number";
    let rows = sqlx::query(asking(", s.cow", ending))
        .bind(now.in_seconds())
        .bind(now.plus_hours(-BACK_DAYS * 24).in_seconds())
        .fetch_all(db)
        .await?;
    let mut by_cow: HashMap<i64, Vec<LabResult>> = HashMap::new();
    for row in &rows {
        if let Ok(read) = result(row)? {
            by_cow.entry(row.try_get(WIDTH)?).or_default().push(read);
        }
    }
    Ok(by_cow)
}

/// The doses of the longest clock's days, those whose clock nobody wrote, and those that count from a calving that has not
/// come or came within that time.
async fn doses(db: &mut SqliteConnection, now: Moment) -> Result<HashMap<i64, Vec<Dose>>, Failure> {
    let rows = sqlx::query(
        "SELECT cow, at, product, milk_hours, milk_milkings, as_labelled, vet_figure, counted_from, dry_days FROM treatments t
         WHERE (at > ?1 OR EXISTS (SELECT 1 FROM treatments b WHERE b.cow = t.cow AND b.at <= t.at AND b.milk_hours IS NULL AND b.milk_milkings IS NULL)
                OR (counted_from = 'calving' AND NOT EXISTS (
                    SELECT 1 FROM events e WHERE e.cow = t.cow AND e.sort = 'calved' AND e.at >= t.at AND e.at <= ?1)))
           AND at <= ?2 ORDER BY at",
    )
    .bind(now.plus_hours(-LONGEST_CLOCK_DAYS * 24).in_seconds())
    .bind(now.in_seconds())
    .fetch_all(db)
    .await?;
    by_cow(&rows, dose)
}

async fn held(db: &mut SqliteConnection, now: Moment) -> Result<HashMap<i64, Vec<String>>, Failure> {
    let rows = sqlx::query(concat!(
        "SELECT h.cow, coalesce(h.reason, '') FROM holds h
         WHERE h.scope = 'cow' AND h.cow IS NOT NULL AND h.at <= ? AND ",
        stands!(),
        " ORDER BY h.at"
    ))
    .bind(now.in_seconds())
    .fetch_all(db)
    .await?;
    by_cow(&rows, |row| Ok(Some(row.try_get(1)?)))
}

/// The milkings of the last three weeks, and of the cows whose clocks reach further back as far as they reach.
async fn pails(db: &mut SqliteConnection, longer: &[[i64; 2]], now: Moment) -> Result<HashMap<i64, Vec<Pail>>, Failure> {
    let asked = "WITH own (pail, at, session, milking) AS (
            SELECT p.number, m.started, m.session, m.number FROM milkings m CROSS JOIN pails p ON p.milking = m.number
            WHERE m.started >= ?1 AND m.started <= ?2
            UNION ALL
            SELECT p.number, m.started, m.session, m.number FROM json_each(?3) j
            CROSS JOIN milkings m ON m.started >= json_extract(j.value, '$[1]') AND m.started < ?1
            CROSS JOIN pails p ON p.cow = json_extract(j.value, '$[0]') AND p.milking = m.number)
         SELECT json_group_array(json_array(cow, at, session, milking, milk, went, foremilk, vessel)) FROM (
            SELECT p.cow, own.at, own.session, own.milking, p.milk, p.went, coalesce(p.foremilk, '') AS foremilk, coalesce(v.name, '') AS vessel
            FROM own CROSS JOIN pails p ON p.number = own.pail LEFT JOIN vessels v ON v.number = p.vessel ORDER BY own.at, p.number)";
    let all: String = sqlx::query_scalar(asked)
        .bind(now.plus_hours(-NEAR_DAYS * 24).in_seconds())
        .bind(now.in_seconds())
        .bind(serde_json::json!(longer).to_string())
        .fetch_one(db)
        .await?;
    let mut by_cow: HashMap<i64, Vec<Pail>> = HashMap::new();
    for (cow, at, session, milking, milk, went, foremilk, vessel) in listed::<Vec<Poured>>(&all)? {
        let (at, milk) = (Moment::seconds(at), Weight::milligrams(milk));
        let foremilk = Foremilk::parse(&foremilk).unwrap_or_default();
        by_cow.entry(cow).or_default().push(Pail { at, session, milking, milk, went, vessel, foremilk });
    }
    Ok(by_cow)
}

/// A pail as it comes out of the ledger: cow, when, session, milking, milk, where it went, first squirts, vessel.
type Poured = (i64, i64, String, i64, i64, String, String, String);

/// What happened to one cow, newest first: calvings, joinings, dryings-off.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn events(db: &mut SqliteConnection, cow: i64) -> Result<Vec<Past>, Failure> {
    let asked = "SELECT number, at, upper(substr(sort, 1, 1)) || substr(sort, 2), coalesce('due ' || due, '') || CASE WHEN due IS NULL OR note IS NULL THEN '' ELSE ', ' END || coalesce(note, '') FROM events WHERE cow = ? ORDER BY at DESC, number DESC LIMIT 60";
    past(db, "events", asked, cow).await
}

/// Every treatment of one cow, newest first, with what was written of its times. A blank is said as a blank.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn treatments(db: &mut SqliteConnection, cow: i64) -> Result<Vec<Past>, Failure> {
    let asked = "SELECT number, at, product || coalesce(', ' || dose, ''),
        CASE WHEN milk_hours IS NULL AND milk_milkings IS NULL THEN 'milk time not written'
             ELSE 'milk out ' || coalesce(milk_hours || ' h', '') || CASE WHEN milk_hours IS NULL OR milk_milkings IS NULL THEN '' ELSE ' and ' END || coalesce(milk_milkings || ' milkings', '') END
        || CASE counted_from WHEN 'calving' THEN ', from her calving' || coalesce(' after ' || dry_days || ' days dry', ', days dry not written') ELSE '' END
        || CASE as_labelled WHEN 'yes' THEN ', as labelled' ELSE ', not as labelled' END
        || CASE vet_figure WHEN 'yes' THEN ', the vet''s figure' ELSE '' END
        || coalesce(', ' || quarter, '') || coalesce(', for ' || reason, '') || coalesce(', given by ' || given_by, '')
        FROM treatments WHERE cow = ? ORDER BY at DESC, number DESC LIMIT 60";
    past(db, "treatments", asked, cow).await
}

/// The strip tests of one cow, newest first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn strip_tests(db: &mut SqliteConnection, cow: i64) -> Result<Vec<Past>, Failure> {
    let asked = "SELECT number, at, upper(substr(quarter, 1, 1)) || substr(quarter, 2) || ': ' || score, coalesce(note, '') FROM strip_tests WHERE cow = ? ORDER BY at DESC, number DESC LIMIT 24";
    past(db, "strip_tests", asked, cow).await
}

/// Whether a vessel is held, by name.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn vessel_is_held(db: &mut SqliteConnection, vessel: &str) -> Result<bool, Failure> {
    let held: i64 = sqlx::query_scalar(concat!(
        "SELECT count(*) FROM holds h JOIN vessels v ON v.number = h.vessel
         WHERE h.scope = 'vessel' AND v.name = ? COLLATE NOCASE AND ",
        stands!()
    ))
    .bind(vessel)
    .fetch_one(db)
    .await?;
    Ok(held > 0)
}

/// Every hold on one cow, newest first, with what lifted it.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn holds(db: &mut SqliteConnection, cow: i64) -> Result<Vec<Past>, Failure> {
    let asked = "SELECT h.number, h.at, CASE WHEN x.number IS NULL THEN 'Held' ELSE 'Held and lifted' END,
        coalesce(h.reason, 'no reason written') || coalesce('; lifted by ' || x.who || ': ' || x.reason, '')
        FROM holds h LEFT JOIN lifts x ON x.hold = h.number WHERE h.cow = ? ORDER BY h.at DESC, h.number DESC LIMIT 60";
    past(db, "holds", asked, cow).await
}

async fn past(db: &mut SqliteConnection, kind: &'static str, asked: &'static str, cow: i64) -> Result<Vec<Past>, Failure> {
    let read = |row: &SqliteRow| {
        Ok(Past { kind, number: row.try_get(0)?, at: Moment::seconds(row.try_get(1)?), what: row.try_get(2)?, more: row.try_get(3)? })
    };
    sqlx::query(asked).bind(cow).fetch_all(db).await?.iter().map(read).collect()
}

/// The lots these milkings went into, made lots too, newest first: code and when it was filled.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn lots_of(db: &mut SqliteConnection, milkings: &[i64]) -> Result<Vec<(String, Moment)>, Failure> {
    let rows: Vec<(String, i64)> = sqlx::query_as(
        "WITH RECURSIVE held_in(lot) AS (
            SELECT lot FROM sources WHERE milking IN (SELECT value FROM json_each(?))
            UNION SELECT s.lot FROM sources s JOIN held_in ON s.parent = held_in.lot)
         SELECT l.code, l.filled FROM lots l JOIN held_in ON held_in.lot = l.number ORDER BY l.filled DESC, l.number DESC",
    )
    .bind(serde_json::json!(milkings).to_string())
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|(code, filled)| (code, Moment::seconds(filled))).collect())
}
