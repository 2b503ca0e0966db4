//! Whether the folder kept beside the program is the one made here, and whether it holds to every law of the book.

use super::{demo_clock, files, home};
use std::fs;
use tallypail::paper::folder;

#[test]
fn the_sample_farm_is_what_the_generator_makes() {
    let made = files();
    if std::env::var_os("TALLYPAIL_WRITE_SAMPLE").is_some() {
        fs::create_dir_all(home()).unwrap();
        for (name, bytes) in &made {
            fs::write(home().join(name), bytes).unwrap();
        }
        return;
    }
    let kept: Vec<String> = fs::read_dir(home()).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    for name in &kept {
        assert!(made.contains_key(name), "sample-data/{name} is not made here");
    }
    for (name, bytes) in &made {
        let kept = fs::read(home().join(name)).unwrap_or_default();
        assert!(kept == *bytes, "sample-data/{name} is not what is made here. TALLYPAIL_WRITE_SAMPLE=1 writes it afresh.");
    }
}

#[test]
fn it_keeps_the_laws() {
    let made = files();
    let book = folder::read(&made, demo_clock(), "Mina")
        .map_err(|faults| faults.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))
        .unwrap();
    assert_eq!(folder::write(&book), made, "read and written again, it is the same, byte for byte");
    let floors = [
        ("farm", 1),
        ("rules", 1),
        ("assumptions", 12),
        ("people", 42),
        ("cows", 4),
        ("events", 12),
        ("treatments", 4),
        ("vessels", 3),
        ("milkings", 880),
        ("pails", 2600),
        ("breaks", 1700),
        ("lots", 850),
        ("sources", 850),
        ("chill", 1650),
        ("counts", 3000),
        ("pickups", 2200),
        ("asides", 800),
        ("holds", 5),
        ("lifts", 5),
        ("strip_tests", 50),
        ("ice_checks", 15),
        ("samples", 80),
        ("results", 160),
        ("renewals", 20),
        ("notices", 2),
        ("decisions", 1),
        ("complaints", 1),
        ("answers", 8),
        ("callbacks", 1),
        ("called", 5),
        ("contacts", 15),
        ("tellings", 20),
        ("messages", 2),
        ("courses", 7),
        ("conditions", 3),
        ("conditions_met", 3),
        ("tickets", 100),
        ("gear", 10),
        ("minutes", 190),
        ("stores", 6),
        ("feedings", 25),
        ("store_counts", 6),
        ("usual_weeks", 10),
        ("worths", 2),
        ("appliances", 5),
        ("meter_readings", 13),
        ("bank_totals", 3),
        ("choices", 2),
        ("what_ifs", 2),
        ("transfers", 1800),
        ("tin_counts", 14),
    ];
    for (kind, floor) in floors {
        assert!(book.of(kind).len() >= floor, "{kind}: only {}", book.of(kind).len());
    }
    assert_eq!(book.struck.len(), 1);
    let size: usize = made.values().map(Vec::len).sum();
    assert!(size < 4_500_000, "{size} bytes are too many to carry about");
}
