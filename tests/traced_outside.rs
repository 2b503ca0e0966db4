//! The spread and the closures, reckoned a second time by petgraph, and every jar in one place.
//!
//! Source: petgraph's own breadth-first search, path search and union-find, on a graph built here from the bare lists: the
//! stretches of a vessel are found with union-find, where the book of the trade cuts them along the day.
#![allow(clippy::unwrap_used, reason = "a test that cannot read its own figures should stop")]

use crate::any_farm::{LOTS, any_farm, hour};
use petgraph::{
    algo::{has_path_connecting, is_cyclic_directed},
    graph::{DiGraph, NodeIndex},
    unionfind::UnionFind,
    visit::{Bfs, IntoNeighbors, Reversed, Visitable},
};
use proptest::prelude::*;
use std::collections::{BTreeMap, BTreeSet};
use tallypail::trade::{
    balance::{Balance, LotJars, Movement, What},
    jars::Jars,
    trace::{CowId, Graph, Lists, LotId, Node, VesselId, lots_among},
    when::Moment,
};

/// What a node of the other graph stands for.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Place {
    Of(Node),
    /// A vessel between two clean breaks.
    Pot(usize),
}

/// The other graph.
struct Other {
    milk: DiGraph<Place, ()>,
    with_pots: DiGraph<Place, ()>,
    at: BTreeMap<Place, NodeIndex>,
}

impl Other {
    fn of(lists: &Lists) -> Other {
        let mut other = Other { milk: DiGraph::new(), with_pots: DiGraph::new(), at: BTreeMap::new() };
        for lot in &lists.lots {
            other.place(Place::Of(Node::Lot(lot.id)));
        }
        for pail in &lists.pails {
            other.flows(Node::Cow(pail.cow), Node::Milking(pail.milking));
        }
        for (milking, lot) in &lists.milked_into {
            other.flows(Node::Milking(*milking), Node::Lot(*lot));
        }
        for (parent, lot) in &lists.made_into {
            other.flows(Node::Lot(*parent), Node::Lot(*lot));
        }
        for out in &lists.hand_outs {
            other.flows(Node::Lot(out.lot), out.person.map_or(Node::WalkIn(out.pickup), Node::Person));
        }
        for (pot, lot) in pots(lists) {
            let (lot, pot) = (other.place(Place::Of(Node::Lot(lot))), other.place(Place::Pot(pot)));
            other.with_pots.update_edge(lot, pot, ());
            other.with_pots.update_edge(pot, lot, ());
        }
        other
    }

    fn place(&mut self, place: Place) -> NodeIndex {
        let (milk, with_pots) = (&mut self.milk, &mut self.with_pots);
        *self.at.entry(place).or_insert_with(|| {
            let index = milk.add_node(place);
            assert_eq!(index, with_pots.add_node(place));
            index
        })
    }

    fn flows(&mut self, from: Node, to: Node) {
        let (from, to) = (self.place(Place::Of(from)), self.place(Place::Of(to)));
        self.milk.update_edge(from, to, ());
        self.with_pots.update_edge(from, to, ());
    }

    fn index(&self, node: Node) -> Option<NodeIndex> {
        self.at.get(&Place::Of(node)).copied()
    }

    /// What is reached from these, themselves among it. Trouble does not go by way of a cow or a person: she has other milk too.
    fn walked<G>(&self, graph: G, from: &BTreeSet<NodeIndex>) -> BTreeSet<NodeIndex>
    where
        G: Copy + IntoNeighbors<NodeId = NodeIndex> + Visitable<NodeId = NodeIndex>,
    {
        let mut all = BTreeSet::new();
        for start in from {
            let mut search = Bfs::new(graph, *start);
            while let Some(found) = search.next(graph) {
                all.insert(found);
            }
        }
        all.retain(|found| matches!(self.milk[*found], Place::Pot(_) | Place::Of(Node::Lot(_) | Node::Milking(_))));
        all
    }

    fn nodes(&self, found: &BTreeSet<NodeIndex>) -> BTreeSet<Node> {
        found.iter().filter_map(|index| if let Place::Of(node) = self.milk[*index] { Some(node) } else { None }).collect()
    }
}

/// Which lots went through which vessel between the same two clean breaks: uses are joined two by two, when no clean break stands
/// strictly between them.
fn pots(lists: &Lists) -> Vec<(usize, LotId)> {
    let mut uses: Vec<(VesselId, Moment, LotId)> =
        lists.lots.iter().filter_map(|lot| lot.vessel.map(|vessel| (vessel, lot.filled, lot.id))).collect();
    for pail in &lists.pails {
        let into = lists.milked_into.iter().filter(|(milking, _)| *milking == pail.milking);
        uses.extend(into.filter_map(|(_, lot)| pail.vessel.map(|vessel| (vessel, pail.at, *lot))));
    }
    let mut joined: UnionFind<usize> = UnionFind::new(uses.len());
    for (one, (vessel, at, _)) in uses.iter().enumerate() {
        for (other, (of, when, _)) in uses.iter().enumerate().take(one) {
            let parts = |(own, washed): &(VesselId, Moment)| own == vessel && *washed > *at.min(when) && *washed < *at.max(when);
            if vessel == of && !lists.clean_breaks.iter().any(parts) {
                joined.union(one, other);
            }
        }
    }
    uses.iter().enumerate().map(|(place, (.., lot))| (joined.find(place), *lot)).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, cases: 1000, ..ProptestConfig::default() })]

    #[test]
    fn certain_and_possible_agree_with_petgraph(lists in any_farm(), start in 0..LOTS) {
        let other = Other::of(&lists);
        let spread = Graph::of(&lists).spread(&BTreeSet::from([LotId(start)]));
        let start = BTreeSet::from([other.index(Node::Lot(LotId(start))).unwrap()]);

        let behind = other.walked(Reversed(&other.milk), &start);
        let ahead = other.walked(&other.milk, &behind);
        let certain: BTreeSet<LotId> = spread.lots.iter().filter(|(_, tie)| tie.is_certain()).map(|(lot, _)| *lot).collect();
        prop_assert_eq!(&certain, &lots_among(other.nodes(&ahead)));

        let behind = other.walked(Reversed(&other.with_pots), &behind);
        let ahead = other.walked(&other.with_pots, &(&ahead | &behind));
        let all: BTreeSet<LotId> = spread.lots.keys().copied().collect();
        prop_assert_eq!(&all, &lots_among(other.nodes(&ahead)));

        let milkings = other.nodes(&behind).into_iter().filter_map(|node| if let Node::Milking(own) = node { Some(own) } else { None });
        prop_assert_eq!(&spread.milkings, &milkings.collect());
        let cows: BTreeSet<CowId> = lists.pails.iter().filter(|pail| spread.milkings.contains(&pail.milking)).map(|pail| pail.cow).collect();
        prop_assert_eq!(&spread.cows, &cows);
        for out in &lists.hand_outs {
            let told = match out.person {
                Some(person) => spread.people.get(&person).is_some_and(|lots| lots.contains(&out.lot)),
                None => spread.walk_ins.get(&out.pickup).is_some_and(|lots| lots.contains(&out.lot)),
            };
            prop_assert_eq!(told, all.contains(&out.lot), "whoever has jars of it is told, and nobody else");
        }
    }

    #[test]
    fn forward_and_backward_closures_agree_with_petgraph(lists in any_farm()) {
        let (graph, other) = (Graph::of(&lists), Other::of(&lists));
        prop_assert!(!is_cyclic_directed(&other.milk), "milk only moves forward");
        let nodes: Vec<Node> = other.at.keys().filter_map(|place| if let Place::Of(node) = place { Some(*node) } else { None }).collect();
        for one in &nodes {
            let (forward, back, blast) = (graph.forward(*one), graph.back(*one), graph.blast(*one));
            let reaches = |from: &Node, to: &Node| from != to && has_path_connecting(&other.milk, other.index(*from).unwrap(), other.index(*to).unwrap(), None);
            let expected: BTreeSet<Node> = nodes.iter().filter(|to| reaches(one, to)).copied().collect();
            prop_assert_eq!(&forward, &expected);
            prop_assert_eq!(&back, &nodes.iter().filter(|from| reaches(from, one)).copied().collect());
            prop_assert!(forward.iter().all(|ahead| graph.back(*ahead).contains(one)), "forward and back agree");
            prop_assert!(back.iter().all(|behind| graph.forward(*behind).contains(one)), "back and forward agree");
            prop_assert!(back.iter().all(|behind| graph.forward(*behind).is_subset(&blast)));
        }
    }

    /// Every jar that was filled is put in exactly one place, or in none; the lot then squares, or names exactly those missing.
    #[test]
    fn every_jar_filled_is_in_one_place_or_named_missing(jars in prop::collection::vec((0usize..4, 0usize..11), 0..60)) {
        let places = [What::HandedOut, What::Household, What::Calf, What::IntoLot, What::Sample, What::ShelfJar, What::Broken, What::ThrownOut];
        let one = |size: usize| match size {
            0 => Jars { gallons: 1, ..Jars::NONE },
            1 => Jars { half_gallons: 1, ..Jars::NONE },
            2 => Jars { quarts: 1, ..Jars::NONE },
            _ => Jars { pints: 1, ..Jars::NONE },
        };
        let (mut movements, mut on_hand, mut missing) = (Vec::new(), Jars::NONE, Jars::NONE);
        for (size, place) in &jars {
            let moved = |what: What| Movement { at: hour(1), what, jars: one(*size), who: String::new() };
            movements.push(moved(What::Filled));
            match places.get(*place) {
                Some(what) => movements.push(moved(*what)),
                None if *place == places.len() => on_hand = on_hand + one(*size),
                // Brought back full is there again, so it is counted.
                None if *place == places.len() + 1 => {
                    movements.extend([moved(What::HandedOut), moved(What::Returned)]);
                    on_hand = on_hand + one(*size);
                }
                None => missing = missing + one(*size),
            }
        }
        let lot = LotJars::gathered(&movements, Some(on_hand));
        let expected = if missing.is_none() { Balance::Squares } else { Balance::Off { short: missing, over: Jars::NONE } };
        prop_assert_eq!(lot.balance(), expected);
        prop_assert_eq!(lot.filled + lot.returned, lot.gone() + on_hand + missing);
    }
}
