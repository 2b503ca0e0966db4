//! The copies of the ledger that are made by themselves: what they are called, when the next is due, and which old ones may go.
//!
//! An old copy answers what a young one cannot: how it stood before a slip that nobody saw for months. So they are thinned by age
//! and never used up: every copy of the last week, the first of each week for thirteen weeks, and the first of each month for
//! ever. (Common practice among people who keep copies; the spans are this program's own choice.)

use super::{
    Fault, short,
    when::{Day, Moment, Zone, days_apart, span_shown},
};
use chrono::{Datelike, NaiveDateTime};
use std::{collections::HashSet, fmt};

/// How often a copy is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Every(i64);

impl Every {
    /// Once a day, which is what holds where nothing is set.
    pub const DAY: Every = Every(24 * 60);

    /// Reads a span such as `1d`, `6h` or `30m`.
    ///
    /// # Errors
    /// A sentence when it is none, is shorter than a minute, or longer than 30 days.
    pub fn parse(typed: &str) -> Result<Every, Fault> {
        let text = typed.trim();
        let fault = || Fault::says(format!("“{}” is no span from a minute to 30 days. Write it like 1d, 6h or 30m.", short(typed)));
        let unit = match text.chars().last() {
            Some('m') => 1,
            Some('h') => 60,
            Some('d') => 24 * 60,
            _ => return Err(fault()),
        };
        let count: i64 = text[..text.len() - 1].trim_end().parse().map_err(|_| fault())?;
        let minutes = count.checked_mul(unit).filter(|own| (1..=30 * 24 * 60).contains(own)).ok_or_else(fault)?;
        Ok(Every(minutes))
    }

    /// The moment so much later.
    #[must_use]
    pub const fn after(self, moment: Moment) -> Moment {
        moment.plus_minutes(self.0)
    }
}

impl fmt::Display for Every {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.0 {
            1440 => f.write_str("every day"),
            minutes => write!(f, "every {}", span_shown(minutes)),
        }
    }
}

/// A copy that was opened, found whole and noted in the ledger.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Made {
    /// When.
    pub at: Moment,
    /// What its file is called.
    pub name: String,
}

/// What every copy's name ends in.
const ENDING: &str = ".ledger";
/// What is still being written, or was when the program was stopped, ends in.
pub const HALF: &str = ".half";

/// A farm's name as the front of a file's.
fn front(farm: &str) -> String {
    let mut front = String::new();
    for letter in farm.to_lowercase().chars().take(60) {
        match letter {
            letter if letter.is_ascii_alphanumeric() => front.push(letter),
            _ if front.is_empty() || front.ends_with('-') => {}
            _ => front.push('-'),
        }
    }
    let front = front.trim_end_matches('-');
    if front.is_empty() { "farm".to_owned() } else { front.to_owned() }
}

/// What a copy of this moment is called: `tansyditch-farm-2026-11-21-060000.ledger`, on the farm's own clock.
#[must_use]
pub fn called(farm: &str, at: Moment, zone: Zone) -> String {
    let stamp = zone.for_file(at).chars().take(19).collect::<String>().replace('T', "-").replace(':', "");
    format!("{}-{}{ENDING}", front(farm), stamp)
}

/// Whether a file's name is one that [`called`] makes, for whatever farm.
#[must_use]
pub fn is_a_copy(name: &str) -> bool {
    let Some(stem) = name.strip_suffix(ENDING) else { return false };
    // A front, a hyphen and seventeen characters of a moment.
    let Some((front, stamp)) = stem.len().checked_sub(18).and_then(|place| stem.split_at_checked(place)) else { return false };
    let plain = !front.is_empty() && front.bytes().all(|byte| byte.is_ascii_lowercase() || byte.is_ascii_digit() || byte == b'-');
    plain && NaiveDateTime::parse_from_str(stamp, "-%Y-%m-%d-%H%M%S").is_ok_and(|own| own.format("-%Y-%m-%d-%H%M%S").to_string() == stamp)
}

/// Whether a file is what was left of a copy of this farm's when the program was stopped in the middle of it.
#[must_use]
pub fn is_half(name: &str, farm: &str) -> bool {
    let whole = ["-journal", "-wal", "-shm", ""].iter().find_map(|more| name.strip_suffix(more)?.strip_suffix(HALF));
    whole.is_some_and(|name| is_a_copy(name) && name.len() == front(farm).len() + 18 + ENDING.len() && name.starts_with(&front(farm)))
}

/// When the next copy is due, by the copies that are there. One that lies ahead of the clock says nothing: either it was made
/// while the clock was wrong, or the clock is wrong now, and one copy too many is no harm.
#[must_use]
pub fn due(there: &[Made], every: Every, now: Moment) -> Moment {
    there.iter().map(|own| own.at).filter(|at| *at <= now).max().map_or(now, |at| every.after(at))
}

/// How long every copy is kept, in days.
const ALL_FOR: i64 = 7;
/// How long the first copy of each week is kept, in days: thirteen weeks.
const WEEKS_FOR: i64 = 91;

/// The copies that may go, of those that are there, in the order they were made. The newest never goes, nor does one that lies
/// ahead of the clock.
#[must_use]
pub fn may_go(there: &[Made], now: Moment, zone: Zone) -> Vec<Made> {
    let mut past: Vec<&Made> = there.iter().filter(|own| own.at <= now).collect();
    past.sort_by_key(|own| own.at);
    let newest = there.last();
    let (mut weeks, mut months) = (HashSet::new(), HashSet::new());
    let goes = |own: &&Made| {
        let day: Day = zone.day(own.at);
        let first_of_week = weeks.insert((day.iso_week().year(), day.iso_week().week()));
        let first_of_month = months.insert((day.year(), day.month()));
        let age = days_apart(own.at, now);
        !(age <= ALL_FOR || first_of_month || first_of_week && age <= WEEKS_FOR || newest == Some(own))
    };
    past.into_iter().filter(goes).cloned().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn farm() -> Zone {
        Zone::parse("America/New_York").unwrap()
    }

    fn at(typed: &str) -> Moment {
        farm().parse_moment(typed).unwrap()
    }

    fn made(at: Moment) -> Made {
        Made { at, name: called("Tansyditch Farm", at, farm()) }
    }

    #[test]
    fn a_copy_is_known_by_its_name() {
        let name = called("Tansyditch Farm", at("2026-11-21T06:00"), farm());
        assert_eq!(name, "tansyditch-farm-2026-11-21-060000.ledger");
        for farm_name in ["Tansyditch Farm", "  Käthe’s & Söhne  ", "🥛", "2026", "-a--b-"] {
            let name = called(farm_name, at("2026-11-21T06:00"), farm());
            assert!(is_a_copy(&name), "{name}");
            assert!(is_half(&format!("{name}.half"), farm_name) && is_half(&format!("{name}.half-journal"), farm_name), "{name}");
            assert!(!is_half(&name, farm_name) && !is_half(&format!("{name}.half"), "Another Farm"), "{name}");
        }
        for other in [
            "farm.ledger",
            "-2026-11-21-060000.ledger",
            "tansyditch-farm-2026-11-21-060000.ledger.bak",
            "tansyditch-farm-2026-13-21-060000.ledger",
            "tansyditch-farm-2026-11-21-0600.ledger",
            "tansyditch-farm-2026-11-21-060000.LEDGER",
            "Tansyditch-2026-11-21-060000.ledger",
            "../x-2026-11-21-060000.ledger",
            "x-2026-11-21-06000é.ledger",
            "",
        ] {
            assert!(!is_a_copy(other), "{other}");
        }
    }

    #[test]
    fn a_span_is_read_or_gets_a_sentence() {
        for (typed, said) in
            [("1d", "every day"), ("24h", "every day"), (" 6h ", "every 6 h"), ("90m", "every 1 h 30 min"), ("7d", "every 7 days")]
        {
            assert_eq!(Every::parse(typed).unwrap().to_string(), said, "{typed}");
        }
        for typed in ["", "d", "0h", "-1d", "31d", "1", "1 week", "9999999999999999d", "1é", "daily"] {
            assert!(Every::parse(typed).unwrap_err().to_string().contains("Write it like"), "{typed}");
        }
    }

    #[test]
    fn a_copy_is_due_a_day_after_the_last_and_whatever_the_clock_did() {
        let now = at("2026-05-14T12:00");
        let next = |there: &[&str]| due(&there.iter().map(|own| made(at(own))).collect::<Vec<_>>(), Every::DAY, now);
        assert_eq!(next(&[]), now);
        assert_eq!(next(&["2026-05-13T12:30"]), at("2026-05-14T12:30"));
        // The clock once stood in another century, and now it is right again: that copy does not put the next one off.
        assert_eq!(next(&["2026-05-13T12:30", "2099-01-01T00:00"]), at("2026-05-14T12:30"));
        assert_eq!(next(&["2099-01-01T00:00"]), now);
    }

    /// Four years of a copy a day, thinned after each.
    #[test]
    fn a_copy_a_day_for_years_leaves_a_week_of_days_a_quarter_of_weeks_and_every_month() {
        let mut there: Vec<Made> = Vec::new();
        let mut now = at("2026-01-01T06:00");
        for day in 0..4 * 365 {
            now = at("2026-01-01T06:00").plus_hours(24 * day);
            there.push(made(now));
            let gone = may_go(&there, now, farm());
            assert!(gone.iter().all(|own| days_apart(own.at, now) > 7));
            there.retain(|own| !gone.contains(own));
            assert_eq!(may_go(&there, now, farm()), [], "thinned once is thinned");
        }
        let ages: Vec<i64> = there.iter().map(|own| days_apart(own.at, now)).collect();
        assert_eq!(ages.iter().filter(|age| **age <= 7).count(), 8);
        let weekly = ages.iter().filter(|age| (8..=91).contains(*age)).count();
        // Twelve weeks have a first, and three or four months begin among them on another day of the week.
        assert!((12..=16).contains(&weekly), "{weekly}");
        let months: HashSet<String> = there.iter().map(|own| farm().for_field(own.at)[..7].to_owned()).collect();
        assert_eq!(months.len(), 48, "every month of four years has its copy");
        assert!(there.len() < 48 + 30, "{}", there.len());
    }

    #[test]
    fn the_newest_stays_however_old_and_what_lies_ahead_is_let_be() {
        let there: Vec<Made> = ["2026-05-01T06:00", "2026-05-04T06:00", "2026-05-05T06:00"].map(|own| made(at(own))).into();
        assert_eq!(may_go(&there, at("2030-01-01T06:00"), farm()), [there[1].clone()]);
        assert_eq!(may_go(&there, at("2026-05-03T06:00"), farm()), []);
        // Made last, while the clock was years behind: it is the newest all the same.
        let odd = [made(at("2026-05-01T06:00")), made(at("2026-05-04T06:00")), made(at("1999-01-02T06:00"))];
        assert_eq!(may_go(&odd, at("2026-08-30T06:00"), farm()), [odd[1].clone()]);
    }
}
