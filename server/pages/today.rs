//! Today: what is wrong and what is due, in one short list; the commonest acts one tap away; the fridge and the hold list
//! beside it.

use super::{App, Frame, Here, kind_of};
use crate::{
    copies::Copies,
    store::{
        backup, calendar, callbacks, farm, herd, ice_checks, lots,
        people::{self, Taker},
        pickups, records, stops, today, verdict,
    },
    trade::{
        balance::find_window,
        calendar::{list as due, weak},
        caps::{self, watch},
        cows::{Judged, Known, judge_all},
        known::may_never_be,
        late::against_by,
        limits::Limits,
        needs::Lack,
        parts::Hundredths,
        rests::worse_ways,
        surroundings::Around,
        today::{Facts, Held, HeldCap, InUse, Matter, Out, Owners, Standing, copies_said, first_reading, list},
        verdict::{Judging, Verdict},
        when::{Day, Moment},
    },
    web::{
        answer::{Answer, Trouble, page},
        rooms::Rooms,
        visitor::Who,
    },
};
use askama::Template;
use sqlx::SqliteConnection;

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new().look("/", Who::Farm, show)
}

#[derive(Template)]
#[template(path = "today/show.html")]
struct Show {
    frame: Frame,
    reading: Option<(String, String)>,
    to_call: usize,
    matters: Vec<Matter>,
    out: Vec<(String, Judged, String)>,
    fridge: Vec<Row>,
    counted: String,
    /// How old the newest copy is, for the owner.
    copied: String,
    first: Vec<(&'static str, &'static str, &'static str)>,
    /// Call-backs that are open, for the owner: number, title and what about.
    called: Vec<(i64, String, String)>,
}

/// A lot in the fridge.
struct Row {
    code: String,
    mark: &'static str,
    word: String,
    jars: String,
    counted: String,
}

impl Show {
    fn group(&self, wrong: bool) -> Vec<&Matter> {
        self.matters.iter().filter(|matter| matter.wrong == wrong).collect()
    }
}

/// How many households may come for milk today and have not taken any yet.
async fn still_to_call(db: &mut SqliteConnection, here: &Here, takers: &[Taker], day: Day) -> Result<usize, Trouble> {
    let had = pickups::takers_between(db, here.zone().start_of(day), here.zone().end_of(day)).await?;
    let comes = |own: &&Taker| own.comes && own.is_here(day) && own.lacks.is_empty() && own.promised > Hundredths::ZERO;
    Ok(takers.iter().filter(comes).filter(|own| !had.contains(&own.number)).count())
}

async fn show(here: Here) -> Answer {
    let mut db = here.app.ledger.read().await?;
    let on_hand = lots::on_hand(&mut db, here.now).await?;
    let day = here.zone().day(here.now);
    let takers = people::takers_here(&mut db, day).await?;
    let facts = facts(&mut db, &here, &on_hand, &takers).await?;
    let to_call = still_to_call(&mut db, &here, &takers, day).await?;
    let first = first(&mut db, &here).await?;
    let called = called(&mut db, &here).await?;
    drop(db);
    let matters = list(&facts, here.now, here.zone());
    let reading = first_reading(&facts).map(|due| (due.when(here.zone()), due.lot)).map(|(when, lot)| (lot, when));
    let fridge = facts.lots.iter().zip(&on_hand).map(|(lot, own)| row(&here, lot, own)).collect();
    let last_count =
        facts.counted.map_or_else(|| "Nobody has counted yet.".to_owned(), |at| format!("Last counted {}.", here.zone().shown(at)));
    let copied = facts.owners.as_ref().map_or_else(String::new, |own| copies_said(own.backup, own.schedule.as_ref(), here.now));
    let out = facts.cows.into_iter().filter(|(_, judged)| !judged.in_the_can());
    let out = out.map(|(cow, judged)| (says(&here, &cow, &judged), cow, judged)).map(|(says, cow, judged)| (cow, judged, says)).collect();
    page(&Show {
        frame: Frame::of(&here, "Today", "Today").await?,
        reading,
        to_call,
        matters,
        out,
        fridge,
        counted: last_count,
        copied,
        first,
        called,
    })
}

/// The call-backs that are open. They come before everything else, and only the owner sees them.
async fn called(db: &mut SqliteConnection, here: &Here) -> Result<Vec<(i64, String, String)>, Trouble> {
    if !here.visitor.is_owner() {
        return Ok(Vec::new());
    }
    let open = callbacks::list(db).await?.into_iter().filter(|own| own.closed.is_none());
    let title =
        |own: &callbacks::Listed| format!("{} {} is open", if own.practice { "Practice call-back" } else { "Call-back" }, own.number);
    Ok(open
        .map(|own| (own.number, title(&own), format!("{}, since {}: {}", own.because, here.zone().shown(own.at), own.lots.join(", "))))
        .collect())
}

/// What an empty farm lacks before anything else can be written down, and on its first evenings the way to a first cost.
async fn first(db: &mut SqliteConnection, here: &Here) -> Result<Vec<(&'static str, &'static str, &'static str)>, Trouble> {
    let wanted = [
        ("vessels", "Write down the can", "Its name, and a dipstick table if you have one", "/records/vessels/new?back=/"),
        ("cows", "Write down your cows", "Then join each to the can from her own page", "/records/cows/new?back=/"),
        ("people", "Write down who drinks the milk", "Two ways to reach each of them", "/records/people/new?back=/"),
    ];
    let mut first = Vec::new();
    for (name, says, why, address) in wanted {
        if (name != "people" || here.visitor.is_owner()) && records::keys(&mut *db, kind_of(name)?).await?.is_empty() {
            first.push((says, why, address));
        }
    }
    if !first.is_empty() && here.visitor.is_owner() && records::keys(&mut *db, kind_of("tickets")?).await?.is_empty() {
        first.push((
            "A first number for what a half-gallon costs",
            "Ten minutes of questions, each answer kept as a guess",
            "/costs/start",
        ));
    }
    Ok(first)
}

/// Why a cow is out, and when she joins: the day where there is one.
fn says(here: &Here, cow: &str, judged: &Judged) -> String {
    let joins = judged.joins(cow, here.now, here.zone());
    let why = judged.reasons.first().map(|reason| reason.sentence(here.zone())).unwrap_or_default();
    if joins.is_empty() { why } else { format!("{why} {joins}") }
}

fn row(here: &Here, lot: &Standing, own: &lots::OnHand) -> Row {
    let counted = match own.counted {
        Some((jars, _)) if jars == own.by_the_book => String::new(),
        Some((jars, at)) => format!("{jars} counted {}", here.zone().shown(at)),
        None => "not counted yet".to_owned(),
    };
    let word = lot.verdict.word();
    Row { code: lot.code.clone(), mark: word.mark(), word: word.to_string(), jars: own.by_the_book.to_string(), counted }
}

async fn facts(db: &mut SqliteConnection, here: &Here, on_hand: &[lots::OnHand], takers: &[Taker]) -> Result<Facts, Trouble> {
    let now = here.now;
    let gone = if here.visitor.is_owner() { still_out(&mut *db, here).await? } else { Vec::new() };
    let numbers: Vec<i64> = on_hand.iter().map(|own| own.lot.number).collect();
    let (lots, out) = judged(&mut *db, here, on_hand, gone).await?;
    let (cows, slipped_in) = cows(&mut *db, here).await?;
    Ok(Facts {
        off: off(&mut *db, on_hand, now).await?,
        held: held(&mut *db, &lots).await?,
        lots,
        cows,
        slipped_in,
        vessels: today::vessels(&mut *db, now).await?,
        counted: today::last_count(&mut *db, now).await?,
        thermometers: thermometers(&mut *db, here, &numbers).await?,
        around: around(&mut *db, here).await?,
        owners: if here.visitor.is_owner() { Some(owners(&mut *db, here, takers, out).await?) } else { None },
    })
}

/// The lots in the fridge, and what speaks against those of which jars are out. Most of the one are the other too, so all are read
/// and judged together.
async fn judged(
    db: &mut SqliteConnection,
    here: &Here,
    on_hand: &[lots::OnHand],
    gone: Vec<today::OutLot>,
) -> Result<(Vec<Standing>, Vec<Out>), Trouble> {
    let mut numbers: Vec<i64> = on_hand.iter().map(|own| own.lot.number).chain(gone.iter().map(|own| own.number)).collect();
    numbers.sort_unstable();
    numbers.dedup();
    let known = verdict::facts(db, &numbers, here.zone(), here.now).await?;
    let mut judging = Judging::at(here.now);
    let verdicts: Vec<Verdict> = known.iter().map(|own| judging.lot(own)).collect();
    let place = |number: i64| numbers.binary_search(&number).ok().filter(|place| *place < known.len());
    let standing = |own: &lots::OnHand| {
        let (known, verdict) = place(own.lot.number).map(|place| (&known[place], verdicts[place].clone()))?;
        let ways = worse_ways(known, verdict.word(), &mut judging);
        let (code, filled, by_the_book) = (own.lot.code.clone(), own.lot.filled, own.by_the_book);
        Some(Standing { code, filled, by_the_book, ways, verdict, best_by: known.best_by() })
    };
    let lots = on_hand.iter().filter_map(standing).collect();
    let speaks = |own: today::OutLot| {
        let (known, verdict) = place(own.number).map(|place| (&known[place], &verdicts[place]))?;
        let against = against_by(verdict, known, here.now).filter(|against| against.found || !own.left_out)?;
        Some(Out { code: known.code.clone(), jars: own.jars, against })
    };
    Ok((lots, gone.into_iter().filter_map(speaks).collect()))
}

/// What the lab found in water and on surfaces, each with the limits of the day it was drawn.
async fn around(db: &mut SqliteConnection, here: &Here) -> Result<Vec<Around>, Trouble> {
    let found = today::around(&mut *db, here.now).await?;
    let book = farm::rule_book(db).await?;
    let limits = |drawn: Moment| {
        let rules = book.on(here.zone().day(drawn));
        [rules.base].into_iter().chain(rules.beside).flat_map(|own| own.limits.0).collect()
    };
    let known = found.into_iter().filter(|(_, result)| result.is_known(here.zone(), here.now));
    Ok(known.map(|(place, result)| Around { limits: Limits(limits(result.drawn)), place, result }).collect())
}

type Cows = (Vec<(String, Judged)>, Vec<(String, String, String)>);

/// The cows still here, judged, and those whose milk went into a can without their having joined, as long as nobody has dealt
/// with that can.
async fn cows(db: &mut SqliteConnection, here: &Here) -> Result<Cows, Trouble> {
    let rules = farm::rule_book(&mut *db).await?.on(here.zone().day(here.now)).base;
    let cows = herd::list(&mut *db, here.now, here.zone()).await?;
    let known: Vec<&Known> = cows.iter().map(|cow| &cow.known).collect();
    let judged = judge_all(&known, &rules, here.now, here.zone());
    let loose = today::loose_milkings(&mut *db, here.now).await?;
    let in_can = cows.iter().flat_map(|cow| cow.pails.iter().map(|pail| (&cow.known, pail)));
    let in_can = in_can.filter(|(_, pail)| pail.went == "can" && loose.contains(&pail.milking));
    let why = |known: &Known, at: Moment| known.slipped_in(&rules, at, here.zone()).map(|reason| reason.sentence(here.zone()));
    let slipped = in_can.filter_map(|(known, pail)| Some((known.name.clone(), pail.session.clone(), why(known, pail.at)?))).collect();
    let here_still = known.iter().zip(judged).filter(|(_, judged)| !judged.has_left());
    Ok((here_still.map(|(known, judged)| (known.name.clone(), judged)).collect(), slipped))
}

/// Lots that do not square by their last count: those in the fridge, and those counted in the last seven days.
async fn off(
    db: &mut SqliteConnection,
    on_hand: &[lots::OnHand],
    now: Moment,
) -> Result<Vec<(String, crate::trade::balance::Window)>, Trouble> {
    let mut counted = today::counted_since(&mut *db, now.plus_hours(-7 * 24)).await?;
    let more = on_hand.iter().filter(|own| own.counted.is_some()).map(|own| (own.lot.number, own.lot.code.clone()));
    counted.extend(more.filter(|own| !counted.contains(own)).collect::<Vec<_>>());
    let numbers: Vec<i64> = counted.iter().map(|(number, _)| *number).collect();
    let moved = lots::moved(&mut *db, &numbers).await?;
    let counts = lots::counts(&mut *db, &numbers).await?;
    let window = |number: &i64| find_window(moved.get(number)?, counts.get(number)?);
    Ok(counted.into_iter().filter_map(|(number, code)| window(&number).map(|window| (code, window))).collect())
}

/// Holds nobody lifted; a held lot in the fridge is told by its verdict.
async fn held(db: &mut SqliteConnection, in_fridge: &[Standing]) -> Result<Vec<Held>, Trouble> {
    let open = stops::list(db).await?.into_iter().filter(|stop| stop.lifted.is_none());
    let elsewhere = open.filter(|stop| !in_fridge.iter().any(|lot| lot.code == stop.lot));
    Ok(elsewhere.map(|stop| Held { what: stop.what, reason: stop.reason, at: stop.at }).collect())
}

async fn thermometers(db: &mut SqliteConnection, here: &Here, lots: &[i64]) -> Result<Vec<InUse>, Trouble> {
    let (in_use, checks) = (calendar::thermometers(&mut *db, here.now).await?, ice_checks(&mut *db, here.now.plus_hours(-60 * 24)).await?);
    let read = calendar::read_of(db, lots).await?;
    Ok(in_use.into_iter().map(|thermometer| InUse { weak: weak(&read, &thermometer.name, &checks), thermometer }).collect())
}

async fn owners(db: &mut SqliteConnection, here: &Here, takers: &[Taker], out: Vec<Out>) -> Result<Owners, Trouble> {
    let known = calendar::facts(&mut *db, here.zone(), here.now).await?;
    Ok(Owners {
        backup: backup::last(&mut *db, here.now).await?,
        schedule: here.app.copies.as_ref().map(Copies::schedule),
        begun: today::begun(&mut *db).await?,
        rules: today::rules(&mut *db, here.zone().day(here.now)).await?,
        caps: held_caps(&mut *db, here, &known).await?,
        due: due(&known),
        out,
        lacking: lacking(takers, here.zone().day(here.now)),
    })
}

/// Days back in which a jar that went may still stand in a fridge: two weeks, as long as any jar is good for (common practice).
const STILL_THERE_DAYS: i64 = 14;
/// Days back in which a bottle with a germ in it still counts for jars that are out: they may be frozen.
const FROZEN_DAYS: i64 = 120;

/// The lots whose jars are out, and which no call-back has. One that was left out of a call-back with a reason was looked at; of one
/// with a germ or a drug in it nobody leaves it at that.
async fn still_out(db: &mut SqliteConnection, here: &Here) -> Result<Vec<today::OutLot>, Trouble> {
    let (now, none) = (here.now, Limits::default());
    let results = today::results_since(&mut *db, now.plus_hours(-FROZEN_DAYS * 24)).await?;
    let found = results.iter().filter(|own| own.is_known(here.zone(), now) && may_never_be(&none, own));
    let samples: Vec<i64> = found.map(|own| own.sample).collect();
    let all = today::out(db, now.plus_hours(-STILL_THERE_DAYS * 24), &samples).await?;
    Ok(all.into_iter().filter(|own| !own.called_back && !own.jars.short_and_over().0.is_none()).collect())
}

/// The households that are here and lack something before they may have milk.
fn lacking(takers: &[Taker], today: Day) -> Vec<(String, Vec<Lack>)> {
    let own = takers.iter().filter(|own| own.is_here(today) && !own.lacks.is_empty());
    own.map(|own| (own.called(), own.lacks.clone())).collect()
}

/// The caps of the rules in force, each held against what was handed out, milked and kept.
async fn held_caps(db: &mut SqliteConnection, here: &Here, known: &crate::trade::calendar::Facts) -> Result<Vec<HeldCap>, Trouble> {
    let read = calendar::amounts(db, here.zone(), here.now).await?;
    let amounts = caps::Amounts {
        handed_out: &read.handed_out,
        milked: &read.milked,
        cows_in_milk: known.count(|cow| cow.in_milk(here.zone())),
        cows_calved: known.count(|cow| cow.has_calved()),
        on: known.today,
        since: read.since,
    };
    let of = |(rules, source, caps): &(i64, String, caps::Caps)| {
        let held = |cap: &caps::Cap| HeldCap { rules: *rules, source: source.clone(), cap: cap.clone(), stands: watch(cap, &amounts) };
        caps.0.iter().map(held).collect::<Vec<_>>()
    };
    Ok(read.caps.iter().flat_map(of).collect())
}
