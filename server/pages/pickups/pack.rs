//! Packing a pickup day: the sum of each household, what the owner changes of it with a reason, and the list on paper. It owns
//! the doors under /pickup/pack.

use super::{
    planned::{Asked, Planned, planned},
    weigh::Fridge,
};
use crate::{
    pages::{App, Frame, Here, kind_of, remarks_of, sheets},
    store::{corrections, packing, records},
    trade::{
        jars::Jars,
        kinds::Kind,
        packed::{List, stands},
        packing::{Crate, Household, Plan},
        parts::Hundredths,
        records::{Cell, Remark, read},
        sharing::Method,
        when::{Day, day_shown, parse_day},
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
use std::collections::HashMap;

/// The doors of this file.
#[must_use]
pub(super) fn rooms() -> Rooms<App> {
    Rooms::new()
        .look("/pickup/pack", Who::Farm, show)
        .send("/pickup/pack", Who::Farm, pack)
        .send("/pickup/unpack", Who::Farm, unpack)
        .look("/pickup/list", Who::Farm, list)
        .look("/pickup/list.pdf", Who::Farm, list_pdf)
        .look("/pickup/list.csv", Who::Farm, list_csv)
        .look("/pickup/list.json", Who::Farm, list_json)
}

#[derive(Template)]
#[template(path = "pickup/pack.html")]
struct Show {
    frame: Frame,
    entry: String,
    day: Day,
    when: String,
    method: Method,
    plan: Plan,
    rows: Vec<Row>,
    left_out: Vec<(String, String, String)>,
    /// A day that is packed already: by whom, when and how many jars.
    packed: Option<String>,
    reason: String,
    remarks: Vec<Remark>,
}

/// One household of the plan.
struct Row {
    label: String,
    called: String,
    lots: String,
    told: String,
    jars: String,
    by_sum: i64,
    promised: Hundredths,
}

impl Show {
    /// Each way to share: whether it is the one in use, its word, and what it means.
    fn methods(&self) -> [(bool, &'static str, &'static str); 3] {
        Method::WORDS.map(|(method, word)| {
            let says = match method {
                Method::ProRata => "the same part for everybody, evened up later",
                Method::Rotation => "a jar less each, from whoever was short longest ago",
                Method::Priority => "the first in the chosen order get all",
            };
            (method == self.method, word, says)
        })
    }
}

impl Show {
    fn says_on(&self, field: &str) -> bool {
        self.remarks.iter().any(|remark| remark.field == field)
    }
}

fn lots_said(lots: &[(String, i64)]) -> String {
    let said: Vec<String> = lots.iter().map(|(lot, jars)| format!("{jars} × {lot}")).collect();
    said.join(", ")
}

/// The page of a plan, with what was typed in it.
async fn view(here: &Here, asked: &Asked, typed: &Fields, remarks: Vec<Remark>) -> Result<Show, Trouble> {
    let mut db = here.app.ledger.read().await?;
    let Planned { households, plan, .. } = planned(&mut db, here, asked).await?;
    let packed = packing::of_day(&mut db, asked.day).await?.map(|(_, list)| packed_said(here, &list));
    drop(db);
    let row = |own: &Crate| {
        let household = &households[own.household];
        let typed = typed.get(&format!("jars.{}", household.label));
        Row {
            label: household.label.clone(),
            called: household.called.clone(),
            lots: lots_said(&own.lots),
            told: own.portion.told(),
            jars: if typed.is_empty() { own.by_sum.to_string() } else { typed.to_owned() },
            by_sum: own.by_sum,
            promised: own.portion.promised,
        }
    };
    let left_out = |(place, why): &(usize, String)| (households[*place].label.clone(), households[*place].called.clone(), why.clone());
    Ok(Show {
        frame: Frame::of(here, "Pickup", "Pack").await?,
        entry: typed.entry(),
        day: asked.day,
        when: day_shown(asked.day),
        method: asked.method,
        rows: plan.crates.iter().map(row).collect(),
        left_out: plan.left_out.iter().map(left_out).collect(),
        plan,
        packed,
        reason: typed.get("reason").to_owned(),
        remarks,
    })
}

/// That a day is packed, by whom and with what.
fn packed_said(here: &Here, list: &List) -> String {
    let jars: i64 = list.rows.iter().map(|row| row.portion.jars).sum();
    let when = day_shown(list.day);
    format!(
        "{when} was packed by {} at {}: {} for {} households.",
        list.who,
        here.zone().shown(list.at),
        Jars::halves(jars),
        list.rows.len()
    )
}

/// The day and method of a form or an address; today and the method of the last packing where they are not said.
async fn asked_of(here: &Here, typed: &Fields) -> Result<Result<Asked, Remark>, Trouble> {
    let today = here.zone().day(here.now);
    let day = match typed.get("day").trim() {
        "" => today,
        day => match parse_day(day) {
            Ok(day) => day,
            Err(fault) => return Ok(Err(Remark::fault("day", fault))),
        },
    };
    if (day - today).num_days().abs() > 7 {
        return Ok(Err(Remark::fault("day", format!("{} is too far off to be packed. Pack within a week of the day.", day_shown(day)))));
    }
    let last = packing::last_method(&mut *here.app.ledger.read().await?).await?;
    let method = Method::parse(typed.get("method")).or_else(|| Method::parse(&last.unwrap_or_default())).unwrap_or(Method::ProRata);
    Ok(Ok(Asked { day, method, changed: HashMap::new() }))
}

async fn show(here: Here, Query(asked): Query<Vec<(String, String)>>) -> Answer {
    let typed = Fields(asked.into_iter().filter(|(name, _)| matches!(name.as_str(), "day" | "method")).collect());
    match asked_of(&here, &typed).await? {
        Ok(asked) => page(&view(&here, &asked, &Fields::default(), Vec::new()).await?),
        Err(remark) => Err(Trouble::NotThere(remark.says)),
    }
}

async fn pack(here: Here, Sealed(typed): Sealed) -> Answer {
    let mut asked = match asked_of(&here, &typed).await? {
        Ok(asked) => asked,
        Err(remark) => return Err(Trouble::NotThere(remark.says)),
    };
    match kept(&here, &mut asked, &typed).await? {
        remarks if remarks.is_empty() => {
            onward(&if asked.day == here.zone().day(here.now) { "/pickup".to_owned() } else { format!("/pickup/pack?day={}", asked.day) })
        }
        remarks => again(&view(&here, &asked, &typed, remarks).await?),
    }
}

/// Keeps the packing, all of it or nothing; what stands against it otherwise.
async fn kept(here: &Here, asked: &mut Asked, typed: &Fields) -> Result<Vec<Remark>, Trouble> {
    let mut tx = here.app.ledger.begin().await?;
    if records::by_entry(&mut tx, kind_of("packings")?, typed.get("entry")).await?.is_some() {
        return Ok(Vec::new());
    }
    if let Some((_, list)) = packing::of_day(&mut tx, asked.day).await? {
        return Ok(vec![Remark::fault("day", format!("{} Look at it below; nothing was packed twice.", packed_said(here, &list)))]);
    }
    let by_sum = planned(&mut tx, here, asked).await?;
    let remarks = read_changes(here, &by_sum, asked, typed);
    if !remarks.is_empty() {
        return Ok(remarks);
    }
    let Planned { households, plan, fridge } =
        if asked.changed.is_empty() { by_sum } else { as_changed(planned(&mut tx, here, asked).await?, &by_sum) };
    if !plan.too_many.is_empty() {
        return Ok(plan.too_many.iter().map(|says| Remark::fault("jars", says)).collect());
    }
    let large = plan.crates.iter().filter(|own| own.portion.jars > MOST).map(|own| too_large(&households[own.household], own.portion.jars));
    let large: Vec<Remark> = large.collect();
    if !large.is_empty() {
        return Ok(large);
    }
    if plan.crates.is_empty() {
        return Ok(vec![Remark::fault("day", "There is nobody to pack for on this day.")]);
    }
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    let written = write(&mut tx, here, asked, typed, (&households, &plan, &fridge), &act).await?;
    if written.is_empty() {
        tx.commit().await?;
    }
    Ok(written)
}

/// The most half-gallons one crate is written down with.
const MOST: i64 = 99;

fn too_large(household: &Household, jars: i64) -> Remark {
    let Household { label, called, .. } = household;
    let says = format!(
        "{called} would get {jars}, and no more than {MOST} are written in one crate. Write {MOST} here, say why, and hand out the rest in the form for one hand-out."
    );
    Remark::fault(&format!("jars.{label}"), says)
}

/// A plan with the owner's changes: what was fair to everybody stays what it was before she changed anything.
fn as_changed(mut changed: Planned, by_sum: &Planned) -> Planned {
    for own in &mut changed.plan.crates {
        if let Some(before) = by_sum.plan.crates.iter().find(|before| before.household == own.household) {
            own.by_sum = before.by_sum;
            own.portion.fair = before.portion.fair;
        }
    }
    changed
}

/// Reads what was changed by hand; once anything is, what stands on the page for everybody is what is kept for them. The sums
/// that stood on the page must still be the sums, so that nobody keeps what they did not see.
fn read_changes(here: &Here, planned: &Planned, asked: &mut Asked, typed: &Fields) -> Vec<Remark> {
    let mut remarks = Vec::new();
    let (mut stale, mut differs) = (false, false);
    for own in &planned.plan.crates {
        let label = &planned.households[own.household].label;
        let (field, seen) = (format!("jars.{label}"), typed.get(&format!("sum.{label}")));
        stale |= seen != own.by_sum.to_string();
        match typed.get(&field).trim().parse::<i64>() {
            Ok(jars) if jars == own.by_sum || (0..=MOST).contains(&jars) => {
                differs |= jars != own.by_sum;
                asked.changed.insert(label.clone(), jars);
            }
            _ => remarks.push(Remark::fault(&field, "How many half-gallons? Write a whole number, and 0 for none.")),
        }
    }
    if stale {
        asked.changed.clear();
        return vec![Remark::fault(
            "jars",
            "What is on the shelf, or who comes, changed since this page was opened. Look at the sums again.",
        )];
    }
    if !differs {
        asked.changed.clear();
    }
    if differs && !here.visitor.is_owner() {
        remarks.push(Remark::fault("jars", "Only the owner gives more or less than the sum. Pack it as it stands, or ask her."));
    }
    if differs && typed.get("reason").trim().is_empty() {
        remarks.push(Remark::fault("reason", "Why does it differ from the sum? The household may ask."));
    }
    remarks
}

/// Writes the packing, its portions and its crates.
async fn write(
    db: &mut SqliteConnection,
    here: &Here,
    asked: &Asked,
    typed: &Fields,
    (households, plan, fridge): (&[Household], &Plan, &Fridge),
    act: &records::Act,
) -> Result<Vec<Remark>, Trouble> {
    let entry = typed.get("entry");
    let line = Fields::default()
        .with("day", asked.day.to_string())
        .with("at", here.zone().for_file(here.now))
        .with("method", asked.method.to_string())
        .with("ready", plan.ready.to_string());
    let cells = match read(kind_of("packings")?, |column| line.get(column).to_owned(), here.farm.ways) {
        Ok(cells) => cells,
        Err(remarks) => return Ok(remarks),
    };
    let number = match records::keep(&mut *db, kind_of("packings")?, entry, cells, act).await {
        Ok(kept) => kept.number,
        Err(refusal) => return remarks_of(refusal),
    };
    let (mut portions, mut crates) = (Vec::new(), Vec::new());
    for own in &plan.crates {
        let household = &households[own.household];
        let reason = if own.portion.jars == own.by_sum { "" } else { typed.get("reason").trim() };
        let mark = |what: &str| secret::entry_within(&format!("{entry}/{what}/{}", household.label), 0);
        portions.push((mark("portion"), portion_cells(kind_of("portions")?, number, own, reason, here)?));
        for (lot, jars) in &own.lots {
            let lot_number = fridge.number_of(lot);
            crates.push((mark(lot), vec![Cell::To(number), Cell::To(own.portion.person), Cell::To(lot_number), Cell::Whole(*jars)]));
        }
    }
    for (kind, rows) in [("portions", portions), ("crates", crates)] {
        if let Err(refusal) = records::keep_all(&mut *db, kind_of(kind)?, rows, act).await {
            return remarks_of(refusal);
        }
    }
    Ok(Vec::new())
}

/// The cells of a portion.
fn portion_cells(kind: &Kind, packing: i64, own: &Crate, reason: &str, here: &Here) -> Result<Vec<Cell>, Trouble> {
    let figures = [("promised", own.portion.promised), ("fair", own.portion.fair), ("carried", own.portion.carried)];
    let typed = |column: &str| match column {
        "packing" => packing.to_string(),
        "person" => own.portion.person.to_string(),
        "jars" => own.portion.jars.to_string(),
        "reason" => reason.to_owned(),
        column => figures.iter().find(|(name, _)| *name == column).map(|(_, figure)| figure.to_string()).unwrap_or_default(),
    };
    let mut cells = read(kind, typed, here.farm.ways).map_err(|remarks| Trouble::Ours(format!("{remarks:?}")))?;
    cells[0] = Cell::To(packing);
    cells[1] = Cell::To(own.portion.person);
    Ok(cells)
}

/// Takes a packing back while nobody has theirs of it.
async fn unpack(here: Here, Sealed(typed): Sealed) -> Answer {
    let day = parse_day(typed.get("day")).map_err(|fault| Trouble::NotThere(fault.to_string()))?;
    let back = format!("/pickup/pack?day={day}");
    let mut tx = here.app.ledger.begin().await?;
    let Some((number, _)) = packing::of_day(&mut tx, day).await? else { return onward(&back) };
    if let Some(label) = packing::has_theirs(&mut tx, day, here.zone()).await? {
        return Err(Trouble::NotThere(stands(&label)));
    }
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    for (name, number) in packing::records_of(&mut tx, number).await? {
        let kind = kind_of(name)?;
        let Some(record) = records::find(&mut tx, kind, number).await? else { continue };
        if let Err(refusal) = corrections::strike(&mut tx, kind, &record, "unpacked", &act).await {
            return Err(Trouble::Ours(format!("{:?}", remarks_of(refusal)?)));
        }
    }
    tx.commit().await?;
    onward(&back)
}

async fn sheet_of(here: &Here, asked: &[(String, String)], form: sheets::Form) -> Answer {
    let typed = Fields(asked.to_vec());
    let mut db = here.app.ledger.read().await?;
    // Without a day it is the newest list there is.
    let newest = packing::days(&mut db, 1).await?.first().copied().unwrap_or_else(|| here.zone().day(here.now));
    let day = if typed.get("day").is_empty() { Ok(newest) } else { parse_day(typed.get("day")) };
    let day = day.map_err(|fault| Trouble::NotThere(fault.to_string()))?;
    let found = packing::of_day(&mut db, day).await?;
    drop(db);
    let Some((_, list)) = found else {
        return Err(Trouble::NotThere(format!("{} is not packed yet. Pack it first: the list follows from it.", day_shown(day))));
    };
    sheets::answer(
        here,
        "Pickup",
        list.sheet(here.zone(), here.visitor.is_owner()),
        form,
        "/pickup/list",
        &format!("day={day}"),
        String::new(),
    )
    .await
}

async fn list(here: Here, Query(asked): Query<Vec<(String, String)>>) -> Answer {
    sheet_of(&here, &asked, sheets::Form::Page).await
}

async fn list_pdf(here: Here, Query(asked): Query<Vec<(String, String)>>) -> Answer {
    sheet_of(&here, &asked, sheets::Form::Pdf).await
}

async fn list_csv(here: Here, Query(asked): Query<Vec<(String, String)>>) -> Answer {
    sheet_of(&here, &asked, sheets::Form::Csv).await
}

async fn list_json(here: Here, Query(asked): Query<Vec<(String, String)>>) -> Answer {
    sheet_of(&here, &asked, sheets::Form::Json).await
}
