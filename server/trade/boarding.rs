//! A month's boarding: for each household, the parts of shares it held on each day of the month, and what the terms of that day
//! ask. It is rounded once, half away from zero, because one line is posted.
//!
//! A week in which the farm had nothing for them is made up as the terms say: not at all, in jars, or by an adjustment of that
//! part of the month's boarding.

use super::{
    channels::Channel,
    money::Money,
    months::months_in,
    parts::Part,
    promises::Share,
    terms::{Terms, terms_on},
    transfers::{Account, Lean, Sort, Transfer, standing},
    wear::Span,
    when::{Day, day_shown, parse_day},
};
use chrono::{Datelike, Days, Months};
use rust_decimal::Decimal;
use std::collections::{BTreeMap, BTreeSet};

/// What the terms say where a missed week is made up in money.
pub const IN_MONEY: &str = "boarding adjustment";

/// Days held alike: so much of shares, at so much a share and month, on so many days.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Held {
    /// The parts together.
    pub part: Part,
    /// Boarding of a whole share for the month.
    pub each: Money,
    /// How many days.
    pub days: i64,
}

/// One household's month.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// The household.
    pub person: i64,
    /// The day it is written for: the first they held a share on in that month.
    pub day: Day,
    /// What it is made of.
    pub held: Vec<Held>,
    /// What it comes to.
    pub amount: Money,
    /// The days of the month.
    pub days: i64,
}

impl Line {
    /// How it comes about: `1 1/2 × 40.00 × 15 of 30 days`. A whole month says no days.
    #[must_use]
    pub fn sum(&self) -> String {
        let piece = |held: &Held| {
            let days = if held.days == self.days { String::new() } else { format!(" × {} of {} days", held.days, self.days) };
            format!("{} × {}{days}", held.part, held.each)
        };
        self.held.iter().map(piece).collect::<Vec<_>>().join(" + ")
    }
}

/// The calendar month a day is in.
#[must_use]
pub fn month_of(day: Day) -> Span {
    let from = day.with_day(1).unwrap_or(day);
    let next = from.checked_add_months(Months::new(1)).unwrap_or(from);
    Span { from, to: next.pred_opt().unwrap_or(from) }
}

/// Reads a month, `2026-11`, or any day of it.
#[must_use]
pub fn parse_month(typed: &str) -> Option<Span> {
    let typed = typed.trim();
    parse_day(typed).or_else(|_| parse_day(&format!("{typed}-01"))).ok().map(month_of)
}

/// Everybody's boarding of a month, in order of their number.
#[must_use]
pub fn lines(shares: &[Share], terms: &[Terms], month: Span) -> Vec<Line> {
    let boarded = |share: &&Share| share.way == Channel::Herdshare;
    let people: BTreeSet<i64> = shares.iter().filter(boarded).map(|share| share.person).collect();
    people.into_iter().filter_map(|person| line(person, shares, terms, month)).collect()
}

fn line(person: i64, shares: &[Share], terms: &[Terms], month: Span) -> Option<Line> {
    let own: Vec<&Share> = shares.iter().filter(|share| share.person == person && share.way == Channel::Herdshare).collect();
    let mut held: Vec<Held> = Vec::new();
    let mut first = None;
    for day in month.from.iter_days().take_while(|day| *day <= month.to) {
        let part: Part = own.iter().filter(|share| share.holds(day)).map(|share| share.part).sum();
        let each = terms_on(terms, Channel::Herdshare, day).and_then(|terms| terms.boarding);
        let Some(each) = each.filter(|each| *each > Money::ZERO && part != Part::none()) else { continue };
        first = first.or(Some(day));
        match held.iter_mut().find(|held| (held.part, held.each) == (part, each)) {
            Some(held) => held.days += 1,
            None => held.push(Held { part, each, days: 1 }),
        }
    }
    let exact: Decimal = held.iter().map(|held| held.part.times(held.each.times(held.days).in_cents())).sum();
    // A third kept to 28 digits is no longer a third, so what is left of that is taken off before the one rounding.
    let dollars = (exact / Decimal::from(month.days() * 100)).round_dp(18);
    let amount = Money::round(dollars);
    (amount > Money::ZERO).then_some(Line { person, day: first?, held, amount, days: month.days() })
}

/// The shares as they run, each no longer than its household is with the farm. `left` has the last day of those who left.
#[must_use]
pub fn ending_with(shares: &[Share], left: &BTreeMap<i64, Day>) -> Vec<Share> {
    let ended = |share: &Share| match left.get(&share.person) {
        Some(last) => Share { until: Some(share.until.map_or(*last, |until| until.min(*last))), ..share.clone() },
        None => share.clone(),
    };
    shares.iter().map(ended).collect()
}

/// How much more of a month's boarding stands than it is by now, and why, in words.
#[must_use]
pub fn too_much(person: i64, stands: Money, now: Money, shares: &[Share], month: Span) -> Option<(Money, String)> {
    let over = stands - now;
    let ended = |share: &&Share| share.person == person && share.way == Channel::Herdshare;
    let last = shares.iter().filter(ended).filter_map(|share| share.until).filter(|until| *until < month.to).max();
    let why = last.map_or_else(|| "by the shares and terms as they are now".to_owned(), |last| format!("ended on {}", day_shown(last)));
    (over > Money::ZERO).then(|| (over, format!("Boarding {over} too much: {why}")))
}

/// That part of a month's boarding, rounded once, half away from zero.
#[must_use]
pub fn made_up(boarding: Money, missed: i64, of: i64) -> Money {
    if of <= 0 { Money::ZERO } else { Money::round(boarding.dollars() * Decimal::from(missed) / Decimal::from(of)) }
}

/// Whose boarding of a month stands in the books already, with what it came to.
#[must_use]
pub fn raised(transfers: &[Transfer], month: Day) -> BTreeMap<i64, Money> {
    of_month(transfers, Sort::Boarding, month, Account::Household)
}

/// What stands in the books as made up for a month.
#[must_use]
pub fn made_up_already(transfers: &[Transfer], month: Day) -> BTreeMap<i64, Money> {
    of_month(transfers, Sort::Adjustment, month, Account::Adjustments)
}

fn of_month(transfers: &[Transfer], sort: Sort, month: Day, account: Account) -> BTreeMap<i64, Money> {
    let own = standing(transfers).into_iter().filter(|own| own.sort == sort && own.month == Some(month));
    let mut sums: BTreeMap<i64, Money> = BTreeMap::new();
    for (person, adds) in own.filter_map(|own| Some((own.person?, own.adds_to(account)))) {
        let sum = sums.entry(person).or_default();
        *sum = *sum + adds;
    }
    sums
}

/// The entry of a household's boarding.
#[must_use]
pub fn entry(line: &Line, month: Day) -> Option<Transfer> {
    let own = Transfer::new(Sort::Boarding, Lean::Plain, line.day, Some(line.person), line.amount)?;
    Some(Transfer { month: Some(month), note: line.sum(), ..own })
}

/// What makes a household's month less: weeks the farm missed, and boarding that stands too high.
#[derive(Clone, Debug)]
pub struct Less {
    /// What its boarding of the month is by now.
    pub now: Money,
    /// Pickup days it had nothing on that are made up in money, and all of them.
    pub missed: (i64, i64),
    /// How much of its boarding stands too high, and why.
    pub over: Option<(Money, String)>,
    /// What was taken off for the month already.
    pub already: Money,
    /// The day it is written for.
    pub on: Day,
    /// The month.
    pub month: Span,
}

impl Less {
    /// The one entry that makes it right, for whatever is not off already.
    #[must_use]
    pub fn entry(&self, person: i64) -> Option<Transfer> {
        let (count, of) = self.missed;
        let (weeks, over) = (made_up(self.now, count, of), self.over.as_ref().map_or(Money::ZERO, |(over, _)| *over));
        let due = weeks + over - self.already;
        let own = Transfer::new(Sort::Adjustment, Lean::Less, self.on, Some(person), due).filter(|_| due > Money::ZERO)?;
        let said = (weeks > Money::ZERO).then(|| format!("The farm had no milk on {count} of {of} pickup days"));
        let why: Vec<String> = self.over.iter().map(|(_, why)| why.clone()).chain(said).collect();
        Some(Transfer { month: Some(self.month.from), note: why.join(". "), ..own })
    }
}

/// The months boarding can be raised for: those begun, newest first, at most so many.
#[must_use]
pub fn begun(today: Day, most: usize) -> Vec<Span> {
    let from = today.checked_sub_days(Days::new(31 * u64::try_from(most).unwrap_or(0))).unwrap_or(today);
    let mut months: Vec<Span> =
        months_in(Span { from: month_of(from).from, to: today }).into_iter().map(|month| month_of(month.from)).collect();
    months.reverse();
    months.truncate(most);
    months
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(typed: &str) -> Day {
        parse_day(typed).unwrap()
    }

    fn share(person: i64, part: &str, way: Channel, since: &str, until: Option<&str>) -> Share {
        Share {
            number: person,
            person,
            share: String::new(),
            part: Part::parse(part).unwrap(),
            half_gallons: 2,
            way,
            since: day(since),
            until: until.map(day),
            place: None,
        }
    }

    fn terms(since: &str, boarding: i64) -> Terms {
        let boarding = Some(Money::cents(boarding));
        Terms { way: Channel::Herdshare, since: day(since), share_cost: None, boarding, jar: None, deposit: None, missed: String::new() }
    }

    fn amounts(shares: &[Share], terms: &[Terms], month: &str) -> Vec<(i64, String, String)> {
        let lines = lines(shares, terms, parse_month(month).unwrap());
        lines.into_iter().map(|line| (line.person, line.amount.to_string(), line.sum())).collect()
    }

    /// Worked by hand: 1.5 × 40 = 60; 10 of 30 days of 40 is 13.33; 1/3 + 1/6 is half of 40; three thirds are the whole.
    #[test]
    fn boarding_by_the_day() {
        let herd = Channel::Herdshare;
        let shares = [
            share(1, "1", herd, "2025-01-01", None),
            share(1, "1/2", herd, "2025-01-01", None),
            share(2, "1", herd, "2026-11-21", None),
            share(3, "1", herd, "2025-01-01", Some("2026-11-15")),
            share(3, "1", Channel::Delivery, "2026-11-16", None),
            share(4, "1/3", herd, "2025-01-01", None),
            share(4, "1/6", herd, "2025-01-01", None),
            share(5, "1", herd, "2025-01-01", Some("2026-10-31")),
            share(6, "1", Channel::FarmGate, "2025-01-01", None),
        ];
        let own = |person, amount: &str, sum: &str| (person, amount.to_owned(), sum.to_owned());
        assert_eq!(
            amounts(&shares, &[terms("2025-01-01", 4000)], "2026-11"),
            [
                own(1, "60.00", "1 1/2 × 40.00"),
                own(2, "13.33", "1 × 40.00 × 10 of 30 days"),
                own(3, "20.00", "1 × 40.00 × 15 of 30 days"),
                own(4, "20.00", "1/2 × 40.00"),
            ]
        );
        // Terms that change within the month ask each day what that day's terms say: 40 × 14/30 + 45 × 1/30 = 20.17.
        let changed = [terms("2025-01-01", 4000), terms("2026-11-15", 4500)];
        assert_eq!(amounts(&shares[3..4], &changed, "2026-11")[0].1, "20.17");
        assert!(amounts(&shares, &[terms("2026-12-01", 4000)], "2026-11").is_empty(), "no terms, no boarding");
    }

    /// Source: the rounding rule named in `money.rs`: half away from zero. 0.25 for 1 of 50 shares is half a cent.
    #[test]
    fn half_a_cent_goes_away_from_nothing() {
        let shares = [share(1, "1/2", Channel::Herdshare, "2025-01-01", None)];
        assert_eq!(amounts(&shares, &[terms("2025-01-01", 1)], "2026-11")[0].1, "0.01");
        assert_eq!(made_up(Money::cents(4001), 1, 2), Money::cents(2001));
        assert_eq!(made_up(Money::cents(4000), 1, 0), Money::ZERO);
    }

    #[test]
    fn months_are_read_and_listed() {
        assert_eq!(parse_month("2026-11"), parse_month("2026-11-21"));
        assert_eq!(parse_month("soon"), None);
        let months: Vec<String> = begun(day("2026-11-01"), 3).iter().map(|month| month.from.to_string()).collect();
        assert_eq!(months, ["2026-11-01", "2026-10-01", "2026-09-01"]);
    }
}
