//! What a household finds on its page at the fridge beside its own crate: every jar that can go its way, in words that fit a
//! share, and nothing it could not have taken.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::{farm::Farm, mornings::fill, own::give, own_page::Phone};
use tallypail::{trade::needs::Needs, web::visitor::Role::Owner};

/// M05 and M5 would be one number at the fridge; both must be able to come in, or the second must be refused.
#[tokio::test]
async fn every_household_with_a_number_can_come_in_at_the_fridge() {
    let farm = Farm::new().await;
    let person = |label: &'static str, name: &'static str| {
        [("label", label), ("name", name), ("sort", "member"), ("channel", "herdshare"), ("since", "2026-01-02")]
    };
    farm.submit(Owner, "/records/people", &person("M05", "Ashgrove")).await.came_with(303);
    let second = farm.submit(Owner, "/records/people", &person("M5", "Rooke")).await;
    second.came_with(422).says("At the fridge this would be the number of M05 Ashgrove");
    // Two that were written down before that was asked come in by the number on their card.
    farm.keep("people", &person("M5", "Rooke")).await;
    for label in ["M05", "M5"] {
        give(&farm, label).await;
        Phone::of(&farm, label).await.page().await.came_with(200).says(&format!("<h1>{label}</h1>"));
    }
}

/// A household that lacks a paper reads of it at the fridge without those words.
#[tokio::test]
async fn the_page_at_the_fridge_never_speaks_of_a_sale() {
    let farm = Farm::new().await;
    fill(&farm, "2026-05-13", "7", true).await;
    let needs = Needs::parse("bill of sale [read]").unwrap().to_string();
    let set = [("place", "own"), ("since", "2026-01-02"), ("title", "Shares"), ("sure", "our own choice"), ("beside", "yes")];
    farm.keep("rules", &[&set[..], &[("channels", "herdshare [chosen]"), ("needs", needs.as_str())]].concat()).await;
    let person = [("label", "M01"), ("name", "Ashgrove"), ("sort", "member"), ("channel", "herdshare"), ("pickup_day", "Thursday")];
    farm.keep("people", &[&person[..], &[("since", "2026-01-02")]].concat()).await;
    farm.keep("shares", &[("person", "M01"), ("part", "1"), ("half_gallons", "2"), ("channel", "herdshare"), ("since", "2026-01-02")])
        .await;
    give(&farm, "M01").await;
    let page = Phone::of(&farm, "M01").await.page().await;
    page.came_with(200).says("Before you can have milk").says("the paper of your share is not signed").never_says("bill of sale");
    let sent = Phone::of(&farm, "M01").await.took(&[("jars.6133A-L", "1")]).await;
    sent.came_with(422).never_says("bill of sale");
}

/// What a household types as taken a while ago is weighed against what there is: 60 jars of a lot of 7 is no hand-out.
#[tokio::test]
async fn a_household_cannot_take_more_than_was_ever_filled() {
    let farm = Farm::new().await;
    let lot = fill(&farm, "2026-05-13", "7", true).await;
    let person = [("label", "M01"), ("name", "Ashgrove"), ("sort", "member"), ("channel", "herdshare"), ("pickup_day", "Thursday")];
    farm.keep("people", &[&person[..], &[("since", "2026-01-02")]].concat()).await;
    farm.promise("M01", "2", "herdshare").await;
    give(&farm, "M01").await;
    let phone = Phone::of(&farm, "M01").await;
    let page = phone.took(&[(&format!("jars.{lot}"), "60"), ("at", "2026-05-13T18:00")]).await;
    assert_eq!((page.status, farm.list("pickups").await.len()), (422, 0), "60 of 7 jars were written down without a question");
    page.says("7 half-gallons of").says("were filled in all, and this is 60 half-gallons.").says("I already took it");
    let sure = [(&*format!("jars.{lot}"), "60"), ("at", "2026-05-13T18:00"), ("already", &*lot)];
    phone.took(&sure).await.came_with(303);
    // Seven days back they write themselves, what was before that the farm writes.
    let late = phone.took(&[(&format!("jars.{lot}"), "1"), ("at", "2026-05-07T11:00")]).await;
    late.came_with(422).says("Thu 7 May 2026 is more than 7 days ago. Call the farm");
}

/// Everything on the shelf is packed for M01. M02 took one of those jars all the same, and can say so.
#[tokio::test]
async fn a_jar_of_another_crate_can_be_written_down() {
    let farm = Farm::new().await;
    let lot = fill(&farm, "2026-05-13", "7", true).await;
    for label in ["M01", "M02"] {
        let person = [("label", label), ("name", "Ashgrove"), ("sort", "member"), ("channel", "herdshare"), ("pickup_day", "Thursday")];
        farm.keep("people", &[&person[..], &[("since", "2026-01-02")]].concat()).await;
        farm.promise(label, "2", "herdshare").await;
        give(&farm, label).await;
    }
    let jars = format!("jars.{lot}");
    let page = Phone::of(&farm, "M02").await.page().await;
    page.says("7 half-gallons left</p>").says(&format!("2 half-gallons</b> of <span class=\"lot\">{lot}")).never_says("by the book");
    farm.keep("packings", &[("day", "2026-05-14"), ("at", "2026-05-14T07:30"), ("method", "priority"), ("ready", "7")]).await;
    for (label, packed) in [("M01", "7"), ("M02", "0")] {
        let portion = [("packing", "2026-05-14"), ("person", label), ("promised", "2"), ("fair", "2"), ("carried", "0"), ("jars", packed)];
        farm.keep("portions", &portion).await;
    }
    farm.keep("crates", &[("packing", "2026-05-14"), ("person", "M01"), ("lot", &lot), ("half_gallons", "7")]).await;
    let phone = Phone::of(&farm, "M02").await;
    let page = phone.page().await;
    page.says("7 half-gallons left, packed for others").says(&format!("name=\"{jars}\"")).says("Write it down");
    page.never_says("No lot on the shelf can go now").never_says("M01").never_says("Ashgrove");
    let asked = phone.took(&[(&jars, "1")]).await;
    asked.came_with(422).says("packed for others").says("I already took it").never_says("M01");
    phone.took(&[(&jars, "1"), ("already", &lot)]).await.came_with(303);
    assert_eq!(farm.list("pickups").await.len(), 1);
}

/// No lot is there at all: nothing can be written, and no button says so.
#[tokio::test]
async fn an_empty_shelf_has_nothing_to_write_down() {
    let farm = Farm::new().await;
    let person = [("label", "M01"), ("name", "Ashgrove"), ("sort", "member"), ("channel", "herdshare"), ("since", "2026-01-02")];
    farm.keep("people", &person).await;
    farm.promise("M01", "2", "herdshare").await;
    give(&farm, "M01").await;
    Phone::of(&farm, "M01").await.page().await.says("No lot on the shelf can go now").never_says("Write it down");
}
