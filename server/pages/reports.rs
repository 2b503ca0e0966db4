//! Reports without a browser: the same sheets the pages show, printed by the program's `report` command.

use super::{books, lots, members, trace};
use crate::{
    paper::{csv, json, pdf},
    settings::Task,
    store::{Ledger, costs, farm},
    trade::{
        costsheet,
        figures::Sheet,
        months::Asked,
        statement::usual_first,
        wear::Span,
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
    let Task::Report { name, from, to, lot, household, form } = task else { return Err("That is no report.".into()) };
    let farm = farm::current(&mut *ledger.read().await?).await?.ok_or("This ledger holds no farm yet: import one, or set one up.")?;
    let sheet = match name.as_str() {
        "cost" => cost(ledger, &farm, *from, *to, now).await?,
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
