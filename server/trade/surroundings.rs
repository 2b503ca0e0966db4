//! Bottles of water and swabs in which something was found, until a later one of the same place is clear.
//!
//! No lot is judged by them, because nobody can say which milk they touched. So they stand on the first page by themselves:
//! water with coliforms in it washes every can, bucket and hand on the farm.

use super::{
    analytes::{Analyte, Unit},
    known::is_clear,
    lab::{Figure, LabResult, Of},
    limits::{Limit, Limits},
    matters::{About, Matter},
    when::{Day, Zone, day_shown},
};
use rust_decimal::Decimal;

/// The lowest figure of the tables by which a lab estimates the most probable number, for water in which it saw nothing: <1,
/// <1.1 or <1.8 per 100 mL (Standard Methods for the Examination of Water and Wastewater, 9221 and 9223).
const NOTHING_SEEN: Decimal = Decimal::TWO;

/// A result of a bottle of water or of a swab.
#[derive(Clone, Debug)]
pub struct Around {
    /// The tap or the surface.
    pub place: String,
    /// What the lab found.
    pub result: LabResult,
    /// The limits of the day it was drawn.
    pub limits: Limits,
}

impl Around {
    /// What it was tested for. Coliforms in a bottle of water are water coliforms, whichever of the two the lab calls them.
    fn analyte(&self) -> Analyte {
        let own = &self.result.analyte;
        if self.result.of == Of::Water && own.name() == "coliforms" { Analyte::parse("water coliforms") } else { own.clone() }
    }

    /// The limits that are about water. Those on what milk may hold say nothing of water or a surface.
    fn own_limits(&self) -> Limits {
        let about_water = |limit: &&Limit| self.result.of == Of::Water && limit.analyte.name() == "water coliforms";
        Limits(self.limits.0.iter().filter(about_water).cloned().collect())
    }

    fn as_told(&self) -> LabResult {
        LabResult { analyte: self.analyte(), ..self.result.clone() }
    }

    /// Whether something was found that should not be there: in water any germ that is looked for, unless a limit on water
    /// allows as much; on a surface whatever the lab calls positive, and any germ that makes ill.
    fn is_wrong(&self) -> bool {
        let told = self.as_told();
        let is_germ = match told.of {
            Of::Water => matches!(told.analyte.name(), "water coliforms" | "E. coli"),
            _ => false,
        };
        let counts = is_germ || told.figure == Figure::Found || told.analyte.is_pathogen();
        counts && told.is_found() && !is_clear(&self.own_limits(), &told)
    }

    /// Whether the lab looked again and nothing stands against it.
    fn clears(&self, found: &Around) -> bool {
        let told = self.as_told();
        let usual = told.unit.or_else(|| told.analyte.usual_unit()).is_none_or(|unit| unit == Unit::Per100Ml);
        let none_seen = matches!(told.figure, Figure::Below(bare) if bare < NOTHING_SEEN) && usual;
        let same = told.of == found.result.of && plain(&self.place) == plain(&found.place) && told.analyte.answers(&found.analyte());
        same && told.drawn > found.result.drawn && (none_seen || is_clear(&self.own_limits(), &told))
    }
}

fn plain(place: &str) -> String {
    place.trim().to_lowercase()
}

/// What was found in water and on surfaces and is not clear again: of each place and test the newest finding.
#[must_use]
pub fn matters(around: &[Around], zone: Zone) -> Vec<Matter> {
    let open = |found: &&Around| found.is_wrong() && !around.iter().any(|later| later.clears(found));
    let same = |one: &Around, two: &Around| {
        one.result.of == two.result.of && plain(&one.place) == plain(&two.place) && one.analyte() == two.analyte()
    };
    let all: Vec<&Around> = around.iter().filter(open).collect();
    let is_newest = |found: &&&Around| !all.iter().any(|other| same(other, found) && other.result.drawn > found.result.drawn);
    let mut lines: Vec<Matter> = all.iter().filter(is_newest).map(|found| line(found, zone)).collect();
    lines.dedup();
    lines
}

fn line(found: &Around, zone: Zone) -> Matter {
    let (result, drawn): (&LabResult, Day) = (&found.result, found.result.day(zone));
    let name = result.analyte.name().trim_start_matches("water ");
    let place = if found.place.trim().is_empty() { String::new() } else { format!("{}. ", found.place.trim()) };
    let about = About::Bottle(result.sample);
    if result.of == Of::Water {
        let next = "Ask the health department whether to boil it or use other water, and have it tested again";
        return Matter::wrong(format!("Water: {name} found in the bottle drawn {}", day_shown(drawn)), format!("{place}{next}"), about);
    }
    let next = "Wash and sanitise it, write the clean break down, and swab it again";
    Matter::wrong(format!("Swab: {name} found, drawn {}", day_shown(drawn)), format!("{place}{next}"), about)
}
