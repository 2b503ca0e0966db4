//! The parts of a packet about people: who has that milk, every try at reaching them, every hand-out as it was known then, and
//! what everybody was told.

use super::{Packet, words};
use crate::trade::{
    capital,
    figures::{Cell, Holds, Part, Table},
    recipients::{Household, or},
    wording::{self, Filling},
};

impl Packet<'_> {
    pub(super) fn recipients(&self) -> Table {
        let columns = [
            ("Who", Holds::Words, 5),
            ("Phone", Holds::Words, 3),
            ("Second way", Holds::Words, 4),
            ("Jars had", Holds::Words, 4),
            ("Standing", Holds::Words, 3),
            ("Tries", Holds::Figures, 2),
            ("May be left", Holds::Words, 3),
            ("How known", Holds::Words, 3),
        ];
        let mut table = Table::new("recipients", "Everybody who has, or had, that milk", &columns);
        "Nobody has taken any jar of these lots.".clone_into(&mut table.when_empty);
        for own in &self.case.recipients {
            let (phone, second) = own.household.as_ref().map_or(("", ""), |own| (own.phone.as_str(), own.second_way.as_str()));
            table.rows.push(vec![
                Cell::says(own.called()),
                Cell::says(or(phone, if own.household.is_some() { "none written" } else { "cannot be rung" })),
                Cell::says(or(second, "none")),
                Cell::says(own.jars().to_string()),
                Cell::says(own.standing().says()),
                Cell::says(own.tries.len().to_string()),
                Cell::says(own.left().to_string()),
                Cell::says(own.evidence.iter().cloned().collect::<Vec<_>>().join(", ")),
            ]);
        }
        table
    }

    pub(super) fn tries(&self) -> Table {
        let columns = [
            ("When", Holds::Words, 4),
            ("Who", Holds::Words, 5),
            ("How", Holds::Words, 3),
            ("What came of it", Holds::Words, 3),
            ("What they said of their jars", Holds::Words, 6),
            ("By", Holds::Words, 2),
            ("Written", Holds::Words, 4),
        ];
        let mut table = Table::new("contacts", "Every try at reaching them (contact log)", &columns);
        "Nobody has been tried yet.".clone_into(&mut table.when_empty);
        let mut tries: Vec<_> = self.case.recipients.iter().flat_map(|own| own.tries.iter().map(move |tried| (own, tried))).collect();
        tries.sort_by_key(|(_, tried)| (tried.at, tried.number));
        for (own, tried) in tries {
            let said = own.told.values().flatten().filter(|telling| Some(telling.contact) == tried.number);
            let mut said: Vec<String> = said
                .map(|own| {
                    let to = if own.note.is_empty() { String::new() } else { format!(" ({})", own.note) };
                    format!("{}: {} {}{to}", self.code(own.lot), own.jars, as_said(&own.became))
                })
                .collect();
            said.extend((!tried.note.is_empty()).then(|| tried.note.clone()));
            table.row([
                self.zone().in_full(tried.at),
                own.called(),
                tried.way.clone(),
                tried.outcome.clone(),
                said.join("; "),
                tried.who.clone(),
                self.zone().in_full(tried.written),
            ]);
        }
        table
    }

    /// Every hand-out with what was known when it was made: what was learnt later changes the lot, never that memory.
    pub(super) fn hand_outs(&self) -> Table {
        let columns = [
            ("When", Holds::Words, 4),
            ("Lot", Holds::Codes, 3),
            ("To", Holds::Words, 4),
            ("Jars", Holds::Words, 3),
            ("How known", Holds::Words, 2),
            ("Verdict then", Holds::Words, 2),
            ("Because", Holds::Words, 6),
        ];
        let mut table = Table::new("handouts", "Every hand-out of these lots", &columns);
        "Nothing of these lots has been handed out.".clone_into(&mut table.when_empty);
        for out in &self.case.outs {
            let (verdict, because) = &out.then;
            let to = out.household.as_ref().map_or_else(|| "an unknown walk-in".to_owned(), Household::called);
            let to = if out.carried.is_empty() { to } else { format!("{to}, carried by {}", out.carried) };
            table.row([
                self.zone().in_full(out.at),
                self.code(out.lot),
                to,
                out.jars.to_string(),
                out.evidence.clone(),
                verdict.clone(),
                because.clone(),
            ]);
        }
        table
    }

    fn code(&self, lot: i64) -> String {
        self.case.lots.iter().find(|own| own.number == lot).map_or_else(|| lot.to_string(), |own| own.code.clone())
    }

    pub(super) fn messages(&self) -> Vec<Part> {
        let mut parts = vec![words("Each household was told its own codes; here stand all of them.")];
        let with = self.filling();
        for own in &self.case.wordings {
            parts.push(words(format!("{} ({}, {}):", capital(&own.way), self.zone().in_full(own.at), own.who)));
            parts.extend(wording::filled(&own.says, &with).split("\n\n").map(words));
        }
        if self.case.wordings.is_empty() {
            parts.push(words("No wording of the farm's own was kept; the offered words were used."));
            let offered = wording::offered("call script", &self.case.because);
            parts.extend(wording::filled(&offered, &with).split("\n\n").map(words));
        }
        parts
    }

    fn filling(&self) -> Filling {
        Filling { lots: self.case.codes(), farm: self.found.farm.name.clone(), phone: self.found.farm.phone.clone() }
    }
}

/// What became of jars, as it stands behind a count: `2 half-gallons still there`.
fn as_said(became: &str) -> &str {
    match became {
        "has it" => "still there",
        "gave away" => "given away",
        own => own,
    }
}
