//! Filling a lot: one fill from one vessel, with the milkings in it and the jars by size. The code makes itself.

use super::{App, Frame, Here, field::Field, kind_of, remarks_of};
use crate::{
    store::{farm, lots, milkings, records, verdict},
    trade::{
        codes::LotCode,
        kinds::kind,
        measure::Weight,
        mixing::last_days,
        records::{Cell, Remark, Shape, read},
        slips,
        verdict::{Verdict, judge},
        when::Moment,
    },
    web::{
        answer::{Answer, Trouble, again, onward, page},
        form::{Fields, Sealed},
        rooms::Rooms,
        secret,
        visitor::Who,
    },
};
use askama::Template;
use rust_decimal::Decimal;
use sqlx::SqliteConnection;

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new().look("/fills/new", Who::Farm, new).send("/fills", Who::Farm, create)
}

#[derive(Template)]
#[template(path = "jars/fill.html")]
struct New {
    frame: Frame,
    entry: String,
    remarks: Vec<Remark>,
    code: String,
    /// The last days to write on the lid, with what the milkings ticked make of them.
    last: Vec<(String, String)>,
    milkings: Vec<Pourable>,
    /// The answers given to questions before.
    sure: Vec<String>,
    on_milkings: Vec<Remark>,
    usual: Field,
    others: Vec<Field>,
    more: Vec<Field>,
}

/// A milking that could be filled, and the last days of a lot of which it is the oldest milk.
struct Pourable {
    own: milkings::Unfilled,
    spoken: String,
    ticked: bool,
    last: Vec<(String, String)>,
}

impl Pourable {
    /// The last days as the live line shows them.
    fn lid(&self) -> String {
        let line = |(ways, says): &(String, String)| if ways.is_empty() { says.clone() } else { format!("{ways}: {says}") };
        self.last.iter().map(line).collect::<Vec<_>>().join(" · ")
    }
}

/// The next free code of the day a moment falls on.
async fn next_code(db: &mut SqliteConnection, here: &Here, filled: Moment) -> Result<Option<LotCode>, Trouble> {
    let day = here.zone().day(filled);
    let taken = lots::codes_on(db, here.zone().start_of(day), here.zone().end_of(day)).await?;
    Ok(LotCode::first_free(day, &taken))
}

async fn view(here: &Here, typed: &Fields, remarks: Vec<Remark>) -> Result<New, Trouble> {
    let mut db = here.app.ledger.read().await?;
    let filled = here.zone().parse_moment(typed.get("filled")).unwrap_or(here.now);
    let rules = farm::rule_book(&mut db).await?.on(here.zone().day(filled));
    let code = next_code(&mut db, here, filled).await?.map(|code| code.to_string()).unwrap_or_default();
    let opened = typed.get("entry").is_empty();
    let unfilled = milkings::unfilled(&mut db, here.now).await?;
    let vessel = unfilled.last().map_or("", |own| own.vessel.as_str()).to_owned();
    let vessels: Vec<(String, String)> =
        records::keys(&mut db, kind_of("vessels")?).await?.into_iter().map(|(_, name)| (name.clone(), name)).collect();
    drop(db);
    let typed =
        if opened { typed.clone().with("vessel", vessel.clone()).with("filled", here.zone().for_field(here.now)) } else { typed.clone() };
    let ticked =
        |own: &milkings::Unfilled| if opened { own.vessel == vessel } else { typed.all("milking").any(|session| session == own.session) };
    let field = |name, label, shape| Field::named(name, label, shape, &typed, &remarks);
    let milkings: Vec<Pourable> = unfilled
        .into_iter()
        .map(|own| Pourable {
            spoken: own.milk.spoken(),
            ticked: ticked(&own),
            last: last_days(&rules, filled, own.started, &[], here.zone()),
            own,
        })
        .collect();
    Ok(New {
        // The oldest milking ticked decides, and they stand in the order of milking.
        last: milkings.iter().find(|milking| milking.ticked).map(|milking| milking.last.clone()).unwrap_or_default(),
        sure: typed.all("sure").map(str::to_owned).collect(),
        frame: Frame::of(here, "Jars", "Fill jars").await?,
        entry: if opened { secret::entry() } else { typed.get("entry").to_owned() },
        code,
        milkings,
        on_milkings: remarks.iter().filter(|remark| remark.field == "milking").cloned().collect(),
        usual: field("half_gallons", "Half-gallons", Shape::Count(0, 999)).milk("half", ""),
        others: vec![
            field("quarts", "Quarts", Shape::Count(0, 999)).milk("quart", "").optional(true),
            field("pints", "Pints", Shape::Count(0, 999)).milk("pint", "").optional(true),
            field("gallons", "Gallons", Shape::Count(0, 999)).milk("gal", "").optional(true),
        ],
        more: vec![
            field("new_filter", "New filter?", Shape::OneOf(&["yes", "no"])),
            field("vessel", "From vessel", Shape::Words(40)).choosing(vessels, true),
            field("filled", "Filled at", Shape::Moment),
            field("left_in", "Left in the vessel", Shape::Milk).optional(true),
            field("note", "Note", Shape::Words(200)).optional(true),
        ],
        remarks,
    })
}

async fn new(here: Here) -> Answer {
    page(&view(&here, &Fields::default(), Vec::new()).await?)
}

async fn create(here: Here, Sealed(typed): Sealed) -> Answer {
    match kept(&here, &typed).await? {
        Ok(code) => onward(&format!("/lots/{code}")),
        Err(remarks) => again(&view(&here, &typed, remarks).await?),
    }
}

/// An empty count of a size that was not filled is none of it; the usual size must be counted.
fn lot_line(typed: &Fields, code: &str) -> Fields {
    let count = |name: &str| if typed.get(name).trim().is_empty() { "0".to_owned() } else { typed.get(name).to_owned() };
    Fields::default()
        .with("code", code)
        .with("filled", typed.get("filled"))
        .with("vessel", typed.get("vessel"))
        .with("half_gallons", typed.get("half_gallons"))
        .with("gallons", count("gallons"))
        .with("quarts", count("quarts"))
        .with("pints", count("pints"))
        .with("left_in", typed.get("left_in"))
        .with("new_filter", typed.get("new_filter"))
        .with("note", typed.get("note"))
}

async fn kept(here: &Here, typed: &Fields) -> Result<Result<String, Vec<Remark>>, Trouble> {
    let mut tx = here.app.ledger.begin().await?;
    if let Some(record) = records::by_entry(&mut tx, kind_of("lots")?, typed.get("entry")).await? {
        return Ok(Ok(record.cell(kind_of("lots")?, "code").text().to_owned()));
    }
    let filled = here.zone().parse_moment(typed.get("filled")).unwrap_or(here.now);
    let Some(code) = next_code(&mut tx, here, filled).await? else {
        return Ok(Err(vec![Remark::fault("filled", "Every code of that day is used up. Look at the day again.")]));
    };
    let line = lot_line(typed, code.as_str());
    let cells = match read(kind_of("lots")?, |column| line.get(column).to_owned(), here.farm.ways) {
        Ok(cells) => cells,
        Err(remarks) => return Ok(Err(remarks)),
    };
    let sessions: Vec<String> = typed.all("milking").map(str::to_owned).collect();
    let mut remarks = slips::remarks(kind_of("lots")?, &cells, here.farm.ways, here.latest());
    remarks.extend(milk_remarks(&mut tx, &cells, &sessions, typed, filled).await?);
    let remarks = slips::unanswered(remarks, |field| typed.is_sure(field));
    if !remarks.is_empty() {
        return Ok(Err(remarks));
    }
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    let source = |session: &String| {
        let line = Fields::default().with("lot", code.to_string()).with("milking", session.clone());
        read(kind("sources")?, |column| line.get(column).to_owned(), here.farm.ways).ok()
    };
    let mut all = vec![("lots", typed.get("entry").to_owned(), cells)];
    all.extend(
        sessions
            .iter()
            .enumerate()
            .filter_map(|(nth, session)| Some(("sources", secret::entry_within(typed.get("entry"), nth), source(session)?))),
    );
    for (name, entry, cells) in all {
        if let Err(refusal) = records::keep(&mut tx, kind_of(name)?, &entry, cells, &act).await {
            return Ok(Err(remarks_of(refusal)?
                .into_iter()
                .map(|remark| Remark { field: if name == "sources" { "milking".to_owned() } else { remark.field }, ..remark })
                .collect()));
        }
    }
    let loud = loud(&mut tx, here, typed, code.as_str()).await?;
    if !loud.is_empty() {
        return Ok(Err(loud));
    }
    tx.commit().await?;
    Ok(Ok(code.to_string()))
}

/// Asks out loud, before anything is kept, when the milk in these jars may not go: a held can, a treated cow, a milker who was
/// ill. The lot is judged as it would stand, inside the act.
async fn loud(db: &mut SqliteConnection, here: &Here, typed: &Fields, code: &str) -> Result<Vec<Remark>, Trouble> {
    if typed.is_sure("milking") {
        return Ok(Vec::new());
    }
    let Some(lot) = lots::find(&mut *db, code).await? else { return Ok(Vec::new()) };
    let facts = verdict::facts(db, &[lot.number], here.zone(), here.now).await?;
    let ask = |verdict: Verdict| {
        let against = verdict.findings.iter().find(|finding| finding.speaks_against_filling())?;
        let says = format!(
            "{} These jars would say {}, and mixing never makes it right. Leave it in the can, or keep it if the jars are filled already.",
            against.reason(here.zone()),
            against.word()
        );
        Some(Remark::question("milking", says, None))
    };
    Ok(facts.first().and_then(|facts| ask(judge(facts, here.now))).into_iter().collect())
}

/// What there is to say about the milk behind the jars: where it is from, and whether there was that much.
async fn milk_remarks(
    db: &mut SqliteConnection,
    cells: &[Cell],
    sessions: &[String],
    typed: &Fields,
    filled: Moment,
) -> Result<Vec<Remark>, Trouble> {
    let mut remarks = Vec::new();
    if sessions.is_empty() {
        remarks.push(Remark::fault("milking", "Tick the milkings that are in these jars. Without them nobody can say whose milk it is."));
        return Ok(remarks);
    }
    let jars = kind_of("lots")?.jars(cells);
    let left = Weight::parse(typed.get("left_in")).unwrap_or(Weight::ZERO);
    let (milk, started) = milkings::in_the_can(&mut *db, sessions).await?;
    if started.is_some_and(|started| filled < started) {
        remarks.push(Remark::fault(
            "filled",
            "These jars were filled before that milking started. Look at the time, or at the milking ticked.",
        ));
    }
    if jars.is_none() {
        remarks.push(Remark::fault("half_gallons", "Count the jars: at least one."));
    } else if jars.milk().in_pounds() > milk.in_pounds() * Decimal::new(105, 2) {
        remarks.push(Remark::question(
            "half_gallons",
            format!("{jars} hold {}, but only {milk} went into the can. Keep it, or count again.", jars.milk()),
            None,
        ));
    } else if (jars.milk() + left).in_pounds() < milk.in_pounds() * Decimal::new(60, 2) {
        remarks.push(Remark::question(
            "half_gallons",
            format!("{jars} hold {}, and {milk} went into the can. Is something left in it, or a jar not counted?", jars.milk()),
            None,
        ));
    }
    if let Some(tied) = milkings::tied_to(&mut *db, typed.get("vessel"), started.unwrap_or(filled)).await? {
        remarks.push(Remark::question("vessel", format!("No clean break of {} is written down since lot {tied}. Keep it, and a call-back ties both lots together; or write the clean break first.", typed.get("vessel")), None));
    }
    Ok(remarks)
}
