//! The field of the picture: which minute and which degree stand where on it.

use super::{LONGEST, Run};
use crate::trade::{
    measure::{Scale, Temperature},
    when::Moment,
};

/// The frame of the picture: where its field begins and ends, across and down.
const LEFT: i64 = 62;
const RIGHT: i64 = 392;
const TOP: i64 = 44;
const BOTTOM: i64 = 210;

/// What the picture's field spans.
pub(super) struct Field {
    start: Moment,
    minutes: i64,
    low: i64,
    high: i64,
    scale: Scale,
}

impl Field {
    /// The field that a milking's readings and deadlines fill.
    pub(super) fn of(run: &Run<'_>) -> Field {
        let ends = run.readings.iter().map(|own| own.at).chain(run.steps.iter().filter_map(|own| own.by));
        let longest = ends.map(|at| at.minutes_since(run.times.start)).max().unwrap_or(60).clamp(60, LONGEST);
        let scale = run.readings.first().map_or(Scale::Fahrenheit, |own| own.temperature.scale());
        let warmest =
            run.readings.iter().map(|own| own.temperature.exact()).chain(run.steps.iter().map(|own| own.step.limit.exact())).max();
        let coldest = run.readings.iter().map(|own| own.temperature.exact()).min();
        let a_degree = if scale == Scale::Celsius { 900 } else { 500 };
        Field {
            start: run.times.start,
            minutes: longest + longest / 12,
            low: coldest.unwrap_or(0).min(0) - a_degree * 2,
            high: warmest.unwrap_or(0).max(Temperature::fahrenheit(60).exact()) + a_degree * 4,
            scale,
        }
    }

    /// Where a moment stands, from the left.
    pub(super) fn across(&self, at: Moment) -> i64 {
        LEFT + (at.minutes_since(self.start) * (RIGHT - LEFT) / self.minutes.max(1)).clamp(0, RIGHT - LEFT)
    }

    /// Where a temperature stands, from the top.
    pub(super) fn up(&self, exact: i64) -> i64 {
        (BOTTOM - (exact - self.low) * (BOTTOM - TOP) / (self.high - self.low).max(1)).clamp(TOP, BOTTOM)
    }

    /// Whole hours, every second one where they would touch.
    pub(super) fn hours(&self) -> Vec<(i64, String)> {
        let every = if self.minutes > 5 * 60 { 2 } else { 1 };
        let marks = (0..=8).step_by(every).filter(|hour| hour * 60 <= self.minutes);
        marks.map(|hour| (self.across(self.start.plus_hours(hour)), format!("{hour} h"))).collect()
    }

    /// Every twenty degrees Fahrenheit or ten Celsius.
    pub(super) fn degrees(&self) -> Vec<(i64, String)> {
        let marks = (0..=6).map(|nth| match self.scale {
            Scale::Fahrenheit => Temperature::fahrenheit(20 + nth * 20),
            Scale::Celsius => Temperature::celsius(nth * 10),
        });
        let inside = marks.filter(|mark| (self.low..=self.high).contains(&mark.exact()));
        inside.map(|mark| (self.up(mark.exact()), mark.to_string())).collect()
    }
}
