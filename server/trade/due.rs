//! One thing that has to be done by a day, with where that day comes from.
//!
//! Words the program chose and words somebody typed stand apart, so that a file that leaves the farm can leave the typed
//! ones out: nobody's name gets into it by way of a paper's title.

use super::when::{Day, day_shown};

/// Where a day comes from that no rule names.
pub const COMMON_PRACTICE: &str = "common practice";
/// Where a day comes from that stands on a paper the farm keeps.
pub const OWN_PAPER: &str = "the farm's own paper";

/// What sort of thing is due; a short list has one line for each.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Sort {
    /// An answer that is owed to an official or a customer.
    Notice,
    /// A permit that ends.
    Permit,
    /// An agreement that ends.
    Agreement,
    /// A test that a result called for.
    Further,
    /// A fresh sample after too many results over a limit.
    Resample,
    /// A test of milk.
    Milk,
    /// A test of the water.
    Water,
    /// A test or an exam of a cow or the herd.
    Herd,
    /// An inspection.
    Inspection,
    /// Any other paper that ends.
    Paper,
    /// A call-back to practise.
    Practice,
    /// A calving.
    Calving,
    /// A cow to dry off.
    DryOff,
    /// A thermometer to hold in ice water.
    IceCheck,
    /// Rules to look at again.
    Rules,
}

impl Sort {
    /// Several of the sort, in words.
    #[must_use]
    pub const fn several(self) -> &'static str {
        match self {
            Sort::Notice => "answers owed",
            Sort::Permit => "permits",
            Sort::Agreement => "agreements",
            Sort::Further => "tests that a result calls for",
            Sort::Resample => "fresh samples after a notice",
            Sort::Milk => "milk tests",
            Sort::Water => "water tests",
            Sort::Herd => "herd tests",
            Sort::Inspection => "inspections",
            Sort::Paper => "papers to renew",
            Sort::Practice => "practice call-backs",
            Sort::Calving => "calvings",
            Sort::DryOff => "cows to dry off",
            Sort::IceCheck => "ice-water checks",
            Sort::Rules => "rule sets to look at again",
        }
    }

    /// How many days before its day it belongs on a short list. A paper that others must sign or send takes longer.
    #[must_use]
    pub const fn ahead(self) -> i64 {
        if self.is_paper() { 30 } else { 14 }
    }

    /// Whether it is a paper that ends.
    #[must_use]
    pub const fn is_paper(self) -> bool {
        matches!(self, Sort::Permit | Sort::Agreement | Sort::Paper)
    }

    /// Whether milk may not be handed out, or nobody can say that it may, once its day is over; or somebody waits for an
    /// answer.
    #[must_use]
    pub const fn bears_on_handing_out(self) -> bool {
        matches!(self, Sort::Notice | Sort::Permit | Sort::Agreement | Sort::Further)
    }
}

/// Where it is written down once it is done.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum About {
    /// On the record of this notice or request.
    Notice(i64),
    /// As a sample of milk, to be tested for something.
    MilkSample(String),
    /// As a sample of one cow's milk, to be tested for something.
    CowSample(String, String),
    /// As a sample of water, to be tested for something.
    WaterSample(String),
    /// As a renewal.
    Renewal {
        /// Its sort.
        sort: String,
        /// What is renewed.
        what: String,
        /// The cow, if one.
        cow: Option<String>,
    },
    /// As a check of this thermometer.
    IceCheck(String),
    /// On a cow's own page.
    Cow(String),
    /// On the page of this household.
    Household(String),
    /// On the record of this rule set.
    Rules(i64),
}

/// One thing that is due.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Due {
    /// What stays the same from one time to the next, whatever the day.
    pub key: String,
    /// What sort of thing it is.
    pub sort: Sort,
    /// The first day on which it counts, where a rule names one.
    pub from: Option<Day>,
    /// The last day for it.
    pub day: Day,
    /// What it is, in the program's own words and the names of cows.
    pub what: String,
    /// What the farm itself calls it; empty for nothing.
    pub named: String,
    /// How it stands, without its stop.
    pub detail: String,
    /// Where the day comes from.
    pub source: String,
    /// Whether its day is over.
    pub overdue: bool,
    /// Where it is written down.
    pub about: About,
}

impl Due {
    /// The whole of what it is: `Permit: Raw milk permit`.
    #[must_use]
    pub fn title(&self) -> String {
        if self.named.is_empty() { self.what.clone() } else { format!("{}: {}", self.what, self.named) }
    }

    /// When, in words: `by Mon 30 Nov 2026`, `between 4 and 22 March`, `since …` once it is over.
    #[must_use]
    pub fn when(&self) -> String {
        match (self.overdue, self.from) {
            (true, _) => format!("was due by {}", day_shown(self.day)),
            (false, Some(from)) => format!("between {} and {}", day_shown(from), day_shown(self.day)),
            (false, None) if self.sort == Sort::Calving => format!("about {}", day_shown(self.day)),
            (false, None) => format!("by {}", day_shown(self.day)),
        }
    }
}

/// The first of each, by what it is, in the order of their days: two rules that ask for the same thing ask for it once.
#[must_use]
pub fn in_order(mut all: Vec<Due>) -> Vec<Due> {
    all.sort_by(|one, other| (one.day, one.sort, &one.key).cmp(&(other.day, other.sort, &other.key)));
    let mut kept: Vec<Due> = Vec::new();
    for due in all {
        if !kept.iter().any(|own| own.key == due.key) {
            kept.push(due);
        }
    }
    kept
}
