//! The laws of shares, pauses and papers, and of a pickup day's packing.

use super::{Book, Breach, of, text, whole};
use crate::trade::{
    parts::Hundredths,
    promises::{Share, sold_twice},
    records::Record,
};
use std::collections::HashMap;

impl Book {
    /// Every law about households that does not hold.
    pub(super) fn households(&self, found: &mut Vec<Breach>) {
        self.shares_are_sold_once(found);
        self.spans_run_forwards(found);
        self.pickups_move_out_of_their_pause(found);
        self.a_packing_adds_up(found);
        self.no_more_jars_came_back_than_went(found);
    }

    fn shares_are_sold_once(&self, found: &mut Vec<Breach>) {
        let kind = of("shares");
        let read = |own: &Record| Share::of(kind, &own.cells, own.number, whole(own, "shares", "person"));
        let shares: Vec<Share> = self.of("shares").iter().filter_map(read).collect();
        let labels: HashMap<i64, &str> = self.of("people").iter().map(|own| (own.number, text(own, "people", "label"))).collect();
        let called = |person: i64| labels.get(&person).map_or_else(|| format!("household {person}"), |label| (*label).to_owned());
        for share in &shares {
            if let Some(says) = sold_twice(share, &shares, called) {
                found.push(Breach { kind: kind.name, number: share.number, column: "share", says });
            }
        }
    }

    fn spans_run_forwards(&self, found: &mut Vec<Breach>) {
        let spans = [
            ("people", "since", "until"),
            ("shares", "since", "until"),
            ("pauses", "since", "until"),
            ("collectors", "since", "until"),
            ("agreements", "given", "signed"),
            ("agreements", "given", "until"),
            ("agreements", "signed", "until"),
        ];
        for (name, first, then) in spans {
            for record in self.of(name) {
                let (before, after) = (text(record, name, first), text(record, name, then));
                if !before.is_empty() && !after.is_empty() && after < before {
                    let says = format!("{after} is before {before}: time does not run backwards.");
                    found.push(Breach { kind: of(name).name, number: record.number, column: then, says });
                }
            }
        }
    }

    fn pickups_move_out_of_their_pause(&self, found: &mut Vec<Breach>) {
        for pause in self.of("pauses") {
            let [since, until, moved] = ["since", "until", "moved_to"].map(|column| text(pause, "pauses", column));
            if !moved.is_empty() && (since..=until).contains(&moved) {
                let says = format!("The pickup was moved to {moved}, and that day is inside the pause.");
                found.push(Breach { kind: "pauses", number: pause.number, column: "moved_to", says });
            }
        }
    }

    fn a_packing_adds_up(&self, found: &mut Vec<Breach>) {
        let household = |own: &Record, name| (whole(own, name, "packing"), whole(own, name, "person"));
        let mut packed: HashMap<(i64, i64), i64> = HashMap::new();
        for crated in self.of("crates") {
            *packed.entry(household(crated, "crates")).or_default() += whole(crated, "crates", "half_gallons");
        }
        let portioned: HashMap<(i64, i64), i64> =
            self.of("portions").iter().map(|own| (household(own, "portions"), whole(own, "portions", "jars"))).collect();
        for portion in self.of("portions") {
            let (jars, there) = (whole(portion, "portions", "jars"), packed.get(&household(portion, "portions")).copied().unwrap_or(0));
            if jars != there {
                let says = format!("{jars} half-gallons are this household's, and {there} stand packed for it.");
                found.push(Breach { kind: "portions", number: portion.number, column: "jars", says });
            }
            for column in ["promised", "fair", "carried"] {
                if Hundredths::parse(text(portion, "portions", column)).is_none() {
                    let says = "This is no number of half-gallons to the hundredth.".to_owned();
                    found.push(Breach { kind: "portions", number: portion.number, column, says });
                }
            }
        }
        for crated in self.of("crates").iter().filter(|own| !portioned.contains_key(&household(own, "crates"))) {
            let says = "These jars stand packed for a household that has no part of that day.".to_owned();
            found.push(Breach { kind: "crates", number: crated.number, column: "person", says });
        }
        for packing in self.of("packings") {
            let (ready, given) = (
                whole(packing, "packings", "ready"),
                portioned.iter().filter(|((own, _), _)| *own == packing.number).map(|(_, jars)| jars).sum::<i64>(),
            );
            if given > ready {
                let says = format!("{given} half-gallons were shared out, and {ready} were ready.");
                found.push(Breach { kind: "packings", number: packing.number, column: "ready", says });
            }
        }
    }

    /// A household brings back, breaks or loses at most the jars it had.
    fn no_more_jars_came_back_than_went(&self, found: &mut Vec<Breach>) {
        let mut owed: HashMap<i64, i64> = HashMap::new();
        for moved in self.of("empties") {
            let jars: i64 = ["gallons", "half_gallons", "quarts", "pints"].iter().map(|size| whole(moved, "empties", size)).sum();
            let settles = matches!(text(moved, "empties", "sort"), "brought back" | "broken or lost");
            *owed.entry(whole(moved, "empties", "person")).or_default() += if settles { -jars } else { jars };
        }
        for (person, jars) in owed.into_iter().filter(|(_, jars)| *jars < 0) {
            let last = self.of("empties").iter().rfind(|own| whole(own, "empties", "person") == person);
            let says = format!("{} more empty jars came back from this household than it had.", -jars);
            found.extend(last.map(|own| Breach { kind: "empties", number: own.number, column: "sort", says }));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::{
        kinds::kind,
        measure::Scale,
        records::{Cell, Ways, read},
        when::{Moment, Zone},
    };

    /// A book of these records: kind, and cells as they are typed; other records are named by number.
    fn book(records: &[(&'static str, &[(&str, &str)])]) -> Book {
        let mut book = Book::default();
        for (name, typed) in records {
            let kind = kind(name).unwrap();
            let said = |column: &str| typed.iter().find(|(own, _)| *own == column).map_or("", |(_, value)| value).to_owned();
            let mut cells = read(kind, said, Ways { zone: Zone::UTC, scale: Scale::Fahrenheit }).unwrap();
            for cell in &mut cells {
                if let Cell::Named(number) = cell {
                    *cell = Cell::To(number.parse().unwrap());
                }
            }
            let own = book.records.entry(kind.name).or_default();
            let number = i64::try_from(own.len()).unwrap() + 1;
            let written = Moment::seconds(0);
            own.push(Record { number, entry: String::new(), cells, written, who: String::new(), source: String::new(), version: 1 });
        }
        book
    }

    fn said(records: &[(&'static str, &[(&str, &str)])]) -> Vec<(&'static str, i64, &'static str)> {
        let mut found = Vec::new();
        book(records).households(&mut found);
        found.into_iter().map(|breach| (breach.kind, breach.number, breach.column)).collect()
    }

    const PERSON: (&str, &[(&str, &str)]) =
        ("people", &[("label", "M01"), ("name", "Invented"), ("sort", "member"), ("channel", "herdshare"), ("since", "2026-01-01")]);

    #[test]
    fn a_share_is_sold_once_and_time_runs_forwards() {
        let half = |part: &'static str| {
            [("person", "1"), ("share", "S07"), ("part", part), ("half_gallons", "2"), ("channel", "herdshare"), ("since", "2026-01-01")]
        };
        assert_eq!(said(&[PERSON, ("shares", &half("1/2")), ("shares", &half("1/2"))]), []);
        assert_eq!(said(&[PERSON, ("shares", &half("1/2")), ("shares", &half("1"))]), [("shares", 1, "share"), ("shares", 2, "share")]);
        let back = [("person", "1"), ("since", "2026-05-02"), ("until", "2026-05-01")];
        assert_eq!(said(&[PERSON, ("pauses", &back)]), [("pauses", 1, "until")]);
        let inside = [("person", "1"), ("since", "2026-05-01"), ("until", "2026-05-09"), ("moved_to", "2026-05-05")];
        assert_eq!(said(&[PERSON, ("pauses", &inside)]), [("pauses", 1, "moved_to")]);
        let early = [("person", "1"), ("sort", "bill of sale"), ("given", "2026-05-02"), ("signed", "2026-05-01")];
        assert_eq!(said(&[PERSON, ("agreements", &early)]), [("agreements", 1, "signed")]);
    }

    #[test]
    fn a_packing_adds_up_jar_by_jar() {
        let packing = |ready: &'static str| [("day", "2026-11-21"), ("at", "2026-11-21T08:00"), ("method", "pro rata"), ("ready", ready)];
        let portion = |jars: &'static str, fair: &'static str| {
            [("packing", "1"), ("person", "1"), ("promised", "3"), ("fair", fair), ("carried", "-0.5"), ("jars", jars)]
        };
        let crated =
            |person: &'static str, jars: &'static str| [("packing", "1"), ("person", person), ("lot", "1"), ("half_gallons", jars)];
        // A lot code is needed to type one; the number is put in its place.
        let day = |ready, jars, packed| {
            let mut book = book(&[PERSON, ("packings", &packing(ready)), ("portions", &portion(jars, "2.5"))]);
            book.records.insert("crates", crates(&[crated("1", packed)]));
            book
        };
        let breaches = |book: &Book| {
            let mut found = Vec::new();
            book.households(&mut found);
            found.into_iter().map(|breach| (breach.kind, breach.column)).collect::<Vec<_>>()
        };
        assert_eq!(breaches(&day("3", "3", "3")), []);
        assert_eq!(breaches(&day("3", "3", "2")), [("portions", "jars")]);
        assert_eq!(breaches(&day("2", "3", "3")), [("packings", "ready")]);
        let mut stray = day("3", "3", "3");
        stray.records.insert("crates", crates(&[crated("1", "3"), crated("2", "1")]));
        assert_eq!(breaches(&stray), [("crates", "person")]);
        let mut finer = day("3", "3", "3");
        let fair = of("portions").place_of("fair").unwrap();
        finer.records.get_mut("portions").unwrap()[0].cells[fair] = Cell::Text("some".to_owned());
        assert_eq!(breaches(&finer), [("portions", "fair")]);
    }

    fn crates(all: &[[(&str, &str); 4]]) -> Vec<Record> {
        let record = |(place, own): (usize, &[(&str, &str); 4])| {
            let number = |column: usize| own[column].1.parse::<i64>().unwrap();
            let cells = vec![Cell::To(number(0)), Cell::To(number(1)), Cell::To(number(2)), Cell::Whole(number(3))];
            let (number, written) = (i64::try_from(place).unwrap() + 1, Moment::seconds(0));
            Record { number, entry: String::new(), cells, written, who: String::new(), source: String::new(), version: 1 }
        };
        all.iter().enumerate().map(record).collect()
    }

    #[test]
    fn no_household_brings_back_more_than_it_had() {
        let moved = |sort: &'static str, jars: &'static str| {
            [
                ("at", "2026-11-21T08:00"),
                ("person", "1"),
                ("sort", sort),
                ("gallons", "0"),
                ("half_gallons", jars),
                ("quarts", "0"),
                ("pints", "0"),
            ]
        };
        let (had, back, lost) = (moved("first jars", "4"), moved("brought back", "3"), moved("broken or lost", "1"));
        assert_eq!(said(&[PERSON, ("empties", &had), ("empties", &back), ("empties", &lost)]), []);
        assert_eq!(
            said(&[PERSON, ("empties", &had), ("empties", &back), ("empties", &lost), ("empties", &lost)]),
            [("empties", 4, "sort")]
        );
    }
}
