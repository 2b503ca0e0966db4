//! Keeping, finding, correcting and undoing records of any kind, each with its line in the journal.
//!
//! The SQL here is put together only from the names in `trade::kinds`, which are part of the program; what people type is
//! always bound. Many rows travel in one statement, so that a single reading and a whole year of them are kept the same way.

mod named;

pub use named::{keys, name_of_lot, number_of};

use super::{
    Failure, Values,
    journal::{self, Sealing},
};
use crate::trade::{
    book::{Book, Struck},
    journal::Line,
    kinds::{KINDS, Kind},
    records::{Cell, Column, Record, Remark, Shape},
    when::Moment,
};
pub(super) use named::looked_up;
use serde_json::{Value, json};
use sqlx::{AssertSqlSafe, Row, Sqlite, SqliteConnection, query::Query, sqlite::SqliteArguments};

/// What is saved together, by whom and from what.
#[derive(Clone, Debug)]
pub struct Act {
    /// The act's number in the journal.
    pub number: i64,
    /// When.
    pub at: Moment,
    /// By whom.
    pub who: String,
    /// From what: the screen, a paper sheet's number, a file.
    pub source: String,
}

/// Why something was not kept.
#[derive(Debug)]
pub enum Refusal {
    /// Something typed does not fit what the ledger already knows.
    Remarks(Vec<Remark>),
    /// Something of ours went wrong.
    Failure(Failure),
}

impl<E: Into<Failure>> From<E> for Refusal {
    fn from(error: E) -> Refusal {
        Refusal::Failure(error.into())
    }
}

/// A record that was kept: now, or by an earlier sending of the same form.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Kept {
    /// Its number.
    pub number: i64,
    /// Whether the same form had been kept before.
    pub already: bool,
}

/// Opens an act.
///
/// # Errors
/// When the journal cannot be read.
pub async fn act(db: &mut SqliteConnection, at: Moment, who: &str, source: &str) -> Result<Act, Failure> {
    let last: i64 = sqlx::query_scalar("SELECT coalesce(max(act), 0) FROM journal").fetch_one(db).await?;
    Ok(Act { number: last + 1, at, who: who.to_owned(), source: source.to_owned() })
}

/// Keeps a new record, looking up the records it names. A form sent twice keeps one.
///
/// # Errors
/// Remarks where it names a record the ledger does not have.
pub async fn keep(db: &mut SqliteConnection, kind: &'static Kind, entry: &str, cells: Vec<Cell>, act: &Act) -> Result<Kept, Refusal> {
    if uuid::Uuid::parse_str(entry).is_err() {
        // Two forms without a mark would pass for one form sent twice, and the second would be lost.
        return Err(Refusal::Remarks(vec![Remark::fault(
            "entry",
            "This form has lost its mark. Open the page again and send it from there.",
        )]));
    }
    let again = AssertSqlSafe(format!("SELECT number FROM {} WHERE entry = ?", kind.name));
    if let Some(number) = sqlx::query_scalar(again).bind(entry).fetch_optional(&mut *db).await? {
        return Ok(Kept { number, already: true });
    }
    let cells = looked_up(db, kind, cells).await?;
    let number = keep_all(db, kind, vec![(entry.to_owned(), cells)], act).await?;
    Ok(Kept { number, already: false })
}

/// As [`keep`], where somebody typed every cell: a form that was kept and is sent again with something else in it is no second
/// sending, and what it says now would be lost without a word.
///
/// # Errors
/// As [`keep`], and a remark on the first field that says something else.
pub async fn keep_typed(db: &mut SqliteConnection, kind: &'static Kind, entry: &str, cells: Vec<Cell>, act: &Act) -> Result<Kept, Refusal> {
    let kept = keep(&mut *db, kind, entry, cells.clone(), act).await?;
    if !kept.already {
        return Ok(kept);
    }
    let cells = looked_up(&mut *db, kind, cells).await?;
    let first = "SELECT after FROM journal WHERE kind = ? AND number = ? AND after IS NOT NULL ORDER BY seq LIMIT 1";
    let first: String = sqlx::query_scalar(first).bind(kind.name).bind(kept.number).fetch_one(db).await?;
    let first: Value = serde_json::from_str(&first).unwrap_or_default();
    let says_else = |(column, cell): &(&Column, &Cell)| serde_json::to_value(cell).ok().as_ref() != first.get(column.name);
    match kind.columns.iter().zip(&cells).find(says_else) {
        None => Ok(kept),
        Some((column, _)) => Err(Refusal::Remarks(vec![Remark::fault(
            column.name,
            "This form was kept already, with something else here. Open that record to put it right, or a new form to write down another.",
        )])),
    }
}

/// Keeps many new records of one kind at once, each with its mark; every record they name is named by its number. Gives the
/// number of the first.
///
/// # Errors
/// Remarks where the table refuses one; then none is kept.
pub async fn keep_all(db: &mut SqliteConnection, kind: &'static Kind, rows: Vec<(String, Vec<Cell>)>, act: &Act) -> Result<i64, Refusal> {
    let highest = AssertSqlSafe(format!(
        "SELECT max(coalesce((SELECT max(number) FROM {0}), 0), coalesce((SELECT max(number) FROM journal WHERE kind = '{0}'), 0))",
        kind.name
    ));
    let first: i64 = sqlx::query_scalar::<_, i64>(highest).fetch_one(&mut *db).await? + 1;
    let record = |(number, (entry, cells))| Record {
        number,
        entry,
        cells,
        written: act.at,
        who: act.who.clone(),
        source: act.source.clone(),
        version: 1,
    };
    let records: Vec<Record> = (first..).zip(rows).map(record).collect();
    insert(db, kind, &records).await.map_err(|failure| taken(failure, kind))?;
    let lines = records.iter().map(|own| line(act, "kept", kind, own.number, None, Some(own.as_line(kind)), None)).collect();
    journal::write(db, lines).await?;
    Ok(first)
}

/// Keeps a whole book in an empty ledger.
///
/// # Errors
/// When the ledger refuses a row.
pub async fn import(db: &mut SqliteConnection, book: &Book, act: &Act) -> Result<(), Failure> {
    // What was struck in the folder gets its line too, before the record that took its place.
    let struck: Vec<Line> = book
        .struck
        .iter()
        .filter_map(|own| {
            let kind = crate::trade::kinds::kind(&own.kind)?;
            Some(line(act, "imported", kind, own.number, Some(own.was.clone()), None, Some(&own.why)))
        })
        .collect();
    journal::write(&mut *db, struck).await?;
    let mut sealing = Sealing::after_the_last(&mut *db).await?;
    let lines = |kind: &Kind, some: &[Record]| -> Vec<Line> {
        some.iter().map(|own| line(act, "imported", kind, own.number, None, Some(own.as_line(kind)), None)).collect()
    };
    let some = KINDS.iter().flat_map(|kind| book.of(kind.name).chunks(at_once(kind)).map(move |some| (kind, some)));
    let mut statements = some.flat_map(|(kind, some)| [rows(kind, some), sealing.statement(&lines(kind, some))]);
    // A long life's indexes are larger than a day's work needs in memory.
    sqlx::query("PRAGMA cache_size = -256000").execute(&mut *db).await?;
    // While SQLite works at one statement the next is put together; a long life of the farm is never in memory twice.
    let mut next = statements.next().transpose()?;
    while let Some(statement) = next {
        let (done, following) = tokio::join!(statement.execute(&mut *db), async { statements.next().transpose() });
        done?;
        next = following?;
    }
    for struck in &book.struck {
        sqlx::query("INSERT INTO struck (kind, number, version, was, at, who, why) VALUES (?, ?, ?, ?, ?, ?, ?)")
            .bind(&struck.kind)
            .bind(struck.number)
            .bind(struck.version)
            .bind(&struck.was)
            .bind(struck.at.in_seconds())
            .bind(&struck.who)
            .bind(&struck.why)
            .execute(&mut *db)
            .await?;
    }
    for (hash, bytes) in &book.contents {
        sqlx::query("INSERT INTO contents (hash, bytes) VALUES (?, ?)").bind(hash).bind(bytes).execute(&mut *db).await?;
    }
    sqlx::query("PRAGMA cache_size = -16000").execute(db).await?;
    Ok(())
}

/// Every record of the ledger, with the bytes of every paper kept.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn book(db: &mut SqliteConnection) -> Result<Book, Failure> {
    let mut book = without_papers(&mut *db).await?;
    let papers: Vec<(String, Vec<u8>)> = sqlx::query_as("SELECT hash, bytes FROM contents").fetch_all(db).await?;
    book.contents = papers.into_iter().collect();
    Ok(book)
}

/// Every record of the ledger, for the laws between them: the papers' bytes are left where they lie.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn without_papers(db: &mut SqliteConnection) -> Result<Book, Failure> {
    let mut book = Book::default();
    for kind in KINDS {
        book.records.insert(kind.name, list(db, kind).await?);
    }
    let rows = sqlx::query("SELECT kind, number, version, was, at, who, why FROM struck ORDER BY seq").fetch_all(db).await?;
    for row in rows {
        book.struck.push(Struck {
            kind: row.try_get(0)?,
            number: row.try_get(1)?,
            version: row.try_get(2)?,
            was: row.try_get(3)?,
            at: Moment::seconds(row.try_get(4)?),
            who: row.try_get(5)?,
            why: row.try_get(6)?,
        });
    }
    Ok(book)
}

/// Every record of a kind, in order of number.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn list(db: &mut SqliteConnection, kind: &'static Kind) -> Result<Vec<Record>, Failure> {
    let asked = AssertSqlSafe(format!("SELECT {} FROM {} ORDER BY number", as_array(kind), kind.name));
    let rows: Vec<String> = sqlx::query_scalar(asked).fetch_all(db).await?;
    rows.iter().map(|row| from_array(kind, row)).collect()
}

/// One record, if it is there.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn find(db: &mut SqliteConnection, kind: &'static Kind, number: i64) -> Result<Option<Record>, Failure> {
    let asked = AssertSqlSafe(format!("SELECT {} FROM {} WHERE number = ?", as_array(kind), kind.name));
    let row: Option<String> = sqlx::query_scalar(asked).bind(number).fetch_optional(db).await?;
    row.map(|row| from_array(kind, &row)).transpose()
}

/// The record a form with this mark kept, if it kept one.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn by_entry(db: &mut SqliteConnection, kind: &'static Kind, entry: &str) -> Result<Option<Record>, Failure> {
    let asked = AssertSqlSafe(format!("SELECT {} FROM {} WHERE entry = ?", as_array(kind), kind.name));
    let row: Option<String> = sqlx::query_scalar(asked).bind(entry).fetch_optional(db).await?;
    row.map(|row| from_array(kind, &row)).transpose()
}

/// The newest records of a kind, newest first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn newest(db: &mut SqliteConnection, kind: &'static Kind, most: i64) -> Result<Vec<Record>, Failure> {
    let by = kind.happened.unwrap_or("number");
    let asked = AssertSqlSafe(format!("SELECT {} FROM {} ORDER BY {by} DESC, number DESC LIMIT ?", as_array(kind), kind.name));
    let rows: Vec<String> = sqlx::query_scalar(asked).bind(most).fetch_all(db).await?;
    rows.iter().map(|row| from_array(kind, row)).collect()
}

/// What was struck through of one record, oldest first.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn struck(db: &mut SqliteConnection, kind: &'static Kind, number: i64) -> Result<Vec<Struck>, Failure> {
    let rows: Vec<(i64, String, i64, String, String)> =
        sqlx::query_as("SELECT version, was, at, who, why FROM struck WHERE kind = ? AND number = ? ORDER BY seq")
            .bind(kind.name)
            .bind(number)
            .fetch_all(db)
            .await?;
    Ok(rows
        .into_iter()
        .map(|(version, was, at, who, why)| Struck { kind: kind.name.to_owned(), number, version, was, at: Moment::seconds(at), who, why })
        .collect())
}

/// What the table itself refuses, said beside the field it is about: a key that another record has, or cells that do not
/// go together.
pub(super) fn taken(failure: Failure, kind: &Kind) -> Refusal {
    let Failure::Sql(sqlx::Error::Database(error)) = &failure else { return Refusal::Failure(failure) };
    let field = kind.key.or(kind.columns.first().map(|column| column.name)).unwrap_or("why");
    let says = if error.is_unique_violation() {
        format!("There is a {} like this already. Open that one, or give this one another name.", kind.one)
    } else if error.is_check_violation() {
        format!("These cells do not go together in a {}: one of them is missing, or one too many is filled in.", kind.one)
    } else {
        return Refusal::Failure(failure);
    };
    Refusal::Remarks(vec![Remark::fault(field, says)])
}

pub(super) fn line(
    act: &Act,
    did: &str,
    kind: &Kind,
    number: i64,
    before: Option<String>,
    after: Option<String>,
    why: Option<&str>,
) -> Line {
    Line {
        act: act.number,
        at: act.at,
        who: act.who.clone(),
        did: did.to_owned(),
        kind: kind.name.to_owned(),
        number,
        before,
        after,
        why: why.map(str::to_owned),
    }
}

/// How many values one statement binds; SQLite's own bound is 32,766.
const AT_ONCE: usize = 8_000;

/// How many records of a kind one statement keeps.
fn at_once(kind: &Kind) -> usize {
    AT_ONCE / names(kind).len()
}

async fn insert(db: &mut SqliteConnection, kind: &Kind, records: &[Record]) -> Result<(), Failure> {
    for some in records.chunks(at_once(kind)) {
        rows(kind, some)?.execute(&mut *db).await?;
    }
    Ok(())
}

/// The statement that puts some records into their table, in the order of `names`.
fn rows(kind: &Kind, records: &[Record]) -> Result<Query<'static, Sqlite, SqliteArguments>, Failure> {
    let mut values = Values::default();
    for record in records {
        values.push(record.number)?;
        values.push(record.entry.as_str())?;
        for (column, cell) in kind.columns.iter().zip(&record.cells) {
            match cell {
                Cell::Empty if matches!(column.shape, Shape::Milk | Shape::Heat) => {
                    values.push(None::<i64>)?;
                    values.push(None::<i64>)?;
                }
                Cell::Empty => values.push(None::<i64>)?,
                Cell::Text(text) | Cell::Named(text) => values.push(text.as_str())?,
                Cell::Whole(number) | Cell::To(number) => values.push(*number)?,
                Cell::Measured(exact, typed) => {
                    values.push(*exact)?;
                    values.push(typed.as_str())?;
                }
            }
        }
        values.push(record.written.in_seconds())?;
        values.push(record.who.as_str())?;
        values.push(record.source.as_str())?;
        values.push(record.version)?;
    }
    let names = names(kind);
    let columns: Vec<&str> = names.iter().map(String::as_str).collect();
    Ok(values.into_table(kind.name, &columns, records.len(), records.len() == 1 || records.len() == at_once(kind)))
}

/// The table's columns, in the order of `to_array`.
pub(super) fn names(kind: &Kind) -> Vec<String> {
    let own = kind.columns.iter().flat_map(|column| match column.shape {
        Shape::Milk | Shape::Heat => vec![column.name.to_owned(), format!("{}_as", column.name)],
        _ => vec![column.name.to_owned()],
    });
    ["number", "entry"]
        .map(str::to_owned)
        .into_iter()
        .chain(own)
        .chain(["written", "who", "source", "version"].map(str::to_owned))
        .collect()
}

fn as_array(kind: &Kind) -> String {
    format!("json_array({})", names(kind).join(", "))
}

pub(super) fn to_array(kind: &Kind, record: &Record) -> Vec<Value> {
    let mut row = vec![json!(record.number), json!(record.entry)];
    for (column, cell) in kind.columns.iter().zip(&record.cells) {
        match cell {
            Cell::Empty if matches!(column.shape, Shape::Milk | Shape::Heat) => row.extend([Value::Null, Value::Null]),
            Cell::Empty => row.push(Value::Null),
            Cell::Text(text) | Cell::Named(text) => row.push(json!(text)),
            Cell::Whole(number) | Cell::To(number) => row.push(json!(number)),
            Cell::Measured(exact, typed) => row.extend([json!(exact), json!(typed)]),
        }
    }
    row.extend([json!(record.written.in_seconds()), json!(record.who), json!(record.source), json!(record.version)]);
    row
}

fn from_array(kind: &Kind, row: &str) -> Result<Record, Failure> {
    let damaged = || Failure::File(format!("A row of {} cannot be read back. Run tallypail check.", kind.name));
    let values: Vec<Value> = serde_json::from_str(row).map_err(|_| damaged())?;
    let mut values = values.into_iter();
    let whole = |value: Option<Value>| value.and_then(|value| value.as_i64()).ok_or_else(damaged);
    let words = |value: Option<Value>| value.and_then(|value| value.as_str().map(str::to_owned)).ok_or_else(damaged);
    let (number, entry) = (whole(values.next())?, words(values.next())?);
    let mut cells = Vec::with_capacity(kind.columns.len());
    for column in kind.columns {
        let value = values.next();
        cells.push(match (column.shape, value) {
            (Shape::Milk | Shape::Heat, Some(Value::Null)) => {
                let _ = values.next();
                Cell::Empty
            }
            (_, Some(Value::Null)) => Cell::Empty,
            (Shape::Milk | Shape::Heat, exact) => Cell::Measured(whole(exact)?, words(values.next())?),
            (Shape::Key(_), number) => Cell::To(whole(number)?),
            (Shape::Count(..) | Shape::Money | Shape::Moment, number) => Cell::Whole(whole(number)?),
            (_, text) => Cell::Text(words(text)?),
        });
    }
    let written = Moment::seconds(whole(values.next())?);
    Ok(Record { number, entry, cells, written, who: words(values.next())?, source: words(values.next())?, version: whole(values.next())? })
}
