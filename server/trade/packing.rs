//! Packing a pickup day: who gets how many jars, and of which lots.
//!
//! Members come before walk-ins, so walk-ins are cut first. All members share out together what there is; those whose way is
//! shut to some lots share what their own lots hold, where their part of the whole would be more than that. Each crate is filled from the oldest lot that can go, and nobody is packed who lacks what they need first.

use super::{
    channels::Channel,
    needs::Lack,
    parts::Hundredths,
    pickups::Offer,
    sharing::{Claim, Method, Portion, share},
    verdict::Word,
};
use std::collections::{BTreeSet, HashMap};

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
    /// Whether it has all of this day already.
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
    let mut groups: [Vec<Pool>; 2] = Default::default();
    let mut may_go: BTreeSet<String> = BTreeSet::new();
    for (place, own) in households.iter().enumerate() {
        if let Some(why) = left_out(own) {
            plan.left_out.push((place, why));
            continue;
        }
        let lots: BTreeSet<String> = offers.iter().filter(|offer| goes(offer, own.way)).map(|offer| offer.code.clone()).collect();
        may_go.extend(lots.iter().cloned());
        let group = &mut groups[usize::from(!own.member)];
        match group.iter_mut().find(|pool| pool.lots == lots) {
            Some(pool) => pool.places.push(place),
            None => group.push(Pool { lots, places: vec![place] }),
        }
    }
    plan.ready = jars_of(&offers, &may_go);
    for group in groups {
        for (place, portion) in shared(households, group, &offers, method) {
            let jars = changed.get(&place).copied().unwrap_or(portion.jars);
            let lots = taken(&mut offers, households[place].way, jars);
            let there: i64 = lots.iter().map(|(_, jars)| jars).sum();
            // A sum for which lots of several ways leave no jar is cut, and carried; what follows from the owner's changes is hers.
            let by_sum = if changed.is_empty() { there } else { portion.jars };
            let own = Crate {
                household: place,
                portion: Portion { jars: if changed.is_empty() { there } else { jars }, ..portion },
                by_sum,
                lots,
            };
            let missing = own.portion.jars - there;
            if missing > 0 {
                plan.too_many.push(format!(
                    "{} would get {} and {missing} of them are not there: take them from somebody else.",
                    households[place].called, own.portion.jars
                ));
            }
            plan.crates.push(own);
        }
    }
    plan.promised = plan.crates.iter().map(|own| own.portion.promised).sum();
    plan.crates.sort_by_key(|own| own.household);
    plan
}

/// Households whose milk may come from the same lots.
struct Pool {
    lots: BTreeSet<String>,
    places: Vec<usize>,
}

fn jars_of(offers: &[Offer], lots: &BTreeSet<String>) -> i64 {
    offers.iter().filter(|offer| lots.contains(&offer.code)).map(|offer| offer.left.half_gallons).sum()
}

/// Shares out together among all; but a pool whose part would be more than its own lots hold shares those by itself, and the
/// others what is left. The pool with the fewest lots comes first, here and when the crates are filled.
fn shared(households: &[Household], mut pools: Vec<Pool>, offers: &[Offer], method: Method) -> Vec<(usize, Portion)> {
    pools.sort_by_key(|pool| pool.lots.len());
    let together = |places: &[usize], ready: i64| {
        let claims: Vec<Claim> = places.iter().map(|place| households[*place].claim.clone()).collect();
        places.iter().copied().zip(share(&claims, ready, method)).collect::<Vec<_>>()
    };
    let mut settled = Vec::new();
    loop {
        let places: Vec<usize> = pools.iter().flat_map(|pool| pool.places.iter().copied()).collect();
        let lots: BTreeSet<String> = pools.iter().flat_map(|pool| pool.lots.iter().cloned()).collect();
        let portions = together(&places, jars_of(offers, &lots));
        let part = |pool: &Pool| portions.iter().filter(|(place, _)| pool.places.contains(place)).map(|(_, own)| own.jars).sum::<i64>();
        let Some(tight) = pools.iter().position(|pool| part(pool) > jars_of(offers, &pool.lots)) else {
            settled.extend(portions);
            return settled;
        };
        let pool = pools.remove(tight);
        settled.extend(together(&pool.places, jars_of(offers, &pool.lots)));
        for other in &mut pools {
            other.lots.retain(|lot| !pool.lots.contains(lot));
        }
    }
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::jars::Jars;
    use crate::trade::when::Moment;

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

    /// Worked by hand: 12 promised and 8 there is two thirds for everybody, whichever way their milk goes.
    #[test]
    fn members_of_two_ways_share_one_short_day() {
        let people = [household(1, 4, true, SHARE), household(2, 4, true, SHARE), household(3, 2, true, GATE), household(4, 2, true, GATE)];
        let both = [offer("both", 1, 4, &BOTH), offer("share", 2, 4, &[(SHARE, Word::CanGo), (GATE, Word::Wait)])];
        let even = plan(&people, both.to_vec(), Method::ProRata, &HashMap::new());
        assert_eq!((jars(&even), even.ready, even.crates[0].portion.fair), (vec![3, 3, 1, 1], 8, Hundredths::new(267)));
        // Where two thirds are more than the one lot that can go their way, they share that one; the others share the rest.
        let both = [offer("both", 1, 1, &BOTH), offer("share", 2, 7, &[(SHARE, Word::CanGo), (GATE, Word::Wait)])];
        let tight = plan(&people, both.to_vec(), Method::ProRata, &HashMap::new());
        assert_eq!((jars(&tight), tight.crates[2].lots[0].0.as_str()), (vec![4, 3, 1, 0], "both"));
        assert!(tight.crates[..2].iter().all(|own| own.lots.len() == 1 && own.lots[0].0 == "share"));
        let none = [offer("share", 2, 6, &[(SHARE, Word::CanGo), (GATE, Word::Wait)])];
        assert_eq!(jars(&plan(&people, none.to_vec(), Method::ProRata, &HashMap::new())), [3, 3, 0, 0]);
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
}
