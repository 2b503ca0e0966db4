//! Erasing a name: when it may be done, and what is left of each record afterwards.
//!
//! Lots, jars and dates stay, because the farm has to answer for its milk; who somebody was does not have to be known for that
//! once the law no longer asks for it.

use super::{
    kinds::Kind,
    numbers::{OWN_PAGE, is_number},
    outwords::Spelt,
    reach::digits,
    records::{Cell, Record, Shape},
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

/// What is left of a name: `member 17` of M17. A label that is no number may be a name itself, and goes too.
#[must_use]
pub fn left_of(sort: &str, label: &str, name: &str, number: i64) -> (String, String) {
    let figures: String = label.chars().filter(char::is_ascii_digit).collect();
    match figures.parse::<i64>().ok().filter(|_| is_number(label, name)) {
        Some(figure) => (format!("{sort} {figure}"), label.to_owned()),
        None => (format!("{sort} {number}"), format!("E{number}")),
    }
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
    /// Those of the texts, in small letters, that somebody or something else still here is called too. They go out of its own
    /// records only.
    pub shared: Vec<String>,
    /// What it was called where it wrote something down itself, when that is no number.
    pub signed: Vec<String>,
    /// Papers of it whose bytes go.
    pub documents: Vec<i64>,
    /// The SHA-256 and the size of what takes their place.
    pub blank: (String, i64),
}

/// Columns that hold what somebody wrote in their own words; whatever else a record of others says stays as it is.
const IN_OWN_WORDS: [&str; 5] = ["note", "notes", "reason", "why", "says"];

/// Columns in which a hand of the farm signed, or which the program wrote by itself: a name in them is not this household's.
const SIGNED: [&str; 12] =
    ["milker", "counter", "done_by", "taken_by", "given_by", "thermometer", "hash", "because", "facts", "over", "marked", "unit"];

/// Whether a column is written in somebody's own words.
fn in_own_words(kind: &str, column: &str) -> bool {
    match kind {
        // The text of the law and what is assumed are the farm's.
        "rules" | "assumptions" | "farm" => false,
        "documents" => column == "name",
        _ => IN_OWN_WORDS.contains(&column),
    }
}

/// Whether a name in a column may be this household's, so that the farmer has to look.
fn is_looked_at(kind: &str, column: &str) -> bool {
    match kind {
        "farm" | "cows" | "vessels" if column == "name" => false,
        "pickups" => column == "taken_by",
        "minutes" => column != "person",
        _ => !SIGNED.contains(&column),
    }
}

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
            let words = text.split(|c: char| !c.is_alphanumeric()).filter(|word| word.chars().count() >= 2);
            self.words.extend(words.map(|word| (word.to_owned(), place.to_owned())));
        }
    }

    /// Leaves those texts to whoever else goes by them: other households, cows, hands, the words of the ledger itself.
    pub fn share(&mut self, others: &[String]) {
        let is_shared = |text: &str| others.iter().any(|other| Spelt::Own.without(other, text, "") != *other);
        self.shared = self.texts.iter().filter(|(text, _)| is_shared(text)).map(|(text, _)| text.to_lowercase()).collect();
    }

    /// A text without what is taken out; `own` for what the household's own records say.
    #[must_use]
    pub fn scrubbed(&self, text: &str, own: bool) -> String {
        let mut left = text.to_owned();
        let spelt = if own { Spelt::Own } else { Spelt::OfOthers };
        for (gone, place) in self.texts.iter().filter(|(gone, _)| own || self.goes_everywhere(gone)) {
            left = spelt.without(&left, gone, place);
        }
        for (word, place) in self.words.iter().filter(|_| own) {
            // Two letters are a word of their own too often, unless they are written as the name is.
            let spelt = if word.chars().count() < 3 { Spelt::OfOthers } else { Spelt::Own };
            left = spelt.without(&left, word, place);
        }
        left
    }

    /// Whether a text goes out of the notes of others too: nobody else goes by it, and it is no single word like `none`.
    fn goes_everywhere(&self, text: &str) -> bool {
        let is_plain_word = text.chars().all(char::is_alphanumeric) && !text.starts_with(char::is_uppercase) && digits(text).len() < 7;
        !is_plain_word && !self.shared.contains(&text.to_lowercase())
    }

    /// Whether words of the name, or a text others go by too, are left in a text of somebody else's.
    #[must_use]
    pub fn is_named_in(&self, text: &str) -> bool {
        let words = self.words.iter().map(|(word, _)| word).filter(|word| word.chars().count() > 3);
        let texts = self.texts.iter().map(|(gone, _)| gone);
        words.chain(texts).any(|gone| Spelt::Found.without(text, gone, "") != text)
    }

    /// Whether a name is left in a line of the journal, where the farmer may have to look.
    #[must_use]
    pub fn is_left_in_line(&self, kind: &str, line: &str) -> bool {
        let Ok(Value::Object(cells)) = serde_json::from_str(line) else { return false };
        cells.iter().any(|(column, value)| {
            !OF_THE_LINE.contains(&column.as_str()) && value.as_str().is_some_and(|text| self.is_left_in(kind, column, text))
        })
    }

    /// Whether a name is left in a record of others, where the farmer may have to look.
    #[must_use]
    pub fn is_left_in_record(&self, kind: &Kind, record: &Record) -> bool {
        kind.columns.iter().zip(&record.cells).any(|(column, cell)| self.is_left_in(kind.name, column.name, cell.text()))
    }

    fn is_left_in(&self, kind: &str, column: &str, text: &str) -> bool {
        let is_a_choice = super::kinds::kind(kind).and_then(|kind| kind.columns.iter().find(|own| own.name == column));
        let is_words = is_a_choice.is_none_or(|own| matches!(own.shape, Shape::Words(_) | Shape::Note(_)));
        is_words && is_looked_at(kind, column) && self.is_named_in(text)
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
            | (true, "mailings", "address")
            | (true, "people" | "shares" | "pauses" | "agreements" | "empties" | "transfers", "note") => None,
            _ if in_own_words(kind, column) => Some(self.scrubbed(text, own)),
            _ => Some(text.to_owned()),
        }
    }

    /// Who wrote a record down, without what is taken out: at the fridge a household signs with what it is called.
    #[must_use]
    pub fn signs(&self, who: &str) -> Option<&str> {
        self.signed.iter().any(|own| own.eq_ignore_ascii_case(who)).then_some(self.label.as_str())
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
        // What stands beside the boarding of a month is the farm's own sum.
        let is_sum = cells.get("month").is_some_and(|month| !month.is_null());
        if cells.get("source").and_then(Value::as_str) == Some(OWN_PAGE)
            && let Some(left) = cells.get("who").and_then(Value::as_str).and_then(|who| self.signs(who))
        {
            cells.insert("who".to_owned(), json!(left));
        }
        for (column, value) in &mut cells {
            if OF_THE_LINE.contains(&column.as_str()) || (kind, column.as_str()) == ("transfers", "note") && is_sum {
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
        let is_sum = kind.name == "transfers" && *record.cell(kind, "month") != Cell::Empty;
        let mut left = record.clone();
        if let Some(who) = self.signs(&record.who).filter(|_| record.source == OWN_PAGE) {
            who.clone_into(&mut left.who);
        }
        for (column, cell) in kind.columns.iter().zip(&mut left.cells) {
            if let Cell::Text(text) = cell
                && !(is_sum && column.name == "note")
            {
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

/// What a line says besides the cells of its record.
const OF_THE_LINE: [&str; 3] = ["entry", "who", "source"];

/// What is left of the name of whoever fetched for a household.
const STAND_IN: &str = "stand-in";

/// What a paper is called whose bytes were erased.
const ERASED_PAPER: &str = "erased.pdf";

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
        let name = "Orla Tremont";
        assert_eq!(left_of("member", "M17", name, 4), ("member 17".to_owned(), "M17".to_owned()));
        assert_eq!(left_of("walk-in", "W03", name, 4), ("walk-in 3".to_owned(), "W03".to_owned()));
        for label in ["ORLA", "TREMONT2", "ORLA-7"] {
            assert_eq!(left_of("member", label, name, 4), ("member 4".to_owned(), "E4".to_owned()), "{label}");
        }
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
    fn what_others_go_by_too_goes_out_of_its_own_records_only() {
        let mut own = erasure();
        own.take_out("Wren", "member 17", true);
        own.take_out("none", "a second way", false);
        own.share(&["Wren".to_owned(), "+1 (802) 555-0117".to_owned(), "Barnaby Twill".to_owned()]);
        for kept in ["Wren kicked", "Ring 555-0117", "none left"] {
            assert_eq!(own.scrubbed(kept, false), kept);
            assert!(own.is_named_in(kept), "{kept} is told");
        }
        assert_eq!(own.scrubbed("Ann Tremont rang", false), "member 17 rang");
        assert_eq!(own.scrubbed("Wren here, 555 0117", true), "member 17 here, a phone");
        let cow = r#"{"name":"Wren","note":"Ann Tremont asked after her","tag":null}"#;
        assert_eq!(own.line("cows", 3, cow), r#"{"name":"Wren","note":"member 17 asked after her","tag":null}"#);
        let milked = r#"{"milker":"Wren","note":null,"session":"AM"}"#;
        assert_eq!(own.line("milkings", 3, milked), milked);
        let other = r#"{"label":"M18","name":"Ann Tremont","note":null,"phone":"555-0117","second_way":"Ann Tremont"}"#;
        assert_eq!(own.line("people", 18, other), other, "M18 is still here");
        assert!(own.is_left_in_line("people", other) && !own.is_left_in_line("milkings", milked));
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
        let mailing = r#"{"address":"elsewhere@example.org","person":17}"#;
        assert_eq!(own.line("mailings", 3, mailing), r#"{"address":null,"person":17}"#);
        let said = r#"{"person":17,"says":"This is Ann. My jar was sour."}"#;
        assert_eq!(own.line("complaints", 1, said), r#"{"person":17,"says":"This is member 17. My jar was sour."}"#);
    }
}
