//! The farm folder: out and in again byte for byte, all or nothing, and every fault named at once with where it stands.
//!
//! Sources: the folder's own format in docs; RFC 4180 for CSV; the marks spreadsheets leave (byte-order mark, semicolons,
//! CRLF, decimal comma) are common practice.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::farm::Farm;
use tallypail::{
    paper::{
        folder::{self, Files, FolderFault},
        sample,
    },
    store::{check, journal, records},
    trade::codes::LotCode,
};

fn code(fill: usize) -> String {
    LotCode::of_fill("2026-05-14".parse().unwrap(), fill).unwrap().to_string()
}

/// A small farm's folder: two milkings' worth of everything that leans on something.
async fn small() -> (Farm, Files) {
    let farm = Farm::new().await;
    let (first, second) = (code(0), code(1));
    farm.keep(
        "people",
        &[("label", "M01"), ("name", "Orla Tremont"), ("sort", "member"), ("channel", "herdshare"), ("since", "2026-01-01")],
    )
    .await;
    for (session, started) in [("2026-05-13 PM", "2026-05-13T17:30"), ("2026-05-14 AM", "2026-05-14T05:40")] {
        farm.keep("milkings", &[("session", session), ("started", started), ("milker", "Tobe"), ("well", "yes")]).await;
        for (cow, read, milk) in [("Damson", "29.4 lb", "26.2 lb"), ("Kettle", "24.2 lb", "21 lb")] {
            let pail = [("milking", session), ("cow", cow), ("read", read), ("tare", "3.2 lb"), ("milk", milk), ("went", "can")];
            farm.keep("pails", &[pail.as_slice(), &[("vessel", "Can 1"), ("foremilk", "ok")]].concat()).await;
        }
    }
    for (code, filled) in [(&first, "2026-05-14T06:20"), (&second, "2026-05-14T06:50")] {
        let jars = [("gallons", "0"), ("half_gallons", "5"), ("quarts", "0"), ("pints", "0")];
        farm.keep("lots", &[[("code", code.as_str()), ("filled", filled)].as_slice(), &jars].concat()).await;
        farm.keep("sources", &[("lot", code), ("milking", "2026-05-14 AM")]).await;
        farm.keep("chill", &[("lot", code), ("at", "2026-05-14T07:35"), ("temperature", "39")]).await;
    }
    let jars = [("gallons", "0"), ("half_gallons", "2"), ("quarts", "0"), ("pints", "0"), ("evidence", "seen"), ("verdict", "Can go")];
    let to = [("at", "2026-05-14T10:00"), ("lot", first.as_str()), ("person", "M01"), ("because", "Cold in time."), ("facts", "39 °F")];
    farm.keep("pickups", &[to.as_slice(), &jars].concat()).await;
    let book = records::book(&mut farm.ledger.read().await.unwrap()).await.unwrap();
    let files = folder::write(&book);
    (farm, files)
}

/// The rows of a file, the heading first.
fn rows(files: &Files, file: &str) -> Vec<Vec<String>> {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(files[file].as_slice());
    reader.records().map(|row| row.unwrap().iter().map(str::to_owned).collect()).collect()
}

fn put_back(files: &mut Files, file: &str, rows: &[Vec<String>]) {
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::Any(b'\n')).from_writer(Vec::new());
    for row in rows {
        writer.write_record(row).unwrap();
    }
    files.insert(file.to_owned(), writer.into_inner().unwrap());
}

/// Writes another thing in one cell; the heading is line 1.
fn write_in(files: &mut Files, file: &str, line: usize, column: &str, says: &str) {
    let mut rows = rows(files, file);
    let place = rows[0].iter().position(|own| own == column).unwrap();
    says.clone_into(&mut rows[line - 1][place]);
    put_back(files, file, &rows);
}

fn take_out(files: &mut Files, file: &str, line: usize) {
    let mut rows = rows(files, file);
    rows.remove(line - 1);
    put_back(files, file, &rows);
}

/// Whether a fault stands exactly there and says this.
#[track_caller]
fn names(faults: &[FolderFault], file: &str, line: u64, column: &str, says: &str) {
    let there = |fault: &&FolderFault| fault.file == file && fault.line == line && fault.column == column && fault.says.contains(says);
    assert!(faults.iter().any(|fault| there(&fault)), "no fault at {file}, line {line}, {column} says “{says}”:\n{}", listed(faults));
}

fn listed(faults: &[FolderFault]) -> String {
    faults.iter().map(|fault| format!("{fault}\n")).collect()
}

async fn refused(files: &Files) -> Vec<FolderFault> {
    let into = Farm::empty().await;
    let faults = into.take_in(files).await.unwrap_err();
    let mut db = into.ledger.read().await.unwrap();
    assert_eq!(records::book(&mut db).await.unwrap().size(), 0, "something was half kept");
    assert!(journal::newest(&mut db, 1).await.unwrap().is_empty(), "the journal holds a line of a refused folder");
    faults
}

#[tokio::test]
async fn the_sample_farm_goes_in_and_comes_out_byte_for_byte() {
    let farm = Farm::sample().await;
    let book = records::book(&mut farm.ledger.read().await.unwrap()).await.unwrap();
    let (out, carried) = (folder::write(&book), sample::files());
    assert_eq!(out.keys().collect::<Vec<_>>(), carried.keys().collect::<Vec<_>>());
    for (name, bytes) in &carried {
        assert!(out[name] == *bytes, "{name} differs");
    }
}

/// What was kept on the screen, corrected and held goes out and in and out again the same.
#[tokio::test]
async fn a_farm_kept_on_the_screen_goes_out_and_in_and_out_the_same() {
    let (farm, files) = small().await;
    let mut into = Farm::empty().await;
    into.now = farm.now;
    into.take_in(&files).await.unwrap();
    let mut db = into.ledger.read().await.unwrap();
    let again = folder::write(&records::book(&mut db).await.unwrap());
    assert!(again == files);
    assert_eq!(check::wrongs(&mut db).await.unwrap(), Vec::<String>::new());
}

#[tokio::test]
async fn what_a_spreadsheet_does_to_a_file_is_taken() {
    let (_farm, clean) = small().await;
    let mut files = clean.clone();
    // A file with no words that hold a semicolon or comma: semicolons between, CRLF at the ends, a mark before.
    let semicolons = |text: &str| format!("\u{feff}{}", text.replace(',', ";").replace('\n', "\r\n"));
    for name in ["pails.csv", "chill.csv", "lots.csv"] {
        let text = String::from_utf8(clean[name].clone()).unwrap();
        assert!(!text.contains(['"', ';']), "{name} needs another way of changing it");
        files.insert(name.to_owned(), semicolons(&text).into_bytes());
    }
    let pails = String::from_utf8(files["pails.csv"].clone()).unwrap().replace("29.4 lb", "29,4 lb").replace("26.2 lb", "26,2 lb");
    files.insert("pails.csv".to_owned(), pails.into_bytes());
    let into = Farm::empty().await;
    into.take_in(&files).await.unwrap_or_else(|faults| panic!("{}", listed(&faults)));
    assert_eq!(into.list("chill").await, Farm::list(&farm_of(&clean).await, "chill").await);
    assert_eq!(into.list("pails").await.len(), 4);
    let milk = crate::farm::kind_of("pails");
    let exact = |record: &tallypail::trade::records::Record| record.cell(milk, "milk").whole();
    assert_eq!(
        into.list("pails").await.iter().map(exact).collect::<Vec<_>>(),
        farm_of(&clean).await.list("pails").await.iter().map(exact).collect::<Vec<_>>()
    );
}

async fn farm_of(files: &Files) -> Farm {
    let farm = Farm::empty().await;
    farm.take_in(files).await.unwrap();
    farm
}

/// Thirteen different faults in one folder, each named with its place, all at once.
#[tokio::test]
async fn every_fault_is_listed_at_once_with_its_file_line_and_column() {
    let (_farm, mut files) = small().await;
    let (first, second) = (code(0), code(1));
    let slipped = first.replacen("6134", "6184", 1);
    write_in(&mut files, "pails.csv", 2, "cow", "Damzon");
    write_in(&mut files, "chill.csv", 2, "lot", &slipped);
    write_in(&mut files, "chill.csv", 3, "temperature", "<40");
    write_in(&mut files, "milkings.csv", 3, "note", &"x".repeat(10_000));
    write_in(&mut files, "lots.csv", 3, "half_gallons", "🥛🥛");
    write_in(&mut files, "lots.csv", 2, "filled", "2027-05-14T06:20");
    write_in(&mut files, "cows.csv", 3, "number", "1");
    let entry = rows(&files, "vessels.csv")[1].iter().find(|cell| cell.len() == 36).unwrap().clone();
    write_in(&mut files, "vessels.csv", 3, "entry", &entry);
    write_in(&mut files, "cows.csv", 4, "name", "Damson");
    write_in(&mut files, "people.csv", 2, "sort", "neighbour");
    write_in(&mut files, "pickups.csv", 2, "half_gallons", "");
    write_in(&mut files, "rules.csv", 2, "steps", "cool it quickly");
    let heading = String::from_utf8(files["events.csv"].clone()).unwrap().replace(",sort,", ",kind of thing,");
    files.insert("events.csv".to_owned(), heading.into_bytes());
    files.insert("milkingz.csv".to_owned(), b"number\n".to_vec());

    let faults = refused(&files).await;
    names(&faults, "pails.csv", 2, "cow", "There is no cow “Damzon”. Did you mean Damson?");
    names(&faults, "chill.csv", 2, "lot", &slipped);
    names(&faults, "chill.csv", 3, "temperature", "<40");
    names(&faults, "milkings.csv", 3, "note", "10000 characters long; 200 is the most");
    names(&faults, "lots.csv", 3, "half_gallons", "is not a whole number");
    names(&faults, "lots.csv", 2, "filled", "has not come yet");
    names(&faults, "cows.csv", 3, "number", "The number 1 stands twice");
    names(&faults, "vessels.csv", 3, "entry", "This entry stands twice");
    names(&faults, "cows.csv", 4, "name", "This stands on line 2 already");
    names(&faults, "people.csv", 2, "sort", "“neighbour” is not one of: member, walk-in");
    names(&faults, "pickups.csv", 2, "half_gallons", "This cell is empty, and every line needs it");
    names(&faults, "rules.csv", 2, "steps", "");
    names(&faults, "events.csv", 1, "sort", "This column is missing");
    names(&faults, "events.csv", 1, "kind of thing", "There is no column");
    names(&faults, "milkingz.csv", 0, "", "Did you mean milkings.csv?");
    for fault in &faults {
        assert!(fault.to_string().len() < 400, "a fault is short enough to read: {fault}");
    }
    // A line that cannot be kept is not also unknown to the lines that name it: one mistake, one fault.
    assert_eq!(faults.len(), 15, "{}{second}", listed(&faults));
}

/// The laws between records, each broken alone, for what breaks one can be read without fault.
#[tokio::test]
async fn a_broken_law_is_named_at_its_line() {
    let (_farm, clean) = small().await;
    let broken = |change: &dyn Fn(&mut Files)| {
        let mut files = clean.clone();
        change(&mut files);
        files
    };
    let faults = refused(&broken(&|files| write_in(files, "pails.csv", 2, "milk", "27 lb"))).await;
    names(&faults, "pails.csv", 2, "milk", "“29.4 lb” less the bucket is 26.2 lb, but 27 lb is written");
    let faults = refused(&broken(&|files| take_out(files, "sources.csv", 3))).await;
    names(&faults, "lots.csv", 3, "code", "nothing says what milk is in it");
    let faults = refused(&broken(&|files| write_in(files, "pickups.csv", 2, "half_gallons", "6"))).await;
    names(&faults, "pickups.csv", 2, "half_gallons", "More jars left this lot than were filled");
    let faults = refused(&broken(&|files| write_in(files, "pickups.csv", 2, "at", "2026-05-14T06:00"))).await;
    names(&faults, "pickups.csv", 2, "at", "before their lot was filled");
    let faults = refused(&broken(&|files| write_in(files, "milkings.csv", 2, "ended", "2026-05-13T16:00"))).await;
    names(&faults, "milkings.csv", 2, "ended", "ended before it started");
    let faults = refused(&broken(&|files| write_in(files, "sources.csv", 2, "parent", &code(1)))).await;
    names(&faults, "sources.csv", 2, "milking", "one milking or one parent lot");
    let other_day = LotCode::of_fill("2026-05-12".parse().unwrap(), 0).unwrap().to_string();
    let faults = refused(&broken(&|files| {
        for (file, column) in [("lots.csv", "code"), ("sources.csv", "lot"), ("chill.csv", "lot"), ("pickups.csv", "lot")] {
            write_in(files, file, 2, column, &other_day);
        }
    }))
    .await;
    names(&faults, "lots.csv", 2, "code", "does not carry the day it was filled");
}

/// Broken laws stand in the same list as what cannot be read, when the files they are about can.
#[tokio::test]
async fn broken_laws_are_listed_beside_what_cannot_be_read() {
    let (_farm, mut files) = small().await;
    write_in(&mut files, "people.csv", 2, "sort", "neighbour");
    write_in(&mut files, "pails.csv", 2, "milk", "27 lb");
    take_out(&mut files, "sources.csv", 3);
    let faults = refused(&files).await;
    names(&faults, "people.csv", 2, "sort", "neighbour");
    names(&faults, "pails.csv", 2, "milk", "27 lb is written");
    names(&faults, "lots.csv", 3, "code", "nothing says what milk is in it");
    assert_eq!(faults.len(), 3, "{}", listed(&faults));
}

/// Source: ISO/IEC 7064 MOD 37,36 catches every single wrong character and every swap of two neighbours.
#[tokio::test]
async fn a_slipped_lot_code_is_refused_with_the_near_one_offered() {
    let (_farm, clean) = small().await;
    let first = code(0);
    for slipped in [first.replacen("6134", "6184", 1), first.replacen("61", "16", 1)] {
        let mut files = clean.clone();
        write_in(&mut files, "chill.csv", 2, "lot", &slipped);
        let faults = refused(&files).await;
        assert_eq!((faults[0].file.as_str(), faults[0].line, faults[0].column.as_str()), ("chill.csv", 2, "lot"), "{}", listed(&faults));
        let says = &faults[0].says;
        assert!(says.contains(&slipped) && says.ends_with(&format!("Did you mean {first}?")), "the near code is offered: {says}");
    }
}

#[tokio::test]
async fn files_that_are_no_tables_are_refused_with_a_sentence() {
    let (_farm, clean) = small().await;
    let with = |file: &str, bytes: &[u8]| {
        let mut files = clean.clone();
        files.insert(file.to_owned(), bytes.to_vec());
        files
    };
    names(&refused(&with("cows.csv", b"")).await, "cows.csv", 1, "", "This file is empty");
    names(&refused(&with("cows.csv", b"number,name\n1,Dam\xffson\n")).await, "cows.csv", 2, "", "not UTF-8");
    let short = [clean["cows.csv"].clone(), b"9,Sorrel\n".to_vec()].concat();
    names(&refused(&with("cows.csv", &short)).await, "cows.csv", 5, "", "This line has 2 cells and the heading has");
    let mut without = clean.clone();
    without.remove("farm.csv");
    names(&refused(&without).await, "farm.csv", 0, "", "This file is missing");
    let no_date = with("cows.csv", &clean["cows.csv"].iter().copied().chain(*b"\n\n").collect::<Vec<u8>>());
    Farm::empty().await.take_in(&no_date).await.unwrap();
}

/// The commands themselves, run as a person runs them.
#[tokio::test]
async fn the_command_refuses_a_ledger_that_holds_a_farm_already() {
    let (farm, files) = small().await;
    let folder = farm.folder.path().join("folder");
    std::fs::create_dir(&folder).unwrap();
    for (name, bytes) in &files {
        std::fs::write(folder.join(name), bytes).unwrap();
    }
    let before = records::book(&mut farm.ledger.read().await.unwrap()).await.unwrap();
    let run = |ledger: &std::path::Path, task: [&std::ffi::OsStr; 2]| {
        let output = std::process::Command::new(env!("CARGO_BIN_EXE_tallypail"))
            .arg("--ledger")
            .arg(ledger)
            .args(task)
            .env_remove("TALLYPAIL_LEDGER")
            .output()
            .unwrap();
        (output.status.success(), String::from_utf8(output.stderr).unwrap())
    };
    let (done, said) = run(farm.file(), ["import".as_ref(), folder.as_os_str()]);
    assert!(!done && said.contains("holds a farm's records already") && said.contains("--ledger"), "{said}");
    assert!(records::book(&mut farm.ledger.read().await.unwrap()).await.unwrap() == before);

    let other = farm.folder.path().join("other.ledger");
    let (done, said) = run(&other, ["import".as_ref(), folder.as_os_str()]);
    assert!(done, "{said}");
    let out = farm.folder.path().join("out");
    assert!(run(&other, ["export".as_ref(), out.as_os_str()]).0);
    for (name, bytes) in &files {
        assert!(std::fs::read(out.join(name)).unwrap() == *bytes, "{name}");
    }
    std::fs::write(folder.join("cows.csv"), "number;name\n1;Damson\n").unwrap();
    let third = farm.folder.path().join("third.ledger");
    let (done, said) = run(&third, ["import".as_ref(), folder.as_os_str()]);
    assert!(!done && said.contains("Nothing was taken in.") && said.contains("cows.csv, line 1, tag: This column is missing"), "{said}");
}

/// The page that tells a stranger the format names every kind and every column, and nothing else.
#[test]
fn the_format_page_names_every_column() {
    let page = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/docs/folder.md")).unwrap();
    for kind in tallypail::trade::kinds::KINDS {
        let part = page
            .split(&format!("## {}.csv\n", kind.name))
            .nth(1)
            .unwrap_or_else(|| panic!("docs/folder.md does not tell of {}.csv", kind.name));
        let part = part.split("\n## ").next().unwrap();
        let told: Vec<&str> = part.lines().filter_map(|line| line.strip_prefix("| `")).filter_map(|line| line.split('`').next()).collect();
        let own: Vec<&str> = kind.columns.iter().map(|column| column.name).collect();
        assert_eq!(told, own, "{}.csv", kind.name);
    }
}
