//! What is in a store and what it is worth: a moving average that keeps the value, not a rounded price.
//!
//! A bale costs when it is eaten, not when it is paid for. Every ticket adds its amount and its money to the heap; what is
//! taken out takes its part of the heap's value, rounded once for each day, so the cents that went in are the cents that came
//! out and those still lying there. When the last pound leaves, the value is exactly nothing. A count posts the difference as
//! shrink, or as found, in the open.
//!
//! More may be fed than any ticket brought in, because a ticket is still in a pocket. It is not refused: it happened. It is
//! charged at the last known price as a guess, the shortage is said aloud, and the next ticket puts the charge right.

use super::{money::Money, packs::Amount, wear::Span, when::Day};
use std::sync::Arc;

/// One thing that happens to a store on a day.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Act {
    /// So much came in, and cost so much; of a refund the money is below nothing, and so is what went back for it.
    Came(Amount, Money),
    /// So much was taken out, for a cow alone or for all.
    Taken(Amount, Option<Arc<str>>),
    /// So much lay there in the evening.
    Counted(Amount),
}

/// What happened, when, and the record that says so.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Move {
    /// The day.
    pub day: Day,
    /// What happened.
    pub act: Act,
    /// Whether it is a guess.
    pub guess: bool,
    /// The address of the record.
    pub opens: Arc<str>,
}

/// Why a cost was posted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Why {
    /// It was taken out.
    Used,
    /// A count found less than the book had, or more.
    Counted,
    /// A ticket came for what had been used before it.
    PutRight,
}

/// What one day's act cost.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Posted {
    /// The day.
    pub day: Day,
    /// How much left; what was found is below nothing.
    pub amount: Amount,
    /// What it cost.
    pub cost: Money,
    /// The cow it was for alone.
    pub cow: Option<Arc<str>>,
    /// Why it was posted.
    pub why: Why,
    /// Whether it rests on a guess.
    pub guess: bool,
    /// The address of the record behind it.
    pub opens: Arc<str>,
}

/// A store after all its moves.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Stock {
    /// What was posted, in the order of days.
    pub posted: Vec<Posted>,
    /// What lies there by the book.
    pub left: Amount,
    /// What that is worth.
    pub value: Money,
    /// The first day since which more had been used than came in, while that still stands.
    pub short_since: Option<Day>,
    /// What one thousandth was last worth: cents, and thousandths.
    last: Option<(i64, i64)>,
}

/// So many of `of` parts of an amount of cents, half away from zero.
fn part(cents: i64, parts: i64, of: i64) -> i64 {
    if of == 0 {
        return 0;
    }
    let (product, of) = (i128::from(cents) * i128::from(parts), i128::from(of));
    let size = (2 * product.abs() + of.abs()) / (2 * of.abs());
    i64::try_from(size * product.signum() * of.signum()).unwrap_or_default()
}

impl Stock {
    /// A store after these moves. Within a day what came is put away first, then what was taken out, then it is counted.
    #[must_use]
    pub fn after(mut moves: Vec<Move>) -> Stock {
        let place = |act: &Act| match act {
            Act::Came(..) => 0,
            Act::Taken(..) => 1,
            Act::Counted(_) => 2,
        };
        moves.sort_by_key(|own| (own.day, place(&own.act)));
        let mut stock = Stock::default();
        for own in &moves {
            match &own.act {
                Act::Came(amount, cost) => stock.came(own, *amount, *cost),
                Act::Taken(amount, cow) => stock.taken(own, *amount, cow.clone()),
                Act::Counted(amount) => stock.counted(own, *amount),
            }
            stock.short_since = (stock.left < Amount::ZERO).then(|| stock.short_since.unwrap_or(own.day));
        }
        stock
    }

    fn post(&mut self, own: &Move, amount: Amount, cents: i64, cow: Option<Arc<str>>, (why, guess): (Why, bool)) {
        let cost = Money::cents(cents);
        self.posted.push(Posted { day: own.day, amount, cost, cow, why, guess, opens: own.opens.clone() });
    }

    fn came(&mut self, own: &Move, amount: Amount, cost: Money) {
        let (had, worth) = (self.left.in_thousandths(), self.value.in_cents());
        self.left = self.left + amount;
        self.value = self.value + cost;
        if amount > Amount::ZERO {
            self.last = Some((cost.in_cents(), amount.in_thousandths()));
        }
        // What was charged at an old price, or at none, is charged at this ticket's now.
        if had < 0 && amount > Amount::ZERO {
            let now = part(cost.in_cents(), (-had).min(amount.in_thousandths()), amount.in_thousandths());
            let was = part(-worth, (-had).min(amount.in_thousandths()), -had);
            self.value = self.value - Money::cents(now - was);
            if now != was {
                self.post(own, Amount::ZERO, now - was, None, (Why::PutRight, own.guess));
            }
        }
        // What is left of a ticket after a shortage is worth what the ticket says; a few ounces' rounded cents say less.
        if had >= 0 {
            self.remember();
        }
        // A refund for what is all gone lowers the cost at once: nothing lies there to carry it.
        if self.left == Amount::ZERO && self.value != Money::ZERO {
            let rest = self.value.in_cents();
            self.value = Money::ZERO;
            self.post(own, Amount::ZERO, rest, None, (Why::PutRight, own.guess));
        }
    }

    fn taken(&mut self, own: &Move, amount: Amount, cow: Option<Arc<str>>) {
        let (had, wanted) = (self.left.in_thousandths().max(0), amount.in_thousandths());
        let here = wanted.min(had);
        let from_heap = match had {
            0 => 0,
            _ if here == had => self.value.in_cents(),
            _ => part(self.value.in_cents(), here, had),
        };
        let beyond = self.last.map_or(0, |(cents, of)| part(cents, wanted - here, of));
        self.left = self.left - amount;
        self.value = self.value - Money::cents(from_heap + beyond);
        self.post(own, amount, from_heap + beyond, cow, (Why::Used, own.guess || here < wanted));
    }

    fn counted(&mut self, own: &Move, amount: Amount) {
        let (had, found) = (self.left.in_thousandths(), amount.in_thousandths());
        // What is found beyond the book is worth the last known price: the cent a last handful is rounded to would be a wild one.
        let worth = match self.last {
            _ if found == had => self.value.in_cents(),
            _ if found < had => part(self.value.in_cents(), found, had),
            Some((cents, of)) if had > 0 => self.value.in_cents() + part(cents, found - had, of),
            Some((cents, of)) => part(cents, found, of),
            None if had > 0 => self.value.in_cents(),
            None => 0,
        };
        let gone = self.value.in_cents() - worth;
        (self.left, self.value) = (amount, Money::cents(worth));
        if gone != 0 || found != had {
            self.post(own, Amount::thousandths(had - found), gone, None, (Why::Counted, false));
        }
    }

    /// Keeps what the heap is worth now, as the last known price.
    fn remember(&mut self) {
        if self.left > Amount::ZERO && self.value > Money::ZERO {
            self.last = Some((self.value.in_cents(), self.left.in_thousandths()));
        }
    }

    /// What was posted in a span.
    pub fn in_span(&self, span: Span) -> impl Iterator<Item = &Posted> {
        let first = self.posted.partition_point(|own| own.day < span.from);
        self.posted.iter().skip(first).take_while(move |own| own.day <= span.to)
    }
}
