//! Holding everything a trace found, at one tap.

use super::super::{Here, remarks_of};
use crate::{
    store::records,
    trade::{kinds::kind, records::read},
    web::{
        answer::{Answer, Trouble, onward},
        form::{Fields, Sealed},
        secret,
    },
};

/// Holds every lot of a trace at once: the certain ones, and the possible ones when that is ticked.
///
/// # Errors
/// When the form cannot be read, or the ledger not written.
pub(super) async fn hold(here: Here, Sealed(typed): Sealed) -> Answer {
    let possible = typed.all("possible").filter(|_| typed.get("with_possible") == "yes");
    let codes: Vec<&str> = typed.all("certain").chain(possible).collect();
    keep_holds(&here, &codes, &typed).await?;
    onward(back_of(typed.get("back")))
}

/// Keeps one hold for each code, all in one act or none.
async fn keep_holds(here: &Here, codes: &[&str], typed: &Fields) -> Result<(), Trouble> {
    let kind = kind("holds").ok_or_else(|| Trouble::Ours("no kind holds".to_owned()))?;
    let line = Fields::default().with("at", here.zone().for_file(here.now)).with("scope", "lot").with("reason", typed.get("reason"));
    let mut tx = here.app.ledger.begin().await?;
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    for (nth, code) in codes.iter().enumerate() {
        let line = line.clone().with("lot", *code);
        let cells = read(kind, |column| line.get(column).to_owned(), here.farm.ways).map_err(|_| Trouble::Unreadable)?;
        let kept = records::keep(&mut tx, kind, &secret::entry_within(typed.get("entry"), nth), cells, &act).await;
        kept.or_else(|refusal| remarks_of(refusal).and(Err(Trouble::Unreadable)))?;
    }
    tx.commit().await?;
    Ok(())
}

/// Back to the trace it came from, and nowhere else.
fn back_of(back: &str) -> &str {
    if back.starts_with("/trace/") || back.starts_with("/trace?") { back } else { "/trace" }
}
