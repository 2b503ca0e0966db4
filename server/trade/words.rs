//! The four words of a verdict, from best to worst.

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

    /// Whether the owner may decide otherwise, with a reason. What a rule forbids nobody frees.
    #[must_use]
    pub const fn may_be_decided(self) -> bool {
        matches!(self, Word::Wait | Word::CantTell)
    }
}
