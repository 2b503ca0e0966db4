//! What is asked about before it is kept, sent through the front door as a tired person sends it. Each can be kept all the
//! same, and none is asked twice.
//!
//! Sources beside each check; which slips people make at a form is from common practice.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::farm::{Farm, Page};
use tallypail::web::visitor::Role::{Helper, Owner};

/// Sends a form with some more fields than the last time.
async fn sent(farm: &Farm, path: &str, fields: &[(&str, &str)], more: &[(&str, &str)]) -> Page {
    farm.submit(Owner, path, &[more, fields].concat()).await
}

/// Source: drug labels with a milk time of zero exist (from memory: some pour-on wormers for dairy cows, “milk: 0 hours”).
#[tokio::test]
async fn a_label_without_a_milk_time_is_written_as_0_and_asked_about_once() {
    let farm = Farm::new().await;
    farm.keep("events", &[("cow", "Damson"), ("at", "2026-01-05T06:00"), ("sort", "joined the can")]).await;
    let dose = [("cow", "Damson"), ("at", "2026-05-14T06:00"), ("product", "pour-on"), ("vet_figure", "no")];
    let (as_labelled, none) = ([("as_labelled", "yes"), ("milk_hours", "0")], [("as_labelled", "yes"), ("milk_milkings", "0")]);
    let page = sent(&farm, "/records/treatments", &dose, &as_labelled).await;
    page.came_with(422).says("0 hours means her milk goes straight into the can. Does the label say so?");
    sent(&farm, "/records/treatments", &dose, &none).await.came_with(422).says("0 milkings means");
    let sure = [as_labelled.as_slice(), &[("sure", "milk_hours")]].concat();
    sent(&farm, "/records/treatments", &dose, &sure).await.came_with(303);
    let cow = farm.visit(Helper, "/herd/Damson").await;
    cow.says("milk out 0 h").says("The time after her last treatment is over").never_says("ask the vet");

    // A blank is never a nought, and no label's nought stands for a use the label does not name.
    let blank = [("cow", "Kettle"), ("at", "2026-05-14T06:00"), ("product", "pour-on"), ("as_labelled", "yes"), ("vet_figure", "no")];
    sent(&farm, "/records/treatments", &blank, &[]).await.came_with(303);
    farm.visit(Helper, "/herd/Kettle").await.says("Nobody wrote how long milk stays out after pour-on");
    let odd = [("cow", "Wren"), ("milk_hours", "0"), ("sure", "milk_hours"), ("as_labelled", "no")];
    sent(&farm, "/records/treatments", &dose[1..], &odd).await.came_with(303);
    farm.visit(Helper, "/herd/Wren").await.says("pour-on was not given as its label says");
}

#[tokio::test]
async fn kept_of_the_last_record_never_stands_above_a_form_that_was_not_kept() {
    let farm = Farm::new().await;
    let cow = [("quarters", "4"), ("since", "2026-01-01")];
    sent(&farm, "/records/cows", &cow, &[("name", "Thimble")]).await.came_with(303);
    farm.visit(Owner, "/herd").await.says("<p>Kept.</p>").says("action=\"/undo\"");
    let page = sent(&farm, "/records/cows", &cow, &[("name", "Damson")]).await;
    page.came_with(422).says("Not kept yet").never_says("<p>Kept.</p>").never_says("action=\"/undo\"");
    farm.visit(Owner, "/records/cows/new").await.says("action=\"/undo\"");
}

#[tokio::test]
async fn answering_one_question_does_not_lose_the_other() {
    let farm = Farm::new().await;
    farm.keep("renewals", &[("sort", "permit"), ("what", "Raw milk permit"), ("done", "2025-01-01"), ("until", "2026-12-31")]).await;
    let entry = farm.visit(Owner, "/records/renewals/new").await.entry();
    let permit =
        [("entry", entry.as_str()), ("sort", "permit"), ("what", "Raw milk permt"), ("done", "2026-01-01"), ("until", "2026-04-30")];
    let page = sent(&farm, "/records/renewals", &permit, &[]).await;
    page.came_with(422).says("There is “Raw milk permit” already").says("It ran out on Thu 30 Apr 2026").says("I meant Raw milk permit");
    let page = sent(&farm, "/records/renewals", &permit, &[("sure", "what")]).await;
    page.came_with(422).says("It ran out on").never_says("There is “Raw milk permit” already");
    page.says("<input type=\"hidden\" name=\"sure\" value=\"what\">");
    let page = sent(&farm, "/records/renewals", &permit, &[("sure", "until"), ("sure", "what")]).await;
    page.came_with(303);
    sent(&farm, "/records/renewals", &permit, &[]).await.came_with(422).says("It ran out on").never_says("There is “");
    assert_eq!(farm.list("renewals").await.len(), 2);

    // Corrected, it is asked about beside the others and never beside itself.
    let told = [permit.as_slice(), &[("version", "1"), ("why", "the stamp was read wrong")]].concat();
    let page = sent(&farm, "/records/renewals/2", &told, &[("sure", "what")]).await;
    page.came_with(422).says("<input type=\"hidden\" name=\"sure\" value=\"what\">").says("It ran out on");
    sent(&farm, "/records/renewals/2", &told, &[("sure", "what"), ("sure", "until")]).await.came_with(303);
    let told = [("version", "1"), ("why", "renewed late"), ("sort", "permit"), ("what", "Raw milk permit")];
    sent(&farm, "/records/renewals/1", &told, &[("done", "2025-01-01"), ("until", "2027-12-31")]).await.came_with(422);
}

/// The readings of a jar and of its bath, both in the other scale: two questions on one form.
#[tokio::test]
async fn two_questions_on_one_chill_reading_can_both_be_answered() {
    let farm = Farm::new().await;
    farm.keep(
        "lots",
        &[("code", "6134A-S"), ("filled", "2026-05-14T06:20"), ("gallons", "0"), ("half_gallons", "3"), ("quarts", "0"), ("pints", "0")],
    )
    .await;
    let reading = [("lot", "6134A-S"), ("at", "2026-05-14T07:30"), ("temperature", "4"), ("bath", "3")];
    sent(&farm, "/chill", &reading, &[]).await.came_with(422).says("2 things to look at");
    let page = sent(&farm, "/chill", &reading, &[("sure", "temperature")]).await;
    page.came_with(422).says("One thing to look at").says("<input type=\"hidden\" name=\"sure\" value=\"temperature\">");
    sent(&farm, "/chill", &reading, &[("sure", "temperature"), ("sure", "bath")]).await.came_with(303);
}

/// A set of rules says how sure it is under the same name as the answer to a question.
#[tokio::test]
async fn a_question_about_a_corrected_set_of_rules_leaves_its_cells_alone() {
    let farm = Farm::new().await;
    let set = [
        ("version", "1"),
        ("why", "misread"),
        ("place", "default-conservative"),
        ("since", "2026-01-01"),
        ("title", "Ours"),
        ("check_by", "2026-03-01"),
    ];
    let page = sent(&farm, "/records/rules/1", &set, &[("sure", "from memory")]).await;
    page.came_with(422).says("Sun 1 Mar 2026 is over").says("name=\"sure\" value=\"check_by\"");
    sent(&farm, "/records/rules/1", &set, &[("sure", "check_by"), ("sure", "from memory")]).await.came_with(303);
    let rules = farm.list("rules").await.remove(0);
    assert_eq!(rules.cell(crate::farm::kind_of("rules"), "sure").text(), "from memory");
    let back = [("resample_after", "21"), ("resample_within", "3"), ("version", "2"), ("sure", "check_by"), ("sure", "from memory")];
    sent(&farm, "/records/rules/1", &set[1..], &back).await.came_with(422).says("cannot come before the first");
}

/// Source: a cow comes back into heat about every 21 days, 18 to 24 (common practice).
#[tokio::test]
async fn a_cow_in_calf_or_just_served_is_not_served_in_silence() {
    let farm = Farm::new().await;
    let served = [("cow", "Damson"), ("sort", "served")];
    let path = "/records/events";
    sent(&farm, path, &served, &[("at", "2026-03-01T09:00")]).await.came_with(303);
    let page = sent(&farm, path, &served, &[("at", "2026-03-08T09:00")]).await;
    page.came_with(422).says("Damson is written as served on Sun 1 Mar 2026 already");
    sent(&farm, path, &served, &[("at", "2026-02-22T09:00")]).await.came_with(422).says("the same service twice");
    sent(&farm, path, &served, &[("at", "2026-03-22T09:00")]).await.came_with(303);
    sent(&farm, path, &[("cow", "Kettle"), ("sort", "served")], &[("at", "2026-03-08T09:00")]).await.came_with(303);
    farm.keep("events", &[("cow", "Damson"), ("at", "2026-04-20T09:00"), ("sort", "in calf")]).await;
    let page = sent(&farm, path, &served, &[("at", "2026-05-10T09:00")]).await;
    page.came_with(422).says("Damson was found in calf on Mon 20 Apr 2026. Was she served all the same?");
    farm.keep("events", &[("cow", "Damson"), ("at", "2026-05-01T09:00"), ("sort", "not in calf")]).await;
    let entry = farm.visit(Owner, "/records/events/new").await.entry();
    let again = [("at", "2026-05-10T09:00"), ("entry", entry.as_str())];
    sent(&farm, path, &served, &again).await.came_with(303);
    sent(&farm, path, &served, &again).await.came_with(303);
    assert_eq!(farm.list("events").await.iter().filter(|own| own.entry == entry).count(), 1, "sent twice, kept and asked about once");
    let corrected = [("at", "2026-05-10T10:00"), ("version", "1"), ("why", "at ten")];
    let number = farm.list("events").await.last().unwrap().number;
    sent(&farm, &format!("/records/events/{number}"), &served, &corrected).await.came_with(303);
}

#[tokio::test]
async fn one_quarter_is_not_tested_twice_in_a_minute_nor_one_that_gives_no_milk() {
    let farm = Farm::new().await;
    farm.keep("cows", &[("name", "Thimble"), ("quarters", "3"), ("since", "2026-01-01")]).await;
    let (at, two) = (("at", "2026-05-14T06:00"), [("left_fore", "trace"), ("right_hind", "negative")]);
    let path = "/herd/Damson/strip";
    sent(&farm, path, &two, &[at]).await.came_with(303);
    let page = sent(&farm, path, &two, &[at]).await;
    page.came_with(422).says("written for the same minute already: trace").says("name=\"sure\" value=\"right_hind\"");
    let page = sent(&farm, path, &two, &[at, ("sure", "left_fore")]).await;
    page.came_with(422).says("<input type=\"hidden\" name=\"sure\" value=\"left_fore\">").never_says("already: trace");
    sent(&farm, path, &two, &[at, ("sure", "left_fore"), ("sure", "right_hind")]).await.came_with(303);
    let one = [("cow", "Damson"), at, ("quarter", "left fore"), ("score", "1")];
    sent(&farm, "/records/strip_tests", &one, &[]).await.came_with(422).says("the same test twice");

    let four = [("left_fore", "1"), ("right_fore", "1"), ("left_hind", "1"), ("right_hind", "1")];
    let page = sent(&farm, "/herd/Thimble/strip", &four, &[at]).await;
    page.came_with(422).says("Thimble is milked on 3 quarters, by her record");
    sent(&farm, "/herd/Thimble/strip", &four[1..], &[at]).await.came_with(303);
    let one = [("cow", "Thimble"), ("at", "2026-05-14T07:00"), ("quarter", "left fore"), ("score", "1")];
    sent(&farm, "/records/strip_tests", &one, &[]).await.came_with(422).says("Thimble is milked on 3 quarters");
    sent(&farm, "/records/strip_tests", &one, &[("sure", "quarter")]).await.came_with(303);
}

#[tokio::test]
async fn a_notice_that_was_due_before_it_came_is_asked_about() {
    let farm = Farm::new().await;
    let notice = [("sort", "records asked for by an official"), ("sender", "County health department"), ("due", "2026-05-01")];
    let page = sent(&farm, "/records/notices", &notice, &[("at", "2026-05-10T09:00")]).await;
    page.came_with(422).says("Fri 1 May 2026 is before it came, on Sun 10 May 2026");
    sent(&farm, "/records/notices", &notice, &[("at", "2026-05-10T09:00"), ("sure", "due")]).await.came_with(303);
    sent(&farm, "/records/notices", &notice, &[("at", "2026-05-20T09:00")]).await.came_with(422).says("has not come yet");
}

/// Source: common practice: a thermometer good to 2 °F in ice water, held there every month.
#[tokio::test]
async fn a_doubtful_thermometer_is_offered_with_its_doubt() {
    let mut farm = Farm::new().await;
    farm.keep(
        "lots",
        &[("code", "6134A-S"), ("filled", "2026-05-14T06:20"), ("gallons", "0"), ("half_gallons", "3"), ("quarts", "0"), ("pints", "0")],
    )
    .await;
    let reading = [("lot", "6134A-S"), ("at", "2026-05-14T07:30"), ("temperature", "38"), ("thermometer", "Barn probe")];
    farm.keep("chill", &reading).await;
    farm.visit(Helper, "/chill/new").await.says("value=\"Barn probe\"").says("No check of Barn probe in ice water is written down.");
    farm.keep("ice_checks", &[("thermometer", "barn probe"), ("at", "2026-05-14T08:00"), ("reading", "35.5 °F")]).await;
    farm.visit(Helper, "/chill/new")
        .await
        .says("value=\"Barn probe\"")
        .says("35.5 °F in ice water: 3.5 °F too much. What it reads is weak");
    farm.keep("ice_checks", &[("thermometer", "Barn probe"), ("at", "2026-05-14T09:00"), ("reading", "32 °F")]).await;
    let now = farm.visit(Helper, "/chill/new").await;
    now.says("value=\"Barn probe\"").never_says("in ice water");
    farm.clock("2026-06-15T12:00");
    farm.visit(Helper, "/chill/new").await.says("Barn probe was last checked in ice water on Thu 14 May 2026");
}

#[tokio::test]
async fn of_a_lot_that_is_gone_nobody_is_told_to_keep_it_cold() {
    let mut farm = Farm::new().await;
    farm.clock("2026-05-14T12:00");
    let none = [("gallons", "0"), ("quarts", "0"), ("pints", "0")];
    let milking = [("session", "2026-05-14 AM"), ("started", "2026-05-14T05:40"), ("ended", "2026-05-14T06:05"), ("milker", "Mina")];
    farm.keep("milkings", &milking).await;
    let pail = [("milking", "2026-05-14 AM"), ("cow", "Damson"), ("read", "14 lb"), ("milk", "14 lb"), ("went", "can")];
    farm.keep("pails", &[pail.as_slice(), &[("vessel", "Can 1"), ("foremilk", "ok")]].concat()).await;
    let lot = [("code", "6134A-S"), ("filled", "2026-05-14T06:20"), ("vessel", "Can 1"), ("half_gallons", "3")];
    farm.keep("lots", &[lot.as_slice(), &none].concat()).await;
    farm.keep("sources", &[("lot", "6134A-S"), ("milking", "2026-05-14 AM")]).await;
    farm.keep("chill", &[("lot", "6134A-S"), ("at", "2026-05-14T07:30"), ("temperature", "38 °F")]).await;
    farm.visit(Helper, "/lots/6134A-S").await.says("Next: Keep it cold").says("followed from Thu 1 Jan 2026");
    let thrown = [("at", "2026-05-14T11:00"), ("lot", "6134A-S"), ("sort", "thrown out"), ("half_gallons", "3")];
    farm.keep("asides", &[thrown.as_slice(), &none].concat()).await;
    farm.visit(Helper, "/lots/6134A-S").await.says("Nothing is left of it.").never_says("Keep it cold");
}
