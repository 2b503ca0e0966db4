//! Whether the report agrees with the money: from all that was paid to Cash out, and beside the bank.

use super::super::{
    account::Books,
    bills::{Item, Paid},
    figures::{Cell, Holds, Part, Table},
    lines::{Line, View},
    money::Money,
    months::span_said,
    wear::Span,
};

fn cash(lines: &[Line]) -> Money {
    lines.iter().filter(|line| line.views.has(View::Cash)).map(|line| line.amount).sum()
}

/// What a ticket took out of the tin or the bank, all of it: what a calf brought came in.
fn paid(own: &Paid) -> Money {
    match own.sort.as_str() {
        "calf kept" => Money::ZERO,
        "calf sold" => Money::cents(-own.amount.in_cents().abs()),
        _ => own.amount,
    }
}

/// Everything that went out in a span, whether for milk or not, in the order it is listed.
struct Out {
    tickets: Money,
    hired: Money,
    gear: Money,
    all: Money,
}

fn went_out(books: &Books, span: Span) -> Out {
    let tickets = books.tickets.iter().filter(|own| span.has(own.paid)).map(paid).sum();
    let hired = cash(&books.lines(Item::Hired, span));
    let bought: Money = books.gear.iter().filter(|own| span.has(own.bought)).map(|own| own.price).sum();
    let brought: Money = books.gear.iter().filter(|own| own.gone.is_some_and(|gone| span.has(gone))).map(|own| own.brought).sum();
    let gear = bought - brought;
    Out { tickets, hired, gear, all: tickets + hired + gear }
}

/// The tables.
pub(super) fn parts(books: &Books, span: Span) -> Vec<Part> {
    let columns = [("Money", Holds::Words, 5), ("Dollars", Holds::Figures, 2)];
    let mut table = Table::new("reconciled", &format!("From all that was paid to Cash out, {}", span_said(span)), &columns);
    let out = went_out(books, span);
    let for_milk: Money = Item::all().map(|item| cash(&books.lines(item, span))).sum();
    let mut row = |says: &str, amount: Money| table.rows.push(vec![Cell::says(says), Cell::says(amount.to_string())]);
    row("Tickets paid, less calves sold", out.tickets);
    row("Hired hands, with what the employer pays", out.hired);
    row("Gear and cows bought, less what they brought", out.gear);
    row("All that went out", out.all);
    row("Not for milk: heifers, the house, other work", for_milk - out.all);
    table.total = Some(vec![Cell::says("Cash out"), Cell::says(for_milk.to_string())]);
    let mut parts = vec![Part::Table(table)];
    parts.push(bank(books, span));
    parts
}

/// The bank's totals of the span beside what is written here.
fn bank(books: &Books, span: Span) -> Part {
    let columns = [
        ("Days", Holds::Words, 4),
        ("Bank and tin say", Holds::Figures, 2),
        ("Written here", Holds::Figures, 2),
        ("Not explained", Holds::Figures, 2),
    ];
    let mut table = Table::new("bank", "Beside the owner's own totals of what went out for the farm", &columns);
    for own in books.bank.iter().filter(|own| own.span.shared_with(span).days() > 0) {
        let here = went_out(books, own.span).all;
        let opens = format!("/records/bank_totals/{}", own.number);
        table.rows.push(vec![
            Cell::opening(span_said(own.span), &opens),
            Cell::opening(own.paid_out.to_string(), &opens),
            Cell::says(here.to_string()),
            Cell::says((own.paid_out - here).to_string()),
        ]);
    }
    if table.rows.is_empty() {
        let says = "No total of the bank is written down for these days. Write one under Costs, and every dollar that no ticket explains shows here.";
        return Part::Words(says.to_owned());
    }
    Part::Table(table)
}
