//! What a spread can reach is read and nothing else, and the spread is the same as of everything.
#![allow(clippy::unwrap_used, reason = "a test that cannot read its own figures should stop")]

use crate::{
    any_farm::{LOTS, any_farm},
    farm::{Farm, at},
};
use proptest::prelude::*;
use sqlx::SqliteConnection;
use std::collections::BTreeSet;
use tallypail::{
    store::trace,
    trade::{
        reached::{Places, Step, Walk},
        trace::{Graph, Lists, Lot, LotId, MilkingId, Node, VesselId},
        when::Moment,
    },
};

/// When milk of a lot stood in a vessel: when it was filled from it, and when a milking in it was poured there.
fn uses(lists: &Lists) -> Vec<(VesselId, Moment, LotId)> {
    let filled = lists.lots.iter().filter_map(|lot| Some((lot.vessel?, lot.filled, lot.id)));
    let poured = lists.pails.iter().flat_map(|pail| {
        let into = lists.milked_into.iter().filter(|(milking, _)| *milking == pail.milking);
        into.filter_map(|(_, lot)| Some((pail.vessel?, pail.at, *lot)))
    });
    filled.chain(poured).collect()
}

/// What the ledger would answer to a step.
fn answer(lists: &Lists, step: &Step) -> Places {
    let mut found = Places::default();
    if step.is_back {
        found.milkings.extend(lists.milked_into.iter().filter(|(_, lot)| step.lots.contains(lot)).map(|(milking, _)| *milking));
        found.lots.extend(lists.made_into.iter().filter(|(_, lot)| step.lots.contains(lot)).map(|(parent, _)| *parent));
    } else {
        found.lots.extend(lists.milked_into.iter().filter(|(milking, _)| step.milkings.contains(milking)).map(|(_, lot)| *lot));
        found.lots.extend(lists.made_into.iter().filter(|(parent, _)| step.lots.contains(parent)).map(|(_, lot)| *lot));
    }
    let all = uses(lists);
    for (vessel, at, _) in all.iter().filter(|(.., lot)| step.by_vessels && step.lots.contains(lot)) {
        let breaks = || lists.clean_breaks.iter().filter(|(own, _)| own == vessel).map(|(_, when)| *when);
        let (before, after) = (breaks().filter(|when| when < at).max(), breaks().filter(|when| when > at).min());
        let around = |when: &Moment| before.is_none_or(|before| before <= *when) && after.is_none_or(|after| *when <= after);
        found.lots.extend(all.iter().filter(|(own, when, _)| own == vessel && around(when)).map(|(.., lot)| *lot));
    }
    found
}

/// The lists of these lots alone, as the store reads them.
fn of_some(lists: &Lists, lots: &BTreeSet<LotId>) -> Lists {
    let milked_into: Vec<(MilkingId, LotId)> = lists.milked_into.iter().filter(|(_, lot)| lots.contains(lot)).copied().collect();
    let milkings: BTreeSet<MilkingId> = milked_into.iter().map(|(milking, _)| *milking).collect();
    Lists {
        pails: lists.pails.iter().filter(|pail| milkings.contains(&pail.milking)).copied().collect(),
        made_into: lists.made_into.iter().filter(|(_, lot)| lots.contains(lot)).copied().collect(),
        lots: lists.lots.iter().filter(|lot| lots.contains(&lot.id)).cloned().collect(),
        hand_outs: lists.hand_outs.iter().filter(|out| lots.contains(&out.lot)).copied().collect(),
        milked_into,
        ..lists.clone()
    }
}

fn reached(lists: &Lists, start: &BTreeSet<LotId>) -> Lists {
    let mut walk = Walk::from(start.iter().copied());
    while let Some(step) = walk.next_step() {
        walk.found(answer(lists, &step));
    }
    of_some(lists, walk.lots())
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, cases: 1000, ..ProptestConfig::default() })]

    /// Words and all: which link a sentence names does not hang on what else is in the ledger.
    #[test]
    fn the_spread_of_what_is_reached_is_the_spread_of_all(lists in any_farm(), start in prop::collection::btree_set(0..LOTS, 1..4)) {
        let start: BTreeSet<LotId> = start.into_iter().map(LotId).collect();
        let some = reached(&lists, &start);
        let (all, some) = (Graph::of(&lists), Graph::of(&some));
        prop_assert_eq!(all.spread(&start), some.spread(&start));
        for lot in &start {
            let alone = BTreeSet::from([*lot]);
            prop_assert_eq!(all.spread(&alone), some.spread(&alone), "of one of them too");
            prop_assert_eq!(all.back(Node::Lot(*lot)), some.back(Node::Lot(*lot)));
        }
    }
}

/// What the ledger reads of each of these lots, and of each with the next, gives the spread of everything. Says how many lots the
/// narrowest and the widest of them reach.
async fn each_spreads_alike(db: &mut SqliteConnection, among: impl Fn(&Lot) -> bool) -> (usize, usize) {
    let everything = trace::lists(&mut *db).await.unwrap();
    let all = Graph::of(&everything);
    let (mut least, mut widest) = (usize::MAX, 0);
    for pair in everything.lots.windows(2).filter(|pair| among(&pair[0])) {
        for start in [BTreeSet::from([pair[0].id]), pair.iter().map(|lot| lot.id).collect()] {
            let some = trace::reached(&mut *db, &start).await.unwrap();
            let spread = all.spread(&start);
            assert_eq!(Graph::of(&some).spread(&start), spread, "{}", pair[0].code);
            assert_eq!(some.lots.iter().map(|lot| lot.id).collect::<BTreeSet<_>>(), spread.lots.keys().copied().collect());
            (least, widest) = (least.min(some.lots.len()), widest.max(some.lots.len()));
        }
    }
    (least, widest)
}

#[tokio::test]
async fn every_lot_of_the_sample_farm_spreads_alike() {
    let farm = Farm::sample().await;
    let reach = each_spreads_alike(&mut farm.ledger.read().await.unwrap(), |_| true).await;
    assert_eq!(reach, (1, 3), "it washes its cans, so little is tied to little");
}

/// The same farm, if nobody had washed anything in July, and in August only at the very minute of a filling, which parts nothing.
#[tokio::test]
async fn lots_of_unwashed_cans_spread_alike() {
    let farm = Farm::sample().await;
    let (july, august, september) = (at("2026-07-01T00:00"), at("2026-08-01T00:00"), at("2026-09-01T00:00"));
    let mut tx = farm.ledger.begin().await.unwrap();
    for asked in [
        "DELETE FROM breaks WHERE at >= ?1 AND at < ?2",
        "UPDATE breaks SET at = coalesce((SELECT max(filled) FROM lots WHERE vessel = breaks.vessel AND filled <= breaks.at), at) WHERE at >= ?2 AND at < ?3",
    ] {
        let query = sqlx::query(asked).bind(july.in_seconds()).bind(august.in_seconds());
        let query = if asked.contains("?3") { query.bind(september.in_seconds()) } else { query };
        assert!(query.execute(&mut *tx).await.unwrap().rows_affected() > 30);
    }
    let (least, widest) = each_spreads_alike(&mut tx, |lot| july <= lot.filled && lot.filled < september).await;
    assert!(least >= 1 && widest > 60, "{least} to {widest}");
    tx.rollback().await.unwrap();
}
