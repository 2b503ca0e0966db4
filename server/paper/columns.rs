//! How wide the columns of a table are. It exists because words and figures broken in the middle are hard to read with wet
//! hands and bad light: the letters shrink a little before a word is broken.

use genpdf::Mm;

use super::leaves::Leaves;
use super::letters::{Look, bold, code, italic, plain};
use crate::trade::figures::{Holds, Table};

/// What a row is for, which decides its letters.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// The names of the columns.
    Head,
    /// What the table holds.
    Body,
    /// The sums.
    Total,
}

/// The columns, settled: where each begins, how wide it is, and the size of the letters.
pub struct Plan {
    /// Where each begins, how wide it is and what it holds.
    pub columns: Vec<(Mm, Mm, Holds)>,
    /// The size of the letters, in points.
    pub size: u8,
    /// What stays empty above and below a cell.
    pub pad_y: Mm,
}

/// What stays empty at either side of a cell.
pub fn pad_x() -> Mm {
    Mm::from(1.9)
}

/// How a cell of this column looks in a row of this kind.
pub fn look(holds: Holds, kind: Kind, guess: bool, size: u8) -> Look {
    match (kind, holds) {
        (Kind::Head, _) => bold(size),
        (_, Holds::Codes) => code(size),
        _ if guess => italic(size),
        (Kind::Total, _) => bold(size),
        (Kind::Body, _) => plain(size),
    }
}

/// Settles the columns: the largest letters at which no word need be broken, else the smallest.
pub fn plan(leaves: &Leaves, table: &Table) -> Plan {
    let width = Leaves::width();
    let sizes: &[u8] = if table.dense { &[8, 7] } else { &[9, 8, 7] };
    let sized = sizes.iter().copied().map(|size| (size, needs(leaves, table, size)));
    let fits = sized.clone().find(|(_, needs)| needs.iter().copied().sum::<Mm>() <= width);
    let (size, needs) = fits.unwrap_or_else(|| {
        let even = width / f64::from(u32::try_from(table.columns.len()).unwrap_or(u32::MAX));
        (7, needs(leaves, table, 7).into_iter().map(|need| if need > even { even } else { need }).collect())
    });
    let widths = share(table, &needs, width);
    let mut x = Leaves::left();
    let columns = table.columns.iter().zip(widths).map(|(column, width)| {
        let at = x;
        x += width;
        (at, width, column.holds)
    });
    Plan { columns: columns.collect(), size, pad_y: Mm::from(if table.dense { 0.3 } else { 0.9 }) }
}

/// What each column needs so as to break no word; a word longer than a third of the leaf is broken all the same.
fn needs(leaves: &Leaves, table: &Table, size: u8) -> Vec<Mm> {
    let most = Leaves::width() * 0.3;
    let widest = |nth: usize, holds: Holds| {
        let cells = table.rows.iter().map(|row| (row, Kind::Body)).chain(table.total.iter().map(|row| (row, Kind::Total)));
        cells
            .filter_map(|(row, kind)| row.get(nth).map(|cell| (cell, look(holds, kind, cell.guess, size))))
            .map(|(cell, look)| leaves.letters.widest_word(&cell.says, leaves.letters.look_for(&cell.says, look)))
            .fold(Mm::from(0), Mm::max)
    };
    let columns = table.columns.iter().enumerate();
    columns
        .map(|(nth, column)| {
            let need =
                widest(nth, column.holds).max(leaves.letters.widest_word(&column.name, bold(size))) + pad_x() + pad_x() + Mm::from(0.1);
            if need > most { most } else { need }
        })
        .collect()
}

/// Shares the width out by the columns' weights, but gives none less than it needs.
fn share(table: &Table, needs: &[Mm], width: Mm) -> Vec<Mm> {
    let weights: Vec<u8> = table.columns.iter().map(|column| column.width.max(1)).collect();
    let mut settled = vec![false; needs.len()];
    loop {
        let (mut rest, mut weight) = (width, 0_u32);
        for ((need, own), settled) in needs.iter().zip(&weights).zip(&settled) {
            if *settled { rest -= *need } else { weight += u32::from(*own) }
        }
        let part = |own: u8| rest * f64::from(own) / f64::from(weight.max(1));
        let short = (0..needs.len()).find(|nth| !settled[*nth] && part(weights[*nth]) < needs[*nth]);
        match short {
            Some(nth) => settled[nth] = true,
            None => {
                return needs
                    .iter()
                    .zip(weights)
                    .zip(settled)
                    .map(|((need, own), settled)| if settled { *need } else { part(own) })
                    .collect();
            }
        }
    }
}
