//! What a pass opens: the binder of its days in every form, and the sheets of the lots in it. Everything is written down before it is
//! answered, so nothing can be looked at unseen.

use crate::{
    pages::{
        App, Here, OwnFrame, PASS,
        bound::{self, Wanted, folder},
        lotpaper,
        sheets::{Form, as_paper, form_of},
        tries::address_of,
    },
    store::{binder, lots, passes},
    trade::{
        binder::{Binder, Leads, Names},
        codes::LotCode,
        figures::{Holds, Part, Sheet},
        passes::{LEFT, Pass, asked_for},
        picture::Mark,
        short,
        when::{Zone, day_shown},
    },
    web::{
        answer::{Answer, Trouble, onward, page},
        form::Sealed,
        rooms::Rooms,
        secret,
        visitor::{Who, cookie, set_cookie},
    },
};
use askama::Template;
use axum::{
    extract::{FromRequestParts, Path},
    http::{HeaderMap, Uri, request::Parts},
    response::{IntoResponse, Response},
};
use sqlx::SqliteConnection;

/// The doors of this file.
pub(super) fn rooms() -> Rooms<App> {
    Rooms::new()
        .look("/pass/binder", Who::Inspector, shown)
        .look("/pass/binder.pdf", Who::Inspector, shown)
        .look("/pass/binder.csv", Who::Inspector, shown)
        .look("/pass/binder.json", Who::Inspector, shown)
        .look("/pass/binder.zip", Who::Inspector, packed)
        .look("/pass/lots/{code}", Who::Inspector, lot)
        .send("/pass/leave", Who::Inspector, leave)
}

/// Somebody who came in with a pass. Whatever they ask for is written down as this is made, which is before any page is.
struct Inspector {
    here: Here,
    pass: Pass,
    /// The lot asked for, if one was and the pass shows it.
    lot: Option<lots::Lot>,
}

impl FromRequestParts<App> for Inspector {
    type Rejection = Response;

    async fn from_request_parts(parts: &mut Parts, app: &App) -> Result<Inspector, Response> {
        let here = Here::from_request_parts(parts, app).await?;
        let lot = Path::<String>::from_request_parts(parts, app).await.ok().map(|Path(lot)| lot);
        let address = address_of(&parts.extensions);
        noted(here, parts.uri.path(), lot.as_deref(), &address).await.map_err(IntoResponse::into_response)
    }
}

/// Finds the pass of a visit and writes down what is asked for with it.
async fn noted(here: Here, path: &str, asked: Option<&str>, address: &str) -> Result<Inspector, Trouble> {
    let number = here.visitor.pass.ok_or(Trouble::AnInspectors)?;
    let mut tx = here.app.ledger.begin().await?;
    let pass = passes::one(&mut tx, number).await?.ok_or(Trouble::PassOver)?;
    let lot = match asked {
        Some(typed) => on_the_pass(&mut tx, &pass, here.zone(), typed).await?,
        None => None,
    };
    let what = asked.map_or_else(|| what(path), |typed| asked_for(typed, lot.is_some()));
    passes::viewed(&mut tx, number, here.now, &what, address).await?;
    tx.commit().await?;
    Ok(Inspector { here, pass, lot })
}

/// A lot of the days the pass shows. One outside them is none.
async fn on_the_pass(db: &mut SqliteConnection, pass: &Pass, zone: Zone, typed: &str) -> Result<Option<lots::Lot>, Trouble> {
    let Ok(code) = LotCode::parse(form_of(typed).0) else { return Ok(None) };
    Ok(lots::find(db, code.as_str()).await?.filter(|lot| pass.shows(zone.day(lot.filled))))
}

/// What an address shows, in words.
fn what(path: &str) -> String {
    match path {
        "/pass/binder" => "the binder".to_owned(),
        "/pass/binder.zip" => "the folder".to_owned(),
        "/pass/leave" => LEFT.to_owned(),
        // An address that is no text names no lot.
        _ => path.strip_prefix("/pass/lots/").map_or_else(
            || format!("the binder as {}", path.rsplit('.').next().unwrap_or_default().to_uppercase()),
            |raw| asked_for(raw, false),
        ),
    }
}

/// A sheet in the frame of a pass.
#[derive(Template)]
#[template(path = "pass/sheet.html")]
struct Shown {
    frame: OwnFrame,
    sheet: Sheet,
    address: String,
    /// The last day of the pass, in words.
    last_day: String,
    is_binder: bool,
}

impl Inspector {
    async fn binder(&self, leads: Leads) -> Result<Binder, Trouble> {
        let wanted = Wanted { span: self.pass.span, who: format!("a pass for {}", self.pass.for_whom), leads, names: self.pass.names };
        bound::gather(&mut *self.here.app.ledger.read().await?, &self.here.farm, &wanted, self.here.now).await
    }

    async fn answer(&self, sheet: Sheet, form: Form, address: &str) -> Answer {
        if form != Form::Page {
            return as_paper(sheet, form, self.here.zone().in_full(self.here.now)).await;
        }
        let frame = OwnFrame::of_pass(&self.here, sheet.title.clone());
        let is_binder = address == "/pass/binder";
        page(&Shown { frame, sheet, address: address.to_owned(), last_day: day_shown(self.pass.last_day), is_binder })
    }

    /// What is taken out of a sheet that is read with this pass.
    async fn names(&self) -> Result<Names, Trouble> {
        if self.pass.names {
            return Ok(Names::On);
        }
        let (names, ways) = binder::names(&mut *self.here.app.ledger.read().await?).await?;
        Ok(Names::off(&names, &ways, &self.here.farm.name))
    }
}

async fn shown(inspector: Inspector, uri: Uri) -> Answer {
    let sheet = inspector.binder(Leads::Pass).await?.sheet();
    inspector.answer(sheet, form_of(uri.path()).1, "/pass/binder").await
}

async fn packed(inspector: Inspector) -> Answer {
    let binder = inspector.binder(Leads::Nowhere).await?;
    let papers = folder::papers(&mut *inspector.here.app.ledger.read().await?, &binder).await?;
    folder::packed(&binder, papers).await
}

async fn lot(inspector: Inspector, Path(typed): Path<String>) -> Answer {
    let (code, form) = form_of(&typed);
    let not_shown = || Trouble::NotShown(format!("No lot of the days on this pass is called {}.", short(code)));
    let lot = inspector.lot.as_ref().ok_or_else(not_shown)?;
    let (own, _) = lotpaper::gather(&inspector.here, lot).await?;
    let sheet = inspector.names().await?.out_of_sheet(own.sheet());
    inspector.answer(sheet, form, &format!("/pass/lots/{}", lot.code)).await
}

/// Ends the visit, and not only its cookie.
async fn leave(inspector: Inspector, headers: HeaderMap, Sealed(_): Sealed) -> Answer {
    let here = inspector.here;
    if let Some(token) = cookie(&headers, PASS) {
        let mut tx = here.app.ledger.begin().await?;
        passes::end_visit(&mut tx, &secret::remembered(&token)).await?;
        tx.commit().await?;
    }
    let mut response = onward("/pass")?;
    set_cookie(&mut response, PASS, "", 0, here.app.secure);
    Ok(response)
}
