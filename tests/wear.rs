//! Wear and capital recovery against printed examples. Where a source worked with a factor cut to four digits, the exact
//! figure is tested and the printed one named.

use proptest::prelude::*;
use rust_decimal::{Decimal, RoundingStrategy};
use std::num::NonZeroU32;
use tallypail::trade::{
    money::Money,
    wear::{Gear, Held, Span, Worth, capital_recovery_factor},
    when::Day,
};

fn figure(text: &str) -> Decimal {
    Decimal::from_str_exact(text).unwrap()
}

fn day(text: &str) -> Day {
    text.parse().unwrap()
}

fn span(from: &str, to: &str) -> Span {
    Span { from: day(from), to: day(to) }
}

fn worth(price: i64, salvage: i64, years: i64) -> Worth {
    Worth::of(Money::cents(price * 100), Money::cents(salvage * 100), years).unwrap()
}

fn factor(rate: Decimal, periods: u32, places: u32) -> String {
    let factor = capital_recovery_factor(rate, NonZeroU32::new(periods).unwrap());
    factor.round_dp_with_strategy(places, RoundingStrategy::MidpointAwayFromZero).to_string()
}

/// Source: Univ. of Maryland Extension, “The DIRTI-5” (2020): a tractor of 30,000 worth 10,000 after 10 years wears 2,000.
#[test]
fn a_tractor_wears_evenly() {
    assert_eq!(worth(30_000, 10_000, 10).straight_line(), figure("2000"));
}

/// Source: Iowa State Univ. Extension, PM 710, “Estimating Farm Machinery Costs”: 93,500 less 25,300 is 68,200 in all. The
/// yearly capital recovery at 5 % is worked from its inputs by its own formula; its result page was not seen.
#[test]
fn a_machine_recovers_its_capital() {
    let machine = worth(93_500, 25_300, 15);
    assert_eq!(machine.price() - machine.salvage(), Money::cents(6_820_000));
    assert_eq!(Money::round(machine.capital_recovery(figure("0.05"))).to_string(), "7835.54");
}

/// Sources: four solved textbook questions. “Annualised cost of a tractor” prints 8,324; “Capital recovery, 15 %” prints
/// 7,762.60 with the factor cut to 0.2983; “Equivalent annual cost, 8 %” (a printer, and 50 a year of upkeep) prints
/// 224.27; “Two machines, 10 %” prints 7,214.4 with factors of four digits.
#[test]
fn capital_recovery_is_not_rounded_on_the_way() {
    for (thing, rate, upkeep, printed) in [
        (worth(55_000, 10_000, 10), "0.10", 0, "8323.54"),
        (worth(30_000, 8_000, 5), "0.15", 0, "7762.94"),
        (worth(900, 300, 5), "0.08", 50, "224.27"),
        (worth(15_000, 3_000, 2), "0.10", 0, "7214.29"),
    ] {
        assert_eq!(Money::round(thing.capital_recovery(figure(rate)) + Decimal::from(upkeep)).to_string(), printed);
    }
}

/// Source: a construction-equipment example, “Average annual investment”: 300,000 less tires, 75,000 after 6 years of
/// 2,800 hours; average 206,250; interest at 6.32 % is 4.66 an hour. Its 13.40 of wear an hour is rounded up; exact 13.39.
#[test]
fn average_investment_is_written_down_each_year() {
    let loader = worth(300_000, 75_000, 6);
    assert_eq!(loader.average_investment(), figure("206250"));
    assert_eq!(Money::round(loader.average_investment() * figure("0.0632") / figure("2800")).to_string(), "4.66");
    assert_eq!(Money::round(loader.straight_line() / figure("2800")).to_string(), "13.39");
}

/// Sources: “Compound interest factors, table 1 (0.25 %)”; “Loan payment factors”, 7 % a year paid monthly; a solved
/// question prints 0.2983 for 15 % over 5 years.
#[test]
fn factors_agree_with_printed_tables() {
    for (periods, printed) in [(1, "1.00250"), (2, "0.50188"), (6, "0.16813"), (12, "0.08469"), (13, "0.07828"), (20, "0.05132")] {
        assert_eq!(factor(figure("0.0025"), periods, 5), printed, "{periods}");
    }
    let monthly = figure("0.07") / figure("12");
    for (periods, printed) in [(5, "0.2035136"), (12, "0.0865267"), (24, "0.0447726"), (48, "0.0239462"), (60, "0.0198012")] {
        assert_eq!(factor(monthly, periods, 7), printed, "{periods}");
    }
    assert_eq!(factor(figure("0.15"), 5, 4), "0.2983");
    assert_eq!(factor(figure("0.08"), 10, 6), "0.149029");
    assert_eq!(factor(Decimal::ZERO, 8, 3), "0.125");
}

/// Source: numpy-financial, a general library of finance; its version and the call stand at the head of
/// `tests/outside/capital_recovery.csv`, which `tests/outside/capital_recovery.py` printed. To six decimals.
#[test]
fn a_library_of_finance_comes_to_the_same() {
    let text = include_str!("outside/capital_recovery.csv");
    let mut rows = 0;
    for row in csv::ReaderBuilder::new().comment(Some(b'#')).from_reader(text.as_bytes()).records() {
        let row = row.unwrap();
        let [rate, price, salvage, yearly] = [0, 2, 3, 4].map(|place| figure(&row[place]));
        let worth = Worth::of(Money::round(price), Money::round(salvage), row[1].parse().unwrap()).unwrap();
        let recovered = worth.capital_recovery(rate / Decimal::ONE_HUNDRED);
        assert_eq!(recovered.round_dp_with_strategy(6, RoundingStrategy::MidpointAwayFromZero), yearly, "{row:?}");
        rows += 1;
    }
    assert_eq!(rows, 297, "eleven rates, nine lives, three things");
}

/// Source: Nebraska Extension, Berger, “Cow depreciation”: a cow of 1,800 sold at 800 costs 200, 250 or 333.33 a year over
/// 5, 4 or 3 years, and 226, 276 or 359.33 with 2 % of deaths on a mean value of 1,300.
#[test]
fn a_cow_wears_and_may_die() {
    for (years, wears, with_deaths) in [(5, "200.00", "226.00"), (4, "250.00", "276.00"), (3, "333.33", "359.33")] {
        let cow = worth(1_800, 800, years);
        assert_eq!(cow.mean_value(), figure("1300"));
        assert_eq!(Money::round(cow.straight_line()).to_string(), wears);
        assert_eq!(Money::round(cow.straight_line() + cow.mean_value() * figure("0.02")).to_string(), with_deaths);
    }
}

/// Common practice: a month is a twelfth of a year, however many days it has, and a year is a year wherever it begins.
#[test]
fn a_month_is_a_twelfth() {
    let months = |from, to| Held::of_span(span(from, to));
    assert_eq!(months("2026-02-01", "2026-02-28"), Held::months(1));
    assert_eq!(months("2026-07-01", "2026-07-31"), Held::months(1));
    assert_eq!(months("2026-06-01", "2026-12-31"), Held::months(7));
    assert_eq!(months("2027-09-01", "2028-08-31"), Held::months(12), "a leap day costs nothing extra");
    assert_eq!(months("2026-06-16", "2027-06-15"), Held::months(12), "half of one June and half of the next");
    assert_eq!(months("2026-06-16", "2026-07-31"), months("2026-04-16", "2026-05-31"), "months of as many days");
    assert_eq!(months("2026-06-02", "2026-06-01"), Held::months(0));
    let pump = worth(1_200, 0, 10);
    let year: Money = ["2026-01-01 2026-03-31", "2026-04-01 2026-12-31"]
        .map(|days| days.split_once(' ').map(|(from, to)| pump.wear(months(from, to))).unwrap())
        .into_iter()
        .sum();
    assert_eq!(year.to_string(), "120.00", "30.00 of three months and 90.00 of nine");
}

/// Common practice: the first and the last month are charged by the days it was there.
#[test]
fn wear_follows_the_days_it_was_here() {
    let mut pump = Gear { name: "Pump".into(), is_cow: false, bought: day("2026-06-16"), gone: None, worth: worth(3_720, 0, 10) };
    assert_eq!(pump.wear_in(span("2026-06-01", "2026-06-30")).to_string(), "15.50", "half of June's 31.00");
    assert_eq!(pump.wear_in(span("2026-01-01", "2026-06-15")), Money::ZERO);
    assert_eq!(pump.wear_in(span("2026-06-16", "2036-12-31")).to_string(), "3720.00", "ten years, and nothing after them");
    assert_eq!(pump.left_on(day("2027-06-15")).to_string(), "3348.00");
    pump.gone = Some(day("2026-07-10"));
    assert_eq!(pump.wear_in(span("2026-07-01", "2026-07-31")).to_string(), "10.00", "10 days of July's 31");
    assert_eq!(pump.held_in(span("2026-08-01", "2026-08-31")), Held::months(0));
    assert!(pump.judge().is_ok());
    pump.gone = Some(day("2026-06-15"));
    assert!(pump.judge().is_err());
}

/// Common practice: nothing lasts no years, and nothing is worth more worn out than new.
#[test]
fn what_cannot_be_gets_a_sentence() {
    let of = |price, salvage, years| Worth::of(Money::cents(price), Money::cents(salvage), years).map_err(|fault| fault.to_string());
    assert!(of(90_000, 0, 0).unwrap_err().starts_with("A life of 0 years cannot be right."));
    assert!(of(90_000, 0, -3).is_err());
    assert!(of(90_000, 90_001, 8).unwrap_err().starts_with("900.01 at the end is more than the 900.00 paid."));
    assert!(of(-1, -1, 8).is_err());
    assert!(of(90_000, 90_000, 1).is_ok());
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// Source: definition; interest on what is tied up is never below nothing.
    #[test]
    fn capital_recovery_is_never_below_wear(price in 0i64..100_000_000, kept in 0i64..=100, years in 1i64..=60, hundredths in 0i64..3_000) {
        let worth = Worth::of(Money::cents(price), Money::cents(price * kept / 100), years).unwrap();
        let recovered = Money::round(worth.capital_recovery(Decimal::new(hundredths, 4)));
        prop_assert!(recovered >= Money::round(worth.straight_line()));
        prop_assert_eq!(worth.capital_recovery(Decimal::ZERO).round_dp(20), worth.straight_line().round_dp(20));
    }

    /// The rule as a query must write it, in whole cents: for whole months, and for days of a June, of which one is a twelfth of
    /// a thirtieth of a year.
    #[test]
    fn whole_cents_come_to_the_same(drop in 0i64..10_000_000, years in 1i64..=100, months in 0i64..=60, days in 1u32..=30) {
        let worth = Worth::of(Money::cents(drop), Money::ZERO, years).unwrap();
        prop_assert_eq!(worth.wear(Held::months(months)).in_cents(), (2 * drop * months + 12 * years) / (2 * 12 * years));
        let june = Held::of_span(span("2026-06-01", &format!("2026-06-{days:02}")));
        prop_assert_eq!(worth.wear(june).in_cents(), (2 * drop * i64::from(days) + 360 * years) / (2 * 360 * years));
    }

    /// Source: definition; two spans that meet are held as long as the one they make, and any twelve months are a year.
    #[test]
    fn spans_that_meet_add_up(from in 0u64..4_000, first in 0u64..800, second in 1u64..800) {
        let day = |nth| day("2020-01-01") + chrono::Days::new(nth);
        // A dollar for each part a year is cut into, so nothing is rounded.
        let wear = |from, to| Held::of_span(Span { from: day(from), to: day(to) }).of(figure("4530960"));
        prop_assert_eq!(wear(from, from + first) + wear(from + first + 1, from + first + second), wear(from, from + first + second));
        let next = day(from).checked_add_months(chrono::Months::new(12)).unwrap();
        prop_assume!(next.format("%d").to_string() == day(from).format("%d").to_string());
        let year = Held::of_span(Span { from: day(from), to: next.pred_opt().unwrap() });
        // A year that begins within a February of 29 days has a part of each.
        prop_assume!(!(day(from).format("%m-%d").to_string().as_str() > "02-01" && day(from).format("%m").to_string() == "02"));
        prop_assert_eq!(year, Held::months(12));
    }
}
