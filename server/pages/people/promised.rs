//! What is promised against what the herd makes, as one sheet.

use crate::{
    pages::{
        Here,
        sheets::{self, form_of},
    },
    store::{calendar, forecast, people},
    trade::{
        calendar::CowsDays,
        forecast::{Cow, Facts, Household, LOOK_BACK},
        promise_sheet::sheet,
        when::Zone,
    },
    web::answer::{Answer, Trouble},
};
use axum::http::Uri;

pub(super) async fn show(here: Here, uri: Uri) -> Answer {
    let facts = facts(&here).await?;
    sheets::answer(&here, "People", sheet(&facts), form_of(uri.path()).1, "/people/promises", "", String::new()).await
}

async fn facts(here: &Here) -> Result<Facts, Trouble> {
    let (mut db, zone) = (here.app.ledger.read().await?, here.zone());
    let today = zone.day(here.now);
    let mut milk = forecast::milk_by_day(&mut db, zone, today).await?;
    let cows = calendar::cows(&mut db, zone, here.now).await?;
    let cows = cows.iter().filter(|cow| !cow.has_left() && cow.has_calved());
    let start = zone.start_of(today);
    let back = i64::try_from(LOOK_BACK).unwrap_or_default();
    let (filled, milked) = forecast::filled_and_milked(&mut db, start.plus_hours(-back * 24), start).await?;
    let takers = people::takers(&mut db, today).await?;
    let household = |own: people::Taker| Household { number: own.number, weekday: own.pickup_day, since: own.since, until: own.until };
    Ok(Facts {
        farm: here.farm.name.clone(),
        today,
        cows: cows.map(|cow| seen(cow, milk.remove(&cow.name).unwrap_or_default(), zone)).collect(),
        filled: filled.in_half_gallons(),
        milked,
        households: takers.into_iter().map(household).collect(),
        shares: people::shares(&mut db).await?,
        pauses: people::pauses(&mut db).await?,
        herd_shares: forecast::herd_shares(&mut db, today).await?,
    })
}

fn seen(cow: &CowsDays, days: Vec<(crate::trade::when::Day, crate::trade::measure::Weight)>, zone: Zone) -> Cow {
    let herd = cow.in_herd(zone);
    Cow { name: cow.name.clone(), days, in_milk: herd.in_milk, due: herd.due }
}
