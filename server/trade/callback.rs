//! Calling milk back: who has it, where every jar of it is, and what is behind it, as one sheet.
//!
//! The order is that of a bad day: what to do first, what to hold, whom to ring and what to say, where the jars are, and
//! then the way back for whoever looks into it. It never says what made anybody ill, only what cannot be excluded.

use super::{
    behind::{Behind, Milked},
    figures::{Cell, Holds, Part, Sheet, Table},
    jars::Jars,
    picture::Picture,
    recipients::{HandedOut, Household, Ring, handed_table, or, ring_table, rings, tie_word},
    starts::Begun,
    tie_picture::{Drawn, DrawnLot, DrawnMilking, Links},
    trace::{Graph, LotId, Spread, Tie, Ties},
    when::{Day, Moment, Zone, day_shown},
    whereabouts::{self, Caught},
};
use std::collections::BTreeSet;

/// What was asked.
#[derive(Clone, Debug)]
pub enum Asked {
    /// A lot, by the code on its lid.
    Lot(String),
    /// Some lots, by their codes.
    Lots(Vec<String>),
    /// A household and a day, when the code is washed off.
    Taken {
        /// The household.
        by: Household,
        /// The day they say.
        day: Day,
        /// Whether a hand-out to them is written down for that day.
        recorded: bool,
        /// The days nearest to it on which one is, with the lots.
        near: Vec<(Day, String)>,
    },
    /// Anything else that may have troubled milk.
    Begun(Begun),
}

/// The farm as the paper names it.
#[derive(Clone, Debug, Default)]
pub struct Farm {
    /// Its name, address and phone.
    pub name: String,
    /// Its phone.
    pub phone: String,
    /// Its vet.
    pub vet: String,
    /// Its health department.
    pub health: String,
}

/// All that is known when milk is called back.
#[derive(Clone, Debug)]
pub struct Callback {
    /// What was asked.
    pub asked: Asked,
    /// The farm.
    pub farm: Farm,
    /// The lots, the certain ones first.
    pub lots: Vec<Caught>,
    /// Every hand-out of those lots.
    pub handed: Vec<HandedOut>,
    /// What is behind them.
    pub behind: Behind,
    /// What links those lots and milkings.
    pub links: Links,
    /// When it was asked.
    pub now: Moment,
    /// By whom.
    pub who: String,
    /// The farm's clock.
    pub zone: Zone,
}

/// How far trouble spreads from lots that are themselves only known by these ties. What follows from a lot that is certain is as
/// certain as the graph says; what follows only from one that is possible is never more than possible.
#[must_use]
pub fn spread(graph: &Graph<'_>, start: &Ties) -> Spread {
    let mut spread = graph.spread(&start.keys().copied().collect());
    let sure: BTreeSet<LotId> = start.iter().filter(|(_, tie)| tie.is_certain()).map(|(lot, _)| *lot).collect();
    let known = graph.spread(&sure);
    for (lot, tie) in &mut spread.lots {
        *tie = match (start.get(lot), known.lots.get(lot)) {
            (Some(own), _) if own.is_certain() => own.clone(),
            (_, Some(follows)) if follows.is_certain() => follows.clone(),
            (Some(own), _) | (None, Some(own)) => own.clone(),
            (None, None) => Tie::Possible(format!("if it was one of those asked about: {}", tie.why())),
        };
    }
    spread
}

/// So many of a thing, in words that fit the number.
pub(super) fn so_many(count: usize, one: &str, more: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { more })
}

impl Callback {
    /// The household that told us, which need not be rung.
    fn teller(&self) -> Option<&Household> {
        match &self.asked {
            Asked::Lot(_) | Asked::Lots(_) | Asked::Begun(_) => None,
            Asked::Taken { by, .. } => Some(by),
        }
    }

    /// The whole call-back as a sheet.
    #[must_use]
    pub fn sheet(&self) -> Sheet {
        let (name, title) = match &self.asked {
            Asked::Lot(code) => (format!("trace-{code}"), format!("Trace {code}")),
            Asked::Lots(codes) => ("trace-lots".to_owned(), format!("Trace {}", codes.join(", "))),
            Asked::Taken { by, day, .. } => (format!("trace-{}-{day}", by.label), format!("Trace {}, {}", by.label, day_shown(*day))),
            Asked::Begun(begun) => (format!("trace-{}", begun.name()), format!("Trace: {}", begun.what)),
        };
        let rings = rings(&self.lots, &self.handed, self.teller(), self.zone);
        let mut parts = vec![Part::Loud(self.first())];
        parts.extend(self.doubt());
        parts.push(Part::Heading("Hold (withhold): the lots it may be in".to_owned()));
        parts.push(Part::Table(self.lots_table()));
        parts.push(Part::Words(
            "Certain: the milk itself leads there. Possible: only a vessel with no clean break, or not knowing which jar it was. \
             A lot that is listed cannot be excluded; that it is listed does not say that it made anybody ill."
                .to_owned(),
        ));
        parts.extend(self.drawn().map(Part::Picture));
        parts.push(Part::Heading("Forward: who has it, and whom to ring".to_owned()));
        parts.push(Part::Words(
            "The latest taken first, and of one day those with the most jars: theirs are the likeliest not to be drunk yet.".to_owned(),
        ));
        parts.push(Part::Table(ring_table(&rings, self.zone)));
        parts.push(Part::Words(self.call()));
        parts.push(Part::Table(handed_table(&self.lots, &self.handed, self.zone)));
        parts.push(Part::Heading("Where every jar is".to_owned()));
        parts.extend(whereabouts::parts(&self.lots, self.zone));
        parts.extend(self.behind.parts(self.zone));
        let under = "Call-back (recall): held (withheld) and handed out (distribution)".to_owned();
        Sheet { name, title, under, facts: self.facts(&rings), parts }
    }

    /// The spread as a picture, with how many households have jars of each lot and never which.
    pub(super) fn drawn(&self) -> Option<Picture> {
        let lots: Vec<DrawnLot> = self
            .lots
            .iter()
            .map(|lot| {
                let own = || self.handed.iter().filter(|out| out.lot == lot.number);
                DrawnLot {
                    number: lot.number,
                    code: lot.code.clone(),
                    filled: lot.filled,
                    is_certain: lot.tie.is_certain(),
                    households: own().filter_map(|out| out.to.as_ref().map(|to| to.number)).collect::<BTreeSet<_>>().len(),
                    walk_ins: own().filter(|out| out.to.is_none()).count(),
                }
            })
            .collect();
        let drawn =
            |own: &Milked| DrawnMilking { number: own.number, session: own.session.clone(), started: own.started, is_certain: own.certain };
        let milkings: Vec<DrawnMilking> = self.behind.milked.iter().map(drawn).collect();
        let cows: Vec<(String, String)> = self.behind.poured.iter().map(|own| (own.session.clone(), own.cow.clone())).collect();
        Drawn { lots: &lots, milkings: &milkings, cows: &cows, links: &self.links }.picture()
    }

    fn first(&self) -> String {
        let health = if self.farm.health.is_empty() { String::new() } else { format!(": {}", self.farm.health) };
        format!(
            "Anyone ill: doctor first. Keep the jar cold, closed and unwashed. Hold the lots below. Tell the health department{health}."
        )
    }

    fn facts(&self, rings: &[Ring<'_>]) -> Vec<(String, String)> {
        let certain = self.lots.iter().filter(|lot| lot.tie.is_certain()).count();
        let unknown = rings.iter().filter(|ring| ring.to.is_none()).count();
        let mut facts = vec![match &self.asked {
            Asked::Lot(code) => ("Asked about".to_owned(), format!("Lot {code}")),
            Asked::Lots(codes) => ("Asked about".to_owned(), format!("Lots {}", codes.join(", "))),
            Asked::Taken { by, day, .. } => ("Asked about".to_owned(), format!("What {} had on {}", by.called(), day_shown(*day))),
            Asked::Begun(begun) => ("Asked about".to_owned(), begun.what.clone()),
        }];
        if let Some(by) = self.teller() {
            facts.push((
                "Who told us".to_owned(),
                format!("{}, {}; {}", by.called(), or(&by.phone, "no phone"), or(&by.second_way, "no second way")),
            ));
        }
        let possible = self.lots.len() - certain;
        facts.push(("Lots".to_owned(), format!("{} certain, {possible} possible", certain)));
        let others = if self.teller().is_some() { "other " } else { "" };
        let mut who = so_many(rings.len() - unknown, &format!("{others}household"), &format!("{others}households"));
        if unknown > 0 {
            who = format!("{who}, and {} to unknown walk-ins", so_many(unknown, "hand-out", "hand-outs"));
        }
        facts.push(("Who has it".to_owned(), who));
        facts.push(("Jars handed out".to_owned(), self.handed.iter().map(|out| out.jars).sum::<Jars>().to_string()));
        facts.push(("Farm".to_owned(), self.farm.name.clone()));
        facts.push(("Farm's phone".to_owned(), or(&self.farm.phone, "not written down")));
        facts.push(("Health department".to_owned(), or(&self.farm.health, "not written down; write it on the farm's record today")));
        facts.push(("Vet".to_owned(), or(&self.farm.vet, "not written down")));
        facts.push(("Made".to_owned(), format!("{}, for {}", self.zone.in_full(self.now), or(&self.who, "the command line"))));
        facts
    }

    /// What there is to say when the lots themselves are a guess.
    fn doubt(&self) -> Vec<Part> {
        let (by, day, recorded, near) = match &self.asked {
            Asked::Lot(_) | Asked::Lots(_) => return Vec::new(),
            Asked::Begun(begun) => return begun.says.iter().cloned().map(Part::Words).collect(),
            Asked::Taken { by, day, recorded, near } => (by, day, recorded, near),
        };
        if *recorded {
            return Vec::new();
        }
        let mut said = vec![Part::Loud(format!(
            "Nothing is written down as handed out to {} on {}. So this is every lot that was on hand that day, each only possible.",
            by.called(),
            day_shown(*day)
        ))];
        let mut table =
            Table::new("nearest", "Days nearest to it with a hand-out to them", &[("Day", Holds::Words, 2), ("Lots", Holds::Words, 5)]);
        format!("Nothing was ever handed out to {}.", by.called()).clone_into(&mut table.when_empty);
        table.rows = near
            .iter()
            .map(|(day, lots)| vec![Cell::opening(day_shown(*day), format!("/trace?person={}&day={day}", by.label)), Cell::says(lots)])
            .collect();
        said.push(Part::Table(table));
        said
    }

    fn lots_table(&self) -> Table {
        let columns = [
            ("Lot", Holds::Codes, 3),
            ("Tie", Holds::Words, 3),
            ("Why", Holds::Words, 7),
            ("Filled", Holds::Words, 4),
            ("From", Holds::Words, 3),
            ("Verdict now", Holds::Words, 3),
            ("On hand, counted", Holds::Words, 4),
            ("Held", Holds::Words, 3),
        ];
        let mut table = Table::new("lots", "Lots", &columns);
        let none = if matches!(self.asked, Asked::Begun(_)) {
            "Nothing that is written down leads from it to any lot."
        } else {
            "No lot was on hand that day."
        };
        none.clone_into(&mut table.when_empty);
        for lot in &self.lots {
            let from = if lot.made.is_empty() { or(&lot.vessel, "not written") } else { format!("made: {}", lot.made) };
            let counted = lot.counts.last().map_or_else(|| "not counted".to_owned(), |count| count.jars.to_string());
            let held = if lot.held { Cell::says("held") } else { Cell::opening("not held", format!("/stop?what=lot%20{}", lot.code)) };
            table.rows.push(vec![
                Cell::opening(&lot.code, format!("/trace/{}", lot.code)),
                Cell::says(tie_word(lot.tie.is_certain())),
                Cell::says(lot.tie.why()),
                Cell::says(self.zone.in_full(lot.filled)),
                Cell::says(from),
                Cell::opening(lot.word.to_string(), format!("/lots/{}", lot.code)),
                Cell::says(counted),
                held,
            ]);
        }
        table
    }

    /// What to say on the phone: what it is, stop, pass it on, what to do, how to answer; and nobody else's name.
    fn call(&self) -> String {
        let codes: Vec<&str> = self.lots.iter().map(|lot| lot.code.as_str()).collect();
        let back = if self.farm.phone.is_empty() { String::new() } else { format!(" Ring us at {}.", self.farm.phone) };
        format!(
            "What to say: “{} is calling back (recalling) milk. Look for jars marked {}. Do not drink it and do not pass it on; if you gave \
             some away, tell them the same. Keep the jar cold, closed and unwashed, and tell us how many you have left. If anybody is ill, \
             see a doctor and say that they drank raw milk.{back}” Do not guess at a cause, and name no other household.",
            self.farm.name,
            codes.join(", ")
        )
    }
}
