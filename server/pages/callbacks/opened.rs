//! Opening a call-back: how far the trouble spreads and why, what is certain and what only possible, and one tap that holds
//! every lot and opens the list of whom to ring. The wider choice is ticked; leaving a lot out needs a reason.

use super::{
    App, Frame, Here, gathered,
    keeping::{self, Line},
    kind_of, proposed,
};
use crate::{
    store::{callbacks, complaints, lots, records, trace},
    trade::{
        kinds::BECAUSE,
        records::Remark,
        trace::{LotId, Tie, Ties},
    },
    web::{
        answer::{Answer, Trouble, again, onward, page},
        form::{Fields, Sealed},
        rooms::Rooms,
        secret,
        visitor::Who,
    },
};
use askama::Template;
use axum::extract::{Path, Query};
use std::collections::{BTreeMap, BTreeSet};

/// The doors of this file.
pub(super) fn rooms() -> Rooms<App> {
    Rooms::new().look("/callbacks/new", Who::Owner, propose).send("/callbacks", Who::Owner, open).send(
        "/callbacks/{number}/lots",
        Who::Owner,
        more,
    )
}

#[derive(Template)]
#[template(path = "callbacks/new.html")]
struct New {
    frame: Frame,
    asked: Fields,
    because: Vec<(&'static str, bool)>,
    certain: Vec<Proposed>,
    possible: Vec<Proposed>,
    households: usize,
    walk_ins: usize,
    jars: String,
    already: Option<i64>,
    remarks: Vec<Remark>,
    entry: String,
    practice: bool,
    /// How many lots only a bracket of tests names.
    beside: usize,
    narrow: bool,
}

/// A lot that is proposed.
struct Proposed {
    code: String,
    why: String,
    ticked: bool,
}

/// The lots that are proposed.
struct Proposal {
    /// Every lot with its tie and why.
    ties: Ties,
    /// Those of them only a bracket of tests names: neither milk nor a vessel leads there.
    beside: BTreeSet<LotId>,
    /// What was typed and is no lot.
    unknown: Vec<String>,
    /// Their codes.
    codes: BTreeMap<i64, String>,
}

/// What follows from what it begins with: a complaint, a result, or codes somebody names.
async fn proposal(here: &Here, asked: &Fields) -> Result<Proposal, Trouble> {
    let mut db = here.app.ledger.read().await?;
    let (mut start, mut bracket, mut unknown) = (Ties::new(), Ties::new(), Vec::new());
    if let Ok(number) = asked.get("complaint").parse::<i64>()
        && let Some(told) = complaints::one(&mut db, number).await?
    {
        start.extend(proposed::of_complaint(&mut db, &told, here.zone(), here.now).await?);
    }
    if let Ok(number) = asked.get("result").parse::<i64>() {
        let found = proposed::of_result(&mut db, number, here.now).await?;
        start.extend(found.start);
        bracket = found.bracket;
    }
    for typed in asked.get("lots").split([',', ' ', ';']).filter(|code| !code.trim().is_empty()) {
        match lots::find(&mut db, typed.trim().to_uppercase().as_str()).await? {
            Some(lot) => drop(start.insert(LotId(lot.number), Tie::Certain("is the lot asked about".to_owned()))),
            None => unknown.push(typed.trim().to_owned()),
        }
    }
    let mut ties = gathered::spread(&mut db, &start).await?;
    let beside: BTreeSet<LotId> = bracket.keys().filter(|lot| !ties.contains_key(lot)).copied().collect();
    ties.extend(bracket.into_iter().filter(|(lot, _)| beside.contains(lot)));
    let codes = proposed::codes(&mut db, &ties).await?;
    Ok(Proposal { ties, beside, unknown, codes })
}

async fn view(here: &Here, asked: &Fields, remarks: Vec<Remark>) -> Result<New, Trouble> {
    let Proposal { ties, beside, unknown, codes } = proposal(here, asked).await?;
    let mut db = here.app.ledger.read().await?;
    let numbers: Vec<i64> = ties.keys().map(|lot| lot.0).collect();
    let outs = callbacks::outs(&mut db, &numbers).await?;
    let already = callbacks::open_with(&mut db, &numbers).await?.filter(|_| asked.get("practice").is_empty());
    drop(db);
    let (sent, narrow) = (!asked.get("sent").is_empty(), asked.get("scope") == "narrow");
    let side = |certain: bool| {
        let own = ties.iter().filter(move |(_, tie)| tie.is_certain() == certain);
        own.filter_map(|(lot, tie)| {
            let code = codes.get(&lot.0)?.clone();
            let ticked = if sent { asked.all("lot").any(|own| own == code) } else { !narrow || !beside.contains(lot) };
            Some(Proposed { ticked, why: tie.why().to_owned(), code })
        })
        .rev()
        .collect::<Vec<_>>()
    };
    let people: BTreeSet<i64> = outs.iter().filter_map(|out| out.household.as_ref().map(|own| own.number)).collect();
    let mut remarks = remarks;
    remarks.extend(
        unknown.into_iter().map(|code| Remark::fault("lots", format!("There is no lot “{code}”. Check the lid, or trace by the day."))),
    );
    let why = if asked.get("because").is_empty() { preset(asked) } else { asked.get("because") };
    Ok(New {
        frame: Frame::of(here, "Binder", "Call milk back (recall)").await?,
        because: BECAUSE.iter().map(|own| (*own, *own == why)).collect(),
        certain: side(true),
        possible: side(false),
        households: people.len(),
        walk_ins: outs.iter().filter(|out| out.household.is_none()).count(),
        jars: outs.iter().map(|out| out.jars).sum::<crate::trade::jars::Jars>().to_string(),
        already,
        beside: beside.len(),
        narrow,
        practice: !asked.get("practice").is_empty(),
        remarks,
        entry: asked.entry(),
        asked: asked.clone(),
    })
}

/// Why, when it follows from what it came of.
fn preset(asked: &Fields) -> &'static str {
    match (asked.get("complaint").is_empty(), asked.get("result").is_empty()) {
        (false, _) => "illness",
        (_, false) => "pathogen found",
        _ => "",
    }
}

async fn propose(here: Here, Query(asked): Query<Vec<(String, String)>>) -> Answer {
    page(&view(&here, &Fields(asked), Vec::new()).await?)
}

/// Opens it: the call-back, every lot with its tie and its reason, and a hold on each that is called back and not held yet; all in
/// one act. What was proposed is worked out again, so that a form left open cannot bring back an old answer.
async fn open(here: Here, Sealed(typed): Sealed) -> Answer {
    let Proposal { ties, codes, .. } = proposal(&here, &typed).await?;
    let held = trace::held(&mut *here.app.ledger.read().await?, &ties.keys().map(|lot| lot.0).collect::<Vec<_>>()).await?;
    // Going back in the browser makes a new form of an old one: two call-backs of one lot would ring everybody twice.
    if typed.get("practice").is_empty() && already(&here, &ties, typed.get("entry")).await? {
        return again(&view(&here, &typed, Vec::new()).await?);
    }
    let decided: Vec<Decided> = ties.iter().filter_map(|(lot, tie)| Decided::of(lot.0, tie, &codes, &typed)).collect();
    if let Some(remark) = refused(&decided, &typed) {
        return again(&view(&here, &typed, vec![remark]).await?);
    }
    match keep(&here, &typed, &decided, &held).await? {
        Ok(number) => onward(&format!("/callbacks/{number}")),
        Err(remarks) => again(&view(&here, &typed, remarks).await?),
    }
}

/// Whether another form has opened a call-back of any of these lots that is not closed.
async fn already(here: &Here, ties: &Ties, entry: &str) -> Result<bool, Trouble> {
    let mut db = here.app.ledger.read().await?;
    let same = records::by_entry(&mut db, kind_of("callbacks")?, entry).await?.is_some();
    let numbers: Vec<i64> = ties.keys().map(|lot| lot.0).collect();
    Ok(!same && callbacks::open_with(&mut db, &numbers).await?.is_some())
}

/// A lot as it was decided about.
struct Decided {
    number: i64,
    code: String,
    certain: bool,
    why: String,
    called: bool,
}

impl Decided {
    fn of(number: i64, tie: &Tie, codes: &BTreeMap<i64, String>, typed: &Fields) -> Option<Decided> {
        let code = codes.get(&number)?.clone();
        let called = tie.is_certain() || typed.get("all") == "yes" || typed.all("lot").any(|own| own == code);
        Some(Decided { number, certain: tie.is_certain(), why: tie.why().chars().take(600).collect(), called, code })
    }
}

fn refused(decided: &[Decided], typed: &Fields) -> Option<Remark> {
    let left_out: Vec<&str> = decided.iter().filter(|own| !own.called).map(|own| own.code.as_str()).collect();
    if decided.iter().all(|own| !own.called) {
        return Some(Remark::fault("lots", "No lot is named. Write the code on the lid, or begin from a complaint or a result."));
    }
    if typed.get("because").is_empty() {
        return Some(Remark::fault("because", "Choose why."));
    }
    let reason = typed.get("reason").trim().chars().count();
    (!left_out.is_empty() && reason < 10).then(|| {
        Remark::fault("reason", format!("{} left out: write why, in ten letters or more. It is printed for ever.", left_out.join(", ")))
    })
}

async fn keep(here: &Here, typed: &Fields, decided: &[Decided], held: &[i64]) -> Result<Result<i64, Vec<Remark>>, Trouble> {
    let practice = !typed.get("practice").is_empty();
    let opening = Line::of("callbacks")
        .now(here)
        .with("sort", if practice { "practice" } else { "call-back" })
        .with("because", typed.get("because"))
        .with("complaint", typed.get("complaint"))
        .with("result", typed.get("result"))
        .with("note", typed.get("note"));
    let mut tx = here.app.ledger.begin().await?;
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    let number = match keeping::within(&mut tx, here, &act, typed.get("entry"), vec![opening]).await? {
        Ok(numbers) => numbers.first().copied().unwrap_or_default(),
        Err(remarks) => return Ok(Err(remarks)),
    };
    let mut lines: Vec<Line> = decided.iter().map(|own| line_of(here, number, own, typed.get("reason"))).collect();
    let open = decided.iter().filter(|own| own.called && !practice && !held.contains(&own.number));
    lines.extend(open.map(|own| hold_of(here, number, &own.code)));
    let marks = secret::entry_within(typed.get("entry"), 1);
    let kept = keeping::within(&mut tx, here, &act, &marks, lines).await?;
    if kept.is_ok() {
        tx.commit().await?;
    }
    Ok(kept.map(|_| number))
}

fn line_of(here: &Here, number: i64, own: &Decided, reason: &str) -> Line {
    Line::of("called")
        .now(here)
        .with("callback", number.to_string())
        .with("lot", own.code.clone())
        .with("tie", if own.certain { "certain" } else { "possible" })
        .with("because", own.why.clone())
        .with("stands", if own.called { "called back" } else { "left out" })
        .with("reason", if own.called { "" } else { reason })
}

fn hold_of(here: &Here, number: i64, code: &str) -> Line {
    Line::of("holds").now(here).with("scope", "lot").with("lot", code).with("reason", format!("Call-back {number}"))
}

/// Adds lots to a call-back, or takes one in or out again; each decision stands beside the one before it.
async fn more(here: Here, Path(number): Path<i64>, Sealed(typed): Sealed) -> Answer {
    let case = super::case(&here, number).await?;
    let mut db = here.app.ledger.read().await?;
    let start: Ties = case.ties();
    let mut ties = gathered::spread(&mut db, &start).await?;
    for code in typed.all("lot") {
        if let Some(lot) = lots::find(&mut db, code.trim().to_uppercase().as_str()).await? {
            ties.entry(LotId(lot.number)).or_insert_with(|| Tie::Possible("was named by hand".to_owned()));
        }
    }
    let codes = proposed::codes(&mut db, &ties).await?;
    let held = trace::held(&mut db, &ties.keys().map(|lot| lot.0).collect::<Vec<_>>()).await?;
    drop(db);
    let out = typed.get("stands") == "left out";
    let mut lines: Vec<Line> = Vec::new();
    for (lot, tie) in &ties {
        let Some(own) =
            Decided::of(lot.0, tie, &codes, &typed).filter(|own| typed.all("lot").any(|code| code.eq_ignore_ascii_case(&own.code)))
        else {
            continue;
        };
        let known = case.lots.iter().find(|known| known.number == own.number);
        let own = Decided {
            called: !out,
            why: known.map_or(own.why.clone(), |known| known.because.clone()),
            certain: known.map_or(own.certain, |known| known.certain),
            ..own
        };
        if out && typed.get("reason").trim().chars().count() < 10 {
            return Err(Trouble::Refused("Leaving a lot out needs a reason of ten letters or more: it is printed for ever.".to_owned()));
        }
        lines.push(line_of(&here, number, &own, typed.get("reason")));
        if own.called && !case.practice && !held.contains(&own.number) {
            lines.push(hold_of(&here, number, &own.code));
        }
    }
    if lines.is_empty() {
        return Err(Trouble::Refused("No such lot. Check the code on the lid: four digits, a letter and a check character.".to_owned()));
    }
    keeping::then(&here, typed.get("entry"), lines, &format!("/callbacks/{number}")).await
}
