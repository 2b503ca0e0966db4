//! What only the owner's list looks at: copies, the rules, their caps, and what the calendar has for the days to come.

use super::{
    calendar::soon,
    caps::{Cap, Watched},
    copies::Every,
    due::{self, Due, Sort},
    jars::Jars,
    late::Against,
    matters::{About, Matter},
    needs::Lack,
    when::{Day, Moment, Zone, day_shown, days_apart, span_shown},
};

/// The rule set the farm follows.
#[derive(Clone, Debug)]
pub struct WatchedRules {
    /// Its number.
    pub number: i64,
    /// Its place.
    pub place: String,
    /// By when it is to be looked at again.
    pub check_by: Option<Day>,
}

/// Copies that are made by themselves.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Schedule {
    /// The folder they go to.
    pub folder: String,
    /// How often.
    pub every: Every,
    /// Since when it has been going wrong, and what went wrong last.
    pub failed: Option<(Moment, String)>,
}

/// What only the owner's list looks at.
#[derive(Clone, Debug, Default)]
pub struct Owners {
    /// When the last good copy was made.
    pub backup: Option<Moment>,
    /// Whether copies are made by themselves, and how that goes.
    pub schedule: Option<Schedule>,
    /// When the ledger was begun.
    pub begun: Option<Moment>,
    /// The rules followed today.
    pub rules: Option<WatchedRules>,
    /// How the caps of those rules stand.
    pub caps: Vec<HeldCap>,
    /// Everything that is due.
    pub due: Vec<Due>,
    /// The households that lack something before they may have milk.
    pub lacking: Vec<(String, Vec<Lack>)>,
    /// Lots that are kept back, whose jars are out and which no call-back has.
    pub out: Vec<Out>,
}

/// A lot that is kept back and whose jars are out.
#[derive(Clone, Debug)]
pub struct Out {
    /// Its code.
    pub code: String,
    /// The jars that are with households.
    pub jars: Jars,
    /// What speaks against it.
    pub against: Against,
}

/// Milk that is out and ought not to be, before everything else: germs and drugs first, and lots with the same reason on one line.
#[must_use]
pub fn out(owners: &Owners) -> Vec<Matter> {
    let mut shared: Vec<(&Against, Vec<&Out>)> = Vec::new();
    for own in &owners.out {
        match shared.iter_mut().find(|(against, _)| **against == own.against) {
            Some((_, all)) => all.push(own),
            None => shared.push((&own.against, vec![own])),
        }
    }
    shared.sort_by_key(|(against, _)| !against.found);
    let line = |(against, all): (&Against, Vec<&Out>)| {
        let codes: Vec<String> = all.iter().map(|own| own.code.clone()).collect();
        let jars: Jars = all.iter().map(|own| own.jars).sum();
        let what = if codes.len() == 1 { format!("Jars of {} are out", codes[0]) } else { format!("Jars of {} lots are out", codes.len()) };
        let detail = format!("{} {jars} with households, and no call-back (recall) has them.", against.reason);
        let about = against.result.map_or_else(|| About::CallBack(against.because, codes.clone()), About::Result);
        Matter::wrong(what, detail, about).of(codes)
    };
    shared.into_iter().map(line).collect()
}

/// A cap and how it stands.
#[derive(Clone, Debug)]
pub struct HeldCap {
    /// The number of its rule set.
    pub rules: i64,
    /// Its rule set, with its citation.
    pub source: String,
    /// The cap.
    pub cap: Cap,
    /// How it stands.
    pub stands: Watched,
}

/// The owner's lines.
#[must_use]
pub fn lines(owners: &Owners, now: Moment, zone: Zone) -> Vec<Matter> {
    let today = zone.day(now);
    let mut lines: Vec<Matter> = backup(owners, now).into_iter().chain(no_copy(owners, now, zone)).chain(rules(owners, today)).collect();
    lines.extend(owners.caps.iter().filter_map(cap));
    lines.extend(calendar(owners, today));
    lines.extend(lacking(owners));
    lines
}

/// Households that lack a paper or a second way, on one line: they may have no milk until it is there.
fn lacking(owners: &Owners) -> Option<Matter> {
    let says = |(called, lacks): &(String, Vec<Lack>)| {
        let lacks: Vec<String> = lacks.iter().map(ToString::to_string).collect();
        format!("{called}: {}", lacks.join(", "))
    };
    let detail = owners.lacking.iter().map(says).collect::<Vec<_>>().join("; ");
    let what = match owners.lacking.len() {
        0 => return None,
        1 => "A household lacks what it needs before it has milk".to_owned(),
        many => format!("{many} households lack what they need before they have milk"),
    };
    Some(Matter::due(what, detail, About::Agreements))
}

/// Over a cap is wrong, unless the rule itself says what then holds instead.
fn cap(held: &HeldCap) -> Option<Matter> {
    let (said, about) = (held.cap.said(held.stands), About::Rules(Some(held.rules)));
    let means = held.cap.means.as_ref().map(|means| format!("{means}; ")).unwrap_or_default();
    let detail = format!("{means}{}, {}", held.source, held.cap.sure);
    match (held.stands, &held.cap.means) {
        (Watched::Within { .. }, _) => None,
        (Watched::Near { .. }, _) => Some(Matter::due(format!("Near a cap: {said}"), detail, about)),
        (Watched::Over { .. }, Some(_)) => Some(Matter::due(format!("Over a cap: {said}"), detail, about)),
        (Watched::Over { .. }, None) => Some(Matter::wrong(format!("Over a cap: {said}"), detail, about)),
    }
}

/// What the calendar has for the days to come, one line for each sort. Rules and thermometers have lines of their own.
fn calendar(owners: &Owners, today: Day) -> Vec<Matter> {
    let near: Vec<Due> = soon(owners.due.clone(), today)
        .into_iter()
        .filter(|due| !matches!(due.sort, Sort::Rules | Sort::IceCheck) && !ran_out(due))
        .collect();
    let mut sorts: Vec<Sort> = near.iter().map(|due| due.sort).collect();
    sorts.sort_unstable();
    sorts.dedup();
    sorts.into_iter().filter_map(|sort| one_line(sort, &near.iter().filter(|due| due.sort == sort).collect::<Vec<_>>())).collect()
}

/// An agreement that ran out is told among what households lack.
fn ran_out(due: &Due) -> bool {
    due.overdue && matches!(due.about, due::About::Household(_))
}

fn one_line(sort: Sort, due: &[&Due]) -> Option<Matter> {
    let (first, last) = (due.first()?, due.last()?);
    let over = due.iter().filter(|own| own.overdue).count();
    let (what, detail) = match due {
        [one] => (one.title(), format!("{}; {}", one.when(), one.source)),
        _ => {
            let names: Vec<String> = due.iter().map(|own| own.title()).collect();
            let what = match over {
                0 if first.day == last.day => format!("{} {} due by {}", due.len(), sort.several(), short(last.day)),
                0 => format!("{} {} due from {} to {}", due.len(), sort.several(), short(first.day), short(last.day)),
                _ if over == due.len() => format!("{over} {} overdue", sort.several()),
                _ => format!("{} {}, {over} of them overdue", due.len(), sort.several()),
            };
            (what, names.join("; "))
        }
    };
    Some(if over > 0 && sort.bears_on_handing_out() {
        Matter::wrong(what, detail, About::Calendar)
    } else {
        Matter::due(what, detail, About::Calendar)
    })
}

fn short(day: Day) -> String {
    day.format("%-d %b").to_string()
}

/// A copy is due after seven days and wrong after eight; with none at all, the ledger's own age counts.
fn backup(owners: &Owners, now: Moment) -> Option<Matter> {
    let since = owners.backup.or(owners.begun)?;
    let days = now.minutes_since(since) / (24 * 60);
    let next = "Make one, and keep it away from this machine.";
    match (owners.backup, days) {
        (None, ..=7) => Some(Matter::due("No copy yet", next, About::Backup)),
        (None, _) => Some(Matter::wrong("No copy yet", format!("This ledger is {days} days old. {next}"), About::Backup)),
        (Some(_), ..=6) => None,
        (Some(_), 7) => Some(Matter::due("A copy is due: the newest is 7 days old", next, About::Backup)),
        (Some(_), _) => Some(Matter::wrong(format!("No copy for {days} days"), next, About::Backup)),
    }
}

/// What keeps copies from being made by themselves.
fn no_copy(owners: &Owners, now: Moment, zone: Zone) -> Option<Matter> {
    let (since, says) = owners.schedule.as_ref()?.failed.as_ref()?;
    let what = if days_apart(*since, now) == 0 { zone.clock(*since) } else { zone.shown(*since) };
    Some(Matter::due(format!("No copy by itself since {what}"), says.clone(), About::Backup))
}

/// How old the newest copy is and whether the next is made by itself: always there for the owner, and quiet.
#[must_use]
pub fn copies_said(copied: Option<Moment>, schedule: Option<&Schedule>, now: Moment) -> String {
    let age = copied.map_or_else(
        || "There is no copy yet".to_owned(),
        |at| match now.minutes_since(at) {
            ..0 => "The newest copy lies ahead of the clock".to_owned(),
            minutes => format!("The newest copy is {} old", span_shown(minutes)),
        },
    );
    match schedule {
        None => format!("{age}, and none is made by itself."),
        Some(Schedule { failed: None, every, .. }) => format!("{age}; one is made {every} by itself."),
        Some(Schedule { every, .. }) => format!("{age}; one ought to be made {every} by itself."),
    }
}

fn rules(owners: &Owners, today: Day) -> Option<Matter> {
    let Some(rules) = &owners.rules else {
        let detail = "Without one, nobody can tell whether a lot may go.";
        return Some(Matter::wrong("No rule set is chosen", detail, About::Rules(None)));
    };
    let by = rules.check_by.filter(|by| *by < today)?;
    let detail = format!("{}: to be looked at again by {}", rules.place, day_shown(by));
    Some(Matter::due("Check that the rules are still so", detail, About::Rules(Some(rules.number))))
}
