//! How long every page of the sample farm takes, and the long jobs: `cargo bench`. It reports and judges nothing.

#![expect(clippy::expect_used, reason = "a benchmark that cannot start should stop and say so")]

use axum::{
    Router,
    body::Body,
    http::{Method, Request},
};
use http_body_util::BodyExt;
use rust_decimal::Decimal;
use std::time::{Duration, Instant};
use tallypail::{
    pages::{self, App},
    paper::{folder, pdf, sample},
    store::{Ledger, check, hands, records},
    trade::{
        channels::Channel,
        figures::Sheet,
        money::Money,
        statement::{Statement, Whose},
        transfers::{Lean, Sort, Transfer},
        wear::Span,
        when::{Moment, Zone},
    },
    web::{clock::Clock, secret},
};
use tower::ServiceExt;

const AFTERNOON: &str = "2026-11-21T15:05:00-05:00";
const ROUNDS: usize = 21;
/// What stands in the open places of an address.
const SAMPLES: [(&str, &str); 13] = [
    ("{document}", "1"),
    ("{code}", "6325A-Z"),
    ("{lot}", "6238A-V"),
    ("{cow}", "Damson"),
    ("{label}", "M05"),
    ("{kind}", "chill"),
    ("{number}", "1"),
    ("{line}", "feed"),
    ("{flow}", "produced"),
    ("{at}", "1795225200"),
    ("{sort}", "feed"),
    ("{name}", "M05"),
    ("{id}", "us-pa-permit"),
];

#[tokio::main]
async fn main() {
    let folder = tempfile::tempdir().expect("a folder to work in");
    let ledger = Ledger::open(&folder.path().join("bench.ledger")).await.expect("a ledger");
    let now = Zone::UTC.parse_moment(AFTERNOON).expect("an afternoon");
    long_jobs(&ledger, now).await;
    let token = signed_in(&ledger, now).await;
    let (router, doors) = pages::open(App::new(ledger.clone(), Clock::Stopped(now)));
    let mut timed: Vec<(Duration, Duration, String, u16)> = Vec::new();
    for door in doors.iter().filter(|door| door.method == Method::GET) {
        let path = SAMPLES.iter().fold(door.path.to_owned(), |path, (open, with)| path.replace(open, with));
        timed.push(time(&router, &token, &path).await);
    }
    for path in [
        "/trace/6238A-V",
        "/trace?person=M05&day=2026-08-18",
        "/trace/6195A-9",
        "/trace.pdf?person=M05&day=2026-08-18",
        "/records/pickups",
        "/records/pails",
        "/costs?from=2025-09-01&to=2026-11-21",
        "/lots/6284A-5",
        "/books/statements.pdf?from=2025-11-22&to=2026-11-21",
    ] {
        timed.push(time(&router, &token, path).await);
    }
    timed.sort_by_key(|own| std::cmp::Reverse(own.0));
    println!("\n{:>9} {:>9}  status  page (median and slowest of {ROUNDS})", "median", "slowest");
    for (median, slowest, path, status) in &timed {
        println!("{:>7}µs {:>7}µs  {status}     {path}", median.as_micros(), slowest.as_micros());
    }
}

async fn long_jobs(ledger: &Ledger, now: Moment) {
    let files = sample::files();
    let started = Instant::now();
    let book = folder::read(&files, now, "import").expect("the sample farm");
    println!("read and check the sample folder ({} records): {:?}", book.size(), started.elapsed());
    let started = Instant::now();
    let mut tx = ledger.begin().await.expect("the write lock");
    let act = records::act(&mut tx, now, "import", "farm folder").await.expect("an act");
    records::import(&mut tx, &book, &act).await.expect("an import");
    tx.commit().await.expect("a commit");
    println!("keep them, each with its journal line: {:?}", started.elapsed());
    let mut db = ledger.read().await.expect("a connection");
    let started = Instant::now();
    let wrongs = check::wrongs(&mut db).await.expect("a check");
    println!("check the ledger ({} wrong): {:?}", wrongs.len(), started.elapsed());
    let started = Instant::now();
    let written = folder::write(&records::book(&mut db).await.expect("a book"));
    println!("export {} files: {:?}", written.len(), started.elapsed());
    two_hundred_statements();
}

/// Two hundred households' statements of a year on one paper, each with a month's boarding and its payment.
fn two_hundred_statements() {
    let day = |month: u32, day: u32| format!("2026-{month:02}-{day:02}").parse().expect("a day");
    let new = |sort, lean, on, person, cents| Transfer::new(sort, lean, on, Some(person), Money::cents(cents)).expect("an entry");
    let started = Instant::now();
    let sheets: Vec<Sheet> = (1..=200)
        .map(|person| {
            let month = |month: u32| {
                let boarding = Transfer { month: Some(day(month, 1)), ..new(Sort::Boarding, Lean::Plain, day(month, 1), person, 6000) };
                [boarding, Transfer { paid_by: "check".to_owned(), ..new(Sort::Payment, Lean::Bank, day(month, 7), person, 6000) }]
            };
            let own: Vec<Transfer> = (1..=12).flat_map(month).collect();
            let whose =
                Whose { number: person, label: format!("M{person:03}"), name: "Tremont".to_owned(), way: Channel::Herdshare, joined: None };
            let span = Span { from: day(1, 1), to: day(12, 31) };
            Statement::of(whose, &own.iter().collect::<Vec<_>>(), span, Decimal::from(156)).sheet("Tansyditch Farm")
        })
        .collect();
    let bytes = pdf::print_all(&sheets, "Statements", "today").expect("a paper");
    println!("{} statements of a year on one paper ({} bytes): {:?}", sheets.len(), bytes.len(), started.elapsed());
}

async fn signed_in(ledger: &Ledger, now: Moment) -> String {
    let token = secret::token();
    let mut tx = ledger.begin().await.expect("the write lock");
    hands::record(&mut tx, &hands::Hand { name: "Mina".to_owned(), role: "owner".to_owned(), secret: String::new() }, now)
        .await
        .expect("a hand");
    hands::open_session(&mut tx, "Mina", &secret::remembered(&token), "seal", now, now.plus_hours(12)).await.expect("a session");
    tx.commit().await.expect("a commit");
    token
}

async fn time(router: &Router, token: &str, path: &str) -> (Duration, Duration, String, u16) {
    let (mut times, mut status) = (Vec::new(), 0);
    for _ in 0..ROUNDS {
        let request = Request::get(path).header("cookie", format!("{}={token}", pages::SESSION)).body(Body::empty()).expect("a request");
        let started = Instant::now();
        let answer = router.clone().oneshot(request).await.expect("an answer");
        status = answer.status().as_u16();
        answer.into_body().collect().await.expect("a body");
        times.push(started.elapsed());
    }
    times.sort();
    (times[ROUNDS / 2], times[ROUNDS - 1], path.to_owned(), status)
}
