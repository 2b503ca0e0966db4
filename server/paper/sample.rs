//! The sample farm, carried in the program, so that the demo needs no file beside it.

use super::folder::Files;
use std::{
    io::{Cursor, Read},
    sync::OnceLock,
};
use zip::{ZipArchive, result::ZipResult};

/// As build.rs packs it.
const PACKED: &[u8] = include_bytes!(concat!(env!("OUT_DIR"), "/sample.zip"));

/// The files of the sample farm.
#[must_use]
pub fn files() -> Files {
    static FILES: OnceLock<Files> = OnceLock::new();
    // What the program was built with can be read; a test holds it to the folder, byte for byte.
    FILES.get_or_init(|| unpacked().unwrap_or_default()).clone()
}

fn unpacked() -> ZipResult<Files> {
    let mut packed = ZipArchive::new(Cursor::new(PACKED))?;
    let mut files = Files::new();
    for nth in 0..packed.len() {
        let (mut file, mut bytes) = (packed.by_index(nth)?, Vec::new());
        file.read_to_end(&mut bytes)?;
        files.insert(file.name()?.into_owned(), bytes);
    }
    Ok(files)
}
