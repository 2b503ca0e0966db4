//! A book read for the checks: cells by name, and what the verdicts of a lot rest on.

use std::{collections::HashMap, sync::Arc};
use tallypail::trade::{
    analytes::Analyte,
    book::Book,
    chill::{MilkingTimes, Reading},
    frequency::Frequencies,
    herd::{ColostrumRule, Dose, Foremilk, Turn},
    jars::Jars,
    kinds::kind,
    known::{Bottle, Known},
    lab::{Figure, LabResult, Of, Unit},
    limits::Limits,
    measure::{Scale, Temperature, Weight},
    poured::LONGEST_MILKING_HOURS,
    records::{Cell, Record},
    rules::{Channel, Channels, CountedFrom, Steps},
    strips::{Quarter, Score, StripTest},
    thermometers::{IceCheck, guard},
    verdict::{CowsPart, Decision, Facts, Hold, Milking, Rules, RulesOfDay, Verdict, judge, judge_for},
    warm::HouseRule,
    when::{Moment, parse_day},
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
    strips: By<'a>,
    samples: By<'a>,
    decisions: By<'a>,
    rules: RulesOfDay,
    checks: Vec<(IceCheck, Moment)>,
    results: Vec<(LabResult, Moment)>,
}

impl<'a> Judge<'a> {
    /// A judge over a book, by the farm's own rules.
    pub fn of(book: &'a Book) -> Judge<'a> {
        Judge::under(book, rules_of(&book.of("rules")[0]))
    }

    /// A judge over a book, by other rules.
    pub fn under(book: &'a Book, base: Rules) -> Judge<'a> {
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
            strips: by("strip_tests", "cow"),
            samples: by("samples", "lot"),
            decisions: by("decisions", "lot"),
            rules: RulesOfDay { base, beside: vec![], used: vec![] },
            checks: book.of("ice_checks").iter().map(|check| (ice_check(check), check.written)).collect(),
            results: book.of("results").iter().map(|result| (lab_result(book, result), result.written)).collect(),
        }
    }

    fn milking(&self, number: i64) -> &'a Record {
        &self.book.of("milkings")[usize::try_from(number - 1).unwrap()]
    }

    fn lot(&self, number: i64) -> &'a Record {
        &self.book.of("lots")[usize::try_from(number - 1).unwrap()]
    }

    /// The way a person's milk reaches them; an unknown walk-in stands at the gate.
    pub fn way(&self, person: Option<i64>) -> Channel {
        let own =
            person.map_or("farm gate", |number| text("people", &self.book.of("people")[usize::try_from(number - 1).unwrap()], "channel"));
        Channel::WORDS.into_iter().find(|(_, word)| *word == own).unwrap().0
    }

    /// The verdict on a lot at a moment, from what was written down then.
    pub fn verdict(&self, lot: i64, way: Option<Channel>, now: Moment) -> Verdict {
        let facts = self.facts(lot, now);
        way.map_or_else(|| judge(&facts, now), |way| judge_for(&facts, way, now))
    }

    /// All that is known of a lot at a moment.
    pub fn facts(&self, lot: i64, now: Moment) -> Facts {
        let record = self.lot(lot);
        let sources = self.sources.get(lot);
        let milkings: Vec<Arc<Milking>> =
            sources.iter().filter_map(|source| whole("sources", source, "milking")).map(|own| Arc::new(self.part(own))).collect();
        Facts {
            code: text("lots", record, "code").to_owned(),
            lab: self.lab(lot, &milkings, now),
            decisions: self.decisions(lot, now),
            milkings,
            filled: moment("lots", record, "filled"),
            readings: self.readings(lot, now),
            holds: self.holds(lot, now),
            parents: sources.iter().filter_map(|source| whole("sources", source, "parent")).map(|parent| self.facts(parent, now)).collect(),
            rules: self.rules.clone(),
            tied: Vec::new(),
            shared: Vec::new(),
            warmed: Vec::new(),
            house: HouseRule::default(),
            unread: Vec::new(),
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
                .map(|pail| self.cow(pail, start, whole("milkings", record, "ended").map_or(start, Moment::seconds)))
                .collect(),
        }
    }

    fn cow(&self, pail: &Record, start: Moment, ended: Moment) -> CowsPart {
        let cow = number("pails", pail, "cow");
        let before = |record: &&&Record| moment("treatments", record, "at") <= start;
        let turns = self.events.get(cow).iter().map(|event| {
            let due = parse_day(text("events", event, "due")).ok();
            (Turn::of(text("events", event, "sort"), due), moment("events", event, "at"))
        });
        let over = ended.max(start.plus_hours(LONGEST_MILKING_HOURS));
        let strips = self.strips.get(cow).iter().map(|test| StripTest {
            at: moment("strip_tests", test, "at"),
            quarter: Quarter::of(text("strip_tests", test, "quarter")),
            score: Score::parse(text("strip_tests", test, "score")).unwrap(),
        });
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
            turns: turns.filter(|(_, at)| *at <= over).collect(),
            strips: strips.filter(|test| test.at <= over).collect(),
        }
    }

    /// Readings up to a moment, each with what the checks written down by then say of its thermometer.
    fn readings(&self, lot: i64, now: Moment) -> Vec<Reading> {
        let checks: Vec<IceCheck> = self.checks.iter().filter(|(_, written)| *written <= now).map(|(check, _)| check.clone()).collect();
        let read = |record: &&Record| {
            let shown = Temperature::parse(text("chill", record, "temperature"), Scale::Fahrenheit).unwrap();
            let at = moment("chill", record, "at");
            Reading::of(at, shown).guarded(guard(&checks, text("chill", record, "thermometer"), at).by)
        };
        self.chill.get(lot).iter().map(read).filter(|reading| reading.at <= now).collect()
    }

    /// What was written down from the lab by then.
    fn lab(&self, lot: i64, milkings: &[Arc<Milking>], now: Moment) -> Known {
        let code = text("lots", self.lot(lot), "code");
        let milked: Vec<(String, Moment)> =
            milkings.iter().flat_map(|own| own.cows.iter().map(|part| (part.cow.clone(), own.times.start))).collect();
        let known = || self.results.iter().filter(|(_, written)| *written <= now).map(|(result, _)| result);
        let hers = |result: &&LabResult| matches!(&result.of, Of::Cow(name) if milked.iter().any(|(cow, _)| cow == name));
        Known {
            own: known().filter(|result| matches!(&result.of, Of::Lot(own) if own == code)).cloned().collect(),
            cows: Arc::new(known().filter(hers).cloned().collect()),
            farm: Arc::new(known().filter(|result| matches!(result.of, Of::Lot(_))).cloned().collect()),
            kin: Vec::new(),
            bottles: self
                .samples
                .get(lot)
                .iter()
                .map(|sample| Bottle {
                    number: sample.number,
                    drawn: moment("samples", sample, "drawn"),
                    asked: text("samples", sample, "asked").split(", ").map(Analyte::parse).collect(),
                })
                .collect(),
            since: milkings.iter().map(|own| own.times.start).min(),
            milked,
        }
    }

    fn decisions(&self, lot: i64, now: Moment) -> Vec<Decision> {
        let read = |record: &&Record| Decision {
            at: moment("decisions", record, "at"),
            by: record.who.clone(),
            over: text("decisions", record, "over").lines().map(str::to_owned).collect(),
            facts: text("decisions", record, "facts").to_owned(),
            reason: text("decisions", record, "reason").to_owned(),
        };
        self.decisions.get(lot).iter().map(read).filter(|decision| decision.at <= now).collect()
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
            lifted: None,
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

fn rules_of(record: &Record) -> Rules {
    let cell = |column| text("rules", record, column);
    Rules {
        source: format!("{} ({}; {}), followed from {}", cell("title"), cell("citation"), cell("sure"), cell("since")),
        steps: Steps::parse(cell("steps")).unwrap(),
        fresh: ColostrumRule { days_after: whole("rules", record, "fresh_days"), ..ColostrumRule::default() },
        best_by: whole("rules", record, "best_by_days").map(|days| (days, CountedFrom::OldestMilking)),
        channels: Channels::parse(cell("channels")).unwrap(),
        limits: Limits::parse(cell("limits")).unwrap(),
        strip_fails: Score::parse(cell("strip_fails")).ok(),
        each_cow: Frequencies::parse(cell("tests")).unwrap().of_each_cow(),
        unread: Vec::new(),
    }
}

fn ice_check(record: &Record) -> IceCheck {
    IceCheck {
        thermometer: text("ice_checks", record, "thermometer").to_owned(),
        at: moment("ice_checks", record, "at"),
        reading: Temperature::parse(text("ice_checks", record, "reading"), Scale::Fahrenheit).unwrap(),
    }
}

fn lab_result(book: &Book, record: &Record) -> LabResult {
    let one = |name: &str, number: i64| &book.of(name)[usize::try_from(number - 1).unwrap()];
    let sample = one("samples", number("results", record, "sample"));
    let of = match text("samples", sample, "subject") {
        "lot" => Of::Lot(text("lots", one("lots", number("samples", sample, "lot")), "code").to_owned()),
        "cow" => Of::Cow(text("cows", one("cows", number("samples", sample, "cow")), "name").to_owned()),
        "water" => Of::Water,
        _ => Of::Swab,
    };
    LabResult {
        number: record.number,
        sample: sample.number,
        drawn: moment("samples", sample, "drawn"),
        of,
        analyte: Analyte::parse(text("results", record, "analyte")),
        figure: Figure::parse(text("results", record, "figure")).unwrap(),
        unit: Unit::parse(text("results", record, "unit")).ok(),
        part: whole("results", record, "part"),
        reported: text("results", record, "reported").parse().unwrap(),
        written: record.written,
    }
}
