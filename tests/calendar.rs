//! What is due: tests, papers, cows and thermometers, on the calendar, on Today and in the file that leaves the farm.

#![allow(clippy::unwrap_used, reason = "a test that cannot set itself up has failed")]

use crate::farm::{Farm, Page, at};
use std::collections::BTreeSet;
use tallypail::{
    paper::ics,
    store::calendar,
    trade::{
        calendar::{Due, Facts, Followed, HerdCow, list},
        frequency::Frequencies,
        rules::places,
        when::Zone,
    },
    web::visitor::Role,
};

/// Rules of the farm's own, followed from the second day of the year.
async fn follow(farm: &Farm, cells: &[(&str, &str)]) {
    let own = [("place", "own"), ("since", "2026-01-02"), ("title", "Own rules"), ("citation", "Test Code 1"), ("sure", "our own choice")];
    let steps = if cells.iter().any(|(name, _)| *name == "steps") {
        &[][..]
    } else {
        &[("steps", "cool 40 °F within 120 min of milking end [chosen]")]
    };
    farm.keep("rules", &[&own[..], steps, cells].concat()).await;
}

async fn milked(farm: &Farm, session: &str, started: &str, ended: &str) {
    farm.keep("milkings", &[("session", session), ("started", started), ("ended", ended), ("milker", "Mina"), ("well", "yes")]).await;
    let pail = [("milking", session), ("cow", "Damson"), ("read", "17.2 lb"), ("milk", "17.2 lb"), ("went", "can"), ("vessel", "Can 1")];
    farm.keep("pails", &[&pail[..], &[("foremilk", "ok")]].concat()).await;
}

/// A lot filled at a time from some milkings.
async fn filled(farm: &Farm, code: &str, when: &str, sessions: &[&str]) {
    let jars = [("gallons", "0"), ("half_gallons", "6"), ("quarts", "0"), ("pints", "0")];
    farm.keep("lots", &[&[("code", code), ("filled", when), ("vessel", "Can 1")][..], &jars].concat()).await;
    for session in sessions {
        farm.keep("sources", &[("lot", code), ("milking", session)]).await;
    }
}

/// A farm that milks since New Year, with one lot to draw bottles from.
async fn in_milk() -> Farm {
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

async fn renewal(farm: &Farm, sort: &str, what: &str, done: &str, until: &str) {
    farm.keep("renewals", &[("sort", sort), ("what", what), ("done", done), ("until", until)]).await;
}

async fn facts(farm: &Farm) -> Facts {
    calendar::facts(&mut farm.ledger.read().await.unwrap(), Zone::parse("America/New_York").unwrap(), farm.now).await.unwrap()
}

/// The line of the calendar with this title.
#[track_caller]
fn line(due: &[Due], title: &str) -> Due {
    due.iter().find(|own| own.title() == title).unwrap_or_else(|| panic!("no “{title}” in {due:#?}")).clone()
}

/// The part of Today under “To put right”.
fn wrong(page: &Page) -> &str {
    page.text.split_once("To put right</h2>").unwrap().1.split_once("<h2>Due</h2>").unwrap().0
}

/// The part of Today under “Due”.
fn due(page: &Page) -> &str {
    page.text.split_once("<h2>Due</h2>").unwrap().1.split_once("Kept out of the can</h2>").unwrap().0
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

/// The content lines of a calendar file: each of at most 75 octets before its CRLF, folded ones put together again
/// (RFC 5545, 3.1).
#[track_caller]
fn content_lines(file: &str) -> Vec<String> {
    assert!(file.ends_with("\r\n") && !file.replace("\r\n", "").contains(['\r', '\n']), "every line ends with CRLF");
    let mut lines: Vec<String> = Vec::new();
    for line in file.trim_end().split("\r\n") {
        assert!(line.len() <= 75, "{} octets: {line}", line.len());
        match line.strip_prefix(' ') {
            Some(rest) => lines.last_mut().unwrap().push_str(rest),
            None => lines.push(line.to_owned()),
        }
    }
    lines
}

/// Sources: RFC 5545, 3.1 (lines), 3.4 (the object), 3.6.1 (DTSTAMP and UID once each, an all-day event), 3.6.6 (a display alarm),
/// 3.3.11 (text). That nobody's name leaves the farm is this program's own rule.
#[tokio::test]
async fn the_file_is_what_rfc_5545_asks_for_and_names_nobody() {
    let mut farm = in_milk().await;
    follow(&farm, &[("tests", "plate count, coliforms: 1 a month, each cow [read]; TB test: every 13 months [read]")]).await;
    farm.keep(
        "people",
        &[("label", "M1"), ("name", "Nora Quillfeather"), ("sort", "member"), ("channel", "herdshare"), ("since", "2026-01-01")],
    )
    .await;
    renewal(&farm, "agreement", "Herdshare of Nora Quillfeather", "2025-06-10", "2026-06-09").await;
    renewal(&farm, "permit", "Ours; and Tobe's, too", "2025-06-10", "2026-06-09").await;
    farm.keep("chill", &[("lot", "6001A-6"), ("at", "2026-05-13T08:00"), ("temperature", "38"), ("thermometer", "Tobe's own")]).await;
    let sent = farm.visit(Role::Owner, "/calendar.ics").await;
    assert_eq!((sent.status, sent.kind.as_str()), (200, "text/calendar; charset=utf-8"));
    let lines = content_lines(&sent.text);
    assert_eq!(lines[..4], ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Tallypail//What is due//EN", "CALSCALE:GREGORIAN"]);
    assert_eq!(lines.last().unwrap(), "END:VCALENDAR");
    let whole = lines.join("\n");
    for never in ["Nora", "Quill", "Tobe", "Mina", "herdshare of", "555-"] {
        assert!(!whole.to_lowercase().contains(&never.to_lowercase()), "{never} in {whole}");
    }
    let events: Vec<&str> = whole.split("BEGIN:VEVENT\n").skip(1).map(|event| event.split("END:VEVENT").next().unwrap()).collect();
    assert_eq!(events.len(), list(&facts(&farm).await).len());
    for event in &events {
        let own = event.split("BEGIN:VALARM").next().unwrap();
        for once in ["UID:", "DTSTAMP:20260514T160000Z", "DTSTART;VALUE=DATE:", "SUMMARY:", "DESCRIPTION:"] {
            assert_eq!(own.lines().filter(|line| line.starts_with(once)).count(), 1, "{once} in {event}");
        }
        assert!(!own.contains("DTEND"), "the end of an all-day event of one day may be left out, and may not be its first day");
        assert!(own.contains("Source: ") && own.contains("Follow your local raw-milk law."), "{event}");
    }
    let alarms: Vec<&&str> = events.iter().filter(|event| event.contains("BEGIN:VALARM")).collect();
    assert_eq!(alarms.len(), 2, "a permit and an agreement");
    assert!(alarms.iter().all(|event| event.contains("ACTION:DISPLAY") && event.contains("TRIGGER:-P7D")), "{alarms:?}");
    // The same marks an hour later, and none of them twice.
    let marks = |text: &str| content_lines(text).into_iter().filter(|line| line.starts_with("UID:")).collect::<Vec<_>>();
    farm.clock("2026-05-14T13:00");
    let again = farm.visit(Role::Owner, "/calendar.ics").await;
    assert_eq!(marks(&sent.text), marks(&again.text));
    assert_eq!(marks(&sent.text).iter().collect::<BTreeSet<_>>().len(), marks(&sent.text).len());
    again.says("DTSTAMP:20260514T170000Z");
    assert!(!ics::print(&[], "Tansyditch Farm", farm.now).is_empty());
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

/// Source: the rule itself, here of ten quarts a week; the week runs from Monday to Sunday (this program's choice), and a half-gallon
/// is two quarts (NIST Handbook 44, Appendix C).
#[tokio::test]
async fn a_cap_is_named_when_it_is_near_and_when_it_is_over() {
    let farm = in_milk().await;
    follow(&farm, &[("caps", "10 quarts a week [read]; 2 cows in milk (above it a permit is needed) [memory]")]).await;
    let out = async |jars: &str| {
        let sizes = [("gallons", "0"), ("half_gallons", jars), ("quarts", "0"), ("pints", "0"), ("evidence", "seen")];
        let then =
            [("at", "2026-05-12T10:00"), ("lot", "6001A-6"), ("verdict", "Can go"), ("because", "Cold in time."), ("facts", "read 38 °F")];
        farm.keep("pickups", &[&then[..], &sizes].concat()).await;
    };
    farm.visit(Role::Owner, "/").await.never_says("a cap");
    out("5").await;
    let today = farm.visit(Role::Owner, "/").await;
    assert!(due(&today).contains("Near a cap: 10 of 10 quarts a week"), "{}", due(&today));
    out("1").await;
    let today = farm.visit(Role::Owner, "/").await;
    assert!(wrong(&today).contains("Over a cap: 12 of 10 quarts a week") && wrong(&today).contains("Test Code 1"), "{}", wrong(&today));
    for cow in ["Kettle", "Wren"] {
        farm.keep("events", &[("cow", cow), ("at", "2026-05-01T06:00"), ("sort", "calved")]).await;
    }
    let today = farm.visit(Role::Owner, "/").await;
    assert!(
        due(&today).contains("Over a cap: 3 of 2 cows in milk") && due(&today).contains("above it a permit is needed"),
        "{}",
        due(&today)
    );
    farm.visit(Role::Helper, "/").await.never_says("a cap");
}

/// Source: common practice: a thermometer is held in ice water every month, and one off by more than 2 °F there is weak evidence. Off
/// by 2 °F, a reading of 39 °F shows neither that milk was at 40 °F nor that it was not.
#[tokio::test]
async fn a_thermometer_is_checked_and_its_readings_guarded() {
    let mut farm = in_milk().await;
    follow(&farm, &[]).await;
    farm.keep("events", &[("cow", "Damson"), ("at", "2026-01-01T05:00"), ("sort", "joined the can")]).await;
    milked(&farm, "2026-05-14 AM", "2026-05-14T05:40", "2026-05-14T06:05").await;
    filled(&farm, "6134A-S", "2026-05-14T06:20", &["2026-05-14 AM"]).await;
    farm.keep("chill", &[("lot", "6134A-S"), ("at", "2026-05-14T07:35"), ("temperature", "39"), ("thermometer", "Red")]).await;
    let page = farm.visit(Role::Helper, "/").await;
    assert!(due(&page).contains("Check Red in ice water") && due(&page).contains("thermometer=Red"), "{}", due(&page));
    assert!(!wrong(&page).contains("6134A-S"), "{}", wrong(&page));
    let check = async |farm: &Farm, when: &str, reading: &str| {
        farm.keep("ice_checks", &[("thermometer", "red "), ("at", when), ("reading", reading)]).await;
    };
    check(&farm, "2026-05-14T08:00", "34").await;
    let page = farm.visit(Role::Helper, "/").await;
    assert!(!due(&page).contains("Red"), "2 °F off is still good: {}", due(&page));
    assert!(wrong(&page).contains("Can&#39;t tell") && wrong(&page).contains("6134A-S"), "{}", wrong(&page));
    check(&farm, "2026-05-14T07:40", "35").await;
    let page = farm.visit(Role::Helper, "/").await;
    assert!(due(&page).contains("Weak readings with Red") && due(&page).contains("6134A-S"), "{}", due(&page));
    check(&farm, "2026-05-14T09:00", "29").await;
    let page = farm.visit(Role::Helper, "/").await;
    assert!(due(&page).contains("Check Red in ice water") && due(&page).contains("3 °F too little"), "{}", due(&page));
    assert_eq!(due(&page).matches("thermometer=Red").count(), 1, "one line for one thermometer");
    check(&farm, "2026-05-14T09:30", "32").await;
    farm.clock("2026-06-12T12:00");
    let all = list(&facts(&farm).await);
    assert_eq!(line(&all, "Ice-water check of a thermometer: Red").day, "2026-06-14".parse().unwrap());
}

/// Source: the rule's own steps, 50 °F at each later milking (7 CFR 58.137 speaks of a blend temperature), and 40 °F within two hours.
#[tokio::test]
async fn a_blend_is_asked_for_at_once() {
    let mut farm = Farm::new().await;
    follow(&farm, &[("steps", "cool 40 °F within 120 min of milking end [chosen]; blend 50 °F at each later milking [chosen]")]).await;
    farm.keep("events", &[("cow", "Damson"), ("at", "2026-03-01T06:00"), ("sort", "joined the can")]).await;
    milked(&farm, "2026-05-13 PM", "2026-05-13T17:40", "2026-05-13T18:05").await;
    milked(&farm, "2026-05-14 AM", "2026-05-14T05:40", "2026-05-14T06:05").await;
    filled(&farm, "6134A-S", "2026-05-14T06:20", &["2026-05-13 PM", "2026-05-14 AM"]).await;
    farm.keep("chill", &[("lot", "6134A-S"), ("at", "2026-05-13T19:00"), ("temperature", "38")]).await;
    farm.clock("2026-05-14T06:30");
    let page = farm.visit(Role::Helper, "/").await;
    assert!(
        due(&page).contains("Chill reading as soon as the later milking is in") && due(&page).contains("it must not be above 50 °F"),
        "{}",
        due(&page)
    );
    farm.keep("chill", &[("lot", "6134A-S"), ("at", "2026-05-14T06:25"), ("temperature", "47")]).await;
    let page = farm.visit(Role::Helper, "/").await;
    assert!(due(&page).contains("Chill reading by 08:05") && due(&page).contains("40 °F or less"), "{}", due(&page));
    assert_eq!(farm.now, at("2026-05-14T06:30"));
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
