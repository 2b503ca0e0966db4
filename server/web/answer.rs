//! What comes back: a page, an address to go on to, a paper, or a calm word that something is wrong.

use super::visitor::Role;
use crate::trade::short;
use askama::Template;
use axum::{
    body::Body,
    extract::Request,
    http::{Method, StatusCode, header},
    middleware::Next,
    response::{Html, IntoResponse, Redirect, Response},
};

/// What every handler gives back.
pub type Answer = Result<Response, Trouble>;

/// Why there is no page.
#[derive(Debug)]
pub enum Trouble {
    /// Nothing is at this address.
    NotThere(String),
    /// They may not open this door.
    NotYours,
    /// A household is at a door that is not its own.
    TheFarms,
    /// Whoever came in with a pass is at a door that is none of its.
    NotOnThePass,
    /// Somebody of the farm is at a door for a pass.
    AnInspectors,
    /// A form for a pass came when the pass or its visit had ended, or from elsewhere.
    PassOver,
    /// Nothing of what the pass shows is at this address.
    NotShown(String),
    /// Nothing at all is at this address, and whoever asks came in with a pass.
    NothingOnThePass(String),
    /// Somebody of the farm is at a household's door.
    AHouseholds,
    /// A household's form came after its visit had ended, or from elsewhere.
    VisitOver,
    /// The form did not come from our page, or the session has ended.
    Forged,
    /// The form could not be read.
    Unreadable,
    /// What was sent cannot be kept as it is; the sentence says why.
    Refused(String),
    /// A file of days that cannot be.
    NoSuchDays(String),
    /// The ten seconds are over, or something leans on it already.
    TooLate(String),
    /// The disk is full; the detail is for the log.
    NoRoom(String),
    /// What is kept may not be written to; the detail is for the log.
    ReadOnly(String),
    /// Another program holds what is kept; the detail is for the log.
    Busy(String),
    /// The disk did not do what it was told; the detail is for the log.
    Disk(String),
    /// What is kept is not where it was; the sentence says what to do.
    Moved(String),
    /// Ours; the detail is for the log.
    Ours(String),
}

#[derive(Template)]
#[template(path = "trouble.html")]
struct TroublePage<'a> {
    title: &'a str,
    says: &'a str,
    next: &'a str,
    /// Where it leads on to, in words and as an address: a household or an inspector has no use for the farm's own pages.
    onward: (&'a str, &'a str),
}

impl IntoResponse for Trouble {
    fn into_response(self) -> Response {
        let (status, title, says, next) = match &self {
            Trouble::NotThere(what) => (StatusCode::NOT_FOUND, "Not here", what.as_str(), "Go back, or start again from Today."),
            Trouble::NotYours => (
                StatusCode::FORBIDDEN,
                "For the owner only",
                "You are signed in as a helper. Money, phone numbers, complaints, corrections and lifting a hold are the owner's.",
                "Ask the owner, or go back to Today.",
            ),
            Trouble::TheFarms => (
                StatusCode::FORBIDDEN,
                "For the farm only",
                "You came in with your household's number. That page is the farm's own. Nothing was kept.",
                "Go back to your own page.",
            ),
            Trouble::NotOnThePass => (
                StatusCode::FORBIDDEN,
                "Not on your pass",
                "You came in with a pass. It shows the farm's binder for the days the owner chose, and nothing else.",
                "Go back to the binder, or ask the owner.",
            ),
            Trouble::AnInspectors => (
                StatusCode::FORBIDDEN,
                "For somebody with a pass",
                "You are signed in for the farm. This page is for whoever came in with an inspector's pass. Nothing was kept.",
                "The owner has the same binder under Binder, For the inspector.",
            ),
            Trouble::PassOver => (
                StatusCode::FORBIDDEN,
                "Come in again",
                "Your pass is over or was withdrawn, or this form did not come from its page.",
                "Put in the code of your pass again, or ask the farm for another.",
            ),
            Trouble::NotShown(what) => (
                StatusCode::NOT_FOUND,
                "Not here",
                what.as_str(),
                "Go back to the binder, or ask the owner for a pass that shows those days.",
            ),
            Trouble::NothingOnThePass(what) => (StatusCode::NOT_FOUND, "Not here", what.as_str(), "Go back to the binder."),
            Trouble::AHouseholds => (
                StatusCode::FORBIDDEN,
                "A household's own page",
                "You are signed in for the farm. This page is for a household that came in with its number and its PIN. Nothing was kept.",
                "Hand out under Pickup, or sign out first and come in with a number and a PIN.",
            ),
            Trouble::VisitOver => (
                StatusCode::FORBIDDEN,
                "Come in again",
                "Your page was open for more than half an hour, or this form did not come from it. Nothing was kept.",
                "Put in your number and your PIN again.",
            ),
            Trouble::Forged => (
                StatusCode::FORBIDDEN,
                "Sign in again",
                "This form was open longer than your sign-in lasts, or it did not come from this farm's own page. Nothing was kept.",
                "Go back, copy what you typed, sign in and send it again.",
            ),
            Trouble::Unreadable => (
                StatusCode::UNPROCESSABLE_ENTITY,
                "That could not be read",
                "What was sent is not a form this page knows, or it is far too long. Nothing was kept.",
                "Go back and send it again.",
            ),
            Trouble::Refused(says) => {
                (StatusCode::UNPROCESSABLE_ENTITY, "Not kept", says.as_str(), "Go back, put it right and send it again.")
            }
            Trouble::NoSuchDays(says) => {
                (StatusCode::UNPROCESSABLE_ENTITY, "No file of those days", says.as_str(), "Go back and put the days right.")
            }
            Trouble::TooLate(says) => {
                (StatusCode::CONFLICT, "Too late to undo", says.as_str(), "Open the record and correct it; both versions are kept.")
            }
            Trouble::NoRoom(detail) => {
                tracing::error!("{detail}");
                (
                    StatusCode::INSUFFICIENT_STORAGE,
                    "The disk is full",
                    "There is no room left on the machine that holds the ledger. Nothing was kept, and nothing that was kept before is lost.",
                    "Write it on paper. Whoever looks after the machine: make room by moving something else than the ledger away, then go back and send it again; nothing needs to be started anew.",
                )
            }
            Trouble::ReadOnly(detail) => {
                tracing::error!("{detail}");
                (
                    StatusCode::SERVICE_UNAVAILABLE,
                    "The ledger cannot be written to",
                    "The machine lets the ledger be read only. Nothing was kept, and nothing that was kept before is lost.",
                    "Write it on paper. Whoever looks after the machine: a disk that fails is often set to reading only, so make a copy first. Then let the program write to the ledger's file and folder, go back and send it again.",
                )
            }
            Trouble::Busy(detail) => {
                tracing::warn!("{detail}");
                (
                    StatusCode::SERVICE_UNAVAILABLE,
                    "Somebody else is writing",
                    "Another program or another page was writing in the ledger for longer than this page waits. Nothing was kept.",
                    "Go back and send it again in a moment.",
                )
            }
            Trouble::Disk(detail) => {
                tracing::error!("{detail}");
                (
                    StatusCode::SERVICE_UNAVAILABLE,
                    "The disk did not answer as it should",
                    "It is not certain that this was kept. Sent again from the same form, it is kept only once.",
                    "Go back and send it again. If it stays so, write it on paper; whoever looks after the machine makes a copy first and then looks at the disk.",
                )
            }
            Trouble::Moved(says) => {
                tracing::error!("{says}");
                (
                    StatusCode::SERVICE_UNAVAILABLE,
                    "The ledger is not where it was",
                    says.as_str(),
                    "Nothing was kept. Write it on paper until then.",
                )
            }
            Trouble::Ours(detail) => {
                tracing::error!("{detail}");
                (
                    StatusCode::INTERNAL_SERVER_ERROR,
                    "Something is wrong on our side",
                    "This could not be done, and nothing was half kept.",
                    "Try once more. If it stays, write it on paper and run tallypail check.",
                )
            }
        };
        let onward = match self {
            Trouble::TheFarms | Trouble::VisitOver => ("My page", "/own"),
            Trouble::NotOnThePass | Trouble::PassOver | Trouble::NotShown(_) | Trouble::NothingOnThePass(_) => ("The binder", "/pass"),
            _ => ("Today", "/"),
        };
        let page = TroublePage { title, says, next, onward }.render().unwrap_or_else(|_| says.to_owned());
        (status, Html(page)).into_response()
    }
}

/// Says a refusal in our own words that was made before any page was asked: an address that cannot be read, a form that is too
/// long, a way of asking no page knows. Its number stays.
pub async fn in_words(request: Request, next: Next) -> Response {
    let (looks, path) = (request.method() == Method::GET || request.method() == Method::HEAD, request.uri().path().to_owned());
    let bare = next.run(request).await;
    let status = bare.status();
    let is_page = bare.headers().get(header::CONTENT_TYPE).is_some_and(|kind| kind.as_bytes().starts_with(b"text/html"));
    if is_page || !(status.is_client_error() || status.is_server_error()) {
        return bare;
    }
    let with_a_pass = bare.extensions().get::<Role>() == Some(&Role::Inspector);
    let trouble = match looks {
        _ if status.is_server_error() => Trouble::Ours(format!("{path} came with {status}")),
        _ if with_a_pass => Trouble::NothingOnThePass(format!("There is no page at {}.", short(&path))),
        true => Trouble::NotThere(format!("There is no page at {}.", short(&path))),
        false => Trouble::Unreadable,
    };
    let mut said = trouble.into_response();
    *said.status_mut() = status;
    let allowed = bare.headers().get(header::ALLOW).cloned();
    said.headers_mut().extend(allowed.map(|methods| (header::ALLOW, methods)));
    said
}

/// A page.
///
/// # Errors
/// When the template cannot be drawn, which is ours.
pub fn page(view: &impl Template) -> Answer {
    draw(StatusCode::OK, view)
}

/// The same page again, with everything typed still there and remarks beside the fields.
///
/// # Errors
/// When the template cannot be drawn, which is ours.
pub fn again(view: &impl Template) -> Answer {
    draw(StatusCode::UNPROCESSABLE_ENTITY, view)
}

fn draw(status: StatusCode, view: &impl Template) -> Answer {
    let html = view.render().map_err(|error| Trouble::Ours(format!("a page could not be drawn: {error}")))?;
    Ok((status, Html(html)).into_response())
}

/// On to another address, so that going back never sends a form again.
///
/// # Errors
/// Never; it is an answer like the others.
pub fn onward(address: &str) -> Answer {
    Ok(Redirect::to(address).into_response())
}

/// Whether an address somebody else may have written leads to this farm's own pages. Browsers drop tabs and line ends from
/// an address and take a backslash for a slash, so either could turn it into another site's.
#[must_use]
pub fn is_inside(address: &str) -> bool {
    let plain = !address.contains(|c: char| c.is_control() || c == '\\');
    address.starts_with('/') && !address.starts_with("//") && plain && address.len() < 400
}

/// A paper to keep: bytes, their type and a file's name.
///
/// # Errors
/// When the name cannot stand in a header, which is ours.
pub fn paper(bytes: Vec<u8>, kind: &'static str, name: &str) -> Answer {
    let plain: String = name.chars().filter(|c| c.is_ascii_alphanumeric() || matches!(c, '-' | '.' | '_')).collect();
    Response::builder()
        .header(header::CONTENT_TYPE, kind)
        .header(header::CONTENT_DISPOSITION, format!("inline; filename=\"{plain}\""))
        .body(Body::from(bytes))
        .map_err(|error| Trouble::Ours(error.to_string()))
}
