//! What a half-gallon costs.
//!
//! One figure would mislead. So there are three views of the same span, side by side: *cash out* (what was paid),
//! *with wear* (what was used up) and *with hours* (what the milk must bring so that the family's time and money lose
//! nothing). And there are three amounts of milk to divide by: produced, fit, and what reached a person. A figure that
//! cannot be worked out is a gap with its reason, never a nought: no wage named is not a wage of nothing.

use super::{
    lines::{HOUR, Line, Sort, Unpaid, View},
    money::Money,
};
use rust_decimal::Decimal;
use std::fmt;

/// Which milk a cost is divided by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Per {
    /// All that came out of the cows.
    Produced,
    /// What was bottled fit to hand out.
    Fit,
    /// What a person paid for or was handed.
    Reached,
}

impl Per {
    /// Every one, the most milk first.
    pub const ALL: [Per; 3] = [Per::Produced, Per::Fit, Per::Reached];
}

impl fmt::Display for Per {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Per::Produced => "produced",
            Per::Fit => "fit to hand out",
            Per::Reached => "handed out",
        })
    }
}

/// The milk of a span, in half-gallons.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Milk {
    /// All that came out of the cows.
    pub produced: Decimal,
    /// What was bottled fit to hand out.
    pub fit: Decimal,
    /// What a person paid for or was handed.
    pub reached: Decimal,
}

impl Milk {
    /// The half-gallons to divide by.
    ///
    /// # Errors
    /// A gap when there were none.
    pub fn of(self, per: Per) -> Result<Decimal, Gap> {
        let milk = match per {
            Per::Produced => self.produced,
            Per::Fit => self.fit,
            Per::Reached => self.reached,
        };
        if milk > Decimal::ZERO { Ok(milk) } else { Err(Gap::NoMilk(per)) }
    }
}

/// Why a figure cannot be worked out. It says what to write down to get it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Gap {
    /// No wage is named for unpaid hours.
    NoWage,
    /// There is no such milk to divide by.
    NoMilk(Per),
    /// What the milk brought is not written down.
    NoReceipts,
    /// No unpaid hours are written down.
    NoHours,
}

impl fmt::Display for Gap {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Gap::NoWage => f.write_str("Not computed: name a wage for unpaid hours first."),
            Gap::NoMilk(per) => write!(f, "Not computed: no milk was {per} in these days."),
            Gap::NoReceipts => f.write_str("Not computed: what the milk brought is not written down."),
            Gap::NoHours => f.write_str("Not computed: no unpaid hours are written down."),
        }
    }
}

/// All that a span cost, and the milk it cost it for. Twelve months are one account over all their days, never the mean
/// of twelve: that is how a dry cow's winter gets into the price of summer milk.
#[derive(Clone, Debug, Default)]
pub struct Account {
    /// Every line but unpaid hours.
    pub lines: Vec<Line>,
    /// Unpaid hours, priced only when a wage is named.
    pub unpaid: Vec<Unpaid>,
    /// What an unpaid hour is worth; the farmer's to name, so there is no default.
    pub wage: Option<Money>,
    /// The milk of the span.
    pub milk: Milk,
    /// What the milk brought, if that is known.
    pub receipts: Option<Money>,
}

impl Account {
    /// The lines of a view, unpaid hours last.
    ///
    /// # Errors
    /// A gap for *with hours* when no wage is named.
    pub fn lines_in(&self, view: View) -> Result<Vec<Line>, Gap> {
        let mut lines: Vec<Line> = self.lines.iter().filter(|line| line.views.has(view)).cloned().collect();
        if view == View::Hours {
            // Where every person's hour has a worth of its own, the farm needs no other.
            let all_named = !self.unpaid.is_empty() && self.unpaid.iter().all(|hours| hours.worth.is_some());
            let wage = self.wage.or(all_named.then_some(Money::ZERO)).ok_or(Gap::NoWage)?;
            lines.extend(self.unpaid.iter().map(|hours| hours.at(wage)));
        }
        Ok(lines)
    }

    /// What a view comes to: the sum of its lines, cent by cent.
    ///
    /// # Errors
    /// A gap for *with hours* when no wage is named.
    pub fn total(&self, view: View) -> Result<Money, Gap> {
        Ok(self.lines_in(view)?.iter().map(|line| line.amount).sum())
    }

    /// What a half-gallon costs, exactly; round it when it is shown.
    ///
    /// # Errors
    /// A gap when there is no milk to divide by, or no wage named.
    pub fn each(&self, view: View, per: Per) -> Result<Decimal, Gap> {
        Ok(self.total(view)?.dollars() / self.milk.of(per)?)
    }

    /// What went into milk that reached nobody: spilled, given to calves, drunk at home, come back.
    ///
    /// # Errors
    /// A gap when no milk was produced, or no wage named.
    pub fn kept_back(&self, view: View) -> Result<Money, Gap> {
        let produced = self.milk.of(Per::Produced)?;
        Ok(Money::round(self.total(view)?.dollars() * (produced - self.milk.reached) / produced))
    }

    /// What the milk brought less what it cost.
    ///
    /// # Errors
    /// A gap when receipts are not known, or no wage named.
    pub fn left_over(&self, view: View) -> Result<Money, Gap> {
        Ok(self.receipts.ok_or(Gap::NoReceipts)? - self.total(view)?)
    }

    /// What is left to pay the family for its hours, when all else has been paid. It needs no wage, so it is the honest
    /// twin of *with hours*.
    ///
    /// # Errors
    /// A gap when receipts are not known.
    pub fn return_to_hours(&self) -> Result<Money, Gap> {
        let other: Money =
            self.lines.iter().filter(|line| line.views.hours && line.sort != Sort::UnpaidHours).map(|line| line.amount).sum();
        Ok(self.receipts.ok_or(Gap::NoReceipts)? - other)
    }

    /// The same for one hour.
    ///
    /// # Errors
    /// A gap when receipts or hours are not known.
    pub fn return_an_hour(&self) -> Result<Decimal, Gap> {
        let minutes: i64 = self.unpaid.iter().map(|hours| hours.minutes).sum();
        if minutes <= 0 {
            return Err(Gap::NoHours);
        }
        Ok(self.return_to_hours()?.dollars() * HOUR / Decimal::from(minutes))
    }
}
