//! What one cow's milk brings into a lot: her treatments, her calving, her strip tests, and whether she was well.
//!
//! Each thing is asked as it stood at that milking. What speaks for her milk must have been known when it was poured; what
//! speaks against it counts up to the end of that milking, and for five hours where nobody wrote when it ended.

use super::{
    chill::MilkingTimes,
    findings::Finding,
    herd::{self, ColostrumRule, Dose, Foremilk, Standing, Turn, Withheld},
    known::{Known, is_clear},
    lab::{LabResult, Of},
    limits::Limits,
    strips::{self, Score, StripTest},
    when::{Day, Moment, Zone},
};

/// Beyond so many days after calving no rule that can be written here keeps milk out: 60 milkings once a day, and a margin.
pub const LONGEST_FRESH_DAYS: i64 = 70;

/// Hours a milking may have taken when nobody wrote its end; a longer one is asked about when it is written down.
pub const LONGEST_MILKING_HOURS: i64 = 5;

/// One cow's milk in one milking of the lot.
#[derive(Clone, Debug, Default)]
pub struct CowsPart {
    /// Her name.
    pub cow: String,
    /// What her first squirts looked like.
    pub foremilk: Foremilk,
    /// Every dose she was given up to the longest this milking can have taken.
    pub doses: Vec<Dose>,
    /// When she was milked, up to and including this milking.
    pub milked: Vec<Moment>,
    /// What happened to her up to the longest this milking can have taken, in the order it was written.
    pub turns: Vec<(Turn, Moment)>,
    /// Her strip tests up to then.
    pub strips: Vec<StripTest>,
}

/// The milking she was part of, and what her milk is held against.
#[derive(Clone, Copy, Debug)]
pub struct Asked<'a> {
    /// The milking's day and session.
    pub session: &'a str,
    /// When it began and ended.
    pub times: MilkingTimes,
    /// The days and milkings around calving.
    pub fresh: ColostrumRule,
    /// The score of a strip test that keeps milk out.
    pub strip_fails: Score,
    /// The limits of what the lab finds.
    pub limits: &'a Limits,
    /// What is known from the lab.
    pub lab: &'a Known,
    /// The farm's clock.
    pub zone: Zone,
    /// When it is asked.
    pub now: Moment,
}

impl Asked<'_> {
    fn known_by(&self) -> Moment {
        self.times.end.unwrap_or(self.times.start)
    }

    fn over_by(&self) -> Moment {
        self.times.end.unwrap_or_else(|| self.times.start.plus_hours(LONGEST_MILKING_HOURS))
    }
}

/// Everything found about one cow's milk in one milking.
#[must_use]
pub fn judge(part: &CowsPart, asked: &Asked) -> Vec<Finding> {
    let (cow, session, at) = (part.cow.clone(), asked.session.to_owned(), asked.times.start);
    let mut findings = vec![Finding::Foremilk { cow: cow.clone(), session: session.clone(), seen: part.foremilk }];
    findings.extend(treated(part, asked));
    let during = part.doses.iter().map(|dose| dose.at).filter(|dosed| *dosed > at && *dosed <= asked.over_by()).min();
    findings.extend(during.map(|at| Finding::TreatedDuring { cow: cow.clone(), session: session.clone(), at }));
    // A cow that calved while milking went on gives no milk that goes into the can; nobody milks her into it before.
    let calved = herd::calvings(&part.turns, asked.over_by()).into_iter().max();
    if let Some(calved) = calved.filter(|calved| at.minutes_since(*calved) < LONGEST_FRESH_DAYS * 24 * 60) {
        let since: Vec<Moment> = part.milked.iter().copied().filter(|milked| *milked >= calved).collect();
        let fresh = herd::colostrum(calved, asked.fresh, &since, at.max(calved));
        findings.push(Finding::JustCalved { cow: cow.clone(), session: session.clone(), calved, fresh });
    }
    let due = herd::due_day(&part.turns, at, asked.zone);
    if let Some((due, from)) = due.and_then(|due| Some((due, asked.fresh.too_near(due, asked.zone.day(at))?))) {
        findings.push(Finding::NearCalving { cow: cow.clone(), session: session.clone(), due, from });
    }
    let failing = strips::failing(&part.strips, asked.strip_fails, asked.known_by(), asked.over_by());
    if !failing.is_empty() {
        findings.push(Finding::StripTest { cow: cow.clone(), session: session.clone(), failing });
    }
    if let Some(since) = unwell_since(part, asked) {
        findings.push(Finding::CowUnwell { cow: cow.clone(), session: session.clone(), since });
    }
    // A cow nobody wrote anything about is judged by her clocks alone; one kept out by hand, or dry, had no business there.
    if let Standing::KeptOut(since) | Standing::Dry(since) = herd::standing(&part.turns, asked.known_by()) {
        findings.push(Finding::KeptOut { cow, session, since });
    }
    findings
}

/// A clear test lifts a running time where the rule says so. What only the vet can answer stays with the vet: a test finds
/// what it was made for, and nobody knows whether that is what she was given.
fn treated(part: &CowsPart, asked: &Asked) -> Option<Finding> {
    let (cow, session, at) = (part.cow.clone(), asked.session.to_owned(), asked.times.start);
    let doses: Vec<Dose> = part.doses.iter().filter(|dose| dose.at <= at).cloned().collect();
    if doses.is_empty() {
        return None;
    }
    let withheld = herd::withdrawal(&doses, &herd::calvings(&part.turns, at), &part.milked, at);
    Some(match (&withheld, clear_of_drugs(part, asked)) {
        (Withheld::Until(left), Some((in_what, drawn))) => Finding::ClearOfDrugs { cow, session, left: *left, in_what, drawn },
        _ => Finding::Treated { cow, session, withheld },
    })
}

/// The bottle that lifts a keep-back for a drug by the rule's own word: the lot's, or hers when it was drawn after her last
/// dose and no later than this milking.
fn clear_of_drugs(part: &CowsPart, asked: &Asked) -> Option<(String, Day)> {
    let limit = asked.limits.0.iter().find(|limit| limit.lifts && limit.analyte.is_drug())?;
    let last_dose = part.doses.iter().map(|dose| dose.at).max()?;
    // A test for one kind of drug lifts nothing: nobody knows here which kind she was given.
    let about = |result: &&LabResult| result.analyte.answers(&limit.analyte) && result.is_known(asked.zone, asked.now);
    let clear = |result: &LabResult| is_clear(asked.limits, result);
    // A bottle drawn before there was milk of this milking is of something else.
    let own: Vec<&LabResult> = asked.lab.own.iter().filter(about).filter(|result| result.drawn >= asked.times.start).collect();
    if own.iter().all(|result| clear(result))
        && let Some(clear) = own.last()
    {
        return Some(("this lot".to_owned(), clear.day(asked.zone)));
    }
    let hers = asked.lab.cows.iter().filter(about).filter(|result| matches!(&result.of, Of::Cow(name) if *name == part.cow));
    let last = hers
        .filter(|result| result.drawn > last_dose && result.drawn <= asked.known_by())
        .max_by_key(|result| (result.drawn, !clear(result)))?;
    clear(last).then(|| (part.cow.clone(), last.day(asked.zone)))
}

fn unwell_since(part: &CowsPart, asked: &Asked) -> Option<Moment> {
    let counts = |(turn, at): &&(Turn, Moment)| *at <= if *turn == Turn::Unwell { asked.over_by() } else { asked.known_by() };
    let turns: Vec<(Turn, Moment)> = part.turns.iter().filter(counts).copied().collect();
    herd::unwell_since(&turns, asked.over_by())
}
