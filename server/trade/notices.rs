//! What officials and customers ask for, and by when it must be answered.
//!
//! The times are those of the laws named beside them. Where a notice says its own day, that day holds.

use super::{
    standing::resample_window,
    when::{Day, Moment, Zone, day_shown},
};
use chrono::{Days, Months};

/// The sorts of notice and request, as they stand in a record.
pub const SORTS: &[&str] =
    &["records asked for by an official", "results asked for by a customer", "notice of results over a limit", "notice of a violation"];

/// A notice or a request that came in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Notice {
    /// Its sort, one of [`SORTS`].
    pub sort: String,
    /// When it came.
    pub at: Moment,
    /// The day it names itself.
    pub says: Option<Day>,
    /// The days of the farm's rules within which to sample again after a notice.
    pub resample: Option<(i64, i64)>,
}

/// By when a notice must be answered.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Answer {
    /// Not before this day, where a law says so.
    pub from: Option<Day>,
    /// The last moment.
    pub by: Moment,
    /// What is owed, in one sentence.
    pub what: String,
    /// Until when the answer is kept, where a law says so.
    pub keep_until: Option<Day>,
    /// The law the time is from.
    pub source: &'static str,
}

impl Notice {
    /// By when it must be answered; nothing where no law read here and not the notice itself names a time.
    #[must_use]
    pub fn answer(&self, zone: Zone) -> Option<Answer> {
        let day = zone.day(self.at);
        let end_of = |day: Day| zone.end_of(day).plus_minutes(-1);
        let mut answer = match self.sort.as_str() {
            "records asked for by an official" => {
                let what = "Records are owed within 24 hours of being asked for.".to_owned();
                Answer { from: None, by: self.at.plus_hours(24), what, keep_until: None, source: "21 CFR 1.361" }
            }
            "results asked for by a customer" => {
                let back = day.checked_sub_months(Months::new(6))?;
                let what =
                    format!("Results of the last six months, back to {}, are owed within 24 hours of being asked for.", day_shown(back));
                Answer { from: None, by: self.at.plus_hours(24), what, keep_until: None, source: "25 TAC 217.33(b), Texas" }
            }
            "notice of results over a limit" => {
                let (not_before, within) = self.resample?;
                let (from, until) = resample_window(day, not_before, within);
                let what = format!("Sample again from {} to {}.", day_shown(from), day_shown(until));
                Answer { from: Some(from), by: end_of(until), what, keep_until: None, source: "the farm's rules" }
            }
            _ => {
                let by = day.checked_add_days(Days::new(15))?;
                let what = "The cause and how it was put right are owed in writing.".to_owned();
                let keep_until = by.checked_add_months(Months::new(12));
                Answer { from: None, by: end_of(by), what, keep_until, source: "Conn. Agencies Regs. 22-133-130" }
            }
        };
        if let Some(says) = self.says {
            answer = Answer { by: end_of(says), source: "the notice itself", ..answer };
        }
        Some(answer)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::when::parse_day;

    fn zone() -> Zone {
        Zone::parse("America/New_York").unwrap()
    }

    fn notice(sort: usize, at: &str) -> Notice {
        Notice { sort: SORTS[sort].to_owned(), at: zone().parse_moment(at).unwrap(), says: None, resample: None }
    }

    fn day(typed: &str) -> Day {
        parse_day(typed).unwrap()
    }

    /// Source: 21 CFR 1.361: records on official request within 24 hours; the clock does not stop for the night.
    #[test]
    fn records_are_owed_within_a_day_and_a_night() {
        let answer = notice(0, "2026-06-01T09:00").answer(zone()).unwrap();
        assert_eq!(answer.by, zone().parse_moment("2026-06-02T09:00").unwrap());
        let over_the_change = notice(0, "2026-03-07T12:00").answer(zone()).unwrap();
        assert_eq!(zone().clock(over_the_change.by), "13:00", "elapsed hours, not the clock's");
    }

    /// Source: 25 TAC 217.33(b), Texas: the last six months of results, within 24 hours of being asked.
    #[test]
    fn a_customers_results_go_back_six_months() {
        let answer = notice(1, "2026-06-10T14:00").answer(zone()).unwrap();
        assert_eq!(answer.by, zone().parse_moment("2026-06-11T14:00").unwrap());
        assert!(answer.what.contains(&day_shown(day("2025-12-10"))), "{}", answer.what);
    }

    /// Source: Okla. Stat. 2-7-409(B): not sooner than 3 days after the notice and within 21; N.M. 21.34.2.14(D): 3 to 10.
    #[test]
    fn a_sample_is_drawn_again_within_the_days_of_the_rules() {
        for (within, until) in [(21, "2026-03-22"), (10, "2026-03-11")] {
            let answer = Notice { resample: Some((3, within)), ..notice(2, "2026-03-01T10:00") }.answer(zone()).unwrap();
            assert_eq!((answer.from, zone().day(answer.by)), (Some(day("2026-03-04")), day(until)));
        }
        assert_eq!(notice(2, "2026-03-01T10:00").answer(zone()), None, "no rule says so, and that is not the same as never");
    }

    /// Source: Conn. Agencies Regs. 22-133-130: in writing within 15 days, kept for one year.
    #[test]
    fn a_violation_is_answered_in_writing() {
        let answer = notice(3, "2026-02-03T11:00").answer(zone()).unwrap();
        assert_eq!((zone().day(answer.by), answer.keep_until), (day("2026-02-18"), Some(day("2027-02-18"))));
        let said = Notice { says: Some(day("2026-02-10")), ..notice(3, "2026-02-03T11:00") }.answer(zone()).unwrap();
        assert_eq!((zone().day(said.by), said.source), (day("2026-02-10"), "the notice itself"));
    }
}
