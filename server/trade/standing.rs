//! How results stand against a limit together: in a row, as a mean of months, and as portions of one lot.
//!
//! Only results of lots of milk are counted, by the day the sample was drawn on the farm's clock. A result that cannot
//! say is never counted as a good one.

pub use super::comparing::{Compared, calls_for, compare, reason};
use super::{
    analytes::Unit,
    capital,
    colonies::geometric_mean,
    comparing::{against, cant_tell, in_law},
    lab::{Figure, LabResult, Of, grouped},
    limits::{Amount, Limit, Pattern},
    when::{Day, Zone},
};
use chrono::{Days, Months};
use rust_decimal::prelude::{FromPrimitive, ToPrimitive};
use rust_decimal::{Decimal, RoundingStrategy};
use std::{
    cmp::Reverse,
    collections::{BTreeMap, BTreeSet, VecDeque},
};

/// Whether a limit counts a result in its row.
fn is_counted(limit: &Limit, result: &LabResult) -> bool {
    matches!(result.of, Of::Lot(_)) && limit.analyte.covers(&result.analyte)
}

/// The results a limit counts in a row, by day, oldest first.
fn by_day<'a>(limit: &Limit, results: &'a [LabResult], zone: Zone) -> BTreeMap<Day, Vec<&'a LabResult>> {
    let mut days: BTreeMap<Day, Vec<&LabResult>> = BTreeMap::new();
    for result in results.iter().filter(|result| is_counted(limit, result)) {
        days.entry(result.day(zone)).or_default().push(result);
    }
    days
}

/// All results of one day against the limit, as one: their average where the law averages, otherwise the worst of them.
#[must_use]
pub fn compare_day(limit: &Limit, results: &[&LabResult]) -> Compared {
    let counted = limit.amount.figure().filter(|(_, law)| law.in_a_millilitre().is_some());
    if let (true, [_, _, ..], Some((_, law))) = (limit.averaged, results, counted) {
        return average(limit, results, law);
    }
    let mut standing = Compared::Within;
    for result in results {
        match (compare(limit, &result.figure, result.unit), &standing) {
            (Compared::Over, _) => return Compared::Over,
            (unclear @ Compared::CantTell(_), Compared::Within) => standing = unclear,
            _ => {}
        }
    }
    standing
}

/// The average of a day, from the least and the most that each of its results can be.
fn average(limit: &Limit, results: &[&LabResult], law: Unit) -> Compared {
    let bounds = results.iter().map(|result| {
        let here = |bare: Decimal| result.unit.and_then(|unit| in_law(bare, unit, law)).filter(|bare| !bare.is_sign_negative());
        match result.figure {
            Figure::Number(bare) => (here(bare).unwrap_or_default(), here(bare)),
            Figure::Below(bare) => (Decimal::ZERO, here(bare)),
            Figure::Above(bare) => (here(bare).unwrap_or_default(), None),
            Figure::NoneFound => (Decimal::ZERO, in_law(Decimal::ONE, result.unit.unwrap_or(law), law)),
            Figure::Found => (Decimal::ZERO, None),
        }
    });
    let many = Decimal::from(results.len());
    let (least, most) = bounds.fold((Decimal::ZERO, Some(Decimal::ZERO)), |(least, most), (low, high)| {
        (least.saturating_add(low), most.zip(high).map(|(most, high)| most.saturating_add(high)))
    });
    let (least, most) = (least / many, most.map(|most| most / many));
    let unsure = results.iter().any(|result| matches!(result.figure, Figure::Below(_) | Figure::NoneFound));
    let at_most = |most| if unsure { Figure::Below(most) } else { Figure::Number(most) };
    if against(&limit.amount, &Figure::Number(least), Some(law)) == Compared::Over {
        Compared::Over
    } else if most.is_some_and(|most| against(&limit.amount, &at_most(most), Some(law)) == Compared::Within) {
        Compared::Within
    } else {
        cant_tell("The average of that day can be more or less than the law allows.")
    }
}

/// Where a row of results stands on the ladder of notice and action.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Rung {
    /// Fewer than two of the last four are over.
    Fine,
    /// Two or more of the last four are over.
    Notice {
        /// How many are over.
        over: usize,
        /// Of how many.
        of: usize,
    },
    /// Three or more of the last five are over.
    Action {
        /// How many are over.
        over: usize,
        /// Of how many.
        of: usize,
    },
}

impl Rung {
    /// The rung as a sentence.
    #[must_use]
    pub fn reason(&self, limit: &Limit) -> String {
        let (name, allowed) = (limit.analyte.spoken(), limit.amount.spoken());
        match self {
            Rung::Fine => format!("{name}: fewer than 2 of the last 4 results are over the limit ({allowed})."),
            Rung::Notice { over, of } => {
                format!(
                    "{name}: {over} of the last {of} results are over the limit ({allowed}). That brings a notice; 3 of 5 stop the milk."
                )
            }
            Rung::Action { over, of } => {
                format!("{name}: {over} of the last {of} results are over the limit ({allowed}). That stops the milk.")
            }
        }
    }
}

/// The rung after each day that has a result, oldest first. Results that cannot say count as neither; see [`unread`].
/// With fewer results than four or five, those there are count (common practice: two of two are two of the last four).
#[must_use]
pub fn ladder(limit: &Limit, results: &[LabResult], zone: Zone) -> Vec<(Day, Rung)> {
    let mut rungs = Vec::new();
    let mut newest_first: VecDeque<bool> = VecDeque::new();
    if limit.pattern != Pattern::Ladder {
        return rungs;
    }
    for (day, results) in by_day(limit, results, zone) {
        let Some(over) = counts_as(limit, &results, None) else { continue };
        newest_first.push_front(over);
        newest_first.truncate(5);
        rungs.extend(rung_of(newest_first.make_contiguous()).map(|rung| (day, rung)));
    }
    rungs
}

/// The last rung of the ladder: where the farm stands.
#[must_use]
pub fn last_rung(limit: &Limit, results: &[LabResult], zone: Zone) -> Option<Rung> {
    newest_rung(limit, results, zone, None)
}

/// The last rung if every result that cannot say were over the limit: what nobody can read must not hold the milk up.
#[must_use]
pub fn last_rung_at_worst(limit: &Limit, results: &[LabResult], zone: Zone) -> Option<Rung> {
    newest_rung(limit, results, zone, Some(true))
}

/// Walks back from the newest day until five have counted: what was found years ago is on no rung any more.
fn newest_rung(limit: &Limit, results: &[LabResult], zone: Zone, unclear: Option<bool>) -> Option<Rung> {
    if limit.pattern != Pattern::Ladder {
        return None;
    }
    let mut counted: Vec<&LabResult> = results.iter().filter(|result| is_counted(limit, result)).collect();
    counted.sort_by_key(|result| Reverse(result.drawn));
    let days = counted.chunk_by(|one, other| one.day(zone) == other.day(zone));
    let newest_first: Vec<bool> = days.filter_map(|results| counts_as(limit, results, unclear)).take(5).collect();
    rung_of(&newest_first)
}

/// Whether the results of a day are over the limit, with what they count as when they cannot say; nothing leaves the day out.
fn counts_as(limit: &Limit, results: &[&LabResult], unclear: Option<bool>) -> Option<bool> {
    match compare_day(limit, results) {
        Compared::Within => Some(false),
        Compared::Over => Some(true),
        Compared::CantTell(_) => unclear,
    }
}

/// The rung of the last five days that counted, the newest first; none when none did.
fn rung_of(newest_first: &[bool]) -> Option<Rung> {
    let last = |many: usize| {
        let of = newest_first.len().min(many);
        (newest_first[..of].iter().filter(|over| **over).count(), of)
    };
    match (last(4), last(5)) {
        (_, (_, 0)) => None,
        (_, (over, of)) if over >= 3 => Some(Rung::Action { over, of }),
        ((over, of), _) if over >= 2 => Some(Rung::Notice { over, of }),
        _ => Some(Rung::Fine),
    }
}

/// The days whose results the ladder could not count, and why.
#[must_use]
pub fn unread(limit: &Limit, results: &[LabResult], zone: Zone) -> Vec<(Day, String)> {
    let unclear = |(day, results): (Day, Vec<&LabResult>)| match compare_day(limit, &results) {
        Compared::CantTell(why) => Some((day, why)),
        Compared::Within | Compared::Over => None,
    };
    by_day(limit, results, zone).into_iter().filter_map(unclear).collect()
}

/// The first and the last day for a fresh sample after a notice.
#[must_use]
pub fn resample_window(notice: Day, not_before: i64, within: i64) -> (Day, Day) {
    let later = |days: i64| u64::try_from(days).ok().and_then(|days| notice.checked_add_days(Days::new(days))).unwrap_or(notice);
    (later(not_before), later(within))
}

/// What a mean of months says of a limit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Mean {
    /// The mean keeps the limit.
    Met(Decimal),
    /// It does not.
    NotMet(Decimal),
    /// One of the months has too few samples to say.
    TooFew {
        /// Which month, counted back from the day asked about: the sentence stays the same from one day to the next.
        month: String,
        /// The samples it has.
        have: usize,
        /// The samples it needs.
        needed: usize,
    },
    /// A result in it cannot be used, or the mean can be on either side.
    CantTell(String),
}

/// A rolling mean, and how exactly it is known.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Rolling {
    /// What it says.
    pub mean: Mean,
    /// `≤ ` where some results were “<”, `≥ ` where some were “>”, `≈ ` where both; otherwise nothing.
    pub mark: &'static str,
    /// Results that went into it.
    pub results: usize,
}

impl Rolling {
    /// The mean as a sentence.
    #[must_use]
    pub fn reason(&self, limit: &Limit) -> String {
        let (name, allowed) = (limit.analyte.spoken(), limit.amount.spoken());
        match &self.mean {
            Mean::Met(mean) | Mean::NotMet(mean) => {
                let unit = limit.amount.figure().map(|(_, unit)| format!(" {unit}")).unwrap_or_default();
                let places = if *mean < Decimal::ONE_HUNDRED { 1 } else { 0 };
                // Rounded towards the side it is on: a mean just over a limit is never shown as the limit itself.
                let towards = if matches!(self.mean, Mean::Met(_)) { RoundingStrategy::ToZero } else { RoundingStrategy::AwayFromZero };
                let shown = grouped(mean.round_dp_with_strategy(places, towards));
                format!("{name}: the geometric mean of {} results is {}{shown}{unit}; the limit is {allowed}.", self.results, self.mark)
            }
            Mean::TooFew { month, have, needed } => {
                format!("{name}: not enough samples to say. {} has {have}, and the law wants {needed} a month.", capital(month))
            }
            Mean::CantTell(why) => format!("{name}: the geometric mean cannot be told. {why}"),
        }
    }
}

/// The geometric mean of the months up to a day, for a limit that is held against one; nothing for any other limit.
///
/// Each month runs from the day it ends backwards, so that all of them are whole. A figure with “<” or “>” goes in bare
/// and the mean is marked; none found goes in as one, because nothing has no logarithm.
#[must_use]
pub fn rolling(limit: &Limit, results: &[LabResult], day: Day, zone: Zone) -> Option<Rolling> {
    let (Pattern::Mean { months, samples_a_month }, Some((_, law))) = (limit.pattern, limit.amount.figure()) else { return None };
    let back = |months: u32| day.checked_sub_months(Months::new(months)).unwrap_or(Day::MIN);
    let window: Vec<(Day, &LabResult)> = by_day(limit, results, zone)
        .into_iter()
        .filter(|(drawn, _)| *drawn > back(months) && *drawn <= day)
        .flat_map(|(drawn, results)| results.into_iter().map(move |result| (drawn, result)))
        .collect();
    let needed = usize::try_from(samples_a_month).unwrap_or(usize::MAX);
    let thin = (0..months).rev().find_map(|month| {
        let (after, until) = (back(month + 1), back(month));
        let inside = window.iter().filter(|(drawn, _)| *drawn > after && *drawn <= until);
        let have = inside.map(|(_, result)| result.sample).collect::<BTreeSet<_>>().len();
        (have < needed).then(|| Mean::TooFew { month: months_back(month), have, needed })
    });
    let any = |wanted: fn(&Figure) -> bool| window.iter().any(|(_, result)| wanted(&result.figure));
    let low = any(|figure| matches!(figure, Figure::Below(_) | Figure::NoneFound) || figure.bare().is_some_and(|bare| bare.is_zero()));
    let high = any(|figure| matches!(figure, Figure::Above(_)));
    let mark = match (low, high) {
        (false, false) => "",
        (true, false) => "≤ ",
        (false, true) => "≥ ",
        (true, true) => "≈ ",
    };
    let mean = thin.unwrap_or_else(|| {
        let Some(counts) = window.iter().map(|(_, result)| for_mean(result, law)).collect::<Option<Vec<f64>>>() else {
            return Mean::CantTell("One of the results is no count in a unit the law knows.".to_owned());
        };
        // The logarithms leave dust behind the twelfth digit: the mean of 100,000 and 100,000 is 100,000.
        let Some(mean) = geometric_mean(&counts).and_then(Decimal::from_f64).and_then(|mean| mean.round_sf(12)) else {
            return Mean::CantTell("One of the results is no count.".to_owned());
        };
        let known = match (low, high) {
            (false, false) => Figure::Number(mean),
            (true, false) => Figure::Below(mean),
            (false, true) => Figure::Above(mean),
            (true, true) => Figure::Found,
        };
        match against(&limit.amount, &known, Some(law)) {
            Compared::Within => Mean::Met(mean.normalize()),
            Compared::Over => Mean::NotMet(mean.normalize()),
            Compared::CantTell(_) => Mean::CantTell(format!(
                "With “<” and “>” taken bare it is {}, which can be on either side of the limit.",
                grouped(mean.round_dp(1))
            )),
        }
    });
    Some(Rolling { mean, mark, results: window.len() })
}

/// Which of the months a mean looks at, as a farmer says it.
fn months_back(month: u32) -> String {
    match month {
        0 => "the last month".to_owned(),
        1 => "the month before the last".to_owned(),
        many => format!("the month {many} months back"),
    }
}

/// A result as it goes into a mean: bare, in the unit of the law; nothing where it cannot.
fn for_mean(result: &LabResult, law: Unit) -> Option<f64> {
    let count = match result.figure {
        Figure::NoneFound => in_law(Decimal::ONE, result.unit.unwrap_or(law), law)?,
        Figure::Number(bare) if bare.is_zero() => in_law(Decimal::ONE, result.unit?, law)?,
        figure => in_law(figure.bare()?, result.unit?, law)?,
    };
    count.to_f64()
}

/// What several portions of one lot say of a limit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Plan {
    /// Enough portions, and none too many near the limit.
    Acceptable,
    /// One over the limit or too many near it, as a sentence.
    Unsatisfactory(String),
    /// Portions are missing.
    TooFew {
        /// The portions there are.
        have: usize,
        /// The portions the law wants.
        needed: usize,
    },
    /// A result in it can be on either side, and why.
    CantTell(String),
}

impl Plan {
    /// The plan as a sentence.
    #[must_use]
    pub fn reason(&self, limit: &Limit) -> String {
        let (name, allowed) = (limit.analyte.spoken(), limit.spoken());
        match self {
            Plan::Acceptable => format!("{name}: the portions keep the limit ({allowed})."),
            Plan::Unsatisfactory(why) | Plan::CantTell(why) => format!("{name}: {why} The limit is {allowed}."),
            Plan::TooFew { have, needed } => format!("{name}: {have} of {needed} portions have a result. Not enough to say."),
        }
    }
}

/// The portions of one lot against a limit that takes several; nothing for any other limit. One over the limit is
/// enough to fail, also before all are there.
#[must_use]
pub fn plan(limit: &Limit, lot: &str, results: &[LabResult]) -> Option<Plan> {
    let Pattern::Plan { units, marginal, above } = limit.pattern else { return None };
    let portions: Vec<&LabResult> = results
        .iter()
        .filter(|result| limit.analyte.covers(&result.analyte) && matches!(&result.of, Of::Lot(code) if code == lot))
        .collect();
    let (needed, allowed) = (usize::try_from(units).unwrap_or(usize::MAX), usize::try_from(marginal).unwrap_or(usize::MAX));
    let whole: Vec<Compared> = portions.iter().map(|result| compare(limit, &result.figure, result.unit)).collect();
    let near: Vec<Compared> = limit.amount.figure().map_or_else(Vec::new, |(_, law)| {
        portions.iter().map(|result| against(&Amount::AtMost(above, law), &result.figure, result.unit)).collect()
    });
    // A portion entered twice is still one portion.
    let have =
        portions.iter().map(|one| one.part.map_or((one.number, None), |part| (one.sample, Some(part)))).collect::<BTreeSet<_>>().len();
    let over = whole.iter().filter(|one| **one == Compared::Over).count();
    let near_it = near.iter().filter(|one| **one == Compared::Over).count();
    let perhaps = near.iter().filter(|one| **one != Compared::Within).count();
    let unclear = whole.iter().chain(&near).find_map(|one| if let Compared::CantTell(why) = one { Some(why.clone()) } else { None });
    let surely = whole.iter().all(|one| *one == Compared::Within) && perhaps <= allowed;
    Some(if over > 0 {
        Plan::Unsatisfactory(format!("{over} of {} portions over the limit.", portions.len()))
    } else if near_it > allowed {
        Plan::Unsatisfactory(format!("{near_it} of {} portions above {}, and {marginal} may be.", portions.len(), grouped(above)))
    } else if have < needed {
        Plan::TooFew { have, needed }
    } else if surely {
        Plan::Acceptable
    } else {
        Plan::CantTell(unclear.unwrap_or_default())
    })
}
