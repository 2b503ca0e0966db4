//! How often something must be tested, written so that a farmer can read it in one cell.

use super::{
    Fault,
    analytes::Analyte,
    short,
    steps::{NOT_KNOWN, Sure, sure_word, with_sure},
};
use std::fmt;

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

impl How {
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

impl Frequency {
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
