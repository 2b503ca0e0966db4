//! May this lot go out? Four words, the worst part wins, and what is missing is never “can go”.
//!
//! One blank is not missing: whether the milker was well is asked, and only a “no” counts. No rule known here asks for it,
//! and a farm that never writes it down would never see “can go”.
//!
//! Each finding carries the facts that justify it, so that a verdict can be shown to a child in one sentence and to an
//! inspector in full, and frozen into a hand-out as it stood.

pub use super::decisions::Decision;
pub use super::findings::{Finding, Word};
pub use super::poured::CowsPart;

use super::{
    analytes::Analyte,
    chill::{self, MilkingTimes, Reading},
    decisions::decided,
    herd::ColostrumRule,
    lab::LabResult,
    limits::Limits,
    poured,
    rules::{Channel, Channels, CountedFrom},
    steps::Steps,
    strips::Score,
    tested::{self, Known},
    warm::{HouseRule, WarmFridge, Warmed},
    when::{Day, Moment, Zone},
};
use chrono::Days;
use std::{borrow::Cow, sync::Arc};

/// The rules a lot is judged by: those of the day it was filled.
#[derive(Clone, Debug, Default)]
pub struct Rules {
    /// What they are called, with their citation.
    pub source: String,
    /// The chill steps; none means not known.
    pub steps: Steps,
    /// The days and milkings after calving.
    pub fresh: ColostrumRule,
    /// The score of a strip test that keeps a cow out, where the rule names one.
    pub strip_fails: Option<Score>,
    /// The best-by days, and what they count from.
    pub best_by: Option<(i64, CountedFrom)>,
    /// The ways of handing out it allows, as far as they are known.
    pub channels: Channels,
    /// The limits of what the lab finds.
    pub limits: Limits,
    /// What it has tested of every cow by herself.
    pub each_cow: Vec<Analyte>,
    /// Parts of the set that are written down and cannot be read: they are never taken for not being there.
    pub unread: Vec<String>,
}

impl Rules {
    /// The last day of a jar by these rules, if they name one.
    #[must_use]
    pub fn last_day(&self, filled: Moment, oldest: Moment, zone: Zone) -> Option<Day> {
        let (days, from) = self.best_by?;
        let first = match from {
            CountedFrom::Filling => filled,
            CountedFrom::OldestMilking | CountedFrom::Production => oldest,
        };
        zone.day(first).checked_add_days(Days::new(u64::try_from(days).ok()?))
    }

    fn names(&self, way: Channel) -> bool {
        self.channels.name(way)
    }
}

/// The rules of one day: the set everything is judged by, and those that stand beside it for other ways of handing out.
#[derive(Clone, Debug, Default)]
pub struct RulesOfDay {
    /// The set for everything no other set names.
    pub base: Rules,
    /// The sets beside it, newest first.
    pub beside: Vec<Rules>,
    /// The ways the farm's own households are reached, whether or not a set names them.
    pub used: Vec<Channel>,
}

impl RulesOfDay {
    /// The set that is asked about one way: the newest that names it, and otherwise the one everything is judged by.
    #[must_use]
    pub fn for_way(&self, way: Channel) -> &Rules {
        self.beside.iter().find(|rules| rules.names(way)).unwrap_or(&self.base)
    }

    /// The set for one way, or the base where no way is asked about.
    #[must_use]
    pub fn asked(&self, way: Option<Channel>) -> &Rules {
        way.map_or(&self.base, |way| self.for_way(way))
    }

    /// Every way that a set of the day names or a household is reached by, in the order in which the ways are listed.
    #[must_use]
    pub fn ways(&self) -> Vec<Channel> {
        let named = |way: &Channel| self.used.contains(way) || self.beside.iter().chain([&self.base]).any(|rules| rules.names(*way));
        Channel::WORDS.into_iter().map(|(way, _)| way).filter(named).collect()
    }
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

/// A hold, from when it was made until it is lifted.
#[derive(Clone, Debug)]
pub struct Hold {
    /// What is held: this lot, a cow in it, its vessel or everything.
    pub what: String,
    /// Why.
    pub reason: String,
    /// Since when.
    pub at: Moment,
    /// When it was lifted, if it was.
    pub lifted: Option<Moment>,
}

impl Hold {
    /// Whether it stands at a moment.
    #[must_use]
    pub fn stands(&self, at: Moment) -> bool {
        self.at <= at && self.lifted.is_none_or(|lifted| lifted > at)
    }
}

/// All that is known of a lot when it is judged.
#[derive(Clone, Debug)]
pub struct Facts {
    /// Its code.
    pub code: String,
    /// When it was filled.
    pub filled: Moment,
    /// The milkings in it, oldest first. Lots of one milking share it.
    pub milkings: Vec<Arc<Milking>>,
    /// The chill readings of it.
    pub readings: Vec<Reading>,
    /// The holds that touch it.
    pub holds: Vec<Hold>,
    /// The lots it was made from, each judged by the rules of its own day and for the same way.
    pub parents: Vec<Facts>,
    /// The rules of its day.
    pub rules: RulesOfDay,
    /// What is known from the lab.
    pub lab: Known,
    /// What the owner decided about it.
    pub decisions: Vec<Decision>,
    /// Other milkings that went into a vessel of this milk since its last clean break before this milk did.
    pub tied: Vec<Milking>,
    /// The vessels through which those went.
    pub shared: Vec<String>,
    /// The fridges found warm that it stood in.
    pub warmed: Vec<WarmFridge>,
    /// What the farm does with jars of a fridge found warm.
    pub house: HouseRule,
    /// What is written down about it and cannot be read; it is never taken for not being there.
    pub unread: Vec<String>,
    /// The farm's clock.
    pub zone: Zone,
}

impl Facts {
    /// The oldest milk in it.
    #[must_use]
    pub fn oldest(&self) -> Moment {
        let own = self.milkings.iter().map(|milking| milking.times.start);
        own.chain(self.parents.iter().map(Facts::oldest)).min().unwrap_or(self.filled)
    }

    /// The last day it is good for by the rule, if a rule or the owner names one.
    #[must_use]
    pub fn best_by(&self) -> Option<Day> {
        self.last_day(None)
    }

    /// The last day for one way, or for none in particular: never later than that of anything it was made from.
    #[must_use]
    pub fn last_day(&self, way: Option<Channel>) -> Option<Day> {
        let own = self.rules.asked(way).last_day(self.filled, self.oldest(), self.zone);
        own.into_iter().chain(self.parents.iter().filter_map(|parent| parent.last_day(way))).min()
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

    /// Everything the owner could decide about; nothing where something stands that nobody may free.
    #[must_use]
    pub fn to_decide(&self) -> Vec<Finding> {
        let open = self.findings.iter().filter(|finding| finding.word() != Word::CanGo);
        let all: Option<Vec<Finding>> = open.map(|finding| finding.may_be_decided().then(|| finding.clone())).collect();
        all.unwrap_or_default()
    }

    /// The same verdict with more found, the worst first.
    #[must_use]
    pub(super) fn and(mut self, more: Vec<Finding>) -> Verdict {
        self.findings.extend(more);
        self.findings.sort_by_key(worst_first);
        self
    }

    /// The same of a lot of which no jar is left: a best-by day that is over by now says nothing of jars that went before it.
    #[must_use]
    pub fn of_what_is_gone(mut self) -> Verdict {
        self.findings.retain(|finding| !matches!(finding, Finding::BestBy { over: true, .. }));
        self
    }

    /// What the owner decided, if anything stands only by that.
    #[must_use]
    pub fn decided(&self) -> Vec<String> {
        let own = self.findings.iter().filter(|finding| matches!(finding, Finding::Decided { .. }));
        own.map(|finding| finding.reason(self.zone)).collect()
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
        let lines = self.findings.iter().map(|finding| finding.line(self.zone));
        // A hand-out's cell is finite: what is cut is the end of the findings, which are the least of them, never the rules.
        let found: String = lines.collect::<Vec<_>>().join("\n").chars().take(3200).collect();
        format!("{found}\nRules: {}", self.rules.chars().take(700).collect::<String>())
    }
}

/// What was worked out for one lot and holds for the next: what the cows of a milking brought into it, and where the farm's results
/// stand. All lots of one are judged at the same moment.
#[derive(Debug, Default)]
struct Seen {
    brought: Vec<Brought>,
    tested: tested::Seen,
}

/// What the cows of a milking brought into every lot of it that is judged by the same rules.
#[derive(Debug)]
struct Brought {
    milking: Arc<Milking>,
    cows: Arc<Vec<LabResult>>,
    fresh: ColostrumRule,
    strip_fails: Option<Score>,
    limits: Limits,
    findings: Vec<Finding>,
}

impl Seen {
    /// What the cows of a milking of this lot brought into it.
    fn brought(&mut self, milking: &Arc<Milking>, rules: &Rules, facts: &Facts, now: Moment) -> Vec<Finding> {
        let worked_out = || milking.cows.iter().flat_map(|part| poured::judge(part, &asked(milking, rules, facts, now))).collect();
        // A bottle of the lot itself may clear what a cow brought.
        if !facts.lab.own.is_empty() {
            return worked_out();
        }
        let same = |own: &&Brought| {
            Arc::ptr_eq(&own.milking, milking)
                && Arc::ptr_eq(&own.cows, &facts.lab.cows)
                && (own.fresh, own.strip_fails) == (rules.fresh, rules.strip_fails)
                && own.limits == rules.limits
        };
        if let Some(own) = self.brought.iter().find(same) {
            return own.findings.clone();
        }
        let findings: Vec<Finding> = worked_out();
        let (milking, cows, limits) = (Arc::clone(milking), Arc::clone(&facts.lab.cows), rules.limits.clone());
        let (fresh, strip_fails) = (rules.fresh, rules.strip_fails);
        self.brought.push(Brought { milking, cows, fresh, strip_fails, limits, findings: findings.clone() });
        findings
    }
}

/// Judges lots one after another at a moment: each verdict is the one [`judge`] gives, and what lots share is worked out once.
#[derive(Debug)]
pub struct Judging {
    now: Moment,
    seen: Seen,
}

impl Judging {
    /// Whoever judges at a moment, and has seen no lot yet.
    #[must_use]
    pub fn at(now: Moment) -> Judging {
        Judging { now, seen: Seen::default() }
    }

    /// A lot, whatever way it is to go.
    #[must_use]
    pub fn lot(&mut self, facts: &Facts) -> Verdict {
        under(facts, None, self.now, &mut self.seen)
    }

    /// A lot for one way of handing it out, by the rules that way stands under.
    #[must_use]
    pub fn lot_for(&mut self, facts: &Facts, way: Channel) -> Verdict {
        under(facts, Some(way), self.now, &mut self.seen)
    }
}

/// Judges a lot at a moment, whatever way it is to go.
#[must_use]
pub fn judge(facts: &Facts, now: Moment) -> Verdict {
    Judging::at(now).lot(facts)
}

/// Judges a lot at a moment for one way of handing it out, by the rules that way stands under.
#[must_use]
pub fn judge_for(facts: &Facts, way: Channel, now: Moment) -> Verdict {
    Judging::at(now).lot_for(facts, way)
}

fn under(facts: &Facts, way: Option<Channel>, now: Moment, seen: &mut Seen) -> Verdict {
    let rules = facts.rules.asked(way);
    let mut findings: Vec<Finding> = facts.unread.iter().chain(&rules.unread).map(|says| Finding::Unread { says: says.clone() }).collect();
    for hold in facts.holds.iter().filter(|hold| hold.stands(now)) {
        findings.push(Finding::Held { what: hold.what.clone(), reason: hold.reason.clone() });
    }
    for milking in &facts.milkings {
        if milking.well == Some(false) {
            findings.push(Finding::MilkerIll { session: milking.session.clone() });
        }
        if milking.cows.is_empty() {
            findings.push(Finding::NoCows { session: milking.session.clone() });
        }
        findings.extend(seen.brought(milking, rules, facts, now));
    }
    for parent in &facts.parents {
        let verdict = under(&as_poured(parent, facts.filled), way, now, seen);
        findings.push(Finding::Parent { code: parent.code.clone(), word: verdict.word(), reason: verdict.reason() });
    }
    findings.extend(facts.tied.iter().flat_map(|milking| tied(milking, rules, facts, now)));
    findings.extend(chilled(facts, rules, now));
    let known = facts.warmed.iter().filter(|fridge| fridge.found <= now);
    findings.extend(known.map(|fridge| Finding::Warmed(Warmed { fridge: fridge.clone(), rule: facts.house.beside(&rules.steps) })));
    let tested = tested::judge(&rules.limits, &rules.each_cow, &facts.lab, (facts.zone, now), &mut seen.tested);
    findings.extend(tested.into_iter().map(Finding::Tested));
    if let Some(day) = facts.last_day(way) {
        findings.push(Finding::BestBy { day, over: facts.zone.day(now) > day });
    }
    if let Some(way) = way {
        findings.push(Finding::Way { way, allowed: rules.channels.clone() });
    }
    let mut findings: Vec<Finding> = findings.into_iter().map(|finding| decided(finding, &facts.decisions, facts.zone, now)).collect();
    findings.sort_by_key(worst_first);
    Verdict { findings, zone: facts.zone, rules: rules.source.clone() }
}

/// A lot as it was when another was made of it. A fridge that was cold after that never held what is in the other.
fn as_poured(parent: &Facts, made: Moment) -> Cow<'_, Facts> {
    if parent.warmed.iter().all(|fridge| fridge.may_have_held_at(made)) {
        return Cow::Borrowed(parent);
    }
    let warmed = parent.warmed.iter().filter(|fridge| fridge.may_have_held_at(made)).cloned().collect();
    Cow::Owned(Facts { warmed, ..parent.clone() })
}

/// What the milk of another milking leaves behind in a vessel nobody washed and sanitised: what may not be in milk at all.
fn tied(milking: &Milking, rules: &Rules, facts: &Facts, now: Moment) -> Vec<Finding> {
    let ill = (milking.well == Some(false)).then(|| Finding::MilkerIll { session: milking.session.clone() });
    let cows = milking.cows.iter().flat_map(|part| poured::judge(part, &asked(milking, rules, facts, now)));
    let left = cows.chain(ill).filter(Finding::is_left_behind);
    left.map(|found| Finding::Tied { session: milking.session.clone(), found: Box::new(found) }).collect()
}

/// The chill of milk from the cow by every step, and of milk poured over by the holding limit alone: the cooling of what it
/// was made from speaks through those lots.
fn chilled(facts: &Facts, rules: &Rules, now: Moment) -> Option<Finding> {
    match (facts.milkings.is_empty(), facts.parents.is_empty()) {
        (true, true) => Some(Finding::NoSource),
        (true, false) => chill::judge_made(&rules.steps.0, facts.filled, &facts.readings, now).map(Finding::Chill),
        (false, _) => {
            let times: Vec<MilkingTimes> = facts.milkings.iter().map(|milking| milking.times).collect();
            Some(Finding::Chill(chill::judge(&rules.steps.0, &times, &facts.readings, now)))
        }
    }
}

/// The worst first; among equals the chill, because it is what a person can do something about. What only a decision frees
/// stands before what is in order by itself, and is never left out of what is frozen.
fn worst_first(finding: &Finding) -> (std::cmp::Reverse<Word>, u8) {
    let order = match finding {
        Finding::Decided { .. } => 0,
        Finding::Chill(_) => 1,
        _ => 2,
    };
    (std::cmp::Reverse(finding.word()), order)
}

fn asked<'a>(milking: &'a Milking, rules: &'a Rules, facts: &'a Facts, now: Moment) -> poured::Asked<'a> {
    poured::Asked {
        session: &milking.session,
        times: milking.times,
        fresh: rules.fresh,
        strip_fails: rules.strip_fails.unwrap_or(Score::USUAL),
        limits: &rules.limits,
        lab: &facts.lab,
        zone: facts.zone,
        now,
    }
}
