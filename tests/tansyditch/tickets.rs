//! The ticket box: what was paid, and into which store it went.

use super::{
    Farm,
    desk::LAB,
    herd::COWS,
    pen::{Dice, Sign, day, row},
    stores,
};
use chrono::Datelike;
use tallypail::trade::when::Day;

/// Paid, sort, what, from, amount, quantity, unit, store, used from, used to, part for milk, guess.
type Ticket = (
    &'static str,
    &'static str,
    &'static str,
    &'static str,
    &'static str,
    &'static str,
    &'static str,
    &'static str,
    &'static str,
    &'static str,
    i64,
    &'static str,
);

/// Tickets that come once. What goes into a store costs as it leaves the store, so it needs no days of use.
#[rustfmt::skip]
const TICKETS: [Ticket; 48] = [
    ("2025-09-01", "feed", "Grain on hand at the start", "", "60.00", "3", "cwt", "2", "", "", 95, "yes"),
    ("2025-09-01", "feed", "Minerals on hand at the start", "", "17.00", "40", "lb", "3", "", "", 85, "yes"),
    ("2025-09-01", "jars and lids", "Lids on hand at the start", "", "42.00", "400", "lid", "4", "", "", 100, "yes"),
    ("2025-09-01", "jars and lids", "Spare jars on hand at the start", "", "190.00", "60", "jar", "5", "", "", 100, "yes"),
    ("2025-09-01", "supplies", "Filters on hand at the start", "", "6.00", "60", "piece", "6", "", "", 100, "yes"),
    ("2025-09-12", "feed", "Hay, first cutting", "Underhill Hay", "1140.00", "6", "ton", "1", "", "", 80, "no"),
    ("2025-12-13", "feed", "Hay, second cutting", "Underhill Hay", "1025.00", "5", "ton", "1", "", "", 80, "no"),
    ("2026-09-11", "feed", "Hay, first and second cutting", "Underhill Hay", "1780.00", "9", "ton", "1", "", "", 80, "no"),
    ("2026-04-20", "feed", "Pasture seed and lime", "Brook Street Mill", "186.00", "", "", "", "2026-04-20", "2026-10-17", 80, "no"),
    ("2025-10-03", "bedding", "Shavings", "Pinnock Sawmill", "118.00", "4", "yard", "", "2025-10-03", "2026-01-02", 85, "no"),
    ("2026-01-03", "bedding", "Shavings", "Pinnock Sawmill", "124.00", "4", "yard", "", "2026-01-03", "2026-04-02", 85, "no"),
    ("2026-04-03", "bedding", "Straw", "Underhill Hay", "96.00", "24", "bale", "", "2026-04-03", "2026-07-10", 85, "no"),
    ("2026-07-11", "bedding", "Shavings", "Pinnock Sawmill", "92.00", "3", "yard", "", "2026-07-11", "2026-10-09", 85, "no"),
    ("2026-10-10", "bedding", "Shavings", "Pinnock Sawmill", "130.00", "4", "yard", "", "2026-10-10", "2027-01-09", 85, "no"),
    ("2025-09-20", "jars and lids", "Lids, 3000", "Ember Glass", "315.00", "3000", "lid", "4", "", "", 100, "no"),
    ("2026-03-11", "jars and lids", "Lids, 3000", "Ember Glass", "330.00", "3000", "lid", "4", "", "", 100, "no"),
    ("2026-09-01", "jars and lids", "Lids, 3000", "Ember Glass", "330.00", "3000", "lid", "4", "", "", 100, "no"),
    ("2026-04-18", "jars and lids", "Half-gallon jars, 6 dozen", "Ember Glass", "241.20", "6", "dozen", "5", "", "", 100, "no"),
    ("2025-09-22", "supplies", "Filters, 2 boxes", "Clough Dairy Supply", "19.00", "2", "box", "6", "", "", 100, "no"),
    ("2025-12-08", "supplies", "Filters, 2 boxes", "Clough Dairy Supply", "19.00", "2", "box", "6", "", "", 100, "no"),
    ("2026-03-09", "supplies", "Filters, 2 boxes", "Clough Dairy Supply", "19.60", "2", "box", "6", "", "", 100, "no"),
    ("2026-06-08", "supplies", "Filters, 2 boxes", "Clough Dairy Supply", "19.60", "2", "box", "6", "", "", 100, "no"),
    ("2026-09-08", "supplies", "Filters, 2 boxes", "Clough Dairy Supply", "20.40", "2", "box", "6", "", "", 100, "no"),
    ("2025-11-18", "vet", "Herd test, four cows", "Pell Large Animal", "148.00", "4", "cow", "", "2025-11-18", "2026-11-17", 100, "no"),
    ("2026-01-15", "vet", "Calving check, Wren", "Pell Large Animal", "165.00", "1", "call", "", "", "", 100, "no"),
    ("2026-05-02", "vet", "Foot rot call, Wren", "Pell Large Animal", "142.50", "1", "call", "", "", "", 100, "no"),
    ("2026-10-12", "vet", "Mastitis tubes, Damson", "Pell Large Animal", "58.40", "3", "tube", "", "", "", 100, "no"),
    ("2026-11-17", "vet", "Herd test, four cows", "Pell Large Animal", "152.00", "4", "cow", "", "2026-11-18", "2027-11-17", 100, "no"),
    ("2025-10-27", "breeding", "Straw and technician, Damson", "Harrow Breeding", "44.00", "1", "straw", "", "", "", 100, "no"),
    ("2026-02-21", "breeding", "Straws and technician, Thimble", "Harrow Breeding", "64.00", "2", "straw", "", "", "", 100, "no"),
    ("2026-04-20", "breeding", "Straw and technician, Wren", "Harrow Breeding", "46.00", "1", "straw", "", "", "", 100, "no"),
    ("2026-07-06", "breeding", "Straws and technician, Kettle", "Harrow Breeding", "64.00", "2", "straw", "", "", "", 100, "no"),
    ("2026-10-26", "breeding", "Straw and technician, Damson", "Harrow Breeding", "46.00", "1", "straw", "", "", "", 100, "no"),
    ("2026-03-09", "lab", "Well water test", "Ferrier Valley Dairy Lab", "38.00", "1", "test", "", "2026-03-09", "2027-03-08", 100, "no"),
    ("2026-08-25", "lab", "Four organisms, kept jar", "Ferrier Valley Dairy Lab", "120.00", "1", "test", "", "", "", 100, "no"),
    ("2026-01-05", "insurance", "Farm and liability, a year", "Whitlow Mutual", "812.00", "1", "year", "", "2026-01-01", "2026-12-31", 75, "no"),
    ("2026-01-12", "permit", "Farm-gate permit, a year", "Tansy County", "75.00", "1", "year", "", "2026-01-12", "2027-01-11", 100, "no"),
    ("2025-10-30", "repairs", "Pulsator kit", "Clough Dairy Supply", "96.00", "1", "kit", "", "", "", 100, "no"),
    ("2026-02-17", "repairs", "Fridge thermostat", "R. Mayhew", "118.00", "1", "call", "", "", "", 100, "no"),
    ("2026-05-14", "repairs", "Inflations and hoses", "Clough Dairy Supply", "138.00", "1", "set", "", "2026-05-14", "2027-05-13", 100, "no"),
    ("2026-06-29", "repairs", "Fence posts and wire", "Brook Street Mill", "164.00", "", "", "", "", "", 70, "no"),
    ("2026-07-10", "repairs", "Ice maker pump", "R. Mayhew", "87.00", "1", "call", "", "", "", 100, "no"),
    ("2026-04-01", "land", "Rent of the lower field, a season", "Neighbour", "320.00", "1", "season", "", "2026-04-20", "2026-10-17", 80, "no"),
    ("2025-11-14", "calf sold", "Heifer calf of Thimble", "Neighbour", "-260.00", "1", "calf", "", "", "", 100, "no"),
    ("2026-03-20", "calf kept", "Heifer calf of Wren, weaned and kept", "", "-275.00", "1", "calf", "", "", "", 100, "yes"),
    ("2026-06-19", "calf sold", "Heifer calf of Kettle", "Sale barn", "-214.00", "1", "calf", "", "", "", 100, "no"),
    ("2026-03-16", "other", "Printed agreements and lid markers", "Quire & Co.", "46.50", "", "", "", "", "", 100, "no"),
    ("2026-09-08", "other", "Practice call-back: postage", "Post office", "11.20", "", "", "", "", "", 100, "no"),
];

/// Day, sort, what, from, least and most cents, unit, store, part for milk, guess. Of grain the cents are those of a hundredweight.
type Monthly = (u32, &'static str, &'static str, &'static str, i64, i64, &'static str, &'static str, i64, &'static str);

/// What is paid every month.
#[rustfmt::skip]
const MONTHLY: [Monthly; 6] = [
    (6, "feed", "Dairy grain, 16 %", "Brook Street Mill", 1_940, 2_060, "cwt", "2", 95, "no"),
    (8, "supplies", "Dip, wash, towels", "Clough Dairy Supply", 3_800, 5_200, "", "", 100, "no"),
    (9, "lab", "Plate count, coliform, cell count", LAB, 4_200, 4_200, "sample", "", 100, "no"),
    (19, "power", "Electricity, milk room meter", "Vale Electric", 6_200, 8_800, "kWh", "", 70, "no"),
    (28, "driving", "To the mill and the post", "", 2_400, 3_800, "mile", "", 100, "yes"),
    (21, "feed", "Salt and minerals", "Brook Street Mill", 1_600, 2_600, "bag", "3", 85, "no"),
];

/// The month whose bill for electricity has not come yet.
const NO_BILL_YET: &str = "2026-11-19";

/// The kilowatt-hours on the bill that comes on a day.
pub fn billed(paid: Day) -> i64 {
    Dice::of("Electricity, milk room meter", paid).between(6_200, 8_800) / 17
}

/// The days of the months the farm writes, by the day of the month that something is paid.
fn months(on: u32) -> impl Iterator<Item = Day> {
    (0..15u32).map(move |month| Day::from_ymd_opt(if month < 4 { 2025 } else { 2026 }, (8 + month) % 12 + 1, on).unwrap())
}

fn monthly() -> Vec<(Day, [String; 12])> {
    let mut lines = Vec::new();
    let mut grain = stores::Bin::at_the_start();
    for (on, sort, what, from, least, most, unit, store, share, guess) in MONTHLY {
        for paid in months(on).filter(|paid| *paid != day(NO_BILL_YET)) {
            let mut cents = Dice::of(what, paid).between(least, most);
            let count = match unit {
                "cwt" => {
                    let bought = grain.bought(paid);
                    cents *= bought;
                    bought.to_string()
                }
                "kWh" => billed(paid).to_string(),
                "mile" => (cents / 70).to_string(),
                "" => String::new(),
                _ => "1".to_owned(),
            };
            let amount = format!("{}.{:02}", cents / 100, cents % 100);
            let line = [&paid.to_string(), sort, what, from, &amount, &count, unit, store, "", "", &share.to_string(), guess];
            lines.push((paid, line.map(str::to_owned)));
        }
    }
    lines
}

/// What bank and tin paid out by the farm's own papers: the month, how many cents more than the tickets, and a note.
const BANK: [(&str, i64, &str); 3] = [
    ("2026-02-01", 0, "Bank paper and tin book, added up"),
    ("2026-04-01", 0, "Bank paper and tin book, added up"),
    ("2026-07-01", 640, "6.40 more than the tickets: something small from the mill, I think"),
];

impl Farm {
    /// Tickets, in the order they were paid.
    pub fn tickets(&mut self, last: Day) {
        let once = TICKETS.iter().map(|own| {
            (
                day(own.0),
                [own.0, own.1, own.2, own.3, own.4, own.5, own.6, own.7, own.8, own.9, &own.10.to_string(), own.11].map(str::to_owned),
            )
        });
        let mut lines: Vec<(Day, [String; 12])> = once.chain(monthly()).filter(|(paid, _)| *paid <= last).collect();
        lines.sort();
        for (paid, line) in &lines {
            let desk = self.pen.at(*paid, "21:20").plus_minutes(60 * 24 * Dice::of(&line[2], *paid).between(0, 3));
            let [paid, sort, what, from, amount, count, unit, store, since, until, share, guess] = line;
            // What was paid for one cow names her: a straw, a call, her calf.
            let named = COWS.iter().position(|cow| what.contains(cow.0)).map(|place| (place + 1).to_string()).unwrap_or_default();
            let line = row![paid, sort, what, from, amount, count, unit, store, named, since, until, share, guess];
            self.pen.write("tickets", line, Sign::from(desk.min(self.pen.at(last, "14:00")), "Mina", "ticket box"));
        }
        self.bank(&lines);
    }

    /// Some months held beside what went out by bank and tin.
    fn bank(&mut self, lines: &[(Day, [String; 12])]) {
        for (month, more, note) in BANK {
            let since = day(month);
            let until = since + chrono::Months::new(1) - chrono::Days::new(1);
            let paid = lines.iter().filter(|(paid, _)| paid.month() == since.month() && paid.year() == since.year());
            let cents: i64 = paid.map(|(_, line)| line[4].replace('.', "").parse::<i64>().unwrap()).sum::<i64>() + more;
            let amount = format!("{}.{:02}", cents / 100, cents % 100);
            let desk = self.pen.at(until + chrono::Days::new(9), "20:55");
            self.pen.write("bank_totals", row![since, until, amount, note], Sign::screen(desk, "Mina"));
        }
    }
}
