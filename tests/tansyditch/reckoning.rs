//! What the cost rests on beside tickets: what is assumed and chosen, the usual week, the worth of an hour, and what draws current.

use super::{
    Farm, demo_day,
    pen::{Sign, day, row},
    tickets::billed,
};
use tallypail::trade::when::Day;

/// Name, figure, and where it comes from.
#[rustfmt::skip]
const ASSUMED: [(&str, &str, &str); 12] = [
    ("worth of an hour", "16.00", "What Mina would pay for the same work"),
    ("payroll burden %", "7.65", "Employer's part of payroll tax on Joss's pay"),
    ("interest %", "6", "What the farm loan costs"),
    ("death loss %", "2", "One cow in fifty a year, as extension budgets have it"),
    ("a half-gallon brings", "5.00", "Boarding shared over the jars, and the tin at the gate"),
    ("own land a month", "25.00", "What the neighbour would rent the near field for"),
    ("price of a kWh", "0.17", "The last bill, divided by what it says was drawn"),
    ("a quart of cream brings", "9.00", "What the families put in the tin for it"),
    ("a half-gallon of skim brings", "1.50", "As pig feed; the neighbour would give that"),
    ("weight of a cow, lb", "950", "Girth tape on all four, the mean; small cows"),
    ("fat %", "4.8", "Jerseys and crosses, common practice"),
    ("protein %", "3.7", "Jerseys and crosses, common practice"),
];

/// Way of reckoning, and why.
const CHOSEN: [(&str, &str); 2] = [
    ("cream as a by-product", "We skim only what is left over; what cream brings is taken off the milk."),
    ("household milk costs nothing", "The house drinks what would be left. The families pay for what they get."),
];

/// From, to, job, who, minutes in a usual week.
#[rustfmt::skip]
const USUAL: [(&str, &str, &str, &str, i64); 14] = [
    ("2025-09-01", "", "washing up", "Tobe", 112),
    ("2025-09-01", "", "washing up", "Lark", 42),
    ("2025-09-01", "", "washing up", "Mina", 58),
    ("2025-09-01", "", "filling", "Mina", 128),
    ("2025-09-01", "", "cow care", "Mina", 46),
    ("2025-09-01", "", "delivery", "Mina", 72),
    ("2025-09-01", "2025-10-19", "feeding", "Mina", 98),
    ("2025-09-01", "2025-10-19", "feeding", "Del", 40),
    ("2025-10-20", "2026-04-24", "feeding", "Mina", 150),
    ("2025-10-20", "2026-04-24", "feeding", "Del", 60),
    ("2026-04-25", "2026-10-17", "feeding", "Mina", 98),
    ("2026-04-25", "2026-10-17", "feeding", "Del", 40),
    ("2026-10-18", "", "feeding", "Mina", 150),
    ("2026-10-18", "", "feeding", "Del", 60),
];

/// Whose hour is worth something else, how much, and why.
const WORTHS: [(&str, &str, &str); 2] =
    [("Tobe", "10.00", "What he gets for stacking wood next door"), ("Lark", "7.00", "Ten years old; what a sitter's helper gets")];

/// Name, sort, kilowatts, minutes a day, gallons, from, to, efficiency, times, kilowatt-hours a year, note.
type Plate = [&'static str; 11];

/// What draws current for the milk. The barn's lamps and the water bowls hang on the same meter.
#[rustfmt::skip]
const PLATES: [Plate; 5] = [
    ["Vacuum pump", "motor", "0.75", "75", "", "", "", "", "", "", "One horsepower on the plate; two milkings and rinsing the line"],
    ["Water heater", "heats water", "", "", "16", "52 °F", "140 °F", "92", "", "", "Wash water, two milkings; the well is 52 °F all year"],
    ["Fridge, left", "so much a year", "", "", "", "", "", "", "", "610", "Its yellow label; it is the older one"],
    ["Fridge, right", "so much a year", "", "", "", "", "", "", "", "480", "Its yellow label"],
    ["Ice maker", "so much a year", "", "", "", "", "", "", "", "900", "A plug meter for a week in May, times 52"],
];

/// Name, what is changed, and a note.
const WHAT_IFS: [(&str, &str, &str); 2] = [
    ("Dear hay", "price of Hay +20 %", "What Underhill says a dry spring would do"),
    ("One more share", "hand out +2 a week", "Next on the list asks every month"),
];

impl Farm {
    /// What is taken for granted.
    pub fn reckoning(&mut self) {
        let sign = |pen: &super::Pen, clock: &str| Sign::screen(pen.at(day("2025-09-01"), clock), "Mina");
        for (name, figure, note) in ASSUMED {
            self.pen.write("assumptions", row![name, "2025-09-01", figure, note], sign(&self.pen, "20:02"));
        }
        for (choice, note) in CHOSEN {
            self.pen.write("choices", row!["2025-09-01", choice, note], sign(&self.pen, "20:05"));
        }
        for (since, until, job, who, minutes) in USUAL {
            let at = Sign::screen(self.pen.at(day(if until.is_empty() { since } else { until }), "20:06"), "Mina");
            self.pen.write("usual_weeks", row![since, until, job, who, minutes, ""], at);
        }
        for (who, worth, note) in WORTHS {
            self.pen.write("worths", row![who, "2025-09-01", worth, note], sign(&self.pen, "20:08"));
        }
        for [name, sort, kilowatts, minutes, gallons, from, to, efficiency, times, a_year, note] in PLATES {
            let line = row![name, "2025-09-01", "", sort, kilowatts, minutes, gallons, from, to, efficiency, times, a_year, note];
            self.pen.write("appliances", line, sign(&self.pen, "20:30"));
        }
        for (name, changes, note) in WHAT_IFS {
            self.pen.write(
                "what_ifs",
                row![name, "2026-11-14", changes, note],
                Sign::screen(self.pen.at(day("2026-11-14"), "20:50"), "Mina"),
            );
        }
        self.meter(demo_day());
    }

    /// The milk room's meter, read on the last evening of each month; a bill of the nineteenth is of the month before it.
    fn meter(&mut self, last: Day) {
        let mut reads = 4_118;
        for bill in (0..14).map(|month| day("2025-10-19") + chrono::Months::new(month)).take_while(|bill| *bill <= last) {
            let on = bill - chrono::Days::new(19);
            self.pen.write("meter_readings", row![on, reads, ""], Sign::screen(self.pen.at(on, "20:20"), "Mina"));
            reads += billed(bill + chrono::Months::new(1));
        }
    }
}
