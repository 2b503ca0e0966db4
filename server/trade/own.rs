//! What a household reads and writes by its number alone: the PIN it typed, when it comes next, which of its jars to
//! call the farm about, and the paper that hangs at the fridge.

use super::{
    figures::{Holds, Part, Sheet, Table},
    findings::Finding,
    promises::{Pause, comes},
    verdict::{Verdict, Word},
    when::{Day, day_shown},
};

/// The lines on one side of the clipboard.
pub const LINES: usize = 27;

/// How far ahead a household's next day is looked for: a pause is seldom longer than a season.
const AHEAD: usize = 120;

/// The six digits of a PIN, if that is what was typed; blanks and dashes between them do not matter.
#[must_use]
pub fn pin(typed: &str) -> Option<String> {
    let plain: String = typed.chars().filter(|c| !c.is_whitespace() && *c != '-').take(7).collect();
    (plain.len() == 6 && plain.chars().all(|c| c.is_ascii_digit())).then_some(plain)
}

/// The next day somebody comes after a day; nothing when none is in sight.
#[must_use]
pub fn next_day(person: i64, weekday: &str, pauses: &[Pause], until: Option<Day>, after: Day) -> Option<Day> {
    let days = after.iter_days().skip(1).take(AHEAD).take_while(|day| until.is_none_or(|until| *day <= until));
    days.into_iter().find(|day| comes(person, weekday, pauses, *day))
}

/// Whether somebody who has jars of a lot should call the farm: something stands against it that is more than its age or the
/// way it was handed out.
#[must_use]
pub fn is_to_be_called_about(verdict: &Verdict) -> bool {
    let matters = |finding: &&Finding| !matches!(finding, Finding::BestBy { .. } | Finding::Way { .. });
    verdict.findings.iter().filter(matters).any(|finding| finding.word() == Word::KeepBack)
}

/// One line of the clipboard: a number, and nobody's name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// The household's number.
    pub label: String,
    /// Half-gallons packed, or promised where nobody packed.
    pub jars: String,
    /// Half-gallons of each lot.
    pub lots: Vec<(String, i64)>,
    /// Whether it was packed.
    pub packed: bool,
}

/// The clipboard of a day: what to tick and sign at the fridge. Lines that are left over stay empty, for whoever else comes.
#[must_use]
pub fn clipboard(farm: &str, day: Day, lines: &[Line]) -> Sheet {
    let columns = [
        ("Number", Holds::Words, 2),
        ("Half-gallons", Holds::Figures, 2),
        ("Lots", Holds::Words, 6),
        ("Taken", Holds::Words, 2),
        ("Empties back", Holds::Words, 2),
        ("Signed", Holds::Words, 5),
    ];
    let mut table = Table::new("clipboard", "", &columns);
    for line in lines {
        let lots: Vec<String> = line.lots.iter().map(|(lot, jars)| format!("{jars} × {lot}")).collect();
        table.row([line.label.clone(), line.jars.clone(), lots.join(", "), BOX.to_owned(), BOX.to_owned(), String::new()]);
    }
    let used = table.rows.len() % LINES;
    for _ in 0..if used == 0 && !table.rows.is_empty() { 0 } else { LINES - used } {
        table.row([String::new(), String::new(), String::new(), BOX.to_owned(), BOX.to_owned(), String::new()]);
    }
    let packed = lines.iter().any(|line| line.packed);
    let number = format!("F{}", day.format("%Y%m%d"));
    let facts = vec![
        ("Sheet".to_owned(), format!("{number}: write this number beside what is typed in from it")),
        ("Jars".to_owned(), if packed { "as packed" } else { "as promised; nothing is packed yet" }.to_owned()),
    ];
    Sheet {
        name: format!("clipboard-{number}"),
        title: format!("Fridge, {}", day_shown(day)),
        under: farm.to_owned(),
        facts,
        parts: vec![Part::Table(table)],
    }
}

/// A box to tick, of characters that every face has; its blanks do not break.
const BOX: &str = "[\u{a0}\u{a0}\u{a0}\u{a0}]";

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::when::parse_day;

    fn day(typed: &str) -> Day {
        parse_day(typed).unwrap()
    }

    #[test]
    fn a_pin_is_six_digits() {
        assert_eq!(pin(" 123 456").as_deref(), Some("123456"));
        assert_eq!(pin("000-000").as_deref(), Some("000000"));
        for typed in ["", "12345", "1234567", "12345a", "１２３４５６", "six"] {
            assert_eq!(pin(typed), None, "{typed}");
        }
    }

    #[test]
    fn the_next_day_passes_over_a_pause() {
        let away = Pause { person: Some(4), since: day("2026-11-20"), until: day("2026-12-04"), moved_to: None };
        assert_eq!(next_day(4, "Saturday", std::slice::from_ref(&away), None, day("2026-11-21")), Some(day("2026-12-05")));
        assert_eq!(next_day(4, "Saturday", std::slice::from_ref(&away), Some(day("2026-12-01")), day("2026-11-21")), None);
        assert_eq!(next_day(5, "Saturday", &[away], None, day("2026-11-21")), Some(day("2026-11-28")), "today is not the next");
        assert_eq!(next_day(5, "", &[], None, day("2026-11-21")), None);
    }

    #[test]
    fn the_clipboard_has_one_full_side() {
        let line = |nth: usize| Line { label: format!("M{nth:02}"), jars: "3".to_owned(), lots: Vec::new(), packed: false };
        for (people, rows) in [(0, 27), (1, 27), (27, 27), (28, 54)] {
            let sheet = clipboard("Tansyditch Farm", day("2026-11-21"), &(0..people).map(line).collect::<Vec<_>>());
            let Part::Table(table) = &sheet.parts[0] else { panic!("no table") };
            assert_eq!(table.rows.len(), rows, "{people}");
        }
    }
}
