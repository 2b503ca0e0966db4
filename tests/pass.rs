//! An inspector's pass: what it opens and what it does not, when it ends, what it never shows, and slowing whoever guesses.
//!
//! Sources: OWASP Authorization, Authentication, Session Management and Logging cheat sheets: deny by default and check on every
//! request; one answer for a wrong and an unknown secret; an end on the server; who looked at what, and when.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::{
    doors::address_of,
    farm::{Farm, Page, as_form, at},
};
use axum::{
    body::Body,
    extract::ConnectInfo,
    http::{Method, Request, header},
};
use std::{fs, net::SocketAddr, process::Command};
use tallypail::{
    pages::PASS,
    paper::folder,
    store::{Ledger, passes, records},
    web::{
        secret,
        visitor::{Role, Who},
    },
};

/// Makes a pass as the owner does, and gives its code.
pub async fn make(farm: &Farm, changed: &[(&str, &str)]) -> String {
    let after = farm.visit(Role::Owner, "/binder/pass").await.hidden("after");
    let usual = [
        ("for_whom", "R. Quill, county health"),
        ("from", "2026-05-01"),
        ("to", "2026-11-21"),
        ("last_day", "2026-11-30"),
        ("address", "http://192.0.2.7:8080/pass"),
        ("after", after.as_str()),
    ];
    // A pass shows no day after its last one.
    let last = changed.iter().find(|(name, _)| *name == "last_day").map_or("2026-11-21", |(_, day)| day);
    let usual = usual.map(|(name, value)| (name, if name == "to" { last } else { value }));
    let mut fields: Vec<(&str, &str)> = usual.into_iter().filter(|(name, _)| !changed.iter().any(|(own, _)| own == name)).collect();
    fields.extend(changed.iter().copied());
    let card = farm.submit(Role::Owner, "/binder/pass", &fields).await;
    card.came_with(200).says("<svg class=\"square\"").says("Nothing here says that milk is safe");
    code_on(&card)
}

fn code_on(card: &Page) -> String {
    card.text
        .split_once("<dt>Code</dt><dd class=\"pin\">")
        .unwrap_or_else(|| panic!("no code on {}", card.text))
        .1
        .split('<')
        .next()
        .unwrap()
        .to_owned()
}

/// Opens the way in and sends a code, as a browser at this address would.
async fn tried_from(farm: &Farm, address: &str, code: &str) -> Page {
    let page = farm.ask(Method::GET, "/pass", "", None).await;
    let door = page.hidden("door");
    let mut request = Request::post("/pass")
        .header(header::COOKIE, page.cookie())
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
        .body(Body::from(as_form(&[("door", &door), ("code", code)])))
        .unwrap();
    request.extensions_mut().insert(ConnectInfo(format!("{address}:50000").parse::<SocketAddr>().unwrap()));
    farm.answer(request).await
}

/// Comes in with a code: the visit's cookie.
pub async fn come_in(farm: &Farm, code: &str) -> String {
    let page = tried_from(farm, "192.0.2.9", code).await;
    assert_eq!((page.status, page.location.as_str()), (303, "/pass/binder"), "{}", page.text);
    page.cookies.iter().find(|cookie| cookie.starts_with(PASS)).unwrap().split(';').next().unwrap().to_owned()
}

/// Looks at an address with a visit's cookie.
pub async fn look(farm: &Farm, cookie: &str, path: &str) -> Page {
    farm.ask(Method::GET, path, cookie, None).await
}

/// Every door there is, tried with a pass: its own open, and all the others turn it away.
#[tokio::test]
async fn an_inspector_tries_every_door() {
    let farm = Farm::sample().await;
    let cookie = come_in(&farm, &make(&farm, &[]).await).await;
    let seal = look(&farm, &cookie, "/pass/binder").await.hidden("seal");
    let (last, others): (Vec<_>, Vec<_>) = farm.doors().into_iter().partition(|door| door.path == "/pass/leave");
    let lines = tallypail::store::journal::newest(&mut farm.ledger.read().await.unwrap(), 1).await.unwrap();
    let (mut own, mut shut) = (0, 0);
    for door in others.into_iter().chain(last) {
        let path = address_of(&farm, door.path).await;
        let entry = secret::entry();
        let fields = [("seal", seal.as_str()), ("entry", entry.as_str()), ("person", "M01"), ("why", "curious")];
        let form = (door.method == Method::POST).then_some(&fields[..]);
        let page = farm.ask(door.method.clone(), &path, &cookie, form).await;
        assert_ne!(page.status, 500, "{} {path}: {}", door.method, page.text);
        match door.who {
            Who::Inspector => {
                own += 1;
                assert!(page.status == 200 || page.location == "/pass", "{} {path} came with {}", door.method, page.status);
            }
            Who::Anybody => {}
            _ => {
                shut += 1;
                page.came_with(403).says("Not on your pass").never_says("Damson");
            }
        }
    }
    assert!(own == 7 && shut > 100, "{own} own doors, {shut} of others");
    let after = tallypail::store::journal::newest(&mut farm.ledger.read().await.unwrap(), 1).await.unwrap();
    assert_eq!(lines, after, "something was kept with a pass");
    assert_eq!(look(&farm, &cookie, "/pass/binder").await.location, "/pass", "leaving ends the visit");
}

#[test]
fn one_function_says_who_opens_what() {
    let opens = |who: Who| Role::ALL.into_iter().filter(|role| who.lets_in(*role)).collect::<Vec<_>>();
    assert_eq!(opens(Who::Anybody), Role::ALL);
    assert_eq!(opens(Who::Household), [Role::Member]);
    assert_eq!(opens(Who::Inspector), [Role::Inspector]);
    assert_eq!(opens(Who::Farm), [Role::Helper, Role::Owner]);
    assert_eq!(opens(Who::Owner), [Role::Owner]);
    assert_eq!(Role::parse("inspector"), Role::Stranger, "no password makes an inspector");
}

/// The night of 1 November 2026 is an hour longer: the clocks go back.
#[tokio::test]
async fn a_pass_ends_at_midnight_on_the_farm_s_clock_for_an_open_visit_too() {
    let mut farm = Farm::new().await;
    farm.clock("2026-10-30T12:00");
    let code = make(&farm, &[("last_day", "2026-11-01"), ("from", "2026-01-01"), ("to", "2026-10-30")]).await;
    farm.clock("2026-11-01T22:30");
    let cookie = come_in(&farm, &code).await;
    farm.clock("2026-11-01T23:59");
    farm.wait(59);
    look(&farm, &cookie, "/pass/binder").await.came_with(200).says("opens until the end of Sun 1 Nov 2026");
    farm.wait(1);
    assert_eq!(look(&farm, &cookie, "/pass/binder").await.location, "/pass");
    assert_eq!(look(&farm, &cookie, "/pass/binder.pdf").await.location, "/pass");
    tried_from(&farm, "192.0.2.9", &code).await.came_with(422).says("This code opens nothing, or not any more.");
    farm.visit(Role::Owner, "/binder/pass/1").await.says("over since the end of Sun 1 Nov 2026");
}

/// Source: OWASP Session Management Cheat Sheet, absolute timeout.
#[tokio::test]
async fn a_visit_lasts_four_hours_and_the_pass_opens_again() {
    let mut farm = Farm::new().await;
    let code = make(&farm, &[("last_day", "2026-05-20"), ("from", "2026-01-01"), ("to", "2026-05-14")]).await;
    let cookie = come_in(&farm, &code).await;
    farm.wait(4 * 3600 - 1);
    look(&farm, &cookie, "/pass/binder").await.came_with(200);
    farm.wait(1);
    assert_eq!(look(&farm, &cookie, "/pass/binder").await.location, "/pass");
    come_in(&farm, &code).await;
}

#[tokio::test]
async fn a_withdrawn_pass_is_over_at_once() {
    let farm = Farm::new().await;
    let code = make(&farm, &[("last_day", "2026-05-20"), ("to", "2026-05-14")]).await;
    let cookie = come_in(&farm, &code).await;
    look(&farm, &cookie, "/pass/binder").await.came_with(200);
    farm.submit(Role::Helper, "/binder/pass/1/withdraw", &[]).await.came_with(403);
    farm.submit(Role::Owner, "/binder/pass/1/withdraw", &[]).await.came_with(303);
    assert_eq!(look(&farm, &cookie, "/pass/binder").await.location, "/pass");
    tried_from(&farm, "192.0.2.9", &code).await.came_with(422);
    farm.visit(Role::Owner, "/binder/pass/1").await.says("withdrawn 14 May 2026, 12:00").never_says("Withdraw it now");
}

#[tokio::test]
async fn a_pass_shows_the_lots_of_its_days_and_no_other() {
    let farm = Farm::sample().await;
    let cookie = come_in(&farm, &make(&farm, &[("from", "2026-05-14"), ("to", "2026-05-20")]).await).await;
    for end in ["", ".pdf", ".csv", ".json"] {
        look(&farm, &cookie, &format!("/pass/lots/6134A-S{end}")).await.came_with(200);
    }
    for outside in ["6133A-W", "6133B-U", "6141A-W", "6999A-9", "nonsense"] {
        let page = look(&farm, &cookie, &format!("/pass/lots/{outside}")).await;
        page.came_with(404).says("No lot of the days on this pass is called").says("href=\"/pass\"").never_says("Stop milk");
    }
    let binder = look(&farm, &cookie, "/pass/binder.csv").await;
    binder.says("6134A-S").says("6140A-0").never_says("6133B-U").never_says("6141A-W");
    let page = look(&farm, &cookie, "/pass/binder").await;
    page.says("href=\"/pass/lots/6134A-S\"").never_says("href=\"/records").never_says("href=\"/lots/").never_says("href=\"/people");
    for asked in ["?from=2025-09-01", "?from=2025-09-01&to=2026-11-21&names=yes"] {
        look(&farm, &cookie, &format!("/pass/binder.csv{asked}")).await.never_says("6133B-U").never_says("Tremont");
    }
}

/// The text of a PDF.
fn read(bytes: &[u8]) -> String {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("paper.pdf");
    fs::write(&path, bytes).unwrap();
    let read =
        Command::new("pdftotext").arg("-layout").arg(&path).arg("-").output().expect("pdftotext, of poppler-utils, must be installed");
    String::from_utf8(read.stdout).unwrap()
}

/// Whatever somebody typed about a household, nothing that can be read with a pass names it or reaches it.
#[tokio::test]
async fn no_name_and_no_phone_is_on_anything_a_pass_shows() {
    let farm = Farm::sample().await;
    let secrets =
        ["Orla Tremont", "orla tremont", "the Tremonts", "555-0101", "555 0101", "m01@example.org", "Vesper Caldecott", "555-0777"];
    let told = format!("for {}; ring {} or {}, not {}", secrets[0], secrets[3], secrets[5], secrets[6]);
    farm.keep("collectors", &[("person", "M01"), ("name", "Vesper Caldecott"), ("reach", "555-0777"), ("since", "2026-05-01")]).await;
    farm.keep(
        "renewals",
        &[("sort", "other"), ("what", "Letter to the Tremonts, 555 0101"), ("done", "2026-11-02"), ("until", "2027-01-01")],
    )
    .await;
    let hold = farm.keep("holds", &[("at", "2026-11-21T10:00"), ("scope", "lot"), ("lot", "6325A-Z"), ("reason", &told)]).await;
    farm.keep("lifts", &[("hold", &hold.to_string()), ("at", "2026-11-21T11:00"), ("reason", "orla tremont rang from 555-0777")]).await;
    let complaint = [("at", "2026-11-20T10:00"), ("person", "M01"), ("says", &told), ("taken_by", "Mina")];
    farm.keep("complaints", &complaint).await;
    let dose =
        [("cow", "Wren"), ("at", "2026-11-20T18:00"), ("product", "Tube"), ("reason", told.as_str()), ("given_by", "Vesper Caldecott")];
    farm.keep("treatments", &[&dose[..], &[("milk_hours", "12"), ("as_labelled", "yes"), ("vet_figure", "no")]].concat()).await;
    let bottle = [("drawn", "2026-11-20T09:00"), ("subject", "water"), ("place", "Tap of the Tremonts"), ("asked", "water coliforms")];
    farm.keep("samples", &[&bottle[..], &[("lab", "Orla Tremont’s lab")]].concat()).await;
    farm.keep(
        "chill",
        &[("lot", "6325A-Z"), ("at", "2026-11-21T12:00"), ("temperature", "39 °F"), ("thermometer", "Probe of Orla Tremont")],
    )
    .await;
    let cookie = come_in(&farm, &make(&farm, &[]).await).await;
    let mut read_by_all: Vec<(String, String)> = Vec::new();
    for path in
        ["/pass/binder", "/pass/binder.csv", "/pass/binder.json", "/pass/lots/6325A-Z", "/pass/lots/6325A-Z.csv", "/pass/lots/6325A-Z.json"]
    {
        read_by_all.push((path.to_owned(), look(&farm, &cookie, path).await.came_with(200).text.clone()));
    }
    for path in ["/pass/binder.pdf", "/pass/lots/6325A-Z.pdf"] {
        read_by_all.push((path.to_owned(), read(&look(&farm, &cookie, path).await.bytes)));
    }
    let folder = look(&farm, &cookie, "/pass/binder.zip").await;
    let at = tempfile::tempdir().unwrap();
    fs::write(at.path().join("b.zip"), &folder.bytes).unwrap();
    let said =
        Command::new("unzip").arg("-p").arg(at.path().join("b.zip")).arg("*.csv").arg("*.html").output().expect("unzip must be installed");
    read_by_all.push(("/pass/binder.zip".to_owned(), String::from_utf8(said.stdout).unwrap()));
    let people = crate::farm::kind_of("people");
    let mut words: Vec<String> = secrets.iter().map(|word| (*word).to_owned()).collect();
    for person in farm.list("people").await {
        words.extend(["name", "phone", "second_way"].map(|column| person.cell(people, column).text().to_owned()));
    }
    words.retain(|word| word.len() > 4);
    for (path, text) in &read_by_all {
        let shown: Vec<&String> = words.iter().filter(|word| text.to_lowercase().contains(&word.to_lowercase())).collect();
        assert!(shown.is_empty(), "{path} shows {shown:?}");
        assert!(text.contains("(a household)"), "{path} does not hold what was planted at all");
    }
    // The looking works: with names switched on for a pass, they are there.
    let named = come_in(&farm, &make(&farm, &[("names", "yes")]).await).await;
    look(&farm, &named, "/pass/binder.csv").await.says("Vesper Caldecott").says("555-0101");
}

/// Source: OWASP Logging Cheat Sheet: when, where from, who, what.
#[tokio::test]
async fn every_view_is_written_down_and_shown_to_the_owner() {
    let farm = Farm::sample().await;
    let cookie = come_in(&farm, &make(&farm, &[]).await).await;
    let paths = ["/pass/binder", "/pass/binder.pdf", "/pass/binder.zip", "/pass/lots/6134A-S", "/pass/lots/6134A%2DS.pdf"];
    for path in paths.into_iter().chain(["/pass/lots/5250A-7", "/pass/lots/9999Z-Q", "/pass/lots/%FF"]) {
        let mut request = Request::get(path).header(header::COOKIE, &cookie).body(Body::empty()).unwrap();
        request.extensions_mut().insert(ConnectInfo("198.51.100.4:50000".parse::<SocketAddr>().unwrap()));
        farm.answer(request).await;
    }
    look(&farm, &cookie, "/costs").await.came_with(403);
    let views = passes::views(&mut farm.ledger.read().await.unwrap(), 1).await.unwrap();
    let what: Vec<(&str, &str)> = views.iter().rev().map(|view| (view.what.as_str(), view.address.as_str())).collect();
    let from = "198.51.100.4";
    let seen = [
        ("the binder", from),
        ("the binder as PDF", from),
        ("the folder", from),
        ("lot 6134A-S", from),
        ("lot 6134A-S.pdf", from),
        ("asked for lot 5250A-7, not on this pass", from),
        ("asked for lot 9999Z-Q, not on this pass", from),
        ("asked for lot %FF, not on this pass", from),
    ];
    assert_eq!(what, [&[("came in", "192.0.2.9")][..], &seen[..]].concat());
    let page = farm.visit(Role::Owner, "/binder/pass/1").await;
    page.says("R. Quill, county health").says("lot 6134A-S").says("198.51.100.4").says("21 Nov 2026, 15:05");
    page.says("<table class=\"fold\">").says("data-label=\"What\"");
    // Coming in shows nothing yet, and neither does a lot that is not there; nor does leaving.
    let seal = look(&farm, &cookie, "/pass/binder").await.hidden("seal");
    farm.ask(Method::POST, "/pass/leave", &cookie, Some(&[("seal", &seal)])).await.came_with(303);
    farm.visit(Role::Owner, "/binder/pass").await.says("; 6 views");
}

#[tokio::test]
async fn a_code_is_shown_once_and_kept_as_a_hash() {
    let farm = Farm::new().await;
    let code = make(&farm, &[("last_day", "2026-05-20")]).await;
    let plain = code.replace(' ', "");
    assert!(code.len() == 15 && plain.len() == 12, "{code}");
    for path in ["/binder/pass", "/binder/pass/1"] {
        farm.visit(Role::Owner, path).await.came_with(200).never_says(&code).never_says(&plain[3..]);
    }
    let usual =
        [("for_whom", "X"), ("from", "2026-05-01"), ("to", "2026-05-02"), ("last_day", "2026-05-20"), ("address", "http://192.0.2.7/pass")];
    let again = farm.submit(Role::Owner, "/binder/pass", &[&usual[..], &[("after", "0")]].concat()).await;
    again.came_with(422).says(&format!("A pass was made since this page was opened, {} …, on 14 May 2026, 12:00.", &code[..3]));
    again.says("if nobody wrote it down, withdraw that pass first");
    // Two passes for one person are told apart by their first digits and by when they were made.
    again.says(&format!("{} …, made 14 May 2026, 12:00; ", &code[..3])).says("it keeps its own list here and has no line in the journal");
    for (field, value, says) in [
        ("last_day", "2026-05-13", "is over"),
        ("last_day", "2026-12-31", "90 days at most"),
        ("for_whom", "", "For whom is it?"),
        ("to", "2026-04-01", "The last day comes before the first."),
        ("address", "javascript:alert(1)", "Write it whole, like http://192.0.2.10:7720/pass."),
        ("from", "", "Choose the first day whose records the pass shows."),
        ("to", "", "Choose the last day whose records the pass shows."),
        ("last_day", "", "Choose the last day the pass opens."),
        ("to", "2062-11-21", "Tue 21 Nov 2062 has not come yet when the pass is over, at the end of Wed 20 May 2026."),
        ("from", "2062-11-21", "Tue 21 Nov 2062 has not come yet: begin with a day that has records"),
    ] {
        let fields: Vec<(&str, &str)> = usual.iter().map(|(own, was)| (*own, if *own == field { value } else { *was })).collect();
        let page = farm.submit(Role::Owner, "/binder/pass", &[&fields[..], &[("after", "1")]].concat()).await;
        page.came_with(422).says(says).says(&format!("id=\"f-{}-remark\"", field)).never_says("is not a date");
        assert_eq!(page.text.matches("class=\"remark\"").count(), 1, "{field} is wrong, and nothing else");
    }
    let cookie = come_in(&farm, &code).await;
    let book = records::book(&mut farm.ledger.read().await.unwrap()).await.unwrap();
    assert!(folder::write(&book).keys().all(|name| !name.contains("pass")), "a pass is no part of the farm folder");
    farm.ledger.close().await;
    let bytes = fs::read(farm.file()).unwrap();
    let holds = |words: &str| bytes.windows(words.len()).any(|window| window == words.as_bytes());
    assert!(!holds(&plain) && !holds(&plain[3..]) && !holds(cookie.split('=').nth(1).unwrap()), "the ledger keeps digests only");
}

/// Source: OWASP Authentication Cheat Sheet: the same answer for an unknown and a wrong code; waits that grow; a limit by the pass.
#[tokio::test]
async fn guessing_is_slowed_the_same_for_a_pass_nobody_has_and_over_a_new_start() {
    let mut farm = Farm::new().await;
    let code = make(&farm, &[("last_day", "2026-05-20")]).await;
    let named = code[..3].to_owned();
    let nobody = if named == "111" { "222" } else { "111" };
    for nth in 0..5 {
        let mut said = Vec::new();
        for own in [named.as_str(), nobody] {
            let page = tried_from(&farm, &format!("192.0.2.{nth}"), &format!("{own} 000 000 000")).await;
            page.came_with(422).says("This code opens nothing, or not any more.");
            said.push(page.text.replace(&page.hidden("door"), "").replace(own, ""));
        }
        said.dedup();
        assert_eq!(said.len(), 1, "a code nobody has is answered in other words");
    }
    farm.ledger.close().await;
    farm.ledger = Ledger::open(farm.file()).await.unwrap();
    for own in [&code, &format!("{nobody} 000 000 000")] {
        tried_from(&farm, "192.0.2.77", own).await.came_with(429).says("Too many tries that did not fit. Wait 1 min");
    }
    farm.wait(60);
    come_in(&farm, &code).await;
    for nth in 0..10 {
        tried_from(&farm, &format!("198.51.100.{nth}"), &format!("{named} 000 000 000")).await.came_with(422);
        farm.wait(16 * 60);
    }
    tried_from(&farm, "192.0.2.78", &code).await.came_with(422).says("Ask the farm for a new pass");
    farm.wait(3 * 86_400);
    tried_from(&farm, "192.0.2.78", &code).await.came_with(422);
    farm.visit(Role::Owner, "/binder/pass/1").await.says("shut: ten tries in one day did not fit");
    for wrong in ["", "384", "384 502 917 46x", "' OR 1"] {
        tried_from(&farm, "192.0.2.79", wrong).await.came_with(422).says("A code is twelve digits, and nothing else.");
    }
}

#[tokio::test]
async fn a_form_from_elsewhere_does_not_come_in_and_nobody_of_the_farm_does() {
    let farm = Farm::new().await;
    let code = make(&farm, &[("last_day", "2026-05-20")]).await;
    for cookie in ["", "tallypail_gate=another"] {
        farm.ask(Method::POST, "/pass", cookie, Some(&[("code", &code), ("door", "guessed")])).await.came_with(403).says("open too long");
    }
    let visit = come_in(&farm, &code).await;
    for role in [Role::Helper, Role::Owner] {
        let both = format!("{}; {visit}", farm.cookie(role));
        farm.ask(Method::GET, "/pass/binder", &both, None).await.came_with(403).says("For somebody with a pass");
        farm.ask(Method::GET, "/pass", &both, None).await.came_with(200).says("is signed in here").never_says("name=\"code\"");
        farm.ask(Method::GET, "/stop", &both, None).await.came_with(200);
    }
    assert!(at("2026-05-14T12:00") == farm.now, "no time has passed");
    farm.ask(Method::GET, "/own/page", &visit, None).await.came_with(403).says("Not on your pass");
}

/// Whoever came in with a pass has no use for the farm's own pages, and kept nothing that could be lost.
#[tokio::test]
async fn what_is_not_there_leads_an_inspector_back_to_the_binder() {
    let farm = Farm::new().await;
    let cookie = come_in(&farm, &make(&farm, &[("last_day", "2026-05-20")]).await).await;
    let asked = [
        (Method::GET, "/nowhere", 404),
        (Method::GET, "/pass/nowhere", 404),
        (Method::GET, "/pass/lots/%FF", 400),
        (Method::POST, "/pass/binder", 405),
        (Method::GET, "/costs", 403),
        (Method::POST, "/stop", 403),
        (Method::POST, "/pass/leave", 403),
    ];
    for (method, path, status) in asked {
        let form = (method == Method::POST).then_some(&[("seal", "another")][..]);
        let page = farm.ask(method, path, &cookie, form).await;
        page.came_with(status).says("<a class=\"act\" href=\"/pass\">The binder</a>");
        page.never_says("Today").never_says("Stop milk").never_says("Nothing was kept");
    }
    // Everybody else is shown the farm's own ways on.
    farm.visit(Role::Owner, "/nowhere").await.came_with(404).says("Today").says("Stop milk");
    farm.ask(Method::GET, "/signin", "", None).await.says("<a class=\"quiet\" href=\"/pass\">I have an inspector’s pass</a>");
}
