//! Stop milk: a lot, a cow, a vessel or everything, held in one tap and a confirm, before any question is asked. Lifting
//! is a separate act, the owner's, with a reason.

use super::{App, Frame, Here, kind_of, remarks_of};
use crate::{
    store::{lots, records, stops},
    trade::{
        kinds::Kind,
        records::{Cell, read},
    },
    web::{
        answer::{Answer, Trouble, onward, page},
        form::{Fields, Sealed},
        rooms::Rooms,
        secret,
        visitor::Who,
    },
};
use askama::Template;
use axum::extract::{Path, Query};
use std::collections::HashMap;

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new().look("/stop", Who::Farm, show).send("/stop", Who::Farm, hold).send("/stop/{number}/lift", Who::Owner, lift)
}

#[derive(Template)]
#[template(path = "stop/show.html")]
struct Show {
    frame: Frame,
    choices: Vec<(String, String, bool)>,
    chosen: String,
    held: Vec<Line>,
    entry: String,
    remark: String,
    /// What was typed, and at which hold; 0 for the stop itself.
    reason: String,
    at_hold: i64,
}

/// A hold: when, how it was lifted, and for one of a cow or a vessel that stands which lots it holds and which it does not.
struct Line {
    stop: stops::Stop,
    since: String,
    lifted: String,
    reach: Option<(Vec<String>, Vec<String>)>,
}

async fn view(here: &Here, chosen: &str, (at_hold, reason): (i64, &str), remark: String) -> Result<Show, Trouble> {
    let mut db = here.app.ledger.read().await?;
    let mut choices = vec![("everything".to_owned(), "Everything".to_owned(), false)];
    choices
        .extend(lots::on_hand(&mut db, here.now).await?.into_iter().rev().map(|own| (format!("lot {}", own.lot.code), own.lot.code, true)));
    if let Some(code) = chosen.strip_prefix("lot ").filter(|_| !choices.iter().any(|(value, _, _)| value == chosen)) {
        choices.insert(1, (chosen.to_owned(), code.to_owned(), true));
    }
    for name in ["cows", "vessels"] {
        let one = name.trim_end_matches('s');
        choices.extend(records::keys(&mut db, kind_of(name)?).await?.into_iter().map(|(_, key)| (format!("{one} {key}"), key, false)));
    }
    let mut held = Vec::new();
    for stop in stops::list(&mut db).await? {
        let wide = stop.lot.is_empty() && stop.lifted.is_none() && stop.what != "All milk";
        let reach = if wide { Some(stops::reach(&mut db, stop.number).await?) } else { None };
        let lifted = stop.lifted.as_ref().map(|(at, reason, who)| format!("Lifted {} by {who}: {reason}", here.zone().shown(*at)));
        held.push(Line { since: here.zone().shown(stop.at), lifted: lifted.unwrap_or_default(), reach, stop });
    }
    drop(db);
    Ok(Show {
        frame: Frame::of(here, "Stop milk", "Stop milk").await?,
        choices,
        chosen: chosen.to_owned(),
        held,
        entry: secret::entry(),
        remark,
        reason: reason.to_owned(),
        at_hold,
    })
}

async fn show(here: Here, Query(asked): Query<HashMap<String, String>>) -> Answer {
    page(&view(&here, asked.get("what").map_or("everything", String::as_str), (0, ""), String::new()).await?)
}

/// The hold as the ledger keeps it, from a word such as `lot 6134A-S`.
fn hold_line(here: &Here, typed: &Fields) -> Fields {
    let (scope, key) = typed.get("what").split_once(' ').unwrap_or((typed.get("what"), ""));
    let line = Fields::default().with("at", here.zone().for_file(here.now)).with("scope", scope).with("reason", typed.get("reason"));
    if key.is_empty() { line } else { line.with(scope, key) }
}

async fn hold(here: Here, Sealed(typed): Sealed) -> Answer {
    let kind = kind_of("holds")?;
    let line = hold_line(&here, &typed);
    let kept = match read(kind, |column| line.get(column).to_owned(), here.farm.ways) {
        Ok(cells) => keep(&here, kind, typed.get("entry"), cells).await?,
        Err(remarks) => remarks.into_iter().map(|remark| remark.says).next(),
    };
    match kept {
        None => onward(if typed.get("onto") == "/bad-day" { "/bad-day" } else { "/stop" }),
        Some(says) => crate::web::answer::again(&view(&here, typed.get("what"), (0, typed.get("reason")), says).await?),
    }
}

/// Keeps a hold or a lift; gives back what stands against it, if anything does.
async fn keep(here: &Here, kind: &'static Kind, entry: &str, cells: Vec<Cell>) -> Result<Option<String>, Trouble> {
    let mut tx = here.app.ledger.begin().await?;
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    match records::keep(&mut tx, kind, entry, cells, &act).await {
        Ok(_) => tx.commit().await.map(|()| None).map_err(Trouble::from),
        Err(refusal) => Ok(remarks_of(refusal)?.into_iter().map(|remark| remark.says).next()),
    }
}

async fn lift(here: Here, Path(number): Path<i64>, Sealed(typed): Sealed) -> Answer {
    let kind = kind_of("lifts")?;
    let line =
        Fields::default().with("hold", number.to_string()).with("at", here.zone().for_file(here.now)).with("reason", typed.get("reason"));
    let kept = match read(kind, |column| line.get(column).to_owned(), here.farm.ways) {
        // The page has one mark for all its lift buttons, and each hold's lift makes its own from it.
        Ok(cells) => {
            keep(&here, kind, &secret::entry_within(typed.get("entry"), usize::try_from(number).unwrap_or_default()), cells).await?
        }
        Err(_) => Some("A hold is lifted with a reason, in 200 letters or fewer. It is printed for ever.".to_owned()),
    };
    match kept {
        None => onward("/stop"),
        Some(says) => crate::web::answer::again(&view(&here, "everything", (number, typed.get("reason")), says).await?),
    }
}
