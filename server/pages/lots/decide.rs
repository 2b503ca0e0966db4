//! What the owner decides about a lot of which the records say Wait or Can't tell. It is an answer of one person, with a
//! reason and with what was known, and never a change to what the records say. It owns no door.

use crate::{
    pages::{Here, field::Field, kind_of, remarks_of},
    store::{lots, records, verdict},
    trade::{
        deciding::{Chosen, Open},
        records::{Remark, Shape, read},
        tested::Tested,
        verdict::{Facts, Finding, Word},
    },
    web::{answer::Trouble, form::Fields, secret},
};

/// The shortest reason: “ok” is none.
const SHORTEST_REASON: usize = 10;

/// The form, with what it would be about.
pub(super) struct Deciding {
    /// What stands against the lot whatever way it goes.
    pub(super) always: Vec<String>,
    /// What stands only against some ways: the line to send, the sentence, the ways, and whether it was ticked.
    pub(super) only: Vec<(String, String, String, bool)>,
    pub(super) reason: Field,
    /// The verdict the form was shown under, so that nobody decides about another one.
    pub(super) stands: String,
    pub(super) entry: String,
}

/// The form, when there is something the owner may decide.
pub(super) fn offered(here: &Here, facts: &Facts, typed: &Fields, remarks: &[Remark]) -> Option<Deciding> {
    let open = Open::of(facts, here.now);
    // The page carries another form too, whose mark is not this one's.
    let kept = Some(typed.get("entry")).filter(|entry| !entry.is_empty() && !typed.get("stands").is_empty());
    let only = open.only.iter().map(|(finding, ways)| {
        let ways: Vec<String> = ways.iter().map(ToString::to_string).collect();
        let line = finding.line(facts.zone);
        let is_ticked = typed.all("over").any(|ticked| ticked == line);
        (line, finding.reason(facts.zone), ways.join(", "), is_ticked)
    });
    (here.visitor.is_owner() && !open.is_nothing()).then(|| Deciding {
        always: open.always.iter().map(|finding| finding.topic()).collect(),
        only: only.collect(),
        reason: Field::named("why", "Why it may go all the same", Shape::Words(400), typed, remarks)
            .hinted("Whom you asked and what they said, or what you saw. It stands here and on every paper for ever."),
        stands: mark(&open),
        entry: kept.map_or_else(secret::entry, str::to_owned),
    })
}

/// A mark of everything that is open and of the verdict beside it.
fn mark(open: &Open) -> String {
    secret::remembered(&open.says())
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
    let open = Open::of(facts, here.now);
    let chosen = open.choose(typed.all("over"));
    let chosen = match refused(facts, &open, typed) {
        refused if !refused.is_empty() => return Ok(refused),
        _ => match chosen {
            Some(chosen) => chosen,
            None => return Ok(vec![Remark::fault("over", "Tick what it is about: nothing stands against every way.")]),
        },
    };
    let line = line(here, &lot.code, &chosen, typed.get("why"));
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
fn line(here: &Here, code: &str, chosen: &Chosen, why: &str) -> Fields {
    Fields::default()
        .with("lot", code)
        .with("at", here.zone().for_file(here.now))
        .with("over", chosen.over.join("\n"))
        .with("verdict", chosen.word.to_string())
        .with("because", chosen.because.chars().take(600).collect::<String>())
        .with("facts", &chosen.facts)
        .with("reason", why)
}

/// Why nothing is decided. What nobody may free comes first, because no reason would help.
fn refused(facts: &Facts, open: &Open, typed: &Fields) -> Vec<Remark> {
    let fault = |says: String| vec![Remark::fault("why", says)];
    let verdict = &open.verdict;
    let stuck: Vec<String> =
        verdict.findings.iter().filter(|own| own.word() != Word::CanGo && !own.may_be_decided()).map(|own| locked(own, facts)).collect();
    if open.is_nothing() && !stuck.is_empty() {
        return fault(format!("Nobody can decide this away. {}", stuck.join(" ")));
    }
    if !secret::same(typed.get("stands"), &mark(open)) {
        return fault(format!(
            "Something was written down since this form was opened. The lot now says {}: {} Read it again before you decide.",
            verdict.word(),
            verdict.reason()
        ));
    }
    if open.is_nothing() {
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
        Finding::NoCows { .. } | Finding::NoSource => "Only writing down whose milk it is changes that.",
        Finding::Unread { .. } => "Only correcting that record changes that.",
        Finding::Chill(_) => "A reading shows that it was too warm; only a reading written down wrongly, corrected, changes that.",
        Finding::BestBy { .. } => "Nothing makes milk younger.",
        _ => "Only what was written down wrongly, corrected, changes that.",
    };
    format!("{} {lifts}", finding.reason(facts.zone))
}
