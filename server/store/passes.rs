//! Inspectors' passes, the visits made with them, and what was looked at. Like PINs they are keys, and no part of the farm folder.

use super::Failure;
use crate::trade::{
    passes::{Pass, is_a_look},
    wear::Span,
    when::{Moment, parse_day},
};
use sqlx::{Row, SqliteConnection, sqlite::SqliteRow};
use std::collections::HashMap;

const PASS: &str = "SELECT p.number, p.named, p.for_whom, p.since, p.until, p.last_day, p.names, p.made, p.who, p.withdrawn, p.secret";

fn read(row: &SqliteRow) -> Result<Pass, Failure> {
    let day = |nth: usize| -> Result<_, Failure> {
        let typed: String = row.try_get(nth)?;
        parse_day(&typed).map_err(|_| Failure::File("A pass has a day that cannot be read. Make another pass.".to_owned()))
    };
    Ok(Pass {
        number: row.try_get(0)?,
        named: row.try_get(1)?,
        for_whom: row.try_get(2)?,
        span: Span { from: day(3)?, to: day(4)? },
        last_day: day(5)?,
        names: row.try_get::<&str, _>(6)? == "yes",
        made: Moment::seconds(row.try_get(7)?),
        who: row.try_get(8)?,
        withdrawn: row.try_get::<Option<i64>, _>(9)?.map(Moment::seconds),
        shut: row.try_get::<&str, _>(10)?.is_empty(),
    })
}

fn asking(ending: &'static str) -> sqlx::AssertSqlSafe<String> {
    sqlx::AssertSqlSafe(format!("{PASS} FROM passes p {ending}"))
}

/// Keeps a new pass with the hash of its secret, and gives its number; nothing where its digits are another's already.
///
/// # Errors
/// When the ledger refuses.
pub async fn make(db: &mut SqliteConnection, pass: &Pass, secret: &str) -> Result<Option<i64>, Failure> {
    let asked = "INSERT INTO passes (named, secret, for_whom, since, until, last_day, names, made, who) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)
         ON CONFLICT (named) DO NOTHING RETURNING number";
    Ok(sqlx::query_scalar(asked)
        .bind(&pass.named)
        .bind(secret)
        .bind(&pass.for_whom)
        .bind(pass.span.from.to_string())
        .bind(pass.span.to.to_string())
        .bind(pass.last_day.to_string())
        .bind(if pass.names { "yes" } else { "no" })
        .bind(pass.made.in_seconds())
        .bind(&pass.who)
        .fetch_optional(db)
        .await?)
}

/// The pass that some digits name, with the hash of its secret; nothing of the secret once it is shut or withdrawn.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn find(db: &mut SqliteConnection, named: &str) -> Result<Option<(Pass, Option<String>)>, Failure> {
    let Some(row) = sqlx::query(asking("WHERE p.named = ?")).bind(named).fetch_optional(db).await? else { return Ok(None) };
    let (pass, secret) = (read(&row)?, row.try_get::<String, _>(10)?);
    let secret = Some(secret).filter(|_| !pass.shut && pass.withdrawn.is_none());
    Ok(Some((pass, secret)))
}

/// One pass.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn one(db: &mut SqliteConnection, number: i64) -> Result<Option<Pass>, Failure> {
    sqlx::query(asking("WHERE p.number = ?")).bind(number).fetch_optional(db).await?.map(|row| read(&row)).transpose()
}

/// Every pass, newest first, each with how often something was looked at with it.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn list(db: &mut SqliteConnection) -> Result<Vec<(Pass, usize)>, Failure> {
    let asked = "SELECT pass, what FROM pass_views";
    let mut looks: HashMap<i64, usize> = HashMap::new();
    let views: Vec<(i64, String)> = sqlx::query_as(asked).fetch_all(&mut *db).await?;
    views.iter().filter(|(_, what)| is_a_look(what)).for_each(|(pass, _)| *looks.entry(*pass).or_default() += 1);
    let rows = sqlx::query(asking("ORDER BY p.number DESC")).fetch_all(db).await?;
    let with_looks = |pass: Pass| (looks.get(&pass.number).copied().unwrap_or_default(), pass);
    rows.iter().map(|row| read(row).map(with_looks).map(|(looks, pass)| (pass, looks))).collect()
}

/// Withdraws a pass: nothing opens with it from now on, and whoever is in is shown out.
///
/// # Errors
/// When the ledger refuses.
pub async fn withdraw(db: &mut SqliteConnection, number: i64, at: Moment) -> Result<(), Failure> {
    sqlx::query("UPDATE passes SET withdrawn = ? WHERE number = ? AND withdrawn IS NULL")
        .bind(at.in_seconds())
        .bind(number)
        .execute(&mut *db)
        .await?;
    end_visits(db, number).await
}

/// Shuts a pass after too many tries: its secret is forgotten.
///
/// # Errors
/// When the ledger refuses.
pub async fn shut(db: &mut SqliteConnection, number: i64) -> Result<(), Failure> {
    sqlx::query("UPDATE passes SET secret = '' WHERE number = ?").bind(number).execute(&mut *db).await?;
    end_visits(db, number).await
}

async fn end_visits(db: &mut SqliteConnection, number: i64) -> Result<(), Failure> {
    sqlx::query("DELETE FROM pass_visits WHERE pass = ?").bind(number).execute(db).await?;
    Ok(())
}

/// Opens a visit and drops those that have ended.
///
/// # Errors
/// When the ledger refuses.
pub async fn open_visit(
    db: &mut SqliteConnection,
    number: i64,
    token_hash: &str,
    seal: &str,
    (now, until): (Moment, Moment),
) -> Result<(), Failure> {
    sqlx::query("DELETE FROM pass_visits WHERE until <= ?").bind(now.in_seconds()).execute(&mut *db).await?;
    sqlx::query("INSERT INTO pass_visits (token_hash, pass, seal, until) VALUES (?, ?, ?, ?)")
        .bind(token_hash)
        .bind(number)
        .bind(seal)
        .bind(until.in_seconds())
        .execute(db)
        .await?;
    Ok(())
}

/// The pass and the seal of a visit, if it has not ended. Whether the pass still opens is for the trade to say.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn visit(db: &mut SqliteConnection, token_hash: &str, now: Moment) -> Result<Option<(Pass, String)>, Failure> {
    let asked = sqlx::AssertSqlSafe(format!(
        "{PASS}, v.seal FROM pass_visits v JOIN passes p ON p.number = v.pass WHERE v.token_hash = ? AND v.until > ?"
    ));
    let row = sqlx::query(asked).bind(token_hash).bind(now.in_seconds()).fetch_optional(db).await?;
    row.map(|row| Ok((read(&row)?, row.try_get(11)?))).transpose()
}

/// Ends a visit.
///
/// # Errors
/// When the ledger refuses.
pub async fn end_visit(db: &mut SqliteConnection, token_hash: &str) -> Result<(), Failure> {
    sqlx::query("DELETE FROM pass_visits WHERE token_hash = ?").bind(token_hash).execute(db).await?;
    Ok(())
}

/// Writes down that something was looked at with a pass, from an address on the network.
///
/// # Errors
/// When the ledger refuses.
pub async fn viewed(db: &mut SqliteConnection, number: i64, at: Moment, what: &str, address: &str) -> Result<(), Failure> {
    sqlx::query("INSERT INTO pass_views (pass, at, what, address) VALUES (?, ?, ?, ?)")
        .bind(number)
        .bind(at.in_seconds())
        .bind(what)
        .bind(address)
        .execute(db)
        .await?;
    Ok(())
}

/// One view: when, what, and from which address.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct View {
    /// When.
    pub at: Moment,
    /// What was looked at.
    pub what: String,
    /// From which address on the network.
    pub address: String,
}

/// Everything that was looked at with a pass, newest first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn views(db: &mut SqliteConnection, number: i64) -> Result<Vec<View>, Failure> {
    let rows: Vec<(i64, String, String)> =
        sqlx::query_as("SELECT at, what, address FROM pass_views WHERE pass = ? ORDER BY number DESC").bind(number).fetch_all(db).await?;
    Ok(rows.into_iter().map(|(at, what, address)| View { at: Moment::seconds(at), what, address }).collect())
}
