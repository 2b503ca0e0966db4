//! A sheet as a PDF, on letter paper, fit to be handed to an inspector: it reads the same in black and white.

use genpdf::Mm;

use super::PaperFault;
use super::leaves::{BLACK, Leaves, RIM, STEEL, fitting};
use super::letters::{Letters, Look, bold, code, italic, plain};
use super::{picture, squeeze, table};
use crate::trade::figures::{Part, Sheet};

/// The bytes of a PDF that shows the sheet. `made` is the day it was made, in words, for the foot of every page.
///
/// # Errors
/// When the lettering cannot be read or a page cannot be drawn: a fault of the program, never of what the sheet says.
pub fn print(sheet: &Sheet, made: &str) -> Result<Vec<u8>, PaperFault> {
    print_all(std::slice::from_ref(sheet), &sheet.title, made)
}

/// The bytes of one PDF that shows many sheets, each beginning on a leaf of its own and with its own leaves counted, so that it
/// can be parted and handed round.
///
/// # Errors
/// As [`print()`]; also when there is no sheet at all.
pub fn print_all(sheets: &[Sheet], title: &str, made: &str) -> Result<Vec<u8>, PaperFault> {
    let first = sheets.first().ok_or(PaperFault::Drawing)?;
    let mut leaves = Leaves::begin(Letters::read()?, &first.title, &first.name)?;
    for (nth, sheet) in sheets.iter().enumerate() {
        if nth > 0 {
            leaves.begin_another(&sheet.title, &sheet.name);
        }
        whole(&mut leaves, sheet)?;
    }
    squeeze::squeeze(&leaves.bind(made)?, title)
}

fn whole(leaves: &mut Leaves, sheet: &Sheet) -> Result<(), PaperFault> {
    head(leaves, sheet)?;
    table::facts(leaves, &sheet.facts)?;
    let mut cut = false;
    for (part, next) in sheet.parts.iter().zip(sheet.parts.iter().skip(1).map(Some).chain([None])) {
        match part {
            Part::Heading(text) => heading(leaves, text, next)?,
            Part::Words(text) => words(leaves, text, plain(10))?,
            Part::Loud(text) => loud(leaves, text)?,
            Part::Table(table) => cut |= table::draw(leaves, table)?,
            Part::Picture(picture) => picture::draw(leaves, picture)?,
        }
    }
    if cut {
        words(leaves, "… at the end of a cell: it was too long for this paper. The CSV holds the whole.", italic(8))?;
    }
    if leaves.letters.missed() {
        words(
            leaves,
            "? may stand for a letter or picture that this paper's lettering does not have. The CSV holds the whole.",
            italic(8),
        )?;
    }
    Ok(())
}

/// The title in full, what stands under it, and the thick rule.
fn head(leaves: &mut Leaves, sheet: &Sheet) -> Result<(), PaperFault> {
    let name = leaves.letters.clean(&sheet.name).replace('\n', " ");
    let look = leaves.letters.look_for(&name, code(10));
    let names = leaves.letters.wrap(&name, look, Leaves::width() * 0.35);
    let mut y = leaves.y() + Mm::from(2.2);
    let mut widest = Mm::from(0);
    for line in names.iter().take(3) {
        leaves.print_to(Leaves::right(), y, line, look, STEEL)?;
        widest = widest.max(leaves.letters.width(line, look));
        y += look.leading();
    }
    let free = Leaves::width() - widest - Mm::from(6);
    block(leaves, &sheet.title, bold(19), RIM, free, 6)?;
    if !sheet.under.trim().is_empty() {
        leaves.skip(Mm::from(0.6));
        block(leaves, &sheet.under, plain(11), STEEL, free, 8)?;
    }
    let below = Mm::from(2.6);
    if leaves.y() < y {
        leaves.skip(y - leaves.y());
    }
    leaves.rule((Leaves::left(), leaves.y() + below), Leaves::right(), 4, RIM);
    leaves.skip(below + Mm::from(4.5));
    Ok(())
}

/// Lines that stay on this leaf, at most so many.
fn block(leaves: &mut Leaves, text: &str, wished: Look, colour: genpdf::style::Color, width: Mm, most: usize) -> Result<(), PaperFault> {
    let text = leaves.letters.clean(text);
    let look = leaves.letters.look_for(&text, wished);
    let mut lines = leaves.letters.wrap(&text, look, width);
    if lines.len() > most {
        lines.truncate(most);
        let last = lines.pop().map(|line| line + "…");
        lines.extend(last);
    }
    for line in &lines {
        leaves.print((Leaves::left(), leaves.y()), line, look, colour)?;
        leaves.skip(look.leading());
    }
    Ok(())
}

/// A heading, kept on the leaf of what follows it.
fn heading(leaves: &mut Leaves, text: &str, next: Option<&Part>) -> Result<(), PaperFault> {
    let follows = if let Some(Part::Picture(picture)) = next { picture::height(leaves, picture) } else { Mm::from(0) };
    // A table's caption, its head and a first row of four lines, so that a heading never stands alone at the foot of a leaf.
    let least = if matches!(next, Some(Part::Table(_))) { Mm::from(52) } else { Mm::from(34) };
    leaves.need((follows + picture::over()).max(least))?;
    leaves.skip(Mm::from(3));
    block(leaves, text, bold(13), RIM, Leaves::width(), 6)?;
    leaves.skip(Mm::from(1.6));
    Ok(())
}

/// A paragraph.
fn words(leaves: &mut Leaves, text: &str, wished: Look) -> Result<(), PaperFault> {
    let text = leaves.letters.clean(text);
    let look = leaves.letters.look_for(&text, wished);
    let lines = leaves.letters.wrap(&text, look, Leaves::width());
    // A paragraph does not leave its first line alone at the foot of a leaf.
    leaves.need(if lines.len() > 1 { look.leading() * 2.0 } else { look.leading() })?;
    for line in &lines {
        leaves.need(look.leading())?;
        leaves.print((Leaves::left(), leaves.y()), line, look, BLACK)?;
        leaves.skip(look.leading());
    }
    leaves.skip(Mm::from(3));
    Ok(())
}

/// A paragraph in a heavy frame with a bar at its side: it stands out without any colour.
fn loud(leaves: &mut Leaves, text: &str) -> Result<(), PaperFault> {
    let (pad, bar) = (Mm::from(3.4), Mm::from(3));
    let text = leaves.letters.clean(text);
    let look = leaves.letters.look_for(&text, bold(11));
    let lines = leaves.letters.wrap(&text, look, Leaves::width() - bar - pad - pad);
    let most = fitting(Leaves::body() - pad - pad, look.leading());
    for some in lines.chunks(most) {
        let text_height: Mm = some.iter().map(|_| look.leading()).sum();
        let height = text_height + pad + pad;
        leaves.need(height + Mm::from(2))?;
        leaves.skip(Mm::from(1));
        let (top, bottom) = (leaves.y(), leaves.y() + height);
        leaves.rule((Leaves::left(), top), Leaves::right(), 3, BLACK);
        leaves.rule((Leaves::left(), bottom - Mm::from(0.6)), Leaves::right(), 3, BLACK);
        leaves.post((Leaves::left(), top), bottom, 10, BLACK);
        leaves.post((Leaves::right() - Mm::from(0.6), top), bottom, 3, BLACK);
        leaves.skip(pad);
        for line in some {
            leaves.print((Leaves::left() + bar + pad, leaves.y()), line, look, BLACK)?;
            leaves.skip(look.leading());
        }
        leaves.skip(pad + Mm::from(4));
    }
    Ok(())
}
