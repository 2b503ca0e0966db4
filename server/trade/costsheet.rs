//! The report of what a half-gallon costs.
//!
//! One figure would mislead, so three stand together, over the last twelve months and whatever days were asked about, each
//! for the milk produced, fit to hand out, and handed out. The last is the headline: milk that reached nobody costs as
//! much as milk that did. Every figure opens the lines it is made of, and what is missing is said aloud.

use super::{
    account::{Books, from_tickets},
    bills::Item,
    costs::{Account, Gap, Per},
    figures::{Cell, Holds, Part, Sheet, Table},
    guessed::{self, Guessed},
    kinds::ASSUMED,
    lines::{Line, Sort, View},
    measure::{fixed, trimmed},
    money::Money,
    months::{Asked, month_shown, months_in, months_said, span_said},
    wear::{DAYS_A_YEAR, Span},
    went,
};
use rust_decimal::Decimal;

/// The sheet's title.
pub const TITLE: &str = "What a half-gallon costs";

/// What a view that cannot be worked out says in a table.
const NOT_COMPUTED: &str = "not computed";

/// What a view is called, in full.
#[must_use]
pub const fn view_said(view: View) -> &'static str {
    match view {
        View::Cash => "Cash out, less calves sold",
        View::Wear => "With wear: what was used up, with gear and cow wear",
        View::Hours => "With hours: all of it, with your own hours",
    }
}

/// The address that shows what a line of a span is made of; without a line, all of them.
#[must_use]
pub fn address(item: Option<Item>, span: Span) -> String {
    format!("/costs/lines/{}?from={}&to={}", item.map_or_else(|| "all".to_owned(), Item::word), span.from, span.to)
}

/// One of the three figures at the head of the report.
#[derive(Clone, Debug)]
pub struct Key {
    /// The view.
    pub view: View,
    /// What a half-gallon that reached a person cost, or why that is not known.
    pub each: Result<Decimal, Gap>,
    /// What the view comes to.
    pub total: Result<Money, Gap>,
    /// Where it opens.
    pub opens: String,
}

/// The three figures of the last twelve months.
#[must_use]
pub fn keys(books: &Books, asked: Asked) -> [Key; 3] {
    let account = books.account(asked.year);
    View::ALL.map(|view| Key { view, each: account.each(view, Per::Reached), total: account.total(view), opens: address(None, asked.year) })
}

/// The whole report.
#[must_use]
pub fn sheet(books: &Books, asked: Asked, farm: &str) -> Sheet {
    let (account, year) = (books.account(asked.span), books.account(asked.year));
    let mut parts: Vec<Part> = telling(books, &year, asked.year).into_iter().map(Part::Loud).collect();
    parts.push(Part::Table(views(
        "year",
        &format!("The last twelve months, {}: dollars, all of it and for each half-gallon", span_said(asked.year)),
        &year,
        asked.year,
        books.guessed(asked.year),
    )));
    if !asked.is_year() {
        parts.push(Part::Table(views(
            "span",
            &format!("The days asked about, {}: dollars, all of it and for each half-gallon", span_said(asked.span)),
            &account,
            asked.span,
            books.guessed(asked.span),
        )));
    }
    parts.extend(said(books, &account, asked).into_iter().map(Part::Words));
    parts.push(Part::Heading("What it is made of".to_owned()));
    parts.push(Part::Table(lines(books, &account, &year, asked)));
    parts.push(Part::Heading("Where the milk went".to_owned()));
    parts.extend(went::tables(&books.went(asked.span), asked.span).map(Part::Table));
    parts.push(Part::Heading("Month by month".to_owned()));
    parts.push(Part::Words(
        "A month alone swings wildly: hay is paid once, and a dry cow eats and gives nothing. Go by the twelve months.".to_owned(),
    ));
    parts.push(Part::Table(by_month(books, asked)));
    parts.push(Part::Heading("What is assumed".to_owned()));
    parts.push(Part::Table(assumptions(books, asked.span)));
    let reached = |account: &Account| format!("{} half-gallons", fixed(account.milk.reached, 1));
    let mut facts = vec![("Farm".to_owned(), farm.to_owned()), ("Handed out".to_owned(), reached(&account))];
    if !asked.is_year() {
        facts.push(("Handed out in the twelve months".to_owned(), reached(&year)));
    }
    Sheet {
        name: format!("cost-{}-{}", asked.span.from, asked.span.to),
        title: TITLE.to_owned(),
        under: span_said(asked.span),
        facts,
        parts,
    }
}

/// The sentences that matter most.
fn telling(books: &Books, year: &Account, span: Span) -> Vec<String> {
    let mut loud = Vec::new();
    if let Ok(each) = year.each(View::Hours, Per::Reached) {
        loud.push(format!(
            "With your hours in it, a half-gallon that reached a person cost ${} over the last twelve months.",
            fixed(each, 2)
        ));
    }
    if let (Some(brings), Ok(hour)) = (books.brings(span.to), year.return_an_hour()) {
        let brings = fixed(brings, 2);
        loud.push(if hour < Decimal::ZERO {
            format!("At ${brings} a half-gallon every hour of yours cost you ${}.", fixed(-hour, 2))
        } else {
            format!("At ${brings} a half-gallon you earned ${} an hour.", fixed(hour, 2))
        });
    }
    loud
}

/// The three views of a span against the three amounts of milk.
fn views(name: &str, caption: &str, account: &Account, span: Span, guess: Guessed) -> Table {
    let columns = [
        ("View", Holds::Words, 5),
        ("All of it", Holds::Figures, 2),
        ("Produced", Holds::Figures, 2),
        ("Fit to hand out", Holds::Figures, 2),
        ("Handed out", Holds::Figures, 2),
    ];
    let mut table = Table::new(name, caption, &columns);
    for view in View::ALL {
        let opens = |says: Result<String, Gap>| match says {
            Ok(says) => Cell::opening(says, address(None, span)),
            Err(_) => Cell::says(NOT_COMPUTED),
        };
        let guess = view == View::Hours;
        let mut row = vec![Cell::says(view_said(view)), opens(account.total(view).map(|total| total.to_string())).guessed(guess)];
        row.extend(Per::ALL.map(|per| opens(account.each(view, per).map(|each| fixed(each, 2))).guessed(guess)));
        table.rows.push(row);
    }
    let mut milk = vec![Cell::says("Half-gallons it is divided by"), Cell::says("–")];
    milk.extend([went::Flow::Produced, went::Flow::Filled, went::Flow::HandedOut].into_iter().zip(Per::ALL).map(|(flow, per)| {
        Cell::opening(account.milk.of(per).map_or_else(|_| "none".to_owned(), |milk| fixed(milk, 1)), went::address(flow, span)).guessed(guess.is_in(per))
    }));
    table.rows.push(milk);
    table
}

/// What has to be said beside the figures: what they rest on, and what is missing.
fn said(books: &Books, account: &Account, asked: Asked) -> Vec<String> {
    let mut words = Vec::new();
    let share = |view| from_tickets(account, view).map(|share| format!("{}%", fixed(share, 0)));
    if let (Some(wear), Some(cash)) = (share(View::Wear), share(View::Cash)) {
        let hours = share(View::Hours).map(|hours| format!(", {hours} of With hours")).unwrap_or_default();
        words.push(format!(
            "From tickets and paid hours: {cash} of Cash out, {wear} of With wear{hours}. The rest is wear, unpaid hours and what was written as a guess, and stands in another ink."
        ));
    }
    words.push("Cash out leaves out what was paid for gear and for cows: With wear spreads that over their years.".to_owned());
    if let Ok(kept_back) = account.kept_back(View::Hours) {
        words.push(format!("${kept_back} of With hours went into milk that reached nobody."));
    }
    words.extend(books.guessed(asked.year).said(books.begun));
    words.extend(gaps(books, account));
    words.extend(missing(books, asked));
    words.extend(books.wrongs());
    words
}

/// Why a figure is not there, each reason once.
fn gaps(books: &Books, account: &Account) -> Vec<String> {
    let mut gaps: Vec<String> = Vec::new();
    let each = View::ALL.into_iter().flat_map(|view| Per::ALL.map(|per| account.each(view, per).err()));
    for gap in each.chain([account.return_an_hour().err()]).flatten() {
        let says = match gap {
            Gap::NoWage => "With hours is not computed: name what your hour is worth, under What is assumed.".to_owned(),
            Gap::NoReceipts => {
                "Name what a half-gallon brings, under What is assumed, and this report says what your hours earned.".to_owned()
            }
            other => other.to_string(),
        };
        if !gaps.contains(&says) {
            gaps.push(says);
        }
    }
    if books.tickets.is_empty() {
        gaps.push("No ticket is written down yet.".to_owned());
    }
    gaps
}

/// The months of the span and of the twelve for which something every month has is not written.
fn missing(books: &Books, asked: Asked) -> Vec<String> {
    let mut months = months_in(asked.year);
    months.extend(months_in(asked.span).into_iter().filter(|month| !asked.year.has(month.from) || !asked.year.has(month.to)));
    months.retain(|month| asked.since.is_none_or(|since| month.to >= since));
    months.sort_by_key(|month| month.from);
    let without = |has: &dyn Fn(Span) -> bool| months_said(&months.iter().copied().filter(|month| !has(*month)).collect::<Vec<_>>());
    let feed = without(&|month| {
        books.tickets.iter().any(|own| own.sort == "feed" && own.covers().is_some_and(|covers| covers.shared_with(month).days() > 0))
    });
    let hours = without(&|month| [false, true].into_iter().any(|hired| !books.minutes_in(month, hired).is_empty()));
    let mut said = Vec::new();
    if !feed.is_empty() {
        said.push(format!("No feed ticket for {feed}."));
    }
    if !hours.is_empty() {
        said.push(format!("No hours for {hours}."));
    }
    if let Some(since) = asked.since {
        if asked.year.from == since && asked.year.days() < i64::from(DAYS_A_YEAR) {
            said.push(format!(
                "Records start on {}: the twelve months are only {} days so far.",
                since.format("%-d %b %Y"),
                asked.year.days()
            ));
        }
        if asked.span.from < since {
            said.push(format!("Before {} nothing is written down.", since.format("%-d %b %Y")));
        }
    }
    said
}

/// What a line of the report comes to in one view, and whether any of it is a guess.
pub(super) fn of_item(books: &Books, account: &Account, item: Item, view: View, span: Span) -> (Result<Money, Gap>, bool) {
    if item == Item::Unpaid {
        let sum = |lines: Vec<Line>| lines.iter().filter(|line| line.sort == Sort::UnpaidHours).map(|line| line.amount).sum();
        let amount = if view == View::Hours && !account.unpaid.is_empty() { account.lines_in(view).map(sum) } else { Ok(Money::ZERO) };
        return (amount, true);
    }
    let lines = books.lines(item, span);
    let here = || lines.iter().filter(|line| line.views.has(view));
    (Ok(here().map(|line| line.amount).sum()), here().any(|line| line.guess))
}

/// Every line of the span in the three views, with the twelve months beside it.
fn lines(books: &Books, account: &Account, year: &Account, asked: Asked) -> Table {
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

/// The last twelve calendar months.
fn by_month(books: &Books, asked: Asked) -> Table {
    let columns = [
        ("Month", Holds::Words, 3),
        ("Made", Holds::Figures, 2),
        ("Handed out", Holds::Figures, 2),
        ("Cash out", Holds::Figures, 2),
        ("With wear", Holds::Figures, 2),
        ("With hours", Holds::Figures, 2),
    ];
    let mut table = Table::new("months", "The last twelve calendar months: milk in half-gallons, costs in dollars", &columns);
    for month in asked.months() {
        let (account, guess) = (books.account(month), books.guessed(month));
        let mut row = vec![
            Cell::says(month_shown(month)),
            Cell::opening(fixed(account.milk.produced, 1), went::address(went::Flow::Produced, month)).guessed(guess.is_in(Per::Produced)),
            Cell::opening(fixed(account.milk.reached, 1), went::address(went::Flow::HandedOut, month)).guessed(guess.is_in(Per::Reached)),
        ];
        row.extend(View::ALL.map(|view| match account.total(view) {
            Ok(total) => Cell::opening(total.to_string(), address(None, month)).guessed(view == View::Hours),
            Err(_) => Cell::says(NOT_COMPUTED),
        }));
        table.rows.push(row);
    }
    table
}

/// What the farm assumes, as it stood on the last day, each with the way to correct it or name it.
fn assumptions(books: &Books, span: Span) -> Table {
    let columns =
        [("What", Holds::Words, 3), ("Figure", Holds::Figures, 1), ("From", Holds::Words, 2), ("Where it comes from", Holds::Words, 5)];
    let mut table = Table::new("assumptions", &format!("As it stood on {}", span.to.format("%-d %b %Y")), &columns);
    // Milk is guessed by a new farm only; for any other there is nothing to name.
    let of_use = |name: &&&str| ![guessed::MADE, guessed::HANDED_OUT].contains(*name) || books.assumed(name, span.to).is_some();
    for name in ASSUMED.iter().filter(of_use) {
        table.rows.push(match books.assumed(name, span.to) {
            Some(own) => vec![
                Cell::opening(*name, format!("/records/assumptions/{}", own.number)),
                Cell::opening(trimmed(own.figure, 4), format!("/records/assumptions/{}", own.number)).guessed(true),
                Cell::says(own.since.to_string()),
                Cell::says(&own.note),
            ],
            None => {
                let address = format!("/records/assumptions/new?name={}&back=/costs", name.replace('%', "%25").replace(' ', "+"));
                vec![Cell::opening(*name, address), Cell::says("–"), Cell::says("–"), Cell::says("Not named yet")]
            }
        });
    }
    table
}
