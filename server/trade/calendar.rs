//! Everything that is due, as one dated list: tests, papers, thermometers, cows and the rules themselves.
//!
//! Each line says where its day comes from: a rule, common practice, or a paper of the farm's own. What is not known is
//! said beside the list, for a day that is missing must not look like a day that is free.

pub use super::{
    due::{About, Due, Sort, in_order},
    retests::{Followed, HerdCow, Renewal},
};

use super::{
    agreements::Paper,
    capital,
    due::{COMMON_PRACTICE, OWN_PAPER},
    frequency::How,
    herd::{self, Turn},
    lab::LabResult,
    limits::Pattern,
    notices::Notice,
    retests::Tests,
    thermometers::{Guard, IceCheck, guard},
    when::{Day, Moment, Zone, day_shown},
};
use chrono::{Days, Months};

/// Days in which a thermometer that was read counts as in use.
pub const IN_USE_DAYS: i64 = 30;

/// What a cow's records say about her calving and her milk.
#[derive(Clone, Debug)]
pub struct CowsDays {
    /// Her name.
    pub name: String,
    /// Since when she is here.
    pub since: Day,
    /// What has happened to her, oldest first.
    pub turns: Vec<(Turn, Moment)>,
    /// When she was last milked.
    pub milked: Option<Day>,
}

impl CowsDays {
    /// Whether she has left.
    #[must_use]
    pub fn has_left(&self) -> bool {
        self.turns.iter().any(|(turn, _)| *turn == Turn::Left)
    }

    /// Whether she ever calved: a cow that was milked has, whether or not her calving is written down.
    #[must_use]
    pub fn has_calved(&self) -> bool {
        self.milked.is_some() || self.turns.iter().any(|(turn, _)| matches!(turn, Turn::Calved | Turn::JoinedCan))
    }

    /// Whether she gives milk: she has calved or been milked since she was last dried off.
    #[must_use]
    pub fn in_milk(&self, zone: Zone) -> bool {
        let last = |wanted: &[Turn]| self.turns.iter().filter(|(turn, _)| wanted.contains(turn)).map(|(_, at)| zone.day(*at)).max();
        let giving = last(&[Turn::Calved, Turn::JoinedCan]).max(self.milked);
        giving.is_some() && last(&[Turn::DriedOff]).is_none_or(|dry| giving > Some(dry))
    }

    /// The cow as the herd's duties look at her.
    #[must_use]
    pub fn in_herd(&self, zone: Zone) -> HerdCow {
        let due = self.turns.last().and_then(|(_, latest)| herd::due_day(&self.turns, *latest, zone));
        HerdCow { name: self.name.clone(), since: self.since, in_milk: self.in_milk(zone), due }
    }
}

/// A thermometer in use, and what is known of it.
#[derive(Clone, Debug)]
pub struct Thermometer {
    /// Its name.
    pub name: String,
    /// Its last check in ice water.
    pub last: Option<IceCheck>,
}

impl Thermometer {
    /// The last day for its next check, a month after the last one.
    #[must_use]
    pub fn next(&self, zone: Zone) -> Option<Day> {
        zone.day(self.last.as_ref()?.at).checked_add_months(Months::new(1))
    }
}

/// Everything the calendar is made from.
#[derive(Clone, Debug)]
pub struct Facts {
    /// The farm's clock.
    pub zone: Zone,
    /// The day it is.
    pub today: Day,
    /// The first day of the ledger.
    pub since: Day,
    /// The first day with milk in it.
    pub milk_since: Option<Day>,
    /// The rules in force.
    pub rules: Vec<Followed>,
    /// The lab's results.
    pub results: Vec<LabResult>,
    /// The days of samples whose temperature was read when the lab got them.
    pub received: Vec<Day>,
    /// Every cow, those that left too.
    pub cows: Vec<CowsDays>,
    /// The renewals.
    pub renewals: Vec<Renewal>,
    /// The thermometers in use.
    pub thermometers: Vec<Thermometer>,
    /// The agreements of the households still here that count and run out: the household's label, its name, and the paper.
    pub agreements: Vec<(String, String, Paper)>,
    /// Notices and requests that nobody has answered, each with its number.
    pub notices: Vec<(i64, Notice)>,
}

impl Facts {
    /// How many cows still here are so.
    #[must_use]
    pub fn count(&self, so: impl Fn(&CowsDays) -> bool) -> u32 {
        u32::try_from(self.cows.iter().filter(|cow| !cow.has_left() && so(cow)).count()).unwrap_or(u32::MAX)
    }
}

/// Everything that is due, the earliest first.
#[must_use]
pub fn list(facts: &Facts) -> Vec<Due> {
    let cows: Vec<HerdCow> = facts.cows.iter().filter(|cow| !cow.has_left()).map(|cow| cow.in_herd(facts.zone)).collect();
    let tests = Tests {
        zone: facts.zone,
        today: facts.today,
        since: facts.since,
        milk_since: facts.milk_since,
        rules: &facts.rules,
        results: &facts.results,
        received: &facts.received,
        cows: &cows,
        renewals: &facts.renewals,
    };
    let mut due = tests.due();
    due.extend(facts.notices.iter().filter_map(|(number, notice)| answer(*number, notice, facts)));
    due.extend(papers(facts, &tests, &cows));
    due.extend(facts.agreements.iter().filter_map(|(label, name, paper)| agreement(label, name, paper, facts.today)));
    due.extend(facts.rules.iter().filter_map(|rules| rules_again(rules, facts.today)));
    due.extend(facts.thermometers.iter().map(|own| ice_check(own, facts)));
    due.extend(cows.iter().flat_map(|cow| calving(cow, facts.today)));
    in_order(due)
}

/// What is owed to whoever sent a notice or asked for something, until it is written down as answered.
fn answer(number: i64, notice: &Notice, facts: &Facts) -> Option<Due> {
    let owed = notice.answer(facts.zone)?;
    let day = facts.zone.day(owed.by);
    Some(Due {
        key: format!("notice {number}"),
        sort: Sort::Notice,
        from: owed.from,
        day,
        what: capital(&notice.sort),
        named: String::new(),
        detail: format!("{} Last moment: {}", owed.what, facts.zone.in_full(owed.by)),
        source: owed.source.to_owned(),
        overdue: day < facts.today,
        about: About::Notice(number),
    })
}

/// Papers with a last day, only the newest of each: an old permit that was renewed is not due.
fn papers(facts: &Facts, tests: &Tests, cows: &[HerdCow]) -> Vec<Due> {
    let mut newest: Vec<(String, &Renewal)> = Vec::new();
    let mut all: Vec<&Renewal> = facts.renewals.iter().collect();
    all.sort_by_key(|own| std::cmp::Reverse((own.done, own.number)));
    for renewal in all {
        let cow = renewal.cow.as_deref().unwrap_or_default();
        let key = format!("{} / {} / {cow}", renewal.sort, renewal.what.trim().to_lowercase());
        if !newest.iter().any(|(own, _)| *own == key) {
            newest.push((key, renewal));
        }
    }
    let here = |renewal: &Renewal| renewal.cow.as_ref().is_none_or(|name| cows.iter().any(|cow| cow.name == *name));
    let ending = newest.into_iter().filter(|(_, renewal)| !tests.covers(&renewal.sort) && here(renewal));
    ending.filter_map(|(key, renewal)| paper(key, renewal, facts.today)).collect()
}

fn paper(key: String, renewal: &Renewal, today: Day) -> Option<Due> {
    let until = renewal.until?;
    let sort = match renewal.sort.as_str() {
        "permit" => Sort::Permit,
        "agreement" => Sort::Agreement,
        "insurance" | "other" => Sort::Paper,
        "inspection" => Sort::Inspection,
        super::retests::PRACTICE => Sort::Practice,
        _ => Sort::Herd,
    };
    let of = renewal.cow.as_ref().map(|cow| format!(" of {cow}")).unwrap_or_default();
    let over = until < today;
    Some(Due {
        key,
        sort,
        from: None,
        day: until,
        what: format!("{}{of}", if renewal.sort == "other" { "Paper".to_owned() } else { capital(&renewal.sort) }),
        named: renewal.what.clone(),
        detail: format!("{} {}", if over { "was good to" } else { "good to" }, day_shown(until)),
        source: OWN_PAPER.to_owned(),
        overdue: over,
        about: About::Renewal { sort: renewal.sort.clone(), what: renewal.what.clone(), cow: renewal.cow.clone() },
    })
}

/// A paper of a household that runs out. Who it is stands apart from what it is, as everywhere in this list.
fn agreement(label: &str, name: &str, paper: &Paper, today: Day) -> Option<Due> {
    let day = paper.until.filter(|_| paper.signed.is_some())?;
    let over = day < today;
    Some(Due {
        key: format!("agreement {} {}", paper.person, paper.sort),
        sort: Sort::Agreement,
        from: None,
        day,
        what: capital(if paper.sort == "other" { "agreement of a household" } else { &paper.sort }),
        named: format!("{label} {name}"),
        detail: format!("{} {}", if over { "was good to" } else { "good to" }, day_shown(day)),
        source: OWN_PAPER.to_owned(),
        overdue: over,
        about: About::Household(label.to_owned()),
    })
}

fn rules_again(rules: &Followed, today: Day) -> Option<Due> {
    let day = rules.check_by?;
    Some(Due {
        key: format!("rules {}", rules.number),
        sort: Sort::Rules,
        from: None,
        day,
        what: "Look whether the rules are still so".to_owned(),
        named: String::new(),
        detail: format!("{}, {}", rules.source, rules.sure),
        source: "the rule set's own day".to_owned(),
        overdue: day < today,
        about: About::Rules(rules.number),
    })
}

/// A thermometer in use is held in ice water every month; one that never was is due at once.
fn ice_check(own: &Thermometer, facts: &Facts) -> Due {
    let day = own.next(facts.zone).unwrap_or(facts.today);
    Due {
        key: format!("ice water {}", own.name.to_lowercase()),
        sort: Sort::IceCheck,
        from: None,
        day,
        what: "Ice-water check of a thermometer".to_owned(),
        named: own.name.clone(),
        detail: own
            .last
            .as_ref()
            .map_or_else(|| "it was never checked".to_owned(), |check| format!("last checked {}", day_shown(facts.zone.day(check.at)))),
        source: format!("{COMMON_PRACTICE}, every month"),
        overdue: day < facts.today,
        about: About::IceCheck(own.name.clone()),
    }
}

fn calving(cow: &HerdCow, today: Day) -> Vec<Due> {
    let Some(due) = cow.due else { return Vec::new() };
    let line = |sort, day: Day, what: String, detail: String| Due {
        key: format!("{} {}", if sort == Sort::Calving { "calving" } else { "drying off" }, cow.name),
        sort,
        from: None,
        day,
        what,
        named: String::new(),
        detail,
        source: COMMON_PRACTICE.to_owned(),
        overdue: day < today,
        about: About::Cow(cow.name.clone()),
    };
    let calves =
        line(Sort::Calving, due, format!("{} is due to calve", cow.name), "283 days after she was served, or as written".to_owned());
    let dry = herd::dry_off(due).filter(|_| cow.in_milk);
    let dry =
        dry.map(|day| line(Sort::DryOff, day, format!("Dry off {}", cow.name), format!("60 days before she is due, {}", day_shown(due))));
    dry.into_iter().chain([calves]).collect()
}

/// What is not known of how often things must be done, a sentence each.
#[must_use]
pub fn not_known(facts: &Facts) -> Vec<String> {
    if facts.rules.is_empty() {
        return vec!["No rule set is chosen, so nobody can say how often things must be tested here.".to_owned()];
    }
    let tests = || facts.rules.iter().flat_map(|rules| &rules.tests.0);
    let asked = |name: &str| tests().any(|own| own.subjects.iter().any(|subject| subject == name));
    let mut named: Vec<&str> = facts.rules.iter().flat_map(|rules| &rules.limits.0).map(|limit| limit.analyte.name()).collect();
    named.extend(["plate count", "coliforms", "water coliforms", "TB test"]);
    let mut open: Vec<String> = Vec::new();
    for name in named.into_iter().filter(|name| !asked(name)).map(plural) {
        if !open.contains(&name) {
            open.push(name);
        }
    }
    let mut said = Vec::new();
    if let Some((last, others)) = open.split_last() {
        let all = if others.is_empty() { last.clone() } else { format!("{} and {last}", others.join(", ")) };
        said.push(format!("How often {all} must be tested is not known for this place."));
    }
    let set_elsewhere = tests().filter(|own| own.how == How::AsSet).flat_map(|own| &own.subjects);
    said.extend(
        set_elsewhere.map(|subject| format!("How often {} must be tested is not written down: the department sets it.", plural(subject))),
    );
    let rows = facts.rules.iter().any(|rules| rules.resample.is_none() && rules.limits.0.iter().any(|own| own.pattern == Pattern::Ladder));
    if rows {
        said.push("When a fresh sample is due after a notice is not known for this place.".to_owned());
    }
    said
}

fn plural(subject: &str) -> String {
    match subject {
        "TB test" => "cows for TB".to_owned(),
        "water coliforms" => "water for coliforms".to_owned(),
        _ if subject.ends_with("count") => format!("{subject}s"),
        _ => subject.to_owned(),
    }
}

/// The lines of the page: those that are over, the coming year by month, and what comes later.
#[must_use]
pub fn by_month(due: &[Due], today: Day) -> Vec<(String, Vec<&Due>)> {
    let year = today.checked_add_months(Months::new(12)).unwrap_or(Day::MAX);
    let mut months: Vec<(String, Vec<&Due>)> = Vec::new();
    let over = due.iter().filter(|due| due.overdue);
    for due in over.chain(due.iter().filter(|due| !due.overdue)) {
        let heading = match due {
            Due { overdue: true, .. } => "Overdue".to_owned(),
            Due { day, .. } if *day > year => "Later than a year".to_owned(),
            Due { day, .. } => day.format("%B %Y").to_string(),
        };
        match months.last_mut().filter(|(own, _)| *own == heading) {
            Some((_, lines)) => lines.push(due),
            None => months.push((heading, vec![due])),
        }
    }
    months
}

/// What belongs on a short list on a day: what is over, and what is due within so many days as its sort asks for.
#[must_use]
pub fn soon(due: Vec<Due>, today: Day) -> Vec<Due> {
    let near = |due: &Due| {
        let days = u64::try_from(due.sort.ahead()).unwrap_or_default();
        due.overdue || today.checked_add_days(Days::new(days)).is_none_or(|last| due.day <= last)
    };
    due.into_iter().filter(near).collect()
}

/// A reading of a lot with a thermometer: the lot's code, the thermometer and when.
pub type Read = (String, String, Moment);

/// The lots with a weak reading of a thermometer: one taken next to a check that was off by more than 2 °F.
#[must_use]
pub fn weak(read: &[Read], thermometer: &str, checks: &[IceCheck]) -> Vec<String> {
    let own = read.iter().filter(|(_, name, _)| name.trim().to_lowercase() == thermometer.trim().to_lowercase());
    let mut lots: Vec<String> =
        own.filter(|(_, name, at)| matches!(guard(checks, name, *at), Guard { weak: true, .. })).map(|(lot, _, _)| lot.clone()).collect();
    lots.dedup();
    lots
}
