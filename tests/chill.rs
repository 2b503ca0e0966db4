//! The chill rules of real places, against their own texts.
//!
//! What stands in the table of each test follows from the law it names alone. “Met”, “not met” and “not shown” are told
//! apart by the rule in `trade::chill`: a reading after the deadline that is cold says nothing about the deadline.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot set itself up has failed")]

use proptest::prelude::*;
use tallypail::trade::{
    chill::{Chilled, MilkingTimes, Outcome, Reading, Standing, Why, judge},
    measure::{Scale, Temperature},
    rules::{RuleSet, Stage, Step, Steps, places},
    when::{Moment, Zone},
};

const PA: &str = "us-pa-permit";
const MA: &str = "us-ma-retail";
const WA: &str = "us-wa-raw";
const SC: &str = "us-sc-raw";
const CT: &str = "us-ct-retail-raw";
const TX: &str = "us-tx-raw-retail";
const GA: &str = "us-ga-raw-dairy-act";
const NM: &str = "us-nm-retail-raw";
const OLD_UT: &str = "us-ut-pre2026";

fn place(id: &str) -> RuleSet {
    places().unwrap().into_iter().find(|set| set.id == id).unwrap_or_else(|| panic!("no place {id}"))
}

/// A time of day on a day in May; `14:30` of the next day is `38:30`.
fn at(clock: &str) -> Moment {
    let (hours, minutes) = clock.split_once(':').unwrap();
    Zone::UTC.parse_moment("2026-05-14T00:00").unwrap().plus_minutes(hours.parse::<i64>().unwrap() * 60 + minutes.parse::<i64>().unwrap())
}

fn milking(start: &str, end: &str) -> MilkingTimes {
    MilkingTimes { start: at(start), end: Some(at(end)) }
}

fn reading(line: &str) -> Reading {
    let (clock, temperature) = line.split_once(' ').unwrap();
    Reading::of(at(clock), Temperature::parse(temperature, Scale::Fahrenheit).unwrap())
}

/// The same judgement for everything: `readings` are written `08:50 39.8 °F, 09:10 39 °F`.
fn judged(id: &str, milkings: &[MilkingTimes], readings: &str) -> Chilled {
    judge(&place(id).steps.0, milkings, &log(readings), at("60:00"))
}

fn log(readings: &str) -> Vec<Reading> {
    readings.split(", ").filter(|line| !line.is_empty()).map(reading).collect()
}

fn check(id: &str, law: &str, milkings: &[MilkingTimes], readings: &str, expected: Standing) -> Chilled {
    let set = place(id);
    assert!(set.citation.contains(law), "{id} rests on {}, not on {law}", set.citation);
    let chilled = judged(id, milkings, readings);
    assert_eq!(chilled.overall, expected, "{law}, {readings}: {chilled}");
    chilled
}

/// Sources: 7 Pa. Code 59a.408, 330 CMR 27.06, RCW 15.36: 40 °F within 2 h of the end of milking.
#[test]
fn forty_degrees_in_two_hours() {
    for (id, law) in [(PA, "7 Pa. Code 59a"), (MA, "330 CMR 27.06"), (WA, "RCW 15.36")] {
        let chilled = check(id, law, &[milking("06:20", "07:00")], "08:50 39.8 °F", Standing::Met);
        assert_eq!(chilled.to_string(), "Cold in time. Was at 40 °F or colder when read 1 h 50 min after the end of milking.");
    }
    // The bracketed 4 °C of the Pennsylvania text is a rounding of 40 °F: 4.2 °C is 39.56 °F.
    check(PA, "59a.408", &[milking("06:20", "07:00")], "09:00 4.2 °C", Standing::Met);
    let chilled = check(PA, "59a.408", &[milking("06:20", "07:00")], "08:05 52 °F, 08:50 39 °F", Standing::Met);
    assert_eq!(chilled.reason(), "Reached 40 °F between 1 h 5 min and 1 h 50 min after the end of milking.");
}

/// Source: S.C. Code Regs. 61-34.VII Table 1: 50 °F within 4 h of the start of the first milking, 45 °F within 2 h of the end.
#[test]
fn two_clocks_run_at_once() {
    let morning = [milking("05:00", "05:40")];
    let chilled = check(SC, "61-34", &morning, "07:00 49 °F, 07:35 44 °F", Standing::Met);
    assert!(chilled.findings.iter().all(|finding| finding.step.stage != Stage::Blend), "one milking is blended with nothing");
    check(SC, "61-34", &morning, "07:00 49 °F, 07:45 46 °F, 08:30 44 °F", Standing::NotMet);
    check(SC, "61-34", &morning, "07:00 49 °F, 08:30 44 °F", Standing::NotShown);
}

/// Sources: Conn. Agencies Regs. 22-133-124(b): 3 h of completion; 7 Pa. Code 59a.408: 2 h.
#[test]
fn three_hours_are_not_two() {
    let morning = [milking("05:20", "06:00")];
    check(CT, "22-133-124", &morning, "08:55 40 °F", Standing::Met);
    check(PA, "59a.408", &morning, "08:55 40 °F", Standing::NotShown);
}

/// Sources: 25 TAC 217.27 says 45 °F; O.C.G.A. 26-2-458 says 7 °C. 7.1 °C is 44.78 °F.
#[test]
fn each_law_in_its_own_unit() {
    let morning = [milking("06:20", "07:00")];
    check(TX, "217.27", &morning, "09:00 7.1 °C", Standing::Met);
    check(GA, "26-2-458", &morning, "09:00 7.1 °C", Standing::NotMet);
    check(GA, "26-2-458", &morning, "09:00 7 °C", Standing::Met);
}

/// Sources: the blend limit of 50 °F (10 °C) of the same four texts; equal is allowed.
#[test]
fn warm_milk_on_cold_milk() {
    let two = [milking("06:20", "07:00"), milking("17:20", "18:00")];
    for (id, law) in [(PA, "59a.408"), (MA, "330 CMR 27.06"), (WA, "RCW 15.36"), (SC, "61-34")] {
        let over = check(id, law, &two, "08:50 38 °F, 18:02 51 °F, 19:30 38 °F", Standing::NotMet);
        assert_eq!(over.reason(), "Read 51 °F; the rule is no more than 50 °F when a later milking goes in.");
        check(id, law, &two, "08:50 38 °F, 18:02 50.0 °F, 19:30 38 °F", Standing::Met);
        check(id, law, &two, "08:50 38 °F, 19:30 51 °F, 19:55 38 °F", Standing::NotMet);
        // Each milking has its own two hours.
        check(id, law, &two, "18:02 49 °F, 19:30 38 °F", Standing::NotShown);
    }
}

/// Sources: 7 Pa. Code 59a.408; S.C. Code Regs. 61-34.VII. That a clock starts anew when warm milk goes in before its time is up is
/// common practice.
#[test]
fn later_milk_starts_a_clock_anew_and_proves_nothing_about_the_first() {
    let close = [milking("06:20", "07:00"), milking("08:00", "08:30")];
    check(PA, "59a.408", &close, "08:32 49 °F, 10:00 39 °F", Standing::Met);
    check(PA, "59a.408", &close, "07:30 39 °F, 08:32 49 °F", Standing::NotShown);
    let far = [milking("05:00", "05:40"), milking("17:20", "18:00")];
    let warm_again = check(SC, "61-34", &far, "18:02 51 °F", Standing::NotMet);
    let four_hours = warm_again.findings.iter().find(|finding| finding.step.within_minutes == Some(240)).unwrap();
    assert_eq!(four_hours.outcome.standing(), Standing::NotShown, "milk added later warmed it");
}

/// Sources: four cooling series of a goat-dairy book, read second-hand, against each law. Time zero is the end of milking, and
/// for the former Utah Code 4-3-14 (50 °F in 1 h and 41 °F in 2 h of being drawn) also the drawing.
#[test]
fn measured_ways_of_cooling() {
    let zero = [milking("06:00", "06:00")];
    let ice_bath = "06:30 48 °F, 07:00 42 °F, 07:30 40 °F";
    let cold_sink = "06:30 60 °F, 07:00 52 °F, 07:30 50 °F";
    let freezer = "07:00 50 °F, 07:30 43 °F, 07:45 40 °F";
    let refrigerator = "06:30 76 °F, 07:00 67 °F, 07:30 59 °F, 08:00 55 °F, 09:00 51 °F, 14:00 42 °F";
    for (id, law) in [(PA, "59a.408"), (OLD_UT, "4-3-14"), (TX, "217.27")] {
        check(id, law, &zero, ice_bath, Standing::Met);
    }
    for (id, law) in [(PA, "59a.408"), (TX, "217.27"), (NM, "21.34.2.17"), (CT, "22-133-124"), (SC, "61-34")] {
        check(id, law, &zero, refrigerator, Standing::NotMet);
    }
    check(OLD_UT, "4-3-14", &zero, cold_sink, Standing::NotMet);
    check(PA, "59a.408", &zero, cold_sink, Standing::NotShown);
    check(OLD_UT, "4-3-14", &zero, freezer, Standing::Met);
    check(PA, "59a.408", &zero, freezer, Standing::Met);
}

/// Source: 21.34.2.17(A) NMAC: from 32 to 45 °F.
#[test]
fn below_freezing_is_pointed_out() {
    let chilled = check(NM, "21.34.2.17", &[milking("06:20", "07:00")], "09:00 31 °F", Standing::NotShown);
    assert_eq!(chilled.reason(), "Read 31 °F, under the range of the rule; the rule is 32 °F to 45 °F within 2 h of the end of milking.");
    check(NM, "21.34.2.17", &[milking("06:20", "07:00")], "08:30 32 °F, 09:00 45 °F", Standing::Met);
    check(NM, "21.34.2.17", &[milking("06:20", "07:00")], "08:30 31 °F, 09:10 46 °F", Standing::NotMet);
    assert_eq!(chilled.below_freezing, Some(reading("09:00 31 °F")));
    assert_eq!(chilled.remarks(Zone::UTC), ["It read 31 °F at 09:00, below freezing: check the thermometer."]);
    assert_eq!(judged(NM, &[milking("06:20", "07:00")], "09:00 32 °F").below_freezing, None);
}

/// Source: the rule of judging: “at or before the deadline”, nothing worked out between readings. Times to the minute are
/// common practice.
#[test]
fn the_deadline_minute_counts_and_the_next_does_not() {
    let morning = [milking("06:20", "07:00")];
    check(PA, "59a.408", &morning, "09:00 40 °F", Standing::Met);
    check(PA, "59a.408", &morning, "09:00 40.01 °F", Standing::NotMet);
    let late = check(PA, "59a.408", &morning, "09:01 40 °F", Standing::NotShown);
    assert!(matches!(late.findings[0].outcome, Outcome::NotShown { why: Why::TooLate, .. }));
    let late = check(PA, "59a.408", &morning, "09:40 38 °F", Standing::NotShown);
    assert_eq!(
        late.reason(),
        "No reading shows 40 °F within 2 h of the end of milking; the first cold one, at 2 h 40 min, proves nothing about 2 h."
    );
    check(PA, "59a.408", &morning, "", Standing::NotShown);
    // A reading while milk was still coming, and one from before there was any, show nothing.
    check(PA, "59a.408", &morning, "06:40 38 °F", Standing::NotShown);
    let early = check(PA, "59a.408", &morning, "06:10 38 °F", Standing::NotShown);
    assert_eq!(early.ignored, [reading("06:10 38 °F")]);
}

#[test]
fn while_there_is_time_it_is_still_cooling() {
    let steps = place(PA).steps.0;
    let milked = [milking("06:20", "07:00")];
    let early = judge(&steps, &milked, &[reading("07:30 52 °F")], at("09:00"));
    assert_eq!(early.overall, Standing::Due);
    assert_eq!(early.next(Zone::UTC), "Read the temperature by 09:00: it must show 40 °F or less.");
    assert_eq!(judge(&steps, &milked, &[reading("07:30 52 °F")], at("09:01")).overall, Standing::NotShown);
    let unended = [MilkingTimes { start: at("06:20"), end: None }];
    let open = judge(&steps, &unended, &[reading("07:30 38 °F")], at("08:00"));
    assert_eq!((open.overall, open.next(Zone::UTC).as_str()), (Standing::NotShown, "Write down when milking ended."));
    assert_eq!(judge(&steps, &[], &[], at("08:00")).overall, Standing::NotShown);
    let bare = judge(&steps, &unended, &[], at("08:00"));
    assert_eq!(bare.to_string(), "Nobody can show it was cold in time. The end of milking is not written down, so no time can be counted.");
}

/// Source: 7 Pa. Code 59a.408: 50 °F when a later milking is added, and 40 °F within 2 h of its end. That the blend is to be read as soon
/// as the milk is in follows from it: an hour later nothing shows how warm it was.
#[test]
fn the_blend_is_asked_for_before_the_cooling() {
    let steps = place(PA).steps.0;
    let two = [milking("06:20", "07:00"), milking("17:20", "18:00")];
    let poured = judge(&steps, &two, &log("08:50 38 °F"), at("18:10"));
    assert_eq!(poured.overall, Standing::Due);
    let (fifty, forty) = (Temperature::fahrenheit(50), Temperature::fahrenheit(40));
    assert_eq!(poured.readings_due(), [(at("18:00"), fifty, Stage::Blend), (at("20:00"), forty, Stage::Cool)]);
    assert_eq!(poured.next(Zone::UTC), "Read it as soon as the later milking is in: it must not be above 50 °F.");
    let blended = judge(&steps, &two, &log("08:50 38 °F, 18:15 48 °F"), at("18:20"));
    assert_eq!(blended.readings_due(), [(at("20:00"), forty, Stage::Cool)]);
    assert_eq!(blended.next(Zone::UTC), "Read the temperature by 20:00: it must show 40 °F or less.");
    assert!(judge(&steps, &two, &log("08:50 38 °F, 18:15 48 °F, 19:30 39 °F"), at("19:40")).readings_due().is_empty());
    // S.C. Code Regs. 61-34.VII: 50 °F within 4 h of the start of the first milking and 45 °F within 2 h of the end: 45 °F comes first.
    let sc = judge(&place(SC).steps.0, &[milking("05:00", "05:40")], &[], at("06:00"));
    assert_eq!(sc.readings_due().first(), Some(&(at("07:40"), Temperature::fahrenheit(45), Stage::Cool)));
    assert_eq!(sc.readings_due().last().map(|due| due.0), Some(at("09:00")));
}

/// Source: 7 Pa. Code 59a.408; the clock times are those of the same readings.
#[test]
fn the_bracket_is_said_with_the_clock_times_too() {
    let morning = [milking("06:20", "07:00")];
    let said = |readings| judged(PA, &morning, readings).reason_at(Zone::UTC);
    assert_eq!(
        said("08:05 52 °F, 08:50 39 °F"),
        "Reached 40 °F between 1 h 5 min and 1 h 50 min after the end of milking: between 08:05 and 08:50."
    );
    assert_eq!(said("08:50 39 °F"), "Was at 40 °F or colder when read at 08:50, 1 h 50 min after the end of milking.");
    assert_eq!(
        said("09:05 44 °F"),
        "Still 44 °F when read at 09:05, 2 h 5 min after the end of milking; the rule is 40 °F within 2 h of the end of milking."
    );
    assert_eq!(
        said("09:40 38 °F"),
        "No reading shows 40 °F within 2 h of the end of milking; the first cold one, at 2 h 40 min (09:40), proves nothing about 2 h."
    );
}

/// Sources: 7 Pa. Code 59a.408: two hours; IANA time zone database: New York's clocks went from 02:00 to 03:00 on 8 March 2026, and
/// from 02:00 EDT back to 01:00 EST on 1 November 2026. Two hours are two hours.
#[test]
fn two_hours_across_a_clock_change() {
    let farm = Zone::parse("America/New_York").unwrap();
    let steps = place(PA).steps.0;
    let found = |start: &str, end: &str, read: &str| {
        let at = |typed: &str| farm.parse_moment(typed).unwrap();
        let cold = Reading::of(at(read), Temperature::fahrenheit(39));
        let milkings = [MilkingTimes { start: at(start), end: Some(at(end)) }];
        judge(&steps, &milkings, &[cold], at("2026-12-01T00:00"))
    };
    let spring = |read| found("2026-03-08T01:00", "2026-03-08T01:30", read);
    assert_eq!(spring("2026-03-08T04:30").overall, Standing::Met);
    assert_eq!(spring("2026-03-08T04:31").overall, Standing::NotShown);
    let autumn = |read| found("2026-11-01T00:10", "2026-11-01T00:30", read);
    assert_eq!(autumn("2026-11-01T01:30:00-05:00").overall, Standing::Met);
    assert_eq!(autumn("2026-11-01T01:31:00-05:00").overall, Standing::NotShown);
    let said = spring("2026-03-08T04:00").reason_at(farm);
    assert_eq!(said, "Was at 40 °F or colder when read at 04:00, 1 h 30 min after the end of milking.");
}

/// Source: figures worked out from Newton's law of cooling and rounded: 2 + 33 exp(-t/28) °C; and a jar that stood at 36 °C less 0.02 °C a
/// minute for 100 minutes and then in a bath of 1 °C with a time constant of 15 minutes, where a straight line between the two
/// readings comes to 10 °C at 110.7 minutes and the milk itself only at 119.5. A made-up limit of 10 °C.
#[test]
fn nothing_is_worked_out_between_two_readings() {
    let found = |minutes: i64, readings: &str| {
        let steps = Steps::parse(&format!("cool 10 °C within {minutes} min of milking end [chosen]")).unwrap();
        judge(&steps.0, &[milking("06:00", "06:00")], &log(readings), at("60:00"))
    };
    let curve = "06:00 35.0 °C, 06:10 25.1 °C, 06:20 18.2 °C, 06:30 13.3 °C, 06:45 8.6 °C, 07:00 5.9 °C, 07:30 3.3 °C, 08:00 2.5 °C";
    assert_eq!(found(40, curve).overall, Standing::NotShown);
    assert_eq!(found(45, curve).overall, Standing::Met);
    assert_eq!(found(45, curve).reason(), "Reached 10 °C between 30 min and 45 min after the end of milking.");
    assert_eq!(found(30, curve).overall, Standing::NotMet);
    assert_eq!(found(115, "06:00 36.0 °C, 08:10 5.47 °C").overall, Standing::NotShown);
    // 40, 45 and 50 °F are 4.4444…, 7.2222… and 10 °C (NIST Special Publication 811, B.8).
    for (law, over, under) in [(40, 445, 444), (45, 723, 722), (50, 1001, 1000)] {
        let celsius = |hundredths| Temperature::hundredths(hundredths, Scale::Celsius);
        assert!(celsius(over) > Temperature::fahrenheit(law) && celsius(under) <= Temperature::fahrenheit(law));
    }
    assert_eq!(Temperature::fahrenheit(50), Temperature::celsius(10));
}

/// Source: 330 CMR 27.06 and 27.08: held at 40 °F; 7 Pa. Code 59a.408 as read names no holding figure.
#[test]
fn milk_that_warms_again_is_a_finding_of_its_own() {
    let warmed = check(MA, "27.08", &[milking("06:20", "07:00")], "08:50 38 °F, 13:00 44 °F, 14:00 38 °F", Standing::NotMet);
    assert_eq!(warmed.warmed_up, Some(reading("13:00 44 °F")));
    let cooled = warmed.findings.iter().find(|finding| finding.step.stage == Stage::Cool).unwrap();
    assert_eq!(cooled.outcome, Outcome::Met { at: at("08:50") });
    let warmed = check(PA, "59a.408", &[milking("06:20", "07:00")], "08:50 38 °F, 13:00 44 °F", Standing::Met);
    assert_eq!(warmed.remarks(Zone::UTC), ["It was cold and then read 44 °F at 13:00: it warmed up."]);
}

/// Sources: A.A.C. R3-2-805 says immediately; 77 Ill. Adm. Code 775.55 as read says only 41 °F in storage. A reading as milking ends
/// is common practice where the milk is cooled in the line.
#[test]
fn what_is_not_known_is_never_met() {
    let morning = [milking("06:20", "07:00")];
    check("us-az-grade-a-raw", "R3-2-805", &morning, "07:30 44 °F", Standing::NotShown);
    check("us-az-grade-a-raw", "R3-2-805", &morning, "07:10 60 °F, 07:30 44 °F", Standing::NotShown);
    check("us-az-grade-a-raw", "R3-2-805", &morning, "07:00 44 °F", Standing::Met);
    check("us-il-permit", "775.55", &morning, "07:30 38 °F", Standing::NotKnown);
    let unknown = check("not-listed", "none", &morning, "07:30 33 °F", Standing::NotKnown);
    assert_eq!(unknown.to_string(), "The rule is not known. How fast the milk must be cold is not known for this place.");
    let untimed: Vec<Step> = place(PA).steps.0.into_iter().map(|step| Step { within_minutes: None, ..step }).collect();
    assert_eq!(judge(&untimed, &morning, &[reading("07:30 33 °F")], at("60:00")).overall, Standing::NotKnown);
}

type Taken = Vec<(i64, i64)>;

fn taken(readings: &Taken, warmer: i64) -> Vec<Reading> {
    let one = |(minutes, hundredths): &(i64, i64)| {
        let temperature = Temperature::hundredths(hundredths + warmer * 100, Scale::Fahrenheit);
        Reading::of(at("06:00").plus_minutes(*minutes), temperature)
    };
    readings.iter().map(one).collect()
}

/// Readings near the limits and near the deadlines, where the judging turns.
fn readings() -> impl Strategy<Value = Taken> {
    let close = prop::sample::select(vec![3800i64, 3920, 3999, 4000, 4001, 4100, 4460, 4500, 4501, 5000, 5001, 6000]);
    let minutes = prop::sample::select(vec![-5i64, 10, 40, 60, 100, 159, 160, 161, 220, 240, 241, 400, 700, 730, 800, 860, 861, 900]);
    prop::collection::vec((minutes, close), 0..7)
}

/// Places with a timed cooling step. (Where only a holding limit is known, milk that never was cold cannot warm up again.)
fn timed() -> impl Strategy<Value = &'static str> {
    prop::sample::select(vec![PA, MA, WA, SC, CT, TX, GA, NM, OLD_UT, "us-ny-on-farm", "nz-rcs-2016", "default-conservative"])
}

fn lots() -> impl Strategy<Value = Vec<MilkingTimes>> {
    let two = vec![milking("06:00", "06:40"), milking("17:30", "18:10")];
    let close = vec![milking("06:00", "06:40"), milking("08:00", "08:30")];
    prop::sample::select(vec![two[..1].to_vec(), two, close, vec![MilkingTimes { start: at("06:00"), end: None }]])
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn warmer_is_never_better(id in timed(), lot in lots(), readings in readings(), now in 0i64..2000, warmer in 1i64..9) {
        let (steps, now) = (place(id).steps.0, at("06:00").plus_minutes(now));
        let before = judge(&steps, &lot, &taken(&readings, 0), now);
        let after = judge(&steps, &lot, &taken(&readings, warmer), now);
        prop_assert!(after.overall >= before.overall, "{before} / {after}");
        for (one, other) in before.findings.iter().zip(&after.findings) {
            prop_assert!(other.outcome.standing() >= one.outcome.standing(), "{one:?} / {other:?}");
        }
    }

    /// Holds for milk that only cools: taking a warm reading out of the way of a cold one would help.
    #[test]
    fn later_is_never_better(id in timed(), mut log in prop::collection::vec((0i64..400, 3800i64..6000, 0i64..60), 1..6)) {
        let steps = place(id).steps.0;
        // Two readings in one minute count the warmer as the later, so they must stay apart.
        log.sort_unstable();
        log.dedup_by_key(|(minutes, _, _)| *minutes);
        let mut temperatures: Vec<i64> = log.iter().map(|(_, hundredths, _)| *hundredths).collect();
        temperatures.sort_unstable_by(|one, other| other.cmp(one));
        let mut late = 0;
        let (mut then, mut later) = (Vec::new(), Vec::new());
        for ((minutes, _, more), hundredths) in log.iter().zip(temperatures) {
            late += more;
            then.push((40 + minutes, hundredths));
            later.push((40 + minutes + late, hundredths));
        }
        let before = judge(&steps, &[milking("06:00", "06:40")], &taken(&then, 0), at("60:00"));
        let after = judge(&steps, &[milking("06:00", "06:40")], &taken(&later, 0), at("60:00"));
        prop_assert!(after.overall >= before.overall, "{before} / {after}");
    }

    #[test]
    fn without_the_end_of_milking_nothing_is_met(id in timed(), lot in lots(), which in 0usize..2, readings in readings(), now in 0i64..2000) {
        let mut lot = lot;
        let unended = which.min(lot.len() - 1);
        lot[unended].end = None;
        let found = judge(&place(id).steps.0, &lot, &taken(&readings, 0), at("06:00").plus_minutes(now));
        prop_assert_ne!(found.overall, Standing::Met);
    }

    /// Taking away a warm reading hides what it showed, which no judge can see. Taking away cold ones never helps.
    #[test]
    fn fewer_cold_readings_are_never_better(id in timed(), lot in lots(), readings in readings(), kept in prop::collection::vec(any::<bool>(), 7)) {
        let steps = place(id).steps.0;
        let coldest = steps.iter().map(|step| step.limit).min().unwrap();
        let all = taken(&readings, 0);
        let fewer: Vec<Reading> =
            all.iter().zip(&kept).filter(|(reading, kept)| **kept || reading.temperature > coldest).map(|(reading, _)| *reading).collect();
        if judge(&steps, &lot, &all, at("60:00")).overall != Standing::Met {
            prop_assert_ne!(judge(&steps, &lot, &fewer, at("60:00")).overall, Standing::Met);
        }
        prop_assert_ne!(judge(&steps, &lot, &[], at("60:00")).overall, Standing::Met);
    }
}
