//! A report as a value. Page, CSV, JSON and PDF all draw the same sheet, so they cannot disagree.

use super::picture::Picture;

/// The notice that stands on every page, label, statement and report.
pub const NOTICE: &str = "Follow your local raw-milk law. This is a record, not legal, medical or veterinary advice; ask your health department, your vet and your own adviser. Nothing here says that milk is safe to drink.";

/// A whole report.
#[derive(Clone, Debug, Default)]
pub struct Sheet {
    /// Its short name, for a file: `trace-6134A-S`.
    pub name: String,
    /// What it is, in the farm's words.
    pub title: String,
    /// The official word or the span, under the title.
    pub under: String,
    /// Who it is about and when it was made: pairs printed at the top.
    pub facts: Vec<(String, String)>,
    /// What follows, in order.
    pub parts: Vec<Part>,
}

/// One part of a report.
#[derive(Clone, Debug)]
pub enum Part {
    /// A heading.
    Heading(String),
    /// A paragraph.
    Words(String),
    /// A paragraph that must not be overlooked.
    Loud(String),
    /// A table.
    Table(Table),
    /// A picture, drawn on the page and in the PDF. CSV and JSON pass over it: its numbers always stand in a table beside it.
    Picture(Picture),
}

/// A table with named columns.
#[derive(Clone, Debug, Default)]
pub struct Table {
    /// One word, unique on the sheet, for CSV and JSON.
    pub name: String,
    /// What it shows.
    pub caption: String,
    /// The columns.
    pub columns: Vec<Column>,
    /// The rows, each as long as `columns`.
    pub rows: Vec<Vec<Cell>>,
    /// The row of totals, if it has one.
    pub total: Option<Vec<Cell>>,
    /// What to say when there is no row.
    pub when_empty: String,
    /// Whether it is so long that a page shows it only when somebody asks; a paper prints it all the same.
    pub long: bool,
    /// Whether a paper prints it in small letters and close lines: one line a record, a year of them on few leaves.
    pub dense: bool,
}

/// A column of a table.
#[derive(Clone, Debug)]
pub struct Column {
    /// Its heading.
    pub name: String,
    /// What its cells hold, which decides how they stand.
    pub holds: Holds,
    /// How wide it is against the others.
    pub width: u8,
}

/// What a column's cells hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Holds {
    /// Words, from the left.
    Words,
    /// Figures, from the right.
    Figures,
    /// A lot code, in the monospaced face.
    Codes,
    /// Words that are often the same as in the row above; a paper then says so instead of printing them again.
    Repeats,
}

/// A cell of a table.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Cell {
    /// What it says.
    pub says: String,
    /// The address that shows what it is made of.
    pub opens: Option<String>,
    /// Whether it is a guess rather than a ticket.
    pub guess: bool,
}

impl Cell {
    /// A plain cell.
    #[must_use]
    pub fn says(text: impl Into<String>) -> Cell {
        Cell { says: text.into(), opens: None, guess: false }
    }

    /// A cell that opens what it is made of.
    #[must_use]
    pub fn opening(text: impl Into<String>, address: impl Into<String>) -> Cell {
        Cell { says: text.into(), opens: Some(address.into()), guess: false }
    }

    /// The same cell, marked as a guess when `guess` holds.
    #[must_use]
    pub fn guessed(self, guess: bool) -> Cell {
        Cell { guess, ..self }
    }
}

impl Table {
    /// An empty table with these columns: name, what it holds, width.
    #[must_use]
    pub fn new(name: &str, caption: &str, columns: &[(&str, Holds, u8)]) -> Table {
        Table {
            name: name.to_owned(),
            caption: caption.to_owned(),
            columns: columns.iter().map(|(name, holds, width)| Column { name: (*name).to_owned(), holds: *holds, width: *width }).collect(),
            ..Table::default()
        }
    }

    /// The same table, shown on a page only when somebody asks for it.
    #[must_use]
    pub fn long(self) -> Table {
        Table { long: true, ..self }
    }

    /// The same table, printed in small letters and close lines.
    #[must_use]
    pub fn dense(self) -> Table {
        Table { dense: true, ..self }
    }

    /// Whether its rows fold on a phone: more than three columns, or three of which two hold words, do not stand beside each other
    /// there.
    #[must_use]
    pub fn folds(&self) -> bool {
        let words = self.columns.iter().filter(|column| column.holds == Holds::Words).count();
        self.columns.len() > 3 || (self.columns.len() == 3 && words > 1)
    }

    /// Adds a row of plain cells.
    pub fn row<const N: usize>(&mut self, cells: [String; N]) {
        self.rows.push(cells.into_iter().map(Cell::says).collect());
    }
}
