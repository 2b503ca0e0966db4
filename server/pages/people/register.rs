//! The register of agreements: who signed what and who lacks something, and a form that keeps many papers in one act.

use crate::{
    pages::{
        Here,
        field::Field,
        kind_of, remarks_of,
        sheets::{self, Form, form_of},
    },
    store::{people, records},
    trade::{
        agreements::{Line, Paper, register},
        household_slips,
        kinds::AGREED,
        needs::Lack,
        records::{Cell, Remark, Shape, read},
        slips,
        when::Day,
    },
    web::{
        answer::{Answer, Trouble, onward},
        form::{Fields, Sealed},
        secret,
    },
};
use askama::Template;
use axum::{extract::Query, http::StatusCode, http::Uri, response::IntoResponse};
use sqlx::SqliteConnection;

/// Where the register stands.
const ADDRESS: &str = "/people/agreements";

/// The form above the register.
#[derive(Template)]
#[template(path = "people/register.html")]
struct Many {
    seal: String,
    entry: String,
    remarks: Vec<Remark>,
    households: Vec<Tick>,
    /// Each sort of paper, what it is, and whether it is ticked.
    sorts: Vec<(&'static str, &'static str, bool)>,
    days: Vec<Field>,
    is_open: bool,
}

/// A household to tick.
struct Tick {
    label: String,
    called: String,
    /// What it lacks, or how its milk reaches it.
    hint: String,
    ticked: bool,
}

pub(super) async fn show(here: Here, uri: Uri, Query(asked): Query<Vec<(String, String)>>) -> Answer {
    let lines = lines(&mut *here.app.ledger.read().await?, here.zone().day(here.now)).await?;
    drawn(&here, form_of(uri.path()).1, &lines, &Fields(asked), Vec::new()).await
}

/// Every household that is here, with what it needs, lacks and signed.
async fn lines(db: &mut SqliteConnection, today: Day) -> Result<Vec<Line>, Trouble> {
    let (takers, asked) = (people::takers(&mut *db, today).await?, people::asked(&mut *db, today).await?);
    let all: Vec<Paper> = people::papers(db).await?;
    let line = |own: people::Taker| Line {
        needs: asked.of(own.way),
        papers: all.iter().filter(|paper| paper.person == own.number).cloned().collect(),
        number: own.number,
        label: own.label,
        name: own.name,
        way: own.way,
        lacks: own.lacks,
    };
    Ok(takers.into_iter().filter(|own| own.is_here(today)).map(line).collect())
}

async fn drawn(here: &Here, form: Form, lines: &[Line], typed: &Fields, remarks: Vec<Remark>) -> Answer {
    let today = here.zone().day(here.now);
    let lacking = typed.get("tick") == "lacking";
    let tick = |own: &Line| Tick {
        ticked: typed.all("who").any(|who| who == own.label) || lacking && own.lacks.iter().any(is_of_a_paper),
        label: own.label.clone(),
        called: format!("{} {}", own.label, own.name),
        hint: if own.lacks.is_empty() {
            own.way.to_string()
        } else {
            own.lacks.iter().map(ToString::to_string).collect::<Vec<_>>().join("; ")
        },
    };
    let given = if typed.get("given").is_empty() { typed.clone().with("given", today.to_string()) } else { typed.clone() };
    let day = |name: &str, label: &str| Field::named(name, label, Shape::Day, &given, &remarks);
    let many = Many {
        seal: here.visitor.seal.clone(),
        entry: typed.entry(),
        households: lines.iter().map(tick).collect(),
        sorts: AGREED.iter().map(|sort| (*sort, meant(sort), typed.all("sort").any(|own| own == *sort))).collect(),
        days: vec![
            day("given", "Given to them on"),
            day("signed", "Signed on").optional(true),
            day("until", "Good to").optional(true).hinted("Empty when it does not run out"),
        ],
        is_open: lacking || here.sent,
        remarks,
    };
    let refused = !many.remarks.is_empty();
    let above = many.render().map_err(|error| Trouble::Ours(error.to_string()))?;
    let answer = sheets::answer(here, "People", register(lines, &here.farm.name, today), form, ADDRESS, "", above).await?;
    Ok(if refused { (StatusCode::UNPROCESSABLE_ENTITY, answer).into_response() } else { answer })
}

/// What a paper is, in a few words.
fn meant(sort: &str) -> &'static str {
    match sort {
        "bill of sale" => "They bought their share of the herd",
        "boarding agreement" => "The farm keeps and milks their share for them",
        "acknowledgment of risk" => "They know what raw milk can do",
        _ => "Any other paper between them and the farm",
    }
}

const fn is_of_a_paper(lack: &Lack) -> bool {
    !matches!(lack, Lack::SecondWay)
}

/// Keeps one paper of each sort for every household that is ticked, all or none.
pub(super) async fn keep(here: Here, Sealed(typed): Sealed) -> Answer {
    let mut tx = here.app.ledger.begin().await?;
    let remarks = kept(&mut tx, &here, &typed).await?;
    if remarks.is_empty() {
        tx.commit().await?;
        return onward(ADDRESS);
    }
    drop(tx);
    let lines = lines(&mut *here.app.ledger.read().await?, here.zone().day(here.now)).await?;
    drawn(&here, Form::Page, &lines, &typed, remarks).await
}

async fn kept(db: &mut SqliteConnection, here: &Here, typed: &Fields) -> Result<Vec<Remark>, Trouble> {
    let mut remarks = Vec::new();
    if typed.get("who").is_empty() {
        remarks.push(Remark::fault("who", "Nobody is ticked. Tick every household that signed."));
    }
    if typed.get("sort").is_empty() {
        remarks.push(Remark::fault("sort", "Which paper? Tick one or more."));
    }
    let beside = people::beside(&mut *db).await?;
    let act = records::act(&mut *db, here.now, &here.visitor.name, "screen").await?;
    let kind = kind_of("agreements")?;
    for sort in typed.all("sort") {
        for who in typed.all("who") {
            let cell = |column: &str| match column {
                "person" => who.to_owned(),
                "sort" => sort.to_owned(),
                "given" | "signed" | "until" => typed.get(column).to_owned(),
                _ => String::new(),
            };
            let cells: Vec<Cell> = match read(kind, cell, here.farm.ways) {
                Ok(cells) => cells,
                Err(more) => return Ok([remarks, more].concat()),
            };
            let mut more = slips::remarks(kind, &cells, here.farm.ways, here.latest());
            more.extend(household_slips::remarks(kind, &cells, &beside, None));
            if !more.is_empty() {
                return Ok([remarks, more].concat());
            }
            // By household and sort and not by place in the list, so that the same form with other ticks is no other paper.
            let entry = secret::entry_within(&format!("{}/{who}/{sort}", typed.get("entry")), 0);
            if let Err(refusal) = records::keep(&mut *db, kind, &entry, cells, &act).await {
                return Ok([remarks, remarks_of(refusal)?].concat());
            }
        }
    }
    Ok(remarks)
}
