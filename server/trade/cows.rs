//! The hold list: whose milk stays out of the can now, every reason why, and when each of those cows joins.
//!
//! A milker reads it before the first bucket, so it names the worst reason in one sentence and the day in a milker's
//! words. A cow is in the can only when somebody wrote that she joined and nothing known speaks against it.

use super::{
    analytes::Analyte,
    herd::{self, Dose, Foremilk, Fresh, Left, Standing, Turn, Withheld},
    known::{is_cleared, may_never_be},
    lab::LabResult,
    strips::{self, Failing, Score, StripTest},
    verdict::Rules,
    when::{Day, Moment, Zone, day_shown},
};

/// Days after which a calving is beyond every rule known here: 60 milkings at one a day, and some to spare.
pub const FRESH_DAYS: i64 = 70;

/// All that is known of a cow when she is judged.
#[derive(Clone, Debug, Default)]
pub struct Known {
    /// Her name.
    pub name: String,
    /// What happened to her, in the order it was written.
    pub turns: Vec<(Turn, Moment)>,
    /// The doses she was given.
    pub doses: Vec<Dose>,
    /// When she was milked, since her first dose and her last calving at least.
    pub milked: Vec<Moment>,
    /// The last look at her first squirts, and when.
    pub foremilk: Option<(Foremilk, Moment)>,
    /// Why she is held, for each hold on her that nobody has lifted.
    pub held: Vec<String>,
    /// Her strip tests: of each quarter the last one at least.
    pub strips: Vec<StripTest>,
    /// What the lab found in her own bottles.
    pub results: Vec<LabResult>,
}

impl Known {
    fn last(&self, turn: Turn, at: Moment) -> Option<Moment> {
        self.turns.iter().filter(|(own, when)| *own == turn && *when <= at).map(|(_, when)| *when).max()
    }

    /// What her clocks say of the milk of one milking, with these milkings done before it.
    fn clocks(&self, rules: &Rules, milked: &[Moment], at: Moment) -> (Withheld, Option<Fresh>) {
        let calved = self.last(Turn::Calved, at).filter(|calved| at.minutes_since(*calved) < FRESH_DAYS * 24 * 60);
        let fresh = calved.map(|calved| {
            let since: Vec<Moment> = milked.iter().copied().filter(|milked| *milked >= calved).collect();
            herd::colostrum(calved, rules.fresh, &since, at)
        });
        // A cow far into her milk needs no rule to be past her colostrum: 30 days is beyond every rule in days.
        let needs_a_rule = calved.is_some_and(|calved| at.minutes_since(calved) < 30 * 24 * 60);
        let fresh = fresh.filter(|fresh| needs_a_rule || !matches!(fresh, Fresh::NotKnown(_)));
        (herd::withdrawal(&self.doses, &herd::calvings(&self.turns, at), milked, at), fresh)
    }

    /// Why milk of hers written as gone into the can at `at` had no business there, if it had none: a clock that ran, or that
    /// nobody had written that she joined.
    #[must_use]
    pub fn slipped_in(&self, rules: &Rules, at: Moment, zone: Zone) -> Option<Reason> {
        self.reasons(rules, at, zone).into_iter().next()
    }

    /// Every reason her milk stayed out at a moment but those of a hand and of an eye, the weightiest first. A dry cow gives
    /// no milk that a clock could keep out.
    fn reasons(&self, rules: &Rules, at: Moment, zone: Zone) -> Vec<Reason> {
        let standing = herd::standing(&self.turns, at);
        let is_dry = matches!(standing, Standing::Dry(_));
        let (withheld, fresh) = self.clocks(rules, &self.milked, at);
        let mut reasons = self.found(rules, at, zone);
        match withheld {
            Withheld::NotKnown(why) => reasons.push(Reason::AskTheVet(why)),
            Withheld::UntilCalving(_) if !is_dry => reasons.push(Reason::UntilCalving(withheld.to_string())),
            Withheld::Until(left) => reasons.push(Reason::Treated(left)),
            Withheld::UntilCalving(_) | Withheld::Clear(_) => {}
        }
        match fresh {
            _ if is_dry => {}
            Some(Fresh::Colostrum(left)) => reasons.push(Reason::Colostrum(left)),
            Some(Fresh::NotKnown(why)) => reasons.push(Reason::NoFreshRule(why)),
            Some(Fresh::Milk(_)) | None => {}
        }
        let near = herd::due_day(&self.turns, at, zone).and_then(|due| Some((due, rules.fresh.too_near(due, zone.day(at))?)));
        reasons.extend(near.filter(|_| !is_dry).map(|(due, from)| Reason::NearCalving(due, from)));
        reasons.extend(herd::unwell_since(&self.turns, at).map(Reason::Unwell));
        let failing = strips::failing(&self.strips, rules.strip_fails.unwrap_or(Score::USUAL), at, at);
        if !failing.is_empty() && !is_dry {
            reasons.push(Reason::StripTest(failing));
        }
        match standing {
            Standing::KeptOut(at) => reasons.push(Reason::KeptOut(at)),
            Standing::Fresh(at) => reasons.push(Reason::Fresh(at)),
            Standing::Dry(at) => reasons.push(Reason::Dry(at)),
            Standing::NotKnown => reasons.push(Reason::NothingWritten),
            Standing::InTheCan(_) | Standing::Left(_) => {}
        }
        reasons
    }

    /// What was found in a bottle of hers that may never be there, until a later bottle of hers is clear of it.
    fn found(&self, rules: &Rules, at: Moment, zone: Zone) -> Vec<Reason> {
        let known = self.results.iter().filter(|result| result.is_known(zone, at) && result.drawn <= at);
        let known: Vec<LabResult> = known.cloned().collect();
        let open = known.iter().filter(|found| may_never_be(&rules.limits, found) && !is_cleared(&rules.limits, found, &known, at));
        open.map(|result| Reason::Found(result.analyte.clone(), result.day(zone))).collect()
    }

    /// Products given to dry her off of which nobody wrote that they count from the calving, as such labels often do.
    #[must_use]
    pub fn given_dry(&self, at: Moment) -> Vec<&str> {
        let (Some(dried), Some(calved)) = (self.last(Turn::DriedOff, at), self.last(Turn::Calved, at)) else { return Vec::new() };
        let from = dried.plus_hours(-48);
        let mut products: Vec<&str> = self
            .doses
            .iter()
            .filter(|dose| dose.at >= from && dose.at <= calved && !dose.from_calving)
            .map(|dose| dose.product.as_str())
            .collect();
        products.dedup();
        products
    }
}

/// Why a cow's milk stays out, from the reason that weighs most.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Reason {
    /// Somebody stopped her milk, and it was not lifted.
    Held(String),
    /// Something that may never be there was found in her own bottle, drawn that day.
    Found(Analyte, Day),
    /// Only the vet can say how long: what is missing.
    AskTheVet(String),
    /// A time counts from her calving, and none is written.
    UntilCalving(String),
    /// The time after a treatment is running.
    Treated(Left),
    /// The time after calving is running.
    Colostrum(Left),
    /// Nothing says how long milk stays out after calving.
    NoFreshRule(String),
    /// Too near the day she is due, and since which day.
    NearCalving(Day, Day),
    /// Not well, since then.
    Unwell(Moment),
    /// Quarters whose last strip test failed.
    StripTest(Vec<Failing>),
    /// Her first squirts, when somebody last looked.
    Foremilk(Foremilk, Moment),
    /// Kept out by hand, since then.
    KeptOut(Moment),
    /// Calved, and nobody wrote that she joined.
    Fresh(Moment),
    /// Dry.
    Dry(Moment),
    /// Nothing is written about where she stands.
    NothingWritten,
}

impl Reason {
    /// Whether she may not be joined to the can while it lasts.
    #[must_use]
    pub const fn bars_joining(&self) -> bool {
        !matches!(self, Reason::Foremilk(..) | Reason::KeptOut(_) | Reason::Fresh(_) | Reason::Dry(_) | Reason::NothingWritten)
    }

    /// The reason in one or two words, for a mark beside her name.
    #[must_use]
    pub const fn short(&self) -> &'static str {
        match self {
            Reason::Held(_) => "held",
            Reason::AskTheVet(_) => "ask the vet",
            Reason::Treated(_) | Reason::UntilCalving(_) => "treated",
            Reason::Found(..) => "lab",
            Reason::NearCalving(..) => "near calving",
            Reason::Unwell(_) => "unwell",
            Reason::StripTest(_) => "strip test",
            Reason::Colostrum(_) | Reason::NoFreshRule(_) | Reason::Fresh(_) => "fresh",
            Reason::Foremilk(..) => "foremilk",
            Reason::KeptOut(_) | Reason::NothingWritten => "kept out",
            Reason::Dry(_) => "dry",
        }
    }

    /// The reason in one sentence.
    #[must_use]
    pub fn sentence(&self, zone: Zone) -> String {
        match self {
            Reason::Held(why) if why.is_empty() => "Her milk was stopped by hand.".to_owned(),
            Reason::Held(why) => format!("Her milk was stopped by hand: {}.", why.trim_end_matches('.')),
            Reason::Found(analyte, drawn) => format!("{} in her bottle drawn {}.", analyte.was_found(), day_shown(*drawn)),
            Reason::AskTheVet(why) | Reason::UntilCalving(why) | Reason::NoFreshRule(why) => why.clone(),
            Reason::NearCalving(due, from) => {
                format!("She is due {}, and her milk is kept back from {}.", day_shown(*due), day_shown(*from))
            }
            Reason::Unwell(at) => format!("She is not well, since {}.", zone.shown(*at)),
            Reason::StripTest(failing) => {
                let last = failing.iter().map(|own| own.at).max().map_or_else(String::new, |at| format!(" ({})", zone.shown(at)));
                format!("Her last strip test failed: {}{last}.", strips::listed(failing))
            }
            Reason::Treated(left) => Withheld::Until(*left).to_string(),
            Reason::Colostrum(left) => Fresh::Colostrum(*left).to_string(),
            Reason::Foremilk(look, at) => {
                format!("{} ({})", look.reason().unwrap_or_default().trim_end_matches('.'), zone.shown(*at)) + "."
            }
            Reason::KeptOut(at) => format!("Her milk is kept out of the can, since {}.", zone.shown(*at)),
            Reason::Fresh(at) => format!("She calved {}, and nobody has written that she joined the can.", zone.shown(*at)),
            Reason::Dry(at) => format!("She is dry, since {}.", zone.shown(*at)),
            Reason::NothingWritten => Standing::NotKnown.to_string(),
        }
    }
}

/// Where a cow stands at a moment, and every reason her milk stays out.
#[derive(Clone, Debug)]
pub struct Judged {
    /// Where she stands in the herd.
    pub standing: Standing,
    /// Why her milk stays out, the weightiest first; none means that it goes into the can.
    pub reasons: Vec<Reason>,
    /// The first coming milking that no clock keeps out; nothing while a clock's length is not known.
    pub clear: Option<Moment>,
    /// What the clock of her treatments says.
    pub withheld: Withheld,
    /// What the clock of her calving says, while it matters.
    pub fresh: Option<Fresh>,
    /// The day she is due, if she was served or is in calf.
    pub due: Option<Day>,
}

impl Judged {
    /// Whether her milk goes into the can now.
    #[must_use]
    pub const fn in_the_can(&self) -> bool {
        self.reasons.is_empty() && !self.has_left()
    }

    /// Whether she joined the can and something keeps her milk out of it for now.
    #[must_use]
    pub const fn is_out_for_now(&self) -> bool {
        matches!(self.standing, Standing::InTheCan(_)) && !self.reasons.is_empty()
    }

    /// Whether somebody has to write that she joins before her milk goes into the can again.
    #[must_use]
    pub fn has_to_be_joined(&self) -> bool {
        let by_hand =
            |reason: &Reason| matches!(reason, Reason::KeptOut(_) | Reason::Fresh(_) | Reason::NothingWritten | Reason::Foremilk(..));
        !self.has_left() && !self.is_dry() && self.reasons.iter().any(by_hand)
    }

    /// Whether nothing speaks against joining her now.
    #[must_use]
    pub fn may_be_joined(&self) -> bool {
        self.has_to_be_joined() && !self.reasons.iter().any(Reason::bars_joining)
    }

    /// Whether she has left the herd.
    #[must_use]
    pub const fn has_left(&self) -> bool {
        matches!(self.standing, Standing::Left(_))
    }

    /// The mark beside her name.
    #[must_use]
    pub fn short(&self) -> &'static str {
        match self.reasons.first() {
            _ if self.has_left() => "left",
            None => "in the can",
            Some(_) if self.is_dry() && !self.reasons.iter().any(|reason| matches!(reason, Reason::Held(_))) => "dry",
            Some(reason) => reason.short(),
        }
    }

    /// Whether she is dry.
    #[must_use]
    pub const fn is_dry(&self) -> bool {
        matches!(self.standing, Standing::Dry(_))
    }

    /// When she joins, as a milker says it; empty for a cow in the can and for a dry one.
    #[must_use]
    pub fn joins(&self, cow: &str, now: Moment, zone: Zone) -> String {
        let has = |wanted: fn(&Reason) -> bool| self.reasons.iter().any(wanted);
        let clock_runs = has(|reason| matches!(reason, Reason::Treated(_) | Reason::Colostrum(_)));
        // She joins by herself only when nothing else has to happen first.
        let until = |what: &str, not_before: &str| format!("{cow} stays out until {what}{not_before}.");
        let not_before = match self.clear.filter(|_| clock_runs) {
            Some(first) => format!(", and not before {}", zone.milking_words(first)),
            None => String::new(),
        };
        if self.in_the_can() || self.is_dry() || self.has_left() {
            String::new()
        } else if has(|reason| matches!(reason, Reason::AskTheVet(_) | Reason::NoFreshRule(_))) {
            herd::joins(cow, None, now, zone)
        } else if has(|reason| matches!(reason, Reason::Held(_))) {
            until("the owner lifts the hold with a reason", &not_before)
        } else if has(|reason| matches!(reason, Reason::Found(..))) {
            until("a later bottle of hers is clear of it", &not_before)
        } else if has(|reason| matches!(reason, Reason::UntilCalving(_) | Reason::NearCalving(..))) {
            until("she has calved and the time after it is over", "")
        } else if has(|reason| matches!(reason, Reason::Unwell(_))) {
            until("somebody writes that she is well again", &not_before)
        } else if has(|reason| matches!(reason, Reason::StripTest(_))) {
            until("a strip test of that quarter passes", &not_before)
        } else if has(|reason| matches!(reason, Reason::Foremilk(..))) {
            until("her first squirts look as they should", &not_before)
        } else if has(|reason| matches!(reason, Reason::KeptOut(_) | Reason::NothingWritten)) {
            until("somebody writes that she joins", &not_before)
        } else if clock_runs {
            herd::joins(cow, self.clear, now, zone)
        } else {
            format!("Her time after calving is over: {cow} joins as soon as somebody writes it down.")
        }
    }
}

/// Judges whether a cow's milk goes into the can at `now`, and when it may if not. `usual` are the times of day she is milked.
#[must_use]
pub fn judge(cow: &Known, rules: &Rules, usual: &[u32], now: Moment, zone: Zone) -> Judged {
    let standing = herd::standing(&cow.turns, now);
    let (withheld, fresh) = cow.clocks(rules, &cow.milked, now);
    let mut reasons: Vec<Reason> = cow.held.iter().cloned().map(Reason::Held).collect();
    reasons.extend(cow.reasons(rules, now, zone));
    if let Some((look, at)) = cow.foremilk.filter(|(look, _)| !matches!(look, Foremilk::Normal | Foremilk::NotLooked))
        && cow.last(Turn::JoinedCan, now).is_none_or(|joined| joined < at)
    {
        // What a hand decided, and what is only said of a dry cow, weighs less than what was seen.
        let place = reasons.iter().position(|reason| !reason.bars_joining()).unwrap_or(reasons.len());
        reasons.insert(place, Reason::Foremilk(look, at));
    }
    Judged {
        standing,
        reasons,
        clear: first_clear(cow, rules, usual, now, zone),
        withheld,
        fresh,
        due: herd::due_day(&cow.turns, now, zone),
    }
}

/// Judges a whole herd at `now`. A cow with no milkings of her own lately is foreseen at the times the others are milked.
#[must_use]
pub fn judge_all(cows: &[&Known], rules: &Rules, now: Moment, zone: Zone) -> Vec<Judged> {
    let all: Vec<Moment> = cows.iter().flat_map(|cow| cow.milked.iter().copied()).collect();
    let herds = usual_times(&all, now, zone);
    let lately = |cow: &Known| cow.milked.iter().any(|at| now.minutes_since(*at) < 14 * 24 * 60);
    let usual = |cow: &Known| if lately(cow) { usual_times(&cow.milked, now, zone) } else { herds.clone() };
    cows.iter().map(|cow| judge(cow, rules, &usual(cow), now, zone)).collect()
}

fn first_clear(cow: &Known, rules: &Rules, usual: &[u32], now: Moment, zone: Zone) -> Option<Moment> {
    // Twice the longest time a treatment's form takes: 2,000 hours are 167 milkings.
    let coming = herd::coming_milkings(zone, usual, now, 360);
    let mut milked = cow.milked.clone();
    for next in coming {
        match cow.clocks(rules, &milked, next) {
            (Withheld::Clear(_), None | Some(Fresh::Milk(_))) => return Some(next),
            (Withheld::NotKnown(_) | Withheld::UntilCalving(_), _) | (_, Some(Fresh::NotKnown(_))) => return None,
            _ => milked.push(next),
        }
    }
    None
}

/// The times of day somebody is milked, in minutes after midnight, by the milkings of the last 14 days: the middle one of the
/// mornings and the middle one of the evenings. Six and six o'clock, common practice, when nothing is written.
#[must_use]
pub fn usual_times(milked: &[Moment], now: Moment, zone: Zone) -> Vec<u32> {
    let since = now.plus_hours(-14 * 24);
    let mut times: Vec<u32> = milked.iter().filter(|at| **at > since && **at <= now).map(|at| zone.minutes(*at)).collect();
    times.sort_unstable();
    let (mornings, evenings) = times.split_at(times.partition_point(|minutes| *minutes < 12 * 60));
    // A single odd milking in two weeks is not a usual one.
    let usual = |half: &[u32], other: &[u32]| (half.len() * 4 > other.len()).then(|| half.get(half.len() / 2).copied()).flatten();
    let found: Vec<u32> = [usual(mornings, evenings), usual(evenings, mornings)].into_iter().flatten().collect();
    if found.is_empty() { vec![6 * 60, 18 * 60] } else { found }
}
