//! Questions about packings: a day's crates, what everybody carries, and what stands packed and not yet taken.

use super::Failure;
use crate::trade::{
    fetched::{Crate, Fetched, STILL_THEIRS, count_off, list_of},
    packed::{List, Listed},
    parts::Hundredths,
    sharing::Portion,
    when::{Day, Moment, Zone, parse_day},
};
use chrono::Days;
use sqlx::{Row, SqliteConnection};
use std::collections::HashMap;

/// The number of a day's packing and the day as it was packed, if it was.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn of_day(db: &mut SqliteConnection, day: Day) -> Result<Option<(i64, List)>, Failure> {
    let row: Option<(i64, i64, String, String, i64)> = sqlx::query_as("SELECT number, at, who, method, ready FROM packings WHERE day = ?")
        .bind(day.to_string())
        .fetch_optional(&mut *db)
        .await?;
    let Some((number, at, who, method, ready)) = row else { return Ok(None) };
    let mut lots = crates(&mut *db, number).await?;
    let rows = sqlx::query(
        "SELECT p.person, people.label, people.name, p.promised, p.fair, p.carried, p.jars, coalesce(p.reason, '')
         FROM portions p JOIN people ON people.number = p.person WHERE p.packing = ? ORDER BY people.sort, people.label",
    )
    .bind(number)
    .fetch_all(db)
    .await?;
    let listed = |row: &sqlx::sqlite::SqliteRow| -> Result<Listed, Failure> {
        let figure = |column: usize| -> Result<Hundredths, Failure> { Ok(Hundredths::parse(row.try_get(column)?).unwrap_or_default()) };
        let person: i64 = row.try_get(0)?;
        Ok(Listed {
            label: row.try_get(1)?,
            name: row.try_get(2)?,
            portion: Portion { person, promised: figure(3)?, fair: figure(4)?, carried: figure(5)?, jars: row.try_get(6)? },
            reason: row.try_get(7)?,
            lots: lots.remove(&person).unwrap_or_default(),
        })
    };
    let rows = rows.iter().map(listed).collect::<Result<_, _>>()?;
    Ok(Some((number, List { day, at: Moment::seconds(at), who, method, ready, rows })))
}

/// The lots in every crate of a packing, by whose it is.
async fn crates(db: &mut SqliteConnection, packing: i64) -> Result<HashMap<i64, Vec<(String, i64)>>, Failure> {
    let rows: Vec<(i64, String, i64)> = sqlx::query_as(
        "SELECT c.person, l.code, c.half_gallons FROM crates c JOIN lots l ON l.number = c.lot WHERE c.packing = ? ORDER BY l.filled, l.number",
    )
    .bind(packing)
    .fetch_all(db)
    .await?;
    let mut lots: HashMap<i64, Vec<(String, i64)>> = HashMap::new();
    for (person, code, jars) in rows {
        lots.entry(person).or_default().push((code, jars));
    }
    Ok(lots)
}

/// What somebody carries, and when they last went short.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Carried {
    /// Hundredths of a jar still owed to them, or had ahead.
    pub jars: Hundredths,
    /// The last day on which they got less than they were promised.
    pub last_short: Option<Day>,
    /// The days on which they got nothing at all, with what their part was short of what was promised.
    pub empty: Vec<(Day, Hundredths)>,
}

/// For how many days back packings are added up again. What a household carried to its first packing within them stands as it was
/// written then, so that a day is packed as fast in the twentieth year as in the first.
const ADDED_UP_DAYS: u64 = 400;

/// What everybody carries to a day, by the record's number: over the packings before it, what was fair less what they got. On a
/// short day a jar more or fewer than was packed is somebody else's, so what was taken since counts; whoever did not come had
/// theirs standing there. A day on which they got nothing, and which their terms make up `in_money`, carries no jars besides.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn carried_to(
    db: &mut SqliteConnection,
    day: Day,
    zone: Zone,
    in_money: impl Fn(i64, Day) -> bool,
) -> Result<HashMap<i64, Carried>, Failure> {
    let first = day.checked_sub_days(Days::new(ADDED_UP_DAYS)).unwrap_or(day);
    let rows: Vec<(i64, String, String, i64, String, i64, String)> = sqlx::query_as(
        "SELECT p.person, p.promised, p.fair, p.jars, k.day, k.number, p.carried FROM packings k CROSS JOIN portions p ON p.packing = k.number
         WHERE k.day < ?1 AND k.day >= ?2 ORDER BY k.day",
    )
    .bind(day.to_string())
    .bind(first.to_string())
    .fetch_all(&mut *db)
    .await?;
    let mut carried: HashMap<i64, Carried> = HashMap::new();
    let mut taken: (Option<Day>, HashMap<i64, i64>) = (None, HashMap::new());
    for (person, promised, fair, packed, on, packing, before) in rows {
        let opening = || Carried { jars: Hundredths::parse(&before).unwrap_or_default(), ..Carried::default() };
        let own = carried.entry(person).or_insert_with(opening);
        let (promised, fair) = (Hundredths::parse(&promised).unwrap_or_default(), Hundredths::parse(&fair).unwrap_or_default());
        let on = parse_day(&on).ok().filter(|_| fair < promised);
        let Some(on) = on else {
            own.jars = own.jars + fair - Hundredths::jars(packed);
            continue;
        };
        if taken.0 != Some(on) {
            taken = (Some(on), taken_of(&mut *db, packing, on, zone).await?);
        }
        let got = taken.1.get(&person).copied().unwrap_or(packed);
        own.last_short = Some(on);
        if packed == 0 && in_money(person, on) {
            own.jars = own.jars - Hundredths::jars(got);
            continue;
        }
        own.jars = own.jars + fair - Hundredths::jars(got);
        if packed == 0 {
            own.empty.push((on, promised - fair));
        }
    }
    Ok(carried)
}

/// The half-gallons each household took of a day's packing: what it had before it was packed was taken into account then.
async fn taken_of(db: &mut SqliteConnection, packing: i64, day: Day, zone: Zone) -> Result<HashMap<i64, i64>, Failure> {
    let around = Days::new(STILL_THEIRS);
    let (first, last) = (day.checked_sub_days(around).unwrap_or(day), day.checked_add_days(around).unwrap_or(day));
    let rows: Vec<(i64, i64, String, i64)> = sqlx::query_as(
        "SELECT p.person, p.half_gallons, p.source, p.at FROM pickups p JOIN packings k ON k.number = ?1
         WHERE p.person IS NOT NULL AND p.at >= ?2 AND p.at < ?3
         AND (p.written, (SELECT min(seq) FROM journal WHERE kind = 'pickups' AND number = p.number))
             > (k.written, (SELECT min(seq) FROM journal WHERE kind = 'packings' AND number = k.number))",
    )
    .bind(packing)
    .bind(zone.start_of(first).in_seconds())
    .bind(zone.end_of(last).in_seconds())
    .fetch_all(db)
    .await?;
    let mut taken: HashMap<i64, i64> = HashMap::new();
    for (person, jars, source, at) in rows {
        if list_of(&source).unwrap_or_else(|| zone.day(Moment::seconds(at))) == day {
            *taken.entry(person).or_default() += jars;
        }
    }
    Ok(taken)
}

/// The half-gallons each household took on a day.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn taken_on(db: &mut SqliteConnection, day: Day, zone: Zone) -> Result<HashMap<i64, i64>, Failure> {
    let rows: Vec<(i64, i64)> =
        sqlx::query_as("SELECT person, sum(half_gallons) FROM pickups WHERE person IS NOT NULL AND at >= ? AND at < ? GROUP BY person")
            .bind(zone.start_of(day).in_seconds())
            .bind(zone.end_of(day).in_seconds())
            .fetch_all(db)
            .await?;
    Ok(rows.into_iter().collect())
}

/// Every crate of the days from one on, with what of it still stands.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn crates_from(db: &mut SqliteConnection, from: Day, zone: Zone) -> Result<Vec<Crate>, Failure> {
    // A hand-out may be out of a crate from before, and then it is not out of one of these.
    let first = from.checked_sub_days(Days::new(STILL_THEIRS)).unwrap_or(from);
    let rows = sqlx::query(
        "SELECT k.number, k.day, c.person, k.at, k.written, c.lot, l.code, c.half_gallons,
             coalesce((SELECT min(seq) FROM journal WHERE kind = 'packings' AND number = k.number), 0)
         FROM packings k CROSS JOIN crates c ON c.packing = k.number CROSS JOIN lots l ON l.number = c.lot
         WHERE k.day >= ? ORDER BY k.day, k.number, c.person, l.filled, l.number",
    )
    .bind(first.to_string())
    .fetch_all(&mut *db)
    .await?;
    let mut crates: Vec<Crate> = Vec::new();
    for row in rows {
        let (packing, day, person): (i64, String, i64) = (row.try_get(0)?, row.try_get(1)?, row.try_get(2)?);
        let Ok(day) = parse_day(&day) else { continue };
        if crates.last().is_none_or(|own| (own.packing, own.person) != (packing, person)) {
            let (at, written) = (Moment::seconds(row.try_get(3)?), (Moment::seconds(row.try_get(4)?), row.try_get(8)?));
            crates.push(Crate { packing, day, person, at, written, lots: Vec::new(), packed: 0, had: 0 });
        }
        if let Some(own) = crates.last_mut() {
            let jars: i64 = row.try_get(7)?;
            own.packed += jars;
            own.lots.push((row.try_get(5)?, row.try_get(6)?, jars));
        }
    }
    let Some(since) = crates.iter().map(|own| own.written.0).min() else { return Ok(crates) };
    count_off(&mut crates, &fetched_since(db, since, zone).await?);
    crates.retain(|own| own.day >= from);
    Ok(crates)
}

/// Half-gallons that households took and that were written down since a moment, in the order of writing.
async fn fetched_since(db: &mut SqliteConnection, since: Moment, zone: Zone) -> Result<Vec<Fetched>, Failure> {
    let rows: Vec<(i64, i64, i64, i64, i64, i64, String)> = sqlx::query_as(
        "SELECT p.person, p.at, p.written, coalesce((SELECT min(seq) FROM journal WHERE kind = 'pickups' AND number = p.number), 0) AS seq,
             p.lot, p.half_gallons, p.source
         FROM pickups p WHERE p.person IS NOT NULL AND p.half_gallons > 0 AND p.written >= ? ORDER BY p.written, seq",
    )
    .bind(since.in_seconds())
    .fetch_all(db)
    .await?;
    let fetched = |(person, at, written, seq, lot, jars, source): (i64, i64, i64, i64, i64, i64, String)| {
        let at = Moment::seconds(at);
        Fetched { person, on: zone.day(at), at, written: (Moment::seconds(written), seq), lot, jars, source }
    };
    Ok(rows.into_iter().map(fetched).collect())
}

/// The days with a packing, newest first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn days(db: &mut SqliteConnection, most: i64) -> Result<Vec<Day>, Failure> {
    let days: Vec<String> = sqlx::query_scalar("SELECT day FROM packings ORDER BY day DESC LIMIT ?").bind(most).fetch_all(db).await?;
    Ok(days.iter().filter_map(|day| parse_day(day).ok()).collect())
}

/// The first day that was ever packed.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn first_day(db: &mut SqliteConnection) -> Result<Option<Day>, Failure> {
    let day: Option<String> = sqlx::query_scalar("SELECT min(day) FROM packings").fetch_one(db).await?;
    Ok(day.and_then(|day| parse_day(&day).ok()))
}

/// The method of the newest packing.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn last_method(db: &mut SqliteConnection) -> Result<Option<String>, Failure> {
    Ok(sqlx::query_scalar("SELECT method FROM packings ORDER BY day DESC LIMIT 1").fetch_optional(db).await?)
}

/// Who has theirs of a day's packing already, if anybody has: it stands from then on.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn has_theirs(db: &mut SqliteConnection, day: Day, zone: Zone) -> Result<Option<String>, Failure> {
    let Some((number, list)) = of_day(&mut *db, day).await? else { return Ok(None) };
    let crates = crates_from(db, day, zone).await?;
    let has = |person: i64| crates.iter().any(|own| own.packing == number && own.person == person && own.had > 0);
    Ok(list.rows.into_iter().find(|row| has(row.portion.person)).map(|row| row.label))
}

/// The day an act packed, if it packed one.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn day_of_act(db: &mut SqliteConnection, act: i64) -> Result<Option<Day>, Failure> {
    let asked = "SELECT packings.day FROM journal JOIN packings ON packings.number = journal.number
        WHERE journal.act = ? AND journal.kind = 'packings'";
    let day: Option<String> = sqlx::query_scalar(asked).bind(act).fetch_optional(db).await?;
    Ok(day.and_then(|day| parse_day(&day).ok()))
}

/// The records of a packing by kind, in the order in which they may be struck.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn records_of(db: &mut SqliteConnection, packing: i64) -> Result<Vec<(&'static str, i64)>, Failure> {
    let crates: Vec<i64> =
        sqlx::query_scalar("SELECT number FROM crates WHERE packing = ? ORDER BY number").bind(packing).fetch_all(&mut *db).await?;
    let portions: Vec<i64> =
        sqlx::query_scalar("SELECT number FROM portions WHERE packing = ? ORDER BY number").bind(packing).fetch_all(db).await?;
    let crates = crates.into_iter().map(|number| ("crates", number));
    Ok(crates.chain(portions.into_iter().map(|number| ("portions", number))).chain([("packings", packing)]).collect())
}
