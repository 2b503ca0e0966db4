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

/// What was found about the chilling of a lot.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Chilled {
    /// One finding for each step that applies.
    pub findings: Vec<Finding>,
    /// The worst of them; never met where no cooling step is known.
    pub overall: Standing,
    /// The first reading that shows cold milk warming again, or else the first that only looks so.
    pub warmed_up: Option<Reading>,
    /// The last reading that shows the same, so that a second warming is never taken for the first.
    pub warm_last: Option<Reading>,
    /// Whether the readings show it, however far their thermometers are known to be off.
    pub warmed_for_sure: bool,
    /// How many milkings are in it.
    pub milkings: usize,
    /// Every reading that does not show the milk at the coldest limit.
    pub warm: Vec<Reading>,
    /// The first reading below freezing.
    pub below_freezing: Option<Reading>,
    /// Readings from before the milking started or from a time to come, which count for nothing.
    pub ignored: Vec<Reading>,
}

impl Chilled {
    /// The finding that decides: of those that stand as the whole does, the strictest cooling step if there is one.
    #[must_use]
    pub fn deciding(&self) -> Option<&Finding> {
        let standing = self.findings.iter().filter(|finding| finding.outcome.standing() == self.overall);
        standing.min_by_key(|finding| (finding.step.stage != Stage::Cool, finding.step.limit))
    }

    /// The one sentence that says why.
    #[must_use]
    pub fn reason(&self) -> String {
        self.deciding().map_or_else(|| "How fast the milk must be cold is not known for this place.".into(), Finding::reason)
    }

    /// The same sentence with the farm's own clock times.
    #[must_use]
    pub fn reason_at(&self, farm: Zone) -> String {
        self.deciding().map_or_else(|| self.reason(), |finding| finding.reason_at(farm))
    }

    /// The readings that can still show something, the earliest first, each with what it must not be above: for a step with a
    /// deadline by when, and for a blend from when, because how warm it got shows only right after.
    #[must_use]
    pub fn readings_due(&self) -> Vec<(Moment, Temperature, Stage)> {
        let due = self.findings.iter().filter_map(|finding| match (finding.outcome, finding.step.stage) {
            (Outcome::Due { by }, Stage::Blend) => Some((finding.from.unwrap_or(by), finding.step.limit, Stage::Blend)),
            (Outcome::Due { by }, stage) => Some((by, finding.step.limit, stage)),
            _ => None,
        });
        let mut due: Vec<_> = due.collect();
        // Of two readings due at the same time the colder limit answers both.
        due.sort_by_key(|(at, limit, _)| (*at, *limit));
        due
    }

    /// The next thing to do.
    #[must_use]
    pub fn next(&self, farm: Zone) -> String {
        let needs = |wanted: &[Why]| {
            self.findings.iter().any(|finding| matches!(finding.outcome, Outcome::NotShown { why, .. } if wanted.contains(&why)))
        };
        if self.overall == Standing::NotMet {
            return "Keep this milk back. Your local rule says what may still be done with it.".into();
        }
        if needs(&[Why::NoMilking]) {
            return "Write down when this milk was milked.".into();
        }
        if needs(&[Why::NoEnd]) {
            return "Write down when milking ended.".into();
        }
        match self.readings_due().first() {
            Some((_, limit, Stage::Blend)) => return format!("Read it as soon as the later milking is in: it must not be above {limit}."),
            Some((by, limit, _)) => return format!("Read the temperature by {}: it must show {limit} or less.", farm.clock(*by)),
            None => {}
        }
        match self.overall {
            Standing::NotShown
                if matches!(self.deciding(), Some(Finding { outcome: Outcome::NotShown { why: Why::TooCold(_), .. }, .. })) =>
            {
                "Check the thermometer in ice water and look whether the milk has frozen; a reading written down wrongly can be corrected."
                    .into()
            }
            Standing::NotShown if needs(&[Why::NotSince]) => "Read its temperature now, and write it down.".into(),
            Standing::NotShown
                if matches!(self.deciding(), Some(Finding { outcome: Outcome::NotShown { why: Why::Doubtful(_), .. }, .. })) =>
            {
                "Keep this milk back, and ask the health department whether it may still go. Take another thermometer for the next milk."
                    .into()
            }
            Standing::NotShown => {
                "Keep this milk back, and ask the health department whether it may still go: a late reading cannot show it.".into()
            }
            Standing::NotKnown => {
                "Ask the health department how fast milk must be cold, and write the answer into the farm's rules.".into()
            }
            _ if self.warmed_up.is_some() => {
                "Keep it back until you know why it warmed; the rule names no figure for keeping, so ask the health department or decide with a reason."
                    .into()
            }
            _ => "Keep it cold until it is handed out.".into(),
        }
    }

    /// Everything it rests on in a few words, so that a decision about it is about exactly this: each step with how it stands, the
    /// milkings, and every reading above the coldest limit. A further cold reading changes none of it.
    #[must_use]
    pub fn in_full(&self, farm: Zone) -> String {
        let steps = self.findings.iter().map(|found| format!("{}: {}", found.step.spoken(), found.outcome.standing()));
        let warm = self.warm.iter().map(|reading| format!("{} on {}", reading.temperature, farm.in_full(reading.at)));
        let (steps, warm) = (steps.collect::<Vec<_>>().join("; "), warm.collect::<Vec<_>>().join(", "));
        let warm = if warm.is_empty() { String::new() } else { format!("; read above it: {warm}") };
        format!("milkings: {}; {steps}{warm}", self.milkings)
    }

    /// Whether something has to be written down before anything can be said: when it was milked, or when milking ended.
    #[must_use]
    pub fn lacks_a_time(&self) -> bool {
        let lacks = |finding: &Finding| matches!(finding.outcome, Outcome::NotShown { why: Why::NoEnd | Why::NoMilking, .. });
        self.findings.iter().any(lacks)
    }

    /// Other things the readings show, a sentence each.
    #[must_use]
    pub fn remarks(&self, farm: Zone) -> Vec<String> {
        let warmed = self.warmed_up.map(|r| {
            let (shown, time) = (r.temperature, farm.clock(r.at));
            let again = self.warm_last.filter(|last| last.at > r.at);
            let again = again.map_or_else(String::new, |last| format!(", and again {} at {}", last.temperature, farm.clock(last.at)));
            if self.warmed_for_sure {
                format!("It was cold and then read {shown} at {time}{again}: it warmed up.")
            } else {
                format!("It read cold and then {shown} at {time}{again}, but a thermometer known to be off was used: nobody can tell whether it warmed up.")
            }
        });
        let frozen = self
            .below_freezing
            .map(|r| format!("It read {} at {}, below freezing: check the thermometer.", r.temperature, farm.clock(r.at)));
        let ignored = self.ignored.iter().map(|r| {
            format!(
                "The reading of {} at {} is from before this milk was milked, or from a time to come: it does not count.",
                r.temperature,
                farm.clock(r.at)
            )
        });
        warmed.into_iter().chain(frozen).chain(ignored).collect()
    }
}

impl fmt::Display for Chilled {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}. {}", self.overall, self.reason())
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
