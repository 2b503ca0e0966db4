//! What can be found about a lot, each finding with the facts that justify it, its word, and whether it may be decided about.

pub use super::words::Word;

use super::{
    chill::Chilled,
    coldness::Standing,
    herd::{Foremilk, Fresh, Left, Withheld},
    rules::{Channel, Channels, Sure},
    strips::Failing,
    tested::Tested,
    warm::Warmed,
    when::{Day, Moment, Zone},
};

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
    /// A cow that was treated while that milking went on: nobody knows whether before or after she was milked.
    TreatedDuring {
        /// Her name.
        cow: String,
        /// Which milking.
        session: String,
        /// When.
        at: Moment,
    },
    /// A cow that had just calved.
    JustCalved {
        /// Her name.
        cow: String,
        /// Which milking.
        session: String,
        /// When she calved.
        calved: Moment,
        /// What her clock said at that milking.
        fresh: Fresh,
    },
    /// A treated cow whose milk had to stay out, and a clear test that lifts it by the rule's own word.
    ClearOfDrugs {
        /// Her name.
        cow: String,
        /// Which milking.
        session: String,
        /// What was left of her time.
        left: Left,
        /// Whose bottle: this lot's, or hers.
        in_what: String,
        /// When it was drawn.
        drawn: Day,
    },
    /// A cow too near the day she is due.
    NearCalving {
        /// Her name.
        cow: String,
        /// Which milking.
        session: String,
        /// The day she is due.
        due: Day,
        /// The first day too near it.
        from: Day,
    },
    /// A cow with a quarter whose last strip test failed.
    StripTest {
        /// Her name.
        cow: String,
        /// Which milking.
        session: String,
        /// Which quarters, and their scores.
        failing: Vec<Failing>,
    },
    /// A cow that was not well.
    CowUnwell {
        /// Her name.
        cow: String,
        /// Which milking.
        session: String,
        /// Since when.
        since: Moment,
    },
    /// A cow that was kept out by hand, or was dry.
    KeptOut {
        /// Her name.
        cow: String,
        /// Which milking.
        session: String,
        /// Since when.
        since: Moment,
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
    /// Milk of another milking that went into the same vessel, with no clean break in between.
    Tied {
        /// Which milking.
        session: String,
        /// What is found about that milk.
        found: Box<Finding>,
    },
    /// A fridge it stood in, found warm.
    Warmed(Warmed),
    /// Its last day.
    BestBy {
        /// The day.
        day: Day,
        /// Whether that day is over.
        over: bool,
    },
    /// What the lab's results say.
    Tested(Tested),
    /// The way the milk is to reach somebody.
    Way {
        /// The way asked about.
        way: Channel,
        /// The ways the rule allows, as far as they are known.
        allowed: Channels,
    },
    /// Something else found, which the owner decided about all the same.
    Decided {
        /// What was found.
        found: Box<Finding>,
        /// Who decided.
        by: String,
        /// When.
        at: Moment,
        /// Why.
        reason: String,
    },
    /// A milking with no cow's milk written down as poured into the can.
    NoCows {
        /// Which milking.
        session: String,
    },
    /// No milking and no parent lot is written down.
    NoSource,
    /// Something that is not written down as it should be, so that it cannot be read.
    Unread {
        /// What, in a sentence.
        says: String,
    },
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
                Withheld::UntilCalving(_) | Withheld::NotKnown(_) => Word::CantTell,
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
            Finding::NearCalving { .. } | Finding::StripTest { .. } | Finding::CowUnwell { .. } | Finding::KeptOut { .. } => Word::KeepBack,
            Finding::MilkerIll { .. } | Finding::Held { .. } => Word::KeepBack,
            Finding::Tied { found, .. } => found.word(),
            Finding::TreatedDuring { .. } => Word::CantTell,
            Finding::Parent { word, .. } => *word,
            Finding::Warmed(warmed) => warmed.word(),
            Finding::BestBy { over, .. } => {
                if *over {
                    Word::KeepBack
                } else {
                    Word::CanGo
                }
            }
            Finding::Tested(tested) => tested.word(),
            Finding::Way { way, allowed } => match allowed {
                Channels::Named(ways, _) if ways.contains(way) => Word::CanGo,
                // A list that was only remembered forbids nothing for certain. One that names no way forbids them all.
                Channels::Named(_, sure) if *sure != Sure::Memory => Word::KeepBack,
                Channels::Named(..) | Channels::NotKnown => Word::CantTell,
            },
            Finding::Decided { .. } | Finding::ClearOfDrugs { .. } => Word::CanGo,
            Finding::NoCows { .. } | Finding::NoSource | Finding::Unread { .. } => Word::CantTell,
        }
    }

    /// What exactly it is about, so that the owner's decision can name it and cover nothing else.
    #[must_use]
    pub fn topic(&self) -> String {
        let about = self.about();
        match self {
            Finding::Treated { cow, session, .. }
            | Finding::ClearOfDrugs { cow, session, .. }
            | Finding::TreatedDuring { cow, session, .. }
            | Finding::JustCalved { cow, session, .. }
            | Finding::NearCalving { cow, session, .. }
            | Finding::StripTest { cow, session, .. }
            | Finding::CowUnwell { cow, session, .. }
            | Finding::KeptOut { cow, session, .. }
            | Finding::Foremilk { cow, session, .. } => format!("{about}: {cow}, {session}"),
            Finding::MilkerIll { session } | Finding::NoCows { session } => format!("{about}: {session}"),
            Finding::Held { what, .. } => format!("{about}: {what}"),
            Finding::Parent { code, .. } => format!("{about}: {code}"),
            Finding::Tied { session, found } => format!("{about}: {session}, {}", found.topic()),
            Finding::Warmed(warmed) => format!("{about}: {}", warmed.topic()),
            Finding::Tested(tested) => tested.topic(),
            Finding::Way { way, .. } => format!("{about}: {way}"),
            Finding::Decided { found, .. } => found.topic(),
            Finding::Unread { says } => format!("{about}: {says}"),
            Finding::Chill(_) | Finding::BestBy { .. } | Finding::NoSource => about.to_owned(),
        }
    }

    /// The finding as one line of what is frozen: what it is about, its word and its reason.
    #[must_use]
    pub fn line(&self, zone: Zone) -> String {
        let behind = match self {
            _ if self.word() == Word::CanGo => String::new(),
            Finding::Chill(chilled) => format!(" [{}]", chilled.in_full(zone)),
            Finding::Tested(Tested::Plan { limit, figures, .. }) => format!(" [{}; {figures}]", limit.spoken()),
            Finding::Tested(tested) => tested.limit().map_or_else(String::new, |limit| format!(" [{}]", limit.spoken())),
            Finding::Warmed(warmed) => format!(" [{}]", warmed.rule.spoken()),
            Finding::JustCalved { calved, .. } => format!(" [calved {}]", zone.in_full(*calved)),
            _ => String::new(),
        };
        format!("{}: {} — {}{behind}", self.about(), self.word(), self.reason(zone))
    }

    /// Whether a line that was frozen is about this finding as it stands. For the chill it is what the finding rests on, and not how
    /// it is said: a first cold reading that came too late to show anything changes no question.
    #[must_use]
    pub fn is_line(&self, line: &str, zone: Zone) -> bool {
        let own = self.line(zone);
        let rests_on =
            |line: &str| line.split_once(" — ").and_then(|(word, said)| Some((word.to_owned(), said.split_once(" [")?.1.to_owned())));
        line == own || (matches!(self, Finding::Chill(_)) && rests_on(&own).is_some() && rests_on(line) == rests_on(&own))
    }

    /// Whether the owner may decide otherwise. A drug whose time nobody knows is freed by the vet's figure and by nothing
    /// else; whose milk it is, and what cannot be read, is answered by writing it down and not by deciding.
    #[must_use]
    pub fn may_be_decided(&self) -> bool {
        let never = match self {
            // What is still cooling is read when its time is up.
            Finding::Chill(chilled) => chilled.lacks_a_time() || self.word() == Word::Wait,
            Finding::Tested(tested) => !tested.may_be_decided(),
            // A jar nobody read is read, or thrown out.
            Finding::Warmed(warmed) => warmed.fridge.warmest.is_none(),
            Finding::Treated { .. } | Finding::Parent { .. } | Finding::Tied { .. } => true,
            Finding::NoCows { .. } | Finding::NoSource | Finding::Unread { .. } => true,
            _ => false,
        };
        self.word().may_be_decided() && !never
    }

    /// Whether it stays in a vessel that is not washed: a drug, a first milk, a germ, the milk of a cow that was not well. A count
    /// that ran high does not, nor a hold, which names what it holds.
    #[must_use]
    pub fn is_left_behind(&self) -> bool {
        let unknown_drug = matches!(self, Finding::Treated { .. }) && self.word() != Word::CanGo;
        let of_the_milk = matches!(
            self,
            Finding::Treated { .. }
                | Finding::JustCalved { .. }
                | Finding::NearCalving { .. }
                | Finding::KeptOut { .. }
                | Finding::StripTest { .. }
                | Finding::CowUnwell { .. }
                | Finding::MilkerIll { .. }
                | Finding::Foremilk { .. }
                | Finding::Tested(Tested::Found { .. })
        );
        unknown_drug || matches!(self, Finding::TreatedDuring { .. }) || (of_the_milk && self.word() == Word::KeepBack)
    }

    /// Whether it is a reason not to fill jars at all. How fast they chill shows only once they are filled.
    #[must_use]
    pub fn speaks_against_filling(&self) -> bool {
        let unknown_drug = matches!(self, Finding::Treated { .. }) && self.word() != Word::CanGo;
        (self.word() == Word::KeepBack || unknown_drug) && !matches!(self, Finding::Chill(_) | Finding::BestBy { .. } | Finding::Way { .. })
    }
}
