//! The milk as thin lists for the walk: all of it, or what can be reached from some lots.

use super::super::{Failure, among, listed};
use crate::trade::{
    reached::{Places, Step, Walk},
    trace::{CowId, HandOut, Lists, Lot, LotId, MilkingId, Pail, PersonId, PickupId, VesselId},
    when::Moment,
};
use serde::de::DeserializeOwned;
use sqlx::SqliteConnection;
use std::collections::BTreeSet;

/// Rows of numbers and words that SQLite packs into one value. The lots, where they are asked for, stand in `?1`.
async fn packed<T: DeserializeOwned>(db: &mut SqliteConnection, asked: &'static str, lots: Option<&str>) -> Result<Vec<T>, Failure> {
    let query = sqlx::query_scalar(asked);
    let all: String = if let Some(lots) = lots { query.bind(lots.to_owned()) } else { query }.fetch_one(db).await?;
    listed(&all)
}

/// The questions behind the lists, each of which gives one packed list.
struct Questions {
    pails: &'static str,
    sources: &'static str,
    lots: &'static str,
    breaks: &'static str,
    outs: &'static str,
    milkings: &'static str,
}

const VESSELS: &str = "SELECT json_group_array(json_array(number, name)) FROM vessels";

const ALL: Questions = Questions {
    pails: "SELECT json_group_array(json_array(p.milking, p.cow, p.vessel, m.started)) FROM pails p JOIN milkings m ON m.number = p.milking WHERE p.went = 'can'",
    sources: "SELECT json_group_array(json_array(milking, parent, lot)) FROM sources",
    lots: "SELECT json_group_array(json_array(number, code, vessel, filled)) FROM lots",
    breaks: "SELECT json_group_array(json_array(vessel, at)) FROM breaks WHERE washed = 'yes' AND sanitised = 'yes'",
    outs: "SELECT json_group_array(json_array(lot, person, number)) FROM pickups",
    milkings: "SELECT json_group_array(json_array(number, session)) FROM milkings",
};

/// The same for the lots in `?1` alone: all that flowed into them, all that they went through, and who took them. Of the clean
/// breaks those from the last before the first use of a vessel to the first after its last: they part the uses exactly as all do.
const SOME: Questions = Questions {
    pails: "SELECT json_group_array(json_array(milking, cow, vessel, started)) FROM (
                SELECT DISTINCT p.number, p.milking, p.cow, p.vessel, m.started FROM json_each(?1) j CROSS JOIN sources s ON s.lot = j.value
                CROSS JOIN milkings m ON m.number = s.milking CROSS JOIN pails p ON p.milking = m.number AND p.went = 'can')",
    sources: "SELECT json_group_array(json_array(s.milking, s.parent, s.lot)) FROM json_each(?1) j CROSS JOIN sources s ON s.lot = j.value",
    lots: "SELECT json_group_array(json_array(l.number, l.code, l.vessel, l.filled)) FROM json_each(?1) j CROSS JOIN lots l ON l.number = j.value",
    breaks: "WITH used (vessel, at) AS (
                SELECT l.vessel, l.filled FROM json_each(?1) j CROSS JOIN lots l ON l.number = j.value WHERE l.vessel IS NOT NULL
                UNION SELECT p.vessel, m.started FROM json_each(?1) j CROSS JOIN sources s ON s.lot = j.value CROSS JOIN milkings m ON m.number = s.milking
                CROSS JOIN pails p ON p.milking = m.number WHERE p.went = 'can' AND p.vessel IS NOT NULL),
             span AS (SELECT vessel, min(at) AS first, max(at) AS last FROM used GROUP BY vessel),
             wide AS (SELECT vessel,
                coalesce((SELECT b.at FROM breaks b WHERE b.vessel = span.vessel AND b.washed = 'yes' AND b.sanitised = 'yes' AND b.at < first ORDER BY b.at DESC LIMIT 1), first) AS first,
                coalesce((SELECT b.at FROM breaks b WHERE b.vessel = span.vessel AND b.washed = 'yes' AND b.sanitised = 'yes' AND b.at > last ORDER BY b.at LIMIT 1), last) AS last
                FROM span)
             SELECT json_group_array(json_array(b.vessel, b.at)) FROM wide CROSS JOIN breaks b ON b.vessel = wide.vessel AND b.at BETWEEN wide.first AND wide.last
             WHERE b.washed = 'yes' AND b.sanitised = 'yes'",
    outs: "SELECT json_group_array(json_array(p.lot, p.person, p.number)) FROM json_each(?1) j CROSS JOIN pickups p ON p.lot = j.value",
    milkings: "SELECT json_group_array(json_array(number, session)) FROM (
                SELECT DISTINCT m.number, m.session FROM json_each(?1) j CROSS JOIN sources s ON s.lot = j.value CROSS JOIN milkings m ON m.number = s.milking)",
};

/// The whole ledger as the walk needs it: numbers, moments and names, and nothing else.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn lists(db: &mut SqliteConnection) -> Result<Lists, Failure> {
    read(db, &ALL, None).await
}

/// As much of the ledger as a spread from these lots, or from some of them, can reach. The graph of it gives the same spread as
/// the graph of everything, and the same way back from those lots; of lots out of reach it says nothing.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn reached(db: &mut SqliteConnection, start: &BTreeSet<LotId>) -> Result<Lists, Failure> {
    let mut walk = Walk::from(start.iter().copied());
    while let Some(step) = walk.next_step() {
        let found = beside(&mut *db, &step).await?;
        walk.found(found);
    }
    let numbers: Vec<i64> = walk.lots().iter().map(|lot| lot.0).collect();
    read(db, &SOME, Some(&among(&numbers))).await
}

/// What went straight into these lots: `?1` are the lots.
const BACK: &str = "SELECT json_group_array(json_array(s.parent, s.milking)) FROM json_each(?1) j CROSS JOIN sources s ON s.lot = j.value";

/// What came straight of these lots and milkings: `?1` are the lots and `?2` the milkings.
const FORWARD: &str = "SELECT json_group_array(json_array(lot, NULL)) FROM (
    SELECT s.lot FROM json_each(?1) j CROSS JOIN sources s ON s.parent = j.value
    UNION ALL SELECT s.lot FROM json_each(?2) j CROSS JOIN sources s ON s.milking = j.value)";

/// The lots that used a vessel of these lots, `?1`, between the clean breaks around that use: filled from it, or of a milking that
/// was poured into it. A break in the same minute as a use parts nothing, so both ends belong to it.
const POTS: &str = "WITH used (vessel, at) AS (
        SELECT l.vessel, l.filled FROM json_each(?1) j CROSS JOIN lots l ON l.number = j.value WHERE l.vessel IS NOT NULL
        UNION SELECT p.vessel, m.started FROM json_each(?1) j CROSS JOIN sources s ON s.lot = j.value CROSS JOIN milkings m ON m.number = s.milking
        CROSS JOIN pails p ON p.milking = m.number WHERE p.went = 'can' AND p.vessel IS NOT NULL),
     span AS MATERIALIZED (SELECT DISTINCT vessel,
        coalesce((SELECT b.at FROM breaks b WHERE b.vessel = used.vessel AND b.washed = 'yes' AND b.sanitised = 'yes' AND b.at < used.at ORDER BY b.at DESC LIMIT 1), -9223372036854775807) AS first,
        coalesce((SELECT b.at FROM breaks b WHERE b.vessel = used.vessel AND b.washed = 'yes' AND b.sanitised = 'yes' AND b.at > used.at ORDER BY b.at LIMIT 1), 9223372036854775807) AS last
        FROM used)
     SELECT json_group_array(json_array(lot, NULL)) FROM (
        SELECT l.number AS lot FROM span CROSS JOIN lots l ON l.vessel = span.vessel AND l.filled BETWEEN span.first AND span.last
        UNION SELECT s.lot FROM span CROSS JOIN milkings m ON m.started BETWEEN span.first AND span.last
        CROSS JOIN pails p ON p.milking = m.number AND p.went = 'can' AND p.vessel = span.vessel CROSS JOIN sources s ON s.milking = m.number)";

/// What stands next to the lots and milkings of a step.
async fn beside(db: &mut SqliteConnection, step: &Step) -> Result<Places, Failure> {
    let lots = among(&step.lots.iter().map(|lot| lot.0).collect::<Vec<_>>());
    let milkings = among(&step.milkings.iter().map(|milking| milking.0).collect::<Vec<_>>());
    let mut found = Places::default();
    let asked = [Some(if step.is_back { BACK } else { FORWARD }), step.by_vessels.then_some(POTS)];
    for asked in asked.into_iter().flatten().filter(|asked| *asked == FORWARD || !step.lots.is_empty()) {
        let query = sqlx::query_scalar(asked).bind(&lots);
        let all: String = if asked == FORWARD { query.bind(&milkings) } else { query }.fetch_one(&mut *db).await?;
        let rows: Vec<(Option<i64>, Option<i64>)> = listed(&all)?;
        found.lots.extend(rows.iter().filter_map(|(lot, _)| lot.map(LotId)));
        found.milkings.extend(rows.iter().filter_map(|(_, milking)| milking.map(MilkingId)));
    }
    Ok(found)
}

async fn read(db: &mut SqliteConnection, asked: &Questions, of: Option<&str>) -> Result<Lists, Failure> {
    let pails: Vec<(i64, i64, Option<i64>, i64)> = packed(&mut *db, asked.pails, of).await?;
    let sources: Vec<(Option<i64>, Option<i64>, i64)> = packed(&mut *db, asked.sources, of).await?;
    let filled: Vec<(i64, String, Option<i64>, i64)> = packed(&mut *db, asked.lots, of).await?;
    let breaks: Vec<(i64, i64)> = packed(&mut *db, asked.breaks, of).await?;
    let outs: Vec<(i64, Option<i64>, i64)> = packed(&mut *db, asked.outs, of).await?;
    let milkings: Vec<(i64, String)> = packed(&mut *db, asked.milkings, of).await?;
    let vessels: Vec<(i64, String)> = packed(&mut *db, VESSELS, None).await?;
    Ok(Lists {
        pails: pails
            .into_iter()
            .map(|(milking, cow, vessel, at)| Pail {
                milking: MilkingId(milking),
                cow: CowId(cow),
                vessel: vessel.map(VesselId),
                at: Moment::seconds(at),
            })
            .collect(),
        milked_into: sources.iter().filter_map(|(milking, _, lot)| milking.map(|milking| (MilkingId(milking), LotId(*lot)))).collect(),
        made_into: sources.iter().filter_map(|(_, parent, lot)| parent.map(|parent| (LotId(parent), LotId(*lot)))).collect(),
        lots: filled
            .into_iter()
            .map(|(number, code, vessel, at)| Lot { id: LotId(number), code, vessel: vessel.map(VesselId), filled: Moment::seconds(at) })
            .collect(),
        clean_breaks: breaks.into_iter().map(|(vessel, at)| (VesselId(vessel), Moment::seconds(at))).collect(),
        hand_outs: outs
            .into_iter()
            .map(|(lot, person, pickup)| HandOut { lot: LotId(lot), person: person.map(PersonId), pickup: PickupId(pickup) })
            .collect(),
        milking_names: milkings.into_iter().map(|(number, session)| (MilkingId(number), session)).collect(),
        vessel_names: vessels.into_iter().map(|(number, name)| (VesselId(number), name)).collect(),
    })
}
