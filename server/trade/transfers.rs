//! Moving money between accounts. Every amount goes from one account to one other, so all balances come to nothing together;
//! which two they are follows from what the entry is, and a wrong pair cannot be written.
//!
//! Moving an amount makes the account it goes to larger and the one it comes from smaller. So a household above nothing owes the
//! farm; its jar deposits stand below nothing, because the farm owes them back; and so do boarding and milk at the gate, which
//! is how income looks in double entry.

use super::{
    kinds::{Kind, kind},
    money::Money,
    records::{Cell, Record},
    steps::{meant, word},
    when::{Day, parse_day},
};
use std::{
    collections::{BTreeMap, HashMap},
    fmt,
};

/// Where money can be.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Account {
    /// What a household owes; one for each.
    Household,
    /// What the farm owes a household for its jars; one for each.
    JarDeposits,
    /// The tin at the fridge.
    CashTin,
    /// The bank.
    Bank,
    /// Income: boarding.
    Boarding,
    /// What households put into the herd. No income from milk.
    SharePurchases,
    /// Income: milk at the gate.
    MilkAtTheGate,
    /// Taken off or added to income afterwards.
    Adjustments,
    /// What will never come.
    WriteOffs,
    /// What the tin had more or less than the book.
    TinOverShort,
    /// What the owner put in or took out.
    Owner,
}

use Account::{Adjustments, Bank, CashTin, Household, JarDeposits, MilkAtTheGate, Owner, SharePurchases, TinOverShort, WriteOffs};

impl Account {
    /// Every account, with its words, in the order a trial balance lists them.
    pub const WORDS: [(Account, &'static str); 11] = [
        (Household, "household"),
        (JarDeposits, "jar deposits"),
        (CashTin, "cash tin"),
        (Bank, "bank"),
        (Account::Boarding, "boarding"),
        (SharePurchases, "share purchases"),
        (MilkAtTheGate, "milk at the gate"),
        (Adjustments, "adjustments"),
        (WriteOffs, "write-offs"),
        (TinOverShort, "tin over and short"),
        (Owner, "owner"),
    ];

    /// Whether every household has one of its own.
    #[must_use]
    pub const fn is_of_a_household(self) -> bool {
        matches!(self, Household | JarDeposits)
    }
}

impl fmt::Display for Account {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(word(&Account::WORDS, *self).unwrap_or_default())
    }
}

/// What an entry is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Sort {
    /// A share of the herd.
    SharePurchase,
    /// A month's boarding.
    Boarding,
    /// Half-gallons handed out at the gate.
    MilkAtTheGate,
    /// A deposit on jars, owed back.
    JarDeposit,
    /// A deposit given back: the household owes that much less.
    DepositGivenBack,
    /// More or less to pay.
    Adjustment,
    /// What came from a household.
    Payment,
    /// What went back to a household.
    PaidBack,
    /// A share taken back into the herd.
    BuyBack,
    /// What will never come.
    WriteOff,
    /// A check the bank sent back.
    BouncedCheck,
    /// What a count of the tin found more or less.
    TinCounted,
    /// Cash taken to the bank.
    MovedToTheBank,
    /// What the owner took out of the tin or the bank.
    OwnerDraw,
    /// What the owner put into the tin or the bank.
    OwnerContribution,
    /// What stood before these books.
    OpeningBalance,
    /// The opposite of an earlier entry.
    TakenBack,
}

/// Which way an entry leans, where its sort leaves a choice.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Lean {
    /// There is no choice, or it is the usual one.
    Plain,
    /// By the tin.
    Cash,
    /// By the bank.
    Bank,
    /// More to pay, or more in the tin.
    More,
    /// Less to pay, or less in the tin.
    Less,
    /// About jar deposits.
    Deposits,
}

/// Every sort with the accounts it goes between, from the first to the second. A taking back has none of its own.
const PAIRS: [(Sort, Lean, Account, Account); 27] = [
    (Sort::SharePurchase, Lean::Plain, SharePurchases, Household),
    (Sort::Boarding, Lean::Plain, Account::Boarding, Household),
    (Sort::MilkAtTheGate, Lean::Plain, MilkAtTheGate, Household),
    (Sort::MilkAtTheGate, Lean::Cash, MilkAtTheGate, CashTin),
    (Sort::JarDeposit, Lean::Plain, JarDeposits, Household),
    (Sort::DepositGivenBack, Lean::Plain, Household, JarDeposits),
    (Sort::Adjustment, Lean::More, Adjustments, Household),
    (Sort::Adjustment, Lean::Less, Household, Adjustments),
    (Sort::Payment, Lean::Cash, Household, CashTin),
    (Sort::Payment, Lean::Bank, Household, Bank),
    (Sort::PaidBack, Lean::Cash, CashTin, Household),
    (Sort::PaidBack, Lean::Bank, Bank, Household),
    (Sort::BuyBack, Lean::Plain, Household, SharePurchases),
    (Sort::WriteOff, Lean::Plain, Household, WriteOffs),
    (Sort::BouncedCheck, Lean::Plain, Bank, Household),
    (Sort::TinCounted, Lean::More, TinOverShort, CashTin),
    (Sort::TinCounted, Lean::Less, CashTin, TinOverShort),
    (Sort::MovedToTheBank, Lean::Plain, CashTin, Bank),
    (Sort::OwnerDraw, Lean::Cash, CashTin, Owner),
    (Sort::OwnerDraw, Lean::Bank, Bank, Owner),
    (Sort::OwnerContribution, Lean::Cash, Owner, CashTin),
    (Sort::OwnerContribution, Lean::Bank, Owner, Bank),
    (Sort::OpeningBalance, Lean::More, Owner, Household),
    (Sort::OpeningBalance, Lean::Less, Household, Owner),
    (Sort::OpeningBalance, Lean::Deposits, JarDeposits, Owner),
    (Sort::OpeningBalance, Lean::Cash, Owner, CashTin),
    (Sort::OpeningBalance, Lean::Bank, Owner, Bank),
];

impl Sort {
    /// Every sort, with its words.
    pub const WORDS: [(Sort, &'static str); 17] = [
        (Sort::SharePurchase, "share purchase"),
        (Sort::Boarding, "boarding"),
        (Sort::MilkAtTheGate, "milk at the gate"),
        (Sort::JarDeposit, "jar deposit"),
        (Sort::DepositGivenBack, "deposit given back"),
        (Sort::Adjustment, "adjustment"),
        (Sort::Payment, "payment"),
        (Sort::PaidBack, "paid back"),
        (Sort::BuyBack, "buy-back"),
        (Sort::WriteOff, "write-off"),
        (Sort::BouncedCheck, "bounced check"),
        (Sort::TinCounted, "tin counted"),
        (Sort::MovedToTheBank, "moved to the bank"),
        (Sort::OwnerDraw, "owner draw"),
        (Sort::OwnerContribution, "owner contribution"),
        (Sort::OpeningBalance, "opening balance"),
        (Sort::TakenBack, "taken back"),
    ];

    /// The sort a word names, if it names one.
    #[must_use]
    pub fn parse(typed: &str) -> Option<Sort> {
        meant(&Sort::WORDS, typed)
    }

    /// The accounts an entry of this sort goes between, from the first to the second; none where it cannot lean that way.
    #[must_use]
    pub fn accounts(self, lean: Lean) -> Option<(Account, Account)> {
        PAIRS.iter().find(|(sort, own, ..)| (*sort, *own) == (self, lean)).map(|(_, _, from, to)| (*from, *to))
    }

    /// Whether an entry of this sort may go between these. A taking back goes wherever the entry it takes back came from.
    #[must_use]
    pub fn fits(self, from: Account, to: Account) -> bool {
        self == Sort::TakenBack || PAIRS.iter().any(|(sort, _, own_from, own_to)| (*sort, *own_from, *own_to) == (self, from, to))
    }
}

impl fmt::Display for Sort {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(word(&Sort::WORDS, *self).unwrap_or_default())
    }
}

/// How money changed hands.
pub const PAID_BY: [&str; 3] = ["cash", "check", "transfer"];

/// An amount that went from one account to another.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Transfer {
    /// Its number; nought for one that is not kept yet.
    pub number: i64,
    /// The day.
    pub day: Day,
    /// What it is.
    pub sort: Sort,
    /// Where it came from.
    pub from: Account,
    /// Where it went.
    pub to: Account,
    /// The household it is about.
    pub person: Option<i64>,
    /// How much, always above nothing.
    pub amount: Money,
    /// Cash, check or transfer; empty where it does not matter.
    pub paid_by: String,
    /// The first day of the month it is for.
    pub month: Option<Day>,
    /// The jars it is for.
    pub jars: Option<i64>,
    /// The entry it is the opposite of.
    pub corrects: Option<i64>,
    /// A note.
    pub note: String,
}

fn transfers() -> Option<&'static Kind> {
    kind("transfers")
}

impl Transfer {
    /// An entry of a sort that leans a way. There is none where the sort cannot lean so.
    #[must_use]
    pub fn new(sort: Sort, lean: Lean, day: Day, person: Option<i64>, amount: Money) -> Option<Transfer> {
        let (from, to) = sort.accounts(lean)?;
        let (paid_by, note) = (String::new(), String::new());
        Some(Transfer { number: 0, day, sort, from, to, person, amount, paid_by, month: None, jars: None, corrects: None, note })
    }

    /// The entry that undoes this one on a day: the same amount, the other way.
    #[must_use]
    pub fn opposite(&self, sort: Sort, day: Day, why: &str) -> Transfer {
        let (from, to, corrects) = (self.to, self.from, Some(self.number));
        Transfer { number: 0, day, sort, from, to, corrects, note: why.to_owned(), ..self.clone() }
    }

    /// Reads a record; none when a word in it is none of ours.
    #[must_use]
    pub fn of(record: &Record) -> Option<Transfer> {
        let kind = transfers()?;
        let cell = |column: &str| record.cell(kind, column);
        let day = |column: &str| parse_day(cell(column).text()).ok();
        Some(Transfer {
            number: record.number,
            day: day("day")?,
            sort: Sort::parse(cell("sort").text())?,
            from: meant(&Account::WORDS, cell("from_account").text())?,
            to: meant(&Account::WORDS, cell("to_account").text())?,
            person: cell("person").whole(),
            amount: Money::cents(cell("amount").whole()?),
            paid_by: cell("paid_by").text().to_owned(),
            month: day("month"),
            jars: cell("jars").whole(),
            corrects: cell("corrects").whole(),
            note: cell("note").text().to_owned(),
        })
    }

    /// The cells a record of it has.
    #[must_use]
    pub fn cells(&self) -> Vec<Cell> {
        let words = |text: &str| if text.is_empty() { Cell::Empty } else { Cell::Text(text.to_owned()) };
        let cell = |column: &str| match column {
            "day" => words(&self.day.to_string()),
            "sort" => words(&self.sort.to_string()),
            "from_account" => words(&self.from.to_string()),
            "to_account" => words(&self.to.to_string()),
            "person" => self.person.map_or(Cell::Empty, Cell::To),
            "amount" => Cell::Whole(self.amount.in_cents()),
            "paid_by" => words(&self.paid_by),
            "month" => words(&self.month.map(|month| month.to_string()).unwrap_or_default()),
            "jars" => self.jars.map_or(Cell::Empty, Cell::Whole),
            "corrects" => self.corrects.map_or(Cell::Empty, Cell::To),
            _ => words(&self.note),
        };
        transfers().map_or_else(Vec::new, |kind| kind.columns.iter().map(|column| cell(column.name)).collect())
    }

    /// What it adds to an account.
    #[must_use]
    pub fn adds_to(&self, account: Account) -> Money {
        match (self.to == account, self.from == account) {
            (true, false) => self.amount,
            (false, true) => Money::ZERO - self.amount,
            _ => Money::ZERO,
        }
    }
}

/// What an account comes to: everybody's together, or one household's.
#[must_use]
pub fn balance<'a>(transfers: impl IntoIterator<Item = &'a Transfer>, account: Account, person: Option<i64>) -> Money {
    let own = |transfer: &&Transfer| person.is_none() || transfer.person == person;
    transfers.into_iter().filter(own).map(|transfer| transfer.adds_to(account)).sum()
}

/// What one account comes to for each household.
#[must_use]
pub fn by_household<'a>(transfers: impl IntoIterator<Item = &'a Transfer>, account: Account) -> BTreeMap<i64, Money> {
    let mut balances: BTreeMap<i64, Money> = BTreeMap::new();
    for (person, adds) in transfers.into_iter().filter_map(|own| Some((own.person?, own.adds_to(account)))) {
        let sum = balances.entry(person).or_default();
        *sum = *sum + adds;
    }
    balances
}

/// The entries that still stand: neither taken back, nor a check that came back, nor what took them back.
#[must_use]
pub fn standing(transfers: &[Transfer]) -> Vec<&Transfer> {
    // Nothing is taken back twice, so what undoes an entry is one chain: a check that came back, was taken by the bank after all,
    // and came back again.
    let by: HashMap<i64, i64> = transfers.iter().filter_map(|own| Some((own.corrects?, own.number))).collect();
    transfers.iter().filter(|own| own.corrects.is_none() && undoings(&by, own.number).len().is_multiple_of(2)).collect()
}

/// What undid an entry, what undid that, and so on, in that order.
fn undoings(by: &HashMap<i64, i64>, number: i64) -> Vec<i64> {
    let mut chain: Vec<i64> = Vec::new();
    // A folder may hold two entries that name each other: the book's laws say so, and nobody goes round in a circle here.
    while let Some(next) = by.get(chain.last().unwrap_or(&number)).filter(|next| !chain.contains(next)) {
        chain.push(*next);
    }
    chain
}

/// What undid an entry, one after the other, among these.
#[must_use]
pub fn undone_by(transfers: &[Transfer], number: i64) -> Vec<i64> {
    undoings(&transfers.iter().filter_map(|own| Some((own.corrects?, own.number))).collect(), number)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::kinds::{ACCOUNTS, TRANSFERS};

    #[test]
    fn the_words_are_those_of_the_kind() {
        assert_eq!(Account::WORDS.map(|(_, word)| word).as_slice(), ACCOUNTS);
        assert_eq!(Sort::WORDS.map(|(_, word)| word).as_slice(), TRANSFERS);
        for (sort, word) in Sort::WORDS {
            assert_eq!((Sort::parse(word), sort.to_string()), (Some(sort), word.to_owned()));
            assert!(sort == Sort::TakenBack || PAIRS.iter().any(|(own, ..)| *own == sort), "{word} goes nowhere");
        }
        assert!(PAIRS.iter().all(|(_, _, from, to)| from != to));
    }

    #[test]
    fn a_deposit_is_owed_back_and_is_no_income() {
        let day = parse_day("2026-11-01").unwrap();
        let new = |sort, amount| Transfer::new(sort, Lean::Plain, day, Some(5), Money::cents(amount)).unwrap();
        let all = [new(Sort::JarDeposit, 1200), new(Sort::DepositGivenBack, 400)];
        assert_eq!(balance(&all, Household, Some(5)), Money::cents(800));
        assert_eq!(balance(&all, JarDeposits, Some(5)), Money::cents(-800));
        assert!([Account::Boarding, MilkAtTheGate, Adjustments].iter().all(|income| balance(&all, *income, None) == Money::ZERO));
    }

    #[test]
    fn what_was_taken_back_no_longer_stands() {
        let day = parse_day("2026-11-01").unwrap();
        let mut paid = Transfer::new(Sort::Payment, Lean::Bank, day, Some(5), Money::cents(4000)).unwrap();
        paid.number = 1;
        let mut bounced = paid.opposite(Sort::BouncedCheck, day, "");
        bounced.number = 2;
        let mut back = bounced.opposite(Sort::TakenBack, day, "the bank was wrong");
        back.number = 3;
        assert_eq!(standing(std::slice::from_ref(&paid)).len(), 1);
        assert_eq!(standing(&[paid.clone(), bounced.clone()]).len(), 0);
        assert_eq!(standing(&[paid.clone(), bounced, back]), [&paid]);
    }
}
