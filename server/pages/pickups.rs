//! Handing out jars: what was packed in one act, the hand-out that differs, and what went out today.
//!
//! What is asked for is weighed inside the transaction that keeps it, so two phones cannot hand out the same last jars.

mod clipboard;
mod crates;
mod fridge_sheet;
mod own;
mod pack;
mod planned;
mod weigh;

use super::{App, Frame, Here, field::Field};
use crate::{
    store::{
        packing,
        people::Taker,
        pickups::{self, HandedOut},
        records,
    },
    trade::{
        empties::unlike_a_swap,
        jars::Jars,
        packed::Took,
        parts::Hundredths,
        pickups::{lot_for_all, right_lot, written_late},
        records::Remark,
        short,
        when::{Day, day_shown},
    },
    web::{
        answer::{Answer, Trouble, again, onward, page},
        form::{Fields, Sealed},
        rooms::Rooms,
        secret,
        visitor::Role,
    },
};
use askama::Template;
use axum::extract::Query;
use crates::{Everybody, Waiting, empties_kept, everybody_in, waiting};
use sqlx::SqliteConnection;
use weigh::{Fridge, Said, Shelf, fridge, over_cap, pickup_kind, ways_of, weigh};

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new()
        .look("/pickup", Role::Helper, show)
        .send("/pickup", Role::Helper, hand_out)
        .send("/pickup/everybody", Role::Helper, everybody)
        .and(pack::rooms())
        .and(own::rooms())
        .and(clipboard::rooms())
        .and(fridge_sheet::rooms())
}

#[derive(Template)]
#[template(path = "pickup/show.html")]
struct Show {
    frame: Frame,
    day: String,
    /// The crates that are not taken yet.
    waiting: Vec<Waiting>,
    waiting_jars: String,
    /// Those whose day it is and who are not packed, when nothing is packed yet.
    to_pack: Option<(usize, String)>,
    is_packed: bool,
    /// Those whose hand-out another phone kept in the meantime.
    already: Vec<String>,
    everyone: Form,
    shelf: Vec<Shelf>,
    people: Vec<(&'static str, Vec<Taker>)>,
    one: Form,
    sizes: Vec<Field>,
    /// Whether the form for one hand-out comes first: it was asked for, or something stands against it.
    one_first: bool,
    said: Said,
    done: Vec<(HandedOut, String, Option<String>)>,
    done_jars: String,
}

/// One of the page's two forms, with what was typed in it.
struct Form {
    entry: String,
    typed: Fields,
    said: Said,
}

impl Default for Form {
    fn default() -> Form {
        Form::of(&Fields::default(), Said::default())
    }
}

impl Form {
    fn of(typed: &Fields, said: Said) -> Form {
        let entry = typed.entry();
        Form { entry, typed: typed.clone(), said }
    }

    fn field(&self, name: &str) -> Option<Field> {
        let column = pickup_kind().ok()?.columns.iter().find(|own| own.name == name)?;
        Some(Field::of(column, &self.typed, &self.said.remarks))
    }

    fn is(&self, name: &str, value: impl AsRef<str>) -> bool {
        self.typed.all(name).any(|own| own == value.as_ref())
    }

    fn on<'a>(&'a self, name: &'a str) -> impl Iterator<Item = &'a Remark> {
        self.said.remarks.iter().filter(move |remark| remark.field == name)
    }

    fn has(&self, name: &str) -> bool {
        self.on(name).next().is_some()
    }

    /// How a crate is said to have been taken; as packed until something else is tapped.
    fn took(&self, label: &str, took: &Took) -> bool {
        let typed = Took::parse(self.typed.get(&format!("took.{label}"))).unwrap_or(Took::AsPacked);
        typed == *took
    }

    fn has_sizes(&self) -> bool {
        ["quarts", "pints", "gallons"].iter().any(|size| !matches!(self.typed.get(size), "" | "0") || self.has(size))
    }

    /// Whether the lot asked for is none of those on the shelf, and so has to stand in the field for its code.
    fn off_shelf(&self, shelf: &[Shelf]) -> bool {
        let lot = self.typed.get("lot");
        !lot.is_empty() && shelf.iter().all(|own| own.offer.code != lot)
    }
}

/// Fills in the plan of one hand-out, never the observation: what stands packed for them, or the jars promised and the oldest
/// lot that can go their way.
fn planned(asked: Fields, fridge: &Fridge, waiting: &[Waiting]) -> Fields {
    let taker = fridge.taker(asked.get("person"));
    let packed = taker.and_then(|taker| waiting.iter().find(|own| own.label == taker.label));
    let promised = packed.map(|own| own.jars.half_gallons).or_else(|| taker.map(Taker::promised_jars)).filter(|jars| *jars > 0);
    let typed = match promised {
        Some(jars) if asked.get("half_gallons").is_empty() => asked.with("half_gallons", jars.to_string()),
        _ => asked,
    };
    if !typed.get("lot").is_empty() {
        return typed;
    }
    let (offers, wanted) = (fridge.offers_for(taker.map(|taker| taker.number)), Jars::halves(promised.unwrap_or(1)));
    let lot = match (packed.and_then(|own| own.lots.first()), taker) {
        (Some((lot, _)), _) => Some(lot.clone()),
        (None, Some(taker)) => right_lot(&offers, wanted, taker.way).map(|offer| offer.code.clone()),
        (None, None) => lot_for_all(&offers, wanted, &ways_of(&fridge.takers)),
    };
    match lot {
        Some(code) => typed.with("lot", code),
        None => typed,
    }
}

/// How many are still to be packed for, and what they were promised; nothing when nobody is.
fn to_pack(takers: &[Taker], done: &[HandedOut], today: Day) -> Option<(usize, String)> {
    let has = |taker: &Taker| done.iter().any(|out| out.label == taker.label);
    let due: Vec<&Taker> =
        takers.iter().filter(|own| own.comes && own.is_here(today) && own.promised > Hundredths::ZERO && !has(own)).collect();
    let promised: Hundredths = due.iter().map(|own| own.promised).sum();
    (!due.is_empty()).then(|| (due.len(), promised.to_string()))
}

/// Everybody in groups: today's first.
fn groups(takers: &[Taker], waiting: &[Waiting], today: Day) -> Vec<(&'static str, Vec<Taker>)> {
    let waits = |taker: &Taker| waiting.iter().any(|own| own.label == taker.label);
    let of = |wanted: &dyn Fn(&Taker) -> bool| takers.iter().filter(|taker| wanted(taker)).cloned().collect::<Vec<_>>();
    vec![
        ("Today", of(&waits)),
        ("Members", of(&|own| own.sort == "member" && own.is_here(today) && !waits(own))),
        ("Walk-ins", of(&|own| own.sort != "member" && own.is_here(today) && !waits(own))),
        ("No longer here", of(&|own| !own.is_here(today))),
    ]
}

/// The page, with one form freshly planned and the other as it was sent, if it was.
async fn view(here: &Here, one: Form, everyone: Form, already: Vec<String>) -> Result<Show, Trouble> {
    let today = here.zone().day(here.now);
    let mut db = here.app.ledger.read().await?;
    let fridge = fridge(&mut db, here, today).await?;
    let waiting = waiting(&mut db, here, &fridge).await?;
    let is_packed = packing::of_day(&mut db, today).await?.is_some();
    let done = pickups::between(&mut db, here.zone().start_of(today), here.zone().end_of(today)).await?;
    drop(db);
    let one_first = !one.said.is_nothing() || !one.typed.get("person").is_empty() || !one.typed.get("lot").is_empty();
    let one = if one.said.is_nothing() { Form { typed: planned(one.typed, &fridge, &waiting), ..one } } else { one };
    let Fridge { mut shelf, takers, .. } = fridge;
    shelf.retain(|own| !own.offer.left.short_and_over().0.is_none());
    shelf.sort_by_key(|own| (!own.can_go(), own.offer.filled));
    Ok(Show {
        frame: Frame::of(here, "Pickup", "Hand out").await?,
        day: day_shown(today),
        waiting_jars: waiting.iter().map(|own| own.jars).sum::<Jars>().to_string(),
        to_pack: to_pack(&takers, &done, today).filter(|_| !is_packed),
        is_packed,
        already,
        one_first,
        said: if everyone.said.is_nothing() { one.said.clone() } else { everyone.said.clone() },
        sizes: ["quarts", "pints", "gallons"].iter().filter_map(|size| one.field(size)).collect(),
        people: groups(&takers, &waiting, today),
        waiting,
        shelf,
        one,
        everyone,
        done_jars: done.iter().filter(|out| here.zone().day(out.at) == today).map(|out| out.jars).sum::<Jars>().to_string(),
        done: done.into_iter().map(|out| told(here, today, out)).collect(),
    })
}

/// A hand-out with its time, which needs no date when it was today, and how late it was written.
fn told(here: &Here, today: Day, out: HandedOut) -> (HandedOut, String, Option<String>) {
    let at = if here.zone().day(out.at) == today { here.zone().clock(out.at) } else { here.zone().shown(out.at) };
    let late = written_late(out.at, out.written);
    (out, at, late)
}

async fn show(here: Here, Query(asked): Query<Vec<(String, String)>>) -> Answer {
    let already = Fields(asked.clone()).get("already").split(',').filter(|own| !own.is_empty()).map(short).collect();
    let asked = Fields(asked.into_iter().filter(|(name, _)| matches!(name.as_str(), "person" | "lot")).collect());
    page(&view(&here, Form::of(&asked, Said::default()), Form::default(), already).await?)
}

/// Keeps one hand-out of the form that differs.
async fn hand_out(here: Here, Sealed(typed): Sealed) -> Answer {
    let mut tx = here.app.ledger.begin().await?;
    if pickups::is_kept(&mut tx, typed.get("entry")).await? {
        return onward("/pickup");
    }
    let said = one_in(&mut tx, &here, &typed).await?;
    if said.is_nothing() {
        tx.commit().await?;
        return onward("/pickup");
    }
    drop(tx);
    again(&view(&here, Form::of(&typed, said), Form::default(), Vec::new()).await?)
}

/// Weighs and keeps one hand-out, with the empties that came back for it where they were counted.
async fn one_in(tx: &mut SqliteConnection, here: &Here, typed: &Fields) -> Result<Said, Trouble> {
    let mut fridge = fridge(&mut *tx, here, here.zone().day(here.now)).await?;
    let act = records::act(&mut *tx, here.now, &here.visitor.name, "screen").await?;
    let brought = match typed.get("empties").trim() {
        "" => None,
        count => match count.parse::<i64>() {
            Ok(count) if (0..=99).contains(&count) => Some(count),
            _ => return Ok(Said::remark("empties", "How many empty jars came back? Write a whole number, or leave it empty.")),
        },
    };
    let said = weigh(&mut *tx, here, &mut fridge, typed, typed.get("entry"), &act).await?;
    if !said.is_nothing() {
        return Ok(said);
    }
    let taken = typed.get("half_gallons").trim().parse::<i64>().unwrap_or(0);
    let person = fridge.taker(typed.get("person")).map(|own| own.label.clone());
    if let Some(((what, jars), label)) = brought.and_then(|brought| unlike_a_swap(taken, brought)).zip(person) {
        let mark = secret::entry_within(typed.get("entry"), 1);
        let said = empties_kept(&mut *tx, here, (&label, typed.get("at")), (what, jars), &mark, &act).await?;
        if !said.is_nothing() {
            return Ok(said);
        }
    }
    Ok(Said { over: over_cap(tx, here, typed).await?, ..Said::default() })
}

/// Keeps everybody as the list says, all or nobody.
async fn everybody(here: Here, Sealed(typed): Sealed) -> Answer {
    let mut tx = here.app.ledger.begin().await?;
    match everybody_in(&mut tx, &here, &typed).await? {
        Everybody::Kept(already) => {
            tx.commit().await?;
            onward(&if already.is_empty() { "/pickup".to_owned() } else { format!("/pickup?already={}", already.join(",")) })
        }
        Everybody::Not(said) => {
            drop(tx);
            again(&view(&here, Form::default(), Form::of(&typed, said), Vec::new()).await?)
        }
    }
}
