//! Handing out jars: today's people with the lot to take, everybody as promised in one act, and the hand-out that differs.
//!
//! What is asked for is weighed inside the transaction that keeps it, so two phones cannot hand out the same last jars.

mod weigh;

use super::{App, Frame, Here, field::Field};
use crate::{
    store::{
        people::Taker,
        pickups::{self, HandedOut},
        records,
    },
    trade::{
        channels::Channel,
        jars::Jars,
        pickups::{lot_for_all, lots_in_turn, right_lot, written_late},
        records::Remark,
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
use sqlx::SqliteConnection;
use weigh::{Fridge, Said, Shelf, fridge, over_cap, pickup_kind, ways_of, weigh};

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new().look("/pickup", Role::Helper, show).send("/pickup", Role::Helper, hand_out).send(
        "/pickup/everybody",
        Role::Helper,
        everybody,
    )
}

#[derive(Template)]
#[template(path = "pickup/show.html")]
struct Show {
    frame: Frame,
    day: String,
    due: Vec<Due>,
    due_jars: String,
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

impl Show {
    /// Whether there is anybody to tick.
    fn any_lot(&self) -> bool {
        self.due.iter().any(|own| own.lot.is_some())
    }

    /// Whether the list's milk goes out more than one way, so that each line has to say which.
    fn many_ways(&self) -> bool {
        self.due.iter().any(|own| own.taker.way != self.due[0].taker.way)
    }
}

/// One of the page's two forms, with what was typed in it.
#[derive(Default)]
struct Form {
    entry: String,
    typed: Fields,
    said: Said,
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

    fn has_sizes(&self) -> bool {
        ["quarts", "pints", "gallons"].iter().any(|size| !matches!(self.typed.get(size), "" | "0") || self.has(size))
    }

    /// Whether the lot asked for is none of those on the shelf, and so has to stand in the field for its code.
    fn off_shelf(&self, shelf: &[Shelf]) -> bool {
        let lot = self.typed.get("lot");
        !lot.is_empty() && shelf.iter().all(|own| own.offer.code != lot)
    }
}

/// Somebody whose day it is.
struct Due {
    taker: Taker,
    jars: Jars,
    lot: Option<String>,
    /// Whether the lot can go only because the owner decided so.
    is_decided: bool,
}

impl Due {
    /// The tick's value: all that was on the page, so that what is kept is what was seen.
    fn value(&self) -> String {
        format!("{} {} {}", self.lot.as_deref().unwrap_or(""), self.jars.half_gallons, self.taker.label)
    }
}

/// The people of this weekday who have nothing yet, each with the lot to take their way.
fn due(fridge: &Fridge, today: Day, done: &[HandedOut], here: &Here) -> Vec<Due> {
    let has = |taker: &Taker| done.iter().any(|out| out.label == taker.label && here.zone().day(out.at) == today);
    let is_due = |taker: &&Taker| taker.comes && taker.is_here(today) && !has(taker);
    let due: Vec<&Taker> = fridge.takers.iter().filter(is_due).collect();
    let wanted: Vec<(Jars, Channel)> = due.iter().map(|taker| (Jars::halves(taker.promised_jars()), taker.way)).collect();
    let lots = lots_in_turn(fridge.offers(), &wanted);
    let decided = |code: &String, way| fridge.shelf.iter().any(|own| own.offer.code == *code && own.is_decided_for(way));
    let due = due.into_iter().zip(wanted).zip(lots);
    due.map(|((taker, (jars, _)), lot)| Due {
        taker: taker.clone(),
        jars,
        is_decided: lot.as_ref().is_some_and(|lot| decided(lot, taker.way)),
        lot,
    })
    .collect()
}

/// Fills in the plan of one hand-out, never the observation: the jars promised and the oldest lot that can go their way.
fn planned(asked: Fields, fridge: &Fridge) -> Fields {
    let taker = fridge.taker(asked.get("person"));
    let promised = taker.map(Taker::promised_jars).filter(|jars| *jars > 0);
    let typed = match promised {
        Some(jars) if asked.get("half_gallons").is_empty() => asked.with("half_gallons", jars.to_string()),
        _ => asked,
    };
    if !typed.get("lot").is_empty() {
        return typed;
    }
    let (offers, wanted) = (fridge.offers(), Jars::halves(promised.unwrap_or(1)));
    let lot = match taker {
        Some(taker) => right_lot(&offers, wanted, taker.way).map(|offer| offer.code.clone()),
        None => lot_for_all(&offers, wanted, &ways_of(&fridge.takers)),
    };
    match lot {
        Some(code) => typed.with("lot", code),
        None => typed,
    }
}

/// The page, with one form freshly planned and the other as it was sent, if it was.
async fn view(here: &Here, one: Form, everyone: Form) -> Result<Show, Trouble> {
    let today = here.zone().day(here.now);
    let mut db = here.app.ledger.read().await?;
    let fridge = fridge(&mut db, here).await?;
    let done = pickups::between(&mut db, here.zone().start_of(today), here.zone().end_of(today)).await?;
    drop(db);
    let due = due(&fridge, today, &done, here);
    let one_first = !one.said.is_nothing() || !one.typed.get("person").is_empty() || !one.typed.get("lot").is_empty();
    let one = if one.said.is_nothing() { Form { typed: planned(one.typed, &fridge), ..one } } else { one };
    let Fridge { mut shelf, takers } = fridge;
    shelf.retain(|own| !own.offer.left.short_and_over().0.is_none());
    shelf.sort_by_key(|own| (!own.can_go(), own.offer.filled));
    let is_due = |taker: &Taker| due.iter().any(|own| own.taker.label == taker.label);
    let of = |wanted: &dyn Fn(&Taker) -> bool| takers.iter().filter(|taker| wanted(taker)).cloned().collect::<Vec<_>>();
    let people = vec![
        ("Today", of(&is_due)),
        ("Members", of(&|own| own.sort == "member" && own.is_here(today) && !is_due(own))),
        ("Walk-ins", of(&|own| own.sort != "member" && own.is_here(today) && !is_due(own))),
        ("No longer here", of(&|own| !own.is_here(today))),
    ];
    Ok(Show {
        frame: Frame::of(here, "Pickup", "Hand out").await?,
        day: day_shown(today),
        due_jars: due.iter().map(|own| own.jars).sum::<Jars>().to_string(),
        due,
        one_first,
        said: if everyone.said.is_nothing() { one.said.clone() } else { everyone.said.clone() },
        sizes: ["quarts", "pints", "gallons"].iter().filter_map(|size| one.field(size)).collect(),
        people,
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
    let asked = Fields(asked.into_iter().filter(|(name, _)| matches!(name.as_str(), "person" | "lot")).collect());
    page(&view(&here, Form::of(&asked, Said::default()), Form::of(&Fields::default(), Said::default())).await?)
}

/// Keeps one hand-out of the form that differs.
async fn hand_out(here: Here, Sealed(typed): Sealed) -> Answer {
    let mut tx = here.app.ledger.begin().await?;
    if pickups::is_kept(&mut tx, typed.get("entry")).await? {
        return onward("/pickup");
    }
    let mut fridge = fridge(&mut tx, &here).await?;
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    let mut said = weigh(&mut tx, &here, &mut fridge, &typed, typed.get("entry"), &act).await?;
    if said.is_nothing() {
        said.over = over_cap(&mut tx, &here, &typed).await?;
    }
    if said.is_nothing() {
        tx.commit().await?;
        return onward("/pickup");
    }
    drop(tx);
    again(&view(&here, Form::of(&typed, said), Form::of(&Fields::default(), Said::default())).await?)
}

/// Keeps everybody that was ticked, as promised, all or nobody.
async fn everybody(here: Here, Sealed(typed): Sealed) -> Answer {
    let mut tx = here.app.ledger.begin().await?;
    let said = everybody_in(&mut tx, &here, &typed).await?;
    if said.is_nothing() {
        tx.commit().await?;
        return onward("/pickup");
    }
    drop(tx);
    again(&view(&here, Form::of(&Fields::default(), Said::default()), Form::of(&typed, said)).await?)
}

async fn everybody_in(tx: &mut SqliteConnection, here: &Here, typed: &Fields) -> Result<Said, Trouble> {
    let mut fridge = fridge(&mut *tx, here).await?;
    let act = records::act(&mut *tx, here.now, &here.visitor.name, "screen").await?;
    if typed.get("took").is_empty() {
        return Ok(Said::remark("took", "Nobody is ticked. Tick everybody who took what was packed."));
    }
    for took in typed.all("took") {
        let mut parts = took.splitn(3, ' ');
        let [lot, jars, label] = [parts.next(), parts.next(), parts.next()].map(Option::unwrap_or_default);
        // By person and not by place in the list, so that the same form with other ticks never takes one for another.
        let entry = secret::entry_within(&format!("{}/{label}", typed.get("entry")), 0);
        if pickups::is_kept(&mut *tx, &entry).await? {
            continue;
        }
        let line = Fields::default().with("lot", lot).with("half_gallons", jars).with("person", label);
        let line = line.with("at", typed.get("at")).with("evidence", typed.get("evidence"));
        let mut said = weigh(&mut *tx, here, &mut fridge, &line, &entry, &act).await?;
        if !said.is_nothing() {
            if !said.asked.is_empty() {
                said.remarks
                    .push(Remark::fault("took", format!("{} Take off that tick, or use Differs.", std::mem::take(&mut said.asked))));
            }
            return Ok(said);
        }
    }
    Ok(Said { over: over_cap(tx, here, typed).await?, ..Said::default() })
}
