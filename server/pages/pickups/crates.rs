//! Handing out what was packed, by exception: everybody as packed in one act, and one tap for each who differs.

use super::weigh::{Fridge, Said, fridge, over_cap, weigh};
use crate::{
    pages::{Here, kind_of},
    store::{
        packing, pickups,
        records::{self, Act},
    },
    trade::{
        empties::Empties,
        fetched::from_list,
        jars::{Jars, Size},
        packed::{Took, one_more},
        records::{Remark, read},
        when::{Day, day_shown, parse_day},
    },
    web::{answer::Trouble, form::Fields, secret},
};
use sqlx::SqliteConnection;

/// A crate of which jars still stand packed.
#[derive(Clone)]
pub(super) struct Waiting {
    pub(super) label: String,
    pub(super) called: String,
    person: i64,
    pub(super) jars: Jars,
    /// Half-gallons that were packed, more than stand where some went already.
    pub(super) packed: i64,
    pub(super) lots: Vec<(String, i64)>,
    /// Whether a lot of it can go only because the owner decided so.
    pub(super) is_decided: bool,
}

impl Waiting {
    /// The lots, and how many of each where there are several: `1 × 6325A-Z, 2 × 6324B-K`.
    pub(super) fn said(&self) -> String {
        if let [(lot, _)] = self.lots.as_slice() { lot.clone() } else { self.seen() }
    }

    /// What stands in it, as the form carries it: what was seen is what is kept.
    pub(super) fn seen(&self) -> String {
        let said: Vec<String> = self.lots.iter().map(|(lot, jars)| format!("{jars} × {lot}")).collect();
        said.join(", ")
    }

    /// Whether some of it went already. Nobody takes the rest without a word.
    pub(super) fn is_begun(&self) -> bool {
        self.jars.half_gallons < self.packed
    }
}

/// A day's packing, and the crates of it that still stand.
pub(super) struct Standing {
    pub(super) day: Day,
    pub(super) packing: i64,
    pub(super) crates: Vec<Waiting>,
    /// Whose crates are gone.
    gone: Vec<String>,
}

/// A day's crates, if it is packed.
pub(super) async fn standing(db: &mut SqliteConnection, fridge: &Fridge, day: Day) -> Result<Option<Standing>, Trouble> {
    let Some((packing, list)) = packing::of_day(&mut *db, day).await? else { return Ok(None) };
    let mut standing = Standing { day, packing, crates: Vec::new(), gone: Vec::new() };
    for row in list.rows.into_iter().filter(|row| !row.lots.is_empty()) {
        let own = fridge.crates.iter().find(|own| own.packing == packing && own.person == row.portion.person);
        let Some(own) = own.filter(|own| own.left() > 0) else {
            standing.gone.push(row.label);
            continue;
        };
        let way = fridge.taker(&row.label).map(|taker| taker.way);
        let decided = |lot: i64| fridge.shelf.iter().any(|shelf| shelf.number == lot && way.is_some_and(|way| shelf.is_decided_for(way)));
        standing.crates.push(Waiting {
            called: format!("{} {}", row.label, row.name),
            label: row.label,
            person: own.person,
            jars: Jars::halves(own.left()),
            packed: own.packed,
            is_decided: own.lots.iter().any(|(lot, _, _)| decided(*lot)),
            lots: own.lots.iter().map(|(_, code, jars)| (code.clone(), *jars)).collect(),
        });
    }
    Ok(Some(standing))
}

/// What came of handing out everybody: what stands against it, or who had theirs kept from another phone in the meantime.
pub(super) enum Everybody {
    /// Nothing is kept, and this is why.
    Not(Box<Said>),
    /// It may be kept.
    Kept(Meantime),
}

/// Those of a list who had theirs kept from another phone in the meantime, and were left out.
#[derive(Default)]
pub(super) struct Meantime {
    /// Who was said to have taken theirs here too.
    pub(super) already: Vec<String>,
    /// Who was said not to be here, and stands as taken.
    pub(super) stands: Vec<String>,
}

/// What a list says.
#[derive(Default)]
struct Told<'a> {
    taking: Vec<(&'a Waiting, Took)>,
    meantime: Meantime,
    remarks: Vec<Remark>,
}

/// Hands out every crate as the form says, all of them or none.
pub(super) async fn everybody_in(tx: &mut SqliteConnection, here: &Here, typed: &Fields) -> Result<Everybody, Trouble> {
    let not = |said: Said| Ok(Everybody::Not(Box::new(said)));
    let mut fridge = fridge(&mut *tx, here, here.zone().day(here.now)).await?;
    let again = is_sent_again(&mut *tx, typed).await?;
    let day = parse_day(typed.get("day")).ok();
    let standing = match day {
        Some(day) => standing(&mut *tx, &fridge, day).await?.filter(|own| own.packing.to_string() == typed.get("packing")),
        None => None,
    };
    let Some(standing) = standing else { return if again { Ok(Everybody::Kept(Meantime::default())) } else { not(stale(day)) } };
    let mut told = told_apart(&mut *tx, &standing, typed).await?;
    if !told.remarks.is_empty() {
        return not(Said { remarks: told.remarks, ..Said::default() });
    }
    if told.taking.is_empty() && told.meantime.already.is_empty() && told.meantime.stands.is_empty() && !again {
        return not(Said::remark("took", "Nobody took anything. Say who did, or leave the list as it is."));
    }
    // What somebody leaves may be what somebody else takes more.
    told.taking.sort_by_key(|(_, took)| match took {
        Took::OneFewer => 0,
        Took::OneMore => 2,
        _ => 1,
    });
    let act = records::act(&mut *tx, here.now, &here.visitor.name, &from_list(standing.day)).await?;
    let mut over = Vec::new();
    for (own, took) in told.taking {
        let said = one_crate(&mut *tx, here, &mut fridge, (own, took, &mut over), typed, &act).await?;
        if !said.is_nothing() {
            return not(of_a_list(said, own));
        }
        fridge.free(standing.packing, own.person);
    }
    let over = over_cap(tx, here, typed).await?;
    if over.is_empty() { Ok(Everybody::Kept(told.meantime)) } else { not(Said { over, ..Said::default() }) }
}

/// What is said of a list whose packing is not there any more.
fn stale(day: Option<Day>) -> Said {
    let of = day.map_or_else(String::new, |day| format!(" of {}", day_shown(day)));
    Said::remark(
        "took",
        format!(
            "The crates{of} were unpacked or packed anew since this list was opened. Nobody was kept: look at what stands now, and say it again."
        ),
    )
}

/// The crates that were taken, each with how; who had theirs kept in the meantime; and what was not what was seen.
async fn told_apart<'a>(db: &mut SqliteConnection, standing: &'a Standing, typed: &Fields) -> Result<Told<'a>, Trouble> {
    let mut told = Told::default();
    for (name, word) in &typed.0 {
        let (Some(label), Some(took)) = (name.strip_prefix("took."), Took::parse(word)) else { continue };
        let Some(own) = standing.crates.iter().find(|own| own.label == label) else {
            if !standing.gone.iter().any(|own| own == label) {
                told.remarks.push(Remark::fault("took", format!("Nothing was packed for {} on that day.", crate::trade::short(label))));
            } else if !pickups::is_kept(&mut *db, &mark_of(typed, label, 0)).await? {
                let list = if took == Took::NotHere { &mut told.meantime.stands } else { &mut told.meantime.already };
                list.push(label.to_owned());
            }
            continue;
        };
        let seen = typed.get(&format!("seen.{label}"));
        if took == Took::NotHere {
            continue;
        }
        if !seen.is_empty() && seen != own.seen() {
            let says =
                format!("{}: some went since this list was opened, and {} still stand. Say again what they take.", own.called, own.seen());
            told.remarks.push(Remark::fault(name, says));
        } else if took == Took::OneFewer && own.jars.half_gallons == 1 {
            let says = format!("{}: one fewer than one is none. Say “not here”, or use Differs.", own.called);
            told.remarks.push(Remark::fault(name, says));
        }
        told.taking.push((own, took));
    }
    Ok(told)
}

/// Whether this very form was kept before.
async fn is_sent_again(db: &mut SqliteConnection, typed: &Fields) -> Result<bool, Trouble> {
    for (name, _) in &typed.0 {
        let Some(label) = name.strip_prefix("took.") else { continue };
        if pickups::is_kept(&mut *db, &mark_of(typed, label, 0)).await? {
            return Ok(true);
        }
    }
    Ok(false)
}

/// The mark of one line. By household and not by place in the list, so that the same form never takes one for another.
fn mark_of(typed: &Fields, label: &str, nth: usize) -> String {
    secret::entry_within(&format!("{}/{label}", typed.get("entry")), nth)
}

/// The jars somebody takes: those of the crate, and the one more. What they leave is put with what is over.
fn lots_taken(fridge: &Fridge, own: &Waiting, took: Took, over: &mut Vec<String>) -> Vec<(String, i64)> {
    let mut lots = took.of(&own.lots);
    match (took, own.lots.last()) {
        (Took::OneFewer, Some((lot, _))) => over.push(lot.clone()),
        (Took::OneMore, Some((newest, _))) => {
            let mut offers = fridge.offers_for(Some(own.person));
            for (lot, jars) in &lots {
                offers.iter_mut().filter(|offer| offer.code == *lot).for_each(|offer| offer.left = offer.left - Jars::halves(*jars));
            }
            let more = fridge.taker(&own.label).and_then(|taker| one_more(&offers, taker.way, over)).unwrap_or_else(|| newest.clone());
            if let Some(place) = over.iter().position(|lot| *lot == more) {
                over.remove(place);
            }
            match lots.iter_mut().find(|(lot, _)| *lot == more) {
                Some((_, jars)) => *jars += 1,
                None => lots.push((more, 1)),
            }
        }
        _ => {}
    }
    lots
}

/// Hands out one crate, lot by lot, and writes down the empties that did not come back.
async fn one_crate(
    db: &mut SqliteConnection,
    here: &Here,
    fridge: &mut Fridge,
    (own, took, over): (&Waiting, Took, &mut Vec<String>),
    typed: &Fields,
    act: &Act,
) -> Result<Said, Trouble> {
    let lots = lots_taken(fridge, own, took, over);
    for (nth, (lot, jars)) in lots.iter().enumerate() {
        let mut line = Fields::default().with("lot", lot).with("half_gallons", jars.to_string()).with("person", &own.label);
        line = line.with("at", typed.get("at")).with("evidence", typed.get("evidence")).with("sure", format!("person {}", own.label));
        line.0.extend(typed.all("already").map(|already| ("already".to_owned(), already.to_owned())));
        let said = weigh(&mut *db, here, fridge, &line, &mark_of(typed, &own.label, nth), act).await?;
        if !said.is_nothing() {
            return Ok(said);
        }
    }
    if took == Took::NoEmpties {
        let what = (Empties::NotBroughtBack, Jars::halves(lots.iter().map(|(_, jars)| jars).sum()));
        return empties_kept(db, here, (&own.label, typed.get("at")), what, &mark_of(typed, &own.label, 99), act).await;
    }
    Ok(Said::default())
}

/// Writes down empties that differ from an even swap.
pub(super) async fn empties_kept(
    db: &mut SqliteConnection,
    here: &Here,
    (label, at): (&str, &str),
    (what, jars): (Empties, Jars),
    entry: &str,
    act: &Act,
) -> Result<Said, Trouble> {
    let word = Empties::WORDS.iter().find(|(own, _)| *own == what).map_or("", |(_, word)| word);
    let at = if at.trim().is_empty() { here.zone().for_file(here.now) } else { at.to_owned() };
    let line = Fields::default().with("at", at).with("person", label).with("sort", word);
    let typed = |column: &str| match column {
        "gallons" => jars.of(Size::Gallon).to_string(),
        "half_gallons" => jars.of(Size::HalfGallon).to_string(),
        "quarts" => jars.of(Size::Quart).to_string(),
        "pints" => jars.of(Size::Pint).to_string(),
        column => line.get(column).to_owned(),
    };
    let cells = match read(kind_of("empties")?, typed, here.farm.ways) {
        Ok(cells) => cells,
        Err(remarks) => return Ok(Said { remarks, ..Said::default() }),
    };
    match records::keep(db, kind_of("empties")?, entry, cells, act).await {
        Ok(_) => Ok(Said::default()),
        Err(refusal) => Ok(Said { remarks: crate::pages::remarks_of(refusal)?, ..Said::default() }),
    }
}

/// What stands against one of a list, said with its household so that it can be put right on the list.
fn of_a_list(mut said: Said, own: &Waiting) -> Said {
    let field = format!("took.{}", own.label);
    for remark in said.remarks.iter_mut().filter(|remark| !matches!(remark.field.as_str(), "evidence" | "at" | "entry")) {
        remark.says = format!("{}: {}", own.called, remark.says);
        remark.field.clone_from(&field);
    }
    for sentence in [std::mem::take(&mut said.asked), std::mem::take(&mut said.lacking)] {
        if !sentence.is_empty() {
            said.remarks.push(Remark::fault(&field, format!("{sentence} Set them to “not here”, or use Differs.")));
        }
    }
    if let Some(refused) = &mut said.refused {
        refused.whose.clone_from(&own.called);
        said.whose.clone_from(&own.label);
    }
    said
}
