//! Small builders that the checks of costs share: each makes one record of the books with all that is usual, so a test
//! writes down only what it is about. And farm folders written by hand.

use rust_decimal::Decimal;
use std::path::Path;
use tallypail::{
    paper::folder::{self, Files},
    store::{Ledger, records},
    trade::{
        bills::{Assumed, Owned, Paid, Serves, Spent},
        kinds::{KINDS, kind},
        money::Money,
        packs::Packs,
        stores::{Feeding, Store, UsedBy, sort_of},
        wear::Span,
        when::{Day, Zone},
    },
};

pub fn day(text: &str) -> Day {
    text.parse().unwrap()
}

pub fn money(text: &str) -> Money {
    Money::parse(text).unwrap()
}

pub fn figure(text: &str) -> Decimal {
    Decimal::from_str_exact(text).unwrap()
}

pub fn span(from: &str, to: &str) -> Span {
    Span { from: day(from), to: day(to) }
}

/// June 2026, whose first day is a Monday.
pub fn june() -> Span {
    span("2026-06-01", "2026-06-30")
}

/// A ticket that is all for milk, used on the day it was paid.
pub fn paid(sort: &str, amount: &str, on: &str) -> Paid {
    Paid {
        number: 1,
        paid: day(on),
        sort: sort.into(),
        what: sort.into(),
        supplier: String::new(),
        amount: money(amount),
        quantity: None,
        unit: String::new(),
        store: None,
        cow: None,
        used_from: None,
        used_to: None,
        milk_share: 100,
        guess: false,
    }
}

/// The same for the days it was used.
pub fn covering(sort: &str, amount: &str, on: &str, (from, to): (&str, &str)) -> Paid {
    Paid { used_from: Some(day(from)), used_to: Some(day(to)), ..paid(sort, amount, on) }
}

/// The same for what it brought into a store.
pub fn into_store(store: i64, sort: &str, amount: &str, on: &str, (quantity, unit): (&str, &str)) -> Paid {
    Paid { quantity: Some(figure(quantity)), unit: unit.into(), store: Some(store), ..paid(sort, amount, on) }
}

/// A thing all for milk that serves the milking and is still here.
pub fn owned(name: &str, is_cow: bool, bought: &str, (price, salvage, years): (&str, &str, i64)) -> Owned {
    Owned {
        number: 1,
        name: name.into(),
        is_cow,
        bought: day(bought),
        gone: None,
        price: money(price),
        salvage: money(salvage),
        years,
        milk_share: 100,
        serves: Serves::Milking,
        died: false,
        brought: Money::ZERO,
    }
}

/// Minutes of one day.
pub fn spent(job: &str, person: &str, minutes: i64, on: &str, wage: Option<&str>) -> Spent {
    let opens = "/records/minutes/1".to_owned();
    Spent { opens, day: day(on), job: job.into(), person: person.into(), minutes, wage: wage.map(money), guess: false }
}

/// A figure the farm assumes.
pub fn assumed(name: &str, since: &str, is: &str) -> Assumed {
    Assumed { number: 1, name: name.into(), since: day(since), figure: figure(is), note: "test".into() }
}

/// A store all for milk.
pub fn store(number: i64, name: &str, sort: &str, counted_in: &str, (used_by, used_amount): (UsedBy, &str)) -> Store {
    Store {
        number,
        name: name.into(),
        sort: sort_of(sort),
        counted_in: counted_in.into(),
        packs: Packs::default(),
        used_by,
        used_amount: figure(used_amount),
        milk_share: 100,
        dry_matter: None,
        waste: Decimal::ZERO,
    }
}

/// So many pounds a day of a store to one cow, from the first day to the last.
pub fn fed(store: i64, cow: Option<&str>, amount: &str, (since, until): (&str, &str)) -> Feeding {
    Feeding {
        number: 1,
        store,
        since: day(since),
        until: Some(day(until)),
        amount: figure(amount),
        unit: "lb".into(),
        a_day: true,
        cow: cow.map(str::to_owned),
        guess: false,
    }
}

/// A farm folder from what somebody would write by hand: for each kind its columns, and a line for each record with a `;`
/// between the cells. Columns left out are empty.
pub fn folder_of(written: &[(&str, &str, Vec<String>)]) -> Files {
    let mut files = Files::new();
    for kind in KINDS {
        let mut heading = vec!["number"];
        heading.extend(kind.columns.iter().map(|column| column.name));
        heading.extend(["entry", "written", "who", "source", "version"]);
        let mut writer = csv::Writer::from_writer(Vec::new());
        writer.write_record(&heading).unwrap();
        for (_, columns, lines) in written.iter().filter(|(name, ..)| *name == kind.name) {
            let places: Vec<usize> =
                columns.split(';').map(|name| heading.iter().position(|own| *own == name).unwrap_or_else(|| panic!("{name}"))).collect();
            for line in lines {
                let mut row = vec![""; heading.len()];
                let cells: Vec<&str> = line.split(';').collect();
                assert_eq!(cells.len(), places.len(), "{}: {line}", kind.name);
                for (place, cell) in places.iter().zip(cells) {
                    row[*place] = cell;
                }
                writer.write_record(&row).unwrap();
            }
        }
        files.insert(format!("{}.csv", kind.name), writer.into_inner().unwrap());
    }
    assert!(written.iter().all(|(name, ..)| kind(name).is_some()), "a kind nobody knows");
    files
}

/// Lines of text as records of a folder.
pub fn rows(text: &str) -> Vec<String> {
    text.lines().map(|line| line.trim().to_owned()).filter(|line| !line.is_empty()).collect()
}

/// A ledger that holds a folder, taken in at a moment.
pub async fn ledger_of(at: &Path, files: &Files, now: &str) -> Ledger {
    let now = Zone::UTC.parse_moment(now).unwrap();
    let book = folder::read(files, now, "import").unwrap_or_else(|faults| panic!("{faults:#?}"));
    let ledger = Ledger::open(&at.join("farm.ledger")).await.unwrap();
    let mut tx = ledger.begin().await.unwrap();
    let act = records::act(&mut tx, now, "import", "farm folder").await.unwrap();
    records::import(&mut tx, &book, &act).await.unwrap();
    tx.commit().await.unwrap();
    ledger
}
