//! A sheet as plain text, for a letter that anybody's mail program can show: a line for each row, and the notice at its end.

use crate::trade::figures::{Cell, NOTICE, Part, Sheet, Table};

/// The text of a sheet.
#[must_use]
pub fn print(sheet: &Sheet) -> String {
    let mut lines = vec![sheet.title.clone(), sheet.under.clone(), String::new()];
    lines.extend(sheet.facts.iter().map(|(name, says)| format!("{name}: {says}")));
    for part in &sheet.parts {
        lines.push(String::new());
        match part {
            Part::Heading(says) | Part::Words(says) | Part::Loud(says) => lines.push(says.clone()),
            Part::Table(table) => lines.extend(rows(table)),
            // A letter cannot show a picture; it can say what is on it.
            Part::Picture(picture) => lines.push(picture.alt.clone()),
        }
    }
    lines.extend([String::new(), NOTICE.to_owned()]);
    lines.join("\n")
}

fn rows(table: &Table) -> Vec<String> {
    let named = |(cell, place): (&Cell, usize)| match (place, table.columns.get(place)) {
        // The first two say what the line is; a figure after them needs the name of its column.
        (2.., Some(column)) => format!("{}: {}", column.name, cell.says),
        _ => cell.says.clone(),
    };
    let row = |cells: &Vec<Cell>| {
        let there = cells.iter().zip(0..).filter(|(cell, _)| !cell.says.is_empty());
        there.map(named).collect::<Vec<_>>().join("; ")
    };
    let mut lines = vec![format!("{}:", table.caption)];
    if table.rows.is_empty() {
        lines.push(table.when_empty.clone());
    }
    lines.extend(table.rows.iter().chain(&table.total).map(row));
    lines
}
