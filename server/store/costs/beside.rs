//! What a record of a cost is held beside before it is kept, and what is known of the herd behind a cost.

use super::{books, day, since};
use crate::{
    store::{Failure, records},
    trade::{
        cost_slips::{Beside, Worked},
        guessed::Begun,
        kinds::kind,
        takes::Herd,
        wear::Span,
        when::{Day, Moment, Zone, parse_day},
    },
};
use sqlx::{Row, SqliteConnection};

/// Everything a new ticket, feeding, count, reading, total or line of minutes is held beside.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn beside(db: &mut SqliteConnection, zone: Zone, until: Day) -> Result<Beside, Failure> {
    let worked = sqlx::query("SELECT number, day, person, minutes, coalesce(over, '') FROM minutes ORDER BY day, number")
        .fetch_all(&mut *db)
        .await?
        .iter()
        .map(|row| {
            let over_the_week = row.try_get::<&str, _>(4)? == "the week";
            Ok(Worked { number: row.try_get(0)?, day: day(row, 1)?, person: row.try_get(2)?, minutes: row.try_get(3)?, over_the_week })
        })
        .collect::<Result<_, Failure>>()?;
    let cows = match kind("cows") {
        Some(cows) => records::keys(&mut *db, cows).await?.into_iter().map(|(_, name)| name).collect(),
        None => Vec::new(),
    };
    let since = since(&mut *db).await?;
    Ok(Beside { books: books(db, zone, &[], &[], until).await?, worked, cows, since })
}

/// The first days on which a milking and a hand-out are written.
pub(super) async fn begun(db: &mut SqliteConnection, zone: Zone) -> Result<Begun, Failure> {
    let (milked, handed_out): (Option<String>, Option<i64>) =
        sqlx::query_as("SELECT (SELECT substr(min(session), 1, 10) FROM milkings), (SELECT min(at) FROM pickups)").fetch_one(db).await?;
    Ok(Begun { milkings: milked.and_then(|day| parse_day(&day).ok()), hand_outs: handed_out.map(|at| zone.day(Moment::seconds(at))) })
}

/// How milk reaches people here, and the herd of a span.
#[derive(Clone, Debug, Default)]
pub struct Milked {
    /// Whether any of it goes another way than over the farm's own gate, or nothing says how.
    pub has_members: bool,
    /// The herd.
    pub herd: Herd,
}

/// What a sheet for members needs to know of the farm in a span.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn milked(db: &mut SqliteConnection, zone: Zone, span: Span) -> Result<Milked, Failure> {
    let (all, gate): (i64, i64) = sqlx::query_as(
        "SELECT count(*), coalesce(sum(channel = 'farm gate'), 0) FROM (SELECT channel FROM people UNION ALL SELECT channel FROM shares)",
    )
    .fetch_one(&mut *db)
    .await?;
    let turns: Vec<(i64, i64, String)> = sqlx::query_as(
        "SELECT cow, at, sort FROM events WHERE sort IN ('calved', 'joined the can', 'dried off', 'left') ORDER BY cow, at, number",
    )
    .fetch_all(&mut *db)
    .await?;
    let cows: Vec<(i64, String)> = sqlx::query_as("SELECT number, since FROM cows ORDER BY number").fetch_all(db).await?;
    let herd = cows.iter().map(|(number, since)| {
        let turns = turns.iter().filter(|(cow, ..)| cow == number).map(|(_, at, sort)| (zone.day(Moment::seconds(*at)), sort.clone()));
        (parse_day(since).unwrap_or(span.from), turns.collect())
    });
    Ok(Milked { has_members: gate < all || all == 0, herd: Herd(herd.collect()) })
}
