//! One file for each thing the farmer does. A handler makes four moves: read, decide, keep, answer.
//!
//! Every file owns its doors; this one opens them all, finds out who is there, and frames each page.

pub mod bad_day;
pub mod binder;
pub mod books;
pub mod bound;
pub mod calendar;
pub mod callbacks;
pub mod chill;
pub mod complaints;
pub mod costs;
pub mod counts;
pub mod discards;
pub mod empties;
pub mod eventpapers;
pub mod events;
pub mod field;
pub mod fills;
mod frame;
pub mod gathered;
pub mod health;
pub mod herd;
pub mod jar;
pub mod keeping;
pub mod lab;
pub mod late;
pub mod lotpaper;
pub mod lots;
pub mod made;
pub mod mail;
pub mod members;
pub mod milkings;
pub mod newcomer;
pub mod own;
pub mod papers;
pub mod pass;
pub mod people;
pub mod pickups;
pub mod practice;
pub mod proposed;
pub mod records;
pub mod reports;
pub mod rules;
pub mod setup;
pub mod sheets;
pub mod signin;
pub mod stop;
pub mod today;
pub mod trace;
pub mod treated;
pub mod tries;
pub mod warm;

pub use frame::{Frame, OwnFrame, Undo};

use crate::{
    copies::Copies,
    post::Post,
    store::{Ail, Failure, Ledger, ail, farm, hands, journal, own as households, passes, records::Refusal},
    trade::{
        kinds::{Kind, kind},
        records::Remark,
        when::{Moment, Zone},
    },
    web::{
        answer::{Answer, Trouble, in_words},
        assets,
        clock::Clock,
        headers,
        patient::patient,
        rooms::{Door, Rooms},
        secret,
        upload::LONGEST,
        visitor::{Role, Visitor, cookie},
    },
};
use axum::{
    Router,
    extract::{FromRequestParts, Request, State},
    http::{HeaderMap, HeaderValue, Method, header, request::Parts},
    middleware::{Next, from_fn, from_fn_with_state},
    response::{IntoResponse, Redirect, Response},
    routing::get,
};
use std::time::Duration;
use tower_http::{
    catch_panic::CatchPanicLayer, compression::CompressionLayer, limit::RequestBodyLimitLayer, timeout::TimeoutLayer, trace::TraceLayer,
};
use tracing::Span;

/// What every handler can reach.
#[derive(Clone, Debug)]
pub struct App {
    /// The ledger.
    pub ledger: Ledger,
    /// The clock.
    pub clock: Clock,
    /// What every page says when this is the sample farm.
    pub demo: Option<String>,
    /// Whether cookies may only travel over TLS.
    pub secure: bool,
    /// How e-mails of a call-back leave; nothing where no mail server is set.
    pub post: Option<Post>,
    /// Where copies go by themselves; nothing where no folder is set.
    pub copies: Option<Copies>,
}

impl App {
    /// A farm's own program, over this ledger and by this clock, with nothing else set.
    #[must_use]
    pub const fn new(ledger: Ledger, clock: Clock) -> App {
        App { ledger, clock, demo: None, secure: false, post: None, copies: None }
    }
}

/// The session cookie.
pub const SESSION: &str = "tallypail_session";
/// How long a session lasts.
pub const SESSION_HOURS: i64 = 12;
/// The cookie of a household's visit.
pub const VISIT: &str = "tallypail_visit";
/// How long a visit lasts: long enough for a crate, short enough for a phone that is passed on.
pub const VISIT_MINUTES: i64 = 30;

/// The cookie of somebody who came in with a pass.
pub const PASS: &str = "tallypail_pass";

/// Whoever is here, on which farm, at what time.
#[derive(Clone, Debug)]
pub struct Here {
    /// What every handler can reach.
    pub app: App,
    /// Who it is.
    pub visitor: Visitor,
    /// The farm.
    pub farm: farm::Farm,
    /// What time it is, fixed once for the whole request. A clock with a year that cannot be right is not believed: it is then as
    /// late as when the last record was written, so that milk can be stopped all the same.
    pub now: Moment,
    /// When the last record was written, where that lies ahead of the clock.
    pub ahead: Option<Moment>,
    /// Whether they sent a form. A page drawn in answer to one, and not gone on from, says what was not kept yet.
    pub sent: bool,
}

impl Here {
    /// The farm's clock.
    #[must_use]
    pub const fn zone(&self) -> Zone {
        self.farm.ways.zone
    }

    /// The latest time it may be. A clock that is behind the ledger cannot say what has not come yet, so nothing of the year after
    /// the last record is refused for that.
    #[must_use]
    pub fn latest(&self) -> Moment {
        self.ahead.map_or(self.now, |last| last.plus_hours(366 * 24))
    }
}

/// Minutes by which a clock may be put back, as clocks are when they are put right, before anything is said of it.
const PUT_BACK: i64 = 10;

impl FromRequestParts<App> for Here {
    type Rejection = Response;

    async fn from_request_parts(parts: &mut Parts, app: &App) -> Result<Here, Response> {
        let visitor = parts.extensions.get::<Visitor>().cloned().unwrap_or_else(Visitor::stranger);
        let found = async {
            let mut db = app.ledger.read().await?;
            Ok::<_, Failure>((farm::current(&mut db).await?, journal::last_written(&mut db).await?))
        };
        match found.await {
            Ok((Some(farm), last)) => {
                let (sent, clock) = (parts.method == Method::POST, app.clock.now());
                let ahead = last.filter(|last| *last > clock.plus_minutes(PUT_BACK));
                let now = last.filter(|_| !clock.can_be_right()).unwrap_or(clock);
                Ok(Here { app: app.clone(), visitor, farm, now, ahead, sent })
            }
            Ok((None, _)) => Err(Redirect::to("/setup").into_response()),
            Err(failure) => Err(Trouble::from(failure).into_response()),
        }
    }
}

/// A household at its own page.
#[derive(Clone, Debug)]
pub struct Household {
    /// Where and when, and the seal of their forms.
    pub here: Here,
    /// Whose page it is: the record's number, from the visit and never from the address or the form.
    pub person: i64,
}

impl FromRequestParts<App> for Household {
    type Rejection = Response;

    async fn from_request_parts(parts: &mut Parts, app: &App) -> Result<Household, Response> {
        let here = Here::from_request_parts(parts, app).await?;
        match here.visitor.household {
            Some(person) => Ok(Household { here, person }),
            None => Err(Trouble::AHouseholds.into_response()),
        }
    }
}

impl From<Failure> for Trouble {
    fn from(failure: Failure) -> Trouble {
        match failure {
            Failure::Sql(error) => error.into(),
            Failure::Moved(says) => Trouble::Moved(says),
            Failure::File(says) => Trouble::Ours(says),
        }
    }
}

impl From<sqlx::Error> for Trouble {
    fn from(error: sqlx::Error) -> Trouble {
        let detail = error.to_string();
        match ail(&error) {
            Some(Ail::Full) => Trouble::NoRoom(detail),
            Some(Ail::ReadOnly) => Trouble::ReadOnly(detail),
            Some(Ail::Busy) => Trouble::Busy(detail),
            Some(Ail::Disk) => Trouble::Disk(detail),
            None => Trouble::Ours(detail),
        }
    }
}

/// The kind of record a page writes.
///
/// # Errors
/// When no kind has that name, which is ours.
pub fn kind_of(name: &str) -> Result<&'static Kind, Trouble> {
    kind(name).ok_or_else(|| Trouble::Ours(format!("no kind of record is called {name}")))
}

/// The remarks of a refusal, when it is one of those; ours otherwise.
///
/// # Errors
/// When the ledger itself failed.
pub fn remarks_of(refusal: Refusal) -> Result<Vec<Remark>, Trouble> {
    match refusal {
        Refusal::Remarks(remarks) => Ok(remarks),
        Refusal::Failure(failure) => Err(failure.into()),
    }
}

/// Every door there is.
#[must_use]
pub fn rooms() -> Rooms<App> {
    signin::rooms()
        .and(setup::rooms())
        .and(today::rooms())
        .and(herd::rooms())
        .and(lots::rooms())
        .and(milkings::rooms())
        .and(fills::rooms())
        .and(made::rooms())
        .and(chill::rooms())
        .and(counts::rooms())
        .and(pickups::rooms())
        .and(empties::rooms())
        .and(own::rooms())
        .and(pass::rooms())
        .and(people::rooms())
        .and(costs::rooms())
        .and(newcomer::rooms())
        .and(members::rooms())
        .and(books::rooms())
        .and(trace::rooms())
        .and(bad_day::rooms())
        .and(complaints::rooms())
        .and(callbacks::rooms())
        .and(practice::rooms())
        .and(events::rooms())
        .and(mail::rooms())
        .and(binder::rooms())
        .and(rules::rooms())
        .and(calendar::rooms())
        .and(records::rooms())
        .and(stop::rooms())
        .and(warm::rooms())
        .and(treated::rooms())
        .and(late::rooms())
        .and(jar::rooms())
        .and(lab::rooms())
        .and(health::rooms())
}

/// The whole program as one router, with a list of its doors.
pub fn open(app: App) -> (Router, Vec<Door>) {
    let (router, doors) = rooms().open();
    let secure = app.secure;
    let router = router
        .fallback(nothing_here)
        .layer(from_fn_with_state(app.clone(), recognise))
        .route("/assets/look.css", get(assets::look))
        .route("/assets/hand.js", get(assets::hand))
        .route("/assets/lid.svg", get(assets::lid))
        .layer(from_fn(patient))
        .layer(CatchPanicLayer::new())
        // The outermost stop. Each door has its own, far shorter one; see `web::rooms`.
        .layer(RequestBodyLimitLayer::new(LONGEST))
        .layer(TimeoutLayer::with_status_code(axum::http::StatusCode::SERVICE_UNAVAILABLE, Duration::from_secs(30)))
        .layer(from_fn(in_words))
        .layer(CompressionLayer::new())
        .layer(from_fn(move |request: Request, next: Next| headers::forbid(secure, request, next)))
        .layer(TraceLayer::new_for_http().make_span_with(asked))
        .with_state(app);
    (router, doors)
}

/// What the log calls a request: never what stands behind the question mark, which may be a name or a phone that was looked for.
fn asked(request: &Request) -> Span {
    tracing::debug_span!("asked", method = %request.method(), path = request.uri().path())
}

async fn nothing_here(request: Request) -> Answer {
    let says = format!("There is no page at {}.", crate::trade::short(request.uri().path()));
    let with_a_pass = request.extensions().get::<Visitor>().is_some_and(|visitor| visitor.pass.is_some());
    Err(if with_a_pass { Trouble::NothingOnThePass(says) } else { Trouble::NotThere(says) })
}

/// Finds out who sent a request, before any door is tried. Pages with names on them are not left in a shared phone's cache.
async fn recognise(State(app): State<App>, mut request: Request, next: Next) -> Response {
    let visitor = visitor(&app, request.headers()).await.unwrap_or_else(|_| Visitor::stranger());
    let role = visitor.role;
    request.extensions_mut().insert(visitor);
    let mut response = next.run(request).await;
    // Whoever words a refusal further out has to know whose way back it shows.
    response.extensions_mut().insert(role);
    response.headers_mut().insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    response
}

/// Somebody of the farm by their session, or else a household by its visit, or somebody with a pass: on a phone that has several, the
/// first of them counts.
async fn visitor(app: &App, headers: &HeaderMap) -> Result<Visitor, Failure> {
    let now = app.clock.now();
    if let Some(token) = cookie(headers, SESSION)
        && let Some(session) = hands::session(&mut *app.ledger.read().await?, &secret::remembered(&token), now).await?
    {
        return Ok(Visitor { role: Role::parse(&session.role), name: session.name, seal: session.seal, ..Visitor::stranger() });
    }
    if let Some(token) = cookie(headers, VISIT)
        && let Some(visit) = households::visit(&mut *app.ledger.read().await?, &secret::remembered(&token), now).await?
    {
        let household = Some(visit.person);
        return Ok(Visitor { role: Role::Member, name: visit.label, seal: visit.seal, household, pass: None });
    }
    if let Some(token) = cookie(headers, PASS) {
        return with_a_pass(app, &secret::remembered(&token), now).await;
    }
    Ok(Visitor::stranger())
}

/// Somebody with a pass, as long as it opens: a visit that began before midnight ends with the pass all the same.
async fn with_a_pass(app: &App, token_hash: &str, now: Moment) -> Result<Visitor, Failure> {
    let mut db = app.ledger.read().await?;
    let Some((pass, seal)) = passes::visit(&mut db, token_hash, now).await? else { return Ok(Visitor::stranger()) };
    let zone = farm::current(&mut db).await?.map_or(Zone::UTC, |farm| farm.ways.zone);
    if !pass.opens(zone, now) {
        return Ok(Visitor::stranger());
    }
    Ok(Visitor { role: Role::Inspector, name: pass.for_whom, seal, household: None, pass: Some(pass.number) })
}
