//! Where the milk went, and whether it adds up.
#![allow(clippy::unwrap_used, reason = "a test that cannot read its own figures should stop")]

use proptest::prelude::*;
use rust_decimal::Decimal;
use std::collections::{BTreeMap, BTreeSet};
use tallypail::trade::balance::*;
use tallypail::trade::jars::Jars;
use tallypail::trade::starts::possible_lots;
use tallypail::trade::trace::*;
use tallypail::trade::when::{Moment, parse_day};

fn hour(hour: i64) -> Moment {
    Moment::seconds(0).plus_hours(hour)
}

fn pail(milking: i64, cow: i64, vessel: Option<i64>, at: i64) -> Pail {
    Pail { milking: MilkingId(milking), cow: CowId(cow), vessel: vessel.map(VesselId), at: hour(at) }
}

fn lot(id: i64, vessel: Option<i64>, filled: i64) -> Lot {
    Lot { id: LotId(id), code: format!("L{id}"), vessel: vessel.map(VesselId), filled: hour(filled) }
}

fn took(lot: i64, person: i64) -> HandOut {
    HandOut { lot: LotId(lot), person: Some(PersonId(person)), pickup: PickupId(lot * 100 + person) }
}

fn lots<const N: usize>(numbers: [i64; N]) -> BTreeSet<LotId> {
    numbers.into_iter().map(LotId).collect()
}

fn milkings(pairs: &[(i64, i64)]) -> Vec<(MilkingId, LotId)> {
    pairs.iter().map(|(milking, lot)| (MilkingId(*milking), LotId(*lot))).collect()
}

/// The litres along each edge of the worked graph.
const WORKED: &str = "COW1 M1 6.0,COW2 M1 8.0,COW1 M2 5.0,COW2 M2 7.0,COW3 M2 9.0,COW1 M3 6.0,COW3 M3 10.0,M1 L1 14.0,M2 L2 16.0,\
    M2 L3 5.0,M3 L3 16.0,L1 C1 7.56,L1 C2 5.67,L2 C2 3.78,L2 C3 11.34,L3 C3 3.78,L3 C4 15.12";

fn worked() -> Vec<(&'static str, &'static str, Decimal)> {
    let edges = WORKED.split(',').map(|edge| edge.split_whitespace().collect::<Vec<&str>>());
    edges.map(|edge| (edge[0], edge[1], edge[2].parse().unwrap())).collect()
}

fn number(name: &str) -> i64 {
    name.trim_start_matches(char::is_alphabetic).parse().unwrap()
}

fn node(name: &str) -> Node {
    match name.chars().next() {
        Some('M') => Node::Milking(MilkingId(number(name))),
        Some('L') => Node::Lot(LotId(number(name))),
        _ if name.starts_with("COW") => Node::Cow(CowId(number(name))),
        _ => Node::Person(PersonId(number(name))),
    }
}

fn nodes(names: &str) -> BTreeSet<Node> {
    names.split(", ").map(node).collect()
}

fn worked_lists() -> Lists {
    let mut lists = Lists { lots: vec![lot(1, None, 1), lot(2, None, 2), lot(3, None, 3)], ..Lists::default() };
    for (giver, taker, _) in worked() {
        match (node(giver), node(taker)) {
            (Node::Cow(cow), Node::Milking(milking)) => lists.pails.push(Pail { milking, cow, vessel: None, at: hour(0) }),
            (Node::Milking(milking), Node::Lot(lot)) => lists.milked_into.push((milking, lot)),
            (Node::Lot(lot), Node::Person(person)) => {
                lists.hand_outs.push(HandOut { lot, person: Some(person), pickup: PickupId(person.0) });
            }
            other => unreachable!("{other:?}"),
        }
    }
    lists
}

/// Source: definitions of one step back and forward (Regulation (EC) 178/2002, Article 18) and of backward and forward
/// closure in graph theory, worked by hand.
#[test]
fn the_worked_graph_gives_the_worked_sets() {
    let lists = worked_lists();
    let graph = Graph::of(&lists);
    assert_eq!(graph.one_back(node("L3")), nodes("M2, M3"));
    assert_eq!(graph.one_forward(node("L3")), nodes("C3, C4"));
    assert_eq!(graph.back(node("L3")), nodes("COW1, COW2, COW3, M2, M3"));
    assert_eq!(graph.forward(node("M2")), nodes("C2, C3, C4, L2, L3"));
    assert_eq!(graph.forward(node("COW3")), nodes("C2, C3, C4, L2, L3, M2, M3"));
    assert_eq!(graph.blast(node("L3")), nodes("C1, C2, C3, C4, L1, L2, L3, M1, M2, M3"));
    assert_eq!(graph.lots_in_common(&[PersonId(2), PersonId(3)]), lots([2]));
    assert_eq!(graph.lots_in_common(&[PersonId(3), PersonId(4)]), lots([3]));
    assert_eq!(graph.lots_in_common(&[]), lots([]));

    let spread = graph.spread(&lots([3]));
    assert_eq!(spread.lots.keys().copied().collect::<BTreeSet<_>>(), lots([2, 3]));
    assert_eq!(spread.lots[&LotId(2)], Tie::Certain("shares milking 2 with L3".to_owned()));
    assert_eq!(spread.milkings, BTreeSet::from([MilkingId(2), MilkingId(3)]));
    assert_eq!(spread.cows, BTreeSet::from([CowId(1), CowId(2), CowId(3)]));
    assert_eq!(spread.people[&PersonId(3)], lots([2, 3]));
    assert!(!spread.people.contains_key(&PersonId(1)));
}

/// Source: conservation of mass at a node, worked by hand; a tolerance of a few percent is common practice.
#[test]
fn the_worked_graph_balances_but_for_one_lot() {
    for (name, missing, percent) in [("M1", 0, 0), ("M2", 0, 0), ("M3", 0, 0), ("L1", 77, 550), ("L2", 88, 550), ("L3", 210, 1000)] {
        let sum = |keep: &dyn Fn(&(&str, &str, Decimal)) -> bool| worked().iter().filter(|edge| keep(edge)).map(|edge| edge.2).sum();
        let balance = mass_balance(sum(&|edge| edge.1 == name), sum(&|edge| edge.0 == name), Decimal::ZERO, Decimal::ZERO);
        assert_eq!(balance.missing, Decimal::new(missing, 2), "{name}");
        assert_eq!(balance.percent, Some(Decimal::new(percent, 2)), "{name}");
        assert_eq!(balance.within(Decimal::from(7)), name != "L3", "{name}");
    }
    let empty = |outflow| mass_balance(Decimal::ZERO, outflow, Decimal::ZERO, Decimal::ZERO);
    assert!(empty(Decimal::ZERO).within(Decimal::ZERO) && !empty(Decimal::ONE).within(Decimal::ONE_HUNDRED));
}

/// Lots 10 to 17, a day apart, out of one can that was made clean after 11 and after 14.
fn bracketed() -> Lists {
    Lists {
        lots: (10..=17).map(|id| lot(id, Some(1), id * 24)).collect(),
        milked_into: milkings(&[(10, 10), (11, 11), (12, 12), (13, 13), (14, 14), (15, 15), (16, 16), (17, 17)]),
        clean_breaks: vec![(VesselId(1), hour(11 * 24 + 12)), (VesselId(1), hour(14 * 24 + 12))],
        vessel_names: BTreeMap::from([(VesselId(1), "Can 1".to_owned())]),
        ..Lists::default()
    }
}

/// Source: Chapman and Danyluk, UF/IFAS FS234 (2013): a lot is what lies between two documented clean breaks.
#[test]
fn clean_breaks_bracket_the_trouble() {
    let lists = bracketed();
    let spread = Graph::of(&lists).spread(&lots([13]));
    assert_eq!(spread.lots.keys().copied().collect::<BTreeSet<_>>(), lots([12, 13, 14]));
    assert_eq!(spread.lots[&LotId(12)], Tie::Possible("filled from Can 1 with no clean break before L13".to_owned()));
    assert_eq!(spread.lots[&LotId(14)], Tie::Possible("filled from Can 1 with no clean break since L13".to_owned()));
    assert!(spread.lots[&LotId(13)].is_certain());
    assert_eq!(Graph::of(&lists).through(VesselId(1), hour(12 * 24 + 1)), lots([12, 13, 14]));
    assert_eq!(Graph::of(&lists).through(VesselId(1), hour(300 * 24)), lots([15, 16, 17]));
    assert_eq!(Graph::of(&lists).through(VesselId(2), hour(13 * 24)), lots([]));
}

/// A clean break in the same minute as a filling does not show which came first, so it parts nothing.
#[test]
fn a_clean_break_must_stand_between_two_fillings() {
    let mut lists = bracketed();
    lists.clean_breaks[0].1 = hour(12 * 24);
    let spread = Graph::of(&lists).spread(&lots([13]));
    assert_eq!(spread.lots.keys().copied().collect::<BTreeSet<_>>(), lots([10, 11, 12, 13, 14]));
}

/// Leftover milk, a cream lot and a shared pail each carry the trouble on; lots with nothing in common stay out.
#[test]
fn topping_up_cream_and_shared_pails_widen_it() {
    let lists = Lists {
        pails: vec![pail(1, 1, None, 0), pail(2, 2, Some(7), 20), pail(3, 3, Some(7), 30), pail(9, 4, None, 90)],
        lots: vec![lot(1, None, 10), lot(2, None, 21), lot(3, None, 31), lot(4, None, 40), lot(9, None, 91)],
        milked_into: milkings(&[(1, 1), (1, 2), (2, 2), (3, 3), (9, 9)]),
        made_into: vec![(LotId(2), LotId(4))],
        milking_names: BTreeMap::from([(MilkingId(1), "2026-05-14 AM".to_owned())]),
        vessel_names: BTreeMap::from([(VesselId(7), "the steel pail".to_owned())]),
        hand_outs: vec![took(1, 1), took(4, 2), HandOut { lot: LotId(3), person: None, pickup: PickupId(77) }, took(9, 3)],
        ..Lists::default()
    };
    let graph = Graph::of(&lists);
    let spread = graph.spread(&lots([1]));
    let said: Vec<(i64, bool, &str)> = spread.lots.iter().map(|(lot, tie)| (lot.0, tie.is_certain(), tie.why())).collect();
    assert_eq!(
        said,
        [
            (1, true, "is the lot asked about"),
            (2, true, "shares milking 2026-05-14 AM with L1"),
            (3, false, "went through the steel pail with no clean break since L2"),
            (4, true, "was made from L2"),
        ]
    );
    assert_eq!(spread.people.keys().copied().collect::<Vec<_>>(), [PersonId(1), PersonId(2)]);
    assert_eq!(spread.walk_ins, BTreeMap::from([(PickupId(77), lots([3]))]), "nobody is silently dropped");
    assert_eq!(graph.spread(&lots([4])).lots[&LotId(2)].why(), "went into L4");
}

/// Source: 21 CFR 1.345(b) and 7 Pa. Code 59a.409(c): one treated cow's milk holds the whole lot it went into.
#[test]
fn one_treated_cow_holds_the_whole_lot() {
    let lists = Lists {
        pails: (1..=4).map(|cow| pail(1, cow, Some(1), 12)).collect(),
        lots: vec![lot(7, Some(1), 13), lot(8, Some(2), 13)],
        milked_into: milkings(&[(1, 7), (2, 8)]),
        ..Lists::default()
    };
    let graph = Graph::of(&lists);
    assert_eq!(lots_among(graph.forward(Node::Milking(MilkingId(1)))), lots([7]));
    assert_eq!(graph.through(VesselId(1), hour(12)), lots([7]));
}

#[test]
fn a_washed_off_code_is_looked_for_by_the_day() {
    let day = |typed| parse_day(typed).unwrap();
    let taken = [(PersonId(1), day("2026-05-14"), LotId(1)), (PersonId(2), day("2026-05-14"), LotId(2))];
    let stood = [
        (LotId(1), day("2026-05-12"), Some(day("2026-05-15"))),
        (LotId(2), day("2026-05-14"), None),
        (LotId(3), day("2026-05-17"), None),
        (LotId(4), day("2026-05-01"), Some(day("2026-05-13"))),
    ];
    let written = possible_lots(&taken, &stood, PersonId(1), day("2026-05-14"));
    assert_eq!(written.keys().copied().collect::<BTreeSet<_>>(), lots([1]));
    assert!(written[&LotId(1)].is_certain());
    let could = possible_lots(&taken, &stood, PersonId(3), day("2026-05-14"));
    assert_eq!(could.keys().copied().collect::<BTreeSet<_>>(), lots([1, 2]));
    assert!(could.values().all(|tie| !tie.is_certain()));
}

fn halves(what: What, at: i64, count: i64, who: &str) -> Movement {
    Movement { at: hour(at), what, jars: Jars::halves(count), who: who.to_owned() }
}

/// Source: the arithmetic of a hand-kept jar tally; on hand is counted.
#[test]
fn a_lot_squares_only_when_it_is_counted() {
    let mut lot = LotJars {
        filled: Jars::halves(22),
        handed_out: Jars::halves(15),
        household: Jars::halves(2),
        into_lots: Jars::halves(2),
        shelf_jar: Jars::halves(1),
        broken: Jars::halves(1),
        ..LotJars::default()
    };
    let cream = LotJars { filled: Jars { pints: 3, ..Jars::NONE }, on_hand: Some(Jars { pints: 3, ..Jars::NONE }), ..LotJars::default() };
    assert_eq!(lot.balance().to_string(), "not counted");
    assert_eq!(lot.percent_accounted(), None);
    lot.on_hand = Some(Jars::halves(1));
    assert_eq!((lot.balance(), cream.balance()), (Balance::Squares, Balance::Squares));
    lot.handed_out = Jars::halves(13);
    assert_eq!(lot.balance().to_string(), "2 half-gallons short");
    lot.on_hand = Some(Jars { half_gallons: 1, quarts: 4, ..Jars::NONE });
    assert_eq!(lot.balance().to_string(), "2 half-gallons short, 4 quarts over");
}

/// Source: reconciling quantity received with quantity produced (quality-assurance trade press on mass balance): 40 jars, 31
/// handed over, 5 on hand, 2 to the laboratory, 1 broken leave 1 missing, 97.5 %.
#[test]
fn thirty_nine_of_forty_is_ninety_seven_and_a_half_percent() {
    let movements = [
        halves(What::Filled, 0, 40, ""),
        halves(What::HandedOut, 1, 31, "Ash"),
        halves(What::Sample, 2, 2, ""),
        halves(What::Broken, 3, 1, ""),
    ];
    let lot = LotJars::gathered(&movements, Some(Jars::halves(5)));
    assert_eq!(lot.balance(), Balance::Off { short: Jars::halves(1), over: Jars::NONE });
    assert_eq!(lot.percent_accounted(), Some(Decimal::new(975, 1)));
}

#[test]
fn the_window_lies_between_the_last_good_count_and_the_first_bad_one() {
    let movements = [
        halves(What::Filled, 0, 10, ""),
        halves(What::HandedOut, 5, 2, "Ash"),
        halves(What::HandedOut, 15, 1, "Birch"),
        halves(What::HandedOut, 18, 1, "Cedar"),
        halves(What::Household, 19, 1, "nobody's call"),
        halves(What::Returned, 19, 1, "Birch"),
        halves(What::HandedOut, 25, 1, "Dogwood"),
    ];
    let count = |at, jars| Count { at: hour(at), jars: Jars::halves(jars) };
    let found = find_window(&movements, &[count(30, 3), count(20, 4), count(10, 8), count(6, 7)]).unwrap();
    assert_eq!((found.from, found.from_a_count, found.until), (hour(10), true, hour(20)));
    assert_eq!(found.off.to_string(), "2 half-gallons short");
    assert_eq!(found.callers, ["Birch", "Cedar"]);

    assert_eq!(find_window(&movements, &[count(10, 7), count(30, 5)]), None, "the last count squares");
    assert_eq!(find_window(&movements, &[]), None);
    let never = find_window(&movements, &[count(10, 7)]).unwrap();
    assert_eq!((never.from, never.from_a_count, never.callers), (hour(0), false, vec!["Ash".to_owned()]));
}

fn any_lists() -> impl Strategy<Value = Lists> {
    let pails = prop::collection::vec((0i64..8, 0i64..4, prop::option::of(0i64..3), 0i64..40), 0..16);
    let filled = prop::collection::vec((prop::option::of(0i64..3), 0i64..40), 10);
    let milked = prop::collection::vec((0i64..8, 0i64..10), 0..14);
    let made = prop::collection::vec((0i64..10, 0i64..10), 0..4);
    let breaks = prop::collection::vec((0i64..3, 0i64..40), 0..8);
    let taken = prop::collection::vec((0i64..10, 0i64..5), 0..12);
    (pails, filled, milked, made, breaks, taken).prop_map(|(pails, filled, milked, made, breaks, taken)| Lists {
        pails: pails.into_iter().map(|(milking, cow, vessel, at)| pail(milking, cow, vessel, at)).collect(),
        lots: filled.into_iter().zip(0..).map(|((vessel, at), id)| lot(id, vessel, at)).collect(),
        milked_into: milkings(&milked),
        made_into: made.into_iter().filter(|(parent, lot)| parent < lot).map(|(parent, lot)| (LotId(parent), LotId(lot))).collect(),
        clean_breaks: breaks.into_iter().map(|(vessel, at)| (VesselId(vessel), hour(at))).collect(),
        hand_outs: taken.into_iter().map(|(lot, person)| took(lot, person)).collect(),
        ..Lists::default()
    })
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_clean_break_never_adds_a_lot(lists in any_lists(), start in 0i64..10, vessel in 0i64..3, at in 0i64..40) {
        let before = Graph::of(&lists).spread(&lots([start]));
        let mut cleaner = lists.clone();
        cleaner.clean_breaks.push((VesselId(vessel), hour(at)));
        let after = Graph::of(&cleaner).spread(&lots([start]));
        prop_assert!(after.lots.keys().all(|lot| before.lots.contains_key(lot)));
        prop_assert!(after.people.keys().all(|person| before.people.contains_key(person)));
        let certain = |spread: &Spread| spread.lots.iter().filter(|(_, tie)| tie.is_certain()).map(|(lot, _)| *lot).collect::<BTreeSet<_>>();
        prop_assert_eq!(certain(&before), certain(&after), "a tie by milk is no matter of cleaning");
    }

    #[test]
    fn forward_and_back_agree(lists in any_lists(), cow in 0i64..4, person in 0i64..5) {
        let graph = Graph::of(&lists);
        let (cow, person) = (Node::Cow(CowId(cow)), Node::Person(PersonId(person)));
        prop_assert_eq!(graph.forward(cow).contains(&person), graph.back(person).contains(&cow));
    }

    /// Certain ties are the lots ahead of, or behind, everything whose milk is in the lot, cows left aside.
    #[test]
    fn certain_ties_follow_the_milk(lists in any_lists(), start in 0i64..10) {
        let graph = Graph::of(&lists);
        let own = Node::Lot(LotId(start));
        let behind: Vec<Node> = graph.back(own).into_iter().filter(|node| !matches!(node, Node::Cow(_))).chain([own]).collect();
        let milk: BTreeSet<LotId> = lots_among(behind.iter().copied().chain(behind.iter().flat_map(|node| graph.forward(*node))).collect());
        let spread = graph.spread(&lots([start]));
        let certain: BTreeSet<LotId> = spread.lots.iter().filter(|(_, tie)| tie.is_certain()).map(|(lot, _)| *lot).collect();
        prop_assert_eq!(certain, milk);
        for out in &lists.hand_outs {
            let called = out.person.is_some_and(|person| spread.people.get(&person).is_some_and(|had| had.contains(&out.lot)));
            prop_assert_eq!(called, spread.lots.contains_key(&out.lot));
        }
    }

    #[test]
    fn every_jar_is_in_one_place_or_missing_by_name(places in prop::collection::vec((0usize..8, 0i64..9, 0i64..9), 0..20), halves in 0i64..60, quarts in 0i64..60) {
        let whats = [What::Filled, What::HandedOut, What::Household, What::Calf, What::IntoLot, What::Sample, What::Broken, What::ThrownOut];
        let movements: Vec<Movement> = places.iter().map(|(what, halves, quarts)| Movement {
            at: hour(0), what: whats[*what], jars: Jars { half_gallons: *halves, quarts: *quarts, ..Jars::NONE }, who: String::new(),
        }).collect();
        let counted = Jars { half_gallons: halves, quarts, ..Jars::NONE };
        let lot = LotJars::gathered(&movements, Some(counted));
        let (short, over) = match lot.balance() {
            Balance::Squares => (Jars::NONE, Jars::NONE),
            Balance::Off { short, over } => (short, over),
            Balance::NotCounted => return Err(TestCaseError::fail("it was counted")),
        };
        let moved = |went: bool| movements.iter().filter(|movement| (movement.what != What::Filled) == went).map(|movement| movement.jars).sum::<Jars>();
        prop_assert_eq!(moved(false), moved(true) + counted + short - over);
        prop_assert!(short.covers(Jars::NONE) && over.covers(Jars::NONE));
        prop_assert!(short.half_gallons == 0 || over.half_gallons == 0);
        let found = find_window(&movements, &[Count { at: hour(1), jars: counted }]).map(|window| window.off);
        prop_assert_eq!(found.unwrap_or(Balance::Squares), lot.balance());
    }
}
