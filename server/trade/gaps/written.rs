//! Records written long after what they tell of.

use super::super::{
    kinds::kind,
    when::{Day, Moment, Zone, day_shown},
};
use super::{About, Gap, Sort};
use std::collections::BTreeMap;

/// Days after which a record counts as written late: long enough for a paper sheet that is typed in at the week's end. The farm's own
/// choice; no rule known here names a figure.
pub const LATE_DAYS: i64 = 3;

/// A record, by when it happened and when it was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Written {
    /// Its kind.
    pub kind: &'static str,
    /// Its number.
    pub number: i64,
    /// The day it happened.
    pub happened: Day,
    /// When it was written.
    pub written: Moment,
}

impl Written {
    /// Whether that is more than [`LATE_DAYS`] days apart.
    #[must_use]
    pub fn is_late(&self, zone: Zone) -> bool {
        (zone.day(self.written) - self.happened).num_days() > LATE_DAYS
    }
}

/// The records written late, one gap for all of a kind that were written on one day: a sheet typed in is one piece of work.
#[must_use]
pub fn late(records: &[Written], zone: Zone) -> Vec<Gap> {
    let mut sittings: BTreeMap<(&'static str, Day), Vec<&Written>> = BTreeMap::new();
    for own in records.iter().filter(|own| own.is_late(zone)) {
        sittings.entry((own.kind, zone.day(own.written))).or_default().push(own);
    }
    sittings.into_iter().filter_map(|((name, written), own)| sitting(name, written, &own)).collect()
}

fn sitting(name: &'static str, written: Day, own: &[&Written]) -> Option<Gap> {
    let (first, last) = (own.iter().map(|own| own.happened).min()?, own.iter().map(|own| own.happened).max()?);
    let one = kind(name).map_or(name, |kind| kind.one);
    let which = if own.len() == 1 { one.to_owned() } else { format!("{one}: {} records", own.len()) };
    let days = if first == last { format!("of {}", day_shown(first)) } else { format!("of {} to {}", day_shown(first), day_shown(last)) };
    let about = own.first().filter(|_| own.len() == 1).map_or(About::Kind(name), |own| About::Record(name, own.number));
    let says = format!("What was {days} was written on {}, {} days later.", day_shown(written), (written - first).num_days());
    Some(Gap { sort: Sort::Late, which, about, since: first, count: own.len(), says })
}
