//! “Unwell” and “well again”, each in one tap: a cow that is not well stays out of the can until somebody writes that she is.

use super::{App, Here, found, in_address, keep, kind_of};
use crate::{
    trade::records::read,
    web::{
        answer::{Answer, Trouble, is_inside, onward},
        form::{Fields, Sealed},
        rooms::Rooms,
        visitor::Who,
    },
};
use axum::extract::Path;

/// The doors of this file.
pub(super) fn rooms() -> Rooms<App> {
    Rooms::new().send("/herd/{cow}/unwell", Who::Farm, unwell).send("/herd/{cow}/well", Who::Farm, well)
}

async fn unwell(here: Here, Path(name): Path<String>, Sealed(typed): Sealed) -> Answer {
    written(&here, &name, &typed, "unwell").await
}

async fn well(here: Here, Path(name): Path<String>, Sealed(typed): Sealed) -> Answer {
    written(&here, &name, &typed, "well again").await
}

async fn written(here: &Here, name: &str, typed: &Fields, sort: &str) -> Answer {
    let (cow, _, _) = found(here, name).await?;
    let line = Fields::default().with("cow", cow.known.name.clone()).with("at", here.zone().for_file(here.now)).with("sort", sort);
    let kept = match read(kind_of("events")?, |column| line.get(column).to_owned(), here.farm.ways) {
        Ok(cells) => keep(here, typed.get("entry"), vec![("events", cells)]).await?,
        Err(remarks) => remarks,
    };
    match kept.into_iter().next() {
        Some(remark) => Err(Trouble::NotThere(remark.says)),
        None if is_inside(typed.get("back")) => onward(typed.get("back")),
        None => onward(&format!("/herd/{}", in_address(&cow.known.name))),
    }
}
