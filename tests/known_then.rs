//! What was known then: a hand-out keyed late, milk shared by several lots, and what a frozen verdict was frozen for.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use super::{
    farm::{Farm, kind_of},
    mornings::fill,
};
use tallypail::{
    store::verdict,
    trade::{
        codes::LotCode,
        records::Cell,
        verdict::{Verdict, Word, judge},
        when::Moment,
    },
    web::visitor::Role::Owner,
};

/// The verdict on a lot as it stood at a moment, by what the ledger says now.
async fn then(farm: &Farm, code: &str, typed: &str) -> Verdict {
    let zone = farm.ways().await.zone;
    let at: Moment = zone.parse_moment(typed).unwrap();
    let lots = farm.list("lots").await;
    let lot = lots.iter().find(|lot| lot.cell(kind_of("lots"), "code").text() == code).unwrap().number;
    let facts = verdict::facts(&mut farm.ledger.read().await.unwrap(), &[lot], zone, at).await.unwrap();
    judge(&facts[0], at)
}

/// Makes cream of a lot, and reads it.
async fn cream(farm: &Farm, code: &str, of: &str, at: &str) {
    let lot = [("code", code), ("filled", at), ("gallons", "0"), ("half_gallons", "0"), ("quarts", "1"), ("pints", "0"), ("made", "cream")];
    farm.keep("lots", &lot).await;
    farm.keep("sources", &[("lot", code), ("parent", of)]).await;
    farm.keep("chill", &[("lot", code), ("at", at), ("temperature", "38 °F")]).await;
}

/// Source: this program's own caution. Salmonella in one lot is in question for every jar of the same milking, for what it was
/// made from however far back, and for whatever else was made of that.
#[tokio::test]
async fn a_pathogen_keeps_back_all_that_shares_its_milk() {
    let farm = Farm::new().await;
    let one = fill(&farm, "2026-05-12", "6", true).await;
    let unrelated = fill(&farm, "2026-05-13", "6", true).await;
    let code = |day: &str, nth| LotCode::of_fill(day.parse().unwrap(), nth).unwrap().to_string();
    let (twin, first, second) = (code("2026-05-12", 1), code("2026-05-12", 2), code("2026-05-13", 1));
    let jars = [("gallons", "0"), ("half_gallons", "0"), ("quarts", "2"), ("pints", "0")];
    let lot = [[("code", twin.as_str()), ("filled", "2026-05-12T06:40")].as_slice(), &jars].concat();
    farm.keep("lots", &lot).await;
    farm.keep("sources", &[("lot", &twin), ("milking", "2026-05-12 AM")]).await;
    farm.keep("chill", &[("lot", &twin), ("at", "2026-05-12T07:30"), ("temperature", "38 °F")]).await;
    cream(&farm, &first, &one, "2026-05-12T10:00").await;
    cream(&farm, &second, &first, "2026-05-13T10:00").await;
    for lot in [&one, &twin, &first, &second, &unrelated] {
        assert_eq!(then(&farm, lot, "2026-05-14T12:00").await.word(), Word::CanGo, "{lot}");
    }
    let sample = farm.keep("samples", &[("drawn", "2026-05-13T11:00"), ("subject", "lot"), ("lot", &second)]).await.to_string();
    farm.keep("results", &[("sample", &sample), ("analyte", "Salmonella"), ("figure", "positive"), ("reported", "2026-05-14")]).await;
    for lot in [&one, &twin, &first, &second] {
        let verdict = then(&farm, lot, "2026-05-14T23:00").await;
        assert_eq!(verdict.word(), Word::KeepBack, "{lot}: {}", verdict.reason());
        assert!(verdict.facts().contains(&second) || *lot == second, "{lot}: {}", verdict.facts());
    }
    assert_eq!(then(&farm, &unrelated, "2026-05-14T23:00").await.word(), Word::CanGo);
    // The morning before, when nobody had written it down and no lab had said it, the jars could go.
    assert_eq!(then(&farm, &twin, "2026-05-13T12:00").await.word(), Word::CanGo);
}

/// What a hand-out freezes is what was true then: a hold on what a lot was made from, lifted since, still counts; one made
/// since does not; and a check of the thermometer that came later takes nothing from what it showed.
#[tokio::test]
async fn a_hand_out_keyed_late_is_judged_as_of_then() {
    let farm = Farm::new().await;
    let parent = fill(&farm, "2026-05-12", "6", true).await;
    let code = LotCode::of_fill("2026-05-12".parse().unwrap(), 1).unwrap().to_string();
    cream(&farm, &code, &parent, "2026-05-12T10:00").await;
    let held = [("at", "2026-05-12T12:00"), ("scope", "lot"), ("lot", parent.as_str()), ("reason", "Lab rang")];
    let hold = farm.keep("holds", &held).await.to_string();
    farm.keep("lifts", &[("hold", &hold), ("at", "2026-05-13T12:00"), ("reason", "Wrong farm")]).await;
    farm.keep("holds", &[("at", "2026-05-14T09:00"), ("scope", "lot"), ("lot", &parent), ("reason", "A jar leaks")]).await;
    for (when, word) in [
        ("2026-05-12T11:00", Word::CanGo),
        ("2026-05-12T18:00", Word::KeepBack),
        ("2026-05-13T18:00", Word::CanGo),
        ("2026-05-14T10:00", Word::KeepBack),
    ] {
        assert_eq!(then(&farm, &code, when).await.word(), word, "{when}");
    }
}

/// A verdict is frozen for one lot, one time and one household: a correction changes the jars and how it is known, and no more.
#[tokio::test]
async fn what_a_verdict_was_frozen_for_is_not_corrected_under_it() {
    let farm = Farm::new().await;
    let (old, new) = (fill(&farm, "2026-05-12", "6", true).await, fill(&farm, "2026-05-13", "6", true).await);
    let out = [("person", "unknown"), ("lot", old.as_str()), ("half_gallons", "1"), ("evidence", "seen")];
    farm.submit(Owner, "/pickup", &out).await.came_with(303);
    let page = farm.visit(Owner, "/records/pickups/1").await;
    page.says("strike it through and hand it out again").never_says("name=\"lot\"").never_says("name=\"at\"").says("name=\"half_gallons\"");
    let moved = [
        ("lot", new.as_str()),
        ("at", "2026-05-13T01:00"),
        ("gallons", "0"),
        ("half_gallons", "2"),
        ("quarts", "0"),
        ("pints", "0"),
        ("evidence", "seen"),
        ("version", "1"),
        ("why", "Two jars went"),
    ];
    farm.submit(Owner, "/records/pickups/1", &moved).await.came_with(303);
    let kept = &farm.list("pickups").await[0];
    assert_eq!(kept.cell(kind_of("pickups"), "half_gallons").whole(), Some(2));
    let lots = farm.list("lots").await;
    assert_eq!(*kept.cell(kind_of("pickups"), "lot"), Cell::To(lots[0].number), "it is still the lot it was judged for");
    farm.visit(Owner, &format!("/lots/{old}")).await.says("2 half-gallons");
}
