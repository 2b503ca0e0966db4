//! A fridge found warm: how warm its jars may have been and for how long, held against the farm's house rule.
//!
//! The house rule is common practice and no law: a jar warmer than so much, for more than so many hours or for hours nobody
//! knows, is thrown out. It never says that a jar may go; what keeps it is still only “can't tell”.

use super::{
    coldness::off_shown,
    measure::Temperature,
    steps::{Stage, Steps},
    when::{Moment, Zone, span_shown},
    words::Word,
};

/// Above this a jar is thrown out where the farm wrote nothing else: common practice, not law.
const USUAL_AT: Temperature = Temperature::fahrenheit(45);

/// For more hours than this, where the farm wrote nothing else: common practice, not law.
const USUAL_HOURS: i64 = 2;

/// The house rule as the farm's record has it; what is not written there is common practice.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct HouseRule {
    /// A jar warmer than this is thrown out.
    pub at: Option<Temperature>,
    /// After more hours than this.
    pub hours: Option<i64>,
}

/// The house rule as a lot is held against it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Held {
    /// A jar warmer than this is thrown out.
    pub at: Temperature,
    /// After more hours than this.
    pub hours: i64,
    /// Where the figures come from.
    pub whence: Whence,
}

/// Where the figures of a house rule come from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Whence {
    /// The farm wrote them.
    Own,
    /// The farm wrote none, or only one of them.
    Common,
    /// The farm's own step for staying cold is stricter, and takes the temperature's place.
    Step,
}

impl HouseRule {
    /// The rule beside the farm's own steps for staying cold: the stricter temperature counts.
    #[must_use]
    pub fn beside(self, steps: &Steps) -> Held {
        let at = self.at.unwrap_or(USUAL_AT);
        let held = steps.0.iter().filter(|step| step.stage == Stage::Hold).map(|step| step.limit).min_by_key(|limit| limit.exact());
        let is_own = self.at.is_some() && self.hours.is_some();
        let hours = self.hours.unwrap_or(USUAL_HOURS);
        match held.filter(|limit| limit.exact() < at.exact()) {
            Some(limit) => Held { at: limit, hours, whence: Whence::Step },
            None => Held { at, hours, whence: if is_own { Whence::Own } else { Whence::Common } },
        }
    }
}

impl Held {
    /// The rule in one sentence, with where it comes from.
    #[must_use]
    pub fn spoken(self) -> String {
        let whence = match self.whence {
            Whence::Own => "house rule on the farm's record, not law",
            Whence::Common => "house rule, common practice, not law",
            Whence::Step => "house rule, common practice, not law; the temperature is that of the farm's own step for staying cold",
        };
        format!("A jar above {} for more than {} h, or for hours nobody knows, is thrown out ({whence}).", self.at, self.hours)
    }
}

/// A fridge that was found warm.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WarmFridge {
    /// Its record's number.
    pub number: i64,
    /// The fridge.
    pub fridge: String,
    /// When it was last known cold.
    pub last_cold: Option<Moment>,
    /// When it was found.
    pub found: Moment,
    /// What the warmest jar read.
    pub warmest: Option<Temperature>,
    /// How far that thermometer may be off, in the exact unit of a temperature.
    pub off_by: i64,
}

impl WarmFridge {
    /// For how many minutes it may have been warm, where somebody knows since when.
    #[must_use]
    pub fn minutes(&self) -> Option<i64> {
        self.last_cold.map(|cold| self.found.minutes_since(cold).max(0))
    }

    /// For how long it may have been warm, in words.
    #[must_use]
    pub fn how_long(&self) -> String {
        self.minutes().map_or_else(|| "hours nobody knows".to_owned(), |minutes| format!("up to {}", span_shown(minutes)))
    }

    /// Whether milk that left its lot at a moment may have stood in it while it was warm.
    #[must_use]
    pub fn may_have_held_at(&self, moment: Moment) -> bool {
        self.last_cold.is_none_or(|cold| moment > cold)
    }
}

/// What a warm fridge says of a lot that stood in it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Warmed {
    /// The fridge.
    pub fridge: WarmFridge,
    /// The rule it is held against.
    pub rule: Held,
}

impl Warmed {
    /// What it says: never that the lot may go.
    #[must_use]
    pub fn word(&self) -> Word {
        let is_above = self.fridge.warmest.is_some_and(|warmest| warmest.exact() + self.fridge.off_by > self.rule.at.exact());
        let is_long = self.fridge.minutes().is_none_or(|minutes| minutes > self.rule.hours * 60);
        if is_above && is_long { Word::KeepBack } else { Word::CantTell }
    }

    /// What it is about, so that a decision names this one and no other.
    #[must_use]
    pub fn topic(&self) -> String {
        format!("{}, no. {}", self.fridge.fridge, self.fridge.number)
    }

    /// The reason, in one sentence or two.
    #[must_use]
    pub fn reason(&self, zone: Zone) -> String {
        let WarmFridge { fridge, found, warmest, .. } = &self.fridge;
        let stood = format!("It stood in {fridge}, found warm {}", zone.in_full(*found));
        let since = match self.fridge.last_cold {
            Some(cold) => format!("last known cold {}", zone.in_full(cold)),
            None => "and nobody knows since when".to_owned(),
        };
        let Some(warmest) = warmest else { return format!("{stood}, {since}; the warmest jar was not read.") };
        let off = match self.fridge.off_by {
            0 => String::new(),
            by => format!(", on a thermometer that was off by {}", off_shown(by, warmest.scale())),
        };
        let rule = match self.word() {
            Word::KeepBack => "That is over the house rule.",
            _ => "That is within the house rule, which does not say that it may go.",
        };
        format!("{stood}, {since}; the warmest jar read {warmest}{off}. {rule}")
    }

    /// The next thing to do.
    #[must_use]
    pub fn next(&self) -> String {
        match (self.word(), self.fridge.warmest) {
            (Word::KeepBack, _) => "Throw it out, and count the jars as you do.",
            (_, None) => "Read the warmest jar, not the air, and write it on the page of that fridge; if nobody can, throw it out.",
            _ => "Throw it out, or decide with a reason that it may go.",
        }
        .to_owned()
    }
}
