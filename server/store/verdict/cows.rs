//! What the cows of some milkings bring into their lots: read for all of them at once, so that a full fridge is judged with
//! a handful of questions.

use super::{Failure, among};
use crate::store::clocks::{LONGEST_CLOCK_DAYS, by_cow, dose, strip, turn};
use crate::trade::{
    herd::{Dose, Foremilk, Turn, calvings},
    poured::{LONGEST_FRESH_DAYS, LONGEST_MILKING_HOURS},
    strips::StripTest,
    verdict::CowsPart,
    when::Moment,
};
use sqlx::{Row, SqliteConnection, sqlite::SqliteRow};
use std::collections::HashMap;

/// Every cow's part in some milkings, by the milking's number.
///
/// # Errors
/// When the ledger cannot be read.
pub(super) async fn parts(db: &mut SqliteConnection, milkings: &[i64]) -> Result<HashMap<i64, Vec<CowsPart>>, Failure> {
    let rows = sqlx::query(
        "SELECT p.milking, p.cow, c.name, coalesce(p.foremilk, ''), m.started, coalesce(m.ended, m.started), p.went = 'can'
         FROM pails p JOIN cows c ON c.number = p.cow JOIN milkings m ON m.number = p.milking
         WHERE p.milking IN (SELECT value FROM json_each(?)) ORDER BY p.number",
    )
    .bind(among(milkings))
    .fetch_all(&mut *db)
    .await?;
    let pails: Vec<Pour> = rows.iter().map(Pour::of).collect::<Result<_, _>>()?;
    let pours: Vec<&Pour> = pails.iter().filter(|pail| pail.in_can).collect();
    let mut cows: Vec<i64> = pours.iter().map(|pour| pour.cow).collect();
    cows.sort_unstable();
    cows.dedup();
    let (first, last) = (pours.iter().map(|pour| pour.at).min(), pours.iter().map(|pour| pour.over_by()).max());
    let (Some(first), Some(last)) = (first, last) else { return Ok(HashMap::new()) };
    let turns = turns(&mut *db, &cows, last).await?;
    let strips = strips(&mut *db, &cows, first, last).await?;
    let doses = doses(&mut *db, &cows, first, last).await?;
    let mut parts: Vec<(i64, i64, Moment, CowsPart)> = Vec::with_capacity(pours.len());
    for pour in pours {
        let part = CowsPart {
            doses: running(&of(&doses, pour.cow).filter(|dose| dose.at <= pour.over_by()).collect::<Vec<_>>(), &turns, pour),
            turns: of(&turns, pour.cow).filter(|(_, at)| *at <= pour.over_by()).copied().collect(),
            strips: of(&strips, pour.cow).filter(|test| test.at <= pour.over_by()).copied().collect(),
            milked: Vec::new(),
            cow: pour.name.clone(),
            foremilk: pour.seen_in(&pails),
        };
        parts.push((pour.milking, pour.cow, pour.at, part));
    }
    milked(db, &mut parts).await?;
    let mut by_milking: HashMap<i64, Vec<CowsPart>> = HashMap::new();
    for (milking, _, _, part) in parts {
        by_milking.entry(milking).or_default().push(part);
    }
    Ok(by_milking)
}

fn of<T>(all: &HashMap<i64, Vec<T>>, cow: i64) -> impl Iterator<Item = &T> {
    all.get(&cow).into_iter().flatten()
}

/// One cow's milk poured into the can at one milking.
struct Pour {
    milking: i64,
    cow: i64,
    name: String,
    foremilk: Foremilk,
    at: Moment,
    ended: Moment,
    in_can: bool,
}

impl Pour {
    fn of(row: &SqliteRow) -> Result<Pour, Failure> {
        let foremilk: String = row.try_get(3)?;
        Ok(Pour {
            milking: row.try_get(0)?,
            cow: row.try_get(1)?,
            name: row.try_get(2)?,
            foremilk: Foremilk::parse(&foremilk).unwrap_or_default(),
            at: Moment::seconds(row.try_get(4)?),
            ended: Moment::seconds(row.try_get(5)?),
            in_can: row.try_get(6)?,
        })
    }

    /// What her first squirts were like: as written of this pail, unless another pail of hers that morning says they were off.
    fn seen_in(&self, pails: &[Pour]) -> Foremilk {
        let hers = pails.iter().filter(|pail| pail.milking == self.milking && pail.cow == self.cow).map(|pail| pail.foremilk);
        hers.into_iter().find(|seen| !matches!(seen, Foremilk::Normal | Foremilk::NotLooked)).unwrap_or(self.foremilk)
    }

    fn over_by(&self) -> Moment {
        self.ended.max(self.at.plus_hours(LONGEST_MILKING_HOURS))
    }
}

/// The doses that may still matter: given within the longest clock before that milking, those whose clock nobody wrote and
/// whatever was given since, which may be the vet's answer, and those that count from a calving that has not come or came
/// within that time.
fn running(doses: &[&Dose], turns: &HashMap<i64, Vec<(Turn, Moment)>>, pour: &Pour) -> Vec<Dose> {
    let near = pour.at.plus_hours(-LONGEST_CLOCK_DAYS * 24);
    let turns: Vec<(Turn, Moment)> = of(turns, pour.cow).copied().collect();
    let calved_long_ago = |dose: &Dose| calvings(&turns, near).into_iter().any(|calved| calved >= dose.at);
    let is_blank = |dose: &&&Dose| dose.milk_hours.is_none() && dose.milk_milkings.is_none();
    let unanswered = doses.iter().filter(is_blank).map(|dose| dose.at).min();
    let may_run =
        |dose: &&&Dose| dose.at > near || unanswered.is_some_and(|since| dose.at >= since) || (dose.from_calving && !calved_long_ago(dose));
    doses.iter().filter(may_run).map(|dose| (*dose).clone()).collect()
}

async fn turns(db: &mut SqliteConnection, cows: &[i64], until: Moment) -> Result<HashMap<i64, Vec<(Turn, Moment)>>, Failure> {
    let rows =
        sqlx::query("SELECT cow, at, sort, due FROM events WHERE cow IN (SELECT value FROM json_each(?)) AND at <= ? ORDER BY at, number")
            .bind(among(cows))
            .bind(until.in_seconds())
            .fetch_all(db)
            .await?;
    by_cow(&rows, turn)
}

/// The last test of each quarter before the first milking, and every later one.
async fn strips(db: &mut SqliteConnection, cows: &[i64], first: Moment, last: Moment) -> Result<HashMap<i64, Vec<StripTest>>, Failure> {
    let rows = sqlx::query(
        "SELECT s.cow, s.at, s.quarter, s.score FROM strip_tests s
         LEFT JOIN (SELECT cow, quarter, max(at) AS at FROM strip_tests
                    WHERE cow IN (SELECT value FROM json_each(?1)) AND at <= ?2 GROUP BY cow, quarter) before ON before.cow = s.cow AND before.quarter = s.quarter
         WHERE s.cow IN (SELECT value FROM json_each(?1)) AND s.at <= ?3 AND (s.at > ?2 OR s.at = before.at) ORDER BY s.at, s.number",
    )
    .bind(among(cows))
    .bind(first.in_seconds())
    .bind(last.in_seconds())
    .fetch_all(db)
    .await?;
    by_cow(&rows, strip)
}

async fn doses(db: &mut SqliteConnection, cows: &[i64], first: Moment, last: Moment) -> Result<HashMap<i64, Vec<Dose>>, Failure> {
    let rows = sqlx::query(
        "SELECT cow, at, product, milk_hours, milk_milkings, as_labelled, vet_figure, counted_from, dry_days FROM treatments t
         WHERE cow IN (SELECT value FROM json_each(?)) AND at <= ?
           AND (at > ? OR (milk_hours IS NULL AND milk_milkings IS NULL) OR counted_from = 'calving'
                OR EXISTS (SELECT 1 FROM treatments b WHERE b.cow = t.cow AND b.at <= t.at AND b.milk_hours IS NULL AND b.milk_milkings IS NULL))
         ORDER BY at",
    )
    .bind(among(cows))
    .bind(last.in_seconds())
    .bind(first.plus_hours(-LONGEST_CLOCK_DAYS * 24).in_seconds())
    .fetch_all(db)
    .await?;
    by_cow(&rows, dose)
}

/// Her milkings only matter to a running clock: those since her first dose or her calving, if either is near.
async fn milked(db: &mut SqliteConnection, parts: &mut [(i64, i64, Moment, CowsPart)]) -> Result<(), Failure> {
    let since = |part: &CowsPart, at: Moment| {
        let calved = calvings(&part.turns, at).into_iter().max();
        let calved = calved.filter(|calved| at.minutes_since(*calved) < LONGEST_FRESH_DAYS * 24 * 60);
        part.doses.iter().map(|dose| dose.at).chain(calved).min()
    };
    let mut spans: HashMap<i64, (Moment, Moment)> = HashMap::new();
    for (_, cow, at, part) in parts.iter() {
        if let Some(since) = since(part, *at) {
            let span = spans.entry(*cow).or_insert((since, *at));
            *span = (span.0.min(since), span.1.max(*at));
        }
    }
    let asked: Vec<[i64; 3]> = spans.iter().map(|(cow, (from, until))| [*cow, from.in_seconds(), until.in_seconds()]).collect();
    let rows: Vec<(i64, i64)> = sqlx::query_as(
        // The span of days comes first: a cow's whole life of milkings is never walked for the last few weeks of it.
        // A cow with two pails at a milking was milked once.
        "SELECT DISTINCT p.cow, m.started FROM json_each(?) j
         CROSS JOIN milkings m ON m.started BETWEEN json_extract(j.value, '$[1]') AND json_extract(j.value, '$[2]')
         CROSS JOIN pails p ON p.cow = json_extract(j.value, '$[0]') AND p.milking = m.number ORDER BY m.started",
    )
    .bind(serde_json::json!(asked).to_string())
    .fetch_all(db)
    .await?;
    for (_, cow, at, part) in parts.iter_mut() {
        if let Some(since) = since(part, *at) {
            let own = rows.iter().filter(|(own, _)| own == cow).map(|(_, started)| Moment::seconds(*started));
            part.milked = own.filter(|started| *started >= since && started <= at).collect();
        }
    }
    Ok(())
}
