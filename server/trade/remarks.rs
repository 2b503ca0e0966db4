//! What there is to say about one field of a form: a fault that stands in the way, or a question that can be answered.
//!
//! It stands before the chapters that ask, so that a milking can ask about a figure without knowing what a record is.

/// What is wrong, or asked, about one field of a form.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Remark {
    /// The field it belongs to.
    pub field: String,
    /// The sentence.
    pub says: String,
    /// For a question about a slip: what was probably meant, to be taken with one tap. `None` for a plain fault.
    pub question: Option<Meant>,
}

/// The answers offered to a question about a slip.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Meant {
    /// The likelier figure, if there is one.
    pub instead: Option<String>,
}

impl Remark {
    /// A fault on a field: it cannot be kept like this.
    #[must_use]
    pub fn fault(field: &str, says: impl ToString) -> Remark {
        Remark { field: field.to_owned(), says: says.to_string(), question: None }
    }

    /// A question about a field: it can be kept all the same.
    #[must_use]
    pub fn question(field: &str, says: impl ToString, instead: Option<String>) -> Remark {
        Remark { field: field.to_owned(), says: says.to_string(), question: Some(Meant { instead }) }
    }
}
