//! Electricity and heat: what a pump, hot water and a cold fridge draw, in kilowatt-hours.
//!
//! One meter serves the whole farm, so the bill alone never says what the milk drew. Here each use is reckoned from what
//! a person can read off: a motor's plate and its minutes, gallons and degrees, pounds of milk. All of it is an estimate
//! to hold against the meter, exact until it is shown; it becomes money once, at the price on the bill.

use super::{
    Fault,
    measure::{Temperature, Weight, trimmed},
    money::Money,
    wear::DAYS_A_YEAR,
};
use rust_decimal::Decimal;

/// Minutes in an hour.
const HOUR: Decimal = Decimal::from_parts(60, 0, 0, false, 0);

/// Kilojoules in a kilowatt-hour.
const KILOJOULES: Decimal = Decimal::from_parts(3_600, 0, 0, false, 0);

/// British thermal units in a kilowatt-hour.
const BTU: Decimal = Decimal::from_parts(3_412, 0, 0, false, 0);

/// Pounds in a gallon of water, each warmed by one degree Fahrenheit by one British thermal unit.
const POUNDS_OF_WATER: Decimal = Decimal::from_parts(834, 0, 0, false, 2);

/// Kilojoules that leave a kilogram of whole milk with each degree Celsius.
const MILK: Decimal = Decimal::from_parts(393, 0, 0, false, 2);

/// Milligrams in a kilogram.
const KILOGRAM: Decimal = Decimal::from_parts(1_000_000, 0, 0, false, 0);

/// More than any figure here can be on a farm of this size, so that a slipped finger gets a sentence.
const MOST: Decimal = Decimal::from_parts(1_000_000, 0, 0, false, 0);

/// What a motor draws: kilowatts × minutes ÷ 60.
///
/// # Errors
/// A sentence when a figure is below nothing or beyond all reason.
pub fn motor(kilowatts: Decimal, minutes: i64) -> Result<Decimal, Fault> {
    Ok(sensible("A motor's kilowatts", kilowatts)? * sensible("The minutes", Decimal::from(minutes))? / HOUR)
}

/// What a thing on its plug all year draws in so many days, by the yearly figure on its label.
///
/// # Errors
/// A sentence when a figure is below nothing or beyond all reason.
pub fn on_the_label(a_year: Decimal, days: i64) -> Result<Decimal, Fault> {
    Ok(sensible("Kilowatt-hours a year", a_year)? * sensible("The days", Decimal::from(days))? / Decimal::from(DAYS_A_YEAR))
}

/// What warming water draws, when so much of each hundred parts of current ends up in it: gallons × 8.34 lb × degrees
/// Fahrenheit ÷ 3,412.
///
/// # Errors
/// A sentence when the water would get colder, or a figure cannot be right.
pub fn hot_gallons(gallons: Decimal, from: Temperature, to: Temperature, efficiency: Decimal) -> Result<Decimal, Fault> {
    let warmer = fahrenheit(warmed(from, to)?);
    Ok(sensible("Gallons of water", gallons)? * POUNDS_OF_WATER * warmer / BTU / part(efficiency)?)
}

/// The heat that has to leave milk to cool it, whatever takes it out: a fridge, or ice that a freezer made.
///
/// # Errors
/// A sentence when the milk would get warmer.
pub fn heat_out(milk: Weight, from: Temperature, to: Temperature) -> Result<Decimal, Fault> {
    if to > from {
        return Err(Fault::says(format!("Cooling does not warm milk from {from} to {to}. Look at both temperatures.")));
    }
    let kilograms = Decimal::from(milk.in_milligrams()) / KILOGRAM;
    Ok(sensible("Milk to cool", kilograms)? * MILK * celsius(from.exact() - to.exact()) / KILOJOULES)
}

/// What a machine draws to take that heat out. It moves more heat than it draws; how many times more is its coefficient of
/// performance, 2 to 3 for a fridge (common practice).
///
/// # Errors
/// A sentence when the milk would get warmer, or no machine could do it.
pub fn chilling(milk: Weight, from: Temperature, to: Temperature, times: Decimal) -> Result<Decimal, Fault> {
    if times < Decimal::new(5, 1) || times > Decimal::TEN {
        let says =
            format!("No fridge moves {} times the heat it draws. Write a figure from 0.5 to 10; 2 to 3 is usual.", trimmed(times, 2));
        return Err(Fault::says(says));
    }
    Ok(heat_out(milk, from, to)? / times)
}

/// What kilowatt-hours cost at a price for each, in dollars; rounded once.
///
/// # Errors
/// A sentence when a figure is below nothing or beyond all reason.
pub fn comes_to(kilowatt_hours: Decimal, each: Decimal) -> Result<Money, Fault> {
    Ok(Money::round(sensible("Kilowatt-hours", kilowatt_hours)? * sensible("The price of one", each)?))
}

/// How far water is warmed, in the exact steps a temperature is kept in.
fn warmed(from: Temperature, to: Temperature) -> Result<i64, Fault> {
    if to < from {
        return Err(Fault::says(format!("Heating does not cool water from {from} to {to}. Look at both temperatures.")));
    }
    Ok(to.exact() - from.exact())
}

/// A difference in degrees Celsius.
fn celsius(exact: i64) -> Decimal {
    Decimal::from(exact) / Decimal::from(900)
}

/// A difference in degrees Fahrenheit.
fn fahrenheit(exact: i64) -> Decimal {
    Decimal::from(exact) / Decimal::from(500)
}

/// So much in a hundred, as a part of one.
fn part(percent: Decimal) -> Result<Decimal, Fault> {
    if percent < Decimal::ONE || percent > Decimal::ONE_HUNDRED {
        let says = format!("An efficiency of {} % cannot be right. Write it in a hundred, from 1 to 100, like 92.", trimmed(percent, 2));
        return Err(Fault::says(says));
    }
    Ok(percent / Decimal::ONE_HUNDRED)
}

/// The figure itself, when a farm can have it.
fn sensible(what: &str, figure: Decimal) -> Result<Decimal, Fault> {
    if figure < Decimal::ZERO {
        return Err(Fault::says(format!("{what} cannot be below nothing.")));
    }
    if figure > MOST {
        return Err(Fault::says(format!("{what}: {} is more than a farm of this size has. Check the figure.", trimmed(figure, 2))));
    }
    Ok(figure)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn figure(text: &str) -> Decimal {
        Decimal::from_str_exact(text).unwrap()
    }

    /// Common practice: what cannot be gets a sentence that names the figure.
    #[test]
    fn what_cannot_be_gets_a_sentence() {
        let (cold, hot) = (Temperature::fahrenheit(50), Temperature::fahrenheit(160));
        let says = |tried: Result<Decimal, Fault>| tried.unwrap_err().to_string();
        let gallons = |gallons: &str, percent: &str| hot_gallons(figure(gallons), cold, hot, figure(percent));
        assert_eq!(
            says(hot_gallons(Decimal::TEN, hot, cold, Decimal::ONE_HUNDRED)),
            "Heating does not cool water from 160 °F to 50 °F. Look at both temperatures."
        );
        for percent in ["0", "0.95", "-92", "100.01"] {
            assert!(says(gallons("10", percent)).starts_with(&format!("An efficiency of {percent} % cannot be right.")), "{percent}");
        }
        assert!(gallons("10", "1").is_ok() && gallons("10", "100").is_ok());
        assert_eq!(says(gallons("-0.5", "92")), "Gallons of water cannot be below nothing.");
        assert_eq!(says(motor(figure("-0.56"), 40)), "A motor's kilowatts cannot be below nothing.");
        assert_eq!(says(motor(figure("0.56"), -40)), "The minutes cannot be below nothing.");
        assert!(says(motor(Decimal::MAX, i64::MAX)).ends_with("is more than a farm of this size has. Check the figure."));
        assert!(on_the_label(figure("438"), -1).is_err() && comes_to(-Decimal::ONE, Decimal::ONE).is_err());
        let milk = Weight::pounds(Decimal::TEN);
        assert!(says(heat_out(milk, cold, hot)).starts_with("Cooling does not warm milk from 50 °F to 160 °F."));
        assert!(says(chilling(milk, hot, cold, Decimal::ZERO)).starts_with("No fridge moves 0 times the heat it draws."));
        assert!(heat_out(Weight::milligrams(-1), hot, cold).is_err());
    }
}
