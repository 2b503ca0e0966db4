//! Every door there is, tried as everybody: a stranger, a helper, the owner, and a form sent from another site. A household
//! tries them all in tests/own_privacy.rs.
//!
//! Sources: OWASP Authorization and Cross-Site Request Forgery Prevention cheat sheets: deny by default, check on every
//! request, and a token in every form that changes anything.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::farm::{Farm, Page};
use axum::http::Method;
use std::collections::{BTreeMap, BTreeSet, VecDeque};
use tallypail::{
    pages,
    trade::{figures::NOTICE, kinds::KINDS},
    web::{
        rooms::Door,
        visitor::{Role, Who},
    },
};

/// The doors a stranger may open: the way in, the question about a lid, whether the program works, and nothing else.
const IN_FRONT: [&str; 7] = ["/signin", "/setup", "/own", "/pass", "/jar", "/jar/{code}", "/health"];

/// An address for every placeholder in a door's path, as the sample farm has them. A new placeholder needs its line here,
/// so that no door is left untried.
fn address(farm: &Sample, path: &str) -> String {
    filled_in(path, &farm.lot, &farm.counted)
}

fn filled_in(path: &str, lot: &str, counted: &str) -> String {
    let mut address = path.to_owned();
    while let Some((before, rest)) = address.clone().split_once('{') {
        let (name, after) = rest.split_once('}').unwrap();
        let before = before.to_owned();
        let value = match name {
            "kind" => "cows".to_owned(),
            "number" | "person" | "pass" | "milking" | "hold" | "act" | "complaint" | "store" => "1".to_owned(),
            "code" | "lot" => lot.to_owned(),
            "name" | "cow" => "Damson".to_owned(),
            "label" | "member" => "M01".to_owned(),
            "session" => "2026-11-21 AM".to_owned(),
            "day" => "2026-11-21".to_owned(),
            "at" => counted.to_owned(),
            "line" => "all".to_owned(),
            "to" => "h1".to_owned(),
            "paper" => "packet".to_owned(),
            "sheet" => "sheet.csv".to_owned(),
            "condition" => "1".to_owned(),
            "document" => "1".to_owned(),
            "flow" => "filled".to_owned(),
            "id" => "us-pa-permit".to_owned(),
            other => panic!("{path}: say in tests/doors.rs what “{other}” may be"),
        };
        address = format!("{before}{value}{after}");
    }
    address
}

/// The sample farm and what of it stands in an address.
struct Sample {
    farm: Farm,
    lot: String,
    /// The moment of the last count, as its address has it.
    counted: String,
}

async fn sample() -> Sample {
    let farm = Farm::sample().await;
    let kind = crate::farm::kind_of("lots");
    let lot = farm.list("lots").await.last().unwrap().cell(kind, "code").text().to_owned();
    let counts = farm.list("counts").await;
    let counted = counts.last().unwrap().cell(crate::farm::kind_of("counts"), "at").whole().unwrap().to_string();
    Sample { farm, lot, counted }
}

/// The address of a door on the sample farm, for whoever else tries them all.
pub async fn address_of(farm: &Farm, path: &str) -> String {
    let lots = farm.list("lots").await;
    let counts = farm.list("counts").await;
    let lot = lots.last().unwrap().cell(crate::farm::kind_of("lots"), "code").text();
    let counted = counts.last().unwrap().cell(crate::farm::kind_of("counts"), "at").whole().unwrap().to_string();
    filled_in(path, lot, &counted)
}

fn doors() -> Vec<Door> {
    pages::rooms().open().1
}

#[test]
fn every_door_has_its_place_and_none_stands_twice() {
    let doors = doors();
    assert!(doors.len() > 10);
    let mut seen = BTreeSet::new();
    for door in &doors {
        assert!(seen.insert((door.method.to_string(), door.path)), "{} {} stands twice", door.method, door.path);
        assert!(door.method == Method::GET || door.method == Method::POST, "{door:?}");
        let in_front = IN_FRONT.contains(&door.path);
        assert_eq!(door.who == Who::Anybody, in_front, "{} {} is open to strangers, or the way in is not", door.method, door.path);
    }
}

/// A household is opened by what the clipboard calls it, so none may be called like a page beside it.
#[tokio::test]
async fn no_page_hides_a_household() {
    let farm = Farm::new().await;
    let beside: BTreeSet<&str> = doors()
        .iter()
        .filter_map(|door| door.path.strip_prefix("/people/").or_else(|| door.path.strip_prefix("/books/")))
        .filter(|page| !page.contains(['/', '{', '.']) && page.len() <= 12)
        .collect();
    assert!(beside.contains("promises") && beside.contains("tin"), "{beside:?}");
    for label in beside {
        let typed = [("label", label), ("name", "Ashgrove"), ("sort", "member"), ("channel", "herdshare"), ("since", "2026-05-01")];
        farm.submit(Role::Owner, "/records/people", &typed).await.came_with(422).says("A page here is called so already.");
    }
}

#[tokio::test]
async fn a_stranger_is_shown_to_the_front_door_and_nothing_else() {
    let sample = sample().await;
    for door in doors().iter().filter(|door| !IN_FRONT.contains(&door.path)) {
        let path = address(&sample, door.path);
        if door.method == Method::GET {
            let page = sample.farm.visit(Role::Stranger, &path).await;
            let asked = path.replace(' ', "%20");
            let front = match door.who {
                Who::Household => "/own".to_owned(),
                Who::Inspector => "/pass".to_owned(),
                _ => format!("/signin?back={asked}"),
            };
            assert_eq!((page.status, page.location), (303, front), "GET {path}");
            assert!(page.bytes.is_empty(), "GET {path} sent something along");
        } else {
            let page = sample.farm.submit(Role::Stranger, &path, &[("reason", "none")]).await;
            assert_eq!((page.status, page.location.as_str()), (403, ""), "POST {path}");
        }
    }
    sample.farm.visit(Role::Stranger, "/no/such/page").await.came_with(404).never_says("Damson");
}

#[tokio::test]
async fn a_helper_is_turned_away_from_the_owners_doors() {
    let sample = sample().await;
    // Signing out is last, because there is nobody left to try the others after it.
    let (last, others): (Vec<Door>, Vec<Door>) = doors().into_iter().partition(|door| door.path == "/signout");
    for door in others.into_iter().chain(last) {
        let path = address(&sample, door.path);
        let page = match door.method {
            Method::GET => sample.farm.visit(Role::Helper, &path).await,
            _ => sample.farm.submit(Role::Helper, &path, &[]).await,
        };
        if door.who == Who::Owner {
            page.came_with(403).says("For the owner only");
        } else if door.who == Who::Household {
            page.came_with(403).says("A household&#39;s own page");
        } else if door.who == Who::Inspector {
            page.came_with(403).says("For somebody with a pass");
        } else {
            assert_ne!(page.status, 500, "{} {path}: {}", door.method, page.text);
            if !IN_FRONT.contains(&door.path) {
                assert_ne!(page.status, 403, "{} {path} is a helper's door and turns one away", door.method);
            }
        }
    }
}

#[tokio::test]
async fn the_owner_finds_every_page_there() {
    let sample = sample().await;
    crate::documents::send(&sample.farm, Role::Owner, 1, "paper.pdf", b"%PDF-1.4 of somebody's").await.came_with(303);
    crate::pass::make(&sample.farm, &[]).await;
    sample.farm.keep("warm_fridges", &[("fridge", "Kitchen fridge"), ("found", "2026-11-21T14:00")]).await;
    for door in doors().iter().filter(|door| door.method == Method::GET && !IN_FRONT.contains(&door.path)) {
        let path = address(&sample, door.path);
        // A trace in a paper's form is of somebody on some day; without them there is nothing to print.
        let path = if door.path.starts_with("/trace.") { format!("{path}?person=M05&day=2026-08-18") } else { path };
        let page = sample.farm.visit(Role::Owner, &path).await;
        // The owner is no household and has no pass, and is told so.
        let found =
            if matches!(door.who, Who::Household | Who::Inspector) { page.status == 403 } else { page.status == 200 || page.status == 303 };
        assert!(found, "GET {path} came with {}:\n{}", page.status, page.text);
        if page.kind.starts_with("text/html") {
            page.says(&NOTICE[..40]);
        }
    }
}

/// Source: OWASP Cross-Site Request Forgery Prevention Cheat Sheet, synchroniser token pattern.
#[tokio::test]
async fn a_form_without_its_seal_is_refused_at_every_door() {
    let sample = sample().await;
    for door in doors().iter().filter(|door| door.method == Method::POST) {
        let path = address(&sample, door.path);
        let helper_seal = sample.farm.seal(Role::Helper);
        for fields in [&[][..], &[("seal", "")], &[("seal", "guessed")], &[("seal", helper_seal.as_str())]] {
            let page = sample.farm.submit_bare(Role::Owner, &path, fields).await;
            assert_eq!(page.status, 403, "POST {path} took a form with {fields:?}:\n{}", page.text);
        }
    }
    let lines = tallypail::store::journal::newest(&mut sample.farm.ledger.read().await.unwrap(), 1).await.unwrap();
    assert_eq!(lines[0].did, "imported", "something was kept without a seal");
}

#[tokio::test]
async fn kinds_that_are_the_owners_are_shut_to_a_helper_at_every_address() {
    let sample = sample().await;
    let mut owners = 0;
    for kind in KINDS {
        for path in ["", "/new", "/1"].map(|end| format!("/records/{}{end}", kind.name)) {
            let page = sample.farm.visit(Role::Helper, &path).await;
            let lift = kind.name == "lifts" && path.ends_with("new");
            assert_eq!(page.status == 403, kind.owner_only || lift, "GET {path} came with {}", page.status);
            let page = sample.farm.visit(Role::Owner, &path).await;
            // A kind with a page of its own is written there.
            let onward = path.ends_with("/new") && kind.own_page().is_some();
            // The sample farm has kept no paper and found no fridge warm, so there is none to look at.
            let none = path.ends_with("/1") && ["documents", "warm_fridges", "warmed"].contains(&kind.name);
            assert_eq!(
                page.status,
                if onward {
                    303
                } else if none {
                    404
                } else {
                    200
                },
                "GET {path}"
            );
        }
        for end in ["/1", "/1/strike"] {
            let path = format!("/records/{}{end}", kind.name);
            sample.farm.submit(Role::Helper, &path, &[("why", "curious")]).await.came_with(403);
        }
        if kind.owner_only {
            owners += 1;
            sample.farm.submit(Role::Helper, &format!("/records/{}", kind.name), &[]).await.came_with(403);
        }
    }
    assert!(owners >= 8, "the kinds with money, phone numbers and complaints were not found");
    for kind in ["people", "complaints", "tickets", "gear", "minutes", "assumptions", "farm", "pickups"] {
        assert!(crate::farm::kind_of(kind).owner_only, "{kind} holds phone numbers, money or complaints");
    }
}

/// The addresses a page leads to, on this farm's own pages.
fn links(page: &Page) -> Vec<String> {
    let mut found = Vec::new();
    for (place, _) in page.text.match_indices("href=\"/") {
        let address = page.text[place + 6..].split('"').next().unwrap();
        found.push(address.split('#').next().unwrap().replace("&#38;", "&").replace("&amp;", "&"));
    }
    found
}

/// What a helper must never be shown, wherever in the farm they walk.
struct Secrets {
    phones: Vec<String>,
    complaints: Vec<String>,
    names: Vec<String>,
}

async fn secrets(farm: &Farm) -> Secrets {
    let texts = |name: &'static str, column: &'static str| async move {
        let kind = crate::farm::kind_of(name);
        let all: Vec<String> = farm.list(name).await.iter().map(|record| record.cell(kind, column).text().to_owned()).collect();
        all.into_iter().filter(|text| text.len() > 5).collect::<Vec<_>>()
    };
    let phones = [texts("people", "phone").await, texts("people", "second_way").await, texts("farm", "phone").await].concat();
    let complaints = texts("complaints", "says").await.iter().map(|says| says.chars().take(24).collect()).collect();
    Secrets { phones, complaints, names: texts("people", "name").await }
}

/// Which of them a page shows.
fn shown(page: &Page, secrets: &Secrets) -> Vec<String> {
    let mut found: Vec<String> =
        secrets.phones.iter().chain(&secrets.complaints).filter(|words| page.text.contains(words.as_str())).cloned().collect();
    if page.text.contains("555-01") {
        found.push("a phone number".to_owned());
    }
    // A dollar sign before a digit is money; nothing else on a page looks so. The bytes of a PDF are packed, and hold any.
    if page.kind != "application/pdf"
        && page.text.match_indices('$').any(|(place, _)| page.text[place + 1..].starts_with(|c: char| c.is_ascii_digit()))
    {
        found.push("money".to_owned());
    }
    found
}

/// Walks from the helper's own places to every page they lead to, a few of each door, and looks at what is on them.
async fn walk(farm: &Farm, role: Role, most_of_a_kind: usize) -> BTreeMap<String, Page> {
    let mut asked: VecDeque<String> =
        ["/", "/stop", "/herd", "/jars", "/pickup", "/records/holds", "/records/counts"].map(str::to_owned).into();
    asked.extend(KINDS.iter().filter(|kind| role == Role::Owner || !kind.owner_only).map(|kind| format!("/records/{}", kind.name)));
    let mut walked = BTreeMap::new();
    let mut of_a_kind: BTreeMap<String, usize> = BTreeMap::new();
    while let Some(path) = asked.pop_front() {
        if walked.contains_key(&path) || path.starts_with("/assets/") {
            continue;
        }
        // Addresses that differ only in a number, a code or a name are of one kind.
        let shape: String = path
            .split(['/', '?'])
            .take(3)
            .map(|part| if part.contains(|c: char| c.is_ascii_digit()) { "#" } else { part })
            .collect::<Vec<_>>()
            .join("/");
        let count = of_a_kind.entry(shape).or_default();
        *count += 1;
        if *count > most_of_a_kind {
            continue;
        }
        let page = farm.visit(role, &path).await;
        asked.extend(links(&page));
        walked.insert(path, page);
    }
    walked
}

#[tokio::test]
async fn a_helper_walking_the_farm_sees_no_phone_number_no_money_and_no_complaint() {
    let sample = sample().await;
    let secrets = secrets(&sample.farm).await;
    assert!(secrets.phones.len() > 10 && !secrets.complaints.is_empty() && secrets.names.len() > 10);
    let mut walked = walk(&sample.farm, Role::Helper, 4).await;
    for door in doors().iter().filter(|door| door.method == Method::GET && door.who.lets_in(Role::Helper)) {
        let path = address(&sample, door.path);
        if !walked.contains_key(&path) {
            walked.insert(path.clone(), sample.farm.visit(Role::Helper, &path).await);
        }
    }
    assert!(walked.len() > 30, "the walk went nowhere: {:?}", walked.keys());
    let mut wrong = Vec::new();
    for (path, page) in &walked {
        let found = shown(page, &secrets);
        if !found.is_empty() {
            wrong.push(format!("{path} shows a helper {found:?}"));
        }
        if page.status >= 500 {
            wrong.push(format!("{path} came with {}", page.status));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    // The same walk as the owner does find them, so the looking works.
    let owners = walk(&sample.farm, Role::Owner, 2).await;
    let seen: BTreeSet<String> = owners.values().flat_map(|page| shown(page, &secrets)).collect();
    assert!(seen.contains("a phone number"), "even the owner sees no phone number: {seen:?}");
}

#[tokio::test]
async fn nothing_a_page_leads_to_is_missing_or_broken() {
    let sample = sample().await;
    let walked = walk(&sample.farm, Role::Owner, 3).await;
    let mut wrong: Vec<String> = Vec::new();
    for (path, page) in &walked {
        if page.status != 200 && page.status != 303 {
            let from: Vec<&String> = walked.iter().filter(|(_, from)| links(from).contains(path)).map(|(from, _)| from).take(3).collect();
            wrong.push(format!("{path} comes with {}; {from:?} lead there", page.status));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Source: W3C Content Security Policy Level 3; OWASP HTTP Headers Cheat Sheet.
#[tokio::test]
async fn every_answer_forbids_scripts_frames_and_keeping_a_copy() {
    use axum::{body::Body, http::Request};
    use tower::ServiceExt;
    let farm = Farm::new().await;
    for path in ["/signin", "/stop", "/no/such/page"] {
        let plain = pages::App::new(farm.ledger.clone(), tallypail::web::clock::Clock::Stopped(farm.now));
        let app = pages::App { secure: true, ..plain };
        let answer = pages::open(app).0.oneshot(Request::get(path).body(Body::empty()).unwrap()).await.unwrap();
        let header = |name: &str| answer.headers().get(name).map_or("", |value| value.to_str().unwrap()).to_owned();
        let policy = header("content-security-policy");
        for part in ["default-src 'none'", "script-src 'self'", "style-src 'self'", "frame-ancestors 'none'", "form-action 'self'"] {
            assert!(policy.contains(part), "{path} lacks {part}: {policy}");
        }
        assert!(!policy.contains("unsafe"), "{policy}");
        assert_eq!((header("x-content-type-options"), header("cache-control")), ("nosniff".to_owned(), "no-store".to_owned()), "{path}");
        for cookie in answer.headers().get_all("set-cookie") {
            assert!(cookie.to_str().unwrap().contains("; Secure"), "behind https a cookie travels over TLS only");
        }
    }
}
