//! Jars that are lost on a bad day: lot by lot, by size, and what they would have brought. Jars are those somebody counted as they
//! were thrown out, and a value stands in the ink of a guess unless it is a price of the farm's own.

use super::{
    channels::Channel,
    figures::{Cell, Holds, Table},
    jars::Jars,
    money::Money,
    terms::{Terms, terms_on},
    when::{Day, Moment, Zone},
    words::Word,
};
use rust_decimal::Decimal;

/// What a half-gallon brings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Worth {
    /// Dollars for a half-gallon.
    pub each: Decimal,
    /// Whether it is assumed, and not a price of the farm's own.
    pub guess: bool,
}

impl Worth {
    /// The price at the gate where the farm has one, otherwise what it assumes a half-gallon to bring; nothing where it has neither.
    #[must_use]
    pub fn of(terms: &[Terms], assumed: Option<Decimal>, on: Day) -> Option<Worth> {
        let at_the_gate = terms_on(terms, Channel::FarmGate, on).and_then(|terms| terms.jar);
        let own = at_the_gate.map(|price| Worth { each: price.dollars(), guess: false });
        own.or(assumed.map(|each| Worth { each, guess: true }))
    }

    /// What some jars would have brought: each size by the milk it holds.
    #[must_use]
    pub fn brings(self, jars: Jars) -> Money {
        Money::round(self.each * jars.in_half_gallons())
    }

    /// Where it comes from.
    #[must_use]
    pub fn spoken(self) -> String {
        let each = Money::round(self.each);
        if self.guess {
            format!("${each} a half-gallon, which is assumed and not a price")
        } else {
            format!("${each} a half-gallon, the farm's own price at the gate")
        }
    }
}

/// A lot of which jars are lost.
#[derive(Clone, Debug)]
pub struct Lost {
    /// Its code.
    pub code: String,
    /// When it was filled.
    pub filled: Moment,
    /// Jars filled.
    pub jars: Jars,
    /// Jars handed out.
    pub handed_out: Jars,
    /// Jars thrown out since it happened, as they were counted.
    pub thrown_out: Jars,
    /// Jars left by the book.
    pub left: Jars,
    /// What it says now.
    pub word: Word,
}

/// Everything lost together.
#[derive(Clone, Debug)]
pub struct Loss {
    /// The lots.
    pub lots: Vec<Lost>,
    /// What a half-gallon brings; nothing for whoever sees no money, and where nobody knows.
    pub worth: Option<Worth>,
    /// Whether whoever reads it sees money.
    pub with_money: bool,
}

impl Loss {
    /// The jars thrown out, of all lots.
    #[must_use]
    pub fn thrown_out(&self) -> Jars {
        self.lots.iter().map(|lot| lot.thrown_out).sum()
    }

    /// The jars left by the book, of all lots.
    #[must_use]
    pub fn left(&self) -> Jars {
        self.lots.iter().map(|lot| lot.left).sum()
    }

    /// What was thrown out would have brought.
    #[must_use]
    pub fn value(&self) -> Option<Money> {
        self.worth.filter(|_| self.with_money).map(|worth| worth.brings(self.thrown_out()))
    }

    /// The value in words, or why there is none.
    #[must_use]
    pub fn told(&self) -> String {
        match (self.worth, self.value()) {
            (Some(worth), Some(value)) => format!("${value} for {}, at {}", self.thrown_out(), worth.spoken()),
            _ => "Not known: no price at the gate and no figure for what a half-gallon brings is written down".to_owned(),
        }
    }

    /// The lots as a table, with the sum of what was thrown out.
    #[must_use]
    pub fn table(&self, zone: Zone) -> Table {
        let mut columns = vec![
            ("Lot", Holds::Codes, 3),
            ("Filled", Holds::Words, 4),
            ("Jars filled", Holds::Words, 4),
            ("Handed out", Holds::Words, 4),
            ("Thrown out, as counted", Holds::Words, 4),
            ("Left, by the book", Holds::Words, 4),
            ("Verdict now", Holds::Words, 3),
        ];
        if self.with_money {
            columns.push(("Value", Holds::Figures, 3));
        }
        let mut table = Table::new("lots", "Lots and jars", &columns);
        "No lot is written down.".clone_into(&mut table.when_empty);
        let guess = self.worth.is_some_and(|worth| worth.guess);
        let value = |jars: Jars| {
            let says = self.worth.map_or_else(|| "not known".to_owned(), |worth| format!("${}", worth.brings(jars)));
            Cell::says(says).guessed(guess)
        };
        for lot in &self.lots {
            let mut row = vec![
                Cell::opening(&lot.code, format!("/lots/{}", lot.code)),
                Cell::says(zone.in_full(lot.filled)),
                Cell::says(lot.jars.to_string()),
                Cell::says(lot.handed_out.to_string()),
                Cell::says(lot.thrown_out.to_string()),
                Cell::says(lot.left.to_string()),
                Cell::says(lot.word.to_string()),
            ];
            row.extend(self.with_money.then(|| value(lot.thrown_out)));
            table.rows.push(row);
        }
        let handed_out: Jars = self.lots.iter().map(|lot| lot.handed_out).sum();
        let filled: Jars = self.lots.iter().map(|lot| lot.jars).sum();
        let mut total = vec![
            Cell::says("Together"),
            Cell::default(),
            Cell::says(filled.to_string()),
            Cell::says(handed_out.to_string()),
            Cell::says(self.thrown_out().to_string()),
            Cell::says(self.left().to_string()),
            Cell::default(),
        ];
        total.extend(self.with_money.then(|| value(self.thrown_out())));
        table.total = (!table.rows.is_empty()).then_some(total);
        table
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::when::parse_day;

    fn gate(jar: Option<i64>) -> Terms {
        let since = parse_day("2026-01-01").unwrap_or_default();
        let (share_cost, boarding, deposit) = (None, None, None);
        Terms { way: Channel::FarmGate, since, share_cost, boarding, jar: jar.map(Money::cents), deposit, missed: String::new() }
    }

    /// Source: arithmetic; a gallon is two half-gallons, a quart half of one, a pint a quarter.
    #[test]
    fn jars_are_worth_the_milk_they_hold() {
        let jars = Jars { gallons: 1, half_gallons: 3, quarts: 1, pints: 2 };
        let worth = Worth { each: Decimal::new(700, 2), guess: false };
        assert_eq!(worth.brings(jars), Money::cents(4200), "2 + 3 + 0.5 + 0.5 = 6 half-gallons at $7.00");
    }

    #[test]
    fn a_price_of_its_own_is_no_guess_and_nothing_is_no_price() {
        let on = parse_day("2026-05-14").unwrap_or_default();
        let assumed = Some(Decimal::new(650, 2));
        assert_eq!(Worth::of(&[gate(Some(700))], assumed, on), Some(Worth { each: Decimal::new(700, 2), guess: false }));
        assert_eq!(Worth::of(&[gate(None)], assumed, on), Some(Worth { each: Decimal::new(650, 2), guess: true }));
        assert_eq!(Worth::of(&[], None, on), None);
    }
}
