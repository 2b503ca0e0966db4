//! A fridge found warm: from the first tap to the loss sheet, what it says of every lot that stood in it, and what it refuses.
//!
//! The house rule is common practice and no law: jars above 45 °F for hours nobody knows are thrown out, and the two hours that
//! stand beside it are what health departments say of milk left out. Nothing here was read in a law.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use super::{
    farm::{Farm, Page, kind_of},
    hand_out::person,
    mornings::fill,
    one_lot::{NOW, at, lot, place, rules},
};
use proptest::prelude::*;
use tallypail::{
    store::verdict,
    trade::{
        codes::LotCode,
        measure::Temperature,
        steps::Steps,
        verdict::{Decision, Facts, Verdict, Word, judge},
        warm::{HouseRule, WarmFridge, Whence},
    },
    web::visitor::Role::{Helper, Owner},
};

/// What is typed when a fridge is found warm: nothing is known of it but what these say.
async fn found(farm: &Farm, lots: &[&str], typed: &[(&str, &str)]) -> Page {
    let mut all = vec![("fridge", "Kitchen fridge"), ("found", "2026-05-14T11:30")];
    all.retain(|(name, _)| !typed.iter().any(|(own, _)| own == name));
    all.extend_from_slice(typed);
    all.extend(lots.iter().map(|code| ("lot", *code)));
    farm.submit(Helper, "/bad-day/fridge", &all).await
}

async fn verdict_of(farm: &Farm, code: &str) -> Verdict {
    let lots = farm.list("lots").await;
    let number = lots.iter().find(|lot| lot.cell(kind_of("lots"), "code").text() == code).unwrap().number;
    let zone = farm.ways().await.zone;
    judge(&verdict::facts(&mut farm.ledger.read().await.unwrap(), &[number], zone, farm.now).await.unwrap()[0], farm.now)
}

#[tokio::test]
async fn from_the_first_tap_to_the_loss_sheet() {
    let mut farm = Farm::new().await;
    let (one, two) = (fill(&farm, "2026-05-12", "6", true).await, fill(&farm, "2026-05-13", "8", true).await);
    assert_eq!(verdict_of(&farm, &one).await.word(), Word::CanGo);
    let page = farm.visit(Helper, "/bad-day/fridge").await;
    page.says("The warmest JAR, not the air").says("Which fridge a lot stands in is not written down anywhere");
    for code in [&one, &two] {
        page.says(&format!("name=\"lot\" value=\"{code}\" checked"));
    }
    let order: Vec<usize> = ["name=\"fridge\"", "name=\"last_cold\"", "name=\"found\"", "name=\"warmest\"", "name=\"thermometer\""]
        .map(|name| page.text.find(name).unwrap())
        .to_vec();
    assert!(order.is_sorted(), "the order in which they matter: {order:?}");
    // Nobody has read a jar yet, and every lot says so already.
    let kept = found(&farm, &[&one, &two], &[]).await;
    assert_eq!((kept.status, kept.location.as_str()), (303, "/bad-day/fridge/1"));
    assert_eq!(farm.list("warmed").await.len(), 2);
    for code in [&one, &two] {
        let verdict = verdict_of(&farm, code).await;
        assert_eq!(verdict.word(), Word::CantTell);
        assert!(verdict.reason().contains("the warmest jar was not read"), "{}", verdict.reason());
    }
    // The jar is read: hours nobody knows, and above the rule.
    farm.submit(Helper, "/bad-day/fridge/1/known", &[("warmest", "52")]).await.came_with(303);
    for code in [&one, &two] {
        let verdict = verdict_of(&farm, code).await;
        assert_eq!(verdict.word(), Word::KeepBack, "{}", verdict.reason());
        assert!(verdict.facts().contains("not law"), "the frozen facts say what the rule is: {}", verdict.facts());
    }
    farm.visit(Owner, &format!("/lots/{one}")).await.says("Warm fridge").says("52 °F");
    // What goes is counted: nothing is filled in from the book.
    let page = farm.visit(Helper, "/bad-day/fridge/1").await;
    let (first, second) = (format!("half_gallons.{}", 1), format!("half_gallons.{}", 2));
    page.says(&format!("name=\"{first}\" inputmode=\"numeric\" min=\"0\" step=\"1\" value=\"\""));
    farm.wait(60);
    farm.submit(Helper, "/bad-day/fridge/1/thrown-out", &[(first.as_str(), "6"), (second.as_str(), "7")]).await.came_with(303);
    let asides = farm.list("asides").await;
    let kind = kind_of("asides");
    let gone: Vec<(&str, i64)> =
        asides.iter().map(|own| (own.cell(kind, "sort").text(), own.cell(kind, "half_gallons").whole().unwrap())).collect();
    assert_eq!(gone, [("thrown out", 6), ("thrown out", 7)]);
    assert!(asides.iter().all(|own| own.cell(kind, "reason").text().contains("Kitchen fridge found warm")));
    // The sheet says the same in every form; what a half-gallon brings is a guess, and looks like one.
    let assumed = [("name", "a half-gallon brings"), ("since", "2026-01-01"), ("figure", "6.50"), ("note", "what the neighbours ask")];
    farm.keep("assumptions", &assumed).await;
    let page = farm.visit(Owner, "/bad-day/fridge/1").await;
    page.says("13 half-gallons").says("<span class=\"guess\">$84.50</span>").says("which is assumed and not a price").says("1 half-gallon");
    for ending in ["csv", "json"] {
        farm.visit(Owner, &format!("/bad-day/fridge/1.{ending}")).await.came_with(200).says("84.50").says(&one).says("52 °F");
    }
    assert!(farm.visit(Owner, "/bad-day/fridge/1.pdf").await.bytes.starts_with(b"%PDF"));
    // A helper sees neither money nor the insurer.
    farm.visit(Helper, "/bad-day/fridge/1").await.came_with(200).never_says("$").never_says("Insurer");
}

/// Source: this farm's terms; the price at the gate is its own, so it is no guess.
#[tokio::test]
async fn a_price_at_the_gate_is_no_guess_and_the_insurer_is_named() {
    let farm = Farm::new().await;
    let one = fill(&farm, "2026-05-12", "6", true).await;
    let farms = farm.list("farm").await;
    let kind = kind_of("farm");
    let typed: Vec<(String, String)> =
        kind.columns.iter().map(|own| (own.name.to_owned(), farms[0].cell(kind, own.name).text().to_owned())).collect();
    let mut typed: Vec<(&str, &str)> = typed.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    typed.retain(|(name, _)| *name != "insurer");
    typed.extend([("insurer", "Tansy Hills Farm Mutual, 555-0193"), ("version", "1"), ("why", "insured now")]);
    farm.submit(Owner, "/records/farm/1", &typed).await.came_with(303);
    farm.keep("terms", &[("channel", "farm gate"), ("since", "2026-01-01"), ("jar", "7.00"), ("missed", "none")]).await;
    found(&farm, &[&one], &[("warmest", "52")]).await.came_with(303);
    farm.submit(Owner, "/bad-day/fridge/1/thrown-out", &[("half_gallons.1", "4")]).await.came_with(303);
    let page = farm.visit(Owner, "/bad-day/fridge/1").await;
    page.says("$28.00").never_says("class=\"guess\"").says("Tansy Hills Farm Mutual, 555-0193");
}

#[tokio::test]
async fn what_cannot_have_been_so_is_said_beside_its_field() {
    let farm = Farm::new().await;
    let one = fill(&farm, "2026-05-12", "6", true).await;
    // A clock an hour wrong: found in an hour that has not come, or before it was last cold.
    found(&farm, &[&one], &[("found", "2026-05-14T13:00")]).await.came_with(422).says("This has not come yet");
    let page = found(&farm, &[&one], &[("last_cold", "2026-05-14T12:00"), ("found", "2026-05-14T11:00")]).await;
    page.came_with(422).says("It was found before it was last cold").says("Kitchen fridge").says(&format!("value=\"{one}\" checked"));
    // 4 in a °F farm.
    found(&farm, &[&one], &[("warmest", "4")]).await.came_with(422).says("do you mean 4 °C, which is 39.2 °F?");
    found(&farm, &[&one], &[("warmest", "38")]).await.came_with(422).says("Is that the warmest jar, and not the coldest?");
    found(&farm, &[&one], &[("warmest", "warm")]).await.came_with(422).says("is not a temperature");
    found(&farm, &[], &[]).await.came_with(422).says("Tick the lots that stood in it");
    found(&farm, &[&one], &[("fridge", "")]).await.came_with(422);
    // The other lots of the day: filled after it was found.
    found(&farm, &[&one], &[("found", "2026-05-12T05:00")]).await.came_with(422).says("after the fridge was found");
    assert!(farm.list("warm_fridges").await.is_empty() && farm.list("warmed").await.is_empty());
    // An answered question is kept.
    found(&farm, &[&one], &[("warmest", "38"), ("sure", "warmest")]).await.came_with(303);
    // No jar counted, none, and more than there are.
    farm.submit(Helper, "/bad-day/fridge/1/thrown-out", &[]).await.came_with(422).says("Not one jar is counted");
    farm.submit(Helper, "/bad-day/fridge/1/thrown-out", &[("half_gallons.1", "0")]).await.came_with(422).says("no jar is no loss");
    farm.submit(Helper, "/bad-day/fridge/1/thrown-out", &[("half_gallons.1", "60")])
        .await
        .came_with(422)
        .says("By the book 6 half-gallons are left");
    farm.submit(Helper, "/bad-day/fridge/1/thrown-out", &[("half_gallons.1", "six")]).await.came_with(422);
    assert!(farm.list("asides").await.is_empty());
    farm.submit(Helper, "/bad-day/fridge/1/known", &[]).await.came_with(422).says("Nothing was filled in");
    farm.visit(Helper, "/bad-day/fridge/77").await.came_with(404);
    farm.visit(Helper, "/bad-day/fridge/kitchen").await.came_with(404);
}

/// A form sent twice keeps one.
#[tokio::test]
async fn a_form_sent_twice_keeps_one() {
    let farm = Farm::new().await;
    let one = fill(&farm, "2026-05-12", "6", true).await;
    let entry = "0d9e5d2c-6c1e-4f5e-9a53-4b9d3a7a1c10";
    for _ in 0..2 {
        found(&farm, &[&one], &[("entry", entry), ("warmest", "52")]).await.came_with(303);
        farm.submit(Helper, "/bad-day/fridge/1/thrown-out", &[("half_gallons.1", "3"), ("entry", entry)]).await.came_with(303);
    }
    for kind in ["warm_fridges", "warmed", "asides"] {
        assert_eq!(farm.list(kind).await.len(), 1, "{kind}");
    }
}

/// Cream of a lot that stood warm is no better than the lot; cream made while the fridge was cold is not touched by it.
#[tokio::test]
async fn it_holds_through_what_was_made_of_a_lot() {
    let farm = Farm::new().await;
    let one = fill(&farm, "2026-05-12", "6", true).await;
    let code = |nth| LotCode::of_fill("2026-05-13".parse().unwrap(), nth).unwrap().to_string();
    for (nth, when) in [(0, "2026-05-13T09:00"), (1, "2026-05-13T22:00")] {
        let jars = [("gallons", "0"), ("half_gallons", "0"), ("quarts", "1"), ("pints", "0"), ("made", "cream")];
        farm.keep("lots", &[[("code", code(nth).as_str()), ("filled", when)].as_slice(), &jars].concat()).await;
        farm.keep("sources", &[("lot", &code(nth)), ("parent", &one)]).await;
        farm.keep("chill", &[("lot", &code(nth)), ("at", when), ("temperature", "38 °F")]).await;
    }
    found(&farm, &[&one], &[("warmest", "52"), ("last_cold", "2026-05-13T18:00")]).await.came_with(303);
    let (before, since) = (verdict_of(&farm, &code(0)).await, verdict_of(&farm, &code(1)).await);
    assert_eq!(before.word(), Word::CanGo, "{}", before.reason());
    assert_eq!(since.word(), Word::KeepBack, "{}", since.reason());
    assert!(since.facts().contains(&one), "{}", since.facts());
}

/// Jars that went while it may have been warm are named, with the way to call them back; and the words for a short week name no
/// cause. Sources: RFC 5724 and RFC 6068 for the links.
#[tokio::test]
async fn what_went_is_named_and_the_short_week_has_its_words() {
    let mut farm = Farm::new().await;
    let one = fill(&farm, "2026-05-12", "6", true).await;
    person(&farm, "M01", "Ashgrove", "herdshare", "Thursday").await;
    farm.promise("M01", "2", "herdshare").await;
    person(&farm, "M02", "Birch", "herdshare", "Thursday").await;
    farm.promise("M02", "2", "herdshare").await;
    farm.clock("2026-05-14T09:00");
    farm.submit(Owner, "/pickup", &[("person", "M02"), ("lot", &one), ("half_gallons", "2"), ("evidence", "seen")]).await.came_with(303);
    farm.clock("2026-05-14T12:00");
    found(&farm, &[&one], &[("warmest", "52"), ("last_cold", "2026-05-13T21:00")]).await.came_with(303);
    let page = farm.visit(Owner, "/bad-day/fridge/1").await;
    page.says(&format!("/callbacks/new?because=fridge+found+warm&amp;lots={one}")).says("2 half-gallons").says("1 household comes today");
    page.says("a short week").says("M01 Ashgrove").never_says("M02 Birch").says("sms:").says("/pickup/pack");
    let words = page.text.split_once("readonly>").unwrap().1.split_once("</textarea>").unwrap().0;
    for never in ["warm", "fridge", "fault", "buy", "price", "order", "M01", "Ashgrove"] {
        assert!(!words.contains(never), "“{never}” in: {words}");
    }
    farm.visit(Helper, "/bad-day/fridge/1").await.never_says("sms:").never_says("Ashgrove").never_says("/callbacks/");
}

/// Source: this program's own caution: “can't tell” is decided with a reason, “keep back” is not, and a jar nobody read is read.
#[tokio::test]
async fn what_may_be_decided() {
    let farm = Farm::new().await;
    let one = fill(&farm, "2026-05-12", "6", true).await;
    found(&farm, &[&one], &[]).await.came_with(303);
    farm.visit(Owner, &format!("/lots/{one}")).await.never_says("Decide otherwise");
    farm.submit(Owner, "/bad-day/fridge/1/known", &[("warmest", "44"), ("last_cold", "2026-05-14T10:30")]).await.came_with(303);
    let page = farm.visit(Owner, &format!("/lots/{one}")).await;
    let (stands, entry) = (page.says("Decide otherwise").hidden("stands"), page.entry());
    let why = [("why", "Rang the department: they saw no objection at an hour"), ("stands", stands.as_str()), ("entry", entry.as_str())];
    farm.submit(Owner, &format!("/lots/{one}/decision"), &why).await.came_with(303);
    assert_eq!(verdict_of(&farm, &one).await.word(), Word::CanGo, "decided, with a reason");
    // What was decided about has changed: the jar was warmer than written.
    let record = [("fridge", "Kitchen fridge"), ("last_cold", "2026-05-14T10:30"), ("found", "2026-05-14T11:30"), ("warmest", "58")];
    let more = [("version", "2"), ("why", "read again with the good thermometer")];
    farm.submit(Owner, "/records/warm_fridges/1", &[record.as_slice(), &more].concat()).await.came_with(303);
    assert_eq!(verdict_of(&farm, &one).await.word(), Word::CantTell, "the decision was about another figure");
    farm.submit(
        Owner,
        "/records/warm_fridges/1",
        &[
            [("last_cold", ""), ("fridge", "Kitchen fridge"), ("found", "2026-05-14T11:30"), ("warmest", "58")].as_slice(),
            &[("version", "3"), ("why", "nobody had looked")],
        ]
        .concat(),
    )
    .await
    .came_with(303);
    farm.visit(Owner, &format!("/lots/{one}")).await.says("Keep back").never_says("Decide otherwise");
}

fn stood(last_cold: Option<&str>, warmest: Option<Temperature>) -> WarmFridge {
    WarmFridge {
        number: 1,
        fridge: "Kitchen fridge".to_owned(),
        last_cold: last_cold.map(at),
        found: at("2026-05-14T10:00"),
        warmest,
        off_by: 0,
    }
}

fn with(fridge: WarmFridge, house: HouseRule, steps: &str) -> Facts {
    let mut facts = lot(rules(&place("default-conservative")));
    facts.rules.base.steps = Steps::parse(steps).unwrap();
    Facts { warmed: vec![fridge], house, ..facts }
}

/// Source: common practice. 45 °F and hours nobody knows: out. The farm's own figures count where it wrote them, and its own step for
/// staying cold where that is stricter.
#[test]
fn the_house_rule_is_what_the_farm_wrote_or_common_practice() {
    let cool = "cool 40 °F within 120 min of milking end [chosen]";
    let word = |fridge, house| judge(&with(fridge, house, cool), at(NOW)).word();
    let (warm, none) = (Some(Temperature::fahrenheit(46)), HouseRule::default());
    assert_eq!(word(stood(None, warm), none), Word::KeepBack, "hours nobody knows, above 45 °F");
    assert_eq!(word(stood(None, Some(Temperature::fahrenheit(45))), none), Word::CantTell, "45 °F is not above 45 °F");
    assert_eq!(word(stood(None, None), none), Word::CantTell, "nobody read a jar");
    assert_eq!(word(stood(Some("2026-05-14T08:00"), warm), none), Word::CantTell, "two hours are not more than two hours");
    assert_eq!(word(stood(Some("2026-05-14T07:59"), warm), none), Word::KeepBack, "a minute more is");
    let own = HouseRule { at: Some(Temperature::celsius(10)), hours: Some(6) };
    assert_eq!(word(stood(None, warm), own), Word::CantTell, "46 °F is below the farm's own 10 °C");
    assert_eq!(word(stood(Some("2026-05-14T04:00"), Some(Temperature::fahrenheit(51))), own), Word::CantTell, "six hours are not more");
    assert_eq!(word(stood(Some("2026-05-14T03:00"), Some(Temperature::fahrenheit(51))), own), Word::KeepBack);
    let steps = Steps::parse("hold 41 °F until handed out [read]").unwrap();
    assert_eq!(none.beside(&steps).whence, Whence::Step);
    assert_eq!(none.beside(&steps).at.to_string(), "41 °F");
    assert_eq!(own.beside(&Steps::default()).whence, Whence::Own);
    assert_eq!(HouseRule { at: None, ..own }.beside(&Steps::default()).whence, Whence::Common);
    assert!(none.beside(&Steps::default()).spoken().contains("common practice, not law"));
}

/// A thermometer that was off in ice water counts against the jar and never for it.
#[test]
fn a_thermometer_that_is_off_counts_against_the_jar() {
    let off = |by: i64| WarmFridge { off_by: by, ..stood(None, Some(Temperature::fahrenheit(44))) };
    let cool = "cool 40 °F within 120 min of milking end [chosen]";
    assert_eq!(judge(&with(off(0), HouseRule::default(), cool), at(NOW)).word(), Word::CantTell);
    let three = Temperature::fahrenheit(35).exact() - Temperature::fahrenheit(32).exact();
    assert_eq!(judge(&with(off(three), HouseRule::default(), cool), at(NOW)).word(), Word::KeepBack);
}

/// What is found later does not change what was known before: a hand-out of the morning was not handed out against it.
#[test]
fn before_it_was_found_nobody_knew() {
    let facts =
        with(stood(None, Some(Temperature::fahrenheit(52))), HouseRule::default(), "cool 40 °F within 120 min of milking end [chosen]");
    assert_eq!(judge(&facts, at("2026-05-14T09:59")).word(), Word::CanGo);
    assert_eq!(judge(&facts, at("2026-05-14T10:00")).word(), Word::KeepBack);
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// A lot that stood in a fridge found warm never says Can go by itself, whatever was read, known or written as the house rule;
    /// a warmer jar or more hours never make it better; and a decision about one fridge frees no lot from another.
    #[test]
    fn a_warmed_lot_never_can_go(
        degrees in prop::option::of(3200i64..9000),
        more in 0i64..2000,
        minutes in prop::option::of(0i64..6000),
        later in 0i64..3000,
        rule in (prop::option::of(3300i64..7000), prop::option::of(0i64..48)),
        off_by in 0i64..2000,
    ) {
        use tallypail::trade::measure::Scale::Fahrenheit;
        let house = HouseRule { at: rule.0.map(|own| Temperature::hundredths(own, Fahrenheit)), hours: rule.1 };
        let fridge = |degrees: Option<i64>, minutes: Option<i64>| {
            let found = at("2026-05-14T10:00");
            WarmFridge { last_cold: minutes.map(|own| found.plus_minutes(-own)), off_by, ..stood(None, degrees.map(|own| Temperature::hundredths(own, Fahrenheit))) }
        };
        let cool = "cool 40 °F within 120 min of milking end [chosen]";
        let facts = with(fridge(degrees, minutes), house, cool);
        let verdict = judge(&facts, at(NOW));
        prop_assert!(verdict.word() >= Word::CantTell, "{}", verdict.facts());
        prop_assert!(judge(&with(fridge(degrees.map(|own| own + more), minutes), house, cool), at(NOW)).word() >= verdict.word());
        prop_assert!(judge(&with(fridge(degrees, minutes.map(|own| own + later)), house, cool), at(NOW)).word() >= verdict.word());
        prop_assert!(judge(&with(fridge(degrees, None), house, cool), at(NOW)).word() >= verdict.word(), "not knowing the hours made it better");
        let decided = Decision {
            at: at("2026-05-14T10:30"),
            by: "Mina".to_owned(),
            over: verdict.findings.iter().map(tallypail::trade::verdict::Finding::topic).collect(),
            facts: verdict.facts(),
            reason: "Rang the department".to_owned(),
        };
        let other = WarmFridge { number: 2, ..fridge(degrees, minutes) };
        let both = Facts { warmed: vec![facts.warmed[0].clone(), other], decisions: vec![decided], ..facts };
        prop_assert!(judge(&both, at(NOW)).word() >= Word::CantTell, "a decision about one fridge freed it from another");
    }
}
