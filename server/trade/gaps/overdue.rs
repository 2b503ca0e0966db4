//! What was past its day, looked at on every day of a span by the calendar of that day: a test made good in October was still not
//! there in September.

use super::super::{
    calendar::{CowsDays, Facts, list},
    due::{self, Due},
    wear::Span,
    when::{Day, Zone, day_shown},
};
use super::{About, Gap, Sort};
use std::collections::BTreeMap;

/// One thing past its day, for as long as it was.
struct Episode {
    due: Due,
    /// The first day on which it was in order again.
    mended: Option<Day>,
}

/// Everything that was past its day on some day of a span. Each of the calendars holds the facts of its own last day, and speaks for
/// the days since the one before it; they come oldest first. Papers of households are looked at only where `households` holds.
#[must_use]
pub fn overdue(calendars: &[Facts], span: Span, households: bool) -> Vec<Gap> {
    let mut open: BTreeMap<String, Due> = BTreeMap::new();
    let mut over: Vec<Episode> = Vec::new();
    let mut day = span.from;
    for facts in calendars {
        while day <= facts.today.min(span.to) {
            let late: BTreeMap<String, Due> = list(&as_of(facts, day))
                .into_iter()
                .filter(|due| due.overdue && sort_of(due, households).is_some())
                .map(|due| (due.key.clone(), due))
                .collect();
            let mended: Vec<String> = open.keys().filter(|key| !late.contains_key(*key)).cloned().collect();
            over.extend(mended.iter().filter_map(|key| open.remove(key)).map(|due| Episode { due, mended: Some(day) }));
            for (key, due) in late {
                open.entry(key).or_insert(due);
            }
            let Some(next) = day.succ_opt() else { break };
            day = next;
        }
    }
    over.extend(open.into_values().map(|due| Episode { due, mended: None }));
    over.iter().filter_map(|own| gap(own, span, households)).collect()
}

/// What the farm's own list of dates looks at besides, such as calvings and practice, is nothing an inspector asks for.
fn sort_of(due: &Due, households: bool) -> Option<Sort> {
    match due.sort {
        due::Sort::Milk | due::Sort::Water | due::Sort::Herd | due::Sort::Inspection | due::Sort::Further | due::Sort::Resample => {
            Some(Sort::Overdue)
        }
        due::Sort::Agreement if matches!(due.about, due::About::Household(_)) => households.then_some(Sort::Lacking),
        due::Sort::Permit | due::Sort::Agreement | due::Sort::Paper => Some(Sort::Papers),
        due::Sort::Notice => Some(Sort::Owed),
        due::Sort::Practice | due::Sort::Calving | due::Sort::DryOff | due::Sort::IceCheck | due::Sort::Rules => None,
    }
}

fn gap(own: &Episode, span: Span, households: bool) -> Option<Gap> {
    let sort = sort_of(&own.due, households)?;
    let by = day_shown(own.due.day);
    let mended = own.mended.map(day_shown);
    let says = match (sort, mended) {
        (Sort::Papers | Sort::Lacking, Some(day)) => format!("It ran out after {by}, and another is there from {day}."),
        (Sort::Papers | Sort::Lacking, None) => format!("It ran out after {by}, and no other is written by {}.", day_shown(span.to)),
        (_, Some(day)) => format!("It was due by {by} and came late: in order again on {day}. ({})", own.due.source),
        (_, None) => format!("It was due by {by} and is not written by {}. ({})", day_shown(span.to), own.due.source),
    };
    let (which, about) = match &own.due.about {
        // Who it is stands by number only.
        due::About::Household(label) => (format!("{} of {label}", own.due.what), About::Household(label.clone())),
        due::About::Notice(number) => (own.due.title(), About::Record("notices", *number)),
        _ => (own.due.title(), About::Calendar),
    };
    Some(Gap { sort, which, about, since: own.due.day.succ_opt().unwrap_or(own.due.day), count: 1, says })
}

/// The same facts as they stood on an earlier day.
fn as_of(facts: &Facts, day: Day) -> Facts {
    let zone = facts.zone;
    let mut then = facts.clone();
    then.today = day;
    then.results.retain(|result| result.day(zone) <= day);
    then.received.retain(|drawn| *drawn <= day);
    then.renewals.retain(|own| own.done <= day);
    then.agreements.retain(|(.., paper)| paper.signed.is_some_and(|signed| signed <= day));
    then.notices.retain(|(_, notice)| zone.day(notice.at) <= day);
    then.rules.retain(|rules| rules.since <= day);
    then.cows.retain(|cow| cow.since <= day);
    then.cows.iter_mut().for_each(|cow| known_by(cow, day, zone));
    then
}

fn known_by(cow: &mut CowsDays, day: Day, zone: Zone) {
    cow.turns.retain(|(_, at)| zone.day(*at) <= day);
    cow.milked = cow.milked.map(|milked| milked.min(day));
}
