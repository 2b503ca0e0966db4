//! What looks odd about an entry in the books beside those that stand: it is asked about, and can be kept all the same.

use super::{
    channels::Channel,
    entries::{Whose, ended_last, never_said},
    money::Money,
    promises::Share,
    records::Remark,
    transfers::{Account, Sort, Transfer, balance, standing},
    when::{Day, day_shown},
};

/// Days within which the same payment again is asked about.
const TWICE: i64 = 10;

/// What an entry is asked about beside: the farm, and what else stands about the household.
#[derive(Clone, Copy, Debug)]
pub struct Beside<'a> {
    /// What stands in the books about the household, or all of it where there is none.
    pub all: &'a [Transfer],
    /// All shares.
    pub shares: &'a [Share],
    /// What the cash tin holds by the books.
    pub tin: Money,
    /// The farm's first day.
    pub farm_since: Option<Day>,
    /// Jars the household still owes.
    pub jars_owed: i64,
}

/// What is asked about an entry beside what stands in the books.
#[must_use]
pub fn asked(own: &Transfer, whose: Option<&Whose>, beside: Beside<'_>) -> Vec<Remark> {
    let all = beside.all;
    let mut remarks: Vec<Remark> = too_early(own, whose, beside.farm_since).into_iter().collect();
    if let Some(whose) = whose {
        remarks.extend(still_runs(own, whose, beside.shares));
        if let Some(word) = never_said(&own.note).filter(|_| whose.way == Channel::Herdshare) {
            let says = format!(
                "“{word}” is no word for a herdshare: they own their share and board it. Kept so, the note stays off their statement."
            );
            remarks.push(Remark::question("note", says, None));
        }
        remarks.extend(twice(own, whose, all));
    }
    let too_much = [too_much(own, all), more_than_the_tin(own, beside.tin), ten_times(own, all), jars_out(own, beside)];
    remarks.extend(too_much.into_iter().flatten().map(|says| Remark::question("amount", says, None)));
    remarks
}

/// A day before the household came, or before there was a farm. What stood before the books is older than either.
fn too_early(own: &Transfer, whose: Option<&Whose>, farm_since: Option<Day>) -> Option<Remark> {
    let theirs = whose.and_then(|whose| Some((&whose.called, whose.since.filter(|since| own.day < *since)?)));
    let says = match (theirs, farm_since.filter(|since| own.day < *since && own.sort != Sort::OpeningBalance)) {
        (Some((called, since)), _) => {
            format!("{called} is with the farm since {} only. Keep it if this was before.", day_shown(since))
        }
        (None, Some(since)) => format!("The farm is there since {} only. Keep it if this was before.", day_shown(since)),
        (None, None) => return None,
    };
    Some(Remark::question("day", says, None))
}

/// A share taken back while it runs: boarding would go on.
fn still_runs(own: &Transfer, whose: &Whose, shares: &[Share]) -> Option<Remark> {
    let theirs: Vec<&Share> = shares.iter().filter(|own| own.person == whose.number && own.way == Channel::Herdshare).collect();
    let runs = theirs.iter().any(|share| share.until.is_none()) && ended_last(&theirs, own.day, None).is_empty();
    (own.sort == Sort::BuyBack && runs)
        .then(|| Remark::question("person", "Their share still runs: end it on their page too. Keep this all the same?", None))
}

/// Cash that the tin does not hold.
fn more_than_the_tin(own: &Transfer, tin: Money) -> Option<String> {
    (own.from == Account::CashTin && own.amount > tin)
        .then(|| format!("By the books the tin holds {tin}. Count it first, or keep it all the same."))
}

/// How many times the usual is a slip of the thumb.
const MANY: i64 = 10;

/// A payment of ten times what they usually pay, or have to pay: a nought too many. Usual is the middle one of their payments, so
/// that the one that came with a share hides no slip.
fn ten_times(own: &Transfer, all: &[Transfer]) -> Option<String> {
    let theirs = |other: &&Transfer| other.sort == Sort::Payment && other.person == own.person;
    let mut paid: Vec<Money> = standing(all).into_iter().filter(theirs).map(|own| own.amount).collect();
    paid.sort_unstable();
    let usual = paid.get(paid.len() / 2).copied().unwrap_or_default().max(balance(all, Account::Household, own.person));
    (own.sort == Sort::Payment && own.person.is_some() && is_many_times(own.amount, usual))
        .then(|| format!("Ten times their usual, or more: they usually pay, or have to pay, {usual}. Right?"))
}

/// Whether an amount is ten times another or more, where there is another at all.
#[must_use]
pub fn is_many_times(amount: Money, usual: Money) -> bool {
    usual > Money::ZERO && amount >= usual.times(MANY)
}

/// A deposit given back of which less would be left than the jars that are still out stand for.
fn jars_out(own: &Transfer, beside: Beside<'_>) -> Option<String> {
    let owed = beside.jars_owed;
    let held = Money::ZERO - balance(beside.all, Account::JarDeposits, own.person);
    // The deposit of one jar, where the entry says for how many it is: what is left is measured in it.
    let left_short = own.jars.is_none_or(|jars| (held - own.amount).times(jars) < own.amount.times(owed));
    (own.sort == Sort::DepositGivenBack && owed > 0 && left_short).then(|| {
        let jars = if owed == 1 { "a jar".to_owned() } else { format!("{owed} jars") };
        format!("They still owe {jars}. Keep it if this deposit goes back all the same.")
    })
}

fn twice(own: &Transfer, whose: &Whose, all: &[Transfer]) -> Option<Remark> {
    let same = |other: &&Transfer| {
        (other.sort, other.person, other.amount, &other.paid_by) == (own.sort, own.person, own.amount, &own.paid_by)
            && (other.day - own.day).num_days().abs() <= TWICE
    };
    let other = standing(all).into_iter().find(same)?;
    let (amount, day) = (own.amount, day_shown(other.day));
    let what = match own.sort {
        Sort::Payment => format!("{amount} by {} from {}", own.paid_by, whose.called),
        Sort::SharePurchase => format!("A share of the herd for {amount} of {}", whose.called),
        Sort::BuyBack => format!("A share taken back for {amount} of {}", whose.called),
        _ => return None,
    };
    let says = format!("{what} stands in the books already, on {day}. Is this another?");
    Some(Remark::question("amount", says, None))
}

/// Where an entry is more than there is to move.
fn too_much(own: &Transfer, all: &[Transfer]) -> Option<String> {
    let of = |account| balance(all, account, own.person);
    let (less, amount) = (|account| Money::ZERO - of(account), own.amount);
    match own.sort {
        Sort::DepositGivenBack if amount > less(Account::JarDeposits) => Some(format!(
            "Only {} of jar deposits is held for them. Keep it if more was given back all the same.",
            less(Account::JarDeposits)
        )),
        Sort::PaidBack if amount > less(Account::Household) => {
            Some(format!("They are ahead by {} only. Keep it if more went back all the same.", less(Account::Household).max(Money::ZERO)))
        }
        Sort::WriteOff if amount > of(Account::Household) => {
            Some(format!("They owe {} only. Keep it, or write that.", of(Account::Household).max(Money::ZERO)))
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::{transfers::Lean, when::parse_day};

    /// Six months at 60.00 and one payment of 260.00 with a share: 600.00 is 60.00 with its point slipped.
    #[test]
    fn a_nought_too_many_is_asked_about() {
        let paid = |number, cents| {
            let own = Transfer::new(Sort::Payment, Lean::Bank, parse_day("2026-05-01").unwrap(), Some(5), Money::cents(cents)).unwrap();
            Transfer { number, ..own }
        };
        let all: Vec<Transfer> = (1..=7).map(|number| paid(number, if number == 1 { 26_000 } else { 6_000 })).collect();
        let ask = |cents| ten_times(&paid(9, cents), &all);
        assert!(ask(60_000).unwrap().contains("have to pay, 60.00. Right?"), "{:?}", ask(60_000));
        assert_eq!((ask(59_999), ask(6_000)), (None, None));
        assert_eq!(ten_times(&paid(9, 60_000), &[]), None, "nothing is usual yet");
    }
}
