//! What can be found about a lot, each finding with the facts that justify it, its word, its reason and the next thing to do.

pub use super::words::Word;

use super::{
    capital,
    chill::Chilled,
    coldness::Standing,
    herd::{Foremilk, Fresh, Left, Withheld},
    rules::{Channel, Channels, Sure},
    strips::{self, Failing},
    tested::Tested,
    when::{Day, Moment, Zone, day_shown},
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
    /// A lot filled before from the same vessel, with no clean break in between.
    Tied {
        /// Its code.
        code: String,
        /// The vessel.
        vessel: String,
        /// What speaks against that lot.
        reason: String,
    },
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
            Finding::MilkerIll { .. } | Finding::Held { .. } | Finding::Tied { .. } => Word::KeepBack,
            Finding::TreatedDuring { .. } => Word::CantTell,
            Finding::Parent { word, .. } => *word,
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
            Finding::Parent { code, .. } | Finding::Tied { code, .. } => format!("{about}: {code}"),
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
            Finding::Tested(tested) => tested.limit().map_or_else(String::new, |limit| format!(" [{}]", limit.spoken())),
            _ => String::new(),
        };
        format!("{}: {} — {}{behind}", self.about(), self.word(), self.reason(zone))
    }

    /// Whether the owner may decide otherwise. A drug whose time nobody knows is freed by the vet's figure and by nothing
    /// else; whose milk it is, and what cannot be read, is answered by writing it down and not by deciding.
    #[must_use]
    pub fn may_be_decided(&self) -> bool {
        let never = match self {
            Finding::Chill(chilled) => chilled.lacks_a_time(),
            Finding::Tested(tested) => !tested.may_be_decided(),
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
                | Finding::StripTest { .. }
                | Finding::CowUnwell { .. }
                | Finding::MilkerIll { .. }
                | Finding::Foremilk { .. }
                | Finding::Tested(Tested::Found { .. })
        );
        unknown_drug || (of_the_milk && self.word() == Word::KeepBack)
    }

    /// Whether it is a reason not to fill jars at all. How fast they chill shows only once they are filled.
    #[must_use]
    pub fn speaks_against_filling(&self) -> bool {
        let unknown_drug = matches!(self, Finding::Treated { .. }) && self.word() != Word::CanGo;
        (self.word() == Word::KeepBack || unknown_drug) && !matches!(self, Finding::Chill(_) | Finding::BestBy { .. } | Finding::Way { .. })
    }

    /// What it is about, in a word or two.
    #[must_use]
    pub fn about(&self) -> &'static str {
        match self {
            Finding::Chill(_) => "Chill",
            Finding::Treated { .. } | Finding::ClearOfDrugs { .. } | Finding::TreatedDuring { .. } => "Treatment",
            Finding::JustCalved { .. } => "Calving",
            Finding::NearCalving { .. } => "Near calving",
            Finding::StripTest { .. } => "Strip test",
            Finding::CowUnwell { .. } => "Cow unwell",
            Finding::KeptOut { .. } => "Kept out",
            Finding::Foremilk { .. } => "Foremilk",
            Finding::MilkerIll { .. } => "Milker",
            Finding::Held { .. } => "Held",
            Finding::Parent { .. } => "Made from",
            Finding::Tied { .. } => "Same vessel",
            Finding::BestBy { .. } => "Best-by",
            Finding::Tested(_) => "Test",
            Finding::Way { .. } => "Way",
            Finding::Decided { found, .. } => found.about(),
            Finding::NoCows { .. } | Finding::NoSource => "Where from",
            Finding::Unread { .. } => "Cannot be read",
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
            Finding::ClearOfDrugs { cow, session, left, in_what, drawn } => format!(
                "{cow} was milked into it at {session} while her milk had to stay out {left}; the rule lets a clear test lift that, and the bottle of {in_what} drawn {} is clear.",
                day_shown(*drawn)
            ),
            Finding::NearCalving { cow, session, due, from } => format!(
                "{cow} was milked into it at {session}, and she is due {}: her milk is kept back from {}.",
                day_shown(*due),
                day_shown(*from)
            ),
            Finding::StripTest { cow, session, failing } => {
                format!("{cow} was milked into it at {session}, and her last strip test failed: {}.", strips::listed(failing))
            }
            Finding::KeptOut { cow, session, since } => {
                format!("{cow} was milked into it at {session}, and stood outside the can since {}.", zone.in_full(*since))
            }
            Finding::CowUnwell { cow, session, since } => {
                format!("{cow} was milked into it at {session}, and she was not well, since {}.", zone.shown(*since))
            }
            Finding::Foremilk { cow, session, seen } => {
                format!("{cow}, {session}: {}", seen.reason().unwrap_or("Her first squirts were as they should be."))
            }
            Finding::MilkerIll { session } => format!("Whoever milked at {session} was not well."),
            Finding::Held { what, reason } if reason.is_empty() => format!("{what} is held."),
            Finding::Held { what, reason } => format!("{what} is held: {}", reason.trim_end_matches('.').to_owned() + "."),
            Finding::Parent { code, word, reason } => format!("It was made from {code}, which says {word}: {reason}"),
            Finding::Tied { code, vessel, reason } => {
                format!("{vessel} was not washed and sanitised between {code} and this milk, and of {code} it is known: {reason}")
            }
            Finding::TreatedDuring { cow, session, at } => {
                format!(
                    "{cow} was treated at {} while the milking of {session} went on: nobody wrote whether she was milked first.",
                    zone.clock(*at)
                )
            }
            Finding::BestBy { day, over: true } => format!("Its best-by day, {}, is over.", day_shown(*day)),
            Finding::BestBy { day, over: false } => format!("Good to {}.", day_shown(*day)),
            Finding::Tested(tested) => tested.reason(),
            Finding::Way { way, allowed } => way_reason(*way, allowed),
            Finding::Decided { found, by, at, reason } => format!(
                "{by} decided on {} that it may go: {} Without that: {}, because {}",
                zone.in_full(*at),
                sentence(reason),
                found.word(),
                found.reason(zone)
            ),
            Finding::NoCows { session } => format!("No cow is written down for {session}, so nobody can say whose milk is in it."),
            Finding::NoSource => "No milking is written down for it, so nobody can say what is in it.".to_owned(),
            Finding::Unread { says } => says.clone(),
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
            (Finding::Treated { withheld: Withheld::UntilCalving(_), .. }, _) => {
                "Write down when she calved. If she has not, ask the vet how long her milk stays out.".to_owned()
            }
            (Finding::NearCalving { .. }, _) => {
                "Keep it back, dry her off, and correct the day she is due if it is wrong. Mixing never makes it right.".to_owned()
            }
            (Finding::StripTest { .. }, _) => {
                "Keep it back, keep her out of the can until a test of that quarter passes, and ask the vet.".to_owned()
            }
            (Finding::KeptOut { .. }, _) => {
                "Keep it back. If she had joined the can by then, write down when she did; if it was another cow, correct the milking."
                    .to_owned()
            }
            (Finding::CowUnwell { .. }, _) => "Keep it back, keep her out of the can until she is well again, and ask the vet.".to_owned(),
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
            (Finding::Tied { .. }, _) => {
                "Keep it back. If the vessel was washed and sanitised in between, write that clean break down. Mixing never makes it right."
                    .to_owned()
            }
            (Finding::TreatedDuring { .. }, _) => {
                "If she was milked before the dose, decide so with that reason; if not, keep it back, and ask the vet.".to_owned()
            }
            (Finding::BestBy { .. }, _) => "Throw it out, and write that down.".to_owned(),
            (Finding::Tested(tested), _) => tested.next(),
            (Finding::Way { .. }, Word::KeepBack) => "Hand it out in a way the rule names.".to_owned(),
            (Finding::Way { .. }, _) => {
                "Ask the health department which ways are allowed, and write them into the farm's rules.".to_owned()
            }
            (Finding::Decided { .. } | Finding::ClearOfDrugs { .. }, _) => "Nothing.".to_owned(),
            (Finding::NoCows { .. }, _) => "Write down whose milk went into the can at that milking.".to_owned(),
            (Finding::NoSource, _) => "Write down which milkings are in it.".to_owned(),
            (Finding::Unread { .. }, _) => "Put that right where it is written: in the rules under Binder, or in the record.".to_owned(),
        }
    }
}

fn sentence(typed: &str) -> String {
    let plain = typed.trim();
    if plain.ends_with(['.', '!', '?']) { plain.to_owned() } else { format!("{plain}.") }
}

fn way_reason(way: Channel, allowed: &Channels) -> String {
    match allowed {
        Channels::NotKnown => "Which ways of handing out are allowed is not known for this place.".to_owned(),
        Channels::Named(ways, sure) if ways.is_empty() => format!("The rule allows no way of handing out ({sure})."),
        Channels::Named(ways, sure) => {
            let named: Vec<String> = ways.iter().map(ToString::to_string).collect();
            let not = if ways.contains(&way) { "" } else { " not" };
            format!("{} is{not} among the ways the rule names: {} ({sure}).", capital(&way.to_string()), named.join(", "))
        }
    }
}
