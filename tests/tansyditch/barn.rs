//! The barn: the thermometer in ice water, the strip tests, and the papers that run out.

use super::{
    Farm,
    herd::{COWS, days_in_milk},
    milkroom::May,
    pen::{Dice, Sign, day, row},
};
use tallypail::trade::when::Day;

/// The Sunday the probe showed too much in ice water, and the Sunday its new battery was in.
const OFF: (&str, &str) = ("2025-10-05", "2025-10-12");
/// What the probe showed too much, in tenths of a degree Fahrenheit.
const OFF_BY: i64 = 15;

/// Sort, what, done, until, cow, note.
type Renewal = (&'static str, &'static str, &'static str, &'static str, &'static str, &'static str);

#[rustfmt::skip]
const RENEWALS: [Renewal; 23] = [
    ("insurance", "Farm and liability, Whitlow Mutual", "2025-01-04", "2025-12-31", "", ""),
    ("permit", "Farm-gate permit, Tansy County", "2025-01-13", "2026-01-11", "", ""),
    ("agreement", "Herdshare agreements, signed by all families", "2024-12-12", "2025-12-12", "", ""),
    ("agreement", "Rent of the lower field", "2026-04-01", "2027-03-31", "", ""),
    ("TB test", "Skin test, read on the third day", "2025-11-18", "2026-11-17", "1", ""),
    ("TB test", "Skin test, read on the third day", "2025-11-18", "2026-11-17", "2", ""),
    ("TB test", "Skin test, read on the third day", "2025-11-18", "2026-11-17", "3", ""),
    ("TB test", "Skin test, read on the third day", "2025-11-18", "2026-11-17", "4", ""),
    ("brucellosis test", "Blood, four cows", "2025-11-18", "2026-11-17", "", "Drawn by Dr. Pell with the herd test"),
    ("rabies vaccination", "Four cows", "2025-12-09", "2026-12-08", "", "Given by Dr. Pell"),
    ("agreement", "Herdshare agreements, signed by all families", "2025-12-12", "2026-12-12", "", "Printed at Quire & Co."),
    ("herd health exam", "Herd looked over, udders and feet", "2025-11-18", "2026-11-17", "", ""),
    ("insurance", "Farm and liability, Whitlow Mutual", "2026-01-05", "2026-12-31", "", ""),
    ("permit", "Farm-gate permit, Tansy County", "2026-01-12", "2027-01-11", "", ""),
    ("inspection", "Milk room looked at by the county", "2026-03-24", "2027-03-23", "", "Nothing to put right"),
    ("practice call-back", "Every family written to about one lot", "2026-09-08", "2027-09-08", "", "41 of 43 answered the same day"),
    ("TB test", "Skin test, read on the third day", "2026-11-17", "2027-11-16", "1", ""),
    ("TB test", "Skin test, read on the third day", "2026-11-17", "2027-11-16", "2", ""),
    ("TB test", "Skin test, read on the third day", "2026-11-17", "2027-11-16", "3", ""),
    ("TB test", "Skin test, read on the third day", "2026-11-17", "2027-11-16", "4", ""),
    ("brucellosis test", "Blood, four cows", "2026-11-17", "2027-11-16", "", "Drawn by Dr. Pell with the herd test"),
    ("herd health exam", "Herd looked over, udders and feet", "2026-11-17", "2027-11-16", "", ""),
    ("other", "Scale checked against the mill's weights", "2026-05-20", "2027-05-20", "", ""),
];

/// Sort, day, clock, from, minutes until it was answered, note.
const NOTICES: [(&str, &str, &str, &str, i64, &str); 2] = [
    (
        "records asked for by an official",
        "2026-03-24",
        "09:40",
        "Tansy County Health Department",
        55,
        "At the inspection: chill log and wash sheet of February",
    ),
    (
        "results asked for by a customer",
        "2026-09-23",
        "17:20",
        "M04, the Halvorsett family",
        190,
        "Had heard of the coliforms; sent both papers",
    ),
];

/// Cow, day, clock, quarter, score, note: what is not the monthly round.
const STRIPPED: [(i64, &str, &str, &str, &str, &str); 7] = [
    (2, "2026-04-12", "05:36", "left hind", "1", "Fresh; not in the can yet"),
    (2, "2026-04-16", "16:50", "all", "negative", "Clean on all four: into the can tonight"),
    (4, "2026-05-19", "05:58", "left hind", "2", "Flakes in the first squirts"),
    (4, "2026-05-20", "16:48", "all", "negative", "Clean on all four"),
    (1, "2026-10-12", "06:20", "right fore", "3", "Flakes; tube given"),
    (1, "2026-10-17", "17:20", "all", "negative", "First clean one"),
    (1, "2026-10-18", "05:30", "all", "negative", "Clean again: into the can"),
];

impl Farm {
    /// The first Sunday of a month the jar probe stands in ice water, and once more when its battery was new.
    pub fn ice_check(&mut self, on: Day) {
        let date: u32 = on.format("%-d").to_string().parse().unwrap();
        let begun = on == day("2025-09-01");
        let monthly = on.format("%a").to_string() == "Sun" && date <= 7;
        if !(begun || monthly || on == day(OFF.1)) {
            return;
        }
        let off = on == day(OFF.0);
        let shown = if off { "33.5" } else { Dice::of("ice", on).one(&["32", "32", "32", "32", "32.1", "31.9"]) };
        let note = match on {
            _ if off => "Reads high: new battery ordered",
            _ if on == day(OFF.1) => "New battery in",
            _ if begun => "Before the first jar",
            _ => "",
        };
        let at = self.pen.at(on, if begun { "05:10" } else { "13:10" });
        self.pen.write(
            "ice_checks",
            row!["Jar probe 1", self.pen.typed(at), format!("{shown} °F"), note],
            Sign::screen(at.plus_minutes(2), "Mina"),
        );
        if off {
            self.fridge.iter_mut().filter(|shelf| shelf.may == May::Go && shelf.cold + OFF_BY > 400).for_each(|shelf| shelf.may = May::Off);
        }
    }

    /// The monthly round of strip tests, and those around a quarter that was not right.
    pub fn strip_tests(&mut self) {
        let mut lines: Vec<(Day, &str, i64, &str, &str, &str)> =
            STRIPPED.into_iter().map(|(cow, on, clock, quarter, score, note)| (day(on), clock, cow, quarter, score, note)).collect();
        for on in day("2025-09-01").iter_days().take_while(|on| *on <= super::demo_day()) {
            for (cow, number) in (0..COWS.len()).zip(1i64..) {
                let in_milk = days_in_milk(cow, on, "PM", "17:00").is_some_and(|days| days > 6);
                if on.format("%d").to_string() == "06" && in_milk {
                    let mut dice = Dice::of(&format!("strip {cow}"), on);
                    let quarters = if number == 3 {
                        &["left fore", "right fore", "left hind"][..]
                    } else {
                        &["left fore", "right fore", "left hind", "right hind"]
                    };
                    let line = if dice.percent(20) { (*dice.one(quarters), "trace", "The others clean") } else { ("all", "negative", "") };
                    lines.push((on, "17:05", number, line.0, line.1, line.2));
                }
            }
        }
        lines.sort_by_key(|line| (line.0, line.1, line.2));
        for (on, clock, cow, quarter, score, note) in lines {
            let at = self.pen.at(on, clock);
            self.pen.write("strip_tests", row![cow, self.pen.typed(at), quarter, score, note], Sign::screen(at.plus_minutes(2), "Mina"));
        }
    }

    /// What officials and families asked for.
    pub fn notices(&mut self) {
        for (sort, on, clock, from, minutes, note) in NOTICES {
            let at = self.pen.at(day(on), clock);
            let answered = at.plus_minutes(minutes);
            let line = row![sort, self.pen.typed(at), from, "", self.pen.typed(answered), "", note];
            self.pen.write("notices", line, Sign::screen(answered.plus_minutes(4), "Mina"));
        }
    }

    /// Papers and tests that run out, in the order they were done.
    pub fn renewals(&mut self) {
        let begun = self.pen.at(day("2025-09-01"), "20:50");
        let mut lines = RENEWALS;
        lines.sort_by_key(|line| line.2);
        for (sort, what, done, until, cow, note) in lines {
            let written = begun.max(self.pen.at(day(done), "20:15"));
            self.pen.write("renewals", row![sort, what, done, until, cow, "", note], Sign::screen(written, "Mina"));
        }
    }
}

/// Whether the probe was known to be off when this milk was read, and how far.
pub fn known_off(on: Day, half: &str) -> i64 {
    let known = (day(OFF.0), "PM") <= (on, half) && (on, half) < (day(OFF.1), "PM");
    if known { OFF_BY } else { 0 }
}
