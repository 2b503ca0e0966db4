//! Money in whole cents, and splitting it so that no cent is lost.
//!
//! Cents are whole numbers because a binary fraction cannot hold 2.15. A posted line is rounded once, half away from
//! zero, as invoices and printed farm budgets do; a split gives the spare cents to the largest remainders, so the parts
//! always add up to the whole.

use super::{Fault, apportion};
use rust_decimal::{Decimal, RoundingStrategy, prelude::ToPrimitive};
use std::fmt;

/// An amount of money in whole cents.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Money(i64);

impl Money {
    /// Nothing.
    pub const ZERO: Money = Money(0);

    /// This many cents.
    #[must_use]
    pub const fn cents(cents: i64) -> Money {
        Money(cents)
    }

    /// The amount as whole cents, for keeping.
    #[must_use]
    pub const fn in_cents(self) -> i64 {
        self.0
    }

    /// Rounds an exact amount of dollars to the cent, half away from zero; the one rounding of a posted line.
    #[must_use]
    pub fn round(dollars: Decimal) -> Money {
        let cents = (dollars * Decimal::ONE_HUNDRED).round_dp_with_strategy(0, RoundingStrategy::MidpointAwayFromZero);
        Money(cents.to_i64().unwrap_or(i64::MAX))
    }

    /// The exact amount in dollars.
    #[must_use]
    pub fn dollars(self) -> Decimal {
        Decimal::new(self.0, 2)
    }

    /// The amount `count` times over.
    #[must_use]
    pub fn times(self, count: i64) -> Money {
        Money(self.0.saturating_mul(count))
    }

    /// Reads a typed amount such as `12`, `12.5`, `$1,204.50` or `-15.00`.
    ///
    /// # Errors
    /// A sentence when the text is not an amount in dollars and cents.
    pub fn parse(typed: &str) -> Result<Money, Fault> {
        let bare: String = typed.trim().chars().filter(|c| !matches!(c, '$' | ' ')).collect();
        let (sign, digits) = bare.strip_prefix('-').map_or((1, bare.as_str()), |rest| (-1, rest));
        let wrong = || Fault::says(format!("“{}” is not an amount. Write dollars and cents, like 12.50.", super::short(typed)));
        let (whole, part) = digits.split_once('.').unwrap_or((digits, ""));
        if let Some((left, right)) = digits.split_once(',')
            && !digits.contains('.')
            && right.len() != 3
            && [left, right].iter().all(|part| !part.is_empty() && part.chars().all(|c| c.is_ascii_digit()))
        {
            return Err(Fault::says(format!("Write the cents after a point, not a comma: {}", super::short(&format!("{left}.{right}")))));
        }
        let well_grouped = |whole: &str| {
            let mut groups = whole.split(',');
            let first = groups.next().unwrap_or_default().len();
            !whole.contains(',') || ((1..=3).contains(&first) && groups.all(|group| group.len() == 3))
        };
        if !well_grouped(whole) {
            return Err(Fault::says(format!(
                "“{}”: a comma stands before each three digits, like 1,204.50, or nowhere. Look at it again.",
                super::short(typed)
            )));
        }
        let whole: String = whole.chars().filter(|c| *c != ',').collect();
        if whole.is_empty() || whole.len() > 12 || part.len() > 2 || !(whole.clone() + part).chars().all(|c| c.is_ascii_digit()) {
            return Err(wrong());
        }
        let dollars: i64 = whole.parse().map_err(|_| wrong())?;
        let cents: i64 = format!("{part:0<2}").parse().map_err(|_| wrong())?;
        Ok(Money(sign * (dollars * 100 + cents)))
    }

    /// Splits the amount by weights. Each part is floored, then the spare cents go one by one to the largest
    /// remainders; ties go to the earlier part. Gives nothing back when every weight is zero: an equal split in silence
    /// would be a made-up answer.
    #[must_use]
    pub fn split(self, weights: &[i64]) -> Option<Vec<Money>> {
        apportion::by_weight(self.0, weights).map(|parts| parts.into_iter().map(Money).collect())
    }
}

impl fmt::Display for Money {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.0 < 0 { "-" } else { "" };
        write!(f, "{sign}{}.{:02}", self.0.unsigned_abs() / 100, self.0.unsigned_abs() % 100)
    }
}

impl std::ops::Add for Money {
    type Output = Money;
    fn add(self, other: Money) -> Money {
        Money(self.0.saturating_add(other.0))
    }
}

impl std::ops::Sub for Money {
    type Output = Money;
    fn sub(self, other: Money) -> Money {
        Money(self.0.saturating_sub(other.0))
    }
}

impl std::iter::Sum for Money {
    fn sum<I: Iterator<Item = Money>>(amounts: I) -> Money {
        amounts.fold(Money::ZERO, |sum, amount| sum + amount)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn shown(parts: Option<Vec<Money>>) -> Vec<String> {
        parts.unwrap().iter().map(ToString::to_string).collect()
    }

    #[test]
    fn typed_amounts_are_read() {
        for (typed, cents) in [("12", 1200), ("12.5", 1250), ("$1,204.50", 120_450), ("-15.00", -1500), (" 0.07 ", 7)] {
            assert_eq!(Money::parse(typed).unwrap(), Money::cents(cents), "{typed}");
        }
        for typed in ["1,234", "$1,234,567.8", "-1,204.50"] {
            assert!(Money::parse(typed).is_ok(), "{typed}");
        }
        for typed in [
            "", "abc", "1.234", "<5", "🐄", "12,5", "--3", "1e9", "1,20.50", "1,2,3", "12,50.00", ",5", ",500", "1234,567", "1,234,",
            "5.1,0",
        ] {
            assert!(Money::parse(typed).is_err(), "{typed}");
        }
    }

    #[test]
    fn a_comma_for_a_point_is_told_shortly() {
        assert!(Money::parse("12,5").unwrap_err().to_string().ends_with("not a comma: 12.5"));
        assert!(Money::parse(&format!("1,{}", "9".repeat(10_000))).unwrap_err().to_string().len() < 120);
        assert!(Money::parse(",").unwrap_err().to_string().contains("a comma stands before each three digits"));
    }

    /// Source: Fowler's Money pattern as worked in “Solving Foemmel's conundrum” (2016), and the same article's paycheck.
    #[test]
    fn splits_add_up() {
        assert_eq!(shown(Money::cents(5).split(&[30, 70])), ["0.02", "0.03"]);
        assert_eq!(shown(Money::cents(102_759).split(&[20, 70, 5, 5])), ["205.52", "719.31", "51.38", "51.38"]);
        assert_eq!(shown(Money::cents(10_000).split(&[1, 1, 1])), ["33.34", "33.33", "33.33"]);
        assert_eq!(shown(Money::cents(-10_000).split(&[1, 1, 1])), ["-33.34", "-33.33", "-33.33"]);
        assert_eq!(Money::cents(5).split(&[0, 0]), None);
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn every_split_sums_to_the_whole(cents in -1_000_000_000i64..1_000_000_000, weights in proptest::collection::vec(0i64..10_000, 1..20)) {
            if let Some(parts) = Money::cents(cents).split(&weights) {
                prop_assert_eq!(parts.into_iter().sum::<Money>(), Money::cents(cents));
            }
        }

        #[test]
        fn what_is_shown_can_be_typed(cents in -1_000_000_000i64..1_000_000_000) {
            prop_assert_eq!(Money::parse(&Money::cents(cents).to_string()).unwrap(), Money::cents(cents));
        }
    }
}
