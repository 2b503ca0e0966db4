//! What cows need to eat, as a question and never as a cost; and what is left of feed once water and waste are out of it.
//!
//! A ticket that was never written makes milk look cheap. The milk itself shows it: so many gallons cannot come out of so
//! little feed. What cows eat can only be estimated, so nothing here corrects a record. It asks, and a person answers.
//!
//! The equations are those of the National Research Council's “Nutrient Requirements of Dairy Cattle” (7th ed., 2001), in
//! kilograms and megacalories of net energy. Pasture is what no scale saw: what cows want less what was weighed to them.

use super::{
    Fault,
    measure::{Weight, trimmed},
    money::Money,
};
use rust_decimal::{Decimal, MathematicalOps, RoundingStrategy, prelude::ToPrimitive};
use std::fmt;

/// Milligrams in a kilogram.
const KILOGRAM: Decimal = Decimal::from_parts(1_000_000, 0, 0, false, 0);

/// Below this part of what cows want, a fortnight's feed is asked about (common practice).
const TOO_LITTLE: Decimal = Decimal::from_parts(75, 0, 0, false, 2);

/// Above this many times what cows want, too (common practice).
const TOO_MUCH: Decimal = Decimal::from_parts(135, 0, 0, false, 2);

/// What is in milk besides water, in a hundred.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Solids {
    fat: Decimal,
    protein: Decimal,
}

impl Solids {
    /// Fat and protein as a test prints them: `4.8` and `3.7`.
    ///
    /// # Errors
    /// A sentence when no milk is like that.
    pub fn of(fat: Decimal, protein: Decimal) -> Result<Solids, Fault> {
        within("Fat", fat, 1, 12, "%")?;
        within("Protein", protein, 1, 9, "%")?;
        Ok(Solids { fat, protein })
    }

    /// The milk of 4 % fat that as much feed would have made: milk × (0.4 + 0.15 × fat).
    #[must_use]
    pub fn fat_corrected(self, milk: Weight) -> Weight {
        milligrams(Decimal::from(milk.in_milligrams()) * (Decimal::new(4, 1) + Decimal::new(15, 2) * self.fat))
    }

    /// The milk of 4.0 % fat and 3.3 % protein with as much energy in it, as the International Farm Comparison Network
    /// reckons it: what lets a Jersey's gallon stand beside a Holstein's.
    #[must_use]
    pub fn energy_corrected(self, milk: Weight) -> Weight {
        let energy = Decimal::new(383, 3) * self.fat + Decimal::new(242, 3) * self.protein + Decimal::new(7_832, 4);
        milligrams(Decimal::from(milk.in_milligrams()) * energy / Decimal::new(31_138, 4))
    }

    /// The net energy in milk, in megacalories.
    #[must_use]
    pub fn energy_in(self, milk: Weight) -> Decimal {
        kilograms(milk) * (Decimal::new(929, 4) * self.fat + Decimal::new(547, 4) * self.protein + Decimal::new(192, 3))
    }
}

/// A cow as her feed is asked about, or the middle one of a herd. A dry cow is one that gives no milk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Eater {
    milk: Weight,
    solids: Solids,
    body: Weight,
    week: Option<u32>,
}

impl Eater {
    /// What she gives in a day, what is in it, what she weighs, and the week since she calved, the first being 1. Without a
    /// week she eats as a cow does long after calving; a fresh cow eats less.
    ///
    /// # Errors
    /// A sentence when no cow is like that.
    pub fn of(milk: Weight, solids: Solids, body: Weight, week: Option<u32>) -> Result<Eater, Fault> {
        within("Milk a day", milk.in_pounds(), 0, 250, "lb")?;
        within("A cow's weight", body.in_pounds(), 200, 3_000, "lb")?;
        if week == Some(0) {
            return Err(Fault::says("The week in which she calved is week 1."));
        }
        Ok(Eater { milk, solids, body, week })
    }

    /// The dry feed she is likely to eat in a day: (0.372 × 4 % milk + 0.0968 × weight^0.75) × (1 − e^(−0.192 × (week +
    /// 3.67))), all in kilograms.
    #[must_use]
    pub fn wants(self) -> Weight {
        let milk = Decimal::new(372, 3) * kilograms(self.solids.fat_corrected(self.milk));
        let body = Decimal::new(968, 4) * metabolic(self.body);
        milligrams((milk + body) * (Decimal::ONE - still_missing(self.week)) * KILOGRAM)
    }

    /// The net energy she needs in a day for herself and for her milk, in megacalories.
    #[must_use]
    pub fn energy(self) -> Decimal {
        Decimal::new(80, 3) * metabolic(self.body) + self.solids.energy_in(self.milk)
    }
}

/// The dry feed cows are likely to eat in a day, together.
#[must_use]
pub fn wanted(cows: &[Eater]) -> Weight {
    cows.iter().map(|cow| cow.wants()).sum()
}

/// What is left for pasture: what cows want less the dry feed weighed to them, and never below nothing.
#[must_use]
pub fn from_pasture(cows: &[Eater], weighed: Weight) -> Weight {
    (wanted(cows) - weighed).max(Weight::ZERO)
}

/// Asks about dry feed a day that cannot be all that cows ate, or more than they could. The caller gives the mean of whole
/// fortnights: on one day a bale may last for three. Nothing is asked when nothing was weighed, for a gap is no figure.
#[must_use]
pub fn ask(cows: &[Eater], weighed: Weight) -> Option<Question> {
    let (wanted, fed) = (wanted(cows), Decimal::from(weighed.in_milligrams()));
    let usual = Decimal::from(wanted.in_milligrams());
    let odd = fed < usual * TOO_LITTLE || fed > usual * TOO_MUCH;
    let milk = cows.iter().map(|cow| cow.milk).sum();
    (odd && !cows.is_empty() && weighed > Weight::ZERO).then_some(Question { weighed, wanted, milk, several: cows.len() > 1 })
}

/// A question about feed: the figures behind it, and the sentence.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Question {
    /// The dry feed that was weighed, a day.
    pub weighed: Weight,
    /// The dry feed cows are likely to eat, a day.
    pub wanted: Weight,
    /// The milk they gave, a day.
    pub milk: Weight,
    /// Whether it is asked of more than one cow.
    several: bool,
}

impl fmt::Display for Question {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (fed, usual) = (trimmed(self.weighed.in_pounds(), 0), trimmed(self.wanted.in_pounds(), 0));
        let gallons = trimmed(self.milk.in_gallons(), 1);
        let milk = format!("{gallons} gallon{} of milk", if gallons == "1" { "" } else { "s" });
        let (cows, is_she) = if self.several { ("the cows", "are they") } else { ("a cow", "is she") };
        if self.weighed < self.wanted {
            let carry = if gallons == "0" { format!("keep {cows} for long") } else { format!("carry {milk} for long") };
            write!(f, "{fed} lb of dry feed a day cannot {carry}, where about {usual} lb is usual: ")?;
            return write!(f, "is a ticket or a feeding missing, or {is_she} on pasture?");
        }
        let eat = if self.several { "the cows eat" } else { "a cow eats" };
        let made = if gallons == "0" { String::new() } else { format!(" for {milk}") };
        write!(f, "{fed} lb of dry feed a day is more than {eat}{made}, where about {usual} lb is usual: ")?;
        f.write_str("is a feeding written twice, was much of it left, or did others eat of it too?")
    }
}

/// Feed as it was bought: what was paid for it, what it weighed, and how much of it is not water.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Load {
    paid: Money,
    weight: Weight,
    dry: Decimal,
    kept: Decimal,
}

impl Load {
    /// What was paid for how much, and its dry part in a hundred: 90 for dry hay.
    ///
    /// # Errors
    /// A sentence when nothing was weighed, or a figure cannot be right.
    pub fn of(paid: Money, weight: Weight, dry: Decimal) -> Result<Load, Fault> {
        if paid < Money::ZERO {
            return Err(Fault::says("A price cannot be below nothing."));
        }
        if weight <= Weight::ZERO {
            return Err(Fault::says(
                "Feed has to be weighed before a pound of it has a price. Weigh a few bales, and write what they weigh.",
            ));
        }
        within("The dry part", dry, 1, 100, "%")?;
        Ok(Load { paid, weight, dry: dry / Decimal::ONE_HUNDRED, kept: Decimal::ONE })
    }

    /// The same feed when so much in a hundred is lost in storage, and so much of the rest at the feeder: the two multiply.
    ///
    /// # Errors
    /// A sentence when a loss is below nothing, or leaves nothing.
    pub fn losing(self, storage: Decimal, feeding: Decimal) -> Result<Load, Fault> {
        within("What is lost in storage", storage, 0, 99, "%")?;
        within("What is lost at the feeder", feeding, 0, 99, "%")?;
        let kept = |lost: Decimal| (Decimal::ONE_HUNDRED - lost) / Decimal::ONE_HUNDRED;
        Ok(Load { kept: kept(storage) * kept(feeding), ..self })
    }

    /// What it weighs without its water.
    #[must_use]
    pub fn dry(self) -> Weight {
        milligrams(Decimal::from(self.weight.in_milligrams()) * self.dry)
    }

    /// What of that gets into a cow.
    #[must_use]
    pub fn eaten(self) -> Weight {
        milligrams(Decimal::from(self.weight.in_milligrams()) * self.dry * self.kept)
    }

    /// What was paid for feed that no cow ate.
    #[must_use]
    pub fn lost(self) -> Money {
        Money::round(self.paid.dollars() * (Decimal::ONE - self.kept))
    }

    /// What a dry pound costs, in dollars, exactly: the only price by which wet and dry feed can be held side by side.
    #[must_use]
    pub fn a_pound_dry(self) -> Decimal {
        self.paid.dollars() / (self.weight.in_pounds() * self.dry)
    }

    /// What a dry pound costs once it is eaten.
    #[must_use]
    pub fn a_pound_eaten(self) -> Decimal {
        self.a_pound_dry() / self.kept
    }
}

/// Whether a figure lies where such figures lie, both ends counted.
fn within(what: &str, figure: Decimal, least: i64, most: i64, unit: &str) -> Result<(), Fault> {
    if figure < Decimal::from(least) || figure > Decimal::from(most) {
        let shown = trimmed(figure, 2);
        return Err(Fault::says(format!("{what}: {shown} {unit} cannot be right. Write a figure from {least} to {most} {unit}.")));
    }
    Ok(())
}

/// A weight in kilograms.
fn kilograms(weight: Weight) -> Decimal {
    Decimal::from(weight.in_milligrams()) / KILOGRAM
}

/// A weight from exact milligrams, rounded once.
fn milligrams(exact: Decimal) -> Weight {
    Weight::milligrams(exact.round_dp_with_strategy(0, RoundingStrategy::MidpointAwayFromZero).to_i64().unwrap_or(i64::MAX))
}

/// A cow's weight in kilograms to the power of three quarters: her size as her upkeep feels it. It is the root of the
/// weight times the root of that, which keeps every digit; a general power would keep seven.
fn metabolic(body: Weight) -> Decimal {
    let half = root(kilograms(body));
    half * root(half)
}

/// A square root by Newton's steps. Their number is set, so that it ends whatever the last digit does; forty are twice what
/// the heaviest cow takes.
fn root(of: Decimal) -> Decimal {
    (0..40).fold(of.max(Decimal::ONE), |root, _| (root + of / root) / Decimal::TWO)
}

/// The part of her appetite that a cow has not come back to in a week after calving; long after, none.
fn still_missing(week: Option<u32>) -> Decimal {
    // After two years the part is a thousand-millionth.
    let Some(week) = week.filter(|week| *week <= 104) else { return Decimal::ZERO };
    let slowing = Decimal::new(192, 3) * (Decimal::from(week) + Decimal::new(367, 2));
    (-slowing).checked_exp_with_tolerance(Decimal::new(1, 12)).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn figure(text: &str) -> Decimal {
        Decimal::from_str_exact(text).unwrap()
    }

    fn pounds(text: &str) -> Weight {
        Weight::pounds(figure(text))
    }

    fn cow(gallons: &str) -> Eater {
        let solids = Solids::of(figure("4.8"), figure("3.7")).unwrap();
        Eater::of(Weight::gallons(figure(gallons)), solids, pounds("992"), Some(10)).unwrap()
    }

    /// Common practice: outside three quarters and one and a third of the estimate, a person is asked, kindly and once.
    #[test]
    fn feed_that_cannot_be_is_asked_about() {
        let says = |cows: &[Eater], fed: &str| ask(cows, pounds(fed)).map(|question| question.to_string());
        assert_eq!(
            says(&[cow("5")], "18").unwrap(),
            "18 lb of dry feed a day cannot carry 5 gallons of milk for long, where about 36 lb is usual: is a ticket or a feeding \
             missing, or is she on pasture?"
        );
        assert_eq!(
            says(&[cow("1"), cow("0")], "90").unwrap(),
            "90 lb of dry feed a day is more than the cows eat for 1 gallon of milk, where about 42 lb is usual: is a feeding written \
             twice, was much of it left, or did others eat of it too?"
        );
        assert!(says(&[cow("0")], "5").unwrap().starts_with("5 lb of dry feed a day cannot keep a cow for long"));
        assert!(says(&[cow("0")], "60").unwrap().starts_with("60 lb of dry feed a day is more than a cow eats, where"));
        assert!(says(&[cow("5"), cow("5")], "18").unwrap().ends_with("or are they on pasture?"));
        assert_eq!((says(&[cow("5")], "36"), says(&[cow("5")], "0"), says(&[], "36")), (None, None, None));
    }

    /// Worked by hand: both ends of what is not asked about, to the milligram.
    #[test]
    fn the_ends_are_not_asked_about() {
        let herd = [cow("5"), cow("3")];
        let part = |part: &str| Decimal::from(wanted(&herd).in_milligrams()) * figure(part);
        let (low, high) = (milligrams(part("0.75").ceil()), milligrams(part("1.35").floor()));
        let mg = Weight::milligrams(1);
        assert_eq!((ask(&herd, low), ask(&herd, high)), (None, None));
        assert!(ask(&herd, low - mg).is_some() && ask(&herd, high + mg).is_some());
        assert_eq!(from_pasture(&herd, low) + low, wanted(&herd));
        assert_eq!(from_pasture(&herd, high), Weight::ZERO);
    }

    /// Source: definition; a root times itself is what it is the root of. And a week without end is as good as none.
    #[test]
    fn roots_and_weeks_are_sure() {
        for kilograms in ["91", "100", "450", "600", "650.123456", "1361"] {
            let of = figure(kilograms);
            assert!((root(of) * root(of) - of).abs() < figure("0.000000000000000000001"), "{kilograms}");
        }
        assert!(still_missing(Some(104)) < figure("0.000000002") && still_missing(Some(u32::MAX)) == Decimal::ZERO);
        assert!(still_missing(Some(1)) > still_missing(Some(2)));
    }

    /// Common practice: what no cow and no feed is like gets a sentence.
    #[test]
    fn what_cannot_be_gets_a_sentence() {
        assert_eq!(
            Solids::of(figure("48"), figure("3.7")).unwrap_err().to_string(),
            "Fat: 48 % cannot be right. Write a figure from 1 to 12 %."
        );
        assert!(Solids::of(figure("4.8"), figure("0.037")).is_err());
        let solids = Solids::of(figure("4.8"), figure("3.7")).unwrap();
        let eater = |milk: &str, body: &str, week| Eater::of(pounds(milk), solids, pounds(body), week);
        assert!(eater("-1", "992", None).is_err() && eater("500", "992", None).is_err());
        assert!(eater("40", "100", None).is_err() && eater("40", "9920", None).is_err());
        assert_eq!(eater("40", "992", Some(0)).unwrap_err().to_string(), "The week in which she calved is week 1.");
        let load = |cents, weight: &str, dry: &str| Load::of(Money::cents(cents), pounds(weight), figure(dry));
        assert!(load(-1, "50", "90").is_err() && load(800, "50", "0.9").is_err() && load(800, "50", "101").is_err());
        assert!(load(800, "0", "90").unwrap_err().to_string().starts_with("Feed has to be weighed"));
        let hay = load(800, "50", "90").unwrap();
        assert!(hay.losing(figure("100"), Decimal::ZERO).is_err() && hay.losing(Decimal::ZERO, figure("-1")).is_err());
    }
}
