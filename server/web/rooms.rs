//! Doors: every address, who may open it, and a list of them all, so that a test can try each door as everybody.

use super::{
    answer::Trouble,
    upload::LONGEST,
    visitor::{Role, Visitor, Who},
};
use axum::{
    Router,
    extract::Request,
    handler::Handler,
    http::Method,
    middleware::{Next, from_fn},
    response::{IntoResponse, Redirect, Response},
    routing::{MethodRouter, get, post},
};
use tower_http::limit::RequestBodyLimitLayer;

/// The longest form any door reads, in bytes.
const FORM: usize = 512 * 1024;

/// One door.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Door {
    /// GET or POST.
    pub method: Method,
    /// Its address.
    pub path: &'static str,
    /// Whom it is for.
    pub who: Who,
}

/// Doors with their handlers.
pub struct Rooms<S> {
    router: Router<S>,
    doors: Vec<Door>,
}

impl<S: Clone + Send + Sync + 'static> Rooms<S> {
    /// No doors yet.
    #[must_use]
    pub fn new() -> Rooms<S> {
        Rooms { router: Router::new(), doors: Vec::new() }
    }

    /// A page to look at.
    #[must_use]
    pub fn look<H: Handler<T, S>, T: 'static>(self, path: &'static str, who: Who, handler: H) -> Rooms<S> {
        self.door(Method::GET, path, who, get(handler), FORM)
    }

    /// A form to send.
    #[must_use]
    pub fn send<H: Handler<T, S>, T: 'static>(self, path: &'static str, who: Who, handler: H) -> Rooms<S> {
        self.door(Method::POST, path, who, post(handler), FORM)
    }

    /// A form with a file in it. Only this door reads more than a form's length, so that nobody can fill the memory at any
    /// other; who it is is asked before a byte is read.
    #[must_use]
    pub fn send_file<H: Handler<T, S>, T: 'static>(self, path: &'static str, who: Who, handler: H) -> Rooms<S> {
        self.door(Method::POST, path, who, post(handler), LONGEST)
    }

    fn door(mut self, method: Method, path: &'static str, who: Who, handler: MethodRouter<S>, most: usize) -> Rooms<S> {
        let handler = handler.layer(RequestBodyLimitLayer::new(most));
        let guarded = handler.layer(from_fn(move |visitor: Visitor, request: Request, next: Next| guard(who, visitor, request, next)));
        self.router = self.router.route(path, guarded);
        self.doors.push(Door { method, path, who });
        self
    }

    /// These doors and those.
    #[must_use]
    pub fn and(mut self, other: Rooms<S>) -> Rooms<S> {
        self.router = self.router.merge(other.router);
        self.doors.extend(other.doors);
        self
    }

    /// The router, and the list of its doors.
    pub fn open(self) -> (Router<S>, Vec<Door>) {
        (self.router, self.doors)
    }
}

impl<S: Clone + Send + Sync + 'static> Default for Rooms<S> {
    fn default() -> Rooms<S> {
        Rooms::new()
    }
}

/// An address as the value of a query: everything but letters, digits and slashes by its bytes (RFC 3986).
fn encoded(address: &str) -> String {
    address
        .bytes()
        .map(|byte| {
            if byte.is_ascii_alphanumeric() || matches!(byte, b'/' | b'-' | b'.' | b'_') {
                char::from(byte).to_string()
            } else {
                format!("%{byte:02X}")
            }
        })
        .collect()
}

/// Lets somebody in, or says calmly why not: whoever has not come in yet is shown the way in that belongs to the door, and
/// whoever has is told whose it is.
async fn guard(who: Who, visitor: Visitor, request: Request, next: Next) -> Response {
    if who.lets_in(visitor.role) {
        return next.run(request).await;
    }
    let looks = request.method() == Method::GET;
    match (who, visitor.role) {
        (_, Role::Member) => Trouble::TheFarms.into_response(),
        (_, Role::Inspector) => Trouble::NotOnThePass.into_response(),
        (Who::Household, Role::Stranger) if looks => Redirect::to("/own").into_response(),
        (Who::Household, Role::Stranger) => Trouble::VisitOver.into_response(),
        (Who::Household, _) => Trouble::AHouseholds.into_response(),
        (Who::Inspector, Role::Stranger) if looks => Redirect::to("/pass").into_response(),
        (Who::Inspector, Role::Stranger) => Trouble::PassOver.into_response(),
        (Who::Inspector, _) => Trouble::AnInspectors.into_response(),
        (_, Role::Stranger) if looks => {
            let back = encoded(request.uri().path_and_query().map_or("/", |path| path.as_str()));
            Redirect::to(&format!("/signin?back={back}")).into_response()
        }
        (_, Role::Stranger) => Trouble::Forged.into_response(),
        (_, Role::Helper | Role::Owner) => Trouble::NotYours.into_response(),
    }
}
