//! How a lot cooled, as a picture and in figures: its readings as points, the limits as lines, and between the readings an
//! estimate that decides nothing.
//!
//! Two estimates stand side by side because they fail in different ways: a straight line comes late on a jar that cooled
//! steadily, and early on one that stood warm and was iced late. Whoever sees both sees how little either is worth.

use super::{
    chill::{Chilled, Finding, MilkingTimes, Reading},
    coldness::off_shown,
    cooling,
    measure::Temperature,
    plot::{Field, LONGEST},
    steps::Stage,
    verdict::{self, Facts, Verdict},
    when::{Moment, Zone, span_shown},
};
use rust_decimal::{
    Decimal,
    prelude::{FromPrimitive, ToPrimitive},
};

/// A rise of more than 2 °F, in the exact unit, is milk that warmed and no unsteady hand.
const RISE: i64 = 1_000;
/// How far apart the points of the drawn curve stand, in minutes.
const EVERY: i64 = 5;

/// A reading as a point.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Dot {
    /// From the left.
    pub x: i64,
    /// From the top.
    pub y: i64,
    /// What it says to somebody who cannot see it.
    pub says: String,
}

/// A limit as a line, with its deadline.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LimitLine {
    /// From the top.
    pub y: i64,
    /// Where its deadline stands, from the left, and when it is.
    pub by: Option<(i64, String)>,
    /// Where its words stand, from the top, so that two deadlines near each other can both be read.
    pub words: i64,
    /// The limit.
    pub says: String,
}

/// When a limit may have been reached. It decides nothing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Estimate {
    /// The limit.
    pub limit: Temperature,
    /// By a straight line between the two readings beside it.
    pub straight: Option<Moment>,
    /// By a curve through all of them.
    pub curved: Option<Moment>,
}

/// A line of the table beside the picture.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Row {
    /// When.
    pub at: Moment,
    /// How long after milking ended.
    pub after: String,
    /// What the jar showed, or about what limit the estimate is.
    pub jar: String,
    /// What there is to say about it; an estimate says so here.
    pub remark: String,
    /// Whether it is an estimate and no reading.
    pub estimate: bool,
}

/// The picture.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Picture {
    /// The milking it is of.
    pub session: String,
    /// The readings.
    pub dots: Vec<Dot>,
    /// The straight line through them.
    pub line: String,
    /// The curve through them; empty where there is none.
    pub bend: String,
    /// Why there is no curve; empty where there is one.
    pub no_bend: String,
    /// The limits.
    pub limits: Vec<LimitLine>,
    /// The hours along the bottom.
    pub hours: Vec<(i64, String)>,
    /// The degrees along the side.
    pub degrees: Vec<(i64, String)>,
    /// What the lines between the readings would say.
    pub estimates: Vec<Estimate>,
    zone: Option<Zone>,
}

impl Estimate {
    /// The estimate in one sentence, which says that it is one.
    #[must_use]
    pub fn says(&self, zone: Zone) -> String {
        let limit = self.limit;
        match (self.straight.map(|at| zone.clock(at)), self.curved.map(|at| zone.clock(at))) {
            (Some(straight), Some(curved)) => {
                format!("{limit} at about {straight} by a straight line, {curved} by a curve: estimates. They decide nothing.")
            }
            (Some(straight), None) => format!("{limit} at about {straight} by a straight line: an estimate. It decides nothing."),
            (None, Some(curved)) => format!("{limit} at about {curved} by a curve: an estimate. It decides nothing."),
            (None, None) => format!("Nothing can be estimated about {limit}."),
        }
    }
}

impl Picture {
    /// What the picture shows, for its caption and for somebody who cannot see it.
    #[must_use]
    pub fn caption(&self) -> String {
        let limits: Vec<String> = self
            .limits
            .iter()
            .map(|own| own.by.as_ref().map_or_else(|| own.says.clone(), |(_, by)| format!("{} by {by}", own.says)))
            .collect();
        let limits = if limits.is_empty() { String::new() } else { format!(" Dotted: {}.", limits.join(", ")) };
        let bend =
            if self.bend.is_empty() { "" } else { " Dashed: a cooling curve through the readings, also an estimate; it decides nothing." };
        format!(
            "Points are readings of the jar after the milking of {}.{limits} The thin line only joins the points: an estimate; it decides nothing.{bend}",
            self.session
        )
    }

    /// The estimates worth saying.
    #[must_use]
    pub fn estimated(&self) -> Vec<String> {
        let zone = self.zone.unwrap_or(Zone::UTC);
        let own = self.estimates.iter().filter(|own| own.straight.is_some() || own.curved.is_some());
        own.map(|own| own.says(zone)).collect()
    }
}

/// The findings of the chill part, whatever the owner decided about it.
#[must_use]
pub fn chilled(verdict: &Verdict) -> Option<&Chilled> {
    fn of(finding: &verdict::Finding) -> Option<&Chilled> {
        match finding {
            verdict::Finding::Chill(chilled) => Some(chilled),
            verdict::Finding::Decided { found, .. } => of(found),
            _ => None,
        }
    }
    verdict.findings.iter().find_map(of)
}

/// The milking a picture is of, and the readings between it and the next.
struct Run<'f> {
    session: &'f str,
    times: MilkingTimes,
    until: Moment,
    readings: Vec<Reading>,
    steps: Vec<&'f Finding>,
}

impl<'f> Run<'f> {
    /// The milking whose cooling decides, and otherwise the last with a reading.
    fn of(facts: &'f Facts, chilled: &'f Chilled) -> Option<Run<'f>> {
        let mut milkings: Vec<&verdict::Milking> = facts.milkings.iter().map(AsRef::as_ref).collect();
        milkings.sort_by_key(|own| own.times.start);
        let timed = || chilled.findings.iter().filter(|own| own.step.stage == Stage::Cool && own.from.is_some());
        let worst = timed().max_by_key(|own| (own.outcome.standing(), std::cmp::Reverse(own.step.limit)));
        let until_of = |nth: usize| milkings.get(nth + 1).map(|next| next.times.start);
        let all: Vec<Reading> = {
            let mut all = facts.readings.clone();
            all.sort_by_key(|own| own.at);
            all
        };
        let within = |nth: usize| -> Vec<Reading> {
            let Some(own) = milkings.get(nth) else { return Vec::new() };
            let until = own.times.start.plus_minutes(LONGEST).min(until_of(nth).unwrap_or(Moment::seconds(i64::MAX)));
            all.iter().copied().filter(|reading| reading.at >= own.times.start && reading.at <= until).collect()
        };
        let decides =
            worst.and_then(|own| own.from).and_then(|from| milkings.iter().rposition(|own| own.times.start <= from.plus_minutes(1)));
        let nth = decides.or_else(|| (0..milkings.len()).rev().find(|nth| !within(*nth).is_empty()))?;
        let milking = milkings.get(nth)?;
        let until = until_of(nth).unwrap_or(Moment::seconds(i64::MAX));
        let about = |own: &&Finding| own.from.is_some_and(|from| from.plus_minutes(1) >= milking.times.start && from < until);
        let readings = within(nth);
        (!readings.is_empty()).then(|| Run {
            session: &milking.session,
            times: milking.times,
            until,
            readings,
            steps: timed().filter(about).collect(),
        })
    }

    /// The readings from the end of milking down to the first coldest: milk that only cools.
    fn falling(&self) -> Vec<Reading> {
        let from = self.times.end.unwrap_or(self.times.start);
        let all: Vec<Reading> = self.readings.iter().copied().filter(|own| own.at >= from && own.at < self.until).collect();
        let coldest = all.iter().map(|own| own.temperature).min();
        let last = all.iter().position(|own| Some(own.temperature) == coldest).map_or(0, |place| place + 1);
        all.into_iter().take(last).collect()
    }

    fn field(&self) -> Field {
        let ends = self.readings.iter().map(|own| own.at).chain(self.steps.iter().filter_map(|own| own.by));
        let readings: Vec<Temperature> = self.readings.iter().map(|own| own.temperature).collect();
        let limits: Vec<Temperature> = self.steps.iter().map(|own| own.step.limit).collect();
        Field::of(self.times.start, ends, &readings, &limits)
    }

    /// Minutes and exact degrees, as the curve takes them.
    fn figures(&self, readings: &[Reading]) -> Vec<(f64, f64)> {
        let pair = |own: &Reading| Some((figure(own.at.minutes_since(self.times.start))?, figure(own.temperature.exact())?));
        readings.iter().filter_map(pair).collect()
    }
}

/// The picture of a lot's cooling, where there is a reading to draw.
#[must_use]
pub fn picture(facts: &Facts, chilled: &Chilled) -> Option<Picture> {
    let run = Run::of(facts, chilled)?;
    let zone = facts.zone;
    let field = run.field();
    let falling = run.falling();
    let figures = run.figures(&falling);
    let rises = falling.windows(2).any(|pair| matches!(pair, [one, two] if two.temperature.exact() > one.temperature.exact() + RISE));
    let fitted = if rises { None } else { Some(cooling::fit(&figures)) };
    let no_bend = match &fitted {
        None => "The milk warmed between two readings, so no curve is drawn.".to_owned(),
        Some(Err(why)) => why.to_string(),
        Some(Ok(_)) => String::new(),
    };
    let fit = fitted.and_then(Result::ok);
    let dots: Vec<Dot> = run
        .readings
        .iter()
        .map(|own| Dot {
            x: field.across(own.at),
            y: field.up(own.temperature.exact()),
            says: format!("{} at {}", own.temperature, zone.clock(own.at)),
        })
        .collect();
    Some(Picture {
        session: run.session.to_owned(),
        line: path(dots.iter().map(|dot| (dot.x, dot.y))),
        dots,
        bend: fit.map(|fit| bend(&run, &field, &falling, &fit)).unwrap_or_default(),
        no_bend,
        limits: limits(&run, &field, zone),
        hours: field.hours(),
        degrees: field.degrees(),
        estimates: estimates(&run, &falling, fit.as_ref()),
        zone: Some(zone),
    })
}

/// Every reading of a lot, with the estimates of its picture in their place among them and marked.
#[must_use]
pub fn rows(facts: &Facts, picture: Option<&Picture>) -> Vec<Row> {
    let after = |at: Moment| {
        // What was made of other lots has no milking of its own; its time runs from when it was made.
        let made = Some(facts.filled).filter(|_| facts.milkings.is_empty() && !facts.parents.is_empty());
        let ended = facts.milkings.iter().filter_map(|own| own.times.end).chain(made).filter(|end| *end <= at).max();
        match ended {
            Some(made) if facts.milkings.is_empty() => format!("{} after it was made", span_shown(at.minutes_since(made))),
            Some(end) => span_shown(at.minutes_since(end)),
            None => "before an end is written down".to_owned(),
        }
    };
    let mut rows: Vec<Row> = facts
        .readings
        .iter()
        .map(|own| Row { at: own.at, after: after(own.at), jar: own.temperature.to_string(), remark: off(own), estimate: false })
        .collect();
    for own in picture.map_or(&[][..], |picture| &picture.estimates) {
        for (at, by) in [(own.straight, "a straight line"), (own.curved, "a curve")] {
            let remark = format!("estimate by {by}; decides nothing");
            rows.extend(at.map(|at| Row { at, after: after(at), jar: format!("about {}", own.limit), remark, estimate: true }));
        }
    }
    rows.sort_by_key(|row| (row.at, row.estimate));
    rows
}

/// How far its thermometer is known to be off; empty when nothing is known.
fn off(reading: &Reading) -> String {
    if reading.guard <= 0 {
        String::new()
    } else {
        format!("its thermometer was off by {}", off_shown(reading.guard, reading.temperature.scale()))
    }
}

fn bend(run: &Run<'_>, field: &Field, falling: &[Reading], fit: &cooling::Fit) -> String {
    let (Some(first), Some(last)) = (falling.first(), falling.last()) else { return String::new() };
    let steps = last.at.minutes_since(first.at) / EVERY;
    let times = (0..=steps).map(|nth| first.at.plus_minutes(nth * EVERY)).chain([last.at]);
    path(times.filter_map(|at| {
        let exact = whole(fit.at(figure(at.minutes_since(run.times.start))?))?;
        Some((field.across(at), field.up(exact)))
    }))
}

fn limits(run: &Run<'_>, field: &Field, zone: Zone) -> Vec<LimitLine> {
    let mut lines: Vec<LimitLine> = run
        .steps
        .iter()
        .map(|own| LimitLine {
            y: field.up(own.step.limit.exact()),
            by: own.by.filter(|by| *by > run.times.start).map(|by| (field.across(by), zone.clock(by))),
            says: own.step.limit.to_string(),
            words: 0,
        })
        .collect();
    lines.dedup();
    for (line, words) in lines.iter_mut().zip([34, 16].into_iter().cycle()) {
        line.words = words;
    }
    lines
}

/// What a straight line and a curve would say of each limit; never beyond the readings.
fn estimates(run: &Run<'_>, falling: &[Reading], fit: Option<&cooling::Fit>) -> Vec<Estimate> {
    let mut limits: Vec<Temperature> = run.steps.iter().map(|own| own.step.limit).collect();
    limits.sort_unstable();
    limits.dedup();
    let (first, last) = (falling.first().map(|own| own.at), falling.last().map(|own| own.at));
    let moment = |minutes: f64| whole(minutes).map(|minutes| run.times.start.plus_minutes(minutes));
    let figures = run.figures(falling);
    let estimate = |limit: Temperature| {
        let exact = figure(limit.exact());
        let crossing = figures.windows(2).find_map(|pair| match pair {
            [before, after] => cooling::linear_crossing(*before, *after, exact?),
            _ => None,
        });
        let straight = crossing.and_then(moment);
        // A curve may be drawn on for ever; only where readings stand on both sides is it worth a word.
        let curved = straight.and(fit).zip(exact).and_then(|(fit, exact)| fit.reaches(exact)).and_then(moment);
        let between = |at: &Moment| first.is_some_and(|first| *at >= first) && last.is_some_and(|last| *at <= last);
        Estimate { limit, straight, curved: curved.filter(between) }
    };
    limits.into_iter().map(estimate).collect()
}

fn path(points: impl Iterator<Item = (i64, i64)>) -> String {
    let said = points.enumerate().map(|(nth, (x, y))| format!("{}{x} {y}", if nth == 0 { "M" } else { "L" }));
    said.collect::<Vec<_>>().join(" ")
}

/// A whole figure as the curve takes it; nothing for one no reading can have.
fn figure(whole: i64) -> Option<f64> {
    i32::try_from(whole).ok().map(f64::from)
}

fn whole(figure: f64) -> Option<i64> {
    Decimal::from_f64(figure)?.round().to_i64()
}
