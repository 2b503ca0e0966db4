//! A treated cow milked into the can: what is held at once, what is asked afterwards, and what it refuses.
//!
//! Source for the whole vessel: 21 CFR 1.345(b) asks for what is reasonably available to tie each source to each finished lot; from it
//! follows that one treated cow's milk in a vessel is in every lot filled from it. That mixing never dilutes it is common practice.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use super::{
    farm::{Farm, Page, kind_of},
    mornings::{filled, milked},
};
use tallypail::{
    store::verdict,
    trade::{
        codes::LotCode,
        verdict::{Word, judge},
    },
    web::visitor::Role::{Helper, Owner},
};

fn code(day: &str, nth: usize) -> String {
    LotCode::of_fill(day.parse().unwrap(), nth).unwrap().to_string()
}

/// Every scope that is held, with what it holds, in the order they were kept.
async fn held(farm: &Farm) -> Vec<(String, i64)> {
    let kind = kind_of("holds");
    let of = |own: &tallypail::trade::records::Record| {
        let scope = own.cell(kind, "scope").text().to_owned();
        let what = own.cell(kind, &scope).whole().unwrap_or_default();
        (scope, what)
    };
    farm.list("holds").await.iter().map(of).collect()
}

async fn codes_held(farm: &Farm) -> Vec<String> {
    let lots = farm.list("lots").await;
    let held = held(farm).await;
    let own = held.iter().filter(|(scope, _)| scope == "lot");
    own.map(|(_, number)| lots.iter().find(|lot| lot.number == *number).unwrap().cell(kind_of("lots"), "code").text().to_owned()).collect()
}

async fn clean(farm: &Farm, at: &str) {
    let cells = [("vessel", "Can 1"), ("at", at), ("washed", "yes"), ("sanitised", "yes"), ("done_by", "Tobe")];
    farm.keep("breaks", &cells).await;
}

/// Three milkings into Can 1: the first before its clean break; the second and third with none between, and one more after the next.
async fn farm() -> (Farm, [String; 4]) {
    let mut farm = Farm::new().await;
    let mut codes = Vec::new();
    for (nth, (session, day, start, end, fill)) in [
        ("2026-05-12 PM", "2026-05-12", "17:40", "18:05", "18:20"),
        ("2026-05-13 AM", "2026-05-13", "05:40", "06:05", "06:20"),
        ("2026-05-13 PM", "2026-05-13", "17:40", "18:05", "18:20"),
        ("2026-05-14 AM", "2026-05-14", "05:40", "06:05", "06:20"),
    ]
    .into_iter()
    .enumerate()
    {
        milked(&farm, session, &format!("{day}T{start}"), &format!("{day}T{end}")).await;
        let own = code(day, usize::from(nth == 2));
        filled(&farm, &own, &format!("{day}T{fill}"), &[session]).await;
        codes.push(own);
        // No clean break between the second and the third.
        if nth != 1 {
            let hour = if fill.starts_with('0') { "08:30" } else { "20:30" };
            clean(&farm, &format!("{day}T{hour}")).await;
        }
    }
    farm.clock("2026-05-14T12:00");
    (farm, codes.try_into().unwrap())
}

async fn hold(farm: &Farm, typed: &[(&str, &str)]) -> Page {
    farm.submit(Helper, "/bad-day/treated-cow", typed).await
}

#[tokio::test]
async fn one_treated_cow_holds_the_whole_vessel_and_all_between_two_clean_breaks() {
    let (farm, codes) = farm().await;
    let page = farm.visit(Helper, "/bad-day/treated-cow").await;
    page.says("Mixing never dilutes it into safety").says("value=\"Damson\"").says("value=\"2026-05-13 AM\"").never_says(" checked");
    let kept = hold(&farm, &[("cow", "Damson"), ("milking", "2026-05-13 AM")]).await;
    assert_eq!((kept.status, kept.location.as_str()), (303, "/bad-day/treated-cow/1"));
    let scopes: Vec<String> = held(&farm).await.into_iter().map(|(scope, _)| scope).collect();
    assert_eq!(scopes, ["cow", "vessel", "lot", "lot"], "the cow, the can, and two lots, before anything is asked");
    assert_eq!(codes_held(&farm).await, codes[1..3], "the lot before its clean break and the one after the next are not in it");
    let zone = farm.ways().await.zone;
    let lots: Vec<i64> = farm.list("lots").await.iter().map(|lot| lot.number).collect();
    let facts = verdict::facts(&mut farm.ledger.read().await.unwrap(), &lots, zone, farm.now).await.unwrap();
    for (own, code) in facts.iter().zip(&codes).take(3).skip(1) {
        assert_eq!(judge(own, farm.now).word(), Word::KeepBack, "{code}");
    }
    // Held once more by another form: each act has its own holds, so that lifting one frees nothing of the other, and its sheet
    // lists its lots although they were held before.
    let again = hold(&farm, &[("cow", "Damson"), ("milking", "2026-05-13 AM")]).await;
    again.came_with(303);
    assert_eq!(codes_held(&farm).await.len(), 4);
    let sheet = farm.visit(Owner, &again.location).await;
    assert!(codes[1..3].iter().all(|code| sheet.text.contains(code.as_str())), "{}", sheet.text);
}

/// Cream of a lot is no better than the lot, and a vessel alone is enough where the milking is not written down yet.
#[tokio::test]
async fn a_vessel_alone_will_do_and_made_lots_are_held_too() {
    let (farm, codes) = farm().await;
    let cream = code("2026-05-14", 1);
    let jars = [("gallons", "0"), ("half_gallons", "0"), ("quarts", "1"), ("pints", "0"), ("made", "cream")];
    farm.keep("lots", &[[("code", cream.as_str()), ("filled", "2026-05-14T10:00")].as_slice(), &jars].concat()).await;
    farm.keep("sources", &[("lot", &cream), ("parent", &codes[2])]).await;
    hold(&farm, &[("cow", "Wren"), ("milking", "2026-05-13 PM")]).await.came_with(303);
    let held_now = codes_held(&farm).await;
    assert!(
        held_now.contains(&cream) && held_now.contains(&codes[1]) && held_now.contains(&codes[2]) && held_now.len() == 3,
        "{held_now:?}"
    );
    let (farm, _) = self::farm().await;
    hold(&farm, &[("cow", "Wren"), ("vessel", "Can 1")]).await.came_with(303);
    let scopes: Vec<String> = held(&farm).await.into_iter().map(|(scope, _)| scope).collect();
    assert_eq!(scopes, ["cow", "vessel"], "everything filled from it was before its last clean break");
    farm.visit(Helper, "/bad-day/treated-cow/1").await.says("a milking not written down yet");
}

#[tokio::test]
async fn what_is_asked_afterwards_stands_on_the_discard_sheet() {
    let (farm, codes) = farm().await;
    let dose = [
        ("cow", "Damson"),
        ("at", "2026-05-12T17:00"),
        ("product", "Udder tube"),
        ("milk_hours", "96"),
        ("as_labelled", "yes"),
        ("vet_figure", "no"),
    ];
    let out =
        [("at", "2026-05-13T15:00"), ("lot", codes[1].as_str()), ("gallons", "0"), ("half_gallons", "2"), ("quarts", "0"), ("pints", "0")];
    let then = [("evidence", "seen"), ("verdict", "Can't tell"), ("because", "No reading"), ("facts", "Chill: Can't tell")];
    farm.keep("pickups", &[out.as_slice(), &then].concat()).await;
    hold(&farm, &[("cow", "Damson"), ("milking", "2026-05-13 AM")]).await.came_with(303);
    farm.visit(Helper, "/bad-day/treated-cow/1")
        .await
        .says("No dose of Damson is written down")
        .says("Tell the owner now")
        .never_says("/callbacks/");
    farm.keep("treatments", &dose).await;
    let page = farm.visit(Owner, "/bad-day/treated-cow/1").await;
    page.says("Udder tube").says("96 h").says(&format!("/callbacks/new?because=treated+cow+in+the+can&amp;lots={}", codes[1]));
    let story = [
        ("dose", "Udder tube, Tuesday"),
        ("milked_by", "Joss"),
        ("band", "fell off"),
        ("cause", "Band came off in the yard"),
        ("fix", "Two marks from now on"),
    ];
    farm.submit(Helper, "/bad-day/treated-cow/1/story", &story).await.came_with(303);
    let page = farm.visit(Owner, "/bad-day/treated-cow/1").await;
    page.says("Dose: Udder tube, Tuesday. Milked by: Joss. Leg band: fell off.")
        .says("Cause: Band came off in the yard. Put right: Two marks from now on.");
    // The old words are kept beside the new ones.
    farm.visit(Owner, "/records/holds/1").await.says("answered after it was held");
    let jars: Vec<(String, i64)> = farm.list("lots").await.iter().map(|lot| (format!("half_gallons.{}", lot.number), lot.number)).collect();
    farm.submit(Helper, "/bad-day/treated-cow/1/thrown-out", &[(jars[2].0.as_str(), "3")]).await.came_with(303);
    let page = farm.visit(Owner, "/bad-day/treated-cow/1").await;
    page.says("3 half-gallons").says("not known");
    for ending in ["csv", "json"] {
        farm.visit(Owner, &format!("/bad-day/treated-cow/1.{ending}")).await.came_with(200).says(&codes[2]).says("3 half-gallons");
    }
    assert!(farm.visit(Owner, "/bad-day/treated-cow/1.pdf").await.bytes.starts_with(b"%PDF"));
    farm.visit(Helper, "/bad-day/treated-cow/1").await.never_says("Value");
}

#[tokio::test]
async fn what_is_not_tapped_is_said_and_nothing_is_held() {
    let (farm, _) = farm().await;
    hold(&farm, &[]).await.came_with(422).says("Tap the cow.").says("Tap the milking, or the vessel");
    hold(&farm, &[("milking", "2026-05-13 AM")]).await.came_with(422).says("value=\"2026-05-13 AM\" checked");
    hold(&farm, &[("cow", "Nobody"), ("milking", "2026-05-13 AM")]).await.came_with(422);
    assert!(farm.list("holds").await.is_empty());
    hold(&farm, &[("cow", "Damson"), ("milking", "2026-05-13 AM")]).await.came_with(303);
    farm.submit(Helper, "/bad-day/treated-cow/1/story", &[]).await.came_with(422).says("Nothing is answered yet");
    let long = "x".repeat(80);
    farm.submit(Helper, "/bad-day/treated-cow/1/story", &[("cause", &long)]).await.came_with(422).says("60 letters at most").says(&long);
    farm.submit(Helper, "/bad-day/treated-cow/1/thrown-out", &[]).await.came_with(422).says("Not one jar is counted");
    farm.visit(Helper, "/bad-day/treated-cow/2").await.came_with(404).says("no hold on a cow");
}
