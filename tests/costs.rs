//! The cost of a half-gallon: one made-up month worked by hand from end to end, and printed budgets added up again.

use proptest::prelude::*;
use rust_decimal::Decimal;
use tallypail::trade::{
    costs::{Account, Gap, Milk, Per},
    lines::{Falls, Line, Rates, Sort, Ticket, Unpaid, View, Views, jar_uses, labour_cost, minutes_a_half_gallon, wear_lines},
    measure::{Weight, fixed},
    money::Money,
    splits::{BreakEven, Cow, household_pays, split_by_cow},
    swings::{Input, Swing},
    wear::{Gear, Held, Span, Worth},
};

use crate::costbooks::{day, figure, money};

fn paid(name: &str, sort: Sort, amount: &str) -> Line {
    Line::new(name, sort, money(amount), Views::ALL, Falls::ByDays)
}

fn gear(name: &str, is_cow: bool, price: &str, salvage: &str, years: i64) -> Gear {
    let worth = Worth::of(money(price), money(salvage), years).unwrap();
    Gear { name: name.into(), is_cow, bought: day("2026-01-01"), gone: None, worth }
}

fn cows() -> [Cow; 2] {
    let cow = |name: &str, milkings, pounds| Cow { name: name.into(), days: 30, milkings, milk: Weight::pounds(figure(pounds)) };
    [cow("A", 60, "1032.0"), cow("B", 20, "258.0")]
}

/// A made-up June of two cows: A in milk all month, B dry for twenty days. It proves nothing about any farm; it holds every
/// rule at once, and every figure below was worked by hand. Here its lines stand ready; `tests/one_june.rs` has the books they
/// come from.
fn june() -> Account {
    let hired = labour_cost(300, money("18.00"), figure("0.0765"));
    let cow = |name: &str| Falls::OnCow(name.into());
    let mut lines = vec![
        Line::new("Feed, A", Sort::Feed, money("172.50"), Views::USED, cow("A")),
        Line::new("Feed, B", Sort::Feed, money("108.00"), Views::USED, cow("B")),
        Line::new("Dip, filters, sanitizer", Sort::Supplies, money("19.60"), Views::USED, Falls::ByMilkings),
        Line::new("Lids", Sort::Jars, money("0.22").times(228), Views::USED, Falls::OnJars),
        Line::new("Jars", Sort::Jars, Money::round(money("3.25").dollars() * figure("0.04") * figure("228")), Views::USED, Falls::OnJars),
        Line::new("Lab", Sort::Tests, money("25.00"), Views::ALL, Falls::ByPounds),
        Line::new("Electricity", Sort::Power, money("18.60"), Views::ALL, Falls::ByMilkings),
        Line::new("Vet and breeding, A", Sort::Care, money("10.00"), Views::USED, cow("A")),
        Line::new("Vet and breeding, B", Sort::Care, money("10.00"), Views::USED, cow("B")),
        Line::new("Insurance", Sort::Insurance, money("40.00"), Views::USED, Falls::ByDays),
        Line::new("Hired milker", Sort::PaidHours, hired, Views::ALL, Falls::ByMilkings),
        Line::new("Land", Sort::Land, money("25.00"), Views::HOURS, Falls::ByDays),
        Line::new("Calf, A", Sort::Cows, money("-15.00"), Views::USED, cow("A")),
        Line::new("Calf, B", Sort::Cows, money("-15.00"), Views::USED, cow("B")),
        Line::new("Hay bought", Sort::Feed, money("400.00"), Views::PAID, Falls::ByDays),
        Line::new("Grain bought", Sort::Feed, money("90.00"), Views::PAID, Falls::ByDays),
        Line::new("Lids bought", Sort::Jars, money("110.00"), Views::PAID, Falls::OnJars),
    ];
    let rates = Rates { interest: figure("0.06"), deaths: figure("0.02") };
    for thing in [
        gear("Milking machine", false, "2400", "400", 10),
        gear("Fridge", false, "900", "0", 8),
        gear("A", true, "2200", "900", 5),
        gear("B", true, "1800", "800", 5),
    ] {
        let falls = if thing.is_cow { cow(&thing.name) } else { Falls::ByMilkings };
        lines.extend(wear_lines(&thing, Held::months(1), rates, &falls));
    }
    let family =
        Unpaid { name: "Family".into(), minutes: 2_430, worth: None, falls: Falls::ByMilkings, guess: false, opens: vec!["/hours".into()] };
    Account {
        lines,
        unpaid: vec![family],
        wage: Some(money("16.00")),
        milk: Milk { produced: figure("300"), fit: figure("228"), reached: figure("220") },
        receipts: Some(money("7.00").times(220)),
    }
}

fn amounts(view: View, wanted: impl Fn(&Line) -> bool) -> String {
    june().lines_in(view).unwrap().iter().filter(|line| wanted(line)).map(|line| line.amount).sum::<Money>().to_string()
}

/// Worked by hand: what became of June's milk adds up to what came out of the cows, and to the three divisors.
#[test]
fn the_month_accounts_for_its_milk() {
    let pounds = |text: &str| Weight::pounds(figure(text));
    let (bottled, expired) = (pounds("980.4"), Weight::half_gallons(figure("8")));
    let went: Weight = ["43.0", "129.0", "86.0", "51.6"].into_iter().map(pounds).chain([bottled]).sum();
    let produced: Weight = cows().iter().map(|cow| cow.milk).sum();
    assert_eq!((went.to_string(), produced.to_string()), ("1290 lb".into(), "1290 lb".into()), "to the hundredth of a pound");
    let milk = june().milk;
    assert_eq!(produced.in_half_gallons().round_dp(6), milk.produced);
    assert_eq!(bottled.in_half_gallons().round_dp(6), milk.fit);
    assert_eq!((bottled - expired).in_half_gallons().round_dp(6), milk.reached);
}

/// Worked by hand; each line rounded once.
#[test]
fn every_line_of_the_month() {
    let by_sort = |view, sort| amounts(view, |line| line.sort == sort);
    let ending = |view, word: &str| amounts(view, |line| line.name.ends_with(word));
    assert_eq!(by_sort(View::Hours, Sort::Feed), "280.50");
    assert_eq!(by_sort(View::Hours, Sort::Supplies), "19.60");
    assert_eq!(ending(View::Wear, "Lids"), "50.16");
    assert_eq!(ending(View::Wear, "Jars"), "29.64");
    assert_eq!(by_sort(View::Cash, Sort::Tests), "25.00");
    assert_eq!(by_sort(View::Cash, Sort::Power), "18.60");
    assert_eq!(by_sort(View::Wear, Sort::Care), "20.00");
    assert_eq!(by_sort(View::Wear, Sort::Insurance), "40.00");
    assert_eq!(by_sort(View::Cash, Sort::PaidHours), "96.89");
    assert_eq!(by_sort(View::Wear, Sort::Gear), "26.05");
    assert_eq!(by_sort(View::Hours, Sort::Gear), "36.72");
    assert_eq!(ending(View::Wear, "A, wear"), "21.67");
    assert_eq!(ending(View::Hours, "B, wear"), "16.67");
    assert_eq!(ending(View::Hours, "risk of death"), "4.75");
    assert_eq!(amounts(View::Hours, |line| line.sort == Sort::Cows && line.name.ends_with("interest")), "14.25");
    assert_eq!(by_sort(View::Hours, Sort::UnpaidHours), "648.00");
    assert_eq!(by_sort(View::Hours, Sort::Land), "25.00");
    assert_eq!(amounts(View::Wear, |line| line.name.starts_with("Calf")), "-30.00");
    assert_eq!(ending(View::Cash, "bought"), "600.00");
}

/// Worked by hand: three totals, and each over three amounts of milk.
#[test]
fn three_views_over_three_milks() {
    let june = june();
    for (view, total, each) in [
        (View::Cash, "740.49", ["2.4683", "3.2478", "3.3659"]),
        (View::Wear, "614.78", ["2.0493", "2.6964", "2.7945"]),
        (View::Hours, "1317.45", ["4.3915", "5.7783", "5.9884"]),
    ] {
        assert_eq!(june.total(view).unwrap().to_string(), total, "{view}");
        assert_eq!(Per::ALL.map(|per| fixed(june.each(view, per).unwrap(), 4)), each, "{view}");
    }
    assert_eq!(june.kept_back(View::Hours).unwrap().to_string(), "351.32", "1,317.45 × 80 ÷ 300");
    assert_eq!(june.left_over(View::Hours).unwrap().to_string(), "222.55", "1,540.00 − 1,317.45");
}

/// Worked by hand: (1,540.00 − 669.45) over 40.5 hours; and the household's part of the cost of milk.
#[test]
fn what_the_family_earns_and_drinks() {
    let june = june();
    assert_eq!(june.return_to_hours().unwrap().to_string(), "870.55");
    assert_eq!(fixed(june.return_an_hour().unwrap(), 2), "21.50");
    let household = household_pays(&june, View::Hours, figure("20")).unwrap();
    assert_eq!(household.pays.to_string(), "99.81");
    assert_eq!(fixed(household.each, 4), "5.5347");
}

/// Worked by hand: hers alone, 65.00 by days, 819.81 by milkings, 25.00 by pounds.
#[test]
fn the_month_by_cow() {
    let split = split_by_cow(&june(), View::Hours, &cows()).unwrap();
    let shown: Vec<[String; 6]> = split
        .cows
        .iter()
        .map(|cow| {
            let parts = [cow.direct, cow.by_days, cow.by_milkings, cow.by_pounds, cow.total()].map(|part| part.to_string());
            let [direct, days, milkings, pounds, total] = parts;
            [direct, days, milkings, pounds, total, fixed(cow.each.unwrap(), 4)]
        })
        .collect();
    assert_eq!(shown[0], ["199.50", "32.50", "614.86", "20.00", "866.86", "3.6119"]);
    assert_eq!(shown[1], ["128.34", "32.50", "204.95", "5.00", "370.79", "6.1798"]);
    assert_eq!(split.not_shared, Money::ZERO);
}

/// Common practice: a cost is not spread evenly because nobody wrote down by what to spread it.
#[test]
fn what_nobody_wrote_down_is_not_shared() {
    let dry = cows().map(|cow| Cow { milkings: 0, milk: Weight::ZERO, ..cow });
    let split = split_by_cow(&june(), View::Hours, &dry).unwrap();
    assert_eq!(split.not_shared.to_string(), "844.81", "819.81 by milkings and 25.00 by pounds");
    assert_eq!(split.cows[0].each, Err(Gap::NoMilk(Per::Produced)));
}

/// Worked by hand from a base of 5.9884: June over again with a fifth less and more of one thing. Lids and jars move with milk,
/// so less milk hurts more than more milk helps.
#[test]
fn what_moves_the_price_of_the_month() {
    let scaled = |input: Input, by: &str| {
        let (by, mut june) = (figure(by), june());
        let of = |sort: Sort| match input {
            Input::Milk => sort == Sort::Jars,
            Input::Hours => sort == Sort::PaidHours,
            Input::Feed => sort == Sort::Feed,
            _ => sort == Sort::Gear,
        };
        june.lines.iter_mut().filter(|line| of(line.sort)).for_each(|line| line.amount = Money::round(line.amount.dollars() * by));
        if input == Input::Milk {
            june.milk.reached *= by;
        }
        june.wage = june.wage.map(|wage| if input == Input::Hours { Money::round(wage.dollars() * by) } else { wage });
        june
    };
    let shown = [Input::Milk, Input::Hours, Input::Feed, Input::Gear].map(|input| {
        let swing = Swing::between(input, &scaled(input, "0.8"), Some(&scaled(input, "1.2")), View::Hours).unwrap();
        (fixed(swing.less, 4), fixed(swing.more.unwrap(), 4))
    });
    let row = |less: &str, more: &str| (less.to_owned(), more.to_owned());
    assert_eq!(shown, [row("7.3948", "5.0508"), row("5.3112", "6.6656"), row("5.7334", "6.2434"), row("5.9550", "6.0218")]);
}

/// Worked by hand: somebody whose hour has a worth of its own goes by it, and where all have one the farm needs no other.
#[test]
fn everybody_may_have_a_worth() {
    let mut two = june();
    two.unpaid.push(Unpaid { name: "Child".into(), minutes: 90, worth: Some(money("5.00")), ..two.unpaid[0].clone() });
    assert_eq!(two.total(View::Hours).unwrap().to_string(), "1324.95", "1,317.45 and an hour and a half at 5.00");
    let unpriced = Account { wage: None, ..two.clone() };
    assert_eq!(unpriced.total(View::Hours), Err(Gap::NoWage), "the family's hours have none");
    let all: Vec<Unpaid> = two.unpaid.iter().map(|own| Unpaid { worth: Some(money("5.00")), ..own.clone() }).collect();
    let named = Account { wage: None, unpaid: all, ..two };
    assert_eq!(named.total(View::Hours).unwrap().to_string(), "879.45", "669.45, 40.5 hours and an hour and a half at 5.00");
}

/// Common practice: a figure that cannot be worked out is a gap with a reason, never a nought.
#[test]
fn a_gap_is_never_a_nought() {
    let unpriced = Account { wage: None, ..june() };
    assert_eq!(unpriced.total(View::Hours), Err(Gap::NoWage));
    assert_eq!(unpriced.total(View::Cash).unwrap().to_string(), "740.49");
    assert_eq!(unpriced.return_to_hours().unwrap().to_string(), "870.55", "it needs no wage");
    let dry = Account { milk: Milk::default(), receipts: None, unpaid: Vec::new(), ..june() };
    assert_eq!(dry.each(View::Cash, Per::Reached), Err(Gap::NoMilk(Per::Reached)));
    assert_eq!(dry.return_an_hour(), Err(Gap::NoHours));
    assert_eq!(dry.return_to_hours(), Err(Gap::NoReceipts));
    assert_eq!(Gap::NoMilk(Per::Fit).to_string(), "Not computed: no milk was fit to hand out in these days.");
}

/// Source: “Keeping One Cow” (19th century), “The cow's debit and credit for one hundred days”. The man's 14.30 is taken as
/// paid: a hundred days at 1.00 a week come to 14.29.
#[test]
fn one_cow_for_a_hundred_days() {
    let each = |count: i64, price: &str, per: i64| Money::round(Decimal::from(count) * figure(price) / Decimal::from(per));
    let feed = [each(850, "22", 2_000), each(1_000, "1.35", 100), each(400, "1.30", 100), each(200, "1.55", 100)];
    assert_eq!(feed.map(|amount| amount.to_string()), ["9.35", "13.50", "5.20", "3.10"]);
    let mut lines: Vec<Line> = feed.map(|amount| Line::new("Feed", Sort::Feed, amount, Views::ALL, Falls::ByDays)).into();
    lines.extend([paid("Straw", Sort::Supplies, "2.00"), paid("Man", Sort::PaidHours, "14.30")]);
    let milk = Milk { produced: figure("600"), fit: figure("600"), reached: figure("600") };
    let account = Account { lines, milk, receipts: Some(money("0.07").times(1_200)), ..Account::default() };
    assert_eq!(account.total(View::Cash).unwrap().to_string(), "47.45");
    assert_eq!(account.left_over(View::Cash).unwrap().to_string(), "36.55");
    assert_eq!(fixed(account.each(View::Cash, Per::Produced).unwrap(), 4), "0.0791", "worked from its figures");
    let sold_half = Account { receipts: Some(money("42.00")), ..account };
    assert_eq!(sold_half.left_over(View::Cash).unwrap().to_string(), "-5.45", "600 quarts kept at home cost 5.45");
    assert_eq!(Money::round(figure("47.45") * figure("3.65")).to_string(), "173.19");
    assert_eq!(Money::round(figure("40.60") * figure("365") / figure("200")).to_string(), "74.10", "74.095, half up");
}

/// Source: a teaching handout, “Example 2: Gross margin analysis – Dairy”, 450 cows on 200 hectares.
#[test]
fn a_whole_dairy_adds_up() {
    let lines = [
        (Sort::Feed, "46200 35200 112600 405400 59200 26600"),
        (Sort::Care, "34800 21000"),
        (Sort::Supplies, "23600"),
        (Sort::Power, "26400 41800"),
        (Sort::Gear, "55800 31500"),
        (Sort::Other, "9000"),
        (Sort::PaidHours, "165000"),
    ];
    let lines: Vec<Line> =
        lines.into_iter().flat_map(|(sort, amounts)| amounts.split(' ').map(move |amount| paid("Line", sort, amount))).collect();
    assert_eq!(lines.len(), 15);
    let receipts = money("0.45").times(3_195_000) + money("54560");
    let dairy = Account { lines, receipts: Some(receipts), ..Account::default() };
    assert_eq!(dairy.total(View::Wear).unwrap(), money("1094100"));
    assert_eq!(dairy.left_over(View::Wear).unwrap(), money("398210"));
    assert_eq!(fixed(figure("1094100") / figure("200"), 0), "5471", "5,470.5, half up, as it prints");
    assert_eq!(fixed(dairy.left_over(View::Wear).unwrap().dollars() / figure("450"), 0), "885");
}

/// Sources: Michigan State Univ. Extension, “When calculating labor costs take everything into account” (10.00 of wage is
/// 16.36 with taxes, insurance and leave); Univ. of Vermont, agricultural labour pages (7.65 % for the employer).
#[test]
fn an_hour_costs_more_than_its_wage() {
    let on_top = money("1.50") + money("3.94") + money("0.92");
    assert_eq!(labour_cost(60, money("10.00"), on_top.dollars() / figure("10")).to_string(), "16.36");
    assert_eq!(labour_cost(300, money("18.00"), figure("0.0765")).to_string(), "96.89", "96.885 before rounding");
}

/// Common practice: four gallons milked in 8 minutes, and 10 minutes of washing up.
#[test]
fn minutes_go_into_every_half_gallon() {
    assert_eq!(minutes_a_half_gallon(8 + 10, figure("4")), Some(figure("2.25")));
    assert_eq!(minutes_a_half_gallon(18, Decimal::ZERO), None);
}

/// Source: fills ÷ jars put into use after Bojkow, “Trippage number”; a loss of 4 % a trip is 25 uses (common practice).
#[test]
fn jars_wear_out() {
    assert_eq!(jar_uses(2_400, 120), Some(figure("20")));
    assert_eq!(jar_uses(2_400, 0), None);
}

/// Sources: a snowboard-shop case (500, and 800 for a profit of 30,000); “Break-even lesson” (334, with 166 or 33.2 % to
/// spare of 500); the last worked by hand.
#[test]
fn whole_jars_to_break_even() {
    let jars = |fixed: &str, brings: &str, fills_for: &str| BreakEven::of(money(fixed), money(brings), figure(fills_for));
    assert_eq!(jars("50000", "250", "150"), Some(BreakEven { jars: 500 }));
    assert_eq!(jars("80000", "250", "150"), Some(BreakEven { jars: 800 }));
    let shop = jars("10000", "50", "20").unwrap();
    assert_eq!((shop.jars, shop.to_spare(500), shop.percent_to_spare(500)), (334, 166, Some(figure("33.2"))));
    let farm = jars("1100", "7.00", "1.45").unwrap();
    assert_eq!((farm.jars, farm.to_spare(220)), (199, 21));
    assert_eq!(fixed(farm.percent_to_spare(220).unwrap(), 1), "9.5");
    assert_eq!(jars("1100", "7.00", "7.00"), None);
}

/// Source: Boise State open text, 5.4: a fixed 1,000 over 200, 400 and 600 units is 5.00, 2.50 and 1.67. The dry cow is
/// worked by hand: 305 days at 9.30 and 60 at 4.10 over 1,500 half-gallons, and what forgetting the dry days would show.
#[test]
fn a_fixed_cost_thins_out() {
    let each = |amounts: &[&str], halves: &str, places| {
        let lines = amounts.iter().map(|amount| paid("Feed", Sort::Feed, amount)).collect();
        let milk = Milk { produced: figure(halves), ..Milk::default() };
        fixed(Account { lines, milk, ..Account::default() }.each(View::Wear, Per::Produced).unwrap(), places)
    };
    assert_eq!(["200", "400", "600"].map(|units| each(&["1000"], units, 2)), ["5.00", "2.50", "1.67"]);
    assert_eq!(each(&["2836.50", "246.00"], "1500", 4), "2.0550");
    assert_eq!(each(&["2836.50"], "1500", 4), "1.8910");
}

/// Common practice: a bill is spread over the days it covers; one that covers none is used up when it is paid.
#[test]
fn a_ticket_is_used_over_its_days() {
    let june = Span { from: day("2026-06-01"), to: day("2026-06-30") };
    let year = Span { from: day("2026-01-01"), to: day("2026-12-31") };
    let insurance = Ticket::of(money("480.00"), day("2026-01-05"), Some(year)).unwrap();
    assert_eq!(insurance.paid_in(june), Money::ZERO);
    assert_eq!(insurance.used_in(june).to_string(), "39.45", "480 × 30 ÷ 365");
    assert_eq!(insurance.used_in(Span { from: day("2025-01-01"), to: day("2027-12-31") }).to_string(), "480.00");
    let lab = Ticket::of(money("25.00"), day("2026-06-30"), None).unwrap();
    assert_eq!((lab.used_in(june), lab.paid_in(june)), (money("25.00"), money("25.00")));
    assert!(Ticket::of(money("1"), june.from, Some(Span { from: june.to, to: june.from })).is_err());
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// Source: definition; every cow's part and what is not shared add up to the cost of milk.
    #[test]
    fn parts_add_up(milkings in proptest::collection::vec(0i64..62, 1..8), amounts in proptest::collection::vec(-50_000i64..500_000, 3)) {
        let falls = [Falls::ByDays, Falls::ByMilkings, Falls::ByPounds];
        let lines = falls.into_iter().zip(&amounts).map(|(falls, cents)| Line::new("Cost", Sort::Other, Money::cents(*cents), Views::ALL, falls));
        let account = Account { lines: lines.collect(), ..Account::default() };
        let cow = |(place, milkings): (usize, &i64)| Cow { name: place.to_string(), days: 30, milkings: *milkings, milk: Weight::pounds((milkings * 14).into()) };
        let cows: Vec<Cow> = milkings.iter().enumerate().map(cow).collect();
        let split = split_by_cow(&account, View::Wear, &cows).unwrap();
        let parts: Money = split.cows.iter().map(|cow| cow.total()).sum();
        prop_assert_eq!(parts + split.not_shared, amounts.iter().map(|cents| Money::cents(*cents)).sum());
    }

    /// Source: definition; the less milk a cost is divided by, the more each half-gallon costs.
    #[test]
    fn waste_makes_milk_dearer(cents in 1i64..10_000_000, reached in 1i64..5_000, unsold in 0i64..500, unfit in 0i64..500) {
        let milk = Milk { produced: (reached + unsold + unfit).into(), fit: (reached + unsold).into(), reached: reached.into() };
        let account = Account { lines: vec![Line::new("Cost", Sort::Other, Money::cents(cents), Views::ALL, Falls::ByDays)], milk, ..Account::default() };
        let [produced, fit, reached] = Per::ALL.map(|per| account.each(View::Cash, per).unwrap());
        prop_assert!(reached >= fit && fit >= produced);
    }

    /// Source: definition; nobody is paid a wage for unpaid hours, so it moves one view only, and only up.
    #[test]
    fn a_higher_wage_moves_one_view(low in 0i64..5_000, more in 0i64..5_000) {
        let at = |cents| Account { wage: Some(Money::cents(cents)), ..june() };
        let (low, high) = (at(low), at(low + more));
        prop_assert_eq!(low.total(View::Cash), high.total(View::Cash));
        prop_assert_eq!(low.total(View::Wear), high.total(View::Wear));
        prop_assert_eq!(low.return_to_hours(), high.return_to_hours());
        prop_assert!(low.total(View::Hours).unwrap() <= high.total(View::Hours).unwrap());
    }
}
