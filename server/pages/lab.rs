//! The lab: which bottles are out, what came back, and where the farm stands against its limits. What one result means for
//! the milk has a page of its own, because it may come when the milk is long drunk.

mod bottle;
mod meaning;
mod papers;
mod reading;
mod sample;
mod standings;

use super::{App, Frame, Here};
use crate::{
    store::{
        lab::{self, Bottle, Found},
        results::BACK_DAYS,
    },
    trade::{lab::LabResult, limits::Limits},
    web::{
        answer::{Answer, page},
        rooms::Rooms,
        visitor::Who,
    },
};
use askama::Template;
use bottle::{known, view};
use reading::{Told, as_written, is_never, limits_of, of_what, read_out};
use standings::{Standing, standings};

/// The doors of this file and of its parts.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new()
        .look("/lab", Who::Farm, index)
        .look("/lab/samples/new", Who::Farm, sample::new)
        .send("/lab/samples", Who::Farm, sample::create)
        .look("/lab/samples/{number}", Who::Farm, bottle::show)
        .send("/lab/samples/{number}/results", Who::Owner, bottle::results)
        .send_file("/lab/samples/{number}/paper", Who::Owner, papers::keep)
        .look("/lab/results/{number}", Who::Farm, meaning::show)
        .look("/documents/{document}", Who::Owner, papers::show)
}

#[derive(Template)]
#[template(path = "lab/index.html")]
struct Index {
    frame: Frame,
    out: Vec<Out>,
    newest: Vec<(i64, String, String)>,
    rules: Vec<(String, Vec<Standing>)>,
}

/// A bottle that is out.
struct Out {
    number: i64,
    of: String,
    is_lot: bool,
    drawn: String,
    asked: String,
    days: String,
}

async fn index(here: Here) -> Answer {
    let today = here.zone().day(here.now);
    let mut db = here.app.ledger.read().await?;
    let since = here.now.plus_hours(-BACK_DAYS * 24);
    let found = lab::found_since(&mut db, since).await?;
    let bottles = lab::bottles(&mut db, since).await?;
    let sets = lab::rule_sets(&mut db, today).await?;
    let first = lab::first_day(&mut db).await?.unwrap_or(today);
    drop(db);
    let limits = sets.first().map(|set| set.limits.clone()).unwrap_or_default();
    let results: Vec<LabResult> = found.iter().map(|own| own.result.clone()).collect();
    page(&Index {
        frame: Frame::of(&here, "Jars", "Lab").await?,
        out: bottles.iter().filter_map(|bottle| out(&here, bottle, &found, &limits)).collect(),
        newest: newest(&here, &found),
        rules: sets.iter().map(|set| (set.title.clone(), standings(set, &results, here.zone(), first.max(set.since), today))).collect(),
    })
}

/// A bottle whose results are not all in, as a line.
fn out(here: &Here, bottle: &Bottle, found: &[Found], limits: &Limits) -> Option<Out> {
    let own: Vec<Found> = found.iter().filter(|result| result.result.sample == bottle.number).cloned().collect();
    let open = bottle.open(&own, limits);
    if open.is_empty() && !(bottle.asked.is_empty() && own.is_empty()) {
        return None;
    }
    let asked: Vec<&str> = open.iter().map(|analyte| analyte.name()).collect();
    let days = (here.zone().day(here.now) - here.zone().day(bottle.drawn)).num_days();
    Some(Out {
        number: bottle.number,
        of: of_what(bottle),
        is_lot: bottle.lot.is_some(),
        drawn: here.zone().shown(bottle.drawn),
        asked: if asked.is_empty() { "whatever the lab tests".to_owned() } else { asked.join(", ") },
        days: match days {
            0 => "out since today".to_owned(),
            1 => "out 1 day".to_owned(),
            many => format!("out {many} days"),
        },
    })
}

/// The newest results, as the lab wrote them.
fn newest(here: &Here, found: &[Found]) -> Vec<(i64, String, String)> {
    let mut newest: Vec<&Found> = found.iter().collect();
    newest.sort_by_key(|own| std::cmp::Reverse((own.result.reported, own.result.number)));
    let line = |own: &&Found| {
        let of = format!(
            "{}, drawn {}, reported {}",
            own.result.of,
            here.zone().shown(own.result.drawn),
            crate::trade::when::day_shown(own.result.reported)
        );
        (own.result.number, as_written(own), of)
    };
    newest.iter().take(20).map(line).collect()
}
