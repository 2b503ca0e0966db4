//! Counts and their width, against printed figures.

#![allow(clippy::unwrap_used, clippy::float_arithmetic, reason = "a test that cannot set itself up has failed; a count's width is a float")]

use proptest::prelude::*;
use tallypail::trade::colonies::{Read, cell_score, geometric_mean, interval};

fn near(found: f64, printed: f64, by: f64) {
    assert!((found - printed).abs() <= by, "{found} is not {printed} to {by}");
}

fn read(line: &str) -> Read {
    Read::parse(line).unwrap()
}

/// Sources: an environmental engineering reference, example 6.4,
/// <http://what-when-how.com/Tutorial/topic-1555qdn8v/The-Drinking-Water-130.html>; Weigand 2008,
/// <https://studylib.net/doc/8969296/document>; Kalamazoo County, <http://www.kalcounty.com/eh/geometric-mean.htm>.
#[test]
fn geometric_means() {
    near(geometric_mean(&[12.0, 28.0, 37.0, 25.0]).unwrap(), 23.6, 0.05);
    near(geometric_mean(&[250.0, 1500.0, 1200.0]).unwrap(), 766.3, 0.05);
    near(geometric_mean(&[38.0, 95.0, 52.0]).unwrap(), 57.258_088_9, 1e-6);
    // The same three to more places, worked out independently with NumPy.
    near(geometric_mean(&[12.0, 28.0, 37.0, 25.0]).unwrap(), 23.611_3, 1e-4);
    near(geometric_mean(&[250.0, 1500.0, 1200.0]).unwrap(), 766.309_4, 1e-4);
}

/// From the definition: a zero has no logarithm.
#[test]
fn no_geometric_mean_of_nothing() {
    for figures in [&[][..], &[0.0, 10.0], &[-5.0, 10.0], &[f64::NAN], &[f64::INFINITY]] {
        assert_eq!(geometric_mean(figures), None, "{figures:?}");
    }
}

/// Sources: GraphPad's FAQ on the confidence interval of a count,
/// <https://graphpad.com/support/faq/how-quickcalcs-computes-the-confidence-interval-of-a-count>, for 25;
/// <https://calculatorhub.com/tools/poisson-confidence-interval-calculator/> for 0 and 10.
#[test]
fn the_printed_width_of_a_count() {
    for (count, confidence, low, high, by) in [
        (25, 0.95, 16.18, 36.90, 0.0051),
        (25, 0.90, 17.38, 34.92, 0.0051),
        (25, 0.99, 14.00, 41.00, 0.0051),
        (0, 0.95, 0.0, 3.689, 0.00051),
        (10, 0.95, 4.80, 18.39, 0.0051),
    ] {
        let (least, most) = interval(count, confidence);
        near(least, low, by);
        near(most, high, by);
    }
}

/// Source: chi-square quantiles worked out independently with SciPy.
#[test]
fn the_width_of_a_count_to_four_places() {
    for (count, confidence, low, high) in [
        (25, 0.95, 16.1787, 36.9049),
        (25, 0.90, 17.3821, 34.9161),
        (25, 0.99, 13.9954, 41.0004),
        (0, 0.95, 0.0, 3.6889),
        (1, 0.95, 0.0253, 5.5716),
        (5, 0.95, 1.6235, 11.6683),
        (10, 0.95, 4.7954, 18.3904),
        (100, 0.95, 81.3640, 121.6268),
    ] {
        let (least, most) = interval(count, confidence);
        near(least, low, 5.1e-5);
        near(most, high, 5.1e-5);
    }
    // For very large counts a Poisson draw is a normal one, near enough: 1.96 roots of the count to either side.
    for count in [1_000_000u32, 1_000_000_000] {
        let (least, most) = interval(u64::from(count), 0.95);
        let root = f64::from(count).sqrt();
        near((f64::from(count) - least) / root, 1.96, 5e-3);
        near((most - f64::from(count)) / root, 1.96, 5e-3);
    }
    let (least, most) = interval(u64::MAX, 0.95);
    assert!(least.is_finite() && least <= most, "{least} to {most}");
    assert_eq!(interval(25, 1.0), (0.0, f64::INFINITY));
    assert_eq!(interval(25, f64::NAN), (0.0, f64::INFINITY));
}

/// Source: FDA Bacteriological Analytical Manual, chapter 3,
/// <https://www.fda.gov/Food/FoodScienceResearch/LaboratoryMethods/ucm063346.htm>: its example of two dilutions, 537 ÷ 0.022,
/// reported as 24,000. The bounds are worked out independently with SciPy.
#[test]
fn plates_of_two_dilutions() {
    let example = read("232, 244 at 1:100; 33, 28 at 1:1000");
    near(example.estimate().unwrap(), 24_409.09, 1e-2);
    let (least, most) = example.interval().unwrap();
    near(least, 22_388.0, 0.5);
    near(most, 26_564.0, 0.5);
    assert_eq!(example.spoken(), "24,000 per mL; with 95 % certainty 22,400 to 26,600 for the colonies alone, and at least that wide");
}

/// Source: the same chapter: plates of 25 to 250 colonies are counted, others give an estimate that is marked as one.
#[test]
fn plates_that_cannot_be_counted_fairly() {
    near(read("25 at 1:1").estimate().unwrap(), 25.0, 1e-9);
    assert!(!read("25 at 1:1").is_rough() && !read("250 at 1:1").is_rough());
    let one_left_out = read("300, 210 at 1:100; 24, 26 at 1:1000");
    near(one_left_out.estimate().unwrap(), 236.0 / 0.011, 1e-6);
    assert!(!one_left_out.is_rough());
    let weaker_only = read("640 at 1:100; 71 at 1:1000");
    near(weaker_only.estimate().unwrap(), 71_000.0, 1e-6);
    let overgrown = read("640 at 1:100; 251 at 1:1000");
    near(overgrown.estimate().unwrap(), 251_000.0, 1e-6);
    let sparse = read("24, 20 at 1:10");
    near(sparse.estimate().unwrap(), 220.0, 1e-9);
    for rough in [overgrown, sparse] {
        assert!(rough.is_rough() && rough.spoken().contains("as an estimate"), "{}", rough.spoken());
    }
    let bare = read("0, 0 at 1:10");
    near(bare.interval().unwrap().1, 18.444, 1e-3);
    assert_eq!((bare.estimate(), bare.spoken()), (Some(0.0), "none found; with 95 % certainty fewer than 18.4 per mL".to_owned()));
}

/// From memory, the same chapter: two figures are reported, and a half goes to the even one.
#[test]
fn two_figures_are_spoken() {
    for (plates, said) in [
        ("127 at 1:100", "13,000 per mL"),
        ("124 at 1:100", "12,000 per mL"),
        ("155 at 1:100", "16,000 per mL"),
        ("145 at 1:100", "14,000 per mL"),
        ("199 at 1:10000", "2,000,000 per mL"),
    ] {
        assert!(read(plates).spoken().starts_with(said), "{}", read(plates).spoken());
    }
}

/// Source: the solver sheet of the FDA Bacteriological Analytical Manual, appendix 2,
/// <https://www.scribd.com/doc/262831572/BAM-MPN>: 9.951, 95 % from 4.891 to 20.263. The sixth place is worked out
/// independently with SciPy.
#[test]
fn tubes_of_three_amounts() {
    let example = read("5 of 10 at 0.1; 3 of 10 at 0.01; 0 of 10 at 0.001");
    near(example.estimate().unwrap(), 9.951, 5e-4);
    near(example.estimate().unwrap(), 9.950_766, 1e-6);
    let (least, most) = example.interval().unwrap();
    near(least, 4.891, 1e-2);
    near(most, 20.263, 1e-2);
    assert_eq!(example.spoken(), "10 per mL as the most probable number; with 95 % certainty 4.89 to 20.3, and at least that wide");
}

/// From memory: the familiar printed table for three tubes each at 0.1, 0.01 and 0.001, which rounds to two figures; the third
/// figures are worked out independently with SciPy.
#[test]
fn the_table_of_three_tubes() {
    for (grew, number, by, printed) in [
        ([0, 1, 0], 3.05, 5e-3, "3"),
        ([1, 0, 0], 3.57, 5e-3, "3.6"),
        ([1, 1, 0], 7.36, 5e-3, "7.4"),
        ([2, 0, 0], 9.18, 5e-3, "9.2"),
        ([3, 0, 0], 23.1, 5e-2, "23"),
        ([3, 1, 0], 42.729, 1e-3, "43"),
        ([3, 2, 0], 93.3, 5e-2, "93"),
        ([3, 3, 0], 239.8, 5e-2, "240"),
        ([3, 3, 1], 462.0, 0.5, "460"),
        ([3, 3, 2], 1099.0, 0.5, "1,100"),
    ] {
        let [a, b, c] = grew;
        let tubes = read(&format!("{a} of 3 at 0.1; {b} of 3 at 0.01; {c} of 3 at 0.001"));
        near(tubes.estimate().unwrap(), number, by);
        assert!(tubes.spoken().starts_with(&format!("{printed} per mL")), "{}", tubes.spoken());
    }
}

/// From the definition: with none grown the chance of that is exp(−milk · number), and with all grown it is
/// (1 − exp(−amount · number)) to the power of the tubes; the bounds are where that chance is one in forty.
#[test]
fn tubes_that_agree() {
    let none = read("0 of 3 at 0.1; 0 of 3 at 0.01");
    assert_eq!(none.estimate(), Some(0.0));
    let (least, most) = none.interval().unwrap();
    near(least, 0.0, 0.0);
    near((-0.33 * most).exp(), 0.025, 1e-9);
    assert_eq!(none.spoken(), "none found; with 95 % certainty fewer than 11.2 per mL");
    let all = read("3 of 3 at 0.1; 3 of 3 at 0.01");
    assert_eq!(all.estimate(), None);
    assert_eq!(all.interval(), None, "there is no most");
    let least = 35.8_f64;
    near(((1.0 - (-0.1 * least).exp()) * (1.0 - (-0.01 * least).exp())).powi(3), 0.025, 1e-4);
    assert_eq!(all.spoken(), "more than 35.8 per mL with 95 % certainty; something grew in every tube, so there is no upper bound");
}

/// Sources: CDCB research report SCC16 (2015), <https://queries.uscdcb.com/publish/dhi/dhi15/sccrpt.htm>, for the formula, 4 and
/// the table that follows from it; Virginia Tech, Dairy Pipeline, May 1997: 50,000 to 200,000 is two scores more, and 800,000
/// to 1,600,000 is one.
#[test]
fn somatic_cell_scores() {
    let mut cells = 12_500.0;
    for score in 0u8..=9 {
        near(cell_score(cells), f64::from(score), 1e-12);
        cells *= 2.0;
    }
    near(cell_score(750_000.0), 5.9069, 5e-5);
    near(cell_score(200_000.0) - cell_score(50_000.0), 2.0, 1e-12);
    near(cell_score(1_600_000.0) - cell_score(800_000.0), 1.0, 1e-12);
    // Cows at 3 and at 5 have 4 as their mean, which is 200,000 and not the plain mean of 250,000.
    near(f64::midpoint(cell_score(100_000.0), cell_score(400_000.0)), cell_score(200_000.0), 1e-12);
}

/// What cannot be is refused with a sentence, and nothing typed is read in two ways.
#[test]
fn nonsense_gets_a_sentence() {
    let nine = "9".repeat(10_000);
    let long = [nine.clone(), format!("{nine} at 1:100"), format!("{nine} of 10 at 0.1"), "1 of 3 at 0.1;".repeat(700)];
    let plates = "232|at 1:100|232 at|232 at 100|232 at 1:0|232 at 2:100|-3 at 1:100|2.5 at 1:100|1e2 at 1:1|+3 at 1:100|232, at 1:100|\
        1,200 at 1:100|232,244 at 1:100|10000 at 1:1|5 at 1:99999999999|1 at 1:10; 1 at 1:1000|1 at 1:10; 1 at 1:10|\
        1 at 1:1; 1 at 1:10; 1 at 1:100|1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11 at 1:1";
    let tubes = "0 of 0 at 0.1|11 of 10 at 0.1|-1 of 10 at 0.1|1 of -10 at 0.1|1 of 10 at 0|1 of 10 at -0.1|1 of 10 at 1001|1 of 10|\
        1 of 101 at 1|some of them at 0.1|1 of 3 at 0.1; 25 at 1:10|1 of 3 at 1:10|1 of 3 at 0.1;|1 of 3 at NaN|milk|;| |";
    for typed in plates.split('|').chain(tubes.split('|')).chain(long.iter().map(String::as_str)) {
        let fault = Read::parse(typed).unwrap_err().to_string();
        assert!(fault.ends_with('.') && fault.len() < 300, "{typed:.40}: {fault}");
    }
    assert_eq!(read("  33,  28 at 1:1,000 ; 232, 244  at 1:100 ").to_string(), "232, 244 at 1:100; 33, 28 at 1:1000");
}

fn any_read() -> impl Strategy<Value = String> {
    let counts = || prop::collection::vec(0..9_999u32, 1..5).prop_map(|all| all.iter().map(u32::to_string).collect::<Vec<_>>().join(", "));
    let plates = (counts(), prop::option::of(counts()), 0..6u32).prop_map(|(strong, weak, power)| {
        let weak = weak.map(|weak| format!("; {weak} at 1:{}", 10u32.pow(power + 1))).unwrap_or_default();
        format!("{strong} at 1:{}{weak}", 10u32.pow(power))
    });
    let tube =
        (1..=100u32).prop_flat_map(|of| (0..=of, Just(of), prop::sample::select(vec!["100", "10", "1", "0.1", "0.01", "0.001", "0.0001"])));
    let tubes = prop::collection::vec(tube, 1..5)
        .prop_map(|rows| rows.iter().map(|(grew, of, at)| format!("{grew} of {of} at {at}")).collect::<Vec<_>>().join("; "));
    prop_oneof![plates, tubes]
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// From the definition: what is shown reads back, and a figure lies between its bounds.
    #[test]
    fn a_count_reads_back_and_lies_in_its_width(line in any_read()) {
        let seen = read(&line);
        prop_assert_eq!(&seen.to_string(), &line);
        match (seen.estimate(), seen.interval()) {
            (Some(number), Some((least, most))) => {
                prop_assert!(0.0 <= least && least < most && most.is_finite(), "{} to {}", least, most);
                prop_assert!(least <= number && number <= most, "{} in {} to {}", number, least, most);
            }
            neither => prop_assert_eq!(neither, (None, None)),
        }
        prop_assert!(!seen.spoken().contains("NaN") && !seen.spoken().contains("inf"), "{}", seen.spoken());
    }

    /// From the definition: a width holds its count, and is wider for more certainty.
    #[test]
    fn a_width_holds_its_count(count in 0..100_000u64) {
        let (low, high) = interval(count, 0.95);
        let (lower, higher) = interval(count, 0.99);
        let bare = f64::from(u32::try_from(count).unwrap());
        prop_assert!(lower <= low && low <= bare && bare < high && high < higher, "{} {} {} {}", lower, low, high, higher);
    }

    /// Whatever is typed, there is an answer.
    #[test]
    fn anything_typed_ends_in_an_answer(typed in ".{0,60}|[0-9 of,;:at.]{0,40}") {
        if let Ok(seen) = Read::parse(&typed) {
            prop_assert_eq!(read(&seen.to_string()), seen);
        }
    }
}
