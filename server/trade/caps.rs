//! How much milk or how many cows a rule allows, and how near the farm is to it.
//!
//! Equal to a cap is within it. A week runs from Monday to Sunday, for no source says which days make one. An average is
//! over the last twelve months, or since the ledger began where that is shorter; an average month over one month at the
//! least, for a week says nothing of a month. Quarts and gallons are those of the jars handed out; pounds are those milked.

use super::{
    Fault,
    frequency::{line, parts, whole},
    jars::{Jars, Size},
    measure::{Weight, trimmed},
    steps::{Sure, meant, sure_word, with_sure, word},
    when::Day,
};
use chrono::{Datelike, Months, Weekday};
use rust_decimal::Decimal;
use std::fmt;

/// What a cap counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Of {
    /// Quarts of milk handed out.
    Quarts,
    /// Gallons of milk handed out.
    Gallons,
    /// Pounds of milk milked.
    Pounds,
    /// Cows in milk.
    CowsInMilk,
    /// Cows that have calved, dry ones too.
    CowsCalved,
}

/// For how long, or for what, a cap holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Per {
    /// Each day.
    Day,
    /// Each week, Monday to Sunday.
    Week,
    /// Each calendar month.
    Month,
    /// An average day.
    DayOnAverage,
    /// An average month.
    MonthOnAverage,
    /// The whole farm at any time.
    Farm,
}

impl Of {
    const WORDS: [(Of, &'static str); 3] = [(Of::Quarts, "quarts"), (Of::Gallons, "gallons"), (Of::Pounds, "lb")];
    const COWS: [(Of, &'static str); 2] = [(Of::CowsInMilk, "cows in milk"), (Of::CowsCalved, "cows that have calved")];
}

impl Per {
    const WORDS: [(Per, &'static str); 5] = [
        (Per::Day, "day"),
        (Per::Week, "week"),
        (Per::Month, "month"),
        (Per::DayOnAverage, "day on average"),
        (Per::MonthOnAverage, "month on average"),
    ];
}

/// One cap of a rule.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cap {
    /// How much or how many are allowed.
    pub amount: u32,
    /// Of what.
    pub what: Of,
    /// For how long.
    pub per: Per,
    /// What being over it means, where that is not simply against the rule.
    pub means: Option<String>,
    /// How sure it is.
    pub sure: Sure,
}

/// The caps of a place. Empty means not known.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Caps(pub Vec<Cap>);

/// What a farm handed out, milked and keeps, for the caps to be held against.
#[derive(Clone, Copy, Debug)]
pub struct Amounts<'a> {
    /// The jars handed out, each with its day.
    pub handed_out: &'a [(Day, Jars)],
    /// The milk milked, each with its day.
    pub milked: &'a [(Day, Weight)],
    /// Cows in milk on the day asked about.
    pub cows_in_milk: u32,
    /// Cows that have calved on the day asked about.
    pub cows_calved: u32,
    /// The day asked about.
    pub on: Day,
    /// The first day of the ledger.
    pub since: Day,
}

/// How a cap stands; each has what was used, in the cap's own unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Watched {
    /// Less than nine tenths of it.
    Within {
        /// What was used.
        used: Decimal,
    },
    /// Nine tenths of it or more, and not over it.
    Near {
        /// What was used.
        used: Decimal,
    },
    /// Over it.
    Over {
        /// What was used.
        used: Decimal,
    },
}

/// Holds a cap against what the farm did.
#[must_use]
pub fn watch(cap: &Cap, amounts: &Amounts) -> Watched {
    let (total, shares) = (total(cap, amounts), shares(cap.per, amounts));
    let allowed = Decimal::from(cap.amount);
    // Multiplied out, so that an average that cannot be written down exactly is still compared exactly.
    let (used, shared, allowed) = (total * shares.1 / shares.0, total * shares.1, allowed * shares.0);
    match (shared > allowed, shared * Decimal::TEN >= allowed * Decimal::from(9)) {
        (true, _) => Watched::Over { used },
        (false, true) => Watched::Near { used },
        (false, false) => Watched::Within { used },
    }
}

/// The first and last day a cap looks at.
fn span(per: Per, amounts: &Amounts) -> (Day, Day) {
    let on = amounts.on;
    match per {
        Per::Day | Per::Farm => (on, on),
        Per::Week => {
            let week = on.week(Weekday::Mon);
            (week.first_day(), week.last_day())
        }
        Per::Month => {
            let first = on.with_day(1).unwrap_or(on);
            (first, first.checked_add_months(Months::new(1)).and_then(|next| next.pred_opt()).unwrap_or(on))
        }
        Per::DayOnAverage | Per::MonthOnAverage => (year_to(on).max(amounts.since.min(on)), on),
    }
}

/// The first day of the twelve months up to a day.
fn year_to(on: Day) -> Day {
    on.succ_opt().and_then(|next| next.checked_sub_months(Months::new(12))).unwrap_or(on)
}

/// What a total is divided by, as a fraction: days, or twelfths of a year of days.
fn shares(per: Per, amounts: &Amounts) -> (Decimal, Decimal) {
    let (from, to) = span(per, amounts);
    let days = |from: Day| Decimal::from((to - from).num_days() + 1);
    let (days, year) = (days(from), days(year_to(to)));
    let twelfth = (days * Decimal::from(12), year);
    match per {
        Per::DayOnAverage => (days, Decimal::ONE),
        Per::MonthOnAverage if twelfth.0 > twelfth.1 => twelfth,
        _ => (Decimal::ONE, Decimal::ONE),
    }
}

fn total(cap: &Cap, amounts: &Amounts) -> Decimal {
    let (from, to) = span(cap.per, amounts);
    let handed_out = || -> Jars { amounts.handed_out.iter().filter(|(day, _)| (from..=to).contains(day)).map(|(_, jars)| *jars).sum() };
    match cap.what {
        Of::CowsInMilk => amounts.cows_in_milk.into(),
        Of::CowsCalved => amounts.cows_calved.into(),
        Of::Quarts => pints(handed_out()) / Decimal::TWO,
        Of::Gallons => pints(handed_out()) / Decimal::from(8),
        // A weight is kept in whole milligrams, so a day that was milked twice may be one of them off what was typed.
        Of::Pounds => {
            let milk: Weight = amounts.milked.iter().filter(|(day, _)| (from..=to).contains(day)).map(|(_, weight)| *weight).sum();
            milk.in_pounds().round_dp(3)
        }
    }
}

/// Jars as pints of milk, the smallest jar there is.
fn pints(jars: Jars) -> Decimal {
    Size::ALL.iter().map(|size| Decimal::from(jars.of(*size)) * size.half_gallons() * Decimal::from(4)).sum()
}

impl Cap {
    /// How the cap stands, in words: `345 of 350 quarts a week`.
    #[must_use]
    pub fn said(&self, watched: Watched) -> String {
        let (Watched::Within { used } | Watched::Near { used } | Watched::Over { used }) = watched;
        format!("{} of {}", trimmed(used, 1), self.plain())
    }

    /// The cap without its meaning and its sure-word: `350 quarts a week`.
    #[must_use]
    pub fn plain(&self) -> String {
        match (word(&Of::WORDS, self.what), word(&Per::WORDS, self.per)) {
            (Some(of), Some(per)) => format!("{} {of} a {per}", self.amount),
            (of, _) => format!("{} {}", self.amount, of.or(word(&Of::COWS, self.what)).unwrap_or("cows")),
        }
    }

    fn parse(part: &str) -> Option<Cap> {
        let (body, sure) = with_sure(part)?;
        let (body, means) = match body.strip_suffix(')') {
            Some(body) => body.split_once(" (").map(|(body, means)| (body, Some(means.to_owned())))?,
            None => (body, None),
        };
        if means.as_ref().is_some_and(|means| means.trim().is_empty() || means.contains(['[', ']']) || means.chars().any(char::is_control))
        {
            return None;
        }
        let (amount, rest) = body.trim().split_once(' ')?;
        let (what, per) = match meant(&Of::COWS, rest) {
            Some(cows) => (cows, Per::Farm),
            None => {
                let (of, per) = rest.split_once(" a ")?;
                (meant(&Of::WORDS, of)?, meant(&Per::WORDS, per)?)
            }
        };
        Some(Cap { amount: whole(amount, 1_000_000)?, what, per, means, sure })
    }
}

impl fmt::Display for Cap {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.plain())?;
        if let Some(means) = &self.means {
            write!(f, " ({means})")?;
        }
        write!(f, " [{}]", sure_word(self.sure))
    }
}

impl Caps {
    /// Reads a line such as `350 quarts a week [read]; 10 cows in milk [read]`.
    ///
    /// # Errors
    /// A sentence when a part is no cap.
    pub fn parse(text: &str) -> Result<Caps, Fault> {
        parts(text, Cap::parse, "is not a cap. Write it like: 350 quarts a week [chosen], or 10 cows in milk [chosen]").map(Caps)
    }
}

impl fmt::Display for Caps {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        line(&self.0, f)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn nonsense_gets_a_sentence() {
        for typed in [
            "lots",
            "350 quarts [read]",
            "350 quarts a week",
            "-1 quarts a week [read]",
            "3.5 lb a day [read]",
            "10 cows [read]",
            "10 cows in milk a day [read]",
            "350 quarts a fortnight [read]",
            "350 quarts a week () [read]",
            "9999999999 lb a day [read]",
            "🐄",
        ] {
            let fault = Caps::parse(typed).unwrap_err().to_string();
            assert!(fault.contains("is not a cap. Write it like: 350 quarts a week [chosen]"), "{typed}: {fault}");
        }
        assert_eq!(Caps::parse("not known").unwrap(), Caps::default());
        assert_eq!(Caps::default().to_string(), "not known");
    }

    fn any_cap() -> impl Strategy<Value = Cap> {
        let milk = prop::sample::select(Of::WORDS.map(|(of, _)| of).to_vec());
        let per = prop::sample::select(Per::WORDS.map(|(per, _)| per).to_vec());
        let cows = prop::sample::select(Of::COWS.map(|(of, _)| of).to_vec()).prop_map(|cows| (cows, Per::Farm));
        let means = prop::option::of(prop::sample::select(vec!["above it Mil 301.03 holds", "see 22-133-127(a)"]).prop_map(str::to_owned));
        let sure = prop::sample::select(vec![Sure::Read, Sure::SecondHand, Sure::Memory, Sure::Chosen]);
        (1u32..1_000_000, prop_oneof![(milk, per), cows], means, sure).prop_map(|(amount, (what, per), means, sure)| Cap {
            amount,
            what,
            per,
            means,
            sure,
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn what_is_shown_can_be_read(caps in prop::collection::vec(any_cap(), 0..5)) {
            let caps = Caps(caps);
            prop_assert_eq!(Caps::parse(&caps.to_string()).unwrap(), caps);
        }
    }
}
