//! Pictures of figures: what a half-gallon is made of, its cost and what comes in by month, milk by week, minutes by job, what
//! moves a cost and what moved it. They are drawn from plain values and know nothing of the ledger.
//!
//! Every figure is said beside its mark, dollars to the cent. Where there is nothing to draw there is no picture.

mod bridge;
mod curves;
mod levels;
mod stack;
mod weeks;

pub use bridge::bridge;
pub use curves::two_lines;
pub use levels::{bars, tornado};
pub use stack::stacked;
pub use weeks::weeks;

use super::{
    measure::{fixed, trimmed},
    picture::{Anchor, Letter, Picture, WIDE},
};
use rust_decimal::{Decimal, prelude::ToPrimitive};

/// Space between a label and what it stands beside.
const GAP: i32 = 6;

/// Dollars and cents: `$9.20`, `−$0.35`.
fn dollars(amount: Decimal) -> String {
    let figure = fixed(amount.abs(), 2);
    let below = amount.is_sign_negative() && figure != "0.00";
    format!("{}${figure}", if below { "−" } else { "" })
}

/// Dollars and cents with their sign, as a step up or down: `+$0.35`.
fn signed(amount: Decimal) -> String {
    let plain = dollars(amount);
    if amount > Decimal::ZERO && plain != "$0.00" { format!("+{plain}") } else { plain }
}

/// An amount of something: dollars to the cent, anything else with at most one decimal and its unit behind it.
fn amount(figure: Decimal, unit: &str) -> String {
    match unit {
        "$" => dollars(figure),
        _ => format!("{} {unit}", trimmed(figure, 1).replace('-', "−")).trim_end().to_owned(),
    }
}

/// Which value stands where on a line of units.
#[derive(Clone, Copy, Debug)]
struct Span {
    low: Decimal,
    high: Decimal,
    from: i32,
    to: i32,
}

impl Span {
    /// Where a value stands; what lies outside stands at the nearer end.
    fn at(&self, value: Decimal) -> i32 {
        let whole = self.high - self.low;
        if whole <= Decimal::ZERO {
            return self.from;
        }
        let part = (value.clamp(self.low, self.high) - self.low) / whole;
        self.from + (part * Decimal::from(self.to - self.from)).round().to_i32().unwrap_or_default()
    }
}

/// Round marks from `low` or below to `high` or above, a step of 1, 2 or 5 tens, ones, tenths and so on apart: so many steps
/// or a few less, and one more at either end.
fn marks(low: Decimal, high: Decimal, steps: i64) -> Vec<Decimal> {
    let wanted = (high - low) / Decimal::from(steps);
    let mut ten = Decimal::new(1, 2);
    let step = loop {
        let round = [1, 2, 5].map(|times| ten * Decimal::from(times));
        match round.into_iter().find(|step| *step >= wanted) {
            Some(step) => break step,
            None => ten *= Decimal::TEN,
        }
    };
    let (first, last) = ((low / step).floor(), (high / step).ceil());
    let count = (last - first).to_i64().unwrap_or_default();
    (0..=count).map(|nth| (first + Decimal::from(nth)) * step).collect()
}

/// Lays blocks of these heights one below another between `top` and `bottom`, each with its middle as near to the place it
/// wishes for as the others let it; gives where each begins.
fn spread(wishes: &[(i32, i32)], top: i32, bottom: i32) -> Vec<i32> {
    let mut begins = Vec::new();
    let mut free = top;
    for (middle, tall) in wishes {
        let begin = (middle - tall / 2).max(free);
        begins.push(begin);
        free = begin + tall;
    }
    let mut end = bottom;
    for (begin, (_, tall)) in begins.iter_mut().zip(wishes).rev() {
        *begin = (*begin).min(end - tall);
        end = *begin;
    }
    begins
}

/// Round marks across the field, each with its value before it.
fn grid(picture: &mut Picture, ticks: &[Decimal], unit: &str, up: Span, (left, right): (i32, i32)) {
    for tick in ticks {
        let y = up.at(*tick);
        picture.line(super::picture::Stroke::Hair, vec![(left, y), (right, y)]);
        picture.small((left - GAP, y + 5), Anchor::End, amount(*tick, unit));
    }
}

/// The widest of some texts.
fn widest(texts: impl Iterator<Item = String>) -> i32 {
    texts.map(|text| Letter::Small.room(&text)).max().unwrap_or_default()
}

/// Every so many labels, counted from the last, so that none touches its neighbour: how many, when `apart` units lie between.
fn stride(labels: &[String], apart: i32) -> usize {
    let wide = widest(labels.iter().cloned()) + GAP + GAP;
    usize::try_from((wide + apart.max(1) - 1) / apart.max(1)).unwrap_or(1).max(1)
}

/// The largest so many by size, in their own order, and all others as one under this word; `most` in all.
fn lumped(parts: Vec<(String, Decimal)>, most: usize, word: &str) -> Vec<(String, Decimal)> {
    if parts.len() <= most {
        return parts;
    }
    let mut by_size: Vec<(usize, Decimal)> = parts.iter().map(|(_, part)| part.abs()).enumerate().collect();
    by_size.sort_by_key(|(_, part)| std::cmp::Reverse(*part));
    let kept: Vec<usize> = by_size.iter().take(most.saturating_sub(1)).map(|(place, _)| *place).collect();
    let (named, others): (Vec<_>, Vec<_>) = parts.into_iter().enumerate().partition(|(place, _)| kept.contains(place));
    let rest = others.iter().map(|(_, (_, part))| *part).sum();
    named.into_iter().map(|(_, part)| part).chain([(word.to_owned(), rest)]).collect()
}

/// Names with their amounts, as words: `Hay $4.10, Jars $0.85`.
fn said(parts: &[(String, Decimal)], unit: &str) -> String {
    parts.iter().map(|(name, part)| format!("{name} {}", amount(*part, unit))).collect::<Vec<_>>().join(", ")
}

/// Where a text with its middle at `x` must stand so as to stay on the picture.
fn inside(x: i32, text: &str) -> i32 {
    let half = (Letter::Small.room(text) + 1) / 2;
    x.min(WIDE - half).max(half)
}
