//! One lot, several ways of handing it out: each household's jars are weighed by the rules its own way stands under.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use super::farm::{Farm, kind_of};
use super::mornings::fill;
use tallypail::{
    trade::{records::Record, rules::places},
    web::visitor::Role,
};

/// Chill steps that a jar of 38 °F at 75 minutes meets, and steps that it does not.
const MET: &str = "cool 40 °F within 120 min of milking end [chosen]";
const NOT_MET: &str = "cool 37 °F within 60 min of milking end [chosen]";

/// Follows rules of the farm's own making, alone or beside those before.
async fn follow(farm: &Farm, title: &str, since: &str, beside: &str, channels: &str, steps: &str, caps: &str) {
    let rules = [
        ("place", title),
        ("since", since),
        ("title", title),
        ("sure", "our own choice"),
        ("beside", beside),
        ("channels", channels),
        ("steps", steps),
        ("caps", caps),
        ("fresh_days", "5"),
    ];
    farm.keep("rules", &rules).await;
}

/// A farm with one cold lot, and a household for each of some ways.
async fn farm(ways: &[(&str, &str)]) -> (Farm, String) {
    let farm = Farm::new().await;
    let lot = fill(&farm, "2026-05-13", "400", true).await;
    for (label, way) in ways {
        let person = [
            ("label", *label),
            ("name", "Ashgrove"),
            ("sort", "member"),
            ("channel", *way),
            ("pickup_day", "Thursday"),
            ("since", "2026-01-02"),
        ];
        farm.keep("people", &person).await;
        farm.promise(label, "2", way).await;
    }
    (farm, lot)
}

fn hand_out<'a>(person: &'a str, lot: &'a str, halves: &'a str) -> Vec<(&'a str, &'a str)> {
    vec![("person", person), ("lot", lot), ("half_gallons", halves), ("evidence", "seen")]
}

fn cell(record: &Record, column: &str) -> String {
    record.cell(kind_of("pickups"), column).text().to_owned()
}

/// The ways and the caps of a built-in set.
fn of_place(id: &str) -> (String, String) {
    let set = places().unwrap().into_iter().find(|set| set.id == id).unwrap();
    (set.channels.to_string(), set.caps.to_string())
}

/// Source: Vermont's agency of agriculture, read second-hand: Tier 1 is the farm itself, any delivery needs Tier 2.
#[tokio::test]
async fn vermont_delivers_under_tier_2_only() {
    let (farm, lot) = farm(&[("M01", "delivery"), ("M02", "farm gate")]).await;
    let (tier1, tier2) = (of_place("us-vt-tier1"), of_place("us-vt-tier2"));
    follow(&farm, "Vermont Tier 1", "2026-01-02", "no", &tier1.0, MET, "").await;
    let refused = farm.submit(Role::Owner, "/pickup", &hand_out("M01", &lot, "1")).await;
    refused.came_with(422).says("<p class=\"word\">Keep back</p>").says("Delivery is not among the ways the rule names: farm gate");
    refused.says("Nothing on hand can go now for delivery.");
    farm.submit(Role::Owner, "/pickup", &hand_out("M02", &lot, "1")).await.came_with(303);
    follow(&farm, "Vermont Tier 2", "2026-01-03", "no", &tier2.0, MET, "").await;
    farm.submit(Role::Owner, "/pickup", &hand_out("M01", &lot, "1")).await.came_with(303);
    let kept = farm.list("pickups").await;
    assert_eq!(cell(&kept[1], "verdict"), "Can go");
    assert!(cell(&kept[1], "facts").contains("Rules: Vermont Tier 2"), "{}", cell(&kept[1], "facts"));
}

/// Source: this program's own rule: a set beside another is asked about the ways it names, and about no other.
#[tokio::test]
async fn a_lot_can_go_one_way_and_be_kept_back_for_another() {
    let (farm, lot) = farm(&[("M01", "herdshare"), ("M02", "farm gate")]).await;
    follow(&farm, "Gate rules", "2026-01-02", "no", "farm gate [chosen]", MET, "").await;
    follow(&farm, "Share contract", "2026-01-03", "yes", "herdshare [chosen]", NOT_MET, "").await;
    let page = farm.visit(Role::Helper, "/pickup").await;
    page.says("herdshare: Keep back</span>").says("farm gate: Can go</span>");
    let plan = farm.visit(Role::Helper, "/pickup/pack").await;
    plan.says("name=\"sum.M02\" value=\"2\"").says("name=\"sum.M01\" value=\"0\"").says(&format!("2 × {lot}"));
    farm.submit(Role::Helper, "/pickup", &hand_out("M01", &lot, "1")).await.came_with(422).says("Keep back");
    farm.submit(Role::Helper, "/pickup", &hand_out("M02", &lot, "1")).await.came_with(303);
    let mut gone = hand_out("M01", &lot, "1");
    gone.push(("already", &lot));
    farm.submit(Role::Helper, "/pickup", &gone).await.came_with(303);
    let kept = farm.list("pickups").await;
    assert_eq!((cell(&kept[0], "verdict").as_str(), cell(&kept[1], "verdict").as_str()), ("Can go", "Keep back"));
    assert!(cell(&kept[0], "facts").contains("Rules: Gate rules"), "{}", cell(&kept[0], "facts"));
    assert!(cell(&kept[1], "facts").contains("Rules: Share contract"), "{}", cell(&kept[1], "facts"));
    assert_eq!(cell(&kept[1], "marked"), "handed out while Keep back", "the way is named; it is the chill that was not met");
}

/// Source: this program's own rule: what is not known, or only remembered, forbids nothing and allows nothing.
#[tokio::test]
async fn ways_not_known_or_only_remembered_cannot_be_told() {
    for (ways, word, says) in [
        ("", "Can&#39;t tell", "Which ways of handing out are allowed is not known"),
        ("shop [memory]", "Can&#39;t tell", "Herdshare is not among the ways the rule names: shop (from memory)"),
        ("none named [memory]", "Can&#39;t tell", "The rule allows no way of handing out"),
        ("none named [read]", "Keep back", "The rule allows no way of handing out"),
    ] {
        let (farm, lot) = farm(&[("M01", "herdshare")]).await;
        follow(&farm, "Some rules", "2026-01-02", "no", ways, MET, "").await;
        let refused = farm.submit(Role::Owner, "/pickup", &hand_out("M01", &lot, "1")).await;
        refused.came_with(422).says(&format!("<p class=\"word\">{word}</p>")).says(says);
        assert!(farm.list("pickups").await.is_empty());
    }
}

#[tokio::test]
async fn an_unknown_walk_in_is_weighed_at_the_farm_gate() {
    let (farm, lot) = farm(&[("M01", "herdshare")]).await;
    follow(&farm, "Shares only", "2026-01-02", "no", "herdshare [read]", MET, "").await;
    farm.visit(Role::Helper, "/pickup").await.says("An unknown walk-in has no share: the farm gate's rule is used.");
    farm.submit(Role::Helper, "/pickup", &hand_out("M01", &lot, "1")).await.came_with(303);
    let refused = farm.submit(Role::Helper, "/pickup", &hand_out("unknown", &lot, "1")).await;
    refused.came_with(422).says("Farm gate is not among the ways the rule names: herdshare (read in the law).");
    let mut gone = hand_out("unknown", &lot, "1");
    gone.push(("at", "2026-05-14T11:00"));
    farm.submit(Role::Helper, "/pickup", &gone).await.came_with(303);
    let kept = farm.list("pickups").await;
    assert_eq!(cell(&kept[1], "marked"), "handed out while Keep back; the rule does not name farm gate");
    farm.visit(Role::Helper, "/pickup").await.says("the rule does not name farm gate");
}

/// Source: Vermont's agency of agriculture, read second-hand: 350 quarts a week; 175 half-gallons are within, 176 are over.
#[tokio::test]
async fn a_cap_is_asked_about_once_for_an_act() {
    let (farm, lot) = farm(&[("M01", "farm gate"), ("M02", "farm gate")]).await;
    let (ways, caps) = of_place("us-vt-tier1");
    follow(&farm, "Vermont Tier 1", "2026-01-02", "no", &ways, MET, &caps).await;
    farm.submit(Role::Owner, "/pickup", &hand_out("unknown", &lot, "172")).await.came_with(303);
    crate::packing::packed(&farm).await.came_with(303);
    let both = [("day", "2026-05-14"), ("packing", "1"), ("took.M01", "as packed"), ("took.M02", "as packed"), ("evidence", "seen")];
    let asked = farm.submit(Role::Owner, "/pickup/everybody", &both).await;
    asked.came_with(422).says("352 of 350 quarts a week, over the cap of the rules").says("Tier 2 holds").says("value=\"cap\"");
    assert_eq!(farm.list("pickups").await.len(), 1, "nobody of the list is kept before the answer");
    farm.submit(Role::Owner, "/pickup", &hand_out("M01", &lot, "3")).await.came_with(303);
    assert_eq!(farm.list("pickups").await.len(), 2, "175 half-gallons are 350 quarts, which is within");
    farm.submit(Role::Owner, "/pickup", &hand_out("M02", &lot, "1")).await.came_with(422).says("352 of 350 quarts a week");
    let mut sure = hand_out("M02", &lot, "1");
    sure.push(("sure", "cap"));
    farm.submit(Role::Owner, "/pickup", &sure).await.came_with(303);
    let hidden = farm.submit(Role::Owner, "/pickup", &hand_out("M02", &lot, "1")).await;
    hidden.came_with(422).says("M02 Ashgrove already has");
}

#[tokio::test]
async fn what_the_owner_decided_is_offered_and_said() {
    let farm = Farm::new().await;
    let lot = fill(&farm, "2026-05-13", "6", false).await;
    farm.visit(Role::Helper, "/pickup").await.never_says("decided");
    let page = format!("/lots/{lot}");
    let form = farm.visit(Role::Owner, &page).await;
    let stands = form.text.split("name=\"stands\" value=\"").nth(1).unwrap().split('"').next().unwrap();
    let reason = [("stands", stands), ("why", "The bath stood at 34 °F all night")];
    farm.submit(Role::Owner, &format!("{page}/decision"), &reason).await.came_with(303);
    farm.visit(Role::Helper, "/pickup").await.says("<span>decided</span>");
    farm.submit(Role::Helper, "/pickup", &hand_out("unknown", &lot, "1")).await.came_with(303);
    let kept = farm.list("pickups").await;
    assert_eq!(cell(&kept[0], "verdict"), "Can go");
    assert!(cell(&kept[0], "facts").contains("The bath stood at 34 °F all night"), "{}", cell(&kept[0], "facts"));
}
