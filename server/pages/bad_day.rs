//! A bad day: the one page to begin at. Stop the milk, then say what happened; each door leads a path that writes the same
//! records as everywhere else. What is open already stands here too, so that somebody else can go on with it.

use super::{App, Frame, Here};
use crate::{
    store::{callbacks, complaints, stops},
    trade::reach,
    web::{
        answer::{Answer, page},
        rooms::Rooms,
        secret,
        visitor::Who,
    },
};
use askama::Template;

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new().look("/bad-day", Who::Owner, show)
}

/// What can have happened: what to tap, what it is about, and where it leads.
const DOORS: [(&str, &str, &str); 6] = [
    ("Somebody is ill", "A call, a text, or your own table", "/complaints/new"),
    ("The lab found something", "A result that is over a limit, or germs; also a late one", "/bad-day/result"),
    ("A treated cow is in the can", "Or a cow that should have stayed out", "/bad-day/treated-cow"),
    ("The fridge was warm", "Left open, or no power", "/bad-day/fridge"),
    ("Something else: call milk back", "A wrong label, glass, a taste", "/callbacks/new"),
    ("Practise", "A past lot, timed; nobody is rung", "/practice"),
];

/// The parts of whom to ring, each with its link when it has one.
type Numbers = Vec<(String, Option<String>)>;

#[derive(Template)]
#[template(path = "badday/show.html")]
struct Show {
    frame: Frame,
    entry: String,
    everything: bool,
    doors: [(&'static str, &'static str, &'static str); 6],
    open: Vec<(i64, String, Vec<String>, bool)>,
    complaints: Vec<(i64, String, String)>,
    whom: Vec<(&'static str, Numbers)>,
}

async fn show(here: Here) -> Answer {
    let mut db = here.app.ledger.read().await?;
    let open = callbacks::list(&mut db).await?.into_iter().filter(|own| own.closed.is_none());
    let open: Vec<_> =
        open.map(|own| (own.number, format!("{}, {}", own.because, here.zone().shown(own.at)), own.lots, own.practice)).collect();
    let told = complaints::list(&mut db, 5).await?;
    let everything = stops::everything(&mut db).await?;
    drop(db);
    let open_ones = told.into_iter().filter(|own| own.answer("became of it").is_empty());
    let complaints = open_ones.map(|own| (own.number, own.called(), here.zone().shown(own.at))).collect();
    let frame = Frame::of(&here, "Binder", "A bad day").await?;
    page(&Show { frame, entry: secret::entry(), everything, doors: DOORS, open, complaints, whom: whom(&here) })
}

/// Whom to ring, as the farm's record has them.
fn whom(here: &Here) -> Vec<(&'static str, Numbers)> {
    let farm = &here.farm;
    [("Health department", &farm.health), ("Vet", &farm.vet), ("Insurer", &farm.insurer)]
        .into_iter()
        .map(|(who, says)| (who, reach::numbers(says)))
        .collect()
}
