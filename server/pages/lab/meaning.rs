//! What one result means: for its lot now and for what went out before it was known, and the next thing to do. It says what
//! was found and never that milk is safe.

use super::{Told, as_written, is_never, of_what, read_out};
use crate::{
    pages::{Frame, Here},
    store::{
        lab::{self, Bottle, Found, RuleSet},
        lots,
        results::BACK_DAYS,
        verdict,
    },
    trade::{
        jars::Jars,
        known::may_never_be,
        lab::{LabResult, Of},
        rests::next,
        standing::{self, Rung},
        verdict::{Facts, Verdict, Word, judge},
        when::{Day, day_shown},
    },
    web::{
        answer::{Answer, Trouble, page},
        secret,
    },
};
use askama::Template;
use axum::extract::Path;
use sqlx::SqliteConnection;
use std::collections::BTreeSet;

#[derive(Template)]
#[template(path = "lab/result.html")]
struct Show {
    frame: Frame,
    sample: i64,
    of: String,
    told: Told,
    when: String,
    siblings: Vec<(i64, String)>,
    lot: Option<LotNow>,
    /// What it is: found and never allowed, over, cannot be told, or within.
    telling: String,
    is_never: bool,
    is_drug: bool,
    health: String,
    vet: String,
    steps: Vec<String>,
    touches: Vec<String>,
    /// The lots a finding in a cow's bottle touches, to be traced by the owner.
    trace: Vec<String>,
    entry: String,
    break_entry: String,
    reason: String,
    since_break: Option<(String, Vec<String>)>,
}

/// The lot as it stands now, and what was known when its jars went.
struct LotNow {
    code: String,
    word: Word,
    reason: String,
    next: String,
    is_held: bool,
    gone: Vec<(String, String, Option<Word>, String)>,
    out: String,
}

pub(super) async fn show(here: Here, Path(number): Path<i64>) -> Answer {
    let mut db = here.app.ledger.read().await?;
    let gone = || Trouble::NotThere(format!("There is no result {number}: it was never kept, or was struck through."));
    let found = lab::found(&mut db, number).await?.ok_or_else(gone)?;
    let bottle = lab::bottle(&mut db, found.result.sample).await?.ok_or_else(gone)?;
    let view = view(&mut db, &here, found, bottle).await?;
    drop(db);
    page(&Show { frame: Frame::of(&here, "Jars", "What this result means").await?, ..view })
}

async fn view(db: &mut SqliteConnection, here: &Here, found: Found, bottle: Bottle) -> Result<Show, Trouble> {
    let numbers: Vec<i64> = bottle.lot.into_iter().collect();
    let facts = verdict::facts(&mut *db, &numbers, here.zone(), here.now).await?.into_iter().next();
    // A lot is judged by the rules of the day it was filled; everything else by those of the day it was drawn.
    let day = here.zone().day(facts.as_ref().map_or(bottle.drawn, |facts| facts.filled));
    let sets = lab::rule_sets(&mut *db, day).await?;
    let farm: Vec<LabResult> =
        lab::found_since(&mut *db, here.now.plus_hours(-BACK_DAYS * 24)).await?.into_iter().map(|own| own.result).collect();
    let siblings = lab::found_in(&mut *db, bottle.number).await?;
    let is_never = is_never(&found.result, &sets);
    let since_break = match bottle.lot.filter(|_| is_never && here.visitor.is_owner()) {
        Some(lot) => lab::since_clean_break(&mut *db, lot).await?.map(|(at, codes)| (here.zone().shown(at), codes)),
        None => None,
    };
    let lot = match (bottle.lot, facts) {
        (Some(number), Some(facts)) => Some(lot_now(&mut *db, here, number, &facts).await?),
        _ => None,
    };
    let trace = match &bottle.of {
        Of::Cow(cow) if is_never && here.visitor.is_owner() => lab::lots_with(&mut *db, cow, bottle.drawn.plus_hours(-24)).await?,
        _ => Vec::new(),
    };
    let touches = touches(&mut *db, &bottle, (is_never, found.result.is_found())).await?;
    let told = read_out(&found, &sets);
    let owner = |says: &str| if here.visitor.is_owner() { says.to_owned() } else { String::new() };
    Ok(Show {
        frame: Frame::outside(&here.app, "", ""),
        sample: bottle.number,
        of: of_what(&bottle),
        when: format!("Drawn {}, reported {}", here.zone().in_full(found.result.drawn), day_shown(found.result.reported)),
        siblings: siblings
            .iter()
            .filter(|own| own.result.number != found.result.number)
            .map(|own| (own.result.number, as_written(own)))
            .collect(),
        lot,
        telling: telling(&told, &found.result),
        is_never,
        is_drug: found.result.analyte.is_drug(),
        health: owner(&here.farm.health),
        vet: owner(&here.farm.vet),
        steps: steps(here, &found.result, &sets, &farm),
        touches,
        trace,
        entry: secret::entry(),
        break_entry: secret::entry(),
        reason: format!("{} in the bottle drawn {}.", found.result.analyte.was_found(), here.zone().shown(found.result.drawn)),
        since_break,
        told,
    })
}

/// The one sentence. What keeps its limit is said to do so, and no more.
fn telling(told: &Told, result: &LabResult) -> String {
    let of = match &result.of {
        Of::Lot(code) => format!("lot {code}"),
        other => other.to_string(),
    };
    match told.rank {
        3 => format!("{} in {of}.", result.analyte.was_found()),
        2 => format!("{} is over a limit of the farm's rules.", result.analyte.spoken()),
        1 => "This result cannot be held against its limit.".to_owned(),
        _ if told.stands.is_empty() => "The farm's rules name no limit for this.".to_owned(),
        _ => "This result keeps its limit. It speaks of this bottle, and of nothing that was not looked for.".to_owned(),
    }
}

/// What the rules do next at such a result: the rung, the days for a fresh sample, the further test.
fn steps(here: &Here, result: &LabResult, sets: &[RuleSet], farm: &[LabResult]) -> Vec<String> {
    let mut steps = Vec::new();
    for set in sets {
        for limit in set.limits.of(&result.analyte) {
            let over = standing::compare(limit, &result.figure, result.unit) == standing::Compared::Over;
            let rung = standing::last_rung(limit, farm, here.zone());
            steps.extend(rung.filter(|_| over).map(|rung| rung.reason(limit)));
            // A fresh sample is for a count that ran high: it frees nothing in which a pathogen was found.
            if over && !may_never_be(&set.limits, result) && (rung.is_none() || rung != Some(Rung::Fine)) {
                steps.extend(set.resample.map(|(after, within)| again_from(result.reported, after, within)));
            }
            steps.extend(
                standing::calls_for(limit, &result.figure, result.unit)
                    .map(|next| format!("So high a figure calls for a test for {next}.")),
            );
        }
    }
    steps.dedup();
    steps
}

fn again_from(reported: Day, after: i64, within: i64) -> String {
    let (from, to) = standing::resample_window(reported, after, within);
    format!(
        "A fresh sample is drawn from {} to {}: counted from the day the lab reported, {}, as the day of notice.",
        day_shown(from),
        day_shown(to),
        day_shown(reported)
    )
}

/// The lot's verdict now beside the words frozen on its hand-outs. Names and phone numbers are the trace's.
async fn lot_now(db: &mut SqliteConnection, here: &Here, number: i64, facts: &Facts) -> Result<LotNow, Trouble> {
    let verdict: Verdict = judge(facts, here.now);
    let gone = lab::gone(&mut *db, number).await?;
    let households: BTreeSet<i64> = gone.iter().filter_map(|own| own.person).collect();
    let unknown = gone.iter().filter(|own| own.person.is_none()).count();
    let jars: Jars = gone.iter().map(|own| own.jars).sum();
    let on_hand = lots::on_hand(&mut *db, here.now).await?.into_iter().find(|own| own.lot.number == number);
    let left =
        on_hand.as_ref().map_or_else(|| "None are left by the book.".to_owned(), |own| format!("Left by the book: {}.", own.by_the_book));
    let many = |count: usize, one: &str, more: &str| format!("{count} {}", if count == 1 { one } else { more });
    let walk_ins = if unknown > 0 { format!(" and {} nobody knows", many(unknown, "walk-in", "walk-ins")) } else { String::new() };
    let to = many(households.len(), "household", "households");
    Ok(LotNow {
        code: facts.code.clone(),
        word: verdict.word(),
        reason: verdict.reason(),
        next: next(&verdict, on_hand.is_none()),
        is_held: facts.holds.iter().any(|hold| hold.what == "This lot" && hold.stands(here.now)),
        out: if gone.is_empty() {
            format!("None of it was handed out. {left}")
        } else {
            format!("Handed out: {jars}, to {to}{walk_ins}. {left}")
        },
        gone: gone
            .iter()
            .map(|own| (here.zone().shown(own.at), own.jars.to_string(), word_of(&own.verdict), own.verdict.clone()))
            .collect(),
    })
}

fn word_of(verdict: &str) -> Option<Word> {
    [Word::CanGo, Word::Wait, Word::CantTell, Word::KeepBack].into_iter().find(|word| word.to_string() == verdict)
}

/// What a result that is no lot's touches.
async fn touches(db: &mut SqliteConnection, bottle: &Bottle, (is_never, found): (bool, bool)) -> Result<Vec<String>, Trouble> {
    Ok(match &bottle.of {
        Of::Lot(_) => Vec::new(),
        Of::Cow(cow) => {
            let codes = lab::lots_with(&mut *db, cow, bottle.drawn.plus_hours(-24)).await?;
            let lots = if codes.is_empty() { "no lot yet".to_owned() } else { codes.join(", ") };
            let found = if is_never {
                " Each of them is kept back. Once a later bottle of hers is clear, what is milked after it is not."
            } else {
                ""
            };
            vec![format!("It touches the milk of {cow}. In cans since the day before this bottle: {lots}.{found}")]
        }
        Of::Water if found => vec![
            "It touches everything this water washed or rinsed: cans, buckets, jars, hands and udders.".to_owned(),
            "Ask the health department whether to boil it or use other water, and have it tested again.".to_owned(),
        ],
        Of::Swab if found => vec![
            "It touches whatever this surface touched since it was last washed and sanitised.".to_owned(),
            "Wash and sanitise it again, write the clean break down, and swab it again.".to_owned(),
        ],
        Of::Water | Of::Swab => Vec::new(),
    })
}
