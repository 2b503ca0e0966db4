//! What is changed in a what-if, as one line that can be kept and typed: `price of Hay +20 %; worth of an hour = 18`.
//!
//! A change names a driver, never a result: the cost is worked out again from what is left of the records.

use super::{
    Fault,
    measure::{figure_of, rounded, trimmed, without_dress},
    short,
    when::{Day, parse_day},
};
use rust_decimal::Decimal;
use std::fmt;

/// One driver that is changed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Change {
    /// What is paid for a sort of ticket, or for what goes into a store, by so many per cent.
    Price(String, Decimal),
    /// A figure the farm assumes is another.
    Assumed(String, Decimal),
    /// What a store uses up each time is another: jars lost for each jar filled.
    Use(String, Decimal),
    /// The cows give so many per cent more or less.
    Milk(Decimal),
    /// So many half-gallons more or less reach people every week: one more share, one fewer.
    HandedOut(Decimal),
    /// A cow is dry from this day.
    Dry(String, Day),
    /// Milked once a day: half the milkings and their minutes, and so many per cent less milk.
    OnceADay(Decimal),
    /// What comes in is so many per cent more or less.
    ComesIn(Decimal),
}

/// The changes of one what-if, in the order they were typed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Changes(pub Vec<Change>);

impl Changes {
    /// Reads changes parted by semicolons.
    ///
    /// # Errors
    /// A sentence for the first that is no change, and how each kind is written.
    pub fn parse(typed: &str) -> Result<Changes, Fault> {
        let changes: Result<Vec<Change>, Fault> =
            typed.split(';').map(str::trim).filter(|part| !part.is_empty()).map(|part| one(part).ok_or_else(|| wrong(part))).collect();
        let changes = changes?;
        if changes.is_empty() { Err(wrong(typed)) } else { Ok(Changes(changes)) }
    }
}

fn wrong(part: &str) -> Fault {
    Fault::says(format!(
        "“{}” is no change. Write like: price of Hay +20 %; worth of an hour = 18; use of Jars = 0.06; milk -10 %; hand out +2 a week; Damson dry from 2026-09-01; once a day, milk -25 %; comes in +5 %.",
        short(part)
    ))
}

/// The most a figure is moved by: ten times as much is a slip, and all of it gone is no farm.
pub(super) fn percent(text: &str) -> Option<Decimal> {
    let figure = rounded(figure_of(&without_dress(text.trim().trim_end_matches('%').trim().trim_start_matches('+')))?, 2);
    (Decimal::from(-100) <= figure && figure <= Decimal::from(900)).then_some(figure)
}

/// Reads one change. A name keeps no blanks but single ones, so that what is shown is read as the same.
fn one(part: &str) -> Option<Change> {
    let part: Vec<String> = part.replacen('=', " = ", 1).split_whitespace().map(str::to_owned).collect();
    let part = part.join(" ");
    // Only the letters of our own words change, so that a place in one is the same place in the other.
    let lower = part.to_ascii_lowercase();
    if let Some(rest) = lower.strip_prefix("once a day") {
        let rest = rest.trim_start_matches(',').trim();
        let less = percent(rest.strip_prefix("milk")?)?;
        return (less < Decimal::ZERO).then_some(Change::OnceADay(less));
    }
    if let Some(rest) = lower.strip_prefix("milk ") {
        return Some(Change::Milk(percent(rest)?));
    }
    if let Some(rest) = lower.strip_prefix("comes in ") {
        return Some(Change::ComesIn(percent(rest)?));
    }
    if let Some(rest) = lower.strip_prefix("hand out ") {
        let jars = rounded(figure_of(rest.trim_end_matches("a week").trim().trim_start_matches('+'))?, 2);
        return (jars.abs() <= Decimal::from(1_000)).then_some(Change::HandedOut(jars));
    }
    if lower.starts_with("price of ") {
        let rest = part.get("price of ".len()..)?.trim_end_matches('%').trim_end();
        let (name, by) = rest.rsplit_once(' ')?;
        return Some(Change::Price(name.trim().to_owned(), percent(by)?));
    }
    if let Some((name, day)) = lower.find(" dry from ").and_then(|at| Some((part.get(..at)?, part.get(at + " dry from ".len()..)?))) {
        return Some(Change::Dry(name.trim().to_owned(), parse_day(day).ok()?));
    }
    let (name, figure) = part.split_once('=')?;
    let figure = rounded(figure_of(&without_dress(figure)).filter(|figure| *figure >= Decimal::ZERO)?, 4);
    let name = Some(name.trim()).filter(|name| !name.is_empty())?;
    match name.to_ascii_lowercase().strip_prefix("use of ") {
        Some(_) => Some(Change::Use(name.get("use of ".len()..)?.trim().to_owned(), figure)),
        None => Some(Change::Assumed(name.to_owned(), figure)),
    }
}

impl fmt::Display for Change {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let by = |percent: &Decimal| format!("{}{} %", if percent.is_sign_negative() { "" } else { "+" }, trimmed(*percent, 2));
        match self {
            Change::Price(name, percent) => write!(f, "price of {name} {}", by(percent)),
            Change::Assumed(name, figure) => write!(f, "{name} = {}", trimmed(*figure, 4)),
            Change::Use(name, figure) => write!(f, "use of {name} = {}", trimmed(*figure, 4)),
            Change::Milk(percent) => write!(f, "milk {}", by(percent)),
            Change::HandedOut(jars) => {
                write!(f, "hand out {}{} a week", if jars.is_sign_negative() { "" } else { "+" }, trimmed(*jars, 2))
            }
            Change::Dry(cow, day) => write!(f, "{cow} dry from {day}"),
            Change::OnceADay(percent) => write!(f, "once a day, milk {}", by(percent)),
            Change::ComesIn(percent) => write!(f, "comes in {}", by(percent)),
        }
    }
}

impl fmt::Display for Changes {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let all: Vec<String> = self.0.iter().map(ToString::to_string).collect();
        f.write_str(&all.join("; "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What is kept is what is shown, so a change that is nothing once it is written down is nothing from the start.
    #[test]
    fn a_change_too_small_to_be_shown_is_none() {
        assert!(Changes::parse("milk=,3").is_err() && Changes::parse("= 3").is_err(), "neither is a name");
        assert!(Changes::parse("once a day, milk -0.004 %").is_err());
        assert_eq!(Changes::parse("milk -0.004 %").unwrap(), Changes(vec![Change::Milk(Decimal::ZERO)]));
        assert_eq!(Changes::parse("İris dry from 2026-09-01").unwrap().to_string(), "İris dry from 2026-09-01");
    }

    #[test]
    fn what_is_shown_can_be_typed() {
        let typed = "price of Hay +20 %; price of Dairy grain, 16 % -5 %; worth of an hour = 18; use of Jars = 0.06; milk -10 %; hand out +2 a week; Damson dry from 2026-09-01; once a day, milk -25 %; comes in +5 %";
        let read = Changes::parse(typed).unwrap();
        assert_eq!(read.0.len(), 9);
        assert_eq!(read.to_string(), typed);
        assert_eq!(Changes::parse(&read.to_string()), Ok(read));
    }

    #[test]
    fn what_is_no_change_gets_a_sentence() {
        for typed in [
            "",
            ";",
            "hay",
            "milk lots",
            "milk -101 %",
            "worth of an hour = -3",
            "Damson dry from someday",
            "hand out many a week",
            "price of Hay",
            "🐄",
        ] {
            assert!(Changes::parse(typed).unwrap_err().to_string().contains("is no change"), "{typed}");
        }
    }
}
