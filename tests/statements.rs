//! Statements: the words on a household's papers, one page for a year of boarding, and everybody's in one file.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::{
    books::{ALL, squares},
    farm::{Farm, kind_of},
};
use std::{io::Write, process::Command};
use tallypail::{pages::reports, settings::Task, trade::figures::NOTICE, web::visitor::Role::Owner};

/// The words a herdshare household's papers never say.
const NEVER: [&str; 20] = [
    "price",
    "prices",
    "buy",
    "buys",
    "buying",
    "buyer",
    "bought",
    "sale",
    "sales",
    "sell",
    "sells",
    "selling",
    "sold",
    "order",
    "orders",
    "ordered",
    "ordering",
    "customer",
    "customers",
    "paid for milk",
];

/// Which of them stand in a text as whole words, whatever their case.
fn found(text: &str) -> Vec<&'static str> {
    let plain: String = text.to_lowercase().chars().map(|c| if c.is_alphanumeric() { c } else { ' ' }).collect();
    let plain = format!(" {} ", plain.split_whitespace().collect::<Vec<_>>().join(" "));
    NEVER.into_iter().filter(|word| plain.contains(&format!(" {word} "))).collect()
}

/// What a percent-coded letter says (RFC 3986).
fn decoded(text: &str) -> String {
    let mut bytes = Vec::new();
    let mut rest = text.bytes();
    while let Some(byte) = rest.next() {
        let mut hex = || char::from(rest.next().unwrap()).to_digit(16).unwrap();
        bytes.push(if byte == b'%' { u8::try_from(hex() * 16 + hex()).unwrap() } else { byte });
    }
    String::from_utf8(bytes).unwrap()
}

/// A PDF's text, and how many pages it has, as `pdftotext` of poppler-utils reads it.
fn read_pdf(bytes: &[u8]) -> (String, usize) {
    let mut file = tempfile::NamedTempFile::new().unwrap();
    file.write_all(bytes).unwrap();
    let read = Command::new("pdftotext").arg("-layout").arg(file.path()).arg("-").output().expect("pdftotext of poppler-utils");
    let text = String::from_utf8(read.stdout).unwrap();
    let pages = text.matches('\u{c}').count();
    (text, pages)
}

#[tokio::test]
async fn a_herdshare_households_papers_never_speak_of_trading_in_milk() {
    assert_eq!(found("Bought: the PRICE, paid for\nmilk; boarding in good order."), ["price", "bought", "order", "paid for milk"]);
    let farm = Farm::sample().await;
    let mut letters = 0;
    for number in 1..=29 {
        let label = format!("M{number:02}");
        let page = farm.visit(Owner, &format!("/books/{label}?{ALL}")).await;
        page.came_with(200).says("Statement for").says(&NOTICE[..40]);
        assert_eq!(found(&page.text), [""; 0], "{label}");
        let letter =
            page.text.split("href=\"mailto:").nth(1).unwrap().split('"').next().unwrap().replace("&#38;", "&").replace("&amp;", "&");
        let letter = decoded(&letter);
        assert!(letter.starts_with(&format!("{}@example.org?subject=Statement from Tansyditch Farm", label.to_lowercase())), "{letter}");
        assert!(letter.contains(NOTICE), "the notice goes along: {letter}");
        letters += usize::from(letter.contains("Boarding, October 2026"));
        assert_eq!(found(&letter), [""; 0], "{label}");
        for form in ["csv", "json"] {
            let file = farm.visit(Owner, &format!("/books/{label}.{form}?{ALL}")).await;
            assert_eq!(found(&file.text), [""; 0], "{label}.{form}");
            assert!(file.text.contains("Follow your local raw-milk law"));
        }
        let (text, _) = read_pdf(&farm.visit(Owner, &format!("/books/{label}.pdf?{ALL}")).await.bytes);
        assert!(text.contains(&label) && text.contains("Follow your local raw-milk law"));
        assert_eq!(found(&text), [""; 0], "{label}.pdf: {text}");
    }
    assert!(letters > 20, "only {letters} letters speak of October's boarding");
}

#[tokio::test]
async fn a_year_of_boarding_is_one_page_and_everybodys_begin_on_their_own() {
    let farm = Farm::sample().await;
    let year = "from=2025-11-22&to=2026-11-21";
    let year_of = async |label: &str| read_pdf(&farm.visit(Owner, &format!("/books/{label}.pdf?{year}")).await.bytes);
    for label in farm.list("people").await.iter().map(|own| own.cell(kind_of("people"), "label").text().to_owned()) {
        let (text, pages) = year_of(&label).await;
        assert_eq!(pages, 1, "{label}: {text}");
        assert!(text.contains("Page 1 of 1"), "{text}");
    }
    let gate = year_of("W01").await.0;
    assert!(gate.contains("Milk at the gate, 7 half-gallons, on 10, 12, 19, 24") && gate.contains("12 half-gallons, on 7 days"), "{gate}");
    for label in ["M01", "M05", "M17"] {
        let (text, _) = year_of(label).await;
        assert!(text.contains("Boarding, December 2025"), "{text}");
    }
    let all = farm.visit(Owner, "/books/statements.pdf?from=2026-11-01&to=2026-11-21").await;
    let (text, pages) = read_pdf(&all.bytes);
    let (mut begun, mut labels) = (0, Vec::new());
    for page in text.split('\u{c}') {
        if page.contains("Page 1 of") {
            begun += 1;
            labels.extend(page.split("Statement for ").nth(1).map(|rest| rest[..3].to_owned()));
        }
    }
    assert!(begun > 30 && labels.len() == begun && pages >= begun, "{begun} of {pages}");
    assert!(labels.windows(2).all(|two| two[0] != two[1]) && !labels.contains(&"M11".to_owned()), "{labels:?}");
}

#[tokio::test]
async fn the_command_prints_what_the_page_shows() {
    let farm = Farm::sample().await;
    let print = async |name: &str, household: Option<&str>| {
        let household = household.map(str::to_owned);
        let task = Task::Report { name: name.into(), from: None, to: None, changes: None, lot: None, household, form: "json".into() };
        reports::print(&farm.ledger, &task, farm.now).await.map_err(|error| error.to_string())
    };
    assert_eq!(print("statement", Some("m05")).await.unwrap(), farm.visit(Owner, "/books/M05.json").await.bytes);
    assert_eq!(print("books", None).await.unwrap(), farm.visit(Owner, "/books.json").await.bytes);
    assert!(print("statement", None).await.unwrap_err().contains("--household"));
    assert!(print("statement", Some("M99")).await.unwrap_err().contains("There is no member"));
}

/// What was put together for the sample farm is there: late, ahead, bounced, left.
#[tokio::test]
async fn the_sample_farms_books_tell_its_stories() {
    let farm = Farm::sample().await;
    farm.visit(Owner, "/books").await.says("M10 Cormac Fennimore").says("M03 Ines Marrowby");
    farm.visit(Owner, "/books/M03").await.says("paid ahead on Sat 21 Nov 2026.");
    farm.visit(Owner, "/books/M17").await.says("came back from the bank");
    farm.visit(Owner, "/books/M05").await.says("Typed twice");
    farm.visit(Owner, "/books/M11").await.says("Share given back to the herd").says("Even on Sat 21 Nov 2026: nothing to pay.");
    farm.visit(Owner, "/books/W01").await.says("Milk at the gate").says("Received with thanks");
    // M29 joined today and has no boarding yet.
    farm.visit(Owner, "/books/boarding").await.says("M29 Clemence Harbord").says("1 × 40.00 × 10 of 30 days").says("13.33");
    squares(&farm).await;
}
