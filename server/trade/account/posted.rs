//! How each record becomes a line of an account: what it is for, where it counts, and on whom it falls.

use super::super::{
    bills::{Paid, Spent},
    lines::{Falls, Line, Sort, Views},
    money::Money,
    power::Reckoned,
    stores::Settled,
    wear::Span,
};
use rust_decimal::Decimal;

/// What one cow, or all of them together, took from a store, guessed or not, and the records that say so.
struct Part<'a> {
    of: (Option<&'a str>, bool),
    cost: Money,
    opens: Vec<String>,
}

/// What a store used up in a span, for each cow it went to alone and for all the others together.
#[must_use]
pub fn store_lines(own: &Settled, span: Span) -> Vec<Line> {
    let (sort, shared) = sort_of(own.store.sort);
    let mut parts: Vec<Part> = Vec::new();
    for posted in own.stock.in_span(span) {
        let of = (posted.cow.as_deref(), posted.guess);
        let place = parts.iter().position(|own| own.of == of).unwrap_or_else(|| {
            parts.push(Part { of, cost: Money::ZERO, opens: Vec::new() });
            parts.len() - 1
        });
        let Some(part) = parts.get_mut(place) else { continue };
        part.cost = part.cost + posted.cost;
        let opens = &*posted.opens;
        if part.opens.last().is_none_or(|own| own != opens) && !part.opens.iter().any(|own| own == opens) {
            part.opens.push(opens.to_owned());
        }
    }
    parts.sort_by_key(|own| own.of);
    parts
        .into_iter()
        .map(|Part { of: (cow, guess), cost, opens }| {
            let amount = Money::round(cost.dollars() * Decimal::from(own.store.milk_share) / Decimal::ONE_HUNDRED);
            let falls = cow.map_or_else(|| shared.clone(), |cow| Falls::OnCow(cow.to_owned()));
            Line { guess, opens, ..Line::new(&own.store.name, sort, amount, Views::USED, falls) }
        })
        .filter(|line| line.amount != Money::ZERO)
        .collect()
}

pub(super) fn power_line(own: &Reckoned) -> Option<Line> {
    let name = format!("Electricity {}, {}", own.month.from.format("%b %Y"), if own.by_meter { "by the meter" } else { "by the plates" });
    let line = Line::new(name, Sort::Power, own.cost?, Views::USED, Falls::ByMilkings);
    Some(Line { guess: true, ..line })
}

/// A ticket's part of an account: once for what was paid in the span, and once for what was used in it. What goes into a store
/// is used as it leaves the store, a calf that stays brings no money, and a loan costs its interest, never what is paid back.
#[must_use]
pub fn ticket_lines(own: &Paid, span: Span) -> Vec<Line> {
    let Ok(ticket) = own.ticket() else { return Vec::new() };
    let (sort, falls) = sort_of(&own.sort);
    let falls = own.cow.as_ref().map_or(falls, |cow| Falls::OnCow(cow.clone()));
    let (cash, used) = (own.sort != "calf kept", own.store.is_none() && own.sort != "loan principal");
    // Capital recovery holds the interest already.
    let used_in = if own.sort == "loan interest" { Views::WEAR } else { Views::USED };
    [(ticket.paid_in(span), Views::PAID, cash), (ticket.used_in(span), used_in, used)]
        .into_iter()
        .filter(|(amount, _, counts)| *counts && *amount != Money::ZERO)
        .map(|(amount, views, _)| {
            let line = Line::new(&own.what, sort, amount, views, falls.clone());
            Line { guess: own.guess, opens: vec![format!("/records/tickets/{}", own.number)], ..line }
        })
        .collect()
}

/// What a sort of ticket is for, and on whom it falls.
pub(super) fn sort_of(spent: &str) -> (Sort, Falls) {
    match spent {
        "feed" => (Sort::Feed, Falls::ByDays),
        "bedding" => (Sort::Supplies, Falls::ByDays),
        "supplies" => (Sort::Supplies, Falls::ByMilkings),
        "jars and lids" => (Sort::Jars, Falls::OnJars),
        "vet" | "breeding" => (Sort::Care, Falls::ByDays),
        "lab" => (Sort::Tests, Falls::ByPounds),
        "power" => (Sort::Power, Falls::ByMilkings),
        "insurance" | "permit" | "taxes and dues" => (Sort::Insurance, Falls::ByDays),
        "repairs" => (Sort::Gear, Falls::ByMilkings),
        "land" => (Sort::Land, Falls::ByDays),
        "calf sold" | "calf kept" => (Sort::Cows, Falls::ByDays),
        _ => (Sort::Other, Falls::ByDays),
    }
}

/// On whom the minutes of a job fall.
pub(super) fn falls(job: &str) -> Falls {
    match job {
        "milking" | "washing up" => Falls::ByMilkings,
        "filling" | "delivery" => Falls::OnJars,
        _ => Falls::ByDays,
    }
}

pub(super) fn said(job: &str, person: &str) -> String {
    format!("{job}, {person}")
}

pub(super) fn addresses(all: &[&Spent]) -> Vec<String> {
    all.iter().map(|own| own.opens.clone()).collect()
}
