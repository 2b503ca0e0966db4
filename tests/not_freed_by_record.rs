//! Ways in which milk must not be freed, from what the ledger holds: an unwashed can, two pails of one cow, a dose while milking
//! goes on, rules that name no way. Each once said “can go”, and is held here for ever.

#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use super::{
    farm::{Farm, kind_of},
    mornings::{code, fill, filled},
    one_lot::{at, zone},
};
use tallypail::{
    store::verdict,
    trade::verdict::{Verdict, Word, judge},
    web::visitor::Role,
};

/// The verdict on a lot at a moment, by what the ledger says.
async fn then(farm: &Farm, code: &str, typed: &str) -> Verdict {
    let lots = farm.list("lots").await;
    let lot = lots.iter().find(|lot| lot.cell(kind_of("lots"), "code").text() == code).unwrap().number;
    let facts = verdict::facts(&mut farm.ledger.read().await.unwrap(), &[lot], zone(), at(typed)).await.unwrap();
    judge(&facts[0], at(typed))
}

async fn dose(farm: &Farm, when: &str, more: &[(&str, &str)]) {
    let typed = [("cow", "Damson"), ("at", when), ("product", "udder tube"), ("as_labelled", "yes"), ("vet_figure", "no")];
    farm.keep("treatments", &[&typed[..], more].concat()).await;
}

/// What is tested of the herd says nothing of the milk: she may well be with calf. Source: common practice.
#[tokio::test]
async fn a_cow_with_calf_keeps_no_milk_back() {
    for (test, word) in [("pregnancy test", Word::CanGo), ("Johne's ELISA", Word::CanGo), ("Foul foot", Word::CantTell)] {
        let farm = Farm::new().await;
        let sample = farm.keep("samples", &[("drawn", "2026-05-01T07:00"), ("subject", "cow"), ("cow", "Damson")]).await.to_string();
        farm.keep("results", &[("sample", &sample), ("analyte", test), ("figure", "positive"), ("reported", "2026-05-04")]).await;
        let code = fill(&farm, "2026-05-13", "2", true).await;
        assert_eq!(then(&farm, &code, "2026-05-14T12:00").await.word(), word, "{test}");
    }
}

/// Her drug was found in January while she stood out; in May the lot's own bottle is clear of drugs.
#[tokio::test]
async fn a_lot_tested_clear_of_drugs_is_not_held_for_an_old_finding() {
    let farm = Farm::new().await;
    let bottle = farm.keep("samples", &[("drawn", "2026-05-12T07:00"), ("subject", "cow"), ("cow", "Damson")]).await.to_string();
    farm.keep("results", &[("sample", &bottle), ("analyte", "drug residue"), ("figure", "positive"), ("reported", "2026-05-12")]).await;
    let code = fill(&farm, "2026-05-13", "2", true).await;
    assert_eq!(then(&farm, &code, "2026-05-14T12:00").await.word(), Word::KeepBack);
    let own = farm.keep("samples", &[("drawn", "2026-05-13T07:00"), ("subject", "lot"), ("lot", &code)]).await.to_string();
    farm.keep("results", &[("sample", &own), ("analyte", "drug residue"), ("figure", "<500"), ("reported", "2026-05-14")]).await;
    assert_ne!(then(&farm, &code, "2026-05-14T12:00").await.word(), Word::CanGo, "“<500” is no clear bottle");
    farm.keep("results", &[("sample", &own), ("analyte", "drug residue"), ("figure", "not detected"), ("reported", "2026-05-14")]).await;
    assert_ne!(then(&farm, &code, "2026-05-14T12:00").await.word(), Word::CanGo, "one of two is not clear");
}

/// Source: common practice: what a dirty can holds goes into the next milk. A clean break written down ends it.
#[tokio::test]
async fn what_an_unwashed_can_holds_is_in_the_next_milk() {
    let farm = Farm::new().await;
    dose(&farm, "2026-05-12T20:00", &[("milk_hours", "96")]).await;
    let morning = fill(&farm, "2026-05-13", "2", true).await;
    let (session, evening) = ("2026-05-13 PM", code("2026-05-13", 1));
    let milking =
        [("session", session), ("started", "2026-05-13T17:40"), ("ended", "2026-05-13T18:10"), ("milker", "Mina"), ("well", "yes")];
    farm.keep("milkings", &milking).await;
    let pail = [
        ("milking", session),
        ("cow", "Kettle"),
        ("read", "10 lb"),
        ("milk", "10 lb"),
        ("went", "can"),
        ("vessel", "Can 1"),
        ("foremilk", "ok"),
    ];
    farm.keep("pails", &pail).await;
    filled(&farm, &evening, "2026-05-13T18:20", &[session]).await;
    farm.keep("chill", &[("lot", &evening), ("at", "2026-05-13T19:20"), ("temperature", "38")]).await;
    let verdict = then(&farm, &evening, "2026-05-14T12:00").await;
    assert_eq!(verdict.word(), Word::KeepBack);
    assert!(verdict.reason().starts_with("Milk of 2026-05-13 AM went into the same vessel, and it was not washed"), "{}", verdict.reason());
    let clean = [("vessel", "Can 1"), ("at", "2026-05-13T07:00"), ("washed", "yes"), ("sanitised", "yes"), ("done_by", "Mina")];
    farm.keep("breaks", &clean).await;
    assert_eq!(then(&farm, &evening, "2026-05-14T12:00").await.word(), Word::CanGo);
    assert_eq!(then(&farm, &morning, "2026-05-14T12:00").await.word(), Word::KeepBack);
}

/// A label's milkings are milkings, however many pails she filled at each; and what speaks against her milk counts to the end of
/// the milking. Source: common practice.
#[tokio::test]
async fn two_pails_are_one_milking_and_a_milking_lasts_to_its_end() {
    let mut farm = Farm::new().await;
    farm.clock("2026-05-13T12:00");
    dose(&farm, "2026-05-10T20:00", &[("milk_milkings", "4")]).await;
    let mut last = String::new();
    for day in ["2026-05-11", "2026-05-12", "2026-05-13"] {
        last = fill(&farm, day, "6", true).await;
        let session = format!("{day} AM");
        let calf = [("milking", session.as_str()), ("cow", "Damson"), ("read", "3 lb"), ("milk", "3 lb"), ("went", "calf")];
        farm.submit(Role::Helper, "/records/pails", &calf).await.came_with(303);
    }
    assert_eq!(then(&farm, &last, "2026-05-13T12:00").await.word(), Word::KeepBack, "two more milkings");
    // The first squirts of any pail of hers that morning count.
    let farm = Farm::new().await;
    let code = fill(&farm, "2026-05-13", "6", true).await;
    let flakes =
        [("milking", "2026-05-13 AM"), ("cow", "Damson"), ("read", "3 lb"), ("milk", "3 lb"), ("went", "calf"), ("foremilk", "flakes")];
    farm.keep("pails", &flakes).await;
    assert_eq!(then(&farm, &code, "2026-05-14T12:00").await.word(), Word::KeepBack);
    for (when, word) in [("2026-05-13T05:40", Word::KeepBack), ("2026-05-13T05:50", Word::CantTell), ("2026-05-13T07:00", Word::CanGo)] {
        let farm = Farm::new().await;
        dose(&farm, when, &[("milk_hours", "96")]).await;
        let code = fill(&farm, "2026-05-13", "6", true).await;
        assert_eq!(then(&farm, &code, "2026-05-14T12:00").await.word(), word, "dosed {when}");
    }
    let farm = Farm::new().await;
    farm.keep("events", &[("cow", "Damson"), ("at", "2026-05-13T05:50"), ("sort", "calved")]).await;
    let code = fill(&farm, "2026-05-13", "6", true).await;
    assert_eq!(then(&farm, &code, "2026-05-14T12:00").await.word(), Word::KeepBack, "she calved while milking went on");
}

/// The vet's answer to a blank is not forgotten after 120 days, and neither is the blank.
#[tokio::test]
async fn an_answer_is_remembered_as_long_as_its_question() {
    for answered in [true, false] {
        let farm = Farm::new().await;
        dose(&farm, "2026-01-01T08:00", &[]).await;
        if answered {
            dose(&farm, "2026-01-02T08:00", &[("milk_hours", "96")]).await;
        }
        let code = fill(&farm, "2026-05-13", "6", true).await;
        let word = then(&farm, &code, "2026-05-14T12:00").await.word();
        assert_eq!(word, if answered { Word::CanGo } else { Word::CantTell });
    }
}

/// Rules that stand beside others without a way would hold for none; nobody would know.
#[tokio::test]
async fn rules_beside_others_say_for_which_ways() {
    let farm = Farm::new().await;
    let beside = [
        ("place", "own"),
        ("since", "2026-01-02"),
        ("title", "Share contract"),
        ("citation", "a contract"),
        ("sure", "our own choice"),
        ("beside", "yes"),
        ("limits", "plate count at most 10 per mL, held until clear [chosen]"),
    ];
    farm.keep("rules", &beside).await;
    let code = fill(&farm, "2026-05-13", "2", true).await;
    let verdict = then(&farm, &code, "2026-05-14T12:00").await;
    assert!(verdict.word() == Word::CantTell && verdict.reason().contains("Share contract"), "{}", verdict.reason());
}

/// A source that was filled after what was made of it is no source anybody can follow, and is not left out in silence.
#[tokio::test]
async fn a_source_from_later_is_not_left_out() {
    let farm = Farm::new().await;
    let (later, early) = (fill(&farm, "2026-05-13", "6", true).await, code("2026-05-12", 0));
    let lot = [
        ("code", early.as_str()),
        ("filled", "2026-05-12T09:00"),
        ("gallons", "0"),
        ("half_gallons", "1"),
        ("quarts", "0"),
        ("pints", "0"),
    ];
    farm.keep("lots", &lot).await;
    farm.keep("sources", &[("lot", &early), ("parent", &later)]).await;
    farm.keep("sources", &[("lot", &early), ("milking", "2026-05-13 AM")]).await;
    let verdict = then(&farm, &early, "2026-05-14T12:00").await;
    assert!(verdict.word() >= Word::CantTell && verdict.facts().contains(&later), "{}", verdict.facts());
}

/// The form says so before it is kept.
#[tokio::test]
async fn the_form_asks_for_which_ways() {
    let farm = Farm::new().await;
    let set = [
        ("place", "own"),
        ("since", "2026-05-14"),
        ("title", "Share contract"),
        ("sure", "our own choice"),
        ("beside", "yes"),
        ("limits", "plate count at most 10 per mL [chosen]"),
        ("why", "the contract says so"),
    ];
    farm.submit(Role::Owner, "/rules", &set).await.came_with(422).says("Write for which: like farm gate [chosen].");
}

/// A vessel held after it was washed up holds nothing that was filled before. The page says so, and offers to hold those too.
#[tokio::test]
async fn a_hold_after_washing_up_says_what_it_does_not_hold() {
    let farm = Farm::new().await;
    let code = fill(&farm, "2026-05-14", "6", true).await;
    let clean = [("vessel", "Can 1"), ("at", "2026-05-14T06:40"), ("washed", "yes"), ("sanitised", "yes"), ("done_by", "Mina")];
    farm.keep("breaks", &clean).await;
    farm.submit(Role::Helper, "/stop", &[("what", "vessel Can 1"), ("reason", "sanitiser left in it this morning")]).await.came_with(303);
    let page = farm.visit(Role::Helper, "/stop").await;
    page.says("It holds no lot yet.").says(&format!("href=\"/stop?what=lot%20{code}\"")).says("cleaned after them");
}

/// The milk of an evening that nobody filled is still in the can of the morning.
#[tokio::test]
async fn milk_left_in_the_can_is_in_the_next_lot() {
    let mut farm = Farm::new().await;
    farm.clock("2026-05-14T12:00");
    dose(&farm, "2026-05-12T08:00", &[("milk_hours", "96")]).await;
    for (session, start, end, cow) in [
        ("2026-05-12 PM", "2026-05-12T17:40", "2026-05-12T18:10", "Damson"),
        ("2026-05-13 AM", "2026-05-13T05:40", "2026-05-13T06:15", "Kettle"),
    ] {
        farm.keep("milkings", &[("session", session), ("started", start), ("ended", end), ("milker", "Mina"), ("well", "yes")]).await;
        let pail = [
            ("milking", session),
            ("cow", cow),
            ("read", "18 lb"),
            ("milk", "18 lb"),
            ("went", "can"),
            ("vessel", "Can 1"),
            ("foremilk", "ok"),
        ];
        farm.keep("pails", &pail).await;
    }
    // The lot's own vessel left blank hides nothing: her pails say which can it was.
    for vessel in ["Can 1", ""] {
        let nth = usize::from(vessel.is_empty());
        let code = code("2026-05-13", nth);
        let lot = [
            ("code", code.as_str()),
            ("filled", "2026-05-13T06:20"),
            ("vessel", vessel),
            ("gallons", "0"),
            ("half_gallons", "4"),
            ("quarts", "0"),
            ("pints", "0"),
        ];
        farm.keep("lots", &lot).await;
        farm.keep("sources", &[("lot", &code), ("milking", "2026-05-13 AM")]).await;
        farm.keep("chill", &[("lot", &code), ("at", "2026-05-13T07:30"), ("temperature", "38 °F")]).await;
        assert_eq!(then(&farm, &code, "2026-05-14T12:00").await.word(), Word::KeepBack, "vessel “{vessel}”");
    }
}
