//! What a household had on a day, when the code is washed off the jar.

use super::super::{Here, gathered};
use crate::{
    store::{Failure, trace},
    trade::{
        callback::{Asked, Callback},
        recipients::Household,
        starts::possible_lots,
        trace::{LotId, PersonId},
        when::{Day, Moment, Zone},
    },
};
use sqlx::SqliteConnection;
use std::collections::BTreeMap;

/// What a household had on a day, and everything that leads to.
///
/// # Errors
/// When the ledger cannot be read.
pub(super) async fn by_day(db: &mut SqliteConnection, here: &Here, by: Household, day: Day) -> Result<Callback, Failure> {
    let zone = here.zone();
    let (from, until) = (zone.start_of(day), zone.end_of(day));
    let person = PersonId(by.number);
    let had: Vec<(PersonId, Day, LotId)> =
        trace::taken(db, by.number, from, until).await?.into_iter().map(|(_, lot, _)| (person, day, LotId(lot))).collect();
    let stood = if had.is_empty() { gathered::standing(db, zone, from, until).await? } else { Vec::new() };
    let start = possible_lots(&had, &stood, person, day);
    let near = if had.is_empty() { nearest(db, zone, by.number, from, until).await? } else { Vec::new() };
    let asked = Asked::Taken { by, day, recorded: !had.is_empty(), near };
    gathered::callback(db, &start, asked, &here.farm, here.now, &here.visitor.name).await
}

/// The three days before and the one after on which something was handed out to a household.
async fn nearest(db: &mut SqliteConnection, zone: Zone, person: i64, from: Moment, until: Moment) -> Result<Vec<(Day, String)>, Failure> {
    let mut days: BTreeMap<Day, Vec<String>> = BTreeMap::new();
    for (at, _, code) in trace::taken(db, person, from.plus_hours(-120 * 24), until.plus_hours(30 * 24)).await? {
        days.entry(zone.day(at)).or_default().push(code);
    }
    let asked = zone.day(from);
    let before = days.range(..asked).rev().take(3);
    Ok(before.chain(days.range(asked..).take(1)).map(|(day, codes)| (*day, codes.join(", "))).collect())
}
