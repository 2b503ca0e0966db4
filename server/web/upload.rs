//! A form with a file in it, read so that a file that is far too large costs no memory and still gets a sentence.

use super::{answer::Trouble, form::Fields, secret, visitor::Visitor};
use axum::extract::{DefaultBodyLimit, FromRequest, Multipart, Request, multipart::Field};

/// The largest file that is kept, in bytes: 5 MB.
pub const MOST: usize = 5 * 1024 * 1024;

/// The longest body of such a form. It is well above [`MOST`], so that a file somewhat too large is read to its end,
/// thrown away and answered; a browser whose sending is broken off shows no answer at all.
pub const LONGEST: usize = 16 * 1024 * 1024;

/// The longest of its other fields.
const FIELD: usize = 16 * 1024;

/// A form with a file, that carried its visitor's seal.
#[derive(Clone, Debug, Default)]
pub struct Upload {
    /// The other fields.
    pub fields: Fields,
    /// What the file was called; it may be anything, and leads nowhere.
    pub name: String,
    /// Its bytes; empty when none was chosen or it was too large.
    pub bytes: Vec<u8>,
    /// Whether it was larger than [`MOST`].
    pub is_too_large: bool,
}

impl<S: Send + Sync> FromRequest<S> for Upload {
    type Rejection = Trouble;

    async fn from_request(mut request: Request, state: &S) -> Result<Upload, Trouble> {
        let visitor = request.extensions().get::<Visitor>().cloned().unwrap_or_else(Visitor::stranger);
        DefaultBodyLimit::max(LONGEST).apply(&mut request);
        // A form of another kind was not made by our page.
        let mut parts = Multipart::from_request(request, state).await.map_err(|_| Trouble::Forged)?;
        let mut upload = Upload::default();
        while let Some(mut field) = parts.next_field().await.map_err(|_| Trouble::Unreadable)? {
            let name = field.name().unwrap_or_default().to_owned();
            if let Some(file) = field.file_name().map(str::to_owned) {
                (upload.bytes, upload.is_too_large) = read(&mut field, MOST).await?;
                upload.name = file;
            } else {
                let (bytes, is_too_long) = read(&mut field, FIELD).await?;
                let text = String::from_utf8(bytes).ok().filter(|_| !is_too_long).ok_or(Trouble::Unreadable)?;
                upload.fields.0.push((name, text));
            }
        }
        if secret::same(upload.fields.get("seal"), &visitor.seal) { Ok(upload) } else { Err(Trouble::Forged) }
    }
}

/// A field's bytes, or nothing and that there were more of them than this.
async fn read(field: &mut Field<'_>, most: usize) -> Result<(Vec<u8>, bool), Trouble> {
    let (mut bytes, mut is_too_large) = (Vec::new(), false);
    while let Some(chunk) = field.chunk().await.map_err(|_| Trouble::Unreadable)? {
        is_too_large = is_too_large || bytes.len() + chunk.len() > most;
        if is_too_large { bytes.clear() } else { bytes.extend_from_slice(&chunk) }
    }
    Ok((bytes, is_too_large))
}
