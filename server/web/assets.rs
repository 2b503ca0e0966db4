//! The stylesheet and the small script, carried in the program and served by it; nothing comes from elsewhere.

use axum::{
    http::{HeaderName, header},
    response::{IntoResponse, Response},
};

const LOOK: &str = include_str!("look.css");
const HAND: &str = include_str!("hand.js");

fn asset(kind: &'static str, text: &'static str) -> Response {
    let headers: [(HeaderName, &str); 2] = [(header::CONTENT_TYPE, kind), (header::CACHE_CONTROL, "public, max-age=3600")];
    (headers, text).into_response()
}

/// The look.
pub async fn look() -> Response {
    asset("text/css; charset=utf-8", LOOK)
}

/// The script.
pub async fn hand() -> Response {
    asset("text/javascript; charset=utf-8", HAND)
}

/// The closed lid, for the tab.
pub async fn lid() -> Response {
    const LID: &str = r##"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 24 24"><circle cx="12" cy="12" r="10.5" fill="#fff" stroke="#1f2f5c" stroke-width="2.5"/><circle cx="12" cy="12" r="6.5" fill="#1f2f5c"/></svg>"##;
    asset("image/svg+xml", LID)
}
