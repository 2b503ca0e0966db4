//! What is promised against what the herd makes: by weekday, over the last four weeks, and week by week for half a year.
//!
//! It is a look ahead and no promise of the cows. Each figure says what it takes for granted, so that a farmer who knows
//! better can see where.

use super::{
    herd::dry_off,
    measure::Weight,
    parts::{Hundredths, Part},
    promises::{Pause, Share, comes},
    when::Day,
};
use chrono::Days;
use rust_decimal::{Decimal, prelude::ToPrimitive};

/// Weeks that are looked ahead.
pub const WEEKS: u64 = 26;
/// Days of milk that make a cow's level.
const LEVEL_DAYS: usize = 14;
/// Days after a calving until her milk is counted again: colostrum (common practice).
const FRESH: u64 = 5;
/// Days back over which what was filled is held against what was milked.
pub const LOOK_BACK: u64 = 28;

/// A cow, as far as the look ahead needs her.
#[derive(Clone, Debug)]
pub struct Cow {
    /// Her name.
    pub name: String,
    /// Her milk on each day she was milked, today left out, oldest first.
    pub days: Vec<(Day, Weight)>,
    /// Whether she gives milk.
    pub in_milk: bool,
    /// The day she is due.
    pub due: Option<Day>,
}

impl Cow {
    /// Her milk of a day, held level: the mean of her last fourteen days with milk, with how many there were. A cow in milk
    /// that was not written down for fourteen days has none.
    #[must_use]
    pub fn level(&self, today: Day) -> Option<(Weight, usize)> {
        let first = today.checked_sub_days(Days::new(14)).filter(|_| self.in_milk).unwrap_or(Day::MIN);
        let last: Vec<Weight> =
            self.days.iter().rev().filter(|(day, _)| (first..today).contains(day)).take(LEVEL_DAYS).map(|(_, milk)| *milk).collect();
        let count = i64::try_from(last.len()).ok().filter(|count| *count > 0)?;
        let sum: i64 = last.iter().map(|milk| milk.in_milligrams()).sum();
        Some((Weight::milligrams((sum + count / 2) / count), last.len()))
    }

    /// From when to when she is dry, as far as that can be said: nothing for a cow that stays in milk. A cow that is dry now
    /// and has no day stays dry.
    #[must_use]
    pub fn dry(&self, today: Day) -> Option<(Day, Option<Day>)> {
        // A cow that is past her day calves any day now.
        let back = self.due.and_then(|due| due.max(today).checked_add_days(Days::new(FRESH)));
        if self.in_milk { Some((dry_off(self.due?)?.max(today), back)) } else { Some((today, back)) }
    }

    fn gives(&self, on: Day, today: Day) -> Weight {
        let is_dry = self.dry(today).is_some_and(|(from, to)| from <= on && to.is_none_or(|to| on < to));
        let level = self.level(today).map_or(Weight::ZERO, |(milk, _)| milk);
        if is_dry { Weight::ZERO } else { level }
    }
}

/// A household, as far as the look ahead needs it.
#[derive(Clone, Debug)]
pub struct Household {
    /// Its record.
    pub number: i64,
    /// Its weekday; empty for none.
    pub weekday: String,
    /// Since when it is here.
    pub since: Option<Day>,
    /// Until when.
    pub until: Option<Day>,
}

/// Everything the look ahead is made from.
#[derive(Clone, Debug)]
pub struct Facts {
    /// The farm's name.
    pub farm: String,
    /// The day it is.
    pub today: Day,
    /// The cows that are here.
    pub cows: Vec<Cow>,
    /// Half-gallons filled from milkings in the last four weeks.
    pub filled: Decimal,
    /// Everything milked in those weeks.
    pub milked: Weight,
    /// The households.
    pub households: Vec<Household>,
    /// Every share and standing promise.
    pub shares: Vec<Share>,
    /// Every pause.
    pub pauses: Vec<Pause>,
    /// How many shares the herd is divided into, if that is written.
    pub herd_shares: Option<i64>,
}

/// One week of the look ahead.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Week {
    /// Its first day.
    pub from: Day,
    /// Half-gallons the cows would fill.
    pub made: Hundredths,
    /// Half-gallons promised, pauses taken off.
    pub promised: Hundredths,
}

impl Week {
    /// Its last day.
    #[must_use]
    pub fn to(&self) -> Day {
        self.from.checked_add_days(Days::new(6)).unwrap_or(self.from)
    }

    /// Whole half-gallons short, rounded up: a part of a jar that is missing is a jar that is not full.
    #[must_use]
    pub fn short(&self) -> i64 {
        ((self.promised - self.made).count() + 99).div_euclid(100).max(0)
    }

    /// Whole half-gallons that are left over, rounded down.
    #[must_use]
    pub fn over(&self) -> i64 {
        (self.made - self.promised).count().div_euclid(100).max(0)
    }
}

/// Weeks in a row that fall short.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Gap {
    /// The first day.
    pub from: Day,
    /// The last day.
    pub to: Day,
    /// The fewest half-gallons short in one of its weeks.
    pub least: i64,
    /// The most.
    pub most: i64,
}

impl Gap {
    /// In words: `12 Aug–20 Oct 2026: 9–13 half-gallons a week short`.
    #[must_use]
    pub fn says(&self) -> String {
        let from = if self.from.format("%Y").to_string() == self.to.format("%Y").to_string() { "%-d %b" } else { "%-d %b %Y" };
        let many = if self.least == self.most { self.most.to_string() } else { format!("{}–{}", self.least, self.most) };
        let jars = if self.most == 1 { "half-gallon" } else { "half-gallons" };
        format!("{}–{}: {many} {jars} a week short", self.from.format(from), self.to.format("%-d %b %Y"))
    }
}

impl Facts {
    /// Half-gallons for so much milk, at the part of the milk that went into jars in the last four weeks. Nothing when no milk
    /// was written down in them.
    #[must_use]
    pub fn jars(&self, milk: Weight) -> Option<Hundredths> {
        if self.milked.in_milligrams() <= 0 {
            return None;
        }
        let milked = Decimal::from(self.milked.in_milligrams());
        let jars = Decimal::from(milk.in_milligrams()).checked_mul(self.filled)?.checked_div(milked)?;
        (jars * Decimal::ONE_HUNDRED).round().to_i64().map(Hundredths::new)
    }

    /// What a household is promised on a day it comes.
    fn held(&self, person: i64, on: Day) -> Hundredths {
        self.shares.iter().filter(|share| share.person == person && share.holds(on)).map(Share::promised).sum()
    }

    fn is_here(own: &Household, on: Day) -> bool {
        own.since.is_none_or(|since| since <= on) && own.until.is_none_or(|until| until >= on)
    }

    /// What is promised in the seven days from a day, pauses taken off. Whoever has no weekday is counted once.
    #[must_use]
    pub fn promised(&self, from: Day) -> Hundredths {
        let of = |own: &Household| -> Hundredths {
            if own.weekday.is_empty() {
                let paused = self.pauses.iter().any(|pause| pause.stops(own.number, from));
                return if Facts::is_here(own, from) && !paused { self.held(own.number, from) } else { Hundredths::ZERO };
            }
            let days = from.iter_days().take(7).filter(|day| Facts::is_here(own, *day));
            days.filter(|day| comes(own.number, &own.weekday, &self.pauses, *day)).map(|day| self.held(own.number, day)).sum()
        };
        self.households.iter().map(of).sum()
    }

    /// What is promised on each weekday today, with how many households come then; pauses are left out of it.
    #[must_use]
    pub fn by_weekday(&self) -> Vec<(String, usize, Hundredths)> {
        let days = ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday", ""];
        let of = |day: &&str| {
            let own = self.households.iter().filter(|own| own.weekday == **day && Facts::is_here(own, self.today));
            let held: Vec<Hundredths> = own.map(|own| self.held(own.number, self.today)).filter(|jars| *jars > Hundredths::ZERO).collect();
            let name = if day.is_empty() { "no pickup day" } else { day };
            (!held.is_empty()).then(|| (name.to_owned(), held.len(), held.into_iter().sum()))
        };
        days.iter().filter_map(of).collect()
    }

    /// The weeks to come, or nothing when no milk was written down in the last four.
    #[must_use]
    pub fn weeks(&self) -> Vec<Week> {
        let week = |nth: u64| {
            let from = self.today.checked_add_days(Days::new(nth * 7))?;
            let milk: Weight = from.iter_days().take(7).flat_map(|day| self.cows.iter().map(move |cow| cow.gives(day, self.today))).sum();
            Some(Week { from, made: self.jars(milk)?, promised: self.promised(from) })
        };
        (0..WEEKS).map_while(week).collect()
    }

    /// Shares of the herd that are sold today.
    #[must_use]
    pub fn sold(&self) -> Part {
        let sold = |share: &&Share| !share.share.is_empty() && share.holds(self.today);
        self.shares.iter().filter(sold).map(|share| share.part).sum()
    }
}

/// The weeks that fall short, those in a row together.
#[must_use]
pub fn gaps(weeks: &[Week]) -> Vec<Gap> {
    let mut gaps: Vec<Gap> = Vec::new();
    for week in weeks.iter().filter(|week| week.short() > 0) {
        match gaps.last_mut().filter(|gap| gap.to.succ_opt() == Some(week.from)) {
            Some(gap) => {
                *gap = Gap { from: gap.from, to: week.to(), least: gap.least.min(week.short()), most: gap.most.max(week.short()) };
            }
            None => gaps.push(Gap { from: week.from, to: week.to(), least: week.short(), most: week.short() }),
        }
    }
    gaps
}

/// Which cows dry off or come back in a week.
#[must_use]
pub fn changes(facts: &Facts, week: &Week) -> String {
    let inside = |day: Day| (week.from..=week.to()).contains(&day) && day > facts.today;
    let of = |cow: &Cow| -> Vec<String> {
        let Some((from, back)) = cow.dry(facts.today) else { return Vec::new() };
        let dries = (cow.in_milk && inside(from)).then(|| format!("{} dries off", cow.name));
        let returns = back.filter(|day| inside(*day)).map(|_| format!("{} is back", cow.name));
        dries.into_iter().chain(returns).collect()
    };
    facts.cows.iter().flat_map(of).collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::{channels::Channel, when::parse_day};

    fn day(typed: &str) -> Day {
        parse_day(typed).unwrap()
    }

    fn pounds(pounds: i64) -> Weight {
        Weight::pounds(Decimal::from(pounds))
    }

    /// A cow with so many pounds on each of the twenty days before a day.
    fn cow(name: &str, milk: i64, until: &str, in_milk: bool, due: Option<&str>) -> Cow {
        let last = day(until);
        let days = (1..=20).rev().map(|back| (last.checked_sub_days(Days::new(back)).unwrap(), pounds(milk))).collect();
        Cow { name: name.to_owned(), days, in_milk, due: due.map(day) }
    }

    fn share(person: i64, half_gallons: i64) -> Share {
        Share {
            number: person,
            person,
            share: format!("S{person:02}"),
            part: Part::whole(),
            half_gallons,
            way: Channel::Herdshare,
            since: day("2026-01-01"),
            until: None,
            place: None,
        }
    }

    /// Two cows of 43 lb a day, of whose milk four fifths became jars, and households on Saturday and Tuesday. 43 lb are ten
    /// half-gallons of 4.3 lb; both cows for a week are 140, four fifths of them 112.
    fn facts(cows: Vec<Cow>, promised: [i64; 2]) -> Facts {
        let household =
            |number, weekday: &str| Household { number, weekday: weekday.to_owned(), since: Some(day("2026-01-01")), until: None };
        Facts {
            farm: "Tansyditch Farm".to_owned(),
            today: day("2026-11-21"),
            cows,
            filled: Decimal::from(448),
            milked: pounds(43 * 2 * 28),
            households: vec![household(1, "Saturday"), household(2, "Tuesday")],
            shares: vec![share(1, promised[0]), share(2, promised[1])],
            pauses: Vec::new(),
            herd_shares: Some(60),
        }
    }

    /// Worked by hand: see [`facts`]. 60 days before 21 April 2027 is 20 February 2027; five days after it 26 April.
    #[test]
    fn a_cow_that_dries_off_leaves_the_promises_short() {
        let (one, other) = (cow("Damson", 43, "2026-11-21", true, None), cow("Kettle", 43, "2026-11-21", true, Some("2027-04-21")));
        let own = facts(vec![one, other], [30, 40]);
        let weeks = own.weeks();
        assert_eq!(weeks.len(), 26);
        assert_eq!((weeks[0].made, weeks[0].promised), (Hundredths::jars(112), Hundredths::jars(70)));
        assert_eq!((weeks[0].over(), weeks[0].short()), (42, 0));
        // The week of 20 February has one cow: 56 half-gallons for 70.
        assert_eq!(weeks[13].from, day("2027-02-20"));
        assert_eq!((weeks[12].made, weeks[13].made, weeks[13].short()), (Hundredths::jars(112), Hundredths::jars(56), 14));
        // She is back on Monday 26 April: five days of the week from Saturday 24 April are hers, 40 half-gallons.
        assert_eq!((weeks[22].from, weeks[22].made), (day("2027-04-24"), Hundredths::jars(96)));
        assert_eq!(gaps(&weeks), [Gap { from: day("2027-02-20"), to: day("2027-04-23"), least: 14, most: 14 }]);
        assert_eq!(gaps(&weeks)[0].says(), "20 Feb–23 Apr 2027: 14 half-gallons a week short");
        assert_eq!(changes(&own, &weeks[13]), "Kettle dries off");
        assert_eq!(changes(&own, &weeks[22]), "Kettle is back");
    }

    /// Worked by hand: a dry cow gave 43 lb before and is due on 5 December 2026, so she is back on the 10th.
    #[test]
    fn a_dry_cow_comes_back_after_her_day() {
        let dry = cow("Wren", 43, "2026-10-01", false, Some("2026-12-05"));
        assert_eq!(dry.level(day("2026-11-21")), Some((pounds(43), 14)));
        let own = facts(vec![dry.clone()], [1, 0]);
        let weeks = own.weeks();
        assert_eq!(weeks[..3].iter().map(|week| week.made).collect::<Vec<_>>(), [0, 0, 1600].map(Hundredths::new), "two of seven days");
        assert_eq!(weeks[3].made, Hundredths::jars(56));
        assert!(Cow { due: None, ..dry.clone() }.gives(day("2027-04-01"), own.today) == Weight::ZERO, "nobody wrote a day");
        let late = Cow { due: Some(day("2026-11-01")), ..dry };
        assert_eq!(late.dry(own.today), Some((own.today, Some(day("2026-11-26")))), "past her day, she calves any day now");
    }

    #[test]
    fn a_level_is_of_days_that_were_written() {
        let today = day("2026-11-21");
        let stale = cow("Damson", 43, "2026-11-01", true, None);
        assert_eq!(stale.level(today), None, "nobody wrote down her milk for three weeks");
        let days = vec![(day("2026-11-18"), pounds(40)), (day("2026-11-20"), pounds(44))];
        let fresh = Cow { name: "Wren".to_owned(), days, in_milk: true, due: None };
        assert_eq!(fresh.level(today), Some((pounds(42), 2)), "a day nobody wrote is a gap and no zero");
        let none = Facts { milked: Weight::ZERO, ..facts(vec![fresh], [1, 1]) };
        assert!(none.weeks().is_empty());
    }

    #[test]
    fn a_pause_and_a_moved_day_are_seen() {
        let mut own = facts(vec![], [30, 40]);
        let pause = |person, since: &str, until: &str, moved: Option<&str>| Pause {
            person,
            since: day(since),
            until: day(until),
            moved_to: moved.map(day),
        };
        own.pauses = vec![pause(Some(2), "2026-11-22", "2026-12-10", None), pause(None, "2026-11-28", "2026-11-28", Some("2026-11-27"))];
        assert_eq!(own.promised(day("2026-11-21")), Hundredths::jars(60), "Saturday twice: the 21st, and the 28th moved to the 27th");
        assert_eq!(own.promised(day("2026-11-28")), Hundredths::ZERO, "the 28th was moved out of this week");
        assert_eq!(own.promised(day("2026-12-12")), Hundredths::jars(70));
        let weekdays: Vec<(String, usize, Hundredths)> = own.by_weekday();
        assert_eq!(weekdays, [("Tuesday".to_owned(), 1, Hundredths::jars(40)), ("Saturday".to_owned(), 1, Hundredths::jars(30))]);
        assert_eq!(own.sold().to_string(), "2");
    }
}
