//! The farm, the rules it follows on a day, and what it assumes.

use super::Failure;
use crate::trade::{
    frequency::Frequencies,
    herd::ColostrumRule,
    limits::Limits,
    measure::{Scale, Temperature, figure_of},
    records::Ways,
    rules::{Channel, Channels, CountedFrom},
    steps::Steps,
    strips::Score,
    verdict::{Rules, RulesOfDay},
    warm::HouseRule,
    when::{Day, Zone, parse_day},
};
use rust_decimal::Decimal;
use sqlx::{Row, SqliteConnection, sqlite::SqliteRow};

/// The farm as every page needs it.
#[derive(Clone, Debug)]
pub struct Farm {
    /// Its name.
    pub name: String,
    /// Its clock and its thermometers' scale.
    pub ways: Ways,
    /// Address, phone, vet and health department, as written.
    pub address: String,
    /// Phone.
    pub phone: String,
    /// Vet, with phone.
    pub vet: String,
    /// Health department, with phone.
    pub health: String,
    /// Insurer, with phone.
    pub insurer: String,
    /// What it does with jars of a fridge found warm.
    pub house: HouseRule,
    /// Whether anybody may ask by a lot code whether a jar is called back.
    pub lid_page: bool,
}

/// The farm, if it has been set up.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn current(db: &mut SqliteConnection) -> Result<Option<Farm>, Failure> {
    let row = sqlx::query(
        "SELECT name, zone, scale, coalesce(address, ''), coalesce(phone, ''), coalesce(vet, ''), coalesce(health, ''),
            coalesce(insurer, ''), warm_at_as, warm_hours, coalesce(lid_page, 'no') FROM farm ORDER BY since DESC, number DESC LIMIT 1",
    )
    .fetch_optional(db)
    .await?;
    row.map(|row| {
        let (zone, scale): (String, String) = (row.try_get(1)?, row.try_get(2)?);
        Ok(Farm {
            name: row.try_get(0)?,
            ways: Ways { zone: Zone::parse(&zone).unwrap_or(Zone::UTC), scale: Scale::parse(&scale).unwrap_or(Scale::Fahrenheit) },
            address: row.try_get(3)?,
            phone: row.try_get(4)?,
            vet: row.try_get(5)?,
            health: row.try_get(6)?,
            insurer: row.try_get(7)?,
            house: HouseRule {
                at: row.try_get::<Option<String>, _>(8)?.and_then(|typed| Temperature::parse(&typed, Scale::Fahrenheit).ok()),
                hours: row.try_get(9)?,
            },
            lid_page: row.try_get::<String, _>(10)? == "yes",
        })
    })
    .transpose()
}

/// The first day the farm is there, as written when it was set up.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn since(db: &mut SqliteConnection) -> Result<Option<Day>, Failure> {
    let first: Option<String> = sqlx::query_scalar("SELECT min(since) FROM farm").fetch_one(db).await?;
    Ok(first.and_then(|day| parse_day(&day).ok()))
}

/// Every rule set the farm has followed, newest first, to be asked for a day.
#[derive(Clone, Debug, Default)]
pub struct RuleBook {
    sets: Vec<(Day, bool, Rules)>,
    used: Vec<Channel>,
}

impl RuleBook {
    /// The rules of a day. A lot is judged by the rules of the day it was filled. The sets beside the base are those written
    /// to stand beside it since; a set that stands alone ends whatever came before it.
    #[must_use]
    pub fn on(&self, day: Day) -> RulesOfDay {
        let followed = || self.sets.iter().filter(|(since, _, _)| *since <= day);
        let alone = followed().find(|(_, stands_beside, _)| !stands_beside).map(|(_, _, rules)| rules.clone());
        let nothing = || Rules {
            source: "no rule set was chosen for that day".to_owned(),
            unread: vec!["No rules were followed on the day it was filled: follow them from an earlier day if they held.".to_owned()],
            ..Rules::default()
        };
        let (mut base, mut beside) = (alone.unwrap_or_else(nothing), Vec::new());
        for (_, _, rules) in followed().take_while(|(_, stands_beside, _)| *stands_beside) {
            // A set that stands beside and does not say for which ways would hold for none, and nobody would know.
            if rules.channels == Channels::NotKnown {
                let says = format!("{} stands beside the other rules and does not say for which ways.", rules.source);
                base.unread.push(says);
            }
            beside.push(rules.clone());
        }
        RulesOfDay { base, beside, used: self.used.clone() }
    }
}

/// Reads every rule set the farm has followed.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn rule_book(db: &mut SqliteConnection) -> Result<RuleBook, Failure> {
    let rows = sqlx::query(
        "SELECT title, coalesce(citation, ''), sure, coalesce(steps, ''), fresh_before, fresh_days, fresh_milkings, best_by_days, best_by_from, since,
                coalesce(beside, 'no'), coalesce(channels, ''), coalesce(limits, ''), strip_fails, coalesce(tests, '')
         FROM rules ORDER BY since DESC, number DESC",
    )
    .fetch_all(&mut *db)
    .await?;
    let sets = rows.iter().map(rules).collect::<Result<_, _>>()?;
    let used: Vec<String> = sqlx::query_scalar("SELECT DISTINCT channel FROM people WHERE until IS NULL").fetch_all(db).await?;
    Ok(RuleBook { sets, used: used.iter().filter_map(|way| Channel::parse(way)).collect() })
}

fn rules(row: &SqliteRow) -> Result<(Day, bool, Rules), Failure> {
    let (title, citation, sure, steps, since): (String, String, String, String, String) =
        (row.try_get(0)?, row.try_get(1)?, row.try_get(2)?, row.try_get(3)?, row.try_get(9)?);
    let (days, from): (Option<i64>, Option<String>) = (row.try_get(7)?, row.try_get(8)?);
    let (beside, channels, limits): (String, String, String) = (row.try_get(10)?, row.try_get(11)?, row.try_get(12)?);
    let (strip_fails, tests): (Option<String>, String) = (row.try_get(13)?, row.try_get(14)?);
    let from = if from.as_deref() == Some("filling") { CountedFrom::Filling } else { CountedFrom::OldestMilking };
    let law = if citation.is_empty() { String::new() } else { format!("{citation}; ") };
    let mut unread = Vec::new();
    let tests = legible(Frequencies::parse(&tests), "The tests", &title, &mut unread);
    let rules = Rules {
        source: format!("{title} ({law}{sure}), followed from {since}"),
        steps: legible(Steps::parse(&steps), "The chill steps", &title, &mut unread),
        fresh: ColostrumRule { days_before: row.try_get(4)?, days_after: row.try_get(5)?, milkings: row.try_get(6)? },
        strip_fails: strip_fails.and_then(|score| legible(Score::parse(&score).map(Some), "The strip test", &title, &mut unread)),
        best_by: days.map(|days| (days, from)),
        channels: legible(Channels::parse(&channels), "The ways of handing out", &title, &mut unread),
        limits: legible(Limits::parse(&limits), "The limits", &title, &mut unread),
        each_cow: tests.of_each_cow(),
        unread,
    };
    let since =
        parse_day(&since).map_err(|_| Failure::File("A rule set has no day it is followed from. Run tallypail check.".to_owned()))?;
    Ok((since, beside == "yes", rules))
}

/// A part of a set as it was read, or nothing, with its name among what cannot be read.
fn legible<T: Default, E>(read: Result<T, E>, what: &str, title: &str, unread: &mut Vec<String>) -> T {
    read.unwrap_or_else(|_| {
        unread.push(format!("{what} in the rules of {title} cannot be read, so it is not known what they say."));
        T::default()
    })
}

/// Since when a set is followed: its first version under the same title, with no other set standing alone in between. `all` is
/// the title, whether it stands beside, and the day of each, the newest first.
#[must_use]
pub fn followed_since(all: &[(String, String, String)], nth: usize) -> Option<Day> {
    let (title, beside, _) = all.get(nth)?;
    let same = |(own, _, _): &&(String, String, String)| own == title;
    let until_another = all.iter().skip(nth).take_while(|own| beside == "yes" || own.1 == "yes" || same(own));
    until_another.filter(same).last().and_then(|(_, _, since)| parse_day(since).ok())
}

/// A figure the farm assumes, as it stood on a day.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn assumed(db: &mut SqliteConnection, name: &str, day: Day) -> Result<Option<Decimal>, Failure> {
    let figure: Option<String> =
        sqlx::query_scalar("SELECT figure FROM assumptions WHERE name = ? AND since <= ? ORDER BY since DESC, number DESC LIMIT 1")
            .bind(name)
            .bind(day.to_string())
            .fetch_optional(db)
            .await?;
    Ok(figure.and_then(|figure| figure_of(&figure)))
}
