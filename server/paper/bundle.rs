//! A folder of files as one file, to be sent or carried: a ZIP archive (ISO/IEC 21320-1), which every system opens by itself.

use super::{PaperFault, filed::Files};
use std::io::{Cursor, Write};
use zip::{CompressionMethod, ZipWriter, write::SimpleFileOptions};

/// The kind of thing it is.
pub const KIND: &str = "application/zip";

/// The bytes of an archive that holds these files in one folder of this name. No file carries a time, so that the same files give the
/// same bytes.
///
/// # Errors
/// When a name or a length does not fit the form.
pub fn bundle(folder: &str, files: &Files) -> Result<Vec<u8>, PaperFault> {
    let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
    let options = SimpleFileOptions::DEFAULT.compression_method(CompressionMethod::Deflated);
    for (name, bytes) in files {
        archive.start_file(format!("{folder}/{name}"), options).map_err(|_| PaperFault::Archive)?;
        archive.write_all(bytes).map_err(|_| PaperFault::Archive)?;
    }
    archive.finish().map(Cursor::into_inner).map_err(|_| PaperFault::Archive)
}
