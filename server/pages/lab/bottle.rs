//! One bottle: its facts, what the lab found in it, and the form for the lab's paper, all lines of it in one act.

use super::{Told, limits_of, of_what, read_out};
use crate::{
    pages::{Frame, Here, field::Field, kind_of, remarks_of},
    store::{
        lab::{self, Bottle, Found, RuleSet},
        lots, records,
        results::BACK_DAYS,
    },
    trade::{
        analytes::Analyte,
        colonies,
        lab::{Figure, LabResult, Of, Unit},
        lab_slips::{self, Line},
        records::{Cell, Remark, Shape, read},
        slips,
        when::parse_day,
    },
    web::{
        answer::{Answer, Trouble, again, onward, page},
        form::{Fields, Sealed},
        secret,
    },
};
use askama::Template;
use axum::extract::Path;
use sqlx::SqliteConnection;

/// The most lines a paper may have.
const LINES: usize = 40;

#[derive(Template)]
#[template(path = "lab/bottle.html")]
pub(super) struct Show {
    frame: Frame,
    number: i64,
    of: String,
    lot: String,
    cow: String,
    facts: Vec<(&'static str, String)>,
    paper: Option<(i64, String)>,
    results: Vec<Told>,
    lines: Vec<FormLine>,
    reported: Field,
    /// Questions that were answered already.
    sure: Vec<String>,
    entry: String,
    paper_remarks: Vec<Remark>,
    remarks: Vec<Remark>,
}

/// One line of the form: a test asked for, or a free one.
struct FormLine {
    name: String,
    analyte: Field,
    figure: Field,
    unit: Field,
    more: Vec<Field>,
    is_open: bool,
}

/// A bottle with everything its page and its form need.
pub(super) struct Known {
    pub(super) bottle: Bottle,
    found: Vec<Found>,
    sets: Vec<RuleSet>,
    earlier: Vec<LabResult>,
}

pub(super) async fn known(db: &mut SqliteConnection, here: &Here, number: i64) -> Result<Known, Trouble> {
    let bottle = lab::bottle(&mut *db, number).await?;
    let bottle =
        bottle.ok_or_else(|| Trouble::NotThere(format!("There is no sample {number}: it was never kept, or was struck through.")))?;
    // A lot is judged by the rules of the day it was filled; everything else by those of the day it was drawn.
    let filled = match &bottle.of {
        Of::Lot(code) => lots::find(&mut *db, code).await?.map(|lot| lot.filled),
        _ => None,
    };
    let sets = lab::rule_sets(&mut *db, here.zone().day(filled.unwrap_or(bottle.drawn))).await?;
    let before = lab::found_since(&mut *db, here.now.plus_hours(-BACK_DAYS * 24)).await?;
    let like = |own: &LabResult| std::mem::discriminant(&own.of) == std::mem::discriminant(&bottle.of) && own.sample != number;
    let earlier = before.into_iter().map(|own| own.result).filter(|own| like(own) && own.drawn <= bottle.drawn).collect();
    Ok(Known { found: lab::found_in(&mut *db, number).await?, bottle, sets, earlier })
}

fn facts(here: &Here, bottle: &Bottle) -> Vec<(&'static str, String)> {
    let asked: Vec<&str> = bottle.asked.iter().map(Analyte::name).collect();
    let all = [
        ("Drawn", here.zone().in_full(bottle.drawn)),
        ("To be tested for", asked.join(", ")),
        ("Sent", bottle.sent.map(|at| here.zone().in_full(at)).unwrap_or_default()),
        ("Read when the lab got it", bottle.received.clone()),
        ("Lab", bottle.lab.clone()),
        ("Lab's reference", bottle.lab_ref.clone()),
        ("Note", bottle.note.clone()),
    ];
    all.into_iter().filter(|(_, says)| !says.is_empty()).collect()
}

pub(super) async fn view(here: &Here, known: Known, typed: &Fields, remarks: Vec<Remark>) -> Result<Show, Trouble> {
    let bottle = &known.bottle;
    let typed = if typed.get("entry").is_empty() { fresh(here, &known) } else { typed.clone() };
    let (paper_remarks, remarks): (Vec<Remark>, Vec<Remark>) = remarks.into_iter().partition(|remark| remark.field == "paper");
    let lines = (0..LINES).take_while(|nth| typed.0.iter().any(|(name, _)| *name == format!("analyte.{nth}")));
    let named = |part: &'static str| match &bottle.of {
        Of::Lot(code) if part == "lot" => code.clone(),
        Of::Cow(cow) if part == "cow" => cow.clone(),
        _ => String::new(),
    };
    Ok(Show {
        frame: Frame::of(here, "Jars", format!("Sample {}", bottle.number)).await?,
        number: bottle.number,
        of: of_what(bottle),
        lot: named("lot"),
        cow: named("cow"),
        facts: facts(here, bottle),
        paper: bottle.paper.clone(),
        results: known.found.iter().map(|own| read_out(own, &known.sets)).collect(),
        lines: lines.map(|nth| line(nth, &typed, &remarks)).collect(),
        reported: Field::named("reported", "Reported", Shape::Day, &typed, &remarks),
        sure: typed.all("sure").map(str::to_owned).collect(),
        entry: typed.get("entry").to_owned(),
        paper_remarks,
        remarks,
    })
}

/// The form as it opens: a line for each test asked for and not yet in, and a free one.
fn fresh(here: &Here, known: &Known) -> Fields {
    let mut typed = Fields::default().with("entry", secret::entry()).with("reported", here.zone().day(here.now).to_string());
    let limits = known.sets.first().map(|set| set.limits.clone()).unwrap_or_default();
    let open = known.bottle.open(&known.found, &limits);
    for (nth, analyte) in open.iter().enumerate().take(LINES - 1) {
        let last = known.earlier.iter().rev().find(|own| own.analyte == *analyte).and_then(|own| own.unit);
        let usual =
            analyte.clone().usual_unit().map(|unit| if is_water(&known.bottle) && unit == Unit::PerMl { Unit::Per100Ml } else { unit });
        let unit = last.or(usual).map(|unit| unit.to_string()).unwrap_or_default();
        typed =
            typed.with(&format!("analyte.{nth}"), analyte.name()).with(&format!("unit.{nth}"), unit).with(&format!("fixed.{nth}"), "yes");
    }
    typed.with(&format!("analyte.{}", open.len().min(LINES - 1)), "")
}

fn line(nth: usize, typed: &Fields, remarks: &[Remark]) -> FormLine {
    let field = |name: &str, label: &str, shape| Field::named(&format!("{name}.{nth}"), label, shape, typed, remarks);
    let more = vec![
        field("part", "Which unit", Shape::Count(1, 60)).hinted("If the lab tested several portions: 1, 2, 3 …").optional(true),
        field("plates", "Plates or tubes as counted", Shape::Plates).optional(true),
        field("method", "Method", Shape::Words(80)).optional(true),
    ];
    FormLine {
        name: if typed.get(&format!("fixed.{nth}")) == "yes" { typed.get(&format!("analyte.{nth}")).to_owned() } else { String::new() },
        analyte: field("analyte", "Test", Shape::Words(60)).hinted("Like Salmonella, or butterfat."),
        figure: field("figure", "Result", Shape::Words(40)),
        unit: field("unit", "Unit", Shape::Words(40)),
        is_open: more.iter().any(|own| !own.value.is_empty() || !own.remarks.is_empty()),
        more,
    }
}

pub(super) async fn show(here: Here, Path(number): Path<i64>) -> Answer {
    let known = known(&mut *here.app.ledger.read().await?, &here, number).await?;
    page(&view(&here, known, &Fields::default(), Vec::new()).await?)
}

pub(super) async fn results(here: Here, Path(number): Path<i64>, Sealed(typed): Sealed) -> Answer {
    let mut tx = here.app.ledger.begin().await?;
    let known = known(&mut tx, &here, number).await?;
    match kept(&here, tx, &known, &typed).await? {
        Ok(result) => onward(&format!("/lab/results/{result}")),
        Err(remarks) => again(&view(&here, known, &typed, remarks).await?),
    }
}

/// Keeps every line in one act; gives back the result that matters most.
async fn kept(
    here: &Here,
    mut tx: sqlx::Transaction<'static, sqlx::Sqlite>,
    known: &Known,
    typed: &Fields,
) -> Result<Result<i64, Vec<Remark>>, Trouble> {
    let kind = kind_of("results")?;
    if let Some(again) = records::by_entry(&mut tx, kind, &secret::entry_within(typed.get("entry"), 0)).await? {
        return Ok(Ok(again.number));
    }
    let (lines, all_cells, mut remarks) = typed_lines(here, known, typed)?;
    if remarks.is_empty() {
        remarks = slips::unanswered(asked(here, known, typed, &lines), |field| typed.is_sure(field));
    }
    if !remarks.is_empty() {
        return Ok(Err(remarks));
    }
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    for (nth, cells) in all_cells.into_iter().enumerate() {
        match records::keep(&mut tx, kind, &secret::entry_within(typed.get("entry"), nth), cells, &act).await {
            Ok(_) => {}
            Err(refusal) => return Ok(Err(remarks_of(refusal)?)),
        }
    }
    let found = lab::found_in(&mut tx, known.bottle.number).await?;
    let fresh = found.iter().filter(|own| !known.found.iter().any(|old| old.result.number == own.result.number));
    let worst = fresh.map(|own| read_out(own, &known.sets)).max_by_key(|own| (own.rank, std::cmp::Reverse(own.number)));
    tx.commit().await?;
    worst.map(|own| Ok(own.number)).ok_or_else(|| Trouble::Ours("the results kept were not found again".to_owned()))
}

/// The lines that hold a figure, with their cells and what is wrong with them.
#[allow(clippy::type_complexity, reason = "three lists that are made side by side and used at once")]
fn typed_lines(here: &Here, known: &Known, typed: &Fields) -> Result<(Vec<Line>, Vec<Vec<Cell>>, Vec<Remark>), Trouble> {
    let kind = kind_of("results")?;
    let (mut lines, mut all, mut remarks) = (Vec::new(), Vec::new(), Vec::new());
    for nth in 0..LINES {
        let own = |name: &str| typed.get(&format!("{name}.{nth}")).trim().to_owned();
        let is_free = own("fixed") != "yes" && !own("analyte").is_empty();
        if own("figure").is_empty() && own("plates").is_empty() && !is_free {
            continue;
        }
        let said = |column: &str| match column {
            "sample" => known.bottle.number.to_string(),
            "reported" => typed.get("reported").to_owned(),
            "analyte" => analyte_in(&known.bottle, &own("analyte")).name().to_owned(),
            "note" => String::new(),
            other => own(other),
        };
        match read(kind, said, here.farm.ways) {
            Ok(cells) => {
                lines.push(Line {
                    nth,
                    analyte: analyte_in(&known.bottle, &own("analyte")),
                    figure: Figure::parse(&own("figure")).map_err(|fault| Trouble::Ours(fault.to_string()))?,
                    unit: own("unit"),
                    part: kind.cell(&cells, "part").whole(),
                    plates: colonies::Read::parse(&own("plates")).ok(),
                });
                all.push(cells);
            }
            Err(wrong) => remarks.extend(wrong.into_iter().map(|remark| in_line(remark, nth))),
        }
    }
    remarks.dedup();
    if lines.is_empty() && remarks.is_empty() {
        remarks.push(Remark::fault("figure.0", "Write at least one result from the lab's paper."));
    }
    Ok((lines, all, remarks))
}

fn is_water(bottle: &Bottle) -> bool {
    matches!(bottle.of, Of::Water)
}

/// What was tested for; in a bottle of water, coliforms are those of water.
fn analyte_in(bottle: &Bottle, typed: &str) -> Analyte {
    let analyte = Analyte::parse(typed);
    if is_water(bottle) { analyte.in_water() } else { analyte }
}

/// A remark beside its own line of the form; the day stands once for all.
fn in_line(remark: Remark, nth: usize) -> Remark {
    if matches!(remark.field.as_str(), "reported" | "sample") {
        Remark { field: "reported".to_owned(), ..remark }
    } else {
        Remark { field: format!("{}.{nth}", remark.field), ..remark }
    }
}

/// What there is to ask about the whole paper.
fn asked(here: &Here, known: &Known, typed: &Fields, lines: &[Line]) -> Vec<Remark> {
    let today = here.zone().day(here.now);
    let reported = parse_day(typed.get("reported")).unwrap_or(today);
    let own: Vec<LabResult> = known.found.iter().map(|own| own.result.clone()).collect();
    let mut remarks = Vec::new();
    if reported > today {
        remarks.push(Remark::fault("reported", "This day has not come yet. Write the day the lab reported; past days are welcome."));
    }
    remarks.extend(lab_slips::remarks(
        lines,
        lab_slips::Known {
            drawn: here.zone().day(known.bottle.drawn),
            reported,
            water: is_water(&known.bottle),
            limits: &limits_of(&known.sets),
            own: &own,
            earlier: &known.earlier,
        },
    ));
    remarks
}
