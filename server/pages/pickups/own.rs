//! A household's own page: what is packed for it or promised, and “I took these”, weighed by the same rules as any hand-out.
//! It shows a number and nobody's name, and its household comes from the visit alone.

use super::{
    crates::empties_kept,
    weigh::{Fridge, Refused, Said, Shelf, fridge, weigh},
};
use crate::{
    pages::{App, Here, Household, OwnFrame},
    store::{
        Failure, empties, lots, own, packing, people,
        people::Taker,
        pickups::{self, HandedOut},
        records, stops, verdict,
    },
    trade::{
        channels::Channel,
        empties::Empties,
        jars::Jars,
        needs::Lack,
        numbers::OWN_PAGE,
        own::{is_to_be_called_about, next_day},
        packed::Listed,
        packing::taken,
        pickups::Offer,
        records::Remark,
        verdict::{Word, judge_for},
        when::{Day, day_shown},
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
use sqlx::SqliteConnection;

/// What their hand-outs are taken by, when no stand-in is ticked.
const THEMSELVES: &str = "their own page";
/// Their last hand-outs that are shown.
const LAST: usize = 8;
/// How many days back a household writes down what it took; the farm itself may write any day.
const BACK: i64 = 7;
/// For so many days milk that was fetched may still stand in somebody's fridge or freezer.
const STILL_THERE: i64 = 60;

/// The doors of this file.
pub(super) fn rooms() -> Rooms<App> {
    Rooms::new().look("/own/page", Who::Household, show).send("/own/took", Who::Household, took)
}

#[derive(Template)]
#[template(path = "own/page.html")]
struct Show {
    frame: OwnFrame,
    day: String,
    stopped: bool,
    /// What has to be told before anything else: they left, are paused, or lack a paper.
    told: Vec<String>,
    plan: Plan,
    /// What they have of today already.
    had: Vec<String>,
    shelf: Vec<Lot>,
    stand_ins: Vec<String>,
    said: Said,
    typed: Fields,
    entry: String,
    last: Vec<Last>,
    next: Option<String>,
    paused: Option<String>,
    owed: Option<String>,
    phone: String,
}

impl Show {
    fn on<'a>(&'a self, name: &'a str) -> impl Iterator<Item = &'a Remark> {
        self.said.remarks.iter().filter(move |remark| remark.field == name)
    }

    /// What was sent and means something here, to be sent again with an answer.
    fn sent(&self) -> impl Iterator<Item = &(String, String)> {
        let known = |name: &str| name.starts_with("jars.") || matches!(name, "already" | "sure" | "empties" | "taken_by" | "at");
        self.typed.0.iter().filter(move |(name, _)| known(name))
    }

    /// Whether the form that differs stands open: something stands against it, or there is nothing else to tap.
    fn differs(&self) -> bool {
        !self.said.is_nothing() || self.plan.lines.is_empty() && self.had.is_empty()
    }
}

/// What they would take now.
#[derive(Clone, Default)]
struct Plan {
    packed: bool,
    /// The sum of the day in one sentence.
    sum: String,
    promised: String,
    lines: Vec<(String, i64)>,
    /// Packed lots that cannot go now, each with its word, the jars, and what to take instead.
    held: Vec<(String, Word, i64, String)>,
}

impl Plan {
    fn jars(&self) -> Jars {
        Jars::halves(self.lines.iter().map(|(_, jars)| jars).sum())
    }
}

/// A lot on the shelf that can go their way, with those of its jars that stand packed for others.
struct Lot {
    code: String,
    left: String,
    others: String,
    value: String,
}

/// One of their last hand-outs.
struct Last {
    out: HandedOut,
    day: String,
    call: bool,
}

/// Somebody's lots of today: as packed, or the oldest that can go as far as they were promised. What cannot go now is replaced.
fn plan(taker: &Taker, listed: Option<&Listed>, fridge: &Fridge) -> Plan {
    let mut offers = fridge.offers_for(Some(taker.number));
    offers.sort_by_key(|offer| offer.filled);
    let Some(listed) = listed else {
        let jars = if taker.comes { taker.promised_jars() } else { 0 };
        let lines = taken(&mut offers, taker.way, jars);
        return Plan { promised: Jars::halves(jars).to_string(), lines, ..Plan::default() };
    };
    let mut plan = Plan { packed: true, sum: listed.told(), promised: Jars::halves(listed.portion.jars).to_string(), ..Plan::default() };
    let goes = |code: &str, jars: i64| offers.iter().any(|offer| offer.code == code && offer.has(Jars::halves(jars), taker.way));
    let (lines, held): (Vec<_>, Vec<_>) = listed.lots.iter().cloned().partition(|(code, jars)| goes(code, *jars));
    plan.lines = lines;
    for (code, jars) in &plan.lines {
        take_off(&mut offers, code, *jars);
    }
    for (code, jars) in held {
        let word = offers.iter().find(|offer| offer.code == code).map_or(Word::CantTell, |offer| offer.word(taker.way));
        let others: Vec<Offer> = offers.iter().filter(|offer| offer.code != code).cloned().collect();
        let instead = taken(&mut others.clone(), taker.way, jars);
        for (code, jars) in &instead {
            take_off(&mut offers, code, *jars);
        }
        plan.held.push((code, word, jars, in_words(&instead)));
        plan.lines.extend(instead);
    }
    plan
}

fn take_off(offers: &mut [Offer], code: &str, jars: i64) {
    for offer in offers.iter_mut().filter(|offer| offer.code == code) {
        offer.left = offer.left - Jars::halves(jars);
    }
}

/// Lots with their jars: `2 half-gallons of 6325A-Z and 1 half-gallon of 6324B-K`.
fn in_words(lots: &[(String, i64)]) -> String {
    lots.iter().map(|(code, jars)| format!("{} of {code}", Jars::halves(*jars))).collect::<Vec<_>>().join(" and ")
}

/// What stands against taking milk today, each as a sentence.
fn stands_against(taker: &Taker, today: Day) -> Vec<String> {
    let left = taker.until.filter(|until| *until < today).map(|until| format!("You left the farm's list on {}.", day_shown(until)));
    let since = taker.since.filter(|since| *since > today).map(|since| format!("You are on the farm's list from {}.", day_shown(since)));
    let paused = taker.paused.map(|until| format!("You are paused until {}.", day_shown(until)));
    let lacks: Vec<String> = taker.lacks.iter().map(Lack::to_them).collect();
    let lacks = (!lacks.is_empty()).then(|| format!("Before you can have milk: {}.", lacks.join(", ")));
    left.into_iter().chain(since).chain(paused).chain(lacks).collect()
}

/// The page, with a form as it was sent, if it was.
async fn view(household: &Household, typed: Fields, said: Said) -> Result<Show, Trouble> {
    let (here, person) = (&household.here, household.person);
    let today = here.zone().day(here.now);
    let mut db = here.app.ledger.read().await?;
    let fridge = fridge(&mut db, here, today).await?;
    let taker = me(&fridge, person)?.clone();
    let packed = packing::of_day(&mut db, today).await?.map(|(_, list)| list);
    let listed = packed.as_ref().and_then(|list| list.rows.iter().find(|row| row.portion.person == person));
    let outs = pickups::of_person(&mut db, person, 60).await?;
    let had: Vec<String> = outs.iter().filter(|out| here.zone().day(out.at) == today).map(|out| went(here, out)).collect();
    let against = stands_against(&taker, today);
    let plan = if had.is_empty() && against.is_empty() { plan(&taker, listed, &fridge) } else { Plan::default() };
    let owed = empties::owed_by(&mut db, person).await?.short_and_over().0;
    let pauses = people::pauses(&mut db).await?;
    Ok(Show {
        frame: OwnFrame::of(here, taker.label.clone()),
        day: day_shown(today),
        stopped: stops::everything(&mut db).await?,
        told: against,
        shelf: shelf(&fridge, &taker, &plan, &typed),
        stand_ins: own::stand_ins(&mut db, person, today).await?,
        last: last(&mut db, here, taker.way, outs).await?,
        next: next_day(person, &taker.pickup_day, &pauses, taker.until, today).map(day_shown),
        paused: taker.paused.map(day_shown),
        owed: (!owed.is_none()).then(|| owed.to_string()),
        phone: here.farm.phone.clone(),
        entry: typed.entry(),
        plan,
        had,
        said,
        typed,
    })
}

/// Who it is, as they stand today.
fn me(fridge: &Fridge, person: i64) -> Result<&Taker, Trouble> {
    fridge.takers.iter().find(|taker| taker.number == person).ok_or(Trouble::VisitOver)
}

/// A hand-out in a few words.
fn went(here: &Here, out: &HandedOut) -> String {
    format!("{} of {}, at {}", out.jars, out.lot, here.zone().clock(out.at))
}

/// The lots that can go their way, with what is planned of each or what they typed. Those packed for others stand there too,
/// and say so: a jar of another crate that was taken all the same has to be written down.
fn shelf(fridge: &Fridge, taker: &Taker, plan: &Plan, typed: &Fields) -> Vec<Lot> {
    let mut can: Vec<&Shelf> = fridge.shelf.iter().collect();
    can.retain(|own| own.offer.word(taker.way) == Word::CanGo && own.offer.left.half_gallons > 0);
    can.sort_by_key(|own| own.offer.filled);
    let planned = |code: &str| plan.lines.iter().filter(|(own, _)| own == code).map(|(_, jars)| jars).sum::<i64>();
    let lot = |own: &Shelf| {
        let offer = &own.offer;
        let free = fridge.left_for(own, Some(taker.number)).half_gallons.max(0);
        let others = (offer.left.half_gallons - free).max(0);
        let sent = typed.get(&format!("jars.{}", offer.code)).to_owned();
        let value = if typed.0.is_empty() { planned(&offer.code).to_string() } else { sent };
        let others = match others {
            0 => String::new(),
            _ if free == 0 => ", packed for others".to_owned(),
            jars => format!(", {jars} of them packed for others"),
        };
        Lot { left: format!("{} left", Jars::halves(offer.left.half_gallons)), others, code: offer.code.clone(), value }
    };
    can.into_iter().map(lot).collect()
}

/// Their last hand-outs, each marked where the farm should be called about the lot.
async fn last(db: &mut SqliteConnection, here: &Here, way: Channel, outs: Vec<HandedOut>) -> Result<Vec<Last>, Failure> {
    let mut shown = Vec::new();
    for (nth, out) in outs.into_iter().enumerate() {
        let recent = here.now.minutes_since(out.at) < STILL_THERE * 24 * 60;
        let lot = if recent { lots::find(&mut *db, &out.lot).await? } else { None };
        let call = match lot {
            Some(lot) => verdict::facts(&mut *db, &[lot.number], here.zone(), here.now)
                .await?
                .first()
                .is_some_and(|facts| is_to_be_called_about(&judge_for(facts, way, here.now))),
            None => false,
        };
        if nth < LAST || call {
            shown.push(Last { day: here.zone().in_full(out.at), call, out });
        } else if !recent {
            break;
        }
    }
    Ok(shown)
}

async fn show(household: Household) -> Answer {
    page(&view(&household, Fields::default(), Said::default()).await?)
}

/// Keeps what they took, all of it or nothing.
async fn took(household: Household, Sealed(typed): Sealed) -> Answer {
    let typed = swapped(typed);
    let mut tx = household.here.app.ledger.begin().await?;
    let said = took_in(&mut tx, &household, &typed).await?;
    if said.is_nothing() {
        tx.commit().await?;
        return onward("/own/page");
    }
    drop(tx);
    again(&view(&household, typed, said).await?)
}

/// Takes up “take the other lot”: the jars of one lot become another's.
fn swapped(typed: Fields) -> Fields {
    let Some((from, to)) = typed.get("swap").split_once('>').map(|(from, to)| (format!("jars.{from}"), format!("jars.{to}"))) else {
        return typed;
    };
    let count = |name: &str| typed.get(name).trim().parse::<i64>().unwrap_or(0);
    let sum = count(&from).saturating_add(count(&to)).to_string();
    typed.with(&to, sum).with(&from, "0")
}

/// What stands against keeping it.
async fn took_in(tx: &mut SqliteConnection, household: &Household, typed: &Fields) -> Result<Said, Trouble> {
    let here = &household.here;
    let mut fridge = fridge(&mut *tx, here, here.zone().day(here.now)).await?;
    let taker = me(&fridge, household.person)?.clone();
    if let Some(said) = off(tx, household, typed).await? {
        return Ok(said);
    }
    if let Some(said) = more_than_filled(tx, typed).await? {
        return Ok(said);
    }
    let (mut new, mut fetched) = (Vec::new(), typed.is_sure(&format!("person {}", taker.label)));
    for (code, jars) in lines_of(typed) {
        let entry = secret::entry_within(&format!("{}/{code}", typed.get("entry")), 0);
        match pickups::is_kept(&mut *tx, &entry).await? {
            true => fetched = true,
            false => new.push((entry, code, jars)),
        }
    }
    let act = records::act(&mut *tx, here.now, &here.visitor.name, OWN_PAGE).await?;
    for (entry, code, jars) in new {
        // Their own lines of the same act are no second fetching.
        let line = line_of(typed, &taker, [code, jars], fetched);
        let mut said = weigh(&mut *tx, here, &mut fridge, &line, &entry, &act).await?;
        if !said.is_nothing() {
            said.remarks.iter_mut().filter(|own| own.field == "half_gallons").for_each(|own| own.says = format!("{code}: {}", own.says));
            return Ok(said);
        }
        fetched = true;
    }
    without_empties(tx, household, &taker, typed, &act).await
}

/// What is off about a form as a whole: its mark, that nothing is written in it, or a stand-in that is none of theirs.
async fn off(tx: &mut SqliteConnection, household: &Household, typed: &Fields) -> Result<Option<Said>, Failure> {
    let (here, by) = (&household.here, typed.get("taken_by"));
    if !secret::is_entry(typed.get("entry")) {
        return Ok(Some(Said::remark("entry", "This form has lost its mark. Open the page again and send it from there.")));
    }
    if let Some(at) = here.zone().parse_moment(typed.get("at")).ok().filter(|at| here.now.minutes_since(*at) > BACK * 24 * 60) {
        let says = format!("{} is more than {BACK} days ago. Call the farm: it can still write it down.", day_shown(here.zone().day(at)));
        return Ok(Some(Said::remark("at", says)));
    }
    if lines_of(typed).next().is_none() {
        return Ok(Some(Said::remark("jars", "How many jars? Not one is written yet.")));
    }
    let known = by.is_empty() || own::stand_ins(tx, household.person, here.zone().day(here.now)).await?.iter().any(|name| name == by);
    Ok((!known).then(|| Said::remark("taken_by", "Nobody of that name fetches for you. Call the farm if somebody should.")))
}

/// Asks about more jars of a lot than it ever held, taken a while ago: nobody weighs those against the shelf any more.
async fn more_than_filled(db: &mut SqliteConnection, typed: &Fields) -> Result<Option<Said>, Failure> {
    if typed.get("at").trim().is_empty() {
        return Ok(None);
    }
    for (code, jars) in lines_of(typed).filter(|(code, _)| typed.all("already").all(|own| own != *code)) {
        let (Some(lot), Ok(jars)) = (lots::find(&mut *db, code).await?, jars.trim().parse::<i64>()) else { continue };
        if jars > lot.jars.half_gallons {
            let reason = format!("{} of {code} were filled in all, and this is {}.", lot.jars, Jars::halves(jars));
            let refused = Refused { code: lot.code, word: Word::CanGo, reason, next: String::new(), instead: None, whose: String::new() };
            return Ok(Some(Said { refused: Some(refused), ..Said::default() }));
        }
    }
    Ok(None)
}

/// Every lot with what was typed beside it, but for noughts.
fn lines_of(typed: &Fields) -> impl Iterator<Item = (&str, &str)> {
    let lot = |(name, value): &'_ (String, String)| name.starts_with("jars.") && !matches!(value.trim(), "" | "0");
    typed.0.iter().filter(move |own| lot(own)).filter_map(|(name, value)| Some((name.strip_prefix("jars.")?, value.as_str())))
}

/// One line as the weighing wants it. The household is the visit's; whatever a form says of another is not read.
fn line_of(typed: &Fields, taker: &Taker, [code, jars]: [&str; 2], fetched: bool) -> Fields {
    let by = typed.get("taken_by");
    let line = Fields::default().with("lot", code).with("half_gallons", jars).with("person", taker.label.clone());
    let line = line.with("at", typed.get("at")).with("evidence", "signed");
    let mut line = line.with("taken_by", if by.is_empty() { THEMSELVES } else { by });
    line.0.extend(typed.0.iter().filter(|(name, _)| name == "already").cloned());
    if fetched { line.with("sure", format!("person {}", taker.label)) } else { line }
}

/// Keeps the jars for which they left no empties.
async fn without_empties(
    tx: &mut SqliteConnection,
    household: &Household,
    taker: &Taker,
    typed: &Fields,
    act: &records::Act,
) -> Result<Said, Trouble> {
    let without = typed.get("empties").trim();
    if matches!(without, "" | "0") {
        return Ok(Said::default());
    }
    let took: i64 = lines_of(typed).filter_map(|(_, jars)| jars.trim().parse::<i64>().ok()).sum();
    match without.parse::<i64>() {
        Ok(jars) if (1..=took).contains(&jars) => {
            let (what, entry) = ((Empties::NotBroughtBack, Jars::halves(jars)), secret::entry_within(typed.get("entry"), 1));
            empties_kept(tx, &household.here, (&taker.label, typed.get("at")), what, &entry, act).await
        }
        Ok(_) => Ok(Said::remark("empties", format!("You took {took}, so no more than {took} can be without an empty."))),
        Err(_) => Ok(Said::remark("empties", "How many jars had no empty left for them? Write a number, like 2.")),
    }
}
