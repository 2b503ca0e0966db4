//! “Is my jar all right?”: what anybody is told by the code on a lid, that it names nobody, and that it cannot be asked without end.
//!
//! Sources: 21 CFR 7.49 for what a notice says (stop using it, pass it on, what to do, how to answer); OWASP REST Security Cheat Sheet
//! for 429; RFC 9111 for no-store.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use super::{
    farm::{Farm, Page, kind_of},
    mornings::{code, fill},
};
use axum::{Router, body::Body, extract::ConnectInfo, http::Request};
use std::net::SocketAddr;
use tallypail::{
    pages::{self, App},
    trade::figures::NOTICE,
    web::{
        clock::Clock,
        limit::BY_ONE,
        visitor::Role::{Helper, Owner, Stranger},
    },
};
use tower::ServiceExt;

/// The farm lets anybody ask; its other cells stay as they are.
async fn open(farm: &Farm) {
    let record = farm.list("farm").await.pop().unwrap();
    let kind = kind_of("farm");
    let mut typed: Vec<(&str, &str)> = kind.columns.iter().map(|own| (own.name, record.cell(kind, own.name).text())).collect();
    typed.retain(|(name, _)| *name != "lid_page");
    typed.extend([("lid_page", "yes"), ("version", "1"), ("why", "So that a stranger with a jar can ask")]);
    farm.submit(Owner, "/records/farm/1", &typed).await.came_with(303);
}

async fn farm() -> (Farm, String) {
    let farm = Farm::new().await;
    let person = [
        ("label", "M01"),
        ("name", "Orla Tremont"),
        ("sort", "member"),
        ("channel", "herdshare"),
        ("phone", "555-0131"),
        ("since", "2026-01-01"),
    ];
    farm.keep("people", &person).await;
    let lot = fill(&farm, "2026-05-13", "6", true).await;
    let out = [
        ("at", "2026-05-13T15:00"),
        ("lot", lot.as_str()),
        ("person", "M01"),
        ("gallons", "0"),
        ("half_gallons", "2"),
        ("quarts", "0"),
        ("pints", "0"),
    ];
    let then = [("evidence", "seen"), ("verdict", "Can go"), ("because", "Cold in time."), ("facts", "38 °F")];
    farm.keep("pickups", &[out.as_slice(), &then].concat()).await;
    open(&farm).await;
    (farm, lot)
}

/// What the page says between its head and its foot.
fn told(page: &Page) -> &str {
    page.text.split_once("<main").unwrap().1.split_once("<footer").unwrap().0
}

#[tokio::test]
async fn there_is_no_such_page_unless_the_farm_says_so() {
    let farm = Farm::new().await;
    let lot = fill(&farm, "2026-05-13", "6", true).await;
    for role in [Stranger, Helper, Owner] {
        for path in ["/jar".to_owned(), format!("/jar/{lot}")] {
            let (shut, unknown) = (farm.visit(role, &path).await, farm.visit(role, "/no/such/page").await);
            shut.came_with(404).says(&format!("There is no page at {path}."));
            assert_eq!(shut.text.replace(&path, ""), unknown.text.replace("/no/such/page", ""), "told like any page that is not there");
        }
    }
    farm.visit(Owner, "/records/farm/1").await.says("Anybody may ask by a lot code").says("It names nobody");
    open(&farm).await;
    farm.visit(Stranger, "/jar").await.came_with(200).says("The code on the lid").says(&NOTICE[..40]);
}

#[tokio::test]
async fn a_jar_is_called_back_held_or_nothing_is_known_of_it() {
    let (farm, lot) = farm().await;
    let path = format!("/jar/{lot}");
    let page = farm.visit(Stranger, &path).await;
    page.came_with(200).says("Nothing is held or called back against it").says("As of 14 May 2026, 12:00").says(&NOTICE[..40]);
    assert!(!told(&page).to_lowercase().contains("safe") && !told(&page).contains("Can go"), "{}", told(&page));
    // Typed as people type: small letters, a letter O for a nought.
    farm.visit(Stranger, &format!("/jar/{}", lot.to_lowercase())).await.came_with(200).says("Nothing is held");
    let asked = farm.visit(Stranger, &format!("/jar?code=+{lot}+")).await;
    assert_eq!((asked.status, asked.location.as_str()), (303, path.as_str()));
    let held = [("at", "2026-05-14T11:00"), ("scope", "lot"), ("lot", lot.as_str()), ("reason", "Flakes, left hind of Damson")];
    let hold = farm.keep("holds", &held).await.to_string();
    farm.visit(Stranger, &path).await.says("Held (withheld): do not drink it").says("555-0100").never_says("Flakes").never_says("Damson");
    farm.keep("lifts", &[("hold", &hold), ("at", "2026-05-14T11:30"), ("reason", "Well again")]).await;
    farm.visit(Stranger, &path).await.says("Nothing is held");
    // What is kept back counts as held although nobody pressed Stop.
    let sample = farm.keep("samples", &[("drawn", "2026-05-13T07:00"), ("subject", "lot"), ("lot", &lot)]).await.to_string();
    farm.keep("results", &[("sample", &sample), ("analyte", "Salmonella"), ("figure", "positive"), ("reported", "2026-05-14")]).await;
    farm.visit(Stranger, &path).await.says("Held (withheld)").never_says("Salmonella");
    // A practice calls nothing back; a closed call-back still does, because jars may be frozen.
    for (sort, word) in [("practice", "Held (withheld)"), ("call-back", "Called back (recall)")] {
        let call = [("at", "2026-05-14T11:40"), ("sort", sort), ("because", "pathogen found"), ("note", "Two children ill")];
        let number = farm.keep("callbacks", &call).await.to_string();
        let called = [
            ("callback", number.as_str()),
            ("at", "2026-05-14T11:40"),
            ("lot", lot.as_str()),
            ("tie", "possible"),
            ("because", "same vessel"),
            ("stands", "called back"),
        ];
        farm.keep("called", &called).await;
        farm.visit(Stranger, &path).await.says(word);
    }
    farm.keep("courses", &[("callback", "2"), ("at", "2026-05-14T11:50"), ("sort", "closed"), ("says", "All told")]).await;
    let page = farm.visit(Stranger, &path).await;
    page.says("Called back (recall): do not drink it")
        .says("Do not pass it on")
        .says("Keep the jar cold, closed and unwashed")
        .says("sees a doctor first");
    for never in ["Orla", "M01", "555-0131", "2 half-gallons", "children", "Salmonella", "possible", "Mina", "household"] {
        assert!(!told(&page).contains(never), "“{never}” in {}", told(&page));
    }
}

/// A code nobody filled and one that cannot be are told alike, and no other code is offered.
#[tokio::test]
async fn a_code_that_is_not_ours_gives_nothing_away() {
    let (farm, lot) = farm().await;
    let never_filled = code("2026-05-12", 3);
    let slipped = format!("{}{}", &lot[..5], if lot.ends_with('2') { "-3" } else { "-2" });
    let mut bodies = Vec::new();
    for typed in [never_filled.as_str(), slipped.as_str(), "milk", "%27%20OR%201%3D1", "6134A-S%00"] {
        let page = farm.visit(Stranger, &format!("/jar/{typed}")).await;
        page.came_with(404).says("That is no code of ours").says("Check the lid").never_says(&lot);
        bodies.push(told(&page).split("value=\"").next().unwrap().split("<span class=\"lot\">").next().unwrap().to_owned());
    }
    bodies.dedup();
    assert_eq!(bodies.len(), 1, "told alike: {bodies:?}");
    farm.visit(Stranger, &format!("/jar/{}", "9".repeat(300))).await.came_with(404);
    farm.visit(Stranger, "/jar?code=").await.came_with(200);
    farm.visit(Stranger, "/jar/%3Cscript%3E").await.came_with(404).never_says("<script>");
}

async fn asked(router: &Router, path: &str, from: &str) -> (u16, String, String) {
    let mut request = Request::get(path).body(Body::empty()).unwrap();
    let address: SocketAddr = format!("{from}:50000").parse().unwrap();
    request.extensions_mut().insert(ConnectInfo(address));
    let answer = router.clone().oneshot(request).await.unwrap();
    let header = |name: &str| answer.headers().get(name).map_or("", |value| value.to_str().unwrap()).to_owned();
    (answer.status().as_u16(), header("retry-after"), header("cache-control"))
}

#[tokio::test]
async fn it_cannot_be_asked_without_end() {
    let (farm, lot) = farm().await;
    let app = |now| App::new(farm.ledger.clone(), Clock::Stopped(now));
    let router = pages::open(app(farm.now)).0;
    let path = format!("/jar/{lot}");
    for nth in 0..BY_ONE {
        let (status, _, kept) = asked(&router, &path, "192.0.2.7").await;
        assert_eq!((status, kept.as_str()), (200, "no-store"), "question {nth}");
    }
    let (status, after, _) = asked(&router, &path, "192.0.2.7").await;
    assert_eq!((status, after.as_str()), (429, "60"), "one more in the same minute, which began this second");
    assert_eq!(asked(&router, &path, "192.0.2.8").await.0, 200, "somebody else");
    assert_eq!(asked(&router, "/jar", "192.0.2.7").await.0, 200, "the form itself tells nothing and may be opened");
    assert_eq!(asked(&router, "/signin", "192.0.2.7").await.0, 200, "no other door is slowed");
}
