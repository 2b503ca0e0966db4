//! Gathers everything that is known of one lot, for its page, for its paper and for somebody with a pass alike. It owns no door.

use crate::{
    pages::{Here, kind_of},
    store::{lotfile, lots, records, verdict},
    trade::{
        balance::{Count, LotJars, Movement},
        book::Struck,
        coldness::Standing,
        curve,
        jars::Jars,
        lotsheet::{Handed, LotFile},
        rests::{Wrote, by_way, rests},
        tested::Tested,
        verdict::{Facts, Finding, Judging, Verdict, Word},
        when::Moment,
    },
    web::answer::Trouble,
};
use sqlx::SqliteConnection;

/// What only the page tells: counts, and what was corrected.
pub struct Told {
    /// Every count of it.
    pub counts: Vec<Count>,
    /// Its old versions.
    pub struck: Vec<Struck>,
}

/// Reads everything about a lot, as it is known now.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn gather(here: &Here, lot: &lots::Lot) -> Result<(LotFile, Told), Trouble> {
    let mut db = here.app.ledger.read().await?;
    let facts = facts(&mut db, here, lot).await?;
    let movements = lots::moved(&mut db, &[lot.number]).await?.remove(&lot.number).unwrap_or_default();
    let counts = lots::counts(&mut db, &[lot.number]).await?.remove(&lot.number).unwrap_or_default();
    let struck = records::struck(&mut db, kind_of("lots")?, lot.number).await?;
    let wrote = wrote(&mut db, &facts).await?;
    let handed = lotfile::handed(&mut db, lot.number).await?.into_iter().map(|own| seen_by(here, own)).collect();
    let (stopped, ruled) = (lotfile::stopped(&mut db, lot.number).await?, lotfile::ruled(&mut db, lot.number).await?);
    let thermometers = lotfile::thermometers(&mut db, lot.number).await?;
    let struck_readings = lotfile::struck_readings(&mut db, lot.number).await?;
    drop(db);
    let jars = LotJars::gathered(&movements, on_hand(&movements, &counts));
    let is_gone = jars.by_the_book().is_none();
    let mut judging = Judging::at(here.now);
    let verdict = judging.lot(&facts);
    let verdict = if is_gone { verdict.of_what_is_gone() } else { verdict };
    let picture = curve::chilled(&verdict).and_then(|chilled| curve::picture(&facts, chilled));
    let mut rows = curve::rows(&facts, picture.as_ref());
    for row in rows.iter_mut().filter(|row| !row.estimate) {
        let name = thermometers.iter().find(|(at, _)| *at == row.at).map_or("", |(_, name)| name.as_str());
        row.remark = [name, row.remark.as_str()].into_iter().filter(|says| !says.is_empty()).collect::<Vec<_>>().join("; ");
    }
    let own = LotFile {
        farm: here.farm.name.clone(),
        who: here.visitor.name.clone(),
        now: here.now,
        filled_by: lot.who.clone(),
        filled: lot.jars,
        vessel: lot.vessel.clone(),
        made: lot.made.clone(),
        note: lot.note.clone(),
        state: state(&facts, &verdict, &jars, here.now),
        ways: by_way(&facts, verdict.word(), &mut judging, is_gone),
        rests: rests(&facts, &verdict, &facts.rules.base, &wrote),
        picture,
        rows,
        wrote,
        movements,
        jars,
        handed,
        stopped,
        struck: struck_readings,
        ruled,
        facts,
        verdict,
    };
    Ok((own, Told { counts, struck }))
}

/// The facts of one lot.
async fn facts(db: &mut SqliteConnection, here: &Here, lot: &lots::Lot) -> Result<Facts, Trouble> {
    let all = verdict::facts(db, &[lot.number], here.zone(), here.now).await?;
    all.into_iter().next().ok_or_else(|| Trouble::NotThere(format!("Lot {} is gone.", lot.code)))
}

async fn wrote(db: &mut SqliteConnection, facts: &Facts) -> Result<Wrote, Trouble> {
    let lab = &facts.lab;
    let numbers: Vec<i64> = lab.own.iter().chain(lab.cows.iter()).chain(lab.farm.iter()).map(|result| result.number).collect();
    Ok(lotfile::wrote(db, &numbers).await?)
}

/// A helper sees how many jars went, and not to whom. The number of a household is no name, so a pass shows it.
fn seen_by(here: &Here, own: Handed) -> Handed {
    if here.visitor.is_owner() || here.visitor.pass.is_some() || own.label.is_empty() {
        own
    } else {
        Handed { label: "a household".to_owned(), ..own }
    }
}

/// What was counted after the last jar moved. When the book says that nothing is left there is nothing to count.
fn on_hand(movements: &[Movement], counts: &[Count]) -> Option<Jars> {
    let counted = counts.last().filter(|count| movements.iter().all(|own| own.at <= count.at)).map(|count| count.jars);
    counted.or_else(|| LotJars::gathered(movements, None).by_the_book().is_none().then_some(Jars::NONE))
}

/// Where the milk is, as opposed to whether it may move.
fn state(facts: &Facts, verdict: &Verdict, jars: &LotJars, now: Moment) -> &'static str {
    let chill = curve::chilled(verdict).map(|own| own.overall);
    let at_the_lab = |own: &Finding| own.word() == Word::Wait && matches!(own, Finding::Tested(Tested::HeldFor { is_out: true, .. }));
    if facts.holds.iter().any(|hold| hold.stands(now)) {
        "Held (withheld)"
    } else if jars.by_the_book().is_none() && jars.thrown_out == jars.filled && !jars.filled.is_none() {
        "Thrown out"
    } else if jars.by_the_book().is_none() {
        "Gone"
    } else if chill == Some(Standing::Due) {
        "Chilling"
    } else if verdict.word() == Word::Wait && verdict.findings.iter().any(at_the_lab) {
        "Waiting (test)"
    } else {
        "Ready"
    }
}
