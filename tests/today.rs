//! The first page and the herd: what is due and wrong, who stays out of the can, and who may see what.
#![allow(clippy::unwrap_used, reason = "a test that cannot read its own figures should stop")]

use crate::{
    farm::{Farm, Page, at},
    mornings::{filled, milked},
};
use tallypail::{
    store::backup,
    trade::{
        cows::{Known, Reason, judge, usual_times},
        herd::{Dose, Standing, Turn},
        verdict::Rules,
        when::Zone,
    },
    web::visitor::Role,
};

/// The part of Today under “To put right”.
pub fn wrong(page: &Page) -> &str {
    page.text.split_once("To put right</h2>").unwrap().1.split_once("<h2>Due</h2>").unwrap().0
}

/// The part of Today under “Due”.
pub fn due(page: &Page) -> &str {
    page.text.split_once("<h2>Due</h2>").unwrap().1.split_once("Kept out of the can</h2>").unwrap().0
}

async fn event(farm: &Farm, cow: &str, when: &str, sort: &str) {
    farm.keep("events", &[("cow", cow), ("at", when), ("sort", sort)]).await;
}

/// Damson and Kettle in the can since spring, and Damson milked this morning and the evening before.
async fn in_milk() -> Farm {
    let farm = Farm::new().await;
    for cow in ["Damson", "Kettle"] {
        event(&farm, cow, "2026-03-01T06:00", "joined the can").await;
    }
    milked(&farm, "2026-05-13 PM", "2026-05-13T17:40", "2026-05-13T18:05").await;
    milked(&farm, "2026-05-14 AM", "2026-05-14T05:40", "2026-05-14T06:05").await;
    farm
}

async fn counted(farm: &Farm, code: &str, when: &str, half_gallons: &str) {
    let jars = [("gallons", "0"), ("half_gallons", half_gallons), ("quarts", "0"), ("pints", "0")];
    farm.keep("counts", &[&[("at", when), ("lot", code), ("counter", "Tobe")][..], &jars].concat()).await;
}

async fn treated(farm: &Farm, cow: &str, when: &str, hours: &str) {
    let typed =
        [("cow", cow), ("at", when), ("product", "udder tube"), ("milk_hours", hours), ("as_labelled", "yes"), ("vet_figure", "no")];
    farm.keep("treatments", &typed).await;
}

/// Source: the starting rules' step, 40 °F within 120 minutes of the end of milking (7 Pa. Code 59a.408 has the same): milking
/// ended 06:05, so the reading is due by 08:05, and one of 08:45 shows nothing about 08:05.
#[tokio::test]
async fn a_reading_is_due_and_then_late() {
    let mut farm = in_milk().await;
    filled(&farm, "6134A-S", "2026-05-14T06:20", &["2026-05-14 AM"]).await;
    farm.clock("2026-05-14T07:00");
    let page = farm.visit(Role::Helper, "/").await;
    page.came_with(200).says("/chill/new?lot=6134A-S");
    assert!(due(&page).contains("Chill reading by 08:05"), "{}", due(&page));
    assert!(due(&page).contains("40 °F or less"));
    farm.clock("2026-05-14T09:00");
    farm.keep("chill", &[("lot", "6134A-S"), ("at", "2026-05-14T08:45"), ("temperature", "38")]).await;
    let page = farm.visit(Role::Helper, "/").await;
    assert!(!due(&page).contains("Chill reading by"));
    assert!(wrong(&page).contains("Can&#39;t tell") && wrong(&page).contains("6134A-S"), "{}", wrong(&page));
}

/// Source: label custom: 72 hours from the last dose, and the hour itself is still inside (common practice). Given Tuesday 06:30
/// it ends Friday 06:30; she is milked about 05:40 and 17:40, so Friday evening is the first milking in the can.
#[tokio::test]
async fn a_treated_cow_stands_first_with_the_milking_she_joins() {
    let farm = in_milk().await;
    treated(&farm, "Damson", "2026-05-12T06:30", "72").await;
    for path in ["/herd", "/herd/Damson", "/"] {
        farm.visit(Role::Helper, path).await.came_with(200).says("Damson joins Friday evening.");
    }
    let herd = farm.visit(Role::Helper, "/herd").await.text;
    let place = |words: &str| herd.find(words).unwrap();
    assert!(place("Keep out of the can") < place("Damson") && place("Damson") < place("Damson joins Friday evening."));
    assert!(place("Damson joins Friday evening.") < place("In the can</h2>") && place("In the can</h2>") < place("Kettle"));
}

/// Source: this program's own rule, and the trade's: a withdrawal nobody wrote is not none.
#[tokio::test]
async fn a_blank_withdrawal_is_never_zero() {
    let farm = in_milk().await;
    treated(&farm, "Kettle", "2026-05-01T06:30", "").await;
    farm.visit(Role::Helper, "/herd/Kettle").await.says("Kettle stays out: nobody can say yet").says("A blank never means zero");
    let page = farm.visit(Role::Owner, "/").await;
    assert!(wrong(&page).contains("Kettle: ask the vet"));
    let sent = farm.submit(Role::Owner, "/herd/Kettle/join", &[("at", "2026-05-14T12:00")]).await;
    sent.came_with(422).says("ask the vet");
}

/// Source: the starting rules keep milk out for five days after calving (Cal. Food & Ag. Code 35602 has five). She calved on
/// 12 May at 02:10, so the clock runs to 17 May, 02:10, and that minute still belongs to it.
#[tokio::test]
async fn a_fresh_cow_cannot_join_early() {
    let mut farm = in_milk().await;
    event(&farm, "Wren", "2026-05-12T02:10", "calved").await;
    farm.visit(Role::Helper, "/herd").await.says("Wren joins Sunday morning.");
    farm.visit(Role::Helper, "/herd/Wren/join").await.says("Not yet").never_says("She joins the can</button>");
    let before = farm.list("events").await.len();
    farm.submit(Role::Owner, "/herd/Wren/join", &[("at", "2026-05-14T12:00")]).await.came_with(422).says("Not yet.");
    farm.clock("2026-05-17T07:00");
    farm.submit(Role::Owner, "/herd/Wren/join", &[("at", "2026-05-17T02:10")]).await.came_with(422).says("Not yet.");
    farm.submit(Role::Owner, "/herd/Wren/join", &[("at", "2026-05-18T02:10")]).await.came_with(422).says("has not come yet");
    assert_eq!(farm.list("events").await.len(), before);
    for _ in 0..2 {
        let same = "0f0f0f0f-0000-4000-8000-000000000001";
        let sent = farm.submit(Role::Helper, "/herd/Wren/join", &[("at", "2026-05-17T02:11"), ("entry", same)]).await;
        assert_eq!((sent.status, sent.location.as_str()), (303, "/herd/Wren"));
    }
    assert_eq!(farm.list("events").await.len(), before + 1);
    farm.visit(Role::Helper, "/herd/Wren").await.says("in the can");
}

/// Source: the herd chapter's own rule: a cow that left stays gone.
#[tokio::test]
async fn a_cow_that_left_joins_nothing() {
    let farm = in_milk().await;
    event(&farm, "Kettle", "2026-05-10T12:00", "left").await;
    farm.visit(Role::Helper, "/herd/Kettle").await.says("She has left the herd.").never_says("Join the can");
    farm.submit(Role::Owner, "/herd/Kettle/join", &[("at", "2026-05-14T12:00")]).await.came_with(422).says("had left the herd");
    farm.visit(Role::Helper, "/herd").await.says("Left the herd</h2>");
    farm.visit(Role::Helper, "/").await.never_says("/herd/Kettle");
}

/// Source: common practice: flakes in the first squirts keep a cow out until they look right again.
#[tokio::test]
async fn flakes_keep_her_out_until_they_are_gone() {
    let farm = in_milk().await;
    farm.keep("milkings", &[("session", "2026-05-14 PM"), ("started", "2026-05-14T11:40"), ("milker", "Joss")]).await;
    let pail = [("milking", "2026-05-14 PM"), ("cow", "Kettle"), ("read", "9"), ("milk", "9 lb"), ("went", "calf"), ("foremilk", "flakes")];
    farm.keep("pails", &pail).await;
    farm.visit(Role::Helper, "/herd")
        .await
        .says("There were flakes in her first squirts")
        .says("until her first squirts look as they should");
}

/// Source: the owner's own rule for this page: due at seven days, wrong from eight; with none, the ledger's own first week.
#[tokio::test]
async fn the_newest_copy_gets_louder_with_age() {
    let mut farm = Farm::new().await;
    assert!(due(&farm.visit(Role::Owner, "/").await).contains("No copy yet"));
    farm.clock("2026-05-23T12:00");
    assert!(wrong(&farm.visit(Role::Owner, "/").await).contains("This ledger is 9 days old"));
    backup::write(&farm.ledger, &farm.folder.path().join("copy.ledger"), farm.now).await.unwrap();
    farm.clock("2026-05-29T12:00");
    farm.visit(Role::Owner, "/").await.never_says("A copy is due").never_says("No copy");
    farm.clock("2026-05-30T12:00");
    assert!(due(&farm.visit(Role::Owner, "/").await).contains("A copy is due: the newest is 7 days old"));
    farm.clock("2026-06-01T12:00");
    assert!(wrong(&farm.visit(Role::Owner, "/").await).contains("No copy for 9 days"));
    farm.visit(Role::Helper, "/").await.never_says("No copy");
}

/// Source: arithmetic: six filled and counted, four counted a day later, and nothing written between.
#[tokio::test]
async fn jars_that_are_short_show_with_their_window() {
    let farm = in_milk().await;
    filled(&farm, "6132A-0", "2026-05-12T06:20", &["2026-05-13 PM"]).await;
    counted(&farm, "6132A-0", "2026-05-12T20:00", "6").await;
    counted(&farm, "6132A-0", "2026-05-13T20:00", "4").await;
    let page = farm.visit(Role::Helper, "/").await;
    let wrong = wrong(&page);
    assert!(wrong.contains("2 half-gallons short"), "{wrong}");
    assert!(wrong.contains("between Tue 12 May, 20:00 and Wed 13 May, 20:00"), "{wrong}");
    page.says("4 half-gallons counted Wed 13 May, 20:00");
    assert!(!due(&page).contains("Count the fridge"), "it was counted last evening");
}

/// Source: the job's own day: the fridge is counted in the evening, and jars that stood there uncounted are due one.
#[tokio::test]
async fn a_missed_count_and_an_uncleaned_can_are_due() {
    let mut farm = in_milk().await;
    filled(&farm, "6133A-W", "2026-05-13T18:20", &["2026-05-13 PM"]).await;
    let page = farm.visit(Role::Helper, "/").await;
    assert!(due(&page).contains("Nobody has counted yet; not last evening"), "{}", due(&page));
    // Milked into again this morning with no clean break after last evening's fill.
    assert!(wrong(&page).contains("Can 1 was not cleaned"), "{}", wrong(&page));
    filled(&farm, "6134A-S", "2026-05-14T06:20", &["2026-05-14 AM"]).await;
    assert!(due(&farm.visit(Role::Helper, "/").await).contains("Clean break: Can 1"));
    let cleaned = [("vessel", "Can 1"), ("at", "2026-05-14T08:30"), ("washed", "yes"), ("sanitised", "yes"), ("done_by", "Tobe")];
    farm.keep("breaks", &cleaned).await;
    farm.visit(Role::Helper, "/").await.never_says("Clean break: Can 1").never_says("was not cleaned");
    // Ten days from the oldest milking, by the farm's own rule: good to 23 May.
    farm.clock("2026-05-21T12:00");
    farm.keep("chill", &[("lot", "6133A-W"), ("at", "2026-05-13T19:30"), ("temperature", "38")]).await;
    assert!(due(&farm.visit(Role::Helper, "/").await).contains("Good to Sat 23 May 2026"));
}

/// Source: this program's own rule: milk that went in before anybody wrote that she joined is said aloud.
#[tokio::test]
async fn milk_of_a_cow_that_never_joined_is_said() {
    let farm = Farm::new().await;
    milked(&farm, "2026-05-14 AM", "2026-05-14T05:40", "2026-05-14T06:05").await;
    let page = farm.visit(Role::Helper, "/").await;
    assert!(wrong(&page).contains("Damson&#39;s milk is written as in the can"), "{}", wrong(&page));
}

/// Source: this program's own rule: a stop on everything is said once, not once for every lot.
#[tokio::test]
async fn a_stop_on_everything_is_said_once() {
    let farm = in_milk().await;
    filled(&farm, "6134A-S", "2026-05-14T06:20", &["2026-05-14 AM"]).await;
    farm.keep("chill", &[("lot", "6134A-S"), ("at", "2026-05-14T07:35"), ("temperature", "38")]).await;
    farm.keep("holds", &[("at", "2026-05-14T09:00"), ("scope", "everything")]).await;
    let page = farm.visit(Role::Helper, "/").await;
    assert!(wrong(&page).contains("All milk is stopped") && !wrong(&page).contains("6134A-S"), "{}", wrong(&page));
    page.says("Keep back");
}

/// Source: the job: a helper sees no money, phone numbers or complaints. Every phone number and price of the sample farm is tried.
#[tokio::test]
async fn a_helper_sees_no_money_and_no_phones() {
    let farm = Farm::sample().await;
    let kind = crate::farm::kind_of("people");
    let phones: Vec<String> = farm.list("people").await.iter().map(|person| person.cell(kind, "phone").text().to_owned()).collect();
    assert!(phones.iter().any(|phone| !phone.is_empty()));
    for path in ["/", "/herd", "/herd/Damson", "/herd/Thimble", "/herd/Damson/join"] {
        let page = farm.visit(Role::Helper, path).await;
        page.came_with(200).never_says("$").never_says("backup").never_says("omplaint");
        assert!(phones.iter().filter(|phone| !phone.is_empty()).all(|phone| !page.text.contains(phone.as_str())), "{path}");
    }
    farm.visit(Role::Owner, "/").await.says("No copy yet");
    farm.visit(Role::Helper, "/herd/Nobody").await.came_with(404).says("There is no cow");
}

fn new_york() -> Zone {
    Zone::parse("America/New_York").unwrap()
}

/// Source: arithmetic; the middle of five mornings, with the clock change of 8 March 2026 (IANA time zone database) among them.
#[test]
fn usual_times_are_the_clocks_own() {
    let mornings = ["2026-03-06T05:40", "2026-03-07T05:30", "2026-03-08T05:45", "2026-03-09T05:50", "2026-03-10T05:35"].map(at);
    assert_eq!(usual_times(&mornings, at("2026-03-10T12:00"), new_york()), [5 * 60 + 40]);
    assert_eq!(usual_times(&[], at("2026-03-10T12:00"), new_york()), [6 * 60, 18 * 60]);
}

/// Source: this program's own rule: a cow that is kept out by hand is not let in by a clock that ends.
#[test]
fn a_hand_that_keeps_her_out_outlasts_a_clock() {
    let dose = Dose {
        at: at("2026-05-13T18:00"),
        product: "udder tube".to_owned(),
        milk_hours: Some(24),
        milk_milkings: None,
        as_labelled: true,
        vet_figure: false,
        from_calving: false,
        dry_days: None,
    };
    let turns = vec![(Turn::JoinedCan, at("2026-03-01T06:00")), (Turn::KeptOut, at("2026-05-01T06:00"))];
    let known = Known { name: "Wren".to_owned(), turns, doses: vec![dose], ..Known::default() };
    let judged = judge(&known, &Rules::default(), &[6 * 60, 18 * 60], at("2026-05-14T12:00"), new_york());
    assert_eq!(judged.standing, Standing::KeptOut(at("2026-05-01T06:00")));
    assert!(matches!(judged.reasons.as_slice(), [Reason::Treated(_), Reason::KeptOut(_)]));
    let says = judged.joins("Wren", at("2026-05-14T12:00"), new_york());
    assert_eq!(says, "Wren stays out until somebody writes that she joins, and not before Friday morning.");
    let later = judge(&known, &Rules::default(), &[6 * 60, 18 * 60], at("2026-05-15T12:00"), new_york());
    assert!(!later.in_the_can());
}
