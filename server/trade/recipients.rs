//! Who has jars of some lots: every hand-out, and everybody to be rung, in the order to ring them. Somebody unknown is
//! counted like anybody else, because a jar that nobody can be rung about is still out there.

use super::{
    figures::{Cell, Holds, Table},
    jars::Jars,
    when::{Moment, Zone},
    whereabouts::{self, Caught},
};
use std::collections::{BTreeMap, BTreeSet};

/// A household that took jars.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Household {
    /// Its number in the ledger.
    pub number: i64,
    /// The number it goes by.
    pub label: String,
    /// The name.
    pub name: String,
    /// Phone; empty when not known.
    pub phone: String,
    /// The second way to reach them.
    pub second_way: String,
}

impl Household {
    /// How it is called: number and name.
    #[must_use]
    pub fn called(&self) -> String {
        format!("{} {}", self.label, self.name)
    }
}

/// One hand-out of jars of one of the lots.
#[derive(Clone, Debug)]
pub struct HandedOut {
    /// Its number.
    pub number: i64,
    /// The lot's number.
    pub lot: i64,
    /// When.
    pub at: Moment,
    /// The jars.
    pub jars: Jars,
    /// How it is known: seen, signed or assumed.
    pub evidence: String,
    /// Who carried them away, when that was somebody else.
    pub taken_by: String,
    /// The household; nothing for an unknown walk-in.
    pub to: Option<Household>,
}

/// What one household has in all, or one hand-out to somebody unknown.
pub struct Ring<'a> {
    /// The household; nothing for somebody unknown.
    pub to: Option<&'a Household>,
    carried: &'a str,
    jars: Jars,
    last: Moment,
    lots: BTreeSet<(bool, &'a str)>,
    evidence: BTreeSet<&'a str>,
    number: i64,
}

/// The word for a tie.
#[must_use]
pub const fn tie_word(certain: bool) -> &'static str {
    if certain { "certain" } else { "possible" }
}

/// Words, or others when there are none.
#[must_use]
pub fn or(words: &str, otherwise: &str) -> String {
    if words.trim().is_empty() { otherwise.to_owned() } else { words.to_owned() }
}

fn by_number(lots: &[Caught]) -> BTreeMap<i64, &Caught> {
    lots.iter().map(|lot| (lot.number, lot)).collect()
}

/// Everybody else who has any of it: one entry for each household and one for each hand-out to somebody unknown. The
/// latest taken come first, and of one day those with the most jars: theirs are the likeliest not to be drunk yet.
#[must_use]
pub fn rings<'a>(lots: &'a [Caught], handed: &'a [HandedOut], teller: Option<&Household>, zone: Zone) -> Vec<Ring<'a>> {
    let lots = by_number(lots);
    let mut rings: BTreeMap<(Option<i64>, i64), Ring<'a>> = BTreeMap::new();
    for out in handed.iter().filter(|out| out.to.is_none() || out.to.as_ref() != teller) {
        let Some(lot) = lots.get(&out.lot) else { continue };
        let key = out.to.as_ref().map_or((None, out.number), |to| (Some(to.number), 0));
        let ring = rings.entry(key).or_insert_with(|| Ring {
            to: out.to.as_ref(),
            carried: &out.taken_by,
            jars: Jars::NONE,
            last: out.at,
            lots: BTreeSet::new(),
            evidence: BTreeSet::new(),
            number: out.number,
        });
        ring.jars = ring.jars + out.jars;
        ring.last = ring.last.max(out.at);
        ring.lots.insert((!lot.tie.is_certain(), &lot.code));
        ring.evidence.insert(&out.evidence);
    }
    let mut rings: Vec<Ring<'a>> = rings.into_values().collect();
    rings.sort_by_key(|ring| {
        let label = ring.to.map(|to| to.label.as_str());
        (std::cmp::Reverse(zone.day(ring.last)), std::cmp::Reverse(ring.jars.in_half_gallons()), label.is_none(), label)
    });
    rings
}

/// A phone number that a phone can ring.
fn phone(number: &str) -> Cell {
    let digits: String = number.chars().filter(|c| c.is_ascii_digit() || *c == '+').collect();
    match (number.trim().is_empty(), digits.is_empty()) {
        (true, _) => Cell::says("no phone written down"),
        (_, true) => Cell::says(number),
        _ => Cell::opening(number, format!("tel:{digits}")),
    }
}

/// Everybody to be rung, in the order to ring them.
#[must_use]
pub fn ring_table(rings: &[Ring<'_>], zone: Zone) -> Table {
    let columns = [
        ("Who", Holds::Words, 5),
        ("Phone", Holds::Words, 4),
        ("Second way", Holds::Words, 5),
        ("Jars", Holds::Words, 4),
        ("Lots", Holds::Words, 4),
        ("Last taken", Holds::Words, 4),
        ("How known", Holds::Words, 3),
        ("Tie", Holds::Words, 3),
    ];
    let mut table = Table::new("households", "Everybody who has that milk", &columns);
    "Nobody has taken any jar of these lots.".clone_into(&mut table.when_empty);
    for ring in rings {
        let certain = ring.lots.iter().any(|(possible, _)| !possible);
        // Which of them are only possible needs saying where some are certain; otherwise the last column says it of all.
        let code = |(possible, code): &(bool, &str)| if *possible && certain { format!("{code} (possible)") } else { (*code).to_owned() };
        let lots: Vec<String> = ring.lots.iter().map(code).collect();
        let (who, phone, second) = match ring.to {
            Some(to) => {
                (Cell::opening(to.called(), format!("/records/people/{}", to.number)), phone(&to.phone), or(&to.second_way, "none"))
            }
            None => {
                let seen = if ring.carried.is_empty() { String::new() } else { format!(" (“{}”)", ring.carried) };
                (
                    Cell::opening(format!("an unknown walk-in{seen}"), format!("/records/pickups/{}", ring.number)),
                    Cell::says("cannot be rung"),
                    "a notice where they came".to_owned(),
                )
            }
        };
        let evidence: Vec<&str> = ring.evidence.iter().copied().collect();
        table.rows.push(vec![
            who,
            phone,
            Cell::says(second),
            Cell::says(ring.jars.to_string()),
            Cell::says(lots.join(", ")),
            Cell::says(zone.in_full(ring.last)),
            Cell::says(evidence.join(", ")),
            Cell::says(tie_word(certain)),
        ]);
    }
    table
}

/// Every hand-out, one by one.
#[must_use]
pub fn handed_table(lots: &[Caught], handed: &[HandedOut], zone: Zone) -> Table {
    let lots = by_number(lots);
    let sizes = whereabouts::sizes(handed.iter().map(|out| out.jars));
    let mut columns = vec![("When", Holds::Words, 5), ("Lot", Holds::Codes, 3), ("To", Holds::Words, 5)];
    columns.extend(sizes.iter().map(|size| (whereabouts::many(*size), Holds::Figures, 3)));
    columns.push(("How known", Holds::Words, 3));
    let carried = handed.iter().any(|out| !out.taken_by.is_empty());
    if carried {
        columns.push(("Taken by", Holds::Words, 3));
    }
    columns.push(("Tie", Holds::Words, 3));
    let wide = columns.len();
    let mut table = Table::new("handouts", "Every hand-out of these lots", &columns);
    "Nothing of these lots has been handed out.".clone_into(&mut table.when_empty);
    for out in handed {
        let Some(lot) = lots.get(&out.lot) else { continue };
        let to = out.to.as_ref().map_or_else(|| "an unknown walk-in".to_owned(), Household::called);
        let mut row =
            vec![Cell::opening(zone.in_full(out.at), format!("/records/pickups/{}", out.number)), Cell::says(&lot.code), Cell::says(to)];
        row.extend(sizes.iter().map(|size| Cell::says(out.jars.of(*size).to_string())));
        row.push(Cell::says(&out.evidence));
        row.extend(carried.then(|| Cell::says(&out.taken_by)));
        row.push(Cell::says(tie_word(lot.tie.is_certain())));
        table.rows.push(row);
    }
    let all: Jars = handed.iter().map(|out| out.jars).sum();
    let mut total = vec![Cell::says("In all"), Cell::default(), Cell::default()];
    total.extend(sizes.iter().map(|size| Cell::says(all.of(*size).to_string())));
    total.resize(wide, Cell::default());
    table.total = (!table.rows.is_empty()).then_some(total);
    table
}
