//! What is weighed before a hand-out is kept: who, how much, and what the lot's verdict was. It owns no door.

use crate::{
    pages::{Here, remarks_of},
    store::{
        Failure, lots, people, pickups,
        records::{self, Act},
        verdict,
    },
    trade::{
        jars::Jars,
        kinds::{Kind, kind},
        near,
        pickups::{Offer, ask_about, instead, is_planned, marks, right_lot, too_many},
        records::{Cell, Remark, read},
        slips,
        verdict::{Verdict, Word, judge},
        when::{Day, Moment},
    },
    web::{answer::Trouble, form::Fields},
};
use sqlx::SqliteConnection;

/// How somebody who is not known by a number is chosen; nobody is taken for unknown by an empty field.
const UNKNOWN: &str = "unknown";

/// What stands against keeping a hand-out.
#[derive(Clone, Default)]
pub(super) struct Said {
    pub(super) remarks: Vec<Remark>,
    pub(super) asked: String,
    pub(super) refused: Option<Refused>,
}

impl Said {
    pub(super) fn is_nothing(&self) -> bool {
        self.remarks.is_empty() && self.asked.is_empty() && self.refused.is_none()
    }

    pub(super) fn remark(field: &str, says: impl ToString) -> Said {
        Said { remarks: vec![Remark::fault(field, says)], ..Said::default() }
    }
}

/// A planned hand-out that is refused out loud.
#[derive(Clone)]
pub(super) struct Refused {
    pub(super) code: String,
    pub(super) word: Word,
    pub(super) reason: String,
    pub(super) next: String,
    pub(super) instead: Option<String>,
}

/// A lot on the shelf, with its verdict now.
#[derive(Clone)]
pub(super) struct Shelf {
    number: i64,
    pub(super) offer: Offer,
    day: String,
    verdict: Verdict,
}

impl Shelf {
    pub(super) fn left(&self) -> String {
        format!("{}, {}", self.offer.left.short_and_over().0, self.day)
    }
}

/// The kind of record a hand-out is.
pub(super) fn pickup_kind() -> Result<&'static Kind, Trouble> {
    kind("pickups").ok_or_else(|| Trouble::Ours("no kind pickups".to_owned()))
}

/// Every lot with jars by the book, judged now.
pub(super) async fn shelf(db: &mut SqliteConnection, here: &Here) -> Result<Vec<Shelf>, Failure> {
    let standing = lots::on_hand(&mut *db, here.now).await?;
    let numbers: Vec<i64> = standing.iter().map(|own| own.lot.number).collect();
    let facts = verdict::facts(&mut *db, &numbers, here.zone(), here.now).await?;
    let judged = standing.into_iter().zip(facts).map(|(own, facts)| {
        let verdict = judge(&facts, here.now);
        let offer = Offer { left: own.jars(), word: verdict.word(), filled: own.lot.filled, code: own.lot.code };
        Shelf { number: own.lot.number, day: here.zone().day(own.lot.filled).format("%a %-d %b").to_string(), offer, verdict }
    });
    Ok(judged.collect())
}

/// The lots of the shelf as the trade's rules want them.
pub(super) fn offers(shelf: &[Shelf]) -> Vec<Offer> {
    shelf.iter().map(|own| own.offer.clone()).collect()
}

/// A hand-out as the ledger's columns want it. An empty time is now, so that a page left open never keeps an old one.
fn line_of(typed: &Fields, here: &Here) -> Fields {
    let at = if typed.get("at").trim().is_empty() { here.zone().for_file(here.now) } else { typed.get("at").to_owned() };
    let lot = if typed.get("other_lot").trim().is_empty() { typed.get("lot") } else { typed.get("other_lot") };
    let person = typed.get("person");
    let mut line = Fields::default().with("at", at).with("lot", lot).with("person", if person == UNKNOWN { "" } else { person });
    for size in ["gallons", "half_gallons", "quarts", "pints"] {
        let count = typed.get(size).trim();
        line = line.with(size, if count.is_empty() { "0" } else { count });
    }
    // The frozen columns are filled in once the lot has been judged.
    line = line.with("verdict", Word::CantTell.to_string()).with("because", "–").with("facts", "–");
    line.with("evidence", typed.get("evidence")).with("taken_by", typed.get("taken_by"))
}

/// Reads one hand-out, saying at once all that is off about it.
fn read_line(kind: &Kind, typed: &Fields, here: &Here) -> Result<Vec<Cell>, Vec<Remark>> {
    let line = line_of(typed, here);
    let (mut remarks, cells) = match read(kind, |column| line.get(column).to_owned(), here.farm.ways) {
        Ok(cells) => (slips::remarks(kind, &cells, here.farm.ways, here.now), cells),
        Err(remarks) => (remarks, Vec::new()),
    };
    if typed.get("person").trim().is_empty() {
        remarks.push(Remark::fault("person", "Choose who took it. If nobody knows, choose the unknown walk-in."));
    }
    if ["gallons", "half_gallons", "quarts", "pints"].iter().all(|size| line.get(size) == "0") {
        remarks.push(Remark::fault("half_gallons", "How many jars? Not one is written yet."));
    }
    if remarks.is_empty() { Ok(cells) } else { Err(remarks) }
}

/// The verdict on a lot as it stood at a moment: readings and holds that came later are left out, and a hold lifted since
/// still counts.
async fn judged_then(db: &mut SqliteConnection, here: &Here, lot: i64, at: Moment) -> Result<Option<(Moment, Verdict)>, Failure> {
    let Some(mut facts) = verdict::facts(&mut *db, &[lot], here.zone(), at).await?.pop() else { return Ok(None) };
    facts.holds.retain(|hold| hold.at <= at);
    facts.readings.retain(|reading| reading.at <= at);
    facts.holds.extend(pickups::lifted_since(db, lot, at).await?);
    Ok(Some((facts.filled, judge(&facts, at))))
}

/// One hand-out as it was asked for, read and looked up.
struct Order {
    cells: Vec<Cell>,
    number: i64,
    code: String,
    at: Moment,
    jars: Jars,
    who: String,
}

/// Reads what is asked for and finds the lot.
async fn order(db: &mut SqliteConnection, here: &Here, typed: &Fields) -> Result<Result<Order, Said>, Trouble> {
    let kind = pickup_kind()?;
    let cells = match read_line(kind, typed, here) {
        Ok(cells) => cells,
        Err(remarks) => return Ok(Err(Said { remarks, ..Said::default() })),
    };
    let cell = |name| kind.cell(&cells, name);
    let (code, who, at) = (cell("lot").text().to_owned(), cell("person").text().to_owned(), cell("at").moment().unwrap_or(here.now));
    let Some(number) = records::number_of(&mut *db, "lots", &code, at.in_seconds()).await? else {
        let known = lots::newest(&mut *db, 60).await?;
        return Ok(Err(Said::remark("lot", near::unknown("lot", &code, known.iter().map(|lot| lot.code.as_str())))));
    };
    Ok(Ok(Order { number, code, at, jars: kind.jars(&cells), who, cells }))
}

/// Weighs one hand-out and keeps it when nothing stands against it; the jars come off the shelf for the next one.
pub(super) async fn weigh(
    db: &mut SqliteConnection,
    here: &Here,
    shelf: &mut [Shelf],
    typed: &Fields,
    entry: &str,
    act: &Act,
) -> Result<Said, Trouble> {
    let order = match order(&mut *db, here, typed).await? {
        Ok(order) => order,
        Err(said) => return Ok(said),
    };
    let Some((filled, then)) = judged_then(&mut *db, here, order.number, order.at).await? else { return Ok(Said::default()) };
    if filled > order.at {
        let filled = here.zone().shown(filled);
        return Ok(Said::remark("at", format!("{} was filled on {filled}, so it cannot have gone out before.", order.code)));
    }
    let mut said = Said::default();
    if !order.who.is_empty() && !typed.is_sure(&format!("person {}", order.who)) {
        said.asked = ask(&mut *db, here, &order.who, here.zone().day(order.at)).await?;
    }
    let place = shelf.iter().position(|own| own.number == order.number);
    let left = place.map_or(Jars::NONE, |place| shelf[place].offer.left);
    if is_planned(order.at, here.now) && typed.all("already").all(|own| own != order.code) {
        let now = place.map_or_else(|| then.clone(), |place| shelf[place].verdict.clone());
        said.refused = refuse(&order.code, &now, left, order.jars, &offers(shelf));
    }
    if !said.is_nothing() {
        return Ok(said);
    }
    let jars = order.jars;
    if let Err(refusal) = records::keep(&mut *db, pickup_kind()?, entry, frozen(order, &then, left), act).await {
        return Ok(Said { remarks: remarks_of(refusal)?, ..Said::default() });
    }
    if let Some(own) = place.and_then(|place| shelf.get_mut(place)) {
        own.offer.left = own.offer.left - jars;
    }
    Ok(said)
}

/// The cells of a hand-out with the verdict and the facts of its moment in them, for ever.
fn frozen(order: Order, then: &Verdict, left: Jars) -> Vec<Cell> {
    let kept = [
        ("verdict", then.word().to_string()),
        ("because", then.reason().chars().take(600).collect()),
        ("facts", then.facts()),
        ("marked", marks(then.word(), left, order.jars)),
    ];
    let mut cells = order.cells;
    for (name, says) in kept {
        if let Some(cell) = kind("pickups").and_then(|kind| kind.place_of(name)).and_then(|place| cells.get_mut(place)) {
            *cell = if says.is_empty() { Cell::Empty } else { Cell::Text(says) };
        }
    }
    cells
}

/// Asks about whoever takes the jars, when there is something to ask.
async fn ask(db: &mut SqliteConnection, here: &Here, label: &str, day: Day) -> Result<String, Failure> {
    let takers = people::takers(&mut *db).await?;
    let Some(taker) = takers.iter().find(|taker| taker.label.eq_ignore_ascii_case(label)) else { return Ok(String::new()) };
    let had = pickups::of_person_between(db, taker.number, here.zone().start_of(day), here.zone().end_of(day)).await?;
    let had: Vec<String> = had.iter().map(|out| format!("{} of {}", out.jars, out.lot)).collect();
    Ok(ask_about(&taker.called(), day, taker.since, taker.until, &had).unwrap_or_default())
}

/// Refuses a lot that cannot go, and more jars than are left; names what to hand out instead.
fn refuse(code: &str, now: &Verdict, left: Jars, jars: Jars, offers: &[Offer]) -> Option<Refused> {
    let word = now.word();
    if word == Word::CanGo && left.covers(jars) {
        return None;
    }
    let reason = if word == Word::CanGo { too_many(code, left, jars) } else { now.reason() };
    let right = right_lot(offers, jars).map(|offer| offer.code.clone());
    Some(Refused { code: code.to_owned(), word, reason, next: instead(offers, jars), instead: right })
}
