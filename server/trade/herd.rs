//! Where a cow stands in the herd: what happened to her, what her first squirts looked like, when she is due, and how a
//! milker says when she joins.

pub use super::clocks::{ColostrumRule, Dose, Fresh, Left, Withheld, colostrum, first_usable, withdrawal};

use super::{
    Fault, short,
    when::{Day, Moment, Zone},
};
use chrono::Days;
use std::fmt;

/// The next `count` milkings after a moment, at the usual times of day given as minutes after midnight.
pub fn coming_milkings(zone: Zone, usual: &[u32], after: Moment, count: usize) -> impl Iterator<Item = Moment> {
    let mut times = usual.to_vec();
    times.sort_unstable();
    let days = zone.day(after).iter_days().take(count + 1);
    let all = days.flat_map(move |day| times.clone().into_iter().map(move |minutes| zone.at(day, minutes)));
    all.filter(move |next| *next > after).take(count)
}

/// `Damson joins Thursday evening.`, with the date too when that is six days or more away.
#[must_use]
pub fn joins(cow: &str, first: Option<Moment>, now: Moment, zone: Zone) -> String {
    match first {
        Some(first) if first.minutes_since(now) < 6 * 24 * 60 => format!("{cow} joins {}.", zone.milking_words(first)),
        Some(first) => format!("{cow} joins {}, {}.", zone.milking_words(first), zone.shown(first)),
        None => format!("{cow} stays out: nobody can say yet when her milk may be used."),
    }
}

/// What the first squirts looked like.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Foremilk {
    /// As it should be.
    Normal,
    /// Flakes or clots.
    Flakes,
    /// Blood.
    Blood,
    /// Watery.
    Watery,
    /// Nobody wrote that they looked.
    #[default]
    NotLooked,
}

impl Foremilk {
    const WORDS: [(Foremilk, &'static str); 5] = [
        (Foremilk::Normal, "ok"),
        (Foremilk::Flakes, "flakes"),
        (Foremilk::Blood, "blood"),
        (Foremilk::Watery, "watery"),
        (Foremilk::NotLooked, ""),
    ];

    /// Reads `ok`, `flakes`, `blood` or `watery`; a blank means that nobody looked.
    ///
    /// # Errors
    /// A sentence when it is none of these words.
    pub fn parse(typed: &str) -> Result<Foremilk, Fault> {
        let found = Foremilk::WORDS.iter().find(|(_, word)| word.eq_ignore_ascii_case(typed.trim()));
        let wrong = || Fault::says(format!("“{}” is not a look of foremilk. Write ok, flakes, blood or watery.", short(typed)));
        found.map(|(look, _)| *look).ok_or_else(wrong)
    }

    /// Why this milk should not go into the can, or nothing when it may.
    #[must_use]
    pub const fn reason(self) -> Option<&'static str> {
        match self {
            Foremilk::Normal => None,
            Foremilk::Flakes => Some("There were flakes in her first squirts."),
            Foremilk::Blood => Some("There was blood in her first squirts."),
            Foremilk::Watery => Some("Her first squirts were watery."),
            Foremilk::NotLooked => Some("Nobody wrote down how her first squirts looked."),
        }
    }
}

impl fmt::Display for Foremilk {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(Foremilk::WORDS.iter().find(|(look, _)| look == self).map_or("", |(_, word)| word))
    }
}

/// What can happen to a cow that changes where she stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Turn {
    /// She came to the farm, or came back.
    Arrived,
    /// She calved.
    Calved,
    /// Her milk went into the can from then on.
    JoinedCan,
    /// Her milk was kept out from then on.
    KeptOut,
    /// She was dried off.
    DriedOff,
    /// She left the herd.
    Left,
    /// She was served, and is due on that day if somebody wrote one.
    Served(Option<Day>),
    /// She was found to be in calf, and is due on that day if somebody wrote one.
    InCalf(Option<Day>),
    /// She was found not to be in calf.
    NotInCalf,
    /// She was not well.
    Unwell,
    /// She was well again.
    WellAgain,
}

impl Turn {
    /// The turn behind a word of the list, with the due day beside it. A word nobody knows keeps her out.
    #[must_use]
    pub fn of(word: &str, due: Option<Day>) -> Turn {
        match word {
            "calved" => Turn::Calved,
            "joined the can" => Turn::JoinedCan,
            "dried off" => Turn::DriedOff,
            "left" => Turn::Left,
            "served" => Turn::Served(due),
            "in calf" => Turn::InCalf(due),
            "not in calf" => Turn::NotInCalf,
            "unwell" => Turn::Unwell,
            "well again" => Turn::WellAgain,
            _ => Turn::KeptOut,
        }
    }
}

/// Where a cow stands in the herd, and since when.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// Her milk goes into the can.
    InTheCan(Moment),
    /// Her milk is kept out.
    KeptOut(Moment),
    /// She calved and has not joined the can.
    Fresh(Moment),
    /// She gives no milk.
    Dry(Moment),
    /// She is gone.
    Left(Moment),
    /// Nothing is written about her up to then.
    NotKnown,
}

impl fmt::Display for Standing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Standing::InTheCan(_) => "Her milk goes into the can.",
            Standing::KeptOut(_) => "Her milk is kept out of the can.",
            Standing::Fresh(_) => "She has calved and her milk has not joined the can.",
            Standing::Dry(_) => "She is dry.",
            Standing::Left(_) => "She has left the herd.",
            Standing::NotKnown => "Nothing is written about where she stands.",
        })
    }
}

/// Where a cow stood at a moment, by what had happened to her. A newcomer is kept out until she joins, and a cow that left
/// stays gone until she arrives again. Of two things in the same minute the one listed later counts.
#[must_use]
pub fn standing(turns: &[(Turn, Moment)], as_of: Moment) -> Standing {
    past(turns, as_of).into_iter().fold(Standing::NotKnown, |before, (turn, at)| match (before, turn) {
        (Standing::Left(_), turn) if turn != Turn::Arrived => before,
        (_, Turn::Served(_) | Turn::InCalf(_) | Turn::NotInCalf | Turn::Unwell | Turn::WellAgain) => before,
        (_, Turn::Arrived | Turn::KeptOut) => Standing::KeptOut(at),
        (_, Turn::Calved) => Standing::Fresh(at),
        (_, Turn::JoinedCan) => Standing::InTheCan(at),
        (_, Turn::DriedOff) => Standing::Dry(at),
        (_, Turn::Left) => Standing::Left(at),
    })
}

/// The day she is due: 283 days after she was served, common practice for dairy breeds.
#[must_use]
pub fn due(served: Day) -> Option<Day> {
    served.checked_add_days(Days::new(283))
}

/// The day to dry her off: 60 days before she is due, common practice.
#[must_use]
pub fn dry_off(due: Day) -> Option<Day> {
    due.checked_sub_days(Days::new(60))
}

/// What had happened to her up to a moment, oldest first; of two in the same minute, the one listed later counts.
fn past(turns: &[(Turn, Moment)], as_of: Moment) -> Vec<(Turn, Moment)> {
    let mut past: Vec<(Turn, Moment)> = turns.iter().copied().filter(|(_, at)| *at <= as_of).collect();
    past.sort_by_key(|(_, at)| *at);
    past
}

/// Since when she has not been well, if nobody wrote that she is well again.
#[must_use]
pub fn unwell_since(turns: &[(Turn, Moment)], as_of: Moment) -> Option<Moment> {
    past(turns, as_of).into_iter().fold(None, |since, (turn, at)| match turn {
        Turn::Unwell => since.or(Some(at)),
        Turn::WellAgain => None,
        _ => since,
    })
}

/// The day she is due to calve, by the last service or finding. A calving ends it, and so does finding her not in calf; a
/// finding that names no day leaves the one of the service.
#[must_use]
pub fn due_day(turns: &[(Turn, Moment)], as_of: Moment, zone: Zone) -> Option<Day> {
    past(turns, as_of).into_iter().fold(None, |before, (turn, at)| match turn {
        Turn::Served(named) => named.or_else(|| due(zone.day(at))),
        Turn::InCalf(named) => named.or(before),
        Turn::Calved | Turn::NotInCalf => None,
        _ => before,
    })
}

/// Every calving written up to a moment.
#[must_use]
pub fn calvings(turns: &[(Turn, Moment)], as_of: Moment) -> Vec<Moment> {
    turns.iter().filter(|(turn, at)| *turn == Turn::Calved && *at <= as_of).map(|(_, at)| *at).collect()
}
