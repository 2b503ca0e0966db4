//! The papers between the farm and each household: what is signed, what is lacking, what ends soon, as one register.

use super::{
    capital,
    channels::{Channel, Channels},
    figures::{Cell, Holds, Part, Sheet, Table},
    needs::{Lack, Need, Needs},
    when::{Day, day_shown},
};
use chrono::Days;

/// Days before its last one on which a paper is named as ending soon: time to print it, hand it over and get it back.
pub const ENDS_SOON: u64 = 60;

/// What each rule set that is followed asks of a household, with the ways it names.
#[derive(Clone, Debug, Default)]
pub struct Asked(pub Vec<(Channels, Needs)>);

impl Asked {
    /// What the rules that name a way, or name none, ask of a household it reaches.
    #[must_use]
    pub fn of(&self, way: Channel) -> Vec<Need> {
        let about = |ways: &Channels| *ways == Channels::NotKnown || ways.name(way);
        let named = self.0.iter().filter(|(ways, _)| about(ways)).map(|(_, needs)| needs);
        let mut needs: Vec<Need> = named.chain([&Needs::NotKnown]).flat_map(|needs| needs.of_way(way)).collect();
        needs.sort();
        needs.dedup();
        needs
    }

    /// What the rules ask of a household that milk reaches in several ways, each once.
    #[must_use]
    pub fn of_all(&self, ways: &[Channel]) -> Vec<Need> {
        let mut needs: Vec<Need> = ways.iter().flat_map(|way| self.of(*way)).collect();
        needs.sort();
        needs.dedup();
        needs
    }
}

/// A paper between the farm and a household, as its record has it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Paper {
    /// Its record.
    pub number: i64,
    /// The household's record.
    pub person: i64,
    /// What it is.
    pub sort: String,
    /// When it was given to them.
    pub given: Option<Day>,
    /// When it was signed, if it was.
    pub signed: Option<Day>,
    /// How long it is good, if it ends.
    pub until: Option<Day>,
    /// The paper itself, if it is kept.
    pub document: Option<i64>,
    /// A note.
    pub note: String,
    /// The version of its record.
    pub version: i64,
}

/// How a paper stands on a day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stands {
    /// Nobody signed it yet.
    Unsigned,
    /// It is signed and good.
    Good,
    /// It is good, and not much longer.
    EndsSoon(Day),
    /// Its time is over.
    RanOut(Day),
}

impl Paper {
    /// How it stands on a day. One that is signed tomorrow is not signed today.
    #[must_use]
    pub fn stands(&self, on: Day) -> Stands {
        let soon = on.checked_add_days(Days::new(ENDS_SOON)).unwrap_or(Day::MAX);
        match self.until {
            Some(day) if day < on && self.signed.is_some() => Stands::RanOut(day),
            _ if self.signed.is_none_or(|signed| signed > on) => Stands::Unsigned,
            Some(day) if day <= soon => Stands::EndsSoon(day),
            _ => Stands::Good,
        }
    }

    /// How it stands, in words.
    #[must_use]
    pub fn says(&self, on: Day) -> String {
        let (sort, signed) = (capital(&self.sort), self.signed.map(day_shown).unwrap_or_default());
        match self.stands(on) {
            Stands::Unsigned => format!("{sort}: not signed, given {}", self.given.map(day_shown).unwrap_or_default()),
            Stands::Good => {
                let good_to = self.until.map_or_else(String::new, |day| format!(", good to {}", day_shown(day)));
                format!("{sort}: signed {signed}{good_to}")
            }
            Stands::EndsSoon(day) => format!("{sort}: signed {signed}, ends {}", day_shown(day)),
            Stands::RanOut(day) => format!("{sort}: ran out {}", day_shown(day)),
        }
    }
}

/// The papers that count: of each sort the one that is good longest, a signed one before an unsigned one. A paper of another
/// sort stands for itself.
#[must_use]
pub fn counting(papers: &[Paper]) -> Vec<&Paper> {
    let rank = |paper: &Paper| (paper.signed.is_some(), paper.until.unwrap_or(Day::MAX), paper.given, paper.number);
    let better = |own: &Paper| papers.iter().any(|other| other.sort == own.sort && own.sort != "other" && rank(other) > rank(own));
    papers.iter().filter(|own| !better(own)).collect()
}

/// A household as the register shows it.
#[derive(Clone, Debug)]
pub struct Line {
    /// Its record.
    pub number: i64,
    /// What the clipboard calls it.
    pub label: String,
    /// Its name.
    pub name: String,
    /// How the milk reaches it.
    pub way: Channel,
    /// What it needs.
    pub needs: Vec<Need>,
    /// What it lacks.
    pub lacks: Vec<Lack>,
    /// Its papers.
    pub papers: Vec<Paper>,
}

impl Line {
    /// The papers of it that end within [`ENDS_SOON`] days.
    fn ending(&self, on: Day) -> Vec<String> {
        counting(&self.papers).into_iter().filter(|own| matches!(own.stands(on), Stands::EndsSoon(_))).map(|own| own.says(on)).collect()
    }

    /// What of it is signed and good on a day, in words.
    #[must_use]
    pub fn signed(&self, on: Day) -> String {
        let good = |own: &&Paper| matches!(own.stands(on), Stands::Good | Stands::EndsSoon(_));
        let said: Vec<String> = counting(&self.papers)
            .into_iter()
            .filter(good)
            .map(|own| format!("{} {}", own.sort, own.signed.map(day_shown).unwrap_or_default()))
            .collect();
        if said.is_empty() { "none".to_owned() } else { said.join("; ") }
    }

    /// How it stands on a day, in words.
    #[must_use]
    pub fn stands(&self, on: Day) -> String {
        let mut said: Vec<String> = self.lacks.iter().map(ToString::to_string).collect();
        said.extend(self.ending(on));
        if said.is_empty() { "complete".to_owned() } else { said.join("; ") }
    }
}

/// The register as a sheet: those that lack something first, each household on one line.
#[must_use]
pub fn register(lines: &[Line], farm: &str, on: Day) -> Sheet {
    let mut table = Table::new(
        "households",
        "Every household, with what it needs before it may have milk",
        &[
            ("Household", Holds::Words, 3),
            ("Milk by", Holds::Repeats, 2),
            ("Needs", Holds::Repeats, 4),
            ("Signed", Holds::Words, 5),
            ("How it stands", Holds::Words, 5),
        ],
    );
    "Nobody is with the farm today.".clone_into(&mut table.when_empty);
    let mut sorted: Vec<&Line> = lines.iter().collect();
    sorted.sort_by_key(|own| (own.lacks.is_empty(), own.ending(on).is_empty()));
    for own in sorted {
        let needs: Vec<String> = own.needs.iter().map(ToString::to_string).collect();
        let needs = if needs.is_empty() { "nothing is named".to_owned() } else { needs.join(", ") };
        table.rows.push(vec![
            Cell::opening(format!("{} {}", own.label, own.name), format!("/people/{}", own.label)),
            Cell::says(own.way.to_string()),
            Cell::says(needs),
            Cell::says(own.signed(on)),
            Cell::says(own.stands(on)),
        ]);
    }
    let count = |so: &dyn Fn(&Line) -> bool| lines.iter().filter(|own| so(own)).count().to_string();
    let facts = [
        ("Farm", farm.to_owned()),
        ("As of", day_shown(on)),
        ("Households", lines.len().to_string()),
        ("Lack something", count(&|own| !own.lacks.is_empty())),
        ("A paper ends within 60 days", count(&|own| !own.ending(on).is_empty())),
    ];
    Sheet {
        name: "agreements".to_owned(),
        title: "Agreements".to_owned(),
        under: "What each household signed, and what it lacks".to_owned(),
        facts: facts.into_iter().map(|(name, says)| (name.to_owned(), says)).collect(),
        parts: vec![
            Part::Table(table),
            Part::Words(
                "What is needed comes from the rules that are followed; a share in the herd always asks for a bill of sale and a boarding \
                 agreement, which is the farm’s own choice where no rule says it."
                    .to_owned(),
            ),
        ],
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::when::parse_day;

    fn day(typed: &str) -> Day {
        parse_day(typed).unwrap()
    }

    fn paper(number: i64, sort: &str, signed: Option<&str>, until: Option<&str>) -> Paper {
        Paper {
            number,
            person: 1,
            sort: sort.to_owned(),
            given: Some(day("2026-01-02")),
            signed: signed.map(day),
            until: until.map(day),
            document: None,
            note: String::new(),
            version: 1,
        }
    }

    /// Source: Colorado Revised Statutes 25-5.5-117, second-hand: the signed bill of sale and boarding contract come first.
    #[test]
    fn several_ways_ask_for_what_each_of_them_asks() {
        let asked = Asked::default();
        assert_eq!(asked.of_all(&[Channel::FarmGate, Channel::Herdshare]), asked.of(Channel::Herdshare));
        assert_eq!(asked.of_all(&[Channel::FarmGate]), []);
    }

    #[test]
    fn a_paper_ends_on_its_last_day_and_not_before() {
        let own = paper(1, "boarding agreement", Some("2026-01-02"), Some("2026-12-31"));
        assert_eq!(own.stands(day("2026-10-31")), Stands::Good, "the 60 days have not begun");
        assert_eq!(own.stands(day("2026-11-01")), Stands::EndsSoon(day("2026-12-31")));
        assert_eq!(own.stands(day("2026-12-31")), Stands::EndsSoon(day("2026-12-31")));
        assert_eq!(own.stands(day("2027-01-01")), Stands::RanOut(day("2026-12-31")));
        assert_eq!(own.stands(day("2026-01-01")), Stands::Unsigned, "signed tomorrow is not signed today");
    }

    #[test]
    fn the_paper_that_is_good_longest_counts() {
        let old = paper(1, "boarding agreement", Some("2026-01-02"), Some("2026-12-31"));
        let renewed = paper(2, "boarding agreement", Some("2026-12-20"), Some("2027-12-31"));
        let next = paper(3, "boarding agreement", None, None);
        let (one, other) = (paper(4, "other", Some("2026-01-02"), None), paper(5, "other", Some("2026-02-02"), None));
        let all = [old, renewed, next, one, other];
        assert_eq!(counting(&all).iter().map(|own| own.number).collect::<Vec<_>>(), [2, 4, 5]);
    }

    #[test]
    fn those_that_lack_something_stand_first() {
        let line = |label: &str, lacks: Vec<Lack>, papers| Line {
            number: 1,
            label: label.to_owned(),
            name: "Invented".to_owned(),
            way: Channel::Herdshare,
            needs: Asked::default().of(Channel::Herdshare),
            lacks,
            papers,
        };
        let signed = vec![paper(1, "bill of sale", Some("2026-01-02"), None)];
        let lines = [line("M01", vec![], signed), line("M02", vec![Lack::Unsigned(Need::BillOfSale)], vec![])];
        let sheet = register(&lines, "Tansyditch Farm", day("2026-11-21"));
        let Part::Table(table) = &sheet.parts[0] else { panic!("the register is a table") };
        let said: Vec<&str> = table.rows.iter().map(|row| row[4].says.as_str()).collect();
        assert_eq!(said, ["no bill of sale is signed", "complete"]);
        assert_eq!(table.rows[1][3].says, "bill of sale Fri 2 Jan 2026");
        assert_eq!(sheet.facts[3].1, "1");
    }
}
