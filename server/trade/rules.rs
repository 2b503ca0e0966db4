//! The rules of a place, as far as they are known, each with where it was read and how sure that is.
//!
//! What is not known stays not known: an empty place in a rule set never means that nothing is required. No set claims
//! to be current; each says where to look.

pub use super::{
    channels::{Channel, Channels},
    steps::{Clock, NOT_KNOWN, Stage, Step, Steps, Sure},
};

use super::{Fault, caps::Caps, frequency::Frequencies, limits::Limits, needs::Needs, steps::range_of};
use serde::Deserialize;
use std::fmt;

/// The project's own file of rule sets.
const PLACES: &str = include_str!("places.json");

/// On what footing milk reaches a household.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Basis {
    /// It is sold.
    Sale,
    /// The household owns part of the herd.
    Herdshare,
}

/// How long around calving milk stays out of jars.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Colostrum {
    /// Days before calving, where a rule names them.
    pub days_before: Option<i64>,
    /// Days after calving, where a rule names them.
    pub days_after: Option<i64>,
    /// Milkings after calving, where a rule names them too; the longer of the two holds.
    pub milkings: Option<i64>,
    /// How sure the figures are.
    pub sure: Sure,
    /// What else there is to say of them.
    pub note: Option<String>,
}

/// What the days on a lid are counted from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
pub enum CountedFrom {
    /// The day the jar was filled.
    #[serde(rename = "filling")]
    Filling,
    /// The day of the oldest milking in the jar.
    #[serde(rename = "oldest milking")]
    OldestMilking,
    /// The day the milk was made.
    #[serde(rename = "production")]
    Production,
}

/// The longest a jar may be dated.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BestBy {
    /// Days.
    pub days: i64,
    /// What they are counted from.
    pub from: CountedFrom,
    /// How sure the figure is.
    pub sure: Sure,
}

/// When the next sample must be taken after too many results were over a limit.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Resample {
    /// Days after the notice before which it is too soon.
    pub not_before_days: u32,
    /// Days after the notice after which it is too late.
    pub within_days: u32,
    /// What the days are counted from.
    pub after: String,
    /// How sure the days are.
    pub sure: Sure,
}

/// All that is known of the rules of one place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RuleSet {
    /// A short name that never changes.
    pub id: String,
    /// What it is called.
    pub title: String,
    /// Where it holds.
    pub place: String,
    /// The law it stands in.
    pub citation: String,
    /// A page where it was read, if it can be given.
    pub url: Option<String>,
    /// The date of the text that was read.
    pub text_date: String,
    /// How sure the main values are; nothing where no text was read.
    pub sure: Option<Sure>,
    /// Whether it is about selling or about owning a share; nothing where it is not said.
    pub basis: Option<Basis>,
    /// The chill steps; none means not known.
    pub steps: Steps,
    /// The days around calving, if known.
    pub colostrum: Option<Colostrum>,
    /// The longest date on a lid, if known.
    pub best_by: Option<BestBy>,
    /// The ways milk may be handed out.
    pub channels: Channels,
    /// What a household needs first.
    pub needs: Needs,
    /// The limits on results; none means not known.
    pub limits: Limits,
    /// What is tested and done again and again; none means not known.
    pub tests: Frequencies,
    /// How much milk or how many cows are allowed; none means not known.
    pub caps: Caps,
    /// When to sample again after a notice, if known.
    pub resample: Option<Resample>,
    /// Years that records are kept, how sure that is, and which records; if known.
    pub keep_years: Option<(i64, Sure, String)>,
    /// What else was read, in plain sentences.
    pub notes: Vec<String>,
}

impl RuleSet {
    /// Whether this is the law of a place, as opposed to figures chosen for want of one.
    #[must_use]
    pub fn is_law(&self) -> bool {
        !matches!(self.sure, None | Some(Sure::Chosen))
    }

    /// Where to look before relying on it. It never says that the rule is in force.
    #[must_use]
    pub fn where_to_look(&self) -> String {
        match self.sure {
            None => "Nothing was read for this place. Ask the health department or the department of agriculture.".into(),
            Some(Sure::Chosen) => format!("This is not law. {}. Ask the health department which rules hold where you are.", self.citation),
            Some(sure) => format!(
                "{}, {sure}; date of the text: {}. Rules change: look it up, or ask the health department, before you rely on it.",
                self.citation, self.text_date
            ),
        }
    }

    /// The days around calving, in words.
    #[must_use]
    pub fn colostrum_shown(&self) -> String {
        let Some(colostrum) = &self.colostrum else { return NOT_KNOWN.into() };
        let after = match (colostrum.days_after, colostrum.milkings) {
            (Some(days), Some(milkings)) => format!("{days} days after calving or {milkings} milkings, whichever is longer"),
            (Some(days), None) => format!("{days} days after calving"),
            (None, Some(milkings)) => format!("{milkings} milkings after calving"),
            (None, None) => "a time after calving that is not known".into(),
        };
        let before = colostrum.days_before.map_or_else(String::new, |days| format!("{days} days before to "));
        format!("{before}{after} ({})", colostrum.sure)
    }

    /// The longest date on a lid, in words.
    #[must_use]
    pub fn best_by_shown(&self) -> String {
        self.best_by.map_or_else(|| NOT_KNOWN.into(), |best| format!("{} days from the {} ({})", best.days, best.from, best.sure))
    }

    /// The limits on results, as one line of a cell.
    #[must_use]
    pub fn limits_line(&self) -> String {
        if self.limits.0.is_empty() { NOT_KNOWN.into() } else { self.limits.to_string() }
    }

    /// When to sample again, in words.
    #[must_use]
    pub fn resample_shown(&self) -> String {
        self.resample.as_ref().map_or_else(
            || NOT_KNOWN.into(),
            |Resample { not_before_days, within_days, after, sure }| {
                format!("not before {not_before_days} days after {after}, and within {within_days} ({sure})")
            },
        )
    }

    /// How long records are kept, in words.
    #[must_use]
    pub fn keep_years_shown(&self) -> String {
        let Some((years, sure, which)) = &self.keep_years else { return NOT_KNOWN.into() };
        format!("{years} year{} ({sure}): {which}", if *years == 1 { "" } else { "s" })
    }
}

impl fmt::Display for CountedFrom {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            CountedFrom::Filling => "filling",
            CountedFrom::OldestMilking => "oldest milking",
            CountedFrom::Production => "making of the milk",
        })
    }
}

/// A rule set as it stands in the file, before its limits are read.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Written {
    id: String,
    title: String,
    #[serde(rename = "where")]
    place: String,
    citation: String,
    url: Option<String>,
    text_date: String,
    sure: Option<Sure>,
    basis: Option<Basis>,
    chill: Vec<WrittenStep>,
    colostrum: Option<Colostrum>,
    best_by: Option<BestBy>,
    channels: String,
    #[serde(default)]
    needs: String,
    limits: Vec<String>,
    tests: String,
    caps: String,
    resample: Option<Resample>,
    keep_years: Option<(i64, Sure, String)>,
    notes: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenStep {
    stage: Stage,
    limit: String,
    within_minutes: Option<i64>,
    clock: Clock,
    sure: Sure,
    note: Option<String>,
}

impl Written {
    fn read(self) -> Result<RuleSet, Fault> {
        let (mut steps, mut notes) = (Vec::new(), Vec::new());
        for written in self.chill {
            let WrittenStep { stage, within_minutes, clock, sure, .. } = written;
            let (lowest, limit) = range_of(&written.limit)
                .ok_or_else(|| Fault::says(format!("The rules of {} have a limit that cannot be read: {}.", self.title, written.limit)))?;
            let step = Step { stage, limit, lowest, within_minutes, clock, sure };
            notes.extend(written.note.map(|note| format!("{}: {note}.", step.spoken())));
            steps.push(step);
        }
        notes.extend(self.notes);
        let (channels, needs, tests) = (Channels::parse(&self.channels)?, Needs::parse(&self.needs)?, Frequencies::parse(&self.tests)?);
        let (steps, caps) = (Steps(steps), Caps::parse(&self.caps)?);
        let Written { id, title, place, citation, url, text_date, sure, basis, colostrum, best_by, .. } = self;
        let (limits, resample, keep_years) = (Limits::parse(&self.limits.join("; "))?, self.resample, self.keep_years);
        Ok(RuleSet {
            id,
            title,
            place,
            citation,
            url,
            text_date,
            sure,
            basis,
            steps,
            colostrum,
            best_by,
            channels,
            needs,
            limits,
            tests,
            caps,
            resample,
            keep_years,
            notes,
        })
    }
}

/// Every rule set the project carries: the careful one first, then the blank one, then the places.
///
/// # Errors
/// A sentence when the file cannot be read.
pub fn places() -> Result<Vec<RuleSet>, Fault> {
    let written: Vec<Written> =
        serde_json::from_str(PLACES).map_err(|fault| Fault::says(format!("The rules of places cannot be read: {fault}.")))?;
    written.into_iter().map(Written::read).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[allow(clippy::unwrap_used, reason = "a test that cannot set itself up has failed")]
    fn place(id: &str) -> RuleSet {
        places().unwrap().into_iter().find(|set| set.id == id).unwrap()
    }

    /// Source: the project's own page; a place in the file and not on the page, or the other way, is a slip.
    #[test]
    fn every_place_stands_on_the_page_of_sources() {
        let page = include_str!("../../docs/rules.md");
        let sets = places().unwrap();
        for set in &sets {
            assert!(
                page.contains(&format!("| {} |", set.title)) && page.contains(&set.citation) && page.contains(&set.text_date),
                "{}",
                set.id
            );
            assert_eq!(Steps::parse(&set.steps.to_string()).unwrap(), set.steps, "{}", set.id);
            let section = page.split(&format!("\n### {}\n", set.title)).nth(1).unwrap_or_else(|| panic!("no section for {}", set.id));
            let section = section.split("\n#").next().unwrap();
            for (name, line) in [
                ("Limits", set.limits_line()),
                ("How often", set.tests.to_string()),
                ("How much", set.caps.to_string()),
                ("Ways to hand out", set.channels.to_string()),
                ("A household needs", set.needs.to_string()),
                ("Sampled again", set.resample_shown()),
                ("Records kept", set.keep_years_shown()),
            ] {
                assert!(section.lines().any(|said| said == format!("- {name}: {line}")), "{}: {name}: {line}", set.id);
            }
            assert_eq!(Frequencies::parse(&set.tests.to_string()).unwrap(), set.tests, "{}", set.id);
            assert_eq!(Caps::parse(&set.caps.to_string()).unwrap(), set.caps, "{}", set.id);
            assert_eq!(Channels::parse(&set.channels.to_string()).unwrap(), set.channels, "{}", set.id);
            assert_eq!(Limits::parse(&set.limits_line()).unwrap(), set.limits, "{}", set.id);
            assert!(set.notes.join("\n").chars().count() < 1900, "{}: the notes do not fit their cell", set.id);
            assert_eq!(sets.iter().filter(|other| other.id == set.id).count(), 1, "{} twice", set.id);
        }
    }

    #[test]
    fn what_is_not_known_is_said_to_be_not_known() {
        let blank = place("not-listed");
        for shown in [
            blank.steps.to_string(),
            blank.colostrum_shown(),
            blank.best_by_shown(),
            blank.channels.to_string(),
            blank.needs.to_string(),
            blank.limits_line(),
            blank.tests.to_string(),
            blank.caps.to_string(),
            blank.resample_shown(),
            blank.keep_years_shown(),
        ] {
            assert_eq!(shown, NOT_KNOWN);
        }
        assert!(!blank.is_law() && !place("default-conservative").is_law());
        assert!(place("default-conservative").where_to_look().starts_with("This is not law."));
        assert!(places().unwrap().iter().all(|set| set.is_law() || set.steps.0.iter().all(|step| step.sure == Sure::Chosen)));
    }

    /// Source: Cal. Food & Ag. Code 35602; New Zealand's Animal Products (Dairy) Regulations 2005 reg 3; 330 CMR 27 as summed up
    /// by a farmers' association; the French arrêté of 13 July 2012 as summed up by a prefecture.
    #[test]
    fn keeping_times_are_those_of_the_law() {
        assert_eq!(place("us-ca-market-raw").colostrum_shown(), "15 days before to 5 days after calving (read in the law)");
        assert_eq!(place("nz-rcs-2016").colostrum_shown(), "4 days after calving or 8 milkings, whichever is longer (read in the law)");
        assert_eq!(place("us-ma-retail").best_by_shown(), "5 days from the filling (read second-hand)");
        assert_eq!(place("fr-2012-direct").best_by_shown(), "3 days from the oldest milking (read second-hand)");
        assert_eq!(place("us-pa-permit").best_by_shown(), NOT_KNOWN);
    }
}
