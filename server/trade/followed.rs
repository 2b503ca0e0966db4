//! The rules a farm follows: what it takes over from a place, which of its sets hold today, and when the others held.
//!
//! A set is never changed in place: a new one is written and holds from its day on. A lot filled before that day is judged
//! by the older one, so the older ones stay to be read.

use super::{
    rules::{CountedFrom, NOT_KNOWN, RuleSet, Sure},
    when::{Day, day_shown},
};
use chrono::Months;

/// One set of rules the ledger holds, without its rules.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Version {
    /// Its number in the ledger.
    pub number: i64,
    /// What it is called.
    pub title: String,
    /// The day it is followed from.
    pub since: Day,
    /// Whether it stands beside those before it, for other ways of handing out.
    pub beside: bool,
    /// The day by which to look it up again.
    pub check_by: Option<Day>,
    /// Why it was written.
    pub why: String,
}

/// The sets of a ledger as they stand on a day.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Standing {
    /// The set that holds, then those beside it.
    pub now: Vec<Version>,
    /// Those that hold from a later day, the nearest first.
    pub to_come: Vec<Version>,
    /// Those that no longer hold, newest first, each with its last day; nothing where it never held for a whole day.
    pub earlier: Vec<(Version, Option<Day>)>,
}

/// Sorts the sets of a ledger, oldest first, by what holds on a day. A set that stands alone ends all before it.
#[must_use]
pub fn standing(versions: &[Version], today: Day) -> Standing {
    let mut standing = Standing::default();
    for (place, version) in versions.iter().enumerate() {
        let ended = versions.iter().skip(place + 1).find(|later| !later.beside && later.since <= today);
        match ended {
            _ if version.since > today => standing.to_come.push(version.clone()),
            Some(later) => {
                let last = later.since.pred_opt().filter(|last| *last >= version.since);
                standing.earlier.insert(0, (version.clone(), last));
            }
            None => standing.now.push(version.clone()),
        }
    }
    standing
}

/// A year on from a day: when rules are best looked up again.
#[must_use]
pub fn look_again(since: Day) -> Day {
    since.checked_add_months(Months::new(12)).unwrap_or(since)
}

/// What to ask about the day a new set is to hold from: before the farm began, more than a year ahead, the day of another
/// set, or the end of sets that stand beside the one it takes the place of.
#[must_use]
pub fn questions(since: Day, beside: bool, versions: &[Version], began: Option<Day>, today: Day) -> Vec<String> {
    let mut asked = Vec::new();
    if let Some(began) = began.filter(|began| since < *began) {
        asked.push(format!("The farm's records begin on {}. Are these rules followed from before that?", day_shown(began)));
    }
    if since > look_again(today) {
        asked.push(format!("{} is more than a year away. Is that the day?", day_shown(since)));
    }
    let same: Vec<&str> = versions.iter().filter(|own| own.since == since).map(|own| own.title.as_str()).collect();
    if !same.is_empty() {
        let then = if beside { "Both will hold." } else { "The one written last will hold, and the other will not." };
        asked.push(format!("“{}” is followed from this day too. {then}", same.join("”, “")));
    }
    let standing = standing(versions, since).now;
    let beside_now: Vec<&str> = standing.iter().filter(|own| own.beside).map(|own| own.title.as_str()).collect();
    if !beside && !beside_now.is_empty() {
        asked.push(format!(
            "“{}” stands beside the rules before this and ends with them. Follow it again afterwards if it still holds.",
            beside_now.join("”, “")
        ));
    }
    if beside && !beside_now.is_empty() {
        asked.push(format!(
            "“{}” stands beside them already and goes on holding. Only a set that stands alone ends it.",
            beside_now.join("”, “")
        ));
    }
    if since < today && began.is_none_or(|began| since >= began) && !versions.is_empty() {
        asked.push(format!(
            "{} is over. Lots filled from that day on are judged anew by these rules; what was handed out keeps its old verdict.",
            day_shown(since)
        ));
    }
    asked
}

/// A place's rules as the cells of a record, followed from a day. The owner's best-by days stand where the place names
/// none. What a cell has no room for, such as how sure a figure is, goes into the notes.
#[must_use]
pub fn written(set: &RuleSet, since: Day, owners_days: &str) -> Vec<(String, String)> {
    let figure = |figure: Option<i64>| figure.map(|figure| figure.to_string()).unwrap_or_default();
    let cell = |line: String| if line == NOT_KNOWN { String::new() } else { line };
    let first = |text: &str, most: usize| text.chars().take(most).collect::<String>();
    let from = set.best_by.map_or("oldest milking", |best| if best.from == CountedFrom::Filling { "filling" } else { "oldest milking" });
    let (fresh, again) = (set.colostrum.as_ref(), set.resample.as_ref());
    [
        ("place", set.id.clone()),
        ("since", since.to_string()),
        ("title", set.title.clone()),
        ("citation", first(&set.citation, 300)),
        ("url", set.url.clone().unwrap_or_default()),
        ("text_date", first(&set.text_date, 160)),
        ("sure", sure_cell(set.sure).to_owned()),
        ("beside", "no".to_owned()),
        ("channels", cell(set.channels.to_string())),
        ("needs", cell(set.needs.to_string())),
        ("steps", cell(set.steps.to_string())),
        ("limits", cell(set.limits_line())),
        ("tests", cell(set.tests.to_string())),
        ("caps", cell(set.caps.to_string())),
        ("resample_after", figure(again.map(|again| i64::from(again.not_before_days)))),
        ("resample_within", figure(again.map(|again| i64::from(again.within_days)))),
        ("fresh_before", figure(fresh.and_then(|rule| rule.days_before))),
        ("fresh_days", figure(fresh.and_then(|rule| rule.days_after))),
        ("fresh_milkings", figure(fresh.and_then(|rule| rule.milkings))),
        ("best_by_days", set.best_by.map_or_else(|| owners_days.to_owned(), |best| best.days.to_string())),
        ("best_by_from", from.to_owned()),
        ("keep_years", figure(set.keep_years.as_ref().map(|(years, _, _)| *years))),
        ("notes", first(&notes(set).join("\n"), 3900)),
        ("check_by", look_again(since).to_string()),
    ]
    .map(|(name, value)| (name.to_owned(), value))
    .into()
}

/// The word for how sure a set is, as its cell has it.
const fn sure_cell(sure: Option<Sure>) -> &'static str {
    match sure {
        Some(Sure::Read) => "read in the law",
        Some(Sure::SecondHand) => "read second-hand",
        Some(Sure::Memory) => "from memory",
        Some(Sure::Chosen) | None => "our own choice",
    }
}

/// The notes of a set, and one for each figure whose words would not fit its cell.
#[must_use]
pub fn notes(set: &RuleSet) -> Vec<String> {
    let mut notes = set.notes.clone();
    if let Some(fresh) = &set.colostrum {
        let note = fresh.note.as_ref().map(|note| format!("; {note}")).unwrap_or_default();
        notes.push(format!("Kept out round calving: {}{note}.", set.colostrum_shown()));
    }
    if set.best_by.is_some() {
        notes.push(format!("The longest date on a lid: {}.", set.best_by_shown()));
    }
    if set.resample.is_some() {
        notes.push(format!("Sampled again: {}.", set.resample_shown()));
    }
    if set.keep_years.is_some() {
        notes.push(format!("Records kept: {}.", set.keep_years_shown()));
    }
    notes
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::when::parse_day;

    fn version(number: i64, since: &str, beside: bool) -> Version {
        let since = parse_day(since).unwrap();
        Version { number, title: format!("set {number}"), since, beside, check_by: None, why: String::new() }
    }

    /// Source: arithmetic; a set that stands alone ends those before it on the day before its own.
    #[test]
    fn a_set_holds_until_one_stands_alone_after_it() {
        let all = [
            version(1, "2026-01-01", false),
            version(2, "2026-02-01", true),
            version(3, "2026-03-01", false),
            version(4, "2026-03-01", false),
            version(5, "2026-04-01", true),
            version(6, "2026-07-01", false),
        ];
        let today = parse_day("2026-05-14").unwrap();
        let found = standing(&all, today);
        let numbers = |list: &[Version]| list.iter().map(|own| own.number).collect::<Vec<_>>();
        assert_eq!((numbers(&found.now), numbers(&found.to_come)), (vec![4, 5], vec![6]));
        let earlier: Vec<(i64, Option<Day>)> = found.earlier.iter().map(|(own, last)| (own.number, *last)).collect();
        let last = parse_day("2026-02-28").ok();
        assert_eq!(earlier, [(3, None), (2, last), (1, last)]);
    }

    #[test]
    fn the_day_of_a_set_is_asked_about() {
        let all = [version(1, "2026-01-01", false)];
        let day = |typed| parse_day(typed).unwrap();
        let ask = |since, beside| questions(day(since), beside, &all, Some(day("2026-01-01")), day("2026-05-14"));
        assert!(ask("2026-05-14", false).is_empty() && ask("2027-05-14", true).is_empty());
        assert!(ask("2025-12-31", false)[0].contains("begin on Thu 1 Jan 2026"));
        assert!(ask("2027-05-15", false)[0].contains("more than a year away"));
        assert!(ask("2026-01-01", false)[0].contains("“set 1” is followed from this day too"));
    }
}
