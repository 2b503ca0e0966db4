//! E-mail of a call-back, through the front door to a mail server on this machine: everybody once, or shown as not delivered,
//! whatever the server does. tests/mail_asked.rs is about the page that asks
//! for it, and tests/mail_program.rs kills the program.
//!
//! Source: RFC 5321 (4.2.1 replies, 4.5.2 dots, 4.5.4.1 trying again, 6.1 who answers for a letter), RFC 5322 (the letter's head).

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

pub mod postbox;

use crate::{
    farm::{Farm, OWNER, Page, kind_of},
    mornings::fill,
};
use postbox::{At, Does, Postbox};
use std::{collections::BTreeMap, time::Duration};
use tallypail::{
    post::{Carrier, Post},
    store::{check, post as mails},
    trade::{
        post::{State, state},
        when::Moment,
    },
    web::{clock::Clock, smtp::Server, visitor::Role},
};
use tokio::sync::watch;

pub const PAGE: &str = "/callbacks/1/mail";
const WORDS: &str = "[farm] is calling back (recalling) milk. Look for jars marked [lots] and do not drink it.\n.\nTell us: [phone].";

/// A farm that calls two of three lots back. M01, M02 and M03 have an address and one of them, M04 has no address, and M05 has a
/// jar of the lot that was left out in the end.
pub async fn bad_day(sort: &str) -> Farm {
    let farm = Farm::new().await;
    for (label, phone, second) in [
        ("M01", "m01@example.org", ""),
        ("M02", "555-0142", "m02@example.org"),
        ("M03", "the mill next door", "m03@example.org"),
        ("M04", "555-0144", "the mill next door"),
        ("M05", "m05@example.org", ""),
    ] {
        let own = [("label", label), ("name", "Ashgrove"), ("sort", "member"), ("channel", "herdshare"), ("since", "2026-01-02")];
        farm.keep("people", &[&own[..], &[("phone", phone), ("second_way", second)]].concat()).await;
    }
    let mut lots = Vec::new();
    for day in ["2026-05-11", "2026-05-12", "2026-05-13"] {
        lots.push(fill(&farm, day, "6", true).await);
    }
    for (lot, label) in [(0, "M01"), (0, "M02"), (1, "M02"), (1, "M03"), (1, "M04"), (2, "M05")] {
        let jars = [("gallons", "0"), ("half_gallons", "1"), ("quarts", "0"), ("pints", "0"), ("evidence", "seen")];
        let then = [("verdict", "Can go"), ("because", "It was cold in time."), ("facts", "None")];
        let whose = [("at", "2026-05-13T16:00"), ("lot", lots[lot].as_str()), ("person", label)];
        farm.keep("pickups", &[&jars[..], &then, &whose].concat()).await;
    }
    let now = farm.ways().await.zone.for_file(farm.now);
    farm.keep("callbacks", &[("at", now.as_str()), ("sort", sort), ("because", "illness")]).await;
    for lot in &lots {
        let own = [("callback", "1"), ("at", now.as_str()), ("lot", lot), ("tie", "possible"), ("because", "was on hand")];
        farm.keep("called", &[&own[..], &[("stands", "called back")]].concat()).await;
    }
    let own = [("callback", "1"), ("at", now.as_str()), ("lot", &lots[2]), ("tie", "possible"), ("because", "was on hand")];
    farm.keep("called", &[&own[..], &[("stands", "left out"), ("reason", "filled after the jar went")]].concat()).await;
    farm.keep("messages", &[("callback", "1"), ("at", now.as_str()), ("way", "e-mail"), ("says", WORDS)]).await;
    farm
}

pub async fn ready(postbox: &Postbox) -> Farm {
    let mut farm = bad_day("call-back").await;
    farm.post = Some(postbox.post());
    farm
}

/// Sends the page's form as it stands, or with other households ticked.
pub async fn sent(farm: &Farm, who: &[&str], again: &[&str]) -> Page {
    let page = farm.visit(Role::Owner, PAGE).await;
    let (entry, wording) = (page.entry(), page.hidden("wording"));
    let mut fields = vec![("entry", entry.as_str()), ("wording", wording.as_str())];
    fields.extend(who.iter().map(|who| ("who", *who)).chain(again.iter().map(|who| ("again", *who))));
    farm.submit(Role::Owner, PAGE, &fields).await
}

pub async fn all_asked(farm: &Farm) {
    assert_eq!(sent(farm, &["1", "2", "3"], &[]).await.came_with(303).location, PAGE);
}

pub fn carrier(farm: &Farm) -> Carrier {
    Carrier { ledger: farm.ledger.clone(), clock: Clock::Stopped(farm.now), post: farm.post.clone(), demo: false }
}

/// Has everything carried that is due now. Gives back in how many seconds the next is.
pub async fn round(farm: &Farm) -> Option<i64> {
    let (_going, stop) = watch::channel(false);
    let next = carrier(farm).round(&stop).await.unwrap();
    next.map(|next| next.in_seconds() - farm.now.in_seconds())
}

/// Where the newest e-mail of each address stands.
async fn states(farm: &Farm, now: Moment) -> BTreeMap<String, State> {
    let all = mails::of_call_back(&mut farm.ledger.read().await.unwrap(), 1).await.unwrap();
    all.into_iter().map(|own| (own.address, state(own.asked, &own.steps, now))).collect()
}

/// The words for where they stand, in the order of the addresses.
pub async fn words(farm: &Farm) -> Vec<&'static str> {
    states(farm, farm.now).await.into_values().map(State::word).collect()
}

pub async fn whole(farm: &Farm) {
    assert_eq!(check::wrongs(&mut farm.ledger.read().await.unwrap()).await.unwrap(), Vec::<String>::new());
}

pub const TAKEN: &str = "taken by the server";

#[tokio::test]
async fn everybody_with_an_address_gets_their_own_codes_once() {
    let postbox = Postbox::open().await;
    let farm = ready(&postbox).await;
    let page = farm.visit(Role::Owner, PAGE).await;
    page.came_with(200).says("127.0.0.1 as farm@example.org").says("M04 Ashgrove").never_says("M05");
    assert_eq!(page.text.matches("name=\"who\"").count(), 3);
    assert_eq!(page.text.matches(" checked").count(), 3, "all are ticked that have none yet");
    all_asked(&farm).await;
    farm.visit(Role::Owner, PAGE).await.says("Waiting for its turn").never_says("name=\"who\"").never_says("action=\"/undo\"");
    assert_eq!(round(&farm).await, None);
    assert_eq!(words(&farm).await, [TAKEN; 3]);
    farm.visit(Role::Owner, PAGE).await.says("Taken by the server at").says("250 2.0.0 Ok: queued");
    let got = postbox.got();
    assert_eq!(
        postbox.counts(),
        [("m01@example.org", 1), ("m02@example.org", 1), ("m03@example.org", 1)].map(|(to, n)| (to.to_owned(), n)).into()
    );
    let lots: Vec<String> = farm.list("lots").await.iter().map(|own| own.cell(kind_of("lots"), "code").text().to_owned()).collect();
    for (own, codes) in got.iter().zip([&lots[..1], &lots[..2], &lots[1..2]]) {
        let says = format!("Tansyditch Farm is calling back (recalling) milk. Look for jars marked {} and do not", codes.join(", "));
        let (head, body) = own.text.split_once("\r\n\r\n").unwrap();
        assert!(body.replace("=\r\n", "").contains(&says), "{says}\n{body}");
        assert!(body.contains("\r\n.\r\nTell us: 555-0100."), "a line with one dot does not end the letter:\n{body}");
        assert_eq!(own.to.len(), 1);
        for line in [format!("To: {}", own.to[0]), "Subject: URGENT: milk call-back (recall), Tansyditch Farm".to_owned()] {
            assert!(head.lines().any(|own| own == line), "no “{line}” in\n{head}");
        }
        let others = got.iter().filter(|other| other.to != own.to).any(|other| own.text.contains(&other.to[0]));
        assert!(!others && !own.text.contains("Ashgrove"), "no other household, and no name:\n{}", own.text);
    }
    // Nothing more is sent, however often it is looked after.
    assert_eq!((round(&farm).await, postbox.talks()), (None, 3));
    let kinds = kind_of("deliveries");
    for step in farm.list("deliveries").await {
        assert_eq!((step.who.as_str(), step.source.as_str()), (OWNER, "mail"));
        assert!(!step.cell(kinds, "answer").text().contains('@'));
    }
    whole(&farm).await;
}

#[tokio::test]
async fn one_address_that_is_refused_keeps_nobody_elses() {
    let postbox = Postbox::open().await;
    let farm = ready(&postbox).await;
    postbox.has(9, At::Rcpt, "m02@", Does::Says("550 5.1.1 <m02@example.org>: no such mailbox"));
    all_asked(&farm).await;
    assert_eq!(round(&farm).await, None);
    assert_eq!(words(&farm).await, [TAKEN, "refused", TAKEN]);
    farm.visit(Role::Owner, PAGE).await.says("Not delivered: refused for good. Ring them.").says("that address");
    assert_eq!((postbox.counts().len(), postbox.talks()), (2, 3));
    whole(&farm).await;
}

#[tokio::test]
async fn what_is_put_off_is_tried_again_when_its_time_has_come() {
    let postbox = Postbox::open().await;
    let mut farm = ready(&postbox).await;
    postbox.has(1, At::Rcpt, "m01@", Does::Says("451 4.7.1 Greylisted, come again"));
    postbox.has(2, At::Content, "m03@", Does::Says("452 4.3.1 No room"));
    all_asked(&farm).await;
    assert_eq!(round(&farm).await, Some(60));
    assert_eq!(words(&farm).await, ["put off", TAKEN, "put off"]);
    farm.visit(Role::Owner, PAGE).await.says("Did not go, tried once; tried again at").says("Greylisted");
    farm.wait(59);
    assert_eq!((round(&farm).await, postbox.talks()), (Some(1), 3), "nothing is tried before its time");
    farm.wait(1);
    assert_eq!(round(&farm).await, Some(5 * 60));
    assert_eq!(words(&farm).await, [TAKEN, TAKEN, "put off"]);
    farm.wait(5 * 60);
    assert_eq!(round(&farm).await, None);
    assert_eq!(words(&farm).await, [TAKEN; 3]);
    assert!(postbox.counts().into_values().all(|count| count == 1), "{:?}", postbox.counts());
    whole(&farm).await;
}

/// Words that were found wrong must not come after those that put them right, and a lot that is left out calls nobody.
#[tokio::test]
async fn what_waits_is_not_sent_where_it_holds_no_longer() {
    let postbox = Postbox::open().await;
    let mut farm = ready(&postbox).await;
    postbox.has(1, At::Rcpt, "m01@", Does::Says("451 4.7.1 Come again"));
    postbox.has(1, At::Rcpt, "m03@", Does::Says("451 4.7.1 Come again"));
    all_asked(&farm).await;
    round(&farm).await;
    farm.wait(60);
    let now = farm.ways().await.zone.for_file(farm.now);
    farm.keep("messages", &[("callback", "1"), ("at", &now), ("way", "e-mail"), ("says", "Better words about [lots].")]).await;
    let page = farm.visit(Role::Owner, PAGE).await;
    page.says("earlier words: put off").says("earlier words: taken by the server").never_says(" checked");
    sent(&farm, &["1"], &[]).await.came_with(303);
    let lot = farm.list("lots").await[1].cell(kind_of("lots"), "code").text().to_owned();
    let own = [("callback", "1"), ("at", now.as_str()), ("lot", lot.as_str()), ("tie", "possible"), ("because", "was on hand")];
    farm.keep("called", &[&own[..], &[("stands", "left out"), ("reason", "its can was washed in between")]].concat()).await;
    assert_eq!(round(&farm).await, None);
    let counts = postbox.counts();
    assert_eq!((counts.get("m01@example.org"), counts.get("m03@example.org")), (Some(&1), None));
    assert!(postbox.got().iter().any(|own| own.to[0].starts_with("m01") && own.text.contains("Better words")));
    let page = farm.visit(Role::Owner, PAGE).await;
    page.says("Not sent: newer words were asked for in its place.").says("Not sent: none of their lots is called back any more.");
    whole(&farm).await;
}

#[tokio::test]
async fn a_server_that_is_down_for_good_is_given_up_and_everybody_is_to_be_rung() {
    let mut farm = bad_day("call-back").await;
    let taken = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let url = format!("smtp://127.0.0.1:{}?tls=none", taken.local_addr().unwrap().port());
    drop(taken);
    farm.post = Some(Post::new(Server::parse(&url).unwrap(), "farm@example.org"));
    all_asked(&farm).await;
    let mut rounds = 0;
    while let Some(seconds) = round(&farm).await {
        assert_eq!(words(&farm).await, ["put off"; 3]);
        farm.wait(seconds);
        rounds += 1;
    }
    assert_eq!((rounds, words(&farm).await), (7, vec!["not delivered"; 3]));
    farm.visit(Role::Owner, PAGE).await.says("Not delivered: tried 8 times, and its time is over. Ring them.");
    // The ledger opened again days later, with a server that works, sends no old alarm.
    let postbox = Postbox::open().await;
    farm.post = Some(postbox.post());
    farm.wait(3 * 24 * 3600);
    assert_eq!((round(&farm).await, postbox.talks()), (None, 0));
    whole(&farm).await;
}

#[tokio::test]
async fn what_waited_too_long_for_the_program_is_not_sent() {
    let postbox = Postbox::open().await;
    let mut farm = ready(&postbox).await;
    all_asked(&farm).await;
    farm.wait(7 * 3600);
    assert_eq!((round(&farm).await, postbox.talks()), (None, 0));
    farm.visit(Role::Owner, PAGE).await.says("it was never tried, and its time is over. Ring them.");
}

#[tokio::test]
async fn a_server_that_is_too_slow_is_put_off_before_the_words_and_not_known_after_them() {
    let postbox = Postbox::open().await;
    let mut farm = bad_day("call-back").await;
    farm.post = Some(postbox.patient_for(Duration::from_millis(400)));
    postbox.has(1, At::Rcpt, "m01@", Does::Hangs);
    postbox.has(1, At::Content, "m02@", Does::Hangs);
    postbox.has(1, At::Data, "m03@", Does::Closes);
    all_asked(&farm).await;
    assert_eq!(round(&farm).await, Some(60));
    assert_eq!(words(&farm).await, ["put off", "not known", "put off"]);
    farm.post = Some(postbox.post());
    farm.wait(60);
    round(&farm).await;
    assert_eq!(words(&farm).await, [TAKEN, "not known", TAKEN]);
    assert!(postbox.counts().into_values().all(|count| count == 1), "{:?}", postbox.counts());
    whole(&farm).await;
}

/// What the farm's settings are wrong about is no household's fault, and is put right while there is time.
#[tokio::test]
async fn a_server_that_lets_the_farm_not_in_refuses_nobody() {
    let postbox = Postbox::open().await;
    let mut farm = ready(&postbox).await;
    postbox.has(1, At::Greeting, "", Does::Says("554 5.7.1 Not from there"));
    postbox.has(1, At::Mail, "", Does::Says("550 5.7.1 Not as that"));
    postbox.has(1, At::Rcpt, "", Does::Says("530 5.7.0 Sign in first"));
    all_asked(&farm).await;
    assert_eq!(round(&farm).await, Some(60));
    assert_eq!(words(&farm).await, ["put off"; 3]);
    let page = farm.visit(Role::Owner, PAGE).await;
    page.says("554 5.7.1 Not from there").says("550 5.7.1 Not as that").says("530 5.7.0 Sign in first");
    farm.wait(60);
    assert_eq!((round(&farm).await, words(&farm).await), (None, vec![TAKEN; 3]));
}

#[tokio::test]
async fn a_password_that_is_wrong_refuses_nobody() {
    let postbox = Postbox::open().await;
    let mut farm = bad_day("call-back").await;
    farm.post = Some(Post::new(Server::parse(&postbox.url().replace("//", "//farm:opensesame@")).unwrap(), "farm@example.org"));
    postbox.has(3, At::SignIn, "", Does::Says("535 5.7.8 Who are you?"));
    all_asked(&farm).await;
    assert_eq!((round(&farm).await, words(&farm).await), (Some(60), vec!["put off"; 3]));
    farm.visit(Role::Owner, PAGE).await.says("535 5.7.8 Who are you?").never_says("opensesame");
}

/// Where encryption was asked for, nothing goes without it, and neither does the password.
#[tokio::test]
async fn a_server_that_offers_no_encryption_is_told_nothing() {
    let postbox = Postbox::open().await;
    let mut farm = bad_day("call-back").await;
    let bare = postbox.url().replace("?tls=none", "").replace("//", "//farm:opensesame@");
    farm.post = Some(Post::new(Server::parse(&bare).unwrap(), "farm@example.org"));
    all_asked(&farm).await;
    assert_eq!((round(&farm).await, words(&farm).await), (Some(60), vec!["put off"; 3]));
    farm.wait(60);
    farm.post = Some(Post::new(Server::parse(&bare.replace("smtp:", "smtps:")).unwrap(), "farm@example.org"));
    assert_eq!((round(&farm).await, words(&farm).await), (Some(300), vec!["put off"; 3]));
    assert!(postbox.got().is_empty() && postbox.signed().is_empty() && postbox.talks() == 6);
}

#[tokio::test]
async fn what_may_have_gone_is_sent_again_only_by_somebody_who_says_so() {
    let postbox = Postbox::open().await;
    let mut farm = ready(&postbox).await;
    postbox.has(1, At::Content, "m02@", Does::Closes);
    all_asked(&farm).await;
    round(&farm).await;
    assert_eq!(words(&farm).await, [TAKEN, "not known", TAKEN]);
    for _ in 0..4 {
        farm.wait(3600);
        assert_eq!((round(&farm).await, postbox.talks()), (None, 3));
    }
    let page = farm.visit(Role::Owner, PAGE).await;
    page.says("it may have gone or not, and is not sent again by itself").says("may get it twice").never_says(" checked");
    // Nobody else is sent anything by a form that ticks those who have it.
    sent(&farm, &["1"], &["3"]).await.came_with(303);
    assert_eq!((round(&farm).await, postbox.talks(), farm.list("mailings").await.len()), (None, 3, 3));
    sent(&farm, &[], &["2"]).await.came_with(303);
    assert_eq!((round(&farm).await, farm.list("messages").await.len()), (None, 2));
    assert_eq!(postbox.counts()["m02@example.org"], 2);
    let got: Vec<String> = postbox.got().into_iter().filter(|own| own.to[0].starts_with("m02")).map(|own| own.text).collect();
    let id = |text: &str| text.lines().find(|line| line.starts_with("Message-ID:")).unwrap().to_owned();
    assert_ne!(id(&got[0]), id(&got[1]), "a letter sent on purpose is no double");
    assert_eq!(words(&farm).await, [TAKEN; 3]);
    // The new message has the old words; who has those is not offered it by a tick that is set.
    farm.visit(Role::Owner, PAGE).await.says("earlier words: taken by the server").never_says(" checked");
    whole(&farm).await;
}

#[tokio::test]
async fn told_to_stop_it_finishes_the_one_in_hand() {
    let postbox = Postbox::open().await;
    let farm = ready(&postbox).await;
    postbox.has(1, At::Content, "m01@", Does::Waits);
    all_asked(&farm).await;
    let (stop, stopping) = watch::channel(false);
    let carrying = tokio::spawn(carrier(&farm).run(stopping));
    postbox.hung().await;
    stop.send_replace(true);
    postbox.goes_on();
    tokio::time::timeout(Duration::from_secs(60), carrying).await.expect("it did not stop").unwrap();
    assert_eq!(words(&farm).await, [TAKEN, "waiting", "waiting"]);
    assert_eq!(postbox.talks(), 1);
}

#[tokio::test]
async fn a_ring_wakes_whoever_carries_them() {
    let postbox = Postbox::open().await;
    let farm = ready(&postbox).await;
    let (stop, stopping) = watch::channel(false);
    let carrying = tokio::spawn(carrier(&farm).run(stopping));
    all_asked(&farm).await;
    settled(&farm, farm.now).await;
    assert_eq!(words(&farm).await, [TAKEN; 3]);
    stop.send_replace(true);
    tokio::time::timeout(Duration::from_secs(60), carrying).await.expect("it did not stop").unwrap();
}

/// Waits until nothing is waiting or under way.
pub async fn settled(farm: &Farm, now: Moment) {
    let still = |state: &State| matches!(state, State::Waiting | State::Sending);
    let looking = async {
        while states(farm, now).await.values().any(still) {
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
    };
    tokio::time::timeout(Duration::from_secs(120), looking).await.expect("e-mails were left waiting");
}
