//! The evening count, typed blind, then compared.

use super::App;
use crate::web::rooms::Rooms;

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new()
}
