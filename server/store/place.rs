//! Where the ledger lies: that its file is still the one that was opened, and that only one program serves it.

use super::Failure;
use std::{
    fs::{self, File, TryLockError},
    io,
    path::{Path, PathBuf},
};

/// What tells one file from another whatever it is called: its device and its number there.
#[cfg(unix)]
fn mark(file: &Path) -> Option<(u64, u64)> {
    use std::os::unix::fs::MetadataExt;
    fs::metadata(file).ok().map(|own| (own.dev(), own.ino()))
}

/// Elsewhere it is only known whether a file is there.
#[cfg(not(unix))]
fn mark(file: &Path) -> Option<(u64, u64)> {
    file.exists().then_some((0, 0))
}

/// A file with something after its whole name, beside it.
#[must_use]
pub fn beside(file: &Path, more: &str) -> PathBuf {
    let mut name = file.as_os_str().to_owned();
    name.push(more);
    PathBuf::from(name)
}

/// The files that were opened: the ledger, and the log beside it that holds what was written last.
#[derive(Debug)]
pub struct Opened([(PathBuf, Option<(u64, u64)>); 2]);

impl Opened {
    /// The files as they are now.
    #[must_use]
    pub fn now(file: &Path) -> Opened {
        Opened([file.to_owned(), beside(file, "-wal")].map(|own| (own.clone(), mark(&own))))
    }

    /// Fails when one of them was moved, deleted or replaced since. What is written then goes into a file that nobody finds
    /// again, so nothing is written any more.
    ///
    /// # Errors
    /// Which file, and what to do.
    pub fn still_there(&self) -> Result<(), Failure> {
        for (file, then) in &self.0 {
            let now = mark(file);
            if now != *then {
                let what = if now.is_none() {
                    "is not where it was when the program started"
                } else {
                    "is another file than the one the program opened"
                };
                return Err(Failure::Moved(format!(
                    "{} {what}. Whoever looks after the machine: delete nothing; put the ledger and the file ending in -wal back as they were, or restore the newest copy, and start the program again.",
                    file.display()
                )));
            }
        }
        Ok(())
    }
}

/// That this program serves a ledger, for as long as it is kept. The system gives it up however the program ends.
#[derive(Debug)]
pub struct Serving(#[expect(dead_code, reason = "the lock lasts as long as the file is open")] Option<File>);

/// The file that is locked. It is not the ledger itself: to close that a second time would give up the locks SQLite has on it.
const LOCK: &str = ".serving";

impl Serving {
    /// Takes a ledger for serving.
    ///
    /// # Errors
    /// When another program is serving it.
    pub fn take(ledger: &Path) -> Result<Serving, Failure> {
        let Ok(file) = File::options().write(true).create(true).truncate(false).open(lock_of(ledger)) else {
            // A folder that cannot be written to is told of when the ledger itself is opened.
            return Ok(Serving(None));
        };
        match file.try_lock() {
            Ok(()) => Ok(Serving(Some(file))),
            Err(TryLockError::WouldBlock) => Err(Failure::File(format!(
                "The ledger {} is being served already, by another Tallypail on this machine. Open that one's page, or stop it first.",
                ledger.display()
            ))),
            Err(TryLockError::Error(error)) => {
                tracing::warn!("The ledger {} cannot be locked ({error}); see that it is served once only.", ledger.display());
                Ok(Serving(None))
            }
        }
    }

    /// Whether some program is serving a ledger.
    #[must_use]
    pub fn is_served(ledger: &Path) -> bool {
        File::options().write(true).open(lock_of(ledger)).is_ok_and(|file| matches!(file.try_lock(), Err(TryLockError::WouldBlock)))
    }
}

/// One ledger has one lock, by whatever way it is named.
fn lock_of(ledger: &Path) -> PathBuf {
    beside(&fs::canonicalize(ledger).unwrap_or_else(|_| ledger.to_owned()), LOCK)
}

/// Sees to it that a file, or a folder's list of names, is on the disk and not only on its way there.
///
/// # Errors
/// When the system says that it is not.
pub async fn on_the_disk(path: &Path) -> io::Result<()> {
    if cfg!(not(unix)) && path.is_dir() {
        return Ok(());
    }
    tokio::fs::File::open(path).await?.sync_all().await
}
