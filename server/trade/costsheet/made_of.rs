//! What a half-gallon is made of: eight parts anybody can read, and behind them every line in the three views.

use super::{
    super::{
        account::Books,
        apportion::to_the_whole,
        bills::Item,
        costs::{Account, Gap, Per},
        drawn,
        figures::{Cell, Holds, Part, Table},
        lines::View,
        measure::fixed,
        money::Money,
        months::{Asked, span_said},
        wear::Span,
    },
    NOT_COMPUTED, address, of_item,
};
use rust_decimal::Decimal;

/// The parts a half-gallon is made of, each with the lines it takes together.
const PARTS: [(&str, &[Item]); 8] = [
    ("Feed and bedding", &[Item::Tickets("feed"), Item::Tickets("bedding")]),
    ("Hands", &[Item::Hired, Item::Unpaid]),
    ("Gear and buildings", &[Item::Gear, Item::Tickets("repairs")]),
    ("Cows, less calves", &[Item::Cows, Item::Tickets("calf sold"), Item::Tickets("calf kept")]),
    ("Vet and breeding", &[Item::Tickets("vet"), Item::Tickets("breeding")]),
    ("Milk room: supplies, power, lab", &[Item::Tickets("supplies"), Item::Tickets("power"), Item::Tickets("lab")]),
    ("Jars and lids", &[Item::Tickets("jars and lids")]),
    ("Land, insurance, driving, other", &[]),
];

/// One part of a half-gallon.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// What it is called.
    pub name: &'static str,
    /// What it comes to.
    pub amount: Money,
    /// The same for each half-gallon that reached a person, in cents that add up; none where no milk did.
    pub each: Option<Money>,
    /// Whether some of it is a guess.
    pub guess: bool,
}

/// The parts of a view, in their order. They add up to the view, and what each half-gallon takes to what it takes in all.
///
/// # Errors
/// A gap for *with hours* when no wage is named.
pub fn pieces(books: &Books, account: &Account, view: View, span: Span) -> Result<Vec<Piece>, Gap> {
    account.total(view)?;
    let named: Vec<Item> = PARTS.iter().flat_map(|(_, items)| items.iter().copied()).collect();
    let mut pieces: Vec<Piece> = Vec::with_capacity(PARTS.len());
    for (name, items) in PARTS {
        let rest = items.is_empty();
        let mine = Item::all().filter(|item| if rest { !named.contains(item) } else { items.contains(item) });
        let mut piece = Piece { name, amount: Money::ZERO, each: None, guess: false };
        for item in mine {
            let (amount, guess) = of_item(books, account, item, view, span);
            let amount = amount?;
            piece.amount = piece.amount + amount;
            piece.guess |= guess && amount != Money::ZERO;
        }
        pieces.push(piece);
    }
    if let Ok(reached) = account.milk.of(Per::Reached) {
        let exact: Vec<Decimal> = pieces.iter().map(|own| Decimal::from(own.amount.in_cents()) / reached).collect();
        for (piece, cents) in pieces.iter_mut().zip(to_the_whole(&exact)) {
            piece.each = Some(Money::cents(cents));
        }
    }
    Ok(pieces)
}

/// The parts as a picture and a table: with hours where a wage is named, otherwise with wear.
pub(super) fn parts(books: &Books, account: &Account, span: Span) -> Vec<Part> {
    let view = if account.total(View::Hours).is_ok() { View::Hours } else { View::Wear };
    let Ok(pieces) = pieces(books, account, view, span) else { return Vec::new() };
    let columns =
        [("Part", Holds::Words, 5), ("Dollars", Holds::Figures, 2), ("Each", Holds::Figures, 2), ("Of a hundred", Holds::Figures, 2)];
    let caption = format!("The parts of a half-gallon that reached a person, {view}, {}", span_said(span));
    let mut table = Table::new("parts", &caption, &columns);
    let hundredths = to_the_whole(&hundreds(&pieces));
    for (own, share) in pieces.iter().zip(hundredths) {
        let each = own.each.map_or_else(|| NOT_COMPUTED.to_owned(), |each| each.to_string());
        table.rows.push(vec![
            Cell::says(own.name),
            Cell::opening(own.amount.to_string(), address(None, span)).guessed(own.guess),
            Cell::says(each).guessed(own.guess),
            Cell::says(share.to_string()),
        ]);
    }
    let all: Money = pieces.iter().map(|own| own.amount).sum();
    let each = pieces.iter().map(|own| own.each).sum::<Option<Money>>();
    let each = each.map_or_else(|| NOT_COMPUTED.to_owned(), |each| each.to_string());
    table.total = Some(vec![Cell::says("All"), Cell::opening(all.to_string(), address(None, span)), Cell::says(each), Cell::says("100")]);
    let drawn: Vec<(String, Money)> = pieces.iter().filter_map(|own| Some((own.name.to_owned(), own.each?))).collect();
    let picture = drawn::stacked(&format!("What a half-gallon takes, {view}"), &drawn);
    picture.map(Part::Picture).into_iter().chain([Part::Table(table)]).collect()
}

fn hundreds(pieces: &[Piece]) -> Vec<Decimal> {
    let all = Decimal::from(pieces.iter().map(|own| own.amount.in_cents()).sum::<i64>());
    pieces.iter().map(|own| (Decimal::from(own.amount.in_cents() * 100)).checked_div(all).unwrap_or_default()).collect()
}

/// Every line of the span in the three views, with the twelve months beside it.
pub(super) fn lines(books: &Books, account: &Account, year: &Account, asked: Asked) -> Table {
    let mut columns = vec![
        ("Line", Holds::Words, 4),
        ("Cash out", Holds::Figures, 2),
        ("With wear", Holds::Figures, 2),
        ("With hours", Holds::Figures, 2),
        ("Each, with hours", Holds::Figures, 2),
    ];
    if !asked.is_year() {
        columns.push(("12 months", Holds::Figures, 2));
        columns.push(("12 months, each", Holds::Figures, 2));
    }
    let beside = if asked.is_year() { "" } else { "; beside them the last twelve months with hours" };
    let caption = format!("{}, in dollars. Each is for a half-gallon handed out{beside}.", span_said(asked.span));
    let mut table = Table::new("lines", &caption, &columns);
    for item in Item::all() {
        let mut row = vec![Cell::opening(item.said(), address(Some(item), asked.span))];
        let cell = |amount: Result<String, Gap>, guess: bool, span: Span| match amount {
            Ok(says) if says == Money::ZERO.to_string() => Cell::says("–"),
            Ok(says) => Cell::opening(says, address(Some(item), span)).guessed(guess),
            Err(_) => Cell::says(NOT_COMPUTED),
        };
        let whole = |account: &Account, view, span| {
            let (amount, guess) = of_item(books, account, item, view, span);
            cell(amount.map(|amount| amount.to_string()), guess, span)
        };
        let each = |account: &Account, span| {
            let (amount, guess) = of_item(books, account, item, View::Hours, span);
            let each = amount.and_then(|amount| Ok(fixed(amount.dollars() / account.milk.of(Per::Reached)?, 2)));
            cell(each, guess, span)
        };
        row.extend(View::ALL.map(|view| whole(account, view, asked.span)));
        row.push(each(account, asked.span));
        if !asked.is_year() {
            row.extend([whole(year, View::Hours, asked.year), each(year, asked.year)]);
        }
        if row.iter().skip(1).any(|cell| cell.says != "–") {
            table.rows.push(row);
        }
    }
    table.total = Some(totals(account, year, asked));
    table
}

fn totals(account: &Account, year: &Account, asked: Asked) -> Vec<Cell> {
    let cell = |says: Result<String, Gap>, span| match says {
        Ok(says) => Cell::opening(says, address(None, span)),
        Err(_) => Cell::says(NOT_COMPUTED),
    };
    let total = |account: &Account, view, span| cell(account.total(view).map(|total| total.to_string()), span);
    let each = |account: &Account, span| cell(account.each(View::Hours, Per::Reached).map(|each| fixed(each, 2)), span);
    let mut row = vec![Cell::says("All")];
    row.extend(View::ALL.map(|view| total(account, view, asked.span)));
    row.push(each(account, asked.span));
    if !asked.is_year() {
        row.extend([total(year, View::Hours, asked.year), each(year, asked.year)]);
    }
    row
}
