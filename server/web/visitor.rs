//! Who is at the door: a stranger, a household, an inspector, a helper or the owner; and whom a door is for.

use axum::{
    extract::FromRequestParts,
    http::{HeaderValue, header::SET_COOKIE, request::Parts},
    response::Response,
};
use std::convert::Infallible;

/// What somebody is. Roles have no order: an inspector is no step between a household and a helper, and what each may open
/// is said at the doors, by [`Who`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// Not signed in.
    Stranger,
    /// A household that came in with its number and PIN: sees and writes what is its own, and nothing of anybody else.
    Member,
    /// Somebody of an office who came in with a pass: reads the binder of the days it shows, writes nothing.
    Inspector,
    /// Washes, reads temperatures, counts, milks; sees no phone number, money or complaint. May stop the milk.
    Helper,
    /// Everything of the farm's.
    Owner,
}

impl Role {
    /// Everybody a test may try a door as.
    pub const ALL: [Role; 5] = [Role::Stranger, Role::Member, Role::Inspector, Role::Helper, Role::Owner];

    /// Reads the word the ledger keeps of somebody with a password. No word makes a household or an inspector: only a PIN and a
    /// pass do.
    #[must_use]
    pub fn parse(word: &str) -> Role {
        match word {
            "owner" => Role::Owner,
            "helper" => Role::Helper,
            _ => Role::Stranger,
        }
    }
}

/// Whom a door is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Who {
    /// Whoever comes by: the ways in, and the question about a lid.
    Anybody,
    /// A household, at its own page.
    Household,
    /// Whoever came in with a pass.
    Inspector,
    /// Everybody who works on the farm.
    Farm,
    /// The owner alone.
    Owner,
}

impl Who {
    /// Whether a door that is for these lets somebody in. It is the one place that says so.
    #[must_use]
    pub const fn lets_in(self, role: Role) -> bool {
        match self {
            Who::Anybody => true,
            Who::Household => matches!(role, Role::Member),
            Who::Inspector => matches!(role, Role::Inspector),
            Who::Farm => matches!(role, Role::Helper | Role::Owner),
            Who::Owner => matches!(role, Role::Owner),
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
    /// Which pass it is: its number. Nobody else has one.
    pub pass: Option<i64>,
}

impl Visitor {
    /// Somebody who has not signed in.
    #[must_use]
    pub fn stranger() -> Visitor {
        Visitor { name: String::new(), role: Role::Stranger, seal: String::new(), household: None, pass: None }
    }

    /// Whether they work on the farm.
    #[must_use]
    pub const fn is_of_the_farm(&self) -> bool {
        Who::Farm.lets_in(self.role)
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
