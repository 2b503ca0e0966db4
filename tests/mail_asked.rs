//! The page that asks for e-mails of a call-back: once, only to those who may be meant, never in practice, and for ever as it was written.
//!
//! Source: RFC 5322 (the letter's head).

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::{
    farm::{Farm, OWNER, as_form, kind_of},
    mail::{PAGE, all_asked, bad_day, carrier, postbox::Postbox, ready, round, sent, whole, words},
};
use axum::{
    body::Body,
    http::{Request, header},
};
use sqlx::{ConnectOptions, sqlite::SqliteConnectOptions};
use tallypail::{
    pages::{self, App},
    post::Carrier,
    store::{check, corrections, records},
    trade::{records::Cell, when::Moment},
    web::{clock::Clock, secret, visitor::Role},
};
use tokio::sync::watch;
use tower::ServiceExt;

#[tokio::test]
async fn two_presses_keep_one_and_so_do_two_hands() {
    let postbox = Postbox::open().await;
    let farm = ready(&postbox).await;
    let (one, other) = (farm.visit(Role::Owner, PAGE).await, farm.visit(Role::Owner, PAGE).await);
    let (seal, wording) = (farm.seal(Role::Owner), one.hidden("wording"));
    let fields = |entry: String| {
        vec![("seal", seal.clone()), ("entry", entry), ("wording", wording.clone()), ("who", "1".into()), ("who", "2".into())]
    };
    for entry in [one.entry(), one.entry(), other.entry()] {
        let fields = fields(entry);
        let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (*name, value.as_str())).collect();
        farm.submit_bare(Role::Owner, PAGE, &fields).await.came_with(303);
    }
    assert_eq!(farm.list("mailings").await.len(), 2);
    round(&farm).await;
    // The same form, long after everything went.
    let fields = fields(one.entry());
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (*name, value.as_str())).collect();
    farm.submit_bare(Role::Owner, PAGE, &fields).await.came_with(303);
    round(&farm).await;
    assert_eq!((postbox.talks(), farm.list("messages").await.len()), (2, 1));
    whole(&farm).await;
}

#[tokio::test]
async fn a_form_that_cannot_be_meant_keeps_nothing_and_says_why() {
    let postbox = Postbox::open().await;
    let mut farm = ready(&postbox).await;
    sent(&farm, &[], &[]).await.came_with(422).says("Nobody is ticked");
    for nobody in ["4", "5", "99"] {
        sent(&farm, &["1", nobody], &[]).await.came_with(422).says("no address, or none of the lots").says("value=\"1\" checked");
    }
    farm.submit(Role::Owner, PAGE, &[("who", "1"), ("wording", "1"), ("entry", "x")]).await.came_with(422).says("lost its mark");
    let page = farm.visit(Role::Owner, PAGE).await;
    let later = farm.ways().await.zone.for_file(Moment::seconds(farm.now.in_seconds() + 1));
    farm.keep("messages", &[("callback", "1"), ("at", &later), ("way", "e-mail"), ("says", "Other words")]).await;
    let (entry, wording) = (page.entry(), page.hidden("wording"));
    let old = [("who", "1"), ("wording", wording.as_str()), ("entry", entry.as_str())];
    farm.submit(Role::Owner, PAGE, &old).await.came_with(422).says("The words were changed in the meantime").says("Other words");
    farm.submit(Role::Owner, "/callbacks/7/mail", &old).await.came_with(404);
    farm.post = None;
    farm.visit(Role::Owner, PAGE).await.came_with(200).says("No mail server is set: use the one-tap links").never_says("name=\"who\"");
    farm.submit(Role::Owner, PAGE, &old).await.came_with(422).says("No mail server is set");
    assert!(farm.list("mailings").await.is_empty());
}

#[tokio::test]
async fn practice_writes_to_nobody_by_any_way() {
    let postbox = Postbox::open().await;
    let mut farm = bad_day("practice").await;
    farm.post = Some(postbox.post());
    farm.visit(Role::Owner, PAGE).await.says("This is practice").never_says("name=\"who\"");
    let fields = [("who", "1"), ("wording", "1")];
    farm.submit(Role::Owner, PAGE, &fields).await.came_with(422).says("This is practice: nobody is written to");
    assert!(farm.list("mailings").await.is_empty());
    // One that came by another way is turned back by whoever carries them, and by the laws of the ledger.
    let now = farm.ways().await.zone.for_file(farm.now);
    farm.keep("mailings", &[("message", "1"), ("at", &now), ("person", "M01"), ("address", "m01@example.org")]).await;
    assert_eq!((round(&farm).await, postbox.talks(), words(&farm).await), (None, 0, vec!["refused"]));
    farm.visit(Role::Owner, PAGE).await.says("nothing was sent");
    let wrongs = check::wrongs(&mut farm.ledger.read().await.unwrap()).await.unwrap();
    assert!(wrongs.len() == 1 && wrongs[0].contains("This is practice"), "{wrongs:?}");
}

#[tokio::test]
async fn the_sample_farm_never_sends() {
    let postbox = Postbox::open().await;
    let farm = ready(&postbox).await;
    let app = || App {
        demo: Some("Everything here is invented.".to_owned()),
        post: farm.post.clone(),
        ..App::new(farm.ledger.clone(), Clock::Stopped(farm.now))
    };
    let cookie = farm.cookie(Role::Owner);
    let entry = secret::entry();
    let body = as_form(&[("seal", &farm.seal(Role::Owner)), ("entry", &entry), ("who", "1"), ("wording", "1")]);
    let form = Request::post(PAGE).header(header::COOKIE, &cookie).header(header::CONTENT_TYPE, "application/x-www-form-urlencoded");
    for request in [Request::get(PAGE).header(header::COOKIE, &cookie).body(Body::empty()), form.body(Body::from(body))] {
        let answer = pages::open(app()).0.oneshot(request.unwrap()).await.unwrap();
        let bytes = http_body_util::BodyExt::collect(answer.into_body()).await.unwrap().to_bytes();
        let text = String::from_utf8_lossy(&bytes).into_owned();
        assert!(text.contains("The sample farm never sends anything.") && !text.contains("name=\"who\""), "{text}");
    }
    assert!(farm.list("mailings").await.is_empty());
    // One that is in the ledger all the same is left where it is.
    all_asked(&farm).await;
    let (_going, stop) = watch::channel(false);
    assert_eq!(Carrier { demo: true, ..carrier(&farm) }.round(&stop).await.unwrap(), None);
    assert_eq!((postbox.talks(), words(&farm).await), (0, vec!["waiting"; 3]));
}

/// A name nobody could type, put into the file by another hand.
#[tokio::test]
async fn no_name_and_no_address_begins_a_header_of_its_own() {
    let postbox = Postbox::open().await;
    let farm = ready(&postbox).await;
    let mut db = SqliteConnectOptions::new().filename(farm.file()).connect().await.unwrap();
    for change in [
        "UPDATE farm SET name = 'Farm' || char(13, 10) || 'Bcc: elm@example.org' || char(13, 10, 13, 10) || 'Hello'",
        "UPDATE people SET name = 'Ash' || char(13, 10) || 'Bcc: elm@example.org', second_way = 'm02@example.org' || char(13, 10) || 'RCPT TO:<elm@example.org>' WHERE label = 'M02'",
    ] {
        sqlx::query(change).execute(&mut db).await.unwrap();
    }
    farm.visit(Role::Owner, PAGE).await.came_with(200);
    sent(&farm, &["1", "3"], &[]).await.came_with(303);
    farm.submit(Role::Owner, PAGE, &[("who", "2"), ("wording", "1")]).await.came_with(422).says("no address");
    round(&farm).await;
    let got = postbox.got();
    assert_eq!(got.len(), 2);
    for own in got {
        let (head, _) = own.text.split_once("\r\n\r\n").unwrap();
        assert_eq!(own.to.len(), 1);
        assert!(!head.lines().any(|line| line.to_ascii_lowercase().starts_with("bcc")), "{head}");
        assert!(head.lines().any(|line| line.starts_with("MIME-Version")), "the head was not ended early:\n{head}");
    }
}

#[tokio::test]
async fn what_was_sent_stands_as_it_was_written() {
    let postbox = Postbox::open().await;
    let farm = ready(&postbox).await;
    all_asked(&farm).await;
    let act = farm_act(&farm).await;
    farm.submit(Role::Owner, "/undo", &[("act", &act)]).await.came_with(409);
    round(&farm).await;
    let act = farm_act(&farm).await;
    farm.submit(Role::Owner, "/undo", &[("act", &act)]).await.came_with(409);
    for name in ["mailings", "deliveries"] {
        farm.submit(Role::Owner, &format!("/records/{name}/1/strike"), &[("why", "never mind"), ("version", "1")]).await.came_with(422);
        let record = farm.list(name).await.remove(0);
        let mut tx = farm.ledger.begin().await.unwrap();
        let act = records::act(&mut tx, farm.now, OWNER, "screen").await.unwrap();
        let cells: Vec<Cell> = record.cells.clone();
        assert!(corrections::correct(&mut tx, kind_of(name), &record, cells, "as if it never went", &act).await.is_err(), "{name}");
        assert_eq!(farm.visit(Role::Owner, &format!("/records/{name}/new")).await.status, 303);
    }
    assert_eq!((farm.list("mailings").await.len(), farm.list("deliveries").await.len()), (3, 6));
}

async fn farm_act(farm: &Farm) -> String {
    let lines = tallypail::store::journal::newest(&mut farm.ledger.read().await.unwrap(), 1).await.unwrap();
    lines[0].act.to_string()
}
