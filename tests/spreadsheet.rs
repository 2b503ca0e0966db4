//! The workbooks: read back with calamine, an independent reader.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::{
    events::{AUTUMN, one_lot, sheet},
    farm::{Farm, Page, at},
};
use calamine::{Data, Reader, Xlsx, open_workbook_from_rs};
use std::io::Cursor;
use tallypail::{
    paper::xlsx,
    trade::figures::{Cell, Holds, Part, Sheet, Table},
    web::visitor::Role::Owner,
};

fn book(page: &Page) -> Xlsx<Cursor<Vec<u8>>> {
    open_workbook_from_rs(Cursor::new(page.bytes.clone())).unwrap()
}

/// Source: calamine, an independent reader of spreadsheets.
#[tokio::test]
async fn the_spreadsheet_says_what_the_csv_says_with_days_and_figures_that_sort() {
    let farm = Farm::sample().await;
    let page = farm.visit(Owner, &format!("/trace/{AUTUMN}/events.xlsx")).await;
    assert_eq!(page.kind, xlsx::KIND);
    let again = farm.visit(Owner, &format!("/trace/{AUTUMN}/events.xlsx")).await;
    assert!(page.bytes == again.bytes, "the same events at the same moment are the same bytes");
    let mut book = book(&page);
    assert_eq!(book.sheet_names(), ["About", "Lots", "Events"]);
    let leaf = book.worksheet_range("Events").unwrap();
    let head: Vec<String> = leaf.rows().next().unwrap().iter().map(ToString::to_string).collect();
    let rows = sheet(&farm, AUTUMN).await;
    for (row, cells) in rows.iter().zip(leaf.rows().skip(1)) {
        for (name, cell) in head.iter().zip(cells) {
            let said = match cell {
                Data::DateTime(day) => {
                    let (year, month, day, ..) = day.to_ymd_hms_milli();
                    format!("{year:04}-{month:02}-{day:02}")
                }
                other => other.to_string(),
            };
            assert_eq!(said, row[name], "{name}");
            match name.as_str() {
                "Event day" => assert!(matches!(cell, Data::DateTime(_)), "{cell:?}"),
                "Quantity" if !row[name].is_empty() => assert!(matches!(cell, Data::Float(_)), "{cell:?}"),
                "Event time" => assert!(matches!(cell, Data::String(_)), "{cell:?}"),
                _ => {}
            }
        }
    }
    let last: Vec<String> = leaf.rows().next_back().unwrap().iter().map(ToString::to_string).collect();
    assert!(last[0].starts_with("Follow your local raw-milk law."), "{last:?}");
    assert_eq!(leaf.height(), rows.len() + 3, "the head, the rows, an empty row, the notice");
}

/// Source: OWASP, CSV injection: a cell that begins with one of these signs is run by a spreadsheet.
#[tokio::test]
async fn no_text_is_ever_a_formula() {
    let farm = one_lot().await;
    let aside = [("at", "2026-05-14T11:00"), ("lot", "6134A-S"), ("sort", "broken"), ("gallons", "0"), ("half_gallons", "1")];
    let more = [("quarts", "0"), ("pints", "0"), ("reason", "=HYPERLINK(\"http://example.org\",\"open\")")];
    farm.keep("asides", &[&aside[..], &more].concat()).await;
    farm.keep("holds", &[("at", "2026-05-14T11:30"), ("scope", "lot"), ("lot", "6134A-S"), ("reason", "x")]).await;
    for sign in ["+1+1", "-1+1", "@SUM(A1)", "{=1+1}", "https://example.org"] {
        farm.keep("chill", &[("lot", "6134A-S"), ("at", "2026-05-14T08:00"), ("temperature", "38 °F"), ("thermometer", sign)]).await;
    }
    let page = farm.visit(Owner, "/trace/6134A-S/events.csv").await;
    page.says("'=HYPERLINK(").never_says(",=HYPERLINK(").never_says(",\"=HYPERLINK(");
    let mut book = book(&farm.visit(Owner, "/trace/6134A-S/events.xlsx").await);
    for name in book.sheet_names() {
        assert!(book.worksheet_formula(&name).unwrap().is_empty(), "a formula stands in {name}");
    }
    let leaf = book.worksheet_range("Events").unwrap();
    assert!(leaf.used_cells().any(|(_, _, cell)| matches!(cell, Data::String(own) if own.starts_with("=HYPERLINK("))));
}

/// Source: the limits of a spreadsheet (ECMA-376; the longest cell and name as the format's own documentation gives them).
#[test]
fn a_spreadsheet_of_anything_opens() {
    let mut table =
        Table::new("a/b:c*d?[e]\\", "Odd", &[("Words", Holds::Words, 1), ("Figures", Holds::Figures, 1), ("Days", Holds::Words, 1)]);
    let odd =
        ["", "007", "1e5", "-0.50", "12345678901234567890", "$1,200.00", "\u{0}\u{b}x\u{ffff}", "🐄", "2026-02-30", "2026-05-14", "=1"];
    for says in odd {
        table.row([says.to_owned(), says.to_owned(), says.to_owned()]);
    }
    table.rows.push(vec![Cell::says("é".repeat(40_000)), Cell::says("3").guessed(true), Cell::default()]);
    table.total = Some(vec![Cell::says("All"), Cell::says("4"), Cell::default()]);
    let mut none = Table::new("A/B:C*D?[E]", "None", &[("Words", Holds::Words, 1)]);
    "No row.".clone_into(&mut none.when_empty);
    let long = Table { name: "n".repeat(60), ..none.clone() };
    let parts = [table, none, long.clone(), long, Table::default()].map(Part::Table);
    let sheet = Sheet { title: "Odd".to_owned(), parts: parts.into(), ..Sheet::default() };
    let mut book: Xlsx<_> = open_workbook_from_rs(Cursor::new(xlsx::print(&sheet, at("2026-05-14T12:00")).unwrap())).unwrap();
    let names = book.sheet_names();
    assert_eq!(names.len(), 6, "{names:?}");
    assert_eq!(&names[1..3], ["Abcde", "ABCDE 2"]);
    assert!(names.iter().all(|name| name.chars().count() <= 31), "{names:?}");
    let leaf = book.worksheet_range(&names[1]).unwrap();
    let cell = |row: usize, column: usize| leaf.get((row, column)).cloned().unwrap_or(Data::Empty);
    assert_eq!((cell(2, 1), cell(4, 1)), (Data::String("007".to_owned()), Data::Float(-0.5)));
    assert_eq!(cell(5, 1), Data::String("12345678901234567890".to_owned()));
    assert!(matches!(cell(10, 2), Data::DateTime(_)) && matches!(cell(9, 2), Data::String(_)));
    assert_eq!(cell(12, 0).to_string().chars().count(), 32_767);
    assert_eq!(cell(14, 1), Data::Float(4.0), "the total stands under an empty row, so that it is not sorted in");
    let about = book.worksheet_range("About").unwrap();
    assert!(about.used_cells().any(|(_, _, cell)| cell.to_string().starts_with("Slanted letters")));
}
