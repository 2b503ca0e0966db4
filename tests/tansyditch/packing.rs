//! What stands packed on a pickup day, and the empty jars that did not come back.

use super::{
    Farm,
    families::Caller,
    pen::{Dice, Sign, day, row},
};
use std::collections::HashMap;
use tallypail::trade::{
    parts::Hundredths,
    sharing::{Claim, Method, share},
    when::Day,
};

/// What everybody carries from one packing to the next.
#[derive(Default)]
pub struct Carried(HashMap<i64, (Hundredths, Option<Day>)>);

/// One household's crate: places on the shelf, with the half-gallons from each.
pub type Crate = Vec<(usize, i64)>;

impl Farm {
    /// Packs the members of a day an hour before the fridge opens, and gives back each one's crate.
    pub fn pack(&mut self, on: Day, members: &[(Caller, i64)], ready: i64, places: &[usize]) -> Vec<Crate> {
        let claims: Vec<Claim> = members
            .iter()
            .map(|(caller, jars)| {
                let person = caller.number.unwrap();
                let (carried, last_short) = self.carried.0.get(&person).copied().unwrap_or_default();
                Claim { person, promised: Hundredths::jars(*jars), carried, place: None, last_short }
            })
            .collect();
        let sign = Sign::screen(self.pen.at(on, "14:06"), "Mina");
        let packing = self.pen.write("packings", row![on, self.pen.typed(self.pen.at(on, "14:02")), "pro rata", ready, ""], sign.clone());
        let mut left: Vec<i64> = places.iter().map(|place| self.fridge[*place].jars.half_gallons).collect();
        let mut crates = Vec::new();
        for portion in share(&claims, ready, Method::ProRata) {
            let line = row![packing, portion.person, portion.promised, portion.fair, portion.carried, portion.jars, ""];
            self.pen.write("portions", line, sign.clone());
            let short = (portion.fair < portion.promised).then_some(on);
            let before = self.carried.0.get(&portion.person).and_then(|own| own.1);
            self.carried.0.insert(portion.person, (portion.after(), short.or(before)));
            let (mut own, mut wanted) = (Crate::new(), portion.jars);
            for (place, left) in places.iter().zip(&mut left) {
                let some = wanted.min(*left);
                if some > 0 {
                    *left -= some;
                    wanted -= some;
                    own.push((*place, some));
                    self.pen.write("crates", row![packing, portion.person, self.fridge[*place].lot, some], sign.clone());
                }
            }
            crates.push(own);
        }
        crates
    }

    /// The jars every family was lent to begin with.
    pub fn first_jars(&mut self) {
        let begun = self.pen.at(day("2025-09-01"), "20:55");
        let held: Vec<(i64, i64, Day)> = super::families::lent();
        for (person, jars, since) in held {
            let at = begun.max(self.pen.at(since, "17:30"));
            let line = row![self.pen.typed(at), person, "first jars", 0, jars, 0, 0, ""];
            self.pen.write("empties", line, Sign::screen(at.plus_minutes(5), "Mina"));
        }
    }

    /// Now and then somebody forgets the empties, and brings them the week after; and a jar breaks in somebody's kitchen.
    pub fn empties(&mut self, on: Day, caller: &Caller, jars: i64, dice: &mut Dice) {
        let Some(person) = caller.number.filter(|number| *number <= super::families::MEMBERS) else { return };
        let at = self.pen.at(on, "18:20");
        let sign = Sign::screen(at.plus_minutes(3), "Tobe");
        let owing = self.forgotten.remove(&person);
        let event = match (owing, dice.between(1, 100)) {
            (Some(owed), _) => Some(("brought back", owed, "")),
            (None, 1..=4) => {
                self.forgotten.insert(person, jars);
                Some(("not brought back", jars, ""))
            }
            (None, 5) => Some(("broken or lost", 1, "Broke in the sink")),
            _ => None,
        };
        if let Some((sort, jars, note)) = event {
            self.pen.write("empties", row![self.pen.typed(at), person, sort, 0, jars, 0, 0, note], sign);
        }
    }
}
