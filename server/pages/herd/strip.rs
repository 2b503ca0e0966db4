//! A strip test: four quarters, a score for each, kept in one save as one record for each quarter that was tested.

use super::{App, Frame, Here, found, in_address, keep, kind_of};
use crate::{
    pages::field::Field,
    store::{herd, records},
    trade::{
        beside::{self, Cow},
        capital,
        kinds::STRIP_SCORES,
        records::{Cell, Remark, Shape, read},
        slips,
        strips::{Quarter, Score},
    },
    web::{
        answer::{Answer, Trouble, again, onward, page},
        form::{Fields, Sealed},
        rooms::Rooms,
        visitor::Who,
    },
};
use askama::Template;
use axum::extract::Path;

/// The doors of this file.
pub(super) fn rooms() -> Rooms<App> {
    Rooms::new().look("/herd/{cow}/strip", Who::Farm, new).send("/herd/{cow}/strip", Who::Farm, create)
}

#[derive(Template)]
#[template(path = "herd/strip.html")]
struct New {
    frame: Frame,
    name: String,
    fails: String,
    quarters: Vec<Field>,
    fields: Vec<Field>,
    remarks: Vec<Remark>,
    entry: String,
}

/// The field of a quarter: `left fore` is typed in `left_fore`.
fn field_of(quarter: Quarter) -> String {
    quarter.to_string().replace(' ', "_")
}

async fn view(here: &Here, name: &str, typed: &Fields, remarks: Vec<Remark>) -> Result<New, Trouble> {
    let (cow, _, rules) = found(here, name).await?;
    let scores: Vec<(String, String)> = STRIP_SCORES.iter().map(|score| ((*score).to_owned(), (*score).to_owned())).collect();
    let tiles = |(quarter, word): (Quarter, &str)| {
        Field::named(&field_of(quarter), &capital(word), Shape::OneOf(STRIP_SCORES), typed, &remarks).choosing(scores.clone(), true)
    };
    let own = |column: &&crate::trade::records::Column| matches!(column.name, "at" | "note");
    Ok(New {
        frame: Frame::of(here, "Herd", format!("Strip test of {}", cow.known.name)).await?,
        fails: rules.strip_fails.unwrap_or(Score::USUAL).to_string(),
        quarters: Quarter::WORDS.into_iter().map(tiles).collect(),
        fields: kind_of("strip_tests")?.columns.iter().filter(own).map(|column| Field::of(column, typed, &remarks)).collect(),
        name: cow.known.name,
        remarks,
        entry: typed.entry(),
    })
}

async fn new(here: Here, Path(name): Path<String>) -> Answer {
    let typed = Fields::default().with("at", here.zone().for_field(here.now));
    page(&view(&here, &name, &typed, Vec::new()).await?)
}

async fn create(here: Here, Path(name): Path<String>, Sealed(typed): Sealed) -> Answer {
    let (cow, _, _) = found(&here, &name).await?;
    let (tests, mut remarks) = scored(&here, &cow.known.name, &typed)?;
    remarks.extend(beside_the_others(&here, &cow, &tests, &typed).await?);
    let mut remarks = slips::unanswered(remarks, |field| typed.is_sure(field));
    if remarks.is_empty() {
        remarks = keep(&here, typed.get("entry"), tests).await?;
    }
    if remarks.is_empty() {
        return onward(&format!("/herd/{}", in_address(&cow.known.name)));
    }
    again(&view(&here, &name, &typed, remarks).await?)
}

/// What is asked beside the tests written already: a quarter tested twice in one minute, and more quarters than she is milked
/// on. Each question stands on the field of its quarter. The same form sent twice is not asked about itself.
async fn beside_the_others(here: &Here, cow: &herd::Cow, tests: &Tests, typed: &Fields) -> Result<Vec<Remark>, Trouble> {
    let kind = kind_of("strip_tests")?;
    let mut db = here.app.ledger.read().await?;
    if records::by_entry(&mut db, kind, typed.get("entry")).await?.is_some() {
        return Ok(Vec::new());
    }
    let all = records::list(&mut db, kind).await?;
    // The quarters are counted here all at once, and not asked about one by one.
    let own = Cow { number: cow.number, name: &cow.known.name, quarters: 4 };
    let mut remarks = Vec::new();
    for (_, cells) in tests {
        let field = kind.cell(cells, "quarter").text().replace(' ', "_");
        remarks.extend(beside::strip_test(kind, cells, own, &all, None).map(|remark| Remark { field, ..remark }));
    }
    let milked = usize::try_from(cow.quarters).unwrap_or(4);
    if let Some((_, cells)) = tests.last().filter(|_| tests.len() > milked) {
        let says = beside::few_quarters(Cow { quarters: cow.quarters, ..own });
        remarks.push(Remark::question(&kind.cell(cells, "quarter").text().replace(' ', "_"), says, None));
    }
    Ok(remarks)
}

/// Records to keep, each with its kind's name.
type Tests = Vec<(&'static str, Vec<Cell>)>;

/// One record for each quarter with a score, and what there is to say about them; a quarter nobody tested has none.
fn scored(here: &Here, cow: &str, typed: &Fields) -> Result<(Tests, Vec<Remark>), Trouble> {
    let kind = kind_of("strip_tests")?;
    let (mut tests, mut remarks) = (Vec::new(), Vec::<Remark>::new());
    for (quarter, word) in Quarter::WORDS {
        let field = field_of(quarter);
        if typed.get(&field).is_empty() {
            continue;
        }
        let line = typed.clone().with("cow", cow).with("quarter", word).with("score", typed.get(&field));
        let more = match read(kind, |column| line.get(column).to_owned(), here.farm.ways) {
            Ok(cells) => {
                let more = slips::remarks(kind, &cells, here.farm.ways, here.latest());
                tests.push((kind.name, cells));
                more
            }
            Err(more) => more,
        };
        let here_of = |remark: Remark| if remark.field == "score" { Remark { field: field.clone(), ..remark } } else { remark };
        remarks.extend(more.into_iter().map(here_of).filter(|remark| !remarks.contains(remark)).collect::<Vec<_>>());
    }
    if tests.is_empty() && remarks.is_empty() {
        remarks.push(Remark::fault(&field_of(Quarter::LeftFore), "Tap the score of each quarter you tested; leave the others."));
    }
    Ok((tests, remarks))
}
