//! The rules a farm follows, told in words; following a place's set; and changing a rule from a day on.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::farm::{Farm, OWNER, PASSWORD, Page, at, kind_of};
use axum::http::Method;
use tallypail::{
    store::{lots, records, verdict},
    trade::{
        records::Shape,
        rules::{RuleSet, Sure, places},
        verdict::judge,
        when::{day_shown, parse_day},
    },
    web::visitor::Role,
};

/// Text as a page has it, where a template has escaped it.
fn on_page(text: &str) -> String {
    ["&&#38;", "<&#60;", ">&#62;", "\"&#34;", "'&#39;"].iter().fold(text.to_owned(), |text, own| text.replace(&own[..1], &own[1..]))
}

/// Text of a page as a person reads it.
fn unescaped(text: &str) -> String {
    let pairs = [("&#60;", "<"), ("&#62;", ">"), ("&#34;", "\""), ("&#39;", "'"), ("&#38;", "&")];
    pairs.iter().fold(text.to_owned(), |text, (from, to)| text.replace(from, to))
}

/// What a form on a page holds, field by field, as a browser would send it.
pub fn typed(page: &Page) -> Vec<(String, String)> {
    let form = page.text.split("action=\"/rules\"").nth(1).unwrap().split("</form>").next().unwrap();
    let mut found = vec![("place".to_owned(), page.hidden("place")), ("entry".to_owned(), page.entry())];
    for column in kind_of("rules").columns {
        let mark = format!("name=\"{}\"", column.name);
        let value = match column.shape {
            Shape::Note(_) | Shape::Steps | Shape::Limits | Shape::Tests | Shape::Caps | Shape::Channels | Shape::Needs => {
                let rest = form.split(&format!("<textarea id=\"f-{0}\" name=\"{0}\"", column.name)).nth(1).unwrap();
                rest.split_once('>').unwrap().1.split("</textarea>").next().unwrap().to_owned()
            }
            Shape::OneOf(_) => {
                let chosen = |piece: &str| piece.split("value=\"").nth(1).and_then(|rest| rest.split('"').next()).unwrap_or("").to_owned();
                let tile = form.lines().find(|line| line.contains(&mark) && line.contains(" checked")).map(chosen);
                let list = || {
                    let rest = form.split(&format!("<select id=\"f-{}\"", column.name)).nth(1)?.split("</select>").next()?;
                    rest.lines().find(|line| line.contains(" selected")).map(chosen)
                };
                tile.or_else(list).unwrap_or_default()
            }
            _ => {
                let input = form.split("<input").find(|input| input.contains(&mark)).unwrap_or_else(|| panic!("no {mark}"));
                input.split("value=\"").nth(1).unwrap().split('"').next().unwrap().to_owned()
            }
        };
        if column.name != "place" {
            found.push((column.name.to_owned(), unescaped(&value)));
        }
    }
    found
}

pub async fn send(farm: &Farm, typed: &[(String, String)], but: &[(&str, &str)]) -> Page {
    let mut fields: Vec<(&str, &str)> = typed
        .iter()
        .map(|(name, value)| (name.as_str(), value.as_str()))
        .filter(|(name, _)| !but.iter().any(|(own, _)| own == name))
        .collect();
    fields.extend(but);
    farm.submit(Role::Owner, "/rules", &fields).await
}

/// The set of what dairies send away to be pasteurized.
pub const PMO: &str = "us-pmo-grade-a-raw-for-pasteurization";

/// The same, with answers to questions, which a browser sends first.
pub async fn send_with(farm: &Farm, typed: &[(String, String)], answers: &[(&str, &str)], but: &[(&str, &str)]) -> Page {
    let rest = typed.iter().map(|(name, value)| (name.as_str(), value.as_str()));
    let rest = rest.filter(|(name, _)| !but.iter().any(|(own, _)| own == name)).chain(but.iter().copied());
    let fields: Vec<(&str, &str)> = answers.iter().copied().chain(rest).collect();
    farm.submit(Role::Owner, "/rules", &fields).await
}

/// A place's set, followed through the form from the day that is today.
async fn follow(farm: &Farm, set: &RuleSet) -> Page {
    let form = farm.visit(Role::Owner, &format!("/rules/new?place={}", set.id)).await;
    form.came_with(200);
    // A set by which no milk goes out is asked about, whichever way it says so.
    let answer = [("sure", "channels")].into_iter().filter(|_| matches!(set.id.as_str(), "ca-prohibited" | PMO));
    send_with(farm, &typed(&form), &answer.collect::<Vec<_>>(), &[("why", "the farm moved")]).await
}

/// Source: the project's own file of places; every one of them must come through the form whole.
#[tokio::test]
async fn every_built_in_set_can_be_followed_and_comes_back_with_its_source() {
    for set in places().unwrap() {
        let farm = Farm::new().await;
        let sent = follow(&farm, &set).await;
        assert_eq!((sent.status, sent.location.as_str()), (303, "/rules"), "{}: {}", set.id, sent.text);
        let page = farm.visit(Role::Owner, "/rules").await;
        page.came_with(200).says(&on_page(&set.title)).says(&on_page(&set.citation)).says(&on_page(&set.text_date));
        if let Some(url) = &set.url {
            page.says(&format!("href=\"{}\" rel=\"noreferrer\"", on_page(url)));
        }
        let sure = match set.sure {
            Some(Sure::Chosen) | None => "our own choice".to_owned(),
            Some(sure) => sure.to_string(),
        };
        page.says(&format!("<dt>How sure, on the whole</dt><dd>{sure}</dd>"));
        let (kind, record) = (kind_of("rules"), farm.list("rules").await.pop().unwrap());
        let cell = |name| record.cell(kind, name).text().to_owned();
        let known = |line: String| if line == "not known" { String::new() } else { line };
        assert_eq!(cell("steps"), known(set.steps.to_string()), "{}", set.id);
        assert_eq!(cell("limits"), known(set.limits_line()), "{}", set.id);
        assert_eq!(cell("tests"), known(set.tests.to_string()), "{}", set.id);
        assert_eq!(cell("caps"), known(set.caps.to_string()), "{}", set.id);
        assert_eq!(cell("channels"), known(set.channels.to_string()), "{}", set.id);
        assert_eq!(cell("check_by"), "2027-05-14", "{}", set.id);
        for step in &set.steps.0 {
            page.says(&on_page(&step.spoken()));
        }
        page.says("Fri 14 May 2027").says("the farm moved");
        let whole = farm.visit(Role::Owner, &format!("/rules/places/{}", set.id)).await;
        whole.came_with(200).says("Follow these from a day").says(&on_page(&set.where_to_look())).says("This program never says");
    }
}

#[tokio::test]
async fn what_nobody_has_read_is_not_known_and_never_not_required() {
    let farm = Farm::new().await;
    let blank = places().unwrap().into_iter().find(|set| set.id == "not-listed").unwrap();
    follow(&farm, &blank).await.came_with(303);
    let page = farm.visit(Role::Owner, "/rules").await;
    for topic in [
        "How cold, how fast",
        "Limits of what the lab finds",
        "How often things are tested",
        "How much, and how many cows",
        "Ways of handing out",
        "Kept out round calving",
        "Strip test",
        "Sampling again after a notice",
        "Records kept",
    ] {
        page.says(&format!("<dt>{topic}</dt><dd>not known</dd>"));
    }
    // What the farm chose for itself does not end with the place it stood beside, and is marked as its own.
    page.says("10 days from the oldest milking").says("own figure");
    page.says("“Not known” never means that nothing is required");
    page.says("This program never says that a rule is in force.</b> Look it up, or ask the health department.");
    assert_eq!(page.text.matches("not required").count(), 0);
    let list = farm.visit(Role::Owner, "/rules/places").await;
    let first = list.text.find("Careful starting rules").unwrap();
    assert!(first < list.text.find("My place is not listed").unwrap());
    assert!(list.text.find("My place is not listed").unwrap() < list.text.find("Pennsylvania, raw milk permit").unwrap());
}

/// Source: 7 Pa. Code 59a.401-59a.416 as the project read it: limits in the law, pathogens from memory, how often pathogens
/// are tested second-hand.
#[tokio::test]
async fn a_rule_not_read_in_the_law_has_its_mark_in_words() {
    let farm = Farm::new().await;
    let pennsylvania = places().unwrap().into_iter().find(|set| set.id == "us-pa-permit").unwrap();
    follow(&farm, &pennsylvania).await.came_with(303);
    let page = farm.visit(Role::Owner, "/rules").await;
    page.says("pathogens: none found <span class=\"chip late\">from memory</span>");
    page.says("pathogens: 2 in any 12 months <span class=\"chip late\">read second-hand</span>");
    page.says("<li>40 °F within 2 h of the end of milking</li>");
    page.says("<li>coliforms: at most 10 per mL; 2 of the last 4 results over it bring a notice, 3 of the last 5 stop the milk</li>");
    page.says("<li>pesticide residue: not known</li>");
    let zealand = farm.visit(Role::Owner, "/rules/places/nz-rcs-2016").await;
    zealand.says("4 days from the making of the milk <span class=\"chip late\">read second-hand</span>");
    let careful = farm.visit(Role::Owner, "/rules/places/default-conservative").await;
    careful.says("5 days after calving <span class=\"chip late\">chosen, not law</span>");
}

/// Source: the project's rule that a lot is judged by the rules of the day it was filled.
#[tokio::test]
async fn an_old_lot_is_judged_by_the_old_rules_after_a_change() {
    let mut farm = Farm::new().await;
    let session = "2026-05-14 AM";
    let milking = [("session", session), ("started", "2026-05-14T06:00"), ("ended", "2026-05-14T06:40"), ("milker", OWNER)];
    farm.keep("milkings", &milking).await;
    let jars = [("gallons", "0"), ("half_gallons", "4"), ("quarts", "0"), ("pints", "0")];
    farm.keep("lots", &[&[("code", "6134A-S"), ("filled", "2026-05-14T07:00")], &jars[..]].concat()).await;
    farm.keep("sources", &[("lot", "6134A-S"), ("milking", session)]).await;
    farm.keep("chill", &[("lot", "6134A-S"), ("at", "2026-05-14T08:00"), ("temperature", "38 °F")]).await;
    let before = said(&farm, "6134A-S").await;

    let form = farm.visit(Role::Owner, "/rules/new").await;
    form.came_with(200).says("2026-05-14").says("2027-05-14");
    let changed = [
        ("since", "2026-05-15"),
        ("why", "the state asks for colder milk"),
        ("steps", "cool 34 °F within 30 min of milking end [chosen]"),
        ("limits", "plate count at most 5 per mL [chosen]"),
    ];
    send(&farm, &typed(&form), &changed).await.came_with(303);
    farm.visit(Role::Owner, "/rules").await.says("From a later day").says("From Fri 15 May 2026").says("40 °F within 2 h");
    assert_eq!(said(&farm, "6134A-S").await, before, "the old lot on the day of the change");
    farm.clock("2026-05-16T12:00");
    assert_eq!(said(&farm, "6134A-S").await.0, before.0);
    let page = farm.visit(Role::Owner, "/rules").await;
    page.says("34 °F within 30 min of the end of milking").says("plate count: at most 5 per mL");
    page.says("the state asks for colder milk").says("Thu 1 Jan 2026 until Thu 14 May 2026").says("href=\"/records/rules/1\"");
    farm.visit(Role::Owner, "/records/rules/1").await.came_with(200).says("40 °F within 120 min");
    let record = farm.list("rules").await.remove(0);
    assert_eq!((record.version, record.number), (1, 1), "the older set was not touched");
}

/// The verdict on a lot and every reason for it, the rules named with them.
async fn said(farm: &Farm, code: &str) -> (String, String) {
    let mut db = farm.ledger.read().await.unwrap();
    let kind = kind_of("lots");
    let lot = records::list(&mut db, kind).await.unwrap().into_iter().find(|lot| lot.cell(kind, "code").text() == code).unwrap();
    assert!(!lots::on_hand(&mut db, farm.now).await.unwrap().is_empty());
    let facts = verdict::facts(&mut db, &[lot.number], farm.ways().await.zone, farm.now).await.unwrap().remove(0);
    let found = judge(&facts, farm.now);
    assert!(facts.rules.base.source.contains("followed from 2026-01-01"), "{}", facts.rules.base.source);
    (format!("{:?}", found.word()), format!("{found:?}"))
}

#[tokio::test]
async fn nonsense_gets_its_sentence_and_everything_typed_stays() {
    let farm = Farm::new().await;
    let form = farm.visit(Role::Owner, "/rules/new?like=1").await;
    let but = [
        ("limits", "plate count at most lots [read]"),
        ("why", ""),
        ("notes", "Ring Ostler about <this>"),
        ("since", "tomorrow"),
        ("steps", "cold"),
    ];
    let page = send(&farm, &typed(&form), &but).await;
    page.came_with(422).says("“plate count at most lots [read]” is not a limit. Write it like: plate count at most 20000 per mL [chosen]");
    page.says("“cold” is not a chill step").says("“tomorrow” is not a date").says("Say in a few words why");
    page.says(">plate count at most lots [read]</textarea>").says(">Ring Ostler about &#60;this&#62;</textarea>").says(">cold</textarea>");
    assert_eq!(page.entry(), form.entry(), "the form keeps its mark");
    assert_eq!(farm.list("rules").await.len(), 1);
    for path in ["/rules/new?place=atlantis", "/rules/new?like=99", "/rules/new?like=x", "/rules/places/atlantis"] {
        farm.visit(Role::Owner, path).await.came_with(404);
    }
}

#[tokio::test]
async fn a_day_before_the_farm_far_ahead_or_taken_is_asked_about_and_can_be_kept() {
    let farm = Farm::new().await;
    let form = typed(&farm.visit(Role::Owner, "/rules/new?like=1").await);
    for (since, asked) in [
        ("2025-12-31", "begin on Thu 1 Jan 2026"),
        ("2027-05-15", "is more than a year away"),
        ("2026-01-01", "is followed from this day too"),
    ] {
        let page = send(&farm, &form, &[("since", since), ("why", "a test of the day")]).await;
        page.came_with(422).says(asked).says("name=\"sure\" value=\"since\"");
        assert_eq!(farm.list("rules").await.len(), 1);
    }
    // A browser sends the answer first, because the question stands above “How sure”, which goes by the same name.
    let sure = [("sure", "since"), ("since", "2026-01-01"), ("why", "the careful rules were meant"), ("sure", "our own choice")];
    send(&farm, &form, &sure).await.came_with(303);
    send(&farm, &form, &sure).await.came_with(303);
    assert_eq!(farm.list("rules").await.len(), 2, "the same form sent twice keeps one");
    farm.visit(Role::Owner, "/rules").await.says("another set from the same day took its place");
}

#[tokio::test]
async fn a_set_stands_beside_the_base_until_a_set_stands_alone() {
    let farm = Farm::new().await;
    let beside = places().unwrap().into_iter().find(|set| set.id == "us-tn-herdshare").unwrap();
    let form = typed(&farm.visit(Role::Owner, "/rules/new?place=us-tn-herdshare").await);
    send(&farm, &form, &[("beside", "yes"), ("why", "shares in the herd")]).await.came_with(303);
    let page = farm.visit(Role::Owner, "/rules").await;
    page.says("Careful starting rules (not law)").says(&beside.title).says("It stands beside the rules before it");
    farm.visit(Role::Owner, "/binder").await.says("Careful starting rules (not law)").says("href=\"/rules\"");
    let form = typed(&farm.visit(Role::Owner, "/rules/new?like=1").await);
    send(&farm, &form, &[("since", "2026-05-20"), ("why", "new")]).await.came_with(422).says("ends with them");
}

#[tokio::test]
async fn rules_past_their_day_are_loud_on_their_page_and_on_today() {
    let mut farm = Farm::new().await;
    farm.clock("2026-05-14T12:00");
    let form = typed(&farm.visit(Role::Owner, "/rules/new?like=1").await);
    send(&farm, &form, &[("why", "written in")]).await.came_with(303);
    farm.visit(Role::Owner, "/rules").await.never_says("To be looked at again by");
    farm.now = at("2027-05-15T09:00");
    let by = day_shown(parse_day("2027-05-14").unwrap());
    farm.visit(Role::Owner, "/rules").await.says(&format!("To be looked at again by {by}."));
    farm.visit(Role::Owner, "/").await.says("Check that the rules are still so").says(&format!("to be looked at again by {by}"));
}

#[tokio::test]
async fn a_helper_is_refused_and_a_written_address_is_no_script() {
    let farm = Farm::new().await;
    for path in ["/rules", "/rules/places", "/rules/places/us-pa-permit", "/rules/new"] {
        farm.visit(Role::Helper, path).await.came_with(403);
    }
    farm.submit(Role::Helper, "/rules", &[("why", "curious")]).await.came_with(403);
    let form = typed(&farm.visit(Role::Owner, "/rules/new?like=1").await);
    send(&farm, &form, &[("url", "javascript:alert(1)"), ("why", "x")]).await.came_with(303);
    farm.visit(Role::Owner, "/rules").await.says("javascript:alert(1)").never_says("href=\"javascript");
}

/// Set-up takes over every cell, and asks once about a place whose chilling nobody here has read.
#[tokio::test]
async fn set_up_copies_a_whole_set_and_asks_about_unknown_chilling() {
    for (answer, place) in [(("sure", "chilling"), "us-ia-raw-dairy"), (("instead", "rules=default-conservative"), "default-conservative")]
    {
        let farm = Farm::empty().await;
        let page = farm.visit(Role::Stranger, "/setup").await;
        let door = page.hidden("door");
        let all = |door| {
            [
                ("door", door),
                ("name", "Tansyditch Farm"),
                ("zone", "America/New_York"),
                ("scale", "°F"),
                ("rules", "us-ia-raw-dairy"),
                ("best_by_days", "7"),
                ("owner", OWNER),
                ("password", PASSWORD),
            ]
        };
        let asked = farm.ask(Method::POST, "/setup", &page.cookie(), Some(&all(&door))).await;
        asked.came_with(422).says("How fast milk must be cold is not known for this place").says("Start from the careful rules");
        asked.says(&format!("value=\"{PASSWORD}\""));
        assert!(farm.list("rules").await.is_empty());
        let door = asked.hidden("door");
        let typed = [&all(&door)[..], &[answer]].concat();
        assert_eq!(farm.ask(Method::POST, "/setup", &asked.cookie(), Some(&typed)).await.location, "/");
        let (kind, record) = (kind_of("rules"), farm.list("rules").await.remove(0));
        let set = places().unwrap().into_iter().find(|set| set.id == place).unwrap();
        assert_eq!(record.cell(kind, "place").text(), place);
        assert_eq!(record.cell(kind, "limits").text(), set.limits.to_string());
        assert_eq!(record.cell(kind, "url").text(), set.url.clone().unwrap_or_default());
        assert_eq!(record.cell(kind, "keep_years").whole(), set.keep_years.as_ref().map(|(years, _, _)| *years));
        assert_eq!(record.cell(kind, "check_by").text(), "2027-05-14");
    }
}

/// Source: this program's own rule: what is corrected under lots that were filled already is asked about like a new rule.
#[tokio::test]
async fn a_correction_of_the_rules_is_asked_about_too() {
    let farm = Farm::new().await;
    farm.keep(
        "rules",
        &[
            ("place", "own"),
            ("since", "2026-02-01"),
            ("title", "Own rules"),
            ("sure", "our own choice"),
            ("limits", "plate count at most 20000 per mL [chosen]; coliforms at most 10 per mL [chosen]"),
        ],
    )
    .await;
    let number = farm.list("rules").await.last().unwrap().number;
    let page = farm.visit(Role::Owner, &format!("/records/rules/{number}")).await;
    let version = page.hidden("version");
    let form = [
        ("place", "own"),
        ("since", "2026-02-01"),
        ("title", "Own rules"),
        ("sure", "our own choice"),
        ("limits", "plate count at most 200000 per mL [chosen]"),
        ("version", version.as_str()),
        ("why", "a slip"),
    ];
    let asked = farm.submit(Role::Owner, &format!("/records/rules/{number}"), &form).await;
    asked.came_with(422).says("Is that left out on purpose?");
}

/// Every page somebody has to find is linked from where she stands.
#[tokio::test]
async fn cream_and_the_lab_are_one_tap_from_the_jars() {
    let farm = Farm::new().await;
    farm.visit(Role::Helper, "/jars").await.says("href=\"/made/new\"").says("href=\"/lab\"");
}
