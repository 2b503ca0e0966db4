//! What the dates of the calendar rest on: the rules in force, results, renewals, cows and thermometers; and what was
//! handed out and milked, for the caps.

use super::{
    Failure, among,
    clocks::turns,
    farm::followed_since,
    ice_checks, jars,
    results::{BACK_DAYS, asking, readable},
};
use crate::trade::{
    agreements::{Paper, counting},
    calendar::{CowsDays, Facts, Followed, IN_USE_DAYS, Read, Renewal, Thermometer},
    caps::{Caps, Of as CapOf},
    frequency::Frequencies,
    jars::Jars,
    lab::LabResult,
    limits::Limits,
    measure::Weight,
    notices::Notice,
    when::{Day, Moment, Zone, parse_day},
};
use sqlx::{Row, SqliteConnection, sqlite::SqliteRow};

/// Everything the calendar is made from.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn facts(db: &mut SqliteConnection, zone: Zone, now: Moment) -> Result<Facts, Failure> {
    let today = zone.day(now);
    Ok(Facts {
        zone,
        today,
        since: since(&mut *db).await?.unwrap_or(today),
        milk_since: milk_since(&mut *db, zone).await?,
        rules: rules(&mut *db, today).await?,
        results: results(&mut *db, now).await?,
        received: received(&mut *db, zone, now).await?,
        cows: cows(&mut *db, zone, now).await?,
        renewals: renewals(&mut *db, today).await?,
        thermometers: thermometers(&mut *db, now).await?,
        agreements: agreements(&mut *db, today).await?,
        notices: notices(&mut *db, today, now).await?,
    })
}

/// The papers that count and run out, of every household that is still here.
async fn agreements(db: &mut SqliteConnection, today: Day) -> Result<Vec<(String, String, Paper)>, Failure> {
    let rows = sqlx::query(
        "SELECT p.label, p.name, a.number, a.person, a.sort, a.given, a.signed, a.until FROM agreements a JOIN people p ON p.number = a.person
         WHERE p.until IS NULL OR p.until >= ? ORDER BY a.person, a.number",
    )
    .bind(today.to_string())
    .fetch_all(db)
    .await?;
    let day = |typed: Option<String>| typed.and_then(|typed| parse_day(&typed).ok());
    let mut all: Vec<(String, String, Paper)> = Vec::with_capacity(rows.len());
    for row in &rows {
        let paper = Paper {
            number: row.try_get(2)?,
            person: row.try_get(3)?,
            sort: row.try_get(4)?,
            given: day(row.try_get(5)?),
            signed: day(row.try_get(6)?),
            until: day(row.try_get(7)?),
            ..Paper::default()
        };
        all.push((row.try_get(0)?, row.try_get(1)?, paper));
    }
    let of = |person: i64| all.iter().map(|(.., paper)| paper).filter(move |paper| paper.person == person).cloned().collect::<Vec<_>>();
    let counts = |own: &Paper| own.until.is_some() && counting(&of(own.person)).iter().any(|paper| paper.number == own.number);
    Ok(all.iter().filter(|(.., own)| counts(own)).cloned().collect())
}

/// What came in and nobody has answered. The days to sample again within are those of the base set.
async fn notices(db: &mut SqliteConnection, today: Day, now: Moment) -> Result<Vec<(i64, Notice)>, Failure> {
    let resample = rules(&mut *db, today).await?.last().and_then(|base| base.resample);
    let asked = "SELECT number, sort, at, due FROM notices WHERE at <= ?1 AND (answered IS NULL OR answered > ?1) ORDER BY at, number";
    let rows: Vec<(i64, String, i64, Option<String>)> = sqlx::query_as(asked).bind(now.in_seconds()).fetch_all(db).await?;
    let notice = |(number, sort, at, says): (i64, String, i64, Option<String>)| {
        let says = says.and_then(|day| parse_day(&day).ok());
        (number, Notice { sort, at: Moment::seconds(at), says, resample })
    };
    Ok(rows.into_iter().map(notice).collect())
}

/// The first day of the ledger.
async fn since(db: &mut SqliteConnection) -> Result<Option<Day>, Failure> {
    let day: Option<String> = sqlx::query_scalar("SELECT min(since) FROM farm").fetch_one(db).await?;
    Ok(day.and_then(|day| parse_day(&day).ok()))
}

/// The first day with milk in it, a milking or a lot.
async fn milk_since(db: &mut SqliteConnection, zone: Zone) -> Result<Option<Day>, Failure> {
    let asked = "SELECT min(at) FROM (SELECT min(started) AS at FROM milkings UNION ALL SELECT min(filled) FROM lots)";
    let at: Option<i64> = sqlx::query_scalar(asked).fetch_one(db).await?;
    Ok(at.map(|at| zone.day(Moment::seconds(at))))
}

/// The rule sets in force on a day: those that stand beside the base, and the base.
const IN_FORCE: &str =
    "SELECT number, title, coalesce(citation, ''), sure, coalesce(limits, ''), coalesce(tests, ''), resample_after, resample_within,
    check_by, coalesce(beside, 'no'), coalesce(caps, ''), since FROM rules WHERE since <= ? ORDER BY since DESC, number DESC";

async fn in_force(db: &mut SqliteConnection, day: Day) -> Result<Vec<(Followed, Caps)>, Failure> {
    let mut sets = Vec::new();
    let rows = sqlx::query(IN_FORCE).bind(day.to_string()).fetch_all(db).await?;
    let all: Vec<(String, String, String)> =
        rows.iter().map(|row| Ok((row.try_get(1)?, row.try_get(9)?, row.try_get(11)?))).collect::<Result<_, Failure>>()?;
    for (nth, row) in rows.iter().enumerate() {
        let beside: String = row.try_get(9)?;
        sets.push(followed(row, followed_since(&all, nth).unwrap_or(day))?);
        if beside != "yes" {
            break;
        }
    }
    Ok(sets)
}

fn followed(row: &SqliteRow, since: Day) -> Result<(Followed, Caps), Failure> {
    let (title, citation, sure): (String, String, String) = (row.try_get(1)?, row.try_get(2)?, row.try_get(3)?);
    let (limits, tests, caps): (String, String, String) = (row.try_get(4)?, row.try_get(5)?, row.try_get(10)?);
    let (after, within, check_by): (Option<i64>, Option<i64>, Option<String>) = (row.try_get(6)?, row.try_get(7)?, row.try_get(8)?);
    // A citation that is a story of its own stands on the rule set's record, and not beside every line.
    let source = if citation.is_empty() || citation.len() > 90 { title } else { format!("{title} ({citation})") };
    let rules = Followed {
        number: row.try_get(0)?,
        source,
        sure,
        since,
        limits: Limits::parse(&limits).unwrap_or_default(),
        tests: Frequencies::parse(&tests).unwrap_or_default(),
        resample: within.map(|within| (after.unwrap_or(0), within)),
        check_by: check_by.and_then(|day| parse_day(&day).ok()),
    };
    Ok((rules, Caps::parse(&caps).unwrap_or_default()))
}

async fn rules(db: &mut SqliteConnection, day: Day) -> Result<Vec<Followed>, Failure> {
    Ok(in_force(db, day).await?.into_iter().map(|(rules, _)| rules).collect())
}

async fn results(db: &mut SqliteConnection, now: Moment) -> Result<Vec<LabResult>, Failure> {
    let rows = sqlx::query(asking("", "WHERE s.drawn BETWEEN ? AND ? ORDER BY s.drawn, r.number"))
        .bind(now.plus_hours(-BACK_DAYS * 24).in_seconds())
        .bind(now.in_seconds())
        .fetch_all(db)
        .await?;
    readable(&rows)
}

/// The days of milk samples whose temperature was read when the lab got them.
async fn received(db: &mut SqliteConnection, zone: Zone, now: Moment) -> Result<Vec<Day>, Failure> {
    let asked = "SELECT drawn FROM samples WHERE subject = 'lot' AND received_at IS NOT NULL AND drawn BETWEEN ? AND ?";
    let since = now.plus_hours(-BACK_DAYS * 24).in_seconds();
    let drawn: Vec<i64> = sqlx::query_scalar(asked).bind(since).bind(now.in_seconds()).fetch_all(db).await?;
    Ok(drawn.into_iter().map(|at| zone.day(Moment::seconds(at))).collect())
}

/// Every cow with what happened to her and when she was last milked, those that left too.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn cows(db: &mut SqliteConnection, zone: Zone, now: Moment) -> Result<Vec<CowsDays>, Failure> {
    let mut turns = turns(&mut *db, None, now).await?;
    let rows: Vec<(i64, String, String, Option<i64>)> = sqlx::query_as(
        // A cow that was not milked for half a year is not in milk, so her whole life need not be walked for her last milking.
        "SELECT c.number, c.name, c.since, lately.at FROM cows c LEFT JOIN
            (SELECT p.cow, max(m.started) AS at FROM milkings m CROSS JOIN pails p ON p.milking = m.number
             WHERE m.started BETWEEN ? AND ? GROUP BY p.cow) lately ON lately.cow = c.number ORDER BY c.number",
    )
    .bind(now.plus_hours(-180 * 24).in_seconds())
    .bind(now.in_seconds())
    .fetch_all(db)
    .await?;
    let read = |(number, name, since, milked): (i64, String, String, Option<i64>)| {
        let since = parse_day(&since).ok()?;
        let turns = turns.remove(&number).unwrap_or_default();
        Some(CowsDays { name, since, turns, milked: milked.map(|at| zone.day(Moment::seconds(at))) })
    };
    Ok(rows.into_iter().filter_map(read).collect())
}

async fn renewals(db: &mut SqliteConnection, today: Day) -> Result<Vec<Renewal>, Failure> {
    let rows = sqlx::query(
        "SELECT r.number, r.sort, r.what, r.done, r.until, c.name FROM renewals r LEFT JOIN cows c ON c.number = r.cow
         WHERE r.done <= ? ORDER BY r.done, r.number",
    )
    .bind(today.to_string())
    .fetch_all(db)
    .await?;
    let read = |row: &SqliteRow| {
        let (done, until): (String, Option<String>) = (row.try_get(3)?, row.try_get(4)?);
        let Ok(done) = parse_day(&done) else { return Ok(None) };
        let until = until.and_then(|day| parse_day(&day).ok());
        Ok(Some(Renewal { number: row.try_get(0)?, sort: row.try_get(1)?, what: row.try_get(2)?, done, until, cow: row.try_get(5)? }))
    };
    let read: Vec<Option<Renewal>> = rows.iter().map(read).collect::<Result<_, Failure>>()?;
    Ok(read.into_iter().flatten().collect())
}

/// The thermometers that were read in the last days, each by the name it was last written by, with its last check.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn thermometers(db: &mut SqliteConnection, now: Moment) -> Result<Vec<Thermometer>, Failure> {
    let names: Vec<String> = sqlx::query_scalar(
        "SELECT thermometer FROM (SELECT trim(thermometer) AS thermometer, max(at) FROM chill
         WHERE at BETWEEN ? AND ? AND trim(coalesce(thermometer, '')) <> '' GROUP BY lower(trim(thermometer))) ORDER BY lower(thermometer)",
    )
    .bind(now.plus_hours(-IN_USE_DAYS * 24).in_seconds())
    .bind(now.in_seconds())
    .fetch_all(&mut *db)
    .await?;
    let checks = ice_checks(db, now.plus_hours(-IN_USE_DAYS * 24)).await?;
    let last = |name: &str| {
        let own = checks.iter().filter(|check| check.at <= now && check.thermometer.trim().to_lowercase() == name.to_lowercase());
        own.max_by_key(|check| check.at).cloned()
    };
    Ok(names.into_iter().map(|name| Thermometer { last: last(&name), name }).collect())
}

/// The readings of some lots, by lot code and thermometer.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn read_of(db: &mut SqliteConnection, lots: &[i64]) -> Result<Vec<Read>, Failure> {
    let rows: Vec<(String, String, i64)> = sqlx::query_as(
        "SELECT l.code, coalesce(c.thermometer, ''), c.at FROM chill c JOIN lots l ON l.number = c.lot
         WHERE c.lot IN (SELECT value FROM json_each(?)) ORDER BY l.filled, l.number, c.at",
    )
    .bind(among(lots))
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|(lot, name, at)| (lot, name, Moment::seconds(at))).collect())
}

/// What the caps of a farm are held against.
#[derive(Clone, Debug)]
pub struct Amounts {
    /// Each rule set in force that has caps: its number, its source and the caps.
    pub caps: Vec<(i64, String, Caps)>,
    /// Jars handed out in the last thirteen months, by day; read only where a cap counts them.
    pub handed_out: Vec<(Day, Jars)>,
    /// Milk milked in that time, by day; read only where a cap counts it.
    pub milked: Vec<(Day, Weight)>,
    /// The first day of the ledger.
    pub since: Day,
}

/// Reads them.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn amounts(db: &mut SqliteConnection, zone: Zone, now: Moment) -> Result<Amounts, Failure> {
    let today = zone.day(now);
    let sets = in_force(&mut *db, today).await?;
    let caps: Vec<_> =
        sets.into_iter().filter(|(_, caps)| !caps.0.is_empty()).map(|(rules, caps)| (rules.number, rules.source, caps)).collect();
    let counts = |wanted: &[CapOf]| caps.iter().flat_map(|(_, _, caps)| &caps.0).any(|cap| wanted.contains(&cap.what));
    let (jars, milk) = (counts(&[CapOf::Quarts, CapOf::Gallons]), counts(&[CapOf::Pounds]));
    Ok(Amounts {
        handed_out: if jars { handed_out(&mut *db, zone, now).await? } else { Vec::new() },
        milked: if milk { milked(&mut *db, zone, now).await? } else { Vec::new() },
        since: since(&mut *db).await?.unwrap_or(today),
        caps,
    })
}

/// A year and a month back: an average looks at the last twelve months.
fn year(now: Moment) -> i64 {
    now.plus_hours(-400 * 24).in_seconds()
}

async fn handed_out(db: &mut SqliteConnection, zone: Zone, now: Moment) -> Result<Vec<(Day, Jars)>, Failure> {
    let asked = "SELECT at, gallons, half_gallons, quarts, pints FROM pickups WHERE at BETWEEN ? AND ?";
    let rows = sqlx::query(asked).bind(year(now)).bind(now.in_seconds()).fetch_all(db).await?;
    rows.iter().map(|row| Ok((zone.day(Moment::seconds(row.try_get(0)?)), jars(row, 1)?))).collect()
}

async fn milked(db: &mut SqliteConnection, zone: Zone, now: Moment) -> Result<Vec<(Day, Weight)>, Failure> {
    let asked = "SELECT m.started, sum(p.milk) FROM milkings m JOIN pails p ON p.milking = m.number WHERE m.started BETWEEN ? AND ? GROUP BY m.number";
    let rows: Vec<(i64, i64)> = sqlx::query_as(asked).bind(year(now)).bind(now.in_seconds()).fetch_all(db).await?;
    Ok(rows.into_iter().map(|(at, milk)| (zone.day(Moment::seconds(at)), Weight::milligrams(milk))).collect())
}
