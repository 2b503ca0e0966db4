//! The journal: one line for every change, each sealed with the line before it.
//!
//! A seal is a SHA-256 over the seal before and every part of the line. Change a line, drop one or slip one in, and
//! every seal after it is wrong; so the ledger cannot be altered behind its own back without showing.

use super::when::Moment;
use sha2::{Digest, Sha256};
use std::fmt::Write;

/// One line of the journal, without its seal.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// Lines saved together share an act.
    pub act: i64,
    /// When it was written.
    pub at: Moment,
    /// By whom.
    pub who: String,
    /// What was done: kept, imported, corrected, struck or undone.
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
    for part in parts {
        hash.update(format!("{}:{part};", part.len()));
    }
    for part in optional {
        match part {
            Some(text) => hash.update(format!("{}:{text};", text.len())),
            None => hash.update("-;"),
        }
    }
    hash.finalize().iter().fold(String::with_capacity(64), |mut hex, byte| {
        let _ = write!(hex, "{byte:02x}");
        hex
    })
}

/// The first line, counting from 0, whose seal does not fit, given every line with the seal it carries.
#[must_use]
pub fn first_break<'a>(lines: impl IntoIterator<Item = (&'a Line, &'a str)>) -> Option<usize> {
    let mut before = OPENING.to_owned();
    for (place, (line, carried)) in lines.into_iter().enumerate() {
        if seal(&before, line) != carried {
            return Some(place);
        }
        carried.clone_into(&mut before);
    }
    None
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
        let lines: Vec<Line> = (1..=5).map(line).collect();
        let mut seals = Vec::new();
        for own in &lines {
            let last = seals.last().map_or(OPENING, String::as_str).to_owned();
            seals.push(seal(&last, own));
        }
        let sealed = |lines: &[Line]| first_break(lines.iter().zip(seals.iter().map(String::as_str)));
        assert_eq!(sealed(&lines), None);
        let mut changed = lines.clone();
        changed[2].who = "Del".to_owned();
        assert_eq!(sealed(&changed), Some(2));
        let mut missing = lines.clone();
        missing.remove(1);
        assert_eq!(sealed(&missing), Some(1));
    }

    #[test]
    fn parts_cannot_run_together() {
        let (mut one, mut other) = (line(1), line(1));
        (one.before, one.after) = (Some("ab".to_owned()), Some("c".to_owned()));
        (other.before, other.after) = (Some("a".to_owned()), Some("bc".to_owned()));
        assert_ne!(seal(OPENING, &one), seal(OPENING, &other));
    }
}
