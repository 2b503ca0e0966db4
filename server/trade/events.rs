//! What happened to some lots, event by event: what the papers for a regulator and for another farm's program are drawn from.
//!
//! The words are those of the US traceability rule (21 CFR part 1 subpart S, from memory): critical tracking event, traceability
//! lot code, key data elements. It does not bind a farm that hands fluid milk straight to whoever drinks it; an inspector reads
//! its words all the same. An event is told as it was written; what a correction replaced stays an event, with what struck it.

use super::{
    balance,
    jars::{Jars, Size},
    measure::Weight,
    when::Moment,
};
use std::collections::BTreeSet;

/// The farm as the papers name it.
#[derive(Clone, Debug, Default)]
pub struct Place {
    /// The entry mark of its first record, which never changes.
    pub entry: String,
    /// Its name.
    pub name: String,
    /// Its address.
    pub address: String,
    /// Its phone.
    pub phone: String,
}

/// A lot as an event names it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Lot {
    /// Its number.
    pub number: i64,
    /// The entry mark of its record.
    pub entry: String,
    /// The code on its lids.
    pub code: String,
    /// The jars filled.
    pub jars: Jars,
    /// What it was made into; empty for milk from the can.
    pub made: String,
}

impl Lot {
    /// What is in its jars.
    #[must_use]
    pub fn product(&self) -> &'static str {
        match self.made.as_str() {
            "cream" => "Raw cream",
            "skim" => "Raw skim milk",
            "repoured" => "Raw milk, poured over",
            _ => "Raw milk",
        }
    }

    /// The sizes of its jars, the largest first.
    pub fn sizes(&self) -> impl Iterator<Item = Size> + '_ {
        Size::ALL.into_iter().filter(|size| self.jars.of(*size) > 0)
    }
}

/// A milking as an event names it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Milking {
    /// Its number.
    pub number: i64,
    /// The entry mark of its record.
    pub entry: String,
    /// What it is called: `2026-05-14 AM`.
    pub session: String,
}

/// A household as an event names it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Household {
    /// Its record's number.
    pub number: i64,
    /// The entry mark of its record.
    pub entry: String,
    /// The number it goes by.
    pub label: String,
    /// Its name, which a paper leaves out unless somebody asks for it.
    pub name: String,
}

/// The record an event was read from: the reference document of the rule.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Record {
    /// Its kind, by its name in `trade::kinds`.
    pub kind: &'static str,
    /// Its number.
    pub number: i64,
    /// Which version of it.
    pub version: i64,
    /// Its entry mark.
    pub entry: String,
    /// When it was written.
    pub written: Moment,
    /// By whom.
    pub who: String,
}

/// When, by whom and why something written was struck.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Struck {
    /// When.
    pub at: Moment,
    /// By whom.
    pub who: String,
    /// Why.
    pub why: String,
    /// Whether something stands in its place.
    pub replaced: bool,
}

/// What happened.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum What {
    /// Cows were milked.
    Milked(Milked),
    /// Jars were filled, from the can or from other lots.
    Filled {
        /// The milkings in them.
        milkings: Vec<Milking>,
        /// The lots they were made from.
        lots: Vec<Lot>,
        /// The vessel they were filled from.
        vessel: String,
    },
    /// A jar's temperature was read.
    Chilled {
        /// What the thermometer showed, as it was read: `38.2 °F`.
        read: String,
        /// Which thermometer.
        thermometer: String,
        /// What the ice bath showed.
        bath: String,
    },
    /// Jars were handed out.
    HandedOut {
        /// To whom; nothing for an unknown walk-in.
        to: Option<Household>,
        /// How the farm knows: seen, signed or assumed.
        evidence: String,
        /// Who took them, as it was written: a name.
        taken_by: String,
    },
    /// Jars went elsewhere, or came back full.
    SetAside {
        /// Where.
        went: balance::What,
        /// Why, in somebody's words.
        reason: String,
    },
    /// The lot was held (withheld).
    Held {
        /// What the hold names: lot, cow, vessel or everything.
        scope: String,
        /// Why.
        reason: String,
    },
    /// A hold on the lot was lifted.
    Lifted {
        /// Why.
        reason: String,
    },
    /// The lot's jars on hand were counted.
    Counted {
        /// By whom.
        by: String,
    },
    /// The lot was called back (recalled).
    CalledBack {
        /// Why.
        because: String,
    },
}

/// One milking.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Milked {
    /// Which.
    pub milking: Milking,
    /// When it began.
    pub started: Moment,
    /// The milk that went into the can.
    pub milk: Weight,
    /// The cows it came from.
    pub cows: BTreeSet<String>,
    /// The vessels it was poured into.
    pub vessels: BTreeSet<String>,
    /// Who milked.
    pub by: String,
    /// The lots it went into, by code.
    pub into: BTreeSet<String>,
}

/// One event.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Event {
    /// What happened.
    pub what: What,
    /// When it happened.
    pub at: Moment,
    /// To which lot; nothing for a milking.
    pub lot: Option<Lot>,
    /// How many jars it was about; none where it was about the whole lot, or about milk before it was in jars.
    pub jars: Jars,
    /// The record it was read from.
    pub record: Record,
    /// Which state of the event this is, from 1: as many as were corrected, in its own record or in what belongs to it.
    pub state: i64,
    /// What struck it; nothing while it stands.
    pub struck: Option<Struck>,
}

impl Event {
    /// The rule's critical tracking event; nothing for what the rule has no word for.
    #[must_use]
    pub fn critical(&self) -> Option<&'static str> {
        match &self.what {
            What::Milked(_) => Some("Harvesting"),
            What::Chilled { .. } => Some("Cooling"),
            What::Filled { lots, .. } if lots.is_empty() => Some("Initial packing"),
            What::Filled { .. } => Some("Transformation"),
            What::HandedOut { .. } => Some("Shipping (to a consumer)"),
            _ => None,
        }
    }

    /// What happened, in the farm's words.
    #[must_use]
    pub fn says(&self) -> &'static str {
        match &self.what {
            What::Milked(_) => "Milked",
            What::Filled { lots, .. } if lots.is_empty() => "Filled",
            What::Filled { .. } => "Made",
            What::Chilled { .. } => "Chill reading",
            What::HandedOut { .. } => "Handed out (distribution)",
            What::SetAside { went, .. } => went_where(*went),
            What::Held { .. } => "Held (withheld)",
            What::Lifted { .. } => "Hold lifted",
            What::Counted { .. } => "Counted on hand",
            What::CalledBack { .. } => "Called back (recall)",
        }
    }

    /// Where it comes in the order of one moment: milk before jars, jars before what became of them.
    const fn place(&self) -> u8 {
        match &self.what {
            What::Milked(_) => 0,
            What::Filled { .. } => 1,
            What::Chilled { .. } => 2,
            What::HandedOut { .. } => 3,
            What::SetAside { .. } => 4,
            What::Counted { .. } => 5,
            What::Held { .. } => 6,
            What::CalledBack { .. } => 7,
            What::Lifted { .. } => 8,
        }
    }
}

/// Where jars that were set aside went, in the farm's words.
const fn went_where(went: balance::What) -> &'static str {
    match went {
        balance::What::Filled | balance::What::HandedOut => "Set aside",
        balance::What::Returned => "Brought back full",
        balance::What::Household => "Set aside: house",
        balance::What::Calf => "Set aside: calf",
        balance::What::IntoLot => "Set aside: made into another lot",
        balance::What::Sample => "Set aside: sample",
        balance::What::ShelfJar => "Set aside: shelf jar",
        balance::What::Broken => "Broken",
        balance::What::ThrownOut => "Thrown out",
    }
}

/// A call-back's record, as an event names it.
#[derive(Clone, Debug)]
pub struct Called {
    /// The record.
    pub record: Record,
    /// When the lots were called back.
    pub at: Moment,
    /// Why.
    pub because: String,
}

/// Every event of some lots.
#[derive(Clone, Debug, Default)]
pub struct Events {
    /// The farm.
    pub farm: Place,
    /// The lots asked about, the oldest first.
    pub lots: Vec<Lot>,
    /// What happened, the oldest first.
    pub all: Vec<Event>,
    /// Every household, so that a paper without names can take them out of what somebody wrote in words.
    pub households: Vec<Household>,
}

impl Events {
    /// The events in the order they happened; of one moment, milk comes before jars, and a struck version before what replaced it.
    #[must_use]
    pub fn of(farm: Place, lots: Vec<Lot>, mut all: Vec<Event>, households: Vec<Household>) -> Events {
        all.sort_by_key(|event| (event.at, event.place(), event.record.number, event.state));
        Events { farm, lots, all, households }
    }

    /// The same events and the calling back of every one of these lots.
    #[must_use]
    pub fn called_back(self, called: &Called) -> Events {
        let event = |lot: &Lot| Event {
            what: What::CalledBack { because: called.because.clone() },
            at: called.at,
            lot: Some(lot.clone()),
            jars: Jars::NONE,
            record: called.record.clone(),
            state: called.record.version,
            struck: None,
        };
        let more: Vec<Event> = self.lots.iter().map(event).collect();
        Events::of(self.farm, self.lots, self.all.into_iter().chain(more).collect(), self.households)
    }

    /// The event that stands in the place of a struck one.
    #[must_use]
    pub fn in_place_of(&self, struck: &Event) -> Option<&Event> {
        self.beside(struck, struck.state + 1)
    }

    /// When this state of an event was written, and by whom: where it stands in the place of another, when that was struck.
    #[must_use]
    pub fn written<'a>(&'a self, event: &'a Event) -> (Moment, &'a str) {
        let before = self.beside(event, event.state - 1).and_then(|own| own.struck.as_ref());
        before.map_or((event.record.written, event.record.who.as_str()), |own| (own.at, own.who.as_str()))
    }

    /// Another state of the same event.
    fn beside(&self, event: &Event, state: i64) -> Option<&Event> {
        let is_same = |own: &&Event| own.record.kind == event.record.kind && own.record.number == event.record.number && own.state == state;
        let lot = |own: &Event| own.lot.as_ref().map(|lot| lot.number);
        // A hold touches several lots: the same lot's event comes first. A hand-out may have been corrected to another lot.
        let same_lot = self.all.iter().filter(is_same).find(|own| lot(own) == lot(event));
        same_lot.or_else(|| self.all.iter().find(is_same))
    }
}

/// One version of a record, with what struck it.
#[derive(Clone, Debug)]
pub struct Version<T> {
    /// The record.
    pub record: Record,
    /// What struck this version; nothing for the one that stands.
    pub struck: Option<Struck>,
    /// What it says.
    pub says: T,
}

/// One state of an event that is written in several records.
pub type State<'a, H, P> = (&'a Version<H>, Vec<&'a Version<P>>, Option<Struck>);

/// The states an event went through that is written in one record and in others that belong to it, such as a milking and its
/// cows: one for each correction of any of them, and the one that stands. `heads` are the versions of the one record, in order;
/// `parts` those of the others. A part that was written in later is no correction.
#[must_use]
pub fn states<'a, H, P>(heads: &'a [Version<H>], parts: &'a [Version<P>]) -> Vec<State<'a, H, P>> {
    let struck_at = |struck: &Option<Struck>| struck.as_ref().map(|own| own.at);
    let heads_struck: BTreeSet<Moment> = heads.iter().filter_map(|head| struck_at(&head.struck)).collect();
    let mut found = Vec::new();
    let mut from = None;
    for head in heads {
        let until = struck_at(&head.struck);
        let within = |at: Moment| from.is_none_or(|from| at > from) && until.is_none_or(|until| at < until);
        let own = parts.iter().filter_map(|part| part.struck.as_ref()).filter(|own| within(own.at) && !heads_struck.contains(&own.at));
        let mut changes: Vec<&Struck> = own.collect();
        changes.sort_by_key(|own| own.at);
        changes.dedup_by_key(|own| own.at);
        for change in changes {
            found.push((head, before(parts, change.at), Some(Struck { replaced: true, ..change.clone() })));
        }
        found.push((head, until.map_or_else(|| standing(parts), |until| before(parts, until)), head.struck.clone()));
        from = until;
    }
    found
}

/// The parts that stand now.
fn standing<P>(parts: &[Version<P>]) -> Vec<&Version<P>> {
    parts.iter().filter(|part| part.struck.is_none()).collect()
}

/// The version of each part that stood right before a moment: the first that was not struck by then.
fn before<P>(parts: &[Version<P>], at: Moment) -> Vec<&Version<P>> {
    let mut seen = BTreeSet::new();
    let then = |part: &&Version<P>| part.record.written <= at && part.struck.as_ref().is_none_or(|struck| struck.at >= at);
    parts.iter().filter(then).filter(|part| seen.insert(part.record.number)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn version(number: i64, version: i64, says: &'static str, struck: Option<i64>) -> Version<&'static str> {
        let struck = struck.map(|at| Struck { at: Moment::seconds(at), who: String::new(), why: String::new(), replaced: true });
        let (written, entry, who) = (Moment::seconds(1), String::new(), String::new());
        Version { record: Record { kind: "lots", number, version, entry, written, who }, struck, says }
    }

    fn told(heads: &[Version<&'static str>], parts: &[Version<&'static str>]) -> Vec<String> {
        let one = |(head, parts, struck): &State<'_, &str, &str>| {
            let parts: Vec<&str> = parts.iter().map(|part| part.says).collect();
            format!("{} {}{}", head.says, parts.join("+"), if struck.is_some() { " struck" } else { "" })
        };
        states(heads, parts).iter().map(one).collect()
    }

    /// Source: worked by hand from the rule that a state ends when any record it is written in is struck.
    #[test]
    fn an_event_has_a_state_for_each_correction() {
        assert_eq!(told(&[version(1, 1, "a", None)], &[]), ["a "]);
        let heads = [version(1, 1, "a", Some(20)), version(1, 2, "b", None)];
        assert_eq!(told(&heads, &[]), ["a  struck", "b "]);
        let parts = [version(7, 1, "x", Some(10)), version(7, 2, "y", Some(30)), version(7, 3, "z", None), version(8, 1, "w", Some(20))];
        assert_eq!(told(&heads, &parts), ["a x+w struck", "a y+w struck", "b y struck", "b z"]);
        assert_eq!(told(&[version(1, 1, "a", Some(20))], &[]), ["a  struck"], "struck altogether, it has no state that stands");
    }

    /// Source: two corrections in one second are two versions still.
    #[test]
    fn two_corrections_in_one_second_are_two_states() {
        let heads = [version(1, 1, "a", Some(20)), version(1, 2, "b", Some(20)), version(1, 3, "c", None)];
        assert_eq!(told(&heads, &[]), ["a  struck", "b  struck", "c "]);
    }
}
