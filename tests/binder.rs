//! The binder for an inspector: its gap list is true, and a gap appears and goes with its record.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::{
    cost_report::exported,
    farm::{Farm, Page, at, kind_of},
};
use sqlx::{ConnectOptions, Connection, sqlite::SqliteConnectOptions};
use std::{
    collections::BTreeMap,
    io::Write,
    path::Path,
    process::{Command, Stdio},
};
use tallypail::{
    pages::reports,
    paper::folder::Files,
    trade::when::{Day, parse_day},
    web::visitor::Role,
};

fn day(typed: &str) -> Day {
    parse_day(typed).unwrap()
}

/// The folder of a farm's binder, as the command line writes it.
async fn folder(farm: &Farm, from: &str, to: &str) -> Files {
    reports::binder(&farm.ledger, (Some(day(from)), Some(day(to))), false, farm.now).await.unwrap()
}

/// How many gaps of each sort the folder says, by what is looked for; where nothing is known, the words.
fn found(files: &Files) -> BTreeMap<String, String> {
    let mut read = csv::Reader::from_reader(&files["tables/01-looked-for.csv"][..]);
    let rows = read.records().map(|row| row.unwrap());
    rows.map(|row| (row[0].to_owned(), if row[2].starts_with("none") { "0".to_owned() } else { row[2].to_owned() })).collect()
}

/// The same, counted by SQLite's own program from the exported farm folder.
fn counted(folder: &Path, from: &str, to: &str) -> BTreeMap<String, String> {
    let script =
        format!(".bail on\n.param init\n.param set :from \"'{from}'\"\n.param set :to \"'{to}'\"\n{}", include_str!("outside/gaps.sql"));
    let mut sqlite = Command::new("sqlite3")
        .arg(":memory:")
        .current_dir(folder)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("this check needs SQLite's own program: apt-get install sqlite3");
    sqlite.stdin.take().unwrap().write_all(script.as_bytes()).unwrap();
    let done = sqlite.wait_with_output().unwrap();
    let said = String::from_utf8(done.stdout).unwrap();
    assert!(done.status.success(), "{said}{}", String::from_utf8_lossy(&done.stderr));
    said.lines().filter_map(|line| line.split_once('=')).map(|(name, value)| (name.to_owned(), value.to_owned())).collect()
}

/// What the program says and what SQLite counts, for the same days.
async fn compared(farm: &Farm, from: &str, to: &str) -> (BTreeMap<String, String>, BTreeMap<String, String>) {
    let at = tempfile::tempdir().unwrap();
    exported(&farm.ledger, at.path()).await;
    let outside = counted(at.path(), from, to);
    let mut own = found(&folder(farm, from, to).await);
    own.retain(|name, _| outside.contains_key(name));
    own.values_mut().for_each(|says| *says = says.split(';').next().unwrap().to_owned());
    (own, outside)
}

/// Source: SQLite 3's command-line program over the exported CSV files; see `tests/outside/gaps.sql`.
#[tokio::test]
async fn another_program_counts_the_same_gaps_on_the_sample_farm() {
    let farm = Farm::sample().await;
    for (from, to) in [("2025-11-22", "2026-11-21"), ("2025-09-01", "2025-11-21"), ("2026-07-01", "2026-07-31")] {
        let (own, outside) = compared(&farm, from, to).await;
        assert_eq!(outside.len(), 11, "{outside:?}");
        assert_eq!(own, outside, "{from} to {to}");
    }
    let all = found(&folder(&farm, "2025-11-22", "2026-11-21").await);
    assert_eq!((all["Lots not shown to be cold in time"].as_str(), all["Papers a household lacks"].as_str()), ("7", "not known"));
}

/// The same on a farm that kept its records badly: every so many readings, washings, checks, counts, tests and lifts are gone, and
/// some are written a week late.
#[tokio::test]
async fn another_program_counts_the_same_gaps_on_a_farm_with_holes_in_its_records() {
    let farm = Farm::sample().await;
    let mut db = SqliteConnectOptions::new().filename(farm.file()).connect().await.unwrap();
    for hole in [
        "DELETE FROM chill WHERE number % 11 = 0",
        "DELETE FROM chill WHERE lot % 47 = 0",
        "DELETE FROM breaks WHERE number % 13 = 0",
        "UPDATE breaks SET sanitised = 'no' WHERE number % 29 = 0",
        "DELETE FROM ice_checks WHERE number IN (7, 12, 13)",
        "DELETE FROM counts WHERE number % 7 = 0",
        "UPDATE counts SET quarts = quarts + 1 WHERE number % 53 = 0",
        "DELETE FROM results WHERE sample IN (SELECT number FROM samples WHERE subject = 'lot' AND number % 5 = 0)",
        "DELETE FROM lifts WHERE number IN (3, 7)",
        "DELETE FROM renewals WHERE number IN (13, 19)",
        "UPDATE treatments SET milk_hours = NULL WHERE number = 1",
        "UPDATE pails SET went = 'can' WHERE cow = 1 AND milking IN (SELECT number FROM milkings WHERE session IN ('2026-10-13 PM', '2026-10-15 AM'))",
        "UPDATE chill SET written = at + 7 * 86400 WHERE number % 200 = 0",
    ] {
        sqlx::query(sqlx::AssertSqlSafe(hole)).execute(&mut db).await.unwrap_or_else(|error| panic!("{hole}: {error}"));
    }
    db.close().await.unwrap();
    let (own, outside) = compared(&farm, "2025-11-22", "2026-11-21").await;
    assert_eq!(own, outside);
    assert!(outside.values().all(|count| count != "0"), "a hole that nobody can see tells nothing: {outside:?}");
}

/// The page of a farm's binder for May 2026, as far as it has come.
async fn may(farm: &Farm) -> Page {
    let today = farm.ways().await.zone.day(farm.now);
    farm.visit(Role::Owner, &format!("/binder/inspector?from=2026-05-01&to={today}")).await
}

/// How many gaps of a sort the page says.
async fn gaps(farm: &Farm, looked_for: &str) -> String {
    let page = may(farm).await;
    page.came_with(200);
    let row =
        page.text.split_once(&format!("<th scope=\"row\">{looked_for}</th>")).unwrap_or_else(|| panic!("no {looked_for}: {}", page.text)).1;
    row.split("data-label=\"Gaps\">").nth(1).unwrap().split('<').next().unwrap().to_owned()
}

/// One good day: milked, filled, cold in time, washed, with a checked thermometer.
async fn good_day(farm: &Farm) {
    farm.keep("ice_checks", &[("thermometer", "Probe 1"), ("at", "2026-05-13T08:00"), ("reading", "32 °F")]).await;
    let milking = [("session", "2026-05-14 AM"), ("started", "2026-05-14T05:40"), ("ended", "2026-05-14T06:05"), ("milker", "Mina")];
    farm.keep("milkings", &milking).await;
    let pail =
        [("milking", "2026-05-14 AM"), ("cow", "Damson"), ("read", "26 lb"), ("milk", "26 lb"), ("went", "can"), ("vessel", "Can 1")];
    farm.keep("pails", &[&pail[..], &[("foremilk", "ok")]].concat()).await;
    let lot = [("code", "6134A-S"), ("filled", "2026-05-14T06:20"), ("vessel", "Can 1"), ("half_gallons", "6")];
    farm.keep("lots", &[&lot[..], &[("gallons", "0"), ("quarts", "0"), ("pints", "0")]].concat()).await;
    farm.keep("sources", &[("lot", "6134A-S"), ("milking", "2026-05-14 AM")]).await;
}

async fn reading(farm: &Farm, thermometer: &str) -> i64 {
    let typed = [("lot", "6134A-S"), ("at", "2026-05-14T07:35"), ("temperature", "39 °F"), ("thermometer", thermometer)];
    farm.keep("chill", &typed).await
}

/// Strikes a record through, as its page does.
async fn strike(farm: &Farm, kind: &str, number: i64) {
    let page = farm.submit(Role::Owner, &format!("/records/{kind}/{number}/strike"), &[("why", "it never happened")]).await;
    assert_eq!(page.status, 303, "{}", page.text);
}

/// Each sort of gap on a farm that has none: it is there once it is planted, and gone once it is mended.
#[tokio::test]
async fn each_gap_appears_and_goes_when_it_is_mended() {
    let mut farm = Farm::new().await;
    farm.clock("2026-05-14T20:00");
    good_day(&farm).await;
    let (unread, not_shown) = ("Lots nobody read", "Lots not shown to be cold in time");
    assert_eq!((gaps(&farm, unread).await, gaps(&farm, not_shown).await), ("1".into(), "none".into()));
    may(&farm).await.says("Nobody wrote a temperature of it. None of it was handed out.").says("href=\"/lots/6134A-S\"");
    may(&farm).await.says("1 gap of your own stands first in it.");
    let late = [("lot", "6134A-S"), ("at", "2026-05-14T09:05"), ("temperature", "39 °F"), ("thermometer", "Probe 1")];
    let late = farm.keep("chill", &late).await;
    assert_eq!((gaps(&farm, unread).await, gaps(&farm, not_shown).await), ("none".into(), "1".into()));
    may(&farm).await.says("proves nothing about 2 h");
    strike(&farm, "chill", late).await;

    let thermometers = "Thermometers unchecked, off or unnamed";
    for (name, words) in [("", "nobody wrote which thermometer"), ("Probe 2", "no check in ice water is written before")] {
        let number = reading(&farm, name).await;
        assert_eq!(gaps(&farm, thermometers).await, "1", "{name}");
        may(&farm).await.says(words);
        strike(&farm, "chill", number).await;
    }
    reading(&farm, "Probe 1").await;
    for sort in [unread, not_shown, thermometers] {
        assert_eq!(gaps(&farm, sort).await, "none", "{sort}");
    }
    may(&farm).await.says("No gap was found in what this ledger looks for:").says("Tests and inspections past their day");

    the_cow(&farm).await;
    the_room(&mut farm).await;
    the_desk(&mut farm).await;
    may(&farm).await.says("No gap was found in what this ledger looks for:");
}

async fn the_cow(farm: &Farm) {
    let (untimed, too_soon) = ("Treatments without a time for the milk", "Milk of a treated cow, too soon");
    let dose = [("cow", "Damson"), ("at", "2026-05-13T18:00"), ("product", "Udder tube"), ("as_labelled", "yes"), ("vet_figure", "no")];
    let number = farm.keep("treatments", &dose).await;
    assert_eq!((gaps(farm, untimed).await, gaps(farm, too_soon).await), ("1".into(), "none".into()), "one gap, and not one for each lot");
    may(farm).await.says("Nobody wrote how long milk stays out after Udder tube").says(&format!("href=\"/records/treatments/{number}\""));
    strike(farm, "treatments", number).await;
    let number = farm.keep("treatments", &[&dose[..], &[("milk_hours", "96")]].concat()).await;
    assert_eq!((gaps(farm, untimed).await, gaps(farm, too_soon).await), ("none".into(), "1".into()));
    strike(farm, "treatments", number).await;
    let number = farm.keep("treatments", &[&dose[..], &[("milk_hours", "6")]].concat()).await;
    assert_eq!((gaps(farm, untimed).await, gaps(farm, too_soon).await), ("none".into(), "none".into()));
    strike(farm, "treatments", number).await;
}

async fn the_room(farm: &mut Farm) {
    let unwashed = "Lots through a vessel nobody washed";
    let milking = [("session", "2026-05-13 PM"), ("started", "2026-05-13T17:40"), ("ended", "2026-05-13T18:05"), ("milker", "Mina")];
    farm.keep("milkings", &milking).await;
    let pail =
        [("milking", "2026-05-13 PM"), ("cow", "Kettle"), ("read", "20 lb"), ("milk", "20 lb"), ("went", "can"), ("vessel", "Can 1")];
    farm.keep("pails", &[&pail[..], &[("foremilk", "ok")]].concat()).await;
    assert_eq!(gaps(farm, unwashed).await, "1");
    may(farm).await.says("Milk of Wed 13 May 2026 PM went through the same vessel, Can 1, and no clean break");
    let wash = [("vessel", "Can 1"), ("at", "2026-05-13T19:00"), ("washed", "yes"), ("sanitised", "yes"), ("done_by", "Tobe")];
    farm.keep("breaks", &wash).await;
    assert_eq!(gaps(farm, unwashed).await, "none");

    let unsquare = "Lots whose jars do not square";
    let count = [("lot", "6134A-S"), ("gallons", "0"), ("quarts", "0"), ("pints", "0"), ("counter", "Mina")];
    farm.keep("counts", &[&count[..], &[("at", "2026-05-14T19:00"), ("half_gallons", "5")]].concat()).await;
    assert_eq!(gaps(farm, unsquare).await, "1");
    may(farm).await.says("1 half-gallon short at the count of");
    farm.keep("counts", &[&count[..], &[("at", "2026-05-14T19:30"), ("half_gallons", "6")]].concat()).await;
    assert_eq!(gaps(farm, unsquare).await, "none");

    let held = "Holds nobody lifted";
    let hold = farm.keep("holds", &[("at", "2026-05-14T19:40"), ("scope", "cow"), ("cow", "Wren"), ("reason", "a warm quarter")]).await;
    assert_eq!(gaps(farm, held).await, "1");
    may(farm).await.says("a warm quarter");
    farm.keep("lifts", &[("hold", &hold.to_string()), ("at", "2026-05-14T19:50"), ("reason", "stripped clean")]).await;
    assert_eq!(gaps(farm, held).await, "none");
}

async fn the_desk(farm: &mut Farm) {
    let late = "Records written more than 3 days late";
    farm.clock("2026-05-29T20:00");
    let wash = [("vessel", "Red Bucket"), ("washed", "yes"), ("sanitised", "yes"), ("done_by", "Tobe")];
    let (mut numbers, days) = (Vec::new(), ["2026-05-20T07:00", "2026-05-21T07:00", "2026-05-27T07:00"]);
    for at in days {
        numbers.push(farm.keep("breaks", &[&wash[..], &[("at", at)]].concat()).await);
    }
    assert_eq!(gaps(farm, late).await, "1", "two of one sitting are one gap, and two days late is not late");
    may(farm).await.says("clean break: 2 records").says("9 days later");
    for number in numbers {
        strike(farm, "breaks", number).await;
    }
    assert_eq!(gaps(farm, late).await, "none");

    let papers = "Permits and papers that ran out";
    farm.clock("2026-05-31T20:00");
    let permit = [("sort", "permit"), ("what", "Farm-gate permit")];
    let old = farm.keep("renewals", &[&permit[..], &[("done", "2026-05-30"), ("until", "2026-05-30")]].concat()).await;
    assert_eq!(gaps(farm, papers).await, "1");
    may(farm).await.says("It ran out after Sat 30 May 2026, and no other is written by Sun 31 May 2026.");
    let number = farm.keep("renewals", &[&permit[..], &[("done", "2026-05-30"), ("until", "2027-05-30")]].concat()).await;
    assert_eq!(gaps(farm, papers).await, "none");
    for number in [old, number] {
        strike(farm, "renewals", number).await;
    }

    let (tests, owed) = ("Tests and inspections past their day", "Answers to an official, late");
    let exam = [("sort", "TB test"), ("what", "Skin test"), ("done", "2026-05-28"), ("until", "2026-05-29")];
    let exam = farm.keep("renewals", &exam).await;
    assert!(gaps(farm, tests).await.starts_with('1'));
    strike(farm, "renewals", exam).await;
    let notice =
        [("sort", "records asked for by an official"), ("at", "2026-05-28T10:00"), ("sender", "The county"), ("due", "2026-05-29")];
    let notice = farm.keep("notices", &notice).await;
    assert_eq!(gaps(farm, owed).await, "1");
    strike(farm, "notices", notice).await;
    assert_eq!(
        (gaps(farm, tests).await.starts_with("none") || gaps(farm, tests).await == "not known", gaps(farm, owed).await),
        (true, "none".into())
    );
}

/// Where the rules ask a household to sign, whoever did not is a gap, by number; and a lot the rule holds for a test is one without it.
#[tokio::test]
async fn what_the_rules_ask_is_looked_for_and_what_they_do_not_is_not_known() {
    let mut farm = Farm::new().await;
    farm.clock("2026-05-14T20:00");
    good_day(&farm).await;
    reading(&farm, "Probe 1").await;
    let (lacks, held_for) = ("Papers a household lacks", "Lots held for a test, without one");
    assert_eq!((gaps(&farm, lacks).await, gaps(&farm, held_for).await), ("not known".into(), "none".into()));
    let typed = [("label", "M01"), ("name", "Orla Tremont"), ("sort", "member"), ("channel", "herdshare"), ("since", "2026-05-01")];
    farm.keep("people", &typed).await;
    let rules =
        [("place", "own"), ("since", "2026-05-01"), ("title", "Our county"), ("sure", "read in the law"), ("channels", "herdshare [read]")];
    let more = [
        ("needs", "boarding agreement, acknowledgment of risk [read]"),
        ("steps", "cool 40 °F within 120 min of milking end [read]"),
        ("limits", "coliforms at most 10 per mL, held until clear [read]"),
        ("tests", "plate count: 1 a month [read]"),
    ];
    farm.keep("rules", &[&rules[..], &more[..]].concat()).await;
    let page = may(&farm).await;
    page.says("Households, as the rules ask").says("no boarding agreement is signed").says("M01").never_says("Tremont");
    assert_eq!((gaps(&farm, lacks).await, gaps(&farm, held_for).await), ("3".into(), "1".into()));
    may(&farm).await.says("The rule holds it for coliforms");
    let bottle = [("drawn", "2026-05-14T07:00"), ("subject", "lot"), ("lot", "6134A-S"), ("asked", "coliforms")];
    let bottle = farm.keep("samples", &bottle).await.to_string();
    let result = [("sample", bottle.as_str()), ("analyte", "coliforms"), ("figure", "4"), ("unit", "per mL"), ("reported", "2026-05-14")];
    farm.keep("results", &result).await;
    assert_eq!(gaps(&farm, held_for).await, "none");
    let named = farm.visit(Role::Owner, "/binder/inspector?from=2026-05-01&to=2026-05-14&names=yes").await;
    named.came_with(200).says("M01 Orla Tremont");
    let paper = [("person", "M01"), ("given", "2026-05-01"), ("signed", "2026-05-01")];
    for sort in ["boarding agreement", "acknowledgment of risk", "bill of sale"] {
        farm.keep("agreements", &[&paper[..], &[("sort", sort)]].concat()).await;
    }
    assert_eq!(gaps(&farm, lacks).await, "none");
}

/// Source: RFC 4180 and OWASP, CSV Injection: a cell that a spreadsheet would run is made harmless; ISO/IEC 21320-1 for the archive,
/// which another program opens here.
#[tokio::test]
async fn the_folder_holds_every_file_its_page_lists_and_no_formula() {
    let farm = Farm::sample().await;
    let sent = crate::documents::send(&farm, Role::Owner, 1, "paper of Orla Tremont.pdf", b"%PDF-1.4 of somebody's").await;
    sent.came_with(303);
    farm.keep("renewals", &[("sort", "other"), ("what", "=HYPERLINK(1)"), ("done", "2026-11-02"), ("until", "2027-01-01")]).await;
    let drawn = farm.list("samples").await[0].cell(kind_of("samples"), "drawn").moment().unwrap();
    let first = farm.ways().await.zone.day(drawn).to_string();
    let page = farm.visit(Role::Owner, &format!("/binder/inspector.zip?from={first}&to=2026-11-21")).await;
    page.came_with(200);
    assert_eq!(page.kind, "application/zip");
    let at = tempfile::tempdir().unwrap();
    let file = at.path().join("binder.zip");
    std::fs::write(&file, &page.bytes).unwrap();
    let done = Command::new("unzip")
        .arg("-q")
        .arg(&file)
        .arg("-d")
        .arg(at.path())
        .status()
        .expect("this check needs unzip: apt-get install unzip");
    assert!(done.success());
    let inside = at.path().join(format!("binder-{first}-2026-11-21"));
    let index = std::fs::read_to_string(inside.join("index.html")).unwrap();
    let listed: Vec<&str> = index.match_indices("<a href=\"").map(|(at, _)| index[at + 9..].split('"').next().unwrap()).collect();
    assert!(index.contains("the farm’s own gaps stand first in it"), "{index}");
    assert!(listed.len() > 15 && listed.iter().any(|name| name.ends_with(".pdf")), "{listed:?}");
    for name in &listed {
        let bytes = std::fs::read(inside.join(name)).unwrap_or_else(|error| panic!("{name}: {error}"));
        assert!(index.contains(&tallypail::trade::book::sha256(&bytes)), "{name} has another hash");
        assert!(!name.ends_with(".csv") || !String::from_utf8_lossy(&bytes).contains("Tremont"), "{name} names somebody");
    }
    let paper = listed.iter().find(|name| name.starts_with("papers/")).expect("the lab's paper is in the folder");
    assert_eq!(std::fs::read(inside.join(paper)).unwrap(), b"%PDF-1.4 of somebody's");
    let papers = std::fs::read_to_string(inside.join("tables/04-papers.csv")).unwrap();
    assert!(papers.contains(",'=HYPERLINK(1),") && !papers.contains(",=HYPER"), "{papers}");
}

/// Nobody reads more than that in the time an inspection leaves: our own choice.
#[tokio::test]
async fn a_year_is_no_longer_than_forty_leaves() {
    let farm = Farm::sample().await;
    let files = folder(&farm, "2025-11-22", "2026-11-21").await;
    let at = tempfile::tempdir().unwrap();
    let file = at.path().join("binder.pdf");
    std::fs::write(&file, &files["binder-2025-11-22-2026-11-21.pdf"]).unwrap();
    let said =
        Command::new("pdftotext").arg("-layout").arg(&file).arg("-").output().expect("pdftotext, of poppler-utils, must be installed");
    let text = String::from_utf8(said.stdout).unwrap();
    let leaves: Vec<&str> = text.trim_end_matches('\u{c}').split('\u{c}').collect();
    assert!((20..=40).contains(&leaves.len()), "{} leaves", leaves.len());
    for words in ["Careful starting rules", "own gaps", "It is no finding that a law was not kept", "Lots not shown to be cold in time"] {
        assert!(leaves[0].contains(words), "no “{words}” on page one:\n{}", leaves[0]);
    }
}

#[tokio::test]
async fn days_that_cannot_be_are_told() {
    let farm = Farm::new().await;
    assert!(at("2026-05-14T12:00") == farm.now);
    // The form stands there again with what was typed, and the sentence on the day it is about.
    let (first, last) = ("id=\"f-from-remark\"", "id=\"f-to-remark\"");
    let page = farm.visit(Role::Owner, "/binder/inspector?from=2026-05-14&to=2026-05-01&names=yes").await;
    page.came_with(422).says("comes after the last").says("action=\"/binder/inspector\"").says(last).never_says(first);
    page.says("value=\"2026-05-14\"").says("value=\"2026-05-01\"").says("value=\"yes\" checked").never_says("/binder/inspector.zip");
    farm.visit(Role::Owner, "/binder/inspector?from=someday").await.came_with(422).says(first).says("value=\"someday\"");
    let empty = farm.visit(Role::Owner, "/binder/inspector?from=&to=2026-05-10").await;
    empty.came_with(422).says("Choose the first day the binder shows.").says(first).never_says("is not a date");
    farm.visit(Role::Owner, "/binder/inspector?from=2026-05-10&to=").await.came_with(422).says("Choose the last day the binder shows.");
    // Of days that have not come nothing is written, and that is no binder without a gap.
    let page = farm.visit(Role::Owner, "/binder/inspector?from=2062-11-01&to=2062-11-21").await;
    page.came_with(422).says(first).says(last).never_says("No gap was found");
    page.says("Tue 21 Nov 2062 has not come yet: the binder shows what was written until today.");
    let page = farm.visit(Role::Owner, "/binder/inspector?from=2026-05-01&to=2026-05-15").await;
    page.came_with(422).says("Fri 15 May 2026 has not come yet").says(last).never_says(first);
    for end in ["pdf", "csv", "json", "zip"] {
        let page = farm.visit(Role::Owner, &format!("/binder/inspector.{end}?from=2026-05-01&to=2062-11-21")).await;
        page.came_with(422).says("No file of those days").says("has not come yet");
    }
    let said = reports::binder(&farm.ledger, (None, Some(day("2062-11-21"))), false, farm.now).await.unwrap_err();
    assert!(said.to_string().contains("has not come yet"), "{said}");
    farm.visit(Role::Owner, "/binder/inspector").await.came_with(200).says("value=\"2026-01-01\"").says("No lot was filled in these days.");
}

/// What it says of itself holds: what is left out of it, what is taken out of it, and what stays.
#[tokio::test]
async fn what_it_leaves_out_is_told_as_it_is() {
    let farm = Farm::sample().await;
    let typed = "Tobe found it; Orla Tremont rang from 555-0101, and Orla rang again";
    farm.keep("holds", &[("at", "2026-11-21T10:00"), ("scope", "lot"), ("lot", "6325A-Z"), ("reason", typed)]).await;
    farm.keep("complaints", &[("at", "2026-11-20T10:00"), ("person", "M01"), ("says", "a bitter taste"), ("taken_by", "Mina")]).await;
    let page = farm.visit(Role::Owner, "/binder/inspector").await;
    page.says("stands under Agreements and is no part of this binder").never_says("households are no part of this binder");
    page.says("The complaint itself is not shown; the reasons of holds and call-backs are, as they were written but for")
        .never_says("a bitter taste");
    page.says("A first name alone stays, and so do the names of people who work here.");
    page.says("Tobe found it; (a household) rang from (a household), and Orla rang again");
    farm.visit(Role::Owner, "/binder/pass").await.says("A first name alone stays, and so do the names of people who work here.");
    let named = farm.visit(Role::Owner, "/binder/inspector?names=yes").await;
    named.says("as they were written.").says(typed);
}

/// A day is said as people say it, wherever the program says it: never `2026-05-14`.
#[tokio::test]
async fn no_day_in_it_is_written_as_a_file_writes_it() {
    let farm = Farm::sample().await;
    // A milking that nobody washed after is named by its day.
    let mut db = SqliteConnectOptions::new().filename(farm.file()).connect().await.unwrap();
    sqlx::query("DELETE FROM breaks WHERE number % 13 = 0").execute(&mut db).await.unwrap();
    db.close().await.unwrap();
    let page = farm.visit(Role::Owner, "/binder/inspector.csv").await;
    page.came_with(200).says("went through the same vessel").says("followed from Mon 1 Sep 2025");
    let days: Vec<&str> = page.text.split(|c: char| !c.is_ascii_digit() && c != '-').filter(|word| parse_day(word).is_ok()).collect();
    assert!(days.is_empty(), "{days:?}");
}

/// Of days before the records began nothing can be found, and the page says so and says it once.
#[tokio::test]
async fn days_of_which_nothing_is_written_are_not_taken_for_days_in_order() {
    let farm = Farm::sample().await;
    let page = farm.visit(Role::Owner, "/binder/inspector?from=1999-01-01&to=1999-02-01").await;
    page.came_with(200).says("No lot is written down for these days: where no gap is found, there was nothing to look at.");
    assert_eq!(page.text.matches("No rule set is written for these days, so no chill can be judged.").count(), 1);
    farm.visit(Role::Owner, "/binder/inspector?from=2026-10-22&to=2026-11-21").await.never_says("there was nothing to look at");
}
