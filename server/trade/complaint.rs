//! A complaint of illness: what is asked, in the order in which it matters, and what is known so far.
//!
//! The doctor comes first, then the milk, then the paper. Each answer is kept as it is given, and a later one takes the place of
//! an earlier one; both stay written. Nothing here diagnoses, and nothing names another household.

use super::{
    exposure::{Agent, Drunk, Onset, Taken},
    recipients::Household,
    records::{Cell, Shape, Ways},
    remarks::Remark,
    trace::LotId,
    when::{Day, Moment, Zone, day_shown, parse_day},
};
use std::collections::BTreeMap;

/// How a question is answered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum By {
    /// Yes or no.
    YesNo,
    /// In their words.
    Words,
    /// A day, and the hour if they know it.
    When,
    /// One of the agents a doctor or the lab may have named.
    Agent,
    /// The day they fetched the jar, out of the days written down for them.
    Fetched,
    /// The code on the lid.
    Lot,
}

/// One question.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Question {
    /// The word it goes by in the ledger.
    pub key: &'static str,
    /// As it is asked.
    pub asks: &'static str,
    /// What to do or to mind while asking.
    pub hint: &'static str,
    /// How it is answered.
    pub by: By,
}

const fn ask(key: &'static str, asks: &'static str, hint: &'static str, by: By) -> Question {
    Question { key, asks, hint, by }
}

/// Every question, in the order in which it matters.
pub const QUESTIONS: [Question; 13] = [
    ask(
        "in danger",
        "Is anybody in danger right now?",
        "Trouble breathing, blood, very drowsy, no water kept down, a baby, somebody pregnant or frail: ring the emergency number or a doctor first, and the milk after.",
        By::YesNo,
    ),
    ask("ill since", "Since when?", "The first sign, as nearly as they know it.", By::When),
    ask("picked up", "Which jar: when was it fetched?", "Ask them to read the lid too; that is the next question.", By::Fetched),
    ask(
        "lot",
        "What does the lid say?",
        "Four digits, a letter and a check character, like 6134A-S. A washed lid is no matter: skip it.",
        By::Lot,
    ),
    ask("who is ill", "Who is ill, and how?", "In their own words: how many, how old, what they feel. Do not guess at a cause.", By::Words),
    ask("doctor", "Have they seen a doctor?", "Tell them to say that they drank raw milk.", By::YesNo),
    ask("sample", "Was a stool or blood sample taken?", "Only a doctor or the health department can ask for one.", By::YesNo),
    ask(
        "named",
        "Has a doctor or the health department named what it is?",
        "Only what they were told. It widens or narrows the days looked at.",
        By::Agent,
    ),
    ask(
        "jar",
        "Is any of it left?",
        "Keep the jar cold, closed and unwashed, and take a picture of the lid. The department may want it.",
        By::Words,
    ),
    ask("others", "Who else drank from it, well or ill?", "How many at that table; no names of other households.", By::Words),
    ask("made of it", "Was any of it frozen, passed on, or made into anything?", "Yogurt, kefir, cheese, butter, ice cream.", By::Words),
    ask(
        "elsewhere",
        "What else did they eat, and where were they?",
        "Other foods, animals, water, travel. Write it down; do not argue.",
        By::Words,
    ),
    ask("became of it", "What became of it?", "Written when it is over: what the doctor or the department said.", By::Words),
];

/// An answer as it stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Answer {
    /// What was said.
    pub says: String,
    /// When.
    pub at: Moment,
    /// Who wrote it down.
    pub who: String,
}

/// A complaint with all that was answered.
#[derive(Clone, Debug)]
pub struct Told {
    /// Its number.
    pub number: i64,
    /// When it was told.
    pub at: Moment,
    /// The household; nothing when it is nobody on the list.
    pub by: Option<Household>,
    /// Who rang, when they are not on the list.
    pub caller: String,
    /// What was first said.
    pub says: String,
    /// Who took it down.
    pub taken_by: String,
    /// Every answer that stands.
    pub answers: BTreeMap<String, Answer>,
}

impl Told {
    /// Who told it.
    #[must_use]
    pub fn called(&self) -> String {
        match &self.by {
            Some(own) => own.called(),
            None if self.caller.is_empty() => "somebody not on the list".to_owned(),
            None => format!("{} (not on the list)", self.caller),
        }
    }

    /// An answer, or nothing.
    #[must_use]
    pub fn answer(&self, key: &str) -> &str {
        self.answers.get(key).map_or("", |own| &own.says)
    }

    /// The next question nobody has answered, after those that were skipped; the last is asked when it is over.
    #[must_use]
    pub fn next(&self, skipped: &[&str]) -> Option<Question> {
        let open = |own: &&Question| own.key != "became of it" && !self.answers.contains_key(own.key) && !skipped.contains(&own.key);
        QUESTIONS.iter().find(open).copied()
    }

    /// When the first sign showed.
    #[must_use]
    pub fn onset(&self, zone: Zone) -> Option<Onset> {
        onset(self.answer("ill since"), zone)
    }

    /// What was named, or that nothing was.
    #[must_use]
    pub fn agent(&self) -> Agent {
        Agent::parse(self.answer("named")).unwrap_or(Agent::NotKnown)
    }

    /// The day the jar was fetched.
    #[must_use]
    pub fn fetched(&self) -> Option<Day> {
        parse_day(self.answer("picked up")).ok()
    }

    /// What is odd about the days: they are kept as told, and the page says so.
    #[must_use]
    pub fn odd(&self, zone: Zone) -> Option<String> {
        let began = match self.onset(zone)? {
            Onset::At(at) => zone.day(at),
            Onset::On(day) => day,
        };
        let fetched = self.fetched().filter(|fetched| *fetched > began)?;
        Some(format!(
            "They fell ill on {} and fetched that jar on {}, which is later. So that jar cannot be it; ask about both days again. The lots of the days before are looked at.",
            day_shown(began),
            day_shown(fetched)
        ))
    }
}

/// Reads when it began: a day, or a day and a time.
#[must_use]
pub fn onset(says: &str, zone: Zone) -> Option<Onset> {
    let day = parse_day(says).ok().map(Onset::On);
    day.or_else(|| zone.parse_moment(&says.replacen(' ', "T", 1)).ok().map(Onset::At))
}

/// What each lot taken may have been drunk for: until its best-by day where there is one, and ten days where there is none. Ten
/// days are the farm's own figure at most; frozen jars last longer and are asked about.
#[must_use]
pub fn taken(outs: &[(i64, Moment, Option<i64>)]) -> Vec<Taken> {
    outs.iter().map(|(lot, at, days)| Taken { lot: LotId(*lot), at: *at, drunk: Drunk::Within(days.unwrap_or(DRUNK_DAYS)) }).collect()
}

/// How long a jar is taken to be drunk from when no rule says it: common practice for raw milk kept cold.
pub const DRUNK_DAYS: i64 = 10;

/// Reads an answer as its question wants it, and as the ledger keeps it.
///
/// # Errors
/// A sentence for the field.
pub fn read(question: &Question, typed: &str, time: &str, ways: Ways, now: Moment) -> Result<String, Remark> {
    let fault = |says: String| Remark::fault("says", says);
    let shaped = |shape: Shape| shape.read(typed, ways).map_err(|fault| Remark::fault("says", fault));
    let text = typed.trim();
    if text.is_empty() {
        return Err(fault("Nothing was answered. Skip the question instead.".to_owned()));
    }
    match question.by {
        By::YesNo => shaped(Shape::OneOf(&["yes", "no"])).map(|cell| cell.text().to_owned()),
        By::Words => shaped(Shape::Note(1000)).map(|cell| cell.text().to_owned()),
        By::Lot => shaped(Shape::Code).map(|cell| cell.text().to_owned()),
        By::Agent => Agent::parse(text).map(|own| own.word().to_owned()).map_err(|own| fault(own.to_string())),
        By::When | By::Fetched => {
            let day = shaped(Shape::Day)?;
            let Cell::Text(day) = day else { return Err(fault("Write a day.".to_owned())) };
            let says = if time.trim().is_empty() { day } else { format!("{day} {}", time.trim()) };
            match onset(&says, ways.zone) {
                None => Err(fault(format!("“{}” is no time of day. Write it like 14:30.", super::short(time)))),
                Some(Onset::At(at)) if at > now => Err(fault(format!("{} has not come yet.", ways.zone.in_full(at)))),
                Some(Onset::On(day)) if day > ways.zone.day(now) => Err(fault(format!("{} has not come yet.", day_shown(day)))),
                Some(_) => Ok(says),
            }
        }
    }
}

/// A question by its word.
#[must_use]
pub fn question(key: &str) -> Option<Question> {
    QUESTIONS.into_iter().find(|own| own.key == key)
}

/// An answer as it is shown.
#[must_use]
pub fn shown(question: &Question, says: &str, zone: Zone) -> String {
    match question.by {
        By::When | By::Fetched => match onset(says, zone) {
            Some(Onset::On(day)) => day.format("%a %-d %b %Y").to_string(),
            Some(Onset::At(at)) => zone.in_full(at),
            None => says.to_owned(),
        },
        _ => says.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::{kinds::ANSWERED, measure::Scale};

    fn ways() -> Ways {
        Ways { zone: Zone::parse("America/New_York").unwrap(), scale: Scale::Fahrenheit }
    }

    fn told(answers: &[(&str, &str)]) -> Told {
        let at = ways().zone.parse_moment("2026-11-21T15:05").unwrap();
        let answers =
            answers.iter().map(|(key, says)| ((*key).to_owned(), Answer { says: (*says).to_owned(), at, who: "Del".to_owned() })).collect();
        Told { number: 1, at, by: None, caller: String::new(), says: String::new(), taken_by: "Del".to_owned(), answers }
    }

    #[test]
    fn every_word_of_the_ledger_is_asked_once_and_danger_first() {
        let mut asked: Vec<&str> = QUESTIONS.iter().map(|own| own.key).collect();
        assert_eq!(asked[0], "in danger");
        assert_eq!(asked.last(), Some(&"became of it"));
        asked.sort_unstable();
        let mut kept = ANSWERED.to_vec();
        kept.sort_unstable();
        assert_eq!(asked, kept);
    }

    #[test]
    fn the_next_question_is_the_first_nobody_answered() {
        assert_eq!(told(&[]).next(&[]).unwrap().key, "in danger");
        let some = told(&[("in danger", "no"), ("ill since", "2026-11-20")]);
        assert_eq!(some.next(&[]).unwrap().key, "picked up");
        assert_eq!(some.next(&["picked up", "lot"]).unwrap().key, "who is ill");
        let all: Vec<&str> = QUESTIONS.iter().map(|own| own.key).collect();
        assert_eq!(some.next(&all), None);
    }

    #[test]
    fn answers_are_read_as_the_question_wants_them() {
        let now = ways().zone.parse_moment("2026-11-21T15:05").unwrap();
        let read = |key: &str, typed: &str, time: &str| read(&question(key).unwrap(), typed, time, ways(), now).map_err(|own| own.says);
        assert_eq!(read("ill since", "2026-11-20", "").unwrap(), "2026-11-20");
        assert_eq!(read("ill since", "2026-11-20", "18:00").unwrap(), "2026-11-20 18:00");
        assert!(read("ill since", "2026-11-22", "").unwrap_err().contains("has not come yet"));
        assert!(read("ill since", "2026-11-21", "16:05").unwrap_err().contains("has not come yet"), "a clock wrong by an hour");
        assert!(read("ill since", "2026-11-20", "after lunch").unwrap_err().contains("is no time of day"));
        assert!(read("ill since", "Friday-ish", "").unwrap_err().contains("Friday-ish"));
        assert!(read("lot", "6134A-Z", "").is_err());
        assert_eq!(read("named", "campylobacter", "").unwrap(), "Campylobacter");
        assert!(read("doctor", "perhaps", "").unwrap_err().contains("yes, no"));
        assert!(read("who is ill", "  ", "").unwrap_err().contains("Skip"));
    }

    #[test]
    fn a_jar_fetched_after_they_fell_ill_is_told() {
        let zone = ways().zone;
        assert!(told(&[("ill since", "2026-11-17"), ("picked up", "2026-11-19")]).odd(zone).unwrap().contains("later"));
        assert_eq!(told(&[("ill since", "2026-11-20 09:00"), ("picked up", "2026-11-20")]).odd(zone), None);
        assert_eq!(told(&[("picked up", "2026-11-19")]).odd(zone), None);
    }
}
