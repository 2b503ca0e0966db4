//! What happened to a lot and stands on its paper besides its facts: hand-outs as they were frozen, holds with their lifts,
//! readings struck through, and what the owner decided.

use super::{
    balance::What,
    jars::Jars,
    when::{Moment, Zone},
};

/// A hand-out with the verdict frozen into it.
#[derive(Clone, Debug)]
pub struct Handed {
    /// When.
    pub at: Moment,
    /// The household's number; empty for an unknown walk-in.
    pub label: String,
    /// How much.
    pub jars: Jars,
    /// How it is known.
    pub evidence: String,
    /// The word of that moment.
    pub then: String,
    /// Its reason.
    pub because: String,
    /// How it was marked.
    pub marked: String,
}

/// A hold that touched the lot, lifted or not.
#[derive(Clone, Debug)]
pub struct Stopped {
    /// What was held.
    pub what: String,
    /// Why.
    pub reason: String,
    /// Since when.
    pub at: Moment,
    /// By whom.
    pub who: String,
    /// When it was lifted, why, and by whom.
    pub lifted: Option<(Moment, String, String)>,
}

/// A chill reading that was struck through, which is a fact of the lot too.
#[derive(Clone, Debug)]
pub struct StruckReading {
    /// When it had been read.
    pub at: Moment,
    /// What it had shown.
    pub showed: String,
    /// When and by whom it was struck, and why.
    pub struck: Moment,
    /// By whom.
    pub who: String,
    /// Why.
    pub why: String,
}

impl StruckReading {
    /// What there is to say beside it.
    #[must_use]
    pub fn says(&self, zone: Zone) -> String {
        format!("struck through by {} on {}: {}", self.who, zone.in_full(self.struck), self.why)
    }
}

/// A decision of the owner, with what the records said when it was made.
#[derive(Clone, Debug)]
pub struct Ruled {
    /// When.
    pub at: Moment,
    /// By whom.
    pub who: String,
    /// About what.
    pub over: Vec<String>,
    /// What the verdict was.
    pub verdict: String,
    /// Why it was that.
    pub because: String,
    /// The facts known then.
    pub facts: String,
    /// Why the lot may go all the same.
    pub reason: String,
}

impl Ruled {
    /// The decision as it was made, in one paragraph.
    #[must_use]
    pub fn says(&self, zone: Zone) -> String {
        let (who, at, over) = (&self.who, zone.in_full(self.at), self.over.join("; "));
        format!(
            "{who} decided otherwise on {at} about {over}: {} The records said then: {}. {}",
            ended(&self.reason),
            self.verdict,
            ended(&self.because)
        )
    }
}

/// What happened to some jars, in a word or two.
#[must_use]
pub const fn moved(what: What) -> &'static str {
    match what {
        What::Filled => "Filled",
        What::Returned => "Brought back",
        What::HandedOut => "Handed out",
        What::Household => "To the household",
        What::Calf => "To the calf",
        What::IntoLot => "Made into another lot",
        What::Sample => "Sample",
        What::ShelfJar => "Shelf jar",
        What::Broken => "Broken",
        What::ThrownOut => "Thrown out",
    }
}

fn ended(typed: &str) -> String {
    let plain = typed.trim();
    if plain.ends_with(['.', '!', '?']) || plain.is_empty() { plain.to_owned() } else { format!("{plain}.") }
}
