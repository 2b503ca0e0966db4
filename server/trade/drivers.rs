//! The books with a driver changed: another price, another use, more or less milk, and then everything is worked out again.
//!
//! A result is never scaled. Twice as dear a bale goes through the store like any other, a jar that is not filled takes no
//! lid, and the hours of a milking do not shrink because there was less in the pail.

use super::{
    Fault,
    account::Books,
    bills::Assumed,
    kinds::{ASSUMED, SPENT},
    measure::{Weight, fixed, trimmed},
    money::Money,
    near::unknown,
    remarks::Remark,
    stores::{Feeding, UsedBy},
    wear::Span,
    went::{Flow, Went},
    what_if::{Change, Changes},
    when::{Day, day_shown},
};
use rust_decimal::{Decimal, RoundingStrategy, prelude::ToPrimitive};

/// What has a price besides sorts of tickets and stores.
pub const PRICED: [&str; 4] = ["gear", "cows", "hired hands", "unpaid hours"];

/// A figure beyond this is a slip: a farm of this size has a million of nothing.
const MOST: Decimal = Decimal::from_parts(1_000_000, 0, 0, false, 0);

/// The jobs that come with every milking.
const OF_A_MILKING: [&str; 2] = ["milking", "washing up"];

impl Books {
    /// The books of one span with these drivers changed and the stores reckoned anew. Only the account of that span may be asked
    /// of them.
    ///
    /// # Errors
    /// A remark for each change that cannot be made; its field is the change in words.
    pub fn with(&self, changes: &Changes, span: Span) -> Result<Books, Vec<Remark>> {
        // The usual week is written out, so that every minute of the span can be halved like any other.
        let minutes = [true, false].into_iter().flat_map(|hired| self.minutes_in(span, hired)).collect();
        let mut books = Books { minutes, usual: Vec::new(), ..self.clone() };
        books.milk.retain(|(own, _)| *own == span);
        books.income.retain(|(own, _)| *own == span);
        books.cows.retain(|(own, _)| *own == span);
        let wrong = |change: &Change| books.change(change, span).err().map(|fault| Remark::fault(&change.to_string(), fault));
        let wrongs: Vec<Remark> = changes.0.iter().filter_map(wrong).collect();
        if wrongs.is_empty() { Ok(books.settled_beside(self)) } else { Err(wrongs) }
    }

    fn change(&mut self, change: &Change, span: Span) -> Result<(), Fault> {
        match change {
            Change::Price(name, percent) => self.price(name, *percent),
            Change::Assumed(name, figure) => self.assume(name, *figure),
            Change::Use(name, figure) => self.use_up(name, *figure),
            Change::Milk(percent) => self.gives(*percent, span),
            Change::HandedOut(a_week) => self.hand_out(*a_week, span),
            Change::Dry(cow, from) => self.dry(cow, *from, span),
            Change::OnceADay(percent) => self.once_a_day(*percent, span),
            Change::ComesIn(percent) => self.comes_in(*percent, span),
        }
    }

    /// A price holds for all time, in every ticket and every refund, so that what lay in a store before costs it too.
    fn price(&mut self, name: &str, percent: Decimal) -> Result<(), Fault> {
        let is = |own: &str| same(own, name);
        let stores: Vec<i64> = self.stores.iter().filter(|own| is(&own.name)).map(|own| own.number).collect();
        let known = || self.stores.iter().map(|own| own.name.as_str()).chain(SPENT.iter().copied()).chain(PRICED);
        if !known().any(is) {
            return Err(Fault::says(unknown("store or sort of ticket", name, known())));
        }
        let by = |amount: Money| Money::round(amount.dollars() * times(percent));
        for own in &mut self.tickets {
            if is(&own.sort) || own.store.is_some_and(|store| stores.contains(&store)) {
                own.amount = by(own.amount);
            }
        }
        for own in self.gear.iter_mut().filter(|own| is(if own.is_cow { "cows" } else { "gear" })) {
            (own.price, own.salvage, own.brought) = (by(own.price), by(own.salvage), by(own.brought));
        }
        if is("hired hands") {
            self.minutes.iter_mut().for_each(|own| own.wage = own.wage.map(by));
        }
        if is("unpaid hours") {
            self.worths.iter_mut().for_each(|own| own.worth = by(own.worth));
        }
        // Current that no bill covers is priced by the kilowatt-hour.
        let by_figure = [("unpaid hours", "worth of an hour"), ("power", "price of a kWh")];
        for own in &mut self.assumed {
            if by_figure.iter().any(|(priced, figure)| is(priced) && own.name == *figure) {
                own.figure *= times(percent);
            }
        }
        Ok(())
    }

    fn assume(&mut self, name: &str, figure: Decimal) -> Result<(), Fault> {
        let Some(name) = ASSUMED.iter().find(|own| same(own, name)) else {
            return Err(Fault::says(unknown("assumption", name, ASSUMED.iter().copied())));
        };
        sensible(figure)?;
        if !self.assumed.iter().any(|own| own.name == *name) {
            let (name, note) = ((*name).to_owned(), "What if".to_owned());
            self.assumed.push(Assumed { number: 0, name, since: self.until, figure, note });
        }
        self.assumed.iter_mut().filter(|own| own.name == *name).for_each(|own| own.figure = figure);
        Ok(())
    }

    fn use_up(&mut self, name: &str, figure: Decimal) -> Result<(), Fault> {
        sensible(figure)?;
        let Some(place) = self.stores.iter().position(|own| same(&own.name, name)) else {
            return Err(Fault::says(unknown("store", name, self.stores.iter().map(|own| own.name.as_str()))));
        };
        match self.stores.get_mut(place) {
            Some(own) if own.used_by == UsedBy::Written => {
                Err(Fault::says(format!("{} is used up as it is written down, so no figure for each time moves it.", own.name)))
            }
            Some(own) => {
                own.used_amount = figure;
                Ok(())
            }
            None => Ok(()),
        }
    }

    fn went_of(&mut self, span: Span) -> Result<&mut Went, Fault> {
        let own = self.milk.iter_mut().find(|(own, _)| *own == span).map(|(_, went)| went);
        own.filter(|went| went.of(Flow::Produced) > Decimal::ZERO)
            .ok_or_else(|| Fault::says("No milk is written down in these days, so none can be more or less."))
    }

    /// All the milk of a span so many times over, wherever it went.
    fn all_milk(&mut self, span: Span, times: Decimal) -> Result<(), Fault> {
        self.went_of(span)?.flows.iter_mut().for_each(|(_, amount)| *amount *= times);
        self.colostrum.iter_mut().filter(|(own, _)| *own == span).for_each(|(_, amount)| *amount *= times);
        Ok(())
    }

    fn jars(&mut self, days: Span, times: Decimal) {
        evenly(self.days.iter_mut().filter(|own| days.has(own.day)).map(|own| &mut own.jars), times);
    }

    fn gives(&mut self, percent: Decimal, span: Span) -> Result<(), Fault> {
        let times = times(percent);
        self.all_milk(span, times)?;
        self.jars(span, times);
        self.cows.iter_mut().flat_map(|(_, cows)| cows).for_each(|cow| cow.milk = part_of(cow.milk, times));
        Ok(())
    }

    /// More people are given what reaches nobody now, first what is in jars already; only what that does not reach is filled.
    /// What fewer people take is not filled, and goes to the calf.
    fn hand_out(&mut self, a_week: Decimal, span: Span) -> Result<(), Fault> {
        let colostrum: Decimal = self.colostrum.iter().filter(|(own, _)| *own == span).map(|(_, amount)| *amount).sum();
        let (days, week) = (Decimal::from(span.days().max(1)), Decimal::from(7));
        let (went, more) = (self.went_of(span)?, a_week * days / week);
        let (reached, filled) = (went.milk().reached, went.of(Flow::Filled));
        let most = went.of(Flow::Produced) - went.of(Flow::ThrownOut) - colostrum;
        if more > Decimal::ZERO && reached + more > most {
            return Err(Fault::says(format!(
                "There is not that much milk: {} half-gallons came out of the cows without colostrum and what was thrown out, and {} of them reach people. That leaves {} a week.",
                fixed(most, 1),
                fixed(reached, 1),
                fixed(((most - reached) * week / days).max(Decimal::ZERO), 1)
            )));
        }
        if reached + more < Decimal::ZERO {
            return Err(Fault::says(format!("Only {} half-gallons a week reach people.", fixed(reached * week / days, 1))));
        }
        let mut short = more - went.on_hand_after().max(Decimal::ZERO);
        went.add(Flow::HandedOut, more);
        for (flow, kept) in [(Flow::JarsCalf, Decimal::ZERO), (Flow::JarsHouse, Decimal::ZERO)] {
            short -= went.take(flow, short, kept);
        }
        let fills = if more < Decimal::ZERO { more.max(-filled) } else { short.max(Decimal::ZERO) };
        went.add(Flow::Filled, fills);
        if fills < Decimal::ZERO {
            went.add(Flow::Calf, -fills);
        } else {
            let from_calves = went.take(Flow::Calf, fills, colostrum);
            went.take(Flow::House, fills - from_calves, Decimal::ZERO);
        }
        if fills != Decimal::ZERO {
            let times = (filled + fills).checked_div(filled).ok_or_else(|| Fault::says("No jar was filled in these days."))?;
            self.jars(span, times);
        }
        Ok(())
    }

    /// Her milk of the span is spread evenly over her days in the herd, for the books sum it; what goes by jars falls on the days
    /// after only.
    fn dry(&mut self, name: &str, from: Day, span: Span) -> Result<(), Fault> {
        let herd = || self.cows.iter().flat_map(|(_, cows)| cows);
        let Some(cow) = herd().find(|own| same(&own.name, name)).cloned() else {
            return Err(Fault::says(unknown("cow", name, herd().map(|own| own.name.as_str()))));
        };
        if !span.has(from) {
            let (first, last) = (day_shown(span.from), day_shown(span.to));
            return Err(Fault::says(format!("{} is not among these days. Write one from {first} to {last}.", day_shown(from))));
        }
        let after = Span { from, to: span.to };
        let part = Decimal::from(after.days().min(cow.days)).checked_div(Decimal::from(cow.days)).unwrap_or_default();
        let produced = self.went_of(span)?.of(Flow::Produced);
        let gone = (cow.milk.in_half_gallons() * part).checked_div(produced).unwrap_or_default().min(Decimal::ONE);
        self.all_milk(span, Decimal::ONE - gone)?;
        self.fewer(span, after, gone, |own| own.jars, |own, after, times| own.jars(after, times));
        let milkings = whole(Decimal::from(cow.milkings) * part);
        let all = Decimal::from(self.days.iter().filter(|own| span.has(own.day)).map(|own| own.cows).sum::<i64>());
        let of_all = Decimal::from(milkings).checked_div(all).unwrap_or_default();
        self.fewer(span, after, of_all, |own| own.cows, Books::fewer_cows);
        for own in self.cows.iter_mut().flat_map(|(_, cows)| cows).filter(|own| own.name == cow.name) {
            (own.milk, own.milkings) = (part_of(own.milk, Decimal::ONE - part), own.milkings - milkings);
        }
        self.fed_until(&cow.name, from);
        Ok(())
    }

    /// Takes a part of what a whole span counted off the days of its end.
    fn fewer(
        &mut self,
        span: Span,
        after: Span,
        part: Decimal,
        of: fn(&super::stores::DayUse) -> i64,
        take: fn(&mut Books, Span, Decimal),
    ) {
        let sum = |days: Span| Decimal::from(self.days.iter().filter(|own| days.has(own.day)).map(of).sum::<i64>());
        let left = Decimal::ONE - (sum(span) * part).checked_div(sum(after)).unwrap_or_default();
        take(self, after, left.max(Decimal::ZERO));
    }

    /// A day on which no cow is milked any more has no milkings.
    fn fewer_cows(&mut self, days: Span, times: Decimal) {
        evenly(self.days.iter_mut().filter(|own| days.has(own.day)).map(|own| &mut own.cows), times);
        self.days.iter_mut().filter(|own| days.has(own.day) && own.cows == 0 && times.is_zero()).for_each(|own| own.milkings = 0);
    }

    /// What went to her alone ends the day before she is dry; what was fed in all keeps its part up to there.
    fn fed_until(&mut self, cow: &str, from: Day) {
        let eve = from.pred_opt().unwrap_or(from);
        let hers = |own: &Feeding| own.cow.as_deref() == Some(cow);
        let before = self.feedings.clone();
        self.feedings.retain(|own| !hers(own) || own.since < from);
        for own in self.feedings.iter_mut().filter(|own| hers(own)) {
            let follows =
                |other: &&Feeding| hers(other) && other.a_day && other.store == own.store && own.since < other.since && other.since < from;
            match own.until {
                None if !own.a_day || before.iter().any(|other| follows(&other)) => {}
                Some(until) if until < from => {}
                Some(until) if !own.a_day => {
                    let (kept, all) = (Span { from: own.since, to: eve }.days(), Span { from: own.since, to: until }.days());
                    own.amount = own.amount * Decimal::from(kept) / Decimal::from(all.max(1));
                    own.until = Some(eve);
                }
                _ => own.until = Some(eve),
            }
        }
    }

    fn once_a_day(&mut self, percent: Decimal, span: Span) -> Result<(), Fault> {
        self.gives(percent, span)?;
        let half = Decimal::new(5, 1);
        evenly(self.days.iter_mut().filter(|own| span.has(own.day)).map(|own| &mut own.milkings), half);
        evenly(self.days.iter_mut().filter(|own| span.has(own.day)).map(|own| &mut own.cows), half);
        self.cows.iter_mut().flat_map(|(_, cows)| cows).for_each(|cow| cow.milkings = whole(Decimal::from(cow.milkings) * half));
        // One person's minutes of one job are halved together, or half a minute would be lost or made each time.
        let halved = |own: &super::bills::Spent| OF_A_MILKING.contains(&own.job.as_str());
        let mut groups: Vec<_> =
            self.minutes.iter().filter(|own| halved(own)).map(|own| (own.job.clone(), own.person.clone(), own.wage)).collect();
        groups.sort();
        groups.dedup();
        for (job, person, wage) in groups {
            let own = self.minutes.iter_mut().filter(|own| own.job == job && own.person == person && own.wage == wage);
            evenly(own.map(|own| &mut own.minutes), half);
        }
        Ok(())
    }

    fn comes_in(&mut self, percent: Decimal, span: Span) -> Result<(), Fault> {
        if self.came_in(span).is_none() && self.brings(span.to).is_none() {
            return Err(Fault::says("What comes in is not written down. Name what a half-gallon brings first."));
        }
        let times = times(percent);
        self.income.iter_mut().for_each(|(_, money)| *money = Money::round(money.dollars() * times));
        self.assumed.iter_mut().filter(|own| own.name == "a half-gallon brings").for_each(|own| own.figure *= times);
        Ok(())
    }
}

fn same(own: &str, typed: &str) -> bool {
    own.to_lowercase() == typed.trim().to_lowercase()
}

fn times(percent: Decimal) -> Decimal {
    (Decimal::ONE_HUNDRED + percent) / Decimal::ONE_HUNDRED
}

fn sensible(figure: Decimal) -> Result<(), Fault> {
    if figure <= MOST { Ok(()) } else { Err(Fault::says(format!("{} is more than any farm of this size has.", trimmed(figure, 2)))) }
}

fn whole(figure: Decimal) -> i64 {
    figure.round_dp_with_strategy(0, RoundingStrategy::MidpointAwayFromZero).to_i64().unwrap_or_default()
}

fn part_of(milk: Weight, times: Decimal) -> Weight {
    Weight::milligrams(whole(Decimal::from(milk.in_milligrams()) * times))
}

/// Counts so many times over, each a whole number, and together what all of them come to: what rounding leaves of one day
/// goes to the next.
fn evenly<'a>(counts: impl Iterator<Item = &'a mut i64>, times: Decimal) {
    let (mut counted, mut given) = (0, 0);
    for count in counts {
        counted += *count;
        let up_to = whole(Decimal::from(counted) * times);
        *count = up_to - given;
        given = up_to;
    }
}

/// What has to be said beside these changes, because it was taken so and might have been taken otherwise.
#[must_use]
pub fn beside(books: &Books, changes: &Changes, span: Span) -> Vec<String> {
    let any = |of: fn(&Change) -> bool| changes.0.iter().any(of);
    let mut said = Vec::new();
    let mut say = |when: bool, says: &str| {
        if when {
            said.push(says.to_owned())
        }
    };
    let milk = any(|own| matches!(own, Change::Milk(_) | Change::Dry(..) | Change::OnceADay(_)));
    let jars = milk || any(|own| matches!(own, Change::HandedOut(_)));
    say(
        any(|own| matches!(own, Change::Price(..))),
        "A changed price holds for all time in the books, refunds too, so what was in store at the start is worth more or less as well.",
    );
    say(
        milk,
        "The milk filled and handed out changes with the milk made. Minutes, feed and wear stay as they are, but for what is named above.",
    );
    say(
        any(|own| matches!(own, Change::Dry(..))),
        "A dry cow’s milk is spread evenly over her days in the herd in these twelve months, and what she alone is fed ends the day before.",
    );
    say(
        any(|own| matches!(own, Change::OnceADay(_))),
        "Once a day halves milkings and the minutes of milking and washing up. A fifth to three tenths less milk is common; the figure is yours.",
    );
    say(
        any(|own| matches!(own, Change::HandedOut(_))),
        "More is handed out from what reaches nobody now: first jars on hand, for calves and for the house. Jars are filled only for the rest. What fewer people take is not filled and goes to the calf.",
    );
    let by_jar = books.stores.iter().any(|own| own.used_by == UsedBy::Jar);
    say(jars && by_jar, "Cash out stays: what is used up more or less was bought already, or will be bought later.");
    say(
        jars && !by_jar,
        "No store is used up by every jar filled, so jars and lids stay as they are. Keep them in a store to see them move.",
    );
    let from_books = books.came_in(span).is_some();
    say(jars && from_books, "What comes in is from the households’ books and stays: boarding does not change with jars.");
    say(jars && !from_books, "What comes in is reckoned at what a half-gallon brings, so it follows the milk handed out.");
    let own_worth = !books.worths.is_empty() && any(|own| matches!(own, Change::Assumed(name, _) if same(name, "worth of an hour")));
    say(own_worth, "Whose hour has a worth of its own keeps it.");
    said
}
