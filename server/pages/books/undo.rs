//! An entry of the books on its own page: looked at, and taken back by its opposite. None is ever changed.

use super::entry::keep;
use crate::{
    pages::{App, Frame, Here, field::Field, kind_of},
    store::{books, people, records},
    trade::{
        capital, entries,
        records::{Remark, Shape},
        statement::address,
        transfers::{Sort, Transfer, undone_by},
        when::{day_shown, parse_day},
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
use axum::extract::Path;
use sqlx::SqliteConnection;

/// The doors of this file.
pub(super) fn rooms() -> Rooms<App> {
    Rooms::new().look("/books/entries/{number}", Who::Owner, show).send("/books/entries/{number}/back", Who::Owner, take_back).send(
        "/books/entries/{number}/bounced",
        Who::Owner,
        bounced,
    )
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
    /// The other entry of the same act, while it stands.
    other: Option<Transfer>,
    /// Whether the other goes back too.
    both: bool,
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

/// An entry, and what undid it, one after the other.
struct Found {
    own: Transfer,
    undone: Vec<Transfer>,
}

impl Found {
    /// The entry that takes it back; none where that was itself taken back.
    fn back(&self) -> Option<i64> {
        self.undone.last().filter(|_| self.undone.len() % 2 == 1).map(|own| own.number)
    }

    /// What an undoing names: the entry, or what last said that it stands after all.
    fn last(&self) -> &Transfer {
        self.undone.last().unwrap_or(&self.own)
    }
}

async fn found(db: &mut SqliteConnection, number: i64) -> Result<Found, Trouble> {
    let mut all = books::one(db, number).await?;
    let chain = undone_by(&all, number);
    let mut take = |number: i64| all.iter().position(|own| own.number == number).map(|place| all.remove(place));
    let undone = chain.into_iter().filter_map(&mut take).collect();
    let own = take(number);
    own.map(|own| Found { own, undone })
        .ok_or_else(|| Trouble::NotThere(format!("There is no entry {number} in the books: it was never kept, or was undone.")))
}

/// The other entry of the same act, while it stands: milk at the gate that was paid for at once is two.
async fn other_of(db: &mut SqliteConnection, own: &Transfer) -> Result<Option<Transfer>, Trouble> {
    let number = match own.sort {
        Sort::MilkAtTheGate => own.number + 1,
        Sort::Payment => own.number - 1,
        _ => return Ok(None),
    };
    let kind = kind_of("transfers")?;
    let (first, second) = (own.number.min(number), own.number.max(number));
    let both = (records::find(&mut *db, kind, first).await?, records::find(&mut *db, kind, second).await?);
    let (Some(first), Some(second)) = both else { return Ok(None) };
    if secret::entry_within(&first.entry, 1) != second.entry {
        return Ok(None);
    }
    let other = found(db, number).await?;
    Ok(Some(other).filter(|other| other.back().is_none()).map(|other| other.own))
}

async fn view_entry(here: &Here, number: i64, typed: &Fields, remarks: Vec<Remark>) -> Result<Show, Trouble> {
    let (mut db, today) = (here.app.ledger.read().await?, here.zone().day(here.now));
    let found = found(&mut db, number).await?;
    let (back, other) = (found.back(), other_of(&mut db, &found.own).await?);
    let own = found.own;
    let everybody = people::takers(&mut db, today).await?;
    drop(db);
    let household = everybody.iter().find(|taker| Some(taker.number) == own.person).map(|taker| (taker.called(), address(&taker.label)));
    let opened = typed.get("entry").is_empty();
    let both = opened || !typed.get("both").is_empty();
    let typed = if opened { Fields::default().with("day", today.to_string()) } else { typed.clone() };
    let fields =
        vec![Field::named("day", "Day", Shape::Day, &typed, &remarks), Field::named("note", "Why", Shape::Words(200), &typed, &remarks)];
    let facts = facts(&own);
    let frame = Frame::of(here, "Costs", format!("Entry {number}: {}", own.sort)).await?;
    Ok(Show { frame, entry: typed.entry(), own, facts, household, back, other, both, fields, remarks })
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
    let found = found(&mut tx, number).await?;
    let already = records::by_entry(&mut tx, kind_of("transfers")?, typed.get("entry")).await?.is_some();
    let other = if typed.get("both").is_empty() { None } else { other_of(&mut tx, &found.own).await? };
    let remarks = match opposite(here, &found, already, sort, typed) {
        Ok(first) => {
            let second = other.map(|other| other.opposite(sort, first.day, &first.note));
            keep(tx, here, &[Some(first), second].into_iter().flatten().collect::<Vec<_>>(), typed.get("entry")).await?
        }
        Err(remarks) => remarks,
    };
    if remarks.is_empty() { onward(&format!("/books/entries/{number}")) } else { again(&view_entry(here, number, typed, remarks).await?) }
}

/// The opposite of an entry, or why there can be none.
fn opposite(here: &Here, found: &Found, already: bool, sort: Sort, typed: &Fields) -> Result<Transfer, Vec<Remark>> {
    let (own, mut remarks) = (&found.own, Vec::new());
    if let Some(back) = found.back().filter(|_| !already) {
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
    } else if parse_day(typed.get("day")).is_ok_and(|day| day < found.last().day) {
        remarks.push(Remark::fault("day", format!("That is before the entry itself, of {}.", day_shown(found.last().day))));
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
        (Ok(day), Ok(note)) if remarks.is_empty() => Ok(found.last().opposite(sort, day, note.text())),
        _ => Err(remarks),
    }
}
