//! Level bars: minutes by job, and how far a cost moves with each of its guesses.

use super::{
    super::picture::{Anchor, Letter, Picture, Shade, Stroke, WIDE},
    GAP, Span, amount, dollars, lumped, said, widest,
};
use rust_decimal::Decimal;

/// As many rows as are read rather than skipped.
const MOST: usize = 12;
/// The left edge, so that a bar's rim is not cut.
const EDGE: i32 = 2;
/// How tall a bar is.
const TALL: i32 = 16;
/// From the end of a row to the next.
const APART: i32 = 10;

/// Writes a label over its bar, on two lines where it is long; gives where the bar goes.
fn label(picture: &mut Picture, name: &str) -> i32 {
    let mut feet = picture.tall;
    for line in Letter::Small.lines(name, WIDE - EDGE - EDGE, 2) {
        feet += Letter::Small.leading();
        picture.small((EDGE, feet - 4), Anchor::Start, line);
    }
    feet + 2
}

/// Level bars, each with its label over it and its figure at its end: minutes by job. The unit `$` gives dollars and cents.
/// Beyond twelve the smallest are one row, “the rest”.
#[must_use]
pub fn bars(title: &str, unit: &str, rows: &[(String, Decimal)]) -> Option<Picture> {
    if rows.iter().all(|(_, figure)| figure.is_zero()) {
        return None;
    }
    let rows = lumped(rows.to_vec(), MOST, "The rest");
    let figures = || rows.iter().map(|(_, figure)| *figure);
    let (low, high) = (figures().min()?.min(Decimal::ZERO), figures().max()?.max(Decimal::ZERO));
    let room = widest(rows.iter().map(|(_, figure)| amount(*figure, unit))) + GAP + GAP;
    let across = Span { low, high, from: EDGE, to: (WIDE - room).max(WIDE / 3) };
    let nought = across.at(Decimal::ZERO);
    let mut picture = Picture::titled(title);
    picture.alt = format!("{title}: {}.", said(&rows, unit));
    for (name, figure) in &rows {
        let y = label(&mut picture, name);
        let end = across.at(*figure);
        if !figure.is_zero() {
            picture.bar((nought.min(end), y), ((end - nought).abs(), TALL), Shade::Second);
        }
        if low < Decimal::ZERO {
            picture.line(Stroke::Heavy, vec![(nought, y - 2), (nought, y + TALL + 2)]);
        }
        // A figure below nought stands on the free side of the line.
        picture.figure((nought.max(end) + GAP, y + TALL - 3), Anchor::Start, amount(*figure, unit));
        picture.tall = y + TALL + APART;
    }
    Some(picture)
}

/// How far a cost moves when each guess behind it is set low and high: the widest first, both ends in figures, and a line
/// where it stands as it is.
#[must_use]
pub fn tornado(title: &str, base: Decimal, rows: &[(String, Decimal, Decimal)]) -> Option<Picture> {
    let mut rows: Vec<_> = rows.iter().map(|(name, one, other)| (name, (*one).min(*other), (*one).max(*other))).collect();
    rows.sort_by_key(|(_, low, high)| std::cmp::Reverse(*high - *low));
    let (left_out, first) = (rows.len().saturating_sub(MOST), rows.first().map(|(name, low, high)| ((*name).clone(), *low, *high))?);
    rows.truncate(MOST);
    let low = rows.iter().map(|(_, low, _)| *low).min()?.min(base);
    let high = rows.iter().map(|(.., high)| *high).max()?.max(base);
    let room = widest(rows.iter().flat_map(|(_, low, high)| [dollars(*low), dollars(*high)])) + GAP + GAP;
    let across = Span { low, high, from: room, to: WIDE - room };
    let middle = across.at(base);
    let mut picture = Picture::titled(title);
    picture.alt =
        format!("{title}: {} as it is. Most depends on {}: {} to {}.", dollars(base), first.0, dollars(first.1), dollars(first.2));
    head(&mut picture, middle, base);
    for (name, low, high) in rows {
        let y = label(&mut picture, name);
        let (from, to) = (across.at(low), across.at(high));
        let split = middle.clamp(from, to);
        for (from, to, shade) in [(from, split, Shade::Sixth), (split, to, Shade::Second)] {
            if to > from {
                picture.bar((from, y), (to - from, TALL), shade);
            }
        }
        picture.line(Stroke::Heavy, vec![(middle, y - 3), (middle, y + TALL + 3)]);
        picture.figure((EDGE, y + TALL - 3), Anchor::Start, dollars(low));
        picture.figure((WIDE - EDGE, y + TALL - 3), Anchor::End, dollars(high));
        picture.tall = y + TALL + APART;
    }
    if left_out > 0 {
        let others = if left_out == 1 {
            "One that moves it less is left out.".to_owned()
        } else {
            format!("{left_out} that move it less are left out.")
        };
        picture.small((EDGE, picture.tall + 12), Anchor::Start, others);
        picture.tall += 22;
    }
    Some(picture)
}

/// The figure as it is, over the line that stands for it.
fn head(picture: &mut Picture, middle: i32, base: Decimal) {
    let says = format!("As it is {}", dollars(base));
    let half = (Letter::Normal.room(&says) + 1) / 2;
    picture.first((middle.min(WIDE - half).max(half), 16), Anchor::Middle, says);
    picture.line(Stroke::Heavy, vec![(middle, 21), (middle, 27)]);
    picture.tall = 28;
}
