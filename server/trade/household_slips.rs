//! Slips in what is written of a household, beside what is written already: a share sold twice, a paper signed before it was
//! given, a phone number another house has.
//!
//! What cannot be is refused with a sentence; what looks odd is asked about and can be kept.

use super::{
    kinds::Kind,
    numbers::one_spelling,
    parts::Part,
    promises::{Share, sold_twice},
    reach::mark_of,
    records::{Cell, Remark},
    when::{Day, day_shown, parse_day},
};
use chrono::{Datelike, Days};

/// Half-gallons a week of a whole share beyond which it is asked whether that is right. A gallon and a half a week is a usual
/// share, six gallons are a lot (common practice).
const MANY_A_WEEK: i64 = 12;

/// Words that are pages beside the households' own: a household called so could not be opened.
const PAGES: [&str; 9] = ["agreements", "promises", "boarding", "entries", "journal", "payment", "statements", "tin", "write"];

/// Days of a pause beyond which it is asked whether that is right.
const HALF_A_YEAR: u64 = 183;

/// Somebody who takes milk, as far as the questions look at them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Household {
    /// Their record.
    pub number: i64,
    /// What the clipboard calls them.
    pub label: String,
    /// Their name.
    pub name: String,
    /// Their phone.
    pub phone: String,
    /// A second way to reach them.
    pub second_way: String,
    /// Until when they are here.
    pub until: Option<Day>,
}

impl Household {
    /// Number and name: `M28 Ashgrove`.
    #[must_use]
    pub fn called(&self) -> String {
        format!("{} {}", self.label, self.name)
    }
}

/// What a record of a household is held beside.
#[derive(Clone, Debug, Default)]
pub struct Beside {
    /// Everybody who takes or took milk.
    pub people: Vec<Household>,
    /// Every share and standing promise.
    pub shares: Vec<Share>,
}

impl Beside {
    /// The household a cell names: by its label while it is typed, by its number once it is kept.
    fn named(&self, cell: &Cell) -> Option<&Household> {
        match cell {
            Cell::Named(label) => self.people.iter().find(|own| own.label.eq_ignore_ascii_case(label.trim())),
            Cell::To(number) => self.people.iter().find(|own| own.number == *number),
            _ => None,
        }
    }

    fn called(&self, number: i64) -> String {
        self.people.iter().find(|own| own.number == number).map_or_else(|| format!("household {number}"), Household::called)
    }
}

/// Whether records of a kind are held beside what is known of the households.
#[must_use]
pub fn looks_at(kind: &Kind) -> bool {
    matches!(kind.name, "people" | "shares" | "pauses" | "agreements")
}

/// Everything there is to ask or refuse about a record of a household. `but` is the record that is being corrected.
#[must_use]
pub fn remarks(kind: &Kind, cells: &[Cell], beside: &Beside, but: Option<i64>) -> Vec<Remark> {
    match kind.name {
        "people" => number(kind, cells, beside, but).into_iter().chain(ways(kind, cells, beside, but)).collect(),
        "shares" => share(kind, cells, beside, but),
        "pauses" => pause(kind, cells),
        "agreements" => agreement(kind, cells),
        _ => Vec::new(),
    }
}

fn day(kind: &Kind, cells: &[Cell], column: &str) -> Option<Day> {
    parse_day(kind.cell(cells, column).text()).ok()
}

/// What the clipboard calls a household is also where its page is.
fn number(kind: &Kind, cells: &[Cell], beside: &Beside, but: Option<i64>) -> Option<Remark> {
    let label = kind.cell(cells, "label").text().trim().to_lowercase();
    let is_a_page = PAGES.contains(&label.as_str()) || [".csv", ".json", ".pdf"].iter().any(|ending| label.ends_with(ending));
    if is_a_page {
        return Some(Remark::fault("label", "A page here is called so already. Use a number, like M05."));
    }
    // A record that keeps the number it has is put right without another card; the same label twice the table refuses itself.
    let kept = |own: &Household| Some(own.number) == but && own.label.eq_ignore_ascii_case(&label);
    let is_like = |own: &&Household| {
        Some(own.number) != but && one_spelling(&own.label) == one_spelling(&label) && !own.label.eq_ignore_ascii_case(&label)
    };
    let other = beside.people.iter().find(is_like).filter(|_| !beside.people.iter().any(kept))?;
    let says = format!("At the fridge this would be the number of {}: both are spelt alike. Use another.", other.called());
    Some(Remark::fault("label", says))
}

fn ways(kind: &Kind, cells: &[Cell], beside: &Beside, but: Option<i64>) -> Vec<Remark> {
    let mut remarks = Vec::new();
    for column in ["phone", "second_way"] {
        let Some(mark) = mark_of(kind.cell(cells, column).text()) else { continue };
        let has = |own: &&Household| [&own.phone, &own.second_way].into_iter().any(|way| mark_of(way).as_deref() == Some(mark.as_str()));
        if let Some(other) = beside.people.iter().filter(|own| Some(own.number) != but).find(has) {
            let says = format!(
                "{} is reached this way already. Is this the same household written down twice, or a slip? Two houses may share one.",
                other.called()
            );
            remarks.push(Remark::question(column, says, None));
        }
    }
    let (phone, second) = (kind.cell(cells, "phone").text(), kind.cell(cells, "second_way").text());
    if mark_of(phone).is_some() && mark_of(phone) == mark_of(second) {
        remarks.push(Remark::fault(
            "second_way",
            "This is the same way as the phone. A second way is another number, an address, or a neighbour.",
        ));
    }
    remarks
}

fn share(kind: &Kind, cells: &[Cell], beside: &Beside, but: Option<i64>) -> Vec<Remark> {
    let mut remarks = Vec::new();
    let household = beside.named(kind.cell(cells, "person"));
    let part = Part::parse(kind.cell(cells, "part").text()).ok();
    let has_number = !kind.cell(cells, "share").text().is_empty();
    if has_number && part.is_some_and(|part| part > Part::whole()) {
        remarks.push(Remark::fault("part", "One share is at most whole. Write a second share under its own number."));
    } else if let Some(own) = Share::of(kind, cells, but.unwrap_or(0), household.map_or(0, |own| own.number))
        && let Some(says) = sold_twice(&own, &beside.shares, |person| beside.called(person))
    {
        remarks.push(Remark::fault("share", says));
    }
    let half_gallons = kind.cell(cells, "half_gallons").whole();
    if let Some(many) = half_gallons.filter(|count| *count > MANY_A_WEEK) {
        remarks.push(Remark::question("half_gallons", format!("{many} half-gallons a week for one share? Usual is 2 to 6."), None));
    } else if half_gallons == Some(0) {
        remarks.push(Remark::question("half_gallons", "A share that promises nothing? Keep it if the milk starts later.", None));
    }
    if !has_number && part.is_some_and(|part| part != Part::whole()) {
        let says = "A part of which share? A standing promise is whole: write 1 here, and its half-gallons as they are.";
        remarks.push(Remark::question("part", says, Some("1".to_owned())));
    }
    remarks.extend(household.and_then(|household| after_they_left(kind, cells, household)));
    remarks
}

/// A share of somebody who left ends with them at the latest.
fn after_they_left(kind: &Kind, cells: &[Cell], household: &Household) -> Option<Remark> {
    let (left, called) = (household.until?, household.called());
    if day(kind, cells, "since")? > left {
        let says = format!(
            "{called} left on {}, before this begins. If they came back, take that day off their own record first.",
            day_shown(left)
        );
        return Some(Remark::fault("person", says));
    }
    if day(kind, cells, "until").is_some_and(|until| until <= left) {
        return None;
    }
    let says = format!("{called} left on {}. Does this end with them?", day_shown(left));
    Some(Remark::question("until", says, Some(left.to_string())))
}

fn pause(kind: &Kind, cells: &[Cell]) -> Vec<Remark> {
    let (Some(since), Some(until)) = (day(kind, cells, "since"), day(kind, cells, "until")) else { return Vec::new() };
    let mut remarks = Vec::new();
    if until >= since && since.checked_add_days(Days::new(HALF_A_YEAR)).is_some_and(|most| until > most) {
        let says = format!("A pause to {}, more than half a year? Keep it, or put the days right.", day_shown(until));
        remarks.push(Remark::question("until", says, None));
    }
    if day(kind, cells, "moved_to").is_some_and(|moved| (since..=until).contains(&moved)) {
        let says = "This day is inside the pause, so nobody comes on it. Name a day before or after it, or leave this empty.";
        remarks.push(Remark::fault("moved_to", says));
    } else if let Some(moved) = day(kind, cells, "moved_to").filter(|moved| is_their_day_anyway(since, until, *moved)) {
        let says = format!(
            "{} is the same weekday, so whoever is stopped comes on it anyway: nothing is moved for them, and the week is lost. Keep it, \
             or name another weekday.",
            day_shown(moved)
        );
        remarks.push(Remark::question("moved_to", says, None));
    }
    remarks
}

/// Whether a pause of less than a week is moved to a weekday it stops. A longer one stops them all.
fn is_their_day_anyway(since: Day, until: Day, moved: Day) -> bool {
    let mut stopped = since.iter_days().take_while(|day| *day <= until);
    (until - since).num_days() < 6 && stopped.any(|day| day.weekday() == moved.weekday())
}

fn agreement(kind: &Kind, cells: &[Cell]) -> Vec<Remark> {
    let day = |column| day(kind, cells, column);
    let mut remarks = Vec::new();
    let (given, signed, until) = (day("given"), day("signed"), day("until"));
    if let (Some(given), Some(signed)) = (given, signed)
        && signed < given
    {
        remarks
            .push(Remark::fault("signed", format!("It cannot be signed before it was given, on {}. Look at both days.", day_shown(given))));
    }
    if let (Some(until), Some(from)) = (until, signed.or(given))
        && until < from
    {
        remarks.push(Remark::fault("until", format!("It cannot run out before {}. Look at both days.", day_shown(from))));
    }
    remarks
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::{
        channels::Channel,
        kinds::kind,
        measure::Scale,
        records::{Ways, read},
        when::Zone,
    };

    fn beside() -> Beside {
        let household = |number: i64, phone: &str, until: Option<&str>| Household {
            number,
            label: format!("M0{number}"),
            name: "Invented".to_owned(),
            phone: phone.to_owned(),
            second_way: String::new(),
            until: until.map(|day| parse_day(day).unwrap()),
        };
        let share = Share {
            number: 1,
            person: 1,
            share: "S07".to_owned(),
            part: Part::whole(),
            half_gallons: 2,
            way: Channel::Herdshare,
            since: parse_day("2026-01-01").unwrap(),
            until: None,
            place: None,
        };
        Beside { people: vec![household(1, "802-555-0142", None), household(2, "", Some("2026-03-31"))], shares: vec![share] }
    }

    /// What is said of a record typed so, each as its field and whether it is a question.
    fn said(name: &str, typed: &[(&str, &str)], but: Option<i64>) -> Vec<(String, bool)> {
        let kind = kind(name).unwrap();
        let cell = |column: &str| typed.iter().find(|(own, _)| *own == column).map_or("", |(_, value)| value).to_owned();
        let cells = read(kind, cell, Ways { zone: Zone::UTC, scale: Scale::Fahrenheit }).unwrap();
        remarks(kind, &cells, &beside(), but).into_iter().map(|remark| (remark.field, remark.question.is_some())).collect()
    }

    fn one(field: &str, asked: bool) -> Vec<(String, bool)> {
        vec![(field.to_owned(), asked)]
    }

    const SHARE: [(&str, &str); 3] = [("channel", "herdshare"), ("since", "2026-05-01"), ("part", "1")];

    #[test]
    fn a_share_is_held_beside_the_others() {
        let share = |more: &[(&str, &str)], but| said("shares", &[more, SHARE.as_slice()].concat(), but);
        assert_eq!(share(&[("person", "M01"), ("share", "S08"), ("half_gallons", "2")], None), []);
        assert_eq!(share(&[("person", "M01"), ("share", "s07"), ("half_gallons", "2")], None), one("share", false));
        assert_eq!(share(&[("person", "M01"), ("share", "S07"), ("half_gallons", "2")], Some(1)), [], "corrected, it is itself");
        assert_eq!(share(&[("person", "M01"), ("half_gallons", "13")], None), one("half_gallons", true));
        assert_eq!(share(&[("person", "M01"), ("half_gallons", "12")], None), []);
        assert_eq!(share(&[("person", "M02"), ("half_gallons", "2")], None), one("person", false), "they had left");
        let before = [("since", "2026-02-01"), ("person", "M02"), ("half_gallons", "2")];
        assert_eq!(share(&before, None), one("until", true), "a share outlasts them");
        assert_eq!(share(&[before.as_slice(), &[("until", "2026-03-31")]].concat(), None), [], "the past is recorded as it was");
        assert_eq!(share(&[("part", "1/2"), ("person", "M01"), ("half_gallons", "2")], None), one("part", true));
        assert_eq!(share(&[("part", "2"), ("share", "S09"), ("person", "M01"), ("half_gallons", "2")], None), one("part", false));
    }

    #[test]
    fn a_pause_is_held_beside_the_calendar() {
        assert_eq!(said("pauses", &[("since", "2026-05-01"), ("until", "2026-05-20"), ("moved_to", "2026-05-21")], None), []);
        for inside in ["2026-05-01", "2026-05-20"] {
            assert_eq!(
                said("pauses", &[("since", "2026-05-01"), ("until", "2026-05-20"), ("moved_to", inside)], None),
                one("moved_to", false)
            );
        }
        let moved = |until, moved| said("pauses", &[("since", "2026-05-21"), ("until", until), ("moved_to", moved)], None);
        assert_eq!(moved("2026-05-21", "2026-05-28"), one("moved_to", true), "a Thursday for a Thursday");
        assert_eq!(moved("2026-05-21", "2026-05-22"), []);
        assert_eq!(moved("2026-05-26", "2026-05-31"), one("moved_to", true), "a Sunday, and Sunday was stopped");
        assert_eq!(moved("2026-05-27", "2026-05-28"), [], "a week stops every weekday");
        assert_eq!(said("pauses", &[("since", "2026-01-01"), ("until", "2026-07-03")], None), [], "half a year to the day");
        assert_eq!(said("pauses", &[("since", "2026-01-01"), ("until", "2026-07-04")], None), one("until", true));
    }

    #[test]
    fn a_paper_is_given_signed_and_over_in_that_order() {
        let paper = |more: &[(&str, &str)]| said("agreements", &[&[("person", "M01"), ("sort", "bill of sale")], more].concat(), None);
        assert_eq!(paper(&[("given", "2026-05-01"), ("signed", "2026-05-01"), ("until", "2027-05-01")]), []);
        assert_eq!(paper(&[("given", "2026-05-02"), ("signed", "2026-05-01")]), one("signed", false));
        assert_eq!(paper(&[("given", "2026-05-02"), ("signed", "2026-05-04"), ("until", "2026-05-03")]), one("until", false));
        assert_eq!(paper(&[("given", "2026-05-02"), ("until", "2026-05-01")]), one("until", false));
    }

    #[test]
    fn no_household_is_called_like_a_page() {
        for (label, remarks) in [("promises", 1), (" Tin ", 1), ("M5.pdf", 1), ("M05", 0), ("Promise", 0)] {
            let own = [("label", label), ("name", "Invented"), ("sort", "member"), ("channel", "herdshare"), ("since", "2026-05-01")];
            assert_eq!(said("people", &own, None).len(), remarks, "{label}");
        }
    }

    #[test]
    fn no_household_has_a_number_that_is_read_as_anothers_at_the_fridge() {
        let named = |label: &str, but| {
            let own = [("label", label), ("name", "Invented"), ("sort", "member"), ("channel", "herdshare"), ("since", "2026-05-01")];
            said("people", &own, but)
        };
        assert_eq!(named("M1", None), one("label", false), "M01 is there");
        assert_eq!(named("m-001", None), one("label", false));
        assert_eq!(named("M1", Some(1)), [], "M01 itself may become M1");
        assert_eq!(named("M1", Some(2)), one("label", false), "M02 may not");
        assert_eq!(named("M10", None), []);
        assert_eq!(named("W1", None), []);
    }

    #[test]
    fn a_number_another_household_has_is_asked_about() {
        let person = |more: &[(&str, &str)], but| {
            let base = [("label", "M03"), ("name", "Invented"), ("sort", "member"), ("channel", "herdshare"), ("since", "2026-05-01")];
            said("people", &[base.as_slice(), more].concat(), but)
        };
        assert_eq!(person(&[("phone", "(802) 555-0143")], None), []);
        assert_eq!(person(&[("phone", "+1 802 555 0142")], None), one("phone", true));
        assert_eq!(person(&[("second_way", "8025550142")], None), one("second_way", true));
        assert_eq!(person(&[("phone", "802-555-0142")], Some(1)), [], "their own number is not a double");
        assert_eq!(person(&[("phone", "802-555-0199"), ("second_way", "802 555 0199")], None), one("second_way", false));
        assert_eq!(person(&[("second_way", "the mill"), ("phone", "the mill")], None), [], "a name is no number");
    }
}
