//! Members and walk-ins: who they are, two ways to reach each, what they are promised and what they took.

mod erase;
mod one;
mod pin;
mod promised;
mod register;

use super::{App, Frame, Here};
use crate::{
    store::people::{self, Person},
    trade::{
        near,
        parts::Hundredths,
        reach::{digits, link_of, mark_of},
        when::Day,
    },
    web::{
        answer::{Answer, Trouble, page},
        rooms::Rooms,
        visitor::Who,
    },
};
use askama::Template;
use axum::extract::Query;
use std::collections::{BTreeMap, HashMap};

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new()
        .look("/people", Who::Owner, index)
        .look("/people/agreements", Who::Owner, register::show)
        .look("/people/agreements.csv", Who::Owner, register::show)
        .look("/people/agreements.json", Who::Owner, register::show)
        .look("/people/agreements.pdf", Who::Owner, register::show)
        .send("/people/agreements", Who::Owner, register::keep)
        .look("/people/promises", Who::Owner, promised::show)
        .look("/people/promises.csv", Who::Owner, promised::show)
        .look("/people/promises.json", Who::Owner, promised::show)
        .look("/people/promises.pdf", Who::Owner, promised::show)
        .look("/people/{label}", Who::Owner, one::show)
        .send("/people/{label}/day", Who::Owner, one::set_day)
        .send_file("/people/{label}/paper", Who::Owner, one::keep_paper)
        .look("/people/{label}/erase", Who::Owner, erase::show)
        .send("/people/{label}/erase", Who::Owner, erase::erase)
        .and(pin::rooms())
}

#[derive(Template)]
#[template(path = "people/index.html")]
struct Index {
    frame: Frame,
    asked: String,
    groups: Vec<(&'static str, Vec<Row>)>,
    /// How many who left are not shown.
    folded: usize,
    promised: Hundredths,
    doubles: Vec<Vec<(String, String)>>,
    next_member: String,
    next_walk_in: String,
}

/// What those who left stand under.
const GONE: &str = "No longer here";
/// So many of them are shown without being asked for.
const MOST_GONE: usize = 20;

/// Somebody with their ways to be reached made into links.
struct Row {
    person: Person,
    reach: Option<String>,
    second_reach: Option<String>,
}

impl Row {
    fn of(person: Person) -> Row {
        Row { reach: link_of(&person.phone), second_reach: link_of(&person.second_way), person }
    }
}

/// People who share a phone number: one of them was probably written down twice, or a call reaches the wrong house.
fn doubles(people: &[Person]) -> Vec<Vec<(String, String)>> {
    let mut by_number: BTreeMap<String, Vec<(String, String)>> = BTreeMap::new();
    for person in people {
        let mut own: Vec<String> =
            [&person.phone, &person.second_way].into_iter().filter_map(|way| mark_of(way)).filter(|mark| !mark.contains('@')).collect();
        own.dedup();
        for number in own {
            by_number.entry(number).or_default().push((person.taker.label.clone(), person.taker.name.clone()));
        }
    }
    let mut doubles: Vec<_> = by_number.into_values().filter(|people| people.len() > 1).collect();
    doubles.dedup();
    doubles
}

/// The next free number, in the manner of those there are: after `M27` comes `M28`.
fn next_after<'a>(labels: impl Iterator<Item = &'a str>, otherwise: &str) -> String {
    let parted = |label: &str| {
        let stem = label.trim_end_matches(|c: char| c.is_ascii_digit());
        let number = &label[stem.len()..];
        number.parse::<u32>().ok().map(|count| (count, stem.to_owned(), number.len()))
    };
    labels.filter_map(parted).max().map_or_else(|| otherwise.to_owned(), |(count, stem, wide)| format!("{stem}{:0wide$}", count + 1))
}

/// The next free number of a sort of people.
fn next_label(people: &[Person], sort: &str, otherwise: &str) -> String {
    next_after(people.iter().filter(|person| person.taker.sort == sort).map(|person| person.taker.label.as_str()), otherwise)
}

/// The household with this label, among everybody.
fn named<'a>(people: &'a [Person], label: &str) -> Result<&'a Person, Trouble> {
    people.iter().find(|own| own.taker.label.eq_ignore_ascii_case(label.trim())).ok_or_else(|| {
        let known = people.iter().map(|own| own.taker.label.as_str());
        Trouble::NotThere(near::unknown("member or walk-in", label, known))
    })
}

/// Whether what is searched for stands in somebody's number, name or ways to be reached.
fn fits(person: &Person, asked: &str) -> bool {
    let asked = asked.trim().to_lowercase();
    let plain = digits(&asked);
    let words = [&person.taker.label, &person.taker.name, &person.phone, &person.second_way, &person.taker.pickup_day];
    words.iter().any(|word| word.to_lowercase().contains(&asked))
        || (plain.len() >= 3
            && plain.len() == asked.chars().filter(|c| c.is_alphanumeric()).count()
            && digits(&person.phone).contains(&plain))
}

async fn index(here: Here, Query(asked): Query<HashMap<String, String>>) -> Answer {
    let with_gone = asked.contains_key("gone");
    let asked: String = asked.get("q").map(|asked| asked.chars().take(60).collect()).unwrap_or_default();
    let today = here.zone().day(here.now);
    let people = people::list(&mut *here.app.ledger.read().await?, today).await?;
    let promised = people.iter().filter(|own| own.taker.is_here(today)).map(|own| own.taker.promised).sum();
    let (next_member, next_walk_in) = (next_label(&people, "member", "M01"), next_label(&people, "walk-in", "W01"));
    let doubles = doubles(&people);
    let frame = Frame::of(&here, "People", "People").await?;
    let mut groups = grouped(people, &asked, today);
    let folded = if with_gone || !asked.is_empty() { 0 } else { folded(&mut groups) };
    page(&Index { frame, groups, folded, asked, promised, doubles, next_member, next_walk_in })
}

/// Members, walk-ins and those who left, as far as they fit what is searched for.
fn grouped(people: Vec<Person>, asked: &str, today: Day) -> Vec<(&'static str, Vec<Row>)> {
    let mut groups = vec![("Members", Vec::new()), ("Walk-ins", Vec::new()), (GONE, Vec::new())];
    for person in people.into_iter().filter(|person| fits(person, asked)) {
        let place = if !person.taker.is_here(today) { 2 } else { usize::from(person.taker.sort != "member") };
        groups[place].1.push(Row::of(person));
    }
    groups.retain(|(_, rows)| !rows.is_empty());
    groups
}

/// Takes out those who left, where they are so many that they would hide who is here, and says how many they are.
fn folded(groups: &mut Vec<(&'static str, Vec<Row>)>) -> usize {
    let gone = groups.pop_if(|(group, rows)| *group == GONE && rows.len() > MOST_GONE);
    gone.map_or(0, |(_, rows)| rows.len())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::people::Taker;

    fn person(label: &str, sort: &str, phone: &str, second_way: &str) -> Person {
        let taker = Taker {
            number: 1,
            label: label.to_owned(),
            name: "Invented".to_owned(),
            sort: sort.to_owned(),
            pickup_day: String::new(),
            since: None,
            until: None,
            way: crate::trade::channels::Channel::Herdshare,
            promised: Hundredths::ZERO,
            place: None,
            comes: false,
            paused: None,
            lacks: Vec::new(),
        };
        Person { taker, channel: "herdshare".to_owned(), phone: phone.to_owned(), second_way: second_way.to_owned(), note: String::new() }
    }

    #[test]
    fn a_number_shared_by_two_is_found_behind_any_spelling() {
        let people = [
            person("M01", "member", "802-555-0142", ""),
            person("M02", "member", "", "+1 (802) 555 0142"),
            person("M03", "member", "", ""),
        ];
        let doubles = doubles(&people);
        assert_eq!(doubles.len(), 1);
        assert_eq!(doubles[0].iter().map(|(label, _)| label.as_str()).collect::<Vec<_>>(), ["M01", "M02"]);
    }

    #[test]
    fn the_next_number_follows_the_highest() {
        let people = [person("M09", "member", "", ""), person("M27", "member", "", ""), person("W3", "walk-in", "", "")];
        assert_eq!(next_label(&people, "member", "M01"), "M28");
        assert_eq!(next_label(&people, "walk-in", "W01"), "W4");
        assert_eq!(next_label(&[], "member", "M01"), "M01");
    }

    #[test]
    fn who_left_long_ago_does_not_hide_who_is_here() {
        let left = |many: usize| {
            let people: Vec<Person> = (0..many)
                .map(|own| {
                    let mut gone = person(&format!("M{own:03}"), "member", "", "");
                    gone.taker.until = "2020-05-01".parse().ok();
                    gone
                })
                .chain([person("M900", "member", "", "")])
                .collect();
            grouped(people, "", "2026-11-21".parse().unwrap())
        };
        let (mut few, mut many) = (left(MOST_GONE), left(MOST_GONE + 1));
        assert_eq!((folded(&mut few), few.len()), (0, 2));
        assert_eq!((folded(&mut many), many.len()), (MOST_GONE + 1, 1));
        assert_eq!(many[0].0, "Members");
    }
}
