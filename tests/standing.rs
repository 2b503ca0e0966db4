//! Results of many days against the limits of real laws: the ladder of notice and action, the mean of months, and
//! portions of one lot.
//!
//! What stands in a table follows from the law named above it alone; the lines of the laws stand beside `limits`.

#![allow(clippy::unwrap_used, reason = "a test that cannot set itself up has failed")]

use super::limits::{EU, FR, GA, PA, found_of, limit};
use proptest::prelude::*;
use rust_decimal::Decimal;
use tallypail::trade::{
    analytes::Analyte,
    lab::{LabResult, Of},
    limits::Limit,
    standing::{Compared, Mean, Plan, Rung, compare_day, ladder, plan, resample_window, rolling, unread},
    when::{Day, Zone, parse_day},
};

fn day(typed: &str) -> Day {
    parse_day(typed).unwrap()
}

/// A result of a lot, drawn that day at noon.
fn result(number: i64, drawn: &str, analyte: &str, found: &str) -> LabResult {
    let (figure, unit) = found_of(found);
    LabResult {
        number,
        sample: number,
        drawn: Zone::UTC.parse_moment(&format!("{drawn}T12:00")).unwrap(),
        of: Of::Lot("0514".to_owned()),
        analyte: Analyte::parse(analyte),
        figure,
        unit,
        part: None,
        reported: day(drawn),
        written: Zone::UTC.parse_moment(&format!("{drawn}T12:00")).unwrap(),
    }
}

/// Results a week apart, the first on 1 March 2026.
fn weekly(analyte: &str, counts: &[i64]) -> Vec<LabResult> {
    (0i64..).zip(counts).map(|(week, count)| at_week(week, analyte, &format!("{count} per mL"))).collect()
}

fn at_week(week: i64, analyte: &str, found: &str) -> LabResult {
    let drawn = day("2026-03-01") + chrono::Duration::weeks(week);
    result(week, &drawn.to_string(), analyte, found)
}

fn rungs(limit: &Limit, results: &[LabResult]) -> Vec<&'static str> {
    let word = |rung: &Rung| match rung {
        Rung::Fine => "ok",
        Rung::Notice { .. } => "notice",
        Rung::Action { .. } => "action",
    };
    ladder(limit, results, Zone::UTC).iter().map(|(_, rung)| word(rung)).collect()
}

fn climbs(line: &str, analyte: &str, counts: &[i64]) -> Vec<&'static str> {
    rungs(&limit(line, analyte), &weekly(analyte, counts))
}

/// Okla. Stat. 2-7-409(B) and the ordinance it copies: 100,000 for one producer.
const OKLAHOMA: &str = "plate count at most 100000 per mL, 2 of 4 notice, 3 of 5 action [read]";

/// Sources: Okla. Stat. 2-7-409(B), 7 Pa. Code 59a.409(a): 2 of the last 4 bring a notice, 3 of the last 5 action.
#[test]
fn the_ladder_of_oklahoma_and_pennsylvania() {
    assert_eq!(climbs(OKLAHOMA, "SPC", &[40_000, 120_000, 90_000, 130_000, 110_000]), ["ok", "ok", "ok", "notice", "action"]);
    assert_eq!(climbs(PA, "coliforms", &[12, 8, 11, 9, 13]), ["ok", "ok", "notice", "notice", "action"]);
}

/// Source: Okla. Stat. 2-7-409(B): the notice is in force while two of the last four are over, and no longer.
#[test]
fn a_notice_ends_with_its_row() {
    assert_eq!(climbs(OKLAHOMA, "SPC", &[120_000, 90_000, 95_000, 130_000, 80_000]), ["ok", "ok", "ok", "notice", "ok"]);
}

/// Source: Okla. Stat. 2-7-409(B), “exceed”: equal is not over.
#[test]
fn equal_does_not_exceed() {
    assert_eq!(climbs(OKLAHOMA, "SPC", &[100_000, 100_000, 100_000]), ["ok", "ok", "ok"]);
}

/// Source: 7 Pa. Code 59a.409(a)(1); that two of two are two of the last four is common practice.
#[test]
fn a_short_row_can_bring_a_notice() {
    assert_eq!(climbs(PA, "SPC", &[21_000, 25_000]), ["ok", "notice"]);
    let limit = limit(PA, "SPC");
    let last = ladder(&limit, &weekly("SPC", &[21_000, 25_000]), Zone::UTC).pop().unwrap().1;
    assert_eq!(last, Rung::Notice { over: 2, of: 2 });
    assert!(last.reason(&limit).starts_with("Plate count: 2 of the last 2 results are over the limit (at most 20,000 per mL)."));
}

/// Source: Ga. Code 26-2-457(f): the arithmetic average of one day's samples is the result of that day.
#[test]
fn georgia_averages_a_day() {
    let tanks = [result(1, "2026-05-14", "SPC", "15,000 per mL"), result(2, "2026-05-14", "SPC", "27,000 per mL")];
    let (georgia, pennsylvania) = (limit(GA, "SPC"), limit(PA, "SPC"));
    assert_eq!(compare_day(&georgia, &tanks.each_ref()), Compared::Over, "the average is 21,000");
    let mild = [result(1, "2026-05-14", "SPC", "12,000 per mL"), result(2, "2026-05-14", "SPC", "27,000 per mL")];
    assert_eq!(compare_day(&georgia, &mild.each_ref()), Compared::Within, "the average is 19,500");
    assert_eq!(compare_day(&pennsylvania, &mild.each_ref()), Compared::Over, "without averaging the worst counts");
    let unclear = [result(1, "2026-05-14", "SPC", "<30,000 per mL"), result(2, "2026-05-14", "SPC", "19,000 per mL")];
    assert!(matches!(compare_day(&georgia, &unclear.each_ref()), Compared::CantTell(_)));
    let sure = [result(1, "2026-05-14", "SPC", "<10 per mL"), result(2, "2026-05-14", "SPC", "50,000 per mL")];
    assert_eq!(compare_day(&georgia, &sure.each_ref()), Compared::Over);
}

/// Source: Okla. Stat. 2-7-409(B), “taken on separate days”: what is drawn on one day of the farm's calendar counts once.
#[test]
fn one_day_counts_once() {
    let mut results = weekly("coliforms", &[12]);
    results.push(LabResult { number: 9, sample: 9, drawn: results[0].drawn.plus_hours(6), ..results[0].clone() });
    assert_eq!(rungs(&limit(PA, "coliforms"), &results), ["ok"]);
    // 20:00 and 06:00 in New York are two days; in universal time they would be one.
    let york = Zone::parse("America/New_York").unwrap();
    results[0].drawn = york.parse_moment("2026-05-13T20:30").unwrap();
    results[1].drawn = york.parse_moment("2026-05-14T06:00").unwrap();
    assert_eq!(ladder(&limit(PA, "coliforms"), &results, york).len(), 2);
    assert_eq!(ladder(&limit(PA, "coliforms"), &results, Zone::UTC).len(), 1);
}

#[test]
fn only_lots_that_can_be_read_are_counted() {
    let mut results = weekly("coliforms", &[12, 13, 14]);
    results[0].of = Of::Cow("Damson".to_owned());
    results[1].of = Of::Water;
    let limit = limit(PA, "coliforms");
    assert_eq!(rungs(&limit, &results), ["ok"]);
    results.push(at_week(3, "coliforms", "<100 per mL"));
    assert_eq!(rungs(&limit, &results), ["ok"]);
    assert_eq!(unread(&limit, &results, Zone::UTC).len(), 1);
}

/// Sources: Okla. Stat. 2-7-409(B): not before 3 days, within 21; NMAC 21.34.2.14(D): 3 to 10 days.
#[test]
fn the_window_for_a_fresh_sample() {
    let warned = day("2026-03-01");
    assert_eq!(resample_window(warned, 3, 21), (day("2026-03-04"), day("2026-03-22")), "Oklahoma");
    assert_eq!(resample_window(warned, 3, 10), (day("2026-03-04"), day("2026-03-11")), "New Mexico");
}

fn mean_of(analyte: &str, drawn: &[(&str, &str)], on: &str) -> (Mean, String) {
    let results: Vec<LabResult> = (0i64..).zip(drawn).map(|(nth, (day, found))| result(nth, day, analyte, found)).collect();
    let limit = limit(EU, analyte);
    let rolling = rolling(&limit, &results, day(on), Zone::UTC).unwrap();
    (rolling.mean.clone(), rolling.reason(&limit))
}

/// Source: Regulation (EC) 853/2004, Annex III, Section IX (second-hand): at most 100,000 as a geometric mean of two
/// months. Two singles are over and the arithmetic mean is 102,500.
#[test]
fn the_european_mean_of_plate_counts() {
    let counts =
        [("2026-04-03", "50,000 per mL"), ("2026-04-17", "120000 per mL"), ("2026-05-04", "90000 per mL"), ("2026-05-20", "150000 per mL")];
    let (mean, said) = mean_of("plate count", &counts, "2026-05-31");
    assert!(matches!(mean, Mean::Met(mean) if mean.round_dp(0) == Decimal::from(94_868)), "{mean:?}");
    assert_eq!(said, "Plate count: the geometric mean of 4 results is 94,868 per mL; the limit is at most 100,000 per mL.");
    // The window has moved on: three weeks later the first is out of it, and April's month with it.
    assert!(matches!(mean_of("plate count", &counts, "2026-06-10").0, Mean::TooFew { have: 1, .. }));
}

/// Source: Regulation (EC) 853/2004 (second-hand): at most 400,000 cells as a geometric mean of three months.
#[test]
fn the_european_mean_of_somatic_cells() {
    let three = |first: &'static str| {
        mean_of("SCC", &[("2026-03-12", first), ("2026-04-12", "450000 per mL"), ("2026-05-12", "420000 per mL")], "2026-05-31")
    };
    let (met, said) = three("300000 per mL");
    assert!(matches!(met, Mean::Met(mean) if mean.round_dp(0) == Decimal::from(384_174)), "{met:?} {said}");
    let (not, said) = three("380000 per mL");
    assert!(matches!(not, Mean::NotMet(mean) if mean.round_dp(0) == Decimal::from(415_670)), "{not:?} {said}");
    assert!(matches!(three("450000").0, Mean::CantTell(_)), "no unit");
}

/// Source: Regulation (EC) 853/2004 (second-hand): at least two samples a month.
#[test]
fn too_few_samples_are_no_verdict() {
    let (mean, said) = mean_of(
        "plate count",
        &[("2026-04-03", "5000 per mL"), ("2026-04-17", "6000 per mL"), ("2026-05-04", "7000 per mL")],
        "2026-05-31",
    );
    assert_eq!(mean, Mean::TooFew { month: "the last month".to_owned(), have: 1, needed: 2 });
    assert_eq!(said, "Plate count: not enough samples to say. The last month has 1, and the law wants 2 a month.");
}

/// Source: Iowa DNR's instruction for geometric means: compute with the bare limit and mark the result.
#[test]
fn a_mean_with_less_than_is_marked() {
    let with = |found: &'static str| {
        mean_of("SCC", &[("2026-03-12", found), ("2026-04-12", "100000 per mL"), ("2026-05-12", "100000 per mL")], "2026-05-31")
    };
    let (mean, said) = with("<100,000 per mL");
    assert_eq!(mean, Mean::Met(Decimal::from(100_000)));
    assert!(said.contains("is ≤ 100,000 per mL"), "{said}");
    assert!(matches!(with("<9,000,000 per mL").0, Mean::CantTell(_)), "≤ 448,140 can be on either side");
    assert!(matches!(with(">9,000,000 per mL").0, Mean::NotMet(_)));
    assert!(matches!(with(">100,000 per mL").0, Mean::CantTell(_)));
}

fn portions(found: &[&str], analyte: &str) -> Plan {
    let results: Vec<LabResult> = (0i64..)
        .zip(found)
        .map(|(nth, found)| LabResult { sample: 1, part: Some(nth), ..result(nth, "2026-05-14", analyte, found) })
        .collect();
    plan(&limit(FR, analyte), "0514", &results).unwrap()
}

/// Source: arrêté du 13 juillet 2012: E. coli n = 5, c = 2, m = 10, M = 100; Salmonella n = 5, c = 0, absent in 25 mL.
#[test]
fn the_french_plan_of_five_portions() {
    let counts = |counts: [i64; 5]| counts.map(|count| format!("{count} per mL"));
    let judged = |five: [i64; 5]| portions(&counts(five).each_ref().map(String::as_str), "E. coli");
    assert_eq!(judged([5, 8, 12, 60, 9]), Plan::Acceptable);
    assert!(matches!(judged([5, 8, 9, 7, 150]), Plan::Unsatisfactory(_)));
    assert!(matches!(judged([5, 11, 12, 60, 9]), Plan::Unsatisfactory(_)));
    assert_eq!(portions(&["5 per mL", "8 per mL"], "E. coli"), Plan::TooFew { have: 2, needed: 5 });
    assert!(matches!(portions(&["5 per mL", "150 per mL"], "E. coli"), Plan::Unsatisfactory(_)));
    assert!(matches!(portions(&["<100 per mL"; 5], "E. coli"), Plan::CantTell(_)));
    assert_eq!(portions(&["not detected in 25 mL"; 5], "Salmonella"), Plan::Acceptable);
    assert!(matches!(portions(&["detected in 25 mL"], "Salmonella"), Plan::Unsatisfactory(_)));
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_result_over_never_lowers_a_rung(counts in prop::collection::vec(0i64..30, 1..12), nth in 0usize..12, averaged: bool) {
        let limit = Limit { averaged, ..limit(PA, "coliforms") };
        let nth = nth.min(counts.len() - 1);
        let with = |count: i64| {
            let mut counts = counts.clone();
            counts[nth] = count;
            ladder(&limit, &weekly("coliforms", &counts), Zone::UTC)
        };
        let (within, over) = (with(10), with(11));
        prop_assert_eq!(within.len(), over.len());
        let height = |rung: &Rung| match rung { Rung::Fine => 0, Rung::Notice { .. } => 1, Rung::Action { .. } => 2 };
        prop_assert!(within.iter().zip(&over).all(|((_, low), (_, high))| height(low) <= height(high)));
    }

    #[test]
    fn a_higher_count_never_improves_a_mean(counts in prop::collection::vec(1i64..1_000_000, 3), more in 0i64..9_000_000) {
        let with = |add: i64| {
            let drawn = ["2026-03-12", "2026-04-12", "2026-05-12"];
            let results: Vec<LabResult> = (0i64..).zip(drawn.iter().zip(&counts))
                .map(|(nth, (day, count))| result(nth, day, "SCC", &format!("{} per mL", count + if nth == 1 { add } else { 0 })))
                .collect();
            rolling(&limit(EU, "SCC"), &results, day("2026-05-31"), Zone::UTC).unwrap().mean
        };
        prop_assert!(!matches!((with(0), with(more)), (Mean::NotMet(_), Mean::Met(_))));
    }
}
