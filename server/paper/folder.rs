//! The farm folder: every record of a farm as CSV files, one for each kind.
//!
//! Reading takes all or nothing and lists every fault at once, with file, line, column and what to write instead. What is
//! written can be read back and written again, byte for byte.

pub use super::{
    filed::{Files, FolderFault},
    kept::PAPERS,
};

use super::{cells::cells, kept, known::Known};
use crate::trade::{
    book::{Book, Struck},
    kinds::{KINDS, Kind},
    measure::Scale,
    near,
    records::{Cell, Record, Shape, Ways},
    short,
    when::{Moment, Zone},
};
use sha2::{Digest, Sha256};
use std::collections::{HashMap, HashSet};

/// The columns every file has besides its own.
const FIRST: &str = "number";
const LAST: [&str; 5] = ["entry", "written", "who", "source", "version"];
const STRUCK: [&str; 7] = ["kind", "number", "version", "was", "at", "who", "why"];

/// Writes a book as files.
#[must_use]
pub fn write(book: &Book) -> Files {
    let zone = book.zone();
    let key_of = book.keys();
    let mut files: Files = KINDS
        .iter()
        .map(|kind| {
            let heading =
                std::iter::once(FIRST).chain(kind.columns.iter().map(|column| column.name)).chain(LAST).map(str::to_owned).collect();
            let rows = book.of(kind.name).iter().map(|record| row(kind, record, zone, &key_of));
            (format!("{}.csv", kind.name), lines(std::iter::once(heading).chain(rows)))
        })
        .collect();
    let struck = book.struck.iter().map(|own| {
        vec![
            own.kind.clone(),
            own.number.to_string(),
            own.version.to_string(),
            own.was.clone(),
            zone.for_file(own.at),
            own.who.clone(),
            own.why.clone(),
        ]
    });
    files.insert("struck.csv".to_owned(), lines(std::iter::once(STRUCK.map(str::to_owned).to_vec()).chain(struck)));
    files.insert("README.txt".to_owned(), include_bytes!("folder-readme.txt").to_vec());
    files.extend(kept::written(book));
    files
}

fn row(kind: &Kind, record: &Record, zone: Zone, key_of: &impl Fn(&'static str, i64) -> String) -> Vec<String> {
    let own = kind.columns.iter().zip(&record.cells).map(|(column, cell)| column.shape.show(cell, zone, key_of));
    let last = [record.entry.clone(), zone.for_file(record.written), record.who.clone(), record.source.clone(), record.version.to_string()];
    std::iter::once(record.number.to_string()).chain(own).chain(last).collect()
}

fn lines(rows: impl Iterator<Item = Vec<String>>) -> Vec<u8> {
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::Any(b'\n')).from_writer(Vec::new());
    for row in rows {
        // Writing to memory cannot fail for outside reasons; a short row would be ours and shows in the round trip.
        let _ = writer.write_record(&row);
    }
    writer.into_inner().unwrap_or_default()
}

/// Reads files into a book. `now` bounds what can have happened; `who` signs lines that name nobody.
///
/// # Errors
/// Every fault there is.
pub fn read(files: &Files, now: Moment, who: &str) -> Result<Book, Vec<FolderFault>> {
    let mut reading = Reading {
        files,
        now,
        who,
        ways: ways(files),
        faults: Vec::new(),
        lines: HashMap::new(),
        unkept: HashSet::new(),
        unread: HashSet::new(),
        codes: Vec::new(),
    };
    reading.strangers();
    let mut book = Book::default();
    for kind in KINDS {
        let records = reading.kind(kind);
        book.records.insert(kind.name, records);
    }
    reading.look_up(&mut book);
    book.struck = reading.struck();
    book.contents = kept::read(files, &book, &reading.lines, &mut reading.faults);
    reading.hold_to_the_laws(&book);
    if reading.faults.is_empty() {
        Ok(book)
    } else {
        reading.faults.sort();
        reading.faults.dedup();
        Err(reading.faults)
    }
}

/// The farm's own clock and scale stand in its first file, and every other file is read by them.
fn ways(files: &Files) -> Ways {
    let mut found = Ways { zone: Zone::UTC, scale: Scale::Fahrenheit };
    if let Some(table) = files.get("farm.csv").and_then(|bytes| cells(bytes).ok())
        && let Some((_, row)) = table.rows.last()
    {
        let cell =
            |name: &str| table.heading.iter().position(|own| own == name).and_then(|place| row.get(place)).map_or("", String::as_str);
        found.zone = Zone::parse(cell("zone")).unwrap_or(Zone::UTC);
        found.scale = Scale::parse(cell("scale")).unwrap_or(Scale::Fahrenheit);
    }
    found
}

struct Reading<'a> {
    files: &'a Files,
    now: Moment,
    who: &'a str,
    ways: Ways,
    faults: Vec<FolderFault>,
    lines: HashMap<(&'static str, i64), u64>,
    /// Keys of lines that are there but could not be kept, so that what names them is not called wrong as well.
    unkept: HashSet<(&'static str, String)>,
    /// Kinds whose whole file could not be taken apart.
    unread: HashSet<&'static str>,
    /// The lot codes read so far, to offer the near one where a code is slipped.
    codes: Vec<String>,
}

impl Reading<'_> {
    fn fault(&mut self, file: &str, line: u64, column: &str, says: impl ToString) {
        self.faults.push(FolderFault { file: file.to_owned(), line, column: column.to_owned(), says: says.to_string() });
    }

    fn strangers(&mut self) {
        let known: Vec<String> =
            KINDS.iter().map(|kind| format!("{}.csv", kind.name)).chain(["struck.csv".to_owned(), "README.txt".to_owned()]).collect();
        for name in self.files.keys().filter(|name| !known.contains(name) && !kept::is_paper(name)).cloned().collect::<Vec<_>>() {
            self.fault(&name, 0, "", near::unknown("file of a farm folder called", &name, known.iter().map(String::as_str)));
        }
        if !self.files.contains_key("farm.csv") {
            self.fault("farm.csv", 0, "", "This file is missing. It names the farm, its time zone and its thermometers' scale.");
        }
    }

    /// A file's rows in the order of `columns`, with their line numbers.
    fn rows(&mut self, file: &str, columns: &[&str]) -> Vec<(u64, Vec<String>)> {
        let Some(bytes) = self.files.get(file) else { return Vec::new() };
        let table = match cells(bytes) {
            Ok(table) => table,
            Err((line, says)) => {
                self.fault(file, line, "", says);
                return Vec::new();
            }
        };
        for name in &table.heading {
            if !columns.contains(&name.as_str()) {
                self.fault(file, 1, name, near::unknown("column", name, columns.iter().copied()));
            }
        }
        let mut places = Vec::new();
        for column in columns {
            match table.heading.iter().position(|own| own == column) {
                Some(place) => places.push(place),
                None => self.fault(
                    file,
                    1,
                    column,
                    "This column is missing. Add it to the heading; its cells may stay empty where the format allows.",
                ),
            }
        }
        if places.len() < columns.len() {
            return Vec::new();
        }
        table
            .rows
            .into_iter()
            .map(|(line, row)| (line, places.iter().map(|place| row.get(*place).cloned().unwrap_or_default()).collect()))
            .collect()
    }

    fn kind(&mut self, kind: &'static Kind) -> Vec<Record> {
        let file = format!("{}.csv", kind.name);
        let columns: Vec<&str> = std::iter::once(FIRST).chain(kind.columns.iter().map(|column| column.name)).chain(LAST).collect();
        let (mut numbers, mut entries, mut keys) = (HashSet::new(), HashSet::new(), HashMap::new());
        let mut records = Vec::new();
        let faults = self.faults.len();
        let rows = self.rows(&file, &columns);
        if self.faults.len() > faults {
            self.unread.insert(kind.name);
        }
        for (line, row) in rows {
            let Some(record) = self.record(kind, &file, line, &row, records.len()) else {
                let said = &row[kind.key.and_then(|key| kind.place_of(key)).map_or(0, |place| place + 1)];
                self.unkept.insert((kind.name, said.trim().to_lowercase()));
                continue;
            };
            if !numbers.insert(record.number) {
                self.fault(
                    &file,
                    line,
                    FIRST,
                    format!("The number {} stands twice in this file. Leave it empty and the next free one is given.", record.number),
                );
            }
            if !entries.insert(record.entry.clone()) {
                self.fault(&file, line, "entry", "This entry stands twice: the same record was put in two times. Take one out.");
            }
            if let Some(key) = kind.key.filter(|_| matches!(kind.name, "cows" | "vessels" | "people" | "milkings")) {
                let said = record.cell(kind, key).text().to_lowercase();
                if let Some(earlier) = keys.insert(said, line) {
                    self.fault(
                        &file,
                        line,
                        key,
                        format!("This stands on line {earlier} already. Two records of {} cannot share it.", kind.name),
                    );
                }
            }
            self.lines.insert((kind.name, record.number), line);
            if kind.name == "lots" {
                self.codes.push(record.cell(kind, "code").text().to_owned());
            }
            records.push(record);
        }
        records.sort_by_key(|record| record.number);
        records
    }

    fn record(&mut self, kind: &'static Kind, file: &str, line: u64, row: &[String], before: usize) -> Option<Record> {
        let faults = self.faults.len();
        let own = kind.columns.len();
        let mut cells = Vec::with_capacity(own);
        for (column, typed) in kind.columns.iter().zip(&row[1..=own]) {
            match column.shape.read(typed, self.ways) {
                Ok(Cell::Empty) if !column.may_be_empty => {
                    self.fault(file, line, column.name, "This cell is empty, and every line needs it.")
                }
                Ok(Cell::Whole(seconds)) if column.shape == Shape::Moment && seconds > self.now.in_seconds() => {
                    self.fault(
                        file,
                        line,
                        column.name,
                        format!("{} has not come yet. Check the date.", self.ways.zone.in_full(Moment::seconds(seconds))),
                    );
                }
                Ok(cell) => cells.push(cell),
                Err(fault) if column.shape == Shape::Key("lots") => {
                    let offered = near::offered(typed, self.codes.iter().map(String::as_str));
                    self.fault(file, line, column.name, format!("{fault}{offered}"));
                }
                Err(fault) => self.fault(file, line, column.name, fault),
            }
        }
        let rest = &row[own + 1..];
        let number = self.whole(file, line, FIRST, &row[0], i64::try_from(before).unwrap_or(0) + 1);
        let version = self.whole(file, line, "version", &rest[4], 1);
        let entry = if rest[0].trim().is_empty() { entry_of(file, line, row) } else { rest[0].trim().to_owned() };
        if uuid::Uuid::parse_str(&entry).is_err() {
            self.fault(file, line, "entry", format!("“{}” is not an entry mark. Leave it empty and one is made.", short(&entry)));
        }
        let written = if rest[1].trim().is_empty() { Ok(self.now) } else { self.ways.zone.parse_moment(&rest[1]) };
        let written = written.map_err(|fault| self.fault(file, line, "written", fault)).ok();
        let who = if rest[2].trim().is_empty() { self.who.to_owned() } else { rest[2].clone() };
        let source = if rest[3].trim().is_empty() { file.to_owned() } else { rest[3].clone() };
        (self.faults.len() == faults).then_some(())?;
        Some(Record { number, entry, cells, written: written?, who, source, version })
    }

    fn whole(&mut self, file: &str, line: u64, column: &str, typed: &str, unless: i64) -> i64 {
        if typed.trim().is_empty() {
            return unless;
        }
        match Shape::Count(1, 1_000_000_000).read(typed, self.ways) {
            Ok(cell) => cell.whole().unwrap_or(unless),
            Err(fault) => {
                self.fault(file, line, column, fault);
                unless
            }
        }
    }

    fn look_up(&mut self, book: &mut Book) {
        let known = Known::of(book);
        for kind in KINDS {
            let when = kind.happened.and_then(|column| kind.place_of(column));
            let mut records = book.records.remove(kind.name).unwrap_or_default();
            for record in &mut records {
                let at = when.and_then(|place| record.cells[place].whole()).unwrap_or(i64::MAX);
                for (column, cell) in kind.columns.iter().zip(record.cells.iter_mut()) {
                    if let (Shape::Key(target), Cell::Named(key)) = (column.shape, &*cell) {
                        match known.number(target, key, at) {
                            Some(number) => *cell = Cell::To(number),
                            None if self.unread.contains(target) || self.unkept.contains(&(target, key.to_lowercase())) => {}
                            None => {
                                let says = known.nearest(target, key);
                                let line = self.lines.get(&(kind.name, record.number)).copied().unwrap_or(0);
                                self.fault(&format!("{}.csv", kind.name), line, column.name, says);
                            }
                        }
                    }
                }
            }
            book.records.insert(kind.name, records);
        }
    }

    fn struck(&mut self) -> Vec<Struck> {
        let mut all = Vec::new();
        for (line, row) in self.rows("struck.csv", &STRUCK) {
            let number = self.whole("struck.csv", line, "number", &row[1], 0);
            let version = self.whole("struck.csv", line, "version", &row[2], 1);
            if crate::trade::kinds::kind(&row[0]).is_none() {
                self.fault("struck.csv", line, "kind", near::unknown("kind of record", &row[0], KINDS.iter().map(|kind| kind.name)));
            }
            match self.ways.zone.parse_moment(&row[4]) {
                Ok(at) => all.push(Struck {
                    kind: row[0].clone(),
                    number,
                    version,
                    was: row[3].clone(),
                    at,
                    who: row[5].clone(),
                    why: row[6].clone(),
                }),
                Err(fault) => self.fault("struck.csv", line, "at", fault),
            }
        }
        all
    }

    /// Holds what could be read to the laws. Where a fault stands in a file that a law is about, the law waits for that.
    fn hold_to_the_laws(&mut self, book: &Book) {
        let faulty: HashSet<String> = self.faults.iter().map(|fault| fault.file.clone()).collect();
        let sound = |kind: &str| about(kind).iter().chain([&kind]).all(|name| !faulty.contains(&format!("{name}.csv")));
        for breach in book.breaches().into_iter().filter(|breach| sound(breach.kind)) {
            let line = self.lines.get(&(breach.kind, breach.number)).copied().unwrap_or(0);
            self.fault(&format!("{}.csv", breach.kind), line, breach.column, breach.says);
        }
    }
}

/// Which other kinds the laws on a kind look at.
fn about(kind: &str) -> &'static [&'static str] {
    match kind {
        "pails" => &["vessels"],
        "lots" => &["farm", "sources"],
        "sources" => &["lots", "milkings"],
        "pickups" | "asides" | "counts" => &["lots", "pickups", "asides"],
        _ => &[],
    }
}

/// The entry mark of a line that carries none: made from the line itself, so that the same line never counts twice.
fn entry_of(file: &str, line: u64, row: &[String]) -> String {
    let digest = Sha256::digest(format!("{file}/{line}/{}", row.join("\u{1f}")));
    let mut bytes = [0u8; 16];
    bytes.copy_from_slice(&digest[..16]);
    uuid::Builder::from_custom_bytes(bytes).into_uuid().to_string()
}
