//! Where a trace may begin: not only at a lot, but at anything that may have troubled milk. Each beginning names the lots it leads
//! to first, certain where the milk itself does and possible where it may be, and the spread goes on from there.

use super::{
    clocks::{Dose, Withheld, withdrawal},
    trace::{CowId, Graph, Lists, LotId, MilkingId, Node, Pail, PersonId, Tie, Ties, VesselId, lots_among},
    when::{Day, Moment, Zone, day_shown},
};
use std::collections::BTreeSet;

/// What a trace may begin at, by the word it goes by in an address, what a form calls it, and what is written to say which.
pub const WORDS: [(&str, &str, &str); 11] = [
    ("lot", "A lot", "its code"),
    ("jar", "A jar", "the code on its lid"),
    ("cow", "A cow’s milk", "her name"),
    ("milking", "A milking", "its day and session, like 2026-05-14 AM"),
    ("vessel", "A vessel", "its name"),
    ("wash", "A washing", "the vessel’s name, or the number of the record"),
    ("filter", "A filter", "the code of a lot that went through it"),
    ("treatment", "A treatment", "the cow’s name, or the number of the record"),
    ("feed", "Feed", "what is kept, or the number of its ticket"),
    ("person", "What somebody took", "the number the household goes by"),
    ("date", "A day", "nothing more: only the day"),
];

/// Days, both ends among them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Days {
    /// The first.
    pub from: Day,
    /// The last.
    pub until: Day,
}

impl Days {
    fn holds(self, at: Moment, zone: Zone) -> bool {
        zone.start_of(self.from) <= at && at < zone.end_of(self.until)
    }

    /// The days as people say them.
    #[must_use]
    pub fn shown(self) -> String {
        if self.from == self.until {
            format!("on {}", day_shown(self.from))
        } else {
            format!("from {} to {}", day_shown(self.from), day_shown(self.until))
        }
    }
}

/// A dose, and all that her clock at it rests on.
#[derive(Clone, Debug)]
pub struct Treated {
    /// The cow.
    pub cow: CowId,
    /// Her name.
    pub name: String,
    /// The dose asked about.
    pub dose: Dose,
    /// Every dose she was given.
    pub doses: Vec<Dose>,
    /// Her calvings.
    pub calvings: Vec<Moment>,
    /// Each time she was milked since, wherever the milk went: when it began and when it was over at the latest, in order.
    pub milked: Vec<(Moment, Moment)>,
}

/// What was fed, and while it may have been.
#[derive(Clone, Debug)]
pub struct Fed {
    /// What it is.
    pub what: String,
    /// The cow it was for alone, if it was.
    pub only: Option<CowId>,
    /// While it may have been fed.
    pub days: Days,
    /// Why it ends there, as a sentence.
    pub ends: String,
}

/// A ticket of something that was fed, as far as it says when.
#[derive(Clone, Debug)]
pub struct Bought {
    /// What it is.
    pub what: String,
    /// The cow it was for alone, if it was.
    pub only: Option<CowId>,
    /// When it was paid, or since when a store of it is kept.
    pub paid: Day,
    /// The first day it was used, if that is written.
    pub used_from: Option<Day>,
    /// The last day, if that is written.
    pub used_to: Option<Day>,
    /// The first day a count found none left.
    pub used_up: Option<Day>,
    /// The day of the next ticket of the same.
    pub next: Option<Day>,
}

impl Fed {
    /// While what was bought may have been fed: from the day it was used first, or else bought, until it was used up or the next
    /// of it came. Nobody writes which bale was eaten on which day, so it is never more than possible.
    #[must_use]
    pub fn of(bought: &Bought, today: Day) -> Fed {
        let from = bought.used_from.unwrap_or(bought.paid);
        let said = [
            bought.used_to.map(|day| (day, format!("By its ticket it was used until {}.", day_shown(day)))),
            bought.used_up.map(|day| (day, format!("A count found none of it left on {}.", day_shown(day)))),
            bought.next.map(|day| {
                let next = format!(
                    "The next ticket of it is of {}. What was left then is not written: if some was, write a later last day.",
                    day_shown(day)
                );
                (day, next)
            }),
        ];
        let end = said.into_iter().flatten().filter(|(day, _)| *day >= from).min();
        let (until, ends) = end.unwrap_or_else(|| {
            (today.max(from), "Nothing that is written says that it is used up, so it is followed up to today.".to_owned())
        });
        Fed { what: bought.what.clone(), only: bought.only, days: Days { from, until }, ends }
    }
}

/// A lot in the order of filling, and whether it was filled through a new filter, if anybody wrote that.
#[derive(Clone, Copy, Debug)]
pub struct Filtered {
    /// The lot.
    pub lot: LotId,
    /// When it was filled.
    pub filled: Moment,
    /// Whether the filter was new.
    pub is_new: Option<bool>,
}

/// A lot that somebody took.
pub type Taken = (Moment, LotId);

/// A lot with the first day it stood in the fridge, and the last if it is gone.
pub type Stood = (LotId, Day, Option<Day>);

/// What a trace begins at, with what is needed to say which lots that leads to.
#[derive(Clone, Debug)]
pub enum Start {
    /// A lot.
    Lot(LotId),
    /// A jar, which is the lot on its lid.
    Jar(LotId),
    /// A cow's milk of some days.
    Cow(CowId, Days),
    /// A milking.
    Milking(MilkingId),
    /// A vessel, in the hours between two moments.
    Vessel(VesselId, Moment, Moment),
    /// A washing of a vessel.
    Wash(VesselId, Moment),
    /// A treatment of a cow.
    Treatment(Treated),
    /// Something that was fed.
    Feed(Fed),
    /// The filter a lot went through, with the lots in the order of filling.
    Filter(LotId, Vec<Filtered>),
    /// What somebody took, or may have taken when nothing is written down.
    Person(Days, Vec<Taken>, Vec<Stood>),
    /// A day.
    Date(Day, Vec<Stood>),
}

impl Start {
    /// The lots it leads to first.
    #[must_use]
    pub fn ties(&self, lists: &Lists, zone: Zone) -> Ties {
        let graph = Graph::of(lists);
        match self {
            Start::Lot(lot) => one(*lot, "is the lot asked about"),
            Start::Jar(lot) => one(*lot, "is the lot on the lid"),
            Start::Cow(cow, days) => {
                let hers = lists.pails.iter().filter(|pail| pail.cow == *cow && days.holds(pail.at, zone));
                holding(&graph, lists, hers, |milking| Tie::Certain(format!("holds her milk of {milking}")))
            }
            Start::Milking(milking) => whole_milking(&graph, lists, *milking),
            Start::Vessel(vessel, from, until) => went_through(&graph, lists, *vessel, &[*from, *until]),
            // A second later: a washing parts what was before it from what came after, and only what came after is asked about.
            Start::Wash(vessel, at) => went_through(&graph, lists, *vessel, &[Moment::seconds(at.in_seconds() + 1)]),
            Start::Treatment(treated) => treated.ties(&graph, lists),
            Start::Feed(fed) => {
                let while_fed =
                    lists.pails.iter().filter(|pail| fed.only.is_none_or(|cow| cow == pail.cow) && fed.days.holds(pail.at, zone));
                holding(&graph, lists, while_fed, |milking| {
                    Tie::Possible(format!("holds milk of {milking}, while {} may have been fed", fed.what))
                })
            }
            Start::Filter(lot, order) => same_filter(*lot, order),
            Start::Person(days, taken, stood) => had(*days, taken, stood, zone),
            Start::Date(day, stood) => on_day(*day, lists, stood, zone),
        }
    }
}

fn one(lot: LotId, why: &str) -> Ties {
    Ties::from([(lot, Tie::Certain(why.to_owned()))])
}

/// The lots that these pails' milkings went into, straight or made into something else.
fn holding<'a>(graph: &Graph<'_>, lists: &Lists, pails: impl Iterator<Item = &'a Pail>, says: impl Fn(&str) -> Tie) -> Ties {
    let milkings: BTreeSet<(Moment, MilkingId)> = pails.map(|pail| (pail.at, pail.milking)).collect();
    let mut ties = Ties::new();
    for (_, milking) in milkings {
        let tie = says(&named(lists, milking));
        for lot in lots_among(graph.forward(Node::Milking(milking))) {
            ties.entry(lot).or_insert_with(|| tie.clone());
        }
    }
    ties
}

fn named(lists: &Lists, milking: MilkingId) -> String {
    lists.milking_names.get(&milking).cloned().unwrap_or_else(|| format!("milking {}", milking.0))
}

fn vessel_named(lists: &Lists, vessel: VesselId) -> String {
    lists.vessel_names.get(&vessel).cloned().unwrap_or_else(|| format!("vessel {}", vessel.0))
}

/// A milking's own lots, and what went through the vessels it was poured into.
fn whole_milking(graph: &Graph<'_>, lists: &Lists, milking: MilkingId) -> Ties {
    let own = lots_among(graph.forward(Node::Milking(milking)));
    let mut ties: Ties = own.into_iter().map(|lot| (lot, Tie::Certain(format!("holds milk of {}", named(lists, milking))))).collect();
    for pail in lists.pails.iter().filter(|pail| pail.milking == milking) {
        let Some(vessel) = pail.vessel else { continue };
        for lot in graph.through(vessel, pail.at) {
            let why = format!("went through {} with no clean break before or since that milking", vessel_named(lists, vessel));
            ties.entry(lot).or_insert(Tie::Possible(why));
        }
    }
    ties
}

fn went_through(graph: &Graph<'_>, lists: &Lists, vessel: VesselId, at: &[Moment]) -> Ties {
    let (Some(first), Some(last)) = (at.iter().min(), at.iter().max()) else { return Ties::new() };
    // Every clean break in between begins another stretch, so each is asked about.
    let breaks = lists.clean_breaks.iter().filter(|(of, when)| *of == vessel && first <= when && when <= last).map(|(_, when)| *when);
    let moments: BTreeSet<Moment> = at.iter().copied().chain(breaks).collect();
    let why = format!("went through {} between the clean breaks around it", vessel_named(lists, vessel));
    let lots = moments.into_iter().flat_map(|at| graph.through(vessel, at));
    lots.map(|lot| (lot, Tie::Possible(why.clone()))).collect()
}

impl Treated {
    /// Her milk from the dose until her time was over, as the verdict reckons it. Where only the vet can say, or nobody wrote how
    /// long, it goes on being possible.
    fn ties(&self, graph: &Graph<'_>, lists: &Lists) -> Ties {
        let mut ties = Ties::new();
        for (at, over) in self.milked.iter().filter(|(_, over)| *over >= self.dose.at) {
            let done: Vec<Moment> = self.milked.iter().map(|(begun, _)| *begun).filter(|begun| begun < at).collect();
            let tie: fn(String) -> Tie = match withdrawal(&self.doses, &self.calvings, &done, (*at).max(self.dose.at).min(*over)) {
                Withheld::Clear(_) => break,
                Withheld::Until(_) if *at >= self.dose.at => Tie::Certain,
                _ => Tie::Possible,
            };
            let why =
                if *at < self.dose.at { "while she may have been treated already" } else { "before her time was over, by what is written" };
            let hers = lists.pails.iter().filter(|pail| pail.cow == self.cow && pail.at == *at);
            for (lot, found) in holding(graph, lists, hers, |milking| tie(format!("holds milk of {} of {milking}, {why}", self.name))) {
                match ties.get(&lot) {
                    Some(own) if Tie::is_certain(own) || !found.is_certain() => {}
                    _ => drop(ties.insert(lot, found)),
                }
            }
        }
        ties
    }
}

/// The lots from the last new filter up to the next one. A lot of which nobody wrote whether the filter was new is taken to have
/// gone through the old one.
fn same_filter(lot: LotId, order: &[Filtered]) -> Ties {
    let mut order: Vec<&Filtered> = order.iter().collect();
    order.sort_by_key(|own| (own.filled, own.lot));
    let mut ties = one(lot, "is the lot asked about");
    let Some(place) = order.iter().position(|own| own.lot == lot) else { return ties };
    let first = order.iter().take(place + 1).rposition(|own| own.is_new == Some(true)).unwrap_or(0);
    let after = order.iter().skip(place + 1).take_while(|own| own.is_new != Some(true)).count();
    for own in order.iter().skip(first).take(place - first + 1 + after) {
        ties.entry(own.lot).or_insert(Tie::Possible("may have gone through the same filter: no new one is written in between".to_owned()));
    }
    ties
}

/// What is written down as taken on these days; when nothing is, every lot that stood in the fridge on one of them.
fn had(days: Days, taken: &[Taken], stood: &[Stood], zone: Zone) -> Ties {
    let written = taken.iter().filter(|(at, _)| days.holds(*at, zone));
    let mut ties = Ties::new();
    for (at, lot) in written {
        ties.entry(*lot).or_insert_with(|| Tie::Certain(format!("is written down as taken on {}", day_shown(zone.day(*at)))));
    }
    if !ties.is_empty() {
        return ties;
    }
    let there = stood.iter().filter(|(_, first, last)| *first <= days.until && last.is_none_or(|last| days.from <= last));
    there.map(|(lot, ..)| (*lot, Tie::Possible("was on hand then, and nothing is written down as taken".to_owned()))).collect()
}

/// What was filled on a day, and what stood in the fridge.
fn on_day(day: Day, lists: &Lists, stood: &[Stood], zone: Zone) -> Ties {
    let filled = lists.lots.iter().filter(|lot| zone.day(lot.filled) == day);
    let mut ties: Ties = filled.map(|lot| (lot.id, Tie::Certain("was filled that day".to_owned()))).collect();
    for (lot, ..) in stood.iter().filter(|(_, first, last)| *first <= day && last.is_none_or(|last| day <= last)) {
        ties.entry(*lot).or_insert_with(|| Tie::Possible("was on hand that day".to_owned()));
    }
    ties
}

/// The lots a person could have had on a day, when the code is washed off the jar: those written down as taken that day, or
/// else every lot that stood in the fridge then. `stood` gives each lot's first day on hand, and its last if it is gone.
#[must_use]
pub fn possible_lots(taken: &[(PersonId, Day, LotId)], stood: &[(LotId, Day, Option<Day>)], person: PersonId, day: Day) -> Ties {
    let written = taken.iter().filter(|(who, on, _)| *who == person && *on == day);
    let certain: Ties = written.map(|(_, _, lot)| (*lot, Tie::Certain("is written down as taken that day".to_owned()))).collect();
    if !certain.is_empty() {
        return certain;
    }
    let there = stood.iter().filter(|(_, first, last)| *first <= day && last.is_none_or(|last| day <= last));
    there.map(|(lot, _, _)| (*lot, Tie::Possible("was on hand that day, and nothing is written down as taken".to_owned()))).collect()
}

/// A beginning in words: what was asked about, the name a file of it goes by, and what to know before reading it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Begun {
    /// What was asked about.
    pub what: String,
    /// What to know before reading it, in sentences.
    pub says: Vec<String>,
}

impl Begun {
    /// The name of a file: letters and figures, joined by hyphens.
    #[must_use]
    pub fn name(&self) -> String {
        let words = self.what.split(|c: char| !c.is_ascii_alphanumeric()).filter(|word| !word.is_empty());
        words.map(str::to_ascii_lowercase).collect::<Vec<_>>().join("-")
    }
}
