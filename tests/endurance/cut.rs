//! A log cut off at any byte, as a machine that lost its power in the middle of writing leaves it.

use super::Chance;
use std::{fs, path::Path};
use tallypail::store::{Ledger, check, journal};

/// Bytes of the log's header, of a frame's, and of a page.
const HEADER: u64 = 32;
const FRAME: u64 = 24;
const PAGE: u64 = 4096;

/// Frames that SQLite has begun to carry over into the ledger itself. It had them synced before, so no power cut takes them.
fn carried_over(index: &Path) -> u64 {
    let bytes = fs::read(index).unwrap_or_default();
    let at = |place: usize| bytes.get(place..place + 4).map_or(0, |own| u64::from(u32::from_ne_bytes(own.try_into().unwrap())));
    at(96).max(at(128))
}

async fn lines(file: &Path) -> Vec<(i64, String)> {
    let ledger = Ledger::open(file).await.unwrap_or_else(|failure| panic!("a cut log does not open: {failure}"));
    let mut db = ledger.read().await.unwrap();
    assert_eq!(check::wrongs(&mut db).await.unwrap(), Vec::<String>::new(), "after a cut");
    let lines = journal::sealed(&mut db).await.unwrap();
    drop(db);
    ledger.close().await;
    lines.into_iter().map(|(_, line, seal)| (line.act, seal)).collect()
}

/// Cuts copies of a killed ledger's log at some bytes. Each opens, is whole, and holds the first so many acts and no part of one.
/// Gives back how many were cut.
pub async fn cut_anywhere(file: &Path, chance: &mut Chance) -> usize {
    let log = fs::read(file.with_extension("ledger-wal")).unwrap_or_default();
    let length = u64::try_from(log.len()).unwrap();
    let safe = HEADER + carried_over(&file.with_extension("ledger-shm")) * (FRAME + PAGE);
    if length <= safe {
        return 0;
    }
    let mut whole: Vec<(i64, String)> = Vec::new();
    for nth in 0..6 {
        let folder = tempfile::tempdir().unwrap();
        let copy = folder.path().join("farm.ledger");
        fs::copy(file, &copy).unwrap();
        let left = if nth == 0 { length } else { safe + chance.below(length - safe) };
        fs::write(copy.with_extension("ledger-wal"), &log[..usize::try_from(left).unwrap()]).unwrap();
        let lines = lines(&copy).await;
        if nth == 0 {
            whole = lines;
            continue;
        }
        assert!(whole.starts_with(&lines), "cut at {left} of {length}: not the first lines");
        let of_the_last = |of: &[(i64, String)]| lines.last().map_or(0, |(act, _)| of.iter().filter(|own| own.0 == *act).count());
        assert_eq!(of_the_last(&lines), of_the_last(&whole), "cut at {left} of {length}: a part of an act");
    }
    5
}
