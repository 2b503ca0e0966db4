//! A farm of twenty cows, made up day by day from a seed, for as many days as are asked: the yardstick for speed and size.
//!
//! It is larger than any farm the program is for, so that what is quick here is quick everywhere: twenty cows milked twice a
//! day, ten cans, twenty lots a day of ten half-gallons, a hundred and forty hand-outs a day to a hundred and fifty households.
//! Cows stand for five years and households stay for five, so that the lists of who is gone grow as they would. Everything in
//! it is invented. It ends on the sample farm's last afternoon, and what a farm has once (rules, prices, stores) is the sample
//! farm's own.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a yardstick may fail loudly")]

use chrono::{Datelike, Days};
use csv::Writer;
use std::collections::BTreeMap;
use tallypail::{
    paper::{folder::Files, sample},
    trade::{
        codes::LotCode,
        kinds::kind,
        when::{Day, Moment, Zone},
    },
};

/// When it ends.
pub const LAST: &str = "2026-11-21";
/// What its clock says then, as the sample farm's.
pub const AFTERNOON: &str = "2026-11-21T15:05:00-05:00";
/// How long cows and households stay.
const STAY_DAYS: i64 = 1826;
const COWS: usize = 20;
const CANS: usize = 10;
const HOUSEHOLDS: usize = 150;
/// Half-gallons of a lot, by hand-out; the last one is left over.
const TAKEN: [i64; 7] = [1, 2, 1, 1, 2, 1, 1];
const NAMES: [&str; COWS] = [
    "Damson", "Kettle", "Wren", "Thimble", "Bramble", "Sorrel", "Linnet", "Pewter", "Hazel", "Juniper", "Tansy", "Marl", "Clover", "Fern",
    "Quince", "Russet", "Saffron", "Teasel", "Umber", "Vetch",
];
const FAMILIES: [&str; 12] = [
    "Ashgrove",
    "Bramante",
    "Castellane",
    "Dray",
    "Fennimore",
    "Halvorsett",
    "Lunn",
    "Marrowby",
    "Pettibrand",
    "Quaile",
    "Tremont",
    "Vandermay",
];
/// The sample farm's own tickets of its last twelve months, once a year.
const A_YEAR: i64 = 364;

/// A splitmix64, so that the same seed gives the same farm on every machine (Steele, Lea and Flood, 2014).
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^ (mixed >> 31)
    }

    /// A whole number below `most`.
    fn below(&mut self, most: u64) -> u64 {
        self.next() % most
    }

    fn minutes(&mut self, most: u64) -> i64 {
        i64::try_from(self.below(most)).unwrap()
    }

    fn mark(&mut self) -> String {
        uuid::Builder::from_random_bytes((u128::from(self.next()) << 64 | u128::from(self.next())).to_be_bytes()).into_uuid().to_string()
    }
}

/// A farm being written, kind by kind.
struct Writing {
    zone: Zone,
    dice: Dice,
    files: BTreeMap<&'static str, (Writer<Vec<u8>>, usize)>,
    /// The lots still in the fridge: code, which line of it is next, and when it was filled.
    standing: Vec<Standing>,
    first: Day,
}

struct Standing {
    code: String,
    filled: Day,
    morning: bool,
    taken: usize,
    words: String,
}

/// The farm of so many days, as a farm folder.
pub fn folder(days: i64) -> Files {
    let last: Day = LAST.parse().unwrap();
    let first = last - Days::new(u64::try_from(days - 1).unwrap());
    let zone = Zone::parse("America/New_York").unwrap();
    let mut farm = Writing { zone, dice: Dice(20_261_121), files: BTreeMap::new(), standing: Vec::new(), first };
    let mut files = farm.once(last);
    farm.who_and_what(days);
    for nth in 0..days {
        farm.day(nth, first + Days::new(u64::try_from(nth).unwrap()), nth == days - 1);
    }
    for (name, (writer, _)) in farm.files {
        files.insert(format!("{name}.csv"), writer.into_inner().unwrap());
    }
    files
}

fn text(day: Day) -> String {
    day.to_string()
}

impl Writing {
    /// One more record of a kind, its cells in the order the kind lists them.
    fn put(&mut self, name: &'static str, cells: &[&str], written: Moment) {
        let mark = self.dice.mark();
        let (zone, who) = (self.zone, if self.dice.below(3) == 0 { "Tobe" } else { "Mina" });
        let (writer, count) = self.files.entry(name).or_insert_with(|| {
            let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::Any(b'\n')).from_writer(Vec::new());
            let own = kind(name).unwrap().columns.iter().map(|column| column.name);
            writer.write_record(["number"].into_iter().chain(own).chain(["entry", "written", "who", "source", "version"])).unwrap();
            (writer, 0)
        });
        *count += 1;
        let (number, written) = (count.to_string(), zone.for_file(written));
        let row = [number.as_str()].into_iter().chain(cells.iter().copied()).chain([mark.as_str(), &written, who, "screen", "1"]);
        writer.write_record(row).unwrap();
    }

    fn at(&self, day: Day, minutes: i64) -> Moment {
        self.zone.start_of(day).plus_minutes(minutes)
    }

    fn file(&self, moment: Moment) -> String {
        self.zone.for_file(moment)
    }

    /// What a farm has once, taken from the sample farm and put back to the first day; its tickets and hours, year after year.
    fn once(&mut self, last: Day) -> Files {
        let mut files = Files::new();
        for (name, bytes) in sample::files() {
            let since =
                ["farm.csv", "rules.csv", "assumptions.csv", "stores.csv", "appliances.csv", "worths.csv", "terms.csv", "choices.csv"];
            if since.contains(&name.as_str()) || matches!(name.as_str(), "README.txt" | "what_ifs.csv") {
                files.insert(name, earlier(&bytes, self.first));
            } else if matches!(name.as_str(), "tickets.csv" | "minutes.csv" | "renewals.csv") {
                files.insert(name.clone(), self.every_year(&name, &bytes, last));
            }
        }
        files
    }

    fn every_year(&self, name: &str, bytes: &[u8], last: Day) -> Vec<u8> {
        let mut reader = csv::Reader::from_reader(bytes);
        let heading = reader.headers().unwrap().clone();
        let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
        let day_of = ["paid", "day", "done"].into_iter().find_map(|own| heading.iter().position(|name| name == own)).unwrap();
        let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::Any(b'\n')).from_writer(Vec::new());
        writer.write_record(&heading).unwrap();
        let mut number = 0;
        for back in 0.. {
            let to = last - Days::new(u64::try_from(back * A_YEAR).unwrap());
            if to < self.first {
                break;
            }
            for row in &rows {
                let day: Day = row[day_of].parse().unwrap();
                if (last - day).num_days() >= A_YEAR || (to - self.first).num_days() < (last - day).num_days() {
                    continue;
                }
                number += 1;
                let moved = |day: Day| text(day - Days::new(u64::try_from(back * A_YEAR).unwrap()));
                let cell = |(place, cell): (usize, &str)| match &heading[place] {
                    "number" => number.to_string(),
                    "cow" => String::new(),
                    "entry" if back > 0 => String::new(),
                    "written" => format!("{}{}", moved(cell[..10].parse().unwrap()), &cell[10..]),
                    _ => cell.parse().map_or_else(|_| cell.to_owned(), moved),
                };
                writer.write_record(row.iter().enumerate().map(cell)).unwrap();
            }
        }
        assert!(number > 0 || (last - self.first).num_days() < 40, "{name}");
        writer.into_inner().unwrap()
    }

    /// Cans, cows with their turns, households with their shares and papers.
    fn who_and_what(&mut self, days: i64) {
        let begun = self.at(self.first, 4 * 60);
        for can in 1..=CANS {
            self.put("vessels", &[&format!("Can {can}"), "can", "14.2 lb", "10 gal", "", &text(self.first)], begun);
        }
        for stay in 0..=days / STAY_DAYS {
            let since = self.first + Days::new(u64::try_from(stay * STAY_DAYS).unwrap());
            let until = since + Days::new(u64::try_from(STAY_DAYS).unwrap());
            let (written, gone) = (self.at(since, 4 * 60), if stay < days / STAY_DAYS { text(until) } else { String::new() });
            for stall in 0..COWS {
                self.cow(stay, stall, since, &gone);
            }
            // A cow leaves in the morning of the day; a household's last day is the one before.
            let gone = if gone.is_empty() { gone } else { text(until - Days::new(1)) };
            for nth in 0..HOUSEHOLDS {
                let label = household(stay, nth);
                let name = format!("{} {}", FAMILIES[nth % FAMILIES.len()], nth + 1);
                let weekday = ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"][nth % 7];
                let (phone, mail) = (format!("555-{:04}", nth + 100), format!("{}@example.org", label.to_lowercase()));
                self.put("people", &[&label, &name, "member", "herdshare", &phone, &mail, weekday, &text(since), &gone, ""], written);
                self.put("shares", &[&label, &format!("S{nth}"), "1", "8", "herdshare", &text(since), &gone, "", ""], written);
                for sort in ["bill of sale", "boarding agreement"] {
                    self.put("agreements", &[&label, sort, &text(since), &text(since), &gone, "", ""], written);
                }
            }
        }
    }

    fn cow(&mut self, stay: i64, stall: usize, since: Day, gone: &str) {
        let (name, tag) = (cow(stay, stall), format!("TD-{}", stay * 100 + i64::try_from(stall).unwrap()));
        let written = self.at(since, 4 * 60);
        self.put("cows", &[&name, &tag, &text(since - Days::new(1000)), "Jersey cross", "4", &text(since), ""], written);
        let price = ["2400.00", "900.00", "5", "100"];
        self.put("gear", &[&name, "cow", &name, &text(since), gone, price[0], price[1], price[2], price[3], "", "", ""], written);
        for year in 0..5 {
            let calved = self.at(since - Days::new(30), 5 * 60).plus_hours(year * 365 * 24);
            if calved <= self.zone.parse_moment(AFTERNOON).unwrap() && (year == 0 || calved < self.at(since, 0).plus_hours(STAY_DAYS * 24))
            {
                self.put("events", &[&name, &self.file(calved), "calved", "", ""], calved.plus_minutes(5).max(written));
                let joined = calved.plus_hours(7 * 24);
                if joined <= self.zone.parse_moment(AFTERNOON).unwrap() {
                    self.put("events", &[&name, &self.file(joined), "joined the can", "", ""], joined.plus_minutes(5).max(written));
                }
            }
        }
        if let Ok(gone) = gone.parse::<Day>() {
            let at = self.at(gone, 3 * 60);
            self.put("events", &[&name, &self.file(at), "left", "", ""], at.plus_minutes(5));
        }
    }

    fn day(&mut self, nth: i64, day: Day, today: bool) {
        let now = self.zone.parse_moment(AFTERNOON).unwrap();
        let stay = nth / STAY_DAYS;
        self.hand_out(stay, day, now);
        for morning in [true, false] {
            if !today || morning {
                self.milk(nth, stay, day, morning);
            }
        }
        if !today {
            self.count(day);
        }
        if day.day() == 1 {
            self.money(stay, day);
        }
        if nth % 25 == 0 {
            let at = self.at(day, 5 * 60);
            self.put("ice_checks", &["Jar probe 1", &self.file(at), "32 °F", ""], at.plus_minutes(1));
        }
        if matches!(day.day(), 3 | 17) {
            self.sample(day);
        }
    }

    /// A milking of twenty cows into ten cans, each filled into one lot, washed, chilled and read.
    fn milk(&mut self, nth: i64, stay: i64, day: Day, morning: bool) {
        let half = if morning { "AM" } else { "PM" };
        let begun = if morning { 330 } else { 1020 };
        let (started, ended) = (self.at(day, begun), self.at(day, begun + 55));
        let session = format!("{} {half}", text(day));
        self.put("milkings", &[&session, &self.file(started), &self.file(ended), "Mina", "yes", ""], ended.plus_minutes(1));
        for stall in 0..COWS {
            let tenths = 195 + self.dice.below(41);
            let milk = format!("{}.{} lb", tenths / 10, tenths % 10);
            let read = format!("{}.{} lb", (tenths + 38) / 10, (tenths + 38) % 10);
            let can = format!("Can {}", stall / 2 + 1);
            // One cow in the herd is treated every three weeks, and her milk is thrown out for seven milkings.
            let out = nth % 21 < 4 && stall == usize::try_from(nth / 21 % 20).unwrap() && (nth % 21 > 0 || !morning);
            let (went, into) = if out { ("thrown out", "") } else { ("can", can.as_str()) };
            self.put("pails", &[&session, &cow(stay, stall), &read, "3.8 lb", &milk, went, into, "ok"], ended);
            if nth % 21 == 0 && morning && stall == usize::try_from(nth / 21 % 20).unwrap() {
                let at = ended.plus_minutes(10);
                let cells =
                    [&cow(stay, stall), self.file(at).as_str(), "Udder tube for cows in milk", "U2093, 11/2027", "1 tube", "in the udder"]
                        .map(str::to_owned);
                let mut cells: Vec<&str> = cells.iter().map(String::as_str).collect();
                cells.extend(["right fore", "Mastitis, flakes", "Mina", "72", "", "", "", "10", "yes", "no"]);
                self.put("treatments", &cells, at.plus_minutes(2));
            }
        }
        for can in 0..CANS {
            self.fill(day, morning, can, (started, ended), &session);
        }
    }

    fn fill(&mut self, day: Day, morning: bool, can: usize, (started, ended): (Moment, Moment), session: &str) {
        let code = LotCode::of_fill(day, can + if morning { 0 } else { CANS }).unwrap().as_str().to_owned();
        let (vessel, filled) = (format!("Can {}", can + 1), ended.plus_minutes(8 + i64::try_from(can).unwrap()));
        self.put("lots", &[&code, &self.file(filled), &vessel, "0", "10", "0", "0", "0.5 lb", "yes", "", ""], filled.plus_minutes(1));
        self.put("sources", &[&by_day(&code, day), session, ""], filled.plus_minutes(1));
        // One reading in four hundred comes too late to prove anything.
        let read = ended.plus_minutes(if self.dice.below(400) == 0 { 150 } else { 95 + self.dice.minutes(15) });
        let degrees = format!("{}.{} °F", 36 + self.dice.below(4), self.dice.below(10));
        if read <= self.zone.parse_moment(AFTERNOON).unwrap() {
            self.put("chill", &[&code, &self.file(read), &degrees, "Jar probe 1", "33.5 °F"], read.plus_minutes(1));
        }
        // One washing in three hundred is forgotten.
        if self.dice.below(300) > 0 {
            let at = filled.plus_minutes(40);
            self.put("breaks", &[&vessel, &self.file(at), "yes", "yes", "alkali, chlorine 100 ppm", "Tobe"], at.plus_minutes(1));
        }
        let milked = format!("{}–{}", self.zone.clock(started), self.zone.clock(ended));
        let cows = format!("{}, {}", NAMES[can * 2], NAMES[can * 2 + 1]);
        let words = format!(
            "Milked {}, {milked}: {cows}. Chill: {degrees} at {}, within 2 h of milking's end. Treatment clocks: none running in this milk. Foremilk: ok. Filled {}. Holds: none.",
            text(day),
            self.zone.clock(read),
            self.zone.clock(filled)
        );
        self.standing.push(Standing { code, filled: day, morning, taken: 0, words });
    }

    /// The hand-outs of a day: a morning's lot goes the day after, an evening's half then and half the next day.
    fn hand_out(&mut self, stay: i64, day: Day, now: Moment) {
        let comers: Vec<usize> = (0..HOUSEHOLDS).filter(|nth| (nth + usize::try_from(day.num_days_from_ce()).unwrap()) % 7 < 2).collect();
        let mut standing = std::mem::take(&mut self.standing);
        let mut lines: Vec<(usize, usize, i64, Moment)> = Vec::new();
        for (place, lot) in standing.iter_mut().enumerate() {
            let until = if lot.morning || (day - lot.filled).num_days() > 1 { TAKEN.len() } else { 4 };
            while lot.taken < until {
                let at = self.at(day, 7 * 60 + i64::try_from(lines.len()).unwrap() * 4);
                if at > now {
                    break;
                }
                lines.push((comers[lines.len() % comers.len()], place, TAKEN[lot.taken], at));
                lot.taken += 1;
            }
        }
        if day.weekday() == chrono::Weekday::Sat {
            self.pack(stay, day, &standing, &lines);
        }
        for (comer, place, jars, at) in lines {
            // One in twenty walks in and says no name.
            let person = if self.dice.below(20) == 0 { String::new() } else { household(stay, comer) };
            let (when, taken, because, lot) = (self.file(at), jars.to_string(), "Cold in time, nothing held.", &standing[place]);
            let cells = [&when, &lot.code, &person, "0", &taken, "0", "0", "seen", "", "Can go", because, &lot.words, ""];
            self.put("pickups", &cells, at.plus_minutes(2));
        }
        for lot in standing {
            let at = self.at(day, 19 * 60);
            if lot.taken < TAKEN.len() || at > now {
                self.standing.push(lot);
            } else {
                self.put("asides", &[&self.file(at), &lot.code, "household", "0", "1", "0", "0", ""], at.plus_minutes(1));
            }
        }
    }

    /// A Saturday's crates, packed before anybody comes.
    fn pack(&mut self, stay: i64, day: Day, standing: &[Standing], lines: &[(usize, usize, i64, Moment)]) {
        let (at, on) = (self.at(day, 6 * 60), text(day));
        let (mut crates, mut portions) = (BTreeMap::<(usize, usize), i64>::new(), BTreeMap::<usize, i64>::new());
        for (comer, place, jars, _) in lines {
            *crates.entry((*comer, *place)).or_default() += jars;
            *portions.entry(*comer).or_default() += jars;
        }
        let ready = portions.values().sum::<i64>().to_string();
        self.put("packings", &[&on, &self.file(at), "pro rata", &ready, ""], at);
        for (comer, jars) in portions {
            let (label, jars) = (household(stay, comer), jars.to_string());
            self.put("portions", &[&on, &label, &jars, &jars, "0", &jars, ""], at);
        }
        for ((comer, place), jars) in crates {
            let lot = by_day(&standing[place].code, standing[place].filled);
            self.put("crates", &[&on, &household(stay, comer), &lot, &jars.to_string()], at);
        }
    }

    fn count(&mut self, day: Day) {
        let at = self.at(day, 20 * 60 + 30);
        let left: Vec<(String, String)> =
            self.standing.iter().map(|lot| (lot.code.clone(), (10 - TAKEN[..lot.taken].iter().sum::<i64>()).to_string())).collect();
        for (code, jars) in left {
            self.put("counts", &[&self.file(at), &code, "0", &jars, "0", "0", "Tobe"], at.plus_minutes(2));
        }
    }

    fn money(&mut self, stay: i64, day: Day) {
        let at = self.at(day, 20 * 60);
        for nth in 0..HOUSEHOLDS {
            let label = household(stay, nth);
            self.put(
                "transfers",
                &[&text(day), "boarding", "boarding", "household", &label, "160.00", "", &text(day), "", "", "1 × 160.00"],
                at,
            );
            if day + Days::new(6) <= LAST.parse::<Day>().unwrap() {
                let paid = day + Days::new(6);
                let cells = [text(paid), "payment".to_owned(), "household".to_owned(), "bank".to_owned(), label, "160.00".to_owned()];
                let cells: Vec<&str> = cells.iter().map(String::as_str).chain(["check", "", "", "", ""]).collect();
                self.put("transfers", &cells, self.at(paid, 20 * 60));
            }
        }
    }

    /// A lot's sample, and what the lab wrote of it four days on.
    fn sample(&mut self, day: Day) {
        let Some(code) = self.standing.last().map(|lot| lot.code.clone()) else { return };
        let (at, reported) = (self.at(day, 19 * 60 + 30), day + Days::new(4));
        let asked = "plate count, coliforms, somatic cells";
        self.put(
            "samples",
            &[&self.file(at), "lot", &code, "", "", asked, "", "", "Ferrier Valley Dairy Lab", "", "", ""],
            at.plus_minutes(5),
        );
        let sample = self.files["samples"].1.to_string();
        if reported <= LAST.parse::<Day>().unwrap() {
            let written = self.at(reported, 9 * 60);
            for (analyte, figure) in [("plate count", "1,900"), ("coliforms", "<1"), ("somatic cells", "147,000")] {
                self.put("results", &[&sample, analyte, figure, "per mL", "", "", "", &text(reported), ""], written);
            }
        }
    }
}

fn household(stay: i64, nth: usize) -> String {
    format!("M{}", stay * 1000 + i64::try_from(nth).unwrap() + 101)
}

fn cow(stay: i64, stall: usize) -> String {
    let name = NAMES[stall];
    if stay == 0 { name.to_owned() } else { format!("{name} {}", stay + 1) }
}

/// A lot by its code and the day it was filled: the code alone comes round again after ten years.
fn by_day(code: &str, filled: Day) -> String {
    format!("{code} {filled}")
}

/// The same file with its first days put back.
fn earlier(bytes: &[u8], first: Day) -> Vec<u8> {
    let Ok(words) = std::str::from_utf8(bytes) else { return bytes.to_vec() };
    words.replace("2025-09-01", &text(first)).into_bytes()
}
