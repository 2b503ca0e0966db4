//! Four hands who write at once, and remember what they were told.

use super::Chance;
use crate::program::{Answer, Program, ask};
use sqlx::{AssertSqlSafe, SqliteConnection};
use std::{io, path::Path, thread};
use tallypail::web::secret;

/// What is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// A hold of a cow: one record.
    Hold,
    /// Minutes spent: one record, by the plain form of any kind.
    Minutes,
    /// A count of the fridge: a record for each of six lots, all or none.
    Count,
}

/// A form that was sent.
#[derive(Clone, Debug)]
pub struct Attempt {
    form: Form,
    entry: String,
    /// Whether the program said that it was kept.
    pub acknowledged: bool,
}

impl Attempt {
    /// A form with a mark of its own.
    pub fn of(form: Form, chance: &mut Chance) -> Attempt {
        let (high, low) = (chance.bits(), chance.bits());
        let digits = format!("{high:016x}{low:016x}");
        // A random UUID, version 4 (RFC 9562, 5.4).
        let entry = format!("{}-{}-4{}-a{}-{}", &digits[..8], &digits[8..12], &digits[13..16], &digits[17..20], &digits[20..]);
        Attempt { form, entry, acknowledged: false }
    }
}

/// Lots in the fridge.
const LOTS: usize = 6;

/// How often an attempt was kept; 99 for a part of it, which is never right.
pub async fn times_kept(db: &mut SqliteConnection, own: &Attempt) -> i64 {
    let (table, entries) = match own.form {
        Form::Hold => ("holds", vec![own.entry.clone()]),
        Form::Minutes => ("minutes", vec![own.entry.clone()]),
        Form::Count => ("counts", (0..LOTS).map(|nth| secret::entry_within(&own.entry, nth)).collect()),
    };
    let mut times = Vec::new();
    for entry in entries {
        let asked = format!(
            "SELECT (SELECT count(*) FROM {table} WHERE entry = ?1),
             (SELECT count(*) FROM journal WHERE kind = '{table}' AND number IN (SELECT number FROM {table} WHERE entry = ?1))"
        );
        let (records, lines): (i64, i64) = sqlx::query_as(AssertSqlSafe(asked)).bind(&entry).fetch_one(&mut *db).await.unwrap();
        times.push(if records == lines { records } else { 99 });
    }
    if times.iter().all(|own| *own == times[0]) { times[0] } else { 99 }
}

/// Somebody who is signed in, whichever program serves the ledger.
#[derive(Clone)]
pub struct Hand {
    cookie: String,
    seal: String,
    lots: Vec<i64>,
}

impl Hand {
    /// Signs the owner in. The session outlasts every kill, because it was acknowledged like everything else.
    pub async fn signed_in(program: &Program, file: &Path) -> Hand {
        let (cookie, seal) = program.sign_in();
        let lots: Vec<i64> =
            sqlx::query_scalar("SELECT number FROM lots ORDER BY number").fetch_all(&mut super::looking(file).await).await.unwrap();
        assert_eq!(lots.len(), LOTS);
        Hand { cookie, seal, lots }
    }

    /// Sends a form.
    ///
    /// # Errors
    /// When there was no whole answer.
    pub fn sends(&self, address: &str, own: &Attempt) -> io::Result<Answer> {
        let mut fields: Vec<(String, String)> = vec![("seal".to_owned(), self.seal.clone()), ("entry".to_owned(), own.entry.clone())];
        let mut with = |more: &[(&str, &str)]| fields.extend(more.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned())));
        let path = match own.form {
            Form::Hold => {
                with(&[("what", "cow Wren"), ("reason", "a hot quarter")]);
                "/stop"
            }
            Form::Minutes => {
                with(&[("day", "2026-05-04"), ("job", "milking"), ("person", "Mina"), ("minutes", "1"), ("guess", "no"), ("sure", "all")]);
                "/records/minutes"
            }
            Form::Count => {
                with(&[("at", "2026-05-10T20:00"), ("counter", "Mina"), ("sure", "all")]);
                for number in &self.lots {
                    with(&[(&format!("half_gallons.{number}"), "6")]);
                }
                "/counts"
            }
        };
        let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
        ask(address, "POST", path, &self.cookie, &fields)
    }

    fn writes(&self, address: &str, mut chance: Chance) -> Vec<Attempt> {
        let mut sent = Vec::new();
        loop {
            let form = [Form::Hold, Form::Minutes, Form::Count][usize::try_from(chance.below(3)).unwrap()];
            let mut own = Attempt::of(form, &mut chance);
            match self.sends(address, &own) {
                Ok(answer) => {
                    assert_eq!(answer.status, 303, "{form:?} was refused: {}", answer.text);
                    own.acknowledged = true;
                    sent.push(own);
                }
                // Nobody listens any more, so it never left.
                Err(error) if error.kind() == io::ErrorKind::ConnectionRefused => return sent,
                Err(_) => {
                    sent.push(own);
                    return sent;
                }
            }
        }
    }
}

/// Has four hands write until the program is killed, and tells what they sent.
pub fn write_until_killed(program: Program, hand: &Hand, chance: &mut Chance) -> Vec<Attempt> {
    let address = program.address.clone();
    let writers: Vec<_> = (0..4)
        .map(|_| {
            let (hand, address, chance) = (hand.clone(), address.clone(), Chance(chance.bits()));
            thread::spawn(move || hand.writes(&address, chance))
        })
        .collect();
    chance.wait(200_000);
    program.kill();
    writers.into_iter().flat_map(|own| own.join().unwrap()).collect()
}
