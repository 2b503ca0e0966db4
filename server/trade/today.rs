//! What is wrong and what is due, as one short list in the order in which it matters.
//!
//! A list that nags is not read, so lots with the same trouble share a line, and nothing is on it that cannot be acted on.

pub use super::{
    channels::Channel,
    matters::{About, Matter},
    owners::{HeldCap, Out, Owners, Schedule, WatchedRules, copies_said},
};

use super::{
    balance::Window,
    calendar::Thermometer,
    cows::{Judged, Reason},
    jars::Jars,
    measure::Temperature,
    owners::{lines, out},
    steps::Stage,
    surroundings::{self, Around},
    tested::Tested,
    verdict::{Finding, Verdict, Word},
    when::{Day, Moment, Zone, day_shown, span_shown},
};

/// A lot that still has jars, as far as the list looks at it.
#[derive(Clone, Debug)]
pub struct Standing {
    /// Its code.
    pub code: String,
    /// When it was filled.
    pub filled: Moment,
    /// Jars that ought to be there by the book.
    pub by_the_book: Jars,
    /// Whether it may go out.
    pub verdict: Verdict,
    /// The ways the households are reached by for which it says something worse.
    pub ways: Vec<(Channel, Verdict)>,
    /// Its last day.
    pub best_by: Option<Day>,
}

/// A vessel in use.
#[derive(Clone, Debug)]
pub struct Vessel {
    /// Its name.
    pub name: String,
    /// When milk last went in, by the start of that milking.
    pub poured: Option<Moment>,
    /// When jars were last filled from it.
    pub filled: Option<Moment>,
    /// Whether that fill left milk in it.
    pub milk_left: bool,
    /// Its last clean break.
    pub clean: Option<Moment>,
}

/// A hold that nobody lifted, on anything but a lot in the fridge.
#[derive(Clone, Debug)]
pub struct Held {
    /// What is held.
    pub what: String,
    /// Why.
    pub reason: String,
    /// Since when.
    pub at: Moment,
}

/// A thermometer in use, and the lots in the fridge whose readings with it are weak.
#[derive(Clone, Debug)]
pub struct InUse {
    /// The thermometer, with its last check.
    pub thermometer: Thermometer,
    /// The lots.
    pub weak: Vec<String>,
}

/// Everything the list is made from.
#[derive(Clone, Debug, Default)]
pub struct Facts {
    /// The lots in the fridge.
    pub lots: Vec<Standing>,
    /// Lots whose last counts do not square, with the window.
    pub off: Vec<(String, Window)>,
    /// Holds nobody lifted.
    pub held: Vec<Held>,
    /// Every cow still here, and how she is judged.
    pub cows: Vec<(String, Judged)>,
    /// Cows whose milk went into the can at their last milking although it had to stay out: which milking, and why.
    pub slipped_in: Vec<(String, String, String)>,
    /// The vessels in use.
    pub vessels: Vec<Vessel>,
    /// When anything was last counted.
    pub counted: Option<Moment>,
    /// The thermometers in use.
    pub thermometers: Vec<InUse>,
    /// What the lab found in water and on surfaces.
    pub around: Vec<Around>,
    /// What only the owner sees.
    pub owners: Option<Owners>,
}

/// The list: what is wrong first, then what is due, each in the order in which it matters.
#[must_use]
pub fn list(facts: &Facts, now: Moment, zone: Zone) -> Vec<Matter> {
    let mut matters: Vec<Matter> = facts.owners.iter().flat_map(out).collect();
    matters.extend(held(facts, zone));
    matters.extend(verdicts(facts, zone));
    matters.extend(cows(facts));
    matters.extend(surroundings::matters(&facts.around, zone));
    matters.extend(chill(facts, zone));
    matters.extend(balances(facts, zone));
    matters.extend(count(facts, now, zone));
    matters.extend(facts.vessels.iter().filter_map(|vessel| unclean(vessel, now, zone)));
    matters.extend(best_by(facts, zone.day(now)));
    matters.extend(thermometers(facts, now, zone));
    matters.extend(facts.owners.iter().flat_map(|owners| lines(owners, now, zone)));
    matters.sort_by_key(|matter| !matter.wrong);
    matters
}

/// A chill reading a lot still has to get.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ReadingDue {
    /// The lot's code.
    pub lot: String,
    /// By when; for milk of a later milking, from when.
    pub at: Moment,
    /// What it may show at most.
    pub limit: Temperature,
    /// Whether it shows how warm the milk got when a later milking went in.
    pub blend: bool,
}

impl ReadingDue {
    /// When to read: `by 08:05`, or at once for milk that a later milking went into.
    #[must_use]
    pub fn when(&self, zone: Zone) -> String {
        if self.blend { "as soon as the later milking is in".to_owned() } else { format!("by {}", zone.clock(self.at)) }
    }
}

/// The chill reading that is due first, if one is.
#[must_use]
pub fn first_reading(facts: &Facts) -> Option<ReadingDue> {
    facts.lots.iter().filter_map(reading_due).min_by_key(|due| due.at)
}

fn held(facts: &Facts, zone: Zone) -> Vec<Matter> {
    let line = |hold: &Held| {
        let reason = if hold.reason.is_empty() { "no reason written yet" } else { hold.reason.trim_end_matches('.') };
        let says = if hold.what == "All milk" { "All milk is stopped".to_owned() } else { format!("{} is held", hold.what) };
        Matter::wrong(says, format!("since {}: {reason}", zone.shown(hold.at)), About::Stop)
    };
    facts.held.iter().map(line).collect()
}

/// Lots that may not go out, or that nobody can tell of, and those that only may not go one of the ways the households are
/// reached by; those with the same reason share a line. A stop on all milk is said once, and not again for every lot.
fn verdicts(facts: &Facts, zone: Zone) -> Vec<Matter> {
    let all_stopped = facts.held.iter().any(|hold| hold.what == "All milk");
    let said_already = |finding: &&Finding| all_stopped && matches!(finding, Finding::Held { what, .. } if what == "All milk");
    let mut shared: Vec<(Word, String, String, Vec<String>)> = Vec::new();
    for lot in &facts.lots {
        let ways = lot.ways.iter().map(|(way, verdict)| (format!(" for {way}"), verdict));
        let all = [(String::new(), &lot.verdict)].into_iter().chain(ways);
        for (way, verdict) in all {
            let Some(finding) = verdict.findings.iter().find(|finding| !said_already(finding)) else { continue };
            let (word, reason) = (finding.word(), finding.reason(zone));
            // A lot that waits for its chill or its bottle is due elsewhere; one over a limit waits for the owner.
            let is_waiting = word == Word::Wait && !matches!(finding, Finding::Tested(Tested::Own { .. }));
            if word == Word::CanGo || is_waiting {
                continue;
            }
            match shared.iter_mut().find(|(own, only, why, _)| *own == word && *only == way && *why == reason) {
                Some((.., lots)) => lots.push(lot.code.clone()),
                None => shared.push((word, way, reason, vec![lot.code.clone()])),
            }
        }
    }
    shared.sort_by_key(|(word, ..)| std::cmp::Reverse(*word));
    let line = |(word, way, reason, lots): (Word, String, String, Vec<String>)| {
        let about = match lots.as_slice() {
            [one] => About::Lot(one.clone()),
            _ => About::Lots,
        };
        let what = if lots.len() == 1 { format!("{word}{way}") } else { format!("{word}{way}: {} lots", lots.len()) };
        Matter::wrong(what, reason, about).of(lots)
    };
    shared.into_iter().map(line).collect()
}

fn cows(facts: &Facts) -> Vec<Matter> {
    let slipped = facts.slipped_in.iter().map(|(cow, session, why)| {
        let detail =
            format!("{session}. {why} Hold the whole vessel: mixing never makes it right. If it did not go in, correct the milking.");
        Matter::wrong(format!("{cow}'s milk is written as in the can"), detail, About::Cow(cow.clone()))
    });
    let asks = facts.cows.iter().filter_map(|(cow, judged)| {
        judged.reasons.iter().find_map(|reason| match reason {
            Reason::AskTheVet(why) => Some(Matter::wrong(format!("{cow}: ask the vet"), why.clone(), About::Cow(cow.clone()))),
            Reason::UntilCalving(why) => {
                Some(Matter::wrong(format!("{cow}: write down her calving, or ask the vet"), why.clone(), About::Cow(cow.clone())))
            }
            Reason::NoFreshRule(why) => Some(Matter::wrong(format!("{cow} has just calved"), why.clone(), About::Cow(cow.clone()))),
            _ => None,
        })
    });
    slipped.chain(asks).collect()
}

/// The first reading a lot still has to get. Of two due at the same time the colder answers both.
fn reading_due(lot: &Standing) -> Option<ReadingDue> {
    let chilled =
        lot.verdict.findings.iter().filter_map(|finding| if let Finding::Chill(chilled) = finding { Some(chilled) } else { None });
    let (at, limit, stage) = chilled.flat_map(|chilled| chilled.readings_due()).min_by_key(|(at, limit, _)| (*at, *limit))?;
    Some(ReadingDue { lot: lot.code.clone(), at, limit, blend: stage == Stage::Blend })
}

fn chill(facts: &Facts, zone: Zone) -> Vec<Matter> {
    let mut due: Vec<ReadingDue> = facts.lots.iter().filter_map(reading_due).collect();
    due.sort_by_key(|due| due.at);
    let line = |due: ReadingDue| {
        let detail = if due.blend { format!("it must not be above {}", due.limit) } else { format!("it must show {} or less", due.limit) };
        Matter::due(format!("Chill reading {}", due.when(zone)), detail, About::Chill(due.lot.clone())).of(vec![due.lot])
    };
    due.into_iter().map(line).collect()
}

/// Thermometers in use that were never checked, last showed more than 2 °F too much or too little, or are due again.
fn thermometers(facts: &Facts, now: Moment, zone: Zone) -> Vec<Matter> {
    let line = |own: &InUse| {
        let name = &own.thermometer.name;
        let about = About::IceCheck(name.clone());
        let what = format!("Check {name} in ice water");
        let weak = if own.weak.is_empty() { "" } else { " Readings taken with it are weak." };
        let checked = own.thermometer.last.as_ref();
        let due = match checked {
            None => Matter::due(what, "It is in use, and no check is written down", about),
            Some(check) if !check.is_good() => Matter::due(what, format!("{}{weak}", check.sentence()), about),
            Some(_) if !own.weak.is_empty() => Matter::due(
                format!("Weak readings with {name}"),
                "It was off by more than 2 °F in ice water at a check next to them",
                about,
            ),
            Some(check) if own.thermometer.next(zone).is_some_and(|next| next < zone.day(now)) => {
                Matter::due(what, format!("Last checked {}; every month is common practice", day_shown(zone.day(check.at))), about)
            }
            Some(_) => return None,
        };
        Some(due.of(own.weak.clone()))
    };
    facts.thermometers.iter().filter_map(line).collect()
}

fn balances(facts: &Facts, zone: Zone) -> Vec<Matter> {
    let off = facts.off.iter().map(|(code, window)| {
        let from = if window.from_a_count { zone.shown(window.from) } else { format!("filling, {},", zone.shown(window.from)) };
        let detail = format!("between {from} and {}", zone.shown(window.until));
        Matter::wrong(window.off.to_string(), detail, About::Lot(code.clone())).of(vec![code.clone()])
    });
    let below = facts.lots.iter().filter_map(|lot| {
        let (_, below) = lot.by_the_book.short_and_over();
        let detail = "more are written as gone than were filled";
        (!below.is_none())
            .then(|| Matter::wrong(format!("{below} too many"), detail, About::Lot(lot.code.clone())).of(vec![lot.code.clone()]))
    });
    off.chain(below).collect()
}

/// A count belongs to every evening. Once an evening is over (at nine), a fridge with jars from before it is due a count.
fn count(facts: &Facts, now: Moment, zone: Zone) -> Option<Matter> {
    let today = zone.day(now);
    let (afternoon, evening) = (15 * 60, 21 * 60);
    let tonight = zone.start_of(today).plus_minutes(evening);
    let last = if now >= tonight { today } else { today.pred_opt()? };
    let (from, until) = (zone.start_of(last).plus_minutes(afternoon), zone.start_of(last).plus_minutes(evening));
    let stood_there = facts.lots.iter().any(|lot| lot.filled <= until);
    let missed = facts.counted.is_none_or(|counted| counted < from);
    let says = facts.counted.map_or_else(|| "Nobody has counted yet".to_owned(), |at| format!("Last counted {}", zone.shown(at)));
    (stood_there && missed).then(|| Matter::due("Count the fridge", format!("{says}; not last evening"), About::Count))
}

/// A vessel that was filled from and not cleaned is due; milked into again before that, two fills hang together for good.
fn unclean(vessel: &Vessel, now: Moment, zone: Zone) -> Option<Matter> {
    let filled = vessel.filled.filter(|filled| !vessel.milk_left && vessel.clean.is_none_or(|clean| clean < *filled))?;
    let about = About::Vessel(vessel.name.clone());
    if let Some(poured) = vessel.poured.filter(|poured| *poured > filled) {
        let detail = format!(
            "milked into {}, filled from {} before: no clean break between, so a call-back takes both",
            zone.shown(poured),
            zone.shown(filled)
        );
        return Some(Matter::wrong(format!("{} was not cleaned", vessel.name), detail, about));
    }
    let ago = span_shown(now.minutes_since(filled).max(0));
    Some(Matter::due(format!("Clean break: {}", vessel.name), format!("filled from {ago} ago"), about))
}

/// Days before its last one on which a lot is named.
const SOON: i64 = 2;

fn best_by(facts: &Facts, today: Day) -> Vec<Matter> {
    let soon = facts.lots.iter().filter(|lot| lot.verdict.word() != Word::KeepBack);
    let mut due: Vec<(Day, Matter)> = soon
        .filter_map(|lot| {
            let day = lot.best_by.filter(|day| (0..=SOON).contains(&(*day - today).num_days()))?;
            let what = if day == today { "Last day today".to_owned() } else { format!("Good to {}", day_shown(day)) };
            Some((day, Matter::due(what, format!("{} left", lot.by_the_book), About::Lot(lot.code.clone())).of(vec![lot.code.clone()])))
        })
        .collect();
    due.sort_by_key(|(day, _)| *day);
    due.into_iter().map(|(_, matter)| matter).collect()
}
