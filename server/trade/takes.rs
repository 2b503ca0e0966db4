//! What a half-gallon takes, on one plain sheet: for the wall, or for a member who asks.
//!
//! A member boards a share of a herd and buys no jar, so the sheet for a farm with members says where the boarding goes, and how
//! much work and feed is behind the milk, and nothing that could be read as the price of a jar. A farm that only sells over its
//! own gate may show what a half-gallon costs it.

use super::{
    account::Books,
    apportion::by_weight,
    costs::{Account, Per},
    figures::{Cell, Holds, Part, Sheet, Table},
    lines::{Sort, View},
    measure::fixed,
    months::span_said,
    packs::{Amount, Packs},
    wear::Span,
    went::Flow,
    when::Day,
};
use rust_decimal::Decimal;

/// The sheet's title.
pub const TITLE: &str = "What a half-gallon takes";

/// The shares a dollar is parted into, and the lines of an account that belong to each; the last takes all others.
const SHARES: [(&str, &[Sort]); 7] = [
    ("Feed", &[Sort::Feed]),
    ("Jars and lids", &[Sort::Jars]),
    ("Hands", &[Sort::PaidHours, Sort::UnpaidHours]),
    ("Gear and buildings", &[Sort::Gear]),
    ("The cows themselves", &[Sort::Cows]),
    ("Care: vet, breeding and lab tests", &[Sort::Care, Sort::Tests]),
    ("Everything else: land, bedding, electricity, insurance", &[]),
];

/// The herd: since when each cow is here, and her turns in the order of days.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Herd(pub Vec<(Day, Vec<(Day, String)>)>);

impl Herd {
    /// How many cows are here on a day.
    #[must_use]
    pub fn count(&self, day: Day) -> usize {
        let left = |turns: &[(Day, String)]| turns.iter().any(|(on, sort)| sort == "left" && *on <= day);
        self.0.iter().filter(|(since, turns)| *since <= day && !left(turns)).count()
    }

    /// How many cows were dry in a span, and for how many days together: from the day she was dried off to the day before she
    /// calved again.
    #[must_use]
    pub fn dry(&self, span: Span) -> (usize, i64) {
        let days: Vec<i64> = self.0.iter().map(|(_, turns)| dry_days(turns, span)).filter(|days| *days > 0).collect();
        (days.len(), days.iter().sum())
    }
}

fn dry_days(turns: &[(Day, String)], span: Span) -> i64 {
    let (mut since, mut days) = (None, 0);
    for (day, sort) in turns {
        if sort == "dried off" {
            since = since.or(Some(*day));
        } else if let Some(from) = since.take() {
            days += day.pred_opt().map_or(0, |to| span.shared_with(Span { from, to }).days());
        }
    }
    days + since.map_or(0, |from| span.shared_with(Span { from, to: span.to }).days())
}

/// The view the sheet goes by: with the farm's hours where it named what an hour is worth, otherwise without.
#[must_use]
pub fn view(account: &Account) -> View {
    if account.total(View::Hours).is_ok() { View::Hours } else { View::Wear }
}

/// The shares of a dollar in whole cents, which add up to a hundred; nothing when nothing was spent. What more came back than
/// went out, as when calves paid for more than their mothers' wear, takes no share.
#[must_use]
pub fn cents(account: &Account) -> Option<[i64; 7]> {
    let lines = account.lines_in(view(account)).ok()?;
    let named = |sort: Sort| SHARES.iter().position(|(_, sorts)| sorts.contains(&sort)).unwrap_or(SHARES.len() - 1);
    let spent: Vec<i64> = (0..SHARES.len())
        .map(|place| lines.iter().filter(|line| named(line.sort) == place).map(|line| line.amount.in_cents()).sum())
        .collect();
    by_weight(100, &spent)?.try_into().ok()
}

/// Pounds of feed used in a span, as far as they are written: what left the stores, and tickets of feed by weight over the days
/// they cover.
#[must_use]
pub fn feed(books: &Books, span: Span) -> Decimal {
    let part = |share: i64| Decimal::from(share) / Decimal::ONE_HUNDRED;
    let stores = books.stocks.iter().filter(|own| own.store.sort == "feed" && own.store.counted_in == "lb");
    let used = stores.map(|own| own.stock.in_span(span).map(|posted| posted.amount).sum::<Amount>().figure() * part(own.store.milk_share));
    let tickets = books.tickets.iter().filter(|own| own.sort == "feed" && own.store.is_none());
    let bought = tickets.filter_map(|own| {
        let (amount, covers) = (Packs::default().amount(own.quantity?, &own.unit, "lb").ok()?, own.covers()?);
        let days = Decimal::from(covers.shared_with(span).days()) / Decimal::from(covers.days());
        Some(amount.figure() * days * part(own.milk_share))
    });
    used.chain(bought).sum()
}

/// The sheet of a span. `has_members` says that milk reaches people by a share: then nothing on it reads as a price.
#[must_use]
pub fn sheet(books: &Books, span: Span, farm: &str, herd: &Herd, has_members: bool) -> Sheet {
    let account = books.account(span);
    let mut parts = vec![Part::Table(shares(&account, has_members))];
    parts.push(Part::Words(match view(&account) {
        View::Hours => "Reckoned with hours: feed as it was eaten, the wear of gear and cows, and every hour of work, also the farm’s own.",
        _ => "Reckoned with wear: feed as it was eaten, and the wear of gear and cows. The farm’s own hours are not in it, because nobody named what an hour is worth.",
    }.to_owned()));
    parts.push(Part::Table(behind(books, &account, span, herd, has_members)));
    parts.push(Part::Table(elsewhere(books, span)));
    parts.extend(books.guessed(span).said(books.begun).into_iter().map(Part::Words));
    Sheet {
        name: format!("half-gallon-{}-{}", span.from, span.to),
        title: TITLE.to_owned(),
        under: span_said(span),
        facts: vec![("Farm".to_owned(), farm.to_owned())],
        parts,
    }
}

fn shares(account: &Account, has_members: bool) -> Table {
    let caption = if has_members { "Where a dollar of boarding goes" } else { "Where a dollar goes" };
    let mut table = Table::new("shares", caption, &[("What it is for", Holds::Words, 5), ("Cents", Holds::Figures, 1)]);
    "Nothing is written down yet for these days.".clone_into(&mut table.when_empty);
    if let Some(cents) = cents(account) {
        for ((name, _), cents) in SHARES.iter().zip(cents) {
            table.row([(*name).to_owned(), cents.to_string()]);
        }
        table.total = Some(vec![Cell::says("All of it"), Cell::says("100")]);
    }
    table
}

/// What stands behind each half-gallon that reached a person.
fn behind(books: &Books, account: &Account, span: Span, herd: &Herd, has_members: bool) -> Table {
    let mut table = Table::new("behind", "Behind the milk", &[("What", Holds::Words, 5), ("How much", Holds::Figures, 2)]);
    let guess = books.guessed(span).is_in(Per::Reached);
    let each = |figure: Decimal| (figure > Decimal::ZERO).then(|| figure.checked_div(account.milk.reached)).flatten();
    let mut add = |what: &str, figure: Option<String>, guess: bool| {
        table.rows.push(vec![Cell::says(what), Cell::says(figure.unwrap_or_else(|| "not written down".to_owned())).guessed(guess)]);
    };
    let minutes = [false, true].into_iter().flat_map(|hired| books.minutes_in(span, hired));
    let (minutes, by_guess) = minutes.fold((0, guess), |(sum, guess), own| (sum + own.minutes, guess || own.guess));
    add("Minutes of work behind each half-gallon", each(Decimal::from(minutes)).map(|figure| fixed(figure, 1)), by_guess);
    add("Pounds of feed behind each half-gallon", each(feed(books, span)).map(|figure| fixed(figure, 1)), guess);
    add("Cows here", Some(herd.count(span.to).to_string()), false);
    let (dry, days) = herd.dry(span);
    add("Cows that stood dry in these days, and ate", Some(dry.to_string()), false);
    if dry > 0 {
        add("Days they were dry, all together", Some(days.to_string()), false);
    }
    if !has_members && let Ok(cost) = account.each(view(account), Per::Reached) {
        add("What a half-gallon costs the farm", Some(format!("${}", fixed(cost, 2))), true);
    }
    table
}

/// Milk that reached nobody, of every hundred half-gallons out of the cows.
fn elsewhere(books: &Books, span: Span) -> Table {
    let columns = [("Where it goes", Holds::Words, 5), ("Half-gallons", Holds::Figures, 2)];
    let mut table = Table::new("elsewhere", "Of every hundred half-gallons out of the cows", &columns);
    "No milking is written down in these days.".clone_into(&mut table.when_empty);
    let went = books.went(span);
    let produced = went.of(Flow::Produced);
    let ways: [(&str, &[Flow]); 5] = [
        ("First milk after calving", &[Flow::Colostrum]),
        ("To the calves", &[Flow::Calf, Flow::JarsCalf]),
        ("To the farm’s own table", &[Flow::House, Flow::JarsHouse]),
        ("To the lab, and kept on the shelf to look at", &[Flow::Samples]),
        ("Thrown out or broken", &[Flow::ThrownOut, Flow::JarsThrownOut, Flow::Broken]),
    ];
    for (says, flows) in ways {
        let sum: Decimal = flows.iter().map(|flow| went.of(*flow)).sum();
        if let Some(share) = (sum * Decimal::ONE_HUNDRED).checked_div(produced) {
            table.row([says.to_owned(), fixed(share, 1)]);
        }
    }
    table
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> Day {
        text.parse().unwrap()
    }

    /// Worked by hand: dried off on 1 June, calved on 31 July: 60 dry days, 30 of them in June.
    #[test]
    fn dry_days_are_counted_in_the_span() {
        let turns = [("2025-06-01", "calved"), ("2026-06-01", "dried off"), ("2026-07-31", "calved"), ("2026-11-01", "left")];
        let cow = (day("2025-01-01"), turns.map(|(on, sort)| (day(on), sort.to_owned())).to_vec());
        let herd = Herd(vec![cow, (day("2026-09-01"), Vec::new())]);
        let span = |from: &str, to: &str| Span { from: day(from), to: day(to) };
        assert_eq!(herd.dry(span("2026-01-01", "2026-12-31")), (1, 60));
        assert_eq!(herd.dry(span("2026-06-01", "2026-06-30")), (1, 30));
        assert_eq!(herd.dry(span("2026-08-01", "2026-12-31")), (0, 0));
        assert_eq!([day("2026-08-01"), day("2026-10-01"), day("2026-11-01")].map(|on| herd.count(on)), [1, 2, 1]);
    }
}
