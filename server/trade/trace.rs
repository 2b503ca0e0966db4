//! How far trouble spreads from one lot: the milk as a graph, from cow to milking to lot to the person who took it.
//!
//! Milk only moves forward, so a lot may be troubled by what went into it and may trouble what came of it. A vessel without
//! a clean break is taken for one pot: whatever went through it may have been in anything else that did. Ties by milk are
//! certain, ties by a vessel are possible. Each walk visits a node and a stretch of a vessel once.

use super::when::Moment;
use std::collections::{BTreeMap, BTreeSet, VecDeque, btree_map::Entry};
use std::ops::Bound::{Excluded, Unbounded};

/// The number of a lot.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct LotId(pub i64);
/// The number of a milking.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct MilkingId(pub i64);
/// The number of a cow.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct CowId(pub i64);
/// The number of a vessel: a can, a pail, a tank.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct VesselId(pub i64);
/// The number of a person.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PersonId(pub i64);
/// The number of a pickup.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PickupId(pub i64);

/// A place milk passes through.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Node {
    /// A cow.
    Cow(CowId),
    /// A milking.
    Milking(MilkingId),
    /// A lot: one filling of jars, or something made from lots.
    Lot(LotId),
    /// A person who took jars.
    Person(PersonId),
    /// Somebody unknown who took jars, known only by the pickup.
    WalkIn(PickupId),
}

/// One cow's milk at one milking, and the vessel it was poured into.
#[derive(Clone, Copy, Debug)]
pub struct Pail {
    /// The milking.
    pub milking: MilkingId,
    /// The cow.
    pub cow: CowId,
    /// The vessel, when it is known.
    pub vessel: Option<VesselId>,
    /// When it was poured.
    pub at: Moment,
}

/// A lot as the walk needs it.
#[derive(Clone, Debug)]
pub struct Lot {
    /// Its number.
    pub id: LotId,
    /// Its code, for the sentences.
    pub code: String,
    /// The vessel it was filled from, when it is known.
    pub vessel: Option<VesselId>,
    /// When it was filled.
    pub filled: Moment,
}

/// Jars that were handed out.
#[derive(Clone, Copy, Debug)]
pub struct HandOut {
    /// The lot.
    pub lot: LotId,
    /// Who took them; nothing when it was an unknown walk-in.
    pub person: Option<PersonId>,
    /// The pickup.
    pub pickup: PickupId,
}

/// Everything the graph is built from, as plain lists.
#[derive(Clone, Debug, Default)]
pub struct Lists {
    /// Milk out of cows.
    pub pails: Vec<Pail>,
    /// Which milking went into which lot.
    pub milked_into: Vec<(MilkingId, LotId)>,
    /// Which lot was made into which other lot, all of it or a part.
    pub made_into: Vec<(LotId, LotId)>,
    /// The lots.
    pub lots: Vec<Lot>,
    /// When each vessel was made clean, with proof.
    pub clean_breaks: Vec<(VesselId, Moment)>,
    /// What was handed out.
    pub hand_outs: Vec<HandOut>,
    /// What milkings are called, for the sentences.
    pub milking_names: BTreeMap<MilkingId, String>,
    /// What vessels are called, for the sentences.
    pub vessel_names: BTreeMap<VesselId, String>,
}

/// How a lot is tied to the trouble, with one sentence that names the link.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Tie {
    /// By the milk itself.
    Certain(String),
    /// By a vessel with no clean break, or by not knowing which jar it was.
    Possible(String),
}

impl Tie {
    /// Whether the milk itself is the tie.
    #[must_use]
    pub const fn is_certain(&self) -> bool {
        matches!(self, Tie::Certain(_))
    }

    /// The sentence that names the link.
    #[must_use]
    pub fn why(&self) -> &str {
        match self {
            Tie::Certain(why) | Tie::Possible(why) => why,
        }
    }
}

/// How far trouble spreads.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Spread {
    /// The lots to hold.
    pub lots: Ties,
    /// The milkings the trouble may have come from.
    pub milkings: BTreeSet<MilkingId>,
    /// The cows milked in them.
    pub cows: BTreeSet<CowId>,
    /// Who took jars of the lots to hold, and of which.
    pub people: BTreeMap<PersonId, BTreeSet<LotId>>,
    /// Pickups of unknown walk-ins, and which lots they took: never left out, because nobody can call them.
    pub walk_ins: BTreeMap<PickupId, BTreeSet<LotId>>,
}

/// Lots to hold, each with its tie.
pub type Ties = BTreeMap<LotId, Tie>;

type Edges = BTreeMap<Node, BTreeSet<Node>>;

/// A node reached, and the lot that led to it.
type Reached = (Node, Option<LotId>);

/// What went through one vessel between two clean breaks.
struct Stretch {
    vessel: VesselId,
    from: Moment,
    until: Moment,
    lots: BTreeSet<LotId>,
}

/// The milk as a graph.
pub struct Graph<'a> {
    lots: BTreeMap<LotId, &'a Lot>,
    lists: &'a Lists,
    to: Edges,
    from: Edges,
    stretches: Vec<Stretch>,
    stretches_of: BTreeMap<LotId, Vec<usize>>,
}

impl<'a> Graph<'a> {
    /// Builds the graph. Two uses of a vessel are parted only by a clean break that stands strictly between them.
    #[must_use]
    pub fn of(lists: &'a Lists) -> Graph<'a> {
        let pails = lists.pails.iter().map(|pail| (Node::Cow(pail.cow), Node::Milking(pail.milking)));
        let milked = lists.milked_into.iter().map(|(milking, lot)| (Node::Milking(*milking), Node::Lot(*lot)));
        let made = lists.made_into.iter().map(|(parent, lot)| (Node::Lot(*parent), Node::Lot(*lot)));
        let taken = lists.hand_outs.iter().map(|out| (Node::Lot(out.lot), out.person.map_or(Node::WalkIn(out.pickup), Node::Person)));
        let (mut to, mut from) = (Edges::new(), Edges::new());
        for (giver, taker) in pails.chain(milked).chain(made).chain(taken) {
            to.entry(giver).or_default().insert(taker);
            from.entry(taker).or_default().insert(giver);
        }
        let stretches = stretches(lists, &to);
        let mut stretches_of: BTreeMap<LotId, Vec<usize>> = BTreeMap::new();
        for (place, lot) in stretches.iter().enumerate().flat_map(|(place, stretch)| stretch.lots.iter().map(move |lot| (place, lot))) {
            stretches_of.entry(*lot).or_default().push(place);
        }
        Graph { lots: lists.lots.iter().map(|lot| (lot.id, lot)).collect(), lists, to, from, stretches, stretches_of }
    }

    /// What went straight into a node.
    #[must_use]
    pub fn one_back(&self, node: Node) -> BTreeSet<Node> {
        self.from.get(&node).cloned().unwrap_or_default()
    }

    /// What a node went straight into.
    #[must_use]
    pub fn one_forward(&self, node: Node) -> BTreeSet<Node> {
        self.to.get(&node).cloned().unwrap_or_default()
    }

    /// Everything whose milk is in a node.
    #[must_use]
    pub fn back(&self, node: Node) -> BTreeSet<Node> {
        closure(&self.from, [node])
    }

    /// Everything that holds milk of a node.
    #[must_use]
    pub fn forward(&self, node: Node) -> BTreeSet<Node> {
        closure(&self.to, [node])
    }

    /// Everything that holds milk of anything that went into a node.
    #[must_use]
    pub fn blast(&self, node: Node) -> BTreeSet<Node> {
        closure(&self.to, self.back(node).into_iter().chain([node]))
    }

    /// Lots that every one of these people had, straight or made into something else.
    #[must_use]
    pub fn lots_in_common(&self, people: &[PersonId]) -> BTreeSet<LotId> {
        let had = |person: &PersonId| lots_among(self.back(Node::Person(*person)));
        people.iter().map(had).reduce(|common, next| &common & &next).unwrap_or_default()
    }

    /// Lots that went through a vessel between the clean breaks around a moment.
    #[must_use]
    pub fn through(&self, vessel: VesselId, at: Moment) -> BTreeSet<LotId> {
        let around = |stretch: &&Stretch| stretch.vessel == vessel && stretch.from <= at && at <= stretch.until;
        self.stretches.iter().filter(around).flat_map(|stretch| stretch.lots.iter().copied()).collect()
    }

    /// The lots that went through one vessel with no clean break in between, vessel by vessel.
    pub fn pots(&self) -> impl Iterator<Item = &BTreeSet<LotId>> {
        self.stretches.iter().map(|stretch| &stretch.lots).filter(|lots| lots.len() > 1)
    }

    /// Traces how far trouble in these lots spreads.
    ///
    /// First back along the milk and forward again, which gives the certain ties; then the same once more with every vessel
    /// taken for one pot between its clean breaks, which gives the possible ones.
    #[must_use]
    pub fn spread(&self, start: &BTreeSet<LotId>) -> Spread {
        let asked = |lot: &LotId| (*lot, Tie::Certain("is the lot asked about".to_owned()));
        let mut lots: Ties = start.iter().map(asked).collect();
        let mut behind: Vec<Reached> = start.iter().map(|lot| (Node::Lot(*lot), None)).collect();
        let mut ahead: Vec<Reached> = Vec::new();
        for by_vessels in [false, true] {
            let tie = if by_vessels { Tie::Possible } else { Tie::Certain };
            behind = self.walk(behind, &self.from, by_vessels, |lot, why| {
                lots.entry(lot).or_insert_with(|| tie(why));
            });
            ahead.extend(&behind);
            ahead = self.walk(ahead, &self.to, by_vessels, |lot, why| {
                lots.entry(lot).or_insert_with(|| tie(why));
            });
        }
        let mut spread = Spread { lots, ..Spread::default() };
        for (node, _) in behind {
            let Node::Milking(milking) = node else { continue };
            spread.milkings.insert(milking);
            spread
                .cows
                .extend(self.one_back(node).into_iter().filter_map(|giver| if let Node::Cow(cow) = giver { Some(cow) } else { None }));
        }
        for lot in spread.lots.keys() {
            for taker in self.one_forward(Node::Lot(*lot)) {
                match taker {
                    Node::Person(person) => spread.people.entry(person).or_default().insert(*lot),
                    Node::WalkIn(pickup) => spread.walk_ins.entry(pickup).or_default().insert(*lot),
                    _ => false,
                };
            }
        }
        spread
    }

    /// Walks from the seeds along the edges, through lots and milkings only, and tells of each lot it finds. The lot that led
    /// to a milking is kept, so that a lot found through the milking can name the lot it shares it with.
    fn walk(&self, seeds: Vec<Reached>, edges: &Edges, by_vessels: bool, mut tell: impl FnMut(LotId, String)) -> Vec<Reached> {
        let mut reached: BTreeMap<Node, Option<LotId>> = BTreeMap::new();
        let mut work: VecDeque<Node> = VecDeque::new();
        for (node, led_by) in seeds {
            work.extend(reached.insert(node, led_by).is_none().then_some(node));
        }
        let mut poured: BTreeSet<usize> = BTreeSet::new();
        while let Some(node) = work.pop_front() {
            let own = if let Node::Lot(lot) = node { Some(lot) } else { None };
            let led_by = own.or_else(|| reached.get(&node).copied().flatten());
            let mut find = |next: Node, why: String| {
                if let Entry::Vacant(place) = reached.entry(next) {
                    place.insert(led_by);
                    work.push_back(next);
                    if let Node::Lot(lot) = next {
                        tell(lot, why);
                    }
                }
            };
            for next in edges.get(&node).into_iter().flatten() {
                match (node, *next) {
                    (_, Node::Milking(_)) => find(*next, String::new()),
                    (_, Node::Lot(lot)) => find(*next, self.milk_words(node, lot, led_by)),
                    _ => {}
                }
            }
            for place in own.and_then(|lot| self.stretches_of.get(&lot)).into_iter().flatten() {
                let Some(stretch) = self.stretches.get(*place).filter(|_| by_vessels && poured.insert(*place)) else { continue };
                for other in &stretch.lots {
                    find(Node::Lot(*other), self.vessel_words(stretch.vessel, *other, led_by.unwrap_or(*other)));
                }
            }
        }
        reached.into_iter().collect()
    }

    /// A lot's code, for the sentences.
    #[must_use]
    pub fn code(&self, lot: LotId) -> String {
        self.lots.get(&lot).map_or_else(|| format!("lot {}", lot.0), |lot| lot.code.clone())
    }

    fn milk_words(&self, node: Node, lot: LotId, led_by: Option<LotId>) -> String {
        let other = led_by.map_or_else(|| "a lot asked about".to_owned(), |lot| self.code(lot));
        match node {
            Node::Milking(milking) => {
                let name = self.lists.milking_names.get(&milking).cloned().unwrap_or_else(|| milking.0.to_string());
                format!("shares milking {name} with {other}")
            }
            _ if self.one_forward(node).contains(&Node::Lot(lot)) => format!("was made from {other}"),
            _ => format!("went into {other}"),
        }
    }

    fn vessel_words(&self, vessel: VesselId, lot: LotId, other: LotId) -> String {
        let name = self.lists.vessel_names.get(&vessel).map_or_else(|| format!("vessel {}", vessel.0), Clone::clone);
        let filled = |lot| self.lots.get(lot).map(|lot| lot.filled);
        let later = filled(&lot) >= filled(&other);
        let poured = self.lots.get(&lot).is_some_and(|lot| lot.vessel == Some(vessel));
        let (verb, side) = (if poured { "filled from" } else { "went through" }, if later { "since" } else { "before" });
        format!("{verb} {name} with no clean break {side} {}", self.code(other))
    }
}

/// Every node reached from the seeds by at least one edge.
fn closure(edges: &Edges, seeds: impl IntoIterator<Item = Node>) -> BTreeSet<Node> {
    let mut reached = BTreeSet::new();
    let mut work: Vec<Node> = seeds.into_iter().collect();
    while let Some(node) = work.pop() {
        work.extend(edges.get(&node).into_iter().flatten().copied().filter(|next| reached.insert(*next)));
    }
    reached
}

/// The lots among these nodes.
#[must_use]
pub fn lots_among(nodes: BTreeSet<Node>) -> BTreeSet<LotId> {
    nodes.into_iter().filter_map(|node| if let Node::Lot(lot) = node { Some(lot) } else { None }).collect()
}

/// Cuts the uses of each vessel, by pails poured in and by lots filled from it, at its clean breaks.
fn stretches(lists: &Lists, to: &Edges) -> Vec<Stretch> {
    let mut uses: BTreeSet<(VesselId, Moment, LotId)> =
        lists.lots.iter().filter_map(|lot| lot.vessel.map(|vessel| (vessel, lot.filled, lot.id))).collect();
    for pail in &lists.pails {
        let filled = to.get(&Node::Milking(pail.milking)).cloned().unwrap_or_default();
        uses.extend(
            pail.vessel.into_iter().flat_map(|vessel| lots_among(filled.clone()).into_iter().map(move |lot| (vessel, pail.at, lot))),
        );
    }
    let breaks: BTreeSet<(VesselId, Moment)> = lists.clean_breaks.iter().copied().collect();
    let mut cut: Vec<Stretch> = Vec::new();
    for (vessel, at, lot) in uses {
        match cut.last_mut().filter(|stretch| stretch.vessel == vessel && at <= stretch.until) {
            Some(stretch) => {
                stretch.lots.insert(lot);
                stretch.until = next_break(&breaks, vessel, at);
            }
            None => {
                let before = breaks.range((Unbounded, Excluded((vessel, at)))).next_back().filter(|(of, _)| *of == vessel);
                let from = before.map_or(Moment::seconds(i64::MIN), |(_, at)| *at);
                cut.push(Stretch { vessel, from, until: next_break(&breaks, vessel, at), lots: BTreeSet::from([lot]) });
            }
        }
    }
    cut
}

fn next_break(breaks: &BTreeSet<(VesselId, Moment)>, vessel: VesselId, at: Moment) -> Moment {
    let next = breaks.range((Excluded((vessel, at)), Unbounded)).next().filter(|(of, _)| *of == vessel);
    next.map_or(Moment::seconds(i64::MAX), |(_, at)| *at)
}
