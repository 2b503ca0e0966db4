//! A sheet as a spreadsheet (Office Open XML, ECMA-376): a first leaf that says what it is, and one leaf for each table, with its
//! head held fast and a filter on every column, so that it can be sorted as it stands.
//!
//! A figure is kept as a number, and a plain day (`2026-05-14`) as a real date, so that both sort and add up. A moment stays text
//! as it is written, `2026-05-14T06:20:00-04:00`: a spreadsheet's own times know no offset, and would take the hour that comes twice
//! in autumn for one. Everything else is text and is never read as a formula, whatever it begins with.

use super::PaperFault;
use crate::trade::{
    figures::{Cell, Holds, NOTICE, Part, Sheet, Table},
    when::{Moment, parse_day},
};
use rust_xlsxwriter::{DocProperties, ExcelDateTime, Format, FormatAlign, Workbook, Worksheet, XlsxError};
use std::collections::BTreeSet;

/// The type of the bytes, for a browser.
pub const KIND: &str = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";

/// The longest text a cell takes; one more is refused.
const LONGEST: usize = 32_767;
/// The longest name of a leaf.
const NAME: usize = 31;
/// A figure with more digits would not come back as it went in.
const DIGITS: usize = 15;
/// The narrowest and the widest column, in characters: what is wider is read in the line above the cells.
const WIDTHS: (usize, usize) = (8, 44);

/// What stands in the first leaf where a table holds a guess.
const GUESS: &str = "Slanted letters: a guess, not a ticket.";

/// The bytes of a spreadsheet that holds the sheet. The moment is the one it is made at, because a paper reads no clock.
///
/// # Errors
/// When there is more than a spreadsheet can hold.
pub fn print(sheet: &Sheet, made: Moment) -> Result<Vec<u8>, PaperFault> {
    bound(sheet, made).map_err(|_| PaperFault::Spreadsheet)
}

fn bound(sheet: &Sheet, made: Moment) -> Result<Vec<u8>, XlsxError> {
    let mut book = Workbook::new();
    let made = ExcelDateTime::from_timestamp(made.in_seconds())?;
    book.set_properties(&DocProperties::new().set_title(fitting(&sheet.title)).set_creation_datetime(&made));
    let mut names = BTreeSet::new();
    first_leaf(book.add_worksheet().set_name(leaf_name("About", &mut names))?, sheet)?;
    for table in tables(sheet) {
        leaf(book.add_worksheet().set_name(leaf_name(&table.name, &mut names))?, table)?;
    }
    book.save_to_buffer()
}

fn tables(sheet: &Sheet) -> impl Iterator<Item = &Table> {
    sheet.parts.iter().filter_map(|part| if let Part::Table(table) = part { Some(table) } else { None })
}

/// What the spreadsheet is: title, notice, facts and words, one under the other.
fn first_leaf(leaf: &mut Worksheet, sheet: &Sheet) -> Result<(), XlsxError> {
    let (bold, plain) = (Format::new().set_bold().set_align(FormatAlign::Top), Format::new().set_text_wrap().set_align(FormatAlign::Top));
    leaf.set_column_width(0, 30)?.set_column_width(1, 110)?;
    let mut row = 0;
    let mut put = |left: &str, right: &str, loud: bool| {
        let look = if loud { plain.clone().set_bold() } else { plain.clone() };
        text(leaf, (row, 0), left, &bold)?;
        text(leaf, (row, 1), right, &look)?;
        row += 1;
        Ok::<(), XlsxError>(())
    };
    put(&sheet.title, &sheet.under, true)?;
    put("Notice", NOTICE, false)?;
    for (name, value) in &sheet.facts {
        put(name, value, false)?;
    }
    for part in &sheet.parts {
        match part {
            Part::Heading(says) => put(says, "", false)?,
            Part::Words(says) => put("", says, false)?,
            Part::Loud(says) => put("", says, true)?,
            Part::Table(_) | Part::Picture(_) => {}
        }
    }
    if tables(sheet).flat_map(|table| table.rows.iter().chain(&table.total)).flatten().any(|cell| cell.guess) {
        put("", GUESS, false)?;
    }
    Ok(())
}

/// One table: its head in the first row, so that any program finds it; its rows; and under an empty row, which ends what is sorted,
/// its totals and the notice.
fn leaf(leaf: &mut Worksheet, table: &Table) -> Result<(), XlsxError> {
    let head = Format::new().set_bold().set_text_wrap().set_align(FormatAlign::Top);
    for (place, column) in (0..).zip(&table.columns) {
        text(leaf, (0, place), &column.name, &head)?;
        leaf.set_column_width(place, width(table, usize::from(place)))?;
    }
    let mut row = 1;
    for cells in &table.rows {
        put_row(leaf, row, table, cells, false)?;
        row += 1;
    }
    let last = (row - 1).max(1);
    if table.rows.is_empty() {
        text(leaf, (1, 0), &table.when_empty, &Format::new().set_italic())?;
        row += 1;
    }
    if let Some(total) = &table.total {
        put_row(leaf, row + 1, table, total, true)?;
        row += 2;
    }
    text(leaf, (row + 1, 0), NOTICE, &Format::new().set_italic())?;
    leaf.set_freeze_panes(1, 0)?;
    if let Some(wide) = u16::try_from(table.columns.len()).ok().and_then(|wide| wide.checked_sub(1)) {
        leaf.autofilter(0, 0, last, wide)?;
    }
    leaf.set_landscape().set_print_fit_to_pages(1, 0).set_repeat_rows(0, 0)?;
    Ok(())
}

fn put_row(leaf: &mut Worksheet, row: u32, table: &Table, cells: &[Cell], total: bool) -> Result<(), XlsxError> {
    for ((place, column), cell) in (0..).zip(&table.columns).zip(cells) {
        let mut look = Format::new();
        if total {
            look = look.set_bold();
        }
        if cell.guess {
            look = look.set_italic();
        }
        match (column.holds, figure(&cell.says), day(&cell.says)) {
            (Holds::Figures, Some((figure, decimals)), _) => {
                let shown = if decimals == 0 { "0".to_owned() } else { format!("0.{}", "0".repeat(decimals)) };
                leaf.write_number_with_format(row, place, figure, &look.set_num_format(shown))?;
            }
            (Holds::Words | Holds::Repeats, _, Some(day)) => {
                leaf.write_datetime_with_format(row, place, &day, &look.set_num_format("yyyy-mm-dd"))?;
            }
            (Holds::Figures, ..) => text(leaf, (row, place), &cell.says, &look.set_align(FormatAlign::Right))?,
            _ => text(leaf, (row, place), &cell.says, &look)?,
        }
    }
    Ok(())
}

/// Writes text as text. A text that somebody's spreadsheet would take for a formula once it is touched is marked as quoted, which
/// is what a spreadsheet does itself with an apostrophe before it.
fn text(leaf: &mut Worksheet, (row, column): (u32, u16), says: &str, look: &Format) -> Result<(), XlsxError> {
    if says.is_empty() {
        return Ok(());
    }
    let quoted = says.trim_start().starts_with(['=', '+', '-', '@']);
    let look = if quoted { look.clone().set_quote_prefix() } else { look.clone() };
    leaf.write_string_with_format(row, column, fitting(says), &look)?;
    Ok(())
}

/// The text as a cell can hold it: no sign that XML has no place for, and not too long.
fn fitting(says: &str) -> String {
    let plain = |c: char| if c.is_control() && c != '\n' || matches!(c, '\u{fffe}' | '\u{ffff}') { ' ' } else { c };
    if says.chars().count() <= LONGEST {
        return says.chars().map(plain).collect();
    }
    says.chars().map(plain).take(LONGEST - 1).chain(['…']).collect()
}

/// A plain figure and its decimals: `12`, `-3.50`. Nothing for what is more than a number, or would lose a digit.
fn figure(says: &str) -> Option<(f64, usize)> {
    let bare = says.strip_prefix('-').unwrap_or(says);
    let (whole, part) = bare.split_once('.').map_or((bare, None), |(whole, part)| (whole, Some(part)));
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    let plain = digits(whole) && part.is_none_or(digits) && bare.len() <= DIGITS && (whole == "0" || !whole.starts_with('0'));
    if plain { says.parse().ok().map(|figure| (figure, part.map_or(0, str::len))) } else { None }
}

/// A day that is written as one and nothing else.
fn day(says: &str) -> Option<ExcelDateTime> {
    if says.len() == 10 && parse_day(says).is_ok() { ExcelDateTime::parse_from_str(says).ok() } else { None }
}

/// How wide a column is: as its longest text, within reason.
fn width(table: &Table, place: usize) -> u16 {
    let own = table.rows.iter().chain(&table.total).filter_map(|row| row.get(place)).map(|cell| cell.says.chars().count());
    let head = table.columns.get(place).map(|column| column.name.split(' ').map(str::len).max().unwrap_or(0) + 4);
    let longest = own.chain(head).max().unwrap_or(0) + 2;
    u16::try_from(longest.clamp(WIDTHS.0, WIDTHS.1)).unwrap_or(u16::MAX)
}

/// A name for a leaf: none of the signs it may not have, not too long, and none twice.
fn leaf_name(says: &str, taken: &mut BTreeSet<String>) -> String {
    let plain: String = says.chars().filter(|c| !c.is_control() && !r"[]:*?/\'".contains(*c)).collect();
    let plain = crate::trade::capital(if plain.trim().is_empty() { "Table" } else { plain.trim() });
    let short = |more: &str| plain.chars().take(NAME - more.len()).collect::<String>() + more;
    let numbered = (2_u32..).map(|nth| short(&format!(" {nth}")));
    // Two names that differ in their capitals only are one to a spreadsheet.
    let free = std::iter::once(short("")).chain(numbered).find(|name| !taken.contains(&name.to_lowercase())).unwrap_or_default();
    taken.insert(free.to_lowercase());
    free
}
