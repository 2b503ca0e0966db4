//! Rebuilds when a migration or a template is added: cargo watches source files, not these folders.
fn main() {
    println!("cargo:rerun-if-changed=migrations");
    println!("cargo:rerun-if-changed=templates");
}
