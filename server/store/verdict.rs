//! Every fact a verdict rests on, for as many lots as are asked about.

mod cows;
mod lab;
mod warm;

use super::{Failure, among, farm, ice_checks};
use crate::trade::{
    chill::{MilkingTimes, Reading},
    measure::{Scale, Temperature},
    thermometers::guard,
    verdict::{CowsPart, Decision, Facts, Hold, Milking},
    warm::WarmFridge,
    when::{Moment, Zone},
};
use sqlx::{Row, SqliteConnection};
use std::{collections::HashMap, sync::Arc};

/// Every fact the verdicts on some lots rest on, in the order asked, with those of the lots they were made from. What was
/// written of thermometers after `now` does not count; everything else carries its own time, and the judging leaves out what
/// was not known.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn facts(db: &mut SqliteConnection, numbers: &[i64], zone: Zone, now: Moment) -> Result<Vec<Facts>, Failure> {
    let parents: Vec<(i64, i64, String, bool)> = sqlx::query_as(
        // Only a parent filled before its child, so that no ring of sources, however it came about, is walked for ever.
        "SELECT s.lot, s.parent, p.code, (p.filled, p.number) < (l.filled, l.number)
         FROM sources s JOIN lots l ON l.number = s.lot JOIN lots p ON p.number = s.parent WHERE s.lot IN (SELECT value FROM json_each(?))",
    )
    .bind(among(numbers))
    .fetch_all(&mut *db)
    .await?;
    let mut known: HashMap<i64, Facts> = HashMap::new();
    let mut above: Vec<i64> = parents.iter().filter(|(.., before)| *before).map(|(_, parent, ..)| *parent).collect();
    above.sort_unstable();
    above.dedup();
    if !above.is_empty() {
        known.extend(above.iter().copied().zip(Box::pin(facts(&mut *db, &above, zone, now)).await?));
    }
    let rules = farm::rule_book(&mut *db).await?;
    let house = farm::current(&mut *db).await?.map(|own| own.house).unwrap_or_default();
    let mut parts = Parts::of(&mut *db, numbers, now).await?;
    let mut all = Vec::with_capacity(numbers.len());
    for number in numbers {
        let Some((code, filled)) = parts.lots.remove(number) else { continue };
        let milkings = parts.milkings.remove(number).unwrap_or_default();
        let own = || parents.iter().filter(|(child, ..)| child == number);
        let mut unread = parts.unread(*number);
        unread.extend(
            own()
                .filter(|(.., before)| !before)
                .map(|(_, _, code, _)| format!("It is written as made from {code}, which was filled after it.")),
        );
        all.push(Facts {
            readings: parts.readings.remove(number).unwrap_or_default(),
            holds: parts.holds.remove(number).unwrap_or_default(),
            parents: own().filter_map(|(_, parent, ..)| known.get(parent).cloned()).collect(),
            tied: parts.tied.remove(number).unwrap_or_default(),
            shared: parts.shared.remove(number).unwrap_or_default(),
            rules: rules.on(zone.day(filled)),
            lab: parts.lab.known(*number, &milkings),
            decisions: parts.decisions.remove(number).unwrap_or_default(),
            warmed: parts.warmed.remove(number).unwrap_or_default(),
            house,
            unread,
            milkings,
            code,
            filled,
            zone,
        });
    }
    Ok(all)
}

/// What was read for many lots at once, by lot.
struct Parts {
    lots: HashMap<i64, (String, Moment)>,
    milkings: ByLot<Arc<Milking>>,
    tied: ByLot<Milking>,
    shared: ByLot<String>,
    readings: HashMap<i64, Vec<Reading>>,
    unread: HashMap<i64, Vec<String>>,
    holds: HashMap<i64, Vec<Hold>>,
    decisions: HashMap<i64, Vec<Decision>>,
    warmed: ByLot<WarmFridge>,
    lab: lab::Parts,
}

impl Parts {
    async fn of(db: &mut SqliteConnection, numbers: &[i64], now: Moment) -> Result<Parts, Failure> {
        let (readings, mut unread) = readings(&mut *db, numbers, now).await?;
        let (warmed, more) = warm::fridges(&mut *db, numbers, now).await?;
        more.into_iter().for_each(|(lot, says)| unread.entry(lot).or_default().extend(says));
        let tied = tied(&mut *db, numbers).await?;
        let (milkings, beside) = milkings(&mut *db, numbers, &tied).await?;
        let lab = lab::parts(&mut *db, numbers, &milkings, &tied, now).await?;
        Ok(Parts {
            lots: lots(&mut *db, numbers).await?,
            milkings,
            tied: beside,
            shared: shared(&tied),
            readings,
            unread,
            holds: holds(&mut *db, numbers).await?,
            decisions: decisions(&mut *db, numbers).await?,
            warmed,
            lab,
        })
    }

    /// What is written down about a lot and nobody can read any more.
    fn unread(&mut self, lot: i64) -> Vec<String> {
        let mut unread = self.unread.remove(&lot).unwrap_or_default();
        unread.extend(self.lab.unread(lot));
        unread
    }
}

async fn lots(db: &mut SqliteConnection, numbers: &[i64]) -> Result<HashMap<i64, (String, Moment)>, Failure> {
    let rows: Vec<(i64, String, i64)> =
        sqlx::query_as("SELECT number, code, filled FROM lots WHERE number IN (SELECT value FROM json_each(?))")
            .bind(among(numbers))
            .fetch_all(db)
            .await?;
    Ok(rows.into_iter().map(|(number, code, filled)| (number, (code, Moment::seconds(filled)))).collect())
}

async fn decisions(db: &mut SqliteConnection, numbers: &[i64]) -> Result<HashMap<i64, Vec<Decision>>, Failure> {
    let rows: Vec<(i64, i64, String, String, String, String)> = sqlx::query_as(
        "SELECT lot, at, who, over, facts, reason FROM decisions WHERE lot IN (SELECT value FROM json_each(?)) ORDER BY at, number",
    )
    .bind(among(numbers))
    .fetch_all(db)
    .await?;
    let mut by_lot: HashMap<i64, Vec<Decision>> = HashMap::new();
    for (lot, at, by, over, facts, reason) in rows {
        let over = over.lines().map(str::to_owned).collect();
        by_lot.entry(lot).or_default().push(Decision { at: Moment::seconds(at), by, over, facts, reason });
    }
    Ok(by_lot)
}

/// The milkings of some lots, and those that only went through the same unwashed vessel, each with its cows.
async fn milkings(db: &mut SqliteConnection, lots: &[i64], tied: &[Tie]) -> Result<(ByLot<Arc<Milking>>, ByLot<Milking>), Failure> {
    let own: Vec<(i64, i64)> = sqlx::query_as(
        "SELECT s.lot, m.number FROM sources s JOIN milkings m ON m.number = s.milking WHERE s.lot IN (SELECT value FROM json_each(?)) ORDER BY m.started",
    )
    .bind(among(lots))
    .fetch_all(&mut *db)
    .await?;
    let mut numbers: Vec<i64> =
        own.iter().copied().chain(tied.iter().map(|(lot, milking, ..)| (*lot, *milking))).map(|(_, milking)| milking).collect();
    numbers.sort_unstable();
    numbers.dedup();
    let asked = "SELECT number, session, started, ended, well FROM milkings WHERE number IN (SELECT value FROM json_each(?))";
    let rows = sqlx::query(asked).bind(among(&numbers)).fetch_all(&mut *db).await?;
    let mut cows = cows::parts(db, &numbers).await?;
    let mut all: HashMap<i64, Arc<Milking>> = HashMap::new();
    for row in rows {
        let (number, well): (i64, Option<String>) = (row.try_get(0)?, row.try_get(4)?);
        let milking = Milking {
            session: row.try_get(1)?,
            times: MilkingTimes { start: Moment::seconds(row.try_get(2)?), end: row.try_get::<Option<i64>, _>(3)?.map(Moment::seconds) },
            well: well.map(|well| well == "yes"),
            cows: cows.remove(&number).unwrap_or_default(),
        };
        all.insert(number, Arc::new(milking));
    }
    let (mut by_lot, mut beside): (ByLot<Arc<Milking>>, ByLot<Milking>) = (HashMap::new(), HashMap::new());
    for (lot, number) in own {
        by_lot.entry(lot).or_default().extend(all.get(&number).cloned());
    }
    // Of a milking that went through the same vessel only the cows count whose milk was poured into it.
    let mut pairs: Vec<(i64, i64)> = tied.iter().map(|(lot, milking, ..)| (*lot, *milking)).collect();
    pairs.dedup();
    for (lot, number) in pairs {
        let poured = |part: &CowsPart| tied.iter().any(|(own, milking, cow, _)| (*own, *milking) == (lot, number) && *cow == part.cow);
        let only = |milking: &Arc<Milking>| Milking {
            cows: milking.cows.iter().filter(|part| poured(part)).cloned().collect(),
            ..Milking::clone(milking)
        };
        beside.entry(lot).or_default().extend(all.get(&number).map(only));
    }
    Ok((by_lot, beside))
}

/// A milking that went through a vessel of a lot: the lot, the milking, a cow whose milk was poured into it, and the vessel.
type Tie = (i64, i64, String, String);

/// The vessels through which other milk went, each once.
fn shared(tied: &[Tie]) -> ByLot<String> {
    let mut all: ByLot<String> = HashMap::new();
    for (lot, .., vessel) in tied {
        let own = all.entry(*lot).or_default();
        if !own.contains(vessel) {
            own.push(vessel.clone());
        }
    }
    all
}

/// Which other milkings went into a vessel of a lot since its last clean break before the lot's own milk did, with the cows whose
/// milk was poured into it, and the vessel. Where nobody wrote a clean break, ten days are looked back: no milk lasts longer in a can.
async fn tied(db: &mut SqliteConnection, numbers: &[i64]) -> Result<Vec<Tie>, Failure> {
    Ok(sqlx::query_as(
        "WITH went (lot, vessel, began, filled) AS (
            SELECT l.number, p.vessel, m.started, l.filled FROM lots l JOIN sources s ON s.lot = l.number JOIN milkings m ON m.number = s.milking
                CROSS JOIN pails p ON p.milking = m.number AND p.went = 'can' AND p.vessel IS NOT NULL
                WHERE l.number IN (SELECT value FROM json_each(?1))
            UNION ALL SELECT number, vessel, filled, filled FROM lots WHERE vessel IS NOT NULL AND number IN (SELECT value FROM json_each(?1))),
         own AS (SELECT lot, vessel, min(began) AS began, filled FROM went GROUP BY lot, vessel),
         since AS (SELECT own.*, max(began - 10 * 86400, coalesce((SELECT max(b.at) FROM breaks b
                WHERE b.vessel = own.vessel AND b.washed = 'yes' AND b.sanitised = 'yes' AND b.at <= own.began), 0)) AS clean FROM own)
         SELECT DISTINCT since.lot, m.number, c.name, v.name FROM since JOIN vessels v ON v.number = since.vessel CROSS JOIN milkings m ON m.started > since.clean AND m.started < since.filled
            CROSS JOIN pails p ON p.milking = m.number AND p.went = 'can' AND p.vessel = since.vessel CROSS JOIN cows c ON c.number = p.cow
         WHERE NOT EXISTS (SELECT 1 FROM sources s WHERE s.lot = since.lot AND s.milking = m.number)
            AND NOT EXISTS (SELECT 1 FROM breaks b WHERE b.vessel = since.vessel AND b.washed = 'yes' AND b.sanitised = 'yes'
                AND b.at > since.began AND b.at <= m.started)
         ORDER BY since.lot, m.started",
    )
    .bind(among(numbers))
    .fetch_all(db)
    .await?)
}

/// Something of many lots, by the number of the lot.
type ByLot<T> = HashMap<i64, Vec<T>>;

/// The readings of lots, each guarded by what the checks of its thermometer up to `now` say, and what to call those nobody
/// can read any more.
async fn readings(db: &mut SqliteConnection, lots: &[i64], now: Moment) -> Result<(ByLot<Reading>, ByLot<String>), Failure> {
    let rows = sqlx::query(
        "SELECT lot, at, temperature_as, coalesce(thermometer, '') FROM chill WHERE lot IN (SELECT value FROM json_each(?)) ORDER BY at",
    )
    .bind(among(lots))
    .fetch_all(&mut *db)
    .await?;
    let first: Option<i64> = rows.iter().map(|row| row.try_get(1)).collect::<Result<Vec<_>, _>>()?.into_iter().min();
    let mut checks = match first {
        Some(first) => ice_checks(db, Moment::seconds(first)).await?,
        None => Vec::new(),
    };
    checks.retain(|check| check.at <= now);
    let (mut by_lot, mut unread): (ByLot<Reading>, ByLot<String>) = (HashMap::new(), HashMap::new());
    for row in rows {
        let (at, typed, thermometer): (i64, String, String) = (row.try_get(1)?, row.try_get(2)?, row.try_get(3)?);
        let at = Moment::seconds(at);
        match Temperature::parse(&typed, Scale::Fahrenheit) {
            Ok(temperature) => {
                let guard = guard(&checks, &thermometer, at).by;
                by_lot.entry(row.try_get(0)?).or_default().push(Reading::of(at, temperature).guarded(guard));
            }
            Err(_) => unread.entry(row.try_get(0)?).or_default().push(format!("The chill reading “{typed}” cannot be read.")),
        }
    }
    Ok((by_lot, unread))
}

/// The holds that touch these lots, lifted or not: on the lot, on everything, on its vessel while the lot was in it, or on a
/// cow whose milk is in it. What a hand-out freezes is what was true then, so a hold lifted on Friday still counts for the jar
/// that left on Thursday.
async fn holds(db: &mut SqliteConnection, lots: &[i64]) -> Result<HashMap<i64, Vec<Hold>>, Failure> {
    let rows = sqlx::query(
        "SELECT t.lot, CASE h.scope WHEN 'lot' THEN 'This lot' WHEN 'everything' THEN 'All milk' WHEN 'cow' THEN c.name ELSE v.name END, coalesce(h.reason, ''), h.at,
                (SELECT min(x.at) FROM lifts x WHERE x.hold = h.number)
         FROM touched t JOIN holds h ON h.number = t.hold LEFT JOIN cows c ON c.number = h.cow LEFT JOIN vessels v ON v.number = h.vessel
         JOIN lots l ON l.number = t.lot
         WHERE t.lot IN (SELECT value FROM json_each(?))
           AND coalesce((SELECT min(x.at) FROM lifts x WHERE x.hold = h.number), l.filled) >= l.filled
         ORDER BY h.at",
    )
    .bind(among(lots))
    .fetch_all(db)
    .await?;
    let mut by_lot: HashMap<i64, Vec<Hold>> = HashMap::new();
    for row in rows {
        by_lot.entry(row.try_get(0)?).or_default().push(Hold {
            what: row.try_get(1)?,
            reason: row.try_get(2)?,
            at: Moment::seconds(row.try_get(3)?),
            lifted: row.try_get::<Option<i64>, _>(4)?.map(Moment::seconds),
        });
    }
    Ok(by_lot)
}
