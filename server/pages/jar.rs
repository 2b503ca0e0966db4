//! “Is my jar all right?”: anybody who reads a code off a lid may ask, without signing in, where the farm's record says so. It is told
//! in a word, names nobody, and is asked no oftener than a household would.

use super::{App, Here, OwnFrame};
use crate::{
    store::{jar, verdict},
    trade::{codes::LotCode, in_an_address, jar::Told, short},
    web::{
        answer::{Answer, Trouble, onward, page},
        limit::{Limiter, who},
        rooms::Rooms,
        visitor::Who,
    },
};
use askama::Template;
use axum::{
    extract::{ConnectInfo, Path, Query, Request},
    http::{HeaderValue, StatusCode, header::RETRY_AFTER},
};
use std::{collections::HashMap, net::SocketAddr, sync::Arc};

/// The doors of this file. They share one counter, which lives as long as the program.
#[must_use]
pub fn rooms() -> Rooms<App> {
    let limiter = Arc::new(Limiter::default());
    let asked = move |here: Here, Path(code): Path<String>, request: Request| tell(here, code, request, Arc::clone(&limiter));
    Rooms::new().look("/jar", Who::Anybody, ask).look("/jar/{code}", Who::Anybody, asked)
}

#[derive(Template)]
#[template(path = "jar/show.html")]
struct Show {
    frame: OwnFrame,
    /// What was typed.
    code: String,
    told: Option<Told>,
    next: Vec<String>,
    /// For how many seconds to wait, when it was asked too often.
    wait: Option<i64>,
}

/// Where the farm shows no such page, there is none, for anybody.
fn is_shown(here: &Here, path: &str) -> Result<(), Trouble> {
    if here.farm.lid_page { Ok(()) } else { Err(Trouble::NotThere(format!("There is no page at {}.", short(path)))) }
}

async fn ask(here: Here, Query(asked): Query<HashMap<String, String>>) -> Answer {
    is_shown(&here, "/jar")?;
    match asked.get("code").map(|code| code.trim()).filter(|code| !code.is_empty()) {
        Some(code) => onward(&format!("/jar/{}", in_an_address(&short(code)))),
        None => answer(&here, "", None, StatusCode::OK),
    }
}

async fn tell(here: Here, code: String, request: Request, limiter: Arc<Limiter>) -> Answer {
    is_shown(&here, request.uri().path())?;
    let connected = request.extensions().get::<ConnectInfo<SocketAddr>>();
    let asker = connected.map_or_else(|| "here".to_owned(), |ConnectInfo(address)| who(address.ip()));
    if let Err(seconds) = limiter.ask(&asker, here.now) {
        return too_often(&here, &code, seconds);
    }
    let told = told(&here, &code).await?;
    let status = if told == Told::NoCode { StatusCode::NOT_FOUND } else { StatusCode::OK };
    answer(&here, &code, Some(told), status)
}

/// What is told about a code. One that is wrong and one nobody ever filled are told alike, and no other code is offered.
async fn told(here: &Here, typed: &str) -> Result<Told, Trouble> {
    let Ok(code) = LotCode::parse(typed) else { return Ok(Told::NoCode) };
    let mut db = here.app.ledger.read().await?;
    let Some(asked) = jar::asked(&mut db, code.as_str(), here.now).await? else { return Ok(Told::NoCode) };
    let facts = verdict::facts(&mut db, &[asked.number], here.zone(), here.now).await?;
    Ok(facts.first().map_or(Told::NoCode, |facts| Told::of(asked.called_back, asked.held, facts, here.now)))
}

fn view(here: &Here, code: &str, told: Option<Told>) -> Show {
    let next = told.map_or_else(Vec::new, |told| told.next(&here.farm.phone, here.zone(), here.now));
    Show { frame: OwnFrame::of(here, "Is my jar all right?"), code: short(code), told, next, wait: None }
}

fn answer(here: &Here, code: &str, told: Option<Told>, status: StatusCode) -> Answer {
    let mut response = page(&view(here, code, told))?;
    *response.status_mut() = status;
    Ok(response)
}

fn too_often(here: &Here, code: &str, seconds: i64) -> Answer {
    let mut response = page(&Show { wait: Some(seconds), ..view(here, code, None) })?;
    *response.status_mut() = StatusCode::TOO_MANY_REQUESTS;
    if let Ok(after) = HeaderValue::from_str(&seconds.to_string()) {
        response.headers_mut().insert(RETRY_AFTER, after);
    }
    Ok(response)
}
