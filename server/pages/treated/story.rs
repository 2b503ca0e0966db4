//! What is asked once the milk is held: which dose, who milked, what became of her band, how it came about, and what was put right.
//! The answers stand on the holds themselves, where everybody who looks at them reads them. It owns no door.

use super::{found, once_more};
use crate::{
    pages::{Here, field::Field, kind_of, remarks_of},
    store::{corrections, herd, records, treated},
    trade::{
        records::{Cell, Remark, Shape},
        short,
        treated_sheet::Story,
    },
    web::{
        answer::{Answer, Trouble, onward},
        form::{Fields, Sealed},
    },
};
use axum::extract::Path;

/// What may have become of a leg band.
const BANDS: &[&str] = &["on her leg", "fell off", "never put on", "nobody looked"];

/// The longest reason a hold takes.
const LONGEST: usize = 200;

/// What is asked, with the longest answer that fits on a hold.
const ASKED: [(&str, &str, usize, &str); 5] = [
    ("dose", "Which dose", 50, ""),
    ("milked_by", "Who milked", 20, ""),
    ("band", "Her leg band", 20, ""),
    ("cause", "How it came about", 60, "In a few words, without names of households"),
    ("fix", "What was put right", 60, "So that it does not happen again"),
];

/// The fields; of the doses those that are written down are tapped.
pub(super) fn fields(here: &Here, doses: &[herd::Past], typed: &Fields, remarks: &[Remark]) -> Vec<Field> {
    let dose = |own: &herd::Past| {
        let says = short(&format!("{}: {}", here.zone().shown(own.at), own.what));
        (says.clone(), says)
    };
    let known: Vec<(String, String)> = doses.iter().take(4).map(dose).collect();
    let field = |(name, label, most, hint): &(&str, &str, usize, &str)| {
        let own = Field::named(name, label, Shape::Words(*most), typed, remarks).hinted(*hint).optional(true);
        match *name {
            "dose" if !known.is_empty() => own.choosing(known.clone(), true),
            "band" => own.choosing(BANDS.iter().map(|word| ((*word).to_owned(), (*word).to_owned())).collect(), true),
            _ => own,
        }
    };
    ASKED.iter().map(field).collect()
}

pub(super) async fn tell(here: Here, Path(number): Path<String>, Sealed(typed): Sealed) -> Answer {
    let own = found(&mut *here.app.ledger.read().await?, &number).await?;
    let remarks = kept(&here, &own, &typed).await?;
    if remarks.is_empty() { onward(&format!("/bad-day/treated-cow/{number}")) } else { once_more(&here, &own, &typed, remarks).await }
}

/// That nothing was answered, or that an answer is too long to stand on a hold.
fn against(typed: &Fields) -> Vec<Remark> {
    let said = |name: &str| typed.get(name).trim().chars().count();
    if ASKED.iter().all(|(name, ..)| said(name) == 0) {
        return vec![Remark::fault("dose", "Nothing is answered yet. What nobody knows may stay empty.")];
    }
    let long = ASKED.iter().filter(|(name, _, most, _)| said(name) > *most);
    long.map(|(name, _, most, _)| Remark::fault(name, format!("{most} letters at most: it stands on the hold itself."))).collect()
}

async fn kept(here: &Here, own: &treated::Held, typed: &Fields) -> Result<Vec<Remark>, Trouble> {
    let remarks = against(typed);
    if !remarks.is_empty() {
        return Ok(remarks);
    }
    let said = |name: &str| typed.get(name).trim().to_owned();
    let story = Story { dose: said("dose"), milked_by: said("milked_by"), band: said("band"), cause: said("cause"), fix: said("fix") };
    let kind = kind_of("holds")?;
    let mut reasons = vec![(own.number, story.of_cow(&own.reason))];
    reasons.extend(own.vessels.iter().map(|(number, _, reason)| (*number, story.of_vessel(reason))));
    if let Some(long) = reasons.iter().map(|(_, reason)| reason.chars().count()).max().filter(|long| *long > LONGEST) {
        return Ok(vec![Remark::fault(
            "cause",
            format!("Together that is {} letters too long for a hold. Say it shorter.", long - LONGEST),
        )]);
    }
    let mut tx = here.app.ledger.begin().await?;
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    for (number, reason) in reasons {
        let Some(before) = records::find(&mut tx, kind, number).await? else { continue };
        let mut cells = before.cells.clone();
        if let Some(cell) = kind.place_of("reason").and_then(|place| cells.get_mut(place)) {
            *cell = Cell::Text(reason);
        }
        if let Err(refusal) = corrections::correct(&mut tx, kind, &before, cells, "answered after it was held", &act).await {
            return remarks_of(refusal);
        }
    }
    tx.commit().await?;
    Ok(Vec::new())
}
