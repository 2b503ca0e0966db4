//! Cows that have to stay out, through the front door: the barn page, the strip test, and a vessel held in two taps.
#![allow(clippy::unwrap_used, reason = "a test that cannot read its own figures should stop")]

use crate::farm::{Farm, Page};
use tallypail::{
    store::verdict,
    trade::{
        findings::{Finding, Word},
        verdict::Verdict,
        when::Zone,
    },
    web::visitor::Role,
};

fn zone() -> Zone {
    Zone::parse("America/New_York").unwrap()
}

async fn event(farm: &Farm, cow: &str, when: &str, sort: &str) {
    farm.keep("events", &[("cow", cow), ("at", when), ("sort", sort)]).await;
}

async fn treated(farm: &Farm, cow: &str, when: &str, more: &[(&str, &str)]) {
    let typed = [("cow", cow), ("at", when), ("product", "udder tube"), ("as_labelled", "yes"), ("vet_figure", "no")];
    farm.keep("treatments", &[&typed[..], more].concat()).await;
}

/// Damson, Kettle and Wren in the can since spring, and it is half past six in the morning.
async fn herd() -> Farm {
    let mut farm = Farm::new().await;
    for cow in ["Damson", "Kettle", "Wren"] {
        event(&farm, cow, "2026-03-01T06:00", "joined the can").await;
    }
    farm.clock("2026-05-14T06:30");
    farm
}

const MILKING: [(&str, &str); 8] = [
    ("day", "2026-05-14"),
    ("half", "AM"),
    ("started", "05:40"),
    ("ended", "06:10"),
    ("milker", "Tobe"),
    ("unit", "lb"),
    ("vessel", "Can 1"),
    ("all_normal", "yes"),
];

/// This morning's milking sent through the form, every cow into the can.
async fn milked(farm: &Farm, more: &[(&str, &str)]) -> Page {
    let pails: Vec<(String, &str)> = (1..=3).flat_map(|cow| [(format!("read.{cow}"), "12"), (format!("went.{cow}"), "can")]).collect();
    let pails = pails.iter().map(|(name, value)| (name.as_str(), *value));
    let fields: Vec<(&str, &str)> = MILKING.into_iter().chain(pails).chain(more.iter().copied()).collect();
    farm.submit(Role::Helper, "/milkings", &fields).await
}

async fn filled(farm: &Farm) -> i64 {
    let jars = [("gallons", "0"), ("half_gallons", "6"), ("quarts", "0"), ("pints", "0")];
    let lot = farm.keep("lots", &[&[("code", "6134A-S"), ("filled", "2026-05-14T06:20"), ("vessel", "Can 1")][..], &jars].concat()).await;
    farm.keep("sources", &[("lot", "6134A-S"), ("milking", "2026-05-14 AM")]).await;
    farm.keep("chill", &[("lot", "6134A-S"), ("at", "2026-05-14T06:29"), ("temperature", "38")]).await;
    lot
}

async fn verdict_of(farm: &Farm, lot: i64) -> Verdict {
    let facts = verdict::facts(&mut farm.ledger.read().await.unwrap(), &[lot], zone(), farm.now).await.unwrap();
    tallypail::trade::verdict::judge(&facts[0], farm.now)
}

/// Holds Can 1 with the button a page shows, by exactly the fields of its form.
async fn pressed(farm: &Farm, page: &Page) {
    page.says("The whole of Can 1 is now Keep back: mixing never makes it right").says("<button class=\"stop\">Hold Can 1</button>");
    let form = page.text.split_once("action=\"/stop\"><input").unwrap().1;
    let field = |name: &str| form.split_once(&format!("name=\"{name}\" value=\"")).unwrap().1.split_once('"').unwrap().0.to_owned();
    let (what, reason, entry) = (field("what"), field("reason"), field("entry"));
    let fields = [("what", what.as_str()), ("reason", reason.as_str()), ("entry", entry.as_str())];
    assert_eq!(farm.submit(Role::Helper, "/stop", &fields).await.location, "/stop");
}

/// Source: 21 CFR 530 and the residue rule of the Pasteurized Milk Ordinance, section 6: milk with a drug is not made right by
/// other cows' milk. Twelve hours after the dose, with two other cows: the whole lot, and the can in two taps.
#[tokio::test]
async fn a_treated_cow_in_the_can_holds_it_in_two_taps() {
    let mut farm = herd().await;
    treated(&farm, "Damson", "2026-05-13T17:40", &[("milk_hours", "96")]).await;
    milked(&farm, &[]).await.came_with(422).says("the whole of Can 1 is then Keep back").says("for 84 more h");
    let kept = milked(&farm, &[("sure", "went.1")]).await;
    assert!(kept.location.starts_with("/milkings/kept-back?milking="), "{}", kept.location);
    let lot = filled(&farm).await;
    assert_eq!(verdict_of(&farm, lot).await.word(), Word::KeepBack);

    // From Today: one tap to her page, one on the button.
    let today = farm.visit(Role::Helper, "/").await;
    let wrong = today.text.split_once("To put right</h2>").unwrap().1.split_once("<h2>Due</h2>").unwrap().0;
    assert!(wrong.contains("href=\"/herd/Damson\"") && wrong.contains("Damson&#39;s milk is written as in the can"), "{wrong}");
    pressed(&farm, &farm.visit(Role::Helper, "/herd/Damson").await).await;
    assert!(
        verdict_of(&farm, lot)
            .await
            .findings
            .contains(&Finding::Held { what: "Can 1".to_owned(), reason: "Damson milked into it, 2026-05-14 AM".to_owned() })
    );
    for path in ["/herd/Damson", kept.location.as_str()] {
        farm.visit(Role::Helper, path).await.says("Can 1 is held").never_says("Hold Can 1");
    }
    // What is filled from it later is held too, until it is lifted.
    farm.clock("2026-05-14T12:00");
    let later = [
        ("code", "6134B-Q"),
        ("filled", "2026-05-14T11:00"),
        ("vessel", "Can 1"),
        ("gallons", "0"),
        ("half_gallons", "1"),
        ("quarts", "0"),
        ("pints", "0"),
    ];
    let later = farm.keep("lots", &later).await;
    assert!(verdict_of(&farm, later).await.findings.iter().any(|own| matches!(own, Finding::Held { what, .. } if what == "Can 1")));
}

/// Source: the job: the page after the milking says it, and holds the can in one.
#[tokio::test]
async fn the_milking_itself_leads_to_the_button() {
    let farm = herd().await;
    event(&farm, "Wren", "2026-05-13T19:00", "unwell").await;
    let kept = milked(&farm, &[("sure", "went.3")]).await;
    let page = farm.visit(Role::Helper, &kept.location).await;
    page.came_with(200).says("Wren: She is not well, since Wed 13 May, 19:00.").says("feed it as the vet says").never_says("Damson:");
    pressed(&farm, &page).await;
    // A milking nothing speaks against has no such page.
    let farm = herd().await;
    assert_eq!(milked(&farm, &[]).await.location, "/fills/new");
    assert_eq!(farm.visit(Role::Helper, "/milkings/kept-back?milking=1").await.location, "/fills/new");
}

/// Source: what already happened can be written down, whatever a rule says: two cows that had to stay out, one question after
/// the other.
#[tokio::test]
async fn two_questions_on_one_milking_can_both_be_answered() {
    let farm = herd().await;
    for cow in ["Kettle", "Wren"] {
        event(&farm, cow, "2026-05-13T19:00", "unwell").await;
    }
    let asked = milked(&farm, &[("sure", "went.2")]).await;
    asked.came_with(422).says("Wren: She is not well").says("<input type=\"hidden\" name=\"sure\" value=\"went.2\">");
    let kept = milked(&farm, &[("sure", "went.2"), ("sure", "went.3")]).await;
    farm.visit(Role::Helper, &kept.location).await.says("Kettle: She is not well").says("Wren: She is not well");
}

/// Source: the owner's own rule: a milker who is not well keeps every jar of that milking back.
#[tokio::test]
async fn a_milker_who_is_not_well_is_told_at_once() {
    let farm = herd().await;
    farm.visit(Role::Helper, "/milkings/new").await.says("every jar of this milking says Keep back");
    milked(&farm, &[("well", "no")]).await.came_with(422).says("every jar of this milking will say Keep back");
    let kept = milked(&farm, &[("well", "no"), ("sure", "well")]).await;
    let page = farm.visit(Role::Helper, &kept.location).await;
    page.says("Whoever milked was not well");
    pressed(&farm, &page).await;
    let lot = filled(&farm).await;
    assert_eq!(verdict_of(&farm, lot).await.word(), Word::KeepBack);
    // Everybody can read why it is held, so it says nothing about anybody's health.
    farm.visit(Role::Helper, "/stop").await.says("The milking of 2026-05-14 AM").never_says("not well");
}

/// Source: the job: unwell in one tap from the barn page, and first on it.
#[tokio::test]
async fn unwell_is_one_tap_and_stands_first() {
    let farm = herd().await;
    let page = farm.visit(Role::Helper, "/herd").await;
    page.says("action=\"/herd/Kettle/unwell\"");
    let sent = [("back", "/herd"), ("entry", "0b0a9f0c-5a3e-4a53-9a9a-000000000001")];
    assert_eq!(farm.submit(Role::Helper, "/herd/Kettle/unwell", &sent).await.location, "/herd");
    assert_eq!(farm.submit(Role::Helper, "/herd/Kettle/unwell", &sent).await.location, "/herd");
    assert_eq!(farm.list("events").await.len(), 4, "the same tap twice keeps one record");
    let page = farm.visit(Role::Helper, "/herd").await;
    let out = page.text.split_once("Keep out of the can</h2>").unwrap().1.split_once("In the can</h2>").unwrap().0;
    assert!(out.contains("Kettle stays out until somebody writes that she is well again."), "{out}");
    farm.visit(Role::Helper, "/herd/Kettle/join").await.says("Not yet");
    assert_eq!(farm.submit(Role::Helper, "/herd/Kettle/well", &[]).await.location, "/herd/Kettle");
    farm.visit(Role::Helper, "/herd").await.says("No cow has to stay out");
    farm.submit(Role::Helper, "/herd/Nobody/unwell", &[]).await.came_with(404);
}

/// Source: common practice for the California mastitis test; one save, a record for each quarter tested, in one act.
#[tokio::test]
async fn a_strip_test_is_one_save_of_four_quarters() {
    let mut farm = herd().await;
    farm.visit(Role::Helper, "/herd/Damson/strip").await.came_with(200).says("Left fore").says("Right hind").says("From 1 on");
    let typed = [
        ("at", "2026-05-14T06:00"),
        ("left_fore", "negative"),
        ("right_fore", "2"),
        ("left_hind", "trace"),
        ("entry", "0b0a9f0c-5a3e-4a53-9a9a-000000000002"),
    ];
    for _ in 0..2 {
        assert_eq!(farm.submit(Role::Helper, "/herd/Damson/strip", &typed).await.location, "/herd/Damson");
    }
    assert_eq!(farm.list("strip_tests").await.len(), 3);
    let acts: Vec<i64> =
        tallypail::store::journal::newest(&mut farm.ledger.read().await.unwrap(), 3).await.unwrap().iter().map(|line| line.act).collect();
    assert!(acts.windows(2).all(|pair| pair[0] == pair[1]), "{acts:?}");
    let page = farm.visit(Role::Helper, "/herd/Damson").await;
    page.says("Her last strip test failed: right fore 2 (Thu 14 May, 06:00).").says("until a strip test of that quarter passes");
    farm.submit(Role::Helper, "/herd/Damson/strip", &[("at", "2026-05-14T06:00")])
        .await
        .came_with(422)
        .says("Tap the score of each quarter");
    let again =
        farm.submit(Role::Helper, "/herd/Damson/strip", &[("at", "2026-05-15T06:00"), ("left_fore", "1"), ("right_fore", "7")]).await;
    again.came_with(422).says("This has not come yet").says("value=\"1\" checked");
    let lot = filled_after(&farm).await;
    assert_eq!(verdict_of(&farm, lot).await.word(), Word::KeepBack);
    farm.clock("2026-05-15T07:00");
    farm.submit(Role::Helper, "/herd/Damson/strip", &[("at", "2026-05-15T06:00"), ("right_fore", "negative")]).await.came_with(303);
    farm.visit(Role::Helper, "/herd/Damson").await.never_says("Her last strip test failed");
    assert_eq!(verdict_of(&farm, lot).await.word(), Word::KeepBack, "a later pass clears nothing before it");
    // A rule that keeps out from a higher score lets this one in.
    farm.keep(
        "rules",
        &[("place", "own"), ("since", "2026-05-01"), ("title", "Our own"), ("sure", "our own choice"), ("strip_fails", "3")],
    )
    .await;
    assert!(!verdict_of(&farm, lot).await.findings.iter().any(|own| matches!(own, Finding::StripTest { .. })));
}

async fn filled_after(farm: &Farm) -> i64 {
    milked(farm, &[("sure", "went.1")]).await.came_with(303);
    filled(farm).await
}

/// Source: Cal. Food & Agric. Code 35602, fifteen days before; 283 days from service and 60 days dry are common practice.
#[tokio::test]
async fn a_service_without_a_day_shows_the_day_she_is_due() {
    let mut farm = herd().await;
    farm.keep(
        "rules",
        &[
            ("place", "ca"),
            ("since", "2026-05-01"),
            ("title", "California"),
            ("sure", "read in the law"),
            ("fresh_before", "15"),
            ("fresh_days", "5"),
        ],
    )
    .await;
    event(&farm, "Damson", "2025-09-10T09:00", "served").await;
    farm.visit(Role::Helper, "/herd/Damson").await.says("Sat 20 Jun 2026").says("kept back from Fri 5 Jun 2026").says("by Tue 21 Apr 2026");
    farm.visit(Role::Helper, "/herd").await.says("No cow has to stay out");
    farm.clock("2026-06-05T06:30");
    farm.visit(Role::Helper, "/herd")
        .await
        .says("She is due Sat 20 Jun 2026, and her milk is kept back from Fri 5 Jun 2026.")
        .says("until she has calved");
    let typed = [("cow", "Damson"), ("at", "2026-06-05T06:00"), ("sort", "in calf"), ("due", "2026-07-04"), ("back", "/herd/Damson")];
    assert_eq!(farm.submit(Role::Helper, "/records/events", &typed).await.location, "/herd/Damson");
    farm.visit(Role::Helper, "/herd/Damson").await.says("Sat 4 Jul 2026").says("due Sat 4 Jul 2026");
    farm.visit(Role::Helper, "/herd").await.says("No cow has to stay out");
    event(&farm, "Damson", "2026-06-05T06:10", "dried off").await;
    farm.clock("2026-06-25T06:30");
    farm.visit(Role::Helper, "/herd/Damson").await.says("Sat 4 Jul 2026").never_says("until she has calved");
}

/// Source: label custom for dry-off products. The tube was given 150 days before she calved: longer ago than any other clock is
/// looked for, and still the one that counts.
#[tokio::test]
async fn a_dry_tube_is_never_forgotten_before_she_calves() {
    let mut farm = herd().await;
    event(&farm, "Damson", "2025-12-10T18:00", "dried off").await;
    let tube = [("product", "dry tube"), ("milk_hours", "96"), ("counted_from", "calving"), ("dry_days", "45")];
    let tube: Vec<(&str, &str)> =
        [("cow", "Damson"), ("at", "2025-12-10T18:00"), ("as_labelled", "yes"), ("vet_figure", "no")].into_iter().chain(tube).collect();
    farm.keep("treatments", &tube).await;
    // Somebody joined her and nobody wrote that she calved.
    farm.visit(Role::Helper, "/herd/Damson")
        .await
        .says("counts from her calving, and no calving is written")
        .says("from her calving after 45 days dry");
    let kept = milked(&farm, &[("sure", "went.1")]).await;
    farm.visit(Role::Helper, &kept.location).await.says("counts from her calving");
    let lot = filled(&farm).await;
    let verdict = verdict_of(&farm, lot).await;
    assert_eq!(verdict.word(), Word::CantTell, "{}", verdict.reason());
    assert!(verdict.to_decide().is_empty(), "a drug nobody can tell of is no decision of the owner's");
    event(&farm, "Damson", "2026-05-12T03:00", "calved").await;
    assert_eq!(verdict_of(&farm, lot).await.word(), Word::KeepBack, "51 of the 96 hours");
    event(&farm, "Damson", "2026-01-20T03:00", "calved").await;
    let early = verdict_of(&farm, lot).await;
    assert!(early.findings.iter().any(|own| own.reason(zone()).contains("She calved 40 days after dry tube")), "{}", early.facts());
    // Dry, she waits for her calving and nobody is asked to do anything.
    event(&farm, "Wren", "2026-05-13T18:00", "dried off").await;
    farm.keep(
        "treatments",
        &tube
            .iter()
            .map(|(name, value)| match *name {
                "cow" => ("cow", "Wren"),
                "at" => ("at", "2026-05-13T18:00"),
                _ => (*name, *value),
            })
            .collect::<Vec<_>>(),
    )
    .await;
    farm.clock("2026-05-14T08:00");
    farm.visit(Role::Helper, "/").await.never_says("Wren: ");
}

/// Source: this program's own rule, as for the lots: a pathogen or a drug in her own bottle keeps her out until a later bottle of
/// hers is clear of it.
#[tokio::test]
async fn what_the_lab_found_in_her_keeps_her_out() {
    let farm = herd().await;
    let sample = async |drawn: &str| farm.keep("samples", &[("drawn", drawn), ("subject", "cow"), ("cow", "Kettle")]).await.to_string();
    let found = async |sample: &str, analyte: &str, figure: &str, reported: &str| {
        farm.keep("results", &[("sample", sample), ("analyte", analyte), ("figure", figure), ("reported", reported)]).await
    };
    let first = sample("2026-05-10T06:00").await;
    found(&first, "plate count", "5000", "2026-05-12").await;
    farm.visit(Role::Helper, "/herd").await.says("No cow has to stay out");
    found(&first, "Listeria monocytogenes", "detected", "2026-05-13").await;
    let page = farm.visit(Role::Helper, "/herd").await;
    page.says("Listeria monocytogenes was found in her bottle drawn Sun 10 May 2026.")
        .says("Kettle stays out until a later bottle of hers is clear of it.");
    let second = sample("2026-05-12T06:00").await;
    found(&second, "Salmonella", "not detected", "2026-05-14").await;
    farm.visit(Role::Helper, "/herd").await.says("Kettle stays out");
    found(&second, "Listeria monocytogenes", "not detected", "2026-05-14").await;
    farm.visit(Role::Helper, "/herd").await.says("No cow has to stay out");
}

/// Source: IANA time zone database: New York went to summer time on 8 March 2026, so 36 hours from 7 March 06:00 end at 19:00 and
/// the milking of that evening at 18:00 is still inside.
#[tokio::test]
async fn a_clock_change_does_not_shorten_a_withdrawal() {
    let mut farm = herd().await;
    treated(&farm, "Damson", "2026-03-07T06:00", &[("milk_hours", "36")]).await;
    farm.clock("2026-03-08T17:30");
    farm.visit(Role::Helper, "/herd").await.says("for 2 more h").says("Damson joins Monday morning.");
    farm.clock("2026-03-08T19:00");
    farm.visit(Role::Helper, "/herd").await.says("this hour too");
    farm.clock("2026-03-08T19:01");
    farm.visit(Role::Helper, "/herd").await.says("No cow has to stay out");
}

/// Source: common practice: a treated cow's milk is not filled, and one can is dealt with before the next is milked.
#[tokio::test]
async fn a_can_that_has_to_stay_back_is_not_filled_in_silence_and_not_forgotten() {
    let mut farm = herd().await;
    treated(&farm, "Wren", "2026-05-13T18:00", &[("milk_hours", "72")]).await;
    milked(&farm, &[("sure", "went.3"), ("sure", "went")]).await;
    let today = farm.visit(Role::Helper, "/").await;
    today.says("Wren&#39;s milk is written as in the can");
    let fill =
        [("milking", "2026-05-14 AM"), ("half_gallons", "8"), ("vessel", "Can 1"), ("filled", "2026-05-14T06:25"), ("new_filter", "yes")];
    let asked = farm.submit(Role::Helper, "/fills", &fill).await;
    asked.came_with(422).says("These jars would say Keep back").says("Wren was milked into it").says("name=\"sure\" value=\"milking\"");
    assert!(farm.list("lots").await.is_empty(), "nothing is kept before the answer");
    // The next milking is another one, and the can of this morning still stands there.
    farm.clock("2026-05-14T19:00");
    let evening = [("day", "2026-05-14"), ("half", "PM"), ("started", "17:40"), ("ended", "18:10"), ("read.3", "12"), ("went.3", "calf")];
    let evening: Vec<(&str, &str)> = MILKING[4..].iter().copied().chain(evening).collect();
    farm.submit(Role::Helper, "/milkings", &evening).await.came_with(303);
    farm.visit(Role::Helper, "/").await.says("Wren&#39;s milk is written as in the can").says("Hold the whole vessel");
    // Held, it is said once, by the hold.
    farm.keep("holds", &[("at", "2026-05-14T19:00"), ("scope", "vessel"), ("vessel", "Can 1"), ("reason", "Wren in it")]).await;
    farm.visit(Role::Helper, "/").await.says("Can 1 is held").never_says("Wren&#39;s milk is written as in the can");
    let held = farm.submit(Role::Helper, "/fills", &fill).await;
    held.came_with(422).says("Can 1 is held: Wren in it. These jars would say Keep back");
    let kept = [&fill[..], &[("sure", "milking")]].concat();
    farm.submit(Role::Helper, "/fills", &kept).await.came_with(303);
    assert_eq!(farm.list("lots").await.len(), 1, "what happened is written down, and says Keep back");
}
