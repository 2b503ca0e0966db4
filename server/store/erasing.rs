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
    records::Record,
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
    let rows: Vec<(String, i64, String)> = sqlx::query_as(
        "SELECT kind, number, coalesce(after, before) FROM journal
         WHERE (kind = 'people' AND number = ?1) OR (kind = 'collectors' AND json_extract(coalesce(after, before), '$.person') = ?1)
         UNION ALL SELECT kind, number, was FROM struck
         WHERE (kind = 'people' AND number = ?1) OR (kind = 'collectors' AND json_extract(was, '$.person') = ?1)",
    )
    .bind(erasure.person)
    .fetch_all(&mut *db)
    .await?;
    let name = erasure.name.clone();
    for (kind, _, line) in rows {
        let said: serde_json::Value = serde_json::from_str(&line).unwrap_or_default();
        let text = |column: &str| said[column].as_str().unwrap_or_default().to_owned();
        if kind == "people" {
            erasure.take_out(&text("name"), &name, true);
            erasure.take_out(&text("phone"), "a phone", false);
            erasure.take_out(&text("second_way"), "a second way", false);
        } else {
            erasure.take_out(&text("name"), "a stand-in", true);
            erasure.take_out(&text("reach"), "a way to reach them", false);
        }
    }
    // A paper that another household or a sample rests on stays.
    erasure.documents = sqlx::query_scalar(
        "SELECT DISTINCT document FROM agreements WHERE person = ?1 AND document IS NOT NULL
         AND document NOT IN (SELECT document FROM agreements WHERE person <> ?1 AND document IS NOT NULL)
         AND document NOT IN (SELECT document FROM samples WHERE document IS NOT NULL)",
    )
    .bind(erasure.person)
    .fetch_all(db)
    .await?;
    Ok(())
}

/// Records of others in which a word of the name is left, which nobody but the farmer can judge: kind and number.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn left_elsewhere(db: &mut SqliteConnection, erasure: &Erasure) -> Result<Vec<(&'static str, i64)>, Failure> {
    let mut found = Vec::new();
    for kind in KINDS {
        for record in list(&mut *db, kind).await? {
            let left = erasure.record(kind, &record);
            let own = kind.name != "people" || record.number != erasure.person;
            if own && left.cells.iter().any(|cell| erasure.is_named_in(cell.text())) {
                found.push((kind.name, record.number));
            }
        }
    }
    Ok(found)
}

/// Takes it all out, and says so in the journal, record by record. Gives back how many lines of the journal it was in.
///
/// # Errors
/// When the ledger cannot be written.
pub async fn erase(db: &mut SqliteConnection, erasure: &Erasure, blank: &[u8], why: &str, act: &Act) -> Result<usize, Failure> {
    let covered = out_of_the_journal(db, erasure).await?;
    out_of_what_was_struck(db, erasure).await?;
    let hashes = hashes(db, &erasure.documents).await?;
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
        if (&before, &after, &why) != (&own.before, &own.after, &own.why) {
            sqlx::query("UPDATE journal SET before = ?, after = ?, why = ? WHERE seq = ?")
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
    let change = AssertSqlSafe(format!("UPDATE {} SET {} WHERE number = ?2", kind.name, sets.join(", ")));
    sqlx::query(change).bind(json!(to_array(kind, record)).to_string()).bind(record.number).execute(db).await?;
    Ok(())
}

async fn hashes(db: &mut SqliteConnection, documents: &[i64]) -> Result<Vec<String>, Failure> {
    let asked = "SELECT hash FROM documents WHERE number IN (SELECT value FROM json_each(?))";
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
