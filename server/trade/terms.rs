//! On what terms milk reaches a household: what a share costs, its boarding, a half-gallon at the gate, the deposit on a jar.

use super::{channels::Channel, money::Money, when::Day};

/// The terms of one way from a day on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Terms {
    /// The way.
    pub way: Channel,
    /// From this day.
    pub since: Day,
    /// One share of the herd.
    pub share_cost: Option<Money>,
    /// Boarding of one share, a month.
    pub boarding: Option<Money>,
    /// One half-gallon at the gate.
    pub jar: Option<Money>,
    /// The deposit on one jar.
    pub deposit: Option<Money>,
    /// What is done about a week the farm missed.
    pub missed: String,
}

/// The terms of a way on a day: the newest that had begun.
#[must_use]
pub fn terms_on(terms: &[Terms], way: Channel, on: Day) -> Option<&Terms> {
    terms.iter().filter(|own| own.way == way && own.since <= on).max_by_key(|own| own.since)
}
