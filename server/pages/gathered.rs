//! What a call-back (recall) is made of, gathered from the files of the store: the page that traces and the page that calls
//! back ask for the same, and their numbers must not differ. It owns no door.

use crate::{
    store::{Failure, farm, lots, trace, verdict},
    trade::{
        behind::{Behind, clocks},
        callback::{self as calling, Asked, Callback},
        tie_picture::Links,
        trace::{Graph, LotId, Node, Spread, Tie, Ties},
        verdict::{Judging, Verdict},
        when::{Day, Moment, Zone},
        whereabouts::{Caught, last_on_hand},
    },
};
use sqlx::SqliteConnection;
use std::collections::BTreeMap;

/// Everything about one lot and the lots trouble spreads to from it.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn of_lot(
    db: &mut SqliteConnection,
    number: i64,
    code: String,
    farm: &farm::Farm,
    now: Moment,
    who: &str,
) -> Result<Callback, Failure> {
    let start = Ties::from([(LotId(number), Tie::Certain("is the lot asked about".to_owned()))]);
    callback(db, &start, Asked::Lot(code), farm, now, who).await
}

/// Everything about the lots trouble spreads to from these: how each is tied, who has it, where its jars are and what is
/// behind it. `who` asked, and when.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn callback(
    db: &mut SqliteConnection,
    start: &Ties,
    asked: Asked,
    farm: &farm::Farm,
    now: Moment,
    who: &str,
) -> Result<Callback, Failure> {
    let lists = trace::reached(db, &start.keys().copied().collect()).await?;
    let graph = Graph::of(&lists);
    let spread = calling::spread(&graph, start);
    let zone = farm.ways.zone;
    let numbers: Vec<i64> = spread.lots.keys().map(|lot| lot.0).collect();
    let facts = verdict::facts(db, &numbers, zone, now).await?;
    let mut judging = Judging::at(now);
    let verdicts: Vec<Verdict> = facts.iter().map(|facts| judging.lot(facts)).collect();
    let handed = trace::handed_out(db, &numbers).await?;
    let asked_about = start.iter().filter(|(_, tie)| tie.is_certain());
    let sure: Vec<Node> = asked_about.flat_map(|(lot, _)| graph.back(Node::Lot(*lot))).collect();
    let behind = behind(
        db,
        &spread,
        &verdicts,
        &numbers,
        |number| sure.iter().any(|node| matches!(node, Node::Milking(own) if own.0 == number)),
        zone,
    )
    .await?;
    let links = Links::of(&lists, &graph);
    let lots = caught(db, spread, &numbers, &verdicts).await?;
    let farm = calling::Farm { name: farm.name.clone(), phone: farm.phone.clone(), vet: farm.vet.clone(), health: farm.health.clone() };
    Ok(Callback { asked, farm, lots, handed, behind, links, now, who: who.to_owned(), zone })
}

/// Everything about just these lots, each tied as it says: what lies beyond them is looked for elsewhere.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn of_lots(
    db: &mut SqliteConnection,
    ties: &Ties,
    codes: Vec<String>,
    farm: &farm::Farm,
    now: Moment,
    who: &str,
) -> Result<Callback, Failure> {
    let mut found = callback(db, ties, Asked::Lots(codes), farm, now, who).await?;
    found.lots.retain(|lot| ties.contains_key(&LotId(lot.number)));
    found.handed.retain(|out| ties.contains_key(&LotId(out.lot)));
    Ok(found)
}

/// Every lot that trouble spreads to from these.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn spread(db: &mut SqliteConnection, start: &Ties) -> Result<Ties, Failure> {
    if start.is_empty() {
        return Ok(Ties::new());
    }
    let lists = trace::reached(db, &start.keys().copied().collect()).await?;
    Ok(calling::spread(&Graph::of(&lists), start).lots)
}

/// How far back a jar of a washed-off code may have been filled: the fridge never holds milk longer.
const FRIDGE_DAYS: i64 = 40;

/// The lots that may have stood in the fridge between two moments, each with its first day and its last.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn standing(
    db: &mut SqliteConnection,
    zone: Zone,
    from: Moment,
    until: Moment,
) -> Result<Vec<(LotId, Day, Option<Day>)>, Failure> {
    let filled = trace::filled(db, from.plus_hours(-FRIDGE_DAYS * 24), until).await?;
    let numbers: Vec<i64> = filled.iter().map(|(number, _)| *number).collect();
    let (moved, counts) = (lots::moved(db, &numbers).await?, lots::counts(db, &numbers).await?);
    let stood = filled.into_iter().map(|(number, at)| {
        let (moves, counted) = (moved.get(&number).map_or(&[][..], Vec::as_slice), counts.get(&number).map_or(&[][..], Vec::as_slice));
        (LotId(number), zone.day(at), last_on_hand(moves, counted, zone))
    });
    Ok(stood.collect())
}

/// The lots with all that is known of them, the certain ones first, each kind newest first.
async fn caught(db: &mut SqliteConnection, spread: Spread, numbers: &[i64], verdicts: &[Verdict]) -> Result<Vec<Caught>, Failure> {
    let words: BTreeMap<i64, &Verdict> = numbers.iter().copied().zip(verdicts).collect();
    let mut moved = lots::moved(db, numbers).await?;
    let mut counts = lots::counts(db, numbers).await?;
    let held = trace::held(db, numbers).await?;
    let mut ties = spread.lots;
    let mut caught = Vec::new();
    for lot in lots::list(db, numbers).await? {
        let (Some(tie), Some(verdict)) = (ties.remove(&LotId(lot.number)), words.get(&lot.number)) else { continue };
        caught.push(Caught {
            number: lot.number,
            code: lot.code,
            filled: lot.filled,
            vessel: lot.vessel,
            made: lot.made,
            tie,
            word: verdict.word(),
            held: held.contains(&lot.number),
            movements: moved.remove(&lot.number).unwrap_or_default(),
            counts: counts.remove(&lot.number).unwrap_or_default(),
        });
    }
    caught.sort_by_key(|lot| (!lot.tie.is_certain(), std::cmp::Reverse(lot.filled), lot.number));
    Ok(caught)
}

async fn behind(
    db: &mut SqliteConnection,
    spread: &Spread,
    verdicts: &[Verdict],
    numbers: &[i64],
    certain: impl Fn(i64) -> bool,
    zone: Zone,
) -> Result<Behind, Failure> {
    let milkings: Vec<i64> = spread.milkings.iter().map(|milking| milking.0).collect();
    let cows: Vec<i64> = spread.cows.iter().map(|cow| cow.0).collect();
    let milked = trace::milked(db, &milkings, certain).await?;
    let mut poured = trace::poured(db, &milkings).await?;
    for own in &mut poured {
        own.clocks = clocks(verdicts.iter(), &own.session, &own.cow, zone);
    }
    let around =
        milked.first().zip(milked.last()).map(|(first, last)| (first.started.plus_hours(-30 * 24), last.started.plus_hours(30 * 24)));
    let (from, until) = around.unwrap_or((Moment::seconds(0), Moment::seconds(0)));
    let results = trace::results(db, numbers, &cows, from, until).await?;
    Ok(Behind { milked, poured, readings: trace::readings(db, numbers).await?, results, washings: trace::washings(db, numbers).await? })
}
