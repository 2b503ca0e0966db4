//! Erasing the name of somebody who left, once the law no longer has it kept: what goes, what stays, and the act in two steps.

use super::named;
use crate::{
    pages::{Frame, Here, kind_of},
    paper::pdf,
    store::{
        callbacks, erasing, hands,
        people::{self, Person},
        records,
    },
    trade::{
        book::sha256,
        erasing::{Erasure, May, left_of, may},
        figures::{Part, Sheet},
        numbers::one_spelling,
        records::Remark,
        when::day_shown,
    },
    web::{
        answer::{Answer, Trouble, again, onward, page},
        form::{Fields, Sealed},
    },
};
use askama::Template;
use axum::extract::Path;
use sqlx::SqliteConnection;

#[derive(Template)]
#[template(path = "people/erase.html")]
struct Erase {
    frame: Frame,
    called: String,
    label: String,
    /// What its name becomes.
    becomes: String,
    /// Why it may not be erased yet; empty when it may.
    not_yet: String,
    /// Records of others in which a word of the name stays.
    elsewhere: Vec<(String, String)>,
    /// How many more of those there are than are named.
    more: usize,
    papers: usize,
    why: String,
    /// Whether the reason is given and only the last tap is left.
    is_second: bool,
    /// Whether the name is erased already, so that only the file can be written anew.
    is_erased: bool,
    remarks: Vec<Remark>,
}

pub(super) async fn show(here: Here, Path(label): Path<String>) -> Answer {
    page(&view(&here, &label, &Fields::default(), Vec::new()).await?)
}

/// Records of others that are named one by one; there are rarely more.
const MOST: usize = 20;

async fn view(here: &Here, label: &str, typed: &Fields, remarks: Vec<Remark>) -> Result<Erase, Trouble> {
    let mut db = here.app.ledger.read().await?;
    let person = named(&people::list(&mut db, here.zone().day(here.now)).await?, label)?.clone();
    let not_yet = not_yet(&mut db, here, &person).await?;
    let erasure = erasure(&mut db, &person).await?;
    let left = if not_yet.is_empty() { erasing::left_elsewhere(&mut db, &erasure).await? } else { Vec::new() };
    drop(db);
    let told = |(name, number): &(&'static str, i64)| {
        let one = kind_of(name).map_or("record", |kind| kind.one);
        (format!("{} {number}", crate::trade::capital(one)), format!("/records/{name}/{number}"))
    };
    Ok(Erase {
        frame: Frame::of(here, "People", format!("Erase {}", person.taker.called())).await?,
        called: person.taker.called(),
        label: person.taker.label.clone(),
        becomes: erasure.name,
        not_yet,
        elsewhere: left.iter().take(MOST).map(told).collect(),
        more: left.len().saturating_sub(MOST),
        papers: erasure.documents.len(),
        is_erased: is_erased(&person),
        is_second: remarks.is_empty() && !typed.get("why").trim().is_empty(),
        why: typed.get("why").to_owned(),
        remarks,
    })
}

/// Whether only what an erasure leaves is left of somebody.
fn is_erased(person: &Person) -> bool {
    let own = &person.taker;
    own.name == left_of(&own.sort, &own.label, &own.name, own.number).0
}

/// Why a name may not be erased yet, as a sentence; empty when it may.
async fn not_yet(db: &mut SqliteConnection, here: &Here, person: &Person) -> Result<String, Trouble> {
    let today = here.zone().day(here.now);
    let last = erasing::last_handed(&mut *db, person.taker.number, here.zone()).await?;
    let years = erasing::keep_years(&mut *db, today).await?;
    let called = person.taker.called();
    if is_erased(person) {
        return Ok("Their name was erased already.".to_owned());
    }
    if let Some(number) = callbacks::open_of(&mut *db, person.taker.number).await? {
        return Ok(format!(
            "{called} has milk of call-back {number}, which is still open. Close it first: they may have to be rung again."
        ));
    }
    Ok(match may(person.taker.until, last, years, today) {
        May::Yes => String::new(),
        May::StillHere => format!("{called} has not left. Write the day they left on their record first."),
        May::NoRule => "No rule you follow says how many years records are kept, so nobody can say that the time is over. Ask your \
                        health department, and write the years into your rules."
            .to_owned(),
        May::KeptTo(day) => format!(
            "The rules you follow have it kept until {}: {} year{} from the day they left or their last hand-out.",
            day_shown(day),
            years.unwrap_or_default(),
            if years == Some(1) { "" } else { "s" }
        ),
    })
}

async fn erasure(db: &mut SqliteConnection, person: &Person) -> Result<Erasure, Trouble> {
    let own = &person.taker;
    let (name, label) = left_of(&own.sort, &own.label, &own.name, own.number);
    let mut erasure = Erasure { person: own.number, name, label, ..Erasure::default() };
    erasing::known_as(db, &mut erasure).await?;
    Ok(erasure)
}

/// The first sending asks once more, the second erases. Where only the file is still to be written anew, that is all it does.
pub(super) async fn erase(here: Here, Path(label): Path<String>, Sealed(typed): Sealed) -> Answer {
    if typed.get("step") == SWEEP {
        return swept(&here, &label).await;
    }
    let why = typed.get("why").trim();
    if why.is_empty() || why.chars().count() > 200 {
        let says = "Say in a few words why: they asked for it, or the time is over. It stays in the journal.";
        return again(&view(&here, &label, &typed, vec![Remark::fault("why", says)]).await?);
    }
    if typed.get("step") != "erase" {
        return page(&view(&here, &label, &typed, Vec::new()).await?);
    }
    match erased(&here, &label, why).await? {
        None => again(&view(&here, &label, &typed, vec![Remark::fault("why", "It was not erased.")]).await?),
        Some(left) => swept(&here, &left).await,
    }
}

/// The step that only writes the file anew.
const SWEEP: &str = "sweep";

/// Writes the file anew, whose free places still hold what was taken out. Where that cannot be done now, says so, with a tap to
/// try again: the records are without the name already.
async fn swept(here: &Here, label: &str) -> Answer {
    let Err(failure) = here.app.ledger.sweep().await else { return onward(&format!("/people/{label}")) };
    tracing::warn!("The ledger's file was not written anew after an erasure: {failure}");
    let says = "What was erased is out of every record, but the ledger's file could not be written anew just now: something else \
                is reading it, or the disk has no room for a second copy. Until it is, a trace may still lie in its free places. \
                Close other windows, make room, and try again.";
    again(&view(here, label, &Fields::default(), vec![Remark::fault("step", says)]).await?)
}

/// Takes it all out in one act; gives back the label that is left, or nothing where it may not be done.
async fn erased(here: &Here, label: &str, why: &str) -> Result<Option<String>, Trouble> {
    let mut tx = here.app.ledger.begin().await?;
    let person = named(&people::list(&mut tx, here.zone().day(here.now)).await?, label)?.clone();
    if !not_yet(&mut tx, here, &person).await?.is_empty() {
        return Ok(None);
    }
    let mut erasure = erasure(&mut tx, &person).await?;
    let blank = blank(here)?;
    erasure.blank = (sha256(&blank), i64::try_from(blank.len()).unwrap_or(i64::MAX));
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    erasing::erase(&mut tx, &erasure, &blank, why, &act).await?;
    // The tries that did not fit at the fridge are counted under what they were called.
    for own in &erasure.signed {
        hands::forgive(&mut tx, &format!("household {}", one_spelling(own))).await?;
    }
    tx.commit().await?;
    Ok(Some(erasure.label))
}

/// The paper that takes the place of one whose bytes went.
fn blank(here: &Here) -> Result<Vec<u8>, Trouble> {
    let words = "The paper that was kept here was erased together with the name of the household that signed it.";
    let sheet = Sheet {
        name: "erased".to_owned(),
        title: "Erased".to_owned(),
        facts: vec![("Farm".to_owned(), here.farm.name.clone())],
        parts: vec![Part::Words(words.to_owned())],
        ..Sheet::default()
    };
    pdf::print(&sheet, &here.zone().in_full(here.now)).map_err(|fault| Trouble::Ours(fault.to_string()))
}
