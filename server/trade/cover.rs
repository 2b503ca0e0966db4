//! What must come in to cover the cost: boarding for a herd that is shared, and otherwise what a half-gallon must bring and how
//! many of them must go out.
//!
//! A herdshare is boarded by the month and never by the jar, so for one it is said for the whole herd and for each share. What
//! must come in is rounded up to the cent, because a cent too little does not cover it; what is left over is never worked out
//! from such a figure.

use super::{
    account::Books,
    boarding::month_of,
    costs::{Account, Gap, Per},
    figures::{Cell, Holds, Part, Sheet, Table},
    lines::{Line, Sort, View},
    measure::fixed,
    money::Money,
    months::{months_in, span_said},
    splits::BreakEven,
    stores::UsedBy,
    wear::Span,
};
use rust_decimal::{Decimal, RoundingStrategy, prelude::ToPrimitive};

/// The views that have to be covered: what was paid in a span says nothing about what was used up in it.
pub const VIEWS: [View; 2] = [View::Wear, View::Hours];

/// A cost in two parts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Grown {
    /// What grows with each jar: what is used up at every jar filled, jars and lids.
    pub by_jar: Money,
    /// What stays whether a jar more goes out or not.
    pub stays: Money,
}

impl Grown {
    /// The two parts of a view.
    ///
    /// # Errors
    /// A gap for *with hours* when no wage is named.
    pub fn of(books: &Books, account: &Account, view: View) -> Result<Grown, Gap> {
        let by_jar: Vec<&str> = books.stores.iter().filter(|own| own.used_by == UsedBy::Jar).map(|own| own.name.as_str()).collect();
        let grows = |line: &Line| line.sort == Sort::Jars || by_jar.contains(&line.name.as_str());
        let lines = account.lines_in(view)?;
        let sum = |wanted: bool| lines.iter().filter(|line| grows(line) == wanted).map(|line| line.amount).sum();
        Ok(Grown { by_jar: sum(true), stays: sum(false) })
    }

    /// What one more half-gallon adds.
    ///
    /// # Errors
    /// A gap when no milk reached a person.
    pub fn each(self, account: &Account) -> Result<Decimal, Gap> {
        Ok(self.by_jar.dollars() / account.milk.of(Per::Reached)?)
    }

    /// The half-gallons that must go out in the span when each brings so much; nothing when that is not more than one adds.
    ///
    /// # Errors
    /// A gap when no milk reached a person.
    pub fn break_even(self, account: &Account, brings: Money) -> Result<Option<BreakEven>, Gap> {
        Ok(BreakEven::of(self.stays, brings, self.each(account)?))
    }
}

/// What a month must bring to cover a total over a span, and what each of so many shares must; rounded up to the cent.
#[must_use]
pub fn a_month(total: Money, span: Span, shares: Decimal) -> (Money, Option<Money>) {
    let month = total.dollars().checked_div(months(span)).unwrap_or_default();
    (up(month), month.checked_div(shares).map(up))
}

/// The calendar months of a span, parts of one by their days.
fn months(span: Span) -> Decimal {
    let part = |month: Span| Decimal::from(month.days()) / Decimal::from(month_of(month.from).days().max(1));
    // Ten thirty-firsts and twenty-one more are one month, which 28 digits of each are not quite.
    months_in(span).into_iter().map(part).sum::<Decimal>().round_dp(18)
}

fn up(dollars: Decimal) -> Money {
    // A quotient kept to 28 digits may stand a hair above the cent it is.
    Money::round(dollars.round_dp(12).round_dp_with_strategy(2, RoundingStrategy::ToPositiveInfinity))
}

/// The whole of it as a report. `shares` is how many are boarded on the last day; none for a farm that has no herdshare.
#[must_use]
pub fn sheet(books: &Books, span: Span, shares: Decimal, farm: &str) -> Sheet {
    let account = books.account(span);
    let mut parts = Vec::new();
    if shares > Decimal::ZERO {
        parts.push(Part::Table(boarding(books, &account, span, shares)));
        parts.push(Part::Words(
            "Boarding pays for the keep of the cows and the work, not for jars. All of the cost is laid on boarding here: what came in at the gate besides would lower it.".to_owned(),
        ));
    } else {
        parts.push(Part::Table(by_jar(books, &account, span)));
        parts.push(Part::Words(
            "What is used up at every jar filled, jars and lids grow with each jar; cows, hours, feed and gear do not. When more goes out, what stays is shared by more.".to_owned(),
        ));
    }
    Sheet {
        name: format!("cover-{}-{}", span.from, span.to),
        title: "What must come in".to_owned(),
        under: span_said(span),
        facts: vec![("Farm".to_owned(), farm.to_owned())],
        parts,
    }
}

fn boarding(books: &Books, account: &Account, span: Span, shares: Decimal) -> Table {
    let shown = fixed(shares, 2);
    let columns = [
        ("To cover", Holds::Words, 3),
        ("In these days", Holds::Figures, 2),
        ("The whole herd, a month", Holds::Figures, 2),
        ("A share, a month", Holds::Figures, 2),
    ];
    let mut table = Table::new(
        "cover",
        &format!("Boarding that covers the cost, in dollars, with {} shares boarded", shown.trim_end_matches(".00")),
        &columns,
    );
    let mut row = |says: String, total: Result<Money, Gap>| match total {
        Ok(total) => {
            let (month, share) = a_month(total, span, shares);
            table.row([says, total.to_string(), month.to_string(), share.unwrap_or_default().to_string()]);
        }
        Err(gap) => table.row([says, gap.to_string(), "–".to_owned(), "–".to_owned()]),
    };
    for view in VIEWS {
        row(view.to_string(), account.total(view));
    }
    let came = if books.came_in(span).is_some() { "What came in" } else { "What came in, reckoned at what a half-gallon brings" };
    row(came.to_owned(), account.receipts.ok_or(Gap::NoReceipts));
    table
}

fn by_jar(books: &Books, account: &Account, span: Span) -> Table {
    let columns = [
        ("To cover", Holds::Words, 3),
        ("Does not grow", Holds::Figures, 2),
        ("Grows with each jar", Holds::Figures, 2),
        ("A half-gallon must bring", Holds::Figures, 2),
        ("Half-gallons at what it brings", Holds::Figures, 2),
        ("To spare", Holds::Figures, 2),
    ];
    let mut table = Table::new("cover", "In dollars and half-gallons that reach a person", &columns);
    for view in VIEWS {
        table.rows.push(match jar_row(books, account, span, view) {
            Ok(row) => row.map(Cell::says).to_vec(),
            Err(gap) => {
                [view.to_string(), gap.to_string(), "–".to_owned(), "–".to_owned(), "–".to_owned(), "–".to_owned()].map(Cell::says).to_vec()
            }
        });
    }
    table
}

fn jar_row(books: &Books, account: &Account, span: Span, view: View) -> Result<[String; 6], Gap> {
    let grown = Grown::of(books, account, view)?;
    let must = up(account.each(view, Per::Reached)?);
    let reached = account.milk.of(Per::Reached)?.floor().to_i64().unwrap_or_default();
    let (jars, spare) = match books.brings(span.to).map(Money::round) {
        None => ("name what one brings".to_owned(), "–".to_owned()),
        Some(brings) => grown.break_even(account, brings)?.map_or_else(
            || ("no number is enough".to_owned(), "–".to_owned()),
            |own| (own.jars.to_string(), own.to_spare(reached).to_string()),
        ),
    };
    Ok([view.to_string(), grown.stays.to_string(), fixed(grown.each(account)?, 4), must.to_string(), jars, spare])
}
