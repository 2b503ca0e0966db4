//! The days a report of costs looks at: the ones asked for, the last twelve months, and each calendar month in them.
//!
//! A month alone swings wildly, because hay is bought once and a dry cow eats and gives nothing. So whatever is asked for,
//! the last twelve months stand beside it.

use super::{
    records::Remark,
    wear::Span,
    when::{Day, day_shown, parse_day},
};
use chrono::{Datelike, Days, Months};

/// The days somebody asked about, and the twelve months that stand beside them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Asked {
    /// The days asked about.
    pub span: Span,
    /// The last twelve months up to today.
    pub year: Span,
    /// The day records start on, if that is known.
    pub since: Option<Day>,
}

impl Asked {
    /// The last twelve months up to a day and nothing else.
    #[must_use]
    pub fn year_to(today: Day, since: Option<Day>) -> Asked {
        let year = twelve(today, since);
        Asked { span: year, year, since }
    }

    /// The days between two that were typed; an end left empty is today, a beginning left empty is twelve months before.
    ///
    /// # Errors
    /// A remark for each day that is no day, is still to come, or comes in the wrong order.
    pub fn read(from: &str, to: &str, today: Day, since: Option<Day>) -> Result<Asked, Vec<Remark>> {
        let mut remarks = Vec::new();
        let mut day = |field: &str, typed: &str| {
            if typed.trim().is_empty() {
                return None;
            }
            match parse_day(typed) {
                Ok(day) if day > today => {
                    remarks.push(Remark::fault(field, format!("{} has not come yet. Write today or earlier.", day_shown(day))));
                }
                Ok(day) => return Some(day),
                Err(fault) => remarks.push(Remark::fault(field, fault)),
            }
            None
        };
        let (from, to) = (day("from", from), day("to", to));
        let asked = Asked::between(from, to, today, since);
        if asked.span.days() == 0 {
            remarks.push(Remark::fault(
                "from",
                format!("These days begin on {}, after they end on {}.", day_shown(asked.span.from), day_shown(asked.span.to)),
            ));
        }
        if remarks.is_empty() { Ok(asked) } else { Err(remarks) }
    }

    /// The days between two; an end left out is today, a beginning left out is twelve months before the end.
    #[must_use]
    pub fn between(from: Option<Day>, to: Option<Day>, today: Day, since: Option<Day>) -> Asked {
        let last = to.unwrap_or(today);
        let span = Span { from: from.unwrap_or_else(|| twelve(last, since).from), to: last };
        Asked { span, year: twelve(today, since), since }
    }

    /// Whether the days asked about are those twelve months.
    #[must_use]
    pub fn is_year(self) -> bool {
        self.span == self.year
    }

    /// The twelve calendar months up to the end of the twelve months, oldest first, without any before records start.
    #[must_use]
    pub fn months(self) -> Vec<Span> {
        let first = first_of(self.year.to).checked_sub_months(Months::new(11)).unwrap_or(self.year.from);
        let first = self.since.map_or(first, |since| first.max(since.min(self.year.to)));
        months_in(Span { from: first, to: self.year.to })
    }

    /// The up to twelve months that end with each of those months, for the line that tells the year from the season.
    #[must_use]
    pub fn rolling(self) -> Vec<Span> {
        let up_to = |month: Span| {
            if month.to == self.year.to { self.year } else { twelve(month.to, self.since.filter(|since| *since <= month.to)) }
        };
        self.months().into_iter().map(up_to).collect()
    }

    /// The days of the twelve months that were also written down a year before, and those days of then: first then, now second.
    /// None when they are fewer than four weeks, for then a bale more or less would be all the difference.
    #[must_use]
    pub fn beside(self) -> Option<(Span, Span)> {
        let back = |day: Day| day.checked_sub_months(Months::new(12));
        let forth = |day: Day| day.checked_add_months(Months::new(12));
        let first = self.since.and_then(forth).map_or(self.year.from, |first| first.max(self.year.from));
        let now = Span { from: first, to: self.year.to };
        let then = Span { from: back(now.from)?, to: back(now.to)? };
        (now.days() >= 28).then_some((then, now))
    }

    /// The weeks of the twelve months, from Monday to Sunday, the first and the last cut.
    #[must_use]
    pub fn weeks(self) -> Vec<Span> {
        let mut weeks = Vec::new();
        let mut from = self.year.from;
        while from <= self.year.to {
            let left = 6 - u64::from(from.weekday().num_days_from_monday());
            let to = from.checked_add_days(Days::new(left)).unwrap_or(self.year.to).min(self.year.to);
            weeks.push(Span { from, to });
            let Some(next) = to.succ_opt() else { break };
            from = next;
        }
        weeks
    }

    /// Every span whose milk the report needs.
    #[must_use]
    pub fn spans(self) -> Vec<Span> {
        let beside = self.beside().map(|(then, now)| [then, now]).into_iter().flatten();
        let all = [self.span, self.year].into_iter().chain(self.months()).chain(self.rolling()).chain(beside).chain(self.weeks());
        let mut spans: Vec<Span> = Vec::new();
        for span in all {
            if !spans.contains(&span) {
                spans.push(span);
            }
        }
        spans
    }

    /// Every span in which the report looks at each cow.
    #[must_use]
    pub fn spans_by_cow(self) -> Vec<Span> {
        let mut spans = self.months();
        spans.extend([self.span, self.year]);
        spans.sort_by_key(|span| (span.from, span.to));
        spans.dedup();
        spans
    }
}

/// The twelve months up to a day. A farm that has kept records for less has only those: to charge it a year of wear for a
/// month of milk would be no answer.
#[must_use]
pub fn twelve(last: Day, since: Option<Day>) -> Span {
    let year_before = |next: Day| {
        let from = next.checked_sub_months(Months::new(12))?;
        // From 29 February there is no such day a year before: the month after begins instead.
        if from.day() == next.day() { Some(from) } else { from.succ_opt() }
    };
    let from = last.succ_opt().and_then(year_before).unwrap_or(last);
    Span { from: since.filter(|since| *since <= last).map_or(from, |since| from.max(since)), to: last }
}

/// The calendar months of a span, the first and the last cut where it begins and ends.
#[must_use]
pub fn months_in(span: Span) -> Vec<Span> {
    let mut months = Vec::new();
    let mut from = span.from;
    while from <= span.to {
        let Some(next) = first_of(from).checked_add_months(Months::new(1)) else { break };
        months.push(Span { from, to: next.pred_opt().unwrap_or(next).min(span.to) });
        from = next;
    }
    months
}

fn first_of(day: Day) -> Day {
    day.with_day(1).unwrap_or(day)
}

/// A month by its name, and that it is not whole when it is not: `Nov 2026, to the 21st`.
#[must_use]
pub fn month_shown(month: Span) -> String {
    let name = month.from.format("%b %Y");
    let ends = month.to.succ_opt().is_none_or(|next| next.day() == 1);
    match (month.from.day() == 1, ends) {
        (true, true) => name.to_string(),
        (true, false) => format!("{name}, to the {}", month.to.format("%-d")),
        (false, _) => format!("{name}, from the {}", month.from.format("%-d")),
    }
}

/// Months said in one breath, those that follow one another joined: `May 2026, and July to September 2026`.
#[must_use]
pub fn months_said(months: &[Span]) -> String {
    let mut runs: Vec<(Day, Day)> = Vec::new();
    for month in months {
        let day = first_of(month.from);
        match runs.last_mut() {
            Some((_, last)) if last.checked_add_months(Months::new(1)) == Some(day) => *last = day,
            _ => runs.push((day, day)),
        }
    }
    let said: Vec<String> = runs
        .into_iter()
        .map(|(first, last)| match (first == last, first.year() == last.year()) {
            (true, _) => first.format("%B %Y").to_string(),
            (false, true) => format!("{} to {}", first.format("%B"), last.format("%B %Y")),
            (false, false) => format!("{} to {}", first.format("%B %Y"), last.format("%B %Y")),
        })
        .collect();
    match said.split_last() {
        Some((last, [])) => last.clone(),
        Some((last, rest)) => format!("{} and {last}", rest.join(", ")),
        None => String::new(),
    }
}

/// A span as people write it: `22 Nov 2025 to 21 Nov 2026`.
#[must_use]
pub fn span_said(span: Span) -> String {
    format!("{} to {}", span.from.format("%-d %b %Y"), span.to.format("%-d %b %Y"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> Day {
        text.parse().unwrap()
    }

    /// Source: the calendar.
    #[test]
    fn twelve_months_end_today() {
        let asked = Asked::year_to(day("2026-11-21"), Some(day("2020-01-01")));
        assert_eq!(span_said(asked.span), "22 Nov 2025 to 21 Nov 2026");
        let months = asked.months();
        assert_eq!(months.len(), 12);
        assert_eq!(months.first().map(|month| month_shown(*month)), Some("Dec 2025".to_owned()));
        assert_eq!(months.last().map(|month| month_shown(*month)), Some("Nov 2026, to the 21".to_owned()));
        let leap = twelve(day("2028-02-28"), None);
        assert_eq!((leap.from, leap.days()), (day("2027-03-01"), 365));
        assert_eq!(twelve(day("2029-02-28"), None).from, day("2028-03-01"));
    }

    #[test]
    fn a_new_farm_has_only_its_own_days() {
        let asked = Asked::year_to(day("2026-11-21"), Some(day("2026-09-15")));
        assert_eq!(asked.span.from, day("2026-09-15"));
        let shown: Vec<String> = asked.months().into_iter().map(month_shown).collect();
        assert_eq!(shown, ["Sep 2026, from the 15", "Oct 2026", "Nov 2026, to the 21"]);
    }

    #[test]
    fn days_that_cannot_be_asked_about_get_a_sentence() {
        let read = |from: &str, to: &str| Asked::read(from, to, day("2026-11-21"), None).map(|asked| asked.span.days());
        assert_eq!(read("", ""), Ok(365));
        assert_eq!(read("2026-11-01", ""), Ok(21));
        for (from, to, faults) in [("2026-11-02", "2026-11-01", 1), ("soon", "2027-01-01", 2), ("🐄", "", 1)] {
            assert_eq!(read(from, to).unwrap_err().len(), faults, "{from} {to}");
        }
    }

    #[test]
    fn months_are_said_in_one_breath() {
        let months = |texts: &[&str]| months_said(&texts.iter().map(|text| Span { from: day(text), to: day(text) }).collect::<Vec<_>>());
        assert_eq!(months(&["2026-05-01"]), "May 2026");
        assert_eq!(
            months(&["2025-12-01", "2026-01-01", "2026-05-01", "2026-07-04", "2026-08-01"]),
            "December 2025 to January 2026, May 2026 and July to August 2026"
        );
    }
}
