//! Erasing a name takes it wherever it was written of that household: papers that were replaced, numbers that are a name, a
//! phone in any spelling, capitals with their accents, the note beside a payment.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::{
    erasing_others::{erase, to_erase},
    farm::{Farm, kind_of},
    mornings::fill,
    own::give,
    own_page::Phone,
};
use tallypail::{
    store::{check, records},
    trade::book::{Book, sha256},
    web::visitor::Role::Owner,
};

fn folder_says(book: &Book, word: &str) -> Vec<String> {
    let word = word.to_lowercase();
    let files = tallypail::paper::folder::write(book);
    let there = |bytes: &[u8]| String::from_utf8_lossy(bytes).to_lowercase().contains(&word);
    files.iter().filter(|(_, bytes)| there(bytes)).map(|(name, _)| name.clone()).collect()
}

async fn written(farm: &Farm, word: &str) -> Vec<String> {
    folder_says(&records::book(&mut farm.ledger.read().await.unwrap()).await.unwrap(), word)
}

/// The signed paper was replaced by another before they left: the first is a paper of theirs all the same.
#[tokio::test]
async fn erasing_takes_the_paper_that_was_replaced_too() {
    let mut farm = to_erase(&[("name", "Orla Tremont")], &[("name", "Barnaby Twill")]).await;
    for (nth, words) in ["%PDF-1.4 first, signed by Orla Tremont", "%PDF-1.4 second, signed by Orla Tremont"].into_iter().enumerate() {
        let (hash, size) = (sha256(words.as_bytes()), words.len().to_string());
        let name = format!("scan {nth}.pdf");
        farm.keep("documents", &[("name", name.as_str()), ("at", "2026-05-14T10:00"), ("hash", &hash), ("size", &size)]).await;
        let mut tx = farm.ledger.begin().await.unwrap();
        tallypail::store::lab::keep_bytes(&mut tx, &hash, words.as_bytes()).await.unwrap();
        tx.commit().await.unwrap();
    }
    let paper = [("person", "M17"), ("sort", "other"), ("given", "2026-01-02"), ("signed", "2026-01-02")];
    farm.keep("agreements", &[&paper[..], &[("document", "1")]].concat()).await;
    let better = [("document", "2"), ("version", "1"), ("why", "a better scan")];
    farm.submit(Owner, "/records/agreements/1", &[&paper[..], &better].concat()).await.came_with(303);
    erase(&mut farm).await;
    let book = records::book(&mut farm.ledger.read().await.unwrap()).await.unwrap();
    let left: Vec<&String> =
        book.contents.iter().filter(|(_, bytes)| String::from_utf8_lossy(bytes).contains("Tremont")).map(|(hash, _)| hash).collect();
    assert!(left.is_empty(), "papers signed with the name are still there: {left:?}");
}

/// A signed paper that was struck through as a whole is theirs as well.
#[tokio::test]
async fn erasing_takes_the_paper_of_an_agreement_that_was_struck() {
    let mut farm = to_erase(&[("name", "Orla Tremont")], &[("name", "Barnaby Twill")]).await;
    let bytes: &[u8] = b"%PDF-1.4 signed by Orla Tremont";
    let (hash, size) = (sha256(bytes), bytes.len().to_string());
    farm.keep("documents", &[("name", "scan.pdf"), ("at", "2026-05-14T10:00"), ("hash", &hash), ("size", &size)]).await;
    let mut tx = farm.ledger.begin().await.unwrap();
    tallypail::store::lab::keep_bytes(&mut tx, &hash, bytes).await.unwrap();
    tx.commit().await.unwrap();
    farm.keep("agreements", &[("person", "M17"), ("sort", "other"), ("given", "2026-01-02"), ("signed", "2026-01-02"), ("document", "1")])
        .await;
    farm.submit(Owner, "/records/agreements/1/strike", &[("why", "written down twice"), ("version", "1")]).await.came_with(303);
    erase(&mut farm).await;
    assert_eq!(written(&farm, "Tremont").await, Vec::<String>::new());
}

/// A surname in the reason of a correction of another's record: gone, or told before the last tap.
#[tokio::test]
async fn erasing_tells_of_the_name_in_the_reason_of_another_correction() {
    let mut farm = to_erase(&[("name", "Orla Tremont")], &[("name", "Barnaby Twill")]).await;
    let other = [("label", "M18"), ("name", "Barnaby Twill"), ("sort", "member"), ("channel", "herdshare"), ("since", "2026-01-02")];
    let better = [("pickup_day", "Thursday"), ("version", "1"), ("why", "the Tremonts said so")];
    farm.submit(Owner, "/records/people/2", &[&other[..], &better].concat()).await.came_with(303);
    farm.clock("2029-06-15T12:00");
    let told = farm.visit(Owner, "/people/M17/erase").await.text.contains("/records/people/2");
    erase(&mut farm).await;
    let left = farm.visit(Owner, "/records/people/2").await.text.contains("Tremont");
    assert!(told || !left, "the surname still stands on the page of M18, and nobody was told");
}

/// Somebody whose number is their name, who wrote down at the fridge what they took.
async fn named_number(label: &'static str) -> Farm {
    let mut farm = Farm::new().await;
    farm.follow_for(3).await;
    let lot = fill(&farm, "2026-05-13", "7", true).await;
    let person = [("label", label), ("name", "Orla Tremont"), ("sort", "member"), ("channel", "herdshare"), ("since", "2026-01-02")];
    farm.keep("people", &person).await;
    farm.promise(label, "2", "herdshare").await;
    give(&farm, label).await;
    let took = Phone::of(&farm, label).await.took(&[(&format!("jars.{lot}"), "1")]).await;
    assert_eq!(took.status, 303, "{}", took.text);
    let left = [("until", "2026-05-14"), ("version", "1"), ("why", "moved")];
    farm.submit(Owner, "/records/people/1", &[&person[..], &left].concat()).await.came_with(303);
    farm.clock("2029-06-15T12:00");
    let sent = farm.submit(Owner, &format!("/people/{label}/erase"), &[("why", "asked for it"), ("step", "erase")]).await;
    assert_eq!(sent.status, 303, "{}", sent.text);
    assert_eq!(check::wrongs(&mut farm.ledger.read().await.unwrap()).await.unwrap(), Vec::<String>::new());
    farm
}

#[tokio::test]
async fn a_number_that_is_a_name_goes_from_what_they_wrote_down_too() {
    let farm = named_number("ORLA").await;
    assert_eq!(farm.list("people").await[0].cell(kind_of("people"), "label").text(), "E1");
    assert_eq!(written(&farm, "ORLA").await, Vec::<String>::new());
}

#[tokio::test]
async fn a_number_that_is_a_name_with_a_figure_goes_too() {
    let farm = named_number("TREMONT2").await;
    let label = farm.list("people").await[0].cell(kind_of("people"), "label").text().to_owned();
    assert!(!label.contains("TREMONT"), "{label}");
}

/// Their phone in the spelling of whoever wrote it into their complaint.
#[tokio::test]
async fn erasing_takes_a_phone_in_any_spelling() {
    let mut farm = to_erase(&[("name", "Orla Tremont"), ("phone", "802-555-0117")], &[("name", "Barnaby Twill")]).await;
    let said =
        [("at", "2026-05-13T11:00"), ("person", "M17"), ("says", "My jar smelt of onion, ring (802) 555 0117"), ("taken_by", "Mina")];
    farm.keep("complaints", &said).await;
    erase(&mut farm).await;
    let says = farm.list("complaints").await[0].cell(kind_of("complaints"), "says").text().to_owned();
    assert!(!says.contains("0117"), "{says}");
}

#[tokio::test]
async fn erasing_takes_a_name_in_capitals_with_its_accents() {
    let mut farm = to_erase(&[("name", "Émile Côté")], &[("name", "Barnaby Twill"), ("note", "Took over the share of ÉMILE CÔTÉ")]).await;
    let told = farm.visit(Owner, "/people/M17/erase").await.text.contains("/records/people/2");
    erase(&mut farm).await;
    let note = farm.list("people").await[1].cell(kind_of("people"), "note").text().to_owned();
    assert!(told || !note.contains("CÔTÉ"), "it stays, and nobody was told: {note}");
}

/// What somebody wrote into the books about them.
#[tokio::test]
async fn erasing_takes_the_note_beside_their_payment() {
    let mut farm = to_erase(&[("name", "Bo Li"), ("phone", "802-555-0117")], &[("name", "Barnaby Twill")]).await;
    let paid = [("sort", "payment"), ("person", "M17"), ("amount", "5"), ("paid_by", "cash"), ("day", "2026-05-14")];
    let note = [("note", "Li's brother Wim brought it"), ("sure", "day")];
    farm.submit(Owner, "/books/write", &[&paid[..], &note].concat()).await.came_with(303);
    erase(&mut farm).await;
    let note = farm.list("transfers").await[0].cell(kind_of("transfers"), "note").text().to_owned();
    assert!(!note.contains("Li"), "{note}");
    assert_eq!(check::wrongs(&mut farm.ledger.read().await.unwrap()).await.unwrap(), Vec::<String>::new());
}

/// Somebody else goes by the number that would be left.
#[tokio::test]
async fn what_is_left_of_a_number_is_nobody_elses() {
    let mut farm = Farm::new().await;
    farm.follow_for(3).await;
    for (label, until) in [("ORLA", "2026-05-13"), ("E01", "")] {
        let person = [("label", label), ("name", "Orla Tremont"), ("sort", "member"), ("channel", "herdshare"), ("since", "2026-01-02")];
        farm.keep("people", &[&person[..], &[("until", until)]].concat()).await;
    }
    farm.clock("2029-06-15T12:00");
    let sent = farm.submit(Owner, "/people/ORLA/erase", &[("why", "asked for it"), ("step", "erase")]).await;
    assert_eq!((sent.status, sent.location.as_str()), (303, "/people/EX1"), "{}", sent.text);
    farm.visit(Owner, "/people/EX1/erase").await.says("Their name was erased already.");
}
