//! The packet of a call-back against the lists of the law, item by item, and as a paper that is read back.
//!
//! Sources: 21 CFR 7.42 (strategy), 7.46 (what a firm tells the agency), 7.49 (messages), 7.53 (status reports), 7.55 (the end) and
//! 1.345 (records of what was released). 7.49(a) to (c)(1)(ii) and 1.345 were read; 7.53 was read in the like list of 107.240; the
//! rest is from memory and marked so beside each line.
#![allow(clippy::unwrap_used, reason = "a test that cannot read its own figures should stop")]

use crate::farm::{Farm, Page, kind_of};
use std::{collections::BTreeSet, io::Write, process::Command};
use tallypail::web::visitor::Role::Owner;

/// The sample farm's own call-back of August, closed.
const CASE: &str = "/callbacks/1/papers";

async fn packet(farm: &Farm, ending: &str) -> Page {
    let page = farm.visit(Owner, &format!("{CASE}/packet{ending}")).await;
    page.came_with(200);
    page
}

fn holds(page: &Page, items: &[(&str, &str)]) {
    for (item, words) in items {
        assert!(page.text.contains(words), "{item}: no “{words}” in the packet");
    }
}

/// Source: 21 CFR 7.42: depth (b)(1), public warning (b)(2), effectiveness checks (b)(3), from a secondary table.
#[tokio::test]
async fn the_strategy_of_7_42_stands_in_it() {
    let farm = Farm::sample().await;
    holds(
        &packet(&farm, "").await,
        &[
            ("depth", "down to the person who drinks it"),
            ("level of effectiveness checks", "Level A"),
            ("effectiveness checks made", "All households tried by 22:05"),
            ("how people were warned", "by e-mail, phone"),
        ],
    );
}

/// Source: 21 CFR 7.46(a), from memory: product, reason and when found, risk, amounts made and distributed, lots and codes,
/// consignees, the communication, the proposed strategy, and a person to speak to.
#[tokio::test]
async fn what_the_agency_is_told_under_7_46_stands_in_it() {
    let farm = Farm::sample().await;
    holds(
        &packet(&farm, "").await,
        &[
            ("product", "raw milk in jars"),
            ("reason", "Illness. Somebody who drank milk of these days is ill"),
            ("when and how it was found", "Complaint told by M05 Tamsin Oakhurst-Bly"),
            ("lots and codes", "6227B-6"),
            ("amount made", "Filled"),
            ("amount distributed", "Handed out"),
            ("distribution list", "Everybody who has, or had, that milk"),
            ("a copy of the message", "Please do not drink it"),
            ("whom to speak to", "555-0100"),
        ],
    );
}

/// Source: 21 CFR 7.49(a) and (b), read; (c)(1)(iii) to (v), from memory.
#[tokio::test]
async fn the_message_of_7_49_stands_in_it() {
    let farm = Farm::sample().await;
    holds(
        &packet(&farm, "").await,
        &[
            ("(a)(1) that it is recalled", "calling back (recalling) milk"),
            ("(a)(2) stop using it", "do not drink it"),
            ("(a)(3) pass the notice on", "If you gave any away, tell them"),
            ("(a)(4) what to do with it", "Keep the jars cold, closed and unwashed"),
            ("(b) calls documented", "Every try at reaching them (contact log)"),
            ("(c)(1)(ii) size and code", "half-gallon, quart and pint jars"),
            ("(c)(1)(iii) why", "Two children in one household are ill"),
            ("(c)(1)(v) how to answer", "Tell us what you have left: 555-0100"),
        ],
    );
}

/// Source: 21 CFR 7.53(b) by the like list of 21 CFR 107.240; those not answering from memory.
#[tokio::test]
async fn the_status_of_7_53_stands_in_it_and_by_itself() {
    let farm = Farm::sample().await;
    let items = [
        ("number notified, date and method", "Notified, and how"),
        ("date first notified", "First notified"),
        ("number answering and what they had", "Answered, and what they had on hand"),
        ("number not answering", "Did not answer"),
        ("returned or corrected and accounted for", "Brought back or destroyed, and accounted for"),
        ("effectiveness checks and their results", "Effectiveness checks"),
        ("time to finish", "When it should be done"),
    ];
    holds(&packet(&farm, "").await, &items);
    let status = farm.visit(Owner, &format!("{CASE}/status")).await;
    status.came_with(200);
    holds(&status, &items);
    // Everybody of the sample was reached the next morning at the latest, and that is what it says.
    let tried: BTreeSet<Option<i64>> =
        farm.list("contacts").await.iter().map(|own| own.cell(kind_of("contacts"), "person").whole()).collect();
    status.says(&format!("{0} of {0} households reached", tried.len())).never_says("not tried yet");
}

/// Source: 21 CFR 7.55, from memory: the end is the authority's word, asked for with the latest status and what became of it.
#[tokio::test]
async fn the_end_of_7_55_stands_in_it() {
    let farm = Farm::sample().await;
    holds(
        &packet(&farm, "").await,
        &[
            ("conditions, ticked and signed", "Mina Ostrand"),
            ("cause", "Not found. The lab found none of four"),
            ("correction", "both cans scrubbed"),
            ("prevention", "on the shoulder of the jar"),
            ("what ends it", "when the authority agrees"),
            ("a place to sign", "Received for the authority"),
        ],
    );
}

/// Source: 21 CFR 1.345(a) and (b), read: recipient with address or phone, what, when, lot, quantity; and each source of a lot.
#[tokio::test]
async fn the_records_of_1_345_stand_in_it() {
    let farm = Farm::sample().await;
    holds(
        &packet(&farm, "").await,
        &[
            ("recipient's name", "M01 Orla Tremont"),
            ("recipient's phone", "555-0101"),
            ("second means", "m01@example.org"),
            ("date released, lot, quantity", "Every hand-out of these lots"),
            ("how it is known", "How known"),
            ("each source of a finished lot", "Milkings behind these lots"),
            ("cows in them", "Cows in those milkings"),
            ("vessels", "Clean breaks of the vessels"),
        ],
    );
}

/// What was written late shows: happened and written are two times, and the packet has both.
#[tokio::test]
async fn the_timeline_has_both_times_and_is_in_order() {
    let farm = Farm::sample().await;
    let json: serde_json::Value = serde_json::from_slice(&packet(&farm, ".json").await.bytes).unwrap();
    let text = json.to_string();
    for says in ["In the order it happened", "1 min later"] {
        assert!(packet(&farm, "").await.text.contains(says), "{says}");
    }
    assert!(text.contains("timeline"));
    packet(&farm, ".csv").await.says("table,timeline");
}

/// The paper itself, read back with `pdftotext` (poppler-utils).
#[tokio::test]
async fn the_packet_prints_whole() {
    let farm = Farm::sample().await;
    let pdf = packet(&farm, ".pdf").await;
    let mut file = tempfile::NamedTempFile::new().unwrap();
    file.write_all(&pdf.bytes).unwrap();
    let read = Command::new("pdftotext").args(["-layout", file.path().to_str().unwrap(), "-"]).output();
    let Ok(read) = read else { return assert!(std::env::var("CI").is_err(), "pdftotext (poppler-utils) is missing") };
    let text = String::from_utf8_lossy(&read.stdout).split_whitespace().collect::<Vec<_>>().join(" ");
    for says in [
        "How it stands (status report)",
        "How far it spreads, and why each lot is in",
        "6227B-6",
        "Orla Tremont",
        "Every try at reaching them",
        "Where every jar is",
        "In the order it happened",
        "Received for the authority",
        "Follow your local raw-milk law",
    ] {
        assert!(text.contains(says), "no “{says}” on the paper");
    }
}

/// A packet never claims that milk is safe and never names a cause; the complaint's own words are the caller's.
#[tokio::test]
async fn nothing_in_it_claims_milk_is_safe() {
    let farm = Farm::sample().await;
    for page in [
        "/callbacks/1",
        "/callbacks/1/people",
        "/callbacks/1/words",
        "/callbacks/1/end",
        "/callbacks/1/papers/packet",
        "/complaints/1",
        "/bad-day",
    ] {
        let page = farm.visit(Owner, page).await;
        let plain = page.text.replace("Nothing here says that milk is safe to drink.", "");
        page.came_with(200);
        assert!(!plain.contains(" is safe") && !plain.contains(" are safe"), "{}", page.location);
        page.says("Follow your local raw-milk law");
    }
}

/// A hold on a cow that was lifted in May never held a lot of August, and the sheet for the department must not say so.
#[tokio::test]
async fn a_hold_lifted_before_a_lot_was_filled_is_no_event_of_it() {
    let farm = Farm::sample().await;
    let sheet = farm.visit(Owner, "/callbacks/1/events/sheet.csv").await;
    sheet.came_with(200).says("Held (withheld)").says("2026-08-20T").never_says("2026-05-19T");
}
