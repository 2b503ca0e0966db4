//! What somebody types for an entry in the books. What cannot have happened is refused with a sentence; what only looks odd is
//! asked about beside the books that stand.

use super::{
    channels::Channel,
    money::Money,
    parts::Part,
    promises::Share,
    records::{Remark, Shape, Ways},
    short,
    terms::{Terms, terms_on},
    transfers::{Lean, PAID_BY, Sort, Transfer, standing},
    when::{Day, parse_day},
};
use rust_decimal::Decimal;

/// The most one entry may be: ten thousand shares of a very small dairy are a slip of the thumb.
const MOST: Money = Money::cents(100_000_000);

/// The sorts somebody writes by hand. The others come of acts of their own: boarding, counting the tin, taking back.
pub const BY_HAND: [(Sort, &str); 12] = [
    (Sort::Payment, "A household paid"),
    (Sort::MilkAtTheGate, "Milk at the gate"),
    (Sort::JarDeposit, "A deposit on jars"),
    (Sort::DepositGivenBack, "A jar deposit given back"),
    (Sort::Adjustment, "More or less to pay"),
    (Sort::PaidBack, "Money back to a household"),
    (Sort::SharePurchase, "A share of the herd"),
    (Sort::BuyBack, "A share taken back into the herd"),
    (Sort::WriteOff, "What will never come"),
    (Sort::MovedToTheBank, "Cash taken to the bank"),
    (Sort::OwnerDraw, "You took money out"),
    (Sort::OwnerContribution, "You put money in"),
];

/// The one more sort written by hand, once, when the books begin.
pub const OPENING: (Sort, &str) = (Sort::OpeningBalance, "What stood before these books");

/// Words that a herdshare household's papers never say: it owns its share of the herd and boards it.
pub const NEVER_SAID: [&str; 28] = [
    "price",
    "prices",
    "priced",
    "pricing",
    "buy",
    "buys",
    "buying",
    "buyer",
    "buyers",
    "bought",
    "sale",
    "sales",
    "sell",
    "sells",
    "selling",
    "seller",
    "sellers",
    "sold",
    "order",
    "orders",
    "ordered",
    "ordering",
    "customer",
    "customers",
    "paid for milk",
    "pay for milk",
    "pays for milk",
    "paying for milk",
];

/// The first of those words that stands in a text by itself.
#[must_use]
pub fn never_said(text: &str) -> Option<&'static str> {
    let plain: String = text.to_lowercase().chars().map(|c| if c.is_alphanumeric() { c } else { ' ' }).collect();
    let plain = format!(" {} ", plain.split_whitespace().collect::<Vec<_>>().join(" "));
    NEVER_SAID.into_iter().find(|word| plain.contains(&format!(" {word} ")))
}

/// The fields a sort is asked for, besides the day and a note.
#[must_use]
pub const fn asks(sort: Sort) -> &'static [&'static str] {
    match sort {
        Sort::Payment | Sort::PaidBack => &["person", "amount", "paid_by"],
        Sort::MilkAtTheGate => &["person", "jars", "amount", "way"],
        Sort::JarDeposit | Sort::DepositGivenBack => &["person", "jars", "amount"],
        Sort::Adjustment | Sort::OpeningBalance => &["way", "person", "amount"],
        Sort::OwnerDraw | Sort::OwnerContribution => &["way", "amount"],
        Sort::MovedToTheBank => &["amount"],
        _ => &["person", "amount"],
    }
}

/// The ways an entry of a sort may lean, each with the word that stands for it and what a person reads.
#[must_use]
pub const fn leans(sort: Sort) -> &'static [(&'static str, Lean, &'static str)] {
    match sort {
        Sort::MilkAtTheGate => &[("cash", Lean::Cash, "Cash into the tin"), ("later", Lean::Plain, "On their statement")],
        Sort::Adjustment => &[("less", Lean::Less, "Less to pay"), ("more", Lean::More, "More to pay")],
        Sort::OwnerDraw => &[("cash", Lean::Cash, "From the cash tin"), ("bank", Lean::Bank, "From the bank")],
        Sort::OwnerContribution => &[("cash", Lean::Cash, "Into the cash tin"), ("bank", Lean::Bank, "Into the bank")],
        Sort::OpeningBalance => &[
            ("more", Lean::More, "They owe this"),
            ("less", Lean::Less, "They are ahead by this"),
            ("deposits", Lean::Deposits, "Jar deposits held"),
            ("cash", Lean::Cash, "In the cash tin"),
            ("bank", Lean::Bank, "In the bank"),
        ],
        _ => &[],
    }
}

/// The household an entry is about.
#[derive(Clone, Debug)]
pub struct Whose {
    /// Its record's number.
    pub number: i64,
    /// Number and name.
    pub called: String,
    /// With the farm since.
    pub since: Option<Day>,
    /// How the milk reaches them.
    pub way: Channel,
}

/// What an amount left empty is worked out from, and the day it is.
#[derive(Clone, Copy, Debug)]
pub struct Known<'a> {
    /// All terms.
    pub terms: &'a [Terms],
    /// All shares.
    pub shares: &'a [Share],
    /// What stands in the books about the household, or all of it where there is none.
    pub all: &'a [Transfer],
    /// Today.
    pub today: Day,
    /// How the farm types.
    pub ways: Ways,
}

/// Reads what was typed as the entries it makes: two where milk at the gate was paid at once, one otherwise.
///
/// # Errors
/// A remark for each field that cannot be kept so.
pub fn read(sort: Sort, typed: &impl Fn(&str) -> String, whose: Option<&Whose>, known: Known<'_>) -> Result<Vec<Transfer>, Vec<Remark>> {
    let mut remarks = Vec::new();
    let day = kept(day(&typed("day"), known.today), &mut remarks);
    let jars = kept(jars(sort, &typed("jars"), known.ways), &mut remarks).flatten();
    let lean = kept(lean(sort, typed), &mut remarks);
    let usual = day.and_then(|day| usual(sort, whose, jars, day, known));
    let amount = kept(amount(&typed("amount"), usual), &mut remarks);
    let note = kept(note(sort, &typed("note"), known.ways), &mut remarks);
    if let Some(says) = lean.and_then(|lean| nobody(sort, lean, whose)) {
        remarks.push(Remark::fault("person", says));
    }
    match (day, lean, amount, note) {
        (Some(day), Some(lean), Some(amount), Some(note)) if remarks.is_empty() => {
            let paid_by = if matches!(sort, Sort::Payment | Sort::PaidBack) { typed("paid_by") } else { String::new() };
            Ok(made(sort, lean, day, whose, amount).into_iter().map(|own| finished(own, jars, &paid_by, &note)).collect())
        }
        _ => Err(remarks),
    }
}

fn kept<T>(read: Result<T, Remark>, remarks: &mut Vec<Remark>) -> Option<T> {
    read.map_err(|remark| remarks.push(remark)).ok()
}

/// The entries of a sort. Milk at the gate that somebody known paid for at once stands on their statement too.
fn made(sort: Sort, lean: Lean, day: Day, whose: Option<&Whose>, amount: Money) -> Vec<Transfer> {
    let person = whose.map(|whose| whose.number);
    let one = |sort, lean| Transfer::new(sort, lean, day, person, amount);
    let entries = match (sort, lean, person) {
        (Sort::MilkAtTheGate, Lean::Cash, Some(_)) => vec![one(sort, Lean::Plain), one(Sort::Payment, Lean::Cash)],
        _ => vec![one(sort, lean)],
    };
    entries.into_iter().flatten().collect()
}

fn finished(own: Transfer, jars: Option<i64>, paid_by: &str, note: &str) -> Transfer {
    let jars = jars.filter(|_| own.sort != Sort::Payment);
    let paid_by = if own.sort == Sort::Payment && paid_by.is_empty() { "cash" } else { paid_by };
    Transfer { jars, paid_by: paid_by.to_owned(), note: note.to_owned(), ..own }
}

/// Reads the day of an entry.
///
/// # Errors
/// A remark when it is no day, or has not come yet.
pub fn day(typed: &str, today: Day) -> Result<Day, Remark> {
    match parse_day(typed) {
        Ok(day) if day > today => Err(Remark::fault("day", "This day has not come yet. Write when it happened; past days are welcome.")),
        Ok(day) => Ok(day),
        Err(_) if typed.trim().is_empty() => Err(Remark::fault("day", "Day: this is missing.")),
        Err(fault) => Err(Remark::fault("day", fault)),
    }
}

fn jars(sort: Sort, typed: &str, ways: Ways) -> Result<Option<i64>, Remark> {
    if !asks(sort).contains(&"jars") {
        return Ok(None);
    }
    Shape::Count(1, 999).read(typed, ways).map(|cell| cell.whole()).map_err(|fault| Remark::fault("jars", fault))
}

fn lean(sort: Sort, typed: &impl Fn(&str) -> String) -> Result<Lean, Remark> {
    if matches!(sort, Sort::Payment | Sort::PaidBack) {
        let by = typed("paid_by");
        return match by.trim() {
            "cash" => Ok(Lean::Cash),
            by if PAID_BY.contains(&by) => Ok(Lean::Bank),
            _ => Err(Remark::fault("paid_by", format!("Say how: {}.", PAID_BY.join(", ")))),
        };
    }
    let (leans, way) = (leans(sort), typed("way"));
    match leans.iter().find(|(word, ..)| *word == way.trim()) {
        Some((_, lean, _)) => Ok(*lean),
        None if leans.is_empty() => Ok(Lean::Plain),
        None => {
            let choices: Vec<&str> = leans.iter().map(|(_, _, says)| *says).collect();
            Err(Remark::fault("way", format!("Choose one: {}.", choices.join(", "))))
        }
    }
}

/// The shares an entry about shares is for. A purchase is for those that began since the last one, a share taken back for those
/// that ended last and were not taken back yet, or are still held. Whoever has none written down gets or gives a whole one.
fn shares_meant(sort: Sort, whose: &Whose, day: Day, known: Known<'_>) -> Option<Part> {
    let last = standing(known.all).into_iter().filter(|own| own.sort == sort && own.person == Some(whose.number)).map(|own| own.day).max();
    let own: Vec<&Share> = known.shares.iter().filter(|own| own.person == whose.number && own.way == Channel::Herdshare).collect();
    let held: Vec<&Share> = own.iter().copied().filter(|share| share.holds(day)).collect();
    let meant: Vec<&Share> = if sort == Sort::SharePurchase {
        held.iter().copied().filter(|share| last.is_none_or(|last| share.since > last)).collect()
    } else {
        let ended = ended_last(&own, day, last);
        if ended.is_empty() { held.clone() } else { ended }
    };
    match (meant.is_empty(), held.is_empty()) {
        (false, _) => Some(meant.iter().map(|share| share.part).sum()),
        (true, true) => Some(Part::whole()),
        (true, false) => None,
    }
}

/// The shares that ended last by a day, after the day of an entry about those before them.
pub(super) fn ended_last<'a>(own: &[&'a Share], day: Day, after: Option<Day>) -> Vec<&'a Share> {
    let over = |share: &&&Share| share.until.is_some_and(|until| until <= day && after.is_none_or(|after| until > after));
    let last = own.iter().filter(over).filter_map(|share| share.until).max();
    own.iter().copied().filter(|share| last.is_some() && share.until == last).collect()
}

/// What an amount left empty comes to by the terms: jars at the gate, their deposit, or the cost of the shares meant.
fn usual(sort: Sort, whose: Option<&Whose>, jars: Option<i64>, day: Day, known: Known<'_>) -> Option<Money> {
    let way = whose.map_or(Channel::FarmGate, |whose| whose.way);
    let of = |way: Channel| terms_on(known.terms, way, day);
    match sort {
        Sort::MilkAtTheGate => Some(of(way).and_then(|terms| terms.jar).or_else(|| of(Channel::FarmGate)?.jar)?.times(jars?)),
        Sort::JarDeposit | Sort::DepositGivenBack => {
            Some(of(way).and_then(|terms| terms.deposit).or_else(|| of(Channel::FarmGate)?.deposit)?.times(jars?))
        }
        Sort::SharePurchase | Sort::BuyBack => {
            let part = shares_meant(sort, whose?, day, known)?;
            Some(Money::round(part.times(of(Channel::Herdshare)?.share_cost?.in_cents()) / Decimal::ONE_HUNDRED))
        }
        _ => None,
    }
}

/// Reads an amount.
///
/// # Errors
/// A remark when it is none, or not above nothing.
pub fn amount(typed: &str, usual: Option<Money>) -> Result<Money, Remark> {
    if typed.trim().is_empty() {
        let usual = usual.filter(|usual| *usual > Money::ZERO).ok_or_else(|| Remark::fault("amount", "Amount: this is missing."))?;
        let says = || format!("By the terms this comes to {usual}, which cannot be right here: at most {MOST} at once.");
        return if usual > MOST { Err(Remark::fault("amount", says())) } else { Ok(usual) };
    }
    match Money::parse(typed) {
        Ok(amount) if amount <= Money::ZERO => {
            Err(Remark::fault("amount", "Write an amount above nothing, without a minus; which way it goes is said by what it is."))
        }
        Ok(amount) if amount > MOST => {
            Err(Remark::fault("amount", format!("{} cannot be right here: at most {MOST} at once.", short(typed))))
        }
        Ok(amount) => Ok(amount),
        Err(fault) => Err(Remark::fault("amount", fault)),
    }
}

fn note(sort: Sort, typed: &str, ways: Ways) -> Result<String, Remark> {
    let read = Shape::Words(200).read(typed, ways).map_err(|fault| Remark::fault("note", fault))?;
    if matches!(sort, Sort::Adjustment | Sort::WriteOff) && read.text().is_empty() {
        return Err(Remark::fault("note", "Say in a few words why. It is asked about long after."));
    }
    Ok(read.text().to_owned())
}

/// What to say where a household is named or missing and should not be.
fn nobody(sort: Sort, lean: Lean, whose: Option<&Whose>) -> Option<&'static str> {
    let (from, to) = sort.accounts(lean)?;
    let needed = from.is_of_a_household() || to.is_of_a_household();
    match whose {
        None if needed && sort == Sort::MilkAtTheGate => Some("Somebody unknown pays at once: choose cash, or say who it was."),
        None if needed => Some("Which household? Choose one."),
        Some(_) if !needed && sort != Sort::MilkAtTheGate => Some("The tin and the bank are nobody's: leave the household empty."),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_found_whole() {
        assert_eq!(never_said("She bought two"), Some("bought"));
        assert_eq!(never_said("Milk paid for; milk PAID-FOR milk"), Some("paid for milk"));
        assert_eq!(never_said("In good order."), Some("order"));
        assert_eq!(never_said("Two customers, who mixed up their ORDERS"), Some("orders"));
        for fine in ["Border collie", "resale", "Boarding, November 2026", "borders", ""] {
            assert_eq!(never_said(fine), None, "{fine}");
        }
    }

    #[test]
    fn every_sort_by_hand_leans_somewhere() {
        for (sort, _) in BY_HAND.into_iter().chain([OPENING]) {
            let own: Vec<Lean> = leans(sort).iter().map(|(_, lean, _)| *lean).collect();
            let own = if asks(sort).contains(&"paid_by") { vec![Lean::Cash, Lean::Bank] } else { own };
            let own = if own.is_empty() { vec![Lean::Plain] } else { own };
            assert!(own.iter().all(|lean| sort.accounts(*lean).is_some()), "{sort}");
        }
    }
}
