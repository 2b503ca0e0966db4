//! What is asked about a record before it is kept: by itself, and beside what is written already. It owns no door.

use super::Here;
use crate::{
    store::records,
    trade::{
        beside::{self, Cow},
        kinds::{Kind, kind},
        records::{Cell, Remark},
        slips,
    },
    web::{answer::Trouble, form::Fields},
};
use sqlx::SqliteConnection;

/// The faults of a record, and the questions about it that nobody has answered. `but` is the record that is being corrected.
pub(super) async fn asked(
    here: &Here,
    kind: &'static Kind,
    cells: &[Cell],
    typed: &Fields,
    but: Option<i64>,
) -> Result<Vec<Remark>, Trouble> {
    let mut remarks = slips::remarks(kind, cells, here.farm.ways, here.now);
    let mut db = here.app.ledger.read().await?;
    // The same form sent twice is not asked about itself.
    if but.is_some() || records::by_entry(&mut db, kind, typed.get("entry")).await?.is_none() {
        remarks.extend(beside_the_others(&mut db, here, kind, cells, but).await?);
    }
    Ok(slips::unanswered(remarks, |field| typed.is_sure(field)))
}

async fn beside_the_others(
    db: &mut SqliteConnection,
    here: &Here,
    own: &'static Kind,
    cells: &[Cell],
    but: Option<i64>,
) -> Result<Option<Remark>, Trouble> {
    if own.name == "renewals" {
        return Ok(beside::renewal(own, cells, &records::list(db, own).await?, but));
    }
    if !matches!(own.name, "events" | "strip_tests") {
        return Ok(None);
    }
    let named = own.cell(cells, "cow").text();
    let (Some(cows), Some(number)) = (kind("cows"), records::number_of(&mut *db, "cows", named, i64::MAX).await?) else {
        return Ok(None);
    };
    let Some(record) = records::find(&mut *db, cows, number).await? else { return Ok(None) };
    let (cow, all) = (Cow::of(cows, &record), records::list(db, own).await?);
    Ok(if own.name == "events" {
        beside::event(own, cells, cow, &all, but, here.zone())
    } else {
        beside::strip_test(own, cells, cow, &all, but)
    })
}
