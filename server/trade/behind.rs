//! What is behind some lots: the milkings and cows they came from, how they chilled, what a lab said, and when the vessels
//! were made clean. It exists so that whoever looks into trouble has the whole way back on one paper.

use super::{
    figures::{Cell, Holds, Part, Table},
    verdict::{Finding, Verdict, Word},
    when::{Day, Moment, Zone, day_shown},
};

/// A milking the trouble may have come from.
#[derive(Clone, Debug)]
pub struct Milked {
    /// Its number.
    pub number: i64,
    /// Its day and session.
    pub session: String,
    /// Who milked.
    pub milker: String,
    /// Whether they were well; nothing when nobody wrote it.
    pub well: Option<bool>,
    /// When it began.
    pub started: Moment,
    /// When it ended, if that is written.
    pub ended: Option<Moment>,
    /// Whether the milk itself leads to it, and not only a vessel.
    pub certain: bool,
}

/// One cow's milk in one of those milkings.
#[derive(Clone, Debug)]
pub struct Poured {
    /// The milking.
    pub session: String,
    /// The cow.
    pub cow: String,
    /// How much, as it was read.
    pub milk: String,
    /// The vessel it went into.
    pub vessel: String,
    /// What her first squirts looked like; empty when nobody looked.
    pub foremilk: String,
    /// What her clocks said then: treatments and calving.
    pub clocks: String,
}

/// A chill reading of one of the lots.
#[derive(Clone, Debug)]
pub struct Read {
    /// The lot's code.
    pub lot: String,
    /// When.
    pub at: Moment,
    /// What it read, in the scale it was read in.
    pub temperature: String,
    /// On which thermometer.
    pub thermometer: String,
}

/// A lab result on one of the lots or cows.
#[derive(Clone, Debug)]
pub struct Tested {
    /// Its number.
    pub number: i64,
    /// The lot's code or the cow's name.
    pub of: String,
    /// When the sample was drawn.
    pub drawn: Moment,
    /// What was looked for.
    pub analyte: String,
    /// What the lab wrote, with its unit.
    pub figure: String,
    /// When the lab reported it.
    pub reported: String,
    /// The lab, with its reference.
    pub lab: String,
}

/// A washing of a vessel that held this milk.
#[derive(Clone, Debug)]
pub struct Washed {
    /// Its number.
    pub number: i64,
    /// The vessel.
    pub vessel: String,
    /// When.
    pub at: Moment,
    /// Whether it was emptied and washed.
    pub washed: bool,
    /// Whether it was sanitised.
    pub sanitised: bool,
    /// With what.
    pub with_what: String,
    /// By whom.
    pub done_by: String,
}

/// Everything behind some lots.
#[derive(Clone, Debug, Default)]
pub struct Behind {
    /// The milkings, oldest first.
    pub milked: Vec<Milked>,
    /// The cows in them.
    pub poured: Vec<Poured>,
    /// The chill readings.
    pub readings: Vec<Read>,
    /// The lab results.
    pub results: Vec<Tested>,
    /// The washings around.
    pub washings: Vec<Washed>,
}

/// What the verdicts say of one cow's clocks at one milking: every treatment whose clock was looked at, and a calving that
/// was not long past.
#[must_use]
pub fn clocks<'a>(verdicts: impl Iterator<Item = &'a Verdict>, session: &str, cow: &str, zone: Zone) -> String {
    let mut said: Vec<String> = Vec::new();
    for finding in verdicts.flat_map(|verdict| &verdict.findings) {
        let (own_cow, own_session, tells) = match finding {
            Finding::Treated { cow, session, .. } => (cow, session, true),
            Finding::JustCalved { cow, session, .. } => (cow, session, finding.word() != Word::CanGo),
            _ => continue,
        };
        let says = finding.reason(zone);
        if tells && own_cow == cow && own_session == session && !said.contains(&says) {
            said.push(says);
        }
    }
    if said.is_empty() { "nothing written down".to_owned() } else { said.join(" ") }
}

/// Empty words said aloud.
fn or(words: &str, otherwise: &str) -> String {
    if words.trim().is_empty() { otherwise.to_owned() } else { words.to_owned() }
}

const fn yes_no(yes: bool) -> &'static str {
    if yes { "yes" } else { "no" }
}

impl Behind {
    /// The way back as the parts of a sheet.
    #[must_use]
    pub fn parts(&self, zone: Zone) -> Vec<Part> {
        vec![
            Part::Heading("Back: where the milk came from".to_owned()),
            Part::Table(self.milkings(zone)),
            Part::Table(self.cows()),
            Part::Table(self.chill(zone)),
            Part::Table(self.lab(zone)),
            Part::Table(self.vessels(zone)),
        ]
    }

    fn milkings(&self, zone: Zone) -> Table {
        let columns = [
            ("Milking", Holds::Words, 3),
            ("Tie", Holds::Words, 2),
            ("Milked by", Holds::Words, 3),
            ("Milker well", Holds::Words, 2),
            ("Started", Holds::Words, 4),
            ("Ended", Holds::Words, 2),
        ];
        let mut table = Table::new("milkings", "Milkings behind these lots", &columns);
        "No milking is written down for any of these lots.".clone_into(&mut table.when_empty);
        table.rows = self
            .milked
            .iter()
            .map(|own| {
                let well = match own.well {
                    Some(well) => yes_no(well),
                    None => "not written",
                };
                vec![
                    Cell::opening(&own.session, format!("/records/milkings/{}", own.number)),
                    Cell::says(if own.certain { "certain" } else { "possible" }),
                    Cell::says(&own.milker),
                    Cell::says(well),
                    Cell::says(zone.in_full(own.started)),
                    Cell::says(own.ended.map_or_else(|| "not written".to_owned(), |at| zone.clock(at))),
                ]
            })
            .collect();
        table
    }

    fn cows(&self) -> Table {
        let columns = [
            ("Milking", Holds::Words, 3),
            ("Cow", Holds::Words, 2),
            ("Milk", Holds::Words, 2),
            ("Into", Holds::Words, 2),
            ("First squirts", Holds::Words, 2),
            ("Treated or just calved", Holds::Words, 6),
        ];
        let mut table = Table::new("cows", "Cows in those milkings", &columns);
        "No cow is written down for these milkings.".clone_into(&mut table.when_empty);
        for own in &self.poured {
            table.row([
                own.session.clone(),
                own.cow.clone(),
                own.milk.clone(),
                or(&own.vessel, "not written"),
                or(&own.foremilk, "nobody looked"),
                own.clocks.clone(),
            ]);
        }
        table
    }

    fn chill(&self, zone: Zone) -> Table {
        let columns =
            [("Lot", Holds::Codes, 2), ("Read at", Holds::Words, 4), ("Jar", Holds::Figures, 2), ("Thermometer", Holds::Words, 3)];
        let mut table = Table::new("readings", "Chill readings", &columns);
        "Nobody read a temperature of any of these lots.".clone_into(&mut table.when_empty);
        for own in &self.readings {
            table.row([own.lot.clone(), zone.in_full(own.at), own.temperature.clone(), or(&own.thermometer, "not written")]);
        }
        table
    }

    fn lab(&self, zone: Zone) -> Table {
        let columns = [
            ("Of", Holds::Words, 2),
            ("Drawn", Holds::Words, 4),
            ("Test", Holds::Words, 3),
            ("Result", Holds::Words, 3),
            ("Reported", Holds::Words, 2),
            ("Lab", Holds::Words, 3),
        ];
        let mut table = Table::new("results", "Lab results on these lots, and on these cows within 30 days", &columns);
        "No lab result is written down for these lots or these cows. That says nothing either way.".clone_into(&mut table.when_empty);
        table.rows = self
            .results
            .iter()
            .map(|own| {
                vec![
                    Cell::opening(&own.of, format!("/records/results/{}", own.number)),
                    Cell::says(zone.in_full(own.drawn)),
                    Cell::says(&own.analyte),
                    Cell::says(&own.figure),
                    Cell::says(&own.reported),
                    Cell::says(&own.lab),
                ]
            })
            .collect();
        table
    }

    fn vessels(&self, zone: Zone) -> Table {
        let columns = [
            ("Vessel", Holds::Words, 2),
            ("When", Holds::Words, 4),
            ("Washed", Holds::Words, 2),
            ("Sanitised", Holds::Words, 2),
            ("With", Holds::Words, 3),
            ("By", Holds::Words, 2),
            ("Clean break", Holds::Words, 2),
        ];
        let mut table = Table::new("breaks", "Clean breaks of the vessels, from the last before to the first after", &columns);
        "No washing of these vessels is written down around these lots, so a vessel ties everything that went through it."
            .clone_into(&mut table.when_empty);
        table.rows = self
            .washings
            .iter()
            .map(|own| {
                vec![
                    Cell::opening(&own.vessel, format!("/records/breaks/{}", own.number)),
                    Cell::says(zone.in_full(own.at)),
                    Cell::says(yes_no(own.washed)),
                    Cell::says(yes_no(own.sanitised)),
                    Cell::says(or(&own.with_what, "not written")),
                    Cell::says(&own.done_by),
                    Cell::says(if own.washed && own.sanitised { "yes" } else { "no, it does not count" }),
                ]
            })
            .collect();
        table
    }
}

/// A day kept as text, for reading.
#[must_use]
pub fn day_words(kept: &str) -> String {
    kept.parse::<Day>().map_or_else(|_| kept.to_owned(), day_shown)
}
