//! What the lab's results say about one lot: its own bottles, the farm's results in a row, and what is still waited for.
//!
//! A pathogen found is never freed, by whatever rule the farm follows and whatever a later bottle shows. A limit judged
//! one result at a time keeps its lot back; one judged by so many of the last so many asks the owner about a lot that is
//! over and keeps everything back once the rule would stop the farm; a rolling mean looks at the farm and not at the lot.

use super::{
    analytes::Analyte,
    lab::{Figure, LabResult, Of},
    limits::{Limit, Limits, Pattern},
    standing::{self, Compared, Mean, Plan, Rolling, Rung},
    when::{Day, Moment, Zone, day_shown},
    words::Word,
};

/// A bottle that is out, and what it is to be tested for; nothing named means everything.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Waiting {
    /// When it was drawn.
    pub drawn: Moment,
    /// What was asked for.
    pub asked: Vec<Analyte>,
}

/// What is known from the lab when a lot is judged.
#[derive(Clone, Debug, Default)]
pub struct Known {
    /// Results of the lot's own bottles.
    pub own: Vec<LabResult>,
    /// Results of the cows whose milk is in it.
    pub cows: Vec<LabResult>,
    /// When each cow's milk in it was milked.
    pub milked: Vec<(String, Moment)>,
    /// Results of every lot of the farm in the months before, this one's too.
    pub farm: std::sync::Arc<Vec<LabResult>>,
    /// Bottles of this lot whose results are not all in.
    pub waiting: Vec<Waiting>,
}

/// One thing the lab's results say.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Tested {
    /// Something that may not be there was found: a pathogen, or a drug.
    Found {
        /// What.
        analyte: Analyte,
        /// In what: this lot, or a cow whose milk is in it.
        in_what: String,
        /// When the bottle was drawn.
        drawn: Day,
    },
    /// The lot's own figure against a limit.
    Own {
        /// The limit.
        limit: Limit,
        /// What was found.
        found: Compared,
        /// The figure and the limit in one sentence.
        says: String,
        /// What the law has tested next at such a figure.
        calls_for: Option<Analyte>,
    },
    /// So many of the last so many.
    Row {
        /// The limit.
        limit: Limit,
        /// Where the farm stands.
        rung: Rung,
    },
    /// A rolling geometric mean.
    Mean {
        /// The limit.
        limit: Limit,
        /// Where the farm stands.
        mean: Rolling,
    },
    /// A class plan over several units of the lot.
    Plan {
        /// The limit.
        limit: Limit,
        /// What was found.
        plan: Plan,
    },
    /// A test every lot is held for.
    HeldFor {
        /// The limit.
        limit: Limit,
        /// Whether a bottle of it is out.
        is_out: bool,
    },
}

/// Everything the lab's results say about a lot at a moment.
#[must_use]
pub fn judge(limits: &Limits, known: &Known, zone: Zone, now: Moment) -> Vec<Tested> {
    let today = zone.day(now);
    let of_today = |result: &&LabResult| result.reported <= today;
    let own: Vec<LabResult> = known.own.iter().filter(of_today).cloned().collect();
    let farm: Vec<LabResult> = known.farm.iter().filter(of_today).cloned().collect();
    let mut found = positives(limits, &own, known, zone, today);
    for limit in &limits.0 {
        let results: Vec<&LabResult> = own.iter().filter(|result| limit.analyte.covers(&result.analyte)).collect();
        found.extend(one_limit(limit, &results, &farm, zone, today));
        if limit.held && results.is_empty() {
            let about = |asked: &Analyte| limit.analyte.covers(asked) || asked.covers(&limit.analyte);
            let is_out = known.waiting.iter().any(|waiting| waiting.asked.is_empty() || waiting.asked.iter().any(about));
            found.push(Tested::HeldFor { limit: limit.clone(), is_out });
        }
    }
    found
}

/// What was found that may never be there: in the lot itself, or in a cow from the day before her bottle was drawn until a
/// later bottle of hers is clear.
fn positives(limits: &Limits, own: &[LabResult], known: &Known, zone: Zone, today: Day) -> Vec<Tested> {
    let never = |result: &&LabResult| may_never_be(limits, result);
    let mut found: Vec<Tested> = own
        .iter()
        .filter(never)
        .map(|result| Tested::Found { analyte: result.analyte.clone(), in_what: result.of.to_string(), drawn: zone.day(result.drawn) })
        .collect();
    let cows: Vec<&LabResult> = known.cows.iter().filter(|result| result.reported <= today).collect();
    for result in cows.iter().copied().filter(never) {
        let Of::Cow(cow) = &result.of else { continue };
        let clear_since = |later: &&LabResult, milked: Moment| {
            let same = later.of == result.of && later.analyte == result.analyte && !later.is_found();
            same && later.drawn > result.drawn && later.drawn <= milked
        };
        let still = |milked: Moment| milked >= result.drawn.plus_hours(-24) && !cows.iter().any(|later| clear_since(later, milked));
        if known.milked.iter().any(|(own, milked)| own == cow && still(*milked)) {
            found.push(Tested::Found { analyte: result.analyte.clone(), in_what: cow.clone(), drawn: zone.day(result.drawn) });
        }
    }
    found.dedup();
    found
}

/// Whether something was found that may never be there: a pathogen, a drug, or something nobody here knows. A name slipped in
/// one letter must not let through what the lab called positive.
#[must_use]
pub fn may_never_be(limits: &Limits, result: &LabResult) -> bool {
    if !result.analyte.is_known() {
        return result.figure == Figure::Found;
    }
    (result.analyte.is_pathogen() || result.analyte.is_drug()) && result.is_found() && !within_a_count(limits, result)
}

/// Whether the law itself allows so many of a pathogen, as the French rule does of Listeria. Where it names no count, one is
/// too many.
fn within_a_count(limits: &Limits, result: &LabResult) -> bool {
    let counted = |limit: &&Limit| limit.amount.figure().is_some();
    limits
        .of(&result.analyte)
        .into_iter()
        .filter(counted)
        .any(|limit| standing::compare(limit, &result.figure, result.unit) == Compared::Within)
}

fn one_limit(limit: &Limit, own: &[&LabResult], farm: &[LabResult], zone: Zone, today: Day) -> Vec<Tested> {
    let mut found = Vec::new();
    match limit.pattern {
        Pattern::Single | Pattern::Ladder => {
            found.extend(own.iter().map(|result| Tested::Own {
                limit: limit.clone(),
                found: standing::compare(limit, &result.figure, result.unit),
                says: standing::reason(limit, &result.analyte, &result.figure, result.unit),
                calls_for: standing::calls_for(limit, &result.figure, result.unit).cloned(),
            }));
            found.extend(standing::ladder(limit, farm, zone).pop().map(|(_, rung)| Tested::Row { limit: limit.clone(), rung }));
        }
        Pattern::Mean { .. } => {
            found.extend(standing::rolling(limit, farm, today, zone).map(|mean| Tested::Mean { limit: limit.clone(), mean }));
        }
        Pattern::Plan { .. } => {
            let lot = own.iter().find_map(|result| if let Of::Lot(code) = &result.of { Some(code.clone()) } else { None });
            let results: Vec<LabResult> = own.iter().map(|result| (*result).clone()).collect();
            let plan = lot.and_then(|lot| standing::plan(limit, &lot, &results));
            found.extend(plan.map(|plan| Tested::Plan { limit: limit.clone(), plan }));
        }
    }
    found
}

impl Tested {
    /// What this says of the lot.
    #[must_use]
    pub fn word(&self) -> Word {
        match self {
            Tested::Found { .. } => Word::KeepBack,
            Tested::Own { limit, found, .. } => match (found, &limit.pattern) {
                (Compared::Within, _) => Word::CanGo,
                (Compared::Over, Pattern::Ladder) => Word::Wait,
                (Compared::Over, _) => Word::KeepBack,
                (Compared::CantTell(_), _) => Word::CantTell,
            },
            Tested::Row { rung, .. } => match rung {
                Rung::Fine | Rung::Notice { .. } => Word::CanGo,
                Rung::Action { .. } => Word::KeepBack,
            },
            Tested::Mean { mean, .. } => match mean.mean {
                Mean::Met(_) => Word::CanGo,
                Mean::NotMet(_) => Word::KeepBack,
                Mean::TooFew { .. } | Mean::CantTell(_) => Word::CantTell,
            },
            Tested::Plan { plan, .. } => match plan {
                Plan::Acceptable => Word::CanGo,
                Plan::Unsatisfactory(_) => Word::KeepBack,
                Plan::TooFew { .. } | Plan::CantTell(_) => Word::CantTell,
            },
            Tested::HeldFor { is_out: true, .. } => Word::Wait,
            Tested::HeldFor { is_out: false, .. } => Word::CantTell,
        }
    }

    /// What it is about, so that a decision can name it.
    #[must_use]
    pub fn topic(&self) -> String {
        match self {
            Tested::Found { analyte, in_what, .. } => format!("Test: {analyte} in {in_what}"),
            Tested::Own { limit, .. } | Tested::Plan { limit, .. } => format!("Test: {}", limit.analyte),
            Tested::Row { limit, .. } => format!("Tests in a row: {}", limit.analyte),
            Tested::Mean { limit, .. } => format!("Mean of tests: {}", limit.analyte),
            Tested::HeldFor { limit, .. } => format!("Held for a test: {}", limit.analyte),
        }
    }

    /// The reason, in one sentence.
    #[must_use]
    pub fn reason(&self) -> String {
        match self {
            Tested::Found { analyte, in_what, drawn } => {
                format!("{} was found in {in_what}, in the bottle drawn {}.", analyte.spoken(), day_shown(*drawn))
            }
            Tested::Own { says, calls_for, .. } => {
                let next = calls_for.as_ref().map_or_else(String::new, |next| format!(" So high a figure calls for a test for {next}."));
                format!("{says}{next}")
            }
            Tested::Row { limit, rung } => rung.reason(limit),
            Tested::Mean { limit, mean } => mean.reason(limit),
            Tested::Plan { limit, plan } => plan.reason(limit),
            Tested::HeldFor { limit, is_out: true } => {
                format!("Its bottle is out to be tested for {}, and the result is not in.", limit.analyte)
            }
            Tested::HeldFor { limit, is_out: false } => {
                format!("Every lot is held until its test for {} is clear, and no bottle of this one is written down.", limit.analyte)
            }
        }
    }

    /// The next thing to do.
    #[must_use]
    pub fn next(&self) -> String {
        match (self, self.word()) {
            (_, Word::CanGo) => "Nothing.",
            (Tested::Found { analyte, .. }, _) if analyte.is_drug() => {
                "Keep it back, find out whose milk it was, and ask the vet. Mixing never makes it right."
            }
            (Tested::Found { analyte, .. }, _) if !analyte.is_known() => {
                "Keep it back. No test of this name is known here: correct the name if it is a slip, and ask the lab what it means."
            }
            (Tested::Found { .. }, _) => "Keep it back for good, stop what hangs together with it, and call the health department now.",
            (Tested::Own { limit, .. }, Word::Wait) if limit.pattern == Pattern::Ladder => {
                "One over is no notice by this rule. Look for the cause, test again, and decide with a reason whether it goes."
            }
            (Tested::Own { .. } | Tested::Plan { .. }, Word::CantTell) => "Ask the lab for a figure that can be held against the limit.",
            (Tested::Row { .. }, _) => "Ask the department before the next jar goes: by this rule handing out stops.",
            (Tested::Mean { .. }, Word::CantTell) => "Have the samples of the month tested.",
            (Tested::HeldFor { is_out: true, .. }, _) => "Wait for the lab, then write the result down.",
            (Tested::HeldFor { .. }, _) => "Draw a bottle and have it tested.",
            _ => "Keep it back, look for the cause, and test again.",
        }
        .to_owned()
    }
}
