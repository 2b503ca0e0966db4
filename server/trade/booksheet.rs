//! The books on one sheet for the owner, and what a bookkeeper asks for: the journal of every entry, and the trial balance, whose
//! two sides come to the same or something is wrong.

use super::{
    boarding::month_of,
    capital,
    figures::{Cell, Holds, Part, Sheet, Table},
    money::Money,
    months::{month_shown, months_in, span_said},
    owing::{AGES, owing},
    statement::{address, said},
    transfers::{Account, Sort, Transfer, balance, by_household, standing},
    wear::Span,
    when::{Day, day_shown},
};
use std::collections::BTreeMap;

/// What households are called: number on the clipboard and name, by their record's number.
pub type Called = BTreeMap<i64, (String, String)>;

/// The sheet's title.
pub const TITLE: &str = "The books";

fn household(called: &Called, person: i64) -> Cell {
    match called.get(&person) {
        Some((label, name)) => Cell::opening(format!("{label} {name}"), address(label)),
        None => Cell::says(person.to_string()),
    }
}

fn figure(amount: Money) -> String {
    if amount == Money::ZERO { "–".to_owned() } else { amount.to_string() }
}

/// How it all stands, who owes and how long, and what came in by month: all of it up to today, as the statements are.
#[must_use]
pub fn overview(all: &[Transfer], called: &Called, span: Span, today: Day, farm: &str) -> Sheet {
    let all: &[Transfer] = &all.iter().filter(|own| own.day <= today).cloned().collect::<Vec<_>>();
    let of = |account| balance(all, account, None);
    let households = by_household(all, Account::Household);
    let sum = |wanted: &dyn Fn(Money) -> bool| households.values().copied().filter(|own| wanted(*own)).sum::<Money>();
    let (owed, ahead) = (sum(&|own| own > Money::ZERO), Money::ZERO - sum(&|own| own < Money::ZERO));
    let fact = |name: &str, says: String| (name.to_owned(), says);
    let facts = vec![
        fact("Farm", farm.to_owned()),
        fact("Households have to pay", owed.to_string()),
        fact("Paid ahead", ahead.to_string()),
        fact("Jar deposits held", format!("{}, owed back: no income", Money::ZERO - of(Account::JarDeposits))),
        fact("In the cash tin", of(Account::CashTin).to_string()),
        fact("At the bank, by these books", of(Account::Bank).to_string()),
    ];
    let mut parts = vec![Part::Table(owed_table(all, called, today))];
    let paid_ahead = ahead_table(&households, called);
    parts.extend((!paid_ahead.rows.is_empty()).then_some(Part::Table(paid_ahead)));
    parts.push(Part::Heading("What came in by month".to_owned()));
    parts.push(Part::Table(income(all, span)));
    parts.push(Part::Words(
        "Boarding counts in the month it is for, everything else on its day. What was taken back is left out of both.".to_owned(),
    ));
    parts.push(Part::Table(apart(all, span)));
    parts.push(Part::Words(
        "What the farm spends is no part of these books; it stands under Costs, so the bank here is what stood there first and what households brought to it.".to_owned(),
    ));
    Sheet { name: format!("books-{today}"), title: TITLE.to_owned(), under: format!("As they stand on {}", day_shown(today)), facts, parts }
}

fn owed_table(all: &[Transfer], called: &Called, today: Day) -> Table {
    let mut columns = vec![("Household", Holds::Words, 5), ("To pay", Holds::Figures, 2)];
    columns.extend(AGES.map(|age| (age, Holds::Figures, 2)));
    columns.push(("Since", Holds::Words, 3));
    let mut table = Table::new("owing", "Who has to pay, and for how long; what came in met the oldest first", &columns);
    table.when_empty = "Nobody owes the farm anything.".to_owned();
    let owing = owing(all, today);
    for own in &owing {
        let mut row = vec![household(called, own.person), Cell::says(own.all.to_string())];
        row.extend(own.ages.map(|age| Cell::says(figure(age))));
        row.push(Cell::says(own.since.format("%-d %b %Y").to_string()));
        table.rows.push(row);
    }
    let mut total = vec![Cell::says("All"), Cell::says(owing.iter().map(|own| own.all).sum::<Money>().to_string())];
    total.extend((0..AGES.len()).map(|age| Cell::says(figure(owing.iter().map(|own| own.ages[age]).sum()))));
    total.push(Cell::says(""));
    table.total = Some(total);
    table
}

fn ahead_table(households: &BTreeMap<i64, Money>, called: &Called) -> Table {
    let mut table = Table::new("ahead", "Paid ahead", &[("Household", Holds::Words, 5), ("Stands at", Holds::Figures, 3)]);
    let ahead = households.iter().filter(|(_, own)| **own < Money::ZERO);
    table.rows.extend(ahead.map(|(person, own)| vec![household(called, *person), Cell::says(said(*own))]));
    table
}

/// The sum of each account over the standing entries of a month.
fn of_month(all: &[&Transfer], month: Span) -> impl Fn(Account) -> Money {
    let mut sums: BTreeMap<Account, Money> = BTreeMap::new();
    for own in all.iter().filter(|own| month.has(if own.sort == Sort::Boarding { own.month.unwrap_or(own.day) } else { own.day })) {
        for account in [own.from, own.to] {
            let sum = sums.entry(account).or_default();
            *sum = *sum + own.adds_to(account);
        }
    }
    move |account| sums.get(&account).copied().unwrap_or_default()
}

fn by_month<const N: usize>(mut table: Table, all: &[Transfer], span: Span, of: impl Fn(&dyn Fn(Account) -> Money) -> [Money; N]) -> Table {
    let standing = standing(all);
    let mut totals = [Money::ZERO; N];
    for month in months_in(Span { from: month_of(span.from).from, to: span.to }) {
        let amounts = of(&of_month(&standing, month_of(month.from)));
        for (total, amount) in totals.iter_mut().zip(amounts) {
            *total = *total + amount;
        }
        let mut row = vec![Cell::says(month_shown(month))];
        row.extend(amounts.map(|amount| Cell::says(figure(amount))));
        table.rows.push(row);
    }
    let mut total = vec![Cell::says("All")];
    total.extend(totals.map(|amount| Cell::says(amount.to_string())));
    table.total = Some(total);
    table
}

/// Income by month. In double entry it stands below nothing; here it is said the way people say it.
fn income(all: &[Transfer], span: Span) -> Table {
    let columns = [
        ("Month", Holds::Words, 3),
        ("Boarding", Holds::Figures, 2),
        ("Milk at the gate", Holds::Figures, 2),
        ("Adjustments", Holds::Figures, 2),
        ("Income", Holds::Figures, 2),
    ];
    let table = Table::new("income", &format!("Income, {}: dollars earned, whether paid yet or not", span_said(span)), &columns);
    by_month(table, all, span, |of| {
        let [boarding, milk, adjusted] = [Account::Boarding, Account::MilkAtTheGate, Account::Adjustments].map(|own| Money::ZERO - of(own));
        [boarding, milk, adjusted, boarding + milk + adjusted]
    })
}

/// What moved and is no income: what households put into the herd, their jar deposits, and losses.
fn apart(all: &[Transfer], span: Span) -> Table {
    let columns = [
        ("Month", Holds::Words, 3),
        ("Shares of the herd", Holds::Figures, 2),
        ("Jar deposits", Holds::Figures, 2),
        ("Written off", Holds::Figures, 2),
        ("Tin over or short", Holds::Figures, 2),
    ];
    let table = Table::new("apart", "No income: what was put into the herd, deposits owed back, and losses below nothing", &columns);
    by_month(table, all, span, |of| {
        [Account::SharePurchases, Account::JarDeposits, Account::WriteOffs, Account::TinOverShort].map(|own| Money::ZERO - of(own))
    })
}

/// The trial balance on a day.
#[must_use]
pub fn trial_balance(all: &[Transfer], on: Day, farm: &str) -> Sheet {
    let there: Vec<&Transfer> = all.iter().filter(|own| own.day <= on).collect();
    let columns = [("Account", Holds::Words, 5), ("Debit", Holds::Figures, 2), ("Credit", Holds::Figures, 2)];
    let mut table = Table::new("trial", "Every account, in dollars", &columns);
    let mut sides = [Money::ZERO; 2];
    let mut row = |name: String, amount: Money| {
        if amount == Money::ZERO {
            return;
        }
        let side = usize::from(amount < Money::ZERO);
        let size = if amount < Money::ZERO { Money::ZERO - amount } else { amount };
        sides[side] = sides[side] + size;
        let cell = |own: usize| if own == side { size.to_string() } else { String::new() };
        table.row([name, cell(0), cell(1)]);
    };
    for (account, word) in Account::WORDS {
        if !account.is_of_a_household() {
            row(capital(word), balance(there.iter().copied(), account, None));
            continue;
        }
        // Those who owe and those the farm owes are two lines: one sum of both would hide either.
        let each = by_household(there.iter().copied(), account);
        let sum = |above: bool| each.values().copied().filter(|own| (*own > Money::ZERO) == above).sum::<Money>();
        let (owed, owing) = if account == Account::Household {
            ("Households, to pay", "Households, paid ahead")
        } else {
            ("Jar deposits, more given back than held", "Jar deposits, owed back")
        };
        row(owed.to_owned(), sum(true));
        row(owing.to_owned(), sum(false));
    }
    let [debit, credit] = sides;
    table.total = Some([("All".to_owned()), debit.to_string(), credit.to_string()].into_iter().map(Cell::says).collect());
    table.when_empty = "Nothing stands in the books yet.".to_owned();
    let squares = if debit == credit {
        Part::Words(format!("Both sides come to {debit}."))
    } else {
        Part::Loud(format!("The sides do not square: {debit} against {credit}. Run tallypail check."))
    };
    Sheet {
        name: format!("trial-balance-{on}"),
        title: "Trial balance".to_owned(),
        under: format!("On {}", day_shown(on)),
        facts: vec![("Farm".to_owned(), farm.to_owned()), ("Entries".to_owned(), there.len().to_string())],
        parts: vec![Part::Table(table), squares],
    }
}

/// Every entry of some days: from one account (credit) to another (debit).
#[must_use]
pub fn journal(all: &[Transfer], called: &Called, span: Span, farm: &str) -> Sheet {
    let columns = [
        ("Entry", Holds::Figures, 1),
        ("Day", Holds::Words, 2),
        ("What", Holds::Words, 3),
        ("From (credit)", Holds::Words, 3),
        ("To (debit)", Holds::Words, 3),
        ("Household", Holds::Words, 2),
        ("Amount", Holds::Figures, 2),
        ("Paid by", Holds::Words, 2),
        ("For month", Holds::Words, 2),
        ("Jars", Holds::Figures, 1),
        ("Takes back", Holds::Figures, 1),
        ("Note", Holds::Words, 4),
    ];
    let mut table = Table::new("journal", "Every entry, in dollars", &columns);
    table.when_empty = "No entry is of these days.".to_owned();
    let mut there: Vec<&Transfer> = all.iter().filter(|own| span.has(own.day)).collect();
    there.sort_by_key(|own| (own.day, own.number));
    let label = |person: i64| called.get(&person).map_or_else(|| person.to_string(), |(label, _)| label.clone());
    let number = |number: Option<i64>| number.map(|number| number.to_string()).unwrap_or_default();
    for own in there {
        let mut row = vec![Cell::opening(own.number.to_string(), format!("/books/entries/{}", own.number))];
        row.extend(
            [
                own.day.to_string(),
                own.sort.to_string(),
                own.from.to_string(),
                own.to.to_string(),
                own.person.map(label).unwrap_or_default(),
                own.amount.to_string(),
                own.paid_by.clone(),
                own.month.map(|month| month.to_string()).unwrap_or_default(),
                number(own.jars),
                number(own.corrects),
                own.note.clone(),
            ]
            .map(Cell::says),
        );
        table.rows.push(row);
    }
    Sheet {
        name: format!("journal-{}-{}", span.from, span.to),
        title: "Journal of entries".to_owned(),
        under: span_said(span),
        facts: vec![("Farm".to_owned(), farm.to_owned())],
        parts: vec![Part::Table(table)],
    }
}
