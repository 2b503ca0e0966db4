//! What gear and cows wear out by, and what money tied up in them costs.
//!
//! Nobody sends a bill for wear, so it is forgotten until the pump has to be bought again. Two answers are worked out
//! here. *Wear* spreads the drop in value evenly over the years: the plain book answer. *Capital recovery* adds what the
//! money could have earned elsewhere, so it is never less, and it is never added to wear in the same total.
//!
//! All yearly amounts are exact dollars. They become money once, for one thing and one span, so a ledger query over the
//! same days comes to the same cent.

use super::{
    Fault,
    money::Money,
    when::{Day, day_shown},
};
use chrono::{Datelike, Months};
use rust_decimal::{Decimal, MathematicalOps};
use std::num::NonZeroU32;

/// Days in a year, to say how long something has been.
pub const DAYS_A_YEAR: u32 = 365;

/// A month is cut into so many parts: the least number that 28, 29, 30 and 31 days all go into, so a part of any month is a
/// whole number of them and nothing is rounded on the way.
const PARTS_A_MONTH: i64 = 377_580;

/// The days from one to another, both counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Span {
    /// The first day.
    pub from: Day,
    /// The last day.
    pub to: Day,
}

impl Span {
    /// The shortest span that holds them all, if there is any.
    #[must_use]
    pub fn around(spans: &[Span]) -> Option<Span> {
        Some(Span { from: spans.iter().map(|span| span.from).min()?, to: spans.iter().map(|span| span.to).max()? })
    }

    /// How many days it has; none when it ends before it begins.
    #[must_use]
    pub fn days(self) -> i64 {
        ((self.to - self.from).num_days() + 1).max(0)
    }

    /// The days both spans have; it may be empty.
    #[must_use]
    pub fn shared_with(self, other: Span) -> Span {
        Span { from: self.from.max(other.from), to: self.to.min(other.to) }
    }

    /// Whether they have a day together.
    #[must_use]
    pub fn meets(self, other: Span) -> bool {
        self.from.max(other.from) <= self.to.min(other.to)
    }

    /// Whether the day is in it.
    #[must_use]
    pub fn has(self, day: Day) -> bool {
        self.from <= day && day <= self.to
    }
}

/// How much of a year something was held: whole calendar months count a twelfth each, and a part of a month by its days
/// (common practice). So a year is a year wherever it begins, and a leap day costs nothing extra.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Held {
    parts: i64,
    percent: i64,
}

impl Held {
    /// The months of a span.
    #[must_use]
    pub fn of_span(span: Span) -> Held {
        let mut parts = 0;
        let mut from = span.from;
        while from <= span.to {
            let Some(next) = from.with_day(1).and_then(|first| first.checked_add_months(Months::new(1))) else { break };
            let (first, last) = (from.with_day(1).unwrap_or(from), next.pred_opt().unwrap_or(from));
            let days = Span { from, to: last.min(span.to) }.days();
            parts += PARTS_A_MONTH / Span { from: first, to: last }.days() * days;
            from = next;
        }
        Held { parts, percent: 100 }
    }

    /// So many whole months.
    #[must_use]
    pub const fn months(months: i64) -> Held {
        Held { parts: months * PARTS_A_MONTH, percent: 100 }
    }

    /// The same of a thing that is only in part for milk, in a hundred: a tractor that also plows.
    #[must_use]
    pub const fn for_milk(self, percent: i64) -> Held {
        Held { percent, ..self }
    }

    /// This part of a yearly amount in dollars, rounded once, half away from zero.
    #[must_use]
    pub fn of(self, yearly: Decimal) -> Money {
        self.of_drop(yearly, NonZeroU32::MIN)
    }

    /// This part of a drop in value spread over years. It divides once, because a third of a dollar kept to 28 digits is
    /// no longer a third, and half a cent would then round the wrong way.
    fn of_drop(self, drop: Decimal, years: NonZeroU32) -> Money {
        let whole = Decimal::from(PARTS_A_MONTH * 12 * 100) * Decimal::from(years.get());
        Money::round(drop * Decimal::from(self.parts) * Decimal::from(self.percent) / whole)
    }
}

/// What is paid for a thing, what it will still bring, and the years between.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Worth {
    price: Money,
    salvage: Money,
    years: NonZeroU32,
}

impl Worth {
    /// A price, what it will bring at the end (for a cow, her cull price), and how many years it serves.
    ///
    /// # Errors
    /// A sentence when the life is no number of years, or the thing would bring more than it cost.
    pub fn of(price: Money, salvage: Money, years: i64) -> Result<Worth, Fault> {
        if price < Money::ZERO || salvage < Money::ZERO {
            return Err(Fault::says("A price cannot be below nothing."));
        }
        if salvage > price {
            return Err(Fault::says(format!(
                "{salvage} at the end is more than the {price} paid. Write what it will bring when it is done."
            )));
        }
        match u32::try_from(years).ok().and_then(NonZeroU32::new).filter(|years| years.get() <= 100) {
            Some(years) => Ok(Worth { price, salvage, years }),
            None => Err(Fault::says(format!("A life of {years} years cannot be right. Write whole years, from 1 to 100."))),
        }
    }

    /// What was paid.
    #[must_use]
    pub fn price(self) -> Money {
        self.price
    }

    /// What it will bring at the end.
    #[must_use]
    pub fn salvage(self) -> Money {
        self.salvage
    }

    /// The years it serves.
    #[must_use]
    pub fn years(self) -> NonZeroU32 {
        self.years
    }

    /// Straight-line wear: price less salvage, shared evenly over the years.
    #[must_use]
    pub fn straight_line(self) -> Decimal {
        (self.price - self.salvage).dollars() / Decimal::from(self.years.get())
    }

    /// Wear for the part of a year it was held: round(drop × months ÷ (12 × years)), a month in parts of 377,580.
    #[must_use]
    pub fn wear(self, held: Held) -> Money {
        held.of_drop((self.price - self.salvage).dollars(), self.years)
    }

    /// The mean of price and salvage: what a simple charge for interest or deaths is reckoned on.
    #[must_use]
    pub fn mean_value(self) -> Decimal {
        (self.price + self.salvage).dollars() / Decimal::TWO
    }

    /// The average of what is still tied up at the start of each year, when it is written down at each year's end:
    /// [P(n+1) + S(n−1)] ÷ 2n.
    #[must_use]
    pub fn average_investment(self) -> Decimal {
        let years = Decimal::from(self.years.get());
        (self.price.dollars() * (years + Decimal::ONE) + self.salvage.dollars() * (years - Decimal::ONE)) / (Decimal::TWO * years)
    }

    /// What a year must earn to give back the drop in value with interest: (P − S) × factor + S × rate.
    #[must_use]
    pub fn capital_recovery(self, rate: Decimal) -> Decimal {
        let salvage = self.salvage.dollars();
        (self.price.dollars() - salvage) * capital_recovery_factor(rate, self.years) + salvage * rate.max(Decimal::ZERO)
    }
}

/// The yearly payment that gives back one dollar with interest over so many periods: i(1+i)ⁿ ÷ ((1+i)ⁿ − 1). It is never
/// rounded: a factor cut to four digits moves the answer by cents. Without interest, or below it, it is one over the
/// periods.
#[must_use]
pub fn capital_recovery_factor(rate: Decimal, periods: NonZeroU32) -> Decimal {
    let evenly = Decimal::ONE / Decimal::from(periods.get());
    if rate <= Decimal::ZERO {
        return evenly;
    }
    // The same formula divided through by (1+i)ⁿ, which shrinks where the printed form would overflow.
    let last_dollar = (Decimal::ONE / (Decimal::ONE + rate)).powu(u64::from(periods.get()));
    rate.checked_div(Decimal::ONE - last_dollar).unwrap_or(evenly)
}

/// A machine, a building or a cow that serves for years.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Gear {
    /// What it is called.
    pub name: String,
    /// Whether it is a cow, who may die and whose keep is hers alone.
    pub is_cow: bool,
    /// The day it came.
    pub bought: Day,
    /// The last day it was here, if it is gone.
    pub gone: Option<Day>,
    /// What was paid, what it will bring, and its years.
    pub worth: Worth,
}

impl Gear {
    /// Whether its days can be right.
    ///
    /// # Errors
    /// A sentence when it left before it came.
    pub fn judge(&self) -> Result<(), Fault> {
        match self.gone {
            Some(gone) if gone < self.bought => Err(Fault::says(format!(
                "{} cannot be gone on {}, before it came on {}.",
                self.name,
                day_shown(gone),
                day_shown(self.bought)
            ))),
            _ => Ok(()),
        }
    }

    /// The days it wears: from the day it came, for the years of its life, or until the last day it was here. A thing that
    /// outlives its years costs nothing more. Its last day, as a query writes it, is
    /// `date(bought, years || ' years', '-1 day')`, or `gone` when that is earlier.
    #[must_use]
    pub fn life(&self) -> Span {
        let years = Months::new(self.worth.years().get() * 12);
        let end = self.bought.checked_add_months(years).and_then(|day| day.pred_opt()).unwrap_or(Day::MAX);
        Span { from: self.bought, to: self.gone.map_or(end, |gone| gone.min(end)) }
    }

    /// How much of the span it was held within its life.
    #[must_use]
    pub fn held_in(&self, span: Span) -> Held {
        Held::of_span(self.life().shared_with(span))
    }

    /// What it wore in the span: its yearly wear × the months held in it ÷ 12, rounded once.
    #[must_use]
    pub fn wear_in(&self, span: Span) -> Money {
        self.worth.wear(self.held_in(span))
    }

    /// What is left of its price in the books at the end of a day; when a cow dies, this is the loss.
    #[must_use]
    pub fn left_on(&self, day: Day) -> Money {
        self.worth.price() - self.wear_in(Span { from: self.bought, to: day })
    }
}
