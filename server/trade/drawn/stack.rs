//! One half-gallon, or one dollar, as a stack of its parts.

use super::{
    super::{
        money::Money,
        picture::{Anchor, Letter, Picture, Shade, Stroke, WIDE},
    },
    GAP, Span, dollars, lumped, said, spread, widest,
};
use rust_decimal::Decimal;

/// Where the stack stands, across.
const STACK: (i32, i32) = (24, 96);
/// Where the names of its parts begin.
const NAMES: i32 = 120;
/// Where the stack begins, down.
const TOP: i32 = 10;
/// As many credits as have room below nought.
const CREDITS: usize = 3;

/// A piece of the stack: what it is, and where it lies.
struct Piece {
    name: Vec<String>,
    amount: Decimal,
    y: i32,
    tall: i32,
    shade: Shade,
}

/// The parts of a half-gallon or of a dollar as one upright stack, each with its name and its amount beside it. Beyond six the
/// smallest are one part, “the rest”. Credits stand below nought.
#[must_use]
pub fn stacked(title: &str, parts: &[(String, Money)]) -> Option<Picture> {
    let exact =
        |sign: fn(&Money) -> bool| parts.iter().filter(move |(_, part)| sign(part)).map(|(name, part)| (name.clone(), part.dollars()));
    let costs = lumped(exact(|part| *part > Money::ZERO).collect(), Shade::ALL.len(), "The rest");
    let credits = lumped(exact(|part| *part < Money::ZERO).collect(), CREDITS, "Other credits");
    if costs.is_empty() && credits.is_empty() {
        return None;
    }
    let whole: Decimal = parts.iter().map(|(_, part)| part.dollars()).sum();
    let mut picture = Picture::titled(title);
    picture.alt = told(title, whole, &costs, &credits);
    let figures = widest(costs.iter().chain(&credits).map(|(_, part)| dollars(*part)).chain([dollars(whole)]));
    let pieces = pieces(&costs, &credits, WIDE - figures - GAP - GAP - NAMES);
    draw(&mut picture, &pieces);
    let bottom = pieces.iter().map(|piece| piece.y + piece.tall).max().unwrap_or(TOP);
    let sum = if credits.is_empty() { bottom + 12 } else { nought(&mut picture, &pieces, bottom) };
    picture.line(Stroke::Heavy, vec![(NAMES, sum), (WIDE, sum)]);
    picture.first((NAMES, sum + 20), Anchor::Start, "In all");
    picture.first((WIDE, sum + 20), Anchor::End, dollars(whole));
    picture.tall = sum + 28;
    Some(picture)
}

fn told(title: &str, whole: Decimal, costs: &[(String, Decimal)], credits: &[(String, Decimal)]) -> String {
    let off = if credits.is_empty() { String::new() } else { format!(" Taken off: {}.", said(credits, "$")) };
    format!("{title}: {} in all, made of {}.{off}", dollars(whole), if costs.is_empty() { "nothing".to_owned() } else { said(costs, "$") })
}

/// How tall the lines of a label are, with the space between it and the next. A part without a name still has its figure.
fn label(name: &[String]) -> i32 {
    let lines = name.iter().map(|_| Letter::Small.leading()).sum::<i32>();
    lines.max(Letter::Small.leading()) + 5
}

/// The pieces from the top: costs down to nought, credits below it. The stack is as tall as all labels need.
fn pieces(costs: &[(String, Decimal)], credits: &[(String, Decimal)], room: i32) -> Vec<Piece> {
    let named: Vec<_> = costs.iter().chain(credits).map(|(name, part)| (Letter::Small.lines(name, room, 2), *part)).collect();
    let labels: i32 = named.iter().map(|(name, _)| label(name)).sum();
    let size = named.iter().map(|(_, part)| part.abs()).sum();
    let down = Span { low: Decimal::ZERO, high: size, from: TOP, to: TOP + labels.max(190) };
    // The first credit lies against the last of the costs, so it never has that one's shade.
    let below = [Shade::Fourth, Shade::Second, Shade::Fifth];
    let below = if costs.len() == 4 { [Shade::Sixth, Shade::Second, Shade::Fifth] } else { below };
    let shades = Shade::ALL.into_iter().take(costs.len()).chain(below);
    let mut done = Decimal::ZERO;
    let mut pieces = Vec::new();
    for ((name, amount), shade) in named.into_iter().zip(shades) {
        let y = down.at(done);
        done += amount.abs();
        pieces.push(Piece { name, amount, y, tall: down.at(done) - y, shade });
    }
    pieces
}

fn draw(picture: &mut Picture, pieces: &[Piece]) {
    let bottom = pieces.iter().map(|piece| piece.y + piece.tall).max().unwrap_or(TOP);
    let wishes: Vec<(i32, i32)> = pieces.iter().map(|piece| (piece.y + piece.tall / 2, label(&piece.name))).collect();
    for (piece, begin) in pieces.iter().zip(spread(&wishes, TOP, bottom)) {
        let middle = begin + label(&piece.name) / 2;
        picture.bar((STACK.0, piece.y), (STACK.1 - STACK.0, piece.tall), piece.shade);
        picture.line(Stroke::Hair, vec![(STACK.1 + 2, piece.y + piece.tall / 2), (NAMES - GAP, middle)]);
        for (line, nth) in piece.name.iter().zip(0..) {
            picture.small((NAMES, begin + 15 + nth * Letter::Small.leading()), Anchor::Start, line);
        }
        picture.figure((WIDE, begin + 15), Anchor::End, dollars(piece.amount));
    }
}

/// Marks nought, and says what lies below it; gives where the sum goes.
fn nought(picture: &mut Picture, pieces: &[Piece], bottom: i32) -> i32 {
    let y = pieces.iter().filter(|piece| piece.amount > Decimal::ZERO).map(|piece| piece.y + piece.tall).max().unwrap_or(TOP);
    picture.line(Stroke::Heavy, vec![(STACK.0 - 10, y), (STACK.1 + 10, y)]);
    picture.small((2, y + 5), Anchor::Start, "0");
    picture.small((i32::midpoint(STACK.0, STACK.1), bottom + 18), Anchor::Middle, "taken off");
    bottom + 30
}
