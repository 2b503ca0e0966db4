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
        fetched::from_list,
        jars::Jars,
        packed::Took,
        parts::Hundredths,
        pickups::{lot_for_all, right_lot, written_late},
        records::Remark,
        short,
        when::{Day, day_shown, parse_day},
    },
    web::{
        address::asking,
        answer::{Answer, Trouble, again, onward, page},
        form::{Fields, Sealed},
        rooms::Rooms,
        secret,
        visitor::Who,
    },
};
use askama::Template;
use axum::extract::Query;
use crates::{Everybody, Meantime, Waiting, empties_kept, everybody_in, standing};
use sqlx::SqliteConnection;
use weigh::{Fridge, Said, Shelf, fridge, over_cap, pickup_kind, ways_of, weigh};

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new()
        .look("/pickup", Who::Farm, show)
        .send("/pickup", Who::Farm, hand_out)
        .send("/pickup/everybody", Who::Farm, everybody)
        .send("/pickup/differs", Who::Farm, differs)
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
    /// The day whose crates are shown, when it is another than today.
    other_day: Option<String>,
    list_day: Day,
    packing: i64,
    /// Another day of which crates still stand, or today's own.
    also: Option<(Day, String)>,
    /// Those whose hand-out another phone kept in the meantime, though this one said so too or said “not here”.
    already: Vec<String>,
    stands: Vec<String>,
    /// Lots of which more stand packed than are there, with whose.
    lacking: Vec<String>,
    /// The crate of whoever one hand-out is asked for.
    their_crate: Option<String>,
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

    /// How a crate is said to have been taken; as packed until something else is tapped, and not at all once some of it went.
    fn took(&self, own: &Waiting, took: &Took) -> bool {
        let silent = if own.is_begun() { Took::NotHere } else { Took::AsPacked };
        Took::parse(self.typed.get(&format!("took.{}", own.label))).unwrap_or(silent) == *took
    }

    /// Whether this household is what stands against the list.
    fn is_about(&self, label: &str) -> bool {
        self.said.whose == label || self.has(&format!("took.{label}"))
    }

    /// What the list had tapped, as the other form and an address carry it.
    fn list_carried(&self) -> Vec<(String, String)> {
        carried(&self.typed)
    }

    fn has_sizes(&self) -> bool {
        ["quarts", "pints", "gallons"].iter().any(|size| !matches!(self.typed.get(size), "" | "0") || self.has(size))
    }

    /// What stands in the field for a code: what was typed, or the lot asked for where it is none of those on the shelf.
    fn code_shown(&self, shelf: &[Shelf]) -> &str {
        let typed = self.typed.get("other_lot");
        if typed.is_empty() && self.off_shelf(shelf) { self.typed.get("lot") } else { typed }
    }

    /// Whether the lot asked for is none of those on the shelf, and so has to stand in the field for its code.
    fn off_shelf(&self, shelf: &[Shelf]) -> bool {
        let lot = self.typed.get("lot");
        !lot.is_empty() && shelf.iter().all(|own| own.offer.code != lot)
    }
}

/// What was tapped on the list, under names that the form for one hand-out can carry beside its own.
fn carried(typed: &Fields) -> Vec<(String, String)> {
    let own = |(name, value): &(String, String)| match name.as_str() {
        "evidence" | "at" if !value.is_empty() => Some((format!("list.{name}"), value.clone())),
        name if name.starts_with("took.") && value != "as packed" => Some((name.to_owned(), value.clone())),
        _ => None,
    };
    typed.0.iter().filter_map(own).collect()
}

/// The list as it was tapped before somebody differed.
fn list_of(typed: &Fields) -> Fields {
    let own = |(name, value): &(String, String)| match name.strip_prefix("list.") {
        Some(name) => Some((name.to_owned(), value.clone())),
        None => name.starts_with("took.").then(|| (name.clone(), value.clone())),
    };
    Fields(typed.0.iter().filter_map(own).collect())
}

/// Fills in the plan of one hand-out, never the observation: what stands packed for them, or the jars promised and the oldest
/// lot that can go their way.
fn planned(asked: Fields, fridge: &Fridge, waiting: &[Waiting]) -> Fields {
    let taker = fridge.taker(asked.get("person"));
    let packed = taker.and_then(|taker| waiting.iter().find(|own| own.label == taker.label));
    // One hand-out is of one lot, so it is planned with what the crate holds of that lot.
    let asked_for = |lot: &str| asked.get("lot").is_empty() || asked.get("lot") == lot;
    let first = packed.and_then(|own| own.lots.iter().find(|(lot, _)| asked_for(lot)));
    let promised = first.map(|(_, jars)| *jars).or_else(|| taker.map(Taker::promised_jars)).filter(|jars| *jars > 0);
    let typed = match promised {
        Some(jars) if asked.get("half_gallons").is_empty() => asked.with("half_gallons", jars.to_string()),
        _ => asked,
    };
    if !typed.get("lot").is_empty() {
        return typed;
    }
    let (offers, wanted) = (fridge.offers_for(taker.map(|taker| taker.number)), Jars::halves(promised.unwrap_or(1)));
    let lot = match (first, taker) {
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
    let had = |taker: &Taker| done.iter().filter(|out| out.label == taker.label).map(|out| out.jars.half_gallons).sum::<i64>();
    let to_come = |taker: &Taker| taker.promised - Hundredths::jars(had(taker));
    let due: Vec<&Taker> = takers.iter().filter(|own| own.comes && own.is_here(today) && to_come(own) > Hundredths::ZERO).collect();
    let promised: Hundredths = due.iter().map(|own| to_come(own)).sum();
    (!due.is_empty()).then(|| (due.len(), promised.to_string()))
}

/// The day whose crates are shown: the one asked for, today, or the evening that went past midnight. And another that still
/// has some.
fn days_shown(asked: Option<Day>, today: Day, is_today_s: bool, fridge: &Fridge) -> (Day, Option<Day>) {
    let mut left: Vec<Day> = fridge.crates.iter().filter(|own| own.left() > 0 && own.day <= today).map(|own| own.day).collect();
    left.sort_unstable();
    let before = left.last().copied().filter(|day| !is_today_s && today.pred_opt() == Some(*day));
    let shown = asked.or(before).unwrap_or(today);
    left.retain(|day| *day != shown);
    (shown, left.pop().or_else(|| (shown != today).then_some(today)))
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

/// What is asked of the page: which day's list, the two forms as they were sent, and what another phone kept in the meantime.
#[derive(Default)]
struct Asked {
    day: Option<Day>,
    one: Form,
    everyone: Form,
    meantime: Meantime,
}

/// The page, with one form freshly planned and the other as it was sent, if it was.
async fn view(here: &Here, asked: Asked) -> Result<Show, Trouble> {
    let Asked { day, one, everyone, meantime } = asked;
    let today = here.zone().day(here.now);
    let mut db = here.app.ledger.read().await?;
    let fridge = fridge(&mut db, here, today).await?;
    let done = pickups::between(&mut db, here.zone().start_of(today), here.zone().end_of(today)).await?;
    let is_packed_today = packing::of_day(&mut db, today).await?.is_some();
    let to_pack = to_pack(&fridge.takers, &done, today).filter(|_| !is_packed_today);
    let (shown, also) = days_shown(day, today, is_packed_today || to_pack.is_some(), &fridge);
    let list = standing(&mut db, &fridge, shown).await?;
    drop(db);
    let (is_packed, packing) = (list.is_some(), list.as_ref().map_or(0, |own| own.packing));
    let waiting = list.map(|own| own.crates).unwrap_or_default();
    let one_first = !one.said.is_nothing() || !one.typed.get("person").is_empty() || !one.typed.get("lot").is_empty();
    let one = if one.said.is_nothing() { Form { typed: planned(one.typed, &fridge, &waiting), ..one } } else { one };
    let their_crate = waiting.iter().find(|own| own.label.eq_ignore_ascii_case(one.typed.get("person"))).map(Waiting::seen);
    let lacking = fridge.lacking().iter().map(|(lot, packed, there, whose)| lack_jars(lot, (*packed, *there), whose)).collect();
    let Fridge { mut shelf, takers, .. } = fridge;
    shelf.retain(|own| !own.offer.left.short_and_over().0.is_none());
    shelf.sort_by_key(|own| (!own.can_go(), own.offer.filled));
    Ok(Show {
        frame: Frame::of(here, "Pickup", "Hand out").await?,
        day: day_shown(today),
        waiting_jars: waiting.iter().map(|own| own.jars).sum::<Jars>().to_string(),
        to_pack: to_pack.filter(|_| shown == today),
        is_packed,
        other_day: (shown != today).then(|| day_shown(shown)),
        list_day: shown,
        packing,
        also: also.map(|day| (day, if day == today { "today".to_owned() } else { day_shown(day) })),
        already: meantime.already,
        stands: meantime.stands,
        lacking,
        their_crate,
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

/// That more of a lot stand packed than are there, and whose crates that may be.
fn lack_jars(lot: &str, (packed, there): (i64, i64), whose: &[String]) -> String {
    let who = match whose {
        [only] => format!("{only} lacks"),
        whose => format!("Of {}, somebody lacks", whose.join(", ")),
    };
    format!("{who} jars now: {packed} of {lot} stand packed, and {there} are there. Unpack, or hand out differently.")
}

/// A hand-out with its time, which needs no date when it was today, and how late it was written.
fn told(here: &Here, today: Day, out: HandedOut) -> (HandedOut, String, Option<String>) {
    let at = if here.zone().day(out.at) == today { here.zone().clock(out.at) } else { here.zone().shown(out.at) };
    let late = written_late(out.at, out.written);
    (out, at, late)
}

async fn show(here: Here, Query(asked): Query<Vec<(String, String)>>) -> Answer {
    let asked = Fields(asked);
    let labels = |name: &str| asked.all(name).filter(|own| !own.is_empty()).map(short).collect();
    let meantime = Meantime { already: labels("already"), stands: labels("stands") };
    let one = Fields(asked.0.iter().filter(|(name, _)| matches!(name.as_str(), "person" | "lot")).cloned().collect());
    let everyone = Form::of(&list_of(&asked), Said::default());
    let day = parse_day(asked.get("day")).ok();
    page(&view(&here, Asked { day, one: Form::of(&one, Said::default()), everyone, meantime }).await?)
}

/// Goes to the form for one hand-out, and takes along what was tapped on the list.
async fn differs(_: Here, Sealed(typed): Sealed) -> Answer {
    let mut asked: Vec<(String, String)> = ["day", "person"].map(|name| (name.to_owned(), typed.get(name).to_owned())).into();
    let own = format!("took.{}", typed.get("person"));
    asked.extend(carried(&typed).into_iter().filter(|(name, _)| *name != own));
    onward(&asking("/pickup", &asked))
}

/// Where a form that was kept leads: to the list it came from, with what was tapped on it.
fn back_to_list(here: &Here, typed: &Fields, more: &[(&str, &[String])]) -> Answer {
    let day = parse_day(typed.get("day")).ok().filter(|day| *day != here.zone().day(here.now));
    let mut asked: Vec<(String, String)> = day.map(|day| ("day".to_owned(), day.to_string())).into_iter().collect();
    asked.extend(carried(&list_of(typed)).into_iter().filter(|_| more.is_empty()));
    asked.extend(more.iter().flat_map(|(name, labels)| labels.iter().map(|label| ((*name).to_owned(), label.clone()))));
    onward(&asking("/pickup", &asked))
}

/// Keeps one hand-out of the form that differs.
async fn hand_out(here: Here, Sealed(typed): Sealed) -> Answer {
    let mut tx = here.app.ledger.begin().await?;
    if pickups::is_kept(&mut tx, typed.get("entry")).await? {
        return back_to_list(&here, &typed, &[]);
    }
    let said = one_in(&mut tx, &here, &typed).await?;
    if said.is_nothing() {
        tx.commit().await?;
        return back_to_list(&here, &typed, &[]);
    }
    drop(tx);
    let everyone = Form::of(&list_of(&typed), Said::default());
    let day = parse_day(typed.get("day")).ok();
    again(&view(&here, Asked { day, one: Form::of(&typed, said), everyone, ..Asked::default() }).await?)
}

/// From what one hand-out is written: the screen, or the crate it is all that is taken of.
fn source_of(fridge: &Fridge, typed: &Fields) -> String {
    let day = parse_day(typed.get("day")).ok().filter(|_| typed.get("all") == "yes");
    let person = fridge.taker(typed.get("person")).map(|own| own.number);
    let has = |day: &Day| fridge.crates.iter().any(|own| own.day == *day && Some(own.person) == person);
    day.filter(has).map_or_else(|| "screen".to_owned(), from_list)
}

/// Weighs and keeps one hand-out, with the empties that came back for it where they were counted.
async fn one_in(tx: &mut SqliteConnection, here: &Here, typed: &Fields) -> Result<Said, Trouble> {
    let mut fridge = fridge(&mut *tx, here, here.zone().day(here.now)).await?;
    let act = records::act(&mut *tx, here.now, &here.visitor.name, &source_of(&fridge, typed)).await?;
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
    let of = |size: &str| typed.get(size).trim().parse::<i64>().unwrap_or(0);
    let taken = Jars { gallons: of("gallons"), half_gallons: of("half_gallons"), quarts: of("quarts"), pints: of("pints") };
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
        Everybody::Kept(Meantime { already, stands }) => {
            tx.commit().await?;
            back_to_list(&here, &typed, &[("already", &already), ("stands", &stands)])
        }
        Everybody::Not(said) => {
            drop(tx);
            let day = parse_day(typed.get("day")).ok();
            again(&view(&here, Asked { day, everyone: Form::of(&typed, *said), ..Asked::default() }).await?)
        }
    }
}
