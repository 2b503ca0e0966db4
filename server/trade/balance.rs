//! Whether the jars of a lot and the milk of a day add up.
//!
//! What is on hand is counted and never worked out: a subtracted figure would make every lot square and say nothing.

use super::{jars::Jars, when::Moment};
use rust_decimal::Decimal;
use std::fmt;

/// Where the jars of one lot went.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct LotJars {
    /// Filled.
    pub filled: Jars,
    /// Brought back full, and counted on hand again.
    pub returned: Jars,
    /// Handed out.
    pub handed_out: Jars,
    /// On hand by the last count; nothing when nobody has counted.
    pub on_hand: Option<Jars>,
    /// Drunk in the house.
    pub household: Jars,
    /// Fed to calves.
    pub calf: Jars,
    /// Made into another lot.
    pub into_lots: Jars,
    /// Sent or kept as samples.
    pub samples: Jars,
    /// Kept on the shelf to be sniffed.
    pub shelf_jar: Jars,
    /// Broken.
    pub broken: Jars,
    /// Thrown out.
    pub thrown_out: Jars,
}

impl LotJars {
    /// Sums the movements of a lot, with what was counted on hand after them.
    #[must_use]
    pub fn gathered(movements: &[Movement], on_hand: Option<Jars>) -> LotJars {
        let mut lot = LotJars { on_hand, ..LotJars::default() };
        for movement in movements {
            let place = match movement.what {
                What::Filled => &mut lot.filled,
                What::Returned => &mut lot.returned,
                What::HandedOut => &mut lot.handed_out,
                What::Household => &mut lot.household,
                What::Calf => &mut lot.calf,
                What::IntoLot => &mut lot.into_lots,
                What::Sample => &mut lot.samples,
                What::ShelfJar => &mut lot.shelf_jar,
                What::Broken => &mut lot.broken,
                What::ThrownOut => &mut lot.thrown_out,
            };
            *place = *place + movement.jars;
        }
        lot
    }

    /// Jars whose going is written down, without those on hand.
    #[must_use]
    pub fn gone(&self) -> Jars {
        [self.handed_out, self.household, self.calf, self.into_lots, self.samples, self.shelf_jar, self.broken, self.thrown_out]
            .into_iter()
            .sum()
    }

    /// Jars that ought to stand in the fridge by the book. It helps a count along and never stands in for one.
    #[must_use]
    pub fn by_the_book(&self) -> Jars {
        self.filled + self.returned - self.gone()
    }

    /// Judges whether the lot squares.
    #[must_use]
    pub fn balance(&self) -> Balance {
        self.on_hand.map_or(Balance::NotCounted, |counted| Balance::of(self.by_the_book() - counted))
    }

    /// Of the milk filled into jars, the percent accounted for. A jar too many of one size never makes up for a jar missing
    /// of another. Nothing before a count, or when nothing was filled.
    #[must_use]
    pub fn percent_accounted(&self) -> Option<Decimal> {
        let filled = (self.filled + self.returned).in_half_gallons();
        let (short, _) = (self.by_the_book() - self.on_hand?).short_and_over();
        (Decimal::ONE_HUNDRED * (filled - short.in_half_gallons())).checked_div(filled)
    }
}

/// Whether a lot's jars add up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Balance {
    /// Nobody has counted what is on hand.
    NotCounted,
    /// Every jar is in one place.
    Squares,
    /// Jars are missing or too many, told apart by size.
    Off {
        /// Jars missing.
        short: Jars,
        /// Jars too many.
        over: Jars,
    },
}

impl Balance {
    fn of(missing: Jars) -> Balance {
        let (short, over) = missing.short_and_over();
        if missing.is_none() { Balance::Squares } else { Balance::Off { short, over } }
    }
}

impl fmt::Display for Balance {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Balance::NotCounted => f.write_str("not counted"),
            Balance::Squares => f.write_str("squares"),
            Balance::Off { short, over } => {
                let side = |jars: &Jars, word: &str| (!jars.is_none()).then(|| format!("{jars} {word}"));
                let said: Vec<String> = [side(short, "short"), side(over, "over")].into_iter().flatten().collect();
                f.write_str(&said.join(", "))
            }
        }
    }
}

/// What can happen to the jars of a lot.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum What {
    /// Filled.
    Filled,
    /// Brought back full.
    Returned,
    /// Handed out.
    HandedOut,
    /// Drunk in the house.
    Household,
    /// Fed to calves.
    Calf,
    /// Made into another lot.
    IntoLot,
    /// Sent or kept as a sample.
    Sample,
    /// Kept on the shelf to be sniffed.
    ShelfJar,
    /// Broken.
    Broken,
    /// Thrown out.
    ThrownOut,
}

/// Jars of one lot that came or went.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Movement {
    /// When.
    pub at: Moment,
    /// How.
    pub what: What,
    /// Which jars.
    pub jars: Jars,
    /// Who took or brought them; empty when it was nobody's call.
    pub who: String,
}

/// What somebody counted in the fridge, of one lot.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Count {
    /// When.
    pub at: Moment,
    /// What stood there.
    pub jars: Jars,
}

/// The time in which jars went missing or turned up.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Window {
    /// The last count that squared, or the first filling when none did.
    pub from: Moment,
    /// Whether `from` is a count.
    pub from_a_count: bool,
    /// The first count after it that did not square.
    pub until: Moment,
    /// What that count was off by.
    pub off: Balance,
    /// Everyone who called in between, in the order they came.
    pub callers: Vec<String>,
}

/// Finds the time in which a lot stopped squaring, or nothing when its last count squares. A movement in the same minute as
/// a count is taken to come before it.
#[must_use]
pub fn find_window(movements: &[Movement], counts: &[Count]) -> Option<Window> {
    let mut moved: Vec<&Movement> = movements.iter().collect();
    moved.sort_by_key(|movement| movement.at);
    let mut counted: Vec<&Count> = counts.iter().collect();
    counted.sort_by_key(|count| count.at);

    let (mut book, mut next) = (Jars::NONE, moved.iter().peekable());
    let (mut good, mut bad): (Option<Moment>, Option<(Moment, Jars)>) = (None, None);
    for count in counted {
        while let Some(movement) = next.next_if(|movement| movement.at <= count.at) {
            book = match movement.what {
                What::Filled | What::Returned => book + movement.jars,
                _ => book - movement.jars,
            };
        }
        let missing = book - count.jars;
        if missing.is_none() {
            (good, bad) = (Some(count.at), None);
        } else if bad.is_none() {
            bad = Some((count.at, missing));
        }
    }

    let (until, missing) = bad?;
    let from = good.or_else(|| moved.first().map(|movement| movement.at)).unwrap_or(until);
    let inside = |at: Moment| at <= until && (at > from || (good.is_none() && at == from));
    let mut callers: Vec<String> = Vec::new();
    for movement in moved.iter().filter(|movement| matches!(movement.what, What::HandedOut | What::Returned) && inside(movement.at)) {
        if !movement.who.is_empty() && !callers.contains(&movement.who) {
            callers.push(movement.who.clone());
        }
    }
    Some(Window { from, from_a_count: good.is_some(), until, off: Balance::of(missing), callers })
}

/// Milk that came to a place and is not accounted for there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MassBalance {
    /// What is missing, in the unit given; below nothing when more left than came.
    pub missing: Decimal,
    /// The same in percent of what came in; nothing when nothing came in.
    pub percent: Option<Decimal>,
}

impl MassBalance {
    /// Whether what is missing, or too much, is no more than so many percent.
    #[must_use]
    pub fn within(&self, tolerance_percent: Decimal) -> bool {
        self.percent.map_or(self.missing.is_zero(), |percent| percent.abs() <= tolerance_percent)
    }
}

/// What came in, less what went out, what was lost and written down, and what is left: all in one unit, such as pounds.
#[must_use]
pub fn mass_balance(inflow: Decimal, outflow: Decimal, loss: Decimal, stock: Decimal) -> MassBalance {
    let missing = inflow - outflow - loss - stock;
    MassBalance { missing, percent: (missing * Decimal::ONE_HUNDRED).checked_div(inflow) }
}
