//! What a check in ice water says about a thermometer, and so about what it read before and after.
//!
//! Ice melting in water stands at 0 °C (32 °F), so what a thermometer shows there is how far it is off. Between two checks
//! nobody knows when it went off, so the worse of the two counts for every reading in between.

use super::{
    coldness::off_shown,
    measure::{Scale, Temperature},
    when::{Moment, Zone, day_shown},
};
use chrono::Months;

/// The temperature of ice melting in water.
const ICE_WATER: Temperature = Temperature::celsius(0);

/// How far a thermometer may be off and still be good, either way: 2 °F, in the exact unit. Common practice.
const GOOD_TO: i64 = Temperature::fahrenheit(34).exact() - Temperature::fahrenheit(32).exact();

/// A thermometer held in ice water.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct IceCheck {
    /// Its name.
    pub thermometer: String,
    /// When it was held there.
    pub at: Moment,
    /// What it showed.
    pub reading: Temperature,
}

impl IceCheck {
    /// How far it is off in the exact unit of a temperature: above nothing when it shows too much.
    #[must_use]
    pub const fn off(&self) -> i64 {
        self.reading.exact() - ICE_WATER.exact()
    }

    /// Whether it is off by no more than 2 °F.
    #[must_use]
    pub const fn is_good(&self) -> bool {
        self.off().saturating_abs() <= GOOD_TO
    }

    /// The check in one sentence.
    #[must_use]
    pub fn sentence(&self) -> String {
        let (name, reading) = (self.thermometer.trim(), self.reading);
        let off = off_shown(self.off(), reading.scale());
        match self.off() {
            0 => format!("{name} shows {reading} in ice water, as it should."),
            1.. => format!("{name} shows {reading} in ice water: {off} too much."),
            _ => format!("{name} shows {reading} in ice water: {off} too little."),
        }
    }
}

/// What to say beside a thermometer before it is read: its last check was off by more than 2 °F, is over a month old, or is
/// not written down. Nothing of one that was checked lately and showed true.
#[must_use]
pub fn doubt(checks: &[IceCheck], thermometer: &str, now: Moment, zone: Zone) -> Option<String> {
    let name = thermometer.trim();
    let own = checks.iter().filter(|check| check.at <= now && plain(&check.thermometer) == plain(name));
    match own.max_by_key(|check| check.at) {
        _ if name.is_empty() => None,
        None => Some(format!("No check of {name} in ice water is written down.")),
        Some(last) if !last.is_good() => Some(format!("{} What it reads is weak: take another, or check it again first.", last.sentence())),
        Some(last) => {
            let next = zone.day(last.at).checked_add_months(Months::new(1))?;
            (next < zone.day(now)).then(|| {
                format!("{name} was last checked in ice water on {}; every month is common practice.", day_shown(zone.day(last.at)))
            })
        }
    }
}

/// How far a reading may be off, as far as its thermometer was checked.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Guard {
    /// By how much, either way, in the exact unit of a temperature.
    pub by: i64,
    /// Whether a check next to it was off by more than 2 °F, so that the reading is weak evidence.
    pub weak: bool,
    /// Whether that thermometer was never checked, or the reading names none.
    pub never_checked: bool,
}

impl Guard {
    /// What to say beside the reading, in its scale; nothing where the thermometer showed true.
    #[must_use]
    pub fn sentence(&self, scale: Scale) -> Option<String> {
        let off = off_shown(self.by, scale);
        match self {
            Guard { never_checked: true, .. } => Some("No check in ice water is written down for that thermometer.".to_owned()),
            Guard { weak: true, .. } => Some(format!(
                "That thermometer was off by {off} in ice water: what it read between its last good check and the next good one is weak."
            )),
            Guard { by: 0, .. } => None,
            Guard { .. } => Some(format!("That thermometer was off by {off} in ice water.")),
        }
    }
}

/// How far a reading of a thermometer at a moment may be off: the worse of the last check up to it and the first one after it.
/// Names are the same whatever their capitals and the blanks around them. A reading that names no thermometer has no checks.
#[must_use]
pub fn guard(checks: &[IceCheck], thermometer: &str, at: Moment) -> Guard {
    let name = plain(thermometer);
    if name.is_empty() {
        return of_the_worst(checks, at);
    }
    let own = || checks.iter().filter(|check| !name.is_empty() && plain(&check.thermometer) == name);
    let before = own().map(|check| check.at).filter(|checked| *checked <= at).max();
    let after = own().map(|check| check.at).filter(|checked| *checked > at).min();
    // Two checks in the same moment that differ both count.
    let beside = || own().filter(|check| [before, after].contains(&Some(check.at)));
    Guard {
        by: beside().map(|check| check.off().saturating_abs()).max().unwrap_or(0),
        weak: beside().any(|check| !check.is_good()),
        never_checked: beside().next().is_none(),
    }
}

/// A reading of which nobody wrote the thermometer may be of any: it is no better than the worst of them.
fn of_the_worst(checks: &[IceCheck], at: Moment) -> Guard {
    let mut names: Vec<&str> = checks.iter().map(|check| check.thermometer.as_str()).filter(|name| !plain(name).is_empty()).collect();
    names.sort_unstable();
    names.dedup();
    let each = names.into_iter().map(|name| guard(checks, name, at));
    each.max_by_key(|guard| guard.by).unwrap_or(Guard { by: 0, weak: false, never_checked: true })
}

fn plain(name: &str) -> String {
    name.trim().to_lowercase()
}
