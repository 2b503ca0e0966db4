//! The report of what a half-gallon costs: worked out a second time by SQLite's own program from the exported folder, by
//! hand on a few small books, and opened figure by figure down to the records.

use axum::{Router, body::Body, http::Request};
use http_body_util::BodyExt;
use rust_decimal::Decimal;
use serde_json::Value;
use std::{
    collections::{BTreeMap, BTreeSet},
    io::Write,
    path::Path,
    process::{Command, Stdio},
};
use tallypail::{
    pages::{self, App, reports},
    paper::{folder, sample},
    settings::Task,
    store::{Ledger, hands, records},
    trade::{
        account::{Books, from_tickets},
        bills::{Owned, Paid},
        costs::{Gap, Per},
        costsheet,
        figures::Part,
        lines::View,
        months::Asked,
        went::{Flow, Went},
        when::{Moment, Zone},
    },
    web::{clock::Clock, secret},
};
use tower::ServiceExt;

use crate::costbooks::{assumed, covering, day, figure, june, money, owned, paid, spent};

const AFTERNOON: &str = "2026-11-21T15:05:00-05:00";

fn afternoon() -> Moment {
    Zone::UTC.parse_moment(AFTERNOON).unwrap()
}

async fn sample_farm(at: &Path) -> Ledger {
    let ledger = Ledger::open(&at.join("farm.ledger")).await.unwrap();
    let book = folder::read(&sample::files(), afternoon(), "import").unwrap();
    let mut tx = ledger.begin().await.unwrap();
    let act = records::act(&mut tx, afternoon(), "import", "farm folder").await.unwrap();
    records::import(&mut tx, &book, &act).await.unwrap();
    tx.commit().await.unwrap();
    ledger
}

/// What SQLite's own program makes of the exported folder in these days, reckoned up to a day.
pub fn outside(folder: &Path, from: &str, to: &str, until: &str) -> BTreeMap<String, String> {
    let script = format!(
        ".bail on\n.param init\n.param set :from \"'{from}'\"\n.param set :to \"'{to}'\"\n.param set :until \"'{until}'\"\n{}",
        include_str!("outside/cost.sql")
    );
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

/// Writes everything a ledger holds into a folder.
pub async fn exported(ledger: &Ledger, at: &Path) {
    let book = records::book(&mut ledger.read().await.unwrap()).await.unwrap();
    for (name, bytes) in folder::write(&book) {
        std::fs::write(at.join(name), bytes).unwrap();
    }
}

/// The report of these days as the program prints it.
async fn printed(ledger: &Ledger, from: Option<&str>, to: &str) -> Value {
    let task = Task::Report {
        name: "cost".into(),
        from: from.map(day),
        to: Some(day(to)),
        changes: None,
        lot: None,
        household: None,
        form: "json".into(),
    };
    serde_json::from_slice(&reports::print(ledger, &task, afternoon()).await.unwrap()).unwrap()
}

fn cell(report: &Value, table: &str, row: usize, column: &str) -> String {
    report["tables"][table]["rows"][row][column].as_str().unwrap_or_default().to_owned()
}

/// Source: SQLite 3's command-line program over the exported CSV files, by the rules written beside the reckoning; see
/// `tests/outside/cost.sql`. To the cent, and to a tenth of a half-gallon.
#[tokio::test]
async fn another_program_comes_to_the_same_cent() {
    let at = tempfile::tempdir().unwrap();
    let ledger = sample_farm(at.path()).await;
    exported(&ledger, at.path()).await;
    let spans = [
        (None, "2025-11-22", "2026-11-21"),
        (Some("2026-06-01"), "2026-06-01", "2026-08-31"),
        (Some("2026-06-19"), "2026-06-19", "2026-06-19"),
        (Some("2025-09-01"), "2025-09-01", "2026-11-21"),
        (Some("2026-02-28"), "2026-02-28", "2026-03-09"),
    ];
    for (asked, from, to) in spans {
        let theirs = outside(at.path(), from, to, "2026-11-21");
        let ours = printed(&ledger, asked, to).await;
        let table = if asked.is_none() { "year" } else { "span" };
        for (row, view) in ["cash", "wear", "hours"].into_iter().enumerate() {
            assert_eq!(cell(&ours, table, row, "All of it"), theirs[view], "{view}, {from} to {to}");
            assert_eq!(
                ours["tables"]["lines"]["total"][["Cash out", "With wear", "With hours"][row]],
                theirs[view].as_str(),
                "{view}, {from} to {to}"
            );
        }
        for (column, milk) in [("Produced", "produced"), ("Fit to hand out", "fit"), ("Handed out", "reached")] {
            let none = if cell(&ours, table, 3, column) == "none" { "0.0".to_owned() } else { cell(&ours, table, 3, column) };
            assert_eq!(none, theirs[milk], "{milk}, {from} to {to}");
        }
        assert_eq!(theirs["pails in another unit"], "0", "the query reads pounds and kilograms only");
        if asked.is_none() {
            assert_eq!(cell(&ours, table, 2, "Handed out"), theirs["each"]);
            let loud = ours["words"].to_string();
            assert!(loud.contains(&format!("you earned ${} an hour.", theirs["hour"])), "{}: {loud}", theirs["hour"]);
        }
    }
}

async fn get(app: &Router, path: &str, token: &str) -> (u16, Vec<u8>) {
    let request = Request::builder().uri(path).header("cookie", format!("{}={token}", pages::SESSION)).body(Body::empty()).unwrap();
    let answer = app.clone().oneshot(request).await.unwrap();
    (answer.status().as_u16(), answer.into_body().collect().await.unwrap().to_bytes().to_vec())
}

/// The addresses a page links to within the costs and the records.
fn links(page: &[u8]) -> BTreeSet<String> {
    let text = String::from_utf8_lossy(page).replace("&#38;", "&").replace("&amp;", "&");
    let hrefs = text.split("href=\"").skip(1).filter_map(|rest| rest.split('"').next());
    hrefs.filter(|href| href.starts_with("/costs") || href.starts_with("/records")).map(str::to_owned).collect()
}

async fn open_app(ledger: Ledger, role: &str) -> (Router, String) {
    let token = secret::token();
    let mut tx = ledger.begin().await.unwrap();
    let hand = hands::Hand { name: "Mina".into(), role: role.into(), secret: "none".into() };
    hands::record(&mut tx, &hand, afternoon()).await.unwrap();
    let until = afternoon().plus_hours(24);
    hands::open_session(&mut tx, "Mina", &secret::remembered(&token), "seal", afternoon(), until).await.unwrap();
    tx.commit().await.unwrap();
    let app = App::new(ledger, Clock::Stopped(afternoon()));
    (pages::open(app).0, token)
}

/// Every figure opens what it is made of, and that opens its records; each of them is there.
#[tokio::test]
async fn every_figure_opens() {
    let at = tempfile::tempdir().unwrap();
    let (app, token) = open_app(sample_farm(at.path()).await, "owner").await;
    let mut seen: BTreeSet<String> = BTreeSet::new();
    let mut deeper: BTreeSet<String> = BTreeSet::new();
    for start in ["/costs", "/costs?from=2026-06-01&to=2026-08-31"] {
        let (status, page) = get(&app, start, &token).await;
        assert_eq!(status, 200, "{start}");
        for address in links(&page) {
            if seen.insert(address.clone()) {
                let (status, page) = get(&app, &address, &token).await;
                assert_eq!(status, 200, "{address} on {start}");
                // A list of five hundred hand-outs is not walked whole: some of its records stand for all.
                deeper.extend(links(&page).into_iter().filter(|address| address.starts_with("/records/")).take(3));
            }
        }
    }
    assert!(seen.len() > 100, "only {} figures open", seen.len());
    let mut kinds: BTreeSet<String> = BTreeSet::new();
    for address in deeper.difference(&seen) {
        assert_eq!(get(&app, address, &token).await.0, 200, "{address}");
        kinds.extend(address.strip_prefix("/records/").and_then(|rest| rest.split('/').next()).map(str::to_owned));
    }
    for kind in ["tickets", "gear", "minutes", "assumptions", "pails", "lots", "pickups", "asides"] {
        assert!(
            kinds.contains(kind) || seen.iter().any(|address| address.starts_with(&format!("/records/{kind}"))),
            "no figure opens {kind}: {kinds:?}"
        );
    }
}

/// Every form of the report, and only for the owner.
#[tokio::test]
async fn the_report_prints_and_is_the_owners() {
    let at = tempfile::tempdir().unwrap();
    let ledger = sample_farm(at.path()).await;
    let (app, token) = open_app(ledger.clone(), "owner").await;
    let (_, csv) = get(&app, "/costs.csv?from=2026-06-01&to=2026-08-31", &token).await;
    assert!(String::from_utf8_lossy(&csv).contains("name,cost-2026-06-01-2026-08-31"));
    let (_, json) = get(&app, "/costs.json", &token).await;
    let page: Value = serde_json::from_slice(&json).unwrap();
    assert_eq!(page["tables"], printed(&ledger, None, "2026-11-21").await["tables"], "the page and the command say the same");
    let (_, pdf) = get(&app, "/costs.pdf", &token).await;
    assert!(pdf.starts_with(b"%PDF"));
    let (status, wrong) = get(&app, "/costs?from=soon&to=2027-01-01", &token).await;
    assert_eq!(status, 422);
    let wrong = String::from_utf8_lossy(&wrong);
    assert!(wrong.contains("value=\"soon\"") && wrong.contains("has not come yet"), "what was typed stays, and both are said");
    assert_eq!(get(&app, "/costs/lines/nothing", &token).await.0, 404);
    let (helper, token) = open_app(ledger, "helper").await;
    for path in ["/costs", "/costs.csv", "/costs.pdf", "/costs.json", "/costs/lines/feed", "/costs/milk/handed-out"] {
        assert_eq!(get(&helper, path, &token).await.0, 403, "{path}");
    }
}

/// Small books: hay for four months of which June is one, a calf, a half-used tractor, an hour hired and two not.
fn books() -> Books {
    let flows = [(Flow::Produced, 300), (Flow::Filled, 228), (Flow::HandedOut, 221), (Flow::Returned, 1)];
    Books {
        tickets: vec![
            Paid { milk_share: 80, ..covering("feed", "1220.00", "2026-03-01", ("2026-06-01", "2026-09-30")) },
            covering("feed", "90.00", "2026-06-10", ("2026-07-01", "2026-07-31")),
            paid("lab", "25.00", "2026-06-09"),
            covering("calf sold", "200.00", "2026-06-20", ("2026-06-20", "2026-06-20")),
            covering("calf sold", "-50.00", "2026-06-21", ("2026-06-21", "2026-06-21")),
        ],
        gear: vec![Owned { milk_share: 50, ..owned("Tractor", false, "2026-01-01", ("3600.00", "0.00", 10)) }],
        minutes: vec![
            spent("milking", "Joss", 60, "2026-06-05", Some("18.00")),
            spent("milking", "Mina", 100, "2026-06-05", None),
            spent("records", "Mina", 20, "2026-06-05", None),
        ],
        assumed: vec![assumed("payroll burden %", "2026-01-01", "7.65"), assumed("a half-gallon brings", "2026-01-01", "5")],
        milk: vec![(
            june(),
            Went { flows: flows.map(|(flow, amount)| (flow, Decimal::from(amount))).to_vec(), on_hand_before: Decimal::ZERO },
        )],
        until: day("2026-12-31"),
        ..Books::default()
    }
    .settled()
}

/// Worked by hand. Hay used in June: 1,220 × 30/122 × 80 % = 240.00. Tractor: 3,600/10 ÷ 12 × 50 % = 15.00. The calves
/// are written for one day, so that they are all of June. Hired:
/// 18 × 1.0765 = 19.377. Cash: 90 + 25 − 200 − 50 + 19.38 = −115.62. Used: 240 + 25 − 250 + 19.38 + 15 = 49.38.
#[test]
fn small_books_by_hand() {
    let account = books().account(june());
    assert_eq!(account.total(View::Cash), Ok(money("-115.62")));
    assert_eq!(account.total(View::Wear), Ok(money("49.38")));
    assert_eq!(account.total(View::Hours), Err(Gap::NoWage), "no wage is not a wage of nothing");
    assert_eq!(account.milk.of(Per::Reached), Ok(Decimal::from(220)));
    // 220 × 5 less 49.38, over two hours.
    assert_eq!(account.return_an_hour(), Ok(figure("525.31")));
    let mut named = books();
    named.assumed.push(assumed("worth of an hour", "2026-07-01", "16"));
    // Named later, it still counts: 49.38 + 2 h × 16.
    assert_eq!(named.account(june()).total(View::Hours), Ok(money("81.38")));
    // By size: 240 + 25 + 250 + 19.38 of that and 15.00 of wear.
    assert_eq!(from_tickets(&account, View::Wear).map(|share| share.round_dp(1)), Some(figure("97.3")));
}

fn said(books: &Books, asked: Asked) -> String {
    let sheet = costsheet::sheet(books, asked, "Tansyditch Farm");
    let words = sheet.parts.iter().filter_map(|part| match part {
        Part::Words(says) | Part::Loud(says) => Some(says.clone()),
        _ => None,
    });
    words.collect::<Vec<_>>().join("\n")
}

/// A month without feed or minutes is said aloud, as is whatever cannot be reckoned as it is written.
#[test]
fn what_is_missing_is_said() {
    let asked = Asked::between(None, None, day("2026-08-31"), Some(day("2026-04-01")));
    let words = said(&books(), asked);
    assert!(words.contains("No feed is written down for April to May 2026."), "{words}");
    assert!(words.contains("No hours for April to May 2026 and July to August 2026."), "{words}");
    assert!(words.contains("Records start on 1 Apr 2026"), "{words}");
    assert!(words.contains("name what your hour is worth"), "{words}");
    let mut odd = books();
    odd.gear[0].salvage = money("4000.00");
    odd.tickets[1].used_to = Some(day("2026-06-01"));
    let words = said(&odd, asked);
    assert!(words.contains("Tractor is left out. 4000.00 at the end is more than the 3600.00 paid."), "{words}");
    assert!(words.contains("counts on the day it was paid"), "{words}");
    assert!(odd.account(june()).total(View::Cash).is_ok());
}

/// Worked by hand: a guess of insurance that ended on 30 June is missed by the end of August, but not a week later, and not when a
/// ticket of its sort came since.
#[test]
fn a_guess_that_ended_is_missed() {
    let guess = |last: &str| Paid { guess: true, ..covering("insurance", "120.00", last, ("2025-07-01", last)) };
    let words = |tickets: Vec<Paid>| {
        let own = Books { tickets, until: day("2026-08-31"), ..Books::default() };
        said(&own.settled(), Asked::between(None, None, day("2026-08-31"), Some(day("2025-07-01"))))
    };
    let missed = "What was guessed ended on Tue 30 Jun 2026 or after, and nothing has been written since: insurance.";
    let alone = words(vec![guess("2026-06-30")]);
    assert!(alone.contains(missed), "{alone}");
    for followed in [vec![guess("2026-08-24")], vec![guess("2026-06-30"), paid("insurance", "130.00", "2026-07-02")]] {
        let words = words(followed);
        assert!(!words.contains("What was guessed ended"), "{words}");
    }
}

/// A farm with nothing written yet has a report that says so and holds no made-up nought for a half-gallon.
#[test]
fn empty_books_say_so() {
    let asked = Asked::year_to(day("2026-08-31"), Some(day("2026-08-31")));
    let words = said(&Books::default(), asked);
    for gap in ["no milk was produced", "no milk was handed out", "No ticket is written down yet."] {
        assert!(words.contains(gap), "{gap}: {words}");
    }
}
