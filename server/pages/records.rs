//! Writing down, looking at and correcting one record of any kind, with its whole history; and the ten-second undo.

mod asked;
mod hand_outs;
mod told;

use super::{
    App, Frame, Here,
    field::{Field, fields_of, told_apart},
    remarks_of,
};
use crate::{
    store::{corrections, packing, records},
    trade::{
        capital, in_an_address,
        kinds::{Kind, kind},
        packed::stands,
        records::{Cell, Record, Remark, Shape, read},
    },
    web::{
        answer::{Answer, Trouble, again, is_inside, onward, page},
        form::{Fields, Sealed},
        rooms::Rooms,
        visitor::Who,
    },
};
use askama::Template;
use asked::asked;
use axum::extract::{Path, Query};
use hand_outs::{marked_anew, strike_empties};
use told::{Earlier, as_typed, choices, history, late, names, plural, shown};

/// The doors of this file. Kinds that only the owner may see are refused inside, by the kind's own word.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new()
        .look("/records/{kind}", Who::Farm, index)
        .look("/records/{kind}/new", Who::Farm, new)
        .send("/records/{kind}", Who::Farm, create)
        .look("/records/{kind}/{number}", Who::Farm, show)
        .send("/records/{kind}/{number}", Who::Owner, correct)
        .send("/records/{kind}/{number}/strike", Who::Owner, strike)
        .send("/undo", Who::Farm, undo)
}

#[derive(Template)]
#[template(path = "records/index.html")]
struct Index {
    frame: Frame,
    kind: &'static Kind,
    title: String,
    rows: Vec<(i64, Vec<(&'static str, String)>)>,
}

#[derive(Template)]
#[template(path = "records/new.html")]
struct New {
    frame: Frame,
    kind: &'static Kind,
    title: String,
    fields: Vec<Field>,
    remarks: Vec<Remark>,
    entry: String,
    back: String,
}

#[derive(Template)]
#[template(path = "records/show.html")]
struct Show {
    frame: Frame,
    kind: &'static Kind,
    title: String,
    facts: Vec<(&'static str, String)>,
    written: String,
    late: String,
    record: Record,
    history: Vec<Earlier>,
    fields: Vec<Field>,
    remarks: Vec<Remark>,
    why: String,
}

fn opened(name: &str, here: &Here) -> Result<&'static Kind, Trouble> {
    let kind = kind(name).ok_or_else(|| Trouble::NotThere("There is no such kind of record.".to_owned()))?;
    if kind.owner_only && !here.visitor.is_owner() { Err(Trouble::NotYours) } else { Ok(kind) }
}

/// A kind somebody may add to. Lifting a hold is the owner's act, at whichever door.
fn added_to(name: &str, here: &Here) -> Result<&'static Kind, Trouble> {
    let kind = opened(name, here)?;
    if kind.name == "lifts" && !here.visitor.is_owner() { Err(Trouble::NotYours) } else { Ok(kind) }
}

fn place_of(kind: &Kind) -> &'static str {
    match kind.name {
        "cows" | "events" | "treatments" | "strip_tests" => "Herd",
        "people" | "terms" | "shares" | "pauses" | "collectors" | "agreements" => "People",
        "tickets" | "gear" | "minutes" | "assumptions" | "stores" | "feedings" | "store_counts" | "usual_weeks" | "worths"
        | "appliances" | "meter_readings" | "bank_totals" | "choices" | "what_ifs" => "Costs",
        "pickups" => "Pickup",
        "farm" | "rules" | "samples" | "results" | "documents" | "renewals" | "notices" | "decisions" | "complaints" => "Binder",
        _ => "Jars",
    }
}

async fn index(here: Here, Path(name): Path<String>) -> Answer {
    let kind = opened(&name, &here)?;
    let mut db = here.app.ledger.read().await?;
    let mut rows = Vec::new();
    for record in records::newest(&mut db, kind, 100).await? {
        let facts = shown(&mut db, &here, kind, &record.cells).await?;
        rows.push((record.number, facts.into_iter().filter(|(_, says)| !says.is_empty()).take(6).collect()));
    }
    let title = format!("{}, newest first", plural(kind));
    drop(db);
    page(&Index { frame: Frame::of(&here, place_of(kind), title.clone()).await?, kind, title, rows })
}

async fn view_new(here: &Here, kind: &'static Kind, typed: &Fields, remarks: Vec<Remark>) -> Result<New, Trouble> {
    let mut db = here.app.ledger.read().await?;
    let names = names(&mut db, kind).await?;
    let fields = fields_of(kind, typed, &remarks, here.farm.ways.scale, &choices(&names));
    drop(db);
    let title = format!("New {}", kind.one);
    let entry = typed.entry();
    let back = typed.get("back").to_owned();
    Ok(New { frame: Frame::of(here, place_of(kind), title.clone()).await?, kind, title, fields, remarks, entry, back })
}

async fn new(here: Here, Path(name): Path<String>, Query(asked): Query<Vec<(String, String)>>) -> Answer {
    let kind = added_to(&name, &here)?;
    if let Some(own) = kind.own_page() {
        return onward(own);
    }
    page(&view_new(&here, kind, &begun(&here, kind, Fields(asked)), Vec::new()).await?)
}

/// What a new record's form begins with, where nothing was asked for: now, whoever writes, and none of the sizes nobody uses.
fn begun(here: &Here, kind: &Kind, mut typed: Fields) -> Fields {
    if let Some(column) = kind.happened.filter(|column| typed.get(column).is_empty()) {
        let now = here.now;
        let moment = kind.columns.iter().any(|own| own.name == column && own.shape == Shape::Moment);
        typed = typed.with(column, if moment { here.zone().for_field(now) } else { here.zone().day(now).to_string() });
    }
    for by_hand in ["taken_by", "done_by", "given_by"] {
        if kind.place_of(by_hand).is_some() && typed.get(by_hand).is_empty() {
            typed = typed.with(by_hand, here.visitor.name.clone());
        }
    }
    // All of it is for milk and on a paper in the hand, until somebody says otherwise.
    for (column, usual) in [("milk_share", "100"), ("guess", "no")] {
        if matches!(kind.name, "tickets" | "minutes" | "stores" | "gear") && kind.place_of(column).is_some() && typed.get(column).is_empty()
        {
            typed = typed.with(column, usual);
        }
    }
    // None of a size is written as 0, so the sizes nobody uses do not have to be tapped; the usual one is counted.
    for size in ["gallons", "quarts", "pints"] {
        if kind.place_of(size).is_some() && typed.get(size).is_empty() {
            typed = typed.with(size, "0");
        }
    }
    typed
}

async fn create(here: Here, Path(name): Path<String>, Sealed(typed): Sealed) -> Answer {
    let kind = added_to(&name, &here)?;
    if let Some(own) = kind.own_page() {
        return Err(Trouble::NotThere(format!(
            "A {} is written on its own page, {own}, which looks at more than this form does.",
            kind.one
        )));
    }
    let kept = match read_new(&here, kind, &typed).await? {
        Ok(cells) => keep(&here, kind, typed.get("entry"), cells).await?,
        Err(remarks) => Err(remarks),
    };
    match kept {
        // Somebody new has more to be written down; that starts from their own page.
        Ok(_) if kind.name == "people" => onward(&format!("/people/{}", in_an_address(typed.get("label").trim()))),
        Ok(number) => onward(&back_or(typed.get("back"), format!("/records/{}/{number}", kind.name))),
        Err(remarks) => again(&view_new(&here, kind, &typed, remarks).await?),
    }
}

/// A new record's cells, or everything that is to be said about them.
async fn read_new(here: &Here, kind: &'static Kind, typed: &Fields) -> Result<Result<Vec<Cell>, Vec<Remark>>, Trouble> {
    let cells = match read(kind, |column| typed.get(column).to_owned(), here.farm.ways) {
        Ok(cells) => cells,
        Err(remarks) => return Ok(Err(remarks)),
    };
    let remarks = asked(here, kind, &cells, typed, None).await?;
    if !remarks.is_empty() {
        return Ok(Err(remarks));
    }
    if typed.get("sort") == "joined the can" {
        let says = "Joining the can is written on her own page, under Herd: it looks at her clocks first.";
        return Ok(Err(vec![Remark::fault("sort", says)]));
    }
    Ok(Ok(cells))
}

fn back_or(back: &str, otherwise: String) -> String {
    if is_inside(back) { back.to_owned() } else { otherwise }
}

async fn keep(here: &Here, kind: &'static Kind, entry: &str, cells: Vec<Cell>) -> Result<Result<i64, Vec<Remark>>, Trouble> {
    let mut tx = here.app.ledger.begin().await?;
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    match records::keep_typed(&mut tx, kind, entry, cells, &act).await {
        // Two phones may sell the same share in the same moment; the law is asked inside the transaction.
        Ok(kept) if matches!(kind.name, "pails" | "sources" | "asides" | "shares") => {
            let remarks = commit_if_lawful(here, tx).await?;
            Ok(if remarks.is_empty() { Ok(kept.number) } else { Err(remarks) })
        }
        Ok(kept) => {
            tx.commit().await?;
            Ok(Ok(kept.number))
        }
        Err(refusal) => Ok(Err(remarks_of(refusal)?)),
    }
}

async fn found(here: &Here, name: &str, number: i64) -> Result<(&'static Kind, Record), Trouble> {
    let kind = opened(name, here)?;
    let record = records::find(&mut *here.app.ledger.read().await?, kind, number).await?;
    record.map(|record| (kind, record)).ok_or_else(|| {
        Trouble::NotThere(format!("There is no {} {number}: it was never kept, was undone, or was struck through.", kind.one))
    })
}

async fn view_show(
    here: &Here,
    kind: &'static Kind,
    record: Record,
    typed: Option<&Fields>,
    remarks: Vec<Remark>,
) -> Result<Show, Trouble> {
    let mut db = here.app.ledger.read().await?;
    let facts = shown(&mut db, here, kind, &record.cells).await?;
    let names = names(&mut db, kind).await?;
    let own = as_typed(&mut db, here, kind, &record).await?;
    let mut fields = fields_of(kind, typed.unwrap_or(&own), &remarks, here.farm.ways.scale, &choices(&names));
    fields.retain(|field| !kind.is_frozen(&field.name));
    let history = history(&mut db, here, kind, &record).await?;
    drop(db);
    let key = kind.key.map_or_else(|| record.number.to_string(), |key| record.cell(kind, key).text().to_owned());
    let title = format!("{} {key}", capital(kind.one));
    Ok(Show {
        frame: Frame::of(here, place_of(kind), title.clone()).await?,
        kind,
        title,
        facts,
        written: here.zone().in_full(record.written),
        late: late(here, kind, &record),
        record,
        history,
        fields,
        remarks,
        why: typed.map(|typed| typed.get("why").to_owned()).unwrap_or_default(),
    })
}

async fn show(here: Here, Path((name, number)): Path<(String, i64)>) -> Answer {
    let (kind, record) = found(&here, &name, number).await?;
    page(&view_show(&here, kind, record, None, Vec::new()).await?)
}

async fn correct(here: Here, Path((name, number)): Path<(String, i64)>, Sealed(typed): Sealed) -> Answer {
    let (kind, record) = found(&here, &name, number).await?;
    let typed = told_apart(kind, typed);
    match corrected(&here, kind, &record, &typed).await? {
        remarks if remarks.is_empty() => onward(&format!("/records/{name}/{number}")),
        remarks => again(&view_show(&here, kind, record, Some(&typed), remarks).await?),
    }
}

async fn corrected(here: &Here, kind: &'static Kind, record: &Record, typed: &Fields) -> Result<Vec<Remark>, Trouble> {
    let own = as_typed(&mut *here.app.ledger.read().await?, here, kind, record).await?;
    let cells = match read_again(here, kind, record, typed, &own).await? {
        Ok(cells) => cells,
        Err(remarks) => return Ok(remarks),
    };
    let mut tx = here.app.ledger.begin().await?;
    let cells = marked_anew(&mut tx, kind, record, cells).await?;
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    match corrections::correct(&mut tx, kind, record, cells, typed.get("why").trim(), &act).await {
        Ok(()) => commit_if_lawful(here, tx).await,
        Err(refusal) => remarks_of(refusal),
    }
}

/// A corrected record's cells, or everything that is to be said about them. What is frozen stays as it was.
async fn read_again(
    here: &Here,
    kind: &'static Kind,
    record: &Record,
    typed: &Fields,
    own: &Fields,
) -> Result<Result<Vec<Cell>, Vec<Remark>>, Trouble> {
    let mut remarks = Vec::new();
    if !is_reason(typed.get("why")) {
        remarks.push(Remark::fault("why", "Say in a few words why it is corrected. Both versions are kept."));
    }
    if typed.get("version") != record.version.to_string() {
        remarks.push(Remark::fault("why", "Somebody corrected this record in the meantime. Look at it again before you change it."));
    }
    let word = |column: &str| if kind.is_frozen(column) { own.get(column) } else { typed.get(column) }.to_owned();
    let cells = match read(kind, word, here.farm.ways) {
        Ok(cells) if remarks.is_empty() => cells,
        Ok(_) => return Ok(Err(remarks)),
        Err(more) => return Ok(Err(more.into_iter().chain(remarks).collect())),
    };
    let asked = asked(here, kind, &cells, typed, Some(record.number)).await?;
    Ok(if asked.is_empty() { Ok(cells) } else { Err(asked) })
}

/// Whether somebody said why, in a few words.
fn is_reason(why: &str) -> bool {
    !why.trim().is_empty() && why.trim().chars().count() <= 200
}

/// Keeps a change only when it breaks no law that held before: a lot must not end with fewer jars than left it.
async fn commit_if_lawful(here: &Here, mut tx: sqlx::Transaction<'static, sqlx::Sqlite>) -> Result<Vec<Remark>, Trouble> {
    let after = records::without_papers(&mut tx).await?.breaches();
    if !after.is_empty() {
        let before = records::without_papers(&mut *here.app.ledger.read().await?).await?.breaches();
        let new: Vec<Remark> =
            after.into_iter().filter(|breach| !before.contains(breach)).map(|breach| Remark::fault("why", breach.says)).take(3).collect();
        if !new.is_empty() {
            return Ok(new);
        }
    }
    tx.commit().await?;
    Ok(Vec::new())
}

async fn strike(here: Here, Path((name, number)): Path<(String, i64)>, Sealed(typed): Sealed) -> Answer {
    let (kind, record) = found(&here, &name, number).await?;
    match struck(&here, kind, &record, typed.get("why").trim()).await? {
        remarks if remarks.is_empty() => onward(&format!("/records/{name}")),
        remarks => again(&view_show(&here, kind, record, None, remarks).await?),
    }
}

async fn struck(here: &Here, kind: &'static Kind, record: &Record, why: &str) -> Result<Vec<Remark>, Trouble> {
    if !is_reason(why) {
        return Ok(vec![Remark::fault("why", "Say in a few words why this never happened. It stays on record, struck through.")]);
    }
    let mut tx = here.app.ledger.begin().await?;
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    if let Err(refusal) = strike_empties(&mut tx, kind, record, why, &act).await {
        return remarks_of(refusal);
    }
    match corrections::strike(&mut tx, kind, record, why, &act).await {
        Ok(()) => commit_if_lawful(here, tx).await,
        Err(refusal) => remarks_of(refusal),
    }
}

async fn undo(here: Here, Sealed(typed): Sealed) -> Answer {
    let number: i64 = typed.get("act").parse().unwrap_or(0);
    let mut tx = here.app.ledger.begin().await?;
    if let Some(day) = packing::day_of_act(&mut tx, number).await?
        && let Some(label) = packing::has_theirs(&mut tx, day, here.zone()).await?
    {
        return Err(Trouble::TooLate(stands(&label)));
    }
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    match corrections::undo(&mut tx, number, &act).await {
        Ok(()) => {
            tx.commit().await?;
            onward("/")
        }
        Err(refusal) => Err(Trouble::TooLate(remarks_of(refusal)?.into_iter().map(|remark| remark.says).collect::<Vec<_>>().join(" "))),
    }
}
