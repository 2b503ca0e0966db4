//! How a cost came from what it was to what it is, step by step.

use super::{
    super::{
        money::Money,
        picture::{Anchor, Letter, Picture, Shade, Stroke, WIDE},
    },
    GAP, Span, dollars, marks, said, signed, widest,
};
use rust_decimal::Decimal;

/// How wide the labels are, and where the bars begin.
const NAMES: i32 = 136;
const BARS: i32 = 146;
/// How tall a bar is.
const TALL: i32 = 18;

/// A row: its label, the figure as it is said, where its bar begins and ends, and its shade.
struct Row {
    name: Vec<String>,
    figure: String,
    begins: Decimal,
    ends: Decimal,
    shade: Shade,
}

impl Row {
    fn new(name: &str, figure: String, begins: Decimal, ends: Decimal, shade: Shade) -> Row {
        Row { name: Letter::Small.lines(name, NAMES, 3), figure, begins, ends, shade }
    }

    fn tall(&self) -> i32 {
        (self.name.iter().map(|_| Letter::Small.leading()).sum::<i32>() + 8).max(TALL + 12)
    }
}

/// From what a cost was to what it is: a bar for each, and between them a step up or down for all that moved it. What the
/// steps do not explain is a step of its own, so that the last always lands on what it is.
#[must_use]
pub fn bridge(title: &str, from: &(String, Decimal), steps: &[(String, Decimal)], to: &(String, Decimal)) -> Option<Picture> {
    let explained: Decimal = from.1 + steps.iter().map(|(_, step)| *step).sum::<Decimal>();
    let mut steps = steps.to_vec();
    if Money::round(to.1 - explained) != Money::ZERO {
        steps.push(("What is not explained".to_owned(), to.1 - explained));
    }
    let reached = steps.iter().scan(from.1, |at, (_, step)| {
        *at += *step;
        Some(*at)
    });
    let stops: Vec<Decimal> = [from.1].into_iter().chain(reached).chain([to.1]).collect();
    let (low, high) = (stops.iter().copied().min()?, stops.iter().copied().max()?);
    if low.is_zero() && high.is_zero() {
        return None;
    }
    let begin = begin(low, high);
    let rows = rows(from, &steps, to, &stops, begin.max(Decimal::ZERO));
    let figures = widest(rows.iter().map(|row| row.figure.clone()));
    let across = Span { low: begin, high: high.max(Decimal::ZERO), from: BARS, to: WIDE - figures - GAP - GAP };
    let mut picture = Picture::titled(title);
    picture.alt = format!("{title}: from {} ({}) to {} ({}). {}", dollars(from.1), from.0, dollars(to.1), to.0, moved(&steps));
    draw(&mut picture, &rows, across);
    if begin > Decimal::ZERO {
        picture.small((0, picture.tall + 14), Anchor::Start, format!("The bars begin at {}, not at $0.00.", dollars(begin)));
        picture.tall += 22;
    }
    Some(picture)
}

fn moved(steps: &[(String, Decimal)]) -> String {
    let (up, down): (Vec<_>, Vec<_>) =
        steps.iter().filter(|(_, step)| !step.is_zero()).cloned().partition(|(_, step)| *step > Decimal::ZERO);
    let side =
        |word: &str, side: &[(String, Decimal)]| if side.is_empty() { String::new() } else { format!("{word}: {}. ", said(side, "$")) };
    (side("Up", &up) + &side("Down", &down)).trim_end().to_owned()
}

/// Where the scale begins: at nought, or at a round mark when every stop lies so far above it that no step could be seen.
fn begin(low: Decimal, high: Decimal) -> Decimal {
    let moved = high - low;
    if low <= moved {
        return low.min(Decimal::ZERO);
    }
    // A quarter of what moved is left before the lowest stop, so that its bar is still a bar.
    let mark = marks(low - moved / Decimal::from(4), high, 4).first().copied().unwrap_or_default();
    if moved.is_zero() { Decimal::ZERO } else { mark.max(Decimal::ZERO) }
}

fn rows(from: &(String, Decimal), steps: &[(String, Decimal)], to: &(String, Decimal), stops: &[Decimal], begin: Decimal) -> Vec<Row> {
    let whole = |(name, figure): &(String, Decimal)| Row::new(name, dollars(*figure), begin, *figure, Shade::First);
    let between = steps.iter().zip(stops.iter().zip(stops.iter().skip(1))).map(|((name, step), (begins, ends))| {
        let shade = if *step < Decimal::ZERO { Shade::Sixth } else { Shade::Second };
        Row::new(name, signed(*step), *begins, *ends, shade)
    });
    [whole(from)].into_iter().chain(between).chain([whole(to)]).collect()
}

fn draw(picture: &mut Picture, rows: &[Row], across: Span) {
    let mut before: Option<(i32, i32)> = None;
    for row in rows {
        let middle = picture.tall + row.tall() / 2;
        let top = middle - TALL / 2;
        let (begins, ends) = (across.at(row.begins), across.at(row.ends));
        if let Some((x, bottom)) = before {
            picture.line(Stroke::Hair, vec![(x, bottom), (x, top)]);
        }
        picture.bar((begins.min(ends), top), ((ends - begins).abs(), TALL), row.shade);
        let lines = i32::try_from(row.name.len()).unwrap_or(1);
        let first = middle - lines * Letter::Small.leading() / 2 + 14;
        for (line, nth) in row.name.iter().zip(0..) {
            picture.small((0, first + nth * Letter::Small.leading()), Anchor::Start, line);
        }
        picture.figure((WIDE, middle + 5), Anchor::End, row.figure.clone());
        before = Some((ends, top + TALL));
        picture.tall += row.tall();
    }
}
