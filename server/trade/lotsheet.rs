//! Everything about one lot on a paper somebody can sign: what it may do, what that rests on, what went where, and what was
//! known when each jar left. Households stand by their number only, because an inspector sees it; names are in the trace.

pub use super::lot_history::{Handed, Ruled, Stopped, StruckReading, moved};

use super::{
    balance::{Balance, LotJars, Movement, What},
    channels::Channel,
    curve::{Picture, Row},
    figures::{Holds, Part, Sheet, Table},
    jars::Jars,
    lab::LabResult,
    rests::{self, Rest, Wrote, of_its_cows},
    verdict::{Facts, Finding, Verdict},
    when::Moment,
};

/// All that a lot's paper is made from.
#[derive(Clone, Debug)]
pub struct LotFile {
    /// The farm.
    pub farm: String,
    /// Who made the paper.
    pub who: String,
    /// When.
    pub now: Moment,
    /// Who filled the lot.
    pub filled_by: String,
    /// Jars filled.
    pub filled: Jars,
    /// From which vessel; empty for none.
    pub vessel: String,
    /// What it was made into; empty for plain milk.
    pub made: String,
    /// Its note.
    pub note: String,
    /// Where it is.
    pub state: &'static str,
    /// The facts.
    pub facts: Facts,
    /// The verdict.
    pub verdict: Verdict,
    /// What each way says, where that is worth saying.
    pub ways: Vec<(Channel, Verdict)>,
    /// The parts of the verdict.
    pub rests: Vec<Rest>,
    /// The picture of its cooling.
    pub picture: Option<Picture>,
    /// Its readings, estimates among them.
    pub rows: Vec<Row>,
    /// The lab's own text of the results.
    pub wrote: Wrote,
    /// What came and went.
    pub movements: Vec<Movement>,
    /// Where its jars are.
    pub jars: LotJars,
    /// Its hand-outs.
    pub handed: Vec<Handed>,
    /// The holds that touched it.
    pub stopped: Vec<Stopped>,
    /// The readings that were struck through.
    pub struck: Vec<StruckReading>,
    /// What the owner decided.
    pub ruled: Vec<Ruled>,
}

impl LotFile {
    /// The paper.
    #[must_use]
    pub fn sheet(&self) -> Sheet {
        let code = &self.facts.code;
        let mut parts = vec![Part::Loud(self.sentence())];
        let still =
            |own: &Ruled| if self.counts(own) { "" } else { " It no longer counts: what it was about has changed since, or is over." };
        parts.extend(self.ruled.iter().map(|own| Part::Loud(format!("{}{}", own.says(self.facts.zone), still(own)))));
        if self.ways.iter().any(|(_, own)| own.word() != self.verdict.word()) {
            parts.push(Part::Table(self.by_way()));
        }
        parts.push(Part::Table(self.rested()));
        parts.push(Part::Table(self.read()));
        parts.extend(self.estimates().map(Part::Words));
        parts.push(Part::Table(self.tested()));
        if !self.stopped.is_empty() {
            parts.push(Part::Table(self.held()));
        }
        if !self.ruled.is_empty() {
            parts.push(Part::Table(self.decided()));
        }
        if self.movements.iter().any(|own| !matches!(own.what, What::HandedOut | What::Filled)) {
            parts.push(Part::Table(self.went()));
        }
        parts.push(Part::Table(self.handed_out()));
        parts.push(Part::Words("Checked by: ______________________________     Date: ____________________".to_owned()));
        Sheet { name: format!("lot-{code}"), title: format!("Lot {code}"), under: self.farm.clone(), facts: self.head(), parts }
    }

    /// Whether a decision still frees something: the lot itself, or one way of handing it out.
    #[must_use]
    pub fn counts(&self, ruled: &Ruled) -> bool {
        let all = self.ways.iter().map(|(_, verdict)| verdict).chain([&self.verdict]);
        all.flat_map(|verdict| &verdict.findings).any(|finding| matches!(finding, Finding::Decided { at, .. } if *at == ruled.at))
    }

    /// Why the verdict is what it is, in one sentence, with times on the clock where the part that decides has them.
    #[must_use]
    pub fn told(&self) -> String {
        self.rests.first().map_or_else(|| self.verdict.reason(), |own| own.reason.clone())
    }

    /// The next thing to do with the jars that are left, as the page says it.
    #[must_use]
    pub fn next(&self) -> String {
        rests::next(&self.verdict, self.jars.by_the_book().is_none())
    }

    /// The verdict in one sentence, with the next step.
    #[must_use]
    pub fn sentence(&self) -> String {
        let next = self.next();
        let next = if next == "Next: Nothing." { String::new() } else { format!(" {next}") };
        format!("{}: {}{next}", self.verdict.word(), self.told())
    }

    fn head(&self) -> Vec<(String, String)> {
        let zone = self.facts.zone;
        let balance = match self.jars.balance() {
            Balance::NotCounted => "not counted".to_owned(),
            other => other.to_string(),
        };
        let vessel = if self.vessel.is_empty() { String::new() } else { format!(", from {}", self.vessel) };
        let parents: Vec<&str> = self.facts.parents.iter().map(|parent| parent.code.as_str()).collect();
        let best_by = self.facts.best_by().map_or_else(|| "no rule or choice names a day".to_owned(), super::when::day_shown);
        let ways: Vec<String> = self.ways.iter().map(|(way, own)| format!("{way} {}", own.word())).collect();
        let first = [("Filled", format!("{}, {}, by {}{vessel}", zone.in_full(self.facts.filled), self.filled, self.filled_by))];
        let all = [
            ("Made into", self.made.clone()),
            ("Made from", parents.join(", ")),
            ("Best by", best_by),
            ("Each way", ways.join(" · ")),
            ("State", self.state.to_owned()),
            ("Balance", format!("{balance}; {} left by the book", self.jars.by_the_book())),
            ("Judged by", self.verdict.rules.clone()),
            ("Note", self.note.clone()),
            ("Made by", format!("{}, {}", self.who, zone.in_full(self.now))),
        ];
        first
            .into_iter()
            .chain(self.milked())
            .chain(all)
            .filter(|(_, says)| !says.is_empty())
            .map(|(name, says)| (name.to_owned(), says))
            .collect()
    }

    fn by_way(&self) -> Table {
        let mut table = Table::new(
            "ways",
            "For each way of handing out",
            &[("Way", Holds::Words, 3), ("Verdict", Holds::Words, 2), ("Why", Holds::Words, 9)],
        );
        for (way, verdict) in &self.ways {
            table.row([way.to_string(), verdict.word().to_string(), verdict.reason()]);
        }
        table
    }

    fn rested(&self) -> Table {
        let columns = [
            ("Part", Holds::Words, 2),
            ("Verdict", Holds::Words, 2),
            ("Why, and the facts", Holds::Words, 10),
            ("Rule, how sure, and where it stands", Holds::Words, 8),
        ];
        let mut table = Table::new("parts", "What it rests on", &columns);
        for own in &self.rests {
            let why = [own.reason.as_str()].into_iter().chain(own.worth_printing()).collect::<Vec<_>>().join(" ");
            let source = if own.source == self.verdict.rules { "" } else { own.source.as_str() };
            let behind: Vec<&str> = [own.sure.as_str(), source].into_iter().filter(|says| !says.is_empty()).collect();
            let rule = if behind.is_empty() { own.rule.clone() } else { format!("{} ({})", own.rule, behind.join("; ")) };
            table.row([own.about.to_owned(), own.word.to_string(), why, rule]);
        }
        table
    }

    /// A line for each milking in it.
    fn milked(&self) -> Vec<(&'static str, String)> {
        let zone = self.facts.zone;
        let lines = self.facts.milkings.iter().map(|own| {
            let well = match own.well {
                Some(true) => "milker well",
                Some(false) => "milker not well",
                None => "nobody wrote whether the milker was well",
            };
            let ended = own.times.end.map_or_else(|| "an end not written down".to_owned(), |end| zone.clock(end));
            let cows: Vec<&str> = own.cows.iter().map(|part| part.cow.as_str()).collect();
            let cows = if cows.is_empty() { "no cow written down".to_owned() } else { cows.join(", ") };
            ("Milk from", format!("{} ({} to {ended}; {well}): {cows}", own.session, zone.in_full(own.times.start)))
        });
        let mut lines: Vec<_> = lines.collect();
        if lines.is_empty() && self.facts.parents.is_empty() {
            lines.push(("Milk from", "no milking is written down for it".to_owned()));
        }
        lines
    }

    fn read(&self) -> Table {
        let columns = [
            ("Read at", Holds::Words, 4),
            ("After milking ended", Holds::Words, 4),
            ("Jar", Holds::Figures, 2),
            ("Thermometer", Holds::Words, 6),
        ];
        let mut table = Table::new("readings", "Chill readings", &columns);
        table.when_empty = "No reading is written down.".to_owned();
        for row in self.rows.iter().filter(|row| !row.estimate) {
            table.row([self.facts.zone.in_full(row.at), row.after.clone(), row.jar.clone(), row.remark.clone()]);
        }
        for own in &self.struck {
            table.row([self.facts.zone.in_full(own.at), String::new(), own.showed.clone(), own.says(self.facts.zone)]);
        }
        table
    }

    /// What lies between the readings, in words of its own, so that no figure of it can be taken for a reading.
    fn estimates(&self) -> Option<String> {
        let said = self.picture.as_ref().map(Picture::estimated).unwrap_or_default();
        (!said.is_empty()).then(|| format!("Between the readings: {}", said.join(" ")))
    }

    fn tested(&self) -> Table {
        let columns = [
            ("Of", Holds::Words, 3),
            ("Drawn", Holds::Words, 4),
            ("Test", Holds::Words, 4),
            ("As the lab wrote it", Holds::Words, 4),
            ("Reported", Holds::Words, 4),
        ];
        let mut table =
            Table::new("results", "Lab results of this lot, and of its cows the last before it was filled and the first after", &columns);
        table.when_empty = "No result is written down.".to_owned();
        let zone = self.facts.zone;
        let of = |result: &LabResult| match &result.of {
            super::lab::Of::Cow(cow) => cow.clone(),
            _ => "this lot".to_owned(),
        };
        for result in self.facts.lab.own.iter().chain(of_its_cows(&self.facts)) {
            let figure = self.wrote.get(&result.number).cloned().unwrap_or_else(|| result.figure.to_string());
            table.row([
                of(result),
                zone.in_full(result.drawn),
                result.analyte.to_string(),
                figure,
                super::when::day_shown(result.reported),
            ]);
        }
        for own in &self.facts.lab.out(&self.facts.rules.base.limits) {
            let asked: Vec<String> = own.asked.iter().map(ToString::to_string).collect();
            table.row(["this lot".to_owned(), zone.in_full(own.drawn), asked.join(", "), "not in yet".to_owned(), String::new()]);
        }
        table
    }

    fn held(&self) -> Table {
        let columns = [("Held", Holds::Words, 3), ("Since, by", Holds::Words, 5), ("Why", Holds::Words, 5), ("Lifted", Holds::Words, 7)];
        let mut table = Table::new("holds", "Holds that touched it", &columns);
        let zone = self.facts.zone;
        for own in &self.stopped {
            let lifted = own
                .lifted
                .as_ref()
                .map_or_else(|| "not lifted".to_owned(), |(at, why, who)| format!("{} by {who}: {why}", zone.in_full(*at)));
            table.row([own.what.clone(), format!("{}, {}", zone.in_full(own.at), own.who), own.reason.clone(), lifted]);
        }
        table
    }

    fn decided(&self) -> Table {
        let columns = [
            ("Decided", Holds::Words, 4),
            ("About", Holds::Words, 4),
            ("Why it may go", Holds::Words, 5),
            ("What the records said", Holds::Words, 9),
        ];
        let mut table = Table::new("decisions", "What the owner decided otherwise", &columns);
        for own in &self.ruled {
            let when = format!("{}, {}", self.facts.zone.in_full(own.at), own.who);
            // What was in order then is in the record; the paper keeps to what was not, and to the rules.
            let against: Vec<&str> = own.facts.lines().filter(|line| !line.contains(": Can go — ")).collect();
            table.row([when, own.over.join("; "), own.reason.clone(), against.join(" ")]);
        }
        table
    }

    fn went(&self) -> Table {
        let columns = [("When", Holds::Words, 4), ("What", Holds::Words, 5), ("Jars", Holds::Words, 6)];
        let mut table = Table::new("went", "What came and went besides hand-outs", &columns);
        for own in self.movements.iter().filter(|own| !matches!(own.what, What::HandedOut | What::Filled)) {
            table.row([self.facts.zone.in_full(own.at), moved(own.what).to_owned(), own.jars.to_string()]);
        }
        table
    }

    fn handed_out(&self) -> Table {
        let now = self.verdict.word();
        let columns = [
            ("Handed out", Holds::Words, 5),
            ("To", Holds::Words, 3),
            ("Jars", Holds::Words, 4),
            ("Evidence", Holds::Words, 3),
            ("Known then", Holds::Repeats, 8),
        ];
        let title = format!("Hand-outs, with what was known then; now it says {now}");
        let mut table = Table::new("handed", &title, &columns);
        table.when_empty = "None of it was handed out.".to_owned();
        for own in &self.handed {
            let then = format!(
                "{}: {}{}",
                own.then,
                own.because,
                if own.marked.is_empty() { String::new() } else { format!(" Marked: {}.", own.marked) }
            );
            let to = if own.label.is_empty() { "not known".to_owned() } else { own.label.clone() };
            table.row([self.facts.zone.in_full(own.at), to, own.jars.to_string(), own.evidence.clone(), then]);
        }
        table
    }
}
