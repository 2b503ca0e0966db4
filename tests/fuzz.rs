//! Every reader of what somebody typed, tried with anything. tests/fuzz/targets.rs says what is asked of each; the fuzzer in
//! tests/fuzz tries the same for hours.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test may fail loudly")]

mod targets;

use proptest::{
    collection::vec,
    prelude::*,
    test_runner::{Config, RngSeed, TestRunner},
};
use targets::TARGETS;

/// Words the readers know, so that more comes through than noise; the fuzzer starts from the same.
const WORDS: &[&str] = &[
    "39.2",
    " °F",
    " C",
    "1/2",
    "26.4 lb",
    "kg",
    "gal",
    "half-gallons",
    "$",
    ",",
    ".",
    "-",
    "+",
    " ",
    "%",
    "0",
    "00",
    "9",
    "1e3",
    ";",
    "=",
    "; ",
    " = ",
    "0.0001",
    "0.00001",
    "<1",
    ">2,500",
    "not detected",
    "12,000",
    "2026-05-14",
    "T06:20",
    "-04:00",
    "2026-11-01T01:30",
    "2026-03-08T02:30",
    " AM",
    "Z",
    "6134A-S",
    "6134a s",
    "bale",
    "bag = 50",
    "20 in = 2.5 gal",
    "10 in = 1 gal",
    "232, 244 at 1:100",
    "5 of 10 at 0.1",
    "at most 20000 per mL",
    "below 100",
    " per mL",
    "none found",
    "limit not known",
    "plate count",
    "coliforms",
    " [read]",
    " [memory]",
    " [chosen]",
    " [second-hand]",
    ", 3 of 5 action",
    "within 2 hours",
    "40 °F",
    "of milking",
    "every month",
    "herdshare",
    "shop",
    "farm gate",
    "at most 20 quarts a day",
    "bill of sale",
    "signed",
    "price of Hay +20 %",
    "worth of an hour = 18",
    "use of Jars = 0.06",
    "milk -10 %",
    "hand out +2 a week",
    "Damson dry from ",
    "once a day, milk -25 %",
    "comes in +5 %",
    "seal=",
    "&",
    "%00",
    "%ff",
    "tallypail_session=",
    "smtp://",
    "smtps://",
    "a:b@",
    "localhost",
    "[::1]",
    ":587",
    "?tls=none",
    "/own",
    "http://",
    "1,M01",
    "\n",
    "\"",
    "\u{1f}",
    "\u{0}",
    "é",
    "🐄",
    "٣",
    "İ",
    "ß",
    "\u{202e}",
    "yes",
    "no",
    "1",
    "2",
    "negative",
    "trace",
    "h17",
    "w2",
];

/// Bytes of a reader: noise, or words it may know in any order, behind a byte or two that choose.
fn anything() -> impl Strategy<Value = Vec<u8>> {
    let words = vec(prop::sample::select(WORDS), 0..8).prop_map(|words| words.concat().into_bytes());
    let typed = prop_oneof![4 => words, 1 => vec(any::<u8>(), 0..60), 1 => "\\PC{0,40}".prop_map(String::into_bytes)];
    (vec(any::<u8>(), 0..3), typed).prop_map(|(head, typed)| [head, typed].concat())
}

/// `TALLYPAIL_FUZZ=100` tries so many times as much.
fn times() -> u32 {
    std::env::var("TALLYPAIL_FUZZ").ok().and_then(|times| times.parse().ok()).unwrap_or(1)
}

#[test]
fn every_reader_takes_anything() {
    let mut wrong = Vec::new();
    for (name, target) in TARGETS {
        // A whole folder is read and written for every case of its own.
        let cases = times() * if name == "farm_folder" { 150 } else { 1_200 };
        let config = Config { cases, rng_seed: RngSeed::Fixed(20_261_121), failure_persistence: None, ..Config::default() };
        let told = TestRunner::new(config).run(&anything(), |bytes| {
            target(&bytes);
            Ok(())
        });
        if let Err(failed) = told {
            wrong.push(format!("{name}: {failed}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// A reader of ten thousand characters answers as shortly as one of ten.
#[test]
fn every_reader_takes_very_much() {
    for (_, target) in TARGETS {
        for word in WORDS.iter().step_by(3).chain(&["x", "<", "(", "[", "a ", "1;", "1=1;"]) {
            target(format!("a{}", word.repeat(10_000 / word.len())).as_bytes());
            target(format!("\u{0}\u{0}{}", word.repeat(10_000 / word.len())).as_bytes());
        }
    }
}
