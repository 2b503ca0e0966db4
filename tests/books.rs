//! The books through the front door: boarding in one act, payments, what is asked about and refused, statements, and the sums
//! of the sample farm worked out a second time by another program.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::farm::{Farm, Page};
use serde_json::Value;
use std::{
    collections::BTreeMap,
    io::Write,
    path::Path,
    process::{Command, Stdio},
};
use tallypail::{
    store::check,
    web::visitor::Role::{Helper, Owner},
};

/// All days the sample farm has.
pub const ALL: &str = "from=2025-09-01&to=2026-11-21";

/// A farm on Thursday 14 May 2026 with a herdshare household of one share and a half, a walk-in, and terms.
pub async fn farm() -> Farm {
    let farm = Farm::new().await;
    let terms = [("share_cost", "50.00"), ("boarding", "40.00"), ("deposit", "4.00"), ("missed", "boarding adjustment")];
    farm.keep("terms", &[&[("channel", "herdshare"), ("since", "2026-01-01")][..], &terms].concat()).await;
    farm.keep("terms", &[("channel", "farm gate"), ("since", "2026-01-01"), ("jar", "5.00"), ("deposit", "4.00")]).await;
    for (label, sort, way, weekday) in [("M01", "member", "herdshare", "Thursday"), ("W01", "walk-in", "farm gate", "")] {
        let person = [("label", label), ("name", "Ashgrove"), ("sort", sort), ("channel", way), ("pickup_day", weekday)];
        let more = [("since", "2026-01-02"), ("second_way", "ash@example.org")];
        farm.keep("people", &[&person[..], &more].concat()).await;
    }
    for part in ["1", "1/2"] {
        let share = [("person", "M01"), ("part", part), ("half_gallons", "2"), ("channel", "herdshare"), ("since", "2026-01-02")];
        farm.keep("shares", &share).await;
    }
    farm
}

async fn pay(farm: &Farm, amount: &str, more: &[(&str, &str)]) -> Page {
    let usual = [("sort", "payment"), ("person", "M01"), ("amount", amount), ("paid_by", "check"), ("day", "2026-05-14")];
    let kept: Vec<(&str, &str)> = usual.into_iter().filter(|(name, _)| !more.iter().any(|(own, _)| own == name)).collect();
    farm.submit(Owner, "/books/write", &[&kept[..], more].concat()).await
}

pub async fn json(farm: &Farm, path: &str) -> Value {
    serde_json::from_slice(&farm.visit(Owner, path).await.bytes).unwrap()
}

/// The debits equal the credits, and `check` finds nothing.
pub async fn squares(farm: &Farm) -> String {
    let trial = json(farm, "/books/trial-balance.json").await;
    let total = &trial["tables"]["trial"]["total"];
    assert_eq!(total["Debit"], total["Credit"], "{trial:#}");
    assert_eq!(check::wrongs(&mut farm.ledger.read().await.unwrap()).await.unwrap(), Vec::<String>::new());
    total["Debit"].as_str().unwrap().to_owned()
}

/// What stands at the end of a statement.
pub async fn stands(farm: &Farm, label: &str) -> String {
    json(farm, &format!("/books/{label}.json")).await["tables"]["lines"]["total"]["Stands at"].as_str().unwrap().to_owned()
}

/// What the form of boarding sends back with every line ticked.
pub fn ticks(page: &Page) -> Vec<(String, String)> {
    let mut fields = vec![("month".to_owned(), page.hidden("month"))];
    for piece in page.text.split("name=\"who\" value=\"").skip(1) {
        let key = piece.split('"').next().unwrap().to_owned();
        fields.push((format!("sum.{key}"), page.hidden(&format!("sum.{key}"))));
        fields.push(("who".to_owned(), key));
    }
    fields
}

async fn raise(farm: &Farm, fields: &[(String, String)]) -> Page {
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    farm.submit(Owner, "/books/boarding", &fields).await
}

#[tokio::test]
async fn boarding_is_raised_in_one_act_and_never_twice() {
    let farm = farm().await;
    let form = farm.visit(Owner, "/books/boarding?month=2026-05").await;
    form.came_with(200).says("M01 Ashgrove").says("1 1/2 × 40.00").says("60.00").never_says("W01");
    let other = farm.visit(Owner, "/books/boarding?month=2026-05").await;
    let sent = raise(&farm, &ticks(&form)).await;
    assert_eq!((sent.status, sent.location.as_str()), (303, "/books/boarding?month=2026-05&kept=1&left=0"));
    // Another phone had the same page open.
    let sent = raise(&farm, &ticks(&other)).await;
    assert_eq!((sent.status, sent.location.as_str()), (303, "/books/boarding?month=2026-05&kept=0&left=1"));
    farm.visit(Owner, &sent.location)
        .await
        .says("1 left out: in the books already")
        .says("Everybody's boarding of this month is in the books");
    assert_eq!((farm.list("transfers").await.len(), stands(&farm, "M01").await), (1, "60.00 to pay".to_owned()));
    // Taken back, it can be raised again; and the first page sent again keeps nothing.
    farm.submit(Owner, "/books/entries/1/back", &[("day", "2026-05-14"), ("note", "too early")]).await.came_with(303);
    let again = farm.visit(Owner, "/books/boarding?month=2026-05").await;
    raise(&farm, &ticks(&again)).await.came_with(303);
    assert_eq!(stands(&farm, "M01").await, "60.00 to pay");
    assert_eq!(squares(&farm).await, "60.00");
}

#[tokio::test]
async fn part_months_and_missed_weeks() {
    let farm = farm().await;
    farm.keep("people", &[("label", "M02"), ("name", "Rooke"), ("sort", "member"), ("channel", "herdshare"), ("since", "2026-04-16")])
        .await;
    let half = [("person", "M02"), ("part", "1"), ("half_gallons", "2"), ("channel", "herdshare")];
    farm.keep("shares", &[&half[..], &[("since", "2026-04-16"), ("until", "2026-05-10")]].concat()).await;
    farm.keep("shares", &[("person", "M02"), ("part", "1"), ("half_gallons", "2"), ("channel", "delivery"), ("since", "2026-05-11")]).await;
    farm.visit(Owner, "/books/boarding?month=2026-04").await.says("1 × 40.00 × 15 of 30 days").says("20.00");
    // The way changed within the month: boarding for its own days only. 40 × 10 / 31 = 12.903.
    farm.visit(Owner, "/books/boarding?month=2026-05").await.says("1 × 40.00 × 10 of 31 days").says("12.90");
    // One of April's five Thursdays had nothing for anybody; another was their own doing, a third was moved.
    farm.keep("pauses", &[("since", "2026-04-09"), ("until", "2026-04-09")]).await;
    farm.keep("pauses", &[("since", "2026-04-16"), ("until", "2026-04-16"), ("moved_to", "2026-04-15")]).await;
    farm.keep("pauses", &[("person", "M01"), ("since", "2026-04-23"), ("until", "2026-04-23")]).await;
    let form = farm.visit(Owner, "/books/boarding?month=2026-04").await;
    form.says("The farm had no milk on 1 of 5 pickup days").says("12.00");
    raise(&farm, &ticks(&form)).await.came_with(303);
    assert_eq!(stands(&farm, "M01").await, "48.00 to pay");
    // A week of April missed after it was raised is made up with May.
    farm.keep("pauses", &[("since", "2026-04-30"), ("until", "2026-04-30")]).await;
    let form = farm.visit(Owner, "/books/boarding?month=2026-05").await;
    form.says("The farm had no milk on 2 of 5 pickup days").says("12.00");
    raise(&farm, &ticks(&form)).await.came_with(303);
    assert_eq!(stands(&farm, "M01").await, "96.00 to pay", "48 and 60 less 12");
    farm.visit(Owner, "/books/M01").await.says("Adjustment, April 2026: The farm had no milk on 2 of 5 pickup days");
    squares(&farm).await;
}

#[tokio::test]
async fn a_month_to_come_or_a_sum_that_changed_is_not_raised() {
    let farm = farm().await;
    farm.visit(Owner, "/books/boarding?month=2026-06").await.came_with(422).says("June 2026 has not begun");
    farm.visit(Owner, "/books/boarding?month=soon").await.came_with(422).says("That is no month");
    raise(&farm, &[("month".into(), "2026-06".into()), ("who".into(), "b.1.2026-06-01".into())]).await.came_with(422).says("has not begun");
    raise(&farm, &[("month".into(), "2026-05".into())]).await.came_with(422).says("Nothing is ticked");
    let form = farm.visit(Owner, "/books/boarding?month=2026-05").await;
    farm.keep("shares", &[("person", "M01"), ("part", "1"), ("half_gallons", "2"), ("channel", "herdshare"), ("since", "2026-05-01")])
        .await;
    raise(&farm, &ticks(&form)).await.came_with(422).says("the sum is 100.00 by now");
    assert!(farm.list("transfers").await.is_empty());
    farm.visit(Helper, "/books/boarding").await.came_with(403);
}

#[tokio::test]
async fn amounts_days_and_households_that_cannot_be() {
    let farm = farm().await;
    for (amount, says) in [
        ("12,5", "Write the cents after a point, not a comma: 12.5"),
        ("-5", "above nothing, without a minus"),
        ("0", "above nothing"),
        ("", "Amount: this is missing."),
        ("9999999999", "cannot be right here"),
        ("🐄", "is not an amount"),
    ] {
        let page = pay(&farm, amount, &[]).await;
        page.came_with(422).says(says).says("2026-05-14");
    }
    let both = pay(&farm, "-5", &[("day", "2026-05-15"), ("paid_by", "barter")]).await;
    both.came_with(422).says("has not come yet").says("above nothing").says("Say how: cash, check, transfer");
    pay(&farm, "5", &[("person", "M99")]).await.came_with(422).says("There is no member or walk-in “M99”");
    pay(&farm, "5", &[("person", "")]).await.came_with(422).says("Which household?");
    pay(&farm, "5", &[("day", "2026-01-01")]).await.came_with(422).says("is with the farm since Fri 2 Jan 2026 only");
    pay(&farm, "5", &[("note", &"9".repeat(201))]).await.came_with(422).says("characters long");
    farm.submit(Owner, "/books/write", &[("sort", "boarding"), ("person", "M01"), ("amount", "5")]).await.came_with(404);
    farm.submit(Owner, "/books/write", &[("sort", "adjustment"), ("person", "M01"), ("amount", "5"), ("day", "2026-05-14")])
        .await
        .came_with(422)
        .says("Choose one: Less to pay, More to pay.")
        .says("Say in a few words why");
    assert!(farm.list("transfers").await.is_empty());
    // $1,204.50 is an amount; before they joined is kept when it was meant.
    pay(&farm, "$1,204.50", &[("day", "2026-01-01"), ("sure", "day")]).await.came_with(303);
    farm.visit(Owner, "/books/M01?from=2025-12-01").await.says("1204.50 paid ahead on Thu 14 May 2026.");
    assert_eq!(squares(&farm).await, "1204.50");
}

#[tokio::test]
async fn the_same_payment_is_asked_about_and_can_be_kept() {
    let farm = farm().await;
    let form = farm.visit(Owner, "/books/payment?person=M01").await;
    let mark = form.entry();
    pay(&farm, "60.00", &[("entry", &mark)]).await.came_with(303);
    // The same form again is the same payment.
    pay(&farm, "60.00", &[("entry", &mark)]).await.came_with(303);
    assert_eq!(farm.list("transfers").await.len(), 1);
    pay(&farm, "60.00", &[("day", "2026-05-04")]).await.came_with(422).says("stands in the books already, on Thu 14 May 2026");
    pay(&farm, "60.00", &[("day", "2026-05-03")]).await.came_with(303);
    pay(&farm, "60.00", &[("paid_by", "cash")]).await.came_with(303);
    pay(&farm, "60.00", &[("sure", "amount")]).await.came_with(303);
    assert_eq!(stands(&farm, "M01").await, "240.00 paid ahead");
    squares(&farm).await;
}

#[tokio::test]
async fn taken_back_once_and_by_its_opposite() {
    let farm = farm().await;
    pay(&farm, "60.00", &[]).await.came_with(303);
    let back = async |fields: &[(&str, &str)]| farm.submit(Owner, "/books/entries/1/back", fields).await;
    back(&[("day", "2026-05-14"), ("note", "")]).await.came_with(422).says("why it is taken back");
    back(&[("day", "2026-05-13"), ("note", "slip")]).await.came_with(422).says("before the entry itself");
    back(&[("day", "2026-05-15"), ("note", "slip")]).await.came_with(422).says("has not come yet");
    back(&[("day", "2026-05-14"), ("note", "slip")]).await.came_with(303);
    back(&[("day", "2026-05-14"), ("note", "slip")]).await.came_with(422).says("taken back already, by entry 2");
    farm.submit(Owner, "/books/entries/1/bounced", &[("day", "2026-05-14")]).await.came_with(422).says("taken back already");
    farm.submit(Owner, "/books/entries/2/back", &[("day", "2026-05-14"), ("note", "x")])
        .await
        .came_with(422)
        .says("takes another entry back itself");
    farm.submit(Owner, "/books/entries/9/back", &[("day", "2026-05-14"), ("note", "x")]).await.came_with(404);
    farm.visit(Owner, "/books/entries/1").await.says("Taken back by").never_says("Take it back");
    assert_eq!(stands(&farm, "M01").await, "even");
    // Nothing is corrected in place.
    let sent = farm.submit(Owner, "/records/transfers/1/strike", &[("why", "slip")]).await;
    sent.came_with(422).says("never changed or struck");
    assert_eq!(squares(&farm).await, "0.00");
}

#[tokio::test]
async fn a_check_that_came_back_is_owed_again() {
    let farm = farm().await;
    pay(&farm, "60.00", &[("day", "2026-05-04")]).await.came_with(303);
    pay(&farm, "10.00", &[("paid_by", "cash")]).await.came_with(303);
    farm.submit(Owner, "/books/entries/2/bounced", &[("day", "2026-05-14")]).await.came_with(422).says("Only a payment by check");
    farm.submit(Owner, "/books/entries/1/bounced", &[("day", "2026-05-14")]).await.came_with(303);
    farm.visit(Owner, "/books/M01").await.says("Check of 4 May 2026 came back from the bank");
    assert_eq!(stands(&farm, "M01").await, "10.00 paid ahead");
    squares(&farm).await;
}

#[tokio::test]
async fn milk_deposits_and_what_is_more_than_there_is() {
    let farm = farm().await;
    let write = async |fields: &[(&str, &str)]| farm.submit(Owner, "/books/write", &[&[("day", "2026-05-14")], fields].concat()).await;
    write(&[("sort", "milk at the gate"), ("person", "W01"), ("jars", "2"), ("way", "cash")]).await.came_with(303);
    assert_eq!(stands(&farm, "W01").await, "even");
    farm.visit(Owner, "/books/W01").await.says("Milk at the gate, 2 half-gallons").says("Received with thanks, cash").says("10.00");
    write(&[("sort", "milk at the gate"), ("jars", "1"), ("way", "later")]).await.came_with(422).says("Somebody unknown pays at once");
    write(&[("sort", "milk at the gate"), ("jars", "1"), ("way", "cash")]).await.came_with(303);
    write(&[("sort", "jar deposit"), ("person", "M01"), ("jars", "3")]).await.came_with(303);
    let more = write(&[("sort", "deposit given back"), ("person", "M01"), ("jars", "4")]).await;
    more.came_with(422).says("Only 12.00 of jar deposits is held for them");
    write(&[("sort", "deposit given back"), ("person", "M01"), ("jars", "1")]).await.came_with(303);
    farm.visit(Owner, "/books/M01").await.says("8.00, owed back when the jars are");
    write(&[("sort", "share purchase"), ("person", "M01")]).await.came_with(303);
    assert_eq!(stands(&farm, "M01").await, "83.00 to pay", "1 1/2 × 50.00 and two jars");
    write(&[("sort", "write-off"), ("person", "M01"), ("amount", "90"), ("note", "x")]).await.came_with(422).says("They owe 83.00 only");
    write(&[("sort", "paid back"), ("person", "M01"), ("amount", "9"), ("paid_by", "cash")])
        .await
        .came_with(422)
        .says("ahead by 0.00 only");
    write(&[("sort", "moved to the bank"), ("amount", "20")]).await.came_with(422).says("the tin holds 15.00");
    write(&[("sort", "moved to the bank"), ("amount", "10")]).await.came_with(303);
    write(&[("sort", "owner draw"), ("amount", "6"), ("way", "cash")]).await.came_with(422).says("the tin holds 5.00");
    write(&[("sort", "owner draw"), ("amount", "2"), ("way", "cash")]).await.came_with(303);
    write(&[("sort", "owner draw"), ("amount", "2")]).await.came_with(422).says("Choose one: From the cash tin, From the bank.");
    write(&[("sort", "owner contribution"), ("amount", "2"), ("way", "cash")]).await.came_with(303);
    let word = write(&[("sort", "adjustment"), ("person", "M01"), ("way", "less"), ("amount", "1"), ("note", "She bought two")]).await;
    word.came_with(422).says("is no word for a herdshare");
    for (way, person) in [("more", "M01"), ("less", "W01"), ("deposits", "M01"), ("cash", ""), ("bank", "")] {
        write(&[("sort", "opening balance"), ("way", way), ("person", person), ("amount", "7")]).await.came_with(303);
    }
    write(&[("sort", "opening balance"), ("way", "cash"), ("person", "M01"), ("amount", "7")])
        .await
        .came_with(422)
        .says("The tin and the bank are nobody");
    let books = json(&farm, "/books.json").await;
    assert_eq!(books["facts"]["In the cash tin"], "12.00");
    assert_eq!(books["facts"]["Jar deposits held"], "15.00, owed back: no income");
    let income = &books["tables"]["income"]["total"];
    assert_eq!(
        (&income["Milk at the gate"], &income["Income"]),
        (&Value::from("15.00"), &Value::from("15.00")),
        "deposits and shares are none"
    );
    squares(&farm).await;
}

#[tokio::test]
async fn the_tin_is_counted_blind_and_the_difference_kept_once() {
    let farm = farm().await;
    pay(&farm, "60.00", &[("paid_by", "cash"), ("day", "2026-05-13")]).await.came_with(303);
    farm.visit(Owner, "/books/tin").await.came_with(200).never_says("60.00");
    let count = async |counted: &str| {
        farm.submit(Owner, "/books/tin", &[("at", "2026-05-14T12:00"), ("counted", counted), ("counter", "Mina")]).await
    };
    count("-5").await.came_with(422).says("holds nothing at least");
    count("12,5").await.came_with(422).says("not a comma");
    let sent = count("58.50").await;
    assert_eq!((sent.status, sent.location.as_str()), (303, "/books/tin/1"));
    farm.visit(Owner, "/books/tin/1").await.says("1.50 short").says("60.00");
    for _ in 0..2 {
        farm.submit(Owner, "/books/tin/1", &[]).await.came_with(303);
    }
    farm.visit(Owner, "/books/tin/1").await.says("The difference is in the books as").never_says("Keep the difference");
    assert_eq!(json(&farm, "/books.json").await["facts"]["In the cash tin"], "58.50");
    count("58.50").await.came_with(303);
    assert_eq!(farm.list("transfers").await.len(), 2);
    assert_eq!(squares(&farm).await, "60.00");
}

#[tokio::test]
async fn days_asked_about_that_cannot_be() {
    let farm = farm().await;
    for path in [
        "/books/M01?from=soon",
        "/books/M01?from=2026-05-14&to=2026-05-01",
        "/books/journal?to=2027-01-01",
        "/books/trial-balance?day=2027-01-01",
    ] {
        farm.visit(Owner, path).await.came_with(422).says("could not be read");
    }
    farm.visit(Owner, "/books/M77").await.came_with(404).says("There is no member or walk-in “M77”");
    farm.visit(Owner, "/books/statements.pdf").await.came_with(404).says("no statement to print");
}

/// Source: SQLite 3's command-line program over the exported journal; see `tests/outside/books.sql`. To the cent.
#[tokio::test]
async fn another_program_comes_to_the_same_balances() {
    let farm = Farm::sample().await;
    let folder = tempfile::tempdir().unwrap();
    let csv = farm.visit(Owner, &format!("/books/journal.csv?{ALL}")).await.text;
    let journal = csv.split("table,journal\r\n").nth(1).unwrap().split("\r\n\r\n").next().unwrap();
    std::fs::write(folder.path().join("journal.csv"), journal).unwrap();
    let theirs = outside(folder.path());
    assert_eq!(theirs["all"], "0.00");
    assert_eq!(squares(&farm).await, theirs["side"]);
    let books = json(&farm, "/books.json").await;
    assert_eq!(books["facts"]["In the cash tin"], theirs["account cash tin"].as_str());
    assert_eq!(books["facts"]["At the bank, by these books"], theirs["account bank"].as_str());
    let mut looked = 0;
    for (name, owes) in theirs.iter().filter_map(|(name, owes)| Some((name.strip_prefix("owes ")?, owes))) {
        let own = json(&farm, &format!("/books/{name}.json?{ALL}")).await;
        let said = match owes.strip_prefix('-') {
            Some(ahead) => format!("{ahead} paid ahead"),
            None if owes == "0.00" => "even".to_owned(),
            None => format!("{owes} to pay"),
        };
        assert_eq!(own["tables"]["lines"]["total"]["Stands at"], said.as_str(), "{name}");
        let held = theirs.get(&format!("held {name}")).map_or("0.00", String::as_str);
        let said = if held == "0.00" || held == "-0.00" { "none".to_owned() } else { format!("{held}, owed back when the jars are") };
        assert_eq!(own["facts"]["Jar deposits we hold"], said.as_str(), "{name}");
        looked += 1;
    }
    assert!(looked > 35, "only {looked} households were looked at");
}

fn outside(folder: &Path) -> BTreeMap<String, String> {
    let script = format!(".bail on\n{}", include_str!("outside/books.sql"));
    let mut sqlite = Command::new("sqlite3")
        .arg(":memory:")
        .current_dir(folder)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("this check needs SQLite's own program: apt-get install sqlite3");
    sqlite.stdin.take().unwrap().write_all(script.as_bytes()).unwrap();
    let done = sqlite.wait_with_output().unwrap();
    assert!(done.status.success());
    let said = String::from_utf8(done.stdout).unwrap();
    said.lines().filter_map(|line| line.split_once('=')).map(|(name, value)| (name.to_owned(), value.to_owned())).collect()
}
