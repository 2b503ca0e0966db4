//! Electricity where no bill says it: by the milk room's meter, or reckoned from what is plugged in.
//!
//! A month with a bill goes by the bill. A month without one goes by the meter, and where nobody read the meter, by the
//! appliances: so nothing is counted twice, and a month whose bill is still to come is not cheap by accident.

use super::{
    Fault, current,
    measure::{Temperature, Weight},
    money::Money,
    wear::Span,
    when::Day,
};
use rust_decimal::Decimal;

/// A thing that draws current, as the ledger holds it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Appliance {
    /// Its number.
    pub number: i64,
    /// Its name.
    pub name: String,
    /// The first day it is here.
    pub since: Day,
    /// The last, if it has one.
    pub until: Option<Day>,
    /// What it does.
    pub does: Does,
}

/// What an appliance does, with what is read off it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Does {
    /// A motor: kilowatts, and minutes a day.
    Turns(Decimal, i64),
    /// Warms water: gallons a day, from, to, and its efficiency in a hundred.
    Warms(Decimal, Temperature, Temperature, Decimal),
    /// Chills the milk: from, to, and how many times the heat it moves.
    Chills(Temperature, Temperature, Decimal),
    /// So many kilowatt-hours a year, by its label.
    Label(Decimal),
}

impl Appliance {
    /// The kilowatt-hours it draws in a span in which so much milk was put into jars.
    ///
    /// # Errors
    /// A sentence when what was read off it cannot be right.
    pub fn draws(&self, span: Span, milk: Weight) -> Result<Decimal, Fault> {
        let days = span.shared_with(Span { from: self.since, to: self.until.unwrap_or(Day::MAX) }).days();
        let times = Decimal::from(days);
        match &self.does {
            Does::Turns(kilowatts, minutes) => Ok(current::motor(*kilowatts, *minutes)? * times),
            Does::Warms(gallons, from, to, efficiency) => Ok(current::hot_gallons(*gallons, *from, *to, *efficiency)? * times),
            Does::Chills(from, to, moves) if days > 0 => current::chilling(milk, *from, *to, *moves),
            Does::Chills(..) => Ok(Decimal::ZERO),
            Does::Label(a_year) => current::on_the_label(*a_year, days),
        }
    }
}

/// What a meter showed, in the order of days.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Reading {
    /// The record's number.
    pub number: i64,
    /// The day, in whose evening it was read.
    pub day: Day,
    /// Kilowatt-hours.
    pub shows: Decimal,
}

/// What the meter says was drawn in a span, laid evenly between the readings around it; nothing where the readings do not
/// reach, or the meter was changed for another.
#[must_use]
pub fn metered(readings: &[Reading], span: Span) -> Option<Decimal> {
    let at = |day: Day| -> Option<Decimal> {
        let later = readings.iter().find(|own| own.day >= day)?;
        let earlier = readings.iter().rev().find(|own| own.day <= day)?;
        let between = Decimal::from((later.day - earlier.day).num_days());
        let risen = later.shows - earlier.shows;
        if risen < Decimal::ZERO {
            return None;
        }
        let part = (risen * Decimal::from((day - earlier.day).num_days())).checked_div(between).unwrap_or_default();
        Some(earlier.shows + part)
    };
    let drawn = at(span.to)? - at(span.from.pred_opt()?)?;
    (drawn >= Decimal::ZERO).then_some(drawn)
}

/// Where a month's electricity comes from, and what it came to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reckoned {
    /// The days of the month.
    pub month: Span,
    /// Kilowatt-hours.
    pub drawn: Decimal,
    /// Whether the meter says so; otherwise it is reckoned from the appliances.
    pub by_meter: bool,
    /// What it comes to at the price named, if one is.
    pub cost: Option<Money>,
}

/// The electricity of a month that no bill covers; nothing when nothing is known of it.
#[must_use]
pub fn reckoned(appliances: &[Appliance], readings: &[Reading], month: Span, milk: Weight, price: Option<Decimal>) -> Option<Reckoned> {
    let metered = metered(readings, month);
    let by_plate = || appliances.iter().filter_map(|own| own.draws(month, milk).ok()).sum::<Decimal>();
    let drawn = metered.unwrap_or_else(by_plate);
    let cost = price.and_then(|each| current::comes_to(drawn, each).ok());
    (metered.is_some() || drawn > Decimal::ZERO).then_some(Reckoned { month, drawn, by_meter: metered.is_some(), cost })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> Day {
        text.parse().unwrap()
    }

    fn reading(on: &str, shows: i64) -> Reading {
        Reading { number: 1, day: day(on), shows: Decimal::from(shows) }
    }

    /// Worked by hand: 310 kWh in the 31 days of May and 150 in the 30 of June.
    #[test]
    fn a_meter_is_laid_evenly_between_its_readings() {
        let readings = [reading("2026-04-30", 1_000), reading("2026-05-31", 1_310), reading("2026-06-30", 1_460)];
        let span = |from: &str, to: &str| Span { from: day(from), to: day(to) };
        assert_eq!(metered(&readings, span("2026-05-01", "2026-05-31")), Some(Decimal::from(310)));
        assert_eq!(metered(&readings, span("2026-05-30", "2026-06-02")), Some(Decimal::from(30)), "two days of 10 and two of 5");
        assert_eq!(metered(&readings, span("2026-06-15", "2026-07-15")), None, "nobody read it in July");
        assert_eq!(metered(&[reading("2026-04-30", 1_000), reading("2026-05-31", 12)], span("2026-05-01", "2026-05-31")), None);
        assert_eq!(metered(&[], span("2026-05-01", "2026-05-31")), None);
    }

    /// Source: the arithmetic of a motor's plate, 0.56 kW × 80 minutes a day × 30 days ÷ 60 = 22.4 kWh.
    #[test]
    fn a_pump_is_reckoned_from_its_plate() {
        let june = Span { from: day("2026-06-01"), to: day("2026-06-30") };
        let does = Does::Turns(Decimal::new(56, 2), 80);
        let pump = Appliance { number: 1, name: "Pump".into(), since: day("2026-01-01"), until: None, does };
        let got = reckoned(std::slice::from_ref(&pump), &[], june, Weight::ZERO, Some(Decimal::new(17, 2))).unwrap();
        assert_eq!((got.drawn.round_dp(9), got.by_meter), (Decimal::new(224, 1), false));
        assert_eq!(got.cost, Some(Money::cents(381)), "22.4 × 0.17 = 3.808");
        assert_eq!(reckoned(std::slice::from_ref(&pump), &[], june, Weight::ZERO, None).unwrap().cost, None);
        let sold = Appliance { until: Some(day("2026-05-31")), ..pump };
        assert_eq!(reckoned(&[sold], &[], june, Weight::ZERO, None), None);
    }
}
