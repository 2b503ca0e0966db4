//! Papers that somebody else made, kept in the ledger as they came: the lab's report, a signed agreement. It owns no door.

use super::{Here, kind_of, remarks_of};
use crate::{
    store::{corrections, lab, records},
    trade::{
        book::sha256,
        kinds::Kind,
        records::{Cell, read},
    },
    web::{
        answer::Trouble,
        form::Fields,
        upload::{MOST, Upload},
    },
};

/// Why these bytes are no paper to keep; `what` says which paper it ought to be. A PDF begins with these five letters (ISO
/// 32000-1, 7.5.2).
#[must_use]
pub fn wrong(upload: &Upload, what: &str) -> Option<String> {
    if upload.is_too_large || upload.bytes.len() > MOST {
        Some("This file is larger than 5 MB. Save the paper smaller, or scan it in black and white, and send it again.".to_owned())
    } else if upload.bytes.is_empty() {
        Some(format!("Choose {what} first. It is a PDF file."))
    } else if !upload.bytes.starts_with(b"%PDF-") {
        Some(format!("This file is not a PDF. Save or print {what} as a PDF, and send that."))
    } else {
        None
    }
}

/// What a paper is called: the file's own name without its folders, always with the ending of a PDF.
fn called(name: &str, otherwise: &str) -> String {
    let last = name.rsplit(['/', '\\']).next().unwrap_or_default();
    let plain: String = last.chars().filter(|c| !c.is_control()).take(100).collect();
    let stem = plain.trim().trim_end_matches(".pdf").trim_end_matches(".PDF").trim().to_owned();
    format!("{}.pdf", if stem.is_empty() { otherwise } else { &stem })
}

/// Keeps the bytes, the document and the word of it on the record it belongs to, all in one act; says what stands against it.
///
/// # Errors
/// When that record is not there or the ledger fails.
pub async fn keep(here: &Here, upload: &Upload, of: &'static Kind, number: i64, what: &str) -> Result<Option<String>, Trouble> {
    let documents = kind_of("documents")?;
    let hash = sha256(&upload.bytes);
    let line = Fields::default()
        .with("name", called(&upload.name, what.trim_start_matches("the ")))
        .with("at", here.zone().for_file(here.now))
        .with("hash", hash.clone())
        .with("size", upload.bytes.len().to_string());
    let cells = match read(documents, |column| line.get(column).to_owned(), here.farm.ways) {
        Ok(cells) => cells,
        Err(remarks) => return Ok(remarks.into_iter().map(|remark| remark.says).next()),
    };
    let mut tx = here.app.ledger.begin().await?;
    let Some(record) = records::find(&mut tx, of, number).await? else {
        return Err(Trouble::NotThere(format!("There is no {} {number}.", of.one)));
    };
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    lab::keep_bytes(&mut tx, &hash, &upload.bytes).await?;
    let document = match records::keep(&mut tx, documents, upload.fields.get("entry"), cells, &act).await {
        Ok(kept) if kept.already => return Ok(None),
        Ok(kept) => kept.number,
        Err(refusal) => return Ok(remarks_of(refusal)?.into_iter().map(|remark| remark.says).next()),
    };
    let mut cells = record.cells.clone();
    if let Some(cell) = of.place_of("document").and_then(|place| cells.get_mut(place)) {
        *cell = Cell::To(document);
    }
    match corrections::correct(&mut tx, of, &record, cells, &format!("{what} was kept"), &act).await {
        Ok(()) => tx.commit().await.map(|()| None).map_err(Trouble::from),
        Err(refusal) => Ok(remarks_of(refusal)?.into_iter().map(|remark| remark.says).next()),
    }
}
