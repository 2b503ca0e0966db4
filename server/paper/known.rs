//! What the keys in a folder name: `Damson` a cow, `6134A-S` the fill it meant at the time.

use crate::trade::{
    book::Book,
    codes::LotName,
    kinds::{KINDS, kind},
    near,
    when::{Moment, Zone},
};
use std::collections::HashMap;

/// What each key names.
pub struct Known {
    keys: HashMap<(&'static str, String), Vec<(i64, i64)>>,
    said: HashMap<&'static str, Vec<String>>,
    zone: Zone,
}

impl Known {
    /// The keys of a book's records.
    pub fn of(book: &Book) -> Known {
        let mut known = Known { keys: HashMap::new(), said: HashMap::new(), zone: book.zone() };
        for kind in KINDS {
            let when = kind.happened.and_then(|column| kind.place_of(column));
            for record in book.of(kind.name) {
                let said = kind.key.map_or_else(|| record.number.to_string(), |key| record.cell(kind, key).text().to_owned());
                let at = when.and_then(|place| record.cells[place].whole()).unwrap_or(0);
                known.keys.entry((kind.name, said.to_lowercase())).or_default().push((at, record.number));
                known.said.entry(kind.name).or_default().push(said);
            }
        }
        known.keys.values_mut().for_each(|fills| fills.sort_unstable());
        known
    }

    /// The record with this key; of lots the newest filled by that time, or the one of the day that is said, for a code comes round
    /// again after ten years.
    pub fn number(&self, target: &'static str, key: &str, at: i64) -> Option<i64> {
        if target != "lots" {
            return self.keys.get(&(target, key.to_lowercase()))?.first().map(|(_, number)| *number);
        }
        let name = LotName::parse(key).ok()?;
        let fills = self.keys.get(&(target, name.code.as_str().to_lowercase()))?;
        let found = match name.filled {
            Some(day) => fills.iter().find(|(filled, _)| self.zone.day(Moment::seconds(*filled)) == day),
            None => fills.iter().rev().find(|(filled, _)| *filled <= at).or(fills.last()),
        };
        found.map(|(_, number)| *number)
    }

    /// A sentence about a key nobody knows, with the nearest known ones.
    pub fn nearest(&self, target: &'static str, key: &str) -> String {
        let one = kind(target).map_or("record", |kind| kind.one);
        near::unknown(one, key, self.said.get(target).map_or(&[][..], Vec::as_slice).iter().map(String::as_str))
    }
}
