//! Erasing a name: when it may be done, and what is left of each record afterwards.
//!
//! Lots, jars and dates stay, because the farm has to answer for its milk; who somebody was does not have to be known for that
//! once the law no longer asks for it.

use super::{
    kinds::Kind,
    records::{Cell, Record},
    when::Day,
};
use chrono::Months;
use serde_json::{Value, json};

/// Whether a name may be erased.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum May {
    /// It may.
    Yes,
    /// They are still with the farm.
    StillHere,
    /// No rule that was followed says how long records are kept.
    NoRule,
    /// Their records are kept to this day.
    KeptTo(Day),
}

/// Whether a name may be erased on a day: they have left, and the longest time any rule that was followed has records kept is
/// over, counted from the day they left or their last hand-out, whichever is later.
#[must_use]
pub fn may(left: Option<Day>, last: Option<Day>, keep_years: Option<i64>, today: Day) -> May {
    let Some(left) = left.filter(|left| *left < today) else { return May::StillHere };
    let Some(years) = keep_years else { return May::NoRule };
    let months = u32::try_from(years.saturating_mul(12)).unwrap_or(u32::MAX);
    let end = left.max(last.unwrap_or(left)).checked_add_months(Months::new(months)).unwrap_or(Day::MAX);
    if end < today { May::Yes } else { May::KeptTo(end) }
}

/// What is left of a name: `member 17` of M17. A label without a figure may be a name itself, and goes too.
#[must_use]
pub fn left_of(sort: &str, label: &str, number: i64) -> (String, String) {
    let figures: String = label.chars().filter(char::is_ascii_digit).collect();
    let figure: i64 = figures.parse().unwrap_or(number);
    let label = if figures.is_empty() { format!("E{number}") } else { label.to_owned() };
    (format!("{sort} {figure}"), label)
}

/// What is taken out of the ledger, and what takes its place.
#[derive(Clone, Debug, Default)]
pub struct Erasure {
    /// The household's record.
    pub person: i64,
    /// What its name becomes.
    pub name: String,
    /// What its label becomes.
    pub label: String,
    /// Whole texts that go wherever they stand: names, phones, addresses; each with what takes its place.
    pub texts: Vec<(String, String)>,
    /// The words of its names, which go out of its own records and of what it said.
    pub words: Vec<(String, String)>,
    /// Papers of it whose bytes go.
    pub documents: Vec<i64>,
    /// The SHA-256 and the size of what takes their place.
    pub blank: (String, i64),
}

/// How long a text must be to be taken out of the middle of a word, as in a plural.
const LONG: usize = 5;

impl Erasure {
    /// Takes a text and what takes its place, and the words of a name apart. A text that is no text takes nothing out.
    pub fn take_out(&mut self, text: &str, place: &str, is_name: bool) {
        let text = text.trim();
        // What an erasure before this one left is no name.
        if text.chars().count() < 2 || text == self.name || text == STAND_IN || self.texts.iter().any(|(own, _)| own == text) {
            return;
        }
        self.texts.push((text.to_owned(), place.to_owned()));
        // The longest first, so that a name is gone before a part of it is looked for.
        self.texts.sort_by_key(|(own, _)| std::cmp::Reverse(own.len()));
        if is_name {
            let words = text.split(|c: char| !c.is_alphanumeric()).filter(|word| word.chars().count() >= 3);
            self.words.extend(words.map(|word| (word.to_owned(), place.to_owned())));
        }
    }

    /// A text without what is taken out; `own` for what the household's own records say.
    #[must_use]
    pub fn scrubbed(&self, text: &str, own: bool) -> String {
        let mut text = text.to_owned();
        for (gone, place) in self.texts.iter().chain(if own { self.words.iter() } else { [].iter() }) {
            text = without(&text, gone, place);
        }
        text
    }

    /// Whether words of the name are left in a text of somebody else's.
    #[must_use]
    pub fn is_named_in(&self, text: &str) -> bool {
        self.words.iter().filter(|(word, _)| word.chars().count() > 3).any(|(word, place)| without(text, word, place) != text)
    }

    /// What is left of one text of a record; nothing when the cell becomes empty.
    fn left_in(&self, kind: &str, own: bool, column: &str, text: &str) -> Option<String> {
        match (own, kind, column) {
            (true, "people", "name") => Some(self.name.clone()),
            (true, "people", "label") => Some(self.label.clone()),
            (true, "collectors", "name") => Some(STAND_IN.to_owned()),
            (true, "people", "phone" | "second_way")
            | (true, "collectors", "reach")
            | (true, "pickups", "taken_by")
            | (true, "people" | "shares" | "pauses" | "agreements" | "empties", "note") => None,
            (true, "pickups", _) => Some(self.scrubbed(text, false)),
            _ => Some(self.scrubbed(text, own)),
        }
    }

    /// Whether a record is the household's own: its record itself, or one that names it.
    fn owns(&self, kind: &str, number: i64, person: Option<i64>) -> bool {
        if kind == "people" { number == self.person } else { person == Some(self.person) }
    }

    /// A line of the journal without what is taken out.
    #[must_use]
    pub fn line(&self, kind: &str, number: i64, line: &str) -> String {
        let Ok(Value::Object(mut cells)) = serde_json::from_str(line) else { return line.to_owned() };
        let before = cells.clone();
        let own = self.owns(kind, number, cells.get("person").and_then(Value::as_i64));
        for (column, value) in &mut cells {
            if matches!(column.as_str(), "entry" | "who" | "source") {
                continue;
            }
            if let Value::String(text) = value {
                *value = self.left_in(kind, own, column, text).map_or(Value::Null, Value::String);
            }
        }
        if kind == "documents" && self.documents.contains(&number) {
            cells.insert("name".to_owned(), json!(ERASED_PAPER));
            cells.insert("hash".to_owned(), json!(self.blank.0));
            cells.insert("size".to_owned(), json!(self.blank.1));
        }
        // What nothing was taken out of stays as it was written, byte for byte.
        if cells == before { line.to_owned() } else { Value::Object(cells).to_string() }
    }

    /// Whether the reason beside a line is about the household's own record.
    #[must_use]
    pub fn is_own(&self, kind: &str, number: i64, line: &str) -> bool {
        let person = serde_json::from_str::<Value>(line).ok().and_then(|line| line["person"].as_i64());
        self.owns(kind, number, person)
    }

    /// A record without what is taken out.
    #[must_use]
    pub fn record(&self, kind: &Kind, record: &Record) -> Record {
        let own = self.owns(kind.name, record.number, record.cell(kind, "person").whole());
        let mut left = record.clone();
        for (column, cell) in kind.columns.iter().zip(&mut left.cells) {
            if let Cell::Text(text) = cell {
                *cell = self.left_in(kind.name, own, column.name, text).map_or(Cell::Empty, Cell::Text);
            }
        }
        if kind.name == "documents" && self.documents.contains(&record.number) {
            let blank = [
                ("name", Cell::Text(ERASED_PAPER.to_owned())),
                ("hash", Cell::Text(self.blank.0.clone())),
                ("size", Cell::Whole(self.blank.1)),
            ];
            for (column, cell) in blank {
                if let Some(own) = kind.place_of(column).and_then(|place| left.cells.get_mut(place)) {
                    *own = cell;
                }
            }
        }
        left
    }
}

/// What is left of the name of whoever fetched for a household.
const STAND_IN: &str = "stand-in";

/// What a paper is called whose bytes were erased.
const ERASED_PAPER: &str = "erased.pdf";

/// A text with every place of another taken out, whatever its capitals. A short one only where it stands as a word.
fn without(text: &str, gone: &str, place: &str) -> String {
    let (bytes, needle) = (text.as_bytes(), gone.as_bytes());
    let whole_word = gone.chars().count() < LONG;
    let (mut left, mut at) = (String::with_capacity(text.len()), 0);
    while at < text.len() {
        let end = at + needle.len();
        let fits = end <= text.len()
            && text.is_char_boundary(end)
            && bytes[at..end].eq_ignore_ascii_case(needle)
            && !text[..at].ends_with(char::is_alphanumeric)
            && !(whole_word && text[end..].starts_with(char::is_alphanumeric));
        if fits && !needle.is_empty() {
            left.push_str(place);
            at = end;
        } else {
            let next = text[at..].chars().next().map_or(1, char::len_utf8);
            left.push_str(&text[at..at + next]);
            at += next;
        }
    }
    left
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::when::parse_day;

    fn day(typed: &str) -> Day {
        parse_day(typed).unwrap()
    }

    #[test]
    fn a_name_is_kept_as_long_as_the_longest_rule_says() {
        let (left, last) = (Some(day("2023-03-31")), Some(day("2023-05-02")));
        assert_eq!(may(None, last, Some(3), day("2030-01-01")), May::StillHere);
        assert_eq!(may(Some(day("2026-12-01")), last, Some(0), day("2026-11-21")), May::StillHere, "they leave in December");
        assert_eq!(may(left, None, Some(3), day("2026-03-31")), May::KeptTo(day("2026-03-31")));
        assert_eq!(may(left, None, Some(3), day("2026-04-01")), May::Yes);
        assert_eq!(may(left, last, Some(3), day("2026-04-01")), May::KeptTo(day("2026-05-02")), "their last jars went later");
        assert_eq!(may(left, None, None, day("2099-01-01")), May::NoRule, "what is not known never means nothing");
        assert_eq!(may(Some(day("2024-02-29")), None, Some(1), day("2025-03-01")), May::Yes);
    }

    #[test]
    fn a_label_leaves_its_figure() {
        assert_eq!(left_of("member", "M17", 4), ("member 17".to_owned(), "M17".to_owned()));
        assert_eq!(left_of("walk-in", "W03", 4), ("walk-in 3".to_owned(), "W03".to_owned()));
        assert_eq!(left_of("member", "ORLA", 4), ("member 4".to_owned(), "E4".to_owned()));
    }

    fn erasure() -> Erasure {
        let mut erasure = Erasure { person: 17, name: "member 17".to_owned(), label: "M17".to_owned(), ..Erasure::default() };
        erasure.take_out("Ann Tremont", "member 17", true);
        erasure.take_out("555-0117", "a phone", false);
        erasure
    }

    #[test]
    fn a_name_goes_wherever_it_stands_and_its_words_out_of_its_own_records() {
        let own = erasure();
        assert_eq!(own.scrubbed("Rang ANN TREMONT on 555-0117.", false), "Rang member 17 on a phone.");
        assert_eq!(own.scrubbed("Tremont’s jars; the Tremonts", true), "member 17’s jars; the member 17s");
        assert_eq!(own.scrubbed("Ann came, Hannah and Annie did not", true), "member 17 came, Hannah and Annie did not");
        assert_eq!(own.scrubbed("Tremont’s field", false), "Tremont’s field", "another record may speak of another");
        assert!(own.is_named_in("Tremont’s field") && !own.is_named_in("Ann"));
        assert_eq!(own.scrubbed("🐄 Käse für Ann Tremont", false), "🐄 Käse für member 17");
    }

    #[test]
    fn lots_jars_and_dates_stay_and_what_says_who_goes() {
        let own = erasure();
        let line = r#"{"at":1,"entry":"Ann Tremont","half_gallons":2,"lot":9,"person":17,"taken_by":"Ann’s sister","who":"Mina"}"#;
        let left = r#"{"at":1,"entry":"Ann Tremont","half_gallons":2,"lot":9,"person":17,"taken_by":null,"who":"Mina"}"#;
        assert_eq!(own.line("pickups", 3, line), left);
        let others = r#"{"person":18, "taken_by":"Ann"}"#;
        assert_eq!(own.line("pickups", 4, others), others, "another household’s line stays byte for byte");
        let person = r#"{"label":"M17","name":"Ann Tremont","note":"x","phone":"555-0117","second_way":null,"since":"2020-01-01"}"#;
        let left = r#"{"label":"M17","name":"member 17","note":null,"phone":null,"second_way":null,"since":"2020-01-01"}"#;
        assert_eq!(own.line("people", 17, person), left);
        let said = r#"{"person":17,"says":"This is Ann. My jar was sour."}"#;
        assert_eq!(own.line("complaints", 1, said), r#"{"person":17,"says":"This is member 17. My jar was sour."}"#);
    }
}
