//! Moments and days, on the farm's own clock.
//!
//! A clock that must run for 36 hours runs for 36 hours, even when the clocks go forward in the night, so moments are
//! kept as seconds and only shown in the farm's time zone.

use super::{Fault, short};
use chrono::{DateTime, Datelike, LocalResult, NaiveDate, NaiveDateTime, SecondsFormat, TimeZone, Timelike, Utc};
use chrono_tz::Tz;
use std::fmt;

/// A day on the farm's calendar.
pub type Day = NaiveDate;

/// A point in time, in whole seconds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Moment(i64);

impl Moment {
    /// So many seconds since the start of 1970, UTC.
    #[must_use]
    pub const fn seconds(seconds: i64) -> Moment {
        Moment(seconds)
    }

    /// Seconds since the start of 1970, for keeping.
    #[must_use]
    pub const fn in_seconds(self) -> i64 {
        self.0
    }

    /// The moment so many minutes later.
    #[must_use]
    pub const fn plus_minutes(self, minutes: i64) -> Moment {
        Moment(self.0 + minutes * 60)
    }

    /// The moment so many elapsed hours later.
    #[must_use]
    pub const fn plus_hours(self, hours: i64) -> Moment {
        self.plus_minutes(hours * 60)
    }

    /// Whether its year is one a farm's record can have.
    #[must_use]
    pub fn can_be_right(self) -> bool {
        DateTime::from_timestamp(self.0, 0).is_some_and(|time| (1990..2100).contains(&time.year()))
    }

    /// Whole minutes from `earlier` to here.
    #[must_use]
    pub const fn minutes_since(self, earlier: Moment) -> i64 {
        (self.0 - earlier.0).div_euclid(60)
    }
}

impl From<DateTime<Utc>> for Moment {
    fn from(time: DateTime<Utc>) -> Moment {
        Moment(time.timestamp())
    }
}

/// The time zone the farm lives in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Zone(Tz);

impl Zone {
    /// Universal time, for a farm not set up yet.
    pub const UTC: Zone = Zone(Tz::UTC);

    /// Reads a zone's name, such as `America/New_York`.
    ///
    /// # Errors
    /// A sentence when no zone has that name.
    pub fn parse(typed: &str) -> Result<Zone, Fault> {
        typed
            .trim()
            .parse()
            .map(Zone)
            .map_err(|_| Fault::says(format!("“{}” is not a time zone. Write it like America/New_York.", short(typed))))
    }

    fn local(self, moment: Moment) -> DateTime<Tz> {
        self.0.timestamp_opt(moment.0, 0).single().unwrap_or_else(|| self.0.from_utc_datetime(&NaiveDateTime::default()))
    }

    /// The day it is on the farm at that moment.
    #[must_use]
    pub fn day(self, moment: Moment) -> Day {
        self.local(moment).date_naive()
    }

    /// The day on the farm of one moment after another: in their order, the clock is asked for each day and not for each of them.
    pub fn days(self) -> impl FnMut(Moment) -> Day {
        let mut known: Option<(Moment, Moment, Day)> = None;
        move |moment| match known {
            Some((from, until, day)) if from <= moment && moment < until => day,
            _ => {
                let day = self.day(moment);
                known = Some((self.start_of(day), self.end_of(day), day));
                day
            }
        }
    }

    /// The first moment of a day on the farm.
    #[must_use]
    pub fn start_of(self, day: Day) -> Moment {
        let midnight = day.and_hms_opt(0, 0, 0).unwrap_or_default();
        (0..=3)
            .find_map(|hours| self.0.from_local_datetime(&(midnight + chrono::Duration::hours(hours))).earliest())
            .map_or(Moment(midnight.and_utc().timestamp()), |time| Moment(time.timestamp()))
    }

    /// The moment the farm's clock showed so many minutes after midnight on a day; the first of two, and where the clocks skipped
    /// it so many minutes after the day began.
    #[must_use]
    pub fn at(self, day: Day, minutes: u32) -> Moment {
        let local = day.and_hms_opt(minutes / 60, minutes % 60, 0);
        let shown = local.and_then(|local| self.0.from_local_datetime(&local).earliest());
        shown.map_or_else(|| self.start_of(day).plus_minutes(i64::from(minutes)), |time| Moment(time.timestamp()))
    }

    /// What the farm's clock shows at a moment, in minutes after midnight.
    #[must_use]
    pub fn minutes(self, moment: Moment) -> u32 {
        let local = self.local(moment);
        local.hour() * 60 + local.minute()
    }

    /// The moment a day ends, which is the first of the next.
    #[must_use]
    pub fn end_of(self, day: Day) -> Moment {
        self.start_of(day.succ_opt().unwrap_or(day))
    }

    /// Local time for a form field: `2026-05-14T06:20`.
    #[must_use]
    pub fn for_field(self, moment: Moment) -> String {
        self.local(moment).format("%Y-%m-%dT%H:%M").to_string()
    }

    /// Local time with its offset, for a file: `2026-05-14T06:20:00-04:00`.
    #[must_use]
    pub fn for_file(self, moment: Moment) -> String {
        self.local(moment).to_rfc3339_opts(SecondsFormat::Secs, false)
    }

    /// How far the farm's clock is from universal time at that moment: `-04:00`.
    #[must_use]
    pub fn offset(self, moment: Moment) -> String {
        self.local(moment).format("%:z").to_string()
    }

    /// For reading: `Thu 14 May, 06:20`.
    #[must_use]
    pub fn shown(self, moment: Moment) -> String {
        self.local(moment).format("%a %-d %b, %H:%M").to_string()
    }

    /// For papers, with the year: `14 May 2026, 06:20`.
    #[must_use]
    pub fn in_full(self, moment: Moment) -> String {
        self.local(moment).format("%-d %b %Y, %H:%M").to_string()
    }

    /// Only the time of day: `06:20`.
    #[must_use]
    pub fn clock(self, moment: Moment) -> String {
        self.local(moment).format("%H:%M").to_string()
    }

    /// `Thursday evening`: how a milker says it.
    #[must_use]
    pub fn milking_words(self, moment: Moment) -> String {
        let local = self.local(moment);
        format!("{} {}", local.format("%A"), if local.format("%H").to_string().as_str() < "12" { "morning" } else { "evening" })
    }

    /// Reads a local time, with or without an offset.
    ///
    /// # Errors
    /// A sentence when it is no time, or one that the clocks skipped.
    pub fn parse_moment(self, typed: &str) -> Result<Moment, Fault> {
        let text = typed.trim();
        if let Some(seconds) = as_filed(text) {
            return sensible(Moment(seconds), typed);
        }
        if let Ok(time) = DateTime::parse_from_rfc3339(text) {
            return sensible(Moment(time.timestamp()), typed);
        }
        let local = ["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%d %H:%M"]
            .iter()
            .find_map(|shape| NaiveDateTime::parse_from_str(text, shape).ok())
            .ok_or_else(|| Fault::says(format!("“{}” is not a date and time. Write it like 2026-05-14 06:20.", short(typed))))?;
        match self.0.from_local_datetime(&local) {
            LocalResult::Single(time) | LocalResult::Ambiguous(time, _) => sensible(Moment(time.timestamp()), typed),
            LocalResult::None => Err(Fault::says(format!(
                "There was no {} that day: the clocks went forward. Write the time they showed after.",
                local.format("%H:%M")
            ))),
        }
    }
}

impl fmt::Display for Zone {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.0.name())
    }
}

/// A moment as [`Zone::for_file`] writes it, taken apart by hand: a long life of the farm has millions of them.
fn as_filed(typed: &str) -> Option<i64> {
    let (local, offset) = typed.is_ascii().then(|| typed.split_at_checked(19)).flatten()?;
    let (day, clock) = local.split_once('T')?;
    let day = written_day(day).filter(|_| day.len() == 10)?;
    let [hours, minutes, seconds] = two_digits(clock)?;
    let sign = match offset.as_bytes().first()? {
        b'+' => 1,
        b'-' => -1,
        _ => return None,
    };
    let [east, more] = two_digits(&offset[1..])?;
    let time = day.and_hms_opt(hours, minutes, seconds)?.and_utc().timestamp();
    (east < 24 && more < 60).then(|| time - sign * i64::from(east * 60 + more) * 60)
}

/// So many numbers of two digits each, with colons between them.
fn two_digits<const N: usize>(typed: &str) -> Option<[u32; N]> {
    let bytes = typed.as_bytes();
    let shaped = bytes.len() == N * 3 - 1
        && bytes.iter().enumerate().all(|(at, byte)| if at % 3 == 2 { *byte == b':' } else { byte.is_ascii_digit() });
    shaped.then(|| std::array::from_fn(|nth| u32::from(bytes[nth * 3] - b'0') * 10 + u32::from(bytes[nth * 3 + 1] - b'0')))
}

fn sensible(moment: Moment, typed: &str) -> Result<Moment, Fault> {
    if moment.can_be_right() { Ok(moment) } else { Err(Fault::says(format!("“{}” has a year that cannot be right.", short(typed)))) }
}

/// Reads a day, such as `2026-05-14`.
///
/// # Errors
/// A sentence when it is no day, or one no farm record can have.
pub fn parse_day(typed: &str) -> Result<Day, Fault> {
    let day =
        written_day(typed.trim()).ok_or_else(|| Fault::says(format!("“{}” is not a date. Write it like 2026-05-14.", short(typed))))?;
    if (1990..2100).contains(&day.year()) {
        Ok(day)
    } else {
        Err(Fault::says(format!("“{}” has a year that cannot be right.", short(typed))))
    }
}

/// A day as the ledger writes it, or as chrono understands it. Thousands of days are read for one page, nearly all of them
/// written by ourselves, so these are taken apart by hand.
fn written_day(typed: &str) -> Option<NaiveDate> {
    let bytes = typed.as_bytes();
    let plain = bytes.len() == 10
        && bytes.iter().enumerate().all(|(at, byte)| if matches!(at, 4 | 7) { *byte == b'-' } else { byte.is_ascii_digit() });
    if plain {
        let number = |from: usize, to: usize| bytes[from..to].iter().fold(0, |sum: u32, digit| sum * 10 + u32::from(digit - b'0'));
        return NaiveDate::from_ymd_opt(i32::try_from(number(0, 4)).ok()?, number(5, 7), number(8, 10));
    }
    NaiveDate::parse_from_str(typed, "%Y-%m-%d").ok()
}

/// A day for reading: `Thu 14 May 2026`.
#[must_use]
pub fn day_shown(day: Day) -> String {
    day.format("%a %-d %b %Y").to_string()
}

/// Words with every day in them as people read it: `followed from 2026-01-02` becomes `followed from Fri 2 Jan 2026`. What is
/// frozen into a paper keeps its days as they stand; this is for pages.
#[must_use]
pub fn days_in_words(text: &str) -> String {
    let (mut said, mut rest) = (String::new(), text);
    let is_apart = |c: Option<char>| c.is_none_or(|c| !c.is_alphanumeric() && c != '-');
    while let Some(start) = rest.find(|c: char| c.is_ascii_digit()) {
        let (before, from) = rest.split_at(start);
        said.push_str(before);
        let end = from.find(|c: char| !c.is_ascii_digit() && c != '-').unwrap_or(from.len());
        let (word, after) = from.split_at(end);
        match parse_day(word).ok().filter(|_| word.len() == 10 && is_apart(said.chars().last()) && is_apart(after.chars().next())) {
            Some(day) => said.push_str(&day_shown(day)),
            None => said.push_str(word),
        }
        rest = after;
    }
    said + rest
}

/// Whole days from one moment to a later one; none where it is not later.
#[must_use]
pub fn days_apart(earlier: Moment, later: Moment) -> i64 {
    (later.minutes_since(earlier) / (24 * 60)).max(0)
}

/// A length of time as people say it: `45 min`, `2 h`, `2 h 5 min`, `3 days`.
#[must_use]
pub fn span_shown(minutes: i64) -> String {
    match (minutes / 60, minutes % 60) {
        (0, m) => format!("{m} min"),
        (h, _) if h >= 48 => format!("{} days", h / 24),
        (h, 0) => format!("{h} h"),
        (h, m) => format!("{h} h {m} min"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_in_a_sentence_are_said_as_days() {
        for (text, said) in [
            ("Ours (not law), followed from 2026-01-02", "Ours (not law), followed from Fri 2 Jan 2026"),
            ("2026-05-14 AM. 14 lb", "Thu 14 May 2026 AM. 14 lb"),
            ("from 2026-05-14 to 2026-05-20.", "from Thu 14 May 2026 to Wed 20 May 2026."),
            ("2026-05-14T06:20, 26-05-14, 2026-13-40, RCS-2026-05-14", "2026-05-14T06:20, 26-05-14, 2026-13-40, RCS-2026-05-14"),
            ("°F é 🥛", "°F é 🥛"),
        ] {
            assert_eq!(days_in_words(text), said);
        }
    }

    /// Source: IANA time zone database; New York went to summer time on 8 March 2026 at 02:00.
    #[test]
    fn elapsed_hours_cross_the_clock_change() {
        let farm = Zone::parse("America/New_York").unwrap();
        let dose = farm.parse_moment("2026-03-07T06:00").unwrap();
        assert_eq!(farm.for_field(dose.plus_hours(36)), "2026-03-08T19:00");
        assert!(farm.parse_moment("2026-03-08T02:30").is_err());
        assert_eq!(farm.for_file(dose), "2026-03-07T06:00:00-05:00");
        assert_eq!(farm.parse_moment("2026-03-07T06:00:00-05:00").unwrap(), dose);
    }

    #[test]
    fn nonsense_gets_a_sentence() {
        for typed in ["", "yesterday", "2026-13-01T06:00", "0001-01-01T00:00", "9999-01-01T00:00", "🕕"] {
            assert!(Zone::UTC.parse_moment(typed).is_err(), "{typed}");
        }
        assert!(parse_day("2026-02-30").is_err());
        assert_eq!(span_shown(125), "2 h 5 min");
    }
}
