//! The files of a farm folder, and how a fault in one is said.

use std::{collections::BTreeMap, fmt};

/// Files by name.
pub type Files = BTreeMap<String, Vec<u8>>;

/// One thing wrong in a folder.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct FolderFault {
    /// The file.
    pub file: String,
    /// The line in it, counting the heading as 1; 0 for the whole file.
    pub line: u64,
    /// The column; empty for the whole line.
    pub column: String,
    /// What is wrong and what to write instead.
    pub says: String,
}

impl fmt::Display for FolderFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.file)?;
        if self.line > 0 {
            write!(f, ", line {}", self.line)?;
        }
        if !self.column.is_empty() {
            write!(f, ", {}", self.column)?;
        }
        write!(f, ": {}", self.says)
    }
}
