//! The stores: what lies in them, what the cows are fed out of them, and what a count found.

use super::{
    Farm, demo_day,
    herd::LACTATIONS,
    ledger::{jars, moment, text, whole},
    pen::{Dice, Sign, day, row},
};
use rust_decimal::Decimal;
use tallypail::trade::when::Day;

/// Name, sort, counted in, what its measures hold, how it is used up and how much each time, part for milk, dry matter, waste, note.
type Kept =
    (&'static str, &'static str, &'static str, &'static str, &'static str, &'static str, i64, &'static str, &'static str, &'static str);

/// What is kept until it is used, by its number.
#[rustfmt::skip]
const STORES: [Kept; 6] = [
    ("Hay", "feed", "lb", "bale = 45", "as written", "", 80, "89", "9", "Ten bales weighed; dry matter and waste at a rack are common practice. A fifth is the calves' and the dry cow's."),
    ("Dairy grain", "feed", "lb", "bag = 50", "as written", "", 95, "89", "1", "Protein by the tag, dry matter common practice. The calves get the rest."),
    ("Salt and minerals", "feed", "lb", "bag = 50", "as written", "", 85, "98", "", "A bag lasts the four of them about a month."),
    ("Lids", "jars and lids", "piece", "lid = 1", "every jar filled", "1", 100, "", "", "A new lid on every jar"),
    ("Half-gallon jars", "jars and lids", "piece", "jar = 1", "every jar filled", "0.015", 100, "", "", "Six dozen bought in a year for some 5,500 fills: three in two hundred break or stay away."),
    ("Filters", "supplies", "piece", "box = 100", "every milking", "1", 100, "", "", "A new one at every milking"),
];

/// Something fed: the store, from, to, how much in tenths, in what, each, the cow, and whether it is a guess.
type Fed = (i64, Day, &'static str, i64, &'static str, &'static str, Option<usize>, &'static str);

/// Hay: bales carried into the rack. In a dry July the pasture was short, and nobody counted each day.
const HAY: [(&str, &str, i64, &str, &str); 6] = [
    ("2025-10-20", "", 20, "a day", "no"),
    ("2025-11-10", "", 25, "a day", "no"),
    ("2026-04-01", "2026-04-24", 20, "a day", "yes"),
    ("2026-07-01", "2026-08-14", 230, "in all", "yes"),
    ("2026-10-18", "", 20, "a day", "no"),
    ("2026-11-09", "", 25, "a day", "no"),
];

/// Grain by the days since a cow calved, in tenths of a pound a day.
const GRAIN: [(i64, i64); 4] = [(0, 50), (10, 100), (110, 80), (210, 65)];
/// What a dry cow gets, so that she comes in.
const DRY: i64 = 20;
/// Wren lame and off her grain, and well again.
const OFF_HER_GRAIN: [(usize, &str, i64); 2] = [(2, "2026-05-02", 30), (2, "2026-05-06", 80)];

/// Grain in tenths of a pound a day for each cow, from each day it changed: first what she had when the ledger began.
fn grain() -> Vec<(Day, usize, i64)> {
    let first = day("2025-09-01");
    let mut steps: Vec<(Day, usize, i64)> = OFF_HER_GRAIN.map(|(cow, on, tenths)| (day(on), cow, tenths)).into();
    for (cow, calved, _, dried) in LACTATIONS {
        let dried = dried.map(day);
        let at = GRAIN.map(|(after, tenths)| (day(calved) + chrono::Duration::days(after), cow, tenths));
        let off = |on: Day| OFF_HER_GRAIN.iter().any(|(own, ..)| *own == cow) && day("2026-05-02") <= on && on <= day("2026-05-06");
        steps.extend(at.into_iter().filter(|(on, ..)| dried.is_none_or(|dried| *on < dried) && !off(*on)));
        steps.extend(dried.map(|dried| (dried, cow, DRY)));
    }
    steps.sort();
    let (before, since): (Vec<_>, Vec<_>) = steps.into_iter().filter(|(on, ..)| *on < demo_day()).partition(|(on, ..)| *on <= first);
    let at_first = (0..4).filter_map(|cow| before.iter().rfind(|own| own.1 == cow).map(|own| (first, cow, own.2)));
    at_first.chain(since).collect()
}

/// The grain bin as Mina looks into it before she drives to the mill.
pub struct Bin {
    left: i64,
    from: Day,
    steps: Vec<(Day, usize, i64)>,
}

impl Bin {
    /// Three hundredweight, in tenths of a pound.
    pub fn at_the_start() -> Bin {
        Bin { left: 3_000, from: day("2025-09-01"), steps: grain() }
    }

    fn fed(&mut self, until: Day) -> i64 {
        let a_day =
            |on: Day| -> i64 { (0..4).filter_map(|cow| self.steps.iter().rfind(|own| own.1 == cow && own.0 <= on)).map(|own| own.2).sum() };
        self.from.iter_days().take_while(|on| *on < until).map(a_day).sum()
    }

    /// The hundredweights she brings home on a day, to last until this day of the next month and some days over.
    pub fn bought(&mut self, on: Day) -> i64 {
        self.left -= self.fed(on);
        self.from = on;
        let wanted = self.fed(on + chrono::Months::new(1)) + 800 - self.left;
        let bought = (wanted + 999) / 1_000;
        self.left += bought * 1_000;
        bought
    }
}

impl Farm {
    /// The stores, and what was fed out of them up to a day.
    pub fn stores(&mut self) {
        let sign = Sign::screen(self.pen.at(day("2025-09-01"), "20:40"), "Mina");
        for (name, sort, counted_in, packs, used_by, used, share, dry, waste, note) in STORES {
            let line = row![name, sort, "2025-09-01", counted_in, packs, used_by, used, share, dry, waste, note];
            self.pen.write("stores", line, sign.clone());
        }
        let mut fed: Vec<Fed> =
            HAY.iter().map(|(since, until, tenths, each, guess)| (1, day(since), *until, *tenths, "bale", *each, None, *guess)).collect();
        // Nobody weighs a handful, so what a dry cow gets is a guess.
        let guess = |tenths: i64| if tenths == DRY { "yes" } else { "no" };
        fed.extend(grain().into_iter().map(|(since, cow, tenths)| (2, since, "", tenths, "lb", "a day", Some(cow), guess(tenths))));
        fed.push((3, day("2025-09-01"), "", 16, "lb", "a day", None, "yes"));
        fed.sort_by_key(|own| (own.1, own.0, own.6));
        for (store, since, until, tenths, unit, each, cow, guess) in fed {
            let evening = self.pen.at(if until.is_empty() { since } else { day(until) }, "20:45");
            let cow = cow.map(|place| (place + 1).to_string()).unwrap_or_default();
            let amount = Decimal::new(tenths, 1).normalize();
            self.pen.write("feedings", row![store, since, until, amount, unit, each, cow, guess], Sign::screen(evening, "Mina"));
        }
    }

    /// The counts: hay before and after the pasture, lids when the box runs low, jars at the start and the end of the season.
    pub fn store_counts(&mut self) {
        for (store, on, left, unit, note) in [
            (4, "2026-03-10", None, "lid", "Before the new box came"),
            (5, "2026-04-17", None, "jar", "Rack in the milk room"),
            (1, "2026-04-25", Some(42), "bale", "Two bales of broken ones swept up"),
            (4, "2026-08-31", None, "lid", "Some bent, thrown out"),
            (1, "2026-09-10", Some(18), "bale", "Old hay pulled to the front"),
            (5, "2026-10-03", None, "jar", "Rack in the milk room"),
        ] {
            let gone = if store == 4 { Dice::of(note, day(on)).between(9, 24) } else { 1 };
            let left = left.unwrap_or_else(|| self.by_the_book(store, day(on)) - gone);
            let evening = self.pen.at(day(on), "20:40");
            self.pen.write("store_counts", row![store, on, left, unit, note], Sign::screen(evening, "Mina"));
        }
    }

    /// How many lids or jars should lie there in the evening of a day, after what came, what was filled and what was last counted.
    fn by_the_book(&self, store: i64, on: Day) -> i64 {
        let book = &self.pen.book;
        let figure = |name: &str, own, column: &str| text(name, own, column).parse::<Decimal>().unwrap();
        let counted = book.of("store_counts").iter().rfind(|own| whole("store_counts", own, "store") == Some(store));
        let (since, mut left) = counted.map_or((day("2025-08-31"), Decimal::ZERO), |own| {
            (day(text("store_counts", own, "day")), figure("store_counts", own, "amount"))
        });
        let within = |at: Day| since < at && at <= on;
        for own in book.of("tickets").iter().filter(|own| whole("tickets", own, "store") == Some(store)) {
            if within(day(text("tickets", own, "paid"))) {
                let each = if text("tickets", own, "unit") == "dozen" { 12 } else { 1 };
                left += figure("tickets", own, "quantity") * Decimal::from(each);
            }
        }
        let each: Decimal = STORES[usize::try_from(store - 1).unwrap()].5.parse().unwrap();
        for lot in book.of("lots").iter().filter(|lot| within(self.pen.zone.day(moment("lots", lot, "filled")))) {
            let own = jars("lots", lot);
            left -= each * Decimal::from(own.gallons + own.half_gallons + own.quarts + own.pints);
        }
        left.round().try_into().unwrap()
    }
}
