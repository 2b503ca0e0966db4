//! What is due, as a calendar file another program can read (iCalendar, RFC 5545).
//!
//! The file leaves the farm, often for a calendar that somebody else keeps, so nothing that anybody typed freely is in
//! it: a permit is “Permit” and not its title, for a title may hold a name.

use crate::trade::{due::Due, figures::NOTICE, when::Moment};
use chrono::{DateTime, Duration};
use icalendar::{Alarm, Calendar, Component, Event, EventLike, Property};
use sha2::{Digest, Sha256};

/// Who made the file, in the form of a public identifier (RFC 5545, 3.7.3).
const MADE_BY: &str = "-//Tallypail//What is due//EN";

/// Prints what is due as one all-day event each. An event keeps its mark from one file to the next, so that a calendar that
/// takes a newer file in moves it instead of adding a second one. `farm` goes into the mark only, not to be read.
#[must_use]
pub fn print(due: &[Due], farm: &str, now: Moment) -> Vec<u8> {
    let mut calendar = Calendar::empty();
    for (name, value) in [("VERSION", "2.0"), ("PRODID", MADE_BY), ("CALSCALE", "GREGORIAN")] {
        calendar.append_property(Property::new(name, value));
    }
    for own in due {
        calendar.push(event(own, farm, now));
    }
    calendar.to_string().into_bytes()
}

fn event(due: &Due, farm: &str, now: Moment) -> Event {
    let (mark, made) = (mark(farm, &due.key), DateTime::from_timestamp(now.in_seconds(), 0).unwrap_or_default());
    let window = due.from.map(|_| format!("{}. ", due.when())).unwrap_or_default();
    let mut event = Event::with_uid(&mark);
    event
        .timestamp(made)
        .starts(due.day)
        .summary(&due.what)
        .description(&format!("{window}{}.\nSource: {}.\n{NOTICE}", due.detail, due.source))
        .add_property("TRANSP", "TRANSPARENT");
    if due.sort.is_paper() {
        let mut alarm = Alarm::display(&due.what, -Duration::days(7));
        // Seven days on the calendar and not 168 hours, so that a change of the clocks moves nothing.
        alarm.uid(&format!("alarm-{mark}")).timestamp(made).add_property("TRIGGER", "-P7D");
        event.alarm(alarm);
    }
    event.done()
}

/// A mark no other farm's event has, and that cannot be read back: SHA-256 over the farm's name and the key.
fn mark(farm: &str, key: &str) -> String {
    let hash = Sha256::digest(format!("{farm}\n{key}").as_bytes());
    let hex: String = hash.iter().take(16).map(|byte| format!("{byte:02x}")).collect();
    format!("{hex}@tallypail.invalid")
}
