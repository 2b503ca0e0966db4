//! How a finding is said: what it is about, its reason in one sentence, and the next thing to do.

use super::{
    capital,
    coldness::Standing,
    findings::{Finding, Word},
    herd::{Foremilk, Fresh, Withheld},
    rules::{Channel, Channels},
    strips,
    when::{Zone, day_shown},
};

impl Finding {
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
            Finding::Warmed(_) => "Warm fridge",
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
            Finding::JustCalved { cow, session, fresh: Fresh::Colostrum(left), .. } => {
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
            Finding::Tied { session, found } => format!(
                "Milk of {session} went into the same vessel, and it was not washed and sanitised before this milk: {}",
                found.reason(zone)
            ),
            Finding::TreatedDuring { cow, session, at } => {
                format!(
                    "{cow} was treated at {} while the milking of {session} went on: nobody wrote whether she was milked first.",
                    zone.clock(*at)
                )
            }
            Finding::Warmed(warmed) => warmed.reason(zone),
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
            (Finding::Warmed(warmed), _) => warmed.next(),
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
