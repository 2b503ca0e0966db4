//! An inspector's way in: the code of a pass, and nothing else. Tries are slowed by the digits that name a pass and by address, and
//! after ten in a day that do not fit the pass is shut. What is answered, and how long it takes, is the same for a code nobody has.

mod inside;

use super::{
    App, Here, OwnFrame, PASS,
    tries::{MOST_A_DAY, address_of, must_wait},
};
use crate::{
    store::{hands, passes},
    trade::{
        passes::{CAME_IN, Pass, typed},
        when::Moment,
    },
    web::{
        answer::{Answer, page},
        form,
        rooms::Rooms,
        secret,
        visitor::{Who, cookie, set_cookie},
    },
};
use askama::Template;
use axum::{
    extract::{Query, Request},
    http::{HeaderMap, StatusCode},
    response::{IntoResponse, Redirect},
};
use std::collections::HashMap;

/// The longest a visit lasts: a morning at the kitchen table. It never outlasts the pass.
const VISIT_HOURS: i64 = 4;
/// The cookie that ties the form to the browser it was opened in.
const DOOR: &str = "tallypail_gate";

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new().look("/pass", Who::Anybody, show).send("/pass", Who::Anybody, come_in).and(inside::rooms())
}

#[derive(Template)]
#[template(path = "pass/front.html")]
struct Front {
    frame: OwnFrame,
    /// Who of the farm is signed in here, and so has no use for this door; empty for nobody.
    signed_in: String,
    code: String,
    door: String,
    remark: String,
}

impl Front {
    fn of(here: &Here, code: &str) -> Front {
        Front {
            frame: OwnFrame::of_pass(here, "Inspector’s pass"),
            signed_in: if here.visitor.is_of_the_farm() { here.visitor.name.clone() } else { String::new() },
            code: code.chars().filter(|c| c.is_ascii_digit() || *c == ' ').take(20).collect(),
            door: secret::token(),
            remark: String::new(),
        }
    }
}

fn answer(here: &Here, front: &Front, status: StatusCode) -> Answer {
    let mut response = page(front)?;
    *response.status_mut() = status;
    set_cookie(&mut response, DOOR, &front.door, 3600, here.app.secure);
    Ok(response)
}

fn refuse(here: &Here, front: Front, status: StatusCode, remark: &str) -> Answer {
    answer(here, &Front { remark: remark.to_owned(), ..front }, status)
}

async fn show(here: Here, Query(asked): Query<HashMap<String, String>>) -> Answer {
    if here.visitor.pass.is_some() {
        return Ok(Redirect::to("/pass/binder").into_response());
    }
    answer(&here, &Front::of(&here, asked.get("code").map_or("", String::as_str)), StatusCode::OK)
}

async fn come_in(here: Here, headers: HeaderMap, request: Request) -> Answer {
    let address = address_of(request.extensions());
    let fields = form::read(request).await?;
    let front = Front::of(&here, fields.get("code"));
    if !cookie(&headers, DOOR).is_some_and(|door| secret::same(&door, fields.get("door"))) {
        return refuse(&here, front, StatusCode::FORBIDDEN, "This page was open too long. Try again.");
    }
    if !front.signed_in.is_empty() {
        return answer(&here, &front, StatusCode::FORBIDDEN);
    }
    match typed(fields.get("code")) {
        Some(code) => try_it(&here, front, code, &address).await,
        None => refuse(&here, front, StatusCode::UNPROCESSABLE_ENTITY, "A code is twelve digits, and nothing else."),
    }
}

/// Tries a code, one at a time.
async fn try_it(here: &Here, front: Front, (named, digits): (String, String), address: &str) -> Answer {
    let _turn = secret::turn().await;
    let (by_name, by_address) = (format!("pass {named}"), format!("gate {address}"));
    if let Some(minutes) = must_wait(&here.app, [&by_name, &by_address], here.now).await? {
        let remark = format!("Too many tries that did not fit. Wait {minutes} min, then try again.");
        return refuse(here, front, StatusCode::TOO_MANY_REQUESTS, &remark);
    }
    let found = passes::find(&mut *here.app.ledger.read().await?, &named).await?;
    // A code nobody has, a pass that is over and one that is shut are all tried against nobody's, so that it takes as long.
    let kept = found.as_ref().filter(|(pass, _)| pass.opens(here.zone(), here.now)).and_then(|(_, secret)| secret.as_deref());
    let fits = secret::fits_aside(&digits, kept).await;
    match found.filter(|_| fits) {
        Some((pass, _)) => open(here, &pass, &by_name, address).await,
        None => turn_away(here, front, &named, [&by_name, &by_address]).await,
    }
}

/// Counts a try that did not fit, and shuts the pass at the tenth of a day.
async fn turn_away(here: &Here, front: Front, named: &str, tried: [&str; 2]) -> Answer {
    let mut tx = here.app.ledger.begin().await?;
    hands::record_failure(&mut tx, tried, here.now).await?;
    let (count, _) = hands::failures(&mut tx, tried[0], here.now.plus_hours(-24)).await?;
    if count >= MOST_A_DAY
        && let Some((pass, _)) = passes::find(&mut tx, named).await?
    {
        passes::shut(&mut tx, pass.number).await?;
    }
    tx.commit().await?;
    let says = if count >= MOST_A_DAY {
        "That was ten times today. Ask the farm for a new pass."
    } else {
        "This code opens nothing, or not any more. Try again, or ask the farm."
    };
    refuse(here, front, StatusCode::UNPROCESSABLE_ENTITY, says)
}

/// Opens a visit, and the binder.
async fn open(here: &Here, pass: &Pass, by_name: &str, address: &str) -> Answer {
    let (token, seal) = (secret::token(), secret::token());
    let until: Moment = here.now.plus_hours(VISIT_HOURS).min(here.zone().end_of(pass.last_day));
    let mut tx = here.app.ledger.begin().await?;
    passes::open_visit(&mut tx, pass.number, &secret::remembered(&token), &seal, (here.now, until)).await?;
    passes::viewed(&mut tx, pass.number, here.now, CAME_IN, address).await?;
    hands::forgive(&mut tx, by_name).await?;
    tx.commit().await?;
    let mut response = Redirect::to("/pass/binder").into_response();
    set_cookie(&mut response, PASS, &token, VISIT_HOURS * 3600, here.app.secure);
    Ok(response)
}
