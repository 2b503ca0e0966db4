//! Makes a drawn PDF small and honest: presses it together, takes out what the drawing crate wrote in that is not so, and
//! writes in what a reader's screen needs.

use lopdf::{Dictionary, Document, Object, StringFormat};

use super::PaperFault;

/// The same paper, smaller, with its title and language said.
pub fn squeeze(drawn: &[u8], title: &str) -> Result<Vec<u8>, PaperFault> {
    let mut paper = Document::load_mem(drawn).map_err(|_| PaperFault::Binding)?;
    for object in paper.objects.values_mut() {
        if let Object::Dictionary(entries) = object {
            // Each layer claims to come from a drawing program that had no part in it.
            entries.remove(b"Usage");
        }
    }
    describe(&mut paper, title)?;
    // The day a paper was made stands on it, in the farm's words; the second it was drawn is nobody's business.
    paper.trailer.remove(b"ID");
    paper.prune_objects();
    paper.compress();
    let mut bytes = Vec::new();
    paper.save_to(&mut bytes).map_err(|_| PaperFault::Binding)?;
    Ok(bytes)
}

fn describe(paper: &mut Document, title: &str) -> Result<(), PaperFault> {
    let mut info = Dictionary::new();
    info.set("Title", words(title));
    info.set("Creator", words("Tallypail"));
    let info = paper.add_object(info);
    paper.trailer.set("Info", info);
    let root = paper.trailer.get(b"Root").and_then(Object::as_reference).map_err(|_| PaperFault::Binding)?;
    let catalog = paper.get_object_mut(root).and_then(Object::as_dict_mut).map_err(|_| PaperFault::Binding)?;
    // What a print shop's press would need and a farm's printer does not.
    catalog.remove(b"OutputIntents");
    catalog.remove(b"Metadata");
    catalog.set("Lang", words("en-US"));
    let mut showing = Dictionary::new();
    showing.set("DisplayDocTitle", true);
    catalog.set("ViewerPreferences", showing);
    Ok(())
}

/// Text as PDF keeps it when it may hold any letter: UTF-16 with its mark (ISO 32000-1, 7.9.2.2).
fn words(text: &str) -> Object {
    let bytes = [0xfe, 0xff].into_iter().chain(text.encode_utf16().flat_map(u16::to_be_bytes)).collect();
    Object::String(bytes, StringFormat::Hexadecimal)
}
