//! Strip tests: the score a quarter's first milk gets on the paddle of a California mastitis test.
//!
//! A score is looked at as it was seen and never turned into a count of cells: it says that something is wrong in that
//! quarter, not how many. A quarter that failed stays failed until a later test of it passes.

use super::{Fault, short, when::Moment};
use std::fmt;

/// What the paddle shows, from the best to the worst.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Score {
    /// It stays liquid.
    Negative,
    /// It thickens a little, and the thickening goes away.
    Trace,
    /// It thickens.
    One,
    /// It gels and moves together.
    Two,
    /// It gels and stands up.
    Three,
}

impl Score {
    /// The score a rule that names none keeps a cow out from: common practice.
    pub const USUAL: Score = Score::One;

    const WORDS: [(Score, &'static str); 5] =
        [(Score::Negative, "negative"), (Score::Trace, "trace"), (Score::One, "1"), (Score::Two, "2"), (Score::Three, "3")];

    /// Reads `negative`, `trace`, `1`, `2` or `3`.
    ///
    /// # Errors
    /// A sentence when it is none of these.
    pub fn parse(typed: &str) -> Result<Score, Fault> {
        let found = Score::WORDS.iter().find(|(_, word)| word.eq_ignore_ascii_case(typed.trim()));
        let wrong = || Fault::says(format!("“{}” is not a score of a strip test. Write negative, trace, 1, 2 or 3.", short(typed)));
        found.map(|(score, _)| *score).ok_or_else(wrong)
    }
}

impl fmt::Display for Score {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(Score::WORDS.iter().find(|(score, _)| score == self).map_or("", |(_, word)| word))
    }
}

/// A quarter of the udder.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Quarter {
    /// The left fore quarter.
    LeftFore,
    /// The right fore quarter.
    RightFore,
    /// The left hind quarter.
    LeftHind,
    /// The right hind quarter.
    RightHind,
}

impl Quarter {
    /// The four of them, as they stand on the paddle, each with its word.
    pub const WORDS: [(Quarter, &'static str); 4] = [
        (Quarter::LeftFore, "left fore"),
        (Quarter::RightFore, "right fore"),
        (Quarter::LeftHind, "left hind"),
        (Quarter::RightHind, "right hind"),
    ];

    /// The quarter with this word; nothing for `all` of them and for a word that names none.
    #[must_use]
    pub fn of(word: &str) -> Option<Quarter> {
        Quarter::WORDS.iter().find(|(_, own)| *own == word.trim()).map(|(quarter, _)| *quarter)
    }
}

impl fmt::Display for Quarter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(Quarter::WORDS.iter().find(|(quarter, _)| quarter == self).map_or("", |(_, word)| word))
    }
}

/// One test of a quarter, or of all four together.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StripTest {
    /// When.
    pub at: Moment,
    /// Which quarter; nothing for all of them.
    pub quarter: Option<Quarter>,
    /// What the paddle showed.
    pub score: Score,
}

/// A quarter whose last test failed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Failing {
    /// Which.
    pub quarter: Quarter,
    /// What the paddle showed.
    pub score: Score,
    /// When.
    pub at: Moment,
}

impl fmt::Display for Failing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.quarter, self.score)
    }
}

/// The quarters whose last test up to `until` scored `fails_from` or worse. A test that passes counts only up to
/// `passes_until`, because a later one says nothing about milk from before it. Of two in the same minute the worse counts.
#[must_use]
pub fn failing(tests: &[StripTest], fails_from: Score, passes_until: Moment, until: Moment) -> Vec<Failing> {
    let counts = |test: &&StripTest| test.at <= if test.score < fails_from { passes_until } else { until };
    let last = |quarter: Quarter| {
        let own = tests.iter().filter(|test| test.quarter.is_none_or(|own| own == quarter)).filter(counts);
        own.max_by_key(|test| (test.at, test.score)).map(|test| Failing { quarter, score: test.score, at: test.at })
    };
    Quarter::WORDS.iter().filter_map(|(quarter, _)| last(*quarter)).filter(|last| last.score >= fails_from).collect()
}

/// The quarters in one line: `left fore 2 and right hind 1`; the four of them at one score are said together.
#[must_use]
pub fn listed(failing: &[Failing]) -> String {
    match failing {
        [] => String::new(),
        [first, rest @ ..] if rest.len() == 3 && rest.iter().all(|own| own.score == first.score) => {
            format!("all four quarters {}", first.score)
        }
        [one] => one.to_string(),
        [rest @ .., last] => {
            let before: Vec<String> = rest.iter().map(ToString::to_string).collect();
            format!("{} and {last}", before.join(", "))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn test(hour: i64, quarter: &str, score: &str) -> StripTest {
        StripTest { at: Moment::seconds(0).plus_hours(hour), quarter: Quarter::of(quarter), score: Score::parse(score).unwrap() }
    }

    fn fails(tests: &[StripTest], from: Score, hour: i64) -> String {
        let at = Moment::seconds(0).plus_hours(hour);
        listed(&failing(tests, from, at, at))
    }

    /// Source: the scores of the California mastitis test; that 1 and above keep milk out is common practice.
    #[test]
    fn a_quarter_stays_failed_until_it_passes() {
        let tests =
            [test(1, "left fore", "2"), test(2, "right hind", "trace"), test(5, "right hind", "1"), test(9, "left fore", "negative")];
        assert_eq!(fails(&tests, Score::USUAL, 0), "");
        assert_eq!(fails(&tests, Score::USUAL, 4), "left fore 2");
        assert_eq!(fails(&tests, Score::USUAL, 5), "left fore 2 and right hind 1");
        assert_eq!(fails(&tests, Score::USUAL, 9), "right hind 1");
        assert_eq!(fails(&tests, Score::Trace, 2), "left fore 2 and right hind trace");
        assert_eq!(fails(&tests, Score::Three, 5), "");
    }

    #[test]
    fn all_quarters_together_pass_and_fail_each() {
        let tests = [test(1, "all", "3"), test(2, "left fore", "negative"), test(8, "all", "trace")];
        assert_eq!(fails(&tests, Score::USUAL, 1), "all four quarters 3");
        assert_eq!(fails(&tests, Score::USUAL, 2), "right fore 3, left hind 3 and right hind 3");
        assert_eq!(fails(&tests, Score::USUAL, 8), "");
        assert_eq!(fails(&[test(1, "all", "negative"), test(1, "left hind", "2")], Score::USUAL, 1), "left hind 2");
    }

    #[test]
    fn a_later_pass_clears_nothing_before_it() {
        let tests = [test(1, "left fore", "2"), test(5, "left fore", "negative")];
        let hour = |hours| Moment::seconds(0).plus_hours(hours);
        assert_eq!(listed(&failing(&tests, Score::USUAL, hour(3), hour(8))), "left fore 2");
        assert_eq!(listed(&failing(&tests, Score::USUAL, hour(5), hour(8))), "");
    }

    #[test]
    fn scores_are_read_in_their_own_words() {
        for (score, word) in Score::WORDS {
            assert_eq!(Score::parse(word), Ok(score));
        }
        for typed in ["", "4", "+", "200,000", "-1"] {
            assert!(Score::parse(typed).unwrap_err().to_string().contains("negative, trace, 1, 2 or 3"), "{typed}");
        }
    }
}
