//! The cost of milk by cow, what the jars add to it, what the household drank, and what cream carries.

use super::{
    super::{
        account::Books,
        costs::{Account, Gap, Per},
        figures::{Cell, Holds, Part, Table},
        joint::{self, Product, Way},
        lines::{Falls, View},
        measure::{Weight, fixed},
        money::Money,
        months::span_said,
        splits::{household_pays, split_by_cow},
        wear::Span,
        went::Flow,
    },
    NOT_COMPUTED, address,
};
use rust_decimal::Decimal;

/// Pounds in a gallon of cream of about forty per cent fat. Source: general tables of weights of foods, 8.28 lb.
const CREAM: Decimal = Decimal::from_parts(828, 0, 0, false, 2);
/// Pounds in a gallon of skim: specific gravity 1.035 × 8.345. Source: ranges of milk's density, skim 1.035.
const SKIM: Decimal = Decimal::from_parts(864, 0, 0, false, 2);

/// The tables by cow, and what goes with them.
pub(super) fn parts(books: &Books, account: &Account, span: Span) -> Vec<Part> {
    let view = if account.total(View::Hours).is_ok() { View::Hours } else { View::Wear };
    let cows = books.cows.iter().find(|(own, _)| *own == span).map(|(_, cows)| cows.as_slice()).unwrap_or_default();
    let Ok(split) = split_by_cow(account, view, cows) else { return Vec::new() };
    let columns = [
        ("Cow", Holds::Words, 3),
        ("Days here", Holds::Figures, 1),
        ("Milkings", Holds::Figures, 1),
        ("Half-gallons", Holds::Figures, 2),
        ("Hers alone", Holds::Figures, 2),
        ("By days", Holds::Figures, 2),
        ("By milkings", Holds::Figures, 2),
        ("By pounds", Holds::Figures, 2),
        ("All", Holds::Figures, 2),
        ("Each made", Holds::Figures, 2),
    ];
    let caption = format!(
        "Up to the jar, {view}, {}: what is hers alone, and what is shared by days here, by milkings and by pounds",
        span_said(span)
    );
    let mut table = Table::new("cows", &caption, &columns);
    for (cow, cost) in cows.iter().zip(&split.cows) {
        let money = |amount: Money| Cell::says(amount.to_string());
        table.rows.push(vec![
            Cell::opening(&cow.name, "/herd"),
            Cell::says(cow.days.to_string()),
            Cell::says(cow.milkings.to_string()),
            Cell::says(fixed(cow.milk.in_half_gallons(), 1)),
            money(cost.direct),
            money(cost.by_days),
            money(cost.by_milkings),
            money(cost.by_pounds),
            Cell::opening(cost.total().to_string(), address(None, span)),
            cost.each.map_or_else(|_| Cell::says("gave none"), |each| Cell::says(fixed(each, 2))),
        ]);
    }
    let blank = |count: usize| std::iter::repeat_n(Cell::says(""), count);
    let closing = |says: &str, amount: Money| -> Vec<Cell> {
        std::iter::once(Cell::says(says)).chain(blank(7)).chain([Cell::says(amount.to_string()), Cell::says("")]).collect()
    };
    if split.not_shared != Money::ZERO {
        table.rows.push(closing("Not shared out", split.not_shared));
    }
    let jars: Money =
        account.lines_in(view).unwrap_or_default().iter().filter(|line| line.falls == Falls::OnJars).map(|line| line.amount).sum();
    table.rows.push(closing("Jars, filling and handing out", jars));
    table.total = account.total(view).ok().map(|total| closing("All", total));
    let words = "A dry cow eats and gives nothing, so go by her twelve months. Jars are no cow's: once milk is in one can, none is hers.";
    let mut parts = vec![Part::Table(table), Part::Words(words.to_owned())];
    parts.extend(household(books, account, view, span).map(Part::Words));
    parts.extend(cream(books, account, view, span));
    parts
}

/// What the household's own milk carries, when it is chosen that it pays its share.
fn household(books: &Books, account: &Account, view: View, span: Span) -> Option<String> {
    let went = books.went(span);
    let drunk = went.of(Flow::House) + went.of(Flow::JarsHouse);
    if drunk <= Decimal::ZERO {
        return None;
    }
    let pays = books.chosen("household", span.to).is_some_and(|own| own.choice == "household pays its share");
    if !pays {
        return Some(format!(
            "The household drank {} half-gallons and carries none of the cost: so it is chosen under What is assumed.",
            fixed(drunk, 1)
        ));
    }
    let household = household_pays(account, view, drunk).ok()?;
    Some(format!(
        "The household pays its share: its {} half-gallons carry ${}, and that leaves ${} for each half-gallon that reached a person.",
        fixed(drunk, 1),
        household.pays,
        fixed(household.each, 2)
    ))
}

/// What cream and skim carry of the milk they were made from, by the way that is chosen.
fn cream(books: &Books, account: &Account, view: View, span: Span) -> Vec<Part> {
    let made =
        |what: &str| books.made.iter().filter(|(own, name, _)| *own == span && name == what).map(|(.., amount)| *amount).sum::<Decimal>();
    let (cream, skim) = (made("cream"), made("skim"));
    if cream <= Decimal::ZERO {
        return Vec::new();
    }
    let way = match books.chosen("cream", span.to).map(|own| own.choice.as_str()) {
        Some("cream by weight") => Way::Weight,
        Some("cream by what each brings") => Way::Brings,
        _ => Way::OnTheSide,
    };
    let poured = books.went(span).of(Flow::IntoLots);
    let joint = account.each(view, Per::Fit).map(|each| Money::round(each * poured));
    let brings = |name: &str, count: Decimal| Money::round(books.assumed(name, span.to).map_or(Decimal::ZERO, |own| own.figure) * count);
    let halves = |amount: Decimal, pounds: Decimal| Weight::pounds(amount / Decimal::TWO * pounds);
    let products = [
        Product {
            name: "Cream".to_owned(),
            weight: halves(cream, CREAM),
            brings: brings("a quart of cream brings", cream * Decimal::TWO),
            costs: Money::ZERO,
            on_the_side: true,
        },
        Product {
            name: "Skim and what is left".to_owned(),
            weight: halves(if skim > Decimal::ZERO { skim } else { poured - cream }, SKIM),
            brings: brings("a half-gallon of skim brings", skim),
            costs: Money::ZERO,
            on_the_side: false,
        },
    ];
    let shared =
        joint.map_err(|gap: Gap| gap.to_string()).and_then(|joint| joint::share(joint, &products, way).map_err(|fault| fault.to_string()));
    let columns = [
        ("From one pail", Holds::Words, 3),
        ("Half-gallons", Holds::Figures, 2),
        ("Pounds", Holds::Figures, 2),
        ("Carries", Holds::Figures, 2),
        ("A quart", Holds::Figures, 2),
    ];
    let caption = format!("Cream, {way}: {} half-gallons were poured for it, {view}", fixed(poured, 1));
    let mut table = Table::new("cream", &caption, &columns);
    for (place, (product, amount)) in products.iter().zip([cream, skim]).enumerate() {
        let carries = shared.as_ref().ok().and_then(|shares| shares.get(place)).copied();
        let quart = carries.and_then(|money| money.dollars().checked_div(amount * Decimal::TWO));
        table.rows.push(vec![
            Cell::says(&product.name),
            Cell::says(fixed(amount, 1)),
            Cell::says(fixed(product.weight.in_pounds(), 1)),
            carries.map_or_else(|| Cell::says(NOT_COMPUTED), |money| Cell::says(money.to_string())),
            quart.map_or_else(|| Cell::says("–"), |each| Cell::says(fixed(each, 2))),
        ]);
    }
    let why = shared.err().unwrap_or_else(|| {
        "No way of sharing a pail is the true one: it is chosen, and never says whether skimming pays. For that, hold what more it brings against what more it costs.".to_owned()
    });
    vec![Part::Table(table), Part::Words(why)]
}
