//! A household's statement as a page, a paper, a file and a letter; and everybody's on one paper.

use super::{Above, Days, day_fields, days, links, no_such_days, query, unread};
use crate::{
    pages::{
        App, Frame, Here,
        sheets::{self, form_of},
    },
    paper::{pdf, text},
    store::{books, farm, people},
    trade::{
        channels::Channel,
        figures::Sheet,
        in_an_address, near,
        pickups::WALK_IN,
        statement::{self, Statement, Whose},
        transfers::Transfer,
        wear::Span,
    },
    web::{
        answer::{Answer, Trouble, page, paper},
        form::Fields,
        rooms::Rooms,
        visitor::Who,
    },
};
use askama::Template;
use axum::extract::{Path, Query};
use sqlx::SqliteConnection;
use std::collections::HashMap;

/// The doors of this file.
pub(super) fn rooms() -> Rooms<App> {
    Rooms::new().look("/books/statements", Who::Owner, ask).look("/books/statements.pdf", Who::Owner, everybodys).look(
        "/books/{label}",
        Who::Owner,
        show,
    )
}

/// Who sends a statement, as it stands at the head of each.
fn sender(farm: &farm::Farm) -> String {
    let known = [farm.name.as_str(), &farm.address, &farm.phone].into_iter().filter(|own| !own.is_empty());
    known.collect::<Vec<_>>().join(", ")
}

/// A household's statement over some days, with the address it can be written to, if one is known.
///
/// # Errors
/// A sentence when nobody is called so, or the ledger cannot be read.
pub async fn sheet_of(db: &mut SqliteConnection, farm: &farm::Farm, label: &str, span: Span) -> Result<(Sheet, Option<String>), Trouble> {
    let everybody = people::list(&mut *db, span.to).await?;
    let Some(person) = everybody.iter().find(|own| own.taker.label.eq_ignore_ascii_case(label.trim())) else {
        let known = everybody.iter().map(|own| own.taker.label.as_str());
        return Err(Trouble::NotThere(near::unknown("member or walk-in", label, known)));
    };
    let own = books::of_household(&mut *db, person.taker.number).await?;
    let received = books::received(&mut *db, farm.ways.zone, span).await?.remove(&person.taker.number).unwrap_or_default();
    let shares = people::shares(db).await?;
    let way = Channel::parse(&person.channel).unwrap_or(WALK_IN);
    let whose = Whose::of(person.taker.number, &person.taker.label, &person.taker.name, way, &shares, span.to);
    let address = [&person.second_way, &person.phone].into_iter().find(|way| is_address(way)).cloned();
    let statement = Statement::of(whose, &own.iter().collect::<Vec<_>>(), span, received);
    Ok((statement.sheet(&sender(farm)), address))
}

/// Whether a way to reach somebody is an address to write to.
fn is_address(way: &str) -> bool {
    way.contains('@') && !way.trim().contains(char::is_whitespace)
}

/// A letter with a subject and the whole statement in it (RFC 6068): the household's own mail program sends it.
fn letter(to: &str, farm: &str, sheet: &Sheet) -> String {
    let body = text::print(sheet).replace('\n', "\r\n");
    let to = in_an_address(to.trim()).replace("%40", "@");
    format!("mailto:{to}?subject={}&body={}", in_an_address(&format!("Statement from {farm}")), in_an_address(&body))
}

async fn show(here: Here, Path(last): Path<String>, Query(typed): Days) -> Answer {
    let ((label, form), typed) = (form_of(&last), Fields(typed));
    let (span, remarks) = days(&here, &typed, statement::usual_first);
    let (sheet, to) = sheet_of(&mut *here.app.ledger.read().await?, &here.farm, label, span).await?;
    let own = statement::address(label);
    let coded = in_an_address(label);
    let mut acts = links(&[
        (&format!("/books/payment?person={coded}"), "Write down a payment"),
        (&format!("/books/write?person={coded}"), "Other entries"),
    ]);
    acts.extend(to.map(|to| (letter(&to, &here.farm.name, &sheet), format!("Mail it to {to}"))));
    acts.push((format!("/people/{coded}"), "Their page".to_owned()));
    let (fields, wrong) = (day_fields(&typed, span, &remarks), remarks.clone());
    let above = Above { address: "", fields, remarks, acts }.drawn()?;
    unread(sheets::answer(&here, "People", sheet, form, &own, &query(span), above).await, form, &wrong)
}

#[derive(Template)]
#[template(path = "books/statements.html")]
struct Ask {
    frame: Frame,
    above: String,
    query: String,
}

async fn ask(here: Here, Query(typed): Days) -> Answer {
    let typed = Fields(typed);
    let (span, remarks) = days(&here, &typed, statement::usual_first);
    let fields = day_fields(&typed, span, &remarks);
    let above = Above { address: "/books/statements", fields, remarks, acts: links(&[("/books", "The books")]) }.drawn()?;
    page(&Ask { frame: Frame::of(&here, "Costs", "Everybody's statements").await?, above, query: query(span) })
}

/// The statement of everybody with an entry up to the last day who is with the farm in those days or does not stand even.
async fn sheets_of_all(here: &Here, span: Span) -> Result<Vec<Sheet>, Trouble> {
    let mut db = here.app.ledger.read().await?;
    let (everybody, all) = (people::list(&mut db, span.to).await?, books::all(&mut db).await?);
    let (shares, received) = (people::shares(&mut db).await?, books::received(&mut db, here.zone(), span).await?);
    drop(db);
    let mut own: HashMap<i64, Vec<&Transfer>> = HashMap::new();
    for (person, transfer) in all.iter().filter_map(|own| Some((own.person?, own))) {
        own.entry(person).or_default().push(transfer);
    }
    let from = sender(&here.farm);
    let statement = |person: &people::Person| {
        let taker = &person.taker;
        let entries = own.get(&taker.number)?;
        let way = Channel::parse(&person.channel).unwrap_or(WALK_IN);
        let whose = Whose::of(taker.number, &taker.label, &taker.name, way, &shares, span.to);
        let statement = Statement::of(whose, entries, span, received.get(&taker.number).copied().unwrap_or_default());
        let quiet = statement.lines.is_empty() && statement::said(statement.closing) == "even";
        (!quiet).then(|| statement.sheet(&from))
    };
    Ok(everybody.iter().filter_map(statement).collect())
}

async fn everybodys(here: Here, Query(typed): Days) -> Answer {
    let (span, remarks) = days(&here, &Fields(typed), statement::usual_first);
    if !remarks.is_empty() {
        return Err(no_such_days(&remarks));
    }
    let (sheets, made) = (sheets_of_all(&here, span).await?, here.zone().in_full(here.now));
    if sheets.is_empty() {
        return Err(Trouble::NotThere("Nobody has a line in those days, so there is no statement to print.".to_owned()));
    }
    let drawn = tokio::task::spawn_blocking(move || pdf::print_all(&sheets, "Statements", &made)).await;
    let bytes = drawn.map_err(|error| Trouble::Ours(error.to_string()))?.map_err(|fault| Trouble::Ours(fault.to_string()))?;
    paper(bytes, "application/pdf", &format!("statements-{}-{}.pdf", span.from, span.to))
}
