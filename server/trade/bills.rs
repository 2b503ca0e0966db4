//! What a cost rests on, as the ledger holds it: tickets, gear and cows, minutes, and what the farm assumes; and the lines
//! of the report they stand on.

use super::{
    Fault, capital,
    kinds::SPENT,
    lines::{Falls, Line, Rates, Sort, Ticket, Views, wear_lines},
    money::Money,
    wear::{Gear, Held, Span, Worth},
    when::Day,
};
use rust_decimal::Decimal;

/// A ticket as the ledger holds it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Paid {
    /// Its number.
    pub number: i64,
    /// When it was paid.
    pub paid: Day,
    /// Its sort, one of [`SPENT`].
    pub sort: String,
    /// What for.
    pub what: String,
    /// To whom.
    pub supplier: String,
    /// How much; for a calf, what she brought, with either sign.
    pub amount: Money,
    /// How much of it came, if written.
    pub quantity: Option<Decimal>,
    /// In what.
    pub unit: String,
    /// The number of the store it goes into; then it costs as it is used.
    pub store: Option<i64>,
    /// The cow it is for alone.
    pub cow: Option<String>,
    /// The first day it was used, if written.
    pub used_from: Option<Day>,
    /// The last day it was used, if written.
    pub used_to: Option<Day>,
    /// Its part for milk, in a hundred.
    pub milk_share: i64,
    /// Whether it is a guess.
    pub guess: bool,
}

impl Paid {
    /// Whether what it brought lowers the cost.
    #[must_use]
    pub fn is_income(&self) -> bool {
        matches!(self.sort.as_str(), "calf sold" | "calf kept")
    }

    /// The days it covers: an end left empty is the day it was paid, and a calf belongs to the twelve months of milk that she
    /// opened (common practice). Nothing when they end before they begin.
    #[must_use]
    pub fn covers(&self) -> Option<Span> {
        let a_year = || self.paid.checked_add_months(chrono::Months::new(12)).and_then(|day| day.pred_opt());
        let last = self.used_to.or_else(|| a_year().filter(|_| self.is_income() && self.used_from.is_none()));
        let span = Span { from: self.used_from.unwrap_or(self.paid), to: last.unwrap_or(self.paid) };
        (span.days() > 0).then_some(span)
    }

    /// From the first to the last day on which it counts anywhere: as paid, or as used.
    #[must_use]
    pub fn reach(&self) -> Span {
        let paid = Span { from: self.paid, to: self.paid };
        self.covers().and_then(|covers| Span::around(&[paid, covers])).unwrap_or(paid)
    }

    /// It as a ticket; one whose days make no sense counts on the day it was paid.
    ///
    /// # Errors
    /// Never for days that [`Paid::covers`] let through.
    pub fn ticket(&self) -> Result<Ticket, Fault> {
        let cents = self.amount.in_cents();
        let amount = Money::cents(if self.is_income() { -cents.abs() } else { cents });
        Ok(Ticket::of(amount, self.paid, self.covers())?.for_milk(self.milk_share))
    }
}

/// A machine, a building or a cow as the ledger holds it.
#[derive(Clone, Debug)]
pub struct Owned {
    /// Its number.
    pub number: i64,
    /// Its name.
    pub name: String,
    /// Whether it is a cow.
    pub is_cow: bool,
    /// When it came.
    pub bought: Day,
    /// Its last day here.
    pub gone: Option<Day>,
    /// What was paid.
    pub price: Money,
    /// What it brings at the end.
    pub salvage: Money,
    /// Its years.
    pub years: i64,
    /// Its part for milk, in a hundred.
    pub milk_share: i64,
    /// What it serves, and so on whom its wear falls.
    pub serves: Serves,
    /// Whether it died, rather than being sold, given away or worn out.
    pub died: bool,
    /// What it brought when it left.
    pub brought: Money,
}

/// What a thing serves.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Serves {
    /// The milking: pumps, cans, buckets.
    #[default]
    Milking,
    /// The chilling: fridges, ice.
    Chilling,
    /// The jars: racks, crates, a dishwasher.
    Jars,
    /// The cows, every day: barn, fence, lane.
    Barn,
}

impl Serves {
    /// What it serves, by its word; what says nothing serves the milking.
    #[must_use]
    pub fn parse(word: &str) -> Serves {
        match word {
            "chilling" => Serves::Chilling,
            "jars" => Serves::Jars,
            "barn and land" => Serves::Barn,
            _ => Serves::Milking,
        }
    }

    /// On whom its wear falls.
    #[must_use]
    pub const fn falls(self) -> Falls {
        match self {
            Serves::Milking => Falls::ByMilkings,
            Serves::Chilling => Falls::ByPounds,
            Serves::Jars => Falls::OnJars,
            Serves::Barn => Falls::ByDays,
        }
    }
}

impl Owned {
    /// It as a thing that wears.
    ///
    /// # Errors
    /// A sentence when its price, years or days cannot be right.
    pub fn gear(&self) -> Result<Gear, Fault> {
        let worth = Worth::of(self.price, self.salvage, self.years)?;
        let gear = Gear { name: self.name.clone(), is_cow: self.is_cow, bought: self.bought, gone: self.gone, worth };
        gear.judge().map(|()| gear)
    }

    /// The days of the span it was held within its life.
    ///
    /// # Errors
    /// A sentence when its price, years or days cannot be right.
    pub fn days_in(&self, span: Span) -> Result<i64, Fault> {
        Ok(self.gear()?.life().shared_with(span).days())
    }

    /// What it adds to the account of a span: its wear, what was paid for it, and what it still stood for when it left.
    ///
    /// # Errors
    /// A sentence when its price, years or days cannot be right.
    pub fn lines(&self, span: Span, rates: Rates) -> Result<Vec<Line>, Fault> {
        let gear = self.gear()?;
        let held = Held::of_span(gear.life().shared_with(span)).for_milk(self.milk_share);
        let falls = if self.is_cow { Falls::OnCow(self.name.clone()) } else { self.serves.falls() };
        let mut lines = wear_lines(&gear, held, rates, &falls);
        let sort = if self.is_cow { Sort::Cows } else { Sort::Gear };
        let part = |amount: Money| Money::round(amount.dollars() * Decimal::from(self.milk_share) / Decimal::ONE_HUNDRED);
        let mut add = |what: &str, amount: Money, views: Views, guess: bool| {
            if amount != Money::ZERO {
                let line = Line::new(format!("{}, {what}", self.name), sort, amount, views, falls.clone());
                lines.push(Line { guess, ..line });
            }
        };
        if span.has(self.bought) {
            add("bought", part(self.price), Views::PAID, false);
        }
        if let Some(gone) = self.gone.filter(|gone| span.has(*gone)) {
            add("brought when it left", Money::ZERO - part(self.brought), Views::PAID, false);
            // A death is charged to every year as a risk beside hours; there the death itself would be counted twice.
            let views = if self.died { Views::WEAR } else { Views::USED };
            add("stood for more than it brought", part(gear.left_on(gone) - self.brought), views, true);
        }
        Ok(lines)
    }
}

/// Minutes of work as the ledger holds them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Spent {
    /// The address of their record.
    pub opens: String,
    /// The day.
    pub day: Day,
    /// What they went on.
    pub job: String,
    /// Who worked.
    pub person: String,
    /// How many.
    pub minutes: i64,
    /// What was paid an hour, to somebody hired.
    pub wage: Option<Money>,
    /// Whether they are a guess.
    pub guess: bool,
}

/// A figure the farm assumes.
#[derive(Clone, Debug)]
pub struct Assumed {
    /// Its number.
    pub number: i64,
    /// What it is.
    pub name: String,
    /// From when.
    pub since: Day,
    /// The figure.
    pub figure: Decimal,
    /// Where it comes from.
    pub note: String,
}

/// A line of the report: all that is of one sort.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Item {
    /// Tickets of one sort of [`SPENT`].
    Tickets(&'static str),
    /// Hired hands.
    Hired,
    /// Machines and buildings.
    Gear,
    /// The cows themselves.
    Cows,
    /// What own land would bring.
    OwnLand,
    /// Unpaid hours.
    Unpaid,
}

impl Item {
    /// Every line, in the order they stand.
    pub fn all() -> impl Iterator<Item = Item> {
        SPENT.iter().copied().map(Item::Tickets).chain([Item::Hired, Item::Gear, Item::Cows, Item::OwnLand, Item::Unpaid])
    }

    /// Its word in an address.
    #[must_use]
    pub fn word(self) -> String {
        match self {
            Item::Tickets(sort) => sort.replace(' ', "-"),
            Item::Hired => "hired".to_owned(),
            Item::Gear => "wear".to_owned(),
            Item::Cows => "cows".to_owned(),
            Item::OwnLand => "own-land".to_owned(),
            Item::Unpaid => "hours".to_owned(),
        }
    }

    /// The line with this word.
    #[must_use]
    pub fn parse(word: &str) -> Option<Item> {
        Item::all().find(|item| item.word() == word)
    }

    /// What it is called.
    #[must_use]
    pub fn said(self) -> String {
        match self {
            Item::Tickets("land") => "Land rented".to_owned(),
            Item::Tickets("calf sold") => "Calves sold".to_owned(),
            Item::Tickets("lab") => "Lab tests".to_owned(),
            Item::Tickets("calf kept") => "Calves kept".to_owned(),
            Item::Tickets("power") => "Electricity and water".to_owned(),
            Item::Tickets(sort) => capital(sort),
            Item::Hired => Sort::PaidHours.to_string(),
            Item::Gear => "Gear and buildings".to_owned(),
            Item::Cows => "Cows themselves".to_owned(),
            Item::OwnLand => "Own land".to_owned(),
            Item::Unpaid => Sort::UnpaidHours.to_string(),
        }
    }
}
