//! The journal: one line for every change, each sealed with the line before it.
//!
//! A seal is a SHA-256 over the seal before and every part of the line. Change a line, drop one or slip one in, and
//! every seal after it is wrong; so the ledger cannot be altered behind its own back without showing.
//!
//! A name that was erased is the one exception, and it shows too: a line it was taken out of keeps its seal, which then no
//! longer fits, and a later line, sealed like any other, says that it was erased, by whom and which lines that was.

use super::when::Moment;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use std::{
    collections::{HashMap, HashSet},
    fmt::Write,
};

/// One line of the journal, without its seal.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// Lines saved together share an act.
    pub act: i64,
    /// When it was written.
    pub at: Moment,
    /// By whom.
    pub who: String,
    /// What was done: kept, imported, corrected, struck, undone or erased.
    pub did: String,
    /// The kind of record.
    pub kind: String,
    /// The record's number.
    pub number: i64,
    /// The record before, if there was one.
    pub before: Option<String>,
    /// The record after, if there is one.
    pub after: Option<String>,
    /// Why, for a correction.
    pub why: Option<String>,
}

/// The seal before the first line.
pub const OPENING: &str = "0000000000000000000000000000000000000000000000000000000000000000";

/// The seal of a line that follows a line sealed `before`.
#[must_use]
pub fn seal(before: &str, line: &Line) -> String {
    let mut hash = Sha256::new();
    let (act, at, number) = (line.act.to_string(), line.at.in_seconds().to_string(), line.number.to_string());
    let parts = [before, &act, &at, &line.who, &line.did, &line.kind, &number];
    let optional = [&line.before, &line.after, &line.why];
    // Every part carries its length, so that no two different lines can run together into the same bytes.
    for part in parts.into_iter().map(Some).chain(optional.map(Option::as_deref)) {
        match part {
            Some(text) => [text.len().to_string().as_str(), ":", text, ";"].into_iter().for_each(|piece| hash.update(piece)),
            None => hash.update("-;"),
        }
    }
    hash.finalize().iter().fold(String::with_capacity(64), |mut hex, byte| {
        let _ = write!(hex, "{byte:02x}");
        hex
    })
}

/// A line with its place in the journal and the seal it carries.
pub type Sealed = (i64, Line, String);

/// What a line that erased a name keeps as `before`: the places of the lines it was taken out of.
#[must_use]
pub fn erased_lines(places: &[i64]) -> String {
    json!({ "lines": places }).to_string()
}

/// The places a line names that erased something; none for any other line.
#[must_use]
pub fn named_by(line: &Line) -> Vec<i64> {
    let before = line.before.as_deref().filter(|_| line.did == "erased");
    let read: Option<Value> = before.and_then(|before| serde_json::from_str(before).ok());
    let places = read.as_ref().and_then(|read| read["lines"].as_array());
    places.into_iter().flatten().filter_map(Value::as_i64).collect()
}

/// The places of the lines that were erased: those of the same record that a later line names, when that line is itself sealed
/// or was erased in its turn.
#[must_use]
pub fn erased(lines: &[Sealed]) -> HashSet<i64> {
    let records: HashMap<i64, (&str, i64)> = lines.iter().map(|(place, line, _)| (*place, (line.kind.as_str(), line.number))).collect();
    let mut erased = HashSet::new();
    for (nth, (place, line, carried)) in lines.iter().enumerate().rev().filter(|(_, (_, line, _))| line.did == "erased") {
        if fits(lines, nth, line, carried) || erased.contains(place) {
            let own = |named: &i64| named < place && records.get(named) == Some(&(line.kind.as_str(), line.number));
            erased.extend(named_by(line).into_iter().filter(own));
        }
    }
    erased
}

fn fits(lines: &[Sealed], nth: usize, line: &Line, carried: &str) -> bool {
    let before = nth.checked_sub(1).and_then(|nth| lines.get(nth)).map_or(OPENING, |(_, _, seal)| seal.as_str());
    seal(before, line) == carried
}

/// The first line, counting from 0, whose seal does not fit and that no later line says was erased.
#[must_use]
pub fn first_break(lines: &[Sealed]) -> Option<usize> {
    let broken: Vec<usize> = (0..lines.len()).filter(|nth| !fits(lines, *nth, &lines[*nth].1, &lines[*nth].2)).collect();
    // Looking for what was erased goes through the journal once more, so it is left where every seal fits.
    let erased = if broken.is_empty() { HashSet::new() } else { erased(lines) };
    broken.into_iter().find(|nth| !erased.contains(&lines[*nth].0))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(number: i64) -> Line {
        Line {
            act: 1,
            at: Moment::seconds(1_700_000_000),
            who: "Mina".to_owned(),
            did: "kept".to_owned(),
            kind: "chill".to_owned(),
            number,
            before: None,
            after: Some("{}".to_owned()),
            why: None,
        }
    }

    #[test]
    fn any_changed_or_missing_line_shows() {
        let lines = chain((1..=5).map(line).collect());
        assert_eq!(first_break(&lines), None);
        let mut changed = lines.clone();
        changed[2].1.who = "Del".to_owned();
        assert_eq!(first_break(&changed), Some(2));
        let mut missing = lines;
        missing.remove(1);
        assert_eq!(first_break(&missing), Some(1));
    }

    /// Lines as the ledger keeps them, each sealed with the one before.
    fn chain(lines: Vec<Line>) -> Vec<Sealed> {
        let mut sealed: Vec<Sealed> = Vec::new();
        for (place, own) in (1..).zip(lines) {
            let last = sealed.last().map_or(OPENING, |(_, _, seal)| seal.as_str());
            let seal = seal(last, &own);
            sealed.push((place, own, seal));
        }
        sealed
    }

    /// A line that says from which lines of record 2 something was erased.
    fn erasing(places: &[i64]) -> Line {
        Line { did: "erased".to_owned(), before: Some(erased_lines(places)), ..line(2) }
    }

    #[test]
    fn an_erased_line_is_known_by_a_later_one_and_nothing_else_is() {
        let mut lines = chain(vec![line(1), line(2), line(3), line(2), erasing(&[2, 4]), line(4)]);
        for place in [1, 3] {
            lines[place].1.after = Some(r#"{"name":"member 2"}"#.to_owned());
        }
        assert_eq!(first_break(&lines), None);
        assert_eq!(erased(&lines), HashSet::from([2, 4]));
        let mut other = lines.clone();
        other[2].1.after = Some("{}{}".to_owned());
        assert_eq!(first_break(&other), Some(2), "nobody said that this line was erased");
        let mut stretched = lines.clone();
        stretched[4].1.before = Some(erased_lines(&[2, 3, 4]));
        assert_eq!(first_break(&stretched), Some(1), "a line that erased and was changed itself covers nothing");
        let mut of_another = chain(vec![line(1), line(2), erasing(&[1])]);
        of_another[0].1.who = "Del".to_owned();
        assert_eq!(first_break(&of_another), Some(0), "it is a line of another record");
        let mut forwards = chain(vec![erasing(&[2]), line(2)]);
        forwards[1].1.who = "Del".to_owned();
        assert_eq!(first_break(&forwards), Some(1), "nothing is erased before it was written");
    }

    #[test]
    fn what_erased_may_be_erased_in_its_turn() {
        let mut lines = chain(vec![line(2), erasing(&[1]), erasing(&[1, 2])]);
        lines[0].1.after = None;
        lines[1].1.after = None;
        assert_eq!(first_break(&lines), None);
    }

    #[test]
    fn parts_cannot_run_together() {
        let (mut one, mut other) = (line(1), line(1));
        (one.before, one.after) = (Some("ab".to_owned()), Some("c".to_owned()));
        (other.before, other.after) = (Some("a".to_owned()), Some("bc".to_owned()));
        assert_ne!(seal(OPENING, &one), seal(OPENING, &other));
    }
}
