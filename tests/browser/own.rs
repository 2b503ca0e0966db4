//! A household at the fridge, on its own phone.

use super::hands::{Browser, driver, served};
use crate::{
    farm::{SAMPLE_AFTERNOON, at, kind_of},
    own::{PIN, hashed},
};
use tallypail::store::{own, records};

/// Taps: the number's field and one digit for M06, the PIN's field and six digits, “Open my page”, “I took these”. That is ten
/// on the glass, eleven with the number's field; not one word is typed. With the square of their own card the number stands
/// there already, and it is nine.
#[tokio::test(flavor = "multi_thread")]
async fn a_household_opens_its_page_and_taps_i_took_these() {
    let farm = served(at(SAMPLE_AFTERNOON)).await;
    let mut tx = farm.ledger.begin().await.unwrap();
    let person = own::find(&mut tx, "M06").await.unwrap().unwrap().person;
    own::give(&mut tx, person, &hashed(), at(SAMPLE_AFTERNOON)).await.unwrap();
    tx.commit().await.unwrap();
    let (_driver, address) = driver().await;
    let phone = Browser::open(&address, &farm.address, 390, 844).await;
    phone.go("/own").await;
    phone.look("own-front").await;
    phone.fill("#number", "6").await;
    phone.fill("#pin", "111111").await;
    phone.press("button.act").await;
    phone.says("do not fit together").await;
    phone.look("own-front-wrong").await;
    phone.fill("#pin", PIN).await;
    phone.press("button.act").await;
    phone.says("M06").await;
    phone.look("own-page").await;
    phone.press("form[action='/own/took'] button.act").await;
    phone.says("Written down for M06 today").await;
    phone.look("own-took").await;
    phone.client.clone().close().await.unwrap();
    let kept = records::list(&mut farm.ledger.read().await.unwrap(), kind_of("pickups")).await.unwrap();
    let own: Vec<_> = kept.iter().filter(|record| record.source == "fridge page").collect();
    assert!(!own.is_empty() && own.iter().all(|record| record.who == "M06"), "{} kept", own.len());
}
