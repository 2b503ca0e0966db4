//! A household's statement: what stood before, every entry in plain words, what stands now; and apart from it the jar deposits
//! held for them, which are owed back and never income. It is one leaf of paper: whoever comes twice a week has more entries in
//! a year than a leaf has lines, so what repeats within a month then stands in one.
//!
//! A herdshare household owns its part of the herd and boards it, so its statement never speaks of trading in milk.

use super::{
    capital,
    channels::Channel,
    entries::never_said,
    figures::{Cell, Holds, Part, Sheet, Table},
    in_an_address,
    measure::trimmed,
    money::Money,
    months::span_said,
    promises::Share,
    transfers::{Account, Sort, Transfer, balance},
    wear::Span,
    when::{Day, day_shown},
};
use chrono::{Datelike, Months};
use rust_decimal::Decimal;
use std::collections::{BTreeMap, HashMap};

/// Whose statement it is.
#[derive(Clone, Debug)]
pub struct Whose {
    /// Their record's number.
    pub number: i64,
    /// What the clipboard calls them.
    pub label: String,
    /// Their name.
    pub name: String,
    /// How the milk reaches them by the end of the statement.
    pub way: Channel,
    /// The first day they held a share of the herd.
    pub joined: Option<Day>,
}

impl Whose {
    /// Somebody as their shares have them: the way of the share that began last by a day, or their own way without one.
    #[must_use]
    pub fn of(number: i64, label: &str, name: &str, own_way: Channel, shares: &[Share], by: Day) -> Whose {
        let own = || shares.iter().filter(|share| share.person == number);
        let last = own().filter(|share| share.since <= by).max_by_key(|share| (share.since, share.number));
        let joined = own().filter(|share| share.way == Channel::Herdshare).map(|share| share.since).min();
        Whose { number, label: label.to_owned(), name: name.to_owned(), way: last.map_or(own_way, |share| share.way), joined }
    }

    fn is_herdshare(&self) -> bool {
        self.way == Channel::Herdshare
    }
}

/// The most lines that fit one leaf of paper, below the head and above the notice.
const LEAF: usize = 28;
/// The most days a line names without becoming two.
const NAMED: usize = 6;

/// One line: an entry, or those of a month that say the same.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// The page that shows what is in it.
    pub opens: String,
    /// Its day, or its month.
    pub when: String,
    /// What it is, in plain words.
    pub says: String,
    /// What it adds to what they have to pay; below nothing for what came in.
    pub adds: Money,
    /// What stands after it.
    pub after: Money,
}

/// A statement.
#[derive(Clone, Debug)]
pub struct Statement {
    /// Whose.
    pub whose: Whose,
    /// The days it is about.
    pub span: Span,
    /// What stood before.
    pub opening: Money,
    /// Every entry of those days, in lines.
    pub lines: Vec<Line>,
    /// What stands at the end.
    pub closing: Money,
    /// Jar deposits held for them at the end.
    pub deposits: Money,
    /// Half-gallons they received in those days.
    pub received: Decimal,
}

/// The first day of a statement nobody chose days for: the start of the year, or three months back where that is longer.
#[must_use]
pub fn usual_first(last: Day) -> Day {
    let year = last.with_ordinal(1).unwrap_or(last);
    last.checked_sub_months(Months::new(3)).map_or(year, |three| three.min(year))
}

/// Where a household's statement is.
#[must_use]
pub fn address(label: &str) -> String {
    format!("/books/{}", in_an_address(label))
}

/// How a balance is said: `40.00 to pay`, `12.00 paid ahead`, `even`.
#[must_use]
pub fn said(balance: Money) -> String {
    match balance.cmp(&Money::ZERO) {
        std::cmp::Ordering::Greater => format!("{balance} to pay"),
        std::cmp::Ordering::Less => format!("{} paid ahead", Money::ZERO - balance),
        std::cmp::Ordering::Equal => "even".to_owned(),
    }
}

/// Jars, counted: `1 jar`, `3 jars`.
fn counted(count: i64, what: &str) -> String {
    format!("{count} {what}{}", if count == 1 { "" } else { "s" })
}

/// What an entry is called on a statement. `earlier` finds the entry it takes back.
#[must_use]
pub fn words(own: &Transfer, whose: &Whose, earlier: &impl Fn(i64) -> Option<Transfer>) -> String {
    let month = own.month.map(|month| format!(", {}", month.format("%B %Y"))).unwrap_or_default();
    let jars = |what: &str| own.jars.map(|jars| format!(", {}", counted(jars, what))).unwrap_or_default();
    let note = if own.note.is_empty() || never_said(&own.note).is_some() { String::new() } else { format!(": {}", own.note) };
    let by = if own.paid_by.is_empty() { String::new() } else { format!(", {}", own.paid_by) };
    match own.sort {
        Sort::SharePurchase => "Share in the herd".to_owned(),
        Sort::Boarding => format!("Boarding{month}"),
        Sort::MilkAtTheGate if whose.is_herdshare() && whose.joined.is_some_and(|joined| own.day < joined) => {
            format!("Milk at the gate before joining{}", jars("half-gallon"))
        }
        Sort::MilkAtTheGate => format!("Milk at the gate{}", jars("half-gallon")),
        Sort::JarDeposit => format!("Jar deposit{}", jars("jar")),
        Sort::DepositGivenBack => format!("Jar deposit given back{}", jars("jar")),
        Sort::Adjustment => format!("Adjustment{month}{note}"),
        Sort::Payment if whose.is_herdshare() => format!("Payment received{by}"),
        Sort::Payment => format!("Received with thanks{by}"),
        Sort::PaidBack => format!("Paid back to you{by}"),
        Sort::BuyBack => "Share given back to the herd".to_owned(),
        Sort::WriteOff => "Written off by the farm".to_owned(),
        Sort::BouncedCheck => {
            // A check that came back again undoes what took its first coming back off: the check itself lies before both.
            let mut first = own.corrects.and_then(earlier);
            while let Some(before) = first.as_ref().filter(|own| own.sort != Sort::Payment).and_then(|own| own.corrects) {
                first = earlier(before).filter(|own| own.corrects.is_none_or(|next| next < before));
            }
            let of = first.map(|check| format!(" of {}", check.day.format("%-d %b %Y"))).unwrap_or_default();
            format!("Check{of} came back from the bank")
        }
        Sort::TinCounted | Sort::MovedToTheBank | Sort::OwnerDraw | Sort::OwnerContribution => capital(&own.sort.to_string()),
        Sort::OpeningBalance => "Carried over from before these books".to_owned(),
        Sort::TakenBack => match own.corrects.and_then(earlier).filter(|earlier| earlier.corrects != Some(own.number)) {
            Some(of) => format!("Taken back: {}{}", words(&of, whose, earlier), note),
            None => format!("Taken back{note}"),
        },
    }
}

/// Entries with those of the same month that say the same, each lot of them where its last entry stands. What corrects
/// something, or has a note, stands by itself.
fn gathered<'a>(there: &[&'a Transfer], says: impl Fn(&Transfer) -> String) -> Vec<Vec<&'a Transfer>> {
    let mut lots: BTreeMap<(i32, u32, String, i64), Vec<&Transfer>> = BTreeMap::new();
    for own in there {
        let alone = own.corrects.is_some() || own.month.is_some() || !own.note.is_empty();
        let same = says(&Transfer { jars: None, ..(*own).clone() });
        lots.entry((own.day.year(), own.day.month(), same, if alone { own.number } else { 0 })).or_default().push(own);
    }
    let mut lots: Vec<Vec<&Transfer>> = lots.into_values().collect();
    lots.sort_by_key(|lot| lot.last().map(|own| (own.day, own.number)));
    lots
}

/// One entry as a line, or several of a month with the days they were on.
fn line(own: &[&Transfer], label: &str, says: impl Fn(&Transfer) -> String, adds: Money, after: Money) -> Option<Line> {
    let (first, last) = (own.first()?, own.last()?);
    if own.len() == 1 {
        let (opens, when) = (format!("/books/entries/{}", last.number), last.day.format("%-d %b %Y").to_string());
        return Some(Line { opens, when, says: says(last), adds, after });
    }
    let mut days: Vec<String> = own.iter().map(|own| own.day.day().to_string()).collect();
    days.dedup();
    let on = if days.len() > NAMED { format!("{} days", days.len()) } else { days.join(", ") };
    let together = Transfer { jars: own.iter().map(|own| own.jars).sum(), ..(*last).clone() };
    let opens = format!("{}?from={}&to={}", address(label), first.day, last.day);
    let when = last.day.format("%b %Y").to_string();
    Some(Line { opens, when, says: format!("{}, on {}", says(&together), on), adds, after })
}

impl Statement {
    /// The statement of a household over some days, from all entries that name it.
    #[must_use]
    pub fn of(whose: Whose, own: &[&Transfer], span: Span, received: Decimal) -> Statement {
        let by_number: HashMap<i64, &Transfer> = own.iter().map(|own| (own.number, *own)).collect();
        let earlier = |number: i64| by_number.get(&number).map(|own| (*own).clone());
        let up_to = |last: &dyn Fn(Day) -> bool, account| balance(own.iter().copied().filter(|own| last(own.day)), account, None);
        let opening = up_to(&|day| day < span.from, Account::Household);
        let deposits = Money::ZERO - up_to(&|day| day <= span.to, Account::JarDeposits);
        // A deposit carried over from before the books moves nothing on this account; it stands with the deposits.
        let moves = |own: &&Transfer| span.has(own.day) && own.adds_to(Account::Household) != Money::ZERO;
        let mut there: Vec<&Transfer> = own.iter().copied().filter(moves).collect();
        there.sort_by_key(|own| (own.day, own.number));
        let says = |own: &Transfer| words(own, &whose, &earlier);
        let gathered = if there.len() > LEAF { gathered(&there, says) } else { there.into_iter().map(|own| vec![own]).collect() };
        let mut closing = opening;
        let line = |own: &Vec<&Transfer>| {
            let adds = own.iter().map(|own| own.adds_to(Account::Household)).sum();
            closing = closing + adds;
            line(own, &whose.label, says, adds, closing)
        };
        let lines = gathered.iter().filter_map(line).collect();
        Statement { whose, span, opening, lines, closing, deposits, received }
    }

    /// The statement on a sheet. `from` is who sends it: name, and how to reach it.
    #[must_use]
    pub fn sheet(&self, from: &str) -> Sheet {
        let whose = &self.whose;
        let facts = vec![
            ("Stands".to_owned(), self.closing_said()),
            ("Half-gallons received".to_owned(), trimmed(self.received, 2)),
            ("Jar deposits we hold".to_owned(), self.deposits_said()),
        ];
        Sheet {
            name: format!("statement-{}", whose.label),
            title: format!("Statement for {} {}", whose.label, whose.name),
            under: format!("{}. From {from}", span_said(self.span)),
            facts,
            parts: vec![Part::Table(self.table())],
        }
    }

    fn deposits_said(&self) -> String {
        match self.deposits.cmp(&Money::ZERO) {
            std::cmp::Ordering::Greater => format!("{}, owed back when the jars are", self.deposits),
            std::cmp::Ordering::Less => format!("none; {} more was given back than we held", Money::ZERO - self.deposits),
            std::cmp::Ordering::Equal => "none".to_owned(),
        }
    }

    /// What stands at the end, as a sentence.
    #[must_use]
    pub fn closing_said(&self) -> String {
        let day = day_shown(self.span.to);
        match said(self.closing).as_str() {
            "even" => format!("Even on {day}: nothing to pay."),
            balance => format!("{balance} on {day}."),
        }
    }

    fn table(&self) -> Table {
        let columns = [
            ("Day", Holds::Words, 3),
            ("What", Holds::Words, 10),
            ("To pay", Holds::Figures, 2),
            ("Received", Holds::Figures, 2),
            ("Stands at", Holds::Figures, 4),
        ];
        let mut table = Table::new("lines", "In dollars", &columns);
        let day = |day: Day| day.format("%-d %b %Y").to_string();
        table.row([day(self.span.from), "Stood before".to_owned(), String::new(), String::new(), said(self.opening)]);
        for line in &self.lines {
            let came = line.adds < Money::ZERO;
            let amount = if came { Money::ZERO - line.adds } else { line.adds }.to_string();
            let (charged, received) = if came { (String::new(), amount) } else { (amount, String::new()) };
            table.rows.push(vec![
                Cell::says(&line.when),
                Cell::opening(&line.says, &line.opens),
                Cell::says(charged),
                Cell::says(received),
                Cell::says(said(line.after)),
            ]);
        }
        let sum = |came: bool| {
            let own = self.lines.iter().filter(|line| (line.adds < Money::ZERO) == came).map(|line| line.adds).sum::<Money>();
            if came { Money::ZERO - own } else { own }
        };
        let total = [day(self.span.to), "Stands now".to_owned(), sum(false).to_string(), sum(true).to_string(), said(self.closing)];
        table.total = Some(total.into_iter().map(Cell::says).collect());
        table
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::{transfers::Lean, when::parse_day};

    fn day(typed: &str) -> Day {
        parse_day(typed).unwrap()
    }

    #[test]
    fn days_nobody_chose() {
        assert_eq!(usual_first(day("2026-11-21")), day("2026-01-01"));
        assert_eq!(usual_first(day("2026-02-10")), day("2025-11-10"));
        assert_eq!(usual_first(day("2028-05-31")), day("2028-01-01"));
    }

    /// Twice a week for a year and paid each time: 208 entries, 24 lines, and not a cent or a jar fewer.
    #[test]
    fn what_repeats_within_a_month_is_one_line() {
        let whose = Whose { number: 5, label: "W 1".into(), name: "Oak".into(), way: Channel::FarmGate, joined: None };
        let mut all: Vec<Transfer> = Vec::new();
        for on in
            day("2026-01-02").iter_days().take_while(|on| on.year() == 2026).filter(|on| matches!(on.weekday().number_from_monday(), 2 | 5))
        {
            for (sort, lean, jars, paid_by) in [(Sort::MilkAtTheGate, Lean::Plain, Some(2), ""), (Sort::Payment, Lean::Cash, None, "cash")]
            {
                let own = Transfer::new(sort, lean, on, Some(5), Money::cents(1801)).unwrap();
                all.push(Transfer { number: i64::try_from(all.len()).unwrap() + 1, jars, paid_by: paid_by.into(), ..own });
            }
        }
        let slip = all[6].opposite(Sort::TakenBack, day("2026-01-20"), "a slip");
        all.push(Transfer { number: 999, ..slip });
        let span = Span { from: day("2026-01-01"), to: day("2026-12-31") };
        let of = |all: &[Transfer]| Statement::of(whose.clone(), &all.iter().collect::<Vec<_>>(), span, Decimal::from(4));
        let statement = of(&all);
        assert_eq!((all.len(), statement.lines.len()), (209, 25));
        assert_eq!(statement.lines.iter().map(|line| line.adds).sum::<Money>(), Money::cents(-1801));
        assert_eq!((statement.closing, statement.lines[24].after), (Money::cents(-1801), Money::cents(-1801)));
        let [slip, milk, paid] = &statement.lines[..3] else { panic!() };
        assert!(slip.says.starts_with("Taken back: Milk at the gate, 2 half-gallons"), "{}", slip.says);
        assert_eq!(milk.says, "Milk at the gate, 18 half-gallons, on 9 days");
        assert_eq!((milk.when.as_str(), milk.opens.as_str()), ("Jan 2026", "/books/W%201?from=2026-01-02&to=2026-01-30"));
        assert_eq!((milk.adds, paid.adds), (Money::cents(9 * 1801), Money::cents(-9 * 1801)));
        let month = of(&all[..12]);
        assert_eq!(
            (month.lines.len(), month.lines[11].when.as_str(), month.lines[11].opens.as_str()),
            (12, "20 Jan 2026", "/books/entries/12")
        );
    }

    #[test]
    fn early_lines_of_somebody_who_joined() {
        let whose = Whose { number: 5, label: "M05".into(), name: "Oak".into(), way: Channel::Herdshare, joined: Some(day("2026-05-01")) };
        let milk = |on: &str, number| {
            let own = Transfer::new(Sort::MilkAtTheGate, Lean::Plain, day(on), Some(5), Money::cents(1000)).unwrap();
            Transfer { number, jars: Some(2), ..own }
        };
        let paid = Transfer::new(Sort::Payment, Lean::Cash, day("2026-05-03"), Some(5), Money::cents(2500)).unwrap();
        let paid = Transfer { number: 3, paid_by: "cash".into(), ..paid };
        let all = [milk("2026-04-02", 1), milk("2026-05-02", 2), paid];
        let span = Span { from: day("2026-01-01"), to: day("2026-06-01") };
        let statement = Statement::of(whose, &all.iter().collect::<Vec<_>>(), span, Decimal::from(4));
        let says: Vec<&str> = statement.lines.iter().map(|line| line.says.as_str()).collect();
        assert_eq!(says, ["Milk at the gate before joining, 2 half-gallons", "Milk at the gate, 2 half-gallons", "Payment received, cash"]);
        assert_eq!(statement.closing_said(), "5.00 paid ahead on Mon 1 Jun 2026.");
    }
}
