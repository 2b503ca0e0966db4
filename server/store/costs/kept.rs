//! What a cost rests on beside tickets, gear and minutes: the stores and how they are used up, the usual week, what draws
//! current, and what the farm has chosen.

use super::{day, maybe_day, yes};
use crate::{
    store::{Failure, listed},
    trade::{
        account::{BankTotal, Chosen, Worth},
        measure::{Scale, Temperature, figure_of},
        money::Money,
        packs::Packs,
        power::{Appliance, Does, Reading},
        stores::{Counted, DayUse, Feeding, Store, UsedBy, sort_of},
        usual::Usual,
        wear::Span,
        when::{Day, Moment, Zone, parse_day},
    },
};
use rust_decimal::Decimal;
use serde::de::DeserializeOwned;
use sqlx::{Row, SqliteConnection, sqlite::SqliteRow};
use std::collections::{BTreeMap, HashMap};

async fn in_one<T: DeserializeOwned>(db: &mut SqliteConnection, asked: &'static str) -> Result<T, Failure> {
    listed(&sqlx::query_scalar::<_, String>(asked).fetch_one(db).await?)
}

fn figure(row: &SqliteRow, place: usize) -> Result<Option<Decimal>, Failure> {
    let text: Option<String> = row.try_get(place)?;
    Ok(text.and_then(|text| figure_of(&text)))
}

fn number_or_nothing(row: &SqliteRow, place: usize) -> Result<Decimal, Failure> {
    Ok(figure(row, place)?.unwrap_or_default())
}

pub(super) async fn stores(db: &mut SqliteConnection) -> Result<Vec<Store>, Failure> {
    sqlx::query("SELECT number, name, sort, counted_in, coalesce(packs, ''), used_by, used_amount, milk_share, dry_matter, waste FROM stores ORDER BY number")
        .fetch_all(db)
        .await?
        .iter()
        .map(|row| {
            Ok(Store {
                number: row.try_get(0)?,
                name: row.try_get(1)?,
                sort: sort_of(row.try_get(2)?),
                counted_in: row.try_get(3)?,
                packs: Packs::parse(row.try_get(4)?).unwrap_or_default(),
                used_by: UsedBy::parse(row.try_get(5)?),
                used_amount: number_or_nothing(row, 6)?,
                milk_share: row.try_get(7)?,
                dry_matter: figure(row, 8)?,
                waste: number_or_nothing(row, 9)?,
            })
        })
        .collect()
}

pub(super) async fn feedings(db: &mut SqliteConnection) -> Result<Vec<Feeding>, Failure> {
    sqlx::query(
        "SELECT f.number, f.store, f.since, f.until, f.amount, f.unit, f.each, c.name, f.guess FROM feedings f LEFT JOIN cows c ON c.number = f.cow
         ORDER BY f.since, f.number",
    )
    .fetch_all(db)
    .await?
    .iter()
    .map(|row| {
        Ok(Feeding {
            number: row.try_get(0)?,
            store: row.try_get(1)?,
            since: day(row, 2)?,
            until: maybe_day(row, 3)?,
            amount: number_or_nothing(row, 4)?,
            unit: row.try_get(5)?,
            a_day: row.try_get::<&str, _>(6)? == "a day",
            cow: row.try_get(7)?,
            guess: yes(row, 8)?,
        })
    })
    .collect()
}

pub(super) async fn counts(db: &mut SqliteConnection) -> Result<Vec<Counted>, Failure> {
    sqlx::query("SELECT number, store, day, amount, unit FROM store_counts ORDER BY day, number")
        .fetch_all(db)
        .await?
        .iter()
        .map(|row| {
            Ok(Counted {
                number: row.try_get(0)?,
                store: row.try_get(1)?,
                day: day(row, 2)?,
                amount: number_or_nothing(row, 3)?,
                unit: row.try_get(4)?,
            })
        })
        .collect()
}

/// What every day used up by itself; nothing is asked that no store goes by. A milking names its own day.
pub(super) async fn days(db: &mut SqliteConnection, stores: &[Store], zone: Zone) -> Result<Vec<DayUse>, Failure> {
    let by = |ways: &[UsedBy]| stores.iter().any(|own| ways.contains(&own.used_by));
    let mut days: BTreeMap<Day, DayUse> = BTreeMap::new();
    fn of(days: &mut BTreeMap<Day, DayUse>, day: Day) -> &mut DayUse {
        days.entry(day).or_insert(DayUse { day, milkings: 0, cows: 0, jars: 0 })
    }
    if by(&[UsedBy::Milking, UsedBy::Cow]) {
        let milked: Vec<(i64, String)> =
            in_one(&mut *db, "SELECT json_group_array(json_array(number, substr(session, 1, 10))) FROM milkings").await?;
        let cows: Vec<(i64, i64)> = if by(&[UsedBy::Cow]) {
            let each =
                "SELECT json_group_array(json_array(milking, cows)) FROM (SELECT milking, count(*) AS cows FROM pails GROUP BY milking)";
            in_one(&mut *db, each).await?
        } else {
            Vec::new()
        };
        let cows: HashMap<i64, i64> = cows.into_iter().collect();
        for (number, text) in milked {
            if let Ok(day) = parse_day(&text) {
                let own = of(&mut days, day);
                own.milkings += 1;
                own.cows += cows.get(&number).copied().unwrap_or_default();
            }
        }
    }
    if by(&[UsedBy::Jar]) {
        let jars = "SELECT json_group_array(json_array(filled, gallons + half_gallons + quarts + pints)) FROM (SELECT filled, gallons, half_gallons, quarts, pints FROM lots ORDER BY filled)";
        let filled: Vec<(i64, i64)> = in_one(db, jars).await?;
        let mut day = zone.days();
        for (at, jars) in filled {
            of(&mut days, day(Moment::seconds(at))).jars += jars;
        }
    }
    Ok(days.into_values().collect())
}

pub(super) async fn usual(db: &mut SqliteConnection) -> Result<Vec<Usual>, Failure> {
    sqlx::query("SELECT number, since, until, job, person, minutes, wage FROM usual_weeks ORDER BY since, number")
        .fetch_all(db)
        .await?
        .iter()
        .map(|row| {
            Ok(Usual {
                number: row.try_get(0)?,
                since: day(row, 1)?,
                until: maybe_day(row, 2)?,
                job: row.try_get(3)?,
                person: row.try_get(4)?,
                minutes: row.try_get(5)?,
                wage: row.try_get::<Option<i64>, _>(6)?.map(Money::cents),
            })
        })
        .collect()
}

pub(super) async fn worths(db: &mut SqliteConnection) -> Result<Vec<Worth>, Failure> {
    let rows = sqlx::query("SELECT number, person, since, worth FROM worths ORDER BY since, number").fetch_all(db).await?;
    rows.iter()
        .map(|row| {
            Ok(Worth { number: row.try_get(0)?, person: row.try_get(1)?, since: day(row, 2)?, worth: Money::cents(row.try_get(3)?) })
        })
        .collect()
}

pub(super) async fn appliances(db: &mut SqliteConnection) -> Result<Vec<Appliance>, Failure> {
    sqlx::query(
        "SELECT number, name, since, until, sort, kilowatts, coalesce(minutes, 0), gallons, starts_at_as, ends_at_as, efficiency, times, kilowatt_hours
         FROM appliances ORDER BY number",
    )
    .fetch_all(db)
    .await?
    .iter()
    .map(|row| {
        let heat = |place: usize| -> Result<Temperature, Failure> {
            let read: Option<String> = row.try_get(place)?;
            Ok(read.and_then(|read| Temperature::parse(&read, Scale::Fahrenheit).ok()).unwrap_or_else(|| Temperature::fahrenheit(32)))
        };
        let does = match row.try_get::<&str, _>(4)? {
            "motor" => Does::Turns(number_or_nothing(row, 5)?, row.try_get(6)?),
            "heats water" => Does::Warms(number_or_nothing(row, 7)?, heat(8)?, heat(9)?, figure(row, 10)?.unwrap_or(Decimal::ONE_HUNDRED)),
            "chills milk" => Does::Chills(heat(8)?, heat(9)?, figure(row, 11)?.unwrap_or(Decimal::ONE)),
            _ => Does::Label(number_or_nothing(row, 12)?),
        };
        Ok(Appliance { number: row.try_get(0)?, name: row.try_get(1)?, since: day(row, 2)?, until: maybe_day(row, 3)?, does })
    })
    .collect()
}

pub(super) async fn meter(db: &mut SqliteConnection) -> Result<Vec<Reading>, Failure> {
    let rows = sqlx::query("SELECT number, day, reading FROM meter_readings ORDER BY day, number").fetch_all(db).await?;
    rows.iter().map(|row| Ok(Reading { number: row.try_get(0)?, day: day(row, 1)?, shows: number_or_nothing(row, 2)? })).collect()
}

pub(super) async fn bank(db: &mut SqliteConnection) -> Result<Vec<BankTotal>, Failure> {
    let rows = sqlx::query("SELECT number, since, until, paid_out FROM bank_totals ORDER BY since, number").fetch_all(db).await?;
    rows.iter()
        .map(|row| {
            let span = Span { from: day(row, 1)?, to: day(row, 2)? };
            Ok(BankTotal { number: row.try_get(0)?, span, paid_out: Money::cents(row.try_get(3)?) })
        })
        .collect()
}

pub(super) async fn chosen(db: &mut SqliteConnection) -> Result<Vec<Chosen>, Failure> {
    let rows = sqlx::query("SELECT number, since, choice FROM choices ORDER BY since, number").fetch_all(db).await?;
    rows.iter().map(|row| Ok(Chosen { number: row.try_get(0)?, since: day(row, 1)?, choice: row.try_get(2)? })).collect()
}
