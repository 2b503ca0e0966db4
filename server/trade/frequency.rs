//! How often something must be tested, written so that a farmer can read it in one cell, and when the next is due.
//!
//! A rule can only be called broken for days the ledger covers: what was done before its first day is not in it. Two
//! samples of one day count as one, because a law that speaks of them makes one result of them (O.C.G.A. 26-2-457(f)).

use super::{
    Fault,
    analytes::Analyte,
    short,
    steps::{NOT_KNOWN, Sure, sure_word, with_sure},
    when::Day,
};
use chrono::{Datelike, Days, Months};
use std::{collections::BTreeSet, fmt};

/// On which days or months the samples of a span must lie.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Spread {
    /// In so many separate months, or in fewer where two dates of one month lie far enough apart.
    Months {
        /// Separate months.
        months: u32,
        /// Separate months that are enough where the dates are far apart.
        or_months: u32,
        /// Days between two dates of one month.
        days_apart: u32,
    },
    /// On so many separate days.
    Days(u32),
}

/// How often.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum How {
    /// So many in each calendar month.
    PerMonth(u32),
    /// So many in each calendar quarter.
    PerQuarter(u32),
    /// So many in any run of calendar months.
    In {
        /// How many.
        count: u32,
        /// The length of the run.
        months: u32,
        /// How they must be spread over it.
        spread: Option<Spread>,
    },
    /// No more than so many months from one to the next.
    EveryMonths(u32),
    /// No more than so many days from one to the next.
    EveryDays(u32),
    /// As the department sets it.
    AsSet,
}

/// What must be tested or done, and how often.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Frequency {
    /// What is tested or done.
    pub subjects: Vec<String>,
    /// How often.
    pub how: How,
    /// Whether for each cow by herself.
    pub each_cow: bool,
    /// How sure it is.
    pub sure: Sure,
}

/// All that a place asks to be tested and done again and again. Empty means not known.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Frequencies(pub Vec<Frequency>);

impl Frequencies {
    /// What is tested of every cow by herself.
    #[must_use]
    pub fn of_each_cow(&self) -> Vec<Analyte> {
        let own = self.0.iter().filter(|own| own.each_cow).flat_map(|own| &own.subjects);
        own.map(|subject| Analyte::parse(subject)).filter(Analyte::is_known).collect()
    }
}

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

    fn parse(text: &str) -> Option<How> {
        if text == "as the department sets" {
            return Some(How::AsSet);
        }
        if let Some(gap) = text.strip_prefix("every ") {
            let months = gap.strip_suffix(" months").and_then(|figure| whole(figure, 120)).map(How::EveryMonths);
            return months.or_else(|| gap.strip_suffix(" days").and_then(|figure| whole(figure, 3660)).map(How::EveryDays));
        }
        if let Some(count) = text.strip_suffix(" a month") {
            return whole(count, 99).map(How::PerMonth);
        }
        if let Some(count) = text.strip_suffix(" a quarter") {
            return whole(count, 99).map(How::PerQuarter);
        }
        let (run, spread) = text.split_once(", ").map_or((text, None), |(run, spread)| (run, Some(spread)));
        let (count, months) = run.strip_suffix(" months")?.split_once(" in ")?;
        let spread = spread.map(|spread| Spread::parse(spread).ok_or(())).transpose().ok()?;
        Some(How::In { count: whole(count, 99)?, months: whole(months, 120)?, spread })
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

    fn parse(part: &str) -> Option<Frequency> {
        let (body, sure) = with_sure(part)?;
        let (subjects, how) = body.rsplit_once(": ")?;
        let (how, each_cow) = how.strip_suffix(", each cow").map_or((how, false), |how| (how, true));
        let subjects: Vec<String> = subjects.split(',').map(|subject| subject.trim().to_owned()).collect();
        let named = |subject: &String| {
            let plain = |c: char| c.is_alphanumeric() || " .:-()".contains(c);
            subject.starts_with(char::is_alphabetic) && subject.len() <= 60 && subject.chars().all(plain)
        };
        subjects.iter().all(named).then_some(Frequency { subjects, how: How::parse(how.trim())?, each_cow, sure })
    }
}

/// `plate counts`, `TB tests`; what has no such plural is tested for: `tests for Salmonella`.
fn several(subject: &str, wanted: u32) -> String {
    let countable = ["count", "test", "exam", "inspection", "vaccination"].iter().any(|end| subject.ends_with(end));
    let many = if wanted == 1 { "" } else { "s" };
    if countable { format!("{subject}{many}") } else { format!("test{many} for {subject}") }
}

/// A whole number between two others, in plain digits.
pub(super) fn whole(typed: &str, most: u32) -> Option<u32> {
    let digits = !typed.is_empty() && typed.bytes().all(|byte| byte.is_ascii_digit());
    typed.parse().ok().filter(|figure| digits && (1..=most).contains(figure))
}

impl Spread {
    fn parse(text: &str) -> Option<Spread> {
        if let Some(days) = text.strip_prefix("on ") {
            return whole(days.strip_suffix(" days")?, 99).map(Spread::Days);
        }
        let (months, or) = text.strip_prefix("in ")?.split_once(" months or in ")?;
        let (or_months, days) = or.strip_suffix(" days apart")?.split_once(" with two dates ")?;
        Some(Spread::Months { months: whole(months, 99)?, or_months: whole(or_months, 99)?, days_apart: whole(days, 31)? })
    }
}

impl fmt::Display for How {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            How::PerMonth(count) => write!(f, "{count} a month"),
            How::PerQuarter(count) => write!(f, "{count} a quarter"),
            How::In { count, months, spread } => {
                write!(f, "{count} in {months} months")?;
                match spread {
                    Some(Spread::Months { months, or_months, days_apart }) => {
                        write!(f, ", in {months} months or in {or_months} with two dates {days_apart} days apart")
                    }
                    Some(Spread::Days(days)) => write!(f, ", on {days} days"),
                    None => Ok(()),
                }
            }
            How::EveryMonths(months) => write!(f, "every {months} months"),
            How::EveryDays(days) => write!(f, "every {days} days"),
            How::AsSet => f.write_str("as the department sets"),
        }
    }
}

impl fmt::Display for Frequency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let each = if self.each_cow { ", each cow" } else { "" };
        write!(f, "{}: {}{each} [{}]", self.subjects.join(", "), self.how, sure_word(self.sure))
    }
}

impl Frequencies {
    /// Reads a line such as `plate count, coliforms: 2 a month [read]; TB test: every 13 months [read]`.
    ///
    /// # Errors
    /// A sentence when a part is none of the known ways.
    pub fn parse(text: &str) -> Result<Frequencies, Fault> {
        parts(text, Frequency::parse, "is not a way to say how often. Write it like: plate count, coliforms: 2 a month [chosen]")
            .map(Frequencies)
    }
}

/// The parts of a line, each read; an empty line and `not known` have none.
pub(super) fn parts<T>(text: &str, read: fn(&str) -> Option<T>, wrong: &str) -> Result<Vec<T>, Fault> {
    if matches!(text.trim(), "" | NOT_KNOWN) {
        return Ok(Vec::new());
    }
    text.split(';').map(|part| read(part).ok_or_else(|| Fault::says(format!("“{}” {wrong}", short(part))))).collect()
}

/// Parts as one line.
pub(super) fn line<T: fmt::Display>(parts: &[T], f: &mut fmt::Formatter<'_>) -> fmt::Result {
    if parts.is_empty() {
        return f.write_str(NOT_KNOWN);
    }
    parts.iter().enumerate().try_for_each(|(nth, part)| write!(f, "{}{part}", if nth == 0 { "" } else { "; " }))
}

impl fmt::Display for Frequencies {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        line(&self.0, f)
    }
}
