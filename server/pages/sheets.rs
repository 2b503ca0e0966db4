//! A report at its address: as a page, and with .csv, .json or .pdf behind it. All four draw the same sheet.

use super::{Frame, Here};
use crate::{
    paper::{csv, json, pdf},
    trade::{
        figures::{Holds, Part, Sheet},
        picture::Mark,
    },
    web::answer::{Answer, Trouble, page, paper},
};
use askama::Template;

/// The form a report is asked for in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// A page.
    Page,
    /// Comma-separated values.
    Csv,
    /// JSON.
    Json,
    /// PDF.
    Pdf,
}

/// Parts an address's last piece into its name and the form asked for: `6134A-S.pdf`.
#[must_use]
pub fn form_of(last: &str) -> (&str, Form) {
    for (ending, form) in [(".csv", Form::Csv), (".json", Form::Json), (".pdf", Form::Pdf)] {
        if let Some(name) = last.strip_suffix(ending) {
            return (name, form);
        }
    }
    (last, Form::Page)
}

/// A sheet on a page, between the page's own head and whatever comes below.
#[derive(Template)]
#[template(path = "papers/sheet.html")]
struct SheetPage {
    frame: Frame,
    sheet: Sheet,
    /// The address without an ending, and what was asked of it.
    address: String,
    query: String,
    /// Forms and links above the sheet, already drawn by a template.
    above: String,
}

/// Answers with a sheet in the form asked for. `address` is the page's own, without its query. `above` is markup drawn by
/// the page's own template, shown between the heading and the sheet; empty for none.
///
/// # Errors
/// When the paper cannot be drawn.
pub async fn answer(here: &Here, place: &'static str, sheet: Sheet, form: Form, address: &str, query: &str, above: String) -> Answer {
    match form {
        Form::Page => {
            let frame = Frame::of(here, place, sheet.title.clone()).await?;
            let query = if query.is_empty() { String::new() } else { format!("?{query}") };
            page(&SheetPage { frame, sheet, address: address.to_owned(), query, above })
        }
        other => as_paper(sheet, other, here.zone().in_full(here.now)).await,
    }
}

/// A sheet as a file in the form asked for; a page is no file, and is given as a PDF.
///
/// # Errors
/// When the paper cannot be drawn.
pub async fn as_paper(sheet: Sheet, form: Form, made: String) -> Answer {
    match form {
        Form::Csv => paper(csv::print(&sheet), "text/csv; charset=utf-8", &format!("{}.csv", sheet.name)),
        Form::Json => paper(json::print(&sheet), "application/json", &format!("{}.json", sheet.name)),
        Form::Page | Form::Pdf => drawn(sheet, made).await,
    }
}

/// The PDF of a sheet. Drawing it takes a while, so it is drawn beside the work of others.
async fn drawn(sheet: Sheet, made: String) -> Answer {
    let name = format!("{}.pdf", sheet.name);
    let bytes = tokio::task::spawn_blocking(move || pdf::print(&sheet, &made)).await.map_err(|error| Trouble::Ours(error.to_string()))?;
    paper(bytes.map_err(|fault| Trouble::Ours(fault.to_string()))?, "application/pdf", &name)
}
