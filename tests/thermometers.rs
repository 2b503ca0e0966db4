//! Thermometers known to be off: what a check in ice water says, and what a reading shows all the same.
//!
//! Source of the band: a limit is kept only where the reading and what it may be off together stay at or below it, and broken
//! only where the reading less that is still above it. Ice melting in water stands at 0 °C, 32 °F (from memory). That a
//! thermometer more than 2 °F off is no good is common practice.

#![allow(clippy::unwrap_used, reason = "a test that cannot set itself up has failed")]

use proptest::prelude::*;
use tallypail::trade::{
    chill::{Chilled, MilkingTimes, Outcome, Reading, Standing, Why, judge},
    measure::{Scale, Temperature},
    rules::Steps,
    thermometers::{Guard, IceCheck, guard},
    when::{Moment, Zone},
};

/// 40 °F within 2 h of the end of milking and 50 °F when later milk is added: 7 Pa. Code 59a.408.
const COOL_AND_BLEND: &str = "cool 40 °F within 120 min of milking end [read]; blend 50 °F at each later milking [read]";
/// The same, held at 40 °F: 330 CMR 27.06 and 27.08.
const HELD_TOO: &str =
    "cool 40 °F within 120 min of milking end [read]; blend 50 °F at each later milking [read]; hold 40 °F until handed out [read]";
/// “Immediately”, as A.A.C. R3-2-805 has it.
const AT_ONCE: &str = "cool 45 °F within 0 min of milking end [read]";
/// Only a temperature of storage, as 77 Ill. Adm. Code 775.55 has it.
const ONLY_HELD: &str = "hold 41 °F until handed out [read]";

/// One degree Fahrenheit in the exact unit of a temperature.
const A_DEGREE: i64 = Temperature::fahrenheit(33).exact() - Temperature::fahrenheit(32).exact();

fn at(minutes: i64) -> Moment {
    Zone::UTC.parse_moment("2026-05-14T06:00").unwrap().plus_minutes(minutes)
}

/// Milked from 06:00 to 06:40 and, if wanted, again from 17:30 to 18:10.
fn lot(milkings: usize) -> Vec<MilkingTimes> {
    [(0, 40), (690, 730)][..milkings].iter().map(|(start, end)| MilkingTimes { start: at(*start), end: Some(at(*end)) }).collect()
}

/// A reading so many minutes after 06:00, in hundredths of a degree Fahrenheit, of a thermometer off by hundredths.
type Taken = (i64, i64, i64);

fn reading((minutes, hundredths, off): Taken) -> Reading {
    Reading::of(at(minutes), Temperature::hundredths(hundredths, Scale::Fahrenheit)).guarded(off * A_DEGREE / 100)
}

fn found(steps: &str, milkings: usize, readings: &[Taken]) -> Chilled {
    let readings: Vec<Reading> = readings.iter().copied().map(reading).collect();
    judge(&Steps::parse(steps).unwrap().0, &lot(milkings), &readings, at(3000))
}

fn standing(steps: &str, milkings: usize, readings: &[Taken]) -> Standing {
    found(steps, milkings, readings).overall
}

#[test]
fn inside_the_band_a_reading_shows_neither() {
    let by_the_deadline = |hundredths, off| standing(COOL_AND_BLEND, 1, &[(160, hundredths, off)]);
    assert_eq!(by_the_deadline(3960, 0), Standing::Met);
    assert_eq!(by_the_deadline(3960, 40), Standing::Met, "39.6 and 0.4 are 40 °F");
    assert_eq!(by_the_deadline(3960, 41), Standing::NotShown);
    assert_eq!(by_the_deadline(4041, 0), Standing::NotMet);
    assert_eq!(by_the_deadline(4041, 40), Standing::NotMet);
    assert_eq!(by_the_deadline(4040, 40), Standing::NotShown, "40.4 less 0.4 is 40 °F, which is allowed");
    let unsure = found(COOL_AND_BLEND, 1, &[(150, 3960, 100)]);
    let said = "Read 39.6 °F, but that thermometer is known to be off by 1 °F, so it shows neither.";
    assert_eq!(unsure.reason(), said);
    assert_eq!(unsure.reason_at(Zone::UTC), said.replace(", but", " at 08:30, but"));
    assert!(matches!(unsure.findings[0].outcome, Outcome::NotShown { why: Why::Doubtful(_), .. }));
    assert!(unsure.next(Zone::UTC).starts_with("Keep this milk back, and ask the health department"));
    // 0.5 °C is 0.9 °F: 4 °C and that is 40.1 °F.
    let celsius = Reading::of(at(150), Temperature::celsius(4)).guarded(450);
    let unsure = judge(&Steps::parse(COOL_AND_BLEND).unwrap().0, &lot(1), &[celsius], at(3000));
    assert_eq!(unsure.reason(), "Read 4 °C, but that thermometer is known to be off by 0.5 °C, so it shows neither.");
}

#[test]
fn an_unsure_reading_takes_the_word_from_a_clear_one_before_it_and_not_from_one_after() {
    assert_eq!(standing(COOL_AND_BLEND, 1, &[(120, 3900, 0), (150, 3960, 100)]), Standing::NotShown);
    let after = found(COOL_AND_BLEND, 1, &[(60, 5200, 100), (120, 3960, 100), (150, 3900, 0)]);
    assert_eq!(after.to_string(), "Cold in time. Reached 40 °F between 20 min and 1 h 50 min after the end of milking.");
    // The first reading after the time speaks about it; a clear warm one after an unsure one may be milk that warmed again.
    assert_eq!(standing(COOL_AND_BLEND, 1, &[(170, 4050, 100), (180, 4400, 0)]), Standing::NotShown);
    assert_eq!(standing(COOL_AND_BLEND, 1, &[(170, 4200, 100), (180, 4050, 100)]), Standing::NotMet);
    // Perhaps it was cold in time and warmed again: the late reading does not show that it was not.
    assert_eq!(standing(COOL_AND_BLEND, 1, &[(150, 3960, 100), (170, 4400, 0)]), Standing::NotShown);
    assert_eq!(standing(COOL_AND_BLEND, 1, &[(150, 4050, 100), (170, 4400, 0)]), Standing::NotMet);
    let still_time = judge(&Steps::parse(COOL_AND_BLEND).unwrap().0, &lot(1), &[reading((120, 3960, 100))], at(130));
    assert_eq!(still_time.overall, Standing::Due);
    // Too late all the same: that is the better reason.
    let late = found(COOL_AND_BLEND, 1, &[(60, 5200, 0), (200, 3960, 100)]);
    assert_eq!(late.reason(), "No reading shows 40 °F within 2 h of the end of milking; the last in time was 52 °F.");
}

#[test]
fn the_band_counts_for_every_step() {
    let blend = |hundredths, off| standing(COOL_AND_BLEND, 2, &[(150, 3800, 0), (735, hundredths, off), (840, 3800, 0)]);
    assert_eq!((blend(4950, 50), blend(4950, 51)), (Standing::Met, Standing::NotShown));
    assert_eq!((blend(5051, 50), blend(5050, 50)), (Standing::NotMet, Standing::NotShown));
    let held = |hundredths, off| standing(HELD_TOO, 1, &[(150, 3800, 0), (600, hundredths, off), (700, 3800, 0)]);
    assert_eq!((held(3950, 50), held(3950, 51)), (Standing::Met, Standing::NotShown));
    assert_eq!((held(4051, 50), held(4050, 50)), (Standing::NotMet, Standing::NotShown));
    assert_eq!(standing(AT_ONCE, 1, &[(40, 4450, 50)]), Standing::Met);
    let at_once = found(AT_ONCE, 1, &[(40, 4450, 51)]);
    assert!(matches!(at_once.findings[0].outcome, Outcome::NotShown { why: Why::Doubtful(_), .. }));
    let stored = |readings: &[Taken]| found(ONLY_HELD, 1, readings).findings[0].outcome.standing();
    assert_eq!(stored(&[(60, 4050, 100), (90, 3900, 0)]), Standing::Met, "still cooling");
    assert_eq!(stored(&[(60, 4050, 100)]), Standing::NotShown);
    assert_eq!(stored(&[(60, 3900, 0), (90, 4150, 100), (120, 3900, 0)]), Standing::NotShown);
    assert_eq!(stored(&[(60, 4050, 100), (90, 4400, 0), (120, 3900, 0)]), Standing::NotShown);
    assert_eq!(stored(&[(60, 3900, 0), (90, 4400, 100)]), Standing::NotMet);
}

/// A bad thermometer must not make milk look better kept, so what it leaves open is said as open and not left out.
#[test]
fn warmed_up_again_is_said_as_surely_as_it_is_known() {
    let warmed = found(COOL_AND_BLEND, 1, &[(150, 3800, 0), (400, 4050, 100), (500, 4400, 100)]);
    assert_eq!(warmed.remarks(Zone::UTC), ["It was cold and then read 44 °F at 14:20: it warmed up."]);
    let open = found(COOL_AND_BLEND, 1, &[(150, 3800, 0), (400, 4050, 100)]);
    assert!(open.warmed_up.is_some() && !open.warmed_for_sure);
    assert_eq!(
        open.remarks(Zone::UTC),
        ["It read cold and then 40.5 °F at 12:40, but a thermometer known to be off was used: nobody can tell whether it warmed up."]
    );
    assert_eq!(found(COOL_AND_BLEND, 1, &[(150, 3800, 0), (400, 3960, 100)]).warmed_up, None);
}

fn check(thermometer: &str, minutes: i64, hundredths: i64) -> IceCheck {
    IceCheck { thermometer: thermometer.to_owned(), at: at(minutes), reading: Temperature::hundredths(hundredths, Scale::Fahrenheit) }
}

#[test]
fn the_worse_of_the_checks_before_and_after_counts() {
    let checks =
        [check("Kitchen probe", 0, 3250), check(" kitchen PROBE ", 1000, 3100), check("Kitchen probe", 2000, 3600), check("Barn", 0, 3800)];
    let by = |minutes| guard(&checks, "kitchen probe", at(minutes)).by;
    assert_eq!(by(-10), A_DEGREE / 2, "only a check after it");
    assert_eq!((by(0), by(500)), (A_DEGREE, A_DEGREE));
    assert_eq!((by(1500), by(2500)), (4 * A_DEGREE, 4 * A_DEGREE));
    let never = Guard { by: 0, weak: false, never_checked: true };
    assert_eq!(guard(&checks, "Glass one", at(500)), never);
    assert_eq!(guard(&[check(" ", 0, 3300)], "", at(500)), never, "a reading that names no thermometer has no checks");
    // 0 °C is 32 °F: 1 °C in ice water is 1.8 °F too much.
    let celsius = IceCheck { thermometer: "Dial".to_owned(), at: at(0), reading: Temperature::celsius(1) };
    assert_eq!((celsius.off(), check("Dial", 0, 3380).off()), (A_DEGREE * 18 / 10, A_DEGREE * 18 / 10));
    assert_eq!(celsius.sentence(), "Dial shows 1 °C in ice water: 1 °C too much.");
    assert_eq!(check("Dial", 0, 3380).sentence(), "Dial shows 33.8 °F in ice water: 1.8 °F too much.");
    assert_eq!(check("Dial", 0, 3100).sentence(), "Dial shows 31 °F in ice water: 1 °F too little.");
    assert_eq!(check("Dial", 0, 3200).sentence(), "Dial shows 32 °F in ice water, as it should.");
    assert_eq!(check("Dial", 0, 3100).off(), -A_DEGREE);
}

/// Source: more than 2 °F off is common practice; exactly 2 °F is not more.
#[test]
fn everything_between_the_last_good_check_and_the_next_good_one_is_weak() {
    let checks =
        [check("Dial", 0, 3200), check("Dial", 100, 3400), check("Dial", 200, 2999), check("Dial", 300, 3600), check("Dial", 400, 3200)];
    let weak: Vec<bool> = [50, 150, 250, 350, 450].iter().map(|minutes| guard(&checks, "Dial", at(*minutes)).weak).collect();
    assert_eq!(weak, [false, true, true, true, false]);
    let said = |minutes| guard(&checks, "Dial", at(minutes)).sentence(Scale::Fahrenheit);
    assert_eq!(said(450), None);
    assert_eq!(said(50).unwrap(), "That thermometer was off by 2 °F in ice water.");
    assert!(said(350).unwrap().starts_with("That thermometer was off by 4 °F in ice water: what it read"));
    assert!(guard(&checks, "Other", at(50)).sentence(Scale::Fahrenheit).unwrap().starts_with("No check"));
}

fn any_checks() -> impl Strategy<Value = Vec<IceCheck>> {
    let one = (prop::sample::select(vec!["Dial", "dial ", "Probe"]), 0i64..12, 2800i64..3700);
    prop::collection::vec(one.prop_map(|(name, hours, hundredths)| check(name, hours * 60, hundredths)), 0..8)
}

fn any_readings() -> impl Strategy<Value = Vec<(Taken, i64)>> {
    let hundredths = prop::sample::select(vec![3800i64, 3950, 3999, 4000, 4001, 4050, 4100, 4300, 4450, 4500, 4950, 5000, 5050, 6000]);
    let minutes = prop::sample::select(vec![10i64, 40, 60, 100, 159, 160, 161, 220, 400, 695, 730, 735, 800, 850, 851, 900]);
    let off = || prop::sample::select(vec![0i64, 0, 1, 50, 100, 300]);
    prop::collection::vec(((minutes, hundredths, off()), off()), 0..7)
}

fn any_steps() -> impl Strategy<Value = &'static str> {
    prop::sample::select(vec![COOL_AND_BLEND, HELD_TOO, AT_ONCE, ONLY_HELD])
}

/// Where only a holding limit is known, milk that never was cold cannot warm up again, so warmer milk may look better there.
fn any_with_a_time() -> impl Strategy<Value = &'static str> {
    prop::sample::select(vec![COOL_AND_BLEND, HELD_TOO, AT_ONCE])
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn another_check_further_off_never_makes_the_guard_smaller(checks in any_checks(), hours in -1i64..13, more in 0i64..200, minutes in 0i64..780) {
        let before = guard(&checks, "Dial", at(minutes));
        let mut with = checks;
        let further = check("DIAL", hours * 60, 3200 + before.by / (A_DEGREE / 100) + more);
        prop_assert!(further.off() >= before.by);
        with.push(further);
        prop_assert!(guard(&with, "Dial", at(minutes)).by >= before.by);
    }

    #[test]
    fn a_larger_guard_never_meets_and_never_breaks_anything(steps in any_steps(), milkings in 1usize..3, readings in any_readings(), now in 0i64..2000) {
        let steps = Steps::parse(steps).unwrap().0;
        let judged = |more: bool| {
            let one = |((minutes, hundredths, off), further): &(Taken, i64)| reading((*minutes, *hundredths, off + if more { *further } else { 0 }));
            judge(&steps, &lot(milkings), &readings.iter().map(one).collect::<Vec<_>>(), at(now))
        };
        let (before, after) = (judged(false), judged(true));
        let pairs = before.findings.iter().map(|finding| finding.outcome.standing()).zip(after.findings.iter().map(|finding| finding.outcome.standing()));
        for (was, is) in pairs.chain([(before.overall, after.overall)]) {
            prop_assert!(is != Standing::Met || was == Standing::Met, "{before} / {after}");
            prop_assert!(is != Standing::NotMet || was == Standing::NotMet, "{before} / {after}");
        }
        // Nor does it make milk that warmed again look better kept.
        prop_assert_eq!(before.warmed_up.is_some(), after.warmed_up.is_some());
        prop_assert!(before.warmed_for_sure || !after.warmed_for_sure);
    }

    #[test]
    fn warmer_is_never_better_whatever_the_thermometers(steps in any_with_a_time(), milkings in 1usize..3, readings in any_readings(), warmer in 1i64..900, now in 0i64..2000) {
        let steps = Steps::parse(steps).unwrap().0;
        let judged = |warmer: i64| {
            let one = |((minutes, hundredths, off), _): &(Taken, i64)| reading((*minutes, hundredths + warmer, *off));
            judge(&steps, &lot(milkings), &readings.iter().map(one).collect::<Vec<_>>(), at(now))
        };
        let (before, after) = (judged(0), judged(warmer));
        prop_assert!(after.overall >= before.overall, "{before} / {after}");
    }

    #[test]
    fn a_reading_shows_one_thing_at_most(taken in any_readings(), limit in 3900i64..5100) {
        let limit = Temperature::hundredths(limit, Scale::Fahrenheit);
        for reading in taken.into_iter().map(|(taken, _)| reading(taken)) {
            let shows = [reading.shows_kept(limit), reading.shows_broken(limit), reading.is_doubtful(limit)];
            prop_assert_eq!(shows.iter().filter(|shown| **shown).count(), 1);
            prop_assert!(reading.guard > 0 || !reading.is_doubtful(limit));
        }
    }
}
