//! The rules of a place, as far as they are known, each with where it was read and how sure that is.
//!
//! What is not known stays not known: an empty place in a rule set never means that nothing is required. No set claims
//! to be current; each says where to look.

pub use super::steps::{Clock, Stage, Step, Steps, Sure};

use super::{Fault, steps::limit_of};
use serde::Deserialize;
use std::fmt;

/// The project's own file of rule sets.
const PLACES: &str = include_str!("places.json");

/// The words for whatever was not read anywhere.
pub const NOT_KNOWN: &str = "not known";

/// On what footing milk reaches a household.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Basis {
    /// It is sold.
    Sale,
    /// The household owns part of the herd.
    Herdshare,
}

/// A way milk may reach a household.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Channel {
    /// To the owners of the herd.
    Herdshare,
    /// Picked up where it was made.
    #[serde(rename = "farm gate")]
    FarmGate,
    /// Brought to the household.
    Delivery,
    /// Handed out at an agreed place or a market.
    #[serde(rename = "collection point")]
    CollectionPoint,
    /// Sold in a shop.
    Shop,
}

impl fmt::Display for Channel {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Channel::Herdshare => "herdshare",
            Channel::FarmGate => "farm gate",
            Channel::Delivery => "delivery",
            Channel::CollectionPoint => "collection point",
            Channel::Shop => "shop",
        })
    }
}

/// The ways of handing out that are named. An empty list means the text names none, which is not the same as not known.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Channels {
    /// The ways named.
    pub list: Vec<Channel>,
    /// How sure they are.
    pub sure: Sure,
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
    /// The ways milk may be handed out, if known.
    pub channels: Option<Channels>,
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

    /// The ways of handing out, in words.
    #[must_use]
    pub fn channels_shown(&self) -> String {
        match &self.channels {
            None => NOT_KNOWN.into(),
            Some(channels) if channels.list.is_empty() => format!("none is named; see the notes ({})", channels.sure),
            Some(channels) => {
                let said: Vec<String> = channels.list.iter().map(ToString::to_string).collect();
                format!("{} ({})", said.join(", "), channels.sure)
            }
        }
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
    channels: Option<Channels>,
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
            let limit = limit_of(&written.limit)
                .ok_or_else(|| Fault::says(format!("The rules of {} have a limit that cannot be read: {}.", self.title, written.limit)))?;
            let step = Step { stage, limit, within_minutes, clock, sure };
            notes.extend(written.note.map(|note| format!("{}: {note}.", step.spoken())));
            steps.push(step);
        }
        notes.extend(self.notes);
        let Written { id, title, place, citation, url, text_date, sure, basis, colostrum, best_by, channels, .. } = self;
        Ok(RuleSet { id, title, place, citation, url, text_date, sure, basis, steps: Steps(steps), colostrum, best_by, channels, notes })
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
            assert_eq!(sets.iter().filter(|other| other.id == set.id).count(), 1, "{} twice", set.id);
        }
    }

    #[test]
    fn what_is_not_known_is_said_to_be_not_known() {
        let blank = place("not-listed");
        for shown in [blank.steps.to_string(), blank.colostrum_shown(), blank.best_by_shown(), blank.channels_shown()] {
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
