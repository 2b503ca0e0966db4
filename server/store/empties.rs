//! Questions about empty jars: what each household owes, what was lost, and what a new jar costs.

use super::{Failure, jars};
use crate::trade::{
    empties::{Empties, LossRate, Out, Owing, owed},
    jars::Jars,
    money::Money,
    when::{Day, Moment, Zone},
};
use chrono::Months;
use rust_decimal::Decimal;
use sqlx::SqliteConnection;
use std::{
    collections::{BTreeMap, HashMap},
    str::FromStr,
};

/// Everything written about one household's jars: what happened, how many, when.
type Events = Vec<(Empties, Jars, Moment)>;

/// What was written about empties, by household.
async fn events(db: &mut SqliteConnection) -> Result<HashMap<i64, Events>, Failure> {
    let rows =
        sqlx::query("SELECT person, sort, at, gallons, half_gallons, quarts, pints FROM empties ORDER BY at, number").fetch_all(db).await?;
    let mut events: HashMap<i64, Events> = HashMap::new();
    for row in rows {
        use sqlx::Row;
        let (person, sort, at): (i64, String, i64) = (row.try_get(0)?, row.try_get(1)?, row.try_get(2)?);
        let Some(what) = Empties::parse(&sort) else { continue };
        events.entry(person).or_default().push((what, jars(&row, 3)?, Moment::seconds(at)));
    }
    Ok(events)
}

/// The jars one household owes.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn owed_by(db: &mut SqliteConnection, person: i64) -> Result<Jars, Failure> {
    let events = events(db).await?.remove(&person).unwrap_or_default();
    Ok(owed(&events.iter().map(|(what, jars, _)| (*what, *jars)).collect::<Vec<_>>()))
}

/// What was written of a household's empties in the same act as a hand-out: the records' numbers, and how many other hand-outs
/// to it in that act still stand.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn beside(db: &mut SqliteConnection, pickup: i64, person: i64) -> Result<(Vec<i64>, i64), Failure> {
    let asked = "SELECT act FROM journal WHERE kind = 'pickups' AND number = ? AND did = 'kept'";
    let Some(act): Option<i64> = sqlx::query_scalar(asked).bind(pickup).fetch_optional(&mut *db).await? else { return Ok((Vec::new(), 0)) };
    let others: i64 = sqlx::query_scalar(
        "SELECT count(*) FROM journal j JOIN pickups p ON p.number = j.number
         WHERE j.act = ? AND j.kind = 'pickups' AND j.did = 'kept' AND p.person = ? AND p.number <> ?",
    )
    .bind(act)
    .bind(person)
    .bind(pickup)
    .fetch_one(&mut *db)
    .await?;
    let beside: Vec<i64> = sqlx::query_scalar(
        "SELECT e.number FROM journal j JOIN empties e ON e.number = j.number
         WHERE j.act = ? AND j.kind = 'empties' AND j.did = 'kept' AND e.person = ?",
    )
    .bind(act)
    .bind(person)
    .fetch_all(db)
    .await?;
    Ok((beside, others))
}

/// All jars that are out on a day, beside what the account of jar deposits comes to for each household.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn out(db: &mut SqliteConnection, on: Day, zone: Zone, deposits: &BTreeMap<i64, Money>) -> Result<Out, Failure> {
    let mut events = events(&mut *db).await?;
    let since = on.checked_sub_months(Months::new(12)).unwrap_or(on);
    let from = zone.start_of(since);
    let at_households: i64 = events
        .values()
        .flatten()
        .filter(|(what, _, at)| *what == Empties::BrokenOrLost && *at >= from)
        .map(|(_, jars, _)| jars.half_gallons)
        .sum();
    let loss = LossRate {
        lost: at_households + broken_at_home(&mut *db, from).await?,
        went_out: sqlx::query_scalar("SELECT coalesce(sum(half_gallons), 0) FROM pickups WHERE at >= ?")
            .bind(from.in_seconds())
            .fetch_one(&mut *db)
            .await?,
    };
    let people: Vec<(i64, String, String)> =
        sqlx::query_as("SELECT number, label, name FROM people ORDER BY sort, label").fetch_all(&mut *db).await?;
    let owing = |(number, label, name): (i64, String, String)| {
        let own = events.remove(&number).unwrap_or_default();
        let of = |wanted: &dyn Fn(Empties) -> bool| own.iter().filter(|(what, _, _)| wanted(*what)).map(|(_, jars, _)| *jars).sum::<Jars>();
        Owing {
            label,
            name,
            jars: owed(&own.iter().map(|(what, jars, _)| (*what, *jars)).collect::<Vec<_>>()),
            lost: of(&|what| what == Empties::BrokenOrLost),
            // The account stands below nothing, because the farm owes it back.
            deposit: Money::ZERO - deposits.get(&number).copied().unwrap_or_default(),
            last: own.last().map(|(_, _, at)| zone.day(*at)),
        }
    };
    let mut households: Vec<Owing> = people.into_iter().map(owing).collect();
    households.retain(|own| !own.jars.is_none() || own.deposit != Money::ZERO);
    Ok(Out { households, loss, new_jar: new_jar(db).await?, on })
}

async fn broken_at_home(db: &mut SqliteConnection, from: Moment) -> Result<i64, Failure> {
    let asked = "SELECT coalesce(sum(half_gallons), 0) FROM asides WHERE sort = 'broken' AND at >= ?";
    Ok(sqlx::query_scalar(asked).bind(from.in_seconds()).fetch_one(db).await?)
}

/// What one jar cost on the newest ticket that counts jars, and what that ticket says.
async fn new_jar(db: &mut SqliteConnection) -> Result<Option<(Decimal, String)>, Failure> {
    let row: Option<(i64, String, String)> = sqlx::query_as(
        "SELECT amount, quantity, what FROM tickets WHERE sort = 'jars and lids' AND unit = 'jar' AND quantity IS NOT NULL ORDER BY paid DESC, number DESC LIMIT 1",
    )
    .fetch_optional(db)
    .await?;
    let each = |(amount, quantity, what): (i64, String, String)| {
        Some((Money::cents(amount).dollars().checked_div(Decimal::from_str(&quantity).ok()?)?, what))
    };
    Ok(row.and_then(each))
}
