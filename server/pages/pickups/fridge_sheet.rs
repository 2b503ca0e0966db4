//! The sheet for the fridge door: the address of a household's own page, as words and as a square for a phone's camera.

use crate::{
    pages::{App, Frame, Here},
    paper::{
        poster::{Poster, print},
        qr::Qr,
    },
    web::{
        address,
        answer::{Answer, Trouble, onward, page, paper},
        form::Fields,
        rooms::Rooms,
        visitor::Who,
    },
};
use askama::Template;
use axum::{extract::Query, http::HeaderMap};

/// What to do at the fridge.
const LINES: [&str; 4] = [
    "Point your phone's camera at the square.",
    "Put in your number and your PIN.",
    "Take what is named there, and leave as many empties.",
    "Tap “I took these”. No phone? Use the clipboard.",
];

/// The doors of this file.
pub(super) fn rooms() -> Rooms<App> {
    Rooms::new().look("/pickup/fridge-sheet", Who::Farm, show).look("/pickup/fridge-sheet.pdf", Who::Farm, as_pdf)
}

#[derive(Template)]
#[template(path = "pickup/fridge_sheet.html")]
struct Show {
    frame: Frame,
    lines: [&'static str; 4],
    address: String,
    qr: Option<Qr>,
    typed: String,
    remark: String,
    /// What is asked of the PDF.
    query: String,
}

type Asked = Query<Vec<(String, String)>>;

/// The address to print: as typed, or as the browser that asks sees the program.
fn address_of(here: &Here, headers: &HeaderMap, typed: &str) -> Result<String, String> {
    let seen = || address::seen(headers, here.app.secure, "/own");
    if typed.trim().is_empty() {
        return seen().ok_or_else(|| "Which address a phone opens could not be found out. Type it here.".to_owned());
    }
    address::typed(typed)
}

async fn show(here: Here, headers: HeaderMap, Query(asked): Asked) -> Answer {
    let typed = Fields(asked).get("address").to_owned();
    let read = address_of(&here, &headers, &typed);
    let address = read.as_ref().cloned().unwrap_or_default();
    let query = if typed.trim().is_empty() || address.is_empty() { String::new() } else { format!("?address={address}") };
    let typed = if typed.is_empty() { address.clone() } else { crate::trade::short(&typed) };
    let frame = Frame::of(&here, "Pickup", "Sheet for the fridge").await?;
    let qr = Qr::of(&address).filter(|_| !address.is_empty());
    page(&Show { frame, lines: LINES, qr, typed, remark: read.err().unwrap_or_default(), query, address })
}

async fn as_pdf(here: Here, headers: HeaderMap, Query(asked): Asked) -> Answer {
    // Without an address there is nothing to print: the page says so, and has the field for it.
    let Ok(address) = address_of(&here, &headers, Fields(asked).get("address")) else { return onward("/pickup/fridge-sheet") };
    let poster = Poster {
        title: "Milk: your own page".to_owned(),
        under: here.farm.name.clone(),
        lines: LINES.map(str::to_owned).to_vec(),
        address,
    };
    let made = here.zone().in_full(here.now);
    let bytes = tokio::task::spawn_blocking(move || print(&poster, &made)).await.map_err(|error| Trouble::Ours(error.to_string()))?;
    paper(bytes.map_err(|fault| Trouble::Ours(fault.to_string()))?, "application/pdf", "fridge-sheet.pdf")
}
