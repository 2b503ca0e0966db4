//! Lots made from lots: what there is to ask before milk of several lots is poured together, and what stands on a lid.
//!
//! Pouring lots together ties them for ever: whoever has a jar of what is made is called back with everybody who has a jar
//! of what went in. So it is counted out loud while the milk still stands in its own jars.

use super::{
    channels::Channel,
    jars::Jars,
    rules::CountedFrom,
    trace::{Graph, Lists, LotId, MilkingId, Node},
    verdict::{Facts, RulesOfDay, Word},
    when::{Moment, Zone, day_shown, span_shown},
};
use std::{collections::BTreeSet, fmt};

/// Hours of milk some rules allow together at most: France, arrêté of 13 July 2012, “two successive milkings or 24 hours”.
const A_DAY: i64 = 24 * 60;

/// Whom a call-back reaches.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Reach {
    /// Households that took jars.
    pub families: usize,
    /// Hand-outs to somebody unknown, whom nobody can ring.
    pub walk_ins: usize,
}

impl Reach {
    /// Whom a call-back of these lots together reaches.
    #[must_use]
    pub fn of(graph: &Graph<'_>, lots: &BTreeSet<LotId>) -> Reach {
        let spread = graph.spread(lots);
        Reach { families: spread.people.len(), walk_ins: spread.walk_ins.len() }
    }
}

impl fmt::Display for Reach {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", counted(self.families, "family", "families"))?;
        if self.walk_ins > 0 {
            write!(f, " and {}", counted(self.walk_ins, "unknown walk-in", "unknown walk-ins"))?;
        }
        Ok(())
    }
}

fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// What to ask before lots are poured together: how far a call-back reaches for each alone, and how far for all of them.
/// Nothing when there is only one, which ties nothing that was not tied.
#[must_use]
pub fn ask_tie(alone: &[(String, Reach)], together: Reach) -> Option<String> {
    const WORDS: [&str; 8] = ["two", "three", "four", "five", "six", "seven", "eight", "nine"];
    let (_, first) = alone.first().filter(|_| alone.len() > 1)?;
    let many = WORDS.get(alone.len() - 2).map_or_else(|| alone.len().to_string(), |word| (*word).to_owned());
    let ties = format!("This ties {many} lots: a call-back");
    if together == (Reach { families: 0, walk_ins: 0 }) {
        return Some(format!("This ties {many} lots. Nobody has a jar of them yet; whoever takes one is called back for all of them."));
    }
    if alone.iter().all(|(_, reach)| *reach == together) {
        return Some(format!("{ties} of any of them reaches {together} already, and will reach whoever takes what is made."));
    }
    if alone.iter().all(|(_, reach)| reach == first) {
        // Families alone need naming once; somebody unknown is never left out of the count.
        let to = if together.walk_ins == 0 { together.families.to_string() } else { together.to_string() };
        return Some(format!("{ties} grows from {first} to {to}."));
    }
    let each: Vec<String> = alone.iter().map(|(code, reach)| format!("from {reach} for {code}")).collect();
    Some(format!("{ties} grows to {together}: {}.", each.join(", ")))
}

/// When the oldest and the newest milking in some lots started, as far as any milking is written down for them.
#[must_use]
pub fn milked(lists: &Lists, graph: &Graph<'_>, lots: &BTreeSet<LotId>) -> Option<(Moment, Moment)> {
    let behind = lots.iter().flat_map(|lot| graph.back(Node::Lot(*lot)));
    let milkings: BTreeSet<MilkingId> =
        behind.filter_map(|node| if let Node::Milking(milking) = node { Some(milking) } else { None }).collect();
    let times = || lists.pails.iter().filter(|pail| milkings.contains(&pail.milking)).map(|pail| pail.at);
    Some((times().min()?, times().max()?))
}

/// Says so when milk more than a day apart is poured together.
#[must_use]
pub fn apart(oldest: Moment, newest: Moment) -> Option<String> {
    let minutes = newest.minutes_since(oldest);
    (minutes > A_DAY).then(|| {
        format!(
            "The oldest and the newest milking in it are {} apart. Some rules allow two milkings or 24 h of milk together at most: look at the notes of yours.",
            span_shown(minutes)
        )
    })
}

/// Asks when the jars made hold more than the jars that went in.
#[must_use]
pub fn ask_milk(out: Jars, into: Jars) -> Option<String> {
    (out.in_half_gallons() > into.in_half_gallons())
        .then(|| format!("{out} hold more than the {into} that went in. Count again, or keep it if it is so."))
}

/// Whether a lot is asked about out loud before it is poured into another.
#[must_use]
pub const fn is_loud(word: Word) -> bool {
    matches!(word, Word::KeepBack | Word::CantTell)
}

/// What is written for ever beside jars that went into another lot.
#[must_use]
pub fn marks(into: &str, word: Word, left: Jars, taken: Jars) -> String {
    let said = is_loud(word).then(|| format!("it said {word}"));
    let over = (!left.covers(taken)).then(|| MORE_THAN_THERE.to_owned());
    [Some(format!("into {into}")), said, over].into_iter().flatten().collect::<Vec<_>>().join("; ")
}

/// The mark on jars of which the book had fewer: it happened, so it is kept, and it is no slip of the book.
pub const MORE_THAN_THERE: &str = "more than were on hand";

/// The last days to write on a lid: the ways it goes for, where they differ, and the day or that nobody names one. What is
/// made from other lots is never good for longer than they are.
#[must_use]
pub fn last_days(rules: &RulesOfDay, filled: Moment, oldest: Moment, parents: &[&Facts], zone: Zone) -> Vec<(String, String)> {
    let says = |way: Option<Channel>| {
        let set = rules.asked(way);
        let sooner = parents.iter().filter_map(|parent| Some((parent.last_day(way)?, parent.code.as_str()))).min();
        match (set.last_day(filled, oldest, zone), set.best_by, sooner) {
            (own, _, Some((day, code))) if own.is_none_or(|own| day < own) => format!("{}, the last day of {code}", day_shown(day)),
            (Some(day), Some((days, from)), _) => {
                let from = if from == CountedFrom::Filling { "filling" } else { "the oldest milking" };
                format!("{}, {days} {} from {from}", day_shown(day), if days == 1 { "day" } else { "days" })
            }
            _ => "no rule or choice names a day".to_owned(),
        }
    };
    let mut days: Vec<(String, String)> = Vec::new();
    for way in rules.ways() {
        let said = says(Some(way));
        match days.iter_mut().find(|(_, own)| *own == said) {
            Some((ways, _)) => *ways = format!("{ways}, {way}"),
            None => days.push((way.to_string(), said)),
        }
    }
    match days.len() {
        0 => vec![(String::new(), says(None))],
        1 => days.into_iter().map(|(_, said)| (String::new(), said)).collect(),
        _ => days,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::{
        rules::{Channels, places},
        verdict::Rules,
    };

    fn at(typed: &str) -> Moment {
        Zone::UTC.parse_moment(typed).unwrap()
    }

    /// The rules of a built-in set, as far as a lid needs them.
    fn set(id: &str) -> Rules {
        let set = places().unwrap().into_iter().find(|set| set.id == id).unwrap();
        Rules { best_by: set.best_by.map(|best| (best.days, best.from)), channels: set.channels, ..Rules::default() }
    }

    fn lid(rules: Rules, filled: &str, oldest: &str) -> String {
        let days = last_days(&RulesOfDay { base: rules, beside: vec![], used: vec![] }, at(filled), at(oldest), &[], Zone::UTC);
        assert_eq!(days.len(), 1);
        days[0].1.clone()
    }

    /// Source: Massachusetts, 330 CMR 27, read second-hand: sold within five days of filling.
    #[test]
    fn massachusetts_counts_from_filling() {
        assert_eq!(lid(set("us-ma-retail"), "2026-07-02T07:00", "2026-07-01T18:00"), "Tue 7 Jul 2026, 5 days from filling");
    }

    /// Source: France, arrêté of 13 July 2012 by a prefecture's page, read second-hand: three days from the oldest milking.
    #[test]
    fn france_counts_from_the_oldest_milking() {
        assert_eq!(lid(set("fr-2012-direct"), "2026-07-02T07:00", "2026-07-01T18:00"), "Sat 4 Jul 2026, 3 days from the oldest milking");
    }

    /// Source: New Zealand, Raw Milk for Sale to Consumers notice of 2016, read second-hand: four days from production.
    #[test]
    fn new_zealand_counts_from_production() {
        assert_eq!(lid(set("nz-rcs-2016"), "2026-07-02T07:00", "2026-07-02T06:00"), "Mon 6 Jul 2026, 4 days from the oldest milking");
    }

    #[test]
    fn a_lid_says_each_way_where_they_differ_and_never_makes_a_day_up() {
        let gate = Rules { channels: Channels::parse("farm gate, delivery [chosen]").unwrap(), ..Rules::default() };
        assert_eq!(lid(gate.clone(), "2026-07-02T07:00", "2026-07-02T06:00"), "no rule or choice names a day");
        let share = Rules {
            channels: Channels::parse("herdshare [chosen]").unwrap(),
            best_by: Some((1, CountedFrom::Filling)),
            ..Rules::default()
        };
        let days = last_days(
            &RulesOfDay { base: gate, beside: vec![share], used: vec![] },
            at("2026-07-02T07:00"),
            at("2026-07-02T06:00"),
            &[],
            Zone::UTC,
        );
        let said: Vec<(&str, &str)> = days.iter().map(|(ways, says)| (ways.as_str(), says.as_str())).collect();
        assert_eq!(said, [("herdshare", "Fri 3 Jul 2026, 1 day from filling"), ("farm gate, delivery", "no rule or choice names a day")]);
    }

    fn reach(families: usize, walk_ins: usize) -> Reach {
        Reach { families, walk_ins }
    }

    #[test]
    fn the_tie_is_told_in_one_sentence() {
        let alone = |reaches: &[Reach]| reaches.iter().enumerate().map(|(n, reach)| (format!("L{n}"), *reach)).collect::<Vec<_>>();
        assert_eq!(ask_tie(&alone(&[reach(7, 0)]), reach(7, 0)), None, "one lot is tied to nothing new");
        assert_eq!(
            ask_tie(&alone(&[reach(7, 0); 3]), reach(19, 0)).unwrap(),
            "This ties three lots: a call-back grows from 7 families to 19."
        );
        assert_eq!(
            ask_tie(&alone(&[reach(1, 0), reach(4, 1)]), reach(5, 1)).unwrap(),
            "This ties two lots: a call-back grows to 5 families and 1 unknown walk-in: from 1 family for L0, from 4 families and 1 unknown walk-in for L1."
        );
        assert!(ask_tie(&alone(&[reach(7, 0), reach(7, 0)]), reach(7, 0)).unwrap().contains("reaches 7 families already"));
    }

    /// Source: arrêté of 13 July 2012, France: two successive milkings or 24 hours; equal is allowed.
    #[test]
    fn more_than_a_day_apart_is_said() {
        assert_eq!(apart(at("2026-07-01T06:00"), at("2026-07-02T06:00")), None);
        assert!(apart(at("2026-07-01T06:00"), at("2026-07-02T18:00")).unwrap().contains("36 h apart"));
    }

    #[test]
    fn no_more_comes_out_than_went_in() {
        let quarts = |quarts| Jars { quarts, ..Jars::NONE };
        assert_eq!(ask_milk(quarts(4), Jars::halves(2)), None);
        assert!(ask_milk(quarts(5), Jars::halves(2)).unwrap().contains("5 quarts hold more than the 2 half-gallons"));
        assert_eq!(marks("L1", Word::KeepBack, Jars::halves(1), Jars::halves(2)), "into L1; it said Keep back; more than were on hand");
        assert_eq!(marks("L1", Word::CanGo, Jars::halves(2), Jars::halves(2)), "into L1");
    }
}
