//! What the first page asks for now: caps that are near, thermometers to check and readings to take.

#![allow(clippy::unwrap_used, reason = "a test that cannot set itself up has failed")]

use crate::{
    calendar::{facts, in_milk, line},
    farm::{Farm, at},
    mornings::{filled, follow, milked},
    today::{due, wrong},
};
use tallypail::{trade::calendar::list, web::visitor::Role};

/// Source: the rule itself, here of ten quarts a week; the week runs from Monday to Sunday (this program's choice), and a half-gallon
/// is two quarts (NIST Handbook 44, Appendix C).
#[tokio::test]
async fn a_cap_is_named_when_it_is_near_and_when_it_is_over() {
    let farm = in_milk().await;
    follow(&farm, &[("caps", "10 quarts a week [read]; 2 cows in milk (above it a permit is needed) [memory]")]).await;
    let out = async |jars: &str| {
        let sizes = [("gallons", "0"), ("half_gallons", jars), ("quarts", "0"), ("pints", "0"), ("evidence", "seen")];
        let then =
            [("at", "2026-05-12T10:00"), ("lot", "6001A-6"), ("verdict", "Can go"), ("because", "Cold in time."), ("facts", "read 38 °F")];
        farm.keep("pickups", &[&then[..], &sizes].concat()).await;
    };
    farm.visit(Role::Owner, "/").await.never_says("a cap");
    out("5").await;
    let today = farm.visit(Role::Owner, "/").await;
    assert!(due(&today).contains("Near a cap: 10 of 10 quarts a week"), "{}", due(&today));
    out("1").await;
    let today = farm.visit(Role::Owner, "/").await;
    assert!(wrong(&today).contains("Over a cap: 12 of 10 quarts a week") && wrong(&today).contains("Test Code 1"), "{}", wrong(&today));
    for cow in ["Kettle", "Wren"] {
        farm.keep("events", &[("cow", cow), ("at", "2026-05-01T06:00"), ("sort", "calved")]).await;
    }
    let today = farm.visit(Role::Owner, "/").await;
    assert!(
        due(&today).contains("Over a cap: 3 of 2 cows in milk") && due(&today).contains("above it a permit is needed"),
        "{}",
        due(&today)
    );
    farm.visit(Role::Helper, "/").await.never_says("a cap");
}

/// Source: common practice: a thermometer is held in ice water every month, and one off by more than 2 °F there is weak evidence. Off
/// by 2 °F, a reading of 39 °F shows neither that milk was at 40 °F nor that it was not.
#[tokio::test]
async fn a_thermometer_is_checked_and_its_readings_guarded() {
    let mut farm = in_milk().await;
    follow(&farm, &[]).await;
    farm.keep("events", &[("cow", "Damson"), ("at", "2026-01-01T05:00"), ("sort", "joined the can")]).await;
    milked(&farm, "2026-05-14 AM", "2026-05-14T05:40", "2026-05-14T06:05").await;
    filled(&farm, "6134A-S", "2026-05-14T06:20", &["2026-05-14 AM"]).await;
    farm.keep("chill", &[("lot", "6134A-S"), ("at", "2026-05-14T07:35"), ("temperature", "39"), ("thermometer", "Red")]).await;
    let page = farm.visit(Role::Helper, "/").await;
    assert!(due(&page).contains("Check Red in ice water") && due(&page).contains("thermometer=Red"), "{}", due(&page));
    assert!(!wrong(&page).contains("6134A-S"), "{}", wrong(&page));
    let check = async |farm: &Farm, when: &str, reading: &str| {
        farm.keep("ice_checks", &[("thermometer", "red "), ("at", when), ("reading", reading)]).await;
    };
    check(&farm, "2026-05-14T08:00", "34").await;
    let page = farm.visit(Role::Helper, "/").await;
    assert!(!due(&page).contains("Red"), "2 °F off is still good: {}", due(&page));
    assert!(wrong(&page).contains("Can&#39;t tell") && wrong(&page).contains("6134A-S"), "{}", wrong(&page));
    check(&farm, "2026-05-14T07:40", "35").await;
    let page = farm.visit(Role::Helper, "/").await;
    assert!(due(&page).contains("Weak readings with Red") && due(&page).contains("6134A-S"), "{}", due(&page));
    check(&farm, "2026-05-14T09:00", "29").await;
    let page = farm.visit(Role::Helper, "/").await;
    assert!(due(&page).contains("Check Red in ice water") && due(&page).contains("3 °F too little"), "{}", due(&page));
    assert_eq!(due(&page).matches("thermometer=Red").count(), 1, "one line for one thermometer");
    check(&farm, "2026-05-14T09:30", "32").await;
    farm.clock("2026-06-12T12:00");
    let all = list(&facts(&farm).await);
    assert_eq!(line(&all, "Ice-water check of a thermometer: Red").day, "2026-06-14".parse().unwrap());
}

/// Source: the rule's own steps, 50 °F at each later milking (7 CFR 58.137 speaks of a blend temperature), and 40 °F within two hours.
#[tokio::test]
async fn a_blend_is_asked_for_at_once() {
    let mut farm = Farm::new().await;
    follow(&farm, &[("steps", "cool 40 °F within 120 min of milking end [chosen]; blend 50 °F at each later milking [chosen]")]).await;
    farm.keep("events", &[("cow", "Damson"), ("at", "2026-03-01T06:00"), ("sort", "joined the can")]).await;
    milked(&farm, "2026-05-13 PM", "2026-05-13T17:40", "2026-05-13T18:05").await;
    milked(&farm, "2026-05-14 AM", "2026-05-14T05:40", "2026-05-14T06:05").await;
    filled(&farm, "6134A-S", "2026-05-14T06:20", &["2026-05-13 PM", "2026-05-14 AM"]).await;
    farm.keep("chill", &[("lot", "6134A-S"), ("at", "2026-05-13T19:00"), ("temperature", "38")]).await;
    farm.clock("2026-05-14T06:30");
    let page = farm.visit(Role::Helper, "/").await;
    assert!(
        due(&page).contains("Chill reading as soon as the later milking is in") && due(&page).contains("it must not be above 50 °F"),
        "{}",
        due(&page)
    );
    farm.keep("chill", &[("lot", "6134A-S"), ("at", "2026-05-14T06:25"), ("temperature", "47")]).await;
    let page = farm.visit(Role::Helper, "/").await;
    assert!(due(&page).contains("Chill reading by 08:05") && due(&page).contains("40 °F or less"), "{}", due(&page));
    assert_eq!(farm.now, at("2026-05-14T06:30"));
}
