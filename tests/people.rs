//! Households: what they are promised, when they come, what they signed, and what is said when something of it is off.
//!
//! Sources: Alaska Statutes 17.20.015(b)(1), two ways to reach each owner of a shared herd; Colorado Revised Statutes
//! 25-5.5-117, second-hand, a bill of sale and a boarding contract; RFC 4180 and RFC 8259 for the register's other forms.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::farm::{Farm, Page, kind_of};
use axum::{
    body::Body,
    http::{Request, header},
};
use tallypail::{
    store::{check, records},
    trade::{
        calendar::list,
        needs::{Lack, Needs},
    },
    web::{
        secret,
        visitor::Role::{Helper, Owner},
    },
};

/// Three households on a Thursday, 14 May 2026: one with a share, one walk-in, one that left.
async fn households() -> Farm {
    let farm = Farm::new().await;
    let person = async |label: &str, name: &str, sort: &str, phone: &str, until: &str| {
        let channel = if sort == "member" { "herdshare" } else { "farm gate" };
        let own = [("label", label), ("name", name), ("sort", sort), ("channel", channel), ("phone", phone)];
        let days = [("pickup_day", "Thursday"), ("since", "2026-01-02"), ("until", until), ("second_way", "")];
        farm.keep("people", &[own.as_slice(), &days].concat()).await;
    };
    person("M01", "Ashgrove", "member", "555-0101", "").await;
    person("W01", "Dunnock", "walk-in", "555-0161", "").await;
    person("M03", "Corrivane", "member", "555-0103", "2026-03-31").await;
    farm
}

async fn send(farm: &Farm, kind: &str, typed: &[(&str, &str)]) -> Page {
    farm.submit(Owner, &format!("/records/{kind}"), typed).await
}

const SHARE: [(&str, &str); 5] =
    [("person", "M01"), ("part", "1"), ("half_gallons", "3"), ("channel", "herdshare"), ("since", "2026-01-02")];

#[tokio::test]
async fn the_page_says_what_is_promised_next_and_adds_with_one_tap() {
    let farm = households().await;
    farm.keep("shares", &[SHARE.as_slice(), &[("share", "S07")]].concat()).await;
    let page = farm.visit(Owner, "/people/M01").await;
    page.says("<b>3 half-gallons</b>. Next: <b>today</b>").says("Share S07, 3 half-gallons a week").says("No boarding agreement is signed");
    page.says("/records/pauses/new?person=M01&amp;back=/people/M01").says("share=S08");
    farm.keep("pauses", &[("person", "M01"), ("since", "2026-05-14"), ("until", "2026-05-20"), ("note", "Away")]).await;
    farm.visit(Owner, "/people/M01").await.says("Next: <b>Thu 21 May 2026</b>").says("Away");
    // The form knows the household, goes back to it, and says what a note is not for.
    let form = farm.visit(Owner, "/records/pauses/new?person=M01&back=/people/M01").await;
    form.says("<option value=\"M01\" selected>M01 Ashgrove</option>").says("Never about anybody’s health");
    assert_eq!(form.hidden("back"), "/people/M01");
    // A walk-in has a standing promise like anybody.
    let standing = [("person", "W01"), ("part", "1"), ("half_gallons", "1"), ("channel", "farm gate"), ("since", "2026-01-02")];
    farm.keep("shares", &standing).await;
    farm.visit(Owner, "/people/W01").await.says("<b>1 half-gallon</b>. Next: <b>today</b>").says("Standing promise, 1 half-gallon a week");
    farm.visit(Owner, "/people/M03").await.says("They left; nothing is promised.").says("/people/M03/erase");
    farm.visit(Helper, "/people/M01").await.came_with(403).never_says("555-0101");
}

/// Somebody new is written down, and what is lacking starts from their own page; a paper that was given is signed there.
#[tokio::test]
async fn somebody_new_is_led_on_from_their_own_page() {
    let farm = Farm::new().await;
    let typed = [("label", "M 09"), ("name", "Rooke"), ("sort", "member"), ("channel", "herdshare"), ("since", "2026-05-01")];
    let kept = send(&farm, "people", &[typed.as_slice(), &[("pickup_day", "Thursday"), ("back", "/people")]].concat()).await;
    assert_eq!((kept.status, kept.location.as_str()), (303, "/people/M%2009"));
    farm.keep("shares", &[("person", "M 09"), ("part", "1"), ("half_gallons", "2"), ("channel", "herdshare"), ("since", "2026-05-01")])
        .await;
    farm.visit(Owner, "/people/M%2009").await.says("person=M%2009&#38;sort=bill%20of%20sale&#38;").never_says("Say that it is signed");
    farm.visit(Owner, "/").await.never_says("still to come today");
    let given = [("person", "M 09"), ("sort", "bill of sale"), ("given", "2026-05-02")];
    let number = farm.keep("agreements", &given).await;
    let page = farm.visit(Owner, "/people/M%2009").await;
    page.says(&format!("href=\"#agreements-{number}\"")).says(&format!("id=\"agreements-{number}\"")).says("Say that it is signed");
    for (sort, column) in [("bill of sale", "signed"), ("boarding agreement", "signed")] {
        farm.keep("agreements", &[("person", "M 09"), ("sort", sort), ("given", "2026-05-02"), (column, "2026-05-02")]).await;
    }
    farm.visit(Owner, "/").await.says("1 still to come today");
}

#[tokio::test]
async fn a_share_a_stand_in_and_a_paper_end_with_one_tap() {
    let farm = households().await;
    farm.keep("shares", &[SHARE.as_slice(), &[("share", "S07")]].concat()).await;
    farm.keep("collectors", &[("person", "M01"), ("name", "Jory next door"), ("reach", "555-0185"), ("since", "2026-02-01")]).await;
    farm.keep("agreements", &[("person", "M01"), ("sort", "bill of sale"), ("given", "2026-05-01")]).await;
    let tap = async |kind: &str, column: &str, version: &str, day: &str| {
        let form = [("kind", kind), ("number", "1"), ("version", version), ("column", column), ("day", day)];
        farm.submit(Owner, "/people/M01/day", &form).await
    };
    tap("shares", "until", "1", "2026-01-01").await.came_with(422).says("This is before Fri 2 Jan 2026. Look at both days.");
    tap("shares", "until", "1", "").await.came_with(422).says("Which day?");
    tap("shares", "until", "7", "2026-06-30").await.came_with(422).says("Somebody corrected this in the meantime");
    tap("shares", "half_gallons", "1", "2026-06-30").await.came_with(404);
    tap("people", "until", "1", "2026-06-30").await.came_with(404);
    tap("shares", "until", "1", "2026-06-30").await.came_with(303);
    tap("collectors", "until", "1", "2026-05-14").await.came_with(303);
    tap("agreements", "signed", "1", "2026-05-15").await.came_with(422).says("This day has not come yet");
    tap("agreements", "signed", "1", "2026-04-30").await.came_with(422).says("cannot be signed before it was given, on Fri 1 May 2026");
    tap("agreements", "signed", "1", "2026-05-14").await.came_with(303);
    let cell = async |name: &'static str, column: &str| farm.list(name).await[0].cell(kind_of(name), column).text().to_owned();
    assert_eq!(cell("shares", "until").await, "2026-06-30");
    assert_eq!(cell("agreements", "signed").await, "2026-05-14");
    farm.visit(Owner, "/people/M01").await.says("Bill of sale: signed Thu 14 May 2026").says("to Tue 30 Jun 2026");
    farm.visit(Owner, "/records/shares/1").await.says("it ends on that day");
}

#[tokio::test]
async fn what_cannot_be_of_a_household_is_refused_and_what_is_odd_is_asked() {
    let farm = households().await;
    farm.keep("shares", &[SHARE.as_slice(), &[("share", "S07")]].concat()).await;
    let share = async |more: &[(&str, &str)]| send(&farm, "shares", &[more, SHARE.as_slice()].concat()).await;
    share(&[("person", "W01"), ("share", "s07")])
        .await
        .came_with(422)
        .says("Share s07 is not free on Fri 2 Jan 2026: M01 Ashgrove holds 1 of it.");
    share(&[("share", "S08"), ("since", "2026-05-02"), ("until", "2026-05-01")]).await.came_with(422).says("This is before Sat 2 May 2026");
    share(&[("share", "S08"), ("half_gallons", "24")]).await.came_with(422).says("24 half-gallons a week for one share?");
    share(&[("share", "S08"), ("person", "M03"), ("since", "2026-05-01")])
        .await
        .came_with(422)
        .says("M03 Corrivane left on Tue 31 Mar 2026");
    assert_eq!(farm.list("shares").await.len(), 1);
    share(&[("share", "S08"), ("half_gallons", "24"), ("sure", "half_gallons")]).await.came_with(303);
    share(&[("share", "S09"), ("since", "2026-06-01")]).await.came_with(303);
    let pause = async |more: &[(&str, &str)]| send(&farm, "pauses", &[&[("person", "M01")], more].concat()).await;
    let long = [("since", "2026-06-01"), ("until", "2027-01-15")];
    pause(&long).await.came_with(422).says("more than half a year?");
    pause(&[("since", "2026-06-01"), ("until", "2026-06-10"), ("moved_to", "2026-06-04")]).await.came_with(422).says("inside the pause");
    pause(&[("since", "2026-06-10"), ("until", "2026-06-01")]).await.came_with(422).says("Look at both days.");
    pause(&[("since", "2026-06-04"), ("until", "2026-06-04"), ("moved_to", "2026-06-03")]).await.came_with(303);
    let person = [("label", "M04"), ("name", "New"), ("sort", "member"), ("channel", "herdshare"), ("since", "2026-05-01")];
    let double = [person.as_slice(), &[("phone", "555 0101")]].concat();
    send(&farm, "people", &double).await.came_with(422).says("M01 Ashgrove is reached this way already").says("It is right, keep it");
    send(&farm, "people", &[double.as_slice(), &[("sure", "phone")]].concat()).await.came_with(303);
    farm.visit(Owner, "/people").await.says("The same phone number stands beside more than one.");
    let late = [("person", "M01"), ("sort", "bill of sale"), ("given", "2026-05-14"), ("signed", "2026-05-20")];
    send(&farm, "agreements", &late).await.came_with(422).says("This day has not come yet");
    // A correction meets the same sentences.
    let again = [SHARE.as_slice(), &[("share", "S07"), ("version", "1"), ("why", "the wrong one")]].concat();
    farm.submit(Owner, "/records/shares/2", &again).await.came_with(422).says("is not free on Fri 2 Jan 2026");
    assert_eq!(check::wrongs(&mut farm.ledger.read().await.unwrap()).await.unwrap(), Vec::<String>::new());
}

#[tokio::test]
async fn a_share_is_sold_once_although_two_phones_sell_it() {
    let farm = households().await;
    let one = [SHARE.as_slice(), &[("share", "S07")]].concat();
    let other = [&[("person", "W01")], one.as_slice()].concat();
    let (one, other) = tokio::join!(send(&farm, "shares", &one), send(&farm, "shares", &other));
    let mut answers = [one.status, other.status];
    answers.sort_unstable();
    assert_eq!(answers, [303, 422]);
    assert_eq!(farm.list("shares").await.len(), 1);
}

#[tokio::test]
async fn the_papers_of_an_old_ledger_are_entered_in_one_act() {
    let farm = households().await;
    farm.keep("shares", &SHARE).await;
    let page = farm.visit(Owner, "/people/agreements").await;
    page.says("no bill of sale is signed").says("name=\"who\" value=\"M01\">").never_says("Corrivane");
    farm.visit(Owner, "/people/agreements?tick=lacking")
        .await
        .says("name=\"who\" value=\"M01\" checked>")
        .says("name=\"who\" value=\"W01\">");
    let keep = async |fields: &[(&str, &str)]| farm.submit(Owner, "/people/agreements", fields).await;
    keep(&[("given", "2026-01-02")]).await.came_with(422).says("Nobody is ticked").says("Which paper?");
    let ticked = [("who", "M01"), ("who", "W01"), ("sort", "bill of sale"), ("sort", "boarding agreement")];
    let wrong = [ticked.as_slice(), &[("given", "2026-01-05"), ("signed", "2026-01-04")]].concat();
    keep(&wrong).await.came_with(422).says("cannot be signed before it was given").says("name=\"who\" value=\"W01\" checked>");
    assert!(farm.list("agreements").await.is_empty(), "all or nothing");
    let days =
        [("given", "2026-01-02"), ("signed", "2026-01-04"), ("until", "2026-06-30"), ("entry", "0f0c3a53-0d0e-4a83-9d2c-6f0ce4a7c0a2")];
    for _ in 0..2 {
        keep(&[ticked.as_slice(), &days].concat()).await.came_with(303);
    }
    assert_eq!(farm.list("agreements").await.len(), 4, "the same form twice keeps one of each");
    let undo = farm.visit(Owner, "/people/agreements").await;
    undo.says("complete").says("boarding agreement: signed Sun 4 Jan 2026, ends Tue 30 Jun 2026".replace("boarding", "Boarding").as_str());
    farm.submit(Owner, "/undo", &[("act", &undo.hidden("act"))]).await.came_with(303);
    assert!(farm.list("agreements").await.is_empty(), "one act, one undo");
    farm.visit(Helper, "/people/agreements").await.came_with(403);
}

#[tokio::test]
async fn the_register_and_the_promises_come_in_every_form() {
    let farm = Farm::sample().await;
    for name in ["agreements", "promises"] {
        let address = format!("/people/{name}");
        farm.visit(Owner, &address).await.came_with(200).says(&format!("{address}.pdf"));
        let (csv, json) = (farm.visit(Owner, &format!("{address}.csv")).await, farm.visit(Owner, &format!("{address}.json")).await);
        assert!(
            csv.kind.starts_with("text/csv") && csv.text.contains(if name == "agreements" { "M29" } else { "Saturday" }),
            "{}",
            csv.text
        );
        let read: serde_json::Value = serde_json::from_str(&json.text).unwrap();
        assert!(read.to_string().contains("Tansyditch Farm"), "{read}");
        assert!(farm.visit(Owner, &format!("{address}.pdf")).await.bytes.starts_with(b"%PDF-"));
    }
    let register = farm.visit(Owner, "/people/agreements").await;
    register.says("M29 Clemence Harbord").says("no boarding agreement is signed");
    farm.visit(Owner, "/").await.says("A household lacks what it needs before it has milk").says("M29 Clemence Harbord");
    farm.visit(Helper, "/").await.never_says("lacks what it needs");
}

/// What is promised a week on the page is the sum of the shares that hold, and 60 shares are the herd's, as its terms say.
#[tokio::test]
async fn the_promises_of_the_sample_farm_add_up() {
    let farm = Farm::sample().await;
    let (today, kind) = ("2026-11-21", kind_of("shares"));
    let (people, shares) = (farm.list("people").await, farm.list("shares").await);
    let here = |number: i64| people.iter().any(|own| own.number == number && own.cell(kind_of("people"), "until").text().is_empty());
    let mut hundredths = 0;
    for own in shares.iter().filter(|own| here(own.cell(kind, "person").whole().unwrap())) {
        let (since, until) = (own.cell(kind, "since").text(), own.cell(kind, "until").text());
        if since <= today && (until.is_empty() || until >= today) {
            let (over, under) = own
                .cell(kind, "part")
                .text()
                .split_once('/')
                .map_or((1, 1), |(over, under)| (over.parse().unwrap(), under.parse().unwrap()));
            hundredths += own.cell(kind, "half_gallons").whole().unwrap() * 100 * over / under;
        }
    }
    assert!(hundredths > 3000, "the sample farm promises milk");
    let whole = format!("{}", rust_decimal::Decimal::new(hundredths, 2).normalize());
    let page = farm.visit(Owner, "/people/promises").await;
    page.says(&format!("<dt>Promised a week</dt><dd>{whole} half-gallons</dd>"))
        .says(" of 60</dd>")
        .says("held level")
        .says("common practice");
}

/// Source: Alaska Statutes 17.20.015(b)(1): a household with one phone only may not have milk of a shared herd until a second
/// way to reach it is stored.
#[tokio::test]
async fn one_phone_alone_is_not_enough_where_the_rule_asks_for_two_ways() {
    let farm = households().await;
    let rule = [
        ("place", "us-ak"),
        ("since", "2026-02-01"),
        ("title", "Shares of a herd"),
        ("citation", "Alaska Statutes 17.20.015(b)(1)"),
        ("sure", "read in the law"),
        ("beside", "yes"),
        ("channels", "farm gate, herdshare [read]"),
        ("needs", &Needs::parse("two ways to reach [read]").unwrap().to_string()),
    ];
    farm.keep("rules", &rule).await;
    farm.keep("shares", &SHARE).await;
    for sort in ["bill of sale", "boarding agreement"] {
        farm.keep("agreements", &[("person", "M01"), ("sort", sort), ("given", "2026-01-02"), ("signed", "2026-01-02")]).await;
    }
    let lacks = async || {
        let day = "2026-05-14".parse().unwrap();
        let takers = tallypail::store::people::takers(&mut farm.ledger.read().await.unwrap(), day).await.unwrap();
        takers.into_iter().find(|own| own.label == "M01").unwrap().lacks
    };
    assert_eq!(lacks().await, [Lack::SecondWay]);
    farm.visit(Owner, "/people/agreements").await.says("a second way to reach them is missing");
    farm.visit(Owner, "/people/M01").await.says("A second way to reach them is missing").says("/records/people/1");
    farm.visit(Owner, "/").await.says("2 households lack what they need before they have milk");
    let own = [("label", "M01"), ("name", "Ashgrove"), ("sort", "member"), ("channel", "herdshare"), ("phone", "555-0101")];
    let second =
        [("second_way", "ash@example.org"), ("pickup_day", "Thursday"), ("since", "2026-01-02"), ("version", "1"), ("why", "asked")];
    farm.submit(Owner, "/records/people/1", &[own.as_slice(), &second].concat()).await.came_with(303);
    assert_eq!(lacks().await, []);
    farm.visit(Owner, "/people/M01").await.never_says("Before they may have milk");
}

#[tokio::test]
async fn a_paper_that_ends_stands_on_the_calendar_until_it_is_renewed() {
    let mut farm = households().await;
    let paper = [("person", "M01"), ("sort", "boarding agreement"), ("given", "2026-01-02"), ("signed", "2026-01-02")];
    farm.keep("agreements", &[paper.as_slice(), &[("until", "2026-05-31")]].concat()).await;
    let due = list(&crate::calendar::facts(&farm).await);
    let own = crate::calendar::line(&due, "Boarding agreement: M01 Ashgrove");
    assert_eq!((own.day.to_string().as_str(), own.overdue), ("2026-05-31", false));
    farm.visit(Owner, "/calendar").await.says("href=\"/people/M01\"");
    farm.visit(Owner, "/calendar.ics").await.says("Boarding agreement").never_says("Ashgrove");
    farm.visit(Owner, "/").await.says("Boarding agreement: M01 Ashgrove");
    farm.keep("shares", &SHARE).await;
    farm.clock("2026-06-01T12:00");
    farm.visit(Owner, "/").await.says("the boarding agreement ran out on Sun 31 May 2026").never_says("agreements overdue");
    farm.keep("agreements", &[("person", "M01"), ("sort", "boarding agreement"), ("given", "2026-06-01"), ("signed", "2026-06-01")]).await;
    assert!(!list(&crate::calendar::facts(&farm).await).iter().any(|own| own.title().starts_with("Boarding")));
}

/// A form with a file, as a browser sends it (RFC 7578).
async fn send_paper(farm: &Farm, bytes: &[u8]) -> Page {
    let mut body = Vec::new();
    for (field, value) in [("seal", farm.seal(Owner)), ("entry", secret::entry()), ("number", "1".to_owned())] {
        body.extend(format!("--tansy\r\nContent-Disposition: form-data; name=\"{field}\"\r\n\r\n{value}\r\n").bytes());
    }
    let head =
        "--tansy\r\nContent-Disposition: form-data; name=\"paper\"; filename=\"M01 signed.PDF\"\r\nContent-Type: application/pdf\r\n\r\n";
    body.extend([head.as_bytes(), bytes, b"\r\n--tansy--\r\n"].concat());
    let request = Request::post("/people/M01/paper")
        .header(header::COOKIE, farm.cookie(Owner))
        .header(header::CONTENT_TYPE, "multipart/form-data; boundary=tansy")
        .header(header::CONTENT_LENGTH, body.len());
    farm.answer(request.body(Body::from(body)).unwrap()).await
}

#[tokio::test]
async fn the_signed_paper_is_kept_beside_its_agreement() {
    let farm = households().await;
    farm.keep("agreements", &[("person", "M01"), ("sort", "bill of sale"), ("given", "2026-05-01"), ("signed", "2026-05-01")]).await;
    send_paper(&farm, b"<html>").await.came_with(422).says("This file is not a PDF");
    send_paper(&farm, b"").await.came_with(422).says("Choose the signed paper first");
    send_paper(&farm, b"%PDF-1.4 of theirs").await.came_with(303);
    farm.visit(Owner, "/people/M01").await.says("/documents/1");
    assert_eq!(farm.visit(Owner, "/documents/1").await.bytes, b"%PDF-1.4 of theirs");
    farm.visit(Owner, "/records/agreements/1").await.says("the signed paper was kept");
    let book = records::book(&mut farm.ledger.read().await.unwrap()).await.unwrap();
    assert_eq!(book.breaches(), []);
}
