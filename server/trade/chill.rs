//! Whether milk was cold in time, as far as its readings show.
//!
//! A step is met only by a reading at or below its limit at or before its deadline, with no warmer reading after it up to
//! the deadline. It is not met when a reading at or after the deadline is still above the limit. Anything else is not
//! shown. Nothing is worked out between two readings: milk that stood warm first and was chilled later makes such sums
//! come out early. Times are compared to the minute, as they are written down.
//!
//! A thermometer known to be off puts a band around what it showed. A reading whose band holds the limit shows neither: it
//! meets nothing, breaks nothing, and a clear reading before it no longer speaks for the milk up to the deadline.

pub use super::{
    chilled::Chilled,
    coldness::{Finding, MilkingTimes, Outcome, Reading, Standing, Why},
};

use super::{
    measure::Temperature,
    steps::{Clock, Stage, Step},
    when::Moment,
};

/// Colder than this no milk is read that is not frozen hard or read wrongly: it starts to freeze at about 31 °F (common
/// practice), and the margin is for a thermometer a little off.
const FROZEN: i64 = 28;

/// Judges the chilling of a lot by the steps of its place, from the milkings in it and the readings taken of it.
#[must_use]
pub fn judge(steps: &[Step], milkings: &[MilkingTimes], readings: &[Reading], now: Moment) -> Chilled {
    let (record, ignored) = Record::of(steps, milkings, readings, now, None);
    let findings: Vec<Finding> = steps
        .iter()
        // Milk of one milking is blended with nothing.
        .filter(|step| step.stage != Stage::Blend || record.milkings.len() != 1)
        .map(|step| record.find(step))
        .collect();
    // A place whose cooling time is not known can never be shown to be met, however cold the milk was kept.
    let no_time_known = !steps.iter().any(|step| step.stage == Stage::Cool);
    let at_least = if no_time_known { Standing::NotKnown } else { Standing::Met };
    record.chilled(findings, at_least, ignored)
}

/// Judges milk poured over from other lots, whose cooling is behind it: it was cold when it was made, and has to be read at
/// least once and never above the holding limit since. Nothing where the rule names no holding limit and nothing was read.
#[must_use]
pub fn judge_made(steps: &[Step], made: Moment, readings: &[Reading], now: Moment) -> Option<Chilled> {
    let made = MilkingTimes { start: made, end: Some(made) };
    let (record, ignored) = Record::of(steps, &[made], readings, now, Some(to_the_minute(made.start).plus_minutes(-1)));
    let holding = steps.iter().filter(|step| step.stage == Stage::Hold);
    let not_read = |finding: Finding| match finding.outcome {
        Outcome::NotShown { why: Why::NoReading, .. } => Finding::not_shown(&finding.step, Why::NotSince),
        _ => finding,
    };
    let findings: Vec<Finding> = holding.map(|step| not_read(record.find(step))).collect();
    let says_nothing = findings.is_empty() && record.readings.is_empty();
    (!says_nothing).then(|| record.chilled(findings, Standing::Met, ignored))
}

/// One milking as the judge sees it: its times, when the next one goes in, and the readings in between.
struct Batch<'r> {
    start: Moment,
    end: Moment,
    /// The deadline of the coldest step that has one, or when milk already cold was poured over; holding starts there. A step
    /// that lets the milk be warmer for longer gives no leave to warm it again.
    cold_by: Option<Moment>,
    next: Option<Moment>,
    readings: Vec<&'r Reading>,
}

/// The milkings and readings of a lot, in order, to the minute.
struct Record<'s> {
    steps: &'s [Step],
    milkings: Vec<MilkingTimes>,
    readings: Vec<Reading>,
    now: Moment,
    /// Since when the milk has been cold already, where its cooling is behind it.
    cold_since: Option<Moment>,
}

impl<'s> Record<'s> {
    fn of(
        steps: &'s [Step],
        milkings: &[MilkingTimes],
        readings: &[Reading],
        now: Moment,
        cold_since: Option<Moment>,
    ) -> (Record<'s>, Vec<Reading>) {
        let now = to_the_minute(now);
        let mut milkings: Vec<MilkingTimes> = milkings
            .iter()
            .map(|m| MilkingTimes {
                start: to_the_minute(m.start),
                end: m.end.map(to_the_minute).filter(|end| *end >= to_the_minute(m.start)),
            })
            .collect();
        milkings.sort_by_key(|milking| milking.start);
        let first = milkings.first().map(|milking| milking.start);
        // A reading from before the milk was there, or from a time still to come, is of something else.
        let (mut readings, ignored): (Vec<Reading>, Vec<Reading>) = readings
            .iter()
            .map(|reading| Reading { at: to_the_minute(reading.at), ..*reading })
            .partition(|reading| reading.at <= now && first.is_some_and(|first| reading.at >= first));
        // Of two readings in the same minute the warmer counts as the later, and of two alike the less sure one.
        readings.sort_by_key(|reading| (reading.at, reading.temperature, reading.guard));
        (Record { steps, milkings, readings, now, cold_since }, ignored)
    }

    /// The findings with what the readings show besides.
    fn chilled(&self, findings: Vec<Finding>, at_least: Standing, ignored: Vec<Reading>) -> Chilled {
        let freezing = Temperature::celsius(0);
        let warmed = self.warmed_up();
        Chilled {
            overall: findings.iter().map(|finding| finding.outcome.standing()).fold(at_least, Standing::max),
            warmed_up: warmed.map(|(first, _, _)| first),
            warm_last: warmed.map(|(_, last, _)| last),
            warmed_for_sure: warmed.is_some_and(|(_, _, sure)| sure),
            milkings: self.milkings.clone(),
            warm: self.above_the_coldest(),
            below_freezing: self.readings.iter().find(|reading| reading.temperature < freezing).copied(),
            ignored,
            findings,
        }
    }

    fn find(&self, step: &Step) -> Finding {
        let found = match step.stage {
            _ if self.milkings.is_empty() => vec![Finding::not_shown(step, Why::NoMilking)],
            Stage::Cool => self.cooled(step),
            Stage::Blend => self.blended(step),
            Stage::Hold => self.held(step),
        };
        let found = found.into_iter().map(|finding| self.not_under(step, finding));
        // The worst milking speaks for the lot. Among equals the last does, which for milk still cooling is the one to read.
        found.max_by_key(|finding| finding.outcome.standing()).unwrap_or_else(|| Finding::not_shown(step, Why::NoReading))
    }

    /// A reading under the range of the law, or colder than milk can be and still be poured, shows nothing, however cold: it may be
    /// the thermometer, and milk freezes.
    fn not_under(&self, step: &Step, finding: Finding) -> Finding {
        let lowest = step.lowest.unwrap_or_else(|| Temperature::fahrenheit(FROZEN));
        let under = self.readings.iter().find(|reading| reading.temperature < lowest);
        match (under, finding.outcome.standing()) {
            (Some(reading), Standing::Met | Standing::Due) => {
                Finding { outcome: Outcome::NotShown { last_above: None, first_below: None, why: Why::TooCold(*reading) }, ..finding }
            }
            _ => finding,
        }
    }

    fn next_start(&self, nth: usize) -> Option<Moment> {
        self.milkings.get(nth + 1).map(|milking| milking.start)
    }

    /// The milking, or nothing when its end is not written down: then nobody knows when all the milk was in.
    fn batch(&self, nth: usize) -> Option<Batch<'_>> {
        let milking = self.milkings.get(nth)?;
        let (start, end, next) = (milking.start, milking.end?, self.next_start(nth));
        let timed = || self.steps.iter().filter(|step| step.stage == Stage::Cool && step.within_minutes.is_some_and(|minutes| minutes > 0));
        let coldest = timed().map(|step| step.limit).min();
        let deadline = |step: &Step| step.within_minutes.map(|minutes| counted_from(step, start, end).plus_minutes(minutes));
        let cold_by = timed()
            .filter(|step| Some(step.limit) == coldest)
            .filter_map(deadline)
            .min()
            .filter(|_| self.cold_since.is_none())
            .or(self.cold_since);
        let readings = self.readings.iter().filter(|r| r.at >= start && next.is_none_or(|next| r.at < next)).collect();
        Some(Batch { start, end, cold_by, next, readings })
    }

    /// Each milking against its own clock. Where a later one goes in before the time is up, the later one's clock takes over.
    fn cooled(&self, step: &Step) -> Vec<Finding> {
        let Some(minutes) = step.within_minutes else { return vec![Finding::new(step, Outcome::NotKnown)] };
        let first_only = step.clock == Clock::FirstMilkingStart;
        let count = if first_only { 1 } else { self.milkings.len() };
        let judged = (0..count).filter_map(|nth| {
            let Some(batch) = self.batch(nth) else { return Some(Finding::not_shown(step, Why::NoEnd)) };
            let from = counted_from(step, batch.start, batch.end);
            if first_only {
                return Some(self.by_deadline(step, &self.readings.iter().collect::<Vec<_>>(), from, batch.end, minutes));
            }
            let taken_over = batch.next.is_some_and(|next| next <= from.plus_minutes(minutes));
            (!taken_over).then(|| self.by_deadline(step, &batch.readings, from, batch.end, minutes))
        });
        judged.collect()
    }

    fn by_deadline(&self, step: &Step, readings: &[&Reading], from: Moment, end: Moment, minutes: i64) -> Finding {
        // “Immediately” has no minutes, so nobody can say that it was too late: only a reading already cold as milking ended
        // shows it (common practice; a cooler in the milk line does that), and everything later is not shown.
        let at_once = minutes == 0;
        let by = if at_once { end } else { from.plus_minutes(minutes) };
        let in_time: Vec<&Reading> = readings.iter().copied().take_while(|reading| reading.at <= by).collect();
        let last_unclear = in_time.iter().rposition(|reading| !reading.shows_kept(step.limit));
        let last_above = in_time.iter().rfind(|reading| reading.shows_broken(step.limit)).map(|reading| **reading);
        // While milking goes on warm milk is still coming, so a reading from then cannot show that all of it was cold.
        let counts = |reading: &&&Reading| at_once || reading.at >= end;
        let showing = in_time.iter().skip(last_unclear.map_or(0, |place| place + 1)).find(counts);
        let rewarmed = |until: Moment| self.milkings.iter().any(|milking| milking.start > by && milking.start <= until);
        // Only the first reading after the time speaks about it: a warmer one after that may be milk that warmed again. So may
        // the first, where a reading in time was cold though its thermometer is not to be trusted.
        let last_warm = in_time.iter().rposition(|reading| reading.temperature > step.limit);
        let perhaps_cold = in_time.iter().skip(last_warm.map_or(0, |place| place + 1)).any(|reading| counts(&reading));
        let late = readings.iter().find(|reading| reading.at >= by);
        let late = late.filter(|reading| !at_once && !perhaps_cold && !rewarmed(reading.at));
        let outcome = if let Some(reading) = showing {
            Outcome::Met { at: reading.at }
        } else if let Some(warm) = late.filter(|reading| reading.shows_broken(step.limit)) {
            Outcome::NotMet { at: warm.at, temperature: warm.temperature }
        } else if self.now <= by {
            Outcome::Due { by }
        } else {
            let first_below = readings.iter().filter(|reading| reading.at > by).find(|reading| reading.shows_kept(step.limit));
            let unsure = last_unclear.and_then(|place| in_time.get(place)).filter(counts);
            let unsure = unsure.filter(|reading| reading.is_doubtful(step.limit));
            let unsure = unsure.or_else(|| late.filter(|reading| reading.is_doubtful(step.limit) && reading.temperature > step.limit));
            let why = match (unsure, first_below) {
                (Some(reading), _) => Why::Doubtful(**reading),
                (None, _) if at_once => Why::AtOnce,
                (None, Some(_)) => Why::TooLate,
                (None, None) => Why::NoReading,
            };
            Outcome::NotShown { last_above, first_below: first_below.map(|reading| **reading), why }
        };
        Finding { step: *step, outcome, from: Some(from), by: Some(by), last_above }
    }

    /// The warmest reading after each later milking went in. One taken once all of it is in must be there to show anything.
    fn blended(&self, step: &Step) -> Vec<Finding> {
        let later = (1..self.milkings.len()).map(|nth| {
            let Some(batch) = self.batch(nth) else { return Finding::not_shown(step, Why::NoEnd) };
            let blending: Vec<&Reading> =
                batch.readings.iter().copied().filter(|reading| batch.cold_by.is_none_or(|by| reading.at <= by)).collect();
            let warmest = |judge: fn(&Reading, Temperature) -> bool| {
                blending.iter().copied().filter(|reading| judge(reading, step.limit)).max_by_key(|reading| reading.temperature)
            };
            let all_in = blending.iter().find(|reading| reading.at >= batch.end);
            let outcome = match (warmest(Reading::shows_broken), warmest(Reading::is_doubtful), all_in, batch.cold_by) {
                (Some(peak), _, _, _) => Outcome::NotMet { at: peak.at, temperature: peak.temperature },
                // How warm it was then is over, and no later reading can say.
                (None, Some(unsure), _, _) => Outcome::doubtful(*unsure),
                (None, None, Some(reading), _) => Outcome::Met { at: reading.at },
                (None, None, None, Some(by)) if self.now <= by => Outcome::Due { by },
                (None, None, None, _) => Outcome::NotShown { last_above: None, first_below: None, why: Why::NoReading },
            };
            Finding { step: *step, outcome, from: Some(batch.end), by: batch.cold_by, last_above: None }
        });
        later.collect()
    }

    /// From the last deadline on (or, where none is known, from the first cold reading on) no reading may be above the limit.
    fn held(&self, step: &Step) -> Vec<Finding> {
        let judged = (0..self.milkings.len()).filter_map(|nth| {
            let Some(batch) = self.batch(nth) else { return Some(Finding::not_shown(step, Why::NoEnd)) };
            if batch.next.zip(batch.cold_by).is_some_and(|(next, by)| next <= by) {
                return None;
            }
            let last_unclear = batch.readings.iter().rposition(|reading| !reading.shows_kept(step.limit));
            let since = batch.readings.iter().skip(last_unclear.map_or(0, |place| place + 1)).find(|reading| reading.at >= batch.end);
            let (breach, unsure) = match batch.cold_by {
                Some(by) => {
                    let after = || batch.readings.iter().copied().filter(|reading| reading.at > by);
                    let breach = after().find(|reading| reading.shows_broken(step.limit));
                    (breach, after().find(|reading| reading.is_doubtful(step.limit)))
                }
                None => (batch.warming(step.limit), batch.perhaps_warming(step.limit)),
            };
            let outcome = match (breach, unsure, since, batch.cold_by) {
                (Some(warm), _, _, _) => Outcome::NotMet { at: warm.at, temperature: warm.temperature },
                (None, Some(unsure), _, _) => Outcome::doubtful(*unsure),
                (None, None, Some(reading), _) => Outcome::Met { at: reading.at },
                (None, None, None, Some(by)) if self.now <= by => Outcome::Due { by },
                (None, None, None, _) => match batch.readings.last().filter(|last| last.at >= batch.end && last.is_doubtful(step.limit)) {
                    Some(unsure) => Outcome::doubtful(**unsure),
                    None => Outcome::NotShown { last_above: None, first_below: None, why: Why::NoReading },
                },
            };
            Some(Finding { step: *step, outcome, from: Some(batch.end), by: batch.cold_by, last_above: None })
        });
        judged.collect()
    }

    /// Readings above a step's limit after that step's own time was up, and before the colder step's: milk that was cold in time and
    /// then was not.
    fn warm_between_deadlines(&self) -> Option<(Reading, Reading)> {
        let mut warm: Vec<Reading> = Vec::new();
        let batches = (0..self.milkings.len()).filter_map(|nth| Some((nth, self.batch(nth)?)));
        for (nth, batch) in batches.filter(|_| self.cold_since.is_none()) {
            let own = |step: &&Step| step.stage == Stage::Cool && (nth == 0 || step.clock != Clock::FirstMilkingStart);
            for step in self.steps.iter().filter(own) {
                let Some(by) = step
                    .within_minutes
                    .filter(|minutes| *minutes > 0)
                    .map(|minutes| counted_from(step, batch.start, batch.end).plus_minutes(minutes))
                else {
                    continue;
                };
                let between = |reading: &&&Reading| reading.at > by && batch.cold_by.is_some_and(|cold_by| reading.at <= cold_by);
                warm.extend(
                    batch.readings.iter().filter(between).filter(|reading| reading.shows_broken(step.limit)).map(|reading| **reading),
                );
            }
        }
        warm.sort_by_key(|reading| reading.at);
        warm.first().copied().zip(warm.last().copied())
    }

    /// Every reading that does not show the milk at the coldest limit of any step.
    fn above_the_coldest(&self) -> Vec<Reading> {
        let coldest = self.steps.iter().map(|step| step.limit).min();
        let above = |reading: &&Reading| coldest.is_none_or(|limit| !reading.shows_kept(limit));
        self.readings.iter().filter(above).copied().collect()
    }

    /// Milk that was cold and is read warm again. Where no holding limit is known, the coldest cooling limit stands in for it:
    /// that the milk warmed is a fact, whether or not a known rule forbids it. Readings that show it come before readings that
    /// only look so: a bad thermometer must not make the milk look better kept.
    fn warmed_up(&self) -> Option<(Reading, Reading, bool)> {
        let coldest = |stage: Stage| self.steps.iter().filter(|step| step.stage == stage).map(|step| step.limit).min();
        let limit = coldest(Stage::Hold).or_else(|| coldest(Stage::Cool))?;
        let poured_cold = self.cold_since.is_some();
        let find = |cold: &dyn Fn(&Reading) -> bool, warm: &dyn Fn(&Reading) -> bool| {
            let batches = (0..self.milkings.len()).filter_map(|nth| self.batch(nth));
            let warm: Vec<Reading> = batches
                .flat_map(|batch| batch.once(|own| poured_cold || cold(own)).filter(|own| warm(own)).copied().collect::<Vec<_>>())
                .collect();
            warm.first().copied().zip(warm.last().copied())
        };
        if let Some((first, last)) = self.warm_between_deadlines() {
            return Some((first, last, true));
        }
        let sure = find(&|own| own.shows_kept(limit), &|own| own.shows_broken(limit));
        let seeming = || find(&|own| own.temperature <= limit, &|own| own.temperature > limit);
        sure.map(|(first, last)| (first, last, true)).or_else(|| seeming().map(|(first, last)| (first, last, false)))
    }
}

impl<'r> Batch<'r> {
    /// The readings once time is up that follow a cold one.
    fn once(&self, cold: impl Fn(&Reading) -> bool) -> impl Iterator<Item = &'r Reading> {
        let all_in = self.readings.iter().copied().skip_while(move |reading| reading.at < self.end || !cold(reading));
        all_in.skip_while(|reading| self.cold_by.is_some_and(|by| reading.at <= by))
    }

    /// The first of them that shows the milk above the limit, after one that shows it at or below.
    fn warming(&self, limit: Temperature) -> Option<&'r Reading> {
        self.once(|reading| reading.shows_kept(limit)).find(|reading| reading.shows_broken(limit))
    }

    /// The first reading that leaves it open whether cold milk warmed: it, or one after it, is not shown to be at or below the
    /// limit although the milk may have been so before.
    fn perhaps_warming(&self, limit: Temperature) -> Option<&'r Reading> {
        let all_in = self.readings.iter().copied().skip_while(|reading| reading.at < self.end || reading.shows_broken(limit));
        let stayed = all_in.clone().skip(1).all(|reading| reading.shows_kept(limit));
        all_in.filter(|_| !stayed).find(|reading| reading.is_doubtful(limit))
    }
}

/// The moment a step's clock starts for a milking. The first milk is drawn as milking starts, and it has waited longest.
fn counted_from(step: &Step, start: Moment, end: Moment) -> Moment {
    match step.clock {
        Clock::MilkingEnd => end,
        Clock::MilkingStart | Clock::FirstMilkingStart | Clock::Drawn | Clock::EachLaterMilking | Clock::UntilHandedOut => start,
    }
}

fn to_the_minute(moment: Moment) -> Moment {
    Moment::seconds(moment.in_seconds() - moment.in_seconds().rem_euclid(60))
}
