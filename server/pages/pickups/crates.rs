//! Handing out what was packed, by exception: everybody as packed in one act, and one tap for each who differs.

use super::weigh::{Fridge, Said, fridge, over_cap, weigh};
use crate::{
    pages::{Here, kind_of},
    store::{
        packing, pickups,
        records::{self, Act},
    },
    trade::{
        empties::Empties,
        jars::Jars,
        packed::{Listed, Took},
        records::{Remark, read},
    },
    web::{answer::Trouble, form::Fields, secret},
};
use sqlx::SqliteConnection;

/// A crate that stands packed and was not taken yet.
pub(super) struct Waiting {
    pub(super) label: String,
    pub(super) called: String,
    pub(super) jars: Jars,
    pub(super) lots: Vec<(String, i64)>,
    /// Whether a lot of it can go only because the owner decided so.
    pub(super) is_decided: bool,
}

impl Waiting {
    /// The lots, and how many of each where there are several: `1 × 6325A-Z, 2 × 6324B-K`.
    pub(super) fn said(&self) -> String {
        if let [(lot, _)] = self.lots.as_slice() {
            return lot.clone();
        }
        let said: Vec<String> = self.lots.iter().map(|(lot, jars)| format!("{jars} × {lot}")).collect();
        said.join(", ")
    }
}

/// The crates of today whose household has had nothing today.
pub(super) async fn waiting(db: &mut SqliteConnection, here: &Here, fridge: &Fridge) -> Result<Vec<Waiting>, Trouble> {
    let today = here.zone().day(here.now);
    let Some((_, list)) = packing::of_day(&mut *db, today).await? else { return Ok(Vec::new()) };
    let had = pickups::takers_between(db, here.zone().start_of(today), here.zone().end_of(today)).await?;
    let waits = |row: &Listed| !row.lots.is_empty() && !had.contains(&row.portion.person);
    let decided = |row: &Listed| {
        let way = fridge.taker(&row.label).map(|taker| taker.way);
        row.lots
            .iter()
            .any(|(lot, _)| fridge.shelf.iter().any(|own| own.offer.code == *lot && way.is_some_and(|way| own.is_decided_for(way))))
    };
    let crate_of = |row: Listed| Waiting {
        called: format!("{} {}", row.label, row.name),
        jars: Jars::halves(row.lots.iter().map(|(_, jars)| jars).sum()),
        is_decided: decided(&row),
        label: row.label,
        lots: row.lots,
    };
    Ok(list.rows.into_iter().filter(waits).map(crate_of).collect())
}

/// What came of handing out everybody: what stands against it, or who had theirs kept from another phone in the meantime.
pub(super) enum Everybody {
    /// Nothing is kept, and this is why.
    Not(Said),
    /// It may be kept; these had theirs already and were left out.
    Kept(Vec<String>),
}

/// Hands out every crate as the form says, all of them or none.
pub(super) async fn everybody_in(tx: &mut SqliteConnection, here: &Here, typed: &Fields) -> Result<Everybody, Trouble> {
    let mut fridge = fridge(&mut *tx, here, here.zone().day(here.now)).await?;
    let waiting = waiting(&mut *tx, here, &fridge).await?;
    let act = records::act(&mut *tx, here.now, &here.visitor.name, "screen").await?;
    let (taking, already) = told_apart(&mut *tx, &waiting, typed).await?;
    if taking.is_empty() && already.is_empty() && !is_sent_again(&mut *tx, typed).await? {
        return Ok(Everybody::Not(Said::remark("took", "Nobody took anything. Say who did, or leave the list as it is.")));
    }
    for (own, took) in taking {
        let said = one_crate(&mut *tx, here, &mut fridge, (own, took), typed, &act).await?;
        if !said.is_nothing() {
            return Ok(Everybody::Not(of_a_list(said)));
        }
    }
    let over = over_cap(tx, here, typed).await?;
    if over.is_empty() { Ok(Everybody::Kept(already)) } else { Ok(Everybody::Not(Said { over, ..Said::default() })) }
}

/// The crates that were taken, each with how, and the labels of those who had theirs kept in the meantime by somebody else.
async fn told_apart<'a>(
    db: &mut SqliteConnection,
    waiting: &'a [Waiting],
    typed: &Fields,
) -> Result<(Vec<(&'a Waiting, Took)>, Vec<String>), Trouble> {
    let (mut taking, mut already) = (Vec::new(), Vec::new());
    for (name, word) in &typed.0 {
        let (Some(label), Some(took)) = (name.strip_prefix("took."), Took::parse(word)) else { continue };
        if took == Took::NotHere {
            continue;
        }
        match waiting.iter().find(|own| own.label == label) {
            Some(own) => taking.push((own, took)),
            None if !pickups::is_kept(&mut *db, &mark_of(typed, label, 0)).await? => already.push(label.to_owned()),
            None => {}
        }
    }
    Ok((taking, already))
}

/// Whether this very form was kept before.
async fn is_sent_again(db: &mut SqliteConnection, typed: &Fields) -> Result<bool, Trouble> {
    for (name, _) in &typed.0 {
        let Some(label) = name.strip_prefix("took.") else { continue };
        if pickups::is_kept(&mut *db, &mark_of(typed, label, 0)).await? {
            return Ok(true);
        }
    }
    Ok(false)
}

/// The mark of one line. By household and not by place in the list, so that the same form never takes one for another.
fn mark_of(typed: &Fields, label: &str, nth: usize) -> String {
    secret::entry_within(&format!("{}/{label}", typed.get("entry")), nth)
}

/// Hands out one crate, lot by lot, and writes down the empties that did not come back.
async fn one_crate(
    db: &mut SqliteConnection,
    here: &Here,
    fridge: &mut Fridge,
    (own, took): (&Waiting, Took),
    typed: &Fields,
    act: &Act,
) -> Result<Said, Trouble> {
    let lots = took.of(&own.lots);
    for (nth, (lot, jars)) in lots.iter().enumerate() {
        let mut line = Fields::default().with("lot", lot).with("half_gallons", jars.to_string()).with("person", &own.label);
        line = line.with("at", typed.get("at")).with("evidence", typed.get("evidence")).with("sure", format!("person {}", own.label));
        line.0.extend(typed.all("already").map(|already| ("already".to_owned(), already.to_owned())));
        let said = weigh(&mut *db, here, fridge, &line, &mark_of(typed, &own.label, nth), act).await?;
        if !said.is_nothing() {
            return Ok(said);
        }
    }
    if took == Took::NoEmpties {
        let jars = lots.iter().map(|(_, jars)| jars).sum();
        return empties_kept(
            db,
            here,
            (&own.label, typed.get("at")),
            (Empties::NotBroughtBack, jars),
            &mark_of(typed, &own.label, 99),
            act,
        )
        .await;
    }
    Ok(Said::default())
}

/// Writes down empties that differ from an even swap.
pub(super) async fn empties_kept(
    db: &mut SqliteConnection,
    here: &Here,
    (label, at): (&str, &str),
    (what, jars): (Empties, i64),
    entry: &str,
    act: &Act,
) -> Result<Said, Trouble> {
    let word = Empties::WORDS.iter().find(|(own, _)| *own == what).map_or("", |(_, word)| word);
    let at = if at.trim().is_empty() { here.zone().for_file(here.now) } else { at.to_owned() };
    let line = Fields::default().with("at", at).with("person", label).with("sort", word).with("half_gallons", jars.to_string());
    let typed = |column: &str| match (column, line.get(column)) {
        ("gallons" | "quarts" | "pints", _) => "0".to_owned(),
        (_, value) => value.to_owned(),
    };
    let cells = match read(kind_of("empties")?, typed, here.farm.ways) {
        Ok(cells) => cells,
        Err(remarks) => return Ok(Said { remarks, ..Said::default() }),
    };
    match records::keep(db, kind_of("empties")?, entry, cells, act).await {
        Ok(_) => Ok(Said::default()),
        Err(refusal) => Ok(Said { remarks: crate::pages::remarks_of(refusal)?, ..Said::default() }),
    }
}

/// What stands against one of a list, said so that it can be put right on the list.
fn of_a_list(mut said: Said) -> Said {
    for sentence in [std::mem::take(&mut said.asked), std::mem::take(&mut said.lacking)] {
        if !sentence.is_empty() {
            said.remarks.push(Remark::fault("took", format!("{sentence} Set them to “not here”, or use Differs.")));
        }
    }
    said
}
