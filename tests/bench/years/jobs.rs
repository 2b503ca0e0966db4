//! What is asked of a ledger: the long jobs that make it, what a person does daily, what is asked on a bad day, and what is written.

use crate::{
    farm as made_up,
    timed::{Table, Times},
};
use axum::{Router, body::Body, http::Request};
use http_body_util::BodyExt;
use sqlx::SqliteConnection;
use std::{collections::BTreeSet, fs, path::Path, time::Instant};
use tallypail::{
    pages::{self, App, gathered},
    paper::{folder, pdf},
    store::{Ledger, backup, callbacks, check, farm, hands, lots, records, trace},
    trade::{
        balance::{Balance, LotJars},
        callback,
        kinds::kind,
        measure::Scale,
        packet::Packet,
        records::{Ways, read},
        trace::{Graph, LotId, Tie, Ties},
        when::{Moment, Zone},
    },
    web::{clock::Clock, secret},
};
use tower::ServiceExt;

/// What a person looks at every day.
const DAILY: [(&str, &str); 16] = [
    ("Today", "/"),
    ("a milking's form", "/milkings/new"),
    ("a filling's form", "/fills/new"),
    ("a chill reading's form", "/chill/new"),
    ("a count's form", "/counts/new"),
    ("the jars in the fridge", "/jars"),
    ("handing out", "/pickup"),
    ("packing", "/pickup/pack"),
    ("the herd", "/herd"),
    ("what is due", "/calendar"),
    ("stopping the milk", "/stop"),
    ("a lot's page", "/lots/LOT"),
    ("a household's page", "/people/WHO"),
    ("all households", "/people"),
    ("the laboratory", "/lab"),
    ("the binder's index", "/binder"),
];
/// What is looked at in the evening, or once a month.
const SELDOM: [(&str, &str); 5] = [
    ("the cost of twelve months, at hand", "/costs"),
    ("the books", "/books"),
    ("statements of a month, PDF", "/books/statements.pdf?from=2026-10-01&to=2026-10-31"),
    ("the binder of a month", "/binder/inspector?from=2026-10-22&to=2026-11-21"),
    ("a lot's call-back page", "/trace/LOT"),
];

/// Makes the farm where it is not there yet: its folder, and its ledger from that folder.
pub async fn make(table: &mut Table, years: i64, file: &Path, place: &Path, now: Moment) {
    if file.exists() {
        return;
    }
    let files = made_up::folder(years * 365);
    fs::create_dir_all(place).expect("a folder");
    for (name, bytes) in &files {
        let path = place.join(name);
        fs::create_dir_all(path.parent().expect("a folder")).expect("a folder");
        fs::write(path, bytes).expect("a file");
    }
    let size = files.values().map(Vec::len).sum::<usize>() / 1_000_000;
    let started = Instant::now();
    let book = folder::read(&files, now, "import").expect("a farm that can be read");
    drop(files);
    let ledger = Ledger::open(file).await.expect("a ledger");
    let read = started.elapsed();
    let mut tx = ledger.begin().await.expect("the write lock");
    let act = records::act(&mut tx, now, "import", "farm folder").await.expect("an act");
    records::import(&mut tx, &book, &act).await.expect("an import");
    tx.commit().await.expect("a commit");
    let whole = started.elapsed();
    ledger.sweep().await.expect("a swept ledger");
    ledger.close().await;
    let kept = fs::metadata(file).expect("a ledger").len() / 1_000_000;
    table.say(
        years,
        format!("{} records, a folder of {size} MB, a ledger of {kept} MB; read and checked in {read:.1?} of the import", book.size()),
    );
    table.add(years, "import of everything", Times::once(whole));
}

/// Asks everything that is only read.
pub async fn ask(table: &mut Table, years: i64, file: &Path, now: Moment) {
    let opened = Times::of(9, || async { Ledger::open(file).await.expect("a ledger").close().await }).await;
    table.add(years, "open and close the ledger", opened);
    let ledger = Ledger::open(file).await.expect("a ledger");
    let (router, token) = signed_in(&ledger, now).await;
    let (lot, who) = of_these_days(&ledger).await;
    let named = |address: &str| address.replace("LOT", &lot).replace("WHO", &who);
    for (asked, address) in DAILY {
        let address = named(address);
        let times = Times::of(201, || page(&router, &token, &address)).await;
        table.add(years, asked, times);
    }
    for (asked, address) in SELDOM {
        let address = named(address);
        let times = Times::of(15, || page(&router, &token, &address)).await;
        table.add(years, asked, times);
    }
    let mut times = Vec::new();
    for _ in 0..8 {
        one_entry(&ledger, now).await;
        let started = Instant::now();
        page(&router, &token, "/costs").await;
        times.push(started.elapsed());
    }
    table.add(years, "the cost of twelve months, after an entry", Times::from(times));
    spreads(table, years, &ledger, now).await;
    packet(table, years, &ledger, now).await;
    let started = Instant::now();
    let files = folder::write(&records::book(&mut ledger.read().await.expect("a connection")).await.expect("a book"));
    table.say(years, format!("exported {} files of {} MB", files.len(), files.values().map(Vec::len).sum::<usize>() / 1_000_000));
    table.add(years, "export of everything", Times::once(started.elapsed()));
    drop(files);
    let started = Instant::now();
    let wrongs = check::wrongs(&mut ledger.read().await.expect("a connection")).await.expect("a check");
    assert!(wrongs.is_empty(), "{wrongs:?}");
    table.add(years, "check of the whole ledger", Times::once(started.elapsed()));
    let copy = file.with_extension("copy");
    let _ = fs::remove_file(&copy);
    let started = Instant::now();
    backup::write(&ledger, &copy, now).await.expect("a copy");
    table.add(years, "a copy, opened and checked", Times::once(started.elapsed()));
    fs::remove_file(&copy).expect("the copy, to be swept away");
    ledger.close().await;
}

async fn signed_in(ledger: &Ledger, now: Moment) -> (Router, String) {
    let token = secret::token();
    let mut tx = ledger.begin().await.expect("the write lock");
    let hand = hands::Hand { name: "Mina".to_owned(), role: "owner".to_owned(), secret: String::new() };
    hands::record(&mut tx, &hand, now).await.expect("a hand");
    hands::open_session(&mut tx, "Mina", &secret::remembered(&token), "seal", now, now.plus_hours(12)).await.expect("a session");
    tx.commit().await.expect("a commit");
    (pages::open(App::new(ledger.clone(), Clock::Stopped(now))).0, token)
}

/// A lot filled three days ago, and the household that came last.
async fn of_these_days(ledger: &Ledger) -> (String, String) {
    let mut db = ledger.read().await.expect("a connection");
    let lot = "SELECT code FROM lots ORDER BY filled DESC LIMIT 1 OFFSET 60";
    let who = "SELECT label FROM people WHERE until IS NULL ORDER BY number DESC LIMIT 1";
    (
        sqlx::query_scalar(lot).fetch_one(&mut *db).await.expect("a lot"),
        sqlx::query_scalar(who).fetch_one(&mut *db).await.expect("a household"),
    )
}

async fn page(router: &Router, token: &str, address: &str) {
    let request = Request::get(address).header("cookie", format!("{}={token}", pages::SESSION)).body(Body::empty()).expect("a request");
    let answer = router.clone().oneshot(request).await.expect("an answer");
    let status = answer.status();
    answer.into_body().collect().await.expect("a body");
    assert_eq!(status, 200, "{address}");
}

/// Keeps one ice check, as a form does: its row and its journal line in a transaction of their own, on the disk when it is done.
async fn one_entry(ledger: &Ledger, now: Moment) {
    let ice = kind("ice_checks").expect("a kind");
    let said = |column: &str| match column {
        "thermometer" => "Dial".to_owned(),
        "at" => Zone::UTC.for_file(now),
        "reading" => "32.0 °F".to_owned(),
        _ => String::new(),
    };
    let cells = read(ice, said, Ways { zone: Zone::UTC, scale: Scale::Fahrenheit }).expect("an ice check");
    let mut tx = ledger.begin().await.expect("the write lock");
    let act = records::act(&mut tx, now, "Mina", "screen").await.expect("an act");
    records::keep(&mut tx, ice, &secret::entry(), cells, &act).await.expect("an entry");
    tx.commit().await.expect("a commit");
}

/// So many entries one after another, each on the disk before the next begins.
pub async fn write(table: &mut Table, years: i64, file: &Path, now: Moment) {
    const ENTRIES: u32 = 2_000;
    // They are written into a copy, so that the ledger stays what it was made.
    let copy = file.with_extension("written");
    fs::copy(file, &copy).expect("a copy to write in");
    let ledger = Ledger::open(&copy).await.expect("a ledger");
    let started = Instant::now();
    for _ in 0..ENTRIES {
        one_entry(&ledger, now).await;
    }
    let taken = started.elapsed();
    ledger.close().await;
    fs::remove_file(&copy).expect("the copy, to be swept away");
    table.add(years, "one durable entry", Times::once(taken / ENTRIES));
}

/// The spread from one lot, certain and possible, with who has it and where every jar is: of a lot that spreads as far as most of
/// the last year, and of the one that spreads furthest; and both as if no can had been washed for sixty days.
async fn spreads(table: &mut Table, years: i64, ledger: &Ledger, now: Moment) {
    let mut tx = ledger.begin().await.expect("the write lock");
    both(table, years, &mut tx, now, "").await;
    let middle = now.plus_hours(-24 * 182);
    let unwashed = sqlx::query("DELETE FROM breaks WHERE at BETWEEN ? AND ?");
    unwashed.bind(middle.in_seconds()).bind(middle.plus_hours(60 * 24).in_seconds()).execute(&mut *tx).await.expect("a ledger");
    both(table, years, &mut tx, now, ", no can washed for sixty days").await;
    tx.rollback().await.expect("the ledger as it was");
}

async fn both(table: &mut Table, years: i64, db: &mut SqliteConnection, now: Moment, how: &str) {
    let everything = trace::lists(&mut *db).await.expect("a ledger");
    let graph = Graph::of(&everything);
    let since = now.plus_hours(-24 * 365);
    let mut reaches: Vec<(usize, LotId, String)> = everything
        .lots
        .iter()
        .filter(|lot| lot.filled >= since)
        .map(|lot| (graph.spread(&BTreeSet::from([lot.id])).lots.len(), lot.id, lot.code.clone()))
        .collect();
    reaches.sort_unstable();
    for (what, (_, lot, code)) in [("a usual lot", &reaches[reaches.len() / 2]), ("the widest lot", &reaches[reaches.len() - 1])] {
        let (mut times, mut reached) = (Vec::new(), (0, 0, 0));
        for _ in 0..25 {
            let started = Instant::now();
            let lists = trace::reached(&mut *db, &BTreeSet::from([*lot])).await.expect("a ledger");
            let spread = callback::spread(&Graph::of(&lists), &Ties::from([(*lot, Tie::Certain(String::new()))]));
            let numbers: Vec<i64> = spread.lots.keys().map(|lot| lot.0).collect();
            let handed = trace::handed_out(&mut *db, &numbers).await.expect("a ledger");
            let (moved, counts) =
                (lots::moved(&mut *db, &numbers).await.expect("a ledger"), lots::counts(&mut *db, &numbers).await.expect("a ledger"));
            let on_hand = |lot: &i64| counts.get(lot).and_then(|counts| counts.last()).map(|count| count.jars);
            let squares = moved.iter().filter(|(lot, moves)| LotJars::gathered(moves, on_hand(lot)).balance() == Balance::Squares).count();
            times.push(started.elapsed());
            reached = (spread.lots.len(), handed.len(), squares);
        }
        let (found, handed, squares) = reached;
        table.say(years, format!("the spread of {what}{how}, {code}: {found} lots, {handed} hand-outs, {squares} lots squaring"));
        table.add(years, &format!("spread of {what}{how}"), Times::from(times));
    }
}

/// The packet of a call-back of three days' lots: read, reckoned and drawn as a PDF.
async fn packet(table: &mut Table, years: i64, ledger: &Ledger, now: Moment) {
    let mut tx = ledger.begin().await.expect("the write lock");
    let since = now.plus_hours(-3 * 24).in_seconds();
    sqlx::query("INSERT INTO callbacks VALUES (99, 'packet', ?, 'call-back', 'illness', NULL, NULL, NULL, 0, 'Mina', 'screen', 1)")
        .bind(now.in_seconds())
        .execute(&mut *tx)
        .await
        .expect("a call-back");
    let called = "INSERT INTO called SELECT 9000000 + number, 'packet-' || number, 99, ?, number, 'certain', 'was named', 'called back', NULL, 0, 'Mina', 'screen', 1 FROM lots WHERE filled > ?";
    sqlx::query(called).bind(now.in_seconds()).bind(since).execute(&mut *tx).await.expect("its lots");
    let farm = farm::current(&mut tx).await.expect("a ledger").expect("a farm");
    let (mut times, mut said) = (Vec::new(), String::new());
    for _ in 0..9 {
        let started = Instant::now();
        let case = callbacks::one(&mut tx, 99).await.expect("a ledger").expect("a call-back");
        let found = gathered::of_lots(&mut tx, &case.ties(), case.codes(), &farm, now, "Mina").await.expect("a ledger");
        let sheet = Packet { case: &case, found: &found, told: None, holds: Vec::new(), insurer: String::new() }.sheet();
        let bytes = pdf::print(&sheet, "today").expect("a paper");
        times.push(started.elapsed());
        said = format!("{} lots, {}, {} kB", found.lots.len(), case.progress().says(), bytes.len() / 1000);
    }
    table.say(years, format!("the packet of three days: {said}"));
    table.add(years, "packet of a call-back, PDF", Times::from(times));
    tx.rollback().await.expect("the ledger as it was");
}
