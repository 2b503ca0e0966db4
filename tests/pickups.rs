//! Handing out through the front door: what is kept, refused, asked about and marked, and what is frozen for ever.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use super::{
    farm::{Farm, kind_of},
    mornings::fill,
};
use tallypail::{trade::records::Record, web::visitor::Role};

/// The lots of the farm under test: two that can go and one whose chill nobody read.
struct Lots {
    old: String,
    new: String,
    unread: String,
}

/// Tansyditch Farm on a Thursday at noon, with milk on hand and people whose day it is.
async fn farm() -> (Farm, Lots) {
    let farm = Farm::new().await;
    let lots = Lots {
        old: fill(&farm, "2026-05-12", "7", true).await,
        new: fill(&farm, "2026-05-13", "9", true).await,
        unread: fill(&farm, "2026-05-14", "8", false).await,
    };
    for (label, name, jars, until) in
        [("M01", "Ashgrove", "2", ""), ("M02", "Brindlecombe", "3", ""), ("M03", "Corrivane", "1", "2026-03-31")]
    {
        let phone = format!("555-01{}", &label[1..]);
        let person = [
            ("label", label),
            ("name", name),
            ("sort", "member"),
            ("channel", "herdshare"),
            ("phone", &phone),
            ("second_way", "crate@example.org"),
            ("pickup_day", "Thursday"),
            ("since", "2026-01-02"),
            ("until", until),
        ];
        farm.keep("people", &person).await;
        farm.promise(label, jars, "herdshare").await;
    }
    (farm, lots)
}

/// A hand-out as the form sends it, from its few words.
fn hand_out<'a>(person: &'a str, lot: &'a str, halves: &'a str) -> Vec<(&'a str, &'a str)> {
    vec![("person", person), ("lot", lot), ("half_gallons", halves), ("evidence", "seen")]
}

fn cell(record: &Record, column: &str) -> String {
    record.cell(kind_of("pickups"), column).text().to_owned()
}

#[tokio::test]
async fn a_hand_out_is_kept_with_the_verdict_of_its_moment() {
    let (farm, lots) = farm().await;
    let sent = farm.submit(Role::Helper, "/pickup", &hand_out("M01", &lots.old, "2")).await;
    assert_eq!((sent.status, sent.location.as_str()), (303, "/pickup"), "{}", sent.text);
    let kept = farm.list("pickups").await;
    assert_eq!(kept.len(), 1);
    assert_eq!((cell(&kept[0], "verdict").as_str(), cell(&kept[0], "marked").as_str(), kept[0].who.as_str()), ("Can go", "", "Tobe"));
    assert!(cell(&kept[0], "facts").contains("Chill: Can go"), "{}", cell(&kept[0], "facts"));
    farm.visit(Role::Owner, "/pickup").await.says("M01 Ashgrove").says("/records/pickups/1").says("5 half-gallons, Tue 12 May");
}

#[tokio::test]
async fn nothing_seen_is_filled_in_beforehand() {
    let (farm, lots) = farm().await;
    let page = farm.visit(Role::Owner, "/pickup?person=M01").await;
    page.came_with(200).says(&format!("name=\"lot\" value=\"{}\" checked", lots.old)).never_says("value=\"seen\" checked");
    page.never_says("value=\"signed\" checked").never_says("value=\"assumed\" checked");
    let sent = farm
        .submit(Role::Owner, "/pickup", &[("person", ""), ("lot", &lots.old), ("half_gallons", "0"), ("taken_by", "the neighbour")])
        .await;
    sent.came_with(422).says("How we know: this is missing.").says("Choose who took it.").says("How many jars?").says("the neighbour");
    assert!(farm.list("pickups").await.is_empty());
}

#[tokio::test]
async fn a_held_lot_is_refused_with_the_right_one_named() {
    let (farm, lots) = farm().await;
    farm.keep("holds", &[("at", "2026-05-14T11:50"), ("scope", "lot"), ("lot", &lots.new), ("reason", "Smells of onion")]).await;
    let sent = farm.submit(Role::Helper, "/pickup", &hand_out("M01", &lots.new, "2")).await;
    sent.came_with(422).says("<p class=\"word\">Keep back</p>").says("Smells of onion");
    sent.says(&format!("Hand out {} instead: it can go and 7 half-gallons are left.", lots.old));
    assert!(farm.list("pickups").await.is_empty());
    let mut instead = hand_out("M01", &lots.new, "2");
    let (answer, other) = (format!("lot={}", lots.old), lots.new.clone());
    instead.push(("instead", &answer));
    farm.submit(Role::Helper, "/pickup", &instead).await.came_with(303);
    let mut left = hand_out("M02", &lots.new, "3");
    left.push(("already", &other));
    farm.submit(Role::Helper, "/pickup", &left).await.came_with(303);
    let kept = farm.list("pickups").await;
    assert_eq!((kept.len(), cell(&kept[0], "verdict").as_str(), cell(&kept[1], "verdict").as_str()), (2, "Can go", "Keep back"));
    assert_eq!(cell(&kept[1], "marked"), "handed out while Keep back");
    farm.visit(Role::Owner, "/pickup").await.says("handed out while Keep back");
}

/// Source: the farm's own rule, missing is never “can go”.
#[tokio::test]
async fn what_nobody_can_tell_is_no_yes() {
    let (farm, lots) = farm().await;
    let sent = farm.submit(Role::Owner, "/pickup", &hand_out("M01", &lots.unread, "1")).await;
    sent.came_with(422).says("<p class=\"word\">Can&#39;t tell</p>").says(&format!("Hand out {} instead", lots.old));
    let mut elsewhere = hand_out("M01", &lots.unread, "1");
    elsewhere.push(("already", &lots.new));
    farm.submit(Role::Owner, "/pickup", &elsewhere).await.came_with(422);
    assert!(farm.list("pickups").await.is_empty(), "saying that one lot left says nothing of another");
}

#[tokio::test]
async fn more_than_are_on_hand_is_refused_when_planned_and_marked_when_it_happened() {
    let (farm, lots) = farm().await;
    let sent = farm.submit(Role::Owner, "/pickup", &hand_out("M01", &lots.old, "8")).await;
    sent.came_with(422).says(&format!("By the book 7 half-gallons are left of {}, and this is 8 half-gallons.", lots.old));
    sent.says(&format!("Hand out {} instead: it can go and 9 half-gallons are left.", lots.new));
    let mut quart = hand_out("M01", &lots.old, "");
    quart.push(("quarts", "1"));
    farm.submit(Role::Owner, "/pickup", &quart).await.came_with(422).says("this is 1 quart");
    let mut earlier = hand_out("M01", &lots.old, "8");
    earlier.push(("at", "2026-05-14T11:30"));
    farm.submit(Role::Owner, "/pickup", &earlier).await.came_with(303);
    assert_eq!(cell(&farm.list("pickups").await[0], "marked"), "more than were on hand");
}

#[tokio::test]
async fn the_last_jars_go_out_once() {
    let (farm, lots) = farm().await;
    let (one, other) = (hand_out("M01", &lots.old, "5"), hand_out("M02", &lots.old, "5"));
    let (one, other) = tokio::join!(farm.submit(Role::Owner, "/pickup", &one), farm.submit(Role::Helper, "/pickup", &other));
    let mut answers = [one.status, other.status];
    answers.sort_unstable();
    assert_eq!(answers, [303, 422]);
    assert_eq!(farm.list("pickups").await.len(), 1);
}

#[tokio::test]
async fn the_same_form_twice_keeps_one() {
    let (farm, lots) = farm().await;
    let mut form = hand_out("M01", &lots.old, "2");
    form.push(("entry", "5f0c3a53-0d0e-4a83-9d2c-6f0ce4a7c0a1"));
    for _ in 0..2 {
        farm.submit(Role::Owner, "/pickup", &form).await.came_with(303);
    }
    assert_eq!(farm.list("pickups").await.len(), 1);
}

#[tokio::test]
async fn what_is_learnt_later_changes_the_lot_and_never_that_memory() {
    let (mut farm, lots) = farm().await;
    farm.submit(Role::Owner, "/pickup", &hand_out("M01", &lots.old, "2")).await.came_with(303);
    let before = farm.list("pickups").await[0].clone();
    farm.wait(60);
    let hold = farm.keep("holds", &[("at", "2026-05-14T12:01"), ("scope", "cow"), ("cow", "Damson"), ("reason", "")]).await;
    farm.keep("holds", &[("at", "2026-05-14T12:01"), ("scope", "lot"), ("lot", &lots.old), ("reason", "Lab rang")]).await;
    farm.submit(Role::Owner, "/pickup", &hand_out("M02", &lots.old, "2")).await.came_with(422).says("Keep back");
    assert_eq!(farm.list("pickups").await, [before]);
    farm.clock("2026-05-15T12:00");
    farm.keep("lifts", &[("hold", &hold.to_string()), ("at", "2026-05-15T08:00"), ("reason", "Strip test clean")]).await;
    farm.keep("lifts", &[("hold", &(hold + 1).to_string()), ("at", "2026-05-15T08:00"), ("reason", "Wrong farm's sample")]).await;
    for (person, at) in [("M02", "2026-05-14T11:00"), ("unknown", "2026-05-14T20:00")] {
        let mut late = hand_out(person, &lots.old, "1");
        late.push(("at", at));
        farm.submit(Role::Owner, "/pickup", &late).await.came_with(303);
    }
    let kept = farm.list("pickups").await;
    assert_eq!(cell(&kept[1], "verdict"), "Can go", "the hold came after these jars had gone");
    assert_eq!(cell(&kept[2], "verdict"), "Keep back", "it was held when these jars went, though the hold is lifted now");
    farm.visit(Role::Owner, "/pickup").await.says("late by 25 h").says("An unknown walk-in");
}

#[tokio::test]
async fn a_slip_about_the_person_is_asked_and_can_be_kept() {
    let (farm, lots) = farm().await;
    farm.submit(Role::Owner, "/pickup", &hand_out("M01", &lots.old, "2")).await.came_with(303);
    let again = farm.submit(Role::Owner, "/pickup", &hand_out("M01", &lots.old, "1")).await;
    again.came_with(422).says("M01 Ashgrove already has 2 half-gallons of").says("It is right, keep it");
    farm.submit(Role::Owner, "/pickup", &hand_out("M03", &lots.old, "1")).await.came_with(422).says("left on Tue 31 Mar 2026");
    let mut sure = hand_out("M01", &lots.old, "1");
    sure.push(("sure", "person M01"));
    farm.submit(Role::Owner, "/pickup", &sure).await.came_with(303);
    assert_eq!(farm.list("pickups").await.len(), 2);
}

#[tokio::test]
async fn what_cannot_have_happened_is_refused() {
    let (farm, lots) = farm().await;
    for (at, says) in [("2026-05-14T12:30", "has not come yet"), ("2026-05-01T12:00", "was filled on")] {
        let mut form = hand_out("M01", &lots.old, "1");
        form.push(("at", at));
        farm.submit(Role::Owner, "/pickup", &form).await.came_with(422).says(says);
    }
    let mut slipped = hand_out("M01", "", "1");
    slipped.push(("other_lot", "6132B-Q"));
    farm.submit(Role::Owner, "/pickup", &slipped).await.came_with(422).says("6132B-Q");
    farm.submit(Role::Owner, "/pickup", &hand_out("M99", &lots.old, "1")).await.came_with(422).says("There is no member or walk-in “M99”");
    assert!(farm.list("pickups").await.is_empty());
}

#[tokio::test]
async fn a_helper_never_sees_how_to_reach_anybody() {
    let (farm, lots) = farm().await;
    farm.submit(Role::Helper, "/pickup", &hand_out("M01", &lots.old, "2")).await.came_with(303);
    let refused = farm.submit(Role::Helper, "/pickup", &hand_out("M02", &lots.unread, "2")).await;
    for page in [farm.visit(Role::Helper, "/pickup").await, farm.visit(Role::Helper, "/pickup?person=M02").await, refused] {
        page.says("Brindlecombe").never_says("555-01").never_says("crate@example.org").never_says("/records/pickups");
    }
    farm.visit(Role::Helper, "/people").await.came_with(403).never_says("555-01");
    farm.visit(Role::Helper, "/people/M01").await.came_with(403);
}

#[tokio::test]
async fn the_owner_finds_people_and_what_they_took() {
    let (farm, lots) = farm().await;
    farm.submit(Role::Owner, "/pickup", &hand_out("M01", &lots.old, "2")).await.came_with(303);
    let all = farm.visit(Role::Owner, "/people").await;
    all.says("tel:5550101")
        .says("mailto:crate@example.org")
        .says("5 half-gallons promised a week")
        .says("label=M04")
        .says("No longer here, 1");
    farm.visit(Role::Owner, "/people?q=brindle").await.says("M02 Brindlecombe").never_says("M01 Ashgrove");
    farm.visit(Role::Owner, "/people?q=zzz").await.says("Nobody fits “zzz”");
    let one = farm.visit(Role::Owner, "/people/m01").await;
    one.says(&format!("/lots/{}", lots.old)).says("/trace?person=M01&amp;day=2026-05-14").says("/records/people/1");
    farm.visit(Role::Owner, "/people/M09").await.came_with(404).says("Did you mean M0");
    let double = [
        ("label", "W01"),
        ("name", "Dunnock"),
        ("sort", "walk-in"),
        ("channel", "farm gate"),
        ("phone", "5550102"),
        ("since", "2026-05-01"),
    ];
    farm.keep("people", &double).await;
    farm.visit(Role::Owner, "/people").await.says("The same phone number stands beside more than one.");
}
