//! A farm of twenty cows after 1, 5 and 20 years, question by question: `cargo bench --bench years`. It reports and judges nothing.
//!
//! The farm is made from a seed, see tests/twenty/years.rs. `TALLYPAIL_YEARS=20` asks one size alone. What is made is left under
//! target/tmp, as ledgers and as farm folders, for tests/outside/beside.py and tests/outside/durable.py to ask the same of.

#![expect(clippy::expect_used, reason = "a benchmark that cannot start should stop and say so")]

#[path = "../../twenty/years.rs"]
mod farm;
mod jobs;
mod timed;

use std::path::{Path, PathBuf};
use tallypail::trade::when::{Moment, Zone};
use timed::Table;

/// As the program itself has it.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

const SIZES: [i64; 3] = [1, 5, 20];

/// Where the farm of so many years lies: its ledger and its folder.
fn places(years: i64) -> (PathBuf, PathBuf) {
    let made = Path::new(env!("CARGO_TARGET_TMPDIR"));
    (made.join(format!("{years}-years.ledger")), made.join(format!("{years}-years")))
}

#[tokio::main]
async fn main() {
    let only: Option<i64> = std::env::var("TALLYPAIL_YEARS").ok().and_then(|years| years.parse().ok());
    let now: Moment = Zone::UTC.parse_moment(farm::AFTERNOON).expect("an afternoon");
    let sizes: Vec<i64> = SIZES.into_iter().filter(|years| only.is_none_or(|only| only == *years)).collect();
    let mut table = Table::new(&sizes);
    for years in sizes {
        let (file, folder) = places(years);
        jobs::make(&mut table, years, &file, &folder, now).await;
        jobs::ask(&mut table, years, &file, now).await;
        jobs::write(&mut table, years, &file, now).await;
    }
    println!("\n{table}");
}
