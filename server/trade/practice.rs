//! Practice: a call-back of a past lot, timed and graded. Nobody is rung and nothing is sent; whoever practises writes down what
//! would come of each call, and the program says how long it took and how much of the milk is accounted for.
//!
//! Targets are common practice of mock recalls: everybody tried within two hours, all of the product accounted for, once a year. A
//! trace exercise accounts for the milk; a mock recall also tests whether people can be reached.

use super::{
    accounted,
    called::{TRY_WITHIN_HOURS, done_at},
    case::Case,
    measure::trimmed,
    trace::LotId,
    when::{Day, Moment, span_shown},
};
use rust_decimal::Decimal;

/// A past lot that could be practised with.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Past {
    /// The lot.
    pub lot: LotId,
    /// Its code.
    pub code: String,
    /// How many households had some of it.
    pub households: i64,
}

/// Picks the lot to practise with: another one each day, out of those that went to the most households, so that nobody can learn
/// it by heart and it is never an empty one.
#[must_use]
pub fn picked(mut past: Vec<Past>, on: Day) -> Option<Past> {
    past.retain(|own| own.households > 0);
    past.sort_by_key(|own| (std::cmp::Reverse(own.households), own.lot));
    past.truncate(12);
    let count = i64::try_from(past.len()).ok().filter(|count| *count > 0)?;
    let days = i64::from(chrono::Datelike::num_days_from_ce(&on));
    usize::try_from(days.rem_euclid(count)).ok().and_then(|place| past.into_iter().nth(place))
}

/// How a practice went.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Grade {
    /// Minutes from its opening to its end.
    pub minutes: i64,
    /// Minutes until everybody was tried; nothing when somebody was not.
    pub tried: Option<i64>,
    /// Households.
    pub households: usize,
    /// Of them, reached.
    pub reached: usize,
    /// Of them, with two ways to reach them written down.
    pub two_ways: usize,
    /// Hand-outs to unknown walk-ins, who could not be rung at all.
    pub walk_ins: usize,
    /// Of the jars handed out, the percent accounted for.
    pub said: Option<Decimal>,
}

impl Grade {
    /// Grades a practice that ends now.
    #[must_use]
    pub fn of(case: &Case, now: Moment) -> Grade {
        let progress = case.progress();
        Grade {
            minutes: now.minutes_since(case.opened),
            tried: done_at(&case.recipients).0.map(|at| at.minutes_since(case.opened)),
            households: progress.households,
            reached: progress.reached,
            two_ways: case.recipients.iter().filter(|own| own.ways().len() > 1).count(),
            walk_ins: progress.walk_ins,
            said: accounted::percent_said(&case.recipients),
        }
    }

    /// What was reached and what was not, line by line: the target, what came of it, and whether it was met.
    #[must_use]
    pub fn lines(&self) -> Vec<(String, String, bool)> {
        let tried = self.tried.map_or_else(|| "not everybody was tried".to_owned(), span_shown);
        let said = self.said.map_or_else(|| "nothing was handed out".to_owned(), |own| format!("{} %", trimmed(own, 1)));
        let of = |count: usize| format!("{count} of {}", self.households);
        vec![
            (format!("Everybody tried within {TRY_WITHIN_HOURS} hours"), tried, self.tried.is_some_and(|own| own <= TRY_WITHIN_HOURS * 60)),
            ("Every household reached".to_owned(), of(self.reached), self.reached == self.households),
            ("Two ways to reach each household".to_owned(), of(self.two_ways), self.two_ways == self.households),
            ("Every jar handed out accounted for".to_owned(), said, self.said.is_none_or(|own| own == Decimal::ONE_HUNDRED)),
            (
                "No jar with somebody nobody knows".to_owned(),
                super::callback::so_many(self.walk_ins, "hand-out", "hand-outs"),
                self.walk_ins == 0,
            ),
        ]
    }

    /// In one line, for the file.
    #[must_use]
    pub fn says(&self) -> String {
        let lines = self.lines();
        let met = lines.iter().filter(|(_, _, met)| *met).count();
        let said: Vec<String> =
            lines.iter().map(|(target, came, met)| format!("{target}: {came}{}", if *met { "" } else { " (missed)" })).collect();
        format!("{met} of {} met in {}. {}.", lines.len(), span_shown(self.minutes), said.join("; "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::when::parse_day;

    #[test]
    fn another_lot_each_day_and_never_an_empty_one() {
        let past = |number, households| Past { lot: LotId(number), code: format!("L{number}"), households };
        let all = vec![past(1, 0), past(2, 3), past(3, 9), past(4, 5)];
        let days: Vec<Day> = parse_day("2026-11-21").unwrap().iter_days().take(6).collect();
        let picks: Vec<String> = days.iter().map(|on| picked(all.clone(), *on).unwrap().code).collect();
        assert!(!picks.contains(&"L1".to_owned()));
        assert_ne!(picks[0], picks[1]);
        assert_eq!(picks[0], picks[3], "three lots go round");
        assert_eq!(picked(vec![past(1, 0)], days[0]), None);
    }
}
