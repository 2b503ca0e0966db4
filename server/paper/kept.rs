//! The papers of a farm folder: each is a file of its own, named by the SHA-256 of its bytes, so that one byte changed on
//! the way shows at once.

use super::filed::{Files, FolderFault};
use crate::trade::{
    book::{Book, sha256},
    kinds::kind,
};
use std::collections::{BTreeMap, HashMap};

/// The folder inside the farm folder where papers lie.
pub const PAPERS: &str = "documents";

/// Whether a file of the folder lies where papers do.
pub(super) fn is_paper(name: &str) -> bool {
    name.strip_prefix(PAPERS).is_some_and(|rest| rest.starts_with('/'))
}

fn file_of(hash: &str) -> String {
    format!("{PAPERS}/{hash}.pdf")
}

/// The papers as files.
pub(super) fn written(book: &Book) -> impl Iterator<Item = (String, Vec<u8>)> + '_ {
    book.contents.iter().map(|(hash, bytes)| (file_of(hash), bytes.clone()))
}

/// The papers of a folder by their SHA-256; says which are missing, changed or named by nobody.
pub(super) fn read(
    files: &Files,
    book: &Book,
    lines: &HashMap<(&'static str, i64), u64>,
    faults: &mut Vec<FolderFault>,
) -> BTreeMap<String, Vec<u8>> {
    let mut contents = BTreeMap::new();
    // A line that cannot be read may be the very one that names a paper.
    let is_read = faults.iter().all(|fault| fault.file != "documents.csv");
    let mut fault = |file: &str, line: u64, says: String| {
        let column = if line > 0 { "hash".to_owned() } else { String::new() };
        faults.push(FolderFault { file: file.to_owned(), line, column, says });
    };
    for (file, bytes) in files.iter().filter(|(file, _)| is_paper(file)) {
        let hash = sha256(bytes);
        if *file != file_of(&hash) {
            fault(
                file,
                0,
                format!("These bytes are not the paper that was kept: their SHA-256 is {hash}. Take the file from another copy."),
            );
        } else if is_named(book, &hash) {
            contents.insert(hash, bytes.clone());
        } else if is_read {
            fault(file, 0, "No line of documents.csv names this paper. Take it out, or write its line.".to_owned());
        }
    }
    let Some(kind) = kind("documents") else { return contents };
    for record in book.of(kind.name) {
        let file = file_of(record.cell(kind, "hash").text());
        let line = lines.get(&(kind.name, record.number)).copied().unwrap_or(0);
        match files.get(&file).map(|bytes| i64::try_from(bytes.len()).ok()) {
            None => fault("documents.csv", line, format!("The file {file} is missing from the folder.")),
            Some(size) if size != record.cell(kind, "size").whole() => {
                fault("documents.csv", line, format!("The file {file} has another number of bytes than is written."));
            }
            Some(_) => {}
        }
    }
    contents
}

/// Whether a document names these bytes, or one that was struck through did.
fn is_named(book: &Book, hash: &str) -> bool {
    let own = kind("documents").is_some_and(|kind| book.of(kind.name).iter().any(|record| record.cell(kind, "hash").text() == hash));
    own || book.struck.iter().any(|struck| struck.kind == "documents" && struck.was.contains(hash))
}
