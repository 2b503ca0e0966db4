//! What a cow's clocks are read from, wherever they are asked for: her turns, her strip tests and her doses.
//!
//! Each question narrows its rows in its own way; what a row means is said here once.

use super::{Failure, among, listed};
use crate::trade::{
    herd::{Dose, Turn},
    strips::{Quarter, Score, StripTest},
    when::{Moment, parse_day},
};
use sqlx::{Row, SqliteConnection, sqlite::SqliteRow};
use std::collections::HashMap;

/// Days after which no milk clock known here still runs. Whoever asks for doses asks for those of as many days, for every
/// older one whose clock nobody wrote, because that is never forgotten, and for those that count from a calving.
pub const LONGEST_CLOCK_DAYS: i64 = 120;

/// What rows say of each cow, in their order. The first column is the cow's number; what cannot be read is left out.
///
/// # Errors
/// When a column is not what it should be.
pub fn by_cow<T>(rows: &[SqliteRow], read: impl Fn(&SqliteRow) -> Result<Option<T>, Failure>) -> Result<HashMap<i64, Vec<T>>, Failure> {
    let mut all: HashMap<i64, Vec<T>> = HashMap::new();
    for row in rows {
        if let Some(one) = read(row)? {
            all.entry(row.try_get(0)?).or_default().push(one);
        }
    }
    Ok(all)
}

/// What happened to cows until a moment, oldest first: to these, or to all there ever were.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn turns(db: &mut SqliteConnection, cows: Option<&[i64]>, until: Moment) -> Result<HashMap<i64, Vec<(Turn, Moment)>>, Failure> {
    let asked = "SELECT json_group_array(json_array(cow, at, sort, due)) FROM (SELECT cow, at, sort, due FROM events
         WHERE at <= ?1 AND (?2 IS NULL OR cow IN (SELECT value FROM json_each(?2))) ORDER BY at, number)";
    let all: String = sqlx::query_scalar(asked).bind(until.in_seconds()).bind(cows.map(among)).fetch_one(db).await?;
    let mut turns: HashMap<i64, Vec<(Turn, Moment)>> = HashMap::new();
    for (cow, at, sort, due) in listed::<Vec<(i64, i64, String, Option<String>)>>(&all)? {
        let turn = Turn::of(&sort, due.and_then(|due| parse_day(&due).ok()));
        turns.entry(cow).or_default().push((turn, Moment::seconds(at)));
    }
    Ok(turns)
}

/// A strip test from the columns after the cow: when, the quarter and the score. A score nobody can read any more is none.
///
/// # Errors
/// When a column is not what it should be.
pub fn strip(row: &SqliteRow) -> Result<Option<StripTest>, Failure> {
    let (at, quarter, score): (i64, String, String) = (row.try_get(1)?, row.try_get(2)?, row.try_get(3)?);
    let test = |score| StripTest { at: Moment::seconds(at), quarter: Quarter::of(&quarter), score };
    Ok(Score::parse(&score).ok().map(test))
}

/// A dose from the eight columns after the cow: when, the product, its hours and milkings, whether as labelled, whether the
/// vet's figure, what it counts from, and the days dry.
///
/// # Errors
/// When a column is not what it should be.
pub fn dose(row: &SqliteRow) -> Result<Option<Dose>, Failure> {
    let (labelled, vet): (String, String) = (row.try_get(5)?, row.try_get(6)?);
    let from: Option<String> = row.try_get(7)?;
    Ok(Some(Dose {
        at: Moment::seconds(row.try_get(1)?),
        product: row.try_get(2)?,
        milk_hours: row.try_get(3)?,
        milk_milkings: row.try_get(4)?,
        as_labelled: labelled == "yes",
        vet_figure: vet == "yes",
        from_calving: from.as_deref() == Some("calving"),
        dry_days: row.try_get(8)?,
    }))
}
