//! What is bought and lies in a store until it is fed, worn or put on a jar: hay, grain, lids, filters, jars.
//!
//! Nobody writes down every lid. So a store may be used up by what the ledger knows already: every milking takes a filter,
//! every jar a lid, every jar filled a part of a jar, because so many in a hundred break or stay away. Feed goes by what is
//! written, or by so much a day until that changes. A count then says how far off it was.

use super::{
    bills::Paid,
    kinds::STORE_SORTS,
    measure::{fixed, trimmed},
    packs::{Amount, Packs},
    stock::{Act, Move, Stock},
    wear::Span,
    when::{Day, day_shown},
};
use rust_decimal::Decimal;
use std::sync::Arc;

/// A store, as the ledger holds it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Store {
    /// Its number.
    pub number: i64,
    /// What lies in it.
    pub name: String,
    /// Its sort, one of [`STORE_SORTS`].
    pub sort: &'static str,
    /// What it is counted in.
    pub counted_in: String,
    /// What its measures hold.
    pub packs: Packs,
    /// How it is used up.
    pub used_by: UsedBy,
    /// How much each time.
    pub used_amount: Decimal,
    /// Its part for milk, in a hundred.
    pub milk_share: i64,
    /// Its dry matter, in a hundred.
    pub dry_matter: Option<Decimal>,
    /// What is wasted when it is fed, in a hundred.
    pub waste: Decimal,
}

/// How a store is used up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum UsedBy {
    /// As it is written down.
    Written,
    /// So much every day.
    Day,
    /// So much at every milking.
    Milking,
    /// So much for every cow milked.
    Cow,
    /// So much for every jar filled.
    Jar,
}

impl UsedBy {
    /// How many times a day used it up by what is known of that day.
    fn times(self, day: &DayUse) -> i64 {
        match self {
            UsedBy::Written | UsedBy::Day => 0,
            UsedBy::Milking => day.milkings,
            UsedBy::Cow => day.cows,
            UsedBy::Jar => day.jars,
        }
    }

    /// Every way, with its word.
    pub const WORDS: [(UsedBy, &'static str); 5] = [
        (UsedBy::Written, "as written"),
        (UsedBy::Day, "every day"),
        (UsedBy::Milking, "every milking"),
        (UsedBy::Cow, "every cow milked"),
        (UsedBy::Jar, "every jar filled"),
    ];

    /// The way with this word; anything else goes by what is written.
    #[must_use]
    pub fn parse(word: &str) -> UsedBy {
        UsedBy::WORDS.iter().find(|(_, own)| *own == word).map_or(UsedBy::Written, |(way, _)| *way)
    }
}

/// The sort of a store by its word.
#[must_use]
pub fn sort_of(word: &str) -> &'static str {
    STORE_SORTS.iter().find(|own| **own == word).copied().unwrap_or("supplies")
}

/// What was fed, as the ledger holds it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Feeding {
    /// Its number.
    pub number: i64,
    /// The store's number.
    pub store: i64,
    /// The first day.
    pub since: Day,
    /// The last day, if it has one.
    pub until: Option<Day>,
    /// How much.
    pub amount: Decimal,
    /// In what.
    pub unit: String,
    /// Whether that is so much a day rather than in all.
    pub a_day: bool,
    /// The cow it went to alone.
    pub cow: Option<String>,
    /// Whether it is a guess.
    pub guess: bool,
}

/// A count of a store.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Counted {
    /// Its number.
    pub number: i64,
    /// The store's number.
    pub store: i64,
    /// The day.
    pub day: Day,
    /// How much was left.
    pub amount: Decimal,
    /// In what.
    pub unit: String,
}

/// What one day used up by itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DayUse {
    /// The day.
    pub day: Day,
    /// Milkings.
    pub milkings: i64,
    /// Cows milked, counted once for each milking.
    pub cows: i64,
    /// Jars filled, of any size.
    pub jars: i64,
}

/// A store with its stock, and what cannot be reckoned.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Settled {
    /// The store.
    pub store: Store,
    /// Its stock.
    pub stock: Stock,
    /// What cannot be reckoned, a sentence each.
    pub wrongs: Vec<String>,
}

/// All that stores are reckoned from.
#[derive(Clone, Copy, Debug)]
pub struct Moves<'a> {
    /// The tickets; those of no store are looked past.
    pub tickets: &'a [Paid],
    /// What was fed.
    pub feedings: &'a [Feeding],
    /// The counts.
    pub counts: &'a [Counted],
    /// What every day used up.
    pub days: &'a [DayUse],
    /// The last day that is reckoned.
    pub until: Day,
}

impl Moves<'_> {
    /// Whether all that happened to a store is what happened to it among others.
    pub(super) fn are_those(&self, other: &Moves, store: &Store) -> bool {
        let of = |day: &DayUse| store.used_by.times(day);
        let (tickets, feedings, counts) = (
            |own: &&Paid| own.store == Some(store.number),
            |own: &&Feeding| own.store == store.number,
            |own: &&Counted| own.store == store.number,
        );
        self.until == other.until
            && self.tickets.iter().filter(tickets).eq(other.tickets.iter().filter(tickets))
            && self.feedings.iter().filter(feedings).eq(other.feedings.iter().filter(feedings))
            && self.counts.iter().filter(counts).eq(other.counts.iter().filter(counts))
            && self.days.iter().map(|own| (own.day, of(own))).eq(other.days.iter().map(|own| (own.day, of(own))))
    }
}

impl Store {
    /// The store after everything up to the last day.
    #[must_use]
    pub fn settled(&self, all: Moves) -> Settled {
        let (mut moves, mut wrongs) = (Vec::new(), Vec::new());
        for own in all.tickets.iter().filter(|own| own.store == Some(self.number)) {
            match self.came(own) {
                Ok(came) => moves.push(came),
                Err(says) => wrongs.push(says),
            }
        }
        for own in all.feedings.iter().filter(|own| own.store == self.number) {
            let next = all
                .feedings
                .iter()
                .filter(|other| other.store == own.store && other.cow == own.cow && other.a_day && other.since > own.since)
                .map(|other| other.since)
                .min();
            match self.fed(own, next, all.until) {
                Ok(fed) => moves.extend(fed),
                Err(says) => wrongs.push(says),
            }
        }
        for own in all.counts.iter().filter(|own| own.store == self.number && own.day <= all.until) {
            match self.packs.amount(own.amount, &own.unit, &self.counted_in) {
                Ok(amount) => {
                    let opens = format!("/records/store_counts/{}", own.number).into();
                    moves.push(Move { day: own.day, act: Act::Counted(amount), guess: false, opens });
                }
                Err(fault) => wrongs.push(format!("The count of {} of {} is left out. {fault}", self.name, day_shown(own.day))),
            }
        }
        self.by_itself(&all, &mut moves);
        let stock = Stock::after(moves);
        if let Some(since) = stock.short_since {
            wrongs.push(format!(
                "{}: since {} more was used than the tickets brought in, {} {} by now. Is a ticket missing?",
                self.name,
                day_shown(since),
                Amount::ZERO - stock.left,
                self.counted_in
            ));
        }
        Settled { store: self.clone(), stock, wrongs }
    }

    fn came(&self, own: &Paid) -> Result<Move, String> {
        let amount = match own.quantity {
            // Money back without anything going back lowers what the heap is worth.
            None if own.amount.in_cents() < 0 => Amount::ZERO,
            None => {
                return Err(format!("{}, paid {}, is left out of the store of {}: write how much came.", own.what, own.paid, self.name));
            }
            Some(quantity) => self
                .packs
                .amount(quantity, &own.unit, &self.counted_in)
                .map_err(|fault| format!("{}, paid {}, is left out of the store of {}. {fault}", own.what, own.paid, self.name))?,
        };
        // What the money came back for went back, whichever sign its quantity was written with.
        let went_back = own.amount.in_cents() < 0;
        let amount = if went_back { Amount::thousandths(-amount.in_thousandths().abs()) } else { amount };
        let opens = format!("/records/tickets/{}", own.number).into();
        Ok(Move { day: own.paid, act: Act::Came(amount, own.amount), guess: own.guess, opens })
    }

    /// What a feeding takes out, day by day. So much a day goes on until the next of the same store and cow begins.
    fn fed(&self, own: &Feeding, next: Option<Day>, last: Day) -> Result<Vec<Move>, String> {
        let amount = self
            .packs
            .amount(own.amount, &own.unit, &self.counted_in)
            .map_err(|fault| format!("A feeding of {} from {} on is left out. {fault}", self.name, day_shown(own.since)))?;
        let goes_on = || next.and_then(|next| next.pred_opt()).filter(|_| own.a_day);
        let until = own.until.or_else(goes_on).unwrap_or(if own.a_day { last } else { own.since });
        let whole = Span { from: own.since, to: until };
        let (opens, cow): (Arc<str>, Option<Arc<str>>) =
            (format!("/records/feedings/{}", own.number).into(), own.cow.as_deref().map(Into::into));
        let days = own.since.iter_days().take_while(|day| *day <= until.min(last));
        // What was fed in all is laid evenly over its days, so that the days add up to it.
        let up_to = |nth: i64| amount.in_thousandths() * nth / whole.days().max(1);
        let a_day = |nth: i64| if own.a_day { amount } else { Amount::thousandths(up_to(nth + 1) - up_to(nth)) };
        Ok((0..)
            .zip(days)
            .map(|(nth, day)| Move { day, act: Act::Taken(a_day(nth), cow.clone()), guess: own.guess, opens: Arc::clone(&opens) })
            .collect())
    }

    /// What is used up by what the ledger knows already.
    fn by_itself(&self, all: &Moves, moves: &mut Vec<Move>) {
        // Before the first came in there was nothing to use up.
        let Some(first) = moves.iter().filter(|own| !matches!(own.act, Act::Taken(..))).map(|own| own.day).min() else { return };
        let opens: Arc<str> = format!("/records/stores/{}", self.number).into();
        let mut take = |day: Day, times: i64| {
            let amount = Amount::of(self.used_amount * Decimal::from(times));
            if amount > Amount::ZERO {
                moves.push(Move { day, act: Act::Taken(amount, None), guess: true, opens: Arc::clone(&opens) });
            }
        };
        if self.used_by == UsedBy::Day {
            first.iter_days().take_while(|day| *day <= all.until).for_each(|day| take(day, 1));
        }
        for own in all.days.iter().filter(|own| first <= own.day && own.day <= all.until) {
            take(own.day, self.used_by.times(own));
        }
    }
}

impl Settled {
    /// What lies there, in words: `1,940.0 lb, worth 213.40`.
    #[must_use]
    pub fn left_said(&self) -> String {
        format!("{} {}, worth {}", fixed(self.stock.left.figure(), 1), self.store.counted_in, self.stock.value)
    }

    /// What a unit of it is worth now, when there is any.
    #[must_use]
    pub fn each(&self) -> Option<String> {
        let each = self.stock.value.dollars().checked_div(self.stock.left.figure()).filter(|_| self.stock.left > Amount::ZERO)?;
        Some(trimmed(each, 4))
    }
}
