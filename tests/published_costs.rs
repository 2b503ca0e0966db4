//! Published figures of what milk costs, worked out again: feed, what cows eat, current and heat, cream and skim, and what
//! a gallon weighs. Where a source's own figure is wrong, the right one is tested and the printed one named.

use rust_decimal::Decimal;
use tallypail::trade::{
    costs::{Account, Milk, Per},
    current::{chilling, comes_to, heat_out, hot_gallons, motor, on_the_label},
    joint::{Product, Way, share},
    lines::{Falls, Line, Sort, View, Views, labour_cost},
    measure::{Temperature, Weight, fixed},
    money::Money,
    need::{Eater, Load, Solids, from_pasture},
    wear::{Worth, capital_recovery_factor},
};

fn figure(text: &str) -> Decimal {
    Decimal::from_str_exact(text).unwrap()
}

fn money(text: &str) -> Money {
    Money::parse(text).unwrap()
}

fn pounds(text: &str) -> Weight {
    Weight::pounds(figure(text))
}

fn kilograms(text: &str) -> Weight {
    let milligrams = figure(text) * Decimal::from(1_000_000);
    Weight::milligrams(milligrams.normalize().to_string().parse().unwrap())
}

/// A weight in kilograms with so many decimals.
fn shown(weight: Weight, places: u32) -> String {
    fixed(Decimal::from(weight.in_milligrams()) / Decimal::from(1_000_000), places)
}

fn load(paid: &str, weight: &str, dry: &str) -> Load {
    Load::of(money(paid), pounds(weight), figure(dry)).unwrap()
}

/// A short ton, as feed is sold by.
const TON: Decimal = Decimal::from_parts(2_000, 0, 0, false, 0);

/// Sources: Univ. of Nebraska, BeefWatch, “Is the price right?” (2020), 129.41 a dry ton; “Calculating the value of dry
/// forage vs silage”, 10.71 cents a dry pound, and 85.68 a ton of silage by it; Univ. of Nevada, “Pricing rain-damaged hay”
/// (2009), 1,740 lb; Louisiana State Univ. AgCenter, publication 3951-D, 214 lb in a tub (213.75 exactly; its price for a
/// dry pound is worked from its figures); a page on round bales, 1,190 lb.
#[test]
fn feed_without_its_water() {
    assert_eq!(fixed(load("110", "2000", "85").a_pound_dry() * TON, 2), "129.41");
    let alfalfa = load("180", "2000", "84");
    assert_eq!((alfalfa.dry().to_string(), fixed(alfalfa.a_pound_dry(), 4)), ("1680 lb".into(), "0.1071".into()));
    let silage = load("0", "2000", "40").dry();
    assert_eq!(silage.to_string(), "800 lb");
    assert_eq!(fixed(silage.in_pounds() * figure("0.1071"), 2), "85.68", "by the source's own rounded price");
    assert_eq!(load("100", "2000", "87").dry().to_string(), "1740 lb");
    let tub = load("105.00", "225", "95");
    assert_eq!((tub.dry().to_string(), fixed(tub.a_pound_dry(), 4)), ("213.75 lb".into(), "0.4912".into()));
    assert_eq!(load("0", "1400", "85").dry().to_string(), "1190 lb");
}

/// Sources: “Comparing feed costs”, a Maryland page for small ruminants, prices of a pound as it is sold; a table of bale
/// sizes and prices, 90.91 a ton.
#[test]
fn a_bale_has_no_price_without_its_weight() {
    for (paid, weight, printed) in [
        ("5.00", "40", "0.125"),
        ("6.00", "48", "0.125"),
        ("4.00", "40", "0.100"),
        ("4.00", "30", "0.133"),
        ("250", "2000", "0.125"),
        ("400", "2000", "0.200"),
        ("300", "2000", "0.150"),
        ("14.00", "50", "0.280"),
    ] {
        assert_eq!(fixed(load(paid, weight, "100").a_pound_dry(), 3), printed, "{paid} for {weight} lb");
    }
    assert_eq!(fixed(load("50.00", "1100", "100").a_pound_dry() * TON, 2), "90.91");
}

/// Source: Univ. of Illinois Extension, “Bale feeder design”: what four feeders waste of a bale of 70.00, and of 180 bales.
/// Its table garbles the first sum as 66.7.80; its text says 667. What a pound costs once eaten, and that losses multiply,
/// is worked by hand.
#[test]
fn what_lies_under_the_feeder_is_paid_for() {
    for (percent, a_bale, a_season) in
        [("5.3", "3.71", "667.80"), ("13.0", "9.10", "1638.00"), ("20.5", "14.35", "2583.00"), ("21.0", "14.70", "2646.00")]
    {
        let lost = load("70.00", "1200", "90").losing(Decimal::ZERO, figure(percent)).unwrap().lost();
        assert_eq!((lost.to_string(), lost.times(180).to_string()), (a_bale.into(), a_season.into()));
    }
    let bale = load("8.00", "50", "89").losing(Decimal::ZERO, Decimal::TEN).unwrap();
    assert_eq!((bale.eaten().to_string(), fixed(bale.a_pound_eaten(), 4)), ("40.05 lb".into(), "0.1998".into()));
    let both = load("100.00", "1000", "100").losing(figure("5"), Decimal::TEN).unwrap();
    assert_eq!((both.eaten().to_string(), both.lost().to_string()), ("855 lb".into(), "14.50".into()));
}

fn solids(fat: &str, protein: &str) -> Solids {
    Solids::of(figure(fat), figure(protein)).unwrap()
}

/// Sources: “Fat corrected milk”, formula and example (80 lb of 3.5 % are 74 lb of 4 %); the International Farm Comparison
/// Network's formula with its printed example (30.97 kg). The second is the first's formula by hand.
#[test]
fn milk_of_one_strength() {
    assert_eq!(solids("3.5", "3.2").fat_corrected(pounds("80")).to_string(), "74 lb");
    assert_eq!(shown(solids("3.5", "3.2").fat_corrected(kilograms("1000")), 1), "925.0");
    assert_eq!(shown(solids("4.2", "3.4").energy_corrected(kilograms("30")), 2), "30.97");
    assert_eq!(shown(solids("4.0", "3.3").energy_corrected(kilograms("30")), 2), "30.00", "such milk is its own measure");
}

/// Source: National Research Council, “Nutrient Requirements of Dairy Cattle” (7th ed., 2001), chapters 1 and 2: the
/// equations are its own, the figures are worked from them by hand.
#[test]
fn what_a_cow_is_likely_to_eat() {
    let cow = |body: &str, milk: &str, fat: &str, protein: &str, week| {
        Eater::of(kilograms(milk), solids(fat, protein), kilograms(body), week).unwrap()
    };
    let holstein = cow("600", "30", "4.0", "3.3", Some(20));
    assert_eq!(shown(holstein.wants(), 4), "22.6519");
    assert_eq!(shown(from_pasture(&[holstein], kilograms("10")), 4), "12.6519");
    let jersey = cow("450", "20", "4.8", "3.7", Some(10));
    assert_eq!(shown(jersey.wants(), 4), "16.5013");
    for (body, upkeep) in [("450", "7.8163"), ("600", "9.6985"), ("650", "10.2985")] {
        assert_eq!(fixed(cow(body, "0", "4.8", "3.7", None).energy(), 4), upkeep);
    }
    assert_eq!(fixed(solids("4.8", "3.7").energy_in(kilograms("1")), 5), "0.84031");
    assert_eq!(fixed(solids("4.8", "3.7").energy_in(kilograms("20")), 4), "16.8062");
    assert_eq!(fixed(jersey.energy(), 4), "24.6225");
    assert_eq!(fixed(jersey.energy() / figure("1.5"), 3), "16.415", "kilograms of feed of middling strength");
    // Far into milk the week no longer matters; in her first week she eats little more than half.
    let of_all = |week| Decimal::from(cow("600", "30", "4.0", "3.3", week).wants().in_milligrams());
    assert_eq!(fixed(of_all(Some(1)) / of_all(None), 3), "0.592", "1 − e^(−0.192 × 4.67)");
    assert!(of_all(Some(104)) / of_all(None) > figure("0.999999"));
}

/// Sources: a page of “Useful conversions” on heating water (20,016 Btu in 1.30 hours at 4,500 W; 40,032 in 2.13 at 18,766
/// Btu an hour); a solved question on a 40-gallon heater (26,560 at 8.3 lb a gallon); a forum answer (0.171 kWh a gallon).
/// The kilowatt-hours, and the litres, are worked by hand. How much a tank wastes is from a page on hot water, 90.4 to 95 %.
#[test]
fn water_is_heated() {
    let hundred = Decimal::ONE_HUNDRED;
    let gallons = |gallons: &str, from, to| {
        hot_gallons(figure(gallons), Temperature::fahrenheit(from), Temperature::fahrenheit(to), hundred).unwrap()
    };
    let btu = figure("3412");
    let tank = gallons("40", 60, 120);
    assert_eq!((fixed(tank * btu, 0), fixed(tank, 4)), ("20016".into(), "5.8664".into()));
    assert_eq!(fixed(tank / figure("4.5"), 2), "1.30");
    let two = gallons("80", 60, 120);
    assert_eq!((fixed(two * btu, 0), fixed(two * btu / figure("18766"), 2)), ("40032".into(), "2.13".into()));
    assert_eq!(fixed(gallons("40", 60, 140) * btu * figure("8.3") / figure("8.34"), 0), "26560");
    assert_eq!(fixed(gallons("1", 50, 120), 3), "0.171");
    // Twenty litres by 65 °C: 20 × 4.186 kJ × 65 ÷ 3,600, and that ÷ 0.904. A gallon is 3.785411784 litres (NIST Handbook 44).
    let (cold, hot, twenty) = (Temperature::celsius(10), Temperature::celsius(75), figure("20") / figure("3.785411784"));
    for (percent, litres) in [("100", "1.51161"), ("90.4", "1.67214")] {
        let drawn = hot_gallons(twenty, cold, hot, figure(percent)).unwrap();
        assert!((drawn / figure(litres) - Decimal::ONE).abs() < figure("0.001"), "litres and gallons tell of the same water: {drawn}");
    }
}

/// Sources: a dairy-cooling page, “degree-litres” of milk (1.124 kWh; it prints 4,046 kJ from a heat of 3.928); eXtension,
/// “Refrigeration systems for milk cooling” (56 Btu a pound from 98 to 38 °F; it prints 27 kJ/kg for that, and 56 Btu are
/// 130.3). Ten gallons are worked by hand.
#[test]
fn milk_is_cooled() {
    let (warm, kilojoules) = (Temperature::celsius(37), figure("3600"));
    let a_degree = heat_out(kilograms("1030"), Temperature::celsius(5), Temperature::celsius(4)).unwrap();
    assert_eq!((fixed(a_degree, 3), fixed(a_degree * kilojoules, 1)), ("1.124".into(), "4047.9".into()));
    let (from, to) = (Temperature::fahrenheit(98), Temperature::fahrenheit(38));
    assert_eq!(fixed(heat_out(pounds("1"), from, to).unwrap() * figure("3412"), 0), "56");
    let a_kilogram = heat_out(kilograms("1"), from, to).unwrap() * kilojoules;
    assert!((a_kilogram - figure("130.3")).abs() < Decimal::ONE, "{a_kilogram} kJ, which is nowhere near 27");
    // Ten gallons at 1.03 kg a litre.
    let ten = kilograms("38.989741");
    let heat = heat_out(ten, warm, Temperature::celsius(4)).unwrap();
    assert_eq!((fixed(heat * kilojoules, 1), fixed(heat, 4)), ("5056.6".into(), "1.4046".into()));
    assert_eq!(fixed(chilling(ten, warm, Temperature::celsius(4), figure("2.5")).unwrap(), 4), "0.5618");
}

/// Worked by hand: a vacuum pump of 0.56 kW for 40 minutes twice a day, and a fridge of 1.2 kWh a day, over thirty days.
#[test]
fn motors_and_fridges_draw() {
    assert_eq!(motor(figure("0.56"), 80 * 30).unwrap(), figure("22.4"));
    assert_eq!(on_the_label(figure("438"), 30).unwrap(), figure("36"));
    assert_eq!(comes_to(figure("22.4"), figure("0.1575")).unwrap().to_string(), "3.53", "3.528");
}

fn product(weight: &str, brings: &str, costs: &str, on_the_side: bool) -> Product {
    Product { name: "From the pail".into(), weight: pounds(weight), brings: money(brings), costs: money(costs), on_the_side }
}

fn shares(joint: &str, products: &[Product], way: Way) -> Vec<String> {
    share(money(joint), products, way).unwrap().iter().map(ToString::to_string).collect()
}

/// Sources: three textbook problems on dairy, their inputs; the results are worked from them by hand, for no printed
/// solution was seen. Problem 16-30 (20,000 parted into butter and buttermilk, then tubs of butter worked up for 5,000); an
/// input of 12,000 gallons of cream milk for 63,360; buttercream and condensed milk for 34,500. Cups and gallons stand where
/// pounds stand: only how they compare counts.
#[test]
fn one_cost_two_products() {
    let parted = [product("20000", "20000", "0", false), product("80000", "30000", "0", false)];
    assert_eq!(shares("20000", &parted, Way::Weight), ["4000.00", "16000.00"]);
    assert_eq!(shares("20000", &parted, Way::Brings), ["8000.00", "12000.00"]);
    let worked_up = [product("20000", "50000", "5000", false), product("80000", "30000", "0", false)];
    assert_eq!(shares("20000", &worked_up, Way::Brings), ["12000.00", "8000.00"]);
    let cups = [product("36000", "79200", "0", false), product("108000", "64800", "0", false)];
    assert_eq!(shares("63360", &cups, Way::Weight), ["15840.00", "47520.00"]);
    assert_eq!(shares("63360", &cups, Way::Brings), ["34848.00", "28512.00"]);
    let cans = [product("9375", "234375", "0", false), product("11625", "639375", "0", false)];
    assert_eq!(shares("34500", &cans, Way::Weight), ["15401.79", "19098.21"]);
    assert_eq!(shares("34500", &cans, Way::Brings), ["9254.29", "25245.71"]);
}

/// Source: “Treatment of by-products in cost accounting” for the steps; the figures are worked by hand: 4,000.00, and cream
/// that brings 150.00 over its own costs, leave 3,850.00 to 600 half-gallons.
#[test]
fn cream_on_the_side_lowers_the_cost_of_milk() {
    let pail = [product("80", "190.00", "40.00", true), product("2580", "4200.00", "0", false)];
    assert_eq!(shares("4000.00", &pail, Way::OnTheSide), ["150.00", "3850.00"]);
    let milk = share(money("4000.00"), &pail, Way::OnTheSide).unwrap()[1];
    assert_eq!(fixed(milk.dollars() / pail[1].weight.in_half_gallons(), 4), "6.4167");
}

fn account(costs: &[&str], milk: &str, receipts: &[&str]) -> Account {
    let line = |cost: &&str| Line::new("Cost", Sort::Other, money(cost), Views::ALL, Falls::ByDays);
    Account {
        lines: costs.iter().map(line).collect(),
        milk: Milk { produced: figure(milk), ..Milk::default() },
        receipts: Some(receipts.iter().map(|receipt| money(receipt)).sum()),
        ..Account::default()
    }
}

/// Source: “Keeping One Cow” (19th century), the letter of a family at Ottawa: an outfit of seven things for 6.20, butter
/// for 50.00 and milk for 29.20, feed and interest of 50.69, and 28.51 of profit. Its interest of 3.69 is taken as paid: 6 %
/// on 46.20 is 2.77.
#[test]
fn a_family_cow_pays() {
    assert_eq!(["1.25", "3.00", "0.60", "0.50", "0.20", "0.40", "0.25"].map(money).into_iter().sum::<Money>().to_string(), "6.20");
    let (butter, milk) = (money("0.25").times(40 * 5), money("0.08").times(365));
    assert_eq!((butter.to_string(), milk.to_string()), ("50.00".into(), "29.20".into()));
    let year = account(&["47.00", "3.69"], "0", &[&butter.to_string(), &milk.to_string()]);
    assert_eq!(year.receipts.unwrap().to_string(), "79.20");
    assert_eq!(year.total(View::Cash).unwrap().to_string(), "50.69");
    assert_eq!(year.left_over(View::Cash).unwrap().to_string(), "28.51");
    let kept = Worth::of(money("46.20"), money("46.20"), 1).unwrap();
    assert_eq!(Money::round(kept.capital_recovery(figure("0.06"))).to_string(), "2.77", "what keeps its worth costs its interest");
}

/// Source: Univ. of Florida digital collections, page 34 of a dairy publication: 2.66 a day over half a hundredweight is
/// 5.32 for one, 3.00 over 0.70 is 4.29; at 13.00 they leave 3.84 and 6.10. The dearer feed leaves 2.26 more.
#[test]
fn what_a_cow_costs_a_day_is_not_what_milk_costs() {
    let farm = |feed: &str, hundredweights: &str| {
        let brings = Money::round(figure("13.00") * figure(hundredweights)).to_string();
        let day = account(&[feed], hundredweights, &[&brings]);
        (fixed(day.each(View::Wear, Per::Produced).unwrap(), 2), day.left_over(View::Wear).unwrap())
    };
    let (first, second) = (farm("2.66", "0.50"), farm("3.00", "0.70"));
    assert_eq!((first.0.as_str(), first.1), ("5.32", money("3.84")));
    assert_eq!((second.0.as_str(), second.1), ("4.29", money("6.10")));
    assert_eq!(second.1 - first.1, money("2.26"));
}

/// Sources: “Milk litres to pounds and prices” (8.6 lb a gallon, 2.272 lb a litre; it prints 44.01 litres a hundredweight
/// from that cut figure, 44.0164 by the exact gallon); a page on gallons in 100 lb (11.63); a page on what a gallon weighs (1.03 kg a
/// litre, 3.8989 kg cut from 3.89896, which is 8.5957 lb).
#[test]
fn what_a_gallon_of_milk_weighs() {
    let gallon = figure("3.785411784");
    assert_eq!(fixed(Weight::gallons(Decimal::ONE).in_pounds() / gallon, 3), "2.272");
    let hundred = pounds("100").in_gallons();
    assert_eq!((fixed(hundred, 2), fixed(hundred * gallon, 4)), ("11.63".into(), "44.0164".into()));
    let by_density = kilograms("3.898962").in_pounds();
    assert_eq!(fixed(by_density, 4), "8.5957");
    assert!((Weight::gallons(Decimal::ONE).in_pounds() - by_density).abs() < figure("0.005"), "8.6 is a fair rounding");
}

/// Sources, each with a printed figure that is wrong: “Calculating the value of dry forage vs silage” (75.07 for 700 lb at
/// 10.71 cents); Michigan State Univ. Extension on labour (leave of 1,677); a farm-press reprint of Nebraska Extension's “Cow
/// depreciation” (a drop of 900 over 4 years as 250); a solved question, “Equivalent annual cost, 8 %” (a present value of
/// 408.35); “Keeping One Cow” (100 days at 1.00 a week as 14.30); a general page on milk (0.749 Mcal/kg at 3.5 % fat);
/// “Break-even lesson” (4,980 by a break-even that was rounded first).
#[test]
fn printed_errors_are_not_copied() {
    let alfalfa = load("180", "2000", "84").a_pound_dry();
    assert_eq!(fixed(alfalfa * figure("700"), 2), "75.00");
    assert_eq!(fixed(figure(&fixed(alfalfa, 4)) * figure("700"), 2), "74.97", "by its rounded price, not 75.07");
    assert_eq!(labour_cost(145 * 60, money("11.50"), Decimal::ZERO).to_string(), "1667.50");
    let worth = |price, salvage, years| Worth::of(money(price), money(salvage), years).unwrap();
    assert_eq!(worth("900", "0", 5).straight_line(), figure("180"));
    assert_eq!(worth("900", "0", 4).straight_line(), figure("225"));
    let (printer, rate) = (worth("900", "300", 5), figure("0.08"));
    assert_eq!(fixed(printer.capital_recovery(rate) / capital_recovery_factor(rate, printer.years()), 2), "695.83");
    assert_eq!(Money::round(money("1.00").dollars() * figure("100") / figure("7")).to_string(), "14.29");
    assert_eq!(fixed(solids("3.5", "3.0").energy_in(kilograms("1")), 3), "0.681");
    assert_eq!(fixed(solids("4.0", "3.4").energy_in(kilograms("1")), 2), "0.75", "0.749 is milk of 4 %");
    let (fixed_cost, units) = (money("10000"), money("20").times(500));
    let shop = account(&[&fixed_cost.to_string(), &units.to_string()], "500", &["25000"]);
    assert_eq!(shop.left_over(View::Cash).unwrap().to_string(), "5000.00");
}
