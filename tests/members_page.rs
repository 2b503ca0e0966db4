//! What a half-gallon takes: one sheet for the wall, on which nothing reads as a price where milk goes to members of a herdshare.

use crate::farm::Farm;
use std::process::Command;
use tallypail::{
    pages::reports,
    settings::Task,
    trade::figures::NOTICE,
    web::visitor::Role::{Helper, Owner},
};

/// Words that make a boarding fee read like the sale of a jar.
const NEVER: [&str; 14] =
    ["price", "prices", "buy", "buys", "bought", "customer", "customers", "order", "orders", "sell", "sells", "sold", "sale", "costs"];

/// The words of a text, without its tags.
fn words(text: &str) -> Vec<String> {
    let mut plain = String::new();
    let mut tag = false;
    for letter in text.chars() {
        match letter {
            '<' => tag = true,
            '>' => tag = false,
            letter if !tag => plain.push(letter),
            _ => {}
        }
    }
    plain.split(|letter: char| !letter.is_alphabetic()).filter(|word| !word.is_empty()).map(str::to_lowercase).collect()
}

#[track_caller]
fn reads_as_no_price(text: &str) {
    let found: Vec<String> = words(text).into_iter().filter(|word| NEVER.contains(&word.as_str())).collect();
    assert!(found.is_empty(), "{found:?} in:\n{text}");
    assert!(!text.contains('$'), "{text}");
}

fn pages_of(pdf: &[u8]) -> Vec<String> {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("sheet.pdf");
    std::fs::write(&file, pdf).unwrap();
    let out =
        Command::new("pdftotext").arg("-layout").arg(&file).arg("-").output().expect("pdftotext, of poppler-utils, must be installed");
    String::from_utf8(out.stdout).unwrap().split('\u{c}').filter(|page| !page.trim().is_empty()).map(str::to_owned).collect()
}

/// The sheet of the page, between its head and the notice.
fn main_of(page: &str) -> &str {
    page.split("<main").nth(1).and_then(|rest| rest.split("</main>").next()).unwrap()
}

#[tokio::test]
async fn a_member_reads_no_price() {
    let farm = Farm::sample().await;
    let page = farm.visit(Owner, "/costs/members").await;
    page.came_with(200).says("Where a dollar of boarding goes").says("Reckoned with hours").says("Follow your local raw-milk law");
    reads_as_no_price(main_of(&page.text));
    let csv = farm.visit(Owner, "/costs/members.csv").await.came_with(200).text.clone();
    reads_as_no_price(&csv);
    let json = farm.visit(Owner, "/costs/members.json").await.came_with(200).text.clone();
    reads_as_no_price(&json);
    let pdf = pages_of(&farm.visit(Owner, "/costs/members.pdf").await.came_with(200).bytes);
    assert_eq!(pdf.len(), 1, "one letter sheet");
    reads_as_no_price(&pdf[0]);
    let tight = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(tight(&pdf[0]).contains(&tight(NOTICE)[..60]), "{}", pdf[0]);
    farm.visit(Helper, "/costs/members").await.came_with(403);
}

/// The cents of a dollar add up to a hundred, whatever days are asked about.
#[tokio::test]
async fn the_shares_add_up_to_a_dollar() {
    let farm = Farm::sample().await;
    for days in ["", "?from=2026-06-01&to=2026-08-31", "?from=2026-02-11&to=2026-02-11"] {
        let report: serde_json::Value = serde_json::from_str(&farm.visit(Owner, &format!("/costs/members.json{days}")).await.text).unwrap();
        let rows = report["tables"]["shares"]["rows"].as_array().unwrap();
        let cents: i64 = rows.iter().map(|row| row["Cents"].as_str().unwrap().parse::<i64>().unwrap()).sum();
        assert_eq!((rows.len(), cents), (7, 100), "{days}: {report}");
        let behind = report["tables"]["behind"]["rows"].as_array().unwrap();
        assert!(behind.iter().any(|row| row["What"] == "Minutes of work behind each half-gallon" && row["How much"] != "not written down"));
    }
}

/// Worked by hand. Insurance 73.00 and vet 27.00 are a dollar in 100 parts of 1.00; 10 half-gallons of 4.3 lb made, 2 to the calf
/// and 1 thrown out; no wage is named, so the sheet goes by wear and says so.
#[tokio::test]
async fn a_small_farm_by_hand() {
    let farm = Farm::new().await;
    let ticket = |sort: &'static str, amount: &'static str| {
        [("paid", "2026-05-02"), ("sort", sort), ("what", sort), ("amount", amount), ("milk_share", "100"), ("guess", "no")]
    };
    farm.keep("tickets", &ticket("insurance", "73.00")).await;
    farm.keep("tickets", &ticket("vet", "27.00")).await;
    let milking = [("session", "2026-05-14 AM"), ("started", "2026-05-14T05:40"), ("ended", "2026-05-14T06:05"), ("milker", "Mina")];
    farm.keep("milkings", &milking).await;
    for (cow, milk, went) in [("Damson", "30.1 lb", "house"), ("Kettle", "8.6 lb", "calf"), ("Wren", "4.3 lb", "thrown out")] {
        let pail = [("milking", "2026-05-14 AM"), ("cow", cow), ("read", milk), ("milk", milk), ("went", went), ("foremilk", "ok")];
        farm.keep("pails", &pail).await;
    }
    farm.keep("events", &[("cow", "Wren"), ("at", "2026-05-05T08:00"), ("sort", "dried off")]).await;
    let text = farm.visit(Owner, "/costs/members.json").await.came_with(200).text.clone();
    let report: serde_json::Value = serde_json::from_str(&text).unwrap();
    let of = |table: &str, what: &str, column: &str| {
        let rows = report["tables"][table]["rows"].as_array().unwrap();
        let row =
            rows.iter().find(|row| row.as_object().unwrap().values().any(|own| own == what)).unwrap_or_else(|| panic!("{what}: {text}"));
        row[column].as_str().unwrap().to_owned()
    };
    assert_eq!(of("shares", "Care: vet, breeding and lab tests", "Cents"), "27");
    assert_eq!(of("shares", "Everything else: land, bedding, electricity, insurance", "Cents"), "73");
    assert_eq!(of("elsewhere", "To the calves", "Half-gallons"), "20.0");
    assert_eq!(of("elsewhere", "Thrown out or broken", "Half-gallons"), "10.0");
    assert_eq!(of("behind", "Cows here", "How much"), "3");
    assert_eq!(of("behind", "Days they were dry, all together", "How much"), "10", "the 5th to the 14th");
    assert_eq!(of("behind", "Pounds of feed behind each half-gallon", "How much"), "not written down");
    assert!(text.contains("Reckoned with wear"), "{text}");
}

/// A farm that hands all its milk out over its own gate may show what a half-gallon costs; one member of a herdshare ends that.
#[tokio::test]
async fn a_farm_with_only_a_gate_may_show_the_cost() {
    let farm = Farm::new().await;
    let answers = [("about", "last twelve months"), ("handed_out", "21"), ("power", "30")];
    farm.submit(Owner, "/costs/start", &answers).await.came_with(303);
    farm.visit(Owner, "/costs/members").await.never_says("costs the farm").says("Where a dollar of boarding goes");
    let gate = [("label", "W1"), ("name", "Tom Inver"), ("sort", "walk-in"), ("channel", "farm gate"), ("since", "2026-01-02")];
    farm.keep("people", &gate).await;
    // 360.00 ÷ 1,095 half-gallons.
    farm.visit(Owner, "/costs/members").await.says("What a half-gallon costs the farm").says("$0.33").says("Where a dollar goes");
    let member = [("label", "M1"), ("name", "Ada Rill"), ("sort", "member"), ("channel", "herdshare"), ("since", "2026-01-02")];
    farm.keep("people", &member).await;
    let page = farm.visit(Owner, "/costs/members").await;
    reads_as_no_price(main_of(&page.text));
}

#[tokio::test]
async fn the_command_prints_the_same_sheet() {
    let farm = Farm::sample().await;
    let task = Task::Report { name: "members".into(), from: None, to: None, changes: None, lot: None, household: None, form: "csv".into() };
    let printed = String::from_utf8(reports::print(&farm.ledger, &task, farm.now).await.unwrap()).unwrap();
    assert_eq!(printed, farm.visit(Owner, "/costs/members.csv").await.text);
}
