//! A bottle is drawn: of what, when, and what it is to be tested for.

use crate::{
    pages::{Frame, Here, field::Field, kind_of, remarks_of},
    store::{lab, lots, records},
    trade::{
        analytes::Analyte,
        records::{Cell, Remark, Shape, read},
        slips,
        when::Moment,
    },
    web::{
        answer::{Answer, Trouble, again, onward, page},
        form::{Fields, Sealed},
    },
};
use askama::Template;
use axum::extract::Query;

/// What farms have tested, beside what the rules name.
const USUAL: [&str; 4] = ["plate count", "coliforms", "somatic cells", "drug residue"];

#[derive(Template)]
#[template(path = "lab/new.html")]
struct New {
    frame: Frame,
    entry: String,
    of: Vec<Field>,
    drawn: Field,
    /// What may be ticked: the name, and whether it is.
    asked: Vec<(String, bool)>,
    other: Field,
    more: Vec<Field>,
    remarks: Vec<Remark>,
}

async fn view(here: &Here, typed: &Fields, remarks: Vec<Remark>) -> Result<New, Trouble> {
    let mut db = here.app.ledger.read().await?;
    let mut codes = lab::newest_lots(&mut db).await?;
    let cows = records::keys(&mut db, kind_of("cows")?).await?;
    let sets = lab::rule_sets(&mut db, here.zone().day(here.now)).await?;
    let last = records::newest(&mut db, kind_of("samples")?, 1).await?;
    drop(db);
    let mut typed = typed.clone();
    let is_new = typed.get("entry").is_empty();
    if is_new {
        let newest = codes.first().cloned().unwrap_or_default();
        let lot = if typed.get("lot").is_empty() { newest } else { typed.get("lot").to_owned() };
        let lab = last.first().map(|own| kind_of("samples").map(|kind| own.cell(kind, "lab").text().to_owned())).transpose()?;
        let subject = if typed.get("cow").is_empty() { "lot" } else { "cow" };
        typed = typed.with("subject", subject).with("lot", lot).with("lab", lab.unwrap_or_default());
        typed = typed.with("drawn", here.zone().for_field(here.now));
    }
    if !typed.get("lot").is_empty() && !codes.iter().any(|code| code == typed.get("lot")) {
        codes.insert(0, typed.get("lot").to_owned());
    }
    let pairs = |names: Vec<String>| names.into_iter().map(|name| (name.clone(), name)).collect::<Vec<_>>();
    let column = |name: &str| kind_of("samples").map(|kind| kind.columns.iter().find(|own| own.name == name));
    let field = |name: &str| -> Result<Field, Trouble> {
        let own = column(name)?.ok_or_else(|| Trouble::Ours(format!("samples has no {name}")))?;
        Ok(Field::of(own, &typed, &remarks))
    };
    let asked = to_tick(&sets).into_iter().map(|name| (name.clone(), typed.all("asked").any(|own| own == name))).collect();
    Ok(New {
        frame: Frame::of(here, "Jars", "New sample").await?,
        entry: typed.entry(),
        of: vec![
            field("subject")?,
            field("lot")?.choosing(pairs(codes), false).hinted("For a sample of a lot."),
            field("cow")?.choosing(pairs(cows.into_iter().map(|(_, name)| name).collect()), false).hinted("For a sample of one cow."),
            field("place")?.hinted("For water or a swab: which tap, which surface."),
        ],
        drawn: field("drawn")?,
        asked,
        other: Field::named("asked_other", "Other tests", Shape::Words(200), &typed, &remarks)
            .hinted("With a comma between two.")
            .optional(true),
        more: vec![
            field("lab")?,
            field("sent")?,
            field("received_at")?.in_unit(here.farm.ways.scale.to_string()),
            field("lab_ref")?,
            field("note")?,
        ],
        remarks,
    })
}

/// What may be ticked: what the rules limit or have tested, and what farms usually ask for.
fn to_tick(sets: &[lab::RuleSet]) -> Vec<String> {
    let limited = sets.iter().flat_map(|set| set.limits.0.iter().map(|limit| limit.analyte.clone()));
    let tested = sets.iter().flat_map(|set| set.tests.0.iter().flat_map(|own| own.subjects.iter().map(|name| Analyte::parse(name))));
    let mut names: Vec<String> = Vec::new();
    for analyte in limited.chain(tested.filter(Analyte::is_known)).chain(USUAL.map(Analyte::parse)) {
        if !names.iter().any(|name| name == analyte.name()) {
            names.push(analyte.name().to_owned());
        }
    }
    names
}

pub(super) async fn new(here: Here, Query(asked): Query<Vec<(String, String)>>) -> Answer {
    page(&view(&here, &Fields(asked), Vec::new()).await?)
}

pub(super) async fn create(here: Here, Sealed(typed): Sealed) -> Answer {
    match kept(&here, &typed).await? {
        Ok(number) => onward(&format!("/lab/samples/{number}")),
        Err(remarks) => again(&view(&here, &typed, remarks).await?),
    }
}

/// What is asked for, as one cell: names with commas between them, each once.
fn asked_for(typed: &Fields) -> String {
    let mut names: Vec<String> = Vec::new();
    for name in typed.all("asked").chain(typed.get("asked_other").split(',')).map(str::trim).filter(|name| !name.is_empty()) {
        let name = Analyte::parse(name).name().to_owned();
        if !names.contains(&name) {
            names.push(name);
        }
    }
    names.join(", ")
}

async fn kept(here: &Here, typed: &Fields) -> Result<Result<i64, Vec<Remark>>, Trouble> {
    let kind = kind_of("samples")?;
    let subject = typed.get("subject");
    let asked = asked_for(typed);
    // Only what the sample is of is kept; the other fields of the form are not asked about.
    let said = |column: &str| match column {
        "lot" | "cow" if subject != column => String::new(),
        "place" if matches!(subject, "lot" | "cow") => String::new(),
        "asked" => asked.clone(),
        "document" => String::new(),
        own => typed.get(own).to_owned(),
    };
    let cells = match read(kind, said, here.farm.ways) {
        Ok(cells) => cells,
        Err(remarks) => return Ok(Err(remarks.into_iter().map(beside).collect())),
    };
    let mut tx = here.app.ledger.begin().await?;
    let mut remarks = slips::remarks(kind, &cells, here.farm.ways, here.latest());
    let lot = lots::find(&mut tx, kind.cell(&cells, "lot").text()).await?;
    remarks.extend(in_order(subject, |name| kind.cell(&cells, name), lot.map(|lot| lot.filled)));
    let remarks = slips::unanswered(remarks, |field| typed.is_sure(field));
    if !remarks.is_empty() {
        return Ok(Err(remarks));
    }
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    match records::keep_typed(&mut tx, kind, typed.get("entry"), cells, &act).await {
        Ok(kept) => tx.commit().await.map(|()| Ok(kept.number)).map_err(Trouble::from),
        Err(refusal) => Ok(Err(remarks_of(refusal)?)),
    }
}

/// What the ticks made is remarked on where something can be typed.
fn beside(remark: Remark) -> Remark {
    if remark.field == "asked" { Remark { field: "asked_other".to_owned(), ..remark } } else { remark }
}

/// A bottle is of one thing, and is drawn after its lot was filled and before it is sent.
fn in_order<'a>(subject: &str, cell: impl Fn(&str) -> &'a Cell, filled: Option<Moment>) -> Vec<Remark> {
    let mut remarks = Vec::new();
    for (of, says) in [("lot", "Which lot is it of?"), ("cow", "Which cow is it of?")] {
        if subject == of && *cell(of) == Cell::Empty {
            remarks.push(Remark::fault(of, says));
        }
    }
    let (drawn, sent) = (cell("drawn").moment(), cell("sent").moment());
    if drawn.zip(filled).is_some_and(|(drawn, filled)| drawn < filled) {
        remarks.push(Remark::fault("drawn", "This is before the lot was filled. Look at the lot and at the time."));
    }
    if drawn.zip(sent).is_some_and(|(drawn, sent)| sent < drawn) {
        remarks.push(Remark::fault("sent", "It was sent before it was drawn. Look at both times."));
    }
    remarks
}
