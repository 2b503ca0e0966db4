//! Trace and call-back (recall): from the code on a lid, or from a household and the day it came when the code is washed
//! off, to every lot it may be, everybody who has that milk, and where every jar of it is.

use super::{App, Frame, Here, gathered, remarks_of, sheets};
use crate::{
    store::{Failure, Ledger, farm, lots, records, trace},
    trade::{
        callback::{Asked, Callback},
        codes::LotCode,
        figures::Sheet,
        kinds::kind,
        near,
        recipients::Household,
        records::read,
        trace::{LotId, PersonId, possible_lots},
        when::{Day, Moment, Zone, parse_day},
        whereabouts::last_on_hand,
    },
    web::{
        answer::{Answer, Trouble, again, onward, page},
        form::{Fields, Sealed},
        rooms::Rooms,
        secret,
        visitor::Role,
    },
};
use askama::Template;
use axum::extract::{Path, Query};
use sqlx::SqliteConnection;
use std::collections::BTreeMap;

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new()
        .look("/trace", Role::Owner, ask)
        .look("/trace.pdf", Role::Owner, asked_as_pdf)
        .look("/trace.csv", Role::Owner, asked_as_csv)
        .look("/trace.json", Role::Owner, asked_as_json)
        .look("/trace/{lot}", Role::Owner, by_lot)
        .send("/trace/hold", Role::Owner, hold)
}

/// How far back a jar of a washed-off code may have been filled: the fridge never holds milk longer.
const FRIDGE_DAYS: i64 = 40;

/// The two ways to ask.
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

async fn view_ask(here: &Here, asked: &Fields, lot_remark: String, person_remark: String) -> Result<Ask, Trouble> {
    let mut db = here.app.ledger.read().await?;
    let people = trace::households(&mut db).await?;
    let lot = asked.get("lot").trim().to_owned();
    let known = if lot_remark.is_empty() { Vec::new() } else { known_codes(&mut db).await? };
    let near = known.into_iter().filter(|code| LotCode::parse(code).is_ok_and(|code| code.one_slip_from(&lot))).take(6).collect();
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
    })
}

async fn known_codes(db: &mut SqliteConnection) -> Result<Vec<String>, Failure> {
    let Some(kind) = kind("lots") else { return Ok(Vec::new()) };
    Ok(records::keys(db, kind).await?.into_iter().rev().map(|(_, code)| code).collect())
}

/// The lot a typed code means, or the sentence to say.
async fn lot_of(db: &mut SqliteConnection, typed: &str) -> Result<Result<lots::Lot, String>, Failure> {
    let read = LotCode::parse(typed);
    if let Ok(code) = &read
        && let Some(lot) = lots::find(&mut *db, code.as_str()).await?
    {
        return Ok(Ok(lot));
    }
    let known = known_codes(db).await?;
    let unknown = near::unknown("lot", typed, known.iter().map(String::as_str));
    Ok(Err(read.err().map_or_else(|| unknown.clone(), |fault| format!("{fault} {unknown}"))))
}

async fn ask(here: Here, Query(asked): Query2) -> Answer {
    let asked = Fields(asked);
    if !asked.get("lot").trim().is_empty() {
        let found = lot_of(&mut *here.app.ledger.read().await?, asked.get("lot")).await?;
        return match found {
            Ok(lot) => onward(&format!("/trace/{}", lot.code)),
            Err(says) => again(&view_ask(&here, &asked, says, String::new()).await?),
        };
    }
    if asked.get("day").is_empty() {
        return page(&view_ask(&here, &asked, String::new(), String::new()).await?);
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

/// A household and a day, in one of the four forms.
async fn asked_in(here: Here, asked: Fields, form: sheets::Form) -> Answer {
    let mut db = here.app.ledger.read().await?;
    let by = trace::households(&mut db).await?.into_iter().find(|own| own.label.eq_ignore_ascii_case(asked.get("person").trim()));
    let (by, day) = match (by, parse_day(asked.get("day"))) {
        (Some(_), Ok(day)) if day > here.zone().day(here.now) => {
            let says = "That day has not come yet. Write the day they fetched the milk.".to_owned();
            return again(&view_ask(&here, &asked, String::new(), says).await?);
        }
        (Some(_), Err(_)) if asked.get("day").trim().is_empty() => {
            return again(&view_ask(&here, &asked, String::new(), "Write the day they fetched the milk.".to_owned()).await?);
        }
        (Some(by), Ok(day)) => (by, day),
        (None, _) => return again(&view_ask(&here, &asked, String::new(), "Choose who it was.".to_owned()).await?),
        (_, Err(fault)) => return again(&view_ask(&here, &asked, String::new(), fault.to_string()).await?),
    };
    let query = format!("person={}&day={day}", escaped(&by.label));
    let found = by_day(&mut db, &here, by, day).await?;
    drop(db);
    shown(&here, found, form, "/trace", &query).await
}

async fn by_lot(here: Here, Path(last): Path<String>) -> Answer {
    let (typed, form) = sheets::form_of(&last);
    let mut db = here.app.ledger.read().await?;
    let lot = match lot_of(&mut db, typed).await? {
        Ok(lot) => lot,
        Err(says) => return again(&view_ask(&here, &Fields::default().with("lot", typed), says, String::new()).await?),
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

async fn by_day(db: &mut SqliteConnection, here: &Here, by: Household, day: Day) -> Result<Callback, Failure> {
    let zone = here.zone();
    let (from, until) = (zone.start_of(day), zone.end_of(day));
    let person = PersonId(by.number);
    let had: Vec<(PersonId, Day, LotId)> =
        trace::taken(db, by.number, from, until).await?.into_iter().map(|(_, lot, _)| (person, day, LotId(lot))).collect();
    let stood = if had.is_empty() { standing(db, zone, from, until).await? } else { Vec::new() };
    let start = possible_lots(&had, &stood, person, day);
    let near = if had.is_empty() { nearest(db, zone, by.number, from, until).await? } else { Vec::new() };
    let asked = Asked::Taken { by, day, recorded: !had.is_empty(), near };
    gathered::callback(db, &start, asked, &here.farm, here.now, &here.visitor.name).await
}

/// The lots that may have stood in the fridge on a day, each with its first day and its last.
async fn standing(db: &mut SqliteConnection, zone: Zone, from: Moment, until: Moment) -> Result<Vec<(LotId, Day, Option<Day>)>, Failure> {
    let filled = trace::filled(db, from.plus_hours(-FRIDGE_DAYS * 24), until).await?;
    let numbers: Vec<i64> = filled.iter().map(|(number, _)| *number).collect();
    let (moved, counts) = (lots::moved(db, &numbers).await?, lots::counts(db, &numbers).await?);
    let none = || (Vec::new(), Vec::new());
    Ok(filled
        .into_iter()
        .map(|(number, at)| {
            let (no_moves, no_counts) = none();
            let last = last_on_hand(moved.get(&number).unwrap_or(&no_moves), counts.get(&number).unwrap_or(&no_counts), zone);
            (LotId(number), zone.day(at), last)
        })
        .collect())
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

/// Holds every lot of a trace at once: the certain ones, and the possible ones when that is ticked.
async fn hold(here: Here, Sealed(typed): Sealed) -> Answer {
    let possible = typed.all("possible").filter(|_| typed.get("with_possible") == "yes");
    let codes: Vec<&str> = typed.all("certain").chain(possible).collect();
    keep_holds(&here, &codes, &typed).await?;
    onward(back_of(typed.get("back")))
}

/// Keeps one hold for each code, all in one act or none.
async fn keep_holds(here: &Here, codes: &[&str], typed: &Fields) -> Result<(), Trouble> {
    let kind = kind("holds").ok_or_else(|| Trouble::Ours("no kind holds".to_owned()))?;
    let line = Fields::default().with("at", here.zone().for_file(here.now)).with("scope", "lot").with("reason", typed.get("reason"));
    let mut tx = here.app.ledger.begin().await?;
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    for (nth, code) in codes.iter().enumerate() {
        let line = line.clone().with("lot", *code);
        let cells = read(kind, |column| line.get(column).to_owned(), here.farm.ways).map_err(|_| Trouble::Unreadable)?;
        let kept = records::keep(&mut tx, kind, &secret::entry_within(typed.get("entry"), nth), cells, &act).await;
        kept.or_else(|refusal| remarks_of(refusal).and(Err(Trouble::Unreadable)))?;
    }
    tx.commit().await?;
    Ok(())
}

/// Back to the trace it came from, and nowhere else.
fn back_of(back: &str) -> &str {
    if back.starts_with("/trace/") || back.starts_with("/trace?") { back } else { "/trace" }
}

/// A label as it may stand in an address.
fn escaped(label: &str) -> String {
    label.bytes().map(|byte| if byte.is_ascii_alphanumeric() { char::from(byte).to_string() } else { format!("%{byte:02X}") }).collect()
}
