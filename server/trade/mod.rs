//! The book of the trade: pure rules and sums. It reads no file, no clock and no network, so it can only be wrong in
//! ways a test can show. A chapter uses only the chapters listed before it.

/// Money in whole cents.
pub mod money;

/// Temperature and the weight of milk.
pub mod measure;

/// Jars by size.
pub mod jars;

/// Moments and days on the farm's clock.
pub mod when;

/// Lot codes and their check character.
pub mod codes;

/// The clocks a cow stands under: treatments, calving, foremilk, drying off.
pub mod herd;

/// Whether the jars and the milk add up.
pub mod balance;

/// How far trouble spreads from one lot.
pub mod trace;

/// A report as a value, before anything draws it.
pub mod figures;

/// What gear and cows wear out by, and what money tied up in them costs.
pub mod wear;

/// What a half-gallon costs.
pub mod costs;

use std::fmt;

/// What is wrong with something typed, as a sentence that says how to put it right.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault(String);

impl Fault {
    /// A fault that says this.
    #[must_use]
    pub fn says(sentence: impl Into<String>) -> Fault {
        Fault(sentence.into())
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// What was typed, cut to a length that can be said back: ten thousand characters help nobody.
#[must_use]
pub fn short(typed: &str) -> String {
    let plain: String = typed.trim().chars().filter(|c| !c.is_control()).take(41).collect();
    if plain.chars().count() > 40 { plain.chars().take(39).chain(['…']).collect() } else { plain }
}
