//! Whether the ledger is still what was written: SQLite's own word, the journal's chain, every record against its last
//! journal line, and the laws that always hold.

use super::{Failure, journal, records};
use crate::trade::{
    book::Book,
    journal::{Line, first_break, named_by},
    kinds::{KINDS, kind},
    when::Zone,
};
use serde_json::Value;
use sqlx::SqliteConnection;
use std::collections::{BTreeMap, HashMap};

/// Everything that is wrong, in plain words; empty when all is well.
///
/// # Errors
/// When the ledger cannot be read at all.
pub async fn wrongs(db: &mut SqliteConnection) -> Result<Vec<String>, Failure> {
    let mut wrongs = Vec::new();
    let integrity: Vec<String> = sqlx::query_scalar("PRAGMA integrity_check(20)").fetch_all(&mut *db).await?;
    wrongs.extend(integrity.into_iter().filter(|said| said != "ok").map(|said| format!("SQLite says the file itself is damaged: {said}")));
    let links: Vec<(String, i64, String)> =
        sqlx::query_as("SELECT \"table\", coalesce(rowid, 0), parent FROM pragma_foreign_key_check").fetch_all(&mut *db).await?;
    wrongs.extend(links.into_iter().map(|(table, row, parent)| format!("{table} {row} names a record of {parent} that is not there.")));
    let lines = journal::sealed(&mut *db).await?;
    if let Some(place) = first_break(&lines) {
        let (seq, line, _) = &lines[place];
        wrongs.push(format!(
            "The journal does not fit together from line {seq} on ({} {} by {}): a line was changed, added or taken out there.",
            line.kind, line.number, line.who
        ));
    }
    let book = records::book(&mut *db).await?;
    wrongs.extend(struck_otherwise(&book, lines.iter().map(|(_, line, _)| line)));
    wrongs.extend(altered(&book, lines.into_iter().map(|(_, line, _)| line)));
    let named = book.keys();
    wrongs.extend(
        book.breaches()
            .into_iter()
            .chain(book.papers_amiss())
            .map(|breach| format!("{} {} ({}): {}", breach.kind, breach.number, named(breach.kind, breach.number), breach.says)),
    );
    Ok(wrongs)
}

/// What was erased, in plain words: nothing wrong, and nothing to hide either.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn erasures(db: &mut SqliteConnection) -> Result<Vec<String>, Failure> {
    let zone = super::farm::current(&mut *db).await?.map_or(Zone::UTC, |farm| farm.ways.zone);
    let lines = journal::sealed(db).await?;
    let mut acts: BTreeMap<i64, (&Line, usize)> = BTreeMap::new();
    for (_, line, _) in lines.iter().filter(|(_, line, _)| line.did == "erased") {
        acts.entry(line.act).or_insert((line, 0)).1 += named_by(line).len();
    }
    let says = |(line, count): &(&Line, usize)| {
        let many = if *count == 1 { "1 line".to_owned() } else { format!("{count} lines") };
        format!("A name was erased from {many} of the journal by {} on {}.", line.who, zone.in_full(line.at))
    };
    Ok(acts.values().map(says).collect())
}

/// What was struck through, against the journal lines that struck it or brought it in.
fn struck_otherwise<'a>(book: &Book, lines: impl Iterator<Item = &'a Line>) -> Vec<String> {
    let striking = |line: &&Line| matches!(line.did.as_str(), "corrected" | "struck" | "imported") && line.before.is_some();
    let mut written: Vec<(&str, i64, &str, &str)> = lines
        .filter(striking)
        .map(|line| (line.kind.as_str(), line.number, line.before.as_deref().unwrap_or(""), line.why.as_deref().unwrap_or("")))
        .collect();
    let mut kept: Vec<_> = book.struck.iter().map(|own| (own.kind.as_str(), own.number, own.was.as_str(), own.why.as_str())).collect();
    written.sort_unstable();
    kept.sort_unstable();
    let only_in = |these: &[(&str, i64, &str, &str)], those: &[(&str, i64, &str, &str)]| {
        these.iter().filter(|own| those.binary_search(own).is_err()).map(|own| (own.0.to_owned(), own.1)).collect::<Vec<_>>()
    };
    let mut differing = only_in(&kept, &written);
    differing.extend(only_in(&written, &kept));
    differing.sort();
    differing.dedup();
    let one = |name: &str| kind(name).map_or("record", |kind| kind.one);
    differing
        .into_iter()
        .map(|(name, number)| format!("What was struck through of the {} {number} is not what the journal says.", one(&name)))
        .collect()
}

/// What a line of the journal says, cell by cell. A cell that was left empty and a column that came with a later form of
/// the ledger say the same: nothing.
fn said(line: &str) -> Option<BTreeMap<String, Value>> {
    let cells: BTreeMap<String, Value> = serde_json::from_str(line).ok()?;
    Some(cells.into_iter().filter(|(_, value)| !value.is_null()).collect())
}

/// Records that are not what their last journal line says.
fn altered(book: &Book, lines: impl Iterator<Item = Line>) -> Vec<String> {
    let mut last: HashMap<(String, i64), Option<String>> = HashMap::new();
    for line in lines {
        last.insert((line.kind, line.number), line.after);
    }
    let mut wrongs = Vec::new();
    for own in KINDS {
        for record in book.of(own.name) {
            match last.remove(&(own.name.to_owned(), record.number)) {
                Some(Some(after)) if said(&after) == said(&record.as_line(own)) => {}
                Some(Some(_)) => wrongs
                    .push(format!("The {} {} was changed behind the journal's back: it is not what was written.", own.one, record.number)),
                Some(None) | None => wrongs.push(format!("The {} {} appeared without a line in the journal.", own.one, record.number)),
            }
        }
    }
    let mut gone: Vec<(String, i64)> = last.into_iter().filter(|(_, after)| after.is_some()).map(|(record, _)| record).collect();
    gone.sort();
    wrongs.extend(gone.into_iter().map(|(name, number)| {
        format!("The {} {number} is gone, and the journal does not say that it was struck.", kind(&name).map_or("record", |kind| kind.one))
    }));
    wrongs
}
