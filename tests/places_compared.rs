//! The same milk under the rules of several places, from the sample farm: a page for people, held to what the program says.
//!
//! `TALLYPAIL_WRITE_SAMPLE=1 cargo test the_page_of_places` writes `docs/places-compared.md` afresh.

#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use crate::farm::Farm;
use std::{collections::HashMap, fs, path::Path};
use tallypail::{
    store::{records, verdict},
    trade::{
        chilled::Chilled,
        coldness::{Outcome, Why},
        herd::ColostrumRule,
        kinds::kind,
        rules::{Channel, RuleSet, places},
        tested::Tested,
        verdict::{Facts, Finding, Rules, RulesOfDay, Verdict, Word, judge, judge_for},
        when::{Day, Moment},
    },
};

/// The places compared, in the order of the page, each with the short name its column has.
const COMPARED: [(&str, &str); 5] = [
    ("us-pa-permit", "Pennsylvania"),
    ("us-ct-retail-raw", "Connecticut"),
    ("us-nm-retail-raw", "New Mexico"),
    ("us-ga-raw-dairy-act", "Georgia"),
    ("fr-2012-direct", "France"),
];
/// The fourteen days compared, and a few lots from other times that something happened to.
const DAYS: (&str, &str) = ("2026-07-05", "2026-07-18");
const BESIDE: [&str; 3] = ["6104A-F", "6148A-4", "6258A-D"];

const LEAD: &str = "\
# The same milk in five places

Follow your local raw-milk law. This is a record, not legal, medical or veterinary advice. Nothing here says that milk is safe
to drink, and nothing says that a rule is in force: see [Where each rule comes from](rules.md), and ask your health department.

Here is the milk of the invented farm that Tallypail carries as its sample: fourteen days of a hot July, and three lots from
other times. Every lot is judged as on the third evening after it was filled, once by each place's rules as far as they are
known here. The farm, its cows, its readings and its lab are the same in every column. Only the rule changes.

Why the words differ:

- **How cold, and by when.** Pennsylvania's 7 Pa. Code 59a.408 gives two hours from the end of milking to reach 40 °F. Connecticut's
  Regs. 22-133-124 to 131 ask for the same 40 °F but give three hours, so a jar read late there may still have been read in time.
  New Mexico's 21.34.2 NMAC asks only for 45 °F in two hours, and Georgia's Raw Dairy Act (O.C.G.A. 26-2-458) for 7 °C in two
  hours. France's arrêté of 13 July 2012 asks for 4 °C, which is 39.2 °F: a jar read at 39.4 °F is cold enough in Pennsylvania and not there.
- **What is missing is not a yes.** A reading taken too late, or none, is *Can't tell* where the time for it has run out, whatever the next
  reading shows. A reading that is plainly too warm is *Keep back*.
- **What the lab may find.** Twelve coliforms in a milliliter are over Pennsylvania's and Georgia's limit of 10, and well under
  the 50 of Connecticut and New Mexico; the rules read for France name no coliforms in drinking milk at all. By the rules of Pennsylvania and
  Georgia one result over is not yet a notice: two of the last four are. So there the word is *Wait*, and the owner is asked.
- **What none of them names.** Where a place names no days after calving, the farm's own five are used, as the farm's rules have
  them. Nothing the owner decided is counted here.

";

fn rules_of(set: &RuleSet) -> Rules {
    let after = set.colostrum.as_ref();
    Rules {
        source: set.title.clone(),
        steps: set.steps.clone(),
        fresh: ColostrumRule {
            days_before: after.and_then(|rule| rule.days_before),
            days_after: after.and_then(|rule| rule.days_after).or(Some(5)),
            milkings: after.and_then(|rule| rule.milkings),
        },
        best_by: set.best_by.map(|best| (best.days, best.from)),
        channels: set.channels.clone(),
        limits: set.limits.clone(),
        strip_fails: None,
        each_cow: set.tests.of_each_cow(),
        unread: vec![],
    }
}

/// Every lot of the sample farm, with all that is known of it, by its code.
async fn known() -> (Vec<String>, HashMap<String, Facts>) {
    let farm = Farm::sample().await;
    let zone = farm.ways().await.zone;
    let mut db = farm.ledger.read().await.unwrap();
    let numbers: Vec<i64> = records::list(&mut db, kind("lots").unwrap()).await.unwrap().iter().map(|lot| lot.number).collect();
    let facts = verdict::facts(&mut db, &numbers, zone, farm.now).await.unwrap();
    let codes = facts.iter().map(|facts| facts.code.clone()).collect();
    (codes, facts.into_iter().map(|facts| (facts.code.clone(), Facts { decisions: vec![], ..facts })).collect())
}

/// A lot as it stood on its third evening, under some rules; what it was made from is judged by the same rules.
fn under(all: &HashMap<String, Facts>, code: &str, rules: &Rules, now: Option<Moment>) -> (Facts, Moment) {
    let facts = &all[code];
    let day = facts.zone.day(facts.filled) + chrono::Days::new(3);
    let now = now.unwrap_or_else(|| facts.zone.parse_moment(&format!("{day}T20:00")).unwrap());
    let parents = facts.parents.iter().map(|parent| under(all, &parent.code, rules, Some(now)).0);
    (Facts { parents: parents.collect(), rules: RulesOfDay { base: rules.clone(), beside: vec![], used: vec![] }, ..facts.clone() }, now)
}

/// The reason in a few words.
fn in_few(verdict: &Verdict) -> String {
    let few = match verdict.findings.first().unwrap() {
        Finding::Chill(chilled) => chill_in_few(chilled),
        Finding::Tested(Tested::Own { limit, .. }) => format!("{} over its limit", limit.analyte),
        Finding::BestBy { .. } => "its last day is over".to_owned(),
        Finding::Parent { code, .. } => format!("made from {code}"),
        other => other.about().to_lowercase(),
    };
    match verdict.word() {
        Word::CanGo => "Can go".to_owned(),
        word => format!("**{word}**: {few}"),
    }
}

fn chill_in_few(chilled: &Chilled) -> String {
    let worst = chilled.findings.iter().find(|finding| finding.outcome.standing() == chilled.overall);
    let Some(finding) = worst else { return "it warmed up again".to_owned() };
    let limit = finding.step.limit;
    match finding.outcome {
        Outcome::NotMet { temperature, .. } => format!("{temperature}, not {limit}"),
        Outcome::NotKnown => "its time is not known".to_owned(),
        Outcome::NotShown { why: Why::TooLate, .. } => format!("{limit} read too late"),
        Outcome::NotShown { why: Why::AtOnce, .. } => format!("{limit} at once not shown"),
        Outcome::NotShown { why: Why::Doubtful(_), .. } => "the probe was off".to_owned(),
        Outcome::NotShown { .. } => format!("{limit} not read in time"),
        Outcome::Met { .. } | Outcome::Due { .. } => "it warmed up again".to_owned(),
    }
}

fn written(codes: &[String], all: &HashMap<String, Facts>) -> String {
    let sets = places().unwrap();
    let rules = COMPARED.map(|(id, _)| rules_of(sets.iter().find(|set| set.id == id).unwrap()));
    let (from, to): (Day, Day) = (DAYS.0.parse().unwrap(), DAYS.1.parse().unwrap());
    let shown = |code: &&String| {
        let filled = all[*code].zone.day(all[*code].filled);
        (from..=to).contains(&filled) || BESIDE.contains(&code.as_str())
    };
    let mut page = LEAD.to_owned();
    page.push_str(&format!("| Lot | Filled | {} |\n|---|---|{}\n", COMPARED.map(|(_, name)| name).join(" | "), "---|".repeat(5)));
    for code in codes.iter().filter(shown) {
        let cells = rules.each_ref().map(|rules| {
            let (facts, now) = under(all, code, rules, None);
            in_few(&judge(&facts, now))
        });
        page.push_str(&format!("| {code} | {} | {} |\n", all[code].zone.in_full(all[code].filled), cells.join(" | ")));
    }
    page.push_str("\nThis page is written by the program's own tests, from `sample-data/` and `server/trade/places.json`.\n");
    page
}

/// Source: the laws named on the page, as `docs/rules.md` has them.
#[tokio::test]
async fn the_page_of_places_is_what_the_program_says() {
    let (codes, all) = known().await;
    let page = written(&codes, &all);
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/places-compared.md");
    if std::env::var_os("TALLYPAIL_WRITE_SAMPLE").is_some() {
        fs::write(&file, &page).unwrap();
    }
    let kept = fs::read_to_string(&file).unwrap_or_default();
    assert!(kept == page, "docs/places-compared.md is not what the program says. TALLYPAIL_WRITE_SAMPLE=1 writes it afresh.");
    let row = |code: &str| page.lines().find(|line| line.starts_with(&format!("| {code} |"))).unwrap().to_owned();
    // 43 °F at two hours and 39.6 °F half an hour later: 7 Pa. Code 59a.408 gives two hours, Conn. Regs. 22-133 three.
    let warm: Vec<String> = row("6190A-V").split('|').map(|cell| cell.trim().to_owned()).collect();
    assert!(warm[3].starts_with("**Keep back**") && warm[4] == "Can go", "{warm:?}");
    // Twelve coliforms a milliliter: 10 in Pennsylvania and Georgia, 50 in Connecticut and New Mexico.
    let twelve: Vec<String> = row("6258A-D").split('|').map(|cell| cell.trim().to_owned()).collect();
    let asked = "**Wait**: coliforms over its limit";
    assert_eq!(twelve[3..7], [asked, "Can go", "Can go", asked].map(str::to_owned));
}

/// Source: this program's own rule that what is not known is never a yes.
#[tokio::test]
async fn every_rule_set_judges_the_whole_sample_farm() {
    let (codes, all) = known().await;
    for set in places().unwrap() {
        let rules = Rules { fresh: ColostrumRule { days_after: Some(5), ..rules_of(&set).fresh }, ..rules_of(&set) };
        let times_known = rules.steps.0.iter().any(|step| step.within_minutes.is_some());
        for (nth, code) in codes.iter().enumerate() {
            let (facts, now) = under(&all, code, &rules, None);
            let verdict = judge(&facts, now);
            let said = [verdict.reason(), verdict.next(), verdict.facts()];
            assert!(said.iter().all(|said| !said.trim().is_empty()), "{}, {code}: {said:?}", set.id);
            assert!(times_known || verdict.word() != Word::CanGo, "{}, {code}: {}", set.id, verdict.reason());
            if nth % 30 == 0 {
                for (way, _) in Channel::WORDS {
                    let asked = judge_for(&facts, way, now);
                    assert!(asked.word() >= verdict.word(), "{}, {code}, {way}: a way never makes it better", set.id);
                }
            }
        }
    }
}
