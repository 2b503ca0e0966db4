//! What is written down and what is found about the chilling of a lot, and how it is said: each finding carries the facts
//! it rests on.

use super::{
    measure::{Scale, Temperature, trimmed},
    steps::{Stage, Step},
    when::{Moment, Zone, span_shown},
};
use rust_decimal::Decimal;
use std::fmt;

/// When one milking in a lot began and ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MilkingTimes {
    /// Its start.
    pub start: Moment,
    /// Its end, if written down.
    pub end: Option<Moment>,
}

/// What a thermometer showed, and when.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Reading {
    /// When it was read.
    pub at: Moment,
    /// What it showed.
    pub temperature: Temperature,
    /// How far its thermometer is known to be off, either way, in the exact unit of a temperature; none when nothing is known.
    pub guard: i64,
}

impl Reading {
    /// A reading of a thermometer of which nothing is known.
    #[must_use]
    pub const fn of(at: Moment, temperature: Temperature) -> Reading {
        Reading { at, temperature, guard: 0 }
    }

    /// The same reading, of a thermometer known to be off by so much.
    #[must_use]
    pub const fn guarded(self, guard: i64) -> Reading {
        Reading { guard, ..self }
    }

    /// Whether the milk was at the limit or colder, even if the thermometer showed too little.
    #[must_use]
    pub fn shows_kept(&self, limit: Temperature) -> bool {
        self.temperature.exact().saturating_add(self.guard.max(0)) <= limit.exact()
    }

    /// Whether the milk was above the limit, even if the thermometer showed too much.
    #[must_use]
    pub fn shows_broken(&self, limit: Temperature) -> bool {
        self.temperature.exact().saturating_sub(self.guard.max(0)) > limit.exact()
    }

    /// Whether it shows neither.
    #[must_use]
    pub fn is_doubtful(&self, limit: Temperature) -> bool {
        !self.shows_kept(limit) && !self.shows_broken(limit)
    }
}

/// How a finding stands, from best to worst. What cannot be told is worse than what is only not over yet.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Standing {
    /// Shown to be kept.
    Met,
    /// Not shown yet, and there is still time.
    Due,
    /// The rule itself is not known.
    NotKnown,
    /// No reading shows it, and the time is over.
    NotShown,
    /// A reading shows that it was not kept.
    NotMet,
}

impl fmt::Display for Standing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Standing::Met => "Cold in time",
            Standing::Due => "Still cooling",
            Standing::NotKnown => "The rule is not known",
            Standing::NotShown => "Nobody can show it was cold in time",
            Standing::NotMet => "Too warm",
        })
    }
}

/// Why a step is not shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Why {
    /// No reading that could show it was taken.
    NoReading,
    /// The first cold reading came after the deadline, and says nothing about the deadline.
    TooLate,
    /// The end of a milking is not written down.
    NoEnd,
    /// No milking is written down.
    NoMilking,
    /// Milk poured over from cold jars, and not read since.
    NotSince,
    /// The rule says “immediately”, and no reading was cold as milking ended.
    AtOnce,
    /// The rule names a range, and this reading lies under it.
    TooCold(Reading),
    /// The limit lies nearer to this reading than its thermometer is known to be off.
    Doubtful(Reading),
}

/// What the readings say about one step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// A reading shows it.
    Met {
        /// The first reading that does.
        at: Moment,
    },
    /// There is still time to show it.
    Due {
        /// Until when.
        by: Moment,
    },
    /// The rule itself is not known.
    NotKnown,
    /// Neither kept nor broken, as far as the readings go.
    NotShown {
        /// The last reading in time that was above the limit.
        last_above: Option<Reading>,
        /// The first reading after the time that was at or below the limit.
        first_below: Option<Reading>,
        /// Why.
        why: Why,
    },
    /// A reading shows that it was not kept.
    NotMet {
        /// When it was read.
        at: Moment,
        /// What it showed.
        temperature: Temperature,
    },
}

impl Outcome {
    pub(super) const fn doubtful(reading: Reading) -> Outcome {
        Outcome::NotShown { last_above: None, first_below: None, why: Why::Doubtful(reading) }
    }

    /// Its place between best and worst.
    #[must_use]
    pub const fn standing(&self) -> Standing {
        match self {
            Outcome::Met { .. } => Standing::Met,
            Outcome::Due { .. } => Standing::Due,
            Outcome::NotKnown => Standing::NotKnown,
            Outcome::NotShown { .. } => Standing::NotShown,
            Outcome::NotMet { .. } => Standing::NotMet,
        }
    }
}

/// A step and what was found about it, for the milking that did worst.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Finding {
    /// The step.
    pub step: Step,
    /// What was found.
    pub outcome: Outcome,
    /// When its clock started.
    pub from: Option<Moment>,
    /// Its deadline.
    pub by: Option<Moment>,
    /// The last reading in time that was above the limit.
    pub last_above: Option<Reading>,
}

impl Finding {
    pub(super) const fn new(step: &Step, outcome: Outcome) -> Finding {
        Finding { step: *step, outcome, from: None, by: None, last_above: None }
    }

    pub(super) const fn not_shown(step: &Step, why: Why) -> Finding {
        Finding::new(step, Outcome::NotShown { last_above: None, first_below: None, why })
    }

    /// How long after its clock started.
    fn after(&self, at: Moment) -> String {
        self.from.map_or_else(String::new, |from| span_shown(at.minutes_since(from)))
    }

    /// The finding in one sentence, with the facts it rests on; times are counted from the clock of the step.
    #[must_use]
    pub fn reason(&self) -> String {
        self.said(None)
    }

    /// The same sentence with the farm's own clock times beside the counted ones.
    #[must_use]
    pub fn reason_at(&self, farm: Zone) -> String {
        self.said(Some(farm))
    }

    fn said(&self, farm: Option<Zone>) -> String {
        let (rule, limit, clock) = (self.step.spoken(), self.step.limit, self.step.clock.moment());
        let on_the_clock = |at: Moment| farm.map_or_else(String::new, |farm| format!(" at {}", farm.clock(at)));
        // “08:50, 1 h 50 min” where the clock is known, and “1 h 50 min” where it is not.
        let when = |at: Moment| farm.map_or_else(|| self.after(at), |farm| format!("at {}, {}", farm.clock(at), self.after(at)));
        match (self.outcome, self.step.stage) {
            (Outcome::Met { at }, Stage::Cool) => match self.last_above {
                Some(above) if self.from.is_some_and(|from| above.at >= from) => {
                    let (early, late) = (self.after(above.at), self.after(at));
                    let times = farm.map_or_else(String::new, |farm| format!(": between {} and {}", farm.clock(above.at), farm.clock(at)));
                    format!("Reached {limit} between {early} and {late} after {clock}{times}.")
                }
                _ => format!("Was at {limit} or colder when read {} after {clock}.", when(at)),
            },
            (Outcome::Met { .. }, Stage::Blend) => format!("Stayed at {limit} or colder when the later milking went in."),
            (Outcome::Met { .. }, Stage::Hold) => format!("Every reading since it was cold is {limit} or colder."),
            (Outcome::Due { .. }, _) => format!("Still cooling; the rule is {rule}."),
            (Outcome::NotKnown, _) => format!("The rule names {rule}, so nothing can be shown."),
            (Outcome::NotMet { at, temperature }, Stage::Cool) => {
                format!("Still {temperature} when read {} after {clock}; the rule is {rule}.", when(at))
            }
            (Outcome::NotMet { at, temperature }, _) => format!("Read {temperature}{}; the rule is {rule}.", on_the_clock(at)),
            (Outcome::NotShown { why: Why::NoMilking, .. }, _) => {
                "No milking is written down for this lot, so no time can be counted.".into()
            }
            (Outcome::NotShown { why: Why::TooCold(Reading { at, temperature, .. }), .. }, _) => {
                let than =
                    if self.step.lowest.is_some() { "under the range of the rule" } else { "colder than milk is before it freezes hard" };
                format!("Read {temperature}{}, {than}; the rule is {rule}.", on_the_clock(at))
            }
            (Outcome::NotShown { why: Why::NotSince, .. }, _) => format!("Nobody has read it since it was made; the rule is {rule}."),
            (Outcome::NotShown { why: Why::NoEnd, .. }, _) => "The end of milking is not written down, so no time can be counted.".into(),
            (Outcome::NotShown { why: Why::AtOnce, .. }, _) => {
                format!("The rule is {rule}, with no minutes named, and no reading as milking ended shows it.")
            }
            (Outcome::NotShown { why: Why::Doubtful(Reading { at, temperature, guard }), .. }, _) => {
                let off = off_shown(guard, temperature.scale());
                format!("Read {temperature}{}, but that thermometer is known to be off by {off}, so it shows neither.", on_the_clock(at))
            }
            (Outcome::NotShown { last_above, first_below, .. }, _) => {
                let so_far = last_above.map_or_else(String::new, |above| format!("; the last in time was {}", above.temperature));
                let late = first_below.zip(self.step.within_minutes).map_or_else(String::new, |(below, minutes)| {
                    let time = farm.map_or_else(String::new, |farm| format!(" ({})", farm.clock(below.at)));
                    format!("; the first cold one, at {}{time}, proves nothing about {}", self.after(below.at), span_shown(minutes))
                });
                format!("No reading shows {rule}{so_far}{late}.")
            }
        }
    }
}

/// A difference between two temperatures, whichever way, in degrees of a scale: `1.8 °F`.
#[must_use]
pub fn off_shown(exact: i64, scale: Scale) -> String {
    let a_degree = match scale {
        Scale::Fahrenheit => Decimal::from(500),
        Scale::Celsius => Decimal::from(900),
    };
    format!("{} {scale}", trimmed(Decimal::from(exact.saturating_abs()) / a_degree, 2))
}
