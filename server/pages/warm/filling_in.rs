//! What was not known when a warm fridge was written down: when it was last cold, the warmest jar, the thermometer. It is filled in
//! once; what stands already is corrected on the record's own page, with a reason. It owns no door.

use super::{found, once_more, read_and_asked};
use crate::{
    pages::{Here, field::Field, kind_of, remarks_of},
    store::{corrections, records, warm},
    trade::{
        records::{Record, Remark},
        warm::WarmFridge,
    },
    web::{
        answer::{Answer, Trouble, onward},
        form::{Fields, Sealed},
    },
};
use axum::extract::Path;

/// What may still be missing.
const LATER: [&str; 3] = ["last_cold", "warmest", "thermometer"];

/// Whether a column of this fridge is still empty.
fn is_missing(own: &warm::Found, column: &str) -> bool {
    let WarmFridge { last_cold, warmest, .. } = &own.fridge;
    match column {
        "last_cold" => last_cold.is_none(),
        "warmest" => warmest.is_none(),
        _ => own.thermometer.is_empty() && warmest.is_none(),
    }
}

/// The fields for what is missing.
pub(super) fn missing(here: &Here, own: &warm::Found, typed: &Fields, remarks: &[Remark]) -> Result<Vec<Field>, Trouble> {
    let fields = super::fields(here, typed, remarks)?;
    Ok(fields.into_iter().filter(|field| LATER.contains(&field.name.as_str()) && is_missing(own, &field.name)).collect())
}

pub(super) async fn fill_in(here: Here, Path(number): Path<String>, Sealed(typed): Sealed) -> Answer {
    let own = found(&mut *here.app.ledger.read().await?, &number).await?;
    let remarks = kept(&here, &own, &typed).await?;
    if remarks.is_empty() { onward(&format!("/bad-day/fridge/{number}")) } else { once_more(&here, &own, &typed, remarks).await }
}

async fn kept(here: &Here, own: &warm::Found, typed: &Fields) -> Result<Vec<Remark>, Trouble> {
    let kind = kind_of("warm_fridges")?;
    let mut tx = here.app.ledger.begin().await?;
    let Some(before) = records::find(&mut tx, kind, own.fridge.number).await? else { return Err(super::gone("")) };
    let filled: Vec<&str> = LATER.into_iter().filter(|column| is_missing(own, column) && !typed.get(column).trim().is_empty()).collect();
    if filled.is_empty() {
        return Ok(vec![Remark::fault("warmest", "Nothing was filled in. Write the warmest jar, or when it was last cold.")]);
    }
    let asked = as_typed(here, &before, typed, &filled)?;
    let cells = match read_and_asked(here, kind, &asked) {
        Ok(cells) => cells,
        Err(remarks) => return Ok(remarks),
    };
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    match corrections::correct(&mut tx, kind, &before, cells, "filled in when it was known", &act).await {
        Ok(()) => tx.commit().await.map(|()| Vec::new()).map_err(Trouble::from),
        Err(refusal) => remarks_of(refusal),
    }
}

/// The record as it would be typed, with what was filled in now.
fn as_typed(here: &Here, before: &Record, typed: &Fields, filled: &[&str]) -> Result<Fields, Trouble> {
    let kind = kind_of("warm_fridges")?;
    let text = |column: &str| {
        let cell = kind.cell(&before.cells, column);
        match column {
            "found" | "last_cold" => cell.moment().map_or_else(String::new, |at| here.zone().for_file(at)),
            _ => cell.text().to_owned(),
        }
    };
    let base = kind.columns.iter().fold(Fields::default(), |all, column| all.with(column.name, text(column.name)));
    let base = filled.iter().fold(base, |all, column| all.with(column, typed.get(column)));
    Ok(Fields(base.0.into_iter().chain(typed.all("sure").map(|sure| ("sure".to_owned(), sure.to_owned()))).collect()))
}
