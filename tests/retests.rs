//! What is to be tested again: a fresh sample after one result too many, and nothing owed to rules before they were followed.

#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use super::one_lot::{place, result};
use tallypail::trade::{
    due::Due,
    lab::{LabResult, Of},
    retests::{Followed, Tests},
    rules::RuleSet,
    when::{Day, Zone},
};

fn day(typed: &str) -> Day {
    typed.parse().unwrap()
}

fn followed(set: &RuleSet, since: &str) -> Followed {
    Followed {
        source: set.citation.clone(),
        since: day(since),
        limits: set.limits.clone(),
        tests: set.tests.clone(),
        resample: set.resample.as_ref().map(|own| (own.not_before_days.into(), own.within_days.into())),
        ..Followed::default()
    }
}

/// What is due on a day, as lines of what and when.
fn due(rules: Followed, results: &[LabResult], today: &str) -> Vec<Due> {
    let tests = Tests {
        zone: Zone::parse("America/Denver").unwrap(),
        today: day(today),
        since: day("2026-01-01"),
        milk_since: Some(day("2026-01-01")),
        rules: &[rules],
        results,
        received: &[],
        cows: &[],
        renewals: &[],
    };
    tests.due()
}

fn count(drawn: &str, figure: &str) -> LabResult {
    result(Of::Lot("6100A".to_owned()), &format!("{drawn}T12:00"), "coliforms", figure, "per mL")
}

fn resample(results: &[LabResult], today: &str) -> Option<(Day, Day)> {
    let own = due(followed(&place("us-nm-retail-raw"), "2026-01-01"), results, today);
    own.into_iter().find(|due| due.what.starts_with("Fresh sample after a warning: coliforms")).map(|due| (due.from.unwrap(), due.day))
}

/// Source: 21.34.2.14(D) NMAC: after one result over the limit a written warning, and a fresh sample not before 3 days and within
/// 10. The limit of 50 is 21.34.2.17's.
#[test]
fn one_result_over_brings_a_fresh_sample_where_the_law_warns_at_one() {
    assert_eq!(resample(&[count("2026-05-04", "50")], "2026-05-06"), None, "at the limit is within it");
    let over = [count("2026-05-04", "51")];
    assert_eq!(resample(&over, "2026-05-06"), Some((day("2026-05-07"), day("2026-05-14"))));
    let too_soon = [over[0].clone(), count("2026-05-05", "51")];
    assert_eq!(resample(&too_soon, "2026-05-06"), Some((day("2026-05-08"), day("2026-05-15"))), "counted from the newest");
    assert_eq!(resample(&[over[0].clone(), count("2026-05-08", "9")], "2026-05-09"), None);
    let found = result(Of::Lot("6100A".to_owned()), "2026-05-04T12:00", "drug residue", "positive", "");
    let own = due(followed(&place("us-nm-retail-raw"), "2026-01-01"), &[found], "2026-05-06");
    assert!(own.iter().all(|due| !due.what.starts_with("Fresh sample")), "a drug that was found is no count that ran high");
}

/// Source: 25 TAC 217: plate count and others at least quarterly. A farm that follows Texas since June owes it nothing for April.
#[test]
fn nothing_is_owed_to_rules_before_they_were_followed() {
    let late = |since: &str| {
        let own = due(followed(&place("us-tx-raw-retail"), since), &[], "2026-06-15");
        own.into_iter().find(|due| due.what == "Milk test: plate count").unwrap().overdue
    };
    assert!(late("2026-01-01"));
    assert!(!late("2026-06-10"));
}
