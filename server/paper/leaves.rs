//! The leaves of a paper: where the next line goes, when a new leaf starts, and what stands at the head and foot of every
//! one. The feet are printed last of all, when it is known how many leaves there are.

use genpdf::render::{Area, Renderer};
use genpdf::style::{Color, Style};
use genpdf::{Mm, Position, Size};

use super::PaperFault;
use super::letters::{Letters, Look, bold, code, plain};
use crate::trade::figures::NOTICE;

/// The dark blue of headings and rules; it prints as near black.
pub const RIM: Color = Color::Rgb(0x1f, 0x2f, 0x5c);
/// Quiet words.
pub const STEEL: Color = Color::Rgb(0x4a, 0x52, 0x60);
/// Thin rules between rows.
pub const HAIR: Color = Color::Rgb(0xc2, 0xc7, 0xd0);
/// Everything else.
pub const BLACK: Color = Color::Rgb(0, 0, 0);

/// A rule is always one point wide; laid this close together, several make a thicker one.
const STROKE: f64 = 0.3;

/// The paper of a farm in the United States: letter, 8½ by 11 inches.
fn letter() -> Size {
    Size::new(215.9, 279.4)
}

/// The pile of leaves being printed.
pub struct Leaves {
    /// The lettering, for measuring and cleaning.
    pub letters: Letters,
    renderer: Renderer,
    title: String,
    name: String,
    /// The leaf on which each sheet begins.
    begins: Vec<usize>,
    y: Mm,
}

impl Leaves {
    /// A pile with its first, empty leaf.
    pub fn begin(mut letters: Letters, title: &str, name: &str) -> Result<Leaves, PaperFault> {
        let renderer = Renderer::new(letter(), "Paper").map_err(|_| PaperFault::Drawing)?;
        letters.cache_mut().load_pdf_fonts(&renderer).map_err(|_| PaperFault::Lettering)?;
        let (title, name) = (letters.clean(title).replace('\n', " "), letters.clean(name).replace('\n', " "));
        Ok(Leaves { letters, renderer, title, name, begins: vec![0], y: Leaves::top() })
    }

    /// Lays another sheet's first leaf on the pile.
    pub fn begin_another(&mut self, title: &str, name: &str) {
        (self.title, self.name) = (self.letters.clean(title).replace('\n', " "), self.letters.clean(name).replace('\n', " "));
        self.begins.push(self.renderer.page_count());
        self.renderer.add_page(letter());
        self.y = Leaves::top();
    }

    /// The left edge of the print.
    pub fn left() -> Mm {
        Mm::from(19)
    }

    /// The right edge of the print.
    pub fn right() -> Mm {
        letter().width - Mm::from(19)
    }

    /// How wide the print is.
    pub fn width() -> Mm {
        Leaves::right() - Leaves::left()
    }

    /// How much fits on an empty leaf below its running head.
    pub fn body() -> Mm {
        Leaves::bottom() - Leaves::top() - Mm::from(9)
    }

    /// How much is left on this leaf.
    pub fn room(&self) -> Mm {
        Leaves::bottom() - self.y
    }

    /// How far down this leaf the next thing goes.
    pub fn y(&self) -> Mm {
        self.y
    }

    /// Leaves this much empty.
    pub fn skip(&mut self, height: Mm) {
        self.y += height;
    }

    /// Starts a new leaf unless this much fits on the present one.
    pub fn need(&mut self, height: Mm) -> Result<bool, PaperFault> {
        if height <= self.room() {
            return Ok(false);
        }
        self.renderer.add_page(letter());
        self.y = Leaves::top();
        self.running_head()?;
        Ok(true)
    }

    /// Prints one line with its top here.
    pub fn print(&self, at: (Mm, Mm), text: &str, look: Look, colour: Color) -> Result<(), PaperFault> {
        self.print_on(&self.renderer.last_page().last_layer().area(), at, text, look, colour)
    }

    /// Prints one line with its end at `right`.
    pub fn print_to(&self, right: Mm, y: Mm, text: &str, look: Look, colour: Color) -> Result<(), PaperFault> {
        self.print((right - self.letters.width(text, look), y), text, look, colour)
    }

    /// A level rule, made of this many strokes downwards.
    pub fn rule(&self, from: (Mm, Mm), to: Mm, strokes: u8, colour: Color) {
        rule_on(&self.renderer.last_page().last_layer().area(), from, to, strokes, colour);
    }

    /// An upright rule, made of this many strokes to the right.
    pub fn post(&self, from: (Mm, Mm), to: Mm, strokes: u8, colour: Color) {
        let area = self.renderer.last_page().last_layer().area();
        for stroke in 0..strokes {
            let x = from.0 + Mm::from(STROKE) * f64::from(stroke);
            area.draw_line(vec![Position { x, y: from.1 }, Position { x, y: to }], Style::from(colour));
        }
    }

    /// A line through points, one stroke wide.
    pub fn line(&self, points: Vec<(Mm, Mm)>, colour: Color) {
        let points = points.into_iter().map(|(x, y)| Position { x, y }).collect();
        self.renderer.last_page().last_layer().area().draw_line(points, Style::from(colour));
    }

    /// Prints the foot of every leaf and gives the finished file.
    pub fn bind(self, made: &str) -> Result<Vec<u8>, PaperFault> {
        let look = plain(8);
        let notice = self.letters.wrap(NOTICE, look, Leaves::width());
        let made = self.letters.clean(&format!("Made {made}")).replace('\n', " ");
        let made = self.letters.wrap(&made, look, Leaves::width() * 0.75).into_iter().next().unwrap_or_default();
        let count = self.renderer.page_count();
        for nth in 0..count {
            let Some(page) = self.renderer.get_page(nth) else { continue };
            let area = page.last_layer().area();
            let mut y = Leaves::bottom() + Mm::from(4);
            rule_on(&area, (Leaves::left(), y), Leaves::right(), 1, RIM);
            y += Mm::from(1.5);
            for line in &notice {
                self.print_on(&area, (Leaves::left(), y), line, look, STEEL)?;
                y += look.leading();
            }
            y += Mm::from(0.8);
            self.print_on(&area, (Leaves::left(), y), &made, look, BLACK)?;
            let (own, of) = self.numbered(nth, count);
            let number = format!("Page {own} of {of}");
            let x = Leaves::right() - self.letters.width(&number, bold(8));
            self.print_on(&area, (x, y), &number, bold(8), BLACK)?;
        }
        let mut bytes = Vec::new();
        self.renderer.write(&mut bytes).map_err(|_| PaperFault::Drawing)?;
        Ok(bytes)
    }

    /// Which leaf of its own sheet a leaf is, and of how many.
    fn numbered(&self, nth: usize, count: usize) -> (usize, usize) {
        let own = self.begins.iter().rposition(|first| *first <= nth).unwrap_or(0);
        let first = self.begins.get(own).copied().unwrap_or(0);
        let end = self.begins.get(own + 1).copied().unwrap_or(count);
        (nth - first + 1, end - first)
    }

    fn top() -> Mm {
        Mm::from(15)
    }

    fn bottom() -> Mm {
        letter().height - Mm::from(29)
    }

    /// The head of every leaf but the first, which has the title in full.
    fn running_head(&mut self) -> Result<(), PaperFault> {
        let y = self.y;
        let name_look = self.letters.look_for(&self.name, code(9));
        let name = self.first_line(&self.name, name_look, Leaves::width() * 0.4);
        self.print_to(Leaves::right(), y, &name, name_look, STEEL)?;
        let free = Leaves::width() - self.letters.width(&name, name_look) - Mm::from(4);
        let look = self.letters.look_for(&self.title, bold(9));
        let title = self.first_line(&self.title, look, free);
        self.print((Leaves::left(), y), &title, look, RIM)?;
        self.rule((Leaves::left(), y + Mm::from(5)), Leaves::right(), 1, RIM);
        self.y = y + Mm::from(9);
        Ok(())
    }

    /// As much of a text as fits on one line, with an ellipsis where it was cut.
    fn first_line(&self, text: &str, look: Look, width: Mm) -> String {
        let mut lines = self.letters.wrap(text, look, width - self.letters.width("…", look)).into_iter();
        let first = lines.next().unwrap_or_default();
        if lines.next().is_some() { first + "…" } else { first }
    }

    fn print_on(&self, area: &Area<'_>, at: (Mm, Mm), text: &str, look: Look, colour: Color) -> Result<(), PaperFault> {
        let style = self.letters.style(look).with_color(colour);
        // The crate hangs letters by the whole height of the face; this sets their feet where `feet` says instead.
        let y = at.1 + look.feet() - style.font(self.letters.cache()).glyph_height(look.size);
        let text = text.replace('\u{a0}', " ");
        match area.print_str(self.letters.cache(), Position { x: at.0, y }, style, text) {
            Ok(true) => Ok(()),
            _ => Err(PaperFault::Drawing),
        }
    }
}

fn rule_on(area: &Area<'_>, from: (Mm, Mm), to: Mm, strokes: u8, colour: Color) {
    for stroke in 0..strokes {
        let y = from.1 + Mm::from(STROKE) * f64::from(stroke);
        area.draw_line(vec![Position { x: from.0, y }, Position { x: to, y }], Style::from(colour));
    }
}

/// How many lines of this height fit, and never fewer than one.
pub(super) fn fitting(room: Mm, leading: Mm) -> usize {
    let (mut lines, mut used) = (1, leading + leading);
    while used <= room {
        lines += 1;
        used += leading;
    }
    lines
}
