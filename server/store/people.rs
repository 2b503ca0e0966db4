//! Questions about members and walk-ins. What a helper may see is asked for apart from what only the owner may.

use super::Failure;
use crate::trade::{
    channels::Channel,
    pickups::WALK_IN,
    when::{Day, parse_day},
};
use sqlx::{Row, SqliteConnection, sqlite::SqliteRow};

/// Somebody who takes milk, without a way to reach them: all that a helper may see.
#[derive(Clone, Debug)]
pub struct Taker {
    /// Their record's number.
    pub number: i64,
    /// What the clipboard calls them: `M28`.
    pub label: String,
    /// Their name.
    pub name: String,
    /// Member or walk-in.
    pub sort: String,
    /// Their weekday; empty for none.
    pub pickup_day: String,
    /// Half-gallons promised a week.
    pub promised: Option<i64>,
    /// Since when.
    pub since: Option<Day>,
    /// Until when.
    pub until: Option<Day>,
    /// How the milk reaches them, and so by which rules it is weighed.
    pub way: Channel,
}

impl Taker {
    /// Number and name: `M28 Ashgrove`.
    #[must_use]
    pub fn called(&self) -> String {
        format!("{} {}", self.label, self.name)
    }

    /// Whether they are with the farm on a day.
    #[must_use]
    pub fn is_here(&self, day: Day) -> bool {
        self.since.is_none_or(|since| since <= day) && self.until.is_none_or(|until| until >= day)
    }
}

/// Somebody who takes milk, with the ways to reach them: the owner's alone.
#[derive(Clone, Debug)]
pub struct Person {
    /// Who it is.
    pub taker: Taker,
    /// How the milk reaches them.
    pub channel: String,
    /// Their phone.
    pub phone: String,
    /// A second way to reach them.
    pub second_way: String,
    /// A note.
    pub note: String,
}

fn taker(row: &SqliteRow) -> Result<Taker, Failure> {
    let (since, until, way): (String, Option<String>, String) = (row.try_get(6)?, row.try_get(7)?, row.try_get(8)?);
    Ok(Taker {
        number: row.try_get(0)?,
        label: row.try_get(1)?,
        name: row.try_get(2)?,
        sort: row.try_get(3)?,
        pickup_day: row.try_get(4)?,
        promised: row.try_get(5)?,
        since: parse_day(&since).ok(),
        until: until.and_then(|until| parse_day(&until).ok()),
        way: Channel::parse(&way).unwrap_or(WALK_IN),
    })
}

/// Everybody who takes or took milk, in order of their number, without phones.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn takers(db: &mut SqliteConnection) -> Result<Vec<Taker>, Failure> {
    let rows = sqlx::query(
        "SELECT number, label, name, sort, coalesce(pickup_day, ''), share_jars, since, until, channel FROM people ORDER BY sort, label",
    )
    .fetch_all(db)
    .await?;
    rows.iter().map(taker).collect()
}

/// Everybody, with the ways to reach them.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn list(db: &mut SqliteConnection) -> Result<Vec<Person>, Failure> {
    let rows = sqlx::query(
        "SELECT number, label, name, sort, coalesce(pickup_day, ''), share_jars, since, until, channel, coalesce(phone, ''),
                coalesce(second_way, ''), coalesce(note, '') FROM people ORDER BY sort, label",
    )
    .fetch_all(db)
    .await?;
    rows.iter()
        .map(|row| {
            Ok(Person {
                taker: taker(row)?,
                channel: row.try_get(8)?,
                phone: row.try_get(9)?,
                second_way: row.try_get(10)?,
                note: row.try_get(11)?,
            })
        })
        .collect()
}
