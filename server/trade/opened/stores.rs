//! What a store's cost is made of: everything that came, left, or was counted in the span, with the record behind each.

use super::super::{
    account::Books,
    bills::Paid,
    figures::{Cell, Holds, Part, Sheet, Table},
    measure::{Weight, fixed, trimmed},
    money::Money,
    need::Load,
    packs::Amount,
    stock::{Posted, Why},
    stores::Settled,
    wear::Span,
};
use super::sheet_of;
use rust_decimal::Decimal;
use std::collections::BTreeMap;

/// What a store took in and gave out in a span; none when there is no such store.
#[must_use]
pub fn store(books: &Books, number: i64, span: Span) -> Option<Sheet> {
    let own = books.stocks.iter().find(|own| own.store.number == number)?;
    let mut sheet = sheet_of(&format!("Store of {}", own.store.name), &format!("store-{number}"), span);
    sheet.facts = vec![
        ("Lies there by the book".to_owned(), own.left_said()),
        ("One is worth".to_owned(), own.each().unwrap_or_else(|| "nothing: none lies there".to_owned())),
        ("For milk".to_owned(), format!("{} %: you set this", own.store.milk_share)),
    ];
    if let Some(dry) = own.store.dry_matter {
        sheet
            .facts
            .push(("Dry matter, and wasted at feeding".to_owned(), format!("{} %, {} %", trimmed(dry, 1), trimmed(own.store.waste, 1))));
    }
    if let Some(load) = own.store.dry_matter.and_then(|dry| dry_load(own, dry)) {
        let says = format!("{} as it lies, {} as it is eaten", fixed(load.0, 4), fixed(load.1, 4));
        sheet.facts.push(("A pound of dry matter costs".to_owned(), says));
    }
    sheet.parts = own.wrongs.iter().cloned().map(Part::Loud).collect();
    sheet.parts.extend([Part::Table(came(books, own, span)), Part::Table(left(own, span))]);
    let how = "What is taken out takes its part of what the heap is worth, rounded once a day; so the cents that came in are the cents that left and those that lie there. A count posts what it found short, or over, at the same worth.";
    sheet.parts.push(Part::Words(how.to_owned()));
    Some(sheet)
}

/// What a pound of dry matter costs of what lies there, and of what is eaten once some was wasted.
fn dry_load(own: &Settled, dry: Decimal) -> Option<(Decimal, Decimal)> {
    let there = own.stock.left > Amount::ZERO && own.store.counted_in == "lb";
    let weight = Weight::pounds(own.stock.left.figure());
    let load = Load::of(own.stock.value, weight, dry).ok().filter(|_| there)?;
    Some((load.a_pound_dry(), load.losing(Decimal::ZERO, own.store.waste).ok()?.a_pound_eaten()))
}

fn came(books: &Books, own: &Settled, span: Span) -> Table {
    let columns = [("Paid", Holds::Words, 2), ("What", Holds::Words, 4), ("Came", Holds::Figures, 2), ("Dollars", Holds::Figures, 2)];
    let mut table = Table::new("came", "Tickets of these days", &columns);
    let mut all = Money::ZERO;
    for paid in books.tickets.iter().rev().filter(|paid| paid.store == Some(own.store.number) && span.has(paid.paid)) {
        let opens = format!("/records/tickets/{}", paid.number);
        all = all + paid.amount;
        table.rows.push(vec![
            Cell::opening(paid.paid.to_string(), &opens),
            Cell::opening(&paid.what, &opens),
            Cell::says(as_bought(paid)),
            Cell::says(paid.amount.to_string()).guessed(paid.guess),
        ]);
    }
    table.when_empty = "No ticket of it was paid in these days.".to_owned();
    table.total = Some(vec![Cell::says("All"), Cell::says(""), Cell::says(""), Cell::says(all.to_string())]);
    table
}

/// How much came, in the supplier's own units.
fn as_bought(paid: &Paid) -> String {
    paid.quantity.map_or_else(|| "–".to_owned(), |quantity| format!("{} {}", trimmed(quantity, 3), paid.unit))
}

/// What left, one row for each record behind it: a feeding that went on for months is one row.
fn left(own: &Settled, span: Span) -> Table {
    let columns = [
        ("First and last day", Holds::Words, 4),
        ("Why", Holds::Words, 3),
        ("How much", Holds::Figures, 2),
        ("Dollars", Holds::Figures, 2),
    ];
    let mut table = Table::new("left", "What left in these days", &columns);
    let mut rows: BTreeMap<(&str, Why), Vec<&Posted>> = BTreeMap::new();
    for posted in own.stock.in_span(span) {
        rows.entry((&posted.opens, posted.why)).or_default().push(posted);
    }
    let mut rows: Vec<_> = rows.into_iter().collect();
    rows.sort_by_key(|(_, posted)| posted.first().map(|own| own.day));
    let (mut amount, mut cost) = (Amount::ZERO, Money::ZERO);
    for ((opens, why), posted) in rows {
        let (Some(first), Some(last)) = (posted.first(), posted.last()) else { continue };
        let (some, worth) = (posted.iter().map(|own| own.amount).sum::<Amount>(), posted.iter().map(|own| own.cost).sum::<Money>());
        (amount, cost) = (amount + some, cost + worth);
        let days = if first.day == last.day { first.day.to_string() } else { format!("{} to {}", first.day, last.day) };
        let guess = posted.iter().any(|own| own.guess);
        table.rows.push(vec![
            Cell::opening(days, opens),
            Cell::says(said(why, first.cow.as_deref())),
            Cell::says(format!("{} {}", fixed(some.figure(), 1), own.store.counted_in)).guessed(guess),
            Cell::says(worth.to_string()).guessed(guess),
        ]);
    }
    table.when_empty = "Nothing left in these days.".to_owned();
    let all = [Cell::says(format!("{} {}", fixed(amount.figure(), 1), own.store.counted_in)), Cell::says(cost.to_string())];
    table.total = Some([Cell::says("All"), Cell::says("")].into_iter().chain(all).collect());
    table
}

fn said(why: Why, cow: Option<&str>) -> String {
    match (why, cow) {
        (Why::Used, Some(cow)) => format!("Used, for {cow}"),
        (Why::Used, None) => "Used".to_owned(),
        (Why::Counted, _) => "A count found it short, or over".to_owned(),
        (Why::PutRight, _) => "A ticket came for what was used before".to_owned(),
    }
}
