//! Whether the program does its work, for whatever watches over the machine. It says nothing of the farm, so it needs no sign-in.

use super::App;
use crate::{
    store::{Failure, farm},
    web::{answer::Trouble, rooms::Rooms, visitor::Who},
};
use axum::extract::State;

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new().look("/health", Who::Anybody, show)
}

/// `ok` while the ledger is where it was, can be read, and can be written to.
async fn show(State(app): State<App>) -> Result<&'static str, Trouble> {
    let works = async {
        farm::current(&mut *app.ledger.read().await?).await?;
        Ok::<_, Failure>(app.ledger.begin().await?.rollback().await?)
    };
    works.await?;
    Ok("ok\n")
}
