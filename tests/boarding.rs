//! Boarding that was raised before something changed: a share that ends, a household that leaves, terms with another policy for
//! missed weeks. The sums are worked by hand beside each check.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::{
    books::{farm as books_farm, json, stands, ticks},
    farm::{Farm, Page},
};
use tallypail::{
    trade::{
        boarding::parse_month,
        missed::{IN_JARS, Weeks},
        money::Money,
        parts::Hundredths,
        promises::Pause,
    },
    web::visitor::Role::Owner,
};

async fn raise(farm: &Farm, month: &str) -> Page {
    let form = farm.visit(Owner, &format!("/books/boarding?month={month}")).await;
    let fields = ticks(&form);
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    farm.submit(Owner, "/books/boarding", &fields).await
}

/// Raised on the first, then they moved to another way on the 16th: 40 × 15 / 31 = 19.35 was theirs to board, and 40 stands.
#[tokio::test]
async fn boarding_raised_before_they_moved_is_told_to_be_too_much() {
    let farm = Farm::new().await;
    farm.keep("terms", &[("channel", "herdshare"), ("since", "2026-01-01"), ("boarding", "40.00")]).await;
    farm.keep("people", &[("label", "M02"), ("name", "Rooke"), ("sort", "member"), ("channel", "herdshare"), ("since", "2026-01-02")])
        .await;
    let share = [("person", "M02"), ("part", "1"), ("half_gallons", "2"), ("channel", "herdshare"), ("since", "2026-01-02")];
    farm.keep("shares", &share).await;
    raise(&farm, "2026-05").await.came_with(303);
    assert_eq!(stands(&farm, "M02").await, "40.00 to pay");
    let moved = [("until", "2026-05-10"), ("version", "1"), ("why", "moves to delivery")];
    farm.submit(Owner, "/records/shares/1", &[&share[..], &moved].concat()).await.came_with(303);
    farm.keep("shares", &[("person", "M02"), ("part", "1"), ("half_gallons", "2"), ("channel", "delivery"), ("since", "2026-05-11")]).await;
    // 40 × 10 / 31 = 12.90, so 27.10 too much.
    let page = farm.visit(Owner, "/books/boarding?month=2026-05").await;
    assert!(page.text.contains("12.90") || page.text.contains("27.10"), "nothing tells that 27.10 too much was raised:\n{}", page.text);
}

/// A share that begins on the 25th, raised on the 14th: the books say it is owed, their statement says it is not.
#[tokio::test]
async fn what_the_books_say_is_owed_is_what_the_statements_say() {
    let farm = books_farm().await;
    farm.keep("people", &[("label", "M02"), ("name", "Rooke"), ("sort", "member"), ("channel", "herdshare"), ("since", "2026-05-14")])
        .await;
    farm.keep("shares", &[("person", "M02"), ("part", "1"), ("half_gallons", "2"), ("channel", "herdshare"), ("since", "2026-05-25")])
        .await;
    raise(&farm, "2026-05").await.came_with(303);
    let books = json(&farm, "/books.json").await;
    let mut sum = Money::ZERO;
    for label in ["M01", "M02"] {
        let said = stands(&farm, label).await;
        sum = sum + said.strip_suffix(" to pay").map_or(Money::ZERO, |own| Money::parse(own).unwrap());
    }
    let trial = json(&farm, "/books/trial-balance.json").await;
    let row =
        trial["tables"]["trial"]["rows"].as_array().unwrap().iter().find(|row| row["Account"] == "Households, to pay").unwrap().clone();
    assert_eq!(
        (books["facts"]["Households have to pay"].as_str().unwrap(), row["Debit"].as_str().unwrap()),
        (sum.to_string().as_str(), sum.to_string().as_str()),
        "the statements of everybody come to {sum}"
    );
}

/// M01 comes on Thursdays, the farm had no milk on 7 May, and on the 10th the terms went over from one policy to another.
async fn missed_in_may(policy: &str, from_the_tenth: &str) -> Farm {
    let farm = Farm::new().await;
    for (since, missed) in [("2026-01-01", policy), ("2026-05-10", from_the_tenth)] {
        farm.keep("terms", &[("channel", "herdshare"), ("boarding", "40.00"), ("since", since), ("missed", missed)]).await;
    }
    let person = [("label", "M01"), ("name", "Ashgrove"), ("sort", "member"), ("channel", "herdshare"), ("pickup_day", "Thursday")];
    farm.keep("people", &[&person[..], &[("since", "2026-01-02")]].concat()).await;
    farm.keep("shares", &[("person", "M01"), ("part", "1"), ("half_gallons", "2"), ("channel", "herdshare"), ("since", "2026-01-02")])
        .await;
    farm.keep("pauses", &[("since", "2026-05-07"), ("until", "2026-05-07")]).await;
    farm
}

/// Terms that even up in jars until the 9th, and take it off the boarding from the 10th: the missed 7 May is made up once.
#[tokio::test]
async fn a_missed_week_is_made_up_once_where_the_policy_changed() {
    let farm = missed_in_may("evened up in jars", "boarding adjustment").await;
    let mut db = farm.ledger.read().await.unwrap();
    let (shares, terms) =
        (tallypail::store::people::shares(&mut db).await.unwrap(), tallypail::store::books::terms(&mut db).await.unwrap());
    let pauses: Vec<Pause> = tallypail::store::people::pauses(&mut db).await.unwrap();
    drop(db);
    let (weeks, month) = (Weeks { pauses: &pauses, empty: &[] }, parse_month("2026-05").unwrap());
    let jars = weeks.owed_in_jars((1, &[("Thursday", month)]), &shares, &terms, &[]);
    assert_eq!(jars, Hundredths::jars(2), "two jars are owed for 7 May by the terms of that day ({IN_JARS})");
    farm.visit(Owner, "/books/boarding?month=2026-05").await.says("1 × 40.00").never_says("The farm had no milk on 1 of 4 pickup days");
}

/// The other way round, nothing makes it up at all.
#[tokio::test]
async fn a_missed_week_is_made_up_at_all_where_the_policy_changed() {
    let farm = missed_in_may("boarding adjustment", "evened up in jars").await;
    farm.visit(Owner, "/books/boarding?month=2026-05").await.says("The farm had no milk on 1 of 4 pickup days");
}

/// They left on 30 April, as their record says; nobody ended the share. Boarding goes on for ever, ticked.
#[tokio::test]
async fn whoever_left_the_farm_is_not_boarded_on() {
    let farm = books_farm().await;
    let person = [("label", "M02"), ("name", "Rooke"), ("sort", "member"), ("channel", "herdshare"), ("since", "2026-01-02")];
    farm.keep("people", &person).await;
    farm.keep("shares", &[("person", "M02"), ("part", "1"), ("half_gallons", "2"), ("channel", "herdshare"), ("since", "2026-01-02")])
        .await;
    let left = [("until", "2026-03-31"), ("version", "1"), ("why", "moved away")];
    let sent = farm.submit(Owner, "/records/people/3", &[&person[..], &left].concat()).await;
    assert!([303, 422].contains(&sent.status), "{}", sent.text);
    if sent.status == 303 {
        let page = farm.visit(Owner, "/books/boarding?month=2026-05").await;
        assert!(
            !page.text.contains("M02 Rooke") || page.text.contains("left"),
            "May is raised for a household that left in March, without a word"
        );
    }
}
