//! What a half-gallon takes, for the wall or for a member who asks.

use super::{
    App, Here,
    sheets::{self, Form},
};
use crate::{
    store::{Failure, costs, farm},
    trade::{figures::Sheet, months::Asked, takes, wear::Span},
    web::{answer::Answer, form::Fields, rooms::Rooms, visitor::Who},
};
use axum::extract::Query;
use sqlx::SqliteConnection;

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new()
        .look("/costs/members", Who::Owner, show)
        .look("/costs/members.csv", Who::Owner, csv)
        .look("/costs/members.json", Who::Owner, json)
        .look("/costs/members.pdf", Who::Owner, pdf)
}

type Days = Query<Vec<(String, String)>>;

/// The sheet of a span, as the page and the program's own report both print it.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn sheet_of(db: &mut SqliteConnection, farm: &farm::Farm, span: Span) -> Result<Sheet, Failure> {
    let zone = farm.ways.zone;
    let books = costs::books(&mut *db, zone, &[span], &[], span.to).await?;
    let milked = costs::milked(db, zone, span).await?;
    Ok(takes::sheet(&books, span, &farm.name, &milked.herd, milked.has_members))
}

async fn show(here: Here, days: Days) -> Answer {
    printed(&here, days, Form::Page).await
}

async fn csv(here: Here, days: Days) -> Answer {
    printed(&here, days, Form::Csv).await
}

async fn json(here: Here, days: Days) -> Answer {
    printed(&here, days, Form::Json).await
}

async fn pdf(here: Here, days: Days) -> Answer {
    printed(&here, days, Form::Pdf).await
}

/// The sheet of the days asked about; days that cannot be read are the last twelve months.
async fn printed(here: &Here, Query(typed): Days, form: Form) -> Answer {
    let (typed, today) = (Fields(typed), here.zone().day(here.now));
    let mut db = here.app.ledger.read().await?;
    let since = costs::since(&mut db).await?;
    let asked = Asked::read(typed.get("from"), typed.get("to"), today, since).unwrap_or_else(|_| Asked::year_to(today, since));
    let sheet = sheet_of(&mut db, &here.farm, asked.span).await?;
    drop(db);
    let query = format!("from={}&to={}", asked.span.from, asked.span.to);
    sheets::answer(here, "Costs", sheet, form, "/costs/members", &query, String::new()).await
}
