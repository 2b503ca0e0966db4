//! A form as it was sent: every field as text, kept so that a wrong one can be shown again with nothing lost.

use super::{answer::Trouble, secret, visitor::Visitor};
use axum::{
    RequestExt,
    extract::{Form, FromRequest, Request},
};

/// The fields of a form, in the order they were sent.
#[derive(Clone, Debug, Default)]
pub struct Fields(pub Vec<(String, String)>);

impl Fields {
    /// What was typed in a field; empty when it was not sent.
    #[must_use]
    pub fn get(&self, name: &str) -> &str {
        self.0.iter().find(|(own, _)| own == name).map_or("", |(_, value)| value)
    }

    /// The mark this form was sent with, which keeps its record from being kept twice; a new one for a form just opened.
    #[must_use]
    pub fn entry(&self) -> String {
        if self.get("entry").is_empty() { secret::entry() } else { self.get("entry").to_owned() }
    }

    /// Every value sent under one name.
    pub fn all<'a>(&'a self, name: &'a str) -> impl Iterator<Item = &'a str> {
        self.0.iter().filter(move |(own, _)| own == name).map(|(_, value)| value.as_str())
    }

    /// Puts a value in a field, for a form that opens half filled in.
    #[must_use]
    pub fn with(mut self, name: &str, value: impl Into<String>) -> Fields {
        self.0.retain(|(own, _)| own != name);
        self.0.push((name.to_owned(), value.into()));
        self
    }

    /// Takes up the answer to a question about a slip: `instead` carries `field=value` from the button that was tapped.
    #[must_use]
    pub fn answered(mut self) -> Fields {
        if let Some((field, value)) = self.get("instead").split_once('=').map(|(field, value)| (field.to_owned(), value.to_owned())) {
            self = self.with(&field, value);
        }
        self
    }

    /// Whether the person said that the questioned figure is right.
    #[must_use]
    pub fn is_sure(&self, field: &str) -> bool {
        self.all("sure").any(|sure| sure == field || sure == "all")
    }
}

/// A form that carried its visitor's seal, so it was sent from one of our pages.
#[derive(Clone, Debug)]
pub struct Sealed(pub Fields);

impl<S: Send + Sync> FromRequest<S> for Sealed {
    type Rejection = Trouble;

    async fn from_request(request: Request, _: &S) -> Result<Sealed, Trouble> {
        let visitor = request.extensions().get::<Visitor>().cloned().unwrap_or_else(Visitor::stranger);
        let fields = read(request).await?;
        match secret::same(fields.get("seal"), &visitor.seal) {
            true => Ok(Sealed(fields.answered())),
            false if visitor.household.is_some() => Err(Trouble::VisitOver),
            false if visitor.pass.is_some() => Err(Trouble::PassOver),
            false => Err(Trouble::Forged),
        }
    }
}

/// Reads a form without asking for a seal; the sign-in page checks its own.
///
/// # Errors
/// When the body is no form or too long.
pub async fn read(request: Request) -> Result<Fields, Trouble> {
    let Form(pairs): Form<Vec<(String, String)>> = request.extract().await.map_err(|_| Trouble::Unreadable)?;
    Ok(Fields(pairs))
}
