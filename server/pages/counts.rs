//! The count of the fridge: typed blind, so that nobody writes down what ought to be there; then compared, with the window
//! in which a jar went missing and who called in it.

use super::{App, Frame, Here, field::Field, kind_of, remarks_of};
use crate::{
    store::{lots, pickups, records},
    trade::{
        balance::{Balance, Count, LotJars, Movement, Window, find_window},
        in_an_address,
        jars::Jars,
        kinds::Kind,
        records::{Cell, Remark, Shape, read},
        slips,
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
use axum::extract::Path;
use sqlx::SqliteConnection;

/// The sizes counted, as columns.
const SIZES: [(&str, &str); 4] = [("half_gallons", "Half-gallons"), ("quarts", "Quarts"), ("pints", "Pints"), ("gallons", "Gallons")];

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new().look("/counts/new", Who::Farm, new).send("/counts", Who::Farm, create).look("/counts/{at}", Who::Farm, show)
}

#[derive(Template)]
#[template(path = "jars/count.html")]
struct New {
    frame: Frame,
    entry: String,
    remarks: Vec<Remark>,
    at: Field,
    counter: Field,
    lots: Vec<(String, String, Vec<Field>)>,
}

#[derive(Template)]
#[template(path = "jars/counted.html")]
struct Show {
    frame: Frame,
    when: String,
    lines: Vec<Line>,
}

/// One lot's count beside its book.
struct Line {
    code: String,
    counted: Jars,
    book: Jars,
    balance: Balance,
    window: String,
    /// Everybody who called in that time, of whatever lot: number and name, their page, and whether they had this lot. Who was
    /// about when jars went missing is the owner's to see.
    callers: Option<Vec<(String, String, bool)>>,
}

impl Line {
    /// Whether jars are missing, rather than too many.
    fn is_short(&self) -> bool {
        matches!(self.balance, Balance::Off { short, .. } if !short.is_none())
    }
}

async fn view(here: &Here, typed: &Fields, remarks: Vec<Remark>) -> Result<New, Trouble> {
    let standing = lots::on_hand(&mut *here.app.ledger.read().await?, here.now).await?;
    let opened = typed.get("entry").is_empty();
    let typed = if opened {
        Fields::default().with("at", here.zone().for_field(here.now)).with("counter", here.visitor.name.clone())
    } else {
        typed.clone()
    };
    let sizes_of = |number: i64, filled: Jars| {
        let stocked = [filled.half_gallons, filled.quarts, filled.pints, filled.gallons];
        SIZES
            .iter()
            .zip(stocked)
            .filter(|(_, count)| *count > 0)
            .map(|((name, label), _)| Field::named(&format!("{name}.{number}"), label, Shape::Count(0, 999), &typed, &remarks))
            .collect()
    };
    Ok(New {
        frame: Frame::of(here, "Jars", "Count the fridge").await?,
        entry: typed.entry(),
        at: Field::named("at", "Counted at", Shape::Moment, &typed, &remarks),
        counter: Field::named("counter", "Counted by", Shape::Words(60), &typed, &remarks),
        lots: standing
            .iter()
            .map(|own| (own.lot.code.clone(), here.zone().shown(own.lot.filled), sizes_of(own.lot.number, own.lot.jars)))
            .collect(),
        remarks,
    })
}

async fn new(here: Here) -> Answer {
    page(&view(&here, &Fields::default(), Vec::new()).await?)
}

async fn create(here: Here, Sealed(typed): Sealed) -> Answer {
    match kept(&here, &typed).await? {
        Ok(at) => onward(&format!("/counts/{at}")),
        Err(remarks) => again(&view(&here, &typed, remarks).await?),
    }
}

async fn kept(here: &Here, typed: &Fields) -> Result<Result<i64, Vec<Remark>>, Trouble> {
    let mut tx = here.app.ledger.begin().await?;
    let earlier = records::by_entry(&mut tx, kind_of("counts")?, &secret::entry_within(typed.get("entry"), 0)).await?;
    if let Some(at) = earlier.and_then(|own| own.cell(kind_of("counts").ok()?, "at").whole()) {
        return Ok(Ok(at));
    }
    let lots = counted_lots(&mut tx, here, typed).await?;
    let (at, rows) = match counted(kind_of("counts")?, here, typed, &lots) {
        Ok(counted) => counted,
        Err(remarks) => return Ok(Err(remarks)),
    };
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    for (nth, cells) in rows.into_iter().enumerate() {
        let entry = secret::entry_within(typed.get("entry"), nth);
        if let Err(refusal) = records::keep(&mut tx, kind_of("counts")?, &entry, cells, &act).await {
            return Ok(Err(remarks_of(refusal)?));
        }
    }
    tx.commit().await?;
    Ok(Ok(at))
}

/// When was counted and each lot's cells, or everything that is to be said about the form.
fn counted(kind: &Kind, here: &Here, typed: &Fields, lots: &[lots::Lot]) -> Result<(i64, Vec<Vec<Cell>>), Vec<Remark>> {
    let (mut rows, mut remarks) = (Vec::new(), Vec::new());
    // Whoever counts in the minute of a hand-out counts after it: the second is known where the minute is this one.
    let is_now = typed.get("at").trim() == here.zone().for_field(here.now);
    let at = if is_now { here.zone().for_file(here.now) } else { typed.get("at").to_owned() };
    for lot in lots {
        let line = count_line(typed, lot, &mut remarks).with("at", at.clone());
        match read(kind, |column| line.get(column).to_owned(), here.farm.ways) {
            Ok(cells) => rows.push(cells),
            Err(more) => remarks.extend(
                more.into_iter()
                    .filter(|remark| matches!(remark.field.as_str(), "at" | "counter"))
                    .filter(|remark| rows.is_empty() || remark.field.is_empty()),
            ),
        }
    }
    remarks.dedup();
    if rows.is_empty() && remarks.is_empty() {
        remarks.push(Remark::fault("at", "There is nothing to count: no lot has jars left."));
    }
    if let Some(first) = rows.first() {
        remarks.extend(slips::remarks(kind, first, here.farm.ways, here.latest()));
    }
    let remarks = slips::unanswered(remarks, |field| typed.is_sure(field));
    let at = rows.first().and_then(|cells| cells.first()).and_then(Cell::whole).filter(|_| remarks.is_empty());
    at.map(|at| (at, rows)).ok_or(remarks)
}

/// The lots to be counted: those on hand now, and any that was counted on the form and has left meanwhile.
async fn counted_lots(db: &mut SqliteConnection, here: &Here, typed: &Fields) -> Result<Vec<lots::Lot>, Trouble> {
    let mut numbers: Vec<i64> = lots::on_hand(&mut *db, here.now).await?.iter().map(|own| own.lot.number).collect();
    let sent = typed.0.iter().filter(|(_, value)| !value.trim().is_empty()).filter_map(|(name, _)| name.split_once('.'));
    numbers.extend(sent.filter(|(size, _)| SIZES.iter().any(|(own, _)| own == size)).filter_map(|(_, number)| number.parse::<i64>().ok()));
    numbers.sort_unstable();
    numbers.dedup();
    Ok(lots::list(db, &numbers).await?)
}

/// One lot's line. Every size that was filled must be counted, and none of it is written as 0; more than were filled is
/// asked about.
fn count_line(typed: &Fields, lot: &lots::Lot, remarks: &mut Vec<Remark>) -> Fields {
    let mut line = Fields::default().with("counter", typed.get("counter")).with("lot", lot.code.clone());
    let filled = [lot.jars.half_gallons, lot.jars.quarts, lot.jars.pints, lot.jars.gallons];
    for ((name, label), filled) in SIZES.iter().zip(filled) {
        let field = format!("{name}.{}", lot.number);
        let value = typed.get(&field).trim();
        if filled > 0 {
            match value.parse::<i64>() {
                Ok(count) if count > filled => remarks.push(Remark::question(
                    &field,
                    format!("{count} of {}? Only {filled} were filled. Keep it, or look at the lids again.", lot.code),
                    None,
                )),
                Ok(count) if count >= 0 => {}
                _ => remarks.push(Remark::fault(&field, format!("{}, {label}: count them, and write 0 if there is none.", lot.code))),
            }
        }
        line = line.with(name, if filled > 0 { value } else { "0" });
    }
    line
}

async fn show(here: Here, Path(at): Path<i64>) -> Answer {
    let mut db = here.app.ledger.read().await?;
    let numbers = lots::counted_at(&mut db, Moment::seconds(at)).await?;
    if numbers.is_empty() {
        return Err(Trouble::NotThere("There is no count at that moment: it was undone, or its time was corrected.".to_owned()));
    }
    let (lots_there, moved, counts) =
        (lots::list(&mut db, &numbers).await?, lots::moved(&mut db, &numbers).await?, lots::counts(&mut db, &numbers).await?);
    let mut lines = Vec::new();
    for lot in lots_there {
        let movements: Vec<_> = moved.get(&lot.number).into_iter().flatten().filter(|own| own.at.in_seconds() <= at).cloned().collect();
        let earlier: Vec<_> = counts.get(&lot.number).into_iter().flatten().filter(|own| own.at.in_seconds() <= at).copied().collect();
        let window = find_window(&movements, &earlier);
        let callers = match &window {
            Some(window) if here.visitor.is_owner() => Some(callers(&mut db, window, &lot.code).await?),
            _ => None,
        };
        lines.push(compared(&here, lot.code, (&movements, &earlier), window.as_ref(), callers));
    }
    drop(db);
    let when = here.zone().in_full(Moment::seconds(at));
    page(&Show { frame: Frame::of(&here, "Jars", "The count, compared").await?, when, lines })
}

/// Everybody who called in a window: whoever took a jar of the wrong lot is written down under another one.
async fn callers(db: &mut SqliteConnection, window: &Window, lot: &str) -> Result<Vec<(String, String, bool)>, Trouble> {
    let outs = pickups::between(db, window.from, window.until.plus_minutes(1)).await?;
    let inside = |at: Moment| at <= window.until && (at > window.from || (!window.from_a_count && at == window.from));
    let mut callers: Vec<(String, String, bool)> = Vec::new();
    for out in outs.iter().rev().filter(|out| inside(out.at)) {
        let (own, page) = match out.label.as_str() {
            "" => ("An unknown walk-in".to_owned(), format!("/records/pickups/{}", out.number)),
            label => (format!("{label} {}", out.name), format!("/people/{}", in_an_address(label))),
        };
        match callers.iter_mut().find(|(called, ..)| *called == own) {
            Some((.., had)) => *had |= out.lot == lot,
            None => callers.push((own, page, out.lot == lot)),
        }
    }
    Ok(callers)
}

/// A lot's last count beside what its movements leave of it.
fn compared(
    here: &Here,
    code: String,
    (movements, counts): (&[Movement], &[Count]),
    window: Option<&Window>,
    callers: Option<Vec<(String, String, bool)>>,
) -> Line {
    let counted = counts.last().map_or(Jars::NONE, |count| count.jars);
    let jars = LotJars::gathered(movements, Some(counted));
    let between = |window: &Window| format!("between {} and {}", here.zone().shown(window.from), here.zone().shown(window.until));
    Line { code, counted, book: jars.by_the_book(), balance: jars.balance(), window: window.map(between).unwrap_or_default(), callers }
}
