//! The clipboard of a day: today's people by number only, to tick and sign at the fridge, for whoever has no phone there.

use super::weigh::fridge;
use crate::{
    pages::{App, Here, sheets},
    store::{packing, people},
    trade::{
        channels::Channel,
        own::{Line, clipboard},
        packed::Listed,
        packing::taken,
        parts::Hundredths,
        when::{Day, parse_day},
    },
    web::{
        answer::{Answer, Trouble},
        form::Fields,
        rooms::Rooms,
        visitor::Who,
    },
};
use askama::Template;
use axum::extract::Query;

/// The doors of this file.
pub(super) fn rooms() -> Rooms<App> {
    Rooms::new()
        .look("/pickup/clipboard", Who::Farm, |here: Here, asked: Asked| show(here, asked, sheets::Form::Page))
        .look("/pickup/clipboard.pdf", Who::Farm, |here: Here, asked: Asked| show(here, asked, sheets::Form::Pdf))
        .look("/pickup/clipboard.csv", Who::Farm, |here: Here, asked: Asked| show(here, asked, sheets::Form::Csv))
        .look("/pickup/clipboard.json", Who::Farm, |here: Here, asked: Asked| show(here, asked, sheets::Form::Json))
}

type Asked = Query<Vec<(String, String)>>;

/// The day to ask for, above the sheet.
#[derive(Template)]
#[template(path = "pickup/clipboard.html")]
struct Above {
    day: String,
    remark: String,
}

async fn show(here: Here, Query(asked): Asked, form: sheets::Form) -> Answer {
    let (asked, today) = (Fields(asked), here.zone().day(here.now));
    let typed = asked.get("day").trim();
    let read = if typed.is_empty() { Ok(today) } else { parse_day(typed) };
    let day = read.as_ref().copied().unwrap_or(today);
    let remark = read.err().map_or_else(String::new, |fault| format!("{fault} Today's is shown."));
    let lines = lines(&here, day).await?;
    let above = Above { day: day.to_string(), remark }.render().unwrap_or_default();
    let query = if typed.is_empty() { String::new() } else { format!("day={day}") };
    sheets::answer(&here, "Pickup", clipboard(&here.farm.name, day, &lines), form, "/pickup/clipboard", &query, above).await
}

/// Everybody who comes on a day: as packed, or else as promised with the oldest lots that can go.
async fn lines(here: &Here, day: Day) -> Result<Vec<Line>, Trouble> {
    let mut db = here.app.ledger.read().await?;
    if let Some((_, list)) = packing::of_day(&mut db, day).await? {
        let line = |row: Listed| Line { label: row.label, jars: row.portion.jars.to_string(), lots: row.lots, packed: true };
        return Ok(list.rows.into_iter().map(line).collect());
    }
    let takers = people::takers_here(&mut db, day).await?;
    // What may go now says nothing of another day.
    let is_today = day == here.zone().day(here.now);
    let mut offers = if is_today { fridge(&mut db, here, day).await?.offers_for(None) } else { Vec::new() };
    offers.sort_by_key(|offer| offer.filled);
    let mut lots = |jars: i64, way: Channel| taken(&mut offers, way, jars);
    let come = takers.into_iter().filter(|taker| taker.comes && taker.is_here(day));
    Ok(come
        .map(|taker| {
            let promised = if taker.promised == Hundredths::ZERO { String::new() } else { taker.promised.to_string() };
            Line { lots: lots(taker.promised_jars(), taker.way), jars: promised, label: taker.label, packed: false }
        })
        .collect())
}
