//! What a half-gallon costs beside what comes in for it, month by month.

use super::{
    super::picture::{Anchor, Letter, Picture, Stroke, WIDE},
    GAP, Span, dollars, grid, inside, marks, spread, stride, widest,
};
use rust_decimal::Decimal;

/// The field, down.
const FIELD: (i32, i32) = (12, 196);
/// A month: its label, what a half-gallon cost, and what came in for it.
type Point = (String, Option<Decimal>, Option<Decimal>);

/// One of the two lines.
struct Curve {
    name: &'static str,
    stroke: Stroke,
    values: Vec<Option<Decimal>>,
}

impl Curve {
    /// The last month that has a value.
    fn last(&self) -> Option<(usize, Decimal)> {
        self.values.iter().enumerate().rev().find_map(|(place, value)| value.map(|value| (place, value)))
    }

    /// What it says to somebody who cannot see it.
    fn told(&self, points: &[Point]) -> Option<String> {
        let there = || self.values.iter().flatten().copied();
        let (low, high, (place, last)) = (there().min()?, there().max()?, self.last()?);
        let month = points.get(place).map_or("", |(label, ..)| label.as_str());
        Some(format!("{} from {} to {}, last {} ({month})", self.name, dollars(low), dollars(high), dollars(last)))
    }
}

/// What a half-gallon costs (the solid line) and what comes in for it (the dashed one), by month. A month without a figure is
/// a gap.
#[must_use]
pub fn two_lines(title: &str, points: &[Point]) -> Option<Picture> {
    let curves = [
        Curve { name: "Cost", stroke: Stroke::Heavy, values: points.iter().map(|(_, cost, _)| *cost).collect() },
        Curve { name: "Comes in", stroke: Stroke::Dashed, values: points.iter().map(|(_, _, comes_in)| *comes_in).collect() },
    ];
    let values = || curves.iter().flat_map(|curve| curve.values.iter().flatten().copied());
    let (low, high) = (values().min()?.min(Decimal::ZERO), values().max()?);
    let ticks = marks(low, if high > low { high } else { low + Decimal::ONE }, 4);
    let ends = |ticks: &[Decimal]| Some((*ticks.first()?, *ticks.last()?));
    let (low, high) = ends(&ticks)?;
    let up = Span { low, high, from: FIELD.1, to: FIELD.0 };
    let left = widest(ticks.iter().map(|tick| dollars(*tick))) + GAP + 2;
    let lasts = curves.iter().filter_map(|curve| curve.last().map(|(_, value)| dollars(value)));
    let right = WIDE - widest(lasts.chain(["Comes in".to_owned()])) - 18;
    let mut picture = Picture::titled(title);
    let told: Vec<String> = curves.iter().filter_map(|curve| curve.told(points)).collect();
    picture.alt = format!("{title}. {}.", told.join("; "));
    picture.tall = FIELD.1 + 26;
    grid(&mut picture, &ticks, "$", up, (left, right));
    let across = Span { low: Decimal::ZERO, high: Decimal::from(points.len().saturating_sub(1)), from: left + 8, to: right - 4 };
    months(&mut picture, points, across);
    for curve in &curves {
        runs(&mut picture, curve, across, up);
    }
    ends_named(&mut picture, &curves, across, up, right + 12);
    Some(picture)
}

/// The months below the field: as many as have room, and always the last.
fn months(picture: &mut Picture, points: &[Point], across: Span) {
    let labels: Vec<String> = points.iter().filter_map(|(label, ..)| Letter::Small.lines(label, 100, 1).into_iter().next()).collect();
    let steps = i32::try_from(points.len().saturating_sub(1)).unwrap_or(1).max(1);
    let every = stride(&labels, (across.to - across.from) / steps);
    for (place, (label, ..)) in points.iter().enumerate().rev().step_by(every) {
        let x = across.at(Decimal::from(place));
        let label = Letter::Small.lines(label, 100, 1).into_iter().next().unwrap_or_default();
        picture.line(Stroke::Hair, vec![(x, FIELD.1), (x, FIELD.1 + 5)]);
        picture.small((inside(x, &label), FIELD.1 + 20), Anchor::Middle, label);
    }
}

/// A curve, broken where a month has no figure; a month alone between two gaps is a short stroke.
fn runs(picture: &mut Picture, curve: &Curve, across: Span, up: Span) {
    for run in curve.values.iter().enumerate().collect::<Vec<_>>().split(|(_, value)| value.is_none()) {
        let there = run.iter().filter_map(|(place, value)| value.map(|value| (across.at(Decimal::from(*place)), up.at(value))));
        let points: Vec<(i32, i32)> = there.collect();
        match points.as_slice() {
            [] => {}
            [(x, y)] => picture.line(curve.stroke, vec![(x - 4, *y), (x + 4, *y)]),
            _ => picture.line(curve.stroke, points),
        }
    }
}

/// The name of each curve and its last figure, at its end.
fn ends_named(picture: &mut Picture, curves: &[Curve], across: Span, up: Span, x: i32) {
    let end = |curve: &Curve| curve.last().map(|(place, value)| (curve.name, value, (across.at(Decimal::from(place)), up.at(value))));
    let mut ends: Vec<_> = curves.iter().filter_map(end).collect();
    ends.sort_by_key(|(.., (_, y))| *y);
    let tall = Letter::Small.leading() * 2 + 2;
    let wishes: Vec<(i32, i32)> = ends.iter().map(|(.., (_, y))| (*y, tall)).collect();
    for ((name, value, from), begin) in ends.into_iter().zip(spread(&wishes, 0, FIELD.1)) {
        picture.line(Stroke::Hair, vec![from, (x - 4, begin + tall / 2)]);
        picture.small((x, begin + 14), Anchor::Start, name);
        picture.figure((x, begin + 14 + Letter::Small.leading()), Anchor::Start, dollars(value));
    }
}
