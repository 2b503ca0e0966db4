//! What a household is promised and lacks, what is owed after a day without milk, and what cannot be undone or is put right.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::{
    farm::Farm,
    hand_out::{newest_portion, person},
    packing::{farm, packed, sent_back, submit, with},
};
use tallypail::{
    trade::{
        missed::IN_JARS,
        parts::Hundredths,
        wear::Span,
        when::{Day, parse_day},
    },
    web::visitor::Role,
};

async fn everybody(farm: &Farm, changes: &[(&str, &str)]) -> crate::farm::Page {
    let mut form = with(&sent_back(&farm.visit(Role::Owner, "/pickup").await, "/pickup/everybody"), "evidence", "seen");
    for (name, value) in changes {
        form = with(&form, name, value);
    }
    submit(farm, Role::Owner, "/pickup/everybody", &form).await
}

async fn herdshare_terms(farm: &Farm) {
    farm.keep("terms", &[("channel", "herdshare"), ("since", "2026-01-01"), ("boarding", "40.00"), ("missed", IN_JARS)]).await;
}

fn day(typed: &str) -> Day {
    parse_day(typed).unwrap()
}

/// Source: Colorado Revised Statutes 25-5.5-117, second-hand: the signed bill of sale and boarding contract come first.
#[tokio::test]
async fn a_share_that_is_not_signed_is_not_packed_behind_a_promise_at_the_gate() {
    let (farm, ..) = farm().await;
    person(&farm, "M06", "Farrant", "farm gate", "Thursday").await;
    farm.keep("shares", &[("person", "M06"), ("part", "1"), ("half_gallons", "1"), ("channel", "farm gate"), ("since", "2026-01-02")])
        .await;
    farm.keep(
        "shares",
        &[("person", "M06"), ("share", "S09"), ("part", "1"), ("half_gallons", "2"), ("channel", "herdshare"), ("since", "2026-05-01")],
    )
    .await;
    let plan = farm.visit(Role::Owner, "/pickup/pack").await;
    plan.says("no bill of sale is signed");
}

#[tokio::test]
async fn a_week_that_was_paid_ahead_is_no_week_the_farm_missed() {
    let mut farm = Farm::new().await;
    crate::mornings::fill(&farm, "2026-05-13", "9", true).await;
    person(&farm, "M01", "Ashgrove", "herdshare", "Thursday").await;
    farm.promise("M01", "0", "herdshare").await;
    // Half a share of one a week: a jar every other week.
    farm.keep(
        "shares",
        &[("person", "M01"), ("share", "S01"), ("part", "1/2"), ("half_gallons", "1"), ("channel", "herdshare"), ("since", "2026-01-02")],
    )
    .await;
    packed(&farm).await.came_with(303);
    assert_eq!(newest_portion(&farm, "1").await.3, "1");
    everybody(&farm, &[]).await.came_with(303);
    farm.clock("2026-05-21T12:00");
    crate::mornings::fill(&farm, "2026-05-20", "40", true).await;
    packed(&farm).await.came_with(303);
    assert_eq!(newest_portion(&farm, "1").await, ("0.5".to_owned(), "0.5".to_owned(), "-0.5".to_owned(), "0".to_owned()));
    let mut db = farm.ledger.read().await.unwrap();
    let span = Span { from: day("2026-05-01"), to: day("2026-05-31") };
    let empty = tallypail::store::books::empty_days(&mut db, span).await.unwrap();
    assert_eq!(empty, [], "forty jars stood on the shelf, and the boarding of that week is not given back");
}

#[tokio::test]
async fn a_packing_is_not_undone_once_somebody_has_theirs() {
    let (farm, ..) = farm().await;
    packed(&farm).await.came_with(303);
    let page = farm.visit(Role::Owner, "/pickup").await;
    let act = page.hidden("act");
    let form = with(&sent_back(&farm.visit(Role::Helper, "/pickup").await, "/pickup/everybody"), "evidence", "seen");
    submit(&farm, Role::Helper, "/pickup/everybody", &form).await.came_with(303);
    farm.submit(Role::Owner, "/undo", &[("act", &act)]).await;
    assert_eq!((farm.list("packings").await.len(), farm.list("portions").await.len()), (1, 4), "it was handed out, so it stands");
}

#[tokio::test]
async fn a_moved_day_that_falls_on_their_own_day_loses_no_week() {
    let mut farm = farm().await.0;
    // Nobody comes on Thursday the 21st; it is moved to the 28th, which is M01's Thursday as well.
    farm.keep("pauses", &[("since", "2026-05-21"), ("until", "2026-05-21"), ("moved_to", "2026-05-28")]).await;
    herdshare_terms(&farm).await;
    packed(&farm).await.came_with(303);
    everybody(&farm, &[]).await.came_with(303);
    farm.clock("2026-05-28T12:00");
    crate::mornings::fill(&farm, "2026-05-27", "40", true).await;
    packed(&farm).await.came_with(303);
    let (promised, _, carried, jars) = newest_portion(&farm, "1").await;
    assert_eq!(jars, "8", "four of the 21st and four of the 28th; promised {promised}, carried {carried}");
}

/// What already happened can be recorded, and is marked: eight left where seven were filled.
#[tokio::test]
async fn a_hand_out_of_more_than_were_filled_may_be_corrected_to_what_happened() {
    let (farm, old, _) = farm().await;
    let out = [("person", "M01"), ("lot", old.as_str()), ("half_gallons", "4"), ("evidence", "seen"), ("at", "2026-05-14T09:00")];
    farm.submit(Role::Owner, "/pickup", &out).await.came_with(303);
    let path = "/records/pickups/1";
    let form = with(&with(&sent_back(&farm.visit(Role::Owner, path).await, path), "half_gallons", "8"), "why", "It was eight");
    let form = with(&with(&with(&form, "at", "2026-05-14T09:00"), "person", "M01"), "lot", &old);
    let sent = submit(&farm, Role::Owner, path, &form).await;
    let says = sent.text.split("role=\"alert\"").nth(1).unwrap_or_default().chars().take(200).collect::<String>();
    assert_eq!(sent.status, 303, "{says}");
}

/// Whoever took a jar of the wrong lot is written down under another, so everybody who called in the window is named.
#[tokio::test]
async fn two_missing_names_everyone_who_called_and_not_only_those_of_that_lot() {
    let (mut farm, old, new) = farm().await;
    let count = |at: &'static str, one: &'static str, other: &'static str| {
        vec![("at", at), ("counter", "Tobe"), ("half_gallons.1", one), ("half_gallons.2", other)]
    };
    farm.submit(Role::Owner, "/counts", &count("2026-05-14T09:00", "7", "9")).await.came_with(303);
    // M03 came for five of the new lot, and took two of the old one with them.
    let out = [("person", "M03"), ("lot", new.as_str()), ("half_gallons", "5"), ("evidence", "assumed")];
    farm.submit(Role::Owner, "/pickup", &out).await.came_with(303);
    farm.clock("2026-05-14T20:00");
    let kept = farm.submit(Role::Owner, "/counts", &count("2026-05-14T20:00", "5", "4")).await;
    kept.came_with(303);
    let page = farm.visit(Role::Owner, &kept.location).await;
    page.says(&old).says("2 half-gallons");
    let main = page.text.split("</header>").last().unwrap().to_owned();
    assert!(main.contains("Corrivane"), "{}", main.chars().take(1500).collect::<String>());
}

/// A hand-out of 20:00:10 and a count of 20:00:40 stand in one minute on the form; the count is the later one all the same.
#[tokio::test]
async fn a_count_in_the_minute_of_a_hand_out_is_after_it() {
    let (mut farm, old, _) = farm().await;
    farm.wait(10);
    let out = [("person", "M01"), ("lot", old.as_str()), ("half_gallons", "4"), ("evidence", "seen")];
    farm.submit(Role::Owner, "/pickup", &out).await.came_with(303);
    farm.wait(30);
    let entry = tallypail::web::secret::entry();
    let count = [("at", "2026-05-14T12:00"), ("counter", "Tobe"), ("half_gallons.1", "3"), ("half_gallons.2", "9"), ("entry", &entry)];
    let kept = farm.submit(Role::Owner, "/counts", &count).await;
    let page = farm.visit(Role::Owner, &kept.location).await;
    page.came_with(200).says("squares").never_says("It stopped adding up");
    farm.wait(5);
    assert_eq!(farm.submit(Role::Owner, "/counts", &count).await.location, kept.location, "sent twice, it is one count");
}

/// A day of nothing that the terms make up in money carries no jars besides; one that they do not carries its fair part.
#[tokio::test]
async fn a_day_made_up_in_money_carries_no_jars() {
    let farm = farm().await.0;
    farm.keep("packings", &[("day", "2026-05-07"), ("at", "2026-05-07T08:00"), ("method", "pro rata"), ("ready", "1")]).await;
    for (label, jars) in [("M01", "1"), ("M02", "0")] {
        let portion = [("packing", "2026-05-07"), ("person", label), ("promised", "2"), ("fair", "0.5"), ("carried", "0"), ("jars", jars)];
        farm.keep("portions", &portion).await;
    }
    let mut db = farm.ledger.read().await.unwrap();
    for (in_money, theirs) in [(true, 0), (false, 50)] {
        let zone = farm.ways().await.zone;
        let carried = tallypail::store::packing::carried_to(&mut db, day("2026-05-14"), zone, |_, _| in_money).await.unwrap();
        assert_eq!((carried[&1].jars, carried[&2].jars), (Hundredths::new(-50), Hundredths::new(theirs)), "made up in money: {in_money}");
    }
}
