//! A result that came late: the results that stand against the milk, those of germs and drugs first; and for one of them what it says,
//! what to do although none is on hand any more, and what was known on the day of every hand-out.

use super::{App, Frame, Here};
use crate::{
    store::{
        farm::{self, RuleBook},
        lab::{self, Bottle, Found},
        late, lots, verdict,
    },
    trade::{
        lab::{LabResult, Of},
        late::{Stands, look_first, stands},
        limits::Limits,
        standing,
        verdict::{Verdict, Word, judge},
        when::{Moment, day_shown},
    },
    web::{
        answer::{Answer, Trouble, page},
        rooms::Rooms,
        secret,
        visitor::Who,
    },
};
use askama::Template;
use axum::extract::Path;
use sqlx::SqliteConnection;

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new().look("/bad-day/result", Who::Owner, index).look("/bad-day/result/{number}", Who::Owner, show)
}

/// How far back results are listed: some germs show themselves after weeks, and jars stand frozen for months.
const BACK_DAYS: i64 = 120;

#[derive(Template)]
#[template(path = "late/index.html")]
struct Index {
    frame: Frame,
    never: Vec<Line>,
    over: Vec<Line>,
}

/// A result that stands against the milk.
struct Line {
    number: i64,
    wrote: String,
    of: String,
    out: String,
}

fn wrote(own: &Found) -> String {
    format!("{} {} {}", own.result.analyte.spoken(), own.wrote, own.unit).trim_end().to_owned()
}

/// The limits of every set followed on the day of a result's milk.
fn limits_on(book: &RuleBook, here: &Here, day_of: Moment) -> Vec<Limits> {
    let rules = book.on(here.zone().day(day_of));
    [rules.base].into_iter().chain(rules.beside).map(|own| own.limits).collect()
}

fn standing_of(limits: &[Limits], result: &LabResult) -> Stands {
    stands(&limits.iter().collect::<Vec<_>>(), result)
}

async fn index(here: Here) -> Answer {
    let mut db = here.app.ledger.read().await?;
    let book = farm::rule_book(&mut db).await?;
    let (mut never, mut over) = (Vec::new(), Vec::new());
    for own in lab::found_since(&mut db, here.now.plus_hours(-BACK_DAYS * 24)).await?.into_iter().rev() {
        let result = &own.result;
        let stands = standing_of(&limits_on(&book, &here, result.drawn), result);
        if stands == Stands::Not || !result.is_known(here.zone(), here.now) {
            continue;
        }
        let lots = lots_of(&mut db, &own, None).await?;
        let out = late::out(&mut db, &lots).await?;
        let line = Line {
            number: result.number,
            wrote: wrote(&own),
            of: format!("{}, drawn {}, reported {}", result.of, here.zone().shown(result.drawn), day_shown(result.reported)),
            out: if out.is_none() { "nothing of it is out".to_owned() } else { format!("{out} out") },
        };
        if stands == Stands::Never { never.push(line) } else { over.push(line) }
    }
    drop(db);
    page(&Index { frame: Frame::of(&here, "Jars", "The lab found something").await?, never, over })
}

/// The lots a result is about: its own, or every one with the cow's milk since the day before her bottle.
async fn lots_of(db: &mut SqliteConnection, own: &Found, bottle: Option<&Bottle>) -> Result<Vec<i64>, Trouble> {
    Ok(match (&own.result.of, bottle.and_then(|bottle| bottle.lot)) {
        (_, Some(lot)) => vec![lot],
        (Of::Lot(code), None) => lots::find(db, code).await?.map(|lot| lot.number).into_iter().collect(),
        (Of::Cow(cow), None) => late::lots_with(db, cow, own.result.drawn.plus_hours(-24)).await?,
        _ => Vec::new(),
    })
}

#[derive(Template)]
#[template(path = "late/show.html")]
struct Show {
    frame: Frame,
    number: i64,
    wrote: String,
    of: String,
    when: String,
    stands: Stands,
    is_drug: bool,
    says: Vec<String>,
    look: &'static str,
    health: String,
    vet: String,
    lots: Vec<LotNow>,
    then: Vec<Then>,
}

/// A lot as it stands now.
struct LotNow {
    code: String,
    verdict: Verdict,
    is_held: bool,
    out: String,
    /// The entry mark of its own hold.
    entry: String,
}

/// A hand-out, with what was known then and what the lot says now.
struct Then {
    own: late::Then,
    at: String,
    word: Option<Word>,
    now: Word,
    facts: Vec<String>,
}

async fn show(here: Here, Path(number): Path<i64>) -> Answer {
    let mut db = here.app.ledger.read().await?;
    let gone = || Trouble::NotThere(format!("There is no result {number}: it was never kept, or was struck through."));
    let found = lab::found(&mut db, number).await?.ok_or_else(gone)?;
    let bottle = lab::bottle(&mut db, found.result.sample).await?.ok_or_else(gone)?;
    let view = view(&mut db, &here, found, bottle).await?;
    drop(db);
    page(&Show { frame: Frame::of(&here, "Jars", "The lab found something").await?, ..view })
}

async fn view(db: &mut SqliteConnection, here: &Here, found: Found, bottle: Bottle) -> Result<Show, Trouble> {
    let numbers = lots_of(&mut *db, &found, Some(&bottle)).await?;
    let facts = verdict::facts(&mut *db, &numbers, here.zone(), here.now).await?;
    let book = farm::rule_book(&mut *db).await?;
    // A lot is judged by the rules of the day it was filled; a cow's bottle by those of the day it was drawn.
    let day = facts.first().filter(|_| bottle.lot.is_some()).map_or(bottle.drawn, |facts| facts.filled);
    let limits = limits_on(&book, here, day);
    let (mut lots, mut now) = (Vec::new(), Vec::new());
    for (number, own) in numbers.iter().zip(&facts) {
        let (verdict, out) = (judge(own, here.now), late::out(&mut *db, &[*number]).await?);
        now.push((*number, verdict.word()));
        let is_held = own.holds.iter().any(|hold| hold.what == "This lot" && hold.stands(here.now));
        lots.push(LotNow { code: own.code.clone(), verdict, is_held, out: out.to_string(), entry: secret::entry() });
    }
    let farm: Vec<LabResult> =
        lab::found_since(&mut *db, here.now.plus_hours(-1100 * 24)).await?.into_iter().map(|own| own.result).collect();
    let then = late::handed_out(db, &numbers).await?.into_iter().map(|own| row(here, own, &now)).collect();
    Ok(Show {
        frame: Frame::outside(&here.app, "", ""),
        number: found.result.number,
        wrote: wrote(&found),
        of: found.result.of.to_string(),
        when: format!("Drawn {}, reported {}", here.zone().in_full(found.result.drawn), day_shown(found.result.reported)),
        stands: standing_of(&limits, &found.result),
        is_drug: found.result.analyte.is_drug(),
        says: says(here, &limits, &found.result, &farm),
        look: look_first(&found.result.analyte),
        health: here.farm.health.clone(),
        vet: here.farm.vet.clone(),
        lots,
        then,
    })
}

/// How it stands against each limit, and what the rule does next at such a figure.
fn says(here: &Here, limits: &[Limits], result: &LabResult, farm: &[LabResult]) -> Vec<String> {
    let mut says = Vec::new();
    for limit in limits.iter().flat_map(|own| own.of(&result.analyte)) {
        says.push(standing::reason(limit, &result.analyte, &result.figure, result.unit));
        says.extend(standing::last_rung(limit, farm, here.zone()).map(|rung| rung.reason(limit)));
    }
    says.dedup();
    says
}

fn row(here: &Here, own: late::Then, now: &[(i64, Word)]) -> Then {
    let words = [Word::CanGo, Word::Wait, Word::CantTell, Word::KeepBack];
    Then {
        at: here.zone().in_full(own.at),
        word: words.into_iter().find(|word| word.to_string() == own.verdict),
        now: now.iter().find(|(lot, _)| *lot == own.lot).map_or(Word::CantTell, |(_, word)| *word),
        facts: own.facts.lines().map(str::to_owned).collect(),
        own,
    }
}
