//! Holding everything a trace found, at one tap.

use super::super::{
    Here,
    keeping::{self, Line},
};
use crate::web::{answer::Answer, form::Sealed};

/// Holds every lot of a trace at once: the certain ones, and the possible ones when that is ticked; all in one act or none.
///
/// # Errors
/// What there is to remark, or when the ledger cannot be written.
pub(super) async fn hold(here: Here, Sealed(typed): Sealed) -> Answer {
    let possible = typed.all("possible").filter(|_| typed.get("with_possible") == "yes");
    let line = |code| Line::of("holds").now(&here).with("scope", "lot").with("lot", code).with("reason", typed.get("reason"));
    let lines: Vec<Line> = typed.all("certain").chain(possible).map(line).collect();
    keeping::then(&here, typed.get("entry"), lines, back_of(typed.get("back"))).await
}

/// Back to the trace it came from, and nowhere else.
fn back_of(back: &str) -> &str {
    if back.starts_with("/trace/") || back.starts_with("/trace?") { back } else { "/trace" }
}
