//! A result that came when the milk was gone: which stand against the milk, what was known on the day of each hand-out, and the line
//! on Today that stays until a call-back has the lot.
//!
//! Sources: a clean test never proves a later jar, and Listeria may show itself after 3 to 70 days (national food authorities, read
//! second-hand), so a germ counts when nothing is on hand. The limits are the farm's own choice.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use super::{
    farm::{Farm, Page},
    lab_page::{bottled, code},
};
use tallypail::web::visitor::Role::{Helper, Owner};

/// A farm of which two half-gallons of one lot went out, and its bottle tested three days later.
async fn tested(analyte: &str, figure: &str, unit: &str) -> Farm {
    let farm = bottled("").await;
    let result = [("sample", "1"), ("analyte", analyte), ("figure", figure), ("unit", unit), ("reported", "2026-05-17")];
    farm.keep("results", &result).await;
    farm
}

/// The line of Today about jars that are out; empty when there is none.
async fn line(farm: &Farm, of: &str) -> String {
    let page = farm.visit(Owner, "/").await;
    let found = page.text.split("<li class=\"line wrong\">").find(|line| line.contains(&format!("Jars of {of} are out")));
    found.unwrap_or_default().split("</li>").next().unwrap_or_default().to_owned()
}

async fn call_back(farm: &Farm, lot: &str, sort: &str, stands: &str) {
    let result = if farm.list("results").await.is_empty() { "" } else { "1" };
    let callback = [("at", "2026-05-17T12:00"), ("sort", sort), ("because", "other"), ("result", result)];
    let number = farm.keep("callbacks", &callback).await.to_string();
    let reason = if stands == "left out" { "Every jar came back unopened" } else { "" };
    let called = [
        ("callback", number.as_str()),
        ("at", "2026-05-17T12:00"),
        ("lot", lot),
        ("tie", "certain"),
        ("because", "is the lot asked about"),
    ];
    farm.keep("called", &[called.as_slice(), &[("stands", stands), ("reason", reason)]].concat()).await;
}

#[tokio::test]
async fn a_germ_comes_first_and_what_was_known_then_stays() {
    let farm = tested("Salmonella", "positive", "").await;
    farm.keep("results", &[("sample", "1"), ("analyte", "coliforms"), ("figure", "30"), ("unit", "per mL"), ("reported", "2026-05-17")])
        .await;
    let page = farm.visit(Owner, "/bad-day/result").await;
    page.says("/bad-day/result/1").says("/bad-day/result/2").says("2 half-gallons out").says("href=\"/lab\"");
    assert!(page.text.find("/bad-day/result/1").unwrap() < page.text.find("/bad-day/result/2").unwrap(), "germs and drugs first");
    let page = farm.visit(Owner, "/bad-day/result/1").await;
    page.says("Even with none on hand: people may be incubating, and jars may be frozen.");
    page.says("/callbacks/new?because=pathogen+found&amp;result=1")
        .says("County health department, 555-0120")
        .says("Anyone ill: doctor first");
    // The verdict that was frozen, the reason and every fact, beside what is known now.
    page.says("Can go").says("Cold in time.").says("39 °F").says("Keep back").says("M01").never_says("Orla Tremont");
    let page = farm.visit(Owner, "/bad-day/result/2").await;
    page.says("It is over a limit").says("wet or dirty udders").says("a hint and no diagnosis").says("/lab/samples/new");
    for page in [farm.visit(Helper, "/bad-day/result").await, farm.visit(Helper, "/bad-day/result/1").await] {
        page.came_with(403);
    }
    farm.visit(Owner, "/bad-day/result/9").await.came_with(404).says("There is no result 9");
}

/// A result that keeps its limit stands against nothing, and is not called good either.
#[tokio::test]
async fn what_keeps_its_limit_stands_against_nothing() {
    let farm = tested("coliforms", "3", "per mL").await;
    farm.visit(Owner, "/bad-day/result").await.never_says("/bad-day/result/1").says("No germ and no drug");
    farm.visit(Owner, "/bad-day/result/1").await.says("of nothing that was not looked for").never_says("Call the milk back");
    assert_eq!(line(&farm, &code(0)).await, "");
}

#[tokio::test]
async fn today_says_so_first_until_a_call_back_has_the_lot() {
    let mut farm = tested("Salmonella", "positive", "").await;
    let lot = code(0);
    let said = line(&farm, &lot).await;
    assert!(
        said.contains("href=\"/bad-day/result/1\"") && said.contains("Salmonella") && said.contains("2 half-gallons with households"),
        "{said}"
    );
    let page = farm.visit(Owner, "/").await;
    let put_right = page.text.split_once("To put right").unwrap().1;
    let first = put_right.split("<li class=\"line wrong\">").nth(1).unwrap();
    assert!(first.contains("are out"), "of first rank: {first}");
    farm.visit(Helper, "/").await.never_says("are out");
    // A practice calls nothing back, and a germ is not left out in silence.
    call_back(&farm, &lot, "practice", "called back").await;
    assert!(!line(&farm, &lot).await.is_empty(), "a practice");
    call_back(&farm, &lot, "call-back", "left out").await;
    assert!(!line(&farm, &lot).await.is_empty(), "left out");
    // A month later, jars frozen, it still stands there.
    farm.clock("2026-06-20T12:00");
    assert!(!line(&farm, &lot).await.is_empty(), "a month later");
    farm.clock("2026-05-17T12:00");
    call_back(&farm, &lot, "call-back", "called back").await;
    assert_eq!(line(&farm, &lot).await, "", "a call-back has it");
}

/// Jars that all came back are not out; a lot kept back for its chill leads to a call-back for that; one left out with a reason was
/// looked at; and a best-by day that is over calls nothing back.
#[tokio::test]
async fn only_what_is_out_and_kept_back_is_on_the_list() {
    let mut farm = bottled("").await;
    let lot = code(0);
    assert_eq!(line(&farm, &lot).await, "");
    farm.clock("2026-05-27T12:00");
    assert_eq!(line(&farm, &lot).await, "", "its best-by day is over, and nothing else");
    farm.clock("2026-05-17T12:00");
    farm.keep("chill", &[("lot", &lot), ("at", "2026-05-14T08:05"), ("temperature", "48")]).await;
    farm.keep("holds", &[("at", "2026-05-17T09:00"), ("scope", "lot"), ("lot", &lot), ("reason", "A jar leaks")]).await;
    let said = line(&farm, &lot).await;
    assert!(said.contains("/callbacks/new?because=not%20cold%20in%20time") && said.contains(&format!("lots={lot}")), "{said}");
    call_back(&farm, &lot, "call-back", "left out").await;
    assert_eq!(line(&farm, &lot).await, "", "it was looked at, and left out with a reason");
    let farm = tested("Salmonella", "positive", "").await;
    let back = [
        ("at", "2026-05-16T09:00"),
        ("lot", lot.as_str()),
        ("sort", "returned"),
        ("gallons", "0"),
        ("half_gallons", "2"),
        ("quarts", "0"),
        ("pints", "0"),
    ];
    farm.keep("asides", &back).await;
    assert_eq!(line(&farm, &lot).await, "", "every jar came back");
}

/// A stop on all milk says nothing of one lot that is out.
#[tokio::test]
async fn a_stop_on_all_milk_calls_nothing_back() {
    let farm = bottled("").await;
    farm.submit(Helper, "/stop", &[("what", "everything")]).await.came_with(303);
    assert_eq!(line(&farm, &code(0)).await, "");
}

/// The page never claims what nobody can know.
#[tokio::test]
async fn it_names_no_cause_and_nobody() {
    let farm = tested("Listeria monocytogenes", "positive", "").await;
    let page: Page = farm.visit(Owner, "/bad-day/result/1").await;
    let body = page.text.split_once("<main").unwrap().1.split_once("<footer").unwrap().0.to_owned();
    for never in [" is safe", "made ill", "Orla", "caused"] {
        assert!(!body.contains(never), "“{never}”");
    }
}
