//! Holds that touch some lots, and their lifting. A hold on a cow, a vessel or everything is told once for each lot it touches.

use super::{Happened, OWN, moment, read, words};
use crate::{
    store::{Failure, among},
    trade::{
        events::{Version, What},
        jars::Jars,
        when::Moment,
    },
};
use sqlx::{Row, SqliteConnection};
use std::collections::BTreeMap;

/// Every hold and lift that touches some lots, with every version that was struck. A hold struck altogether touches the lot it
/// named; one on a cow or a vessel then touches nothing any more that could be told.
pub(super) async fn read_all(db: &mut SqliteConnection, numbers: &[i64]) -> Result<Vec<Version<Happened>>, Failure> {
    let mut touched: BTreeMap<i64, Vec<i64>> = BTreeMap::new();
    // A hold that was lifted before a lot was filled never held that lot.
    let asked = "SELECT t.hold, t.lot FROM touched t JOIN lots l ON l.number = t.lot WHERE t.lot IN (SELECT value FROM json_each(?))
         AND NOT EXISTS (SELECT 1 FROM lifts x WHERE x.hold = t.hold AND x.at < l.filled) ORDER BY t.hold, t.lot";
    let pairs: Vec<(i64, i64)> = sqlx::query_as(asked).bind(among(numbers)).fetch_all(&mut *db).await?;
    for (hold, lot) in pairs {
        touched.entry(hold).or_default().push(lot);
    }
    let mut all = Vec::new();
    for version in held(&mut *db, numbers).await? {
        let Version { record, struck, says: (lot, at, scope, reason) } = version;
        let own = touched.entry(record.number).or_default();
        if let Some(lot) = lot.filter(|lot| !own.contains(lot)) {
            own.push(lot);
        }
        let lots = lot.map_or_else(|| own.clone(), |lot| vec![lot]);
        let happened = |lot| (lot, at, Jars::NONE, What::Held { scope: scope.clone(), reason: reason.clone() });
        all.extend(lots.into_iter().map(|lot| Version { record: record.clone(), struck: struck.clone(), says: happened(lot) }));
    }
    let holds: Vec<i64> = touched.keys().copied().collect();
    for version in lifted(db, &holds).await? {
        let Version { record, struck, says: (hold, at, reason) } = version;
        let lots = touched.get(&hold).into_iter().flatten();
        let happened = |lot| (lot, at, Jars::NONE, What::Lifted { reason: reason.clone() });
        all.extend(lots.map(|lot| Version { record: record.clone(), struck: struck.clone(), says: happened(*lot) }));
    }
    Ok(all)
}

/// What a hold says: the lot it names, when, what it holds and why.
type Held = (Option<i64>, Moment, String, String);

async fn held(db: &mut SqliteConnection, numbers: &[i64]) -> Result<Vec<Version<Held>>, Failure> {
    let asked = versions!(
        "holds",
        "SELECT hold FROM touched WHERE lot IN (SELECT value FROM json_each(?1))
         UNION SELECT number FROM struck WHERE kind = 'holds' AND was->>'$.lot' IN (SELECT value FROM json_each(?1))",
        ("lot", "$.lot"),
        ("at", "$.at"),
        ("scope", "$.scope"),
        ("reason", "$.reason")
    );
    let says = read(db, ("holds", asked), numbers, |row| {
        Ok((row.try_get(OWN)?, moment(row, OWN + 1)?, row.try_get(OWN + 2)?, words(row, OWN + 3)?))
    });
    Ok(says.await?.into_values().flatten().collect())
}

/// What a lift says: the hold, when and why.
type Lifted = (i64, Moment, String);

async fn lifted(db: &mut SqliteConnection, holds: &[i64]) -> Result<Vec<Version<Lifted>>, Failure> {
    let asked = versions!("lifts", naming!("lifts", "hold"), ("hold", "$.hold"), ("at", "$.at"), ("reason", "$.reason"));
    let says = read(db, ("lifts", asked), holds, |row| Ok((row.try_get(OWN)?, moment(row, OWN + 1)?, row.try_get(OWN + 2)?)));
    Ok(says.await?.into_values().flatten().collect())
}
