//! A milking: when, by whom, and for each cow what the scale said, where the milk went and what the first squirts looked
//! like. Cows and vessel fill themselves in; what was seen and measured starts empty.

mod kept_back;

use super::{App, Frame, Here, field::Field, kind_of, remarks_of};
use crate::{
    store::{farm, herd, milkings, records},
    trade::{
        cows::{Known, judge_all},
        kinds::kind,
        measure::Weight,
        milkings::{Dipstick, ask_about, milk_of},
        records::{Cell, FOREMILK, Remark, Shape, read},
        slips,
        when::{Moment, parse_day},
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

/// Where a cow's milk can go.
const WENT: &[&str] = &["can", "calf", "house", "thrown out"];

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new().look("/milkings/new", Who::Farm, new).send("/milkings", Who::Farm, create).and(kept_back::rooms())
}

/// One cow's part of the form.
struct Pail {
    name: String,
    keep_out: String,
    read: Field,
    tare: Field,
    went: Field,
    foremilk: Field,
}

#[derive(Template)]
#[template(path = "jars/milking.html")]
struct New {
    frame: Frame,
    entry: String,
    remarks: Vec<Remark>,
    times: Vec<Field>,
    well: Field,
    unit: Field,
    vessel: Field,
    all_normal: bool,
    /// The questions answered already, so that a second one does not ask the first again.
    sure: Vec<String>,
    pails: Vec<Pail>,
}

/// A cow on the form, with why her milk must stay out of the can; empty when nothing keeps it out.
struct Milked {
    number: i64,
    /// Whether she is neither dry nor gone, so that the form shows her.
    expected: bool,
    name: String,
    keep_out: String,
}

/// Every cow, judged at a moment.
async fn cows(db: &mut sqlx::SqliteConnection, here: &Here, at: Moment) -> Result<Vec<Milked>, Trouble> {
    let rules = farm::rule_book(&mut *db).await?.on(here.zone().day(at)).base;
    let herd = herd::list(&mut *db, at, here.zone()).await?;
    let known: Vec<&Known> = herd.iter().map(|cow| &cow.known).collect();
    let judged = judge_all(&known, &rules, at, here.zone());
    Ok(herd
        .iter()
        .zip(&judged)
        .map(|(cow, judged)| Milked {
            number: cow.number,
            name: cow.known.name.clone(),
            expected: !judged.has_left() && !judged.is_dry(),
            keep_out: judged.reasons.first().map(|reason| reason.sentence(here.zone())).unwrap_or_default(),
        })
        .collect())
}

async fn view(here: &Here, typed: &Fields, remarks: Vec<Remark>) -> Result<New, Trouble> {
    let mut db = here.app.ledger.read().await?;
    let half = if typed.get("half").is_empty() { "AM" } else { typed.get("half") }.to_owned();
    let last = milkings::last(&mut db, &half).await?;
    // The cows of the day typed: one that was dried off since was still milked then.
    let at = here.zone().parse_moment(milking_line(typed).get("started")).unwrap_or(here.now);
    let mut cows = cows(&mut db, here, at).await?;
    cows.retain(|cow| cow.expected || !typed.get(&format!("read.{}", cow.number)).is_empty());
    cows.sort_by_key(|cow| (last.order.iter().position(|own| *own == cow.number).unwrap_or(usize::MAX), cow.number));
    let vessels: Vec<(String, String)> = records::newest(&mut db, kind_of("vessels")?, 40)
        .await?
        .iter()
        .filter_map(|vessel| {
            Some((vessel.cell(kind("vessels")?, "name").text().to_owned(), vessel.cell(kind("vessels")?, "sort").text().to_owned()))
        })
        .filter(|(_, sort)| sort != "bucket")
        .map(|(name, _)| (name.clone(), name))
        .collect();
    drop(db);
    let opened = typed.get("entry").is_empty();
    let mut typed = typed.clone();
    if opened {
        typed = typed.with("unit", last.unit).with("vessel", last.vessel);
    }
    let mut pails = Vec::new();
    for cow in &cows {
        let kept = cow.keep_out.clone();
        if opened {
            typed = typed
                .with(&format!("tare.{}", cow.number), last.tare.trim_end_matches(" lb"))
                .with(&format!("went.{}", cow.number), if kept.is_empty() { "can" } else { "" });
        }
        let named = |part: &str, label, shape| Field::named(&format!("{part}.{}", cow.number), label, shape, &typed, &remarks);
        pails.push(Pail {
            read: named("read", "Read", Shape::Milk).in_unit("").milk("lb", &format!("f-tare-{}", cow.number)),
            tare: named("tare", "Empty bucket", Shape::Milk),
            went: named("went", "Went to", Shape::OneOf(WENT)),
            foremilk: named("foremilk", "First squirts", Shape::OneOf(FOREMILK)),
            name: cow.name.clone(),
            keep_out: kept,
        });
    }
    pails.sort_by_key(|pail| pail.keep_out.is_empty());
    let field = |name, label, shape| Field::named(name, label, shape, &typed, &remarks);
    Ok(New {
        frame: Frame::of(here, "Jars", "Milking").await?,
        entry: if opened { secret::entry() } else { typed.get("entry").to_owned() },
        times: vec![
            field("day", "Day", Shape::Day),
            field("half", "Morning or evening", Shape::OneOf(&["AM", "PM"])),
            field("started", "Started", Shape::Words(5)).hinted("Clock time, like 05:40"),
            field("ended", "Ended", Shape::Words(5)).hinted("The chill clock counts from here"),
            field("milker", "Milked by", Shape::Words(60)),
        ],
        well: field("well", "Milker well today?", Shape::OneOf(&["yes", "no"]))
            .hinted("With “no”, every jar of this milking says Keep back"),
        unit: field("unit", "Read in", Shape::OneOf(&["lb", "gal", "in"])),
        vessel: field("vessel", "Poured into", Shape::Words(40)).choosing(vessels, true),
        all_normal: typed.get("all_normal") == "yes",
        sure: typed.all("sure").map(str::to_owned).collect(),
        pails,
        remarks,
    })
}

async fn new(here: Here) -> Answer {
    let half = if here.zone().clock(here.now).as_str() < "13:00" { "AM" } else { "PM" };
    let typed =
        Fields::default().with("day", here.zone().day(here.now).to_string()).with("half", half).with("milker", here.visitor.name.clone());
    page(&view(&here, &typed, Vec::new()).await?)
}

async fn create(here: Here, Sealed(typed): Sealed) -> Answer {
    match kept(&here, &typed).await? {
        Ok(next) => onward(&next),
        Err(remarks) => again(&view(&here, &typed, remarks).await?),
    }
}

/// Keeps the milking, and says where to go next: to the jars, unless its milk has to be kept back.
async fn kept(here: &Here, typed: &Fields) -> Result<Result<String, Vec<Remark>>, Trouble> {
    let mut tx = here.app.ledger.begin().await?;
    let line = milking_line(typed);
    let mut remarks = Vec::new();
    let milking = read(kind_of("milkings")?, |column| line.get(column).to_owned(), here.farm.ways)
        .map_err(|more| remarks.extend(more.into_iter().map(on_the_form)))
        .ok();
    if let Some(cells) = &milking {
        remarks.extend(slips::remarks(kind_of("milkings")?, cells, here.farm.ways, here.latest()).into_iter().map(on_the_form));
    }
    let session = line.get("session").to_owned();
    if milking.is_some()
        && records::number_of(&mut tx, "milkings", &session, 0).await?.is_some()
        && !sent_before(&mut tx, typed.get("entry")).await?
    {
        remarks.push(Remark::fault(
            "half",
            format!(
                "{session} is written down already. Open it in the list of milkings and correct it, or choose the other half of the day."
            ),
        ));
    }
    let pails = pails(here, &mut tx, typed, &session, &mut remarks).await?;
    if pails.is_empty() && remarks.is_empty() {
        remarks.push(Remark::fault(
            "unit",
            "No cow has a figure yet. Write what was read for each cow that was milked; leave the others empty.",
        ));
    }
    if typed.get("well") == "no" {
        let says = "Whoever milks is not well: every jar of this milking will say Keep back. Keep it if it is so.";
        remarks.push(Remark::question("well", says, None));
    }
    // Every question about the milker, and about where a cow's milk went, means milk that has to be kept back.
    let kept_back = remarks.iter().any(|asked| asked.question.is_some() && (asked.field == "well" || asked.field.starts_with("went.")));
    let remarks = slips::unanswered(remarks, |field| typed.is_sure(field));
    let (Some(milking), true) = (milking, remarks.is_empty()) else { return Ok(Err(remarks)) };
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    let mut all = vec![("milkings", typed.get("entry").to_owned(), milking)];
    all.extend(pails.into_iter().enumerate().map(|(nth, cells)| ("pails", secret::entry_within(typed.get("entry"), nth), cells)));
    let mut number = 0;
    for (name, entry, cells) in all {
        match records::keep(&mut tx, kind_of(name)?, &entry, cells, &act).await {
            Ok(kept) if name == "milkings" => number = kept.number,
            Ok(_) => {}
            Err(refusal) => return remarks_of(refusal).map(Err),
        }
    }
    tx.commit().await?;
    Ok(Ok(if kept_back { kept_back::address(number) } else { "/fills/new".to_owned() }))
}

async fn sent_before(tx: &mut sqlx::SqliteConnection, entry: &str) -> Result<bool, Trouble> {
    Ok(records::by_entry(tx, kind_of("milkings")?, entry).await?.is_some())
}

/// The milking's own line, from its day, half and clock times.
fn milking_line(typed: &Fields) -> Fields {
    let at = |clock: &str| if clock.trim().is_empty() { String::new() } else { format!("{}T{}", typed.get("day").trim(), clock.trim()) };
    // A milking begun late and ended in the small hours ended on the next day.
    let over_midnight =
        typed.get("started").trim() >= "18:00" && !typed.get("ended").trim().is_empty() && typed.get("ended").trim() < "06:00";
    Fields::default()
        .with("session", format!("{} {}", typed.get("day").trim(), typed.get("half").trim()))
        .with("started", at(typed.get("started")))
        .with(
            "ended",
            if over_midnight { format!("{}T{}", next_day(typed.get("day")), typed.get("ended").trim()) } else { at(typed.get("ended")) },
        )
        .with("milker", typed.get("milker"))
        .with("well", typed.get("well"))
}

fn next_day(day: &str) -> String {
    parse_day(day).ok().and_then(|day| day.succ_opt()).map(|day| day.to_string()).unwrap_or_default()
}

/// A remark on the line, put beside the field of the form it comes from.
fn on_the_form(remark: Remark) -> Remark {
    if remark.field == "session" { Remark { field: "day".to_owned(), ..remark } } else { remark }
}

/// The figure as it is kept: with its unit, whatever pad it was typed on.
fn with_unit(read: &str, unit: &str) -> String {
    let bare =
        !read.trim().is_empty() && read.trim().chars().all(|c| c.is_ascii_digit() || matches!(c, '.' | ',' | ' ' | '/' | '¼' | '½' | '¾'));
    if bare { format!("{} {}", read.trim().replace(',', "."), if unit.is_empty() { "lb" } else { unit }) } else { read.trim().to_owned() }
}

async fn pails(
    here: &Here,
    tx: &mut sqlx::SqliteConnection,
    typed: &Fields,
    session: &str,
    remarks: &mut Vec<Remark>,
) -> Result<Vec<Vec<Cell>>, Trouble> {
    let at = here.zone().parse_moment(milking_line(typed).get("started")).unwrap_or(here.now);
    let vessel = milkings::vessel(&mut *tx, typed.get("vessel")).await?;
    let table = vessel.as_ref().and_then(|(_, table)| Dipstick::parse(table).ok());
    let (mut pails, mut poured) = (Vec::new(), Weight::ZERO);
    for cow in cows(&mut *tx, here, at).await? {
        let name = |part: &str| format!("{part}.{}", cow.number);
        let figure = with_unit(typed.get(&name("read")), typed.get("unit"));
        if figure.is_empty() {
            continue;
        }
        let tare = with_unit(typed.get(&name("tare")), "lb");
        let scale = figure.ends_with("lb") || figure.ends_with("kg");
        let bucket = Weight::parse(&tare).ok().filter(|_| scale && !tare.is_empty());
        let milk = match milk_of(&figure, bucket, table.as_ref()) {
            Ok(milk) => milk,
            Err(fault) => {
                remarks.push(Remark::fault(&name("read"), format!("{}: {fault}", cow.name)));
                continue;
            }
        };
        let usual = milkings::usual(&mut *tx, cow.number, typed.get("half")).await?;
        remarks.extend(ask_about(&name("read"), &cow.name, typed.get(&name("read")), milk, usual));
        let went = typed.get(&name("went"));
        let kept_out = &cow.keep_out;
        if went == "can" {
            poured = poured + milk;
            if !kept_out.is_empty() {
                remarks.push(Remark::question(
                    &name("went"),
                    format!(
                        "{}: {kept_out} If her milk did go into the can, keep it like this: the whole of {} is then Keep back, because mixing never makes it right, and the next page holds it.",
                        cow.name,
                        if typed.get("vessel").is_empty() { "the can" } else { typed.get("vessel") }
                    ),
                    Some("thrown out".to_owned()),
                ));
            }
        }
        let foremilk = if typed.get("all_normal") == "yes" { "ok" } else { typed.get(&name("foremilk")) };
        if went == "can" && foremilk.trim().is_empty() {
            remarks.push(Remark::question(
                &name("foremilk"),
                format!(
                    "{}: nobody wrote how her first squirts looked. Keep it, and the lot says Can't tell; or tap what you saw.",
                    cow.name
                ),
                None,
            ));
        } else if went == "can" && foremilk != "ok" {
            let says = format!(
                "{}: {foremilk} in her first squirts, and into the can? Keep it if it went there: the whole can is then kept back.",
                cow.name
            );
            remarks.push(Remark::question(&name("went"), says, Some("thrown out".to_owned())));
        }
        let line = Fields::default()
            .with("milking", session)
            .with("cow", cow.name.clone())
            .with("read", figure.clone())
            .with("tare", if bucket.is_some() { tare } else { String::new() })
            .with("milk", milk.to_string())
            .with("went", went)
            .with("vessel", if went == "can" { typed.get("vessel") } else { "" })
            .with("foremilk", foremilk);
        match read(kind_of("pails")?, |column| line.get(column).to_owned(), here.farm.ways) {
            Ok(cells) => pails.push(cells),
            Err(more) => remarks.extend(more.into_iter().map(|remark| Remark {
                field: name(&remark.field),
                says: format!("{}: {}", cow.name, remark.says),
                ..remark
            })),
        }
    }
    if poured > Weight::ZERO && typed.get("vessel").trim().is_empty() {
        remarks.push(Remark::fault(
            "vessel",
            "Which vessel was it poured into? A call-back goes by it. If there is none here yet, write one down under Jars, Vessels.",
        ));
    }
    if let Some((Some(holds), _)) = vessel.filter(|(holds, _)| holds.is_some_and(|holds| poured > holds)) {
        remarks.push(Remark::question(
            "vessel",
            format!("{poured} is more than {} holds ({holds}). Keep it, or look at the figures.", typed.get("vessel")),
            None,
        ));
    }
    Ok(pails)
}
