//! The what-ifs that were kept, and what only they ask: how much of the milk was colostrum, and how many shares are boarded.

use crate::{
    store::{Failure, people},
    trade::{
        channels::Channel,
        compared::Saved,
        measure::Weight,
        wear::Span,
        when::{Day, Moment, Zone},
    },
};
use rust_decimal::Decimal;
use sqlx::{Row, SqliteConnection};

/// Every what-if that was kept, the newest first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn saved(db: &mut SqliteConnection) -> Result<Vec<Saved>, Failure> {
    sqlx::query("SELECT number, name, changes FROM what_ifs ORDER BY made DESC, number DESC")
        .fetch_all(db)
        .await?
        .iter()
        .map(|row| Ok(Saved { number: row.try_get(0)?, name: row.try_get(1)?, changes: row.try_get(2)? }))
        .collect()
}

/// How many shares of the herd are boarded on a day, halves and all.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn boarded(db: &mut SqliteConnection, day: Day) -> Result<Decimal, Failure> {
    let shares = people::shares(db).await?;
    Ok(shares.iter().filter(|own| own.way == Channel::Herdshare && own.holds(day)).map(|own| own.part.times(1)).sum())
}

/// A fresh cow's milk in these spans that was not thrown out, in half-gallons: as many days as the farm's rules say, or four
/// (common practice) where none say it.
pub(super) async fn colostrum(db: &mut SqliteConnection, zone: Zone, spans: &[Span]) -> Result<Vec<(Span, Decimal)>, Failure> {
    let Some(whole) = Span::around(spans) else { return Ok(Vec::new()) };
    // Few cows calve, so it goes from the calvings to the milkings after each; left to itself it would go by the milkings.
    let fresh: Vec<(i64, i64)> = sqlx::query_as(
        "WITH fresh AS MATERIALIZED (SELECT cow, at, at + 86400 * (SELECT coalesce(max(fresh_days), 4) FROM rules) AS until FROM events WHERE sort = 'calved')
         SELECT m.started, p.milk FROM fresh CROSS JOIN milkings m ON m.started >= max(fresh.at, ?1) AND m.started < min(fresh.until, ?2)
         CROSS JOIN pails p ON p.milking = m.number AND p.cow = fresh.cow AND p.went <> 'thrown out' WHERE fresh.until > ?1 AND fresh.at < ?2",
    )
    .bind(zone.start_of(whole.from).in_seconds())
    .bind(zone.end_of(whole.to).in_seconds())
    .fetch_all(db)
    .await?;
    let fresh: Vec<(Day, Decimal)> =
        fresh.iter().map(|(at, milk)| (zone.day(Moment::seconds(*at)), Weight::milligrams(*milk).in_half_gallons())).collect();
    let of = |span: &Span| fresh.iter().filter(|(day, _)| span.has(*day)).map(|(_, milk)| *milk).sum();
    Ok(spans.iter().map(|span| (*span, of(span))).collect())
}
