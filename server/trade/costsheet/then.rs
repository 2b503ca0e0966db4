//! The same days a year before, and why they cost what they did: a bridge from then to now.
//!
//! First the milk: what the old cost would be over today's milk. Then part by part: what each took more or less, over today's
//! milk. The steps add up to the difference exactly; on paper they are rounded so that they still do.

use super::{
    super::{
        account::Books,
        apportion::to_the_whole,
        costs::Per,
        drawn,
        figures::{Cell, Holds, Part, Table},
        lines::View,
        measure::{fixed, signed, trimmed},
        money::Money,
        months::{Asked, span_said},
        packs::Amount,
        stores::Settled,
        wear::Span,
    },
    address,
    made_of::pieces,
};
use rust_decimal::Decimal;

/// A step between two years that is smaller than this many cents on each half-gallon is not worth a word.
const WORTH_A_WORD: i64 = 3;

/// The comparison, or why there is none.
pub(super) fn parts(books: &Books, asked: Asked) -> Vec<Part> {
    let Some((then, now)) = asked.beside() else {
        return vec![Part::Words("There is no year before to stand beside it yet: the same days must be written down twice.".to_owned())];
    };
    let (was, is) = (books.account(then), books.account(now));
    let view = if is.total(View::Hours).is_ok() && was.total(View::Hours).is_ok() { View::Hours } else { View::Wear };
    let (Ok(before), Ok(after), Ok(out_then), Ok(out_now)) =
        (pieces(books, &was, view, then), pieces(books, &is, view, now), was.milk.of(Per::Reached), is.milk.of(Per::Reached))
    else {
        return vec![Part::Words("No milk reached a person in one of the two years, so a half-gallon cannot be compared.".to_owned())];
    };
    let cents = |amount: Money| Decimal::from(amount.in_cents());
    let whole: Decimal = before.iter().map(|own| cents(own.amount)).sum();
    let mut exact = vec![whole / out_then, whole / out_now - whole / out_then];
    exact.extend(before.iter().zip(&after).map(|(was, is)| (cents(is.amount) - cents(was.amount)) / out_now));
    let rounded = to_the_whole(&exact);
    let (first, steps) = rounded.split_first().map_or((0, &[][..]), |(first, steps)| (*first, steps));
    let more = if out_now >= out_then { "More milk handed out" } else { "Less milk handed out" };
    let names = std::iter::once(more.to_owned()).chain(after.iter().map(|own| own.name.to_owned()));
    let steps: Vec<(String, i64)> = names.zip(steps.iter().copied()).collect();
    let last = first + steps.iter().map(|(_, cents)| cents).sum::<i64>();

    let columns =
        [("From then to now", Holds::Words, 5), ("Then", Holds::Figures, 2), ("Now", Holds::Figures, 2), ("Step, each", Holds::Figures, 2)];
    let caption = format!("A half-gallon that reached a person, {view}: {} beside {}", span_said(then), span_said(now));
    let mut table = Table::new("then_and_now", &caption, &columns);
    let row = |name: &str, then_says: Cell, now_says: Cell, step: i64| {
        vec![Cell::says(name), then_says, now_says, Cell::says(signed(Money::cents(step).to_string()))]
    };
    if let Some((name, step)) = steps.first() {
        table.rows.push(row(&format!("{name}, half-gallons"), Cell::says(fixed(out_then, 1)), Cell::says(fixed(out_now, 1)), *step));
    }
    for ((was, is), (_, step)) in before.iter().zip(&after).zip(steps.iter().skip(1)) {
        let says = |amount: Money, span: Span| Cell::opening(amount.to_string(), address(None, span));
        table.rows.push(row(is.name, says(was.amount, then), says(is.amount, now), *step));
    }
    let total = |cents: i64, span: Span| Cell::opening(Money::cents(cents).to_string(), address(None, span));
    table.total = Some(row("A half-gallon", total(first, then), total(last, now), last - first));

    let dollars = |cents: i64| Decimal::new(cents, 2);
    let drawn_steps: Vec<(String, Decimal)> =
        steps.iter().filter(|(_, cents)| *cents != 0).map(|(name, cents)| (name.clone(), dollars(*cents))).collect();
    let label = |span: Span| span.to.format("%b %Y").to_string();
    let picture =
        drawn::bridge("A half-gallon, from then to now", &(label(then), dollars(first)), &drawn_steps, &(label(now), dollars(last)));
    let mut parts: Vec<Part> = vec![Part::Words(why(last - first, &steps, view, asked))];
    parts.extend(picture.map(Part::Picture));
    parts.push(Part::Table(table));
    parts.extend(books.stocks.iter().filter_map(|own| feed_said(own, then, now)).map(Part::Words));
    parts
}

/// The difference in a sentence, with what moved it most.
fn why(change: i64, steps: &[(String, i64)], view: View, asked: Asked) -> String {
    let days = asked.beside().map_or(0, |(_, now)| now.days());
    let span =
        if days < 360 { format!("Over the {days} days that are written down in both years") } else { "Over twelve months".to_owned() };
    let amount = Money::cents(change.abs());
    let said = match change {
        0 => format!("{span}, a half-gallon cost the same as the year before, {view}."),
        up if up > 0 => format!("{span}, a half-gallon cost ${amount} more than the year before, {view}."),
        _ => format!("{span}, a half-gallon cost ${amount} less than the year before, {view}."),
    };
    let mut moved: Vec<&(String, i64)> = steps.iter().filter(|(_, cents)| cents.abs() >= WORTH_A_WORD).collect();
    moved.sort_by_key(|(_, cents)| std::cmp::Reverse(cents.abs()));
    let most: Vec<String> =
        moved.iter().take(3).map(|(name, cents)| format!("{} {}", name.to_lowercase(), signed(Money::cents(*cents).to_string()))).collect();
    if most.is_empty() { said } else { format!("{said} What moved it most: {}.", most.join(", ")) }
}

/// What a store's price and amount did between the two spans.
fn feed_said(own: &Settled, then: Span, now: Span) -> Option<String> {
    let used = |span: Span| {
        own.stock.in_span(span).fold((Amount::ZERO, Money::ZERO), |(amount, cost), posted| (amount + posted.amount, cost + posted.cost))
    };
    let ((amount_then, cost_then), (amount_now, cost_now)) = (used(then), used(now));
    let each = |cost: Money, amount: Amount| cost.dollars().checked_div(amount.figure()).filter(|each| *each > Decimal::ZERO);
    let (was, is) = (each(cost_then, amount_then)?, each(cost_now, amount_now)?);
    let unit = &own.store.counted_in;
    Some(format!(
        "{}: {} {unit} at {} then, {} {unit} at {} now.",
        own.store.name,
        fixed(amount_then.figure(), 0),
        trimmed(was, 4),
        fixed(amount_now.figure(), 0),
        trimmed(is, 4)
    ))
}
