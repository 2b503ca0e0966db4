//! Weeks in which the farm had nothing for a household, and what is owed for them.
//!
//! What is done about such a week is the owner's policy: nothing, jars later, or a part of the boarding back. A household's own
//! pause is no week the farm missed.

use super::{
    channels::Channel,
    parts::Hundredths,
    promises::{Pause, Share},
    terms::{Terms, terms_on},
    wear::Span,
    when::Day,
};
use chrono::{Datelike, Weekday};
use std::collections::{BTreeSet, HashMap};

/// What the terms say where a missed week is made up in jars.
pub const IN_JARS: &str = "evened up in jars";

/// What decides whether the farm had nothing for a household on a day.
#[derive(Clone, Debug, Default)]
pub struct Weeks<'a> {
    /// Every pause.
    pub pauses: &'a [Pause],
    /// Days on which a household was promised jars and its portion was none: person and day.
    pub empty: &'a [(i64, Day)],
}

impl Weeks<'_> {
    /// Pickup days of a household in a month, and those that count on which the farm had nothing for it. Its own pause is not one.
    #[must_use]
    pub fn missed(&self, (person, weekdays): (i64, &[Weekly]), shares: &[Share], counts: &dyn Fn(Day) -> bool) -> (i64, i64) {
        let theirs = theirs(person, weekdays, shares);
        let mut missed = self.closed(person, &theirs);
        missed.extend(self.empty.iter().filter(|(own, day)| *own == person && is_of(weekdays, *day)).map(|(_, day)| *day));
        missed.retain(|day| counts(*day));
        let (count, of) = (i64::try_from(missed.len()).unwrap_or(0), i64::try_from(theirs.len()).unwrap_or(0));
        (count.min(of), of)
    }

    /// The days of these on which the farm gave nothing to anybody and moved the pickup to no other day. Moved to a day that is
    /// theirs anyway, it was moved to none: they come once on it, for that day's milk.
    fn closed(&self, person: i64, theirs: &[Day]) -> BTreeSet<Day> {
        let away = |day: Day| self.pauses.iter().any(|pause| pause.person == Some(person) && pause.stops(person, day));
        let closed = |day: Day| {
            let lost = |pause: &Pause| pause.moved_to.is_none_or(|moved| moved.weekday() == day.weekday());
            self.pauses.iter().any(|pause| pause.person.is_none() && lost(pause) && pause.stops(person, day))
        };
        theirs.iter().copied().filter(|day| closed(*day) && !away(*day)).collect()
    }

    /// What a household is still owed for the days the farm missed, where its terms even them up in jars: all that was promised
    /// on a day without a pickup, and what its portion was short of on a day it got nothing. A day that is both is owed once, and
    /// only a share has terms.
    #[must_use]
    pub fn owed_in_jars(
        &self,
        (person, weekdays): (i64, &[Weekly]),
        shares: &[Share],
        terms: &[Terms],
        short: &[(Day, Hundredths)],
    ) -> Hundredths {
        let in_jars = |day: &Day| policy(person, shares, terms, *day) == IN_JARS;
        let promised = |day: &Day| held(person, shares, *day).map(Share::promised).sum::<Hundredths>();
        let closed = self.closed(person, &theirs(person, weekdays, shares));
        let was_packed = |day: &Day| short.iter().any(|(own, _)| own == day);
        let closed = closed.iter().filter(|day| in_jars(day) && !was_packed(day)).map(promised);
        closed.chain(short.iter().filter(|(day, _)| is_of(weekdays, *day) && in_jars(day)).map(|(_, missing)| *missing)).sum()
    }
}

/// How the terms make up a week the farm misses for a household; nothing is said for whoever holds no share on that day.
#[must_use]
pub fn policy<'a>(person: i64, shares: &[Share], terms: &'a [Terms], day: Day) -> &'a str {
    let has_share = held(person, shares, day).next().is_some();
    terms_on(terms, Channel::Herdshare, day).filter(|_| has_share).map_or("", |terms| terms.missed.as_str())
}

/// The shares of the herd a household holds on a day.
fn held(person: i64, shares: &[Share], day: Day) -> impl Iterator<Item = &Share> {
    of_the_herd(person, shares).filter(move |own| own.holds(day))
}

/// The shares of the herd a household holds or held.
fn of_the_herd(person: i64, shares: &[Share]) -> impl Iterator<Item = &Share> {
    shares.iter().filter(move |own| own.person == person && own.way == Channel::Herdshare)
}

/// The weekdays households came on before the one they have now, by their number: each with the day on which it was changed.
#[derive(Clone, Debug, Default)]
pub struct Before(pub HashMap<i64, Vec<(Day, String)>>);

impl Before {
    /// A span by the weekday a household came on, which now is this one.
    #[must_use]
    pub fn in_span<'a>(&'a self, person: i64, now: &'a str, span: Span) -> Vec<Weekly<'a>> {
        by_weekday(self.0.get(&person).map_or(&[][..], Vec::as_slice), now, span)
    }
}

/// A weekday somebody comes on, and from when to when they do.
pub type Weekly<'a> = (&'a str, Span);

/// Whether a day is one of those looked at.
fn is_of(weekdays: &[Weekly], day: Day) -> bool {
    weekdays.iter().any(|(_, span)| span.has(day))
}

/// A span by the weekday a household came on: those of before, each with the day on which it was changed, and the present one.
/// Another weekday neither makes nor forgives a missed week.
fn by_weekday<'a>(before: &'a [(Day, String)], now: &'a str, span: Span) -> Vec<Weekly<'a>> {
    let (mut parts, mut from) = (Vec::new(), span.from);
    for (changed, weekday) in before {
        let Some(last) = changed.pred_opt().map(|last| last.min(span.to)).filter(|last| *last >= from) else { continue };
        parts.push((weekday.as_str(), Span { from, to: last }));
        from = *changed;
    }
    if from <= span.to {
        parts.push((now, Span { from, to: span.to }));
    }
    parts
}

/// The pickup days of a household on which it held a share: every seventh day from the first of its weekday on.
fn theirs(person: i64, weekdays: &[Weekly], shares: &[Share]) -> Vec<Day> {
    let own: Vec<&Share> = of_the_herd(person, shares).collect();
    let comes_on = |(weekday, span): &Weekly| {
        let (weekday, last) = (weekday.parse::<Weekday>().ok()?, span.to);
        Some(span.from.iter_days().skip_while(move |day| day.weekday() != weekday).step_by(7).take_while(move |day| *day <= last))
    };
    let days = weekdays.iter().filter_map(comes_on).flatten();
    days.filter(|day| own.iter().any(|share| share.holds(*day))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::{money::Money, parts::Part, when::parse_day};

    fn day(typed: &str) -> Day {
        parse_day(typed).unwrap()
    }

    fn share() -> Share {
        Share {
            number: 1,
            person: 1,
            share: "S01".to_owned(),
            part: Part::whole(),
            half_gallons: 3,
            way: Channel::Herdshare,
            since: day("2025-01-01"),
            until: None,
            place: None,
        }
    }

    fn pause(person: Option<i64>, on: &str, moved: Option<&str>) -> Pause {
        Pause { person, since: day(on), until: day(on), moved_to: moved.map(day) }
    }

    #[test]
    fn a_week_the_farm_missed_is_not_their_own_pause() {
        let shares = [share()];
        let month = Span { from: day("2026-11-01"), to: day("2026-11-30") };
        let missed =
            |pauses: &[Pause], empty: &[(i64, Day)]| Weeks { pauses, empty }.missed((1, &[("Thursday", month)]), &shares, &|_| true);
        assert_eq!(missed(&[], &[]), (0, 4));
        assert_eq!(missed(&[pause(None, "2026-11-26", None)], &[]), (1, 4));
        assert_eq!(missed(&[pause(None, "2026-11-26", Some("2026-11-25"))], &[]), (0, 4), "it was moved");
        assert_eq!(missed(&[pause(None, "2026-11-19", Some("2026-11-26"))], &[]), (1, 4), "it was moved to their own next Thursday");
        assert_eq!(missed(&[pause(Some(1), "2026-11-26", None)], &[]), (0, 4), "they stayed away");
        assert_eq!(missed(&[pause(None, "2026-11-26", None)], &[(1, day("2026-11-26")), (1, day("2026-11-05"))]), (2, 4));
        assert_eq!(missed(&[], &[(2, day("2026-11-05"))]), (0, 4), "that was somebody else's");
    }

    #[test]
    fn a_span_is_told_by_the_weekday_of_its_days() {
        let span = |from, to| Span { from: day(from), to: day(to) };
        let month = span("2026-11-01", "2026-11-30");
        let before = [(day("2026-11-10"), "Thursday".to_owned()), (day("2026-11-20"), "Friday".to_owned())];
        let told = [
            ("Thursday", span("2026-11-01", "2026-11-09")),
            ("Friday", span("2026-11-10", "2026-11-19")),
            ("Saturday", span("2026-11-20", "2026-11-30")),
        ];
        assert_eq!(by_weekday(&before, "Saturday", month), told);
        assert_eq!(by_weekday(&[(day("2026-12-09"), "Thursday".to_owned())], "Friday", month), [("Thursday", month)]);
        assert_eq!(by_weekday(&[(day("2026-10-09"), "Thursday".to_owned())], "Friday", month), [("Friday", month)]);
    }

    #[test]
    fn a_missed_week_is_owed_in_jars_where_the_terms_say_so() {
        let terms = |missed: &str| Terms {
            way: Channel::Herdshare,
            since: day("2025-01-01"),
            share_cost: None,
            boarding: Some(Money::cents(4000)),
            jar: None,
            deposit: None,
            missed: missed.to_owned(),
        };
        let month = Span { from: day("2026-11-01"), to: day("2026-11-30") };
        let pauses = [pause(None, "2026-11-26", None), pause(Some(1), "2026-11-05", None)];
        let weeks = Weeks { pauses: &pauses, empty: &[] };
        let (short, thursdays) = ([(day("2026-11-12"), Hundredths::new(250))], [("Thursday", month)]);
        let owed = |missed: &str| weeks.owed_in_jars((1, &thursdays), &[share()], &[terms(missed)], &short);
        assert_eq!(owed(IN_JARS), Hundredths::new(550), "three for the day without a pickup, and what was short of the other");
        // Packed with nothing in the crate, and then written down as a day nobody came: it is one day.
        let both = [(day("2026-11-26"), Hundredths::jars(3))];
        assert_eq!(weeks.owed_in_jars((1, &thursdays), &[share()], &[terms(IN_JARS)], &both), Hundredths::jars(3));
        let gate = Share { way: Channel::FarmGate, ..share() };
        let at_the_gate = weeks.owed_in_jars((1, &thursdays), &[gate], &[terms(IN_JARS)], &short);
        assert_eq!(at_the_gate, Hundredths::ZERO, "no terms of a share are theirs");
        assert_eq!(owed("none"), Hundredths::ZERO);
        assert_eq!(owed("boarding adjustment"), Hundredths::ZERO);
    }
}
