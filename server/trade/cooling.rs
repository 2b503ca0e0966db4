//! How a jar cooled, drawn as a curve: an estimate and never a verdict.
//!
//! A curve answers “about when was it cold?” and “is the ice bath slower than usual?”. It cannot answer “was it cold in
//! time?”, and nothing here is asked that: between two readings the milk may have done anything. Milk that stood warm and
//! was iced late bends the other way, and then a line between its readings crosses the limit before the milk did. Only a
//! reading shows that a rule was met; that is judged in the chapter on chill.
//!
//! The curve is Newton's law of cooling: what is left of the difference to the surroundings shrinks by the same part in
//! every minute. Real milk slows a little more than that as the ice bath warms around it, so tau describes one afternoon
//! and is no constant of the jar. Temperatures are degrees of either scale, as long as it is one; times are minutes from
//! any zero.

#![allow(clippy::float_arithmetic, reason = "a curve is found by exponentials and least squares; nothing here is money or a limit")]
#![allow(clippy::cast_precision_loss, reason = "readings of a jar are counted in tens, far below where a float skips whole numbers")]

use std::fmt;

/// Cooling towards surroundings that stay as they are.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Curve {
    /// The minute at which the curve is at its start.
    pub from: f64,
    /// The temperature at that minute.
    pub start: f64,
    /// What it cools towards.
    pub ambient: f64,
    /// Minutes in which the difference shrinks to 37 parts in a hundred.
    pub tau: f64,
}

impl Curve {
    /// The temperature at a minute.
    #[must_use]
    pub fn at(&self, minutes: f64) -> f64 {
        self.start + (self.ambient - self.start) * spent(minutes - self.from, self.tau)
    }

    /// About when it comes down to a limit: at the start if it was there already, never if the surroundings are no colder
    /// than the limit.
    #[must_use]
    pub fn reaches(&self, limit: f64) -> Option<f64> {
        if self.ambient >= limit {
            return None;
        }
        if self.start <= limit {
            return Some(self.from);
        }
        let minutes = self.from + self.tau * ((self.start - self.ambient) / (limit - self.ambient)).ln();
        minutes.is_finite().then_some(minutes)
    }
}

/// A curve drawn through readings, and how sure it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fit {
    /// The curve.
    pub curve: Curve,
    /// Standard error of the temperature it starts from; none where that was given.
    pub start_error: Option<f64>,
    /// Standard error of what it cools towards.
    pub ambient_error: f64,
    /// Standard error of tau.
    pub tau_error: f64,
    /// What is left between readings and curve: the sum of the squares.
    pub rss: f64,
    /// How many readings it rests on.
    pub n: usize,
}

impl Fit {
    /// The temperature at a minute.
    #[must_use]
    pub fn at(&self, minutes: f64) -> f64 {
        self.curve.at(minutes)
    }

    /// About when it comes down to a limit.
    #[must_use]
    pub fn reaches(&self, limit: f64) -> Option<f64> {
        self.curve.reaches(limit)
    }
}

/// Why no curve is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NotFitted {
    /// Fewer than four readings at different times.
    TooFew,
    /// The readings stop before the curve has flattened, so tau and the surroundings cannot be told apart.
    TooShort,
    /// No tau between the quickest and the slowest that such readings could show fits best.
    AtTheEdge,
}

impl fmt::Display for NotFitted {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            NotFitted::TooFew => "Too few readings to draw a curve: it takes four, each at its own time.",
            NotFitted::TooShort => "The readings stop too soon to draw a curve: they do not show yet what the milk cools towards.",
            NotFitted::AtTheEdge => "The readings do not bend the way cooling milk does, so no curve is drawn.",
        })
    }
}

/// The curve through readings of minutes and degrees, where they can carry one.
///
/// # Errors
/// Why no curve is drawn.
pub fn fit(readings: &[(f64, f64)]) -> Result<Fit, NotFitted> {
    let fit = search(readings, None)?;
    // Readings that span less than one and a half tau are nearly a straight line, and many curves fit a straight line.
    let last = readings.iter().map(|(minutes, _)| *minutes).fold(f64::NEG_INFINITY, f64::max);
    if last - fit.curve.from < 1.5 * fit.curve.tau { Err(NotFitted::TooShort) } else { Ok(fit) }
}

/// How many steps the walk over tau takes. Each is a few parts in a hundred, finer than the valleys of a sum of squares.
const STEPS: usize = 400;

/// The bare least-squares search, which does not ask whether the answer means anything. Use [`fit`] for a page.
///
/// For any one tau the best start and surroundings follow at once (the curve is a straight line in what is spent), so only
/// tau is looked for. A walk over tau on a scale of ratios, from a third of the shortest gap to twenty times the span,
/// finds the lowest valley; then the slope of the sum of squares is halved down to where it is zero. Searching the slope
/// and not the sum itself matters: near its lowest point a sum of squares is flat to half of a float's digits, and a
/// search that compares sums stalls there, eight digits short.
///
/// # Errors
/// Too few readings, or a best tau at an end of the walk.
pub fn search(readings: &[(f64, f64)], start: Option<(f64, f64)>) -> Result<Fit, NotFitted> {
    let mut sorted: Vec<(f64, f64)> = readings.iter().copied().filter(|(t, degrees)| t.is_finite() && degrees.is_finite()).collect();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let gaps: Vec<f64> =
        sorted.windows(2).filter_map(|w| if let [a, b] = w { Some(b.0 - a.0) } else { None }).filter(|gap| *gap > 0.0).collect();
    let (Some(first), Some(last), true) = (sorted.first(), sorted.last(), gaps.len() >= 3) else {
        return Err(NotFitted::TooFew);
    };
    if sorted.iter().all(|(_, degrees)| *degrees == first.1) {
        return Err(NotFitted::AtTheEdge);
    }
    let sums = Sums { from: start.map_or(first.0, |(minutes, _)| minutes), start: start.map(|(_, degrees)| degrees), readings: &sorted };
    let shortest = (gaps.iter().copied().fold(f64::INFINITY, f64::min) / 3.0).ln();
    let longest = (20.0 * (last.0 - sums.from)).ln();
    let tau_of = |step: usize| (shortest + (longest - shortest) * step as f64 / STEPS as f64).exp();
    let lowest = (0..=STEPS).min_by(|a, b| sums.squares(tau_of(*a)).total_cmp(&sums.squares(tau_of(*b)))).unwrap_or(0);
    if lowest == 0 || lowest == STEPS {
        return Err(NotFitted::AtTheEdge);
    }
    let tau = zero_between(tau_of(lowest - 1), tau_of(lowest + 1), |tau| sums.slope(tau));
    sums.fit(tau).ok_or(NotFitted::AtTheEdge)
}

/// Where a rising figure passes zero between two others, to the last digit.
fn zero_between(mut low: f64, mut high: f64, figure: impl Fn(f64) -> f64) -> f64 {
    loop {
        let middle = low.midpoint(high);
        if middle <= low || middle >= high {
            return middle;
        }
        if figure(middle) < 0.0 { low = middle } else { high = middle }
    }
}

/// The readings, and the sums that follow from a tau.
struct Sums<'a> {
    from: f64,
    start: Option<f64>,
    readings: &'a [(f64, f64)],
}

impl Sums<'_> {
    fn curve(&self, tau: f64) -> Curve {
        let n = self.readings.len() as f64;
        let (x, y) = match self.start {
            Some(start) => (0.0, start),
            None => (
                self.readings.iter().map(|(t, _)| spent(t - self.from, tau)).sum::<f64>() / n,
                self.readings.iter().map(|(_, degrees)| degrees).sum::<f64>() / n,
            ),
        };
        let (mut above, mut below) = (0.0, 0.0);
        for (t, degrees) in self.readings {
            let dx = spent(t - self.from, tau) - x;
            above += dx * (degrees - y);
            below += dx * dx;
        }
        let drop = above / below;
        let start = y - drop * x;
        Curve { from: self.from, start, ambient: start + drop, tau }
    }

    fn squares(&self, tau: f64) -> f64 {
        let curve = self.curve(tau);
        let sum: f64 = self.readings.iter().map(|(t, degrees)| (degrees - curve.at(*t)).powi(2)).sum();
        if sum.is_nan() { f64::INFINITY } else { sum }
    }

    /// The slope of the squares over tau, up to a factor above nothing. Start and surroundings are the best ones for each
    /// tau, so what they change by drops out.
    fn slope(&self, tau: f64) -> f64 {
        let curve = self.curve(tau);
        let drift = |t: f64| (t - self.from) * (-(t - self.from) / tau).exp();
        (curve.ambient - curve.start) * self.readings.iter().map(|(t, degrees)| (degrees - curve.at(*t)) * drift(*t)).sum::<f64>()
    }

    fn fit(&self, tau: f64) -> Option<Fit> {
        let curve = self.curve(tau);
        let by = |change: &dyn Fn(f64) -> f64| self.readings.iter().map(|(t, _)| change(t - self.from)).collect::<Vec<f64>>();
        let ambient = by(&|t| spent(t, tau));
        let slowness = by(&|t| (curve.start - curve.ambient) * t * (-t / tau).exp() / (tau * tau));
        let start = self.start.is_none().then(|| by(&|t| (-t / tau).exp()));
        let n = self.readings.len();
        let rss = self.squares(tau);
        let spread = (rss / (n as f64 - if start.is_some() { 3.0 } else { 2.0 })).sqrt();
        let others = |one: &[f64], two: Option<&Vec<f64>>| [Some(one.to_vec()), two.cloned()].into_iter().flatten().collect::<Vec<_>>();
        let fit = Fit {
            curve,
            start_error: start.as_ref().map(|start| spread / alone(start, others(&ambient, Some(&slowness)))),
            ambient_error: spread / alone(&ambient, others(&slowness, start.as_ref())),
            tau_error: spread / alone(&slowness, others(&ambient, start.as_ref())),
            rss,
            n,
        };
        [curve.start, curve.ambient, tau, fit.start_error.unwrap_or(0.0), fit.ambient_error, fit.tau_error]
            .iter()
            .all(|x| x.is_finite())
            .then_some(fit)
    }
}

/// How much of one direction no other direction makes up for: what a standard error divides by.
fn alone(direction: &[f64], others: Vec<Vec<f64>>) -> f64 {
    let mut seen: Vec<Vec<f64>> = Vec::new();
    let mut rest = Vec::new();
    for next in others.into_iter().chain([direction.to_vec()]) {
        rest = next;
        for earlier in &seen {
            let share = dot(&rest, earlier) / dot(earlier, earlier);
            rest.iter_mut().zip(earlier).for_each(|(a, b)| *a -= share * b);
        }
        seen.push(rest.clone());
    }
    dot(&rest, &rest).sqrt()
}

fn dot(one: &[f64], other: &[f64]) -> f64 {
    one.iter().zip(other).map(|(a, b)| a * b).sum()
}

/// The part of the way to the surroundings that is behind it.
fn spent(minutes: f64, tau: f64) -> f64 {
    -(-minutes / tau).exp_m1()
}

/// When a straight line from a reading above the limit to a later one at or below it crosses the limit. On a jar that
/// cools steadily it comes late; on one that was iced late it comes early.
#[must_use]
pub fn linear_crossing(before: (f64, f64), after: (f64, f64), limit: f64) -> Option<f64> {
    let falls = before.0 <= after.0 && before.1 > limit && limit >= after.1;
    let crossing = before.0 + (before.1 - limit) / (before.1 - after.1) * (after.0 - before.0);
    (falls && crossing.is_finite()).then(|| crossing.clamp(before.0, after.0))
}
