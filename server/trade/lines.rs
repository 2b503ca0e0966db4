//! The lines of an account, and what they are made from: tickets, hours, lids, jars and wear.
//!
//! The rule that keeps a view honest: feed *bought* is cash, feed *used* is cost, and a line is both only when it was
//! paid and used in the same span. Capital recovery holds wear and interest already, so neither stands beside it.
//!
//! Each line is rounded once, half away from zero, as an invoice is.

use super::{
    Fault,
    money::Money,
    wear::{Gear, Held, Span},
    when::{Day, day_shown},
};
use rust_decimal::Decimal;
use std::fmt;

/// Minutes in an hour.
pub const HOUR: Decimal = Decimal::from_parts(60, 0, 0, false, 0);

/// One way of looking at the same span.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum View {
    /// What was paid.
    Cash,
    /// What was used up, in bills and wear.
    Wear,
    /// All of it: wear with interest, land, and unpaid hours at a wage.
    Hours,
}

impl View {
    /// Every view, in the order they stand.
    pub const ALL: [View; 3] = [View::Cash, View::Wear, View::Hours];
}

impl fmt::Display for View {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            View::Cash => "Cash out",
            View::Wear => "With wear",
            View::Hours => "With hours",
        })
    }
}

/// The views a line counts in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Views {
    /// In cash out.
    pub cash: bool,
    /// In with wear.
    pub wear: bool,
    /// In with hours.
    pub hours: bool,
}

impl Views {
    /// Paid and used up in the span: a lab bill, hired hands.
    pub const ALL: Views = Views { cash: true, wear: true, hours: true };
    /// Paid only: a winter's hay, loan principal.
    pub const PAID: Views = Views { cash: true, wear: false, hours: false };
    /// Used up, whenever it was paid: feed fed, lids put on.
    pub const USED: Views = Views { cash: false, wear: true, hours: true };
    /// Only beside wear: straight-line wear of gear.
    pub const WEAR: Views = Views { cash: false, wear: true, hours: false };
    /// Only beside hours: capital recovery, interest on cows, the rent own land would bring.
    pub const HOURS: Views = Views { cash: false, wear: false, hours: true };

    /// Whether this view is among them.
    #[must_use]
    pub fn has(self, view: View) -> bool {
        match view {
            View::Cash => self.cash,
            View::Wear => self.wear,
            View::Hours => self.hours,
        }
    }
}

/// What a cost is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Sort {
    /// Hay, grain, minerals.
    Feed,
    /// Dip, filters, sanitizer, bedding.
    Supplies,
    /// Lids, and jars that do not come back: the only costs that grow with every jar.
    Jars,
    /// Lab tests.
    Tests,
    /// Electricity and water.
    Power,
    /// Vet and breeding.
    Care,
    /// Insurance, dues and taxes.
    Insurance,
    /// Hired hands.
    PaidHours,
    /// The family's own hours, at the wage named.
    UnpaidHours,
    /// Machines and buildings.
    Gear,
    /// The cows themselves: wear, deaths, interest, less their calves.
    Cows,
    /// What own land would bring in rent.
    Land,
    /// Anything else.
    Other,
}

impl fmt::Display for Sort {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Sort::Feed => "Feed",
            Sort::Supplies => "Supplies",
            Sort::Jars => "Jars and lids",
            Sort::Tests => "Lab tests",
            Sort::Power => "Electricity and water",
            Sort::Care => "Vet and breeding",
            Sort::Insurance => "Insurance, dues and taxes",
            Sort::PaidHours => "Hired hands",
            Sort::UnpaidHours => "Unpaid hours",
            Sort::Gear => "Gear",
            Sort::Cows => "Cows",
            Sort::Land => "Land",
            Sort::Other => "Other",
        })
    }
}

/// On whom or what a cost falls, when it is split.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Falls {
    /// On one cow, by name.
    OnCow(String),
    /// On every cow by her days in the herd, dry days too: pasture, housing, insurance.
    ByDays,
    /// On every cow by her milkings: hours of milking, dip, milking gear.
    ByMilkings,
    /// On every cow by her pounds of milk: tests, chilling.
    ByPounds,
    /// On the jars, not on any cow: lids, bottling, delivery.
    OnJars,
}

/// One line of an account.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// What it is, in the farm's words.
    pub name: String,
    /// What it is for.
    pub sort: Sort,
    /// How much, already rounded; a credit such as a calf is below nothing.
    pub amount: Money,
    /// Where it counts.
    pub views: Views,
    /// On whom it falls.
    pub falls: Falls,
    /// Whether it rests on a guess rather than a ticket.
    pub guess: bool,
    /// The addresses of the tickets it is made of.
    pub opens: Vec<String>,
}

impl Line {
    /// A line that rests on tickets yet to be named.
    #[must_use]
    pub fn new(name: impl Into<String>, sort: Sort, amount: Money, views: Views, falls: Falls) -> Line {
        Line { name: name.into(), sort, amount, views, falls, guess: false, opens: Vec::new() }
    }
}

/// Hours nobody was paid for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unpaid {
    /// What they went on: milking, washing up, delivery.
    pub name: String,
    /// How long, in minutes.
    pub minutes: i64,
    /// What this person's hour is worth, where one was named; otherwise it is what an hour is worth on this farm.
    pub worth: Option<Money>,
    /// On whom they fall.
    pub falls: Falls,
    /// Whether the minutes are a guess.
    pub guess: bool,
    /// The addresses of the records of them.
    pub opens: Vec<String>,
}

impl Unpaid {
    /// The hours as a line: at what this person's hour is worth, or at the farm's wage.
    #[must_use]
    pub fn at(&self, wage: Money) -> Line {
        let wage = self.worth.unwrap_or(wage);
        let amount = labour_cost(self.minutes, wage, Decimal::ZERO);
        let line = Line::new(&self.name, Sort::UnpaidHours, amount, Views::HOURS, self.falls.clone());
        Line { guess: self.guess, opens: self.opens.clone(), ..line }
    }
}

/// A bill or receipt: paid on one day, and perhaps for many.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ticket {
    amount: Money,
    paid: Day,
    covers: Option<Span>,
    for_milk: i64,
}

impl Ticket {
    /// An amount, the day it was paid, and the days it covers, when it covers more than that day.
    ///
    /// # Errors
    /// A sentence when the days it covers end before they begin.
    pub fn of(amount: Money, paid: Day, covers: Option<Span>) -> Result<Ticket, Fault> {
        match covers {
            Some(span) if span.days() == 0 => Err(Fault::says(format!(
                "It cannot cover days that end on {}, before they begin on {}.",
                day_shown(span.to),
                day_shown(span.from)
            ))),
            _ => Ok(Ticket { amount, paid, covers, for_milk: 100 }),
        }
    }

    /// The same ticket when only so many parts in a hundred of it are for milk: the hay of two heifers is not.
    #[must_use]
    pub fn for_milk(self, percent: i64) -> Ticket {
        Ticket { for_milk: percent, ..self }
    }

    /// What left the bank in the span: its part for milk, or nothing.
    #[must_use]
    pub fn paid_in(self, span: Span) -> Money {
        let both = i64::from(span.has(self.paid));
        self.part(both, 1)
    }

    /// What was used up in the span: amount × days in both ÷ days covered, rounded once. A ticket that covers no days was
    /// used up on the day it was paid. In whole cents a query writes it `(2 * amount * both + covered) / (2 * covered)`,
    /// with the amount times its percent and the covered days times a hundred when only a part is for milk; a credit is
    /// the same with its sign turned twice.
    #[must_use]
    pub fn used_in(self, span: Span) -> Money {
        let Some(covers) = self.covers else { return self.paid_in(span) };
        self.part(covers.shared_with(span).days(), covers.days())
    }

    fn part(self, days: i64, of: i64) -> Money {
        Money::round(self.amount.dollars() * Decimal::from(self.for_milk * days) / Decimal::from(100 * of))
    }
}

/// What minutes of work cost at an hourly wage, with what the employer pays on top of it (`0.0765` for 7.65 %).
#[must_use]
pub fn labour_cost(minutes: i64, wage: Money, burden: Decimal) -> Money {
    Money::round(Decimal::from(minutes) * wage.dollars() * (Decimal::ONE + burden) / HOUR)
}

/// The times a jar is filled, measured: all fills ÷ all jars ever put into use; nothing when no jar was.
#[must_use]
pub fn jar_uses(fills: i64, jars: i64) -> Option<Decimal> {
    (jars > 0).then(|| Decimal::from(fills) / Decimal::from(jars))
}

/// Minutes that go into a half-gallon, washing up and all; nothing when there was no milk.
#[must_use]
pub fn minutes_a_half_gallon(minutes: i64, gallons: Decimal) -> Option<Decimal> {
    (gallons > Decimal::ZERO).then(|| Decimal::from(minutes) / (gallons * Decimal::TWO))
}

/// The two chosen rates behind *with hours*, as parts of one: `0.06` is 6 % a year.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Rates {
    /// What the money could earn elsewhere.
    pub interest: Decimal,
    /// What part of the cows dies in a year.
    pub deaths: Decimal,
}

/// The lines a machine or a cow adds. A machine is wear in one view and capital recovery in the other; a cow is wear in both,
/// with her risk and interest beside hours. All are guesses, for nobody knows how long a pump or a cow will last.
#[must_use]
pub fn wear_lines(gear: &Gear, held: Held, rates: Rates, falls: &Falls) -> Vec<Line> {
    let Gear { name, worth, .. } = gear;
    let line =
        |what: &str, sort: Sort, amount: Money, views: Views| Line::new(format!("{name}, {what}"), sort, amount, views, falls.clone());
    let lines = if gear.is_cow {
        vec![
            line("wear", Sort::Cows, worth.wear(held), Views::USED),
            line("risk of death", Sort::Cows, held.of(worth.mean_value() * rates.deaths), Views::HOURS),
            line("interest", Sort::Cows, held.of(worth.mean_value() * rates.interest), Views::HOURS),
        ]
    } else {
        vec![
            line("wear", Sort::Gear, worth.wear(held), Views::WEAR),
            line("wear and interest", Sort::Gear, held.of(worth.capital_recovery(rates.interest)), Views::HOURS),
        ]
    };
    lines.into_iter().filter(|line| line.amount != Money::ZERO).map(|line| Line { guess: true, ..line }).collect()
}
