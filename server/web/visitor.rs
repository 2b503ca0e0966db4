//! Who is at the door: a stranger, a household, a helper or the owner.

use axum::{
    extract::FromRequestParts,
    http::{HeaderValue, header::SET_COOKIE, request::Parts},
    response::Response,
};
use std::convert::Infallible;

/// What somebody may do. The seam for the others (relief milker, inspector) is one more word here and its place in the
/// order.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Role {
    /// Not signed in.
    Stranger,
    /// A household that came in with its number and PIN: sees and writes what is its own, and nothing of anybody else.
    Member,
    /// Washes, reads temperatures, counts, milks; sees no phone number, money or complaint. May stop the milk.
    Helper,
    /// Everything.
    Owner,
}

impl Role {
    /// Reads the word the ledger keeps of somebody with a password. No word makes a household: only its PIN does.
    #[must_use]
    pub fn parse(word: &str) -> Role {
        match word {
            "owner" => Role::Owner,
            "helper" => Role::Helper,
            _ => Role::Stranger,
        }
    }
}

/// Whoever sent this request.
#[derive(Clone, Debug)]
pub struct Visitor {
    /// Their name; empty for a stranger.
    pub name: String,
    /// What they may do.
    pub role: Role,
    /// The seal their forms must carry, so that no other site can send one in their name.
    pub seal: String,
    /// Which household it is: its record's number. Nobody else has one, whatever else they may do, so a helper or the owner
    /// is never taken for a household.
    pub household: Option<i64>,
}

impl Visitor {
    /// Somebody who has not signed in.
    #[must_use]
    pub fn stranger() -> Visitor {
        Visitor { name: String::new(), role: Role::Stranger, seal: String::new(), household: None }
    }

    /// Whether they see money, phone numbers and complaints.
    #[must_use]
    pub fn is_owner(&self) -> bool {
        self.role == Role::Owner
    }
}

impl<S: Send + Sync> FromRequestParts<S> for Visitor {
    type Rejection = Infallible;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Visitor, Infallible> {
        Ok(parts.extensions.get::<Visitor>().cloned().unwrap_or_else(Visitor::stranger))
    }
}

/// The value of a cookie.
#[must_use]
pub fn cookie(headers: &axum::http::HeaderMap, name: &str) -> Option<String> {
    headers
        .get_all(axum::http::header::COOKIE)
        .iter()
        .filter_map(|value| value.to_str().ok())
        .flat_map(|line| line.split(';'))
        .filter_map(|pair| pair.trim().split_once('='))
        .find(|(own, _)| *own == name)
        .map(|(_, value)| value.to_owned())
}

/// Gives a browser a cookie that no script can read and no other site can send; 0 seconds takes it away.
pub fn set_cookie(response: &mut Response, name: &str, value: &str, seconds: i64, secure: bool) {
    let secure = if secure { "; Secure" } else { "" };
    // Names and tokens are made here, of letters and digits, so the line is always one a header can hold.
    if let Ok(cookie) = HeaderValue::from_str(&format!("{name}={value}; Path=/; HttpOnly; SameSite=Lax; Max-Age={seconds}{secure}")) {
        response.headers_mut().append(SET_COOKIE, cookie);
    }
}
