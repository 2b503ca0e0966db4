//! A practice call-back: the program picks a past lot, tells its story, and times whoever practises. From there it is the same
//! pages as in earnest, except that nothing can be rung or sent from them.

use super::{App, Frame, Here};
use crate::{
    store::practice,
    trade::practice::picked,
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
    Rooms::new().look("/practice", Who::Owner, show)
}

#[derive(Template)]
#[template(path = "callbacks/practice.html")]
struct Practice {
    frame: Frame,
    code: Option<String>,
    done: Vec<(i64, String, String)>,
    entry: String,
}

/// How far back the lot may lie: fresh enough that its people are still here, old enough that nobody has it in mind.
const FROM_DAYS: i64 = 45;
const TO_DAYS: i64 = 10;

async fn show(here: Here) -> Answer {
    let mut db = here.app.ledger.read().await?;
    let span = (here.now.plus_hours(-FROM_DAYS * 24), here.now.plus_hours(-TO_DAYS * 24));
    let past = practice::past(&mut db, span.0, span.1).await?;
    let done = practice::done(&mut db).await?;
    drop(db);
    let code = picked(past, here.zone().day(here.now)).map(|own| own.code);
    let done = done.into_iter().map(|(number, at, says)| (number, here.zone().in_full(at), says)).collect();
    page(&Practice { frame: Frame::of(&here, "Binder", "Practice call-back").await?, code, done, entry: secret::entry() })
}
