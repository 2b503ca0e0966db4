//! From values to bytes: CSV, JSON and PDF. Knows nothing of the store, the pages or the web.

pub mod pdf;
