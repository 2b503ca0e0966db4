//! Which other lots to suspect when something is found in one: a bracket around it, drawn by what tests say of the lots before
//! and after, in the order they were filled.
//!
//! Two ways are in use. One looks both ways, from the last lot that was clear to the next one that is: common practice, for which
//! no standard was found. The other looks forward only, and holds every later lot until so many are clear: New Zealand's, as a
//! producer told the press in September 2018, read second-hand. The answer is both together, because a clear test is weak
//! evidence: it speaks for the jar that was tested. A clean break may narrow it when whoever decides has agreed, and the paper
//! then says who, and why each lot was left out.

use super::{
    Fault,
    trace::{Graph, Lists, LotId, Node, Tie, Ties, VesselId, lots_among},
    when::Moment,
};
use std::collections::{BTreeMap, BTreeSet};

/// What the test for what was found says of a lot.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// It was not found.
    Clear,
    /// It was found.
    Positive,
    /// Nobody looked for it.
    NotTested,
}

/// A lot in the order of filling, with what its test says.
#[derive(Clone, Debug)]
pub struct Tested {
    /// The lot.
    pub lot: LotId,
    /// Its code, for the sentences.
    pub code: String,
    /// What its test says.
    pub outcome: Outcome,
}

/// So many lots must be clear, one after another, before later ones are let go: five in New Zealand, as told above.
pub const CLEAR_IN_A_ROW: usize = 5;

/// The lots strictly between the last clear one and the next clear one around each in which it was found.
#[must_use]
pub fn between_clear(lots: &[Tested]) -> Ties {
    let mut ties = found_in(lots);
    let clear = |own: &&Tested| own.outcome == Outcome::Clear;
    for (place, positive) in positives(lots) {
        let (before, after) = (lots.iter().take(place), lots.iter().skip(place + 1));
        let back = before.rev().take_while(|own| !clear(own)).map(|own| (own, "before"));
        let forward = after.take_while(|own| !clear(own)).map(|own| (own, "after"));
        for (own, side) in back.chain(forward) {
            let why = format!("was filled {side} {}, with no clear lot in between", positive.code);
            ties.entry(own.lot).or_insert(Tie::Possible(why));
        }
    }
    ties
}

/// The lots in which it was found, and every later one until so many in a row are clear. A lot nobody tested is not clear, and
/// begins the row anew.
#[must_use]
pub fn until_clear(lots: &[Tested], in_a_row: usize) -> Ties {
    let mut ties = found_in(lots);
    let (mut since, mut row): (Option<&Tested>, Vec<&Tested>) = (None, Vec::new());
    for own in lots {
        match (own.outcome, since) {
            (Outcome::Positive, _) => (since, row) = (Some(own), Vec::new()),
            (_, None) => continue,
            (Outcome::Clear, Some(_)) => row.push(own),
            (Outcome::NotTested, Some(_)) => row.clear(),
        }
        let Some(positive) = since else { continue };
        if row.len() >= in_a_row {
            // The lots of the row are what lets the later ones go; they were themselves held until the last of it was clear.
            since = None;
        }
        let why = format!("was filled after {}, before {in_a_row} lots in a row were clear", positive.code);
        ties.entry(own.lot).or_insert(Tie::Possible(why));
    }
    ties
}

fn positives(lots: &[Tested]) -> impl Iterator<Item = (usize, &Tested)> {
    lots.iter().enumerate().filter(|(_, own)| own.outcome == Outcome::Positive)
}

fn found_in(lots: &[Tested]) -> Ties {
    positives(lots).map(|(_, own)| (own.lot, Tie::Certain("is a lot it was found in".to_owned()))).collect()
}

/// The lots to suspect, each with the sentence why.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Bracket {
    /// The suspects.
    pub suspects: Ties,
    /// Lots left out because of a clean break, each with the sentence why, and who agreed.
    pub left_out: BTreeMap<LotId, String>,
}

/// The bracket: both ways together, and with each suspect everything its milk went on into. This is the answer unless somebody
/// who may has agreed to a narrower one.
#[must_use]
pub fn bracket(lots: &[Tested], in_a_row: usize, graph: &Graph<'_>) -> Bracket {
    let mut suspects = between_clear(lots);
    for (lot, tie) in until_clear(lots, in_a_row) {
        suspects.entry(lot).or_insert(tie);
    }
    Bracket { suspects: carried_on(suspects, graph), left_out: BTreeMap::new() }
}

/// The suspects with every lot that holds milk of one: what was found in a lot is certainly in reach of what was made of it.
fn carried_on(mut suspects: Ties, graph: &Graph<'_>) -> Ties {
    // The certain ones first, so that a lot made of one that is certain is not called only possible.
    for certain in [true, false] {
        let from: Vec<LotId> = suspects.iter().filter(|(_, tie)| tie.is_certain() == certain).map(|(lot, _)| *lot).collect();
        for parent in from {
            let why = format!("holds milk of {}", graph.code(parent));
            for lot in lots_among(graph.forward(Node::Lot(parent))) {
                let tie = if certain { Tie::Certain(why.clone()) } else { Tie::Possible(why.clone()) };
                match suspects.get(&lot) {
                    Some(own) if own.is_certain() || !certain => {}
                    _ => drop(suspects.insert(lot, tie)),
                }
            }
        }
    }
    suspects
}

/// The same bracket, narrowed by the clean breaks: a suspect goes when a clean break of the vessel stands between it and every lot
/// it was found in that came out of the same vessel, and neither milk nor another vessel ties them. Whoever decides must have
/// agreed, and it is kept who.
///
/// # Errors
/// A sentence when nobody is named who agreed.
pub fn narrowed(lots: &[Tested], in_a_row: usize, lists: &Lists, agreed: &str) -> Result<Bracket, Fault> {
    let agreed = agreed.trim();
    if agreed.is_empty() {
        return Err(Fault::says(
            "Write who agreed that a clean break may narrow this, such as the health department and the name there. Until then the wide bracket stands.",
        ));
    }
    let graph = Graph::of(lists);
    let wide = bracket(lots, in_a_row, &graph);
    let filled: BTreeMap<LotId, (Option<VesselId>, Moment)> = lists.lots.iter().map(|lot| (lot.id, (lot.vessel, lot.filled))).collect();
    let positive: Vec<&Tested> = positives(lots).map(|(_, own)| own).collect();
    let tied: BTreeSet<LotId> = graph.spread(&positive.iter().map(|own| own.lot).collect()).lots.into_keys().collect();
    let mut bracket = Bracket::default();
    for (lot, tie) in wide.suspects {
        let parted = || positive.iter().map(|own| parting(&filled, lists, lot, own)).collect::<Option<Vec<String>>>();
        match Some(lot).filter(|lot| !tie.is_certain() && !tied.contains(lot)).and_then(|_| parted()) {
            Some(why) if !why.is_empty() => {
                bracket.left_out.insert(lot, format!("{}. Agreed by {agreed}.", why.join("; ")));
            }
            _ => drop(bracket.suspects.insert(lot, tie)),
        }
    }
    Ok(bracket)
}

/// The clean break that parts a lot from one it was found in, as a sentence; nothing when none does. Lots out of different vessels,
/// or out of one nobody wrote down, are parted by no break.
fn parting(filled: &BTreeMap<LotId, (Option<VesselId>, Moment)>, lists: &Lists, lot: LotId, positive: &Tested) -> Option<String> {
    let ((vessel, own), (other, at)) = (*filled.get(&lot)?, *filled.get(&positive.lot)?);
    let vessel = vessel.filter(|vessel| other == Some(*vessel))?;
    let between = |when: Moment| own.min(at) < when && when < own.max(at);
    lists.clean_breaks.iter().find(|(of, when)| *of == vessel && between(*when))?;
    let name = lists.vessel_names.get(&vessel).map_or_else(|| format!("vessel {}", vessel.0), Clone::clone);
    Some(format!("A clean break of {name} stands between it and {}", positive.code))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::trace::{Lot, MilkingId};
    use proptest::prelude::*;

    fn hour(hour: i64) -> Moment {
        Moment::seconds(0).plus_hours(hour)
    }

    fn tested(outcomes: &[(i64, Outcome)]) -> Vec<Tested> {
        outcomes.iter().map(|(id, outcome)| Tested { lot: LotId(*id), code: format!("L{id}"), outcome: *outcome }).collect()
    }

    fn numbers(ties: &Ties) -> Vec<i64> {
        ties.keys().map(|lot| lot.0).collect()
    }

    /// Lots 10 to 17, a day apart, each of its own milking, out of one can that was made clean after 11 and after 14.
    fn farm() -> Lists {
        Lists {
            lots: (10..=17)
                .map(|id| Lot { id: LotId(id), code: format!("L{id}"), vessel: Some(VesselId(1)), filled: hour(id * 24) })
                .collect(),
            milked_into: (10..=17).map(|id| (MilkingId(id), LotId(id))).collect(),
            clean_breaks: vec![(VesselId(1), hour(11 * 24 + 12)), (VesselId(1), hour(14 * 24 + 12))],
            vessel_names: BTreeMap::from([(VesselId(1), "Can 1".to_owned())]),
            ..Lists::default()
        }
    }

    fn ten_to_seventeen() -> Vec<Tested> {
        let says = |id| match id {
            10 | 16 => Outcome::Clear,
            13 => Outcome::Positive,
            _ => Outcome::NotTested,
        };
        tested(&(10..=17).map(|id| (id, says(id))).collect::<Vec<_>>())
    }

    /// Source: worked by hand; L10 clear, L13 positive, L16 clear, clean breaks between L11 and L12 and between L14 and L15.
    #[test]
    fn ten_to_seventeen_both_ways() {
        let (lots, lists) = (ten_to_seventeen(), farm());
        let between = between_clear(&lots);
        assert_eq!(numbers(&between), [11, 12, 13, 14, 15]);
        assert_eq!(between[&LotId(11)].why(), "was filled before L13, with no clear lot in between");
        assert!(between[&LotId(13)].is_certain() && !between[&LotId(15)].is_certain());
        assert_eq!(numbers(&until_clear(&lots, CLEAR_IN_A_ROW)), [13, 14, 15, 16, 17], "five in a row were never clear");
        assert_eq!(numbers(&until_clear(&lots, 1)), [13, 14, 15, 16]);

        let wide = bracket(&lots, CLEAR_IN_A_ROW, &Graph::of(&lists));
        assert_eq!(numbers(&wide.suspects), [11, 12, 13, 14, 15, 16, 17], "the default is both together");
        assert!(wide.left_out.is_empty());
        assert!(narrowed(&lots, CLEAR_IN_A_ROW, &lists, " ").unwrap_err().to_string().contains("who agreed"));
        let narrow = narrowed(&lots, CLEAR_IN_A_ROW, &lists, "R. Osier, county health department").unwrap();
        assert_eq!(numbers(&narrow.suspects), [12, 13, 14]);
        assert_eq!(
            narrow.left_out[&LotId(15)],
            "A clean break of Can 1 stands between it and L13. Agreed by R. Osier, county health department."
        );
        assert_eq!(narrow.left_out.len() + narrow.suspects.len(), wide.suspects.len(), "every lot is in or out by name");
    }

    /// What a clean break parts may be tied by the milk all the same: leftover milk poured on, or cream of two days.
    #[test]
    fn milk_that_was_carried_over_is_never_parted_by_a_washing() {
        let mut lists = farm();
        lists.made_into = vec![(LotId(13), LotId(15)), (LotId(13), LotId(20))];
        lists.lots.push(Lot { id: LotId(20), code: "L20".to_owned(), vessel: None, filled: hour(500) });
        let narrow = narrowed(&ten_to_seventeen(), CLEAR_IN_A_ROW, &lists, "the department").unwrap();
        // What went through the can after L15, with no clean break since, is tied to L13 by it.
        assert_eq!(numbers(&narrow.suspects), [12, 13, 14, 15, 16, 17, 20]);
        assert_eq!(narrow.left_out.into_keys().collect::<Vec<_>>(), [LotId(11)]);
        assert_eq!(narrow.suspects[&LotId(20)], Tie::Certain("holds milk of L13".to_owned()));
        assert!(narrow.suspects[&LotId(15)].is_certain());
    }

    #[test]
    fn a_row_begins_anew_at_a_lot_nobody_tested() {
        use Outcome::{Clear, NotTested, Positive};
        let lots = tested(&[
            (1, Positive),
            (2, Clear),
            (3, NotTested),
            (4, Clear),
            (5, Clear),
            (6, NotTested),
            (7, Positive),
            (8, Clear),
            (9, Clear),
            (10, Clear),
        ]);
        assert_eq!(numbers(&until_clear(&lots, 2)), [1, 2, 3, 4, 5, 7, 8, 9]);
        assert_eq!(numbers(&until_clear(&[], 2)), [0i64; 0]);
        assert_eq!(numbers(&between_clear(&lots)), [1, 6, 7]);
    }

    fn any_farm() -> impl Strategy<Value = (Vec<Tested>, Lists)> {
        let outcome = prop_oneof![Just(Outcome::Clear), Just(Outcome::Positive), Just(Outcome::NotTested), Just(Outcome::NotTested)];
        let lots = prop::collection::vec((outcome, 0i64..3), 12);
        let made = prop::collection::vec((0i64..12, 0i64..12), 0..4);
        let breaks = prop::collection::vec((0i64..2, 0i64..300), 0..8);
        let milked = prop::collection::vec((0i64..12, 0i64..12), 0..12);
        (lots, made, breaks, milked).prop_map(|(lots, made, breaks, milked)| {
            let tests: Vec<(i64, Outcome)> = lots.iter().zip(0..).map(|((outcome, _), id)| (id, *outcome)).collect();
            let vessel = |nth: i64| (nth < 2).then_some(VesselId(nth));
            let lists = Lists {
                lots: lots
                    .iter()
                    .zip(0..)
                    .map(|((_, of), id)| Lot { id: LotId(id), code: format!("L{id}"), vessel: vessel(*of), filled: hour(id * 24) })
                    .collect(),
                made_into: made.into_iter().filter(|(from, to)| from < to).map(|(from, to)| (LotId(from), LotId(to))).collect(),
                clean_breaks: breaks.into_iter().map(|(of, at)| (VesselId(of), hour(at))).collect(),
                milked_into: milked.into_iter().map(|(milking, lot)| (MilkingId(milking), LotId(lot))).collect(),
                ..Lists::default()
            };
            (tested(&tests), lists)
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

        #[test]
        fn widening_never_drops_a_lot((lots, lists) in any_farm(), n in 1usize..6) {
            let graph = Graph::of(&lists);
            let (one, more) = (bracket(&lots, n, &graph), bracket(&lots, n + 1, &graph));
            let narrow = narrowed(&lots, n, &lists, "the department").unwrap();
            for part in [between_clear(&lots), until_clear(&lots, n), narrow.suspects.clone()] {
                prop_assert!(part.keys().all(|lot| one.suspects.contains_key(lot)));
            }
            prop_assert!(one.suspects.keys().all(|lot| more.suspects.contains_key(lot)));
            prop_assert!(one.suspects.keys().all(|lot| narrow.suspects.contains_key(lot) != narrow.left_out.contains_key(lot)));
            for own in lots.iter().filter(|own| own.outcome == Outcome::Positive) {
                prop_assert!(narrow.suspects.get(&own.lot).is_some_and(Tie::is_certain));
            }
            for lot in one.suspects.keys() {
                let made_of_it = lots_among(graph.forward(Node::Lot(*lot)));
                prop_assert!(made_of_it.iter().all(|made| one.suspects.contains_key(made)), "closed forward");
            }
        }

        #[test]
        fn a_clean_break_never_adds_a_lot((lots, lists) in any_farm(), of in 0i64..2, at in 0i64..300) {
            let before = narrowed(&lots, 5, &lists, "the department").unwrap();
            let mut cleaner = lists.clone();
            cleaner.clean_breaks.push((VesselId(of), hour(at)));
            let after = narrowed(&lots, 5, &cleaner, "the department").unwrap();
            prop_assert!(after.suspects.keys().all(|lot| before.suspects.contains_key(lot)));
            prop_assert_eq!(bracket(&lots, 5, &Graph::of(&lists)), bracket(&lots, 5, &Graph::of(&cleaner)), "nobody agreed to it");
        }

        /// A lot found clear that nobody had tested never adds a suspect to the bracket between clear lots.
        #[test]
        fn a_clear_test_never_adds_a_lot((lots, _) in any_farm(), nth in 0usize..12) {
            let before = between_clear(&lots);
            let mut clearer = lots.clone();
            if clearer[nth].outcome == Outcome::NotTested {
                clearer[nth].outcome = Outcome::Clear;
            }
            prop_assert!(between_clear(&clearer).keys().all(|lot| before.contains_key(lot)));
        }
    }
}
