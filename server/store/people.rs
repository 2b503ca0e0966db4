//! Questions about members and walk-ins. What a helper may see is asked for apart from what only the owner may.

use super::Failure;
use crate::trade::{
    agreements::{Asked, Paper},
    channels::{Channel, Channels},
    household_slips::{Beside, Household},
    missed::Before,
    needs::{Agreement, Lack, Needs, lacking},
    parts::{Hundredths, Part},
    pickups::WALK_IN,
    promises::{Pause, Share, comes, paused_until},
    when::{Day, Moment, Zone, parse_day},
};
use sqlx::{Row, SqliteConnection, sqlite::SqliteRow};
use std::collections::HashMap;

/// Somebody who takes milk, as they stand on a day, without a way to reach them: all that a helper may see.
#[derive(Clone, Debug)]
pub struct Taker {
    /// Their record's number.
    pub number: i64,
    /// What the clipboard calls them: `M28`.
    pub label: String,
    /// Their name.
    pub name: String,
    /// Member or walk-in.
    pub sort: String,
    /// Their weekday; empty for none.
    pub pickup_day: String,
    /// Since when.
    pub since: Option<Day>,
    /// Until when.
    pub until: Option<Day>,
    /// How the milk reaches them on that day, and so by which rules it is weighed.
    pub way: Channel,
    /// Half-gallons promised a week, on that day.
    pub promised: Hundredths,
    /// Their place in the chosen order.
    pub place: Option<i64>,
    /// Whether they come on that day.
    pub comes: bool,
    /// Until when their pause lasts, if they are paused on that day.
    pub paused: Option<Day>,
    /// What they lack before they may have milk.
    pub lacks: Vec<Lack>,
}

impl Taker {
    /// Number and name: `M28 Ashgrove`.
    #[must_use]
    pub fn called(&self) -> String {
        format!("{} {}", self.label, self.name)
    }

    /// Whether they are with the farm on a day.
    #[must_use]
    pub fn is_here(&self, day: Day) -> bool {
        self.since.is_none_or(|since| since <= day) && self.until.is_none_or(|until| until >= day)
    }

    /// The whole jars they are promised, as near as whole jars come.
    #[must_use]
    pub const fn promised_jars(&self) -> i64 {
        self.promised.nearest()
    }
}

/// Somebody who takes milk, with the ways to reach them: the owner's alone.
#[derive(Clone, Debug)]
pub struct Person {
    /// Who it is.
    pub taker: Taker,
    /// How the milk reaches them.
    pub channel: String,
    /// Their phone.
    pub phone: String,
    /// A second way to reach them.
    pub second_way: String,
    /// A note.
    pub note: String,
}

/// Everything that decides how somebody stands on a day.
struct Standing {
    shares: Vec<Share>,
    pauses: Vec<Pause>,
    papers: HashMap<i64, Vec<Agreement>>,
    asked: Asked,
    on: Day,
}

impl Standing {
    async fn on(db: &mut SqliteConnection, on: Day) -> Result<Standing, Failure> {
        let shares = shares_held(&mut *db, on).await?;
        let (pauses, papers) = (pauses(&mut *db).await?, agreements(&mut *db, on).await?);
        Ok(Standing { shares, pauses, papers, asked: asked(db, on).await?, on })
    }

    fn taker(&self, row: &SqliteRow) -> Result<Taker, Failure> {
        let (number, pickup_day): (i64, String) = (row.try_get(0)?, row.try_get(4)?);
        let (since, until, way): (String, Option<String>, String) = (row.try_get(5)?, row.try_get(6)?, row.try_get(7)?);
        let held: Vec<&Share> = self.shares.iter().filter(|share| share.person == number && share.holds(self.on)).collect();
        let own_way = Channel::parse(&way).unwrap_or(WALK_IN);
        let way = held.first().map_or(own_way, |share| share.way);
        let papers = self.papers.get(&number).map_or(&[][..], Vec::as_slice);
        // A share that is not signed is not packed behind a promise at the gate: every way they hold asks for its papers.
        let ways: Vec<Channel> = if held.is_empty() { vec![way] } else { held.iter().map(|share| share.way).collect() };
        let lacks = lacking(&self.asked.of_all(&ways), usize::try_from(row.try_get::<i64, _>(8)?).unwrap_or(0), papers, self.on);
        Ok(Taker {
            number,
            label: row.try_get(1)?,
            name: row.try_get(2)?,
            sort: row.try_get(3)?,
            since: parse_day(&since).ok(),
            until: until.and_then(|until| parse_day(&until).ok()),
            way,
            promised: held.iter().map(|share| share.promised()).sum(),
            place: held.iter().filter_map(|share| share.place).min(),
            comes: comes(number, &pickup_day, &self.pauses, self.on),
            paused: paused_until(number, &self.pauses, self.on),
            lacks,
            pickup_day,
        })
    }
}

macro_rules! person {
    () => {
        "SELECT number, label, name, sort, coalesce(pickup_day, ''), since, until, channel,
    (coalesce(phone, '') <> '') + (coalesce(second_way, '') <> ''), coalesce(phone, ''), coalesce(second_way, ''), coalesce(note, '') FROM people"
    };
}
const EVERYBODY: &str = concat!(person!(), " ORDER BY sort, label");

/// Everybody who takes or took milk, as they stand on a day, in order of their number, without phones.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn takers(db: &mut SqliteConnection, on: Day) -> Result<Vec<Taker>, Failure> {
    let standing = Standing::on(&mut *db, on).await?;
    sqlx::query(EVERYBODY).fetch_all(db).await?.iter().map(|row| standing.taker(row)).collect()
}

/// Everybody who takes milk and had not left before a day, as they stand on it, in order of their number, without phones.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn takers_here(db: &mut SqliteConnection, on: Day) -> Result<Vec<Taker>, Failure> {
    let standing = Standing::on(&mut *db, on).await?;
    let asked = concat!(person!(), " WHERE until IS NULL OR until >= ? ORDER BY sort, label");
    sqlx::query(asked).bind(on.to_string()).fetch_all(db).await?.iter().map(|row| standing.taker(row)).collect()
}

/// Everybody, with the ways to reach them.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn list(db: &mut SqliteConnection, on: Day) -> Result<Vec<Person>, Failure> {
    let standing = Standing::on(&mut *db, on).await?;
    let rows = sqlx::query(EVERYBODY).fetch_all(db).await?;
    let person = |row: &SqliteRow| {
        let taker = standing.taker(row)?;
        Ok(Person { channel: taker.way.to_string(), phone: row.try_get(9)?, second_way: row.try_get(10)?, note: row.try_get(11)?, taker })
    };
    rows.iter().map(person).collect()
}

/// The weekdays households came on before the one they have now.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn weekdays_before(db: &mut SqliteConnection, zone: Zone) -> Result<Before, Failure> {
    let asked = "SELECT number, at, coalesce(json_extract(was, '$.pickup_day'), '') FROM struck WHERE kind = 'people' ORDER BY seq";
    let rows: Vec<(i64, i64, String)> = sqlx::query_as(asked).fetch_all(db).await?;
    let mut before: HashMap<i64, Vec<(Day, String)>> = HashMap::new();
    for (number, at, weekday) in rows {
        before.entry(number).or_default().push((zone.day(Moment::seconds(at)), weekday));
    }
    Ok(Before(before))
}

/// Every share and standing promise there is or was, in order of their number.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn shares(db: &mut SqliteConnection) -> Result<Vec<Share>, Failure> {
    let asked = "SELECT number, person, coalesce(share, ''), part, half_gallons, channel, since, until, place FROM shares ORDER BY number";
    read_shares(&sqlx::query(asked).fetch_all(db).await?)
}

/// Those that are held on a day.
async fn shares_held(db: &mut SqliteConnection, on: Day) -> Result<Vec<Share>, Failure> {
    let asked = "SELECT number, person, coalesce(share, ''), part, half_gallons, channel, since, until, place FROM shares
         WHERE since <= ?1 AND (until IS NULL OR until >= ?1) ORDER BY number";
    read_shares(&sqlx::query(asked).bind(on.to_string()).fetch_all(db).await?)
}

fn read_shares(rows: &[SqliteRow]) -> Result<Vec<Share>, Failure> {
    let unreadable = |number: i64| Failure::File(format!("Share {number} cannot be read back. Run tallypail check."));
    rows.iter()
        .map(|row| {
            let number: i64 = row.try_get(0)?;
            let (part, way, since): (String, String, String) = (row.try_get(3)?, row.try_get(5)?, row.try_get(6)?);
            Ok(Share {
                number,
                person: row.try_get(1)?,
                share: row.try_get(2)?,
                part: Part::parse(&part).map_err(|_| unreadable(number))?,
                half_gallons: row.try_get(4)?,
                way: Channel::parse(&way).ok_or_else(|| unreadable(number))?,
                since: parse_day(&since).map_err(|_| unreadable(number))?,
                until: row.try_get::<Option<String>, _>(7)?.and_then(|until| parse_day(&until).ok()),
                place: row.try_get(8)?,
            })
        })
        .collect()
}

/// Every pause there is or was.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn pauses(db: &mut SqliteConnection) -> Result<Vec<Pause>, Failure> {
    let rows: Vec<(Option<i64>, String, String, Option<String>)> =
        sqlx::query_as("SELECT person, since, until, moved_to FROM pauses ORDER BY since, number").fetch_all(db).await?;
    let pause = |(person, since, until, moved): (Option<i64>, String, String, Option<String>)| {
        Some(Pause {
            person,
            since: parse_day(&since).ok()?,
            until: parse_day(&until).ok()?,
            moved_to: moved.and_then(|moved| parse_day(&moved).ok()),
        })
    };
    Ok(rows.into_iter().filter_map(pause).collect())
}

/// The papers between the farm and each household that had not left before a day, by its number.
async fn agreements(db: &mut SqliteConnection, on: Day) -> Result<HashMap<i64, Vec<Agreement>>, Failure> {
    let asked = "SELECT a.person, a.sort, a.signed, a.until FROM people p CROSS JOIN agreements a ON a.person = p.number
         WHERE p.until IS NULL OR p.until >= ? ORDER BY a.number";
    let rows: Vec<(i64, String, Option<String>, Option<String>)> = sqlx::query_as(asked).bind(on.to_string()).fetch_all(db).await?;
    let mut papers: HashMap<i64, Vec<Agreement>> = HashMap::new();
    for (person, sort, signed, until) in rows {
        let day = |typed: Option<String>| typed.and_then(|typed| parse_day(&typed).ok());
        papers.entry(person).or_default().push(Agreement { sort, signed: day(signed), until: day(until) });
    }
    Ok(papers)
}

/// Every paper between the farm and a household, in the order they were given.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn papers(db: &mut SqliteConnection) -> Result<Vec<Paper>, Failure> {
    let rows = sqlx::query(
        "SELECT number, person, sort, given, signed, until, document, coalesce(note, ''), version FROM agreements ORDER BY given, number",
    )
    .fetch_all(db)
    .await?;
    let day = |typed: Option<String>| typed.and_then(|typed| parse_day(&typed).ok());
    let paper = |row: &SqliteRow| {
        Ok(Paper {
            number: row.try_get(0)?,
            person: row.try_get(1)?,
            sort: row.try_get(2)?,
            given: day(row.try_get(3)?),
            signed: day(row.try_get(4)?),
            until: day(row.try_get(5)?),
            document: row.try_get(6)?,
            note: row.try_get(7)?,
            version: row.try_get(8)?,
        })
    };
    rows.iter().map(paper).collect()
}

/// What a record of a household is held beside before it is kept.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn beside(db: &mut SqliteConnection) -> Result<Beside, Failure> {
    let shares = shares(&mut *db).await?;
    let asked = "SELECT number, label, name, coalesce(phone, ''), coalesce(second_way, ''), until FROM people ORDER BY number";
    let household = |row: &SqliteRow| {
        let until: Option<String> = row.try_get(5)?;
        Ok(Household {
            number: row.try_get(0)?,
            label: row.try_get(1)?,
            name: row.try_get(2)?,
            phone: row.try_get(3)?,
            second_way: row.try_get(4)?,
            until: until.and_then(|until| parse_day(&until).ok()),
        })
    };
    let people = sqlx::query(asked).fetch_all(db).await?.iter().map(household).collect::<Result<_, Failure>>()?;
    Ok(Beside { people, shares })
}

/// What each rule set that is followed on a day asks of a household, with the ways it names.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn asked(db: &mut SqliteConnection, on: Day) -> Result<Asked, Failure> {
    // A set that stands alone ends whatever came before it, as it does for the verdict.
    let rows: Vec<(String, String)> = sqlx::query_as(
        "SELECT coalesce(channels, ''), coalesce(needs, '') FROM rules WHERE since <= ?1 AND NOT EXISTS (
            SELECT 1 FROM rules later WHERE later.since <= ?1 AND coalesce(later.beside, 'no') <> 'yes'
              AND (later.since, later.number) > (rules.since, rules.number))",
    )
    .bind(on.to_string())
    .fetch_all(db)
    .await?;
    let read = |(ways, needs): &(String, String)| (Channels::parse(ways).unwrap_or_default(), Needs::parse(needs).unwrap_or_default());
    Ok(Asked(rows.iter().map(read).collect()))
}
