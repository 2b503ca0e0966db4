//! Lots made from lots: cream, skim, or jars poured over. One act writes the lot, what it was made from, and the jars that
//! went in; before it is kept, it is said out loud what is tied together by it.

use super::{App, Frame, Here, field::Field, kind_of, remarks_of};
use crate::{
    store::{Failure, farm, lots, records, trace, verdict},
    trade::{
        codes::LotCode,
        jars::{Jars, Size},
        mixing::{Reach, apart, ask_milk, ask_tie, is_loud, last_days, marks, milked},
        pickups::is_planned,
        records::{Cell, Remark, Shape, read},
        slips,
        steps::{Stage, Steps},
        tested::Known,
        trace::{Graph, LotId},
        verdict::{Facts, Verdict, Word, judge},
        warm::HouseRule,
        when::Moment,
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
use axum::extract::Query;
use sqlx::SqliteConnection;
use std::collections::BTreeSet;

/// The sizes jars come in, with the columns that count them, the usual one first.
const SIZES: [(&str, &str, Size, &str); 4] = [
    ("half_gallons", "Half-gallons", Size::HalfGallon, "half"),
    ("quarts", "Quarts", Size::Quart, "quart"),
    ("pints", "Pints", Size::Pint, "pint"),
    ("gallons", "Gallons", Size::Gallon, "gal"),
];

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new().look("/made/new", Who::Farm, new).send("/made", Who::Farm, create)
}

#[derive(Template)]
#[template(path = "jars/made.html")]
struct New {
    frame: Frame,
    entry: String,
    typed: Fields,
    stop: Stop,
    code: String,
    made: Field,
    parents: Vec<Shown>,
    sizes: Vec<Field>,
    more: Vec<Field>,
}

/// A lot that could go in, with everything that its child would take from it.
struct Shown {
    code: String,
    word: Word,
    left: Jars,
    oldest: String,
    last: Vec<(String, String)>,
    ticked: bool,
    sizes: Vec<Field>,
}

/// What stands against keeping it.
#[derive(Default)]
struct Stop {
    remarks: Vec<Remark>,
    /// Lots that say Keep back or Can't tell: the code, its word and its reason.
    loud: Vec<(String, Word, String)>,
    /// More jars than are left, a sentence for each lot.
    short: Vec<String>,
    /// Questions, each with the answer's name.
    asked: Vec<(String, String)>,
    /// The lots ticked, as the answers name them, so that an answer about some lots is none about others.
    ticked: String,
    child: Option<Child>,
}

impl Stop {
    fn is_nothing(&self) -> bool {
        self.remarks.is_empty() && self.loud.is_empty() && self.short.is_empty() && self.asked.is_empty()
    }

    fn remark(field: &str, says: impl ToString) -> Stop {
        Stop { remarks: vec![Remark::fault(field, says)], ..Stop::default() }
    }
}

/// What would be made, before it is.
struct Child {
    verdict: Verdict,
    oldest: String,
    last: Vec<(String, String)>,
    /// Whether the rule has it held cold, so that it has to be read once it is made.
    is_held_cold: bool,
}

/// A lot that goes in, with the jars of it.
struct Parent {
    lot: lots::Lot,
    left: Jars,
    facts: Facts,
    verdict: Verdict,
    taken: Jars,
}

/// What is on hand, judged now.
async fn on_hand(db: &mut SqliteConnection, here: &Here, typed: &Fields) -> Result<Vec<Parent>, Failure> {
    let standing = lots::on_hand(&mut *db, here.now).await?;
    let numbers: Vec<i64> = standing.iter().map(|own| own.lot.number).collect();
    let facts = verdict::facts(&mut *db, &numbers, here.zone(), here.now).await?;
    let parents = standing.into_iter().zip(facts).map(|(own, facts)| Parent {
        left: own.jars().short_and_over().0,
        verdict: judge(&facts, here.now),
        taken: jars_typed(typed, &own.lot.code),
        facts,
        lot: own.lot,
    });
    Ok(parents.filter(|own| !own.left.is_none()).collect())
}

/// How many jars of a lot go in, as far as it can be read.
fn jars_typed(typed: &Fields, code: &str) -> Jars {
    let count = |size: &str| typed.get(&format!("{size}.{code}")).trim().parse::<i64>().unwrap_or(0).clamp(0, 999);
    Jars { gallons: count("gallons"), half_gallons: count("half_gallons"), quarts: count("quarts"), pints: count("pints") }
}

async fn next_code(db: &mut SqliteConnection, here: &Here, filled: Moment) -> Result<Option<LotCode>, Failure> {
    let day = here.zone().day(filled);
    let taken = lots::codes_on(db, here.zone().start_of(day), here.zone().end_of(day)).await?;
    Ok(LotCode::first_free(day, &taken))
}

fn filled(here: &Here, typed: &Fields) -> Moment {
    here.zone().parse_moment(typed.get("filled")).unwrap_or(here.now)
}

async fn view(here: &Here, typed: Fields, stop: Stop) -> Result<New, Trouble> {
    let mut db = here.app.ledger.read().await?;
    let code = next_code(&mut db, here, filled(here, &typed)).await?.map(|code| code.to_string()).unwrap_or_default();
    let (standing, book) = (on_hand(&mut db, here, &typed).await?, farm::rule_book(&mut db).await?);
    drop(db);
    let opened = typed.get("entry").is_empty();
    let typed = if opened { typed.with("filled", here.zone().for_field(here.now)).with("entry", secret::entry()) } else { typed };
    let field = |name: &str, label, shape| Field::named(name, label, shape, &typed, &stop.remarks);
    let parents = standing.into_iter().map(|own| Shown {
        word: own.verdict.word(),
        left: own.left,
        oldest: here.zone().shown(own.facts.oldest()),
        last: last_days(&book.on(here.zone().day(here.now)), here.now, own.facts.oldest(), &[&own.facts], here.zone()),
        ticked: typed.all("parent").any(|code| code == own.lot.code),
        sizes: sizes_of(&own, &field),
        code: own.lot.code,
    });
    Ok(New {
        frame: Frame::of(here, "Jars", "Make a lot").await?,
        entry: typed.get("entry").to_owned(),
        code,
        made: field("made", "Made into", Shape::OneOf(&["cream", "skim", "repoured"])),
        parents: parents.collect(),
        sizes: SIZES.iter().map(|(name, label, _, milk)| field(name, label, Shape::Count(0, 999)).milk(milk, "").optional(true)).collect(),
        more: vec![field("filled", "When", Shape::Moment), field("note", "Note", Shape::Words(200)).optional(true)],
        typed: typed.clone(),
        stop,
    })
}

/// A counter for each size of a lot that is left.
fn sizes_of(own: &Parent, field: &impl Fn(&str, &'static str, Shape) -> Field) -> Vec<Field> {
    let left = SIZES.iter().filter(|(_, _, size, _)| own.left.of(*size) > 0 || own.taken.of(*size) > 0);
    left.map(|(name, label, size, _)| {
        let hint = format!("{} left by the book", own.left.of(*size));
        let mut field = field(&format!("{name}.{}", own.lot.code), label, Shape::Count(0, 999)).hinted(hint);
        field.label = format!("{label} of {} that go in", own.lot.code);
        field
    })
    .collect()
}

async fn new(here: Here, Query(asked): Query<Vec<(String, String)>>) -> Answer {
    let asked = asked.into_iter().filter(|(name, _)| name == "lot").map(|(_, code)| ("parent".to_owned(), code)).collect();
    page(&view(&here, Fields(asked), Stop::default()).await?)
}

async fn create(here: Here, Sealed(typed): Sealed) -> Answer {
    match kept(&here, &typed).await? {
        Ok(code) => onward(&format!("/lots/{code}")),
        Err(stop) => again(&view(&here, typed, stop).await?),
    }
}

/// An empty count of a size is none of it, and a made lot has no vessel.
fn lot_line(typed: &Fields, code: &str) -> Fields {
    let mut line = Fields::default().with("code", code);
    for (size, _, _, _) in SIZES {
        let count = typed.get(size).trim();
        line = line.with(size, if count.is_empty() { "0" } else { count });
    }
    line.with("filled", typed.get("filled")).with("made", typed.get("made")).with("note", typed.get("note"))
}

async fn kept(here: &Here, typed: &Fields) -> Result<Result<String, Stop>, Trouble> {
    let lots = kind_of("lots")?;
    let mut tx = here.app.ledger.begin().await?;
    if let Some(record) = records::by_entry(&mut tx, lots, typed.get("entry")).await? {
        return Ok(Ok(record.cell(lots, "code").text().to_owned()));
    }
    let Some(code) = next_code(&mut tx, here, filled(here, typed)).await? else {
        return Ok(Err(Stop::remark("filled", "Every code of that day is used up. Look at the day again.")));
    };
    let line = lot_line(typed, code.as_str());
    let (cells, remarks) = match read(lots, |column| line.get(column).to_owned(), here.farm.ways) {
        Ok(cells) => (cells.clone(), slips::remarks(lots, &cells, here.farm.ways, here.latest())),
        Err(remarks) => (Vec::new(), remarks),
    };
    let parents = match weighed(&mut tx, here, typed, &cells, remarks).await? {
        Ok(parents) => parents,
        Err(stop) => return Ok(Err(stop)),
    };
    match write(&mut tx, here, typed, &code, cells, &parents).await? {
        remarks if remarks.is_empty() => tx.commit().await?,
        remarks => return Ok(Err(Stop { remarks, ..Stop::default() })),
    }
    Ok(Ok(code.to_string()))
}

/// Looks at what is ticked. Faults come first and alone; what is asked is asked once all of it could be kept.
async fn weighed(
    db: &mut SqliteConnection,
    here: &Here,
    typed: &Fields,
    cells: &[Cell],
    mut remarks: Vec<Remark>,
) -> Result<Result<Vec<Parent>, Stop>, Trouble> {
    let mut parents = on_hand(&mut *db, here, typed).await?;
    let gone = typed.all("parent").find(|code| parents.iter().all(|own| own.lot.code != **code)).map(str::to_owned);
    parents.retain(|own| typed.all("parent").any(|code| code == own.lot.code));
    remarks.extend(gone.map(|code| Remark::fault("parent", format!("By the book no jars of {code} are left. Count the shelf."))));
    remarks.extend(faults(here, typed, &parents));
    let out = kind_of("lots")?.jars(cells);
    if out.is_none() && !cells.is_empty() {
        remarks.push(Remark::fault("half_gallons", "Count the jars that came out: at least one."));
    }
    if !remarks.is_empty() {
        return Ok(Err(Stop { remarks, ..Stop::default() }));
    }
    let stop = questions(db, here, typed, &parents, out).await?;
    Ok(if stop.is_nothing() { Ok(parents) } else { Err(stop) })
}

/// What cannot have happened as it is typed.
fn faults(here: &Here, typed: &Fields, parents: &[Parent]) -> Vec<Remark> {
    let mut remarks = Vec::new();
    if typed.all("parent").next().is_none() {
        remarks.push(Remark::fault("parent", "Tick the lots that go in. Without them nobody can say whose milk it is."));
    }
    for own in parents {
        let code = &own.lot.code;
        let name = |size: &str| format!("{size}.{code}");
        let odd = SIZES.iter().map(|(size, ..)| name(size)).find(|name| {
            let count = typed.get(name).trim();
            !count.is_empty() && !count.parse::<i64>().is_ok_and(|count| (0..=999).contains(&count))
        });
        let shown = SIZES.iter().find(|(_, _, size, _)| own.left.of(*size) > 0).map_or("half_gallons", |(name, ..)| *name);
        if let Some(odd) = odd {
            remarks.push(Remark::fault(&odd, "A whole number of jars, like 2."));
        } else if own.taken.is_none() {
            remarks.push(Remark::fault(&name(shown), format!("How many jars of {code} went in? Not one is written yet.")));
        }
        if filled(here, typed) < own.lot.filled {
            let since = here.zone().shown(own.lot.filled);
            remarks.push(Remark::fault("filled", format!("{code} was only filled on {since}. Look at the time again.")));
        }
    }
    remarks
}

/// What is asked before lots are poured together, each question about exactly the lots that are ticked.
async fn questions(db: &mut SqliteConnection, here: &Here, typed: &Fields, parents: &[Parent], out: Jars) -> Result<Stop, Failure> {
    let ticked = parents.iter().map(|own| own.lot.code.as_str()).collect::<Vec<_>>().join(" ");
    let open = |about: &str| !typed.is_sure(&format!("{about} {ticked}"));
    let mut stop = Stop::default();
    if open("loud") {
        let loud = parents.iter().filter(|own| is_loud(own.verdict.word()));
        stop.loud = loud.map(|own| (own.lot.code.clone(), own.verdict.word(), own.verdict.reason())).collect();
    }
    if is_planned(filled(here, typed), here.now) && open("short") {
        let short = parents.iter().filter(|own| !own.left.covers(own.taken));
        stop.short =
            short.map(|own| format!("By the book {} of {} are left, and this is {}.", own.left, own.lot.code, own.taken)).collect();
    }
    let milk = ask_milk(out, parents.iter().map(|own| own.taken).sum());
    stop.asked.extend(milk.filter(|_| open("milk")).map(|says| ("milk".to_owned(), says)));
    if open("tie") {
        stop.asked.extend(tie(db, parents).await?.map(|says| ("tie".to_owned(), says)));
    }
    if !stop.is_nothing() {
        stop.child = Some(child(db, here, filled(here, typed), parents).await?);
    }
    stop.ticked = ticked;
    Ok(stop)
}

/// How far a call-back would reach, and how far apart the milk is, when more than one lot goes in.
async fn tie(db: &mut SqliteConnection, parents: &[Parent]) -> Result<Option<String>, Failure> {
    let one = |own: &Parent| BTreeSet::from([LotId(own.lot.number)]);
    let all: BTreeSet<LotId> = parents.iter().flat_map(one).collect();
    let lists = trace::reached(db, &all).await?;
    let graph = Graph::of(&lists);
    let alone: Vec<(String, Reach)> = parents.iter().map(|own| (own.lot.code.clone(), Reach::of(&graph, &one(own)))).collect();
    let hours = milked(&lists, &graph, &all).and_then(|(oldest, newest)| apart(oldest, newest));
    Ok(ask_tie(&alone, Reach::of(&graph, &all)).map(|tie| [Some(tie), hours].into_iter().flatten().collect::<Vec<_>>().join(" ")))
}

/// What would be made: the oldest milk's date and the worst word of what goes in.
async fn child(db: &mut SqliteConnection, here: &Here, filled: Moment, parents: &[Parent]) -> Result<Child, Failure> {
    let zone = here.zone();
    let mut rules = farm::rule_book(db).await?.on(zone.day(filled));
    // Nobody can have read what is not made yet: what is asked here is what goes in.
    let is_held_cold = rules.base.steps.0.iter().any(|step| step.stage == Stage::Hold);
    rules.base.steps = Steps::default();
    let facts = Facts {
        code: String::new(),
        filled,
        milkings: Vec::new(),
        readings: Vec::new(),
        holds: Vec::new(),
        parents: parents.iter().map(|own| own.facts.clone()).collect(),
        rules,
        lab: Known::default(),
        decisions: Vec::new(),
        tied: Vec::new(),
        shared: Vec::new(),
        warmed: Vec::new(),
        house: HouseRule::default(),
        unread: Vec::new(),
        zone,
    };
    let last = last_days(&facts.rules, filled, facts.oldest(), &facts.parents.iter().collect::<Vec<_>>(), zone);
    Ok(Child { verdict: judge(&facts, here.now), oldest: zone.shown(facts.oldest()), last, is_held_cold })
}

/// Writes the lot, what it was made from and the jars that went in, all in one act.
async fn write(
    db: &mut SqliteConnection,
    here: &Here,
    typed: &Fields,
    code: &LotCode,
    cells: Vec<Cell>,
    parents: &[Parent],
) -> Result<Vec<Remark>, Trouble> {
    let act = records::act(&mut *db, here.now, &here.visitor.name, "screen").await?;
    let mut all = vec![("lots", typed.get("entry").to_owned(), Ok(cells))];
    for (nth, own) in parents.iter().enumerate() {
        let entry = secret::entry_within(typed.get("entry"), nth);
        let from = Fields::default().with("lot", code.to_string()).with("parent", own.lot.code.clone());
        let mut aside = Fields::default().with("at", typed.get("filled")).with("lot", own.lot.code.clone()).with("sort", "made");
        for (name, _, size, _) in SIZES {
            aside = aside.with(name, own.taken.of(size).to_string());
        }
        aside = aside.with("reason", marks(code.as_str(), own.verdict.word(), own.left, own.taken));
        for (name, line) in [("sources", from), ("asides", aside)] {
            all.push((name, entry.clone(), read(kind_of(name)?, |column| line.get(column).to_owned(), here.farm.ways)));
        }
    }
    for (name, entry, cells) in all {
        let cells = match cells {
            Ok(cells) => cells,
            Err(remarks) => return Ok(remarks),
        };
        if let Err(refusal) = records::keep(&mut *db, kind_of(name)?, &entry, cells, &act).await {
            return remarks_of(refusal);
        }
    }
    Ok(Vec::new())
}
