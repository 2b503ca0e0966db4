//! The first visit: the farm, its clock and scale, the rules of its place, and its owner. Open only while nobody can sign in.

use super::{App, Frame, SESSION, SESSION_HOURS, field::Field, kind_of, remarks_of};
use crate::{
    store::{farm, hands, records},
    trade::{
        followed,
        measure::Scale,
        records::{Cell, Remark, Shape, Ways, read},
        rule_slips,
        rules::{self, RuleSet},
        slips,
        when::{Moment, Zone, day_shown},
    },
    web::{
        answer::{Answer, Trouble, again, onward, page},
        form::{self, Fields},
        rooms::Rooms,
        secret,
        visitor::{Who, cookie, set_cookie},
    },
};
use askama::Template;
use axum::{
    extract::{Request, State},
    http::HeaderMap,
    response::Response,
};
use sqlx::SqliteConnection;

/// The cookie that ties the set-up form to the browser it was opened in.
const DOOR: &str = "tallypail_setup";

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new().look("/setup", Who::Anybody, show).send("/setup", Who::Anybody, create)
}

#[derive(Template)]
#[template(path = "setup/show.html")]
struct Show {
    frame: Frame,
    fields: Vec<Field>,
    remarks: Vec<Remark>,
    door: String,
    /// Questions that were answered already.
    sure: Vec<String>,
    /// The password once more, when only a question is left, so that one tap answers it; empty otherwise.
    password: String,
}

impl Show {
    /// The question about chilling, where it is asked.
    fn chilling(&self) -> Option<&Remark> {
        self.remarks.iter().find(|remark| remark.field == CHILLING)
    }
}

async fn done(app: &App) -> Result<bool, Trouble> {
    Ok(!hands::list(&mut *app.ledger.read().await?).await?.is_empty())
}

async fn show(State(app): State<App>) -> Answer {
    if done(&app).await? {
        return onward("/");
    }
    let view =
        view(&app, &Fields::default().with("scale", "°F").with("rules", "default-conservative").with("best_by_days", "10"), Vec::new())
            .await?;
    with_door(&app, &view, page(&view)?)
}

/// The farm that was taken in from a folder, if there is one: then only its owner is missing.
async fn taken_in(app: &App) -> Result<Option<farm::Farm>, Trouble> {
    Ok(farm::current(&mut *app.ledger.read().await?).await?)
}

/// The time zones offered.
const ZONES: [&str; 12] = [
    "America/New_York",
    "America/Chicago",
    "America/Denver",
    "America/Phoenix",
    "America/Los_Angeles",
    "America/Anchorage",
    "Pacific/Honolulu",
    "Europe/London",
    "Europe/Paris",
    "Europe/Berlin",
    "Pacific/Auckland",
    "UTC",
];

/// Every rule set there is, by its short name. What is no law is said not to be.
fn places_to_choose() -> Result<Vec<(String, String)>, Trouble> {
    let said = |set: &RuleSet| {
        if set.is_law() || set.title.contains("not law") { set.title.clone() } else { format!("{} (not law)", set.title) }
    };
    let places = rules::places().map_err(|fault| Trouble::Ours(fault.to_string()))?;
    Ok(places.iter().map(|set| (set.id.clone(), said(set))).collect())
}

async fn view(app: &App, typed: &Fields, remarks: Vec<Remark>) -> Result<Show, Trouble> {
    let owner = Field::named("owner", "Your name", Shape::Words(60), typed, &remarks);
    if let Some(farm) = taken_in(app).await? {
        let frame = Frame::outside(app, &farm.name, "Who owns this ledger?");
        return Ok(Show { frame, fields: vec![owner], remarks, door: secret::token(), sure: Vec::new(), password: String::new() });
    }
    let (places, zones) = (places_to_choose()?, ZONES.map(|zone| (zone.to_owned(), zone.replace('_', " "))).to_vec());
    let field = |name, label, shape| Field::named(name, label, shape, typed, &remarks);
    let fields = vec![
        field("name", "Name of the farm", Shape::Words(80)),
        field("zone", "Time zone", Shape::Zone).choosing(zones, false).hinted("The farm's own clock; a withdrawal runs its full hours across a clock change."),
        field("scale", "Thermometers read in", Shape::OneOf(&["°F", "°C"])),
        field("rules", "Rules of the place", Shape::Words(60)).choosing(places, false).hinted("What was read of each place's rule, with its source and date. It may have changed: check it with the law or your health department. You can change every figure."),
        field("best_by_days", "Days a jar is good for", Shape::Count(1, 60)).hinted("Counted from the oldest milking in it, unless the rule counts otherwise. Your own choice where no rule names one."),
        field("health", "Health department, with phone", Shape::Words(160)).optional(true),
        field("vet", "Vet, with phone", Shape::Words(120)).optional(true),
        owner,
    ];
    let asks_only = !remarks.is_empty() && remarks.iter().all(|remark| remark.question.is_some());
    let password = if asks_only { typed.get("password").to_owned() } else { String::new() };
    // With anything else left to put right, another set may be chosen, and an answer about this one must not count for that.
    let sure = if asks_only { typed.all("sure").map(str::to_owned).collect() } else { Vec::new() };
    Ok(Show { frame: Frame::outside(app, "Tallypail", "Set up the farm"), fields, remarks, door: secret::token(), sure, password })
}

fn with_door(app: &App, show: &Show, mut response: Response) -> Answer {
    set_cookie(&mut response, DOOR, &show.door, 7200, app.secure);
    Ok(response)
}

async fn create(State(app): State<App>, headers: HeaderMap, request: Request) -> Answer {
    let typed = form::read(request).await?.answered();
    if done(&app).await? || !cookie(&headers, DOOR).is_some_and(|door| secret::same(&door, typed.get("door"))) {
        return Err(Trouble::Forged);
    }
    let first = match read_all(&app, &typed, taken_in(&app).await?.is_some()) {
        Ok(first) => first,
        Err(remarks) => {
            let view = view(&app, &typed, remarks).await?;
            return with_door(&app, &view, again(&view)?);
        }
    };
    keep(&app, first).await
}

/// What the first visit sets up.
struct First {
    /// The farm and its rules; none when they were taken in from a folder.
    lines: Vec<(&'static str, Vec<Cell>)>,
    owner: String,
    password: String,
}

fn ours() -> Vec<Remark> {
    vec![Remark::fault("rules", "The rule sets could not be read.")]
}

fn read_all(app: &App, typed: &Fields, only_owner: bool) -> Result<First, Vec<Remark>> {
    let ways = Ways {
        zone: Zone::parse(typed.get("zone")).unwrap_or(Zone::UTC),
        scale: Scale::parse(typed.get("scale")).unwrap_or(Scale::Fahrenheit),
    };
    let today = ways.zone.day(app.clock.now()).to_string();
    let typed = typed.clone().with("since", today.clone());
    let mut remarks = Vec::new();
    let (owner, password) = own_words(&typed, &mut remarks);
    if only_owner {
        return if remarks.is_empty() { Ok(First { lines: Vec::new(), owner, password }) } else { Err(remarks) };
    }
    let farm = read(kind_of("farm").map_err(|_| ours())?, |name| typed.get(name).to_owned(), ways);
    let set = rules::places().map_err(|_| ours())?.into_iter().find(|set| set.id == typed.get("rules"));
    let rules = match &set {
        Some(set) => {
            let line = Fields(followed::written(set, ways.zone.day(app.clock.now()), typed.get("best_by_days")));
            read(kind_of("rules").map_err(|_| ours())?, |name| line.get(name).to_owned(), ways).and_then(|cells| asked(set, &typed, cells))
        }
        None => Err(vec![Remark::fault("rules", "Choose the rules to start from. “Place not listed” is one of them.")]),
    };
    match (farm, rules, remarks.is_empty()) {
        (Ok(farm), Ok(rules), true) => Ok(First { lines: vec![("farm", farm), ("rules", rules)], owner, password }),
        (farm, rules, _) => Err(farm.err().into_iter().flatten().chain(rules.err().into_iter().flatten()).chain(remarks).collect()),
    }
}

/// The field of the question about a place whose chilling nobody here has read.
const CHILLING: &str = "chilling";

/// Asks before a set without chill steps is taken, under which no lot can be told cold in time, and before one by which no
/// milk goes out.
fn asked(set: &RuleSet, typed: &Fields, cells: Vec<Cell>) -> Result<Vec<Cell>, Vec<Remark>> {
    let mut asked: Vec<Remark> =
        rule_slips::barred(&set.title, &set.channels).map(|says| Remark::question("rules", says, None)).into_iter().collect();
    let says = "How fast milk must be cold is not known for this place: every lot will say Can't tell until you write it in. \
                Take it all the same, or start from the careful rules?";
    if set.steps.0.is_empty() {
        asked.push(Remark::question(CHILLING, says, None));
    }
    let asked = slips::unanswered(asked, |field| typed.is_sure(field));
    if asked.is_empty() { Ok(cells) } else { Err(asked) }
}

/// The owner's name and password, with what is wrong with them.
fn own_words(typed: &Fields, remarks: &mut Vec<Remark>) -> (String, String) {
    let (owner, password) = (typed.get("owner").trim().to_owned(), typed.get("password").to_owned());
    if owner.is_empty() || owner.chars().count() > 60 {
        remarks.push(Remark::fault("owner", "Write your name, up to 60 letters. It stands beside everything you write."));
    }
    if password.chars().count() < secret::SHORTEST_PASSWORD || password.len() > 400 {
        remarks.push(Remark::fault(
            "password",
            format!("A password needs {} characters or more; a few words together are good.", secret::SHORTEST_PASSWORD),
        ));
    }
    (owner, password)
}

async fn keep(app: &App, first: First) -> Answer {
    let now = app.clock.now();
    let hash = hashed(first.password).await?;
    let (token, seal) = (secret::token(), secret::token());
    let mut tx = app.ledger.begin().await?;
    if !hands::list(&mut tx).await?.is_empty() {
        return Err(Trouble::Forged);
    }
    write_down(&mut tx, first.lines, &first.owner, now).await?;
    hands::record(&mut tx, &hands::Hand { name: first.owner.clone(), role: "owner".to_owned(), secret: hash }, now).await?;
    hands::open_session(&mut tx, &first.owner, &secret::remembered(&token), &seal, now, now.plus_hours(SESSION_HOURS)).await?;
    tx.commit().await?;
    tracing::info!("the farm was set up on {}", day_shown(Zone::UTC.day(now)));
    let mut response = onward("/")?;
    set_cookie(&mut response, SESSION, &token, SESSION_HOURS * 3600, app.secure);
    Ok(response)
}

/// The password as it is kept. Making it takes a while, so it is made beside the work of others.
async fn hashed(password: String) -> Result<String, Trouble> {
    let hash = tokio::task::spawn_blocking(move || secret::hash(&password)).await.ok().flatten();
    hash.ok_or_else(|| Trouble::Ours("the password could not be hashed".to_owned()))
}

/// The farm and its rules, as records like any other.
async fn write_down(db: &mut SqliteConnection, lines: Vec<(&'static str, Vec<Cell>)>, owner: &str, now: Moment) -> Result<(), Trouble> {
    let act = records::act(&mut *db, now, owner, "set-up").await?;
    for (name, cells) in lines {
        if let Err(refusal) = records::keep(&mut *db, kind_of(name)?, &secret::entry(), cells, &act).await {
            let remarks = remarks_of(refusal)?;
            return Err(Trouble::Ours(format!("set-up was refused: {remarks:?}")));
        }
    }
    Ok(())
}
