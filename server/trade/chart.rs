//! Bars for a small chart, as whole numbers: what was made beside what was handed out, month by month.

use super::{account::Books, measure::fixed, months::Asked};
use rust_decimal::{Decimal, prelude::ToPrimitive};

/// How high the tallest bar stands, and how far one month is from the next.
pub const TALL: i64 = 130;
/// The room of one month.
pub const STEP: i64 = 32;

/// A month of the chart.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Bar {
    /// The month's first letter.
    pub letter: String,
    /// What it says to somebody who cannot see it.
    pub says: String,
    /// Where it begins, from the left.
    pub x: i64,
    /// The height of what was made.
    pub made: i64,
    /// The height of what was handed out.
    pub out: i64,
}

impl Bar {
    /// Where the bar of what was made begins, from the top.
    #[must_use]
    pub const fn made_top(&self) -> i64 {
        TALL + 10 - self.made
    }

    /// Where the bar of what was handed out begins, from the top.
    #[must_use]
    pub const fn out_top(&self) -> i64 {
        TALL + 10 - self.out
    }
}

/// The bars of the last twelve months; none when no milk was made in them.
#[must_use]
pub fn bars(books: &Books, asked: Asked) -> Vec<Bar> {
    let months: Vec<_> = asked.months().into_iter().map(|month| (month, books.went(month).milk())).collect();
    let most = months.iter().map(|(_, milk)| milk.produced.max(milk.reached)).max().unwrap_or_default();
    if most <= Decimal::ZERO {
        return Vec::new();
    }
    let high = |amount: Decimal| (amount.max(Decimal::ZERO) * Decimal::from(TALL) / most).round().to_i64().unwrap_or_default();
    let places = (0..).map(|place: i64| place * STEP);
    months
        .iter()
        .zip(places)
        .map(|((month, milk), x)| Bar {
            letter: month.from.format("%b").to_string().chars().take(1).collect(),
            says: format!("{}: made {}, handed out {}", month.from.format("%b %Y"), fixed(milk.produced, 0), fixed(milk.reached, 0)),
            x,
            made: high(milk.produced),
            out: high(milk.reached),
        })
        .collect()
}
