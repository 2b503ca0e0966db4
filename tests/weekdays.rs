//! What another pickup day changes and what it does not, and who sees the packing list.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::{
    farm::Farm,
    packing::{cell, farm, packed, sent_back, submit, with},
};
use tallypail::{
    trade::{boarding::IN_MONEY, missed::IN_JARS},
    web::visitor::Role,
};

/// From the day the clock shows on, M01 comes on Fridays.
async fn comes_on_friday(farm: &Farm, version: &str) {
    let number = farm.list("people").await.iter().find(|own| cell("people", own, "label") == "M01").unwrap().number;
    let friday = [
        ("label", "M01"),
        ("name", "Ashgrove"),
        ("sort", "member"),
        ("channel", "herdshare"),
        ("phone", "555-0150"),
        ("second_way", "crate@example.org"),
        ("pickup_day", "Friday"),
        ("since", "2026-01-02"),
        ("version", version),
        ("why", "They asked for it"),
        ("sure", "phone"),
        ("sure", "second_way"),
    ];
    farm.submit(Role::Owner, &format!("/records/people/{number}"), &friday).await.came_with(303);
}

/// The same where the terms take a missed week off the boarding: on 12 May they go over to Fridays. The Thursday without milk
/// before that is one of their four days of May, and a Friday without milk before it is none.
#[tokio::test]
async fn the_boarding_knows_the_weekday_of_then() {
    for (nobody_comes, is_missed) in [("2026-05-07", true), ("2026-05-08", false)] {
        let (mut farm, ..) = farm().await;
        farm.keep("terms", &[("channel", "herdshare"), ("since", "2026-01-01"), ("boarding", "40.00"), ("missed", IN_MONEY)]).await;
        farm.keep("pauses", &[("since", nobody_comes), ("until", nobody_comes)]).await;
        farm.clock("2026-05-12T12:00");
        comes_on_friday(&farm, "1").await;
        let page = farm.visit(Role::Owner, "/books/boarding?month=2026-05").await;
        assert_eq!(page.text.contains("The farm had no milk on 1 of 4 pickup days"), is_missed, "{nobody_comes}: {}", page.text);
    }
}

/// By the farm's terms the four of a Thursday without milk are owed to M01. From the 29th they come on Fridays, and are owed
/// them all the same; a Friday without milk before that was never theirs.
#[tokio::test]
async fn another_pickup_day_neither_makes_nor_forgives_a_missed_week() {
    for (nobody_comes, owed) in [("2026-05-21", "4"), ("2026-05-22", "0")] {
        let (mut farm, ..) = farm().await;
        farm.keep("terms", &[("channel", "herdshare"), ("since", "2026-01-01"), ("boarding", "40.00"), ("missed", IN_JARS)]).await;
        packed(&farm).await.came_with(303);
        let form = with(&sent_back(&farm.visit(Role::Owner, "/pickup").await, "/pickup/everybody"), "evidence", "seen");
        submit(&farm, Role::Owner, "/pickup/everybody", &form).await.came_with(303);
        farm.keep("pauses", &[("since", nobody_comes), ("until", nobody_comes)]).await;
        farm.clock("2026-05-29T12:00");
        crate::mornings::fill(&farm, "2026-05-27", "40", true).await;
        comes_on_friday(&farm, "1").await;
        packed(&farm).await.came_with(303);
        let portions = farm.list("portions").await;
        let own = portions.iter().rev().find(|own| cell("portions", own, "person") == "1").unwrap();
        assert_eq!(cell("portions", own, "carried"), owed, "nobody came on {nobody_comes}");
    }
}

/// Whoever packs can look at the list and print it; why the owner changed a sum is between her and the household.
#[tokio::test]
async fn a_helper_who_packs_sees_the_packing_list() {
    let (farm, ..) = farm().await;
    let form = sent_back(&farm.visit(Role::Owner, "/pickup/pack").await, "/pickup/pack");
    let form = with(&with(&form, "jars.M01", "5"), "reason", "A birthday on Friday");
    submit(&farm, Role::Owner, "/pickup/pack", &form).await.came_with(303);
    farm.visit(Role::Helper, "/pickup/pack").await.says("/pickup/list?day=2026-05-14");
    farm.visit(Role::Helper, "/pickup/list").await.came_with(200).says("M01 Ashgrove").never_says("birthday").never_says("/people/M01");
    farm.visit(Role::Helper, "/pickup/list.csv").await.came_with(200).says("M01 Ashgrove,5").never_says("birthday");
    farm.visit(Role::Helper, "/pickup/list.json").await.came_with(200).never_says("birthday");
    farm.visit(Role::Helper, "/pickup/list.pdf").await.came_with(200);
    farm.visit(Role::Owner, "/pickup/list").await.says("Changed by hand: A birthday on Friday.").says("/people/M01");
}
