//! A household's way in: its number and PIN, the visit they open, and slowing whoever guesses.
//!
//! Sources: OWASP Authentication Cheat Sheet (one answer for a wrong name and a wrong secret, slowing and locking), OWASP
//! Session Management Cheat Sheet (cookie attributes, random tokens, ending a session), OWASP Password Storage Cheat Sheet.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::farm::{Farm, Page, as_form};
use axum::{
    body::Body,
    extract::ConnectInfo,
    http::{Method, Request, header},
};
use std::{net::SocketAddr, sync::OnceLock};
use tallypail::{
    pages::{VISIT, VISIT_MINUTES},
    store::own,
    web::{secret, visitor::Role},
};

/// The PIN every household of a test is given.
pub const PIN: &str = "402917";

/// Its hash, worked out once because that is slow on purpose.
pub fn hashed() -> String {
    static HASH: OnceLock<String> = OnceLock::new();
    HASH.get_or_init(|| secret::hash(PIN).unwrap()).clone()
}

/// Gives a household the PIN of the tests.
pub async fn give(farm: &Farm, label: &str) {
    let mut tx = farm.ledger.begin().await.unwrap();
    let person = own::find(&mut tx, label).await.unwrap().unwrap().person;
    own::give(&mut tx, person, &hashed(), farm.now).await.unwrap();
    tx.commit().await.unwrap();
}

/// Opens the front page and sends it, as a phone at this address would.
pub async fn tried_from(farm: &Farm, address: &str, number: &str, pin: &str) -> Page {
    let page = farm.ask(Method::GET, "/own", "", None).await;
    let door = page.hidden("door");
    let mut request = Request::post("/own")
        .header(header::COOKIE, page.cookie())
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
        .body(Body::from(as_form(&[("door", &door), ("number", number), ("pin", pin)])))
        .unwrap();
    let from: SocketAddr = format!("{address}:50000").parse().unwrap();
    request.extensions_mut().insert(ConnectInfo(from));
    farm.answer(request).await
}

async fn tried(farm: &Farm, number: &str, pin: &str) -> Page {
    tried_from(farm, "192.0.2.7", number, pin).await
}

/// Comes in with a number and the PIN of the tests: the visit's cookie.
pub async fn come_in(farm: &Farm, number: &str) -> String {
    let page = tried(farm, number, PIN).await;
    assert_eq!((page.status, page.location.as_str()), (303, "/own/page"), "{}", page.text);
    page.cookies.iter().find(|cookie| cookie.starts_with(VISIT)).unwrap().split(';').next().unwrap().to_owned()
}

/// Two households, of which the first has a PIN, and a walk-in who has none.
async fn farm() -> Farm {
    let farm = Farm::new().await;
    for (label, name, sort) in [("M01", "Ashgrove", "member"), ("M02", "Brindlecombe", "member"), ("W01", "Corrivane", "walk-in")] {
        let channel = if sort == "member" { "herdshare" } else { "farm gate" };
        farm.keep("people", &[("label", label), ("name", name), ("sort", sort), ("channel", channel), ("since", "2026-01-02")]).await;
    }
    give(&farm, "M01").await;
    farm
}

async fn opens(farm: &Farm, cookie: &str) -> bool {
    let page = farm.ask(Method::GET, "/own/page", cookie, None).await;
    assert!(page.status == 200 || page.location == "/own", "{}: {}", page.status, page.text);
    page.status == 200
}

#[tokio::test]
async fn a_number_is_taken_however_it_is_typed() {
    let farm = farm().await;
    for number in ["M01", "m01", "m1", "1", " M 1 "] {
        let cookie = come_in(&farm, number).await;
        farm.ask(Method::GET, "/own/page", &cookie, None).await.came_with(200).says("<h1>M01</h1>");
    }
    assert_eq!(tried(&farm, "1", "402 917").await.status, 303, "blanks between the digits do not matter");
    let cookie = come_in(&farm, "M01").await;
    assert_eq!(farm.ask(Method::GET, "/own", &cookie, None).await.location, "/own/page", "whoever is in is not asked again");
}

/// Source: OWASP Session Management Cheat Sheet: HttpOnly, SameSite, at least 128 random bits, a new one each time, and only
/// its digest kept.
#[tokio::test]
async fn the_visit_s_cookie_is_out_of_reach_of_scripts_and_other_sites() {
    let farm = farm().await;
    let page = tried(&farm, "M01", PIN).await;
    let cookie = page.cookies.iter().find(|cookie| cookie.starts_with(VISIT)).unwrap();
    for part in ["HttpOnly", "SameSite=Lax", "Path=/", "Max-Age=1800"] {
        assert!(cookie.contains(part), "{cookie} lacks {part}");
    }
    let token = cookie.split(['=', ';']).nth(1).unwrap().to_owned();
    assert_eq!(token.len(), 64, "32 bytes in hexadecimal");
    assert!(!come_in(&farm, "M01").await.contains(&token), "every visit has a token of its own");
    farm.ledger.close().await;
    let bytes = std::fs::read(farm.file()).unwrap();
    let holds = |words: &[u8]| bytes.windows(words.len()).any(|window| window == words);
    assert!(!holds(token.as_bytes()) && !holds(PIN.as_bytes()), "the ledger keeps digests only");
}

/// Source: OWASP Authentication Cheat Sheet: the same answer whether the name is unknown or the secret is wrong. That it takes
/// as long rests on one hash being worked out for each of them; see `secret::fits`.
#[tokio::test]
async fn nobody_learns_which_numbers_there_are() {
    let farm = farm().await;
    let mut said = Vec::new();
    for number in ["M01", "M02", "W01", "M77", "Z99"] {
        let page = tried(&farm, number, "111111").await;
        page.came_with(422).says("Number and PIN do not fit together. Try again, or ask the farm.");
        assert!(page.cookies.iter().all(|cookie| !cookie.starts_with(VISIT)), "{number} got in");
        said.push(page.text.replace(&page.hidden("door"), "").replace(number, ""));
    }
    said.dedup();
    assert_eq!(said.len(), 1, "a number nobody has is answered in other words");
    farm.ask(Method::GET, "/own", "", None).await.came_with(200).never_says("M01").never_says("Ashgrove");
}

#[tokio::test]
async fn what_is_no_pin_is_told_and_costs_no_try() {
    let farm = farm().await;
    for pin in ["", "12345", "1234567", "12345a", "pinpin", "🐄", "' OR 1"] {
        for _ in 0..2 {
            tried(&farm, "M01", pin).await.came_with(422).says("A PIN is six digits, and nothing else.");
        }
    }
    tried(&farm, "", "").await.came_with(422).says("Your number is missing. It stands on your card.").says("A PIN is six digits");
    tried(&farm, "M01", PIN).await.came_with(303);
}

/// Whether the right PIN opens nothing, and says why.
async fn opens_nothing(farm: &Farm, number: &str) -> bool {
    let page = tried_from(farm, "192.0.2.98", number, PIN).await;
    page.status == 422 && page.text.contains("Ask the farm for a new PIN")
}

/// Source: OWASP Authentication Cheat Sheet, “Account Lockout”: waits that grow, and a limit by the account and not only by
/// the address.
#[tokio::test]
async fn guessing_at_a_number_is_slowed_and_at_the_tenth_of_a_day_the_pin_is_shut() {
    let mut farm = farm().await;
    for nth in 1..=10 {
        for number in ["M01", "M77"] {
            let page = tried_from(&farm, &format!("192.0.2.{nth}"), number, "111111").await;
            let says = if nth < 10 { "do not fit together" } else { "That was ten times today. Ask the farm for a new PIN." };
            page.came_with(422).says(says);
        }
        farm.wait(16 * 60);
    }
    assert!(opens_nothing(&farm, "M01").await && opens_nothing(&farm, "M77").await);
    farm.wait(3 * 86_400);
    tried(&farm, "M01", PIN).await.came_with(422).says("do not fit together");
    assert!(own::find(&mut farm.ledger.read().await.unwrap(), "M01").await.unwrap().unwrap().pin.unwrap().secret.is_none());
    farm.visit(Role::Owner, "/people/M01/pin").await.says("This PIN is shut: ten tries in one day did not fit.");
    give(&farm, "M01").await;
    tried(&farm, "M01", PIN).await.came_with(303);
}

#[tokio::test]
async fn the_waits_grow_and_are_the_same_for_a_number_nobody_has() {
    let mut farm = farm().await;
    for number in ["M01", "M77"] {
        for nth in 0..5 {
            // However it is typed, it is one number.
            let typed = [number.to_owned(), number.to_lowercase()][nth % 2].clone();
            tried_from(&farm, &format!("192.0.2.{nth}"), &typed, "111111").await.came_with(422);
        }
        tried_from(&farm, "192.0.2.9", number, PIN).await.came_with(429).says("Too many tries that did not fit. Wait 1 min");
    }
    farm.wait(60);
    for number in ["M01", "M77"] {
        tried_from(&farm, "192.0.2.9", number, "111111").await.came_with(422);
        tried_from(&farm, "192.0.2.9", number, PIN).await.came_with(429).says("Wait 2 min");
    }
    farm.wait(120);
    tried_from(&farm, "192.0.2.9", "M01", PIN).await.came_with(303);
}

#[tokio::test]
async fn guessing_from_one_address_at_many_numbers_is_slowed_too() {
    let farm = farm().await;
    for nth in 0..20 {
        tried_from(&farm, "198.51.100.4", &format!("M{}", nth + 30), "111111").await.came_with(422);
    }
    tried_from(&farm, "198.51.100.4", "M01", PIN).await.came_with(429);
    tried_from(&farm, "192.0.2.7", "M01", PIN).await.came_with(303);
}

/// Source: OWASP Session Management Cheat Sheet, absolute timeout: it ends on the server, whatever the browser keeps.
#[tokio::test]
async fn a_visit_ends_after_half_an_hour_and_a_late_form_keeps_nothing() {
    let mut farm = farm().await;
    let cookie = come_in(&farm, "M01").await;
    let page = farm.ask(Method::GET, "/own/page", &cookie, None).await;
    farm.wait(VISIT_MINUTES * 60 - 1);
    assert!(opens(&farm, &cookie).await);
    farm.wait(1);
    assert!(!opens(&farm, &cookie).await);
    let fields = [("seal", page.hidden("seal")), ("entry", secret::entry()), ("jars.6132A-X", "1".to_owned())];
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (*name, value.as_str())).collect();
    farm.ask(Method::POST, "/own/took", &cookie, Some(&fields)).await.came_with(403).says("Come in again").says("Nothing was kept");
    assert!(farm.list("pickups").await.is_empty());
}

#[tokio::test]
async fn another_pin_or_none_or_a_shut_one_ends_every_visit() {
    let farm = farm().await;
    let person = 1;
    for turn in 0..3 {
        let (one, other) = (come_in(&farm, "M01").await, come_in(&farm, "1").await);
        assert!(opens(&farm, &one).await && opens(&farm, &other).await, "two phones of one household");
        let mut tx = farm.ledger.begin().await.unwrap();
        match turn {
            0 => own::give(&mut tx, person, "another", farm.now).await.unwrap(),
            1 => own::take_away(&mut tx, person).await.unwrap(),
            _ => own::shut(&mut tx, person).await.unwrap(),
        }
        tx.commit().await.unwrap();
        assert!(!opens(&farm, &one).await && !opens(&farm, &other).await, "turn {turn}");
        tried(&farm, "M01", PIN).await.came_with(422);
        give(&farm, "M01").await;
    }
}

#[tokio::test]
async fn done_ends_the_visit_and_not_only_its_cookie() {
    let farm = farm().await;
    let (cookie, other) = (come_in(&farm, "M01").await, come_in(&farm, "M01").await);
    let seal = farm.ask(Method::GET, "/own/page", &cookie, None).await.hidden("seal");
    farm.ask(Method::POST, "/own/leave", &cookie, Some(&[("seal", "another page's")])).await.came_with(403);
    assert!(opens(&farm, &cookie).await);
    let out = farm.ask(Method::POST, "/own/leave", &cookie, Some(&[("seal", &seal)])).await;
    assert!(out.location == "/own" && out.cookies[0].starts_with(&format!("{VISIT}=;")) && out.cookies[0].contains("Max-Age=0"));
    assert!(!opens(&farm, &cookie).await && opens(&farm, &other).await, "the other phone stays in");
}

/// Source: OWASP Cross-Site Request Forgery Prevention Cheat Sheet: signing in is a form like any other.
#[tokio::test]
async fn a_form_from_elsewhere_does_not_come_in() {
    let farm = farm().await;
    let fields = [("number", "M01"), ("pin", PIN), ("door", "guessed")];
    for cookie in ["", "tallypail_fridge=", "tallypail_fridge=another"] {
        let page = farm.ask(Method::POST, "/own", cookie, Some(&fields)).await;
        page.came_with(403).says("open too long");
        assert!(page.cookies.iter().all(|cookie| !cookie.starts_with(VISIT)));
    }
}

/// Source: OWASP Authorization Cheat Sheet: deny by default. A helper and the owner may do more than a household, and
/// are none for all that.
#[tokio::test]
async fn a_helper_and_the_owner_are_no_household() {
    let farm = farm().await;
    let visit = come_in(&farm, "M01").await;
    for role in [Role::Helper, Role::Owner] {
        for cookie in [farm.cookie(role), format!("{}; {visit}", farm.cookie(role))] {
            farm.ask(Method::GET, "/own/page", &cookie, None).await.came_with(403).says("A household&#39;s own page").never_says("M01");
            let seal = farm.seal(role);
            let fields = [("seal", seal.as_str()), ("person", "M01"), ("jars.6132A-X", "1")];
            farm.ask(Method::POST, "/own/took", &cookie, Some(&fields)).await.came_with(403);
            farm.ask(Method::GET, "/own", &cookie, None).await.came_with(200).says("is signed in on this phone").never_says("name=\"pin\"");
            farm.ask(Method::GET, "/pickup", &cookie, None).await.came_with(200).says("Hand out");
        }
    }
    assert!(farm.list("pickups").await.is_empty());
    farm.ask(Method::GET, "/pickup", &visit, None).await.came_with(403).says("For the farm only");
}

/// What a card says after its label.
fn on_card(page: &Page, name: &str) -> String {
    let field = format!("<dt>{name}</dt><dd class=\"pin\">");
    page.text.split_once(&field).and_then(|(_, rest)| rest.split_once('<')).unwrap().0.to_owned()
}

#[tokio::test]
async fn the_owner_gives_a_pin_that_is_shown_once_and_opens() {
    let farm = farm().await;
    farm.visit(Role::Owner, "/people/M02").await.says("/people/M02/pin");
    let page = farm.visit(Role::Owner, "/people/M02/pin").await;
    page.came_with(200).says("none yet").says("Make a PIN");
    let made = page.hidden("made");
    let address = ("address", "http://192.0.2.7:8080/own");
    let form = [("made", made.as_str()), address];
    let card = farm.submit(Role::Owner, "/people/M02/pin", &form).await;
    card.came_with(200)
        .says("http://192.0.2.7:8080/own")
        .says("<svg class=\"square\"")
        .says("Nothing here says that milk is safe to drink");
    card.never_says("Brindlecombe");
    assert_eq!(on_card(&card, "Number"), "M02");
    let pin = on_card(&card, "PIN");
    assert!(pin.len() == 6 && pin.chars().all(|c| c.is_ascii_digit()), "{pin}");
    tried(&farm, "M02", &pin).await.came_with(303);
    farm.visit(Role::Owner, "/people/M02/pin").await.says("given 14 May 2026, 12:00").never_says(&pin);
    let again = farm.submit(Role::Owner, "/people/M02/pin", &form).await;
    again.came_with(422).says("A PIN was given since this page was opened").never_says(&pin);
    tried(&farm, "M02", &pin).await.came_with(303);
    let made = again.hidden("made");
    let other = on_card(&farm.submit(Role::Owner, "/people/M02/pin", &[("made", &made), address]).await, "PIN");
    tried(&farm, "M02", &pin).await.came_with(422);
    tried(&farm, "M02", &other).await.came_with(303);
    farm.submit(Role::Owner, "/people/M02/pin/away", &[]).await.came_with(303);
    tried(&farm, "M02", &other).await.came_with(422);
    farm.visit(Role::Owner, "/people/M77/pin").await.came_with(404);
    farm.visit(Role::Owner, "/people/2/pin").await.came_with(404);
    let wrong = farm.submit(Role::Owner, "/people/M02/pin", &[("made", "0"), ("address", "farm.example")]).await;
    wrong.came_with(422).says("That is no address a phone can open").says("value=\"farm.example\"");
}

/// A PIN is no record: the farm folder, which is given away, and the journal never hold one.
#[tokio::test]
async fn pins_and_visits_are_no_part_of_the_farm_folder() {
    let farm = farm().await;
    come_in(&farm, "M01").await;
    let book = tallypail::store::records::book(&mut farm.ledger.read().await.unwrap()).await.unwrap();
    let files = tallypail::paper::folder::write(&book);
    assert!(files.iter().any(|(name, _)| name.contains("people")), "the folder was not written");
    for (name, bytes) in &files {
        assert!(!name.contains("pin") && !name.contains("visit"), "{name}");
        assert!(!String::from_utf8_lossy(bytes).contains("argon2"), "{name} holds a hash");
    }
}
