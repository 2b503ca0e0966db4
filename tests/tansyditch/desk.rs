//! The desk: the farm itself, its rules, gear, minutes and the one complaint.

use super::{
    Farm, herd,
    milkroom::May,
    pen::{Dice, Sign, day, row},
};
use tallypail::trade::{records::Record, rules, when::Day};

const INSURER: &str = "Tansy Hills Farm Mutual, 555-0193";
const HEALTH: &str = "Tansy County Health Department, 555-0191; after hours 555-0192";
/// The lab the farm posts its bottles to.
pub const LAB: &str = "Ferrier Valley Dairy Lab";
/// The member who told of loose stomachs, and when.
pub const COMPLAINT: &str = "2026-08-20";

/// Name, sort, cow, bought, price, salvage, years, part for milk, what it serves.
type Thing = (&'static str, &'static str, &'static str, &'static str, &'static str, &'static str, i64, i64, &'static str);

/// What wears out.
#[rustfmt::skip]
const GEAR: [Thing; 15] = [
    ("Bucket milking machine", "gear", "", "2022-03-10", "2650.00", "300.00", 8, 100, "milking"),
    ("Fridge, left", "gear", "", "2022-04-02", "680.00", "0.00", 8, 100, "chilling"),
    ("Fridge, right", "gear", "", "2024-05-11", "740.00", "0.00", 8, 100, "chilling"),
    ("Cans and bucket", "gear", "", "2022-03-10", "460.00", "60.00", 10, 100, "milking"),
    ("Hanging scale", "gear", "", "2023-01-20", "140.00", "0.00", 7, 100, "milking"),
    ("Slush tank and ice maker", "gear", "", "2023-05-06", "1480.00", "150.00", 8, 100, "chilling"),
    ("Water heater", "gear", "", "2021-11-15", "620.00", "0.00", 8, 90, "milking"),
    ("Milk room fitting-out", "gear", "", "2022-02-20", "6200.00", "0.00", 20, 100, "jars"),
    ("Barn roof and stanchions", "gear", "", "2019-08-01", "9600.00", "0.00", 25, 75, "barn and land"),
    ("Concrete apron and drain", "gear", "", "2022-06-18", "4500.00", "0.00", 15, 100, "barn and land"),
    ("Fences and lane", "gear", "", "2021-05-10", "4200.00", "0.00", 15, 80, "barn and land"),
    ("Damson", "cow", "1", "2022-03-12", "2600.00", "900.00", 5, 100, ""),
    ("Kettle", "cow", "2", "2023-02-04", "2700.00", "900.00", 5, 100, ""),
    ("Wren", "cow", "3", "2020-09-30", "2100.00", "800.00", 7, 100, ""),
    ("Thimble", "cow", "4", "2024-06-15", "2800.00", "900.00", 5, 100, ""),
];

/// What is timed every week: job, who, minutes. The rest is the usual week's.
const TIMED: [(&str, &str, i64); 3] = [("milking", "Mina", 316), ("milking", "Del", 40), ("records", "Mina", 58)];

impl Farm {
    /// The farm, the rules it follows, and what it takes for granted.
    pub fn set_up(&mut self) {
        let sign = || Sign::screen(self.pen.at(day("2025-09-01"), "20:02"), "Mina");
        let (sign, vet) = (sign(), "Dr. Ansgar Pell, Pell Large Animal, 555-0190");
        self.pen.write(
            "farm",
            row![
                "Tansyditch Farm",
                "2025-09-01",
                "America/New_York",
                "°F",
                "Tansyditch Lane",
                "555-0100",
                vet,
                HEALTH,
                INSURER,
                "45 °F",
                2,
                ""
            ],
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
        for (name, sort, cow, bought, price, salvage, years, share, serves) in GEAR {
            self.pen.write(
                "gear",
                row![name, sort, cow, bought, "", price, salvage, years, share, serves, "", ""],
                Sign::from(sign.written, "Mina", "gear list"),
            );
        }
    }

    /// The week's minutes on Sundays, and Joss's hour when he milked.
    pub fn minutes(&mut self, on: Day) {
        if herd::JOSS.contains(&on.to_string().as_str()) {
            let line = row![on, "milking", "Joss", 80, "the day", "18.00", "no"];
            self.pen.write("minutes", line, Sign::screen(self.pen.at(on, "07:40"), "Joss"));
        }
        if on.format("%a").to_string() == "Sun" {
            let desk = self.pen.at(on, "21:25");
            for (job, who, usual) in TIMED {
                let minutes = usual + Dice::of(job, on).between(-18, 18);
                self.pen.write("minutes", row![on, job, who, minutes, "the week", "", "no"], Sign::screen(desk, "Mina"));
            }
        }
    }

    /// The complaint's end, in a morning.
    pub fn complaint_over(&mut self, on: Day) {
        if on == day("2026-08-25") {
            let at = self.pen.at(on, "09:10");
            for (hold, lot) in std::mem::take(&mut self.complaint_holds) {
                let reason = "Lab of 24 August: none of four found in the kept jar; the department closed its file";
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
        let line = row![self.pen.typed(told), 5, "", "", "2026-08-18", says, "2026-08-19", "no", "Del"];
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
