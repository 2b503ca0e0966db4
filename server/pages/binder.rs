//! The binder: everything that is kept to be shown.

use super::App;
use crate::web::rooms::Rooms;

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new()
}
