//! Where the milk of a span went, what each cow gave, and what came in for it.
//!
//! Milk is summed for all spans in one question each for pails, jars filled, handed out and set aside; nothing is rounded
//! here.

use crate::{
    store::{Failure, jars, listed},
    trade::{
        jars::Jars,
        measure::Weight,
        money::Money,
        opened::{MOST, Moved},
        splits::Cow,
        transfers::Account,
        wear::Span,
        went::{Flow, Went},
        when::{Day, Moment, Zone, parse_day},
    },
};
use rust_decimal::Decimal;
use sqlx::{Row, SqliteConnection, sqlite::SqliteRow};

/// The ways a pail goes, the ways a jar is set aside, and what they are called in the ledger.
const PAILS: [(Flow, &[&str]); 5] = [
    (Flow::Produced, &["can", "colostrum", "calf", "house", "thrown out"]),
    (Flow::Colostrum, &["colostrum"]),
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

/// What SQL asks of a pail `p` of a milking `m`: that she calved in the month before it and has not joined the can since.
macro_rules! fresh {
    () => {
        "EXISTS (SELECT 1 FROM events e WHERE e.cow = p.cow AND e.sort = 'calved' AND e.at <= m.started AND e.at > m.started - 2592000
          AND NOT EXISTS (SELECT 1 FROM events j WHERE j.cow = p.cow AND j.sort = 'joined the can' AND j.at >= e.at AND j.at <= m.started))"
    };
}

/// What moved on one day, and which way.
type DayFlow = (Day, Flow, Decimal);

/// Moments are asked for in quarters of an hour, because no clock on earth is off by less: so a day of many hand-outs comes as
/// few rows, and still falls on its own day.
const JARS_MOVED: &str = "SELECT json_group_array(json_array(at, how, gallons, half_gallons, quarts, pints)) FROM (
     SELECT at / 900 * 900 AS at, how, sum(gallons) AS gallons, sum(half_gallons) AS half_gallons, sum(quarts) AS quarts, sum(pints) AS pints FROM (
      SELECT filled AS at, CASE WHEN EXISTS (SELECT 1 FROM sources x WHERE x.lot = lots.number AND x.parent IS NOT NULL) THEN 'from lots' ELSE 'filled' END AS how,
             gallons, half_gallons, quarts, pints FROM lots WHERE filled >= ?1 AND filled < ?2
      UNION ALL SELECT at, 'handed out', gallons, half_gallons, quarts, pints FROM pickups WHERE at >= ?1 AND at < ?2
      UNION ALL SELECT at, 'set aside: ' || sort, gallons, half_gallons, quarts, pints FROM asides WHERE at >= ?1 AND at < ?2)
     GROUP BY 1, 2 ORDER BY 1)";

/// What went where in these spans.
pub(super) async fn milk(db: &mut SqliteConnection, zone: Zone, spans: &[Span]) -> Result<Vec<(Span, Went)>, Failure> {
    let Some(whole) = Span::around(spans) else { return Ok(Vec::new()) };
    let (from, until) = (zone.start_of(whole.from).in_seconds(), zone.end_of(whole.to).in_seconds());
    let before = on_hand_before(&mut *db, from).await?;
    let mut moved: Vec<DayFlow> = Vec::new();
    let pails: String = sqlx::query_scalar(concat!(
        "SELECT json_group_array(json_array(at, how, milk)) FROM (SELECT m.started / 900 * 900 AS at, CASE WHEN p.went <> 'can' AND ",
        fresh!(),
        " THEN 'colostrum' ELSE p.went END AS how, sum(p.milk) AS milk FROM milkings m JOIN pails p ON p.milking = m.number
             WHERE m.started >= ? AND m.started < ? GROUP BY 1, 2 ORDER BY 1)"
    ))
    .bind(from)
    .bind(until)
    .fetch_one(&mut *db)
    .await?;
    let mut day = zone.days();
    for (at, how, milk) in listed::<Vec<(i64, String, i64)>>(&pails)? {
        let (day, milk) = (day(Moment::seconds(at)), Weight::milligrams(milk).in_half_gallons());
        moved.extend(PAILS.iter().filter(|(_, words)| words.contains(&how.as_str())).map(|(flow, _)| (day, *flow, milk)));
    }
    let jars: String = sqlx::query_scalar(JARS_MOVED).bind(from).bind(until).fetch_one(db).await?;
    for (at, how, gallons, half_gallons, quarts, pints) in listed::<Vec<(i64, String, i64, i64, i64, i64)>>(&jars)? {
        let jars = Jars { gallons, half_gallons, quarts, pints };
        moved.push((day(Moment::seconds(at)), flow_of(&how), jars.in_half_gallons()));
    }
    moved.sort_by_key(|(day, ..)| *day);
    let mut on_hand = vec![before];
    for (_, flow, amount) in &moved {
        let lay = on_hand.last().copied().unwrap_or_default();
        on_hand.push(lay + flow.to_the_shelf() * amount);
    }
    let went = |span: &Span| {
        let (first, last) = (moved.partition_point(|own| own.0 < span.from), moved.partition_point(|own| own.0 <= span.to));
        let lay = on_hand.get(first).copied().unwrap_or_default();
        (*span, went_in(moved.get(first..last).unwrap_or_default(), lay))
    };
    Ok(spans.iter().map(went).collect())
}

/// The jars on hand by the book at a moment: a sum of pints for each way jars come and go, and no more, for it is over all of time.
async fn on_hand_before(db: &mut SqliteConnection, at: i64) -> Result<Decimal, Failure> {
    let sums: Vec<(String, i64)> = sqlx::query_as(
        "SELECT 'filled', coalesce(sum(gallons * 8 + half_gallons * 4 + quarts * 2 + pints), 0) FROM lots WHERE filled < ?1
         UNION ALL SELECT 'handed out', coalesce(sum(gallons * 8 + half_gallons * 4 + quarts * 2 + pints), 0) FROM pickups WHERE at < ?1
         UNION ALL SELECT 'set aside: ' || sort, sum(gallons * 8 + half_gallons * 4 + quarts * 2 + pints) FROM asides WHERE at < ?1 GROUP BY sort",
    )
    .bind(at)
    .fetch_all(db)
    .await?;
    let flows = sums.iter().map(|(how, pints)| (flow_of(how), Decimal::from(*pints) / Decimal::from(4))).collect();
    Ok(Went { flows, ..Went::default() }.on_hand_after())
}

/// One sum for each way, with what lay there by the book before.
fn went_in(moved: &[DayFlow], on_hand_before: Decimal) -> Went {
    let mut went = Went { flows: Vec::new(), on_hand_before };
    for (_, flow, amount) in moved {
        match went.flows.iter_mut().find(|(own, _)| own == flow) {
            Some((_, sum)) => *sum += *amount,
            None => went.flows.push((*flow, *amount)),
        }
    }
    went
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
        Flow::Produced | Flow::Colostrum | Flow::Calf | Flow::House | Flow::ThrownOut => (
            "pails",
            concat!(
                "SELECT p.number, m.started AS at, c.name || ', ' || m.session, p.milk_as, p.milk, 0, 0, 0, count(*) OVER () FROM milkings m
                 JOIN pails p ON p.milking = m.number JOIN cows c ON c.number = p.cow
                 WHERE m.started >= ?1 AND m.started < ?2 AND (CASE WHEN p.went <> 'can' AND ",
                fresh!(),
                " THEN 'colostrum' ELSE p.went END) IN (SELECT value FROM json_each(?3)) ORDER BY at DESC, p.number DESC LIMIT ?4"
            ),
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

/// What each cow of the herd did in these spans: her days here, her milkings and her milk.
pub(super) async fn cows(db: &mut SqliteConnection, zone: Zone, spans: &[Span]) -> Result<Vec<(Span, Vec<Cow>)>, Failure> {
    let herd: Vec<(i64, String, String, Option<i64>)> = sqlx::query_as(
        "SELECT c.number, c.name, c.since, (SELECT max(e.at) FROM events e WHERE e.cow = c.number AND e.sort = 'left') FROM cows c ORDER BY c.number",
    )
    .fetch_all(&mut *db)
    .await?;
    let mut all = Vec::with_capacity(spans.len());
    for span in spans {
        let gave: Vec<(i64, i64, i64)> = sqlx::query_as(
            "SELECT p.cow, count(*), sum(p.milk) FROM milkings m JOIN pails p ON p.milking = m.number
             WHERE m.started >= ? AND m.started < ? GROUP BY p.cow",
        )
        .bind(zone.start_of(span.from).in_seconds())
        .bind(zone.end_of(span.to).in_seconds())
        .fetch_all(&mut *db)
        .await?;
        let cow = |(number, name, since, left): &(i64, String, String, Option<i64>)| {
            let gave = gave.iter().find(|(cow, ..)| cow == number);
            let here = Span { from: parse_day(since).unwrap_or(span.from), to: left.map_or(span.to, |at| zone.day(Moment::seconds(at))) };
            Cow {
                name: name.clone(),
                days: here.shared_with(*span).days(),
                milkings: gave.map_or(0, |(_, milkings, _)| *milkings),
                milk: Weight::milligrams(gave.map_or(0, |(.., milk)| *milk)),
            }
        };
        all.push((*span, herd.iter().map(cow).filter(|cow| cow.days > 0 || cow.milkings > 0).collect()));
    }
    Ok(all)
}

/// What was made into cream or skim in these spans, in half-gallons.
pub(super) async fn made(db: &mut SqliteConnection, zone: Zone, spans: &[Span]) -> Result<Vec<(Span, String, Decimal)>, Failure> {
    let rows = sqlx::query("SELECT filled, made, gallons, half_gallons, quarts, pints FROM lots WHERE made IN ('cream', 'skim')")
        .fetch_all(db)
        .await?;
    let mut all: Vec<(Span, String, Decimal)> = Vec::new();
    for row in &rows {
        let (day, what, amount) =
            (zone.day(Moment::seconds(row.try_get(0)?)), row.try_get::<String, _>(1)?, jars(row, 2)?.in_half_gallons());
        for span in spans.iter().filter(|span| span.has(day)) {
            match all.iter_mut().find(|(own, name, _)| own == span && *name == what) {
                Some((.., sum)) => *sum += amount,
                None => all.push((*span, what.clone(), amount)),
            }
        }
    }
    Ok(all)
}

/// The accounts that hold what comes in for milk and keep: they stand below nothing by it.
const INCOME: [Account; 4] = [Account::Boarding, Account::MilkAtTheGate, Account::Adjustments, Account::WriteOffs];

/// What came in for these spans by the books of the households, and since when they hold any.
pub(super) async fn income(db: &mut SqliteConnection, spans: &[Span]) -> Result<(Vec<(Span, Money)>, Option<Day>), Failure> {
    let accounts = serde_json::json!(INCOME.map(|own| own.to_string())).to_string();
    let Some(whole) = Span::around(spans) else { return Ok((Vec::new(), None)) };
    let moved: Vec<(String, i64)> = sqlx::query_as(
        "WITH named AS MATERIALIZED (SELECT value AS account FROM json_each(?1))
         SELECT day, sum(amount * ((from_account IN named) - (to_account IN named))) FROM transfers WHERE day BETWEEN ?2 AND ?3 GROUP BY day",
    )
    .bind(&accounts)
    .bind(whole.from.to_string())
    .bind(whole.to.to_string())
    .fetch_all(&mut *db)
    .await?;
    let moved: Vec<(Day, i64)> = moved.iter().filter_map(|(day, cents)| Some((parse_day(day).ok()?, *cents))).collect();
    let of = |span: &Span| {
        let (first, last) = (moved.partition_point(|own| own.0 < span.from), moved.partition_point(|own| own.0 <= span.to));
        Money::cents(moved.get(first..last).unwrap_or_default().iter().map(|(_, cents)| cents).sum())
    };
    let sums = spans.iter().map(|span| (*span, of(span))).collect();
    let first: Option<String> = sqlx::query_scalar("SELECT min(day) FROM transfers WHERE from_account IN (SELECT value FROM json_each(?))")
        .bind(accounts)
        .fetch_one(db)
        .await?;
    Ok((sums, first.and_then(|day| parse_day(&day).ok())))
}
