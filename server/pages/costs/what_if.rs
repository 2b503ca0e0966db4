//! What if hay were dearer, a cow dry, a share more: worked out again, kept by a name, and compared.

use super::super::{
    App, Frame, Here,
    field::Field,
    kind_of, remarks_of,
    sheets::{self, Form},
};
use crate::{
    store::{costs, records},
    trade::{
        account::Books,
        compared::{self, Saved},
        cover,
        figures::{Holds, Part, Sheet},
        months::Asked,
        picture::Mark,
        records::{Cell, Remark, Shape, read},
        supposed::{self, Supposed},
        wear::Span,
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
use std::sync::Arc;

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new()
        .look("/costs/what-if", Who::Owner, show)
        .send("/costs/what-if", Who::Owner, keep)
        .look("/costs/what-if.csv", Who::Owner, csv)
        .look("/costs/what-if.json", Who::Owner, json)
        .look("/costs/what-if.pdf", Who::Owner, pdf)
        .look("/costs/cover", Who::Owner, cover_page)
        .look("/costs/cover.csv", Who::Owner, cover_csv)
        .look("/costs/cover.json", Who::Owner, cover_json)
        .look("/costs/cover.pdf", Who::Owner, cover_pdf)
}

type Typed = Query<Vec<(String, String)>>;

#[derive(Template)]
#[template(path = "costs/what_if.html")]
struct WhatIf {
    frame: Frame,
    sheet: Sheet,
    /// Common changes, and the line for any other.
    fields: Vec<Field>,
    line: Field,
    remarks: Vec<Remark>,
    /// The changes worked out, as they would be kept; empty for none.
    changes: String,
    query: String,
    entry: String,
    keep: [Field; 2],
}

/// The twelve months every what-if is worked out on, with the books and what was kept.
struct Ground {
    asked: Asked,
    span: Span,
    books: Arc<Books>,
    saved: Vec<Saved>,
}

async fn ground(here: &Here) -> Result<Ground, Trouble> {
    let mut db = here.app.ledger.read().await?;
    let today = here.zone().day(here.now);
    let asked = Asked::year_to(today, costs::since(&mut db).await?);
    let span = asked.year;
    let saved = costs::saved(&mut db).await?;
    drop(db);
    Ok(Ground { asked, span, books: costs::at_hand(&here.app.ledger, here.zone(), &[span], &[span], today).await?, saved })
}

impl Ground {
    fn supposed(&self, typed: &Fields) -> Result<Option<Supposed>, Vec<Remark>> {
        supposed::read(&self.books, self.span, |field| typed.get(field).to_owned())
    }

    fn sheet(&self, here: &Here, supposed: Option<&Supposed>) -> Sheet {
        let then = supposed.map(|own| (&own.changes, &own.books));
        compared::sheet(&self.books, then, &self.saved, self.span, &here.farm.name)
    }

    /// The plain fields. What cannot be chosen on this farm has no field.
    fn fields(&self, typed: &Fields, remarks: &[Remark]) -> Vec<Field> {
        let one = |name: &String| (name.clone(), name.clone());
        let stores: Vec<(String, String)> = self.books.stores.iter().map(|own| one(&own.name)).collect();
        let cows: Vec<(String, String)> = self.books.cows.iter().flat_map(|(_, cows)| cows).map(|own| one(&own.name)).collect();
        let words = Shape::Words(60);
        let field = |name, label, shape| Field::named(name, label, shape, typed, remarks).optional(true);
        let percent = |name, label| field(name, label, Shape::Figure).in_unit("%");
        let mut fields = vec![percent("feed", "Price of all feed, more or less")];
        if !stores.is_empty() {
            fields.push(field("store", "Price of one thing in store", words).choosing(stores, false));
            fields.push(percent("store_by", "… by how much"));
        }
        fields.push(field("hour", "Worth of an hour", Shape::Money).in_unit("$"));
        fields.push(percent("lost", "Jars lost of a hundred filled").hinted("Like 6"));
        fields
            .push(field("more", "Half-gallons a week more to people", Shape::Figure).hinted("A minus for fewer, like -2").in_unit("½ gal"));
        fields.push(percent("milk", "The cows give more or less"));
        fields
            .push(percent("once", "Milked once a day: how much less they give").hinted("A fifth to three tenths less is common: 20 to 30"));
        fields.push(field("cow", "A cow dry", words).choosing(cows, false));
        fields.push(field("dry_from", "… from this day", Shape::Day));
        fields.push(percent("comes_in", "What comes in, more or less"));
        fields
    }
}

async fn show(here: Here, Query(typed): Typed) -> Answer {
    let typed = Fields(typed);
    let ground = ground(&here).await?;
    match ground.supposed(&typed) {
        Ok(supposed) => page(&view(&here, &ground, &typed, supposed.as_ref(), Vec::new()).await?),
        Err(remarks) => again(&view(&here, &ground, &typed, None, remarks).await?),
    }
}

async fn view(here: &Here, ground: &Ground, typed: &Fields, supposed: Option<&Supposed>, remarks: Vec<Remark>) -> Result<WhatIf, Trouble> {
    let changes = supposed.map(|own| own.changes.to_string()).unwrap_or_default();
    let field = |name, label, shape| Field::named(name, label, shape, typed, &remarks);
    Ok(WhatIf {
        frame: Frame::of(here, "Costs", compared::TITLE).await?,
        sheet: ground.sheet(here, supposed),
        fields: ground.fields(typed, &remarks),
        line: field("changes", "Any change, in words", Shape::WhatIf)
            .optional(true)
            .hinted("Like: price of Hay +20 %; use of Jars = 0.06; milk -10 %; Damson dry from 2026-09-01. A semicolon parts them"),
        query: if changes.is_empty() { String::new() } else { format!("?changes={}", crate::trade::in_an_address(&changes)) },
        changes,
        entry: typed.entry(),
        keep: [field("name", "Name", Shape::Words(60)), field("note", "Note", Shape::Words(200)).optional(true)],
        remarks,
    })
}

async fn keep(here: Here, Sealed(typed): Sealed) -> Answer {
    let ground = ground(&here).await?;
    let supposed = match ground.supposed(&typed) {
        Ok(supposed) => supposed,
        Err(remarks) => return again(&view(&here, &ground, &typed, None, remarks).await?),
    };
    match kept(&here, &typed, supposed.as_ref()).await? {
        Ok(changes) => onward(&compared::address(&changes)),
        Err(remarks) => again(&view(&here, &ground, &typed, supposed.as_ref(), remarks).await?),
    }
}

/// Keeps a what-if by its name, or says what stands in the way.
async fn kept(here: &Here, typed: &Fields, supposed: Option<&Supposed>) -> Result<Result<String, Vec<Remark>>, Trouble> {
    let changes = supposed.map(|own| own.changes.to_string()).unwrap_or_default();
    let line = typed.clone().with("changes", changes.clone()).with("made", here.zone().day(here.now).to_string());
    let cells: Vec<Cell> = match read(kind_of("what_ifs")?, |column| line.get(column).to_owned(), here.farm.ways) {
        Ok(cells) => cells,
        Err(remarks) => return Ok(Err(remarks)),
    };
    let mut tx = here.app.ledger.begin().await?;
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    match records::keep(&mut tx, kind_of("what_ifs")?, typed.get("entry"), cells, &act).await {
        Ok(_) => tx.commit().await?,
        Err(refusal) => return Ok(Err(remarks_of(refusal)?)),
    }
    Ok(Ok(changes))
}

async fn csv(here: Here, typed: Typed) -> Answer {
    printed(&here, typed, Form::Csv).await
}

async fn json(here: Here, typed: Typed) -> Answer {
    printed(&here, typed, Form::Json).await
}

async fn pdf(here: Here, typed: Typed) -> Answer {
    printed(&here, typed, Form::Pdf).await
}

async fn printed(here: &Here, Query(typed): Typed, form: Form) -> Answer {
    let typed = Fields(typed);
    let ground = ground(here).await?;
    match ground.supposed(&typed) {
        Ok(supposed) => {
            sheets::answer(here, "Costs", ground.sheet(here, supposed.as_ref()), form, "/costs/what-if", "", String::new()).await
        }
        Err(remarks) => again(&view(here, &ground, &typed, None, remarks).await?),
    }
}

async fn cover_page(here: Here) -> Answer {
    covered(&here, Form::Page).await
}

async fn cover_csv(here: Here) -> Answer {
    covered(&here, Form::Csv).await
}

async fn cover_json(here: Here) -> Answer {
    covered(&here, Form::Json).await
}

async fn cover_pdf(here: Here) -> Answer {
    covered(&here, Form::Pdf).await
}

async fn covered(here: &Here, form: Form) -> Answer {
    let ground = ground(here).await?;
    let shares = costs::boarded(&mut *here.app.ledger.read().await?, ground.span.to).await?;
    let sheet = cover::sheet(&ground.books, ground.span, shares, &here.farm.name);
    sheets::answer(here, "Costs", sheet, form, "/costs/cover", "", super::back(ground.asked)?).await
}
