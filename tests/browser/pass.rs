//! Somebody with a pass at the desk, and the owner who looks at what was opened with it, on a phone.

use super::hands::{Browser, driver, served};
use crate::farm::{SAMPLE_AFTERNOON, at};
use serde_json::json;
use tallypail::{
    store::passes,
    trade::{passes::Pass, wear::Span, when::parse_day},
    web::secret,
};

#[tokio::test(flavor = "multi_thread")]
async fn the_bar_spans_the_desk_and_the_log_of_a_pass_is_read_on_a_phone() {
    let farm = served(at(SAMPLE_AFTERNOON)).await;
    let day = |typed| parse_day(typed).unwrap();
    let pass = Pass {
        number: 0,
        named: "384".to_owned(),
        for_whom: "R. Quill".to_owned(),
        span: Span { from: day("2026-11-01"), to: day("2026-11-22") },
        last_day: day("2026-11-22"),
        names: false,
        made: at(SAMPLE_AFTERNOON),
        who: "Mina".to_owned(),
        withdrawn: None,
        shut: false,
    };
    let mut tx = farm.ledger.begin().await.unwrap();
    passes::make(&mut tx, &pass, &secret::hash("502917466").unwrap()).await.unwrap().unwrap();
    tx.commit().await.unwrap();
    let (_driver, address) = driver().await;
    let desk = Browser::open(&address, &farm.address, 1280, 900).await;
    desk.go("/pass").await;
    let spans = "return document.querySelector('.bar').getBoundingClientRect().width === document.documentElement.clientWidth";
    assert_eq!(desk.client.execute(spans, vec![]).await.unwrap(), json!(true), "at the way in");
    desk.fill("#code", "384502917466").await;
    desk.press("button.act").await;
    desk.says("Binder for the inspector").await;
    desk.look("pass-binder").await;
    assert_eq!(desk.client.execute(spans, vec![]).await.unwrap(), json!(true), "over the binder");
    desk.client.clone().close().await.unwrap();

    let phone = Browser::open(&address, &farm.address, 390, 844).await;
    phone.sign_in().await;
    phone.go("/binder/pass/1").await;
    phone.look("pass-log").await;
    let lines = "const when = document.querySelector('tbody th'); const lines = document.createRange(); lines.selectNodeContents(when); return new Set([...lines.getClientRects()].map(own => own.top)).size";
    assert_eq!(phone.client.execute(lines, vec![]).await.unwrap(), json!(1), "a date and its time stand on one line");
    phone.client.clone().close().await.unwrap();
}
