//! Who drinks the milk: herdshare families and walk-ins, all invented.

use super::{
    Farm,
    milkroom::chrono_days,
    pen::{Dice, Sign, day, row},
};
use tallypail::trade::when::Day;

/// How many members are written down; walk-ins follow them.
pub const MEMBERS: i64 = 29;

/// Name, pickup day, half-gallons a week, since, until, note.
const FAMILIES: [(&str, &str, i64, &str, &str, &str); 29] = [
    ("Orla Tremont", "Tuesday", 3, "2023-04-01", "", "Two households share one crate"),
    ("Benedict Quaile", "Tuesday", 2, "2023-04-01", "", ""),
    ("Ines Marrowby", "Thursday", 4, "2023-05-06", "", ""),
    ("The Halvorsett family", "Saturday", 4, "2023-06-10", "", "Grandmother collects"),
    ("Tamsin Oakhurst-Bly", "Tuesday", 3, "2023-09-02", "", ""),
    ("Ruben Castellane", "Saturday", 2, "2023-09-02", "", ""),
    ("Perpetua Lunn", "Thursday", 1, "2023-10-14", "", ""),
    ("Wendell Ashgrove", "Tuesday", 3, "2024-01-13", "", "Makes kefir"),
    ("Marit Solvang-Dray", "Saturday", 3, "2024-01-13", "", ""),
    ("Cormac Fennimore", "Thursday", 2, "2024-03-02", "", ""),
    ("Delphine Arkwell", "Saturday", 2, "2024-03-02", "2026-04-30", "Moved away; share bought back"),
    ("Jonas Pettibrand", "Thursday", 3, "2024-04-20", "", ""),
    ("Hester Vandermay", "Tuesday", 2, "2024-04-20", "", ""),
    ("The Oduya-Lark family", "Saturday", 4, "2024-05-18", "", ""),
    ("Silas Thornquist", "Thursday", 2, "2024-06-01", "", "Leaves empties by the tap"),
    ("Amabel Rooke", "Tuesday", 2, "2024-08-10", "", ""),
    ("Lucio Bramante", "Saturday", 3, "2024-08-10", "", ""),
    ("Gwendolen Staith", "Thursday", 3, "2024-09-21", "", ""),
    ("Idris Molland", "Thursday", 3, "2024-11-02", "", ""),
    ("Thea Wexcombe", "Tuesday", 2, "2025-01-11", "", ""),
    ("Florian Dacey", "Saturday", 2, "2025-02-15", "", ""),
    ("Noor Haverill", "Thursday", 2, "2025-03-08", "", ""),
    ("Augustin Perrow", "Saturday", 3, "2025-04-12", "", ""),
    ("Lettice Brandreth", "Tuesday", 3, "2025-06-07", "", "Sends a neighbour in winter"),
    ("Mabel Stickland", "Thursday", 2, "2025-11-01", "", ""),
    ("Ezra Colebrook", "Tuesday", 3, "2026-01-10", "", ""),
    ("Sunniva Garrow", "Saturday", 2, "2026-03-07", "", ""),
    ("Barnaby Twill", "Saturday", 3, "2026-05-02", "", "Took over the share of M11"),
    ("Clemence Harbord", "Saturday", 2, "2026-11-21", "", "New; the boarding agreement is not back yet"),
];

/// Name and since.
const WALK_INS: [(&str, &str); 15] = [
    ("Agnes Pomfret", "2025-09-01"),
    ("Dashiell Crane", "2025-09-01"),
    ("Rosalind Yew", "2025-09-01"),
    ("Tobias Merrin", "2025-09-01"),
    ("Catrin Bellweather", "2025-09-01"),
    ("Hugo Sandifer", "2025-09-01"),
    ("Maren Tidswell", "2025-09-01"),
    ("Otis Greaves", "2025-10-15"),
    ("Philippa Dunmore", "2025-11-22"),
    ("Leander Frost", "2026-02-06"),
    ("Bridie Calloway", "2026-03-20"),
    ("Ansel Whitlock", "2026-04-18"),
    ("Juniper Slade", "2026-05-15"),
    ("Milo Harcastle", "2026-06-26"),
    ("Verity Pook", "2026-08-28"),
];

/// Families that did not come for a while: their number, from, to.
const PAUSED: [(i64, &str, &str); 3] =
    [(14, "2026-07-04", "2026-07-25"), (20, "2026-02-10", "2026-03-03"), (9, "2025-12-20", "2026-01-03")];

/// Who fetches for a family now and then: the family's number, name, how to reach them, since.
const STAND_INS: [(i64, &str, &str, &str); 2] =
    [(4, "Grandmother Halvorsett", "555-0184", "2023-06-10"), (24, "Jory Tamblyn, next door", "555-0185", "2025-11-30")];

/// Half-gallons a week that one whole share gives.
const SHARE: i64 = 2;

/// Days a member must have come, because something that happened hangs on it.
const CAME: [(i64, &str); 4] = [(5, "2026-08-18"), (8, "2025-12-09"), (19, "2026-06-11"), (23, "2026-10-03")];

/// Somebody at the fridge.
pub struct Caller {
    /// Their number in the book, unless they are an unknown walk-in.
    pub number: Option<i64>,
    /// Their label, for the other chapters.
    pub label: String,
    /// Who carried the jars off, where it was somebody else.
    pub taken_by: String,
}

/// The members who come on a day, with the half-gallons promised them.
pub fn collecting(on: Day) -> Vec<(Caller, i64)> {
    let mut come = Vec::new();
    for (number, (_, weekday, jars, since, until, _)) in (1..).zip(FAMILIES) {
        let here = day(since) <= on && (until.is_empty() || on <= day(until));
        let paused = PAUSED.iter().any(|(own, from, to)| *own == number && (day(from)..=day(to)).contains(&on));
        let mut dice = Dice::of(&format!("member {number}"), on);
        let forgot = dice.percent(3) && !CAME.iter().any(|(own, came)| *own == number && day(came) == on);
        if here && !paused && !forgot && on.format("%A").to_string() == weekday {
            let winter = on.format("%m").to_string().as_str() < "04" && number == 24;
            let taken_by = if winter || dice.percent(3) { "a neighbour" } else { "" };
            come.push((Caller { number: Some(number), label: format!("M{number:02}"), taken_by: taken_by.to_owned() }, jars));
        }
    }
    come
}

/// The jars each family was lent when it began: its number, how many, since when.
pub fn lent() -> Vec<(i64, i64, Day)> {
    let here = |since: &str, until: &str| day(since) < super::demo_day() && (until.is_empty() || day(until) > day("2025-09-01"));
    (1..)
        .zip(FAMILIES)
        .filter(|(_, own)| here(own.3, own.4))
        .map(|(number, (_, _, jars, since, _, _))| (number, jars, day(since)))
        .collect()
}

/// The members: number, half-gallons a week, since, until.
pub fn members() -> impl Iterator<Item = (i64, i64, Day, Option<Day>)> {
    let until = |until: &str| (!until.is_empty()).then(|| day(until));
    (1..).zip(FAMILIES).map(move |(number, (_, _, jars, since, last, _))| (number, jars, day(since), until(last)))
}

/// A walk-in: one who gave a name, or one nobody knows.
pub fn walk_in(on: Day, dice: &mut Dice) -> Caller {
    let known: Vec<i64> = (1..).zip(WALK_INS).filter(|(_, (_, since))| day(since) <= on).map(|(number, _)| number).collect();
    let number = *dice.one(&known);
    if dice.percent(18) {
        return Caller { number: None, label: String::new(), taken_by: String::new() };
    }
    Caller { number: Some(MEMBERS + number), label: format!("W{number:02}"), taken_by: String::new() }
}

impl Farm {
    /// Writes the families and walk-ins down, each with two ways to be reached.
    pub fn people(&mut self) {
        let begun = self.pen.at(day("2025-09-01"), "20:40");
        for (number, (name, weekday, _, since, until, note)) in (1i64..).zip(FAMILIES) {
            let label = format!("M{number:02}");
            let reach = row![format!("555-01{number:02}"), format!("{}@example.org", label.to_lowercase())];
            let line = [&row![label, name, "member", "herdshare"][..], reach, row![weekday, since, until, note]].concat();
            let written = begun.max(self.pen.at(day(if until.is_empty() { since } else { until }), "20:15"));
            self.pen.write("people", &line, Sign::screen(written, "Mina"));
        }
        for (number, (name, since)) in (1i64..).zip(WALK_INS) {
            let label = format!("W{number:02}");
            let reach = row![format!("555-01{:02}", number + 60), format!("{}@example.org", label.to_lowercase())];
            let line = [&row![label, name, "walk-in", "farm gate"][..], reach, row!["", since, "", ""]].concat();
            let written = begun.max(self.pen.at(day(since), "18:20"));
            self.pen.write("people", &line, Sign::screen(written, "Mina"));
        }
    }

    /// What the families own and signed, on what terms, and when they stay away.
    pub fn shares(&mut self) {
        let begun = self.pen.at(day("2025-09-01"), "20:50");
        let sign = Sign::screen(begun, "Mina");
        let terms = row![
            "herdshare",
            "2025-09-01",
            "50.00",
            "40.00",
            "",
            "4.00",
            "evened up in jars",
            60,
            "Two half-gallons a week for a whole share"
        ];
        self.pen.write("terms", terms, sign.clone());
        let terms = row!["farm gate", "2025-09-01", "", "", "5.00", "4.00", "", "", "Cash into the tin at the fridge"];
        self.pen.write("terms", terms, sign.clone());
        let (mut next, mut half) = (1, None);
        for (number, (_, _, jars, since, until, note)) in (1i64..).zip(FAMILIES) {
            let sign = Sign::screen(begun.max(self.pen.at(day(since), "20:20")), "Mina");
            // Barnaby has what Delphine had, and a half more.
            let took_over = note.starts_with("Took over");
            let mut whole = jars / SHARE;
            if took_over {
                let line = row![number, "S15", "1", SHARE, "herdshare", since, until, "", "Bought from M11"];
                self.pen.write("shares", line, sign.clone());
                whole -= 1;
            }
            for _ in 0..whole {
                self.pen.write("shares", row![number, format!("S{next:02}"), "1", SHARE, "herdshare", since, until, "", ""], sign.clone());
                next += 1;
            }
            if jars % SHARE == 1 {
                let share = half.take().unwrap_or_else(|| {
                    half = Some(next);
                    next += 1;
                    next - 1
                });
                self.pen.write(
                    "shares",
                    row![number, format!("S{share:02}"), "1/2", SHARE, "herdshare", since, until, "", ""],
                    sign.clone(),
                );
            }
            let waits = note.starts_with("New;");
            for sort in ["bill of sale", "boarding agreement"] {
                let signed = if waits && sort == "boarding agreement" { "" } else { since };
                self.pen.write("agreements", row![number, sort, since, signed, "", "", ""], sign.clone());
            }
        }
        for (number, name, reach, since) in STAND_INS {
            let sign = Sign::screen(begun.max(self.pen.at(day(since), "20:30")), "Mina");
            self.pen.write("collectors", row![number, name, reach, since, ""], sign);
        }
        for (number, from, to) in PAUSED {
            let sign = Sign::screen(self.pen.at(day(from) - chrono_days(4), "20:10"), "Mina");
            self.pen.write("pauses", row![number, from, to, "", "Away"], sign);
        }
        let thanksgiving = row!["", "2026-11-26", "2026-11-26", "2026-11-25", "Thanksgiving"];
        self.pen.write("pauses", thanksgiving, Sign::screen(self.pen.at(day("2026-11-15"), "20:40"), "Mina"));
    }
}
