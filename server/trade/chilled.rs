//! What is found about the chilling of a lot as a whole, and how that is said.

use super::{
    coldness::{Finding, MilkingTimes, Outcome, Reading, Standing, Why},
    measure::Temperature,
    steps::Stage,
    when::{Moment, Zone},
};
use std::fmt;

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
    /// The milkings in it.
    pub milkings: Vec<MilkingTimes>,
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

    /// Everything it rests on in a few words, so that a decision about it is about exactly this: each step, each
    /// milking, and every reading above the coldest limit. A further cold reading changes none of it.
    #[must_use]
    pub fn in_full(&self, farm: Zone) -> String {
        let steps = self.findings.iter().map(|found| found.step.spoken());
        let warm = self.warm.iter().map(|reading| format!("{} on {}", reading.temperature, farm.in_full(reading.at)));
        let (steps, warm) = (steps.collect::<Vec<_>>().join("; "), warm.collect::<Vec<_>>().join(", "));
        let warm = if warm.is_empty() { String::new() } else { format!("; read above it: {warm}") };
        let milking = |own: &MilkingTimes| {
            let ended = own.end.map_or_else(|| "an end not written down".to_owned(), |end| farm.clock(end));
            format!("milked {} to {ended}", farm.in_full(own.start))
        };
        let milkings: Vec<String> = self.milkings.iter().map(milking).collect();
        format!("{}; {steps}{warm}", milkings.join(", "))
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
