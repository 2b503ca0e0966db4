//! What a half-gallon costs, openable down to its tickets.

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
        chart::{Bar, bars},
        costs::Gap,
        costsheet::{self, Key},
        figures::{Holds, Part, Sheet},
        lines::View,
        measure::fixed,
        months::Asked,
        opened,
        records::{Remark, Shape},
        wear::Span,
        went::Flow,
    },
    web::{
        answer::{Answer, Trouble, again, page},
        form::Fields,
        rooms::Rooms,
        visitor::Role,
    },
};
use askama::Template;
use axum::extract::{Path, Query};

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new()
        .look("/costs", Role::Owner, show)
        .look("/costs.csv", Role::Owner, csv)
        .look("/costs.json", Role::Owner, json)
        .look("/costs.pdf", Role::Owner, pdf)
        .look("/costs/lines/{line}", Role::Owner, line)
        .look("/costs/milk/{flow}", Role::Owner, milk)
}

type Days = Query<Vec<(String, String)>>;

#[derive(Template)]
#[template(path = "costs/show.html")]
struct Show {
    frame: Frame,
    sheet: Sheet,
    keys: Vec<KeyShown>,
    bars: Vec<Bar>,
    fields: [Field; 2],
    remarks: Vec<Remark>,
    query: String,
    /// Whether nothing but guesses is written of what was paid.
    is_new: bool,
}

/// One of the three figures at the head, as it is drawn.
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
        KeyShown { name, sum, of, guess: key.view == View::Hours && key.each.is_ok(), opens: key.opens.clone() }
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

async fn books(here: &Here, spans: &[Span]) -> Result<Books, Trouble> {
    Ok(costs::books(&mut *here.app.ledger.read().await?, here.zone(), spans, spans, here.zone().day(here.now)).await?)
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
    let books = books(here, &asked.spans()).await?;
    Ok(Show {
        frame: Frame::of(here, "Costs", costsheet::TITLE).await?,
        sheet: costsheet::sheet(&books, asked, &here.farm.name),
        keys: costsheet::keys(&books, asked).iter().map(KeyShown::of).collect(),
        bars: bars(&books, asked),
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
    let sheet = costsheet::sheet(&books(here, &asked.spans()).await?, asked, &here.farm.name);
    sheets::answer(here, "Costs", sheet, form, "/costs", &query(asked), String::new()).await
}

async fn line(here: Here, Path(last): Path<String>, Query(typed): Days) -> Answer {
    let (word, form) = form_of(&last);
    let (asked, _) = asked(&here, &Fields(typed)).await?;
    let books = books(&here, &[asked.span]).await?;
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
    let mut db = here.app.ledger.read().await?;
    let went = costs::books(&mut db, here.zone(), &[asked.span], &[], asked.span.to).await?.went(asked.span);
    let (moved, count) = costs::moved(&mut db, here.zone(), flow, asked.span).await?;
    drop(db);
    let sheet = opened::milk(flow, &moved, count, &went, asked.span);
    sheets::answer(&here, "Costs", sheet, form, &format!("/costs/milk/{word}"), &query(asked), back(asked)?).await
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
