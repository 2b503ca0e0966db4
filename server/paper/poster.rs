//! A poster on letter paper: a few large lines, and a square that a phone's camera reads.

use genpdf::Mm;

use super::PaperFault;
use super::leaves::{BLACK, Leaves, RIM, STEEL};
use super::letters::{Letters, Look, bold, code, plain};
use super::qr::Qr;
use super::squeeze;
use genpdf::style::Color;

/// What stands on a poster.
#[derive(Clone, Debug)]
pub struct Poster {
    /// The large words at the top.
    pub title: String,
    /// What stands under them.
    pub under: String,
    /// What to do, a line each.
    pub lines: Vec<String>,
    /// The address, as words and as a square; empty for none.
    pub address: String,
}

/// How many strokes wide the square may be; see `stroke`.
const WIDEST: i32 = 320;

/// How far apart the strokes lie of which a rule is made.
fn stroke() -> Mm {
    Mm::from(0.3)
}

/// The bytes of a PDF that shows the poster.
///
/// # Errors
/// When the lettering cannot be read or the page cannot be drawn, or the address is too long for a square.
pub fn print(poster: &Poster, made: &str) -> Result<Vec<u8>, PaperFault> {
    let mut leaves = Leaves::begin(Letters::read()?, &poster.title, "")?;
    centred(&mut leaves, &poster.title, bold(34), RIM)?;
    centred(&mut leaves, &poster.under, plain(14), STEEL)?;
    leaves.skip(Mm::from(6));
    if !poster.address.is_empty() {
        square(&mut leaves, &Qr::of(&poster.address).ok_or(PaperFault::Drawing)?);
        centred(&mut leaves, &poster.address, code(13), BLACK)?;
        leaves.skip(Mm::from(5));
    }
    for line in &poster.lines {
        centred(&mut leaves, line, plain(17), BLACK)?;
        leaves.skip(Mm::from(1.5));
    }
    squeeze::squeeze(&leaves.bind(made)?, &poster.title)
}

/// Lines in the middle of the leaf.
fn centred(leaves: &mut Leaves, text: &str, wished: Look, colour: Color) -> Result<(), PaperFault> {
    let text = leaves.letters.clean(text);
    let look = leaves.letters.look_for(&text, wished);
    for line in leaves.letters.wrap(&text, look, Leaves::width()) {
        leaves.need(look.leading())?;
        let x = Leaves::left() + (Leaves::width() - leaves.letters.width(&line, look)) * 0.5;
        leaves.print((x, leaves.y()), &line, look, colour)?;
        leaves.skip(look.leading());
    }
    Ok(())
}

/// The square. A module is a whole number of strokes high, so that no light shows between two rows.
fn square(leaves: &mut Leaves, qr: &Qr) {
    let strokes = u8::try_from(WIDEST / qr.whole()).unwrap_or(2).max(2);
    let module = stroke() * f64::from(strokes);
    let left = Leaves::left() + (Leaves::width() - module * f64::from(qr.side())) * 0.5;
    let top = leaves.y() + module * f64::from(super::qr::BORDER) + stroke() / 2.0;
    for (across, down, long) in qr.runs() {
        let from = left + module * f64::from(across);
        leaves.rule((from, top + module * f64::from(down)), from + module * f64::from(long), strokes, BLACK);
    }
    leaves.skip(module * f64::from(qr.whole()));
}
