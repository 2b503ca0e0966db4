//! What happened to a lot and to every lot its trouble may have spread to, as papers to send off.

use super::{
    App, Here,
    eventpapers::{Form, Wanted, answer},
};
use crate::{
    store::{Failure, lots, trace},
    trade::{
        callback::spread,
        codes::LotCode,
        near,
        trace::{Graph, LotId, Tie, Ties},
    },
    web::{
        answer::{Answer, Trouble},
        form::Fields,
        rooms::Rooms,
        visitor::Who,
    },
};
use axum::extract::{Path, Query};
use sqlx::SqliteConnection;

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new().look("/trace/{lot}/events.xlsx", Who::Owner, as_xlsx).look("/trace/{lot}/events.csv", Who::Owner, as_csv).look(
        "/trace/{lot}/epcis.json",
        Who::Owner,
        as_epcis,
    )
}

type Typed = Query<Vec<(String, String)>>;

async fn as_xlsx(here: Here, Path(lot): Path<String>, Query(asked): Typed) -> Answer {
    of_lot(here, &lot, &Fields(asked), Form::Xlsx).await
}

async fn as_csv(here: Here, Path(lot): Path<String>, Query(asked): Typed) -> Answer {
    of_lot(here, &lot, &Fields(asked), Form::Csv).await
}

async fn as_epcis(here: Here, Path(lot): Path<String>, Query(asked): Typed) -> Answer {
    of_lot(here, &lot, &Fields(asked), Form::Epcis).await
}

/// The events of a lot and of all it may have spread to, certain and possible. Names come only when they are asked for.
async fn of_lot(here: Here, typed: &str, asked: &Fields, form: Form) -> Answer {
    let mut db = here.app.ledger.read().await?;
    let lot = found(&mut db, typed).await?;
    let lots = spread_of(&mut db, lot.number).await?;
    let more = if lots.len() > 1 { ", and every lot it may have spread to, certain and possible" } else { "" };
    let (names, about) = (asked.get("names") == "yes", format!("Lot {}{more}", lot.code));
    answer(&mut db, &here, &lots, Wanted { of: lot.code, about, called: None, names, form }).await
}

/// The lot a typed code means.
async fn found(db: &mut SqliteConnection, typed: &str) -> Result<lots::Lot, Trouble> {
    if let Ok(code) = LotCode::parse(typed)
        && let Some(lot) = lots::find(db, code.as_str()).await?
    {
        return Ok(lot);
    }
    Err(Trouble::NotThere(near::unknown("lot", typed, std::iter::empty())))
}

/// The numbers of every lot trouble in this one may have spread to, itself among them.
async fn spread_of(db: &mut SqliteConnection, lot: i64) -> Result<Vec<i64>, Failure> {
    let lists = trace::lists(db).await?;
    let start = Ties::from([(LotId(lot), Tie::Certain("is the lot asked about".to_owned()))]);
    Ok(spread(&Graph::of(&lists), &start).lots.into_keys().map(|lot| lot.0).collect())
}
