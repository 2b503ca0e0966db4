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

/// Words the readers know, so that more comes through than noise; the fuzzer draws from the same.
fn words() -> Vec<Vec<u8>> {
    let lines = include_str!("fuzz/words.dict").lines().filter_map(|line| line.strip_prefix('"')?.strip_suffix('"'));
    let words: Vec<Vec<u8>> = lines.map(unescaped).collect();
    assert!(words.len() > 80, "{} words", words.len());
    words
}

/// A word as it is meant: a backslash stands before a quote, a backslash, and the number of a byte.
fn unescaped(line: &str) -> Vec<u8> {
    let (mut word, mut rest) = (Vec::new(), line.as_bytes());
    while let Some((first, after)) = rest.split_first() {
        (word, rest) = match (first, after) {
            (b'\\', [b'x', high, low, after @ ..]) => {
                let digits = String::from_utf8(vec![*high, *low]).unwrap();
                ([&word[..], &[u8::from_str_radix(&digits, 16).unwrap()]].concat(), after)
            }
            (b'\\', [own, after @ ..]) | (own, after) => ([&word[..], &[*own]].concat(), after),
        };
    }
    word
}

/// Bytes of a reader: noise, or words it may know in any order, behind a byte or two that choose.
fn anything() -> impl Strategy<Value = Vec<u8>> {
    let words = vec(prop::sample::select(words()), 0..8).prop_map(|words| words.concat());
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
    let more = ["x", "<", "(", "[", "a ", "1;", "1=1;"].map(|word| word.as_bytes().to_vec());
    let words: Vec<Vec<u8>> = words().into_iter().step_by(3).chain(more).collect();
    for (_, target) in TARGETS {
        for word in &words {
            let long = word.repeat(10_000 / word.len());
            target(&[b"a", &long[..]].concat());
            target(&[b"\0\0", &long[..]].concat());
        }
    }
}

/// What the fuzzer found, as it found it. Which shape a cell has is chosen by its first byte, so every one is tried.
#[test]
fn what_broke_a_reader_once_is_read_or_refused() {
    let target = |wanted: &str| TARGETS.iter().find(|(name, _)| *name == wanted).unwrap().1;
    for typed in ["0\rest", "a\rb", ".11 5/3", "00000000000001", "0\u{85}est", "two\r\nlines"] {
        (0..=u8::MAX).for_each(|shape| target("cells")(&[&[shape, 0], typed.as_bytes()].concat()));
    }
    target("first_answers")("\u{1f}\u{1f}0.000015\u{1f}\u{1f}71555\u{1f}".as_bytes());
    for line in 0..40 {
        for weight in ["0.00019", "-0.0004", "99999999999999999999999999"] {
            target("first_answers")(format!("{}{weight}", "1\u{1f}".repeat(line)).as_bytes());
        }
    }
}
