//! Jars owed back: who owes how many, what was lost, and what a jar costs each time it goes out.

use super::{App, Here, sheets};
use crate::{
    store::{books, empties},
    trade::transfers::{Account, by_household},
    web::{answer::Answer, rooms::Rooms, visitor::Who},
};

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new().look("/empties", Who::Owner, show).look("/empties.pdf", Who::Owner, pdf).look("/empties.csv", Who::Owner, csv).look(
        "/empties.json",
        Who::Owner,
        json,
    )
}

async fn sheet(here: &Here, form: sheets::Form) -> Answer {
    let mut db = here.app.ledger.read().await?;
    let deposits = by_household(&books::all(&mut db).await?, Account::JarDeposits);
    let out = empties::out(&mut db, here.zone().day(here.now), here.zone(), &deposits).await?;
    drop(db);
    sheets::answer(here, "People", out.sheet(), form, "/empties", "", ABOVE.to_owned()).await
}

/// Where what differs from an even swap is written down.
const ABOVE: &str = r#"<p class="finish"><a class="act" href="/records/empties/new?back=/empties">Write down empties</a></p>"#;

async fn show(here: Here) -> Answer {
    sheet(&here, sheets::Form::Page).await
}

async fn pdf(here: Here) -> Answer {
    sheet(&here, sheets::Form::Pdf).await
}

async fn csv(here: Here) -> Answer {
    sheet(&here, sheets::Form::Csv).await
}

async fn json(here: Here) -> Answer {
    sheet(&here, sheets::Form::Json).await
}
