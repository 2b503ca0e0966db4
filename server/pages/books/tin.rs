//! The count of the cash tin: typed blind, so that nobody writes down what ought to be there; then compared, and the difference
//! kept with one tap.

use crate::{
    pages::{App, Frame, Here, field::Field, kind_of, remarks_of},
    store::{
        books::{self, Difference, TinCount},
        records,
    },
    trade::{
        entry_slips::is_many_times,
        money::Money,
        records::{Cell, Remark, read},
        slips,
        transfers::{Lean, Sort, Transfer},
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

/// The doors of this file.
pub(super) fn rooms() -> Rooms<App> {
    Rooms::new()
        .look("/books/tin", Who::Owner, new)
        .send("/books/tin", Who::Owner, create)
        .look("/books/tin/{number}", Who::Owner, show)
        .send("/books/tin/{number}", Who::Owner, keep_difference)
}

#[derive(Template)]
#[template(path = "books/tin.html")]
struct New {
    frame: Frame,
    entry: String,
    fields: Vec<Field>,
    remarks: Vec<Remark>,
    /// Earlier counts: number and when.
    earlier: Vec<(i64, String)>,
}

#[derive(Template)]
#[template(path = "books/counted.html")]
struct Show {
    frame: Frame,
    when: String,
    count: TinCount,
    book: Money,
    /// How the difference stands in the books.
    kept: Difference,
}

impl Show {
    /// What is too much or too little, as people say it.
    fn off(&self) -> Option<String> {
        let over = self.count.counted - self.book;
        match over.cmp(&Money::ZERO) {
            std::cmp::Ordering::Equal => None,
            std::cmp::Ordering::Greater => Some(format!("{over} too much")),
            std::cmp::Ordering::Less => Some(format!("{} short", Money::ZERO - over)),
        }
    }
}

async fn view(here: &Here, typed: &Fields, remarks: Vec<Remark>) -> Result<New, Trouble> {
    let earlier = books::tin_counts(&mut *here.app.ledger.read().await?, 12).await?;
    let opened = typed.get("entry").is_empty();
    let begun = || Fields::default().with("at", here.zone().for_field(here.now)).with("counter", here.visitor.name.clone());
    let typed = if opened { begun() } else { typed.clone() };
    let kind = kind_of("tin_counts")?;
    let field = |name: &str| kind.place_of(name).map(|place| Field::of(&kind.columns[place], &typed, &remarks));
    let fields =
        ["counted", "at", "counter"].into_iter().filter_map(field).map(|own| if own.name == "counted" { own.in_unit("$") } else { own });
    Ok(New {
        frame: Frame::of(here, "Costs", "Count the cash tin").await?,
        entry: typed.entry(),
        fields: fields.collect(),
        earlier: earlier.iter().map(|count| (count.number, here.zone().in_full(count.at))).collect(),
        remarks,
    })
}

async fn new(here: Here) -> Answer {
    page(&view(&here, &Fields::default(), Vec::new()).await?)
}

async fn create(here: Here, Sealed(typed): Sealed) -> Answer {
    match kept(&here, &typed).await? {
        Ok(number) => onward(&format!("/books/tin/{number}")),
        Err(remarks) => again(&view(&here, &typed, remarks).await?),
    }
}

async fn kept(here: &Here, typed: &Fields) -> Result<Result<i64, Vec<Remark>>, Trouble> {
    let kind = kind_of("tin_counts")?;
    let cells = match read(kind, |column| typed.get(column).to_owned(), here.farm.ways) {
        Ok(cells) => cells,
        Err(remarks) => return Ok(Err(remarks)),
    };
    let mut remarks = slips::remarks(kind, &cells, here.farm.ways, here.latest());
    if kind.cell(&cells, "counted").whole().is_some_and(|cents| cents < 0) {
        remarks.push(Remark::fault("counted", "A tin holds nothing at least. Count it, and write 0 for an empty one."));
    }
    let counted = Money::cents(kind.cell(&cells, "counted").whole().unwrap_or_default());
    if is_many_times(counted, books::in_the_tin(&mut *here.app.ledger.read().await?).await?) {
        // The count stays blind: what the books have in the tin is not said.
        remarks.push(Remark::question("counted", "Ten times what the books have in the tin, or more. Right?", None));
    }
    let remarks = slips::unanswered(remarks, |field| typed.is_sure(field));
    if !remarks.is_empty() {
        return Ok(Err(remarks));
    }
    let mut tx = here.app.ledger.begin().await?;
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    match records::keep(&mut tx, kind, typed.get("entry"), cells, &act).await {
        Ok(kept) => {
            tx.commit().await?;
            Ok(Ok(kept.number))
        }
        Err(refusal) => Ok(Err(remarks_of(refusal)?)),
    }
}

/// The mark under which a count's difference is kept, the same however often it is tapped, and another once it was taken back.
fn mark(count: i64, ever: usize) -> String {
    secret::entry_within(&format!("the difference of count {count} of the tin"), ever)
}

async fn found(here: &Here, number: i64) -> Result<Show, Trouble> {
    let mut db = here.app.ledger.read().await?;
    let counted = books::tin_count(&mut db, here.zone(), number).await?;
    let kept = books::difference_of(&mut db, number).await?;
    drop(db);
    let (count, book) =
        counted.ok_or_else(|| Trouble::NotThere(format!("There is no count {number} of the tin: it was undone, or never kept.")))?;
    let frame = Frame::of(here, "Costs", "The tin, counted and compared").await?;
    Ok(Show { frame, when: here.zone().in_full(count.at), count, book, kept })
}

async fn show(here: Here, Path(number): Path<i64>) -> Answer {
    page(&found(&here, number).await?)
}

async fn keep_difference(here: Here, Path(number): Path<i64>, Sealed(_): Sealed) -> Answer {
    let mut tx = here.app.ledger.begin().await?;
    let (counted, kept) = (books::tin_count(&mut tx, here.zone(), number).await?, books::difference_of(&mut tx, number).await?);
    let (count, book) = counted.ok_or_else(|| Trouble::NotThere(format!("There is no count {number} of the tin.")))?;
    let own = difference(&here, &count, book).filter(|_| kept.entry.is_none());
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    if let Some(cells) = own
        && let Err(refusal) = records::keep(&mut tx, kind_of("transfers")?, &mark(number, kept.ever), cells, &act).await
    {
        return Err(Trouble::TooLate(remarks_of(refusal)?.into_iter().map(|remark| remark.says).collect::<Vec<_>>().join(" ")));
    }
    tx.commit().await?;
    onward(&format!("/books/tin/{number}"))
}

/// The entry that brings the book to what was counted.
fn difference(here: &Here, count: &TinCount, book: Money) -> Option<Vec<Cell>> {
    let over = count.counted - book;
    let (lean, amount) = if over > Money::ZERO { (Lean::More, over) } else { (Lean::Less, Money::ZERO - over) };
    let own = Transfer::new(Sort::TinCounted, lean, here.zone().day(count.at), None, amount).filter(|_| over != Money::ZERO)?;
    Some(Transfer { note: format!("Count {} by {}", count.number, count.counter), ..own }.cells())
}
