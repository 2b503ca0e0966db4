//! An entry in the books, written by hand. None is ever changed: what was wrong is taken back on the entry's own page.

use crate::{
    pages::{App, Frame, Here, field::Field, kind_of, remarks_of},
    store::{books, empties, farm, people, records},
    trade::{
        entries::{self, BY_HAND, Known, OPENING, Whose, asks, leans},
        entry_slips::{self, Beside},
        jars::Jars,
        near,
        records::{Record, Remark, Shape},
        slips,
        statement::address,
        transfers::{PAID_BY, Sort, Transfer},
        when::day_shown,
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
use axum::extract::Query;
use sqlx::SqliteConnection;

/// The doors of this file.
pub(super) fn rooms() -> Rooms<App> {
    Rooms::new().look("/books/payment", Who::Owner, payment).look("/books/write", Who::Owner, write).send(
        "/books/write",
        Who::Owner,
        create,
    )
}

#[derive(Template)]
#[template(path = "books/write.html")]
struct Write {
    frame: Frame,
    entry: String,
    sort: String,
    fields: Vec<Field>,
    remarks: Vec<Remark>,
    /// What can be written instead: its sort and what it is.
    others: Vec<(Sort, &'static str)>,
    person: String,
}

type Asked = Query<Vec<(String, String)>>;

async fn payment(here: Here, Query(asked): Asked) -> Answer {
    page(&view(&here, &Fields(asked).with("sort", Sort::Payment.to_string()), Vec::new()).await?)
}

async fn write(here: Here, Query(asked): Asked) -> Answer {
    page(&view(&here, &Fields(asked), Vec::new()).await?)
}

/// The sort somebody writes by hand, if the form names one.
fn by_hand(typed: &Fields) -> Option<(Sort, &'static str)> {
    let sort = Sort::parse(typed.get("sort"))?;
    BY_HAND.into_iter().chain([OPENING]).find(|(own, _)| *own == sort)
}

async fn view(here: &Here, typed: &Fields, remarks: Vec<Remark>) -> Result<Write, Trouble> {
    let chosen = by_hand(typed);
    let opened = typed.get("entry").is_empty();
    let typed = if opened { typed.clone().with("day", here.zone().day(here.now).to_string()) } else { typed.clone() };
    let fields = match chosen {
        Some((sort, _)) => fields(here, sort, &typed, &remarks).await?,
        None => Vec::new(),
    };
    let others = BY_HAND.into_iter().chain([OPENING]).filter(|(own, _)| Some(*own) != chosen.map(|(sort, _)| sort)).collect();
    let title = chosen.map_or("An entry in the books", |(_, says)| says);
    let sort = chosen.map(|(sort, _)| sort.to_string()).unwrap_or_default();
    Ok(Write {
        frame: Frame::of(here, "Costs", title).await?,
        entry: typed.entry(),
        sort,
        fields,
        remarks,
        others,
        person: typed.get("person").to_owned(),
    })
}

async fn fields(here: &Here, sort: Sort, typed: &Fields, remarks: &[Remark]) -> Result<Vec<Field>, Trouble> {
    let today = here.zone().day(here.now);
    let mut everybody = people::takers(&mut *here.app.ledger.read().await?, today).await?;
    everybody.sort_by_key(|own| !own.is_here(today));
    let by_terms = asks(sort).contains(&"jars") || matches!(sort, Sort::SharePurchase | Sort::BuyBack);
    let named = |name: &str, label: &str, shape| Field::named(name, label, shape, typed, remarks);
    let field = |name: &&str| match *name {
        "person" => {
            let choices = everybody.iter().map(|own| (own.label.clone(), own.called())).collect();
            let may_stay_empty = matches!(sort, Sort::MilkAtTheGate | Sort::OpeningBalance);
            named("person", "Household", Shape::Key("people")).choosing(choices, false).optional(may_stay_empty)
        }
        "jars" => named("jars", if sort == Sort::MilkAtTheGate { "Half-gallons" } else { "Jars" }, Shape::Count(1, 999)),
        "paid_by" => named("paid_by", "How", Shape::OneOf(&PAID_BY)),
        "way" => {
            let choices: Vec<(String, String)> =
                leans(sort).iter().map(|(word, _, says)| ((*word).to_owned(), (*says).to_owned())).collect();
            named("way", "Which way", Shape::Words(20)).choosing(choices, true)
        }
        _ => {
            let hint = if by_terms { "Left empty, it is worked out from the terms" } else { "" };
            named("amount", "Amount", Shape::Money).in_unit("$").hinted(hint).optional(by_terms)
        }
    };
    let mut fields: Vec<Field> = asks(sort).iter().map(field).collect();
    fields.push(named("day", "Day", Shape::Day));
    let reason = matches!(sort, Sort::Adjustment | Sort::WriteOff);
    fields.push(named("note", if reason { "Why" } else { "Note" }, Shape::Words(200)).optional(!reason));
    Ok(fields)
}

async fn create(here: Here, Sealed(typed): Sealed) -> Answer {
    let Some((sort, _)) = by_hand(&typed) else {
        return Err(Trouble::NotThere("Nothing of that sort is written by hand. Choose one under Other entries.".to_owned()));
    };
    match kept(&here, sort, &typed).await? {
        Ok(address) => onward(&address),
        Err(remarks) => again(&view(&here, &typed, remarks).await?),
    }
}

/// Keeps what was typed, and says where to go on to; or everything that is to be said about it.
async fn kept(here: &Here, sort: Sort, typed: &Fields) -> Result<Result<String, Vec<Remark>>, Trouble> {
    let mut tx = here.app.ledger.begin().await?;
    let (whose, address) = match whose(&mut tx, here, typed.get("person")).await? {
        Ok(found) => found,
        Err(remark) => return Ok(Err(vec![remark])),
    };
    let (terms, shares) = (books::terms(&mut tx).await?, people::shares(&mut tx).await?);
    let before = records::by_entry(&mut tx, kind_of("transfers")?, typed.get("entry")).await?;
    let mut all = match &whose {
        Some(whose) => books::of_household(&mut tx, whose.number).await?,
        None => books::all(&mut tx).await?,
    };
    // The same form sent again is read as the books stood when it came first.
    all.retain(|own| before.as_ref().is_none_or(|before| own.number < before.number));
    let known = Known { terms: &terms, shares: &shares, all: &all, today: here.zone().day(here.now), ways: here.farm.ways };
    let entries = match entries::read(sort, &|name| typed.get(name).to_owned(), whose.as_ref(), known) {
        Ok(entries) => entries,
        Err(remarks) => return Ok(Err(remarks)),
    };
    if let Some(before) = before {
        let says = kept_otherwise(&mut tx, &before, &entries).await?;
        return Ok(says.map_or(Ok(address), |says| Err(vec![Remark::fault("entry", says)])));
    }
    let remarks = asked(&mut tx, &entries, whose.as_ref(), known, typed).await?;
    if !remarks.is_empty() {
        return Ok(Err(remarks));
    }
    match keep(tx, here, &entries, typed.get("entry")).await? {
        remarks if remarks.is_empty() => Ok(Ok(address)),
        remarks => Ok(Err(remarks)),
    }
}

/// The household that was typed, and where its statement is; the books themselves for nobody.
async fn whose(db: &mut SqliteConnection, here: &Here, label: &str) -> Result<Result<(Option<Whose>, String), Remark>, Trouble> {
    if label.trim().is_empty() {
        return Ok(Ok((None, "/books".to_owned())));
    }
    let everybody = people::takers(db, here.zone().day(here.now)).await?;
    Ok(match everybody.iter().find(|own| own.label.eq_ignore_ascii_case(label.trim())) {
        Some(own) => {
            let whose = Whose { number: own.number, called: own.called(), since: own.since, way: own.way };
            Ok((Some(whose), address(&own.label)))
        }
        None => Err(Remark::fault("person", near::unknown("member or walk-in", label, everybody.iter().map(|own| own.label.as_str())))),
    })
}

/// What to say where a form that was kept before comes back with something else in it: the back button brings its mark back too.
async fn kept_otherwise(db: &mut SqliteConnection, before: &Record, entries: &[Transfer]) -> Result<Option<String>, Trouble> {
    let Some(was) = Transfer::of(before) else { return Ok(None) };
    let second = records::by_entry(db, kind_of("transfers")?, &secret::entry_within(&before.entry, 1)).await?.is_some();
    let same = entries.first().is_some_and(|own| own.cells() == before.cells) && (entries.len() > 1) == second;
    let says = format!(
        "This form was kept already as entry {}: {}, {} on {}. Nothing more was kept. For another, open a new one.",
        was.number,
        was.sort,
        was.amount,
        day_shown(was.day)
    );
    Ok((!same).then_some(says))
}

/// The questions about an entry that nobody has answered.
async fn asked(
    db: &mut SqliteConnection,
    entries: &[Transfer],
    whose: Option<&Whose>,
    known: Known<'_>,
    typed: &Fields,
) -> Result<Vec<Remark>, Trouble> {
    let jars_owed = match whose {
        Some(whose) => empties::owed_by(&mut *db, whose.number).await?,
        None => Jars::NONE,
    };
    let beside = Beside {
        all: known.all,
        shares: known.shares,
        tin: books::in_the_tin(&mut *db).await?,
        farm_since: farm::since(db).await?,
        jars_owed: jars_owed.gallons + jars_owed.half_gallons + jars_owed.quarts + jars_owed.pints,
    };
    let remarks = entries.iter().take(1).flat_map(|own| entry_slips::asked(own, whose, beside)).collect();
    Ok(slips::unanswered(remarks, |field| typed.is_sure(field)))
}

/// Keeps entries that belong together; the first has the form's own mark.
pub(super) async fn keep(
    mut tx: sqlx::Transaction<'static, sqlx::Sqlite>,
    here: &Here,
    entries: &[Transfer],
    mark: &str,
) -> Result<Vec<Remark>, Trouble> {
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    for (nth, own) in entries.iter().enumerate() {
        let mark = if nth == 0 { mark.to_owned() } else { secret::entry_within(mark, nth) };
        if let Err(refusal) = records::keep(&mut tx, kind_of("transfers")?, &mark, own.cells(), &act).await {
            return remarks_of(refusal);
        }
    }
    tx.commit().await?;
    Ok(Vec::new())
}
