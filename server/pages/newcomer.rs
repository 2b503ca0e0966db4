//! The first honest number: a few questions for a farm with nothing written down, whose answers are kept as ordinary records.

use super::{App, Frame, Here, field::Field, kind_of, remarks_of};
use crate::{
    store::records,
    trade::{
        book::Book,
        newcomer::{Answers, GROUPS, Guess, KINDS, Known, Question, Written, guesses, is_new},
        records::{Cell, Remark, read},
        slips,
    },
    web::{
        answer::{Answer, Trouble, again, onward, page},
        form::{Fields, Sealed},
        rooms::Rooms,
        secret,
        visitor::Who,
    },
};
use askama::Template;
use sqlx::SqliteConnection;

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new().look("/costs/start", Who::Owner, show).send("/costs/start", Who::Owner, create)
}

#[derive(Template)]
#[template(path = "newcomer/show.html")]
struct Show {
    frame: Frame,
    entry: String,
    remarks: Vec<Remark>,
    guesses: Vec<Guess>,
    groups: Vec<(&'static str, Vec<Field>)>,
    /// Whether the questions are asked: they are of a farm with nothing but guesses, until all are answered.
    asks: bool,
}

/// What the ledger holds of the kinds the answers become.
async fn book(db: &mut SqliteConnection) -> Result<Book, Trouble> {
    let mut book = Book::default();
    for name in KINDS.into_iter().chain(["minutes"]) {
        book.records.insert(name, records::list(&mut *db, kind_of(name)?).await?);
    }
    Ok(book)
}

async fn view(here: &Here, typed: &Fields, remarks: Vec<Remark>) -> Result<Show, Trouble> {
    let book = book(&mut *here.app.ledger.read().await?).await?;
    let known = Known::of(&book);
    let mut groups = Vec::new();
    for group in GROUPS {
        // A question that was answered meanwhile is shown with what was typed, so that nothing is lost.
        let open = group.asks.iter().filter(|own| !known.has(own) || remarks.iter().any(|remark| remark.field == own.name));
        let field = |own: &Question| Field::named(own.name, own.label, own.shape, typed, &remarks).hinted(own.hint).in_unit(own.unit);
        let fields: Vec<Field> = open.map(field).collect();
        if !fields.is_empty() {
            groups.push((group.title, fields));
        }
    }
    let frame = Frame::of(here, "Costs", "A first number").await?;
    Ok(Show { frame, entry: typed.entry(), remarks, guesses: guesses(&book), groups, asks: is_new(&book) && !known.has_all() })
}

async fn show(here: Here) -> Answer {
    let begun = [("about", "last twelve months"), ("who", here.visitor.name.as_str()), ("gear_life", "10"), ("fridge_life", "10")];
    let typed = begun.into_iter().fold(Fields::default(), |typed, (name, value)| typed.with(name, value));
    page(&view(&here, &typed, Vec::new()).await?)
}

async fn create(here: Here, Sealed(typed): Sealed) -> Answer {
    match kept(&here, &typed).await? {
        Ok(()) => onward("/costs"),
        Err(remarks) => again(&view(&here, &typed, remarks).await?),
    }
}

/// Keeps everything the answers say in one act, or nothing.
async fn kept(here: &Here, typed: &Fields) -> Result<Result<(), Vec<Remark>>, Trouble> {
    let mut tx = here.app.ledger.begin().await?;
    if sent_before(&mut tx, typed.get("entry")).await? {
        return Ok(Ok(()));
    }
    let known = Known::of(&book(&mut tx).await?);
    let answers = Answers::read(|name| typed.get(name).to_owned(), &known, here.zone().day(here.now), here.farm.ways);
    let remarks = slips::unanswered(answers.remarks, |field| typed.is_sure(field));
    if !remarks.is_empty() {
        return Ok(Err(remarks));
    }
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    for (nth, own) in answers.written.into_iter().enumerate() {
        let entry = if nth == 0 { typed.get("entry").to_owned() } else { secret::entry_within(typed.get("entry"), nth) };
        let cells = match cells(here, &own)? {
            Ok(cells) => cells,
            Err(remarks) => return Ok(Err(remarks)),
        };
        if let Err(refusal) = records::keep(&mut tx, kind_of(own.kind)?, &entry, cells, &act).await {
            return Ok(Err(beside(own.field, remarks_of(refusal)?)));
        }
    }
    tx.commit().await?;
    Ok(Ok(()))
}

fn cells(here: &Here, own: &Written) -> Result<Result<Vec<Cell>, Vec<Remark>>, Trouble> {
    let said = |column: &str| own.cells.iter().find(|(name, _)| *name == column).map_or_else(String::new, |(_, says)| says.clone());
    Ok(read(kind_of(own.kind)?, said, here.farm.ways).map_err(|remarks| beside(own.field, remarks)))
}

/// What a record says of its cells, beside the question it comes from.
fn beside(field: &str, remarks: Vec<Remark>) -> Vec<Remark> {
    remarks.into_iter().map(|own| Remark { field: field.to_owned(), ..own }).collect()
}

/// Whether this very form was kept already: its first record carries the form's own mark.
async fn sent_before(tx: &mut SqliteConnection, entry: &str) -> Result<bool, Trouble> {
    for name in KINDS {
        if records::by_entry(&mut *tx, kind_of(name)?, entry).await?.is_some() {
            return Ok(true);
        }
    }
    Ok(false)
}
