//! The usual week: the minutes that nobody wrote down because they are the same every week.
//!
//! A week in which anything is written for a job by a person goes by what is written; every other week is filled with the
//! usual minutes and marked as a guess. A week begins on Monday (ISO 8601).

use super::{bills::Spent, money::Money, wear::Span, when::Day};
use chrono::Datelike;
use std::collections::{BTreeMap, HashSet};

/// A line of the usual week, as the ledger holds it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Usual {
    /// Its number.
    pub number: i64,
    /// The first day it holds.
    pub since: Day,
    /// The last, if it has one.
    pub until: Option<Day>,
    /// What the minutes go on.
    pub job: String,
    /// Who works.
    pub person: String,
    /// Minutes in a week.
    pub minutes: i64,
    /// What is paid an hour, to somebody hired.
    pub wage: Option<Money>,
}

fn monday(day: Day) -> Day {
    let since = u64::from(day.weekday().num_days_from_monday());
    day.checked_sub_days(chrono::Days::new(since)).unwrap_or(day)
}

/// The days whose minutes must be known to fill a span: whole weeks.
#[must_use]
pub fn whole_weeks(span: Span) -> Span {
    let last = monday(span.to).checked_add_days(chrono::Days::new(6)).unwrap_or(span.to);
    Span { from: monday(span.from), to: last }
}

/// The usual minutes of a span, for every week nothing is written for that job and person; one for each line and span, rounded
/// once to whole minutes.
#[must_use]
pub fn fill(usual: &[Usual], written: &[Spent], span: Span, last: Day) -> Vec<Spent> {
    let weeks = whole_weeks(span);
    let have: HashSet<(Day, &str, &str)> =
        written.iter().filter(|own| weeks.has(own.day)).map(|own| (monday(own.day), own.job.as_str(), own.person.as_str())).collect();
    let span = Span { from: span.from, to: span.to.min(last) };
    let mut sevenths: BTreeMap<i64, i64> = BTreeMap::new();
    for own in usual {
        let held = span.shared_with(Span { from: own.since, to: own.until.unwrap_or(Day::MAX) });
        let mut week = monday(held.from);
        while week <= held.to {
            let Some(next) = week.checked_add_days(chrono::Days::new(7)) else { break };
            if !have.contains(&(week, own.job.as_str(), own.person.as_str())) {
                let days = held.shared_with(Span { from: week, to: next.pred_opt().unwrap_or(week) }).days();
                *sevenths.entry(own.number).or_default() += own.minutes * days;
            }
            week = next;
        }
    }
    usual
        .iter()
        .filter_map(|own| {
            // Half a minute counts as a minute.
            let minutes = (2 * sevenths.get(&own.number)? + 7) / 14;
            let opens = format!("/records/usual_weeks/{}", own.number);
            let (job, person) = (own.job.clone(), own.person.clone());
            (minutes > 0).then_some(Spent { opens, day: span.to, job, person, minutes, wage: own.wage, guess: true })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> Day {
        text.parse().unwrap()
    }

    fn usual(minutes: i64) -> Usual {
        let (job, person) = ("milking".to_owned(), "Mina".to_owned());
        Usual { number: 1, since: day("2026-06-01"), until: None, job, person, minutes, wage: None }
    }

    fn written(on: &str) -> Spent {
        let (job, person) = ("milking".to_owned(), "Mina".to_owned());
        Spent { opens: String::new(), day: day(on), job, person, minutes: 50, wage: None, guess: false }
    }

    /// Source: ISO 8601, a week begins on Monday; 1 June 2026 is one. Four whole weeks and two days of 350 minutes a week.
    #[test]
    fn a_month_is_filled_but_for_the_weeks_that_are_written() {
        let june = Span { from: day("2026-06-01"), to: day("2026-06-30") };
        let minutes = |written: &[Spent]| fill(&[usual(350)], written, june, day("2026-12-31")).iter().map(|own| own.minutes).sum::<i64>();
        assert_eq!(minutes(&[]), 1_500, "30 days of 50");
        assert_eq!(minutes(&[written("2026-06-14")]), 1_150, "the week from the 8th to the 14th is written");
        assert_eq!(minutes(&[written("2026-07-05")]), 1_400, "two days of the last week are in June, and it is written");
        let other = Spent { person: "Del".into(), ..written("2026-06-14") };
        assert_eq!(minutes(&[other]), 1_500, "somebody else's week is not hers");
        assert_eq!(fill(&[usual(350)], &[], june, day("2026-06-07")).iter().map(|own| own.minutes).sum::<i64>(), 350, "no day to come");
        assert_eq!(whole_weeks(june), Span { from: day("2026-06-01"), to: day("2026-07-05") });
    }
}
