//! The papers hold what the sheet says: nothing vanishes, nothing is split, and the notice is on every page.
//!
//! The PDF is read back with `pdftotext` (poppler-utils), a reader that shares no code with the one that writes it.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use std::fs;
use std::process::Command;

use proptest::prelude::*;
use tallypail::paper::{csv, json, pdf};
use tallypail::trade::figures::{Cell, Holds, NOTICE, Part, Sheet, Table};

const MADE: &str = "4 May 2026, 5:12 pm";

/// A call-back sheet of the invented farm, with a little of everything.
fn sample() -> Sheet {
    let mut jars = Table::new(
        "jars",
        "Who has jars of this lot",
        &[("Family", Holds::Words, 4), ("Lot", Holds::Codes, 3), ("Jars", Holds::Figures, 1), ("Reached", Holds::Words, 3)],
    );
    jars.row(["Ashgrove".into(), "6134A-S".into(), "12".into(), "by phone, 4 May".into()]);
    jars.row(["Łukasz Żak".into(), "6134A-S".into(), "4".into(), "not yet".into()]);
    jars.row(["Олена, the house by the mill".into(), "6134A-S".into(), "2 ½".into(), "in person → jars back ✓".into()]);
    jars.total = Some(vec![Cell::says("All"), Cell::says(""), Cell::says("18 ½"), Cell::says("")]);
    let mut costs = Table::new(
        "costs",
        "What a half-gallon costs",
        &[("Of what", Holds::Words, 5), ("Tickets", Holds::Figures, 2), ("Each", Holds::Figures, 2)],
    );
    costs.row(["Hay".into(), "3".into(), "1.25".into()]);
    costs.rows.push(vec![Cell::says("Own labour, \"evenings\""), Cell::says("0"), Cell::says("4.10").guessed(true)]);
    costs.rows.push(vec![Cell::says("Milk replacer sold back"), Cell::says("1"), Cell::says("-0.35")]);
    costs.total = Some(vec![Cell::says("All told"), Cell::says("4"), Cell::says("5.00").guessed(true)]);
    let mut none = Table::new("complaints", "Complaints", &[("Day", Holds::Words, 1), ("What", Holds::Words, 3)]);
    none.when_empty = "Nobody has complained.".into();
    Sheet {
        name: "trace-6134A-S".into(),
        title: "Who got lot 6134A-S".into(),
        under: "Recall record, 3 to 4 May 2026".into(),
        facts: vec![("Farm".into(), "Tansyditch Farm".into()), ("Filled".into(), "3 May 2026, 6:40 am, from Clover and Bess".into()), ("Held at".into(), "38 °F (3.3 °C) ≤ 40 °F".into())],
        parts: vec![
            Part::Loud("Called back. Do not drink this milk, and do not give it to children or animals. Keep the jars cold until someone from the farm has them.".into()),
            Part::Heading("Handed out".into()),
            Part::Words("Jars of this lot went to three families. Each was told by the person named.".into()),
            Part::Table(jars),
            Part::Heading("Costs".into()),
            Part::Table(costs),
            Part::Table(none),
        ],
    }
}

fn one_table(table: Table) -> Sheet {
    Sheet { name: "test".into(), title: "A test sheet".into(), parts: vec![Part::Table(table)], ..Sheet::default() }
}

/// The text of each page, as pdftotext reads it.
fn pages(sheet: &Sheet) -> Vec<String> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("paper.pdf");
    fs::write(&path, pdf::print(sheet, MADE).unwrap()).unwrap();
    let read =
        Command::new("pdftotext").arg("-layout").arg(&path).arg("-").output().expect("pdftotext, of poppler-utils, must be installed");
    assert!(read.status.success(), "{}", String::from_utf8_lossy(&read.stderr));
    let text = String::from_utf8(read.stdout).unwrap();
    text.trim_end_matches('\u{c}').split('\u{c}').map(str::to_owned).collect()
}

/// The text with every space taken out, so that a line break does not matter.
fn tight(text: &str) -> String {
    text.split_whitespace().collect()
}

#[test]
fn a_pdf_says_all_that_the_sheet_says() {
    let text = tight(&pages(&sample()).join("\n"));
    for said in [
        "Who got lot 6134A-S",
        "trace-6134A-S",
        "Recall record, 3 to 4 May 2026",
        "Tansyditch Farm",
        "38 °F (3.3 °C) ≤ 40 °F",
        "Called back. Do not drink this milk",
        "Handed out",
        "Łukasz Żak",
        "Олена",
        "2 ½",
        "→ jars back ✓",
        "18 ½",
        "~4.10",
        "~5.00",
        "a guess, not a ticket",
        "Nobody has complained.",
        "Made 4 May 2026, 5:12 pm",
        "Page 1 of",
    ] {
        assert!(text.contains(&tight(said)), "{said:?} is missing");
    }
    assert!(!text.contains("lettering"), "nothing had to be stood in for");
}

#[test]
fn the_notice_title_and_number_stand_on_every_page_and_the_head_of_a_table_with_them() {
    let mut table = Table::new(
        "fills",
        "Every fill of the year",
        &[("Day", Holds::Words, 2), ("Lot", Holds::Codes, 2), ("Half-gallons", Holds::Figures, 1)],
    );
    for nth in 0..200 {
        table.row([format!("day {nth}"), format!("L{nth:04}-Q"), format!("{}", nth % 7)]);
    }
    table.total = Some(vec![Cell::says("All of it"), Cell::says(""), Cell::says("594")]);
    let pages = pages(&one_table(table));
    assert!(pages.len() >= 4, "{} pages", pages.len());
    for (nth, page) in pages.iter().enumerate() {
        assert!(tight(page).contains(&tight(NOTICE)), "the notice is missing on page {}", nth + 1);
        assert!(page.contains(&format!("Page {} of {}", nth + 1, pages.len())));
        assert!(page.contains("A test sheet") && page.contains("test") && page.contains(MADE));
        assert!(page.contains("Half-gallons"), "the head is missing on page {}", nth + 1);
    }
    let whole = pages.join("\n");
    for nth in 0..200 {
        assert_eq!(whole.matches(&format!("L{nth:04}-Q")).count(), 1, "row {nth}");
    }
    let last = pages.last().unwrap();
    assert!(last.contains("All of it") && last.contains("L0199-Q"), "the total stays with the last row");
}

#[test]
fn a_word_wider_than_its_cell_is_broken_and_not_lost() {
    // Seven letters that repeat, so that a lost or doubled piece shows.
    let long: String = "abcdefg".chars().cycle().take(500).collect();
    let mut table = Table::new("notes", "Notes", &[("Day", Holds::Words, 1), ("Note", Holds::Words, 6)]);
    table.row(["3 May".into(), long.clone()]);
    let pages = pages(&one_table(table));
    assert_eq!(pages.len(), 1);
    let column: String = pages[0]
        .lines()
        .map(|line| line.replace("3 May", ""))
        .filter(|line| tight(line).len() > 20 || line.trim_start().starts_with("abc"))
        .collect();
    assert!(tight(&column).contains(&long), "{column}");
}

#[test]
fn a_narrow_column_still_shows_every_letter_of_its_words() {
    let columns: Vec<(String, Holds, u8)> = (0..12).map(|nth| (format!("Column{nth}"), Holds::Figures, 1)).collect();
    let columns: Vec<(&str, Holds, u8)> = columns.iter().map(|(name, holds, width)| (name.as_str(), *holds, *width)).collect();
    let mut table = Table::new("wide", "Twelve columns", &columns);
    table.rows.push((0..12).map(|nth| Cell::says(format!("{nth}98765432101234"))).collect());
    let text = pages(&one_table(table)).join("");
    let count = |c: char| text.matches(c).count();
    // 9 and 8 stand once in each of twelve cells, and once more in the headings and the number of the cell that hold them.
    assert_eq!(count('9'), 12 + 2);
    assert_eq!(count('8'), 12 + 2);
}

#[test]
fn a_row_is_never_split_between_two_pages() {
    let mut table = Table::new("tall", "Tall rows", &[("Nr", Holds::Words, 1), ("Says", Holds::Words, 8)]);
    for nth in 0..12 {
        table.row([format!("r{nth}"), format!("begin{nth}x {} end{nth}x", "a calm word or two ".repeat(60))]);
    }
    let pages = pages(&one_table(table));
    assert!(pages.len() > 1);
    for nth in 0..12 {
        let of = |word: String| pages.iter().position(|page| page.contains(&word));
        assert!(of(format!("begin{nth}x")).is_some());
        assert_eq!(of(format!("begin{nth}x")), of(format!("end{nth}x")), "row {nth}");
    }
}

#[test]
fn a_cell_taller_than_a_page_is_cut_and_says_so() {
    let mut table = Table::new("huge", "Huge", &[("Says", Holds::Words, 1), ("More", Holds::Words, 1)]);
    table.row(["word ".repeat(100_000), "kept".into()]);
    table.row(["after".into(), "also kept".into()]);
    let text = pages(&one_table(table)).join("\n");
    assert!(text.contains("it was too long for this paper") && text.contains("also kept"));
}

#[test]
fn a_character_that_cannot_be_printed_is_stood_in_for_and_the_paper_says_so() {
    let mut table = Table::new("odd", "Odd", &[("Says", Holds::Words, 1), ("Lot", Holds::Codes, 1)]);
    table.row(["cow \u{1f404} here".into(), "6134→A".into()]);
    let text = pages(&one_table(table)).join("\n");
    assert!(text.contains("cow ? here"), "{text}");
    assert!(text.contains("6134→A"), "a code falls back to a face that has the arrow");
    assert!(text.contains("does not have"));
}

#[test]
fn a_sheet_with_nothing_in_it_still_prints_a_page() {
    let pages = pages(&Sheet {
        parts: vec![Part::Table(Table::default()), Part::Words(String::new()), Part::Loud(String::new())],
        ..Sheet::default()
    });
    assert_eq!(pages.len(), 1);
    assert!(tight(&pages[0]).contains(&tight(NOTICE)));
}

#[test]
fn a_loud_part_longer_than_a_page_goes_on_over_the_leaf() {
    let words: String = (0..1500).map(|nth| format!("w{nth}x ")).collect();
    let pages = pages(&Sheet { title: "Loud".into(), parts: vec![Part::Loud(words)], ..Sheet::default() });
    let whole = pages.join("\n");
    assert!(pages.len() > 1);
    for nth in 0..1500 {
        assert!(whole.contains(&format!("w{nth}x")), "word {nth}");
    }
}

#[test]
fn a_csv_read_back_gives_the_cells() {
    let bytes = csv::print(&sample());
    let text = String::from_utf8(bytes.clone()).unwrap();
    // RFC 4180, 2.1: lines end in CRLF.
    assert!(text.lines().count() > 10 && text.matches('\n').count() == text.matches("\r\n").count());
    assert!(text.trim_end().lines().last().unwrap().contains(NOTICE));
    let mut reader = ::csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(bytes.as_slice());
    let records: Vec<Vec<String>> = reader.records().map(|record| record.unwrap().iter().map(str::to_owned).collect()).collect();
    let sheet = sample();
    for part in &sheet.parts {
        let Part::Table(table) = part else { continue };
        let at = records.iter().position(|record| *record == ["table", &table.name]).unwrap();
        assert_eq!(records[at + 1], table.columns.iter().map(|column| column.name.clone()).collect::<Vec<_>>());
        for (nth, row) in table.rows.iter().enumerate() {
            assert_eq!(records[at + 2 + nth], row.iter().map(|cell| cell.says.clone()).collect::<Vec<_>>());
        }
        if let Some(total) = &table.total {
            let at = records.iter().position(|record| *record == ["total", &table.name]).unwrap();
            assert_eq!(records[at + 1], total.iter().map(|cell| cell.says.clone()).collect::<Vec<_>>());
        }
    }
    assert_eq!(records[..3], [vec!["table", "facts"], vec!["name", "value"], vec!["title", "Who got lot 6134A-S"]]);
    assert!(records.contains(&vec!["Farm".to_owned(), "Tansyditch Farm".to_owned()]));
    assert!(records.iter().any(|record| record[0] == "loud" && record[1].starts_with("Called back.")));
    assert!(records.contains(&vec!["costs".to_owned(), "2".to_owned(), "Each".to_owned()]), "the guess is listed");
    assert!(records.contains(&vec!["costs".to_owned(), "total".to_owned(), "Each".to_owned()]));
    assert!(text.contains("\r\n\r\ntable,jars\r\n"), "a blank line stands between tables");
}

#[test]
fn a_csv_cell_cannot_be_run_as_a_formula() {
    // The starts a spreadsheet takes for a formula: OWASP, "CSV Injection" (from memory).
    let mut table = Table::new("notes", "", &[("Note", Holds::Words, 1)]);
    let (bad, fine) = (["=1+1", "+cmd|x", "-2+3", "@sum(a1)", "\tx", "-4.5.6", "+"], ["-4.50", "+3", "-$1,200.00", "-8%", "4", "a=b", "-"]);
    for says in bad.iter().chain(&fine) {
        table.row([(*says).to_owned()]);
    }
    let bytes = csv::print(&one_table(table));
    let mut reader = ::csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(bytes.as_slice());
    let cells: Vec<String> = reader.records().map(|record| record.unwrap().get(0).unwrap().to_owned()).collect();
    for says in &bad[..6] {
        assert!(cells.contains(&format!("'{says}")) && !cells.contains(&(*says).to_owned()), "{says:?}");
    }
    for says in fine {
        assert!(cells.contains(&says.to_owned()), "{says:?}");
    }
}

#[test]
fn a_json_read_back_gives_the_cells() {
    let bytes = json::print(&sample());
    let read: serde_json::Value = serde_json::from_slice(&bytes).unwrap();
    assert_eq!(read["name"], "trace-6134A-S");
    assert_eq!(read["title"], "Who got lot 6134A-S");
    assert_eq!(read["under"], "Recall record, 3 to 4 May 2026");
    assert_eq!(read["notice"], NOTICE);
    assert_eq!(read["facts"]["Held at"], "38 °F (3.3 °C) ≤ 40 °F");
    assert_eq!(read["words"][0]["kind"], "loud");
    for part in &sample().parts {
        let Part::Table(table) = part else { continue };
        let told = &read["tables"][&table.name];
        assert_eq!(told["caption"], table.caption);
        assert_eq!(told["rows"].as_array().unwrap().len(), table.rows.len());
        for (nth, row) in table.rows.iter().enumerate() {
            for (cell, column) in row.iter().zip(&table.columns) {
                assert_eq!(told["rows"][nth][&column.name], cell.says);
            }
        }
    }
    assert_eq!(read["tables"]["jars"]["total"]["Jars"], "18 ½");
    assert_eq!(read["tables"]["costs"]["guesses"], serde_json::json!([{"row": 2, "column": "Each"}, {"row": null, "column": "Each"}]));
    let text = String::from_utf8(bytes).unwrap();
    assert!(text.find("\"Family\"") < text.find("\"Reached\""), "columns keep their order");
}

#[test]
fn a_name_that_comes_twice_loses_nothing_in_json() {
    let mut table = Table::new("odd", "", &[("Kept", Holds::Words, 1), ("Kept", Holds::Words, 1), ("Kept (2)", Holds::Words, 1)]);
    table.row(["a".into(), "b".into(), "c".into()]);
    let read: serde_json::Value = serde_json::from_slice(&json::print(&one_table(table))).unwrap();
    let row = read["tables"]["odd"]["rows"][0].as_object().unwrap();
    let mut values: Vec<&str> = row.values().map(|value| value.as_str().unwrap()).collect();
    values.sort_unstable();
    assert_eq!(values, ["a", "b", "c"]);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn whatever_is_written_a_paper_comes_out(title in any::<String>(), cells in prop::collection::vec(any::<String>(), 1..24), width in any::<u8>()) {
        let mut table = Table::new("any", &title, &[("One", Holds::Words, width), ("Two", Holds::Figures, 1), ("Three", Holds::Codes, 200)]);
        table.rows = cells.chunks(3).map(|row| row.iter().map(Cell::says).collect()).collect();
        let sheet = Sheet { name: title.clone(), title: title.clone(), under: title.clone(), facts: vec![(title.clone(), title.clone())], parts: vec![Part::Heading(title.clone()), Part::Words(title.clone()), Part::Loud(title), Part::Table(table)] };
        prop_assert!(pdf::print(&sheet, MADE).is_ok());
        let read: Result<serde_json::Value, _> = serde_json::from_slice(&json::print(&sheet));
        prop_assert!(read.is_ok());
        prop_assert!(String::from_utf8(csv::print(&sheet)).is_ok());
    }
}
