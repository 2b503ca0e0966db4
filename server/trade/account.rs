//! What the books hold, as an account of a span: tickets, gear and cows, minutes, and what the farm assumes.
//!
//! Each ticket is rounded once for each span, each thing that wears once, and minutes once for each job, person and wage,
//! so a query over the same books comes to the same cent. What cannot be reckoned is said aloud, never left out in silence.

mod posted;

pub use posted::{store_lines, ticket_lines};

use super::{
    bills::{Assumed, Item, Owned, Paid, Spent},
    costs::{Account, Milk},
    guessed::{Begun, Guessed},
    lines::{Falls, Line, Rates, Sort, Unpaid, View, Views, labour_cost},
    measure::Weight,
    money::Money,
    months::months_in,
    power::{self, Appliance, Reading, Reckoned},
    splits::Cow,
    stores::{Counted, DayUse, Feeding, Moves, Settled, Store},
    usual::{self, Usual},
    wear::{Held, Span},
    went::{Flow, Went},
    when::Day,
};
use chrono::Datelike;
use posted::{addresses, falls, power_line, said};
use rust_decimal::Decimal;
use std::{collections::BTreeMap, sync::Arc};

/// What a person's unpaid hour is worth, from a day on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Worth {
    /// The record's number.
    pub number: i64,
    /// Who.
    pub person: String,
    /// From when.
    pub since: Day,
    /// How much.
    pub worth: Money,
}

/// What went out by bank and tin in a span, by the owner's own papers.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BankTotal {
    /// The record's number.
    pub number: i64,
    /// The span.
    pub span: Span,
    /// How much went out.
    pub paid_out: Money,
}

/// A way of reckoning the farm has chosen, from a day on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Chosen {
    /// The record's number.
    pub number: i64,
    /// From when.
    pub since: Day,
    /// Its words.
    pub choice: String,
}

/// All that a cost rests on.
#[derive(Clone, Debug, Default)]
pub struct Books {
    /// Every ticket, in the order they were paid.
    pub tickets: Vec<Paid>,
    /// What is bought and kept until it is used.
    pub stores: Vec<Store>,
    /// What was fed.
    pub feedings: Vec<Feeding>,
    /// Counts of the stores.
    pub counts: Vec<Counted>,
    /// What every day used up by itself, in the order of days.
    pub days: Vec<DayUse>,
    /// Everything that wears.
    pub gear: Vec<Owned>,
    /// Minutes, in the order of days.
    pub minutes: Vec<Spent>,
    /// The usual week.
    pub usual: Vec<Usual>,
    /// What people's unpaid hours are worth, oldest first.
    pub worths: Vec<Worth>,
    /// What draws current.
    pub appliances: Vec<Appliance>,
    /// What the milk room's meter showed, in the order of days.
    pub meter: Vec<Reading>,
    /// Assumptions, oldest first.
    pub assumed: Vec<Assumed>,
    /// Ways of reckoning, oldest first.
    pub chosen: Vec<Chosen>,
    /// What went out by the owner's papers.
    pub bank: Vec<BankTotal>,
    /// The milk of the spans that were asked about.
    pub milk: Vec<(Span, Went)>,
    /// How much of that was a fresh cow's and not thrown out, in half-gallons: nobody is handed colostrum.
    pub colostrum: Vec<(Span, Decimal)>,
    /// What came in for milk and keep in those spans, by the books of the households.
    pub income: Vec<(Span, Money)>,
    /// The first day those books hold any income, if they hold some.
    pub income_since: Option<Day>,
    /// What each cow did in the spans of which that was asked.
    pub cows: Vec<(Span, Vec<Cow>)>,
    /// The first days on which milk is written down.
    pub begun: Begun,
    /// What was made into cream or skim in those spans, by name, in half-gallons.
    pub made: Vec<(Span, String, Decimal)>,
    /// The last day that is reckoned.
    pub until: Day,
    /// The stores after all that happened to them; [`Books::settled`] fills it.
    pub stocks: Vec<Arc<Settled>>,
    /// Where the tickets of each sort stand among them all, each with its reach; [`Books::settled`] fills it.
    pub by_sort: BTreeMap<String, Vec<(Span, usize)>>,
}

impl Books {
    /// The same with its stores reckoned anew. Whatever changes a ticket, a feeding or a count asks for it again.
    #[must_use]
    pub fn settled(self) -> Books {
        self.settled_beside(&Books::default())
    }

    /// The same beside other books: a store to which the same happened there is taken from them, for twenty years of a store are
    /// worth reckoning once.
    #[must_use]
    pub(super) fn settled_beside(mut self, other: &Books) -> Books {
        let (moves, there) = (self.moves(), other.moves());
        let settled = |store: &Store| {
            let known = other.stocks.iter().find(|own| own.store == *store && moves.are_those(&there, store));
            known.map_or_else(|| Arc::new(store.settled(moves)), Arc::clone)
        };
        self.stocks = self.stores.iter().map(settled).collect();
        self.by_sort = BTreeMap::new();
        for (place, own) in self.tickets.iter().enumerate() {
            self.by_sort.entry(own.sort.clone()).or_default().push((own.reach(), place));
        }
        self
    }

    fn moves(&self) -> Moves<'_> {
        Moves { tickets: &self.tickets, feedings: &self.feedings, counts: &self.counts, days: &self.days, until: self.until }
    }

    /// The tickets of a sort that may count in a span.
    pub(super) fn tickets_of(&self, sort: &str, span: Span) -> impl Iterator<Item = &Paid> {
        let all = self.by_sort.get(sort).map_or(&[][..], Vec::as_slice);
        all.iter().filter(move |(reach, _)| reach.meets(span)).filter_map(|(_, place)| self.tickets.get(*place))
    }

    /// The way chosen on a day among those whose words begin alike: `cream`, `household milk`.
    #[must_use]
    pub fn chosen(&self, begins: &str, day: Day) -> Option<&Chosen> {
        let named = || self.chosen.iter().filter(|own| own.choice.starts_with(begins));
        named().rfind(|own| own.since <= day).or_else(|| named().next())
    }

    /// What an unpaid hour of this person is worth on a day, where one was named.
    #[must_use]
    pub fn worth_of(&self, person: &str, day: Day) -> Option<&Worth> {
        let named = || self.worths.iter().filter(|own| own.person == person);
        named().rfind(|own| own.since <= day).or_else(|| named().next())
    }

    /// What came in for the milk of a span, by the books of the households, when they reach back to its first month.
    #[must_use]
    pub fn came_in(&self, span: Span) -> Option<Money> {
        let since = self.income_since.filter(|since| (*since - span.from).num_days() <= 31 && *since <= span.to)?;
        self.income.iter().find(|(own, _)| *own == span && since <= own.to).map(|(_, money)| *money)
    }

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

    /// What own land would bring in the span: so much a month.
    #[must_use]
    pub fn own_land(&self, span: Span) -> Money {
        let month = self.figure("own land a month", span.to).unwrap_or_default();
        Held::of_span(span).of(month * Decimal::from(12))
    }

    /// Minutes worked in a span, paid or not, with the usual week where nothing was written.
    #[must_use]
    pub fn minutes_in(&self, span: Span, hired: bool) -> Vec<Spent> {
        let written = self.minutes.iter().filter(|own| span.has(own.day)).cloned();
        let usual = usual::fill(&self.usual, &self.minutes, span, self.until);
        written.chain(usual).filter(|own| own.wage.is_some() == hired).collect()
    }

    /// What went where in a span that was asked about.
    #[must_use]
    pub fn went(&self, span: Span) -> Went {
        self.milk.iter().find(|(own, _)| *own == span).map(|(_, went)| went.clone()).unwrap_or_default()
    }

    /// What a farm that has not written its milk down yet guesses for a span.
    #[must_use]
    pub fn guessed(&self, span: Span) -> Guessed {
        Guessed::of(&self.assumed, self.begun, span, self.until)
    }

    /// The milk of a span to divide by: what is written, and what is guessed for days before anything was.
    #[must_use]
    pub fn milk_of(&self, span: Span) -> Milk {
        self.guessed(span).beside(self.went(span).milk())
    }

    /// The lines of an account that stand on one line of the report; unpaid hours have theirs in [`Books::unpaid`].
    #[must_use]
    pub fn lines(&self, item: Item, span: Span) -> Vec<Line> {
        match item {
            Item::Tickets(sort) => {
                let tickets = self.tickets_of(sort, span).flat_map(|own| ticket_lines(own, span));
                let stores = self.stocks.iter().filter(|own| own.store.sort == sort).flat_map(|own| store_lines(own, span));
                let power = self.power(span).into_iter().filter(|_| sort == "power").filter_map(|own| power_line(&own));
                tickets.chain(stores).chain(power).collect()
            }
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

    /// The electricity of the months no bill covers.
    #[must_use]
    pub fn power(&self, span: Span) -> Vec<Reckoned> {
        if self.appliances.is_empty() && self.meter.is_empty() {
            return Vec::new();
        }
        let price = self.figure("price of a kWh", span.to);
        let billed = |month: Span| {
            let whole = whole_month(month);
            self.tickets_of("power", whole).any(|own| whole.has(own.paid) || own.covers().is_some_and(|covers| covers.meets(whole)))
        };
        // Milk is known for the spans asked about only, so a month's is its part of the span's by days.
        let filled = Weight::half_gallons(self.went(span).of(Flow::Filled)).in_milligrams();
        months_in(Span { to: span.to.min(self.until), ..span })
            .into_iter()
            .filter(|month| !billed(*month))
            .filter_map(|month| {
                let milk = Weight::milligrams(filled / span.days().max(1) * month.days());
                power::reckoned(&self.appliances, &self.meter, month, milk, price)
            })
            .collect()
    }

    fn hired(&self, span: Span) -> Vec<Line> {
        let burden = self.figure("payroll burden %", span.to).unwrap_or_default() / Decimal::ONE_HUNDRED;
        let spent = self.minutes_in(span, true);
        let mut groups: BTreeMap<(&str, &str, Money), Vec<&Spent>> = BTreeMap::new();
        for own in &spent {
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
        let spent = self.minutes_in(span, false);
        let mut groups: BTreeMap<(&str, &str), Vec<&Spent>> = BTreeMap::new();
        for own in &spent {
            groups.entry((&own.job, &own.person)).or_default().push(own);
        }
        groups
            .into_iter()
            .map(|((job, person), all)| Unpaid {
                name: said(job, person),
                minutes: all.iter().map(|own| own.minutes).sum(),
                worth: self.worth_of(person, span.to).map(|own| own.worth),
                falls: falls(job),
                guess: all.iter().any(|own| own.guess),
                opens: addresses(&all),
            })
            .collect()
    }

    /// The account of a span.
    #[must_use]
    pub fn account(&self, span: Span) -> Account {
        let milk = self.milk_of(span);
        Account {
            lines: Item::all().flat_map(|item| self.lines(item, span)).collect(),
            unpaid: self.unpaid(span),
            wage: self.wage(span.to),
            milk,
            receipts: self.came_in(span).or_else(|| self.brings(span.to).map(|brings| Money::round(milk.reached * brings))),
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
        gear.chain(tickets).chain(self.stocks.iter().flat_map(|own| own.wrongs.iter().cloned())).chain(self.wrong_power()).collect()
    }

    fn wrong_power(&self) -> Vec<String> {
        let any = Span { from: self.until, to: self.until };
        let plates = self
            .appliances
            .iter()
            .filter_map(|own| own.draws(any, Weight::ZERO).err().map(|fault| format!("{} is left out. {fault}", own.name)));
        let backwards = self.meter.windows(2).filter_map(|pair| match pair {
            [a, b] if b.shows < a.shows => {
                Some(format!("The meter showed less on {} than on {}: those days go by the appliances.", b.day, a.day))
            }
            _ => None,
        });
        plates.chain(backwards).collect()
    }
}

/// The whole month a part of one lies in.
fn whole_month(part: Span) -> Span {
    let first = part.from.with_day(1).unwrap_or(part.from);
    let last = first.checked_add_months(chrono::Months::new(1)).and_then(|next| next.pred_opt()).unwrap_or(part.to);
    Span { from: first, to: last }
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
