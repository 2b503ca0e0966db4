//! Trace and call-back (recall): from the code on a lid, or from a household and the day it came when the code is washed
//! off, or from anything else that may have troubled milk, to every lot it may be, everybody who has that milk, and where every
//! jar of it is.

mod begun;
mod held;
mod taken;

use super::{App, Frame, Here, field::Field, gathered, sheets};
use crate::{
    store::{Failure, Ledger, farm, lots, trace},
    trade::{
        callback::Callback,
        codes::LotCode,
        figures::Sheet,
        in_an_address, near,
        recipients::Household,
        records::Remark,
        when::{Moment, parse_day},
    },
    web::{
        answer::{Answer, Trouble, again, onward, page},
        form::Fields,
        rooms::Rooms,
        secret,
        visitor::Who,
    },
};
use askama::Template;
use axum::extract::{Path, Query};
use sqlx::SqliteConnection;

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new()
        .look("/trace", Who::Owner, ask)
        .look("/trace.pdf", Who::Owner, asked_as_pdf)
        .look("/trace.csv", Who::Owner, asked_as_csv)
        .look("/trace.json", Who::Owner, asked_as_json)
        .look("/trace/{lot}", Who::Owner, by_lot)
        .send("/trace/hold", Who::Owner, held::hold)
}

/// The ways to ask.
#[derive(Template)]
#[template(path = "trace/ask.html")]
struct Ask {
    frame: Frame,
    lot: String,
    person: String,
    day: String,
    people: Vec<Household>,
    lot_remark: String,
    near: Vec<String>,
    person_remark: String,
    begins: [Field; 4],
}

/// Which of the three forms something is to be said about, and what.
#[derive(Default)]
struct Says {
    lot: String,
    person: String,
    begun: Vec<Remark>,
}

/// The hold that can be put on everything found.
#[derive(Template)]
#[template(path = "trace/above.html")]
struct Above {
    seal: String,
    entry: String,
    back: String,
    certain: Vec<String>,
    possible: Vec<String>,
    held: usize,
}

type Query2 = Query<Vec<(String, String)>>;

async fn view_ask(here: &Here, asked: &Fields, says: Says) -> Result<Ask, Trouble> {
    let Says { lot: lot_remark, person: person_remark, begun } = says;
    let mut db = here.app.ledger.read().await?;
    let people = trace::households(&mut db).await?;
    let lot = asked.get("lot").trim().to_owned();
    let known = if lot_remark.is_empty() { Vec::new() } else { lots::codes_near(&mut db, &lot).await? };
    let near = known.into_iter().filter(|code| LotCode::parse(code).is_ok_and(|code| code.one_slip_from(&lot))).collect();
    drop(db);
    Ok(Ask {
        frame: Frame::of(here, "Binder", "Trace and call-back (recall)").await?,
        lot,
        person: asked.get("person").to_owned(),
        day: asked.get("day").to_owned(),
        people,
        lot_remark,
        near,
        person_remark,
        begins: begun::fields(asked, &begun),
    })
}

/// The lot a typed code means, or the sentence to say.
async fn lot_of(db: &mut SqliteConnection, typed: &str) -> Result<Result<lots::Lot, String>, Failure> {
    let read = LotCode::parse(typed);
    if let Ok(code) = &read
        && let Some(lot) = lots::find(&mut *db, code.as_str()).await?
    {
        return Ok(Ok(lot));
    }
    let known = lots::codes_near(db, typed).await?;
    let unknown = near::unknown("lot", typed, known.iter().map(String::as_str));
    Ok(Err(read.err().map_or_else(|| unknown.clone(), |fault| format!("{fault} {unknown}"))))
}

async fn ask(here: Here, Query(asked): Query2) -> Answer {
    let asked = Fields(asked);
    if !asked.get("lot").trim().is_empty() {
        let found = lot_of(&mut *here.app.ledger.read().await?, asked.get("lot")).await?;
        return match found {
            Ok(lot) => onward(&format!("/trace/{}", lot.code)),
            Err(says) => again(&view_ask(&here, &asked, Says { lot: says, ..Says::default() }).await?),
        };
    }
    if asked.get("day").is_empty() && asked.get("from").is_empty() {
        return page(&view_ask(&here, &asked, Says::default()).await?);
    }
    asked_in(here, asked, sheets::Form::Page).await
}

async fn asked_as_pdf(here: Here, Query(asked): Query2) -> Answer {
    asked_in(here, Fields(asked), sheets::Form::Pdf).await
}

async fn asked_as_csv(here: Here, Query(asked): Query2) -> Answer {
    asked_in(here, Fields(asked), sheets::Form::Csv).await
}

async fn asked_as_json(here: Here, Query(asked): Query2) -> Answer {
    asked_in(here, Fields(asked), sheets::Form::Json).await
}

/// A household and a day, or anything else a trace may begin at, in one of the four forms.
async fn asked_in(here: Here, asked: Fields, form: sheets::Form) -> Answer {
    if !asked.get("from").is_empty() {
        return begun_in(here, asked, form).await;
    }
    let mut db = here.app.ledger.read().await?;
    let by = trace::households(&mut db).await?.into_iter().find(|own| own.label.eq_ignore_ascii_case(asked.get("person").trim()));
    let late =
        |day| (day > here.zone().day(here.now)).then(|| "That day has not come yet. Write the day they fetched the milk.".to_owned());
    let says = match (&by, parse_day(asked.get("day"))) {
        (Some(_), Err(_)) if asked.get("day").trim().is_empty() => "Write the day they fetched the milk.".to_owned(),
        (None, _) => "Choose who it was.".to_owned(),
        (_, Err(fault)) => fault.to_string(),
        (_, Ok(day)) => late(day).unwrap_or_default(),
    };
    let (Some(by), Ok(day), true) = (by, parse_day(asked.get("day")), says.is_empty()) else {
        drop(db);
        return again(&view_ask(&here, &asked, Says { person: says, ..Says::default() }).await?);
    };
    let query = format!("person={}&day={day}", in_an_address(&by.label));
    let found = taken::by_day(&mut db, &here, by, day).await?;
    drop(db);
    shown(&here, found, form, "/trace", &query).await
}

/// A trace that begins at anything else.
async fn begun_in(here: Here, asked: Fields, form: sheets::Form) -> Answer {
    let mut db = here.app.ledger.read().await?;
    let (start, begins) = match begun::read(&mut db, &here, &asked).await? {
        Ok(found) => found,
        Err(remark) => {
            drop(db);
            return again(&view_ask(&here, &asked, Says { begun: vec![remark], ..Says::default() }).await?);
        }
    };
    let found = gathered::callback(&mut db, &start, begins, &here.farm, here.now, &here.visitor.name).await?;
    drop(db);
    let typed = ["from", "which", "since", "until"].map(|name| (name, asked.get(name).trim()));
    let query: Vec<String> =
        typed.iter().filter(|(_, value)| !value.is_empty()).map(|(name, value)| format!("{name}={}", in_an_address(value))).collect();
    shown(&here, found, form, "/trace", &query.join("&")).await
}

async fn by_lot(here: Here, Path(last): Path<String>) -> Answer {
    let (typed, form) = sheets::form_of(&last);
    let mut db = here.app.ledger.read().await?;
    let lot = match lot_of(&mut db, typed).await? {
        Ok(lot) => lot,
        Err(says) => {
            drop(db);
            return again(&view_ask(&here, &Fields::default().with("lot", typed), Says { lot: says, ..Says::default() }).await?);
        }
    };
    let address = format!("/trace/{}", lot.code);
    let found = gathered::of_lot(&mut db, lot.number, lot.code, &here.farm, here.now, &here.visitor.name).await?;
    drop(db);
    shown(&here, found, form, &address, "").await
}

async fn shown(here: &Here, found: Callback, form: sheets::Form, address: &str, query: &str) -> Answer {
    let codes = |certain: bool| {
        found.lots.iter().filter(move |lot| lot.tie.is_certain() == certain && !lot.held).map(|lot| lot.code.clone()).collect::<Vec<_>>()
    };
    let above = Above {
        seal: here.visitor.seal.clone(),
        entry: secret::entry(),
        back: if query.is_empty() { address.to_owned() } else { format!("{address}?{query}") },
        certain: codes(true),
        possible: codes(false),
        held: found.lots.iter().filter(|lot| lot.held).count(),
    };
    let above = above.render().map_err(|error| Trouble::Ours(error.to_string()))?;
    sheets::answer(here, "Binder", found.sheet(), form, address, query, above).await
}

/// The trace of a lot as a sheet, for the program's own command line.
///
/// # Errors
/// When the code is not known, or the ledger cannot be read.
pub async fn report(ledger: &Ledger, lot: &str, now: Moment) -> Result<Sheet, Box<dyn std::error::Error>> {
    let mut db = ledger.read().await?;
    let farm = farm::current(&mut db).await?.ok_or("No farm is set up in this ledger.")?;
    let lot = lot_of(&mut db, lot).await??;
    Ok(gathered::of_lot(&mut db, lot.number, lot.code, &farm, now, "").await?.sheet())
}
