//! A month's boarding, raised in one act: a line for each household with the sum shown, ticked, and kept together. Whoever has
//! it already is left out and said, so that two phones never raise it twice.

use super::called;
use crate::{
    pages::{App, Frame, Here, kind_of, remarks_of},
    store::{books, people, records},
    trade::{
        boarding::{self, IN_MONEY, begun, made_up, made_up_already, parse_month, raised},
        booksheet::Called,
        channels::Channel,
        missed::Weeks,
        money::Money,
        records::Remark,
        terms::{Terms, terms_on},
        transfers::{Sort, Transfer},
        wear::Span,
        when::{Day, day_shown},
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
use axum::extract::Query;
use sqlx::SqliteConnection;
use std::collections::BTreeMap;

/// The doors of this file.
pub(super) fn rooms() -> Rooms<App> {
    Rooms::new().look("/books/boarding", Role::Owner, show).send("/books/boarding", Role::Owner, raise)
}

/// The months offered to choose from.
const MONTHS: usize = 14;

/// A line that can be raised.
struct Offer {
    /// Its name on the form: what it is, for whom, for which month.
    key: String,
    called: String,
    /// How the amount comes about.
    sum: String,
    own: Transfer,
}

impl Offer {
    fn of(own: Transfer, called: &Called) -> Offer {
        let person = own.person.unwrap_or_default();
        let month = own.month.map(|month| month.to_string()).unwrap_or_default();
        let name = called.get(&person).map_or_else(|| person.to_string(), |(label, name)| format!("{label} {name}"));
        Offer {
            key: format!("{}.{person}.{month}", if own.sort == Sort::Boarding { "b" } else { "a" }),
            called: name,
            sum: own.note.clone(),
            own,
        }
    }

    /// Which of one form's marks it is kept under: boarding, what is made up for the month, and for the month before.
    fn mark(&self, month: Day) -> usize {
        let place = usize::try_from(self.own.person.unwrap_or_default()).unwrap_or_default() * 3;
        place
            + if self.own.sort == Sort::Boarding {
                0
            } else if self.own.month == Some(month) {
                1
            } else {
                2
            }
    }

    /// Whether it is less to pay.
    fn is_less(&self) -> bool {
        self.own.sort == Sort::Adjustment
    }
}

/// What a month offers, and whose boarding stands already.
struct Month {
    offers: Vec<Offer>,
    already: Vec<(String, Money)>,
    has_terms: bool,
}

#[derive(Template)]
#[template(path = "books/boarding.html")]
struct Show {
    frame: Frame,
    entry: String,
    remarks: Vec<Remark>,
    month: String,
    said: String,
    months: Vec<(String, String)>,
    found: Month,
    ticked: Vec<String>,
    /// What the act before kept and left out.
    told: Option<(u32, u32)>,
}

impl Show {
    fn is_ticked(&self, key: &String) -> bool {
        self.ticked.contains(key)
    }

    fn sum(&self) -> Money {
        self.found.offers.iter().filter(|offer| !offer.is_less()).map(|offer| offer.own.amount).sum()
    }
}

/// What can be raised for a month, as the ledger stands.
async fn month_of(db: &mut SqliteConnection, month: Span) -> Result<Month, Trouble> {
    let (shares, terms, pauses) = (people::shares(&mut *db).await?, books::terms(&mut *db).await?, people::pauses(&mut *db).await?);
    let before = boarding::month_of(month.from.pred_opt().unwrap_or(month.from));
    let empty = books::empty_days(&mut *db, Span { from: before.from, to: month.to }).await?;
    let weekdays: BTreeMap<i64, String> =
        people::takers(&mut *db, month.to).await?.into_iter().map(|own| (own.number, own.pickup_day)).collect();
    let (called, all) = (called(&mut *db, month.to).await?, books::all(db).await?);
    let standing = raised(&all, month.from);
    let lines = boarding::lines(&shares, &terms, month);
    let mut own: Vec<Transfer> =
        lines.iter().filter(|line| !standing.contains_key(&line.person)).filter_map(|line| boarding::entry(line, month.from)).collect();
    let weeks = Weeks { pauses: &pauses, empty: &empty };
    let missed = |person: i64, span: Span| weeks.missed(person, weekdays.get(&person).map_or("", String::as_str), &shares, span);
    let this: BTreeMap<i64, (Day, Money)> = lines.iter().map(|line| (line.person, (line.day, line.amount))).collect();
    own.extend(made_up_for(&all, &terms, month, &this, &missed));
    // A week missed after a month's boarding was raised is made up with the next.
    let last = raised(&all, before.from).into_iter().map(|(person, amount)| (person, (month.from, amount))).collect();
    own.extend(made_up_for(&all, &terms, before, &last, &missed));
    let name = |person: &i64| called.get(person).map_or_else(|| person.to_string(), |(label, name)| format!("{label} {name}"));
    Ok(Month {
        offers: own.into_iter().map(|own| Offer::of(own, &called)).collect(),
        already: standing.iter().map(|(person, amount)| (name(person), *amount)).collect(),
        has_terms: terms_on(&terms, Channel::Herdshare, month.to).is_some_and(|terms| terms.boarding.is_some()),
    })
}

/// The adjustments a month still asks for, where its terms make missed weeks up in money.
fn made_up_for(
    all: &[Transfer],
    terms: &[Terms],
    month: Span,
    boarding: &BTreeMap<i64, (Day, Money)>,
    missed: &dyn Fn(i64, Span) -> (i64, i64),
) -> Vec<Transfer> {
    if terms_on(terms, Channel::Herdshare, month.to).is_none_or(|terms| terms.missed != IN_MONEY) {
        return Vec::new();
    }
    let already = made_up_already(all, month.from);
    let one = |(person, (day, amount)): (&i64, &(Day, Money))| {
        let weeks = missed(*person, month);
        let due = made_up(*amount, weeks.0, weeks.1) - already.get(person).copied().unwrap_or_default();
        (due > Money::ZERO).then(|| boarding::adjustment(*person, *day, month.from, due, weeks)).flatten()
    };
    boarding.iter().filter_map(one).collect()
}

/// The month asked about; the present one where none or one to come was named, with a remark about it.
fn read_month(here: &Here, typed: &str) -> (Span, Vec<Remark>) {
    let today = here.zone().day(here.now);
    let present = boarding::month_of(today);
    match parse_month(typed) {
        _ if typed.trim().is_empty() => (present, Vec::new()),
        Some(month) if month.from > today => {
            let says = format!("{} has not begun. Boarding is raised from the first of its month on.", month.from.format("%B %Y"));
            (present, vec![Remark::fault("month", says)])
        }
        Some(month) => (month, Vec::new()),
        None => (present, vec![Remark::fault("month", "That is no month. Write it like 2026-11.")]),
    }
}

async fn view(here: &Here, month: Span, typed: &Fields, remarks: Vec<Remark>) -> Result<Show, Trouble> {
    let found = month_of(&mut *here.app.ledger.read().await?, month).await?;
    let sent = !typed.get("entry").is_empty();
    let ticked =
        if sent { typed.all("who").map(str::to_owned).collect() } else { found.offers.iter().map(|offer| offer.key.clone()).collect() };
    let count = |name: &str| typed.get(name).parse::<u32>().ok();
    let months = begun(here.zone().day(here.now), MONTHS);
    Ok(Show {
        frame: Frame::of(here, "Costs", "A month's boarding").await?,
        entry: typed.entry(),
        remarks,
        month: month.from.format("%Y-%m").to_string(),
        said: month.from.format("%B %Y").to_string(),
        months: months.iter().map(|month| (month.from.format("%Y-%m").to_string(), month.from.format("%B %Y").to_string())).collect(),
        found,
        ticked,
        told: count("kept").filter(|_| !sent).map(|kept| (kept, count("left").unwrap_or(0))),
    })
}

async fn show(here: Here, Query(asked): Query<Vec<(String, String)>>) -> Answer {
    let typed = Fields(asked);
    let (month, remarks) = read_month(&here, typed.get("month"));
    let wrong = !remarks.is_empty();
    let view = view(&here, month, &typed, remarks).await?;
    if wrong { again(&view) } else { page(&view) }
}

async fn raise(here: Here, Sealed(typed): Sealed) -> Answer {
    let (month, remarks) = read_month(&here, typed.get("month"));
    if !remarks.is_empty() {
        return again(&view(&here, month, &typed, remarks).await?);
    }
    match kept(&here, month, &typed).await? {
        Ok((kept, left)) => onward(&format!("/books/boarding?month={}&kept={kept}&left={left}", month.from.format("%Y-%m"))),
        Err(remarks) => again(&view(&here, month, &typed, remarks).await?),
    }
}

/// Keeps every line that was ticked and is not in the books yet: how many were kept, and how many left out.
async fn kept(here: &Here, month: Span, typed: &Fields) -> Result<Result<(usize, usize), Vec<Remark>>, Trouble> {
    let ticked: Vec<&str> = typed.all("who").collect();
    if ticked.is_empty() || typed.get("entry").is_empty() {
        return Ok(Err(vec![Remark::fault("who", "Nothing is ticked, so there is nothing to keep.")]));
    }
    let mut tx = here.app.ledger.begin().await?;
    let found = month_of(&mut tx, month).await?;
    let offers: Vec<&Offer> = found.offers.iter().filter(|offer| ticked.contains(&offer.key.as_str())).collect();
    let changed: Vec<Remark> = offers.iter().filter_map(|offer| changed(offer, typed)).collect();
    if !changed.is_empty() {
        return Ok(Err(changed));
    }
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    let mut kept = 0;
    for offer in &offers {
        let mark = secret::entry_within(typed.get("entry"), offer.mark(month.from));
        match records::keep(&mut tx, kind_of("transfers")?, &mark, offer.own.cells(), &act).await {
            Ok(own) => kept += usize::from(!own.already),
            Err(refusal) => return Ok(Err(remarks_of(refusal)?)),
        }
    }
    tx.commit().await?;
    Ok(Ok((kept, ticked.len() - kept)))
}

/// A sum that is no longer what the page showed, because a share or the terms changed meanwhile.
fn changed(offer: &Offer, typed: &Fields) -> Option<Remark> {
    let (shown, now) = (typed.get(&format!("sum.{}", offer.key)), offer.own.amount.to_string());
    let says = format!("{}: the sum is {now} by now, from {}. Look at it and keep it again.", offer.called, day_shown(offer.own.day));
    (shown != now).then(|| Remark::fault("who", says))
}
