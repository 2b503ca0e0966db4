//! What the lab's results say about one lot: its own bottles, the farm's results in a row, and what is still waited for.
//!
//! A pathogen found is never freed, by whatever rule the farm follows and whatever a later bottle shows. A limit judged
//! one result at a time keeps its lot back; one judged by so many of the last so many asks the owner about a lot that is
//! over and keeps everything back once the rule would stop the farm; a rolling mean looks at the farm and not at the lot.

pub use super::known::{Bottle, Known, may_never_be};

use super::{
    analytes::Analyte,
    known::{has_no_limit, is_clear_of_drugs, is_cleared, no_limit},
    lab::{Figure, LabResult, Of},
    limits::{Limit, Limits, Pattern},
    standing::{self, Compared, Mean, Plan, Rolling, Rung},
    when::{Day, Moment, Zone, day_shown},
    words::Word,
};
use std::sync::Arc;

/// One thing the lab's results say.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Tested {
    /// Something that may not be there was found: a pathogen, or a drug.
    Found {
        /// What.
        analyte: Analyte,
        /// In what: this lot, one with the same milk, or a cow whose milk is in it.
        in_what: String,
        /// When the bottle was drawn.
        drawn: Day,
    },
    /// The lot's own figure against a limit, or that of a cow in it where the rule has each cow tested.
    Own {
        /// The limit.
        limit: Limit,
        /// The number of the result.
        number: i64,
        /// What was found.
        found: Compared,
        /// The figure and the limit in one sentence.
        says: String,
        /// What the law has tested next at such a figure.
        calls_for: Option<Analyte>,
    },
    /// A figure that no limit is known for: under a name nobody knows here, or where the place's limits are not known.
    NoLimit {
        /// What was tested for.
        analyte: Analyte,
        /// The number of the result.
        number: i64,
        /// Whether it is of the lot itself, and not of a cow in it.
        of_lot: bool,
        /// The result in words.
        says: String,
    },
    /// So many of the last so many.
    Row {
        /// The limit.
        limit: Limit,
        /// Where the farm stands.
        rung: Rung,
        /// Whether it would stop the milk if what cannot be held against the limit is over it.
        perhaps_stopped: bool,
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
        /// The figures behind it, so that another one is another finding.
        figures: String,
    },
    /// A test every lot is held for.
    HeldFor {
        /// The limit.
        limit: Limit,
        /// Whether a bottle of it is out.
        is_out: bool,
    },
}

/// How the farm's results stand against a limit, whichever lot is asked about.
#[derive(Clone, Debug)]
enum Stands {
    /// On the ladder; and whether what cannot be held against the limit might stop the milk.
    Ladder(Option<Rung>, bool),
    /// As a mean over months.
    Mean(Option<Rolling>),
}

/// What was worked out for lots before, and holds for the next: how the farm's results stand against a limit, and what is said of a lot
/// that has no bottle of its own or of its kin, which is the same of every lot with the same cows' milk in it.
#[derive(Debug, Default)]
pub struct Seen {
    farm: Vec<(Arc<Vec<LabResult>>, Limit, Stands)>,
    untested: Vec<(Known, Limits, Vec<Analyte>, Vec<Tested>)>,
}

impl Seen {
    fn stands(&mut self, limit: &Limit, farm: &Arc<Vec<LabResult>>, zone: Zone, today: Day) -> Stands {
        if let Some((_, _, stands)) = self.farm.iter().find(|(own, of, _)| Arc::ptr_eq(own, farm) && of == limit) {
            return stands.clone();
        }
        let stands = if let Pattern::Mean { .. } = limit.pattern {
            Stands::Mean(standing::rolling(limit, farm, today, zone))
        } else {
            let at_worst = standing::last_rung_at_worst(limit, farm, zone);
            Stands::Ladder(standing::last_rung(limit, farm, zone), matches!(at_worst, Some(Rung::Action { .. })))
        };
        self.farm.push((Arc::clone(farm), limit.clone(), stands.clone()));
        stands
    }
}

/// Everything the lab's results say about a lot at a moment. `each_cow` is what the rule has tested of every cow by herself; all lots
/// of one `seen` are asked about at the same moment.
#[must_use]
pub fn judge(limits: &Limits, each_cow: &[Analyte], known: &Known, when: (Zone, Moment), seen: &mut Seen) -> Vec<Tested> {
    if known.has_bottles() {
        return judge_one(limits, each_cow, known, when, seen);
    }
    let same = |(own, under, of_each, _): &&(Known, Limits, Vec<Analyte>, Vec<Tested>)| {
        own.is_of_the_same_milk(known) && under == limits && of_each == each_cow
    };
    if let Some((.., found)) = seen.untested.iter().rev().find(same) {
        return found.clone();
    }
    let found = judge_one(limits, each_cow, known, when, seen);
    seen.untested.push((known.clone(), limits.clone(), each_cow.to_vec(), found.clone()));
    found
}

fn judge_one(limits: &Limits, each_cow: &[Analyte], known: &Known, (zone, now): (Zone, Moment), seen: &mut Seen) -> Vec<Tested> {
    let known = known.by(zone, now);
    let mut found = positives(limits, &known, zone);
    for limit in &limits.0 {
        let tested: Vec<&Analyte> =
            known.own.iter().filter(|result| speaks_for(limit, result, &known)).map(|result| &result.analyte).collect();
        found.extend(one_limit(limit, &known, (zone, zone.day(now)), seen));
        if each_cow.iter().any(|analyte| limit.analyte.covers(analyte)) {
            found.extend(of_each_cow(limit, &known));
        }
        if limit.held && !limits.answers(&limit.analyte, &tested) {
            let about = |asked: &Analyte| limit.analyte.covers(asked) || asked.covers(&limit.analyte);
            let is_out = known.out(limits).iter().any(|bottle| bottle.asked.is_empty() || bottle.asked.iter().any(about));
            found.push(Tested::HeldFor { limit: limit.clone(), is_out });
        }
    }
    let of_cows = known.cows.iter().filter(|result| is_positive_of_nobody_knows_what(result));
    found.extend(known.own.iter().filter(|result| has_no_limit(limits, result)).chain(of_cows).map(|result| Tested::NoLimit {
        analyte: result.analyte.clone(),
        number: result.number,
        of_lot: matches!(result.of, Of::Lot(_)),
        says: format!("{}{}", if matches!(result.of, Of::Lot(_)) { String::new() } else { format!("{}: ", result.of) }, result.spoken()),
    }));
    found
}

/// Whether a bottle answers what a lot is held for: it was drawn when the milk was there, and is either what the limit is about or,
/// where the lab looked for more of the same germ, keeps the limit.
fn speaks_for(limit: &Limit, result: &LabResult, known: &Known) -> bool {
    let was_there = known.since.is_none_or(|since| result.drawn >= since);
    let keeps = || standing::compare(limit, &result.figure, result.unit) == Compared::Within;
    was_there && (limit.analyte.covers(&result.analyte) || !result.analyte.answers(&limit.analyte) || keeps())
}

/// A cow's result under a name nobody knows, which the lab called positive. What it means for her milk nobody can say.
fn is_positive_of_nobody_knows_what(result: &LabResult) -> bool {
    !result.analyte.is_known() && result.figure == Figure::Found
}

/// What was found that may never be there: in the lot itself, in one with the same milk, or in a cow from the day before her
/// bottle was drawn until a later bottle of hers is clear.
fn positives(limits: &Limits, known: &Known, zone: Zone) -> Vec<Tested> {
    let never = |result: &&LabResult| may_never_be(limits, result);
    let says = |result: &LabResult| Tested::Found {
        analyte: result.analyte.clone(),
        in_what: result.of.to_string(),
        drawn: zone.day(result.drawn),
    };
    let mut found: Vec<Tested> = known.own.iter().chain(&known.kin).filter(never).map(says).collect();
    for result in known.cows.iter().filter(never) {
        let Of::Cow(cow) = &result.of else { continue };
        // Her drug is not in a lot whose own bottle is clear of drugs.
        let lot_is_clear = result.analyte.is_drug() && is_clear_of_drugs(limits, known, &result.analyte);
        let still =
            |milked: Moment| !lot_is_clear && milked >= result.drawn.plus_hours(-24) && !is_cleared(limits, result, &known.cows, milked);
        if known.milked.iter().any(|(own, milked)| own == cow && still(*milked)) {
            found.push(says(result));
        }
    }
    let mut each: Vec<Tested> = Vec::new();
    found.into_iter().for_each(|one| {
        if !each.contains(&one) {
            each.push(one)
        }
    });
    each
}

/// The newest figure of each cow in the lot, drawn by her milking, against a limit every cow is held to by herself.
fn of_each_cow(limit: &Limit, known: &Known) -> Vec<Tested> {
    let newest = known.milked.iter().filter_map(|(cow, milked)| {
        let of_her = |own: &&LabResult| matches!(&own.of, Of::Cow(name) if name == cow);
        let hers = known.cows.iter().filter(of_her).filter(|own| limit.analyte.covers(&own.analyte));
        hers.filter(|own| own.drawn <= milked.plus_hours(24)).max_by_key(|own| (own.drawn, own.number))
    });
    let mut found: Vec<Tested> = Vec::new();
    for result in newest {
        let Tested::Own { limit, number, found: compared, says, calls_for } = own_figure(limit, result, None) else { continue };
        let own = Tested::Own { limit, number, found: compared, says: format!("{}: {says}", result.of), calls_for };
        if !found.contains(&own) {
            found.push(own);
        }
    }
    found
}

/// One figure against one limit. Where the law takes the results of a day as one, their average decides and is said.
fn own_figure(limit: &Limit, result: &LabResult, of_that_day: Option<&[&LabResult]>) -> Tested {
    let alone = standing::compare(limit, &result.figure, result.unit);
    let says = standing::reason(limit, &result.analyte, &result.figure, result.unit);
    let together = of_that_day.filter(|day| limit.averaged && day.len() > 1).map(|day| standing::compare_day(limit, day));
    let (found, says) = match together {
        Some(together) if together != alone => {
            let word = match together {
                Compared::Within => "keeps it",
                Compared::Over => "is over it",
                Compared::CantTell(_) => "cannot be told",
            };
            (together, format!("{says} The law takes the results of one day as one, and their average {word}."))
        }
        _ => (alone, says),
    };
    let calls_for = standing::calls_for(limit, &result.figure, result.unit).cloned();
    Tested::Own { limit: limit.clone(), number: result.number, found, says, calls_for }
}

fn one_limit(limit: &Limit, known: &Known, (zone, today): (Zone, Day), seen: &mut Seen) -> Vec<Tested> {
    let covered = |all: &[LabResult]| all.iter().filter(|result| limit.analyte.covers(&result.analyte)).cloned().collect::<Vec<_>>();
    let own = covered(&known.own);
    let mut found = Vec::new();
    // A lot that is held until its own test is clear is held against the limit by itself too, whatever the farm's mean says.
    if matches!(limit.pattern, Pattern::Single | Pattern::Ladder) || (limit.held && matches!(limit.pattern, Pattern::Mean { .. })) {
        let farm = covered(&known.farm);
        found.extend(own.iter().map(|result| {
            let others = farm.iter().filter(|other| other.number != result.number && other.day(zone) == result.day(zone));
            let day: Vec<&LabResult> = others.chain([result]).collect();
            own_figure(limit, result, Some(&day))
        }));
    }
    if let Pattern::Plan { .. } = limit.pattern {
        let lot = own.iter().find_map(|result| if let Of::Lot(code) = &result.of { Some(code.clone()) } else { None });
        let plan = lot.and_then(|lot| standing::plan(limit, &lot, &own));
        let figures: Vec<String> = own.iter().map(|result| format!("{}: {}", result.number, result.figure)).collect();
        found.extend(plan.map(|plan| Tested::Plan { limit: limit.clone(), plan, figures: figures.join(", ") }));
        return found;
    }
    match seen.stands(limit, &known.farm, zone, today) {
        Stands::Ladder(rung, perhaps_stopped) => {
            let rung = rung.or_else(|| perhaps_stopped.then_some(Rung::Fine));
            found.extend(rung.map(|rung| Tested::Row { limit: limit.clone(), rung, perhaps_stopped }));
        }
        Stands::Mean(mean) => {
            // Where no mean can be told, the lot's own high figure is all there is, and is not passed over in silence.
            if !limit.held && !matches!(mean.as_ref().map(|own| &own.mean), Some(Mean::Met(_) | Mean::NotMet(_))) {
                let alone = own.iter().map(|result| own_figure(limit, result, None));
                found.extend(alone.filter(|own| matches!(own, Tested::Own { found: Compared::Over, .. })));
            }
            found.extend(mean.map(|mean| Tested::Mean { limit: limit.clone(), mean }));
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
                (Compared::Over, Pattern::Mean { .. }) if !limit.held => Word::Wait,
                (Compared::Over, _) => Word::KeepBack,
                (Compared::CantTell(_), _) => Word::CantTell,
            },
            Tested::Row { rung, perhaps_stopped, .. } => match rung {
                Rung::Action { .. } => Word::KeepBack,
                Rung::Fine | Rung::Notice { .. } if *perhaps_stopped => Word::CantTell,
                Rung::Fine | Rung::Notice { .. } => Word::CanGo,
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
            Tested::HeldFor { is_out: false, .. } | Tested::NoLimit { .. } => Word::CantTell,
        }
    }

    /// The limit it is about, where it is about one.
    #[must_use]
    pub const fn limit(&self) -> Option<&Limit> {
        match self {
            Tested::Own { limit, .. }
            | Tested::Row { limit, .. }
            | Tested::Mean { limit, .. }
            | Tested::Plan { limit, .. }
            | Tested::HeldFor { limit, .. } => Some(limit),
            Tested::Found { .. } | Tested::NoLimit { .. } => None,
        }
    }

    /// Whether the owner may decide about it. A figure of the lot under a name nobody knows may be a germ: it is named, not decided.
    #[must_use]
    pub fn may_be_decided(&self) -> bool {
        match self {
            Tested::NoLimit { analyte, of_lot, .. } => !of_lot || analyte.is_known(),
            // What nobody can read is asked of the lab: another one may come that is as unclear.
            Tested::Row { perhaps_stopped, .. } => !perhaps_stopped,
            _ => true,
        }
    }

    /// What it is about, so that a decision can name it.
    #[must_use]
    pub fn topic(&self) -> String {
        match self {
            Tested::Found { analyte, in_what, .. } => format!("Test: {analyte} in {in_what}"),
            Tested::Own { limit, number, .. } => format!("Test: {}, result {number}", limit.analyte),
            Tested::NoLimit { analyte, number, .. } => format!("Test: {analyte}, result {number}"),
            Tested::Plan { limit, .. } => format!("Test: {}", limit.analyte),
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
                format!("{} in {in_what}, in the bottle drawn {}.", analyte.was_found(), day_shown(*drawn))
            }
            Tested::Own { says, calls_for, .. } => {
                let next = calls_for.as_ref().map_or_else(String::new, |next| format!(" So high a figure calls for a test for {next}."));
                format!("{says}{next}")
            }
            Tested::NoLimit { analyte, says, .. } => no_limit(analyte, says),
            Tested::Row { limit, perhaps_stopped: true, .. } if self.word() == Word::CantTell => format!(
                "{}: one of the last results cannot be held against the limit ({}), and if it is over, the milk is stopped.",
                limit.analyte.spoken(),
                limit.amount.spoken()
            ),
            Tested::Row { limit, rung, .. } => rung.reason(limit),
            Tested::Mean { limit, mean } => mean.reason(limit),
            Tested::Plan { limit, plan, .. } => plan.reason(limit),
            Tested::HeldFor { limit, is_out: true } => {
                format!("Its bottle is out to be tested for {}, and the result is not in.", limit.analyte)
            }
            Tested::HeldFor { limit, is_out: false } => {
                format!("Every lot is held until its test for {} is clear, and no bottle of this one is out for that.", limit.analyte)
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
            (Tested::NoLimit { analyte, .. }, _) if !analyte.is_known() => {
                "Correct the name if it is a slip. If it is right, ask the lab and the health department what the figure means."
            }
            (Tested::NoLimit { .. }, _) => {
                "Ask the health department for the limit, or choose the farm's own, and write it into the rules; or decide with a reason."
            }
            (Tested::Row { .. }, Word::CantTell) => "Ask the lab for a figure, or write down what the figure is counted in.",
            (Tested::Row { .. }, _) => "Ask the department before the next jar goes: by this rule handing out stops.",
            (Tested::Mean { .. }, Word::CantTell) => "Have the samples of the month tested.",
            (Tested::HeldFor { is_out: true, .. }, _) => "Wait for the lab, then write the result down.",
            (Tested::HeldFor { .. }, _) => "Draw a bottle and have it tested.",
            _ => "Keep it back, look for the cause, and test again.",
        }
        .to_owned()
    }
}
