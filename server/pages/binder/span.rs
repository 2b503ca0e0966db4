//! The binder of a span: as a page, in every form of a paper, and as a folder.

use crate::{
    pages::{
        App, Here,
        bound::{self, Wanted, folder},
        sheets::{self, Form, form_of},
    },
    store::farm,
    trade::{
        binder::{Binder, Leads},
        wear::Span,
    },
    web::{
        answer::{Answer, Trouble},
        form::Fields,
        rooms::Rooms,
        visitor::Who,
    },
};
use askama::Template;
use axum::{extract::Query, http::Uri};

/// Where it stands.
const ADDRESS: &str = "/binder/inspector";

/// The doors of this file.
pub(super) fn rooms() -> Rooms<App> {
    Rooms::new()
        .look(ADDRESS, Who::Owner, show)
        .look("/binder/inspector.pdf", Who::Owner, show)
        .look("/binder/inspector.csv", Who::Owner, show)
        .look("/binder/inspector.json", Who::Owner, show)
        .look("/binder/inspector.zip", Who::Owner, pack)
}

/// The days, and what else can be had, above the sheet.
#[derive(Template)]
#[template(path = "binder/above.html")]
struct Above {
    span: Span,
    names: bool,
    query: String,
    gaps: usize,
}

/// What was asked for, from the address.
struct Asked {
    span: Span,
    names: bool,
}

impl Asked {
    async fn of(here: &Here, typed: &Fields) -> Result<Asked, Trouble> {
        let usual = bound::usual(farm::since(&mut *here.app.ledger.read().await?).await?, here.zone().day(here.now));
        let span = bound::typed(typed.get("from"), typed.get("to"), usual).map_err(Trouble::NoSuchDays)?;
        Ok(Asked { span, names: typed.get("names") == "yes" })
    }

    fn query(&self) -> String {
        format!("from={}&to={}{}", self.span.from, self.span.to, if self.names { "&names=yes" } else { "" })
    }

    async fn gathered(&self, here: &Here, leads: Leads) -> Result<Binder, Trouble> {
        let wanted = Wanted { span: self.span, who: here.visitor.name.clone(), leads, names: self.names };
        bound::gather(&mut *here.app.ledger.read().await?, &here.farm, &wanted, here.now).await
    }
}

async fn show(here: Here, uri: Uri, Query(typed): Query<Vec<(String, String)>>) -> Answer {
    let asked = Asked::of(&here, &Fields(typed)).await?;
    let form = form_of(uri.path()).1;
    let binder = asked.gathered(&here, Leads::Farm).await?;
    let above = Above { span: asked.span, names: asked.names, query: asked.query(), gaps: binder.gaps.len() };
    let above = if form == Form::Page { above.render().map_err(|error| Trouble::Ours(error.to_string()))? } else { String::new() };
    sheets::answer(&here, "Binder", binder.sheet(), form, ADDRESS, &asked.query(), above).await
}

async fn pack(here: Here, Query(typed): Query<Vec<(String, String)>>) -> Answer {
    let asked = Asked::of(&here, &Fields(typed)).await?;
    let binder = asked.gathered(&here, Leads::Nowhere).await?;
    let papers = folder::papers(&mut *here.app.ledger.read().await?, &binder).await?;
    folder::packed(&binder, papers).await
}
