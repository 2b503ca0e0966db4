//! The call-back, from the sample farm through the front door.
//!
//! Who has the milk and where every jar is are reckoned a second time by SQLite's command line (`sqlite3`, with
//! `tests/outside/trace.sql`) from the exported farm folder; the paper is read back with `pdftotext` (poppler-utils).
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test that cannot read its own figures should stop")]

use axum::{
    body::Body,
    http::{Request, StatusCode},
};
use http_body_util::BodyExt;
use std::{
    collections::{BTreeMap, BTreeSet},
    io::Write,
    path::Path,
    process::{Command, Stdio},
};
use tallypail::{
    pages::{App, open, trace::report},
    paper::{folder, sample},
    store::{Ledger, hands, records},
    trade::{
        figures::{Part, Sheet, Table},
        when::{Moment, Zone},
    },
    web::{clock::Clock, secret},
};
use tempfile::TempDir;
use tower::ServiceExt;

/// The household of the complaint, and the day its jar was picked up.
const TOLD: (&str, &str) = ("M05", "2026-08-18");

fn afternoon() -> Moment {
    Zone::UTC.parse_moment("2026-11-21T15:05:00-05:00").unwrap()
}

struct Farm {
    _folder: TempDir,
    ledger: Ledger,
}

/// The sample farm in a ledger of its own, with an owner and a helper signed in.
async fn farm() -> Farm {
    let folder = TempDir::new().unwrap();
    let ledger = Ledger::open(&folder.path().join("farm.ledger")).await.unwrap();
    let book = folder::read(&sample::files(), afternoon(), "import").unwrap();
    let mut tx = ledger.begin().await.unwrap();
    let act = records::act(&mut tx, afternoon(), "import", "farm folder").await.unwrap();
    records::import(&mut tx, &book, &act).await.unwrap();
    for (name, role) in [("Mina", "owner"), ("Tobe", "helper")] {
        let hand = hands::Hand { name: name.to_owned(), role: role.to_owned(), secret: "none".to_owned() };
        hands::record(&mut tx, &hand, afternoon()).await.unwrap();
        let until = afternoon().plus_hours(9);
        hands::open_session(&mut tx, name, &secret::remembered(name), &format!("seal of {name}"), afternoon(), until).await.unwrap();
    }
    tx.commit().await.unwrap();
    Farm { _folder: folder, ledger }
}

impl Farm {
    async fn send(&self, who: &str, address: &str, form: Option<&str>) -> (StatusCode, Vec<u8>) {
        let (router, _) = open(App::new(self.ledger.clone(), Clock::Stopped(afternoon())));
        let request = Request::builder().uri(address).header("cookie", format!("tallypail_session={who}"));
        let request = match form {
            Some(form) => {
                let kind = "application/x-www-form-urlencoded";
                request.method("POST").header("content-type", kind).body(Body::from(form.to_owned()))
            }
            None => request.body(Body::empty()),
        };
        let answer = router.oneshot(request.unwrap()).await.unwrap();
        (answer.status(), answer.into_body().collect().await.unwrap().to_bytes().to_vec())
    }

    async fn page(&self, who: &str, address: &str) -> (StatusCode, String) {
        let (status, bytes) = self.send(who, address, None).await;
        (status, String::from_utf8(bytes).unwrap())
    }

    async fn export(&self) -> TempDir {
        let to = TempDir::new().unwrap();
        let book = records::book(&mut self.ledger.read().await.unwrap()).await.unwrap();
        for (name, bytes) in folder::write(&book) {
            std::fs::write(to.path().join(name), bytes).unwrap();
        }
        to
    }
}

/// What SQLite's command line says of these lots: for each, its lines.
fn outside(folder: &Path, lots: &[String]) -> BTreeMap<String, BTreeSet<Vec<String>>> {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/outside/trace.sql");
    let mut sqlite = Command::new("sqlite3")
        .args(["-batch", ":memory:"])
        .current_dir(folder)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("sqlite3, SQLite's command line, must be installed");
    let mut stdin = sqlite.stdin.take().unwrap();
    writeln!(stdin, "CREATE TABLE asked (lot TEXT);").unwrap();
    for lot in lots {
        writeln!(stdin, "INSERT INTO asked VALUES ('{lot}');").unwrap();
    }
    writeln!(stdin, ".read '{}'", script.display()).unwrap();
    drop(stdin);
    let out = sqlite.wait_with_output().unwrap();
    assert!(out.status.success());
    let mut said: BTreeMap<String, BTreeSet<Vec<String>>> = BTreeMap::new();
    for line in String::from_utf8(out.stdout).unwrap().lines() {
        let mut cells = line.split('|').map(str::to_owned);
        said.entry(cells.next().unwrap()).or_default().insert(cells.collect());
    }
    said
}

fn table<'a>(sheet: &'a Sheet, name: &str) -> &'a Table {
    let tables = sheet.parts.iter().filter_map(|part| if let Part::Table(table) = part { Some(table) } else { None });
    tables.into_iter().find(|table| table.name == name).unwrap()
}

/// A table as columns by name, row by row.
fn rows(table: &Table) -> Vec<BTreeMap<&str, &str>> {
    let named = |row: &'_ [tallypail::trade::figures::Cell]| row.len() == table.columns.len();
    assert!(table.rows.iter().all(|row| named(row)));
    table
        .rows
        .iter()
        .map(|row| table.columns.iter().map(|c| c.name.as_str()).zip(row.iter().map(|cell| cell.says.as_str())).collect())
        .collect()
}

const SIZES: [&str; 4] = ["Gallons", "Half-gallons", "Quarts", "Pints"];

/// The places of the balance, as the sheet and the outside reckoning call them.
const PLACES: [(&str, &str); 11] = [
    ("Filled", "filled"),
    ("Handed out", "handed out"),
    ("House", "household"),
    ("Calf", "calf"),
    ("Made into", "made"),
    ("Sample", "sample"),
    ("Shelf jar", "shelf jar"),
    ("Broken", "broken"),
    ("Thrown out", "thrown out"),
    ("Brought back", "returned"),
    ("Counted on hand", "on hand"),
];

/// What the sheet says, in the words of the outside reckoning. Places with no jar are left out on both sides.
fn inside(sheet: &Sheet) -> BTreeSet<Vec<String>> {
    let mut said = BTreeSet::new();
    for row in rows(table(sheet, "lots")) {
        said.insert(vec!["lot".to_owned(), row["Lot"].to_owned(), row["Tie"].to_owned()]);
    }
    let handed = table(sheet, "handouts");
    for (row, cells) in rows(handed).iter().zip(&handed.rows) {
        let number = cells[0].opens.as_deref().unwrap().trim_start_matches("/records/pickups/");
        let who = row["To"].split(' ').next().filter(|label| *label != "an").unwrap_or("");
        let jars = SIZES.iter().map(|size| (*row.get(size).unwrap_or(&"0")).to_owned());
        said.insert(["handed", number, row["Lot"], who].into_iter().map(str::to_owned).chain(jars).collect());
    }
    let mut figures: BTreeMap<(String, String), [i64; 4]> = BTreeMap::new();
    for row in rows(table(sheet, "balance")) {
        let size = SIZES.iter().position(|size| *size == row["Jars"]).unwrap();
        for (column, place) in PLACES {
            if let Some(figure) = row.get(column).and_then(|figure| figure.parse::<i64>().ok()) {
                figures.entry((place.to_owned(), row["Lot"].to_owned())).or_default()[size] = figure;
            }
        }
        let off = match row["Balance"].split_once(' ') {
            Some((figure, "short")) => figure.parse().unwrap(),
            Some((figure, "over")) => -figure.parse::<i64>().unwrap(),
            _ => 0,
        };
        if row["Balance"] != "not counted" {
            figures.entry(("off".to_owned(), row["Lot"].to_owned())).or_default()[size] = off;
        }
    }
    said.extend(
        figures.into_iter().map(|((place, lot), jars)| [place, lot].into_iter().chain(jars.map(|figure| figure.to_string())).collect()),
    );
    without_nothing(said)
}

fn without_nothing(said: BTreeSet<Vec<String>>) -> BTreeSet<Vec<String>> {
    said.into_iter()
        .filter(|line| matches!(line[0].as_str(), "lot" | "handed" | "off") || line[2..].iter().any(|figure| figure != "0"))
        .collect()
}

/// Source: SQLite's command line on the exported folder, with recursive common table expressions of its own.
#[tokio::test]
async fn recipients_spread_and_balance_agree_to_the_jar() {
    let farm = farm().await;
    let folder = farm.export().await;
    let book = records::book(&mut farm.ledger.read().await.unwrap()).await.unwrap();
    let kind = tallypail::trade::kinds::kind("lots").unwrap();
    let of = |record: &tallypail::trade::records::Record, column: &str| record.cell(kind, column).text().to_owned();
    // The complaint's lot, the two lots with no clean break between them, the lot two jars went missing from, every cream
    // lot, and one lot in forty.
    let special = ["6227B-6", "6195A-9", "6196A-5", "6238A-V"];
    let asked: Vec<String> = book
        .of("lots")
        .iter()
        .enumerate()
        .filter(|(nth, lot)| nth % 40 == 0 || !of(lot, "made").is_empty() || special.contains(&of(lot, "code").as_str()))
        .map(|(_, lot)| of(lot, "code"))
        .collect();
    let mut said = outside(folder.path(), &asked);
    let (mut spread, mut possible, mut made) = (0, 0, 0);
    for lot in &asked {
        let sheet = report(&farm.ledger, lot, afternoon()).await.unwrap();
        let expected = without_nothing(said.remove(lot).unwrap());
        let found = inside(&sheet);
        let missing: Vec<_> = expected.difference(&found).collect();
        let extra: Vec<_> = found.difference(&expected).collect();
        assert!(missing.is_empty() && extra.is_empty(), "{lot}: outside only {missing:?}; inside only {extra:?}");
        spread += usize::from(table(&sheet, "lots").rows.len() > 1);
        possible += usize::from(rows(table(&sheet, "lots")).iter().any(|row| row["Tie"] == "possible"));
        made += usize::from(rows(table(&sheet, "balance")).iter().any(|row| row.get("Made into").is_some_and(|figure| *figure != "0")));
    }
    assert!(asked.len() > 30 && spread > 10 && possible >= 2 && made > 0, "{} {spread} {possible} {made}", asked.len());
}

/// Source: 21 CFR 7.49 for what a call-back must say (product and lot; stop; what to do; how to answer), and the sample
/// farm's own records for who must be on it.
#[tokio::test]
async fn a_name_and_a_day_list_every_other_household() {
    let farm = farm().await;
    let folder = farm.export().await;
    let (status, page) = farm.page("Mina", &format!("/trace?person={}&day={}", TOLD.0, TOLD.1)).await;
    assert_eq!(status, StatusCode::OK);
    let taken = std::fs::read_to_string(folder.path().join("pickups.csv")).unwrap();
    let theirs =
        taken.lines().map(|line| line.split(',').collect::<Vec<_>>()).filter(|cells| cells[1].starts_with(TOLD.1) && cells[3] == TOLD.0);
    let lots: Vec<String> = theirs.map(|cells| cells[2].to_owned()).collect();
    let lines: Vec<_> = outside(folder.path(), &lots).into_values().flatten().collect();
    let others: BTreeSet<&str> =
        lines.iter().filter(|line| line[0] == "handed" && line[3] != TOLD.0).map(|line| line[3].as_str()).collect();
    assert!(!others.is_empty(), "{lots:?} {others:?}");
    let ring = page.split("Everybody who has that milk").nth(1).unwrap().split("</table>").next().unwrap();
    let people = std::fs::read_to_string(folder.path().join("people.csv")).unwrap();
    for label in others {
        let phone = people
            .lines()
            .find(|line| line.split(',').nth(1) == Some(label))
            .unwrap()
            .split(',')
            .find(|cell| cell.starts_with("555-"))
            .unwrap();
        assert!(ring.contains(&format!(">{label} ")) && ring.contains(phone), "{label} {phone}");
    }
    assert!(!ring.contains(&format!(">{} ", TOLD.0)), "whoever told us need not be rung");
    assert!(page.contains("cannot be excluded") && page.contains("doctor first") && !page.contains("the cause of"));
}

/// A day with nothing written down gives only possible lots, says so, and offers the nearest days.
#[tokio::test]
async fn a_day_with_nothing_written_down_is_said_to_be_a_guess() {
    let farm = farm().await;
    let (status, page) = farm.page("Mina", "/trace?person=M05&day=2026-08-19").await;
    assert_eq!(status, StatusCode::OK);
    assert!(page.contains("Nothing is written down as handed out to M05"));
    assert!(page.contains("/trace?person=M05&#38;day=2026-08-18") || page.contains("/trace?person=M05&amp;day=2026-08-18"));
    assert!(page.contains("0 certain, "));
}

/// Source: pdftotext, of poppler-utils.
#[tokio::test]
async fn the_paper_holds_phones_jars_evidence_balance_and_the_notice() {
    let farm = farm().await;
    let (status, bytes) = farm.send("Mina", "/trace/6195A-9.pdf", None).await;
    assert_eq!(status, StatusCode::OK);
    let folder = TempDir::new().unwrap();
    let file = folder.path().join("trace.pdf");
    std::fs::write(&file, bytes).unwrap();
    let out =
        Command::new("pdftotext").arg("-layout").arg(&file).arg("-").output().expect("pdftotext, of poppler-utils, must be installed");
    let text = String::from_utf8(out.stdout).unwrap().split_whitespace().collect::<Vec<_>>().join(" ");
    for wanted in [
        "555-0118",
        "m18@example.org",
        "signed",
        "seen",
        "an unknown",
        "squares",
        "6196A-5",
        "no clean break",
        "Tansy County Health Department",
    ] {
        assert!(text.contains(wanted), "{wanted} is not in: {text}");
    }
    assert!(text.contains("Follow your local raw-milk law.") && text.contains("Page 1 of"));
}

#[tokio::test]
async fn a_helper_and_a_stranger_see_none_of_it() {
    let farm = farm().await;
    for address in [
        "/trace",
        "/trace/6195A-9",
        "/trace/6195A-9.csv",
        "/trace.json?person=M05&day=2026-08-18",
        "/binder",
        "/binder/complaints",
        "/binder/journal",
    ] {
        let (status, page) = farm.page("Tobe", address).await;
        assert_eq!(status, StatusCode::FORBIDDEN, "{address}");
        assert!(!page.contains("555-0"), "{address}");
        assert_eq!(farm.page("nobody", address).await.0, StatusCode::SEE_OTHER, "{address}");
        assert_eq!(farm.page("Mina", address).await.0, StatusCode::OK, "{address}");
    }
    let form = "seal=seal+of+Tobe&entry=x&certain=6195A-9";
    assert_eq!(farm.send("Tobe", "/trace/hold", Some(form)).await.0, StatusCode::FORBIDDEN);
}

/// A mistyped code is never corrected in silence: the codes one character away are offered.
#[tokio::test]
async fn a_slipped_code_offers_the_near_ones() {
    let farm = farm().await;
    for address in ["/trace?lot=6195A-8", "/trace/6195A-8", "/trace/6195A-8.pdf"] {
        let (status, page) = farm.page("Mina", address).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
        assert!(page.contains("href=\"/trace/6195A-9\""), "{address}");
    }
    for typed in ["", "%F0%9F%90%84", "%00", "6195A-9%27%3B--", &"9".repeat(3000)] {
        let (status, _) = farm.page("Mina", &format!("/trace?lot={typed}")).await;
        assert!(status == StatusCode::OK || status == StatusCode::UNPROCESSABLE_ENTITY, "{typed} {status}");
    }
}

/// All lots of a trace are held in one act; the same form sent twice holds them once.
#[tokio::test]
async fn stopping_all_lots_holds_each_once() {
    let farm = farm().await;
    let before = records::book(&mut farm.ledger.read().await.unwrap()).await.unwrap().of("holds").len();
    let form = |more: &str| {
        format!(
            "seal=seal+of+Mina&entry=8c7d1f2e-0000-4000-8000-000000000001&certain=6195A-9&possible=6196A-5&reason=test&back=%2Ftrace%2F6195A-9{more}"
        )
    };
    for _ in 0..2 {
        assert_eq!(farm.send("Mina", "/trace/hold", Some(&form("&with_possible=yes"))).await.0, StatusCode::SEE_OTHER);
    }
    let book = records::book(&mut farm.ledger.read().await.unwrap()).await.unwrap();
    assert_eq!(book.of("holds").len(), before + 2);
    let (_, page) = farm.page("Mina", "/trace/6195A-9").await;
    assert!(page.contains("Every lot listed here is held already."));
    let forged = form("").replace("seal+of+Mina", "another");
    assert_eq!(farm.send("Mina", "/trace/hold", Some(&forged)).await.0, StatusCode::FORBIDDEN);
}
