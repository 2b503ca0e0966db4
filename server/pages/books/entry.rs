//! An entry in the books: written by hand, looked at, and taken back by its opposite. None is ever changed.

use crate::{
    pages::{App, Frame, Here, field::Field, kind_of, remarks_of},
    store::{books, people, records},
    trade::{
        capital,
        entries::{self, BY_HAND, Known, OPENING, Whose, asks, leans},
        near,
        records::{Remark, Shape},
        slips,
        statement::address,
        transfers::{PAID_BY, Sort, Transfer},
        when::{day_shown, parse_day},
    },
    web::{
        answer::{Answer, Trouble, again, onward, page},
        form::{Fields, Sealed},
        rooms::Rooms,
        secret,
        visitor::Role,
    },
};
use askama::Template;
use axum::extract::{Path, Query};
use sqlx::SqliteConnection;

/// The doors of this file.
pub(super) fn rooms() -> Rooms<App> {
    Rooms::new()
        .look("/books/payment", Role::Owner, payment)
        .look("/books/write", Role::Owner, write)
        .send("/books/write", Role::Owner, create)
        .look("/books/entries/{number}", Role::Owner, show)
        .send("/books/entries/{number}/back", Role::Owner, take_back)
        .send("/books/entries/{number}/bounced", Role::Owner, bounced)
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
    let known = Known { terms: &terms, shares: &shares, today: here.zone().day(here.now), ways: here.farm.ways };
    let entries = match entries::read(sort, &|name| typed.get(name).to_owned(), whose.as_ref(), known) {
        Ok(entries) => entries,
        Err(remarks) => return Ok(Err(remarks)),
    };
    let remarks = asked(&mut tx, &entries, whose.as_ref(), typed).await?;
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

/// The questions about an entry that nobody has answered. The same form sent twice is not asked about itself.
async fn asked(db: &mut SqliteConnection, entries: &[Transfer], whose: Option<&Whose>, typed: &Fields) -> Result<Vec<Remark>, Trouble> {
    if records::by_entry(&mut *db, kind_of("transfers")?, typed.get("entry")).await?.is_some() {
        return Ok(Vec::new());
    }
    let beside = match whose {
        Some(whose) => books::of_household(db, whose.number).await?,
        None => books::all(db).await?,
    };
    let remarks = entries.iter().take(1).flat_map(|own| entries::asked(own, whose, &beside)).collect();
    Ok(slips::unanswered(remarks, |field| typed.is_sure(field)))
}

/// Keeps entries that belong together; the first has the form's own mark.
async fn keep(
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

#[derive(Template)]
#[template(path = "books/entry.html")]
struct Show {
    frame: Frame,
    entry: String,
    own: Transfer,
    facts: Vec<(&'static str, String)>,
    /// The household, and where its statement is.
    household: Option<(String, String)>,
    /// The entry that takes this one back.
    back: Option<i64>,
    fields: Vec<Field>,
    remarks: Vec<Remark>,
}

impl Show {
    /// Whether it is a check that the bank could send back.
    fn is_check(&self) -> bool {
        self.own.sort == Sort::Payment && self.own.paid_by == "check"
    }

    /// Whether it can be taken back.
    fn may_go_back(&self) -> bool {
        self.back.is_none() && self.own.sort != Sort::TakenBack
    }
}

/// An entry and, where it was taken back, by which.
async fn found(db: &mut SqliteConnection, number: i64) -> Result<(Transfer, Option<i64>), Trouble> {
    let both = books::one(db, number).await?;
    let back = both.iter().find(|own| own.corrects == Some(number)).map(|own| own.number);
    let own = both.into_iter().find(|own| own.number == number);
    own.map(|own| (own, back))
        .ok_or_else(|| Trouble::NotThere(format!("There is no entry {number} in the books: it was never kept, or was undone.")))
}

async fn view_entry(here: &Here, number: i64, typed: &Fields, remarks: Vec<Remark>) -> Result<Show, Trouble> {
    let (mut db, today) = (here.app.ledger.read().await?, here.zone().day(here.now));
    let (own, back) = found(&mut db, number).await?;
    let everybody = people::takers(&mut db, today).await?;
    drop(db);
    let household = everybody.iter().find(|taker| Some(taker.number) == own.person).map(|taker| (taker.called(), address(&taker.label)));
    let opened = typed.get("entry").is_empty();
    let typed = if opened { Fields::default().with("day", today.to_string()) } else { typed.clone() };
    let fields =
        vec![Field::named("day", "Day", Shape::Day, &typed, &remarks), Field::named("note", "Why", Shape::Words(200), &typed, &remarks)];
    let facts = facts(&own);
    let frame = Frame::of(here, "Costs", format!("Entry {number}: {}", own.sort)).await?;
    Ok(Show { frame, entry: typed.entry(), own, facts, household, back, fields, remarks })
}

fn facts(own: &Transfer) -> Vec<(&'static str, String)> {
    let number = |number: Option<i64>| number.map(|number| number.to_string()).unwrap_or_default();
    let mut facts = vec![
        ("Day", day_shown(own.day)),
        ("Amount", format!("${}", own.amount)),
        ("From", capital(&own.from.to_string())),
        ("To", capital(&own.to.to_string())),
        ("Paid by", own.paid_by.clone()),
        ("For the month", own.month.map(|month| month.format("%B %Y").to_string()).unwrap_or_default()),
        ("Jars", number(own.jars)),
        ("Note", own.note.clone()),
    ];
    facts.retain(|(_, says)| !says.is_empty());
    facts
}

async fn show(here: Here, Path(number): Path<i64>) -> Answer {
    page(&view_entry(&here, number, &Fields::default(), Vec::new()).await?)
}

async fn take_back(here: Here, Path(number): Path<i64>, Sealed(typed): Sealed) -> Answer {
    undone(&here, number, Sort::TakenBack, &typed).await
}

async fn bounced(here: Here, Path(number): Path<i64>, Sealed(typed): Sealed) -> Answer {
    undone(&here, number, Sort::BouncedCheck, &typed).await
}

async fn undone(here: &Here, number: i64, sort: Sort, typed: &Fields) -> Answer {
    let mut tx = here.app.ledger.begin().await?;
    let (own, back) = found(&mut tx, number).await?;
    let already = records::by_entry(&mut tx, kind_of("transfers")?, typed.get("entry")).await?.is_some();
    let remarks = match opposite(here, &own, back.filter(|_| !already), sort, typed) {
        Ok(opposite) => keep(tx, here, &[opposite], typed.get("entry")).await?,
        Err(remarks) => remarks,
    };
    if remarks.is_empty() { onward(&format!("/books/entries/{number}")) } else { again(&view_entry(here, number, typed, remarks).await?) }
}

/// The opposite of an entry, or why there can be none.
fn opposite(here: &Here, own: &Transfer, back: Option<i64>, sort: Sort, typed: &Fields) -> Result<Transfer, Vec<Remark>> {
    let mut remarks = Vec::new();
    if let Some(back) = back {
        remarks.push(Remark::fault("note", format!("This is taken back already, by entry {back}. Nothing is taken back twice.")));
    } else if own.sort == Sort::TakenBack {
        remarks.push(Remark::fault("note", "This takes another entry back itself. Write that one anew instead."));
    }
    if sort == Sort::BouncedCheck && (own.sort, own.paid_by.as_str()) != (Sort::Payment, "check") {
        remarks.push(Remark::fault("note", "Only a payment by check can come back from the bank."));
    }
    let day = entries::day(typed.get("day"), here.zone().day(here.now));
    if let Err(remark) = &day {
        remarks.push(remark.clone());
    } else if parse_day(typed.get("day")).is_ok_and(|day| day < own.day) {
        remarks.push(Remark::fault("day", format!("That is before the entry itself, of {}.", day_shown(own.day))));
    }
    let note = Shape::Words(200).read(typed.get("note"), here.farm.ways);
    match &note {
        Err(fault) => remarks.push(Remark::fault("note", fault)),
        Ok(note) if note.text().is_empty() && sort == Sort::TakenBack => {
            remarks.push(Remark::fault("note", "Say in a few words why it is taken back. Both entries stay in the books."));
        }
        Ok(_) => {}
    }
    match (day, note) {
        (Ok(day), Ok(note)) if remarks.is_empty() => Ok(own.opposite(sort, day, note.text())),
        _ => Err(remarks),
    }
}
