//! What a binder asks that no other page does: the lots of a span, its readings, washings, treatments and holds, what was written late
//! and what was corrected, and the papers that belong to it.

use super::{
    Failure,
    clocks::{by_cow, dose, turns},
    stop,
};
use crate::trade::{
    binder::{Changes, Kept, Paper, Strip, Treatment, Wash},
    calendar::Renewal,
    capital,
    gaps::{CowsDoses, ReadWith, Written},
    herd::calvings,
    kinds::{Kind, kind},
    lotsheet::Stopped,
    records::Shape,
    when::{Day, Moment, Zone, parse_day},
};
use sqlx::{AssertSqlSafe, Row, SqliteConnection, sqlite::SqliteRow};

/// The first and the last moment of the days asked about.
#[derive(Clone, Copy, Debug)]
pub struct Between {
    /// The first day.
    pub from: Day,
    /// The last day.
    pub to: Day,
    /// The farm's clock.
    pub zone: Zone,
}

impl Between {
    fn seconds(self) -> (i64, i64) {
        (self.zone.start_of(self.from).in_seconds(), self.zone.end_of(self.to).in_seconds() - 1)
    }
}

/// The lots filled in those days, oldest first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn lots(db: &mut SqliteConnection, days: Between) -> Result<Vec<i64>, Failure> {
    let (from, to) = days.seconds();
    let asked = "SELECT number FROM lots WHERE filled BETWEEN ? AND ? ORDER BY filled, number";
    Ok(sqlx::query_scalar(asked).bind(from).bind(to).fetch_all(db).await?)
}

/// Every reading of those days with the thermometer it was taken with, oldest first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn readings(db: &mut SqliteConnection, days: Between) -> Result<Vec<ReadWith>, Failure> {
    let (from, to) = days.seconds();
    let asked = "SELECT coalesce(thermometer, ''), at FROM chill WHERE at BETWEEN ? AND ? ORDER BY at, number";
    let rows: Vec<(String, i64)> = sqlx::query_as(asked).bind(from).bind(to).fetch_all(db).await?;
    Ok(rows.into_iter().map(|(thermometer, at)| ReadWith { thermometer, at: Moment::seconds(at) }).collect())
}

/// Every washing of those days, oldest first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn washes(db: &mut SqliteConnection, days: Between) -> Result<Vec<Wash>, Failure> {
    let (from, to) = days.seconds();
    let asked = "SELECT v.name, b.at, b.washed = 'yes' AND b.sanitised = 'yes' FROM breaks b JOIN vessels v ON v.number = b.vessel
         WHERE b.at BETWEEN ? AND ? ORDER BY b.at, b.number";
    let rows: Vec<(String, i64, bool)> = sqlx::query_as(asked).bind(from).bind(to).fetch_all(db).await?;
    Ok(rows.into_iter().map(|(vessel, at, clean)| Wash { vessel, at: Moment::seconds(at), clean }).collect())
}

/// The treatments of those days as they were written, oldest first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn treatments(db: &mut SqliteConnection, days: Between) -> Result<Vec<Treatment>, Failure> {
    let (from, to) = days.seconds();
    let rows = sqlx::query(
        "SELECT t.number, c.name, t.at, t.product, t.batch, t.dose, t.route, t.quarter, t.reason, coalesce(t.given_by, ''), t.milk_hours,
                t.milk_milkings, t.counted_from, t.as_labelled, t.vet_figure
         FROM treatments t JOIN cows c ON c.number = t.cow WHERE t.at BETWEEN ? AND ? ORDER BY t.at, t.number",
    )
    .bind(from)
    .bind(to)
    .fetch_all(db)
    .await?;
    rows.iter().map(treatment).collect()
}

fn treatment(row: &SqliteRow) -> Result<Treatment, Failure> {
    let text = |nth: usize| row.try_get::<Option<String>, _>(nth).map(Option::unwrap_or_default);
    let parts: Vec<String> = [text(3)?, text(5)?, text(6)?, text(7)?, text(8)?].into_iter().filter(|part| !part.is_empty()).collect();
    let batch = text(4)?;
    let batch = if batch.is_empty() { "its lot and expiry not written".to_owned() } else { format!("lot and expiry {batch}") };
    let (hours, milkings): (Option<i64>, Option<i64>) = (row.try_get(10)?, row.try_get(11)?);
    let times = [hours.map(|hours| format!("{hours} h")), milkings.map(|count| format!("{count} milkings"))];
    let times: Vec<String> = times.into_iter().flatten().collect();
    let from = if text(12)? == "calving" { " from calving" } else { "" };
    let whose = if text(14)? == "yes" { ", the vet’s figure" } else { "" };
    let label = if text(13)? == "no" { ", not as its label says" } else { "" };
    let time = if times.is_empty() { "not written".to_owned() } else { format!("{}{from}{whose}{label}", times.join(" and ")) };
    Ok(Treatment {
        number: row.try_get(0)?,
        cow: row.try_get(1)?,
        at: Moment::seconds(row.try_get(2)?),
        what: format!("{}; {batch}", parts.join(", ")),
        by: text(9)?,
        time,
    })
}

/// The cows treated up to the last of those days, with all her clocks count from and where her milk went.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn doses(db: &mut SqliteConnection, days: Between) -> Result<Vec<CowsDoses>, Failure> {
    let (_, to) = days.seconds();
    let asked =
        "SELECT cow, at, product, milk_hours, milk_milkings, as_labelled, vet_figure, counted_from, dry_days, number FROM treatments
         WHERE at <= ? ORDER BY at, number";
    let rows = sqlx::query(asked).bind(to).fetch_all(&mut *db).await?;
    let mut given = by_cow(&rows, |row| Ok(Some(row.try_get::<i64, _>(9)?).zip(dose(row)?)))?;
    let mut turns = turns(&mut *db, None, Moment::seconds(to)).await?;
    let cows: Vec<(i64, String)> =
        sqlx::query_as("SELECT number, name FROM cows WHERE number IN (SELECT cow FROM treatments) ORDER BY number")
            .fetch_all(&mut *db)
            .await?;
    let mut all = Vec::with_capacity(cows.len());
    for (number, cow) in cows {
        let asked = "SELECT m.started, p.went FROM pails p JOIN milkings m ON m.number = p.milking WHERE p.cow = ? AND m.started <= ? ORDER BY m.started";
        let milked: Vec<(i64, String)> = sqlx::query_as(asked).bind(number).bind(to).fetch_all(&mut *db).await?;
        all.push(CowsDoses {
            cow,
            doses: given.remove(&number).unwrap_or_default(),
            calvings: calvings(&turns.remove(&number).unwrap_or_default(), Moment::seconds(to)),
            milked: milked.into_iter().map(|(at, went)| (Moment::seconds(at), went)).collect(),
        });
    }
    Ok(all)
}

/// The strip tests of those days, oldest first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn strips(db: &mut SqliteConnection, days: Between) -> Result<Vec<Strip>, Failure> {
    let (from, to) = days.seconds();
    let asked = "SELECT c.name, s.at, s.quarter, s.score FROM strip_tests s JOIN cows c ON c.number = s.cow WHERE s.at BETWEEN ? AND ?
         ORDER BY s.at, s.cow, s.number";
    let rows: Vec<(String, i64, String, String)> = sqlx::query_as(asked).bind(from).bind(to).fetch_all(db).await?;
    Ok(rows.into_iter().map(|(cow, at, quarter, score)| Strip { cow, at: Moment::seconds(at), quarter, score }).collect())
}

/// The holds that stood on one of those days, oldest first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn held(db: &mut SqliteConnection, days: Between) -> Result<Vec<Stopped>, Failure> {
    let (from, to) = days.seconds();
    let rows = sqlx::query(
        "SELECT CASE h.scope WHEN 'lot' THEN 'Lot ' || l.code WHEN 'cow' THEN c.name WHEN 'vessel' THEN v.name ELSE 'All milk' END,
                coalesce(h.reason, ''), h.at, h.who, x.at, x.reason, x.who
         FROM holds h LEFT JOIN lots l ON l.number = h.lot LEFT JOIN cows c ON c.number = h.cow LEFT JOIN vessels v ON v.number = h.vessel
         LEFT JOIN lifts x ON x.hold = h.number WHERE h.at <= ?2 AND (x.at IS NULL OR x.at >= ?1) ORDER BY h.at, h.number",
    )
    .bind(from)
    .bind(to)
    .fetch_all(db)
    .await?;
    rows.iter().map(stop).collect()
}

/// The complaints of those days, and in how many of them somebody was ill.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn complaints(db: &mut SqliteConnection, days: Between) -> Result<(usize, usize), Failure> {
    let (from, to) = days.seconds();
    let asked = "SELECT count(*), count(ill_since) FROM complaints WHERE at BETWEEN ? AND ?";
    let (all, ill): (i64, i64) = sqlx::query_as(asked).bind(from).bind(to).fetch_one(db).await?;
    Ok((usize::try_from(all).unwrap_or_default(), usize::try_from(ill).unwrap_or_default()))
}

/// Papers and deeds that were good on one of those days, or done in them; oldest first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn renewals(db: &mut SqliteConnection, days: Between) -> Result<Vec<Renewal>, Failure> {
    let rows = sqlx::query(
        "SELECT r.number, r.sort, r.what, r.done, r.until, c.name FROM renewals r LEFT JOIN cows c ON c.number = r.cow
         WHERE r.done <= ?2 AND coalesce(r.until, r.done) >= ?1 ORDER BY r.sort, r.done, r.number",
    )
    .bind(days.from.to_string())
    .bind(days.to.to_string())
    .fetch_all(db)
    .await?;
    let read = |row: &SqliteRow| {
        let (done, until): (String, Option<String>) = (row.try_get(3)?, row.try_get(4)?);
        let until = until.and_then(|day| parse_day(&day).ok());
        let renewal = |done| Some((row.try_get(0).ok()?, row.try_get(1).ok()?, row.try_get(2).ok()?, done, until, row.try_get(5).ok()?));
        Ok(parse_day(&done).ok().and_then(renewal))
    };
    let read: Vec<Option<_>> = rows.iter().map(read).collect::<Result<_, Failure>>()?;
    let all = read.into_iter().flatten();
    Ok(all.map(|(number, sort, what, done, until, cow)| Renewal { number, sort, what, done, until, cow }).collect())
}

/// The kinds whose day says when something happened on the farm: written late, they are less sure.
const WRITTEN_AT_ONCE: [&str; 19] = [
    "events",
    "treatments",
    "strip_tests",
    "milkings",
    "breaks",
    "lots",
    "ice_checks",
    "chill",
    "counts",
    "pickups",
    "asides",
    "holds",
    "lifts",
    "samples",
    "results",
    "renewals",
    "complaints",
    "callbacks",
    "warm_fridges",
];

/// The records of those days that were written more than two days after: near enough for the trade to say which are late.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn written(db: &mut SqliteConnection, days: Between) -> Result<Vec<Written>, Failure> {
    let mut all = Vec::new();
    for own in WRITTEN_AT_ONCE.iter().filter_map(|name| kind(name)) {
        all.extend(written_of(&mut *db, own, days).await?);
    }
    Ok(all)
}

async fn written_of(db: &mut SqliteConnection, own: &'static Kind, days: Between) -> Result<Vec<Written>, Failure> {
    let Some(column) = own.happened.and_then(|name| own.columns.iter().find(|column| column.name == name)) else { return Ok(Vec::new()) };
    let (name, happened) = (own.name, column.name);
    if column.shape == Shape::Day {
        let asked = format!("SELECT number, {happened}, written FROM {name} WHERE {happened} BETWEEN ? AND ? ORDER BY number");
        let rows: Vec<(i64, String, i64)> =
            sqlx::query_as(AssertSqlSafe(asked)).bind(days.from.to_string()).bind(days.to.to_string()).fetch_all(db).await?;
        let read = |(number, day, written): (i64, String, i64)| {
            Some(Written { kind: name, number, happened: parse_day(&day).ok()?, written: Moment::seconds(written) })
        };
        return Ok(rows.into_iter().filter_map(read).collect());
    }
    let (from, to) = days.seconds();
    let asked = format!(
        "SELECT number, {happened}, written FROM {name} WHERE {happened} BETWEEN ? AND ? AND written - {happened} > 2 * 86400 ORDER BY number"
    );
    let rows: Vec<(i64, i64, i64)> = sqlx::query_as(AssertSqlSafe(asked)).bind(from).bind(to).fetch_all(db).await?;
    let mut day = days.zone.days();
    let read = |(number, at, written): (i64, i64, i64)| Written {
        kind: name,
        number,
        happened: day(Moment::seconds(at)),
        written: Moment::seconds(written),
    };
    Ok(rows.into_iter().map(read).collect())
}

/// What the journal changed in those days, by kind of record, the most first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn changes(db: &mut SqliteConnection, days: Between) -> Result<Vec<Changes>, Failure> {
    let (from, to) = days.seconds();
    let asked = "SELECT kind, sum(did = 'corrected'), sum(did = 'struck'), sum(did = 'undone') FROM journal
         WHERE did IN ('corrected', 'struck', 'undone') AND at BETWEEN ? AND ? GROUP BY kind ORDER BY count(*) DESC, kind";
    let rows: Vec<(String, i64, i64, i64)> = sqlx::query_as(asked).bind(from).bind(to).fetch_all(db).await?;
    let read = |(name, corrected, struck, taken_back): (String, i64, i64, i64)| {
        let one = kind(&name).map_or(name.as_str(), |kind| kind.one);
        Changes { one: capital(one), corrected, struck, taken_back }
    };
    Ok(rows.into_iter().map(read).collect())
}

/// The files that belong to those days: of papers that were good in them, of bottles drawn, and of notices that came; and of what
/// households signed, where that is asked for.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn kept(db: &mut SqliteConnection, days: Between, agreements: bool) -> Result<Vec<Kept>, Failure> {
    let (from, to) = days.seconds();
    let rows = sqlx::query(
        "WITH own (document, sort, of) AS (
            SELECT document, sort, sort || ': ' || what FROM renewals WHERE done <= ?2 AND coalesce(until, done) >= ?1
            UNION ALL SELECT s.document, 'lab', 'lab paper of ' || coalesce('lot ' || l.code, c.name, s.subject)
                FROM samples s LEFT JOIN lots l ON l.number = s.lot LEFT JOIN cows c ON c.number = s.cow WHERE s.drawn BETWEEN ?3 AND ?4
            UNION ALL SELECT document, 'notice', sort FROM notices WHERE at BETWEEN ?3 AND ?4
            UNION ALL SELECT a.document, 'agreement', a.sort || ' of ' || p.label FROM agreements a JOIN people p ON p.number = a.person
                WHERE ?5 AND coalesce(a.signed, a.given) <= ?2 AND coalesce(a.until, ?2) >= ?1)
         SELECT d.number, min(own.sort), min(own.of), d.at, d.size, d.hash FROM own JOIN documents d ON d.number = own.document
         GROUP BY d.number ORDER BY min(own.sort), d.number",
    )
    .bind(days.from.to_string())
    .bind(days.to.to_string())
    .bind(from)
    .bind(to)
    .bind(agreements)
    .fetch_all(db)
    .await?;
    rows.iter()
        .map(|row| {
            Ok(Kept {
                number: row.try_get(0)?,
                paper: Paper { sort: row.try_get(1)?, of: capital(row.try_get::<&str, _>(2)?) },
                at: Moment::seconds(row.try_get(3)?),
                size: row.try_get(4)?,
                hash: row.try_get(5)?,
            })
        })
        .collect()
}

/// The names of everybody who takes milk, fetches it or rang, and the ways to reach them.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn names(db: &mut SqliteConnection) -> Result<(Vec<String>, Vec<String>), Failure> {
    let asked = "SELECT name FROM people UNION SELECT name FROM collectors UNION SELECT caller FROM complaints WHERE caller IS NOT NULL
         UNION SELECT taken_by FROM pickups WHERE taken_by IS NOT NULL";
    let names = sqlx::query_scalar(asked).fetch_all(&mut *db).await?;
    let asked = "SELECT phone FROM people WHERE phone IS NOT NULL UNION SELECT second_way FROM people WHERE second_way IS NOT NULL
         UNION SELECT reach FROM collectors WHERE reach IS NOT NULL UNION SELECT address FROM mailings WHERE address IS NOT NULL";
    Ok((names, sqlx::query_scalar(asked).fetch_all(db).await?))
}
