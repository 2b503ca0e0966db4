//! Taking a name out of the ledger: out of the records, out of what was struck through, and out of the journal's lines, each
//! of which a new sealed line then names.

use super::{
    Failure, journal,
    records::{Act, line, list, names, to_array},
};
use crate::trade::{
    erasing::Erasure,
    journal::erased_lines,
    kinds::{KINDS, Kind, kind},
    numbers::{OWN_PAGE, is_number, one_spelling},
    reach::mark_of,
    records::{Record, Shape},
    when::{Day, Moment, Zone},
};
use serde_json::json;
use sqlx::{AssertSqlSafe, SqliteConnection};
use std::collections::BTreeMap;

/// How long every rule that was followed has records kept, the longest of them; nothing when none says.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn keep_years(db: &mut SqliteConnection, on: Day) -> Result<Option<i64>, Failure> {
    Ok(sqlx::query_scalar("SELECT max(keep_years) FROM rules WHERE since <= ?").bind(on.to_string()).fetch_one(db).await?)
}

/// The day of somebody's last hand-out.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn last_handed(db: &mut SqliteConnection, person: i64, zone: Zone) -> Result<Option<Day>, Failure> {
    let at: Option<i64> = sqlx::query_scalar("SELECT max(at) FROM pickups WHERE person = ?").bind(person).fetch_one(db).await?;
    Ok(at.map(|at| zone.day(Moment::seconds(at))))
}

/// Everything that says who a household is, in the words it was ever written in: its record, its stand-ins, and the versions
/// of them that were struck through.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn known_as(db: &mut SqliteConnection, erasure: &mut Erasure) -> Result<(), Failure> {
    let taken: Vec<String> =
        sqlx::query_scalar("SELECT label FROM people WHERE number <> ?").bind(erasure.person).fetch_all(&mut *db).await?;
    let is_free = |label: &String| !taken.iter().any(|own| one_spelling(own) == one_spelling(label));
    if let Some(figures) = erasure.label.strip_prefix('E').filter(|_| !is_free(&erasure.label)) {
        let others = ["EX", "EY", "EZ"].map(|stem| format!("{stem}{figures}"));
        erasure.label = others.into_iter().find(is_free).unwrap_or_else(|| erasure.label.clone());
    }
    let rows: Vec<(String, i64, String)> = sqlx::query_as(
        "SELECT kind, number, coalesce(after, before) FROM journal
         WHERE (kind = 'people' AND number = ?1) OR (kind = 'collectors' AND json_extract(coalesce(after, before), '$.person') = ?1)
         UNION ALL SELECT kind, number, was FROM struck
         WHERE (kind = 'people' AND number = ?1) OR (kind = 'collectors' AND json_extract(was, '$.person') = ?1)",
    )
    .bind(erasure.person)
    .fetch_all(&mut *db)
    .await?;
    let (name, label) = (erasure.name.clone(), erasure.label.clone());
    for (kind, _, line) in rows {
        let said: serde_json::Value = serde_json::from_str(&line).unwrap_or_default();
        let text = |column: &str| said[column].as_str().unwrap_or_default().to_owned();
        if kind == "people" {
            erasure.take_out(&text("name"), &name, true);
            erasure.take_out(&text("phone"), "a phone", false);
            erasure.take_out(&text("second_way"), "a second way", false);
            let own = text("label");
            if !own.is_empty() && own != label && !is_number(&own, &text("name")) {
                erasure.take_out(&own, &label, true);
                erasure.signed.push(own);
            }
        } else {
            erasure.take_out(&text("name"), "a stand-in", true);
            erasure.take_out(&text("reach"), "a way to reach them", false);
        }
    }
    let others = called_so_too(&mut *db, erasure.person).await?;
    erasure.share(&others);
    erasure.documents = papers(db, erasure.person).await?;
    Ok(())
}

/// What everybody and everything else goes by: other households and who fetches for them, hands, cows, vessels, the farm, the
/// words the ledger itself uses, and the days and months.
async fn called_so_too(db: &mut SqliteConnection, person: i64) -> Result<Vec<String>, Failure> {
    let mut called: Vec<String> = sqlx::query_scalar(
        "SELECT name FROM people WHERE number <> ?1 UNION SELECT phone FROM people WHERE number <> ?1 AND phone IS NOT NULL
         UNION SELECT name FROM collectors WHERE person <> ?1
         UNION SELECT reach FROM collectors WHERE person <> ?1 AND reach IS NOT NULL
         UNION SELECT name FROM cows UNION SELECT name FROM vessels UNION SELECT name FROM hands
         UNION SELECT name FROM farm UNION SELECT address FROM farm WHERE address IS NOT NULL
         UNION SELECT phone FROM farm WHERE phone IS NOT NULL UNION SELECT vet FROM farm WHERE vet IS NOT NULL
         UNION SELECT health FROM farm WHERE health IS NOT NULL",
    )
    .bind(person)
    .fetch_all(&mut *db)
    .await?;
    let second: Vec<String> =
        sqlx::query_scalar("SELECT second_way FROM people WHERE number <> ? AND second_way IS NOT NULL").bind(person).fetch_all(db).await?;
    // A neighbour's name beside another household is told to the farmer; a number or an address is that household's as well.
    called.extend(second.into_iter().filter(|way| mark_of(way).is_some()));
    let choices = KINDS.iter().flat_map(|kind| kind.columns).filter_map(|column| match column.shape {
        Shape::OneOf(words) => Some(words),
        _ => None,
    });
    called.extend(choices.flatten().map(|word| (*word).to_owned()));
    let months = (0..12).filter_map(|nth| Day::from_ymd_opt(2026, nth + 1, 1));
    called.extend(months.map(|day| day.format("%B").to_string()));
    Ok(called)
}

/// The papers a household signed, those too that were replaced or struck through since, but for any that a record of somebody
/// else rests on.
async fn papers(db: &mut SqliteConnection, person: i64) -> Result<Vec<i64>, Failure> {
    let signed: Vec<i64> = sqlx::query_scalar(
        "SELECT document FROM agreements WHERE person = ?1 AND document IS NOT NULL
         UNION SELECT json_extract(said, '$.document') FROM (
            SELECT before AS said FROM journal WHERE kind = 'agreements' AND did <> 'erased' UNION ALL
            SELECT after FROM journal WHERE kind = 'agreements' UNION ALL SELECT was FROM struck WHERE kind = 'agreements')
         WHERE json_extract(said, '$.person') = ?1 AND json_extract(said, '$.document') IS NOT NULL",
    )
    .bind(person)
    .fetch_all(&mut *db)
    .await?;
    let mut others: Vec<i64> = Vec::new();
    for kind in KINDS {
        for column in kind.columns.iter().filter(|column| column.shape == Shape::Key("documents")) {
            let theirs = if kind.name == "agreements" { "AND person <> ?1" } else { "AND ?1 IS NOT NULL" };
            let asked = AssertSqlSafe(format!("SELECT {0} FROM {1} WHERE {0} IS NOT NULL {theirs}", column.name, kind.name));
            others.extend(sqlx::query_scalar::<_, i64>(asked).bind(person).fetch_all(&mut *db).await?);
        }
    }
    Ok(signed.into_iter().filter(|paper| !others.contains(paper)).collect())
}

/// Records of others in which a word of the name is left, in what they say or in what the journal and what was struck through
/// say of them, which nobody but the farmer can judge: kind and number.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn left_elsewhere(db: &mut SqliteConnection, erasure: &Erasure) -> Result<Vec<(&'static str, i64)>, Failure> {
    let mut found = Vec::new();
    for own in KINDS {
        for record in list(&mut *db, own).await? {
            if !erasure.is_own(own.name, record.number, &record.as_line(own))
                && erasure.is_left_in_record(own, &erasure.record(own, &record))
            {
                found.push((own.name, record.number));
            }
        }
    }
    let is_left = |name: &str, number: i64, says: &[Option<&String>], why: Option<&String>| {
        let of = says.iter().flatten().next().map_or("", |says| says.as_str());
        let in_lines = says.iter().flatten().any(|says| erasure.is_left_in_line(name, &erasure.line(name, number, says)));
        let in_why = why.is_some_and(|why| erasure.is_named_in(&erasure.scrubbed(why, false)));
        !erasure.is_own(name, number, of) && (in_lines || in_why)
    };
    let mut more: Vec<(String, i64)> = Vec::new();
    for (_, own, _) in journal::sealed(&mut *db).await?.into_iter().filter(|(_, own, _)| own.did != "erased") {
        if is_left(&own.kind, own.number, &[own.before.as_ref(), own.after.as_ref()], own.why.as_ref()) {
            more.push((own.kind, own.number));
        }
    }
    let rows: Vec<(String, i64, String, String)> = sqlx::query_as("SELECT kind, number, was, why FROM struck").fetch_all(db).await?;
    more.extend(
        rows.into_iter().filter(|(name, number, was, why)| is_left(name, *number, &[Some(was)], Some(why))).map(|own| (own.0, own.1)),
    );
    for (name, number) in more {
        let Some(own) = kind(&name).map(|kind| (kind.name, number)) else { continue };
        if !found.contains(&own) {
            found.push(own);
        }
    }
    Ok(found)
}

/// Takes it all out, and says so in the journal, record by record. Gives back how many lines of the journal it was in.
///
/// # Errors
/// When the ledger cannot be written.
pub async fn erase(db: &mut SqliteConnection, erasure: &Erasure, blank: &[u8], why: &str, act: &Act) -> Result<usize, Failure> {
    // The journal names the hashes of papers that were struck through, so they are read before it is written anew.
    let hashes = hashes(db, &erasure.documents).await?;
    let covered = out_of_the_journal(db, erasure).await?;
    out_of_what_was_struck(db, erasure).await?;
    for kind in KINDS {
        for record in list(&mut *db, kind).await? {
            let left = erasure.record(kind, &record);
            if left != record {
                rewrite(&mut *db, kind, &left).await?;
            }
        }
    }
    out_of_the_papers(db, erasure, &hashes, blank).await?;
    // A household nobody can name any more has no page of its own.
    for table in ["pins", "visits"] {
        let gone = AssertSqlSafe(format!("DELETE FROM {table} WHERE person = ?"));
        sqlx::query(gone).bind(erasure.person).execute(&mut *db).await?;
    }
    let (mut lines, why) = (Vec::new(), erasure.scrubbed(why, true));
    for ((name, number), places) in &covered {
        let Some(kind) = kind(name) else { continue };
        let now = super::records::find(&mut *db, kind, *number).await?.map(|record| record.as_line(kind));
        lines.push(line(act, "erased", kind, *number, Some(erased_lines(places)), now, Some(&why)));
    }
    journal::write(db, lines).await?;
    Ok(covered.values().map(Vec::len).sum())
}

/// The places of the lines of each record that something was taken out of.
type Covered = BTreeMap<(String, i64), Vec<i64>>;

async fn out_of_the_journal(db: &mut SqliteConnection, erasure: &Erasure) -> Result<Covered, Failure> {
    let mut covered = Covered::new();
    for (place, own, _) in journal::sealed(&mut *db).await? {
        let left = |said: &Option<String>| said.as_ref().map(|said| erasure.line(&own.kind, own.number, said));
        let (before, after) = (left(&own.before), left(&own.after));
        let of = own.before.as_deref().or(own.after.as_deref()).unwrap_or_default();
        let is_own = erasure.is_own(&own.kind, own.number, of);
        let why = own.why.as_ref().map(|why| erasure.scrubbed(why, is_own));
        let at_the_fridge = |said: &Option<String>| said.as_ref().is_some_and(|said| is_at_the_fridge(said));
        let signs = erasure.signs(&own.who).filter(|_| at_the_fridge(&own.before) || at_the_fridge(&own.after));
        let who = signs.unwrap_or(&own.who).to_owned();
        if (&before, &after, &why, &who) != (&own.before, &own.after, &own.why, &own.who) {
            sqlx::query("UPDATE journal SET who = ?, before = ?, after = ?, why = ? WHERE seq = ?")
                .bind(who)
                .bind(before)
                .bind(after)
                .bind(why)
                .bind(place)
                .execute(&mut *db)
                .await?;
            covered.entry((own.kind, own.number)).or_default().push(place);
        }
    }
    Ok(covered)
}

/// Whether a line tells of a record that a household wrote on its own page.
fn is_at_the_fridge(line: &str) -> bool {
    serde_json::from_str::<serde_json::Value>(line).is_ok_and(|said| said["source"] == OWN_PAGE)
}

async fn out_of_what_was_struck(db: &mut SqliteConnection, erasure: &Erasure) -> Result<(), Failure> {
    let rows: Vec<(i64, String, i64, String, String)> =
        sqlx::query_as("SELECT seq, kind, number, was, why FROM struck").fetch_all(&mut *db).await?;
    for (place, kind, number, was, why) in rows {
        let left = (erasure.line(&kind, number, &was), erasure.scrubbed(&why, erasure.is_own(&kind, number, &was)));
        if left != (was, why) {
            let change = sqlx::query("UPDATE struck SET was = ?, why = ? WHERE seq = ?");
            change.bind(left.0).bind(left.1).bind(place).execute(&mut *db).await?;
        }
    }
    Ok(())
}

async fn rewrite(db: &mut SqliteConnection, kind: &Kind, record: &Record) -> Result<(), Failure> {
    let sets: Vec<String> =
        names(kind).iter().enumerate().map(|(place, name)| format!("{name} = json_extract(?1, '$[{place}]')")).collect();
    let change = AssertSqlSafe(format!("UPDATE {} SET {}, who = ?3 WHERE number = ?2", kind.name, sets.join(", ")));
    sqlx::query(change).bind(json!(to_array(kind, record)).to_string()).bind(record.number).bind(&record.who).execute(db).await?;
    Ok(())
}

/// The hashes of papers, of those too whose own record was struck through.
async fn hashes(db: &mut SqliteConnection, documents: &[i64]) -> Result<Vec<String>, Failure> {
    let asked = "SELECT json_extract(coalesce(after, before), '$.hash')  FROM journal
         WHERE kind = 'documents' AND did <> 'erased' AND number IN (SELECT value FROM json_each(?1))
         AND json_extract(coalesce(after, before), '$.hash') IS NOT NULL
         UNION SELECT hash FROM documents WHERE number IN (SELECT value FROM json_each(?1))";
    Ok(sqlx::query_scalar(asked).bind(super::among(documents)).fetch_all(db).await?)
}

async fn out_of_the_papers(db: &mut SqliteConnection, erasure: &Erasure, hashes: &[String], blank: &[u8]) -> Result<(), Failure> {
    for hash in hashes {
        let unless = "DELETE FROM contents WHERE hash = ?1 AND NOT EXISTS (SELECT 1 FROM documents WHERE documents.hash = ?1)";
        sqlx::query(unless).bind(hash).execute(&mut *db).await?;
    }
    if !erasure.documents.is_empty() {
        let keep = "INSERT INTO contents (hash, bytes) VALUES (?, ?) ON CONFLICT (hash) DO NOTHING";
        sqlx::query(keep).bind(&erasure.blank.0).bind(blank).execute(db).await?;
    }
    Ok(())
}
