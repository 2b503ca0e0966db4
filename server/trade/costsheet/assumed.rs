//! What the farm assumes: every figure with where it comes from, and every way of reckoning that was chosen.

use super::super::{
    account::Books,
    figures::{Cell, Holds, Table},
    guessed,
    kinds::ASSUMED,
    measure::trimmed,
    wear::Span,
};

/// What the farm assumes, as it stood on the last day, each with the way to correct it or name it.
pub(super) fn assumptions(books: &Books, span: Span) -> Table {
    let columns =
        [("What", Holds::Words, 3), ("Figure", Holds::Figures, 1), ("From", Holds::Words, 2), ("Where it comes from", Holds::Words, 5)];
    let mut table = Table::new("assumptions", &format!("As it stood on {}", span.to.format("%-d %b %Y")), &columns);
    // Milk is guessed by a new farm only; for any other there is nothing to name.
    let of_use = |name: &&&str| ![guessed::MADE, guessed::HANDED_OUT].contains(*name) || books.assumed(name, span.to).is_some();
    for name in ASSUMED.iter().filter(of_use) {
        table.rows.push(match books.assumed(name, span.to) {
            Some(own) => vec![
                Cell::opening(*name, format!("/records/assumptions/{}", own.number)),
                Cell::opening(trimmed(own.figure, 4), format!("/records/assumptions/{}", own.number)).guessed(true),
                Cell::says(own.since.to_string()),
                Cell::says(&own.note),
            ],
            None => {
                let address = format!("/records/assumptions/new?name={}&back=/costs", name.replace('%', "%25").replace(' ', "+"));
                vec![Cell::opening(*name, address), Cell::says("–"), Cell::says("–"), Cell::says("Not named yet")]
            }
        });
    }
    table
}

/// The ways of reckoning, and what each person's hour is worth.
pub(super) fn choices(books: &Books, span: Span) -> Option<Table> {
    let columns = [("Chosen", Holds::Words, 4), ("From", Holds::Words, 2)];
    let mut table = Table::new("chosen", "Ways of reckoning, and what somebody's hour is worth", &columns);
    for begins in ["cream", "household"] {
        if let Some(own) = books.chosen(begins, span.to) {
            table.rows.push(vec![
                Cell::opening(super::super::capital(&own.choice), format!("/records/choices/{}", own.number)),
                Cell::says(own.since.to_string()),
            ]);
        }
    }
    let mut people: Vec<&str> = books.worths.iter().map(|own| own.person.as_str()).collect();
    people.sort_unstable();
    people.dedup();
    for own in people.into_iter().filter_map(|person| books.worth_of(person, span.to)) {
        let says = format!("An hour of {} at {}", own.person, own.worth);
        table
            .rows
            .push(vec![Cell::opening(says, format!("/records/worths/{}", own.number)).guessed(true), Cell::says(own.since.to_string())]);
    }
    (!table.rows.is_empty()).then_some(table)
}
