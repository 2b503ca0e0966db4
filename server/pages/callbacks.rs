//! Calling milk back (recall): what is proposed and why, opening it, and the one page from which the rest is done. Every part is
//! kept as it is written, so two people can work at once and a page closed half-way loses nothing.

mod end;
mod opened;
mod papers;
mod people;
mod words;

use super::{App, Frame, Here, eventpapers, gathered, keeping, kind_of, proposed};
use crate::{
    store::{callbacks, farm::Farm},
    trade::{
        callback::Callback,
        case::{Case, Next},
        when::span_shown,
    },
    web::{
        answer::{Answer, Trouble, page},
        rooms::Rooms,
        visitor::Who,
    },
};
use askama::Template;
use axum::extract::Path;

/// The doors of this file and those under it.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new()
        .look("/callbacks", Who::Owner, list)
        .look("/callbacks/{number}", Who::Owner, show)
        .and(opened::rooms())
        .and(people::rooms())
        .and(words::rooms())
        .and(end::rooms())
        .and(papers::rooms())
}

#[derive(Template)]
#[template(path = "callbacks/list.html")]
struct List {
    frame: Frame,
    open: Vec<Row>,
    over: Vec<Row>,
}

struct Row {
    own: callbacks::Listed,
    at: String,
    closed: String,
}

async fn list(here: Here) -> Answer {
    let all = callbacks::list(&mut *here.app.ledger.read().await?).await?;
    let row = |own: callbacks::Listed| Row {
        at: here.zone().in_full(own.at),
        closed: own.closed.map(|at| here.zone().in_full(at)).unwrap_or_default(),
        own,
    };
    let (open, over) = all.into_iter().map(row).partition(|row: &Row| row.own.closed.is_none());
    page(&List { frame: Frame::of(&here, "Binder", "Call-backs (recalls)").await?, open, over })
}

/// A call-back, or the word that there is none.
async fn case(here: &Here, number: i64) -> Result<Case, Trouble> {
    let found = callbacks::one(&mut *here.app.ledger.read().await?, number).await?;
    found.ok_or_else(|| Trouble::NotThere(format!("There is no call-back {number}.")))
}

#[derive(Template)]
#[template(path = "callbacks/show.html")]
struct Show {
    frame: Frame,
    case: Case,
    next: Option<Next>,
    opened: String,
    since: String,
    progress: String,
    left: String,
    tried: String,
    reached: String,
    grown: Vec<(String, String)>,
    entry: String,
}

async fn show(here: Here, Path(number): Path<i64>) -> Answer {
    let case = case(&here, number).await?;
    let zone = here.zone();
    let grown = grown(&here, &case).await?;
    let (tried, reached) = crate::trade::called::done_at(&case.recipients);
    let due = |hours, done| crate::trade::called::deadline(case.opened, hours, done, here.now, zone);
    page(&Show {
        frame: Frame::of(&here, "Binder", case.title()).await?,
        next: case.next(),
        opened: zone.in_full(case.opened),
        since: span_shown(here.now.minutes_since(case.opened)),
        progress: case.progress().says(),
        left: case.recipients.iter().map(crate::trade::called::Recipient::left).sum::<crate::trade::jars::Jars>().to_string(),
        tried: due(crate::trade::called::TRY_WITHIN_HOURS, tried),
        reached: due(crate::trade::called::REACH_WITHIN_HOURS, reached),
        grown,
        entry: crate::web::secret::entry(),
        case,
    })
}

/// Lots the milk ties to these since, which nobody has decided about: something was written down after it was opened.
async fn grown(here: &Here, case: &Case) -> Result<Vec<(String, String)>, Trouble> {
    if case.closed().is_some() {
        return Ok(Vec::new());
    }
    let mut db = here.app.ledger.read().await?;
    let ties = gathered::spread(&mut db, &case.ties()).await?;
    let codes = proposed::codes(&mut db, &ties).await?;
    let new = ties.iter().filter(|(lot, _)| !case.lots.iter().any(|own| own.number == lot.0));
    Ok(new.filter_map(|(lot, tie)| codes.get(&lot.0).map(|code| (code.clone(), tie.why().to_owned()))).collect())
}

/// What a paper of a call-back is made of: its lots as they were called, with everything known of them now.
async fn found(here: &Here, case: &Case) -> Result<Callback, Trouble> {
    let farm: &Farm = &here.farm;
    let mut db = here.app.ledger.read().await?;
    Ok(gathered::of_lots(&mut db, &case.ties(), case.codes(), farm, here.now, &here.visitor.name).await?)
}
