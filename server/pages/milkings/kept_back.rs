//! What a milking did to its vessel: milk that had to stay out went in, or the milker was not well. The page says so and
//! holds the vessel in one tap.

use super::super::{App, Frame, Here, kind_of};
use crate::{
    store::{farm, herd, records},
    trade::{
        cows::{Known, judge_all},
        herd::Foremilk,
        when::Moment,
    },
    web::{
        answer::{Answer, Trouble, onward, page},
        rooms::Rooms,
        secret,
        visitor::Who,
    },
};
use askama::Template;
use axum::extract::Query;
use std::collections::HashMap;

/// The doors of this file.
pub(super) fn rooms() -> Rooms<App> {
    Rooms::new().look("/milkings/kept-back", Who::Farm, show)
}

/// The page's address for one milking.
pub(super) fn address(milking: i64) -> String {
    format!("/milkings/kept-back?milking={milking}")
}

#[derive(Template)]
#[template(path = "jars/kept_back.html")]
struct Show {
    frame: Frame,
    session: String,
    vessel: String,
    is_held: bool,
    why: Vec<String>,
    reason: String,
    entry: String,
}

async fn show(here: Here, Query(asked): Query<HashMap<String, String>>) -> Answer {
    let number = asked.get("milking").and_then(|number| number.parse().ok()).unwrap_or_default();
    match view(&here, number).await? {
        Some(view) => page(&view),
        None => onward("/fills/new"),
    }
}

/// What speaks against the milk of one milking; nothing when nothing does.
async fn view(here: &Here, number: i64) -> Result<Option<Show>, Trouble> {
    let kind = kind_of("milkings")?;
    let mut db = here.app.ledger.read().await?;
    let Some(milking) = records::find(&mut db, kind, number).await? else { return Ok(None) };
    let (session, started) = (milking.cell(kind, "session").text().to_owned(), milking.cell(kind, "started").moment().unwrap_or(here.now));
    let poured = poured(&mut db, here, number, started).await?;
    let mut why: Vec<String> = poured.iter().filter(|own| !own.why.is_empty()).map(|own| format!("{}: {}", own.cow, own.why)).collect();
    let mut cows: Vec<&str> = poured.iter().filter(|own| !own.why.is_empty()).map(|own| own.cow.as_str()).collect();
    cows.dedup();
    let reason =
        if cows.is_empty() { format!("The milking of {session}") } else { format!("{} milked into it, {session}", cows.join(", ")) };
    if milking.cell(kind, "well").text() == "no" {
        why.push("Whoever milked was not well: every jar of this milking says Keep back. Ask the health department.".to_owned());
    }
    let vessel = poured.iter().map(|own| own.vessel.clone()).find(|vessel| !vessel.is_empty()).unwrap_or_default();
    let is_held = herd::vessel_is_held(&mut db, &vessel).await?;
    drop(db);
    if why.is_empty() || vessel.is_empty() {
        return Ok(None);
    }
    let frame = Frame::of(here, "Jars", "Keep it back").await?;
    Ok(Some(Show { frame, session, vessel, is_held, why, reason: reason.chars().take(200).collect(), entry: secret::entry() }))
}

/// One cow's milk that went into the can, and what spoke against it; empty when nothing did.
struct Poured {
    cow: String,
    vessel: String,
    why: String,
}

async fn poured(db: &mut sqlx::SqliteConnection, here: &Here, milking: i64, started: Moment) -> Result<Vec<Poured>, Trouble> {
    let rules = farm::rule_book(&mut *db).await?.on(here.zone().day(started)).base;
    let cows = herd::list(&mut *db, started, here.zone()).await?;
    let known: Vec<&Known> = cows.iter().map(|cow| &cow.known).collect();
    let judged = judge_all(&known, &rules, started, here.zone());
    let mut poured = Vec::new();
    for (cow, judged) in cows.iter().zip(&judged) {
        for pail in cow.pails.iter().filter(|pail| pail.milking == milking && pail.went == "can") {
            let seen = pail.foremilk.reason().filter(|_| pail.foremilk != Foremilk::NotLooked).map(str::to_owned);
            let why = judged.reasons.first().map(|reason| reason.sentence(here.zone())).or(seen).unwrap_or_default();
            poured.push(Poured { cow: cow.known.name.clone(), vessel: pail.vessel.clone(), why });
        }
    }
    Ok(poured)
}
