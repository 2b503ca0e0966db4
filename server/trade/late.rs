//! A result that came when the milk was gone: how it stands against the milk, where to look first, and which jars are out although
//! their lot is kept back. It never says what made anybody ill, and a place to look is a hint and no diagnosis.

use super::{
    analytes::Analyte,
    findings::Finding,
    known::may_never_be,
    lab::{LabResult, Of},
    limits::Limits,
    standing::{self, Compared},
    tested::Tested,
    verdict::{Facts, Verdict, Word, judge},
    when::Moment,
};

/// How a result stands against the milk, the worst first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Stands {
    /// Something was found that may never be there.
    Never,
    /// It is over a limit.
    Over,
    /// It is neither.
    Not,
}

/// How a result stands under the limits of the sets followed on a day. Water and surfaces are no milk.
#[must_use]
pub fn stands(limits: &[&Limits], result: &LabResult) -> Stands {
    let none = Limits::default();
    if !matches!(result.of, Of::Lot(_) | Of::Cow(_)) {
        return Stands::Not;
    }
    let never = |own: &&Limits| may_never_be(own, result);
    if limits.iter().any(never) || (limits.is_empty() && may_never_be(&none, result)) {
        return Stands::Never;
    }
    let over = |own: &&Limits| {
        let about = own.of(&result.analyte);
        about.into_iter().any(|limit| standing::compare(limit, &result.figure, result.unit) == Compared::Over)
    };
    if limits.iter().any(over) { Stands::Over } else { Stands::Not }
}

/// Where to look first when a count ran high: a hint of common practice, and no diagnosis.
#[must_use]
pub fn look_first(analyte: &Analyte) -> &'static str {
    match analyte.name() {
        "coliforms" | "E. coli" => "Look first at wet or dirty udders, hands and the wash.",
        "somatic cells" => "Look first at the udders: a strip test of every quarter.",
        _ => "Look first at the cooling and at film in vessels, lids and hoses.",
    }
}

/// What speaks against a lot of which jars are out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Against {
    /// Why it is kept back.
    pub reason: String,
    /// Why its milk would be called back, in the word of a call-back.
    pub because: &'static str,
    /// The result that says so, if it is one.
    pub result: Option<i64>,
    /// Whether it is a germ or a drug, which nobody leaves out of a call-back in silence.
    pub found: bool,
}

/// What speaks against a lot, as far as it does for jars that are out too: a best-by day that is over calls nothing back, and a stop
/// on all milk says nothing of one lot.
#[must_use]
pub fn against(facts: &Facts, now: Moment) -> Option<Against> {
    against_by(&judge(facts, now), facts, now)
}

/// The same, where the lot was judged already.
#[must_use]
pub fn against_by(verdict: &Verdict, facts: &Facts, now: Moment) -> Option<Against> {
    let counts = |finding: &&Finding| match finding {
        Finding::BestBy { .. } => false,
        Finding::Held { what, .. } => what != "All milk",
        own => own.word() == Word::KeepBack,
    };
    let is_found = |finding: &&Finding| matches!(finding, Finding::Tested(Tested::Found { .. }));
    let own: Vec<&Finding> = verdict.findings.iter().filter(counts).collect();
    let direct = own.iter().copied().find(is_found).or_else(|| own.iter().copied().find(|own| !matches!(own, Finding::Parent { .. })));
    match direct {
        Some(finding) => Some(Against {
            reason: finding.reason(facts.zone),
            because: because(finding),
            result: result_of(finding, facts),
            found: is_found(&finding),
        }),
        // What it was made from may be kept back only because its day is over.
        None => facts.parents.iter().find_map(|parent| {
            let above = against(parent, now)?;
            Some(Against { reason: format!("It was made from {}: {}", parent.code, above.reason), ..above })
        }),
    }
}

/// The word a call-back has for it.
fn because(finding: &Finding) -> &'static str {
    match finding {
        Finding::Tested(Tested::Found { analyte, .. }) if analyte.is_drug() => "treated cow in the can",
        Finding::Tested(Tested::Found { analyte, .. }) if analyte.is_pathogen() => "pathogen found",
        Finding::Treated { .. } | Finding::TreatedDuring { .. } => "treated cow in the can",
        Finding::Tied { found, .. } => because(found),
        Finding::Chill(_) => "not cold in time",
        Finding::Warmed(_) => "fridge found warm",
        _ => "other",
    }
}

fn result_of(finding: &Finding, facts: &Facts) -> Option<i64> {
    let lab = &facts.lab;
    match finding {
        Finding::Tested(Tested::Found { analyte, in_what, drawn }) => {
            let all = lab.own.iter().chain(&lab.kin).chain(lab.cows.iter());
            let same = |own: &&LabResult| own.analyte == *analyte && own.of.to_string() == *in_what && facts.zone.day(own.drawn) == *drawn;
            all.filter(same).map(|own| own.number).max()
        }
        Finding::Tested(Tested::Own { number, .. }) => Some(*number),
        _ => None,
    }
}
