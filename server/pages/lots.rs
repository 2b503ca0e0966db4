//! Jars on hand, and one lot: its page, its paper, and what is decided about it or set aside of it.

mod aside;
mod decide;
mod one;

use super::{
    App, Frame, Here,
    field::Field,
    lotpaper::{self, Told},
    sheets,
};
use crate::{
    store::{Ledger, lots, verdict},
    trade::{
        codes::LotCode,
        figures::{Holds, Part, Sheet, Table},
        records::Remark,
        rests::ways_line,
        verdict::{Facts, Judging, Verdict},
        when::{Moment, Zone, day_shown},
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
use decide::Deciding;

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new()
        .look("/jars", Who::Farm, index)
        .look("/lots/{code}", Who::Farm, show)
        .send("/lots/{code}/asides", Who::Farm, set_aside)
        .send("/lots/{code}/decision", Who::Owner, decide_otherwise)
}

#[derive(Template)]
#[template(path = "jars/index.html")]
struct Index {
    frame: Frame,
    standing: Vec<Standing>,
    gone: Vec<(lots::Lot, String)>,
}

/// A lot in the fridge: its verdict, when it was filled, and what each way says where they differ.
struct Standing {
    own: lots::OnHand,
    verdict: Verdict,
    filled: String,
    ways: String,
}

async fn index(here: Here) -> Answer {
    let mut db = here.app.ledger.read().await?;
    let standing = lots::on_hand(&mut db, here.now).await?;
    let numbers: Vec<i64> = standing.iter().map(|own| own.lot.number).collect();
    let facts = verdict::facts(&mut db, &numbers, here.zone(), here.now).await?;
    let newest = lots::newest(&mut db, 40).await?;
    drop(db);
    let mut judging = Judging::at(here.now);
    let shown = |(own, facts): (lots::OnHand, &Facts)| {
        let verdict = judging.lot(facts);
        Standing { own, filled: here.zone().shown(facts.filled), ways: ways_line(facts, verdict.word(), &mut judging), verdict }
    };
    let standing = standing.into_iter().zip(&facts).map(shown).collect();
    let gone =
        newest.into_iter().filter(|lot| !numbers.contains(&lot.number)).map(|lot| (lot.clone(), here.zone().shown(lot.filled))).collect();
    page(&Index { frame: Frame::of(&here, "Jars", "Jars").await?, standing, gone })
}

/// The jars on hand as a sheet, each lot with its verdict: what hangs on the fridge door, or goes to an inspector.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn on_hand_sheet(ledger: &Ledger, zone: Zone, now: Moment) -> Result<Sheet, Box<dyn std::error::Error>> {
    let mut db = ledger.read().await?;
    let standing = lots::on_hand(&mut db, now).await?;
    let numbers: Vec<i64> = standing.iter().map(|own| own.lot.number).collect();
    let facts = verdict::facts(&mut db, &numbers, zone, now).await?;
    let columns = [
        ("Lot", Holds::Codes, 3),
        ("Verdict", Holds::Words, 3),
        ("Why", Holds::Words, 9),
        ("Left, by the book", Holds::Words, 4),
        ("Each way, where they differ", Holds::Words, 5),
        ("Filled", Holds::Words, 4),
        ("Best by", Holds::Words, 4),
    ];
    let mut table = Table::new("onhand", "Lots with jars left, oldest first", &columns);
    table.when_empty = "No lot has jars left.".to_owned();
    let mut judging = Judging::at(now);
    for (own, facts) in standing.iter().zip(&facts) {
        let verdict = judging.lot(facts);
        let best_by = facts.best_by().map_or_else(|| "not named".to_owned(), day_shown);
        table.row([
            own.lot.code.clone(),
            verdict.word().to_string(),
            verdict.reason(),
            own.by_the_book.to_string(),
            ways_line(facts, verdict.word(), &mut judging),
            zone.in_full(own.lot.filled),
            best_by,
        ]);
    }
    Ok(Sheet {
        name: "onhand".to_owned(),
        title: "Jars on hand".to_owned(),
        under: zone.in_full(now),
        facts: Vec::new(),
        parts: vec![Part::Table(table)],
    })
}

async fn found(here: &Here, typed: &str) -> Result<lots::Lot, Trouble> {
    let code = LotCode::parse(typed);
    let mut db = here.app.ledger.read().await?;
    if let Ok(code) = &code
        && let Some(lot) = lots::find(&mut db, code.as_str()).await?
    {
        return Ok(lot);
    }
    let known = lots::codes_near(&mut db, typed).await?;
    let near = crate::trade::near::unknown("lot", typed, known.iter().map(String::as_str));
    Err(Trouble::NotThere(match code {
        Ok(_) => near,
        Err(fault) => format!("{fault} {near}"),
    }))
}

/// One lot: its page, or its paper by the ending.
async fn show(here: Here, Path(typed): Path<String>) -> Answer {
    let (code, form) = sheets::form_of(&typed);
    let lot = found(&here, code).await?;
    if form == sheets::Form::Page {
        return page(&view(&here, lot, &Fields::default(), Vec::new()).await?);
    }
    let address = format!("/lots/{}", lot.code);
    let (own, _) = lotpaper::gather(&here, &lot).await?;
    sheets::answer(&here, "Jars", own.sheet(), form, &address, "", String::new()).await
}

/// The forms of a lot's page, with what was typed in one of them and what there is to say about it.
struct Forms {
    deciding: Option<Deciding>,
    aside: (Vec<Field>, Vec<Field>),
    remarks: Vec<Remark>,
    entry: String,
}

async fn view(here: &Here, lot: lots::Lot, typed: &Fields, remarks: Vec<Remark>) -> Result<one::Show, Trouble> {
    let (own, told) = lotpaper::gather(here, &lot).await?;
    let entry = Some(typed.get("entry")).filter(|entry| !entry.is_empty());
    let forms = Forms {
        deciding: decide::offered(here, &own.facts, typed, &remarks),
        aside: aside::fields(&lot, typed, &remarks),
        entry: entry.map_or_else(secret::entry, str::to_owned),
        remarks,
    };
    one::laid_out(here, lot, (own, told), forms).await
}

async fn decide_otherwise(here: Here, Path(code): Path<String>, Sealed(typed): Sealed) -> Answer {
    let lot = found(&here, &code).await?;
    let remarks = decide::kept(&here, &lot, &typed).await?;
    answered(&here, lot, &typed, remarks).await
}

async fn set_aside(here: Here, Path(code): Path<String>, Sealed(typed): Sealed) -> Answer {
    let lot = found(&here, &code).await?;
    let remarks = aside::kept(&here, &lot, &typed).await?;
    answered(&here, lot, &typed, remarks).await
}

/// Back to the lot's page: on to it when all was kept, and otherwise again with what there is to say.
async fn answered(here: &Here, lot: lots::Lot, typed: &Fields, remarks: Vec<Remark>) -> Answer {
    if remarks.is_empty() { onward(&format!("/lots/{}", lot.code)) } else { again(&view(here, lot, typed, remarks).await?) }
}
