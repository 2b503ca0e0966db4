//! Page one: the farm, the rules it follows, and what its own records leave open.

use super::super::{
    figures::{Cell, Holds, Part, Table},
    gaps::{Gap, Sort},
    limits::Limits,
    when::{Day, day_shown, days_in_words},
};
use super::Binder;

/// A rule set that was followed in the span.
#[derive(Clone, Debug)]
pub struct RulesOf {
    /// The letter it goes by in the table of lots.
    pub mark: char,
    /// What it is called.
    pub title: String,
    /// Its citation; empty for none.
    pub citation: String,
    /// The date of the text that was read; empty where nobody wrote it.
    pub text_date: String,
    /// How sure.
    pub sure: String,
    /// Since when it is followed.
    pub since: Day,
    /// Until when it was.
    pub until: Option<Day>,
    /// Whether it stands beside another.
    pub beside: bool,
    /// What it says of chilling; empty where it does not.
    pub chill: String,
    /// How often it has what tested; empty where it does not say.
    pub tests: String,
    /// Its limits.
    pub limits: Limits,
    /// By when it is to be looked at again.
    pub check_by: Option<Day>,
}

impl RulesOf {
    /// Whether it was followed on a day.
    #[must_use]
    pub fn held_on(&self, day: Day) -> bool {
        self.since <= day && self.until.is_none_or(|until| day <= until)
    }

    fn says(&self) -> String {
        let known = |says: &str| if says.trim().is_empty() { "not known".to_owned() } else { says.trim().to_owned() };
        let until = self.until.map_or_else(String::new, |until| format!(" to {}", day_shown(until)));
        let again = self.check_by.map_or_else(String::new, |day| format!(" To be looked up again by {}.", day_shown(day)));
        let beside = if self.beside { ", beside the others for its own ways of handing out" } else { "" };
        format!(
            "{}, followed from {}{until}{beside}. Citation: {}. Date of the text: {}. How sure: {}.{again} Chilling: {}. Tests: {}.",
            self.title,
            day_shown(self.since),
            known(self.citation.trim_end_matches('.')),
            known(&self.text_date),
            known(&self.sure),
            known(&self.chill),
            known(&self.tests)
        )
    }
}

/// What the journal changed of one kind of record in the span.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Changes {
    /// One record of it, in words.
    pub one: String,
    /// Corrections.
    pub corrected: i64,
    /// Records struck through.
    pub struck: i64,
    /// Records taken back within the seconds in which that is offered.
    pub taken_back: i64,
}

impl Binder {
    pub(super) fn head(&self) -> Vec<(String, String)> {
        let mut facts = vec![("Farm".to_owned(), self.farm.clone())];
        if !self.address.is_empty() {
            facts.push(("Address".to_owned(), self.address.clone()));
        }
        facts.push(("Days shown".to_owned(), self.days()));
        let named = |own: &RulesOf| if self.rules.len() == 1 { "Rules".to_owned() } else { format!("Rules {}", own.mark) };
        facts.extend(self.rules.iter().map(|own| (named(own), days_in_words(&own.says()))));
        if self.rules.is_empty() {
            facts.push(("Rules".to_owned(), "not known: no rule set is written down for these days".to_owned()));
        }
        facts.push(("Made by".to_owned(), format!("{}, {}", self.who, self.at(self.now))));
        facts
    }

    pub(super) fn front(&self) -> Vec<Part> {
        let mut parts = vec![Part::Heading("The farm’s own gaps".to_owned())];
        parts.push(Part::Words(
            "Worked out from the records by the program; nobody types or strikes a line of it. A gap is something that is not written, or was \
             not in time. It is no finding that a law was not kept: that is for whoever knows the law and the day. This is a record, and \
             nothing in it says that milk is safe."
                .to_owned(),
        ));
        if self.gaps.is_empty() {
            parts.push(Part::Loud("No gap was found in what this ledger looks for:".to_owned()));
        }
        parts.push(Part::Table(self.looked_for()));
        if !self.gaps.is_empty() {
            parts.push(Part::Table(self.gaps_table()));
        }
        if !self.not_known.is_empty() {
            // One sentence may be about several of what is looked for.
            let mut once: Vec<&str> = Vec::new();
            for (_, says) in &self.not_known {
                if !once.contains(&says.as_str()) {
                    once.push(says);
                }
            }
            parts.push(Part::Words(format!("Not known: {}", once.into_iter().map(days_in_words).collect::<Vec<_>>().join(" "))));
        }
        parts.push(Part::Table(self.changes_table()));
        parts
    }

    fn looked_for(&self) -> Table {
        let columns = [("What is looked for", Holds::Words, 9), ("Held against", Holds::Words, 8), ("Gaps", Holds::Words, 4)];
        let mut table = Table::new("looked_for", "What this ledger looks for", &columns).dense();
        for sort in Sort::ALL {
            let found = self.gaps.iter().filter(|gap| gap.sort == sort).count();
            let unknown = self.not_known.iter().any(|(about, _)| *about == Some(sort));
            let says = match (found, unknown) {
                (0, true) if !self.knows(sort) => "not known".to_owned(),
                (0, true) => "none; in part not known".to_owned(),
                (found, true) => format!("{found}; in part not known"),
                (0, false) => "none".to_owned(),
                (found, false) => found.to_string(),
            };
            table.row([sort.looked_for().to_owned(), sort.held_against().to_owned(), says]);
        }
        table
    }

    /// Whether a rule that was followed says anything at all of what is looked for.
    fn knows(&self, sort: Sort) -> bool {
        match sort {
            Sort::NoReading | Sort::NotShown => self.rules.iter().any(|rules| !rules.chill.is_empty()),
            Sort::NoResult => !self.rules.is_empty(),
            Sort::Overdue => self.rules.iter().any(|rules| !rules.tests.is_empty()),
            Sort::Lacking => self.households.is_some(),
            _ => true,
        }
    }

    fn gaps_table(&self) -> Table {
        let columns = [("What", Holds::Repeats, 5), ("Which", Holds::Words, 4), ("Since", Holds::Words, 4), ("In words", Holds::Words, 14)];
        let caption = format!("The gaps: {}", self.gaps.len());
        let mut table = Table::new("gaps", &caption, &columns).dense();
        for gap in &self.gaps {
            table.rows.push(self.gap_row(gap));
        }
        table
    }

    fn gap_row(&self, gap: &Gap) -> Vec<Cell> {
        vec![
            Cell::says(gap.sort.looked_for()),
            self.leading(self.typed(&days_in_words(&gap.which)), &gap.about),
            Cell::says(day_shown(gap.since)),
            Cell::says(self.typed(&days_in_words(&gap.says))),
        ]
    }

    fn changes_table(&self) -> Table {
        let columns = [
            ("Records", Holds::Words, 6),
            ("Corrected", Holds::Figures, 3),
            ("Struck through", Holds::Figures, 3),
            ("Taken back at once", Holds::Figures, 3),
        ];
        let caption = "Corrections in the journal. Nothing is deleted: the old version stands beside the new one, with who and why";
        let mut table = Table::new("corrections", caption, &columns);
        table.when_empty = "The journal has no correction in these days.".to_owned();
        for own in &self.changes {
            table.row([own.one.clone(), own.corrected.to_string(), own.struck.to_string(), own.taken_back.to_string()]);
        }
        table
    }
}
