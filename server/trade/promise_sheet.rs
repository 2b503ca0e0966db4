//! The look ahead on one sheet: what is promised, what the herd would make, week by week, and what that takes for granted.

use super::{
    figures::{Cell, Holds, Part, Sheet, Table},
    forecast::{Facts, LOOK_BACK, Week, changes, gaps},
    measure::fixed,
    parts::Hundredths,
    when::day_shown,
};
use rust_decimal::{Decimal, prelude::ToPrimitive};

/// The whole look ahead as a sheet.
#[must_use]
pub fn sheet(facts: &Facts) -> Sheet {
    let weeks = facts.weeks();
    let mut parts = Vec::new();
    if weeks.is_empty() {
        let says = "No milk was written down in the last four weeks, so nothing can be said of the weeks to come.";
        parts.push(Part::Loud(says.to_owned()));
    }
    let gaps = gaps(&weeks);
    parts.extend(gaps.iter().map(|gap| Part::Loud(gap.says())));
    if gaps.is_empty() && !weeks.is_empty() {
        parts.push(Part::Words("No week of the next 26 falls short, as far as can be seen.".to_owned()));
    }
    parts.extend([Part::Table(weekdays(facts)), Part::Table(ahead(facts, &weeks)), Part::Table(cows(facts))]);
    parts.push(Part::Words(ASSUMED.to_owned()));
    Sheet {
        name: "promises".to_owned(),
        title: "Promises".to_owned(),
        under: "What is promised, against what the herd makes".to_owned(),
        facts: head(facts, &weeks),
        parts,
    }
}

/// What the look ahead takes for granted.
const ASSUMED: &str = "What this takes for granted: each cow gives the mean of her last 14 days with milk, held level, until 60 days before \
    she is due (common practice); a cow that is dry, or dries off, is back 5 days after her day at the level she last had; a dry cow \
    with no day written down stays dry, and a heifer that was never milked gives nothing; no cow dries off a second time. Milk becomes \
    jars in the same part as in the last four weeks. Promises and pauses are those written down today. A level that is held is no law \
    of nature: a cow gives less towards the end of her time and more when she is fresh.";

fn head(facts: &Facts, weeks: &[Week]) -> Vec<(String, String)> {
    let promised: Hundredths = facts.by_weekday().into_iter().map(|(_, _, jars)| jars).sum();
    let filled =
        (facts.filled / Decimal::from(LOOK_BACK / 7) * Decimal::ONE_HUNDRED).round().to_i64().map_or(Hundredths::ZERO, Hundredths::new);
    let sold = facts.herd_shares.map_or_else(
        || format!("{}; how many the herd is divided into is not written in its terms", facts.sold()),
        |all| format!("{} of {all}", facts.sold()),
    );
    let free = |over: Option<i64>| match over {
        Some(0) => "none".to_owned(),
        Some(over) => over.to_string(),
        None => "nobody can say".to_owned(),
    };
    let now = (filled - promised).count().div_euclid(100).max(0);
    [
        ("Farm", facts.farm.clone()),
        ("As of", day_shown(facts.today)),
        ("Promised a week", format!("{promised} half-gallons")),
        ("Filled a week, over the last four weeks", format!("{filled} half-gallons")),
        ("Shares of the herd sold", sold),
        ("Could still be promised a week, by the last four weeks", free(Some(now))),
        ("Could still be promised through the 26 weeks ahead", free(weeks.iter().map(Week::over).min())),
    ]
    .map(|(name, says)| (name.to_owned(), says))
    .to_vec()
}

fn weekdays(facts: &Facts) -> Table {
    let columns = [("Pickup day", Holds::Words, 3), ("Households", Holds::Figures, 2), ("Half-gallons", Holds::Figures, 2)];
    let mut table = Table::new("weekdays", "What is promised on each day, without pauses", &columns);
    "Nothing is promised today.".clone_into(&mut table.when_empty);
    let all = facts.by_weekday();
    for (day, households, jars) in &all {
        table.row([day.clone(), households.to_string(), jars.to_string()]);
    }
    let (households, jars): (usize, Hundredths) = (all.iter().map(|own| own.1).sum(), all.iter().map(|own| own.2).sum());
    table.total = (!all.is_empty()).then(|| ["A week".to_owned(), households.to_string(), jars.to_string()].map(Cell::says).to_vec());
    table
}

fn ahead(facts: &Facts, weeks: &[Week]) -> Table {
    let columns = [
        ("Week from", Holds::Words, 3),
        ("Made", Holds::Figures, 2),
        ("Promised", Holds::Figures, 2),
        ("Left over", Holds::Figures, 2),
        ("Short", Holds::Figures, 2),
        ("What changes", Holds::Words, 5),
    ];
    let mut table = Table::new("weeks", "The weeks ahead, in half-gallons", &columns);
    "Nothing can be said of the weeks to come.".clone_into(&mut table.when_empty);
    for week in weeks {
        let blank = |jars: i64| if jars == 0 { String::new() } else { jars.to_string() };
        let cells =
            [day_shown(week.from), week.made.nearest().to_string(), week.promised.to_string(), blank(week.over()), blank(week.short())];
        let mut row: Vec<Cell> = cells.into_iter().map(Cell::says).collect();
        row[1] = row[1].clone().guessed(true);
        row.push(Cell::says(changes(facts, week)));
        table.rows.push(row);
    }
    table
}

fn cows(facts: &Facts) -> Table {
    let columns = [
        ("Cow", Holds::Words, 2),
        ("Level, lb a day", Holds::Figures, 2),
        ("From days", Holds::Figures, 2),
        ("Due", Holds::Words, 3),
        ("Dry", Holds::Words, 4),
    ];
    let mut table = Table::new("cows", "What each cow is taken to give", &columns);
    "No cow is written down.".clone_into(&mut table.when_empty);
    for cow in &facts.cows {
        let (level, days) = cow
            .level(facts.today)
            .map_or_else(|| ("not known".to_owned(), String::new()), |(milk, days)| (fixed(milk.in_pounds(), 1), days.to_string()));
        let dry = match cow.dry(facts.today) {
            None => "not in sight".to_owned(),
            Some((from, None)) if from == facts.today => "now, and no day is written".to_owned(),
            Some((from, back)) => {
                let from = if from == facts.today { "now".to_owned() } else { format!("from {}", day_shown(from)) };
                back.map_or_else(|| from.clone(), |back| format!("{from}, back {}", day_shown(back)))
            }
        };
        let due = cow.due.map_or_else(|| "not written".to_owned(), day_shown);
        let mut row: Vec<Cell> = [level, days, due, dry].into_iter().map(Cell::says).collect();
        row.insert(0, Cell::opening(cow.name.clone(), format!("/herd/{}", cow.name)));
        table.rows.push(row);
    }
    table
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::{measure::Weight, when::parse_day};

    #[test]
    fn where_no_milk_was_written_nothing_is_said_of_the_weeks_to_come() {
        let facts = Facts {
            farm: "Tansyditch Farm".to_owned(),
            today: parse_day("2026-11-21").unwrap(),
            cows: Vec::new(),
            filled: Decimal::ZERO,
            milked: Weight::ZERO,
            households: Vec::new(),
            shares: Vec::new(),
            pauses: Vec::new(),
            herd_shares: None,
        };
        let Part::Loud(says) = &sheet(&facts).parts[0] else { panic!("it must be said aloud") };
        assert!(says.contains("nothing can be said"), "{says}");
    }
}
