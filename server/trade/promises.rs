//! What each household is promised on a day: its shares and standing promises, less the days on which it does not come.

use super::{
    channels::Channel,
    kinds::Kind,
    parts::{Hundredths, Part},
    records::Cell,
    when::{Day, day_shown, parse_day},
};
use chrono::Days;

/// A share, or a standing promise of somebody who owns none.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Share {
    /// Its record.
    pub number: i64,
    /// Whose: the record's number.
    pub person: i64,
    /// The share's own number; empty for a standing promise.
    pub share: String,
    /// How much of it.
    pub part: Part,
    /// Half-gallons a week for a whole one.
    pub half_gallons: i64,
    /// How the milk reaches them.
    pub way: Channel,
    /// From this day.
    pub since: Day,
    /// To this day, if it ends.
    pub until: Option<Day>,
    /// Its place in the chosen order.
    pub place: Option<i64>,
}

impl Share {
    /// The share in a record's cells, as long as they can be read.
    #[must_use]
    pub fn of(kind: &Kind, cells: &[Cell], number: i64, person: i64) -> Option<Share> {
        let said = |column: &str| kind.cell(cells, column).text();
        Some(Share {
            number,
            person,
            share: said("share").to_owned(),
            part: Part::parse(said("part")).ok()?,
            half_gallons: kind.cell(cells, "half_gallons").whole()?,
            way: Channel::parse(said("channel"))?,
            since: parse_day(said("since")).ok()?,
            until: parse_day(said("until")).ok(),
            place: kind.cell(cells, "place").whole(),
        })
    }

    /// Whether it holds on a day.
    #[must_use]
    pub fn holds(&self, on: Day) -> bool {
        self.since <= on && self.until.is_none_or(|until| until >= on)
    }

    /// What it promises a week.
    #[must_use]
    pub fn promised(&self) -> Hundredths {
        self.part.of(self.half_gallons)
    }

    /// How it is called: `1/2 of share S07, 3 half-gallons a week`.
    #[must_use]
    pub fn called(&self) -> String {
        let what = match (self.share.is_empty(), self.part == Part::whole()) {
            (true, _) => "standing promise".to_owned(),
            (false, true) => format!("share {}", self.share),
            (false, false) => format!("{} of share {}", self.part, self.share),
        };
        format!("{what}, {} a week", self.promised().half_gallons())
    }
}

/// Days on which somebody, or nobody at all, comes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pause {
    /// Who; nobody named means everybody.
    pub person: Option<i64>,
    /// The first day.
    pub since: Day,
    /// The last day.
    pub until: Day,
    /// The day they come on instead.
    pub moved_to: Option<Day>,
}

impl Pause {
    /// Whether it is about somebody on a day.
    #[must_use]
    pub fn stops(&self, person: i64, on: Day) -> bool {
        self.person.is_none_or(|own| own == person) && (self.since..=self.until).contains(&on)
    }
}

/// Whether somebody comes on a day: no pause stops it, and it is their weekday or one that was stopped was moved to it.
#[must_use]
pub fn comes(person: i64, weekday: &str, pauses: &[Pause], on: Day) -> bool {
    let is_theirs = |day: Day| day.format("%A").to_string() == weekday;
    if pauses.iter().any(|pause| pause.stops(person, on)) {
        return false;
    }
    if is_theirs(on) {
        return true;
    }
    let moved = |pause: &Pause| {
        let mut stopped = pause.since.iter_days().take_while(|day| *day <= pause.until);
        pause.moved_to == Some(on) && pause.person.is_none_or(|own| own == person) && stopped.any(is_theirs)
    };
    pauses.iter().any(moved)
}

/// Until when somebody's own pause, or everybody's, lasts on a day.
#[must_use]
pub fn paused_until(person: i64, pauses: &[Pause], on: Day) -> Option<Day> {
    pauses.iter().filter(|pause| pause.stops(person, on)).map(|pause| pause.until).max()
}

/// How many days ahead the next pickup of a household is looked for.
const AHEAD: u64 = 120;

/// The next day, from a day on, on which somebody comes and is promised something, with what that is.
#[must_use]
pub fn next_pickup(person: i64, weekday: &str, shares: &[Share], pauses: &[Pause], from: Day) -> Option<(Day, Hundredths)> {
    let last = from.checked_add_days(Days::new(AHEAD))?;
    let own: Vec<&Share> = shares.iter().filter(|share| share.person == person).collect();
    let promised = |day: Day| own.iter().filter(|share| share.holds(day)).map(|share| share.promised()).sum::<Hundredths>();
    let mut days = from.iter_days().take_while(|day| *day <= last).filter(|day| comes(person, weekday, pauses, *day));
    days.find_map(|day| Some((day, promised(day))).filter(|(_, jars)| *jars > Hundredths::ZERO))
}

/// The parts of one share that two or more households hold on the same day and that come to more than the whole of it: a
/// sentence naming the day and who.
#[must_use]
pub fn sold_twice(new: &Share, others: &[Share], called: impl Fn(i64) -> String) -> Option<String> {
    if new.share.is_empty() {
        return None;
    }
    let same: Vec<&Share> = others.iter().filter(|own| own.share.eq_ignore_ascii_case(&new.share) && own.number != new.number).collect();
    // The sum changes only on the day some part begins.
    let days = same.iter().map(|own| own.since).filter(|day| new.holds(*day)).chain([new.since]);
    let over = |day: &Day| {
        let held: Part = same.iter().filter(|own| own.holds(*day)).map(|own| own.part).sum();
        held + new.part > Part::whole()
    };
    let day = days.filter(over).min()?;
    let whose: Vec<String> = same
        .iter()
        .filter(|own| own.holds(day))
        .map(|own| {
            let until = own.until.map_or_else(String::new, |until| format!(" until {}", day_shown(until)));
            format!("{} holds {} of it{until}", called(own.person), own.part)
        })
        .collect();
    if whose.is_empty() {
        return Some(format!("A part of share {} is at most the whole of it. A second share has a number of its own.", new.share));
    }
    Some(format!(
        "Share {} is not free on {}: {}. End that first, or give this one another number.",
        new.share,
        day_shown(day),
        whose.join(", ")
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::when::parse_day;

    fn day(typed: &str) -> Day {
        parse_day(typed).unwrap()
    }

    fn share(number: i64, share: &str, part: &str, since: &str, until: Option<&str>) -> Share {
        Share {
            number,
            person: number,
            share: share.to_owned(),
            part: Part::parse(part).unwrap(),
            half_gallons: 3,
            way: Channel::Herdshare,
            since: day(since),
            until: until.map(day),
            place: None,
        }
    }

    #[test]
    fn a_share_is_sold_once() {
        let called = |person: i64| format!("M{person:02}");
        let others = [share(1, "S07", "1/2", "2026-01-01", None), share(2, "S08", "1", "2026-01-01", Some("2026-06-30"))];
        assert_eq!(sold_twice(&share(3, "S07", "1/2", "2026-02-01", None), &others, called), None);
        let twice = sold_twice(&share(3, "s07", "1", "2026-02-01", None), &others, called).unwrap();
        assert!(twice.contains("M01 holds 1/2 of it"), "{twice}");
        assert!(sold_twice(&share(3, "S08", "1/3", "2025-02-01", None), &others, called).unwrap().contains("1 Jan 2026"));
        assert_eq!(sold_twice(&share(3, "S08", "1", "2026-07-01", None), &others, called), None);
        assert_eq!(sold_twice(&share(2, "S08", "1", "2026-01-01", None), &others, called), None, "it is itself");
        assert_eq!(sold_twice(&share(3, "", "1", "2026-01-01", None), &others, called), None);
        assert!(sold_twice(&share(3, "S09", "1 1/2", "2026-01-01", None), &others, called).unwrap().contains("at most the whole"));
    }

    #[test]
    fn the_next_pickup_is_the_first_day_on_which_they_come_for_something() {
        let pauses = [Pause { person: Some(1), since: day("2026-11-26"), until: day("2026-11-28"), moved_to: None }];
        let halves = [share(1, "S07", "1/2", "2026-01-01", None), Share { number: 9, ..share(1, "S08", "1", "2026-12-12", None) }];
        // 28 November 2026 is a Saturday, and so are 5 and 12 December.
        let next = |from: &str| next_pickup(1, "Saturday", &halves, &pauses, day(from));
        assert_eq!(next("2026-11-21"), Some((day("2026-11-21"), Hundredths::new(150))));
        assert_eq!(next("2026-11-22"), Some((day("2026-12-05"), Hundredths::new(150))), "the 28th is paused");
        assert_eq!(next("2026-12-06"), Some((day("2026-12-12"), Hundredths::new(450))), "the second share has begun");
        assert_eq!(next_pickup(1, "", &halves, &pauses, day("2026-11-21")), None, "without a weekday nobody comes");
        assert_eq!(next_pickup(2, "Saturday", &halves, &pauses, day("2026-11-21")), None, "without a share nothing is promised");
    }

    #[test]
    fn who_comes() {
        let pause =
            |person, since, until, moved: Option<&str>| Pause { person, since: day(since), until: day(until), moved_to: moved.map(day) };
        let thanksgiving = pause(None, "2026-11-26", "2026-11-26", Some("2026-11-25"));
        let away = pause(Some(4), "2026-11-20", "2026-12-04", None);
        let pauses = [thanksgiving, away];
        assert!(!comes(3, "Thursday", &pauses, day("2026-11-26")));
        assert!(comes(3, "Thursday", &pauses, day("2026-11-25")), "moved to the day before");
        assert!(!comes(5, "Tuesday", &pauses, day("2026-11-25")), "whose day was not moved stays away");
        assert!(!comes(4, "Thursday", &pauses, day("2026-11-25")), "whoever is paused on the day it was moved to is not called");
        assert!(comes(3, "Saturday", &pauses, day("2026-11-28")));
        assert!(!comes(4, "Saturday", &pauses, day("2026-11-28")));
        assert_eq!(paused_until(4, &pauses, day("2026-11-28")), Some(day("2026-12-04")));
        assert_eq!(paused_until(3, &pauses, day("2026-11-28")), None);
    }
}
