//! What if: a month of small books worked by hand, one driver changed at a time, and everything worked out again from it.
//!
//! The month is made up. It proves nothing about any farm, and every figure below was worked by hand.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use rust_decimal::Decimal;
use tallypail::trade::{
    account::Books,
    bills::{Assumed, Owned, Paid, Serves, Spent},
    compared::{self, Saved},
    costs::Per,
    cover::{self, Grown, a_month},
    drivers::beside,
    figures::{Part, Sheet},
    lines::View,
    measure::{Weight, fixed},
    money::Money,
    packs::Packs,
    splits::Cow,
    stores::{DayUse, Feeding, Store, UsedBy},
    supposed,
    swings::{Input, swings},
    wear::Span,
    went::{Flow, Went},
    what_if::Changes,
    when::Day,
};

fn day(text: &str) -> Day {
    text.parse().unwrap()
}

fn money(text: &str) -> Money {
    Money::parse(text).unwrap()
}

fn figure(text: &str) -> Decimal {
    Decimal::from_str_exact(text).unwrap()
}

fn june() -> Span {
    Span { from: day("2026-06-01"), to: day("2026-06-30") }
}

fn changes(typed: &str) -> Changes {
    Changes::parse(typed).unwrap()
}

fn ticket(sort: &str, amount: &str, store: Option<(i64, i64, &str)>) -> Paid {
    Paid {
        number: 1,
        paid: day("2026-06-01"),
        sort: sort.into(),
        what: sort.into(),
        supplier: String::new(),
        amount: money(amount),
        quantity: store.map(|(_, quantity, _)| quantity.into()),
        unit: store.map_or(String::new(), |(.., unit)| unit.into()),
        store: store.map(|(number, ..)| number),
        cow: None,
        used_from: None,
        used_to: None,
        milk_share: 100,
        guess: false,
    }
}

fn store(number: i64, name: &str, (sort, counted_in): (&'static str, &str), used_by: UsedBy, each: &str) -> Store {
    Store {
        number,
        name: name.into(),
        sort,
        counted_in: counted_in.into(),
        packs: Packs::parse("bale = 40").unwrap(),
        used_by,
        used_amount: figure(each),
        milk_share: 100,
        dry_matter: None,
        waste: Decimal::ZERO,
    }
}

fn feeding(store: i64, pounds: i64, cow: Option<&str>) -> Feeding {
    let (since, unit, cow) = (day("2026-06-01"), "lb".to_owned(), cow.map(str::to_owned));
    Feeding { number: store, store, since, until: None, amount: pounds.into(), unit, a_day: true, cow, guess: false }
}

fn spent(job: &str, person: &str, minutes: i64, wage: Option<&str>) -> Spent {
    let (opens, job, person) = (String::new(), job.to_owned(), person.to_owned());
    Spent { opens, day: day("2026-06-05"), job, person, minutes, wage: wage.map(money), guess: false }
}

fn assumed(name: &str, is: &str) -> Assumed {
    Assumed { number: 1, name: name.into(), since: day("2026-01-01"), figure: figure(is), note: "test".into() }
}

/// June of two cows, 300 half-gallons of milk, all 240 that were filled handed out. Used: hay 100 lb a day at 0.10 is 300.00,
/// Damson's grain 10 lb at 0.30 is 90.00, 240 lids at 0.20 are 48.00, a twentieth of 240 jars at 3.00 is 36.00, 60 filters at
/// 0.10 are 6.00, 120 dips at 0.10 are 12.00. With the lab's 25.00, 6.00 to Joss and 16.67 of wear (2,000 ÷ 10 ÷ 12): 539.67.
/// With hours: 24.64 instead of the wear, and 50 hours at 16.00: 1,347.64. Paid: 1,011.00.
fn books() -> Books {
    let flows = [(Flow::Produced, 300), (Flow::Calf, 40), (Flow::House, 20), (Flow::Filled, 240), (Flow::HandedOut, 240)];
    let cow = |name: &str, halves: i64| Cow { name: name.into(), days: 30, milkings: 60, milk: Weight::half_gallons(halves.into()) };
    Books {
        tickets: vec![
            ticket("feed", "400.00", Some((1, 100, "bale"))),
            ticket("jars and lids", "100.00", Some((2, 500, "piece"))),
            ticket("jars and lids", "120.00", Some((3, 40, "piece"))),
            ticket("supplies", "20.00", Some((4, 200, "piece"))),
            ticket("supplies", "40.00", Some((5, 4_000, "mL"))),
            ticket("feed", "300.00", Some((6, 1_000, "lb"))),
            ticket("lab", "25.00", None),
        ],
        stores: vec![
            store(1, "Hay", ("feed", "lb"), UsedBy::Written, "0"),
            store(2, "Lids", ("jars and lids", "piece"), UsedBy::Jar, "1"),
            store(3, "Jars", ("jars and lids", "piece"), UsedBy::Jar, "0.05"),
            store(4, "Filters", ("supplies", "piece"), UsedBy::Milking, "1"),
            store(5, "Dip", ("supplies", "mL"), UsedBy::Cow, "10"),
            store(6, "Grain", ("feed", "lb"), UsedBy::Written, "0"),
        ],
        feedings: vec![feeding(1, 100, None), feeding(6, 10, Some("Damson"))],
        days: june().from.iter_days().take(30).map(|day| DayUse { day, milkings: 2, cows: 4, jars: 8 }).collect(),
        gear: vec![Owned {
            number: 1,
            name: "Milking machine".into(),
            is_cow: false,
            bought: day("2026-01-01"),
            gone: None,
            price: money("2400.00"),
            salvage: money("400.00"),
            years: 10,
            milk_share: 100,
            serves: Serves::Milking,
            died: false,
            brought: Money::ZERO,
        }],
        minutes: vec![
            spent("milking", "Mina", 1_800, None),
            spent("washing up", "Mina", 900, None),
            spent("feeding", "Mina", 300, None),
            spent("milking", "Joss", 20, Some("18.00")),
        ],
        assumed: vec![assumed("worth of an hour", "16"), assumed("interest %", "6"), assumed("a half-gallon brings", "5")],
        milk: vec![(june(), Went { flows: flows.map(|(flow, amount)| (flow, amount.into())).to_vec(), on_hand_before: Decimal::ZERO })],
        cows: vec![(june(), vec![cow("Damson", 180), cow("Kettle", 120)])],
        income: vec![(june(), money("1000.00"))],
        income_since: Some(june().from),
        until: june().to,
        ..Books::default()
    }
    .settled()
}

/// Cash out, with wear and with hours.
fn totals(books: &Books) -> [String; 3] {
    let account = books.account(june());
    View::ALL.map(|view| account.total(view).unwrap().to_string())
}

fn then(books: &Books, typed: &str) -> Books {
    books.with(&changes(typed), june()).unwrap()
}

fn moved(typed: &str) -> [String; 3] {
    totals(&then(&books(), typed))
}

fn wrong(typed: &str) -> String {
    books().with(&changes(typed), june()).unwrap_err().into_iter().map(|own| own.says).collect()
}

#[test]
fn the_month_as_it_is() {
    assert_eq!(totals(&books()), ["1011.00", "539.67", "1347.64"]);
    assert_eq!(moved("price of lab +0 %"), totals(&books()), "a change of nothing changes nothing");
}

/// Worked by hand: a fifth of the 300.00 of hay used, and of the 400.00 paid; with a refund of 40.00 a fifth of 270.00 and 360.00.
#[test]
fn dearer_hay_raises_the_hay_used() {
    assert_eq!(moved("price of Hay +20 %"), ["1091.00", "599.67", "1407.64"]);
    assert_eq!(moved("price of hay +20 %"), moved("price of HAY +20 %"));
    assert_eq!(moved("price of feed +20 %"), ["1151.00", "617.67", "1425.64"], "grain too: 78.00 used, 140.00 paid");
    let mut refunded = books();
    refunded.tickets.push(Paid { store: Some(1), ..ticket("feed", "-40.00", None) });
    let refunded = refunded.settled();
    assert_eq!(totals(&refunded), ["971.00", "509.67", "1317.64"]);
    assert_eq!(totals(&then(&refunded, "price of Hay +20 %")), ["1043.00", "563.67", "1371.64"]);
}

/// Worked by hand: 50 hours, and a third of one hired. Nobody is paid for an unpaid hour, so it moves one view only.
#[test]
fn a_wage_moves_hours_only() {
    assert_eq!(moved("worth of an hour = 18"), ["1011.00", "539.67", "1447.64"]);
    assert_eq!(moved("price of unpaid hours +12.5 %"), ["1011.00", "539.67", "1447.64"]);
    assert_eq!(moved("price of hired hands +50 %"), ["1014.00", "542.67", "1350.64"]);
}

/// Worked by hand: 7 more a week are 30 in June; 30 lids at 0.20 and a twentieth of 30 jars at 3.00. With 30 on hand already, none.
#[test]
fn one_more_share_adds_jars_and_lids_only() {
    assert_eq!(moved("hand out +7 a week"), ["1011.00", "550.17", "1358.14"]);
    let more = then(&books(), "hand out +7 a week");
    let milk = more.account(june()).milk;
    assert_eq!((milk.produced, milk.fit, milk.reached), (300.into(), 270.into(), 270.into()));
    assert_eq!((more.went(june()).of(Flow::Calf), more.went(june()).of(Flow::House)), (10.into(), 20.into()), "the calf's part goes first");
    let mut spare = books();
    spare.milk[0].1.on_hand_before = 30.into();
    assert_eq!(totals(&then(&spare, "hand out +7 a week")), totals(&spare));
    assert_eq!(totals(&then(&spare, "hand out +14 a week")), ["1011.00", "550.17", "1358.14"], "the second thirty are filled");
    assert_eq!(moved("hand out -7 a week"), ["1011.00", "529.17", "1337.14"]);
}

/// Worked by hand: 60 of the 300 reach nobody, 14 a week in 30 days; with 21 of colostrum 39, 9.1 a week.
#[test]
fn no_more_is_handed_out_than_there_is() {
    assert!(books().with(&changes("hand out +14 a week"), june()).is_ok());
    assert!(wrong("hand out +15 a week").contains("300.0 half-gallons came out of the cows"), "{}", wrong("hand out +15 a week"));
    assert!(wrong("hand out +15 a week").contains("That leaves 14.0 a week."));
    let fresh = Books { colostrum: vec![(june(), 21.into())], ..books() };
    assert!(fresh.with(&changes("hand out +10 a week"), june()).unwrap_err()[0].says.contains("That leaves 9.1 a week."));
    assert!(wrong("hand out -57 a week").contains("Only 56.0 half-gallons a week reach people."));
}

/// Worked by hand: half of Damson's 180 is gone, three tenths of the milk; 72 fewer jars, 15 days less grain, 30 dips fewer.
#[test]
fn a_cow_dry_early() {
    let dry = then(&books(), "Damson dry from 2026-06-16");
    assert_eq!(totals(&dry), ["1011.00", "466.47", "1274.44"]);
    let milk = dry.account(june()).milk;
    let halves = [milk.produced, milk.fit, milk.reached].map(|own| fixed(own, 4));
    assert_eq!(halves, ["210.0000", "168.0000", "168.0000"], "milk is kept to the milligram");
    assert_eq!(dry.days.iter().filter(|own| own.day < day("2026-06-16")).map(|own| own.jars).sum::<i64>(), 120, "as before she was dry");
    assert_eq!(
        dry.days.iter().map(|own| (own.jars, own.cows, own.milkings)).fold((0, 0, 0), |a, b| (a.0 + b.0, a.1 + b.1, a.2 + b.2)),
        (168, 90, 60)
    );
    assert!(wrong("Damzon dry from 2026-06-16").contains("Did you mean Damson?"));
    assert!(wrong("Damson dry from 2026-07-01").contains("is not among these days"));
    assert!(beside(&books(), &changes("Damson dry from 2026-06-16"), june()).concat().contains("spread evenly over her days"));
}

/// Worked by hand: a quarter less milk, 12.00 of lids and 9.00 of jars less; half the filters, dip and Joss; 1,650 of 3,000 minutes.
#[test]
fn once_a_day() {
    assert_eq!(moved("once a day, milk -25 %"), ["1008.00", "506.67", "954.64"]);
    let mut odd = books();
    odd.minutes = (0..3).map(|_| spent("milking", "Mina", 15, None)).collect();
    let minutes: i64 = then(&odd, "once a day, milk -25 %").minutes.iter().map(|own| own.minutes).sum();
    assert_eq!(minutes, 23, "22.5 are halved together, not three times 7.5");
}

/// Worked by hand: 6 in a hundred jars instead of 5 are 43.20 instead of 36.00; a tenth less milk takes 24 jars less.
#[test]
fn jars_lost_and_milk() {
    assert_eq!(moved("use of Jars = 0.06"), ["1011.00", "546.87", "1354.84"]);
    assert_eq!(moved("milk -10 %"), ["1011.00", "531.27", "1339.24"]);
    assert_eq!(moved("milk -10 %; milk +0 %; use of Jars = 0.06"), ["1011.00", "537.75", "1345.72"], "216 jars at 0.18");
}

/// Worked by hand: boarding stays when more goes out; at 5.00 a half-gallon 270 bring 1,350.00.
#[test]
fn what_comes_in() {
    let came = |books: &Books, typed: &str| then(books, typed).account(june()).receipts.unwrap().to_string();
    assert_eq!(came(&books(), "comes in +5 %"), "1050.00");
    assert_eq!(came(&books(), "hand out +7 a week"), "1000.00");
    let reckoned = Books { income_since: None, ..books() };
    assert_eq!(came(&reckoned, "hand out +7 a week"), "1350.00");
    assert_eq!(came(&reckoned, "comes in +5 %"), "1260.00");
}

#[test]
fn nonsense_gets_a_sentence_beside_its_field() {
    assert!(wrong("price of Hey +20 %").contains("Did you mean Hay"));
    assert!(wrong("worth of a hour = 3").contains("Did you mean worth of an hour?"));
    assert!(wrong("use of Lid = 3").contains("Did you mean Lids"));
    assert!(wrong("use of Hay = 3").contains("used up as it is written down"));
    assert!(wrong("interest % = 99999999999").contains("more than any farm"));
    assert!(Books::default().with(&changes("milk +10 %"), june()).unwrap_err()[0].says.contains("No milk is written down"));
    let typed = [
        ("feed", "lots"),
        ("store_by", "20"),
        ("hour", "🐄"),
        ("more", "many"),
        ("cow", "Damson"),
        ("once", "101"),
        ("changes", "price of Hey +20 %"),
    ];
    let said = |field: &str| typed.iter().find(|(own, _)| *own == field).map_or("", |(_, says)| says).to_owned();
    let remarks = supposed::read(&books(), june(), said).unwrap_err();
    let fields: Vec<&str> = remarks.iter().map(|own| own.field.as_str()).collect();
    assert_eq!(fields, ["feed", "store", "hour", "more", "once", "dry_from", "changes"]);
    assert!(supposed::read(&books(), june(), |_| String::new()).unwrap().is_none());
}

/// The plain fields come to the same changes as the line.
#[test]
fn plain_fields_are_changes() {
    let typed = [
        ("store", "Hay"),
        ("store_by", "20 %"),
        ("hour", "$18"),
        ("lost", "6"),
        ("once", "25"),
        ("cow", "Kettle"),
        ("dry_from", "2026-06-20"),
    ];
    let said = |field: &str| typed.iter().find(|(own, _)| *own == field).map_or("", |(_, says)| says).to_owned();
    let supposed = supposed::read(&books(), june(), said).unwrap().unwrap();
    let line = "price of Hay +20 %; worth of an hour = 18; use of Jars = 0.06; once a day, milk -25 %; Kettle dry from 2026-06-20";
    assert_eq!(supposed.changes.to_string(), line);
    assert_eq!(totals(&supposed.books), moved(line));
}

/// Worked by hand: 84.00 of lids and jars over 240 are 0.35 each; 455.67 ÷ 4.65 is 97.99 and 1,263.64 ÷ 4.65 is 271.75. Six shares
/// must bring 539.67 and 1,347.64, 89.945 and 224.607 each.
#[test]
fn what_must_come_in() {
    let (books, account) = (books(), books().account(june()));
    let even = |view| {
        let grown = Grown::of(&books, &account, view).unwrap();
        let jars = grown.break_even(&account, money("5.00")).unwrap().unwrap();
        (grown.by_jar.to_string(), grown.stays.to_string(), fixed(grown.each(&account).unwrap(), 2), jars.jars, jars.to_spare(240))
    };
    assert_eq!(even(View::Wear), ("84.00".into(), "455.67".into(), "0.35".into(), 98, 142));
    assert_eq!(even(View::Hours), ("84.00".into(), "1263.64".into(), "0.35".into(), 272, -32));
    let six = |total: &str| a_month(money(total), june(), 6.into());
    assert_eq!(six("539.67"), (money("539.67"), Some(money("89.95"))));
    assert_eq!(six("1347.64"), (money("1347.64"), Some(money("224.61"))));
    let year = Span { from: day("2025-11-22"), to: day("2026-11-21") };
    assert_eq!(a_month(money("1200.00"), year, Decimal::ZERO), (money("100.00"), None), "nine days and twenty-one are one month");
    let herd = said(&cover::sheet(&books, june(), 6.into(), "Tansyditch Farm"));
    assert!(
        herd.contains("89.95") && !herd.contains("half-gallon must") && !herd.contains("0.35"),
        "a share is boarded, never a jar: {herd}"
    );
    assert!(said(&cover::sheet(&books, june(), Decimal::ZERO, "Tansyditch Farm")).contains("272"));
}

/// Worked by hand from 1,347.64 over 240. Milk 192 and 288 with 16.80 of jars and lids less or more; hours 806.00; feed 390.00;
/// jars lost 36.00; gear 24.64 to 19.72 and 29.57; interest at 4.8 and 7.2 %, 22.97 and 26.35.
#[test]
fn what_moves_it_most() {
    let (base, found) = swings(&books(), june(), View::Hours).unwrap();
    assert_eq!(fixed(base, 4), "5.6152");
    let shown: Vec<_> = found.iter().map(|own| (own.input, fixed(own.less, 4), own.more.map(|more| fixed(more, 4)))).collect();
    let row = |input, less: &str, more: &str| (input, less.to_owned(), Some(more.to_owned()));
    assert_eq!(
        shown,
        [
            row(Input::Milk, "6.9315", "4.7376"),
            row(Input::Hours, "4.9435", "6.2868"),
            row(Input::Feed, "5.2902", "5.9402"),
            row(Input::JarsLost, "5.5852", "5.6452"),
            row(Input::Gear, "5.5947", "5.6357"),
            row(Input::Interest, "5.6082", "5.6223"),
        ]
    );
    let mut little = books();
    little.milk[0].1.flows[0].1 = 280.into();
    let (_, found) = swings(&little, june(), View::Hours).unwrap();
    assert_eq!(found.iter().find(|own| own.input == Input::Milk).unwrap().more, None, "280 are no fifth more than 240");
}

fn said(sheet: &Sheet) -> String {
    let one = |part: &Part| match part {
        Part::Table(table) => {
            let cells = table.rows.iter().map(|row| row.iter().map(|cell| cell.says.clone()).collect::<Vec<_>>().join(" | "));
            let heads = table.columns.iter().map(|own| own.name.clone()).collect::<Vec<_>>().join(" | ");
            format!("{}\n{heads}\n{}", table.caption, cells.collect::<Vec<_>>().join("\n"))
        }
        Part::Words(says) | Part::Loud(says) | Part::Heading(says) => says.clone(),
        Part::Picture(picture) => picture.alt.clone(),
    };
    sheet.parts.iter().map(one).collect::<Vec<_>>().join("\n")
}

/// Worked by hand: 1,000.00 less 539.67 is 460.33; an hour earned (1,000.00 − 547.64) ÷ 50 = 9.05, and with dearer hay 7.85.
#[test]
fn now_beside_then_and_what_was_kept() {
    let saved = |number, name: &str, changes: &str| Saved { number, name: name.into(), changes: changes.into() };
    let kept = [saved(1, "Dear hay", "price of Hay +20 %"), saved(2, "She went", "Wren dry from 2026-06-16")];
    let (dear, books) = (changes("price of Hay +20 %"), books());
    let sheet = said(&compared::sheet(&books, Some((&dear, &then(&books, "price of Hay +20 %"))), &kept, june(), "Tansyditch Farm"));
    for line in [
        "What came in | 1000.00 | 1000.00 | 0.00",
        "Left over, with wear | 460.33 | 400.33 | -60.00",
        "Earned an hour | 9.05 | 7.85 | -1.20",
        "Feed | +80.00 | +60.00 | +60.00 | 390.00 | 450.00",
        "As it is | 1011.00 | 539.67 | 1347.64 | 5.62 | 1000.00 | 460.33 | 9.05",
        "Dear hay: price of Hay +20 % | 1091.00 | 599.67 | 1407.64 | 5.87 | 1000.00 | 400.33 | 7.85",
        "She went: There is no cow “Wren”.",
        "A changed price holds for all time in the books",
    ] {
        assert!(sheet.contains(line), "no “{line}” in:\n{sheet}");
    }
    assert!(!sheet.contains("Jars and lids |"), "only what changed is listed");
    let account = then(&books, "price of Hay +20 %").account(june());
    assert_eq!(fixed(account.each(View::Hours, Per::Reached).unwrap(), 4), "5.8652", "1,407.64 ÷ 240");
}
