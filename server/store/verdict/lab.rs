//! What the lab says about some lots: their own bottles, those of the cows in them, and the farm's results in a row.

use super::{Failure, among};
use crate::trade::{
    analytes::Analyte,
    lab::{Figure, LabResult, Of, Unit},
    limits::Limits,
    tested::{Known, Waiting, may_never_be},
    verdict::Milking,
    when::{Moment, parse_day},
};
use sqlx::{Row, SqliteConnection, sqlite::SqliteRow};
use std::{collections::HashMap, sync::Arc};

/// How far back results count in a row or a mean: five results of a farm that tests twice a year.
const BACK_DAYS: i64 = 1000;

/// What was read for many lots at once.
pub(super) struct Parts {
    own: HashMap<i64, Vec<LabResult>>,
    cows: HashMap<String, Vec<LabResult>>,
    waiting: HashMap<i64, Vec<Waiting>>,
    farm: Arc<Vec<LabResult>>,
}

impl Parts {
    /// What is known from the lab about one lot.
    pub(super) fn known(&self, lot: i64, milkings: &[Milking]) -> Known {
        let milked: Vec<(String, Moment)> =
            milkings.iter().flat_map(|own| own.cows.iter().map(|part| (part.cow.clone(), own.times.start))).collect();
        let mut names: Vec<&str> = milked.iter().map(|(cow, _)| cow.as_str()).collect();
        names.sort_unstable();
        names.dedup();
        Known {
            own: self.own.get(&lot).cloned().unwrap_or_default(),
            cows: names.iter().filter_map(|cow| self.cows.get(*cow)).flatten().cloned().collect(),
            milked,
            farm: Arc::clone(&self.farm),
            waiting: self.waiting.get(&lot).cloned().unwrap_or_default(),
        }
    }
}

const SELECTED: &str = "SELECT r.number, r.sample, s.drawn, s.subject, coalesce(l.code, ''), coalesce(c.name, ''), r.analyte, r.figure, r.unit, r.part, r.reported, s.lot";
const FROM: &str =
    "FROM results r JOIN samples s ON s.number = r.sample LEFT JOIN lots l ON l.number = s.lot LEFT JOIN cows c ON c.number = s.cow ";

/// A figure nobody can read any more is left out; `check` says so.
fn result(row: &SqliteRow) -> Result<Option<LabResult>, Failure> {
    let (subject, lot, cow): (String, String, String) = (row.try_get(3)?, row.try_get(4)?, row.try_get(5)?);
    let (analyte, wrote, reported): (String, String, String) = (row.try_get(6)?, row.try_get(7)?, row.try_get(10)?);
    let unit: Option<String> = row.try_get(8)?;
    let (Ok(figure), Ok(reported)) = (Figure::parse(&wrote), parse_day(&reported)) else { return Ok(None) };
    let of = match subject.as_str() {
        "lot" => Of::Lot(lot),
        "cow" => Of::Cow(cow),
        "water" => Of::Water,
        _ => Of::Swab,
    };
    Ok(Some(LabResult {
        number: row.try_get(0)?,
        sample: row.try_get(1)?,
        drawn: Moment::seconds(row.try_get(2)?),
        of,
        analyte: Analyte::parse(&analyte),
        figure,
        unit: unit.and_then(|unit| Unit::parse(&unit).ok()),
        part: row.try_get(9)?,
        reported,
    }))
}

/// Reads it.
///
/// # Errors
/// When the ledger cannot be read.
pub(super) async fn parts(db: &mut SqliteConnection, lots: &[i64], now: Moment) -> Result<Parts, Failure> {
    let mut own: HashMap<i64, Vec<LabResult>> = HashMap::new();
    let asked = asking("WHERE s.lot IN (SELECT value FROM json_each(?)) ORDER BY s.drawn, r.number");
    for row in sqlx::query(asked).bind(among(lots)).fetch_all(&mut *db).await? {
        if let Some(read) = result(&row)? {
            own.entry(row.try_get(11)?).or_default().push(read);
        }
    }
    // What was found in cream says something of the jars it was made from; a count of it says nothing.
    let made = "JOIN sources x ON x.lot = s.lot WHERE x.parent IN (SELECT value FROM json_each(?)) ORDER BY s.drawn, r.number";
    for row in
        sqlx::query(sqlx::AssertSqlSafe(format!("{}, x.parent {FROM}{made}", SELECTED))).bind(among(lots)).fetch_all(&mut *db).await?
    {
        if let Some(read) = result(&row)?.filter(|read| may_never_be(&Limits::default(), read)) {
            own.entry(row.try_get(12)?).or_default().push(read);
        }
    }
    let since = now.plus_hours(-BACK_DAYS * 24).in_seconds();
    let asked = asking("WHERE s.drawn BETWEEN ? AND ? AND s.subject = 'lot' ORDER BY s.drawn, r.number");
    let rows = sqlx::query(asked).bind(since).bind(now.in_seconds()).fetch_all(&mut *db).await?;
    let farm: Vec<Option<LabResult>> = rows.iter().map(result).collect::<Result<_, _>>()?;
    let mut cows: HashMap<String, Vec<LabResult>> = HashMap::new();
    let asked = asking(
        "WHERE (s.drawn >= ? OR r.analyte NOT LIKE '%somatic%') AND s.cow IN (SELECT p.cow FROM sources x JOIN pails p ON p.milking = x.milking WHERE x.lot IN (SELECT value FROM json_each(?)))
         ORDER BY s.drawn, r.number",
    );
    for row in sqlx::query(asked).bind(since).bind(among(lots)).fetch_all(&mut *db).await? {
        if let Some(read) = result(&row)? {
            cows.entry(row.try_get(5)?).or_default().push(read);
        }
    }
    let farm = useful(farm.into_iter().flatten().collect(), now);
    Ok(Parts { waiting: waiting(db, lots, &own).await?, own, cows, farm: Arc::new(farm) })
}

/// What a row or a mean can still use, so that no lot is held against years of results: the last thirty of each test, and
/// everything of the last fourteen months.
fn useful(farm: Vec<LabResult>, now: Moment) -> Vec<LabResult> {
    let lately = now.plus_hours(-430 * 24);
    let mut kept: HashMap<Analyte, usize> = HashMap::new();
    let mut useful: Vec<LabResult> = Vec::new();
    for result in farm.into_iter().rev() {
        let count = kept.entry(result.analyte.clone()).or_default();
        if *count < 30 || result.drawn >= lately {
            *count += 1;
            useful.push(result);
        }
    }
    useful.reverse();
    useful
}

/// Bottles of these lots with something asked for that no result answers.
async fn waiting(
    db: &mut SqliteConnection,
    lots: &[i64],
    results: &HashMap<i64, Vec<LabResult>>,
) -> Result<HashMap<i64, Vec<Waiting>>, Failure> {
    let rows: Vec<(i64, i64, i64, String)> = sqlx::query_as(
        "SELECT lot, number, drawn, coalesce(asked, '') FROM samples WHERE lot IN (SELECT value FROM json_each(?)) ORDER BY drawn",
    )
    .bind(among(lots))
    .fetch_all(db)
    .await?;
    let mut by_lot: HashMap<i64, Vec<Waiting>> = HashMap::new();
    for (lot, sample, drawn, asked) in rows {
        let done: Vec<&LabResult> = results.get(&lot).into_iter().flatten().filter(|result| result.sample == sample).collect();
        let asked: Vec<Analyte> = asked.split(',').map(str::trim).filter(|name| !name.is_empty()).map(Analyte::parse).collect();
        let open: Vec<Analyte> =
            asked.iter().filter(|analyte| !done.iter().any(|result| analyte.covers(&result.analyte))).cloned().collect();
        if !open.is_empty() || (asked.is_empty() && done.is_empty()) {
            by_lot.entry(lot).or_default().push(Waiting { drawn: Moment::seconds(drawn), asked: open });
        }
    }
    Ok(by_lot)
}

/// The list's own columns and one ending, both part of the program.
fn asking(ending: &'static str) -> sqlx::AssertSqlSafe<String> {
    sqlx::AssertSqlSafe(format!("{SELECTED} {FROM}{ending}"))
}
