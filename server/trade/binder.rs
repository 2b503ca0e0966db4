//! The binder of a span: everything an inspector asks for on one sheet, the farm's own gaps first. The page, the PDF and the folder are
//! drawn from it, so they say the same.
//!
//! Households stand by their number unless the owner wants their names in it; then nothing is taken out. Everybody else, the milker, the
//! vet, the lab, stands as written: who did it is part of a record.

mod bottles;
mod cows;
mod front;
mod lots;
mod names;
mod papers;
mod room;

pub use bottles::{Bottle, Drawn, Said};
pub use cows::{Strip, Treatment};
pub use front::{Changes, RulesOf};
pub use lots::{Label, LotLine};
pub use names::Names;
pub use papers::{Kept, Paper};
pub use room::{CalledBack, Wash};

use super::{
    agreements::Line,
    calendar::Renewal,
    figures::{Cell, Part, Sheet, Table},
    gaps::{About, CowsDoses, Gap, Sort},
    lotsheet::Stopped,
    thermometers::IceCheck,
    wear::Span,
    when::{Moment, Zone, day_shown},
};

/// Whose pages the links of a binder lead to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Leads {
    /// The owner's.
    Farm,
    /// Those of a pass, which has the sheets of its lots and nothing else.
    Pass,
    /// None: a folder stands for itself.
    Nowhere,
}

/// All that a binder is made from.
#[derive(Clone, Debug)]
pub struct Binder {
    /// The farm.
    pub farm: String,
    /// Its address; empty where none is written.
    pub address: String,
    /// The days it shows.
    pub span: Span,
    /// Who made it, or for whom it was opened.
    pub who: String,
    /// When.
    pub now: Moment,
    /// The farm's clock.
    pub zone: Zone,
    /// Where its links lead.
    pub leads: Leads,
    /// What is taken out of it.
    pub names: Names,
    /// The rule sets followed in the span.
    pub rules: Vec<RulesOf>,
    /// What the records leave open.
    pub gaps: Vec<Gap>,
    /// What cannot be told because no rule says it, and which sort of gap that is about.
    pub not_known: Vec<(Option<Sort>, String)>,
    /// What the journal changed in the span.
    pub changes: Vec<Changes>,
    /// Permits, other papers, herd tests.
    pub renewals: Vec<Renewal>,
    /// Every lot.
    pub lots: Vec<LotLine>,
    /// What the lid of the newest lot says.
    pub label: Option<Label>,
    /// Every bottle.
    pub bottles: Vec<Bottle>,
    /// The treatments, as written.
    pub treatments: Vec<Treatment>,
    /// The cows that were treated, with what their clocks count from.
    pub doses: Vec<CowsDoses>,
    /// Strip tests.
    pub strips: Vec<Strip>,
    /// Checks in ice water.
    pub checks: Vec<IceCheck>,
    /// Every washing.
    pub washes: Vec<Wash>,
    /// Holds.
    pub held: Vec<Stopped>,
    /// Call-backs.
    pub called_back: Vec<CalledBack>,
    /// Complaints: how many, and in how many of them somebody was ill.
    pub complaints: (usize, usize),
    /// The households with their papers, where the rules ask for any.
    pub households: Option<Vec<Line>>,
    /// The papers that are kept and belong to the span.
    pub kept: Vec<Kept>,
}

impl Binder {
    /// The whole of it on one sheet.
    #[must_use]
    pub fn sheet(&self) -> Sheet {
        let mut parts = self.front();
        let mut section = |heading: &str, tables: Vec<Part>| {
            parts.push(Part::Heading(heading.to_owned()));
            parts.extend(tables);
        };
        section("Permits, papers and inspections", vec![Part::Table(self.papers_table())]);
        section("Lots", self.lots_parts());
        section("What the lab found", self.bottle_tables().into_iter().map(Part::Table).collect());
        section("The herd", vec![Part::Table(self.treatments_table()), Part::Table(self.herd_table()), Part::Table(self.strips_table())]);
        section("Thermometers and washing", vec![Part::Table(self.checks_table()), Part::Table(self.washes_table())]);
        section("Held, called back, complained of", self.stops_parts());
        if self.households.is_some() {
            section("Households, as the rules ask", vec![Part::Table(self.households_table())]);
        }
        section("Papers kept", vec![Part::Table(self.kept_table())]);
        Sheet {
            name: self.name(),
            title: "Binder for the inspector".to_owned(),
            under: format!("{}: {}", self.farm, self.days()),
            facts: self.head(),
            parts,
        }
    }

    /// What its files are called: `binder-2025-11-22-2026-11-21`.
    #[must_use]
    pub fn name(&self) -> String {
        format!("binder-{}-{}", self.span.from, self.span.to)
    }

    /// Its days in words.
    #[must_use]
    pub fn days(&self) -> String {
        format!("{} to {}", day_shown(self.span.from), day_shown(self.span.to))
    }

    /// A cell that leads to what it is about, where this binder's links lead there.
    fn leading(&self, text: String, about: &About) -> Cell {
        let address = match (self.leads, about) {
            (Leads::Farm, About::Lot(code)) => Some(format!("/lots/{code}")),
            (Leads::Pass, About::Lot(code)) => Some(format!("/pass/lots/{code}")),
            (Leads::Farm, About::Record(kind, number)) => Some(format!("/records/{kind}/{number}")),
            (Leads::Farm, About::Kind(kind)) => Some(format!("/records/{kind}")),
            (Leads::Farm, About::Calendar) => Some("/calendar".to_owned()),
            (Leads::Farm, About::Household(label)) => Some(format!("/people/{label}")),
            _ => None,
        };
        Cell { says: text, opens: address, guess: false }
    }

    /// A moment, short enough for a table: `14 May 2026, 06:16`.
    fn at(&self, moment: Moment) -> String {
        self.zone.in_full(moment)
    }

    /// Words somebody typed, without what is taken out.
    fn typed(&self, text: &str) -> String {
        self.names.out_of(text)
    }
}

/// The tables of a sheet, each as a file of its own: its name with its place in front, so that a folder keeps their order.
#[must_use]
pub fn files(sheet: &Sheet) -> Vec<(String, &Table)> {
    let tables = sheet.parts.iter().filter_map(|part| if let Part::Table(table) = part { Some(table) } else { None });
    tables.enumerate().map(|(nth, table)| (format!("{:02}-{}.csv", nth + 1, table.name.replace('_', "-")), table)).collect()
}
