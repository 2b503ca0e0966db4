//! The milk room: filling jars, chilling them, washing up, and a little cream.

use super::{
    Farm, barn,
    herd::Milked,
    ledger::Judge,
    pen::{Dice, Sign, cells, day, row, tenths},
};
use rust_decimal::Decimal;
use tallypail::trade::{
    book::Struck,
    codes::LotCode,
    deciding::Open,
    jars::Jars,
    kinds::kind,
    measure::Weight,
    when::{Day, Moment, day_shown},
};

/// Fills nobody read in time: jars that can't be shown cold.
pub const NOT_READ: [&str; 8] = [
    "2025-09-24 PM",
    "2025-10-03 AM",
    "2025-10-30 PM",
    "2026-02-23 AM",
    "2026-04-14 AM",
    "2026-06-18 AM",
    "2026-09-09 PM",
    "2026-11-20 PM",
];
/// Of those, the one Mina let go on her own word.
pub const HER_OWN_WORD: &str = "2026-09-09 PM";
/// And the one she decided on that same noon, from a reading that came too late.
pub const DECIDED: &str = "2026-04-14 AM";
/// The fill first read cold 2 h 40 after milking.
pub const READ_LATE: &str = "2026-05-28 AM";
/// The fill still at 43 °F after two hours.
pub const TOO_WARM: &str = "2026-07-09 AM";
/// The morning whose can was not washed before the next.
pub const SKIPPED_BREAK: &str = "2026-07-14";
/// The fill whose half-gallons were first written one too many.
pub const MISCOUNTED: &str = "2026-05-22 AM";
/// Mornings on which the day before's milk is skimmed, and how many half-gallons of it.
const CREAM: [(&str, i64); 9] = [
    ("2025-11-25", 3),
    ("2025-12-22", 4),
    ("2026-04-27", 4),
    ("2026-05-11", 6),
    ("2026-05-26", 6),
    ("2026-06-03", 6),
    ("2026-08-24", 4),
    ("2026-09-14", 6),
    ("2026-11-20", 4),
];

/// Whether jars may go, as it stands with the farm's own judgement of the day.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum May {
    /// Shown cold, nothing against it.
    Go,
    /// Not shown cold.
    NotTell,
    /// Not shown cold, and handed out by Mina with a reason.
    OwnWord,
    /// Not shown cold, and decided on by Mina with a reason.
    Decided,
    /// Read by a probe known to be off, too near the limit.
    Off,
    /// Over a limit in the lab.
    Over,
    /// Held.
    Held,
}

/// Jars of one lot in the fridge.
pub struct Shelf {
    /// The lot's number.
    pub lot: i64,
    /// Its code.
    pub code: String,
    /// The day of its oldest milking.
    pub milked: Day,
    /// When it was filled.
    pub filled: Moment,
    /// What stands there.
    pub jars: Jars,
    /// Whether they may go.
    pub may: May,
    /// Whether it is cream.
    pub cream: bool,
    /// The last reading of it, in tenths of a degree Fahrenheit.
    pub cold: i64,
    /// Why it may go, where that is Mina's decision.
    pub because: String,
    /// What is known of it when it is handed out.
    pub facts: String,
}

impl Farm {
    /// Fills jars from the can, and puts them in the slush.
    pub fn fill(&mut self, on: Day, half: &str, milked: &Milked) {
        let session = format!("{on} {half}");
        let mut dice = Dice::of("fill", on);
        let morning = half == "AM";
        // A pint for the lab and a quart for the shelf are filled before the half-gallons.
        let first = Jars {
            quarts: i64::from(morning && on.format("%a").to_string() == "Mon"),
            pints: i64::from(morning && self.sampled(on)),
            ..Jars::NONE
        };
        let (jars, left) = poured(milked.can, first);
        if jars.is_none() {
            return;
        }
        let filled = milked.ended.plus_minutes(dice.between(11, 17));
        let sign = Sign::screen(filled.plus_minutes(1), if morning || dice.percent(60) { "Mina" } else { "Del" });
        let (lot, code) = self.new_lot(on, filled, row![if morning { 1 } else { 2 }], jars, row![left, "yes", "", ""], &sign);
        self.pen.write("sources", row![lot, milked.number, ""], sign);
        self.one_too_many(lot, &session);
        let (said, cold) = self.chill(on, lot, &session, milked);
        let may = match session.as_str() {
            READ_LATE | TOO_WARM => May::Held,
            HER_OWN_WORD => May::OwnWord,
            _ if NOT_READ.contains(&session.as_str()) => May::NotTell,
            _ if cold + barn::known_off(on, half) > 400 => May::Off,
            _ => May::Go,
        };
        let facts = format!(
            "Milked {}, {}–{}: {}. Chill: {said}. Treatment clocks: none running in this milk. Foremilk: ok. Filled {}. Best by {}. Holds: none.",
            day_shown(on),
            self.pen.zone.clock(milked.started),
            self.pen.zone.clock(milked.ended),
            milked.cows.join(", "),
            self.pen.zone.clock(filled),
            day_shown(on + chrono_days(10)),
        );
        self.fridge.push(Shelf { lot, code, milked: on, filled, jars, may, cream: false, cold, because: String::new(), facts });
        if may == May::Held {
            self.hold_warm(&session, lot, milked);
        }
    }

    fn new_lot(&mut self, on: Day, filled: Moment, vessel: &[String], jars: Jars, rest: &[String], sign: &Sign) -> (i64, String) {
        let code = LotCode::of_fill(on, self.fills).unwrap().to_string();
        self.fills += 1;
        let line = [&[code.clone(), self.pen.typed(filled)], vessel, &cells(jars), rest].concat();
        (self.pen.write("lots", &line, sign.clone()), code)
    }

    /// One jar too many was written; it was put right at noon, when the lids were counted.
    fn one_too_many(&mut self, lot: i64, session: &str) {
        if session != MISCOUNTED {
            return;
        }
        let lots = kind("lots").unwrap();
        let place = lots.place_of("half_gallons").unwrap();
        let at = self.pen.at(day(&session[..10]), "12:10");
        let record = self.pen.book.records.get_mut("lots").unwrap().iter_mut().find(|record| record.number == lot).unwrap();
        let right = record.cells[place].whole().unwrap();
        let mut was = record.clone();
        was.cells[place] = tallypail::trade::records::Cell::Whole(right + 1);
        (record.version, record.written) = (2, at);
        let why = format!("{right} lids gone from the sleeve; {} written in the dark.", right + 1);
        self.pen.book.struck.push(Struck {
            kind: "lots".to_owned(),
            number: lot,
            version: 1,
            was: was.as_line(lots),
            at,
            who: "Mina".to_owned(),
            why,
        });
    }

    /// Reads the test jar about an hour after milking and again before two hours; says what the readings show.
    fn chill(&mut self, on: Day, lot: i64, session: &str, milked: &Milked) -> (String, i64) {
        let mut dice = Dice::of(&format!("chill {}", &session[11..]), on);
        let summer = i64::from((5..=9).contains(&on.format("%-m").to_string().parse::<i64>().unwrap()));
        let (first, second) = (dice.between(52, 66), dice.between(92, 113));
        let warm = dice.between(442, 478) + 14 * summer;
        let cold = dice.between(364, 388) + 8 * summer;
        let readings = match session {
            READ_LATE => vec![(62, 464), (160, 379)],
            TOO_WARM => vec![(60, 518), (120, 430), (151, 396)],
            DECIDED => vec![(first, warm), (172, 381)],
            own if NOT_READ.contains(&own) => vec![(first, warm)],
            _ => vec![(first, warm), (second, cold)],
        };
        let mut said = String::from("not read by two hours");
        let last = readings.last().map_or(0, |(_, heat)| *heat);
        for (minutes, heat) in readings {
            let at = milked.ended.plus_minutes(minutes);
            let who = if session.ends_with("AM") && dice.percent(55) { "Mina" } else { *dice.one(&["Tobe", "Lark", "Mina"]) };
            let bath = if dice.percent(70) { format!("{} °F", tenths(dice.between(322, 341) + 6 * summer)) } else { String::new() };
            self.pen.write(
                "chill",
                row![lot, self.pen.typed(at), format!("{} °F", tenths(heat)), "Jar probe 1", bath],
                Sign::screen(at, who),
            );
            if heat <= 400 && minutes <= 120 {
                said = format!("{} °F at {}, within 2 h of milking's end", tenths(heat), self.pen.zone.clock(at));
            }
        }
        (said, last)
    }

    /// The one lot of which the records could not tell, and Mina decided on it with a reason.
    pub fn decide(&mut self, on: Day) {
        if on != day(&DECIDED[..10]) {
            return;
        }
        let at = self.pen.at(on, "12:40");
        let place = self.fridge.iter().position(|shelf| shelf.milked == on && shelf.may == May::NotTell).unwrap();
        let lot = self.fridge[place].lot;
        let judge = Judge::of(&self.pen.book);
        let chosen = Open::of(&judge.facts(lot, at), at).choose(std::iter::empty()).unwrap();
        let reason = "In slush at 33 °F from 06:40 and never out of ice; read 38.1 °F at 09:07, too late for the rule. Families told when they came.";
        let line = row![lot, self.pen.typed(at), chosen.over.join("\n"), chosen.word, chosen.because, chosen.facts, reason];
        self.pen.write("decisions", line, Sign::screen(at.plus_minutes(1), "Mina"));
        let because = Judge::of(&self.pen.book).verdict(lot, None, at.plus_minutes(1)).reason();
        let shelf = &mut self.fridge[place];
        (shelf.may, shelf.because) = (May::Decided, because);
        shelf.facts = format!("{} Decided by Mina, {} 12:40: {reason}", shelf.facts, day_shown(on));
    }

    fn hold_warm(&mut self, session: &str, lot: i64, milked: &Milked) {
        let (at, why, gone, reason) = if session == READ_LATE {
            (
                milked.ended.plus_minutes(162),
                "First cold reading 2 h 40 after milking: school run",
                "18:50",
                "Fed to the calves whole: nothing left to hold",
            )
        } else {
            (milked.ended.plus_minutes(121), "43 °F at two hours: ice ran out", "18:55", "Thrown out whole: nothing left to hold")
        };
        let hold = self.pen.write("holds", row![self.pen.typed(at), "lot", lot, "", "", why], Sign::screen(at.plus_minutes(1), "Mina"));
        let at = self.pen.at(day(&session[..10]), gone);
        self.pen.write("lifts", row![hold, self.pen.typed(at), reason], Sign::screen(at.plus_minutes(2), "Mina"));
    }

    /// Washes what was used: the can and the bucket.
    pub fn wash(&mut self, on: Day, half: &str) {
        let mut dice = Dice::of(&format!("wash {half}"), on);
        let (clock, vessels) =
            if half == "AM" { (format!("08:{}", dice.between(24, 49)), [1, 3]) } else { (format!("19:{}", dice.between(22, 48)), [2, 3]) };
        let acid = on.format("%a").to_string() == "Sun";
        for vessel in vessels {
            if vessel == 1 && on == day(SKIPPED_BREAK) {
                continue;
            }
            let at = self.pen.at(on, &clock).plus_minutes(vessel);
            let who = *dice.one(&["Tobe", "Tobe", "Mina", "Lark"]);
            let with = if acid { "alkali, acid rinse, chlorine 100 ppm" } else { "alkali, chlorine 100 ppm" };
            let sign = if dice.percent(12) {
                Sign::from(at.plus_minutes(700), "Mina", "wash sheet")
            } else {
                Sign::screen(at.plus_minutes(1), who)
            };
            self.pen.write("breaks", row![vessel, self.pen.typed(at), "yes", "yes", with, who], sign);
        }
    }

    /// Skims yesterday morning's jars, when there are enough of them.
    pub fn skim(&mut self, on: Day) {
        let Some((_, wanted)) = CREAM.iter().find(|(cream, _)| day(cream) == on) else { return };
        let at = self.pen.at(on, "09:50");
        let parents: Vec<usize> = (0..self.fridge.len())
            .filter(|place| {
                let shelf = &self.fridge[*place];
                shelf.may == May::Go && !shelf.cream && shelf.jars.half_gallons > 0 && (on - shelf.milked).num_days() == 1
            })
            .collect();
        let (mut taken, mut last) = (Vec::new(), 0);
        for place in parents {
            let jars = self.fridge[place].jars.half_gallons.min(wanted - last);
            if jars > 0 {
                taken.push((place, jars));
                last += jars;
            }
        }
        // A half-gallon of Jersey milk throws about a pint of thick cream (common practice).
        let jars = Jars { quarts: 1, pints: last - 2, ..Jars::NONE };
        let sign = Sign::screen(at.plus_minutes(3), "Mina");
        let (lot, code) = self.new_lot(on, at, row![""], jars, row!["", "", "cream", "Hand skimmed; the skim went to the pig."], &sign);
        for (place, count) in &taken {
            let parent = self.fridge[*place].lot;
            self.pen.write("sources", row![lot, "", parent], sign.clone());
            self.set_aside(*place, at, "made", Jars::halves(*count), &format!("Cream {code}"), &sign);
        }
        let milked = taken.iter().map(|(place, _)| self.fridge[*place].milked).min().unwrap_or(on);
        let facts = format!(
            "Cream from {}, milked {}. Every parent can go. Best by {}. Holds: none.",
            taken.iter().map(|(place, _)| self.fridge[*place].code.clone()).collect::<Vec<_>>().join(", "),
            day_shown(milked),
            day_shown(milked + chrono_days(10)),
        );
        let (read, heat) = (at.plus_minutes(6), [371, 374, 378][usize::try_from(lot).unwrap_or(0) % 3]);
        self.pen.write(
            "chill",
            row![lot, self.pen.typed(read), format!("{} °F", tenths(heat)), "Jar probe 1", ""],
            Sign::screen(read.plus_minutes(1), "Mina"),
        );
        self.fridge.push(Shelf { lot, code, milked, filled: at, jars, may: May::Go, cream: true, cold: 0, because: String::new(), facts });
    }

    /// The three vessels, clean on the first morning.
    pub fn vessels(&mut self) {
        let first = self.pen.at(day("2025-09-01"), "05:05");
        let sign = || Sign::screen(first, "Mina");
        for (name, sort, tare, capacity, table) in [
            ("Can 1", "can", "14.2 lb", "10 gal", super::herd::CAN_TABLE),
            ("Can 2", "can", "11.6 lb", "8 gal", "0 in = 0 gal; 4 in = 1.7 gal; 8 in = 3.6 gal; 12 in = 5.7 gal; 16 in = 8 gal"),
            ("Red Bucket", "bucket", "3.8 lb", "5 gal", ""),
        ] {
            self.pen.write("vessels", row![name, sort, tare, capacity, table, "2025-09-01"], sign());
        }
        for vessel in 1..=3 {
            self.pen.write("breaks", row![vessel, self.pen.typed(first), "yes", "yes", "alkali, chlorine 100 ppm", "Mina"], sign());
        }
    }
}

/// So many days.
pub fn chrono_days(days: u64) -> chrono::Days {
    chrono::Days::new(days)
}

/// Pours milk into jars: those asked for first, then half-gallons, then a quart and a pint; what is left, as typed.
fn poured(milk: Weight, first: Jars) -> (Jars, String) {
    let size = |halves: Decimal| Weight::half_gallons(halves).in_milligrams();
    let mut jars = first;
    let mut left = milk.in_milligrams() - first.milk().in_milligrams();
    jars.half_gallons = left / size(Decimal::ONE);
    left %= size(Decimal::ONE);
    let quart = size(Decimal::new(5, 1));
    jars.quarts += left / quart;
    left %= quart;
    let pint = size(Decimal::new(25, 2));
    jars.pints += left / pint;
    left %= pint;
    // Tenths of a pound, cut off.
    (jars, format!("{} lb", tenths(left / 45_359)))
}
