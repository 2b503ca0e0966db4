//! A record as a person reads it: its cells in words, what other records are called, and what each correction changed.

use super::Here;
use crate::{
    store::{Failure, records},
    trade::{
        capital,
        kinds::{Kind, kind},
        records::{Cell, Record, Shape},
        when::{Zone, day_shown, parse_day},
    },
    web::form::Fields,
};
use sqlx::SqliteConnection;
use std::collections::HashMap;

/// An earlier version of a record, and what struck it.
pub(super) struct Earlier {
    pub(super) version: i64,
    pub(super) changes: Vec<(&'static str, String, String)>,
    pub(super) who: String,
    pub(super) at: String,
    pub(super) why: String,
}

/// What records are called, for showing links and offering choices.
pub(super) async fn names(db: &mut SqliteConnection, kind: &'static Kind) -> Result<HashMap<&'static str, Vec<(i64, String)>>, Failure> {
    let mut names = HashMap::new();
    for column in kind.columns {
        if let Shape::Key(target) = column.shape
            && let Some(target) = crate::trade::kinds::kind(target)
        {
            let keys = match target.name {
                "lots" | "milkings" => newest_keys(db, target).await?,
                "people" => people(db, target).await?,
                _ => records::keys(db, target).await?,
            };
            names.insert(target.name, keys);
        }
    }
    Ok(names)
}

/// People as somebody on the phone knows them: the number first, because that is the key, and the name behind it.
async fn people(db: &mut SqliteConnection, kind: &'static Kind) -> Result<Vec<(i64, String)>, Failure> {
    let all = records::list(db, kind).await?;
    Ok(all.iter().map(|own| (own.number, format!("{} {}", own.cell(kind, "label").text(), own.cell(kind, "name").text()))).collect())
}

async fn newest_keys(db: &mut SqliteConnection, kind: &'static Kind) -> Result<Vec<(i64, String)>, Failure> {
    let key = kind.key.unwrap_or("number");
    let newest = records::newest(db, kind, 60).await?;
    Ok(newest.iter().map(|record| (record.number, record.cell(kind, key).text().to_owned())).collect())
}

pub(super) async fn shown(
    db: &mut SqliteConnection,
    here: &Here,
    kind: &'static Kind,
    cells: &[Cell],
) -> Result<Vec<(&'static str, String)>, Failure> {
    let mut facts = Vec::new();
    for (column, cell) in kind.columns.iter().zip(cells) {
        let says = match (column.shape, cell) {
            (Shape::Key(target), Cell::To(number)) => key_of(db, here.zone(), target, *number).await?,
            (Shape::Moment, cell) => cell.moment().map(|at| here.zone().in_full(at)).unwrap_or_default(),
            (Shape::Day, Cell::Text(day)) => parse_day(day).map_or_else(|_| day.clone(), day_shown),
            (shape, cell) => shape.show(cell, here.zone(), |_, number| number.to_string()),
        };
        facts.push((column.label, says));
    }
    Ok(facts)
}

async fn key_of(db: &mut SqliteConnection, zone: Zone, target: &str, number: i64) -> Result<String, Failure> {
    let Some(target) = kind(target) else { return Ok(number.to_string()) };
    let found = records::find(&mut *db, target, number).await?;
    if let Some(lot) = found.as_ref().filter(|_| target.name == "lots") {
        return records::name_of_lot(db, lot, target, zone).await;
    }
    Ok(found.and_then(|record| target.key.map(|key| record.cell(target, key).text().to_owned())).unwrap_or_else(|| number.to_string()))
}

pub(super) fn choices<'a>(names: &'a HashMap<&'static str, Vec<(i64, String)>>) -> impl Fn(&'static str) -> Vec<(String, String)> + 'a {
    |target| {
        names
            .get(target)
            .map(|keys| {
                keys.iter()
                    .map(|(_, key)| {
                        (if target == "people" { key.split(' ').next().unwrap_or_default().to_owned() } else { key.clone() }, key.clone())
                    })
                    .collect()
            })
            .unwrap_or_default()
    }
}

pub(super) fn plural(kind: &Kind) -> String {
    let name = match kind.name {
        "pails" => "cows at milkings",
        "asides" => "jars set aside",
        "counts" => "counts",
        "sources" => "sources of lots",
        "minutes" => "time spent",
        "store_counts" => "counts of stores",
        "usual_weeks" => "lines of the usual week",
        "worths" => "worths of somebody's hour",
        "meter_readings" => "meter readings",
        "bank_totals" => "bank totals",
        "choices" => "ways of reckoning",
        "what_ifs" => "what-ifs",
        "events" => "herd events",
        "chill" => "chill readings",
        "pickups" => "hand-outs",
        other => other,
    };
    capital(name)
}

/// How long after it happened a record was written down, when that is half a day or more.
pub(super) fn late(here: &Here, kind: &'static Kind, record: &Record) -> String {
    let happened = kind.happened.map(|column| record.cell(kind, column)).and_then(|cell| match cell {
        Cell::Text(day) => parse_day(day).ok().map(|day| here.zone().end_of(day)),
        cell => cell.moment(),
    });
    let minutes = happened.map_or(0, |happened| record.written.minutes_since(happened));
    if minutes >= 12 * 60 { format!("written {} late", crate::trade::when::span_shown(minutes)) } else { String::new() }
}

/// A record as a person would type it again.
pub(super) async fn as_typed(db: &mut SqliteConnection, here: &Here, kind: &'static Kind, record: &Record) -> Result<Fields, Failure> {
    let mut typed = Fields::default();
    for (column, cell) in kind.columns.iter().zip(&record.cells) {
        let says = match (column.shape, cell) {
            (Shape::Key(target), Cell::To(number)) => key_of(db, here.zone(), target, *number).await?,
            (Shape::Moment, cell) => cell.moment().map(|at| here.zone().for_field(at)).unwrap_or_default(),
            (shape, cell) => shape.show(cell, here.zone(), |_, number| number.to_string()),
        };
        typed = typed.with(column.name, says);
    }
    Ok(typed)
}

/// What each correction changed, newest first: the figure struck and the one that took its place.
pub(super) async fn history(db: &mut SqliteConnection, here: &Here, kind: &'static Kind, record: &Record) -> Result<Vec<Earlier>, Failure> {
    let struck = records::struck(db, kind, record.number).await?;
    let mut later: serde_json::Value = serde_json::from_str(&record.as_line(kind)).unwrap_or_default();
    let mut history = Vec::new();
    for own in struck.iter().rev() {
        let was: serde_json::Value = serde_json::from_str(&own.was).unwrap_or_default();
        let plain = |column: &crate::trade::records::Column, value: &serde_json::Value| match (column.shape, value) {
            (_, serde_json::Value::Null) => "nothing".to_owned(),
            (Shape::Moment, value) => {
                value.as_i64().map(|at| here.zone().in_full(crate::trade::when::Moment::seconds(at))).unwrap_or_default()
            }
            (Shape::Money, value) => value.as_i64().map(|cents| crate::trade::money::Money::cents(cents).to_string()).unwrap_or_default(),
            (_, serde_json::Value::Array(pair)) => pair.get(1).and_then(serde_json::Value::as_str).unwrap_or("").to_owned(),
            (_, serde_json::Value::String(text)) => text.clone(),
            (_, value) => value.to_string(),
        };
        let changes = kind
            .columns
            .iter()
            .filter(|column| was[column.name] != later[column.name])
            .map(|column| (column.label, plain(column, &was[column.name]), plain(column, &later[column.name])))
            .collect();
        history.push(Earlier {
            version: own.version,
            changes,
            who: own.who.clone(),
            at: here.zone().in_full(own.at),
            why: own.why.clone(),
        });
        later = was;
    }
    Ok(history)
}
