//! Every lot on one line: when it was filled, when it was shown to be cold, and where its jars went.

use super::super::{
    balance::{LotJars, Movement},
    chilled::Chilled,
    coldness::{Outcome, Standing},
    curve,
    figures::{Cell, Holds, Part, Table},
    gaps::About,
    jars::Jars,
    measure::trimmed,
    mixing::last_days,
    steps::Stage,
    verdict::{Facts, judge},
    when::{Moment, span_shown},
};
use super::Binder;

/// A lot as the binder shows it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LotLine {
    /// Its code.
    pub code: String,
    /// When it was filled.
    pub filled: Moment,
    /// Jars filled.
    pub jars: Jars,
    /// Jars handed out and not brought back.
    pub out: Jars,
    /// The milkings or the lots in it.
    pub of: String,
    /// Whether it is shown to have been cold in time.
    pub in_time: &'static str,
    /// The reading that shows it, or what stands against it.
    pub shown_by: String,
    /// Whether the lab had a bottle of it.
    pub tested: bool,
    /// Whether any hold touched it.
    pub held: bool,
}

impl LotLine {
    /// A lot by all that is known of it.
    #[must_use]
    pub fn of(facts: &Facts, jars: Jars, movements: &[Movement], now: Moment) -> LotLine {
        let verdict = judge(facts, now);
        let went = LotJars::gathered(movements, None);
        let (in_time, shown_by) = curve::chilled(&verdict).map_or(("not known", String::new()), |own| chill(facts, own));
        // A day is in the lot's own line already; what is left of `2026-05-14 AM` is `14 AM`.
        let sessions: Vec<&str> = facts.milkings.iter().map(|own| own.session.get(8..).unwrap_or(&own.session)).collect();
        let parents: Vec<&str> = facts.parents.iter().map(|own| own.code.as_str()).collect();
        LotLine {
            code: facts.code.clone(),
            filled: facts.filled,
            jars,
            out: went.handed_out - went.returned,
            of: if sessions.is_empty() { format!("lot {}", parents.join(", ")) } else { sessions.join(" + ") },
            in_time,
            shown_by,
            tested: !facts.lab.own.is_empty(),
            held: !facts.holds.is_empty(),
        }
    }
}

/// Whether a lot was cold in time, in a word, and the reading that says so.
fn chill(facts: &Facts, chilled: &Chilled) -> (&'static str, String) {
    let word = match chilled.overall {
        Standing::Met => "yes",
        Standing::Due => "cooling",
        Standing::NotKnown => "not known",
        Standing::NotShown => "not shown",
        Standing::NotMet => "no",
    };
    let Some(deciding) = chilled.deciding() else { return (word, String::new()) };
    let shown = match (deciding.outcome, deciding.step.stage) {
        (Outcome::Met { at }, stage) => {
            let read = facts.readings.iter().filter(|own| own.at.minutes_since(at) == 0).map(|own| own.temperature.to_string()).next();
            let after = deciding.from.filter(|_| stage == Stage::Cool).map(|from| format!(" after {}", span_shown(at.minutes_since(from))));
            format!("{}{}", read.unwrap_or_else(|| "cold".to_owned()), after.unwrap_or_default())
        }
        (Outcome::NotMet { at, temperature }, _) => {
            let after = deciding.from.map(|from| format!(" after {}", span_shown(at.minutes_since(from))));
            format!("{temperature}{}", after.unwrap_or_default())
        }
        (Outcome::NotShown { .. }, _) if facts.readings.is_empty() => "no reading".to_owned(),
        (Outcome::NotShown { first_below: Some(below), .. }, _) => {
            let after = deciding.from.map(|from| format!(" after {}", span_shown(below.at.minutes_since(from))));
            format!("first cold: {}{}", below.temperature, after.unwrap_or_default())
        }
        _ => String::new(),
    };
    (word, shown)
}

/// What the lid of a lot says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Label {
    /// The lot.
    pub code: String,
    /// Its last days, by way of handing out where they differ.
    pub days: Vec<(String, String)>,
}

impl Label {
    /// The lid of a lot, as it was to be written when the lot was filled.
    #[must_use]
    pub fn of(facts: &Facts) -> Label {
        let parents: Vec<&Facts> = facts.parents.iter().collect();
        Label { code: facts.code.clone(), days: last_days(&facts.rules, facts.filled, facts.oldest(), &parents, facts.zone) }
    }
}

impl Binder {
    pub(super) fn lots_parts(&self) -> Vec<Part> {
        let mut parts = vec![Part::Table(self.lots_table())];
        parts.extend(self.label.as_ref().map(|own| Part::Table(self.label_table(own))));
        parts
    }

    fn lots_table(&self) -> Table {
        let columns = [
            ("Lot", Holds::Codes, 4),
            ("Filled", Holds::Words, 7),
            ("Of", Holds::Words, 5),
            ("Jars", Holds::Figures, 2),
            ("Out", Holds::Figures, 2),
            ("In time", Holds::Words, 4),
            ("Shown by", Holds::Words, 12),
            ("Rule", Holds::Words, 1),
            ("Also", Holds::Words, 3),
        ];
        let caption = "Every lot: half-gallons filled and handed out, and whether a reading shows it cold in time by its rule";
        let mut table = Table::new("lots", caption, &columns).long().dense();
        table.when_empty = "No lot was filled in these days.".to_owned();
        for own in &self.lots {
            let rule = self.rules.iter().find(|rule| !rule.beside && rule.held_on(self.zone.day(own.filled)));
            let also = [(own.tested, "lab"), (own.held, "held")].into_iter().filter(|(so, _)| *so).map(|(_, word)| word);
            table.rows.push(vec![
                self.leading(own.code.clone(), &About::Lot(own.code.clone())),
                Cell::says(self.at(own.filled)),
                Cell::says(own.of.clone()),
                Cell::says(trimmed(own.jars.in_half_gallons(), 2)),
                Cell::says(trimmed(own.out.in_half_gallons(), 2)),
                Cell::says(own.in_time),
                Cell::says(own.shown_by.clone()),
                Cell::says(rule.map_or_else(|| "–".to_owned(), |rule| rule.mark.to_string())),
                Cell::says(also.collect::<Vec<_>>().join(", ")),
            ]);
        }
        table
    }

    fn label_table(&self, label: &Label) -> Table {
        let columns = [("On the lid", Holds::Words, 4), ("Says", Holds::Words, 10)];
        let caption = format!("A label: what is to be written on the lids of {}, the newest lot of these days, by the program", label.code);
        let mut table = Table::new("label", &caption, &columns);
        table.row(["Lot code".to_owned(), label.code.clone()]);
        for (ways, says) in &label.days {
            let what = if ways.is_empty() { "Last day".to_owned() } else { format!("Last day, for {ways}") };
            table.row([what, says.clone()]);
        }
        table
    }
}
