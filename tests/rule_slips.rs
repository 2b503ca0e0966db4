//! Slips in a set of rules as it is written down: each is said or asked about beside its field, and can be kept where a law
//! may well say so.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::{
    farm::{Farm, OWNER, PASSWORD},
    rules_page::{PMO, send, send_with, typed},
};
use axum::http::Method;
use tallypail::web::visitor::Role;

/// Source: the slips are common practice; the limits are of the shape of PMO section 7, table 1.
#[tokio::test]
async fn what_got_lost_from_the_set_before_and_a_nought_too_many_are_asked_about() {
    let mut farm = Farm::new().await;
    let form = typed(&farm.visit(Role::Owner, "/rules/new?like=1").await);
    let limits = "plate count at most 20000 per mL [read]; coliforms at most 10 per mL [read]";
    send(&farm, &form, &[("why", "limits"), ("limits", limits)]).await.came_with(303);

    farm.clock("2026-05-20T12:00");
    let form = typed(&farm.visit(Role::Owner, "/rules/new").await);
    let tenfold = [("why", "new figures"), ("limits", "plate count at most 200000 per mL [read]")];
    let page = send(&farm, &form, &tenfold).await;
    page.came_with(422).says("has a limit for coliforms, and here there is none").says("which was 20,000. Is it one zero too many?");
    page.says("name=\"sure\" value=\"limits\"");
    let two = "plate count at most 20000 per mL [read]; coliforms at most 0 per mL [read]; coliforms at most 9 per mL [read]";
    let page = send(&farm, &form, &[("why", "x"), ("limits", two)]).await;
    page.came_with(422).says("Coliforms at most 0 per mL: does the rule say so").says("Coliforms has two limits of one kind");

    // Two questions at once: the first answer goes along with the second.
    let late = [tenfold.as_slice(), &[("check_by", "2026-05-01")]].concat();
    let page = send_with(&farm, &form, &[("sure", "limits")], &late).await;
    page.came_with(422).says("Fri 1 May 2026 is over").says("<input type=\"hidden\" name=\"sure\" value=\"limits\">");
    send_with(&farm, &form, &[("sure", "limits"), ("sure", "check_by")], &late).await.came_with(303);
    farm.clock("2026-05-28T12:00");
    let form = typed(&farm.visit(Role::Owner, "/rules/new").await);
    let page = send(&farm, &form, &[("why", "looked up")]).await;
    page.came_with(422).says("was to be looked up again by Fri 1 May 2026. Did you look it up?");
    send(&farm, &form, &[("why", "x"), ("resample_after", "21"), ("resample_within", "3")]).await.came_with(422).says("Look at both.");
}

#[tokio::test]
async fn the_word_that_cannot_be_read_is_said_beside_its_field() {
    let farm = Farm::new().await;
    let form = typed(&farm.visit(Role::Owner, "/rules/new?like=1").await);
    let but = [
        ("why", "x"),
        ("limits", "coliforms at most 10 per litr [read]"),
        ("tests", "plate count: 2 a fortnight [read]"),
        ("caps", "350 litres a week [read]"),
        ("steps", "cool 40 °F within 120 min of the end [read]"),
        ("channels", "farm gate, garden gate"),
    ];
    let page = send(&farm, &form, &but).await;
    page.came_with(422).says("“per litr” is not a unit").says("“2 a fortnight” is not how often").says("“litres” cannot be read there");
    page.says("“the end” is not what time is counted from").says("square brackets at its end are missing");
}

#[tokio::test]
async fn a_set_by_which_no_milk_goes_out_is_asked_about() {
    let farm = Farm::new().await;
    for place in ["ca-prohibited", PMO] {
        let form = typed(&farm.visit(Role::Owner, &format!("/rules/new?place={place}")).await);
        let page = send(&farm, &form, &[("why", "x")]).await;
        page.came_with(422).says("Ask the health department before any milk goes out").says("name=\"sure\" value=\"channels\"");
    }
    let farm = Farm::empty().await;
    let page = farm.visit(Role::Stranger, "/setup").await;
    let door = page.hidden("door");
    let all =
        [("door", door.as_str()), ("name", "Tansyditch Farm"), ("zone", "America/New_York"), ("scale", "°F"), ("rules", "ca-prohibited")];
    let all = [all.as_slice(), &[("best_by_days", "7"), ("owner", OWNER), ("password", PASSWORD)]].concat();
    let asked = farm.ask(Method::POST, "/setup", &page.cookie(), Some(&all)).await;
    asked.came_with(422).says("says itself that it prohibits").says("name=\"sure\" value=\"rules\"");
    let (door, cookie) = (asked.hidden("door"), asked.cookie());
    let again: Vec<(&str, &str)> = all.iter().map(|own| if own.0 == "door" { ("door", door.as_str()) } else { *own }).collect();
    let sure = [again.as_slice(), &[("sure", "rules"), ("sure", "chilling")]].concat();
    farm.ask(Method::POST, "/setup", &cookie, Some(&sure)).await.came_with(303);
}
