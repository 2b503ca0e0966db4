//! The ledger of a farm of twenty cows after 1, 5 and 20 years.

#![expect(clippy::expect_used, reason = "a benchmark that cannot start should stop and say so")]

#[path = "../twenty/years.rs"]
mod years;

use axum::{body::Body, http::Request};
use http_body_util::BodyExt;
use std::{
    path::Path,
    time::{Duration, Instant},
};
use tallypail::{
    pages::{self, App},
    paper::folder,
    store::{Ledger, hands, records},
    trade::when::Zone,
    web::{clock::Clock, secret},
};
use tower::ServiceExt;

/// As the program itself has it.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

#[tokio::main]
async fn main() {
    if std::env::var("TALLYPAIL_LOG").is_ok() {
        tracing_subscriber::fmt().with_env_filter("sqlx=debug").with_ansi(false).init();
    }
    let only: Option<i64> = std::env::var("TALLYPAIL_YEARS").ok().and_then(|own| own.parse().ok());
    let rounds: usize = std::env::var("TALLYPAIL_ROUNDS").ok().and_then(|own| own.parse().ok()).unwrap_or(15);
    let now = Zone::UTC.parse_moment(years::AFTERNOON).expect("an afternoon");
    for own in [1, 5, 20].into_iter().filter(|own| only.is_none_or(|only| only == *own)) {
        let started = Instant::now();
        let file = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("{own}-years.ledger"));
        if !file.exists() {
            let files = years::folder(own * 365);
            println!(
                "\n{own} years: {} files, {} MB made in {:?}",
                files.len(),
                files.values().map(Vec::len).sum::<usize>() / 1_000_000,
                started.elapsed()
            );
            let started = Instant::now();
            let book = folder::read(&files, now, "import").unwrap_or_else(|faults| {
                for fault in faults.iter().take(20) {
                    println!("{fault}");
                }
                std::process::exit(1)
            });
            println!("read: {} records in {:?}", book.size(), started.elapsed());
            let ledger = Ledger::open(&file).await.expect("a ledger");
            let started = Instant::now();
            let mut tx = ledger.begin().await.expect("the write lock");
            let act = records::act(&mut tx, now, "import", "farm folder").await.expect("an act");
            records::import(&mut tx, &book, &act).await.expect("an import");
            tx.commit().await.expect("a commit");
            println!("kept in {:?}", started.elapsed());
            ledger.close().await;
        }
        let started = Instant::now();
        let ledger = Ledger::open(&file).await.expect("a ledger");
        println!("opened in {:?}", started.elapsed());
        let token = secret::token();
        let mut tx = ledger.begin().await.expect("the write lock");
        let hand = hands::Hand { name: "Mina".to_owned(), role: "owner".to_owned(), secret: String::new() };
        hands::record(&mut tx, &hand, now).await.expect("a hand");
        hands::open_session(&mut tx, "Mina", &secret::remembered(&token), "seal", now, now.plus_hours(12)).await.expect("a session");
        tx.commit().await.expect("a commit");
        let (router, _) = pages::open(App::new(ledger.clone(), Clock::Stopped(now)));
        for path in std::env::var("TALLYPAIL_PATHS").unwrap_or_else(|_| "/ /jars /herd /pickup /pickup/pack /milkings/new /fills/new /chill/new /counts/new /people /binder /calendar /stop /lots/6323A-5 /people/M3101 /costs /books /lab".to_owned()).split(' ') {
            let mut times: Vec<(Duration, u16, usize)> = Vec::new();
            for _ in 0..rounds {
                let request = Request::get(path).header("cookie", format!("{}={token}", pages::SESSION)).body(Body::empty()).expect("a request");
                let started = Instant::now();
                let answer = router.clone().oneshot(request).await.expect("an answer");
                let status = answer.status().as_u16();
                let size = answer.into_body().collect().await.expect("a body").to_bytes().len();
                times.push((started.elapsed(), status, size));
            }
            times.sort();
            println!("{path}: {} median {:?} slowest {:?} {} bytes", times[0].1, times[rounds / 2].0, times[rounds - 1].0, times[0].2);
        }
    }
}
