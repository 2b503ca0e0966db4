//! Reports without a browser: the same sheets the pages show, printed by the program's `report` command.

use crate::{settings::Task, store::Ledger, trade::when::Moment};

/// Prints the report a command asked for.
///
/// # Errors
/// When the report is not known, what it is about is not there, or the ledger cannot be read.
pub async fn print(_ledger: &Ledger, _task: &Task, _now: Moment) -> Result<Vec<u8>, Box<dyn std::error::Error>> {
    Err("no report is built yet".into())
}
