//! Slips that show only beside what is written already: a cow served that is in calf, one quarter tested twice in a minute, a
//! permit under a name one letter off its own.
//!
//! Each is asked about and can be kept: a cow does come back into heat, and two papers may have nearly the same name.

use super::{
    herd::Turn,
    kinds::Kind,
    near::apart,
    records::{Cell, Record, Remark},
    when::{Moment, Zone, day_shown},
};

/// Days within which a second service is more likely the first one written twice. A cow comes back into heat after about 21
/// days, hardly before 18 (common practice).
const TOO_SOON: i64 = 10;

/// A cow, as far as the questions look at her.
#[derive(Clone, Copy, Debug)]
pub struct Cow<'a> {
    /// Her number.
    pub number: i64,
    /// Her name.
    pub name: &'a str,
    /// The quarters she is milked on.
    pub quarters: i64,
}

impl<'a> Cow<'a> {
    /// The cow of a record of hers.
    #[must_use]
    pub fn of(kind: &Kind, record: &'a Record) -> Cow<'a> {
        let quarters = record.cell(kind, "quarters").whole().unwrap_or(4);
        Cow { number: record.number, name: record.cell(kind, "name").text(), quarters }
    }
}

/// The records of a cow among all of a kind, without the one that is being corrected.
fn of_cow<'r>(kind: &'r Kind, all: &'r [Record], cow: i64, but: Option<i64>) -> impl Iterator<Item = &'r Record> {
    all.iter().filter(move |own| *own.cell(kind, "cow") == Cell::To(cow) && Some(own.number) != but)
}

/// What to ask about a herd event beside those of the same cow.
#[must_use]
pub fn event(kind: &Kind, cells: &[Cell], cow: Cow, all: &[Record], but: Option<i64>, zone: Zone) -> Option<Remark> {
    let at = kind.cell(cells, "at").moment().filter(|_| kind.cell(cells, "sort").text() == "served")?;
    let mut turns: Vec<(Turn, Moment)> = of_cow(kind, all, cow.number, but)
        .filter_map(|own| Some((Turn::of(own.cell(kind, "sort").text(), None), own.cell(kind, "at").moment()?)))
        .collect();
    turns.sort_by_key(|(_, at)| *at);
    let name = cow.name;
    let in_calf = turns.iter().filter(|(_, own)| *own <= at).fold(None, |before, (turn, own)| match turn {
        Turn::InCalf(_) => Some(*own),
        Turn::Calved | Turn::NotInCalf => None,
        _ => before,
    });
    if let Some(found) = in_calf {
        let says = format!(
            "{name} was found in calf on {}. Was she served all the same? If she is not in calf after all, write that first.",
            day_shown(zone.day(found))
        );
        return Some(Remark::question("sort", says, None));
    }
    let near = |own: &Moment| own.minutes_since(at).abs() < TOO_SOON * 24 * 60;
    let twice = turns.iter().find(|(turn, own)| matches!(turn, Turn::Served(_)) && near(own))?;
    let says = format!("{name} is written as served on {} already. Is this the same service twice?", day_shown(zone.day(twice.1)));
    Some(Remark::question("sort", says, None))
}

/// What to ask about a strip test beside those of the same cow, and beside the quarters she is milked on.
#[must_use]
pub fn strip_test(kind: &Kind, cells: &[Cell], cow: Cow, all: &[Record], but: Option<i64>) -> Option<Remark> {
    let quarter = kind.cell(cells, "quarter").text();
    let mut own = of_cow(kind, all, cow.number, but);
    if let Some(same) = own.find(|own| own.cell(kind, "at") == kind.cell(cells, "at") && own.cell(kind, "quarter").text() == quarter) {
        let says =
            format!("A score of this quarter is written for the same minute already: {}. Is this the same test twice?", score(kind, same));
        return Some(Remark::question("score", says, None));
    }
    if cow.quarters >= 4 || quarter == "all" {
        return None;
    }
    Some(Remark::question("quarter", few_quarters(cow), None))
}

fn score<'r>(kind: &Kind, record: &'r Record) -> &'r str {
    record.cell(kind, "score").text()
}

/// The question about a score for a quarter that may give no milk.
#[must_use]
pub fn few_quarters(cow: Cow) -> String {
    let Cow { name, quarters, .. } = cow;
    let which = if quarters == 1 { "1 quarter" } else { &format!("{quarters} quarters") };
    format!("{name} is milked on {which}, by her record. Is each score of a quarter that gives milk?")
}

/// What to ask about a paper beside the others of its sort: under a name one letter off, the old one would stay due.
#[must_use]
pub fn renewal(kind: &Kind, cells: &[Cell], all: &[Record], but: Option<i64>) -> Option<Remark> {
    let (sort, what) = (kind.cell(cells, "sort"), kind.cell(cells, "what").text());
    let same_sort = all.iter().filter(|own| own.cell(kind, "sort") == sort && Some(own.number) != but);
    let names: Vec<&str> = same_sort.map(|own| own.cell(kind, "what").text().trim()).collect();
    if names.iter().any(|name| apart(name, what) == 0) {
        return None;
    }
    let near = names.into_iter().find(|name| apart(name, what) == 1)?;
    let says = format!("There is “{near}” already. Is this the same paper? Then write its name the same way, or the old one stays due.");
    Some(Remark::question("what", says, Some(near.to_owned())))
}
