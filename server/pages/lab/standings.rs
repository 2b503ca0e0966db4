//! Where the farm stands against each limit of its rules, and whether it is tested as often as they ask. It owns no door.

use crate::{
    store::lab::RuleSet,
    trade::{
        analytes::Analyte,
        capital,
        frequency::Frequency,
        kept::{Kept, standing as how_often},
        lab::{LabResult, Of},
        limits::{Limit, Limits, Pattern},
        retests::days_tested,
        standing::{self, Compared, Mean, Plan, Rung},
        when::{Day, Zone},
    },
};

/// One limit, or one test that a rule asks for.
pub(super) struct Standing {
    /// What it is about.
    pub(super) name: String,
    /// The limit in words.
    pub(super) limit: String,
    /// How the farm stands against it.
    pub(super) says: String,
    /// Whether that is over.
    pub(super) is_over: bool,
    /// How often it is to be tested: a word, and the sentence.
    pub(super) often: Vec<(String, String)>,
}

/// The standings of one rule set: its limits in their own order, then what it has tested without a limit.
pub(super) fn standings(set: &RuleSet, results: &[LabResult], zone: Zone, since: Day, today: Day) -> Vec<Standing> {
    let often = |analyte: &Analyte| -> Vec<(String, String)> {
        set.tests.0.iter().filter_map(|own| tested((own, &set.limits), analyte, results, zone, since, today)).collect()
    };
    let mut all: Vec<Standing> = set
        .limits
        .0
        .iter()
        .map(|limit| {
            let (says, is_over) = stands(limit, results, zone, today);
            Standing { name: limit.analyte.spoken(), limit: limit.spoken(), says, is_over, often: often(&limit.analyte) }
        })
        .collect();
    let mut named: Vec<Analyte> = set.limits.0.iter().map(|limit| limit.analyte.clone()).collect();
    for subject in set.tests.0.iter().flat_map(|own| &own.subjects) {
        let analyte = Analyte::parse(subject);
        if analyte.is_known() && !named.contains(&analyte) {
            let says = String::new();
            all.push(Standing {
                name: analyte.spoken(),
                limit: "no limit is written down".to_owned(),
                says,
                is_over: false,
                often: often(&analyte),
            });
            named.push(analyte);
        }
    }
    all
}

/// How the farm stands against one limit, and whether that is over.
fn stands(limit: &Limit, results: &[LabResult], zone: Zone, today: Day) -> (String, bool) {
    let own: Vec<&LabResult> =
        results.iter().filter(|result| matches!(result.of, Of::Lot(_)) && limit.analyte.covers(&result.analyte)).collect();
    let Some(last) = own.last() else { return (String::from("No result of a lot is written down."), false) };
    let compared = standing::compare(limit, &last.figure, last.unit);
    let newest = format!("The newest, of {}: {}", last.of, standing::reason(limit, &last.analyte, &last.figure, last.unit));
    match limit.pattern {
        Pattern::Single => (newest, compared == Compared::Over),
        Pattern::Ladder => match standing::last_rung(limit, results, zone) {
            Some(rung) => (rung.reason(limit), rung != Rung::Fine),
            None => (newest, compared == Compared::Over),
        },
        Pattern::Mean { .. } => standing::rolling(limit, results, today, zone)
            .map_or((newest, false), |mean| (mean.reason(limit), matches!(mean.mean, Mean::NotMet(_)))),
        Pattern::Plan { .. } => {
            let lot = last.of.to_string();
            let plan = standing::plan(limit, &lot, results);
            plan.map_or((newest, false), |plan| (format!("Of {lot}: {}", plan.reason(limit)), matches!(plan, Plan::Unsatisfactory(_))))
        }
    }
}

/// Whether one thing is tested as often as a rule asks; nothing where the rule is about something else.
fn tested(
    (own, limits): (&Frequency, &Limits),
    analyte: &Analyte,
    results: &[LabResult],
    zone: Zone,
    since: Day,
    today: Day,
) -> Option<(String, String)> {
    let subject = own.subjects.iter().find(|subject| Analyte::parse(subject) == *analyte)?;
    if own.each_cow {
        return Some(("each cow".to_owned(), format!("{}, for each cow by herself.", own.how)));
    }
    let done = days_tested(limits, analyte, results, zone, |of| matches!(of, Of::Lot(_) | Of::Water));
    let word = match how_often(own, &done, since, today) {
        Kept::Met { .. } => "met",
        Kept::Due { .. } => "due",
        Kept::Overdue { .. } => "overdue",
        Kept::NotKnown => "not known",
    };
    let says = capital(&own.reason(subject, &done, since, today));
    Some((word.to_owned(), format!("{says}.")))
}
