//! Slips: the questions and refusals that need more than one cell, or what time it is.
//!
//! A slip is asked about and can be kept all the same; what cannot have happened is refused with a sentence.

use super::{
    kinds::Kind,
    measure::{Scale, Temperature},
    records::{Cell, Remark, Shape, Ways},
    when::{Moment, Zone, day_shown, parse_day},
};

/// Minutes a clock on a wall or a phone may run ahead of the program's.
const AHEAD: i64 = 5;

/// Empty jars at once beyond which it is asked whether that is right: twice what a large share gets in a month (common practice).
const MANY_EMPTIES: i64 = 48;

/// Everything there is to ask or refuse about a record's cells at a moment.
#[must_use]
pub fn remarks(kind: &Kind, cells: &[Cell], ways: Ways, now: Moment) -> Vec<Remark> {
    let mut remarks = Vec::new();
    for (column, cell) in kind.columns.iter().zip(cells) {
        match (column.shape, cell) {
            (Shape::Moment, cell) if cell.moment().is_some_and(|at| at > now.plus_minutes(AHEAD)) => {
                remarks.push(Remark::fault(column.name, "This has not come yet. Write when it happened; past times are welcome."));
            }
            (Shape::Day, Cell::Text(_)) if is_planned(kind, column.name) => {}
            (Shape::Day, Cell::Text(day))
                if Some(column.name) == kind.happened && parse_day(day).is_ok_and(|day| day > ways.zone.day(now)) =>
            {
                remarks.push(Remark::fault(column.name, "This day has not come yet. Write when it happened; past days are welcome."));
            }
            (Shape::Day, Cell::Text(day))
                if !MAY_COME.contains(&column.name)
                    && Some(column.name) != kind.happened
                    && parse_day(day).is_ok_and(|day| day > ways.zone.day(now)) =>
            {
                remarks.push(Remark::fault(column.name, "This day has not come yet. Look at it again."));
            }
            (Shape::Heat, Cell::Measured(_, typed)) => {
                remarks.extend(Temperature::parse(typed, ways.scale).ok().and_then(|read| ask_scale(column.name, read, ways.scale)))
            }
            _ => {}
        }
    }
    remarks.extend(against_each_other(kind, cells));
    remarks.extend(against_the_day(kind, cells, ways.zone, now));
    let moment = |name: &str| kind.cell(cells, name).moment();
    if let (Some(started), Some(ended)) = (moment("started"), moment("ended")) {
        if ended < started {
            remarks.push(Remark::fault("ended", "It ended before it started. Look at both times."));
        } else if ended.minutes_since(started) > 5 * 60 {
            remarks.push(Remark::question("ended", "A milking of more than five hours? Keep it, or put the time right.", None));
        }
    }
    if let (Some(cold), Some(found)) = (moment("last_cold"), moment("found")) {
        if cold > found {
            let says = "It was found before it was last cold. Look at both times: a clock may be an hour wrong.";
            remarks.push(Remark::fault("last_cold", says));
        } else if found.minutes_since(cold) > 3 * 24 * 60 {
            remarks.push(Remark::question("last_cold", "More than three days between? Keep it, or put the times right.", None));
        }
    }
    remarks
}

/// Days that may lie ahead.
const MAY_COME: [&str; 5] = ["covers_from", "covers_to", "check_by", "until", "due"];

/// Days that are planned: a pause, a share, a stand-in and new terms begin when they were agreed to begin.
fn is_planned(kind: &Kind, column: &str) -> bool {
    matches!((kind.name, column), ("pauses" | "shares" | "collectors" | "terms", "since") | ("pauses", "moved_to"))
}

/// What two cells of one record cannot both be.
fn against_each_other(kind: &Kind, cells: &[Cell]) -> Vec<Remark> {
    let cell = |name: &str| kind.cell(cells, name);
    let (whole, said) = (|name: &str| cell(name).whole(), |name: &str| cell(name).text());
    let mut remarks = Vec::new();
    for (first, then) in [("covers_from", "covers_to"), ("bought", "gone"), ("since", "until")] {
        if !said(first).is_empty() && !said(then).is_empty() && said(then) < said(first) {
            remarks.push(Remark::fault(then, format!("This is before {}. Look at both days.", in_words(said(first)))));
        }
    }
    if kind.name == "gear" {
        if whole("price").is_some_and(|price| price < 0) || whole("salvage").is_some_and(|salvage| salvage < 0) {
            remarks.push(Remark::fault("price", "A price and what is left of it cannot be below nothing."));
        } else if whole("salvage") > whole("price") {
            remarks.push(Remark::fault("salvage", "It cannot be worth more at the end than it cost."));
        }
        if (said("sort") == "cow") != (*cell("cow") != Cell::Empty) {
            remarks.push(Remark::fault("cow", "Name the cow when it is one, and leave this empty for gear."));
        }
        if said("gone").is_empty() && (!said("left_by").is_empty() || whole("brought").is_some()) {
            remarks.push(Remark::fault("gone", "Write the day it left, or take away how it left and what it brought."));
        }
        if whole("brought").is_some_and(|brought| brought < 0) {
            remarks.push(Remark::fault("brought", "What it brought cannot be below nothing."));
        }
    }
    if kind.name == "appliances" {
        let empty = needed_by(said("sort")).iter().filter(|column| *cell(column) == Cell::Empty);
        remarks.extend(
            empty.map(|column| Remark::fault(column, "Without this figure nothing can be reckoned for it. It stands on its plate.")),
        );
    }
    if kind.name == "renewals" && said("until").is_empty() && !matches!(said("sort"), "inspection" | "other") {
        remarks.push(Remark::question(
            "until",
            "Good to which day? Without one it drops off the calendar. Keep it only if it never runs out.",
            None,
        ));
    }
    if kind.name == "renewals" && !said("until").is_empty() && said("until") < said("done") {
        remarks.push(Remark::fault("until", "It cannot run out before it was done. Look at both days."));
    }
    if kind.name == "treatments" {
        remarks.extend(nothing_kept_out(whole("milk_hours"), whole("milk_milkings")));
    }
    if kind.name == "rules" && whole("resample_within").is_some_and(|within| whole("resample_after").is_some_and(|after| after > within)) {
        remarks.push(Remark::fault(
            "resample_within",
            "This ends before it begins: the last day for the fresh sample cannot come before the first. Look at both.",
        ));
    }
    if kind.name == "tickets" && said("sort") != "calf sold" && whole("amount").is_some_and(|amount| amount < 0) {
        remarks.push(Remark::question("amount", "Money back? Keep it if this is a refund, or take the minus away.", None));
    }
    remarks
}

/// What must be read off an appliance before its current can be reckoned.
fn needed_by(does: &str) -> &'static [&'static str] {
    match does {
        "motor" => &["kilowatts", "minutes"],
        "heats water" => &["gallons", "starts_at", "ends_at", "efficiency"],
        "chills milk" => &["starts_at", "ends_at", "times"],
        _ => &["kilowatt_hours"],
    }
}

/// A label may name no time at all, and then her milk goes into the can at once; so the nought is asked about. A blank is
/// never read as one.
fn nothing_kept_out(hours: Option<i64>, milkings: Option<i64>) -> Option<Remark> {
    let ask = |field: &str, what: &str| {
        let says = format!("0 {what} means her milk goes straight into the can. Does the label say so?");
        Some(Remark::question(field, says, None))
    };
    match (hours, milkings) {
        (Some(0), None | Some(0)) => ask("milk_hours", "hours"),
        (None, Some(0)) => ask("milk_milkings", "milkings"),
        _ => None,
    }
}

/// What looks odd beside the day it is, or beside the day it came.
fn against_the_day(kind: &Kind, cells: &[Cell], zone: Zone, now: Moment) -> Option<Remark> {
    let day = |name: &str| parse_day(kind.cell(cells, name).text()).ok();
    let today = zone.day(now);
    match kind.name {
        "empties" => {
            let jars: i64 = ["gallons", "half_gallons", "quarts", "pints"].iter().filter_map(|size| kind.cell(cells, size).whole()).sum();
            let says = format!("{jars} jars at once is more than a household has. Is that so, or a slip?");
            (jars > MANY_EMPTIES).then(|| Remark::question("half_gallons", says, None))
        }
        "renewals" => {
            let until = day("until").filter(|until| *until < today && day("done").is_some_and(|done| done <= *until))?;
            let says = format!("It ran out on {}. Is that the day on the paper, or a slip?", day_shown(until));
            Some(Remark::question("until", says, None))
        }
        "rules" => {
            let by = day("check_by").filter(|by| *by < today)?;
            let says = format!("{} is over: from today on you would be told to look these rules up. Is that the day?", day_shown(by));
            Some(Remark::question("check_by", says, None))
        }
        "notices" => {
            let came = zone.day(kind.cell(cells, "at").moment()?);
            let due = day("due").filter(|due| *due < came)?;
            let says = format!("{} is before it came, on {}. Keep it only if the letter was that late.", day_shown(due), day_shown(came));
            Some(Remark::question("due", says, None))
        }
        _ => None,
    }
}

/// A day as people read it; whatever is no day, as it was typed.
fn in_words(day: &str) -> String {
    parse_day(day).map_or_else(|_| day.to_owned(), day_shown)
}

/// Asks about a figure that looks like the other scale: 4 in a °F farm, 39 in a °C farm.
#[must_use]
pub fn ask_scale(field: &str, read: Temperature, usual: Scale) -> Option<Remark> {
    let hundredths = |read: Temperature| read.exact();
    let slipped = match usual {
        Scale::Fahrenheit => {
            read.scale() == Scale::Fahrenheit
                && hundredths(read) < Temperature::fahrenheit(25).exact()
                && hundredths(read) >= Temperature::fahrenheit(0).exact()
        }
        Scale::Celsius => read.scale() == Scale::Celsius && read > Temperature::celsius(41),
    };
    if !slipped {
        return None;
    }
    let other = if usual == Scale::Fahrenheit { Scale::Celsius } else { Scale::Fahrenheit };
    let typed = super::measure::trimmed(read.degrees(), 2);
    let meant = Temperature::parse(&typed, other).ok()?;
    let rounded = Temperature::parse(&super::measure::trimmed(meant.shown_in(usual).degrees(), 1), usual).ok()?;
    Some(Remark::question(
        field,
        format!("{read}? Thermometers here read in {usual}: do you mean {meant}, which is {rounded}?"),
        Some(rounded.to_string()),
    ))
}

/// The remarks that still stand: faults, and questions nobody has answered.
#[must_use]
pub fn unanswered(remarks: Vec<Remark>, is_sure: impl Fn(&str) -> bool) -> Vec<Remark> {
    remarks.into_iter().filter(|remark| remark.question.is_none() || !is_sure(&remark.field)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: arithmetic; 4 °C is 39.2 °F, NIST SP 811.
    #[test]
    fn the_other_scale_is_asked_about() {
        let asked = ask_scale("temperature", Temperature::fahrenheit(4), Scale::Fahrenheit).unwrap();
        assert_eq!(asked.question.unwrap().instead.as_deref(), Some("39.2 °F"));
        assert!(ask_scale("temperature", Temperature::fahrenheit(38), Scale::Fahrenheit).is_none());
        let asked = ask_scale("temperature", Temperature::celsius(50), Scale::Celsius).unwrap();
        assert_eq!(asked.question.unwrap().instead.as_deref(), Some("10 °C"));
        assert!(ask_scale("temperature", Temperature::celsius(38), Scale::Celsius).is_none(), "milk warm from the cow is 38 °C");
    }
}
