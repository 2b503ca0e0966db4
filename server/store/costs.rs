//! What a half-gallon costs, as far as the ledger knows: tickets, stores, gear, minutes, assumptions, and where the milk went.
//!
//! A day is a day on the farm's clock.

mod at_hand;
mod beside;
mod kept;
mod milk;
mod what_ifs;

pub use at_hand::{AtHand, at_hand};
pub use beside::{Milked, beside, milked};
pub use milk::moved;
pub use what_ifs::{boarded, saved};

use super::{Failure, listed};
use crate::trade::{
    account::Books,
    bills::{Assumed, Owned, Paid, Serves, Spent},
    guessed,
    measure::figure_of,
    money::Money,
    usual,
    wear::Span,
    when::{Day, Moment, Zone, parse_day},
};
use sqlx::{Row, SqliteConnection, sqlite::SqliteRow};

/// The day a cost can be reckoned from, if the farm has been set up: the day the farm began, or the day its first guess of its
/// milk is about, unless something was really written before that.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn since(db: &mut SqliteConnection) -> Result<Option<Day>, Failure> {
    let day: Option<String> = sqlx::query_scalar(
        "SELECT coalesce((SELECT min(guess.since, coalesce((SELECT min(day) FROM (
                     SELECT substr(min(session), 1, 10) AS day FROM milkings UNION ALL SELECT min(paid) FROM tickets WHERE guess = 'no'
                     UNION ALL SELECT min(day) FROM minutes)), guess.since))
                 FROM (SELECT min(since) AS since FROM assumptions WHERE name IN (?, ?)) guess), min(since)) FROM farm",
    )
    .bind(guessed::MADE)
    .bind(guessed::HANDED_OUT)
    .fetch_one(db)
    .await?;
    Ok(day.and_then(|day| parse_day(&day).ok()))
}

/// The last day of which anything is written that a cost rests on.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn last_day(db: &mut SqliteConnection, zone: Zone) -> Result<Option<Day>, Failure> {
    let moment: Option<i64> = sqlx::query_scalar(
        "SELECT max(at) FROM (SELECT max(started) AS at FROM milkings UNION ALL SELECT max(filled) FROM lots UNION ALL SELECT max(at) FROM pickups)",
    )
    .fetch_one(&mut *db)
    .await?;
    let day: Option<String> =
        sqlx::query_scalar("SELECT max(day) FROM (SELECT max(paid) AS day FROM tickets UNION ALL SELECT max(day) FROM minutes)")
            .fetch_one(db)
            .await?;
    Ok(moment.map(|at| zone.day(Moment::seconds(at))).max(day.and_then(|day| parse_day(&day).ok())))
}

/// All that a cost rests on, with the milk of these spans, and what each cow did in these. Nothing is reckoned after `until`.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn books(db: &mut SqliteConnection, zone: Zone, spans: &[Span], by_cow: &[Span], until: Day) -> Result<Books, Failure> {
    let stores = kept::stores(&mut *db).await?;
    let (income, income_since) = milk::income(&mut *db, spans).await?;
    let books = Books {
        tickets: tickets(&mut *db).await?,
        feedings: kept::feedings(&mut *db).await?,
        counts: kept::counts(&mut *db).await?,
        days: kept::days(&mut *db, &stores, zone).await?,
        stores,
        gear: gear(&mut *db).await?,
        minutes: minutes(&mut *db, spans).await?,
        usual: kept::usual(&mut *db).await?,
        worths: kept::worths(&mut *db).await?,
        appliances: kept::appliances(&mut *db).await?,
        meter: kept::meter(&mut *db).await?,
        assumed: assumed(&mut *db).await?,
        chosen: kept::chosen(&mut *db).await?,
        bank: kept::bank(&mut *db).await?,
        colostrum: what_ifs::colostrum(&mut *db, zone, spans).await?,
        milk: milk::milk(&mut *db, zone, spans).await?,
        cows: milk::cows(&mut *db, zone, by_cow).await?,
        made: milk::made(&mut *db, zone, by_cow).await?,
        income,
        income_since,
        begun: beside::begun(&mut *db, zone).await?,
        until,
        ..Books::default()
    };
    Ok(books.settled())
}

fn day(row: &SqliteRow, place: usize) -> Result<Day, Failure> {
    day_of(row.try_get(place)?)
}

fn day_of(text: &str) -> Result<Day, Failure> {
    parse_day(text).map_err(|fault| Failure::File(format!("A day in the ledger cannot be read: {fault} Run tallypail check.")))
}

fn maybe_day(row: &SqliteRow, place: usize) -> Result<Option<Day>, Failure> {
    let text: Option<String> = row.try_get(place)?;
    if text.is_none() { Ok(None) } else { day(row, place).map(Some) }
}

fn yes(row: &SqliteRow, place: usize) -> Result<bool, Failure> {
    let text: String = row.try_get(place)?;
    Ok(text == "yes")
}

/// A ticket as it comes out of the ledger: number, paid, sort, what, supplier, cents; first and last day, part for milk, guess;
/// quantity, unit, store, cow.
type Ticket = (
    (i64, String, String, String, String, i64),
    (Option<String>, Option<String>, i64, String),
    (Option<String>, String, Option<i64>, Option<String>),
);

async fn tickets(db: &mut SqliteConnection) -> Result<Vec<Paid>, Failure> {
    let all: String = sqlx::query_scalar(
        "SELECT json_group_array(json_array(
             json_array(t.number, t.paid, t.sort, t.what, coalesce(t.supplier, ''), t.amount),
             json_array(t.covers_from, t.covers_to, t.milk_share, t.guess),
             json_array(t.quantity, coalesce(t.unit, ''), t.store, c.name)) ORDER BY t.paid, t.number)
         FROM tickets t LEFT JOIN cows c ON c.number = t.cow",
    )
    .fetch_one(db)
    .await?;
    let ticket = |((number, paid, sort, what, supplier, cents), (first, last, milk_share, guess), (quantity, unit, store, cow)): Ticket| {
        Ok(Paid {
            number,
            paid: day_of(&paid)?,
            sort,
            what,
            supplier,
            amount: Money::cents(cents),
            used_from: first.as_deref().map(day_of).transpose()?,
            used_to: last.as_deref().map(day_of).transpose()?,
            milk_share,
            guess: guess == "yes",
            quantity: quantity.and_then(|figure| figure_of(&figure)),
            unit,
            store,
            cow,
        })
    };
    listed::<Vec<Ticket>>(&all)?.into_iter().map(ticket).collect()
}

async fn gear(db: &mut SqliteConnection) -> Result<Vec<Owned>, Failure> {
    sqlx::query(
        "SELECT g.number, CASE WHEN g.sort = 'cow' THEN coalesce(c.name, g.name) ELSE g.name END, g.sort = 'cow', g.bought, g.gone, g.price, g.salvage,
                g.life_years, g.milk_share, coalesce(g.serves, ''), coalesce(g.left_by, ''), coalesce(g.brought, 0)
         FROM gear g LEFT JOIN cows c ON c.number = g.cow ORDER BY g.bought, g.number",
    )
        .fetch_all(db)
        .await?
        .iter()
        .map(|row| {
            Ok(Owned {
                number: row.try_get(0)?,
                name: row.try_get(1)?,
                is_cow: row.try_get(2)?,
                bought: day(row, 3)?,
                gone: maybe_day(row, 4)?,
                price: Money::cents(row.try_get(5)?),
                salvage: Money::cents(row.try_get(6)?),
                years: row.try_get(7)?,
                milk_share: row.try_get(8)?,
                serves: Serves::parse(row.try_get(9)?),
                died: row.try_get::<&str, _>(10)? == "died",
                brought: Money::cents(row.try_get(11)?),
            })
        })
        .collect()
}

async fn minutes(db: &mut SqliteConnection, spans: &[Span]) -> Result<Vec<Spent>, Failure> {
    let Some(whole) = Span::around(spans) else { return Ok(Vec::new()) };
    // Whole weeks, because what is written in a week decides whether the usual one fills it.
    let weeks = usual::whole_weeks(whole);
    sqlx::query("SELECT number, day, job, person, minutes, wage, guess FROM minutes WHERE day BETWEEN ? AND ? ORDER BY day, number")
        .bind(weeks.from.to_string())
        .bind(weeks.to.to_string())
        .fetch_all(db)
        .await?
        .iter()
        .map(|row| {
            let wage: Option<i64> = row.try_get(5)?;
            Ok(Spent {
                opens: format!("/records/minutes/{}", row.try_get::<i64, _>(0)?),
                day: day(row, 1)?,
                job: row.try_get(2)?,
                person: row.try_get(3)?,
                minutes: row.try_get(4)?,
                wage: wage.map(Money::cents),
                guess: yes(row, 6)?,
            })
        })
        .collect()
}

async fn assumed(db: &mut SqliteConnection) -> Result<Vec<Assumed>, Failure> {
    let rows = sqlx::query("SELECT number, name, since, figure, note FROM assumptions ORDER BY since, number").fetch_all(db).await?;
    let mut all = Vec::with_capacity(rows.len());
    for row in &rows {
        let figure: String = row.try_get(3)?;
        if let Some(figure) = figure_of(&figure) {
            all.push(Assumed { number: row.try_get(0)?, name: row.try_get(1)?, since: day(row, 2)?, figure, note: row.try_get(4)? });
        }
    }
    Ok(all)
}
