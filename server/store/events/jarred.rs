//! What happened to jars: chill readings, hand-outs, jars set aside, counts.

use super::{Happened, OWN, Versions, moment, read, words};
use crate::{
    store::{Failure, jars},
    trade::{
        balance,
        events::{Household, Version, What},
        jars::Jars,
    },
};
use sqlx::{Row, SqliteConnection};

/// Everything that happened to the jars of some lots, with every version that was struck.
pub(super) async fn read_all(
    db: &mut SqliteConnection,
    numbers: &[i64],
    households: &[Household],
) -> Result<Vec<Version<Happened>>, Failure> {
    let chilled = chilled(&mut *db, numbers).await?;
    let handed = handed(&mut *db, numbers, households).await?;
    let aside = aside(&mut *db, numbers).await?;
    let counted = counted(db, numbers).await?;
    Ok([chilled, handed, aside, counted].into_iter().flat_map(Versions::into_values).flatten().collect())
}

async fn chilled(db: &mut SqliteConnection, numbers: &[i64]) -> Result<Versions<Happened>, Failure> {
    let asked = versions!(
        "chill",
        naming!("chill", "lot"),
        ("lot", "$.lot"),
        ("at", "$.at"),
        ("temperature_as", "$.temperature[1]"),
        ("thermometer", "$.thermometer"),
        ("bath_as", "$.bath[1]")
    );
    read(db, ("chill", asked), numbers, |row| {
        let what = What::Chilled { read: row.try_get(OWN + 2)?, thermometer: words(row, OWN + 3)?, bath: words(row, OWN + 4)? };
        Ok((row.try_get(OWN)?, moment(row, OWN + 1)?, Jars::NONE, what))
    })
    .await
}

async fn handed(db: &mut SqliteConnection, numbers: &[i64], households: &[Household]) -> Result<Versions<Happened>, Failure> {
    let asked = versions!(
        "pickups",
        naming!("pickups", "lot"),
        ("lot", "$.lot"),
        ("at", "$.at"),
        ("gallons", "$.gallons"),
        ("half_gallons", "$.half_gallons"),
        ("quarts", "$.quarts"),
        ("pints", "$.pints"),
        ("person", "$.person"),
        ("evidence", "$.evidence"),
        ("taken_by", "$.taken_by")
    );
    read(db, ("pickups", asked), numbers, |row| {
        let person: Option<i64> = row.try_get(OWN + 6)?;
        let to = person.and_then(|person| households.iter().find(|own| own.number == person).cloned());
        let what = What::HandedOut { to, evidence: row.try_get(OWN + 7)?, taken_by: words(row, OWN + 8)? };
        Ok((row.try_get(OWN)?, moment(row, OWN + 1)?, jars(row, OWN + 2)?, what))
    })
    .await
}

async fn aside(db: &mut SqliteConnection, numbers: &[i64]) -> Result<Versions<Happened>, Failure> {
    let asked = versions!(
        "asides",
        naming!("asides", "lot"),
        ("lot", "$.lot"),
        ("at", "$.at"),
        ("gallons", "$.gallons"),
        ("half_gallons", "$.half_gallons"),
        ("quarts", "$.quarts"),
        ("pints", "$.pints"),
        ("sort", "$.sort"),
        ("reason", "$.reason")
    );
    read(db, ("asides", asked), numbers, |row| {
        let what = What::SetAside { went: went(row.try_get(OWN + 6)?), reason: words(row, OWN + 7)? };
        Ok((row.try_get(OWN)?, moment(row, OWN + 1)?, jars(row, OWN + 2)?, what))
    })
    .await
}

/// Where jars went, by the word of `trade::kinds`.
fn went(sort: &str) -> balance::What {
    match sort {
        "household" => balance::What::Household,
        "calf" => balance::What::Calf,
        "made" => balance::What::IntoLot,
        "sample" => balance::What::Sample,
        "shelf jar" => balance::What::ShelfJar,
        "broken" => balance::What::Broken,
        "returned" => balance::What::Returned,
        _ => balance::What::ThrownOut,
    }
}

async fn counted(db: &mut SqliteConnection, numbers: &[i64]) -> Result<Versions<Happened>, Failure> {
    let asked = versions!(
        "counts",
        naming!("counts", "lot"),
        ("lot", "$.lot"),
        ("at", "$.at"),
        ("gallons", "$.gallons"),
        ("half_gallons", "$.half_gallons"),
        ("quarts", "$.quarts"),
        ("pints", "$.pints"),
        ("counter", "$.counter")
    );
    read(db, ("counts", asked), numbers, |row| {
        let what = What::Counted { by: row.try_get(OWN + 6)? };
        Ok((row.try_get(OWN)?, moment(row, OWN + 1)?, jars(row, OWN + 2)?, what))
    })
    .await
}
