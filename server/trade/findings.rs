//! What can be found about a lot, each finding with the facts that justify it, its word, its reason and the next thing to do.

use super::{
    chill::Chilled,
    coldness::Standing,
    herd::{Foremilk, Fresh, Withheld},
    when::{Day, Zone, day_shown},
};
use std::fmt;

/// The four words, from best to worst.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Word {
    /// It may be handed out.
    CanGo,
    /// Not yet.
    Wait,
    /// Nobody can say, and that is no yes.
    CantTell,
    /// It may not.
    KeepBack,
}

impl fmt::Display for Word {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Word::CanGo => "Can go",
            Word::Wait => "Wait",
            Word::CantTell => "Can't tell",
            Word::KeepBack => "Keep back",
        })
    }
}

impl Word {
    /// The word as a mark in the page's look.
    #[must_use]
    pub const fn mark(self) -> &'static str {
        match self {
            Word::CanGo => "can-go",
            Word::Wait => "wait",
            Word::CantTell => "cant-tell",
            Word::KeepBack => "keep-back",
        }
    }
}

/// One thing found, with what justifies it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Finding {
    /// The chill, from readings only.
    Chill(Chilled),
    /// A treated cow in the can.
    Treated {
        /// Her name.
        cow: String,
        /// Which milking.
        session: String,
        /// What her clock said at that milking.
        withheld: Withheld,
    },
    /// A cow that had just calved.
    JustCalved {
        /// Her name.
        cow: String,
        /// Which milking.
        session: String,
        /// What her clock said at that milking.
        fresh: Fresh,
    },
    /// First squirts that were not as they should be, or that nobody looked at.
    Foremilk {
        /// Her name.
        cow: String,
        /// Which milking.
        session: String,
        /// What was seen.
        seen: Foremilk,
    },
    /// A milker who was not well.
    MilkerIll {
        /// Which milking.
        session: String,
    },
    /// Something held.
    Held {
        /// What.
        what: String,
        /// Why.
        reason: String,
    },
    /// A lot it was made from.
    Parent {
        /// Its code.
        code: String,
        /// Its word.
        word: Word,
        /// Its reason.
        reason: String,
    },
    /// Its last day.
    BestBy {
        /// The day.
        day: Day,
        /// Whether that day is over.
        over: bool,
    },
    /// A milking with no cow's milk written down as poured into the can.
    NoCows {
        /// Which milking.
        session: String,
    },
    /// No milking and no parent lot is written down.
    NoSource,
}

impl Finding {
    /// What this finding says of the lot.
    #[must_use]
    pub fn word(&self) -> Word {
        match self {
            Finding::Chill(chilled) => match chilled.overall {
                Standing::Met if chilled.warmed_up.is_some() => Word::CantTell,
                Standing::Met => Word::CanGo,
                Standing::Due => Word::Wait,
                Standing::NotKnown | Standing::NotShown => Word::CantTell,
                Standing::NotMet => Word::KeepBack,
            },
            Finding::Treated { withheld, .. } => match withheld {
                Withheld::Clear(_) => Word::CanGo,
                Withheld::Until(_) => Word::KeepBack,
                Withheld::NotKnown(_) => Word::CantTell,
            },
            Finding::JustCalved { fresh, .. } => match fresh {
                Fresh::Milk(_) => Word::CanGo,
                Fresh::Colostrum(_) => Word::KeepBack,
                Fresh::NotKnown(_) => Word::CantTell,
            },
            Finding::Foremilk { seen, .. } => match seen {
                Foremilk::Normal => Word::CanGo,
                Foremilk::NotLooked => Word::CantTell,
                Foremilk::Flakes | Foremilk::Blood | Foremilk::Watery => Word::KeepBack,
            },
            Finding::MilkerIll { .. } | Finding::Held { .. } => Word::KeepBack,
            Finding::Parent { word, .. } => *word,
            Finding::BestBy { over, .. } => {
                if *over {
                    Word::KeepBack
                } else {
                    Word::CanGo
                }
            }
            Finding::NoCows { .. } | Finding::NoSource => Word::CantTell,
        }
    }

    /// What it is about, in a word or two.
    #[must_use]
    pub const fn about(&self) -> &'static str {
        match self {
            Finding::Chill(_) => "Chill",
            Finding::Treated { .. } => "Treatment",
            Finding::JustCalved { .. } => "Calving",
            Finding::Foremilk { .. } => "Foremilk",
            Finding::MilkerIll { .. } => "Milker",
            Finding::Held { .. } => "Held",
            Finding::Parent { .. } => "Made from",
            Finding::BestBy { .. } => "Best-by",
            Finding::NoCows { .. } | Finding::NoSource => "Where from",
        }
    }

    /// The reason, in one sentence.
    #[must_use]
    pub fn reason(&self, zone: Zone) -> String {
        match self {
            Finding::Chill(chilled) => match chilled.remarks(zone).into_iter().next() {
                Some(remark) if chilled.warmed_up.is_some() && chilled.overall == Standing::Met => remark,
                _ => chilled.reason(),
            },
            Finding::Treated { cow, session, withheld: Withheld::Until(left) } => {
                format!("{cow} was milked into it at {session} while her milk had to stay out {left}.")
            }
            Finding::Treated { cow, withheld, .. } => format!("{cow}: {withheld}"),
            Finding::JustCalved { cow, session, fresh: Fresh::Colostrum(left) } => {
                format!("{cow} was milked into it at {session}, and after her calving her milk had to stay out {left}.")
            }
            Finding::JustCalved { cow, fresh, .. } => format!("{cow}: {fresh}"),
            Finding::Foremilk { cow, session, seen } => {
                format!("{cow}, {session}: {}", seen.reason().unwrap_or("Her first squirts were as they should be."))
            }
            Finding::MilkerIll { session } => format!("Whoever milked at {session} was not well."),
            Finding::Held { what, reason } if reason.is_empty() => format!("{what} is held."),
            Finding::Held { what, reason } => format!("{what} is held: {}", reason.trim_end_matches('.').to_owned() + "."),
            Finding::Parent { code, word, reason } => format!("It was made from {code}, which says {word}: {reason}"),
            Finding::BestBy { day, over: true } => format!("Its best-by day, {}, is over.", day_shown(*day)),
            Finding::BestBy { day, over: false } => format!("Good to {}.", day_shown(*day)),
            Finding::NoCows { session } => format!("No cow is written down for {session}, so nobody can say whose milk is in it."),
            Finding::NoSource => "No milking is written down for it, so nobody can say what is in it.".to_owned(),
        }
    }

    /// The next thing to do.
    #[must_use]
    pub fn next(&self, zone: Zone) -> String {
        match (self, self.word()) {
            (Finding::Chill(chilled), _) => chilled.next(zone),
            (_, Word::CanGo) => "Nothing.".to_owned(),
            (Finding::Treated { withheld: Withheld::NotKnown(_), .. }, _) => {
                "Ask the vet for the hours, and write them on the treatment.".to_owned()
            }
            (Finding::Treated { .. } | Finding::JustCalved { fresh: Fresh::Colostrum(_), .. }, _) => {
                "Throw it out or feed it as the vet says, and write down where it went. Mixing never makes it right.".to_owned()
            }
            (Finding::JustCalved { .. }, _) => "Set the farm's own days after calving in its rules.".to_owned(),
            (Finding::Foremilk { seen: Foremilk::NotLooked, .. }, _) => {
                "Write down what the first squirts looked like, if somebody looked.".to_owned()
            }
            (Finding::Foremilk { .. }, _) => "Keep it back, keep her out of the can, and ask the vet.".to_owned(),
            (Finding::MilkerIll { .. }, _) => "Keep it back, and ask the health department.".to_owned(),
            (Finding::Held { .. }, _) => "Leave it where it is until the owner lifts the hold with a reason.".to_owned(),
            (Finding::Parent { code, .. }, _) => format!("Look at {code} first."),
            (Finding::BestBy { .. }, _) => "Throw it out, and write that down.".to_owned(),
            (Finding::NoCows { .. }, _) => "Write down whose milk went into the can at that milking.".to_owned(),
            (Finding::NoSource, _) => "Write down which milkings are in it.".to_owned(),
        }
    }
}
