//! The papers of a call-back: one packet with everything in it, and the report of how it stands.
//!
//! The packet is what an official, an insurer or a judge is handed: what happened and when it was written, how far the trouble
//! spreads and why, the history of each lot, who has it and how they were reached, what they were told, where every jar is, and
//! what had to be so before milk went again. Its parts follow 21 CFR 7.42, 7.46, 7.49, 7.53 and 7.55, of which much is from
//! memory; each part says so.

use super::{
    accounted,
    callback::Callback,
    called::{REACH_WITHIN_HOURS, TRY_WITHIN_HOURS, deadline, done_at},
    case::{Case, to_check},
    complaint::{QUESTIONS, Told, shown},
    figures::{Cell, Holds, Part, Sheet, Table},
    recipients::{or, tie_word},
    when::{Moment, Zone},
    wording,
};

mod people;
mod timeline;

pub use timeline::{Happened, events};

/// All that a packet is made of.
pub struct Packet<'a> {
    /// The call-back.
    pub case: &'a Case,
    /// Its lots with their hand-outs and what is behind them.
    pub found: &'a Callback,
    /// The complaint it came of.
    pub told: Option<&'a Told>,
    /// Holds put on its lots, and lifts: what, when, written when, by whom.
    pub holds: Vec<Happened>,
    /// The farm's insurer.
    pub insurer: String,
}

fn words(says: impl Into<String>) -> Part {
    Part::Words(says.into())
}

fn heading(says: &str) -> Part {
    Part::Heading(says.to_owned())
}

impl Packet<'_> {
    const fn zone(&self) -> Zone {
        self.found.zone
    }

    const fn now(&self) -> Moment {
        self.found.now
    }

    /// The whole packet.
    #[must_use]
    pub fn sheet(&self) -> Sheet {
        let case = self.case;
        let mut parts = vec![Part::Loud(if case.practice {
            "For practice. Nobody was rung and nothing was sent.".to_owned()
        } else {
            "Urgent: milk called back (recalled). Anyone ill: doctor first.".to_owned()
        })];
        parts.push(heading("How it stands (status report)"));
        parts.extend(self.status());
        parts.extend(self.complaint());
        parts.push(heading("How far it spreads, and why each lot is in"));
        parts.extend(self.found.drawn().map(Part::Picture));
        parts.push(Part::Table(self.lots()));
        parts.push(words(
            "Certain: the milk itself leads there. Possible: a vessel with no clean break, or not knowing which jar it was. A lot that is \
             listed cannot be excluded; that it is listed does not say that it made anybody ill. The wider choice is the usual one; a lot \
             left out has its reason beside it.",
        ));
        parts.push(heading("Whom it reached (distribution)"));
        parts.push(Part::Table(self.recipients()));
        parts.push(Part::Table(self.tries()));
        parts.push(heading("What they were told"));
        parts.extend(self.messages());
        parts.push(heading("Where every jar is"));
        parts.extend(accounted::parts(&self.found.lots, &case.recipients, self.zone()));
        parts.push(heading("Every hand-out, and what was known then"));
        parts.push(Part::Table(self.hand_outs()));
        parts.extend(self.found.behind.parts(self.zone()));
        parts.push(heading("In the order it happened"));
        parts.push(Part::Table(timeline::table(&events(self), self.zone())));
        parts.push(heading("Before milk goes again, and the end"));
        parts.extend(self.end());
        Sheet {
            name: format!("call-back-{}", case.number),
            title: case.title(),
            under: "Call-back (recall): held (withheld) and handed out (distribution)".to_owned(),
            facts: self.facts(),
            parts,
        }
    }

    /// The report of how it stands, by itself.
    #[must_use]
    pub fn status_sheet(&self) -> Sheet {
        let mut parts = self.status();
        parts.push(Part::Table(self.recipients()));
        Sheet {
            name: format!("status-of-call-back-{}", self.case.number),
            title: format!("How it stands: {}", self.case.title()),
            under: "Status report of a recall".to_owned(),
            facts: self.facts(),
            parts,
        }
    }

    fn facts(&self) -> Vec<(String, String)> {
        let (case, farm, zone) = (self.case, &self.found.farm, self.zone());
        let fact = |name: &str, says: String| (name.to_owned(), says);
        let closed =
            case.closed().map_or_else(|| "still open".to_owned(), |own| format!("closed {}, signed {}", zone.in_full(own.at), own.signed));
        vec![
            fact("Farm", farm.name.clone()),
            fact("Farm's phone", or(&farm.phone, "not written down")),
            fact("Product", "raw milk in jars, and what was made of it".to_owned()),
            fact("Lots called back", or(&case.codes().join(", "), "none")),
            fact("Why", format!("{}. {}", super::capital(&case.because), wording::because_said(&case.because))),
            fact("In a few words", or(&case.note, "nothing more")),
            fact("Opened", format!("{} by {}", zone.in_full(case.opened), case.who)),
            fact("State", closed),
            fact(
                "Class",
                case.step("class by the authority")
                    .map_or_else(|| "not given: the authority classes a recall, not the farm".to_owned(), |own| own.says.clone()),
            ),
            fact("Health department", or(&farm.health, "not written down; write it on the farm's record")),
            fact("Insurer", or(&self.insurer, "not written down")),
            fact("Vet", or(&farm.vet, "not written down")),
            fact("Made", format!("{}, for {}", zone.in_full(self.now()), or(&self.found.who, "the command line"))),
        ]
    }

    /// The items of 21 CFR 7.53(b): read in the like list of 107.240, the count of those who did not answer and the usual span of
    /// two to four weeks from memory.
    fn status(&self) -> Vec<Part> {
        let (case, zone) = (self.case, self.zone());
        let progress = case.progress();
        let (tried, reached) = done_at(&case.recipients);
        let due = |hours, done| deadline(case.opened, hours, done, self.now(), zone);
        let ways: std::collections::BTreeSet<&str> =
            case.recipients.iter().flat_map(|own| own.tries.iter().map(|own| own.way.as_str())).collect();
        let answered: Vec<_> = case.recipients.iter().filter(|own| !own.told.is_empty()).collect();
        let on_hand: super::jars::Jars = answered
            .iter()
            .flat_map(|own| own.told.values().flatten())
            .filter(|own| ["has it", "frozen"].contains(&own.became.as_str()))
            .map(|own| own.jars)
            .sum();
        let back: super::jars::Jars = answered
            .iter()
            .flat_map(|own| own.told.values().flatten())
            .filter(|own| ["returned", "destroyed"].contains(&own.became.as_str()))
            .map(|own| own.jars)
            .sum();
        let silent = progress.messages + progress.unanswered + progress.untried;
        let checks = case
            .courses
            .iter()
            .filter(|own| own.sort == "effectiveness checked")
            .map(|own| format!("{}: {}", zone.in_full(own.at), own.says));
        let level = to_check('A', progress.households).unwrap_or_default();
        let said = accounted::percent_said(&case.recipients)
            .map_or_else(|| "–".to_owned(), |own| format!("{} %", super::measure::trimmed(own, 1)));
        let rows = [
            (
                "Notified, and how",
                format!("{}; by {}", progress.says(), or(&ways.into_iter().collect::<Vec<_>>().join(", "), "nothing yet")),
            ),
            (
                "First notified",
                case.recipients
                    .iter()
                    .filter_map(|own| own.tries.first())
                    .map(|own| own.at)
                    .min()
                    .map_or_else(|| "not yet".to_owned(), |at| zone.in_full(at)),
            ),
            ("Everybody tried", due(TRY_WITHIN_HOURS, tried)),
            ("Everybody reached", due(REACH_WITHIN_HOURS, reached)),
            (
                "Answered, and what they had on hand",
                format!("{}; {on_hand} when they were asked", super::callback::so_many(answered.len(), "household", "households")),
            ),
            ("Did not answer", format!("{}; tried again until they do", super::callback::so_many(silent, "household", "households"))),
            (
                "Brought back or destroyed, and accounted for",
                format!("{back}; households have said what became of {said} of all jars handed out"),
            ),
            (
                "Effectiveness checks",
                format!(
                    "Level A, {progress_said} of {level} answered for every jar. {}",
                    checks.collect::<Vec<_>>().join("; "),
                    progress_said = progress.said_all
                ),
            ),
            (
                "Health department",
                case.step("health department told")
                    .map_or_else(|| "not told yet".to_owned(), |own| format!("{}: {}", zone.in_full(own.at), own.says)),
            ),
            (
                "When it should be done",
                case.closed().map_or_else(
                    || {
                        format!(
                            "everybody reached by {}; the next report within two weeks, unless the authority says otherwise",
                            zone.shown(case.opened.plus_hours(REACH_WITHIN_HOURS))
                        )
                    },
                    |own| format!("closed {}", zone.in_full(own.at)),
                ),
            ),
        ];
        let mut table = Table::new("status", "How it stands", &[("Item", Holds::Words, 3), ("Now", Holds::Words, 7)]);
        for (item, says) in rows {
            table.row([item.to_owned(), says.trim_end().to_owned()]);
        }
        vec![
            Part::Table(table),
            words(
                "Items of 21 CFR 7.53 (status reports; partly from memory). Depth: down to the person who drinks it; level A, every household is \
                 asked (21 CFR 7.42(b); common practice for a farm that knows every household). Two hours to try and a day to reach everybody are \
                 common practice.",
            ),
        ]
    }

    fn complaint(&self) -> Vec<Part> {
        let Some(told) = self.told else { return Vec::new() };
        vec![heading("The complaint, as it was told"), Part::Table(complaint_table(told, self.zone()))]
    }

    fn lots(&self) -> Table {
        let columns = [
            ("Lot", Holds::Codes, 3),
            ("Tie", Holds::Words, 3),
            ("Why it is in", Holds::Words, 7),
            ("Filled", Holds::Words, 4),
            ("Verdict now", Holds::Words, 3),
            ("Called back", Holds::Words, 3),
            ("Why left out", Holds::Words, 4),
        ];
        let mut table = Table::new("called", "Lots of this call-back", &columns);
        "No lot is called back.".clone_into(&mut table.when_empty);
        for own in &self.case.lots {
            let caught = self.found.lots.iter().find(|lot| lot.number == own.number);
            table.rows.push(vec![
                Cell::opening(&own.code, format!("/lots/{}", own.code)),
                Cell::says(tie_word(own.certain)),
                Cell::says(&own.because),
                Cell::says(caught.map_or_else(String::new, |lot| self.zone().in_full(lot.filled))),
                Cell::says(caught.map_or_else(String::new, |lot| lot.word.to_string())),
                Cell::says(if own.called { "called back" } else { "left out" }),
                Cell::says(&own.reason),
            ]);
        }
        table
    }

    fn end(&self) -> Vec<Part> {
        let zone = self.zone();
        let columns =
            [("Condition", Holds::Words, 6), ("Met", Holds::Words, 4), ("How it is known", Holds::Words, 4), ("Signed", Holds::Words, 3)];
        let mut table = Table::new("conditions", "What has to be so before milk goes again", &columns);
        "No condition was written down.".clone_into(&mut table.when_empty);
        for own in &self.case.conditions {
            let (met, known, signed) = own.met.as_ref().map_or_else(
                || ("not yet".to_owned(), String::new(), String::new()),
                |(at, signed, known)| (zone.in_full(*at), known.clone(), signed.clone()),
            );
            table.row([own.says.clone(), met, known, signed]);
        }
        let mut steps = Table::new(
            "end",
            "Cause, correction, prevention, and the end",
            &[("What", Holds::Words, 3), ("In words", Holds::Words, 7), ("Signed", Holds::Words, 3), ("When", Holds::Words, 4)],
        );
        "Nothing was written yet.".clone_into(&mut steps.when_empty);
        for own in self.case.courses.iter().filter(|own| own.sort != "effectiveness checked") {
            steps.row([super::capital(&own.sort), own.says.clone(), own.signed.clone(), zone.in_full(own.at)]);
        }
        vec![
            Part::Table(table),
            Part::Table(steps),
            words(format!(
                "A recall ends when the authority agrees that all reasonable effort was made to remove or correct the product (21 CFR 7.55, from \
                 memory); it may be asked for in writing with the latest status report and what became of the jars. {}.",
                self.case.progress().says()
            )),
            words(
                "Signed: ______________________________  Date: ________________  Received for the authority: ______________________________",
            ),
        ]
    }
}

/// A complaint's questions with their answers.
#[must_use]
pub fn complaint_table(told: &Told, zone: Zone) -> Table {
    let columns = [("Question", Holds::Words, 4), ("Answer", Holds::Words, 6), ("Told", Holds::Words, 3), ("Written by", Holds::Words, 2)];
    let mut table = Table::new("complaint", "What was asked, and what was answered", &columns);
    table.row(["Who told it".to_owned(), told.called(), zone.in_full(told.at), told.taken_by.clone()]);
    if !told.says.is_empty() {
        table.row(["What they first said".to_owned(), told.says.clone(), zone.in_full(told.at), told.taken_by.clone()]);
    }
    for own in QUESTIONS {
        let (says, at, who) = told.answers.get(own.key).map_or_else(
            || ("not answered".to_owned(), String::new(), String::new()),
            |answer| (shown(&own, &answer.says, zone), zone.in_full(answer.at), answer.who.clone()),
        );
        table.row([own.asks.to_owned(), says, at, who]);
    }
    table
}
