//! The farm's own gaps: what its records of some days leave open. They are worked out and never typed, each by the chapter that judges
//! the same thing on every other page, so that a binder and a lot's own page cannot disagree.
//!
//! A gap says what is not written down, or not in time. Whether a law was broken is for whoever knows the law and the day.

mod overdue;
mod thermometers;
mod treated;
mod written;

pub use overdue::overdue;
pub use thermometers::{ReadWith, thermometers};
pub use treated::{CowsDoses, untimed};
pub use written::{LATE_DAYS, Written, late};

use super::{
    agreements::Line,
    balance::{Count, LotJars, Movement, find_window},
    coldness::Standing,
    curve,
    herd::Withheld,
    jars::Jars,
    lotsheet::Stopped,
    needs::Lack,
    tested::Tested,
    verdict::{Facts, Finding, Verdict, judge},
    when::{Day, Moment, Zone, day_shown},
};

/// What a gap is of. The order is the order in which they are listed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Sort {
    /// A lot nobody read.
    NoReading,
    /// A lot whose readings do not show the rule kept.
    NotShown,
    /// A lot that waits for a result by the rule, without a bottle.
    NoResult,
    /// Milk of a treated cow in a lot.
    TooSoon,
    /// A treatment with no time for the milk.
    Untimed,
    /// Milk through a vessel nobody washed.
    Unwashed,
    /// A test, an exam or an inspection.
    Overdue,
    /// A permit or another paper that ran out.
    Papers,
    /// A paper of a household that the law asks for.
    Lacking,
    /// An answer to an official.
    Owed,
    /// A thermometer.
    Thermometer,
    /// A lot whose jars do not square.
    Unsquare,
    /// A hold nobody lifted.
    StillHeld,
    /// Records written long after.
    Late,
}

impl Sort {
    /// Every sort, in the order in which they are listed.
    pub const ALL: [Sort; 14] = [
        Sort::NoReading,
        Sort::NotShown,
        Sort::NoResult,
        Sort::TooSoon,
        Sort::Untimed,
        Sort::Unwashed,
        Sort::Overdue,
        Sort::Papers,
        Sort::Lacking,
        Sort::Owed,
        Sort::Thermometer,
        Sort::Unsquare,
        Sort::StillHeld,
        Sort::Late,
    ];

    /// What is looked for.
    #[must_use]
    pub const fn looked_for(self) -> &'static str {
        match self {
            Sort::NoReading => "Lots nobody read",
            Sort::NotShown => "Lots not shown to be cold in time",
            Sort::NoResult => "Lots held for a test, without one",
            Sort::TooSoon => "Milk of a treated cow, too soon",
            Sort::Untimed => "Treatments without a time for the milk",
            Sort::Unwashed => "Lots through a vessel nobody washed",
            Sort::Overdue => "Tests and inspections past their day",
            Sort::Papers => "Permits and papers that ran out",
            Sort::Lacking => "Papers a household lacks",
            Sort::Owed => "Answers to an official, late",
            Sort::Thermometer => "Thermometers unchecked, off or unnamed",
            Sort::Unsquare => "Lots whose jars do not square",
            Sort::StillHeld => "Holds nobody lifted",
            Sort::Late => "Records written more than 3 days late",
        }
    }

    /// What it is held against.
    #[must_use]
    pub const fn held_against(self) -> &'static str {
        match self {
            Sort::NoReading | Sort::NotShown => "the chill rule of its day",
            Sort::NoResult => "limits that hold a lot for a test",
            Sort::TooSoon | Sort::Untimed => "the time written with each treatment",
            Sort::Unwashed => "the wash log",
            Sort::Overdue => "how often the rules ask; else the paper’s day",
            Sort::Papers => "the last day on the farm’s own paper",
            Sort::Lacking => "what the rules, and a share, ask for",
            Sort::Owed => "the notice’s own day",
            Sort::Thermometer => "ice water each month, to 2 °F (common practice)",
            Sort::Unsquare => "jars filled and gone, beside the counts",
            Sort::StillHeld => "the holds of the farm",
            Sort::Late => "the farm’s own choice",
        }
    }
}

/// The page a gap leads to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum About {
    /// A lot's own, by its code.
    Lot(String),
    /// A record's own: its kind and number.
    Record(&'static str, i64),
    /// The list of a kind of record.
    Kind(&'static str),
    /// The calendar.
    Calendar,
    /// A household's own, by its number.
    Household(String),
}

/// One gap.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Gap {
    /// What it is of.
    pub sort: Sort,
    /// Which lot, thermometer, paper or record.
    pub which: String,
    /// Where it is looked at, and mended if it can be.
    pub about: About,
    /// Since when.
    pub since: Day,
    /// How many records it is about.
    pub count: usize,
    /// In one sentence, as a farmer would write it by hand.
    pub says: String,
}

/// The gaps in the order in which they are listed.
#[must_use]
pub fn in_order(mut gaps: Vec<Gap>) -> Vec<Gap> {
    gaps.sort_by(|one, other| (one.sort, one.since, &one.which).cmp(&(other.sort, other.since, &other.which)));
    gaps
}

/// What households lack of what the rules ask of them on a day. A paper that ran out is a gap of its own days and is not told twice.
#[must_use]
pub fn lacking(households: &[Line], on: Day) -> Vec<Gap> {
    let lacks = households.iter().flat_map(|own| own.lacks.iter().map(move |lack| (own, lack)));
    let gap = |(own, lack): (&Line, &Lack)| Gap {
        sort: Sort::Lacking,
        which: own.label.clone(),
        about: About::Household(own.label.clone()),
        since: on,
        count: 1,
        says: format!("On {}: {lack}.", day_shown(on)),
    };
    lacks.filter(|(_, lack)| !matches!(lack, Lack::RanOut(..))).map(gap).collect()
}

/// A hold of some days that nobody lifted.
#[must_use]
pub fn still_held(held: &[Stopped], until: Moment, zone: Zone) -> Vec<Gap> {
    let stands = held.iter().filter(|own| own.lifted.as_ref().is_none_or(|(at, ..)| *at > until));
    let gap = |own: &Stopped| Gap {
        sort: Sort::StillHeld,
        which: own.what.clone(),
        about: About::Kind("holds"),
        since: zone.day(own.at),
        count: 1,
        says: format!("Held since {} and not lifted by {}: {}.", at(zone, own.at), at(zone, until), reason(&own.reason)),
    };
    stands.map(gap).collect()
}

fn reason(typed: &str) -> &str {
    if typed.trim().is_empty() { "nobody wrote why" } else { typed.trim().trim_end_matches('.') }
}

/// A lot as this looks at it.
#[derive(Clone, Copy, Debug)]
pub struct LotSeen<'a> {
    /// Everything its verdict rests on.
    pub facts: &'a Facts,
    /// What came and went.
    pub movements: &'a [Movement],
    /// Its counts.
    pub counts: &'a [Count],
}

impl LotSeen<'_> {
    /// Everything its own records leave open.
    #[must_use]
    pub fn gaps(&self, now: Moment) -> Vec<Gap> {
        let verdict = judge(self.facts, now);
        let all = [self.chill(&verdict), self.result(&verdict), self.too_soon(&verdict), self.unwashed(), self.unsquare()];
        all.into_iter().flatten().collect()
    }

    fn gap(&self, sort: Sort, says: String) -> Gap {
        let since = self.facts.zone.day(self.facts.filled);
        Gap { sort, which: self.facts.code.clone(), about: About::Lot(self.facts.code.clone()), since, count: 1, says }
    }

    fn chill(&self, verdict: &Verdict) -> Option<Gap> {
        let chilled = curve::chilled(verdict).filter(|own| matches!(own.overall, Standing::NotShown | Standing::NotMet))?;
        let unread = self.facts.readings.is_empty();
        let sort = if unread { Sort::NoReading } else { Sort::NotShown };
        let says = if unread { "Nobody wrote a temperature of it.".to_owned() } else { chilled.reason_at(self.facts.zone) };
        let about = |found: &Finding| matches!(found, Finding::Chill(_));
        Some(self.gap(sort, format!("{says} {}{}", self.went(), self.decided(verdict, about))))
    }

    fn result(&self, verdict: &Verdict) -> Option<Gap> {
        let held_for = |finding: &Finding| match finding {
            Finding::Tested(Tested::HeldFor { limit, is_out: false }) => Some(limit.analyte.to_string()),
            _ => None,
        };
        let held: Vec<String> = verdict.findings.iter().map(bare).filter_map(held_for).collect();
        let decided = self.decided(verdict, |found| held_for(found).is_some());
        let says = format!("The rule holds it for {}, and no such test of it is written. {}{decided}", held.join(", "), self.went());
        (!held.is_empty()).then(|| self.gap(Sort::NoResult, says))
    }

    fn too_soon(&self, verdict: &Verdict) -> Option<Gap> {
        let found = verdict.findings.iter().map(bare).filter(|finding| is_too_soon(finding));
        let mut reasons: Vec<String> = found.map(|finding| finding.reason(self.facts.zone)).collect();
        reasons.dedup();
        let decided = self.decided(verdict, is_too_soon);
        (!reasons.is_empty()).then(|| self.gap(Sort::TooSoon, format!("{} {}{decided}", reasons.join(" "), self.went())))
    }

    /// Who decided, about what a gap is of, that the lot may go all the same. It frees the lot, and the gap stays.
    fn decided(&self, verdict: &Verdict, about: impl Fn(&Finding) -> bool) -> String {
        let mut all: Vec<String> = Vec::new();
        for finding in &verdict.findings {
            if let Finding::Decided { found, by, at, .. } = finding
                && about(bare(found))
            {
                all.push(format!(" {by} decided on {} that it may go.", self.facts.zone.in_full(*at)));
            }
        }
        all.dedup();
        all.concat()
    }

    fn unwashed(&self) -> Option<Gap> {
        let mut sessions: Vec<&str> = self.facts.tied.iter().map(|milking| milking.session.as_str()).collect();
        sessions.dedup();
        let vessels: Vec<String> = self.facts.shared.iter().map(|vessel| format!(", {vessel}")).collect();
        let says = format!(
            "Milk of {} went through the same vessel{}, and no clean break is written in between.",
            sessions.join(", "),
            vessels.concat()
        );
        (!sessions.is_empty()).then(|| self.gap(Sort::Unwashed, says))
    }

    fn unsquare(&self) -> Option<Gap> {
        let window = find_window(self.movements, self.counts)?;
        let zone = self.facts.zone;
        let squared = if window.from_a_count { "the count of" } else { "filling, on" };
        let says =
            format!("{} at the count of {}; it squared last at {squared} {}.", window.off, at(zone, window.until), at(zone, window.from));
        Some(Gap { since: zone.day(window.until), ..self.gap(Sort::Unsquare, says) })
    }

    /// What became of its jars, as far as anybody got one.
    fn went(&self) -> String {
        let jars = LotJars::gathered(self.movements, None);
        let out = jars.handed_out - jars.returned;
        if out == Jars::NONE { "None of it was handed out.".to_owned() } else { format!("Handed out: {out}.") }
    }
}

fn at(zone: Zone, moment: Moment) -> String {
    format!("{}, {}", day_shown(zone.day(moment)), zone.clock(moment))
}

/// What was found, whatever the owner decided about it: a decision frees a lot, and mends no record.
fn bare(finding: &Finding) -> &Finding {
    match finding {
        Finding::Decided { found, .. } => bare(found),
        other => other,
    }
}

fn is_too_soon(finding: &Finding) -> bool {
    match finding {
        // Whose time nobody wrote is a gap of the treatment, and not of every lot since.
        Finding::Treated { withheld, .. } => matches!(withheld, Withheld::Until(_) | Withheld::UntilCalving(_)),
        Finding::TreatedDuring { .. } => true,
        Finding::Tied { found, .. } => is_too_soon(found),
        _ => false,
    }
}
