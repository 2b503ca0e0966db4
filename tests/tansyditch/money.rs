//! The money of the families and walk-ins: boarding on the first, payments some days later, cash in the tin at the fridge.

use super::{
    Farm, demo_day,
    families::{MEMBERS, members},
    ledger::{number, whole},
    milkroom::chrono_days,
    pen::{Dice, Sign, day, row},
};
use chrono::Datelike;
use std::collections::{BTreeMap, HashMap};
use tallypail::trade::{
    boarding::month_of,
    money::Money,
    transfers::{Lean, Sort},
    when::{Day, Moment},
};

/// Cents of boarding for each half-gallon a week: a share gives two of them for 40.00 a month.
const BOARDING: i64 = 2_000;
/// Cents of a share for each half-gallon a week: a share costs 50.00.
const SHARE: i64 = 2_500;
/// Cents of a half-gallon at the gate, and of the deposit on a jar.
const JAR: (i64, i64) = (500, 400);
/// What stays in the tin for change.
const FLOAT: i64 = 4_000;
/// Who always pays late, and by how many days more.
const LATE: [(i64, i64); 2] = [(10, 34), (16, 22)];
/// Who has not paid since a day.
const BEHIND: (i64, &str) = (10, "2026-10-01");
/// Whose check for a month came back.
const BOUNCED: (i64, &str) = (17, "2026-06-01");
/// Who paid half a year at once.
const AHEAD: (i64, &str, i64) = (3, "2026-09-01", 6);
/// Whose payment was typed twice and taken back.
const TYPED_TWICE: (i64, &str) = (5, "2026-03-01");
/// Who left and gave the share back, the day it was settled, and the half-gallons it gave.
const LEFT: (i64, &str, i64) = (11, "2026-05-02", 2);

/// Somebody who will pay: who, how much and how.
#[derive(Clone)]
struct Coming {
    person: i64,
    cents: i64,
    by: &'static str,
    then: Option<&'static str>,
}

/// What the books come to while they are written.
#[derive(Default)]
struct Till {
    tin: i64,
    owed: HashMap<i64, i64>,
    coming: BTreeMap<Day, Vec<Coming>>,
    deposits: Vec<i64>,
}

/// An entry as it is typed.
#[derive(Clone)]
struct Typed {
    sort: Sort,
    lean: Lean,
    person: Option<i64>,
    cents: i64,
    by: &'static str,
    month: Option<Day>,
    jars: Option<i64>,
    note: String,
}

fn typed(sort: Sort, lean: Lean, person: Option<i64>, cents: i64) -> Typed {
    Typed { sort, lean, person, cents, by: "", month: None, jars: None, note: String::new() }
}

fn paid(person: i64, cents: i64, by: &'static str) -> Typed {
    Typed { by, ..typed(Sort::Payment, if by == "cash" { Lean::Cash } else { Lean::Bank }, Some(person), cents) }
}

impl Farm {
    /// Writes the books, day by day.
    pub fn money(&mut self) {
        let mut till = Till::default();
        let mut calls = self.calls_of_walk_ins();
        for on in day("2025-09-01").iter_days().take_while(|on| *on < demo_day()) {
            if on == day("2025-09-01") {
                self.carry_over(on, &mut till);
            }
            self.joined(on, &mut till);
            if on.day() == 1 {
                self.bring_to_bank(on, &mut till);
                self.raise(on, &mut till);
            }
            self.odd_days(on, &mut till);
            for (at, person, jars) in calls.remove(&on).unwrap_or_default() {
                self.at_the_gate(on, at, person, jars, &mut till);
            }
            for coming in till.coming.remove(&on).unwrap_or_default() {
                self.comes_in(on, &coming, &mut till);
            }
            if month_of(on).to == on {
                self.count_tin(on, &mut till);
            }
        }
    }

    /// Writes an entry and keeps the sums.
    fn book(&mut self, on: Day, at: Moment, own: &Typed, till: &mut Till) -> i64 {
        let (from, to) = own.sort.accounts(own.lean).unwrap();
        self.entry(on, at, own, (&from.to_string(), &to.to_string()), None, till)
    }

    fn entry(&mut self, on: Day, at: Moment, own: &Typed, (from, to): (&str, &str), corrects: Option<i64>, till: &mut Till) -> i64 {
        let number = |own: Option<i64>| own.map(|own| own.to_string()).unwrap_or_default();
        let month = own.month.map(|month| month.to_string()).unwrap_or_default();
        let sort = if corrects.is_some() && own.sort != Sort::BouncedCheck { Sort::TakenBack } else { own.sort };
        let line = row![
            on,
            sort,
            from,
            to,
            number(own.person),
            Money::cents(own.cents),
            own.by,
            month,
            number(own.jars),
            number(corrects),
            own.note
        ];
        for (account, sign) in [(from, -1), (to, 1)] {
            match account {
                "cash tin" => till.tin += sign * own.cents,
                "household" => *till.owed.entry(own.person.unwrap()).or_default() += sign * own.cents,
                _ => {}
            }
        }
        self.pen.write("transfers", line, Sign::screen(at, "Mina"))
    }

    fn evening_desk(&self, on: Day) -> Moment {
        self.pen.at(on, "20:15")
    }

    /// What stood before these books: change in the tin, the bank, and deposits on the jars the families have.
    fn carry_over(&mut self, on: Day, till: &mut Till) {
        let at = self.pen.at(on, "21:05");
        self.book(on, at, &typed(Sort::OpeningBalance, Lean::Cash, None, FLOAT), till);
        self.book(on, at, &typed(Sort::OpeningBalance, Lean::Bank, None, 126_000), till);
        for (person, jars, _, _) in members().filter(|(_, _, since, _)| *since <= on) {
            let own = typed(Sort::OpeningBalance, Lean::Deposits, Some(person), jars * JAR.1);
            self.book(on, at, &own, till);
        }
    }

    /// A share, deposits and the rest of the month's boarding of whoever joins.
    fn joined(&mut self, on: Day, till: &mut Till) {
        let at = self.pen.at(on, "20:35");
        for (person, jars, _, _) in members().filter(|(_, _, since, _)| *since == on && *since > day("2025-09-01")) {
            self.book(on, at, &typed(Sort::SharePurchase, Lean::Plain, Some(person), jars * SHARE), till);
            let deposit = typed(Sort::JarDeposit, Lean::Plain, Some(person), jars * JAR.1);
            self.book(on, at, &Typed { jars: Some(jars), ..deposit }, till);
            let month = month_of(on);
            if on.day() > 1 {
                let (days, of) = ((month.to - on).num_days() + 1, month.days());
                let cents = (2 * jars * BOARDING * days + of) / (2 * of);
                let note = format!("{} × 40.00 × {days} of {of} days", part(jars));
                let own = Typed { month: Some(month.from), note, ..typed(Sort::Boarding, Lean::Plain, Some(person), cents) };
                self.book(on, at, &own, till);
            }
            let owed = till.owed[&person];
            self.book(on, at.plus_minutes(4), &paid(person, owed, "check"), till);
        }
    }

    /// Everybody's boarding on the first, and when each will pay it.
    fn raise(&mut self, on: Day, till: &mut Till) {
        let at = self.pen.at(on, "20:04");
        let here = |since: Day, until: Option<Day>| since <= on && until.is_none_or(|until| on <= until);
        for (person, jars, ..) in members().filter(|(_, _, since, until)| here(*since, *until)) {
            let cents = jars * BOARDING;
            let own = typed(Sort::Boarding, Lean::Plain, Some(person), cents);
            self.book(on, at, &Typed { month: Some(on), note: format!("{} × 40.00", part(jars)), ..own }, till);
            let mut dice = Dice::of(&format!("pays {person}"), on);
            let by = match Dice::of_words(&format!("pays {person} by")).between(1, 100) {
                1..=55 => "check",
                56..=84 => "transfer",
                _ => "cash",
            };
            let late = LATE.iter().find(|(own, _)| *own == person).map_or(0, |(_, days)| *days);
            let comes = on + chrono_days(u64::try_from(dice.between(1, 9) + late).unwrap());
            let (ahead, since, months) = AHEAD;
            let (cents, comes_at_all) = if person == ahead && on >= day(since) {
                (cents * months, on == day(since))
            } else {
                (cents, person != BEHIND.0 || on < day(BEHIND.1))
            };
            let then = match (person, on) {
                (BOUNCED_BY, on) if on == day(BOUNCED.1) => Some("bounced"),
                (TWICE_BY, on) if on == day(TYPED_TWICE.1) => Some("twice"),
                _ => None,
            };
            let by = if then.is_some() { "check" } else { by };
            if comes_at_all {
                till.coming.entry(comes).or_default().push(Coming { person, cents, by, then });
            }
        }
    }

    fn comes_in(&mut self, on: Day, coming: &Coming, till: &mut Till) {
        let (at, own) = (self.evening_desk(on), paid(coming.person, coming.cents, coming.by));
        let number = self.book(on, at, &own, till);
        match coming.then {
            Some("bounced") => {
                let back = on + chrono_days(6);
                let bounced = Typed { sort: Sort::BouncedCheck, note: "Account closed, says the bank".to_owned(), ..own };
                self.entry(back, self.evening_desk(back), &bounced, ("bank", "household"), Some(number), till);
                let again = Coming { by: "cash", then: None, ..coming.clone() };
                till.coming.entry(on + chrono_days(11)).or_default().push(again);
            }
            Some("twice") => {
                let double = self.book(on, at.plus_minutes(30), &own, till);
                let back = Typed { note: "Typed twice".to_owned(), ..own };
                self.entry(on, at.plus_minutes(33), &back, ("bank", "household"), Some(double), till);
            }
            _ => {}
        }
    }

    /// A jar brought back full, and a family that left.
    fn odd_days(&mut self, on: Day, till: &mut Till) {
        let at = self.pen.at(on, "20:25");
        if on == day("2025-12-11") {
            let own = typed(Sort::Adjustment, Lean::Less, Some(8), JAR.0);
            self.book(on, at, &Typed { note: "One jar came back full".to_owned(), ..own }, till);
        }
        let (person, settled, jars) = LEFT;
        if on == day(settled) {
            self.book(on, at, &typed(Sort::BuyBack, Lean::Plain, Some(person), jars * SHARE), till);
            let deposit = typed(Sort::DepositGivenBack, Lean::Plain, Some(person), jars * JAR.1);
            self.book(on, at, &Typed { jars: Some(jars), ..deposit }, till);
            let back = -till.owed[&person];
            let own = typed(Sort::PaidBack, Lean::Bank, Some(person), back);
            self.book(on, at, &Typed { by: "check", ..own }, till);
        }
    }

    /// Half-gallons walk-ins took, by day: when, who if known, how many.
    fn calls_of_walk_ins(&self) -> BTreeMap<Day, Vec<(Moment, Option<i64>, i64)>> {
        let mut calls: BTreeMap<(i64, Option<i64>), i64> = BTreeMap::new();
        for pickup in self.pen.book.of("pickups") {
            let (person, jars) = (whole("pickups", pickup, "person"), number("pickups", pickup, "half_gallons"));
            if person.is_none_or(|person| person > MEMBERS) && jars > 0 {
                *calls.entry((number("pickups", pickup, "at"), person)).or_default() += jars;
            }
        }
        let mut days: BTreeMap<Day, Vec<(Moment, Option<i64>, i64)>> = BTreeMap::new();
        for ((at, person), jars) in calls {
            let at = Moment::seconds(at);
            days.entry(self.pen.zone.day(at)).or_default().push((at, person, jars));
        }
        days
    }

    /// Milk at the gate: cash into the tin, and now and then on the slate until the next call.
    fn at_the_gate(&mut self, on: Day, at: Moment, person: Option<i64>, jars: i64, till: &mut Till) {
        let at = at.plus_minutes(3);
        let milk = |lean| Typed { jars: Some(jars), ..typed(Sort::MilkAtTheGate, lean, person, jars * JAR.0) };
        let Some(person) = person else {
            self.book(on, at, &milk(Lean::Cash), till);
            return;
        };
        self.book(on, at, &milk(Lean::Plain), till);
        if !till.deposits.contains(&person) {
            till.deposits.push(person);
            let own = typed(Sort::JarDeposit, Lean::Plain, Some(person), jars * JAR.1);
            self.book(on, at, &Typed { jars: Some(jars), ..own }, till);
        }
        if !Dice::of(&format!("slate {person}"), on).percent(4) {
            let owed = till.owed[&person];
            self.book(on, at, &paid(person, owed, "cash"), till);
        }
    }

    /// The tin on the last evening of a month; now and then a coin is missing or too many.
    fn count_tin(&mut self, on: Day, till: &mut Till) {
        let (at, mut dice) = (self.pen.at(on, "20:50"), Dice::of("tin", on));
        let off = if dice.percent(45) { dice.between(-8, 3) * 25 } else { 0 };
        let number = self.pen.write("tin_counts", row![self.pen.typed(at), Money::cents(till.tin + off), "Mina"], Sign::screen(at, "Mina"));
        if off != 0 {
            let own = typed(Sort::TinCounted, if off > 0 { Lean::More } else { Lean::Less }, None, off.abs());
            self.book(on, at.plus_minutes(2), &Typed { note: format!("Count {number} by Mina"), ..own }, till);
        }
    }

    /// Whole tens over the change go to the bank the morning after.
    fn bring_to_bank(&mut self, on: Day, till: &mut Till) {
        let cents = (till.tin - FLOAT) / 1_000 * 1_000;
        if cents > 0 {
            self.book(on, self.pen.at(on, "11:20"), &typed(Sort::MovedToTheBank, Lean::Plain, None, cents), till);
        }
    }
}

const BOUNCED_BY: i64 = BOUNCED.0;
const TWICE_BY: i64 = TYPED_TWICE.0;

/// The shares that give so many half-gallons a week, as they are written: `1 1/2`.
fn part(jars: i64) -> String {
    match (jars / 2, jars % 2) {
        (whole, 0) => whole.to_string(),
        (0, _) => "1/2".to_owned(),
        (whole, _) => format!("{whole} 1/2"),
    }
}
