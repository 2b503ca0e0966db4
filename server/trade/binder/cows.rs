//! Treatments with what became of the milk, and the tests of the herd.

use super::super::{
    calendar::Renewal,
    capital,
    figures::{Holds, Table},
    gaps::CowsDoses,
    herd::Withheld,
    retests::DUTIES,
    when::{Moment, day_shown},
};
use super::Binder;

/// A treatment as it was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Treatment {
    /// Its number.
    pub number: i64,
    /// The cow.
    pub cow: String,
    /// When.
    pub at: Moment,
    /// The product with its lot, the dose, the route, the quarter and the reason.
    pub what: String,
    /// Who gave it.
    pub by: String,
    /// The time the milk stays out, as written.
    pub time: String,
}

/// A strip test of one quarter.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Strip {
    /// The cow.
    pub cow: String,
    /// When.
    pub at: Moment,
    /// The quarter.
    pub quarter: String,
    /// The score.
    pub score: String,
}

/// Days of milk looked at after a treatment whose end nobody can tell.
const LOOKED_AT: i64 = 5 * 24;

impl Binder {
    pub(super) fn treatments_table(&self) -> Table {
        let columns = [
            ("Cow", Holds::Words, 3),
            ("Given", Holds::Words, 4),
            ("What", Holds::Words, 9),
            ("By", Holds::Words, 4),
            ("Milk stays out", Holds::Words, 5),
            ("Her milk until then", Holds::Words, 5),
        ];
        let mut table = Table::new("treatments", "Treatments, and what became of the milk", &columns).dense();
        table.when_empty = "No treatment is written in these days.".to_owned();
        for own in &self.treatments {
            let (until, went) =
                self.doses.iter().find(|cow| cow.cow == own.cow).map_or_else(Default::default, |cow| self.out_of_can(cow, own));
            table.row([own.cow.clone(), self.at(own.at), self.typed(&own.what), self.typed(&own.by), format!("{}{until}", own.time), went]);
        }
        table
    }

    /// Until when her milk stayed out after one treatment, and where it went until then or until the next treatment.
    fn out_of_can(&self, cow: &CowsDoses, own: &Treatment) -> (String, String) {
        let Some(place) = cow.doses.iter().position(|(number, _)| *number == own.number) else { return Default::default() };
        let withheld = cow.withheld(&cow.doses[..=place], own.at);
        let ends = if let Withheld::Until(left) = &withheld { left.at } else { None };
        let next = cow.doses.get(place + 1).map(|(_, dose)| dose.at);
        let last = next.into_iter().chain([ends.unwrap_or_else(|| own.at.plus_hours(LOOKED_AT))]).min().unwrap_or(own.at);
        let milked = || cow.milked.iter().filter(|(at, _)| *at > own.at && *at <= last && *at <= self.now);
        let mut sorts: Vec<&str> = milked().map(|(_, went)| went.as_str()).collect();
        sorts.sort_unstable();
        sorts.dedup();
        let count = |sort: &str| milked().filter(|(_, went)| went == sort).count();
        let went: Vec<String> = sorts.iter().map(|sort| format!("{sort} {}", count(sort))).collect();
        let went = if went.is_empty() { "no milking is written".to_owned() } else { format!("milkings: {}", went.join(", ")) };
        (ends.map_or_else(String::new, |ends| format!("; to {}", self.at(ends))), went)
    }

    /// Whether a renewal is a test of the herd.
    pub(super) fn is_of_the_herd(renewal: &Renewal) -> bool {
        DUTIES.contains(&renewal.sort.as_str()) && renewal.sort != "inspection"
    }

    pub(super) fn herd_table(&self) -> Table {
        let columns = [
            ("Test", Holds::Repeats, 5),
            ("As written", Holds::Words, 8),
            ("Cow", Holds::Words, 4),
            ("Done", Holds::Words, 4),
            ("Good to", Holds::Words, 4),
        ];
        let mut table = Table::new("herd_tests", "Tests and exams of the herd", &columns).long().dense();
        table.when_empty = "None is written in these days.".to_owned();
        for own in self.renewals.iter().filter(|own| Binder::is_of_the_herd(own)) {
            let until = own.until.map_or_else(|| "no day named".to_owned(), day_shown);
            let cow = own.cow.clone().unwrap_or_else(|| "the herd".to_owned());
            table.row([capital(&own.sort), self.typed(&own.what), cow, day_shown(own.done), until]);
        }
        table
    }

    pub(super) fn strips_table(&self) -> Table {
        let columns = [("Cow", Holds::Words, 3), ("When", Holds::Words, 4), ("Quarters and scores", Holds::Words, 12)];
        let mut table = Table::new("strip_tests", "Strip tests", &columns).long().dense();
        table.when_empty = "None is written in these days.".to_owned();
        for together in self.strips.chunk_by(|one, other| one.cow == other.cow && other.at.minutes_since(one.at) < 30) {
            let scores: Vec<String> = together.iter().map(|own| format!("{} {}", own.quarter, own.score)).collect();
            if let Some(first) = together.first() {
                table.row([first.cow.clone(), self.at(first.at), scores.join(", ")]);
            }
        }
        table
    }
}
