//! Treatments whose time for the milk nobody can tell.

use super::super::{
    clocks::{Dose, Withheld, withdrawal},
    wear::Span,
    when::{Moment, Zone, day_shown},
};
use super::{About, Gap, Sort};

/// One cow's treatments, and what her clocks count from.
#[derive(Clone, Debug, Default)]
pub struct CowsDoses {
    /// Her name.
    pub cow: String,
    /// Her doses, oldest first, each with its record's number.
    pub doses: Vec<(i64, Dose)>,
    /// When she calved.
    pub calvings: Vec<Moment>,
    /// Every milking of hers, oldest first, and where the milk went.
    pub milked: Vec<(Moment, String)>,
}

impl CowsDoses {
    /// What her clocks say at a moment of these doses alone.
    #[must_use]
    pub fn withheld(&self, doses: &[(i64, Dose)], at: Moment) -> Withheld {
        let doses: Vec<Dose> = doses.iter().map(|(_, dose)| dose.clone()).collect();
        let milked: Vec<Moment> = self.milked.iter().map(|(at, _)| *at).collect();
        withdrawal(&doses, &self.calvings, &milked, at)
    }
}

/// The treatments of a span after which nobody can say how long milk stays out. A course is one gap, at its last such dose: what is
/// written with that one answers for those before it.
#[must_use]
pub fn untimed(cows: &[CowsDoses], span: Span, zone: Zone, now: Moment) -> Vec<Gap> {
    let mut gaps = Vec::new();
    for cow in cows {
        let known: Vec<(i64, Dose)> = cow.doses.iter().filter(|(_, dose)| dose.at <= now).cloned().collect();
        for (nth, (number, dose)) in known.iter().enumerate() {
            let day = zone.day(dose.at);
            let Withheld::NotKnown(why) = cow.withheld(&known[nth..], now) else { continue };
            let later = matches!(cow.withheld(&known[nth + 1..], now), Withheld::NotKnown(_));
            if later || day < span.from || day > span.to {
                continue;
            }
            gaps.push(Gap {
                sort: Sort::Untimed,
                which: format!("{}, {}", cow.cow, dose.product.trim()),
                about: About::Record("treatments", *number),
                since: day,
                count: 1,
                says: format!("Given {}. {why}", day_shown(day)),
            });
        }
    }
    gaps
}
