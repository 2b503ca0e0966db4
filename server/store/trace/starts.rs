//! What a trace may begin at, with what is needed to say which lots that leads to.

use super::super::{Failure, clocks};
use crate::trade::{
    poured::LONGEST_MILKING_HOURS,
    starts::{Bought, Filtered, Treated},
    trace::{CowId, LotId, VesselId},
    when::{Day, Moment, parse_day},
};
use sqlx::{Row, SqliteConnection, sqlite::SqliteRow};

/// A treatment with all that her clock at it rests on: the one of this number, or the last one of a cow up to a moment.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn treated(db: &mut SqliteConnection, number: Option<i64>, cow: Option<i64>, until: Moment) -> Result<Option<Treated>, Failure> {
    let row = sqlx::query(
        "SELECT t.cow, t.at, t.product, t.milk_hours, t.milk_milkings, t.as_labelled, t.vet_figure, t.counted_from, t.dry_days, c.name
         FROM treatments t JOIN cows c ON c.number = t.cow WHERE t.number = ?1 OR (?1 IS NULL AND t.cow = ?2 AND t.at <= ?3)
         ORDER BY t.at DESC, t.number DESC LIMIT 1",
    )
    .bind(number)
    .bind(cow)
    .bind(until.in_seconds())
    .fetch_optional(&mut *db)
    .await?;
    let Some(row) = row else { return Ok(None) };
    let (cow, name): (i64, String) = (row.try_get(0)?, row.try_get(9)?);
    let Some(dose) = clocks::dose(&row)? else { return Ok(None) };
    let asked = "SELECT cow, at, product, milk_hours, milk_milkings, as_labelled, vet_figure, counted_from, dry_days FROM treatments WHERE cow = ? ORDER BY at, number";
    let doses = clocks::by_cow(&sqlx::query(asked).bind(cow).fetch_all(&mut *db).await?, clocks::dose)?.remove(&cow).unwrap_or_default();
    let calvings: Vec<i64> =
        sqlx::query_scalar("SELECT at FROM events WHERE cow = ? AND sort = 'calved' ORDER BY at").bind(cow).fetch_all(&mut *db).await?;
    // Wherever her milk went: a milking thrown out counts for her clock as well as one that went into the can.
    let milked: Vec<(i64, i64)> = sqlx::query_as(
        "SELECT DISTINCT m.started, coalesce(m.ended, m.started + ?) FROM milkings m CROSS JOIN pails p ON p.cow = ? AND p.milking = m.number
         WHERE m.started >= ? ORDER BY m.started",
    )
    .bind(LONGEST_MILKING_HOURS * 3600)
    .bind(cow)
    .bind(dose.at.plus_hours(-clocks::LONGEST_CLOCK_DAYS * 24).in_seconds())
    .fetch_all(db)
    .await?;
    Ok(Some(Treated {
        cow: CowId(cow),
        name,
        dose,
        doses,
        calvings: calvings.into_iter().map(Moment::seconds).collect(),
        milked: milked.into_iter().map(|(begun, over)| (Moment::seconds(begun), Moment::seconds(over))).collect(),
    }))
}

/// A washing of a vessel, with the vessel's name: the one of this number, or the last one of a vessel up to a moment.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn washed(
    db: &mut SqliteConnection,
    number: Option<i64>,
    vessel: Option<i64>,
    until: Moment,
) -> Result<Option<(VesselId, Moment, String)>, Failure> {
    let found: Option<(i64, i64, String)> = sqlx::query_as(
        "SELECT b.vessel, b.at, v.name FROM breaks b JOIN vessels v ON v.number = b.vessel
         WHERE b.number = ?1 OR (?1 IS NULL AND b.vessel = ?2 AND b.at <= ?3) ORDER BY b.at DESC, b.number DESC LIMIT 1",
    )
    .bind(number)
    .bind(vessel)
    .bind(until.in_seconds())
    .fetch_optional(db)
    .await?;
    Ok(found.map(|(vessel, at, name)| (VesselId(vessel), Moment::seconds(at), name)))
}

/// The lots that were filled from milk, in order, and whether each went through a new filter.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn filters(db: &mut SqliteConnection) -> Result<Vec<Filtered>, Failure> {
    let rows: Vec<(i64, i64, Option<String>)> =
        sqlx::query_as("SELECT number, filled, new_filter FROM lots WHERE made IS NULL ORDER BY filled, number").fetch_all(db).await?;
    let filtered = |(lot, filled, new): (i64, i64, Option<String>)| Filtered {
        lot: LotId(lot),
        filled: Moment::seconds(filled),
        is_new: new.map(|new| new == "yes"),
    };
    Ok(rows.into_iter().map(filtered).collect())
}

fn day(row: &SqliteRow, place: usize) -> Result<Option<Day>, Failure> {
    let text: Option<String> = row.try_get(place)?;
    let unreadable = |fault| Failure::File(format!("A day in the ledger cannot be read: {fault} Run tallypail check."));
    text.map(|text| parse_day(&text).map_err(unreadable)).transpose()
}

fn what(row: &SqliteRow) -> Result<Option<Bought>, Failure> {
    let Some(paid) = day(row, 1)? else { return Ok(None) };
    let only: Option<i64> = row.try_get(2)?;
    Ok(Some(Bought {
        what: row.try_get(0)?,
        only: only.map(CowId),
        paid,
        used_from: day(row, 3)?,
        used_to: day(row, 4)?,
        used_up: day(row, 5)?,
        next: day(row, 6)?,
    }))
}

/// What a ticket brought, with what ends it.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn bought(db: &mut SqliteConnection, ticket: i64) -> Result<Option<Bought>, Failure> {
    let row = sqlx::query(
        "SELECT coalesce(s.name, t.what), t.paid, t.cow, t.covers_from, t.covers_to,
                (SELECT min(c.day) FROM store_counts c WHERE c.store = t.store AND c.day >= t.paid AND CAST(c.amount AS REAL) = 0),
                (SELECT min(n.paid) FROM tickets n WHERE n.store = t.store AND n.paid > t.paid)
         FROM tickets t LEFT JOIN stores s ON s.number = t.store WHERE t.number = ?",
    )
    .bind(ticket)
    .fetch_optional(db)
    .await?;
    row.map_or(Ok(None), |row| what(&row))
}

/// Everything that was ever in a store, by the store's number: it is followed from the day the store was begun.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn kept(db: &mut SqliteConnection, store: i64) -> Result<Option<Bought>, Failure> {
    let row =
        sqlx::query("SELECT name, since, NULL, NULL, NULL, NULL, NULL FROM stores WHERE number = ?").bind(store).fetch_optional(db).await?;
    row.map_or(Ok(None), |row| what(&row))
}
