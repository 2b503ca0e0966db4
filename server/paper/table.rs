//! Tables on paper: columns as wide as their words need, figures from the right, a row never split between two leaves, and
//! the head again on every leaf.

use genpdf::Mm;

use super::PaperFault;
use super::columns::{Kind, Plan, look, pad_x, plan};
use super::leaves::{BLACK, HAIR, Leaves, RIM, STEEL, fitting};
use super::letters::{Look, bold, italic, plain};
use crate::trade::figures::{Cell, Holds, Table};

/// What stands under a table that has a guess in it.
const GUESS: &str = "~ in slanted letters: a guess, not a ticket.";

/// More characters than a leaf could show in its smallest letters: the rest of a cell is not even measured.
const MOST: usize = 20_000;

/// A cell ready to print.
struct Laid {
    lines: Vec<String>,
    look: Look,
    right: bool,
}

/// A row ready to print.
struct Row {
    cells: Vec<Laid>,
    height: Mm,
    cut: bool,
}

/// Prints a table, and says whether a cell had to be cut.
pub fn draw(leaves: &mut Leaves, table: &Table) -> Result<bool, PaperFault> {
    let table = &cleaned(leaves, table);
    if table.columns.is_empty() || (table.rows.is_empty() && table.total.is_none()) {
        empty(leaves, table)?;
        return Ok(false);
    }
    let plan = plan(leaves, table);
    let names: Vec<Cell> = table.columns.iter().map(|column| Cell::says(column.name.clone())).collect();
    let head = lay(leaves, &plan, &names, Kind::Head, Leaves::body() * 0.3);
    let tallest = Leaves::body() * 0.9 - head.height - caption_height(leaves, &table.caption);
    let rows: Vec<Row> = table.rows.iter().map(|row| lay(leaves, &plan, row, Kind::Body, tallest)).collect();
    let short: Vec<Row> = folded(table).iter().map(|row| lay(leaves, &plan, row, Kind::Body, tallest)).collect();
    let total = table.total.as_ref().map(|row| lay(leaves, &plan, row, Kind::Total, tallest * 0.4));
    let guessed = table.rows.iter().chain(&table.total).flatten().any(|cell| cell.guess);
    let told = if guessed { italic(8).leading() + Mm::from(1.2) } else { Mm::from(0) };
    let last = total.as_ref().map_or(told, |row| row.height + Mm::from(2) + told);

    let first = rows.first().map_or(last, |row| row.height);
    leaves.need(caption_height(leaves, &table.caption) + head.height + first + Mm::from(2))?;
    caption(leaves, &table.caption, "")?;
    put(leaves, &plan, &head, Kind::Head)?;
    for (nth, (row, short)) in rows.iter().zip(&short).enumerate() {
        // The total and the word on guesses stay with the last row, if they fit one leaf at all.
        let both = row.height + last;
        let wanted = if nth + 1 == rows.len() && both <= tallest { both } else { row.height };
        let on_a_new_leaf = turn(leaves, &plan, &head, &table.caption, wanted)?;
        put(leaves, &plan, if on_a_new_leaf { row } else { short }, Kind::Body)?;
    }
    if let Some(total) = &total {
        turn(leaves, &plan, &head, &table.caption, last)?;
        put(leaves, &plan, total, Kind::Total)?;
    }
    leaves.skip(Mm::from(1.2));
    if guessed {
        let look = italic(8);
        leaves.need(look.leading())?;
        leaves.print((Leaves::left() + pad_x(), leaves.y()), GUESS, look, BLACK)?;
        leaves.skip(look.leading());
    }
    leaves.skip(Mm::from(4));
    Ok([Some(head), total].into_iter().flatten().chain(rows).any(|row| row.cut))
}

/// Prints the facts: what is known at the left, what it is at the right.
pub fn facts(leaves: &mut Leaves, facts: &[(String, String)]) -> Result<(), PaperFault> {
    if facts.is_empty() {
        return Ok(());
    }
    let mut told = Vec::new();
    let mut widest = Mm::from(0);
    for (name, value) in facts {
        let (name, value) = (leaves.letters.clean(name), leaves.letters.clean(value));
        let look = leaves.letters.look_for(&name, bold(9));
        widest = widest.max(leaves.letters.width(&name, look));
        told.push((name, look, value));
    }
    let most = Leaves::width() * 0.4;
    let names = if widest > most { most } else { widest };
    let values = Leaves::left() + names + Mm::from(6);
    for (name, look, value) in &told {
        let (names, says) = (leaves.letters.wrap(name, *look, names), leaves.letters.wrap(value, plain(10), Leaves::right() - values));
        let leading = plain(10).leading();
        // Long facts may run over a leaf: each line is its own row.
        for nth in 0..names.len().max(says.len()) {
            leaves.need(leading)?;
            if let Some(line) = names.get(nth) {
                leaves.print((Leaves::left(), leaves.y() + Mm::from(0.3)), line, *look, STEEL)?;
            }
            if let Some(line) = says.get(nth) {
                leaves.print((values, leaves.y()), line, plain(10), BLACK)?;
            }
            leaves.skip(leading);
        }
        leaves.skip(Mm::from(0.5));
    }
    leaves.rule((Leaves::left(), leaves.y() + Mm::from(1.5)), Leaves::right(), 1, HAIR);
    leaves.skip(Mm::from(5.5));
    Ok(())
}

/// The table with nothing in it that cannot be printed, and its guesses marked.
fn cleaned(leaves: &Leaves, table: &Table) -> Table {
    let row = |cells: &Vec<Cell>| -> Vec<Cell> {
        let mark = |cell: &Cell| if cell.guess && !cell.says.starts_with('~') { "~" } else { "" };
        let short = |cell: &Cell| cell.says.chars().take(MOST).collect::<String>();
        cells.iter().map(|cell| Cell { says: format!("{}{}", mark(cell), leaves.letters.clean(&short(cell))), ..cell.clone() }).collect()
    };
    let mut kept =
        Table { caption: leaves.letters.clean(&table.caption), when_empty: leaves.letters.clean(&table.when_empty), ..Table::default() };
    (kept.columns, kept.dense) = (table.columns.clone(), table.dense);
    for column in &mut kept.columns {
        column.name = leaves.letters.clean(&column.name);
    }
    kept.rows = table.rows.iter().map(row).collect();
    kept.total = table.total.as_ref().map(row);
    kept
}

fn empty(leaves: &mut Leaves, table: &Table) -> Result<(), PaperFault> {
    let says = if table.when_empty.trim().is_empty() { "Nothing is written here." } else { table.when_empty.as_str() };
    let look = leaves.letters.look_for(says, italic(9));
    let lines = leaves.letters.wrap(says, look, Leaves::width() - pad_x() - pad_x());
    leaves.need(caption_height(leaves, &table.caption) + look.leading() + Mm::from(4))?;
    caption(leaves, &table.caption, "")?;
    leaves.rule((Leaves::left(), leaves.y()), Leaves::right(), 2, RIM);
    leaves.skip(Mm::from(1.6));
    for line in &lines {
        leaves.need(look.leading())?;
        leaves.print((Leaves::left() + pad_x(), leaves.y()), line, look, BLACK)?;
        leaves.skip(look.leading());
    }
    leaves.skip(Mm::from(5));
    Ok(())
}

/// Breaks the cells of a row into lines, and cuts what would not fit a leaf.
fn lay(leaves: &Leaves, plan: &Plan, cells: &[Cell], kind: Kind, tallest: Mm) -> Row {
    let leading = plain(plan.size).leading();
    let most = fitting(tallest - plan.pad_y - plan.pad_y, leading);
    let (mut laid, mut deepest, mut cut) = (Vec::new(), 1, false);
    for (cell, (_, width, holds)) in cells.iter().zip(&plan.columns) {
        let look = leaves.letters.look_for(&cell.says, look(*holds, kind, cell.guess, plan.size));
        let mut lines = leaves.letters.wrap(&cell.says, look, *width - pad_x() - pad_x());
        if lines.len() > most {
            lines.truncate(most - 1);
            lines.push("…".to_owned());
            cut = true;
        }
        deepest = deepest.max(lines.len());
        laid.push(Laid { lines, look, right: *holds == Holds::Figures });
    }
    let height: Mm = (0..deepest).map(|_| leading).sum();
    Row { cells: laid, height: height + plan.pad_y + plan.pad_y, cut }
}

/// The rows with what repeats said short. The first row on a leaf is printed in full.
fn folded(table: &Table) -> Vec<Vec<Cell>> {
    let above = |nth: usize, column: usize| table.rows.get(nth.checked_sub(1)?)?.get(column);
    let fold = |nth: usize, column: usize, cell: &Cell| {
        let repeats = table.columns.get(column).is_some_and(|own| own.holds == Holds::Repeats);
        let same = repeats && !cell.says.is_empty() && above(nth, column) == Some(cell);
        if same { Cell { says: "as above".to_owned(), ..cell.clone() } } else { cell.clone() }
    };
    let row = |(nth, cells): (usize, &Vec<Cell>)| cells.iter().enumerate().map(|(column, cell)| fold(nth, column, cell)).collect();
    table.rows.iter().enumerate().map(row).collect()
}

/// Starts a new leaf, with the head of the table, unless there is room; says whether it did.
fn turn(leaves: &mut Leaves, plan: &Plan, head: &Row, said: &str, height: Mm) -> Result<bool, PaperFault> {
    let turned = leaves.need(height)?;
    if turned {
        caption(leaves, said, " (continued)")?;
        put(leaves, plan, head, Kind::Head)?;
    }
    Ok(turned)
}

/// The look of a caption.
fn caption_look(leaves: &Leaves, text: &str) -> Look {
    leaves.letters.look_for(text, bold(10))
}

pub(super) fn caption_height(leaves: &Leaves, text: &str) -> Mm {
    let look = caption_look(leaves, text);
    if text.trim().is_empty() { Mm::from(0) } else { look.leading() * 4.0 + Mm::from(1) }
}

pub(super) fn caption(leaves: &mut Leaves, text: &str, more: &str) -> Result<(), PaperFault> {
    if text.trim().is_empty() {
        return Ok(());
    }
    let look = caption_look(leaves, text);
    for line in leaves.letters.wrap(&format!("{text}{more}"), look, Leaves::width()).iter().take(4) {
        leaves.print((Leaves::left(), leaves.y()), line, look, RIM)?;
        leaves.skip(look.leading());
    }
    leaves.skip(Mm::from(1));
    Ok(())
}

/// Prints a row and the rules that belong to it.
fn put(leaves: &mut Leaves, plan: &Plan, row: &Row, kind: Kind) -> Result<(), PaperFault> {
    if kind == Kind::Total {
        leaves.rule((Leaves::left(), leaves.y()), Leaves::right(), 2, BLACK);
        leaves.skip(Mm::from(0.8));
    }
    let top = leaves.y() + plan.pad_y;
    for (cell, (x, width, _)) in row.cells.iter().zip(&plan.columns) {
        let mut y = top;
        for line in &cell.lines {
            let colour = if kind == Kind::Head { RIM } else { BLACK };
            if cell.right {
                leaves.print_to(*x + *width - pad_x(), y, line, cell.look, colour)?;
            } else {
                leaves.print((*x + pad_x(), y), line, cell.look, colour)?;
            }
            y += cell.look.leading();
        }
    }
    leaves.skip(row.height);
    let strokes = if kind == Kind::Head { 2 } else { 1 };
    let colour = match kind {
        Kind::Head => RIM,
        Kind::Body => HAIR,
        Kind::Total => BLACK,
    };
    leaves.rule((Leaves::left(), leaves.y()), Leaves::right(), strokes, colour);
    leaves.skip(if kind == Kind::Head { Mm::from(0.5) } else { Mm::from(0) });
    Ok(())
}
