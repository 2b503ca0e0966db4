//! What the owner decides about a lot of which the records say Wait or Can't tell. It is one person's answer to exactly what
//! was known: the same finding, in the same words. Another bottle, another warming or another rule is another question.

use super::{
    findings::Finding,
    when::{Moment, Zone},
};

/// What the owner decided.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Decision {
    /// When.
    pub at: Moment,
    /// Who.
    pub by: String,
    /// What it was about, topic by topic: nothing else is covered.
    pub over: Vec<String>,
    /// The findings as they stood then, a line each.
    pub facts: String,
    /// Why.
    pub reason: String,
}

impl Decision {
    /// Whether it is about this finding, and the finding still says what it said then.
    fn covers(&self, finding: &Finding, zone: Zone) -> bool {
        self.over.contains(&finding.topic()) && self.facts.lines().any(|line| finding.is_line(line, zone))
    }
}

/// A finding as it stands after what the owner decided about it. A reading that comes later and is too warm is no longer what
/// was decided about.
pub(super) fn decided(finding: Finding, decisions: &[Decision], zone: Zone, now: Moment) -> Finding {
    let own = decisions.iter().filter(|decision| decision.at <= now && decision.covers(&finding, zone)).max_by_key(|decision| decision.at);
    match own.filter(|_| finding.may_be_decided()) {
        Some(own) => Finding::Decided { found: Box::new(finding), by: own.by.clone(), at: own.at, reason: own.reason.clone() },
        None => finding,
    }
}
