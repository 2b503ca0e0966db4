//! What keeps others out that no single page is about: what browsers are told to forbid, sessions that end, tries that are
//! remembered, and a log that says no secret.
//!
//! Sources: OWASP HTTP Security Response Headers, Session Management and Logging cheat sheets; RFC 6797 for
//! Strict-Transport-Security; RFC 9110, 9.1 and 15.5.6 for ways of asking that a page does not know.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::{
    farm::{Farm, HELPER, OWNER, PASSWORD, Page},
    own::{give, tried_from},
    program::{Program, ask},
    signing_in::sign_in_from,
};
use axum::{
    body::Body,
    http::{Method, Request, header},
};
use std::collections::BTreeMap;
use tallypail::{
    pages::{self, App, SESSION},
    store::{Ledger, hands},
    web::{
        clock::Clock,
        secret,
        visitor::{Role, cookie},
    },
};
use tower::ServiceExt;

/// The headers of an answer of a farm that is, or is not, behind https.
async fn headers(farm: &Farm, secure: bool, request: Request<Body>) -> BTreeMap<String, Vec<String>> {
    let app = App { secure, ..App::new(farm.ledger.clone(), Clock::Stopped(farm.now)) };
    let answer = pages::open(app).0.oneshot(request).await.unwrap();
    let mut found: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for (name, value) in answer.headers() {
        found.entry(name.to_string()).or_default().push(value.to_str().unwrap().to_owned());
    }
    found
}

/// Source: OWASP HTTP Security Response Headers Cheat Sheet; RFC 6797, 7.2 (never without TLS).
#[tokio::test]
async fn every_answer_forbids_frames_guessed_types_and_what_no_page_needs() {
    let farm = Farm::new().await;
    for (method, path) in [
        ("GET", "/signin"),
        ("GET", "/assets/look.css"),
        ("GET", "/no/such/page"),
        ("POST", "/stop"),
        ("PUT", "/stop"),
        ("GET", "/lots/%ff"),
    ] {
        let asked =
            || Request::builder().method(method).uri(path).header(header::COOKIE, farm.cookie(Role::Owner)).body(Body::empty()).unwrap();
        let (bare, over_tls) = (headers(&farm, false, asked()).await, headers(&farm, true, asked()).await);
        for (name, says) in [
            ("x-content-type-options", "nosniff"),
            ("x-frame-options", "DENY"),
            ("referrer-policy", "same-origin"),
            ("cross-origin-opener-policy", "same-origin"),
            ("cross-origin-resource-policy", "same-origin"),
            ("permissions-policy", "camera=(), geolocation=(), microphone=(), payment=(), usb=()"),
        ] {
            assert_eq!(bare[name], [says], "{method} {path}");
            assert_eq!(over_tls[name], [says], "{method} {path}");
        }
        assert!(bare["content-security-policy"][0].starts_with("default-src 'none';"), "{method} {path}");
        assert_eq!(over_tls["strict-transport-security"], ["max-age=31536000"], "{method} {path}");
        assert!(!bare.contains_key("strict-transport-security"), "a farm without https would be shut out of its own pages");
        assert!(!bare.contains_key("server") && !bare.contains_key("x-powered-by"), "{bare:?}");
    }
}

/// Nothing is answered in the words of a library: an address that cannot be read, and a way of asking no page knows.
#[tokio::test]
async fn what_no_page_was_asked_is_refused_in_our_own_words() {
    let farm = Farm::new().await;
    for path in ["/lots/%ff", "/lab/samples/seven", "/lab/samples/99999999999999999999", "/records/cows/%00", "/callbacks/1.5"] {
        let page = farm.visit(Role::Owner, path).await;
        page.says("There is no page at").says("start again from Today").never_says("i64").never_says("UTF-8");
        assert_eq!(page.status, 400, "{path}");
    }
    let asked = Request::put("/stop").header(header::COOKIE, farm.cookie(Role::Owner)).body(Body::empty()).unwrap();
    let found = headers(&farm, false, asked).await;
    assert_eq!(found["allow"], ["GET,HEAD,POST"]);
    let page = farm.ask(Method::PUT, "/stop", &farm.cookie(Role::Owner), None).await;
    page.came_with(405).says("Nothing was kept");
    let long = "x".repeat(600_000);
    let page = farm.submit(Role::Owner, "/stop", &[("what", &long)]).await;
    assert!(page.status == 413 || page.status == 422, "{}", page.status);
    page.says("far too long").says("Nothing was kept");
}

/// Source: OWASP Session Management Cheat Sheet, “Renew the Session ID After Any Privilege Level Change”.
#[tokio::test]
async fn a_token_somebody_else_brought_along_never_becomes_a_session() {
    let farm = Farm::new().await;
    let planted = format!("{SESSION}={}", secret::token());
    let page = farm.ask(Method::GET, "/signin", &planted, None).await;
    let fields = [("door", page.hidden("door")), ("back", "/".to_owned()), ("name", OWNER.to_owned()), ("password", PASSWORD.to_owned())];
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (*name, value.as_str())).collect();
    let came = farm.ask(Method::POST, "/signin", &format!("{planted}; {}", page.cookie()), Some(&fields)).await;
    assert_eq!(came.status, 303, "{}", came.text);
    assert!(came.cookie().contains(SESSION) && !came.cookie().contains(&planted), "the token that was brought along was kept");
    assert_eq!(farm.ask(Method::GET, "/stop", &planted, None).await.location, "/signin?back=/stop");
    farm.ask(Method::GET, "/stop", &came.cookie(), None).await.came_with(200);
}

/// Source: OWASP ASVS, session termination: a changed password ends what was open under the old one.
#[tokio::test]
async fn a_new_password_ends_every_session_of_that_name_and_no_other() {
    let farm = Farm::new().await;
    let phones = [sign_in(&farm, OWNER).await.cookie(), sign_in(&farm, OWNER).await.cookie()];
    let helper = sign_in(&farm, HELPER).await.cookie();
    let mut tx = farm.ledger.begin().await.unwrap();
    let secret = secret::hash("a longer word than before").unwrap();
    hands::record(&mut tx, &hands::Hand { name: OWNER.to_owned(), role: "owner".to_owned(), secret }, farm.now).await.unwrap();
    tx.commit().await.unwrap();
    for phone in phones {
        assert_eq!(farm.ask(Method::GET, "/stop", &phone, None).await.location, "/signin?back=/stop");
    }
    farm.ask(Method::GET, "/stop", &helper, None).await.came_with(200);
    sign_in(&farm, OWNER).await.came_with(422);
}

async fn sign_in(farm: &Farm, name: &str) -> Page {
    sign_in_from(farm, "192.0.2.7", name, PASSWORD, "/stop").await
}

/// Whoever waits for the program to be started anew waits in vain: what failed is in the ledger.
#[tokio::test]
async fn failed_tries_are_remembered_when_the_program_starts_again() {
    let mut farm = Farm::sample().await;
    give(&farm, "M05").await;
    for _ in 0..6 {
        sign_in_from(&farm, "192.0.2.7", OWNER, "not the word", "/").await;
        tried_from(&farm, "192.0.2.8", "M05", "000000").await;
    }
    let waits = |page: &Page| page.status == 429 || page.text.contains("Wait");
    assert!(waits(&sign_in(&farm, OWNER).await), "{}", sign_in(&farm, OWNER).await.text);
    farm.ledger.close().await;
    farm.ledger = Ledger::open(&farm.folder.path().join("sample.ledger")).await.unwrap();
    let page = sign_in(&farm, OWNER).await;
    assert!(waits(&page) && !page.cookie().contains(SESSION), "{}", page.text);
    let page = tried_from(&farm, "192.0.2.8", "M05", "000000").await;
    assert!(waits(&page), "{}", page.text);
}

#[test]
fn a_cookie_is_read_by_its_whole_name() {
    let headers = |line: &str| [(header::COOKIE, line.parse().unwrap())].into_iter().collect();
    assert_eq!(cookie(&headers("xtallypail_session=a; tallypail_session=b; tallypail_sessions=c"), SESSION).as_deref(), Some("b"));
    assert_eq!(cookie(&headers("tallypail_session"), SESSION), None);
}

/// Source: OWASP Logging Cheat Sheet, “Data to exclude”: access tokens, passwords, and what names somebody.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_log_says_no_secret_however_much_it_says() {
    let farm = Farm::sample().await;
    give(&farm, "M05").await;
    let program = Program::serve(farm.file(), &["--log", "debug"]);
    let (cookie, seal) = program.sign_in();
    let page = ask(&program.address, "GET", "/own", "", &[]).unwrap();
    let own = [("door", page.hidden("door")), ("number", "M05".to_owned()), ("pin", crate::own::PIN.to_owned())];
    let own: Vec<(&str, &str)> = own.iter().map(|(name, value)| (*name, value.as_str())).collect();
    let came = ask(&program.address, "POST", "/own", &page.cookie, &own).unwrap();
    assert_eq!(came.status, 303, "{}", came.text);
    ask(&program.address, "GET", "/people?q=555-0199&from=Ashgrove", &cookie, &[]).unwrap();
    let household =
        [("seal", seal.as_str()), ("entry", "6d03a874-3d07-4b03-8074-af1e53286ceb"), ("label", "M77"), ("name", "Brackenhurst")];
    let household =
        [&household[..], &[("phone", "555-0199"), ("sort", "member"), ("channel", "herdshare"), ("since", "2026-05-01")]].concat();
    let kept = ask(&program.address, "POST", "/records/people", &cookie, &household).unwrap();
    assert_eq!(kept.status, 303, "{}", kept.text);
    ask(&program.address, "POST", "/records/people", &cookie, &[("seal", "wrong"), ("phone", "555-0199")]).unwrap();
    ask(&program.address, "GET", "/signin?back=/people%3Fq%3D555-0199", "tallypail_session=planted-token", &[]).unwrap();
    let said = program.said();
    assert!(said.contains("/records/people") && said.contains("DEBUG"), "the log says nothing: {said}");
    let (session, visit) = (cookie.split_once('=').unwrap().1, came.cookie.split_once('=').unwrap().1);
    let door = page.hidden("door");
    for secret in
        [PASSWORD, crate::own::PIN, session, visit, &seal, &door, "555-0199", "Brackenhurst", "Ashgrove", "planted-token", "$argon2id"]
    {
        assert!(!said.contains(secret), "the log says “{secret}”: {}", said.lines().find(|line| line.contains(secret)).unwrap());
    }
}

/// A page that says where something is tried is worth as much as those tests are there.
#[test]
fn every_test_the_security_page_names_is_there() {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
    let page = std::fs::read_to_string(root.join("docs/security.md")).unwrap();
    let named: Vec<(&str, &str)> = page.split('`').filter_map(|word| word.split_once("::")).filter(|(file, _)| *file != "file").collect();
    assert!(named.len() > 40, "{named:?}");
    for (file, name) in named {
        let text = std::fs::read_to_string(root.join(format!("tests/{file}.rs"))).unwrap_or_default();
        assert!(text.contains(&format!("fn {name}()")), "docs/security.md names {file}::{name}, and there is no such test");
    }
}
