//! A trace that begins anywhere: what was typed, read into the lots it leads to first.

use super::super::{Here, field::Field, gathered};
use crate::{
    store::{Failure, lots, records, trace},
    trade::{
        callback::Asked,
        kinds::kind,
        near,
        records::{Remark, Shape},
        starts::{Begun, Days, Fed, Start, WORDS},
        trace::{CowId, LotId, MilkingId, Ties, VesselId},
        when::{Day, Moment, day_shown, days_in_words, parse_day},
    },
    web::form::Fields,
};
use sqlx::SqliteConnection;

/// The four fields of the form.
pub(super) fn fields(asked: &Fields, remarks: &[Remark]) -> [Field; 4] {
    let which = WORDS.iter().skip(2).map(|(_, says, which)| format!("{says}: {which}")).collect::<Vec<_>>().join("; ");
    let begins = WORDS.iter().filter(|(word, ..)| *word != "jar").map(|(word, says, _)| ((*word).to_owned(), (*says).to_owned())).collect();
    let named = |name, label, shape| Field::named(name, label, shape, asked, remarks);
    [
        named("from", "It began with", Shape::Words(20)).choosing(begins, false),
        named("which", "Which", Shape::Words(60)).hinted(which),
        named("since", "On that day, or from", Shape::Day).optional(true).hinted("A cow, a vessel, a day and what somebody took need it"),
        named("until", "To", Shape::Day).optional(true),
    ]
}

fn says(field: &str, says: impl Into<String>) -> Remark {
    Remark::fault(field, says.into())
}

/// The lots it leads to first and what was asked, or what to say beside a field.
///
/// # Errors
/// When the ledger cannot be read.
pub(super) async fn read(db: &mut SqliteConnection, here: &Here, asked: &Fields) -> Result<Result<(Ties, Asked), Remark>, Failure> {
    let (start, begun) = match start(&mut *db, here, asked).await? {
        Ok(found) => found,
        Err(remark) => return Ok(Err(remark)),
    };
    if let Start::Lot(lot) | Start::Jar(lot) = start {
        let ties = start.ties(&Default::default(), here.zone());
        let code = lots::list(db, &[lot.0]).await?.into_iter().next().map(|lot| lot.code).unwrap_or_default();
        return Ok(Ok((ties, Asked::Lot(code))));
    }
    let lists = trace::lists(db).await?;
    Ok(Ok((start.ties(&lists, here.zone()), Asked::Begun(begun))))
}

async fn start(db: &mut SqliteConnection, here: &Here, asked: &Fields) -> Result<Result<(Start, Begun), Remark>, Failure> {
    let begun = |what: String, says: Vec<&str>| Begun { what, says: says.into_iter().map(str::to_owned).collect() };
    let which = asked.get("which").trim();
    macro_rules! known {
        ($found:expr) => {
            match $found {
                Ok(found) => found,
                Err(remark) => return Ok(Err(remark)),
            }
        };
    }
    Ok(Ok(match asked.get("from").trim() {
        "lot" => (Start::Lot(LotId(known!(lot(db, which).await?))), Begun::default()),
        "jar" => (Start::Jar(LotId(known!(lot(db, which).await?))), Begun::default()),
        "filter" => {
            let lot = known!(lot(db, which).await?);
            let note = "A lot of which nobody wrote whether the filter was new counts as filtered through the old one.";
            (
                Start::Filter(LotId(lot), trace::filters(db).await?),
                begun(format!("The filter that {} went through", which.to_uppercase()), vec![note]),
            )
        }
        "cow" => {
            let (cow, name) = known!(named(db, "cows", which).await?);
            let days = known!(days(here, asked, true));
            (Start::Cow(CowId(cow), days), begun(format!("The milk of {name} {}", days.shown()), vec![]))
        }
        "milking" => {
            let (milking, session) = known!(named(db, "milkings", which).await?);
            (Start::Milking(MilkingId(milking)), begun(format!("The milking of {}", days_in_words(&session)), vec![]))
        }
        "vessel" => {
            let (vessel, name) = known!(named(db, "vessels", which).await?);
            let (from, until, when) = known!(moments(here, asked));
            (Start::Vessel(VesselId(vessel), from, until), begun(format!("{name} {when}"), vec![PARTED]))
        }
        "wash" => {
            let (number, vessel) = known!(numbered(db, "vessels", which).await?);
            let found = trace::washed(db, number, vessel, known!(end_of(here, asked))).await?;
            let none = || says("which", "No washing of it is written down up to that day.");
            let (vessel, at, name) = known!(found.ok_or_else(none));
            (Start::Wash(vessel, at), begun(format!("The washing of {name} on {}", here.zone().in_full(at)), vec![PARTED]))
        }
        "treatment" => {
            let (number, cow) = known!(numbered(db, "cows", which).await?);
            let found = trace::treated(db, number, cow, known!(end_of(here, asked))).await?;
            let treated = known!(found.ok_or_else(|| says("which", "No treatment of her is written down up to that day.")));
            let what = format!("{} treated with {} on {}", treated.name, treated.dose.product, here.zone().in_full(treated.dose.at));
            (Start::Treatment(treated), begun(what, vec!["Her milk is followed until her time was over, by what is written. Ask the vet."]))
        }
        "feed" => {
            let fed = known!(fed(db, here, asked, which).await?);
            let (what, ends) = (format!("{} fed {}", fed.what, fed.days.shown()), fed.ends.clone());
            (Start::Feed(fed), Begun { what, says: vec![ends] })
        }
        "person" => {
            let (person, label) = known!(named(db, "people", which).await?);
            let days = known!(days(here, asked, false));
            let (from, until) = (here.zone().start_of(days.from), here.zone().end_of(days.until));
            let taken = trace::taken(db, person, from, until).await?.into_iter().map(|(at, lot, _)| (at, LotId(lot))).collect();
            let stood = gathered::standing(db, here.zone(), from, until).await?;
            (Start::Person(days, taken, stood), begun(format!("What {label} had {}", days.shown()), vec![]))
        }
        "date" => {
            let day = known!(days(here, asked, false)).from;
            let stood = gathered::standing(db, here.zone(), here.zone().start_of(day), here.zone().end_of(day)).await?;
            (Start::Date(day, stood), begun(format!("What was filled or on hand on {}", day_shown(day)), vec![]))
        }
        _ => return Ok(Err(says("from", "Choose what it began with."))),
    }))
}

/// What to know of a trace through a vessel.
const PARTED: &str = "Only a clean break that was written down, washed and sanitised, parts what went through a vessel.";

/// The number and the name of a record that goes by a name, or the nearest names.
async fn named(db: &mut SqliteConnection, of: &'static str, typed: &str) -> Result<Result<(i64, String), Remark>, Failure> {
    let Some(kind) = kind(of) else { return Ok(Err(says("which", "There is nothing of that kind."))) };
    let known = records::keys(db, kind).await?;
    if let Some(found) = known.iter().find(|(_, name)| name.eq_ignore_ascii_case(typed)) {
        return Ok(Ok(found.clone()));
    }
    Ok(Err(says("which", near::unknown(kind.one, typed, known.iter().map(|(_, name)| name.as_str())))))
}

/// A lot by its code.
async fn lot(db: &mut SqliteConnection, typed: &str) -> Result<Result<i64, Remark>, Failure> {
    Ok(match super::lot_of(db, typed).await? {
        Ok(lot) => Ok(lot.number),
        Err(sentence) => Err(says("which", sentence)),
    })
}

/// A record by its number, or whatever goes by that name.
async fn numbered(db: &mut SqliteConnection, of: &'static str, typed: &str) -> Result<Result<(Option<i64>, Option<i64>), Remark>, Failure> {
    if let Ok(number) = typed.parse() {
        return Ok(Ok((Some(number), None)));
    }
    Ok(named(db, of, typed).await?.map(|(number, _)| (None, Some(number))))
}

/// What was fed: a ticket by its number, or everything ever in a store; on the days typed, where any are.
async fn fed(db: &mut SqliteConnection, here: &Here, asked: &Fields, which: &str) -> Result<Result<Fed, Remark>, Failure> {
    let bought = match numbered(db, "stores", which).await? {
        Ok((Some(ticket), _)) => trace::bought(db, ticket).await?,
        Ok((_, store)) => trace::kept(db, store.unwrap_or_default()).await?,
        Err(remark) => return Ok(Err(remark)),
    };
    let Some(bought) = bought else { return Ok(Err(says("which", "No ticket has that number."))) };
    let mut fed = Fed::of(&bought, here.zone().day(here.now));
    for (name, end) in [("since", &mut fed.days.from), ("until", &mut fed.days.until)] {
        match day(here, asked, name) {
            Ok(Some(typed)) => *end = typed,
            Ok(None) => {}
            Err(remark) => return Ok(Err(remark)),
        }
    }
    Ok(in_order(fed.days).map(|days| Fed { days, ..fed }))
}

/// A day that was typed, if one was; one still to come is a slip.
fn day(here: &Here, asked: &Fields, name: &str) -> Result<Option<Day>, Remark> {
    let typed = asked.get(name).trim();
    if typed.is_empty() {
        return Ok(None);
    }
    let day = parse_day(typed).map_err(|fault| says(name, fault.to_string()))?;
    if day > here.zone().day(here.now) { Err(says(name, "That day has not come yet.")) } else { Ok(Some(day)) }
}

fn in_order(days: Days) -> Result<Days, Remark> {
    if days.from > days.until { Err(says("until", "The last day is before the first.")) } else { Ok(days) }
}

/// The days that were typed. Where only the first was, it is that day alone, or up to today.
fn days(here: &Here, asked: &Fields, up_to_today: bool) -> Result<Days, Remark> {
    let from = day(here, asked, "since")?.ok_or_else(|| says("since", "Write the day, or the first day."))?;
    let otherwise = if up_to_today { here.zone().day(here.now) } else { from };
    in_order(Days { from, until: day(here, asked, "until")?.unwrap_or(otherwise) })
}

/// The moments between which a vessel is asked about: a moment, a day, or several days.
fn moments(here: &Here, asked: &Fields) -> Result<(Moment, Moment, String), Remark> {
    let zone = here.zone();
    if let Ok(at) = zone.parse_moment(asked.get("since")) {
        return Ok((at, at, format!("on {}", zone.in_full(at))));
    }
    let days = days(here, asked, false)?;
    Ok((zone.start_of(days.from), zone.end_of(days.until), days.shown()))
}

/// The end of the day that was typed, or now.
fn end_of(here: &Here, asked: &Fields) -> Result<Moment, Remark> {
    Ok(day(here, asked, "since")?.map_or(here.now, |day| here.zone().end_of(day)))
}
