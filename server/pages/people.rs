//! Members and walk-ins: who they are, two ways to reach each, what they are promised and what they took.

use super::{App, Frame, Here};
use crate::{
    store::{
        people::{self, Person},
        pickups::{self, HandedOut},
    },
    trade::{
        jars::Jars,
        near,
        parts::Hundredths,
        pickups::written_late,
        reach::{digits, link_of, mark_of},
        verdict::Word,
        when::{Day, day_shown},
    },
    web::{
        answer::{Answer, Trouble, page},
        rooms::Rooms,
        visitor::Role,
    },
};
use askama::Template;
use axum::extract::{Path, Query};
use std::collections::{BTreeMap, HashMap};

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new().look("/people", Role::Owner, index).look("/people/{label}", Role::Owner, show)
}

#[derive(Template)]
#[template(path = "people/index.html")]
struct Index {
    frame: Frame,
    asked: String,
    groups: Vec<(&'static str, Vec<Row>)>,
    promised: Hundredths,
    doubles: Vec<Vec<(String, String)>>,
    next_member: String,
    next_walk_in: String,
}

/// A hand-out with its time, how late it was written, and its frozen word.
type Told = (HandedOut, String, Option<String>, Word);

/// Hand-outs shown at once; the older ones lie behind one tap.
const AT_ONCE: usize = 20;

#[derive(Template)]
#[template(path = "people/show.html")]
struct Show {
    frame: Frame,
    row: Row,
    since: String,
    until: String,
    /// The day a trace starts from: that of their newest hand-out.
    trace_day: String,
    outs: Vec<Told>,
    older: Vec<Told>,
    jars: String,
    doubles: Vec<Vec<(String, String)>>,
}

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

/// People who share a number or an address: one of them was probably written down twice, or a call reaches the wrong house.
fn doubles(people: &[Person]) -> Vec<Vec<(String, String)>> {
    let mut by_number: BTreeMap<String, Vec<(String, String)>> = BTreeMap::new();
    for person in people {
        let mut own: Vec<String> = [&person.phone, &person.second_way].into_iter().filter_map(|way| mark_of(way)).collect();
        own.dedup();
        for number in own {
            by_number.entry(number).or_default().push((person.taker.label.clone(), person.taker.name.clone()));
        }
    }
    let mut doubles: Vec<_> = by_number.into_values().filter(|people| people.len() > 1).collect();
    doubles.dedup();
    doubles
}

/// The next free number of a sort, in the manner of those there are: after `M27` comes `M28`.
fn next_label(people: &[Person], sort: &str, otherwise: &str) -> String {
    let parted = |label: &str| {
        let stem = label.trim_end_matches(|c: char| c.is_ascii_digit());
        let number = &label[stem.len()..];
        number.parse::<u32>().ok().map(|count| (count, stem.to_owned(), number.len()))
    };
    let highest = people.iter().filter(|person| person.taker.sort == sort).filter_map(|person| parted(&person.taker.label)).max();
    highest.map_or_else(|| otherwise.to_owned(), |(count, stem, wide)| format!("{stem}{:0wide$}", count + 1))
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
    let asked: String = asked.get("q").map(|asked| asked.chars().take(60).collect()).unwrap_or_default();
    let today = here.zone().day(here.now);
    let people = people::list(&mut *here.app.ledger.read().await?, today).await?;
    let promised = people.iter().filter(|own| own.taker.is_here(today)).map(|own| own.taker.promised).sum();
    let (next_member, next_walk_in) = (next_label(&people, "member", "M01"), next_label(&people, "walk-in", "W01"));
    let doubles = doubles(&people);
    let frame = Frame::of(&here, "People", "People").await?;
    page(&Index { frame, groups: grouped(people, &asked, today), asked, promised, doubles, next_member, next_walk_in })
}

/// Members, walk-ins and those who left, as far as they fit what is searched for.
fn grouped(people: Vec<Person>, asked: &str, today: Day) -> Vec<(&'static str, Vec<Row>)> {
    let mut groups = vec![("Members", Vec::new()), ("Walk-ins", Vec::new()), ("No longer here", Vec::new())];
    for person in people.into_iter().filter(|person| fits(person, asked)) {
        let place = if !person.taker.is_here(today) { 2 } else { usize::from(person.taker.sort != "member") };
        groups[place].1.push(Row::of(person));
    }
    groups.retain(|(_, rows)| !rows.is_empty());
    groups
}

async fn show(here: Here, Path(label): Path<String>) -> Answer {
    let mut db = here.app.ledger.read().await?;
    let people = people::list(&mut db, here.zone().day(here.now)).await?;
    let Some(person) = people.iter().find(|own| own.taker.label.eq_ignore_ascii_case(label.trim())).cloned() else {
        let known = people.iter().map(|own| own.taker.label.as_str());
        return Err(Trouble::NotThere(near::unknown("member or walk-in", &label, known)));
    };
    let outs = pickups::of_person(&mut db, person.taker.number).await?;
    drop(db);
    let frame = Frame::of(&here, "People", person.taker.called()).await?;
    page(&shown(&here, frame, person, &people, &outs))
}

/// Somebody's page, from what they took and who else there is.
fn shown(here: &Here, frame: Frame, person: Person, people: &[Person], outs: &[HandedOut]) -> Show {
    let mut doubles = doubles(people);
    doubles.retain(|shared| shared.iter().any(|(own, _)| *own == person.taker.label));
    Show {
        frame,
        since: person.taker.since.map(day_shown).unwrap_or_default(),
        until: person.taker.until.map(day_shown).unwrap_or_default(),
        trace_day: here.zone().day(outs.first().map_or(here.now, |out| out.at)).to_string(),
        jars: outs.iter().map(|out| out.jars).sum::<Jars>().to_string(),
        older: outs.iter().skip(AT_ONCE).map(|out| told(here, out)).collect(),
        outs: outs.iter().take(AT_ONCE).map(|out| told(here, out)).collect(),
        doubles,
        row: Row::of(person),
    }
}

fn told(here: &Here, out: &HandedOut) -> Told {
    let words = [Word::CanGo, Word::Wait, Word::CantTell, Word::KeepBack];
    let word = words.into_iter().find(|word| word.to_string() == out.verdict).unwrap_or(Word::CantTell);
    (out.clone(), here.zone().in_full(out.at), written_late(out.at, out.written), word)
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
}
