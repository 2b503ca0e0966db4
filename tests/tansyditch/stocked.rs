//! Whether the stores, the feed, the minutes and the current of the sample farm are such as a dairy farmer would believe, added up
//! by hand from its records. Where no other source is named, a bound is common practice.

use super::{
    book, demo_day,
    ledger::{jars, milk, moment, number, text, whole},
    pen::day,
};
use rust_decimal::Decimal;
use std::collections::BTreeMap;
use tallypail::trade::{
    book::Book,
    measure::Weight,
    need::{self, Eater, Solids},
    records::Record,
    when::Day,
};

fn figure(name: &str, own: &Record, column: &str) -> Decimal {
    text(name, own, column).parse().unwrap()
}

fn last(name: &str, own: &Record, column: &str, or: Day) -> Day {
    Some(text(name, own, column)).filter(|until| !until.is_empty()).map_or(or, day)
}

/// What one of a measure holds on this farm. Source: NIST Handbook 44, Appendix C, for ton and hundredweight; the rest is on the stores.
fn holds(unit: &str) -> Decimal {
    Decimal::from(match unit {
        "ton" => 2_000,
        "cwt" | "box" => 100,
        "bag" => 50,
        "bale" => 45,
        "dozen" => 12,
        "lb" | "lid" | "jar" | "piece" => 1,
        other => panic!("a {other} stands in no store"),
    })
}

/// What is fed a day of a store, in pounds, by day.
fn fed(book: &Book, store: i64) -> BTreeMap<Day, Decimal> {
    let own: Vec<&Record> = book.of("feedings").iter().filter(|own| whole("feedings", own, "store") == Some(store)).collect();
    let mut days = BTreeMap::new();
    for feeding in &own {
        let since = day(text("feedings", feeding, "since"));
        let a_day = text("feedings", feeding, "each") == "a day";
        let cow = whole("feedings", feeding, "cow");
        let next = own
            .iter()
            .filter(|other| text("feedings", other, "each") == "a day" && whole("feedings", other, "cow") == cow)
            .map(|other| day(text("feedings", other, "since")))
            .filter(|other| *other > since)
            .min();
        let goes_on = next.map_or(demo_day(), |next| next - chrono::Days::new(1));
        let until = last("feedings", feeding, "until", goes_on);
        let amount = figure("feedings", feeding, "amount") * holds(text("feedings", feeding, "unit"));
        let each = if a_day { amount } else { amount / Decimal::from((until - since).num_days() + 1) };
        for on in since.iter_days().take_while(|on| *on <= until) {
            *days.entry(on).or_default() += each;
        }
    }
    days
}

/// What a store uses up by itself, by day.
fn used(book: &Book, store: &Record) -> BTreeMap<Day, Decimal> {
    let zone = book.zone();
    let mut days = BTreeMap::new();
    match text("stores", store, "used_by") {
        "every jar filled" => {
            for lot in book.of("lots") {
                let own = jars("lots", lot);
                let filled = Decimal::from(own.gallons + own.half_gallons + own.quarts + own.pints);
                *days.entry(zone.day(moment("lots", lot, "filled"))).or_default() += filled * figure("stores", store, "used_amount");
            }
        }
        "every milking" => {
            for milking in book.of("milkings") {
                let on = day(&text("milkings", milking, "session")[..10]);
                *days.entry(on).or_default() += figure("stores", store, "used_amount");
            }
        }
        _ => {}
    }
    days
}

/// Nothing is taken that never came, a count finds little less than the book, and what lies there at the end would not last for ever.
#[test]
fn no_store_runs_below_nothing() {
    let book = book();
    for store in book.of("stores") {
        let name = text("stores", store, "name");
        let (fed, used) = (fed(book, store.number), used(book, store));
        let (mut left, mut came, mut lost) = (Decimal::ZERO, Decimal::ZERO, Decimal::ZERO);
        for on in day("2025-09-01").iter_days().take_while(|on| *on <= demo_day()) {
            let here = |kind: &str, own: &&Record, column: &str| {
                whole(kind, own, "store") == Some(store.number) && day(text(kind, own, column)) == on
            };
            for own in book.of("tickets").iter().filter(|own| here("tickets", own, "paid")) {
                came += figure("tickets", own, "quantity") * holds(text("tickets", own, "unit"));
                left += figure("tickets", own, "quantity") * holds(text("tickets", own, "unit"));
            }
            left -= fed.get(&on).copied().unwrap_or_default() + used.get(&on).copied().unwrap_or_default();
            assert!(left >= Decimal::ZERO, "{name} on {on}: {left}");
            for own in book.of("store_counts").iter().filter(|own| here("store_counts", own, "day")) {
                let found = figure("store_counts", own, "amount") * holds(text("store_counts", own, "unit"));
                println!("{name} on {on}: {left} by the book, {found} found");
                assert!(found <= left, "{name} on {on}: {found} found where {left} should lie");
                lost += left - found;
                left = found;
            }
        }
        println!("{name}: {came} came, {left} left, {lost} lost");
        assert!(lost <= came * Decimal::new(2, 2), "{name}: {lost} of {came} is not small");
        assert!(came > Decimal::ZERO && left < came / Decimal::TWO + Decimal::ONE, "{name}: {left} of {came} still lie there");
    }
}

/// Dry feed eaten in a month, for each cow and day, in hundredths of her weight.
fn eaten(from: &str, to: &str) -> (Decimal, Decimal) {
    let book = book();
    let mut pounds = Decimal::ZERO;
    for store in book.of("stores").iter().filter(|own| !text("stores", own, "dry_matter").is_empty()) {
        let waste = Some(text("stores", store, "waste")).filter(|own| !own.is_empty()).map_or(Decimal::ZERO, |own| own.parse().unwrap());
        let dry = figure("stores", store, "dry_matter") * (Decimal::ONE_HUNDRED - waste) / Decimal::from(10_000);
        pounds += fed(book, store.number).range(day(from)..=day(to)).map(|(_, own)| own * dry).sum::<Decimal>();
    }
    let days = Decimal::from((day(to) - day(from)).num_days() + 1);
    (pounds / days, pounds / days / Decimal::from(4 * 950) * Decimal::ONE_HUNDRED)
}

/// Source: extension guides on dry matter intake, about 3 % of a cow's weight a day; the National Research Council's equation of 2001.
/// On grass most of it comes from the pasture, and no scale saw it.
#[test]
fn cows_eat_what_cows_eat() {
    for (from, to) in [("2025-11-15", "2025-12-31"), ("2026-01-01", "2026-02-14"), ("2026-02-15", "2026-03-31")] {
        let (pounds, percent) = eaten(from, to);
        println!("{from}: {} lb, {} %", pounds.round_dp(1), percent.round_dp(2));
        assert!(percent > Decimal::new(26, 1) && percent < Decimal::new(34, 1), "{percent} % of their weight from {from}");
        let cows = cows_of(from, to);
        let weighed = Weight::pounds(pounds);
        assert_eq!(need::ask(&cows, weighed).map(|own| own.to_string()), None, "from {from}");
    }
    let (_, summer) = eaten("2026-05-10", "2026-06-30");
    assert!(summer < Decimal::ONE, "{summer} % in June, beside the pasture");
}

/// The four cows with the milk they gave in a span, the dry ones with none.
fn cows_of(from: &str, to: &str) -> Vec<Eater> {
    let book = book();
    let mut gave = [Weight::ZERO; 4];
    for pail in book.of("pails") {
        let milking = &book.of("milkings")[usize::try_from(number("pails", pail, "milking") - 1).unwrap()];
        let on = day(&text("milkings", milking, "session")[..10]);
        if (day(from)..=day(to)).contains(&on) {
            let place = usize::try_from(number("pails", pail, "cow") - 1).unwrap();
            gave[place] = gave[place] + milk(pail);
        }
    }
    let days = (day(to) - day(from)).num_days() + 1;
    let solids = Solids::of(Decimal::new(48, 1), Decimal::new(37, 1)).unwrap();
    let cow = |milk: Weight| {
        Eater::of(Weight::milligrams(milk.in_milligrams() / days), solids, Weight::pounds(Decimal::from(950)), None).unwrap()
    };
    gave.map(cow).to_vec()
}

/// Source: common practice; a cow gets a pound of grain for every three of milk or less, and little when she is dry.
#[test]
fn grain_follows_the_milk() {
    let book = book();
    let grain: Decimal = fed(book, 2).values().copied().sum();
    let given: Weight = book.of("pails").iter().map(milk).sum();
    let each = given.in_pounds() / grain;
    assert!(each > Decimal::TWO && each < Decimal::from(4), "{each} lb of milk for a pound of grain");
    for own in book.of("feedings").iter().filter(|own| whole("feedings", own, "store") == Some(2)) {
        assert!((2..=12).contains(&i64::try_from(figure("feedings", own, "amount").ceil()).unwrap()), "feeding {}", own.number);
    }
}

/// The scale such a farm is planned on is 912 hours a year: seventeen and a half a week. Nobody's job is both timed and usual.
#[test]
fn a_week_has_its_minutes() {
    let book = book();
    let names = |kind: &'static str| book.of(kind).iter().map(move |own| (text(kind, own, "job"), text(kind, own, "person")));
    for (job, who) in names("usual_weeks") {
        assert!(names("minutes").all(|own| own != (job, who)), "{job} by {who} is timed as well");
    }
    for sunday in ["2025-10-12", "2026-01-11", "2026-07-12", "2026-11-15"].map(day) {
        let of_week = |own: &&Record| text("minutes", own, "over") == "the week" && day(text("minutes", own, "day")) == sunday;
        let timed: i64 = book.of("minutes").iter().filter(of_week).map(|own| number("minutes", own, "minutes")).sum();
        let holds =
            |own: &&Record| day(text("usual_weeks", own, "since")) <= sunday && sunday <= last("usual_weeks", own, "until", demo_day());
        let usual: i64 = book.of("usual_weeks").iter().filter(holds).map(|own| number("usual_weeks", own, "minutes")).sum();
        assert!((950..=1_150).contains(&(timed + usual)), "the week to {sunday}: {timed} timed and {usual} usual minutes");
    }
}

/// Source: arithmetic of the plates, a gallon of water 8.34 lb and a kilowatt-hour 3,412 Btu (NIST Special Publication 811). The
/// part for milk that is named on the bills is what the appliances of the milk draw.
#[test]
fn the_plates_agree_with_the_bills() {
    let book = book();
    let mut a_day = Decimal::ZERO;
    for own in book.of("appliances") {
        let read = |column| figure("appliances", own, column);
        a_day += match text("appliances", own, "sort") {
            "motor" => read("kilowatts") * Decimal::from(number("appliances", own, "minutes")) / Decimal::from(60),
            "heats water" => {
                read("gallons") * Decimal::new(834, 2) * Decimal::from(140 - 52) / Decimal::from(3_412) / read("efficiency")
                    * Decimal::ONE_HUNDRED
            }
            _ => read("kilowatt_hours") / Decimal::from(365),
        };
    }
    let bills: Vec<&Record> = book.of("tickets").iter().filter(|own| text("tickets", own, "sort") == "power").collect();
    assert_eq!(bills.len(), 14, "the last bill has not come");
    let billed: Decimal = bills.iter().map(|own| figure("tickets", own, "quantity")).sum();
    let part = a_day * Decimal::from(365) / Decimal::from(12) * Decimal::from(14) / billed;
    assert!(part > Decimal::new(62, 2) && part < Decimal::new(78, 2), "the plates draw {part} of what was billed");
    let meter: Vec<Decimal> = book.of("meter_readings").iter().map(|own| figure("meter_readings", own, "reading")).collect();
    assert!(meter.windows(2).all(|pair| pair[0] < pair[1]), "a meter goes forwards");
    let risen = meter[meter.len() - 1] - meter[0];
    assert!((risen - billed).abs() < billed / Decimal::from(8), "{risen} by the meter, {billed} by the bills");
}

/// What bank and tin paid out is what the tickets say, but in one month by a few dollars.
#[test]
fn the_bank_agrees_but_once() {
    let book = book();
    let mut off = Vec::new();
    for own in book.of("bank_totals") {
        let month = day(text("bank_totals", own, "since"))..=day(text("bank_totals", own, "until"));
        let paid = |ticket: &&Record| month.contains(&day(text("tickets", ticket, "paid")));
        let tickets: i64 = book.of("tickets").iter().filter(paid).map(|own| number("tickets", own, "amount")).sum();
        let wages = |own: &&Record| month.contains(&day(text("minutes", own, "day"))) && whole("minutes", own, "wage").is_some();
        assert_eq!(book.of("minutes").iter().filter(wages).count(), 0, "Joss was paid in that month, too");
        off.push(number("bank_totals", own, "paid_out") - tickets);
    }
    assert_eq!(off, [0, 0, 640]);
}
