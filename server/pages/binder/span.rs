//! The binder of a span: as a page, in every form of a paper, and as a folder.

use crate::{
    pages::{
        App, Frame, Here,
        bound::{self, Wanted, folder},
        field::Field,
        sheets::{self, Form, form_of},
    },
    store::farm,
    trade::{
        binder::{Binder, Leads},
        records::{Remark, Shape},
        wear::Span,
    },
    web::{
        answer::{Answer, Trouble, again},
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
    days: Vec<Field>,
    names: bool,
    /// What is asked of its other forms, and how many gaps it has; nothing where no binder could be made.
    made: Option<(String, usize)>,
}

impl Above {
    fn drawn(typed: &Fields, remarks: &[Remark], made: Option<(String, usize)>) -> Result<String, Trouble> {
        let day = |name: &str, label: &str| Field::named(name, label, Shape::Day, typed, remarks);
        let above = Above { days: vec![day("from", "From"), day("to", "To")], names: typed.get("names") == "yes", made };
        above.render().map_err(|error| Trouble::Ours(error.to_string()))
    }
}

/// The days again, where they were none a binder can be made of.
#[derive(Template)]
#[template(path = "binder/again.html")]
struct Again {
    frame: Frame,
    above: String,
}

/// What was asked for, from the address.
struct Asked {
    span: Span,
    names: bool,
}

impl Asked {
    async fn of(here: &Here, typed: &Fields) -> Result<Result<Asked, Vec<Remark>>, Trouble> {
        let usual = bound::usual(farm::since(&mut *here.app.ledger.read().await?).await?, here.zone().day(here.now));
        let span = bound::typed(typed, usual, here.zone().day(here.latest()));
        Ok(span.map(|span| Asked { span, names: typed.get("names") == "yes" }))
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
    let (typed, form) = (Fields(typed), form_of(uri.path()).1);
    let asked = match Asked::of(&here, &typed).await? {
        Ok(asked) => asked,
        Err(remarks) if form == Form::Page => return refused(&here, &typed, &remarks).await,
        Err(remarks) => return Err(no_file(&remarks)),
    };
    let binder = asked.gathered(&here, Leads::Farm).await?;
    let typed = typed.with("from", asked.span.from.to_string()).with("to", asked.span.to.to_string());
    let above = if form == Form::Page { Above::drawn(&typed, &[], Some((asked.query(), binder.gaps.len())))? } else { String::new() };
    sheets::answer(&here, "Binder", binder.sheet(), form, ADDRESS, &asked.query(), above).await
}

/// The form again, with what was typed and what is wrong with it.
async fn refused(here: &Here, typed: &Fields, remarks: &[Remark]) -> Answer {
    let above = Above::drawn(typed, remarks, None)?;
    again(&Again { frame: Frame::of(here, "Binder", "Binder for the inspector").await?, above })
}

/// A file has no form to go back to.
fn no_file(remarks: &[Remark]) -> Trouble {
    Trouble::NoSuchDays(remarks.iter().map(|remark| remark.says.as_str()).collect::<Vec<_>>().join(" "))
}

async fn pack(here: Here, Query(typed): Query<Vec<(String, String)>>) -> Answer {
    let asked = Asked::of(&here, &Fields(typed)).await?.map_err(|remarks| no_file(&remarks))?;
    let binder = asked.gathered(&here, Leads::Nowhere).await?;
    let papers = folder::papers(&mut *here.app.ledger.read().await?, &binder).await?;
    folder::packed(&binder, papers).await
}
