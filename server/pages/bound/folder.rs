//! A binder as a folder: the PDF, each table as a CSV file, the kept papers, and a page that lists every file.

use crate::{
    paper::{bundle, csv, folder::Files, pdf},
    store::lab,
    trade::{
        binder::{Binder, files},
        book::sha256,
        figures::Sheet,
    },
    web::answer::{Answer, Trouble, paper},
};
use askama::Template;
use sqlx::SqliteConnection;

/// The page that lists what is in the folder.
#[derive(Template)]
#[template(path = "binder/folder.html")]
struct Contents {
    title: String,
    under: String,
    made: String,
    files: Vec<Listed>,
}

/// One file of the folder.
struct Listed {
    name: String,
    holds: String,
    bytes: usize,
    hash: String,
}

/// A kept paper: its name in the folder, what it holds, and its bytes.
pub type Bytes = (String, String, Vec<u8>);

/// The kept papers of a binder, read before anything is drawn, so that nobody waits for the ledger meanwhile.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn papers(db: &mut SqliteConnection, binder: &Binder) -> Result<Vec<Bytes>, Trouble> {
    let mut all = Vec::with_capacity(binder.kept.len());
    for kept in &binder.kept {
        if let Some((_, bytes)) = lab::paper(&mut *db, kept.number).await? {
            all.push((kept.file(), binder.names.out_of(&kept.paper.of), bytes));
        }
    }
    Ok(all)
}

/// The files of a binder's folder.
///
/// # Errors
/// When a paper cannot be drawn.
pub async fn of(binder: &Binder, papers: Vec<Bytes>) -> Result<Files, Trouble> {
    let (sheet, made) = (binder.sheet(), binder.zone.in_full(binder.now));
    let mut all: Vec<Bytes> = Vec::new();
    all.push((format!("{}.pdf", binder.name()), "The whole binder, to print".to_owned(), drawn(sheet.clone(), made.clone()).await?));
    let tables = files(&sheet).into_iter();
    all.extend(tables.map(|(name, table)| (format!("tables/{name}"), table.caption.clone(), csv::table(table))));
    all.extend(papers);
    let listed =
        |(name, holds, bytes): &Bytes| Listed { name: name.clone(), holds: holds.clone(), bytes: bytes.len(), hash: sha256(bytes) };
    let contents = Contents { title: sheet.title.clone(), under: sheet.under.clone(), made, files: all.iter().map(listed).collect() };
    let page = contents.render().map_err(|error| Trouble::Ours(error.to_string()))?;
    let files = all.into_iter().map(|(name, _, bytes)| (name, bytes));
    Ok(files.chain([("index.html".to_owned(), page.into_bytes())]).collect())
}

/// The folder as one file to keep or to send.
///
/// # Errors
/// When a paper cannot be drawn or packed.
pub async fn packed(binder: &Binder, papers: Vec<Bytes>) -> Answer {
    let (files, name) = (of(binder, papers).await?, binder.name());
    let folder = name.clone();
    let bytes =
        tokio::task::spawn_blocking(move || bundle::bundle(&folder, &files)).await.map_err(|error| Trouble::Ours(error.to_string()))?;
    paper(bytes.map_err(|fault| Trouble::Ours(fault.to_string()))?, bundle::KIND, &format!("{name}.zip"))
}

/// The PDF, drawn beside the work of others.
async fn drawn(sheet: Sheet, made: String) -> Result<Vec<u8>, Trouble> {
    let bytes = tokio::task::spawn_blocking(move || pdf::print(&sheet, &made)).await.map_err(|error| Trouble::Ours(error.to_string()))?;
    bytes.map_err(|fault| Trouble::Ours(fault.to_string()))
}
