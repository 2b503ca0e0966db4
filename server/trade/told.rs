//! A rule set in words a farmer reads: each rule by itself, with a mark when it was not read in the law.
//!
//! It is told from the cells of a record, so that a place's set and one the farm follows read alike. A cell with nothing
//! in it is not known, which is never the same as not required.

use super::{
    Fault,
    caps::Caps,
    channels::Channels,
    followed::written,
    frequency::{Frequencies, Frequency, How, Spread},
    limits::Limits,
    needs::Needs,
    rules::{RuleSet, Sure},
    steps::Steps,
    when::Day,
};

/// One rule in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Said {
    /// The rule.
    pub says: String,
    /// How it came here, when it was not read in the law.
    pub mark: String,
}

/// What a rule set says of one matter.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Topic {
    /// The matter.
    pub name: &'static str,
    /// Its rules; none means not known.
    pub said: Vec<Said>,
}

impl Said {
    fn new(says: impl Into<String>, sure: Sure) -> Said {
        Said { says: says.into(), mark: if sure == Sure::Read { String::new() } else { sure.to_string() } }
    }
}

/// A place's own set in words.
#[must_use]
pub fn place(set: &RuleSet, day: Day) -> Vec<Topic> {
    let cells = written(set, day, "");
    let found = |name: &str| cells.iter().find(|(own, _)| own == name).map(|(_, value)| value.clone()).unwrap_or_default();
    // A cell has fewer words for what the days are counted from than the laws have.
    let from = set.best_by.map(|best| best.from.to_string());
    topics(|name| from.clone().filter(|_| name == "best_by_from").unwrap_or_else(|| found(name)), Some(set))
}

/// A set in words, cell by cell. Where the set was taken over from a place, that place's own figures are known as such.
#[must_use]
pub fn topics(cell: impl Fn(&str) -> String, from: Option<&RuleSet>) -> Vec<Topic> {
    let read = |name: &'static str, column: &str, words: fn(&str) -> Result<Vec<Said>, Fault>| {
        let line = cell(column);
        // What cannot be read is shown as it stands: an unread rule must not pass for one that is not there.
        Topic { name, said: words(&line).unwrap_or_else(|_| vec![Said { says: line, mark: "cannot be read".to_owned() }]) }
    };
    let figures = |name: &'static str, words: String, sure: Option<Sure>, same: bool| Topic {
        name,
        said: if words.is_empty() { Vec::new() } else { vec![Said { says: words, mark: mark(sure, same, &cell("sure"), from.is_some()) }] },
    };
    let figure = |name: &str| cell(name).parse::<i64>().ok();
    let (before, days, milkings) = (figure("fresh_before"), figure("fresh_days"), figure("fresh_milkings"));
    let fresh = from.and_then(|set| set.colostrum.as_ref());
    let fresh_same = fresh.is_some_and(|rule| (rule.days_before, rule.days_after, rule.milkings) == (before, days, milkings));
    let best = from.and_then(|set| set.best_by);
    let best_same = best.is_some_and(|best| Some(best.days) == figure("best_by_days"));
    let (after, within) = (figure("resample_after"), figure("resample_within"));
    let again = from.and_then(|set| set.resample.as_ref());
    let again_same = again.is_some_and(|own| (Some(i64::from(own.not_before_days)), Some(i64::from(own.within_days))) == (after, within));
    let keep = from.and_then(|set| set.keep_years.as_ref());
    let keep_same = keep.is_some_and(|(years, _, _)| Some(*years) == figure("keep_years"));
    let strip = cell("strip_fails");
    vec![
        read("How cold, how fast", "steps", steps),
        read("Limits of what the lab finds", "limits", limits),
        read("How often things are tested", "tests", tests),
        read("How much, and how many cows", "caps", caps),
        read("Ways of handing out", "channels", channels),
        read("What a household needs first", "needs", needs),
        figures("Kept out round calving", round_calving(before, days, milkings), fresh.map(|rule| rule.sure), fresh_same),
        figures(
            "Strip test",
            if strip.is_empty() { strip } else { format!("a quarter at “{strip}” or worse keeps the cow out") },
            None,
            false,
        ),
        figures("Best by", best_by(figure("best_by_days"), &cell("best_by_from")), best.map(|best| best.sure), best_same),
        figures("Sampling again after a notice", sampled_again(after, within), again.map(|own| own.sure), again_same),
        figures("Records kept", keep_years(figure("keep_years")), keep.map(|(_, sure, _)| *sure), keep_same),
    ]
}

/// The mark of a figure: the place's own where it is the place's figure, else that the farm wrote it in.
fn mark(sure: Option<Sure>, same: bool, whole: &str, from_a_place: bool) -> String {
    match sure.filter(|_| same) {
        Some(Sure::Read) => String::new(),
        Some(sure) => sure.to_string(),
        None if from_a_place => "the farm's own figure".to_owned(),
        None if whole == "read in the law" => String::new(),
        None => whole.to_owned(),
    }
}

fn steps(line: &str) -> Result<Vec<Said>, Fault> {
    Ok(Steps::parse(line)?.0.iter().map(|step| Said::new(step.spoken(), step.sure)).collect())
}

fn limits(line: &str) -> Result<Vec<Said>, Fault> {
    Ok(Limits::parse(line)?.0.iter().map(|limit| Said::new(format!("{}: {}", limit.analyte, limit.spoken()), limit.sure)).collect())
}

fn tests(line: &str) -> Result<Vec<Said>, Fault> {
    Ok(Frequencies::parse(line)?.0.iter().map(|own| Said::new(often(own), own.sure)).collect())
}

fn caps(line: &str) -> Result<Vec<Said>, Fault> {
    let means = |means: &Option<String>| means.as_ref().map(|means| format!(" ({means})")).unwrap_or_default();
    Ok(Caps::parse(line)?.0.iter().map(|cap| Said::new(format!("at most {}{}", cap.plain(), means(&cap.means)), cap.sure)).collect())
}

fn channels(line: &str) -> Result<Vec<Said>, Fault> {
    Ok(match Channels::parse(line)? {
        Channels::NotKnown => Vec::new(),
        Channels::Named(ways, sure) if ways.is_empty() => vec![Said::new("none is named; see the notes", sure)],
        Channels::Named(ways, sure) => {
            vec![Said::new(ways.iter().map(ToString::to_string).collect::<Vec<_>>().join(", "), sure)]
        }
    })
}

fn needs(line: &str) -> Result<Vec<Said>, Fault> {
    Ok(match Needs::parse(line)? {
        Needs::NotKnown => Vec::new(),
        Needs::Named(list, sure) if list.is_empty() => vec![Said::new("none is named; see the notes", sure)],
        Needs::Named(list, sure) => vec![Said::new(list.iter().map(ToString::to_string).collect::<Vec<_>>().join(", "), sure)],
    })
}

/// A frequency as a farmer says it: `plate count, coliforms: 2 a month`.
fn often(own: &Frequency) -> String {
    let many = |count: u32, one: &str| if count == 1 { one.to_owned() } else { format!("{count} {one}s") };
    let how = match own.how {
        How::PerMonth(count) => format!("{count} a month"),
        How::PerQuarter(count) => format!("{count} in every three months"),
        How::In { count, months, spread } => {
            let spread = match spread {
                None => String::new(),
                Some(Spread::Days(days)) => format!(", on {days} different days"),
                Some(Spread::Months { months, or_months, days_apart }) => {
                    format!(", in {months} different months, or in {or_months} where two days of one month lie {days_apart} days apart")
                }
            };
            format!("{count} in any {}{spread}", many(months, "month"))
        }
        How::EveryMonths(months) => format!("at least every {}", many(months, "month")),
        How::EveryDays(days) => format!("at least every {}", many(days, "day")),
        How::AsSet => "as the department sets it".to_owned(),
    };
    format!("{}: {how}{}", own.subjects.join(", "), if own.each_cow { ", each cow by herself" } else { "" })
}

fn days_said(days: i64) -> String {
    format!("{days} day{}", if days == 1 { "" } else { "s" })
}

fn round_calving(before: Option<i64>, days: Option<i64>, milkings: Option<i64>) -> String {
    let before = before.map(|days| format!("{} before calving", days_said(days)));
    let after = match (days, milkings) {
        (Some(days), Some(milkings)) => Some(format!("{} after calving or {milkings} milkings, whichever is longer", days_said(days))),
        (Some(days), None) => Some(format!("{} after calving", days_said(days))),
        (None, Some(milkings)) => Some(format!("{milkings} milkings after calving")),
        (None, None) => before.as_ref().map(|_| "a time after it that is not known".to_owned()),
    };
    before.into_iter().chain(after).collect::<Vec<_>>().join(", and ")
}

fn best_by(days: Option<i64>, from: &str) -> String {
    days.map_or_else(String::new, |days| match from {
        "" => format!("{}; from when is not known", days_said(days)),
        from => format!("{} from the {from}", days_said(days)),
    })
}

fn sampled_again(after: Option<i64>, within: Option<i64>) -> String {
    match (after, within) {
        (Some(after), Some(within)) => format!("not before {} after the notice, and within {}", days_said(after), days_said(within)),
        (Some(after), None) => format!("not before {} after the notice; by when is not known", days_said(after)),
        (None, Some(within)) => format!("within {} of the notice", days_said(within)),
        (None, None) => String::new(),
    }
}

fn keep_years(years: Option<i64>) -> String {
    years.map_or_else(String::new, |years| format!("{years} year{}", if years == 1 { "" } else { "s" }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::{rules::places, when::parse_day};

    /// Source: the project's own file of places; a rule there must be told, and none may be lost on the way.
    #[test]
    fn every_rule_of_every_place_is_told() {
        let day = parse_day("2026-05-14").unwrap();
        for set in places().unwrap() {
            let told = place(&set, day);
            let count = |name: &str| told.iter().find(|topic| topic.name == name).unwrap().said.len();
            assert_eq!(count("How cold, how fast"), set.steps.0.len(), "{}", set.id);
            assert_eq!(count("Limits of what the lab finds"), set.limits.0.len(), "{}", set.id);
            assert_eq!(count("How often things are tested"), set.tests.0.len(), "{}", set.id);
            assert_eq!(count("How much, and how many cows"), set.caps.0.len(), "{}", set.id);
            assert_eq!(count("Kept out round calving"), usize::from(set.colostrum.is_some()), "{}", set.id);
            assert_eq!(count("Best by"), usize::from(set.best_by.is_some()), "{}", set.id);
            assert_eq!(count("Sampling again after a notice"), usize::from(set.resample.is_some()), "{}", set.id);
            assert!(told.iter().flat_map(|topic| &topic.said).all(|said| !said.mark.contains("cannot") && !said.mark.contains("own")));
        }
    }

    #[test]
    fn what_cannot_be_read_is_shown_as_it_stands() {
        let told = topics(|name| if name == "limits" { "as usual".to_owned() } else { String::new() }, None);
        assert_eq!(told[1].said, [Said { says: "as usual".to_owned(), mark: "cannot be read".to_owned() }]);
        assert!(told.iter().enumerate().all(|(place, topic)| place == 1 || topic.said.is_empty()));
    }
}
