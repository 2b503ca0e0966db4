//! A CSV file taken apart into heading, rows and line numbers, whatever spreadsheet wrote it.

/// A file taken apart.
pub struct Cells {
    /// The names in its heading, in small letters.
    pub heading: Vec<String>,
    /// Its rows with their line numbers, each as long as the heading.
    pub rows: Vec<(u64, Vec<String>)>,
}

/// Takes a file apart as spreadsheets write them: with or without a byte-order mark, commas or semicolons, any line ends.
///
/// # Errors
/// The line that cannot be taken apart, and why.
pub fn cells(bytes: &[u8]) -> Result<Cells, (u64, String)> {
    let text = std::str::from_utf8(bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes))
        .map_err(|error| (line_at(bytes, error.valid_up_to()), "This is not UTF-8 text. Save the file as CSV UTF-8.".to_owned()))?;
    let first = text.lines().next().unwrap_or("");
    let delimiter = if first.contains(';') && !first.contains(',') { b';' } else { b',' };
    let mut reader = csv::ReaderBuilder::new().delimiter(delimiter).flexible(true).has_headers(false).from_reader(text.as_bytes());
    let mut heading: Vec<String> = Vec::new();
    let mut rows = Vec::new();
    for row in reader.records() {
        let row = row.map_err(|error| {
            (
                error.position().map_or(0, csv::Position::line),
                "This line cannot be taken apart. Look for a quotation mark without its partner.".to_owned(),
            )
        })?;
        let line = row.position().map_or(0, csv::Position::line);
        let cells: Vec<String> = row.iter().map(str::to_owned).collect();
        if heading.is_empty() {
            heading = cells.iter().map(|name| name.trim().to_lowercase()).collect();
        } else if cells.len() != heading.len() {
            return Err((
                line,
                format!(
                    "This line has {} cells and the heading has {}. A comma inside words needs quotation marks around them.",
                    cells.len(),
                    heading.len()
                ),
            ));
        } else if cells.iter().any(|cell| !cell.trim().is_empty()) {
            rows.push((line, cells));
        }
    }
    if heading.is_empty() { Err((1, "This file is empty. It needs at least its heading.".to_owned())) } else { Ok(Cells { heading, rows }) }
}

fn line_at(bytes: &[u8], place: usize) -> u64 {
    1 + u64::try_from(bytes.iter().take(place).filter(|byte| **byte == b'\n').count()).unwrap_or(0)
}
