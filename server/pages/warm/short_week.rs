//! The households of today when there are fewer jars: whom to tell, and the words. Phone numbers are the owner's to see. It owns no
//! door.

use crate::{
    pages::Here,
    store::{people, pickups},
    trade::{parts::Hundredths, reach::message_of, warm_sheet::short_week},
    web::answer::Trouble,
};
use sqlx::SqliteConnection;

/// Whom to tell, and the words.
pub(super) struct Short {
    /// How many households still come today.
    pub(super) come: usize,
    /// The words; empty when nobody comes.
    pub(super) words: String,
    /// The households; empty for whoever may not see a phone number.
    pub(super) people: Vec<Told>,
}

/// One household, and how it is told.
pub(super) struct Told {
    pub(super) called: String,
    /// Each way that opens a message, with its link.
    pub(super) links: Vec<(String, String)>,
    /// The ways that open none, such as a neighbour.
    pub(super) others: String,
}

/// Those who come today and have not taken anything yet.
pub(super) async fn of(db: &mut SqliteConnection, here: &Here) -> Result<Short, Trouble> {
    let day = here.zone().day(here.now);
    let had = pickups::takers_between(&mut *db, here.zone().start_of(day), here.zone().end_of(day)).await?;
    let comes = |own: &people::Person| {
        let taker = &own.taker;
        taker.comes && taker.is_here(day) && taker.promised > Hundredths::ZERO && !had.contains(&taker.number)
    };
    let come: Vec<people::Person> = people::list(db, day).await?.into_iter().filter(comes).collect();
    let words = if come.is_empty() { String::new() } else { short_week(&here.farm.name, &here.farm.phone, day) };
    let told = if here.visitor.is_owner() { come.iter().map(|own| links(own, &here.farm.name, &words)).collect() } else { Vec::new() };
    Ok(Short { come: come.len(), words: if here.visitor.is_owner() { words } else { String::new() }, people: told })
}

/// The links to one household, and the ways that are none.
fn links(own: &people::Person, farm: &str, words: &str) -> Told {
    let about = format!("{farm}: fewer jars today");
    let ways: Vec<&String> = [&own.phone, &own.second_way].into_iter().filter(|way| !way.trim().is_empty()).collect();
    let links = ways.iter().filter_map(|way| Some(((*way).clone(), message_of(way, &about, words)?))).collect();
    let others: Vec<&str> = ways.iter().filter(|way| message_of(way, "", "").is_none()).map(|way| way.as_str()).collect();
    Told { called: own.taker.called(), links, others: others.join(", ") }
}
