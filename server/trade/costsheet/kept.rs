//! What lies in the stores, whether the feed can be all that was fed, and where the hours went.

use super::super::{
    account::Books,
    costs::Account,
    drawn,
    figures::{Cell, Holds, Part, Table},
    lines::{HOUR, minutes_a_half_gallon},
    measure::{Weight, fixed, trimmed},
    money::Money,
    months::{Asked, month_shown, months_said, span_said},
    need::{self, Eater, Question, Solids},
    packs::Amount,
    splits::Cow,
    stock::Why,
    stores::{Settled, UsedBy},
    wear::Span,
};
use rust_decimal::{Decimal, prelude::ToPrimitive};
use std::collections::BTreeMap;

/// The stores: what lies there, what was used in the span, and what a count found.
pub(super) fn stores(books: &Books, span: Span) -> Vec<Part> {
    if books.stocks.is_empty() {
        let says = "Nothing is kept in a store: every ticket counts over the days written on it. With a store of hay or lids, a bale costs when it is eaten.";
        return vec![Part::Words(says.to_owned())];
    }
    let columns = [
        ("Store", Holds::Words, 3),
        ("Used", Holds::Figures, 2),
        ("Cost", Holds::Figures, 2),
        ("For milk, %", Holds::Figures, 1),
        ("Counts found short", Holds::Figures, 2),
        ("Lies there", Holds::Figures, 2),
        ("Worth", Holds::Figures, 2),
        ("Each", Holds::Figures, 2),
    ];
    let mut table =
        Table::new("stores", &format!("What was used from the stores, {}, and what lies there by the book", span_said(span)), &columns);
    for own in &books.stocks {
        let opens = format!("/costs/stores/{}", own.store.number);
        let (used, cost) = own
            .stock
            .in_span(span)
            .fold((Amount::ZERO, Money::ZERO), |(amount, cost), posted| (amount + posted.amount, cost + posted.cost));
        let short: Amount = own.stock.in_span(span).filter(|posted| posted.why == Why::Counted).map(|posted| posted.amount).sum();
        let unit = &own.store.counted_in;
        table.rows.push(vec![
            Cell::opening(&own.store.name, &opens),
            Cell::says(format!("{} {unit}", fixed(used.figure(), 0))),
            Cell::opening(cost.to_string(), &opens),
            Cell::says(own.store.milk_share.to_string()),
            Cell::says(if short == Amount::ZERO { "–".to_owned() } else { format!("{} {unit}", trimmed(short.figure(), 1)) }),
            Cell::says(format!("{} {unit}", fixed(own.stock.left.figure(), 0))),
            Cell::says(own.stock.value.to_string()),
            Cell::says(own.each().unwrap_or_else(|| "–".to_owned())),
        ]);
    }
    vec![Part::Table(table)]
}

/// Dry pounds eaten in a span: what was taken from the stores of feed, less water and what is wasted, and only the part for milk.
fn dry_eaten(own: &Settled, span: Span) -> Option<Decimal> {
    let dry = own.store.dry_matter.filter(|_| own.store.counted_in == "lb" && own.store.sort == "feed")?;
    let taken: Amount = own.stock.in_span(span).filter(|posted| posted.why == Why::Used).map(|posted| posted.amount).sum();
    let hundred = Decimal::ONE_HUNDRED;
    Some(taken.figure() * dry / hundred * (hundred - own.store.waste) / hundred * Decimal::from(own.store.milk_share) / hundred)
}

/// Whether the feed that is written can carry the milk that is written, month by month. It only asks; it never moves a cost.
pub(super) fn feed_check(books: &Books, asked: Asked) -> Vec<Part> {
    let figure = |name: &str| books.assumed(name, asked.span.to).map(|own| own.figure);
    let (Some(body), Some(fat), Some(protein)) = (figure("weight of a cow, lb"), figure("fat %"), figure("protein %")) else {
        return vec![Part::Words(
            "Name the weight of a cow, fat and protein under What is assumed, and this report asks where feed does not fit the milk."
                .to_owned(),
        )];
    };
    let Ok(solids) = Solids::of(fat, protein) else { return Vec::new() };
    let columns = [
        ("Month", Holds::Words, 3),
        ("Milk a day, lb", Holds::Figures, 2),
        ("4 % milk, lb", Holds::Figures, 2),
        ("Energy-corrected, lb", Holds::Figures, 2),
        ("Dry feed eaten a day, lb", Holds::Figures, 2),
        ("Likely to eat, lb", Holds::Figures, 2),
        ("Left for pasture, lb", Holds::Figures, 2),
        ("Energy needed, Mcal", Holds::Figures, 2),
    ];
    let mut table = Table::new("feed_need", "Whether the feed fits the milk: the herd's day, as a question and never a cost", &columns);
    let mut asks = Vec::new();
    for month in asked.months().into_iter().filter(|month| month.days() >= 14) {
        let cows = books.cows.iter().find(|(own, _)| *own == month).map(|(_, cows)| cows.as_slice()).unwrap_or_default();
        let eaters: Vec<Eater> = cows.iter().filter_map(|cow| eater(cow, solids, body, month)).collect();
        let eaten: Vec<Decimal> = books.stocks.iter().filter_map(|own| dry_eaten(own, month)).collect();
        if eaters.is_empty() || eaten.is_empty() {
            continue;
        }
        let days = Decimal::from(month.days());
        let (eaten, milk) = (Weight::pounds(eaten.iter().sum::<Decimal>() / days), cows.iter().map(|cow| cow.milk).sum::<Weight>());
        let milk = Weight::milligrams(milk.in_milligrams() / month.days());
        let pounds = |weight: Weight| Cell::says(fixed(weight.in_pounds(), 1));
        table.rows.push(vec![
            Cell::says(month_shown(month)),
            pounds(milk),
            pounds(solids.fat_corrected(milk)),
            pounds(solids.energy_corrected(milk)),
            pounds(eaten),
            pounds(need::wanted(&eaters)),
            pounds(need::from_pasture(&eaters, eaten)),
            Cell::says(fixed(eaters.iter().map(|own| own.energy()).sum(), 1)),
        ]);
        asks.extend(need::ask(&eaters, eaten).map(|question| (month, question)));
    }
    table.when_empty = "No feed with its dry matter is written down for these months.".to_owned();
    let source = "What a cow is likely to eat goes by the National Research Council's equation of 2001 for dry matter, from 4 % milk and her weight.";
    let mut parts = vec![Part::Table(table), Part::Words(source.to_owned())];
    parts.extend(asked_once(&asks).into_iter().map(Part::Words));
    parts
}

/// Every summer asks the same of a herd on pasture, so months of too little feed are asked about together, by the one that
/// stands out most.
fn asked_once(asks: &[(Span, Question)]) -> Option<String> {
    let months: Vec<Span> = asks.iter().map(|(month, _)| *month).collect();
    let worst = asks.iter().max_by_key(|(_, own)| (own.wanted.in_milligrams() - own.weighed.in_milligrams()).abs())?;
    let (_, question) = worst;
    Some(match months.as_slice() {
        [_] => format!("{}: {question}", months_said(&months)),
        _ => format!("{}, most of all in {}: {question}", months_said(&months), months_said(&[worst.0])),
    })
}

fn eater(cow: &Cow, solids: Solids, body: Decimal, month: Span) -> Option<Eater> {
    let milk = Weight::milligrams(cow.milk.in_milligrams() / month.days().max(1));
    // A cow that was here for part of the month eats for part of it; below half a month she is left out.
    (cow.days * 2 >= month.days()).then(|| Eater::of(milk, solids, Weight::pounds(body), None).ok()).flatten()
}

/// Minutes by job, paid and unpaid, as a picture and a table; and the minutes behind each half-gallon.
pub(super) fn hours(books: &Books, account: &Account, span: Span) -> Vec<Part> {
    let mut jobs: BTreeMap<String, (i64, i64, bool)> = BTreeMap::new();
    for hired in [true, false] {
        for own in books.minutes_in(span, hired) {
            let job = jobs.entry(own.job.clone()).or_default();
            if hired {
                job.0 += own.minutes
            } else {
                job.1 += own.minutes
            }
            job.2 |= own.guess;
        }
    }
    let mut jobs: Vec<(String, (i64, i64, bool))> = jobs.into_iter().collect();
    jobs.sort_by_key(|(_, (hired, unpaid, _))| std::cmp::Reverse(hired + unpaid));
    let columns = [
        ("Job", Holds::Words, 3),
        ("Hired, hours", Holds::Figures, 2),
        ("Unpaid, hours", Holds::Figures, 2),
        ("Minutes a half-gallon made", Holds::Figures, 2),
    ];
    let mut table = Table::new("jobs", &format!("Where the hours went, {}", span_said(span)), &columns);
    let hours = |minutes: i64| fixed(Decimal::from(minutes) / HOUR, 1);
    let each = |minutes: i64| {
        minutes_a_half_gallon(minutes, account.milk.produced / Decimal::TWO).map_or_else(|| "–".to_owned(), |each| fixed(each, 2))
    };
    for (job, (hired, unpaid, guess)) in &jobs {
        let opens = |word: &str| format!("/costs/lines/{word}?from={}&to={}", span.from, span.to);
        table.rows.push(vec![
            Cell::says(super::super::capital(job)),
            Cell::opening(hours(*hired), opens("hired")),
            Cell::opening(hours(*unpaid), opens("hours")).guessed(*guess),
            Cell::says(each(hired + unpaid)),
        ]);
    }
    table.when_empty = "No hours are written down for these days.".to_owned();
    let sum = |pick: fn(&(i64, i64, bool)) -> i64| jobs.iter().map(|(_, own)| pick(own)).sum::<i64>();
    let (hired, unpaid) = (sum(|own| own.0), sum(|own| own.1));
    if !jobs.is_empty() {
        table.total = Some([String::from("All"), hours(hired), hours(unpaid), each(hired + unpaid)].into_iter().map(Cell::says).collect());
    }
    let drawn_rows: Vec<(String, Decimal)> = jobs
        .iter()
        .map(|(job, (hired, unpaid, _))| (super::super::capital(job), (Decimal::from(hired + unpaid) / HOUR).round_dp(1)))
        .collect();
    let picture = drawn::bars("Hours by job", "h", &drawn_rows);
    picture.map(Part::Picture).into_iter().chain([Part::Table(table)]).chain(jars(books, span).map(Part::Words)).collect()
}

/// How often a jar is filled before it is lost, by the fills and by the jars that were ever put into use.
fn jars(books: &Books, span: Span) -> Option<String> {
    let own = books
        .stocks
        .iter()
        .find(|own| own.store.used_by == UsedBy::Jar && own.store.used_amount < Decimal::ONE && own.store.sort == "jars and lids")?;
    let fills: i64 = books.days.iter().filter(|own| own.day <= span.to).map(|own| own.jars).sum();
    let lost: Amount = own.stock.posted.iter().filter(|posted| posted.day <= span.to).map(|posted| posted.amount).sum();
    let uses = super::super::lines::jar_uses(fills, lost.figure().round().to_i64()?)?;
    Some(format!(
        "{}: a jar was filled about {} times before it broke or stayed away, by the fills and the jars counted as gone.",
        own.store.name,
        fixed(uses, 0)
    ))
}
