//! Slips in what a cost rests on, beside what is written already: a bale that weighs nothing yet, a day of thirty hours, a meter
//! that runs backwards.
//!
//! What cannot be is refused with a sentence; what looks odd is asked about and can be kept.

use super::{
    account::Books,
    kinds::{ASSUMED, Kind, SPENT},
    measure::{figure_of, trimmed},
    near,
    packs::Amount,
    records::{Cell, Remark},
    stores::{Feeding, Store},
    usual::whole_weeks,
    wear::Span,
    what_if::{Change, Changes},
    when::{Day, day_shown, parse_day},
};
use rust_decimal::Decimal;

/// Minutes of a day, and of sixteen hours of it: beyond these it is asked whether somebody slept.
const A_DAY: i64 = 24 * 60;
const LONG_DAY: i64 = 16 * 60;

/// Minutes of a week.
const A_WEEK: i64 = 7 * A_DAY;

/// So many times dearer than the last ticket, or more than the last feeding, is more often a point in the wrong place.
const FAR: Decimal = Decimal::from_parts(4, 0, 0, false, 0);

/// Time somebody spent, as far as the questions look at it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Worked {
    /// The record's number.
    pub number: i64,
    /// The day.
    pub day: Day,
    /// Who.
    pub person: String,
    /// How long.
    pub minutes: i64,
    /// Whether they were spent over the whole week rather than on the day.
    pub over_the_week: bool,
}

/// What a record of a cost is held beside.
#[derive(Clone, Debug, Default)]
pub struct Beside {
    /// Tickets, stores, feedings, counts, readings and bank totals.
    pub books: Books,
    /// Time spent.
    pub worked: Vec<Worked>,
    /// The names of the cows.
    pub cows: Vec<String>,
    /// The farm's first day.
    pub since: Option<Day>,
}

/// Whether there is anything to look at in a record of this kind.
#[must_use]
pub fn looks_at(kind: &Kind) -> bool {
    matches!(kind.name, "tickets" | "feedings" | "store_counts" | "minutes" | "meter_readings" | "bank_totals" | "what_ifs")
}

/// Everything there is to ask or refuse about a record beside the others; `but` is the one that is being corrected.
#[must_use]
pub fn remarks(kind: &Kind, cells: &[Cell], beside: &Beside, but: Option<i64>) -> Vec<Remark> {
    let own = Own { kind, cells };
    match kind.name {
        "tickets" => ticket(&own, beside, but),
        "feedings" => feeding(&own, beside, but),
        "store_counts" => known_unit(&own, beside).or_else(|| counted(&own, beside)).into_iter().collect(),
        "minutes" => minutes(&own, beside, but),
        "meter_readings" => meter(&own, beside, but).into_iter().collect(),
        "bank_totals" => bank(&own, beside, but).into_iter().collect(),
        "what_ifs" => what_if(&own, beside),
        _ => Vec::new(),
    }
}

/// The record that is looked at.
struct Own<'a> {
    kind: &'a Kind,
    cells: &'a [Cell],
}

impl Own<'_> {
    fn says(&self, column: &str) -> &str {
        self.kind.cell(self.cells, column).text()
    }

    fn day(&self, column: &str) -> Option<Day> {
        parse_day(self.says(column)).ok()
    }

    fn figure(&self, column: &str) -> Option<Decimal> {
        figure_of(self.says(column))
    }

    fn whole(&self, column: &str) -> i64 {
        self.kind.cell(self.cells, column).whole().unwrap_or_default()
    }

    /// The store it names; one that is not there gets its sentence where names are looked up.
    fn store<'b>(&self, beside: &'b Beside) -> Option<&'b Store> {
        let named = self.says("store");
        beside.books.stores.iter().find(|own| own.name.eq_ignore_ascii_case(named))
    }
}

fn ticket(own: &Own, beside: &Beside, but: Option<i64>) -> Vec<Remark> {
    let mut remarks = Vec::new();
    if let (Some(paid), Some(since)) = (own.day("paid"), beside.since.filter(|since| own.day("paid") < Some(*since))) {
        let says =
            format!("{} is before the farm's first day, {}. Keep it if it was paid before you began.", day_shown(paid), day_shown(since));
        remarks.push(Remark::question("paid", says, None));
    }
    let Some(store) = own.store(beside) else { return remarks };
    match own.figure("quantity") {
        // Money back without anything going back lowers what the heap is worth.
        None if own.whole("amount") < 0 => {}
        None => remarks.push(Remark::fault(
            "quantity",
            format!("Write how much came into the store of {}: it costs as it is used, so what came must be known.", store.name),
        )),
        Some(quantity) if quantity < Decimal::ZERO && own.whole("amount") >= 0 => {
            remarks.push(Remark::fault("quantity", "What came cannot be below nothing. What went back has its minus before the amount."));
        }
        Some(quantity) => remarks.extend(known_unit(own, beside).or_else(|| far_price(own, store, quantity, beside, but))),
    }
    if store.sort != own.says("sort") {
        let says = format!("The store of {} is of {}, and this is {}. Is that the store?", store.name, store.sort, own.says("sort"));
        remarks.push(Remark::question("store", says, None));
    }
    remarks
}

/// A unit the store does not know has no weight, so nothing could be reckoned with it.
fn known_unit(own: &Own, beside: &Beside) -> Option<Remark> {
    let store = own.store(beside)?;
    let fault = store.packs.amount(Decimal::ONE, own.says("unit"), &store.counted_in).err()?;
    Some(Remark::fault("unit", fault))
}

/// Whether two amounts of one thing lie so far apart that one of them may be a slip.
fn far(one: Decimal, other: Decimal) -> bool {
    one > other * FAR || one * FAR < other
}

/// A price that lies far from the last one of the same store.
fn far_price(own: &Own, store: &Store, quantity: Decimal, beside: &Beside, but: Option<i64>) -> Option<Remark> {
    let each = |cents: i64, quantity: Decimal, unit: &str| {
        let amount = store.packs.amount(quantity, unit, &store.counted_in).ok()?;
        Decimal::new(cents, 2).checked_div(amount.figure()).filter(|each| *each > Decimal::ZERO)
    };
    let now = each(own.whole("amount"), quantity, own.says("unit"))?;
    let others = beside.books.tickets.iter().filter(|other| other.store == Some(store.number) && Some(other.number) != but);
    let last = others.rev().find_map(|other| each(other.amount.in_cents(), other.quantity?, &other.unit))?;
    let says = format!(
        "That is {} a {}, and the last ticket of {} came to {}. Is a point in the wrong place?",
        trimmed(now, 4),
        store.counted_in,
        store.name,
        trimmed(last, 4)
    );
    far(now, last).then(|| Remark::question("amount", says, None))
}

/// A count that is less than half, or more than twice, of what the book has there today.
fn counted(own: &Own, beside: &Beside) -> Option<Remark> {
    let (store, found) = (own.store(beside)?, own.figure("amount")?);
    let found = store.packs.amount(found, own.says("unit"), &store.counted_in).ok()?.figure();
    let left = beside.books.stocks.iter().find(|own| own.store.number == store.number)?.stock.left.figure();
    let recent = own.day("day").is_some_and(|day| (beside.books.until - day).num_days() <= 7);
    let odd = recent && left > Decimal::ZERO && (found * Decimal::TWO < left || found > left * Decimal::TWO);
    let says = format!("By the book {} {} lies there. Keep it if you counted so.", trimmed(left, 1), store.counted_in);
    odd.then(|| Remark::question("amount", says, None))
}

/// So much a day that lies far from what was fed a day before.
fn far_feeding(store: &Store, new: &Feeding, beside: &Beside, but: Option<i64>) -> Option<Remark> {
    let a_day = |own: &Feeding| store.packs.amount(own.amount, &own.unit, &store.counted_in).ok().map(Amount::figure);
    let same =
        |own: &&Feeding| own.store == new.store && own.cow == new.cow && own.a_day && own.since < new.since && Some(own.number) != but;
    let (now, last) = (a_day(new).filter(|_| new.a_day)?, beside.books.feedings.iter().rfind(same)?);
    let says = format!("Before it was {} {} a day. Is this so much more or less, or a slip?", trimmed(last.amount, 2), last.unit);
    (now > Decimal::ZERO && far(now, a_day(last)?)).then(|| Remark::question("amount", says, None))
}

fn feeding(own: &Own, beside: &Beside, but: Option<i64>) -> Vec<Remark> {
    if let Some(remark) = known_unit(own, beside) {
        return vec![remark];
    }
    let (Some(store), Some(since), Some(amount)) = (own.store(beside), own.day("since"), own.figure("amount")) else { return Vec::new() };
    if amount < Decimal::ZERO {
        return vec![Remark::fault("amount", "What was fed cannot be below nothing.")];
    }
    let cow = Some(own.says("cow").to_owned()).filter(|cow| !cow.is_empty());
    let (unit, a_day) = (own.says("unit").to_owned(), own.says("each") == "a day");
    let new = Feeding { number: 0, store: store.number, since, until: own.day("until"), amount, unit, a_day, cow, guess: true };
    if let Some(remark) = far_feeding(store, &new, beside, but) {
        return vec![remark];
    }
    let short = |books: Books| books.settled().stocks.into_iter().find(|own| own.store.number == store.number).map(|own| own.stock.left);
    let mut after = beside.books.clone();
    after.feedings.retain(|other| Some(other.number) != but);
    after.feedings.push(new);
    let (before, after) = (short(beside.books.clone()).unwrap_or_default(), short(after).unwrap_or_default());
    if after >= Amount::ZERO || after >= before {
        return Vec::new();
    }
    let says = format!(
        "{} {} more of {} than the tickets brought in: is a ticket missing? Keep it if that much was fed.",
        trimmed((Amount::ZERO - after).figure(), 1),
        store.counted_in,
        store.name
    );
    vec![Remark::question("amount", says, None)]
}

fn minutes(own: &Own, beside: &Beside, but: Option<i64>) -> Vec<Remark> {
    let (Some(day), person, minutes) = (own.day("day"), own.says("person"), own.whole("minutes")) else { return Vec::new() };
    let week = whole_weeks(Span { from: day, to: day });
    let theirs = || beside.worked.iter().filter(|other| Some(other.number) != but && other.person.eq_ignore_ascii_case(person));
    let in_week: i64 = minutes + theirs().filter(|other| week.has(other.day)).map(|other| other.minutes).sum::<i64>();
    if in_week > A_WEEK {
        let says = format!("That makes {} for {person} in the week from {}: a week has 168.", hours(in_week), day_shown(week.from));
        return vec![Remark::fault("minutes", says)];
    }
    if own.says("over") == "the week" {
        return Vec::new();
    }
    let in_day: i64 = minutes + theirs().filter(|other| other.day == day && !other.over_the_week).map(|other| other.minutes).sum::<i64>();
    let that = format!("That makes {} for {person} on {}", hours(in_day), day_shown(day));
    if in_day > A_DAY {
        vec![Remark::fault("minutes", format!("{that}: a day has 24. Was it over the week, or is it written already?"))]
    } else if in_day > LONG_DAY {
        vec![Remark::question("minutes", format!("{that}. Keep it if it was so long a day."), None)]
    } else {
        Vec::new()
    }
}

/// Minutes as hours: `25 hours`.
fn hours(minutes: i64) -> String {
    format!("{} hours", trimmed(Decimal::from(minutes) / Decimal::from(60), 1))
}

fn meter(own: &Own, beside: &Beside, but: Option<i64>) -> Option<Remark> {
    let (day, shows) = (own.day("day")?, own.figure("reading")?);
    let others = || beside.books.meter.iter().filter(|other| Some(other.number) != but);
    let odd = |other: Day, shows: Decimal, how: &str| {
        let says = format!(
            "On {} it showed {}, so this one runs backwards{how} Keep it if the meter was changed.",
            day_shown(other),
            trimmed(shows, 2)
        );
        Some(Remark::question("reading", says, None))
    };
    if let Some(before) = others().rfind(|other| other.day <= day).filter(|other| other.shows > shows) {
        return odd(before.day, before.shows, ".");
    }
    let after = others().find(|other| other.day > day).filter(|other| other.shows < shows)?;
    odd(after.day, after.shows, " to it.")
}

fn bank(own: &Own, beside: &Beside, but: Option<i64>) -> Option<Remark> {
    let span = Span { from: own.day("since")?, to: own.day("until")? };
    let other = beside.books.bank.iter().find(|other| Some(other.number) != but && other.span.shared_with(span).days() > 0)?;
    let (from, to) = (day_shown(other.span.from), day_shown(other.span.to));
    let says =
        format!("These days overlap the total of {from} to {to}: what was paid on both would count twice. Keep it only if it would not.");
    Some(Remark::question("since", says, None))
}

/// What a what-if changes must be there to be changed.
fn what_if(own: &Own, beside: &Beside) -> Vec<Remark> {
    let Ok(changes) = Changes::parse(own.says("changes")) else { return Vec::new() };
    let stores: Vec<&str> = beside.books.stores.iter().map(|own| own.name.as_str()).collect();
    let sorts: Vec<&str> = stores.iter().copied().chain(SPENT.iter().copied()).collect();
    let cows: Vec<&str> = beside.cows.iter().map(String::as_str).collect();
    let missing = |one: &str, name: &str, known: &[&str]| {
        let found = known.iter().any(|own| own.eq_ignore_ascii_case(name));
        (!found).then(|| Remark::fault("changes", near::unknown(one, name, known.iter().copied())))
    };
    let look = |change: &Change| match change {
        Change::Price(name, _) => missing("store or sort of ticket", name, &sorts),
        Change::Use(name, _) => missing("store", name, &stores),
        Change::Assumed(name, _) => missing("assumption", name, ASSUMED),
        Change::Dry(name, _) => missing("cow", name, &cows),
        Change::Milk(_) | Change::HandedOut(_) | Change::OnceADay(_) | Change::ComesIn(_) => None,
    };
    changes.0.iter().filter_map(look).collect()
}
