//! The PIN of a household: made at random, shown once on a card to print, renewed, or taken away.

use crate::{
    pages::{App, Frame, Here},
    paper::qr::Qr,
    store::{
        hands,
        own::{self, Own},
    },
    trade::{figures::NOTICE, near, numbers::one_spelling},
    web::{
        address,
        answer::{Answer, Trouble, again, onward, page},
        form::Sealed,
        rooms::Rooms,
        secret,
        visitor::Who,
    },
};
use askama::Template;
use axum::{extract::Path, http::HeaderMap};

/// How many digits a PIN has.
const DIGITS: usize = 6;

/// The doors of this file.
pub(super) fn rooms() -> Rooms<App> {
    Rooms::new().look("/people/{label}/pin", Who::Owner, show).send("/people/{label}/pin", Who::Owner, give).send(
        "/people/{label}/pin/away",
        Who::Owner,
        take_away,
    )
}

#[derive(Template)]
#[template(path = "people/pin.html")]
struct Show {
    frame: Frame,
    label: String,
    /// Since when there is a PIN; nothing when there is none.
    since: Option<String>,
    shut: bool,
    /// The PIN's moment, so that a form sent twice gives no second one.
    made: i64,
    address: String,
    remark: String,
}

/// The card, with the PIN on it this one time.
#[derive(Template)]
#[template(path = "people/card.html")]
struct Card {
    frame: Frame,
    label: String,
    pin: String,
    address: String,
    qr: Option<Qr>,
    farm: String,
    phone: String,
}

impl Card {
    fn notice(&self) -> &'static str {
        NOTICE
    }
}

/// The household of an address, by exactly its number.
async fn household(here: &Here, label: &str) -> Result<Own, Trouble> {
    let own = own::find(&mut *here.app.ledger.read().await?, label).await?;
    own.filter(|own| own.label.eq_ignore_ascii_case(label.trim()))
        .ok_or_else(|| Trouble::NotThere(near::unknown("member or walk-in", label, std::iter::empty::<&str>())))
}

async fn view(here: &Here, own: &Own, address: String, remark: &str) -> Result<Show, Trouble> {
    Ok(Show {
        frame: Frame::of(here, "People", format!("PIN of {}", own.label)).await?,
        label: own.label.clone(),
        since: own.pin.as_ref().map(|pin| here.zone().in_full(pin.made)),
        shut: own.pin.as_ref().is_some_and(|pin| pin.secret.is_none()),
        made: made(own),
        address,
        remark: remark.to_owned(),
    })
}

fn made(own: &Own) -> i64 {
    own.pin.as_ref().map_or(0, |pin| pin.made.in_seconds())
}

async fn show(here: Here, Path(label): Path<String>, headers: HeaderMap) -> Answer {
    let own = household(&here, &label).await?;
    let address = address::seen(&headers, here.app.secure, "/own").unwrap_or_default();
    page(&view(&here, &own, address, "").await?)
}

async fn give(here: Here, Path(label): Path<String>, Sealed(typed): Sealed) -> Answer {
    let own = household(&here, &label).await?;
    let address = match address::typed(typed.get("address")) {
        Ok(address) => address,
        Err(says) => return again(&view(&here, &own, typed.get("address").to_owned(), &says).await?),
    };
    if typed.get("made").parse() != Ok(made(&own)) {
        let says = "A PIN was given since this page was opened, and it is shown only once. If nobody wrote it down, make another.";
        return again(&view(&here, &own, address, says).await?);
    }
    let pin = given(&here, &own).await?;
    let frame = Frame::of(&here, "People", format!("Card for {}", own.label)).await?;
    let qr = Qr::of(&format!("{address}?number={}", own.label.to_ascii_uppercase().replace(|c: char| !c.is_ascii_alphanumeric(), "")));
    page(&Card { frame, label: own.label, pin, address, qr, farm: here.farm.name.clone(), phone: here.farm.phone.clone() })
}

/// Makes a PIN and keeps its hash; whoever was shut out for their tries may try again.
async fn given(here: &Here, own: &Own) -> Result<String, Trouble> {
    let none = || Trouble::Ours("this machine has no randomness to make a PIN of".to_owned());
    let pin = secret::digits(DIGITS).ok_or_else(none)?;
    let typed = pin.clone();
    let hash = tokio::task::spawn_blocking(move || secret::hash(&typed)).await.ok().flatten().ok_or_else(none)?;
    let mut tx = here.app.ledger.begin().await?;
    own::give(&mut tx, own.person, &hash, here.now).await?;
    hands::forgive(&mut tx, &format!("household {}", one_spelling(&own.label))).await?;
    tx.commit().await?;
    Ok(pin)
}

async fn take_away(here: Here, Path(label): Path<String>, Sealed(_): Sealed) -> Answer {
    let own = household(&here, &label).await?;
    let mut tx = here.app.ledger.begin().await?;
    own::take_away(&mut tx, own.person).await?;
    tx.commit().await?;
    onward(&format!("/people/{}/pin", own.label))
}
