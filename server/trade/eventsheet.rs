//! The events of some lots as a sheet that can be sorted: the “electronic sortable spreadsheet” of 21 CFR 1.1455, which an
//! inspector may ask for within 24 hours (from memory), in the words of that rule.
//!
//! One row has one quantity and one unit, so that a column can be added up: an event about jars of two sizes is two rows.

use super::{
    balance,
    events::{Event, Events, Lot, Struck, What},
    figures::{Cell, Holds, Part, Sheet, Table},
    jars::{Jars, Size},
    kinds::kind,
    measure::trimmed,
    outwords::Spelt,
    when::{Moment, Zone, day_shown},
};

/// How the sheet is asked for.
#[derive(Clone, Debug)]
pub struct Asked {
    /// The sheet's name, for a file: `events-6134A-S`.
    pub name: String,
    /// What the events are about: `Lot 6134A-S, with every lot its trouble may have spread to`.
    pub about: String,
    /// Whether households are named, and not only numbered.
    pub names: bool,
    /// When it was asked for.
    pub now: Moment,
    /// The farm's clock.
    pub zone: Zone,
}

/// The name of the table that holds the events.
pub const EVENTS: &str = "events";

/// What the words of the rule mean here, and what they do not claim.
const WORDS: [&str; 4] = [
    "The words are those of the US food traceability rule (21 CFR part 1 subpart S, told from memory): critical tracking event, \
     traceability lot code, traceability lot code source, reference document. Fluid milk is not on that rule's list, and it does not \
     bind a farm that hands milk straight to whoever drinks it. Nothing here claims otherwise.",
    "“Shipping” leaves out, in the rule, what goes straight to a consumer. It stands beside the hand-outs all the same, so that one column \
     finds them. “Cooling” here is the chilling of jars after they were filled.",
    "Each row has one quantity. An event about jars of two sizes has two rows with one reference document. A row that says “corrected” or \
     “struck” does not count: the row of the next version, if there is one, stands in its place. Add up only what “stands”.",
    "Event times are on the farm's clock and carry its difference from universal time (UTC), so an hour that comes twice in autumn is told \
     apart. Sort by the column in UTC for the true order.",
];

impl Events {
    /// The events as a sheet: the lots, and every event as rows that can be sorted.
    #[must_use]
    pub fn sheet(&self, asked: &Asked) -> Sheet {
        let facts = [
            ("About", asked.about.clone()),
            ("Farm", self.farm.name.clone()),
            ("Traceability lot code source", self.source()),
            ("Lots", self.lots.len().to_string()),
            ("Events", self.all.iter().filter(|event| event.struck.is_none()).count().to_string()),
            ("Corrected or struck since", self.all.iter().filter(|event| event.struck.is_some()).count().to_string()),
            ("Households", if asked.names { "by number and name" } else { "by number; names are left out" }.to_owned()),
            ("Made", asked.zone.for_file(asked.now)),
        ];
        let mut parts: Vec<Part> = WORDS.iter().map(|words| Part::Words((*words).to_owned())).collect();
        parts.extend([Part::Table(self.lots_table(asked.zone)), Part::Table(self.table(asked))]);
        Sheet {
            name: asked.name.clone(),
            title: "Events of lots".to_owned(),
            under: format!("{}, {}", self.farm.name, day_shown(asked.zone.day(asked.now))),
            facts: facts.map(|(name, says)| (name.to_owned(), says)).into(),
            parts,
        }
    }

    /// Where the lot codes were given: the farm, with its address and phone.
    fn source(&self) -> String {
        let said = [&self.farm.name, &self.farm.address, &self.farm.phone];
        said.into_iter().filter(|own| !own.is_empty()).cloned().collect::<Vec<_>>().join(", ")
    }

    fn lots_table(&self, zone: Zone) -> Table {
        let columns = [
            ("Traceability lot code", Holds::Codes, 3),
            ("Product", Holds::Words, 4),
            ("Filled", Holds::Words, 4),
            ("Day", Holds::Words, 2),
            ("Jars filled", Holds::Words, 4),
            ("Traceability lot code source", Holds::Words, 5),
        ];
        let mut table = Table::new("lots", "Lots", &columns);
        "No lot.".clone_into(&mut table.when_empty);
        for lot in &self.lots {
            let filling =
                |event: &&Event| matches!(event.what, What::Filled { .. }) && event.struck.is_none() && event.lot.as_ref() == Some(lot);
            let at = self.all.iter().find(filling).map(|event| event.at);
            table.row([
                lot.code.clone(),
                lot.product().to_owned(),
                at.map_or_else(String::new, |at| zone.for_file(at)),
                at.map_or_else(String::new, |at| zone.day(at).to_string()),
                lot.jars.to_string(),
                self.source(),
            ]);
        }
        table
    }

    /// Every event as rows.
    fn table(&self, asked: &Asked) -> Table {
        let mut columns = vec![
            ("What happened", Holds::Words, 4),
            ("Critical tracking event", Holds::Words, 4),
            ("Traceability lot code", Holds::Codes, 3),
            ("Event time", Holds::Words, 5),
            ("Event day", Holds::Words, 2),
            ("Event time, UTC", Holds::Words, 5),
            ("Quantity", Holds::Figures, 2),
            ("Unit", Holds::Words, 3),
            ("Product", Holds::Words, 3),
            ("Reading", Holds::Words, 2),
            ("From", Holds::Words, 6),
            ("To", Holds::Words, 4),
        ];
        if asked.names {
            columns.extend([("Name", Holds::Words, 4), ("Taken by", Holds::Words, 4)]);
        }
        columns.extend([
            ("Where", Holds::Words, 4),
            ("Traceability lot code source", Holds::Words, 5),
            ("Reference document", Holds::Words, 3),
            ("Document number", Holds::Figures, 2),
            ("Version", Holds::Figures, 1),
            ("Stands", Holds::Words, 2),
            ("Written", Holds::Words, 5),
            ("Written by", Holds::Words, 3),
            ("Corrected or struck", Holds::Words, 5),
            ("By", Holds::Words, 3),
            ("Why", Holds::Words, 5),
            ("More", Holds::Words, 6),
        ]);
        let mut table = Table::new(EVENTS, "Events", &columns);
        "No event.".clone_into(&mut table.when_empty);
        table.rows = self.all.iter().flat_map(|event| self.rows(event, asked)).collect();
        table
    }

    /// The rows of one event: one for each size of jar it is about.
    fn rows(&self, event: &Event, asked: &Asked) -> Vec<Vec<Cell>> {
        let zone = asked.zone;
        let plain = |text: &str| if asked.names { text.to_owned() } else { self.without_names(text) };
        let (reading, from, to, more) = told(event, zone);
        let (name, taken_by) = named(event);
        let quantities = quantities(event);
        let one = |(figure, unit): (String, String)| {
            let mut cells = vec![
                event.says().to_owned(),
                event.critical().unwrap_or("none").to_owned(),
                event.lot.as_ref().map_or_else(String::new, |lot| lot.code.clone()),
                zone.for_file(event.at),
                zone.day(event.at).to_string(),
                Zone::UTC.for_file(event.at).replace("+00:00", "Z"),
                figure,
                unit,
                event.lot.as_ref().map_or("Raw milk", Lot::product).to_owned(),
                reading.clone(),
                from.clone(),
                to.clone(),
            ];
            if asked.names {
                cells.extend([name.clone(), taken_by.clone()]);
            }
            let document = kind(event.record.kind).map_or(event.record.kind, |kind| kind.one);
            cells.extend([self.farm.name.clone(), self.source(), document.to_owned()]);
            cells.extend([event.record.number.to_string(), event.record.version.to_string(), stands(event.struck.as_ref()).to_owned()]);
            let (written, who) = self.written(event);
            cells.extend([zone.for_file(written), who.to_owned()]);
            let struck = event.struck.as_ref();
            cells.push(struck.map_or_else(String::new, |own| zone.for_file(own.at)));
            cells.push(struck.map_or_else(String::new, |own| own.who.clone()));
            cells.push(struck.map_or_else(String::new, |own| plain(&own.why)));
            cells.push(plain(&more));
            cells.into_iter().map(Cell::says).collect()
        };
        quantities.into_iter().map(one).collect()
    }

    /// What somebody wrote in words, with each household's number in the place of its name.
    fn without_names(&self, text: &str) -> String {
        let mut left = text.to_owned();
        for own in &self.households {
            left = Spelt::OfOthers.without(&left, own.name.trim(), &own.label);
        }
        // A household is mostly called by its last name; a short one is a word of its own too often.
        for own in &self.households {
            let last = own.name.split_whitespace().next_back().filter(|last| last.chars().count() >= 4);
            left = last.map_or_else(|| left.clone(), |last| Spelt::OfOthers.without(&left, last, &own.label));
        }
        left
    }
}

/// Whether an event counts.
const fn stands(struck: Option<&Struck>) -> &'static str {
    match struck {
        None => "stands",
        Some(Struck { replaced: true, .. }) => "corrected",
        Some(_) => "struck",
    }
}

/// What an event was about, each quantity with its unit. A filling of no jars is none of the usual; what is about the whole lot
/// has no quantity.
fn quantities(event: &Event) -> Vec<(String, String)> {
    match &event.what {
        What::Milked(milked) => vec![(trimmed(milked.milk.in_pounds(), 2), "lb".to_owned())],
        What::Chilled { .. } | What::Held { .. } | What::Lifted { .. } | What::CalledBack { .. } => vec![(String::new(), String::new())],
        _ if event.jars.is_none() => vec![("0".to_owned(), "jars".to_owned())],
        _ => by_size(event.jars),
    }
}

fn by_size(jars: Jars) -> Vec<(String, String)> {
    let sizes = Size::ALL.into_iter().filter(|size| jars.of(*size) != 0);
    sizes.map(|size| (jars.of(size).to_string(), format!("{} jars", size.one()))).collect()
}

/// What a row says of an event: the reading, from where, to where, and what else there is.
fn told(event: &Event, zone: Zone) -> (String, String, String, String) {
    let none = String::new;
    match &event.what {
        What::Milked(own) => {
            let cows = own.cows.iter().cloned().collect::<Vec<_>>().join(", ");
            let into = own.into.iter().cloned().collect::<Vec<_>>().join(", ");
            let vessels = own.vessels.iter().cloned().collect::<Vec<_>>().join(", ");
            let more =
                format!("Milking {}, began {}, milked by {}; into {vessels}", own.milking.session, zone.for_file(own.started), own.by);
            (none(), cows, if into.is_empty() { none() } else { format!("lots {into}") }, more)
        }
        What::Filled { milkings, lots, vessel } => {
            let mut from: Vec<String> = milkings.iter().map(|own| format!("milking {}", own.session)).collect();
            from.extend(lots.iter().map(|own| format!("lot {}", own.code)));
            (none(), from.join(", "), none(), if vessel.is_empty() { none() } else { format!("Filled from {vessel}") })
        }
        What::Chilled { read, thermometer, bath } => {
            let said = [("thermometer", thermometer), ("ice bath", bath)];
            let more = said.iter().filter(|(_, own)| !own.is_empty()).map(|(name, own)| format!("{name} {own}"));
            (read.clone(), none(), none(), more.collect::<Vec<_>>().join(", "))
        }
        What::HandedOut { to, evidence, .. } => {
            let to = to.as_ref().map_or_else(|| "an unknown walk-in".to_owned(), |own| own.label.clone());
            (none(), none(), to, format!("How we know: {evidence}"))
        }
        What::SetAside { went, reason } => (none(), none(), whither(*went).to_owned(), reason.clone()),
        What::Lifted { reason } => (none(), none(), none(), reason.clone()),
        What::Held { scope, reason } => {
            let scope = if scope == "everything" { scope.clone() } else { format!("the {scope}") };
            (none(), none(), none(), format!("{} was held. {reason}", super::capital(&scope)))
        }
        What::Counted { by } => (none(), none(), none(), format!("Counted by {by}")),
        What::CalledBack { because } => (none(), none(), none(), because.clone()),
    }
}

/// Where jars that were set aside went.
const fn whither(went: balance::What) -> &'static str {
    match went {
        balance::What::Household => "the house",
        balance::What::Calf => "a calf",
        balance::What::IntoLot => "another lot",
        balance::What::Sample => "a sample",
        balance::What::ShelfJar => "the shelf, to be sniffed",
        balance::What::Returned => "the fridge, brought back full",
        _ => "nobody",
    }
}

/// The name of the household an event went to, and who took the jars.
fn named(event: &Event) -> (String, String) {
    match &event.what {
        What::HandedOut { to, taken_by, .. } => (to.as_ref().map_or_else(String::new, |own| own.name.clone()), taken_by.clone()),
        _ => (String::new(), String::new()),
    }
}
