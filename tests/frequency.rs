//! How often to test, how much may go out, and what the rule sets carry of both, against the laws they come from.
//!
//! Where a figure was read second-hand or is from memory, the check says so: it then shows only that the figure is kept
//! as it was found, and not that it is the law.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot set itself up has failed")]

use proptest::prelude::*;
use rust_decimal::Decimal;
use tallypail::trade::{
    caps::{Amounts, Cap, Watched, watch},
    frequency::{Frequencies, Frequency, How, Spread},
    jars::Jars,
    kept::{Kept, standing},
    measure::Weight,
    rules::{Channel, Channels, RuleSet, Sure, places},
    when::Day,
};

fn day(text: &str) -> Day {
    text.parse().unwrap()
}

fn days(texts: &[&str]) -> Vec<Day> {
    texts.iter().map(|text| day(text)).collect()
}

fn place(id: &str) -> RuleSet {
    places().unwrap().into_iter().find(|set| set.id == id).unwrap_or_else(|| panic!("no place {id}"))
}

/// The frequency of a place that holds for a subject.
fn asked(id: &str, subject: &str) -> Frequency {
    let found = place(id).tests.0.into_iter().find(|test| test.subjects.iter().any(|name| name == subject));
    found.unwrap_or_else(|| panic!("{id} says nothing of {subject}"))
}

fn own(line: &str) -> Frequency {
    Frequencies::parse(line).unwrap().0.remove(0)
}

/// Source: O.C.G.A. 26-2-457(d): four samples in six months, in four separate months, or in three where two dates of one
/// month are at least 20 days apart.
#[test]
fn georgias_three_months_are_enough_when_two_dates_lie_apart() {
    let georgia = asked("us-ga-raw-dairy-act", "plate count");
    let (from, to) = (day("2026-01-01"), day("2026-06-30"));
    let met = |done: &[&str]| georgia.how.met_in(&days(done), from, to);
    assert_eq!(met(&["2026-01-05", "2026-02-03", "2026-03-10", "2026-03-31"]), Some(true), "10 and 31 March are 21 days apart");
    assert_eq!(met(&["2026-01-05", "2026-02-03", "2026-03-11", "2026-03-31"]), Some(true), "20 days are enough");
    assert_eq!(met(&["2026-01-05", "2026-02-03", "2026-03-12", "2026-03-31"]), Some(false), "19 are not");
    assert_eq!(met(&["2026-01-05", "2026-02-03", "2026-03-10"]), Some(false), "three samples are not four");
    assert_eq!(met(&["2026-01-05", "2026-02-03", "2026-03-10", "2026-06-30"]), Some(true), "four months");
    assert_eq!(met(&["2026-02-01", "2026-02-28", "2026-03-01", "2026-03-31"]), Some(false), "two months never are");
    assert_eq!(met(&["2026-02-28", "2026-03-20", "2026-04-20", "2026-04-21"]), Some(false), "20 days in two months are not in one");
    assert_eq!(met(&["2025-12-31", "2026-02-03", "2026-03-10", "2026-03-31"]), Some(false), "December is outside");
}

/// Source: O.C.G.A. 26-2-457(f): samples of one day make one result; and New Mexico's 21.34.2.14 NMAC: six samples on
/// separate days in six months.
#[test]
fn samples_of_one_day_are_one() {
    let (from, to) = (day("2026-01-01"), day("2026-06-30"));
    let four = own("plate count: 4 in 6 months [read]").how;
    assert_eq!(four.met_in(&days(&["2026-01-05", "2026-01-05", "2026-02-03", "2026-03-01"]), from, to), Some(false));
    let mexico = asked("us-nm-retail-raw", "coliforms").how;
    let mut done = days(&["2026-01-05", "2026-02-02", "2026-03-02", "2026-04-06", "2026-05-04", "2026-05-04"]);
    assert_eq!(mexico.met_in(&done, from, to), Some(false));
    done.push(day("2026-05-05"));
    assert_eq!(mexico.met_in(&done, from, to), Some(true));
    assert_eq!(asked("us-sc-raw", "plate count").how.met_in(&done, from, to), None, "S.C. Code Regs. 61-34: as the department sets");
}

/// Source: O.C.G.A. 26-2-457(d), any six months in a row; the calendar.
#[test]
fn six_months_roll_and_say_when_the_next_is_due() {
    let georgia = asked("us-ga-raw-dairy-act", "plate count");
    let since = day("2025-01-01");
    let done = days(&["2026-01-05", "2026-02-03", "2026-03-10", "2026-03-31"]);
    let on = |today: &str| standing(&georgia, &done, since, day(today));
    // Without another, July ends the first six months that have too few: 5 January has dropped out of them.
    assert_eq!(on("2026-06-10"), Kept::Met { due: Some(day("2026-07-31")) });
    assert_eq!(on("2026-07-01"), Kept::Due { by: day("2026-07-31") });
    assert_eq!(on("2026-08-02"), Kept::Overdue { since: day("2026-08-01") });
    assert_eq!(
        georgia.reason("plate count", &done, since, day("2026-06-10")),
        "4 of 4 plate counts in the six months to 30 Jun 2026; the next by 31 Jul 2026"
    );
    let two = days(&["2026-04-14", "2026-05-12"]);
    let began = day("2026-01-01");
    assert_eq!(standing(&georgia, &two, began, day("2026-06-10")), Kept::Due { by: day("2026-06-30") });
    assert_eq!(
        georgia.reason("plate count", &two, began, day("2026-06-10")),
        "2 of 4 plate counts in the six months to 30 Jun 2026; the next by 30 Jun 2026"
    );
    // A sample still to come is not done.
    assert_eq!(standing(&georgia, &days(&["2026-09-01"]), began, day("2026-06-10")), standing(&georgia, &[], began, day("2026-06-10")));
}

/// Common practice: nobody can have missed what the ledger does not cover. A ledger of 10 May has its first
/// whole six months from June to November, and three separate months are needed at the least (O.C.G.A. 26-2-457(d)).
#[test]
fn months_before_the_ledger_are_never_called_missed() {
    let georgia = asked("us-ga-raw-dairy-act", "plate count");
    let (since, today) = (day("2026-05-10"), day("2026-05-20"));
    assert_eq!(standing(&georgia, &[], since, today), Kept::Due { by: day("2026-09-30") });
    assert_eq!(standing(&georgia, &[], since, day("2026-11-30")), Kept::Due { by: day("2026-11-30") });
    assert_eq!(standing(&georgia, &[], since, day("2026-12-01")), Kept::Overdue { since: day("2026-12-01") });
    let monthly = asked("us-ma-retail", "plate count");
    assert_eq!(standing(&monthly, &[], since, today), Kept::Due { by: day("2026-05-31") });
    assert_eq!(standing(&monthly, &[], since, day("2026-06-01")), Kept::Due { by: day("2026-06-30") });
    assert_eq!(standing(&monthly, &[], since, day("2026-08-15")), Kept::Overdue { since: day("2026-07-01") });
}

/// Sources: 7 Pa. Code 59a.404 to 59a.407, two a month; 330 CMR 27.13, one a month; 25 TAC 217.26, one a quarter.
#[test]
fn months_and_quarters_are_those_of_the_calendar() {
    let since = day("2025-01-01");
    let pa = asked("us-pa-permit", "coliforms");
    let all_of_may = ["2026-05-04", "2026-05-18"];
    assert_eq!(standing(&pa, &days(&all_of_may), since, day("2026-05-20")), Kept::Met { due: Some(day("2026-06-30")) });
    assert_eq!(standing(&pa, &days(&all_of_may), since, day("2026-06-30")), Kept::Due { by: day("2026-06-30") });
    assert_eq!(standing(&pa, &days(&all_of_may), since, day("2026-07-01")), Kept::Overdue { since: day("2026-07-01") });
    assert_eq!(
        pa.reason("coliforms", &days(&["2026-05-04", "2026-06-03"]), day("2026-05-01"), day("2026-06-20")),
        "1 of 2 tests for coliforms in June 2026; overdue since 1 Jun 2026"
    );
    let texas = asked("us-tx-raw-retail", "somatic cells");
    assert_eq!(standing(&texas, &days(&["2026-01-02"]), since, day("2026-02-01")), Kept::Met { due: Some(day("2026-06-30")) });
    assert_eq!(standing(&texas, &days(&["2026-01-02"]), since, day("2026-04-01")), Kept::Due { by: day("2026-06-30") });
}

/// Sources: 7 Pa. Code 59a.404(b)(2), no more than 13 months between TB tests; 59a.407(b), water every six months. The last
/// day of a shorter month stands in for a day it has not (the calendar).
#[test]
fn the_next_is_due_so_many_months_after_the_last() {
    let (tb, water) = (asked("us-pa-permit", "TB test"), asked("us-pa-permit", "water coliforms"));
    let since = day("2025-01-01");
    let tested = days(&["2025-03-01"]);
    assert_eq!(standing(&tb, &tested, since, day("2026-04-01")), Kept::Met { due: Some(day("2026-04-01")) });
    assert_eq!(standing(&tb, &tested, since, day("2026-04-02")), Kept::Overdue { since: day("2026-04-02") });
    assert_eq!(standing(&water, &days(&["2026-01-10"]), since, day("2026-02-01")), Kept::Met { due: Some(day("2026-07-10")) });
    assert_eq!(standing(&water, &days(&["2025-08-31"]), since, day("2026-02-01")), Kept::Met { due: Some(day("2026-02-28")) });
    assert_eq!(standing(&tb, &[], since, day("2025-06-01")), Kept::Due { by: day("2026-02-01") });
    assert_eq!(standing(&tb, &[], since, day("2026-02-02")), Kept::Overdue { since: day("2026-02-02") });
    assert_eq!(tb.reason("TB test", &tested, since, day("2025-06-01")), "last TB test on 1 Mar 2025; the next by 1 Apr 2026");
    assert_eq!(tb.reason("TB test", &[], since, day("2025-06-01")), "no TB test is written down; the next by 1 Feb 2026");
    // The last test in the ledger is from before its first day, so another may have followed that was not written in.
    assert_eq!(standing(&tb, &tested, day("2026-05-01"), day("2026-06-01")), Kept::Due { by: day("2027-06-01") });
    assert_eq!(standing(&asked("us-sc-raw", "pathogens"), &tested, since, day("2026-06-01")), Kept::NotKnown);
}

/// A day of a farm with nothing on it.
fn nothing<'a>(on: &str, since: &str) -> Amounts<'a> {
    Amounts { handed_out: &[], milked: &[], cows_in_milk: 0, cows_calved: 0, on: day(on), since: day(since) }
}

fn cap(id: &str) -> Cap {
    place(id).caps.0.remove(0)
}

fn over(cap: &Cap, amounts: &Amounts) -> bool {
    matches!(watch(cap, amounts), Watched::Over { .. })
}

/// Source: Vermont's agency page on 6 V.S.A. 2775-2778, read second-hand: 350 quarts a week, and 1,400 in Tier 2. A
/// half-gallon is two quarts (NIST Handbook 44, Appendix C).
#[test]
fn vermonts_weeks() {
    let (one, two) = (cap("us-vt-tier1"), cap("us-vt-tier2"));
    assert_eq!((one.sure, two.sure), (Sure::SecondHand, Sure::SecondHand));
    let week = |halves: i64| [(day("2026-05-11"), Jars::halves(100)), (day("2026-05-17"), Jars::halves(halves - 100))];
    let held = |cap: &Cap, halves: i64| {
        let handed_out = week(halves);
        watch(cap, &Amounts { handed_out: &handed_out, ..nothing("2026-05-14", "2026-01-01") })
    };
    assert_eq!(held(&one, 175), Watched::Near { used: 350.into() });
    assert_eq!(held(&one, 176), Watched::Over { used: 352.into() });
    assert_eq!(held(&one, 157), Watched::Within { used: 314.into() }, "nine tenths are 315 quarts");
    assert_eq!(held(&two, 700), Watched::Near { used: 1400.into() });
    assert_eq!(held(&two, 701), Watched::Over { used: 1402.into() });
    assert_eq!(one.said(held(&one, 176)), "352 of 350 quarts a week");
    // Monday to Sunday: Sunday's jars are not the next week's.
    let handed_out = week(176);
    assert!(!over(&one, &Amounts { handed_out: &handed_out, ..nothing("2026-05-18", "2026-01-01") }));
    let pint = [(day("2026-05-12"), Jars { half_gallons: 175, pints: 1, ..Jars::NONE })];
    assert_eq!(
        watch(&one, &Amounts { handed_out: &pint, ..nothing("2026-05-12", "2026-01-01") }),
        Watched::Over { used: Decimal::new(3505, 1) }
    );
}

/// Source: RSA 184:79 XI, New Hampshire: an average of more than 80 quarts a day.
#[test]
fn new_hampshires_average_day() {
    let cap = cap("us-nh-raw");
    let average = |tenth: i64| {
        let all: Vec<(Day, Jars)> = day("2026-05-01").iter_days().take(10).map(|day| (day, Jars::halves(40))).collect();
        let more = [(day("2026-05-10"), Jars::halves(tenth))];
        let handed_out: Vec<(Day, Jars)> = all.into_iter().chain(more).collect();
        watch(&cap, &Amounts { handed_out: &handed_out, ..nothing("2026-05-10", "2026-05-01") })
    };
    assert_eq!(average(0), Watched::Near { used: 80.into() }, "80 is not more than 80");
    assert_eq!(average(1), Watched::Over { used: Decimal::new(802, 1) }, "40.1 half-gallons a day");
    let old = [(day("2025-05-10"), Jars::halves(100_000))];
    let year = Amounts { handed_out: &old, ..nothing("2026-05-10", "2024-01-01") };
    assert_eq!(watch(&cap, &year), Watched::Within { used: 0.into() }, "only the last twelve months count");
}

/// Source: Ark. Code 20-59-248 in the copy of 2024-03-28: an average of up to 500 gallons a month. That a younger ledger
/// counts as one month is this program's choice.
#[test]
fn arkansas_average_month() {
    let cap = cap("us-ar-on-farm");
    let handed_out = [(day("2025-07-01"), Jars { gallons: 6000, ..Jars::NONE })];
    let year = Amounts { handed_out: &handed_out, ..nothing("2026-05-10", "2024-01-01") };
    assert_eq!(watch(&cap, &year), Watched::Near { used: 500.into() });
    let young = [(day("2026-05-10"), Jars { gallons: 449, half_gallons: 1, ..Jars::NONE })];
    let young = Amounts { handed_out: &young, ..nothing("2026-05-10", "2026-05-01") };
    assert_eq!(watch(&cap, &young), Watched::Within { used: Decimal::new(4495, 1) });
}

/// Sources: Conn. Agencies Regs. 22-133-127(a), 250 lb a day or less; ORS 621.012, three cows that have calved and two in
/// milk; Iowa Code 195.1, ten animals in milk.
#[test]
fn a_days_milk_and_cows() {
    let connecticut = cap("us-ct-retail-raw");
    let milked = |pounds: &str| {
        let milked = [pounds, "124.9"].map(|pounds| (day("2026-05-10"), Weight::parse(pounds).unwrap()));
        over(&connecticut, &Amounts { milked: &milked, ..nothing("2026-05-10", "2026-01-01") })
    };
    assert!(!milked("124.1") && !milked("125.1") && milked("126.1") && milked("125.2"));

    let cows = |id: &str, cows_calved: u32, cows_in_milk: u32| {
        let amounts = Amounts { cows_calved, cows_in_milk, ..nothing("2026-05-10", "2026-01-01") };
        place(id).caps.0.iter().any(|cap| over(cap, &amounts))
    };
    assert!(!cows("us-or-exempt", 3, 2) && cows("us-or-exempt", 3, 3) && cows("us-or-exempt", 4, 2));
    assert!(!cows("us-ia-raw-dairy", 12, 10) && cows("us-ia-raw-dairy", 12, 11));
}

/// A few figures of the file against the texts they were read in. Sources: 7 Pa. Code 59a.408 (pacodeandbulletin.gov); S.C.
/// Code Regs. 61-34.VII (regulations.justia.com); Conn. Agencies Regs. 22-133-129 (ctrules.elaws.us); Food Hygiene (Wales)
/// Regs 2006 Sch. 6 (legislation.gov.uk); Utah Code 4-3-603; arrêté du 13 juillet 2012, Annex II
/// (legal.tricoteuses.fr/articles/JORFARTI000026208582); 25 TAC 217.27. Second-hand: Reg. (EC) 853/2004 in an Italian
/// quotation, Tier-LMHV Annex 9 in a table. From memory: Vermont's somatic cells,
/// and the action at 3 of 5 in South Carolina, where the figures and the notice were read.
#[test]
fn limits_are_those_of_the_law() {
    for (id, limit) in [
        ("us-pa-permit", "plate count at most 20000 per mL, 2 of 4 notice, 3 of 5 action [read]"),
        ("us-sc-raw", "coliforms at most 10 per g, 2 of 4 notice, 3 of 5 action [memory]"),
        ("us-ct-retail-raw", "thermoduric count at most 1000 per mL [read]"),
        ("uk-england-wales-rdm", "coliforms below 100 per mL [read]"),
        ("us-ut-2026", "plate count at most 20000 per mL, above 40000 calls for pathogens [read]"),
        ("fr-2012-direct", "E. coli at most 100 per mL, 5 units with 2 above 10 [read]"),
        ("us-tx-raw-retail", "aflatoxin M1 below 0.5 ppb [read]"),
        ("us-ia-raw-dairy", "plate count limit not known [read]"),
        ("eu-853-2004", "plate count at most 100000 per mL, geometric mean of 2 months, 2 samples a month [second-hand]"),
        ("de-vorzugsmilch", "coliforms at most 100 per mL, 5 units with 1 above 20 [second-hand]"),
        ("us-vt-tier2", "somatic cells at most 225000 per mL [memory]"),
    ] {
        assert!(place(id).limits.0.iter().any(|kept| kept.to_string() == limit), "{id}: {limit}");
    }
    for set in places().unwrap() {
        let averaged = set.limits_line().contains("same day averaged");
        let its_law = ["us-ga-raw-dairy-act", "us-pmo-grade-a-raw-for-pasteurization"].contains(&set.id.as_str());
        assert_eq!(averaged, its_law, "{}: only O.C.G.A. 26-2-457(f) and what it copies average a day", set.id);
    }
}

/// Sources: 21.34.2.14(D) NMAC, a check sample 3 to 10 days after the warning; Iowa Code 195.6, three years; 7 Pa. Code
/// 59a.407(d), one year for tests of the water. Second-hand: Okla. Stat. 2-7-409(B) for the model ordinance.
#[test]
fn sampling_again_and_keeping_records() {
    assert_eq!(place("us-nm-retail-raw").resample_shown(), "not before 3 days after the written warning, and within 10 (read in the law)");
    let ordinance = place("us-pmo-grade-a-raw-for-pasteurization").resample.unwrap();
    assert_eq!((ordinance.not_before_days, ordinance.within_days, ordinance.sure), (3, 21, Sure::SecondHand));
    assert_eq!(place("us-ia-raw-dairy").keep_years_shown(), "3 years (read in the law): tests (195.6)");
    assert_eq!(place("us-pa-permit").keep_years.unwrap().0, 1);
    assert_eq!(place("us-pa-permit").resample_shown(), "not known");
}

/// Sources: 1 NYCRR 2.3(b), on the farm alone; AS 17.20.015, from owner to owner. From memory: Pennsylvania's ways. The
/// careful starting rules are no law, and nothing in them may look like one.
#[test]
fn ways_of_handing_out() {
    assert_eq!(place("us-ny-on-farm").channels, Channels::Named(vec![Channel::FarmGate], Sure::Read));
    assert_eq!(place("us-ak-herdshare").channels.to_string(), "herdshare [read]");
    assert_eq!(place("us-pa-permit").channels.to_string(), "farm gate, shop, delivery [memory]");
    assert_eq!(place("ca-prohibited").channels.to_string(), "none named [second-hand]");
    assert_eq!(place("eu-853-2004").channels, Channels::NotKnown);
    let careful = place("default-conservative");
    let all = [careful.limits_line(), careful.tests.to_string(), careful.caps.to_string(), careful.channels.to_string()].join("; ");
    assert!(all.contains("[chosen]") && !["[read]", "[second-hand]", "[memory]"].iter().any(|word| all.contains(word)), "{all}");
    assert_eq!(careful.tests.to_string(), "plate count, coliforms: 2 a month [chosen]");
    assert_eq!(place("us-ar-on-farm").caps.to_string(), "500 gallons a month on average [read]");
}

#[test]
fn nonsense_gets_a_sentence() {
    for typed in [
        "often",
        ";",
        "plate count: 2 a month",
        "plate count: 0 a month [read]",
        "plate count: -1 a month [read]",
        ": 2 a month [read]",
        "plate count: 2 a year [read]",
        "plate count: every 9999999999 months [read]",
        "plate count: 4 in 6 months, in 4 months [read]",
        "plate count:2 a month [read]",
        "plate count: 2 a month [sure]",
        "🥛: 2 a month [read]",
        "plate count, : 2 a month [read]",
    ] {
        let fault = Frequencies::parse(typed).unwrap_err().to_string();
        assert!(fault.ends_with("Write it like: plate count, coliforms: 2 a month [chosen]"), "{typed}: {fault}");
    }
    for typed in ["farm gate", "post [read]", "farm gate, [read]", "none named, shop [read]", "[read]", "🥛"] {
        assert!(Channels::parse(typed).unwrap_err().to_string().contains("does not say how milk goes out"), "{typed}");
    }
    for nothing in ["", " ", "not known"] {
        assert_eq!(Frequencies::parse(nothing).unwrap().to_string(), "not known");
        assert_eq!(Channels::parse(nothing).unwrap().to_string(), "not known");
    }
}

fn any_sure() -> impl Strategy<Value = Sure> {
    prop::sample::select(vec![Sure::Read, Sure::SecondHand, Sure::Memory, Sure::Chosen])
}

fn any_how() -> impl Strategy<Value = How> {
    let spread = prop_oneof![
        Just(None),
        (1u32..99).prop_map(|days| Some(Spread::Days(days))),
        (1u32..99, 1u32..99, 1u32..31).prop_map(|(months, or_months, days_apart)| Some(Spread::Months { months, or_months, days_apart })),
    ];
    prop_oneof![
        (1u32..99).prop_map(How::PerMonth),
        (1u32..99).prop_map(How::PerQuarter),
        (1u32..99, 1u32..120, spread).prop_map(|(count, months, spread)| How::In { count, months, spread }),
        (1u32..120).prop_map(How::EveryMonths),
        (1u32..3660).prop_map(How::EveryDays),
        Just(How::AsSet),
    ]
}

fn any_frequency() -> impl Strategy<Value = Frequency> {
    let subject =
        prop::sample::select(vec!["plate count", "E. coli O157:H7", "influenza A (H5N1)", "Shiga toxin-producing E. coli", "TB test"]);
    (prop::collection::vec(subject.prop_map(str::to_owned), 1..4), any_how(), any::<bool>(), any_sure())
        .prop_map(|(subjects, how, each_cow, sure)| Frequency { subjects, how, each_cow, sure })
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn what_is_shown_can_be_read(
        tests in prop::collection::vec(any_frequency(), 0..5),
        ways in prop::collection::vec(prop::sample::select(Channel::WORDS.map(|(way, _)| way).to_vec()), 0..4),
        sure in any_sure(),
    ) {
        let (tests, ways) = (Frequencies(tests), Channels::Named(ways, sure));
        prop_assert_eq!(Frequencies::parse(&tests.to_string()).unwrap(), tests);
        prop_assert_eq!(Channels::parse(&ways.to_string()).unwrap(), ways);
    }

    /// One more sample never makes things worse, and nothing is overdue that the ledger does not wholly cover.
    #[test]
    fn one_more_never_harms(how in any_how(), done in prop::collection::vec(0u64..900, 0..12), more in 0u64..900, today in 0u64..900) {
        let at = |nth: u64| day("2025-01-01") + chrono::Days::new(nth);
        let frequency = Frequency { subjects: vec!["plate count".into()], how, each_cow: false, sure: Sure::Chosen };
        let mut done: Vec<Day> = done.into_iter().map(at).collect();
        let rank = |kept: Kept| match kept { Kept::Overdue { .. } => 0, Kept::Due { .. } => 1, Kept::Met { .. } => 2, Kept::NotKnown => 3 };
        let before = standing(&frequency, &done, day("2025-01-01"), at(today));
        done.push(at(more));
        let after = standing(&frequency, &done, day("2025-01-01"), at(today));
        prop_assert!(rank(after) >= rank(before), "{:?} then {:?}", before, after);
        let young = standing(&frequency, &done, at(today), at(today));
        prop_assert!(rank(young) > 0, "{:?}", young);
        if let Kept::Due { by } | Kept::Met { due: Some(by) } = after {
            prop_assert!(by >= at(today));
        }
    }
}
