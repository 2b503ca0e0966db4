//! Somebody is ill: the questions in the order in which they matter, each kept as it is answered, beside the milk they took and
//! the lots that cannot be excluded. It diagnoses nothing and shows nobody else's name.

use super::{
    App, Frame, Here,
    keeping::{self, Line},
    proposed, sheets,
};
use crate::{
    store::{
        complaints::{self, Took},
        lots, trace,
    },
    trade::{
        complaint::{By, QUESTIONS, Question, Told, question, read, shown},
        exposure::Agent,
        figures::{Part, Sheet},
        near,
        packet::complaint_table,
        reach,
        recipients::Household,
        records::Remark,
        when::{Day, Moment, Zone},
    },
    web::{
        answer::{Answer, Trouble, again, onward, page},
        form::{Fields, Sealed},
        rooms::Rooms,
        secret,
        visitor::Who,
    },
};
use askama::Template;
use axum::extract::{Path, Query};
use std::collections::BTreeMap;

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new()
        .look("/complaints/new", Who::Owner, who)
        .look("/complaints", Who::Owner, to_new)
        .send("/complaints", Who::Owner, begin)
        .look("/complaints/{number}", Who::Owner, show)
        .send("/complaints/{number}", Who::Owner, answer)
        .send("/complaints/{number}/hold", Who::Owner, hold)
        .look("/complaints/{number}/sheet", Who::Owner, sheet_page)
        .look("/complaints/{number}/sheet.pdf", Who::Owner, sheet_pdf)
        .look("/complaints/{number}/sheet.csv", Who::Owner, sheet_csv)
        .look("/complaints/{number}/sheet.json", Who::Owner, sheet_json)
}

/// How far back what a household took is shown: a jar drunk for ten days, and a window of ten days before it.
const SHOWN_DAYS: i64 = 28;
/// How far back the lots are that are stopped at the first tap: no jar is drunk longer. The call-back looks further.
const STOPPED_DAYS: i64 = 14;

type Query2 = Query<Vec<(String, String)>>;

#[derive(Template)]
#[template(path = "complaints/who.html")]
struct WhoIsIll {
    frame: Frame,
    typed: String,
    found: Vec<Household>,
    near: Vec<String>,
    entry: String,
    remark: String,
    caller: String,
}

async fn view_who(here: &Here, typed: &str, caller: &str, remark: String) -> Result<WhoIsIll, Trouble> {
    let mut db = here.app.ledger.read().await?;
    let all = trace::households(&mut db).await?;
    drop(db);
    let found = matching(&all, typed);
    let names = all.iter().flat_map(|own| own.name.split(|c: char| !c.is_alphanumeric())).filter(|name| name.chars().count() > 3);
    let mut near: Vec<String> = Vec::new();
    if found.is_empty() {
        let typed = typed.split_whitespace().filter(|word| word.chars().count() > 3).collect::<Vec<_>>();
        near.extend(names.filter(|name| typed.iter().any(|word| near::apart(name, word) <= 2)).map(str::to_owned));
        near.sort();
        near.dedup();
    }
    let frame = Frame::of(here, "Binder", "Somebody is ill").await?;
    Ok(WhoIsIll { frame, typed: typed.to_owned(), found, near, entry: secret::entry(), remark, caller: caller.to_owned() })
}

/// Households a caller may mean: by number, by any part of the name, or by the figures of a phone.
fn matching(all: &[Household], typed: &str) -> Vec<Household> {
    let words: Vec<String> =
        typed.split(|c: char| !c.is_alphanumeric()).map(str::to_lowercase).filter(|word| !TITLES.contains(&word.as_str())).collect();
    let words: Vec<&String> = words.iter().filter(|word| !word.is_empty()).collect();
    let figures = reach::digits(typed);
    let fits = |own: &&Household| {
        let name = own.name.to_lowercase();
        let by_phone = figures.len() >= 3 && [&own.phone, &own.second_way].iter().any(|way| reach::digits(way).ends_with(&figures));
        let by_number = plain(&own.label) == plain(typed);
        by_number || by_phone || words.iter().all(|word| name.contains(word.as_str()))
    };
    if words.is_empty() { Vec::new() } else { all.iter().filter(fits).cloned().collect() }
}

/// What somebody says before a name, and is no part of it.
const TITLES: [&str; 5] = ["mrs", "mr", "ms", "dr", "the"];

/// A number as it is said on the phone: `M05` and `m5` are the same.
fn plain(label: &str) -> String {
    let figures = label.trim().trim_start_matches(char::is_alphabetic);
    let letters = label.trim().strip_suffix(figures).unwrap_or_default();
    format!("{}{}", letters.to_lowercase(), figures.trim_start_matches('0'))
}

async fn who(here: Here, Query(asked): Query2) -> Answer {
    page(&view_who(&here, Fields(asked).get("who").trim(), "", String::new()).await?)
}

/// Whoever types the address a form was sent to begins at its first page.
async fn to_new(_: Here) -> Answer {
    onward("/complaints/new")
}

/// Opens a complaint as soon as it is known who rang: everything else is asked after that, and kept as it is answered.
async fn begin(here: Here, Sealed(typed): Sealed) -> Answer {
    let (person, caller) = (typed.get("person"), typed.get("caller").trim());
    if person.is_empty() && caller.is_empty() {
        let says = "Choose who rang, or write who it was: a neighbour, a guest, a number to ring back.".to_owned();
        return again(&view_who(&here, typed.get("who"), "", says).await?);
    }
    if let Some(number) = just_told(&here, person).await? {
        return onward(&format!("/complaints/{number}"));
    }
    let line = Line::of("complaints").now(&here).with("person", person).with("caller", caller).with("taken_by", here.visitor.name.clone());
    match keeping::all(&here, typed.get("entry"), vec![line]).await? {
        Ok(numbers) => onward(&format!("/complaints/{}", numbers.first().copied().unwrap_or_default())),
        Err(remarks) => again(&view_who(&here, typed.get("who"), caller, remarks.into_iter().map(|own| own.says).collect()).await?),
    }
}

/// A complaint of the same household taken down in the last half hour: going back in the browser is not a second call.
async fn just_told(here: &Here, person: &str) -> Result<Option<i64>, Trouble> {
    let told = complaints::list(&mut *here.app.ledger.read().await?, 3).await?;
    let is_it = |own: &Told| own.by.as_ref().is_some_and(|by| by.label == person) && here.now.minutes_since(own.at) < 30;
    Ok(told.iter().find(|own| is_it(own)).map(|own| own.number))
}

/// A day on which they fetched milk.
struct Fetched {
    day: Day,
    shown: String,
    what: String,
}

/// One of their lots.
struct Milk {
    code: String,
    held: bool,
}

#[derive(Template)]
#[template(path = "complaints/show.html")]
struct Show {
    frame: Frame,
    told: Told,
    ask: Option<Question>,
    skips: String,
    remarks: Vec<Remark>,
    typed: String,
    other: String,
    time: String,
    answered: Vec<(Question, String, String)>,
    open: Vec<Question>,
    days: Vec<(String, String)>,
    agents: Vec<&'static str>,
    fetched: Vec<Fetched>,
    milk: Vec<Milk>,
    unheld: usize,
    cannot_exclude: String,
    candidates: Vec<(String, String)>,
    odd: Option<String>,
    health: Vec<(String, Option<String>)>,
    entry: String,
}

impl Show {
    /// Whether enough is known to call lots back: since when, which day or which lid.
    fn may_call_back(&self) -> bool {
        let known = ["ill since", "picked up", "lot"].iter().any(|key| self.told.answers.contains_key(*key));
        known && !self.candidates.is_empty()
    }

    fn is(&self, by: By) -> bool {
        self.ask.is_some_and(|own| own.by == by)
    }
}

async fn found(here: &Here, number: i64) -> Result<Told, Trouble> {
    let told = complaints::one(&mut *here.app.ledger.read().await?, number).await?;
    told.ok_or_else(|| Trouble::NotThere(format!("There is no complaint {number}.")))
}

/// The page: the question that is open now, what was answered, and the milk.
async fn view(here: &Here, number: i64, asked: &Fields, remarks: Vec<Remark>) -> Result<Show, Trouble> {
    let told = found(here, number).await?;
    let zone = here.zone();
    let mut db = here.app.ledger.read().await?;
    let took = match &told.by {
        Some(own) => complaints::took(&mut db, own.number, here.now.plus_hours(-SHOWN_DAYS * 24)).await?,
        None => Vec::new(),
    };
    let start = proposed::of_complaint(&mut db, &told, zone, here.now).await?;
    let held = trace::held(&mut db, &took.iter().map(|own| own.lot).collect::<Vec<_>>()).await?;
    let codes = proposed::codes(&mut db, &start).await?;
    drop(db);
    let skips = asked.get("skip").to_owned();
    let skipped: Vec<&str> = skips.split(',').filter(|key| !key.is_empty()).collect();
    let ask = question(asked.get("ask")).or_else(|| told.next(&skipped));
    let milk = milk(&fresh(&took, here.now), &held);
    let candidates = start.iter().filter_map(|(lot, tie)| codes.get(&lot.0).map(|code| (code.clone(), tie.why().to_owned()))).collect();
    Ok(Show {
        answered: answered(&told, zone),
        open: QUESTIONS.into_iter().filter(|own| !told.answers.contains_key(own.key)).collect(),
        days: (0..10)
            .filter_map(|back| zone.day(here.now).checked_sub_days(chrono::Days::new(back)))
            .map(|day| (day.to_string(), day.format("%a %-d %b").to_string()))
            .collect(),
        agents: Agent::WORDS.iter().map(|(_, word)| *word).collect(),
        fetched: fetched(&took, zone),
        unheld: milk.iter().filter(|own| !own.held).count(),
        cannot_exclude: proposed::says(&told, &took, zone),
        odd: told.odd(zone),
        health: reach::numbers(&here.farm.health),
        typed: if asked.get("says").is_empty() {
            ask.map(|own| told.answer(own.key).to_owned()).unwrap_or_default()
        } else {
            asked.get("says").to_owned()
        },
        other: asked.get("other").to_owned(),
        time: asked.get("time").to_owned(),
        entry: asked.entry(),
        frame: Frame::of(here, "Binder", format!("Complaint of {}", told.called())).await?,
        told,
        ask,
        skips,
        remarks,
        milk,
        candidates,
    })
}

fn answered(told: &Told, zone: Zone) -> Vec<(Question, String, String)> {
    let said = |own: Question| told.answers.get(own.key).map(|answer| (own, shown(&own, &answer.says, zone), zone.shown(answer.at)));
    QUESTIONS.into_iter().filter_map(said).collect()
}

/// The days they fetched milk on, newest first, with what it was.
fn fetched(took: &[Took], zone: Zone) -> Vec<Fetched> {
    let mut days: BTreeMap<Day, Vec<String>> = BTreeMap::new();
    for own in took {
        days.entry(zone.day(own.at)).or_default().push(format!("{} of {}", own.jars, own.code));
    }
    days.into_iter()
        .rev()
        .take(8)
        .map(|(day, what)| Fetched { day, shown: day.format("%a %-d %b").to_string(), what: what.join(", ") })
        .collect()
}

/// What they took so lately that it may still be drunk.
fn fresh(took: &[Took], now: Moment) -> Vec<Took> {
    took.iter().filter(|own| own.at >= now.plus_hours(-STOPPED_DAYS * 24)).cloned().collect()
}

fn milk(took: &[Took], held: &[i64]) -> Vec<Milk> {
    let mut milk: Vec<Milk> = Vec::new();
    for own in took {
        if !milk.iter().any(|known| known.code == own.code) {
            milk.push(Milk { code: own.code.clone(), held: held.contains(&own.lot) });
        }
    }
    milk
}

async fn show(here: Here, Path(number): Path<i64>, Query(asked): Query2) -> Answer {
    page(&view(&here, number, &Fields(asked), Vec::new()).await?)
}

async fn answer(here: Here, Path(number): Path<i64>, Sealed(typed): Sealed) -> Answer {
    let Some(own) = question(typed.get("question")) else { return Err(Trouble::Unreadable) };
    found(&here, number).await?;
    let other = typed.get("other").trim();
    if !other.is_empty() && !typed.get("says").is_empty() && other != typed.get("says") {
        let says = "Two days are given, one tapped and one typed. Take one of them away.";
        return again(&view(&here, number, &typed.clone().with("ask", own.key), vec![Remark::fault("says", says)]).await?);
    }
    let says = if other.is_empty() { typed.get("says") } else { other };
    let asked = typed.clone().with("ask", own.key);
    let says = match read(&own, says, typed.get("time"), here.farm.ways, here.now) {
        Ok(says) => says,
        Err(remark) => return again(&view(&here, number, &asked, vec![remark]).await?),
    };
    if let Some(remark) = misheard(&here, &own, &says).await? {
        return again(&view(&here, number, &asked, vec![remark]).await?);
    }
    let line = Line::of("answers").now(&here).with("complaint", number.to_string()).with("question", own.key).with("says", says);
    match keeping::all(&here, typed.get("entry"), vec![line]).await? {
        Ok(_) if typed.get("skip").is_empty() => onward(&format!("/complaints/{number}")),
        Ok(_) => onward(&format!("/complaints/{number}?skip={}", typed.get("skip").replace(' ', "+"))),
        Err(remarks) => again(&view(&here, number, &asked, remarks).await?),
    }
}

/// A code that fits its check character and is no lot of the farm: misheard, or another farm's jar. What was probably meant is
/// offered and never taken in silence.
async fn misheard(here: &Here, own: &Question, says: &str) -> Result<Option<Remark>, Trouble> {
    if own.by != By::Lot {
        return Ok(None);
    }
    let mut db = here.app.ledger.read().await?;
    if lots::find(&mut db, says).await?.is_some() {
        return Ok(None);
    }
    let known = lots::codes_near(&mut db, says).await?;
    Ok(Some(Remark::fault("says", near::unknown("lot", says, known.iter().map(String::as_str)))))
}

/// Holds every lot they took that is not held yet: before any more questions.
async fn hold(here: Here, Path(number): Path<i64>, Sealed(typed): Sealed) -> Answer {
    let told = found(&here, number).await?;
    let Some(own) = &told.by else { return onward("/stop") };
    let mut db = here.app.ledger.read().await?;
    let took = complaints::took(&mut db, own.number, here.now.plus_hours(-STOPPED_DAYS * 24)).await?;
    let held = trace::held(&mut db, &took.iter().map(|own| own.lot).collect::<Vec<_>>()).await?;
    drop(db);
    let open = milk(&took, &held).into_iter().filter(|own| !own.held);
    let lines = open.map(|own| Line::of("holds").now(&here).with("scope", "lot").with("lot", own.code).with("reason", "Being looked into"));
    keeping::then(&here, typed.get("entry"), lines.collect(), &format!("/complaints/{number}")).await
}

/// The complaint as a paper of its own.
fn sheet(told: &Told, here: &Here, cannot_exclude: String) -> Sheet {
    let health = if here.farm.health.is_empty() { "not written down".to_owned() } else { here.farm.health.clone() };
    Sheet {
        name: format!("complaint-{}", told.number),
        title: format!("Complaint {}", told.number),
        under: format!("Told {}", here.zone().in_full(told.at)),
        facts: vec![("Farm".to_owned(), here.farm.name.clone()), ("Health department".to_owned(), health)],
        parts: vec![
            Part::Loud("Anyone ill: doctor first. Keep the jar cold, closed and unwashed.".to_owned()),
            Part::Table(complaint_table(told, here.zone())),
            Part::Words(cannot_exclude),
        ],
    }
}

async fn sheet_page(here: Here, Path(number): Path<i64>) -> Answer {
    sheet_as(here, number, sheets::Form::Page).await
}

async fn sheet_pdf(here: Here, Path(number): Path<i64>) -> Answer {
    sheet_as(here, number, sheets::Form::Pdf).await
}

async fn sheet_csv(here: Here, Path(number): Path<i64>) -> Answer {
    sheet_as(here, number, sheets::Form::Csv).await
}

async fn sheet_json(here: Here, Path(number): Path<i64>) -> Answer {
    sheet_as(here, number, sheets::Form::Json).await
}

async fn sheet_as(here: Here, number: i64, form: sheets::Form) -> Answer {
    let told = found(&here, number).await?;
    let took = match &told.by {
        Some(own) => complaints::took(&mut *here.app.ledger.read().await?, own.number, here.now.plus_hours(-SHOWN_DAYS * 24)).await?,
        None => Vec::new(),
    };
    let paper = sheet(&told, &here, proposed::says(&told, &took, here.zone()));
    sheets::answer(&here, "Binder", paper, form, &format!("/complaints/{number}/sheet"), "", String::new()).await
}
