//! What the lab found in water and on surfaces, on the first page until a later bottle of the same place is clear.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::farm::Farm;
use tallypail::web::visitor::Role::{Helper, Owner};

/// A bottle with one result, drawn on a day of May and reported two days later.
async fn bottle(farm: &Farm, day: u32, of: &[(&str, &str)], (test, figure, unit): (&str, &str, &str)) -> i64 {
    let (drawn, reported) = (format!("2026-05-{day:02}T07:00"), format!("2026-05-{:02}", day + 2));
    let number = farm.keep("samples", &[&[("drawn", drawn.as_str())], of].concat()).await;
    let (sample, test) = (number.to_string(), ("analyte", test));
    farm.keep("results", &[("sample", &sample), test, ("figure", figure), ("unit", unit), ("reported", &reported)]).await;
    number
}

const TAP: [(&str, &str); 2] = [("subject", "water"), ("place", "Milk house tap")];
const WELL: [(&str, &str); 2] = [("subject", "water"), ("place", "Well")];
const FOUND: &str = "Water: coliforms found in the bottle drawn Fri 1 May 2026";

/// Source: 40 CFR 141.63: water to drink has no coliforms in 100 mL; Standard Methods 9223: <1 is none seen.
#[tokio::test]
async fn coliforms_in_water_stand_on_today_until_the_same_tap_is_clear() {
    let farm = Farm::new().await;
    farm.visit(Owner, "/").await.never_says("Water:");
    let number = bottle(&farm, 1, &TAP, ("water coliforms", "4", "per 100 mL")).await;
    for role in [Owner, Helper] {
        let page = farm.visit(role, "/").await;
        page.says(FOUND).says("Milk house tap. Ask the health department whether to boil it or use other water");
        page.says(&format!("href=\"/lab/samples/{number}\"")).never_says("Nothing is known to be wrong");
        page.never_says("555-0120");
    }
    // Another tap, another test, an older bottle and one the lab looked at too coarsely clear nothing.
    bottle(&farm, 3, &WELL, ("water coliforms", "<1", "per 100 mL")).await;
    bottle(&farm, 4, &TAP, ("E. coli", "not detected", "")).await;
    bottle(&farm, 5, &TAP, ("water coliforms", "<10", "per 100 mL")).await;
    farm.visit(Helper, "/").await.says(FOUND);
    bottle(&farm, 6, &[TAP[0], ("place", "milk house TAP ")], ("coliforms", "<1", "per 100 mL")).await;
    farm.visit(Helper, "/").await.never_says("Water:").says("Nothing is known to be wrong");
    bottle(&farm, 8, &TAP, ("E. coli", "positive", "")).await;
    farm.visit(Helper, "/").await.says("Water: E. coli found in the bottle drawn Fri 8 May 2026").never_says("Water: coliforms");
}

/// Source: the limits here are the test's own; that a limit on milk says nothing of water is common practice.
#[tokio::test]
async fn water_is_held_against_limits_on_water_only() {
    let farm = Farm::new().await;
    let set = [("place", "ours"), ("since", "2026-02-01"), ("title", "Ours"), ("sure", "our own choice")];
    let limits = "coliforms at most 10 per mL [chosen]; water coliforms below 5 per 100 mL [chosen]";
    farm.keep("rules", &[set.as_slice(), &[("limits", limits)]].concat()).await;
    bottle(&farm, 1, &WELL, ("coliforms", "4", "per 100 mL")).await;
    farm.visit(Owner, "/").await.never_says("Water:");
    bottle(&farm, 2, &WELL, ("coliforms", "5", "per 100 mL")).await;
    farm.visit(Owner, "/").await.says("Water: coliforms found in the bottle drawn Sat 2 May 2026");
    bottle(&farm, 4, &WELL, ("water coliforms", "4", "per 100 mL")).await;
    farm.visit(Owner, "/").await.never_says("Water:");
}

#[tokio::test]
async fn a_positive_swab_stands_there_until_the_surface_is_clear() {
    let farm = Farm::new().await;
    let lid = [("subject", "swab"), ("place", "Can 1 lid")];
    bottle(&farm, 1, &lid, ("plate count", "30", "per mL")).await;
    farm.visit(Helper, "/").await.never_says("Swab:");
    bottle(&farm, 2, &lid, ("Listeria species", "positive", "")).await;
    farm.visit(Helper, "/").await.says("Swab: Listeria species found, drawn Sat 2 May 2026").says("Can 1 lid. Wash and sanitise it");
    bottle(&farm, 4, &lid, ("Listeria species", "not detected", "")).await;
    farm.visit(Helper, "/").await.never_says("Swab:");
}
