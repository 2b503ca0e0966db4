//! The binder of a span, gathered from the ledger for whoever may have it: the owner, somebody with a pass, the command line. It owns
//! no door.

pub mod folder;

use crate::{
    store::{Failure, binder as asked, calendar, callbacks, farm::Farm, ice_checks, lab, lots, people, records, rules, verdict},
    trade::{
        agreements::Line,
        binder::{Binder, Bottle, CalledBack, Drawn, Label, Leads, LotLine, Names, RulesOf, Said},
        calendar::Facts as Dates,
        followed::standing,
        gaps::{self, Gap, LotSeen, Sort},
        kinds::Kind,
        lab::Of,
        limits::Limits,
        needs::Needs,
        records::{Record, Remark},
        verdict::Facts,
        wear::Span,
        when::{Day, Moment, Zone, day_shown, parse_day},
    },
    web::{answer::Trouble, form::Fields},
};
use asked::Between;
use chrono::{Datelike, Months};
use sqlx::SqliteConnection;
use std::collections::HashMap;

/// What is wanted, and by whom.
#[derive(Clone, Debug)]
pub struct Wanted {
    /// The days.
    pub span: Span,
    /// Who made it, or for whom it is opened.
    pub who: String,
    /// Where its links lead.
    pub leads: Leads,
    /// Whether households stand in it by name.
    pub names: bool,
}

/// The twelve months up to a day, or the days since the farm's records began.
#[must_use]
pub fn usual(began: Option<Day>, today: Day) -> Span {
    let year = today.checked_sub_months(Months::new(12)).and_then(|day| day.succ_opt()).unwrap_or(today);
    Span { from: began.filter(|began| *began <= today).map_or(year, |began| began.max(year)), to: today }
}

/// A day of a form; a field that was left empty is told by what belongs in it.
///
/// # Errors
/// What is wrong with it.
pub fn day_of(typed: &Fields, name: &str, missing: &str) -> Result<Day, Remark> {
    match typed.get(name).trim() {
        "" => Err(Remark::fault(name, missing)),
        day => parse_day(day).map_err(|fault| Remark::fault(name, fault)),
    }
}

/// What is said of a day that has not come: a binder of it would find no gap, and say nothing by that.
#[must_use]
pub fn not_come(day: Day) -> String {
    format!("{} has not come yet: the binder shows what was written until today.", day_shown(day))
}

/// The days somebody typed, each filled in with the usual one where it was not asked.
///
/// # Errors
/// What is wrong with each of them.
pub fn typed(typed: &Fields, usual: Span, today: Day) -> Result<Span, Vec<Remark>> {
    let day = |name: &str, usual: Day, missing: &str| {
        let asked = typed.all(name).next().map_or(Ok(usual), |_| day_of(typed, name, missing))?;
        if asked > today { Err(Remark::fault(name, not_come(asked))) } else { Ok(asked) }
    };
    let from = day("from", usual.from, "Choose the first day the binder shows.");
    let to = day("to", usual.to, "Choose the last day the binder shows.");
    match (from, to) {
        (Ok(from), Ok(to)) if from > to => {
            let says = format!("The first day, {}, comes after the last, {}.", day_shown(from), day_shown(to));
            Err(vec![Remark::fault("to", says)])
        }
        (Ok(from), Ok(to)) => Ok(Span { from, to }),
        (from, to) => Err([from.err(), to.err()].into_iter().flatten().collect()),
    }
}

/// Gathers everything. The connection is only read from.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn gather(db: &mut SqliteConnection, farm: &Farm, wanted: &Wanted, now: Moment) -> Result<Binder, Trouble> {
    let (span, zone) = (wanted.span, farm.ways.zone);
    let days = Between { from: span.from, to: span.to, zone };
    let rules = rules_of(&mut *db, span).await?;
    // A pass may show days that have not come; nothing is missing on them yet.
    let come = Span { to: span.to.min(zone.day(now)), ..span };
    let (names, ways) = if wanted.names { Default::default() } else { asked::names(&mut *db).await? };
    let (households, lack) = households(&mut *db, span, zone.day(now)).await?;
    let milk = milk(&mut *db, days, now).await?;
    let held = asked::held(&mut *db, days).await?;
    let doses = asked::doses(&mut *db, days).await?;
    let end = zone.end_of(span.to).min(now);
    let mut gaps = milk.gaps;
    gaps.extend(lack);
    gaps.extend(gaps::untimed(&doses, come, zone, end));
    gaps.extend(gaps::still_held(&held, end, zone));
    gaps.extend(gaps::late(&asked::written(&mut *db, days).await?, zone));
    let checks = ice_checks(&mut *db, zone.start_of(span.from)).await?;
    gaps.extend(gaps::thermometers(&asked::readings(&mut *db, days).await?, &checks, zone));
    let calendars = calendars(&mut *db, come, zone, now).await?;
    gaps.extend(gaps::overdue(&calendars, come, households.is_some()));
    Ok(Binder {
        farm: farm.name.clone(),
        address: farm.address.clone(),
        span,
        who: wanted.who.clone(),
        now,
        zone,
        leads: wanted.leads,
        names: if wanted.names { Names::On } else { Names::off(&names, &ways, &farm.name) },
        not_known: not_known(&rules, &milk.lines, households.is_some(), calendars.last(), zone),
        rules,
        gaps: gaps::in_order(gaps),
        changes: asked::changes(&mut *db, days).await?,
        renewals: asked::renewals(&mut *db, days).await?,
        lots: milk.lines,
        label: milk.label,
        bottles: bottles(&mut *db, days).await?,
        treatments: asked::treatments(&mut *db, days).await?,
        doses,
        strips: asked::strips(&mut *db, days).await?,
        checks: checks.into_iter().filter(|check| zone.day(check.at) <= span.to).collect(),
        washes: asked::washes(&mut *db, days).await?,
        held,
        called_back: called_back(&mut *db, span, zone).await?,
        complaints: asked::complaints(&mut *db, days).await?,
        kept: asked::kept(&mut *db, days, households.is_some() && wanted.names).await?,
        households,
    })
}

/// What the lots of a span say.
struct Milk {
    lines: Vec<LotLine>,
    gaps: Vec<Gap>,
    label: Option<Label>,
}

async fn milk(db: &mut SqliteConnection, days: Between, now: Moment) -> Result<Milk, Failure> {
    let numbers = asked::lots(&mut *db, days).await?;
    let facts: Vec<Facts> = verdict::facts(&mut *db, &numbers, days.zone, now).await?;
    let jars: HashMap<String, _> =
        lots::list(&mut *db, &numbers).await?.into_iter().map(|lot| (lot.code, (lot.jars, lot.number))).collect();
    let (mut moved, mut counts) = (lots::moved(&mut *db, &numbers).await?, lots::counts(&mut *db, &numbers).await?);
    let (mut lines, mut gaps) = (Vec::with_capacity(facts.len()), Vec::new());
    for own in &facts {
        let Some((jars, number)) = jars.get(&own.code).copied() else { continue };
        let (movements, counts) = (moved.remove(&number).unwrap_or_default(), counts.remove(&number).unwrap_or_default());
        gaps.extend(LotSeen { facts: own, movements: &movements, counts: &counts }.gaps(now));
        lines.push(LotLine::of(own, jars, &movements, now));
    }
    let label = facts.iter().rfind(|own| !own.milkings.is_empty()).map(Label::of);
    Ok(Milk { lines, gaps, label })
}

/// The rule sets followed on a day of the span, the oldest first, each with the letter it goes by.
async fn rules_of(db: &mut SqliteConnection, span: Span) -> Result<Vec<RulesOf>, Trouble> {
    let versions = rules::versions(&mut *db).await?;
    let stood = standing(&versions, span.to);
    let now = stood.now.into_iter().map(|own| (own, None));
    let all = stood.earlier.into_iter().filter(|(_, last)| last.is_some_and(|last| last >= span.from)).chain(now);
    let mut all: Vec<_> = all.collect();
    all.sort_by_key(|(own, _)| (own.since, own.number));
    let kind = super::kind_of("rules")?;
    let mut rules = Vec::with_capacity(all.len());
    for ((own, until), mark) in all.into_iter().zip('A'..) {
        let Some(record) = records::find(&mut *db, kind, own.number).await? else { continue };
        rules.push(one_set(kind, &record, (own.since, until), (mark, own.beside)));
    }
    Ok(rules)
}

fn one_set(kind: &Kind, record: &Record, (since, until): (Day, Option<Day>), (mark, beside): (char, bool)) -> RulesOf {
    let cell = |name: &str| {
        let says = record.cell(kind, name).text().trim();
        if says == "not known" { String::new() } else { says.to_owned() }
    };
    RulesOf {
        mark,
        title: cell("title"),
        citation: cell("citation"),
        text_date: cell("text_date"),
        sure: cell("sure"),
        since,
        until,
        beside,
        chill: cell("steps"),
        tests: cell("tests"),
        limits: Limits::parse(&cell("limits")).unwrap_or_default(),
        check_by: parse_day(&cell("check_by")).ok(),
    }
}

/// The households that were with the farm on the last day of a span, where a rule asks for a paper or a list of them, and what each
/// lacks; nothing where no rule does.
async fn households(db: &mut SqliteConnection, span: Span, today: Day) -> Result<(Option<Vec<Line>>, Vec<Gap>), Failure> {
    let on = span.to.min(today);
    let asked = people::asked(&mut *db, on).await?;
    if !asked.0.iter().any(|(_, needs)| matches!(needs, Needs::Named(list, _) if !list.is_empty())) {
        return Ok((None, Vec::new()));
    }
    let (takers, papers) = (people::takers(&mut *db, on).await?, people::papers(db).await?);
    let line = |own: people::Taker| Line {
        needs: asked.of(own.way),
        papers: papers.iter().filter(|paper| paper.person == own.number).cloned().collect(),
        number: own.number,
        label: own.label,
        name: own.name,
        way: own.way,
        lacks: own.lacks,
    };
    let lines: Vec<Line> = takers.into_iter().filter(|own| own.is_here(on)).map(line).collect();
    let lack = gaps::lacking(&lines, on);
    Ok((Some(lines), lack))
}

/// The calendar as it stood at the end of each month of a span, at the eve of each new rule set, and on its last day.
async fn calendars(db: &mut SqliteConnection, span: Span, zone: Zone, now: Moment) -> Result<Vec<Dates>, Failure> {
    let last = span.to.min(zone.day(now));
    let month_ends = std::iter::successors(Some(span.from), |day| day.with_day(1)?.checked_add_months(Months::new(1)))
        .skip(1)
        .filter_map(|first| first.pred_opt())
        .take_while(|end| *end < last);
    let eves = rules::versions(&mut *db).await?.into_iter().filter_map(|own| own.since.pred_opt());
    let mut ends: Vec<Day> = month_ends.chain(eves).filter(|day| *day >= span.from && *day < last).chain([last]).collect();
    ends.sort_unstable();
    ends.dedup();
    let mut all = Vec::with_capacity(ends.len());
    for end in ends {
        let at = Moment::seconds(zone.end_of(end).in_seconds() - 1).min(now);
        all.push(calendar::facts(&mut *db, zone, at).await?);
    }
    Ok(all)
}

/// What nobody can tell, because no rule that was followed says it.
fn not_known(rules: &[RulesOf], lots: &[LotLine], asks: bool, dates: Option<&Dates>, zone: Zone) -> Vec<(Option<Sort>, String)> {
    let mut said: Vec<(Option<Sort>, String)> = Vec::new();
    for own in rules.iter().filter(|own| own.chill.is_empty() && !own.beside) {
        let unread = lots.iter().filter(|lot| own.held_on(zone.day(lot.filled)) && lot.shown_by.is_empty()).count();
        let says = format!(
            "{} does not say how fast milk must be cold, so {unread} lots of its days are no gap, whatever was read of them.",
            own.title
        );
        said.extend([Sort::NoReading, Sort::NotShown].map(|sort| (Some(sort), says.clone())));
    }
    if rules.is_empty() {
        let says = "No rule set is written for these days, so no chill can be judged.".to_owned();
        said.extend([Sort::NoReading, Sort::NotShown, Sort::NoResult].map(|sort| (Some(sort), says.clone())));
    }
    if lots.is_empty() {
        let says = "No lot is written down for these days: where no gap is found, there was nothing to look at.";
        said.push((None, says.to_owned()));
    }
    said.extend(dates.into_iter().flat_map(crate::trade::calendar::not_known).map(|says| (Some(Sort::Overdue), says)));
    if !asks {
        let says = "No rule set here names a paper that a household must sign. What a household signs by the farm’s own choice, as for a share, \
                    stands under Agreements and is no part of this binder.";
        said.push((Some(Sort::Lacking), says.to_owned()));
    }
    said.push((None, "No rule set here says which permits a farm must hold: one that was never written down is not missed.".to_owned()));
    said
}

async fn bottles(db: &mut SqliteConnection, days: Between) -> Result<Vec<Bottle>, Failure> {
    let (from, until) = (days.zone.start_of(days.from), days.zone.end_of(days.to));
    let found = lab::found_since(&mut *db, from).await?;
    let bottle = |own: lab::Bottle| Bottle {
        at: own.drawn,
        of: match own.of {
            Of::Lot(code) => Drawn::Lot(code),
            Of::Cow(cow) => Drawn::Cow(cow),
            Of::Water | Of::Swab => {
                Drawn::Around(if own.place.is_empty() { own.of.to_string() } else { format!("{}: {}", own.of, own.place) })
            }
        },
        asked: own.asked.iter().map(ToString::to_string).collect::<Vec<_>>().join(", "),
        lab: [own.lab, own.lab_ref].into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join(", "),
        said: found
            .iter()
            .filter(|said| said.result.sample == own.number)
            .map(|said| Said { result: said.result.clone(), wrote: format!("{} {}", said.wrote, said.unit) })
            .collect(),
    };
    let mut all: Vec<Bottle> = lab::bottles(db, from).await?.into_iter().filter(|own| own.drawn < until).map(bottle).collect();
    all.reverse();
    Ok(all)
}

async fn called_back(db: &mut SqliteConnection, span: Span, zone: Zone) -> Result<Vec<CalledBack>, Failure> {
    let within = |own: &callbacks::Listed| zone.day(own.at) <= span.to && own.closed.is_none_or(|closed| zone.day(closed) >= span.from);
    let mut all: Vec<CalledBack> = callbacks::list(db)
        .await?
        .into_iter()
        .filter(within)
        .map(|own| CalledBack {
            at: own.at,
            practice: own.practice,
            because: own.because,
            note: own.note,
            lots: own.lots,
            closed: own.closed,
        })
        .collect();
    all.reverse();
    Ok(all)
}
