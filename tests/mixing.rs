//! Lots made from lots, and what stands on a lid before its jar reaches the cooler.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use super::{
    farm::{Farm, Page, kind_of},
    mornings::{code, fill, milk},
};
use std::collections::BTreeSet;
use tallypail::{
    store::{records, trace},
    trade::trace::{Graph, LotId},
    web::visitor::Role,
};

/// A farm with two cold lots of six jars each.
async fn farm() -> (Farm, String, String) {
    let farm = Farm::new().await;
    let (one, other) = (fill(&farm, "2026-05-12", "6", true).await, fill(&farm, "2026-05-13", "6", true).await);
    (farm, one, other)
}

/// Sends the form: so many half-gallons of each lot, quarts out, and answers to questions.
async fn make(farm: &Farm, from: &[(&str, &str)], quarts: &str, when: &str, sure: &[&str]) -> Page {
    let names: Vec<String> = from.iter().map(|(code, _)| format!("half_gallons.{code}")).collect();
    let mut form = vec![("made", "cream"), ("quarts", quarts), ("filled", when), ("entry", "1f0c3a53-0d0e-4a83-9d2c-6f0ce4a7c0b1")];
    for ((code, jars), name) in from.iter().zip(&names) {
        form.extend([("parent", *code), (name.as_str(), *jars)]);
    }
    form.extend(sure.iter().map(|answer| ("sure", *answer)));
    farm.submit(Role::Helper, "/made", &form).await
}

async fn counts(farm: &Farm) -> [usize; 3] {
    [farm.list("lots").await.len(), farm.list("sources").await.len(), farm.list("asides").await.len()]
}

const NOON: &str = "2026-05-14T12:00";

#[tokio::test]
async fn what_ties_two_lots_is_asked_and_then_kept_in_one_act() {
    let (farm, one, other) = farm().await;
    farm.visit(Role::Helper, &format!("/made/new?lot={one}")).await.came_with(200).says(&format!("value=\"{one}\" checked"));
    let from = [(one.as_str(), "2"), (other.as_str(), "3")];
    let asked = make(&farm, &from, "4", NOON, &[]).await;
    asked.came_with(422).says("This ties two lots. Nobody has a jar of them yet").never_says("h apart");
    // The oldest milking is of 12 May, and the farm's own rules give ten days from it.
    asked.says("What is made").says("Tue 12 May, 05:40").says("Fri 22 May 2026, 10 days from the oldest milking").says("Can go");
    assert_eq!(counts(&farm).await, [2, 2, 0], "nothing is kept before the answer");
    let elsewhere = make(&farm, &from, "4", NOON, &[&format!("tie {one}")]).await;
    elsewhere.came_with(422);
    let tie = format!("tie {one} {other}");
    for _ in 0..2 {
        let kept = make(&farm, &from, "4", NOON, &[&tie]).await;
        kept.came_with(303);
        farm.visit(Role::Helper, &kept.location).await.came_with(200).says("cream").says(&one).says(&other).says("Can go");
    }
    assert_eq!(counts(&farm).await, [3, 4, 2], "the same form twice keeps one");
    let asides = farm.list("asides").await;
    let kind = kind_of("asides");
    assert_eq!((asides[1].cell(kind, "sort").text(), kind.jars(&asides[1].cells).half_gallons), ("made", 3));
    let page = farm.visit(Role::Helper, "/jars").await;
    let act = page.text.split_once("name=\"act\" value=\"").unwrap().1.split_once('"').unwrap().0.to_owned();
    farm.submit(Role::Helper, "/undo", &[("act", &act)]).await.came_with(303);
    assert_eq!(counts(&farm).await, [2, 2, 0], "one act, one undo");
}

/// The households are counted by hand: two have the one lot, two and somebody unknown have the other, and one has both.
#[tokio::test]
async fn a_call_back_grows_by_the_households_of_both() {
    let (farm, one, other) = farm().await;
    for label in ["M01", "M02", "M03"] {
        let person = [("label", label), ("name", "Ashgrove"), ("sort", "member"), ("channel", "herdshare"), ("since", "2026-01-02")];
        farm.keep("people", &person).await;
        farm.promise(label, "2", "herdshare").await;
    }
    for (person, lot) in [("M01", &one), ("M02", &one), ("M02", &other), ("M03", &other), ("unknown", &other)] {
        let form = [("person", person), ("lot", lot), ("half_gallons", "1"), ("evidence", "seen"), ("sure", "person M02")];
        farm.submit(Role::Owner, "/pickup", &form).await.came_with(303);
    }
    let from = [(one.as_str(), "1"), (other.as_str(), "1")];
    let asked = make(&farm, &from, "2", NOON, &[]).await;
    asked.came_with(422).says(&format!(
        "This ties two lots: a call-back grows to 3 families and 1 unknown walk-in: from 2 families for {one}, from 2 families and 1 unknown walk-in for {other}."
    ));
    make(&farm, &from, "2", NOON, &[&format!("tie {one} {other}")]).await.came_with(303);
    let child = farm.list("lots").await[2].number;
    let lists = trace::lists(&mut farm.ledger.read().await.unwrap()).await.unwrap();
    let spread = Graph::of(&lists).spread(&BTreeSet::from([LotId(child)]));
    assert_eq!((spread.people.len(), spread.walk_ins.len(), spread.lots.len()), (3, 1, 3), "the trace says what the question said");
}

#[tokio::test]
async fn a_hold_on_a_parent_holds_what_was_made_of_it() {
    let (farm, one, _) = farm().await;
    let kept = make(&farm, &[(&one, "2")], "4", NOON, &[]).await;
    assert_eq!(kept.status, 303, "one lot ties nothing, so nothing is asked: {}", kept.text);
    let made = kept.location.rsplit('/').next().unwrap();
    let page = farm.visit(Role::Owner, &kept.location).await;
    page.says("<p class=\"word\">Can&#39;t tell</p>").says("Nobody has read it since it was made").says("Read its temperature now");
    farm.keep("chill", &[("lot", made), ("at", NOON), ("temperature", "38 °F")]).await;
    farm.visit(Role::Owner, &kept.location).await.says("<p class=\"word\">Can go</p>");
    farm.keep("holds", &[("at", NOON), ("scope", "lot"), ("lot", &one), ("reason", "Lab rang")]).await;
    farm.visit(Role::Owner, &kept.location).await.says("<p class=\"word\">Keep back</p>").says("Lab rang");
}

#[tokio::test]
async fn milk_that_may_not_go_is_never_poured_in_silently() {
    let (farm, one, _) = farm().await;
    farm.keep("holds", &[("at", "2026-05-14T11:00"), ("scope", "lot"), ("lot", &one), ("reason", "Lab rang")]).await;
    let asked = make(&farm, &[(&one, "2")], "4", NOON, &[]).await;
    asked.came_with(422).says("<p class=\"word\">Keep back</p>").says("Lab rang").says("It already happened: record it");
    assert_eq!(counts(&farm).await, [2, 2, 0]);
    make(&farm, &[(&one, "2")], "4", NOON, &[&format!("loud {one}")]).await.came_with(303);
    let asides = farm.list("asides").await;
    assert!(asides[0].cell(kind_of("asides"), "reason").text().ends_with("; it said Keep back"));
}

#[tokio::test]
async fn more_than_is_left_is_refused_when_planned_and_marked_when_it_happened() {
    let (farm, one, _) = farm().await;
    let refused = make(&farm, &[(&one, "7")], "4", NOON, &[]).await;
    refused.came_with(422).says(&format!("By the book 6 half-gallons of {one} are left, and this is 7 half-gallons."));
    assert_eq!(counts(&farm).await, [2, 2, 0]);
    make(&farm, &[(&one, "7")], "4", "2026-05-14T11:00", &[]).await.came_with(303);
    let asides = farm.list("asides").await;
    assert!(asides[0].cell(kind_of("asides"), "reason").text().ends_with("; more than were on hand"));
    let book = records::book(&mut farm.ledger.read().await.unwrap()).await.unwrap();
    assert_eq!(book.breaches(), [], "what happened is marked, so the book still holds together and can be moved");
}

#[tokio::test]
async fn nothing_is_half_kept() {
    let (farm, one, other) = farm().await;
    for (from, quarts, when, says) in [
        (&[(one.as_str(), "2"), (other.as_str(), "")][..], "4", NOON, "went in? Not one is written yet."),
        (&[(one.as_str(), "two")], "4", NOON, "A whole number of jars, like 2."),
        (&[(one.as_str(), "2")], "", NOON, "Count the jars that came out: at least one."),
        (&[], "4", NOON, "Tick the lots that go in."),
        (&[("6001A-X", "2")], "4", NOON, "By the book no jars of 6001A-X are left."),
        (&[(one.as_str(), "2")], "4", "2026-05-14T13:00", "has not come yet"),
        (&[(one.as_str(), "2")], "4", "2026-05-01T12:00", "was only filled on"),
        (&[(one.as_str(), "2")], "5", NOON, "5 quarts hold more than the 2 half-gallons that went in."),
    ] {
        make(&farm, from, quarts, when, &[]).await.came_with(422).says(says).says("value=\"cream\" checked");
        assert_eq!(counts(&farm).await, [2, 2, 0], "{says}");
    }
}

/// Source: arrêté of 13 July 2012, France: at most two successive milkings or 24 hours may be mixed.
#[tokio::test]
async fn milk_days_apart_is_said() {
    let farm = Farm::new().await;
    let (one, other) = (fill(&farm, "2026-05-11", "6", true).await, fill(&farm, "2026-05-13", "6", true).await);
    make(&farm, &[(&one, "1"), (&other, "1")], "4", NOON, &[]).await.came_with(422).says("are 2 days apart");
}

/// Source: Conn. Agencies Regs. 22-133-127(a): dated before it moves to the cooler or to a customer.
#[tokio::test]
async fn the_lid_is_told_before_the_jar_is_filled() {
    let farm = Farm::new().await;
    milk(&farm, "2026-05-14").await;
    let page = farm.visit(Role::Helper, "/fills/new").await;
    page.says("before the jars go to the cooler").says("Last day: Sun 24 May 2026, 10 days from the oldest milking");
    let code = code("2026-05-14", 0);
    page.says(&code);
    let rules = [
        ("place", "contract"),
        ("since", "2026-01-02"),
        ("title", "Share contract"),
        ("sure", "our own choice"),
        ("beside", "yes"),
        ("channels", "herdshare [chosen]"),
        ("best_by_days", "7"),
        ("best_by_from", "filling"),
    ];
    farm.keep("rules", &rules).await;
    let page = farm.visit(Role::Helper, "/fills/new").await;
    page.says("Last day for herdshare: Thu 21 May 2026, 7 days from filling");
    page.says("Last day for farm gate: Sun 24 May 2026, 10 days from the oldest milking");
    let unticked = farm.submit(Role::Helper, "/fills", &[("filled", NOON)]).await;
    unticked.came_with(422).says("Last day: tick the milkings first.");
}

/// Two questions about one fill: each answer stays given.
#[tokio::test]
async fn an_answer_about_a_fill_is_asked_for_once() {
    let farm = Farm::new().await;
    let session = milk(&farm, "2026-05-14").await;
    let form = [("milking", session.as_str()), ("half_gallons", "9"), ("vessel", "Can 1"), ("filled", NOON), ("sure", "half_gallons")];
    farm.submit(Role::Helper, "/fills", &form[..4]).await.came_with(422).says("Keep it, or count again");
    let mut no_vessel = form.to_vec();
    no_vessel[3] = ("filled", "nonsense");
    farm.submit(Role::Helper, "/fills", &no_vessel).await.came_with(422).says("name=\"sure\" value=\"half_gallons\"");
    farm.submit(Role::Helper, "/fills", &form).await.came_with(303);
}
