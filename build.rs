//! Packs the sample farm, so that the program carries a sixth of it, and rebuilds when a migration or a template is added: cargo
//! watches source files, not these folders.

use std::{
    env,
    error::Error,
    fs::{self, File},
    io::Write,
    path::Path,
};
use zip::{ZipWriter, write::SimpleFileOptions};

fn main() -> Result<(), Box<dyn Error>> {
    for folder in ["migrations", "templates", "sample-data"] {
        println!("cargo:rerun-if-changed={folder}");
    }
    let mut packed = ZipWriter::new(File::create(Path::new(&env::var("OUT_DIR")?).join("sample.zip"))?);
    let mut files = fs::read_dir("sample-data")?.collect::<Result<Vec<_>, _>>()?;
    files.sort_by_key(fs::DirEntry::file_name);
    for file in files {
        packed.start_file(file.file_name().to_string_lossy(), SimpleFileOptions::default())?;
        packed.write_all(&fs::read(file.path())?)?;
    }
    packed.finish()?;
    Ok(())
}
