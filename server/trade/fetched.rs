//! What of a packed crate still stands: every hand-out is counted against the packing it is out of.
//!
//! A hand-out kept from a day's list of crates says so, and is out of that day's crate at whatever time it went. Any other is
//! out of the crate of its day; or of the day before, where that still stands, because evenings go past midnight; or of one
//! that was packed ahead. What went before a crate was packed was taken into account when it was packed.

use super::{
    numbers::OWN_PAGE,
    when::{Day, Moment, parse_day},
};

/// What a hand-out kept from the list of a packed day was written from, but for the day.
const LIST: &str = "crates of ";

/// So many days back a crate that was not fetched may still be what somebody fetches.
pub const STILL_THEIRS: u64 = 7;

/// What a hand-out kept from a day's list of crates was written from.
#[must_use]
pub fn from_list(day: Day) -> String {
    format!("{LIST}{day}")
}

/// The day of whose list of crates a hand-out was kept, if it was kept from one.
#[must_use]
pub fn list_of(source: &str) -> Option<Day> {
    parse_day(source.strip_prefix(LIST)?).ok()
}

/// A record's place in the order of writing: when, and which line of the journal within the same second.
pub type Written = (Moment, i64);

/// One household's crate of one packing, and what of it still stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Crate {
    /// The packing's number.
    pub packing: i64,
    /// The day it was packed for.
    pub day: Day,
    /// Whose.
    pub person: i64,
    /// When it was packed.
    pub at: Moment,
    /// When that was written.
    pub written: Written,
    /// What still stands: each lot's number, its code and half-gallons of it, the oldest first.
    pub lots: Vec<(i64, String, i64)>,
    /// Half-gallons that were packed.
    pub packed: i64,
    /// Half-gallons of the household since, out of this crate or instead of it.
    pub had: i64,
}

impl Crate {
    /// Half-gallons that still stand.
    #[must_use]
    pub fn left(&self) -> i64 {
        self.lots.iter().map(|(_, _, jars)| jars).sum()
    }

    /// Takes jars off: those of the same lot, and for another lot as many of the oldest that stand.
    pub fn take(&mut self, lot: i64, jars: i64) {
        self.had += jars;
        let mut open = jars;
        let (same, others): (Vec<_>, Vec<_>) = self.lots.iter_mut().partition(|(own, _, _)| *own == lot);
        for (_, _, stands) in same.into_iter().chain(others) {
            let off = open.min(*stands);
            *stands -= off;
            open -= off;
        }
        self.lots.retain(|(_, _, jars)| *jars > 0);
    }
}

/// A hand-out of half-gallons to a household.
#[derive(Clone, Debug)]
pub struct Fetched {
    /// Whose.
    pub person: i64,
    /// The day it went.
    pub on: Day,
    /// When it went.
    pub at: Moment,
    /// When that was written.
    pub written: Written,
    /// The lot's number.
    pub lot: i64,
    /// Half-gallons.
    pub jars: i64,
    /// From what it was written.
    pub source: String,
}

impl Fetched {
    /// The crate it is out of.
    fn out_of(&self, crates: &[Crate]) -> Option<usize> {
        let own = || crates.iter().enumerate().filter(|(_, own)| own.person == self.person && own.written < self.written);
        if let Some(day) = list_of(&self.source) {
            return own().find(|(_, own)| own.day == day).map(|(place, _)| place);
        }
        let days = |own: &Crate| (own.day - self.on).num_days();
        let before = own().filter(|(_, own)| own.left() > 0 && days(own) < 0).max_by_key(|(_, own)| own.day);
        let ahead = own().filter(|(_, own)| days(own) > 0 && (days(own) == 1 || own.at <= self.at)).min_by_key(|(_, own)| own.day);
        let long = i64::try_from(STILL_THEIRS).unwrap_or(0);
        own()
            .find(|(_, own)| days(own) == 0)
            .or_else(|| before.filter(|(_, own)| days(own) == -1))
            .or(ahead)
            .or_else(|| before.filter(|(_, own)| days(own) >= -long))
            .map(|(place, _)| place)
    }

    /// Whether it says all that the household takes: what it leaves of its crate is free again.
    fn is_all(&self) -> bool {
        list_of(&self.source).is_some() || self.source == OWN_PAGE
    }
}

/// Counts hand-outs against the crates they are out of. `fetched` is in the order of writing.
pub fn count_off(crates: &mut [Crate], fetched: &[Fetched]) {
    let mut done = Vec::new();
    for own in fetched {
        let Some(place) = own.out_of(crates) else { continue };
        crates[place].take(own.lot, own.jars);
        if own.is_all() {
            done.push(place);
        }
    }
    for place in done {
        crates[place].lots.clear();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::when::Zone;

    fn day(typed: &str) -> Day {
        parse_day(typed).unwrap()
    }

    /// A crate of two of lot 1 and one of lot 2, packed at hour 10 of its day.
    fn packed(number: i64, on: &str) -> Crate {
        let at = noon(on).plus_hours(-2);
        let lots = vec![(1, "old".to_owned(), 2), (2, "new".to_owned(), 1)];
        Crate { packing: number, day: day(on), person: 7, at, written: (at, 0), lots, packed: 3, had: 0 }
    }

    fn noon(on: &str) -> Moment {
        Zone::UTC.start_of(day(on)).plus_hours(12)
    }

    fn out(on: &str, hour: i64, lot: i64, jars: i64, source: &str) -> Fetched {
        let at = noon(on).plus_hours(hour - 12);
        Fetched { person: 7, on: day(on), at, written: (at, 1), lot, jars, source: source.to_owned() }
    }

    fn left(mut crates: Vec<Crate>, fetched: &[Fetched]) -> Vec<i64> {
        count_off(&mut crates, fetched);
        crates.iter().map(Crate::left).collect()
    }

    #[test]
    fn a_crate_stands_until_all_its_jars_are_gone() {
        let one = [packed(1, "2026-05-14")];
        assert_eq!(left(one.to_vec(), &[out("2026-05-14", 17, 1, 1, "screen")]), [2]);
        assert_eq!(left(one.to_vec(), &[out("2026-05-14", 17, 9, 3, "screen")]), [0], "three of another lot are theirs all the same");
        assert_eq!(left(one.to_vec(), &[out("2026-05-14", 17, 1, 2, "crates of 2026-05-14")]), [0], "the list says all they take");
        assert_eq!(left(one.to_vec(), &[out("2026-05-14", 9, 1, 1, "screen")]), [3], "it went before the crate was packed");
        let mut other = out("2026-05-14", 17, 1, 1, "screen");
        other.person = 8;
        assert_eq!(left(one.to_vec(), &[other]), [3]);
    }

    #[test]
    fn midnight_and_the_evening_before_belong_to_the_crate() {
        let one = [packed(1, "2026-05-14")];
        assert_eq!(left(one.to_vec(), &[out("2026-05-15", 0, 1, 2, "screen")]), [1]);
        assert_eq!(left(one.to_vec(), &[out("2026-05-20", 0, 1, 2, "screen")]), [1], "fetched within the week");
        assert_eq!(left(one.to_vec(), &[out("2026-05-28", 0, 1, 2, "screen")]), [3]);
        let mut ahead = packed(2, "2026-05-15");
        (ahead.at, ahead.written) = (noon("2026-05-14"), (noon("2026-05-14"), 0));
        assert_eq!(left(vec![ahead.clone()], &[out("2026-05-14", 18, 1, 2, "screen")]), [1]);
        let both = vec![packed(1, "2026-05-14"), ahead];
        assert_eq!(left(both.clone(), &[out("2026-05-14", 18, 1, 2, "screen")]), [1, 3]);
        assert_eq!(left(both, &[out("2026-05-14", 18, 1, 2, "crates of 2026-05-15")]), [3, 0]);
    }

    #[test]
    fn another_day_written_on_a_list_changes_nothing() {
        let mut late = out("2026-05-02", 18, 1, 2, "crates of 2026-05-14");
        late.written = (noon("2026-05-14"), 1);
        assert_eq!(left(vec![packed(1, "2026-05-14")], &[late.clone()]), [0]);
        late.source = "screen".to_owned();
        assert_eq!(left(vec![packed(1, "2026-05-14")], &[late]), [3], "a paper of another week is typed in");
    }
}
