//! What is handed out is netted against what was packed: crates half fetched, fetched the evening before or after midnight, and
//! lists that were opened before something changed.
//!
//! Source: this project's own rules for hand-outs: nothing is doubled, nothing is said to be kept that is not.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::{
    farm::{Farm, Page},
    packing::{cell, farm, packed, sent_back, submit, with},
};
use tallypail::web::visitor::Role;

/// The newest portion of a household, by its number: promised, fair, carried, jars.
pub async fn newest_portion(farm: &Farm, person: &str) -> (String, String, String, String) {
    let all = farm.list("portions").await;
    let own = all.iter().rev().find(|own| cell("portions", own, "person") == person).unwrap_or_else(|| panic!("no portion of {person}"));
    (cell("portions", own, "promised"), cell("portions", own, "fair"), cell("portions", own, "carried"), cell("portions", own, "jars"))
}

/// Half-gallons handed out altogether.
async fn handed_out(farm: &Farm) -> i64 {
    farm.list("pickups").await.iter().map(|own| cell("pickups", own, "half_gallons").parse::<i64>().unwrap()).sum()
}

async fn everybody(farm: &Farm, changes: &[(&str, &str)]) -> Page {
    let mut form = with(&sent_back(&farm.visit(Role::Owner, "/pickup").await, "/pickup/everybody"), "evidence", "seen");
    for (name, value) in changes {
        form = with(&form, name, value);
    }
    submit(farm, Role::Owner, "/pickup/everybody", &form).await
}

pub async fn person(farm: &Farm, label: &str, name: &str, way: &str, weekday: &str) {
    let person = [
        ("label", label),
        ("name", name),
        ("sort", "member"),
        ("channel", way),
        ("phone", "555-0160"),
        ("second_way", "mill@example.org"),
        ("pickup_day", weekday),
        ("since", "2026-01-02"),
    ];
    farm.keep("people", &person).await;
}

#[tokio::test]
async fn a_list_sent_after_midnight_is_kept_or_refused_and_never_said_to_be_kept() {
    let (mut farm, ..) = farm().await;
    packed(&farm).await.came_with(303);
    farm.clock("2026-05-14T23:55");
    let form = with(&sent_back(&farm.visit(Role::Owner, "/pickup").await, "/pickup/everybody"), "evidence", "seen");
    farm.clock("2026-05-15T00:05");
    let sent = submit(&farm, Role::Owner, "/pickup/everybody", &form).await;
    let kept = handed_out(&farm).await;
    assert!(sent.status == 422 || kept == 14, "{kept} of 14 are kept, and it goes on to {}", sent.location);
}

#[tokio::test]
async fn a_list_sent_after_it_was_unpacked_is_not_said_to_be_kept_elsewhere() {
    let (farm, ..) = farm().await;
    packed(&farm).await.came_with(303);
    let form = with(&sent_back(&farm.visit(Role::Helper, "/pickup").await, "/pickup/everybody"), "evidence", "seen");
    farm.submit(Role::Owner, "/pickup/unpack", &[("day", "2026-05-14")]).await.came_with(303);
    let sent = submit(&farm, Role::Helper, "/pickup/everybody", &form).await;
    let kept = handed_out(&farm).await;
    assert!(sent.status == 422 || kept == 14, "{kept} of 14 are kept, and it goes on to {}", sent.location);
}

#[tokio::test]
async fn a_list_from_before_the_day_was_packed_anew_is_not_kept_as_if_it_were_seen() {
    let (farm, old, new) = farm().await;
    packed(&farm).await.came_with(303);
    // The phone at the fridge shows M03 with five of the new lot. The other phone packs the day anew: M03 gets four.
    let seen = farm.visit(Role::Helper, "/pickup").await;
    seen.says("M03");
    let form = with(&sent_back(&seen, "/pickup/everybody"), "evidence", "seen");
    farm.submit(Role::Owner, "/pickup/unpack", &[("day", "2026-05-14")]).await.came_with(303);
    let again = with(
        &with(&sent_back(&farm.visit(Role::Owner, "/pickup/pack").await, "/pickup/pack"), "jars.M03", "3"),
        "reason",
        "asked for fewer",
    );
    submit(&farm, Role::Owner, "/pickup/pack", &again).await.came_with(303);
    let sent = submit(&farm, Role::Helper, "/pickup/everybody", &form).await;
    assert_eq!(
        sent.status,
        422,
        "whoever said “as packed” saw 5 × {new} for M03, and {} of {old}/{new} were kept",
        handed_out(&farm).await
    );
}

#[tokio::test]
async fn a_list_sent_with_another_days_time_is_not_handed_out_twice() {
    let (farm, ..) = farm().await;
    packed(&farm).await.came_with(303);
    for _ in 0..2 {
        let page = farm.visit(Role::Owner, "/pickup").await;
        if !page.text.contains("took.M01") {
            break;
        }
        everybody(&farm, &[("at", "2026-05-13T18:00")]).await;
    }
    let out = handed_out(&farm).await;
    assert!(out <= 14, "{out} half-gallons out of crates of 14, {} lines", farm.list("pickups").await.len());
}

#[tokio::test]
async fn a_crate_stands_for_its_household_until_all_its_jars_are_gone() {
    let (farm, old, _) = farm().await;
    packed(&farm).await.came_with(303);
    let one = [("person", "M01"), ("lot", old.as_str()), ("half_gallons", "1"), ("evidence", "seen")];
    farm.submit(Role::Owner, "/pickup", &one).await.came_with(303);
    let walk_in = [("person", "unknown"), ("lot", old.as_str()), ("half_gallons", "3"), ("evidence", "seen")];
    farm.submit(Role::Owner, "/pickup", &walk_in).await.came_with(422).says("packed for others");
}

#[tokio::test]
async fn a_crate_fetched_the_evening_before_does_not_wait_any_more() {
    let (mut farm, old, _) = farm().await;
    farm.clock("2026-05-13T18:00");
    let page = farm.visit(Role::Owner, "/pickup/pack?day=2026-05-14").await;
    submit(&farm, Role::Owner, "/pickup/pack", &sent_back(&page, "/pickup/pack")).await.came_with(303);
    let early = [("person", "M01"), ("lot", old.as_str()), ("half_gallons", "4"), ("evidence", "seen")];
    farm.submit(Role::Owner, "/pickup", &early).await.came_with(303);
    farm.clock("2026-05-14T12:00");
    farm.visit(Role::Owner, "/pickup").await.never_says("took.M01");
}

#[tokio::test]
async fn yesterdays_crates_can_be_handed_out_after_midnight() {
    let (mut farm, ..) = farm().await;
    packed(&farm).await.came_with(303);
    farm.clock("2026-05-15T00:10");
    farm.visit(Role::Owner, "/pickup").await.says("took.M01");
}

#[tokio::test]
async fn one_fewer_of_a_crate_of_one_is_not_said_to_be_kept() {
    let farm = Farm::new().await;
    crate::mornings::fill(&farm, "2026-05-13", "9", true).await;
    person(&farm, "M01", "Ashgrove", "herdshare", "Thursday").await;
    farm.promise("M01", "1", "herdshare").await;
    packed(&farm).await.came_with(303);
    let sent = everybody(&farm, &[("took.M01", "1 fewer")]).await;
    assert!(sent.status == 422 || !farm.visit(Role::Owner, "/pickup").await.text.contains("took.M01"), "303, and M01 still stands there");
}

#[tokio::test]
async fn the_form_that_differs_does_not_plan_a_whole_crate_out_of_its_first_lot() {
    let (farm, old, _) = farm().await;
    farm.keep("shares", &[("person", "M01"), ("part", "1"), ("half_gallons", "1"), ("channel", "herdshare"), ("since", "2026-01-02")])
        .await;
    packed(&farm).await.came_with(303);
    // M02 has two of the old lot and one of the new one.
    let crates = farm.list("crates").await;
    let own: Vec<String> =
        crates.iter().filter(|own| cell("crates", own, "person") == "2").map(|own| cell("crates", own, "half_gallons")).collect();
    assert_eq!(own, ["2", "1"]);
    let form = sent_back(&farm.visit(Role::Owner, "/pickup?person=M02").await, "/pickup");
    let typed = |name: &str| form.iter().find(|(own, _)| own == name).map(|(_, value)| value.clone()).unwrap_or_default();
    assert_eq!((typed("lot"), typed("half_gallons")), (old, "2".to_owned()));
}

#[tokio::test]
async fn whoever_took_a_jar_in_the_morning_is_not_done_out_of_the_rest() {
    let (mut farm, old, _) = farm().await;
    let one = [("person", "M01"), ("lot", old.as_str()), ("half_gallons", "1"), ("evidence", "seen")];
    farm.submit(Role::Owner, "/pickup", &one).await.came_with(303);
    packed(&farm).await.came_with(303);
    everybody(&farm, &[]).await.came_with(303);
    farm.clock("2026-05-21T12:00");
    crate::mornings::fill(&farm, "2026-05-20", "40", true).await;
    let had = farm.list("portions").await.iter().any(|own| cell("portions", own, "person") == "1");
    packed(&farm).await.came_with(303);
    let (_, _, carried, _) = newest_portion(&farm, "1").await;
    assert!(had || carried == "3", "of four promised they have one, and {carried} is carried");
}

#[tokio::test]
async fn a_hand_out_that_never_was_leaves_no_jars_owed() {
    let (farm, ..) = farm().await;
    packed(&farm).await.came_with(303);
    everybody(&farm, &[("took.M01", "no empties")]).await.came_with(303);
    let out = farm.list("pickups").await.into_iter().find(|own| cell("pickups", own, "person") == "1").unwrap();
    let path = format!("/records/pickups/{}/strike", out.number);
    let page = farm.visit(Role::Owner, &format!("/records/pickups/{}", out.number)).await;
    let mut form = sent_back(&page, &path);
    form = with(&form, "why", "It was M02 who came");
    submit(&farm, Role::Owner, &path, &form).await.came_with(303);
    let mut db = farm.ledger.read().await.unwrap();
    let owed = tallypail::store::empties::owed_by(&mut db, 1).await.unwrap();
    assert!(owed.is_none(), "M01 took nothing, and owes {owed}");
}

#[tokio::test]
async fn quarts_swapped_evenly_are_no_half_gallons_brought_back() {
    let farm = Farm::new().await;
    let code = crate::mornings::code("2026-05-13", 0);
    let session = crate::mornings::milk(&farm, "2026-05-13").await;
    let jars = [("gallons", "0"), ("half_gallons", "4"), ("quarts", "6"), ("pints", "0")];
    farm.keep("lots", &[&[("code", code.as_str()), ("filled", "2026-05-13T06:20"), ("vessel", "Can 1")][..], &jars].concat()).await;
    farm.keep("sources", &[("lot", &code), ("milking", &session)]).await;
    farm.keep("chill", &[("lot", &code), ("at", "2026-05-13T07:30"), ("temperature", "38 °F")]).await;
    person(&farm, "M01", "Ashgrove", "herdshare", "Thursday").await;
    farm.promise("M01", "2", "herdshare").await;
    let out = [("person", "M01"), ("lot", code.as_str()), ("half_gallons", "0"), ("quarts", "2"), ("evidence", "seen"), ("empties", "2")];
    farm.submit(Role::Owner, "/pickup", &out).await.came_with(303);
    let empties = farm.list("empties").await;
    assert!(
        empties.is_empty(),
        "two quarts out, two jars back: {} {}",
        cell("empties", &empties[0], "half_gallons"),
        cell("empties", &empties[0], "sort")
    );
}

#[tokio::test]
async fn a_promise_of_more_than_ninety_nine_is_packed_or_refused_with_a_sentence() {
    let farm = Farm::new().await;
    crate::mornings::fill(&farm, "2026-05-13", "130", true).await;
    person(&farm, "M01", "Mill Club", "herdshare", "Thursday").await;
    farm.promise("M01", "60", "herdshare").await;
    farm.keep("shares", &[("person", "M01"), ("part", "1"), ("half_gallons", "60"), ("channel", "herdshare"), ("since", "2026-01-02")])
        .await;
    let page = farm.visit(Role::Owner, "/pickup/pack").await;
    let sent = submit(&farm, Role::Owner, "/pickup/pack", &sent_back(&page, "/pickup/pack")).await;
    assert!(sent.status < 500, "{} {}", sent.status, sent.text.chars().take(300).collect::<String>());
}

#[tokio::test]
async fn whatever_a_household_is_called_two_phones_may_hand_it_out() {
    for label in ["7 c", "#7", "A&B"] {
        let (farm, ..) = farm().await;
        person(&farm, label, "Ellory", "herdshare", "Thursday").await;
        farm.promise(label, "1", "herdshare").await;
        packed(&farm).await.came_with(303);
        let form = with(&sent_back(&farm.visit(Role::Owner, "/pickup").await, "/pickup/everybody"), "evidence", "seen");
        let other = with(&sent_back(&farm.visit(Role::Helper, "/pickup").await, "/pickup/everybody"), "evidence", "seen");
        submit(&farm, Role::Owner, "/pickup/everybody", &form).await.came_with(303);
        let late = submit(&farm, Role::Helper, "/pickup/everybody", &other).await;
        assert!(late.status < 500, "{label}: {}", late.status);
        let told = farm.visit(Role::Owner, &late.location).await;
        assert!(
            told.status == 200
                && told.text.split_once("on another phone already").is_some_and(|(_, rest)| rest
                    .chars()
                    .take(200)
                    .collect::<String>()
                    .contains(&label.replace('&', "&#38;"))),
            "{label}: {} at {}",
            told.status,
            late.location
        );
    }
}

#[tokio::test]
async fn a_change_by_hand_changes_nobody_who_was_not_changed() {
    let (farm, _, new) = farm().await;
    let count = [
        ("at", "2026-05-14T11:30"),
        ("lot", new.as_str()),
        ("gallons", "0"),
        ("half_gallons", "7"),
        ("quarts", "0"),
        ("pints", "0"),
        ("counter", "Tobe"),
    ];
    farm.keep("counts", &count).await;
    // Fourteen ready and fourteen promised: the walk-in has two on the page, and two is what is sent for it.
    let form = sent_back(&farm.visit(Role::Owner, "/pickup/pack").await, "/pickup/pack");
    assert!(form.iter().any(|(name, value)| name == "jars.W01" && value == "2"), "{form:?}");
    let sent = submit(&farm, Role::Owner, "/pickup/pack", &with(&with(&form, "jars.M01", "6"), "reason", "A birthday")).await;
    if sent.status == 303 {
        let (_, _, _, jars) = newest_portion(&farm, "4").await;
        assert_eq!(jars, "2", "what stood on the page for the walk-in is what is kept");
    }
}

/// A jar that went to the wrong household: one leaves it, the other has it, in one list.
#[tokio::test]
async fn what_one_leaves_another_may_take_more_in_the_same_list() {
    let (farm, ..) = farm().await;
    packed(&farm).await.came_with(303);
    // Two of the new lot are free; they are held back for the house.
    let aside = [("at", "2026-05-14T11:55"), ("lot", "2026"), ("sort", "household"), ("half_gallons", "2")];
    let lot = cell("lots", &farm.list("lots").await[1], "code");
    let rest = [("lot", lot.as_str()), ("gallons", "0"), ("quarts", "0"), ("pints", "0")];
    let aside: Vec<_> = aside.iter().filter(|(name, _)| *name != "lot").copied().chain(rest).collect();
    farm.keep("asides", &aside).await;
    everybody(&farm, &[("took.M02", "1 more")]).await.came_with(422).says("M02 Brindlecombe");
    everybody(&farm, &[("took.M01", "1 fewer"), ("took.M02", "1 more")]).await.came_with(303);
    assert_eq!(handed_out(&farm).await, 14);
}

#[tokio::test]
async fn what_was_tapped_stays_tapped_while_one_differs() {
    let (farm, old, _) = farm().await;
    packed(&farm).await.came_with(303);
    let form =
        with(&with(&sent_back(&farm.visit(Role::Owner, "/pickup").await, "/pickup/everybody"), "took.M03", "no empties"), "person", "M01");
    let on = submit(&farm, Role::Owner, "/pickup/differs", &form).await;
    assert_eq!((on.status, on.location.as_str()), (303, "/pickup?day=2026-05-14&person=M01&took.M03=no%20empties"));
    let page = farm.visit(Role::Owner, &on.location).await;
    page.says("name=\"took.M03\" value=\"no empties\" checked").says("That is all they take");
    let one = with(&with(&with(&sent_back(&page, "/pickup"), "half_gallons", "3"), "evidence", "seen"), "person", "M01");
    let kept = submit(&farm, Role::Owner, "/pickup", &with(&one, "all", "yes")).await;
    assert_eq!((kept.status, kept.location.as_str()), (303, "/pickup?took.M03=no%20empties"), "{}", kept.text);
    farm.visit(Role::Owner, &kept.location).await.says("value=\"no empties\" checked").never_says("took.M01");
    let walk_in = [("person", "unknown"), ("lot", old.as_str()), ("half_gallons", "1"), ("evidence", "seen")];
    farm.submit(Role::Owner, "/pickup", &walk_in).await.came_with(303);
}

#[tokio::test]
async fn a_tapped_lot_is_not_overruled_by_a_code_the_page_put_there() {
    let (farm, old, new) = farm().await;
    let sent = [
        ("person", "M01"),
        ("lot", new.as_str()),
        ("other_lot", "6001A-K"),
        ("filled_in", "6001A-K"),
        ("half_gallons", "1"),
        ("evidence", "seen"),
    ];
    farm.submit(Role::Owner, "/pickup", &sent).await.came_with(303);
    let typed = [("person", "M02"), ("lot", new.as_str()), ("other_lot", old.as_str()), ("half_gallons", "1"), ("evidence", "seen")];
    farm.submit(Role::Owner, "/pickup", &typed).await.came_with(303);
    let lots: Vec<String> = farm.list("pickups").await.iter().map(|own| cell("pickups", own, "lot")).collect();
    assert_eq!(lots, ["2", "1"]);
}

#[tokio::test]
async fn whose_crates_lack_jars_is_said_and_who_stands_as_taken() {
    let (farm, old, _) = farm().await;
    packed(&farm).await.came_with(303);
    let other = with(
        &with(&sent_back(&farm.visit(Role::Helper, "/pickup").await, "/pickup/everybody"), "evidence", "seen"),
        "took.M01",
        "not here",
    );
    let taken = [("person", "unknown"), ("lot", old.as_str()), ("half_gallons", "1"), ("evidence", "seen"), ("already", old.as_str())];
    farm.submit(Role::Owner, "/pickup", &taken).await.came_with(303);
    farm.visit(Role::Owner, "/pickup").await.says("Of M01, M02, somebody lacks jars now: 7 of").says("and 6 are there");
    let own =
        [("person", "M01"), ("lot", old.as_str()), ("half_gallons", "3"), ("evidence", "seen"), ("all", "yes"), ("day", "2026-05-14")];
    farm.submit(Role::Owner, "/pickup", &own).await.came_with(303);
    let late = submit(&farm, Role::Helper, "/pickup/everybody", &with(&other, "took.M02", "not here")).await;
    assert_eq!((late.status, late.location.as_str()), (303, "/pickup?stands=M01"), "{}", late.text);
    farm.visit(Role::Owner, &late.location).await.says("<b>M01</b> stands as taken");
}
