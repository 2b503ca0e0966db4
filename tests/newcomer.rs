//! The first number of a farm with nothing written down: a few answers become ordinary records, each a guess, and what is really
//! written takes their place.

use crate::farm::{Farm, Page};
use tallypail::{
    store::corrections,
    trade::{
        measure::Scale,
        newcomer::{Answers, Known, NOTE, questions},
        records::Ways,
        when::Zone,
    },
    web::{
        secret,
        visitor::Role::{Helper, Owner},
    },
};

/// Thursday 14 May 2026 is the farm's day, so the answers are about 15 May 2025 to 14 May 2026: 365 days.
const ANSWERS: [(&str, &str); 33] = [
    ("about", "last twelve months"),
    ("made", "28"),
    ("handed_out", "21"),
    ("brings", "$6.00"),
    ("hay_bales", "1.5"),
    ("hay_price", "8"),
    ("hay_weight", "45"),
    ("grain_lb", "10"),
    ("grain_price", "18.00"),
    ("grain_per", "bag"),
    ("grain_weight", "50"),
    ("lid_price", "0.20"),
    ("jar_price", "2.50"),
    ("jars_lost", "4"),
    ("who", "Mina"),
    ("milking", "60"),
    ("washing", "30"),
    ("feeding", "20"),
    ("other", "10"),
    ("hour", "15"),
    ("gear_price", "1,200"),
    ("gear_year", "2021"),
    ("gear_life", "10"),
    ("fridge_price", "600"),
    ("fridge_year", "2020"),
    ("fridge_life", "10"),
    ("cows", "3"),
    ("cow_price", "2000"),
    ("cow_years", "8"),
    ("cow_left", "800"),
    ("power", "30"),
    ("vet", "240"),
    ("insurance", "365"),
];

/// These answers instead of some of the usual ones.
fn but<'a>(changed: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    let kept = ANSWERS.iter().copied().filter(|(name, _)| !changed.iter().any(|(own, _)| own == name));
    kept.chain(changed.iter().copied()).collect()
}

async fn answer(farm: &Farm, answers: &[(&str, &str)]) -> Page {
    farm.submit(Owner, "/costs/start", answers).await
}

/// What the report says in a row and column of the twelve months.
async fn figure(farm: &Farm, row: usize, column: &str) -> String {
    let report: serde_json::Value = serde_json::from_str(&farm.visit(Owner, "/costs.json").await.came_with(200).text).unwrap();
    report["tables"]["year"]["rows"][row][column].as_str().unwrap_or_default().to_owned()
}

/// Worked by hand: 365 days are 1,460 half-gallons made and 1,095 handed out. Hay 1.5 × 365 × 8 = 4,380.00, grain
/// 10 × 365 × 18 ÷ 50 = 1,314.00, lids 1,095 × 0.20 = 219.00, jars 1,095 × 4 % × 2.50 = 109.50, electricity 360.00, vet 240.00,
/// insurance 365.00: paid 6,987.50. Wear 120.00 + 60.00 + 3 × 150.00 = 630.00: used 7,617.50. Two hours a day at 15.00 are
/// 10,950.00: 18,567.50. Each ÷ 1,095: 6.38, 6.96 and 16.96.
#[tokio::test]
async fn ten_minutes_of_guesses_are_a_number() {
    let farm = Farm::new().await;
    farm.visit(Owner, "/costs").await.came_with(200).says("href=\"/costs/start\"");
    let says = "A first number for what a half-gallon costs";
    farm.visit(Owner, "/").await.came_with(200).says(says);
    farm.visit(Helper, "/").await.came_with(200).never_says(says);
    let asked = farm.visit(Owner, "/costs/start").await;
    asked.came_with(200).never_says("Still a guess").says("inputmode=\"decimal\"").says("inputmode=\"numeric\"");
    assert_eq!(answer(&farm, &ANSWERS).await.came_with(303).location, "/costs");
    farm.visit(Owner, "/").await.came_with(200).never_says(says);
    for (row, all, each) in [(0, "6987.50", "6.38"), (1, "7617.50", "6.96"), (2, "18567.50", "16.96")] {
        assert_eq!((figure(&farm, row, "All of it").await, figure(&farm, row, "Handed out").await), (all.to_owned(), each.to_owned()));
    }
    assert_eq!((figure(&farm, 3, "Produced").await, figure(&farm, 3, "Handed out").await), ("1460.0".into(), "1095.0".into()));
    let page = farm.visit(Owner, "/costs").await;
    for key in ["$6.38", "$6.96", "$16.96"] {
        page.says(&format!("class=\"guess\">{key}"));
    }
    page.came_with(200).says("The milk made is a guess, 1460.0 half-gallons").says("The milk handed out is a guess, 1095.0 half-gallons");
    // (6,570.00 - 7,617.50) ÷ 730 hours.
    page.says("−$1.43").says("an hour cost you").never_says("No hours for").never_says("No feed ticket");
}

/// A guess stands in another ink, names itself, and is listed with the way to correct or strike it until it is gone.
#[tokio::test]
async fn guesses_are_told_apart_and_listed() {
    let farm = Farm::new().await;
    answer(&farm, &ANSWERS).await.came_with(303);
    for own in ["tickets", "feedings"] {
        let kind = crate::farm::kind_of(own);
        let all = farm.list(own).await;
        assert!(
            !all.is_empty() && all.iter().all(|record| record.cell(kind, "guess").text() == "yes" && record.source == "screen"),
            "{own}"
        );
    }
    let kind = crate::farm::kind_of("assumptions");
    assert!(farm.list("assumptions").await.iter().all(|record| record.cell(kind, "note").text() == NOTE));
    let page = farm.visit(Owner, "/costs/start").await;
    page.says("Still a guess")
        .says("Insurance, paid 2025-05-15: $365.00")
        .says("The store of Hay: bale = 45")
        .says("Half-gallons made a week: 28");
    page.says("name=\"permit\"").never_says("name=\"insurance\"").never_says("name=\"hay_bales\"");
    let ticket =
        farm.list("tickets").await.into_iter().find(|own| own.cell(crate::farm::kind_of("tickets"), "what").text() == "Insurance").unwrap();
    let address = format!("/records/tickets/{}", ticket.number);
    page.says(&format!("href=\"{address}\""));
    farm.submit(Owner, &format!("{address}/strike"), &[("why", "the bill came")]).await.came_with(303);
    farm.visit(Owner, "/costs/start").await.never_says("Insurance, paid").says("name=\"insurance\"");
    farm.visit(Owner, "/costs/lines/feed").await.came_with(200).says("class=\"guess\"");
}

/// Worked by hand: a milking on the 14th leaves 364 guessed days of 4 half-gallons, and 43 lb are ten more (4.3 lb each).
#[tokio::test]
async fn a_real_milking_takes_the_place_of_the_guess() {
    let farm = Farm::new().await;
    answer(&farm, &ANSWERS).await.came_with(303);
    let milking = [("session", "2026-05-14 AM"), ("started", "2026-05-14T05:40"), ("ended", "2026-05-14T06:05"), ("milker", "Mina")];
    farm.keep("milkings", &milking).await;
    let pail =
        [("milking", "2026-05-14 AM"), ("cow", "Damson"), ("read", "43 lb"), ("milk", "43 lb"), ("went", "house"), ("foremilk", "ok")];
    farm.keep("pails", &pail).await;
    assert_eq!(figure(&farm, 3, "Produced").await, "1466.0");
    assert_eq!(figure(&farm, 3, "Handed out").await, "1095.0", "nothing was handed out yet, so that guess stands");
    farm.visit(Owner, "/costs")
        .await
        .says("The milk made before Thu 14 May 2026 is a guess, 1456.0 half-gallons; from that day on milkings count.");
    // Of days that are all written, nothing is guessed.
    let page = farm.visit(Owner, "/costs.json?from=2026-05-14&to=2026-05-14").await;
    let report: serde_json::Value = serde_json::from_str(&page.text).unwrap();
    assert_eq!(report["tables"]["span"]["rows"][3]["Produced"], "10.0");
}

#[tokio::test]
async fn a_double_click_keeps_once_and_undo_takes_all_of_it_back() {
    let farm = Farm::new().await;
    let entry = secret::entry();
    let twice = but(&[("entry", &entry)]);
    for _ in 0..2 {
        assert_eq!(answer(&farm, &twice).await.came_with(303).location, "/costs");
    }
    let count = async |kind: &'static str| farm.list(kind).await.len();
    assert_eq!((count("stores").await, count("feedings").await, count("usual_weeks").await, count("gear").await), (2, 2, 4, 5));
    assert_eq!((count("tickets").await, count("cows").await), (7, 3), "the herd had its three cows already");
    let seen = farm.visit(Owner, "/costs").await;
    let act = seen.hidden("act");
    farm.submit(Owner, "/undo", &[("act", &act)]).await.came_with(303);
    for kind in ["assumptions", "stores", "tickets", "feedings", "usual_weeks", "gear"] {
        assert_eq!(count(kind).await, 0, "{kind}");
    }
    assert!(corrections::undo(&mut farm.ledger.begin().await.unwrap(), 999, &act_of(&farm).await).await.is_err(), "nothing more to undo");
}

async fn act_of(farm: &Farm) -> tallypail::store::records::Act {
    tallypail::store::records::act(&mut farm.ledger.read().await.unwrap(), farm.now, "Mina", "screen").await.unwrap()
}

/// Every nonsense gets a sentence beside its field, all at once, and nothing typed is lost or kept.
#[tokio::test]
async fn nonsense_gets_a_sentence_and_nothing_is_lost() {
    let farm = Farm::new().await;
    let nonsense = [
        ("hay_price", "€8", "“€8” is not an amount"),
        ("grain_price", "18,5", "Write the cents after a point, not a comma: 18.5"),
        ("made", "lots", "“lots” is not a figure"),
        ("handed_out", "-3", "This cannot be below nothing"),
        ("hay_weight", "", "A bale has no weight yet. Weigh ten of them and write the mean, like 45."),
        ("grain_weight", "", "A bag has no weight yet"),
        ("jars_lost", "400", "no more than a hundred are lost"),
        ("gear_life", "0", "A life of 0 years cannot be right"),
        ("fridge_left", "700", "It cannot be worth more at the end than it cost"),
        ("fridge_year", "2031", "2031 has not come yet"),
        ("washing", "🐄", "“🐄” is not a whole number"),
        ("milking", "1500", "1500 cannot be right here"),
        ("boarding", "400", "not both"),
        ("power", "99999999", "more than a farm of this size has"),
        ("cow_years", "", "For how many years does a cow milk?"),
        ("who", "", "Who does this work?"),
    ];
    let typed: Vec<(&str, &str)> = nonsense.iter().map(|(name, value, _)| (*name, *value)).collect();
    let page = answer(&farm, &but(&typed)).await;
    page.came_with(422).says("Not kept yet");
    for (name, value, sentence) in nonsense {
        let of =
            page.text.split(&format!("id=\"f-{name}-remark\"")).nth(1).unwrap_or_else(|| panic!("no remark beside {name}:\n{}", page.text));
        let own = of.split("</div>").next().unwrap();
        assert!(own.contains(sentence), "{name}: {own}");
        if !value.is_empty() {
            page.says(&format!("value=\"{value}\""));
        }
    }
    for kind in ["assumptions", "stores", "tickets", "gear", "usual_weeks"] {
        assert!(farm.list(kind).await.is_empty(), "{kind}");
    }
    answer(&farm, &[("about", "last month")]).await.came_with(422).says("Nothing is answered yet");
    answer(&farm, &[("boarding", "300")]).await.came_with(422).says("how many half-gallons are handed out in a week too");
    answer(&farm, &[("cows", "0"), ("cow_price", "900"), ("cow_years", "5")]).await.came_with(422).says("How many cows are there?");
    answer(&farm, &[("gear_price", "100"), ("gear_year", "1990"), ("gear_life", "10")]).await.came_with(422).says("it is worn out by now");
    answer(&farm, &[("milking", "900"), ("washing", "900"), ("who", "Mina")]).await.came_with(422).says("30 hours a day");
    farm.submit(Helper, "/costs/start", &ANSWERS).await.came_with(403);
}

/// Without a wage the cost with hours is not computed, never nought. Worked by hand: 14 April to 14 May would be 31 days, so the
/// month begins on the 15th: 30 days, 90 half-gallons; 360.00 of electricity a year are 30.00.
#[tokio::test]
async fn one_month_without_a_wage() {
    let farm = Farm::new().await;
    let month = [("about", "last month"), ("handed_out", "21"), ("power", "30"), ("insurance", "120"), ("milking", "60"), ("who", "Mina")];
    answer(&farm, &month).await.came_with(303);
    assert_eq!(figure(&farm, 3, "Handed out").await, "90.0");
    assert_eq!(figure(&farm, 0, "All of it").await, "40.00");
    assert_eq!(figure(&farm, 2, "Handed out").await, "not computed");
    farm.visit(Owner, "/costs").await.says("With hours is not computed: name what your hour is worth");
    // What is answered is asked no more; typed again on an old page, it is said so and kept.
    farm.visit(Owner, "/costs/start").await.never_says("name=\"power\"").says("name=\"hour\"");
    answer(&farm, &[("power", "31")]).await.came_with(422).says("written down already").says("value=\"31\"");
    // Half-gallons named before go on counting for lids.
    answer(&farm, &[("about", "last month"), ("lid_price", "0.10")]).await.came_with(303);
    assert_eq!(figure(&farm, 0, "All of it").await, "49.00");
}

/// Cows nobody named yet are written into the herd, because wear falls on a cow by her name.
#[tokio::test]
async fn cows_without_a_name_get_one() {
    let farm = Farm::new().await;
    answer(&farm, &[("cows", "5"), ("cow_price", "1500"), ("cow_years", "6")]).await.came_with(303);
    let (cows, gear) = (farm.list("cows").await, farm.list("gear").await);
    let kind = crate::farm::kind_of("cows");
    assert_eq!(cows.iter().map(|own| own.cell(kind, "name").text()).collect::<Vec<_>>(), ["Damson", "Kettle", "Wren", "Cow 1", "Cow 2"]);
    assert_eq!(gear.len(), 5);
}

#[test]
fn every_question_has_its_own_field() {
    let mut names: Vec<&str> = questions().map(|own| own.name).collect();
    let all = names.len();
    names.sort_unstable();
    names.dedup();
    assert_eq!(names.len(), all);
}

/// Figures no farm has, in every field at once: each gets its sentence, and nothing is reckoned with any of them.
#[test]
fn figures_no_farm_has_are_refused_and_not_reckoned_with() {
    let ways = Ways { zone: Zone::parse("America/New_York").unwrap(), scale: Scale::Fahrenheit };
    for typed in ["100001", "44444444449", "888888888888888", "9999999999999999999999999999"] {
        let answers = Answers::read(|_| typed.to_owned(), &Known::default(), "2026-11-21".parse().unwrap(), ways);
        assert!(answers.written.is_empty(), "{typed}: {:?}", answers.written);
        let figures = answers.remarks.iter().filter(|remark| remark.says.contains("more than a farm of this size has"));
        assert!(figures.count() > 5 || typed.len() > 12, "{typed}: {:?}", answers.remarks);
    }
}
