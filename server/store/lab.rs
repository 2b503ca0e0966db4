//! Bottles and what the lab found in them: which are out, what came back, and the papers kept.

use super::{
    Failure,
    farm::followed_since,
    jars,
    results::{WIDTH, asking, of, result},
};
use crate::trade::{
    analytes::Analyte,
    colonies,
    frequency::Frequencies,
    jars::Jars,
    lab::{LabResult, Of},
    limits::Limits,
    when::{Day, Moment, parse_day},
};
use sqlx::{AssertSqlSafe, Row, SqliteConnection, sqlite::SqliteRow};

/// A bottle that was drawn.
#[derive(Clone, Debug)]
pub struct Bottle {
    /// Its number.
    pub number: i64,
    /// When it was drawn.
    pub drawn: Moment,
    /// Of what.
    pub of: Of,
    /// The lot's number, when it is of a lot.
    pub lot: Option<i64>,
    /// The tap or the surface.
    pub place: String,
    /// What it is to be tested for; nothing named means everything.
    pub asked: Vec<Analyte>,
    /// When it was sent.
    pub sent: Option<Moment>,
    /// What it read when the lab got it.
    pub received: String,
    /// The lab.
    pub lab: String,
    /// Its reference.
    pub lab_ref: String,
    /// The lab's paper: its document's number and name.
    pub paper: Option<(i64, String)>,
    /// A note.
    pub note: String,
}

impl Bottle {
    /// What was asked for and is not answered by these results; what a panel is made of, the rules say.
    #[must_use]
    pub fn open(&self, results: &[Found], limits: &Limits) -> Vec<Analyte> {
        let tested: Vec<&Analyte> = results.iter().map(|own| &own.result.analyte).collect();
        self.asked.iter().filter(|asked| !limits.answers(asked, &tested)).cloned().collect()
    }
}

/// A result as it was typed from the lab's paper.
#[derive(Clone, Debug)]
pub struct Found {
    /// What it says.
    pub result: LabResult,
    /// The figure, letter by letter as the lab wrote it.
    pub wrote: String,
    /// The unit, as typed.
    pub unit: String,
    /// The method.
    pub method: String,
    /// The plates or tubes behind it.
    pub plates: Option<colonies::Read>,
}

const BOTTLE: &str = "SELECT s.number, s.drawn, s.subject, l.code, c.name, s.lot, coalesce(s.place, ''), coalesce(s.asked, ''), s.sent,
        coalesce(s.received_at_as, ''), coalesce(s.lab, ''), coalesce(s.lab_ref, ''), s.document, d.name, coalesce(s.note, '')
    FROM samples s LEFT JOIN lots l ON l.number = s.lot LEFT JOIN cows c ON c.number = s.cow LEFT JOIN documents d ON d.number = s.document ";

fn read_bottle(row: &SqliteRow) -> Result<Bottle, Failure> {
    let (asked, sent): (String, Option<i64>) = (row.try_get(7)?, row.try_get(8)?);
    let (document, name): (Option<i64>, Option<String>) = (row.try_get(12)?, row.try_get(13)?);
    let (subject, lot, cow): (String, Option<String>, Option<String>) = (row.try_get(2)?, row.try_get(3)?, row.try_get(4)?);
    Ok(Bottle {
        number: row.try_get(0)?,
        drawn: Moment::seconds(row.try_get(1)?),
        of: of(&subject, lot.unwrap_or_default(), cow.unwrap_or_default()),
        lot: row.try_get(5)?,
        place: row.try_get(6)?,
        asked: asked.split(',').map(str::trim).filter(|name| !name.is_empty()).map(Analyte::parse).collect(),
        sent: sent.map(Moment::seconds),
        received: row.try_get(9)?,
        lab: row.try_get(10)?,
        lab_ref: row.try_get(11)?,
        paper: document.zip(name),
        note: row.try_get(14)?,
    })
}

/// What is written beside a result: the figure and the unit to the letter, the method, the plates.
const BESIDE: &str = ", r.figure, coalesce(r.unit, ''), coalesce(r.method, ''), coalesce(r.plates, '')";

fn read_found(row: &SqliteRow) -> Result<Option<Found>, Failure> {
    let Ok(result) = result(row)? else { return Ok(None) };
    let plates: String = row.try_get(WIDTH + 3)?;
    let (wrote, unit, method) = (row.try_get(WIDTH)?, row.try_get(WIDTH + 1)?, row.try_get(WIDTH + 2)?);
    Ok(Some(Found { result, wrote, unit, method, plates: colonies::Read::parse(&plates).ok() }))
}

/// One bottle.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn bottle(db: &mut SqliteConnection, number: i64) -> Result<Option<Bottle>, Failure> {
    let row = sqlx::query(bottle_list("WHERE s.number = ?")).bind(number).fetch_optional(db).await?;
    row.map(|row| read_bottle(&row)).transpose()
}

/// The bottles drawn since a moment, newest first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn bottles(db: &mut SqliteConnection, since: Moment) -> Result<Vec<Bottle>, Failure> {
    let asked = bottle_list("WHERE s.drawn >= ? ORDER BY s.drawn DESC, s.number DESC");
    sqlx::query(asked).bind(since.in_seconds()).fetch_all(db).await?.iter().map(read_bottle).collect()
}

/// Every result of bottles drawn since a moment, oldest first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn found_since(db: &mut SqliteConnection, since: Moment) -> Result<Vec<Found>, Failure> {
    let asked = asking(BESIDE, "WHERE s.drawn >= ? ORDER BY s.drawn, r.number");
    let rows = sqlx::query(asked).bind(since.in_seconds()).fetch_all(db).await?;
    Ok(rows.iter().map(read_found).collect::<Result<Vec<_>, _>>()?.into_iter().flatten().collect())
}

/// The results of one bottle, in the order they were kept.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn found_in(db: &mut SqliteConnection, sample: i64) -> Result<Vec<Found>, Failure> {
    let asked = asking(BESIDE, "WHERE r.sample = ? ORDER BY r.number");
    let rows = sqlx::query(asked).bind(sample).fetch_all(db).await?;
    Ok(rows.iter().map(read_found).collect::<Result<Vec<_>, _>>()?.into_iter().flatten().collect())
}

/// One result.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn found(db: &mut SqliteConnection, number: i64) -> Result<Option<Found>, Failure> {
    let row = sqlx::query(asking(BESIDE, "WHERE r.number = ?")).bind(number).fetch_optional(db).await?;
    Ok(row.map(|row| read_found(&row)).transpose()?.flatten())
}

/// What a rule set of some day says about tests.
#[derive(Clone, Debug)]
pub struct RuleSet {
    /// Its title.
    pub title: String,
    /// Since when it is followed, its earlier versions counted in.
    pub since: Day,
    /// Its limits.
    pub limits: Limits,
    /// How often it has things tested.
    pub tests: Frequencies,
    /// Days after a notice before which a fresh sample does not count, and within which it is due.
    pub resample: Option<(i64, i64)>,
}

/// The rule sets of a day: the one everything is judged by first, then those beside it.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn rule_sets(db: &mut SqliteConnection, day: Day) -> Result<Vec<RuleSet>, Failure> {
    let rows = sqlx::query(
        "SELECT title, coalesce(limits, ''), coalesce(tests, ''), resample_after, resample_within, coalesce(beside, 'no'), since FROM rules
         WHERE since <= ? ORDER BY since DESC, number DESC",
    )
    .bind(day.to_string())
    .fetch_all(db)
    .await?;
    // A set that stands alone ends whatever came before it; those written since stand beside it.
    let mut sets = Vec::new();
    let all: Vec<(String, String, String)> =
        rows.iter().map(|row| Ok((row.try_get(0)?, row.try_get(5)?, row.try_get(6)?))).collect::<Result<_, Failure>>()?;
    for (nth, (row, (_, beside, _))) in rows.iter().zip(&all).enumerate() {
        let set = rule_set(row, followed_since(&all, nth).unwrap_or(day))?;
        if beside != "yes" {
            sets.insert(0, set);
            break;
        }
        sets.push(set);
    }
    Ok(sets)
}

fn rule_set(row: &SqliteRow, since: Day) -> Result<RuleSet, Failure> {
    let (limits, tests): (String, String) = (row.try_get(1)?, row.try_get(2)?);
    let (after, within): (Option<i64>, Option<i64>) = (row.try_get(3)?, row.try_get(4)?);
    Ok(RuleSet {
        title: row.try_get(0)?,
        since,
        limits: Limits::parse(&limits).unwrap_or_default(),
        tests: Frequencies::parse(&tests).unwrap_or_default(),
        resample: within.map(|within| (after.unwrap_or(0), within)),
    })
}

/// A hand-out of a lot, with what was frozen on it.
#[derive(Clone, Debug)]
pub struct Gone {
    /// When.
    pub at: Moment,
    /// The jars.
    pub jars: Jars,
    /// The word as it stood then.
    pub verdict: String,
    /// The number of the household; none for an unknown walk-in.
    pub person: Option<i64>,
}

/// The hand-outs of a lot, oldest first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn gone(db: &mut SqliteConnection, lot: i64) -> Result<Vec<Gone>, Failure> {
    let rows =
        sqlx::query("SELECT at, gallons, half_gallons, quarts, pints, verdict, person FROM pickups WHERE lot = ? ORDER BY at, number")
            .bind(lot)
            .fetch_all(db)
            .await?;
    rows.iter()
        .map(|row| {
            Ok(Gone { at: Moment::seconds(row.try_get(0)?), jars: jars(row, 1)?, verdict: row.try_get(5)?, person: row.try_get(6)? })
        })
        .collect()
}

/// The last clean break of a lot's vessel before it was filled, and the codes of every lot filled since then that no hold of
/// its own stands on. Nothing where no break is written down.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn since_clean_break(db: &mut SqliteConnection, lot: i64) -> Result<Option<(Moment, Vec<String>)>, Failure> {
    let last: Option<i64> = sqlx::query_scalar(
        "SELECT max(b.at) FROM breaks b JOIN lots l ON l.vessel = b.vessel WHERE l.number = ? AND b.washed = 'yes' AND b.sanitised = 'yes' AND b.at <= l.filled",
    )
    .bind(lot)
    .fetch_one(&mut *db)
    .await?;
    let Some(last) = last else { return Ok(None) };
    let codes = sqlx::query_scalar(concat!(
        "SELECT code FROM lots l WHERE filled >= ? AND NOT EXISTS (SELECT 1 FROM holds h WHERE h.scope = 'lot' AND h.lot = l.number
            AND ",
        stands!(),
        ") ORDER BY filled, number"
    ))
    .bind(last)
    .fetch_all(db)
    .await?;
    Ok(Some((Moment::seconds(last), codes)))
}

/// The codes of the lots with a cow's milk in them, milked since a moment.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn lots_with(db: &mut SqliteConnection, cow: &str, since: Moment) -> Result<Vec<String>, Failure> {
    Ok(sqlx::query_scalar(
        "SELECT DISTINCT l.code FROM pails p JOIN cows c ON c.number = p.cow JOIN milkings m ON m.number = p.milking
         JOIN sources s ON s.milking = p.milking JOIN lots l ON l.number = s.lot
         WHERE c.name = ? AND p.went = 'can' AND m.started >= ? ORDER BY l.filled DESC LIMIT 60",
    )
    .bind(cow)
    .bind(since.in_seconds())
    .fetch_all(db)
    .await?)
}

/// Keeps the bytes of a paper, once.
///
/// # Errors
/// When the ledger cannot be written.
pub async fn keep_bytes(db: &mut SqliteConnection, hash: &str, bytes: &[u8]) -> Result<(), Failure> {
    sqlx::query("INSERT INTO contents (hash, bytes) VALUES (?, ?) ON CONFLICT (hash) DO NOTHING")
        .bind(hash)
        .bind(bytes)
        .execute(db)
        .await?;
    Ok(())
}

/// A paper's name and bytes.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn paper(db: &mut SqliteConnection, number: i64) -> Result<Option<(String, Vec<u8>)>, Failure> {
    let asked = "SELECT d.name, c.bytes FROM documents d JOIN contents c ON c.hash = d.hash WHERE d.number = ?";
    Ok(sqlx::query_as(asked).bind(number).fetch_optional(db).await?)
}

/// The lots newest first by code, as many as a list to choose from may hold.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn newest_lots(db: &mut SqliteConnection) -> Result<Vec<String>, Failure> {
    Ok(sqlx::query_scalar("SELECT code FROM lots ORDER BY filled DESC, number DESC LIMIT 60").fetch_all(db).await?)
}

fn bottle_list(ending: &'static str) -> AssertSqlSafe<String> {
    AssertSqlSafe(format!("{BOTTLE}{ending}"))
}

/// The day the farm's records start on.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn first_day(db: &mut SqliteConnection) -> Result<Option<Day>, Failure> {
    let since: Option<String> = sqlx::query_scalar("SELECT min(since) FROM farm").fetch_one(db).await?;
    Ok(since.and_then(|since| parse_day(&since).ok()))
}
