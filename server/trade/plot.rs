//! The field of the picture: which minute and which degree stand where on it.

use super::{
    measure::{Scale, Temperature},
    when::Moment,
};

/// Longest time drawn, in minutes: a rule's whole time and what comes after it, and not the days in the fridge.
pub const LONGEST: i64 = 8 * 60;

/// The frame of the picture: where its field begins and ends, across and down.
const LEFT: i64 = 62;
const RIGHT: i64 = 392;
const TOP: i64 = 44;
const BOTTOM: i64 = 210;

/// What the picture's field spans.
#[derive(Clone, Copy, Debug)]
pub struct Field {
    start: Moment,
    minutes: i64,
    low: i64,
    high: i64,
    scale: Scale,
}

impl Field {
    /// The field that holds these readings, these limits and these ends of what is drawn.
    #[must_use]
    pub fn of(start: Moment, ends: impl Iterator<Item = Moment>, readings: &[Temperature], limits: &[Temperature]) -> Field {
        let longest = ends.map(|at| at.minutes_since(start)).max().unwrap_or(60).clamp(60, LONGEST);
        let scale = readings.first().map_or(Scale::Fahrenheit, |own| own.scale());
        let warmest = readings.iter().chain(limits).map(|own| own.exact()).max();
        let coldest = readings.iter().map(|own| own.exact()).min();
        let a_degree = if scale == Scale::Celsius { 900 } else { 500 };
        Field {
            start,
            minutes: longest + longest / 12,
            low: coldest.unwrap_or(0).min(0) - a_degree * 2,
            high: warmest.unwrap_or(0).max(Temperature::fahrenheit(60).exact()) + a_degree * 4,
            scale,
        }
    }

    /// Where a moment stands, from the left.
    #[must_use]
    pub fn across(&self, at: Moment) -> i64 {
        LEFT + (at.minutes_since(self.start) * (RIGHT - LEFT) / self.minutes.max(1)).clamp(0, RIGHT - LEFT)
    }

    /// Where a temperature stands, from the top.
    #[must_use]
    pub fn up(&self, exact: i64) -> i64 {
        (BOTTOM - (exact - self.low) * (BOTTOM - TOP) / (self.high - self.low).max(1)).clamp(TOP, BOTTOM)
    }

    /// Whole hours, every second one where they would touch.
    #[must_use]
    pub fn hours(&self) -> Vec<(i64, String)> {
        let every = if self.minutes > 5 * 60 { 2 } else { 1 };
        let marks = (0..=8).step_by(every).filter(|hour| hour * 60 <= self.minutes);
        marks.map(|hour| (self.across(self.start.plus_hours(hour)), format!("{hour} h"))).collect()
    }

    /// Every twenty degrees Fahrenheit or ten Celsius.
    #[must_use]
    pub fn degrees(&self) -> Vec<(i64, String)> {
        let marks = (0..=6).map(|nth| match self.scale {
            Scale::Fahrenheit => Temperature::fahrenheit(20 + nth * 20),
            Scale::Celsius => Temperature::celsius(nth * 10),
        });
        let inside = marks.filter(|mark| (self.low..=self.high).contains(&mark.exact()));
        inside.map(|mark| (self.up(mark.exact()), mark.to_string())).collect()
    }
}
