//! A day as it was packed: the list on paper, and what differed when a crate was handed out.

use super::{
    channels::Channel,
    figures::{Cell, Holds, Part, Sheet, Table},
    jars::Jars,
    parts::Hundredths,
    pickups::Offer,
    sharing::Portion,
    when::{Day, Moment, Zone, day_shown},
};
use std::collections::BTreeMap;

/// What differed when a crate was handed out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Took {
    /// Exactly what was packed, and as many empties came back.
    AsPacked,
    /// They have not come.
    NotHere,
    /// One jar more.
    OneMore,
    /// One jar fewer.
    OneFewer,
    /// What was packed, and no empties came back.
    NoEmpties,
}

impl Took {
    /// Every way, with the word of the form.
    pub const WORDS: [(Took, &'static str); 5] = [
        (Took::AsPacked, "as packed"),
        (Took::NotHere, "not here"),
        (Took::OneMore, "1 more"),
        (Took::OneFewer, "1 fewer"),
        (Took::NoEmpties, "no empties"),
    ];

    /// The way a word names.
    #[must_use]
    pub fn parse(typed: &str) -> Option<Took> {
        Took::WORDS.iter().find(|(_, word)| *word == typed).map(|(took, _)| *took)
    }

    /// What its tile says: short enough for five of them on a phone.
    #[must_use]
    pub fn short(self) -> &'static str {
        match self {
            Took::AsPacked => "as packed",
            Took::NotHere => "not here",
            Took::OneMore => "+1",
            Took::OneFewer => "\u{2212}1",
            Took::NoEmpties => "no empties",
        }
    }

    /// The jars of each lot that were taken, of those packed. One fewer is the newest jar left standing. One more is none of
    /// those packed; [`one_more`] says of which lot.
    #[must_use]
    pub fn of(self, packed: &[(String, i64)]) -> Vec<(String, i64)> {
        let mut took = packed.to_vec();
        match (self, took.last_mut()) {
            (Took::NotHere, _) => took.clear(),
            (Took::OneFewer, Some((_, jars))) => *jars -= 1,
            _ => {}
        }
        took.retain(|(_, jars)| *jars > 0);
        took
    }
}

/// The lot of a jar more than was packed: one that was left over in the same act, or else the oldest that can go and is free.
/// `offers` are the lots as they are once the crate itself is gone.
#[must_use]
pub fn one_more(offers: &[Offer], way: Channel, left_over: &[String]) -> Option<String> {
    let goes = |offer: &&Offer| offer.has(Jars::halves(1), way);
    let free: Vec<&Offer> = offers.iter().filter(goes).collect();
    let over = free.iter().filter(|offer| left_over.contains(&offer.code)).min_by_key(|offer| offer.filled);
    over.or_else(|| free.iter().min_by_key(|offer| offer.filled)).map(|offer| offer.code.clone())
}

/// Why a packing is not taken back any more.
#[must_use]
pub fn stands(label: &str) -> String {
    format!("{label} has theirs already, so this packing stands. What differs is written down when it is handed out.")
}

/// A day as it was packed, for the list on paper.
#[derive(Clone, Debug)]
pub struct List {
    /// The day.
    pub day: Day,
    /// When it was packed.
    pub at: Moment,
    /// By whom.
    pub who: String,
    /// How it was shared.
    pub method: String,
    /// Half-gallons that were ready.
    pub ready: i64,
    /// Each household: its number and name, its sum, why it differs from the sum, and its lots.
    pub rows: Vec<Listed>,
}

/// One household of the list.
#[derive(Clone, Debug)]
pub struct Listed {
    /// What the clipboard calls it.
    pub label: String,
    /// Its name.
    pub name: String,
    /// Its sum.
    pub portion: Portion,
    /// Why it differs from the sum.
    pub reason: String,
    /// Half-gallons of each lot.
    pub lots: Vec<(String, i64)>,
}

impl Listed {
    /// The sum as one sentence to whoever it is about, and why it was changed, if it was.
    #[must_use]
    pub fn told(&self) -> String {
        let why = self.reason.trim_end_matches('.');
        if why.is_empty() { self.portion.told() } else { format!("{} Changed by hand: {why}.", self.portion.told()) }
    }
}

impl List {
    /// The list as a sheet: each household with its jars, and each lot with how many go of it. Why the owner changed a sum, and
    /// a household's own page, are hers.
    #[must_use]
    pub fn sheet(&self, zone: Zone, is_owner: bool) -> Sheet {
        let promised: Hundredths = self.rows.iter().map(|row| row.portion.promised).sum();
        let packed: i64 = self.rows.iter().map(|row| row.portion.jars).sum();
        let facts = vec![
            ("For".to_owned(), day_shown(self.day)),
            ("Half-gallons on the shelf that may go".to_owned(), self.ready.to_string()),
            ("Half-gallons promised".to_owned(), promised.to_string()),
            ("Half-gallons packed".to_owned(), packed.to_string()),
            ("Shared, when short".to_owned(), self.method.clone()),
            ("Packed".to_owned(), format!("{}, by {}", zone.in_full(self.at), self.who)),
        ];
        let parts = vec![Part::Table(self.households(packed, is_owner)), Part::Table(self.lots())];
        Sheet {
            name: format!("packing-{}", self.day),
            title: format!("Packing list, {}", day_shown(self.day)),
            under: String::new(),
            facts,
            parts,
        }
    }

    fn households(&self, packed: i64, is_owner: bool) -> Table {
        let columns =
            [("Household", Holds::Words, 5), ("Half-gallons", Holds::Figures, 2), ("Lots", Holds::Words, 5), ("The sum", Holds::Words, 9)];
        let mut table = Table::new("households", "By household", &columns);
        "Nobody is packed for this day.".clone_into(&mut table.when_empty);
        for row in &self.rows {
            let lots: Vec<String> = row.lots.iter().map(|(lot, jars)| format!("{jars} × {lot}")).collect();
            let called = format!("{} {}", row.label, row.name);
            table.rows.push(vec![
                if is_owner { Cell::opening(called, format!("/people/{}", row.label)) } else { Cell::says(called) },
                Cell::says(row.portion.jars.to_string()),
                Cell::says(lots.join(", ")),
                Cell::says(if is_owner { row.told() } else { row.portion.told() }),
            ]);
        }
        table.total = Some(vec![Cell::says("All"), Cell::says(packed.to_string()), Cell::default(), Cell::default()]);
        table
    }

    fn lots(&self) -> Table {
        let mut sums: BTreeMap<&str, (i64, Vec<&str>)> = BTreeMap::new();
        for row in &self.rows {
            for (lot, jars) in &row.lots {
                let own = sums.entry(lot).or_default();
                own.0 += jars;
                own.1.push(&row.label);
            }
        }
        let mut table =
            Table::new("lots", "By lot", &[("Lot", Holds::Codes, 3), ("Half-gallons", Holds::Figures, 2), ("For", Holds::Words, 10)]);
        "No jar is packed.".clone_into(&mut table.when_empty);
        for (lot, (jars, whose)) in sums {
            let cells = vec![Cell::opening(lot, format!("/lots/{lot}")), Cell::says(jars.to_string()), Cell::says(whose.join(", "))];
            table.rows.push(cells);
        }
        table
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_differs_is_said_with_one_word() {
        let packed = [("old".to_owned(), 1), ("new".to_owned(), 2)];
        let lots = |took: Took| took.of(&packed).iter().map(|(lot, jars)| format!("{jars} {lot}")).collect::<Vec<_>>().join(", ");
        assert_eq!(lots(Took::AsPacked), "1 old, 2 new");
        assert_eq!(lots(Took::NoEmpties), "1 old, 2 new");
        assert_eq!(lots(Took::OneMore), "1 old, 2 new", "and one more, of whatever lot is free");
        assert_eq!(lots(Took::OneFewer), "1 old, 1 new");
        assert_eq!(lots(Took::NotHere), "");
        assert_eq!(Took::OneFewer.of(&[("only".to_owned(), 1)]), []);
    }
}
