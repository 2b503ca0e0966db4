//! The calendar: everything that is due, by month, each line one tap from writing it down; and the same as a file.

use super::{App, Frame, Here};
use crate::{
    paper::ics,
    store::calendar,
    trade::calendar::{About, Due, by_month, list, not_known},
    web::{
        answer::{Answer, page, paper},
        rooms::Rooms,
        visitor::Who,
    },
};
use askama::Template;

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new().look("/calendar", Who::Owner, show).look("/calendar.ics", Who::Owner, file)
}

#[derive(Template)]
#[template(path = "calendar/show.html")]
struct Show {
    frame: Frame,
    due: Vec<Due>,
    today: crate::trade::when::Day,
    not_known: Vec<String>,
}

impl Show {
    fn months(&self) -> Vec<(String, Vec<&Due>)> {
        by_month(&self.due, self.today)
    }
}

async fn show(here: Here) -> Answer {
    let facts = calendar::facts(&mut *here.app.ledger.read().await?, here.zone(), here.now).await?;
    let frame = Frame::of(&here, "Binder", "Calendar").await?;
    page(&Show { frame, due: list(&facts), today: facts.today, not_known: not_known(&facts) })
}

async fn file(here: Here) -> Answer {
    let facts = calendar::facts(&mut *here.app.ledger.read().await?, here.zone(), here.now).await?;
    paper(ics::print(&list(&facts), &here.farm.name, here.now), "text/calendar; charset=utf-8", "calendar.ics")
}
