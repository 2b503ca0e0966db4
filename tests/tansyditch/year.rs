//! The last twelve months added up, against the scale such a farm is planned on: 6,200 half-gallons milked, 930 to calves,
//! 310 to the house, 320 thrown out, 4,650 handed out; $9,945 paid out, $3,200 worn out, 912 hours.

use super::{
    book,
    ledger::{jars, milk, moment, number, text, whole},
    pen::day,
};
use rust_decimal::Decimal;
use std::collections::BTreeMap;
use tallypail::trade::{
    book::Book,
    measure::Weight,
    money::Money,
    records::Record,
    wear::{Gear, Span, Worth},
};

/// Sums by name.
fn sums(book: &Book) -> BTreeMap<&'static str, Decimal> {
    let year = Span { from: day("2025-11-22"), to: day("2026-11-21") };
    let zone = book.zone();
    let mut sums: BTreeMap<&'static str, Decimal> = BTreeMap::new();
    let mut add = |name: &'static str, more: Decimal| *sums.entry(name).or_default() += more;
    for pail in book.of("pails") {
        let milking = &book.of("milkings")[usize::try_from(number("pails", pail, "milking") - 1).unwrap()];
        if year.has(zone.day(moment("milkings", milking, "started"))) {
            let milk = milk(pail).in_half_gallons();
            add("produced", milk);
            match text("pails", pail, "went") {
                "calf" => add("calf", milk),
                "house" => add("house", milk),
                "thrown out" => add("thrown", milk),
                _ => {}
            }
        }
    }
    for lot in
        book.of("lots").iter().filter(|lot| text("lots", lot, "made").is_empty() && year.has(zone.day(moment("lots", lot, "filled"))))
    {
        add("filled", jars("lots", lot).in_half_gallons());
        // What is left in the can goes down the drain.
        add("thrown", Weight::milligrams(whole("lots", lot, "left_in").unwrap_or(0)).in_half_gallons());
        add("half-gallon jars", Decimal::from(jars("lots", lot).half_gallons));
    }
    for aside in book.of("asides").iter().filter(|aside| year.has(zone.day(moment("asides", aside, "at")))) {
        let name = match text("asides", aside, "sort") {
            "household" => "house",
            "calf" => "calf",
            "made" => "made",
            "returned" => "returned",
            _ => "thrown",
        };
        add(name, jars("asides", aside).in_half_gallons());
    }
    for pickup in book.of("pickups").iter().filter(|pickup| year.has(zone.day(moment("pickups", pickup, "at")))) {
        add("reached", jars("pickups", pickup).in_half_gallons());
        let member = whole("pickups", pickup, "person").is_some_and(|person| person <= super::families::MEMBERS);
        add(if member { "to members" } else { "to walk-ins" }, jars("pickups", pickup).in_half_gallons());
    }
    // A calf that stays brings no money.
    let moved = |ticket: &&Record| year.has(day(text("tickets", ticket, "paid"))) && text("tickets", ticket, "sort") != "calf kept";
    for ticket in book.of("tickets").iter().filter(moved) {
        let part = Money::cents(number("tickets", ticket, "amount")).dollars() * Decimal::from(number("tickets", ticket, "milk_share"))
            / Decimal::ONE_HUNDRED;
        add("cash", part);
    }
    for gear in book.of("gear") {
        let cents = |column| Money::cents(number("gear", gear, column));
        let thing = Gear {
            name: text("gear", gear, "name").to_owned(),
            is_cow: text("gear", gear, "sort") == "cow",
            bought: day(text("gear", gear, "bought")),
            gone: None,
            worth: Worth::of(cents("price"), cents("salvage"), number("gear", gear, "life_years")).unwrap(),
        };
        add("wear", thing.wear_in(year).dollars() * Decimal::from(number("gear", gear, "milk_share")) / Decimal::ONE_HUNDRED);
    }
    for spent in book.of("minutes").iter().filter(|spent| year.has(day(text("minutes", spent, "day")))) {
        let minutes = Decimal::from(number("minutes", spent, "minutes"));
        match whole("minutes", spent, "wage") {
            Some(wage) => add("cash", minutes / Decimal::from(60) * Money::cents(wage).dollars() * Decimal::new(10765, 4)),
            None => add("hours", minutes / Decimal::from(60)),
        }
    }
    // The jobs of the usual week are none of those that are timed, so every day of theirs is filled.
    for line in book.of("usual_weeks") {
        let until = Some(text("usual_weeks", line, "until")).filter(|until| !until.is_empty()).map_or(year.to, day);
        let days = year.shared_with(Span { from: day(text("usual_weeks", line, "since")), to: until }).days();
        add("hours", Decimal::from(number("usual_weeks", line, "minutes") * days.max(0)) / Decimal::from(7 * 60));
    }
    sums
}

#[test]
fn the_year_is_of_the_planned_size() {
    let sums = sums(book());
    for (name, sum) in &sums {
        println!("{name}: {}", sum.round_dp(1));
    }
    for (name, planned) in [
        ("produced", 6_209),
        ("calf", 931),
        ("house", 312),
        ("thrown", 316),
        ("reached", 4_650),
        ("cash", 9_945),
        ("wear", 3_200),
        ("hours", 912),
    ] {
        let planned = Decimal::from(planned);
        let off = (sums[name] - planned) / planned;
        assert!(off.abs() < Decimal::new(1, 1), "{name}: {} against {planned}", sums[name].round_dp(0));
    }
}
