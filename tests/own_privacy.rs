//! A household walks every door of the sample farm and finds its own and nobody else's; and what hangs at the fridge names
//! nobody.
//!
//! Sources: OWASP Authorization Cheat Sheet (deny by default, check every request); ISO/IEC 18004 for the square.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::{
    doors::address_of,
    farm::{Farm, Page, kind_of},
    own::{come_in, give},
};
use axum::{
    body::Body,
    http::{Method, Request, header},
};
use std::{fs, process::Command};
use tallypail::{
    paper::qr::Qr,
    web::{secret, visitor::Role},
};

/// What belongs to the others: their numbers, names, ways to be reached, stand-ins, and everybody of the farm.
struct Others {
    words: Vec<String>,
}

impl Others {
    async fn than(farm: &Farm, label: &str) -> Others {
        let mut words = vec!["Mina".to_owned(), "Tobe".to_owned()];
        let people = kind_of("people");
        for person in farm.list("people").await {
            let cell = |column: &str| person.cell(people, column).text().to_owned();
            if cell("label") != label {
                words.extend([cell("label"), cell("name"), cell("phone"), cell("second_way"), cell("note")]);
            }
            // Their own name and phones stand on no page at the fridge either: a phone there is looked at over a shoulder.
            words.extend([cell("name"), cell("phone"), cell("second_way")]);
        }
        let (collectors, own) = (kind_of("collectors"), farm.list("people").await);
        let own = own.iter().find(|person| person.cell(people, "label").text() == label).unwrap().number;
        for stand_in in farm.list("collectors").await {
            words.push(stand_in.cell(collectors, "reach").text().to_owned());
            if stand_in.cell(collectors, "person").whole() != Some(own) {
                words.push(stand_in.cell(collectors, "name").text().to_owned());
            }
        }
        words.retain(|word| word.len() > 2);
        words.sort();
        words.dedup();
        Others { words }
    }

    /// Which of them a page shows; money is nobody's business at the fridge.
    fn on(&self, page: &Page) -> Vec<String> {
        let mut found: Vec<String> = self.words.iter().filter(|word| page.text.contains(word.as_str())).cloned().collect();
        if page.text.match_indices('$').any(|(place, _)| page.text[place + 1..].starts_with(|c: char| c.is_ascii_digit())) {
            found.push("money".to_owned());
        }
        found
    }
}

/// Every door, tried with a household's visit: its own open, and all the others turn it away with nothing on them.
async fn walk(farm: &Farm, label: &str) -> Vec<(String, Page)> {
    let cookie = come_in(farm, label).await;
    let seal = farm.ask(Method::GET, "/own/page", &cookie, None).await.hidden("seal");
    let mut opened = Vec::new();
    // Leaving is last, because there is no visit to try the others with after it.
    let (last, others): (Vec<_>, Vec<_>) = farm.doors().into_iter().partition(|door| door.path == "/own/leave");
    for door in others.into_iter().chain(last) {
        let path = address_of(farm, door.path).await;
        let entry = secret::entry();
        let fields = [("seal", seal.as_str()), ("entry", entry.as_str()), ("person", "M01"), ("jars.6325A-Z", "99")];
        let form = (door.method == Method::POST).then_some(&fields[..]);
        let page = farm.ask(door.method.clone(), &path, &cookie, form).await;
        if !door.who.lets_in(Role::Member) {
            page.came_with(403).says("For the farm only");
        }
        opened.push((format!("{} {path}", door.method), page));
    }
    opened
}

#[tokio::test]
async fn two_households_walk_every_door_and_see_nothing_of_anybody_else() {
    let farm = Farm::sample().await;
    let mut wrong = Vec::new();
    for label in ["M04", "M05"] {
        give(&farm, label).await;
        let others = Others::than(&farm, label).await;
        assert!(others.words.len() > 80, "the others were not found: {:?}", others.words);
        let opened = walk(&farm, label).await;
        let own: Vec<&(String, Page)> = opened.iter().filter(|(_, page)| page.text.contains(label)).collect();
        assert!(own.iter().any(|(path, _)| path == "GET /own/page"), "{label} did not see its own page");
        let took = opened.iter().find(|(path, _)| path == "POST /own/took").unwrap();
        took.1.came_with(422).says(label);
        for (path, page) in &opened {
            let found = others.on(page);
            if !found.is_empty() {
                wrong.push(format!("{path} shows {label} {found:?}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    // The looking works: the owner's page of the pickup does show them.
    let seen = Others::than(&farm, "M05").await.on(&farm.visit(Role::Owner, "/people").await);
    assert!(seen.len() > 50, "{seen:?}");
}

/// Every page of a household that took, was refused and was asked is as silent about the others.
#[tokio::test]
async fn what_a_household_is_answered_names_nobody_either() {
    let farm = Farm::sample().await;
    give(&farm, "M04").await;
    let others = Others::than(&farm, "M04").await;
    let phone = crate::own_page::Phone::of(&farm, "M04").await;
    let page = phone.page().await;
    let lots: Vec<String> =
        page.text.match_indices("name=\"jars.").map(|(at, _)| page.text[at + 11..].split('"').next().unwrap().to_owned()).collect();
    assert!(!lots.is_empty(), "nothing can go on the sample farm: {}", page.text);
    let mut pages = vec![page];
    for fields in [
        vec![("jars", "1")],
        vec![("jars", "1")],
        vec![("jars", "99"), ("sure", "person M04")],
        vec![("jars", "1"), ("taken_by", "Nobody")],
    ] {
        let name = format!("jars.{}", lots[0]);
        let fields: Vec<(&str, &str)> =
            fields.into_iter().map(|(own, value)| if own == "jars" { (name.as_str(), value) } else { (own, value) }).collect();
        pages.push(phone.took(&fields).await);
        pages.push(phone.page().await);
    }
    assert_eq!(pages.iter().map(|page| page.status).collect::<Vec<_>>(), [200, 303, 200, 422, 200, 422, 200, 422, 200]);
    for page in &pages {
        assert_eq!(others.on(page), Vec::<String>::new(), "{}", page.text);
    }
}

/// The text of a PDF, page by page.
fn pages_of(bytes: &[u8]) -> Vec<String> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("paper.pdf");
    fs::write(&path, bytes).unwrap();
    let read =
        Command::new("pdftotext").arg("-layout").arg(&path).arg("-").output().expect("pdftotext, of poppler-utils, must be installed");
    let text = String::from_utf8(read.stdout).unwrap();
    text.trim_end_matches('\u{c}').split('\u{c}').map(str::to_owned).collect()
}

#[tokio::test]
async fn the_clipboard_has_numbers_and_one_side() {
    let farm = Farm::sample().await;
    let names: Vec<String> = farm.list("people").await.iter().map(|own| own.cell(kind_of("people"), "name").text().to_owned()).collect();
    for end in ["", ".pdf", ".csv", ".json"] {
        let page = farm.visit(Role::Helper, &format!("/pickup/clipboard{end}")).await;
        page.came_with(200);
        let text = if end == ".pdf" { pages_of(&page.bytes).concat() } else { page.text.clone() };
        assert!(text.contains("M04") && text.contains("F20261121"), "{end}: {text}");
        for name in &names {
            assert!(!text.contains(name.as_str()), "{end} names {name}");
        }
    }
    let pdf = farm.visit(Role::Helper, "/pickup/clipboard.pdf").await;
    assert_eq!((pdf.kind.as_str(), pages_of(&pdf.bytes).len()), ("application/pdf", 1), "27 lines are one side");
    let boxes = pages_of(&pdf.bytes)[0].matches('[').count();
    assert_eq!(boxes, 54, "two boxes a line: {}", pages_of(&pdf.bytes)[0]);
    farm.visit(Role::Helper, "/pickup/clipboard?day=2026-11-24").await.came_with(200).says("Tue 24 Nov 2026").says("M05").never_says("M04");
    farm.visit(Role::Helper, "/pickup/clipboard?day=someday").await.came_with(200).says("Today&#39;s is shown.");
}

async fn asked_at(farm: &Farm, host: &str, path: &str) -> Page {
    let request =
        Request::get(path).header(header::COOKIE, farm.cookie(Role::Helper)).header(header::HOST, host).body(Body::empty()).unwrap();
    farm.answer(request).await
}

#[tokio::test]
async fn the_fridge_sheet_has_the_address_the_browser_sees_or_one_that_is_typed() {
    let farm = Farm::sample().await;
    let page = asked_at(&farm, "192.0.2.7:8080", "/pickup/fridge-sheet").await;
    page.came_with(200).says("http://192.0.2.7:8080/own").says("<svg class=\"square\"").says("Put in your number and your PIN.");
    for host in ["", "<script>", "farm.example/x", "a b"] {
        let page = asked_at(&farm, host, "/pickup/fridge-sheet").await;
        page.came_with(200).says("could not be found out. Type it here.").never_says("<svg class=\"square\"");
    }
    let typed = "/pickup/fridge-sheet?address=https%3A%2F%2Ffarm.example%2Fown";
    asked_at(&farm, "192.0.2.7", typed).await.says("<p class=\"telling\">https://farm.example/own</p>").says("fridge-sheet.pdf?address=");
    let wrong = asked_at(&farm, "192.0.2.7", "/pickup/fridge-sheet?address=javascript:alert(1)").await;
    wrong.came_with(200).says("That is no address a phone can open").never_says("<svg class=\"square\"");
    let pdf = asked_at(&farm, "192.0.2.7:8080", "/pickup/fridge-sheet.pdf").await;
    let pages = pages_of(&pdf.bytes);
    assert_eq!(pages.len(), 1);
    for words in ["http://192.0.2.7:8080/own", "Put in your number and your PIN.", "Nothing here says that milk is safe"] {
        assert!(pages[0].contains(words), "no “{words}” in {}", pages[0]);
    }
}

/// Source: ISO/IEC 18004: format information, data masks, the order of codewords, and byte mode. This reader shares no code
/// with the writer, and reads versions 1 to 3 at level M, which have one block.
fn read_square(qr: &Qr) -> String {
    let side = qr.side();
    let version = (side - 17) / 4;
    assert!((1..=3).contains(&version), "version {version}");
    let format: i32 = (0..6)
        .map(|bit| (bit, 8, bit))
        .chain([(6, 8, 7), (7, 8, 8), (8, 7, 8)])
        .chain((9..15).map(|bit| (bit, 14 - bit, 8)))
        .map(|(bit, across, down)| i32::from(qr.is_dark(across, down)) << bit)
        .sum::<i32>()
        ^ 0b101_0100_0001_0010;
    assert_eq!(format >> 13, 0b00, "level M");
    let mask = (format >> 10) & 7;
    let in_finder = |x: i32, y: i32| (x < 9 && !(9..side - 8).contains(&y)) || (x >= side - 8 && y < 9);
    let in_alignment = |x: i32, y: i32| version > 1 && (x - (side - 7)).abs() <= 2 && (y - (side - 7)).abs() <= 2;
    let flips = |x: i32, y: i32| match mask {
        0 => (x + y) % 2 == 0,
        1 => y % 2 == 0,
        2 => x % 3 == 0,
        3 => (x + y) % 3 == 0,
        4 => (x / 3 + y / 2) % 2 == 0,
        5 => x * y % 2 + x * y % 3 == 0,
        6 => (x * y % 2 + x * y % 3) % 2 == 0,
        _ => ((x + y) % 2 + x * y % 3) % 2 == 0,
    };
    let (mut bits, mut right, mut upward) = (Vec::new(), side - 1, true);
    while right > 0 {
        if right == 6 {
            right = 5;
        }
        for step in 0..side {
            let y = if upward { side - 1 - step } else { step };
            for x in [right, right - 1] {
                if !(in_finder(x, y) || in_alignment(x, y) || x == 6 || y == 6) {
                    bits.push(qr.is_dark(x, y) != flips(x, y));
                }
            }
        }
        upward = !upward;
        right -= 2;
    }
    let number = |from: usize, long: usize| bits[from..from + long].iter().fold(0usize, |sum, bit| sum * 2 + usize::from(*bit));
    assert_eq!(number(0, 4), 0b0100, "byte mode");
    let bytes: Vec<u8> = (0..number(4, 8)).map(|nth| u8::try_from(number(12 + nth * 8, 8)).unwrap()).collect();
    String::from_utf8(bytes).unwrap()
}

#[test]
fn a_reader_of_the_square_finds_the_address() {
    for address in ["http://a.b/own", "http://192.0.2.7:8080/own", "https://farm.example/own?number=M05"] {
        assert_eq!(read_square(&Qr::of(address).unwrap()), address);
    }
    assert!(Qr::of(&"x".repeat(5000)).is_none());
}

/// The path of the drawing covers the dark modules and no other.
#[test]
fn the_drawing_is_the_square() {
    let qr = Qr::of("http://192.0.2.7:8080/own").unwrap();
    let mut dark = 0;
    for run in qr.path().split('M').filter(|run| !run.is_empty()) {
        let (at, rest) = run.split_once('h').unwrap();
        let (across, down) = at.split_once(' ').unwrap();
        let long: i32 = rest.split('v').next().unwrap().parse().unwrap();
        let (across, down): (i32, i32) = (across.parse::<i32>().unwrap() - 4, down.parse::<i32>().unwrap() - 4);
        assert!((0..long).all(|step| qr.is_dark(across + step, down)));
        dark += long;
    }
    let all = (0..qr.side())
        .flat_map(|down| (0..qr.side()).map(move |across| (across, down)))
        .filter(|(across, down)| qr.is_dark(*across, *down))
        .count();
    assert_eq!(usize::try_from(dark).unwrap(), all);
}
