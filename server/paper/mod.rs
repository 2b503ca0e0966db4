//! From values to bytes: CSV, JSON, PDF, spreadsheets, events, calendar files and archives. Knows nothing of the store, the pages or the web.

pub mod bundle;
pub mod csv;
pub mod epcis;
pub mod folder;
pub mod ics;
pub mod json;
pub mod pdf;
pub mod poster;
pub mod qr;
pub mod sample;
pub mod text;
pub mod xlsx;

mod cells;
mod columns;
mod filed;
mod kept;
mod known;
mod leaves;
mod letters;
mod picture;
mod squeeze;
mod table;

use std::fmt;

/// Why a paper could not be made. The record it was made from is untouched.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PaperFault {
    /// The lettering that ships with the program could not be read.
    Lettering,
    /// A page could not be drawn.
    Drawing,
    /// The drawn pages could not be bound into one file.
    Binding,
    /// There is more than a spreadsheet can hold.
    Spreadsheet,
    /// The files could not be packed into one.
    Archive,
}

impl fmt::Display for PaperFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            PaperFault::Lettering => {
                "The paper could not be made: its lettering could not be read. Your record is safe; the CSV holds the same."
            }
            PaperFault::Drawing => "The paper could not be made: a page would not draw. Your record is safe; the CSV holds the same.",
            PaperFault::Binding => {
                "The paper could not be made: its pages would not bind into one file. Your record is safe; the CSV holds the same."
            }
            PaperFault::Archive => "The folder could not be packed into one file. Your record is safe; the PDF holds the same.",
            PaperFault::Spreadsheet => {
                "The spreadsheet could not be made: it would hold more than a spreadsheet can. Your record is safe; the CSV holds the same."
            }
        })
    }
}

impl std::error::Error for PaperFault {}
