//! Which cow a cost falls on, what the household owes, and how many jars it takes to break even.
//!
//! A shared cost is first summed with all that falls the same way, then split once by largest remainder: splitting each
//! line would lose or make cents. A cost is never spread evenly because nobody wrote down the milkings; it stands as *not
//! shared out* until they did.

use super::{
    costs::{Account, Gap, Per},
    lines::{Falls, Line, View},
    measure::Weight,
    money::Money,
};
use rust_decimal::{Decimal, RoundingStrategy, prelude::ToPrimitive};

/// What a cow did in the span: what shared costs are split by.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cow {
    /// Her name.
    pub name: String,
    /// Days in the herd, dry days too.
    pub days: i64,
    /// Times she was milked.
    pub milkings: i64,
    /// The milk she gave.
    pub milk: Weight,
}

/// What a cow cost.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CowCost {
    /// Her name.
    pub name: String,
    /// What was hers alone.
    pub direct: Money,
    /// Her part of what falls by days.
    pub by_days: Money,
    /// Her part of what falls by milkings.
    pub by_milkings: Money,
    /// Her part of what falls by pounds.
    pub by_pounds: Money,
    /// All of it for one half-gallon she gave, before bottling. A dry cow has a cost, and no cost of milk.
    pub each: Result<Decimal, Gap>,
}

impl CowCost {
    /// All of it.
    #[must_use]
    pub fn total(&self) -> Money {
        self.direct + self.by_days + self.by_milkings + self.by_pounds
    }
}

/// The cost of milk by cow. Every cow's total and what is not shared out add up to the cost of the milk.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ByCow {
    /// Each cow, in the order given.
    pub cows: Vec<CowCost>,
    /// What falls on a cow not among them, or by something nobody wrote down.
    pub not_shared: Money,
}

/// Splits the cost of milk among the cows. Jars and lids are left out: once milk is pooled, no jar is any cow's.
///
/// # Errors
/// A gap for *with hours* when no wage is named.
pub fn split_by_cow(account: &Account, view: View, cows: &[Cow]) -> Result<ByCow, Gap> {
    let lines = account.lines_in(view)?;
    let pool = |falls: &Falls, weigh: fn(&Cow) -> i64| {
        let whole = sum(&lines, |line| line.falls == *falls);
        let weights: Vec<i64> = cows.iter().map(weigh).collect();
        whole.split(&weights).unwrap_or_else(|| vec![Money::ZERO; cows.len()])
    };
    let by_days = pool(&Falls::ByDays, |cow| cow.days);
    let by_milkings = pool(&Falls::ByMilkings, |cow| cow.milkings);
    let by_pounds = pool(&Falls::ByPounds, |cow| cow.milk.in_milligrams());
    let mut shares: Vec<CowCost> = Vec::with_capacity(cows.len());
    for (((cow, by_days), by_milkings), by_pounds) in cows.iter().zip(by_days).zip(by_milkings).zip(by_pounds) {
        let direct = sum(&lines, |line| matches!(&line.falls, Falls::OnCow(name) if *name == cow.name));
        let mut cost = CowCost { name: cow.name.clone(), direct, by_days, by_milkings, by_pounds, each: Err(Gap::NoMilk(Per::Produced)) };
        if cow.milk > Weight::ZERO {
            cost.each = Ok(cost.total().dollars() / cow.milk.in_half_gallons());
        }
        shares.push(cost);
    }
    let not_shared = of_milk(&lines) - shares.iter().map(CowCost::total).sum();
    Ok(ByCow { cows: shares, not_shared })
}

/// What the household's own milk cost, and what is left for each half-gallon that reached a person.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Household {
    /// The household's part of the cost of milk.
    pub pays: Money,
    /// The rest, jars and all, for each half-gallon that reached a person.
    pub each: Decimal,
}

/// Lets the household pay for what it drank: the cost of milk by how much was bottled and how much was drunk at home,
/// in half-gallons. It is a choice, off unless it is asked for, and its line says so.
///
/// # Errors
/// A gap when no milk reached a person or was fit, or no wage is named.
pub fn household_pays(account: &Account, view: View, drunk: Decimal) -> Result<Household, Gap> {
    let lines = account.lines_in(view)?;
    let fit = account.milk.of(Per::Fit)?;
    let drunk = drunk.max(Decimal::ZERO);
    let pays = Money::round(of_milk(&lines).dollars() * drunk / (fit + drunk));
    let rest = sum(&lines, |_| true) - pays;
    Ok(Household { pays, each: rest.dollars() / account.milk.of(Per::Reached)? })
}

/// The jars that must go out before the fixed costs are met.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BreakEven {
    /// Whole jars: a part of a jar cannot be handed out.
    pub jars: i64,
}

impl BreakEven {
    /// The jars it takes to meet fixed costs (and any profit wanted, added to them), when each brings so much and costs so
    /// much more to fill. None when a jar does not bring more than it costs: then no number of jars is enough.
    #[must_use]
    pub fn of(fixed: Money, brings: Money, fills_for: Decimal) -> Option<BreakEven> {
        let margin = brings.dollars() - fills_for;
        if margin <= Decimal::ZERO {
            return None;
        }
        let jars = fixed.dollars().checked_div(margin)?.round_dp_with_strategy(0, RoundingStrategy::ToPositiveInfinity).to_i64()?;
        Some(BreakEven { jars: jars.max(0) })
    }

    /// The jars to spare over it; below nothing when it was not reached.
    #[must_use]
    pub fn to_spare(self, gone_out: i64) -> i64 {
        gone_out - self.jars
    }

    /// The same in per cent of what went out, when any did.
    #[must_use]
    pub fn percent_to_spare(self, gone_out: i64) -> Option<Decimal> {
        (gone_out > 0).then(|| Decimal::from(self.to_spare(gone_out)) * Decimal::ONE_HUNDRED / Decimal::from(gone_out))
    }
}

/// The lines of the cost of milk, before bottling.
fn of_milk(lines: &[Line]) -> Money {
    sum(lines, |line| line.falls != Falls::OnJars)
}

/// The sum of the lines that are wanted.
fn sum(lines: &[Line], wanted: impl Fn(&Line) -> bool) -> Money {
    lines.iter().filter(|line| wanted(line)).map(|line| line.amount).sum()
}
