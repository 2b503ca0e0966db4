//! The lab's own paper, kept in the ledger as it came, and given back as a file and never as a page.

use super::{known, view};
use crate::{
    pages::{Here, kind_of, remarks_of},
    store::{corrections, lab, records},
    trade::{
        book::sha256,
        records::{Cell, Remark, read},
    },
    web::{
        answer::{Answer, Trouble, again, onward},
        form::Fields,
        upload::{MOST, Upload},
    },
};
use axum::{
    body::Body,
    extract::Path,
    http::header,
    response::{IntoResponse, Response},
};

pub(super) async fn keep(here: Here, Path(number): Path<i64>, upload: Upload) -> Answer {
    let says = match wrong(&upload) {
        Some(says) => Some(says.to_owned()),
        None => kept(&here, number, &upload).await?,
    };
    match says {
        None => onward(&format!("/lab/samples/{number}")),
        Some(says) => {
            let known = known(&mut *here.app.ledger.read().await?, &here, number).await?;
            again(&view(&here, known, &Fields::default(), vec![Remark::fault("paper", says)]).await?)
        }
    }
}

/// Why these bytes are no paper to keep. A PDF begins with these five letters (ISO 32000-1, 7.5.2).
fn wrong(upload: &Upload) -> Option<&'static str> {
    if upload.is_too_large || upload.bytes.len() > MOST {
        Some("This file is larger than 5 MB. Save the paper smaller, or scan it in black and white, and send it again.")
    } else if upload.bytes.is_empty() {
        Some("Choose the lab's paper first. It is a PDF file.")
    } else if !upload.bytes.starts_with(b"%PDF-") {
        Some("This file is not a PDF. Save or print the lab's paper as a PDF, and send that.")
    } else {
        None
    }
}

/// What a paper is called: the file's own name without its folders, always with the ending of a PDF.
fn called(name: &str) -> String {
    let last = name.rsplit(['/', '\\']).next().unwrap_or_default();
    let plain: String = last.chars().filter(|c| !c.is_control()).take(100).collect();
    let stem = plain.trim().trim_end_matches(".pdf").trim_end_matches(".PDF").trim().to_owned();
    if stem.is_empty() { "lab paper.pdf".to_owned() } else { format!("{stem}.pdf") }
}

/// Keeps the bytes, the document and the sample's word of it, all in one act; says what stands against it.
async fn kept(here: &Here, number: i64, upload: &Upload) -> Result<Option<String>, Trouble> {
    let (documents, samples) = (kind_of("documents")?, kind_of("samples")?);
    let hash = sha256(&upload.bytes);
    let line = Fields::default()
        .with("name", called(&upload.name))
        .with("at", here.zone().for_file(here.now))
        .with("hash", hash.clone())
        .with("size", upload.bytes.len().to_string());
    let cells = match read(documents, |column| line.get(column).to_owned(), here.farm.ways) {
        Ok(cells) => cells,
        Err(remarks) => return Ok(remarks.into_iter().map(|remark| remark.says).next()),
    };
    let mut tx = here.app.ledger.begin().await?;
    let Some(sample) = records::find(&mut tx, samples, number).await? else {
        return Err(Trouble::NotThere(format!("There is no sample {number}.")));
    };
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    lab::keep_bytes(&mut tx, &hash, &upload.bytes).await?;
    let document = match records::keep(&mut tx, documents, upload.fields.get("entry"), cells, &act).await {
        Ok(kept) if kept.already => return Ok(None),
        Ok(kept) => kept.number,
        Err(refusal) => return Ok(remarks_of(refusal)?.into_iter().map(|remark| remark.says).next()),
    };
    let mut cells = sample.cells.clone();
    if let Some(cell) = samples.place_of("document").and_then(|place| cells.get_mut(place)) {
        *cell = Cell::To(document);
    }
    match corrections::correct(&mut tx, samples, &sample, cells, "the lab's paper was kept", &act).await {
        Ok(()) => tx.commit().await.map(|()| None).map_err(Trouble::from),
        Err(refusal) => Ok(remarks_of(refusal)?.into_iter().map(|remark| remark.says).next()),
    }
}

/// A kept paper as a file to save. Somebody else wrote it, so the browser is told to open nothing in it.
pub(super) async fn show(here: Here, Path(number): Path<i64>) -> Answer {
    let found = lab::paper(&mut *here.app.ledger.read().await?, number).await?;
    let (name, bytes) = found.ok_or_else(|| Trouble::NotThere(format!("There is no paper {number}.")))?;
    let plain: String = name.chars().map(|c| if c.is_ascii_alphanumeric() || matches!(c, '-' | '.' | '_') { c } else { '_' }).collect();
    let answer = Response::builder()
        .header(header::CONTENT_TYPE, "application/pdf")
        .header(header::CONTENT_DISPOSITION, format!("attachment; filename=\"{plain}\""))
        .header(header::CONTENT_SECURITY_POLICY, "sandbox")
        .body(Body::from(bytes));
    answer.map(IntoResponse::into_response).map_err(|error| Trouble::Ours(error.to_string()))
}
