//! Whether something is tested as often as a rule asks, and when the next is due.
//!
//! A rule can only be called broken for days the ledger covers: what was done before its first day is not in it. Two
//! samples of one day count as one, because a law that speaks of them makes one result of them (O.C.G.A. 26-2-457(f)).

use super::{
    frequency::{Frequency, How, Spread},
    when::Day,
};
use chrono::{Datelike, Days, Months};
use std::collections::BTreeSet;

/// Whether a frequency is kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kept {
    /// It is, so far; the next is due by then.
    Met {
        /// The last day for the next one.
        due: Option<Day>,
    },
    /// One is wanted.
    Due {
        /// The last day for it.
        by: Day,
    },
    /// One is missing.
    Overdue {
        /// The first day it was late.
        since: Day,
    },
    /// The rule names no time that could be kept or missed.
    NotKnown,
}

/// A run of whole calendar months, and how many months on the next run begins.
#[derive(Clone, Copy, Debug)]
struct Run {
    from: Day,
    months: u32,
    step: u32,
}

impl Run {
    /// The run that ends with the month or the quarter of a day.
    fn around(how: How, today: Day) -> Option<Run> {
        let first = today.with_day(1)?;
        match how {
            How::PerMonth(_) => Some(Run { from: first, months: 1, step: 1 }),
            How::PerQuarter(_) => Some(Run { from: first.checked_sub_months(Months::new(first.month0() % 3))?, months: 3, step: 3 }),
            How::In { months, .. } => Some(Run { from: first.checked_sub_months(Months::new(months.checked_sub(1)?))?, months, step: 1 }),
            How::EveryMonths(_) | How::EveryDays(_) | How::AsSet => None,
        }
    }

    fn next(&self) -> Option<Run> {
        Some(Run { from: self.from.checked_add_months(Months::new(self.step))?, ..*self })
    }

    fn before(&self, months: u32) -> Option<Run> {
        Some(Run { from: self.from.checked_sub_months(Months::new(months))?, ..*self })
    }

    fn last(self) -> Day {
        self.from.checked_add_months(Months::new(self.months)).and_then(|next| next.pred_opt()).unwrap_or(self.from)
    }

    /// `June 2026`, or `the six months to 30 Jun 2026`.
    fn said(self) -> String {
        if self.months == 1 {
            return self.from.format("%B %Y").to_string();
        }
        let words = ["two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"];
        let nth = usize::try_from(self.months).unwrap_or(0).wrapping_sub(2);
        let many = words.get(nth).map_or_else(|| self.months.to_string(), |word| (*word).to_owned());
        format!("the {many} months to {}", day_said(self.last()))
    }
}

impl How {
    /// How many a run must have.
    fn wanted(self) -> u32 {
        match self {
            How::PerMonth(count) | How::PerQuarter(count) | How::In { count, .. } => count,
            How::EveryMonths(_) | How::EveryDays(_) | How::AsSet => 1,
        }
    }

    /// The days that count between two others, in order. Only a rule on separate days counts one day twice.
    fn counted(self, done: &[Day], from: Day, to: Day) -> Vec<Day> {
        let mut days: Vec<Day> = done.iter().copied().filter(|day| (from..=to).contains(day)).collect();
        days.sort_unstable();
        if !matches!(self, How::In { spread: Some(Spread::Days(_)), .. }) {
            days.dedup();
        }
        days
    }

    /// Whether what was done between two days is enough, both counted; nothing where the rule names no number.
    #[must_use]
    pub fn met_in(self, done: &[Day], from: Day, to: Day) -> Option<bool> {
        let days = self.counted(done, from, to);
        let spread = match self {
            How::AsSet => return None,
            How::In { spread: Some(Spread::Days(wanted)), .. } => number(days.iter().collect::<BTreeSet<_>>().len()) >= wanted,
            How::In { spread: Some(Spread::Months { months, or_months, days_apart }), .. } => {
                let separate = separate_months(&days);
                separate >= months || (separate >= or_months && apart(&days, days_apart))
            }
            _ => true,
        };
        Some(spread && number(days.len()) >= self.wanted())
    }

    /// The months of a run that still need a sample, at the least one.
    fn months_wanting(self, done: &[Day], run: Run) -> u32 {
        let separate = separate_months(&self.counted(done, run.from, run.last()));
        match self {
            How::In { spread: Some(Spread::Months { or_months, .. }), .. } => or_months.saturating_sub(separate).max(1),
            _ => 1,
        }
    }

    /// The last day for the next one after another.
    fn after(self, day: Day) -> Option<Day> {
        match self {
            How::EveryMonths(months) => day.checked_add_months(Months::new(months)),
            How::EveryDays(days) => day.checked_add_days(Days::new(u64::from(days))),
            _ => None,
        }
    }
}

fn number(count: usize) -> u32 {
    u32::try_from(count).unwrap_or(u32::MAX)
}

fn separate_months(days: &[Day]) -> u32 {
    number(days.iter().map(|day| (day.year(), day.month())).collect::<BTreeSet<_>>().len())
}

/// Whether two of the days lie in one month and so many days apart.
fn apart(days: &[Day], wanted: u32) -> bool {
    days.iter().any(|first| {
        days.iter()
            .any(|last| (last.year(), last.month()) == (first.year(), first.month()) && (*last - *first).num_days() >= i64::from(wanted))
    })
}

fn day_said(day: Day) -> String {
    day.format("%-d %b %Y").to_string()
}

/// Whether a frequency is kept today, by the days it was done on. `since` is the first day of the ledger.
#[must_use]
pub fn standing(frequency: &Frequency, done: &[Day], since: Day, today: Day) -> Kept {
    look(frequency.how, done, since, today).map_or(Kept::NotKnown, |(kept, _)| kept)
}

/// The standing, and the run of months it speaks of where there is one.
fn look(how: How, done: &[Day], since: Day, today: Day) -> Option<(Kept, Option<Run>)> {
    let done: Vec<Day> = done.iter().copied().filter(|day| *day <= today).collect();
    match Run::around(how, today) {
        Some(run) => look_at_runs(how, &done, since, run).map(|(kept, run)| (kept, Some(run))),
        None => Some((last_to_next(how, done.into_iter().max(), since, today)?, None)),
    }
}

fn last_to_next(how: How, last: Option<Day>, since: Day, today: Day) -> Option<Kept> {
    let due = last.and_then(|day| how.after(day));
    if let Some(due) = due.filter(|due| today <= *due) {
        return Some(Kept::Met { due: Some(due) });
    }
    // One done before the ledger may not have been the last: another may have followed it that nobody wrote in.
    let by = match due.filter(|_| last >= Some(since)) {
        Some(due) => due,
        None => how.after(since)?,
    };
    Some(if today <= by { Kept::Due { by } } else { Kept::Overdue { since: by.succ_opt()? } })
}

fn look_at_runs(how: How, done: &[Day], since: Day, now: Run) -> Option<(Kept, Run)> {
    let met = |run: Run| how.met_in(done, run.from, run.last()).unwrap_or(false);
    let failed = |run: &Run| run.from >= since && !met(*run);
    if !met(now) {
        let missed = std::iter::successors(now.before(now.step), |run| run.before(run.step)).take_while(failed).last();
        if let Some(first) = missed {
            return Some((Kept::Overdue { since: first.last().succ_opt()? }, now));
        }
    }
    // A calendar month is asked for from the first day on; a run of months only once the ledger covers all of it.
    let short = |run: &Run| !met(*run) && (run.from >= since || run.step == run.months);
    let next = std::iter::successors(Some(now), Run::next).take(600).find(short)?;
    let earlier = how.months_wanting(done, next).checked_sub(1)?;
    let by = next.before(earlier)?.last().max(now.last());
    Some(if met(now) && by > now.last() { (Kept::Met { due: Some(by) }, now) } else { (Kept::Due { by }, next) })
}

impl Frequency {
    /// The standing of one subject as a sentence without its stop:
    /// `2 of 4 plate counts in the six months to 30 Jun 2026; the next by 30 Jun 2026`.
    #[must_use]
    pub fn reason(&self, subject: &str, done: &[Day], since: Day, today: Day) -> String {
        let Some((kept, run)) = look(self.how, done, since, today) else {
            return format!("how often is not written down for {subject}: the department sets it");
        };
        let next = match kept {
            Kept::Met { due: Some(by) } | Kept::Due { by } => format!("; the next by {}", day_said(by)),
            Kept::Overdue { since } => format!("; overdue since {}", day_said(since)),
            _ => String::new(),
        };
        let last = done.iter().filter(|day| **day <= today).max();
        match (run, last) {
            (Some(run), _) => {
                let had = self.how.counted(done, run.from, run.last().min(today)).len();
                format!("{had} of {} {} in {}{next}", self.how.wanted(), several(subject, self.how.wanted()), run.said())
            }
            (None, Some(last)) => format!("last {subject} on {}{next}", day_said(*last)),
            (None, None) => format!("no {subject} is written down{next}"),
        }
    }
}

/// `plate counts`, `TB tests`; what has no such plural is tested for: `tests for Salmonella`.
fn several(subject: &str, wanted: u32) -> String {
    let countable = ["count", "test", "exam", "inspection", "vaccination"].iter().any(|end| subject.ends_with(end));
    let many = if wanted == 1 { "" } else { "s" };
    if countable { format!("{subject}{many}") } else { format!("test{many} for {subject}") }
}
