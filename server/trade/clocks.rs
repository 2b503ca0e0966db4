//! The clocks a cow's milk stands under: how long it stays out after a treatment, and around a calving.
//!
//! Every clock counts elapsed hours, so it does not slip when the clocks go forward, and the last hour belongs to it: a
//! milking at exactly that hour is still kept out. A blank is never read as zero.

use super::{
    short,
    when::{Day, Moment},
};
use chrono::Days;
use std::fmt;

/// One dose of one product given to a cow.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Dose {
    /// When it was given.
    pub at: Moment,
    /// What was given.
    pub product: String,
    /// Hours the milk stays out, by the label or the vet; blank when not known.
    pub milk_hours: Option<i64>,
    /// Milkings the milk stays out, by the label or the vet; blank when the label names none.
    pub milk_milkings: Option<i64>,
    /// Whether it was given exactly as the label says.
    pub as_labelled: bool,
    /// Whether the figures are the vet's own for this cow, and not the label's.
    pub vet_figure: bool,
    /// Whether the time counts from her calving, as that of a product given to dry her off does.
    pub from_calving: bool,
    /// Days she must have been dry for the label to stand, for a time that counts from calving.
    pub dry_days: Option<i64>,
}

/// One dose as it counts at a moment: a time that counts from her calving starts with her first calving after the dose.
struct Course<'a> {
    dose: &'a Dose,
    from: Option<Moment>,
}

impl<'a> Course<'a> {
    fn of(dose: &'a Dose, calvings: &[Moment], now: Moment) -> Course<'a> {
        let calved = calvings.iter().copied().filter(|calved| *calved >= dose.at && *calved <= now).min();
        Course { dose, from: if dose.from_calving { calved } else { Some(dose.at) } }
    }

    fn clock(&self) -> Option<Clock> {
        self.from.map(|from| Clock::of(from, self.dose.milk_hours, self.dose.milk_milkings))
    }

    /// Whether anybody wrote how long milk stays out, from whatever it counts.
    fn known(&self) -> bool {
        Clock::of(self.dose.at, self.dose.milk_hours, self.dose.milk_milkings).known()
    }

    /// Whether its time was running at a moment after it was given; one that counts from a calving runs until then too.
    fn runs(&self, milkings: &[Moment], at: Moment) -> bool {
        match self.clock().filter(|clock| clock.from <= at) {
            Some(clock) => clock.left(milkings, at).is_some(),
            None => true,
        }
    }

    /// Why the label's time does not stand for her, if it does not. After an early calving, or with the days the label asks
    /// for unknown, a product given to dry her off is no longer used as its label says.
    fn off_label(&self) -> Option<String> {
        let product = short(&self.dose.product);
        if !self.dose.as_labelled {
            return Some(format!("{product} was not given as its label says, so ask the vet how long milk stays out."));
        }
        let calved = self.from.filter(|_| self.dose.from_calving)?;
        let dry = calved.minutes_since(self.dose.at) / (24 * 60);
        match self.dose.dry_days {
            None => Some(format!("Nobody wrote how many days dry the label of {product} asks for: ask the vet how long milk stays out.")),
            Some(days) if dry < days => Some(format!(
                "She calved {dry} days after {product}, and its label asks for {days} days dry: ask the vet how long milk stays out."
            )),
            Some(_) => None,
        }
    }
}

/// A time of keeping out that ends at the later of its hours and its milkings.
struct Clock {
    from: Moment,
    hours: Option<i64>,
    milkings: Option<i64>,
}

impl Clock {
    /// A figure no label could have is read as a blank.
    fn of(from: Moment, hours: Option<i64>, milkings: Option<i64>) -> Clock {
        let sane = |figure: Option<i64>| figure.filter(|figure| (0..10_000).contains(figure));
        Clock { from, hours: sane(hours), milkings: sane(milkings) }
    }

    fn known(&self) -> bool {
        self.hours.is_some() || self.milkings.is_some()
    }

    fn last_hour(&self) -> Option<Moment> {
        self.hours.map(|hours| self.from.plus_hours(hours))
    }

    /// What is left of it for the milk of `at`, or nothing when it is over. The milking at `at` is not yet one that is done.
    fn left(&self, milkings: &[Moment], at: Moment) -> Option<Left> {
        let done = milkings.iter().filter(|milked| **milked > self.from && **milked < at).count();
        let milkings = (self.milkings.unwrap_or(0) - i64::try_from(done).unwrap_or(i64::MAX)).max(0);
        // A label that names no hours at all keeps nothing out, not even the milk of that hour.
        let last = self.last_hour().filter(|last| at <= *last && *last > self.from);
        let minutes = last.map_or(0, |last| last.minutes_since(at));
        (last.is_some() || milkings > 0).then_some(Left { at: last, minutes, milkings })
    }

    /// The last hour or the last milking thrown out, whichever is later.
    fn over_since(&self, milkings: &[Moment]) -> Moment {
        let mut after: Vec<Moment> = milkings.iter().copied().filter(|milked| *milked > self.from).collect();
        after.sort_unstable();
        let thrown_out = self.milkings.and_then(|count| usize::try_from(count - 1).ok()).and_then(|nth| after.get(nth).copied());
        self.last_hour().unwrap_or(self.from).max(thrown_out.unwrap_or(self.from))
    }
}

/// Whether a treated cow's milk may go into the can.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Withheld {
    /// Nothing keeps her milk out, since the last hour or milking of her last treatment if she had one.
    Clear(Option<Moment>),
    /// Her milk stays out for a known time.
    Until(Left),
    /// The time counts from her calving, and no calving after the dose is written: the product.
    UntilCalving(String),
    /// Nobody has said how long her milk stays out: what is missing, and whom to ask.
    NotKnown(String),
}

impl fmt::Display for Withheld {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Withheld::Clear(None) => f.write_str("She has had no treatment that keeps her milk out."),
            Withheld::Clear(Some(_)) => f.write_str("The time after her last treatment is over."),
            Withheld::Until(left) => write!(f, "She was treated, so her milk stays out {left}."),
            Withheld::UntilCalving(product) => {
                write!(f, "The time after {} counts from her calving, and no calving is written.", short(product))
            }
            Withheld::NotKnown(why) => f.write_str(why),
        }
    }
}

/// What is left of a time of keeping out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Left {
    /// The last hour, which is still inside; nothing when only milkings are left.
    pub at: Option<Moment>,
    /// Minutes left to that hour.
    pub minutes: i64,
    /// Milkings still to be thrown out, the present one among them.
    pub milkings: i64,
}

impl fmt::Display for Left {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let hours = self.at.map(|_| match self.minutes {
            0 => "this hour too".to_owned(),
            minutes => format!("for {} more h", (minutes + 59) / 60),
        });
        let count = |count| format!("for {count} more milking{}", if count == 1 { "" } else { "s" });
        let milkings = (self.milkings > 0).then(|| count(self.milkings));
        f.write_str(&[hours, milkings].into_iter().flatten().collect::<Vec<String>>().join(" and "))
    }
}

/// Judges a cow's milk at `now` by her doses, her calvings and her milkings. A dose at `now` itself already counts; later
/// ones do not.
///
/// The clock starts at the last dose, or at her first calving after it where the label says so. The label's time stands
/// only for one product given as labelled: two products in each other's time, or any other use, need the vet's figure, and
/// a vet's figure covers every dose given up to then.
#[must_use]
pub fn withdrawal(doses: &[Dose], calvings: &[Moment], milkings: &[Moment], now: Moment) -> Withheld {
    let mut given: Vec<Course> = doses.iter().filter(|dose| dose.at <= now).map(|dose| Course::of(dose, calvings, now)).collect();
    given.sort_by_key(|course| course.dose.at);
    if let Some(why) = vet_needed(&given, milkings) {
        return Withheld::NotKnown(why);
    }
    let vets = vets_figure(&given).filter(|vet| vet.from.is_some());
    let answered = |course: &Course| vets.is_some_and(|vet| course.dose.at <= vet.dose.at);
    if let Some(waits) = given.iter().find(|course| course.known() && course.from.is_none() && !answered(course)) {
        return Withheld::UntilCalving(waits.dose.product.clone());
    }
    let clocks: Vec<Clock> = given.iter().filter_map(Course::clock).filter(Clock::known).collect();
    let left = clocks.iter().filter_map(|clock| clock.left(milkings, now)).reduce(|one, two| Left {
        at: one.at.max(two.at),
        minutes: one.minutes.max(two.minutes),
        milkings: one.milkings.max(two.milkings),
    });
    if let Some(left) = left {
        return Withheld::Until(left);
    }
    Withheld::Clear(clocks.iter().map(|clock| clock.over_since(milkings)).max())
}

fn vets_figure<'a, 'b>(given: &'b [Course<'a>]) -> Option<&'b Course<'a>> {
    given.iter().rev().find(|course| course.dose.vet_figure && course.known())
}

/// Why only the vet can say when this cow's milk may be used, or nothing when the figures at hand are enough.
fn vet_needed(given: &[Course], milkings: &[Moment]) -> Option<String> {
    let vets = vets_figure(given);
    // A tube counted from calving and one counted from its dose answer nothing for each other, though they share a name.
    let same = |one: &Course, two: &Course| {
        one.dose.from_calving == two.dose.from_calving && one.dose.product.trim().to_lowercase() == two.dose.product.trim().to_lowercase()
    };
    let covered = |course: &Course| vets.is_some_and(|vet| course.dose.at <= vet.dose.at);
    for (place, course) in given.iter().enumerate().filter(|(_, course)| !covered(course)) {
        let given_again = given.iter().skip(place + 1).any(|later| same(later, course));
        if !course.known() && !given_again {
            return Some(format!("Nobody wrote how long milk stays out after {}: ask the vet.", short(&course.dose.product)));
        }
        if let Some(why) = course.off_label() {
            return Some(why);
        }
        let at = course.dose.at;
        let again = |other: &Course| given.iter().any(|later| later.dose.at > other.dose.at && later.dose.at <= at && same(later, other));
        let together = given.iter().take_while(|other| other.dose.at <= at).filter(|other| !same(other, course)).find(|other| {
            match vets.filter(|_| covered(other) && !other.known()).unwrap_or(other) {
                timed if timed.known() => timed.runs(milkings, at),
                _ => !again(other),
            }
        });
        if let Some(other) = together {
            let (one, two) = (short(&other.dose.product), short(&course.dose.product));
            return Some(format!("{one} and {two} were given together, so neither label counts: ask the vet how long milk stays out."));
        }
    }
    None
}

/// The first of the coming milkings whose milk may be used, when the milkings before it are done as foreseen.
#[must_use]
pub fn first_usable(doses: &[Dose], calvings: &[Moment], milkings: &[Moment], coming: &[Moment]) -> Option<Moment> {
    let all: Vec<Moment> = milkings.iter().chain(coming).copied().collect();
    coming.iter().copied().find(|next| matches!(withdrawal(doses, calvings, &all, *next), Withheld::Clear(_)))
}

/// How long milk stays out around a calving, by a law or by the owner's own rule.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct ColostrumRule {
    /// Days before the due date.
    pub days_before: Option<i64>,
    /// Days after the calving, each of 24 elapsed hours.
    pub days_after: Option<i64>,
    /// Milkings after the calving.
    pub milkings: Option<i64>,
}

impl ColostrumRule {
    /// The first day too near the due date for milk to be sold, when `day` is on or after it.
    #[must_use]
    pub fn too_near(self, due: Day, day: Day) -> Option<Day> {
        let days = u64::try_from(self.days_before?).ok()?;
        due.checked_sub_days(Days::new(days)).filter(|first| day >= *first)
    }
}

/// Whether the milk of a cow that calved is milk yet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Fresh {
    /// The time after calving is over, since its last hour or milking.
    Milk(Moment),
    /// Still colostrum.
    Colostrum(Left),
    /// Nothing says how long: what is missing.
    NotKnown(String),
}

impl fmt::Display for Fresh {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Fresh::Milk(_) => f.write_str("The time after her calving is over."),
            Fresh::Colostrum(left) => write!(f, "She has just calved, so her milk stays out {left}."),
            Fresh::NotKnown(why) => f.write_str(why),
        }
    }
}

/// Judges the milk of one milking after a calving: colostrum until the later of the rule's days and milkings.
#[must_use]
pub fn colostrum(calved: Moment, rule: ColostrumRule, milkings_since: &[Moment], milking_at: Moment) -> Fresh {
    let clock = Clock::of(calved, rule.days_after.and_then(|days| days.checked_mul(24)), rule.milkings);
    let before = "That milking is written down as before she calved: check the two times.";
    let no_rule = "No rule here says how long milk stays out after calving: set your own days.";
    if milking_at < calved || !clock.known() {
        return Fresh::NotKnown(if milking_at < calved { before } else { no_rule }.to_owned());
    }
    match clock.left(milkings_since, milking_at) {
        Some(left) => Fresh::Colostrum(left),
        None => Fresh::Milk(clock.over_since(milkings_since)),
    }
}
