//! What a half-gallon costs, as far as the ledger knows: tickets, gear, minutes, assumptions, and where the milk went.
//!
//! Milk is summed for all spans in one question each for pails, jars filled, handed out and set aside; nothing is rounded
//! here. A day is a day on the farm's clock.

use super::{Failure, jars};
use crate::trade::{
    account::Books,
    bills::{Assumed, Owned, Paid, Spent},
    measure::{Weight, figure_of},
    money::Money,
    opened::{MOST, Moved},
    wear::Span,
    went::{Flow, Went},
    when::{Day, Moment, Zone, parse_day},
};
use rust_decimal::Decimal;
use sqlx::{Row, SqliteConnection, sqlite::SqliteRow};

/// The day records start on, if the farm has been set up.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn since(db: &mut SqliteConnection) -> Result<Option<Day>, Failure> {
    let day: Option<String> = sqlx::query_scalar("SELECT min(since) FROM farm").fetch_one(db).await?;
    Ok(day.and_then(|day| parse_day(&day).ok()))
}

/// The last day of which anything is written that a cost rests on.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn last_day(db: &mut SqliteConnection, zone: Zone) -> Result<Option<Day>, Failure> {
    let moment: Option<i64> = sqlx::query_scalar(
        "SELECT max(at) FROM (SELECT max(started) AS at FROM milkings UNION ALL SELECT max(filled) FROM lots UNION ALL SELECT max(at) FROM pickups)",
    )
    .fetch_one(&mut *db)
    .await?;
    let day: Option<String> =
        sqlx::query_scalar("SELECT max(day) FROM (SELECT max(paid) AS day FROM tickets UNION ALL SELECT max(day) FROM minutes)")
            .fetch_one(db)
            .await?;
    Ok(moment.map(|at| zone.day(Moment::seconds(at))).max(day.and_then(|day| parse_day(&day).ok())))
}

/// All that a cost rests on, with the milk of these spans.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn books(db: &mut SqliteConnection, zone: Zone, spans: &[Span]) -> Result<Books, Failure> {
    Ok(Books {
        tickets: tickets(&mut *db).await?,
        gear: gear(&mut *db).await?,
        minutes: minutes(&mut *db, spans).await?,
        assumed: assumed(&mut *db).await?,
        milk: milk(&mut *db, zone, spans).await?,
    })
}

fn day(row: &SqliteRow, place: usize) -> Result<Day, Failure> {
    let text: String = row.try_get(place)?;
    parse_day(&text).map_err(|fault| Failure::File(format!("A day in the ledger cannot be read: {fault} Run tallypail check.")))
}

fn maybe_day(row: &SqliteRow, place: usize) -> Result<Option<Day>, Failure> {
    let text: Option<String> = row.try_get(place)?;
    if text.is_none() { Ok(None) } else { day(row, place).map(Some) }
}

fn yes(row: &SqliteRow, place: usize) -> Result<bool, Failure> {
    let text: String = row.try_get(place)?;
    Ok(text == "yes")
}

async fn tickets(db: &mut SqliteConnection) -> Result<Vec<Paid>, Failure> {
    sqlx::query(
        "SELECT number, paid, sort, what, coalesce(supplier, ''), amount, covers_from, covers_to, milk_share, guess FROM tickets ORDER BY paid, number",
    )
    .fetch_all(db)
    .await?
    .iter()
    .map(|row| {
        Ok(Paid {
            number: row.try_get(0)?,
            paid: day(row, 1)?,
            sort: row.try_get(2)?,
            what: row.try_get(3)?,
            supplier: row.try_get(4)?,
            amount: Money::cents(row.try_get(5)?),
            used_from: maybe_day(row, 6)?,
            used_to: maybe_day(row, 7)?,
            milk_share: row.try_get(8)?,
            guess: yes(row, 9)?,
        })
    })
    .collect()
}

async fn gear(db: &mut SqliteConnection) -> Result<Vec<Owned>, Failure> {
    sqlx::query("SELECT number, name, sort = 'cow', bought, gone, price, salvage, life_years, milk_share FROM gear ORDER BY bought, number")
        .fetch_all(db)
        .await?
        .iter()
        .map(|row| {
            Ok(Owned {
                number: row.try_get(0)?,
                name: row.try_get(1)?,
                is_cow: row.try_get(2)?,
                bought: day(row, 3)?,
                gone: maybe_day(row, 4)?,
                price: Money::cents(row.try_get(5)?),
                salvage: Money::cents(row.try_get(6)?),
                years: row.try_get(7)?,
                milk_share: row.try_get(8)?,
            })
        })
        .collect()
}

async fn minutes(db: &mut SqliteConnection, spans: &[Span]) -> Result<Vec<Spent>, Failure> {
    let first = spans.iter().map(|span| span.from).min().unwrap_or_default();
    let last = spans.iter().map(|span| span.to).max().unwrap_or_default();
    sqlx::query("SELECT number, day, job, person, minutes, wage, guess FROM minutes WHERE day BETWEEN ? AND ? ORDER BY day, number")
        .bind(first.to_string())
        .bind(last.to_string())
        .fetch_all(db)
        .await?
        .iter()
        .map(|row| {
            let wage: Option<i64> = row.try_get(5)?;
            Ok(Spent {
                number: row.try_get(0)?,
                day: day(row, 1)?,
                job: row.try_get(2)?,
                person: row.try_get(3)?,
                minutes: row.try_get(4)?,
                wage: wage.map(Money::cents),
                guess: yes(row, 6)?,
            })
        })
        .collect()
}

async fn assumed(db: &mut SqliteConnection) -> Result<Vec<Assumed>, Failure> {
    let rows = sqlx::query("SELECT number, name, since, figure, note FROM assumptions ORDER BY since, number").fetch_all(db).await?;
    let mut all = Vec::with_capacity(rows.len());
    for row in &rows {
        let figure: String = row.try_get(3)?;
        if let Some(figure) = figure_of(&figure) {
            all.push(Assumed { number: row.try_get(0)?, name: row.try_get(1)?, since: day(row, 2)?, figure, note: row.try_get(4)? });
        }
    }
    Ok(all)
}

/// The first and the last second of each span, and of all that went before it, as one bound value.
fn bounds(zone: Zone, spans: &[Span]) -> String {
    let ends = spans.iter().flat_map(|span| {
        let (from, until) = (zone.start_of(span.from).in_seconds(), zone.end_of(span.to).in_seconds());
        [[from, until], [i64::MIN, from]]
    });
    serde_json::json!(ends.collect::<Vec<_>>()).to_string()
}

/// The ways a pail goes, the ways a jar is set aside, and what they are called in the ledger.
const PAILS: [(Flow, &[&str]); 4] = [
    (Flow::Produced, &["can", "calf", "house", "thrown out"]),
    (Flow::Calf, &["calf"]),
    (Flow::House, &["house"]),
    (Flow::ThrownOut, &["thrown out"]),
];
const ASIDES: [(Flow, &[&str]); 7] = [
    (Flow::Returned, &["returned"]),
    (Flow::JarsHouse, &["household"]),
    (Flow::JarsCalf, &["calf"]),
    (Flow::IntoLots, &["made"]),
    (Flow::Samples, &["sample", "shelf jar"]),
    (Flow::Broken, &["broken"]),
    (Flow::JarsThrownOut, &["thrown out"]),
];

async fn milk(db: &mut SqliteConnection, zone: Zone, spans: &[Span]) -> Result<Vec<(Span, Went)>, Failure> {
    let bounds = bounds(zone, spans);
    let pails = sqlx::query(
        "SELECT s.key, p.went, sum(p.milk) FROM json_each(?) s
         JOIN milkings m ON m.started >= s.value ->> 0 AND m.started < s.value ->> 1 JOIN pails p ON p.milking = m.number
         WHERE s.key % 2 = 0 GROUP BY 1, 2",
    )
    .bind(&bounds)
    .fetch_all(&mut *db)
    .await?;
    let moved = sqlx::query(
        "WITH s AS MATERIALIZED (SELECT key, value ->> 0 AS since, value ->> 1 AS until FROM json_each(?)),
              moved AS MATERIALIZED (SELECT filled AS at, CASE WHEN EXISTS (SELECT 1 FROM sources x WHERE x.lot = lots.number AND x.parent IS NOT NULL) THEN 'from lots' ELSE 'filled' END AS how,
                               gallons, half_gallons, quarts, pints FROM lots
                        UNION ALL SELECT at, 'handed out', gallons, half_gallons, quarts, pints FROM pickups
                        UNION ALL SELECT at, 'set aside: ' || sort, gallons, half_gallons, quarts, pints FROM asides)
         SELECT s.key, moved.how, sum(gallons), sum(half_gallons), sum(quarts), sum(pints) FROM s
         JOIN moved ON moved.at >= s.since AND moved.at < s.until GROUP BY 1, 2",
    )
    .bind(&bounds)
    .fetch_all(db)
    .await?;
    let mut went: Vec<Went> = vec![Went::default(); spans.len() * 2];
    for row in &pails {
        let (key, how, milk): (i64, String, i64) = (row.try_get(0)?, row.try_get(1)?, row.try_get(2)?);
        let flows = PAILS.iter().filter(|(_, words)| words.contains(&how.as_str()));
        let Some(own) = usize::try_from(key).ok().and_then(|key| went.get_mut(key)) else { continue };
        own.flows.extend(flows.map(|(flow, _)| (*flow, Weight::milligrams(milk).in_half_gallons())));
    }
    for row in &moved {
        let (key, how): (i64, String) = (row.try_get(0)?, row.try_get(1)?);
        let Some(own) = usize::try_from(key).ok().and_then(|key| went.get_mut(key)) else { continue };
        own.flows.push((flow_of(&how), jars(row, 2)?.in_half_gallons()));
    }
    let pairs = spans.iter().zip(went.chunks(2));
    Ok(pairs
        .filter_map(|(span, pair)| match pair {
            [own, before] => Some((*span, Went { on_hand_before: before.on_hand_after(), ..own.clone() })),
            _ => None,
        })
        .collect())
}

fn flow_of(how: &str) -> Flow {
    match how {
        "filled" => Flow::Filled,
        "from lots" => Flow::FromLots,
        "handed out" => Flow::HandedOut,
        aside => {
            let sort = aside.strip_prefix("set aside: ").unwrap_or(aside);
            ASIDES.iter().find(|(_, words)| words.contains(&sort)).map_or(Flow::JarsThrownOut, |(flow, _)| *flow)
        }
    }
}

/// The records an amount of milk is made of, newest first and at most so many, and how many there are in all.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn moved(db: &mut SqliteConnection, zone: Zone, flow: Flow, span: Span) -> Result<(Vec<Moved>, usize), Failure> {
    let (kind, asked) = match flow {
        Flow::Produced | Flow::Calf | Flow::House | Flow::ThrownOut => (
            "pails",
            "SELECT p.number, m.started AS at, c.name || ', ' || m.session, p.milk_as, p.milk, 0, 0, 0, count(*) OVER () FROM milkings m
             JOIN pails p ON p.milking = m.number JOIN cows c ON c.number = p.cow
             WHERE m.started >= ?1 AND m.started < ?2 AND p.went IN (SELECT value FROM json_each(?3)) ORDER BY at DESC, p.number DESC LIMIT ?4",
        ),
        Flow::Filled | Flow::FromLots => (
            "lots",
            "SELECT l.number, l.filled AS at, 'Lot ' || l.code, '', l.gallons, l.half_gallons, l.quarts, l.pints, count(*) OVER () FROM lots l
             WHERE l.filled >= ?1 AND l.filled < ?2 AND EXISTS (SELECT 1 FROM sources x WHERE x.lot = l.number AND x.parent IS NOT NULL) = (?3 = '[\"from lots\"]')
             ORDER BY at DESC, l.number DESC LIMIT ?4",
        ),
        Flow::HandedOut => (
            "pickups",
            "SELECT p.number, p.at, 'Lot ' || l.code || ' to ' || coalesce(x.label || ' ' || x.name, 'a walk-in'), '', p.gallons, p.half_gallons, p.quarts, p.pints, count(*) OVER ()
             FROM pickups p JOIN lots l ON l.number = p.lot LEFT JOIN people x ON x.number = p.person
             WHERE p.at >= ?1 AND p.at < ?2 ORDER BY p.at DESC, p.number DESC LIMIT ?4",
        ),
        _ => (
            "asides",
            "SELECT a.number, a.at, 'Lot ' || l.code || coalesce(': ' || a.reason, ''), '', a.gallons, a.half_gallons, a.quarts, a.pints, count(*) OVER ()
             FROM asides a JOIN lots l ON l.number = a.lot
             WHERE a.at >= ?1 AND a.at < ?2 AND a.sort IN (SELECT value FROM json_each(?3)) ORDER BY a.at DESC, a.number DESC LIMIT ?4",
        ),
    };
    let words: &[&str] = match flow {
        Flow::FromLots => &["from lots"],
        _ => PAILS.iter().chain(&ASIDES).find(|(own, _)| *own == flow).map_or(&[], |(_, words)| words),
    };
    let rows = sqlx::query(asked)
        .bind(zone.start_of(span.from).in_seconds())
        .bind(zone.end_of(span.to).in_seconds())
        .bind(serde_json::json!(words).to_string())
        .bind(i64::try_from(MOST).unwrap_or(i64::MAX))
        .fetch_all(db)
        .await?;
    let count: i64 = rows.first().map_or(Ok(0), |row| row.try_get(8))?;
    let moved = rows.iter().map(|row| one_moved(row, kind, zone)).collect::<Result<Vec<_>, Failure>>()?;
    Ok((moved, usize::try_from(count).unwrap_or_default()))
}

fn one_moved(row: &SqliteRow, kind: &'static str, zone: Zone) -> Result<Moved, Failure> {
    let at: i64 = row.try_get(1)?;
    let (written, half_gallons): (String, Decimal) = if kind == "pails" {
        (row.try_get(3)?, Weight::milligrams(row.try_get(4)?).in_half_gallons())
    } else {
        let these = jars(row, 4)?;
        (these.to_string(), these.in_half_gallons())
    };
    Ok(Moved { day: zone.day(Moment::seconds(at)), kind, number: row.try_get(0)?, says: row.try_get(2)?, written, half_gallons })
}
