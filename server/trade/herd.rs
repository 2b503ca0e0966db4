//! The clocks a cow stands under: how long her milk stays out after a treatment or a calving, and where she stands in the
//! herd.
//!
//! Every clock counts elapsed hours, so it does not slip when the clocks go forward, and the last hour belongs to it: a
//! milking at exactly that hour is still kept out. A blank is never read as zero.

use super::{
    Fault, short,
    when::{Day, Moment, Zone},
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

impl Dose {
    /// The dose of a dry-off product, counted from the calving as its label says. The label stands only when she was dry
    /// for the days it asks; after an early calving, or with those days unknown, the vet must set the time.
    #[must_use]
    pub fn from_calving(&self, calved: Moment, dry_days: Option<i64>) -> Dose {
        let dry_long_enough = dry_days.is_some_and(|days| calved.minutes_since(self.at) / (24 * 60) >= days);
        Dose { at: calved, as_labelled: self.as_labelled && dry_long_enough, ..self.clone() }
    }

    fn clock(&self) -> Clock {
        Clock::of(self.at, self.milk_hours, self.milk_milkings)
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
        let last = self.last_hour().filter(|last| at <= *last);
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
    /// Nobody has said how long her milk stays out: what is missing, and whom to ask.
    NotKnown(String),
}

impl fmt::Display for Withheld {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Withheld::Clear(None) => f.write_str("She has had no treatment that keeps her milk out."),
            Withheld::Clear(Some(_)) => f.write_str("The time after her last treatment is over."),
            Withheld::Until(left) => write!(f, "She was treated, so her milk stays out {left}."),
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

/// Judges a cow's milk at `now` by her doses and her milkings. A dose at `now` itself already counts; later ones do not.
///
/// The clock starts at the last dose. The label's time stands only for one product given as labelled: two products in
/// each other's time, or any other use, need the vet's figure, and a vet's figure covers every dose given up to then.
#[must_use]
pub fn withdrawal(doses: &[Dose], milkings: &[Moment], now: Moment) -> Withheld {
    let mut given: Vec<&Dose> = doses.iter().filter(|dose| dose.at <= now).collect();
    given.sort_by_key(|dose| dose.at);
    if let Some(why) = vet_needed(&given, milkings) {
        return Withheld::NotKnown(why);
    }
    let clocks: Vec<Clock> = given.iter().map(|dose| dose.clock()).filter(Clock::known).collect();
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

/// Why only the vet can say when this cow's milk may be used, or nothing when the figures at hand are enough.
fn vet_needed(given: &[&Dose], milkings: &[Moment]) -> Option<String> {
    let vets = given.iter().rev().find(|dose| dose.vet_figure && dose.clock().known());
    let same = |one: &Dose, two: &Dose| one.product.trim().to_lowercase() == two.product.trim().to_lowercase();
    let covered = |dose: &Dose| vets.is_some_and(|vet| dose.at <= vet.at);
    for (place, dose) in given.iter().enumerate().filter(|(_, dose)| !covered(dose)) {
        let given_again = given.iter().skip(place + 1).any(|later| same(later, dose));
        if !dose.clock().known() && !given_again {
            return Some(format!("Nobody wrote how long milk stays out after {}: ask the vet.", short(&dose.product)));
        }
        if !dose.as_labelled {
            return Some(format!("{} was not given as its label says, so ask the vet how long milk stays out.", short(&dose.product)));
        }
        let again = |other: &Dose| given.iter().any(|later| later.at > other.at && later.at <= dose.at && same(later, other));
        let together = given.iter().take_while(|other| other.at <= dose.at).filter(|other| !same(other, dose)).find(|other| {
            match vets.filter(|_| covered(other) && !other.clock().known()).unwrap_or(other).clock() {
                clock if clock.known() => clock.left(milkings, dose.at).is_some(),
                _ => !again(other),
            }
        });
        if let Some(other) = together {
            let (one, two) = (short(&other.product), short(&dose.product));
            return Some(format!("{one} and {two} were given together, so neither label counts: ask the vet how long milk stays out."));
        }
    }
    None
}

/// The first of the coming milkings whose milk may be used, when the milkings before it are done as foreseen.
#[must_use]
pub fn first_usable(doses: &[Dose], milkings: &[Moment], coming: &[Moment]) -> Option<Moment> {
    let all: Vec<Moment> = milkings.iter().chain(coming).copied().collect();
    coming.iter().copied().find(|next| matches!(withdrawal(doses, &all, *next), Withheld::Clear(_)))
}

/// The next `count` milkings after a moment, at the usual times of day given as minutes after midnight.
#[must_use]
pub fn coming_milkings(zone: Zone, usual: &[u32], after: Moment, count: usize) -> Vec<Moment> {
    let mut times = usual.to_vec();
    times.sort_unstable();
    let at = |day: Day, minutes: &u32| {
        let typed = format!("{day}T{:02}:{:02}", minutes / 60, minutes % 60);
        zone.parse_moment(&typed).unwrap_or_else(|_| zone.start_of(day).plus_minutes(i64::from(*minutes)))
    };
    let days = zone.day(after).iter_days().take(count + 1);
    days.flat_map(|day| times.iter().map(move |minutes| at(day, minutes))).filter(|next| *next > after).take(count).collect()
}

/// `Damson joins Thursday evening.`, with the date too when that is six days or more away.
#[must_use]
pub fn joins(cow: &str, first: Option<Moment>, now: Moment, zone: Zone) -> String {
    match first {
        Some(first) if first.minutes_since(now) < 6 * 24 * 60 => format!("{cow} joins {}.", zone.milking_words(first)),
        Some(first) => format!("{cow} joins {}, {}.", zone.milking_words(first), zone.shown(first)),
        None => format!("{cow} stays out: nobody can say yet when her milk may be used."),
    }
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
    /// The same rule with the owner's own days after calving. They may add to the rule and never shorten it.
    #[must_use]
    pub fn or_longer(self, owners_days: Option<i64>) -> ColostrumRule {
        ColostrumRule { days_after: self.days_after.max(owners_days), ..self }
    }

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

/// What the first squirts looked like.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Foremilk {
    /// As it should be.
    Normal,
    /// Flakes or clots.
    Flakes,
    /// Blood.
    Blood,
    /// Watery.
    Watery,
    /// Nobody wrote that they looked.
    #[default]
    NotLooked,
}

impl Foremilk {
    const WORDS: [(Foremilk, &'static str); 5] = [
        (Foremilk::Normal, "ok"),
        (Foremilk::Flakes, "flakes"),
        (Foremilk::Blood, "blood"),
        (Foremilk::Watery, "watery"),
        (Foremilk::NotLooked, ""),
    ];

    /// Reads `ok`, `flakes`, `blood` or `watery`; a blank means that nobody looked.
    ///
    /// # Errors
    /// A sentence when it is none of these words.
    pub fn parse(typed: &str) -> Result<Foremilk, Fault> {
        let found = Foremilk::WORDS.iter().find(|(_, word)| word.eq_ignore_ascii_case(typed.trim()));
        let wrong = || Fault::says(format!("“{}” is not a look of foremilk. Write ok, flakes, blood or watery.", short(typed)));
        found.map(|(look, _)| *look).ok_or_else(wrong)
    }

    /// Why this milk should not go into the can, or nothing when it may.
    #[must_use]
    pub const fn reason(self) -> Option<&'static str> {
        match self {
            Foremilk::Normal => None,
            Foremilk::Flakes => Some("There were flakes in her first squirts."),
            Foremilk::Blood => Some("There was blood in her first squirts."),
            Foremilk::Watery => Some("Her first squirts were watery."),
            Foremilk::NotLooked => Some("Nobody wrote down how her first squirts looked."),
        }
    }
}

impl fmt::Display for Foremilk {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(Foremilk::WORDS.iter().find(|(look, _)| look == self).map_or("", |(_, word)| word))
    }
}

/// What can happen to a cow that changes where she stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Turn {
    /// She came to the farm, or came back.
    Arrived,
    /// She calved.
    Calved,
    /// Her milk went into the can from then on.
    JoinedCan,
    /// Her milk was kept out from then on.
    KeptOut,
    /// She was dried off.
    DriedOff,
    /// She left the herd.
    Left,
}

/// Where a cow stands in the herd, and since when.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// Her milk goes into the can.
    InTheCan(Moment),
    /// Her milk is kept out.
    KeptOut(Moment),
    /// She calved and has not joined the can.
    Fresh(Moment),
    /// She gives no milk.
    Dry(Moment),
    /// She is gone.
    Left(Moment),
    /// Nothing is written about her up to then.
    NotKnown,
}

impl fmt::Display for Standing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Standing::InTheCan(_) => "Her milk goes into the can.",
            Standing::KeptOut(_) => "Her milk is kept out of the can.",
            Standing::Fresh(_) => "She has calved and her milk has not joined the can.",
            Standing::Dry(_) => "She is dry.",
            Standing::Left(_) => "She has left the herd.",
            Standing::NotKnown => "Nothing is written about where she stands.",
        })
    }
}

/// Where a cow stood at a moment, by what had happened to her. A newcomer is kept out until she joins, and a cow that left
/// stays gone until she arrives again. Of two things in the same minute the one listed later counts.
#[must_use]
pub fn standing(turns: &[(Turn, Moment)], as_of: Moment) -> Standing {
    let mut past: Vec<(Turn, Moment)> = turns.iter().copied().filter(|(_, at)| *at <= as_of).collect();
    past.sort_by_key(|(_, at)| *at);
    past.into_iter().fold(Standing::NotKnown, |before, (turn, at)| match (before, turn) {
        (Standing::Left(_), turn) if turn != Turn::Arrived => before,
        (_, Turn::Arrived | Turn::KeptOut) => Standing::KeptOut(at),
        (_, Turn::Calved) => Standing::Fresh(at),
        (_, Turn::JoinedCan) => Standing::InTheCan(at),
        (_, Turn::DriedOff) => Standing::Dry(at),
        (_, Turn::Left) => Standing::Left(at),
    })
}

/// The day she is due: 283 days after she was served, common practice for dairy breeds.
#[must_use]
pub fn due(served: Day) -> Option<Day> {
    served.checked_add_days(Days::new(283))
}

/// The day to dry her off: 60 days before she is due, common practice.
#[must_use]
pub fn dry_off(due: Day) -> Option<Day> {
    due.checked_sub_days(Days::new(60))
}
