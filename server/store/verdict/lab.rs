//! What the lab says about some lots: their own bottles, those of the cows in them, and the farm's results in a row.

use super::{ByLot, Failure, Tie, among};
use crate::store::results::{BACK_DAYS, WIDTH, asking, readable, result};
use crate::trade::{
    analytes::Analyte,
    known::{Bottle, Known, may_never_be},
    lab::LabResult,
    limits::Limits,
    verdict::Milking,
    when::Moment,
};
use sqlx::{Row, SqliteConnection};
use std::{collections::HashMap, sync::Arc};

/// What was read for many lots at once.
#[derive(Default)]
pub(super) struct Parts {
    own: HashMap<i64, Vec<LabResult>>,
    kin: HashMap<i64, Vec<LabResult>>,
    cows: HashMap<String, Vec<LabResult>>,
    /// The same of several cows together, as far as they were asked for: many lots have milk of the same.
    together: HashMap<Vec<String>, Arc<Vec<LabResult>>>,
    bottles: HashMap<i64, Vec<Bottle>>,
    farm: Arc<Vec<LabResult>>,
    unread: HashMap<i64, Vec<String>>,
}

impl Parts {
    /// What is known from the lab about one lot.
    pub(super) fn known(&mut self, lot: i64, milkings: &[Arc<Milking>]) -> Known {
        let milked: Vec<(String, Moment)> =
            milkings.iter().flat_map(|own| own.cows.iter().map(|part| (part.cow.clone(), own.times.start))).collect();
        let mut names: Vec<String> = milked.iter().map(|(cow, _)| cow.clone()).collect();
        names.sort_unstable();
        names.dedup();
        let cows = self
            .together
            .entry(names)
            .or_insert_with_key(|names| Arc::new(names.iter().filter_map(|cow| self.cows.get(cow)).flatten().cloned().collect()));
        Known {
            own: self.own.get(&lot).cloned().unwrap_or_default(),
            kin: self.kin.get(&lot).cloned().unwrap_or_default(),
            cows: Arc::clone(cows),
            since: milkings.iter().map(|own| own.times.start).min(),
            milked,
            farm: Arc::clone(&self.farm),
            bottles: self.bottles.get(&lot).cloned().unwrap_or_default(),
        }
    }

    /// The results of a lot that nobody can read any more.
    pub(super) fn unread(&mut self, lot: i64) -> Vec<String> {
        self.unread.remove(&lot).unwrap_or_default()
    }
}

/// Reads it.
///
/// # Errors
/// When the ledger cannot be read.
pub(super) async fn parts(
    db: &mut SqliteConnection,
    lots: &[i64],
    milkings: &ByLot<Arc<Milking>>,
    tied: &[Tie],
    now: Moment,
) -> Result<Parts, Failure> {
    let mut parts = Parts { farm: Arc::new(farm(&mut *db, now).await?), ..Parts::default() };
    let ending = "WHERE s.lot IN (SELECT value FROM json_each(?)) ORDER BY s.drawn, r.number";
    for row in sqlx::query(asking(", s.lot", ending)).bind(among(lots)).fetch_all(&mut *db).await? {
        match result(&row)? {
            Ok(read) => parts.own.entry(row.try_get(WIDTH)?).or_default().push(read),
            Err(what) => parts.unread.entry(row.try_get(WIDTH)?).or_default().push(what),
        }
    }
    parts.kin = kin(&mut *db, lots, tied).await?;
    let mut cows: Vec<&str> = milkings.values().flatten().flat_map(|own| &own.cows).map(|part| part.cow.as_str()).collect();
    cows.sort_unstable();
    cows.dedup();
    let ending = "WHERE (s.drawn >= ? OR r.analyte NOT LIKE '%somatic%')
            AND s.cow IN (SELECT number FROM cows WHERE name IN (SELECT value FROM json_each(?)))
         ORDER BY s.drawn, r.number";
    let since = now.plus_hours(-BACK_DAYS * 24).in_seconds();
    for row in sqlx::query(asking("", ending)).bind(since).bind(serde_json::json!(cows).to_string()).fetch_all(&mut *db).await? {
        if let Ok(read) = result(&row)? {
            parts.cows.entry(row.try_get(5)?).or_default().push(read);
        }
    }
    parts.bottles = bottles(db, lots).await?;
    Ok(parts)
}

/// The results of lots of milk that a row or a mean can still use. Cream and whatever else was made of milk is no sample of
/// the farm's milk.
async fn farm(db: &mut SqliteConnection, now: Moment) -> Result<Vec<LabResult>, Failure> {
    let ending = "WHERE s.drawn BETWEEN ? AND ? AND s.subject = 'lot' AND (l.made IS NULL
            OR NOT EXISTS (SELECT 1 FROM sources x WHERE x.lot = s.lot AND x.parent IS NOT NULL))
         ORDER BY s.drawn, r.number";
    let since = now.plus_hours(-BACK_DAYS * 24).in_seconds();
    let rows = sqlx::query(asking("", ending)).bind(since).bind(now.in_seconds()).fetch_all(db).await?;
    Ok(useful(readable(&rows)?, now))
}

/// What was found that may never be there in any other lot with the same milk in it: one of the same milking, one it was
/// made from however far back, one made from any of them, or one whose milk went through the same unwashed vessel before. A count
/// of one says nothing of the others.
async fn kin(db: &mut SqliteConnection, lots: &[i64], tied: &[Tie]) -> Result<HashMap<i64, Vec<LabResult>>, Failure> {
    let tied: Vec<[i64; 2]> = tied.iter().map(|(lot, milking, ..)| [*lot, *milking]).collect();
    let rows = sqlx::query(asking(
        ", kin.root",
        "JOIN (WITH RECURSIVE
                up (root, lot) AS (SELECT value, value FROM json_each(?)
                    UNION SELECT up.root, x.parent FROM up JOIN sources x ON x.lot = up.lot WHERE x.parent IS NOT NULL),
                kin (root, lot) AS (SELECT root, lot FROM up
                    UNION SELECT json_extract(t.value, '$[0]'), other.lot FROM json_each(?) t JOIN sources other ON other.milking = json_extract(t.value, '$[1]')
                    UNION SELECT up.root, other.lot FROM up JOIN sources x ON x.lot = up.lot JOIN sources other ON other.milking = x.milking
                    UNION SELECT kin.root, x.lot FROM kin JOIN sources x ON x.parent = kin.lot)
            SELECT root, lot FROM kin WHERE root <> lot) kin ON kin.lot = s.lot
         ORDER BY s.drawn, r.number",
    ))
    .bind(among(lots))
    .bind(serde_json::json!(tied).to_string())
    .fetch_all(db)
    .await?;
    let mut by_lot: HashMap<i64, Vec<LabResult>> = HashMap::new();
    for row in &rows {
        if let Some(read) = result(row)?.ok().filter(|read| may_never_be(&Limits::default(), read)) {
            by_lot.entry(row.try_get(WIDTH)?).or_default().push(read);
        }
    }
    Ok(by_lot)
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

/// The bottles drawn of these lots.
async fn bottles(db: &mut SqliteConnection, lots: &[i64]) -> Result<HashMap<i64, Vec<Bottle>>, Failure> {
    let rows: Vec<(i64, i64, i64, String)> = sqlx::query_as(
        "SELECT lot, number, drawn, coalesce(asked, '') FROM samples WHERE lot IN (SELECT value FROM json_each(?)) ORDER BY drawn",
    )
    .bind(among(lots))
    .fetch_all(db)
    .await?;
    let mut by_lot: HashMap<i64, Vec<Bottle>> = HashMap::new();
    for (lot, number, drawn, asked) in rows {
        let asked = asked.split(',').map(str::trim).filter(|name| !name.is_empty()).map(Analyte::parse).collect();
        by_lot.entry(lot).or_default().push(Bottle { number, drawn: Moment::seconds(drawn), asked });
    }
    Ok(by_lot)
}
