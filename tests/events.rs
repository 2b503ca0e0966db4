//! The papers of events: the sheet that can be sorted, and the EPCIS document. tests/spreadsheet.rs opens the sheet as a workbook.
//!
//! What the sheet has to say is reckoned a second time from the sample folder's own files; the documents are held to the published JSON schema of EPCIS 2.0 (`outside/epcis`).

use crate::farm::{Farm, at, kind_of};
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};
use tallypail::{
    paper::{epcis, sample},
    store::{events, lots},
    trade::{
        balance::LotJars,
        events::{Called, Events, Record},
        jars::Jars,
        when::Zone,
    },
    web::visitor::Role::{Helper, Owner},
};

/// A lot of the sample farm that was handed out on both sides of the night the clocks went back (2 November 2025).
pub const AUTUMN: &str = "5304A-F";
/// A lot that was corrected, one that was made into cream and the cream, one that was held, and one of the complaint.
const OTHERS: [&str; 5] = ["6142A-S", "6116A-0", "6117B-U", "6190A-V", "6228A-4"];

pub type Row = BTreeMap<String, String>;

/// A CSV file as rows by column.
fn rows(bytes: &[u8]) -> Vec<Row> {
    let mut reader = csv::Reader::from_reader(bytes);
    let head = reader.headers().unwrap().clone();
    let named = |row: csv::StringRecord| head.iter().map(str::to_owned).zip(row.iter().map(str::to_owned)).collect();
    reader.records().map(|row| named(row.unwrap())).collect()
}

/// A file of the sample folder.
fn sample_rows(file: &str) -> Vec<Row> {
    rows(&sample::files()[file])
}

pub async fn sheet(farm: &Farm, lot: &str) -> Vec<Row> {
    let page = farm.visit(Owner, &format!("/trace/{lot}/events.csv")).await;
    page.came_with(200);
    rows(&page.bytes)
}

async fn document(farm: &Farm, lot: &str) -> Value {
    let page = farm.visit(Owner, &format!("/trace/{lot}/epcis.json")).await;
    page.came_with(200);
    assert_eq!(page.kind, "application/ld+json");
    serde_json::from_slice(&page.bytes).unwrap()
}

/// What the published schema finds wrong with a document.
fn wrong(document: &Value) -> Vec<String> {
    let schema: Value = serde_json::from_str(include_str!("outside/epcis/EPCISDocument.schema.json")).unwrap();
    let schema = jsonschema::draft7::options().should_validate_formats(true).build(&schema).unwrap();
    schema.iter_errors(document).map(|error| format!("{}: {error}", error.instance_path())).collect()
}

#[track_caller]
fn is_valid(document: &Value) {
    assert_eq!(wrong(document), Vec::<String>::new(), "{document:#}");
}

fn told(document: &Value) -> &Vec<Value> {
    document["epcisBody"]["eventList"].as_array().unwrap()
}

fn jars_of(row: &Row) -> i64 {
    ["gallons", "half_gallons", "quarts", "pints"].iter().map(|size| row[*size].parse::<i64>().unwrap()).sum()
}

/// Source: `sample-data/pickups.csv`, read here by itself.
#[tokio::test]
async fn every_hand_out_of_a_lot_is_there_with_its_time_across_the_clock_change() {
    let farm = Farm::sample().await;
    let sheet = sheet(&farm, AUTUMN).await;
    let out = |row: &&Row| row["What happened"].starts_with("Handed out");
    let found: BTreeSet<(String, String, String)> =
        sheet.iter().filter(out).map(|row| (row["Event time"].clone(), row["To"].clone(), row["Quantity"].clone())).collect();
    let expected: BTreeSet<(String, String, String)> = sample_rows("pickups.csv")
        .iter()
        .filter(|row| row["lot"] == AUTUMN)
        .map(|row| {
            let to = if row["person"].is_empty() { "an unknown walk-in".to_owned() } else { row["person"].clone() };
            (row["at"].clone(), to, row["half_gallons"].clone())
        })
        .collect();
    assert_eq!(found, expected);
    assert!(expected.iter().any(|own| own.0.ends_with("-04:00")) && expected.iter().any(|own| own.0.ends_with("-05:00")), "{expected:?}");
    for row in sheet.iter().filter(out) {
        assert_eq!(at(&row["Event time"]), at(&row["Event time, UTC"]), "{row:?}");
        assert_eq!(row["Critical tracking event"], "Shipping (to a consumer)");
        assert_eq!(row["Traceability lot code"], AUTUMN);
    }
    let document = document(&farm, AUTUMN).await;
    for event in told(&document) {
        let (time, offset) = (event["eventTime"].as_str().unwrap(), event["eventTimeZoneOffset"].as_str().unwrap());
        assert!(time.ends_with(offset), "{event}");
    }
}

/// Source: the balance the lot's own page is drawn from, and the folder's own files.
#[tokio::test]
async fn quantities_that_stand_add_up_to_the_balance_of_each_lot() {
    let farm = Farm::sample().await;
    for code in OTHERS.iter().chain([&AUTUMN]) {
        let sheet = sheet(&farm, code).await;
        let codes: BTreeSet<&String> = sheet.iter().map(|row| &row["Traceability lot code"]).filter(|code| !code.is_empty()).collect();
        assert!(codes.contains(&(*code).to_owned()));
        for lot in codes {
            let mut db = farm.ledger.read().await.unwrap();
            let number = lots::find(&mut db, lot).await.unwrap().unwrap().number;
            let book = LotJars::gathered(&lots::moved(&mut db, &[number]).await.unwrap()[&number], None);
            let sum = |is: &dyn Fn(&str) -> bool| -> i64 {
                let own = sheet.iter().filter(|row| row["Traceability lot code"] == *lot && row["Stands"] == "stands");
                own.filter(|row| is(&row["What happened"])).map(|row| row["Quantity"].parse::<i64>().unwrap()).sum()
            };
            let whole = |jars: Jars| jars.gallons + jars.half_gallons + jars.quarts + jars.pints;
            assert_eq!(sum(&|what| matches!(what, "Filled" | "Made")), whole(book.filled), "{lot} filled");
            let outs = sample_rows("pickups.csv").iter().filter(|row| row["lot"] == *lot).map(jars_of).sum::<i64>();
            assert_eq!(sum(&|what| what.starts_with("Handed out")), outs, "{lot} handed out");
            let gone = |what: &str| what.starts_with("Set aside") || matches!(what, "Broken" | "Thrown out");
            assert_eq!(sum(&gone) + outs, whole(book.gone()), "{lot} gone");
            let back = sum(&|what| what == "Brought back full");
            assert_eq!(whole(book.filled) + back - sum(&gone) - outs, whole(book.by_the_book()), "{lot} by the book");
        }
    }
}

/// Source: `sample-data/pails.csv`, read here by itself.
#[tokio::test]
async fn a_milking_is_told_by_the_pounds_that_went_into_the_can() {
    let farm = Farm::sample().await;
    let sheet = sheet(&farm, AUTUMN).await;
    let milked: Vec<&Row> = sheet.iter().filter(|row| row["What happened"] == "Milked").collect();
    let pounds = |row: &Row| row["milk"].trim_end_matches(" lb").parse::<rust_decimal::Decimal>().unwrap();
    let pails = sample_rows("pails.csv");
    let sum: rust_decimal::Decimal = pails.iter().filter(|row| row["milking"] == "2025-10-31 AM" && row["went"] == "can").map(pounds).sum();
    assert_eq!(milked.len(), 1);
    assert_eq!((milked[0]["Quantity"].clone(), milked[0]["Unit"].as_str()), (sum.normalize().to_string(), "lb"));
    assert_eq!((milked[0]["Critical tracking event"].as_str(), milked[0]["Reference document"].as_str()), ("Harvesting", "milking"));
}

/// Source: the owner's own wish: a household is a number on what is sent off, unless its name is asked for.
#[tokio::test]
async fn names_come_only_when_they_are_asked_for_and_never_in_a_document() {
    let farm = Farm::sample().await;
    let people = sample_rows("people.csv");
    for code in OTHERS.iter().chain([&AUTUMN]) {
        let plain = farm.visit(Owner, &format!("/trace/{code}/events.csv")).await;
        let named = farm.visit(Owner, &format!("/trace/{code}/events.csv?names=yes")).await;
        let document = farm.visit(Owner, &format!("/trace/{code}/epcis.json?names=yes")).await;
        let to: BTreeSet<String> = rows(&plain.bytes).iter().map(|row| row["To"].clone()).collect();
        for person in &people {
            plain.never_says(&person["name"]);
            document.never_says(&person["name"]).never_says(&person["phone"]);
            if to.contains(&person["label"]) {
                named.says(&person["name"]);
                document.says(&format!("Household {}", person["label"]));
            }
        }
        farm.visit(Helper, &format!("/trace/{code}/events.csv")).await.came_with(403);
    }
    farm.visit(Owner, "/trace/6134A-X/epcis.json").await.came_with(404);
}

/// Source: the published JSON schema of EPCIS 2.0.
#[tokio::test]
async fn documents_hold_to_the_published_schema_and_broken_ones_do_not() {
    let farm = Farm::sample().await;
    let mut steps = BTreeSet::new();
    // A shelf jar, a sample, a broken jar, and one brought back full.
    for code in OTHERS.iter().chain(&[AUTUMN, "5244A-0", "5245A-W", "5261B-U", "5340B-Y"]) {
        let document = document(&farm, code).await;
        is_valid(&document);
        let ids: BTreeSet<&str> = told(&document).iter().map(|event| event["eventID"].as_str().unwrap()).collect();
        assert_eq!(ids.len(), told(&document).len(), "an event's name is given once");
        steps.extend(told(&document).iter().map(|event| event["bizStep"].as_str().unwrap().to_owned()));
    }
    let all = ["creating_class_instance", "sensor_reporting", "dispensing", "cycle_counting", "holding", "storing", "sampling"];
    for step in all.into_iter().chain(["destroying", "receiving"]) {
        assert!(steps.contains(step), "no event of the samples is “{step}”: {steps:?}");
    }
    let whole = document(&farm, AUTUMN).await;
    let broken: [(&str, Value); 6] = [
        ("/epcisBody/eventList/0/eventTimeZoneOffset", json!("Eastern")),
        ("/epcisBody/eventList/0/action", json!("MILK")),
        ("/epcisBody/eventList/0/bizStep", json!("milking")),
        ("/epcisBody/eventList/0/quantityList/0/uom", json!("pounds")),
        ("/epcisBody/eventList/0/eventTime", json!("yesterday")),
        ("/epcisBody/eventList/1/outputQuantityList/0/epcClass", Value::Null),
    ];
    for (place, with) in broken {
        let mut document = whole.clone();
        *document.pointer_mut(place).unwrap() = with;
        assert!(!wrong(&document).is_empty(), "{place} was broken and nothing was found");
    }
    for place in ["@context", "creationDate"] {
        let mut document = whole.clone();
        document.as_object_mut().unwrap().remove(place);
        assert!(!wrong(&document).is_empty(), "without {place} nothing was found");
    }
}

/// A farm with one lot of five half-gallons, three of which M01 took.
pub async fn one_lot() -> Farm {
    let mut farm = Farm::new().await;
    let person = [("label", "M01"), ("name", "Orla Tremont"), ("sort", "member"), ("channel", "herdshare"), ("since", "2026-01-02")];
    farm.keep("people", &person).await;
    let milking = [("session", "2026-05-14 AM"), ("started", "2026-05-14T05:40"), ("ended", "2026-05-14T06:00"), ("milker", "Mina")];
    farm.keep("milkings", &milking).await;
    let pail = [("milking", "2026-05-14 AM"), ("cow", "Wren"), ("read", "24 lb"), ("milk", "24 lb"), ("went", "can"), ("vessel", "Can 1")];
    farm.keep("pails", &pail).await;
    for (code, filled, jars) in [("6134A-S", "2026-05-14T06:20", "5"), ("6134B-Q", "2026-05-14T06:30", "0")] {
        let jars = [("gallons", "0"), ("half_gallons", jars), ("quarts", "0"), ("pints", "0")];
        farm.keep("lots", &[&[("code", code), ("filled", filled), ("vessel", "Can 1")][..], &jars].concat()).await;
    }
    farm.keep("sources", &[("lot", "6134A-S"), ("milking", "2026-05-14 AM")]).await;
    farm.keep("pickups", &[&TAKEN[..], &[("lot", "6134A-S"), ("half_gallons", "3")]].concat()).await;
    farm.wait(3600);
    farm
}

const TAKEN: [(&str, &str); 9] = [
    ("at", "2026-05-14T10:00"),
    ("person", "M01"),
    ("gallons", "0"),
    ("quarts", "0"),
    ("pints", "0"),
    ("evidence", "seen"),
    ("verdict", "Can go"),
    ("because", "Cold in time"),
    ("facts", "Read at 08:00"),
];

/// Corrects the one hand-out to so many jars.
async fn correct(farm: &Farm, version: &str, jars: &str, why: &str) {
    let new = [("lot", "6134A-S"), ("half_gallons", jars), ("version", version), ("why", why)];
    farm.submit(Owner, "/records/pickups/1", &[&TAKEN[..], &new].concat()).await.came_with(303);
}

async fn events_of(farm: &Farm, codes: &[&str]) -> Events {
    let mut db = farm.ledger.read().await.unwrap();
    let mut numbers = Vec::new();
    for code in codes {
        numbers.push(lots::find(&mut db, code).await.unwrap().unwrap().number);
    }
    events::of_lots(&mut db, &numbers).await.unwrap()
}

fn printed(events: &Events, farm: &Farm) -> Value {
    let zone = Zone::parse("America/New_York").unwrap();
    let document = serde_json::from_slice(&epcis::print(events, zone, farm.now)).unwrap();
    is_valid(&document);
    document
}

/// The events of a document that one step told of.
fn of_step<'a>(document: &'a Value, step: &str) -> Vec<&'a Value> {
    told(document).iter().filter(|event| event["bizStep"] == step).collect()
}

/// Source: EPCIS 2.0, error declaration: the event that was wrong is told again, with since when, why, and what stands for it.
#[tokio::test]
async fn a_correction_is_declared_with_what_stands_in_its_place() {
    let mut farm = one_lot().await;
    correct(&farm, "1", "2", "Miscounted").await;
    correct(&farm, "2", "1", "Orla Tremont brought one back at once").await;
    let document = printed(&events_of(&farm, &["6134A-S"]).await, &farm);
    let outs = of_step(&document, "dispensing");
    assert_eq!(outs.len(), 3);
    for (before, after) in [(0, 1), (1, 2)] {
        let declared = &outs[before]["errorDeclaration"];
        assert_eq!(declared["reason"], "incorrect_data");
        assert_eq!(declared["declarationTime"], "2026-05-14T13:00:00-04:00");
        assert_eq!(declared["correctiveEventIDs"], json!([outs[after]["eventID"]]));
        assert_eq!(outs[after]["recordTime"], declared["declarationTime"], "a correction was written when the other was struck");
    }
    assert!(outs[2].get("errorDeclaration").is_none());
    assert_eq!(outs.iter().map(|own| own["quantityList"][0]["quantity"].clone()).collect::<Vec<_>>(), [3, 2, 1]);
    let out: Vec<(String, String, String)> = sheet(&farm, "6134A-S")
        .await
        .iter()
        .filter(|row| row["Reference document"] == "hand-out")
        .map(|row| (row["Quantity"].clone(), row["Stands"].clone(), row["Why"].clone()))
        .collect();
    let expected = [("3", "corrected", "Miscounted"), ("2", "corrected", "M01 brought one back at once"), ("1", "stands", "")];
    assert_eq!(out, expected.map(|(jars, stands, why)| (jars.to_owned(), stands.to_owned(), why.to_owned())));

    // Struck altogether, it did not happen, and nothing stands in its place.
    farm.wait(60);
    farm.submit(Owner, "/records/pickups/1/strike", &[("version", "3"), ("why", "Written twice")]).await.came_with(303);
    let document = printed(&events_of(&farm, &["6134A-S"]).await, &farm);
    let outs = of_step(&document, "dispensing");
    assert_eq!((outs.len(), &outs[2]["errorDeclaration"]["reason"]), (3, &json!("did_not_occur")));
    assert!(outs[2]["errorDeclaration"].get("correctiveEventIDs").is_none());
}

/// Source: worked by hand: a count that was written for the wrong lot is told with both lots, whichever is asked about.
#[tokio::test]
async fn a_record_corrected_to_another_lot_is_told_with_both() {
    let farm = one_lot().await;
    let count = [("at", "2026-05-14T11:00"), ("counter", "Tobe"), ("gallons", "0"), ("half_gallons", "2"), ("quarts", "0"), ("pints", "0")];
    farm.keep("counts", &[&count[..], &[("lot", "6134B-Q")]].concat()).await;
    let new = [("lot", "6134A-S"), ("version", "1"), ("why", "The lid says A")];
    farm.submit(Owner, "/records/counts/1", &[&count[..], &new].concat()).await.came_with(303);
    let mut seen = Vec::new();
    for code in ["6134A-S", "6134B-Q"] {
        let document = printed(&events_of(&farm, &[code]).await, &farm);
        let counts: Vec<Value> = of_step(&document, "cycle_counting").into_iter().cloned().collect();
        assert_eq!(counts.len(), 2, "asked about {code}");
        assert_eq!(counts[0]["errorDeclaration"]["correctiveEventIDs"], json!([counts[1]["eventID"]]));
        assert_ne!(counts[0]["quantityList"][0]["epcClass"], counts[1]["quantityList"][0]["epcClass"]);
        seen.push(counts);
    }
    assert_eq!(seen[0], seen[1], "an event is told the same in every document");
}

/// Source: EPCIS 2.0: a milking's event is written in the milking's record and in its cows', and is wrong when either is.
#[tokio::test]
async fn a_corrected_cow_corrects_her_milkings_event() {
    let farm = one_lot().await;
    let pail = [("milking", "2026-05-14 AM"), ("cow", "Wren"), ("read", "22 lb"), ("milk", "22 lb"), ("went", "can"), ("vessel", "Can 1")];
    farm.submit(Owner, "/records/pails/1", &[&pail[..], &[("version", "1"), ("why", "Misread")]].concat()).await.came_with(303);
    let document = printed(&events_of(&farm, &["6134A-S"]).await, &farm);
    let milked: Vec<&Value> = told(&document).iter().filter(|event| event["ilmd"].get("cbvmda:harvestEndDate").is_some()).collect();
    let pounds: Vec<&Value> = milked.iter().map(|event| &event["quantityList"][0]["quantity"]).collect();
    assert_eq!(pounds.iter().map(|own| own.to_string()).collect::<Vec<_>>(), ["24.0", "22.0"].map(|own| own.trim_end_matches(".0")));
    assert_eq!(milked[0]["errorDeclaration"]["correctiveEventIDs"], json!([milked[1]["eventID"]]));
}

/// Source: EPCIS 2.0 takes no quantity of nothing; a lot of no jars is still a lot that the can was emptied for.
#[tokio::test]
async fn a_lot_without_a_jar_and_a_count_of_none_are_told() {
    let farm = one_lot().await;
    let none = [("gallons", "0"), ("half_gallons", "0"), ("quarts", "0"), ("pints", "0")];
    farm.keep("counts", &[&[("at", "2026-05-14T11:00"), ("lot", "6134B-Q"), ("counter", "Tobe")][..], &none].concat()).await;
    let events = events_of(&farm, &["6134B-Q"]).await;
    let document = printed(&events, &farm);
    assert_eq!(told(&document).len(), 2);
    assert_eq!(told(&document)[0]["type"], "TransformationEvent");
    assert!(told(&document)[0]["outputQuantityList"][0].get("quantity").is_none());
    assert_eq!(told(&document)[1]["epcList"], json!([]), "a count of none is about nothing that is there");
    let page = farm.visit(Owner, "/trace/6134B-Q/events.csv").await;
    let own: Vec<(String, String)> = rows(&page.bytes)
        .iter()
        .filter(|row| row["Traceability lot code"] == "6134B-Q")
        .map(|row| (row["What happened"].clone(), format!("{} {}", row["Quantity"], row["Unit"])))
        .collect();
    let expected = [("Filled", "0 jars"), ("Counted on hand", "0 jars")].map(|(what, jars)| (what.to_owned(), jars.to_owned()));
    assert_eq!(own, expected);
}

/// Source: the core business vocabulary's words for what a farm stops (CBV 2.0).
#[tokio::test]
async fn a_hold_its_lifting_and_a_call_back_are_told_for_every_lot_they_touch() {
    let farm = one_lot().await;
    farm.keep("holds", &[("at", "2026-05-14T11:00"), ("scope", "everything"), ("reason", "Ask first")]).await;
    farm.keep("lifts", &[("hold", "1"), ("at", "2026-05-14T12:00"), ("reason", "Asked")]).await;
    let entry = "0d3f2c1a-7b1e-4f52-9a52-6f3d1a2b3c4d".to_owned();
    let record = Record { kind: "callbacks", number: 1, version: 1, entry, written: farm.now, who: "Mina".to_owned() };
    let called = Called { record, at: farm.now, because: "Listeria found".to_owned() };
    let document = printed(&events_of(&farm, &["6134A-S", "6134B-Q"]).await.called_back(&called), &farm);
    let of = |disposition: &str| told(&document).iter().filter(|event| event["disposition"] == disposition).collect::<Vec<_>>();
    for (disposition, set) in [("non_sellable_other", "unavailable"), ("recalled", "recalled")] {
        assert_eq!(of(disposition).len(), 2, "{disposition}");
        for event in of(disposition) {
            assert_eq!((&event["bizStep"], &event["persistentDisposition"]["set"]), (&json!("holding"), &json!([set])));
        }
    }
    let lifted = told(&document).iter().filter(|event| event["persistentDisposition"]["unset"] == json!(["unavailable"]));
    assert_eq!(lifted.count(), 2);
    let ids: BTreeSet<&str> = told(&document).iter().map(|event| event["eventID"].as_str().unwrap()).collect();
    assert_eq!(ids.len(), told(&document).len(), "one hold's events on two lots have two names");
}

/// Source: the sample farm's cream of 27 April 2026, made of four half-gallons of 6116A-0.
#[tokio::test]
async fn what_was_made_of_a_lot_names_it_and_shares_its_transformation() {
    let farm = Farm::sample().await;
    let document = document(&farm, "6117B-U").await;
    let classes = document["epcisHeader"]["epcisMasterData"]["vocabularyList"].as_array().unwrap();
    let classes = classes.iter().find(|own| own["type"].as_str().unwrap().ends_with("EPCClass")).unwrap();
    let class = |code: &str, words: &str| -> String {
        let says = |own: &&Value| own["attributes"].to_string().contains(code) && own["attributes"].to_string().contains(words);
        classes["vocabularyElementList"].as_array().unwrap().iter().find(says).unwrap()["id"].as_str().unwrap().to_owned()
    };
    let (milk, cream) = (class("6116A-0", "half-gallon"), class("6117B-U", "Raw cream, pint"));
    let has =
        |event: &Value, list: &str, class: &str| event[list].as_array().is_some_and(|all| all.iter().any(|own| own["epcClass"] == class));
    let made = told(&document).iter().find(|event| has(event, "outputQuantityList", &cream)).unwrap();
    assert!(has(made, "inputQuantityList", &milk));
    let poured = |event: &&Value| has(event, "inputQuantityList", &milk) && event.get("outputQuantityList").is_none();
    let poured: Vec<&Value> = told(&document).iter().filter(poured).collect();
    assert_eq!(poured.len(), 1);
    assert_eq!(poured[0]["inputQuantityList"][0]["quantity"], 4);
    assert_eq!(poured[0]["transformationID"], made["transformationID"]);
}

/// The kinds an event names must be kinds there are.
#[test]
fn the_records_an_event_is_read_from_are_kinds_there_are() {
    for name in ["milkings", "lots", "chill", "pickups", "asides", "counts", "holds", "lifts"] {
        assert!(!kind_of(name).one.is_empty(), "{name}");
    }
}
