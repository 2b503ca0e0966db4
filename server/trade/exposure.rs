//! Which jars cannot be excluded when somebody fell ill: those that may have been drunk in the hours before, by what was found.
//!
//! An illness follows what was eaten by hours or by weeks, so the last jar taken is often not the one to look at. Each agent has
//! its window, with the wide ends of what is published, because a trace must not drop a lot for a typical value. It never says
//! what made anybody ill: a doctor and the health department do.
//!
//! The figures are hours before the first symptom, gathered from printed tables and papers, most of them read in copies:
//! - *Campylobacter*, 1 to 10 days: the CDC's guide to confirming an etiology prints 2 to 10, a compiled list 1 to 10; the wider
//!   lower end stands here.
//! - *Salmonella*, 6 hours to 10 days: the FDA's table prints 6 to 48 hours; of 725 cases in Minnesota (Eikmeier, Medus and Smith,
//!   Epidemiology and Infection 2018) some took more than a week.
//! - *E. coli* that makes Shiga toxin, 1 to 10 days: the CDC's range, as a newspaper quoted it.
//! - *Listeria*, invasive, 1 to 28 days: Angelo and others (Clinical Infectious Diseases 2016) saw nine in ten within 28; Goulet
//!   and others (BMC Infectious Diseases 2013) saw 1 to 67, and an older rule says up to 70, which is the extended window.
//! - *Listeria* as a stomach upset, 6 hours to 10 days: Goulet and others, as above.
//! - *Staphylococcus aureus* toxin, half an hour to 8 hours: a public table after the CDC's.
//! - *Brucella*, 5 days to 6 months: a state's alert of January 2019 on raw milk.
//! - *Cryptosporidium*, 2 to 28 days: the MMWR primer of 2001, read in a copy; North Carolina's health department prints 2 to 10.

use super::{
    Fault, short,
    trace::{LotId, Tie, Ties},
    when::{Day, Moment, Zone, day_shown},
};

/// What was found in somebody who fell ill, or is thought of by a doctor.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Agent {
    /// Nobody has found anything yet.
    NotKnown,
    /// *Campylobacter*.
    Campylobacter,
    /// *Salmonella*, other than typhoid.
    Salmonella,
    /// *E. coli* that makes Shiga toxin, such as O157.
    Stec,
    /// *Listeria* in the blood, the brain or the womb: 28 days, in which nine in ten fell ill.
    Listeria,
    /// The same as far back as anybody saw.
    ListeriaExtended,
    /// *Listeria* as a stomach upset.
    ListeriaStomach,
    /// The toxin of *Staphylococcus aureus*.
    StaphToxin,
    /// *Brucella*.
    Brucella,
    /// *Cryptosporidium*.
    Cryptosporidium,
}

impl Agent {
    /// Every agent with the word it goes by in a form and in an address.
    pub const WORDS: [(Agent, &'static str); 10] = [
        (Agent::NotKnown, "not known"),
        (Agent::Campylobacter, "Campylobacter"),
        (Agent::Salmonella, "Salmonella"),
        (Agent::Stec, "E. coli with Shiga toxin"),
        (Agent::Listeria, "Listeria, invasive"),
        (Agent::ListeriaExtended, "Listeria, invasive, extended"),
        (Agent::ListeriaStomach, "Listeria, stomach upset"),
        (Agent::StaphToxin, "Staphylococcus toxin"),
        (Agent::Brucella, "Brucella"),
        (Agent::Cryptosporidium, "Cryptosporidium"),
    ];

    /// Reads an agent's word; nothing at all is an agent not known.
    ///
    /// # Errors
    /// A sentence with the words there are.
    pub fn parse(typed: &str) -> Result<Agent, Fault> {
        let word = typed.trim();
        let found = Agent::WORDS.into_iter().find(|(_, own)| own.eq_ignore_ascii_case(word));
        match found {
            Some((agent, _)) => Ok(agent),
            None if word.is_empty() => Ok(Agent::NotKnown),
            None => {
                let words: Vec<&str> = Agent::WORDS.iter().map(|(_, word)| *word).collect();
                Err(Fault::says(format!("“{}” is not in this list: {}. Choose “not known”.", short(typed), words.join("; "))))
            }
        }
    }

    /// The word it goes by.
    #[must_use]
    pub fn word(self) -> &'static str {
        Agent::WORDS.iter().find(|(agent, _)| *agent == self).map_or("not known", |(_, word)| word)
    }

    /// How long before the first symptom it may have been taken in.
    #[must_use]
    pub const fn incubation(self) -> Incubation {
        let (least, most) = match self {
            Agent::NotKnown => return Incubation { least: 30, most: 240 * 60 },
            Agent::Campylobacter | Agent::Stec => (24, 240),
            Agent::Salmonella | Agent::ListeriaStomach => (6, 240),
            Agent::Listeria => (24, 672),
            Agent::ListeriaExtended => (24, 1680),
            Agent::StaphToxin => return Incubation { least: 30, most: 8 * 60 },
            Agent::Brucella => (120, 4320),
            Agent::Cryptosporidium => (48, 672),
        };
        Incubation { least: least * 60, most: most * 60 }
    }

    /// What to know about its window, if there is anything.
    #[must_use]
    pub const fn note(self) -> Option<&'static str> {
        match self {
            Agent::NotKnown => Some("Listeria and Brucella reach further back: ask again as soon as a doctor names something."),
            Agent::Listeria => Some("About one in ten falls ill later than 28 days: look at the extended window too."),
            _ => None,
        }
    }
}

/// How long before the first symptom something may have been taken in, in minutes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Incubation {
    /// The shortest time seen.
    pub least: i64,
    /// The longest.
    pub most: i64,
}

/// When the first symptom showed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Onset {
    /// At this moment.
    At(Moment),
    /// On this day, nobody knows at what hour.
    On(Day),
}

/// The hours in which it may have been taken in, both ends among them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Window {
    /// The first.
    pub from: Moment,
    /// The last.
    pub until: Moment,
}

impl Incubation {
    /// The window before an onset. A day without an hour counts from its first minute at the early end and from its last at the
    /// late end, so that no hour of it is left out.
    #[must_use]
    pub fn before(self, onset: Onset, zone: Zone) -> Window {
        let (first, last) = match onset {
            Onset::At(at) => (at, at),
            Onset::On(day) => (zone.start_of(day), zone.end_of(day)),
        };
        Window { from: first.plus_minutes(-self.most), until: last.plus_minutes(-self.least) }
    }
}

/// The window of an agent before an onset.
#[must_use]
pub fn window(onset: Onset, agent: Agent, zone: Zone) -> Window {
    agent.incubation().before(onset, zone)
}

/// How long a jar may have been drunk from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Drunk {
    /// So many days from when it was taken.
    Within(i64),
    /// Until this moment, as somebody wrote down.
    Until(Moment),
}

/// Jars of one lot that somebody took.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Taken {
    /// The lot.
    pub lot: LotId,
    /// When they were taken.
    pub at: Moment,
    /// How long they may have been drunk from.
    pub drunk: Drunk,
}

impl Taken {
    /// Whether it may have been drunk from in these hours: it was there by the last of them and not empty before the first.
    #[must_use]
    pub const fn cannot_be_excluded(&self, window: Window) -> bool {
        let last = match self.drunk {
            Drunk::Within(days) => self.at.plus_hours(days * 24),
            Drunk::Until(at) => at,
        };
        self.at.in_seconds() <= window.until.in_seconds() && last.in_seconds() >= window.from.in_seconds()
    }
}

/// What somebody took that cannot be excluded, in the order it was given.
#[must_use]
pub fn candidates(taken: &[Taken], window: Window) -> Vec<Taken> {
    taken.iter().filter(|own| own.cannot_be_excluded(window)).copied().collect()
}

/// The lots of those jars, each only possible: a jar that cannot be excluded has not been found to be the one.
#[must_use]
pub fn ties(taken: &[Taken], window: Window, zone: Zone) -> Ties {
    let mut ties = Ties::new();
    for own in candidates(taken, window) {
        let why = format!("was taken on {} and cannot be excluded", zone.in_full(own.at));
        ties.entry(own.lot).or_insert(Tie::Possible(why));
    }
    ties
}

/// What was found, in one or two sentences that name no cause.
#[must_use]
pub fn says(taken: &[Taken], onset: Onset, agent: Agent, zone: Zone) -> String {
    let window = window(onset, agent, zone);
    let began = match onset {
        Onset::At(at) => zone.in_full(at),
        Onset::On(day) => day_shown(day),
    };
    let hours = format!("{} to {}", zone.in_full(window.from), zone.in_full(window.until));
    let first = taken.iter().map(|own| own.at).min();
    let found = candidates(taken, window).len();
    let said = match first {
        None => "No jar is written down as handed out to them, so none can be named and none excluded.".to_owned(),
        Some(first) if first > window.until => format!(
            "The first jar written down for them was taken on {}, later than the hours in question ({hours}). So no jar is listed. Check both days, and ask whether they had milk from somebody else's jar.",
            zone.in_full(first)
        ),
        Some(_) if found == 0 => format!(
            "No jar written down for them was there to be drunk in the hours in question ({hours}). So no jar is listed; one that was frozen or passed on is not written here."
        ),
        Some(_) => format!(
            "Jars that cannot be excluded: {found}. They may have been drunk from in the hours in question ({hours}), for an illness that began {began}. That a jar is listed does not say that it made anybody ill."
        ),
    };
    [Some(said.as_str()), agent.note()].into_iter().flatten().collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn zone() -> Zone {
        Zone::parse("America/New_York").unwrap()
    }

    fn at(typed: &str) -> Moment {
        zone().parse_moment(typed).unwrap()
    }

    /// Six pickups at ten in the morning, each good for ten days.
    fn taken() -> Vec<Taken> {
        let days = ["04-25", "05-02", "05-09", "05-16", "05-19", "05-20"];
        let jar = |(day, nth): (&str, i64)| Taken { lot: LotId(nth), at: at(&format!("2026-{day}T10:00")), drunk: Drunk::Within(10) };
        days.into_iter().zip(1..).map(jar).collect()
    }

    fn days(found: &[Taken]) -> Vec<String> {
        found.iter().map(|own| zone().for_field(own.at)[5..10].to_owned()).collect()
    }

    /// Source: the windows are onset less the longest and the shortest time, and the candidates worked by hand from the two
    /// inequalities, for an onset on 20 May 2026 at 18:00.
    #[test]
    fn the_worked_table() {
        let onset = Onset::At(at("2026-05-20T18:00"));
        let day = 24 * 60;
        for (least, most, from, until, found) in [
            (2 * day, 10 * day, "05-10T18:00", "05-18T18:00", "05-02 05-09 05-16"),
            (day, 10 * day, "05-10T18:00", "05-19T18:00", "05-02 05-09 05-16 05-19"),
            (6 * 60, 10 * day, "05-10T18:00", "05-20T12:00", "05-02 05-09 05-16 05-19 05-20"),
            (30, 8 * 60, "05-20T10:00", "05-20T17:30", "05-16 05-19 05-20"),
            (day, 28 * day, "04-22T18:00", "05-19T18:00", "04-25 05-02 05-09 05-16 05-19"),
        ] {
            let window = Incubation { least, most }.before(onset, zone());
            let shown = (zone().for_field(window.from), zone().for_field(window.until));
            assert_eq!(shown, (format!("2026-{from}"), format!("2026-{until}")));
            assert_eq!(days(&candidates(&taken(), window)).join(" "), found);
        }
    }

    /// Source: the published figures named at the top of this chapter, in hours.
    #[test]
    fn every_agent_has_its_hours() {
        let hours = |agent: Agent| (agent.incubation().least, agent.incubation().most / 60);
        for (agent, least, most) in [
            (Agent::Campylobacter, 24 * 60, 240),
            (Agent::Salmonella, 6 * 60, 240),
            (Agent::Stec, 24 * 60, 240),
            (Agent::Listeria, 24 * 60, 672),
            (Agent::ListeriaExtended, 24 * 60, 1680),
            (Agent::ListeriaStomach, 6 * 60, 240),
            (Agent::StaphToxin, 30, 8),
            (Agent::Brucella, 120 * 60, 4320),
            (Agent::Cryptosporidium, 48 * 60, 672),
            (Agent::NotKnown, 30, 240),
        ] {
            assert_eq!(hours(agent), (least, most), "{agent:?}");
            assert_eq!(Agent::parse(agent.word()).unwrap(), agent);
        }
        assert_eq!(Agent::parse("").unwrap(), Agent::NotKnown);
        assert!(Agent::parse("plague").unwrap_err().to_string().contains("Cryptosporidium"));
        assert!(Agent::NotKnown.note().unwrap().contains("Brucella"));
    }

    /// A day without an hour is wide at both ends, on the farm's own clock: New York went to summer time on 8 March 2026, so that
    /// Sunday has 23 hours (IANA time zone database).
    #[test]
    fn a_day_without_an_hour_leaves_none_out() {
        let window = window(Onset::On(zone().day(at("2026-03-08T12:00"))), Agent::StaphToxin, zone());
        assert_eq!(zone().for_field(window.from), "2026-03-07T16:00");
        assert_eq!(zone().for_field(window.until), "2026-03-08T23:30");
        assert_eq!(window.until.minutes_since(window.from), 23 * 60 + 8 * 60 - 30);
    }

    #[test]
    fn a_finished_jar_is_out_and_nothing_is_ever_called_the_cause() {
        let onset = Onset::At(at("2026-05-20T18:00"));
        let mut own = taken();
        own[1].drunk = Drunk::Until(at("2026-05-10T17:59"));
        let campylobacter = window(onset, Agent::Campylobacter, zone());
        assert_eq!(days(&candidates(&own, campylobacter)), ["05-09", "05-16", "05-19"]);
        own[1].drunk = Drunk::Until(at("2026-05-10T18:00"));
        assert_eq!(days(&candidates(&own, campylobacter)), ["05-02", "05-09", "05-16", "05-19"], "the last hour belongs to it");

        let told = says(&own, onset, Agent::Campylobacter, zone());
        assert!(told.starts_with("Jars that cannot be excluded: 4.") && told.contains("does not say that it made anybody ill"), "{told}");
        let early = says(&own, Onset::At(at("2026-04-25T10:15")), Agent::NotKnown, zone());
        assert!(early.contains("So no jar is listed") && early.contains("25 Apr 2026, 10:00") && early.contains("Brucella"), "{early}");
        assert!(candidates(&own, window(Onset::At(at("2026-04-25T10:15")), Agent::NotKnown, zone())).is_empty());
        let long_after = says(&own, Onset::At(at("2026-08-01T10:00")), Agent::Campylobacter, zone());
        assert!(long_after.contains("frozen or passed on"), "{long_after}");
        assert!(says(&[], onset, Agent::Stec, zone()).contains("none can be named and none excluded"));
        for said in [told, early, long_after] {
            assert!(!said.contains("cause"), "{said}");
        }
        let ties = ties(&own, campylobacter, zone());
        assert_eq!(ties.len(), 4);
        assert!(ties.values().all(|tie| !tie.is_certain() && tie.why().contains("cannot be excluded")));
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

        /// A wider reach, a longer drinking time or an onset known only by its day never drops a jar.
        #[test]
        fn widening_never_drops_a_jar(hour in 0i64..4000, least in 0i64..5000, most in 5000i64..40000, more in 0i64..5000, u in 0i64..30) {
            let jars: Vec<Taken> = (0..40).map(|nth| Taken { lot: LotId(nth), at: Moment::seconds(0).plus_hours(nth * 97), drunk: Drunk::Within(u) }).collect();
            let onset = Moment::seconds(0).plus_hours(hour);
            let narrow = candidates(&jars, Incubation { least, most }.before(Onset::At(onset), zone()));
            let wide = candidates(&jars, Incubation { least: least / 2, most: most + more }.before(Onset::At(onset), zone()));
            let day = candidates(&jars, Incubation { least, most }.before(Onset::On(zone().day(onset)), zone()));
            prop_assert!(narrow.iter().all(|own| wide.contains(own) && day.contains(own)));
            let longer: Vec<Taken> = jars.iter().map(|own| Taken { drunk: Drunk::Within(u + more / 100), ..*own }).collect();
            let later = candidates(&longer, Incubation { least, most }.before(Onset::At(onset), zone()));
            prop_assert!(later.len() >= narrow.len());
        }
    }
}
