//! Pictures of whatever figures come: each can be read, and its lengths say what its figures say.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use super::pictures::{bars_of, cents, lines_of, readable, says};
use proptest::prelude::*;
use tallypail::trade::drawn::{bars, bridge, stacked, tornado, two_lines, weeks};
use tallypail::trade::money::Money;
use tallypail::trade::picture::Stroke;

fn label() -> impl Strategy<Value = String> {
    "[A-Za-z,]{0,30}( [A-Za-z]{1,12}){0,5}"
}

fn some(most: usize) -> impl Strategy<Value = Vec<(String, i64)>> {
    proptest::collection::vec((label(), -200_000i64..1_000_000), 0..most)
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_stack_is_as_tall_as_its_whole(found in some(15)) {
        let given: Vec<_> = found.iter().map(|(name, part)| (name.clone(), Money::cents(*part))).collect();
        if let Some(picture) = stacked("Stack 1", &given) {
            readable(&picture);
            let bars = bars_of(&picture);
            prop_assert!(bars.windows(2).all(|pair| pair[0].shade != pair[1].shade), "neighbours differ: {:?}", bars);
            let tall: i32 = bars.iter().map(|bar| bar.tall).sum();
            let ends = bars.iter().map(|bar| bar.y + bar.tall).max().unwrap() - bars.iter().map(|bar| bar.y).min().unwrap();
            prop_assert!((tall - ends).abs() <= i32::try_from(bars.len()).unwrap(), "{} of {}", tall, ends);
            let size: i64 = found.iter().map(|(_, part)| part.abs()).sum();
            // A part that is named alone is as tall as its share, to within a unit at either end.
            if found.iter().filter(|(_, part)| *part > 0).count() <= 6 {
                let costs: Vec<i64> = found.iter().map(|(_, part)| *part).filter(|part| *part > 0).collect();
                for (bar, part) in bars.iter().zip(&costs) {
                    let share = part * i64::from(ends) / size;
                    prop_assert!((i64::from(bar.tall) - share).abs() <= 2, "{:?} for {} of {}", bar, part, size);
                }
            }
        }
    }

    #[test]
    fn two_lines_never_touch_their_labels(found in proptest::collection::vec((proptest::option::of(-500i64..3000), proptest::option::of(0i64..3000)), 0..14), year: bool) {
        let label = |nth: usize| if year { format!("{} 2026", ["Jan", "Feb", "Mar"][nth % 3]) } else { ["J", "F", "M"][nth % 3].to_owned() };
        let points: Vec<_> = found.iter().enumerate().map(|(nth, (cost, comes_in))| (label(nth), cost.map(cents), comes_in.map(cents))).collect();
        if let Some(picture) = two_lines("Lines 1", &points) {
            readable(&picture);
            let runs = |of: fn(&(Option<i64>, Option<i64>)) -> bool| found.split(|point| !of(point)).filter(|run| !run.is_empty()).count();
            prop_assert_eq!(lines_of(&picture, Stroke::Heavy).len(), runs(|(cost, _)| cost.is_some()));
            prop_assert_eq!(lines_of(&picture, Stroke::Dashed).len(), runs(|(_, comes_in)| comes_in.is_some()));
        }
    }

    #[test]
    fn weeks_can_be_read(found in proptest::collection::vec((0i64..90_000, 0i64..90_000), 0..60), long: bool) {
        let label = |nth: usize| if long { format!("week of {} January", nth % 28) } else { format!("{nth}") };
        let given: Vec<_> = found.iter().enumerate().map(|(nth, (made, out))| (label(nth), cents(*made), cents(*out))).collect();
        if let Some(picture) = weeks("Weeks 1", &given) {
            readable(&picture);
            prop_assert!(says(&picture, &given.last().unwrap().0) || long);
        }
    }

    #[test]
    fn level_bars_can_be_read_and_are_as_long_as_they_say(found in some(20), dollars: bool) {
        let given: Vec<_> = found.iter().map(|(name, row)| (name.clone(), cents(*row))).collect();
        if let Some(picture) = bars("Bars 1", if dollars { "$" } else { "min" }, &given) {
            readable(&picture);
            let drawn = bars_of(&picture);
            let there: Vec<i64> = found.iter().map(|(_, row)| row.abs()).filter(|row| *row > 0).collect();
            if found.len() <= 12 {
                let (longest, most) = (drawn.iter().map(|bar| bar.wide).max().unwrap(), *there.iter().max().unwrap());
                for (bar, row) in drawn.iter().zip(there) {
                    prop_assert!((i64::from(bar.wide) * most - row * i64::from(longest)).abs() <= 2 * most, "{:?} for {}", bar, row);
                }
            }
        }
    }

    #[test]
    fn a_tornado_can_be_read(base in 0i64..3000, found in proptest::collection::vec((label(), 0i64..3000, 0i64..3000), 0..16)) {
        let given: Vec<_> = found.iter().map(|(name, low, high)| (name.clone(), cents(*low), cents(*high))).collect();
        if let Some(picture) = tornado("Tornado 1", cents(base), &given) {
            readable(&picture);
            let head = format!("As it is ${:.2}", cents(base));
            prop_assert!(says(&picture, &head), "{} is missing", head);
        }
    }

    #[test]
    fn a_bridge_ends_where_to_stands(from in 1i64..3000, steps in proptest::collection::vec((label(), -900i64..900), 0..10), off in -50i64..50) {
        let to = from + steps.iter().map(|(_, step)| step).sum::<i64>() + off;
        let given: Vec<_> = steps.iter().map(|(name, step)| (name.clone(), cents(*step))).collect();
        let picture = bridge("Bridge 1", &("Then".to_owned(), cents(from)), &given, &("Now".to_owned(), cents(to))).unwrap();
        readable(&picture);
        let drawn = bars_of(&picture);
        prop_assert_eq!(drawn.len(), steps.len() + 2 + usize::from(off != 0));
        // The last connecting line comes down from the last step onto an end of the last bar.
        let (last, x) = (drawn.last().unwrap(), lines_of(&picture, Stroke::Hair).last().unwrap().points[1].0);
        prop_assert!(x == last.x || x == last.x + last.wide || last.wide == 1, "{} and {:?}", x, last);
    }
}
