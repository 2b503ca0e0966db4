//! Coming in: the first visit, passwords, sessions, and slowing somebody who guesses.
//!
//! Sources: OWASP Password Storage, Authentication, Session Management and Unvalidated Redirects cheat sheets;
//! RFC 6265 and its successor's draft for cookies.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::farm::{Farm, HELPER, OWNER, PASSWORD, Page, as_form};
use axum::{
    body::Body,
    extract::ConnectInfo,
    http::{Method, Request, header},
};
use std::net::SocketAddr;
use tallypail::{
    pages::{SESSION, SESSION_HOURS},
    store::hands,
    trade::rules::places,
    web::{secret, visitor::Role},
};

/// Opens the sign-in page and sends it, as a browser at this address would.
pub async fn sign_in_from(farm: &Farm, address: &str, name: &str, password: &str, back: &str) -> Page {
    let page = farm.ask(Method::GET, "/signin", "", None).await;
    let fields = [("door", page.hidden("door")), ("back", back.to_owned()), ("name", name.to_owned()), ("password", password.to_owned())];
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (*name, value.as_str())).collect();
    let mut request = Request::post("/signin")
        .header(header::COOKIE, page.cookie())
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
        .body(Body::from(as_form(&fields)))
        .unwrap();
    let from: SocketAddr = format!("{address}:50000").parse().unwrap();
    request.extensions_mut().insert(ConnectInfo(from));
    farm.answer(request).await
}

async fn sign_in(farm: &Farm, name: &str, password: &str) -> Page {
    sign_in_from(farm, "192.0.2.7", name, password, "/stop").await
}

async fn visit_with(farm: &Farm, cookie: &str, path: &str) -> Page {
    farm.ask(Method::GET, path, cookie, None).await
}

#[tokio::test]
async fn name_and_password_open_the_page_asked_for() {
    let farm = Farm::new().await;
    let page = sign_in(&farm, OWNER, PASSWORD).await;
    assert_eq!((page.status, page.location.as_str()), (303, "/stop"));
    visit_with(&farm, &page.cookie(), "/stop").await.came_with(200).says(OWNER);
    let page = sign_in(&farm, "  mina ", PASSWORD).await;
    assert_eq!(page.status, 303, "the name's capitals and spaces do not matter on a phone");
}

/// Source: OWASP Authentication Cheat Sheet: one sentence for a wrong name and a wrong password.
#[tokio::test]
async fn a_wrong_name_and_a_wrong_password_get_the_same_sentence() {
    let farm = Farm::new().await;
    for (name, password) in
        [(OWNER, "tansy and clovers"), ("Nobody", PASSWORD), (OWNER, ""), ("", ""), ("🐄", "🐄"), (HELPER, "' OR 1=1 --")]
    {
        let page = sign_in(&farm, name, password).await;
        page.came_with(422).says("Name and password do not fit together. Try again.");
        assert!(page.cookies.iter().all(|cookie| !cookie.starts_with(SESSION)), "{name} got a session");
        page.never_says("tansy and clover");
    }
}

/// Source: OWASP Password Storage Cheat Sheet: Argon2id with at least 19 MiB, two passes, one lane; never the same salt.
#[tokio::test]
async fn passwords_are_kept_as_argon2id_and_never_as_words() {
    let farm = Farm::new().await;
    let hand = hands::find(&mut farm.ledger.read().await.unwrap(), OWNER).await.unwrap().unwrap();
    assert!(hand.secret.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"), "{}", hand.secret);
    assert_ne!(secret::hash(PASSWORD).unwrap(), secret::hash(PASSWORD).unwrap(), "every hash has its own salt");
    farm.ledger.close().await;
    let bytes = std::fs::read(farm.file()).unwrap();
    let holds = |words: &[u8]| bytes.windows(words.len()).any(|window| window == words);
    assert!(holds(b"argon2id") && !holds(PASSWORD.as_bytes()));
}

/// Source: OWASP Session Management Cheat Sheet: HttpOnly, SameSite, at least 128 random bits, a new one each time.
#[tokio::test]
async fn the_session_cookie_is_out_of_reach_of_scripts_and_other_sites() {
    let farm = Farm::new().await;
    let page = sign_in(&farm, OWNER, PASSWORD).await;
    let cookie = page.cookies.iter().find(|cookie| cookie.starts_with(SESSION)).unwrap();
    for part in ["HttpOnly", "SameSite=Lax", "Path=/", "Max-Age=43200"] {
        assert!(cookie.contains(part), "{cookie} lacks {part}");
    }
    let token = cookie.split(['=', ';']).nth(1).unwrap().to_owned();
    assert_eq!(token.len(), 64, "32 bytes in hexadecimal");
    let again = sign_in(&farm, OWNER, PASSWORD).await.cookie();
    assert!(!again.contains(&token), "every sign-in has a token of its own");
    farm.ledger.close().await;
    let bytes = std::fs::read(farm.file()).unwrap();
    assert!(!bytes.windows(64).any(|window| window == token.as_bytes()), "the ledger keeps only the token's digest");
    for cookie in farm_door_cookies(&Farm::new().await).await {
        assert!(cookie.contains("HttpOnly") && cookie.contains("SameSite"), "{cookie}");
    }
}

async fn farm_door_cookies(farm: &Farm) -> Vec<String> {
    visit_with(farm, "", "/signin").await.cookies
}

#[tokio::test]
async fn a_session_ends_after_its_hours() {
    let mut farm = Farm::new().await;
    let cookie = sign_in(&farm, HELPER, PASSWORD).await.cookie();
    farm.wait(SESSION_HOURS * 3600 - 1);
    visit_with(&farm, &cookie, "/stop").await.came_with(200).says(HELPER);
    farm.wait(1);
    assert_eq!(visit_with(&farm, &cookie, "/stop").await.location, "/signin?back=/stop");
    let late = farm.ask(Method::POST, "/stop", &cookie, Some(&[("what", "everything")])).await;
    late.came_with(403).says("Sign in again").says("Nothing was kept");
    assert!(farm.list("holds").await.is_empty());
}

#[tokio::test]
async fn signing_out_ends_the_session_and_not_only_the_cookie() {
    let farm = Farm::new().await;
    let cookie = sign_in(&farm, OWNER, PASSWORD).await.cookie();
    let seal = visit_with(&farm, &cookie, "/stop").await.hidden("seal");
    farm.ask(Method::POST, "/signout", &cookie, Some(&[("seal", "another page's")])).await.came_with(403);
    visit_with(&farm, &cookie, "/stop").await.came_with(200);
    let out = farm.ask(Method::POST, "/signout", &cookie, Some(&[("seal", &seal)])).await;
    assert!(out.location == "/signin" && out.cookies[0].starts_with(&format!("{SESSION}=;")) && out.cookies[0].contains("Max-Age=0"));
    assert_eq!(visit_with(&farm, &cookie, "/stop").await.location, "/signin?back=/stop");
    farm.visit(Role::Owner, "/stop").await.came_with(200);
}

/// Source: OWASP Authentication Cheat Sheet, "Account Lockout": slowed, and never shut out for good by a stranger.
#[tokio::test]
async fn guessing_at_a_name_is_slowed_and_waiting_helps() {
    let mut farm = Farm::new().await;
    for nth in 0..5 {
        sign_in_from(&farm, &format!("192.0.2.{nth}"), OWNER, "not the password", "/").await.came_with(422);
    }
    let slowed = sign_in_from(&farm, "192.0.2.9", OWNER, PASSWORD, "/").await;
    slowed.came_with(429).says("Too many tries that did not fit. Wait 1 min");
    sign_in_from(&farm, "192.0.2.9", "MINA", PASSWORD, "/").await.came_with(429);
    sign_in_from(&farm, "192.0.2.9", HELPER, PASSWORD, "/").await.came_with(303);
    farm.wait(60);
    sign_in(&farm, OWNER, "still not it").await.came_with(422);
    sign_in(&farm, OWNER, PASSWORD).await.came_with(429).says("Wait 2 min");
    farm.wait(120);
    sign_in(&farm, OWNER, PASSWORD).await.came_with(303);
    sign_in(&farm, OWNER, "a slip of the thumb").await.came_with(422);
    sign_in(&farm, OWNER, PASSWORD).await.came_with(303);
}

#[tokio::test]
async fn the_wait_never_grows_beyond_a_quarter_of_an_hour() {
    let mut farm = Farm::new().await;
    for _ in 0..12 {
        let page = sign_in(&farm, OWNER, "not the password").await;
        assert!(page.status == 422 || page.status == 429, "{}", page.status);
        farm.wait(15 * 60);
    }
    sign_in(&farm, OWNER, PASSWORD).await.came_with(303);
}

#[tokio::test]
async fn guessing_from_one_address_at_many_names_is_slowed_too() {
    let farm = Farm::new().await;
    for nth in 0..20 {
        sign_in_from(&farm, "198.51.100.4", &format!("Guess {nth}"), "not the password", "/").await.came_with(422);
    }
    sign_in_from(&farm, "198.51.100.4", HELPER, PASSWORD, "/").await.came_with(429).says("Wait 1 min");
    sign_in_from(&farm, "192.0.2.7", HELPER, PASSWORD, "/").await.came_with(303);
}

/// Source: OWASP Unvalidated Redirects and Forwards Cheat Sheet.
#[tokio::test]
async fn signing_in_never_leads_to_another_site() {
    let farm = Farm::new().await;
    let elsewhere = [
        "https://elsewhere.example/",
        "//elsewhere.example/",
        "/\\elsewhere.example",
        "\\\\elsewhere.example",
        "javascript:alert(1)",
        "elsewhere",
        "",
        "/\t/elsewhere.example",
        "/\r\nSet-Cookie: x=y",
        " //elsewhere.example",
    ];
    for back in elsewhere {
        let page = sign_in_from(&farm, "192.0.2.7", OWNER, PASSWORD, back).await;
        assert_eq!((page.status, page.location.as_str()), (303, "/"), "{back:?}");
    }
    let page = farm.ask(Method::GET, "/signin?back=//elsewhere.example", "", None).await;
    assert_eq!(page.hidden("back"), "/");
    let page = sign_in_from(&farm, "192.0.2.7", OWNER, PASSWORD, "/records/cows?x=1").await;
    assert_eq!(page.location, "/records/cows?x=1");
}

#[tokio::test]
async fn a_sign_in_form_from_elsewhere_is_refused() {
    let farm = Farm::new().await;
    let fields = [("name", OWNER), ("password", PASSWORD), ("back", "/"), ("door", "guessed")];
    for cookie in ["", "tallypail_door=", "tallypail_door=another"] {
        let page = farm.ask(Method::POST, "/signin", cookie, Some(&fields)).await;
        page.came_with(403).says("open too long");
        assert!(page.cookies.iter().all(|cookie| !cookie.starts_with(SESSION)));
    }
}

fn first_visit<'a>(door: &'a str, password: &'a str) -> Vec<(&'a str, &'a str)> {
    vec![
        ("door", door),
        ("name", "Tansyditch Farm"),
        ("zone", "America/New_York"),
        ("scale", "°F"),
        ("rules", "default-conservative"),
        ("best_by_days", "10"),
        ("health", ""),
        ("vet", ""),
        ("owner", "Mina"),
        ("password", password),
    ]
}

/// Source: OWASP Authentication Cheat Sheet: no default credentials. A new ledger has nobody in it and one open door.
#[tokio::test]
async fn a_new_ledger_has_no_password_and_leads_everybody_to_set_up() {
    let farm = Farm::empty().await;
    assert!(hands::list(&mut farm.ledger.read().await.unwrap()).await.unwrap().is_empty());
    assert_eq!(farm.visit(Role::Stranger, "/signin").await.location, "/setup");
    assert!(farm.visit(Role::Stranger, "/stop").await.location.starts_with("/signin"));
    let page = farm.visit(Role::Stranger, "/setup").await;
    page.came_with(200);
    for place in places().unwrap() {
        page.says(&format!("value=\"{}\"", place.id));
    }
    for (name, password) in [("Mina", PASSWORD), ("Tobe", "rinse wash acid"), ("admin", "admin"), ("", "")] {
        let door = "tallypail_door=x";
        let fields = [("name", name), ("password", password), ("door", "x"), ("back", "/")];
        farm.ask(Method::POST, "/signin", door, Some(&fields)).await.came_with(422);
    }
}

#[tokio::test]
async fn set_up_takes_one_owner_and_is_then_closed_for_good() {
    let farm = Farm::empty().await;
    let page = farm.visit(Role::Stranger, "/setup").await;
    let (door, cookie) = (page.hidden("door"), page.cookie());
    let typed = first_visit(&door, "tansy and clover");
    farm.ask(Method::POST, "/setup", "", Some(&typed)).await.came_with(403);

    let short = farm.ask(Method::POST, "/setup", &cookie, Some(&first_visit(&door, "tansy"))).await;
    short.came_with(422).says("A password needs 10 characters or more").says("value=\"Tansyditch Farm\"").never_says("value=\"tansy\"");
    assert!(farm.list("farm").await.is_empty(), "nothing is half set up");
    let (door, cookie) = (short.hidden("door"), short.cookie());
    let typed = first_visit(&door, "tansy and clover");

    let done = farm.ask(Method::POST, "/setup", &cookie, Some(&typed)).await;
    assert_eq!((done.status, done.location.as_str()), (303, "/"));
    let session = done.cookies.iter().find(|cookie| cookie.starts_with(SESSION)).unwrap();
    assert!(session.contains("HttpOnly") && session.contains("SameSite=Lax"), "{session}");
    visit_with(&farm, session.split(';').next().unwrap(), "/stop").await.came_with(200).says("Tansyditch Farm");
    assert_eq!((farm.list("farm").await.len(), farm.list("rules").await.len()), (1, 1));

    farm.ask(Method::POST, "/setup", &cookie, Some(&typed)).await.came_with(403);
    assert_eq!(farm.visit(Role::Stranger, "/setup").await.location, "/");
    assert_eq!(hands::list(&mut farm.ledger.read().await.unwrap()).await.unwrap(), [("Mina".to_owned(), "owner".to_owned())]);
    sign_in(&farm, "Mina", "tansy and clover").await.came_with(303);
}

/// Everything wrong on the first visit is said at once.
#[tokio::test]
async fn set_up_says_everything_that_is_wrong_at_once() {
    let farm = Farm::empty().await;
    let page = farm.visit(Role::Stranger, "/setup").await;
    let typed = [("door", page.hidden("door")), ("zone", "Tansyditch".to_owned()), ("best_by_days", "forty".to_owned())];
    let typed: Vec<(&str, &str)> = typed.iter().map(|(name, value)| (*name, value.as_str())).collect();
    let page = farm.ask(Method::POST, "/setup", &page.cookie(), Some(&typed)).await;
    page.came_with(422).says("Name of the farm: this is missing").says("“Tansyditch” is not a time zone");
    page.says("Choose the rules to start from").says("Write your name").says("A password needs 10 characters");
}
