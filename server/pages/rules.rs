//! The rules the farm follows, in words: what holds today, what held before, and what is known of other places.
//!
//! Nothing here says that a rule is in force. Each rule comes with where it was read and how sure that is, and what is not
//! known is said to be not known.

mod writing;

use super::{App, Frame, Here, kind_of};
use crate::{
    store::{records, rules as sets},
    trade::{
        followed::{Version, look_again, notes, standing},
        records::Record,
        rules::{RuleSet, places},
        told::{Topic, place as told_of, topics},
        when::{Day, day_shown, parse_day},
    },
    web::{
        answer::{Answer, Trouble, page},
        rooms::Rooms,
        visitor::Who,
    },
};
use askama::Template;
use axum::extract::Path;

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new()
        .look("/rules", Who::Owner, index)
        .look("/rules/places", Who::Owner, list)
        .look("/rules/places/{id}", Who::Owner, show)
        .look("/rules/new", Who::Owner, writing::new)
        .send("/rules", Who::Owner, writing::create)
}

/// Where a set comes from: what it is called and what it says.
struct Source {
    facts: Vec<(&'static str, String)>,
    url: String,
}

impl Source {
    /// Whether the address is one a browser may be sent to. A ledger can hold any text.
    fn is_link(&self) -> bool {
        ["https://", "http://"].iter().any(|start| self.url.starts_with(start))
    }
}

/// One set the farm follows, as the page tells it.
struct Followed {
    number: i64,
    title: String,
    beside: bool,
    source: Source,
    /// The day it was to be looked up again by, when that day is past.
    overdue: String,
    topics: Vec<Topic>,
    notes: Vec<String>,
}

/// One line of the sets that hold no longer, or not yet.
struct Other {
    number: i64,
    title: String,
    when: String,
    why: String,
}

#[derive(Template)]
#[template(path = "rules/index.html")]
struct Index {
    frame: Frame,
    today: String,
    health: String,
    now: Vec<Followed>,
    to_come: Vec<Other>,
    earlier: Vec<Other>,
}

impl Index {
    fn has_base(&self) -> bool {
        self.now.iter().any(|own| !own.beside)
    }
}

#[derive(Template)]
#[template(path = "rules/places.html")]
struct List {
    frame: Frame,
    sets: Vec<RuleSet>,
}

#[derive(Template)]
#[template(path = "rules/place.html")]
struct Show {
    frame: Frame,
    set: RuleSet,
    source: Source,
    topics: Vec<Topic>,
    notes: Vec<String>,
}

async fn index(here: Here) -> Answer {
    let today = here.zone().day(here.now);
    let known = built_in()?;
    let kind = kind_of("rules")?;
    let mut db = here.app.ledger.read().await?;
    let standing = standing(&sets::versions(&mut db).await?, today);
    let mut now = Vec::new();
    for version in &standing.now {
        if let Some(record) = records::find(&mut db, kind, version.number).await? {
            now.push(followed(version, &record, &known, today)?);
        }
    }
    drop(db);
    let to_come = standing.to_come.iter().map(|own| other(own, format!("From {}", day_shown(own.since)))).collect();
    let earlier = standing.earlier.iter().map(|(own, last)| other(own, held(own.since, *last))).collect();
    let (frame, health) = (Frame::of(&here, "Binder", "Rules followed").await?, here.farm.health.clone());
    page(&Index { frame, today: day_shown(today), health, now, to_come, earlier })
}

fn built_in() -> Result<Vec<RuleSet>, Trouble> {
    places().map_err(|fault| Trouble::Ours(fault.to_string()))
}

fn place_of(id: &str) -> Result<RuleSet, Trouble> {
    let found = built_in()?.into_iter().find(|set| set.id == id);
    found
        .ok_or_else(|| Trouble::NotThere("No place with this name is listed here. “My place is not listed” is one of the sets.".to_owned()))
}

fn held(since: Day, last: Option<Day>) -> String {
    match last {
        Some(last) => format!("{} until {}", day_shown(since), day_shown(last)),
        None => format!("{}; another set from the same day took its place", day_shown(since)),
    }
}

fn other(own: &Version, when: String) -> Other {
    Other { number: own.number, title: own.title.clone(), when, why: own.why.clone() }
}

fn followed(version: &Version, record: &Record, known: &[RuleSet], today: Day) -> Result<Followed, Trouble> {
    let kind = kind_of("rules")?;
    let cell = |name: &str| match record.cell(kind, name) {
        cell if cell.text().is_empty() => cell.whole().map(|whole| whole.to_string()).unwrap_or_default(),
        cell => cell.text().to_owned(),
    };
    let or = |name: &str, otherwise: &str| Some(cell(name)).filter(|text| !text.is_empty()).unwrap_or_else(|| otherwise.to_owned());
    let day = |name: &str| parse_day(&cell(name)).map_or_else(|_| "no day is set".to_owned(), day_shown);
    let facts = vec![
        ("Citation", or("citation", "not known")),
        ("Date of the text", or("text_date", "not known")),
        ("How sure, on the whole", cell("sure")),
        ("Followed from", day("since")),
        ("Check again by", day("check_by")),
        ("Why this version", or("why", "no reason is written down")),
    ];
    let place = known.iter().find(|set| set.id == cell("place"));
    Ok(Followed {
        number: record.number,
        title: version.title.clone(),
        beside: version.beside,
        source: Source { facts, url: cell("url") },
        overdue: version.check_by.filter(|by| *by < today).map(day_shown).unwrap_or_default(),
        topics: topics(cell, place),
        notes: cell("notes").lines().map(str::to_owned).collect(),
    })
}

async fn list(here: Here) -> Answer {
    let sets = built_in()?;
    page(&List { frame: Frame::of(&here, "Binder", "Rules of places").await?, sets })
}

async fn show(here: Here, Path(id): Path<String>) -> Answer {
    let set = place_of(&id)?;
    let facts = vec![
        ("Where", set.place.clone()),
        ("Citation", set.citation.clone()),
        ("Date of the text", set.text_date.clone()),
        ("How sure, on the whole", how_sure(&set)),
    ];
    let source = Source { facts, url: set.url.clone().unwrap_or_default() };
    let topics = told_of(&set, here.zone().day(here.now));
    let notes = notes(&set);
    page(&Show { frame: Frame::of(&here, "Binder", set.title.clone()).await?, set, source, topics, notes })
}

/// How sure a set is, in words.
fn how_sure(set: &RuleSet) -> String {
    set.sure.map_or_else(|| "nothing was read".to_owned(), |sure| sure.to_string())
}
