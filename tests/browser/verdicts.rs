//! What speaks against a lot, on a phone: a late reading, the owner's decision, a treated cow in the can, and a result that
//! comes when the jars have gone.

use super::{EVENING, at, chill, hand_out, hands::Browser, hands::driver, hands::served};
use fantoccini::Locator;
use serde_json::json;

/// Answers every question of a form with “it is right”, one after the other.
async fn keep_all_the_same(browser: &Browser) {
    for _ in 0..6 {
        if !browser.text().await.contains("Not kept yet.") {
            return;
        }
        browser.press("button[name='sure']").await;
    }
    panic!("the questions do not end:\n{}", browser.text().await);
}

/// A paper at an address: its status and what it says it is.
async fn paper(browser: &Browser, path: &str) -> String {
    let asked = "return fetch(arguments[0]).then(own => own.status + ' ' + own.headers.get('content-type'))";
    browser.client.execute(asked, vec![json!(path)]).await.unwrap().as_str().unwrap().to_owned()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_late_reading_tells_nothing_and_the_owner_decides() {
    let farm = served(at(EVENING)).await;
    let (_driver, address) = driver().await;
    let phone = Browser::open(&address, &farm.address, 390, 844).await;
    phone.sign_in().await;
    chill(&phone, "6324C-Z", "2026-11-20T20:35", "38").await;
    phone.says("Can't tell").await;
    phone.says("proves nothing about 2 h").await;
    phone.look("late-reading").await;
    phone.fill("form[action$='/decision'] [name='why']", "Cold to the hand at seven, and Tobe stood by").await;
    phone.press("form[action$='/decision'] .finish button").await;
    phone.says("Decided otherwise").await;
    phone.says("Tobe stood by").await;
    phone.look("decided").await;
    assert_eq!(paper(&phone, "/lots/6324C-Z.pdf").await, "200 application/pdf");
    chill(&phone, "6324C-Z", "2026-11-21T19:30", "52").await;
    keep_all_the_same(&phone).await;
    phone.says("Keep back").await;
    phone.client.clone().close().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_treated_cow_in_the_can_holds_it_within_two_taps() {
    let farm = served(at(EVENING)).await;
    let (_driver, address) = driver().await;
    let phone = Browser::open(&address, &farm.address, 390, 844).await;
    phone.sign_in().await;
    phone.go("/records/treatments/new?cow=Damson").await;
    phone.set("#f-at", "2026-11-21T15:30").await;
    phone.fill("#f-product", "Udder tube for cows in milk").await;
    phone.fill("#f-milk_hours", "96").await;
    phone.tap("as_labelled", "yes").await;
    phone.tap("vet_figure", "no").await;
    phone.press("button.act").await;
    keep_all_the_same(&phone).await;

    phone.go("/herd").await;
    let text = phone.text().await;
    assert!(text.find("Damson").unwrap() < text.find("Kettle").unwrap(), "the treated cow does not stand first");
    phone.says("Damson joins").await;
    phone.look("barn-treated").await;

    phone.go("/milkings/new").await;
    phone.fill("#f-started", "17:05").await;
    phone.fill("#f-ended", "17:30").await;
    phone.tap("well", "yes").await;
    phone.tap("all_normal", "yes").await;
    for (cow, read) in [("1", "14.0"), ("2", "15.4"), ("3", "14.1")] {
        phone.fill(&format!("[name='read.{cow}']"), read).await;
        phone.tap(&format!("went.{cow}"), "can").await;
    }
    phone.press("button.act").await;
    keep_all_the_same(&phone).await;
    phone.says("is now Keep back").await;
    phone.look("kept-back").await;
    phone.press("main button.stop").await;
    phone.says("held").await;
    phone.look("can-held").await;
    phone.client.clone().close().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_result_after_the_jars_have_gone_keeps_what_was_known_and_opens_the_bad_day() {
    let farm = served(at(EVENING)).await;
    let (_driver, address) = driver().await;
    let phone = Browser::open(&address, &farm.address, 390, 844).await;
    phone.sign_in().await;
    hand_out(&phone, "M05", "6325A-Z").await;
    phone.says("M05").await;
    phone.go("/lab/samples/new?lot=6325A-Z").await;
    phone.set("#f-drawn", "2026-11-21T06:30").await;
    phone.fill("#f-asked_other", "Salmonella").await;
    phone.look("sample").await;
    phone.press("button.act").await;
    keep_all_the_same(&phone).await;
    phone.fill("[name='figure.0']", "positive").await;
    phone.client.execute("document.querySelector(\"[name='unit.0']\").value = 'in 25 mL'", vec![]).await.unwrap();
    phone.look("bottle").await;
    phone.press("form[action$='/results'] button.act").await;
    keep_all_the_same(&phone).await;
    phone.says("What this result means").await;
    phone.says("What was known then").await;
    phone.look("result").await;
    let then = phone.client.find(Locator::Css("td[data-label='Then']")).await.unwrap().text().await.unwrap();
    let now = phone.client.find(Locator::Css("td[data-label='Now']")).await.unwrap().text().await.unwrap();
    assert_eq!((then.trim(), now.trim()), ("Can go", "Keep back"));
    phone.press("main button.stop").await;
    phone.says("held").await;
    phone.go("/trace/6325A-Z").await;
    phone.says("M05").await;
    phone.client.clone().close().await.unwrap();
}
