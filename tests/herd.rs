//! The clocks of a cow, against labels, laws and the calendar.
#![allow(clippy::unwrap_used, reason = "a test that cannot read its own figures should stop")]

use proptest::prelude::*;
use tallypail::trade::herd::*;
use tallypail::trade::when::{Day, Moment, Zone, parse_day};

fn farm() -> Zone {
    Zone::parse("America/New_York").unwrap()
}

fn at(typed: &str) -> Moment {
    farm().parse_moment(typed).unwrap()
}

fn day(typed: &str) -> Day {
    parse_day(typed).unwrap()
}

fn labelled(given: &str, product: &str, hours: i64) -> Dose {
    Dose {
        at: at(given),
        product: product.to_owned(),
        milk_hours: Some(hours),
        milk_milkings: None,
        as_labelled: true,
        vet_figure: false,
        from_calving: false,
        dry_days: None,
    }
}

/// Milkings at 06:00 and 18:00.
fn twice_a_day(after: &str, count: usize) -> Vec<Moment> {
    coming_milkings(farm(), &[18 * 60, 6 * 60], at(after), count).collect()
}

fn clear(judged: &Withheld) -> bool {
    matches!(judged, Withheld::Clear(_))
}

/// Source: label custom, hours counted from the last treatment; 96 h and 36 h are periods on labels. That the milking at
/// exactly the last hour is still inside is common practice.
#[test]
fn the_last_hour_is_still_inside() {
    for (hours, discarded, last_out, first_in) in
        [(96, 8, "2026-04-05T06:00", "2026-04-05T18:00"), (36, 3, "2026-04-02T18:00", "2026-04-03T06:00")]
    {
        let doses = [labelled("2026-04-01T06:00", "Tube A", hours)];
        let coming = twice_a_day("2026-04-01T06:00", 12);
        let out: Vec<Moment> = coming.iter().copied().filter(|milking| !clear(&withdrawal(&doses, &[], &coming, *milking))).collect();
        assert_eq!(out.len(), discarded, "{hours} h");
        assert_eq!(out.first().copied(), Some(at("2026-04-01T18:00")));
        assert_eq!(out.last().copied(), Some(at(last_out)));
        assert_eq!(first_usable(&doses, &[], &[], &coming), Some(at(first_in)));
    }
}

/// Source: IANA time zone database; New York went to summer time on 8 March 2026, so 36 elapsed hours end at 19:00.
#[test]
fn hours_are_elapsed_hours() {
    let doses = [labelled("2026-03-07T06:00", "Tube A", 36)];
    assert!(matches!(
        withdrawal(&doses, &[], &[], at("2026-03-08T18:00")),
        Withheld::Until(Left { at: Some(last), minutes: 60, .. }) if last == at("2026-03-08T19:00")
    ));
    assert!(!clear(&withdrawal(&doses, &[], &[], at("2026-03-08T19:00"))));
    assert!(clear(&withdrawal(&doses, &[], &[], at("2026-03-08T19:01"))));
}

/// Source: label custom; the clock starts at the last treatment of a course.
#[test]
fn a_later_dose_starts_the_clock_again() {
    let doses = [labelled("2026-04-01T06:00", "Tube A", 36), labelled("2026-04-02T06:00", "tube a ", 36)];
    assert_eq!(withdrawal(&doses, &[], &[], at("2026-04-03T18:00")).to_string(), "She was treated, so her milk stays out this hour too.");
    assert_eq!(withdrawal(&doses, &[], &[], at("2026-04-03T19:00")), Withheld::Clear(Some(at("2026-04-03T18:00"))));
    assert!(!clear(&withdrawal(&doses, &[], &[], doses[0].at)), "the minute of the dose is inside");
    assert_eq!(withdrawal(&doses, &[], &[], at("2026-04-01T05:59")), Withheld::Clear(None));
}

/// Source: label custom; labels state hours and often milkings too (96 h is 8 milkings at 12 h). A cow milked once a day
/// needs the milkings, whichever ends later: common practice.
#[test]
fn the_later_of_hours_and_milkings_counts() {
    let doses = [Dose { milk_milkings: Some(8), ..labelled("2026-04-01T06:00", "Tube A", 96) }];
    let once = coming_milkings(farm(), &[6 * 60], at("2026-04-01T06:00"), 12).collect::<Vec<_>>();
    assert_eq!(first_usable(&doses, &[], &[], &once), Some(at("2026-04-10T06:00")));
    assert_eq!(
        withdrawal(&doses, &[], &once, at("2026-04-08T06:00")).to_string(),
        "She was treated, so her milk stays out for 2 more milkings."
    );
    assert_eq!(
        withdrawal(&doses, &[], &once, at("2026-04-03T06:00")).to_string(),
        "She was treated, so her milk stays out for 48 more h and for 7 more milkings."
    );
    assert_eq!(first_usable(&doses, &[], &[], &twice_a_day("2026-04-01T06:00", 12)), Some(at("2026-04-05T18:00")));
}

/// Source: extra-label article of the National Mastitis Council: label times hold for labelled use of one product only, the
/// vet sets the rest.
#[test]
fn what_no_label_covers_needs_the_vet() {
    let (one, two) = (labelled("2026-04-01T06:00", "Tube A", 48), labelled("2026-04-01T06:00", "Shot B", 72));
    let blank = Dose { milk_hours: None, ..one.clone() };
    let odd = Dose { as_labelled: false, ..one.clone() };
    let next_day = Dose { at: at("2026-04-03T06:00"), ..two.clone() };
    let negative = Dose { milk_hours: Some(-5), ..one.clone() };
    let year_later = at("2027-04-01T06:00");
    for (name, doses) in [
        ("two at once", vec![one.clone(), two.clone()]),
        ("at the first's last hour", vec![next_day.clone(), one.clone()]),
        ("blank", vec![blank.clone()]),
        ("nonsense", vec![negative]),
        ("odd use", vec![odd.clone()]),
        ("blank, then another product", vec![blank.clone(), Dose { at: at("2026-06-01T06:00"), ..two.clone() }]),
    ] {
        let judged = withdrawal(&doses, &[], &twice_a_day("2026-04-01T06:00", 40), year_later);
        assert!(matches!(&judged, Withheld::NotKnown(why) if why.contains("ask the vet")), "{name}: {judged}");
    }
    let after_the_first = Dose { at: at("2026-04-03T06:01"), ..two.clone() };
    assert!(clear(&withdrawal(&[one.clone(), after_the_first], &[], &[], year_later)));

    let vets = |dose: &Dose| Dose { vet_figure: true, as_labelled: false, milk_hours: Some(120), ..dose.clone() };
    for doses in [vec![one.clone(), vets(&two)], vec![vets(&one), two.clone()], vec![vets(&odd)], vec![vets(&blank)]] {
        assert!(!clear(&withdrawal(&doses, &[], &[], at("2026-04-06T06:00"))));
        assert!(clear(&withdrawal(&doses, &[], &[], at("2026-04-06T06:01"))), "{doses:?}");
    }
    let no_figure = Dose { vet_figure: true, milk_hours: None, ..one };
    assert!(matches!(withdrawal(&[no_figure], &[], &[], year_later), Withheld::NotKnown(_)));
}

/// Source: label custom for dry-off products: a least time dry, then hours after calving; early calving needs the vet
/// (extra-label article of the National Mastitis Council: extend after early calving).
#[test]
fn a_dry_off_product_counts_from_calving() {
    let dry = Dose { from_calving: true, dry_days: Some(50), ..labelled("2026-03-01T06:00", "Dry tube", 96) };
    let calved = [at("2026-05-01T06:00"), at("2027-04-20T06:00")];
    let judged = |dose: &Dose, calvings: &[Moment], when: &str| withdrawal(std::slice::from_ref(dose), calvings, &[], at(when));
    assert!(!clear(&judged(&dry, &calved, "2026-05-05T06:00")));
    assert!(clear(&judged(&dry, &calved, "2026-05-05T06:01")));
    for dry_days in [Some(70), None] {
        assert!(matches!(judged(&Dose { dry_days, ..dry.clone() }, &calved, "2026-06-01T06:00"), Withheld::NotKnown(_)));
    }
    // 61 days by the calendar, and an hour less since the clocks went forward on 8 March: 60 whole days of 24 hours.
    assert!(clear(&judged(&Dose { dry_days: Some(60), ..dry.clone() }, &calved, "2026-06-01T06:00")));
    assert!(
        matches!(judged(&Dose { dry_days: Some(61), ..dry.clone() }, &calved, "2026-06-01T06:00"), Withheld::NotKnown(why) if why.contains("calved 60 days after"))
    );
    let vets = Dose { dry_days: Some(70), vet_figure: true, ..dry.clone() };
    assert!(
        !clear(&judged(&vets, &calved, "2026-05-05T06:00")) && clear(&judged(&vets, &calved, "2026-05-05T06:01")),
        "the vet's figure stands"
    );
    // Given, and no calving since: nobody knows, however long ago it was.
    for calvings in [&[][..], &[at("2025-04-01T06:00")]] {
        let waits = judged(&dry, calvings, "2027-01-01T06:00");
        assert_eq!(waits.to_string(), "The time after Dry tube counts from her calving, and no calving is written.");
    }
    assert!(matches!(judged(&Dose { milk_hours: None, ..dry.clone() }, &calved, "2026-06-01T06:00"), Withheld::NotKnown(_)));
    // Another product while that time waits for the calving: both at once, by the same article.
    let both = [dry.clone(), labelled("2026-04-01T06:00", "Shot B", 72)];
    assert!(matches!(withdrawal(&both, &calved, &[], at("2026-06-01T06:00")), Withheld::NotKnown(why) if why.contains("together")));
    let after = [dry, labelled("2026-05-05T06:01", "Shot B", 72)];
    assert!(clear(&withdrawal(&after, &calved, &[], at("2026-06-01T06:00"))));
}

#[test]
fn the_return_is_said_in_milkings() {
    let doses = [labelled("2026-05-12T06:00", "Tube A", 60)];
    let first = first_usable(&doses, &[], &[], &twice_a_day("2026-05-12T06:00", 10));
    assert_eq!(joins("Damson", first, at("2026-05-12T07:00"), farm()), "Damson joins Friday morning.");
    let sooner = first_usable(&[labelled("2026-05-12T06:00", "Tube A", 59)], &[], &[], &twice_a_day("2026-05-12T06:00", 10));
    assert_eq!(joins("Damson", sooner, at("2026-05-12T07:00"), farm()), "Damson joins Thursday evening.");
    assert_eq!(joins("Damson", first, at("2026-05-01T07:00"), farm()), "Damson joins Friday morning, Fri 15 May, 06:00.");
    assert_eq!(joins("Damson", None, at("2026-05-01T07:00"), farm()), "Damson stays out: nobody can say yet when her milk may be used.");
}

/// Source: Cal. Food & Agric. Code 35602: none from 15 days before to 5 days after parturition. Read in hours.
#[test]
fn california_keeps_five_days_after_and_fifteen_before() {
    let rule = ColostrumRule { days_before: Some(15), days_after: Some(5), milkings: None };
    let calved = at("2026-05-01T14:00");
    for (milked, milk) in [("2026-05-06T06:00", false), ("2026-05-06T14:00", false), ("2026-05-06T18:00", true)] {
        let judged = colostrum(calved, rule, &[], at(milked));
        assert_eq!(matches!(judged, Fresh::Milk(_)), milk, "{milked}: {judged}");
    }
    assert_eq!(rule.too_near(day("2026-06-20"), day("2026-06-06")), Some(day("2026-06-05")));
    assert_eq!(rule.too_near(day("2026-06-20"), day("2026-06-05")), Some(day("2026-06-05")));
    assert_eq!(rule.too_near(day("2026-06-20"), day("2026-06-04")), None);
}

/// Source: New Zealand Animal Products (Dairy) Regulations 2005, reg 3: the first 4 days, or the first 8 milkings when there
/// are fewer than 8 in them.
#[test]
fn new_zealand_keeps_four_days_and_eight_milkings() {
    let rule = ColostrumRule { days_after: Some(4), milkings: Some(8), ..ColostrumRule::default() };
    let calved = at("2026-07-01T04:00");
    let once = coming_milkings(farm(), &[6 * 60], calved, 12).collect::<Vec<_>>();
    let twice = coming_milkings(farm(), &[6 * 60, 18 * 60], calved, 12).collect::<Vec<_>>();
    for (name, milkings, nth, milk) in
        [("once a day, the 5th", &once, 4, false), ("once a day, the 9th", &once, 8, true), ("twice a day, the 9th", &twice, 8, true)]
    {
        assert_eq!(matches!(colostrum(calved, rule, milkings, milkings[nth]), Fresh::Milk(_)), milk, "{name}");
    }
    assert!(!matches!(colostrum(calved, rule, &twice, twice[7]), Fresh::Milk(_)));
}

#[test]
fn an_unknown_rule_is_never_zero() {
    let (calved, later) = (at("2026-05-01T14:00"), at("2027-05-01T14:00"));
    let none = ColostrumRule::default();
    assert!(matches!(colostrum(calved, none, &[], later), Fresh::NotKnown(_)));
    let five = ColostrumRule { days_after: Some(5), ..none };
    assert!(matches!(colostrum(later, five, &[], calved), Fresh::NotKnown(_)), "a milking before the calving");
    assert!(matches!(colostrum(calved, five, &[], later), Fresh::Milk(_)));
    assert_eq!(
        colostrum(calved, five, &[], at("2026-05-06T06:00")).to_string(),
        "She has just calved, so her milk stays out for 8 more h."
    );
}

#[test]
fn foremilk_is_read_in_plain_words() {
    for look in [Foremilk::Normal, Foremilk::Flakes, Foremilk::Blood, Foremilk::Watery, Foremilk::NotLooked] {
        assert_eq!(Foremilk::parse(&look.to_string()), Ok(look));
        assert_eq!(look.reason().is_none(), look == Foremilk::Normal, "only a look that was ok says nothing");
    }
    assert_eq!(Foremilk::parse(" OK "), Ok(Foremilk::Normal));
    assert!(Foremilk::parse("fine").is_err());
}

#[test]
fn a_cow_stands_where_her_last_turn_put_her() {
    let turns = [
        (Turn::DriedOff, at("2026-03-01T06:00")),
        (Turn::Arrived, at("2026-01-01T06:00")),
        (Turn::JoinedCan, at("2026-01-05T06:00")),
        (Turn::Calved, at("2026-05-01T06:00")),
        (Turn::JoinedCan, at("2026-05-07T06:00")),
        (Turn::KeptOut, at("2026-06-01T06:00")),
        (Turn::Left, at("2026-07-01T06:00")),
        (Turn::JoinedCan, at("2026-07-02T06:00")),
    ];
    for (as_of, stands) in [
        ("2025-12-31T06:00", Standing::NotKnown),
        ("2026-01-02T06:00", Standing::KeptOut(at("2026-01-01T06:00"))),
        ("2026-02-02T06:00", Standing::InTheCan(at("2026-01-05T06:00"))),
        ("2026-03-01T06:00", Standing::Dry(at("2026-03-01T06:00"))),
        ("2026-05-02T06:00", Standing::Fresh(at("2026-05-01T06:00"))),
        ("2026-05-09T06:00", Standing::InTheCan(at("2026-05-07T06:00"))),
        ("2026-06-02T06:00", Standing::KeptOut(at("2026-06-01T06:00"))),
        ("2026-08-02T06:00", Standing::Left(at("2026-07-01T06:00"))),
    ] {
        assert_eq!(standing(&turns, at(as_of)), stands, "{as_of}");
    }
}

/// Source: common practice; 283 days carried, 60 days dry.
#[test]
fn the_due_date_and_the_dry_off_follow_the_service() {
    assert_eq!(due(day("2026-01-01")), Some(day("2026-10-11")));
    assert_eq!(dry_off(day("2026-10-11")), Some(day("2026-08-12")));
}

fn dose() -> impl Strategy<Value = Dose> {
    let figure = || prop::option::of(0i64..100);
    let said = (prop::bool::weighted(0.8), prop::bool::weighted(0.2), prop::bool::weighted(0.2), prop::option::of(0i64..6));
    (0i64..300, 0u8..3, figure(), prop::option::of(0i64..9), said).prop_map(
        |(hour, product, milk_hours, milk_milkings, (as_labelled, vet_figure, from_calving, dry_days))| Dose {
            at: Moment::seconds(0).plus_hours(hour),
            product: format!("Product {product}"),
            milk_hours,
            milk_milkings,
            as_labelled,
            vet_figure,
            from_calving,
            dry_days,
        },
    )
}

fn hours(hours: &[i64]) -> Vec<Moment> {
    hours.iter().map(|hour| Moment::seconds(0).plus_hours(*hour)).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// Source: the rule itself, checked dose by dose: milk that may be used lies outside the time of every dose, and outside
    /// the time after her calving of every dose that counts from it, unless the vet gave a figure later.
    #[test]
    fn clear_milk_is_outside_every_clock(
        doses in prop::collection::vec(dose(), 0..6), calved in prop::collection::vec(0i64..500, 0..3), hour in 0i64..500
    ) {
        let milkings: Vec<Moment> = (0..50).map(|nth| Moment::seconds(0).plus_hours(nth * 12)).collect();
        let (now, calvings) = (Moment::seconds(0).plus_hours(hour), hours(&calved));
        if clear(&withdrawal(&doses, &calvings, &milkings, now)) {
            for dose in doses.iter().filter(|dose| dose.at <= now) {
                let told = |later: &Dose| later.milk_hours.is_some() || later.milk_milkings.is_some();
                let calved = calvings.iter().copied().filter(|calved| *calved >= dose.at && *calved <= now).min();
                let from = if dose.from_calving { calved } else { Some(dose.at) };
                if let Some(from) = from {
                    prop_assert!(dose.milk_hours.is_none_or(|hours| hours == 0 || now > from.plus_hours(hours)));
                    let done = milkings.iter().filter(|milked| **milked > from && **milked < now).count();
                    prop_assert!(dose.milk_milkings.is_none_or(|count| i64::try_from(done).unwrap() >= count));
                }
                let vets = |later: &Dose| later.at >= dose.at && later.at <= now && told(later) && later.vet_figure;
                let again = |later: &Dose| later.at >= dose.at && later.at <= now && told(later) && later.product == dose.product;
                prop_assert!(doses.iter().any(|later| vets(later) || again(later)), "nobody said how long for {:?}", dose);
                if told(dose) && from.is_none() {
                    prop_assert!(doses.iter().any(vets), "no calving is written after {:?}", dose);
                }
            }
        }
    }

    /// Source: this program's own rule: what nobody wrote never lets milk in. The vet's word, the days dry, the label's use, her
    /// calvings and every figure of a dose are taken away, one at a time.
    #[test]
    fn a_missing_fact_never_lets_her_milk_in(
        doses in prop::collection::vec(dose(), 1..5), calved in prop::collection::vec(0i64..500, 0..3), hour in 0i64..500, nth in 0usize..5
    ) {
        let milkings: Vec<Moment> = (0..50).map(|nth| Moment::seconds(0).plus_hours(nth * 12)).collect();
        let (now, calvings) = (Moment::seconds(0).plus_hours(hour), hours(&calved));
        if clear(&withdrawal(&doses, &calvings, &milkings, now)) {
            return Ok(());
        }
        let nth = nth % doses.len();
        let without = |change: fn(&mut Dose)| {
            let mut less = doses.clone();
            change(&mut less[nth]);
            less
        };
        let vet = doses.iter().any(|dose| dose.vet_figure);
        for less in [without(|dose| dose.vet_figure = false), without(|dose| dose.dry_days = None), without(|dose| dose.as_labelled = false)] {
            prop_assert!(!clear(&withdrawal(&less, &calvings, &milkings, now)), "{:?}", less);
        }
        // A vet's figure covers the doses before it, so that a calving nobody wrote takes nothing from it.
        prop_assert!(vet || !clear(&withdrawal(&doses, &[], &milkings, now)), "without her calvings");
        // Doses of one product answer for one another, and a vet's figure for every dose before it; else a blank is a blank.
        if !vet {
            let product = doses[nth].product.clone();
            let blank = |dose: &Dose| if dose.product == product { Dose { milk_hours: None, milk_milkings: None, ..dose.clone() } } else { dose.clone() };
            let less: Vec<Dose> = doses.iter().map(blank).collect();
            prop_assert!(!clear(&withdrawal(&less, &calvings, &milkings, now)) || doses[nth].at > now, "{:?}", less);
        }
    }

    /// Source: the days before a calving are counted back from the day she is due: a service nobody gave a day stands 283 days.
    #[test]
    fn a_service_without_a_day_is_still_a_service(served in 0i64..200, later in 0i64..600) {
        let at = |day: i64| at("2026-01-01T09:00").plus_hours(day * 24);
        let turns = [(Turn::Served(None), at(served))];
        let found = due_day(&turns, at(served + later), farm());
        prop_assert_eq!(found, due(farm().day(at(served))));
    }
}

/// Source: common practice: a calving or a finding that she is empty ends what a service began, and a finding with its own day
/// is better than a service's.
#[test]
fn the_day_she_is_due_follows_the_last_that_was_found() {
    let due = Some(day("2026-06-20"));
    let turns = [
        (Turn::Served(None), at("2025-09-01T09:00")),
        (Turn::InCalf(None), at("2025-11-01T09:00")),
        (Turn::InCalf(due), at("2025-12-01T09:00")),
        (Turn::DriedOff, at("2026-04-20T09:00")),
        (Turn::Calved, at("2026-06-18T03:00")),
        (Turn::Served(due), at("2026-09-01T09:00")),
        (Turn::NotInCalf, at("2026-10-10T09:00")),
    ];
    for (as_of, stands) in [
        ("2025-08-31T09:00", None),
        ("2025-11-02T09:00", Some(day("2026-06-11"))),
        ("2026-05-01T09:00", due),
        ("2026-06-18T03:00", None),
        ("2026-09-02T09:00", due),
        ("2026-10-10T09:00", None),
    ] {
        assert_eq!(due_day(&turns, at(as_of), farm()), stands, "{as_of}");
    }
}

/// Source: this program's own rule: only “well again” ends “unwell”, and neither moves where she stands.
#[test]
fn unwell_lasts_until_well_again() {
    let turns = [
        (Turn::JoinedCan, at("2026-05-01T06:00")),
        (Turn::Unwell, at("2026-05-10T06:00")),
        (Turn::Unwell, at("2026-05-11T06:00")),
        (Turn::WellAgain, at("2026-05-13T06:00")),
    ];
    assert_eq!(unwell_since(&turns, at("2026-05-09T06:00")), None);
    assert_eq!(unwell_since(&turns, at("2026-05-12T06:00")), Some(at("2026-05-10T06:00")));
    assert_eq!(unwell_since(&turns, at("2026-05-13T06:00")), None);
    assert_eq!(standing(&turns, at("2026-05-12T06:00")), Standing::InTheCan(at("2026-05-01T06:00")));
}
