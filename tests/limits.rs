//! What a lab found, against the limits of real laws, each written as its line in a rule set and judged from it.
//!
//! What stands in a table follows from the law named above it alone. Figures seen only where somebody else sums the law
//! up are called second-hand, remembered ones from memory.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot set itself up has failed")]

use proptest::prelude::*;
use rust_decimal::Decimal;
use tallypail::trade::{
    analytes::{Analyte, KNOWN},
    lab::{Figure, Unit},
    limits::{Amount, Limit, Limits, Pattern},
    standing::{Compared, calls_for, compare, reason},
    steps::Sure,
};

/// 7 Pa. Code 59a.408, the ladder of 59a.409.
pub(super) const PA: &str = "plate count at most 20000 per mL, 2 of 4 notice, 3 of 5 action [read]; \
                  coliforms at most 10 per mL, 2 of 4 notice, 3 of 5 action [read]; \
                  somatic cells at most 750000 per mL, 2 of 4 notice, 3 of 5 action [read]; pathogens none found [memory]";
/// Conn. Agencies Regs. 22-133-129.
const CT: &str = "plate count at most 30000 per mL [read]; coliforms at most 50 per mL [read]";
/// S.C. Code Regs. 61-34.
const SC: &str = "plate count at most 10000 per mL, 2 of 4 notice, 3 of 5 action [read]; \
                  coliforms at most 10 per g, 2 of 4 notice, 3 of 5 action [read]; \
                  somatic cells at most 500000 per mL, 2 of 4 notice, 3 of 5 action [read]";
/// 25 TAC 217.
const TX: &str = "plate count at most 20000 per mL [read]; coliforms at most 10 per mL [read]; \
                  somatic cells at most 750000 per mL [read]; aflatoxin M1 below 0.5 ppb [read]";
/// NMAC 21.34.2.
const NM: &str = "plate count at most 20000 per mL [read]; coliforms at most 50 per mL [read]; freezing point at most -0.53 °C [read]";
/// Utah Code 4-3-603, from 6 May 2026.
const UT: &str = "plate count at most 20000 per mL, above 40000 calls for pathogens [read]; \
                  coliforms at most 10 per mL, above 20 calls for pathogens [read]";
/// Food Hygiene (Wales) Regulations 2006, Schedule 6, paragraph 5.
const WALES: &str = "plate count at most 20000 per mL [read]; coliforms below 100 per mL [read]";
/// Regulation (EC) 853/2004, Annex III, Section IX, second-hand: a full quotation.
pub(super) const EU: &str = "plate count at most 100000 per mL, geometric mean of 2 months, 2 samples a month [second-hand]; \
                  somatic cells at most 400000 per mL, geometric mean of 3 months, 1 sample a month [second-hand]";
/// Arrêté du 13 juillet 2012.
pub(super) const FR: &str =
    "E. coli at most 100 per mL, 5 units with 2 above 10 [read]; Salmonella none found in 25 mL, 5 units with 0 above 0 [read]";
/// Ga. Code 26-2-457.
pub(super) const GA: &str = "plate count at most 20000 per mL, 2 of 4 notice, 3 of 5 action, same day averaged [read]; \
                  somatic cells at most 500000 per mL, 2 of 4 notice, 3 of 5 action, same day averaged [read]";

pub(super) fn limit(line: &str, analyte: &str) -> Limit {
    let limits = Limits::parse(line).unwrap();
    let limits = limits.of(&Analyte::parse(analyte));
    (*limits.first().unwrap_or_else(|| panic!("no limit for {analyte}"))).clone()
}

/// A figure with its unit after it, where it has one: `<10 per mL`.
fn stands(line: &str, analyte: &str, found: &str) -> Compared {
    let (figure, unit) = found_of(found);
    compare(&limit(line, analyte), &figure, unit)
}

pub(super) fn found_of(found: &str) -> (Figure, Option<Unit>) {
    let cut = [" per ", " in ", " °C", " ppb", " MPN"].iter().filter_map(|word| found.find(word)).min().unwrap_or(found.len());
    let (figure, unit) = found.split_at(cut);
    (Figure::parse(figure).unwrap(), (!unit.is_empty()).then(|| Unit::parse(unit).unwrap()))
}

/// Sources: Food Hygiene (Wales) Regulations 2006, Sch. 6 para 5: plate count ≤ 20,000, coliforms < 100; Conn. Agencies
/// Regs. 22-133-129, “shall not exceed” 50 and 30,000.
#[test]
fn at_most_and_below_differ_at_the_figure() {
    for (line, analyte, within, over) in [
        (WALES, "plate count", "20,000 per mL", "20,001 per mL"),
        (WALES, "coliforms", "99 per mL", "100 per mL"),
        (CT, "coliforms", "50 per mL", "51 per mL"),
        (CT, "SPC", "30,000 per mL", "30,001 per mL"),
    ] {
        assert_eq!(stands(line, analyte, within), Compared::Within, "{analyte} {within}");
        assert_eq!(stands(line, analyte, over), Compared::Over, "{analyte} {over}");
    }
}

/// Sources: 7 Pa. Code 59a.408, Conn. 22-133-129, S.C. Regs. 61-34, 25 TAC 217, NMAC 21.34.2.
#[test]
fn one_milk_under_five_laws() {
    for (place, line, plate, coliforms) in [
        ("Pennsylvania", PA, Compared::Within, Compared::Over),
        ("Connecticut", CT, Compared::Within, Compared::Within),
        ("South Carolina", SC, Compared::Over, Compared::Over),
        ("Texas", TX, Compared::Within, Compared::Over),
        ("New Mexico", NM, Compared::Within, Compared::Within),
    ] {
        assert_eq!(stands(line, "SPC", "18,000 per mL"), plate, "{place}");
        assert_eq!(stands(line, "coliforms", "12 per mL"), coliforms, "{place}");
    }
}

/// Sources: 7 Pa. Code 59a.408, 330 CMR 27.06 and 25 TAC 217.27: 750,000; Cal. FAC 35891: 600,000; S.C. Regs. 61-34 and
/// Ga. Code 26-2-458: 500,000; Nevada's certified raw milk rule: 400,000.
#[test]
fn somatic_cells_under_seven_laws() {
    let rest = |most: i64| format!("somatic cells at most {most} per mL [read]");
    let laws = [(PA.to_owned(), true), (rest(750_000), true), (TX.to_owned(), true), (rest(600_000), false), (SC.to_owned(), false)];
    for (line, keeps) in laws.into_iter().chain([(GA.to_owned(), false), (rest(400_000), false)]) {
        let expected = if keeps { Compared::Within } else { Compared::Over };
        assert_eq!(stands(&line, "SCC", "620,000 per mL"), expected, "{line}");
    }
}

/// Source: Utah Code 4-3-603(1), from 6 May 2026: above a second figure a test for pathogens is due.
#[test]
fn utah_asks_for_a_further_test() {
    for (analyte, found, further) in [
        ("SPC", "30,000 per mL", false),
        ("SPC", "45,000 per mL", true),
        ("coliforms", "15 per mL", false),
        ("coliforms", "20 per mL", false),
        ("coliforms", "21 per mL", true),
        ("coliforms", ">20 per mL", true),
    ] {
        let (limit, (figure, unit)) = (limit(UT, analyte), found_of(found));
        assert_eq!(compare(&limit, &figure, unit), Compared::Over, "{analyte} {found}");
        assert_eq!(calls_for(&limit, &figure, unit).is_some_and(|test| test.name() == "pathogens"), further, "{analyte} {found}");
    }
}

/// Sources: 1 NYCRR 2.15(b): MPN below 1.1 per 100 mL; 7 Pa. Code 59a.407(c): below 2.2 by tubes, below 1 by membrane.
#[test]
fn well_water() {
    let (york, tubes, membrane) = (
        "water coliforms below 1.1 per 100 mL [read]",
        "water coliforms below 2.2 per 100 mL [read]",
        "water coliforms below 1 per 100 mL [read]",
    );
    let cant = |compared: &Compared| matches!(compared, Compared::CantTell(_));
    assert_eq!(stands(york, "water coliforms", "<1.1 MPN per 100 mL"), Compared::Within);
    assert_eq!(stands(york, "water coliforms", "1.1 MPN per 100 mL"), Compared::Over);
    assert_eq!(stands(york, "water coliforms", "absent in 100 mL"), Compared::Within);
    assert!(cant(&stands(york, "water coliforms", "<2.2 MPN per 100 mL")));
    assert!(cant(&stands(york, "water coliforms", "absent per mL")), "none in one millilitre can be 99 in 100");
    assert!(cant(&stands(york, "water coliforms", "absent")));
    assert_eq!(stands(tubes, "water coliforms", "<2.2 MPN per 100 mL"), Compared::Within);
    assert_eq!(stands(membrane, "water coliforms", "<1 per 100 mL"), Compared::Within);
    assert_eq!(stands(membrane, "water coliforms", "1 per 100 mL"), Compared::Over);
    assert_eq!(stands(york, "water coliforms", "1 per mL"), Compared::Over, "1 per mL is 100 per 100 mL");
}

/// Sources: S.C. Regs. 61-34 counts coliforms per gram; 25 TAC 217: aflatoxin below 0.5 ppb; NMAC 21.34.2: freezing
/// point; 1.03 kg a litre is the trade's round figure for milk.
#[test]
fn the_unit_of_the_law() {
    assert_eq!(stands(SC, "coliforms", "10.3 per mL"), Compared::Within, "10.3 per mL is 10 per g");
    assert_eq!(stands(SC, "coliforms", "10.4 per mL"), Compared::Over);
    assert_eq!(stands(PA, "coliforms", "1,000 per 100 mL"), Compared::Within);
    assert_eq!(stands(PA, "coliforms", "1,001 per 100 mL"), Compared::Over);
    assert_eq!(stands(TX, "aflatoxin M1", "0.5 ppb"), Compared::Over);
    assert_eq!(stands(NM, "freezing point", "-0.531 °C"), Compared::Within);
    assert_eq!(stands(NM, "freezing point", "-0.525 °C"), Compared::Over);
    for found in ["8", "8 °C", "detected", "<100 per mL", ">8 per mL"] {
        assert!(matches!(stands(PA, "coliforms", found), Compared::CantTell(_)), "{found}");
    }
    for (found, expected) in [("<10 per mL", Compared::Within), (">10 per mL", Compared::Over), ("not detected", Compared::Within)] {
        assert_eq!(stands(PA, "coliforms", found), expected, "{found}");
    }
}

/// From memory: the Pennsylvania department wants no pathogen in the milk.
#[test]
fn a_limit_on_pathogens_is_about_each_of_them() {
    for analyte in ["Salmonella", "Listeria", "Campylobacter", "STEC", "O157", "pathogens"] {
        assert_eq!(stands(PA, analyte, "negative"), Compared::Within, "{analyte}");
        assert_eq!(stands(PA, analyte, "<1 per mL"), Compared::Within, "{analyte}");
        for found in ["positive", "1 per mL", ">10 per mL"] {
            assert_eq!(stands(PA, analyte, found), Compared::Over, "{analyte} {found}");
        }
        assert!(matches!(stands(PA, analyte, "<10 per mL"), Compared::CantTell(_)), "{analyte}");
    }
    assert!(Limits::parse(PA).unwrap().of(&Analyte::parse("E. coli")).is_empty());
    for (found, clear) in [("absent in 25 mL", true), ("absent in 10 mL", false), ("absent", false)] {
        assert_eq!(stands(FR, "Salmonella", found) == Compared::Within, clear, "{found}");
    }
}

#[test]
fn a_comparison_reads_as_a_sentence() {
    let said = |line: &str, analyte: &str, found: &str| {
        let (figure, unit) = found_of(found);
        reason(&limit(line, analyte), &Analyte::parse(analyte), &figure, unit)
    };
    assert_eq!(said(PA, "coliform count", "12 per mL"), "Coliforms 12 per mL; the limit is at most 10 per mL.");
    assert_eq!(
        said(PA, "coliforms", "1,200 per 100 mL"),
        "Coliforms 1,200 per 100 mL, which is 12 per mL; the limit is at most 10 per mL."
    );
    assert_eq!(
        said(SC, "coliforms", "12 per mL"),
        "Coliforms 12 per mL, which is 11.65 per g at 1.03 kg a litre; the limit is at most 10 per g."
    );
    assert_eq!(said(PA, "Salmonella", "positive"), "Salmonella detected; the limit is none found.");
    assert!(said(PA, "coliforms", "12").ends_with("Write what 12 is counted in: the law counts per mL."));
    assert!(said("plate count limit not known [read]", "SPC", "12").ends_with("What the law allows is not known here."));
}

#[test]
fn a_line_of_limits_reads_back() {
    for line in [PA, CT, SC, TX, NM, UT, WALES, EU, FR, GA, "plate count limit not known, held until clear [memory]"] {
        assert_eq!(Limits::parse(line).unwrap().to_string(), line);
    }
    let line = "drug residue none found, held until clear, a clear test lifts a drug keep-back [chosen]";
    assert_eq!(Limits::parse(line).unwrap().to_string(), line);
    assert_eq!(Limits::parse(" not known ").unwrap(), Limits::default());
    assert_eq!(
        limit(GA, "SPC").spoken(),
        "at most 20,000 per mL; 2 of the last 4 results over it bring a notice, 3 of the last 5 stop the milk; results of one day are averaged"
    );
}

#[test]
fn nonsense_limits_get_a_sentence() {
    for typed in [
        "low",
        ";",
        "at most 20000 per mL [read]",
        "plate count at most 20000 [read]",
        "plate count at most 20000 per mL",
        "plate count at most 20000 per mL [sure]",
        "plate count at most many per mL [read]",
        "plate count at most -1 per mL [read]",
        "plate count below 0 per mL [read]",
        "plate count at most 20000 per jar [read]",
        "plate count at most 20000 per mL, 2 of 4 notice [read]",
        "plate count at most 20000 per mL, 3 of 5 action, 2 of 4 notice [read]",
        "plate count at most 20000 per mL, geometric mean of 0 months, 2 samples a month [read]",
        "plate count at most 20000 per mL, 5 units with 6 above 10 [read]",
        "plate count at most 20000 per mL, 5 units with 2 above 30000 [read]",
        "pathogens none found, above 10 calls for Salmonella [read]",
        "pathogens none found in 0 mL [read]",
        "plate count at most 20000 per mL, held until clear, held until clear [read]",
        "plate count at most 99999999999999999999999999 per mL [read]",
        "🥛",
    ] {
        assert!(Limits::parse(typed).unwrap_err().to_string().contains("is not a limit. Write it like"), "{typed}");
    }
}

fn any_limit() -> impl Strategy<Value = Limit> {
    let analyte = prop::sample::select(KNOWN.to_vec()).prop_map(Analyte::parse);
    let unit = prop::sample::select(vec![Unit::PerMl, Unit::Per100Ml, Unit::PerG, Unit::Ppb]);
    let sure = prop::sample::select(vec![Sure::Read, Sure::SecondHand, Sure::Memory, Sure::Chosen]);
    let figure = (1i64..10_000_000, 0u32..3).prop_map(|(units, places)| Decimal::new(units, places));
    let amount = (0..4, figure, unit, prop::option::of(1u32..500)).prop_map(|(kind, figure, unit, portion)| match kind {
        0 => Amount::AtMost(figure, unit),
        1 => Amount::Below(figure, unit),
        2 => Amount::NoneFound(portion),
        _ => Amount::NotKnown,
    });
    let pattern = (0..4, 1u32..=24, 1u32..=31).prop_map(|(kind, some, more)| match kind {
        0 => Pattern::Single,
        1 => Pattern::Ladder,
        2 => Pattern::Mean { months: some, samples_a_month: more },
        _ => Pattern::Plan { units: some, marginal: more.min(some), above: Decimal::ZERO },
    });
    (analyte, amount, pattern, any::<[bool; 4]>(), sure).prop_map(|(analyte, amount, pattern, [averaged, asks, held, lifts], sure)| {
        let counted = amount.figure().is_some();
        let pattern = if matches!(pattern, Pattern::Mean { .. }) && !counted { Pattern::Single } else { pattern };
        let further = (asks && counted).then(|| (Decimal::from(40_000), Analyte::parse("pathogens")));
        Limit { analyte, amount, pattern, averaged, further, held, lifts, sure }
    })
}

/// A judgement from best to worst.
fn worth(compared: &Compared) -> u8 {
    match compared {
        Compared::Within => 0,
        Compared::CantTell(_) => 1,
        Compared::Over => 2,
    }
}

fn typed(kind: u8, count: i64) -> Figure {
    match kind {
        0 => Figure::Number(Decimal::from(count)),
        1 => Figure::Below(Decimal::from(count)),
        _ => Figure::Above(Decimal::from(count)),
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn what_is_shown_can_be_read(limits in prop::collection::vec(any_limit(), 0..5)) {
        let shown = Limits(limits.clone()).to_string();
        prop_assert_eq!(Limits::parse(&shown).unwrap(), Limits(limits));
    }

    #[test]
    fn a_higher_count_never_improves_a_comparison(
        limit in any_limit(), kind in 0u8..3, count in 0i64..20_000_000, more in 0i64..20_000_000,
        unit in prop::sample::select(vec![None, Some(Unit::PerMl), Some(Unit::Per100Ml), Some(Unit::PerG), Some(Unit::InMl(25))]),
    ) {
        let (low, high) = (compare(&limit, &typed(kind, count), unit), compare(&limit, &typed(kind, count + more), unit));
        prop_assert!(worth(&low) <= worth(&high), "{:?} {:?}", low, high);
        let (low, high) = (calls_for(&limit, &typed(kind, count), unit), calls_for(&limit, &typed(kind, count + more), unit));
        prop_assert!(low.is_none() || high.is_some());
    }

    #[test]
    fn a_missing_unit_never_improves_a_comparison(limit in any_limit(), kind in 0u8..4, count in 0i64..20_000_000) {
        let figure = if kind == 3 { Figure::NoneFound } else { typed(kind, count) };
        if let Some(law) = limit.amount.figure().map(|(_, law)| law).filter(|_| kind < 3) {
            prop_assert!(!matches!(compare(&limit, &figure, None), Compared::Within), "{law}");
        } else if compare(&limit, &figure, None) == Compared::Within {
            prop_assert_eq!(compare(&limit, &figure, Some(Unit::Per100Ml)), Compared::Within);
        }
    }
}
