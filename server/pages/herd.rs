//! The herd: who is kept out first, then every cow and her history; and joining a cow to the can, which is refused while a
//! clock of hers runs.

mod strip;
mod turn;

use super::{App, Frame, Here, field::Field, kind_of, remarks_of};
use crate::{
    store::{farm, herd, records},
    trade::{
        cows::{Judged, Known, Reason, judge, judge_all, usual_times},
        fortnight::{MilkChart, MilkDay},
        herd::{Foremilk, dry_off},
        records::{Cell, Remark, read},
        slips,
        verdict::Rules,
        when::{Day, day_shown},
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
use axum::extract::Path;

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new()
        .look("/herd", Who::Farm, index)
        .look("/herd/{cow}", Who::Farm, show)
        .look("/herd/{cow}/join", Who::Farm, ask)
        .send("/herd/{cow}/join", Who::Farm, join)
        .and(strip::rooms())
        .and(turn::rooms())
}

#[derive(Template)]
#[template(path = "herd/index.html")]
struct Index {
    frame: Frame,
    out: Vec<Row>,
    can: Vec<Row>,
    left: Vec<Row>,
}

/// A cow as the list shows her.
struct Row {
    name: String,
    judged: Judged,
    quarters: i64,
    last: String,
    why: Vec<String>,
    joins: String,
    /// Whether somebody wrote that she is not well.
    is_unwell: bool,
    entry: String,
}

/// Her milk in a vessel at her last milking although it had to stay out.
struct Slipped {
    session: String,
    vessel: String,
    why: String,
    reason: String,
    is_held: bool,
    entry: String,
}

#[derive(Template)]
#[template(path = "herd/cow.html")]
struct Show {
    frame: Frame,
    cow: herd::Cow,
    row: Row,
    slipped: Option<Slipped>,
    dry_off: String,
    clocks: Vec<(&'static str, String)>,
    days: Vec<MilkDay>,
    chart: Option<MilkChart>,
    events: Vec<(herd::Past, String)>,
    treatments: Vec<(herd::Past, String)>,
    strips: Vec<(herd::Past, String)>,
    holds: Vec<(herd::Past, String)>,
    lots: Vec<(Day, Vec<String>)>,
}

#[derive(Template)]
#[template(path = "herd/join.html")]
struct Join {
    frame: Frame,
    row: Row,
    barred: bool,
    given_dry: String,
    fields: Vec<Field>,
    remarks: Vec<Remark>,
    entry: String,
}

/// A name as it stands in an address.
fn in_address(name: &str) -> String {
    askama::filters::urlencode_strict(name).map_or_else(|_| String::new(), |safe| safe.to_string())
}

impl Show {
    fn address(&self) -> String {
        in_address(&self.row.name)
    }

    fn is_unmilked(&self) -> bool {
        self.days.iter().all(|day| day.total().is_none())
    }
}

fn row(here: &Here, cow: &herd::Cow, judged: Judged) -> Row {
    let name = cow.known.name.clone();
    let last = cow.pails.last().map(|pail| {
        let went = if pail.went == "can" { String::new() } else { format!(", {}", went(&pail.went)) };
        format!("{} at {}{went}", pail.milk, here.zone().shown(pail.at))
    });
    Row {
        quarters: cow.quarters,
        last: last.unwrap_or_else(|| "not milked in the last three weeks".to_owned()),
        why: judged.reasons.iter().map(|reason| reason.sentence(here.zone())).collect(),
        joins: judged.joins(&name, here.now, here.zone()),
        is_unwell: judged.reasons.iter().any(|reason| matches!(reason, Reason::Unwell(_))),
        entry: secret::entry(),
        name,
        judged,
    }
}

fn went(place: &str) -> &'static str {
    match place {
        "calf" => "to the calf",
        "house" => "to the house",
        "can" => "into the can",
        _ => "thrown out",
    }
}

/// The whole herd and the rule for fresh cows today.
async fn whole(here: &Here) -> Result<(Vec<herd::Cow>, Rules), Trouble> {
    let mut db = here.app.ledger.read().await?;
    let rules = farm::rule_book(&mut db).await?.on(here.zone().day(here.now)).base;
    Ok((herd::list(&mut db, here.now, here.zone()).await?, rules))
}

async fn index(here: Here) -> Answer {
    let (cows, rules) = whole(&here).await?;
    let known: Vec<&Known> = cows.iter().map(|cow| &cow.known).collect();
    let judged = judge_all(&known, &rules, here.now, here.zone());
    let rows = cows.iter().zip(judged).map(|(cow, judged)| row(&here, cow, judged));
    let (left, here_still): (Vec<Row>, Vec<Row>) = rows.partition(|row| row.judged.has_left());
    let (can, mut out): (Vec<Row>, Vec<Row>) = here_still.into_iter().partition(|row| row.judged.in_the_can());
    // What keeps her out by itself stands before what somebody decided, and a dry cow, who gives nothing, stands last.
    let bars = |row: &Row| row.judged.reasons.iter().any(Reason::bars_joining);
    out.sort_by_key(|row| (row.judged.is_dry(), !bars(row)));
    page(&Index { frame: Frame::of(&here, "Herd", "Herd").await?, out, can, left })
}

/// One cow of the herd with how she is judged, by name.
async fn found(here: &Here, name: &str) -> Result<(herd::Cow, Judged, Rules), Trouble> {
    let (mut cows, rules) = whole(here).await?;
    let known: Vec<&Known> = cows.iter().map(|cow| &cow.known).collect();
    let mut judged = judge_all(&known, &rules, here.now, here.zone());
    let place = cows.iter().position(|cow| cow.known.name.eq_ignore_ascii_case(name.trim()));
    let place = place.ok_or_else(|| Trouble::NotThere(format!("There is no cow “{}” in this herd.", crate::trade::short(name))))?;
    Ok((cows.swap_remove(place), judged.swap_remove(place), rules))
}

async fn show(here: Here, Path(name): Path<String>) -> Answer {
    let (cow, judged, rules) = found(&here, &name).await?;
    page(&view_show(&here, cow, judged, &rules).await?)
}

async fn view_show(here: &Here, cow: herd::Cow, judged: Judged, rules: &Rules) -> Result<Show, Trouble> {
    let mut db = here.app.ledger.read().await?;
    let dated = |past: Vec<herd::Past>| past.into_iter().map(|own| (own.clone(), here.zone().in_full(own.at))).collect();
    let events = dated(herd::events(&mut db, cow.number).await?);
    let treatments = dated(herd::treatments(&mut db, cow.number).await?);
    let strips = dated(herd::strip_tests(&mut db, cow.number).await?);
    let holds = dated(herd::holds(&mut db, cow.number).await?);
    let slipped = slipped(&mut db, here, &cow, rules).await?;
    let recent = here.now.plus_hours(-20 * 24);
    let milkings: Vec<i64> = cow.pails.iter().filter(|pail| pail.went == "can").map(|pail| pail.milking).collect();
    let lots = herd::lots_of(&mut db, &milkings).await?.into_iter().filter(|(_, filled)| *filled >= recent);
    let lots = by_day(lots.map(|(code, filled)| (here.zone().day(filled), code)));
    drop(db);
    let days = days(here, &cow);
    let usual = usual_times(&cow.known.milked, here.now, here.zone()).len();
    Ok(Show {
        frame: Frame::of(here, "Herd", cow.known.name.clone()).await?,
        chart: MilkChart::of(&days, usual),
        row: row(here, &cow, judged.clone()),
        slipped,
        dry_off: judged.due.and_then(dry_off).filter(|_| !judged.is_dry()).map(day_shown).unwrap_or_default(),
        clocks: clocks(&judged, rules),
        cow,
        days,
        events,
        treatments,
        strips,
        holds,
        lots,
    })
}

/// Lots in a row by the day they were filled.
fn by_day(lots: impl Iterator<Item = (Day, String)>) -> Vec<(Day, Vec<String>)> {
    let mut days: Vec<(Day, Vec<String>)> = Vec::new();
    for (day, code) in lots {
        match days.last_mut().filter(|(own, _)| *own == day) {
            Some((_, codes)) => codes.push(code),
            None => days.push((day, vec![code])),
        }
    }
    days
}

/// Her last 14 days of milk, a day's milkings together.
fn days(here: &Here, cow: &herd::Cow) -> Vec<MilkDay> {
    let milked = cow.pails.iter().map(|pail| {
        let odd = match pail.foremilk {
            Foremilk::Normal | Foremilk::NotLooked => String::new(),
            look => format!("foremilk {look}"),
        };
        let place = if pail.went == "can" { "" } else { went(&pail.went) };
        (pail.session.as_str(), pail.milk, [place, &odd].into_iter().filter(|word| !word.is_empty()).collect::<Vec<_>>().join(", "))
    });
    MilkDay::last_fourteen(milked, here.zone().day(here.now))
}

/// Her last milking, if it went into a vessel although it had to stay out.
async fn slipped(db: &mut sqlx::SqliteConnection, here: &Here, cow: &herd::Cow, rules: &Rules) -> Result<Option<Slipped>, Trouble> {
    let Some(pail) = cow.pails.last().filter(|pail| pail.went == "can" && !pail.vessel.is_empty()) else { return Ok(None) };
    let Some(why) = cow.known.slipped_in(rules, pail.at, here.zone()) else { return Ok(None) };
    Ok(Some(Slipped {
        session: pail.session.clone(),
        vessel: pail.vessel.clone(),
        why: why.sentence(here.zone()),
        reason: format!("{} milked into it, {}", cow.known.name, pail.session),
        is_held: herd::vessel_is_held(db, &pail.vessel).await?,
        entry: secret::entry(),
    }))
}

/// What her clocks say, whether they run or not, and when she is due.
fn clocks(judged: &Judged, rules: &Rules) -> Vec<(&'static str, String)> {
    let due = judged.due.map(|due| {
        let days = rules.fresh.days_before.and_then(|days| u64::try_from(days).ok());
        let from = days.and_then(|days| due.checked_sub_days(chrono::Days::new(days)));
        let back = from.map_or_else(String::new, |from| format!("; by the rule her milk is kept back from {}", day_shown(from)));
        ("Due to calve", format!("{}{back}", day_shown(due)))
    });
    let fresh = judged.fresh.as_ref().filter(|_| !judged.is_dry()).map(|fresh| ("After calving", fresh.to_string()));
    [("After treatment", judged.withheld.to_string())].into_iter().chain(fresh).chain(due).collect()
}

async fn view_join(here: &Here, cow: &herd::Cow, judged: Judged, typed: &Fields, remarks: Vec<Remark>) -> Result<Join, Trouble> {
    let own = |column: &&crate::trade::records::Column| matches!(column.name, "at" | "note");
    let fields = kind_of("events")?.columns.iter().filter(own).map(|column| Field::of(column, typed, &remarks)).collect();
    let barred = judged.reasons.iter().any(Reason::bars_joining);
    Ok(Join {
        frame: Frame::of(here, "Herd", format!("{} joins the can", cow.known.name)).await?,
        given_dry: cow.known.given_dry(here.now).join(", "),
        row: row(here, cow, judged),
        barred,
        fields,
        remarks,
        entry: typed.entry(),
    })
}

async fn ask(here: Here, Path(name): Path<String>) -> Answer {
    let (cow, judged, _) = found(&here, &name).await?;
    let typed = Fields::default().with("at", here.zone().for_field(here.now));
    page(&view_join(&here, &cow, judged, &typed, Vec::new()).await?)
}

async fn join(here: Here, Path(name): Path<String>, Sealed(typed): Sealed) -> Answer {
    let (cow, judged, rules) = found(&here, &name).await?;
    let line = typed.clone().with("cow", cow.known.name.clone()).with("sort", "joined the can");
    let remarks = match read(kind_of("events")?, |column| line.get(column).to_owned(), here.farm.ways) {
        Ok(cells) => match against(&here, &cow, &rules, &cells)? {
            remarks if remarks.is_empty() => keep(&here, typed.get("entry"), vec![("events", cells)]).await?,
            remarks => remarks,
        },
        Err(remarks) => remarks,
    };
    if remarks.is_empty() {
        return onward(&format!("/herd/{}", in_address(&cow.known.name)));
    }
    again(&view_join(&here, &cow, judged, &typed, remarks).await?)
}

/// What speaks against joining her at the moment typed. Milk that is in the can already is written down at the milking; this
/// is only the decision, so it may be refused.
fn against(here: &Here, cow: &herd::Cow, rules: &Rules, cells: &[Cell]) -> Result<Vec<Remark>, Trouble> {
    let kind = kind_of("events")?;
    let mut remarks = slips::remarks(kind, cells, here.farm.ways, here.latest());
    let at = kind.cell(cells, "at").moment().unwrap_or(here.now);
    let usual = usual_times(&cow.known.milked, here.now, here.zone());
    let then = judge(&cow.known, rules, &usual, at, here.zone());
    let barring = then.reasons.iter().filter(|reason| reason.bars_joining());
    let joins = then.joins(&cow.known.name, at, here.zone());
    if then.has_left() {
        remarks.push(Remark::fault("at", format!("{} had left the herd by then.", cow.known.name)));
    }
    remarks.extend(barring.map(|reason| Remark::fault("at", format!("Not yet. {} {joins}", reason.sentence(here.zone())))));
    Ok(remarks)
}

/// Keeps what one form said, in one act: each record with a mark of its own, made from the form's.
async fn keep(here: &Here, entry: &str, records: Vec<(&'static str, Vec<Cell>)>) -> Result<Vec<Remark>, Trouble> {
    let mut tx = here.app.ledger.begin().await?;
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    for (nth, (name, cells)) in records.into_iter().enumerate() {
        let own = if nth == 0 { entry.to_owned() } else { secret::entry_within(entry, nth) };
        if let Err(refusal) = records::keep(&mut tx, kind_of(name)?, &own, cells, &act).await {
            return remarks_of(refusal);
        }
    }
    tx.commit().await.map(|()| Vec::new()).map_err(Trouble::from)
}
