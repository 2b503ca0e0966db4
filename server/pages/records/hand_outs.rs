//! What a hand-out that is corrected or struck takes along: its mark, and the empties written with it. It owns no door.

use crate::{
    store::{
        Failure, corrections, empties, lots,
        records::{self, Refusal},
    },
    trade::{
        balance::LotJars,
        kinds::{Kind, kind},
        pickups::marks_anew,
        records::{Cell, Record},
    },
};
use sqlx::SqliteConnection;

/// A hand-out whose jars are corrected may be of more than were there: what happened is kept, and marked.
pub(super) async fn marked_anew(
    db: &mut SqliteConnection,
    kind: &Kind,
    record: &Record,
    mut cells: Vec<Cell>,
) -> Result<Vec<Cell>, Failure> {
    if kind.name == "pickups"
        && kind.jars(&cells) != kind.jars(&record.cells)
        && let Some(place) = kind.place_of("marked")
    {
        let lot = record.cell(kind, "lot").whole().unwrap_or_default();
        let moved = lots::moved(db, &[lot]).await?;
        let left = LotJars::gathered(moved.get(&lot).map_or(&[], Vec::as_slice), None).by_the_book() + kind.jars(&record.cells);
        let marks = marks_anew(record.cell(kind, "marked").text(), (left, kind.jars(&cells)));
        cells[place] = if marks.is_empty() { Cell::Empty } else { Cell::Text(marks) };
    }
    Ok(cells)
}

/// A hand-out that never was leaves no jars owed: what was written of empties in the same act is struck with it, or lessened by
/// its jars where others of the act stand.
pub(super) async fn strike_empties(
    db: &mut SqliteConnection,
    out: &Kind,
    record: &Record,
    why: &str,
    act: &records::Act,
) -> Result<(), Refusal> {
    let (Some(kind), Some(person)) = (kind("empties").filter(|_| out.name == "pickups"), record.cell(out, "person").whole()) else {
        return Ok(());
    };
    let (beside, others) = empties::beside(&mut *db, record.number, person).await?;
    for number in beside {
        let Some(own) = records::find(&mut *db, kind, number).await? else { continue };
        let left = (kind.jars(&own.cells) - out.jars(&record.cells)).short_and_over().0;
        if others == 0 || left.is_none() {
            corrections::strike(&mut *db, kind, &own, why, act).await?;
            continue;
        }
        let mut cells = own.cells.clone();
        for (name, jars) in [("gallons", left.gallons), ("half_gallons", left.half_gallons), ("quarts", left.quarts), ("pints", left.pints)]
        {
            if let Some(cell) = kind.place_of(name).and_then(|place| cells.get_mut(place)) {
                *cell = Cell::Whole(jars);
            }
        }
        corrections::correct(&mut *db, kind, &own, cells, why, act).await?;
    }
    Ok(())
}
