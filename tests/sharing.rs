//! What a short day leaves to carry, and how the weeks after it even up.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::{
    farm::Farm,
    packing::{cell, farm, packed, sent_back, submit, with},
};
use tallypail::{
    trade::{
        parts::Hundredths,
        records::Record,
        sharing::{Claim, Method, share},
    },
    web::visitor::Role,
};

/// What is carried to the next week comes from the ledger, and evens up there.
#[tokio::test]
async fn the_week_after_evens_up_what_was_carried() {
    let (mut farm, old, new) = farm().await;
    for lot in [&old, &new] {
        farm.keep(
            "counts",
            &[
                ("at", "2026-05-14T11:30"),
                ("lot", lot),
                ("gallons", "0"),
                ("half_gallons", "5"),
                ("quarts", "0"),
                ("pints", "0"),
                ("counter", "Tobe"),
            ],
        )
        .await;
    }
    packed(&farm).await.came_with(303);
    let first = portions(&farm, 0).await;
    let form = with(&sent_back(&farm.visit(Role::Helper, "/pickup").await, "/pickup/everybody"), "evidence", "seen");
    submit(&farm, Role::Helper, "/pickup/everybody", &form).await.came_with(303);
    farm.clock("2026-05-21T12:00");
    crate::mornings::fill(&farm, "2026-05-20", "10", true).await;
    packed(&farm).await.came_with(303);
    let second = portions(&farm, first.len()).await;
    let claims: Vec<Claim> = first
        .iter()
        .map(|(person, promised, fair, carried, jars)| Claim {
            person: *person,
            promised: *promised,
            carried: *carried + *fair - Hundredths::jars(*jars),
            place: None,
            last_short: None,
        })
        .collect();
    for ((person, _, _, carried, _), claim) in second.iter().zip(&claims) {
        assert_eq!((person, carried), (&claim.person, &claim.carried));
    }
    let both: i64 = first.iter().chain(&second).map(|own| own.4).sum();
    assert_eq!(both, 20, "both weeks together give what was counted");
    let members: Vec<i64> = share(&claims[..3], 10, Method::ProRata).iter().map(|own| own.jars).collect();
    assert_eq!(second.iter().take(3).map(|own| own.4).collect::<Vec<_>>(), members);
    for (week, again) in first.iter().zip(&second).take(3) {
        let owed = week.2 + again.2 - Hundredths::jars(week.4 + again.4);
        assert!(owed.count().abs() < 100, "over two weeks nobody is off by a whole jar: {owed}");
    }
}

/// On a short day a jar more is somebody else's, and a jar fewer is owed; whoever did not come had theirs standing there.
#[tokio::test]
async fn what_was_taken_on_a_short_day_counts() {
    let (mut farm, old, new) = farm().await;
    for lot in [&old, &new] {
        let count = [("at", "2026-05-14T11:30"), ("lot", lot.as_str()), ("half_gallons", "5"), ("counter", "Tobe")];
        farm.keep("counts", &[count.as_slice(), &[("gallons", "0"), ("quarts", "0"), ("pints", "0")]].concat()).await;
    }
    packed(&farm).await.came_with(303);
    let first = portions(&farm, 0).await;
    // M01 leaves a jar, which goes with M02; M03 does not come.
    let mut form = with(&sent_back(&farm.visit(Role::Owner, "/pickup").await, "/pickup/everybody"), "evidence", "seen");
    for (label, took) in [("M01", "1 fewer"), ("M03", "not here")] {
        form = with(&form, &format!("took.{label}"), took);
    }
    submit(&farm, Role::Owner, "/pickup/everybody", &form).await.came_with(303);
    let more = [("person", "M02"), ("lot", old.as_str()), ("half_gallons", "1"), ("evidence", "seen"), ("sure", "person M02")];
    farm.submit(Role::Owner, "/pickup", &more).await.came_with(303);
    farm.clock("2026-05-21T12:00");
    crate::mornings::fill(&farm, "2026-05-20", "20", true).await;
    packed(&farm).await.came_with(303);
    let second = portions(&farm, first.len()).await;
    for (before, (off, after)) in first.iter().zip([1, -1, 0, 0].into_iter().zip(&second)) {
        let by_sum = before.3 + before.2 - Hundredths::jars(before.4);
        assert_eq!(after.3, by_sum + Hundredths::jars(off), "household {}", before.0);
    }
}

/// A jar fetched in the morning of a short day is taken into account when the day is packed, and not a second time afterwards.
#[tokio::test]
async fn what_was_taken_before_the_packing_counts_once() {
    let (mut farm, old, new) = farm().await;
    for lot in [&old, &new] {
        let count = [("at", "2026-05-14T08:00"), ("lot", lot.as_str()), ("half_gallons", "5"), ("counter", "Tobe")];
        farm.keep("counts", &[count.as_slice(), &[("gallons", "0"), ("quarts", "0"), ("pints", "0")]].concat()).await;
    }
    let early = [("person", "M01"), ("lot", old.as_str()), ("half_gallons", "1"), ("evidence", "seen"), ("at", "2026-05-14T09:00")];
    farm.submit(Role::Owner, "/pickup", &early).await.came_with(303);
    packed(&farm).await.came_with(303);
    let first = portions(&farm, 0).await;
    assert_eq!(first[0].1, Hundredths::jars(3), "one of the four promised is theirs already");
    let form = with(&sent_back(&farm.visit(Role::Owner, "/pickup").await, "/pickup/everybody"), "evidence", "seen");
    submit(&farm, Role::Owner, "/pickup/everybody", &form).await.came_with(303);
    farm.clock("2026-05-21T12:00");
    crate::mornings::fill(&farm, "2026-05-20", "20", true).await;
    packed(&farm).await.came_with(303);
    for (before, after) in first.iter().zip(&portions(&farm, first.len()).await) {
        assert_eq!(after.3, before.3 + before.2 - Hundredths::jars(before.4), "household {}", before.0);
    }
}

/// The portions from one on: person, promised, fair, carried, jars.
async fn portions(farm: &Farm, from: usize) -> Vec<(i64, Hundredths, Hundredths, Hundredths, i64)> {
    let figure = |own: &Record, column: &str| Hundredths::parse(&cell("portions", own, column)).unwrap();
    let whole = |own: &Record, column: &str| cell("portions", own, column).parse::<i64>().unwrap();
    let all = farm.list("portions").await;
    all[from..]
        .iter()
        .map(|own| (whole(own, "person"), figure(own, "promised"), figure(own, "fair"), figure(own, "carried"), whole(own, "jars")))
        .collect()
}

/// The sample farm's short week in October, when Damson's milk was kept out, shared again by each method: the jars add up to
/// what was counted, and what is carried evens up the week after.
#[tokio::test]
async fn the_short_week_of_the_sample_farm_by_each_method() {
    let farm = Farm::sample().await;
    let packings = farm.list("packings").await;
    let all = portions(&farm, 0).await;
    let of_day = farm.list("portions").await;
    let day_of = |number: i64| cell("packings", packings.iter().find(|own| own.number == number).unwrap(), "day");
    let mut short: Vec<(String, i64, Vec<Claim>)> = Vec::new();
    for packing in &packings {
        let rows: Vec<_> =
            of_day.iter().zip(&all).filter(|(own, _)| cell("portions", own, "packing") == packing.number.to_string()).collect();
        let ready: i64 = cell("packings", packing, "ready").parse().unwrap();
        let promised: Hundredths = rows.iter().map(|(_, own)| own.1).sum();
        if promised > Hundredths::jars(ready) {
            let claims = rows
                .iter()
                .map(|(_, own)| Claim { person: own.0, promised: own.1, carried: own.3, place: Some(100 - own.0), last_short: None })
                .collect();
            short.push((day_of(packing.number), ready, claims));
        }
    }
    assert!(short.iter().any(|(day, ..)| day.starts_with("2026-10")), "{:?}", short.iter().map(|own| &own.0).collect::<Vec<_>>());
    for (day, ready, claims) in &short {
        for (method, word) in Method::WORDS {
            let shared = share(claims, *ready, method);
            assert_eq!(shared.iter().map(|own| own.jars).sum::<i64>(), *ready, "{day} by {word}");
            let fair: Hundredths = shared.iter().map(|own| own.fair).sum();
            let carried: Hundredths = shared.iter().map(|own| own.after() - own.carried).sum();
            assert_eq!(carried, fair - Hundredths::jars(*ready), "{day} by {word}: what is carried is what is missing");
        }
        let again: Vec<Claim> = claims
            .iter()
            .zip(share(claims, *ready, Method::ProRata))
            .map(|(own, portion)| Claim { carried: portion.after(), ..own.clone() })
            .collect();
        let owed: i64 = again.iter().map(|own| own.carried.count().abs()).max().unwrap();
        let after = share(&again, *ready, Method::ProRata);
        for (first, second) in share(claims, *ready, Method::ProRata).iter().zip(&after) {
            let off = (first.fair + second.fair + first.carried - Hundredths::jars(first.jars + second.jars)).count().abs();
            assert!(off < 100, "{day}: over two weeks {} is off by {off} hundredths", first.person);
        }
        assert!(owed > 0, "{day}: a short day leaves parts of jars to carry");
    }
}
