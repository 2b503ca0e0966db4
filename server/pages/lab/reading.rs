//! A result as it is read out: as the lab wrote it, how wide it is, and how it stands against each limit. It owns no door.

use crate::{
    store::lab::{Bottle, Found, RuleSet},
    trade::{
        colonies::{Plates, Read, cell_score},
        known::{has_no_limit, may_never_be, no_limit},
        lab::{Figure, LabResult, Of, Unit},
        limits::{Limit, Limits},
        standing::{self, Compared},
    },
};
use rust_decimal::prelude::ToPrimitive;

/// A result, read out.
pub(super) struct Told {
    pub(super) number: i64,
    /// The result as the lab wrote it, with its unit.
    pub(super) wrote: String,
    /// Which unit of several, by what method.
    pub(super) under: String,
    /// How wide the figure is.
    pub(super) width: String,
    /// The somatic cell score.
    pub(super) score: String,
    /// How it stands: a word, and the sentence.
    pub(super) stands: Vec<(&'static str, String)>,
    /// 3 for what may never be there, 2 for over a limit, 1 for what cannot be told, 0 for the rest.
    pub(super) rank: u8,
}

/// What a bottle was drawn of, in words: `6134A-S`, `Damson`, `water: Barn tap`.
pub(super) fn of_what(bottle: &Bottle) -> String {
    match &bottle.of {
        Of::Water | Of::Swab if !bottle.place.is_empty() => format!("{}: {}", bottle.of, bottle.place),
        of => of.to_string(),
    }
}

/// A result letter by letter as the lab wrote it, with what it is a result of.
pub(super) fn as_written(own: &Found) -> String {
    format!("{} {} {}", own.result.analyte.spoken(), own.wrote, own.unit).trim_end().to_owned()
}

/// Whether something was found that may never be there by any of the sets; without a set nothing allows any of it.
pub(super) fn is_never(result: &LabResult, sets: &[RuleSet]) -> bool {
    sets.iter().any(|set| may_never_be(&set.limits, result)) || (sets.is_empty() && may_never_be(&Limits::default(), result))
}

/// Every limit of some rule sets.
pub(super) fn limits_of(sets: &[RuleSet]) -> Vec<&Limit> {
    sets.iter().flat_map(|set| &set.limits.0).collect()
}

/// The limits of a set that are about a result: those on water for water, and for everything else those on milk.
fn limits_on<'s>(set: &'s RuleSet, result: &LabResult) -> Vec<&'s Limit> {
    let water = matches!(result.of, Of::Water);
    let analyte = if water { result.analyte.clone().in_water() } else { result.analyte.clone() };
    set.limits.of(&analyte).into_iter().filter(|limit| limit.analyte.is_of_water() == water).collect()
}

/// A result, read out against some rule sets.
pub(super) fn read_out(own: &Found, sets: &[RuleSet]) -> Told {
    let result = &own.result;
    let mut stands = Vec::new();
    let mut rank = if is_never(result, sets) { 3 } else { 0 };
    for set in sets {
        for limit in limits_on(set, result) {
            let (word, weighs) = match standing::compare(limit, &result.figure, result.unit) {
                Compared::Within => ("Keeps the limit", 0),
                Compared::Over => ("Over the limit", 2),
                Compared::CantTell(_) => ("Can't tell", 1),
            };
            rank = rank.max(weighs);
            let says = format!("{} By {}.", standing::reason(limit, &result.analyte, &result.figure, result.unit), set.title);
            if !stands.contains(&(word, says.clone())) {
                stands.push((word, says));
            }
        }
    }
    if stands.is_empty()
        && rank == 0
        && sets.iter().any(|set| has_no_limit(&set.limits, result) && matches!(result.of, Of::Lot(_) | Of::Cow(_)))
    {
        rank = 1;
        stands.push(("Can't tell", no_limit(&result.analyte, &result.spoken())));
    }
    let part = result.part.map(|part| format!("unit {part}")).unwrap_or_default();
    let under: Vec<&str> = [part.as_str(), own.method.as_str()].into_iter().filter(|says| !says.is_empty()).collect();
    Told { number: result.number, wrote: as_written(own), under: under.join(", "), width: width(own), score: score(result), stands, rank }
}

/// How wide a count of colonies is: from its plates, or as if one millilitre had been plated where nobody wrote them down.
fn width(own: &Found) -> String {
    if let Some(read) = &own.plates {
        return format!("By its plates or tubes ({read}): {}.", read.spoken());
    }
    let counts_colonies = own.result.analyte.usual_unit() == Some(Unit::PerMl) && own.result.analyte.name() != "somatic cells";
    let Figure::Number(figure) = own.result.figure else { return String::new() };
    let whole = figure.to_u32().filter(|count| *count <= 250 && figure.fract().is_zero());
    match whole.filter(|_| counts_colonies && own.result.unit == Some(Unit::PerMl)) {
        Some(count) => {
            let read = Read::Plates(vec![Plates { counts: vec![count], dilution: 1 }]);
            format!("No plates are written down. As if 1 mL was plated: {}.", read.spoken())
        }
        None => String::new(),
    }
}

/// The somatic cell score, which is one more for every doubling.
fn score(result: &LabResult) -> String {
    let cells = result.figure.bare().and_then(|bare| bare.to_f64()).filter(|cells| *cells > 0.0);
    match cells.filter(|_| result.analyte.name() == "somatic cells" && result.unit == Some(Unit::PerMl)) {
        Some(cells) => format!("Somatic cell score {:.1}", cell_score(cells)),
        None => String::new(),
    }
}
