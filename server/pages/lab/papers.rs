//! The lab's own paper, kept in the ledger as it came, and given back as a file and never as a page.

use super::{known, view};
use crate::{
    pages::{Here, kind_of, papers},
    store::lab,
    trade::records::Remark,
    web::{
        answer::{Answer, Trouble, again, onward},
        form::Fields,
        upload::Upload,
    },
};
use axum::{
    body::Body,
    extract::Path,
    http::header,
    response::{IntoResponse, Response},
};

/// What is kept here.
const WHAT: &str = "the lab's paper";

pub(super) async fn keep(here: Here, Path(number): Path<i64>, upload: Upload) -> Answer {
    let says = match papers::wrong(&upload, WHAT) {
        Some(says) => Some(says),
        None => papers::keep(&here, &upload, kind_of("samples")?, number, WHAT).await?,
    };
    match says {
        None => onward(&format!("/lab/samples/{number}")),
        Some(says) => {
            let known = known(&mut *here.app.ledger.read().await?, &here, number).await?;
            again(&view(&here, known, &Fields::default(), vec![Remark::fault("paper", says)]).await?)
        }
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
