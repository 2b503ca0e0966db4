//! The cows: who is in milk, what each gives by her lactation, and what happened to her.

use super::{
    Farm,
    milkroom::May,
    pen::{Dice, Sign, day, pounds, row, tenths},
};
use rust_decimal::Decimal;
use tallypail::trade::{
    herd,
    measure::Weight,
    milkings::{Dipstick, milk_of},
    when::{Day, Moment},
};

/// Name, tag, born, breed, quarters, here since, note, and how much she gives against the curve, in thousandths.
type Cow = (&'static str, &'static str, &'static str, &'static str, i64, &'static str, &'static str, i64);

/// The herd, in milking order.
pub const COWS: [Cow; 4] = [
    ("Damson", "TD-11", "2020-05-03", "Jersey cross", 4, "2022-03-12", "Stands at the left post.", 1060),
    ("Kettle", "TD-14", "2021-03-27", "Jersey", 4, "2023-02-04", "Kicks when the inflation squeaks.", 1000),
    ("Wren", "TD-09", "2018-04-19", "Jersey cross", 3, "2020-09-30", "Milks three quarters: right hind is blind.", 900),
    ("Thimble", "TD-16", "2022-10-08", "Jersey", 4, "2024-06-15", "", 980),
];

/// The place of a cow in milking order, the day and clock she calved, and the day she was dried off.
pub const LACTATIONS: [(usize, &str, &str, Option<&str>); 8] = [
    (3, "2024-10-12", "04:40", Some("2025-08-20")),
    (2, "2025-01-11", "22:15", Some("2025-11-15")),
    (1, "2025-04-03", "05:05", Some("2026-02-10")),
    (0, "2025-06-27", "13:20", Some("2026-06-05")),
    (3, "2025-10-19", "03:30", Some("2026-09-30")),
    (2, "2026-01-14", "23:05", None),
    (1, "2026-04-11", "02:10", None),
    (0, "2026-08-04", "04:25", None),
];

/// What else happened to a cow: her place in milking order, day, clock, what, and a note.
#[rustfmt::skip]
const OTHER_TURNS: [(usize, &str, &str, &str, &str); 18] = [
    (3, "2025-01-10", "10:20", "served", "Straw, Harrow Breeding"),
    (3, "2025-03-04", "11:05", "in calf", "Felt by Dr. Pell"),
    (2, "2025-04-08", "09:40", "served", "Straw, Harrow Breeding"),
    (2, "2025-05-30", "10:15", "in calf", "Felt by Dr. Pell"),
    (1, "2025-07-04", "08:55", "served", "Straw, Harrow Breeding"),
    (1, "2025-09-02", "10:50", "in calf", "Felt by Dr. Pell"),
    (0, "2025-10-27", "09:30", "served", "Straw, Harrow Breeding"),
    (0, "2025-12-16", "10:10", "in calf", "Felt by Dr. Pell"),
    (3, "2026-01-30", "09:15", "served", "First straw, Harrow Breeding"),
    (3, "2026-02-20", "17:40", "not in calf", "Bulling again"),
    (3, "2026-02-21", "09:20", "served", "Second straw, Harrow Breeding"),
    (3, "2026-04-14", "11:00", "in calf", "Felt by Dr. Pell"),
    (2, "2026-04-20", "09:05", "served", "Straw, Harrow Breeding"),
    (2, "2026-05-02", "06:28", "unwell", "Lame on the left hind, off her grain; Dr. Pell sent for"),
    (2, "2026-05-06", "05:20", "well again", "Walks sound, eats"),
    (2, "2026-06-16", "10:30", "in calf", "Felt by Dr. Pell"),
    (1, "2026-07-06", "09:10", "served", "Two straws, Harrow Breeding"),
    (0, "2026-10-26", "09:25", "served", "Straw, Harrow Breeding"),
];

/// The first milking a fresh cow joined the can with; each is more than five days after she calved.
const JOINED: [(usize, &str); 8] = [
    (3, "2024-10-17 PM"),
    (2, "2025-01-17 AM"),
    (1, "2025-04-08 PM"),
    (0, "2025-07-02 PM"),
    (3, "2025-10-24 PM"),
    (2, "2026-01-20 AM"),
    (1, "2026-04-16 PM"),
    (0, "2026-08-09 PM"),
];

/// Milk thrown out, from the first milking to the last: flakes, and the two treatments.
const THROWN_OUT: [(usize, &str, &str); 3] =
    [(2, "2026-05-02 PM", "2026-05-05 PM"), (3, "2026-05-19 AM", "2026-05-20 AM"), (0, "2026-10-11 PM", "2026-10-17 PM")];

/// Milkings with flakes in the first squirts.
const FLAKES: [(usize, &str); 4] = [(3, "2026-05-19 AM"), (0, "2026-10-11 PM"), (0, "2026-10-12 AM"), (0, "2026-10-12 PM")];

/// Days Joss milks, mornings: eight a year.
pub const JOSS: [&str; 10] = [
    "2025-09-27",
    "2025-10-25",
    "2025-12-06",
    "2026-01-31",
    "2026-03-14",
    "2026-05-09",
    "2026-06-27",
    "2026-08-15",
    "2026-09-19",
    "2026-10-31",
];

/// Days from calving, and what she would give that day in hundredths of a pound if no calf drank: the shape of a Wood
/// curve, peaking at 45 lb about day 48 and falling some 7 % a month after.
const CURVE: [(i64, i64); 13] = [
    (0, 2000),
    (5, 3000),
    (15, 3850),
    (30, 4350),
    (48, 4500),
    (75, 4380),
    (105, 4120),
    (150, 3720),
    (200, 3300),
    (250, 2930),
    (305, 2560),
    (365, 2200),
    (430, 1900),
];

/// What comes into the bucket, in hundredths of what she would give: her calf has the rest by day.
const INTO_THE_BUCKET: i64 = 64;

/// The bucket on the hanging scale, in tenths of a pound.
const BUCKET: i64 = 38;

/// The morning can's dipstick table.
pub const CAN_TABLE: &str = "0 in = 0 gal; 2 in = 0.9 gal; 4 in = 1.8 gal; 8 in = 3.8 gal; 12 in = 6 gal; 16 in = 8.2 gal; 19 in = 10 gal";

/// One milking, as the milk room gets it.
pub struct Milked {
    /// Its number.
    pub number: i64,
    /// When it ended.
    pub ended: Moment,
    /// When it started.
    pub started: Moment,
    /// The milk in the can.
    pub can: Weight,
    /// The cows whose milk is in the can.
    pub cows: Vec<&'static str>,
}

/// Days since a cow calved, if she is milked at this milking.
pub fn days_in_milk(cow: usize, on: Day, half: &str, clock: &str) -> Option<i64> {
    LACTATIONS.iter().filter(|(own, ..)| *own == cow).find_map(|(_, calved, at, dried)| {
        let since = (on - day(calved)).num_days();
        let begun = since > 0 || (since == 0 && *at < clock);
        // Her last milking is the morning of the day she is dried off.
        let over = dried.is_some_and(|dried| on > day(dried) || (on == day(dried) && half == "PM"));
        (begun && !over).then_some(since)
    })
}

/// What she would give at so many days, in hundredths of a pound.
pub fn curve(days: i64) -> i64 {
    CURVE
        .windows(2)
        .find(|pair| days <= pair[1].0)
        .map_or(1900, |pair| pair[0].1 + (pair[1].1 - pair[0].1) * (days - pair[0].0) / (pair[1].0 - pair[0].0))
}

impl Farm {
    /// Writes down the cows, where they stood when the ledger began, and what happened to them since.
    pub fn herd_book(&mut self) {
        let first = self.pen.at(day("2025-09-01"), "20:10");
        for (name, tag, born, breed, quarters, since, note, _) in COWS {
            self.pen.write("cows", row![name, tag, born, breed, quarters, since, note], Sign::from(first, "Mina", "herd book"));
        }
        let mut turns: Vec<(Moment, usize, &str, String)> = Vec::new();
        for ((cow, calved, clock, dried), (_, joined)) in LACTATIONS.into_iter().zip(JOINED) {
            let join_day = day(&joined[..10]);
            let calf = if Dice::of_words(calved).percent(50) { "heifer" } else { "bull" };
            turns.push((self.pen.at(day(calved), clock), cow, "calved", format!("A {calf} calf, up and sucking.")));
            turns.push((
                self.pen.at(join_day, if joined.ends_with("AM") { "05:34" } else { "17:14" }),
                cow,
                "joined the can",
                "All quarters stripped and clean.".to_owned(),
            ));
            if let Some(dried) = dried {
                turns.push((self.pen.at(day(dried), "06:35"), cow, "dried off", "No tubes used.".to_owned()));
            }
        }
        for (cow, on, clock, sort, note) in OTHER_TURNS {
            turns.push((self.pen.at(day(on), clock), cow, sort, note.to_owned()));
        }
        turns.sort();
        for (at, cow, sort, note) in turns {
            let on = self.pen.zone.day(at);
            // Due by the last time she was served.
            let served =
                OTHER_TURNS.iter().filter(|turn| turn.0 == cow && turn.3 == "served" && day(turn.1) <= on).map(|turn| day(turn.1)).max();
            let due = served.filter(|_| ["served", "in calf", "dried off"].contains(&sort)).and_then(herd::due);
            let due = due.map(|due| due.to_string()).unwrap_or_default();
            let sign = if at < first {
                Sign::from(first, "Mina", "herd book")
            } else {
                Sign::screen(at.plus_minutes(if sort == "calved" { 190 } else { 1 }), "Mina")
            };
            self.pen.write("events", row![cow + 1, self.pen.typed(at), sort, due, note], sign);
        }
        self.treatments();
    }

    fn treatments(&mut self) {
        let at = self.pen.at(day("2026-05-02"), "06:32");
        let foot = row![
            3,
            self.pen.typed(at),
            "Long-acting injection for foot rot",
            "L4417, 03/2028",
            "25 ml",
            "in the muscle",
            "",
            "Foot rot, left hind",
            "Dr. Ansgar Pell",
            72,
            "",
            "",
            "",
            28,
            "no",
            "yes"
        ];
        self.pen.write("treatments", foot, Sign::screen(at.plus_minutes(4), "Mina"));
        for (on, clock) in [("2026-10-12", "06:30"), ("2026-10-12", "18:28"), ("2026-10-13", "06:31")] {
            let at = self.pen.at(day(on), clock);
            let tube = row![
                1,
                self.pen.typed(at),
                "Udder tube for cows in milk",
                "U2093, 11/2027",
                "1 tube",
                "in the udder",
                "right fore",
                "Mastitis, flakes",
                "Mina",
                96,
                "",
                "",
                "",
                10,
                "yes",
                "no"
            ];
            self.pen.write("treatments", tube, Sign::screen(at.plus_minutes(2), "Mina"));
        }
        for (cow, on, clock, why, over, at_last, reason) in [
            (4, "2026-05-19", "05:58", "Flakes, left hind", "2026-05-20", "17:16", "Three milkings stripped, strip test clean on all four"),
            (
                1,
                "2026-10-11",
                "17:33",
                "Flakes, right fore",
                "2026-10-18",
                "05:33",
                "Clock ran out Saturday morning; stripped clean twice after it",
            ),
        ] {
            let at = self.pen.at(day(on), clock);
            let hold = self.pen.write("holds", row![self.pen.typed(at), "cow", "", cow, "", why], Sign::screen(at, "Mina"));
            let at = self.pen.at(day(over), at_last);
            self.pen.write("lifts", row![hold, self.pen.typed(at), reason], Sign::screen(at.plus_minutes(1), "Mina"));
        }
    }

    /// A hold on a cow reaches back over the day before it: the morning's jars with Damson's milk stay until it is lifted.
    pub fn damsons_last_jars(&mut self, on: Day) {
        let (from, to) = if on == day("2026-10-11") { (May::Go, May::Held) } else { (May::Held, May::Go) };
        if on == day("2026-10-11") || on == day("2026-10-18") {
            let noon = self.pen.at(day("2026-10-11"), "12:00");
            let hers = |shelf: &&mut super::milkroom::Shelf| shelf.milked == day("2026-10-11") && shelf.filled < noon && shelf.may == from;
            self.fridge.iter_mut().filter(hers).for_each(|shelf| shelf.may = to);
        }
    }

    /// One milking: every cow in milk, in milking order.
    pub fn milk(&mut self, on: Day, half: &'static str) -> Milked {
        let mut dice = Dice::of(half, on);
        let morning = half == "AM";
        let session = format!("{on} {half}");
        let start_clock = if morning { format!("05:{}", dice.between(38, 46)) } else { format!("17:{}", dice.between(18, 29)) };
        let started = self.pen.at(on, &start_clock);
        let in_milk: Vec<(usize, i64)> =
            (0..COWS.len()).filter_map(|cow| Some((cow, days_in_milk(cow, on, half, &start_clock)?))).collect();
        let each = if morning { 8 } else { 6 };
        let ended = started.plus_minutes(each * i64::try_from(in_milk.len()).unwrap() + dice.between(0, 3));
        let joss = JOSS.contains(&on.to_string().as_str()) && morning;
        let milker = if joss {
            "Joss"
        } else if dice.percent(if morning { 4 } else { 14 }) {
            "Del"
        } else {
            "Mina"
        };
        let late = on.to_string().ends_with("-17") && !morning;
        let sign = |minutes| {
            if late {
                Sign::from(ended.plus_minutes(60 * 25), "Mina", "barn sheet")
            } else {
                Sign::screen(ended.plus_minutes(minutes), milker)
            }
        };
        let note = if joss { "Joss milked: hold list read to her at the door." } else { "" };
        let number =
            self.pen.write("milkings", row![session, self.pen.typed(started), self.pen.typed(ended), milker, "yes", note], sign(1));
        let mut milked = Milked { number, started, ended, can: Weight::ZERO, cows: Vec::new() };
        let to_calves = calf_pails(&in_milk, morning);
        let flat_battery = morning && on.format("%j").to_string().parse::<i64>().unwrap() % 17 == 0;
        for (cow, days) in in_milk {
            // Kettle kicks: her bucket goes over about once a week.
            let kicked = cow == 1 && dice.percent(8);
            let went = if kicked { "thrown out" } else { where_it_went(cow, &session, to_calves.contains(&cow)) };
            let given = gives(cow, days, on, morning, &mut dice);
            let (read, tare, milk) = if flat_battery { by_eye(given, went == "can" && milked.cows.is_empty()) } else { weighed(given) };
            let vessel = if went != "can" {
                ""
            } else if morning {
                "1"
            } else {
                "2"
            };
            let look = if FLAKES.contains(&(cow, session.as_str())) { "flakes" } else { "ok" };
            self.pen.write("pails", row![number, cow + 1, read, tare, milk, went, vessel, look], sign(0));
            if went == "can" {
                milked.can = milked.can + milk;
                milked.cows.push(COWS[cow].0);
            }
        }
        milked
    }
}

/// In the evening one pail goes to the calves, and a second with four cows in milk.
fn calf_pails(in_milk: &[(usize, i64)], morning: bool) -> Vec<usize> {
    if morning {
        return Vec::new();
    }
    in_milk.iter().rev().map(|(cow, _)| *cow).take(if in_milk.len() > 3 { 2 } else { 1 }).collect()
}

fn where_it_went(cow: usize, session: &str, calf_pail: bool) -> &'static str {
    let fresh = LACTATIONS.iter().zip(JOINED).any(|((own, calved, ..), (_, joined))| *own == cow && *calved <= session && session < joined);
    let out = THROWN_OUT.iter().any(|(own, first, last)| *own == cow && *first <= session && session <= *last);
    if out {
        "thrown out"
    } else if fresh || calf_pail {
        "calf"
    } else {
        "can"
    }
}

/// Her milk at one milking, in tenths of a pound: nearly two thirds in the morning, less in a July heat wave.
fn gives(cow: usize, days: i64, on: Day, morning: bool, dice: &mut Dice) -> i64 {
    let part = if morning { 63 } else { 37 };
    let heat = if (day("2026-07-06")..=day("2026-07-14")).contains(&on) { 92 } else { 100 };
    let swing = 100 + dice.between(-6, 6);
    curve(days) * COWS[cow].7 / 1000 * INTO_THE_BUCKET / 100 * part / 100 * heat / 100 * swing / 100 / 10
}

/// Gross on the scale less the bucket.
fn weighed(given: i64) -> (String, String, Weight) {
    (format!("{} lb", tenths(given + BUCKET)), format!("{} lb", tenths(BUCKET)), pounds(given))
}

/// The scale's battery is flat: the first pail is read on the dipstick in the empty can, the others at the bucket's marks.
fn by_eye(given: i64, into_empty_can: bool) -> (String, String, Weight) {
    let table = Dipstick::parse(CAN_TABLE).unwrap();
    let read = if into_empty_can {
        let off = |quarters: &i64| {
            let milk = milk_of(&format!("{}.{:02} in", quarters / 4, quarters % 4 * 25), None, Some(&table)).unwrap();
            (milk - pounds(given)).in_milligrams().abs()
        };
        let quarters = (1..60).min_by_key(off).unwrap();
        format!("{}{} in", quarters / 4, ["", "¼", "½", "¾"][usize::try_from(quarters % 4).unwrap()])
    } else {
        // Marks every eighth of a gallon: 10.75 tenths of a pound each.
        format!("{} gal", Decimal::new((given * 100 / 1075).max(1) * 125, 3).normalize())
    };
    let milk = milk_of(&read, None, Some(&table)).unwrap();
    (read, String::new(), milk)
}
