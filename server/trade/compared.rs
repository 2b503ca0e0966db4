//! Now beside a what-if: the three views, what came in, what an hour earned, and which parts changed; and every what-if that
//! was kept, beside each other on the same twelve months.

use super::{
    account::Books,
    bills::Item,
    costs::{Account, Gap, Per},
    costsheet::{of_item, view_said},
    drawn,
    drivers::beside,
    figures::{Cell, Holds, Part, Sheet, Table},
    in_an_address,
    lines::View,
    measure::{fixed, signed},
    money::Money,
    months::span_said,
    swings,
    wear::Span,
    what_if::Changes,
};
use rust_decimal::Decimal;

/// The sheet's title.
pub const TITLE: &str = "What if";

/// A what-if that was kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Saved {
    /// The record's number.
    pub number: i64,
    /// Its name.
    pub name: String,
    /// Its changes, as the ledger holds them.
    pub changes: String,
}

/// The address of a what-if.
#[must_use]
pub fn address(changes: &str) -> String {
    format!("/costs/what-if?changes={}", in_an_address(changes))
}

/// The whole report: now beside these changes, if there are some, and beside every what-if that was kept.
#[must_use]
pub fn sheet(books: &Books, then: Option<(&Changes, &Books)>, saved: &[Saved], span: Span, farm: &str) -> Sheet {
    let mut facts = vec![("Farm".to_owned(), farm.to_owned())];
    let mut parts = Vec::new();
    let now = books.account(span);
    if let Some((changes, changed)) = then {
        facts.push(("Changed".to_owned(), changes.to_string()));
        let then = changed.account(span);
        parts.push(Part::Table(side_by_side(&now, &then)));
        parts.push(Part::Table(milk(&now, &then)));
        parts.push(Part::Table(changed_parts((books, &now), (changed, &then), span)));
        parts.extend(beside(books, changes, span).into_iter().map(Part::Words));
    }
    parts.push(Part::Heading("Kept and compared".to_owned()));
    parts.push(Part::Table(all_saved(books, &now, saved, span)));
    let view = if now.total(View::Hours).is_ok() { View::Hours } else { View::Wear };
    parts.push(Part::Heading("What moves it most".to_owned()));
    let found = swings::swings(books, span, view);
    if let Ok((base, swings)) = &found {
        let rows: Vec<_> = swings.iter().map(|own| (own.input.to_string(), own.less, own.more.unwrap_or(*base))).collect();
        let title = "What a half-gallon costs with a fifth less or more of one driver";
        parts.extend(drawn::tornado(title, *base, &rows).map(Part::Picture));
    }
    parts.push(Part::Table(swings::table(&found, view)));
    parts.push(Part::Words(
        "One driver is moved at a time, all else as it is. It is no chance: nothing here says how likely a fifth more or less is."
            .to_owned(),
    ));
    let name = format!("what-if-{}-{}", span.from, span.to);
    Sheet { name, title: TITLE.to_owned(), under: span_said(span), facts, parts }
}

/// A figure, or why there is none.
fn shown<F>(figure: &Result<F, Gap>, says: impl Fn(&F) -> String) -> String {
    figure.as_ref().map_or_else(ToString::to_string, says)
}

/// Two figures of one thing and what lies between them.
fn row<F: Copy + std::ops::Sub<Output = F>>(
    what: &str,
    now: Result<F, Gap>,
    then: Result<F, Gap>,
    says: impl Fn(&F) -> String,
) -> Vec<Cell> {
    let between = match (now, then) {
        (Ok(now), Ok(then)) => signed(says(&(then - now))),
        _ => "–".to_owned(),
    };
    [what.to_owned(), shown(&now, &says), shown(&then, &says), between].map(Cell::says).to_vec()
}

const BESIDE: [(&str, Holds, u8); 4] =
    [("", Holds::Words, 5), ("Now", Holds::Figures, 2), ("Then", Holds::Figures, 2), ("More or less", Holds::Figures, 2)];

fn beside_table(name: &str, caption: &str, first: &str) -> Table {
    let mut columns = BESIDE;
    columns[0].0 = first;
    Table::new(name, caption, &columns)
}

fn side_by_side(now: &Account, then: &Account) -> Table {
    let mut table = beside_table("beside", "Now, and then, in dollars", "Figure");
    let (money, two) = (|own: &Money| own.to_string(), |own: &Decimal| fixed(*own, 2));
    for view in View::ALL {
        table.rows.push(row(view_said(view), now.total(view), then.total(view), money));
        let each = format!("{view}, for each half-gallon that reached a person");
        table.rows.push(row(&each, now.each(view, Per::Reached), then.each(view, Per::Reached), two));
    }
    let came = |own: &Account| own.receipts.ok_or(Gap::NoReceipts);
    table.rows.push(row("What came in", came(now), came(then), money));
    for view in [View::Wear, View::Hours] {
        table.rows.push(row(&format!("Left over, {}", view.to_string().to_lowercase()), now.left_over(view), then.left_over(view), money));
    }
    table.rows.push(row("Earned an hour", now.return_an_hour(), then.return_an_hour(), two));
    table
}

fn milk(now: &Account, then: &Account) -> Table {
    let mut table = beside_table("milk", "Milk, in half-gallons", "Milk");
    table.rows =
        Per::ALL.map(|per| row(&super::capital(&per.to_string()), now.milk.of(per), then.milk.of(per), |own| fixed(*own, 1))).to_vec();
    table
}

/// The lines of the report that are not what they were.
fn changed_parts((books, now): (&Books, &Account), (changed, then): (&Books, &Account), span: Span) -> Table {
    let columns = [
        ("Line", Holds::Words, 4),
        ("Cash out", Holds::Figures, 2),
        ("With wear", Holds::Figures, 2),
        ("With hours", Holds::Figures, 2),
        ("With hours now", Holds::Figures, 2),
        ("With hours then", Holds::Figures, 2),
    ];
    let mut table = Table::new("changed", "Which parts changed, and by how much, in dollars", &columns);
    for item in Item::all() {
        let (now, then) = (
            View::ALL.map(|view| of_item(books, now, item, view, span).0),
            View::ALL.map(|view| of_item(changed, then, item, view, span).0),
        );
        if now == then {
            continue;
        }
        let moved = |(now, then): (&Result<Money, Gap>, &Result<Money, Gap>)| match (now, then) {
            (Ok(now), Ok(then)) => signed((*then - *now).to_string()),
            _ => "not computed".to_owned(),
        };
        let mut row = vec![item.said()];
        row.extend(now.iter().zip(&then).map(moved));
        row.extend([&now, &then].map(|own| own.last().map(|amount| shown(amount, ToString::to_string)).unwrap_or_default()));
        table.rows.push(row.into_iter().map(Cell::says).collect());
    }
    table.when_empty = "No line of the cost changes.".to_owned();
    table
}

/// Every what-if that was kept, worked out on the same days as what is.
fn all_saved(books: &Books, now: &Account, saved: &[Saved], span: Span) -> Table {
    let columns = [
        ("What if", Holds::Words, 4),
        ("Cash out", Holds::Figures, 2),
        ("With wear", Holds::Figures, 2),
        ("With hours", Holds::Figures, 2),
        ("Each, with hours", Holds::Figures, 2),
        ("Came in", Holds::Figures, 2),
        ("Left over, with wear", Holds::Figures, 2),
        ("An hour", Holds::Figures, 2),
    ];
    let mut table = Table::new("kept", &format!("All on {}, in dollars", span_said(span)), &columns);
    let figures = |own: &Account| {
        let none = || "–".to_owned();
        let money = |own: Result<Money, Gap>| own.map_or_else(|_| none(), |own| own.to_string());
        let two = |own: Result<Decimal, Gap>| own.map_or_else(|_| none(), |own| fixed(own, 2));
        let [cash, wear, hours] = View::ALL.map(|view| money(own.total(view)));
        let came = money(own.receipts.ok_or(Gap::NoReceipts));
        [cash, wear, hours, two(own.each(View::Hours, Per::Reached)), came, money(own.left_over(View::Wear)), two(own.return_an_hour())]
    };
    let mut push = |name: Cell, figures: [String; 7]| table.rows.push(std::iter::once(name).chain(figures.map(Cell::says)).collect());
    push(Cell::says("As it is"), figures(now));
    for own in saved {
        let worked = Changes::parse(&own.changes).map_err(|fault| fault.to_string()).and_then(|changes| {
            let wrong = |remarks: Vec<super::remarks::Remark>| remarks.into_iter().map(|own| own.says).collect::<Vec<_>>().join(" ");
            books.with(&changes, span).map_err(wrong)
        });
        match worked {
            Ok(changed) => {
                push(Cell::opening(format!("{}: {}", own.name, own.changes), address(&own.changes)), figures(&changed.account(span)))
            }
            Err(says) => push(
                Cell::opening(format!("{}: {says}", own.name), format!("/records/what_ifs/{}", own.number)),
                std::array::from_fn(|_| "–".to_owned()),
            ),
        }
    }
    table
}
