//! The one who copies the ledger to a folder of its own, a stick or a folder that is carried elsewhere, without anybody asking.
//!
//! It looks at the clock, not at how long it has run: a copy is due when the newest that is there is older than the span. So a
//! program that was off for a week copies when it starts, and a stick that was put in gets its copy within minutes. Whatever goes
//! wrong is kept as a sentence for Today and the Binder and tried again; nobody's page waits for it.

use crate::{
    store::{Failure, Ledger, backup, farm},
    trade::{
        copies::{Every, Made, called, due, may_go},
        owners::Schedule,
        when::{Moment, Zone},
    },
    web::clock::Clock,
};
use std::{
    path::Path,
    sync::{Arc, Mutex, PoisonError},
    time::Duration,
};
use tokio::sync::watch;

/// Where copies go by themselves, how often, and what went wrong last.
#[derive(Clone, Debug)]
pub struct Copies {
    folder: Arc<Path>,
    every: Every,
    failed: Arc<Mutex<Option<(Moment, String)>>>,
}

impl Copies {
    /// Copies into this folder, so often.
    #[must_use]
    pub fn new(folder: &Path, every: Every) -> Copies {
        Copies { folder: folder.into(), every, failed: Arc::default() }
    }

    /// The folder.
    #[must_use]
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// What Today and the Binder say of it: where to, how often, and since when what went wrong.
    #[must_use]
    pub fn schedule(&self) -> Schedule {
        let failed = self.failed.lock().unwrap_or_else(PoisonError::into_inner).clone();
        Schedule { folder: self.folder.display().to_string(), every: self.every, failed }
    }

    fn went(&self, wrong: Option<(Moment, String)>) {
        let mut failed = self.failed.lock().unwrap_or_else(PoisonError::into_inner);
        // Since when it has been going wrong says more than when it was tried last.
        let since = failed.as_ref().map(|(since, _)| *since);
        *failed = wrong.map(|(at, says)| (since.filter(|since| *since <= at).unwrap_or(at), says));
    }
}

/// Who makes the copies.
#[derive(Clone, Debug)]
pub struct Copier {
    /// The ledger.
    pub ledger: Ledger,
    /// The clock.
    pub clock: Clock,
    /// Where to and how often.
    pub copies: Copies,
}

/// The longest the clock is not looked at, in seconds: it may be put right, a machine may sleep, and a stick may come.
const LOOK_AGAIN: i64 = 60;

impl Copier {
    /// Makes every copy that is due until told to stop. One in the middle is then left half, which the next start clears away.
    pub async fn run(self, mut stop: watch::Receiver<bool>) {
        while !*stop.borrow() {
            let round = async {
                let next = self.round().await;
                let seconds = next.in_seconds().saturating_sub(self.clock.now().in_seconds()).clamp(1, LOOK_AGAIN);
                tokio::time::sleep(Duration::from_secs(u64::try_from(seconds).unwrap_or(1))).await;
            };
            tokio::select! {
                () = round => {}
                _ = stop.changed() => return,
            }
        }
    }

    /// Makes the copy that is due, if one is, and thins the old ones. Gives back when to look again.
    pub async fn round(&self) -> Moment {
        let now = self.clock.now();
        match self.copied(now).await {
            Ok(next) => {
                self.copies.went(None);
                next
            }
            Err(failure) => {
                tracing::warn!("No copy was made: {failure}");
                self.copies.went(Some((now, failure.to_string())));
                Moment::seconds(now.in_seconds() + LOOK_AGAIN)
            }
        }
    }

    async fn copied(&self, now: Moment) -> Result<Moment, Failure> {
        let folder = self.copies.folder();
        // Whether the folder is there is worth knowing from the first minute; before the farm has a name nothing is worth a copy.
        backup::names(folder).await?;
        let found = farm::current(&mut *self.ledger.read().await?).await?;
        let Some(farm) = found else { return Ok(now.plus_minutes(1)) };
        backup::clear_halves(folder, &farm.name).await?;
        let next = due(&self.there().await?, self.copies.every, now);
        if next > now {
            return Ok(next);
        }
        backup::write(&self.ledger, &folder.join(called(&farm.name, now, farm.ways.zone)), now).await?;
        self.thin(now, farm.ways.zone).await?;
        Ok(self.copies.every.after(now))
    }

    async fn there(&self) -> Result<Vec<Made>, Failure> {
        backup::there(&mut *self.ledger.read().await?, self.copies.folder()).await
    }

    /// Takes away the copies that the rule lets go, and nothing else.
    async fn thin(&self, now: Moment, zone: Zone) -> Result<(), Failure> {
        for old in may_go(&self.there().await?, now, zone) {
            let file = self.copies.folder().join(&old.name);
            tokio::fs::remove_file(&file).await.map_err(|error| {
                Failure::File(format!("The copy was made, but the old one {} cannot be taken away: {error}.", file.display()))
            })?;
        }
        Ok(())
    }
}
