//! A whole month through the program's own books: tickets, stores, feedings, minutes, gear, cows and milk become every line, total
//! and share. The month is made up and proves nothing about any farm; it holds every rule at once, and all of it was worked by hand.

use rust_decimal::Decimal;
use tallypail::trade::{
    account::Books,
    bills::{Item, Owned, Paid, Serves},
    costs::{Gap, Per},
    costsheet,
    figures::Cell,
    lines::{Falls, Line, View},
    measure::{Weight, fixed},
    money::Money,
    months::Asked,
    splits::{BreakEven, Cow, household_pays, split_by_cow},
    stores::{DayUse, UsedBy},
    swings::{Input, swings},
    went::{self, Flow, Went},
};

use crate::costbooks::{assumed, covering, day, fed, figure, into_store, june, money, owned, paid, spent, store};

const JUNE: (&str, &str) = ("2026-06-01", "2026-06-30");

/// Two cows: A in milk all month, B dry for twenty days and then in milk, so 60 milkings and 20.
fn cows() -> Vec<Cow> {
    let cow = |name: &str, milkings, pounds| Cow { name: name.into(), days: 30, milkings, milk: Weight::pounds(figure(pounds)) };
    vec![cow("A", 60, "1032.0"), cow("B", 20, "258.0")]
}

fn of_cow(name: &str, ticket: Paid) -> Paid {
    Paid { cow: Some(name.into()), ..ticket }
}

/// What was paid in June, what was paid before and lasts into it, and what lay there.
fn tickets() -> Vec<Paid> {
    let mut all = vec![
        // What lay there on the first of June.
        into_store(1, "feed", "200.00", "2026-05-20", ("2000", "lb")),
        into_store(2, "feed", "250.00", "2026-05-20", ("10", "cwt")),
        into_store(3, "supplies", "10.00", "2026-05-20", ("100", "pieces")),
        into_store(4, "supplies", "50.00", "2026-05-20", ("10", "liters")),
        into_store(5, "jars and lids", "66.00", "2026-05-20", ("25", "dozen")),
        into_store(6, "jars and lids", "325.00", "2026-05-20", ("100", "pieces")),
        // Paid before June, used in it.
        covering("supplies", "5.60", "2026-05-20", JUNE),
        of_cow("A", covering("vet", "10.00", "2026-05-20", JUNE)),
        of_cow("B", covering("breeding", "10.00", "2026-05-20", JUNE)),
        covering("insurance", "40.00", "2026-05-20", JUNE),
        // A calf kept is credited over twelve months: 182.50 × 30 ÷ 365 = 15.00 of A's, and 10.00 and 5.00 of B's last and new one.
        of_cow("A", paid("calf kept", "182.50", "2026-03-01")),
        of_cow("B", paid("calf kept", "182.50", "2025-06-21")),
        of_cow("B", paid("calf kept", "182.50", "2026-06-21")),
        // Paid in June.
        into_store(1, "feed", "400.00", "2026-06-12", ("2", "tons")),
        into_store(2, "feed", "90.00", "2026-06-15", ("360", "lb")),
        into_store(5, "jars and lids", "110.00", "2026-06-18", ("500", "pieces")),
        paid("lab", "25.00", "2026-06-09"),
        paid("power", "18.60", "2026-06-28"),
    ];
    for (number, own) in (1..).zip(&mut all) {
        own.number = number;
    }
    all
}

/// The books of that June.
fn books() -> Books {
    let written = (UsedBy::Written, "0");
    let flows = [
        (Flow::Produced, 300),
        (Flow::Colostrum, 10),
        (Flow::Calf, 30),
        (Flow::House, 20),
        (Flow::ThrownOut, 12),
        (Flow::Filled, 228),
        (Flow::HandedOut, 220),
        (Flow::JarsThrownOut, 8),
    ];
    let milked = |nth: u64| DayUse {
        day: june().from.checked_add_days(chrono::Days::new(nth)).unwrap(),
        milkings: 2,
        cows: if nth < 20 { 2 } else { 4 },
        jars: if nth < 18 { 8 } else { 7 },
    };
    Books {
        tickets: tickets(),
        stores: vec![
            store(1, "Hay", "feed", "lb", written),
            store(2, "Grain", "feed", "lb", written),
            store(3, "Filters", "supplies", "piece", (UsedBy::Milking, "1")),
            store(4, "Dip", "supplies", "mL", (UsedBy::Cow, "20")),
            store(5, "Lids", "jars and lids", "piece", (UsedBy::Jar, "1")),
            // Four in a hundred fills lose their jar.
            store(6, "Jars", "jars and lids", "piece", (UsedBy::Jar, "0.04")),
        ],
        feedings: vec![
            fed(1, Some("A"), "30", JUNE),
            fed(1, Some("B"), "24", JUNE),
            fed(2, Some("A"), "11", JUNE),
            fed(2, Some("B"), "14.4", ("2026-06-21", "2026-06-30")),
        ],
        days: (0..30).map(milked).collect(),
        gear: vec![
            owned("Milking machine", false, "2024-01-01", ("2400", "400", 10)),
            owned("Fridge", false, "2024-01-01", ("900", "0", 8)),
            owned("A", true, "2024-01-01", ("2200", "900", 5)),
            owned("B", true, "2024-01-01", ("1800", "800", 5)),
        ],
        minutes: vec![
            spent("milking", "Joss", 300, "2026-06-06", Some("18.00")),
            spent("milking", "Mina", 1_800, "2026-06-07", None),
            spent("washing up", "Del", 630, "2026-06-14", None),
        ],
        assumed: [
            ("worth of an hour", "16"),
            ("payroll burden %", "7.65"),
            ("interest %", "6"),
            ("death loss %", "2"),
            ("own land a month", "25"),
        ]
        .map(|(name, is)| assumed(name, "2026-01-01", is))
        .to_vec(),
        milk: vec![(
            june(),
            Went { flows: flows.map(|(flow, amount)| (flow, Decimal::from(amount))).to_vec(), on_hand_before: Decimal::ZERO },
        )],
        income: vec![(june(), money("1540.00"))],
        income_since: Some(day("2026-01-01")),
        cows: vec![(june(), cows())],
        until: june().to,
        ..Books::default()
    }
    .settled()
}

fn sum(books: &Books, item: Item, view: View, wanted: impl Fn(&Line) -> bool) -> String {
    books.lines(item, june()).iter().filter(|line| line.views.has(view) && wanted(line)).map(|line| line.amount).sum::<Money>().to_string()
}

fn all(_: &Line) -> bool {
    true
}

/// Worked by hand: every line, in the view or views it belongs to.
#[test]
fn every_line_from_the_books() {
    let books = books();
    assert_eq!(books.wrongs(), Vec::<String>::new());
    let used = |sort, wanted: &dyn Fn(&Line) -> bool| [View::Wear, View::Hours].map(|view| sum(&books, Item::Tickets(sort), view, wanted));
    let named = |name: &'static str| move |line: &Line| line.name == name;
    let both = |amount: &str| [amount.to_owned(), amount.to_owned()];
    assert_eq!(used("feed", &all), both("280.50"));
    let her = |name: &str, cow: &str| {
        let falls = Falls::OnCow(cow.into());
        used("feed", &|line: &Line| line.name == name && line.falls == falls)
    };
    assert_eq!([her("Hay", "A"), her("Grain", "A")], [both("90.00"), both("82.50")]);
    assert_eq!([her("Hay", "B"), her("Grain", "B")], [both("72.00"), both("36.00")]);
    assert_eq!(used("supplies", &all), both("19.60"));
    assert_eq!([used("supplies", &named("Filters")), used("supplies", &named("Dip"))], [both("6.00"), both("8.00")]);
    assert_eq!(used("jars and lids", &named("Lids")), both("50.16"), "228 × 0.22");
    assert_eq!(used("jars and lids", &named("Jars")), both("29.64"), "228 × 0.04 × 3.25");
    assert_eq!(used("lab", &all), both("25.00"));
    assert_eq!(used("power", &all), both("18.60"));
    assert_eq!([used("vet", &all), used("breeding", &all)], [both("10.00"), both("10.00")]);
    assert_eq!(used("insurance", &all), both("40.00"));
    assert_eq!(used("calf kept", &all), both("-30.00"));
    let cash = |item| sum(&books, item, View::Cash, all);
    assert_eq!(["feed", "jars and lids", "lab", "power"].map(|sort| cash(Item::Tickets(sort))), ["490.00", "110.00", "25.00", "18.60"]);
    assert_eq!(["supplies", "vet", "breeding", "insurance", "calf kept"].map(|sort| cash(Item::Tickets(sort))), ["0.00"; 5]);
    for view in View::ALL {
        assert_eq!(sum(&books, Item::Hired, view, all), "96.89", "5 h × 18.00 × 1.0765 = 96.885");
    }
    assert_eq!(View::ALL.map(|view| sum(&books, Item::Gear, view, all)), ["0.00", "26.05", "36.72"]);
    assert_eq!(View::ALL.map(|view| sum(&books, Item::OwnLand, view, all)), ["0.00", "0.00", "25.00"]);
    let ending = |word: &'static str| View::ALL.map(|view| sum(&books, Item::Cows, view, |line| line.name.ends_with(word)));
    assert_eq!(ending("wear"), ["0.00", "38.34", "38.34"]);
    assert_eq!(ending("risk of death"), ["0.00", "0.00", "4.75"]);
    assert_eq!(ending("interest"), ["0.00", "0.00", "14.25"]);
    let account = books.account(june());
    let unpaid: Vec<String> = account.unpaid.iter().map(|own| own.at(account.wage.unwrap()).amount.to_string()).collect();
    assert_eq!(unpaid, ["480.00", "168.00"], "648.00 in all");
}

/// Worked by hand: three totals, and each over three amounts of milk; and the report says the same.
#[test]
fn three_totals_from_the_books() {
    let books = books();
    let account = books.account(june());
    for (view, total, each) in [
        (View::Cash, "740.49", ["2.4683", "3.2478", "3.3659"]),
        (View::Wear, "614.78", ["2.0493", "2.6964", "2.7945"]),
        (View::Hours, "1317.45", ["4.3915", "5.7783", "5.9884"]),
    ] {
        assert_eq!(account.total(view).unwrap().to_string(), total, "{view}");
        assert_eq!(Per::ALL.map(|per| fixed(account.each(view, per).unwrap(), 4)), each, "{view}");
    }
    assert_eq!(account.kept_back(View::Hours).unwrap().to_string(), "351.32", "1,317.45 × 80 ÷ 300");
    assert_eq!(account.left_over(View::Hours).unwrap().to_string(), "222.55", "1,540.00 − 1,317.45");
    let keys = costsheet::keys(&books, Asked::year_to(june().to, Some(june().from)));
    let shown = keys.map(|key| (key.total.unwrap().to_string(), fixed(key.each.unwrap(), 2)));
    let said = |total: &str, each: &str| (total.to_owned(), each.to_owned());
    assert_eq!(shown, [said("740.49", "3.37"), said("614.78", "2.79"), said("1317.45", "5.99")]);
}

/// Worked by hand: (1,540.00 − 669.45) over 40.5 hours; and 1,237.65 × 20 ÷ 248 for what was drunk at home.
#[test]
fn what_the_family_earns_and_drinks_from_the_books() {
    let books = books();
    let account = books.account(june());
    assert_eq!(account.receipts, Some(money("1540.00")), "by the books of the households");
    assert_eq!(account.return_to_hours().unwrap().to_string(), "870.55");
    assert_eq!(fixed(account.return_an_hour().unwrap(), 2), "21.50");
    let household = household_pays(&account, View::Hours, books.went(june()).of(Flow::House)).unwrap();
    assert_eq!((household.pays.to_string(), fixed(household.each, 4)), ("99.81".into(), "5.5347".into()));
    // Without those books, at 7.00 for each of the 220 it is the same.
    let mut unwritten = books.clone();
    unwritten.income_since = None;
    assert_eq!(unwritten.account(june()).receipts, None, "nor is it named what one brings");
    unwritten.assumed.push(assumed("a half-gallon brings", "2026-01-01", "7.00"));
    assert_eq!(fixed(unwritten.account(june()).return_an_hour().unwrap(), 2), "21.50");
}

fn by_cow(books: &Books) -> Vec<[String; 6]> {
    let cows = &books.cows.first().unwrap().1;
    let split = split_by_cow(&books.account(june()), View::Hours, cows).unwrap();
    assert_eq!(split.not_shared, Money::ZERO);
    split
        .cows
        .iter()
        .map(|cow| {
            let [direct, days, milkings, pounds, total] =
                [cow.direct, cow.by_days, cow.by_milkings, cow.by_pounds, cow.total()].map(|part| part.to_string());
            [direct, days, milkings, pounds, total, fixed(cow.each.unwrap(), 4)]
        })
        .collect()
}

/// Worked by hand: hers alone, 65.00 by days, 819.81 by milkings (614.8575 and 204.9525), 25.00 by pounds.
#[test]
fn by_cow_from_the_books() {
    let shown = by_cow(&books());
    assert_eq!(shown[0], ["199.50", "32.50", "614.86", "20.00", "866.86", "3.6119"]);
    assert_eq!(shown[1], ["128.34", "32.50", "204.95", "5.00", "370.79", "6.1798"]);
}

/// Worked by hand: the same with a fridge that serves the chilling, whose 12.08 falls by pounds: 807.73 by milkings is 605.80 and
/// 201.93, and 37.08 by pounds is 29.66 and 7.42.
#[test]
fn what_a_thing_serves_moves_its_wear() {
    let mut chilling = books();
    chilling.gear[1].serves = Serves::Chilling;
    let shown = by_cow(&chilling);
    assert_eq!(shown[0][..5], ["199.50", "32.50", "605.80", "29.66", "867.46"]);
    assert_eq!(shown[1][..5], ["128.34", "32.50", "201.93", "7.42", "370.19"]);
    chilling.gear[1].serves = Serves::Jars;
    let account = chilling.account(june());
    let milk: Money = split_by_cow(&account, View::Hours, &cows()).unwrap().cows.iter().map(|cow| cow.total()).sum();
    assert_eq!(milk, money("1225.57"), "1,237.65 − 12.08, which is no cow's");
    assert_eq!(account.total(View::Hours), Ok(money("1317.45")), "and all of it is as it was");
}

/// Worked by hand from a base of 5.9884: a fifth less and a fifth more of what hours, feed and gear cost, each reckoned again
/// from the books. A fifth more of the hired hour's wage is 116.262, rounded anew, so its end is a hundredth of a cent lower than
/// a fifth more of what was rounded before.
#[test]
fn what_moves_the_price_of_these_books() {
    let (base, found) = swings(&books(), june(), View::Hours).unwrap();
    assert_eq!(fixed(base, 4), "5.9884");
    let ends = |input: Input| {
        let own = found.iter().find(|own| own.input == input).unwrap();
        (fixed(own.less, 4), own.more.map(|more| fixed(more, 4)))
    };
    let both = |less: &str, more: &str| (less.to_owned(), Some(more.to_owned()));
    assert_eq!(ends(Input::Hours), both("5.3112", "6.6655"));
    assert_eq!(ends(Input::Feed), both("5.7334", "6.2434"));
    assert_eq!(ends(Input::Gear), both("5.9550", "6.0218"));
}

/// Worked by hand: 1,290.0 lb are all accounted for, and the shelf is empty in the evening of the 30th.
#[test]
fn the_milk_of_these_books_adds_up() {
    let went = books().went(june());
    let pounds =
        |flow| fixed(Weight::half_gallons(went.of(flow)).in_milligrams().into(), 0).parse::<Decimal>().unwrap() / figure("453592.37");
    let shown =
        [Flow::Produced, Flow::Colostrum, Flow::Calf, Flow::House, Flow::ThrownOut, Flow::Filled].map(|flow| fixed(pounds(flow), 1));
    assert_eq!(shown, ["1290.0", "43.0", "129.0", "86.0", "51.6", "980.4"]);
    assert_eq!((went.unexplained(), went.on_hand_after()), (Decimal::ZERO, Decimal::ZERO));
    let [pails, jars] = went::tables(&went, june());
    let says = |row: &[Cell]| row.iter().map(|cell| cell.says.clone()).collect::<Vec<_>>();
    assert_eq!(says(pails.rows.last().unwrap())[1..], ["0.0", "0.0"], "nothing unexplained");
    assert_eq!(says(pails.total.as_ref().unwrap())[1], "300.0");
    assert_eq!(says(jars.total.as_ref().unwrap())[1], "0.0");
    let whole = went::disposition(&went, june());
    let shown: Vec<String> = whole.rows.iter().map(|row| row[1].says.clone()).collect();
    assert_eq!(shown, ["220.0", "20.0", "30.0", "10.0", "20.0", "0.0", "0.0", "0.0", "0.0", "0.0"], "8 expired and 12 spilled or sampled");
}

/// Worked by hand: what a cow and a machine cost when they come and go in June.
#[test]
fn what_comes_and_goes_in_june() {
    let mut changed = books();
    // B dies on the 30th: 30 months of 16.6667 are worn: 1,800 − 500 = 1,300 are lost.
    changed.gear[3] = Owned { gone: Some(june().to), died: true, ..changed.gear[3].clone() };
    let account = changed.account(june());
    assert_eq!(account.total(View::Wear), Ok(money("1914.78")), "614.78 + 1,300.00");
    assert_eq!(account.total(View::Hours), Ok(money("1317.45")), "her risk stands there already");
    assert_eq!(account.total(View::Cash), Ok(money("740.49")));
    // Sold for 1,000.00 instead, 300.00 are lost in both, and the money comes in.
    changed.gear[3] = Owned { died: false, brought: money("1000.00"), ..changed.gear[3].clone() };
    let account = changed.account(june());
    assert_eq!(View::ALL.map(|view| account.total(view).unwrap()), [money("-259.51"), money("914.78"), money("1617.45")]);
    // A fridge bought in the middle of June is paid in full and wears for half of it: 900 ÷ 96 ÷ 2 = 4.69.
    let mut newer = books();
    newer.gear[1].bought = day("2026-06-16");
    let account = newer.account(june());
    assert_eq!(account.total(View::Cash), Ok(money("1640.49")));
    assert_eq!(account.total(View::Wear), Ok(money("610.09")), "614.78 − 9.38 + 4.69");
}

/// Common practice: interest on a loan is paid and used up, but capital recovery holds it already; what is paid back is cash alone.
#[test]
fn a_loan_in_june() {
    let mut borrowed = books();
    borrowed.tickets.push(paid("loan interest", "12.00", "2026-06-15"));
    borrowed.tickets.push(paid("loan principal", "80.00", "2026-06-15"));
    borrowed.tickets.push(paid("calf sold", "100.00", "2026-06-30"));
    let account = borrowed.settled().account(june());
    let totals = View::ALL.map(|view| account.total(view).unwrap().to_string());
    assert_eq!(totals, ["732.49", "626.51", "1317.18"], "740.49 + 92 − 100; 614.78 + 12 − 0.27; 1,317.45 − 0.27 of 100 in 365 days");
}

/// Worked by hand: everything but jars is fixed within the month: 1,237.65; a jar brings 7.00 and takes 0.35, so 187 jars.
#[test]
fn june_breaks_even() {
    let account = books().account(june());
    let jars: Money =
        books().lines(Item::Tickets("jars and lids"), june()).iter().filter(|line| line.views.hours).map(|line| line.amount).sum();
    let fixed_part = account.total(View::Hours).unwrap() - jars;
    let even = BreakEven::of(fixed_part, money("7.00"), jars.dollars() / figure("228")).unwrap();
    assert_eq!((jars, fixed_part, even.jars), (money("79.80"), money("1237.65"), 187));
    assert_eq!(even.to_spare(220), 33);
    assert_eq!(account.milk.of(Per::Reached), Ok::<Decimal, Gap>(Decimal::from(220)));
}
