//! The never list, kept by an ordinary test: what each room must not know, word by word, with the file and line that does.
//!
//! Source: this project's own layout, as DEVELOPERS.md and `server/lib.rs` state it.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use std::{
    collections::BTreeSet,
    fs,
    path::{Path, PathBuf},
};

/// A line of a file.
struct Line {
    file: String,
    number: usize,
    text: String,
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// Every file under a folder, in order of name.
pub fn files_under(folder: &str) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut folders = vec![root().join(folder)];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(&folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() { folders.push(path) } else { found.push(path) }
        }
    }
    found.sort();
    found
}

/// A file's name from the top of the project.
pub fn named(path: &Path) -> String {
    path.strip_prefix(root()).unwrap().to_string_lossy().replace('\\', "/")
}

/// The lines of a room's program text, without comments and without its own tests.
fn code(room: &str) -> Vec<Line> {
    let mut lines = Vec::new();
    for path in files_under(room).into_iter().filter(|path| path.extension().is_some_and(|ending| ending == "rs")) {
        let text = fs::read_to_string(&path).unwrap();
        let own = text.split("#[cfg(test)]\nmod ").next().unwrap();
        for (place, line) in own.lines().enumerate() {
            let bare = line.trim_start();
            if !bare.starts_with("//") {
                lines.push(Line { file: named(&path), number: place + 1, text: line.to_owned() });
            }
        }
    }
    assert!(lines.len() > 20, "{room} was not found");
    lines
}

/// Whether a word stands on a line by itself, not inside a longer one.
fn has(line: &str, word: &str) -> bool {
    let part_of_word = |c: char| c.is_alphanumeric() || c == '_';
    let (starts, ends) = (word.starts_with(part_of_word), word.ends_with(part_of_word));
    line.match_indices(word).any(|(place, _)| {
        let before = line[..place].chars().next_back().is_some_and(part_of_word);
        let after = line[place + word.len()..].chars().next().is_some_and(part_of_word);
        !(starts && before || ends && after)
    })
}

/// Fails with every line of a room that holds one of these words.
#[track_caller]
fn never(room: &str, words: &[&str], because: &str) {
    let found: Vec<String> = code(room)
        .iter()
        .flat_map(|line| {
            let said = words.iter().filter(|word| has(&line.text, word));
            said.map(|word| format!("{}:{}: “{word}” in {}", line.file, line.number, line.text.trim())).collect::<Vec<_>>()
        })
        .collect();
    assert!(found.is_empty(), "{because}\n{}", found.join("\n"));
}

/// What reads the machine's clock.
const CLOCKS: [&str; 5] = ["Utc::now", "Local::now", "SystemTime", "Instant", "OffsetDateTime"];

#[test]
fn trade_knows_no_framework_no_clock_no_environment_and_no_other_room() {
    let words = [
        "axum",
        "sqlx",
        "askama",
        "tokio",
        "tower",
        "getrandom",
        "std::env",
        "env",
        "std::fs",
        "std::io",
        "std::net",
        "std::process",
        "std::time",
        "crate::store",
        "crate::pages",
        "crate::paper",
        "crate::web",
        "crate::settings",
    ];
    never("server/trade", &words, "The book of the trade is pure: it can only be wrong in ways a test can show.");
    never("server/trade", &CLOCKS, "The book of the trade is told what time it is.");
}

#[test]
fn the_store_knows_neither_pages_nor_paper_nor_web() {
    let words = ["crate::pages", "crate::paper", "crate::web", "crate::settings", "axum", "askama", "std::env"];
    never("server/store", &words, "The store keeps and finds; who asks and how it is shown is not its business.");
}

#[test]
fn paper_knows_neither_store_nor_pages_nor_web() {
    let words = ["crate::store", "crate::pages", "crate::web", "crate::settings", "axum", "sqlx", "askama", "tokio", "std::env", "std::fs"];
    never("server/paper", &words, "A paper is made from values, so that a test can print one without a ledger.");
}

#[test]
fn the_kit_knows_neither_store_nor_pages_nor_paper() {
    let words = ["crate::store", "crate::pages", "crate::paper", "crate::settings", "sqlx"];
    never("server/web", &words, "The kit would do for another farm's program.");
}

#[test]
fn pages_hold_no_sql() {
    let words = [
        "SELECT",
        "INSERT",
        "UPDATE",
        "DELETE",
        "PRAGMA",
        "VACUUM",
        "BEGIN",
        "sqlx::query",
        "query_scalar",
        "query_as",
        "AssertSqlSafe",
        ".execute(",
        ".fetch_one(",
        ".fetch_all(",
        ".fetch_optional(",
    ];
    never("server/pages", &words, "SQL stands in the store only.");
    never("server/web", &words, "SQL stands in the store only.");
    never("server/paper", &words, "SQL stands in the store only.");
}

#[test]
fn one_place_reads_the_clock() {
    let found: Vec<String> = code("server")
        .into_iter()
        .filter(|line| line.file != "server/web/clock.rs" && CLOCKS.iter().any(|word| has(&line.text, word)))
        .map(|line| format!("{}:{}: {}", line.file, line.number, line.text.trim()))
        .collect();
    assert!(found.is_empty(), "web/clock.rs is the only place that reads the clock.\n{}", found.join("\n"));
    for words in ["'now'", "CURRENT_TIMESTAMP", "CURRENT_DATE", "CURRENT_TIME", "unixepoch("] {
        never("server/store", &[words], "SQL is told what time it is, as everything else.");
        let forms = files_under("migrations").into_iter().map(|path| fs::read_to_string(path).unwrap()).collect::<String>();
        assert!(!forms.contains(words), "A migration reads the clock: {words}");
    }
}

/// Every path a file names that begins with `start`, with its line, braces taken apart: `super::{a::B, c}` is `a::B` and `c`.
fn paths(lines: &[&Line], start: &str) -> Vec<(usize, String)> {
    let mut found = Vec::new();
    let text: String = lines.iter().map(|line| format!("{}\n", line.text)).collect();
    for (place, _) in text.match_indices(start) {
        if text[..place].ends_with(|c: char| c.is_alphanumeric() || c == '_' || c == ':') {
            continue;
        }
        let number = lines[text[..place].matches('\n').count()].number;
        let mut rest = text[place + start.len()..].chars().peekable();
        tree(&mut rest, "", false, &mut |path| found.push((number, path)));
    }
    found
}

fn tree(rest: &mut std::iter::Peekable<std::str::Chars>, before: &str, inside: bool, found: &mut dyn FnMut(String)) {
    let mut path = before.to_owned();
    loop {
        match rest.peek() {
            Some('{') => {
                rest.next();
                loop {
                    tree(rest, &path, true, found);
                    match rest.next() {
                        Some(',') => {}
                        _ => return,
                    }
                }
            }
            Some(c) if c.is_alphanumeric() || *c == '_' || *c == ':' || *c == '*' => path.push(rest.next().unwrap()),
            Some(c) if c.is_whitespace() && path == before => {
                rest.next();
            }
            _ => break,
        }
    }
    // What follows a name inside a group, `as another` or blank space, is passed over up to its comma or brace.
    while inside && rest.peek().is_some_and(|c| !matches!(c, ',' | '}')) {
        rest.next();
    }
    if path != before {
        found(path);
    }
}

/// Which of a room's files each file names, by `super::` or by the room's full name. A file in a folder of its subject's name
/// is part of that subject, and names its neighbours in the room from one step further down.
fn leanings(room: &str) -> Vec<(String, usize, String)> {
    let lines = code(&format!("server/{room}"));
    let files: BTreeSet<String> = lines.iter().map(|line| line.file.clone()).collect();
    let names: BTreeSet<String> = files.iter().map(|file| name_of(room, file)).collect();
    let mut found = Vec::new();
    for file in &files {
        let own: Vec<&Line> = lines.iter().filter(|line| line.file == *file).collect();
        let up = if file.matches('/').count() > 2 { "super::super::" } else { "super::" };
        for start in [up, &format!("crate::{room}::")] {
            for (number, path) in paths(&own, start) {
                let first = path.split("::").next().unwrap_or("").to_owned();
                if names.contains(&first) && first != name_of(room, file) {
                    found.push((name_of(room, file), number, first));
                }
            }
        }
    }
    found.retain(|(file, _, _)| file != "mod");
    assert!(!found.is_empty(), "no leaning at all was found in {room}: the reading of paths is broken");
    found
}

/// The subject a file of a room is about: `server/pages/lots/one.rs` is about lots.
fn name_of(room: &str, file: &str) -> String {
    let inside = file.split_once(&format!("{room}/")).map_or(file, |(_, inside)| inside);
    inside.split('/').next().unwrap().trim_end_matches(".rs").to_owned()
}

#[test]
fn a_chapter_of_the_trade_uses_only_chapters_listed_before_it() {
    let list = fs::read_to_string(root().join("server/trade/mod.rs")).unwrap();
    let chapters: Vec<&str> = list.lines().filter_map(|line| line.strip_prefix("pub mod ")?.strip_suffix(';')).collect();
    assert!(chapters.len() > 15, "the list of chapters was not found");
    let place = |name: &str| chapters.iter().position(|own| *own == name).unwrap_or_else(|| panic!("{name} is not listed in trade/mod.rs"));
    let found: Vec<String> = leanings("trade")
        .into_iter()
        .filter(|(file, _, uses)| place(uses) >= place(file))
        .map(|(file, number, uses)| format!("server/trade/{file}.rs:{number}: uses {uses}, which is listed after it"))
        .collect();
    assert!(found.is_empty(), "{}", found.join("\n"));
}

/// The engine of the store: what any record goes through, whatever its subject. These may lean on one another.
const ENGINE: [&str; 10] = ["records", "corrections", "journal", "farm", "check", "backup", "restore", "place", "carried", "erasing"];
/// What a subject's file may lean on: the farm, because its rules and its clock are part of every question; and the reading of
/// a lab's result and of what a cow's clocks rest on, because lots, cows and the calendar all ask for both.
const FLOOR: [&str; 3] = ["farm", "results", "clocks"];

#[test]
fn no_store_file_calls_another_subjects() {
    let found: Vec<String> = leanings("store")
        .into_iter()
        .filter(|(file, _, uses)| !(FLOOR.contains(&uses.as_str()) || ENGINE.contains(&file.as_str()) && ENGINE.contains(&uses.as_str())))
        .map(|(file, number, uses)| format!("server/store/{file}.rs:{number}: uses store::{uses}; the page reads both instead"))
        .collect();
    assert!(found.is_empty(), "{}", found.join("\n"));
}

/// Pieces pages are built from: a field, a sheet in every form, a paper that is kept, what a call-back is made of or begins with,
/// records kept together, the papers of events, jars thrown out, slowing whoever guesses, the binder of a span, and
/// all that is known of a lot. They own no door.
const PIECES: [&str; 11] =
    ["field", "sheets", "papers", "gathered", "proposed", "keeping", "eventpapers", "discards", "tries", "bound", "lotpaper"];

#[test]
fn no_page_calls_another() {
    let found: Vec<String> = leanings("pages")
        .into_iter()
        // The printed reports own no door: they are the pages' own sheets, without a browser.
        .filter(|(file, _, uses)| file != "reports" && !PIECES.contains(&uses.as_str()))
        .map(|(file, number, uses)| format!("server/pages/{file}.rs:{number}: uses pages::{uses}"))
        .collect();
    assert!(found.is_empty(), "A page sends its visitor on to another; it never calls it.\n{}", found.join("\n"));
    for piece in PIECES {
        let text = fs::read_to_string(root().join(format!("server/pages/{piece}.rs"))).unwrap();
        assert!(!text.contains("Rooms"), "pages/{piece}.rs owns a door, so it is a page and no piece");
    }
}

#[test]
fn nothing_else_stands_at_the_top_level() {
    let allowed = [
        "Cargo.toml",
        "Cargo.lock",
        "README.md",
        "DEVELOPERS.md",
        "build.rs",
        "server",
        "migrations",
        "templates",
        "tests",
        "sample-data",
        "docs",
    ];
    let there: BTreeSet<String> = fs::read_dir(root())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| !name.starts_with('.') && name != "target")
        .collect();
    let expected: BTreeSet<String> = allowed.map(str::to_owned).into();
    let extra: Vec<&String> = there.difference(&expected).collect();
    let missing: Vec<&String> = expected.difference(&there).collect();
    assert!(extra.is_empty() && missing.is_empty(), "too much: {extra:?}; missing: {missing:?}");
    let rooms: BTreeSet<String> = fs::read_dir(root().join("server"))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| !name.starts_with('.'))
        .collect();
    let expected =
        ["main.rs", "lib.rs", "settings.rs", "post.rs", "copies.rs", "trade", "store", "pages", "paper", "web"].map(str::to_owned).into();
    assert_eq!(rooms, expected);
}

/// What is kept here must mean the same on any machine. The words are put together so that this file does not hold them.
#[test]
fn no_file_names_somebodys_machine_or_a_registry() {
    let words = [
        concat!("/ro", "ot/"),
        concat!("/ho", "me/"),
        concat!("/Us", "ers/"),
        concat!("/wo", "rk/"),
        concat!("/t", "mp/"),
        concat!("C:", "\\"),
        concat!("crates", ".io"),
        concat!("npmjs", "."),
        concat!("pypi", "."),
        concat!("proxy.golang", "."),
        concat!("docker", ".io"),
    ];
    let mut found = Vec::new();
    let folders = ["server", "migrations", "templates", "tests", "sample-data", "docs", ".ci"];
    let tops = ["Cargo.toml", "README.md", "DEVELOPERS.md", "build.rs", ".clippy.toml", ".gitignore", ".rustfmt.toml"];
    let files = folders.iter().filter(|folder| root().join(folder).exists()).flat_map(|folder| files_under(folder));
    for path in files.chain(tops.iter().map(|name| root().join(name)).filter(|path| path.exists())) {
        // A list of what is built with names where it comes from, and what the fuzzer makes is not kept here.
        if named(&path).ends_with("Cargo.lock")
            || ["target", "corpus", "artifacts"].iter().any(|made| named(&path).contains(&format!("tests/fuzz/{made}/")))
        {
            continue;
        }
        // A font is no text; everything else here is.
        let Ok(text) = fs::read_to_string(&path) else { continue };
        for (place, line) in text.lines().enumerate() {
            if words.iter().any(|word| line.contains(word)) {
                found.push(format!("{}:{}: {}", named(&path), place + 1, line.trim().chars().take(120).collect::<String>()));
            }
        }
    }
    assert!(found.is_empty(), "{}", found.join("\n"));
}

/// The tests above must be able to fail: each finds a planted fault.
#[test]
fn the_readings_find_what_is_planted() {
    assert!(has("use axum::Router;", "axum") && !has("taxum::Router", "axum") && has("x.execute(db)", ".execute("));
    let line = |number, text: &str| Line { file: "x.rs".to_owned(), number, text: text.to_owned() };
    let lines = [
        line(3, "use super::{"),
        line(4, "    Fault, codes::LotCode,"),
        line(5, "    measure::{Scale, Weight as Heft},"),
        line(6, "    near,"),
        line(7, "};"),
        line(9, "let x = super::milkings::Dipstick::parse(text);"),
    ];
    let found = paths(&lines.iter().collect::<Vec<_>>(), "super::");
    let said: Vec<&str> = found.iter().map(|(_, path)| path.as_str()).collect();
    assert_eq!(said, ["Fault", "codes::LotCode", "measure::Scale", "measure::Weight", "near", "milkings::Dipstick::parse"]);
    assert_eq!(found[5].0, 9);
}
