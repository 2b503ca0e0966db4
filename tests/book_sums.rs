//! The sums of the books: a textbook's month, amounts that split and round, and properties that hold of any books at all.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use proptest::prelude::*;
use rust_decimal::Decimal;
use std::collections::BTreeMap;
use tallypail::trade::{
    booksheet::trial_balance,
    figures::{Part, Sheet},
    money::Money,
    owing::owing,
    transfers::{
        Account::{
            self, Adjustments, Bank, Boarding, CashTin, Household, JarDeposits, MilkAtTheGate, Owner, SharePurchases, TinOverShort,
            WriteOffs,
        },
        Lean, Sort, Transfer, balance, by_household, standing,
    },
    when::{Day, parse_day},
};

fn day(typed: &str) -> Day {
    parse_day(typed).unwrap()
}

/// The two sums at the foot of a trial balance.
pub fn sides(sheet: &Sheet) -> (String, String) {
    let table = sheet.parts.iter().find_map(|part| if let Part::Table(table) = part { Some(table) } else { None }).unwrap();
    let total = table.total.as_ref().unwrap();
    (total[1].says.clone(), total[2].says.clone())
}

/// Source: Franklin, Graybeal and Cooper, “Principles of Accounting, Volume 1: Financial Accounting” (OpenStax 2019, CC BY-NC-SA),
/// chapter 3: the January 2019 entries of its invented printing shop, and the unadjusted trial balance printed from them, 34,000
/// on both sides. From memory. Its accounts stand here under names of ours: double entry does not mind what they are called.
#[test]
fn a_textbooks_trial_balance() {
    let (cash, receivable, supplies, equipment, payable) = (Bank, Household, CashTin, WriteOffs, JarDeposits);
    let (unearned, stock, dividends, revenue, salaries, utility) =
        (MilkAtTheGate, Owner, Adjustments, Boarding, TinOverShort, SharePurchases);
    let entries = [
        (3, stock, cash, 20_000),
        (5, payable, equipment, 3_500),
        (9, unearned, cash, 4_000),
        (10, revenue, receivable, 5_500),
        (12, cash, utility, 300),
        (14, cash, dividends, 100),
        (17, revenue, cash, 2_800),
        (18, cash, payable, 3_500),
        (20, cash, salaries, 3_600),
        (23, receivable, cash, 5_500),
        (27, revenue, receivable, 1_200),
        (30, payable, supplies, 500),
    ];
    let books = entries.map(|(on, from, to, dollars)| Transfer {
        from,
        to,
        ..Transfer::new(Sort::Adjustment, Lean::More, day(&format!("2019-01-{on:02}")), Some(1), Money::cents(dollars * 100)).unwrap()
    });
    for (account, dollars) in [
        (cash, 24_800),
        (receivable, 1_200),
        (supplies, 500),
        (equipment, 3_500),
        (payable, -500),
        (unearned, -4_000),
        (stock, -20_000),
        (dividends, 100),
        (revenue, -9_500),
        (salaries, 3_600),
        (utility, 300),
    ] {
        assert_eq!(balance(&books, account, None), Money::cents(dollars * 100), "{account}");
    }
    let sheet = trial_balance(&books, day("2019-01-31"), "Printing");
    assert_eq!(sides(&sheet), ("34000.00".to_owned(), "34000.00".to_owned()));
    assert_eq!(sides(&trial_balance(&books, day("2019-01-09"), "Printing")), ("27500.00".to_owned(), "27500.00".to_owned()));
}

/// Sources: the rows named in `money.rs` and `tests/costs.rs`; half away from zero, and the largest remainders.
#[test]
fn half_a_cent_and_spare_cents() {
    let round = |typed: &str| Money::round(typed.parse::<Decimal>().unwrap()).to_string();
    assert_eq!([round("96.885"), round("-96.885"), round("0.005"), round("-0.005")], ["96.89", "-96.89", "0.01", "-0.01"]);
    let split = |cents, weights: &[i64]| Money::cents(cents).split(weights).unwrap().iter().map(ToString::to_string).collect::<Vec<_>>();
    assert_eq!(split(5, &[30, 70]), ["0.02", "0.03"]);
    assert_eq!(split(102_759, &[20, 70, 5, 5]), ["205.52", "719.31", "51.38", "51.38"]);
}

/// Every sort with every way it leans, except those that undo another.
fn leanings() -> Vec<(Sort, Lean)> {
    let leans = [Lean::Plain, Lean::Cash, Lean::Bank, Lean::More, Lean::Less, Lean::Deposits];
    let pairs = Sort::WORDS.iter().flat_map(|(sort, _)| leans.map(|lean| (*sort, lean)));
    pairs.filter(|(sort, lean)| *sort != Sort::BouncedCheck && sort.accounts(*lean).is_some()).collect()
}

fn entry() -> impl Strategy<Value = Transfer> {
    let leanings = leanings();
    (0..leanings.len(), 1i64..6, 1i64..5_000_000, 0u64..400).prop_map(move |(place, person, cents, days)| {
        let (sort, lean) = leanings[place];
        let on = day("2025-09-01") + chrono::Days::new(days);
        let own = Transfer::new(sort, lean, on, Some(person), Money::cents(cents)).unwrap();
        Transfer { person: Some(person).filter(|_| own.from.is_of_a_household() || own.to.is_of_a_household()), ..own }
    })
}

/// Books with some entries taken back.
fn books() -> impl Strategy<Value = Vec<Transfer>> {
    (prop::collection::vec(entry(), 0..60), prop::collection::vec(any::<bool>(), 60)).prop_map(|(mut entries, back)| {
        for (number, own) in (1..).zip(entries.iter_mut()) {
            own.number = number;
        }
        let undone: Vec<Transfer> = entries.iter().zip(&back).filter(|(_, back)| **back).map(|(own, _)| own.clone()).collect();
        for (number, own) in (1000..).zip(undone) {
            entries.push(Transfer { number, ..own.opposite(Sort::TakenBack, own.day, "slip") });
        }
        entries
    })
}

fn balances(books: &[Transfer]) -> BTreeMap<(Account, i64), Money> {
    let one = |(account, _)| by_household(books, account).into_iter().map(move |(person, sum)| ((account, person), sum));
    let mut all: BTreeMap<(Account, i64), Money> = Account::WORDS.into_iter().flat_map(one).collect();
    all.extend(Account::WORDS.iter().map(|(account, _)| ((*account, 0), balance(books, *account, None))));
    all.retain(|_, sum| *sum != Money::ZERO);
    all
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
    #[test]
    fn accounts_sum_to_nothing(books in books()) {
        let sum: Money = Account::WORDS.iter().map(|(account, _)| balance(&books, *account, None)).sum();
        prop_assert_eq!(sum, Money::ZERO);
        let (debit, credit) = sides(&trial_balance(&books, day("2027-12-31"), "Farm"));
        prop_assert_eq!(debit, credit);
    }

    #[test]
    fn what_is_taken_back_leaves_every_balance_as_before(books in books(), more in entry()) {
        let before = balances(&books);
        let own = Transfer { number: 5000, ..more };
        let back = Transfer { number: 5001, ..own.opposite(Sort::TakenBack, own.day, "slip") };
        prop_assert!(balances(&[books.as_slice(), std::slice::from_ref(&own)].concat()) != before);
        prop_assert_eq!(balances(&[books.as_slice(), &[own, back]].concat()), before);
    }

    #[test]
    fn what_still_stands_comes_to_the_same(books in books()) {
        let standing: Vec<Transfer> = standing(&books).into_iter().cloned().collect();
        prop_assert_eq!(balances(&standing), balances(&books));
    }

    #[test]
    fn what_is_owed_by_age_is_all_that_is_owed(books in books()) {
        let owed: BTreeMap<i64, Money> = by_household(&books, Household).into_iter().filter(|(_, sum)| *sum > Money::ZERO).collect();
        let aged = owing(&books, day("2026-11-21"));
        let by_age = aged.iter().map(|own| (own.person, own.ages.into_iter().sum())).collect();
        prop_assert_eq!(&owed, &by_age);
        prop_assert_eq!(owed, aged.iter().map(|own| (own.person, own.all)).collect());
    }
}
