//! Temperature and the weight of milk: read once from what a person typed, kept exactly, shown again.
//!
//! A temperature is kept in 1/900 of a degree Celsius, because a hundredth of a degree is then a whole number in both
//! scales: 40.00 °F and 4.44 °C compare without rounding. A weight is kept in milligrams: one pound is exactly
//! 453,592.37 mg (NIST Handbook 44, Appendix C).

use super::{Fault, short};
use rust_decimal::{Decimal, RoundingStrategy, prelude::ToPrimitive};
use std::fmt;

/// Milligrams in one hundredth of a milligram-exact pound: 453,592.37 mg a pound, times one hundred.
const POUND: Decimal = Decimal::from_parts(45_359_237, 0, 0, false, 2);

/// Pounds in a gallon of milk: 8.6, the trade's planning figure, and the only place it is written.
pub const POUNDS_A_GALLON: Decimal = Decimal::from_parts(86, 0, 0, false, 1);

/// Half-gallons in a gallon.
const HALVES: Decimal = Decimal::TWO;

/// The scale a thermometer is read in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Scale {
    /// Degrees Fahrenheit.
    Fahrenheit,
    /// Degrees Celsius.
    Celsius,
}

impl fmt::Display for Scale {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Scale::Fahrenheit => "°F",
            Scale::Celsius => "°C",
        })
    }
}

impl Scale {
    /// Reads `°F`, `F`, `C` and the like.
    #[must_use]
    pub fn parse(typed: &str) -> Option<Scale> {
        match typed.trim().trim_start_matches('°').to_ascii_uppercase().as_str() {
            "F" => Some(Scale::Fahrenheit),
            "C" => Some(Scale::Celsius),
            _ => None,
        }
    }
}

/// A temperature, exact in both scales to the hundredth, with the scale it was read in.
#[derive(Clone, Copy, Debug)]
pub struct Temperature {
    nine_hundredths: i64,
    scale: Scale,
}

impl Temperature {
    /// A temperature from hundredths of a degree in its own scale.
    #[must_use]
    pub const fn hundredths(hundredths: i64, scale: Scale) -> Temperature {
        let nine_hundredths = match scale {
            Scale::Fahrenheit => (hundredths - 3200) * 5,
            Scale::Celsius => hundredths * 9,
        };
        Temperature { nine_hundredths, scale }
    }

    /// Whole degrees Fahrenheit.
    #[must_use]
    pub const fn fahrenheit(degrees: i64) -> Temperature {
        Temperature::hundredths(degrees * 100, Scale::Fahrenheit)
    }

    /// Whole degrees Celsius.
    #[must_use]
    pub const fn celsius(degrees: i64) -> Temperature {
        Temperature::hundredths(degrees * 100, Scale::Celsius)
    }

    /// The exact value, for keeping and comparing.
    #[must_use]
    pub const fn exact(self) -> i64 {
        self.nine_hundredths
    }

    /// The scale it was read in.
    #[must_use]
    pub const fn scale(self) -> Scale {
        self.scale
    }

    /// The same temperature, to be shown in another scale.
    #[must_use]
    pub const fn shown_in(self, scale: Scale) -> Temperature {
        Temperature { nine_hundredths: self.nine_hundredths, scale }
    }

    /// Degrees in the scale it is shown in.
    #[must_use]
    pub fn degrees(self) -> Decimal {
        match self.scale {
            Scale::Fahrenheit => Decimal::from(self.nine_hundredths) / Decimal::from(500) + Decimal::from(32),
            Scale::Celsius => Decimal::from(self.nine_hundredths) / Decimal::from(900),
        }
    }

    /// Reads `39.2`, `39.2 °F` or `4 C`; a bare number is in the farm's scale.
    ///
    /// # Errors
    /// A sentence when the text is no temperature, or none that milk could have.
    pub fn parse(typed: &str, usual: Scale) -> Result<Temperature, Fault> {
        let text = typed.trim();
        let split = text.find(|c: char| !(c.is_ascii_digit() || matches!(c, '-' | '.' | ','))).unwrap_or(text.len());
        let (figure, unit) = text.split_at(split);
        let scale = if unit.trim().is_empty() { Some(usual) } else { Scale::parse(unit) };
        let scale =
            scale.ok_or_else(|| Fault::says(format!("“{}” is not a temperature. Write degrees, like 39.2 °F or 4.0 °C.", short(typed))))?;
        let degrees = figure_of(figure)
            .ok_or_else(|| Fault::says(format!("“{}” is not a temperature. Write a number of degrees, like 39.2.", short(typed))))?;
        let hundredths = (degrees * Decimal::ONE_HUNDRED).round_dp_with_strategy(0, RoundingStrategy::MidpointAwayFromZero);
        let read = Temperature::hundredths(hundredths.to_i64().unwrap_or(i64::MAX / 1000), scale);
        if read < Temperature::celsius(-40) || read > Temperature::celsius(110) {
            // A point left out is the slip of a tired thumb.
            let tenth = Temperature::hundredths(hundredths.to_i64().unwrap_or(i64::MAX / 1000) / 10, scale);
            let fits = tenth >= Temperature::celsius(-40) && tenth <= Temperature::celsius(110);
            let meant = if fits { format!(" Did you mean {tenth}?") } else { String::new() };
            let range = if scale == Scale::Fahrenheit { "−40 °F and 230 °F" } else { "−40 °C and 110 °C" };
            let says = format!("{read} cannot be right: give a temperature between {range}.{meant}");
            return Err(Fault::says(says));
        }
        Ok(read)
    }
}

impl PartialEq for Temperature {
    fn eq(&self, other: &Temperature) -> bool {
        self.nine_hundredths == other.nine_hundredths
    }
}
impl Eq for Temperature {}
impl PartialOrd for Temperature {
    fn partial_cmp(&self, other: &Temperature) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for Temperature {
    fn cmp(&self, other: &Temperature) -> std::cmp::Ordering {
        self.nine_hundredths.cmp(&other.nine_hundredths)
    }
}

impl fmt::Display for Temperature {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", trimmed(self.degrees(), 2), self.scale)
    }
}

/// A weight of milk in milligrams.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Weight(i64);

/// More milk at once than a farm of a dozen cows has in a fortnight: common practice.
const MOST_POUNDS: Decimal = Decimal::from_parts(10_000, 0, 0, false, 0);

impl Weight {
    /// No milk.
    pub const ZERO: Weight = Weight(0);

    /// This many milligrams.
    #[must_use]
    pub const fn milligrams(milligrams: i64) -> Weight {
        Weight(milligrams)
    }

    /// The weight in milligrams, for keeping.
    #[must_use]
    pub const fn in_milligrams(self) -> i64 {
        self.0
    }

    /// A weight given in pounds.
    #[must_use]
    pub fn pounds(pounds: Decimal) -> Weight {
        Weight((pounds * POUND).round_dp_with_strategy(0, RoundingStrategy::MidpointAwayFromZero).to_i64().unwrap_or(i64::MAX))
    }

    /// The weight of so many gallons of milk, at 8.6 lb a gallon.
    #[must_use]
    pub fn gallons(gallons: Decimal) -> Weight {
        Weight::pounds(gallons * POUNDS_A_GALLON)
    }

    /// The weight of so many half-gallons of milk, at 4.3 lb each.
    #[must_use]
    pub fn half_gallons(halves: Decimal) -> Weight {
        Weight::gallons(halves / HALVES)
    }

    /// The weight in pounds.
    #[must_use]
    pub fn in_pounds(self) -> Decimal {
        Decimal::from(self.0) / POUND
    }

    /// Gallons of milk this weight is.
    #[must_use]
    pub fn in_gallons(self) -> Decimal {
        self.in_pounds() / POUNDS_A_GALLON
    }

    /// Half-gallons of milk this weight is.
    #[must_use]
    pub fn in_half_gallons(self) -> Decimal {
        self.in_gallons() * HALVES
    }

    /// The line under a typed figure: `26.4 lb = 3.07 gal ≈ 6 half-gallons`.
    #[must_use]
    pub fn spoken(self) -> String {
        let halves = self.in_half_gallons().trunc();
        format!("{self} = {} gal ≈ {halves} half-gallon{}", trimmed(self.in_gallons(), 2), if halves == Decimal::ONE { "" } else { "s" })
    }

    /// Reads `26.4`, `26.4 lb`, `12 kg`, `3.1 gal` or `6 half-gallons`; a bare number is pounds.
    ///
    /// # Errors
    /// A sentence when the text is no amount of milk.
    pub fn parse(typed: &str) -> Result<Weight, Fault> {
        let text = typed.trim();
        let split = text.find(|c: char| !(c.is_ascii_digit() || matches!(c, '-' | '.' | ','))).unwrap_or(text.len());
        let (figure, unit) = text.split_at(split);
        let figure = figure_of(figure)
            .ok_or_else(|| Fault::says(format!("“{}” is not an amount of milk. Write a number and a unit, like 26.4 lb.", short(typed))))?;
        if figure.is_sign_negative() {
            return Err(Fault::says("An amount of milk cannot be below nothing."));
        }
        let too_much = || Fault::says(format!("{figure} is more milk than a farm of this size makes. Check the figure."));
        // Before it is multiplied, and again in pounds, in which it is shown and must be readable again.
        if figure > MOST_POUNDS {
            return Err(too_much());
        }
        let weight = match unit.trim().to_ascii_lowercase().trim_end_matches('s') {
            "" | "lb" | "pound" => Ok(Weight::pounds(figure)),
            "kg" => Ok(Weight((figure * Decimal::from(1_000_000)).round().to_i64().unwrap_or(i64::MAX))),
            "gal" | "gallon" => Ok(Weight::gallons(figure)),
            "half-gallon" | "half gallon" | "jar" => Ok(Weight::half_gallons(figure)),
            other => Err(Fault::says(format!("“{}” is not a unit of milk here. Write lb, kg, gal or half-gallons.", short(other)))),
        }?;
        if weight.in_pounds() > MOST_POUNDS { Err(too_much()) } else { Ok(weight) }
    }
}

impl fmt::Display for Weight {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} lb", trimmed(self.in_pounds(), 2))
    }
}

impl std::ops::Add for Weight {
    type Output = Weight;
    fn add(self, other: Weight) -> Weight {
        Weight(self.0 + other.0)
    }
}

impl std::ops::Sub for Weight {
    type Output = Weight;
    fn sub(self, other: Weight) -> Weight {
        Weight(self.0 - other.0)
    }
}

impl std::iter::Sum for Weight {
    fn sum<I: Iterator<Item = Weight>>(weights: I) -> Weight {
        weights.fold(Weight::ZERO, |sum, weight| sum + weight)
    }
}

/// A figure without the zeros nobody reads: at most `places` decimals, rounded half away from zero.
#[must_use]
pub fn trimmed(figure: Decimal, places: u32) -> String {
    rounded(figure, places).normalize().to_string()
}

/// A figure with exactly `places` decimals, rounded half away from zero, so that columns line up.
#[must_use]
pub fn fixed(figure: Decimal, places: u32) -> String {
    let places_wide = usize::try_from(places).unwrap_or(2);
    format!("{:.places_wide$}", rounded(figure, places))
}

/// A difference that is shown with its sign, so that more is told from less at a glance; nothing has none.
#[must_use]
pub fn signed(shown: String) -> String {
    let nothing = shown.chars().all(|c| matches!(c, '0' | '.'));
    if nothing || shown.starts_with('-') { shown } else { format!("+{shown}") }
}

/// Rounded half away from zero, and nothing is never below nothing.
pub(super) fn rounded(figure: Decimal, places: u32) -> Decimal {
    let rounded = figure.round_dp_with_strategy(places, RoundingStrategy::MidpointAwayFromZero);
    if rounded.is_zero() { Decimal::ZERO } else { rounded }
}

/// A plain decimal figure of reasonable length; a decimal comma is read as a point.
#[must_use]
pub fn figure_of(typed: &str) -> Option<Decimal> {
    let text = typed.trim().replace(',', ".");
    // As long as it is shown, which is with a nought before its point; its sign does not count.
    let plain = text.trim_start_matches('-');
    let length = plain.len() + usize::from(plain.starts_with('.'));
    let sensible = length <= 14 && text.chars().any(|c| c.is_ascii_digit());
    if sensible { Decimal::from_str_exact(&text).ok() } else { None }
}

/// A figure without a currency sign before it and without the commas before each three digits: `$1,200` is 1200. A comma
/// anywhere else is a decimal comma.
#[must_use]
pub fn without_dress(typed: &str) -> String {
    let bare = typed.trim().trim_start_matches('$').trim();
    let whole = bare.split('.').next().unwrap_or_default().trim_start_matches('-');
    let mut groups = whole.split(',');
    let first = groups.next().unwrap_or_default();
    let grouped = whole.contains(',') && (1..=3).contains(&first.len()) && first != "0" && groups.all(|group| group.len() == 3);
    if grouped { bare.replace(',', "") } else { bare.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Source: NIST SP 811, B.8: t/°C = (t/°F − 32)/1.8; the fixed points are exact.
    #[test]
    fn the_two_scales_meet_exactly() {
        assert_eq!(Temperature::fahrenheit(32), Temperature::celsius(0));
        assert_eq!(Temperature::fahrenheit(50), Temperature::celsius(10));
        assert_eq!(Temperature::fahrenheit(212), Temperature::celsius(100));
        assert_eq!(Temperature::fahrenheit(-40), Temperature::celsius(-40));
        assert!(Temperature::hundredths(444, Scale::Celsius) < Temperature::fahrenheit(40));
        assert!(Temperature::hundredths(445, Scale::Celsius) > Temperature::fahrenheit(40));
        assert_eq!(Temperature::fahrenheit(45).shown_in(Scale::Celsius).to_string(), "7.22 °C");
    }

    /// Source: NIST Handbook 44, Appendix C: 1 lb = 453.592 37 g exactly.
    #[test]
    fn a_pound_is_exact() {
        assert_eq!(Weight::pounds(Decimal::ONE_HUNDRED).in_milligrams(), 45_359_237);
        assert_eq!(Weight::parse("0.45359237 kg").unwrap(), Weight::parse("1 lb").unwrap());
    }

    /// Source: University of Florida and other extension pages: a gallon of milk is planned at 8.6 lb.
    #[test]
    fn milk_is_spoken_in_every_unit() {
        assert_eq!(Weight::parse("26.4 lb").unwrap().spoken(), "26.4 lb = 3.07 gal ≈ 6 half-gallons");
        assert_eq!(Weight::parse("1290 lb").unwrap().in_half_gallons().round_dp(3), Decimal::from(300));
        // Fifty pounds fill eleven half-gallon jars, and 2.7 lb are left over.
        let (fifty, full) = (Weight::parse("50.0").unwrap(), Weight::parse("50.0").unwrap().in_half_gallons().trunc());
        assert_eq!((full, (fifty - Weight::half_gallons(full)).to_string()), (Decimal::from(11), "2.7 lb".to_owned()));
        assert_eq!(Weight::parse("2 gal").unwrap(), Weight::parse("17.2 lb").unwrap());
    }

    #[test]
    fn nonsense_gets_a_sentence() {
        for typed in ["", "warm", "<40", "🥛", "4 K", "400 °F", "1e3", "٣٩"] {
            assert!(Temperature::parse(typed, Scale::Fahrenheit).is_err(), "{typed}");
        }
        assert!(Temperature::parse("392", Scale::Fahrenheit).unwrap_err().to_string().ends_with("Did you mean 39.2 °F?"));
        assert!(!Temperature::parse("99999", Scale::Fahrenheit).unwrap_err().to_string().contains("mean"));
        for typed in ["", "some", "-1 lb", "3 stone", "99999999999999999999", "10001 lb"] {
            assert!(Weight::parse(typed).is_err(), "{typed}");
        }
        assert_eq!(Temperature::parse("39,2", Scale::Fahrenheit).unwrap().to_string(), "39.2 °F");
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn what_is_shown_can_be_typed(hundredths in -3000i64..9000, celsius: bool) {
            let scale = if celsius { Scale::Celsius } else { Scale::Fahrenheit };
            let read = Temperature::hundredths(hundredths, scale);
            prop_assert_eq!(Temperature::parse(&read.to_string(), Scale::Celsius).unwrap(), read);
        }
    }
}
