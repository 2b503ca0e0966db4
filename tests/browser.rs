//! A real browser, at a phone's width and a desk's, doing the main jobs on the sample farm.
//!
//! Chromium and its driver are Debian's (`tests/run` installs them). Pictures of every page lie in the
//! build's own temporary folder afterwards, under `screens`, for a person to look at. Nothing here is timed.

mod hands;
mod own;
mod pass;
mod pickup_day;
mod verdicts;

use super::farm::{SAMPLE_AFTERNOON, at};
use fantoccini::Locator;
use hands::{Browser, Served, driver, served};
use serde_json::json;
use tallypail::store::records;

/// Eight in the evening of the sample farm's last day: the evening milking is done and cold.
const EVENING: &str = "2026-11-21T20:00:00-05:00";

/// Writes down the evening milking, forty for twenty-four and all.
async fn milk(browser: &Browser) {
    browser.go("/milkings/new").await;
    browser.look("milking").await;
    browser.fill("#f-started", "17:05").await;
    browser.fill("#f-ended", "17:30").await;
    browser.tap("well", "yes").await;
    browser.tap("all_normal", "yes").await;
    browser.fill("[name='read.1']", "140").await;
    browser.fill("[name='read.2']", "15.4").await;
    browser.fill("[name='read.3']", "14.1").await;
    browser.press("button.act").await;
    browser.says("Not kept yet.").await;
    browser.look("milking-asked").await;
    browser.press("button[name='instead'][value^='read.1=']").await;
    browser.says("Fill jars").await;
}

/// Fills a lot from it and gives back its code.
async fn fill(browser: &Browser) -> String {
    browser.fill("#f-half_gallons", "6").await;
    browser.set("#f-filled", "2026-11-21T17:45").await;
    browser.tap("new_filter", "yes").await;
    browser.look("fill").await;
    browser.press("button.act").await;
    if browser.text().await.contains("Not kept yet.") {
        browser.look("fill-asked").await;
        browser.press("button[name='sure']").await;
    }
    let url = browser.client.current_url().await.unwrap();
    url.path().strip_prefix("/lots/").unwrap_or_else(|| panic!("not at the lot but at {url}")).to_owned()
}

async fn chill(browser: &Browser, lot: &str, when: &str, degrees: &str) {
    browser.go(&format!("/chill/new?lot={lot}")).await;
    browser.fill("#f-temperature", degrees).await;
    browser.set("#f-at", when).await;
    browser.look("chill").await;
    browser.press("button.act").await;
}

async fn hand_out(browser: &Browser, person: &str, lot: &str) {
    browser.go(&format!("/pickup?person={person}")).await;
    browser.tap("lot", lot).await;
    browser.fill("form[action='/pickup'] [name='half_gallons']", "2").await;
    let css = "form[action='/pickup'] input[name='evidence'][value='seen']";
    browser.client.execute("document.querySelector(arguments[0]).closest('label').click()", vec![json!(css)]).await.unwrap();
    browser.look("pickup").await;
    browser.press("form[action='/pickup'] button.act").await;
}

async fn handed_out(farm: &Served) -> usize {
    records::list(&mut farm.ledger.read().await.unwrap(), super::farm::kind_of("pickups")).await.unwrap().len()
}

#[tokio::test(flavor = "multi_thread")]
async fn the_three_main_jobs_are_done_in_a_browser_on_a_phone() {
    let farm = served(at(EVENING)).await;
    let before = handed_out(&farm).await;
    let (_driver, address) = driver().await;
    let phone = Browser::open(&address, &farm.address, 390, 844).await;
    phone.sign_in().await;
    phone.look("today").await;
    milk(&phone).await;
    let lot = fill(&phone).await;
    phone.says("Can't tell").await;

    chill(&phone, &lot, "2026-11-21T18:25", "4").await;
    phone.says("do you mean").await;
    phone.look("chill-asked").await;
    phone.fill("#f-temperature", "46.0").await;
    phone.press("button.act").await;
    chill(&phone, &lot, "2026-11-21T19:10", "38.6").await;
    phone.says("Can go").await;
    phone.look("lot").await;

    hand_out(&phone, "M05", &lot).await;
    phone.says("M05").await;
    phone.look("handed-out").await;

    phone.go("/counts/new").await;
    let fields = phone.client.find_all(Locator::Css("form[action='/counts'] .stepper input")).await.unwrap();
    assert!(!fields.is_empty(), "nothing to count");
    for field in fields {
        assert_eq!(field.prop("value").await.unwrap().as_deref(), Some(""), "a count must start empty");
        field.send_keys("1").await.unwrap();
    }
    phone.look("count").await;
    phone.press("form[action='/counts'] button.act").await;
    if phone.text().await.contains("Not kept yet.") {
        phone.press("button[name='sure']").await;
    }
    phone.says("The count, compared").await;
    phone.look("counted").await;

    phone.go("/costs").await;
    phone.says("With hours").await;
    phone.look("costs").await;
    phone.go(&format!("/trace/{lot}")).await;
    phone.says("M05").await;
    phone.look("trace").await;

    phone.go(&format!("/stop?what=lot%20{lot}")).await;
    phone.look("stop").await;
    phone.press("button.stop:not(nav *)").await;
    phone.says("held").await;
    hand_out(&phone, "M07", &lot).await;
    phone.says("Keep back").await;
    phone.says("Hand out").await;
    phone.look("refused").await;
    phone.client.clone().close().await.unwrap();

    assert_eq!(handed_out(&farm).await, before + 1, "the refused hand-out must not have been kept");
}

#[tokio::test(flavor = "multi_thread")]
async fn every_place_fits_a_phone_and_a_desk() {
    let farm = served(at(SAMPLE_AFTERNOON)).await;
    let (_driver, address) = driver().await;
    for (width, height) in [(390, 844), (1280, 900), (320, 700)] {
        let browser = Browser::open(&address, &farm.address, width, height).await;
        browser.sign_in().await;
        for (name, path) in [
            ("today", "/"),
            ("herd", "/herd"),
            ("cow", "/herd/Damson"),
            ("jars", "/jars"),
            ("lot-afternoon", "/lots/6325A-Z"),
            ("lot-short", "/lots/6238A-V"),
            ("milking-afternoon", "/milkings/new"),
            ("pickup-afternoon", "/pickup"),
            ("people", "/people"),
            ("person", "/people/M05"),
            ("costs-afternoon", "/costs"),
            ("binder", "/binder"),
            ("trace-afternoon", "/trace"),
            ("trace-person", "/trace?person=M05&day=2026-08-18"),
            ("record", "/records/lots/1"),
            ("stop-afternoon", "/stop"),
        ] {
            browser.go(path).await;
            let text = browser.client.find(Locator::Css(".notice")).await.unwrap().text().await.unwrap();
            assert!(text.contains("local raw-milk law"), "{path} has no notice");
            browser.look(name).await;
        }
        browser.client.clone().close().await.unwrap();
    }
}
