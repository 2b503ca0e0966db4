//! Taking households out of what an inspector reads.

use super::super::{
    figures::{Cell, Part, Sheet},
    outwords::Spelt,
};

/// What stands in the place of a name, a phone or an address.
const OUT: &str = "(a household)";

/// The fewest letters a part of a name has that goes on its own: shorter ones are words of the language.
const SHORTEST: usize = 4;

/// What is taken out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Names {
    /// Nothing: the owner switched names on.
    On,
    /// Each of these wherever somebody typed it, the longest first, and how it may be spelt.
    Off(Vec<(String, Spelt)>),
}

impl Names {
    /// Takes out these names and ways to reach somebody, and the last part of each name. What the farm itself is called stays.
    #[must_use]
    pub fn off(names: &[String], ways: &[String], farm: &str) -> Names {
        let farm: Vec<String> = farm.split_whitespace().map(str::to_lowercase).collect();
        let whole = names.iter().chain(ways).map(|word| (word.trim().to_owned(), Spelt::Found));
        // A last name that is also a word of the language goes where it is written as a name.
        let last = names.iter().filter_map(|name| name.split_whitespace().last()).filter(|part| {
            part.chars().count() >= SHORTEST && part.starts_with(char::is_uppercase) && !farm.contains(&part.to_lowercase())
        });
        let mut words: Vec<(String, Spelt)> = whole.chain(last.map(|part| (part.to_owned(), Spelt::OfOthers))).collect();
        words.retain(|(word, _)| !word.is_empty());
        words.sort_by_key(|(word, _)| std::cmp::Reverse(word.chars().count()));
        words.dedup();
        Names::Off(words)
    }

    /// A text without them.
    #[must_use]
    pub fn out_of(&self, text: &str) -> String {
        match self {
            Names::Off(words) if !text.is_empty() => {
                words.iter().fold(text.to_owned(), |text, (word, spelt)| spelt.without(&text, word, OUT))
            }
            _ => text.to_owned(),
        }
    }

    /// A whole sheet without them.
    #[must_use]
    pub fn out_of_sheet(&self, sheet: Sheet) -> Sheet {
        let cell = |cell: Cell| Cell { says: self.out_of(&cell.says), ..cell };
        let part = |part: Part| match part {
            Part::Heading(says) => Part::Heading(self.out_of(&says)),
            Part::Words(says) => Part::Words(self.out_of(&says)),
            Part::Loud(says) => Part::Loud(self.out_of(&says)),
            Part::Table(mut table) => {
                table.rows = table.rows.into_iter().map(|row| row.into_iter().map(cell).collect()).collect();
                Part::Table(table)
            }
            Part::Picture(picture) => Part::Picture(picture),
        };
        let facts = sheet.facts.into_iter().map(|(name, says)| (name, self.out_of(&says))).collect();
        Sheet { facts, parts: sheet.parts.into_iter().map(part).collect(), ..sheet }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn off() -> Names {
        let words = |own: &[&str]| own.iter().map(|word| (*word).to_owned()).collect::<Vec<_>>();
        Names::off(&words(&["Orla Tremont", "Ivo Lee", "Del Tansyditch"]), &words(&["555-0101", "m01@example.org"]), "Tansyditch Farm")
    }

    #[test]
    fn names_phones_and_addresses_go_however_they_are_spelt() {
        let says = "For the Tremonts: ring Orla Tremont, 555 0101 or M01@example.org; Ivo Lee knows";
        assert_eq!(off().out_of(says), "For the (a household)s: ring (a household), (a household) or (a household); (a household) knows");
    }

    #[test]
    fn the_farm_and_short_words_stay() {
        assert_eq!(
            off().out_of("Tansyditch Farm, in the lee of the barn, lot 6134A-S"),
            "Tansyditch Farm, in the lee of the barn, lot 6134A-S"
        );
        assert_eq!(Names::On.out_of("Orla Tremont"), "Orla Tremont");
    }
}
