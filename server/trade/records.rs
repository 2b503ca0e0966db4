//! What a record is: its kind, its columns, and how one cell is read and shown.
//!
//! Forms, CSV files, the journal and the correction page all read and show a cell through its shape, so a figure
//! means the same wherever it is typed and gets the same sentence when it is wrong.

pub use super::remarks::{Meant, Remark};

use super::{
    Fault,
    codes::{LotCode, LotName},
    colonies,
    jars::Jars,
    lab::Figure,
    measure::{Scale, Temperature, Weight, figure_of, trimmed, without_dress},
    misread,
    money::Money,
    needs::Needs,
    packs::Packs,
    parts::Part,
    short,
    what_if::Changes,
    when::{Moment, Zone, parse_day},
};
use serde::{Serialize, Serializer};
use std::collections::BTreeMap;

/// What a column holds, and so how it is typed, kept and shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shape {
    /// A line of words, up to so many characters.
    Words(usize),
    /// A longer note.
    Note(usize),
    /// One of a few words.
    OneOf(&'static [&'static str]),
    /// A whole number from the first to the second.
    Count(i64, i64),
    /// A plain figure with decimals, kept as typed.
    Figure,
    /// Dollars and cents.
    Money,
    /// An amount of milk, kept exactly and as typed.
    Milk,
    /// A temperature, kept exactly and as typed.
    Heat,
    /// A day.
    Day,
    /// A moment.
    Moment,
    /// A lot code with its check character.
    Code,
    /// A milking's day and session: `2026-05-14 AM`.
    Session,
    /// A time zone's name.
    Zone,
    /// A vessel's dipstick table: `2 in = 0.9 gal; 4 in = 1.8 gal`.
    Dipstick,
    /// The chill steps of a place's rule.
    Steps,
    /// The limits of a place's rule.
    Limits,
    /// How often a place's rule has things tested.
    Tests,
    /// How much milk or how many cows a place's rule allows.
    Caps,
    /// The ways of handing out a place's rule allows.
    Channels,
    /// What a place's rule asks of a household before it may have milk.
    Needs,
    /// A part of a whole: `1`, `1/2`, `1.5`.
    Part,
    /// A lab's figure, kept as the lab wrote it: `<10`, `12,000`, `none detected`.
    LabFigure,
    /// Plates or tubes as the lab counted them.
    Plates,
    /// What the measures of a store hold: `bale = 45; bag = 50`.
    Packs,
    /// What is changed in a what-if: `feed +20 %; wage 18`.
    WhatIf,
    /// Another record, by its key.
    Key(&'static str),
}

/// A column of a kind of record.
#[derive(Clone, Copy, Debug)]
pub struct Column {
    /// Its name, in forms, files and the ledger.
    pub name: &'static str,
    /// What it holds.
    pub shape: Shape,
    /// Whether it may stay empty.
    pub may_be_empty: bool,
    /// What a person reads beside the field.
    pub label: &'static str,
}

/// A kind of record.
#[derive(Debug)]
pub struct Kind {
    /// Its table and file: `chill`.
    pub name: &'static str,
    /// One record of it, in words: `chill reading`.
    pub one: &'static str,
    /// Its columns.
    pub columns: &'static [Column],
    /// The column that names a record of it to a person, if one does.
    pub key: Option<&'static str>,
    /// The column that says when it happened, if it has its own.
    pub happened: Option<&'static str>,
    /// Whether only the owner sees it: money, phone numbers, complaints.
    pub owner_only: bool,
}

impl Kind {
    /// The place of a column.
    #[must_use]
    pub fn place_of(&self, column: &str) -> Option<usize> {
        self.columns.iter().position(|own| own.name == column)
    }

    /// Whether a column keeps what it first said for ever.
    #[must_use]
    pub fn is_frozen(&self, column: &str) -> bool {
        match self.name {
            "pickups" => FROZEN.contains(&column),
            "documents" => matches!(column, "hash" | "size"),
            _ => self.stands_for_ever(),
        }
    }

    /// Whether a record of it stands for ever once its ten seconds are over: what the owner decided, and why, is printed on
    /// every paper of the lot, so nobody puts other words there; an entry in the books is only ever met by another; and whether
    /// an e-mail may have gone decides whether it is sent again.
    #[must_use]
    pub fn stands_for_ever(&self) -> bool {
        matches!(self.name, "decisions" | "transfers" | "mailings" | "deliveries")
    }

    /// The page that writes records of this kind, where a plain form would leave something out.
    #[must_use]
    pub fn own_page(&self) -> Option<&'static str> {
        match self.name {
            "milkings" => Some("/milkings/new"),
            "lots" => Some("/fills/new"),
            "chill" => Some("/chill/new"),
            "counts" => Some("/counts/new"),
            "pickups" => Some("/pickup"),
            "holds" | "lifts" => Some("/stop"),
            "rules" => Some("/rules"),
            "samples" | "results" | "documents" => Some("/lab"),
            "decisions" => Some("/jars"),
            "warm_fridges" => Some("/bad-day/fridge"),
            "packings" | "portions" | "crates" => Some("/pickup"),
            "transfers" | "tin_counts" => Some("/books"),
            "mailings" | "deliveries" => Some("/callbacks"),
            _ => None,
        }
    }

    /// The cell of a named column among a record's cells.
    #[must_use]
    pub fn cell<'a>(&self, cells: &'a [Cell], column: &str) -> &'a Cell {
        self.place_of(column).and_then(|place| cells.get(place)).unwrap_or(&Cell::Empty)
    }

    /// The jars in a record's cells, by size.
    #[must_use]
    pub fn jars(&self, cells: &[Cell]) -> Jars {
        let count = |column| self.cell(cells, column).whole().unwrap_or(0);
        Jars { gallons: count("gallons"), half_gallons: count("half_gallons"), quarts: count("quarts"), pints: count("pints") }
    }
}

/// What no correction of a hand-out reaches: the verdict as it was known then, and the lot, the time and the household it was
/// known for. Under another of them it would be another hand-out.
pub const FROZEN: [&str; 7] = ["verdict", "because", "facts", "marked", "at", "lot", "person"];

/// One cell of a record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Cell {
    /// Nothing was written.
    Empty,
    /// Words, days, codes.
    Text(String),
    /// Whole numbers, cents, seconds.
    Whole(i64),
    /// An exact figure with the text it was entered as.
    Measured(i64, String),
    /// Another record by the key somebody typed, not looked up yet.
    Named(String),
    /// Another record by its number.
    To(i64),
}

impl Cell {
    /// The words in it, or nothing.
    #[must_use]
    pub fn text(&self) -> &str {
        match self {
            Cell::Text(text) | Cell::Measured(_, text) | Cell::Named(text) => text,
            Cell::Empty | Cell::Whole(_) | Cell::To(_) => "",
        }
    }

    /// The whole number in it, if it has one.
    #[must_use]
    pub const fn whole(&self) -> Option<i64> {
        match self {
            Cell::Whole(number) | Cell::Measured(number, _) | Cell::To(number) => Some(*number),
            Cell::Empty | Cell::Text(_) | Cell::Named(_) => None,
        }
    }

    /// The moment in it, if it has one.
    #[must_use]
    pub fn moment(&self) -> Option<Moment> {
        self.whole().map(Moment::seconds)
    }
}

/// A cell as the journal writes it.
impl Serialize for Cell {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        match self {
            Cell::Empty => to.serialize_none(),
            Cell::Text(text) | Cell::Named(text) => to.serialize_str(text),
            Cell::Whole(number) | Cell::To(number) => to.serialize_i64(*number),
            Cell::Measured(exact, typed) => (exact, typed).serialize(to),
        }
    }
}

/// How a farm types: its clock and its thermometers' scale.
#[derive(Clone, Copy, Debug)]
pub struct Ways {
    /// The farm's time zone.
    pub zone: Zone,
    /// The scale a bare temperature is in.
    pub scale: Scale,
}

impl Shape {
    /// Reads what was typed into a cell.
    ///
    /// # Errors
    /// A sentence saying what is off and how to write it.
    pub fn read(self, typed: &str, ways: Ways) -> Result<Cell, Fault> {
        let text = typed.trim();
        if text.is_empty() {
            return Ok(Cell::Empty);
        }
        match self {
            Shape::Words(most) => words(text, most, false),
            Shape::Note(most) => words(text, most, true),
            Shape::OneOf(choices) => choices
                .iter()
                .find(|choice| choice.eq_ignore_ascii_case(text))
                .map(|choice| Cell::Text((*choice).to_owned()))
                .ok_or_else(|| Fault::says(format!("“{}” is not one of: {}.", short(text), choices.join(", ")))),
            Shape::Count(least, most) => match text.parse::<i64>() {
                Ok(count) if (least..=most).contains(&count) => Ok(Cell::Whole(count)),
                Ok(count) => Err(Fault::says(format!("{count} cannot be right here: give a whole number from {least} to {most}."))),
                Err(_) => Err(Fault::says(format!("“{}” is not a whole number. Write one from {least} to {most}.", short(text)))),
            },
            Shape::Figure => figure_of(&without_dress(text))
                .map(|figure| Cell::Text(trimmed(figure, 6)))
                .ok_or_else(|| Fault::says(format!("“{}” is not a figure. Write a number, like 2.5.", short(text)))),
            Shape::Money => Money::parse(text).map(|money| Cell::Whole(money.in_cents())),
            Shape::Milk => Weight::parse(text).map(|weight| Cell::Measured(weight.in_milligrams(), with_unit(text, "lb"))),
            Shape::Heat => Temperature::parse(text, ways.scale).map(|heat| Cell::Measured(heat.exact(), heat.to_string())),
            Shape::Day => parse_day(text).map(|day| Cell::Text(day.to_string())),
            Shape::Moment => ways.zone.parse_moment(text).map(|moment| Cell::Whole(moment.in_seconds())),
            Shape::Code => LotCode::parse(text).map(|code| Cell::Text(code.to_string())),
            Shape::Session => session(text),
            Shape::Zone => Zone::parse(text).map(|zone| Cell::Text(zone.to_string())),
            Shape::Dipstick => super::milkings::Dipstick::parse(text).map(|table| Cell::Text(table.to_string())),
            Shape::Steps => misread::steps(text).map(|steps| Cell::Text(steps.to_string())),
            Shape::Limits => misread::limits(text).map(|limits| Cell::Text(limits.to_string())),
            Shape::Tests => misread::tests(text).map(|tests| Cell::Text(tests.to_string())),
            Shape::Caps => misread::caps(text).map(|caps| Cell::Text(caps.to_string())),
            Shape::Channels => misread::channels(text).map(|channels| Cell::Text(channels.to_string())),
            Shape::Needs => Needs::parse(text).map(|needs| Cell::Text(needs.to_string())),
            Shape::Part => Part::parse(text).map(|part| Cell::Text(part.to_string())),
            Shape::LabFigure => Figure::parse(text).and_then(|_| words(text, 40, false)),
            Shape::Packs => Packs::parse(text).map(|packs| Cell::Text(packs.to_string())),
            Shape::WhatIf => Changes::parse(text).map(|changes| Cell::Text(changes.to_string())),
            Shape::Plates => colonies::Read::parse(text).and_then(|_| words(text, 200, false)),
            Shape::Key("lots") => LotName::parse(text).map(|lot| Cell::Named(lot.to_string())),
            Shape::Key(_) => words(text, 80, false).map(|cell| Cell::Named(cell.text().to_owned())),
        }
    }

    /// Shows a cell the way it can be read again; `key_of` names another record.
    #[must_use]
    pub fn show(self, cell: &Cell, zone: Zone, key_of: impl Fn(&'static str, i64) -> String) -> String {
        match (self, cell) {
            (_, Cell::Empty) => String::new(),
            (Shape::Money, Cell::Whole(cents)) => Money::cents(*cents).to_string(),
            (Shape::Moment, Cell::Whole(seconds)) => zone.for_file(Moment::seconds(*seconds)),
            (Shape::Key(kind), Cell::To(number)) => key_of(kind, *number),
            (_, Cell::Whole(number) | Cell::To(number)) => number.to_string(),
            (_, Cell::Text(text) | Cell::Measured(_, text) | Cell::Named(text)) => text.clone(),
        }
    }
}

fn words(text: &str, most: usize, lines: bool) -> Result<Cell, Fault> {
    let length = text.chars().count();
    if length > most {
        return Err(Fault::says(format!("This is {length} characters long; {most} is the most that fits here. Shorten it.")));
    }
    // Browsers and spreadsheets end a line in three ways.
    let text = if lines { text.replace("\r\n", "\n").replace('\r', "\n") } else { text.to_owned() };
    if text.chars().any(|c| c.is_control() && !(lines && c == '\n')) {
        return Err(Fault::says("This holds characters that cannot be printed. Type it again in plain words."));
    }
    Ok(Cell::Text(text))
}

fn session(text: &str) -> Result<Cell, Fault> {
    let wrong = || Fault::says(format!("“{}” is not a milking. Write its day and AM or PM, like 2026-05-14 AM.", short(text)));
    let (day, half) = text.split_once(' ').ok_or_else(wrong)?;
    let half = half.trim().to_ascii_uppercase();
    let day = parse_day(day).map_err(|_| wrong())?;
    if matches!(half.as_str(), "AM" | "PM") { Ok(Cell::Text(format!("{day} {half}"))) } else { Err(wrong()) }
}

fn with_unit(typed: &str, unit: &str) -> String {
    if typed.chars().all(|c| c.is_ascii_digit() || matches!(c, '.' | ',')) {
        format!("{} {unit}", typed.replace(',', "."))
    } else {
        typed.to_owned()
    }
}

/// A record of any kind, as the ledger keeps it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Record {
    /// Its number, for ever the same.
    pub number: i64,
    /// The mark the form or device gave it, so that sending a form twice keeps one record.
    pub entry: String,
    /// Its cells, in the order of the kind's columns.
    pub cells: Vec<Cell>,
    /// When it was written down, which is never when it happened.
    pub written: Moment,
    /// Who wrote it.
    pub who: String,
    /// From what: the screen, a paper sheet's number, a file.
    pub source: String,
    /// 1, or one more for each correction.
    pub version: i64,
}

impl Record {
    /// The record as one line of the journal: every cell, in a fixed order.
    #[must_use]
    pub fn as_line(&self, kind: &Kind) -> String {
        let (entry, who, source) = [&self.entry, &self.who, &self.source].map(|text| Cell::Text(text.clone())).into();
        let (written, version) = (Cell::Whole(self.written.in_seconds()), Cell::Whole(self.version));
        let last = [("entry", &entry), ("written", &written), ("who", &who), ("source", &source), ("version", &version)];
        let line: BTreeMap<&str, &Cell> = kind.columns.iter().map(|column| column.name).zip(&self.cells).chain(last).collect();
        // Names and cells only: there is nothing in them that could not be written as JSON.
        serde_json::to_string(&line).unwrap_or_default()
    }

    /// The cell of a named column.
    #[must_use]
    pub fn cell(&self, kind: &Kind, column: &str) -> &Cell {
        kind.cell(&self.cells, column)
    }
}

/// Reads a whole form or line into cells, collecting everything that is wrong at once.
///
/// # Errors
/// One remark for each field that cannot be read.
pub fn read(kind: &Kind, typed: impl Fn(&str) -> String, ways: Ways) -> Result<Vec<Cell>, Vec<Remark>> {
    let mut cells = Vec::with_capacity(kind.columns.len());
    let mut remarks = Vec::new();
    for column in kind.columns {
        match column.shape.read(&typed(column.name), ways) {
            Ok(Cell::Empty) if !column.may_be_empty => {
                remarks.push(Remark::fault(column.name, format!("{}: this is missing.", column.label)));
            }
            Ok(cell) => cells.push(cell),
            Err(_) if column.name == "life_years" && typed(column.name).trim() == "0" => {
                remarks.push(Remark::fault(column.name, "A life of 0 years cannot be right. Write for how many years it will serve."));
            }
            Err(fault) => remarks.push(Remark::fault(column.name, fault)),
        }
    }
    if remarks.is_empty() { Ok(cells) } else { Err(remarks) }
}

/// What a foremilk column may say; kept beside its meaning in the herd chapter by a test.
pub const FOREMILK: &[&str] = &["ok", "flakes", "blood", "watery"];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_foremilk_words_are_the_herd_chapters_own() {
        for word in FOREMILK {
            let read = super::super::herd::Foremilk::parse(word).unwrap();
            assert_eq!(&read.to_string(), word);
        }
    }

    #[test]
    fn ten_thousand_characters_get_a_sentence() {
        let ways = Ways { zone: Zone::UTC, scale: Scale::Fahrenheit };
        for shape in
            [Shape::Words(80), Shape::Count(0, 99), Shape::Milk, Shape::Heat, Shape::Moment, Shape::Code, Shape::Money, Shape::Figure]
        {
            let fault = shape.read(&"9".repeat(10_000), ways).unwrap_err().to_string();
            assert!(fault.len() < 250, "{fault}");
            assert!(shape.read("🐄", ways).is_ok() == matches!(shape, Shape::Words(_)));
        }
        assert_eq!(session("2026-05-14 am").unwrap(), Cell::Text("2026-05-14 AM".to_owned()));
    }
}
