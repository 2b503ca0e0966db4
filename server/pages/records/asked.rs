//! What is asked about a record before it is kept: by itself, and beside what is written already. It owns no door.

use super::Here;
use crate::{
    store::{costs, people, records},
    trade::{
        beside::{self, Cow},
        cost_slips, household_slips,
        kinds::{Kind, kind},
        records::{Cell, Remark},
        rule_slips::{self, Set},
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
    let mut remarks = slips::remarks(kind, cells, here.farm.ways, here.latest());
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
) -> Result<Vec<Remark>, Trouble> {
    if let ("rules", Some(number)) = (own.name, but) {
        // What is corrected under lots that were filled already is held beside what stood there.
        let before = records::find(db, own, number).await?.map(|record| Set::of(own, &record.cells));
        return Ok(rule_slips::remarks(&Set::of(own, cells), before.as_ref(), here.zone().day(here.now)));
    }
    if own.name == "renewals" {
        return Ok(beside::renewal(own, cells, &records::list(db, own).await?, but).into_iter().collect());
    }
    if household_slips::looks_at(own) {
        return Ok(household_slips::remarks(own, cells, &people::beside(db).await?, but));
    }
    if cost_slips::looks_at(own) {
        return Ok(cost_slips::remarks(own, cells, &costs::beside(db, here.zone(), here.zone().day(here.now)).await?, but));
    }
    if !matches!(own.name, "events" | "strip_tests") {
        return Ok(Vec::new());
    }
    let named = own.cell(cells, "cow").text();
    let (Some(cows), Some(number)) = (kind("cows"), records::number_of(&mut *db, "cows", named, i64::MAX).await?) else {
        return Ok(Vec::new());
    };
    let Some(record) = records::find(&mut *db, cows, number).await? else { return Ok(Vec::new()) };
    let (cow, all) = (Cow::of(cows, &record), records::list(db, own).await?);
    let asked = if own.name == "events" {
        beside::event(own, cells, cow, &all, but, here.zone())
    } else {
        beside::strip_test(own, cells, cow, &all, but)
    };
    Ok(asked.into_iter().collect())
}
