//! Who finds what behind every door: a table written by hand, door by door, and every cell of it tried on the sample farm.
//!
//! tests/doors.rs asks whether the doors keep to what the program says of them. This asks whether the program says the right
//! thing: the table below is written from what each page shows, and knows nothing of the program's own list.
//!
//! Sources: OWASP Application Security Verification Standard (an access rule for every function, kept where the work is done,
//! and tested); NIST SP 800-53, AC-3 and AC-6 (access enforcement, least privilege).

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::{
    doors::address_of,
    farm::{Farm, Page},
    own::{come_in, give},
    pass,
};
use axum::{
    body::Body,
    http::{Method, Request, header},
};
use std::collections::BTreeMap;
use tallypail::web::{secret, visitor::Role};

/// Everybody who may come to a door, in the order of the table's columns. Somebody new gets a column in the table and a way in
/// under [`Visits::of`].
const EVERYBODY: [Role; 5] = Role::ALL;

/// A door to a line, a letter for each of [`EVERYBODY`]:
///
/// - `s` shown to the sign-in, `n` shown to the way in for a number and a PIN or for a pass, with nothing of the page sent along;
/// - `x` turned away with a sentence (403), nothing read and nothing kept;
/// - `p` a page, `f` a paper or a file, `o` on to another page, as after a form;
/// - `r` refused with a sentence beside what was typed (422), `t` too late to undo (409);
/// - `-` open, but there is no such record on this farm (404).
const TABLE: &str = include_str!("routes.txt");

/// Doors that end the visit; there is nobody left to try the others after them.
pub const WAYS_OUT: [&str; 3] = ["/signout", "/own/leave", "/pass/leave"];

struct Row {
    method: Method,
    path: String,
    letters: Vec<char>,
}

fn table() -> Vec<Row> {
    let row = |line: &str| {
        let mut words = line.split_whitespace();
        let method = words.next().unwrap().parse().unwrap();
        let path = words.next().unwrap().to_owned();
        let letters: Vec<char> = words.map(|word| word.parse().unwrap()).collect();
        assert_eq!(letters.len(), EVERYBODY.len(), "“{line}” has not a letter for everybody");
        Row { method, path, letters }
    };
    TABLE.lines().filter(|line| !line.trim().is_empty() && !line.starts_with('#')).map(row).collect()
}

#[tokio::test]
async fn the_table_has_every_door_and_no_other() {
    let farm = Farm::empty().await;
    let doors: Vec<(Method, String)> = farm.doors().into_iter().map(|door| (door.method, door.path.to_owned())).collect();
    let mut rows: BTreeMap<String, usize> = BTreeMap::new();
    for row in table() {
        *rows.entry(format!("{} {}", row.method, row.path)).or_default() += 1;
    }
    for (method, path) in &doors {
        assert!(
            rows.contains_key(&format!("{method} {path}")),
            "{method} {path} is new: put a line for it into tests/routes.txt, by its address, and say what each of {EVERYBODY:?} finds behind it."
        );
    }
    for (row, times) in rows {
        assert_eq!(times, 1, "{row} stands twice in tests/routes.txt");
        let is_there = doors.iter().any(|(method, path)| row == format!("{method} {path}"));
        assert!(is_there, "{row} is in tests/routes.txt and is no door any more: take its line out, or the door was lost.");
    }
}

/// How one of [`EVERYBODY`] comes to a door.
pub struct Visits {
    pub cookie: String,
    pub seal: String,
}

impl Visits {
    /// Somebody's way in, as far as one has to be made first.
    pub async fn of(farm: &Farm, role: Role) -> Visits {
        match role {
            Role::Stranger => Visits { cookie: String::new(), seal: "none".to_owned() },
            Role::Member => {
                give(farm, "M05").await;
                let cookie = come_in(farm, "M05").await;
                let seal = farm.ask(Method::GET, "/own/page", &cookie, None).await.hidden("seal");
                Visits { cookie, seal }
            }
            Role::Inspector => {
                let cookie = pass::come_in(farm, &pass::make(farm, &[]).await).await;
                let seal = farm.ask(Method::GET, "/pass/binder", &cookie, None).await.hidden("seal");
                Visits { cookie, seal }
            }
            Role::Helper | Role::Owner => Visits { cookie: farm.cookie(role), seal: farm.seal(role) },
        }
    }

    async fn tries(&self, farm: &Farm, row: &Row) -> Page {
        let path = address_of(farm, &row.path).await;
        // A trace in a paper's form is of somebody on some day; without them there is nothing to print.
        let path = if row.path.starts_with("/trace.") { format!("{path}?person=M05&day=2026-08-18") } else { path };
        let entry = secret::entry();
        let fields = [("seal", self.seal.as_str()), ("entry", entry.as_str())];
        let is_paper = row.path.ends_with("/paper");
        match row.method {
            Method::POST if is_paper => {
                let part =
                    |(name, value): &(&str, &str)| format!("--edge\r\nContent-Disposition: form-data; name=\"{name}\"\r\n\r\n{value}\r\n");
                let body = format!("{}--edge--\r\n", fields.iter().map(part).collect::<String>());
                let request = Request::post(&path)
                    .header(header::COOKIE, &self.cookie)
                    .header(header::CONTENT_TYPE, "multipart/form-data; boundary=edge");
                farm.answer(request.body(Body::from(body)).unwrap()).await
            }
            Method::POST => farm.ask(Method::POST, &path, &self.cookie, Some(&fields)).await,
            _ => farm.ask(Method::GET, &path, &self.cookie, None).await,
        }
    }
}

/// The letter of what came back.
fn letter(page: &Page) -> char {
    match page.status {
        303 if page.location.starts_with("/signin?back=") => 's',
        303 if matches!(page.location.as_str(), "/own" | "/pass") => 'n',
        303 => 'o',
        200 if page.kind.starts_with("text/html") => 'p',
        200 => 'f',
        403 => 'x',
        404 => '-',
        409 => 't',
        422 => 'r',
        _ => '?',
    }
}

async fn every_cell_of(role: Role) {
    let farm = Farm::sample().await;
    let column = EVERYBODY.iter().position(|own| *own == role).unwrap();
    // A pass there is, whoever comes: the owner's doors to it lead somewhere.
    pass::make(&farm, &[]).await;
    let visits = Visits::of(&farm, role).await;
    let before = newest(&farm).await;
    // The ways out are last.
    let (last, others): (Vec<Row>, Vec<Row>) = table().into_iter().partition(|row| WAYS_OUT.contains(&row.path.as_str()));
    let mut wrong = Vec::new();
    for row in others.into_iter().chain(last) {
        let page = visits.tries(&farm, &row).await;
        let (found, says) = (letter(&page), row.letters[column]);
        if found != says {
            wrong.push(format!(
                "{} {} {says} {role:?} found {found} ({}, {} {})",
                row.method, row.path, page.status, page.kind, page.location
            ));
        }
        let is_shut = matches!(found, 's' | 'n' | 'x');
        if is_shut && matches!(role, Role::Stranger | Role::Member | Role::Inspector) && newest(&farm).await != before {
            wrong.push(format!("{} {} kept something of {role:?}", row.method, row.path));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// The last line of the journal.
async fn newest(farm: &Farm) -> String {
    let lines = tallypail::store::journal::newest(&mut farm.ledger.read().await.unwrap(), 1).await.unwrap();
    lines.first().map(|line| format!("{line:?}")).unwrap_or_default()
}

#[tokio::test]
async fn a_stranger_finds_what_the_table_says() {
    every_cell_of(Role::Stranger).await;
}

#[tokio::test]
async fn a_household_finds_what_the_table_says() {
    every_cell_of(Role::Member).await;
}

#[tokio::test]
async fn an_inspector_finds_what_the_table_says() {
    every_cell_of(Role::Inspector).await;
}

#[tokio::test]
async fn a_helper_finds_what_the_table_says() {
    every_cell_of(Role::Helper).await;
}

#[tokio::test]
async fn the_owner_finds_what_the_table_says() {
    every_cell_of(Role::Owner).await;
}
