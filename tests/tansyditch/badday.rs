//! The bad day: the call-back after the one complaint, from the first call to the signature at its end.

use super::{
    Farm,
    desk::COMPLAINT,
    pen::{Dice, Sign, day, row},
};
use std::collections::BTreeMap;
use tallypail::trade::{
    jars::Jars,
    kinds::kind,
    when::{Day, Moment},
};

/// What the caller answered, in the order it was asked, minutes after the call began.
const ANSWERS: [(i64, &str, &str); 9] = [
    (0, "in danger", "no"),
    (1, "who is ill", "Both children, 4 and 7"),
    (2, "ill since", "2026-08-19 12:00"),
    (2, "doctor", "no"),
    (3, "picked up", "2026-08-18"),
    (4, "jar", "One jar half drunk, kept cold in the back of the fridge; the lid was washed"),
    (5, "others", "Both parents drank it too and are well"),
    (6, "made of it", "Not frozen, shared or made into anything"),
    (7, "elsewhere", "Swam in the quarry pond on Sunday; nothing else they can think of"),
];

/// What had to be so before milk went again.
const CONDITIONS: [&str; 3] = [
    "The lab finds none of the four in the jar that was kept",
    "The children have been well for two days",
    "Can 1 and Can 2 scrubbed, seals changed, and sanitised twice",
];

/// Jars of each lot that went to one household, or to one walk-in nobody knows.
type Had = BTreeMap<i64, Jars>;

impl Farm {
    fn step(&mut self, name: &str, at: Moment, who: &str, cells: &[String]) -> i64 {
        self.pen.write(name, cells, Sign::screen(at.plus_minutes(1), who))
    }

    /// The evening of the complaint: its answers, the call-back, and the first round of calls.
    pub fn called_back(&mut self, on: Day) {
        if on != day(COMPLAINT) {
            return;
        }
        let told = self.pen.at(on, "19:44");
        for (minutes, question, says) in ANSWERS {
            let at = told.plus_minutes(minutes);
            self.step("answers", at, "Del", row![1, self.pen.typed(at), question, says]);
        }
        let opened = told.plus_minutes(12);
        let note = "One household told of an illness; the jar's lid was washed, so every lot it could have come from";
        self.step("callbacks", opened, "Del", row![self.pen.typed(opened), "call-back", "illness", 1, "", note]);
        let why = "was on hand that day, and the lid of the jar was washed";
        let lots: Vec<i64> = self.complaint_holds.iter().map(|(_, lot)| *lot).collect();
        for lot in &lots {
            let line = row![1, self.pen.typed(opened), lot, "possible", why, "called back", ""];
            self.step("called", opened, "Del", line);
        }
        let words = "This is Tansyditch Farm calling back (recalling) milk. Please do not drink it. Look for half-gallon, quart and pint jars \
            picked up since 11 August with these codes on the lid: [lots]. Two children in one household are ill; we do not know why, and \
            the milk cannot be excluded. Keep the jars cold, closed and unwashed, and do not pass them on. If you gave any away, tell them \
            the same. If anybody is ill, see a doctor and say they drank raw milk. Tell us what you have left: 555-0100.";
        for way in ["call script", "text", "e-mail"] {
            self.step("messages", opened.plus_minutes(4), "Del", row![1, self.pen.typed(opened.plus_minutes(4)), way, words]);
        }
        self.mailed(opened.plus_minutes(6));
        let health = "Night desk, Ms Arden: asked for the lot list by morning; will ring the household";
        let at = opened.plus_minutes(9);
        self.step("courses", at, "Del", row![1, self.pen.typed(at), "health department told", health, "Del"]);
        self.rung(&lots, opened.plus_minutes(15));
        let done = self.pen.at(on, "22:05");
        let says = "All households tried by 22:05; three to be rung again in the morning";
        self.step("courses", done, "Del", row![1, self.pen.typed(done), "effectiveness checked", says, "Del"]);
        let insurer = "Message left with Tansy Hills Farm Mutual, claim opened next morning";
        self.step("courses", done.plus_minutes(3), "Del", row![1, self.pen.typed(done.plus_minutes(3)), "insurer told", insurer, "Del"]);
        for (nth, says) in CONDITIONS.into_iter().enumerate() {
            let at = done.plus_minutes(8 + i64::try_from(nth).unwrap());
            self.step("conditions", at, "Mina", row![1, self.pen.typed(at), says]);
        }
    }

    /// Three households asked to be written to; their server took each at once.
    fn mailed(&mut self, at: Moment) {
        for (nth, person) in [1, 2, 4].into_iter().enumerate() {
            let address = format!("m{person:02}@example.org");
            let mailing = self.step("mailings", at, "Del", row![3, self.pen.typed(at), person, address]);
            for (after, outcome, answer) in [(0, "sending", ""), (1, "taken by the server", "250 2.0.0 Ok: queued")] {
                let at = at.plus_minutes(i64::try_from(nth).unwrap() + after);
                self.step("deliveries", at, "Del", row![mailing, self.pen.typed(at), outcome, answer]);
            }
        }
    }

    /// Rings everybody who has any of it: most at the first try, some the next morning, and notes where nobody is known.
    fn rung(&mut self, lots: &[i64], from: Moment) {
        let pickups = kind("pickups").unwrap();
        let mut households: BTreeMap<i64, Had> = BTreeMap::new();
        let mut unknown: BTreeMap<i64, Had> = BTreeMap::new();
        for out in self.pen.book.of("pickups") {
            let lot = out.cell(pickups, "lot").whole().unwrap();
            if !lots.contains(&lot) {
                continue;
            }
            let had = match out.cell(pickups, "person").whole() {
                Some(person) => households.entry(person).or_default(),
                None => unknown.entry(out.number).or_default(),
            };
            let jars = had.entry(lot).or_default();
            *jars = *jars + pickups.jars(&out.cells);
        }
        let mut clock = from;
        for (nth, (person, had)) in households.into_iter().enumerate() {
            let mut dice = Dice::of_words(&format!("rung {person}"));
            clock = clock.plus_minutes(dice.between(3, 5));
            let first = match nth {
                3 | 11 => "message left",
                7 => "no answer",
                _ => "reached",
            };
            let mut try_at = self.tried(clock, "Del", person, first);
            if first != "reached" {
                try_at = self.tried(self.pen.at(day("2026-08-21"), "07:40").plus_minutes(dice.between(0, 30)), "Mina", person, "reached");
            }
            for (lot, jars) in had {
                self.told_of(try_at, nth, lot, jars, &mut dice);
            }
        }
        for pickup in unknown.into_keys() {
            clock = clock.plus_minutes(1);
            let note = "Sheet taped to the fridge door and the gate";
            self.step("contacts", clock, "Tobe", row![1, self.pen.typed(clock), "", pickup, "note at the door", "message left", note]);
        }
    }

    fn tried(&mut self, at: Moment, who: &str, person: i64, outcome: &str) -> i64 {
        self.step("contacts", at, who, row![1, self.pen.typed(at), person, "", "phone", outcome, ""])
    }

    /// What a household said of its jars of a lot: the older the milk, the more of it is drunk.
    fn told_of(&mut self, contact: i64, nth: usize, lot: i64, jars: Jars, dice: &mut Dice) {
        let became = match nth {
            2 => "frozen",
            5 => "gave away",
            _ if dice.percent(55) => "drunk",
            _ => "has it",
        };
        let note = if became == "gave away" { "a neighbour; told to keep it closed" } else { "" };
        let at = self.pen.book.of("contacts")[usize::try_from(contact - 1).unwrap()].written;
        let line = row![contact, lot, became, jars.gallons, jars.half_gallons, jars.quarts, jars.pints, note];
        self.step("tellings", at, "Del", line);
    }

    /// The morning it was over: conditions ticked, cause, correction, prevention and a signature.
    pub fn resumed(&mut self, on: Day) {
        if on != day("2026-08-25") {
            return;
        }
        let at = self.pen.at(on, "08:40");
        let known = ["Paper of 24 August", "Told by their mother, 08:15", "Wash list of 21 and 22 August"];
        for (nth, known) in known.into_iter().enumerate() {
            self.step("conditions_met", at, "Mina", row![nth + 1, self.pen.typed(at), "Mina Ostrand", known]);
        }
        let well = "Both well since Friday the 21st; the department closed its file on 24 August";
        self.step("answers", at, "Mina", row![1, self.pen.typed(at), "became of it", well]);
        let steps = [
            (
                "cause",
                "Not found. The lab found none of four in the kept jar; the department found the pond closed for swimming on 20 August",
            ),
            ("correction", "Every jar that was left was thrown out or given to calves; both cans scrubbed and their seals changed"),
            (
                "prevention",
                "Codes on lids in grease pencil and on the shoulder of the jar, so that a washed lid does not widen a call-back again",
            ),
            ("closed", "Told the department and every household on 25 August; milk goes again from this morning's lot"),
        ];
        for (nth, (sort, says)) in steps.into_iter().enumerate() {
            let at = at.plus_minutes(5 + 3 * i64::try_from(nth).unwrap());
            self.step("courses", at, "Mina", row![1, self.pen.typed(at), sort, says, "Mina Ostrand"]);
        }
    }
}
