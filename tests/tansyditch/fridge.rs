//! The fridge: who took which jars, what stayed home, and what was counted in the evening.

use super::{
    Farm,
    families::{self, Caller},
    milkroom::{May, READ_LATE, Shelf, TOO_WARM, chrono_days},
    packing::Crate,
    pen::{Dice, Sign, cells, day, row},
};
use tallypail::trade::{
    jars::Jars,
    when::{Day, Moment, day_shown},
};

/// The day two jars went missing, between one evening's count and the next.
pub const TWO_MISSING: &str = "2026-08-27";
/// The member who brought a full jar back, the day he took it and the day it came back.
const BROUGHT_BACK: [(&str, &str, &str); 3] =
    [("M08", "2025-12-09", "2025-12-11"), ("M19", "2026-06-11", "2026-06-13"), ("M23", "2026-10-03", "2026-10-06")];
/// The oldest a jar leaves the farm, in days after milking; older ones go to the pig.
const OLDEST: i64 = 5;
/// In a hundred, the families evened up when there is plenty.
const EVENED_UP: i64 = 20;
/// The most walk-ins who come because there is plenty.
const MORE_VISITS: i64 = 1;

/// One call at the fridge.
struct Call {
    at: Moment,
    caller: Caller,
    jars: i64,
    /// What stood packed for them: places on the shelf, with the half-gallons from each.
    packed: Crate,
}

impl Farm {
    /// Takes jars off a shelf and says where they went.
    pub fn set_aside(&mut self, place: usize, at: Moment, sort: &str, jars: Jars, why: &str, sign: &Sign) {
        let shelf = &mut self.fridge[place];
        shelf.jars = if sort == "returned" { shelf.jars + jars } else { shelf.jars - jars };
        let line = [&row![self.pen.typed(at), shelf.lot, sort][..], &cells(jars), row![why]].concat();
        self.pen.write("asides", &line, sign.clone());
    }

    /// The lab's pint before breakfast, and the shelf jar on Mondays.
    pub fn samples(&mut self, on: Day) {
        let Some(place) = self.fridge.iter().position(|shelf| shelf.milked == on && matches!(shelf.may, May::Go | May::Off)) else {
            return;
        };
        let at = self.pen.at(on, "07:10");
        if self.sampled(on) && self.fridge[place].jars.pints > 0 {
            self.set_aside(
                place,
                at,
                "sample",
                Jars { pints: 1, ..Jars::NONE },
                "Iced and posted to the lab",
                &Sign::screen(at.plus_minutes(1), "Mina"),
            );
        }
        if on.format("%a").to_string() == "Mon" && self.fridge[place].jars.quarts > 0 {
            self.set_aside(
                place,
                at,
                "shelf jar",
                Jars { quarts: 1, ..Jars::NONE },
                "Sniffed on days 7, 10 and 14",
                &Sign::screen(at.plus_minutes(2), "Lark"),
            );
        }
    }

    /// Milk nobody can show was cold goes to the calves the next morning, unless Mina decided otherwise.
    pub fn calves_get_what_cannot_be_told(&mut self, on: Day) {
        let at = self.pen.at(on, "09:15");
        for place in 0..self.fridge.len() {
            let jars = self.fridge[place].jars;
            let why = match self.fridge[place].may {
                May::NotTell => "Not read cold within two hours",
                May::Off => "Read too near 40 °F with a probe that was off",
                May::Over => "Coliforms over the limit: fed to the calves",
                _ => continue,
            };
            if self.fridge[place].milked < on && on < super::demo_day() && !jars.is_none() {
                self.set_aside(place, at, "calf", jars, why, &Sign::screen(at.plus_minutes(2), "Mina"));
            }
        }
    }

    /// At noon the house takes the odd quarts and pints, and now and then a whole jar.
    pub fn house(&mut self, on: Day) {
        let mut dice = Dice::of("house", on);
        let at = self.pen.at(on, &format!("12:{:02}", dice.between(2, 28)));
        let mut whole = dice.percent(9);
        let sign = Sign::screen(at.plus_minutes(1), "Mina");
        for place in 0..self.fridge.len() {
            let shelf = &self.fridge[place];
            let fresh_cream = shelf.cream && self.pen.zone.day(shelf.filled) + chrono_days(1) >= on;
            if shelf.filled > at || fresh_cream || !matches!(shelf.may, May::Go | May::OwnWord | May::Decided) {
                continue;
            }
            let jar = i64::from(whole && !shelf.cream && shelf.jars.half_gallons > 2);
            whole = whole && jar == 0;
            let pints = if shelf.cream { 0 } else { shelf.jars.pints };
            let jars = Jars { gallons: 0, half_gallons: jar, quarts: shelf.jars.quarts, pints };
            if !jars.is_none() {
                self.set_aside(place, at, "household", jars, "", &sign);
            }
        }
    }

    /// Held jars of the day go where the hold sent them.
    pub fn clear_held(&mut self, on: Day) {
        let at = self.pen.at(on, "18:45");
        for place in 0..self.fridge.len() {
            let (jars, late) = (self.fridge[place].jars, READ_LATE.starts_with(&on.to_string()));
            let today = late || TOO_WARM.starts_with(&on.to_string());
            if today && self.fridge[place].may == May::Held && self.fridge[place].milked == on {
                let (sort, why) = if late { ("calf", "Can't be shown cold in time") } else { ("thrown out", "43 °F at two hours") };
                self.set_aside(place, at, sort, jars, why, &Sign::screen(at.plus_minutes(1), "Mina"));
            }
        }
    }

    fn ready(&self, shelf: &Shelf, on: Day, at: Moment) -> bool {
        !shelf.cream
            && matches!(shelf.may, May::Go | May::OwnWord | May::Decided)
            && (on - shelf.milked).num_days() <= OLDEST
            && shelf.filled < at
    }

    /// An afternoon at the fridge door, three to six.
    pub fn pickup(&mut self, on: Day) {
        let opens = self.pen.at(on, "15:00");
        let ready: i64 = self.fridge.iter().filter(|shelf| self.ready(shelf, on, opens)).map(|shelf| shelf.jars.half_gallons).sum();
        let mut dice = Dice::of("pickup", on);
        let members = families::collecting(on);
        let promised: i64 = members.iter().map(|(_, jars)| *jars).sum();
        // With plenty on hand, some families are evened up with a jar more.
        let plenty = !members.is_empty() && ready > promised + 24;
        let more: Vec<i64> = members.iter().map(|_| i64::from(plenty && dice.percent(EVENED_UP))).collect();
        let places: Vec<usize> = (0..self.fridge.len()).filter(|place| self.ready(&self.fridge[*place], on, opens)).collect();
        let crates = if members.is_empty() { Vec::new() } else { self.pack(on, &members, ready, &places) };
        let packed: i64 = crates.iter().flatten().map(|(_, jars)| jars).sum();
        let mut left = ready - packed - more.iter().sum::<i64>();
        let mut calls: Vec<Call> = Vec::new();
        for (((caller, _), packed), more) in members.into_iter().zip(crates).zip(more).filter(|((_, packed), _)| !packed.is_empty()) {
            calls.push(Call { at: opens.plus_minutes(dice.between(2, 176)), caller, jars: more, packed });
        }
        let name = on.format("%a").to_string();
        // On days between, enough stays for tomorrow's families.
        let keep = if matches!(name.as_str(), "Tue" | "Thu" | "Sat") { 2 } else { 14 };
        let visits = match name.as_str() {
            "Sun" | "Mon" => 0,
            "Sat" => dice.between(3, 5),
            _ => dice.between(1, 4),
        };
        // Word goes round the gate when there is plenty.
        let visits = visits + ((left - 24) / 10).clamp(0, MORE_VISITS);
        for _ in 0..visits {
            let jars = dice.between(1, 2).min(left - keep);
            if jars > 0 {
                left -= jars;
                calls.push(Call {
                    at: opens.plus_minutes(dice.between(2, 176)),
                    caller: families::walk_in(on, &mut dice),
                    jars,
                    packed: Crate::new(),
                });
            }
        }
        calls.sort_by_key(|call| call.at);
        if !calls.is_empty() {
            self.sheet += 1;
        }
        // What stands packed is nobody else's: it is taken off the shelf first, and put back as it is carried off.
        for (place, jars) in calls.iter().flat_map(|call| call.packed.clone()) {
            self.fridge[place].jars.half_gallons -= jars;
        }
        let mut cream_left = 2;
        for call in calls {
            for (place, jars) in &call.packed {
                self.fridge[*place].jars.half_gallons += jars;
            }
            self.hand_out(on, &call, &mut dice, &mut cream_left);
            let jars = call.packed.iter().map(|(_, jars)| jars).sum();
            self.empties(on, &call.caller, jars, &mut Dice::of(&format!("empties {}", call.caller.label), on));
        }
    }

    fn hand_out(&mut self, on: Day, call: &Call, dice: &mut Dice, cream_left: &mut i64) {
        let keyed = self.pen.at(on, "21:02").plus_minutes(dice.between(0, 9));
        // Some sheets wait on the hook until the next evening.
        let keyed = if self.sheet % 29 == 0 { keyed.plus_minutes(60 * 24) } else { keyed };
        let walk_in = call.caller.number.is_none_or(|number| number > families::MEMBERS);
        let (evidence, sign) = match dice.between(1, 100) {
            _ if walk_in => ("seen", Sign::screen(call.at.plus_minutes(2), if dice.percent(70) { "Mina" } else { "Tobe" })),
            1..=56 => ("signed", Sign::from(keyed, "Mina", format!("pickup sheet {}", self.sheet))),
            57..=86 => ("seen", Sign::screen(call.at.plus_minutes(2), if dice.percent(70) { "Mina" } else { "Tobe" })),
            _ => ("assumed", Sign::screen(keyed, "Mina")),
        };
        for (place, jars) in &call.packed {
            self.hand_jars(*place, call, Jars::halves(*jars), evidence, &sign);
        }
        let mut wanted = call.jars;
        for place in 0..self.fridge.len() {
            let shelf = &self.fridge[place];
            let take = shelf.jars.half_gallons.min(wanted);
            if take > 0 && self.ready(shelf, on, call.at) {
                wanted -= take;
                self.hand_jars(place, call, Jars::halves(take), evidence, &sign);
            }
        }
        let cream = self.fridge.iter().position(|shelf| shelf.cream && shelf.jars.pints > 0 && (on - shelf.milked).num_days() <= OLDEST);
        if let Some(place) = cream.filter(|_| walk_in && *cream_left > 0) {
            *cream_left -= 1;
            self.hand_jars(place, call, Jars { pints: 1, ..Jars::NONE }, evidence, &sign);
        }
    }

    fn hand_jars(&mut self, place: usize, call: &Call, jars: Jars, evidence: &str, sign: &Sign) {
        let shelf = &mut self.fridge[place];
        shelf.jars = shelf.jars - jars;
        let best_by = day_shown(shelf.milked + chrono_days(10));
        let (verdict, because, own_word) = if shelf.may == May::OwnWord {
            (
                "Can't tell",
                "Nobody read this milk cold within two hours of milking.".to_owned(),
                "Mina's own decision: 38.1 °F at 05:30 next morning, the bath still iced",
            )
        } else if shelf.may == May::Decided {
            ("Can go", shelf.because.clone(), "")
        } else {
            ("Can go", format!("Cold in time, nothing held, best by {best_by}."), "")
        };
        let person = call.caller.number.map(|number| number.to_string()).unwrap_or_default();
        let start = row![self.pen.typed(call.at), shelf.lot, person];
        let end = row![evidence, call.caller.taken_by, verdict, because, shelf.facts, own_word];
        self.pen.write("pickups", &[&start[..], &cells(jars), end].concat(), sign.clone());
        for (label, took, _) in BROUGHT_BACK {
            if call.caller.label == label && self.pen.zone.day(call.at) == day(took) {
                let shelf = &self.fridge[place];
                let copy =
                    Shelf { jars: Jars::NONE, code: shelf.code.clone(), because: String::new(), facts: shelf.facts.clone(), ..*shelf };
                self.brought_back.push((label, copy));
            }
        }
    }

    /// What leaves the fridge in the evening without being handed out.
    pub fn evening(&mut self, on: Day) {
        let mut dice = Dice::of("evening", on);
        let at = self.pen.at(on, "20:05");
        let sign = Sign::screen(at.plus_minutes(2), "Tobe");
        for (label, _, back) in BROUGHT_BACK {
            if day(back) != on {
                continue;
            }
            let place = self.brought_back.iter().position(|(own, _)| *own == label).unwrap();
            let (_, shelf) = self.brought_back.swap_remove(place);
            let own = self.fridge.iter().position(|other| other.lot == shelf.lot).unwrap_or_else(|| {
                self.fridge.push(shelf);
                self.fridge.len() - 1
            });
            self.set_aside(own, at.plus_minutes(-150), "returned", Jars::halves(1), &format!("{label} brought one back full"), &sign);
            self.set_aside(own, at, "thrown out", Jars::halves(1), "Had left the fridge: not handed out again", &sign);
        }
        for place in 0..self.fridge.len() {
            let shelf = &self.fridge[place];
            let jars = shelf.jars;
            if (on - shelf.milked).num_days() >= OLDEST && shelf.may != May::Held && !jars.is_none() {
                self.set_aside(place, at, "thrown out", jars, "Five days old: to the pig", &sign);
            }
        }
        if dice.percent(5)
            && let Some(place) = self.fridge.iter().rposition(|shelf| shelf.jars.half_gallons > 3 && shelf.milked < on)
        {
            let how = *dice.one(&["Dropped on the step", "Cracked in the slush", "Lid rim chipped"]);
            self.set_aside(place, at, "broken", Jars::halves(1), how, &sign);
        }
    }

    /// The evening count, lot by lot, before the book's own figure is shown.
    pub fn count(&mut self, on: Day) {
        let mut dice = Dice::of("count", on);
        if on == day(TWO_MISSING) {
            // From the lot that the day's last caller had part of.
            let last = self.pen.book.of("pickups").iter().rev().find_map(|pickup| {
                let lot = pickup.cells[1].whole()?;
                self.fridge.iter().position(|shelf| shelf.lot == lot && shelf.jars.half_gallons >= 2)
            });
            let shelf = &mut self.fridge[last.unwrap()];
            shelf.jars.half_gallons -= 2;
        }
        let at = self.pen.at(on, &format!("20:{}", dice.between(22, 41)));
        let counter = *dice.one(&["Tobe", "Tobe", "Lark", "Mina"]);
        let sign = if dice.percent(6) {
            Sign::from(at.plus_minutes(60 * 13), "Mina", "count sheet")
        } else {
            Sign::screen(at.plus_minutes(2), counter)
        };
        for shelf in &self.fridge {
            let line = [&row![self.pen.typed(at), shelf.lot][..], &cells(shelf.jars), row![counter]].concat();
            self.pen.write("counts", &line, sign.clone());
        }
        self.fridge.retain(|shelf| !shelf.jars.is_none());
    }
}
