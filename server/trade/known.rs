//! What is known from the lab when a lot is judged, and what one result alone says: that something was found which may never
//! be there, that a later bottle is clear of it, or that no limit is known for it.
//!
//! Only what was known at the moment asked about counts, so that a hand-out keyed late is judged as it would have been.

use super::{
    analytes::{Analyte, Unit},
    lab::{Figure, LabResult, Of},
    limits::{Limit, Limits},
    standing::{self, Compared},
    when::{Moment, Zone},
};
use rust_decimal::Decimal;
use std::sync::Arc;

/// A bottle that was drawn of a lot, and what it is to be tested for; nothing named means everything.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Bottle {
    /// Its number.
    pub number: i64,
    /// When it was drawn.
    pub drawn: Moment,
    /// What was asked for.
    pub asked: Vec<Analyte>,
}

/// What is known from the lab when a lot is judged.
#[derive(Clone, Debug, Default)]
pub struct Known {
    /// Results of the lot's own bottles.
    pub own: Vec<LabResult>,
    /// What was found, that may never be there, in other lots with the same milk in them: those of the same milking, those
    /// it was made from and those made from it.
    pub kin: Vec<LabResult>,
    /// Results of the cows whose milk is in it. Lots of the same cows share them.
    pub cows: Arc<Vec<LabResult>>,
    /// When each cow's milk in it was milked.
    pub milked: Vec<(String, Moment)>,
    /// Since when there is milk of the lot: a bottle drawn before is of something else, and speaks for nothing.
    pub since: Option<Moment>,
    /// Results of every lot of the farm in the months before, this one's too; what was made of milk is no sample of it.
    pub farm: Arc<Vec<LabResult>>,
    /// The bottles drawn of this lot.
    pub bottles: Vec<Bottle>,
}

impl Known {
    /// What of it was known at a moment.
    #[must_use]
    pub fn by(&self, zone: Zone, at: Moment) -> Known {
        let then = |all: &[LabResult]| all.iter().filter(|result| result.is_known(zone, at)).cloned().collect::<Vec<_>>();
        let share = |all: &Arc<Vec<LabResult>>| {
            let all_known = all.iter().all(|result| result.is_known(zone, at));
            if all_known { Arc::clone(all) } else { Arc::new(then(all)) }
        };
        Known {
            own: then(&self.own),
            kin: then(&self.kin),
            cows: share(&self.cows),
            milked: self.milked.clone(),
            since: self.since,
            farm: share(&self.farm),
            bottles: self.bottles.iter().filter(|bottle| bottle.drawn <= at).cloned().collect(),
        }
    }

    /// Whether any bottle was drawn of the lot, or anything found in its kin.
    #[must_use]
    pub fn has_bottles(&self) -> bool {
        !(self.own.is_empty() && self.kin.is_empty() && self.bottles.is_empty())
    }

    /// Whether two lots without bottles are of the same milk, so that the same is known of both.
    #[must_use]
    pub fn is_of_the_same_milk(&self, other: &Known) -> bool {
        Arc::ptr_eq(&self.cows, &other.cows)
            && Arc::ptr_eq(&self.farm, &other.farm)
            && self.since == other.since
            && self.milked == other.milked
    }

    /// The bottles that are out, each with what no result of it answers yet.
    #[must_use]
    pub fn out(&self, limits: &Limits) -> Vec<Bottle> {
        let open = |bottle: &Bottle| {
            let own = self.own.iter().filter(|result| result.sample == bottle.number);
            let tested: Vec<&Analyte> = own.map(|result| &result.analyte).collect();
            let asked: Vec<Analyte> = bottle.asked.iter().filter(|asked| !limits.answers(asked, &tested)).cloned().collect();
            let is_out = if bottle.asked.is_empty() { tested.is_empty() } else { !asked.is_empty() };
            is_out.then(|| Bottle { asked, ..bottle.clone() })
        };
        self.bottles.iter().filter_map(open).collect()
    }
}

/// Whether a later bottle of the same thing, drawn by a moment, is clear of what was found.
#[must_use]
pub fn is_cleared(limits: &Limits, found: &LabResult, results: &[LabResult], by: Moment) -> bool {
    let same = |later: &&LabResult| later.of == found.of && later.analyte.answers(&found.analyte);
    let later = |later: &&LabResult| later.drawn > found.drawn && later.drawn <= by;
    results.iter().filter(same).filter(later).any(|result| is_clear(limits, result))
}

/// Whether the lot's own bottles, drawn when its milk was there, were tested for what was found and every one of them is clear. A
/// test for one kind of drug says nothing of the others.
#[must_use]
pub fn is_clear_of_drugs(limits: &Limits, known: &Known, found: &Analyte) -> bool {
    let own = known.own.iter().filter(|result| result.analyte.answers(found));
    let mut drawn_in_time = own.filter(|result| known.since.is_none_or(|since| result.drawn >= since)).peekable();
    drawn_in_time.peek().is_some() && drawn_in_time.all(|result| is_clear(limits, result))
}

/// Whether the lab looked and it keeps what the law allows. “<500” leaves room for some of it, and so clears nothing unless
/// a limit allows as much.
#[must_use]
pub fn is_clear(limits: &Limits, result: &LabResult) -> bool {
    let of = limits.of(&result.analyte);
    let within = |limit: &&Limit| standing::compare(limit, &result.figure, result.unit) == Compared::Within;
    let is_none = matches!(result.figure, Figure::NoneFound) || result.figure == Figure::Number(Decimal::ZERO);
    is_none || (!of.is_empty() && of.iter().all(within))
}

/// Whether something was found that may never be there: a pathogen, a drug, or something nobody here knows. A name slipped in
/// one letter must not let through what the lab called positive.
#[must_use]
pub fn may_never_be(limits: &Limits, result: &LabResult) -> bool {
    if !result.analyte.is_known() && !result.analyte.is_pathogen() {
        return result.figure == Figure::Found && matches!(result.of, Of::Lot(_));
    }
    (result.analyte.is_pathogen() || result.analyte.is_drug()) && result.is_found() && !within_a_count(limits, result)
}

/// Whether the law itself allows so many of a pathogen, as the French rule does of Listeria. Where it names no count, one is
/// too many.
fn within_a_count(limits: &Limits, result: &LabResult) -> bool {
    let counted = |limit: &&Limit| limit.amount.figure().is_some();
    limits
        .of(&result.analyte)
        .into_iter()
        .filter(counted)
        .any(|limit| standing::compare(limit, &result.figure, result.unit) == Compared::Within)
}

/// Whether a figure stands alone: something was found, or may have been, and no limit of the rules is about it. What milk is
/// made of, what is tested of the herd, and a share in percent are no question of limits; nor is one of the usual figures where
/// the rules name limits and none for it, or one so low that the careful starting rules would let it be.
#[must_use]
pub fn has_no_limit(limits: &Limits, result: &LabResult) -> bool {
    let analyte = &result.analyte;
    if !limits.of(analyte).is_empty() || analyte.is_make_up() || analyte.is_of_the_herd() || may_never_be(limits, result) {
        return false;
    }
    // Milk without water in it freezes below about -0.5 °C (common practice).
    let is_cold = matches!(result.figure, Figure::Number(figure) if figure <= Decimal::new(-5, 1));
    let most = analyte.careful_most().filter(|_| result.unit == Some(Unit::PerMl)).map(Decimal::from);
    let is_little = matches!((result.figure, most), (Figure::Number(count) | Figure::Below(count), Some(most)) if count <= most);
    let let_be = if analyte.usual_unit() == Some(Unit::Celsius) { is_cold } else { !limits.0.is_empty() || is_little };
    if analyte.is_usual() && let_be {
        return false;
    }
    let is_share = !analyte.is_known() && result.unit == Some(Unit::Percent);
    let is_none = is_clear(limits, result) || matches!(result.figure, Figure::Below(below) if below <= Decimal::ONE);
    let matters_below = !analyte.is_known() || analyte.is_pathogen() || analyte.is_drug();
    !is_share && !is_none && (!matches!(result.figure, Figure::Below(_)) || matters_below)
}

/// Why a figure without a limit says nothing.
#[must_use]
pub fn no_limit(analyte: &Analyte, says: &str) -> String {
    if analyte.is_known() {
        format!("{says}: the rules name no limit for it, so nobody can say whether that is too much.")
    } else {
        format!("{says}: no test of this name is known here, so nobody can say what it means.")
    }
}
