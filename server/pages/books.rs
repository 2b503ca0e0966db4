//! The books: how they stand, a household's statement, and what a bookkeeper asks for. All of it is the owner's.

mod boarding;
mod entry;
mod statement;
mod tin;
mod undo;

pub use statement::sheet_of;

use super::{
    App, Here,
    field::Field,
    sheets::{self, Form, form_of},
};
use crate::{
    store::{books, farm::Farm, people},
    trade::{
        boarding::month_of,
        booksheet::{self, Called},
        entries,
        figures::Sheet,
        months::Asked,
        records::{Remark, Shape},
        wear::Span,
        when::{Day, Moment},
    },
    web::{
        answer::{Answer, Trouble},
        form::Fields,
        rooms::Rooms,
        visitor::Who,
    },
};
use askama::Template;
use axum::{
    extract::Query,
    http::{StatusCode, Uri},
};
use sqlx::SqliteConnection;

/// The doors of this file and of the acts beside it.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new()
        .look("/books", Who::Owner, overview)
        .look("/books.csv", Who::Owner, overview)
        .look("/books.json", Who::Owner, overview)
        .look("/books.pdf", Who::Owner, overview)
        .look("/books/trial-balance", Who::Owner, trial_balance)
        .look("/books/trial-balance.csv", Who::Owner, trial_balance)
        .look("/books/trial-balance.json", Who::Owner, trial_balance)
        .look("/books/trial-balance.pdf", Who::Owner, trial_balance)
        .look("/books/journal", Who::Owner, journal)
        .look("/books/journal.csv", Who::Owner, journal)
        .look("/books/journal.json", Who::Owner, journal)
        .look("/books/journal.pdf", Who::Owner, journal)
        .and(boarding::rooms())
        .and(entry::rooms())
        .and(tin::rooms())
        .and(undo::rooms())
        .and(statement::rooms())
}

type Days = Query<Vec<(String, String)>>;

/// What stands above a sheet of the books: what can be done, and the days that can be chosen.
#[derive(Template)]
#[template(path = "books/above.html")]
struct Above {
    /// Where the days are sent.
    address: &'static str,
    fields: Vec<Field>,
    remarks: Vec<Remark>,
    /// Buttons: address and words; the first is the usual act.
    acts: Vec<(String, String)>,
}

impl Above {
    fn drawn(&self) -> Result<String, Trouble> {
        self.render().map_err(|error| Trouble::Ours(error.to_string()))
    }
}

fn links(links: &[(&str, &str)]) -> Vec<(String, String)> {
    links.iter().map(|(address, says)| ((*address).to_owned(), (*says).to_owned())).collect()
}

/// The days asked about, from a first one where none was typed, with remarks where they could not be read.
fn days(here: &Here, typed: &Fields, first: impl Fn(Day) -> Day) -> (Span, Vec<Remark>) {
    let today = here.zone().day(here.now);
    let last = typed.get("to").trim().parse::<Day>().ok().filter(|to| *to <= today).unwrap_or(today);
    let from = if typed.get("from").trim().is_empty() { first(last).to_string() } else { typed.get("from").to_owned() };
    match Asked::read(&from, typed.get("to"), today, None) {
        Ok(asked) => (asked.span, Vec::new()),
        Err(remarks) => (Span { from: first(today), to: today }, remarks),
    }
}

/// The two fields that choose the days, with what was typed or what is shown.
fn day_fields(typed: &Fields, span: Span, remarks: &[Remark]) -> Vec<Field> {
    let shown = Fields::default().with("from", span.from.to_string()).with("to", span.to.to_string());
    let typed = if remarks.is_empty() { &shown } else { typed };
    [("from", "First day"), ("to", "Last day")].map(|(name, label)| Field::named(name, label, Shape::Day, typed, remarks)).into()
}

fn query(span: Span) -> String {
    format!("from={}&to={}", span.from, span.to)
}

fn no_such_days(remarks: &[Remark]) -> Trouble {
    Trouble::NoSuchDays(remarks.iter().map(|own| own.says.as_str()).collect::<Vec<_>>().join(" "))
}

/// A page that could not read its days says so with its status too; a file of other days than those asked for is none, so what
/// stood against them comes instead.
fn unread(answer: Answer, form: Form, remarks: &[Remark]) -> Answer {
    if remarks.is_empty() {
        return answer;
    }
    if form != Form::Page {
        return Err(no_such_days(remarks));
    }
    let mut answer = answer?;
    *answer.status_mut() = StatusCode::UNPROCESSABLE_ENTITY;
    Ok(answer)
}

/// What every household is called.
async fn called(db: &mut SqliteConnection, on: Day) -> Result<Called, Trouble> {
    let takers = people::takers(db, on).await?;
    Ok(takers.into_iter().map(|own| (own.number, (own.label, own.name))).collect())
}

/// How the books stand.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn overview_of(db: &mut SqliteConnection, farm: &Farm, now: Moment) -> Result<Sheet, Trouble> {
    let today = farm.ways.zone.day(now);
    let (all, called) = (books::all(&mut *db).await?, called(db, today).await?);
    let year = Asked::year_to(today, all.iter().map(|own| own.day).min());
    Ok(booksheet::overview(&all, &called, year.span, today, &farm.name))
}

async fn overview(here: Here, uri: Uri) -> Answer {
    let form = form_of(uri.path()).1;
    let sheet = overview_of(&mut *here.app.ledger.read().await?, &here.farm, here.now).await?;
    let acts = links(&[
        ("/books/payment", "Write down a payment"),
        ("/books/boarding", "Raise boarding"),
        ("/books/write", "Other entries"),
        ("/books/tin", "Count the cash tin"),
        ("/books/statements", "All statements"),
        ("/books/trial-balance", "Trial balance"),
        ("/books/journal", "Journal of entries"),
    ]);
    let above = Above { address: "", fields: Vec::new(), remarks: Vec::new(), acts }.drawn()?;
    sheets::answer(&here, "Costs", sheet, form, "/books", "", above).await
}

async fn trial_balance(here: Here, uri: Uri, Query(typed): Days) -> Answer {
    let (form, typed, today) = (form_of(uri.path()).1, Fields(typed), here.zone().day(here.now));
    let read = if typed.get("day").is_empty() { Ok(today) } else { entries::day(typed.get("day"), today) };
    let (on, remarks) = read.map_or_else(|remark| (today, vec![remark]), |on| (on, Vec::new()));
    let all = books::all(&mut *here.app.ledger.read().await?).await?;
    let shown = if remarks.is_empty() { Fields::default().with("day", on.to_string()) } else { typed };
    let fields = vec![Field::named("day", "On the evening of", Shape::Day, &shown, &remarks)];
    let wrong = remarks.clone();
    let above = Above { address: "/books/trial-balance", fields, remarks, acts: links(&[("/books", "The books")]) }.drawn()?;
    let sheet = booksheet::trial_balance(&all, on, &here.farm.name);
    let answer = sheets::answer(&here, "Costs", sheet, form, "/books/trial-balance", &format!("day={on}"), above).await;
    unread(answer, form, &wrong)
}

async fn journal(here: Here, uri: Uri, Query(typed): Days) -> Answer {
    let (form, typed) = (form_of(uri.path()).1, Fields(typed));
    let (span, remarks) = days(&here, &typed, |last| month_of(last).from);
    let mut db = here.app.ledger.read().await?;
    let (all, called) = (books::all(&mut db).await?, called(&mut db, span.to).await?);
    drop(db);
    let (fields, wrong) = (day_fields(&typed, span, &remarks), remarks.clone());
    let above = Above { address: "/books/journal", fields, remarks, acts: links(&[("/books", "The books")]) }.drawn()?;
    let sheet = booksheet::journal(&all, &called, span, &here.farm.name);
    unread(sheets::answer(&here, "Costs", sheet, form, "/books/journal", &query(span), above).await, form, &wrong)
}
