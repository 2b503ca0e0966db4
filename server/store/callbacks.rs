//! Call-backs (recalls) with all that is written of them.

use super::{Failure, among, jars as jars_of};
use crate::trade::{
    called::{CalledLot, Out, Telling, To, Try, recipients},
    case::{Case, Condition, Course, Wording},
    jars::Jars,
    packet::Happened,
    recipients::Household,
    when::Moment,
};
use sqlx::{Row, SqliteConnection};

/// One line of the list of call-backs.
#[derive(Clone, Debug)]
pub struct Listed {
    /// Its number.
    pub number: i64,
    /// When it was opened.
    pub at: Moment,
    /// Whether it is for practice.
    pub practice: bool,
    /// Why.
    pub because: String,
    /// In a few words.
    pub note: String,
    /// Its lots that are called back.
    pub lots: Vec<String>,
    /// When it was closed.
    pub closed: Option<Moment>,
}

/// Every call-back, newest first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn list(db: &mut SqliteConnection) -> Result<Vec<Listed>, Failure> {
    let rows = sqlx::query(
        "SELECT c.number, c.at, c.sort = 'practice', c.because, coalesce(c.note, ''),
                (SELECT json_group_array(code) FROM (SELECT DISTINCT l.code FROM called d JOIN lots l ON l.number = d.lot WHERE d.callback = c.number
                    AND d.stands = 'called back' AND NOT EXISTS (SELECT 1 FROM called e WHERE e.callback = d.callback AND e.lot = d.lot AND e.number > d.number)
                    ORDER BY l.filled)),
                (SELECT CASE WHEN s.sort = 'closed' THEN s.at END FROM courses s WHERE s.callback = c.number AND s.sort IN ('closed', 'opened again')
                    ORDER BY s.at DESC, s.number DESC LIMIT 1)
         FROM callbacks c ORDER BY c.at DESC, c.number DESC",
    )
    .fetch_all(db)
    .await?;
    rows.iter()
        .map(|row| {
            let (lots, closed): (String, Option<i64>) = (row.try_get(5)?, row.try_get(6)?);
            Ok(Listed {
                number: row.try_get(0)?,
                at: Moment::seconds(row.try_get(1)?),
                practice: row.try_get(2)?,
                because: row.try_get(3)?,
                note: row.try_get(4)?,
                lots: serde_json::from_str(&lots).unwrap_or_default(),
                closed: closed.map(Moment::seconds),
            })
        })
        .collect()
}

/// A call-back with all that is written of it.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn one(db: &mut SqliteConnection, number: i64) -> Result<Option<Case>, Failure> {
    let found = sqlx::query(
        "SELECT at, written, who, sort = 'practice', because, complaint, result, coalesce(note, ''),
                (SELECT person FROM complaints c WHERE c.number = callbacks.complaint) FROM callbacks WHERE number = ?",
    )
    .bind(number)
    .fetch_optional(&mut *db)
    .await?;
    let Some(row) = found else { return Ok(None) };
    let lots = lots(db, number).await?;
    let called: Vec<i64> = lots.iter().filter(|own| own.called).map(|own| own.number).collect();
    let (outs, tries, told) = (outs(db, &called).await?, tries(db, number).await?, told(db, number).await?);
    Ok(Some(Case {
        number,
        opened: Moment::seconds(row.try_get(0)?),
        written: Moment::seconds(row.try_get(1)?),
        who: row.try_get(2)?,
        practice: row.try_get(3)?,
        because: row.try_get(4)?,
        complaint: row.try_get(5)?,
        result: row.try_get(6)?,
        note: row.try_get(7)?,
        lots,
        recipients: recipients(&outs, &tries, &told),
        teller: row.try_get(8)?,
        outs,
        wordings: wordings(db, number).await?,
        courses: courses(db, number).await?,
        conditions: conditions(db, number).await?,
    }))
}

/// The lots of a call-back, each as it was decided last, the certain ones first and each kind newest first.
async fn lots(db: &mut SqliteConnection, callback: i64) -> Result<Vec<CalledLot>, Failure> {
    let rows = sqlx::query(
        "SELECT d.lot, l.code, d.tie = 'certain', d.because, d.stands = 'called back', coalesce(d.reason, ''), d.at, d.who, l.filled
         FROM called d JOIN lots l ON l.number = d.lot
         WHERE d.callback = ? AND NOT EXISTS (SELECT 1 FROM called e WHERE e.callback = d.callback AND e.lot = d.lot AND e.number > d.number)
         ORDER BY d.tie, l.filled DESC, l.number DESC",
    )
    .bind(callback)
    .fetch_all(db)
    .await?;
    rows.iter()
        .map(|row| {
            Ok(CalledLot {
                number: row.try_get(0)?,
                code: row.try_get(1)?,
                certain: row.try_get(2)?,
                because: row.try_get(3)?,
                called: row.try_get(4)?,
                reason: row.try_get(5)?,
                at: Moment::seconds(row.try_get(6)?),
                who: row.try_get(7)?,
                filled: Moment::seconds(row.try_get(8)?),
            })
        })
        .collect()
}

/// Every hand-out of some lots.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn outs(db: &mut SqliteConnection, lots: &[i64]) -> Result<Vec<Out>, Failure> {
    let rows = sqlx::query(
        "SELECT p.number, p.lot, p.at, p.gallons, p.half_gallons, p.quarts, p.pints, p.evidence, coalesce(p.taken_by, ''), p.person, h.label, h.name,
                coalesce(h.phone, ''), coalesce(h.second_way, ''), p.verdict, p.because
         FROM pickups p LEFT JOIN people h ON h.number = p.person WHERE p.lot IN (SELECT value FROM json_each(?)) ORDER BY p.at, p.number",
    )
    .bind(among(lots))
    .fetch_all(db)
    .await?;
    rows.iter()
        .map(|row| {
            let person: Option<i64> = row.try_get(9)?;
            let household = match person {
                Some(number) => Some(Household {
                    number,
                    label: row.try_get(10)?,
                    name: row.try_get(11)?,
                    phone: row.try_get(12)?,
                    second_way: row.try_get(13)?,
                }),
                None => None,
            };
            Ok(Out {
                number: row.try_get(0)?,
                lot: row.try_get(1)?,
                at: Moment::seconds(row.try_get(2)?),
                jars: jars_of(row, 3)?,
                evidence: row.try_get(7)?,
                carried: row.try_get(8)?,
                household,
                then: (row.try_get(14)?, row.try_get(15)?),
            })
        })
        .collect()
}

/// Every try, and every e-mail that a server took: that is a message left.
async fn tries(db: &mut SqliteConnection, callback: i64) -> Result<Vec<Try>, Failure> {
    let rows = sqlx::query(
        "SELECT number, person, pickup, at, written, who, way, outcome, coalesce(note, '') FROM contacts WHERE callback = ?1
         UNION ALL
         SELECT NULL, m.person, NULL, d.at, d.written, d.who, 'e-mail', 'message left', coalesce(d.answer, '') FROM messages w
         JOIN mailings m ON m.message = w.number JOIN deliveries d ON d.mailing = m.number
         WHERE w.callback = ?1 AND d.outcome = 'taken by the server' ORDER BY 4, 1",
    )
    .bind(callback)
    .fetch_all(db)
    .await?;
    rows.iter()
        .map(|row| {
            let (person, pickup): (Option<i64>, Option<i64>) = (row.try_get(1)?, row.try_get(2)?);
            Ok(Try {
                number: row.try_get(0)?,
                to: person.map_or(To::WalkIn(pickup.unwrap_or_default()), To::Household),
                at: Moment::seconds(row.try_get(3)?),
                written: Moment::seconds(row.try_get(4)?),
                who: row.try_get(5)?,
                way: row.try_get(6)?,
                outcome: row.try_get(7)?,
                note: row.try_get(8)?,
            })
        })
        .collect()
}

async fn told(db: &mut SqliteConnection, callback: i64) -> Result<Vec<Telling>, Failure> {
    let rows = sqlx::query(
        "SELECT t.contact, t.lot, t.became, t.gallons, t.half_gallons, t.quarts, t.pints, coalesce(t.note, '') FROM tellings t
         JOIN contacts c ON c.number = t.contact WHERE c.callback = ? ORDER BY t.number",
    )
    .bind(callback)
    .fetch_all(db)
    .await?;
    rows.iter()
        .map(|row| {
            let jars: Jars = jars_of(row, 3)?;
            Ok(Telling { contact: row.try_get(0)?, lot: row.try_get(1)?, became: row.try_get(2)?, jars, note: row.try_get(7)? })
        })
        .collect()
}

/// The wording that stands for each way.
async fn wordings(db: &mut SqliteConnection, callback: i64) -> Result<Vec<Wording>, Failure> {
    let rows: Vec<(i64, String, String, i64, String)> = sqlx::query_as(
        "SELECT m.number, m.way, m.says, m.at, m.who FROM messages m WHERE m.callback = ?
         AND NOT EXISTS (SELECT 1 FROM messages n WHERE n.callback = m.callback AND n.way = m.way AND n.number > m.number) ORDER BY m.number",
    )
    .bind(callback)
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(|(number, way, says, at, who)| Wording { number, way, says, at: Moment::seconds(at), who }).collect())
}

async fn courses(db: &mut SqliteConnection, callback: i64) -> Result<Vec<Course>, Failure> {
    let asked = "SELECT number, sort, says, coalesce(signed, ''), at, written, who FROM courses WHERE callback = ? ORDER BY at, number";
    let rows = sqlx::query(asked).bind(callback).fetch_all(db).await?;
    rows.iter()
        .map(|row| {
            Ok(Course {
                number: row.try_get(0)?,
                sort: row.try_get(1)?,
                says: row.try_get(2)?,
                signed: row.try_get(3)?,
                at: Moment::seconds(row.try_get(4)?),
                written: Moment::seconds(row.try_get(5)?),
                who: row.try_get(6)?,
            })
        })
        .collect()
}

async fn conditions(db: &mut SqliteConnection, callback: i64) -> Result<Vec<Condition>, Failure> {
    let rows = sqlx::query(
        "SELECT c.number, c.says, c.at, m.at, m.signed, coalesce(m.note, ''), c.who FROM conditions c LEFT JOIN conditions_met m ON m.condition = c.number
         WHERE c.callback = ? ORDER BY c.number",
    )
    .bind(callback)
    .fetch_all(db)
    .await?;
    rows.iter()
        .map(|row| {
            let at: Option<i64> = row.try_get(3)?;
            let met = match at {
                Some(at) => Some((Moment::seconds(at), row.try_get(4)?, row.try_get(5)?)),
                None => None,
            };
            Ok(Condition {
                number: row.try_get(0)?,
                says: row.try_get(1)?,
                at: Moment::seconds(row.try_get(2)?),
                who: row.try_get(6)?,
                met,
            })
        })
        .collect()
}

/// The open call-back, in earnest, that has any of these lots already, if one has: the newest.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn open_with(db: &mut SqliteConnection, lots: &[i64]) -> Result<Option<i64>, Failure> {
    Ok(sqlx::query_scalar(
        "SELECT c.number FROM callbacks c JOIN called d ON d.callback = c.number
         WHERE c.sort = 'call-back' AND d.lot IN (SELECT value FROM json_each(?)) AND d.stands = 'called back'
         AND coalesce((SELECT s.sort FROM courses s WHERE s.callback = c.number AND s.sort IN ('closed', 'opened again') ORDER BY s.at DESC, s.number DESC LIMIT 1), '') <> 'closed'
         ORDER BY c.number DESC LIMIT 1",
    )
    .bind(among(lots))
    .fetch_optional(db)
    .await?)
}

/// The open call-back, in earnest, that somebody has milk of, if one is: the newest.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn open_of(db: &mut SqliteConnection, person: i64) -> Result<Option<i64>, Failure> {
    let lots: Vec<i64> = sqlx::query_scalar("SELECT DISTINCT p.lot FROM pickups p JOIN called c ON c.lot = p.lot WHERE p.person = ?")
        .bind(person)
        .fetch_all(&mut *db)
        .await?;
    open_with(db, &lots).await
}

/// The holds put on some lots by name, and their lifts, as they stand in a timeline.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn holds(db: &mut SqliteConnection, lots: &[i64]) -> Result<Vec<Happened>, Failure> {
    let rows: Vec<(i64, i64, String, String)> = sqlx::query_as(
        "SELECT h.at, h.written, 'Lot ' || l.code || ' held' || coalesce(': ' || h.reason, ''), h.who FROM holds h JOIN lots l ON l.number = h.lot
         WHERE h.lot IN (SELECT value FROM json_each(?1))
         UNION ALL
         SELECT x.at, x.written, 'Hold of lot ' || l.code || ' lifted: ' || x.reason, x.who FROM lifts x JOIN holds h ON h.number = x.hold
         JOIN lots l ON l.number = h.lot WHERE h.lot IN (SELECT value FROM json_each(?1)) ORDER BY 1",
    )
    .bind(among(lots))
    .fetch_all(db)
    .await?;
    let happened = |(at, written, what, who): (i64, i64, String, String)| Happened {
        at: Moment::seconds(at),
        written: Moment::seconds(written),
        what,
        who,
    };
    Ok(rows.into_iter().map(happened).collect())
}
