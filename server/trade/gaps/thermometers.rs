//! Thermometers that were read while nobody knew whether they were right.

use super::super::{
    calendar::Thermometer,
    thermometers::{IceCheck, guard},
    when::{Day, Moment, Zone, day_shown},
};
use super::{About, Gap, Sort};

/// One reading, as this looks at it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ReadWith {
    /// The thermometer, as it was written; empty where nobody wrote which.
    pub thermometer: String,
    /// When.
    pub at: Moment,
}

/// What is wrong with a reading's thermometer.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Doubt {
    Unnamed,
    Never,
    /// Last checked on this day, which is more than a month back.
    Since(Day),
    /// A check beside the reading was off by more than a thermometer may be.
    Off,
}

/// The gaps of every thermometer that was read, the readings oldest first. Readings one after another with the same doubt are one gap.
#[must_use]
pub fn thermometers(readings: &[ReadWith], checks: &[IceCheck], zone: Zone) -> Vec<Gap> {
    let plain = |name: &str| name.trim().to_lowercase();
    let mut names: Vec<String> = readings.iter().map(|own| plain(&own.thermometer)).collect();
    names.sort_unstable();
    names.dedup();
    let mut gaps = Vec::new();
    for name in names {
        let mut run: Vec<&ReadWith> = Vec::new();
        let mut doubt: Option<Doubt> = None;
        for reading in readings.iter().filter(|own| plain(&own.thermometer) == name) {
            let own = doubt_of(reading, checks, zone);
            if own != doubt {
                gaps.extend(doubt.as_ref().and_then(|doubt| gap(&run, doubt, zone)));
                run.clear();
                doubt = own;
            }
            run.push(reading);
        }
        gaps.extend(doubt.as_ref().and_then(|doubt| gap(&run, doubt, zone)));
    }
    gaps
}

fn doubt_of(reading: &ReadWith, checks: &[IceCheck], zone: Zone) -> Option<Doubt> {
    let name = reading.thermometer.trim();
    if name.is_empty() {
        return Some(Doubt::Unnamed);
    }
    let own = checks.iter().filter(|check| check.at <= reading.at && check.thermometer.trim().eq_ignore_ascii_case(name));
    let last = own.max_by_key(|check| check.at).cloned();
    let Some(checked) = last.as_ref().map(|check| zone.day(check.at)) else { return Some(Doubt::Never) };
    let thermometer = Thermometer { name: name.to_owned(), last };
    if thermometer.next(zone).is_some_and(|next| next < zone.day(reading.at)) {
        return Some(Doubt::Since(checked));
    }
    guard(checks, name, reading.at).weak.then_some(Doubt::Off)
}

fn gap(run: &[&ReadWith], doubt: &Doubt, zone: Zone) -> Option<Gap> {
    let (first, last) = (run.first()?, run.last()?);
    let (from, to) = (zone.day(first.at), zone.day(last.at));
    let days = if from == to { format!("on {}", day_shown(from)) } else { format!("from {} to {}", day_shown(from), day_shown(to)) };
    let read = format!("{} reading{} {days}", run.len(), if run.len() == 1 { "" } else { "s" });
    let says = match doubt {
        Doubt::Unnamed => format!("{read}: nobody wrote which thermometer."),
        Doubt::Never => format!("{read}, and no check in ice water is written before them."),
        Doubt::Since(checked) => format!("{read}; the last check in ice water before them was on {}.", day_shown(*checked)),
        Doubt::Off => format!("{read} stand beside a check in ice water that was off by more than 2 °F, so they are weak."),
    };
    let name = first.thermometer.trim();
    let which = if name.is_empty() { "no thermometer named".to_owned() } else { name.to_owned() };
    Some(Gap { sort: Sort::Thermometer, which, about: About::Kind("ice_checks"), since: from, count: run.len(), says })
}
