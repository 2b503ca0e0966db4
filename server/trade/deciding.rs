//! What there is for the owner to decide about a lot, before it is decided.

use super::{
    channels::Channel,
    findings::Finding,
    verdict::{Facts, Verdict, Word, judge, judge_for},
    when::{Moment, Zone},
};

/// What there is to decide about a lot: what stands against it whatever way it goes, which is decided together, and what
/// stands only against one way, which is decided each for itself.
#[derive(Clone, Debug)]
pub struct Open {
    /// The lot's own verdict.
    pub verdict: Verdict,
    /// What stands against it whatever way it goes.
    pub always: Vec<Finding>,
    /// What stands only against single ways, each with the ways it would free.
    pub only: Vec<(Finding, Vec<Channel>)>,
    zone: Zone,
}

impl Open {
    /// Looks for it at a moment. A way on which something stands that nobody may free is left out.
    #[must_use]
    pub fn of(facts: &Facts, now: Moment) -> Open {
        let verdict = judge(facts, now);
        let always = verdict.to_decide();
        let mut only: Vec<(Finding, Vec<Channel>)> = Vec::new();
        for way in facts.rules.ways() {
            for finding in judge_for(facts, way, now).to_decide() {
                if always.contains(&finding) {
                    continue;
                }
                match only.iter_mut().find(|(own, _)| *own == finding) {
                    Some((_, ways)) => ways.push(way),
                    None => only.push((finding, vec![way])),
                }
            }
        }
        Open { verdict, always, only, zone: facts.zone }
    }

    /// Whether there is nothing to decide.
    #[must_use]
    pub fn is_nothing(&self) -> bool {
        self.always.is_empty() && self.only.is_empty()
    }

    /// Everything it says, for knowing whether a form that was opened before still asks the same.
    #[must_use]
    pub fn says(&self) -> String {
        let only = self.only.iter().map(|(finding, _)| finding.line(self.zone));
        only.chain([self.verdict.facts()]).collect::<Vec<_>>().join("\n")
    }

    /// What is decided when these lines are chosen beside what stands against every way; nothing when nothing is. Two ways may
    /// stand under limits of their own on one thing, so a line is chosen and not a topic.
    #[must_use]
    pub fn choose<'a>(&self, chosen: impl Iterator<Item = &'a str>) -> Option<Chosen> {
        let chosen: Vec<&str> = chosen.collect();
        let only = self.only.iter().map(|(finding, _)| finding).filter(|finding| chosen.contains(&finding.line(self.zone).as_str()));
        let more: Vec<Finding> = only.cloned().collect();
        let mut all: Vec<&Finding> = self.always.iter().chain(&more).collect();
        all.sort_by_key(|finding| std::cmp::Reverse(finding.word()));
        let worst = all.first()?;
        let (word, because) = (worst.word(), worst.reason(self.zone));
        let over = all.iter().map(|finding| finding.topic()).collect();
        Some(Chosen { over, word, because, facts: self.verdict.clone().and(more).facts() })
    }
}

/// What one decision is about, ready to be written down.
#[derive(Clone, Debug)]
pub struct Chosen {
    /// Topic by topic.
    pub over: Vec<String>,
    /// The worst word among them.
    pub word: Word,
    /// Its reason.
    pub because: String,
    /// Everything known then.
    pub facts: String,
}
