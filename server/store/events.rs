//! What happened to some lots, read for the papers of events: one question a kind of record, each with every version of every
//! record that names one of the lots, or once did.

use super::{Failure, among, jars};
use crate::trade::{
    events::{Event, Events, Household, Lot, Milked, Milking, Place, Record, Struck, Version, What, states},
    jars::Jars,
    measure::Weight,
    when::Moment,
};
use sqlx::{Row, SqliteConnection, sqlite::SqliteRow};
use std::collections::{BTreeMap, BTreeSet, HashMap};

/// Every version of the records of a kind whose numbers a question finds: those that stand from their table, the others from
/// what was struck. The first eight columns say which version it is and what struck it; then come those named, each with where
/// it stands in a struck line.
macro_rules! versions {
    ($kind:literal, $found:expr, $(($column:literal, $path:literal)),+) => {
        concat!(
            "WITH found AS (", $found, ")
             SELECT number, version, entry, written, who, NULL, '', ''", $(", ", $column,)+ " FROM ", $kind, " WHERE number IN (SELECT * FROM found)
             UNION ALL
             SELECT number, version, was->>'$.entry', was->>'$.written', was->>'$.who', at, who, why", $(", was->>'", $path, "'",)+ "
             FROM struck WHERE kind = '", $kind, "' AND number IN (SELECT * FROM found) ORDER BY 1, 2"
        )
    };
}

/// The records of a kind that name one of the lots in a column, or once did.
macro_rules! naming {
    ($kind:literal, $column:literal) => {
        concat!(
            "SELECT number FROM ",
            $kind,
            " WHERE ",
            $column,
            " IN (SELECT value FROM json_each(?1))
             UNION SELECT number FROM struck WHERE kind = '",
            $kind,
            "' AND was->>'$.",
            $column,
            "' IN (SELECT value FROM json_each(?1))"
        )
    };
}

/// The records of a kind with the numbers given.
macro_rules! numbered {
    () => {
        "SELECT value FROM json_each(?1)"
    };
}

mod jarred;
mod stops;

/// Every version of some records, by the record's number, the first version first.
type Versions<T> = BTreeMap<i64, Vec<Version<T>>>;

/// Versions of records of one kind, with what each row says.
async fn read<T>(
    db: &mut SqliteConnection,
    (kind, asked): (&'static str, &'static str),
    numbers: &[i64],
    says: impl Fn(&SqliteRow) -> Result<T, Failure>,
) -> Result<Versions<T>, Failure> {
    let mut found = Versions::new();
    for row in sqlx::query(asked).bind(among(numbers)).fetch_all(db).await? {
        let (number, struck): (i64, Option<i64>) = (row.try_get(0)?, row.try_get(5)?);
        let written = Moment::seconds(row.try_get(3)?);
        let record = Record { kind, number, version: row.try_get(1)?, entry: row.try_get(2)?, written, who: row.try_get(4)? };
        let of: &mut Vec<Version<T>> = found.entry(number).or_default();
        if let Some(before) = of.last_mut().and_then(|own| own.struck.as_mut()) {
            before.replaced = true;
        }
        let struck = match struck {
            Some(at) => Some(Struck { at: Moment::seconds(at), who: row.try_get(6)?, why: row.try_get(7)?, replaced: false }),
            None => None,
        };
        of.push(Version { record, struck, says: says(&row)? });
    }
    Ok(found)
}

/// The first column that a kind has of its own.
const OWN: usize = 8;

fn moment(row: &SqliteRow, place: usize) -> Result<Moment, Failure> {
    Ok(Moment::seconds(row.try_get(place)?))
}

/// Words that may be missing.
fn words(row: &SqliteRow, place: usize) -> Result<String, Failure> {
    Ok(row.try_get::<Option<String>, _>(place)?.unwrap_or_default())
}

/// What one version of a lot says.
struct Filled {
    lot: Lot,
    at: Moment,
    vessel: Option<i64>,
}

/// What one version of a cow's milk says.
struct Pail {
    milking: i64,
    cow: i64,
    milk: Weight,
    in_can: bool,
    vessel: Option<i64>,
}

/// What one version of a milking says.
struct Session {
    milking: Milking,
    started: Moment,
    ended: Option<Moment>,
    by: String,
}

/// What a lot was filled or made from: the lot, and a milking or another lot.
type Source = (i64, Option<i64>, Option<i64>);

/// What a version of a record says happened to a lot: which, when, how many jars, and what.
type Happened = (i64, Moment, Jars, What);

/// The event a version tells of; nothing when its lot is struck altogether, which leaves no code to tell it by.
fn event(version: Version<Happened>, lots: &HashMap<i64, Lot>) -> Option<Event> {
    let Version { record, struck, says: (lot, at, jars, what) } = version;
    let lot = Some(lots.get(&lot)?.clone());
    Some(Event { what, at, lot, jars, state: record.version, record, struck })
}

/// Everything read, before it is put together.
struct Found {
    lots: Versions<Filled>,
    sources: Vec<Version<Source>>,
    milkings: Versions<Session>,
    pails: Vec<Version<Pail>>,
    into: HashMap<i64, BTreeSet<String>>,
    names: Names,
}

/// What numbers stand for.
#[derive(Default)]
struct Names {
    /// Lots, those of the papers and any other that a record names.
    lots: HashMap<i64, Lot>,
    cows: HashMap<i64, String>,
    vessels: HashMap<i64, String>,
    households: Vec<Household>,
}

/// Every event of some lots, and of the milkings in them.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn of_lots(db: &mut SqliteConnection, numbers: &[i64]) -> Result<Events, Failure> {
    let sources = sources(&mut *db, numbers).await?;
    let milkings: BTreeSet<i64> = sources.iter().filter_map(|own| own.says.1).collect();
    let milkings: Vec<i64> = milkings.into_iter().collect();
    let mut found = Found {
        lots: filled(&mut *db, numbers).await?,
        milkings: sessions(&mut *db, &milkings).await?,
        pails: pails(&mut *db, &milkings).await?,
        names: Names::default(),
        into: into(&mut *db, &milkings).await?,
        sources,
    };
    found.names.cows = named(&mut *db, "SELECT number, name FROM cows").await?;
    found.names.vessels = named(&mut *db, "SELECT number, name FROM vessels").await?;
    found.names.households = households(&mut *db).await?;
    let mut happened = jarred::read_all(&mut *db, numbers, &found.names.households).await?;
    happened.extend(stops::read_all(&mut *db, numbers).await?);
    let sourced = found.sources.iter().flat_map(|own| [Some(own.says.0), own.says.2]).flatten();
    let all: BTreeSet<i64> = happened.iter().map(|own| own.says.0).chain(sourced).chain(numbers.iter().copied()).collect();
    found.names.lots = lots(&mut *db, &all.into_iter().collect::<Vec<_>>()).await?;
    let mut asked: Vec<Lot> = numbers.iter().filter_map(|number| found.names.lots.get(number).cloned()).collect();
    asked.sort_by_key(|lot| found.lots.get(&lot.number).and_then(|own| own.last()).map(|own| (own.says.at, lot.number)));
    let mut events = found.milked();
    events.extend(found.filled());
    events.extend(happened.into_iter().filter_map(|own| event(own, &found.names.lots)));
    Ok(Events::of(farm(&mut *db).await?, asked, events, found.names.households))
}

async fn farm(db: &mut SqliteConnection) -> Result<Place, Failure> {
    let asked = "SELECT (SELECT entry FROM farm ORDER BY since, number LIMIT 1), name, coalesce(address, ''), coalesce(phone, '')
                 FROM farm ORDER BY since DESC, number DESC LIMIT 1";
    let row = sqlx::query(asked).fetch_optional(db).await?;
    row.map_or_else(
        || Ok(Place::default()),
        |row| Ok(Place { entry: row.try_get(0)?, name: row.try_get(1)?, address: row.try_get(2)?, phone: row.try_get(3)? }),
    )
}

async fn named(db: &mut SqliteConnection, asked: &'static str) -> Result<HashMap<i64, String>, Failure> {
    let rows: Vec<(i64, String)> = sqlx::query_as(asked).fetch_all(db).await?;
    Ok(rows.into_iter().collect())
}

async fn households(db: &mut SqliteConnection) -> Result<Vec<Household>, Failure> {
    let rows: Vec<(i64, String, String, String)> =
        sqlx::query_as("SELECT number, entry, label, name FROM people ORDER BY number").fetch_all(db).await?;
    Ok(rows.into_iter().map(|(number, entry, label, name)| Household { number, entry, label, name }).collect())
}

async fn lots(db: &mut SqliteConnection, numbers: &[i64]) -> Result<HashMap<i64, Lot>, Failure> {
    let asked = "SELECT number, entry, code, coalesce(made, ''), gallons, half_gallons, quarts, pints FROM lots
                 WHERE number IN (SELECT value FROM json_each(?))";
    let rows = sqlx::query(asked).bind(among(numbers)).fetch_all(db).await?;
    let lot = |row: &SqliteRow| {
        Ok(Lot { number: row.try_get(0)?, entry: row.try_get(1)?, code: row.try_get(2)?, made: row.try_get(3)?, jars: jars(row, 4)? })
    };
    rows.iter().map(|row| lot(row).map(|lot| (lot.number, lot))).collect()
}

async fn filled(db: &mut SqliteConnection, numbers: &[i64]) -> Result<Versions<Filled>, Failure> {
    let asked = versions!(
        "lots",
        numbered!(),
        ("code", "$.code"),
        ("filled", "$.filled"),
        ("vessel", "$.vessel"),
        ("made", "$.made"),
        ("gallons", "$.gallons"),
        ("half_gallons", "$.half_gallons"),
        ("quarts", "$.quarts"),
        ("pints", "$.pints")
    );
    read(db, ("lots", asked), numbers, |row| {
        let (number, entry) = (row.try_get(0)?, row.try_get(2)?);
        let lot = Lot { number, entry, code: row.try_get(OWN)?, made: words(row, OWN + 3)?, jars: jars(row, OWN + 4)? };
        Ok(Filled { lot, at: moment(row, OWN + 1)?, vessel: row.try_get(OWN + 2)? })
    })
    .await
}

async fn sources(db: &mut SqliteConnection, numbers: &[i64]) -> Result<Vec<Version<Source>>, Failure> {
    let asked = versions!("sources", naming!("sources", "lot"), ("lot", "$.lot"), ("milking", "$.milking"), ("parent", "$.parent"));
    let found = read(db, ("sources", asked), numbers, |row| Ok((row.try_get(OWN)?, row.try_get(OWN + 1)?, row.try_get(OWN + 2)?))).await?;
    Ok(found.into_values().flatten().collect())
}

async fn sessions(db: &mut SqliteConnection, numbers: &[i64]) -> Result<Versions<Session>, Failure> {
    let asked = versions!(
        "milkings",
        numbered!(),
        ("session", "$.session"),
        ("started", "$.started"),
        ("ended", "$.ended"),
        ("milker", "$.milker")
    );
    read(db, ("milkings", asked), numbers, |row| {
        let milking = Milking { number: row.try_get(0)?, entry: row.try_get(2)?, session: row.try_get(OWN)? };
        let ended: Option<i64> = row.try_get(OWN + 2)?;
        Ok(Session { milking, started: moment(row, OWN + 1)?, ended: ended.map(Moment::seconds), by: row.try_get(OWN + 3)? })
    })
    .await
}

async fn pails(db: &mut SqliteConnection, milkings: &[i64]) -> Result<Vec<Version<Pail>>, Failure> {
    let asked = versions!(
        "pails",
        naming!("pails", "milking"),
        ("milking", "$.milking"),
        ("cow", "$.cow"),
        ("milk", "$.milk[0]"),
        ("went", "$.went"),
        ("vessel", "$.vessel")
    );
    let pail = |row: &SqliteRow| {
        let (milk, went): (i64, String) = (row.try_get(OWN + 2)?, row.try_get(OWN + 3)?);
        Ok(Pail {
            milking: row.try_get(OWN)?,
            cow: row.try_get(OWN + 1)?,
            milk: Weight::milligrams(milk),
            in_can: went == "can",
            vessel: row.try_get(OWN + 4)?,
        })
    };
    Ok(read(db, ("pails", asked), milkings, pail).await?.into_values().flatten().collect())
}

/// The codes of every lot that some milkings went into, whether these papers are of it or not.
async fn into(db: &mut SqliteConnection, milkings: &[i64]) -> Result<HashMap<i64, BTreeSet<String>>, Failure> {
    let asked =
        "SELECT s.milking, l.code FROM sources s JOIN lots l ON l.number = s.lot WHERE s.milking IN (SELECT value FROM json_each(?))";
    let rows: Vec<(i64, String)> = sqlx::query_as(asked).bind(among(milkings)).fetch_all(db).await?;
    let mut into: HashMap<i64, BTreeSet<String>> = HashMap::new();
    for (milking, code) in rows {
        into.entry(milking).or_default().insert(code);
    }
    Ok(into)
}

impl Found {
    /// The milkings, each with the cows whose milk went into the can.
    fn milked(&self) -> Vec<Event> {
        let mut events = Vec::new();
        for (number, heads) in &self.milkings {
            let own = self.pails.iter().filter(|own| own.says.milking == *number);
            let own: Vec<Version<&Pail>> =
                own.map(|own| Version { record: own.record.clone(), struck: own.struck.clone(), says: &own.says }).collect();
            for (nth, (head, parts, struck)) in (1..).zip(states(heads, &own)) {
                let poured: Vec<&&Pail> = parts.iter().map(|part| &part.says).filter(|own| own.in_can).collect();
                let vessels = poured.iter().filter_map(|own| self.names.vessels.get(&own.vessel?).cloned());
                let milked = Milked {
                    milking: head.says.milking.clone(),
                    started: head.says.started,
                    milk: poured.iter().map(|own| own.milk).sum(),
                    cows: poured.iter().filter_map(|own| self.names.cows.get(&own.cow).cloned()).collect(),
                    vessels: vessels.collect(),
                    by: head.says.by.clone(),
                    into: self.into.get(number).cloned().unwrap_or_default(),
                };
                let at = head.says.ended.unwrap_or(head.says.started);
                let (what, record) = (What::Milked(milked), head.record.clone());
                events.push(Event { what, at, lot: None, jars: Jars::NONE, record, state: nth, struck });
            }
        }
        events
    }

    /// The fillings and the lots made from lots, each with what went in.
    fn filled(&self) -> Vec<Event> {
        let mut events = Vec::new();
        for (number, heads) in &self.lots {
            let own: Vec<Version<Source>> = self.sources.iter().filter(|own| own.says.0 == *number).cloned().collect();
            for (nth, (head, parts, struck)) in (1..).zip(states(heads, &own)) {
                let milking = |own: &Version<Source>| Some(self.milkings.get(&own.says.1?)?.last()?.says.milking.clone());
                let what = What::Filled {
                    milkings: parts.iter().filter_map(|own| milking(own)).collect(),
                    lots: parts.iter().filter_map(|own| self.names.lots.get(&own.says.2?).cloned()).collect(),
                    vessel: head.says.vessel.and_then(|number| self.names.vessels.get(&number).cloned()).unwrap_or_default(),
                };
                let (lot, record) = (head.says.lot.clone(), head.record.clone());
                events.push(Event { what, at: head.says.at, jars: lot.jars, lot: Some(lot), record, state: nth, struck });
            }
        }
        events
    }
}
