//! What the books hold, as an account of a span: tickets, gear and cows, minutes, and what the farm assumes.
//!
//! Each ticket is rounded once for each span, each thing that wears once, and minutes once for each job, person and wage,
//! so a query over the same books comes to the same cent. What cannot be reckoned is said aloud, never left out in silence.

use super::{
    bills::{Assumed, Item, Owned, Paid, Spent},
    costs::Account,
    lines::{Falls, Line, Rates, Sort, Unpaid, View, Views, labour_cost},
    money::Money,
    wear::{Held, Span},
    went::Went,
    when::Day,
};
use rust_decimal::Decimal;
use std::collections::BTreeMap;

/// All that a cost rests on.
#[derive(Clone, Debug, Default)]
pub struct Books {
    /// Every ticket, in the order they were paid.
    pub tickets: Vec<Paid>,
    /// Everything that wears.
    pub gear: Vec<Owned>,
    /// Minutes, in the order of days.
    pub minutes: Vec<Spent>,
    /// Assumptions, oldest first.
    pub assumed: Vec<Assumed>,
    /// The milk of the spans that were asked about.
    pub milk: Vec<(Span, Went)>,
}

impl Books {
    /// A figure as it stood on a day: the newest named up to then. Days before the first was named go by the first, so
    /// that a farm that names a wage today need not do without for last year.
    #[must_use]
    pub fn assumed(&self, name: &str, day: Day) -> Option<&Assumed> {
        let named = || self.assumed.iter().filter(|own| own.name == name);
        named().rfind(|own| own.since <= day).or_else(|| named().next())
    }

    fn figure(&self, name: &str, day: Day) -> Option<Decimal> {
        self.assumed(name, day).map(|own| own.figure)
    }

    /// What an unpaid hour is worth, as named by a day.
    #[must_use]
    pub fn wage(&self, day: Day) -> Option<Money> {
        self.figure("worth of an hour", day).map(Money::round)
    }

    /// What a half-gallon brings, as named by a day.
    #[must_use]
    pub fn brings(&self, day: Day) -> Option<Decimal> {
        self.figure("a half-gallon brings", day)
    }

    /// Interest and deaths, as named by a day; none when they are not named.
    #[must_use]
    pub fn rates(&self, day: Day) -> Rates {
        let rate = |name| self.figure(name, day).unwrap_or_default() / Decimal::ONE_HUNDRED;
        Rates { interest: rate("interest %"), deaths: rate("death loss %") }
    }

    /// What own land would bring in the span: so much a month, twelve months to 365 days.
    #[must_use]
    pub fn own_land(&self, span: Span) -> Money {
        let month = self.figure("own land a month", span.to).unwrap_or_default();
        Held::Days(span.days()).of(month * Decimal::from(12))
    }

    /// Minutes worked in a span, paid or not.
    pub fn minutes_in(&self, span: Span, hired: bool) -> impl Iterator<Item = &Spent> {
        self.minutes.iter().filter(move |own| span.has(own.day) && own.wage.is_some() == hired)
    }

    /// What went where in a span that was asked about.
    #[must_use]
    pub fn went(&self, span: Span) -> Went {
        self.milk.iter().find(|(own, _)| *own == span).map(|(_, went)| went.clone()).unwrap_or_default()
    }

    /// The lines of an account that stand on one line of the report; unpaid hours have theirs in [`Books::unpaid`].
    #[must_use]
    pub fn lines(&self, item: Item, span: Span) -> Vec<Line> {
        match item {
            Item::Tickets(sort) => self.tickets.iter().filter(|own| own.sort == sort).flat_map(|own| ticket_lines(own, span)).collect(),
            Item::Hired => self.hired(span),
            Item::Gear | Item::Cows => {
                let rates = self.rates(span.to);
                let mut lines = Vec::new();
                for own in self.gear.iter().filter(|own| own.is_cow == (item == Item::Cows)) {
                    let opens = vec![format!("/records/gear/{}", own.number)];
                    lines.extend(own.lines(span, rates).unwrap_or_default().into_iter().map(|line| Line { opens: opens.clone(), ..line }));
                }
                lines
            }
            Item::OwnLand => {
                let line = Line::new(item.said(), Sort::Land, self.own_land(span), Views::HOURS, Falls::ByDays);
                let opens = self.assumed("own land a month", span.to).map(|own| format!("/records/assumptions/{}", own.number));
                let line = Line { guess: true, opens: opens.into_iter().collect(), ..line };
                if line.amount == Money::ZERO { Vec::new() } else { vec![line] }
            }
            Item::Unpaid => Vec::new(),
        }
    }

    fn hired(&self, span: Span) -> Vec<Line> {
        let burden = self.figure("payroll burden %", span.to).unwrap_or_default() / Decimal::ONE_HUNDRED;
        let mut groups: BTreeMap<(&str, &str, Money), Vec<&Spent>> = BTreeMap::new();
        for own in self.minutes_in(span, true) {
            groups.entry((&own.job, &own.person, own.wage.unwrap_or_default())).or_default().push(own);
        }
        groups
            .into_iter()
            .map(|((job, person, wage), all)| {
                let amount = labour_cost(all.iter().map(|own| own.minutes).sum(), wage, burden);
                let line = Line::new(said(job, person), Sort::PaidHours, amount, Views::ALL, falls(job));
                Line { guess: all.iter().any(|own| own.guess), opens: addresses(&all), ..line }
            })
            .collect()
    }

    /// Unpaid hours of a span, by job and person.
    #[must_use]
    pub fn unpaid(&self, span: Span) -> Vec<Unpaid> {
        let mut groups: BTreeMap<(&str, &str), Vec<&Spent>> = BTreeMap::new();
        for own in self.minutes_in(span, false) {
            groups.entry((&own.job, &own.person)).or_default().push(own);
        }
        groups
            .into_iter()
            .map(|((job, person), all)| Unpaid {
                name: said(job, person),
                minutes: all.iter().map(|own| own.minutes).sum(),
                falls: falls(job),
                guess: all.iter().any(|own| own.guess),
                opens: addresses(&all),
            })
            .collect()
    }

    /// The account of a span.
    #[must_use]
    pub fn account(&self, span: Span) -> Account {
        let milk = self.went(span).milk();
        Account {
            lines: Item::all().flat_map(|item| self.lines(item, span)).collect(),
            unpaid: self.unpaid(span),
            wage: self.wage(span.to),
            milk,
            receipts: self.brings(span.to).map(|brings| Money::round(milk.reached * brings)),
        }
    }

    /// What could not be reckoned as it is written, a sentence each.
    #[must_use]
    pub fn wrongs(&self) -> Vec<String> {
        let gear = self.gear.iter().filter_map(|own| own.gear().err().map(|fault| format!("{} is left out. {fault}", own.name)));
        let tickets = self.tickets.iter().filter(|own| own.covers().is_none()).map(|own| {
            format!(
                "{}, paid {}: its last day of use comes before its first, so all of it counts on the day it was paid.",
                own.what, own.paid
            )
        });
        gear.chain(tickets).collect()
    }
}

/// A ticket's part of an account: once for what was paid in the span, and once for what was used in it.
fn ticket_lines(own: &Paid, span: Span) -> Vec<Line> {
    let Ok(ticket) = own.ticket() else { return Vec::new() };
    let (sort, falls) = sort_of(&own.sort);
    [(ticket.paid_in(span), Views::PAID), (ticket.used_in(span), Views::USED)]
        .into_iter()
        .filter(|(amount, _)| *amount != Money::ZERO)
        .map(|(amount, views)| {
            let line = Line::new(&own.what, sort, amount, views, falls.clone());
            Line { guess: own.guess, opens: vec![format!("/records/tickets/{}", own.number)], ..line }
        })
        .collect()
}

/// What a sort of ticket is for, and on whom it falls.
fn sort_of(spent: &str) -> (Sort, Falls) {
    match spent {
        "feed" => (Sort::Feed, Falls::ByDays),
        "bedding" => (Sort::Supplies, Falls::ByDays),
        "supplies" => (Sort::Supplies, Falls::ByMilkings),
        "jars and lids" => (Sort::Jars, Falls::OnJars),
        "vet" | "breeding" => (Sort::Care, Falls::ByDays),
        "lab" => (Sort::Tests, Falls::ByPounds),
        "power" => (Sort::Power, Falls::ByMilkings),
        "insurance" | "permit" => (Sort::Insurance, Falls::ByDays),
        "repairs" => (Sort::Gear, Falls::ByMilkings),
        "land" => (Sort::Land, Falls::ByDays),
        "calf sold" => (Sort::Cows, Falls::ByDays),
        _ => (Sort::Other, Falls::ByDays),
    }
}

/// On whom the minutes of a job fall.
fn falls(job: &str) -> Falls {
    match job {
        "milking" | "washing up" => Falls::ByMilkings,
        "filling" | "delivery" => Falls::OnJars,
        _ => Falls::ByDays,
    }
}

fn said(job: &str, person: &str) -> String {
    format!("{job}, {person}")
}

fn addresses(all: &[&Spent]) -> Vec<String> {
    all.iter().map(|own| format!("/records/minutes/{}", own.number)).collect()
}

/// How much of a view rests on tickets and paid hours, in a hundred, by size and whichever way it counts; nothing when
/// there is nothing.
#[must_use]
pub fn from_tickets(account: &Account, view: View) -> Option<Decimal> {
    let lines = account.lines_in(view).ok()?;
    let size = |line: &Line| Decimal::from(line.amount.in_cents().abs());
    let all: Decimal = lines.iter().map(size).sum();
    let sure: Decimal = lines.iter().filter(|line| !line.guess && line.sort != Sort::UnpaidHours).map(size).sum();
    (sure * Decimal::ONE_HUNDRED).checked_div(all)
}
