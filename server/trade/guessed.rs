//! Milk a new farm guesses until it is written down: so many half-gallons a week.
//!
//! A cost needs milk to divide by, and a farm on its first evening has written none. So its own guess counts, from the day it is
//! about, and only for days before the first milking, or the first hand-out, is in the ledger: from that day on, what is
//! written counts and nothing else, however little it is.

use super::{
    bills::Assumed,
    costs::{Milk, Per},
    measure::fixed,
    wear::Span,
    when::{Day, day_shown},
};
use rust_decimal::Decimal;

/// The half-gallons made in a week, by a guess.
pub const MADE: &str = "half-gallons made a week";

/// The half-gallons handed out in a week, by a guess.
pub const HANDED_OUT: &str = "half-gallons handed out a week";

/// The first days of what is really written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Begun {
    /// Of the first milking.
    pub milkings: Option<Day>,
    /// Of the first hand-out.
    pub hand_outs: Option<Day>,
}

/// The guessed milk of a span, in half-gallons.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Guessed {
    /// Made.
    pub made: Decimal,
    /// Handed out.
    pub handed_out: Decimal,
}

impl Guessed {
    /// What a farm guesses for the days of a span up to a last one.
    #[must_use]
    pub fn of(assumed: &[Assumed], begun: Begun, span: Span, until: Day) -> Guessed {
        let before = |first: Option<Day>| {
            let last = first.and_then(|first| first.pred_opt()).map_or(until, |last| last.min(until));
            Span { to: span.to.min(last), ..span }
        };
        Guessed { made: weeks(assumed, MADE, before(begun.milkings)), handed_out: weeks(assumed, HANDED_OUT, before(begun.hand_outs)) }
    }

    /// Whether nothing is guessed.
    #[must_use]
    pub fn is_none(self) -> bool {
        self == Guessed::default()
    }

    /// Whether any of this milk is guessed.
    #[must_use]
    pub fn is_in(self, per: Per) -> bool {
        (if per == Per::Produced { self.made } else { self.handed_out }) > Decimal::ZERO
    }

    /// It with what is written. Of milk that was fit, a guess only knows what was handed out.
    #[must_use]
    pub fn beside(self, written: Milk) -> Milk {
        Milk { produced: written.produced + self.made, fit: written.fit + self.handed_out, reached: written.reached + self.handed_out }
    }

    /// What has to be said of it aloud.
    #[must_use]
    pub fn said(self, begun: Begun) -> Vec<String> {
        let says = |guess: Decimal, what: &str, first: Option<Day>, real: &str| {
            (guess > Decimal::ZERO).then(|| match first {
                Some(first) => format!(
                    "The milk {what} before {} is a guess, {} half-gallons; from that day on {real} count.",
                    day_shown(first),
                    fixed(guess, 1)
                ),
                None => format!(
                    "The milk {what} is a guess, {} half-gallons: no {real} are written down yet. As soon as they are, they count instead.",
                    fixed(guess, 1)
                ),
            })
        };
        let made = says(self.made, "made", begun.milkings, "milkings");
        let out = says(self.handed_out, "handed out", begun.hand_outs, "hand-outs");
        made.into_iter().chain(out).collect()
    }
}

/// So much a week over the days of a span, each guess from its own day until the next is named; none before the first.
fn weeks(assumed: &[Assumed], name: &str, span: Span) -> Decimal {
    let named: Vec<&Assumed> = assumed.iter().filter(|own| own.name == name).collect();
    let ends = named.iter().skip(1).map(|own| own.since.pred_opt().unwrap_or(own.since)).chain([Day::MAX]);
    let sum: Decimal =
        named.iter().zip(ends).map(|(own, to)| own.figure * Decimal::from(span.shared_with(Span { from: own.since, to }).days())).sum();
    sum / Decimal::from(7)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> Day {
        text.parse().unwrap()
    }

    fn assumed(name: &str, since: &str, figure: i64) -> Assumed {
        Assumed { number: 1, name: name.to_owned(), since: day(since), figure: Decimal::from(figure), note: "worked by hand".to_owned() }
    }

    /// Worked by hand: 14 a week is two a day.
    #[test]
    fn a_guess_counts_until_milk_is_written() {
        let all = [assumed(MADE, "2026-05-01", 14), assumed(HANDED_OUT, "2026-05-01", 7), assumed(MADE, "2026-05-11", 21)];
        let may = Span { from: day("2026-05-01"), to: day("2026-05-31") };
        let of = |begun: Begun, span: Span| Guessed::of(&all, begun, span, day("2026-05-20"));
        let both = |made: i64, out: i64| Guessed { made: made.into(), handed_out: out.into() };
        assert_eq!(of(Begun::default(), may), both(10 * 2 + 10 * 3, 20), "up to the 20th, the last day that is reckoned");
        let begun = Begun { milkings: Some(day("2026-05-06")), hand_outs: None };
        assert_eq!(of(begun, may), both(5 * 2, 20), "from the 6th on milkings count");
        let april = Span { from: day("2026-04-01"), to: day("2026-04-30") };
        assert!(of(Begun::default(), april).is_none(), "before the days it is about nothing is guessed");
        let said = of(begun, may).said(begun).join(" ");
        assert!(said.contains("before Wed 6 May 2026 is a guess, 10.0 half-gallons"), "{said}");
        assert!(said.contains("no hand-outs are written down yet"), "{said}");
    }
}
