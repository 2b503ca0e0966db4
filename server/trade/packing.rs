//! Packing a pickup day: who gets how many jars, of which lots, and what the list on the crate says.
//!
//! Members come before walk-ins, so walk-ins are cut first. Households whose milk may come from the same lots share them out
//! together. Each crate is filled from the oldest lot that can go, and nobody is packed who lacks what they need first.

use super::{
    channels::Channel,
    figures::{Cell, Holds, Part, Sheet, Table},
    needs::Lack,
    parts::Hundredths,
    pickups::Offer,
    sharing::{Claim, Method, Portion, share},
    verdict::Word,
    when::{Day, Moment, Zone, day_shown},
};
use std::collections::{BTreeMap, BTreeSet, HashMap};

/// A household whose day it is.
#[derive(Clone, Debug)]
pub struct Household {
    /// What the clipboard calls it.
    pub label: String,
    /// Number and name.
    pub called: String,
    /// Whether it owns a share or a membership; walk-ins come after.
    pub member: bool,
    /// How its milk reaches it.
    pub way: Channel,
    /// What it comes with to the sharing.
    pub claim: Claim,
    /// What it lacks before it may have milk.
    pub lacks: Vec<Lack>,
    /// Whether it has something of this day already.
    pub has_theirs: bool,
}

/// One household's crate as it would be packed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Crate {
    /// Whose: its place in the list of households.
    pub household: usize,
    /// The sum.
    pub portion: Portion,
    /// The jars the sum came to, before anybody changed them.
    pub by_sum: i64,
    /// Half-gallons of each lot, the oldest first.
    pub lots: Vec<(String, i64)>,
}

/// A day as it would be packed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Plan {
    /// Every crate, in the order of the households.
    pub crates: Vec<Crate>,
    /// Households that are not packed, each with why.
    pub left_out: Vec<(usize, String)>,
    /// Half-gallons that are counted and may go to somebody of the day.
    pub ready: i64,
    /// Half-gallons promised to those who are packed.
    pub promised: Hundredths,
    /// Where somebody's change asks for more than there is: a sentence each.
    pub too_many: Vec<String>,
}

impl Plan {
    /// Half-gallons in all crates.
    #[must_use]
    pub fn jars(&self) -> i64 {
        self.crates.iter().map(|own| own.portion.jars).sum()
    }

    /// How many half-gallons short the day is; nothing when there is enough.
    #[must_use]
    pub fn short(&self) -> Option<Hundredths> {
        let missing = self.promised - Hundredths::jars(self.ready);
        (missing > Hundredths::ZERO).then_some(missing)
    }
}

/// Plans the crates of a day from what may go. `changed` holds the jars the owner wrote instead of the sum, by household.
#[must_use]
pub fn plan(households: &[Household], mut offers: Vec<Offer>, method: Method, changed: &HashMap<usize, i64>) -> Plan {
    offers.sort_by_key(|offer| offer.filled);
    let mut plan = Plan::default();
    let mut pools: BTreeMap<(bool, Vec<String>), Vec<usize>> = BTreeMap::new();
    let mut may_go: BTreeSet<String> = BTreeSet::new();
    for (place, own) in households.iter().enumerate() {
        if let Some(why) = left_out(own) {
            plan.left_out.push((place, why));
            continue;
        }
        let lots: Vec<String> = offers.iter().filter(|offer| goes(offer, own.way)).map(|offer| offer.code.clone()).collect();
        may_go.extend(lots.iter().cloned());
        pools.entry((!own.member, lots)).or_default().push(place);
    }
    plan.ready = offers.iter().filter(|offer| may_go.contains(&offer.code)).map(|offer| offer.left.half_gallons).sum();
    for ((_, lots), places) in pools {
        let claims: Vec<Claim> = places.iter().map(|place| households[*place].claim.clone()).collect();
        let ready: i64 = offers.iter().filter(|offer| lots.contains(&offer.code)).map(|offer| offer.left.half_gallons).sum();
        for (place, portion) in places.iter().zip(share(&claims, ready, method)) {
            let by_sum = portion.jars;
            let portion = Portion { jars: changed.get(place).copied().unwrap_or(by_sum), ..portion };
            let lots = taken(&mut offers, households[*place].way, portion.jars);
            let missing = portion.jars - lots.iter().map(|(_, jars)| jars).sum::<i64>();
            if missing > 0 {
                plan.too_many.push(format!(
                    "{} would get {} and {missing} of them are not there: take them from somebody else.",
                    households[*place].called, portion.jars
                ));
            }
            plan.crates.push(Crate { household: *place, portion, by_sum, lots });
        }
    }
    plan.promised = plan.crates.iter().map(|own| own.portion.promised).sum();
    plan.crates.sort_by_key(|own| own.household);
    plan
}

fn goes(offer: &Offer, way: Channel) -> bool {
    offer.word(way) == Word::CanGo && offer.left.half_gallons > 0
}

/// Why a household is not packed, if it is not.
fn left_out(own: &Household) -> Option<String> {
    if own.has_theirs {
        return Some("has theirs already".to_owned());
    }
    if !own.lacks.is_empty() {
        let lacks: Vec<String> = own.lacks.iter().map(ToString::to_string).collect();
        return Some(lacks.join(", and "));
    }
    (own.claim.promised == Hundredths::ZERO).then(|| "nothing is promised".to_owned())
}

/// Takes so many half-gallons off the oldest lots that can go.
pub fn taken(offers: &mut [Offer], way: Channel, jars: i64) -> Vec<(String, i64)> {
    let (mut lots, mut left) = (Vec::new(), jars);
    for offer in offers.iter_mut().filter(|offer| goes(offer, way)) {
        let some = offer.left.half_gallons.min(left);
        if some > 0 {
            offer.left.half_gallons -= some;
            left -= some;
            lots.push((offer.code.clone(), some));
        }
    }
    lots
}

/// What differed when a crate was handed out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Took {
    /// Exactly what was packed, and as many empties came back.
    AsPacked,
    /// They have not come.
    NotHere,
    /// One jar more.
    OneMore,
    /// One jar fewer.
    OneFewer,
    /// What was packed, and no empties came back.
    NoEmpties,
}

impl Took {
    /// Every way, with the word of the form.
    pub const WORDS: [(Took, &'static str); 5] = [
        (Took::AsPacked, "as packed"),
        (Took::NotHere, "not here"),
        (Took::OneMore, "1 more"),
        (Took::OneFewer, "1 fewer"),
        (Took::NoEmpties, "no empties"),
    ];

    /// The way a word names.
    #[must_use]
    pub fn parse(typed: &str) -> Option<Took> {
        Took::WORDS.iter().find(|(_, word)| *word == typed).map(|(took, _)| *took)
    }

    /// What its tile says: short enough for five of them on a phone.
    #[must_use]
    pub fn short(self) -> &'static str {
        match self {
            Took::AsPacked => "as packed",
            Took::NotHere => "not here",
            Took::OneMore => "+1",
            Took::OneFewer => "\u{2212}1",
            Took::NoEmpties => "no empties",
        }
    }

    /// The jars of each lot that were taken, of those packed. One fewer is the newest jar left standing; one more is another of
    /// the newest lot in the crate.
    #[must_use]
    pub fn of(self, packed: &[(String, i64)]) -> Vec<(String, i64)> {
        let mut took = packed.to_vec();
        match (self, took.last_mut()) {
            (Took::NotHere, _) => took.clear(),
            (Took::OneMore, Some((_, jars))) => *jars += 1,
            (Took::OneFewer, Some((_, jars))) => *jars -= 1,
            _ => {}
        }
        took.retain(|(_, jars)| *jars > 0);
        took
    }
}

/// A day as it was packed, for the list on paper.
#[derive(Clone, Debug)]
pub struct List {
    /// The day.
    pub day: Day,
    /// When it was packed.
    pub at: Moment,
    /// By whom.
    pub who: String,
    /// How it was shared.
    pub method: String,
    /// Half-gallons that were ready.
    pub ready: i64,
    /// Each household: its number and name, its sum, why it differs from the sum, and its lots.
    pub rows: Vec<Listed>,
}

/// One household of the list.
#[derive(Clone, Debug)]
pub struct Listed {
    /// What the clipboard calls it.
    pub label: String,
    /// Its name.
    pub name: String,
    /// Its sum.
    pub portion: Portion,
    /// Why it differs from the sum.
    pub reason: String,
    /// Half-gallons of each lot.
    pub lots: Vec<(String, i64)>,
}

impl List {
    /// The list as a sheet: each household with its jars, and each lot with how many go of it.
    #[must_use]
    pub fn sheet(&self, zone: Zone) -> Sheet {
        let promised: Hundredths = self.rows.iter().map(|row| row.portion.promised).sum();
        let packed: i64 = self.rows.iter().map(|row| row.portion.jars).sum();
        let facts = vec![
            ("For".to_owned(), day_shown(self.day)),
            ("Half-gallons that were counted and may go".to_owned(), self.ready.to_string()),
            ("Half-gallons promised".to_owned(), promised.to_string()),
            ("Half-gallons packed".to_owned(), packed.to_string()),
            ("Shared, when short".to_owned(), self.method.clone()),
            ("Packed".to_owned(), format!("{}, by {}", zone.in_full(self.at), self.who)),
        ];
        let parts = vec![Part::Table(self.households(packed)), Part::Table(self.lots())];
        Sheet {
            name: format!("packing-{}", self.day),
            title: format!("Packing list, {}", day_shown(self.day)),
            under: String::new(),
            facts,
            parts,
        }
    }

    fn households(&self, packed: i64) -> Table {
        let columns =
            [("Household", Holds::Words, 5), ("Half-gallons", Holds::Figures, 2), ("Lots", Holds::Words, 5), ("The sum", Holds::Words, 9)];
        let mut table = Table::new("households", "By household", &columns);
        "Nobody is packed for this day.".clone_into(&mut table.when_empty);
        for row in &self.rows {
            let lots: Vec<String> = row.lots.iter().map(|(lot, jars)| format!("{jars} × {lot}")).collect();
            let why =
                if row.reason.is_empty() { String::new() } else { format!(" Changed by hand: {}.", row.reason.trim_end_matches('.')) };
            table.rows.push(vec![
                Cell::opening(format!("{} {}", row.label, row.name), format!("/people/{}", row.label)),
                Cell::says(row.portion.jars.to_string()),
                Cell::says(lots.join(", ")),
                Cell::says(format!("{}{why}", row.portion.told())),
            ]);
        }
        table.total = Some(vec![Cell::says("All"), Cell::says(packed.to_string()), Cell::default(), Cell::default()]);
        table
    }

    fn lots(&self) -> Table {
        let mut sums: BTreeMap<&str, (i64, Vec<&str>)> = BTreeMap::new();
        for row in &self.rows {
            for (lot, jars) in &row.lots {
                let own = sums.entry(lot).or_default();
                own.0 += jars;
                own.1.push(&row.label);
            }
        }
        let mut table =
            Table::new("lots", "By lot", &[("Lot", Holds::Codes, 3), ("Half-gallons", Holds::Figures, 2), ("For", Holds::Words, 10)]);
        "No jar is packed.".clone_into(&mut table.when_empty);
        for (lot, (jars, whose)) in sums {
            let cells = vec![Cell::opening(lot, format!("/lots/{lot}")), Cell::says(jars.to_string()), Cell::says(whose.join(", "))];
            table.rows.push(cells);
        }
        table
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::jars::Jars;

    fn household(person: i64, promised: i64, member: bool, way: Channel) -> Household {
        let label = format!("M{person:02}");
        let claim = Claim { person, promised: Hundredths::jars(promised), carried: Hundredths::ZERO, place: None, last_short: None };
        Household { called: format!("{label} Ashgrove"), label, member, way, claim, lacks: Vec::new(), has_theirs: false }
    }

    fn offer(code: &str, filled: i64, left: i64, words: &[(Channel, Word)]) -> Offer {
        Offer { code: code.to_owned(), filled: Moment::seconds(filled), left: Jars::halves(left), words: words.to_vec() }
    }

    const SHARE: Channel = Channel::Herdshare;
    const GATE: Channel = Channel::FarmGate;
    const BOTH: [(Channel, Word); 2] = [(SHARE, Word::CanGo), (GATE, Word::CanGo)];

    fn jars(plan: &Plan) -> Vec<i64> {
        plan.crates.iter().map(|own| own.portion.jars).collect()
    }

    /// Common practice: the oldest milk that can go leaves first, and whoever owns the herd comes before the gate.
    #[test]
    fn walk_ins_are_cut_first_and_the_oldest_goes_first() {
        let people = [household(9, 2, false, GATE), household(1, 3, true, SHARE), household(2, 3, true, SHARE)];
        let offers = vec![
            offer("new", 2, 3, &BOTH),
            offer("old", 1, 4, &BOTH),
            offer("held", 0, 9, &[(SHARE, Word::KeepBack), (GATE, Word::KeepBack)]),
        ];
        let plan = plan(&people, offers, Method::ProRata, &HashMap::new());
        assert_eq!((jars(&plan), plan.ready), (vec![1, 3, 3], 7));
        assert_eq!(plan.crates[1].lots, [("old".to_owned(), 3)]);
        assert_eq!(plan.crates[2].lots, [("old".to_owned(), 1), ("new".to_owned(), 2)]);
        assert_eq!(plan.crates[0].lots, [("new".to_owned(), 1)]);
        assert_eq!(plan.short(), Some(Hundredths::jars(1)));
    }

    #[test]
    fn a_lot_that_can_go_one_way_is_for_those_of_that_way() {
        let people = [household(1, 2, true, SHARE), household(2, 2, true, GATE)];
        let offers = vec![offer("share", 1, 3, &[(SHARE, Word::CanGo), (GATE, Word::Wait)]), offer("gate", 2, 1, &[(GATE, Word::CanGo)])];
        let plan = plan(&people, offers, Method::ProRata, &HashMap::new());
        assert_eq!((jars(&plan), plan.ready), (vec![2, 1], 4));
    }

    #[test]
    fn whoever_lacks_a_paper_or_has_theirs_is_left_out_with_the_reason() {
        let unsigned =
            Household { lacks: vec![Lack::Unsigned(crate::trade::needs::Need::BoardingAgreement)], ..household(1, 2, true, SHARE) };
        let served = Household { has_theirs: true, ..household(2, 2, true, SHARE) };
        let plan =
            plan(&[unsigned, served, household(3, 0, true, SHARE)], vec![offer("lot", 1, 9, &BOTH)], Method::ProRata, &HashMap::new());
        assert!(plan.crates.is_empty());
        let said: Vec<&str> = plan.left_out.iter().map(|(_, why)| why.as_str()).collect();
        assert_eq!(said, ["no boarding agreement is signed", "has theirs already", "nothing is promised"]);
    }

    #[test]
    fn a_change_by_hand_takes_from_what_there_is_and_not_from_nothing() {
        let people = [household(1, 2, true, SHARE), household(2, 2, true, SHARE)];
        let offers = vec![offer("lot", 1, 4, &BOTH)];
        let moved = plan(&people, offers.clone(), Method::ProRata, &HashMap::from([(0, 3), (1, 1)]));
        assert_eq!((jars(&moved), moved.too_many.len()), (vec![3, 1], 0));
        assert_eq!(moved.crates[0].portion.after(), Hundredths::jars(-1), "evened up later");
        let more = plan(&people, offers, Method::ProRata, &HashMap::from([(0, 3)]));
        assert_eq!(more.too_many, ["M02 Ashgrove would get 2 and 1 of them are not there: take them from somebody else."]);
    }

    #[test]
    fn what_differs_is_said_with_one_word() {
        let packed = [("old".to_owned(), 1), ("new".to_owned(), 2)];
        let lots = |took: Took| took.of(&packed).iter().map(|(lot, jars)| format!("{jars} {lot}")).collect::<Vec<_>>().join(", ");
        assert_eq!(lots(Took::AsPacked), "1 old, 2 new");
        assert_eq!(lots(Took::NoEmpties), "1 old, 2 new");
        assert_eq!(lots(Took::OneMore), "1 old, 3 new");
        assert_eq!(lots(Took::OneFewer), "1 old, 1 new");
        assert_eq!(lots(Took::NotHere), "");
        assert_eq!(Took::OneFewer.of(&[("only".to_owned(), 1)]), []);
    }
}
