//! A sheet as CSV (RFC 4180), for a spreadsheet. One file holds every table of the sheet, each after a line that names it:
//!
//! ```text
//! table,facts
//! name,value
//! title,Trace of a lot
//!
//! table,jars
//! Lot,Jars
//! 6134A-S,12
//! total,jars
//! All,12
//!
//! notice,…
//! ```
//!
//! Headings and paragraphs stand in a table `words`, and the cells that are guesses are listed in a table `guesses`, so
//! that a cell itself holds nothing but what it says. A picture is passed over: its numbers stand in a table beside it.

use crate::trade::figures::{Cell, NOTICE, Part, Sheet, Table};

/// The bytes of a CSV file that holds the sheet.
#[must_use]
pub fn print(sheet: &Sheet) -> Vec<u8> {
    let mut facts = vec![pair("title", &sheet.title), pair("name", &sheet.name), pair("under", &sheet.under)];
    facts.extend(sheet.facts.iter().map(|(name, value)| pair(name, value)));
    let mut blocks = vec![block("facts", ["name", "value"], facts)];
    let words: Vec<Vec<String>> = sheet.parts.iter().filter_map(words).collect();
    if !words.is_empty() {
        blocks.push(block("words", ["kind", "says"], words));
    }
    let mut guesses = Vec::new();
    for part in &sheet.parts {
        if let Part::Table(table) = part {
            blocks.push(records(table));
            guesses.extend(guessed(table));
        }
    }
    if !guesses.is_empty() {
        blocks.push(block("guesses", ["table", "row", "column"], guesses));
    }
    blocks.push(vec![pair("notice", NOTICE)]);
    blocks.iter().map(|block| written(block)).collect::<Vec<_>>().join(&b"\r\n"[..])
}

/// The bytes of a CSV file that holds one table and nothing else, so that any program sorts it as it stands: the columns' names,
/// then the rows. The notice is a column of its own, because a line of its own would be sorted in among the rows.
#[must_use]
pub fn table(table: &Table) -> Vec<u8> {
    let with = |cells: Vec<String>, last: &str| cells.into_iter().chain([last.to_owned()]).collect::<Vec<_>>();
    let mut lines = vec![with(table.columns.iter().map(|column| column.name.clone()).collect(), "Notice")];
    lines.extend(table.rows.iter().map(|row| with(row.iter().map(|cell| cell.says.clone()).collect(), NOTICE)));
    written(&lines)
}

fn pair(name: &str, value: &str) -> Vec<String> {
    vec![name.to_owned(), value.to_owned()]
}

fn block<const N: usize>(name: &str, columns: [&str; N], rows: Vec<Vec<String>>) -> Vec<Vec<String>> {
    let mut block = vec![pair("table", name), columns.map(str::to_owned).to_vec()];
    block.extend(rows);
    block
}

fn words(part: &Part) -> Option<Vec<String>> {
    match part {
        Part::Heading(text) => Some(pair("heading", text)),
        Part::Words(text) => Some(pair("words", text)),
        Part::Loud(text) => Some(pair("loud", text)),
        Part::Table(_) | Part::Picture(_) => None,
    }
}

fn records(table: &Table) -> Vec<Vec<String>> {
    let says = |row: &Vec<Cell>| row.iter().map(|cell| cell.says.clone()).collect::<Vec<_>>();
    let mut block = vec![pair("table", &table.name), table.columns.iter().map(|column| column.name.clone()).collect()];
    block.extend(table.rows.iter().map(says));
    if let Some(total) = &table.total {
        block.push(pair("total", &table.name));
        block.push(says(total));
    }
    block
}

/// Where the guesses of a table stand: its name, the row counted from 1 or "total", and the column.
fn guessed(table: &Table) -> Vec<Vec<String>> {
    let named = table.rows.iter().enumerate().map(|(nth, row)| ((nth + 1).to_string(), row));
    let rows = named.chain(table.total.iter().map(|row| ("total".to_owned(), row)));
    let cells = rows.flat_map(|(row, cells)| cells.iter().zip(&table.columns).map(move |(cell, column)| (row.clone(), cell, column)));
    cells.filter(|(_, cell, _)| cell.guess).map(|(row, _, column)| vec![table.name.clone(), row, column.name.clone()]).collect()
}

fn written(block: &[Vec<String>]) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut writer = csv::WriterBuilder::new().flexible(true).terminator(csv::Terminator::CRLF).from_writer(&mut bytes);
    for record in block {
        // Writing to memory does not fail, and lines may differ in length.
        let wrote = writer.write_record(record.iter().map(|field| harmless(field)));
        debug_assert!(wrote.is_ok(), "memory takes every line");
    }
    drop(writer);
    bytes
}

/// A field that a spreadsheet would run as a formula gets an apostrophe before it; a plain number keeps its sign.
fn harmless(field: &str) -> String {
    let starts = field.starts_with(['=', '+', '-', '@', '\t', '\r']);
    if starts && field.chars().count() > 1 && !is_number(field) { format!("'{field}") } else { field.to_owned() }
}

/// Whether this is a number and nothing else: `-4.50`, `+3`, `-$1,200.00`, `-8%`.
fn is_number(field: &str) -> bool {
    let bare = field.strip_prefix(['-', '+']).unwrap_or(field);
    let bare = bare.strip_prefix('$').unwrap_or(bare);
    let bare = bare.strip_suffix('%').unwrap_or(bare);
    let (whole, part) = bare.split_once('.').unwrap_or((bare, "0"));
    let digits = |text: &str| !text.is_empty() && text.chars().all(|c| c.is_ascii_digit());
    digits(&whole.replace(',', "")) && digits(part)
}
