//! Empty jars: how many each household owes, and how fast jars are lost.
//!
//! Jars are swapped evenly unless something else is written: whoever takes three brings three back. So only what differs is
//! written down, and what a household owes is the sum of it.

use super::{
    figures::{Cell, Holds, Part, Sheet, Table},
    jars::{Jars, Size},
    money::Money,
    when::{Day, day_shown},
};
use rust_decimal::Decimal;

/// What happened to empty jars of a household.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Empties {
    /// The jars a household was lent to begin with.
    FirstJars,
    /// Full jars went out, and no empties came back for them.
    NotBroughtBack,
    /// Empties came back for which none went out.
    BroughtBack,
    /// Jars broke or were lost at the household, and are not asked for any more.
    BrokenOrLost,
}

impl Empties {
    /// Every one, with its words.
    pub const WORDS: [(Empties, &'static str); 4] = [
        (Empties::FirstJars, "first jars"),
        (Empties::NotBroughtBack, "not brought back"),
        (Empties::BroughtBack, "brought back"),
        (Empties::BrokenOrLost, "broken or lost"),
    ];

    /// The one some words name.
    #[must_use]
    pub fn parse(typed: &str) -> Option<Empties> {
        Empties::WORDS.iter().find(|(_, word)| *word == typed).map(|(own, _)| *own)
    }

    /// What it does to the jars owed.
    #[must_use]
    pub fn owed(self, jars: Jars) -> Jars {
        match self {
            Empties::FirstJars | Empties::NotBroughtBack => jars,
            Empties::BroughtBack | Empties::BrokenOrLost => Jars::NONE - jars,
        }
    }
}

/// The jars owed after some events.
#[must_use]
pub fn owed(events: &[(Empties, Jars)]) -> Jars {
    events.iter().map(|(what, jars)| what.owed(*jars)).sum()
}

/// The empties that differ from an even swap when these full jars went out and so many empties came in. Nothing when the swap
/// was even. What did not come back is of the size that went out, half-gallons first, as most jars are; what came beyond
/// is half-gallons, unless another size alone went out.
#[must_use]
pub fn unlike_a_swap(taken: Jars, brought: i64) -> Option<(Empties, Jars)> {
    const USUAL_FIRST: [Size; 4] = [Size::HalfGallon, Size::Gallon, Size::Quart, Size::Pint];
    let of = |size: Size, jars: i64| match size {
        Size::Gallon => Jars { gallons: jars, ..Jars::NONE },
        Size::HalfGallon => Jars::halves(jars),
        Size::Quart => Jars { quarts: jars, ..Jars::NONE },
        Size::Pint => Jars { pints: jars, ..Jars::NONE },
    };
    let mut more = USUAL_FIRST.iter().map(|size| taken.of(*size)).sum::<i64>() - brought;
    if more < 0 {
        let usual = USUAL_FIRST.into_iter().find(|size| taken.of(*size) > 0).unwrap_or(Size::HalfGallon);
        return Some((Empties::BroughtBack, of(usual, -more)));
    }
    let mut missing = Jars::NONE;
    for size in USUAL_FIRST {
        let jars = more.min(taken.of(size));
        missing = missing + of(size, jars);
        more -= jars;
    }
    (!missing.is_none()).then_some((Empties::NotBroughtBack, missing))
}

/// How jars wear away: those broken or lost for each that went out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LossRate {
    /// Half-gallon jars broken or lost, at the farm and at the households.
    pub lost: i64,
    /// Half-gallon jars handed out.
    pub went_out: i64,
}

impl LossRate {
    /// Jars lost for each that went out; nothing before any went.
    #[must_use]
    pub fn rate(self) -> Option<Decimal> {
        (self.went_out > 0).then(|| Decimal::from(self.lost) / Decimal::from(self.went_out))
    }

    /// How often a jar goes out before it is lost; nothing as long as none was.
    #[must_use]
    pub fn uses(self) -> Option<Decimal> {
        (self.lost > 0 && self.went_out > 0).then(|| Decimal::from(self.went_out) / Decimal::from(self.lost))
    }

    /// What one jar costs each time it goes out, in dollars, if a new one costs so many.
    #[must_use]
    pub fn cost_of_a_use(self, new_jar: Decimal) -> Option<Decimal> {
        self.rate().map(|rate| rate * new_jar)
    }
}

/// What one household owes in empty jars.
#[derive(Clone, Debug)]
pub struct Owing {
    /// What the clipboard calls it.
    pub label: String,
    /// Its name.
    pub name: String,
    /// The jars it owes.
    pub jars: Jars,
    /// Jars broken or lost with it, in all.
    pub lost: Jars,
    /// The deposit the farm holds for it, and owes back.
    pub deposit: Money,
    /// The last day anything about its jars was written.
    pub last: Option<Day>,
}

/// All that is known of the jars that are out.
#[derive(Clone, Debug)]
pub struct Out {
    /// Every household that owes a jar, or has a deposit.
    pub households: Vec<Owing>,
    /// Losses of the last twelve months.
    pub loss: LossRate,
    /// What a new half-gallon jar cost on the newest ticket that says so, in dollars, with what the ticket says.
    pub new_jar: Option<(Decimal, String)>,
    /// The day it is looked at.
    pub on: Day,
}

impl Out {
    /// The jars that are out as a sheet.
    #[must_use]
    pub fn sheet(&self) -> Sheet {
        let rate = match (self.loss.rate(), self.loss.uses()) {
            (None, _) => "no jar has gone out in the last twelve months".to_owned(),
            (Some(_), None) => format!("none of {} jars that went out was lost in the last twelve months", self.loss.went_out),
            (Some(rate), Some(uses)) => format!(
                "{} of {} that went out in the last twelve months, {} %; a jar goes out about {} times",
                self.loss.lost,
                self.loss.went_out,
                (rate * Decimal::ONE_HUNDRED).round_dp(1).normalize(),
                uses.round_dp(0)
            ),
        };
        let mut facts = vec![
            ("On".to_owned(), day_shown(self.on)),
            ("Jars owed".to_owned(), self.households.iter().map(|own| own.jars).sum::<Jars>().to_string()),
            ("Deposits held, owed back".to_owned(), format!("${}", self.households.iter().map(|own| own.deposit).sum::<Money>())),
            ("Half-gallon jars broken or lost".to_owned(), rate),
        ];
        if let Some((price, ticket)) = &self.new_jar {
            let each = self
                .loss
                .cost_of_a_use(*price)
                .map_or_else(String::new, |each| format!("; so a jar costs ${} each time it goes out", each.round_dp(3).normalize()));
            facts.push(("A new jar".to_owned(), format!("${} ({ticket}){each}", price.round_dp(2))));
        }
        let swap = "Jars are swapped evenly unless something else is written down, so this is the sum of what differed.";
        Sheet {
            name: format!("jars-owed-{}", self.on),
            title: "Jars owed back".to_owned(),
            under: String::new(),
            facts,
            parts: vec![Part::Words(swap.to_owned()), Part::Table(self.table())],
        }
    }

    fn table(&self) -> Table {
        let columns = [
            ("Household", Holds::Words, 6),
            ("Owes", Holds::Words, 4),
            ("Broken or lost there", Holds::Words, 4),
            ("Deposit held", Holds::Figures, 3),
            ("Last written", Holds::Words, 4),
        ];
        let mut table = Table::new("jars-owed", "By household", &columns);
        "No household owes a jar.".clone_into(&mut table.when_empty);
        for own in &self.households {
            let none = |jars: Jars| if jars.is_none() { "none".to_owned() } else { jars.to_string() };
            table.rows.push(vec![
                Cell::opening(format!("{} {}", own.label, own.name), format!("/people/{}", own.label)),
                Cell::says(none(own.jars)),
                Cell::says(none(own.lost)),
                Cell::says(own.deposit.to_string()),
                Cell::says(own.last.map(day_shown).unwrap_or_default()),
            ]);
        }
        table
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked by hand: a jar of 3.25 of which 4 in a hundred are lost each time serves 25 times and costs 0.13 a time.
    #[test]
    fn what_a_jar_costs_each_time() {
        let loss = LossRate { lost: 4, went_out: 100 };
        assert_eq!(loss.uses(), Some(Decimal::from(25)));
        assert_eq!(loss.cost_of_a_use(Decimal::new(325, 2)), Some(Decimal::new(13, 2)));
        assert_eq!(LossRate { lost: 0, went_out: 0 }.rate(), None);
        assert_eq!(LossRate { lost: 0, went_out: 9 }.uses(), None, "a jar that was never lost has no life yet");
    }

    #[test]
    fn only_what_differs_from_an_even_swap_is_owed() {
        let quarts = |quarts| Jars { quarts, ..Jars::NONE };
        assert_eq!(unlike_a_swap(Jars::halves(3), 3), None);
        assert_eq!(unlike_a_swap(Jars::halves(3), 0), Some((Empties::NotBroughtBack, Jars::halves(3))));
        assert_eq!(unlike_a_swap(Jars::halves(2), 5), Some((Empties::BroughtBack, Jars::halves(3))));
        assert_eq!(unlike_a_swap(quarts(2), 2), None);
        assert_eq!(unlike_a_swap(quarts(2), 3), Some((Empties::BroughtBack, quarts(1))));
        assert_eq!(
            unlike_a_swap(Jars { half_gallons: 1, ..quarts(2) }, 1),
            Some((Empties::NotBroughtBack, Jars { half_gallons: 1, ..quarts(1) }))
        );
        let events = [
            (Empties::FirstJars, Jars::halves(3)),
            (Empties::NotBroughtBack, Jars::halves(2)),
            (Empties::BroughtBack, Jars::halves(1)),
            (Empties::BrokenOrLost, Jars::halves(1)),
        ];
        assert_eq!(owed(&events), Jars::halves(3));
        for (own, word) in Empties::WORDS {
            assert_eq!(Empties::parse(word), Some(own));
            assert!(crate::trade::kinds::EMPTIES_SORTS.contains(&word));
        }
    }
}
