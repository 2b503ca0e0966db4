//! A chill reading: which lot, what the jar shows, when. The temperature always starts empty, because a copied reading is
//! worse than none.

use super::{App, Frame, Here, field::Field, kind_of, remarks_of};
use crate::{
    store::{ice_checks, lots, records, verdict},
    trade::{
        chill::Reading,
        kinds::kind,
        records::{Cell, Remark, Shape, read},
        slips,
        thermometers::doubt,
        verdict::{Facts, Judging},
        when::Moment,
    },
    web::{
        answer::{Answer, Trouble, again, onward, page},
        form::{Fields, Sealed},
        rooms::Rooms,
        visitor::Who,
    },
};
use askama::Template;
use axum::extract::Query;
use std::collections::HashMap;

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new().look("/chill/new", Who::Farm, new).send("/chill", Who::Farm, create)
}

#[derive(Template)]
#[template(path = "jars/chill.html")]
struct New {
    frame: Frame,
    entry: String,
    remarks: Vec<Remark>,
    lot: Field,
    asks: Vec<(String, String)>,
    temperature: Field,
    more: Vec<Field>,
}

async fn view(here: &Here, typed: &Fields, remarks: Vec<Remark>) -> Result<New, Trouble> {
    let mut db = here.app.ledger.read().await?;
    let standing = lots::on_hand(&mut db, here.now).await?;
    let numbers: Vec<i64> = standing.iter().rev().take(6).map(|own| own.lot.number).collect();
    let facts = verdict::facts(&mut db, &numbers, here.zone(), here.now).await?;
    let mut judging = Judging::at(here.now);
    let asks = facts.iter().map(|facts| (facts.code.clone(), judging.lot(facts).next())).collect();
    let mut codes: Vec<(String, String)> = facts.iter().map(|facts| (facts.code.clone(), facts.code.clone())).collect();
    let asked = typed.get("lot").to_owned();
    if !asked.is_empty() && !codes.iter().any(|(code, _)| *code == asked) {
        codes.insert(0, (asked.clone(), asked));
    }
    let last = records::newest(&mut db, kind_of("chill")?, 1).await?;
    let thermometer = last
        .first()
        .map_or("", |reading| reading.cell(kind("chill").unwrap_or(&crate::trade::kinds::KINDS[0]), "thermometer").text())
        .to_owned();
    let checks = ice_checks(&mut db, here.now.plus_hours(-60 * 24)).await?;
    drop(db);
    let opened = typed.get("entry").is_empty();
    let mut typed = typed.clone();
    if opened {
        let newest = codes.first().map(|(code, _)| code.clone()).unwrap_or_default();
        let lot = if typed.get("lot").is_empty() { newest } else { typed.get("lot").to_owned() };
        typed = typed.with("at", here.zone().for_field(here.now)).with("thermometer", thermometer).with("lot", lot);
    }
    let doubt = doubt(&checks, typed.get("thermometer"), here.now, here.zone()).unwrap_or_default();
    let scale = here.farm.ways.scale.to_string();
    let field = |name, label, shape| Field::named(name, label, shape, &typed, &remarks);
    Ok(New {
        frame: Frame::of(here, "Jars", "Chill reading").await?,
        entry: typed.entry(),
        asks,
        lot: field("lot", "Lot", Shape::Code).choosing(codes, true),
        temperature: field("temperature", "Test jar", Shape::Heat).in_unit(scale.clone()),
        more: vec![
            field("at", "Read at", Shape::Moment),
            field("bath", "Bath", Shape::Heat).in_unit(scale).optional(true),
            field("thermometer", "Thermometer", Shape::Words(40)).optional(true).hinted(doubt),
        ],
        remarks,
    })
}

async fn new(here: Here, Query(asked): Query<HashMap<String, String>>) -> Answer {
    let typed = Fields::default().with("lot", asked.get("lot").cloned().unwrap_or_default());
    page(&view(&here, &typed, Vec::new()).await?)
}

async fn create(here: Here, Sealed(typed): Sealed) -> Answer {
    match kept(&here, &typed).await? {
        remarks if remarks.is_empty() => onward(&format!("/lots/{}", typed.get("lot"))),
        remarks => again(&view(&here, &typed, remarks).await?),
    }
}

async fn kept(here: &Here, typed: &Fields) -> Result<Vec<Remark>, Trouble> {
    let cells = match read(kind_of("chill")?, |column| typed.get(column).to_owned(), here.farm.ways) {
        Ok(cells) => cells,
        Err(remarks) => return Ok(remarks),
    };
    let mut tx = here.app.ledger.begin().await?;
    let mut remarks = slips::remarks(kind_of("chill")?, &cells, here.farm.ways, here.latest());
    if records::by_entry(&mut tx, kind_of("chill")?, typed.get("entry")).await?.is_none()
        && let Some(number) = records::number_of(&mut tx, "lots", typed.get("lot"), i64::MAX).await?
        && let Some(facts) = verdict::facts(&mut tx, &[number], here.zone(), here.now).await?.first()
    {
        remarks.extend(against(facts, &cells));
    }
    let remarks = slips::unanswered(remarks, |field| typed.is_sure(field));
    if !remarks.is_empty() {
        return Ok(remarks);
    }
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    match records::keep_typed(&mut tx, kind_of("chill")?, typed.get("entry"), cells, &act).await {
        Ok(_) => tx.commit().await.map(|()| Vec::new()).map_err(Trouble::from),
        Err(refusal) => remarks_of(refusal),
    }
}

/// What a reading looks like beside what is known of its lot.
fn against(facts: &Facts, cells: &[Cell]) -> Vec<Remark> {
    let whole = |name: &str| kind("chill").and_then(|own| own.cell(cells, name).whole());
    let (Some(at), Some(exact)) = (whole("at").map(Moment::seconds), whole("temperature")) else { return Vec::new() };
    let mut remarks = Vec::new();
    if facts.milkings.iter().map(|milking| milking.times.start).min().is_some_and(|first| at < first) {
        remarks.push(Remark::fault(
            "at",
            format!("At {} this milk was still in the cow. Look at the time, or at the lot.", facts.zone.in_full(at)),
        ));
    }
    let before: Option<&Reading> = facts.readings.iter().rfind(|reading| reading.at <= at);
    if let Some(before) = before.filter(|before| exact > before.temperature.exact() + 1_000) {
        remarks.push(Remark::question(
            "temperature",
            format!(
                "Warmer than the reading before it ({} at {}). Keep it if the jar did warm up; or read it again.",
                before.temperature,
                facts.zone.clock(before.at)
            ),
            None,
        ));
    }
    remarks
}
