//! May this lot go out? Four words, the worst part wins, and what is missing is never “can go”.
//!
//! Each finding carries the facts that justify it, so that a verdict can be shown to a child in one sentence and to an
//! inspector in full, and frozen into a hand-out as it stood.

use super::{
    chill::{self, Chilled, MilkingTimes, Reading},
    coldness::Standing,
    herd::{self, ColostrumRule, Dose, Foremilk, Fresh, Withheld},
    rules::CountedFrom,
    steps::Steps,
    when::{Day, Moment, Zone, day_shown},
};
use chrono::Days;
use std::fmt;

/// Beyond so many days after calving no rule that can be written here keeps milk out: 60 milkings once a day, and a margin.
pub const LONGEST_FRESH_DAYS: i64 = 70;

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

/// The rules a lot is judged by: those of the day it was filled.
#[derive(Clone, Debug, Default)]
pub struct Rules {
    /// What they are called, with their citation.
    pub source: String,
    /// The chill steps; none means not known.
    pub steps: Steps,
    /// The days and milkings after calving.
    pub fresh: ColostrumRule,
    /// The best-by days, and what they count from.
    pub best_by: Option<(i64, CountedFrom)>,
}

/// One cow's milk in one milking of the lot.
#[derive(Clone, Debug)]
pub struct CowsPart {
    /// Her name.
    pub cow: String,
    /// What her first squirts looked like.
    pub foremilk: Foremilk,
    /// Every dose she was given up to the milking.
    pub doses: Vec<Dose>,
    /// When she was milked, up to and including this milking.
    pub milked: Vec<Moment>,
    /// When she last calved before it.
    pub calved: Option<Moment>,
}

/// One milking of the lot.
#[derive(Clone, Debug)]
pub struct Milking {
    /// Its day and session.
    pub session: String,
    /// When it began and ended.
    pub times: MilkingTimes,
    /// Whether the milker was well; `None` when nobody wrote it.
    pub well: Option<bool>,
    /// The cows whose milk went into the can.
    pub cows: Vec<CowsPart>,
}

/// A hold that has not been lifted.
#[derive(Clone, Debug)]
pub struct Hold {
    /// What is held: this lot, a cow in it, its vessel or everything.
    pub what: String,
    /// Why.
    pub reason: String,
    /// Since when.
    pub at: Moment,
}

/// All that is known of a lot when it is judged.
#[derive(Clone, Debug)]
pub struct Facts {
    /// Its code.
    pub code: String,
    /// When it was filled.
    pub filled: Moment,
    /// The milkings in it, oldest first.
    pub milkings: Vec<Milking>,
    /// The chill readings of it.
    pub readings: Vec<Reading>,
    /// The holds that touch it.
    pub holds: Vec<Hold>,
    /// The lots it was made from, each with its own verdict and oldest milking.
    pub parents: Vec<(String, Verdict, Moment)>,
    /// The rules of its day.
    pub rules: Rules,
    /// The farm's clock.
    pub zone: Zone,
}

impl Facts {
    /// The oldest milk in it.
    #[must_use]
    pub fn oldest(&self) -> Moment {
        let own = self.milkings.iter().map(|milking| milking.times.start);
        own.chain(self.parents.iter().map(|(_, _, oldest)| *oldest)).min().unwrap_or(self.filled)
    }

    /// The last day it is good for by the rule, if a rule or the owner names one.
    #[must_use]
    pub fn best_by(&self) -> Option<Day> {
        let (days, from) = self.rules.best_by?;
        let first = match from {
            CountedFrom::Filling => self.filled,
            CountedFrom::OldestMilking | CountedFrom::Production => self.oldest(),
        };
        self.zone.day(first).checked_add_days(Days::new(u64::try_from(days).ok()?))
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
            Finding::NoSource => Word::CantTell,
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
            Finding::NoSource => "Where from",
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
            (Finding::NoSource, _) => "Write down which milkings are in it.".to_owned(),
        }
    }
}

/// The verdict on a lot: everything found, the worst first.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Verdict {
    /// Everything found, worst first.
    pub findings: Vec<Finding>,
    zone: Zone,
    /// The rules it was judged by.
    pub rules: String,
}

impl Verdict {
    /// The one word.
    #[must_use]
    pub fn word(&self) -> Word {
        self.findings.iter().map(Finding::word).max().unwrap_or(Word::CantTell)
    }

    fn deciding(&self) -> Option<&Finding> {
        self.findings.first()
    }

    /// The one sentence.
    #[must_use]
    pub fn reason(&self) -> String {
        self.deciding().map_or_else(String::new, |finding| finding.reason(self.zone))
    }

    /// The next thing to do.
    #[must_use]
    pub fn next(&self) -> String {
        self.deciding().map_or_else(String::new, |finding| finding.next(self.zone))
    }

    /// The facts as they are known now, for freezing into a hand-out.
    #[must_use]
    pub fn facts(&self) -> String {
        let lines = self.findings.iter().map(|finding| format!("{}: {} — {}", finding.about(), finding.word(), finding.reason(self.zone)));
        let all: Vec<String> = lines.chain([format!("Rules: {}", self.rules)]).collect();
        all.join("\n").chars().take(3900).collect()
    }
}

/// Judges a lot at a moment.
#[must_use]
pub fn judge(facts: &Facts, now: Moment) -> Verdict {
    let mut findings = Vec::new();
    for hold in &facts.holds {
        findings.push(Finding::Held { what: hold.what.clone(), reason: hold.reason.clone() });
    }
    for milking in &facts.milkings {
        if milking.well == Some(false) {
            findings.push(Finding::MilkerIll { session: milking.session.clone() });
        }
        for part in &milking.cows {
            findings.extend(cow_findings(part, milking, &facts.rules));
        }
    }
    for (code, verdict, _) in &facts.parents {
        findings.push(Finding::Parent { code: code.clone(), word: verdict.word(), reason: verdict.reason() });
    }
    match (facts.milkings.is_empty(), facts.parents.is_empty()) {
        (true, true) => findings.push(Finding::NoSource),
        (true, false) => {}
        (false, _) => {
            let times: Vec<MilkingTimes> = facts.milkings.iter().map(|milking| milking.times).collect();
            findings.push(Finding::Chill(chill::judge(&facts.rules.steps.0, &times, &facts.readings, now)));
        }
    }
    if let Some(day) = facts.best_by() {
        findings.push(Finding::BestBy { day, over: facts.zone.day(now) > day });
    }
    // The worst first; among equals the chill, because it is what a person can do something about.
    findings.sort_by_key(|finding| (std::cmp::Reverse(finding.word()), !matches!(finding, Finding::Chill(_))));
    Verdict { findings, zone: facts.zone, rules: facts.rules.source.clone() }
}

fn cow_findings(part: &CowsPart, milking: &Milking, rules: &Rules) -> Vec<Finding> {
    let (cow, session, at) = (part.cow.clone(), milking.session.clone(), milking.times.start);
    let mut findings = vec![Finding::Foremilk { cow: cow.clone(), session: session.clone(), seen: part.foremilk }];
    if !part.doses.is_empty() {
        findings.push(Finding::Treated {
            cow: cow.clone(),
            session: session.clone(),
            withheld: herd::withdrawal(&part.doses, &part.milked, at),
        });
    }
    if let Some(calved) = part.calved {
        let since: Vec<Moment> = part.milked.iter().copied().filter(|milked| *milked >= calved).collect();
        if at.minutes_since(calved) < LONGEST_FRESH_DAYS * 24 * 60 {
            findings.push(Finding::JustCalved { cow, session, fresh: herd::colostrum(calved, rules.fresh, &since, at) });
        }
    }
    findings
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::measure::Temperature;

    fn farm() -> Zone {
        Zone::parse("America/New_York").unwrap()
    }

    fn at(typed: &str) -> Moment {
        farm().parse_moment(typed).unwrap()
    }

    fn facts() -> Facts {
        Facts {
            code: "6134A-S".to_owned(),
            filled: at("2026-05-14T06:20"),
            milkings: vec![Milking {
                session: "2026-05-14 AM".to_owned(),
                times: MilkingTimes { start: at("2026-05-14T05:40"), end: Some(at("2026-05-14T06:05")) },
                well: Some(true),
                cows: vec![CowsPart {
                    cow: "Damson".to_owned(),
                    foremilk: Foremilk::Normal,
                    doses: vec![],
                    milked: vec![at("2026-05-14T05:40")],
                    calved: None,
                }],
            }],
            readings: vec![Reading { at: at("2026-05-14T07:35"), temperature: Temperature::fahrenheit(39) }],
            holds: vec![],
            parents: vec![],
            rules: Rules {
                source: "7 Pa. Code 59a.408".to_owned(),
                steps: Steps::parse("cool 40 °F within 120 min of milking end [read]").unwrap(),
                fresh: ColostrumRule { days_after: Some(5), ..ColostrumRule::default() },
                best_by: Some((10, CountedFrom::OldestMilking)),
            },
            zone: farm(),
        }
    }

    fn word_of(change: impl FnOnce(&mut Facts)) -> Word {
        let mut changed = facts();
        change(&mut changed);
        judge(&changed, at("2026-05-14T12:00")).word()
    }

    /// Source: the worst part wins, by this program's own rule; the chill step is 7 Pa. Code 59a.408's.
    #[test]
    fn the_worst_part_wins_and_missing_is_never_can_go() {
        assert_eq!(word_of(|_| ()), Word::CanGo);
        assert_eq!(word_of(|facts| facts.readings.clear()), Word::CantTell);
        assert_eq!(word_of(|facts| facts.readings[0].temperature = Temperature::fahrenheit(46)), Word::CantTell);
        assert_eq!(word_of(|facts| facts.rules.steps = Steps::default()), Word::CantTell);
        assert_eq!(word_of(|facts| facts.milkings.clear()), Word::CantTell);
        assert_eq!(word_of(|facts| facts.milkings[0].cows[0].foremilk = Foremilk::NotLooked), Word::CantTell);
        assert_eq!(word_of(|facts| facts.milkings[0].cows[0].foremilk = Foremilk::Flakes), Word::KeepBack);
        assert_eq!(word_of(|facts| facts.milkings[0].well = Some(false)), Word::KeepBack);
        assert_eq!(
            word_of(|facts| facts.holds.push(Hold { what: "This lot".to_owned(), reason: String::new(), at: facts.filled })),
            Word::KeepBack
        );
        assert_eq!(word_of(|facts| facts.milkings[0].cows[0].calved = Some(at("2026-05-12T02:00"))), Word::KeepBack);
    }

    #[test]
    fn a_treated_cow_keeps_the_whole_lot_back_and_an_unknown_time_cannot_be_told() {
        let dose = |hours| Dose {
            at: at("2026-05-12T06:00"),
            product: "udder tube".to_owned(),
            milk_hours: hours,
            milk_milkings: None,
            as_labelled: true,
            vet_figure: false,
        };
        assert_eq!(word_of(|facts| facts.milkings[0].cows[0].doses.push(dose(Some(96)))), Word::KeepBack);
        assert_eq!(word_of(|facts| facts.milkings[0].cows[0].doses.push(dose(None))), Word::CantTell);
        assert_eq!(word_of(|facts| facts.milkings[0].cows[0].doses.push(dose(Some(24)))), Word::CanGo);
    }

    #[test]
    fn the_last_day_counts_from_the_oldest_milking() {
        assert_eq!(facts().best_by(), Day::from_ymd_opt(2026, 5, 24));
        assert_eq!(judge(&facts(), at("2026-05-24T23:00")).word(), Word::CanGo);
        assert_eq!(judge(&facts(), at("2026-05-25T00:30")).word(), Word::KeepBack);
    }

    #[test]
    fn a_made_lot_takes_its_parents_worst() {
        let mut parent = facts();
        parent.readings.clear();
        let verdict = judge(&parent, at("2026-05-14T12:00"));
        assert_eq!(word_of(|facts| facts.parents.push(("6133A-M".to_owned(), verdict, at("2026-05-13T05:40")))), Word::CantTell);
    }
}
