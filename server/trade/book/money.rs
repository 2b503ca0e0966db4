//! The laws of the books: an entry goes between the accounts of its sort, names a household where one has an account of its own,
//! and is taken back once, by its exact opposite.

use super::{Book, Breach};
use crate::trade::transfers::{Account, PAID_BY, Sort, Transfer};
use std::collections::{HashMap, HashSet};

/// Every law of the books that does not hold.
pub(super) fn breaches(book: &Book, found: &mut Vec<Breach>) {
    let mut all: HashMap<i64, Transfer> = HashMap::new();
    let mut said = |number: i64, column: &'static str, says: String| found.push(Breach { kind: "transfers", number, column, says });
    for record in book.of("transfers") {
        match Transfer::of(record) {
            Some(transfer) => drop(all.insert(record.number, transfer)),
            None => said(record.number, "sort", "This entry cannot be read: a word in it is none of the books'.".to_owned()),
        }
    }
    let mut taken_back: HashSet<i64> = HashSet::new();
    for record in book.of("transfers") {
        let Some(own) = all.get(&record.number) else { continue };
        for (column, says) in alone(own) {
            said(own.number, column, says);
        }
        if let Some(corrected) = own.corrects {
            if !taken_back.insert(corrected) {
                said(own.number, "corrects", format!("Entry {corrected} is taken back already; nothing is taken back twice."));
            }
            if let Some(says) = all.get(&corrected).and_then(|earlier| no_opposite(own, earlier, &all)) {
                said(own.number, "corrects", says);
            }
        }
    }
}

/// What is wrong with an entry by itself: the column to look at, and the sentence.
fn alone(own: &Transfer) -> Vec<(&'static str, String)> {
    let (from, to, sort) = (own.from, own.to, own.sort);
    let mut wrong = Vec::new();
    if from == to {
        wrong.push(("to_account", format!("From {from} to {to} moves nothing.")));
    } else if !sort.fits(from, to) {
        wrong.push(("from_account", format!("A {sort} never goes from {from} to {to}.")));
    }
    if own.person.is_none() && (from.is_of_a_household() || to.is_of_a_household()) {
        wrong.push(("person", "Every household has an account of its own: say whose this is.".to_owned()));
    }
    if own.amount.in_cents() <= 0 {
        wrong.push(("amount", "An amount is above nothing; which way it goes is said by the accounts.".to_owned()));
    }
    let by_hand = matches!(sort, Sort::Payment | Sort::PaidBack);
    let by_cash = [from, to].contains(&Account::CashTin);
    if by_hand && (!PAID_BY.contains(&own.paid_by.as_str()) || by_cash != (own.paid_by == "cash")) {
        wrong.push(("paid_by", "Cash goes through the tin, a check or a transfer through the bank.".to_owned()));
    }
    if sort == Sort::Boarding && own.month.is_none_or(|month| month.format("%d").to_string() != "01") {
        wrong.push(("month", "Boarding is for a month: write its first day.".to_owned()));
    }
    if matches!(sort, Sort::TakenBack | Sort::BouncedCheck) != own.corrects.is_some() {
        wrong.push(("corrects", "What is taken back, and a check that came back, name the entry they undo; nothing else does.".to_owned()));
    }
    wrong
}

/// Why an entry is not the opposite of the one it takes back.
fn no_opposite(own: &Transfer, earlier: &Transfer, all: &HashMap<i64, Transfer>) -> Option<String> {
    let number = earlier.number;
    if (own.from, own.to, own.amount, own.person) != (earlier.to, earlier.from, earlier.amount, earlier.person) {
        return Some(format!("This is not the opposite of entry {number}: the same amount and household, the other way."));
    }
    // A check the bank took after all may come back again: what took the first bouncing back is undone by the second.
    let took_after_all = |own: &Transfer| own.sort == Sort::TakenBack && undoes(own, all) == Some(Sort::BouncedCheck);
    if took_after_all(earlier) {
        return (own.day < earlier.day).then(|| format!("This takes entry {number} back before its own day."));
    }
    if earlier.sort == Sort::TakenBack {
        return Some(format!("Entry {number} takes another back itself. Write that one anew instead."));
    }
    if own.sort == Sort::BouncedCheck && (earlier.sort, earlier.paid_by.as_str()) != (Sort::Payment, "check") {
        return Some(format!("Entry {number} is no payment by check."));
    }
    (own.day < earlier.day).then(|| format!("This takes entry {number} back before its own day."))
}

/// The sort of the entry an entry undoes.
fn undoes(own: &Transfer, all: &HashMap<i64, Transfer>) -> Option<Sort> {
    all.get(&own.corrects?).map(|earlier| earlier.sort)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::{
        money::Money,
        records::Record,
        transfers::Lean,
        when::{Day, Moment, parse_day},
    };

    fn day(typed: &str) -> Day {
        parse_day(typed).unwrap()
    }

    fn said(transfers: &[Transfer]) -> Vec<String> {
        let record = |(place, own): (usize, &Transfer)| Record {
            number: i64::try_from(place).unwrap() + 1,
            entry: place.to_string(),
            cells: own.cells(),
            written: Moment::seconds(0),
            who: "Mina".to_owned(),
            source: "test".to_owned(),
            version: 1,
        };
        let mut book = Book::default();
        book.records.insert("transfers", transfers.iter().enumerate().map(record).collect());
        let mut found = Vec::new();
        breaches(&book, &mut found);
        found.into_iter().map(|breach| format!("{} {}: {}", breach.number, breach.column, breach.says)).collect()
    }

    fn paid() -> Transfer {
        let own = Transfer::new(Sort::Payment, Lean::Bank, day("2026-11-04"), Some(5), Money::cents(4000)).unwrap();
        Transfer { number: 1, paid_by: "check".to_owned(), ..own }
    }

    #[test]
    fn lawful_books_say_nothing() {
        let bounced = paid().opposite(Sort::BouncedCheck, day("2026-11-09"), "");
        assert_eq!(said(&[paid(), bounced]), [""; 0]);
        assert_eq!(said(&[paid(), paid().opposite(Sort::TakenBack, day("2026-11-04"), "typed twice")]), [""; 0]);
    }

    #[test]
    fn every_law_is_said() {
        let wrong = |change: &dyn Fn(&mut Transfer)| {
            let mut own = paid();
            change(&mut own);
            said(&[own]).join("; ")
        };
        assert!(wrong(&|own| own.person = None).contains("person: "));
        assert!(wrong(&|own| own.to = own.from).contains("moves nothing"));
        assert!(wrong(&|own| own.sort = Sort::WriteOff).contains("never goes from household to bank"));
        assert!(wrong(&|own| own.amount = Money::ZERO).contains("above nothing"));
        assert!(wrong(&|own| own.paid_by = "cash".to_owned()).contains("Cash goes through the tin"));
        assert!(wrong(&|own| own.corrects = Some(1)).contains("nothing else does"));
        let boarding = Transfer::new(Sort::Boarding, Lean::Plain, day("2026-11-01"), Some(5), Money::cents(4000)).unwrap();
        assert!(said(std::slice::from_ref(&boarding)).join("").contains("write its first day"));
        assert!(said(&[Transfer { month: Some(day("2026-11-02")), ..boarding }]).join("").contains("write its first day"));
        let back = paid().opposite(Sort::TakenBack, day("2026-11-05"), "slip");
        assert!(said(&[paid(), back.clone(), back.clone()]).join("").contains("nothing is taken back twice"));
        assert!(said(&[paid(), Transfer { amount: Money::cents(3999), ..back.clone() }]).join("").contains("not the opposite"));
        assert!(said(&[paid(), Transfer { person: Some(6), ..back.clone() }]).join("").contains("not the opposite"));
        assert!(said(&[paid(), Transfer { day: day("2026-11-03"), ..back.clone() }]).join("").contains("before its own day"));
        let again = Transfer { number: 2, ..back.clone() }.opposite(Sort::TakenBack, day("2026-11-06"), "");
        assert!(said(&[paid(), back, again]).join("").contains("takes another back itself"));
        let cash = Transfer { paid_by: "transfer".to_owned(), ..paid() };
        assert!(said(&[cash.clone(), cash.opposite(Sort::BouncedCheck, day("2026-11-09"), "")]).join("").contains("no payment by check"));
    }
}
