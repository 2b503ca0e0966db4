//! A call-back (recall) under way: its lots, everybody who has any of that milk, every try at reaching them, and what they said
//! became of their jars.
//!
//! Nobody is dropped: a household is reached, tried or not tried yet, and an unknown walk-in stays on the list although nobody
//! can ring them. A later word about the jars of a lot takes the place of an earlier one; both stay written.

use super::{
    jars::Jars,
    reach,
    recipients::Household,
    when::{Moment, Zone},
};
use std::collections::{BTreeMap, BTreeSet};

/// Everybody is to be tried within this many hours, and reached within the other. Common practice of call-back drills, where
/// two to four hours are asked for; the law's own outer limit for records is a day (21 CFR 1.361).
pub const TRY_WITHIN_HOURS: i64 = 2;
/// Hours within which everybody is to be reached.
pub const REACH_WITHIN_HOURS: i64 = 24;

/// A lot that a call-back decided about.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CalledLot {
    /// Its number.
    pub number: i64,
    /// Its code.
    pub code: String,
    /// When it was filled.
    pub filled: Moment,
    /// Whether the milk itself is the tie.
    pub certain: bool,
    /// Why it is in.
    pub because: String,
    /// Whether it is called back; otherwise it was left out.
    pub called: bool,
    /// Why it was left out.
    pub reason: String,
    /// When that was decided.
    pub at: Moment,
    /// By whom.
    pub who: String,
}

/// Somebody who has, or had, jars of a lot called back.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum To {
    /// A household, by its number.
    Household(i64),
    /// Somebody unknown, by the hand-out.
    WalkIn(i64),
}

impl To {
    /// The word for an address: `h17`, `w2044`.
    #[must_use]
    pub fn mark(self) -> String {
        match self {
            To::Household(number) => format!("h{number}"),
            To::WalkIn(number) => format!("w{number}"),
        }
    }

    /// Reads such a word.
    #[must_use]
    pub fn parse(mark: &str) -> Option<To> {
        let number = |text: &str| text.parse::<i64>().ok();
        match (mark.strip_prefix('h').and_then(number), mark.strip_prefix('w').and_then(number)) {
            (Some(number), _) => Some(To::Household(number)),
            (_, Some(number)) => Some(To::WalkIn(number)),
            _ => None,
        }
    }
}

/// One try at reaching somebody.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Try {
    /// Its number; an e-mail that a server took has none, because it is a record of its own.
    pub number: Option<i64>,
    /// Whom.
    pub to: To,
    /// When.
    pub at: Moment,
    /// When it was written.
    pub written: Moment,
    /// By whom.
    pub who: String,
    /// How.
    pub way: String,
    /// What came of it.
    pub outcome: String,
    /// A note.
    pub note: String,
}

/// What somebody said became of jars of a lot.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Telling {
    /// At which try.
    pub contact: i64,
    /// Of which lot.
    pub lot: i64,
    /// What became of them.
    pub became: String,
    /// How many.
    pub jars: Jars,
    /// To whom they were given.
    pub note: String,
}

/// How far it has come with somebody.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Standing {
    /// Nobody has tried yet.
    NotTried,
    /// Tried, and there was no answer.
    NoAnswer,
    /// The number was wrong.
    WrongNumber,
    /// A message was left; nobody has answered it.
    Message,
    /// Spoken to.
    Reached,
}

impl Standing {
    /// In words.
    #[must_use]
    pub const fn says(self) -> &'static str {
        match self {
            Standing::NotTried => "not tried yet",
            Standing::NoAnswer => "no answer",
            Standing::WrongNumber => "wrong number",
            Standing::Message => "message left",
            Standing::Reached => "reached",
        }
    }

    fn of(outcome: &str) -> Standing {
        match outcome {
            "reached" => Standing::Reached,
            "message left" => Standing::Message,
            "wrong number" => Standing::WrongNumber,
            _ => Standing::NoAnswer,
        }
    }
}

/// Somebody who has, or had, jars of the lots.
#[derive(Clone, Debug)]
pub struct Recipient {
    /// Who.
    pub to: To,
    /// The household; nothing for somebody unknown.
    pub household: Option<Household>,
    /// Whoever carried the jars away, when that was somebody else.
    pub carried: BTreeSet<String>,
    /// The jars they had, lot by lot.
    pub had: BTreeMap<i64, Jars>,
    /// When they took the last.
    pub last: Moment,
    /// How it is known that they had them.
    pub evidence: BTreeSet<String>,
    /// Every try, oldest first.
    pub tries: Vec<Try>,
    /// What they last said of each lot.
    pub told: BTreeMap<i64, Vec<Telling>>,
}

/// What a household said is gone: nobody can drink it any more.
const GONE: [&str; 3] = ["drunk", "returned", "destroyed"];

impl Recipient {
    /// How they are called: number and name, or that nobody knows them.
    #[must_use]
    pub fn called(&self) -> String {
        match &self.household {
            Some(own) => own.called(),
            None if self.carried.is_empty() => "an unknown walk-in".to_owned(),
            None => format!("an unknown walk-in (“{}”)", self.carried.iter().cloned().collect::<Vec<_>>().join("”, “")),
        }
    }

    /// How far it has come with them: the best of all tries, because somebody once reached has heard it. A wrong number weighs
    /// no more than no answer once anything better is written.
    #[must_use]
    pub fn standing(&self) -> Standing {
        self.tries.iter().map(|own| Standing::of(&own.outcome)).max().unwrap_or(Standing::NotTried)
    }

    /// All jars they had.
    #[must_use]
    pub fn jars(&self) -> Jars {
        self.had.values().copied().sum()
    }

    /// The jars of one lot that they said became something.
    #[must_use]
    pub fn became(&self, lot: i64, became: &str) -> Jars {
        self.told.get(&lot).into_iter().flatten().filter(|own| own.became == became).map(|own| own.jars).sum()
    }

    /// Jars of one lot nobody has said anything of; below nothing when they told of more than were handed out.
    #[must_use]
    pub fn unsaid(&self, lot: i64) -> Jars {
        let had = self.had.get(&lot).copied().unwrap_or(Jars::NONE);
        had - self.told.get(&lot).into_iter().flatten().map(|own| own.jars).sum::<Jars>()
    }

    /// Jars that may still be there: all they had, less those drunk, brought back or destroyed.
    #[must_use]
    pub fn left(&self) -> Jars {
        let gone: Jars = self.told.values().flatten().filter(|own| GONE.contains(&own.became.as_str())).map(|own| own.jars).sum();
        let (left, _) = (self.jars() - gone).short_and_over();
        left
    }

    /// Whether they said of every jar what became of it.
    #[must_use]
    pub fn has_said_all(&self) -> bool {
        self.had.keys().all(|lot| self.unsaid(*lot).short_and_over().0.is_none())
    }

    /// Every way to reach them, each with the link that dials, texts or writes when it is one.
    #[must_use]
    pub fn ways(&self) -> Vec<(String, Option<String>)> {
        let Some(own) = &self.household else { return Vec::new() };
        [&own.phone, &own.second_way]
            .into_iter()
            .filter(|way| !way.trim().is_empty())
            .map(|way| (way.clone(), reach::link_of(way)))
            .collect()
    }
}

/// One hand-out as a call-back needs it.
#[derive(Clone, Debug)]
pub struct Out {
    /// Its number.
    pub number: i64,
    /// The lot.
    pub lot: i64,
    /// When.
    pub at: Moment,
    /// How many jars.
    pub jars: Jars,
    /// How it is known.
    pub evidence: String,
    /// Who carried them, when that was somebody else.
    pub carried: String,
    /// The household; nothing for somebody unknown.
    pub household: Option<Household>,
}

/// Everybody to reach, in the order to ring them: those nobody has reached first, and of those whoever may have the most jars
/// left, the latest taken first.
#[must_use]
pub fn recipients(outs: &[Out], tries: &[Try], told: &[Telling]) -> Vec<Recipient> {
    let mut all: BTreeMap<To, Recipient> = BTreeMap::new();
    for out in outs {
        let to = out.household.as_ref().map_or(To::WalkIn(out.number), |own| To::Household(own.number));
        let own = all.entry(to).or_insert_with(|| Recipient {
            to,
            household: out.household.clone(),
            carried: BTreeSet::new(),
            had: BTreeMap::new(),
            last: out.at,
            evidence: BTreeSet::new(),
            tries: tries.iter().filter(|own| own.to == to).cloned().collect(),
            told: BTreeMap::new(),
        });
        let had = own.had.entry(out.lot).or_default();
        *had = *had + out.jars;
        own.last = own.last.max(out.at);
        own.evidence.insert(out.evidence.clone());
        own.carried.extend((!out.carried.is_empty()).then(|| out.carried.clone()));
    }
    for own in all.values_mut() {
        own.tries.sort_by_key(|own| (own.at, own.number));
        own.told = last_told(&own.tries, told);
    }
    let mut all: Vec<Recipient> = all.into_values().collect();
    all.sort_by_key(|own| {
        let reached = own.standing() == Standing::Reached;
        (reached, std::cmp::Reverse(own.left().in_half_gallons()), std::cmp::Reverse(own.last), own.to)
    });
    all
}

/// Of each lot what was told at the last try at which anything was told of it.
fn last_told(tries: &[Try], told: &[Telling]) -> BTreeMap<i64, Vec<Telling>> {
    let mut last: BTreeMap<i64, Vec<Telling>> = BTreeMap::new();
    for own in tries {
        let said = told.iter().filter(|telling| Some(telling.contact) == own.number);
        let mut now: BTreeMap<i64, Vec<Telling>> = BTreeMap::new();
        for telling in said {
            now.entry(telling.lot).or_default().push(telling.clone());
        }
        last.extend(now);
    }
    last
}

/// How far a call-back has come, in figures.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Progress {
    /// Households to reach.
    pub households: usize,
    /// Of them, reached.
    pub reached: usize,
    /// A message was left.
    pub messages: usize,
    /// Tried without an answer, or by a wrong number.
    pub unanswered: usize,
    /// Not tried yet.
    pub untried: usize,
    /// Households that said of every jar what became of it.
    pub said_all: usize,
    /// Hand-outs to somebody unknown.
    pub walk_ins: usize,
    /// Of them, those a notice was put up for.
    pub walk_ins_tried: usize,
}

impl Progress {
    /// Counts everybody.
    #[must_use]
    pub fn of(recipients: &[Recipient]) -> Progress {
        let mut all = Progress::default();
        for own in recipients {
            let standing = own.standing();
            if own.household.is_none() {
                all.walk_ins += 1;
                all.walk_ins_tried += usize::from(standing != Standing::NotTried);
                continue;
            }
            all.households += 1;
            all.said_all += usize::from(own.has_said_all());
            match standing {
                Standing::Reached => all.reached += 1,
                Standing::Message => all.messages += 1,
                Standing::NoAnswer | Standing::WrongNumber => all.unanswered += 1,
                Standing::NotTried => all.untried += 1,
            }
        }
        all
    }

    /// Everybody has been tried.
    #[must_use]
    pub const fn all_tried(&self) -> bool {
        self.untried == 0 && self.walk_ins_tried == self.walk_ins
    }

    /// In one sentence.
    #[must_use]
    pub fn says(&self) -> String {
        let mut said = format!("{} of {} reached", self.reached, super::callback::so_many(self.households, "household", "households"));
        for (count, words) in [(self.messages, "a message left"), (self.unanswered, "no answer"), (self.untried, "not tried yet")] {
            if count > 0 {
                said = format!("{said}, {count} {words}");
            }
        }
        if self.walk_ins > 0 {
            said = format!("{said}; {} to unknown walk-ins", super::callback::so_many(self.walk_ins, "hand-out", "hand-outs"));
        }
        said
    }
}

/// When the last of them was first tried, and when the last of them was reached; nothing while one is left.
#[must_use]
pub fn done_at(recipients: &[Recipient]) -> (Option<Moment>, Option<Moment>) {
    let households = || recipients.iter().filter(|own| own.household.is_some());
    let tried = households().map(|own| own.tries.first().map(|own| own.at)).collect::<Option<Vec<_>>>();
    let reached_at = |own: &Recipient| own.tries.iter().find(|own| own.outcome == "reached").map(|own| own.at);
    let reached = households().map(reached_at).collect::<Option<Vec<_>>>();
    (tried.and_then(|all| all.into_iter().max()), reached.and_then(|all| all.into_iter().max()))
}

/// Whether a deadline so many hours after the opening was kept, in words: nothing before it is over.
#[must_use]
pub fn deadline(opened: Moment, hours: i64, done: Option<Moment>, now: Moment, zone: Zone) -> String {
    let until = opened.plus_hours(hours);
    match done {
        Some(done) if done <= until => format!("done at {}, in time", zone.shown(done)),
        Some(done) => format!("done at {}, {} late", zone.shown(done), super::when::span_shown(done.minutes_since(until))),
        None if now <= until => format!("due by {}", zone.shown(until)),
        None => format!("was due by {}", zone.shown(until)),
    }
}
