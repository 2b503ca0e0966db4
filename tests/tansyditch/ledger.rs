//! A book read for the checks: cells by name, and what the verdicts of a lot rest on.

use std::collections::HashMap;
use tallypail::trade::{
    book::Book,
    chill::{MilkingTimes, Reading},
    herd::{ColostrumRule, Dose, Foremilk},
    jars::Jars,
    kinds::kind,
    limits::Limits,
    measure::{Scale, Temperature, Weight},
    records::{Cell, Record},
    rules::{Channels, CountedFrom, Steps},
    tested::Known,
    verdict::{CowsPart, Facts, Hold, Milking, Rules, RulesOfDay, Verdict, judge},
    when::Moment,
};

/// The text of a cell.
pub fn text<'a>(name: &str, record: &'a Record, column: &str) -> &'a str {
    record.cell(kind(name).unwrap(), column).text()
}

/// The whole number of a cell, or nothing.
pub fn whole(name: &str, record: &Record, column: &str) -> Option<i64> {
    record.cell(kind(name).unwrap(), column).whole()
}

/// The number of a cell that is always filled.
pub fn number(name: &str, record: &Record, column: &str) -> i64 {
    whole(name, record, column).unwrap()
}

/// The moment of a cell that is always filled.
pub fn moment(name: &str, record: &Record, column: &str) -> Moment {
    Moment::seconds(number(name, record, column))
}

/// The milk of a pail.
pub fn milk(pail: &Record) -> Weight {
    Weight::milligrams(number("pails", pail, "milk"))
}

/// The jars of a record.
pub fn jars(name: &str, record: &Record) -> Jars {
    let count = |column| number(name, record, column);
    Jars { gallons: count("gallons"), half_gallons: count("half_gallons"), quarts: count("quarts"), pints: count("pints") }
}

/// Records of a kind by the record they name.
pub struct By<'a>(HashMap<i64, Vec<&'a Record>>);

impl<'a> By<'a> {
    /// Gathers a kind's records by a column.
    pub fn of(book: &'a Book, name: &str, column: &str) -> By<'a> {
        let mut by: HashMap<i64, Vec<&Record>> = HashMap::new();
        for record in book.of(name) {
            if let Some(to) = whole(name, record, column) {
                by.entry(to).or_default().push(record);
            }
        }
        By(by)
    }

    /// Those of one.
    pub fn get(&self, number: i64) -> &[&'a Record] {
        self.0.get(&number).map_or(&[], Vec::as_slice)
    }
}

/// What verdicts are made from, looked up fast.
pub struct Judge<'a> {
    book: &'a Book,
    sources: By<'a>,
    pails: By<'a>,
    pails_of: By<'a>,
    chill: By<'a>,
    treatments: By<'a>,
    events: By<'a>,
    lifts: By<'a>,
}

impl<'a> Judge<'a> {
    /// A judge over a book.
    pub fn of(book: &'a Book) -> Judge<'a> {
        let by = |name, column| By::of(book, name, column);
        Judge {
            book,
            sources: by("sources", "lot"),
            pails: by("pails", "milking"),
            pails_of: by("pails", "cow"),
            chill: by("chill", "lot"),
            treatments: by("treatments", "cow"),
            events: by("events", "cow"),
            lifts: by("lifts", "hold"),
        }
    }

    fn milking(&self, number: i64) -> &'a Record {
        &self.book.of("milkings")[usize::try_from(number - 1).unwrap()]
    }

    fn lot(&self, number: i64) -> &'a Record {
        &self.book.of("lots")[usize::try_from(number - 1).unwrap()]
    }

    /// The verdict on a lot at a moment, from what was known then.
    pub fn verdict(&self, lot: i64, now: Moment) -> Verdict {
        judge(&self.facts(lot, now), now)
    }

    fn facts(&self, lot: i64, now: Moment) -> Facts {
        let record = self.lot(lot);
        let rules = &self.book.of("rules")[0];
        let sources = self.sources.get(lot);
        Facts {
            code: text("lots", record, "code").to_owned(),
            filled: moment("lots", record, "filled"),
            milkings: sources.iter().filter_map(|source| whole("sources", source, "milking")).map(|own| self.part(own)).collect(),
            readings: self.readings(lot, now),
            holds: self.holds(lot, now),
            parents: sources
                .iter()
                .filter_map(|source| whole("sources", source, "parent"))
                .map(|parent| {
                    (text("lots", self.lot(parent), "code").to_owned(), self.verdict(parent, now), self.facts(parent, now).oldest())
                })
                .collect(),
            rules: RulesOfDay {
                base: Rules {
                    source: String::new(),
                    steps: Steps::parse(text("rules", rules, "steps")).unwrap(),
                    fresh: ColostrumRule { days_after: whole("rules", rules, "fresh_days"), ..ColostrumRule::default() },
                    best_by: whole("rules", rules, "best_by_days").map(|days| (days, CountedFrom::OldestMilking)),
                    channels: Channels::parse(text("rules", rules, "channels")).unwrap(),
                    limits: Limits::parse(text("rules", rules, "limits")).unwrap(),
                },
                beside: vec![],
            },
            lab: Known::default(),
            decisions: vec![],
            zone: self.book.zone(),
        }
    }

    fn part(&self, number: i64) -> Milking {
        let record = self.milking(number);
        let start = moment("milkings", record, "started");
        Milking {
            session: text("milkings", record, "session").to_owned(),
            times: MilkingTimes { start, end: whole("milkings", record, "ended").map(Moment::seconds) },
            well: Some(text("milkings", record, "well") == "yes"),
            cows: self
                .pails
                .get(number)
                .iter()
                .filter(|pail| text("pails", pail, "went") == "can")
                .map(|pail| self.cow(pail, start))
                .collect(),
        }
    }

    fn cow(&self, pail: &Record, start: Moment) -> CowsPart {
        let cow = number("pails", pail, "cow");
        let before = |record: &&&Record| moment("treatments", record, "at") <= start;
        let calved = self
            .events
            .get(cow)
            .iter()
            .filter(|event| text("events", event, "sort") == "calved")
            .map(|event| moment("events", event, "at"));
        CowsPart {
            cow: text("cows", &self.book.of("cows")[usize::try_from(cow - 1).unwrap()], "name").to_owned(),
            foremilk: Foremilk::parse(text("pails", pail, "foremilk")).unwrap(),
            doses: self.treatments.get(cow).iter().filter(before).map(|record| dose(record)).collect(),
            milked: self
                .pails_of
                .get(cow)
                .iter()
                .map(|pail| moment("milkings", self.milking(number("pails", pail, "milking")), "started"))
                .filter(|at| *at <= start)
                .collect(),
            calved: calved.filter(|at| *at <= start).max(),
        }
    }

    fn readings(&self, lot: i64, now: Moment) -> Vec<Reading> {
        let read = |record: &&Record| {
            let shown = Temperature::parse(text("chill", record, "temperature"), Scale::Fahrenheit).unwrap();
            Reading::of(moment("chill", record, "at"), shown)
        };
        self.chill.get(lot).iter().map(read).filter(|reading| reading.at <= now).collect()
    }

    /// Holds standing at a moment: on the lot, or on a cow with milk in it since a day before the hold.
    fn holds(&self, lot: i64, now: Moment) -> Vec<Hold> {
        let touches = |hold: &&Record| {
            let at = moment("holds", hold, "at");
            let lifted = self.lifts.get(hold.number).iter().any(|lift| moment("lifts", lift, "at") <= now);
            let hers = |cow: i64| {
                self.sources.get(lot).iter().filter_map(|source| whole("sources", source, "milking")).any(|own| {
                    let near = moment("milkings", self.milking(own), "started") >= at.plus_hours(-24);
                    near && self
                        .pails
                        .get(own)
                        .iter()
                        .any(|pail| number("pails", pail, "cow") == cow && text("pails", pail, "went") == "can")
                })
            };
            at <= now
                && !lifted
                && (*hold.cell(kind("holds").unwrap(), "lot") == Cell::To(lot) || whole("holds", hold, "cow").is_some_and(hers))
        };
        let held = |hold: &Record| Hold {
            what: "It".to_owned(),
            reason: text("holds", hold, "reason").to_owned(),
            at: moment("holds", hold, "at"),
        };
        self.book.of("holds").iter().filter(touches).map(held).collect()
    }
}

fn dose(record: &Record) -> Dose {
    Dose {
        at: moment("treatments", record, "at"),
        product: text("treatments", record, "product").to_owned(),
        milk_hours: whole("treatments", record, "milk_hours"),
        milk_milkings: whole("treatments", record, "milk_milkings"),
        as_labelled: text("treatments", record, "as_labelled") == "yes",
        vet_figure: text("treatments", record, "vet_figure") == "yes",
        from_calving: text("treatments", record, "counted_from") == "calving",
        dry_days: whole("treatments", record, "dry_days"),
    }
}
