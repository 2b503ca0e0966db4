//! Today: what is due and what is wrong, in one short list.

use super::App;
use crate::web::rooms::Rooms;

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new()
}
