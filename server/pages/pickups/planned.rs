//! What a day's packing would be by what the ledger says now: whose day it is, what each carries, and what is free on the shelf.

use super::weigh::{Fridge, Shelf, fridge};
use crate::{
    pages::Here,
    store::{
        books,
        packing::{self, Carried},
        people::{self, Taker},
    },
    trade::{
        boarding::IN_MONEY,
        jars::Jars,
        missed::{Weeks, policy},
        packing::{Household, Plan, plan},
        parts::Hundredths,
        pickups::Offer,
        sharing::{Claim, Method},
        wear::Span,
        when::Day,
    },
    web::answer::Trouble,
};
use sqlx::SqliteConnection;
use std::collections::HashMap;

/// Which day is packed, how, and what the owner writes instead of the sum, by the household's label.
pub(super) struct Asked {
    pub(super) day: Day,
    pub(super) method: Method,
    pub(super) changed: HashMap<String, i64>,
}

/// A day as it would be packed, with everybody whose day it is.
pub(super) struct Planned {
    pub(super) households: Vec<Household>,
    pub(super) fridge: Fridge,
    pub(super) plan: Plan,
}

/// Plans a day from what the ledger says now.
pub(super) async fn planned(db: &mut SqliteConnection, here: &Here, asked: &Asked) -> Result<Planned, Trouble> {
    let fridge = fridge(&mut *db, here, asked.day).await?;
    let carried = carried_to(&mut *db, here, &fridge, asked.day).await?;
    let had = packing::taken_on(&mut *db, asked.day, here.zone()).await?;
    let takers: Vec<Taker> = fridge.takers.iter().filter(|own| own.comes && own.is_here(asked.day)).cloned().collect();
    let household = |own: &Taker| {
        let before = carried.get(&own.number).cloned().unwrap_or_default();
        // What they had that day already is theirs; the rest is still to come.
        let had = Hundredths::jars(had.get(&own.number).copied().unwrap_or(0));
        let to_come = (own.promised - had).max(Hundredths::ZERO);
        Household {
            label: own.label.clone(),
            called: own.called(),
            member: own.sort == "member",
            way: own.way,
            claim: Claim { person: own.number, promised: to_come, carried: before.jars, place: own.place, last_short: before.last_short },
            lacks: own.lacks.clone(),
            has_theirs: had > Hundredths::ZERO && to_come == Hundredths::ZERO,
        }
    };
    let households: Vec<Household> = takers.iter().map(household).collect();
    let changed =
        households.iter().enumerate().filter_map(|(place, own)| asked.changed.get(&own.label).map(|jars| (place, *jars))).collect();
    let plan = plan(&households, free_of(&fridge), asked.method, &changed);
    Ok(Planned { households, fridge, plan })
}

/// What everybody carries to a day: parts of jars from the packings before it, and the weeks the farm missed where the terms
/// even them up in jars.
async fn carried_to(db: &mut SqliteConnection, here: &Here, fridge: &Fridge, day: Day) -> Result<HashMap<i64, Carried>, Trouble> {
    let (shares, pauses, terms) = (people::shares(&mut *db).await?, people::pauses(&mut *db).await?, books::terms(&mut *db).await?);
    let in_money = |person: i64, on: Day| policy(person, &shares, &terms, on) == IN_MONEY;
    let mut carried = packing::carried_to(&mut *db, day, here.zone(), in_money).await?;
    let Some((first, last)) = packing::first_day(&mut *db).await?.zip(day.pred_opt()) else { return Ok(carried) };
    let weekdays = people::weekdays_before(db, here.zone()).await?;
    let weeks = Weeks { pauses: &pauses, empty: &[] };
    for own in &fridge.takers {
        let before = carried.entry(own.number).or_default();
        let came_on = weekdays.in_span(own.number, &own.pickup_day, Span { from: first, to: last });
        before.jars = before.jars + weeks.owed_in_jars((own.number, &came_on), &shares, &terms, &before.empty);
    }
    Ok(carried)
}

/// The lots on the shelf with what nobody else has packed.
fn free_of(fridge: &Fridge) -> Vec<Offer> {
    let free = |own: &Shelf| Offer { left: Jars::halves(fridge.left_for(own, None).half_gallons.max(0)), ..own.offer.clone() };
    fridge.shelf.iter().map(free).collect()
}
