//! Any farm at all, as the lists a trace is made of: milkings and pails, cans that are shared and sometimes washed, lots that are
//! topped up, lots made of lots, and jars that went out, to somebody known or to nobody anyone knows.

use proptest::prelude::*;
use std::collections::BTreeMap;
use tallypail::trade::{
    trace::{CowId, HandOut, Lists, Lot, LotId, MilkingId, Pail, PersonId, PickupId, VesselId},
    when::Moment,
};

/// How many lots such a farm has.
pub const LOTS: i64 = 12;
/// How many milkings, twelve hours apart.
pub const MILKINGS: i64 = 10;
/// How many cows and people there are at most.
pub const COWS: i64 = 4;
/// See [`COWS`].
pub const PEOPLE: i64 = 5;

/// So many hours after the farm began.
pub fn hour(hour: i64) -> Moment {
    Moment::seconds(0).plus_hours(hour)
}

/// Any farm. Hours are whole, so that a washing often falls into the very minute of a filling, which parts nothing.
pub fn any_farm() -> impl Strategy<Value = Lists> {
    let vessel = || prop::option::weighted(0.8, 0i64..3);
    let pails = prop::collection::vec((0..MILKINGS, 0..COWS, vessel()), 0..24);
    // Each lot has its own milking's milk, and sometimes what was left of one or two before it.
    let fills = prop::collection::vec((vessel(), 0..MILKINGS, prop::collection::vec(0i64..4, 0..2), any::<bool>(), 0i64..10), 12);
    let made = prop::collection::vec((0..LOTS, 0..LOTS), 0..5);
    let breaks = prop::collection::vec((0i64..3, 0i64..140), 0..14);
    let taken = prop::collection::vec((0..LOTS, prop::option::weighted(0.8, 0..PEOPLE)), 0..20);
    (pails, fills, made, breaks, taken).prop_map(|(pails, fills, made, breaks, taken)| {
        let filled = |(milking, later): (i64, i64)| hour(milking * 12 + later);
        let (mut lots, mut milked_into) = (Vec::new(), Vec::new());
        for ((vessel, milking, left_over, is_milked, later), id) in fills.into_iter().zip(0..) {
            lots.push(Lot { id: LotId(id), code: format!("L{id}"), vessel: vessel.map(VesselId), filled: filled((milking, later)) });
            let before = left_over.into_iter().map(|back| milking - back).filter(|before| *before >= 0);
            milked_into.extend(before.chain([milking]).filter(|_| is_milked).map(|milking| (MilkingId(milking), LotId(id))));
        }
        let pail = |(milking, cow, vessel): (i64, i64, Option<i64>)| Pail {
            milking: MilkingId(milking),
            cow: CowId(cow),
            vessel: vessel.map(VesselId),
            at: hour(milking * 12),
        };
        let out = |((lot, person), pickup): ((i64, Option<i64>), i64)| HandOut {
            lot: LotId(lot),
            person: person.map(PersonId),
            pickup: PickupId(pickup),
        };
        Lists {
            pails: pails.into_iter().map(pail).collect(),
            milked_into,
            made_into: made.into_iter().filter(|(from, to)| from < to).map(|(from, to)| (LotId(from), LotId(to))).collect(),
            lots,
            clean_breaks: breaks.into_iter().map(|(vessel, at)| (VesselId(vessel), hour(at))).collect(),
            hand_outs: taken.into_iter().zip(0..).map(out).collect(),
            milking_names: (0..MILKINGS).map(|nth| (MilkingId(nth), format!("milking no. {nth}"))).collect(),
            vessel_names: BTreeMap::from([(VesselId(0), "the blue can".to_owned())]),
        }
    })
}
