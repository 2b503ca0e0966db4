//! What the owner decides about a lot of which the records say Wait or Can't tell. It is an answer of one person, with a
//! reason and with what was known, and never a change to what the records say. It owns no door.

use crate::{
    pages::{Here, field::Field, kind_of, remarks_of},
    store::{lots, records, verdict},
    trade::{
        records::{Remark, Shape, read},
        tested::Tested,
        verdict::{Facts, Finding, Verdict, Word, judge},
    },
    web::{answer::Trouble, form::Fields, secret},
};

/// The shortest reason: “ok” is none.
const SHORTEST_REASON: usize = 10;

/// The form, with what it would be about.
pub(super) struct Deciding {
    pub(super) over: Vec<String>,
    pub(super) reason: Field,
    /// The verdict the form was shown under, so that nobody decides about another one.
    pub(super) stands: String,
    pub(super) entry: String,
}

/// The form, when there is something the owner may decide.
pub(super) fn offered(here: &Here, verdict: &Verdict, typed: &Fields, remarks: &[Remark]) -> Option<Deciding> {
    let over = verdict.to_decide();
    let open = here.visitor.is_owner() && verdict.word().may_be_decided() && !over.is_empty();
    // The page carries another form too, whose mark is not this one's.
    let kept = Some(typed.get("entry")).filter(|entry| !entry.is_empty() && !typed.get("stands").is_empty());
    open.then(|| Deciding {
        over,
        reason: Field::named("why", "Why it may go all the same", Shape::Words(400), typed, remarks)
            .hinted("Whom you asked and what they said, or what you saw. It stands here and on every paper for ever."),
        stands: mark(verdict),
        entry: kept.map_or_else(secret::entry, str::to_owned),
    })
}

/// A mark of everything a verdict says.
fn mark(verdict: &Verdict) -> String {
    secret::remembered(&verdict.facts())
}

/// Keeps the decision; what there is to remark when it is refused. The same form sent twice keeps one.
pub(super) async fn kept(here: &Here, lot: &lots::Lot, typed: &Fields) -> Result<Vec<Remark>, Trouble> {
    let kind = kind_of("decisions")?;
    let mut tx = here.app.ledger.begin().await?;
    if records::by_entry(&mut tx, kind, typed.get("entry")).await?.is_some() {
        return Ok(Vec::new());
    }
    let facts = verdict::facts(&mut tx, &[lot.number], here.zone(), here.now).await?;
    let Some(facts) = facts.first() else { return Err(Trouble::NotThere(format!("Lot {} is gone.", lot.code))) };
    let verdict = judge(facts, here.now);
    let refused = refused(facts, &verdict, typed);
    if !refused.is_empty() {
        return Ok(refused);
    }
    let line = line(here, &lot.code, &verdict, typed.get("why"));
    let about_why = |remarks: Vec<Remark>| remarks.into_iter().map(|own| Remark { field: "why".to_owned(), ..own }).collect();
    let cells = match read(kind, |column| line.get(column).to_owned(), here.farm.ways) {
        Ok(cells) => cells,
        Err(remarks) => return Ok(about_why(remarks)),
    };
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    match records::keep(&mut tx, kind, typed.get("entry"), cells, &act).await {
        Ok(_) => tx.commit().await.map(|()| Vec::new()).map_err(Trouble::from),
        Err(refusal) => remarks_of(refusal).map(about_why),
    }
}

/// The record, with what was known frozen into it.
fn line(here: &Here, code: &str, verdict: &Verdict, why: &str) -> Fields {
    Fields::default()
        .with("lot", code)
        .with("at", here.zone().for_file(here.now))
        .with("over", verdict.to_decide().join("\n"))
        .with("verdict", verdict.word().to_string())
        .with("because", verdict.reason().chars().take(600).collect::<String>())
        .with("facts", verdict.facts())
        .with("reason", why)
}

/// Why nothing is decided. What nobody may free comes first, because no reason would help.
fn refused(facts: &Facts, verdict: &Verdict, typed: &Fields) -> Vec<Remark> {
    let fault = |says: String| vec![Remark::fault("why", says)];
    let stuck: Vec<String> =
        verdict.findings.iter().filter(|own| own.word() != Word::CanGo && !own.may_be_decided()).map(|own| locked(own, facts)).collect();
    if !stuck.is_empty() {
        return fault(format!("Nobody can decide this away. {}", stuck.join(" ")));
    }
    if !secret::same(typed.get("stands"), &mark(verdict)) {
        return fault(format!(
            "Something was written down since this form was opened. The lot now says {}: {} Read it again before you decide.",
            verdict.word(),
            verdict.reason()
        ));
    }
    if verdict.to_decide().is_empty() {
        return fault(format!("There is nothing to decide: the lot says {}.", verdict.word()));
    }
    if typed.get("why").trim().chars().count() < SHORTEST_REASON {
        return fault("Write why it may go: whom you asked, or what you saw. At least ten letters.".to_owned());
    }
    Vec::new()
}

/// What stands in the way, and the one thing that would lift it.
fn locked(finding: &Finding, facts: &Facts) -> String {
    let lifts = match finding {
        Finding::Held { .. } => "Only lifting the hold, with a reason, frees it.",
        Finding::Treated { .. } => "Only the vet's figure, written on the treatment, can change that.",
        Finding::Tested(Tested::Found { analyte, .. }) if analyte.is_pathogen() => {
            "A lot with a pathogen in it is never freed. Only a correction of a result that was written down wrongly changes that."
        }
        Finding::Tested(_) => "Only a result that was written down wrongly, corrected, or a new rule changes that.",
        Finding::Parent { .. } => "Decide about that lot first.",
        Finding::Chill(_) => "A reading shows that it was too warm; only a reading written down wrongly, corrected, changes that.",
        Finding::BestBy { .. } => "Nothing makes milk younger.",
        _ => "Only what was written down wrongly, corrected, changes that.",
    };
    format!("{} {lifts}", finding.reason(facts.zone))
}
