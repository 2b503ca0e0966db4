//! Counts of what grew: what plates and tubes say of the milk, and how wide that is.
//!
//! A count on a lab's paper looks like one figure. It is a draw: twenty-five colonies on a plate may as well have been
//! sixteen or thirty-six. So every figure here comes with its width, and the width is the least it can be, because weighing,
//! diluting and one lab against another come on top of it.

#![allow(
    clippy::float_arithmetic,
    reason = "logarithms and quantiles of a distribution; nothing here is money, and no limit is compared here"
)]
#![allow(clippy::cast_precision_loss, reason = "a count is a float only to be put into such a quantile")]

use super::{Fault, measure::figure_of, short};
use rust_decimal::{Decimal, RoundingStrategy, prelude::ToPrimitive};
use statrs::distribution::{ContinuousCDF, Gamma, Normal};
use std::fmt;

/// The middle of figures that differ by factors: the mean of their logarithms. A zero has none, so nothing is answered; for
/// “fewer than 10” give the 10 and say “at most” of the answer.
#[must_use]
pub fn geometric_mean(figures: &[f64]) -> Option<f64> {
    let usable = !figures.is_empty() && figures.iter().all(|figure| figure.is_finite() && *figure > 0.0);
    usable.then(|| (figures.iter().map(|figure| figure.ln()).sum::<f64>() / figures.len() as f64).exp())
}

/// The exact interval of Garwood for a count: from the lowest to the highest mean that could well have given it.
/// A confidence that is not between 0 and 1 leaves everything open.
#[must_use]
pub fn interval(count: u64, confidence: f64) -> (f64, f64) {
    if !(confidence > 0.0 && confidence < 1.0) {
        return (0.0, f64::INFINITY);
    }
    let tail = (1.0 - confidence) / 2.0;
    let low = if count == 0 { 0.0 } else { quantile(count as f64, tail) };
    (low, quantile(count as f64 + 1.0, 1.0 - tail))
}

/// Half of a chi-square quantile at twice this many degrees of freedom. For very large counts the exact sum takes minutes,
/// and there the cube-root rule of Wilson and Hilferty says the same to more digits than anyone reads.
fn quantile(shape: f64, below: f64) -> f64 {
    if shape > 100_000.0 {
        let cube_root = 1.0 - (9.0 * shape).recip() + Normal::standard().inverse_cdf(below) / (3.0 * shape.sqrt());
        return shape * cube_root.powi(3);
    }
    Gamma::new(shape, 1.0).map_or(f64::NAN, |gamma| gamma.inverse_cdf(below))
}

/// The somatic cell score: one more for every doubling, 3 at 100,000 a milliliter.
#[must_use]
pub fn cell_score(cells_per_ml: f64) -> f64 {
    (cells_per_ml / 100_000.0).log2() + 3.0
}

/// The plates of one dilution.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Plates {
    /// The colonies on each.
    pub counts: Vec<u32>,
    /// The parts the milk was diluted to: 100 for 1:100. Each plate got one milliliter of it.
    pub dilution: u32,
}

/// The tubes that got the same amount of milk.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Tubes {
    /// Those in which something grew.
    pub positive: u32,
    /// All of them.
    pub of: u32,
    /// Milliliters of milk in each.
    pub amount: Decimal,
}

/// What a lab saw, before it made one figure of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Read {
    /// Colonies on plates, at one dilution or at two a factor of ten apart, the stronger first.
    Plates(Vec<Plates>),
    /// Tubes in which something grew, at some amounts of milk.
    Tubes(Vec<Tubes>),
}

/// The plates that can be counted fairly (FDA Bacteriological Analytical Manual, chapter 3).
const COUNTABLE: std::ops::RangeInclusive<u32> = 25..=250;

impl Read {
    /// Reads `232, 244 at 1:100; 33, 28 at 1:1000` or `5 of 10 at 0.1; 3 of 10 at 0.01`.
    ///
    /// # Errors
    /// A sentence when it is neither, or says what cannot be.
    pub fn parse(typed: &str) -> Result<Read, Fault> {
        let parts: Vec<&str> = typed.split(';').map(str::trim).collect();
        if parts.len() > 6 {
            return Err(wrong(typed));
        }
        if parts.iter().all(|part| part.contains(" of ")) {
            return parts.iter().map(|part| tubes(part)).collect::<Result<_, _>>().map(Read::Tubes);
        }
        let mut rows: Vec<Plates> = parts.iter().map(|part| plates(part)).collect::<Result<_, _>>()?;
        rows.sort_by_key(|row| row.dilution);
        match rows.as_slice() {
            [_] => Ok(Read::Plates(rows)),
            [strong, weak] if strong.dilution.checked_mul(10) == Some(weak.dilution) => Ok(Read::Plates(rows)),
            _ => Err(Fault::says("Write plates of one dilution, or of two that are ten times apart, like 1:100 and 1:1000.")),
        }
    }

    /// The figure for a milliliter of milk: of plates, colonies by the milk they came from; of tubes, the most probable
    /// number. There is none when every tube grew.
    #[must_use]
    pub fn estimate(&self) -> Option<f64> {
        match self {
            Read::Plates(rows) => {
                let (colonies, milk) = used(rows);
                Some(colonies as f64 / milk)
            }
            Read::Tubes(rows) => most_probable(rows),
        }
    }

    /// Whether no plate could be counted fairly, so that the figure is only an estimate and has to be marked as one.
    #[must_use]
    pub fn is_rough(&self) -> bool {
        matches!(self, Read::Plates(rows) if !rows.iter().flat_map(|row| &row.counts).any(|count| COUNTABLE.contains(count)))
    }

    /// The least and the most for a milliliter, with a certainty of 95 %, by the draw alone. There is no most, and so no
    /// interval, when every tube grew.
    #[must_use]
    pub fn interval(&self) -> Option<(f64, f64)> {
        let (count, milk) = match self {
            Read::Plates(rows) => used(rows),
            Read::Tubes(rows) => match most_probable(rows)? {
                0.0 => (0, rows.iter().map(|row| f64::from(row.of) * row.milk()).sum()),
                number => {
                    let factor = 10f64.powf(Normal::standard().inverse_cdf(0.975) * error_of_log10(rows, number));
                    return Some((number / factor, number * factor));
                }
            },
        };
        let (low, high) = interval(count, 0.95);
        Some((low / milk, high / milk))
    }

    /// The figure in words: two figures that count, and three for the bounds.
    #[must_use]
    pub fn spoken(&self) -> String {
        let (number, (low, high)) = match (self, self.estimate(), self.interval()) {
            (_, Some(number), Some(bounds)) => (number, bounds),
            (Read::Tubes(rows), ..) => {
                let low = figures(all_grow(rows, 0.025), 3);
                return format!("more than {low} per mL with 95 % certainty; something grew in every tube, so there is no upper bound");
            }
            _ => return "no figure".to_owned(),
        };
        let (number, low, high) = (figures(number, 2), figures(low, 3), figures(high, 3));
        let (kind, of) = match self {
            _ if number == "0" => return format!("none found; with 95 % certainty fewer than {high} per mL"),
            Read::Tubes(_) => (" as the most probable number", ""),
            Read::Plates(_) if self.is_rough() => (" as an estimate, since no plate had 25 to 250 colonies", " for the colonies alone"),
            Read::Plates(_) => ("", " for the colonies alone"),
        };
        format!("{number} per mL{kind}; with 95 % certainty {low} to {high}{of}, and at least that wide")
    }
}

impl fmt::Display for Read {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let parts: Vec<String> = match self {
            Read::Plates(rows) => rows
                .iter()
                .map(|row| format!("{} at 1:{}", row.counts.iter().map(u32::to_string).collect::<Vec<_>>().join(", "), row.dilution))
                .collect(),
            Read::Tubes(rows) => rows.iter().map(|row| format!("{} of {} at {}", row.positive, row.of, row.amount)).collect(),
        };
        f.write_str(&parts.join("; "))
    }
}

impl Tubes {
    fn milk(&self) -> f64 {
        self.amount.to_f64().unwrap_or(f64::NAN)
    }
}

fn wrong(typed: &str) -> Fault {
    Fault::says(format!(
        "“{}” is not a count. Write plates like 232, 244 at 1:100; 33, 28 at 1:1000, or tubes like 5 of 10 at 0.1; 3 of 10 at 0.01.",
        short(typed)
    ))
}

/// A whole number in plain digits.
fn whole(typed: &str) -> Option<u32> {
    let digits = typed.trim();
    if !digits.is_empty() && digits.bytes().all(|byte| byte.is_ascii_digit()) { digits.parse().ok() } else { None }
}

fn plates(part: &str) -> Result<Plates, Fault> {
    let (counts, dilution) = part.split_once(" at ").ok_or_else(|| wrong(part))?;
    let dilution = dilution.trim().strip_prefix("1:").map(|parts| parts.replace(',', "")).as_deref().and_then(whole);
    // `1,200` is one plate to one reader and two to the next, and the milk differs a hundredfold.
    if counts.as_bytes().windows(3).any(|three| matches!(three, [a, b',', c] if a.is_ascii_digit() && c.is_ascii_digit())) {
        return Err(Fault::says(format!(
            "“{}” can be read in two ways. Put a space after the comma between two plates, and write one count without a comma.",
            short(counts)
        )));
    }
    let counts: Option<Vec<u32>> = counts.split(',').map(whole).collect();
    let (Some(counts), Some(dilution)) = (counts, dilution) else { return Err(wrong(part)) };
    if counts.len() <= 10 && counts.iter().all(|count| *count <= 9_999) && (1..=1_000_000_000).contains(&dilution) {
        return Ok(Plates { counts, dilution });
    }
    Err(Fault::says(format!(
        "“{}” cannot be right: up to ten plates of at most 9,999 colonies, diluted from 1:1 to 1:1,000,000,000.",
        short(part)
    )))
}

fn tubes(part: &str) -> Result<Tubes, Fault> {
    let read = part.split_once(" of ").and_then(|(positive, rest)| {
        let (of, amount) = rest.split_once(" at ")?;
        Some((whole(positive)?, whole(of)?, figure_of(amount)?.normalize()))
    });
    let (positive, of, amount) = read.ok_or_else(|| wrong(part))?;
    if (1..=100).contains(&of) && positive <= of && (Decimal::new(1, 9)..=Decimal::ONE_THOUSAND).contains(&amount) {
        return Ok(Tubes { positive, of, amount });
    }
    Err(Fault::says(format!(
        "“{}” cannot be right: out of 1 to 100 tubes no more can grow than there are, and each gets some milk, at most 1000 mL.",
        short(part)
    )))
}

/// The colonies counted, and the milliliters of milk they came from. Dividing the one by the other is the sum of colonies over
/// (n₁ + 0.1 · n₂) · d of the manual. Only fair plates are used; where there is none, the overgrown one nearest to fair, and
/// where all are sparse, all of them.
fn used(rows: &[Plates]) -> (u64, f64) {
    let all: Vec<(u32, f64)> =
        rows.iter().flat_map(|row| row.counts.iter().map(|count| (*count, f64::from(row.dilution).recip()))).collect();
    let fair: Vec<(u32, f64)> = all.iter().copied().filter(|(count, _)| COUNTABLE.contains(count)).collect();
    let overgrown = all.iter().copied().filter(|(count, _)| count > COUNTABLE.end()).min_by_key(|(count, _)| *count);
    let used = if fair.is_empty() { overgrown.map_or(all, |nearest| vec![nearest]) } else { fair };
    (used.iter().map(|(count, _)| u64::from(*count)).sum(), used.iter().map(|(_, milk)| milk).sum())
}

/// The most probable number, by its own equation (FDA Bacteriological Analytical Manual, appendix 2): the left side falls
/// as the number grows, so it is halved down on a scale of ratios.
fn most_probable(rows: &[Tubes]) -> Option<f64> {
    if rows.iter().all(|row| row.positive == row.of) {
        return None;
    }
    if rows.iter().all(|row| row.positive == 0) {
        return Some(0.0);
    }
    let blank: f64 = rows.iter().map(|row| f64::from(row.of - row.positive) * row.milk()).sum();
    Some(falls_to(blank, |number| {
        rows.iter().filter(|row| row.positive > 0).map(|row| f64::from(row.positive) * row.milk() / (number * row.milk()).exp_m1()).sum()
    }))
}

/// The lowest number at which all tubes grow as often as this.
fn all_grow(rows: &[Tubes], chance: f64) -> f64 {
    falls_to(-chance.ln(), |number| rows.iter().map(|row| -f64::from(row.of) * (-(-number * row.milk()).exp_m1()).ln()).sum())
}

/// Where a falling figure comes down to a level, for any number that tubes can show.
fn falls_to(level: f64, figure: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (-40.0_f64, 40.0_f64);
    for _ in 0..80 {
        let middle = low.midpoint(high);
        if figure(middle.exp()) > level { low = middle } else { high = middle }
    }
    low.midpoint(high).exp()
}

/// The standard error of the logarithm, from the information in the tubes observed.
fn error_of_log10(rows: &[Tubes], number: f64) -> f64 {
    let information: f64 =
        rows.iter().map(|row| f64::from(row.positive) * (row.milk() / (2.0 * (number * row.milk() / 2.0).sinh())).powi(2)).sum();
    (std::f64::consts::LN_10 * number * information.sqrt()).recip()
}

/// A figure to so many digits that count, halves to the even digit (the manual's way of reporting, from memory).
fn figures(number: f64, digits: u32) -> String {
    let rounded =
        Decimal::try_from(number).ok().and_then(|exact| exact.round_sf_with_strategy(digits, RoundingStrategy::MidpointNearestEven));
    let plain = rounded.map_or_else(|| number.to_string(), |figure| figure.normalize().to_string());
    let (whole, rest) = plain.split_at(plain.find('.').unwrap_or(plain.len()));
    let comma = |place: usize| if place > 0 && (whole.len() - place).is_multiple_of(3) { "," } else { "" };
    whole.chars().enumerate().map(|(place, digit)| format!("{}{digit}", comma(place))).collect::<String>() + rest
}
