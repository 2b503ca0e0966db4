//! Reports without a browser: the same sheets the pages show, printed by the program's `report` command.

use super::{
    books,
    bound::{self, Wanted},
    lots, members, trace,
};
use crate::{
    paper::{csv, folder::Files, json, pdf},
    settings::Task,
    store::{Ledger, costs, farm, journal},
    trade::{
        binder::Leads,
        compared, costsheet, cover,
        figures::Sheet,
        months::Asked,
        records::Remark,
        statement::usual_first,
        wear::Span,
        what_if::Changes,
        when::{Day, Moment},
    },
    web::answer::Trouble,
};

type Printed<T> = Result<T, Box<dyn std::error::Error>>;

/// Prints the report a command asked for.
///
/// # Errors
/// When the report is not known, what it is about is not there, or the ledger cannot be read.
pub async fn print(ledger: &Ledger, task: &Task, now: Moment) -> Printed<Vec<u8>> {
    let Task::Report { name, from, to, changes, lot, household, form } = task else { return Err("That is no report.".into()) };
    let farm = farm::current(&mut *ledger.read().await?).await?.ok_or("This ledger holds no farm yet: import one, or set one up.")?;
    let sheet = match name.as_str() {
        "cost" => cost(ledger, &farm, *from, *to, now).await?,
        "what-if" | "cover" => what_if(ledger, &farm, (name, changes.as_deref()), *to, now).await?,
        "members" => {
            let asked = asked(ledger, &farm, *from, *to, now).await?;
            members::sheet_of(&mut *ledger.read().await?, &farm, asked.span).await?
        }
        "trace" => trace::report(ledger, lot.as_deref().ok_or("Name the lot with --lot, like --lot 6134A-S.")?, now).await?,
        "books" => books::overview_of(&mut *ledger.read().await?, &farm, now).await.map_err(|trouble| format!("{trouble:?}"))?,
        "statement" => {
            let label = household.as_deref().ok_or("Name the household with --household, like --household M05.")?;
            statement(ledger, &farm, label, (*from, *to), now).await?
        }
        _ => lots::on_hand_sheet(ledger, farm.ways.zone, now).await?,
    };
    Ok(match form.as_str() {
        "pdf" => pdf::print(&sheet, &farm.ways.zone.in_full(now))?,
        "json" => json::print(&sheet),
        _ => csv::print(&sheet),
    })
}

/// The files of the binder for an inspector.
///
/// # Errors
/// When the days are the wrong way round or have not come, the ledger cannot be read, or a paper cannot be drawn.
pub async fn binder(ledger: &Ledger, (from, to): (Option<Day>, Option<Day>), names: bool, now: Moment) -> Printed<Files> {
    let mut db = ledger.read().await?;
    let farm = farm::current(&mut db).await?.ok_or("This ledger holds no farm yet: import one, or set one up.")?;
    let usual = bound::usual(farm::since(&mut db).await?, farm.ways.zone.day(now));
    let span = Span { from: from.unwrap_or(usual.from), to: to.unwrap_or(usual.to) };
    if span.days() == 0 {
        return Err(format!("--from {} comes after --to {}.", span.from, span.to).into());
    }
    // A clock that is behind the ledger cannot say what has not come.
    let known = journal::last_written(&mut db).await?.map_or(now, |last| last.max(now));
    if let Some(day) = [span.from, span.to].into_iter().find(|day| *day > farm.ways.zone.day(known)) {
        return Err(bound::not_come(day).into());
    }
    let wanted = Wanted { span, who: "the command line".to_owned(), leads: Leads::Nowhere, names };
    let said = |trouble: Trouble| format!("{trouble:?}");
    let binder = bound::gather(&mut db, &farm, &wanted, now).await.map_err(said)?;
    let papers = bound::folder::papers(&mut db, &binder).await.map_err(said)?;
    drop(db);
    Ok(bound::folder::of(&binder, papers).await.map_err(said)?)
}

/// The days a report of costs is about. The twelve months beside them end on the last day asked about, or the last with records.
async fn asked(ledger: &Ledger, farm: &farm::Farm, from: Option<Day>, to: Option<Day>, now: Moment) -> Printed<Asked> {
    let (zone, mut db) = (farm.ways.zone, ledger.read().await?);
    let today = zone.day(now);
    let last = match to {
        Some(to) => to,
        None => costs::last_day(&mut db, zone).await?.map_or(today, |last| last.min(today)),
    };
    let asked = Asked::between(from, Some(last), last, costs::since(&mut db).await?);
    if asked.span.days() == 0 {
        return Err(format!("--from {} comes after --to {}.", asked.span.from, asked.span.to).into());
    }
    Ok(asked)
}

/// What a half-gallon costs.
async fn cost(ledger: &Ledger, farm: &farm::Farm, from: Option<Day>, to: Option<Day>, now: Moment) -> Printed<Sheet> {
    let asked = asked(ledger, farm, from, to, now).await?;
    let (zone, mut db) = (farm.ways.zone, ledger.read().await?);
    let today = zone.day(now);
    let books = costs::books(&mut db, zone, &asked.spans(), &asked.spans_by_cow(), today).await?;
    Ok(costsheet::sheet(&books, asked, &farm.name))
}

/// The twelve months to a day with something changed, or what must come in to cover them.
async fn what_if(ledger: &Ledger, farm: &farm::Farm, (name, typed): (&str, Option<&str>), to: Option<Day>, now: Moment) -> Printed<Sheet> {
    let (zone, mut db) = (farm.ways.zone, ledger.read().await?);
    let today = zone.day(now);
    let last = match to {
        Some(to) => to,
        None => costs::last_day(&mut db, zone).await?.map_or(today, |last| last.min(today)),
    };
    let span = Asked::year_to(last, costs::since(&mut db).await?).year;
    let books = costs::books(&mut db, zone, &[span], &[span], today).await?;
    if name == "cover" {
        let shares = costs::boarded(&mut db, last).await?;
        return Ok(cover::sheet(&books, span, shares, &farm.name));
    }
    let changes = typed.map(Changes::parse).transpose().map_err(|fault| fault.to_string())?;
    let said = |wrongs: Vec<Remark>| wrongs.into_iter().map(|own| own.says).collect::<Vec<_>>().join(" ");
    let then = changes.as_ref().map(|own| books.with(own, span)).transpose().map_err(said)?;
    Ok(compared::sheet(&books, changes.as_ref().zip(then.as_ref()), &costs::saved(&mut db).await?, span, &farm.name))
}

/// A household's statement, up to today where no last day was asked for.
async fn statement(ledger: &Ledger, farm: &farm::Farm, label: &str, asked: (Option<Day>, Option<Day>), now: Moment) -> Printed<Sheet> {
    let to = asked.1.unwrap_or_else(|| farm.ways.zone.day(now));
    let span = Span { from: asked.0.unwrap_or_else(|| usual_first(to)), to };
    if span.days() == 0 {
        return Err(format!("--from {} comes after --to {}.", span.from, span.to).into());
    }
    match books::sheet_of(&mut *ledger.read().await?, farm, label, span).await {
        Ok((sheet, _)) => Ok(sheet),
        Err(Trouble::NotThere(says)) => Err(says.into()),
        Err(trouble) => Err(format!("{trouble:?}").into()),
    }
}
