//! How long a pickup day and a year's statements take with two hundred households: `cargo bench --bench households`. It reports
//! and judges nothing.

#![expect(clippy::expect_used, reason = "a benchmark that cannot start should stop and say so")]

use axum::{
    Router,
    body::Body,
    http::{Request, header},
};
use http_body_util::BodyExt;
use std::{
    fmt::Write,
    time::{Duration, Instant},
};
use tallypail::{
    pages::{self, App},
    paper::{
        folder::{self, Files},
        sample,
    },
    store::{Ledger, hands, records},
    trade::when::Zone,
    web::{clock::Clock, secret},
};
use tower::ServiceExt;

const AFTERNOON: &str = "2026-11-21T15:05:00-05:00";
const HOUSEHOLDS: usize = 200;
const ROUNDS: usize = 15;

#[tokio::main]
async fn main() {
    let folder = tempfile::tempdir().expect("a folder to work in");
    let ledger = Ledger::open(&folder.path().join("bench.ledger")).await.expect("a ledger");
    let now = Zone::UTC.parse_moment(AFTERNOON).expect("an afternoon");
    let book = folder::read(&two_hundred(), now, "import").expect("two hundred households");
    let mut tx = ledger.begin().await.expect("the write lock");
    let act = records::act(&mut tx, now, "import", "farm folder").await.expect("an act");
    records::import(&mut tx, &book, &act).await.expect("an import");
    let token = secret::token();
    let mina = hands::Hand { name: "Mina".to_owned(), role: "owner".to_owned(), secret: String::new() };
    hands::record(&mut tx, &mina, now).await.expect("a hand");
    hands::open_session(&mut tx, "Mina", &secret::remembered(&token), "seal", now, now.plus_hours(12)).await.expect("a session");
    tx.commit().await.expect("a commit");
    let (router, _) = pages::open(App::new(ledger, Clock::Stopped(now)));
    let farm = Farm { router, token };

    let (mut planned, mut packed, mut listed) = (Vec::new(), Vec::new(), Vec::new());
    for _ in 0..ROUNDS {
        let (page, took) = farm.get("/pickup/pack").await;
        planned.push(took);
        let (status, took) = farm.post("/pickup/pack", &sent_back(&page)).await;
        assert_eq!(status, 303, "packed");
        packed.push(took);
        listed.push(farm.get("/pickup").await.1);
        assert_eq!(farm.post("/pickup/unpack", "seal=seal&day=2026-11-21").await.0, 303, "unpacked");
    }
    told("plan a day of 200 households", planned);
    told("keep its packing, portions and crates", packed);
    told("the list to hand out from", listed);
    let mut statements = Vec::new();
    for _ in 0..3 {
        statements.push(farm.get("/books/statements.pdf?from=2025-11-22&to=2026-11-21").await.1);
    }
    told("a year's statements of all as one PDF", statements);
}

/// The sample farm with two hundred more households who all come on Saturday, a year of boarding each, and milk for them.
fn two_hundred() -> Files {
    let mut files = sample::files();
    let mut more = |name: &str, lines: String| {
        files.get_mut(name).expect("a file").extend(lines.into_bytes());
    };
    let (mut people, mut shares, mut papers, mut books) = (String::new(), String::new(), String::new(), String::new());
    for nth in 1..=HOUSEHOLDS {
        let _ = writeln!(
            people,
            ",H{nth:03},Household {nth},member,herdshare,555-01{:02},h{nth}@example.org,Saturday,2025-09-01,,,,,,,",
            nth % 100
        );
        let _ = writeln!(shares, ",H{nth:03},,1,{},herdshare,2025-09-01,,,,,,,,", 1 + nth % 4);
        for paper in ["bill of sale", "boarding agreement"] {
            let _ = writeln!(papers, ",H{nth:03},{paper},2025-09-01,2025-09-01,,,,,,,,");
        }
        for month in [
            "2025-12", "2026-01", "2026-02", "2026-03", "2026-04", "2026-05", "2026-06", "2026-07", "2026-08", "2026-09", "2026-10",
            "2026-11",
        ] {
            let _ = writeln!(books, ",{month}-01,boarding,boarding,household,H{nth:03},40.00,,{month}-01,,,,,,,,");
            let _ = writeln!(books, ",{month}-09,payment,household,bank,H{nth:03},40.00,check,,,,,,,,,");
        }
    }
    more("people.csv", people);
    more("shares.csv", shares);
    more("agreements.csv", papers);
    more("transfers.csv", books);
    let lots = String::from_utf8(files["lots.csv"].clone()).expect("text");
    files.insert(
        "lots.csv".to_owned(),
        lots.replace(",6325A-Z,2026-11-21T06:20:00-05:00,Can 1,0,8,", ",6325A-Z,2026-11-21T06:20:00-05:00,Can 1,0,450,").into_bytes(),
    );
    files
}

/// The fields of the packing form as a browser sends them back.
fn sent_back(page: &str) -> String {
    let form = page.split_once("action=\"/pickup/pack\"").expect("the form").1;
    let mut body = String::new();
    for tag in form.split("<input ").skip(1) {
        let tag = tag.split('>').next().unwrap_or_default();
        let value_of =
            |name: &str| tag.split_once(&format!("{name}=\"")).map_or("", |(_, rest)| rest.split('"').next().unwrap_or_default());
        let _ = write!(body, "{}={}&", value_of("name"), value_of("value").replace(' ', "+"));
    }
    body
}

struct Farm {
    router: Router,
    token: String,
}

impl Farm {
    async fn get(&self, path: &str) -> (String, Duration) {
        let request =
            Request::get(path).header("cookie", format!("{}={}", pages::SESSION, self.token)).body(Body::empty()).expect("a request");
        let started = Instant::now();
        let answer = self.router.clone().oneshot(request).await.expect("an answer");
        assert_eq!(answer.status().as_u16(), 200, "{path}");
        let bytes = answer.into_body().collect().await.expect("a body").to_bytes();
        (String::from_utf8_lossy(&bytes).into_owned(), started.elapsed())
    }

    async fn post(&self, path: &str, body: &str) -> (u16, Duration) {
        let request = Request::post(path)
            .header("cookie", format!("{}={}", pages::SESSION, self.token))
            .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
            .body(Body::from(body.to_owned()))
            .expect("a request");
        let started = Instant::now();
        let answer = self.router.clone().oneshot(request).await.expect("an answer");
        let status = answer.status().as_u16();
        answer.into_body().collect().await.expect("a body");
        (status, started.elapsed())
    }
}

fn told(what: &str, mut times: Vec<Duration>) {
    times.sort();
    println!("{what}: median {:?}, slowest {:?} of {}", times[times.len() / 2], times[times.len() - 1], times.len());
}
