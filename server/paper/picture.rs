//! A picture on paper: the same marks as on the page, in greys that differ on a black-and-white printer, a bar with
//! a black rim. The PDF crate draws nothing but lines one point wide, so a filled bar is one line laid to and fro.

use genpdf::Mm;
use genpdf::style::Color;

use super::PaperFault;
use super::leaves::{BLACK, HAIR, Leaves};
use super::letters::{Look, bold, plain};
use super::table::{caption, caption_height};
use crate::trade::picture::{Anchor, Bar, Letter, Line, Mark, Picture, Stroke, Text};

/// A dash and the space after it, in units.
const DASH: (i32, i32) = (8, 5);

/// How wide a line comes out.
fn pen() -> Mm {
    Mm::from(25.4) / 72.0
}

/// From one line of a filling to the next: less than a line is wide, so that no paper shines through.
fn close() -> Mm {
    Mm::from(0.3)
}

/// What a heading over a picture takes at most.
pub fn over() -> Mm {
    Mm::from(12)
}

fn below() -> Mm {
    Mm::from(5)
}

/// How large a unit is printed: a picture takes three fifths of the leaf's width, less where it would not fit the leaf.
fn unit(leaves: &Leaves, picture: &Picture) -> Mm {
    let usual = Mm::from(0.27);
    let room = Leaves::body() - caption_height(leaves, &picture.caption) - below() - over();
    let tall = f64::from(picture.tall.max(1));
    if usual * tall > room { room / tall } else { usual }
}

/// How much of a leaf a picture takes with its caption.
pub fn height(leaves: &Leaves, picture: &Picture) -> Mm {
    caption_height(leaves, &picture.caption) + unit(leaves, picture) * f64::from(picture.tall) + below()
}

/// Prints a picture, whole on one leaf.
pub fn draw(leaves: &mut Leaves, picture: &Picture) -> Result<(), PaperFault> {
    let said = leaves.letters.clean(&picture.caption);
    leaves.need(height(leaves, picture))?;
    caption(leaves, &said, "")?;
    let field = Field { unit: unit(leaves, picture), top: leaves.y() };
    for mark in &picture.marks {
        match mark {
            Mark::Bar(own) => bar(leaves, &field, *own),
            Mark::Line(own) => line(leaves, &field, own),
            Mark::Text(own) => text(leaves, &field, own)?,
        }
    }
    leaves.skip(field.unit * f64::from(picture.tall) + below());
    Ok(())
}

/// Where a picture lies on its leaf.
struct Field {
    unit: Mm,
    top: Mm,
}

impl Field {
    fn at(&self, (x, y): (i32, i32)) -> (Mm, Mm) {
        (Leaves::left() + self.unit * f64::from(x), self.top + self.unit * f64::from(y))
    }
}

fn bar(leaves: &Leaves, field: &Field, bar: Bar) {
    let (left, top) = field.at((bar.x, bar.y));
    let (right, bottom) = field.at((bar.x + bar.wide, bar.y + bar.tall));
    let grey = bar.shade.grey();
    let half = pen() / 2.0;
    let (mut y, mut there) = (top + half, false);
    let mut filling = Vec::new();
    while y < bottom {
        let (from, to) = if there { (right - half, left + half) } else { (left + half, right - half) };
        filling.extend([(from, y), (to, y)]);
        y += close();
        there = !there;
    }
    if right - left > pen() && filling.len() > 2 {
        leaves.line(filling, Color::Rgb(grey, grey, grey));
    }
    if !bar.rim {
        return;
    }
    leaves.line(vec![(left, top), (right, top), (right, bottom), (left, bottom), (left, top)], BLACK);
}

fn line(leaves: &Leaves, field: &Field, line: &Line) {
    let points = |shift: (Mm, Mm), points: &[(i32, i32)]| {
        let moved = points.iter().map(|point| field.at(*point)).map(|(x, y)| (x + shift.0, y + shift.1));
        moved.collect::<Vec<_>>()
    };
    let (none, some) = (Mm::from(0), Mm::from(0.22));
    match line.stroke {
        Stroke::Hair => leaves.line(points((none, none), &line.points), HAIR),
        // A pen with a broad nib: the line four times over, each a little beside the others.
        Stroke::Heavy => {
            for shift in [(none, none), (some, none), (none, some), (some, some)] {
                leaves.line(points(shift, &line.points), BLACK);
            }
        }
        Stroke::Dashed => {
            for dash in dashes(&line.points) {
                for shift in [(none, none), (none, some)] {
                    leaves.line(points(shift, &dash), BLACK);
                }
            }
        }
    }
}

/// The dashes of a line, which go on round its corners.
fn dashes(points: &[(i32, i32)]) -> Vec<Vec<(i32, i32)>> {
    let (on, off) = DASH;
    let (mut dashes, mut dash, mut gone) = (Vec::new(), Vec::new(), 0);
    for (from, to) in points.iter().zip(points.iter().skip(1)) {
        let (across, down) = (to.0 - from.0, to.1 - from.1);
        let long = (across * across + down * down).isqrt().max(1);
        for step in 0..=long {
            let point = (from.0 + across * step / long, from.1 + down * step / long);
            if (gone + step) % (on + off) <= on {
                dash.push(point);
            } else if !dash.is_empty() {
                dashes.push(std::mem::take(&mut dash));
            }
        }
        gone += long;
    }
    dashes.push(dash);
    // Points between the ends of a straight dash would only make the file larger.
    dashes.iter().filter(|dash| dash.len() > 1).map(|dash| plain_ends(dash)).collect()
}

fn plain_ends(dash: &[(i32, i32)]) -> Vec<(i32, i32)> {
    let middle = dash.get(dash.len() / 2).copied();
    dash.first().copied().into_iter().chain(middle).chain(dash.last().copied()).collect()
}

fn text(leaves: &Leaves, field: &Field, text: &Text) -> Result<(), PaperFault> {
    let says = leaves.letters.clean(&text.says).replace('\n', " ");
    let look = leaves.letters.look_for(&says, look(field, text));
    let wide = leaves.letters.width(&says, look);
    let (x, feet) = field.at((text.x, text.y));
    let left = match text.anchor {
        Anchor::Start => x,
        Anchor::Middle => x - wide / 2.0,
        Anchor::End => x - wide,
    };
    leaves.print((left, feet - look.feet()), &says, look, BLACK)
}

/// On paper letters may be smaller against the rest than on a phone; a picture that had to shrink has them smaller still.
fn look(field: &Field, text: &Text) -> Look {
    let small = u8::from(field.unit < Mm::from(0.25)) + u8::from(field.unit < Mm::from(0.2)) * 2;
    let size = match text.letter {
        Letter::Small => 9,
        Letter::Normal => 10,
    };
    if text.bold { bold(size - small) } else { plain(size - small) }
}
