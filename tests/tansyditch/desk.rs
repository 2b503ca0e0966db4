//! The desk: the farm itself, its rules, tickets, gear, minutes and the one complaint.

use super::{
    Farm, herd,
    milkroom::May,
    pen::{Dice, Sign, day, row},
};
use tallypail::trade::{records::Record, rules, when::Day};

const HEALTH: &str = "Tansy County Health Department, 555-0191; after hours 555-0192";
/// The lab the farm posts its bottles to.
pub const LAB: &str = "Ferrier Valley Dairy Lab";
/// The member who told of loose stomachs, and when.
pub const COMPLAINT: &str = "2026-08-20";

/// Paid, sort, what, from, amount, quantity, unit, used from, used to, part for milk, guess.
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
    i64,
    &'static str,
);

/// Tickets that come once.
#[rustfmt::skip]
const TICKETS: [Ticket; 37] = [
    ("2025-09-12", "feed", "Hay, first cutting", "Underhill Hay", "1140.00", "6", "ton", "2025-10-20", "2026-01-31", 80, "no"),
    ("2025-12-13", "feed", "Hay, second cutting", "Underhill Hay", "1025.00", "5", "ton", "2026-02-01", "2026-04-25", 80, "no"),
    ("2026-09-11", "feed", "Hay, first and second cutting", "Underhill Hay", "1780.00", "9", "ton", "2026-10-18", "2027-04-20", 80, "no"),
    ("2026-04-20", "feed", "Pasture seed and lime", "Brook Street Mill", "186.00", "", "", "2026-04-20", "2026-10-17", 80, "no"),
    ("2025-10-03", "bedding", "Shavings", "Pinnock Sawmill", "118.00", "4", "yard", "2025-10-03", "2026-01-02", 85, "no"),
    ("2026-01-03", "bedding", "Shavings", "Pinnock Sawmill", "124.00", "4", "yard", "2026-01-03", "2026-04-02", 85, "no"),
    ("2026-04-03", "bedding", "Straw", "Underhill Hay", "96.00", "24", "bale", "2026-04-03", "2026-07-10", 85, "no"),
    ("2026-07-11", "bedding", "Shavings", "Pinnock Sawmill", "92.00", "3", "yard", "2026-07-11", "2026-10-09", 85, "no"),
    ("2026-10-10", "bedding", "Shavings", "Pinnock Sawmill", "130.00", "4", "yard", "2026-10-10", "2027-01-09", 85, "no"),
    ("2025-09-20", "jars and lids", "Lids, 2400", "Ember Glass", "252.00", "2400", "lid", "2025-09-20", "2026-03-10", 100, "no"),
    ("2026-03-11", "jars and lids", "Lids, 2400", "Ember Glass", "264.00", "2400", "lid", "2026-03-11", "2026-08-31", 100, "no"),
    ("2026-09-01", "jars and lids", "Lids, 2400", "Ember Glass", "264.00", "2400", "lid", "2026-09-01", "2027-02-20", 100, "no"),
    ("2026-04-18", "jars and lids", "Half-gallon jars, 6 dozen", "Ember Glass", "241.20", "72", "jar", "2026-04-18", "2027-04-17", 100, "no"),
    ("2025-11-18", "vet", "Herd test, four cows", "Pell Large Animal", "148.00", "4", "cow", "2025-11-18", "2026-11-17", 100, "no"),
    ("2026-01-15", "vet", "Calving check, Wren", "Pell Large Animal", "165.00", "1", "call", "", "", 100, "no"),
    ("2026-05-02", "vet", "Foot rot call, Wren", "Pell Large Animal", "142.50", "1", "call", "", "", 100, "no"),
    ("2026-10-12", "vet", "Mastitis tubes, Damson", "Pell Large Animal", "58.40", "3", "tube", "", "", 100, "no"),
    ("2026-11-17", "vet", "Herd test, four cows", "Pell Large Animal", "152.00", "4", "cow", "2026-11-18", "2027-11-17", 100, "no"),
    ("2025-10-27", "breeding", "Straw and technician, Damson", "Harrow Breeding", "44.00", "1", "straw", "", "", 100, "no"),
    ("2026-02-21", "breeding", "Straws and technician, Thimble", "Harrow Breeding", "64.00", "2", "straw", "", "", 100, "no"),
    ("2026-04-20", "breeding", "Straw and technician, Wren", "Harrow Breeding", "46.00", "1", "straw", "", "", 100, "no"),
    ("2026-07-06", "breeding", "Straws and technician, Kettle", "Harrow Breeding", "64.00", "2", "straw", "", "", 100, "no"),
    ("2026-10-26", "breeding", "Straw and technician, Damson", "Harrow Breeding", "46.00", "1", "straw", "", "", 100, "no"),
    ("2026-03-09", "lab", "Well water test", "Ferrier Valley Dairy Lab", "38.00", "1", "test", "2026-03-09", "2027-03-08", 100, "no"),
    ("2026-08-25", "lab", "Four organisms, kept jar", "Ferrier Valley Dairy Lab", "120.00", "1", "test", "", "", 100, "no"),
    ("2026-01-05", "insurance", "Farm and liability, a year", "Whitlow Mutual", "812.00", "1", "year", "2026-01-01", "2026-12-31", 75, "no"),
    ("2026-01-12", "permit", "Farm-gate permit, a year", "Tansy County", "75.00", "1", "year", "2026-01-12", "2027-01-11", 100, "no"),
    ("2025-10-30", "repairs", "Pulsator kit", "Clough Dairy Supply", "96.00", "1", "kit", "", "", 100, "no"),
    ("2026-02-17", "repairs", "Fridge thermostat", "R. Mayhew", "118.00", "1", "call", "", "", 100, "no"),
    ("2026-05-14", "repairs", "Inflations and hoses", "Clough Dairy Supply", "138.00", "1", "set", "2026-05-14", "2027-05-13", 100, "no"),
    ("2026-06-29", "repairs", "Fence posts and wire", "Brook Street Mill", "164.00", "", "", "", "", 70, "no"),
    ("2026-07-10", "repairs", "Ice maker pump", "R. Mayhew", "87.00", "1", "call", "", "", 100, "no"),
    ("2026-04-01", "land", "Rent of the lower field, a season", "Neighbour", "320.00", "1", "season", "2026-04-20", "2026-10-17", 80, "no"),
    ("2025-11-14", "calf sold", "Heifer calf of Thimble", "Neighbour", "-260.00", "1", "calf", "", "", 100, "no"),
    ("2026-06-19", "calf sold", "Bull calf of Kettle", "Sale barn", "-214.00", "1", "calf", "", "", 100, "no"),
    ("2026-03-16", "other", "Printed agreements and lid markers", "Quire & Co.", "46.50", "", "", "", "", 100, "no"),
    ("2026-09-08", "other", "Practice call-back: postage", "Post office", "11.20", "", "", "", "", 100, "no"),
];

/// Day, sort, what, from, least and most cents, unit, part for milk, guess.
type Monthly = (u32, &'static str, &'static str, &'static str, i64, i64, &'static str, i64, &'static str);

/// What is paid every month.
#[rustfmt::skip]
const MONTHLY: [Monthly; 6] = [
    (6, "feed", "Dairy grain, 16 %", "Brook Street Mill", 15_800, 19_600, "cwt", 95, "no"),
    (8, "supplies", "Filters, dip, wash, towels", "Clough Dairy Supply", 4_400, 5_900, "", 100, "no"),
    (9, "lab", "Plate count, coliform, cell count", LAB, 4_200, 4_200, "sample", 100, "no"),
    (19, "power", "Electricity, milk room meter", "Vale Electric", 6_200, 8_800, "kWh", 70, "no"),
    (28, "driving", "To the mill and the post", "", 2_400, 3_800, "mile", 100, "yes"),
    (21, "feed", "Salt and minerals", "Brook Street Mill", 1_600, 2_600, "bag", 85, "no"),
];

/// Name, sort, cow, bought, price, salvage, years, part for milk.
type Thing = (&'static str, &'static str, &'static str, &'static str, &'static str, &'static str, i64, i64);

/// What wears out.
#[rustfmt::skip]
const GEAR: [Thing; 15] = [
    ("Bucket milking machine", "gear", "", "2022-03-10", "2650.00", "300.00", 8, 100),
    ("Fridge, left", "gear", "", "2022-04-02", "680.00", "0.00", 8, 100),
    ("Fridge, right", "gear", "", "2024-05-11", "740.00", "0.00", 8, 100),
    ("Cans and bucket", "gear", "", "2022-03-10", "460.00", "60.00", 10, 100),
    ("Hanging scale", "gear", "", "2023-01-20", "140.00", "0.00", 7, 100),
    ("Slush tank and ice maker", "gear", "", "2023-05-06", "1480.00", "150.00", 8, 100),
    ("Water heater", "gear", "", "2021-11-15", "620.00", "0.00", 8, 90),
    ("Milk room fitting-out", "gear", "", "2022-02-20", "6200.00", "0.00", 20, 100),
    ("Barn roof and stanchions", "gear", "", "2019-08-01", "9600.00", "0.00", 25, 75),
    ("Concrete apron and drain", "gear", "", "2022-06-18", "4500.00", "0.00", 15, 100),
    ("Fences and lane", "gear", "", "2021-05-10", "4200.00", "0.00", 15, 80),
    ("Damson", "cow", "1", "2022-03-12", "2600.00", "900.00", 5, 100),
    ("Kettle", "cow", "2", "2023-02-04", "2700.00", "900.00", 5, 100),
    ("Wren", "cow", "3", "2020-09-30", "2100.00", "800.00", 7, 100),
    ("Thimble", "cow", "4", "2024-06-15", "2800.00", "900.00", 5, 100),
];

/// Job, who, minutes in a usual week, a guess.
const WEEK: [(&str, &str, i64, &str); 11] = [
    ("milking", "Mina", 316, "no"),
    ("milking", "Del", 40, "no"),
    ("washing up", "Tobe", 112, "yes"),
    ("washing up", "Lark", 42, "yes"),
    ("washing up", "Mina", 58, "yes"),
    ("filling", "Mina", 128, "yes"),
    ("feeding", "Mina", 124, "yes"),
    ("feeding", "Del", 50, "yes"),
    ("cow care", "Mina", 46, "yes"),
    ("delivery", "Mina", 72, "yes"),
    ("records", "Mina", 58, "no"),
];

impl Farm {
    /// The farm, the rules it follows, and what it takes for granted.
    pub fn set_up(&mut self) {
        let sign = || Sign::screen(self.pen.at(day("2025-09-01"), "20:02"), "Mina");
        let (sign, vet) = (sign(), "Dr. Ansgar Pell, Pell Large Animal, 555-0190");
        self.pen.write(
            "farm",
            row!["Tansyditch Farm", "2025-09-01", "America/New_York", "°F", "Tansyditch Lane", "555-0100", vet, HEALTH],
            sign.clone(),
        );
        let set = rules::places().unwrap().into_iter().find(|set| set.id == "default-conservative").unwrap();
        let notes = format!(
            "{}\nBest by ten days from the oldest milking is Mina's own choice, and so is the score of a strip test.",
            set.notes.join("\n")
        );
        let resample = set.resample.as_ref().unwrap();
        let (years, _, _) = set.keep_years.as_ref().unwrap();
        let channels = set.channels.to_string();
        assert!(["farm gate", "herdshare"].iter().all(|way| channels.contains(way)), "every household's way is allowed");
        let rules = row![
            set.id,
            "2025-09-01",
            set.title,
            set.citation,
            "",
            set.text_date,
            "our own choice",
            "",
            channels,
            set.needs,
            set.steps,
            set.limits,
            set.tests,
            "",
            resample.not_before_days,
            resample.within_days,
            "",
            5,
            "",
            "1",
            10,
            "oldest milking",
            years,
            notes,
            "2027-01-15",
            ""
        ];
        self.pen.write("rules", rules, sign.clone());
        for (name, figure, note) in [
            ("worth of an hour", "16.00", "What Mina would pay for the same work"),
            ("payroll burden %", "7.65", "Employer's part of payroll tax on Joss's pay"),
            ("interest %", "6", "What the farm loan costs"),
            ("death loss %", "2", "One cow in fifty a year, as extension budgets have it"),
            ("a half-gallon brings", "5.00", "Boarding shared over the jars, and the tin at the gate"),
            ("own land a month", "25.00", "What the neighbour would rent the near field for"),
        ] {
            self.pen.write("assumptions", row![name, "2025-09-01", figure, note], sign.clone());
        }
        for (name, sort, cow, bought, price, salvage, years, share) in GEAR {
            self.pen.write(
                "gear",
                row![name, sort, cow, bought, "", price, salvage, years, share],
                Sign::from(sign.written, "Mina", "gear list"),
            );
        }
    }

    /// Tickets, in the order they were paid.
    pub fn tickets(&mut self, last: Day) {
        let mut lines: Vec<(Day, [String; 11])> = TICKETS
            .iter()
            .map(|own| {
                (day(own.0), [own.0, own.1, own.2, own.3, own.4, own.5, own.6, own.7, own.8, &own.9.to_string(), own.10].map(str::to_owned))
            })
            .collect();
        for month in 0..15u32 {
            let (year, month) = (if month < 4 { 2025 } else { 2026 }, (8 + month) % 12 + 1);
            for (on, sort, what, from, least, most, unit, share, guess) in MONTHLY {
                let paid = Day::from_ymd_opt(year, month, on).unwrap();
                let cents = Dice::of(what, paid).between(least, most);
                let amount = format!("{}.{:02}", cents / 100, cents % 100);
                let count = match unit {
                    "cwt" => format!("{}.{}", cents / 1980, cents * 10 / 1980 % 10),
                    "kWh" => (cents / 17).to_string(),
                    "mile" => (cents / 70).to_string(),
                    "" => String::new(),
                    _ => "1".to_owned(),
                };
                lines.push((
                    paid,
                    [
                        paid.to_string(),
                        sort.to_owned(),
                        what.to_owned(),
                        from.to_owned(),
                        amount,
                        count,
                        unit.to_owned(),
                        String::new(),
                        String::new(),
                        share.to_string(),
                        guess.to_owned(),
                    ],
                ));
            }
        }
        lines.sort();
        for (paid, line) in lines.into_iter().filter(|(paid, _)| *paid <= last) {
            let desk = self.pen.at(paid, "21:20").plus_minutes(60 * 24 * Dice::of(&line[2], paid).between(0, 3));
            self.pen.write("tickets", &line, Sign::from(desk.min(self.pen.at(last, "14:00")), "Mina", "ticket box"));
        }
    }

    /// The week's minutes on Sundays, and Joss's hour when he milked.
    pub fn minutes(&mut self, on: Day) {
        if herd::JOSS.contains(&on.to_string().as_str()) {
            self.pen.write("minutes", row![on, "milking", "Joss", 80, "18.00", "no"], Sign::screen(self.pen.at(on, "07:40"), "Joss"));
        }
        if on.format("%a").to_string() == "Sun" {
            let desk = self.pen.at(on, "21:25");
            for (job, who, usual, guess) in WEEK {
                let minutes = if guess == "yes" { usual } else { usual + Dice::of(job, on).between(-18, 18) };
                self.pen.write("minutes", row![on, job, who, minutes, "", guess], Sign::screen(desk, "Mina"));
            }
        }
    }

    /// The complaint's end, in a morning.
    pub fn complaint_over(&mut self, on: Day) {
        if on == day("2026-08-25") {
            let at = self.pen.at(on, "09:10");
            for (hold, lot) in std::mem::take(&mut self.complaint_holds) {
                let reason = "Lab of 24 August: none of four found in the kept jar; children well since Friday";
                self.pen.write("lifts", row![hold, self.pen.typed(at), reason], Sign::screen(at.plus_minutes(1), "Mina"));
                self.fridge.iter_mut().filter(|shelf| shelf.lot == lot).for_each(|shelf| shelf.may = May::Go);
            }
        }
    }

    /// The one complaint, and the hold Del put on every lot that could have been in that jar.
    pub fn complaint(&mut self, on: Day) {
        if on != day(COMPLAINT) {
            return;
        }
        let told = self.pen.at(on, "19:44");
        let says = "Both children loose since Wednesday noon, no fever. One jar is half drunk and kept cold; the lid was washed. Not frozen, shared or made into anything. Asked to keep the jar.";
        let line = row![self.pen.typed(told), 5, "", "2026-08-18", says, "2026-08-19", "no", "Del"];
        self.pen.write("complaints", line, Sign::screen(told.plus_minutes(9), "Del"));
        // Every lot counted the evening before that pickup, and the morning's own.
        let on_hand = self.pen.at(day("2026-08-17"), "20:00").in_seconds()..self.pen.at(day("2026-08-18"), "12:00").in_seconds();
        let counted = |record: &&Record, at: usize, jars: usize| {
            record.cells[at].whole().is_some_and(|at| on_hand.contains(&at)) && record.cells[jars].whole() > Some(0)
        };
        let before = self.pen.book.of("counts").iter().filter(|count| counted(count, 0, 3)).filter_map(|count| count.cells[1].whole());
        let lots: Vec<i64> = before.chain(self.pen.book.of("lots").iter().filter(|lot| counted(lot, 1, 4)).map(|lot| lot.number)).collect();
        for lot in lots {
            let line = row![self.pen.typed(told.plus_minutes(1)), "lot", lot, "", "", "Complaint: could be in that jar"];
            let hold = self.pen.write("holds", line, Sign::screen(told.plus_minutes(1), "Del"));
            self.complaint_holds.push((hold, lot));
            self.fridge.iter_mut().filter(|shelf| shelf.lot == lot).for_each(|shelf| shelf.may = May::Held);
        }
    }
}
