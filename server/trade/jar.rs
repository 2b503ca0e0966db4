//! What anybody who reads a code off a lid is told about that jar: that it is called back, that it is held, or that nothing of the kind
//! is known. It names nobody, counts nobody and gives no reason, and it never says that milk is good to drink.

use super::{
    late::against,
    verdict::Facts,
    when::{Moment, Zone},
};

/// What is told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Told {
    /// It is called back.
    CalledBack,
    /// It is held, or kept back for what is known of it.
    Held,
    /// Nothing is held or called back against it.
    Nothing,
    /// It is no code of the farm's.
    NoCode,
}

impl Told {
    /// What is told of a lot: that it is called back before that it is held, and what is kept back counts as held although nobody
    /// pressed Stop yet.
    #[must_use]
    pub fn of(called_back: bool, held: bool, facts: &Facts, now: Moment) -> Told {
        match (called_back, held || against(facts, now).is_some()) {
            (true, _) => Told::CalledBack,
            (_, true) => Told::Held,
            _ => Told::Nothing,
        }
    }

    /// The word, large.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Told::CalledBack => "Called back (recall): do not drink it",
            Told::Held => "Held (withheld): do not drink it",
            Told::Nothing => "Nothing is held or called back against it",
            Told::NoCode => "That is no code of ours",
        }
    }

    /// The mark in the page's look.
    #[must_use]
    pub const fn mark(self) -> &'static str {
        match self {
            Told::CalledBack | Told::Held => "keep-back",
            Told::Nothing | Told::NoCode => "cant-tell",
        }
    }

    /// What to do, sentence by sentence.
    #[must_use]
    pub fn next(self, phone: &str, zone: Zone, now: Moment) -> Vec<String> {
        let ring = if phone.is_empty() { "Ring the farm.".to_owned() } else { format!("Ring the farm: {phone}.") };
        let as_of = format!("As of {}.", zone.in_full(now));
        match self {
            Told::CalledBack => vec![
                "Do not pass it on. If you gave some away, tell them the same.".to_owned(),
                "Keep the jar cold, closed and unwashed, and a frozen jar frozen.".to_owned(),
                ring,
                "Whoever is ill sees a doctor first, and says that they drank raw milk.".to_owned(),
                as_of,
            ],
            Told::Held => vec!["Keep the jar cold and closed until the farm tells you more.".to_owned(), ring, as_of],
            Told::Nothing => {
                vec![as_of, "That may change: ask again before you open a jar. It says nothing else about the milk.".to_owned()]
            }
            Told::NoCode => vec!["Check the lid: four digits, a letter, and one more letter or digit, like 6134A-S.".to_owned(), ring],
        }
    }
}
