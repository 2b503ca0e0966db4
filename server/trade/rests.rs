//! What a verdict rests on, part by part: the rule, where it stands and how sure it is, and every fact behind it. The lot's
//! page opens each part to its facts and the lot's paper prints the same words, so neither can say more than the other.

use super::{
    channels::Channel,
    chill::Chilled,
    findings::{Finding, Word},
    herd::{self, Dose},
    known::{Bottle, may_never_be},
    lab::LabResult,
    limits::Limit,
    rules::{Channels, CountedFrom, Sure},
    strips::Score,
    tested::Tested,
    verdict::{CowsPart, Facts, Judging, Milking, Rules, Verdict},
    when::{Moment, Zone, day_shown, span_shown},
};
use std::collections::HashMap;

/// One part of a verdict with all that is behind it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Rest {
    /// What it is about.
    pub about: &'static str,
    /// What it says of the lot.
    pub word: Word,
    /// Why, in a sentence.
    pub reason: String,
    /// The rule it was held against; empty where no rule names anything.
    pub rule: String,
    /// How sure the rule is; empty where there is none.
    pub sure: String,
    /// Where the rule stands.
    pub source: String,
    /// Whether it says so only because the owner decided it.
    pub decided: bool,
    /// The facts behind it, a sentence each.
    pub facts: Vec<String>,
}

impl Rest {
    /// The facts a paper prints: where all is well only what a lab wrote, and never a sentence twice. The page opens to all.
    pub fn worth_printing(&self) -> impl Iterator<Item = &str> {
        let all = self.word != Word::CanGo || self.decided || matches!(self.about, "Test" | "Chill");
        // The paper says the decision above all parts, so here only what it was about follows.
        let said = if self.decided { 2 } else { 0 };
        self.facts.iter().skip(said).filter(move |fact| all && !fact.contains(self.reason.as_str())).map(String::as_str)
    }
}

/// The lab's own text of some results, by the number of the result.
pub type Wrote = HashMap<i64, String>;

/// Every part of a verdict, the worst first. Cows about whom there is nothing to say share one part.
#[must_use]
pub fn rests(facts: &Facts, verdict: &Verdict, rules: &Rules, wrote: &Wrote) -> Vec<Rest> {
    let mut all: Vec<Rest> = Vec::new();
    for finding in &verdict.findings {
        let own = rest(finding, facts, rules, wrote);
        let together = fine(finding).and_then(|_| all.iter_mut().find(|other| other.about == own.about && other.word == Word::CanGo));
        let is_alone = verdict.findings.iter().all(|other| other.about() != own.about || other.word() == Word::CanGo);
        match (together, fine(finding)) {
            (Some(other), Some(_)) => other.facts.extend(own.facts),
            (None, Some(says)) => {
                let reason = if is_alone { says } else { "Nothing of this speaks against the other cows." };
                all.push(Rest { reason: reason.to_owned(), ..own });
            }
            (_, None) => all.push(own),
        }
    }
    for own in &mut all {
        own.facts.dedup();
    }
    all
}

/// What a cow's part says when it is one of those where all is well.
fn fine(finding: &Finding) -> Option<&'static str> {
    match finding {
        _ if finding.word() != Word::CanGo => None,
        Finding::Foremilk { .. } => Some("Every cow's first squirts were as they should be."),
        Finding::Treated { .. } => Some("No treatment's time was running."),
        Finding::JustCalved { .. } => Some("Every cow was past the days after her calving."),
        _ => None,
    }
}

/// Of each cow and test the last bottle before the lot was filled and the first one after, and whatever was found that may
/// never be there: the rest of her year is in her own papers.
pub fn of_its_cows(facts: &Facts) -> impl Iterator<Item = &LabResult> {
    let (all, filled) = (&facts.lab.cows, facts.filled);
    let nearer = move |one: Moment, other: Moment| {
        if one <= filled { other > one && other <= filled } else { other > filled && other < one }
    };
    all.iter().filter(move |own| {
        let never = may_never_be(&facts.rules.base.limits, own);
        never || !all.iter().any(|other| other.of == own.of && other.analyte == own.analyte && nearer(own.drawn, other.drawn))
    })
}

/// What each way of handing out says of a lot, or of one that is gone, when more than one is named or when one differs from the lot's
/// own word.
#[must_use]
pub fn by_way(facts: &Facts, word: Word, judging: &mut Judging, is_gone: bool) -> Vec<(Channel, Verdict)> {
    let judged = |way: Channel| {
        let verdict = judging.lot_for(facts, way);
        (way, if is_gone { verdict.of_what_is_gone() } else { verdict })
    };
    let all: Vec<(Channel, Verdict)> = facts.rules.ways().into_iter().map(judged).collect();
    let differs = all.iter().any(|(_, own)| own.word() != word);
    if all.len() > 1 || differs { all } else { Vec::new() }
}

/// The ways the farm's households are reached by for which a lot says something worse than by itself.
#[must_use]
pub fn worse_ways(facts: &Facts, word: Word, judging: &mut Judging) -> Vec<(Channel, Verdict)> {
    let used = facts.rules.used.iter().map(|way| (*way, judging.lot_for(facts, *way)));
    used.filter(|(_, verdict)| verdict.word() > word).collect()
}

/// The ways in one line, only when they do not all say the same as the lot: `herdshare Can go · farm gate Keep back`.
#[must_use]
pub fn ways_line(facts: &Facts, word: Word, judging: &mut Judging) -> String {
    let all = by_way(facts, word, judging, false);
    if all.iter().all(|(_, own)| own.word() == word) {
        return String::new();
    }
    all.iter().map(|(way, own)| format!("{way} {}", own.word())).collect::<Vec<_>>().join(" · ")
}

fn rest(finding: &Finding, facts: &Facts, rules: &Rules, wrote: &Wrote) -> Rest {
    let zone = facts.zone;
    let mut own = Rest {
        about: finding.about(),
        word: finding.word(),
        reason: finding.reason(zone),
        rule: String::new(),
        sure: String::new(),
        source: rules.source.clone(),
        decided: false,
        facts: Vec::new(),
    };
    match finding {
        Finding::Chill(chilled) => chill(&mut own, chilled, rules, zone),
        Finding::Tested(tested) => test(&mut own, tested, facts, rules, wrote),
        Finding::Treated { cow, session, .. } | Finding::ClearOfDrugs { cow, session, .. } => {
            own.rule = "Her milk stays out for the time on the label, or as long as the vet says.".to_owned();
            own.source = "the treatment as written down; 21 CFR 530 leaves any other use to the vet".to_owned();
            own.sure = Sure::Memory.to_string();
            own.facts = of_cow(facts, cow, session).flat_map(|(part, milking)| doses(part, milking, zone)).collect();
        }
        Finding::JustCalved { cow, session, .. } => {
            own.rule = fresh(rules);
            own.facts = of_cow(facts, cow, session).filter_map(|(part, milking)| calved(part, milking, zone)).collect();
        }
        Finding::NearCalving { due, from, .. } => {
            own.rule = before_calving(rules);
            own.facts = vec![format!("Due {}; her milk stays out from {}.", day_shown(*due), day_shown(*from))];
        }
        Finding::StripTest { cow, failing, .. } => {
            let fails = rules.strip_fails.unwrap_or(Score::USUAL);
            own.rule = format!("A quarter with a strip test of {fails} or more keeps her milk out until it passes.");
            own.source = if rules.strip_fails.is_some() { own.source.clone() } else { "common practice".to_owned() };
            own.facts = failing.iter().map(|quarter| format!("{cow}: {quarter}.")).collect();
        }
        Finding::KeptOut { cow, since, .. } => {
            by_the_record(&mut own, "A cow that is kept out, or dry, is not milked into the can.", "the farm's own record of her");
            own.facts = vec![format!("{cow}: outside the can since {}.", zone.in_full(*since))];
        }
        Finding::CowUnwell { cow, since, .. } => {
            by_the_record(&mut own, "The milk of a cow that is not well stays out.", "common practice");
            own.facts = vec![format!("{cow}: unwell since {}.", zone.in_full(*since))];
        }
        Finding::Foremilk { cow, session, seen } => {
            own.rule = "The first squirts of every cow are looked at.".to_owned();
            own.source = "common practice".to_owned();
            own.facts = vec![format!("{cow}, {session}: {}", seen.reason().unwrap_or("first squirts as they should be."))];
        }
        Finding::MilkerIll { .. } => by_the_record(&mut own, "Nobody who is ill milks.", "common practice"),
        Finding::Held { what, .. } => {
            by_the_record(&mut own, "What is held stays where it is until the owner lifts it with a reason.", "the hold as written down");
            own.facts = facts
                .holds
                .iter()
                .filter(|hold| hold.what == *what && hold.lifted.is_none())
                .map(|hold| format!("Held since {}.", zone.in_full(hold.at)))
                .collect();
        }
        Finding::TreatedDuring { cow, at, .. } => {
            by_the_record(&mut own, "The milk of a treated cow stays out from the dose on.", "common practice");
            own.facts = vec![format!("{cow}: dose given {}.", zone.in_full(*at))];
        }
        Finding::Warmed(warmed) => {
            by_the_record(&mut own, &warmed.rule.spoken(), "common practice and the farm's own record; no law");
            own.facts = vec![
                format!("Found warm {}; it may have been warm for {}.", zone.in_full(warmed.fridge.found), warmed.fridge.how_long()),
                "Which fridge a lot stood in is written with that fridge, and with no lot.".to_owned(),
            ];
        }
        Finding::Tied { session, .. } => {
            by_the_record(&mut own, "What may not be in milk is washed out of a vessel, or it is in the next milk too.", "common practice");
            own.facts = vec![format!("Look at the lots of {session} for what that rests on.")];
        }
        Finding::Parent { code, .. } => {
            by_the_record(&mut own, "A made lot is no better than the worst of what it was made from.", "this program's own choice");
            own.facts = vec![format!("Look at {code} for what that rests on.")];
        }
        Finding::BestBy { .. } => best_by(&mut own, facts, rules),
        Finding::Way { allowed, .. } => way(&mut own, allowed),
        Finding::Decided { found, by, at, reason } => {
            let inner = rest(found, facts, rules, wrote);
            let mut said = vec![
                format!("Decided otherwise by {by} on {}: {reason}", zone.in_full(*at)),
                format!("Without that: {}. {}", inner.word, inner.reason),
            ];
            said.extend(inner.facts);
            let reason = format!("{by} decided that it may go. The records say {}.", inner.word);
            own = Rest { facts: said, reason, word: own.word, decided: true, ..inner };
        }
        Finding::Unread { .. } => {
            by_the_record(&mut own, "What cannot be read is never taken for not being there.", "this program's own choice")
        }
        Finding::NoCows { .. } | Finding::NoSource => {
            by_the_record(&mut own, "Whose milk is in a lot is written down.", "this program's own choice");
        }
    }
    own
}

fn by_the_record(own: &mut Rest, rule: &str, source: &str) {
    own.rule = rule.to_owned();
    own.source = source.to_owned();
}

fn chill(own: &mut Rest, chilled: &Chilled, rules: &Rules, zone: Zone) {
    own.reason = if chilled.warmed_up.is_some() && own.reason != chilled.reason() { own.reason.clone() } else { chilled.reason_at(zone) };
    let steps: Vec<String> = rules.steps.0.iter().map(|step| format!("{} ({})", step.spoken(), step.sure)).collect();
    own.rule = if steps.is_empty() { "How fast the milk must be cold is not known for this place.".to_owned() } else { steps.join("; ") };
    own.facts = chilled
        .findings
        .iter()
        .map(|found| {
            let by = found.by.map_or_else(String::new, |by| format!(", by {}", zone.clock(by)));
            format!("{}{by} ({}): {}. {}", found.step.spoken(), found.step.sure, found.outcome.standing(), found.reason_at(zone))
        })
        .chain(chilled.remarks(zone))
        .collect();
}

fn test(own: &mut Rest, tested: &Tested, facts: &Facts, rules: &Rules, wrote: &Wrote) {
    match tested.limit() {
        Some(limit) => {
            own.rule = format!("{}: {}", limit.analyte, limit.spoken());
            own.sure = limit.sure.to_string();
            own.facts = figures(tested, limit, facts, wrote);
            if matches!(tested, Tested::HeldFor { .. }) {
                own.facts.extend(out(facts, rules));
            }
        }
        None => alone(own, tested, facts, wrote),
    }
}

/// What no limit was asked about: something that may never be there, or a figure nobody knows a limit for.
fn alone(own: &mut Rest, tested: &Tested, facts: &Facts, wrote: &Wrote) {
    let (Tested::Found { analyte, .. } | Tested::NoLimit { analyte, .. }) = tested else { return };
    let rule = match tested {
        Tested::NoLimit { .. } => "A figure that no limit is known for says nothing for the lot.",
        _ => "What may never be in milk keeps the lot back, and every lot with the same milk in it, whatever the rule set says.",
    };
    by_the_record(own, rule, "this program's own choice");
    let lab = &facts.lab;
    let found = lab.own.iter().chain(&lab.kin).chain(lab.cows.iter()).filter(|result| result.analyte == *analyte);
    own.facts = found.map(|result| as_written(result, wrote, facts.zone)).collect();
}

/// The bottles of the lot that are out.
fn out(facts: &Facts, rules: &Rules) -> Vec<String> {
    let says = |own: &Bottle| {
        let asked: Vec<String> = own.asked.iter().map(ToString::to_string).collect();
        let asked = if asked.is_empty() { "not said for what".to_owned() } else { asked.join(", ") };
        format!("Bottle drawn {}: {asked}; no result yet.", facts.zone.in_full(own.drawn))
    };
    facts.lab.out(&rules.limits).iter().map(says).collect()
}

/// The results a limit was held against, as the lab wrote them; of the farm's only the last five.
fn figures(tested: &Tested, limit: &Limit, facts: &Facts, wrote: &Wrote) -> Vec<String> {
    let about = |result: &&LabResult| limit.analyte.covers(&result.analyte);
    let results: Vec<&LabResult> = match tested {
        Tested::Row { .. } | Tested::Mean { .. } => facts.lab.farm.iter().filter(about).collect(),
        Tested::Own { number, .. } => facts.lab.own.iter().chain(facts.lab.cows.iter()).filter(|result| result.number == *number).collect(),
        _ => facts.lab.own.iter().filter(about).collect(),
    };
    let last = results.len().saturating_sub(5);
    let last = results.into_iter().skip(last);
    match tested {
        Tested::Row { .. } | Tested::Mean { .. } => {
            let figures: Vec<String> =
                last.map(|result| format!("{} ({})", figure(result, wrote), facts.zone.day(result.drawn).format("%-d %b %Y"))).collect();
            if figures.is_empty() { Vec::new() } else { vec![format!("The farm's last results: {}.", figures.join(", "))] }
        }
        _ => last.map(|result| as_written(result, wrote, facts.zone)).collect(),
    }
}

fn as_written(result: &LabResult, wrote: &Wrote, zone: Zone) -> String {
    let figure = figure(result, wrote);
    format!("{}: {figure}, drawn {}, reported {}.", result.analyte, zone.in_full(result.drawn), day_shown(result.reported))
}

/// The next thing to do with a lot, as a page says it. Of one of which nothing is left nobody can keep a jar cold or read one.
#[must_use]
pub fn next(verdict: &Verdict, nothing_left: bool) -> String {
    let about_jars = verdict.word() == Word::CanGo || matches!(verdict.findings.first(), Some(Finding::Chill(_)));
    if nothing_left && about_jars && verdict.word() != Word::KeepBack {
        return "Nothing is left of it.".to_owned();
    }
    format!("Next: {}", verdict.next())
}

/// The figure to the letter.
fn figure(result: &LabResult, wrote: &Wrote) -> String {
    let unit = result.unit.map_or_else(String::new, |unit| format!(" {unit}"));
    wrote.get(&result.number).cloned().unwrap_or_else(|| format!("{}{unit}", result.figure))
}

fn of_cow<'f>(facts: &'f Facts, cow: &'f str, session: &'f str) -> impl Iterator<Item = (&'f CowsPart, &'f Milking)> {
    let milkings = facts.milkings.iter().map(AsRef::as_ref).filter(move |own: &&Milking| own.session == session);
    milkings.flat_map(move |own| own.cows.iter().filter(move |part| part.cow == cow).map(move |part| (part, own)))
}

fn doses(part: &CowsPart, milking: &Milking, zone: Zone) -> Vec<String> {
    let one = |dose: &Dose| {
        let out: Vec<String> =
            [dose.milk_hours.map(|hours| format!("{hours} h")), dose.milk_milkings.map(|count| format!("{count} milkings"))]
                .into_iter()
                .flatten()
                .collect();
        let out =
            if out.is_empty() { "nobody wrote how long her milk stays out".to_owned() } else { format!("milk out {}", out.join(" and ")) };
        let from = if dose.from_calving { ", counted from calving" } else { "" };
        let how = if dose.as_labelled { "as labelled" } else { "not as labelled" };
        let vet = if dose.vet_figure { ", the vet's figure" } else { "" };
        format!("{}: {} on {}, {out}{from}, {how}{vet}.", part.cow, dose.product, zone.in_full(dose.at))
    };
    let milked = format!("{}: milked into it at {}, {}.", part.cow, milking.session, zone.in_full(milking.times.start));
    part.doses.iter().map(one).chain([milked]).collect()
}

fn calved(part: &CowsPart, milking: &Milking, zone: Zone) -> Option<String> {
    let calved = herd::calvings(&part.turns, milking.times.start).into_iter().max()?;
    let since = part.milked.iter().filter(|milked| **milked >= calved && **milked < milking.times.start).count();
    let time = span_shown(milking.times.start.minutes_since(calved));
    Some(format!("{}: calved {}, {time} and {since} milkings before {}.", part.cow, zone.in_full(calved), milking.session))
}

fn fresh(rules: &Rules) -> String {
    let said: Vec<String> =
        [rules.fresh.days_after.map(|days| format!("{days} days")), rules.fresh.milkings.map(|count| format!("{count} milkings"))]
            .into_iter()
            .flatten()
            .collect();
    if said.is_empty() {
        "How long milk stays out after calving is not known for this place.".to_owned()
    } else {
        format!("Milk stays out {} after calving.", said.join(" and "))
    }
}

fn before_calving(rules: &Rules) -> String {
    match rules.fresh.days_before {
        Some(days) => format!("Milk stays out {days} days before a cow is due to calve."),
        None => "How long milk stays out before calving is not known for this place.".to_owned(),
    }
}

fn best_by(own: &mut Rest, facts: &Facts, rules: &Rules) {
    let Some((days, from)) = rules.best_by else { return };
    let (from, first) = match from {
        CountedFrom::Filling => ("filling", facts.filled),
        CountedFrom::OldestMilking | CountedFrom::Production => ("the oldest milking", facts.oldest()),
    };
    let no_longer = if facts.parents.is_empty() { "" } else { ", and for no longer than anything it was made from" };
    own.rule = format!("Good for {days} days, counted from {from}{no_longer}.");
    own.facts = vec![format!("Counted from {}.", facts.zone.in_full(first))];
}

fn way(own: &mut Rest, allowed: &Channels) {
    let Channels::Named(ways, sure) = allowed else {
        own.rule = "Which ways of handing out are allowed is not known for this place.".to_owned();
        return;
    };
    let named: Vec<String> = ways.iter().map(ToString::to_string).collect();
    own.rule =
        if named.is_empty() { "The rule names no way of handing out.".to_owned() } else { format!("Allowed: {}.", named.join(", ")) };
    own.sure = sure.to_string();
}
