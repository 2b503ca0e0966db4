//! A month's boarding, raised in one act: a line for each household with the sum shown, ticked, and kept together. Whoever has
//! it already is left out and said, so that two phones never raise it twice.

use crate::{
    pages::{App, Frame, Here, kind_of, remarks_of},
    store::{books, people, records},
    trade::{
        boarding::{self, IN_MONEY, Less, begun, made_up_already, parse_month, raised, too_much},
        booksheet::Called,
        channels::Channel,
        missed::{Before, Weeks, policy},
        money::Money,
        promises::Share,
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
        visitor::Who,
    },
};
use askama::Template;
use axum::extract::Query;
use sqlx::SqliteConnection;
use std::collections::{BTreeMap, BTreeSet};

/// The doors of this file.
pub(super) fn rooms() -> Rooms<App> {
    Rooms::new().look("/books/boarding", Who::Owner, show).send("/books/boarding", Who::Owner, raise)
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
    /// What they lack before they may have milk; then the line is there and not ticked.
    lacks: String,
    own: Transfer,
}

impl Offer {
    fn of(own: Transfer, called: &Called, lacks: &BTreeMap<i64, String>) -> Offer {
        let person = own.person.unwrap_or_default();
        let month = own.month.map(|month| month.to_string()).unwrap_or_default();
        let name = called.get(&person).map_or_else(|| person.to_string(), |(label, name)| format!("{label} {name}"));
        Offer {
            key: format!("{}.{person}.{month}", if own.sort == Sort::Boarding { "b" } else { "a" }),
            called: name,
            sum: own.note.clone(),
            lacks: lacks.get(&person).filter(|_| own.sort == Sort::Boarding).cloned().unwrap_or_default(),
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
    /// Whose boarding begins on a day to come, and on which.
    later: Vec<(String, String)>,
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

/// What can be raised for a month on a day, as the ledger stands. Nothing is raised for a day to come: the books of today would
/// have somebody owe what their statement does not.
async fn month_of(db: &mut SqliteConnection, month: Span, here: &Here) -> Result<Month, Trouble> {
    let today = here.zone().day(here.now);
    let (shares, terms, pauses) = (people::shares(&mut *db).await?, books::terms(&mut *db).await?, people::pauses(&mut *db).await?);
    let before = boarding::month_of(month.from.pred_opt().unwrap_or(month.from));
    let empty = books::empty_days(&mut *db, Span { from: before.from, to: month.to }).await?;
    let takers = people::takers(&mut *db, month.to.min(today)).await?;
    let weekdays: BTreeMap<i64, String> = takers.iter().map(|own| (own.number, own.pickup_day.clone())).collect();
    let weekdays_before = people::weekdays_before(&mut *db, here.zone()).await?;
    let left: BTreeMap<i64, Day> = takers.iter().filter_map(|own| Some((own.number, own.until?))).collect();
    let lacks: BTreeMap<i64, String> = takers.iter().filter_map(|own| Some((own.number, own.lacks.first()?.to_string()))).collect();
    let called: Called = takers.into_iter().map(|own| (own.number, (own.label, own.name))).collect();
    let (shares, all) = (boarding::ending_with(&shares, &left), books::all(db).await?);
    let standing = raised(&all, month.from);
    let lines = boarding::lines(&shares, &terms, month);
    let mut own: Vec<Transfer> =
        lines.iter().filter(|line| !standing.contains_key(&line.person)).filter_map(|line| boarding::entry(line, month.from)).collect();
    let weeks = Weeks { pauses: &pauses, empty: &empty };
    let rests_on = RestsOn { all: &all, shares: &shares, terms: &terms, weeks, weekdays: &weekdays, weekdays_before: &weekdays_before };
    own.extend(rests_on.less(month, month.from, &lines, &standing));
    // A week missed after a month's boarding was raised is made up with the next.
    let last = raised(&all, before.from);
    let mut lines_before = boarding::lines(&shares, &terms, before);
    lines_before.retain(|line| last.contains_key(&line.person));
    own.extend(rests_on.less(before, month.from, &lines_before, &last));
    let name = |person: &i64| called.get(person).map_or_else(|| person.to_string(), |(label, name)| format!("{label} {name}"));
    let (own, later): (Vec<Transfer>, Vec<Transfer>) = own.into_iter().partition(|own| own.day <= today);
    Ok(Month {
        offers: own.into_iter().map(|own| Offer::of(own, &called, &lacks)).collect(),
        later: later.iter().filter_map(|own| Some((name(&own.person?), day_shown(own.day)))).collect(),
        already: standing.iter().map(|(person, amount)| (name(person), *amount)).collect(),
        has_terms: terms_on(&terms, Channel::Herdshare, month.to).is_some_and(|terms| terms.boarding.is_some()),
    })
}

/// What less to pay rests on.
struct RestsOn<'a> {
    all: &'a [Transfer],
    shares: &'a [Share],
    terms: &'a [Terms],
    weeks: Weeks<'a>,
    weekdays: &'a BTreeMap<i64, String>,
    weekdays_before: &'a Before,
}

impl RestsOn<'_> {
    /// The adjustments a month still asks for: weeks the farm missed, where the terms of their day make them up in money, and
    /// boarding that was raised before a share ended. Each is written for the first day of the boarding, or for `otherwise`.
    fn less(&self, month: Span, otherwise: Day, lines: &[boarding::Line], raised: &BTreeMap<i64, Money>) -> Vec<Transfer> {
        let already = made_up_already(self.all, month.from);
        let people: BTreeSet<i64> = lines.iter().map(|line| line.person).chain(raised.keys().copied()).collect();
        let one = |person: i64| {
            let line = lines.iter().find(|line| line.person == person);
            let now = line.map_or(Money::ZERO, |line| line.amount);
            let weekday = self.weekdays.get(&person).map_or("", String::as_str);
            let came_on = self.weekdays_before.in_span(person, weekday, month);
            let counts = |day: Day| policy(person, self.shares, self.terms, day) == IN_MONEY;
            let less = Less {
                now,
                missed: self.weeks.missed((person, &came_on), self.shares, &counts),
                over: raised.get(&person).and_then(|stands| too_much(person, *stands, now, self.shares, month)),
                already: already.get(&person).copied().unwrap_or_default(),
                on: line.filter(|_| month.has(otherwise)).map_or(otherwise, |line| line.day),
                month,
            };
            less.entry(person)
        };
        people.into_iter().filter_map(one).collect()
    }
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
    let found = month_of(&mut *here.app.ledger.read().await?, month, here).await?;
    let sent = !typed.get("entry").is_empty();
    let usual = || found.offers.iter().filter(|offer| offer.lacks.is_empty()).map(|offer| offer.key.clone()).collect();
    let ticked = if sent { typed.all("who").map(str::to_owned).collect() } else { usual() };
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
    let found = month_of(&mut tx, month, here).await?;
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
