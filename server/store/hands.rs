//! Who may sign in, their sessions, and the tries that failed.

use super::Failure;
use crate::trade::when::Moment;
use sqlx::SqliteConnection;

/// Somebody who may sign in.
#[derive(Clone, Debug)]
pub struct Hand {
    /// Their name.
    pub name: String,
    /// Their role's word.
    pub role: String,
    /// The hash of their password.
    pub secret: String,
}

/// An open session.
#[derive(Clone, Debug)]
pub struct Session {
    /// Whose.
    pub name: String,
    /// Their role's word.
    pub role: String,
    /// The seal their forms carry.
    pub seal: String,
}

/// Adds somebody, or gives them a new password.
///
/// # Errors
/// When the ledger refuses.
pub async fn record(db: &mut SqliteConnection, hand: &Hand, at: Moment) -> Result<(), Failure> {
    sqlx::query("INSERT INTO hands (name, role, secret, made) VALUES (?, ?, ?, ?) ON CONFLICT (name) DO UPDATE SET role = excluded.role, secret = excluded.secret")
        .bind(&hand.name)
        .bind(&hand.role)
        .bind(&hand.secret)
        .bind(at.in_seconds())
        .execute(&mut *db)
        .await?;
    // Whoever held the old password is signed out with it.
    sqlx::query("DELETE FROM sessions WHERE name = ?").bind(&hand.name).execute(db).await?;
    Ok(())
}

/// The hand with this name.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn find(db: &mut SqliteConnection, name: &str) -> Result<Option<Hand>, Failure> {
    let row: Option<(String, String, String)> =
        sqlx::query_as("SELECT name, role, secret FROM hands WHERE name = ?").bind(name).fetch_optional(db).await?;
    Ok(row.map(|(name, role, secret)| Hand { name, role, secret }))
}

/// Everybody who may sign in, with their role.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn list(db: &mut SqliteConnection) -> Result<Vec<(String, String)>, Failure> {
    Ok(sqlx::query_as("SELECT name, role FROM hands ORDER BY role DESC, name").fetch_all(db).await?)
}

/// Opens a session and drops those that have ended.
///
/// # Errors
/// When the ledger refuses.
pub async fn open_session(
    db: &mut SqliteConnection,
    name: &str,
    token_hash: &str,
    seal: &str,
    now: Moment,
    until: Moment,
) -> Result<(), Failure> {
    sqlx::query("DELETE FROM sessions WHERE until < ?").bind(now.in_seconds()).execute(&mut *db).await?;
    sqlx::query("INSERT INTO sessions (token_hash, name, seal, until) VALUES (?, ?, ?, ?)")
        .bind(token_hash)
        .bind(name)
        .bind(seal)
        .bind(until.in_seconds())
        .execute(db)
        .await?;
    Ok(())
}

/// The session a token opens, if it has not ended.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn session(db: &mut SqliteConnection, token_hash: &str, now: Moment) -> Result<Option<Session>, Failure> {
    let row: Option<(String, String, String)> = sqlx::query_as(
        "SELECT h.name, h.role, s.seal FROM sessions s JOIN hands h ON h.name = s.name WHERE s.token_hash = ? AND s.until > ?",
    )
    .bind(token_hash)
    .bind(now.in_seconds())
    .fetch_optional(db)
    .await?;
    Ok(row.map(|(name, role, seal)| Session { name, role, seal }))
}

/// Ends a session.
///
/// # Errors
/// When the ledger refuses.
pub async fn end_session(db: &mut SqliteConnection, token_hash: &str) -> Result<(), Failure> {
    sqlx::query("DELETE FROM sessions WHERE token_hash = ?").bind(token_hash).execute(db).await?;
    Ok(())
}

/// Notes a try that failed, under the name and under the address it came from.
///
/// # Errors
/// When the ledger refuses.
pub async fn record_failure(db: &mut SqliteConnection, whos: [&str; 2], at: Moment) -> Result<(), Failure> {
    for who in whos {
        sqlx::query("INSERT INTO failed_sign_ins (who, at) VALUES (?, ?)").bind(who).bind(at.in_seconds()).execute(&mut *db).await?;
    }
    sqlx::query("DELETE FROM failed_sign_ins WHERE at < ?").bind(at.in_seconds() - 86_400).execute(db).await?;
    Ok(())
}

/// How often a name or address failed since a moment, and when last.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn failures(db: &mut SqliteConnection, who: &str, since: Moment) -> Result<(i64, Moment), Failure> {
    let (count, last): (i64, i64) = sqlx::query_as("SELECT count(*), coalesce(max(at), 0) FROM failed_sign_ins WHERE who = ? AND at >= ?")
        .bind(who)
        .bind(since.in_seconds())
        .fetch_one(db)
        .await?;
    Ok((count, Moment::seconds(last)))
}

/// Forgets the failures of a name that has now signed in.
///
/// # Errors
/// When the ledger refuses.
pub async fn forgive(db: &mut SqliteConnection, who: &str) -> Result<(), Failure> {
    sqlx::query("DELETE FROM failed_sign_ins WHERE who = ?").bind(who).execute(db).await?;
    Ok(())
}
