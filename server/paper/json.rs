//! A sheet as JSON, for another program. Every value is the text that stands on the page, so that nothing is rounded twice.
//! A picture is passed over: its numbers stand in a table beside it. Things keep the order they have on the page. A name that comes twice gets a number: `Kept`, `Kept (2)`.

use std::collections::BTreeSet;

use serde::{Serialize, Serializer};

use crate::trade::figures::{Cell, NOTICE, Part, Sheet, Table};

/// The bytes of a JSON object that holds the sheet.
#[must_use]
pub fn print(sheet: &Sheet) -> Vec<u8> {
    let tables = sheet.parts.iter().filter_map(|part| if let Part::Table(table) = part { Some(table) } else { None });
    let whole = Whole {
        name: &sheet.name,
        title: &sheet.title,
        under: &sheet.under,
        notice: NOTICE,
        facts: Pairs::new(sheet.facts.iter().map(|(name, value)| (name.as_str(), value.as_str()))),
        words: sheet.parts.iter().filter_map(words).collect(),
        tables: Pairs::new(tables.map(|table| (table.name.as_str(), told(table)))),
    };
    // Text written to memory does not fail.
    serde_json::to_vec_pretty(&whole).unwrap_or_default()
}

#[derive(Serialize)]
struct Whole<'a> {
    name: &'a str,
    title: &'a str,
    under: &'a str,
    notice: &'a str,
    facts: Pairs<&'a str>,
    words: Vec<Words<'a>>,
    tables: Pairs<Told<'a>>,
}

#[derive(Serialize)]
struct Words<'a> {
    kind: &'static str,
    says: &'a str,
}

#[derive(Serialize)]
struct Told<'a> {
    caption: &'a str,
    columns: Vec<String>,
    rows: Vec<Pairs<&'a str>>,
    total: Option<Pairs<&'a str>>,
    guesses: Vec<Guess>,
}

/// A cell that is a guess: its row counted from 1, or none for the total, and its column.
#[derive(Serialize)]
struct Guess {
    row: Option<usize>,
    column: String,
}

/// An object whose keys keep their order and never come twice.
struct Pairs<T>(Vec<(String, T)>);

impl<T> Pairs<T> {
    fn new<'n>(pairs: impl Iterator<Item = (&'n str, T)>) -> Pairs<T> {
        let (names, values): (Vec<&str>, Vec<T>) = pairs.unzip();
        Pairs(distinct(&names).into_iter().zip(values).collect())
    }
}

impl<T: Serialize> Serialize for Pairs<T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_map(self.0.iter().map(|(name, value)| (name, value)))
    }
}

/// The names, with a number on each that came before.
fn distinct(names: &[&str]) -> Vec<String> {
    let mut taken: BTreeSet<String> = BTreeSet::new();
    let mut name_for = |name: &str| {
        let numbered = (2_u32..).map(|nth| format!("{name} ({nth})"));
        let free = std::iter::once(name.to_owned()).chain(numbered).find(|name| !taken.contains(name)).unwrap_or_default();
        taken.insert(free.clone());
        free
    };
    names.iter().map(|name| name_for(name)).collect()
}

fn words(part: &Part) -> Option<Words<'_>> {
    match part {
        Part::Heading(says) => Some(Words { kind: "heading", says }),
        Part::Words(says) => Some(Words { kind: "words", says }),
        Part::Loud(says) => Some(Words { kind: "loud", says }),
        Part::Table(_) | Part::Picture(_) => None,
    }
}

fn told(table: &Table) -> Told<'_> {
    let columns = distinct(&table.columns.iter().map(|column| column.name.as_str()).collect::<Vec<_>>());
    let rows = table.rows.iter().enumerate().flat_map(|(nth, cells)| guessed(Some(nth + 1), cells, &columns));
    let guesses = rows.chain(table.total.iter().flat_map(|cells| guessed(None, cells, &columns))).collect();
    Told {
        caption: &table.caption,
        rows: table.rows.iter().map(|cells| keyed(cells, &columns)).collect(),
        total: table.total.as_ref().map(|cells| keyed(cells, &columns)),
        columns,
        guesses,
    }
}

fn keyed<'a>(cells: &'a [Cell], columns: &[String]) -> Pairs<&'a str> {
    Pairs(columns.iter().cloned().zip(cells.iter().map(|cell| cell.says.as_str())).collect())
}

fn guessed(row: Option<usize>, cells: &[Cell], columns: &[String]) -> Vec<Guess> {
    cells.iter().zip(columns).filter(|(cell, _)| cell.guess).map(|(_, column)| Guess { row, column: column.clone() }).collect()
}
