//! Who owes, and for how long. What came in meets the oldest charge first, as common practice has it; what is left of each charge
//! is as old as the charge.

use super::{
    money::Money,
    transfers::{Account, Transfer, standing},
    when::Day,
};
use std::collections::BTreeMap;

/// How the ages are called.
pub const AGES: [&str; 4] = ["0–30 days", "31–60", "61–90", "Over 90"];

/// What one household owes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Owing {
    /// The household.
    pub person: i64,
    /// All of it.
    pub all: Money,
    /// The same by age.
    pub ages: [Money; 4],
    /// The day of the oldest charge not met yet.
    pub since: Day,
}

const fn age(days: i64) -> usize {
    match days {
        ..=30 => 0,
        31..=60 => 1,
        61..=90 => 2,
        _ => 3,
    }
}

/// Every household that owes on a day, those that owe longest first.
#[must_use]
pub fn owing(transfers: &[Transfer], today: Day) -> Vec<Owing> {
    let mut charges: BTreeMap<i64, Vec<(Day, Money)>> = BTreeMap::new();
    let mut credits: BTreeMap<i64, Money> = BTreeMap::new();
    for (person, own) in standing(transfers).into_iter().filter_map(|own| Some((own.person?, own))) {
        if own.to == Account::Household {
            charges.entry(person).or_default().push((own.day, own.amount));
        } else if own.from == Account::Household {
            let sum = credits.entry(person).or_default();
            *sum = *sum + own.amount;
        }
    }
    let met = |(person, charges): (i64, Vec<(Day, Money)>)| left(person, charges, credits.get(&person).copied().unwrap_or_default(), today);
    let mut owing: Vec<Owing> = charges.into_iter().filter_map(met).collect();
    owing.sort_by_key(|own| (own.since, own.person));
    owing
}

fn left(person: i64, mut charges: Vec<(Day, Money)>, mut credit: Money, today: Day) -> Option<Owing> {
    charges.sort_by_key(|(day, _)| *day);
    let (mut ages, mut since) = ([Money::ZERO; 4], None);
    for (day, amount) in charges {
        let met = amount.min(credit);
        credit = credit - met;
        if met < amount {
            let place = &mut ages[age((today - day).num_days())];
            *place = *place + (amount - met);
            since = since.or(Some(day));
        }
    }
    Some(Owing { person, all: ages.into_iter().sum(), ages, since: since? })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::{
        transfers::{Lean, Sort},
        when::parse_day,
    };

    /// Worked by hand: three months of 40.00, and 50.00 that came in: the first is met, the second half.
    #[test]
    fn what_came_in_meets_the_oldest_first() {
        let day = |typed: &str| parse_day(typed).unwrap();
        let new = |sort, lean, on: &str, cents| Transfer::new(sort, lean, day(on), Some(5), Money::cents(cents)).unwrap();
        let mut all: Vec<Transfer> =
            ["2026-11-01", "2026-08-01", "2026-09-01"].map(|on| new(Sort::Boarding, Lean::Plain, on, 4000)).to_vec();
        all.push(new(Sort::Payment, Lean::Cash, "2026-11-02", 5000));
        let owing = owing(&all, day("2026-11-21"));
        let own = &owing[0];
        assert_eq!((own.all, own.since), (Money::cents(7000), day("2026-09-01")));
        assert_eq!(own.ages, [4000, 0, 3000, 0].map(Money::cents), "1 September is 81 days before 21 November");
        assert_eq!([0, 30, 31, 60, 61, 90, 91, 400].map(age), [0, 0, 1, 1, 2, 2, 3, 3]);
    }
}
