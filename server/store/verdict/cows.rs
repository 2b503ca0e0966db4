//! What the cows of some milkings bring into their lots: read for all of them at once, so that a full fridge is judged with
//! a handful of questions.

use super::{Failure, among};
use crate::store::clocks::{LONGEST_CLOCK_DAYS, by_cow, dose, strip, turns};
use crate::store::listed;
use crate::trade::{
    herd::{Dose, Foremilk, Turn, calvings},
    poured::{LONGEST_FRESH_DAYS, LONGEST_MILKING_HOURS},
    strips::StripTest,
    verdict::CowsPart,
    when::Moment,
};
use sqlx::SqliteConnection;
use std::collections::HashMap;

/// Every cow's part in some milkings, by the milking's number.
///
/// # Errors
/// When the ledger cannot be read.
pub(super) async fn parts(db: &mut SqliteConnection, milkings: &[i64]) -> Result<HashMap<i64, Vec<CowsPart>>, Failure> {
    let asked = "SELECT json_group_array(json_array(milking, cow, name, foremilk, started, ended, went)) FROM (
         SELECT p.milking, p.cow, c.name, coalesce(p.foremilk, '') AS foremilk, m.started, coalesce(m.ended, m.started) AS ended, p.went
         FROM pails p JOIN cows c ON c.number = p.cow JOIN milkings m ON m.number = p.milking
         WHERE p.milking IN (SELECT value FROM json_each(?)) ORDER BY p.number)";
    let all: String = sqlx::query_scalar(asked).bind(among(milkings)).fetch_one(&mut *db).await?;
    let pails: Vec<Pour> = listed::<Vec<Pail>>(&all)?.into_iter().map(Pour::of).collect();
    let pours: Vec<&Pour> = pails.iter().filter(|pail| pail.in_can).collect();
    let mut cows: Vec<i64> = pours.iter().map(|pour| pour.cow).collect();
    cows.sort_unstable();
    cows.dedup();
    let (first, last) = (pours.iter().map(|pour| pour.at).min(), pours.iter().map(|pour| pour.over_by()).max());
    let (Some(first), Some(last)) = (first, last) else { return Ok(HashMap::new()) };
    let turns = turns(&mut *db, Some(&cows), last).await?;
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

/// A pail as it comes out of the ledger: milking, cow, her name, first squirts, when the milking began and ended, where it went.
type Pail = (i64, i64, String, String, i64, i64, String);

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
    fn of((milking, cow, name, foremilk, at, ended, went): Pail) -> Pour {
        let foremilk = Foremilk::parse(&foremilk).unwrap_or_default();
        Pour { milking, cow, name, foremilk, at: Moment::seconds(at), ended: Moment::seconds(ended), in_can: went == "can" }
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
    // The span of days comes first: a cow's whole life of milkings is never walked for the last few weeks of it. A cow with two
    // pails at a milking was milked once.
    let rows = "SELECT json_group_array(json_array(cow, started)) FROM (SELECT DISTINCT p.cow, m.started FROM json_each(?) j
         CROSS JOIN milkings m ON m.started BETWEEN json_extract(j.value, '$[1]') AND json_extract(j.value, '$[2]')
         CROSS JOIN pails p ON p.cow = json_extract(j.value, '$[0]') AND p.milking = m.number ORDER BY m.started)";
    let rows: String = sqlx::query_scalar(rows).bind(serde_json::json!(asked).to_string()).fetch_one(db).await?;
    let rows: Vec<(i64, i64)> = listed(&rows)?;
    for (_, cow, at, part) in parts.iter_mut() {
        if let Some(since) = since(part, *at) {
            let own = rows.iter().filter(|(own, _)| own == cow).map(|(_, started)| Moment::seconds(*started));
            part.milked = own.filter(|started| *started >= since && started <= at).collect();
        }
    }
    Ok(())
}
