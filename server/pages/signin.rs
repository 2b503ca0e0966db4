//! Signing in and out. Failed tries are slowed, by name and by the address they came from.

use super::{
    App, Frame, SESSION, SESSION_HOURS,
    tries::{address_of, must_wait},
};
use crate::{
    store::{farm, hands},
    trade::when::Moment,
    web::{
        answer::{Answer, Trouble, is_inside, onward, page},
        form::{self, Fields, Sealed},
        rooms::Rooms,
        secret,
        visitor::{Who, cookie, set_cookie},
    },
};
use askama::Template;
use axum::{
    extract::{Query, Request, State},
    http::{HeaderMap, StatusCode},
    response::Response,
};
use std::collections::HashMap;

/// The cookie that ties the sign-in form to the browser it was opened in.
const DOOR: &str = "tallypail_door";

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new().look("/signin", Who::Anybody, show).send("/signin", Who::Anybody, sign_in).send("/signout", Who::Farm, sign_out)
}

#[derive(Template)]
#[template(path = "signin/show.html")]
struct Show {
    frame: Frame,
    name: String,
    back: String,
    door: String,
    remark: String,
}

async fn view(app: &App, name: &str, back: &str, remark: String) -> Result<Show, Trouble> {
    let mut db = app.ledger.read().await?;
    let farm = farm::current(&mut db).await?.map_or_else(|| "Tallypail".to_owned(), |farm| farm.name);
    Ok(Show { frame: Frame::outside(app, &farm, "Sign in"), name: name.to_owned(), back: inside(back), door: secret::token(), remark })
}

fn with_door(app: &App, show: &Show, mut response: Response) -> Response {
    set_cookie(&mut response, DOOR, &show.door, 3600, app.secure);
    response
}

async fn show(State(app): State<App>, Query(asked): Query<HashMap<String, String>>) -> Answer {
    if hands::list(&mut *app.ledger.read().await?).await?.is_empty() {
        return onward("/setup");
    }
    let view = view(&app, "", asked.get("back").map_or("/", String::as_str), String::new()).await?;
    Ok(with_door(&app, &view, page(&view)?))
}

async fn sign_in(State(app): State<App>, headers: HeaderMap, request: Request) -> Answer {
    let address = address_of(request.extensions());
    let fields = form::read(request).await?;
    if !cookie(&headers, DOOR).is_some_and(|door| secret::same(&door, fields.get("door"))) {
        return refuse(&app, &fields, StatusCode::FORBIDDEN, "This sign-in page was open too long. Try again.".to_owned()).await;
    }
    let (by_name, by_address) = (format!("name {}", fields.get("name").trim().to_lowercase()), format!("address {address}"));
    let now = app.clock.now();
    let _turn = secret::turn().await;
    if let Some(minutes) = must_wait(&app, [&by_name, &by_address], now).await? {
        let remark = format!("Too many tries that did not fit. Wait {minutes} min, then try again.");
        return refuse(&app, &fields, StatusCode::TOO_MANY_REQUESTS, remark).await;
    }
    match known(&app, fields.get("name").trim(), fields.get("password")).await? {
        Some(hand) => come_in(&app, &hand, &by_name, &inside(fields.get("back"))).await,
        None => turn_away(&app, &fields, [&by_name, &by_address], now).await,
    }
}

async fn turn_away(app: &App, fields: &Fields, tried: [&str; 2], now: Moment) -> Answer {
    let mut tx = app.ledger.begin().await?;
    hands::record_failure(&mut tx, tried, now).await?;
    tx.commit().await?;
    refuse(app, fields, StatusCode::UNPROCESSABLE_ENTITY, "Name and password do not fit together. Try again.".to_owned()).await
}

async fn refuse(app: &App, fields: &Fields, status: StatusCode, remark: String) -> Answer {
    let view = view(app, fields.get("name"), fields.get("back"), remark).await?;
    let mut response = with_door(app, &view, page(&view)?);
    *response.status_mut() = status;
    Ok(response)
}

async fn known(app: &App, name: &str, password: &str) -> Result<Option<hands::Hand>, Trouble> {
    let hand = hands::find(&mut *app.ledger.read().await?, name).await?;
    let fits = secret::fits_aside(password, hand.as_ref().map(|hand| hand.secret.as_str())).await;
    Ok(hand.filter(|_| fits))
}

async fn come_in(app: &App, hand: &hands::Hand, by_name: &str, back: &str) -> Answer {
    let (token, seal, now) = (secret::token(), secret::token(), app.clock.now());
    let mut tx = app.ledger.begin().await?;
    hands::open_session(&mut tx, &hand.name, &secret::remembered(&token), &seal, now, now.plus_hours(SESSION_HOURS)).await?;
    hands::forgive(&mut tx, by_name).await?;
    tx.commit().await?;
    let mut response = onward(back)?;
    set_cookie(&mut response, SESSION, &token, SESSION_HOURS * 3600, app.secure);
    Ok(response)
}

async fn sign_out(State(app): State<App>, headers: HeaderMap, Sealed(_): Sealed) -> Answer {
    if let Some(token) = cookie(&headers, SESSION) {
        let mut tx = app.ledger.begin().await?;
        hands::end_session(&mut tx, &secret::remembered(&token)).await?;
        tx.commit().await?;
    }
    let mut response = onward("/signin")?;
    set_cookie(&mut response, SESSION, "", 0, app.secure);
    Ok(response)
}

/// Only an address on this farm's own pages; anything else goes to Today.
fn inside(back: &str) -> String {
    if is_inside(back) { back.to_owned() } else { "/".to_owned() }
}
