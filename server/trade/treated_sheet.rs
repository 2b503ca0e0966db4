//! Milk of a treated cow that went into the can, on one sheet: what was held, how it came about, and what was thrown out.
//!
//! Mixing never dilutes it into safety: one cow's milk holds the whole vessel, and every lot filled from it since its last clean
//! break (common practice; it follows from 21 CFR 1.345(b), which asks to tie each source to each lot).

use super::{
    figures::{Cell, Holds, Part, Sheet, Table},
    loss::Loss,
    recipients::or,
    when::{Moment, Zone},
};

/// What a helper or the owner answers about it, in the order asked.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Story {
    /// Which dose.
    pub dose: String,
    /// Who milked.
    pub milked_by: String,
    /// What became of her leg band.
    pub band: String,
    /// How it came about.
    pub cause: String,
    /// What was put right.
    pub fix: String,
}

/// What stands between what was held at once and what was answered afterwards.
const DOSE: &str = " Dose: ";

impl Story {
    /// The reason on the hold of the cow: what stood there at once, and the answers.
    #[must_use]
    pub fn of_cow(&self, reason: &str) -> String {
        let base = reason.split_once(DOSE).map_or(reason, |(base, _)| base);
        let said = |words: &str| or(words, "not known").trim_end_matches('.').to_owned();
        format!("{base}{DOSE}{}. Milked by: {}. Leg band: {}.", said(&self.dose), said(&self.milked_by), said(&self.band))
    }

    /// The reason on the hold of a vessel: what stood there at once, how it came about, and what was put right.
    #[must_use]
    pub fn of_vessel(&self, reason: &str) -> String {
        let base = reason.split_once(" Cause: ").map_or(reason, |(base, _)| base);
        let said = |words: &str| or(words, "not known yet").trim_end_matches('.').to_owned();
        format!("{base} Cause: {}. Put right: {}.", said(&self.cause), said(&self.fix))
    }
}

/// All that is known of it.
#[derive(Clone, Debug)]
pub struct TreatedSheet {
    /// The number of the hold on the cow.
    pub number: i64,
    /// The farm's name.
    pub farm: String,
    /// The cow.
    pub cow: String,
    /// Since when she, the vessels and the lots are held.
    pub at: Moment,
    /// By whom.
    pub who: String,
    /// What happened.
    pub happened: String,
    /// Each vessel, with how it came about and what was put right.
    pub vessels: Vec<(String, String)>,
    /// The doses written down of her: when, what, and its times.
    pub doses: Vec<(Moment, String, String)>,
    /// What is lost.
    pub loss: Loss,
    /// When it is looked at.
    pub now: Moment,
    /// The farm's clock.
    pub zone: Zone,
}

impl TreatedSheet {
    /// The whole sheet.
    #[must_use]
    pub fn sheet(&self) -> Sheet {
        let mut parts = vec![Part::Loud(
            "Mixing never dilutes it into safety: the whole vessel, and everything filled from it since its last clean break, stays out."
                .to_owned(),
        )];
        parts.push(Part::Table(self.loss.table(self.zone)));
        parts.push(Part::Heading("How it came about".to_owned()));
        parts.push(Part::Words(self.happened.clone()));
        parts.extend(self.vessels.iter().map(|(vessel, says)| Part::Words(format!("{vessel}: {says}"))));
        parts.push(Part::Table(self.doses_table()));
        parts.push(Part::Words(
            "A hold for a drug is lifted when her time is over or by the test the rule names, and for no other reason. Ask the vet."
                .to_owned(),
        ));
        Sheet {
            name: format!("treated-cow-{}", self.number),
            title: format!("Treated cow in the can: {}", self.cow),
            under: "Discard sheet".to_owned(),
            facts: self.facts(),
            parts,
        }
    }

    fn facts(&self) -> Vec<(String, String)> {
        let vessels: Vec<&str> = self.vessels.iter().map(|(vessel, _)| vessel.as_str()).collect();
        let mut facts = vec![
            ("Cow", self.cow.clone()),
            ("Vessels held", or(&vessels.join(", "), "none was written down")),
            ("Held (withheld) since", format!("{}, by {}", self.zone.in_full(self.at), self.who)),
            ("Lots held", self.loss.lots.len().to_string()),
            ("Thrown out, as counted", self.loss.thrown_out().to_string()),
            ("Left of these lots, by the book", self.loss.left().to_string()),
        ];
        if self.loss.with_money {
            facts.push(("Value of what was thrown out", self.loss.told()));
        }
        facts.push(("Farm", self.farm.clone()));
        facts.push(("Made", self.zone.in_full(self.now)));
        facts.into_iter().map(|(name, says)| (name.to_owned(), says)).collect()
    }

    fn doses_table(&self) -> Table {
        let columns = [("Given", Holds::Words, 4), ("What", Holds::Words, 5), ("Her time, as written", Holds::Words, 8)];
        let mut table = Table::new("doses", &format!("Doses of {} in the 60 days before", self.cow), &columns);
        "No dose is written down. Write it down now: a blank is never read as no time at all.".clone_into(&mut table.when_empty);
        let row = |(at, what, more): &(Moment, String, String)| {
            vec![Cell::says(self.zone.in_full(*at)), Cell::says(what.clone()), Cell::says(more.clone())]
        };
        table.rows = self.doses.iter().map(row).collect();
        table
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn answers_given_twice_stand_once_behind_what_was_held_at_once() {
        let story = |dose: &str| Story { dose: dose.to_owned(), band: "fell off".to_owned(), ..Story::default() };
        let once = story("tube, Tuesday").of_cow("Treated, and milked into the can: 2026-05-14 AM.");
        assert_eq!(once, "Treated, and milked into the can: 2026-05-14 AM. Dose: tube, Tuesday. Milked by: not known. Leg band: fell off.");
        let twice = story("tube, Wednesday.").of_cow(&once);
        assert_eq!(
            twice,
            "Treated, and milked into the can: 2026-05-14 AM. Dose: tube, Wednesday. Milked by: not known. Leg band: fell off."
        );
    }
}
