//! How long a ledger of twenty years takes: Today, which judges every lot that still stands; a trace, which reads only what trouble
//! can reach; and the costs, which rest on every ticket since the first: `cargo bench --bench twenty`. It reports and judges nothing.
//!
//! The ledger is the sample farm copied back in time, again and again, each copy one stay of the farm before the last.

#![expect(clippy::expect_used, reason = "a benchmark that cannot start should stop and say so")]

use axum::{body::Body, http::Request};
use http_body_util::BodyExt;
use sqlx::{AssertSqlSafe, SqliteConnection};
use std::{
    collections::BTreeSet,
    time::{Duration, Instant},
};
use tallypail::{
    pages::{self, App, gathered},
    paper::{folder, pdf, sample},
    store::{Ledger, callbacks, farm, hands, lots, records, trace, verdict},
    trade::{
        balance::{Balance, LotJars},
        callback,
        kinds::{KINDS, Kind},
        packet::Packet,
        records::Shape,
        trace::{Graph, LotId, Tie, Ties},
        verdict::judge,
        when::{Moment, Zone},
    },
    web::{clock::Clock, secret},
};
use tower::ServiceExt;

const AFTERNOON: &str = "2026-11-21T15:05:00-05:00";
const ROUNDS: usize = 11;
/// A lot of the sample farm that a vessel without a clean break ties to another.
const TRACED: &str = "6195A-9";
/// The sample farm is 447 days long; this many weeks keep the days of the week.
const STAY_DAYS: i64 = 448;
/// So many copies make twenty years.
const COPIES: i64 = 16;
/// More than any kind has records.
const APART: i64 = 100_000;
/// What the farm has once, however long it stands.
const ONCE: [&str; 14] = [
    "farm",
    "rules",
    "assumptions",
    "people",
    "cows",
    "vessels",
    "gear",
    "documents",
    "stores",
    "appliances",
    "worths",
    "usual_weeks",
    "choices",
    "what_ifs",
];

#[tokio::main]
async fn main() {
    let folder = tempfile::tempdir().expect("a folder to work in");
    let ledger = Ledger::open(&folder.path().join("twenty.ledger")).await.expect("a ledger");
    let now = Zone::UTC.parse_moment(AFTERNOON).expect("an afternoon");
    let book = folder::read(&sample::files(), now, "import").expect("the sample farm");
    let mut tx = ledger.begin().await.expect("the write lock");
    let act = records::act(&mut tx, now, "import", "farm folder").await.expect("an act");
    records::import(&mut tx, &book, &act).await.expect("an import");
    let started = Instant::now();
    let rows = copied_back(&mut tx).await;
    let token = secret::token();
    let hand = hands::Hand { name: "Mina".to_owned(), role: "owner".to_owned(), secret: String::new() };
    hands::record(&mut tx, &hand, now).await.expect("a hand");
    hands::open_session(&mut tx, "Mina", &secret::remembered(&token), "seal", now, now.plus_hours(12)).await.expect("a session");
    tx.commit().await.expect("a commit");
    // Nobody writes twenty years at one sitting: their ledger lies in its file and not in the log beside it.
    ledger.sweep().await.expect("a swept ledger");
    println!("twenty years: {} records and {rows} copied back, in {:?}", book.size(), started.elapsed());
    live_lots(&ledger, now).await;
    traces(&ledger, now).await;
    packet(&ledger, now).await;
    let app = App::new(ledger.clone(), Clock::Stopped(now));
    let (router, _) = pages::open(app);
    let ahead = (now, STAY_DAYS * COPIES);
    let all = format!("/costs?from={}", first_day(ahead));
    for (what, address) in [
        ("Today", "/".to_owned()),
        ("the trace of a lot", format!("/trace/{TRACED}")),
        ("the cost report of twelve months", "/costs".to_owned()),
        ("the same as JSON", "/costs.json".to_owned()),
        ("the cost report of all twenty years", all),
        ("a what-if", "/costs/what-if?changes=price%20of%20Hay%20%2B20%20%25".to_owned()),
    ] {
        for written in [true, false] {
            let mut times = Vec::new();
            for _ in 0..ROUNDS {
                if written {
                    write_a_line(&ledger).await;
                }
                let request = Request::get(address.as_str())
                    .header("cookie", format!("{}={token}", pages::SESSION))
                    .body(Body::empty())
                    .expect("a request");
                let started = Instant::now();
                let answer = router.clone().oneshot(request).await.expect("an answer");
                let status = answer.status();
                answer.into_body().collect().await.expect("a body");
                times.push((started.elapsed(), status));
            }
            times.sort();
            let when = if written { "after each write" } else { "with nothing written" };
            println!("{what}, {when}, {}: median {:?}, slowest {:?} of {ROUNDS}", times[0].1, times[ROUNDS / 2].0, times[ROUNDS - 1].0);
        }
    }
}

/// Writes one more line into the journal, so that nothing that was read before it is still at hand.
async fn write_a_line(ledger: &Ledger) {
    let mut tx = ledger.begin().await.expect("the write lock");
    let again = "INSERT INTO journal SELECT seq + 1, act, at, who, did, kind, number, before, after, why, seal FROM journal ORDER BY seq DESC LIMIT 1";
    sqlx::query(again).execute(&mut *tx).await.expect("a line");
    tx.commit().await.expect("a commit");
}

/// The first day of a ledger that reaches so many days back from the sample farm's first.
fn first_day((now, days): (Moment, i64)) -> String {
    let since = Zone::UTC.day(now) - chrono::Days::new(u64::try_from(days + STAY_DAYS).expect("a number of days"));
    since.to_string()
}

/// Every lot that still stands, judged by itself.
async fn live_lots(ledger: &Ledger, now: Moment) {
    let mut db = ledger.read().await.expect("a connection");
    let zone = farm::current(&mut db).await.expect("a ledger").expect("a farm").ways.zone;
    let (mut times, mut standing): (Vec<Duration>, usize) = (Vec::new(), 0);
    for _ in 0..ROUNDS {
        let started = Instant::now();
        let numbers: Vec<i64> = lots::on_hand(&mut db, now).await.expect("a ledger").iter().map(|own| own.lot.number).collect();
        let facts = verdict::facts(&mut db, &numbers, zone, now).await.expect("a ledger");
        standing = facts.iter().map(|facts| judge(facts, now)).filter(|verdict| !verdict.findings.is_empty()).count();
        times.push(started.elapsed());
    }
    times.sort();
    println!("{standing} live lots found and judged: median {:?}, slowest {:?} of {ROUNDS}", times[ROUNDS / 2], times[ROUNDS - 1]);
}

/// The spread from one lot, certain and possible, with who has it and where every jar is: of a lot that spreads as far as most,
/// and of the one that spreads furthest; and both once more as if no can had been washed for two months.
async fn traces(ledger: &Ledger, now: Moment) {
    let mut tx = ledger.begin().await.expect("the write lock");
    spreads(&mut tx, "as it is").await;
    let middle = now.plus_hours(-STAY_DAYS * COPIES * 12);
    let unwashed = sqlx::query("DELETE FROM breaks WHERE at BETWEEN ? AND ?");
    unwashed.bind(middle.in_seconds()).bind(middle.plus_hours(60 * 24).in_seconds()).execute(&mut *tx).await.expect("a ledger");
    spreads(&mut tx, "unwashed for sixty days").await;
    tx.rollback().await.expect("the ledger as it was");
}

async fn spreads(db: &mut SqliteConnection, how: &str) {
    let started = Instant::now();
    let everything = trace::lists(&mut *db).await.expect("a ledger");
    let graph = Graph::of(&everything);
    println!("all {} lots read into one graph: {:?}", everything.lots.len(), started.elapsed());
    let mut reaches: Vec<(usize, LotId)> =
        everything.lots.iter().map(|lot| (graph.spread(&BTreeSet::from([lot.id])).lots.len(), lot.id)).collect();
    reaches.sort_unstable();
    for (what, (_, lot)) in [("a usual", reaches[reaches.len() / 2]), ("the widest", reaches[reaches.len() - 1])] {
        let (mut times, mut reached) = (Vec::new(), (0, 0, 0));
        for _ in 0..ROUNDS * 3 {
            let started = Instant::now();
            let lists = trace::reached(&mut *db, &BTreeSet::from([lot])).await.expect("a ledger");
            let spread = callback::spread(&Graph::of(&lists), &Ties::from([(lot, Tie::Certain(String::new()))]));
            let numbers: Vec<i64> = spread.lots.keys().map(|lot| lot.0).collect();
            let handed = trace::handed_out(&mut *db, &numbers).await.expect("a ledger");
            let (moved, counts) =
                (lots::moved(&mut *db, &numbers).await.expect("a ledger"), lots::counts(&mut *db, &numbers).await.expect("a ledger"));
            let on_hand = |lot: &i64| counts.get(lot).and_then(|counts| counts.last()).map(|count| count.jars);
            let squares = moved.iter().filter(|(lot, moves)| LotJars::gathered(moves, on_hand(lot)).balance() == Balance::Squares).count();
            times.push(started.elapsed());
            reached = (spread.lots.len(), handed.len(), squares);
        }
        times.sort();
        let (lots, handed, squares) = reached;
        println!(
            "{how}: the spread of {what} lot ({lots} lots, {handed} hand-outs, {squares} squaring), read and reckoned: median {:?}, slowest {:?} of {}",
            times[times.len() / 2],
            times[times.len() - 1],
            times.len()
        );
    }
}

/// The packet of a call-back that sixty households and more have milk of: read, reckoned and drawn as a PDF.
async fn packet(ledger: &Ledger, now: Moment) {
    let mut tx = ledger.begin().await.expect("the write lock");
    let since = now.plus_hours(-14 * 24).in_seconds();
    // Every household twice, and what it took of the last fortnight.
    let people = "INSERT INTO people SELECT number + 1000, entry || '-packet', label || 'b', name, sort, channel, phone, second_way, pickup_day, since, until, note, written, who, source, version FROM people";
    sqlx::query(people).execute(&mut *tx).await.expect("more households");
    let sql = "INSERT INTO pickups SELECT number + 90000000, entry || '-packet', at, lot, person + 1000, gallons, half_gallons, quarts, pints, evidence, taken_by, verdict, because, facts, marked, written, who, source, version FROM pickups WHERE at > ? AND person IS NOT NULL";
    sqlx::query(sql).bind(since).execute(&mut *tx).await.expect("more hand-outs");
    sqlx::query("INSERT INTO callbacks VALUES (99, 'packet', ?, 'call-back', 'illness', NULL, NULL, NULL, 0, 'Mina', 'screen', 1)")
        .bind(now.in_seconds())
        .execute(&mut *tx)
        .await
        .expect("a call-back");
    let called = "INSERT INTO called SELECT 900000 + number, 'packet-' || number, 99, ?, number, 'certain', 'was named', 'called back', NULL, 0, 'Mina', 'screen', 1 FROM lots WHERE filled > ?";
    sqlx::query(called).bind(now.in_seconds()).bind(since).execute(&mut *tx).await.expect("its lots");
    let farm = farm::current(&mut tx).await.expect("a ledger").expect("a farm");
    let (mut times, mut said) = (Vec::new(), String::new());
    for _ in 0..ROUNDS {
        let started = Instant::now();
        let case = callbacks::one(&mut tx, 99).await.expect("a ledger").expect("a call-back");
        let found = gathered::of_lots(&mut tx, &case.ties(), case.codes(), &farm, now, "Mina").await.expect("a ledger");
        let sheet = Packet { case: &case, found: &found, told: None, holds: Vec::new(), insurer: String::new() }.sheet();
        let bytes = pdf::print(&sheet, "today").expect("a paper");
        times.push(started.elapsed());
        said = format!("{} lots, {}, {} bytes", found.lots.len(), case.progress().says(), bytes.len());
    }
    times.sort();
    println!("packet as PDF ({said}): median {:?}, slowest {:?}", times[times.len() / 2], times[times.len() - 1]);
    tx.rollback().await.expect("the ledger as it was");
}

/// Copies every kind back in time, in the order in which kinds lean on one another.
async fn copied_back(db: &mut SqliteConnection) -> u64 {
    let first = format!("-{} days", STAY_DAYS * COPIES);
    for kind in KINDS.iter().filter(|kind| ONCE.contains(&kind.name)) {
        for column in ["since", "done"].into_iter().filter(|column| kind.place_of(column).is_some()) {
            let sql = format!("UPDATE {} SET {column} = date({column}, '{first}')", kind.name);
            sqlx::query(AssertSqlSafe(sql)).execute(&mut *db).await.expect("an earlier first day");
        }
    }
    let mut rows = 0;
    for kind in KINDS.iter().filter(|kind| !ONCE.contains(&kind.name)) {
        for nth in 1..=COPIES {
            rows += sqlx::query(AssertSqlSafe(copy_of(kind, nth))).execute(&mut *db).await.expect("a copy").rows_affected();
        }
    }
    rows
}

/// The statement that copies a kind's own records so many stays back.
fn copy_of(kind: &Kind, nth: i64) -> String {
    let (days, apart) = (STAY_DAYS * nth, APART * nth);
    let (mut into, mut from) =
        (vec!["number".to_owned(), "entry".to_owned()], vec![format!("number + {apart}"), format!("entry || '-{nth}'")]);
    for column in kind.columns {
        let name = column.name;
        into.push(name.to_owned());
        from.push(match column.shape {
            Shape::Key(target) if !ONCE.contains(&target) => format!("{name} + {apart}"),
            Shape::Moment => format!("{name} - {}", days * 86_400),
            Shape::Day => format!("date({name}, '-{days} days')"),
            Shape::Session => format!("date(substr({name}, 1, 10), '-{days} days') || substr({name}, 11)"),
            _ => name.to_owned(),
        });
        if matches!(column.shape, Shape::Milk | Shape::Heat) {
            into.push(format!("{name}_as"));
            from.push(format!("{name}_as"));
        }
    }
    for name in ["who", "source", "version"] {
        into.push(name.to_owned());
        from.push(name.to_owned());
    }
    into.push("written".to_owned());
    from.push(format!("written - {}", days * 86_400));
    format!("INSERT INTO {} ({}) SELECT {} FROM {} WHERE number < {APART}", kind.name, into.join(", "), from.join(", "), kind.name)
}
