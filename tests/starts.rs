//! A trace may begin anywhere: each beginning names the lots it leads to first, and its page says the same in every form.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test that cannot read its own figures should stop")]

use crate::farm::{Farm, at};
use std::{
    collections::{BTreeMap, BTreeSet},
    path::Path,
};
use tallypail::{
    store::trace,
    trade::{
        callback,
        clocks::Dose,
        starts::{Bought, Days, Fed, Filtered, Start, Treated, WORDS},
        trace::{CowId, Graph, Lists, Lot, LotId, MilkingId, Pail, Tie, Ties, VesselId},
        when::{Day, Moment, Zone, parse_day},
    },
    web::visitor::Role,
};

fn day(typed: &str) -> Day {
    parse_day(typed).unwrap()
}

/// A moment of the farm made up here, in May 2026.
fn may(typed: &str) -> Moment {
    Zone::UTC.parse_moment(&format!("2026-05-{typed}")).unwrap()
}

fn ends(ties: &Ties) -> Vec<(i64, bool)> {
    ties.iter().map(|(lot, tie)| (lot.0, tie.is_certain())).collect()
}

/// Five mornings from 1 May, each milked at six into a can and filled at seven as lot 1 to 5; cow 1 on the first three, cow 2 on
/// all. The can was washed on the second evening. Lot 9 was made of lot 1 on the fourth.
fn five_mornings() -> Lists {
    let pail = |cow: i64| {
        move |nth: i64| Pail { milking: MilkingId(nth), cow: CowId(cow), vessel: Some(VesselId(1)), at: may(&format!("0{nth}T06:00")) }
    };
    let lot = |(id, filled): (i64, Moment)| Lot { id: LotId(id), code: format!("L{id}"), vessel: (id < 9).then_some(VesselId(1)), filled };
    let mornings = (1..=5).map(|nth| (nth, may(&format!("0{nth}T07:00"))));
    Lists {
        pails: (1..=3).map(pail(1)).chain((1..=5).map(pail(2))).collect(),
        milked_into: (1..=5).map(|nth| (MilkingId(nth), LotId(nth))).collect(),
        made_into: vec![(LotId(1), LotId(9))],
        lots: mornings.chain([(9, may("04T12:00"))]).map(lot).collect(),
        clean_breaks: vec![(VesselId(1), may("02T18:00"))],
        milking_names: (1..=5).map(|nth| (MilkingId(nth), format!("2026-05-0{nth} AM"))).collect(),
        vessel_names: BTreeMap::from([(VesselId(1), "Can 1".to_owned())]),
        ..Lists::default()
    }
}

fn ties(start: &Start) -> Ties {
    start.ties(&five_mornings(), Zone::UTC)
}

/// Source: worked by hand from the five mornings.
#[test]
fn each_beginning_leads_to_its_lots() {
    let span = |from, until| Days { from: day(from), until: day(until) };
    let cow = ties(&Start::Cow(CowId(1), span("2026-05-01", "2026-05-02")));
    assert_eq!(ends(&cow), [(1, true), (2, true), (9, true)]);
    assert_eq!(cow[&LotId(9)].why(), "holds her milk of 2026-05-01 AM");
    assert_eq!(ends(&ties(&Start::Cow(CowId(1), span("2026-05-04", "2026-05-05")))), []);
    assert_eq!(ends(&ties(&Start::Milking(MilkingId(1)))), [(1, true), (2, false), (9, true)]);
    assert_eq!(ends(&ties(&Start::Vessel(VesselId(1), may("01T06:30"), may("01T06:30")))), [(1, false), (2, false)]);
    assert_eq!(
        ends(&ties(&Start::Vessel(VesselId(1), may("01T00:00"), may("03T00:00")))),
        [(1, false), (2, false), (3, false), (4, false), (5, false)]
    );
    assert_eq!(ends(&ties(&Start::Wash(VesselId(1), may("02T18:00")))), [(3, false), (4, false), (5, false)]);
    assert_eq!(ends(&ties(&Start::Lot(LotId(4)))), [(4, true)]);
    assert_eq!(ends(&ties(&Start::Jar(LotId(4)))), [(4, true)]);

    let filter = |new: [Option<bool>; 5]| {
        let order = (1..=5).zip(new).map(|(nth, is_new)| Filtered { lot: LotId(nth), filled: may(&format!("0{nth}T07:00")), is_new });
        ends(&ties(&Start::Filter(LotId(3), order.collect())))
    };
    assert_eq!(filter([Some(true); 5]), [(3, true)]);
    assert_eq!(filter([Some(true), Some(true), Some(false), None, Some(true)]), [(2, false), (3, true), (4, false)]);
    assert_eq!(filter([None; 5]).len(), 5, "what nobody wrote parts nothing");

    let stood = vec![(LotId(1), day("2026-05-01"), Some(day("2026-05-02"))), (LotId(3), day("2026-05-03"), None)];
    let taken = vec![(may("02T17:00"), LotId(1)), (may("09T17:00"), LotId(5))];
    let person = |from, until| ends(&ties(&Start::Person(span(from, until), taken.clone(), stood.clone())));
    assert_eq!(person("2026-05-01", "2026-05-04"), [(1, true)]);
    assert_eq!(person("2026-05-02", "2026-05-09"), [(1, true), (5, true)]);
    assert_eq!(person("2026-05-03", "2026-05-04"), [(3, false)], "nothing is written, so what stood there is possible");
    assert_eq!(ends(&ties(&Start::Date(day("2026-05-02"), stood.clone()))), [(1, false), (2, true)]);
}

fn dose(given: Moment, hours: Option<i64>) -> Dose {
    Dose {
        at: given,
        product: "Udder tube".to_owned(),
        milk_hours: hours,
        milk_milkings: None,
        as_labelled: true,
        vet_figure: false,
        from_calving: false,
        dry_days: None,
    }
}

/// Source: a label's hours counted from the dose, the last hour inside (21 CFR 526 labels; as the verdict reckons them).
#[test]
fn a_treatment_is_followed_until_its_time_is_over() {
    let treated = |given: &str, hours| {
        let dose = dose(may(given), hours);
        let milked = (1..=5).map(|nth| (may(&format!("0{nth}T06:00")), may(&format!("0{nth}T06:30")))).collect();
        let treated = Treated { cow: CowId(2), name: "Kettle".to_owned(), doses: vec![dose.clone()], dose, calvings: vec![], milked };
        ties(&Start::Treatment(treated))
    };
    assert_eq!(ends(&treated("01T12:00", Some(36))), [(2, true)], "36 hours end before the third morning");
    assert_eq!(ends(&treated("01T12:00", Some(42))), [(2, true), (3, true)], "the last hour belongs to it");
    assert_eq!(ends(&treated("01T06:20", Some(12))), [(1, false), (9, false)], "she was milked while she was treated");
    assert_eq!(ends(&treated("03T12:00", None)), [(4, false), (5, false)], "nobody wrote how long: it goes on being possible");
    assert_eq!(ends(&treated("03T12:00", Some(0))), []);
    let why = treated("01T12:00", Some(36));
    assert_eq!(why[&LotId(2)].why(), "holds milk of Kettle of 2026-05-02 AM, before her time was over, by what is written");
}

#[test]
fn feed_is_followed_while_it_may_have_been_fed() {
    let hay = Bought {
        what: "Hay".to_owned(),
        only: None,
        paid: day("2026-05-02"),
        used_from: None,
        used_to: None,
        used_up: None,
        next: Some(day("2026-05-04")),
    };
    let fed = |bought: &Bought| ends(&ties(&Start::Feed(Fed::of(bought, day("2026-05-20")))));
    assert_eq!(fed(&hay), [(2, false), (3, false), (4, false)]);
    assert!(Fed::of(&hay, day("2026-05-20")).ends.contains("write a later last day"));
    let for_one = Bought { only: Some(CowId(1)), next: None, used_from: Some(day("2026-05-03")), ..hay.clone() };
    assert_eq!(fed(&for_one), [(3, false)]);
    assert!(Fed::of(&for_one, day("2026-05-20")).ends.contains("followed up to today"));
    let counted_out = Bought { used_up: Some(day("2026-05-03")), used_to: Some(day("2026-05-05")), ..hay };
    assert_eq!(Fed::of(&counted_out, day("2026-05-20")).days, Days { from: day("2026-05-02"), until: day("2026-05-03") });
}

/// What follows only from a lot that is possible is possible, though the milk itself leads there.
#[test]
fn a_spread_is_never_surer_than_what_it_began_with() {
    let mut lists = five_mornings();
    lists.clean_breaks = (1..=5).map(|nth| (VesselId(1), may(&format!("0{nth}T20:00")))).collect();
    let graph = Graph::of(&lists);
    let sure = |why: &str| Tie::Certain(why.to_owned());
    let start = Ties::from([(LotId(1), Tie::Possible("was on hand".to_owned())), (LotId(3), sure("was taken"))]);
    let spread = callback::spread(&graph, &start);
    assert_eq!(ends(&spread.lots), [(1, false), (3, true), (9, false)]);
    assert_eq!(spread.lots[&LotId(9)].why(), "if it was one of those asked about: was made from L1");
    let start = Ties::from([(LotId(9), Tie::Possible("was on hand".to_owned())), (LotId(1), sure("was taken"))]);
    assert_eq!(callback::spread(&graph, &start).lots[&LotId(9)], sure("was made from L1"), "what is certain another way is certain");
}

/// What each beginning is asked with on the sample farm, and a word its page must say.
const ASKED: [(&str, &str, &str); 15] = [
    ("lot", "which=6195A-9", "6196A-5"),
    ("jar", "which=6195a9", "6196A-5"),
    ("cow", "which=damson&since=2026-11-01&until=2026-11-03", "The milk of Damson from Sun 1 Nov 2026 to Tue 3 Nov 2026"),
    ("milking", "which=2026-07-14+am", "holds milk of 2026-07-14 AM"),
    ("vessel", "which=Can+1&since=2026-07-14", "6196A-5"),
    ("vessel", "which=Can+1&since=2026-07-14T06:30", "on 14 Jul 2026, 06:30"),
    ("wash", "which=Can+1&since=2026-07-13", "between the clean breaks around it"),
    ("wash", "which=1", "The washing of Can 1 on 1 Sep 2025, 05:05"),
    ("filter", "which=6195A-9", "The filter that 6195A-9 went through"),
    ("treatment", "which=1", "Wren treated with Long-acting injection for foot rot"),
    ("treatment", "which=Damson&since=2026-10-12", "Damson treated with Udder tube for cows in milk on 12 Oct 2026, 18:28"),
    ("feed", "which=Hay&since=2026-11-10&until=2026-11-12", "while Hay may have been fed"),
    ("feed", "which=1", "Dairy grain fed from Mon 1 Sep 2025"),
    ("person", "which=m05&since=2026-08-17&until=2026-08-21", "is written down as taken on Tue 18 Aug 2026"),
    ("date", "since=2026-11-20", "was filled that day"),
];

#[tokio::test]
async fn every_beginning_answers_in_every_form() {
    let farm = Farm::sample().await;
    for (from, rest, says) in ASKED {
        let page = farm.visit(Role::Owner, &format!("/trace?from={from}&{rest}")).await;
        page.came_with(200).says(says).says("Anyone ill: doctor first").says("Follow your local raw-milk law");
        for (form, kind) in [("csv", "text/csv"), ("json", "application/json"), ("pdf", "application/pdf")] {
            let paper = farm.visit(Role::Owner, &format!("/trace.{form}?from={from}&{rest}")).await;
            paper.came_with(200);
            assert!(paper.kind.starts_with(kind), "{from} {form} {}", paper.kind);
            assert!(form == "pdf" || paper.text.contains(says) || from == "person", "{from} {form}: {}", paper.text);
        }
        farm.visit(Role::Helper, &format!("/trace?from={from}&{rest}")).await.came_with(403);
    }
    let words: BTreeSet<&str> = ASKED.iter().map(|(from, ..)| *from).collect();
    assert_eq!(words, WORDS.iter().map(|(word, ..)| *word).collect(), "every beginning was tried");
    let page = farm.visit(Role::Owner, "/trace").await;
    page.came_with(200).says("It began somewhere else").says("A cow’s milk").says("A treatment");
}

/// The cells of a file of the sample farm, by the names of its columns.
fn folder(name: &str) -> Vec<BTreeMap<String, String>> {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-data").join(name);
    csv::Reader::from_path(file).unwrap().deserialize().map(Result::unwrap).collect()
}

/// Source: the farm folder itself, read by the csv crate: every lot of a milking of hers, and no other, is what it begins with.
#[tokio::test]
async fn a_cow_begins_with_every_lot_of_hers() {
    let farm = Farm::sample().await;
    let lists = trace::lists(&mut farm.ledger.read().await.unwrap()).await.unwrap();
    let days = Days { from: day("2026-11-01"), until: day("2026-11-03") };
    let hers: BTreeSet<String> = folder("pails.csv")
        .into_iter()
        .filter(|own| own["cow"] == "Damson" && own["went"] == "can" && ("2026-11-01".."2026-11-04").contains(&own["milking"].as_str()))
        .map(|own| own["milking"].clone())
        .collect();
    let into = folder("sources.csv").into_iter().filter(|own| hers.contains(&own["milking"]));
    let expected: BTreeSet<String> = into.map(|own| own["lot"].clone()).collect();
    let ties = Start::Cow(CowId(1), days).ties(&lists, Zone::parse("America/New_York").unwrap());
    let lots = lists.lots.iter().filter(|lot| ties.contains_key(&lot.id) && lot.vessel.is_some());
    assert!(hers.len() > 3 && lots.map(|lot| lot.code.clone()).collect::<BTreeSet<_>>() == expected, "{hers:?} {expected:?}");
}

/// Bad input gets a sentence beside its field, and nothing that was typed is lost.
#[tokio::test]
async fn what_cannot_be_read_gets_a_sentence() {
    let farm = Farm::sample().await;
    for (asked, says) in [
        ("from=cow&which=Damzon&since=2026-11-01", "Did you mean Damson?"),
        ("from=cow&which=Damson", "Write the day, or the first day."),
        ("from=cow&which=Damson&since=2026-11-09&until=2026-11-01", "The last day is before the first."),
        ("from=cow&which=Damson&since=2027-01-01", "That day has not come yet."),
        ("from=cow&which=Damson&since=yesterday", "is not a date"),
        ("from=milking&which=2026-11-01", "There is no milking"),
        ("from=vessel&which=Can+9&since=2026-11-01", "Did you mean Can 1"),
        ("from=wash&which=Can+1&since=2025-08-01", "No washing of it is written down"),
        ("from=wash&which=9999999", "No washing of it is written down"),
        ("from=treatment&which=999", "No treatment of her is written down"),
        ("from=feed&which=Straw+of+gold", "There is no store"),
        ("from=feed&which=999999", "No ticket has that number."),
        ("from=person&which=M99&since=2026-11-01", "There is no member or walk-in"),
        ("from=date", "Write the day"),
        ("from=filter&which=6195A-8", "6195A-9"),
        ("from=moon&which=full", "Choose what it began with."),
        ("from=jar&which=", "There is no lot"),
        ("from=cow&which=%F0%9F%90%84&since=2026-11-01", "There is no cow"),
    ] {
        farm.visit(Role::Owner, &format!("/trace?{asked}")).await.came_with(422).says(says);
    }
    let page = farm.visit(Role::Owner, "/trace?from=cow&which=Damzon&since=2026-11-01").await;
    page.says("value=\"Damzon\"").says("value=\"2026-11-01\"");
    assert_eq!(at("2026-11-21T15:05"), farm.now);
}
