//! The picture of a spread: readable whatever it shows, solid where the milk ties and dashed where it may, and never a name.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::{
    any_farm::{LOTS, any_farm, hour},
    farm::Farm,
    pictures::{lines_of, page, readable, says},
};
use proptest::prelude::*;
use std::collections::BTreeSet;
use tallypail::{
    trade::{
        picture::Stroke,
        tie_picture::{Drawn, DrawnLot, DrawnMilking, Links},
        trace::{Graph, LotId},
    },
    web::visitor::Role,
};

fn lot(number: i64, is_certain: bool, households: usize, walk_ins: usize) -> DrawnLot {
    DrawnLot { number, code: format!("61{number:02}A-K"), filled: hour(number * 12), is_certain, households, walk_ins }
}

fn milking(number: i64, is_certain: bool) -> DrawnMilking {
    DrawnMilking { number, session: format!("2026-05-1{number} AM"), started: hour(number * 12 - 1), is_certain }
}

/// Source: worked by hand. Two cows, two milkings, two lots out of one unwashed can and cream of the first.
#[test]
fn a_small_spread_shows_every_tie() {
    let lots = [lot(1, true, 3, 1), lot(2, false, 5, 0), lot(3, true, 0, 0)];
    let milkings = [milking(1, true), milking(2, false)];
    let cows: Vec<(String, String)> = [("2026-05-11 AM", "Damson"), ("2026-05-11 AM", "Wren"), ("2026-05-12 AM", "Wren")]
        .map(|(session, cow)| (session.to_owned(), cow.to_owned()))
        .into();
    let links = Links { milked_into: vec![(1, 1), (2, 2)], made_into: vec![(1, 3)], pots: vec![BTreeSet::from([1, 2])] };
    let picture = Drawn { lots: &lots, milkings: &milkings, cows: &cows, links: &links }.picture().unwrap();
    readable(&picture);
    // Two cows into the first milking, that into its lot, the cream, and the first lot's households.
    assert_eq!(lines_of(&picture, Stroke::Heavy).len(), 2 + 1 + 1 + 1);
    // Wren into the second milking, that into its lot, the can, and the second lot's households.
    assert_eq!(lines_of(&picture, Stroke::Dashed).len(), 1 + 1 + 1 + 1);
    for word in ["Damson", "Wren", "11 May AM", "12 May AM", "6101A-K", "3 (+1)", "5", "Households", "(+1): once to somebody unknown."] {
        assert!(says(&picture, word), "{word}");
    }
    assert!(
        picture.alt.contains("2 cows, 2 milkings, 3 lots, of which 2 certain and 1 possible. 6101A-K to 3 households"),
        "{}",
        picture.alt
    );
    assert!(page(&[picture]).contains("12 May AM"));
    assert!(Drawn { lots: &[], milkings: &milkings, cows: &cows, links: &links }.picture().is_none());
}

#[test]
fn a_large_spread_says_how_much_of_it_is_drawn() {
    let lots: Vec<DrawnLot> = (0..30).map(|nth| lot(nth, nth == 29, 1, 0)).collect();
    let milkings: Vec<DrawnMilking> = (0..30).map(|nth| milking(nth, nth == 29)).collect();
    let cows: Vec<(String, String)> = (0..30).map(|nth| (format!("2026-05-1{nth} AM"), format!("A cow with a long name {nth}"))).collect();
    let links = Links { milked_into: (0..30).map(|nth| (nth, nth)).collect(), pots: vec![(0..30).collect()], ..Links::default() };
    let picture = Drawn { lots: &lots, milkings: &milkings, cows: &cows, links: &links }.picture().unwrap();
    readable(&picture);
    assert!(says(&picture, "Drawn: 12 of 30 lots; the list has all.") && says(&picture, "Drawn: 12 of 30 milkings; the list has all."));
    assert!(says(&picture, "6129A-K"), "what is certain is drawn first");
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// Whatever a farm is like, its spread can be read, and a line is solid only between things the milk itself ties.
    #[test]
    fn any_spread_can_be_read(lists in any_farm(), start in 0..LOTS) {
        let graph = Graph::of(&lists);
        let spread = graph.spread(&BTreeSet::from([LotId(start)]));
        let taken = |lot: i64| lists.hand_outs.iter().filter(move |out| out.lot.0 == lot);
        let lots: Vec<DrawnLot> = spread.lots.iter().map(|(id, tie)| {
            let filled = lists.lots.iter().find(|own| own.id == *id).unwrap().filled;
            let households = taken(id.0).filter_map(|out| out.person).collect::<BTreeSet<_>>().len();
            DrawnLot { filled, households, walk_ins: taken(id.0).filter(|out| out.person.is_none()).count(), ..lot(id.0, tie.is_certain(), 0, 0) }
        }).collect();
        let milkings: Vec<DrawnMilking> = spread.milkings.iter().map(|own| milking(own.0, true)).collect();
        let of = |own: i64| format!("2026-05-1{own} AM");
        let cows: Vec<(String, String)> = lists.pails.iter().filter(|own| spread.milkings.contains(&own.milking)).map(|own| (of(own.milking.0), format!("Cow {}", own.cow.0))).collect();
        let picture = Drawn { lots: &lots, milkings: &milkings, cows: &cows, links: &Links::of(&lists, &graph) }.picture().unwrap();
        readable(&picture);
        prop_assert!(lots.iter().all(|own| says(&picture, &own.code)) || lots.len() > 12);
    }
}

/// The picture stands on the trace, beside the list, and in its paper; and no household's name is on it.
#[tokio::test]
async fn the_trace_shows_it() {
    let farm = Farm::sample().await;
    let page = farm.visit(Role::Owner, "/trace/6195A-9").await;
    page.came_with(200).says("How far it spreads").says("of which 1 certain and 1 possible");
    let drawn = page.text.split_once("How far it spreads").unwrap().1.split("</svg>").next().unwrap();
    assert!(drawn.contains("6196A-5") && drawn.contains("Thimble") && !drawn.contains("Marrowby"), "{drawn}");
    farm.visit(Role::Owner, "/trace/6195A-9.pdf").await.came_with(200);
}
