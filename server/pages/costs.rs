//! What a half-gallon costs, openable down to its tickets.

mod what_if;

use super::{
    App, Frame, Here,
    field::Field,
    sheets::{self, Form, form_of},
};
use crate::{
    store::costs,
    trade::{
        account::Books,
        bills::Item,
        costs::Gap,
        costsheet::{self, Key},
        figures::{Holds, Part},
        lines::View,
        measure::fixed,
        months::Asked,
        opened,
        picture::Mark,
        records::{Remark, Shape},
        wear::Span,
        went::Flow,
    },
    web::{
        answer::{Answer, Trouble, again, page},
        form::Fields,
        rooms::Rooms,
        visitor::Who,
    },
};
use askama::Template;
use axum::extract::{Path, Query};
use rust_decimal::Decimal;
use std::sync::Arc;

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new()
        .look("/costs", Who::Owner, show)
        .look("/costs.csv", Who::Owner, csv)
        .look("/costs.json", Who::Owner, json)
        .look("/costs.pdf", Who::Owner, pdf)
        .look("/costs/lines/{line}", Who::Owner, line)
        .look("/costs/milk/{flow}", Who::Owner, milk)
        .look("/costs/stores/{store}", Who::Owner, store)
        .and(what_if::rooms())
}

type Days = Query<Vec<(String, String)>>;

#[derive(Template)]
#[template(path = "costs/show.html")]
struct Show {
    frame: Frame,
    under: String,
    loud: Vec<String>,
    keys: Vec<KeyShown>,
    /// What stands before the first heading.
    first: Vec<Part>,
    chapters: Vec<Chapter>,
    fields: [Field; 2],
    remarks: Vec<Remark>,
    query: String,
    /// Whether nothing but guesses is written of what was paid.
    is_new: bool,
}

/// A heading of the report and what follows it. The first few stand open; the others unfold.
struct Chapter {
    heading: String,
    parts: Vec<Part>,
    open: bool,
}

/// So many chapters stand open: what a half-gallon takes, and the months.
const OPEN: usize = 2;

/// Parts the report at its headings.
fn chapters(parts: Vec<Part>) -> (Vec<Part>, Vec<Chapter>) {
    let (mut first, mut chapters): (Vec<Part>, Vec<Chapter>) = (Vec::new(), Vec::new());
    for part in parts {
        match (part, chapters.last_mut()) {
            (Part::Heading(heading), _) => {
                let open = chapters.len() < OPEN;
                chapters.push(Chapter { heading, parts: Vec::new(), open });
            }
            (Part::Loud(_), None) => {}
            (part, None) => first.push(part),
            (part, Some(chapter)) => chapter.parts.push(part),
        }
    }
    (first, chapters)
}

/// One of the four figures at the head, as it is drawn.
struct KeyShown {
    name: &'static str,
    sum: String,
    of: String,
    guess: bool,
    opens: String,
}

impl KeyShown {
    fn of(key: &Key) -> KeyShown {
        let name = match key.view {
            View::Cash => "Cash out, less calves sold",
            View::Wear => "With wear",
            View::Hours => "With hours",
        };
        let (sum, of) = match (&key.each, &key.total) {
            (Ok(each), Ok(total)) => (format!("${}", fixed(*each, 2)), format!("${total} in all")),
            (Err(Gap::NoWage), _) | (_, Err(_)) => ("–".to_owned(), "Name what your hour is worth".to_owned()),
            (Err(_), Ok(total)) => ("–".to_owned(), format!("${total}, and no milk handed out")),
        };
        KeyShown { name, sum, of, guess: key.guess && key.each.is_ok(), opens: key.opens.clone() }
    }

    /// What an hour of the family earned, beside the three costs.
    fn earned(books: &Books, year: Span) -> KeyShown {
        let account = books.account(year);
        let (sum, of) = match account.return_an_hour() {
            Ok(hour) if hour < Decimal::ZERO => (format!("−${}", fixed(-hour, 2)), "an hour cost you".to_owned()),
            Ok(hour) => (format!("${}", fixed(hour, 2)), "for each unpaid hour, all else paid".to_owned()),
            Err(gap) => ("–".to_owned(), gap.to_string()),
        };
        let opens = format!("/costs/lines/hours?from={}&to={}", year.from, year.to);
        KeyShown { name: "Earned an hour", sum, of, guess: true, opens }
    }
}

/// The days asked about, with remarks where they could not be read; then it is the last twelve months.
async fn asked(here: &Here, typed: &Fields) -> Result<(Asked, Vec<Remark>), Trouble> {
    let since = costs::since(&mut *here.app.ledger.read().await?).await?;
    let today = here.zone().day(here.now);
    Ok(match Asked::read(typed.get("from"), typed.get("to"), today, since) {
        Ok(asked) => (asked, Vec::new()),
        Err(remarks) => (Asked::year_to(today, since), remarks),
    })
}

/// Everything the whole report rests on.
async fn all_books(here: &Here, asked: Asked) -> Result<Arc<Books>, Trouble> {
    Ok(costs::at_hand(&here.app.ledger, here.zone(), &asked.spans(), &asked.spans_by_cow(), here.zone().day(here.now)).await?)
}

/// What the lines of one span rest on.
async fn books(here: &Here, span: Span) -> Result<Arc<Books>, Trouble> {
    Ok(costs::at_hand(&here.app.ledger, here.zone(), &[span], &[], here.zone().day(here.now)).await?)
}

fn query(asked: Asked) -> String {
    format!("from={}&to={}", asked.span.from, asked.span.to)
}

async fn show(here: Here, Query(typed): Days) -> Answer {
    let typed = Fields(typed);
    let (asked, remarks) = asked(&here, &typed).await?;
    if remarks.is_empty() {
        let shown = Fields::default().with("from", asked.span.from.to_string()).with("to", asked.span.to.to_string());
        page(&view(&here, asked, &shown, remarks).await?)
    } else {
        again(&view(&here, asked, &typed, remarks).await?)
    }
}

async fn view(here: &Here, asked: Asked, typed: &Fields, remarks: Vec<Remark>) -> Result<Show, Trouble> {
    let books = all_books(here, asked).await?;
    let sheet = costsheet::sheet(&books, asked, &here.farm.name);
    let loud = sheet.parts.iter().filter_map(|part| if let Part::Loud(says) = part { Some(says.clone()) } else { None }).collect();
    let (first, chapters) = chapters(sheet.parts);
    let keys = costsheet::keys(&books, asked).iter().map(KeyShown::of).chain([KeyShown::earned(&books, asked.year)]).collect();
    Ok(Show {
        frame: Frame::of(here, "Costs", costsheet::TITLE).await?,
        under: sheet.under,
        loud,
        keys,
        first,
        chapters,
        fields: [("from", "First day"), ("to", "Last day")].map(|(name, label)| Field::named(name, label, Shape::Day, typed, &remarks)),
        remarks,
        query: query(asked),
        is_new: books.tickets.iter().all(|own| own.guess),
    })
}

async fn csv(here: Here, typed: Days) -> Answer {
    printed(&here, typed, Form::Csv).await
}

async fn json(here: Here, typed: Days) -> Answer {
    printed(&here, typed, Form::Json).await
}

async fn pdf(here: Here, typed: Days) -> Answer {
    printed(&here, typed, Form::Pdf).await
}

async fn printed(here: &Here, Query(typed): Days, form: Form) -> Answer {
    let (asked, _) = asked(here, &Fields(typed)).await?;
    let books = all_books(here, asked).await?;
    let sheet = costsheet::sheet(&books, asked, &here.farm.name);
    sheets::answer(here, "Costs", sheet, form, "/costs", &query(asked), String::new()).await
}

async fn line(here: Here, Path(last): Path<String>, Query(typed): Days) -> Answer {
    let (word, form) = form_of(&last);
    let (asked, _) = asked(&here, &Fields(typed)).await?;
    let books = books(&here, asked.span).await?;
    let sheet = match Item::parse(word) {
        Some(item) => opened::line(&books, item, asked.span),
        None if word == "all" => opened::all(&books, asked.span),
        None => return Err(Trouble::NotThere("There is no such line in the costs.".to_owned())),
    };
    sheets::answer(&here, "Costs", sheet, form, &format!("/costs/lines/{word}"), &query(asked), back(asked)?).await
}

async fn milk(here: Here, Path(last): Path<String>, Query(typed): Days) -> Answer {
    let (word, form) = form_of(&last);
    let flow = Flow::parse(word).ok_or_else(|| Trouble::NotThere("Milk goes no such way here.".to_owned()))?;
    let (asked, _) = asked(&here, &Fields(typed)).await?;
    let went = books(&here, asked.span).await?.went(asked.span);
    let (moved, count) = costs::moved(&mut *here.app.ledger.read().await?, here.zone(), flow, asked.span).await?;
    let sheet = opened::milk(flow, &moved, count, &went, asked.span);
    sheets::answer(&here, "Costs", sheet, form, &format!("/costs/milk/{word}"), &query(asked), back(asked)?).await
}

async fn store(here: Here, Path(last): Path<String>, Query(typed): Days) -> Answer {
    let (word, form) = form_of(&last);
    let (asked, _) = asked(&here, &Fields(typed)).await?;
    let books = books(&here, asked.span).await?;
    let sheet = word.parse().ok().and_then(|number| opened::store(&books, number, asked.span));
    let sheet = sheet.ok_or_else(|| Trouble::NotThere("There is no such store.".to_owned()))?;
    sheets::answer(&here, "Costs", sheet, form, &format!("/costs/stores/{word}"), &query(asked), back(asked)?).await
}

#[derive(Template)]
#[template(path = "costs/back.html")]
struct Back {
    query: String,
}

/// The way back to the whole report of the same days.
fn back(asked: Asked) -> Result<String, Trouble> {
    Back { query: query(asked) }.render().map_err(|error| Trouble::Ours(error.to_string()))
}
