//! The twelve months one by one, the line that tells the year from the season, and the weeks.
//!
//! A month alone swings wildly: hay is paid once, and a dry cow eats and gives nothing. So every month stands beside the up to
//! twelve months that end with it: their cost over their milk, never the mean of twelve quotients.

use super::{
    super::{
        account::Books,
        costs::{Account, Gap, Per},
        drawn,
        figures::{Cell, Holds, Part, Table},
        lines::View,
        measure::fixed,
        months::{Asked, month_shown, span_said},
        wear::Span,
        went::{self, Flow},
    },
    NOT_COMPUTED, address,
};
use rust_decimal::Decimal;

/// A rolling figure over fewer days than these is no line yet.
const FEWEST: i64 = 85;

fn cell(says: Result<String, Gap>, span: Span, guess: bool) -> Cell {
    says.map_or_else(|_| Cell::says(NOT_COMPUTED), |says| Cell::opening(says, address(None, span)).guessed(guess))
}

fn each(account: &Account, view: View) -> Result<String, Gap> {
    account.each(view, Per::Reached).map(|each| fixed(each, 2))
}

/// What came in for each half-gallon that reached a person.
fn brought(account: &Account) -> Option<Decimal> {
    Some(account.receipts?.dollars() / account.milk.of(Per::Reached).ok()?)
}

/// The months: a picture of cost beside what comes in, and the table.
pub(super) fn months(books: &Books, asked: Asked) -> Vec<Part> {
    let columns = [
        ("Month", Holds::Words, 3),
        ("Made", Holds::Figures, 2),
        ("Handed out", Holds::Figures, 2),
        ("Cash out", Holds::Figures, 2),
        ("With wear", Holds::Figures, 2),
        ("With hours", Holds::Figures, 2),
        ("Each, this month", Holds::Figures, 2),
        ("Each, 12 months up to it", Holds::Figures, 2),
        ("Comes in, each", Holds::Figures, 2),
    ];
    let caption = "The last twelve calendar months: milk in half-gallons, costs in dollars. Each is with hours, for a half-gallon that reached a person";
    let mut table = Table::new("months", caption, &columns);
    let mut points = Vec::new();
    for (month, up_to) in asked.months().into_iter().zip(asked.rolling()) {
        let (own, year, guess) = (books.account(month), books.account(up_to), books.guessed(month));
        let mut row = vec![
            Cell::says(month_shown(month)),
            Cell::opening(fixed(own.milk.produced, 1), went::address(Flow::Produced, month)).guessed(guess.is_in(Per::Produced)),
            Cell::opening(fixed(own.milk.reached, 1), went::address(Flow::HandedOut, month)).guessed(guess.is_in(Per::Reached)),
        ];
        row.extend(View::ALL.map(|view| cell(own.total(view).map(|total| total.to_string()), month, view == View::Hours)));
        row.push(cell(each(&own, View::Hours), month, true));
        row.push(cell(each(&year, View::Hours), up_to, true));
        row.push(brought(&year).map_or_else(|| Cell::says(NOT_COMPUTED), |brought| Cell::says(fixed(brought, 2))));
        table.rows.push(row);
        let there = up_to.days() >= FEWEST;
        let cost = year.each(View::Hours, Per::Reached).ok().filter(|_| there);
        points.push((month.from.format("%b").to_string(), cost, brought(&year).filter(|_| there)));
    }
    let picture = drawn::two_lines("Twelve-month cost of a half-gallon, and what comes in", &points);
    let words = "Each point is the up to twelve months that end there: their cost over their milk. Go by that line, and by no month alone.";
    picture.map(Part::Picture).into_iter().chain([Part::Words(words.to_owned()), Part::Table(table.long())]).collect()
}

/// The weeks: milk made against milk handed out.
pub(super) fn weeks(books: &Books, asked: Asked) -> Vec<Part> {
    let columns = [("Week from", Holds::Words, 3), ("Made", Holds::Figures, 2), ("Handed out", Holds::Figures, 2)];
    let caption = format!("Half-gallons made and handed out by week, {}", span_said(asked.year));
    let mut table = Table::new("weeks", &caption, &columns);
    let mut drawn_weeks = Vec::new();
    for week in asked.weeks() {
        let milk = books.went(week).milk();
        table.rows.push(vec![
            Cell::says(week.from.to_string()),
            Cell::opening(fixed(milk.produced, 1), went::address(Flow::Produced, week)),
            Cell::opening(fixed(milk.reached, 1), went::address(Flow::HandedOut, week)),
        ]);
        drawn_weeks.push((week.from.format("%-d %b").to_string(), milk.produced, milk.reached));
    }
    let picture = drawn::weeks("Half-gallons made and handed out, by week", &drawn_weeks);
    picture.map(Part::Picture).into_iter().chain([Part::Table(table.long())]).collect()
}
