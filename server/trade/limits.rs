//! The limits of a rule: how much of what the milk may hold, and which results count.
//!
//! Laws differ in more than the number. One says “at most” and the next “below”; one looks at every result, one at the
//! last five, one at a mean of two months, one at five portions of a lot. A farm copies a place's limits into its own
//! ledger and may change them, so all of that has a one-line text that fits a cell and reads back exactly.

use super::{
    Fault,
    analytes::{Analyte, Unit},
    lab::grouped,
    measure::figure_of,
    short,
    steps::{Sure, meant, word},
};
use rust_decimal::Decimal;
use std::fmt;

/// How much there may be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Amount {
    /// This much or less.
    AtMost(Decimal, Unit),
    /// Less than this.
    Below(Decimal, Unit),
    /// None of it, in a portion of so many millilitres where the law names one.
    NoneFound(Option<u32>),
    /// The law has a limit that nobody here has seen.
    NotKnown,
}

impl Amount {
    /// The amount as a farmer says it: `at most 20,000 per mL`.
    #[must_use]
    pub fn spoken(&self) -> String {
        match self {
            Amount::AtMost(most, unit) => format!("at most {} {unit}", grouped(*most)),
            Amount::Below(under, unit) => format!("below {} {unit}", grouped(*under)),
            Amount::NoneFound(None) => "none found".to_owned(),
            Amount::NoneFound(Some(ml)) => format!("none found in {ml} mL"),
            Amount::NotKnown => "not known".to_owned(),
        }
    }

    /// The figure of the limit and its unit, where it has one.
    #[must_use]
    pub const fn figure(&self) -> Option<(Decimal, Unit)> {
        match self {
            Amount::AtMost(figure, unit) | Amount::Below(figure, unit) => Some((*figure, *unit)),
            Amount::NoneFound(_) | Amount::NotKnown => None,
        }
    }
}

impl fmt::Display for Amount {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Amount::AtMost(most, unit) => write!(f, "at most {} {unit}", most.normalize()),
            Amount::Below(under, unit) => write!(f, "below {} {unit}", under.normalize()),
            Amount::NoneFound(None) => f.write_str("none found"),
            Amount::NoneFound(Some(ml)) => write!(f, "none found in {ml} mL"),
            Amount::NotKnown => f.write_str("limit not known"),
        }
    }
}

/// Which results the limit is held against.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pattern {
    /// Every result for itself.
    Single,
    /// Two of the last four over it bring a notice, three of the last five stop the milk.
    Ladder,
    /// The geometric mean of so many months, with so many samples in each month.
    Mean {
        /// Months the mean looks back.
        months: u32,
        /// Samples each of them needs.
        samples_a_month: u32,
    },
    /// Several portions of one lot, of which a few may come near the limit.
    Plan {
        /// Portions to test.
        units: u32,
        /// How many of them may be above the lower figure.
        marginal: u32,
        /// The lower figure, in the unit of the limit.
        above: Decimal,
    },
}

/// One limit of a rule.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Limit {
    /// What is limited.
    pub analyte: Analyte,
    /// How much there may be.
    pub amount: Amount,
    /// Which results count.
    pub pattern: Pattern,
    /// Whether several results of one day are averaged into one.
    pub averaged: bool,
    /// Above this figure, in the unit of the limit, another test is asked for.
    pub further: Option<(Decimal, Analyte)>,
    /// Whether the lot waits until its result is clear.
    pub held: bool,
    /// Whether a clear result lifts a keep-back for a drug.
    pub lifts: bool,
    /// How sure the limit is.
    pub sure: Sure,
}

const LADDER: &str = "2 of 4 notice";
const LADDER_ENDS: &str = "3 of 5 action";
const AVERAGED: &str = "same day averaged";
const HELD: &str = "held until clear";
const LIFTS: &str = "a clear test lifts a drug keep-back";

impl Limit {
    /// The limit as a farmer says it, without what it is a limit of.
    #[must_use]
    pub fn spoken(&self) -> String {
        let amount = self.amount.spoken();
        let unit = self.amount.figure().map(|(_, unit)| format!(" {unit}")).unwrap_or_default();
        let mut said = match self.pattern {
            Pattern::Single => amount,
            Pattern::Ladder => {
                format!("{amount}; 2 of the last 4 results over it bring a notice, 3 of the last 5 stop the milk")
            }
            Pattern::Mean { months, samples_a_month } => format!(
                "{amount} as the geometric mean of {months} {}, with at least {samples_a_month} {} a month",
                many(months, "month"),
                many(samples_a_month, "sample")
            ),
            Pattern::Plan { units, marginal, above } => format!(
                "{amount} in each of {units} {} of a lot, and no more than {marginal} of them above {}{unit}",
                many(units, "portion"),
                grouped(above)
            ),
        };
        if self.averaged {
            said.push_str("; results of one day are averaged");
        }
        if let Some((above, analyte)) = &self.further {
            said.push_str(&format!("; above {}{unit} a test for {analyte} is due", grouped(*above)));
        }
        if self.held {
            said.push_str("; the lot waits until the result is clear");
        }
        if self.lifts {
            said.push_str("; a clear result lifts a keep-back for a drug");
        }
        said
    }

    fn parse(text: &str) -> Option<Limit> {
        let (body, sure) = text.trim().strip_suffix(']')?.rsplit_once(" [")?;
        let sure = meant(&Sure::WORDS, sure)?;
        let mut parts = body.split(',').map(str::trim).peekable();
        let (analyte, amount) = named(parts.next()?)?;
        let figure = amount.figure();
        let pattern = pattern_of(&mut parts, figure.map(|(figure, _)| figure))?;
        let averaged = parts.next_if_eq(&AVERAGED).is_some();
        let further = match parts.next_if(|part| part.contains(" calls for ")) {
            Some(part) => {
                let (above, test) = part.strip_prefix("above ")?.split_once(" calls for ")?;
                figure?;
                Some((figure_of(above)?, name(test)?))
            }
            None => None,
        };
        let held = parts.next_if_eq(&HELD).is_some();
        let lifts = parts.next_if_eq(&LIFTS).is_some();
        let whole = parts.next().is_none();
        whole.then_some(Limit { analyte, amount, pattern, averaged, further, held, lifts, sure })
    }
}

impl fmt::Display for Limit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.analyte, self.amount)?;
        match self.pattern {
            Pattern::Single => {}
            Pattern::Ladder => write!(f, ", {LADDER}, {LADDER_ENDS}")?,
            Pattern::Mean { months, samples_a_month } => write!(
                f,
                ", geometric mean of {months} {}, {samples_a_month} {} a month",
                many(months, "month"),
                many(samples_a_month, "sample")
            )?,
            Pattern::Plan { units, marginal, above } => {
                write!(f, ", {units} {} with {marginal} above {}", many(units, "unit"), above.normalize())?;
            }
        }
        if self.averaged {
            write!(f, ", {AVERAGED}")?;
        }
        if let Some((above, analyte)) = &self.further {
            write!(f, ", above {} calls for {analyte}", above.normalize())?;
        }
        if self.held {
            write!(f, ", {HELD}")?;
        }
        if self.lifts {
            write!(f, ", {LIFTS}")?;
        }
        write!(f, " [{}]", word(&Sure::WORDS, self.sure).unwrap_or("memory"))
    }
}

/// The limits of a place, in the order of its law.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Limits(pub Vec<Limit>);

impl Limits {
    /// Reads the text form back, such as `plate count at most 20000 per mL [read]; coliforms below 100 per mL [read]`.
    ///
    /// # Errors
    /// A sentence when a part of it is no limit.
    pub fn parse(text: &str) -> Result<Limits, Fault> {
        if matches!(text.trim(), "" | "not known") {
            return Ok(Limits::default());
        }
        let read = |part: &str| {
            Limit::parse(part).ok_or_else(|| {
                Fault::says(format!("“{}” is not a limit. Write it like: plate count at most 20000 per mL [chosen]", short(part)))
            })
        };
        text.split(';').map(read).collect::<Result<Vec<Limit>, Fault>>().map(Limits)
    }

    /// The germs a panel of pathogens is whole with: those the rule names by themselves or, where it names none, the four that
    /// raw milk is commonly looked through for.
    #[must_use]
    pub fn panel(&self) -> Vec<Analyte> {
        let named = self.0.iter().map(|limit| &limit.analyte).filter(|own| own.is_pathogen() && !own.is_panel());
        let panel: Vec<Analyte> = named.cloned().collect();
        if panel.is_empty() { Analyte::usual_panel().to_vec() } else { panel }
    }

    /// Whether what was tested for answers what was asked. A panel of germs is answered by every one of its germs, or by a lab
    /// that says “pathogens” and so tested its own panel; one germ alone answers for no other.
    #[must_use]
    pub fn answers(&self, asked: &Analyte, tested: &[&Analyte]) -> bool {
        let is_in = |one: &Analyte| tested.iter().any(|own| own.answers(one));
        is_in(asked) || (asked.is_panel() && self.panel().iter().all(is_in))
    }

    /// The limits that are about this, those on pathogens as a whole among them.
    #[must_use]
    pub fn of(&self, analyte: &Analyte) -> Vec<&Limit> {
        self.0.iter().filter(|limit| limit.analyte.covers(analyte)).collect()
    }
}

impl fmt::Display for Limits {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.0.is_empty() {
            return f.write_str("not known");
        }
        for (nth, limit) in self.0.iter().enumerate() {
            write!(f, "{}{limit}", if nth == 0 { "" } else { "; " })?;
        }
        Ok(())
    }
}

/// What is limited and how much of it there may be: `plate count at most 20000 per mL`.
fn named(part: &str) -> Option<(Analyte, Amount)> {
    let starts = ["at most ", "below ", "none found", "limit not known"].iter().filter_map(|words| part.find(&format!(" {words}")));
    let (analyte, amount) = part.split_at(starts.min()?);
    let amount = amount.trim();
    let amount = if let Some(figure) = amount.strip_prefix("at most ") {
        let (figure, unit) = measured(figure)?;
        Amount::AtMost(figure, unit)
    } else if let Some(figure) = amount.strip_prefix("below ") {
        let (figure, unit) = measured(figure)?;
        // No count is below nothing: a law that wants none says so.
        Some(Amount::Below(figure, unit)).filter(|_| !figure.is_zero())?
    } else if let Some(portion) = amount.strip_prefix("none found in ") {
        match Unit::parse(&format!("in {portion}")).ok()? {
            Unit::InMl(ml) => Amount::NoneFound(Some(ml)),
            _ => return None,
        }
    } else {
        match amount {
            "none found" => Amount::NoneFound(None),
            "limit not known" => Amount::NotKnown,
            _ => return None,
        }
    };
    Some((name(analyte)?, amount))
}

/// A figure with the unit the law writes it in; a law is compared in that unit. Only a temperature may be below zero.
fn measured(text: &str) -> Option<(Decimal, Unit)> {
    let (figure, unit) = text.trim().split_once(' ')?;
    let (figure, unit) = (figure_of(figure)?, Unit::parse(unit).ok()?);
    let sensible = !matches!(unit, Unit::InMl(_)) && (unit == Unit::Celsius || !figure.is_sign_negative());
    sensible.then_some((figure, unit))
}

/// A name that can stand in the line: short, and without the signs the line is cut at.
fn name(typed: &str) -> Option<Analyte> {
    let typed = typed.trim();
    let fits = (1..=60).contains(&typed.chars().count()) && !typed.contains([',', ';', '[', ']']);
    let fits = fits && typed.chars().any(char::is_alphabetic) && !typed.contains(char::is_control);
    fits.then(|| Analyte::parse(typed))
}

fn pattern_of<'a>(parts: &mut std::iter::Peekable<impl Iterator<Item = &'a str>>, limit: Option<Decimal>) -> Option<Pattern> {
    if parts.next_if_eq(&LADDER).is_some() {
        return parts.next_if_eq(&LADDER_ENDS).map(|_| Pattern::Ladder);
    }
    if let Some(span) = parts.next_if(|part| part.starts_with("geometric mean of ")) {
        let months = counted(span.strip_prefix("geometric mean of ")?, "month", 24)?;
        let samples_a_month = counted(parts.next()?.strip_suffix(" a month")?, "sample", 31)?;
        return (months > 0 && samples_a_month > 0 && limit.is_some()).then_some(Pattern::Mean { months, samples_a_month });
    }
    if let Some(plan) = parts.next_if(|part| part.contains(" with ")) {
        let (units, rest) = plan.split_once(" with ")?;
        let (marginal, above) = rest.split_once(" above ")?;
        let units = counted(units, "unit", 60)?;
        let (marginal, above) = (marginal.parse().ok()?, figure_of(above)?);
        let sensible = units > 0 && marginal <= units && !above.is_sign_negative() && limit.is_none_or(|limit| above <= limit);
        return sensible.then_some(Pattern::Plan { units, marginal, above });
    }
    Some(Pattern::Single)
}

/// `2 months` or `1 month`, as a number no larger than makes sense.
fn counted(text: &str, thing: &str, most: u32) -> Option<u32> {
    let (figure, word) = text.trim().split_once(' ')?;
    let fits = word.strip_suffix('s').unwrap_or(word) == thing;
    figure.parse().ok().filter(|figure| fits && *figure <= most)
}

fn many(figure: u32, thing: &str) -> String {
    if figure == 1 { thing.to_owned() } else { format!("{thing}s") }
}
