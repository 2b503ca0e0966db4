//! Questions about the e-mails of a call-back: whom it concerns, its wording, and every step of every e-mail.

use super::Failure;
use crate::trade::{
    post::{Outcome, Step},
    recipients::Household,
    when::Moment,
};
use sqlx::{AssertSqlSafe, Row, SqliteConnection, sqlite::SqliteRow};

/// A call-back, as far as writing to households goes.
#[derive(Clone, Debug)]
pub struct CallBack {
    /// When it was opened.
    pub at: Moment,
    /// In earnest or for practice.
    pub sort: String,
}

/// A wording for e-mail.
#[derive(Clone, Debug)]
pub struct Wording {
    /// Its number.
    pub number: i64,
    /// When it was worded.
    pub at: Moment,
    /// The words.
    pub says: String,
}

/// A household that took jars of what is called back.
#[derive(Clone, Debug)]
pub struct Concerned {
    /// Who.
    pub household: Household,
    /// The codes of its lots, oldest first.
    pub lots: Vec<String>,
}

/// An e-mail with its steps.
#[derive(Clone, Debug)]
pub struct Mailing {
    /// Its number.
    pub number: i64,
    /// Its mark.
    pub entry: String,
    /// The number of its wording.
    pub message: i64,
    /// When it was asked for.
    pub asked: Moment,
    /// By whom.
    pub who: String,
    /// The household's number in the ledger.
    pub person: i64,
    /// What the household is called: number and name.
    pub called: String,
    /// Where it goes; empty when that was erased.
    pub address: String,
    /// Its steps, in the order they were written.
    pub steps: Vec<Step>,
}

/// What goes into an e-mail, besides whose it is.
#[derive(Clone, Debug)]
pub struct Contents {
    /// Whether the call-back is in earnest.
    pub sort: String,
    /// The words, with places left open.
    pub says: String,
    /// The household's lots that are called back.
    pub lots: Vec<String>,
    /// Whether newer words were asked for to the same household.
    pub is_overtaken: bool,
}

/// One call-back.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn call_back(db: &mut SqliteConnection, number: i64) -> Result<Option<CallBack>, Failure> {
    let row: Option<(i64, String)> =
        sqlx::query_as("SELECT at, sort FROM callbacks WHERE number = ?").bind(number).fetch_optional(db).await?;
    Ok(row.map(|(at, sort)| CallBack { at: Moment::seconds(at), sort }))
}

/// The latest wording of a call-back for e-mail.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn wording(db: &mut SqliteConnection, callback: i64) -> Result<Option<Wording>, Failure> {
    let asked = "SELECT number, at, says FROM messages WHERE callback = ? AND way = 'e-mail' ORDER BY at DESC, number DESC LIMIT 1";
    let row: Option<(i64, i64, String)> = sqlx::query_as(asked).bind(callback).fetch_optional(db).await?;
    Ok(row.map(|(number, at, says)| Wording { number, at: Moment::seconds(at), says }))
}

/// The hand-outs of every lot whose latest word in a call-back is that it is called back.
const CONCERNED: &str = "SELECT DISTINCT h.number, h.label, h.name, coalesce(h.phone, ''), coalesce(h.second_way, ''), l.code, l.filled
     FROM called c JOIN pickups p ON p.lot = c.lot JOIN people h ON h.number = p.person JOIN lots l ON l.number = c.lot
     WHERE c.callback = ?1 AND c.stands = 'called back'
     AND NOT EXISTS (SELECT 1 FROM called n WHERE n.callback = c.callback AND n.lot = c.lot AND (n.at, n.number) > (c.at, c.number))
     ORDER BY h.label COLLATE NOCASE, h.number, l.filled, l.number";

/// Every household that took jars of what is called back, by the number it goes by.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn concerned(db: &mut SqliteConnection, callback: i64) -> Result<Vec<Concerned>, Failure> {
    let mut found: Vec<Concerned> = Vec::new();
    for row in sqlx::query(CONCERNED).bind(callback).fetch_all(db).await? {
        let (number, code): (i64, String) = (row.try_get(0)?, row.try_get(5)?);
        match found.last_mut().filter(|own| own.household.number == number) {
            Some(own) => own.lots.push(code),
            None => found.push(Concerned { household: household(&row)?, lots: vec![code] }),
        }
    }
    Ok(found)
}

fn household(row: &SqliteRow) -> Result<Household, Failure> {
    Ok(Household {
        number: row.try_get(0)?,
        label: row.try_get(1)?,
        name: row.try_get(2)?,
        phone: row.try_get(3)?,
        second_way: row.try_get(4)?,
    })
}

/// What an e-mail is asked for by, and the last word of it.
macro_rules! mailings {
    ($which:literal) => {
        concat!(
            "SELECT w.number, w.entry, w.message, w.at, w.who, w.person, h.label || ' ' || h.name, coalesce(w.address, ''),
             coalesce((SELECT json_group_array(json_array(d.at, d.outcome, d.answer) ORDER BY d.number) FROM deliveries d WHERE d.mailing = w.number), '[]')
             FROM mailings w JOIN messages m ON m.number = w.message JOIN people h ON h.number = w.person WHERE ",
            $which,
            " ORDER BY w.at, w.number"
        )
    };
}

/// Every e-mail of a call-back, in the order they were asked for.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn of_call_back(db: &mut SqliteConnection, callback: i64) -> Result<Vec<Mailing>, Failure> {
    sqlx::query(mailings!("m.callback = ?")).bind(callback).fetch_all(db).await?.iter().map(mailing).collect()
}

/// Every e-mail that is not over: its last step is none, that it is being sent, or that it was put off.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn open(db: &mut SqliteConnection) -> Result<Vec<Mailing>, Failure> {
    let asked = mailings!(
        "coalesce((SELECT d.outcome FROM deliveries d WHERE d.mailing = w.number ORDER BY d.number DESC LIMIT 1), 'put off') IN ('sending', 'put off')"
    );
    sqlx::query(asked).fetch_all(db).await?.iter().map(mailing).collect()
}

/// What an e-mail says to its household, as the ledger stands now.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn contents(db: &mut SqliteConnection, of: &Mailing) -> Result<Contents, Failure> {
    let asked = "SELECT b.sort, m.says, b.number, EXISTS (SELECT 1 FROM mailings w JOIN messages n ON n.number = w.message
                 WHERE w.person = ?2 AND n.callback = b.number AND (n.at, n.number) > (m.at, m.number))
         FROM messages m JOIN callbacks b ON b.number = m.callback WHERE m.number = ?1";
    let (sort, says, callback, is_overtaken): (String, String, i64, bool) =
        sqlx::query_as(asked).bind(of.message).bind(of.person).fetch_one(&mut *db).await?;
    let own = AssertSqlSafe(format!("SELECT code FROM ({CONCERNED}) WHERE number = ?2"));
    let lots: Vec<String> = sqlx::query_scalar(own).bind(callback).bind(of.person).fetch_all(db).await?;
    Ok(Contents { sort, says, lots, is_overtaken })
}

fn mailing(row: &SqliteRow) -> Result<Mailing, Failure> {
    let said: String = row.try_get(8)?;
    let said: Vec<(i64, String, Option<String>)> = serde_json::from_str(&said)
        .map_err(|error| Failure::File(format!("The steps of an e-mail cannot be read: {error}. Run tallypail check.")))?;
    let step = |(at, outcome, answer): (i64, String, Option<String>)| Step {
        at: Moment::seconds(at),
        outcome: Outcome::parse(&outcome),
        answer: answer.unwrap_or_default(),
    };
    Ok(Mailing {
        number: row.try_get(0)?,
        entry: row.try_get(1)?,
        message: row.try_get(2)?,
        asked: Moment::seconds(row.try_get(3)?),
        who: row.try_get(4)?,
        person: row.try_get(5)?,
        called: row.try_get(6)?,
        address: row.try_get(7)?,
        steps: said.into_iter().map(step).collect(),
    })
}
