//! What records are called, and which record a name means.

use super::{Failure, Refusal};
use crate::trade::{
    codes::LotName,
    kinds::Kind,
    records::{Cell, Record, Remark, Shape},
    when::{Moment, Zone},
};
use sqlx::{AssertSqlSafe, SqliteConnection};

/// What people call every record of a kind that has a key: number and key.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn keys(db: &mut SqliteConnection, kind: &'static Kind) -> Result<Vec<(i64, String)>, Failure> {
    let key = kind.key.unwrap_or("number");
    let asked = AssertSqlSafe(format!("SELECT number, CAST({key} AS TEXT) FROM {} ORDER BY number", kind.name));
    Ok(sqlx::query_as(asked).fetch_all(db).await?)
}

/// Finds the records a new one names. A lot code names its newest fill at the time of the new record, because a code
/// comes round again after ten years.
pub(in crate::store) async fn looked_up(
    db: &mut SqliteConnection,
    kind: &'static Kind,
    mut cells: Vec<Cell>,
) -> Result<Vec<Cell>, Refusal> {
    let at = kind.happened.and_then(|column| kind.cell(&cells, column).whole()).unwrap_or(i64::MAX);
    let mut remarks = Vec::new();
    for (column, cell) in kind.columns.iter().zip(cells.iter_mut()) {
        if let (Shape::Key(target), Cell::Named(key)) = (column.shape, &*cell) {
            match number_of(db, target, key, at).await? {
                Some(number) => *cell = Cell::To(number),
                None => remarks.push(Remark::fault(column.name, nearest(db, target, key).await?)),
            }
        }
    }
    if remarks.is_empty() { Ok(cells) } else { Err(Refusal::Remarks(remarks)) }
}

/// The number of the record a key names.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn number_of(db: &mut SqliteConnection, target: &'static str, key: &str, at: i64) -> Result<Option<i64>, Failure> {
    let Some(kind) = crate::trade::kinds::kind(target) else { return Ok(None) };
    if target == "lots" {
        return Ok(lot_of(db, key, at).await?);
    }
    let asked = AssertSqlSafe(format!(
        "SELECT number FROM {} WHERE CAST({} AS TEXT) = ? COLLATE NOCASE LIMIT 1",
        kind.name,
        kind.key.unwrap_or("number")
    ));
    Ok(sqlx::query_scalar(asked).bind(key).fetch_optional(db).await?)
}

/// The newest lot with this code at that time, or the one filled on the day that is said. The same code is ten years away, so
/// the nearest to that day's noon is the one, whatever the farm's clock.
async fn lot_of(db: &mut SqliteConnection, key: &str, at: i64) -> Result<Option<i64>, sqlx::Error> {
    let Ok(name) = LotName::parse(key) else { return Ok(None) };
    let noon = name.filled.map(|day| Zone::UTC.start_of(day).plus_hours(12));
    let asked = match noon {
        Some(_) => "SELECT number FROM lots WHERE code = ? AND abs(filled - ?) < 2 * 86400",
        None => "SELECT number FROM lots WHERE code = ? ORDER BY filled <= ? DESC, filled DESC LIMIT 1",
    };
    sqlx::query_scalar(asked).bind(name.code.as_str()).bind(noon.map_or(at, Moment::in_seconds)).fetch_optional(db).await
}

/// What a lot is called: its code, and the day of its fill where another bears the code too.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn name_of_lot(db: &mut SqliteConnection, lot: &Record, kind: &Kind, zone: Zone) -> Result<String, Failure> {
    let code = lot.cell(kind, "code").text().to_owned();
    let bearing: i64 = sqlx::query_scalar("SELECT count(*) FROM lots WHERE code = ?").bind(&code).fetch_one(db).await?;
    let filled = lot.cell(kind, "filled").moment().filter(|_| bearing > 1);
    Ok(filled.map_or(code.clone(), |filled| format!("{code} {}", zone.day(filled))))
}

async fn nearest(db: &mut SqliteConnection, target: &'static str, key: &str) -> Result<String, Failure> {
    let Some(kind) = crate::trade::kinds::kind(target) else { return Ok(String::new()) };
    let known = keys(db, kind).await?;
    Ok(crate::trade::near::unknown(kind.one, key, known.iter().map(|(_, key)| key.as_str())))
}
