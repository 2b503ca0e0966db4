//! The lab: bottles of milk and of water, what was found in them, and the one that was over.

use super::{
    Farm, demo_day,
    desk::LAB,
    herd::{COWS, days_in_milk},
    milkroom::{May, chrono_days},
    pen::{Dice, Sign, day, row},
};
use tallypail::trade::{records::Cell, when::Day};

const FOUR: [&str; 4] = ["Salmonella", "Listeria monocytogenes", "Campylobacter", "E. coli O157:H7"];
/// The bottle with too many coliforms: drawn on a Tuesday, told on the Friday evening, with jars of that milk still there.
const OVER: &str = "2026-09-15";
/// The bottle drawn after the cause was found.
const DRAWN_AGAIN: &str = "2026-09-22";
/// The bottle with the high plate count, in the heat.
const HIGH: &str = "2026-07-07";
/// The months a panel of four organisms is asked for.
const PANEL: [&str; 4] = ["03", "06", "09", "12"];
/// Days the water is drawn.
const WATER: [&str; 3] = ["2025-09-15", "2026-03-05", "2026-09-14"];

/// One thing the lab was asked for, and what it wrote.
struct Found {
    analyte: &'static str,
    figure: String,
    unit: &'static str,
    plates: String,
    note: &'static str,
}

impl Found {
    fn of(analyte: &'static str, figure: impl Into<String>, unit: &'static str) -> Found {
        Found { analyte, figure: figure.into(), unit, plates: String::new(), note: "" }
    }
}

/// A bottle: the clock it was drawn at, what of, and the letter behind the day in the lab's reference.
struct Bottle {
    clock: &'static str,
    subject: &'static str,
    of: i64,
    letter: String,
    note: &'static str,
}

/// Whether a pint of this morning's milk goes to the lab whatever else: the first Tuesday of a month.
pub fn first_of_month(on: Day) -> bool {
    let date: u32 = on.format("%-d").to_string().parse().unwrap();
    on.format("%a").to_string() == "Tue" && date <= 7
}

impl Farm {
    /// Whether a pint of this morning's milk goes to the lab.
    pub fn sampled(&self, on: Day) -> bool {
        first_of_month(on) || self.second_bottle == Some(on) || on == day(DRAWN_AGAIN)
    }

    /// Once in the second half of a month, on the first weekday that leaves a pint beside the half-gallons.
    fn is_second(&self, on: Day) -> bool {
        let date: u32 = on.format("%-d").to_string().parse().unwrap();
        let first = if on.format("%Y-%m").to_string() == "2026-11" { 18 } else { 15 };
        let drawn = self.second_bottle.is_some_and(|drawn| drawn.format("%Y-%m").to_string() == on.format("%Y-%m").to_string());
        let pint = self.fridge.iter().any(|shelf| shelf.milked == on && shelf.may == May::Go && shelf.jars.pints > 0);
        !drawn && pint && (first..=27).contains(&date) && ["Mon", "Tue", "Wed", "Thu"].contains(&on.format("%a").to_string().as_str())
    }

    /// Every bottle drawn this morning. What was found is written down three days later.
    pub fn bottles(&mut self, on: Day) {
        if self.is_second(on) {
            self.second_bottle = Some(on);
        }
        if self.sampled(on) {
            self.milk_bottle(on);
        }
        self.cow_bottles(on);
        if WATER.iter().any(|drawn| day(drawn) == on) {
            let bottle = Bottle { clock: "08:50", subject: "water", of: 0, letter: "W".to_owned(), note: "" };
            self.lab(on, bottle, &[Found::of("water coliforms", "<1", "per 100 mL")]);
        }
    }

    fn milk_bottle(&mut self, on: Day) {
        let Some(lot) = self.fridge.iter().find(|shelf| shelf.milked == on).map(|shelf| shelf.lot) else { return };
        let mut dice = Dice::of("lab", on);
        let high = on == day(HIGH);
        let plate = if high { 143 } else { dice.between(9, 46) };
        let plate_count = Found {
            plates: if plate > 25 { format!("{plate} at 1:100") } else { format!("{} at 1:10", plate * 10) },
            ..Found::of("plate count", figure(if high { 14_000 } else { plate * 100 }), "per mL")
        };
        let plate_count = if high || dice.percent(40) { plate_count } else { Found { plates: String::new(), ..plate_count } };
        let coliforms = match dice.between(1, 10) {
            _ if on == day(OVER) => "12".to_owned(),
            _ if on == day(DRAWN_AGAIN) => "2".to_owned(),
            _ if high => "8".to_owned(),
            1..=5 => "<1".to_owned(),
            _ => dice.between(1, 4).to_string(),
        };
        let note =
            if on == day(OVER) { "Looked for the cause: lid gasket of Can 1 cracked. New one put in, bottle drawn again." } else { "" };
        let cells = if on == day("2026-11-03") { 284_000 } else { dice.between(118, 216) * 1000 };
        let coliforms = Found { note, ..Found::of("coliforms", coliforms, "per mL") };
        let mut found = vec![plate_count, coliforms, Found::of("somatic cells", figure(cells), "per mL")];
        if first_of_month(on) && PANEL.contains(&on.format("%m").to_string().as_str()) {
            found.extend(panel());
        }
        let note = if on == day(DRAWN_AGAIN) { "Drawn again after the new lid gasket" } else { "" };
        self.lab(on, Bottle { clock: "07:10", subject: "lot", of: lot, letter: "A".to_owned(), note }, &found);
    }

    /// A small bottle from every cow's bucket on the tenth, for her cells.
    fn cow_bottles(&mut self, on: Day) {
        let own = |note| Bottle { clock: "05:52", subject: "cow", of: 1, letter: "C1".to_owned(), note };
        if on == day("2026-10-19") {
            let found = [Found::of("drug residue", "none detected", ""), Found::of("somatic cells", "341,000", "per mL")];
            self.lab(on, own("After her tubes ran out"), &found);
        }
        if on == day("2026-11-02") {
            self.lab(on, own("Once more after her tubes"), &[Found::of("somatic cells", "192,000", "per mL")]);
        }
        if on.format("%d").to_string() == "10" {
            for (cow, number) in (0..COWS.len()).zip(1i64..) {
                let in_milk = days_in_milk(cow, on, "AM", "05:45").is_some_and(|days| days > 6);
                let cells = Dice::of(&format!("cells {cow}"), on).between([138, 96, 171, 82][cow], [240, 188, 312, 154][cow]) * 1000;
                if in_milk {
                    let bottle = Bottle { clock: "05:50", subject: "cow", of: number, letter: format!("C{number}"), note: "" };
                    self.lab(on, bottle, &[Found::of("somatic cells", figure(cells), "per mL")]);
                }
            }
        }
        if on == day("2026-08-21") {
            self.kept_jar(on);
        }
    }

    /// The jar the family kept: its lid was washed, but the book says what they took that day.
    fn kept_jar(&mut self, on: Day) {
        let from = self.pen.at(day("2026-08-18"), "15:00").in_seconds();
        let pickups = self.pen.book.of("pickups");
        let took = pickups
            .iter()
            .find(|pickup| pickup.cells[2] == Cell::To(5) && pickup.cells[0].whole().is_some_and(|at| at >= from))
            .and_then(|pickup| pickup.cells[1].whole());
        let bottle =
            Bottle { clock: "08:15", subject: "lot", of: took.unwrap(), letter: "A".to_owned(), note: "From the jar the family kept" };
        self.lab(on, bottle, &panel());
    }

    fn lab(&mut self, on: Day, bottle: Bottle, found: &[Found]) {
        let Bottle { clock, subject, of, letter, note } = bottle;
        let (posted, reported) = (self.pen.at(on, "09:30"), on + chrono_days(3));
        let reference = format!("FV-{}-{letter}", on.format("%y%m%d"));
        let named = |own: &str| if own == subject { of.to_string() } else { String::new() };
        let place = if subject == "water" { "Milk room tap" } else { "" };
        let asked = found.iter().map(|own| own.analyte).collect::<Vec<_>>().join(", ");
        let (drawn, sent) = (self.pen.typed(self.pen.at(on, clock)), self.pen.typed(posted));
        let line = row![drawn, subject, named("lot"), named("cow"), place, asked, sent, "", LAB, reference, "", note];
        let sample = self.pen.write("samples", line, Sign::screen(posted.plus_minutes(3), "Mina"));
        // The last bottle is still out.
        if reported < demo_day() {
            let sign = Sign::from(self.pen.at(reported, "19:40"), "Mina", "lab report");
            for Found { analyte, figure, unit, plates, note } in found {
                self.pen.write("results", row![sample, analyte, figure, unit, "", "", plates, reported, note], sign.clone());
            }
        }
    }

    /// On the evening the lab told of too many coliforms, what is left of that milk stays home.
    pub fn lab_called(&mut self, on: Day) {
        if on == day(OVER) + chrono_days(3) {
            let morning = self.pen.at(day(OVER), "12:00");
            let left = |shelf: &&mut super::milkroom::Shelf| shelf.milked == day(OVER) && shelf.filled < morning;
            let shelf = self.fridge.iter_mut().find(left).expect("some of it is left");
            shelf.may = May::Over;
        }
    }
}

fn panel() -> [Found; 4] {
    FOUR.map(|analyte| Found::of(analyte, "none detected", "in 25 mL"))
}

/// A figure as the lab writes it: `1,900`.
fn figure(figure: i64) -> String {
    tallypail::trade::lab::grouped(figure.into())
}
