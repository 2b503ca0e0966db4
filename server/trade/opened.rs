//! What one figure of the cost report is made of: a list in which every line opens its own record.

mod stores;

pub use stores::store;

use super::{
    account::{Books, store_lines, ticket_lines},
    bills::{Item, Owned, Paid, Spent},
    costsheet::{address, of_item, view_said},
    figures::{Cell, Holds, Part, Sheet, Table},
    lines::{Falls, Rates, View},
    measure::{POUNDS_A_GALLON, fixed, trimmed},
    money::Money,
    months::span_said,
    wear::Span,
    went::{Flow, Went},
    when::Day,
};
use rust_decimal::Decimal;

/// The most records on one list; the newest come first.
pub const MOST: usize = 500;

/// What a line of the report is made of.
#[must_use]
pub fn line(books: &Books, item: Item, span: Span) -> Sheet {
    let mut sheet = sheet_of(&item.said(), &item.word(), span);
    sheet.parts = match item {
        Item::Tickets(sort) => tickets(books, sort, span),
        Item::Hired | Item::Unpaid => minutes(books, item, span),
        Item::Gear | Item::Cows => wear(books, item == Item::Cows, span),
        Item::OwnLand => land(books, span),
    };
    sheet
}

/// Every line of a span in the three views.
#[must_use]
pub fn all(books: &Books, span: Span) -> Sheet {
    let account = books.account(span);
    let mut sheet = sheet_of("Every line", "all", span);
    for view in View::ALL {
        let columns = [("Line", Holds::Words, 5), ("Dollars", Holds::Figures, 2)];
        let mut table = Table::new(&format!("{view}").to_lowercase().replace(' ', "_"), view_said(view), &columns);
        match account.lines_in(view) {
            Err(gap) => table.when_empty = gap.to_string(),
            Ok(_) => {
                for item in Item::all() {
                    let (amount, guess) = of_item(books, &account, item, view, span);
                    if let Some(amount) = amount.ok().filter(|amount| *amount != Money::ZERO) {
                        let opens = || address(Some(item), span);
                        table
                            .rows
                            .push(vec![Cell::opening(item.said(), opens()), Cell::opening(amount.to_string(), opens()).guessed(guess)]);
                    }
                }
                table.when_empty = "Nothing in these days.".to_owned();
                table.total = account.total(view).ok().map(|total| vec![Cell::says("All"), Cell::says(total.to_string())]);
            }
        }
        sheet.parts.push(Part::Table(table));
    }
    sheet
}

fn sheet_of(title: &str, word: &str, span: Span) -> Sheet {
    Sheet { name: format!("cost-{word}-{}-{}", span.from, span.to), title: title.to_owned(), under: span_said(span), ..Sheet::default() }
}

fn tickets(books: &Books, sort: &str, span: Span) -> Vec<Part> {
    let columns = [
        ("Paid", Holds::Words, 2),
        ("What", Holds::Words, 4),
        ("From", Holds::Words, 3),
        ("Amount", Holds::Figures, 2),
        ("For milk, %", Holds::Figures, 1),
        ("Used", Holds::Words, 3),
        ("Cash out", Holds::Figures, 2),
        ("Used up", Holds::Figures, 2),
    ];
    let mut table = Table::new("tickets", "Tickets paid or used in these days, and what of each falls in them, in dollars", &columns);
    let (mut cash, mut used) = (Money::ZERO, Money::ZERO);
    for own in books.tickets.iter().rev().filter(|own| own.sort == sort) {
        let lines = ticket_lines(own, span);
        if lines.is_empty() {
            continue;
        }
        let [paid_here, used_here] =
            [View::Cash, View::Wear].map(|view| lines.iter().filter(|line| line.views.has(view)).map(|line| line.amount).sum());
        (cash, used) = (cash + paid_here, used + used_here);
        table.rows.push(ticket_row(own, paid_here, used_here));
    }
    table.when_empty = "No ticket of this sort was paid or used in these days.".to_owned();
    let blank = || Cell::says("");
    let sums = [Cell::says(cash.to_string()), Cell::says(used.to_string())];
    table.total = Some([Cell::says("All"), blank(), blank(), blank(), blank(), blank()].into_iter().chain(sums).collect());
    let how = "What was paid counts in Cash out on the day it was paid. What was used up counts in With wear and With hours, day by day over the days it was used, or as it leaves its store. Only the part for milk counts.";
    let mut parts = vec![Part::Table(table), Part::Words(how.to_owned())];
    parts.extend(from_stores(books, sort, span).map(Part::Table));
    parts.extend(reckoned(books, span).filter(|_| sort == "power").map(Part::Table));
    parts
}

/// What the stores of this sort gave out in the span, for milk.
fn from_stores(books: &Books, sort: &str, span: Span) -> Option<Table> {
    let columns = [("Store", Holds::Words, 4), ("For milk, %", Holds::Figures, 1), ("Used up", Holds::Figures, 2)];
    let mut table = Table::new("from_stores", "What left the stores in these days, for milk, in dollars", &columns);
    let mut all = Money::ZERO;
    for own in books.stocks.iter().filter(|own| own.store.sort == sort) {
        let opens = format!("/costs/stores/{}?from={}&to={}", own.store.number, span.from, span.to);
        for line in store_lines(own, span) {
            all = all + line.amount;
            let cow = if let Falls::OnCow(cow) = &line.falls { format!(", for {cow}") } else { String::new() };
            table.rows.push(vec![
                Cell::opening(format!("{}{cow}", line.name), &opens),
                Cell::says(own.store.milk_share.to_string()),
                Cell::opening(line.amount.to_string(), &opens).guessed(line.guess),
            ]);
        }
    }
    table.total = Some(vec![Cell::says("All"), Cell::says(""), Cell::says(all.to_string())]);
    (!table.rows.is_empty()).then_some(table)
}

/// The electricity of the months without a bill.
fn reckoned(books: &Books, span: Span) -> Option<Table> {
    let columns = [
        ("Month without a bill", Holds::Words, 4),
        ("Known by", Holds::Words, 3),
        ("kWh", Holds::Figures, 2),
        ("Dollars", Holds::Figures, 2),
    ];
    let mut table = Table::new("reckoned", "Electricity that no bill says yet", &columns);
    for own in books.power(span) {
        let (says, opens) =
            if own.by_meter { ("the meter", "/records/meter_readings") } else { ("the appliances' plates", "/records/appliances") };
        let cost = own.cost.map_or_else(|| "name the price of a kWh".to_owned(), |cost| cost.to_string());
        table.rows.push(vec![
            Cell::says(span_said(own.month)),
            Cell::opening(says, opens),
            Cell::says(fixed(own.drawn, 1)).guessed(true),
            Cell::says(cost).guessed(true),
        ]);
    }
    (!table.rows.is_empty()).then_some(table)
}

fn ticket_row(own: &Paid, paid_here: Money, used_here: Money) -> Vec<Cell> {
    let opens = format!("/records/tickets/{}", own.number);
    let used = match own.covers() {
        _ if own.store.is_some() => "as it leaves its store".to_owned(),
        _ if own.sort == "loan principal" => "paid back, not used".to_owned(),
        Some(days) if own.used_from.is_some() || own.used_to.is_some() => span_said(days),
        _ => "the same day".to_owned(),
    };
    vec![
        Cell::opening(own.paid.to_string(), &opens),
        Cell::opening(&own.what, &opens),
        Cell::says(if own.supplier.is_empty() { "–" } else { &own.supplier }),
        Cell::says(own.amount.to_string()).guessed(own.guess),
        Cell::says(own.milk_share.to_string()),
        Cell::says(used),
        Cell::says(paid_here.to_string()).guessed(own.guess),
        Cell::says(used_here.to_string()).guessed(own.guess),
    ]
}

fn minutes(books: &Books, item: Item, span: Span) -> Vec<Part> {
    let hired = item == Item::Hired;
    let columns =
        [("Job and who", Holds::Words, 4), ("Minutes", Holds::Figures, 2), ("Hours", Holds::Figures, 2), ("Dollars", Holds::Figures, 2)];
    let mut sums = Table::new("jobs", "By job and person", &columns);
    let wage = books.wage(span.to);
    let mut all = Money::ZERO;
    let spent = books.minutes_in(span, hired);
    let minutes: i64 = spent.iter().map(|own| own.minutes).sum();
    let hours = |minutes: i64| trimmed(Decimal::from(minutes) / super::lines::HOUR, 1);
    if hired {
        for line in books.lines(item, span) {
            let own: i64 = spent.iter().filter(|own| line.opens.contains(&own.opens)).map(|own| own.minutes).sum();
            all = all + line.amount;
            sums.rows.push(vec![
                Cell::says(&line.name),
                Cell::says(own.to_string()),
                Cell::says(hours(own)),
                Cell::says(line.amount.to_string()).guessed(line.guess),
            ]);
        }
    } else {
        for own in books.unpaid(span) {
            let amount = wage.map(|wage| own.at(wage).amount);
            all = all + amount.unwrap_or_default();
            let says = amount.map_or_else(|| "not computed".to_owned(), |amount| amount.to_string());
            sums.rows.push(vec![
                Cell::says(&own.name),
                Cell::says(own.minutes.to_string()).guessed(own.guess),
                Cell::says(hours(own.minutes)).guessed(own.guess),
                Cell::says(says).guessed(amount.is_some()),
            ]);
        }
    }
    sums.when_empty = "No minutes are written down for these days.".to_owned();
    let total = if hired || wage.is_some() { all.to_string() } else { "not computed".to_owned() };
    sums.total = Some([String::from("All"), minutes.to_string(), hours(minutes), total].into_iter().map(Cell::says).collect());
    let priced = match (hired, wage) {
        (true, _) => format!(
            "Each minute at the wage written with it, and {} % of payroll burden on top.",
            books.assumed("payroll burden %", span.to).map_or_else(|| "0".to_owned(), |own| trimmed(own.figure, 4))
        ),
        (false, Some(wage)) => format!("An hour at {wage} dollars, as named under What is assumed."),
        (false, None) => "Name what your hour is worth, under What is assumed, to see these in dollars.".to_owned(),
    };
    let records: Vec<&Spent> = spent.iter().collect();
    vec![Part::Table(sums), Part::Words(priced), Part::Table(records_of_minutes(&records))]
}

fn records_of_minutes(records: &[&Spent]) -> Table {
    let columns = [
        ("Day", Holds::Words, 3),
        ("Job", Holds::Words, 3),
        ("Who", Holds::Words, 3),
        ("Minutes", Holds::Figures, 2),
        ("Wage", Holds::Figures, 2),
    ];
    let mut table = Table::new("minutes", &newest(records.len()), &columns);
    for own in records.iter().rev().take(MOST) {
        table.rows.push(vec![
            Cell::opening(own.day.to_string(), &own.opens),
            Cell::says(&own.job),
            Cell::says(&own.person),
            Cell::says(own.minutes.to_string()).guessed(own.guess),
            Cell::says(own.wage.map_or_else(|| "–".to_owned(), |wage| wage.to_string())),
        ]);
    }
    table.when_empty = "None.".to_owned();
    table
}

/// How a list is headed that may be too long to show whole.
fn newest(count: usize) -> String {
    if count > MOST {
        format!("The newest {MOST} of {count} records; ask about fewer days to see the rest")
    } else {
        "Every record".to_owned()
    }
}

fn wear(books: &Books, cows: bool, span: Span) -> Vec<Part> {
    let mut columns = vec![
        ("What", Holds::Words, 4),
        ("Price", Holds::Figures, 2),
        ("At the end", Holds::Figures, 2),
        ("Years", Holds::Figures, 1),
        ("For milk, %", Holds::Figures, 1),
        ("Days of wear", Holds::Figures, 1),
        ("Wear", Holds::Figures, 2),
    ];
    columns.push(if cows { ("With risk of death and interest", Holds::Figures, 2) } else { ("Wear and interest", Holds::Figures, 2) });
    let mut table = Table::new("wear", "What wore in these days", &columns);
    let rates = books.rates(span.to);
    let (mut wear, mut hours) = (Money::ZERO, Money::ZERO);
    for own in books.gear.iter().filter(|own| own.is_cow == cows) {
        let Ok(lines) = own.lines(span, rates) else { continue };
        let sum = |view: View| lines.iter().filter(|line| line.views.has(view)).map(|line| line.amount).sum::<Money>();
        if !lines.is_empty() {
            (wear, hours) = (wear + sum(View::Wear), hours + sum(View::Hours));
            table.rows.push(gear_row(own, span, sum(View::Wear), sum(View::Hours)));
        }
    }
    table.when_empty = "Nothing wore in these days.".to_owned();
    let mut total = vec![Cell::says("All")];
    total.extend(std::iter::repeat_n(Cell::says(""), 5));
    total.extend([Cell::says(wear.to_string()), Cell::says(hours.to_string())]);
    table.total = Some(total);
    vec![
        Part::Table(table),
        Part::Words(how_it_wears(cows, rates)),
        Part::Words("With wear counts the wear; With hours counts the last column instead, never both.".to_owned()),
    ]
}

fn how_it_wears(cows: bool, rates: Rates) -> String {
    let percent = |rate: Decimal| trimmed(rate * Decimal::ONE_HUNDRED, 2);
    if cows {
        format!(
            "Wear is her price less what she brings at the end, over her years. With hours adds {} % a year for the risk of death and {} % interest, on the mean of the two.",
            percent(rates.deaths),
            percent(rates.interest)
        )
    } else {
        format!(
            "Wear is the price less what it brings at the end, spread over its years. With hours takes capital recovery at {} % a year: the same with interest in it.",
            percent(rates.interest)
        )
    }
}

fn gear_row(own: &Owned, span: Span, wear: Money, hours: Money) -> Vec<Cell> {
    let opens = format!("/records/gear/{}", own.number);
    vec![
        Cell::opening(&own.name, &opens),
        Cell::says(own.price.to_string()),
        Cell::says(own.salvage.to_string()),
        Cell::says(own.years.to_string()),
        Cell::says(own.milk_share.to_string()),
        Cell::says(own.days_in(span).unwrap_or_default().to_string()),
        Cell::opening(wear.to_string(), &opens).guessed(true),
        Cell::opening(hours.to_string(), &opens).guessed(true),
    ]
}

fn land(books: &Books, span: Span) -> Vec<Part> {
    let columns = [("What", Holds::Words, 4), ("Days", Holds::Figures, 2), ("Dollars", Holds::Figures, 2)];
    let mut table = Table::new("land", "What own land would bring in rent", &columns);
    if let Some(own) = books.assumed("own land a month", span.to) {
        let opens = format!("/records/assumptions/{}", own.number);
        let amount = Cell::opening(books.own_land(span).to_string(), &opens).guessed(true);
        table.rows.push(vec![
            Cell::opening(format!("{} a month: {}", fixed(own.figure, 2), own.note), &opens),
            Cell::says(span.days().to_string()),
            amount,
        ]);
    }
    table.when_empty = "No rent is named for own land.".to_owned();
    vec![Part::Table(table), Part::Words("It counts in With hours only: nobody sends a bill for it.".to_owned())]
}

/// One record of milk that came or went.
#[derive(Clone, Debug)]
pub struct Moved {
    /// The day.
    pub day: Day,
    /// The kind of record it is.
    pub kind: &'static str,
    /// Its number.
    pub number: i64,
    /// Which cow, lot or person.
    pub says: String,
    /// As it was written down.
    pub written: String,
    /// The same in half-gallons.
    pub half_gallons: Decimal,
}

/// What an amount of milk is made of. `count` is how many records there are in all.
#[must_use]
pub fn milk(flow: Flow, moved: &[Moved], count: usize, went: &Went, span: Span) -> Sheet {
    let mut sheet = sheet_of(&format!("Milk: {}", flow.said().to_lowercase()), &format!("milk-{}", flow.word()), span);
    let columns =
        [("Day", Holds::Words, 2), ("Record", Holds::Words, 4), ("As written", Holds::Words, 3), ("Half-gallons", Holds::Figures, 2)];
    let mut table = Table::new("milk", &newest(count), &columns);
    for own in moved {
        table.rows.push(vec![
            Cell::opening(own.day.to_string(), format!("/records/{}/{}", own.kind, own.number)),
            Cell::opening(&own.says, format!("/records/{}/{}", own.kind, own.number)),
            Cell::says(&own.written),
            Cell::says(fixed(own.half_gallons, 2)),
        ]);
    }
    table.when_empty = "None in these days.".to_owned();
    table.total = Some(vec![Cell::says("All"), Cell::says(""), Cell::says(""), Cell::says(fixed(went.of(flow), 2))]);
    sheet.parts =
        vec![Part::Table(table), Part::Words(format!("A half-gallon of milk is {} lb.", trimmed(POUNDS_A_GALLON / Decimal::TWO, 2)))];
    let back = went.of(Flow::Returned);
    if flow == Flow::HandedOut && back > Decimal::ZERO {
        let says = format!("{} came back, so {} reached a person.", fixed(back, 2), fixed(went.milk().reached, 2));
        sheet.parts.push(Part::Words(says));
    }
    sheet
}
