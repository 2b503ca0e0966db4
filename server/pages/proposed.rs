//! From what is known to the lots a call-back may begin with: a complaint, a lab's result, or lots somebody names. The page that
//! asks and the page that calls back must propose the same. It owns no door.

use super::gathered;
use crate::{
    store::{
        Failure, brackets,
        complaints::{self, Took},
        lots, records, trace,
    },
    trade::{
        analytes::Analyte,
        bracket,
        complaint::{Told, taken},
        exposure,
        kinds::kind,
        starts::possible_lots,
        trace::{Graph, LotId, PersonId, Tie, Ties},
        when::{Day, Moment, Zone},
    },
};
use sqlx::SqliteConnection;
use std::collections::{BTreeMap, BTreeSet};

/// How far back a household's jars are looked at when a window may reach far.
const FAR_DAYS: i64 = 190;

/// The lots a complaint may be about: the code on the lid, the jar of the day they name, and every jar of theirs that cannot be
/// excluded by when they fell ill. With nothing known but who rang, all they took in a fortnight.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn of_complaint(db: &mut SqliteConnection, told: &Told, zone: Zone, now: Moment) -> Result<Ties, Failure> {
    let mut ties = Ties::new();
    if let Some(lot) = lots::find(&mut *db, told.answer("lot")).await? {
        ties.insert(LotId(lot.number), Tie::Certain("is the code on the lid".to_owned()));
    }
    let took = match &told.by {
        Some(own) => complaints::took(&mut *db, own.number, now.plus_hours(-FAR_DAYS * 24)).await?,
        None => Vec::new(),
    };
    if let Some(day) = told.fetched() {
        for (lot, tie) in of_day(&mut *db, told, &took, day, zone).await? {
            ties.entry(lot).or_insert(tie);
        }
    }
    let all: Vec<(i64, Moment, Option<i64>)> = took.iter().map(|own| (own.lot, own.at, None)).collect();
    match told.onset(zone) {
        Some(onset) => {
            for (lot, tie) in exposure::ties(&taken(&all), exposure::window(onset, told.agent(), zone), zone) {
                ties.entry(lot).or_insert(tie);
            }
        }
        None if ties.is_empty() => {
            for own in took.iter().filter(|own| own.at >= now.plus_hours(-14 * 24)) {
                let why = format!("was taken on {}, and nothing more is known yet", zone.in_full(own.at));
                ties.entry(LotId(own.lot)).or_insert(Tie::Possible(why));
            }
        }
        None => {}
    }
    Ok(ties)
}

/// What they may have had on a day they name: as written, or every lot that was on hand.
async fn of_day(db: &mut SqliteConnection, told: &Told, took: &[Took], day: Day, zone: Zone) -> Result<Ties, Failure> {
    let person = PersonId(told.by.as_ref().map_or(-1, |own| own.number));
    let had: Vec<(PersonId, Day, LotId)> = took.iter().map(|own| (person, zone.day(own.at), LotId(own.lot))).collect();
    let stood = if had.iter().any(|(_, on, _)| *on == day) {
        Vec::new()
    } else {
        gathered::standing(db, zone, zone.start_of(day), zone.end_of(day)).await?
    };
    Ok(possible_lots(&had, &stood, person, day))
}

/// What a result leads to: the lot it is about, and, where germs were found that can make people ill, the bracket of lots around it
/// by their own tests. Nobody tested most lots, so the bracket is wide; half a year each way is as long as a frozen jar is kept,
/// which is common practice.
pub struct Found {
    /// The lot sampled.
    pub start: Ties,
    /// The lots of the bracket that neither milk nor a vessel ties.
    pub bracket: Ties,
}

const BRACKET_DAYS: i64 = 180;

/// The lots a result leads to.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn of_result(db: &mut SqliteConnection, number: i64, now: Moment) -> Result<Found, Failure> {
    let mut found = Found { start: Ties::new(), bracket: Ties::new() };
    let (Some(results), Some(samples)) = (kind("results"), kind("samples")) else { return Ok(found) };
    let Some(result) = records::find(&mut *db, results, number).await? else { return Ok(found) };
    let sample = result.cell(results, "sample").whole().unwrap_or_default();
    let Some(sample) = records::find(&mut *db, samples, sample).await? else { return Ok(found) };
    let Some(lot) = sample.cell(samples, "lot").whole() else { return Ok(found) };
    let analyte = Analyte::parse(result.cell(results, "analyte").text());
    let why = format!("was sampled, and the lab wrote {} {}", analyte.name(), result.cell(results, "figure").text());
    found.start.insert(LotId(lot), Tie::Certain(why));
    let filled = lots::list(&mut *db, &[lot]).await?.first().map_or(now, |own| own.filled);
    if analyte.is_pathogen() {
        let until = filled.plus_hours(BRACKET_DAYS * 24).min(now);
        let tested = brackets::tested(&mut *db, &analyte, filled.plus_hours(-BRACKET_DAYS * 24), until).await?;
        let all: BTreeSet<LotId> = tested.iter().map(|own| own.lot).collect();
        let lists = trace::reached(db, &all).await?;
        found.bracket = bracket::bracket(&tested, bracket::CLEAR_IN_A_ROW, &Graph::of(&lists)).suspects;
    }
    Ok(found)
}

/// What the days say, in a sentence or two that name no cause.
#[must_use]
pub fn says(told: &Told, took: &[Took], zone: Zone) -> String {
    let all: Vec<(i64, Moment, Option<i64>)> = took.iter().map(|own| (own.lot, own.at, None)).collect();
    match told.onset(zone) {
        Some(onset) => exposure::says(&taken(&all), onset, told.agent(), zone),
        None if told.by.is_none() => {
            "They are not on the list, so no jar is written down for them. Ask for the code on the lid, or the day.".to_owned()
        }
        None => "Ask since when they are ill: it says which jars cannot be excluded.".to_owned(),
    }
}

/// The codes of these lots.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn codes(db: &mut SqliteConnection, ties: &Ties) -> Result<BTreeMap<i64, String>, Failure> {
    let numbers: Vec<i64> = ties.keys().map(|lot| lot.0).collect();
    Ok(lots::list(db, &numbers).await?.into_iter().map(|lot| (lot.number, lot.code)).collect())
}
