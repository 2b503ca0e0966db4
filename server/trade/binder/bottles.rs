//! Every bottle that went to a lab, with what came back.

use super::super::{
    figures::{Cell, Holds, Table},
    gaps::About,
    lab::LabResult,
    standing::{Compared, compare},
    when::{Moment, day_shown},
};
use super::Binder;

/// What a bottle is of.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Drawn {
    /// A lot, by its code.
    Lot(String),
    /// A cow, by her name.
    Cow(String),
    /// Water or a surface, by its place.
    Around(String),
}

/// One result, with the lab's own text.
#[derive(Clone, Debug)]
pub struct Said {
    /// What it says.
    pub result: LabResult,
    /// The figure and the unit, letter by letter.
    pub wrote: String,
}

/// A bottle and what the lab found in it.
#[derive(Clone, Debug)]
pub struct Bottle {
    /// When it was drawn.
    pub at: Moment,
    /// Of what.
    pub of: Drawn,
    /// What it was to be tested for, where that is written.
    pub asked: String,
    /// The lab and its reference.
    pub lab: String,
    /// What it found.
    pub said: Vec<Said>,
}

impl Binder {
    pub(super) fn bottle_tables(&self) -> Vec<Table> {
        let own = |wanted: fn(&Drawn) -> bool| self.bottles.iter().filter(|own| wanted(&own.of)).collect::<Vec<_>>();
        vec![
            self.bottle_table("milk_tests", "Tests of milk, by lot", &own(|of| matches!(of, Drawn::Lot(_)))),
            self.bottle_table("cow_tests", "Tests of single cows’ milk", &own(|of| matches!(of, Drawn::Cow(_)))),
            self.bottle_table("water_tests", "Tests of water and surfaces", &own(|of| matches!(of, Drawn::Around(_)))),
        ]
    }

    fn bottle_table(&self, name: &str, caption: &str, bottles: &[&Bottle]) -> Table {
        let columns = [
            ("Of", if name == "milk_tests" { Holds::Codes } else { Holds::Words }, 4),
            ("Drawn", Holds::Words, 5),
            ("What the lab wrote", Holds::Words, 12),
            ("Reported", Holds::Words, 4),
            ("Lab, its reference", Holds::Words, 6),
        ];
        let mut table = Table::new(name, caption, &columns).long().dense();
        table.when_empty = "None is written in these days.".to_owned();
        for own in bottles {
            let of = match &own.of {
                Drawn::Lot(code) => self.leading(code.clone(), &About::Lot(code.clone())),
                Drawn::Cow(cow) => Cell::says(cow.clone()),
                Drawn::Around(place) => Cell::says(self.typed(place)),
            };
            let found: Vec<String> = own.said.iter().map(|said| self.found(said)).collect();
            let found = if found.is_empty() { format!("not in yet: {}", own.asked) } else { found.join("; ") };
            let reported = own.said.iter().map(|said| said.result.reported).max().map(day_shown).unwrap_or_default();
            table.rows.push(vec![
                of,
                Cell::says(self.at(own.at)),
                Cell::says(found),
                Cell::says(reported),
                Cell::says(self.typed(&own.lab)),
            ]);
        }
        table
    }

    /// One result as the lab wrote it, marked where it is over the limit of the rule of its day.
    fn found(&self, said: &Said) -> String {
        let own = &said.result;
        let day = own.day(self.zone);
        let limits = self.rules.iter().filter(|rule| rule.held_on(day)).flat_map(|rule| &rule.limits.0);
        let mut about = limits.filter(|limit| limit.analyte.covers(&own.analyte));
        let over = about.any(|limit| compare(limit, &own.figure, own.unit) == Compared::Over);
        format!("{} {}{}", own.analyte, said.wrote.trim(), if over { " (over the limit)" } else { "" })
    }
}
