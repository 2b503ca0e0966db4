//! The binder: the papers somebody may ask for, all in one place, and the journal of every change in words a person reads.

mod passes;
mod span;

use super::{App, Frame, Here, bound};
use crate::{
    copies::Copies,
    store::{backup, farm, journal, records, trace},
    trade::{
        journal::Line,
        kinds::{Kind, kind},
        money::Money,
        owners::Schedule,
        records::{Column, Record, Shape},
        wear::Span,
        when::{Moment, day_shown, parse_day},
    },
    web::{
        answer::{Answer, Trouble, page},
        rooms::Rooms,
        visitor::Who,
    },
};
use askama::Template;
use serde_json::Value;
use sqlx::SqliteConnection;
use std::collections::{BTreeSet, HashMap};

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new()
        .look("/binder", Who::Owner, index)
        .look("/binder/complaints", Who::Owner, complaints)
        .look("/binder/journal", Who::Owner, changes)
        .and(span::rooms())
        .and(passes::rooms())
}

/// How many lines of the journal the page shows.
const LINES: i64 = 200;

/// The papers of the binder.
#[derive(Template)]
#[template(path = "binder/index.html")]
struct Index {
    frame: Frame,
    rules: Option<RuleSet>,
    copied: String,
    by_itself: Option<ByItself>,
    ledger: String,
    /// The days the binder for the inspector shows where nobody says otherwise.
    usual: Span,
}

/// Copies that are made by themselves.
struct ByItself {
    schedule: Schedule,
    /// Since when it has been going wrong.
    since: String,
    /// The copies that are there, the newest first: what the file is called, and when it was made.
    there: Vec<(String, String)>,
}

/// The rules followed now.
struct RuleSet {
    title: String,
    citation: String,
    sure: String,
    since: String,
    check_by: String,
}

#[derive(Template)]
#[template(path = "binder/complaints.html")]
struct Complaints {
    frame: Frame,
    rows: Vec<Told>,
}

/// A complaint as the list shows it.
struct Told {
    number: i64,
    at: String,
    says: String,
    ill_since: String,
    /// What to trace: the words on the button and the address.
    trace: (String, String),
}

#[derive(Template)]
#[template(path = "binder/journal.html")]
struct Changes {
    frame: Frame,
    lines: Vec<Change>,
}

/// One line of the journal in words.
struct Change {
    at: String,
    who: String,
    did: &'static str,
    one: &'static str,
    address: String,
    facts: Vec<(&'static str, String, String)>,
    why: String,
}

async fn index(here: Here) -> Answer {
    let mut db = here.app.ledger.read().await?;
    let rules = rule_set(&mut db, &here).await?;
    let copied = backup::last(&mut db, here.now).await?.map_or_else(
        || "No copy has been made yet: if this file is lost, everything is.".to_owned(),
        |at| format!("The last checked copy was made {}.", here.zone().in_full(at)),
    );
    let by_itself = match &here.app.copies {
        Some(copies) => Some(by_itself(&mut db, &here, copies).await),
        None => None,
    };
    let usual = bound::usual(farm::since(&mut db).await?, here.zone().day(here.now));
    drop(db);
    let frame = Frame::of(&here, "Binder", "Binder").await?;
    page(&Index { usual, frame, rules, copied, by_itself, ledger: here.app.ledger.file().display().to_string() })
}

/// Where the copies go, how that goes, and which are there. A folder that is away shows none and is no trouble of this page's.
async fn by_itself(db: &mut SqliteConnection, here: &Here, copies: &Copies) -> ByItself {
    let there = backup::there(db, copies.folder()).await.unwrap_or_default();
    let schedule = copies.schedule();
    let since = schedule.failed.as_ref().map(|(since, _)| here.zone().in_full(*since)).unwrap_or_default();
    ByItself { schedule, since, there: there.into_iter().rev().map(|own| (own.name, here.zone().in_full(own.at))).collect() }
}

async fn rule_set(db: &mut SqliteConnection, here: &Here) -> Result<Option<RuleSet>, Trouble> {
    let kind = kind_of("rules")?;
    let today = here.zone().day(here.now).to_string();
    let newest = records::newest(db, kind, 100).await?;
    let words = |text: &str| parse_day(text).map_or_else(|_| text.to_owned(), day_shown);
    // A set that stands beside others is told on its own page; here is the one they stand beside.
    let base = |record: &Record| record.cell(kind, "since").text() <= today.as_str() && record.cell(kind, "beside").text() != "yes";
    Ok(newest.into_iter().find(base).map(|record| RuleSet {
        title: record.cell(kind, "title").text().to_owned(),
        citation: record.cell(kind, "citation").text().to_owned(),
        sure: record.cell(kind, "sure").text().to_owned(),
        since: words(record.cell(kind, "since").text()),
        check_by: words(record.cell(kind, "check_by").text()),
    }))
}

fn kind_of(name: &str) -> Result<&'static Kind, Trouble> {
    kind(name).ok_or_else(|| Trouble::Ours(format!("no kind {name}")))
}

async fn complaints(here: Here) -> Answer {
    let kind = kind_of("complaints")?;
    let mut db = here.app.ledger.read().await?;
    let people: HashMap<i64, String> = trace::households(&mut db).await?.into_iter().map(|own| (own.number, own.label)).collect();
    let lots: HashMap<i64, String> = records::keys(&mut db, kind_of("lots")?).await?.into_iter().collect();
    let told = records::newest(&mut db, kind, 100).await?;
    drop(db);
    let rows = told.iter().map(|record| Told::of(&here, kind, record, &lots, &people)).collect();
    page(&Complaints { rows, frame: Frame::of(&here, "Binder", "Complaints").await? })
}

impl Told {
    fn of(here: &Here, kind: &Kind, record: &Record, lots: &HashMap<i64, String>, people: &HashMap<i64, String>) -> Told {
        let cell = |name| record.cell(kind, name);
        let lot = cell("lot").whole().and_then(|number| lots.get(&number));
        let person = cell("person").whole().and_then(|number| people.get(&number));
        let ill = cell("ill_since").text();
        Told {
            number: record.number,
            at: cell("at").moment().map(|at| here.zone().in_full(at)).unwrap_or_default(),
            says: cell("says").text().to_owned(),
            ill_since: parse_day(ill).map(day_shown).unwrap_or_default(),
            trace: offered(lot, person, cell("picked_up").text()),
        }
    }
}

/// The trace a complaint asks for: by its lot, or by whoever told and the day they came, or whatever of that is known.
fn offered(lot: Option<&String>, person: Option<&String>, picked_up: &str) -> (String, String) {
    match (lot, person) {
        (Some(code), _) => (format!("Trace lot {code}"), format!("/trace/{code}")),
        (None, Some(label)) if !picked_up.is_empty() => {
            let day = parse_day(picked_up).map_or_else(|_| picked_up.to_owned(), day_shown);
            (format!("Trace what {label} had on {day}"), format!("/trace?person={label}&day={picked_up}"))
        }
        (None, Some(label)) => (format!("Trace what {label} had"), format!("/trace?person={label}")),
        (None, None) => ("Trace".to_owned(), "/trace".to_owned()),
    }
}

async fn changes(here: Here) -> Answer {
    let mut db = here.app.ledger.read().await?;
    let newest = journal::newest(&mut db, LINES).await?;
    let names = names(&mut db, &newest).await?;
    drop(db);
    let lines = newest.iter().filter_map(|line| change(line, &here, &names)).collect();
    page(&Changes { lines, frame: Frame::of(&here, "Binder", "Journal").await? })
}

type Names = HashMap<(&'static str, i64), String>;

/// What the records these lines point to are called.
async fn names(db: &mut SqliteConnection, lines: &[Line]) -> Result<Names, Trouble> {
    let columns = lines.iter().filter_map(|line| kind(&line.kind)).flat_map(|kind| kind.columns);
    let targets: BTreeSet<&'static str> =
        columns.filter_map(|column| if let Shape::Key(target) = column.shape { Some(target) } else { None }).collect();
    let mut names = Names::new();
    for target in targets {
        let keyed = kind_of(target)?;
        names.extend(records::keys(&mut *db, keyed).await?.into_iter().map(|(number, key)| ((target, number), key)));
    }
    Ok(names)
}

fn change(line: &Line, here: &Here, names: &Names) -> Option<Change> {
    let kind = kind(&line.kind)?;
    let read = |text: &Option<String>| text.as_deref().and_then(|text| serde_json::from_str::<Value>(text).ok()).unwrap_or_default();
    let (before, after) = (read(&line.before), read(&line.after));
    let facts = kind
        .columns
        .iter()
        // What an erasure left is no news, and what it took is gone.
        .filter(|_| line.did != "erased")
        .filter(|column| before[column.name] != after[column.name])
        .map(|column| (column.label, said(column, &before[column.name], here, names), said(column, &after[column.name], here, names)))
        .collect();
    let gone = line.after.is_none() || line.did == "undone";
    Some(Change {
        at: here.zone().in_full(line.at),
        who: line.who.clone(),
        did: match line.did.as_str() {
            "kept" => "wrote down",
            "imported" => "took in",
            "corrected" => "corrected",
            "struck" => "struck through",
            "erased" => "erased a name from",
            _ => "took back",
        },
        one: kind.one,
        address: if gone { String::new() } else { format!("/records/{}/{}", kind.name, line.number) },
        facts,
        why: line.why.clone().unwrap_or_default(),
    })
}

/// A cell of a journal line in words; empty when there was nothing.
fn said(column: &Column, value: &Value, here: &Here, names: &Names) -> String {
    match (column.shape, value) {
        (_, Value::Null) => String::new(),
        (Shape::Moment, value) => value.as_i64().map(|at| here.zone().in_full(Moment::seconds(at))).unwrap_or_default(),
        (Shape::Money, value) => value.as_i64().map(|cents| format!("${}", Money::cents(cents))).unwrap_or_default(),
        (Shape::Key(target), value) => {
            let number = value.as_i64().unwrap_or_default();
            names.get(&(target, number)).cloned().unwrap_or_else(|| format!("number {number}"))
        }
        (_, Value::Array(pair)) => pair.get(1).and_then(Value::as_str).unwrap_or_default().to_owned(),
        (_, Value::String(text)) => text.clone(),
        (_, value) => value.to_string(),
    }
}
