//! What is due, and when: tests, papers, cows and answers, on the calendar and on Today.

#![allow(clippy::unwrap_used, reason = "a test that cannot set itself up has failed")]

use crate::{
    farm::Farm,
    mornings::{filled, follow, milked},
    today::{due, wrong},
};
use std::collections::BTreeSet;
use tallypail::{
    store::calendar,
    trade::{
        calendar::{Due, Facts, Followed, HerdCow, list},
        frequency::Frequencies,
        rules::places,
        when::Zone,
    },
    web::visitor::Role,
};

/// A farm that milks since New Year, with one lot to draw bottles from.
pub async fn in_milk() -> Farm {
    let farm = Farm::new().await;
    milked(&farm, "2026-01-01 AM", "2026-01-01T05:40", "2026-01-01T06:05").await;
    filled(&farm, "6001A-6", "2026-01-01T06:20", &["2026-01-01 AM"]).await;
    farm
}

async fn bottle(farm: &Farm, drawn: &str, of: &[(&str, &str)], reported: &str, results: &[(&str, &str, &str)]) {
    let drawn = format!("{drawn}T08:00");
    let sample = farm.keep("samples", &[&[("drawn", drawn.as_str())], of].concat()).await.to_string();
    for (analyte, figure, unit) in results {
        farm.keep(
            "results",
            &[("sample", sample.as_str()), ("analyte", analyte), ("figure", figure), ("unit", unit), ("reported", reported)],
        )
        .await;
    }
}

async fn milk_bottle(farm: &Farm, drawn: &str, reported: &str, results: &[(&str, &str, &str)]) {
    bottle(farm, drawn, &[("subject", "lot"), ("lot", "6001A-6")], reported, results).await;
}

/// A paper of the farm's, or something done again and again.
pub async fn renewal(farm: &Farm, sort: &str, what: &str, done: &str, until: &str) {
    farm.keep("renewals", &[("sort", sort), ("what", what), ("done", done), ("until", until)]).await;
}

/// What the calendar is made from.
pub async fn facts(farm: &Farm) -> Facts {
    calendar::facts(&mut farm.ledger.read().await.unwrap(), Zone::parse("America/New_York").unwrap(), farm.now).await.unwrap()
}

/// The line of the calendar with this title.
#[track_caller]
pub fn line(due: &[Due], title: &str) -> Due {
    due.iter().find(|own| own.title() == title).unwrap_or_else(|| panic!("no “{title}” in {due:#?}")).clone()
}

/// Source: O.C.G.A. 26-2-457(d): four in six months, in three where two dates of one month lie 20 days apart; 10 and 31 March
/// are 21. The first six months without enough then end with July.
#[tokio::test]
async fn georgias_four_samples_keep_the_first_half_of_the_year() {
    let mut farm = in_milk().await;
    follow(&farm, &[("tests", "plate count: 4 in 6 months, in 4 months or in 3 with two dates 20 days apart [read]")]).await;
    for drawn in ["2026-01-05", "2026-02-03", "2026-03-10", "2026-03-31"] {
        milk_bottle(&farm, drawn, "2026-04-02", &[("plate count", "4,000", "per mL")]).await;
    }
    farm.clock("2026-06-15T12:00");
    let page = farm.visit(Role::Owner, "/calendar").await;
    page.came_with(200).says("July 2026</h2>").says("Milk test: plate count").says("By Fri 31 Jul 2026").never_says("Overdue");
    page.says("4 of 4 plate counts in the six months to 30 Jun 2026").says("Source: Own rules (Test Code 1), read in the law");
    farm.visit(Role::Owner, "/").await.never_says("Milk test");
}

/// Sources: 7 Pa. Code 59a.404(b)(2): TB tests no more than 13 months apart; 59a.407(b): water every six months, and at once
/// after a repair.
#[tokio::test]
async fn tb_after_thirteen_months_and_water_after_six() {
    let mut farm = in_milk().await;
    follow(&farm, &[("tests", "TB test: every 13 months [read]; water coliforms: every 6 months [read]")]).await;
    renewal(&farm, "TB test", "Whole herd", "2025-03-01", "").await;
    bottle(&farm, "2026-01-10", &[("subject", "water"), ("place", "barn tap")], "2026-01-14", &[("water coliforms", "<1", "per 100 mL")])
        .await;
    farm.clock("2026-03-25T12:00");
    let page = farm.visit(Role::Owner, "/calendar").await;
    page.says("By Wed 1 Apr 2026").says("By Fri 10 Jul 2026").says("at once after a repair of the well").never_says("Overdue");
    page.says("/records/renewals/new?sort=TB%20test").says("/lab/samples/new?subject=water");
    let today = farm.visit(Role::Owner, "/").await;
    assert!(
        due(&today).contains("TB test") && due(&today).contains("by Wed 1 Apr 2026") && !due(&today).contains("Water"),
        "{}",
        due(&today)
    );
    farm.clock("2026-04-02T12:00");
    farm.visit(Role::Owner, "/calendar").await.says("Overdue</h2>").says("Was due by Wed 1 Apr 2026");
    // One test of one cow makes it a matter of each cow.
    farm.keep("renewals", &[("sort", "TB test"), ("what", "Damson"), ("done", "2026-04-01"), ("cow", "Damson")]).await;
    let now = list(&facts(&farm).await);
    assert_eq!(line(&now, "TB test: Damson").day, "2027-05-01".parse().unwrap());
    assert!(line(&now, "TB test: Wren").overdue);
}

/// Sources: Grade "A" PMO section 6 as Oklahoma follows it, a fresh sample 3 to 21 days after the notice; 21.34.2.14(D) NMAC,
/// 3 to 10 days. The ledger has no day of the notice, so the lab's day stands in for it (this program's choice).
#[tokio::test]
async fn a_fresh_sample_belongs_between_two_days() {
    for (within, last) in [("21", "2026-03-22"), ("10", "2026-03-11")] {
        let mut farm = in_milk().await;
        let limits = ("limits", "plate count at most 20000 per mL, 2 of 4 notice, 3 of 5 action [read]");
        follow(&farm, &[limits, ("resample_after", "3"), ("resample_within", within)]).await;
        milk_bottle(&farm, "2026-02-10", "2026-02-13", &[("plate count", "30,000", "per mL")]).await;
        farm.clock("2026-03-01T12:00");
        assert!(!list(&facts(&farm).await).iter().any(|due| due.what.starts_with("Fresh sample")), "one of one is no notice");
        milk_bottle(&farm, "2026-02-26", "2026-03-01", &[("plate count", "30,000", "per mL")]).await;
        let own = line(&list(&facts(&farm).await), "Fresh sample after a notice: plate count");
        assert_eq!((own.from, own.day), (Some("2026-03-04".parse().unwrap()), last.parse().unwrap()));
        assert!(own.detail.contains("when the lab reported"), "{}", own.detail);
        farm.clock("2026-04-01T12:00");
        assert!(line(&list(&facts(&farm).await), "Fresh sample after a notice: plate count").overdue);
        milk_bottle(&farm, "2026-03-03", "2026-03-05", &[("plate count", "2,000", "per mL")]).await;
        line(&list(&facts(&farm).await), "Fresh sample after a notice: plate count");
        milk_bottle(&farm, "2026-03-04", "2026-03-06", &[("plate count", "2,000", "per mL")]).await;
        assert!(!list(&facts(&farm).await).iter().any(|due| due.what.starts_with("Fresh sample")), "drawn on the first day that counts");
    }
}

/// Source: Utah Code 4-3-503 as kept in the rule file: above 40,000 the law calls for a test for pathogens. A panel is whole with
/// the germs raw milk is commonly looked through for (common practice), and one of them alone is none.
#[tokio::test]
async fn a_result_that_calls_for_a_test_waits_for_it() {
    let mut farm = in_milk().await;
    follow(&farm, &[("limits", "plate count at most 20000 per mL, above 40000 calls for pathogens [read]")]).await;
    milk_bottle(&farm, "2026-05-04", "2026-05-07", &[("plate count", "40,000", "per mL")]).await;
    assert!(!farm.visit(Role::Owner, "/calendar").await.text.contains("Called for by"), "40,000 is not above it");
    milk_bottle(&farm, "2026-05-06", "2026-05-09", &[("plate count", "50,000", "per mL")]).await;
    farm.visit(Role::Owner, "/calendar")
        .await
        .says("Milk test: pathogens")
        .says("Called for by Plate count 50,000 per mL, reported Sat 9 May 2026");
    let today = farm.visit(Role::Owner, "/").await;
    assert!(wrong(&today).contains("Milk test: pathogens") && wrong(&today).contains("href=\"/calendar\""), "{}", wrong(&today));
    farm.clock("2026-05-20T12:00");
    milk_bottle(&farm, "2026-05-15", "2026-05-19", &[("Salmonella", "not detected", "in 25 mL")]).await;
    farm.visit(Role::Owner, "/calendar").await.says("Called for by");
    milk_bottle(&farm, "2026-05-16", "2026-05-19", &[("pathogens", "not detected", "in 25 mL")]).await;
    farm.visit(Role::Owner, "/calendar").await.never_says("Called for by");
}

/// Common practice: of papers of one name only the newest counts; a permit is named a month before it ends, and is wrong once it has.
#[tokio::test]
async fn only_the_newest_permit_counts_and_it_is_named_in_time() {
    let mut farm = Farm::new().await;
    renewal(&farm, "permit", "Raw milk permit", "2025-06-10", "2026-06-09").await;
    renewal(&farm, "insurance", "Liability", "2025-06-10", "2026-06-20").await;
    let today = farm.visit(Role::Owner, "/").await;
    assert!(due(&today).contains("Permit: Raw milk permit") && !due(&today).contains("Insurance"), "{}", due(&today));
    farm.clock("2026-06-10T12:00");
    let today = farm.visit(Role::Owner, "/").await;
    assert!(wrong(&today).contains("Permit: Raw milk permit") && due(&today).contains("Insurance: Liability"), "{}", today.text);
    renewal(&farm, "permit", " raw milk PERMIT ", "2026-06-08", "2027-06-09").await;
    let all = list(&facts(&farm).await);
    assert_eq!(all.iter().filter(|due| due.what == "Permit").map(|due| due.day.to_string()).collect::<Vec<_>>(), ["2027-06-09"]);
    farm.visit(Role::Owner, "/").await.never_says("Permit");
    farm.visit(Role::Helper, "/").await.never_says("Insurance");
    farm.visit(Role::Helper, "/calendar").await.came_with(403);
    farm.visit(Role::Helper, "/calendar.ics").await.came_with(403).never_says("BEGIN");
}

/// Sources: 283 days from service to calving and 60 days dry (common practice); the calendar, arithmetic.
#[tokio::test]
async fn a_served_cow_is_dried_off_and_calves() {
    let mut farm = in_milk().await;
    let turn = async |farm: &Farm, when: &str, sort: &str, due: &str| {
        farm.keep("events", &[("cow", "Damson"), ("at", when), ("sort", sort), ("due", due)]).await;
    };
    turn(&farm, "2025-08-20T12:00", "served", "").await;
    farm.clock("2026-03-20T12:00");
    let all = list(&facts(&farm).await);
    assert_eq!(line(&all, "Damson is due to calve").day, "2026-05-30".parse().unwrap());
    assert_eq!(line(&all, "Dry off Damson").day, "2026-03-31".parse().unwrap());
    turn(&farm, "2026-03-20T09:00", "dried off", "").await;
    assert!(!list(&facts(&farm).await).iter().any(|due| due.what == "Dry off Damson"));
    turn(&farm, "2026-03-20T10:00", "in calf", "2026-06-02").await;
    assert_eq!(line(&list(&facts(&farm).await), "Damson is due to calve").day, "2026-06-02".parse().unwrap());
    farm.clock("2026-06-04T12:00");
    turn(&farm, "2026-06-03T04:00", "calved", "").await;
    assert!(!list(&facts(&farm).await).iter().any(|due| due.what.contains("calve")));
}

/// Source: the calendar: 29 February has no namesake in 2029, and its last day stands in for it.
#[tokio::test]
async fn a_leap_day_is_a_day_like_others() {
    let mut farm = in_milk().await;
    farm.clock("2028-02-29T12:00");
    renewal(&farm, "permit", "Raw milk permit", "2026-03-01", "2028-02-29").await;
    renewal(&farm, "practice call-back", "With three families", "2028-02-29", "").await;
    let all = list(&facts(&farm).await);
    assert!(!line(&all, "Permit: Raw milk permit").overdue, "it is good to the end of that day");
    assert_eq!(line(&all, "Practice call-back").day, "2029-02-28".parse().unwrap());
    let file = farm.visit(Role::Owner, "/calendar.ics").await;
    file.says("DTSTART;VALUE=DATE:20280229").says("DTSTART;VALUE=DATE:20290228");
}

/// Source: this program's own rule: nothing is due that cannot be done. Every place's rules are tried on a farm without a cow and
/// without milk; water can be tested and an inspection asked for.
#[test]
fn an_empty_farm_is_not_nagged() {
    let rules = |set: tallypail::trade::rules::RuleSet| Followed {
        number: 1,
        source: set.title,
        limits: set.limits,
        tests: set.tests,
        ..Followed::default()
    };
    let all: Vec<Followed> = places().unwrap().into_iter().map(rules).collect();
    let mut empty = Facts {
        zone: Zone::UTC,
        today: "2026-05-14".parse().unwrap(),
        since: "2026-05-14".parse().unwrap(),
        milk_since: None,
        rules: all,
        results: Vec::new(),
        received: Vec::new(),
        cows: Vec::new(),
        renewals: Vec::new(),
        thermometers: Vec::new(),
        agreements: Vec::new(),
        notices: Vec::new(),
    };
    let found = list(&empty);
    assert!(!found.is_empty() && found.iter().all(|due| !due.overdue), "{found:#?}");
    assert!(found.iter().all(|due| due.what.starts_with("Water test") || due.what == "Inspection"), "{found:#?}");
    // Rules of two places that ask for the same thing ask for it once.
    empty.milk_since = Some(empty.since);
    let found = list(&empty);
    let titles: Vec<String> = found.iter().map(Due::title).collect();
    assert_eq!(titles.iter().collect::<BTreeSet<_>>().len(), titles.len(), "{titles:#?}");
    assert!(titles.iter().any(|title| title == "Milk test: plate count"));
}

/// Source: this program's own rule: a rule that asks of each cow is about those in milk for milk, and about the herd otherwise.
#[test]
fn each_cow_means_each_cow() {
    use tallypail::trade::retests::Tests;
    let cow = |name: &str, in_milk| HerdCow { name: name.to_owned(), since: "2026-01-01".parse().unwrap(), in_milk, due: None };
    let rules = Followed {
        tests: Frequencies::parse("coliforms: 1 a month, each cow [read]; vet exam with blood test: every 12 months, each cow [read]")
            .unwrap(),
        ..Followed::default()
    };
    let day = |text: &str| text.parse().unwrap();
    let tests = Tests {
        zone: Zone::UTC,
        today: day("2026-05-14"),
        since: day("2026-01-01"),
        milk_since: Some(day("2026-05-01")),
        rules: &[rules],
        results: &[],
        received: &[],
        cows: &[cow("Damson", true), cow("Wren", false)],
        renewals: &[],
    };
    let titles: Vec<String> = tests.due().iter().map(|due| format!("{} {}", due.title(), due.when())).collect();
    assert_eq!(
        titles,
        [
            "Milk test of Damson: coliforms by Sun 31 May 2026",
            "Vet exam with blood test: Damson by Fri 1 Jan 2027",
            "Vet exam with blood test: Wren by Fri 1 Jan 2027",
            "Practice call-back by Sat 1 May 2027"
        ]
    );
}

/// Source: the job: what is not known is said, and never read as not required.
#[tokio::test]
async fn what_is_not_known_is_said() {
    let farm = in_milk().await;
    follow(&farm, &[("tests", "plate count: as the department sets [read]")]).await;
    let page = farm.visit(Role::Owner, "/calendar").await;
    page.says("How often coliforms, water for coliforms and cows for TB must be tested is not known for this place.");
    page.says("How often plate counts must be tested is not written down: the department sets it.");
}

/// Source: 21 CFR 1.361 (records within 24 hours of being asked for) and Conn. Agencies Regs. 22-133-130 (a violation is
/// answered in writing within 15 days).
#[tokio::test]
async fn what_is_asked_for_is_owed_until_it_is_answered() {
    let farm = in_milk().await;
    farm.keep("notices", &[("sort", "notice of a violation"), ("at", "2026-05-13T09:00"), ("sender", "Dairy division")]).await;
    let asked = [("sort", "records asked for by an official"), ("at", "2026-05-14T07:00"), ("sender", "Dairy division")];
    farm.keep("notices", &asked).await;
    let page = farm.visit(Role::Owner, "/calendar").await;
    page.says("Records are owed within 24 hours").says("21 CFR 1.361").says("By Thu 28 May 2026").says("Conn. Agencies Regs. 22-133-130");
    page.never_says("Dairy division");
    farm.keep("notices", &[&asked[..], &[("answered", "2026-05-14T07:30")]].concat()).await;
    let open = facts(&farm).await.notices;
    assert_eq!(open.len(), 2, "the answered one is owed no more");
}
