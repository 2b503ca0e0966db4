//! The lab's pages: a bottle drawn, the lab's paper typed from it, and what a result means for milk that has gone out.
//!
//! Sources beside each check: the limits are those of PMO section 7, table 1, for raw milk for pasteurization (20,000 is
//! the farm's own choice here); which slips people make at a form is from common practice.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::farm::{Farm, kind_of};
use tallypail::{
    paper::folder,
    store::records,
    trade::codes::LotCode,
    web::visitor::Role::{Helper, Owner},
};

/// The lot of the fixture.
pub fn code(fill: usize) -> String {
    LotCode::of_fill("2026-05-14".parse().unwrap(), fill).unwrap().to_string()
}

const LIMITS: &str = "plate count at most 20000 per mL, 2 of 4 notice, 3 of 5 action [read]; coliforms at most 10 per mL [chosen]; somatic cells at most 500000 per mL, above 400000 calls for pathogens [chosen]; Salmonella none found in 25 mL [read]; Listeria monocytogenes none found [read]";

/// A farm with limits, two lots of the morning, one hand-out of the first, and a bottle of it: sample 1.
pub async fn bottled(asked: &str) -> Farm {
    let mut farm = Farm::new().await;
    farm.keep(
        "rules",
        &[
            ("place", "our-own"),
            ("since", "2026-02-01"),
            ("title", "Tansyditch's own limits"),
            ("sure", "our own choice"),
            ("steps", "cool 40 °F within 120 min of milking end [chosen]"),
            ("limits", LIMITS),
            ("tests", "plate count, coliforms: 2 a month [read]; water coliforms: every 6 months [read]"),
            ("fresh_days", "5"),
            ("resample_after", "3"),
            ("resample_within", "21"),
        ],
    )
    .await;
    let person = [("label", "M01"), ("name", "Orla Tremont"), ("sort", "member"), ("channel", "herdshare")];
    farm.keep("people", &[person.as_slice(), &[("phone", "555-0131"), ("since", "2026-01-01")]].concat()).await;
    farm.keep("breaks", &[("vessel", "Can 1"), ("at", "2026-05-14T05:00"), ("washed", "yes"), ("sanitised", "yes"), ("done_by", "Tobe")])
        .await;
    let milking = [("session", "2026-05-14 AM"), ("started", "2026-05-14T05:40"), ("ended", "2026-05-14T06:05"), ("milker", "Tobe")];
    farm.keep("milkings", &milking).await;
    let pail = [("milking", "2026-05-14 AM"), ("cow", "Damson"), ("read", "29.4 lb"), ("tare", "3.2 lb"), ("milk", "26.2 lb")];
    farm.keep("pails", &[pail.as_slice(), &[("went", "can"), ("vessel", "Can 1"), ("foremilk", "ok")]].concat()).await;
    let none = [("gallons", "0"), ("quarts", "0"), ("pints", "0")];
    for (nth, filled) in [(0, "2026-05-14T06:20"), (1, "2026-05-14T06:50")] {
        let lot = code(nth);
        let own = [("code", lot.as_str()), ("filled", filled), ("vessel", "Can 1"), ("half_gallons", "5")];
        farm.keep("lots", &[own.as_slice(), &none].concat()).await;
        farm.keep("sources", &[("lot", &lot), ("milking", "2026-05-14 AM")]).await;
        farm.keep("chill", &[("lot", &lot), ("at", "2026-05-14T07:35"), ("temperature", "39")]).await;
    }
    let lot = code(0);
    let out = [("at", "2026-05-14T10:00"), ("lot", lot.as_str()), ("person", "M01"), ("half_gallons", "2"), ("evidence", "seen")];
    let frozen = [("verdict", "Can go"), ("because", "Cold in time."), ("facts", "39 °F")];
    farm.keep("pickups", &[out.as_slice(), &none, &frozen].concat()).await;
    farm.keep("samples", &[("drawn", "2026-05-14T07:00"), ("subject", "lot"), ("lot", lot.as_str()), ("asked", asked)]).await;
    farm.clock("2026-05-17T12:00");
    farm
}

const PAPER: &str = "/lab/samples/1/results";

/// One line of a paper, as the form sends it.
fn line<'a>(analyte: &'a str, figure: &'a str, unit: &'a str) -> Vec<(&'a str, &'a str)> {
    vec![("analyte.0", analyte), ("figure.0", figure), ("unit.0", unit), ("reported", "2026-05-17")]
}

#[tokio::test]
async fn a_bottle_is_drawn_by_whoever_draws_it() {
    let farm = bottled("plate count").await;
    let form = farm.visit(Helper, "/lab/samples/new").await;
    form.came_with(200).says(&code(1)).says("value=\"Salmonella\"").says("value=\"water coliforms\"");
    let lot = code(1);
    let fields = [
        ("subject", "lot"),
        ("lot", lot.as_str()),
        ("cow", "Damson"),
        ("drawn", "2026-05-17T08:00"),
        ("asked", "plate count"),
        ("asked", "coliforms"),
        ("asked_other", "SPC, Butterfat"),
        ("lab", "Ferrier Valley Dairy Lab"),
    ];
    let sent = farm.submit(Helper, "/lab/samples", &fields).await;
    assert_eq!((sent.status, sent.location.as_str()), (303, "/lab/samples/2"));
    let kind = kind_of("samples");
    let kept = &farm.list("samples").await[1];
    assert_eq!(kept.cell(kind, "asked").text(), "plate count, coliforms, butterfat", "one thing has one name, and stands once");
    farm.visit(Helper, "/lab").await.came_with(200).says(&lot).says("out 3 days").says("out since today").never_says("Orla");
    farm.visit(Helper, "/lab/samples/2").await.came_with(200).says("Ferrier Valley").never_says("Write down the lab's paper");
    // The lab stays as it was last time.
    farm.visit(Owner, "/lab/samples/new").await.says("value=\"Ferrier Valley Dairy Lab\"");
    let early = farm.submit(Owner, "/lab/samples", &[("subject", "lot"), ("lot", &lot), ("drawn", "2026-05-14T06:30")]).await;
    early.came_with(422).says("before the lot was filled");
    let none = farm.submit(Owner, "/lab/samples", &[("subject", "cow"), ("drawn", "2026-05-17T08:00")]).await;
    none.came_with(422).says("Which cow is it of?");
    farm.submit(Owner, "/lab/samples", &[("subject", "lot"), ("lot", &lot), ("drawn", "2026-05-18T08:00")]).await.came_with(422);
    assert_eq!(farm.list("samples").await.len(), 2);
}

/// Source: arithmetic; a count says nothing until it is known in how much it was counted.
#[tokio::test]
async fn a_count_without_a_unit_is_asked_about() {
    let farm = bottled("").await;
    let page = farm.submit(Owner, PAPER, &line("thermoduric count", "90", "")).await;
    page.came_with(422).says("Counted in what? Labs usually give it per mL.").says("I meant per mL");
    let meant = [line("thermoduric count", "90", "").as_slice(), &[("instead", "unit.0=per mL")]].concat();
    farm.submit(Owner, PAPER, &meant).await.came_with(303);
    assert_eq!(farm.list("results").await[0].cell(kind_of("results"), "unit").text(), "per mL");
    farm.submit(Owner, PAPER, &line("butterfat", "4.1", "")).await.came_with(303);
}

#[tokio::test]
async fn a_whole_paper_is_kept_in_one_act_and_once() {
    let farm = bottled("plate count, coliforms, somatic cells, Salmonella").await;
    let form = farm.visit(Owner, "/lab/samples/1").await;
    form.says("name=\"analyte.3\" value=\"Salmonella\"").says("value=\"per mL\"").says("value=\"2026-05-17\"");
    let entry = form.entry();
    let fields = [
        ("entry", entry.as_str()),
        ("reported", "2026-05-17"),
        ("analyte.0", "plate count"),
        ("fixed.0", "yes"),
        ("figure.0", "1,900"),
        ("unit.0", "per mL"),
        ("analyte.1", "coliforms"),
        ("fixed.1", "yes"),
        ("figure.1", "<1"),
        ("unit.1", "per mL"),
        ("analyte.2", "somatic cells"),
        ("fixed.2", "yes"),
        ("figure.2", "200,000"),
        ("unit.2", "per mL"),
        ("analyte.3", "Salmonella"),
        ("fixed.3", "yes"),
        ("figure.3", "not detected"),
        ("unit.3", "in 25 mL"),
        ("analyte.4", ""),
        ("figure.4", ""),
    ];
    let sent = farm.submit(Owner, PAPER, &fields).await;
    assert_eq!((sent.status, sent.location.as_str()), (303, "/lab/results/1"));
    assert_eq!(farm.submit(Owner, PAPER, &fields).await.status, 303, "sent twice");
    assert_eq!(farm.list("results").await.len(), 4);
    let page = farm.visit(Owner, "/lab/samples/1").await;
    page.says("Coliforms &#60;1 per mL").says("Salmonella not detected in 25 mL").says("Keeps the limit");
    // Source: a score of 4 is 200,000 cells a milliliter (National Mastitis Council, from memory): one more for a doubling.
    page.says("Somatic cell score 4.0");
    let page = farm.visit(Helper, "/lab/results/4").await;
    page.came_with(200).says("Salmonella not detected in 25 mL").says("keeps its limit").says("nothing that was not looked for");
    for words in ["free of", "free from", "is safe.", "Stop this lot", "555-01"] {
        page.never_says(words);
    }
    farm.visit(Helper, "/lab").await.says("No bottle is out").says("Coliforms &#60;1 per mL").says("1 of 2 plate counts in May 2026");
}

/// The slips of the form, each asked about or refused, and each savable where it may be right.
#[tokio::test]
async fn slips_are_asked_about_before_anything_is_kept() {
    let farm = bottled("plate count").await;
    let refused = async |fields: Vec<(&'static str, &'static str)>| farm.submit(Owner, PAPER, &fields).await;
    refused(line("plate count", "many", "per mL")).await.came_with(422).says("is not a lab&#39;s figure");
    refused(line("plate count", "TNTC", "per mL")).await.came_with(422).says("Ask the lab for one");
    refused(line("plate count", "-5", "per mL")).await.came_with(422).says("never less than nothing");
    refused(line("plate count", "1,900", "")).await.came_with(422).says("Write the unit").never_says("It is right, keep it");
    refused(line("plate count", "1,900", "jars")).await.came_with(422).says("is not a unit");
    refused(line("", "1,900", "per mL")).await.came_with(422).says("this is missing");
    refused(vec![("reported", "2026-05-17"), ("analyte.0", "plate count"), ("fixed.0", "yes")])
        .await
        .came_with(422)
        .says("at least one result");
    let mut before = line("plate count", "1,900", "per mL");
    before[3].1 = "2026-05-13";
    refused(before.clone()).await.came_with(422).says("before the bottle was drawn");
    before[3].1 = "2026-05-18";
    refused(before).await.came_with(422).says("has not come yet");
    let hundred = refused(line("plate count", "1,900", "per 100 mL")).await;
    hundred.came_with(422).says("two differ a hundredfold").says("value=\"unit.0=per mL\"").says("It is right, keep it");
    let mut plates = line("plate count", "2,500", "per mL");
    plates.push(("plates.0", "232, 244 at 1:100; 33, 28 at 1:1000"));
    // Source: FDA Bacteriological Analytical Manual, chapter 3: 537 colonies over 0.0222 mL is 24,000 to 25,000.
    refused(plates).await.came_with(422).says("These plates make 24,000 per mL");
    let long = "9".repeat(10_000);
    let page = farm.submit(Owner, PAPER, &[("reported", "2026-05-17"), ("analyte.0", "plate count"), ("figure.0", &long)]).await;
    page.came_with(422).says("is not a lab&#39;s figure");
    assert!(farm.list("results").await.is_empty(), "something was half kept");

    let mut meant = line("plate count", "1,900", "per 100 mL");
    meant.push(("instead", "unit.0=per mL"));
    farm.submit(Owner, PAPER, &meant).await.came_with(303);
    let twice = farm.submit(Owner, PAPER, &line("plate count", "1,900", "per mL")).await;
    twice.came_with(422).says("a second unit, a repeat by the lab, or the same paper twice");
    let mut sure = line("plate count", "1,900", "per mL");
    sure.push(("sure", "part.0"));
    farm.submit(Owner, PAPER, &sure).await.came_with(303);
    assert_eq!(farm.list("results").await.len(), 2);
    // Another bottle, ten times the last.
    let lot = code(1);
    farm.keep("samples", &[("drawn", "2026-05-15T07:00"), ("subject", "lot"), ("lot", lot.as_str())]).await;
    let ten = farm.submit(Owner, "/lab/samples/2/results", &line("plate count", "19,000", "per mL")).await;
    ten.came_with(422).says("one zero too many").says("value=\"figure.0=1900\"");
}

#[tokio::test]
async fn two_questions_can_both_be_answered() {
    let farm = bottled("plate count, coliforms").await;
    let fields = [
        ("reported", "2026-05-17"),
        ("analyte.0", "plate count"),
        ("figure.0", "1,900"),
        ("unit.0", "per 100 mL"),
        ("analyte.1", "coliforms"),
        ("figure.1", "4"),
        ("unit.1", "per 100 mL"),
    ];
    let first = [fields.as_slice(), &[("sure", "unit.0")]].concat();
    let page = farm.submit(Owner, PAPER, &first).await;
    page.came_with(422).says("<input type=\"hidden\" name=\"sure\" value=\"unit.0\">").says("value=\"unit.1=per mL\"");
    let second = [first.as_slice(), &[("sure", "unit.1")]].concat();
    farm.submit(Owner, PAPER, &second).await.came_with(303);
}

#[tokio::test]
async fn a_helper_cannot_write_down_a_paper() {
    let farm = bottled("plate count").await;
    farm.submit(Helper, PAPER, &line("plate count", "1,900", "per mL")).await.came_with(403).says("For the owner only");
    assert!(farm.list("results").await.is_empty());
    farm.visit(Owner, "/lab/samples/99").await.came_with(404);
    farm.visit(Owner, "/lab/results/99").await.came_with(404);
}

/// What the lab wrote goes out to the folder and back in, letter by letter.
#[tokio::test]
async fn less_than_one_stays_less_than_one_through_page_and_folder() {
    let farm = bottled("coliforms").await;
    farm.submit(Owner, PAPER, &line("coliforms", "<1", "cfu/mL")).await.came_with(303);
    farm.visit(Owner, "/lab/results/1").await.says("Coliforms &#60;1 cfu/mL");
    let files = folder::write(&records::book(&mut farm.ledger.read().await.unwrap()).await.unwrap());
    let text = String::from_utf8(files["results.csv"].clone()).unwrap();
    assert!(text.contains(",coliforms,<1,cfu/mL,"), "{text}");
    let mut into = Farm::empty().await;
    into.now = farm.now;
    into.take_in(&files).await.unwrap();
    let again = folder::write(&records::book(&mut into.ledger.read().await.unwrap()).await.unwrap());
    assert!(again == files);
}

/// A pathogen in a lot that has gone out: what was known then stays, and the page leads on.
#[tokio::test]
async fn a_late_finding_keeps_what_was_known_and_opens_the_stop() {
    let farm = bottled("Salmonella").await;
    let sent = farm.submit(Owner, PAPER, &line("Salmonella", "detected", "in 25 mL")).await;
    assert_eq!((sent.status, sent.location.as_str()), (303, "/lab/results/1"));
    let page = farm.visit(Owner, "/lab/results/1").await;
    let (first, second) = (code(0), code(1));
    page.came_with(200)
        .says("Salmonella was found in lot")
        .says("<button class=\"stop\">Stop this lot</button>")
        .says(&format!("name=\"what\" value=\"lot {first}\""))
        .says("Stop everything filled since the last clean break")
        .says(&format!("name=\"certain\" value=\"{second}\""))
        .says(&format!("/trace/{first}"))
        .says("County health department, 555-0120")
        .says("does not mean that nobody has it")
        .says("2 half-gallons, to 1 household")
        .says("Can go")
        .says("Keep back")
        .never_says("Orla Tremont");
    let pickups = kind_of("pickups");
    assert_eq!(farm.list("pickups").await[0].cell(pickups, "verdict").text(), "Can go");
    let helpers = farm.visit(Helper, "/lab/results/1").await;
    helpers.came_with(200).says("Stop this lot").says("Tell the owner now").never_says("555-01").never_says("/trace/");
    // The button's own fields stop the lot, and the other's stop both.
    let fields = [("what", page.hidden("what")), ("reason", page.hidden("reason"))];
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (*name, value.as_str())).collect();
    assert_eq!(farm.submit(Helper, "/stop", &fields).await.location, "/stop");
    farm.visit(Owner, "/stop").await.says("Salmonella was found in the bottle drawn");
    farm.visit(Owner, "/lab/results/1").await.says("is stopped already").never_says("Stop this lot");
    farm.submit(Owner, "/trace/hold", &[("certain", &second), ("back", "/trace")]).await.came_with(303);
    assert_eq!(farm.list("holds").await.len(), 2);
}

/// Source: the PMO's ladder, 2 of the last 4; the days are the rule set's own.
#[tokio::test]
async fn an_indicator_over_says_what_the_rule_does() {
    let farm = bottled("plate count, somatic cells").await;
    let earlier = farm.keep("samples", &[("drawn", "2026-05-14T07:30"), ("subject", "lot"), ("lot", &code(1))]).await.to_string();
    let own = [("sample", earlier.as_str()), ("analyte", "plate count"), ("figure", "30000"), ("unit", "per mL")];
    farm.keep("results", &[own.as_slice(), &[("reported", "2026-05-16")]].concat()).await;
    let lot = code(0);
    let next = [("drawn", "2026-05-15T07:00"), ("subject", "lot"), ("lot", lot.as_str())];
    farm.keep("samples", &next).await;
    farm.submit(Owner, "/lab/samples/3/results", &line("plate count", "25,000", "per mL")).await.came_with(303);
    let page = farm.visit(Owner, "/lab/results/2").await;
    page.says("is over a limit").says("2 of the last 2 results are over the limit").says("That brings a notice");
    page.says("from Wed 20 May 2026 to Sun 7 Jun 2026").says("counted from the day the lab reported").never_says("Stop this lot");
    farm.visit(Helper, "/lab").await.says("That brings a notice").says("<span class=\"chip warm\">over</span>");
    farm.submit(Owner, "/lab/samples/3/results", &line("somatic cells", "450,000", "per mL")).await.came_with(303);
    farm.visit(Owner, "/lab/results/3").await.says("calls for a test for pathogens").says("keeps its limit");
}

#[tokio::test]
async fn water_a_swab_and_a_cow_say_what_they_touch() {
    let farm = bottled("plate count").await;
    for (subject, more) in [("water", ("place", "Barn tap")), ("swab", ("place", "Can 1 lid")), ("cow", ("cow", "Damson"))] {
        farm.keep("samples", &[("drawn", "2026-05-14T05:45"), ("subject", subject), more]).await;
    }
    // In water coliforms are those of water, counted in 100 mL, and no law's limit on milk is about them.
    farm.submit(Owner, "/lab/samples/2/results", &line("coliforms", "12", "per 100 mL")).await.came_with(303);
    let water = farm.visit(Owner, "/lab/results/1").await;
    water.says("everything this water washed").says("water: Barn tap").says("Water coliforms 12 per 100 mL").never_says("keeps its limit");
    farm.submit(Owner, "/lab/samples/3/results", &line("Listeria", "found", "in 25 mL")).await.came_with(303);
    farm.visit(Owner, "/lab/results/2").await.says("whatever this surface touched").says("Listeria monocytogenes found");
    farm.submit(Owner, "/lab/samples/4/results", &line("S. aureus", "230", "per mL")).await.came_with(303);
    let page = farm.visit(Owner, "/lab/results/3").await;
    page.says("It touches the milk of Damson").says(&code(0)).says("name no limit");
    // Source: Garwood's exact interval for 230 counted is 201 to 262 (statistical tables, common practice).
    page.says("As if 1 mL was plated").says("201 to 262").says("at least that wide");
}
