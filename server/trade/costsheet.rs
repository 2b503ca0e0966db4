//! The report of what a half-gallon costs.
//!
//! One figure would mislead, so three stand together, over the last twelve months and whatever days were asked about, each
//! for the milk produced, fit to hand out, and handed out. The last is the headline: milk that reached nobody costs as
//! much as milk that did. Every figure opens the lines it is made of, and what is missing is said aloud.

mod assumed;
mod cows;
mod kept;
mod made_of;
mod money;
mod over_time;
mod then;

pub use made_of::{Piece, pieces};

use super::{
    account::{Books, from_tickets},
    bills::Item,
    costs::{Account, Gap, Per},
    figures::{Cell, Holds, Part, Sheet, Table},
    guessed::Guessed,
    lines::{HOUR, Line, Sort, View},
    measure::fixed,
    money::Money,
    months::{Asked, months_in, months_said, span_said},
    wear::{DAYS_A_YEAR, Span},
    went,
    when::{Day, day_shown},
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
        View::Cash => "Cash out: what was paid, less calves sold",
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
    /// Whether it rests on a guess more than on tickets.
    pub guess: bool,
    /// Where it opens.
    pub opens: String,
}

/// Whether a view rests on guesses more than on tickets. With hours it always does: an hour is worth what somebody said it is.
fn is_guess(account: &Account, view: View) -> bool {
    view == View::Hours || from_tickets(account, view).is_some_and(|share| share < Decimal::from(50))
}

/// The three figures of the last twelve months.
#[must_use]
pub fn keys(books: &Books, asked: Asked) -> [Key; 3] {
    let account = books.account(asked.year);
    let milk = books.guessed(asked.year).is_in(Per::Reached);
    View::ALL.map(|view| Key {
        view,
        each: account.each(view, Per::Reached),
        total: account.total(view),
        guess: milk || is_guess(&account, view),
        opens: address(None, asked.year),
    })
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
    parts.push(Part::Table(earned(books, &account, &year, asked)));
    parts.extend(said(books, &account, asked).into_iter().map(Part::Words));
    let mut chapter = |heading: &str, own: Vec<Part>| {
        parts.push(Part::Heading(heading.to_owned()));
        parts.extend(own);
    };
    chapter("What a half-gallon takes", made_of::parts(books, &account, asked.span));
    chapter("Month by month", over_time::months(books, asked));
    chapter("Beside the year before", then::parts(books, asked));
    chapter("Line by line", vec![Part::Table(made_of::lines(books, &account, &year, asked))]);
    let milk = books.went(asked.span);
    let [pails, jars] = went::tables(&milk, asked.span);
    chapter("Where the milk went", [went::disposition(&milk, asked.span), pails, jars].map(Part::Table).to_vec());
    chapter("Week by week", over_time::weeks(books, asked));
    chapter("Cow by cow", cows::parts(books, &account, asked.span));
    chapter("Where the hours went", kept::hours(books, &account, asked.span));
    chapter("What lies in the stores", kept::stores(books, asked.span));
    chapter("Whether the feed fits the milk", kept::feed_check(books, asked));
    chapter("Whether it agrees with the money", money::parts(books, asked.span));
    let assumed = [Some(assumed::assumptions(books, asked.span)), assumed::choices(books, asked.span)];
    chapter("What is assumed", assumed.into_iter().flatten().map(Part::Table).collect());
    parts.push(Part::Words(HOW_ROUNDED.to_owned()));
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

/// What came in, what it left for the family's hours, and what that is an hour.
fn earned(books: &Books, account: &Account, year: &Account, asked: Asked) -> Table {
    let mut columns = vec![("Your hours", Holds::Words, 5), ("12 months", Holds::Figures, 2)];
    if !asked.is_year() {
        columns.push(("These days", Holds::Figures, 2));
    }
    let from_books = |span: Span| if books.came_in(span).is_some() { "/books".to_owned() } else { "/records/assumptions".to_owned() };
    let spans = [(year, asked.year), (account, asked.span)];
    let spans = spans.get(..columns.len() - 1).unwrap_or(&spans);
    let mut table = Table::new("earned", "What an hour of the family's earned, in dollars", &columns);
    let mut line = |says: &str, figure: &dyn Fn(&Account) -> Result<String, Gap>, opens: &dyn Fn(Span) -> String, guess: bool| {
        let cells = spans.iter().map(|(account, span)| match figure(account) {
            Ok(says) => Cell::opening(says, opens(*span)).guessed(guess),
            Err(_) => Cell::says(NOT_COMPUTED),
        });
        table.rows.push(std::iter::once(Cell::says(says)).chain(cells).collect());
    };
    let (costs, hours) = (|span| address(None, span), |span| address(Some(Item::Unpaid), span));
    let minutes = |account: &Account| account.unpaid.iter().map(|own| own.minutes).sum::<i64>();
    let came = |account: &Account| account.receipts.ok_or(Gap::NoReceipts);
    // An hour is worth what somebody said it is, and a usual week is no more than usual.
    let usual = spans.iter().any(|(account, _)| account.unpaid.iter().any(|own| own.guess));
    line("Came in", &|account| came(account).map(|money| money.to_string()), &from_books, false);
    line("All costs but your hours", &|account| Ok((came(account)? - account.return_to_hours()?).to_string()), &costs, false);
    line("Left for your hours", &|account| account.return_to_hours().map(|money| money.to_string()), &costs, false);
    line("Unpaid hours", &|account| Ok(fixed(Decimal::from(minutes(account)) / HOUR, 1)), &hours, usual);
    line("Earned an hour", &|account| account.return_an_hour().map(|hour| fixed(hour, 2)), &hours, true);
    line("Left over, with hours", &|account| account.left_over(View::Hours).map(|money| money.to_string()), &costs, true);
    table
}

/// How the figures are rounded, said under them.
const HOW_ROUNDED: &str = "Every line is rounded once, half a cent away from nought, and sums are sums of rounded lines. What is split goes by the largest remainder, so the parts add up to the whole. A half-gallon of milk is 4.3 lb.";

/// The sentences that matter most.
fn telling(books: &Books, year: &Account, span: Span) -> Vec<String> {
    let mut loud = Vec::new();
    if let Ok(each) = year.each(View::Hours, Per::Reached) {
        loud.push(format!(
            "With your hours in it, a half-gallon that reached a person cost ${} over the last twelve months.",
            fixed(each, 2)
        ));
    }
    let from = match (books.came_in(span), books.brings(span.to)) {
        (Some(came), _) => format!("From the ${came} that came in"),
        (None, Some(brings)) => format!("At ${} a half-gallon", fixed(brings, 2)),
        (None, None) => return loud,
    };
    if let Ok(hour) = year.return_an_hour() {
        loud.push(if hour < Decimal::ZERO {
            format!("{from} every hour of yours cost you ${}.", fixed(-hour, 2))
        } else {
            format!("{from} you earned ${} an hour.", fixed(hour, 2))
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
        let is_guess = is_guess(account, view);
        let mut row = vec![Cell::says(view_said(view)), opens(account.total(view).map(|total| total.to_string())).guessed(is_guess)];
        row.extend(Per::ALL.map(|per| opens(account.each(view, per).map(|each| fixed(each, 2))).guessed(is_guess || guess.is_in(per))));
        table.rows.push(row);
    }
    let mut milk = vec![Cell::says("Half-gallons it is divided by"), Cell::says("–")];
    milk.extend([went::Flow::Produced, went::Flow::Filled, went::Flow::HandedOut].into_iter().zip(Per::ALL).map(|(flow, per)| {
        Cell::opening(account.milk.of(per).map_or_else(|_| "none".to_owned(), |milk| fixed(milk, 1)), went::address(flow, span))
            .guessed(guess.is_in(per))
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
    words.push(
        "Cash out is what was paid in these days, gear, cows and a winter's hay too. With wear is what was used up: feed as it was eaten, and gear and cows over their years. With hours adds your own hours, interest, and the rent of your own land.".to_owned(),
    );
    if let Some(came) = books.came_in(asked.span) {
        words.push(format!("${came} came in by the books of the households: boarding, milk at the gate, adjustments and write-offs. Shares and deposits are no income."));
    }
    if let Ok(kept_back) = account.kept_back(View::Hours) {
        words.push(format!("${kept_back} of With hours went into milk that reached nobody."));
    }
    words.extend(books.guessed(asked.year).said(books.begun));
    words.extend(gaps(books, account));
    words.extend(missing(books, asked));
    words.extend(ended(books, asked.year.to));
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
    let feed =
        without(&|month| {
            books.tickets.iter().any(|own| {
                own.sort == "feed" && own.store.is_none() && own.covers().is_some_and(|covers| covers.shared_with(month).days() > 0)
            }) || books.stocks.iter().any(|own| own.store.sort == "feed" && own.stock.in_span(month).next().is_some())
        });
    let hours = without(&|month| [true, false].into_iter().any(|hired| !books.minutes_in(month, hired).is_empty()));
    let mut said = Vec::new();
    if !feed.is_empty() {
        said.push(format!("No feed is written down for {feed}."));
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

/// A guess over so many days that it is missed when it ends.
const MISSED: i64 = 28;

/// What was guessed for days that ended a month ago or more, and of which nothing has been written since: it counts as nothing.
fn ended(books: &Books, last: Day) -> Option<String> {
    let mut over: Vec<(&str, Day)> = Vec::new();
    for own in books.tickets.iter().filter(|own| own.guess && own.store.is_none() && !own.is_income()) {
        let Some(covers) = own.covers().filter(|covers| covers.days() >= MISSED) else { continue };
        let since = Span { from: covers.to.succ_opt().unwrap_or(covers.to), to: last };
        if since.days() >= MISSED && books.tickets_of(&own.sort, since).next().is_none() {
            over.push((&own.what, covers.to));
        }
    }
    let first = over.iter().map(|(_, day)| *day).min()?;
    let names: Vec<&str> = over.iter().map(|(what, _)| *what).collect();
    Some(format!(
        "What was guessed ended on {} or after, and nothing has been written since: {}. Until a ticket comes the cost is too low by that.",
        day_shown(first),
        names.join(", ")
    ))
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
