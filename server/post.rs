//! The one who carries the e-mails of a call-back to the farm's mail server, one at a time.
//!
//! That an e-mail is being sent is on the disk before the server is spoken to, and what came of it right after. So a program
//! that is killed in between leaves an e-mail of which it is not known whether it went: it is not sent again by itself, and its
//! household is rung. Whatever did not go waits in the ledger until the program runs again.

use crate::{
    store::{
        Failure, Ledger, farm,
        post::{self as mails, Contents, Mailing},
        records::{self, Refusal},
    },
    trade::{
        kinds::kind,
        post::{self, Outcome, State},
        records::Cell,
        when::Moment,
        wording::{self, Filling},
    },
    web::{
        clock::Clock,
        secret,
        smtp::{self, Letter, Server},
    },
};
use sqlx::SqliteConnection;
use std::{sync::Arc, time::Duration};
use tokio::sync::{Notify, watch};

/// How the farm's letters leave: the server, the address they come from, and a bell for whoever carries them.
#[derive(Clone, Debug)]
pub struct Post {
    server: Arc<Server>,
    from: Arc<str>,
    bell: Arc<Notify>,
}

impl Post {
    /// A post that goes through this server, from this address.
    #[must_use]
    pub fn new(server: Server, from: &str) -> Post {
        Post { server: Arc::new(server), from: from.into(), bell: Arc::default() }
    }

    /// The server's host.
    #[must_use]
    pub fn host(&self) -> &str {
        self.server.host()
    }

    /// The address letters come from.
    #[must_use]
    pub fn from(&self) -> &str {
        &self.from
    }

    /// Says that there is something to carry.
    pub fn ring(&self) {
        self.bell.notify_one();
    }
}

/// Who carries the letters.
#[derive(Clone, Debug)]
pub struct Carrier {
    /// The ledger.
    pub ledger: Ledger,
    /// The clock.
    pub clock: Clock,
    /// How they leave; nothing where no server is set.
    pub post: Option<Post>,
    /// Whether this is the sample farm, which never sends.
    pub demo: bool,
}

/// How long a ledger that could not be read or written is left alone, in seconds.
const AGAIN: i64 = 60;

impl Carrier {
    /// Carries whatever there is until told to stop, finishing the one in hand.
    pub async fn run(self, mut stop: watch::Receiver<bool>) {
        while !*stop.borrow() {
            let next = self.round(&stop).await.unwrap_or_else(|failure| {
                tracing::error!("The e-mails of a call-back could not be looked after: {failure}");
                Some(Moment::seconds(self.clock.now().in_seconds() + AGAIN))
            });
            tokio::select! {
                () = self.rung() => {}
                () = self.until(next) => {}
                changed = stop.changed() => if changed.is_err() { return },
            }
        }
    }

    async fn rung(&self) {
        match &self.post {
            Some(post) => post.bell.notified().await,
            None => std::future::pending().await,
        }
    }

    async fn until(&self, next: Option<Moment>) {
        let Some(next) = next else { return std::future::pending().await };
        let seconds = next.in_seconds() - self.clock.now().in_seconds();
        tokio::time::sleep(Duration::from_secs(u64::try_from(seconds).unwrap_or(0).max(1))).await;
    }

    /// Carries all that is due. Gives back when the next will be.
    ///
    /// # Errors
    /// When the ledger cannot be read or written.
    pub async fn round(&self, stop: &watch::Receiver<bool>) -> Result<Option<Moment>, Failure> {
        if self.demo {
            return Ok(None);
        }
        self.own_up().await?;
        let Some(post) = &self.post else { return Ok(None) };
        while !*stop.borrow() {
            let Some((mailing, letter)) = self.claimed(post).await? else { break };
            let (outcome, said) = match letter {
                Ok(letter) => smtp::hand_over(&post.server, &letter).await,
                Err(why) => (Outcome::Refused, why),
            };
            self.write_down(&mailing, outcome, &said).await?;
        }
        let open = mails::open(&mut *self.ledger.read().await?).await?;
        Ok(open.iter().filter_map(|own| self.state(own).due(own.asked)).min())
    }

    fn state(&self, own: &Mailing) -> State {
        post::state(own.asked, &own.steps, self.clock.now())
    }

    /// Whatever was being sent when the program stopped, or when its outcome could not be written down, may have gone.
    async fn own_up(&self) -> Result<(), Failure> {
        let open = mails::open(&mut *self.ledger.read().await?).await?;
        for own in open.iter().filter(|own| self.state(own) == State::Sending) {
            self.write_down(own, Outcome::NotKnown, "The program stopped while it was being sent.").await?;
        }
        Ok(())
    }

    /// Takes the first that is due in hand, which is on the disk when this returns: the mailing, and its letter or why there is none.
    async fn claimed(&self, post: &Post) -> Result<Option<(Mailing, Result<Letter, String>)>, Failure> {
        let mut tx = self.ledger.begin().await?;
        let now = self.clock.now();
        let open = mails::open(&mut tx).await?;
        let due = |own: &Mailing| self.state(own).due(own.asked).is_some_and(|due| due <= now);
        // Whoever was never tried comes before those a server put off.
        let Some(own) = open.iter().filter(|own| due(own)).min_by_key(|own| (own.steps.len(), own.asked.in_seconds(), own.number)) else {
            return Ok(None);
        };
        let letter = letter(&mut tx, own, post, now).await?;
        if letter.is_ok() {
            step(&mut tx, own, Outcome::Sending, "", now).await?;
        }
        tx.commit().await?;
        Ok(Some((own.clone(), letter)))
    }

    async fn write_down(&self, own: &Mailing, outcome: Outcome, said: &str) -> Result<(), Failure> {
        let mut tx = self.ledger.begin().await?;
        step(&mut tx, own, outcome, said, self.clock.now()).await?;
        Ok(tx.commit().await?)
    }
}

/// The letter of an e-mail, or why none may go.
async fn letter(db: &mut SqliteConnection, own: &Mailing, post: &Post, now: Moment) -> Result<Result<Letter, String>, Failure> {
    let Contents { sort, says, lots, is_overtaken } = mails::contents(&mut *db, own).await?;
    if let Err(fault) = post::may_send(&sort) {
        return Ok(Err(fault.to_string()));
    }
    if is_overtaken {
        return Ok(Err("Not sent: newer words were asked for in its place.".to_owned()));
    }
    if lots.is_empty() {
        return Ok(Err("Not sent: none of their lots is called back any more.".to_owned()));
    }
    let Some(farm) = farm::current(db).await? else { return Ok(Err("Not sent: the farm is not set up.".to_owned())) };
    Ok(Ok(Letter {
        subject: wording::subject(&farm.name),
        says: wording::filled(&says, &Filling { lots, farm: farm.name.clone(), phone: farm.phone }),
        name: farm.name,
        from: post.from.to_string(),
        to: own.address.clone(),
        mark: own.entry.clone(),
        at: now,
    }))
}

/// Keeps a step of an e-mail, in the name of whoever asked for it.
async fn step(db: &mut SqliteConnection, own: &Mailing, outcome: Outcome, said: &str, now: Moment) -> Result<(), Failure> {
    let Some(kind) = kind("deliveries") else { return Err(Failure::File("no kind of record is called deliveries".to_owned())) };
    let said = post::kept_answer(said, &own.address);
    let answer = if said.is_empty() { Cell::Empty } else { Cell::Text(said) };
    let cells = vec![Cell::To(own.number), Cell::Whole(now.in_seconds()), Cell::Text(outcome.word().to_owned()), answer];
    let act = records::act(&mut *db, now, &own.who, "mail").await?;
    match records::keep(db, kind, &secret::entry(), cells, &act).await {
        Ok(_) => Ok(()),
        Err(Refusal::Failure(failure)) => Err(failure),
        Err(Refusal::Remarks(remarks)) => {
            let says: Vec<&str> = remarks.iter().map(|own| own.says.as_str()).collect();
            Err(Failure::File(format!("A step of e-mail {} was not kept: {}", own.number, says.join(" "))))
        }
    }
}
