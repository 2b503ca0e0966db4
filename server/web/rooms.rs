//! Doors: every address, who may open it, and a list of them all, so that a test can try each door as everybody.

use super::{
    answer::Trouble,
    upload::LONGEST,
    visitor::{Role, Visitor},
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
    /// The least one must be to open it.
    pub least: Role,
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
    pub fn look<H: Handler<T, S>, T: 'static>(self, path: &'static str, least: Role, handler: H) -> Rooms<S> {
        self.door(Method::GET, path, least, get(handler), FORM)
    }

    /// A form to send.
    #[must_use]
    pub fn send<H: Handler<T, S>, T: 'static>(self, path: &'static str, least: Role, handler: H) -> Rooms<S> {
        self.door(Method::POST, path, least, post(handler), FORM)
    }

    /// A form with a file in it. Only this door reads more than a form's length, so that nobody can fill the memory at any
    /// other; who it is is asked before a byte is read.
    #[must_use]
    pub fn send_file<H: Handler<T, S>, T: 'static>(self, path: &'static str, least: Role, handler: H) -> Rooms<S> {
        self.door(Method::POST, path, least, post(handler), LONGEST)
    }

    fn door(mut self, method: Method, path: &'static str, least: Role, handler: MethodRouter<S>, most: usize) -> Rooms<S> {
        let handler = handler.layer(RequestBodyLimitLayer::new(most));
        let guarded = handler.layer(from_fn(move |visitor: Visitor, request: Request, next: Next| guard(least, visitor, request, next)));
        self.router = self.router.route(path, guarded);
        self.doors.push(Door { method, path, least });
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

async fn guard(least: Role, visitor: Visitor, request: Request, next: Next) -> Response {
    if visitor.role >= least {
        next.run(request).await
    } else if least == Role::Member && request.method() == Method::GET {
        Redirect::to("/own").into_response()
    } else if least == Role::Member {
        Trouble::VisitOver.into_response()
    } else if visitor.role == Role::Member {
        Trouble::TheFarms.into_response()
    } else if visitor.role == Role::Stranger && request.method() == Method::GET {
        let back = encoded(request.uri().path_and_query().map_or("/", |path| path.as_str()));
        Redirect::to(&format!("/signin?back={back}")).into_response()
    } else if visitor.role == Role::Stranger {
        Trouble::Forged.into_response()
    } else {
        Trouble::NotYours.into_response()
    }
}
