//! Erasing a name leaves the records of everybody and everything else as they are: another household of that name, the
//! neighbour who fetched, a phone two houses share, a cow, whoever milked, the words of the ledger itself.
//!
//! Each test says what is right; nobody's record but the erased household's own may lose a cell.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::{
    farm::{Farm, kind_of},
    mornings::fill,
};
use tallypail::{
    store::{check, records},
    trade::book::sha256,
    web::visitor::Role::Owner,
};

/// M17 left in May and may be erased in 2029; M18 is still here.
pub async fn to_erase(seventeen: &[(&str, &str)], eighteen: &[(&str, &str)]) -> Farm {
    let farm = Farm::new().await;
    farm.follow_for(3).await;
    let both = [("sort", "member"), ("channel", "herdshare"), ("since", "2026-01-02")];
    farm.keep("people", &[&both[..], &[("label", "M17"), ("until", "2026-05-13")], seventeen].concat()).await;
    farm.keep("people", &[&both[..], &[("label", "M18")], eighteen].concat()).await;
    farm
}

pub async fn erase(farm: &mut Farm) {
    farm.clock("2029-06-15T12:00");
    let sent = farm.submit(Owner, "/people/M17/erase", &[("why", "asked for it"), ("step", "erase")]).await;
    assert_eq!((sent.status, sent.location.as_str()), (303, "/people/M17"), "{}", sent.text);
    assert_eq!(check::wrongs(&mut farm.ledger.read().await.unwrap()).await.unwrap(), Vec::<String>::new());
}

/// “Two houses may share one”, says the form about a phone. Whoever is still here must still be reached.
#[tokio::test]
async fn erasing_one_house_leaves_the_phone_of_the_other() {
    let phone = ("phone", "802-555-0117");
    let mut farm = to_erase(&[("name", "Orla Tremont"), phone], &[("name", "Barnaby Twill"), phone]).await;
    erase(&mut farm).await;
    let people = farm.list("people").await;
    assert_eq!(people[1].cell(kind_of("people"), "phone").text(), "802-555-0117", "M18 is still here");
}

/// Neighbours fetch for each other: the stand-in of M17 is M18, who is still here.
#[tokio::test]
async fn erasing_leaves_the_neighbour_who_fetched_for_them() {
    let mut farm = to_erase(&[("name", "Orla Tremont")], &[("name", "Barnaby Twill"), ("phone", "802-555-0118")]).await;
    let neighbour = [("person", "M17"), ("name", "Barnaby Twill"), ("reach", "802-555-0118"), ("since", "2026-02-01")];
    farm.keep("collectors", &neighbour).await;
    erase(&mut farm).await;
    let people = farm.list("people").await;
    let cell = |column: &str| people[1].cell(kind_of("people"), column).text().to_owned();
    assert_eq!((cell("name").as_str(), cell("phone").as_str()), ("Barnaby Twill", "802-555-0118"), "M18 is still here");
}

#[tokio::test]
async fn erasing_one_household_leaves_another_of_the_same_name() {
    let mut farm = to_erase(&[("name", "Ashgrove")], &[("name", "Ashgrove")]).await;
    erase(&mut farm).await;
    let people = farm.list("people").await;
    assert_eq!(people[1].cell(kind_of("people"), "name").text(), "Ashgrove", "M18 is still here");
}

/// The owner's own daughter fetched for them: who milked and who counted stays as it was signed.
#[tokio::test]
async fn erasing_leaves_who_milked() {
    let mut farm = to_erase(&[("name", "Orla Tremont")], &[("name", "Barnaby Twill")]).await;
    fill(&farm, "2026-05-12", "7", true).await;
    farm.keep("collectors", &[("person", "M17"), ("name", "Mina"), ("since", "2026-02-01")]).await;
    let before = farm.list("milkings").await;
    erase(&mut farm).await;
    assert_eq!(farm.list("milkings").await, before, "the milking record of the farm says who milked");
}

#[tokio::test]
async fn erasing_a_household_leaves_the_cow_of_that_name() {
    let mut farm = to_erase(&[("name", "Wren")], &[("name", "Barnaby Twill")]).await;
    erase(&mut farm).await;
    let cows: Vec<String> = farm.list("cows").await.iter().map(|cow| cow.cell(kind_of("cows"), "name").text().to_owned()).collect();
    assert_eq!(cows, ["Damson", "Kettle", "Wren"]);
}

/// A second way that is a word of the ledger's own.
#[tokio::test]
async fn erasing_leaves_the_words_the_ledger_itself_uses() {
    let mut farm = to_erase(&[("name", "Orla Tremont")], &[("name", "Barnaby Twill")]).await;
    farm.keep("terms", &[("channel", "herdshare"), ("since", "2026-01-01"), ("boarding", "40.00"), ("missed", "none")]).await;
    let way = [("label", "M17"), ("name", "Orla Tremont"), ("sort", "member"), ("channel", "herdshare"), ("since", "2026-01-02")];
    let more = [("until", "2026-05-13"), ("second_way", "none"), ("version", "1"), ("why", "no phone")];
    farm.submit(Owner, "/records/people/1", &[&way[..], &more].concat()).await.came_with(303);
    erase(&mut farm).await;
    assert_eq!(farm.list("terms").await[0].cell(kind_of("terms"), "missed").text(), "none", "the farm's policy is no household's phone");
}

/// After an erasure the farm folder can still be taken in elsewhere, whatever stood as somebody's second way.
#[tokio::test]
async fn the_folder_is_taken_in_after_an_erasure() {
    let second = ("second_way", "none");
    let mut farm = to_erase(&[("name", "Orla Tremont"), second], &[("name", "Barnaby Twill")]).await;
    farm.keep("terms", &[("channel", "herdshare"), ("since", "2026-01-01"), ("boarding", "40.00"), ("missed", "none")]).await;
    let taken_in = async |farm: &Farm| {
        let book = records::book(&mut farm.ledger.read().await.unwrap()).await.unwrap();
        let mut into = Farm::empty().await;
        into.now = farm.now;
        into.take_in(&tallypail::paper::folder::write(&book)).await.map_err(|faults| format!("{faults:?}"))
    };
    assert!(taken_in(&farm).await.is_ok());
    erase(&mut farm).await;
    assert_eq!(taken_in(&farm).await.map(|_| ()), Ok(()));
}

/// A note of others that may mean another of that name stays, and is told before the last tap.
#[tokio::test]
async fn what_may_mean_another_stays_and_is_told() {
    let mut farm = to_erase(&[("name", "Wren")], &[("name", "Barnaby Twill"), ("note", "Wren kicked their dog")]).await;
    farm.keep("pauses", &[("since", "2026-05-20"), ("until", "2026-05-21"), ("note", "Nobody is home")]).await;
    farm.clock("2029-06-15T12:00");
    let page = farm.visit(Owner, "/people/M17/erase").await;
    page.says("/records/people/2").never_says("/records/cows/").never_says("/records/pauses/").never_says("/records/milkings/");
    erase(&mut farm).await;
    let note = farm.list("people").await[1].cell(kind_of("people"), "note").text().to_owned();
    assert_eq!(note, "Wren kicked their dog");
}

/// A paper that another household signed as well is not theirs alone.
#[tokio::test]
async fn erasing_leaves_a_paper_that_two_signed() {
    let mut farm = to_erase(&[("name", "Orla Tremont")], &[("name", "Barnaby Twill")]).await;
    let bytes: &[u8] = b"%PDF-1.4 signed by both";
    let (hash, size) = (sha256(bytes), bytes.len().to_string());
    farm.keep("documents", &[("name", "both.pdf"), ("at", "2026-05-14T10:00"), ("hash", &hash), ("size", &size)]).await;
    let mut tx = farm.ledger.begin().await.unwrap();
    tallypail::store::lab::keep_bytes(&mut tx, &hash, bytes).await.unwrap();
    tx.commit().await.unwrap();
    for label in ["M17", "M18"] {
        let paper = [("person", label), ("sort", "other"), ("given", "2026-01-02"), ("document", "1")];
        farm.keep("agreements", &paper).await;
    }
    erase(&mut farm).await;
    let book = records::book(&mut farm.ledger.read().await.unwrap()).await.unwrap();
    assert_eq!(book.contents.get(&hash).map(Vec::as_slice), Some(bytes));
}
