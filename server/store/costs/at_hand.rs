//! What a cost rests on, kept at hand for as long as nothing is written.
//!
//! Somebody who looks at a cost looks at its lines, its months and its what-ifs next. All of them rest on the same books, and on a
//! ledger of twenty years most of the time goes into reading those. Every write has its line in the journal, whoever wrote it,
//! so books of the same last line are the same books.

use super::books;
use crate::{
    store::{Failure, Ledger},
    trade::{
        account::Books,
        wear::Span,
        when::{Day, Zone},
    },
};
use std::sync::{Arc, Mutex, PoisonError};

/// So many are kept: those of the report, of the days asked about, and of a what-if.
const KEPT: usize = 3;

/// The books read last, the newest last.
#[derive(Debug, Default)]
pub struct AtHand(Mutex<Vec<(Asked, Arc<Books>)>>);

/// What was asked of the ledger, and after which line of its journal.
#[derive(Debug, PartialEq, Eq)]
struct Asked {
    line: i64,
    zone: Zone,
    spans: Vec<Span>,
    by_cow: Vec<Span>,
    until: Day,
}

impl AtHand {
    fn all(&self) -> std::sync::MutexGuard<'_, Vec<(Asked, Arc<Books>)>> {
        // Nothing is ever half kept, so what somebody who fell over left behind is whole.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn find(&self, asked: &Asked) -> Option<Arc<Books>> {
        self.all().iter().find(|(own, _)| own == asked).map(|(_, books)| Arc::clone(books))
    }

    fn keep(&self, asked: Asked, books: Arc<Books>) {
        let mut all = self.all();
        all.retain(|(own, _)| own.line == asked.line && *own != asked);
        let too_many = (all.len() + 1).saturating_sub(KEPT);
        all.drain(..too_many);
        all.push((asked, books));
    }
}

/// As [`books`], from what is at hand where nothing was written since it was read.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn at_hand(ledger: &Ledger, zone: Zone, spans: &[Span], by_cow: &[Span], until: Day) -> Result<Arc<Books>, Failure> {
    let mut db = ledger.read().await?;
    // The line is asked for first: books that are newer than their line are only read once more.
    let line = sqlx::query_scalar("SELECT coalesce(max(seq), 0) FROM journal").fetch_one(&mut *db).await?;
    let asked = Asked { line, zone, spans: spans.to_vec(), by_cow: by_cow.to_vec(), until };
    if let Some(found) = ledger.costs.find(&asked) {
        return Ok(found);
    }
    let read = Arc::new(books(&mut db, zone, spans, by_cow, until).await?);
    ledger.costs.keep(asked, Arc::clone(&read));
    Ok(read)
}
