//! Which part of the milk a spread can reach, asked level by level: a ledger of twenty years is not read for one day's can.
//!
//! It walks as `Graph::spread` walks: back along the milk and forward again, then both once more
//! with every vessel taken for one pot. It knows no ledger; whoever does answers each step, and a graph of what was reached, with
//! everything that flowed into those lots, gives the same spread as a graph of everything.

use super::trace::{LotId, MilkingId};
use std::collections::BTreeSet;

/// One question: what stands next to these lots and milkings.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Step {
    /// Whether the milk is followed back, to what went in; otherwise forward, to what came of it.
    pub is_back: bool,
    /// Whether the lots that went through the same vessels between the clean breaks around count too.
    pub by_vessels: bool,
    /// The lots it starts from.
    pub lots: Vec<LotId>,
    /// The milkings it starts from.
    pub milkings: Vec<MilkingId>,
}

/// Lots and milkings.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Places {
    /// The lots.
    pub lots: BTreeSet<LotId>,
    /// The milkings.
    pub milkings: BTreeSet<MilkingId>,
}

impl Places {
    fn take(&mut self, found: Places) -> Places {
        let lots = found.lots.into_iter().filter(|lot| self.lots.insert(*lot)).collect();
        let milkings = found.milkings.into_iter().filter(|milking| self.milkings.insert(*milking)).collect();
        Places { lots, milkings }
    }

    fn is_empty(&self) -> bool {
        self.lots.is_empty() && self.milkings.is_empty()
    }
}

/// The four legs of the walk, in order: back and forward by milk, then both by vessels too.
const LEGS: [(bool, bool); 4] = [(true, false), (false, false), (true, true), (false, true)];

/// How far the walk has come.
#[derive(Clone, Debug)]
pub struct Walk {
    behind: Places,
    ahead: Places,
    leg: usize,
    fresh: Places,
}

impl Walk {
    /// A walk that starts from these lots.
    #[must_use]
    pub fn from(start: impl IntoIterator<Item = LotId>) -> Walk {
        let start = Places { lots: start.into_iter().collect(), milkings: BTreeSet::new() };
        Walk { behind: start.clone(), ahead: Places::default(), leg: 0, fresh: start }
    }

    /// The next question, or nothing when everything has been reached.
    pub fn next_step(&mut self) -> Option<Step> {
        while self.fresh.is_empty() {
            self.leg += 1;
            let (is_back, _) = *LEGS.get(self.leg)?;
            if is_back {
                self.fresh = self.behind.clone();
            } else {
                self.ahead.take(self.behind.clone());
                self.fresh = self.ahead.clone();
            }
        }
        let (is_back, by_vessels) = *LEGS.get(self.leg)?;
        let fresh = std::mem::take(&mut self.fresh);
        Some(Step { is_back, by_vessels, lots: fresh.lots.into_iter().collect(), milkings: fresh.milkings.into_iter().collect() })
    }

    /// Takes the answer to the last question.
    pub fn found(&mut self, found: Places) {
        let is_back = LEGS.get(self.leg).is_some_and(|(is_back, _)| *is_back);
        self.fresh = if is_back { self.behind.take(found) } else { self.ahead.take(found) };
    }

    /// Every lot that was reached.
    #[must_use]
    pub const fn lots(&self) -> &BTreeSet<LotId> {
        &self.ahead.lots
    }
}
