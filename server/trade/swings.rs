//! What moves the price most: one driver at a time a fifth down and a fifth up, all else as it is, each worked out again.
//!
//! It is a question, not a chance: nothing says how likely either end is, and two drivers may well move together.

use super::{
    account::Books,
    costs::{Account, Gap, Per},
    figures::{Cell, Holds, Table},
    lines::View,
    measure::fixed,
    stores::UsedBy,
    wear::Span,
    what_if::{Change, Changes},
};
use rust_decimal::Decimal;
use std::fmt;

/// What is moved up and down, all else staying as it was.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Input {
    /// What is paid for feed.
    Feed,
    /// What an hour costs: hired hands, and what an unpaid hour is worth.
    Hours,
    /// The half-gallons that reach people. Hours and cows do not move with them, so less milk hurts more than more milk helps.
    Milk,
    /// The jars that break or stay away.
    JarsLost,
    /// What the money could earn elsewhere.
    Interest,
    /// What is paid for machines and buildings.
    Gear,
}

impl Input {
    /// Every one.
    pub const ALL: [Input; 6] = [Input::Feed, Input::Hours, Input::Milk, Input::JarsLost, Input::Interest, Input::Gear];

    /// The changes that move it by a part of itself, such as a fifth; none when the farm has nothing of it.
    #[must_use]
    pub fn moved(self, books: &Books, span: Span, part: Decimal) -> Changes {
        let percent = part * Decimal::ONE_HUNDRED;
        let price = |name: &str| Change::Price(name.to_owned(), percent);
        Changes(match self {
            Input::Feed => vec![price("feed")],
            Input::Hours => vec![price("hired hands"), price("unpaid hours")],
            Input::Milk => {
                let a_week = books.went(span).milk().reached * Decimal::from(7) / Decimal::from(span.days().max(1));
                vec![Change::HandedOut(a_week * part)]
            }
            Input::JarsLost => lost(books).map(|(name, each)| Change::Use(name.to_owned(), each + each * part)).collect(),
            Input::Interest => {
                let rate = books.assumed("interest %", span.to);
                rate.map(|own| Change::Assumed(own.name.clone(), own.figure + own.figure * part)).into_iter().collect()
            }
            Input::Gear => vec![price("gear")],
        })
    }
}

/// The stores of jars of which each filling uses up a part, because so many in a hundred break or stay away.
pub(super) fn lost(books: &Books) -> impl Iterator<Item = (&str, Decimal)> {
    let jars = books.stores.iter().filter(|own| own.sort == "jars and lids" && own.used_by == UsedBy::Jar);
    jars.filter(|own| Decimal::ZERO < own.used_amount && own.used_amount < Decimal::ONE).map(|own| (own.name.as_str(), own.used_amount))
}

impl fmt::Display for Input {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Input::Feed => "Price of feed",
            Input::Hours => "Worth of an hour, and wages",
            Input::Milk => "Milk handed out",
            Input::JarsLost => "Jars lost",
            Input::Interest => "Interest",
            Input::Gear => "Price of gear",
        })
    }
}

/// What a half-gallon that reaches a person costs with a fifth less of something, and with a fifth more.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Swing {
    /// What is moved.
    pub input: Input,
    /// The cost with a fifth less.
    pub less: Decimal,
    /// The cost with a fifth more; nothing when there is not that much milk.
    pub more: Option<Decimal>,
}

impl Swing {
    /// The swing between two accounts, each worked out by itself.
    ///
    /// # Errors
    /// A gap when no milk reached a person, or no wage is named.
    pub fn between(input: Input, less: &Account, more: Option<&Account>, view: View) -> Result<Swing, Gap> {
        let more = more.map(|own| own.each(view, Per::Reached)).transpose()?;
        Ok(Swing { input, less: less.each(view, Per::Reached)?, more })
    }

    /// How far apart its ends are; where one is not there, how far the other is from what it costs now.
    #[must_use]
    pub fn width(self, base: Decimal) -> Decimal {
        (self.more.unwrap_or(base) - self.less).abs()
    }
}

/// What a half-gallon costs in a span now, and how far each driver moves that, the widest first. What moves nothing is left out.
///
/// # Errors
/// A gap when no milk reached a person, or no wage is named.
pub fn swings(books: &Books, span: Span, view: View) -> Result<(Decimal, Vec<Swing>), Gap> {
    let base = books.account(span).each(view, Per::Reached)?;
    let fifth = Decimal::new(2, 1);
    let account = |input: Input, part: Decimal| books.with(&input.moved(books, span, part), span).ok().map(|own| own.account(span));
    let mut swings = Vec::new();
    for input in Input::ALL {
        if let Some(less) = account(input, -fifth) {
            swings.push(Swing::between(input, &less, account(input, fifth).as_ref(), view)?);
        }
    }
    swings.retain(|own| own.width(base) > Decimal::ZERO);
    swings.sort_by_key(|own| std::cmp::Reverse(own.width(base)));
    Ok((base, swings))
}

/// The swings of a view as a table, or why there are none.
#[must_use]
pub fn table(found: &Result<(Decimal, Vec<Swing>), Gap>, view: View) -> Table {
    let columns = [
        ("One driver at a time", Holds::Words, 4),
        ("A fifth less", Holds::Figures, 2),
        ("As it is", Holds::Figures, 2),
        ("A fifth more", Holds::Figures, 2),
        ("Between them", Holds::Figures, 2),
    ];
    let caption = format!("{view}, in dollars for each half-gallon that reached a person, worked out again each time");
    let mut table = Table::new("swings", &caption, &columns);
    match found {
        Err(gap) => table.when_empty = gap.to_string(),
        Ok((base, swings)) => {
            table.when_empty = "Nothing is written down yet that could move it.".to_owned();
            table.rows = swings.iter().map(|own| row(*own, *base)).collect();
        }
    }
    table
}

fn row(own: Swing, base: Decimal) -> Vec<Cell> {
    let more = own.more.map_or_else(|| "not that much milk".to_owned(), |more| fixed(more, 2));
    [own.input.to_string(), fixed(own.less, 2), fixed(base, 2), more, fixed(own.width(base), 2)].map(Cell::says).to_vec()
}
