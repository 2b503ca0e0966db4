//! Chill steps: how cold the milk must be, by when, counted from what, and how sure the rule is.
//!
//! A farm copies a place's steps into its own ledger and may change them, so they have a one-line text that fits a cell
//! of a table and reads back exactly.

use super::{
    Fault,
    measure::{Scale, Temperature},
    short,
    when::span_shown,
};
use serde::Deserialize;
use std::fmt;

/// The words for whatever was not read anywhere.
pub const NOT_KNOWN: &str = "not known";

/// How sure a rule is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Deserialize)]
pub enum Sure {
    /// Seen in a copy of the law itself.
    #[serde(rename = "read in the law")]
    Read,
    /// Seen where somebody else sums the law up or quotes it.
    #[serde(rename = "read second-hand")]
    SecondHand,
    /// Remembered and not looked up.
    #[serde(rename = "from memory")]
    Memory,
    /// Chosen by whoever keeps the ledger, or by this program; not law.
    #[serde(rename = "chosen, not law")]
    Chosen,
}

impl Sure {
    /// Every way of being sure, with its short word.
    pub(super) const WORDS: [(Sure, &'static str); 4] =
        [(Sure::Read, "read"), (Sure::SecondHand, "second-hand"), (Sure::Memory, "memory"), (Sure::Chosen, "chosen")];
}

impl fmt::Display for Sure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Sure::Read => "read in the law",
            Sure::SecondHand => "read second-hand",
            Sure::Memory => "from memory",
            Sure::Chosen => "chosen, not law",
        })
    }
}

/// What a chill step is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Stage {
    /// Getting cold by a deadline.
    Cool,
    /// How warm the milk may get when a later milking is added to it.
    Blend,
    /// Staying cold.
    Hold,
}

impl Stage {
    const WORDS: [(Stage, &'static str); 3] = [(Stage::Cool, "cool"), (Stage::Blend, "blend"), (Stage::Hold, "hold")];
}

/// What the time of a step is counted from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Deserialize)]
pub enum Clock {
    /// The start of each milking.
    #[serde(rename = "milking start")]
    MilkingStart,
    /// The end of each milking.
    #[serde(rename = "milking end")]
    MilkingEnd,
    /// The start of the first milking in the lot.
    #[serde(rename = "first milking start")]
    FirstMilkingStart,
    /// The moment the milk left the cow; the first of it did when milking started.
    #[serde(rename = "drawn")]
    Drawn,
    /// Whenever a later milking goes into the same milk.
    #[serde(rename = "each later milking")]
    EachLaterMilking,
    /// All the time until it is handed out.
    #[serde(rename = "until handed out")]
    UntilHandedOut,
}

impl Clock {
    /// The clocks a deadline can be counted from, with their words.
    pub(super) const WORDS: [(Clock, &'static str); 4] = [
        (Clock::FirstMilkingStart, "first milking start"),
        (Clock::MilkingStart, "milking start"),
        (Clock::MilkingEnd, "milking end"),
        (Clock::Drawn, "drawn"),
    ];

    /// The clock's starting moment as a thing: `the end of milking`.
    #[must_use]
    pub const fn moment(self) -> &'static str {
        match self {
            Clock::MilkingStart => "the start of milking",
            Clock::MilkingEnd => "the end of milking",
            Clock::FirstMilkingStart => "the start of the first milking",
            Clock::Drawn => "leaving the cow",
            Clock::EachLaterMilking => "adding a later milking",
            Clock::UntilHandedOut => "handing out",
        }
    }
}

/// One chill step of a rule.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Step {
    /// What it is about.
    pub stage: Stage,
    /// The milk may be at this or colder, in the unit the law is written in.
    pub limit: Temperature,
    /// And not colder than this, where the law names a range.
    pub lowest: Option<Temperature>,
    /// The minutes allowed; nothing where the step has no deadline, or where a cool step's time is not known. None at
    /// all (0) stands for “immediately”.
    pub within_minutes: Option<i64>,
    /// What the minutes are counted from.
    pub clock: Clock,
    /// How sure the step is.
    pub sure: Sure,
}

impl fmt::Display for Step {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let limit = self.allowed();
        match self.stage {
            Stage::Cool => {
                let clock = word(&Clock::WORDS, self.clock).unwrap_or("milking end");
                match self.within_minutes {
                    Some(minutes) => write!(f, "cool {limit} within {minutes} min of {clock}")?,
                    None => write!(f, "cool {limit} within a time not known of {clock}")?,
                }
            }
            Stage::Blend => write!(f, "blend {limit} at each later milking")?,
            Stage::Hold => write!(f, "hold {limit} until handed out")?,
        }
        write!(f, " [{}]", sure_word(self.sure))
    }
}

impl Step {
    /// How cold the milk has to be: `40 °F`, or `32 °F to 45 °F` where the law names a range.
    #[must_use]
    pub fn allowed(&self) -> String {
        self.lowest.map_or_else(|| self.limit.to_string(), |lowest| format!("{lowest} to {}", self.limit))
    }

    /// The step as a farmer says it: `40 °F within 2 h of the end of milking`.
    #[must_use]
    pub fn spoken(&self) -> String {
        let limit = self.allowed();
        match (self.stage, self.within_minutes) {
            (Stage::Cool, Some(0)) => format!("{limit} at once after {}", self.clock.moment()),
            (Stage::Cool, Some(minutes)) => format!("{limit} within {} of {}", span_shown(minutes), self.clock.moment()),
            (Stage::Cool, None) => format!("{limit}, in a time that is not known"),
            (Stage::Blend, _) => format!("no more than {limit} when a later milking goes in"),
            (Stage::Hold, _) => format!("{limit} or colder until it is handed out"),
        }
    }

    fn parse(text: &str) -> Option<Step> {
        let (body, sure) = with_sure(text)?;
        let (stage, rest) = body.split_once(' ')?;
        let stage = meant(&Stage::WORDS, stage)?;
        let (limit, within_minutes, clock) = match stage {
            Stage::Blend => (rest.strip_suffix(" at each later milking")?, None, Clock::EachLaterMilking),
            Stage::Hold => (rest.strip_suffix(" until handed out")?, None, Clock::UntilHandedOut),
            Stage::Cool => {
                let (limit, time) = rest.split_once(" within ")?;
                let (minutes, clock) = time.split_once(" of ")?;
                let minutes = match minutes.strip_suffix(" min") {
                    Some(figure) => Some(figure.trim().parse().ok().filter(|minutes| (0..=10_080).contains(minutes))?),
                    None if minutes == "a time not known" => None,
                    None => return None,
                };
                (limit, minutes, meant(&Clock::WORDS, clock)?)
            }
        };
        let (lowest, limit) = range_of(limit)?;
        Some(Step { stage, limit, lowest, within_minutes, clock, sure })
    }
}

/// The chill steps of a place, in the order of its law.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Steps(pub Vec<Step>);

impl Steps {
    /// Reads the text form back, such as `cool 40 °F within 120 min of milking end [read]; hold 40 °F until handed out [read]`.
    ///
    /// # Errors
    /// A sentence when a step is not one of the known kinds.
    pub fn parse(text: &str) -> Result<Steps, Fault> {
        if matches!(text.trim(), "" | NOT_KNOWN) {
            return Ok(Steps::default());
        }
        let read = |part: &str| {
            Step::parse(part).ok_or_else(|| {
                Fault::says(format!(
                    "“{}” is not a chill step. Write it like: cool 40 °F within 120 min of milking end [chosen]",
                    short(part)
                ))
            })
        };
        text.split(';').map(read).collect::<Result<Vec<Step>, Fault>>().map(Steps)
    }
}

impl fmt::Display for Steps {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.0.is_empty() {
            return f.write_str(NOT_KNOWN);
        }
        for (nth, step) in self.0.iter().enumerate() {
            write!(f, "{}{step}", if nth == 0 { "" } else { "; " })?;
        }
        Ok(())
    }
}

/// Takes the sure-word in brackets off the end of a part of a line.
pub(super) fn with_sure(part: &str) -> Option<(&str, Sure)> {
    let (body, sure) = part.trim().strip_suffix(']')?.rsplit_once(" [")?;
    Some((body.trim(), meant(&Sure::WORDS, sure)?))
}

/// How sure something is, as it stands in the brackets.
pub(super) fn sure_word(sure: Sure) -> &'static str {
    word(&Sure::WORDS, sure).unwrap_or("memory")
}

pub(super) fn word<T: Copy + PartialEq>(words: &[(T, &'static str)], wanted: T) -> Option<&'static str> {
    words.iter().find(|(kind, _)| *kind == wanted).map(|(_, word)| *word)
}

pub(super) fn meant<T: Copy>(words: &[(T, &'static str)], typed: &str) -> Option<T> {
    words.iter().find(|(_, word)| *word == typed.trim()).map(|(kind, _)| *kind)
}

/// A limit, or a range with the lowest first.
pub(super) fn range_of(typed: &str) -> Option<(Option<Temperature>, Temperature)> {
    match typed.split_once(" to ") {
        Some((lowest, limit)) => {
            let (lowest, limit) = (limit_of(lowest)?, limit_of(limit)?);
            (lowest < limit).then_some((Some(lowest), limit))
        }
        None => Some((None, limit_of(typed)?)),
    }
}

/// A limit must name its unit: a law is compared in the unit it is written in.
fn limit_of(typed: &str) -> Option<Temperature> {
    let unit = typed.trim().rsplit(' ').next()?;
    Temperature::parse(typed, Scale::parse(unit)?).ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_line_of_steps_reads_back() {
        let line = "cool 50 °F within 240 min of first milking start [read]; cool 7 °C within a time not known of drawn [memory]; \
                    blend 50 °F at each later milking [second-hand]; hold 32 °F to 45 °F until handed out [chosen]";
        assert_eq!(Steps::parse(line).unwrap().to_string(), line);
        assert_eq!(Steps::parse("not known").unwrap(), Steps::default());
        assert_eq!(Steps::default().to_string(), "not known");
    }

    #[test]
    fn nonsense_gets_a_sentence() {
        for typed in [
            "cold",
            ";",
            "cool 40 within 120 min of milking end [read]",
            "cool 40 °F within 120 min of milking end",
            "cool 40 °F within -1 min of milking end [read]",
            "cool 40 °F within 99999999999999999999 min of milking end [read]",
            "hold 40 °F until handed out [sure]",
            "hold 40 °F to 32 °F until handed out [read]",
            "blend 50 °F within 2 min of milking end [read]",
            "🥛",
        ] {
            assert!(Steps::parse(typed).unwrap_err().to_string().contains("is not a chill step"), "{typed}");
        }
    }

    fn any_step() -> impl Strategy<Value = Step> {
        let clock = prop::sample::select(Clock::WORDS.map(|(clock, _)| clock).to_vec());
        let sure = prop::sample::select(Sure::WORDS.map(|(sure, _)| sure).to_vec());
        let stage = prop::sample::select(Stage::WORDS.map(|(stage, _)| stage).to_vec());
        (stage, -3000i64..9000, any::<bool>(), prop::option::of(0i64..=10_080), clock, sure).prop_map(
            |(stage, hundredths, celsius, minutes, clock, sure)| {
                let limit = Temperature::hundredths(hundredths, if celsius { Scale::Celsius } else { Scale::Fahrenheit });
                let (within_minutes, clock) = match stage {
                    Stage::Cool => (minutes, clock),
                    Stage::Blend => (None, Clock::EachLaterMilking),
                    Stage::Hold => (None, Clock::UntilHandedOut),
                };
                Step { stage, limit, lowest: None, within_minutes, clock, sure }
            },
        )
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn what_is_shown_can_be_read(steps in prop::collection::vec(any_step(), 0..6)) {
            let shown = Steps(steps.clone()).to_string();
            let back = Steps::parse(&shown).unwrap();
            prop_assert!(back.0.iter().zip(&steps).all(|(a, b)| a.limit.scale() == b.limit.scale()));
            prop_assert_eq!(back, Steps(steps));
        }
    }
}
