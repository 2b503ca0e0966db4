//! Erasing a name.

use crate::{pages::Here, web::{answer::{Answer, Trouble}, form::Sealed}};
pub(super) async fn show(_: Here) -> Answer { Err(Trouble::NotThere(String::new())) }
pub(super) async fn erase(_: Here, Sealed(_): Sealed) -> Answer { Err(Trouble::NotThere(String::new())) }
