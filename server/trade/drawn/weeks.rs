//! Milk made against milk handed out, by week.

use super::{
    super::{
        measure::trimmed,
        picture::{Anchor, Letter, Picture, Shade, Stroke, WIDE},
    },
    GAP, Span, grid, inside, marks, stride, widest,
};
use rust_decimal::{Decimal, prelude::ToPrimitive};

/// The field, down.
const FIELD: (i32, i32) = (60, 216);
/// As many weeks as a picture has room for: a year, and the week it begins in.
const MOST: usize = 53;
/// From how wide on a bar has room for a rim.
const RIMMED: i32 = 16;
/// A week: its label, what was made and what was handed out.
type Week = (String, Decimal, Decimal);

/// Milk made (bars) and handed out (a stepped line) in each of the last 53 weeks at most.
#[must_use]
pub fn weeks(title: &str, weeks: &[Week]) -> Option<Picture> {
    let weeks = weeks.get(weeks.len().saturating_sub(MOST)..)?;
    let most = weeks.iter().map(|(_, made, out)| (*made).max(*out)).max()?;
    if most <= Decimal::ZERO {
        return None;
    }
    let ticks = marks(Decimal::ZERO, most, 4);
    let up = Span { low: Decimal::ZERO, high: ticks.last().copied()?, from: FIELD.1, to: FIELD.0 };
    let left = widest(ticks.iter().map(|tick| trimmed(*tick, 1))) + GAP + 2;
    let step = ((WIDE - left - 2) / weeks.len().to_i32()?).min(56);
    let mut picture = Picture::titled(title);
    picture.alt = told(title, weeks);
    picture.tall = FIELD.1 + 26;
    keys(&mut picture, weeks);
    grid(&mut picture, &ticks, "", up, (left, left + step * weeks.len().to_i32()?));
    let mut line = Vec::new();
    for ((_, made, out), nth) in weeks.iter().zip(0..) {
        let (x, top) = (left + nth * step, up.at(*made));
        let size = (step, FIELD.1 - top);
        match (*made > Decimal::ZERO, step < RIMMED) {
            (false, _) => {}
            (true, true) => picture.slat((x, top), size, Shade::Fourth),
            (true, false) => picture.bar((x, top), size, Shade::Fourth),
        }
        line.extend([(x, up.at(*out)), (x + step, up.at(*out))]);
    }
    line.dedup();
    picture.line(Stroke::Heavy, line);
    days(&mut picture, weeks, left, step);
    Some(picture)
}

fn sums(weeks: &[Week]) -> (Decimal, Decimal) {
    (weeks.iter().map(|(_, made, _)| *made).sum(), weeks.iter().map(|(_, _, out)| *out).sum())
}

fn told(title: &str, weeks: &[Week]) -> String {
    let (made, out) = sums(weeks);
    let label = |week: Option<&Week>| week.map_or_else(String::new, |(label, ..)| label.clone());
    let span = format!("{} weeks, {} to {}", weeks.len(), label(weeks.first()), label(weeks.last()));
    let best = weeks.iter().max_by_key(|(_, made, _)| *made);
    let best = best.map_or_else(String::new, |(label, made, _)| format!("; the most made in a week is {} ({label})", trimmed(*made, 1)));
    format!("{title}, {span}. Made {}, handed out {}{best}.", trimmed(made, 1), trimmed(out, 1))
}

/// What the bars and the line are, each beside a piece of itself.
fn keys(picture: &mut Picture, weeks: &[Week]) {
    let (made, out) = sums(weeks);
    picture.bar((2, 4), (24, 12), Shade::Fourth);
    picture.small((34, 15), Anchor::Start, format!("Made: {} in all", trimmed(made, 1)));
    picture.line(Stroke::Heavy, vec![(2, 31), (26, 31)]);
    picture.small((34, 36), Anchor::Start, format!("Handed out: {} in all", trimmed(out, 1)));
}

/// The weeks below the field: as many as have room, and always the last.
fn days(picture: &mut Picture, weeks: &[Week], left: i32, step: i32) {
    let short = |(label, ..): &Week| Letter::Small.lines(label, 80, 1).into_iter().next().unwrap_or_default();
    let labels: Vec<String> = weeks.iter().map(short).collect();
    let every = stride(&labels, step);
    // A label at either end may have to move inwards by half its width, so the one beside it is passed over.
    let mut free = WIDE;
    for (place, label) in labels.iter().enumerate().rev().step_by(every) {
        let middle = left + i32::try_from(place).unwrap_or_default() * step + step / 2;
        let x = inside(middle, label);
        let half = Letter::Small.room(label) / 2 + 1;
        if x + half <= free {
            picture.line(Stroke::Hair, vec![(middle, FIELD.1), (middle, FIELD.1 + 5)]);
            picture.small((x, FIELD.1 + 20), Anchor::Middle, label);
            free = x - half - GAP;
        }
    }
}
