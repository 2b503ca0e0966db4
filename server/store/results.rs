//! A lab result as it is read out of its row, wherever results are asked for.

use super::Failure;
use crate::trade::{
    analytes::{Analyte, Unit},
    lab::{Figure, LabResult, Of},
    when::{Moment, parse_day},
};
use sqlx::{AssertSqlSafe, Row, sqlite::SqliteRow};

/// Days back that results are looked at: five results of a farm that tests twice a year, and a year's rules before them.
pub const BACK_DAYS: i64 = 1100;

/// How many columns a result takes; what else is selected stands behind them.
pub const WIDTH: usize = 12;

const COLUMNS: &str = "r.number, r.sample, s.drawn, s.subject, coalesce(l.code, ''), coalesce(c.name, ''), r.analyte, r.figure,
    coalesce(r.unit, ''), r.part, r.reported, r.written";
const FROM: &str =
    "FROM results r JOIN samples s ON s.number = r.sample LEFT JOIN lots l ON l.number = s.lot LEFT JOIN cows c ON c.number = s.cow";

/// A question for results: the columns behind a result's own, and what narrows the list. Both are part of the program.
#[must_use]
pub fn asking(more: &'static str, ending: &'static str) -> AssertSqlSafe<String> {
    AssertSqlSafe(format!("SELECT {COLUMNS}{more} {FROM} {ending}"))
}

/// What a bottle was drawn of, from its subject and the names of the lot and the cow.
#[must_use]
pub fn of(subject: &str, lot: String, cow: String) -> Of {
    match subject {
        "lot" => Of::Lot(lot),
        "cow" => Of::Cow(cow),
        "water" => Of::Water,
        _ => Of::Swab,
    }
}

/// The result of a row, or what to call one that nobody can read any more.
///
/// # Errors
/// When a column is not what it should be.
pub fn result(row: &SqliteRow) -> Result<Result<LabResult, String>, Failure> {
    let (subject, analyte, unit): (String, String, String) = (row.try_get(3)?, row.try_get(6)?, row.try_get(8)?);
    let (wrote, reported, number): (String, String, i64) = (row.try_get(7)?, row.try_get(10)?, row.try_get(0)?);
    let (Ok(figure), Ok(reported)) = (Figure::parse(&wrote), parse_day(&reported)) else {
        return Ok(Err(format!("Lab result {number} ({analyte} {wrote}) cannot be read.")));
    };
    Ok(Ok(LabResult {
        number,
        sample: row.try_get(1)?,
        drawn: Moment::seconds(row.try_get(2)?),
        of: of(&subject, row.try_get(4)?, row.try_get(5)?),
        analyte: Analyte::parse(&analyte),
        figure,
        unit: Unit::parse(&unit).ok(),
        part: row.try_get(9)?,
        reported,
        written: Moment::seconds(row.try_get(11)?),
    }))
}

/// The results of some rows; those nobody can read any more are left out, and `check` says so.
///
/// # Errors
/// When a column is not what it should be.
pub fn readable(rows: &[SqliteRow]) -> Result<Vec<LabResult>, Failure> {
    let read: Vec<Result<LabResult, String>> = rows.iter().map(result).collect::<Result<_, _>>()?;
    Ok(read.into_iter().filter_map(Result::ok).collect())
}
