//! A cow's last fourteen days of milk: by day for a table, and as the points of a line.
//!
//! A day on which nothing was written is a gap and never a zero, so the line breaks there.

use super::{
    measure::{Weight, fixed},
    when::{Day, parse_day},
};
use chrono::Days;
use rust_decimal::{Decimal, prelude::ToPrimitive};

/// One day of one cow's milk.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MilkDay {
    /// The day.
    pub day: Day,
    /// The morning's milk, if it was written down.
    pub morning: Option<Weight>,
    /// The evening's milk, if it was written down.
    pub evening: Option<Weight>,
    /// Anything out of the usual: where it went, what the first squirts looked like.
    pub odd: String,
}

impl MilkDay {
    /// The fourteen days up to and including today, from milkings as session, milk and what was out of the usual.
    #[must_use]
    pub fn last_fourteen<'a>(milked: impl Iterator<Item = (&'a str, Weight, String)>, today: Day) -> Vec<MilkDay> {
        let first = today.checked_sub_days(Days::new(13)).unwrap_or(today);
        let mut days: Vec<MilkDay> =
            first.iter_days().take(14).map(|day| MilkDay { day, morning: None, evening: None, odd: String::new() }).collect();
        for (session, milk, odd) in milked {
            let Some((day, half)) = session.split_once(' ') else { continue };
            let Some(own) = parse_day(day).ok().and_then(|day| days.iter_mut().find(|own| own.day == day)) else { continue };
            let place = if half == "AM" { &mut own.morning } else { &mut own.evening };
            *place = Some(place.unwrap_or(Weight::ZERO) + milk);
            if !odd.is_empty() {
                let told = if own.odd.is_empty() { String::new() } else { format!("{}; ", own.odd) };
                own.odd = format!("{told}{}: {odd}", if half == "AM" { "morning" } else { "evening" });
            }
        }
        days
    }

    /// The day's milk, if any was written down.
    #[must_use]
    pub fn total(&self) -> Option<Weight> {
        let written: Vec<Weight> = self.morning.into_iter().chain(self.evening).collect();
        if written.is_empty() { None } else { Some(written.into_iter().sum()) }
    }

    fn milkings(&self) -> usize {
        self.morning.iter().chain(&self.evening).count()
    }

    /// Pounds for a table, to the tenth; a dash where nothing was written.
    #[must_use]
    pub fn shown(milk: &Option<Weight>) -> String {
        milk.map_or_else(|| "–".to_owned(), |milk| fixed(milk.in_pounds(), 1))
    }
}

/// The line of a chart 560 wide and 190 high.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MilkChart {
    /// Runs of neighbouring days, each as the points of a line.
    pub runs: Vec<String>,
    /// Every point, for its dot.
    pub dots: Vec<(i64, i64)>,
    /// The lines across: height and pounds.
    pub across: Vec<(i64, i64)>,
    /// The days along the foot: place and day of the month.
    pub foot: Vec<(i64, String)>,
    /// What the chart says, in words.
    pub says: String,
}

const LEFT: i64 = 44;
const STEP: i64 = 38;
const FOOT: i64 = 160;
const HIGH: i64 = 145;

impl MilkChart {
    /// Draws the days; nothing when fewer than two have milk. Today is left out until all its `usual` milkings are in,
    /// because half a day looks like a cow falling ill.
    #[must_use]
    pub fn of(days: &[MilkDay], usual: usize) -> Option<MilkChart> {
        let whole = |place: usize, day: &MilkDay| place + 1 < days.len() || day.milkings() >= usual;
        let totals: Vec<Option<Weight>> = days.iter().enumerate().map(|(place, day)| day.total().filter(|_| whole(place, day))).collect();
        let drawn = totals.iter().flatten().count();
        let most = totals.iter().flatten().max().filter(|_| drawn > 1)?;
        // The top line is the next ten pounds above the most.
        let top = (most.in_pounds() / Decimal::TEN).floor().to_i64()? * 10 + 10;
        let full = Weight::pounds(Decimal::from(top)).in_milligrams();
        let along = |place: usize| LEFT + STEP * i64::try_from(place).unwrap_or(0);
        let (mut runs, mut dots, mut run) = (Vec::new(), Vec::new(), Vec::new());
        for (place, total) in totals.iter().enumerate() {
            match total {
                Some(milk) => {
                    let dot = (
                        along(place),
                        FOOT - i64::try_from(i128::from(milk.in_milligrams()) * i128::from(HIGH) / i128::from(full)).unwrap_or(0),
                    );
                    run.push(format!("{},{}", dot.0, dot.1));
                    dots.push(dot);
                }
                None => runs.push(std::mem::take(&mut run).join(" ")),
            }
        }
        runs.push(run.join(" "));
        runs.retain(|run| run.contains(' '));
        let least = totals.iter().flatten().min()?;
        Some(MilkChart {
            runs,
            dots,
            across: vec![(FOOT, 0), (FOOT - HIGH / 2, top / 2), (FOOT - HIGH, top)],
            foot: days.iter().enumerate().step_by(3).map(|(place, day)| (along(place), day.day.format("%-d %b").to_string())).collect(),
            says: format!(
                "Her milk by day, in pounds: between {} and {} on {drawn} whole days.",
                fixed(least.in_pounds(), 1),
                fixed(most.in_pounds(), 1)
            ),
        })
    }
}
