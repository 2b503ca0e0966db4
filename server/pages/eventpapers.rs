//! The papers of what happened to some lots, for whoever asks: a spreadsheet and a CSV file that can be sorted, and an EPCIS
//! document. Any page that knows some lots hands them out: a trace, a call-back.

use super::Here;
use crate::{
    paper::{csv, epcis, xlsx},
    store::events,
    trade::{
        events::Called,
        eventsheet::{Asked, EVENTS},
        figures::{Part, Sheet},
    },
    web::answer::{Answer, Trouble, paper},
};
use sqlx::SqliteConnection;

/// The form they are asked for in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// A spreadsheet.
    Xlsx,
    /// Comma-separated values.
    Csv,
    /// An EPCIS 2.0 document.
    Epcis,
}

/// What is wanted.
#[derive(Clone, Debug)]
pub struct Wanted {
    /// What the papers are of, as a file is named: `6134A-S`, `call-back-3`.
    pub of: String,
    /// The same as the sheet says it.
    pub about: String,
    /// The call-back these lots are of, if they are.
    pub called: Option<Called>,
    /// Whether the sheet names households. An EPCIS document never does.
    pub names: bool,
    /// The form.
    pub form: Form,
}

/// The paper of these lots' events. The connection is only read from, and not needed any more once the events are there.
///
/// # Errors
/// When the ledger cannot be read, or the paper cannot be made.
pub async fn answer(db: &mut SqliteConnection, here: &Here, lots: &[i64], wanted: Wanted) -> Answer {
    let all = events::of_lots(db, lots).await?;
    let all = match &wanted.called {
        Some(called) => all.called_back(called),
        None => all,
    };
    if wanted.form == Form::Epcis {
        return paper(epcis::print(&all, here.zone(), here.now), epcis::KIND, &format!("epcis-{}.json", wanted.of));
    }
    let name = format!("events-{}", wanted.of);
    let sheet = all.sheet(&Asked { name, about: wanted.about, names: wanted.names, now: here.now, zone: here.zone() });
    if wanted.form == Form::Csv {
        return paper(rows(&sheet), "text/csv; charset=utf-8", &format!("{}.csv", sheet.name));
    }
    bound(sheet, here).await
}

/// The events alone: one table that any program sorts as it stands.
fn rows(sheet: &Sheet) -> Vec<u8> {
    let tables = sheet.parts.iter().filter_map(|part| if let Part::Table(table) = part { Some(table) } else { None });
    tables.filter(|table| table.name == EVENTS).flat_map(csv::table).collect()
}

/// The spreadsheet. Packing it takes a while, so it is packed beside the work of others.
async fn bound(sheet: Sheet, here: &Here) -> Answer {
    let (name, now) = (format!("{}.xlsx", sheet.name), here.now);
    let bytes = tokio::task::spawn_blocking(move || xlsx::print(&sheet, now)).await.map_err(|error| Trouble::Ours(error.to_string()))?;
    paper(bytes.map_err(|fault| Trouble::Ours(fault.to_string()))?, xlsx::KIND, &name)
}
