//! A fridge found warm: which one, when it was last known cold, when it was found, the warmest jar, and the lots in it. It is kept at
//! once, so that every one of them says so from that moment; what was not known then is filled in on its own page, which is the
//! loss sheet.

mod filling_in;
mod short_week;

use super::{App, Frame, Here, discards, field::Field, kind_of, remarks_of, sheets};
use crate::{
    store::{calendar, farm, lots, records, warm},
    trade::{
        figures::Sheet,
        kinds::Kind,
        measure::Temperature,
        records::{Cell, Remark, read},
        slips,
        warm_sheet::WarmSheet,
        when::Zone,
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
use axum::extract::Path;
use sqlx::SqliteConnection;

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new()
        .look("/bad-day/fridge", Who::Farm, new)
        .send("/bad-day/fridge", Who::Farm, create)
        .look("/bad-day/fridge/{number}", Who::Farm, show)
        .send("/bad-day/fridge/{number}/known", Who::Farm, filling_in::fill_in)
        .send("/bad-day/fridge/{number}/thrown-out", Who::Farm, throw_out)
}

/// At this or below a jar is cold, and a fridge of which it is the warmest was hardly found warm.
const COLD: Temperature = Temperature::fahrenheit(40);

#[derive(Template)]
#[template(path = "warm/new.html")]
struct New {
    frame: Frame,
    entry: String,
    remarks: Vec<Remark>,
    fields: Vec<Field>,
    fridges: Vec<String>,
    thermometers: Vec<String>,
    lots: Vec<(String, String, String, bool)>,
    lots_remark: String,
    earlier: Vec<(i64, String, String)>,
}

/// The fields in the order in which they matter. Times and temperature are what somebody saw, and begin empty but for the hour it
/// was found, which is now unless it is put back.
fn fields(here: &Here, typed: &Fields, remarks: &[Remark]) -> Result<Vec<Field>, Trouble> {
    let hints = [
        ("fridge", "The name it goes by, like Kitchen fridge"),
        ("last_cold", "When somebody last saw it cold. Leave it empty if nobody knows."),
        ("found", ""),
        ("warmest", "The warmest JAR, not the air: hold the thermometer in its milk. It may be filled in later."),
        ("thermometer", ""),
        ("note", ""),
    ];
    let kind = kind_of("warm_fridges")?;
    let field = |(name, hint): &(&str, &str)| {
        let column = kind.columns.iter().find(|column| column.name == *name)?;
        let own = Field::of(column, typed, remarks).hinted(*hint);
        Some(if *name == "warmest" { own.in_unit(here.farm.ways.scale.to_string()) } else { own })
    };
    Ok(hints.iter().filter_map(field).collect())
}

async fn view(here: &Here, typed: &Fields, remarks: Vec<Remark>) -> Result<New, Trouble> {
    let mut db = here.app.ledger.read().await?;
    let on_hand = lots::on_hand(&mut db, here.now).await?;
    let (fridges, in_use) = (warm::names(&mut db).await?, calendar::thermometers(&mut db, here.now).await?);
    let numbers = warm::newest(&mut db, 10).await?;
    let earlier = warm::list(&mut db, &numbers).await?;
    drop(db);
    let opened = typed.get("entry").is_empty();
    let typed = if opened { Fields::default().with("found", here.zone().for_field(here.now)) } else { typed.clone() };
    let line = |own: lots::OnHand| {
        let is_ticked = opened || typed.all("lot").any(|code| code == own.lot.code);
        (own.lot.code, here.zone().shown(own.lot.filled), own.by_the_book.to_string(), is_ticked)
    };
    Ok(New {
        frame: Frame::of(here, "Jars", "A fridge was found warm").await?,
        entry: typed.entry(),
        fields: fields(here, &typed, &remarks)?,
        fridges,
        thermometers: in_use.into_iter().map(|own| own.name).collect(),
        lots: on_hand.into_iter().map(line).collect(),
        lots_remark: remarks.iter().filter(|own| own.field == "lot").map(|own| own.says.clone()).collect::<Vec<_>>().join(" "),
        earlier: earlier.iter().map(|own| (own.fridge.number, own.fridge.fridge.clone(), here.zone().shown(own.fridge.found))).collect(),
        remarks,
    })
}

async fn new(here: Here) -> Answer {
    page(&view(&here, &Fields::default(), Vec::new()).await?)
}

async fn create(here: Here, Sealed(typed): Sealed) -> Answer {
    match kept(&here, &typed).await? {
        Ok(number) => onward(&format!("/bad-day/fridge/{number}")),
        Err(remarks) => again(&view(&here, &typed, remarks).await?),
    }
}

/// Keeps the fridge and every ticked lot in one act; the same form sent twice keeps one.
async fn kept(here: &Here, typed: &Fields) -> Result<Result<i64, Vec<Remark>>, Trouble> {
    let (kind, warmed) = (kind_of("warm_fridges")?, kind_of("warmed")?);
    let mut tx = here.app.ledger.begin().await?;
    if let Some(earlier) = records::by_entry(&mut tx, kind, typed.get("entry")).await? {
        return Ok(Ok(earlier.number));
    }
    let cells = match read_and_asked(here, kind, typed) {
        Ok(cells) => cells,
        Err(remarks) => return Ok(Err(remarks)),
    };
    let remarks = against_lots(&mut tx, here, typed, kind.cell(&cells, "found")).await?;
    if !remarks.is_empty() {
        return Ok(Err(remarks));
    }
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    let number = match records::keep(&mut tx, kind, typed.get("entry"), cells, &act).await {
        Ok(kept) => kept.number,
        Err(refusal) => return Ok(Err(remarks_of(refusal)?)),
    };
    for (nth, code) in typed.all("lot").enumerate() {
        let line = Fields::default().with("warm_fridge", number.to_string()).with("lot", code);
        let cells = read(warmed, |column| line.get(column).to_owned(), here.farm.ways).map_err(|_| Trouble::Unreadable)?;
        if let Err(refusal) = records::keep(&mut tx, warmed, &secret::entry_within(typed.get("entry"), nth), cells, &act).await {
            return Ok(Err(remarks_of(refusal)?));
        }
    }
    tx.commit().await?;
    Ok(Ok(number))
}

/// The cells of the fridge, or everything there is to say and nobody has answered.
fn read_and_asked(here: &Here, kind: &'static Kind, typed: &Fields) -> Result<Vec<Cell>, Vec<Remark>> {
    let cells = read(kind, |column| typed.get(column).to_owned(), here.farm.ways)?;
    let mut remarks = slips::remarks(kind, &cells, here.farm.ways, here.latest());
    remarks.extend(ask_cold(here, kind, &cells, &remarks));
    let remarks = slips::unanswered(remarks, |field| typed.is_sure(field));
    if remarks.is_empty() { Ok(cells) } else { Err(remarks) }
}

/// Asks about a warmest jar that is cold, unless another question about it is asked already.
fn ask_cold(here: &Here, kind: &Kind, cells: &[Cell], asked: &[Remark]) -> Option<Remark> {
    let read = Temperature::parse(kind.cell(cells, "warmest").text(), here.farm.ways.scale).ok()?;
    let is_asked = asked.iter().any(|own| own.field == "warmest");
    let says = format!("{read} is cold. Is that the warmest jar, and not the coldest?");
    (read.exact() <= COLD.exact() && !is_asked).then(|| Remark::question("warmest", says, None))
}

/// At least one lot, and none that was filled after the fridge was found.
async fn against_lots(db: &mut SqliteConnection, here: &Here, typed: &Fields, found: &Cell) -> Result<Vec<Remark>, Trouble> {
    let mut remarks = Vec::new();
    for code in typed.all("lot") {
        match lots::find(&mut *db, code).await? {
            Some(lot) if found.moment().is_some_and(|found| lot.filled > found) => {
                let filled = here.zone().shown(lot.filled);
                remarks.push(Remark::fault(
                    "lot",
                    format!("{code} was filled {filled}, after the fridge was found. Take its tick away, or put the time right."),
                ));
            }
            Some(_) => {}
            None => remarks.push(Remark::fault("lot", format!("There is no lot {}.", crate::trade::short(code)))),
        }
    }
    if typed.all("lot").next().is_none() {
        remarks.push(Remark::fault("lot", "Tick the lots that stood in it: nothing says otherwise that they stood warm."));
    }
    Ok(remarks)
}

fn gone(number: &str) -> Trouble {
    Trouble::NotThere(format!(
        "There is no fridge found warm with the number {}: it was undone, or never written.",
        crate::trade::short(number)
    ))
}

/// Reads a fridge found warm by the number in an address.
async fn found(db: &mut SqliteConnection, number: &str) -> Result<warm::Found, Trouble> {
    let own = number.parse().map_err(|_| gone(number))?;
    warm::find(db, own).await?.ok_or_else(|| gone(number))
}

/// What stands above the loss sheet: what is missing, what goes, and the households of a short week.
#[derive(Template)]
#[template(path = "warm/above.html")]
struct Above {
    frame: Frame,
    entry: String,
    number: i64,
    remarks: Vec<Remark>,
    missing: Vec<Field>,
    going: Vec<discards::Going>,
    jars_remark: String,
    short: short_week::Short,
    called: String,
}

async fn show(here: Here, Path(last): Path<String>) -> Answer {
    let (number, form) = sheets::form_of(&last);
    let mut db = here.app.ledger.read().await?;
    let own = found(&mut db, number).await?;
    let sheet = sheet(&mut db, &here, &own).await?;
    drop(db);
    let above = match form {
        sheets::Form::Page => above(&here, &own, &Fields::default(), Vec::new()).await?,
        _ => String::new(),
    };
    sheets::answer(&here, "Jars", sheet, form, &format!("/bad-day/fridge/{number}"), "", above).await
}

async fn sheet(db: &mut SqliteConnection, here: &Here, own: &warm::Found) -> Result<Sheet, Trouble> {
    let from = own.fridge.last_cold.unwrap_or(own.fridge.found.plus_hours(-24));
    let steps = farm::rule_book(&mut *db).await?.on(here.zone().day(own.fridge.found)).base.steps;
    Ok(WarmSheet {
        farm: here.farm.name.clone(),
        rule: here.farm.house.beside(&steps),
        loss: discards::loss(&mut *db, here, &own.lots, own.fridge.found).await?,
        went: warm::went_between(db, from, own.fridge.found).await?,
        insurer: here.visitor.is_owner().then(|| here.farm.insurer.clone()),
        thermometer: own.thermometer.clone(),
        note: own.note.clone(),
        who: own.who.clone(),
        written: own.written,
        fridge: own.fridge.clone(),
        now: here.now,
        zone: here.zone(),
    }
    .sheet())
}

async fn above(here: &Here, own: &warm::Found, typed: &Fields, remarks: Vec<Remark>) -> Result<String, Trouble> {
    let mut db = here.app.ledger.read().await?;
    let going = discards::going(&mut db, &own.lots, typed, &remarks).await?;
    let short = short_week::of(&mut db, here).await?;
    let went = warm::went_between(&mut db, own.fridge.last_cold.unwrap_or(own.fridge.found.plus_hours(-24)), own.fridge.found).await?;
    drop(db);
    let codes: Vec<String> = went.into_iter().map(|(code, _)| code).collect();
    let view = Above {
        frame: Frame::of(here, "Jars", "").await?,
        entry: typed.entry(),
        number: own.fridge.number,
        missing: filling_in::missing(here, own, typed, &remarks)?,
        going,
        jars_remark: remarks.iter().filter(|own| own.field == "jars").map(|own| own.says.clone()).collect(),
        short,
        called: if here.visitor.is_owner() { codes.join(",") } else { String::new() },
        remarks,
    };
    view.render().map_err(|error| Trouble::Ours(error.to_string()))
}

/// The page once more, with what was typed and what there is to say.
async fn once_more(here: &Here, own: &warm::Found, typed: &Fields, remarks: Vec<Remark>) -> Answer {
    let above = above(here, own, typed, remarks).await?;
    let sheet = sheet(&mut *here.app.ledger.read().await?, here, own).await?;
    let mut answer =
        sheets::answer(here, "Jars", sheet, sheets::Form::Page, &format!("/bad-day/fridge/{}", own.fridge.number), "", above).await?;
    *answer.status_mut() = axum::http::StatusCode::UNPROCESSABLE_ENTITY;
    Ok(answer)
}

async fn throw_out(here: Here, Path(number): Path<String>, Sealed(typed): Sealed) -> Answer {
    let own = found(&mut *here.app.ledger.read().await?, &number).await?;
    let remarks = discards::keep(&here, &own.lots, &typed, &reason(&own, here.zone())).await?;
    if remarks.is_empty() { onward(&format!("/bad-day/fridge/{number}")) } else { once_more(&here, &own, &typed, remarks).await }
}

/// Why the jars go, as it stands beside each lot for ever.
fn reason(own: &warm::Found, zone: Zone) -> String {
    let warmest = own.fridge.warmest.map_or_else(String::new, |read| format!(", warmest jar {read}"));
    format!("{} found warm {}{warmest}", own.fridge.fridge, zone.in_full(own.fridge.found))
}
