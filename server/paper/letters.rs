//! The lettering of a paper: which face has which character, how wide words are, and where a line breaks. It exists
//! because the PDF crate drops a word that is wider than its cell and prints a box for a character its face lacks, both
//! without a sound.

use std::cell::Cell;

use genpdf::Mm;
use genpdf::fonts::{Font, FontCache, FontData, FontFamily};
use genpdf::style::Style;

use super::PaperFault;

const PLAIN: &[u8] = include_bytes!("fonts/NotoSans-Regular-cut.ttf");
const BOLD: &[u8] = include_bytes!("fonts/NotoSans-Bold-cut.ttf");
const ITALIC: &[u8] = include_bytes!("fonts/NotoSans-Italic-cut.ttf");
const CODE: &[u8] = include_bytes!("fonts/NotoSansMono-Regular-cut.ttf");

/// What stands where a character is missing from every face.
const STAND_IN: char = '?';

/// One of the four faces.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Face {
    /// Everyday text.
    Plain,
    /// Headings, totals, and what must not be overlooked.
    Bold,
    /// Guesses, and tables with nothing in them.
    Italic,
    /// Lot codes.
    Code,
}

/// How text looks: its face and its size in points.
#[derive(Clone, Copy, Debug)]
pub struct Look {
    /// The face it is set in.
    pub face: Face,
    /// Its size in points.
    pub size: u8,
}

/// Everyday text at this size.
pub fn plain(size: u8) -> Look {
    Look { face: Face::Plain, size }
}

/// Bold text at this size.
pub fn bold(size: u8) -> Look {
    Look { face: Face::Bold, size }
}

/// Italic text at this size.
pub fn italic(size: u8) -> Look {
    Look { face: Face::Italic, size }
}

/// A lot code at this size.
pub fn code(size: u8) -> Look {
    Look { face: Face::Code, size }
}

impl Look {
    /// From one line of this text to the next.
    pub fn leading(self) -> Mm {
        self.em() * 1.32
    }

    /// From the top of a line to the feet of its letters.
    pub fn feet(self) -> Mm {
        self.em()
    }

    /// The size as a length: a point is 1/72 inch.
    fn em(self) -> Mm {
        Mm::from(25.4) / 72.0 * f64::from(self.size)
    }
}

/// The four faces, ready to measure with.
pub struct Letters {
    cache: FontCache,
    missed: Cell<bool>,
}

impl Letters {
    /// Reads the faces that ship with the program.
    pub fn read() -> Result<Letters, PaperFault> {
        let face = |bytes: &[u8]| FontData::new(bytes.to_vec(), None).map_err(|_| PaperFault::Lettering);
        // A family has room for four faces and each is written into every file. No paper needs a bold italic, so the
        // face for lot codes stands in its place.
        let family = FontFamily { regular: face(PLAIN)?, bold: face(BOLD)?, italic: face(ITALIC)?, bold_italic: face(CODE)? };
        Ok(Letters { cache: FontCache::new(family), missed: Cell::new(false) })
    }

    /// The faces as the PDF crate wants them.
    pub fn cache(&self) -> &FontCache {
        &self.cache
    }

    /// The same, to put the faces into a file.
    pub fn cache_mut(&mut self) -> &mut FontCache {
        &mut self.cache
    }

    /// Whether a character had to be stood in for.
    pub fn missed(&self) -> bool {
        self.missed.get()
    }

    /// The style that prints this look.
    pub fn style(&self, look: Look) -> Style {
        let style = Style::new().with_font_size(look.size);
        match look.face {
            Face::Plain => style,
            Face::Bold => style.bold(),
            Face::Italic => style.italic(),
            Face::Code => style.bold().italic(),
        }
    }

    /// The text with every character printable: what no face has becomes a visible "?", marks without a shape go.
    pub fn clean(&self, text: &str) -> String {
        let mut kept = String::with_capacity(text.len());
        for c in text.chars() {
            match c {
                '\n' | '\u{a0}' => kept.push(c),
                '\u{2010}' | '\u{2011}' => kept.push('-'),
                '\r' | '\u{ad}' | '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' => {}
                '\u{2060}'..='\u{206f}' | '\u{feff}' | '\u{fe00}'..='\u{fe0f}' => {}
                '\u{202f}' | '\u{2007}' => kept.push('\u{a0}'),
                _ if c.is_whitespace() || c.is_control() => kept.push(' '),
                _ if self.has(Face::Plain, c) => kept.push(c),
                _ => {
                    self.missed.set(true);
                    kept.push(STAND_IN);
                }
            }
        }
        kept
    }

    /// The look wished for, or the plain face when the one wished for lacks a character that the plain one has.
    pub fn look_for(&self, text: &str, wished: Look) -> Look {
        let whole = text.chars().all(|c| c == '\n' || c == '\u{a0}' || self.has(wished.face, c));
        if whole { wished } else { Look { face: Face::Plain, ..wished } }
    }

    /// How wide a line of text is.
    pub fn width(&self, text: &str, look: Look) -> Mm {
        let font = self.font(look.face);
        text.chars().map(|c| font.char_width(&self.cache, if c == '\u{a0}' { ' ' } else { c }, look.size)).sum()
    }

    /// The lines that text takes in this width. A word that is wider is broken, after a hyphen or slash if it has one.
    pub fn wrap(&self, text: &str, look: Look, width: Mm) -> Vec<String> {
        let space = self.width(" ", look);
        let mut lines = Vec::new();
        for paragraph in text.trim_end().split('\n') {
            let (mut line, mut used) = (String::new(), Mm::from(0));
            for word in paragraph.split(' ').filter(|word| !word.is_empty()) {
                for (nth, piece) in self.pieces(word, look, width).into_iter().enumerate() {
                    let wide = self.width(&piece, look);
                    let joins = nth == 0 && !line.is_empty();
                    if joins && used + space + wide <= width {
                        line.push(' ');
                        line.push_str(&piece);
                        used += space + wide;
                    } else {
                        if !line.is_empty() {
                            lines.push(std::mem::take(&mut line));
                        }
                        (line, used) = (piece, wide);
                    }
                }
            }
            lines.push(line);
        }
        lines
    }

    /// The widest word of a text: what a column needs so as not to break one.
    pub fn widest_word(&self, text: &str, look: Look) -> Mm {
        text.split([' ', '\n']).map(|word| self.width(word, look)).fold(Mm::from(0), Mm::max)
    }

    /// A word in pieces that each fit the width; a piece is never empty, so that a letter wider than the cell still prints.
    fn pieces(&self, word: &str, look: Look, width: Mm) -> Vec<String> {
        let (mut pieces, mut piece, mut used) = (Vec::new(), String::new(), Mm::from(0));
        for c in word.chars() {
            let wide = self.width(c.encode_utf8(&mut [0; 4]), look);
            if used + wide > width && !piece.is_empty() {
                let rest = match piece.rfind(['-', '/', '_', '@', '.']) {
                    Some(at) if at * 2 >= piece.len() => piece.split_off(at + 1),
                    _ => String::new(),
                };
                pieces.push(std::mem::replace(&mut piece, rest));
                used = self.width(&piece, look);
            }
            piece.push(c);
            used += wide;
        }
        pieces.push(piece);
        pieces
    }

    fn font(&self, face: Face) -> Font {
        let family = self.cache.default_font_family();
        match face {
            Face::Plain => family.regular,
            Face::Bold => family.bold,
            Face::Italic => family.italic,
            Face::Code => family.bold_italic,
        }
    }

    fn has(&self, face: Face, c: char) -> bool {
        // Glyph 0 is the box a face draws for what it does not have.
        self.cache.get_rt_font(self.font(face)).glyph(c).id().0 != 0
    }
}
