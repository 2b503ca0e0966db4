//! The page of one lot: what may be done with it in one sentence, and then everything that sentence rests on. It owns no
//! door.

use super::{Deciding, Forms, Told};
use crate::{
    pages::{Frame, Here, field::Field},
    store::lots,
    trade::{
        balance::{Balance, find_window},
        lotsheet::{LotFile, moved},
        records::Remark,
        when::{Moment, day_shown},
    },
    web::answer::Trouble,
};
use askama::Template;

/// The page of one lot.
#[derive(Template)]
#[template(path = "jars/lot.html")]
pub(super) struct Show {
    frame: Frame,
    lot: lots::Lot,
    filled: String,
    own: LotFile,
    /// What the owner decided, as it was decided, and whether it still counts.
    ruled: Vec<(String, bool)>,
    deciding: Option<Deciding>,
    facts: Vec<(&'static str, String)>,
    rows: Vec<(String, String, String, String, bool)>,
    /// Readings struck through: when, what it showed, and by whom and why.
    struck: Vec<(String, String, String)>,
    balance: Balance,
    window: String,
    callers: Vec<String>,
    history: Vec<(String, String, String)>,
    remarks: Vec<Remark>,
    aside: Vec<Field>,
    sizes: Vec<Field>,
    entry: String,
}

/// Lays the page out, with whatever was typed in one of its forms.
pub(super) async fn laid_out(here: &Here, lot: lots::Lot, (own, told): (LotFile, Told), forms: Forms) -> Result<Show, Trouble> {
    let zone = here.zone();
    let window = find_window(&own.movements, &told.counts);
    let struck = own.struck.iter().map(|own| (zone.shown(own.at), own.showed.clone(), own.says(zone))).collect();
    let row = |row: &crate::trade::curve::Row| (zone.shown(row.at), row.after.clone(), row.jar.clone(), row.remark.clone(), row.estimate);
    Ok(Show {
        frame: Frame::of(here, "Jars", format!("Lot {}", lot.code)).await?,
        filled: zone.in_full(lot.filled),
        ruled: own.ruled.iter().map(|ruled| (ruled.says(zone), own.counts(ruled))).collect(),
        deciding: forms.deciding,
        facts: known(here, &lot, &own),
        rows: own.rows.iter().map(row).collect(),
        struck,
        balance: own.jars.balance(),
        window: window.as_ref().map(|own| format!("between {} and {}", zone.shown(own.from), zone.shown(own.until))).unwrap_or_default(),
        callers: window.map(|window| window.callers).unwrap_or_default().into_iter().filter(|_| here.visitor.is_owner()).collect(),
        history: history(here, &own, told),
        aside: forms.aside.0,
        sizes: forms.aside.1,
        entry: forms.entry,
        remarks: forms.remarks,
        own,
        lot,
    })
}

/// Everything that happened to a lot, oldest first. A helper sees how many jars went, and not to whom.
fn history(here: &Here, own: &LotFile, told: Told) -> Vec<(String, String, String)> {
    let whose = |who: &str| if here.visitor.is_owner() && !who.is_empty() { format!("to {who}") } else { String::new() };
    let moves = own.movements.iter().map(|own| (own.at, format!("{}: {}", moved(own.what), own.jars), whose(&own.who)));
    let mut all: Vec<(Moment, String, String)> = moves.collect();
    all.extend(told.counts.iter().map(|count| (count.at, format!("Counted: {}", count.jars), String::new())));
    all.extend(own.facts.readings.iter().map(|reading| (reading.at, format!("Read {}", reading.temperature), String::new())));
    all.extend(own.facts.lab.own.iter().map(|result| {
        let figure = own.wrote.get(&result.number).cloned().unwrap_or_else(|| result.figure.to_string());
        let reported = format!("in the bottle drawn then, reported {}", day_shown(result.reported));
        (result.drawn, format!("The lab wrote {}: {figure}", result.analyte), reported)
    }));
    for hold in &own.stopped {
        all.push((hold.at, format!("{} was held", hold.what), hold.reason.clone()));
        all.extend(hold.lifted.iter().map(|(at, why, who)| (*at, format!("{} was lifted", hold.what), format!("by {who}: {why}"))));
    }
    all.extend(own.ruled.iter().map(|ruled| (ruled.at, "Decided otherwise".to_owned(), format!("by {}: {}", ruled.who, ruled.reason))));
    let struck =
        own.struck.iter().map(|own| (own.struck, format!("Reading of {} taken out", own.showed), format!("by {}: {}", own.who, own.why)));
    all.extend(struck);
    all.extend(told.struck.into_iter().map(|own| (own.at, "Corrected".to_owned(), format!("by {}: {}", own.who, own.why))));
    all.sort_by_key(|(at, _, _)| *at);
    all.into_iter().map(|(at, what, more)| (here.zone().shown(at), what, more)).collect()
}

fn known(here: &Here, lot: &lots::Lot, own: &LotFile) -> Vec<(&'static str, String)> {
    let facts = &own.facts;
    let missing = |name: &str| format!("{name} is not written down");
    let sessions: Vec<String> = facts
        .milkings
        .iter()
        .map(|own| {
            let cows: Vec<&str> = own.cows.iter().map(|part| part.cow.as_str()).collect();
            format!("{} ({})", own.session, if cows.is_empty() { "no cow written down".to_owned() } else { cows.join(", ") })
        })
        .collect();
    let parents: Vec<&str> = facts.parents.iter().map(|parent| parent.code.as_str()).collect();
    let ended = facts.milkings.iter().filter_map(|own| own.times.end).max();
    let from = if sessions.is_empty() && parents.is_empty() { missing("No milking, so where it is from") } else { sessions.join("; ") };
    let ended =
        ended.map(|at| here.zone().shown(at)).unwrap_or_else(|| if sessions.is_empty() { String::new() } else { missing("The end") });
    let all = [
        ("Jars filled", lot.jars.to_string()),
        ("Milk from", from),
        ("Made from", parents.join(", ")),
        ("Milking ended", ended),
        ("From vessel", lot.vessel.clone()),
        ("Oldest milk", here.zone().shown(facts.oldest())),
        ("Best by", facts.best_by().map(day_shown).unwrap_or_else(|| "no rule or choice names a day".to_owned())),
        ("Note", lot.note.clone()),
    ];
    all.into_iter().filter(|(_, says)| !says.is_empty()).collect()
}
