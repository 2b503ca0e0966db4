//! A household's way in: its number and the PIN it was given. Tries are slowed by household and by address, and after ten in
//! a day that do not fit the PIN is shut. What is answered, and how long it takes, is the same for a number nobody has.

use super::{
    App, Here, OwnFrame, VISIT, VISIT_MINUTES,
    tries::{MOST_A_DAY, address_of, must_wait},
};
use crate::{
    store::{
        hands,
        own::{self, Own},
    },
    trade::{numbers::one_spelling, own::pin, short, when::Moment},
    web::{
        answer::{Answer, page},
        form::{self, Fields, Sealed},
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

/// The cookie that ties the form to the browser it was opened in.
const DOOR: &str = "tallypail_fridge";

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new().look("/own", Who::Anybody, show).send("/own", Who::Anybody, come_in).send("/own/leave", Who::Household, leave)
}

#[derive(Template)]
#[template(path = "own/front.html")]
struct Front {
    frame: OwnFrame,
    /// Who of the farm is signed in on this phone, and so has no use for this door; empty for nobody.
    signed_in: String,
    number: String,
    door: String,
    /// What is wrong with the number, and with both together.
    number_remark: String,
    remark: String,
}

impl Front {
    fn of(here: &Here, number: &str) -> Front {
        let of_the_farm = here.visitor.is_of_the_farm();
        Front {
            frame: OwnFrame::of(here, "Your page"),
            signed_in: if of_the_farm { here.visitor.name.clone() } else { String::new() },
            number: short(number.trim()),
            door: secret::token(),
            number_remark: String::new(),
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

async fn show(here: Here, Query(asked): Query<HashMap<String, String>>) -> Answer {
    if here.visitor.household.is_some() {
        return Ok(Redirect::to("/own/page").into_response());
    }
    answer(&here, &Front::of(&here, asked.get("number").map_or("", String::as_str)), StatusCode::OK)
}

async fn come_in(here: Here, headers: HeaderMap, request: Request) -> Answer {
    let address = address_of(request.extensions());
    let fields = form::read(request).await?;
    let front = Front::of(&here, fields.get("number"));
    if !cookie(&headers, DOOR).is_some_and(|door| secret::same(&door, fields.get("door"))) {
        return refuse(&here, front, StatusCode::FORBIDDEN, "This page was open too long. Try again.".to_owned());
    }
    if !front.signed_in.is_empty() {
        return answer(&here, &front, StatusCode::FORBIDDEN);
    }
    match typed(&fields) {
        Ok((number, pin)) => try_it(&here, front, [number, pin, address]).await,
        Err((number_remark, remark)) => answer(&here, &Front { number_remark, remark, ..front }, StatusCode::UNPROCESSABLE_ENTITY),
    }
}

/// The number and the six digits, or what is wrong with each.
fn typed(fields: &Fields) -> Result<(String, String), (String, String)> {
    let number = fields.get("number").trim();
    let number_remark = if number.is_empty() { "Your number is missing. It stands on your card." } else { "" };
    match pin(fields.get("pin")) {
        Some(pin) if number_remark.is_empty() => Ok((number.to_owned(), pin)),
        read => Err((number_remark.to_owned(), if read.is_some() { "" } else { "A PIN is six digits, and nothing else." }.to_owned())),
    }
}

/// Tries a number and a PIN, one at a time.
async fn try_it(here: &Here, front: Front, [number, pin, address]: [String; 3]) -> Answer {
    let _turn = secret::turn().await;
    let own = own::find(&mut *here.app.ledger.read().await?, &number).await?;
    let spelling = own.as_ref().map_or_else(|| one_spelling(&number), |own| one_spelling(&own.label));
    let (by_number, by_address) = (format!("household {spelling}"), format!("fridge {address}"));
    if let Some(minutes) = must_wait(&here.app, [&by_number, &by_address], here.now).await? {
        let remark = format!("Too many tries that did not fit. Wait {minutes} min, then try again.");
        return refuse(here, front, StatusCode::TOO_MANY_REQUESTS, remark);
    }
    // Nobody's number, a household without a PIN and one that is shut are all tried against nobody's, so that it takes as long.
    let kept = own.as_ref().and_then(|own| own.pin.as_ref()?.secret.as_deref());
    let fits = secret::fits_aside(&pin, kept).await;
    match own.filter(|_| fits) {
        Some(own) => open(here, &own, &by_number).await,
        None => turn_away(here, front, &number, [&by_number, &by_address]).await,
    }
}

/// Counts a try that did not fit, and shuts the PIN at the tenth of a day.
async fn turn_away(here: &Here, front: Front, number: &str, tried: [&str; 2]) -> Answer {
    let mut tx = here.app.ledger.begin().await?;
    hands::record_failure(&mut tx, tried, here.now).await?;
    let (count, _) = hands::failures(&mut tx, tried[0], here.now.plus_hours(-24)).await?;
    if count >= MOST_A_DAY
        && let Some(own) = own::find(&mut tx, number).await?
    {
        own::shut(&mut tx, own.person).await?;
    }
    tx.commit().await?;
    let says = if count >= MOST_A_DAY {
        "That was ten times today. Ask the farm for a new PIN."
    } else {
        "Number and PIN do not fit together. Try again, or ask the farm."
    };
    refuse(here, front, StatusCode::UNPROCESSABLE_ENTITY, says.to_owned())
}

fn refuse(here: &Here, front: Front, status: StatusCode, remark: String) -> Answer {
    answer(here, &Front { remark, ..front }, status)
}

/// Opens a visit, and their page.
async fn open(here: &Here, own: &Own, by_number: &str) -> Answer {
    let (token, seal) = (secret::token(), secret::token());
    let until: Moment = here.now.plus_minutes(VISIT_MINUTES);
    let mut tx = here.app.ledger.begin().await?;
    own::open_visit(&mut tx, own.person, &secret::remembered(&token), &seal, here.now, until).await?;
    hands::forgive(&mut tx, by_number).await?;
    tx.commit().await?;
    let mut response = Redirect::to("/own/page").into_response();
    set_cookie(&mut response, VISIT, &token, VISIT_MINUTES * 60, here.app.secure);
    Ok(response)
}

/// Ends the visit, and not only its cookie.
async fn leave(household: super::Household, headers: HeaderMap, Sealed(_): Sealed) -> Answer {
    let here = household.here;
    if let Some(token) = cookie(&headers, VISIT) {
        let mut tx = here.app.ledger.begin().await?;
        own::end_visit(&mut tx, &secret::remembered(&token)).await?;
        tx.commit().await?;
    }
    let mut response = Redirect::to("/own").into_response();
    set_cookie(&mut response, VISIT, "", 0, here.app.secure);
    Ok(response)
}
