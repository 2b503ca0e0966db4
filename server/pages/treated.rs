//! A treated cow milked into the can. Two taps hold her, the vessel and every lot filled from it since its last clean break, before
//! anything is asked; then which dose, who milked, what became of her band. What went out is called back; what stays is thrown out
//! and counted, on the discard sheet.

mod story;

use super::{App, Frame, Here, discards, field::Field, kind_of, remarks_of, sheets};
use crate::{
    store::{herd, records, treated},
    trade::{
        figures::Sheet,
        records::{Remark, read},
        treated_sheet::TreatedSheet,
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
        .look("/bad-day/treated-cow", Who::Farm, new)
        .send("/bad-day/treated-cow", Who::Farm, hold)
        .look("/bad-day/treated-cow/{hold}", Who::Farm, show)
        .send("/bad-day/treated-cow/{hold}/story", Who::Farm, story::tell)
        .send("/bad-day/treated-cow/{hold}/thrown-out", Who::Farm, throw_out)
}

#[derive(Template)]
#[template(path = "treated/new.html")]
struct New {
    frame: Frame,
    entry: String,
    remarks: Vec<Remark>,
    cows: Vec<(String, bool)>,
    milkings: Vec<(treated::Recent, bool)>,
    vessels: Vec<(String, bool)>,
    earlier: Vec<(i64, String, String)>,
}

impl New {
    fn on<'a>(&'a self, field: &'a str) -> impl Iterator<Item = &'a Remark> {
        self.remarks.iter().filter(move |own| own.field == field)
    }
}

async fn view(here: &Here, typed: &Fields, remarks: Vec<Remark>) -> Result<New, Trouble> {
    let mut db = here.app.ledger.read().await?;
    let milkings = treated::milkings(&mut db, here.now).await?;
    let cows = records::keys(&mut db, kind_of("cows")?).await?;
    let vessels = records::keys(&mut db, kind_of("vessels")?).await?;
    let earlier = treated::newest(&mut db, 10).await?;
    drop(db);
    let is = |name: &str, value: &str| typed.all(name).any(|own| own == value);
    Ok(New {
        frame: Frame::of(here, "Stop milk", "A treated cow in the can").await?,
        entry: typed.entry(),
        cows: cows.into_iter().map(|(_, name)| (name.clone(), is("cow", &name))).collect(),
        milkings: milkings.into_iter().map(|own| (own.clone(), is("milking", &own.session))).collect(),
        vessels: vessels.into_iter().map(|(_, name)| (name.clone(), is("vessel", &name))).collect(),
        earlier: earlier.into_iter().map(|(number, cow, at)| (number, cow, here.zone().shown(at))).collect(),
        remarks,
    })
}

async fn new(here: Here) -> Answer {
    page(&view(&here, &Fields::default(), Vec::new()).await?)
}

async fn hold(here: Here, Sealed(typed): Sealed) -> Answer {
    match held(&here, &typed).await? {
        Ok(number) => onward(&format!("/bad-day/treated-cow/{number}")),
        Err(remarks) => again(&view(&here, &typed, remarks).await?),
    }
}

/// What must be tapped before anything can be held.
fn untold(typed: &Fields) -> Vec<Remark> {
    let mut remarks = Vec::new();
    if typed.get("cow").is_empty() {
        remarks.push(Remark::fault("cow", "Tap the cow."));
    }
    if typed.all("milking").next().is_none() && typed.all("vessel").next().is_none() {
        let says = "Tap the milking, or the vessel her milk is in if that milking is not written down yet.";
        remarks.push(Remark::fault("milking", says));
    }
    remarks
}

/// Holds the cow, the vessels and the lots in one act; the same form sent twice holds once.
async fn held(here: &Here, typed: &Fields) -> Result<Result<i64, Vec<Remark>>, Trouble> {
    let kind = kind_of("holds")?;
    let mut tx = here.app.ledger.begin().await?;
    if let Some(earlier) = records::by_entry(&mut tx, kind, &secret::entry_within(typed.get("entry"), 0)).await? {
        return Ok(Ok(earlier.number));
    }
    let remarks = untold(typed);
    if !remarks.is_empty() {
        return Ok(Err(remarks));
    }
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    let (mut first, lines) = (None, lines(&mut tx, here, typed).await?);
    for (nth, line) in lines.into_iter().enumerate() {
        let cells = match read(kind, |column| line.get(column).to_owned(), here.farm.ways) {
            Ok(cells) => cells,
            Err(remarks) => return Ok(Err(remarks)),
        };
        match records::keep(&mut tx, kind, &secret::entry_within(typed.get("entry"), nth), cells, &act).await {
            Ok(kept) => first = first.or(Some(kept.number)),
            Err(refusal) => return Ok(Err(remarks_of(refusal)?)),
        }
    }
    tx.commit().await?;
    first.map(Ok).ok_or(Trouble::Unreadable)
}

/// The holds as the ledger keeps them: the cow first, then her vessels, then the lots.
async fn lines(db: &mut SqliteConnection, here: &Here, typed: &Fields) -> Result<Vec<Fields>, Trouble> {
    let cow = typed.get("cow");
    let sessions: Vec<String> = typed.all("milking").map(str::to_owned).collect();
    let mut vessels = treated::vessels(&mut *db, cow, &sessions).await?;
    let tapped: Vec<String> = typed.all("vessel").map(str::to_owned).collect();
    let lots = treated::lots(db, &sessions, &vessels, &tapped, here.now).await?;
    vessels.extend(tapped);
    vessels.sort();
    vessels.dedup();
    let when = if sessions.is_empty() { "a milking not written down yet".to_owned() } else { sessions.join(", ") };
    let line = |scope: &str, what: &str, reason: String| {
        let reason: String = reason.chars().take(200).collect();
        Fields::default().with("at", here.zone().for_file(here.now)).with("scope", scope).with(scope, what).with("reason", reason)
    };
    let mut lines = vec![line("cow", cow, format!("Treated, and milked into the can: {when}."))];
    lines.extend(vessels.iter().map(|own| line("vessel", own, format!("Milk of {cow}, treated, went into it: {when}."))));
    // A lot that is held for another reason is held for this one too: lifting the other must not free it.
    lines.extend(lots.iter().map(|own| {
        let why = if own.certain { "Milk of the same milking" } else { "Same vessel, and no clean break between" };
        line("lot", &own.code, format!("{why}: {cow}, treated, milked into the can, {when}."))
    }));
    Ok(lines)
}

fn gone(number: &str) -> Trouble {
    Trouble::NotThere(format!("There is no hold on a cow with the number {}.", crate::trade::short(number)))
}

async fn found(db: &mut SqliteConnection, number: &str) -> Result<treated::Held, Trouble> {
    let own = number.parse().map_err(|_| gone(number))?;
    treated::find(db, own).await?.ok_or_else(|| gone(number))
}

/// What stands above the discard sheet: what went out, what is asked, and what goes.
#[derive(Template)]
#[template(path = "treated/above.html")]
struct Above {
    frame: Frame,
    entry: String,
    number: i64,
    cow: String,
    vessels: Vec<String>,
    remarks: Vec<Remark>,
    out: Vec<String>,
    story: Vec<Field>,
    has_dose: bool,
    going: Vec<discards::Going>,
    jars_remark: String,
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
    sheets::answer(&here, "Jars", sheet, form, &format!("/bad-day/treated-cow/{number}"), "", above).await
}

/// The doses of the cow in the 60 days before, the latest first.
async fn doses(db: &mut SqliteConnection, own: &treated::Held) -> Result<Vec<herd::Past>, Trouble> {
    let since = own.at.plus_hours(-60 * 24);
    Ok(herd::treatments(db, own.cow_number)
        .await?
        .into_iter()
        .filter(|dose| dose.at >= since && dose.at <= own.at.plus_hours(24))
        .collect())
}

async fn sheet(db: &mut SqliteConnection, here: &Here, own: &treated::Held) -> Result<Sheet, Trouble> {
    let doses = doses(&mut *db, own).await?;
    Ok(TreatedSheet {
        number: own.number,
        farm: here.farm.name.clone(),
        cow: own.cow.clone(),
        at: own.at,
        who: own.who.clone(),
        happened: own.reason.clone(),
        vessels: own.vessels.iter().map(|(_, vessel, says)| (vessel.clone(), says.clone())).collect(),
        doses: doses.into_iter().map(|dose| (dose.at, dose.what, dose.more)).collect(),
        loss: discards::loss(db, here, &own.lots, own.at).await?,
        now: here.now,
        zone: here.zone(),
    }
    .sheet())
}

async fn above(here: &Here, own: &treated::Held, typed: &Fields, remarks: Vec<Remark>) -> Result<String, Trouble> {
    let mut db = here.app.ledger.read().await?;
    let (out, doses) = (treated::went_out(&mut db, &own.lots).await?, doses(&mut db, own).await?);
    let going = discards::going(&mut db, &own.lots, typed, &remarks).await?;
    drop(db);
    let view = Above {
        frame: Frame::of(here, "Jars", "").await?,
        entry: typed.entry(),
        number: own.number,
        cow: own.cow.clone(),
        vessels: own.vessels.iter().map(|(_, vessel, _)| vessel.clone()).collect(),
        out,
        story: story::fields(here, &doses, typed, &remarks),
        has_dose: !doses.is_empty(),
        going,
        jars_remark: remarks.iter().filter(|own| own.field == "jars").map(|own| own.says.clone()).collect(),
        remarks,
    };
    view.render().map_err(|error| Trouble::Ours(error.to_string()))
}

/// The page once more, with what was typed and what there is to say.
async fn once_more(here: &Here, own: &treated::Held, typed: &Fields, remarks: Vec<Remark>) -> Answer {
    let above = above(here, own, typed, remarks).await?;
    let sheet = sheet(&mut *here.app.ledger.read().await?, here, own).await?;
    let address = format!("/bad-day/treated-cow/{}", own.number);
    let mut answer = sheets::answer(here, "Jars", sheet, sheets::Form::Page, &address, "", above).await?;
    *answer.status_mut() = axum::http::StatusCode::UNPROCESSABLE_ENTITY;
    Ok(answer)
}

async fn throw_out(here: Here, Path(number): Path<String>, Sealed(typed): Sealed) -> Answer {
    let own = found(&mut *here.app.ledger.read().await?, &number).await?;
    let reason = format!("Milk of {}, treated, in the can; held {}", own.cow, here.zone().in_full(own.at));
    let remarks = discards::keep(&here, &own.lots, &typed, &reason).await?;
    if remarks.is_empty() { onward(&format!("/bad-day/treated-cow/{number}")) } else { once_more(&here, &own, &typed, remarks).await }
}
