//! The farm of twenty cows that speed and size are measured on: a month of it is taken in without a fault, checks whole, and is as
//! large as it says. And what its twenty years brought to light: a lot code comes round again after ten years, and the farm folder
//! must still say which lot is meant.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

#[path = "twenty/years.rs"]
pub mod years;

use crate::farm::{Farm, kind_of};
use tallypail::{
    paper::folder,
    store::{Ledger, check, records},
    trade::when::Zone,
    web::visitor::Role,
};

#[tokio::test]
async fn a_month_of_the_yardstick_is_a_whole_ledger() {
    let now = Zone::UTC.parse_moment(years::AFTERNOON).unwrap();
    let book = folder::read(&years::folder(30), now, "import").unwrap();
    let many = |kind: &str| book.of(kind).len();
    assert_eq!((many("milkings"), many("pails"), many("lots"), many("cows")), (59, 1180, 590, 20));
    // A hundred and forty hand-outs a day once the fridge is full, which makes a million in twenty years.
    assert!((130..=140).contains(&(many("pickups") / 29)), "{}", many("pickups"));
    let own = tempfile::tempdir().unwrap();
    let ledger = Ledger::open(&own.path().join("month.ledger")).await.unwrap();
    let mut tx = ledger.begin().await.unwrap();
    let act = records::act(&mut tx, now, "import", "farm folder").await.unwrap();
    records::import(&mut tx, &book, &act).await.unwrap();
    tx.commit().await.unwrap();
    let mut db = ledger.read().await.unwrap();
    assert_eq!(check::wrongs(&mut db).await.unwrap(), Vec::<String>::new());
    let kept = records::book(&mut db).await.unwrap();
    assert!(folder::write(&kept) == folder::write(&book), "what was taken in comes out again");
}

/// The code of a lot filled ten years before another on the same day of the year.
const TWICE: &str = "6134A-S";

async fn ten_years_apart(farm: &Farm) {
    for (day, session) in [("2016-05-13", "2016-05-13 AM"), ("2026-05-14", "2026-05-14 AM")] {
        let milked = format!("{day}T06:00");
        farm.keep("milkings", &[("session", session), ("started", &milked), ("ended", &milked), ("milker", "Mina")]).await;
        let filled = format!("{day}T06:30");
        let jars = [("gallons", "0"), ("half_gallons", "3"), ("quarts", "0"), ("pints", "0")];
        let own = [("code", TWICE), ("filled", filled.as_str())];
        farm.keep("lots", &own.into_iter().chain(jars).collect::<Vec<_>>()).await;
        let lot = format!("{TWICE} {day}");
        farm.keep("sources", &[("lot", &lot), ("milking", session)]).await;
    }
}

#[tokio::test]
async fn a_code_that_came_round_again_names_its_own_lot_in_the_folder() {
    let farm = Farm::new().await;
    ten_years_apart(&farm).await;
    let book = records::book(&mut farm.ledger.read().await.unwrap()).await.unwrap();
    let (sources, lots) = (book.of("sources"), book.of("lots"));
    let lot_of = |place: usize| sources[place].cell(kind_of("sources"), "lot").clone();
    assert_ne!(lot_of(0), lot_of(1), "each milking went into its own lot");
    assert_eq!(lots.len(), 2);
    let files = folder::write(&book);
    let written = String::from_utf8(files["sources.csv"].clone()).unwrap();
    assert!(written.contains("6134A-S 2016-05-13,2016-05-13 AM") && written.contains("6134A-S 2026-05-14,2026-05-14 AM"), "{written}");
    let again = folder::read(&files, farm.now, "import").unwrap();
    assert!(again == book, "the folder names each lot's own milking");
}

/// A correction of an old record that names such a lot must not move it to the newer one.
#[tokio::test]
async fn a_correction_leaves_an_old_lot_where_it_is() {
    let farm = Farm::new().await;
    ten_years_apart(&farm).await;
    let page = farm.visit(Role::Owner, "/records/sources/1").await;
    page.came_with(200).says("6134A-S 2016-05-13");
    let before = farm.list("sources").await;
    let typed = [("lot", "6134A-S 2016-05-13"), ("milking", "2016-05-13 AM"), ("parent", ""), ("why", "Looked at again"), ("version", "1")];
    let answer = farm.submit(Role::Owner, "/records/sources/1", &typed).await;
    assert!(answer.status == 303 || answer.text.contains("Nothing"), "{} {}", answer.status, answer.text);
    let after = farm.list("sources").await;
    assert_eq!(after[0].cell(kind_of("sources"), "lot"), before[0].cell(kind_of("sources"), "lot"));
}
