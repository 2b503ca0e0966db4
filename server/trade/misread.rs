//! Which word of a line of rules could not be read, and what is expected in its place.
//!
//! The lines of a rule set are the longest things anybody types here, copied from a law late in the evening. That a part of
//! one is no limit helps less than that “per litr” in it is no unit.

use super::{
    Fault,
    analytes::Unit,
    caps::Caps,
    channels::{Channel, Channels},
    frequency::{Frequencies, whole},
    limits::Limits,
    measure::figure_of,
    short,
    steps::{Clock, Steps, Sure, meant, range_of, word},
};

/// Reads a line of limits.
///
/// # Errors
/// A sentence with the word that could not be read.
pub fn limits(text: &str) -> Result<Limits, Fault> {
    Limits::parse(text).map_err(|fault| explained(text, &fault, |part| Limits::parse(part).is_ok(), limit))
}

/// Reads a line of chill steps.
///
/// # Errors
/// A sentence with the word that could not be read.
pub fn steps(text: &str) -> Result<Steps, Fault> {
    Steps::parse(text).map_err(|fault| explained(text, &fault, |part| Steps::parse(part).is_ok(), step))
}

/// Reads a line of how often things are tested.
///
/// # Errors
/// A sentence with the word that could not be read.
pub fn tests(text: &str) -> Result<Frequencies, Fault> {
    Frequencies::parse(text).map_err(|fault| explained(text, &fault, |part| Frequencies::parse(part).is_ok(), test))
}

/// Reads a line of caps.
///
/// # Errors
/// A sentence with the word that could not be read.
pub fn caps(text: &str) -> Result<Caps, Fault> {
    Caps::parse(text).map_err(|fault| explained(text, &fault, |part| Caps::parse(part).is_ok(), cap))
}

/// Reads the ways of handing out.
///
/// # Errors
/// A sentence with the word that could not be read.
pub fn channels(text: &str) -> Result<Channels, Fault> {
    Channels::parse(text).map_err(|fault| explained(text, &fault, |_| false, way))
}

/// The fault, with what is wrong in the first part that cannot be read.
fn explained(text: &str, fault: &Fault, is_read: impl Fn(&str) -> bool, why: impl Fn(&str) -> Option<String>) -> Fault {
    let wrong = text.split(';').map(str::trim).find(|part| part.is_empty() || !is_read(part));
    let why = wrong.and_then(|part| {
        if part.is_empty() { Some("A semicolon has nothing before or behind it: take it out.".to_owned()) } else { why(part) }
    });
    why.map_or_else(|| fault.clone(), |why| Fault::says(format!("{}. {why}", fault.to_string().trim_end_matches('.'))))
}

/// The part without its bracket, or what is wrong with the bracket.
fn body(part: &str) -> Result<&str, String> {
    let ways = "[read], [second-hand], [memory] or [chosen]";
    let Some((body, sure)) = part.strip_suffix(']').and_then(|open| open.rsplit_once('[')) else {
        return Err(format!("The square brackets at its end are missing: {ways} says how you know it."));
    };
    if meant(&Sure::WORDS, sure).is_none() {
        return Err(format!("“[{}]” does not say how you know it: write {ways}.", short(sure)));
    }
    if !body.ends_with(' ') {
        return Err(format!("Leave a blank before “[{}]”.", short(sure)));
    }
    Ok(body.trim())
}

fn quoted(words: &str) -> String {
    format!("“{}”", short(words))
}

/// The words of a list, with their word.
fn listed<T: Copy + PartialEq>(words: &[(T, &'static str)]) -> String {
    words.iter().filter_map(|(own, _)| word(words, *own)).collect::<Vec<_>>().join(", ")
}

fn limit(part: &str) -> Option<String> {
    let body = match body(part) {
        Ok(body) => body,
        Err(why) => return Some(why),
    };
    let pieces: Vec<&str> = body.split(',').map(str::trim).collect();
    let first = pieces.first()?;
    amount(first, pieces.get(1).copied()).or_else(|| {
        // What is behind the longest beginning that can be read is what could not be.
        let reads = |count: usize| Limits::parse(&format!("{} [read]", pieces.get(..count).unwrap_or_default().join(", "))).is_ok();
        let good = (1..pieces.len()).rev().find(|count| reads(*count)).unwrap_or(1);
        let wrong = quoted(pieces.get(good)?);
        Some(format!(
            "{wrong} cannot stand there. Behind the amount may come: “2 of 4 notice, 3 of 5 action”, “geometric mean of 2 months, 1 sample a month”, “5 units with 2 above 10”, “same day averaged”, “above 400000 calls for pathogens”, “held until clear”."
        ))
    })
}

/// What is wrong with what is limited and how much of it there may be.
fn amount(first: &str, next: Option<&str>) -> Option<String> {
    let starts = ["at most", "below", "none found", "limit not known"].iter().filter_map(|words| first.find(words)).min();
    let Some(start) = starts else {
        return Some(format!(
            "{} does not say how much: behind the test comes “at most 20000 per mL”, “below 100 per mL”, “none found” or “limit not known”.",
            quoted(first)
        ));
    };
    let (name, amount) = first.split_at(start);
    if name.trim().is_empty() {
        return Some("It does not say what is tested for.".to_owned());
    }
    if let Some(portion) = amount.strip_prefix("none found").map(str::trim).filter(|portion| !portion.is_empty()) {
        let read = matches!(Unit::parse(portion), Ok(Unit::InMl(_)));
        return (!read).then(|| format!("{} is not a portion the lab looks in: write it like “in 25 mL”.", quoted(portion)));
    }
    let rest = amount.strip_prefix("at most").or_else(|| amount.strip_prefix("below"))?.trim();
    let (figure, unit) = rest.split_once(' ').unwrap_or((rest, ""));
    if unit.is_empty() && next.is_some_and(|next| next.starts_with(|c: char| c.is_ascii_digit())) {
        return Some(format!("Write {} and what follows it in one, without the comma: a comma ends the amount.", quoted(figure)));
    }
    let Some(read) = figure_of(figure) else { return Some(format!("{} is not a figure, like 20000.", quoted(figure))) };
    match Unit::parse(unit) {
        _ if unit.is_empty() => Some(format!("{figure} of what? A unit comes behind it: per mL, per 100 mL, ppb or %.")),
        Err(_) => Some(format!("{} is not a unit: write per mL, per 100 mL, per g, °C, ppb or %.", quoted(unit))),
        Ok(Unit::InMl(_)) => Some(format!("{} is no unit of a limit: write per mL or per 100 mL.", quoted(unit))),
        Ok(_) if read.is_zero() && amount.starts_with("below") => Some("Nothing is below 0: write “none found”.".to_owned()),
        Ok(_) => None,
    }
}

fn step(part: &str) -> Option<String> {
    let body = match body(part) {
        Ok(body) => body,
        Err(why) => return Some(why),
    };
    let (stage, rest) = body.split_once(' ').unwrap_or((body, ""));
    let (heat, ending) = match stage {
        "cool" => match rest.split_once(" within ") {
            Some(cut) => cut,
            None => return Some(format!("{} does not say within how long, like “within 120 min of milking end”.", quoted(rest))),
        },
        "blend" | "hold" => {
            let ending = if stage == "blend" { " at each later milking" } else { " until handed out" };
            match rest.strip_suffix(ending) {
                Some(heat) => (heat, ""),
                None => return Some(format!("A {stage} step ends with “{}”.", ending.trim())),
            }
        }
        _ => return Some(format!("{} is not a step: it begins with cool, blend or hold.", quoted(stage))),
    };
    if range_of(heat).is_none() {
        return Some(format!("{} is not a temperature with its scale, like 40 °F or 4 °C.", quoted(heat)));
    }
    if stage != "cool" {
        return None;
    }
    let Some((time, clock)) = ending.split_once(" of ") else {
        return Some(format!("{} does not say what the time is counted from, like “of milking end”.", quoted(ending)));
    };
    if meant(&Clock::WORDS, clock).is_none() {
        return Some(format!("{} is not what time is counted from: write {}.", quoted(clock), listed(&Clock::WORDS)));
    }
    Some(format!("{} is not a time in minutes up to a week, like “120 min”, nor “a time not known”.", quoted(time)))
}

fn test(part: &str) -> Option<String> {
    let body = match body(part) {
        Ok(body) => body,
        Err(why) => return Some(why),
    };
    let Some((subjects, how)) = body.rsplit_once(": ") else {
        return Some("A colon and a blank stand between what is tested and how often, like “coliforms: 2 a month”.".to_owned());
    };
    let reads = |subject: &str, how: &str| Frequencies::parse(&format!("{subject}: {how} [read]")).is_ok();
    if !reads("coliforms", how) {
        return Some(format!(
            "{} is not how often: write it like “2 a month”, “1 a quarter”, “4 in 6 months”, “every 12 months”, “every 90 days” or “as the department sets”.",
            quoted(how)
        ));
    }
    let wrong = subjects.split(',').find(|subject| !reads(subject.trim(), how))?;
    Some(format!("{} is not the name of a test: plain letters, up to 60 of them.", quoted(wrong)))
}

fn cap(part: &str) -> Option<String> {
    let body = match body(part) {
        Ok(body) => body,
        Err(why) => return Some(why),
    };
    let body = body.split_once(" (").map_or(body, |(body, _)| body);
    let (amount, rest) = body.split_once(' ').unwrap_or((body, ""));
    if whole(amount, 1_000_000).is_none() {
        return Some(format!("{} is not a whole number.", quoted(amount)));
    }
    let all = "quarts, gallons or lb a day, week, month, day on average or month on average; or cows in milk; or cows that have calved";
    let Some((what, span)) = rest.split_once(" a ") else {
        return Some(format!("{} is not what a cap counts: {all}.", quoted(rest)));
    };
    let reads = |what: &str, span: &str| Caps::parse(&format!("1 {what} a {span} [read]")).is_ok();
    let wrong = if !reads(what, "day") {
        what
    } else if !reads("quarts", span) {
        span
    } else {
        return None;
    };
    Some(format!("{} cannot be read there: a cap counts {all}.", quoted(wrong)))
}

fn way(part: &str) -> Option<String> {
    let body = match body(part) {
        Ok(body) => body,
        Err(why) => return Some(why),
    };
    let wrong = body.split(',').map(str::trim).find(|own| Channel::parse(own).is_none())?;
    Some(format!("{} is none of them.", quoted(wrong)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said<T>(read: Result<T, Fault>) -> String {
        read.map(|_| String::new()).unwrap_or_else(|fault| fault.to_string())
    }

    /// Source: the grammar of the cells itself; the slips are common practice.
    #[test]
    fn the_word_that_cannot_be_read_is_named() {
        for (typed, wrong) in [
            ("coliforms at most 10 per litr [read]", "“per litr” is not a unit: write per mL"),
            ("coliforms at most 10 per mL; plate count at most many per mL [read]", "square brackets at its end are missing"),
            ("plate count at most many per mL [read]", "“many” is not a figure"),
            ("plate count at most 20,000 per mL [read]", "without the comma"),
            ("plate count at most 20000 [read]", "20000 of what?"),
            ("plate count 20000 per mL [read]", "does not say how much"),
            ("plate count at most 20000 per mL [sure]", "“[sure]” does not say how you know it"),
            ("plate count at most 20000 per mL[read]", "Leave a blank before “[read]”"),
            ("plate count at most 20000 per mL, 2 of 4 notice, 3 of 5 actoin [read]", "“2 of 4 notice” cannot stand there"),
            ("plate count at most 20000 per mL, same day averaged, held until claer [read]", "“held until claer” cannot stand there"),
            ("Salmonella none found in 25 [read]", "“in 25” is not a portion"),
            ("coliforms below 0 per mL [read]", "write “none found”"),
            ("coliforms at most 10 per mL [read];", "A semicolon has nothing"),
        ] {
            assert!(said(limits(typed)).contains(wrong), "{typed}: {}", said(limits(typed)));
        }
        for (typed, wrong) in [
            ("cool 40 °F within 120 min of the end [read]", "“the end” is not what time is counted from"),
            ("cool 40 °F within 2 h of milking end [read]", "“2 h” is not a time in minutes"),
            ("cool 40 within 120 min of milking end [read]", "“40” is not a temperature with its scale"),
            ("cool 40 °F [read]", "does not say within how long"),
            ("chill 40 °F until handed out [read]", "“chill” is not a step"),
            ("hold 40 °F until sold [read]", "ends with “until handed out”"),
            ("hold 40 °F until handed out", "square brackets"),
        ] {
            assert!(said(steps(typed)).contains(wrong), "{typed}: {}", said(steps(typed)));
        }
        for (typed, wrong) in [
            ("plate count 2 a month [read]", "A colon and a blank"),
            ("plate count: 2 a fortnight [read]", "“2 a fortnight” is not how often"),
            ("plate count, 5*: 2 a month [read]", "“5*” is not the name of a test"),
            ("plate count: 2 a month (read)", "square brackets"),
        ] {
            assert!(said(tests(typed)).contains(wrong), "{typed}: {}", said(tests(typed)));
        }
        for (typed, wrong) in [
            ("many quarts a week [read]", "“many” is not a whole number"),
            ("350 litres a week [read]", "“litres” cannot be read there"),
            ("350 quarts a fortnight [read]", "“fortnight” cannot be read there"),
            ("10 cows [read]", "“cows” is not what a cap counts"),
        ] {
            assert!(said(caps(typed)).contains(wrong), "{typed}: {}", said(caps(typed)));
        }
        assert!(said(channels("farm gate, garden gate [read]")).ends_with("“garden gate” is none of them."));
        assert!(said(channels("farm gate")).contains("square brackets"));
        assert!(limits("").is_ok() && steps("not known").is_ok());
    }
}
