//! An inspector's pass: a code that opens the binder of some days until the end of its last day.
//!
//! The code is twelve digits in four groups, to be read aloud. The first group names the pass, as a household's number names it; the
//! other nine are the secret, and only their hash is kept.

use super::{
    Fault,
    remarks::Remark,
    short,
    wear::Span,
    when::{Day, Moment, Zone, day_shown},
};
use chrono::Days;

/// Digits that name a pass.
pub const NAMED: usize = 3;
/// Digits of its secret: a thousand million, of which ten may be tried in a day.
pub const SECRET: usize = 9;
/// Days ahead of which a pass may not stay open: a key that lies about for a season is somebody else's. The farm's own choice.
pub const LONGEST: u64 = 90;

/// What stands in the list of a pass when somebody comes in with it.
pub const CAME_IN: &str = "came in";
/// What stands there when they leave.
pub const LEFT: &str = "left";

/// What stands there for a lot: that it was looked at, or only asked for where the pass does not show it.
#[must_use]
pub fn asked_for(lot: &str, shown: bool) -> String {
    if shown { format!("lot {}", short(lot)) } else { format!("asked for lot {}, not on this pass", short(lot)) }
}

/// Whether a line of that list is a look at something: nobody saw anything by coming in, by leaving, or by asking for what is not shown.
#[must_use]
pub fn is_a_look(what: &str) -> bool {
    what != CAME_IN && what != LEFT && !what.starts_with("asked for ")
}

/// A pass, without its secret.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pass {
    /// Its number.
    pub number: i64,
    /// The digits that name it.
    pub named: String,
    /// For whom it is: a name, an office, or both.
    pub for_whom: String,
    /// The days it shows.
    pub span: Span,
    /// The last day it opens.
    pub last_day: Day,
    /// Whether households stand in the binder by name.
    pub names: bool,
    /// When it was made.
    pub made: Moment,
    /// By whom.
    pub who: String,
    /// When it was withdrawn, if it was.
    pub withdrawn: Option<Moment>,
    /// Whether too many tries shut it.
    pub shut: bool,
}

impl Pass {
    /// Whether it opens at a moment: until its last day is over on the farm's clock.
    #[must_use]
    pub fn opens(&self, zone: Zone, now: Moment) -> bool {
        self.withdrawn.is_none() && !self.shut && now < zone.end_of(self.last_day)
    }

    /// How it stands, in words.
    #[must_use]
    pub fn stands(&self, zone: Zone, now: Moment) -> String {
        match (self.withdrawn, self.shut) {
            (Some(at), _) => format!("withdrawn {}", zone.in_full(at)),
            (None, true) => "shut: ten tries in one day did not fit".to_owned(),
            (None, false) if self.opens(zone, now) => format!("opens until the end of {}", day_shown(self.last_day)),
            (None, false) => format!("over since the end of {}", day_shown(self.last_day)),
        }
    }

    /// Whether it shows a day.
    #[must_use]
    pub fn shows(&self, day: Day) -> bool {
        self.span.from <= day && day <= self.span.to
    }
}

/// A typed code: the digits that name the pass, and its secret. Blanks and strokes between the digits do not matter.
#[must_use]
pub fn typed(code: &str) -> Option<(String, String)> {
    let plain: String = code.chars().filter(|c| !c.is_whitespace() && !matches!(c, '-' | '–' | '.')).collect();
    let whole = plain.len() == NAMED + SECRET && plain.bytes().all(|byte| byte.is_ascii_digit());
    whole.then(|| (plain[..NAMED].to_owned(), plain[NAMED..].to_owned()))
}

/// The code as it is shown and read aloud: `384 502 917 466`.
#[must_use]
pub fn shown(named: &str, secret: &str) -> String {
    let digits: Vec<char> = named.chars().chain(secret.chars()).collect();
    digits.chunks(3).map(|group| group.iter().collect::<String>()).collect::<Vec<_>>().join(" ")
}

/// Whether a pass may be made that opens until a day.
///
/// # Errors
/// A sentence when the day is over, or too far ahead.
pub fn last_day(day: Day, today: Day) -> Result<Day, Fault> {
    let most = today.checked_add_days(Days::new(LONGEST)).unwrap_or(today);
    if day < today {
        Err(Fault::says(format!("{} is over. A pass opens today or later.", day_shown(day))))
    } else if day > most {
        Err(Fault::says(format!("A pass opens for {LONGEST} days at most, so until {}.", day_shown(most))))
    } else {
        Ok(day)
    }
}

/// The days a pass is to show. They begin with what is written, so today at the latest, and end no later than the pass: what is
/// written until then is shown once it is there, so that a pass made the evening before a visit shows the milking of its morning.
///
/// # Errors
/// What is wrong with each of the days.
pub fn days_shown(from: Day, to: Day, last_day: Option<Day>, today: Day) -> Result<Span, Vec<Remark>> {
    let mut remarks = Vec::new();
    if from > today {
        remarks.push(Remark::fault(
            "from",
            format!("{} has not come yet: begin with a day that has records, so today or earlier.", day_shown(from)),
        ));
    } else if from > to {
        remarks.push(Remark::fault("to", "The last day comes before the first."));
    }
    if let Some(last) = last_day.filter(|last| to > *last) {
        let says = format!("{} has not come yet when the pass is over, at the end of {}.", day_shown(to), day_shown(last));
        remarks.push(Remark::fault("to", says));
    }
    if remarks.is_empty() { Ok(Span { from, to }) } else { Err(remarks) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::when::parse_day;

    fn day(typed: &str) -> Day {
        parse_day(typed).unwrap()
    }

    #[test]
    fn a_code_is_read_as_it_is_read_aloud() {
        let read = Some(("384".to_owned(), "502917466".to_owned()));
        for code in ["384 502 917 466", "384502917466", "384-502-917-466", " 384.502.917.466 "] {
            assert_eq!(typed(code), read, "{code}");
        }
        for code in ["", "384 502 917", "384 502 917 46a", "٣٨٤ 502 917 466", "384 502 917 4667"] {
            assert_eq!(typed(code), None, "{code}");
        }
        assert_eq!(shown("384", "502917466"), "384 502 917 466");
    }

    /// Source: the time zone data base: in New York 1 November 2026 has 25 hours and 8 March 2026 has 23.
    #[test]
    fn it_ends_at_midnight_on_the_farm_s_clock_however_long_that_day_is() {
        let zone = Zone::parse("America/New_York").unwrap();
        for (last, hours) in [("2026-11-01", 25), ("2026-03-08", 23), ("2026-05-14", 24)] {
            let span = Span { from: day("2026-01-01"), to: day("2026-02-01") };
            let pass = Pass {
                number: 1,
                named: "384".to_owned(),
                for_whom: "the county".to_owned(),
                span,
                last_day: day(last),
                names: false,
                made: Moment::seconds(0),
                who: "Mina".to_owned(),
                withdrawn: None,
                shut: false,
            };
            let midnight = zone.start_of(day(last)).plus_hours(hours);
            assert!(pass.opens(zone, Moment::seconds(midnight.in_seconds() - 1)), "{last}");
            assert!(!pass.opens(zone, midnight), "{last}");
            assert!(!Pass { shut: true, ..pass.clone() }.opens(zone, Moment::seconds(0)));
            assert!(!Pass { withdrawn: Some(Moment::seconds(0)), ..pass.clone() }.opens(zone, Moment::seconds(0)));
            assert!(pass.shows(day("2026-02-01")) && !pass.shows(day("2026-02-02")) && !pass.shows(day("2025-12-31")));
        }
    }

    #[test]
    fn it_shows_the_morning_of_a_visit_and_no_day_after_it() {
        let (today, tomorrow, far) = (day("2026-11-21"), day("2026-11-22"), day("2062-11-21"));
        assert_eq!(days_shown(today, tomorrow, Some(tomorrow), today), Ok(Span { from: today, to: tomorrow }));
        let fields = |from, to, last| -> Vec<String> {
            days_shown(from, to, last, today).unwrap_err().into_iter().map(|remark| remark.field).collect()
        };
        assert_eq!(fields(today, far, Some(tomorrow)), ["to"]);
        assert_eq!(fields(far, today, Some(tomorrow)), ["from"], "the first day is wrong, and not the last");
        assert_eq!(fields(far, far, Some(tomorrow)), ["from", "to"]);
        assert_eq!(fields(tomorrow, tomorrow, Some(tomorrow)), ["from"]);
        assert_eq!(fields(today, day("2026-11-01"), None), ["to"]);
    }

    #[test]
    fn a_pass_is_made_for_days_to_come_and_not_for_a_season() {
        let today = day("2026-05-14");
        assert_eq!(last_day(today, today), Ok(today));
        assert!(last_day(day("2026-05-13"), today).unwrap_err().to_string().contains("is over"));
        assert!(last_day(day("2026-08-12"), today).is_ok() && last_day(day("2026-08-13"), today).is_err());
    }
}
