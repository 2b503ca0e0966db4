//! All the records of a farm at once, and the laws that always hold between them.
//!
//! Import checks a folder against these laws before it keeps a line; `check` holds the whole ledger against them.

mod households;
mod money;
mod post;

use super::{
    codes::LotCode,
    jars::Jars,
    kinds::{KINDS, Kind, kind},
    measure::Weight,
    milkings::{Dipstick, milk_of},
    records::{Cell, Record, Shape},
    when::{Moment, Zone},
};
use sha2::{Digest, Sha256};
use std::collections::{BTreeMap, HashMap, HashSet};

/// A record that was struck through by a correction.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Struck {
    /// Its kind's name.
    pub kind: String,
    /// Its number.
    pub number: i64,
    /// Which version it was.
    pub version: i64,
    /// The record as it was, as the journal wrote it.
    pub was: String,
    /// When it was struck.
    pub at: Moment,
    /// By whom.
    pub who: String,
    /// Why.
    pub why: String,
}

/// Every record of a farm.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Book {
    /// The records of each kind, by the kind's name, in order of their numbers.
    pub records: BTreeMap<&'static str, Vec<Record>>,
    /// What was struck through.
    pub struck: Vec<Struck>,
    /// The bytes of the papers kept, by their SHA-256; empty where only the records were asked for.
    pub contents: BTreeMap<String, Vec<u8>>,
}

/// A law that does not hold.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Breach {
    /// The kind of record it shows on.
    pub kind: &'static str,
    /// That record's number.
    pub number: i64,
    /// The column to look at.
    pub column: &'static str,
    /// What is wrong, in plain words.
    pub says: String,
}

impl Book {
    /// The records of a kind.
    #[must_use]
    pub fn of(&self, name: &str) -> &[Record] {
        self.records.get(name).map_or(&[], Vec::as_slice)
    }

    /// How many records there are.
    #[must_use]
    pub fn size(&self) -> usize {
        self.records.values().map(Vec::len).sum()
    }

    /// The farm's time zone.
    #[must_use]
    pub fn zone(&self) -> Zone {
        let name = self.of("farm").last().map_or("", |farm| text(farm, "farm", "zone"));
        Zone::parse(name).unwrap_or(Zone::UTC)
    }

    /// What a person calls the record with this number: its key, or its number where it has none. A lot whose code came round
    /// again is called by its code and the day it was filled.
    pub fn keys(&self) -> impl Fn(&'static str, i64) -> String {
        let mut keys: HashMap<(&'static str, i64), String> = HashMap::new();
        let (zone, mut with_code): (Zone, HashMap<&str, Vec<&Record>>) = (self.zone(), HashMap::new());
        for lot in self.of("lots") {
            with_code.entry(text(lot, "lots", "code")).or_default().push(lot);
        }
        let again: HashMap<i64, String> = with_code
            .iter()
            .filter(|(_, lots)| lots.len() > 1)
            .flat_map(|(code, lots)| lots.iter().map(move |lot| (*code, *lot)))
            .map(|(code, lot)| (lot.number, format!("{code} {}", zone.day(Moment::seconds(whole(lot, "lots", "filled"))))))
            .collect();
        for own in KINDS {
            for record in self.of(own.name) {
                let said = own.key.map_or_else(|| record.number.to_string(), |key| record.cell(own, key).text().to_owned());
                keys.insert((own.name, record.number), said);
            }
        }
        move |name, number| {
            let by_day = again.get(&number).filter(|_| name == "lots");
            by_day.or_else(|| keys.get(&(name, number))).cloned().unwrap_or_else(|| number.to_string())
        }
    }

    /// Every law that does not hold.
    #[must_use]
    pub fn breaches(&self) -> Vec<Breach> {
        let mut found = Vec::new();
        self.links_lead_somewhere(&mut found);
        self.lots_have_sources(&mut found);
        self.milk_is_what_was_read(&mut found);
        self.nothing_before_its_lot(&mut found);
        self.jars_were_filled(&mut found);
        self.each_names_one_thing(&mut found);
        self.results_follow_their_samples(&mut found);
        money::breaches(self, &mut found);
        self.households(&mut found);
        self.nobody_is_written_to_for_practice(&mut found);
        found
    }

    /// Papers that are named and not there, or whose bytes are not the ones that were kept. It is no law between records,
    /// because most questions leave the bytes where they are.
    #[must_use]
    pub fn papers_amiss(&self) -> Vec<Breach> {
        let amiss = |paper: &Record| {
            let (name, hash) = (text(paper, "documents", "name"), text(paper, "documents", "hash"));
            let says = match self.contents.get(hash) {
                None => format!("The paper “{name}” is named, and its bytes are not there."),
                Some(bytes) if sha256(bytes) != hash => format!("The paper “{name}” is not what was kept: its bytes make another SHA-256."),
                Some(bytes) if i64::try_from(bytes.len()) != Ok(whole(paper, "documents", "size")) => {
                    format!("The paper “{name}” has {} bytes, and another number is written.", bytes.len())
                }
                Some(_) => return None,
            };
            Some(Breach { kind: "documents", number: paper.number, column: "hash", says })
        };
        self.of("documents").iter().filter_map(amiss).collect()
    }

    fn links_lead_somewhere(&self, found: &mut Vec<Breach>) {
        let numbers: HashMap<&str, HashSet<i64>> =
            KINDS.iter().map(|own| (own.name, self.of(own.name).iter().map(|record| record.number).collect())).collect();
        for own in KINDS {
            for column in own.columns {
                let Shape::Key(target) = column.shape else { continue };
                for record in self.of(own.name) {
                    if let Cell::To(number) = record.cell(own, column.name)
                        && !numbers.get(target).is_some_and(|known| known.contains(number))
                    {
                        found.push(Breach {
                            kind: own.name,
                            number: record.number,
                            column: column.name,
                            says: format!("This names {target} {number}, and there is none."),
                        });
                    }
                }
            }
        }
    }

    fn lots_have_sources(&self, found: &mut Vec<Breach>) {
        let mut with: HashMap<i64, usize> = HashMap::new();
        for source in self.of("sources") {
            *with.entry(whole(source, "sources", "lot")).or_default() += 1;
            let both = (source.cell(of("sources"), "milking"), source.cell(of("sources"), "parent"));
            if matches!(both, (Cell::Empty, Cell::Empty)) || !matches!(both, (Cell::Empty, _) | (_, Cell::Empty)) {
                found.push(Breach {
                    kind: "sources",
                    number: source.number,
                    column: "milking",
                    says: "A source is one milking or one parent lot, not both and not neither.".to_owned(),
                });
            }
        }
        let mut fills: HashMap<&str, i64> = HashMap::new();
        for lot in self.of("lots") {
            let code = text(lot, "lots", "code");
            let filled = whole(lot, "lots", "filled");
            if fills.insert(code, filled).is_some_and(|other| (other - filled).abs() < 5 * 365 * 86_400) {
                found.push(Breach {
                    kind: "lots",
                    number: lot.number,
                    column: "code",
                    says: format!("Two lots carry the code {code}. A lid must name one fill, so that a call-back finds it."),
                });
            }
            if !with.contains_key(&lot.number) {
                found.push(Breach {
                    kind: "lots",
                    number: lot.number,
                    column: "code",
                    says: format!("Lot {code} has no milking and no parent lot: nothing says what milk is in it."),
                });
            }
            let day = self.zone().day(Moment::seconds(whole(lot, "lots", "filled")));
            if !LotCode::of_day(day).any(|own| own.as_str() == code) {
                found.push(Breach {
                    kind: "lots",
                    number: lot.number,
                    column: "code",
                    says: format!("Lot {code} does not carry the day it was filled, {day}."),
                });
            }
        }
    }

    fn milk_is_what_was_read(&self, found: &mut Vec<Breach>) {
        let tables: HashMap<i64, Dipstick> = self
            .of("vessels")
            .iter()
            .filter_map(|vessel| Some((vessel.number, Dipstick::parse(text(vessel, "vessels", "dipstick")).ok()?)))
            .collect();
        for pail in self.of("pails") {
            let kind = of("pails");
            let tare = pail.cell(kind, "tare").whole().map(Weight::milligrams);
            let table = pail.cell(kind, "vessel").whole().and_then(|vessel| tables.get(&vessel));
            let read = pail.cell(kind, "read").text();
            let kept = Weight::milligrams(whole(pail, "pails", "milk"));
            match milk_of(read, tare, table) {
                Err(fault) => found.push(Breach { kind: "pails", number: pail.number, column: "read", says: fault.to_string() }),
                Ok(milk) if (milk - kept).in_milligrams().abs() > 5_000 => {
                    found.push(Breach {
                        kind: "pails",
                        number: pail.number,
                        column: "milk",
                        says: format!("“{read}” less the bucket is {milk}, but {kept} is written."),
                    });
                }
                Ok(_) => {}
            }
        }
    }

    fn nothing_before_its_lot(&self, breaches: &mut Vec<Breach>) {
        let filled: HashMap<i64, i64> = self.of("lots").iter().map(|lot| (lot.number, whole(lot, "lots", "filled"))).collect();
        for (name, what) in [("pickups", "handed out"), ("asides", "set aside"), ("counts", "counted")] {
            for record in self.of(name) {
                let lot = whole(record, name, "lot");
                if filled.get(&lot).is_some_and(|filled| whole(record, name, "at") < *filled) {
                    breaches.push(Breach {
                        kind: of(name).name,
                        number: record.number,
                        column: "at",
                        says: format!("These jars were {what} before their lot was filled."),
                    });
                }
            }
        }
        let found: HashMap<i64, i64> =
            self.of("warm_fridges").iter().map(|fridge| (fridge.number, whole(fridge, "warm_fridges", "found"))).collect();
        for record in self.of("warmed") {
            let (lot, fridge) = (whole(record, "warmed", "lot"), whole(record, "warmed", "warm_fridge"));
            if found.get(&fridge).zip(filled.get(&lot)).is_some_and(|(found, filled)| filled > found) {
                let says = "This lot was filled after that fridge was found warm.".to_owned();
                breaches.push(Breach { kind: "warmed", number: record.number, column: "lot", says });
            }
        }
        let order = |lot: i64| filled.get(&lot).map(|filled| (*filled, lot));
        for source in self.of("sources") {
            let (lot, parent) = (whole(source, "sources", "lot"), source.cell(of("sources"), "parent").whole());
            if parent.is_some_and(|parent| order(parent) >= order(lot)) {
                breaches.push(Breach {
                    kind: "sources",
                    number: source.number,
                    column: "parent",
                    says: "A lot is made from lots filled before it, never from itself or a later one.".to_owned(),
                });
            }
        }
        let started: HashMap<i64, i64> =
            self.of("milkings").iter().map(|milking| (milking.number, whole(milking, "milkings", "started"))).collect();
        for source in self.of("sources") {
            let (lot, milking) = (whole(source, "sources", "lot"), whole(source, "sources", "milking"));
            if let (Some(filled), Some(started)) = (filled.get(&lot), started.get(&milking))
                && filled < started
            {
                breaches.push(Breach {
                    kind: "sources",
                    number: source.number,
                    column: "milking",
                    says: "This lot was filled before this milking started.".to_owned(),
                });
            }
        }
        for milking in self.of("milkings") {
            let ended = milking.cell(of("milkings"), "ended").whole();
            if ended.is_some_and(|ended| ended < whole(milking, "milkings", "started")) {
                breaches.push(Breach {
                    kind: "milkings",
                    number: milking.number,
                    column: "ended",
                    says: "This milking ended before it started.".to_owned(),
                });
            }
        }
    }

    fn jars_were_filled(&self, found: &mut Vec<Breach>) {
        let mut gone: HashMap<i64, Jars> = HashMap::new();
        for name in ["pickups", "asides"] {
            for record in self.of(name) {
                let back = name == "asides" && text(record, "asides", "sort") == "returned";
                let sum = gone.entry(whole(record, name, "lot")).or_default();
                *sum = if back { *sum - jars(record, name) } else { *sum + jars(record, name) };
            }
        }
        let over: HashMap<i64, Jars> = self
            .of("lots")
            .iter()
            .filter_map(|lot| Some((lot.number, (jars(lot, "lots") - *gone.get(&lot.number)?).short_and_over().1)))
            .filter(|(_, over)| !over.is_none())
            .collect();
        // What already happened may be kept, marked; it is a breach only where nobody marked it.
        let marked: HashSet<i64> = self
            .of("pickups")
            .iter()
            .filter(|own| !text(own, "pickups", "marked").is_empty())
            .map(|own| whole(own, "pickups", "lot"))
            .chain(
                self.of("asides")
                    .iter()
                    .filter(|own| text(own, "asides", "sort") == "made" && text(own, "asides", "reason").contains("more than were on hand"))
                    .map(|own| whole(own, "asides", "lot")),
            )
            .collect();
        for name in ["pickups", "asides"] {
            for record in self.of(name) {
                let lot = whole(record, name, "lot");
                if let Some(over) = over.get(&lot).filter(|_| !marked.contains(&lot)) {
                    let says = format!("More jars left this lot than were filled: {over} too many.");
                    found.push(Breach { kind: of(name).name, number: record.number, column: "half_gallons", says });
                }
            }
        }
    }

    fn each_names_one_thing(&self, found: &mut Vec<Breach>) {
        for (name, column, things) in [("holds", "scope", &["lot", "cow", "vessel"][..]), ("samples", "subject", &["lot", "cow"][..])] {
            let kind = of(name);
            for record in self.of(name) {
                let said = record.cell(kind, column).text();
                for thing in things {
                    if (said == *thing) != (*record.cell(kind, thing) != Cell::Empty) {
                        found.push(Breach {
                            kind: kind.name,
                            number: record.number,
                            column: kind.columns[1].name,
                            says: format!("A {} on {said} names exactly that and nothing else; look at “{thing}”.", kind.one),
                        });
                    }
                }
            }
        }
    }

    fn results_follow_their_samples(&self, found: &mut Vec<Breach>) {
        let zone = self.zone();
        let drawn: HashMap<i64, String> = self
            .of("samples")
            .iter()
            .map(|sample| (sample.number, zone.day(Moment::seconds(whole(sample, "samples", "drawn"))).to_string()))
            .collect();
        for result in self.of("results") {
            let reported = text(result, "results", "reported");
            if drawn.get(&whole(result, "results", "sample")).is_some_and(|drawn| reported < drawn.as_str()) {
                found.push(Breach {
                    kind: "results",
                    number: result.number,
                    column: "reported",
                    says: "This result was reported before its sample was drawn.".to_owned(),
                });
            }
        }
    }
}

/// The SHA-256 of a paper's bytes, as `documents` names it.
#[must_use]
pub fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

fn of(name: &str) -> &'static Kind {
    kind(name).unwrap_or(&KINDS[0])
}

fn text<'a>(record: &'a Record, name: &str, column: &str) -> &'a str {
    record.cell(of(name), column).text()
}

fn whole(record: &Record, name: &str, column: &str) -> i64 {
    record.cell(of(name), column).whole().unwrap_or(0)
}

fn jars(record: &Record, name: &str) -> Jars {
    of(name).jars(&record.cells)
}
