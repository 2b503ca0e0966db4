//! The papers of a call-back: the packet with everything in it, how it stands, and where every jar is; each as a page, PDF, CSV
//! and JSON from one value.

use super::{App, Here, eventpapers, kind_of};
use crate::{
    pages::sheets::{self, Form, form_of},
    store::{callbacks, complaints, records},
    trade::{
        accounted,
        case::Case,
        events::{Called, Record},
        figures::{Part, Sheet},
        packet::Packet,
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
pub(super) fn rooms() -> Rooms<App> {
    Rooms::new().look("/callbacks/{number}/papers/{paper}", Who::Owner, drawn).look(
        "/callbacks/{number}/events/{sheet}",
        Who::Owner,
        events,
    )
}

/// What happened to its lots, as the sheet that can be sorted or the open standard's document: `sheet.xlsx`, `sheet.csv`,
/// `epcis.json`. Names stand in the sheet only when they are asked for.
async fn events(here: Here, Path((number, last)): Path<(i64, String)>, Query(asked): Query<Vec<(String, String)>>) -> Answer {
    let form = match last.as_str() {
        "sheet.xlsx" => eventpapers::Form::Xlsx,
        "sheet.csv" => eventpapers::Form::Csv,
        "epcis.json" => eventpapers::Form::Epcis,
        _ => return Err(Trouble::NotThere("That paper is sheet.xlsx, sheet.csv or epcis.json.".to_owned())),
    };
    let case = super::case(&here, number).await?;
    let lots: Vec<i64> = case.called().map(|own| own.number).collect();
    let names = Fields(asked).get("names") == "yes";
    let mut db = here.app.ledger.read().await?;
    let called = called(&mut db, &case).await?;
    let wanted = eventpapers::Wanted { of: format!("call-back-{number}"), about: case.title(), called, names, form };
    eventpapers::answer(&mut db, &here, &lots, wanted).await
}

/// The record that called the lots back, as an event of each; a practice called nothing back.
async fn called(db: &mut SqliteConnection, case: &Case) -> Result<Option<Called>, Trouble> {
    let kind = kind_of("callbacks")?;
    let found = records::find(db, kind, case.number).await?.filter(|_| !case.practice);
    Ok(found.map(|own| Called {
        record: Record {
            kind: "callbacks",
            number: own.number,
            version: own.version,
            entry: own.entry,
            written: own.written,
            who: own.who,
        },
        at: case.opened,
        because: case.because.clone(),
    }))
}

/// One paper, in the form its ending asks for: `packet.pdf`, `status`, `jars.csv`.
async fn drawn(here: Here, Path((number, last)): Path<(i64, String)>) -> Answer {
    let (name, form) = form_of(&last);
    let sheet = sheet(&here, number, name).await?;
    let address = format!("/callbacks/{number}/papers/{name}");
    answer(&here, sheet, form, &address).await
}

async fn answer(here: &Here, sheet: Sheet, form: Form, address: &str) -> Answer {
    sheets::answer(here, "Binder", sheet, form, address, "", String::new()).await
}

async fn sheet(here: &Here, number: i64, name: &str) -> Result<Sheet, Trouble> {
    let case = super::case(here, number).await?;
    let found = super::found(here, &case).await?;
    if name == "jars" {
        return Ok(Sheet {
            name: format!("jars-of-call-back-{number}"),
            title: format!("Where every jar is: {}", case.title()),
            under: "Mass balance by lot and size".to_owned(),
            facts: vec![("Lots".to_owned(), case.codes().join(", "))],
            parts: accounted::parts(&found.lots, &case.recipients, found.zone).into_iter().chain([Part::Words(counted())]).collect(),
        });
    }
    let mut db = here.app.ledger.read().await?;
    let told = match case.complaint {
        Some(number) => complaints::one(&mut db, number).await?,
        None => None,
    };
    let numbers: Vec<i64> = case.called().map(|own| own.number).collect();
    let holds = callbacks::holds(&mut db, &numbers).await?;
    drop(db);
    let packet = Packet { case: &case, found: &found, told: told.as_ref(), holds, insurer: here.farm.insurer.clone() };
    match name {
        "packet" => Ok(packet.sheet()),
        "status" => Ok(packet.status_sheet()),
        _ => Err(Trouble::NotThere(format!("A call-back has no paper called {name}."))),
    }
}

fn counted() -> String {
    "On hand is what was counted. Count the fridge by hand now: a subtracted figure always squares and says nothing.".to_owned()
}
