//! What must hold for any books: parts add up to the whole to the cent, and costs follow prices and milk.

use proptest::prelude::*;
use rust_decimal::Decimal;
use tallypail::trade::{
    account::Books,
    bills::{Item, Owned, Paid, Serves, Spent},
    costs::Per,
    costsheet,
    figures::Part,
    kinds::{JOBS, SPENT},
    lines::{Falls, Line, Sort, View},
    measure::Weight,
    money::Money,
    months::months_in,
    opened,
    splits::{Cow, CowCost, household_pays, split_by_cow},
    stores::{DayUse, UsedBy},
    wear::Span,
    went::{Flow, Went},
    when::Day,
};

use crate::costbooks::{assumed, fed, into_store, owned, paid, span, spent, store};

/// A year, whose months the parts of it are taken by.
fn year() -> Span {
    span("2026-01-01", "2026-12-31")
}

fn nth(place: u64) -> Day {
    year().from + chrono::Days::new(place)
}

/// What a ticket of any sort is typed as: its sort, cents, day, days it lasts, part for milk, and whose it is.
type Typed = (usize, i64, u64, u64, i64, u8);

fn ticket(typed: &Typed, times: i64) -> Paid {
    let (sort, cents, on, lasts, milk_share, whose) = *typed;
    let covers = (lasts > 0).then(|| nth(on + lasts));
    let cow = ["A", "B"].get(usize::from(whose)).map(|own| (*own).to_owned());
    let plain = paid(SPENT[sort % SPENT.len()], "0", &nth(on).to_string());
    Paid { amount: Money::cents(cents * times), used_from: covers.map(|_| nth(on)), used_to: covers, milk_share, cow, ..plain }
}

/// A thing: its price in cents, what is left of it, its years, its day, and what it serves.
type Thing = (i64, i64, i64, u64, usize);

fn thing(typed: &Thing, times: i64) -> Owned {
    let (price, kept, years, on, serves) = *typed;
    let is_cow = serves == 4;
    let serves = [Serves::Milking, Serves::Chilling, Serves::Jars, Serves::Barn][serves % 4];
    let plain = owned(if is_cow { "A" } else { "Thing" }, is_cow, &nth(on).to_string(), ("0", "0", years));
    Owned { price: Money::cents(price * times), salvage: Money::cents(price * kept / 100 * times), serves, ..plain }
}

/// Work: the job, minutes, the day, and cents an hour for somebody hired.
type Work = (usize, i64, u64, Option<i64>);

fn work(typed: &Work, times: i64) -> Spent {
    let (job, minutes, on, wage) = *typed;
    let plain = spent(JOBS[job % JOBS.len()], if wage.is_some() { "Joss" } else { "Mina" }, minutes, &nth(on).to_string(), None);
    Spent { wage: wage.map(|cents| Money::cents(cents * times)), ..plain }
}

/// What any books are made of.
#[derive(Clone, Debug)]
struct Made {
    tickets: Vec<Typed>,
    things: Vec<Thing>,
    work: Vec<Work>,
    hay: Vec<(i64, i64, u64)>,
    milk: (i64, i64, i64),
}

fn any() -> impl Strategy<Value = Made> {
    let tickets = proptest::collection::vec((0usize..40, -20_000i64..200_000, 0u64..360, 0u64..400, 1i64..=100, 0u8..4), 0..14);
    let things = proptest::collection::vec((1i64..500_000, 0i64..=100, 1i64..=20, 0u64..360, 0usize..5), 0..5);
    let work = proptest::collection::vec((0usize..14, 1i64..600, 0u64..365, proptest::option::of(500i64..4_000)), 0..14);
    let hay = proptest::collection::vec((1i64..4_000, 100i64..60_000, 0u64..300), 0..5);
    let milk = (1i64..5_000, 0i64..400, 0i64..400);
    (tickets, things, work, hay, milk).prop_map(|(tickets, things, work, hay, milk)| Made { tickets, things, work, hay, milk })
}

impl Made {
    /// The books, with every price so many times over.
    fn books(&self, times: i64) -> Books {
        let mut tickets: Vec<Paid> = self.tickets.iter().map(|own| ticket(own, times)).collect();
        for (pounds, cents, on) in &self.hay {
            let came = into_store(1, "feed", "0", &nth(*on).to_string(), (&pounds.to_string(), "lb"));
            tickets.push(Paid { amount: Money::cents(cents * times), ..came });
        }
        tickets.push(Paid { amount: Money::cents(32_500 * times), ..into_store(2, "jars and lids", "0", "2026-01-01", ("100", "piece")) });
        let (reached, unsold, unfit) = self.milk;
        let flows = [
            (Flow::Produced, reached + unsold + unfit),
            (Flow::House, unfit),
            (Flow::Filled, reached + unsold),
            (Flow::HandedOut, reached),
        ];
        let went = Went { flows: flows.map(|(flow, amount)| (flow, Decimal::from(amount))).to_vec(), on_hand_before: Decimal::ZERO };
        let money = |figure: i64| Decimal::from(figure * times).to_string();
        Books {
            tickets,
            stores: vec![
                store(1, "Hay", "feed", "lb", (UsedBy::Written, "0")),
                store(2, "Jars", "jars and lids", "piece", (UsedBy::Jar, "0.04")),
            ],
            feedings: vec![fed(1, Some("A"), "11.5", ("2026-02-01", "2026-10-31")), fed(1, None, "3", ("2026-03-01", "2026-05-31"))],
            days: (0..365).map(|place| DayUse { day: nth(place), milkings: 2, cows: 3, jars: 7 }).collect(),
            gear: self.things.iter().map(|own| thing(own, times)).collect(),
            minutes: self.work.iter().map(|own| work(own, times)).collect(),
            assumed: vec![
                assumed("worth of an hour", "2026-01-01", &money(16)),
                assumed("own land a month", "2026-01-01", &money(25)),
                assumed("interest %", "2026-01-01", "6"),
                assumed("death loss %", "2026-01-01", "2"),
                assumed("payroll burden %", "2026-01-01", "7.65"),
            ],
            milk: vec![(year(), went)],
            until: year().to,
            ..Books::default()
        }
        .settled()
    }
}

fn cows() -> Vec<Cow> {
    let cow = |name: &str, milkings, pounds: i64| Cow { name: name.into(), days: 365, milkings, milk: Weight::pounds(pounds.into()) };
    vec![cow("A", 610, 6_100), cow("B", 420, 3_950)]
}

fn total(lines: &[Line], wanted: impl Fn(&Line) -> bool) -> Money {
    lines.iter().filter(|line| wanted(line)).map(|line| line.amount).sum()
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, cases: 96, ..ProptestConfig::default() })]

    /// Source: definition; the lines of every row of the report add up to the view, the parts a half-gallon is made of to it too, and
    /// what each half-gallon takes to what it takes in all.
    #[test]
    fn lines_add_up_to_views(made in any()) {
        let books = made.books(1);
        let account = books.account(year());
        for view in View::ALL {
            let whole = account.total(view).unwrap();
            let rows: Money = Item::all().map(|item| total(&books.lines(item, year()), |line| line.views.has(view))).sum();
            let hours = total(&account.lines_in(view).unwrap(), |line| line.sort == Sort::UnpaidHours);
            prop_assert_eq!(rows + hours, whole);
            let pieces = costsheet::pieces(&books, &account, view, year()).unwrap();
            prop_assert_eq!(pieces.iter().map(|own| own.amount).sum::<Money>(), whole);
            let each: Option<Money> = pieces.iter().map(|own| own.each).sum();
            prop_assert_eq!(each, Some(Money::round(account.each(view, Per::Reached).unwrap())));
        }
    }

    /// Source: definition; what a line of the report opens adds up to the line: its tickets, and what left its stores.
    #[test]
    fn what_a_line_opens_adds_up_to_it(made in any()) {
        let books = made.books(1);
        for sort in SPENT {
            let item = Item::Tickets(sort);
            let sheet = opened::line(&books, item, year());
            let sum = |name: &str, column: &str| sheet.parts.iter().filter_map(|part| match part {
                Part::Table(table) if table.name == name => {
                    let place = table.columns.iter().position(|own| own.name == column).unwrap();
                    Some(Money::parse(&table.total.as_ref().unwrap()[place].says).unwrap())
                }
                _ => None,
            }).sum::<Money>();
            let lines = books.lines(item, year());
            prop_assert_eq!(sum("tickets", "Cash out"), total(&lines, |line| line.views.cash), "{}", sort);
            let used = sum("tickets", "Used up") + sum("from_stores", "Used up");
            prop_assert_eq!(used, total(&lines, |line| line.views.has(View::Wear)), "{}", sort);
        }
    }

    /// Source: definition; the cows' parts, what is not shared out and what falls on the jars are all there is; and what the household
    /// pays and what is left for each half-gallon too.
    #[test]
    fn views_add_up_to_cows_and_households(made in any()) {
        let account = made.books(1).account(year());
        for view in View::ALL {
            let whole = account.total(view).unwrap();
            let split = split_by_cow(&account, view, &cows()).unwrap();
            let jars = total(&account.lines_in(view).unwrap(), |line| line.falls == Falls::OnJars);
            let parts: Money = split.cows.iter().map(|cow| cow.total()).sum();
            prop_assert_eq!(parts + split.not_shared + jars, whole);
            prop_assert_eq!(split.not_shared, Money::ZERO);
            let household = household_pays(&account, view, Decimal::from(made.milk.2)).unwrap();
            prop_assert_eq!(Money::round(household.each * account.milk.reached) + household.pays, whole);
        }
    }

    /// Source: definition; what left a store in each month adds up to what left it in the year, and so does what was paid for it.
    #[test]
    fn months_of_a_store_add_up_to_its_year(made in any()) {
        let books = made.books(1);
        for own in &books.stocks {
            let left = |span| own.stock.in_span(span).map(|own| own.cost).sum::<Money>();
            prop_assert_eq!(months_in(year()).into_iter().map(left).sum::<Money>(), left(year()));
            let came: Money = books.tickets.iter().filter(|paid| paid.store == Some(own.store.number)).map(|paid| paid.amount).sum();
            prop_assert_eq!(left(year()) + own.stock.value, came);
        }
        let of_months = |item| months_in(year()).into_iter().map(|month| total(&books.lines(item, month), |line| line.views.cash)).sum::<Money>();
        for item in [Item::Tickets("feed"), Item::Tickets("lab"), Item::Gear, Item::Cows] {
            prop_assert_eq!(of_months(item), total(&books.lines(item, year()), |line| line.views.cash), "what is paid is paid in one month: {:?}", item);
        }
    }

    /// Source: definition; the less milk a cost is divided by, the more each half-gallon costs; where calves and refunds bring more
    /// than all of it cost, it is the other way round.
    #[test]
    fn less_milk_makes_each_dearer(made in any()) {
        let account = made.books(1).account(year());
        for view in View::ALL {
            let [produced, fit, reached] = Per::ALL.map(|per| account.each(view, per).unwrap());
            let dear = account.total(view).unwrap() >= Money::ZERO;
            let in_order = if dear { reached >= fit && fit >= produced } else { reached <= fit && fit <= produced };
            prop_assert!(in_order, "{} {} {}", produced, fit, reached);
        }
    }

    /// Source: definition; twice every price is twice the cost, to a cent for each line that is rounded and each day a store is.
    #[test]
    fn twice_the_prices_is_twice_the_cost(made in any()) {
        let (once, twice) = (made.books(1), made.books(2));
        let rounded: usize = once.stocks.iter().map(|own| own.stock.posted.len()).sum();
        for view in View::ALL {
            let one = once.account(year());
            let lines = one.lines_in(view).unwrap().len() + twice.account(year()).lines_in(view).unwrap().len();
            let (whole, doubled) = (one.total(view).unwrap().times(2), twice.account(year()).total(view).unwrap());
            let off = (doubled - whole).in_cents().unsigned_abs();
            let may = if view == View::Cash { lines } else { lines + rounded };
            prop_assert!(off <= u64::try_from(may).unwrap(), "{} by {} of {} lines", view, off, lines);
        }
    }

    /// Source: definition; a second cow with the same records halves what is shared and nothing that is hers alone.
    #[test]
    fn a_second_cow_halves_what_is_shared(made in any()) {
        let mut books = made.books(1);
        let alone = vec![cows().swap_remove(0)];
        books.tickets.iter_mut().for_each(|own| own.cow = own.cow.take().map(|_| "A".to_owned()));
        let first = books.clone().settled();
        let twin = |cow: &Option<String>| cow.as_ref().map(|_| "B".to_owned());
        let hers: Vec<Paid> = books.tickets.iter().filter(|own| own.cow.is_some() && own.store.is_none()).map(|own| Paid { cow: twin(&own.cow), ..own.clone() }).collect();
        books.tickets.extend(hers);
        let more: Vec<Owned> = books.gear.iter().filter(|own| own.is_cow).map(|own| Owned { name: "B".into(), ..own.clone() }).collect();
        books.gear.extend(more);
        let both = vec![alone[0].clone(), Cow { name: "B".into(), ..alone[0].clone() }];
        let before = split_by_cow(&first.account(year()), View::Hours, &alone).unwrap();
        let after = split_by_cow(&books.settled().account(year()), View::Hours, &both).unwrap();
        prop_assert_eq!(after.cows[0].direct, before.cows[0].direct, "hers alone stays hers");
        let hay: Money = first.account(year()).lines.iter().filter(|line| line.views.hours && line.name == "Hay" && line.falls == Falls::OnCow("A".into())).map(|line| line.amount).sum();
        prop_assert_eq!(after.cows[1].direct + hay, before.cows[0].direct, "the second has as much but for the hay nobody fed her");
        let pools: [fn(&CowCost) -> Money; 3] = [|cow| cow.by_days, |cow| cow.by_milkings, |cow| cow.by_pounds];
        for pool in pools {
            prop_assert_eq!(pool(&after.cows[0]) + pool(&after.cows[1]), pool(&before.cows[0]));
            prop_assert!((pool(&after.cows[0]) - pool(&after.cows[1])).in_cents().abs() <= 1);
        }
    }

    /// Source: definition; a dearer hour moves one view only, and only up; and dearer money never makes gear cheaper.
    #[test]
    fn a_dearer_hour_moves_one_view(made in any(), more in 0i64..60, rate in 0i64..20) {
        let low = made.books(1);
        let mut high = low.clone();
        high.assumed.push(assumed("worth of an hour", "2026-01-01", &(16 + more).to_string()));
        let (one, two) = (low.account(year()), high.account(year()));
        prop_assert_eq!([View::Cash, View::Wear].map(|view| one.total(view)), [View::Cash, View::Wear].map(|view| two.total(view)));
        prop_assert!(one.total(View::Hours).unwrap() <= two.total(View::Hours).unwrap());
        let mut dear = low.clone();
        dear.assumed.push(assumed("interest %", "2026-01-01", &(6 + rate).to_string()));
        let three = dear.account(year());
        prop_assert_eq!([View::Cash, View::Wear].map(|view| one.total(view)), [View::Cash, View::Wear].map(|view| three.total(view)));
        prop_assert!(one.total(View::Hours).unwrap() <= three.total(View::Hours).unwrap());
    }
}
