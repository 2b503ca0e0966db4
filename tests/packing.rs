//! Packing a pickup day and handing it out by exception, through the farm's own pages.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::farm::{Farm, Page, kind_of};
use tallypail::{trade::records::Record, web::visitor::Role};

/// A Thursday with an old lot of 7 and a new one of 9, and three members and a walk-in who come on it.
pub async fn farm() -> (Farm, String, String) {
    let farm = Farm::new().await;
    let old = crate::mornings::fill(&farm, "2026-05-12", "7", true).await;
    let new = crate::mornings::fill(&farm, "2026-05-13", "9", true).await;
    for (label, name, jars, sort, way) in [
        ("M01", "Ashgrove", "4", "member", "herdshare"),
        ("M02", "Brindlecombe", "3", "member", "herdshare"),
        ("M03", "Corrivane", "5", "member", "herdshare"),
        ("W01", "Dunnock", "2", "walk-in", "farm gate"),
    ] {
        let person = [
            ("label", label),
            ("name", name),
            ("sort", sort),
            ("channel", way),
            ("phone", "555-0150"),
            ("second_way", "crate@example.org"),
            ("pickup_day", "Thursday"),
            ("since", "2026-01-02"),
        ];
        farm.keep("people", &person).await;
        farm.promise(label, jars, way).await;
    }
    (farm, old, new)
}

/// The fields of a form on a page, as a browser would send it back.
pub fn sent_back(page: &Page, action: &str) -> Vec<(String, String)> {
    let form = page.text.split_once(&format!("action=\"{action}\"")).unwrap().1.split_once("</form>").unwrap().0;
    let mut fields = Vec::new();
    for tag in form.split("<input ").skip(1) {
        let tag = tag.split('>').next().unwrap();
        let value_of = |name: &str| tag.split_once(&format!("{name}=\"")).map(|(_, rest)| unescaped(rest.split('"').next().unwrap()));
        let is_choice = tag.contains("type=\"radio\"") || tag.contains("type=\"checkbox\"");
        if let Some(name) = value_of("name")
            && name != "seal"
            && (!is_choice || tag.contains("checked"))
        {
            fields.push((name, value_of("value").unwrap_or_default()));
        }
    }
    fields
}

/// A cell as a browser reads it.
fn unescaped(text: &str) -> String {
    text.replace("&#34;", "\"").replace("&#39;", "'").replace("&#60;", "<").replace("&#62;", ">").replace("&#38;", "&")
}

pub fn with(fields: &[(String, String)], name: &str, value: &str) -> Vec<(String, String)> {
    let mut fields: Vec<(String, String)> = fields.iter().filter(|(own, _)| own != name).cloned().collect();
    fields.push((name.to_owned(), value.to_owned()));
    fields
}

pub async fn submit(farm: &Farm, role: Role, path: &str, fields: &[(String, String)]) -> Page {
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    farm.submit(role, path, &fields).await
}

pub fn cell(name: &str, record: &Record, column: &str) -> String {
    let cell = record.cell(kind_of(name), column);
    cell.whole().map_or_else(|| cell.text().to_owned(), |whole| whole.to_string())
}

/// Every crate there is: whose, of which lot, how many.
async fn crates(farm: &Farm) -> Vec<(String, String, String)> {
    let cells = |own: &Record| (cell("crates", own, "person"), cell("crates", own, "lot"), cell("crates", own, "half_gallons"));
    farm.list("crates").await.iter().map(cells).collect()
}

/// Packs today as it is proposed.
pub async fn packed(farm: &Farm) -> Page {
    let page = farm.visit(Role::Owner, "/pickup/pack").await;
    submit(farm, Role::Owner, "/pickup/pack", &sent_back(&page, "/pickup/pack")).await
}

#[tokio::test]
async fn a_day_is_packed_from_the_oldest_lot_that_can_go() {
    let (farm, old, new) = farm().await;
    farm.visit(Role::Helper, "/pickup").await.says("4 households to come, 14 half-gallons promised.");
    let plan = farm.visit(Role::Helper, "/pickup/pack").await;
    plan.says("16 half-gallons on the shelf that may go, 14 promised.").says(&format!("4 × {old}")).says(&format!("2 × {new}"));
    packed(&farm).await.came_with(303);
    let lots = |own: &str, lot: &str, jars: &str| (own.to_owned(), lot.to_owned(), jars.to_owned());
    assert_eq!(crates(&farm).await, [lots("1", "1", "4"), lots("2", "1", "3"), lots("3", "2", "5"), lots("4", "2", "2")]);
    let page = farm.visit(Role::Owner, "/pickup").await;
    page.says("4 to come, 14 half-gallons packed").never_says("value=\"seen\" checked").never_says("value=\"assumed\" checked");
    farm.visit(Role::Owner, "/pickup/list").await.says("M03 Corrivane").says(&format!("5 × {new}")).says("As promised.");
    farm.visit(Role::Owner, "/pickup/list.csv").await.says("M02 Brindlecombe,3");
}

#[tokio::test]
async fn everybody_as_packed_is_one_act_and_each_exception_one_tap() {
    let (farm, old, new) = farm().await;
    packed(&farm).await.came_with(303);
    let form = sent_back(&farm.visit(Role::Helper, "/pickup").await, "/pickup/everybody");
    submit(&farm, Role::Helper, "/pickup/everybody", &form).await.came_with(422).says("How we know: this is missing.");
    let form = with(&with(&with(&form, "took.M01", "1 fewer"), "took.M03", "no empties"), "took.W01", "not here");
    let form = with(&form, "evidence", "signed");
    for _ in 0..2 {
        submit(&farm, Role::Helper, "/pickup/everybody", &form).await.came_with(303);
    }
    let kept = farm.list("pickups").await;
    let mut told: Vec<_> = kept
        .iter()
        .map(|own| (cell("pickups", own, "person"), cell("pickups", own, "lot"), cell("pickups", own, "half_gallons")))
        .collect();
    told.sort();
    let line = |person: &str, lot: &str, jars: &str| (person.to_owned(), lot.to_owned(), jars.to_owned());
    assert_eq!(told, [line("1", "1", "3"), line("2", "1", "3"), line("3", "2", "5")], "{old} {new}");
    assert!(kept.iter().all(|own| cell("pickups", own, "evidence") == "signed" && cell("pickups", own, "verdict") == "Can go"));
    let empties = farm.list("empties").await;
    assert_eq!(empties.len(), 1);
    assert_eq!(
        (cell("empties", &empties[0], "person"), cell("empties", &empties[0], "sort"), cell("empties", &empties[0], "half_gallons")),
        ("3".to_owned(), "not brought back".to_owned(), "5".to_owned())
    );
    // Whoever was not here stays on the list, and takes one more later.
    let page = farm.visit(Role::Helper, "/pickup").await;
    page.says("W01 Dunnock").never_says("took.M01");
    let late = with(&with(&sent_back(&page, "/pickup/everybody"), "took.W01", "1 more"), "evidence", "seen");
    submit(&farm, Role::Helper, "/pickup/everybody", &late).await.came_with(303);
    // The jar that M01 left is the oldest that is free.
    let out = farm.list("pickups").await.split_off(3);
    let told: Vec<_> = out.iter().map(|own| (cell("pickups", own, "lot"), cell("pickups", own, "half_gallons"))).collect();
    assert_eq!(told, [("2".to_owned(), "2".to_owned()), ("1".to_owned(), "1".to_owned())]);
    farm.visit(Role::Owner, "/pickup").await.says("Every crate of today is gone.");
}

#[tokio::test]
async fn one_undo_takes_the_whole_list_back() {
    let (farm, ..) = farm().await;
    packed(&farm).await.came_with(303);
    let form = with(&sent_back(&farm.visit(Role::Helper, "/pickup").await, "/pickup/everybody"), "evidence", "seen");
    submit(&farm, Role::Helper, "/pickup/everybody", &form).await.came_with(303);
    assert_eq!(farm.list("pickups").await.len(), 4);
    let page = farm.visit(Role::Helper, "/pickup").await;
    farm.submit(Role::Helper, "/undo", &[("act", &page.hidden("act"))]).await.came_with(303);
    assert!(farm.list("pickups").await.is_empty());
}

#[tokio::test]
async fn nobody_of_a_list_is_kept_when_one_of_them_cannot_be() {
    let (farm, _, new) = farm().await;
    packed(&farm).await.came_with(303);
    farm.keep("holds", &[("at", "2026-05-14T11:59"), ("scope", "lot"), ("lot", &new), ("reason", "")]).await;
    let form = with(&sent_back(&farm.visit(Role::Owner, "/pickup").await, "/pickup/everybody"), "evidence", "assumed");
    let refused = submit(&farm, Role::Owner, "/pickup/everybody", &form).await;
    refused.came_with(422).says("Keep back").says("Nobody was kept.").says("They already left: record it");
    assert!(farm.list("pickups").await.is_empty());
    let left = with(&form, "already", &new);
    submit(&farm, Role::Owner, "/pickup/everybody", &left).await.came_with(303);
    assert!(farm.list("pickups").await.iter().any(|own| cell("pickups", own, "marked") == "handed out while Keep back"));
}

/// Two phones pack the same day at once, and two hand it out at once: nothing is lost and nothing doubled.
#[tokio::test]
async fn two_phones_at_once_lose_and_double_nothing() {
    let (farm, ..) = farm().await;
    let (one, other) = (farm.visit(Role::Owner, "/pickup/pack").await, farm.visit(Role::Helper, "/pickup/pack").await);
    let (one, other) = (sent_back(&one, "/pickup/pack"), sent_back(&other, "/pickup/pack"));
    let (one, other) = tokio::join!(submit(&farm, Role::Owner, "/pickup/pack", &one), submit(&farm, Role::Helper, "/pickup/pack", &other));
    let (won, lost) = if one.status == 303 { (one, other) } else { (other, one) };
    assert_eq!((won.status, lost.status), (303, 422), "{}", lost.text);
    lost.says("was packed by").says("nothing was packed twice");
    assert_eq!((farm.list("packings").await.len(), farm.list("portions").await.len(), farm.list("crates").await.len()), (1, 4, 4));

    let (one, other) = (farm.visit(Role::Owner, "/pickup").await, farm.visit(Role::Helper, "/pickup").await);
    let one = with(&with(&sent_back(&one, "/pickup/everybody"), "evidence", "seen"), "took.M02", "not here");
    let other = with(&with(&sent_back(&other, "/pickup/everybody"), "evidence", "signed"), "took.M01", "not here");
    let (one, other) =
        tokio::join!(submit(&farm, Role::Owner, "/pickup/everybody", &one), submit(&farm, Role::Helper, "/pickup/everybody", &other));
    assert_eq!((one.status, other.status), (303, 303), "{} {}", one.text, other.text);
    let mut takers: Vec<String> = farm.list("pickups").await.iter().map(|own| cell("pickups", own, "person")).collect();
    takers.sort();
    assert_eq!(takers, ["1", "2", "3", "4"], "each once");
    let told = [one.location, other.location].into_iter().find(|address| address.contains("already=")).unwrap();
    assert!(told.contains("M03") && told.contains("W01"), "{told}");
    farm.visit(Role::Owner, &told).await.says("Kept on another phone already:");
}

#[tokio::test]
async fn walk_ins_are_cut_first_and_the_sum_is_shown() {
    let (farm, ..) = farm().await;
    // Two of the old lot went to the house, and the evening's count found four of the new one gone without a word.
    farm.keep(
        "asides",
        &[
            ("at", "2026-05-14T11:00"),
            ("lot", &lot_code(&farm, 0).await),
            ("sort", "household"),
            ("gallons", "0"),
            ("half_gallons", "2"),
            ("quarts", "0"),
            ("pints", "0"),
        ],
    )
    .await;
    farm.keep(
        "counts",
        &[
            ("at", "2026-05-14T11:30"),
            ("lot", &lot_code(&farm, 1).await),
            ("gallons", "0"),
            ("half_gallons", "5"),
            ("quarts", "0"),
            ("pints", "0"),
            ("counter", "Tobe"),
        ],
    )
    .await;
    let page = farm.visit(Role::Owner, "/pickup/pack").await;
    page.says("10 half-gallons on the shelf that may go, 14 promised: 4 short.");
    page.says("Promised 4; of what there was, 3.33 is your part: 3 in whole jars now; 0.33 is carried on and evened up.");
    page.says("W01 Dunnock").says("0 in whole jars now");
    packed(&farm).await.came_with(303);
    let jars: i64 = farm.list("crates").await.iter().map(|own| cell("crates", own, "half_gallons").parse::<i64>().unwrap()).sum();
    assert_eq!(jars, 10, "never more than were counted, and none left over while somebody is short");
}

async fn lot_code(farm: &Farm, nth: usize) -> String {
    cell("lots", &farm.list("lots").await[nth], "code")
}

#[tokio::test]
async fn the_owner_may_change_the_sum_with_a_reason_and_never_beyond_what_there_is() {
    let (farm, ..) = farm().await;
    let form = sent_back(&farm.visit(Role::Owner, "/pickup/pack").await, "/pickup/pack");
    let changed = with(&form, "jars.M01", "5");
    submit(&farm, Role::Owner, "/pickup/pack", &changed).await.came_with(422).says("Why does it differ from the sum?").says("value=\"5\"");
    submit(&farm, Role::Helper, "/pickup/pack", &with(&changed, "reason", "birthday")).await.came_with(422).says("Only the owner");
    let beyond = with(&with(&form, "jars.M01", "9"), "reason", "birthday");
    submit(&farm, Role::Owner, "/pickup/pack", &beyond).await.came_with(422).says("of them are not there");
    submit(&farm, Role::Owner, "/pickup/pack", &with(&form, "jars.M01", "many")).await.came_with(422).says("Write a whole number");
    assert!(farm.list("packings").await.is_empty());
    submit(&farm, Role::Owner, "/pickup/pack", &with(&changed, "reason", "A birthday on Friday")).await.came_with(303);
    let portion = farm.list("portions").await[0].clone();
    assert_eq!(
        (cell("portions", &portion, "jars"), cell("portions", &portion, "reason")),
        ("5".to_owned(), "A birthday on Friday".to_owned())
    );
    farm.visit(Role::Owner, "/pickup/list").await.says("Changed by hand: A birthday on Friday.").says("1 is ahead and evened up");
}

#[tokio::test]
async fn what_nobody_saw_is_not_kept() {
    let (farm, old, _) = farm().await;
    let form = sent_back(&farm.visit(Role::Owner, "/pickup/pack").await, "/pickup/pack");
    farm.keep("holds", &[("at", "2026-05-14T11:59"), ("scope", "lot"), ("lot", &old), ("reason", "")]).await;
    let stale = submit(&farm, Role::Owner, "/pickup/pack", &form).await;
    stale.came_with(422).says("changed since this page was opened").says("9 half-gallons on the shelf that may go");
    assert!(farm.list("packings").await.is_empty());
}

#[tokio::test]
async fn what_stands_packed_for_others_is_not_given_away() {
    let (farm, old, _) = farm().await;
    packed(&farm).await.came_with(303);
    let walk_in = [("person", "unknown"), ("lot", old.as_str()), ("half_gallons", "1"), ("evidence", "seen")];
    farm.submit(Role::Owner, "/pickup", &walk_in).await.came_with(422).says("7 half-gallons of them packed for others");
    let own = [("person", "M01"), ("lot", old.as_str()), ("half_gallons", "4"), ("evidence", "seen"), ("empties", "1")];
    farm.submit(Role::Owner, "/pickup", &own).await.came_with(303);
    let empties = farm.list("empties").await;
    assert_eq!(
        (cell("empties", &empties[0], "sort"), cell("empties", &empties[0], "half_gallons")),
        ("not brought back".to_owned(), "3".to_owned())
    );
    farm.visit(Role::Owner, "/pickup").await.never_says("took.M01").says("took.M02");
}

/// Source: Colorado Revised Statutes 25-5.5-117, second-hand: the signed bill of sale and boarding contract come first.
#[tokio::test]
async fn an_unsigned_share_is_not_packed_and_not_handed_out() {
    let (farm, old, _) = farm().await;
    let person = [
        ("label", "M04"),
        ("name", "Ellory"),
        ("sort", "member"),
        ("channel", "herdshare"),
        ("phone", "555-0151"),
        ("pickup_day", "Thursday"),
        ("since", "2026-05-01"),
    ];
    farm.keep("people", &person).await;
    farm.keep("shares", &[("person", "M04"), ("part", "1"), ("half_gallons", "2"), ("channel", "herdshare"), ("since", "2026-05-01")])
        .await;
    farm.visit(Role::Helper, "/pickup/pack")
        .await
        .says("M04 Ellory")
        .says("no bill of sale is signed, and no boarding agreement is signed")
        .never_says("jars.M04");
    let planned = [("person", "M04"), ("lot", old.as_str()), ("half_gallons", "2"), ("evidence", "seen")];
    farm.submit(Role::Helper, "/pickup", &planned).await.came_with(422).says("Nothing is handed out before that is put right.");
    let mut gone = planned.to_vec();
    gone.push(("already", "M04"));
    farm.submit(Role::Helper, "/pickup", &gone).await.came_with(303);
    assert_eq!(cell("pickups", &farm.list("pickups").await[0], "marked"), "no bill of sale is signed; no boarding agreement is signed");
}

/// Source: Alaska Statutes 17.20.015(b)(1): at least two ways to be reached.
#[tokio::test]
async fn one_phone_alone_gets_no_milk_where_the_rule_asks_for_two_ways() {
    let (farm, old, _) = farm().await;
    let set = tallypail::trade::rules::places().unwrap().into_iter().find(|set| set.id == "us-ak-herdshare").unwrap();
    let rules = [
        ("place", set.id.as_str()),
        ("since", "2026-05-01"),
        ("title", &set.title),
        ("sure", "read in the law"),
        ("needs", &set.needs.to_string()),
        ("best_by_days", "10"),
        ("best_by_from", "oldest milking"),
    ]
    .map(|(name, value)| (name, value.to_owned()));
    let rules: Vec<(&str, &str)> = rules.iter().map(|(name, value)| (*name, value.as_str())).collect();
    farm.keep("rules", &rules).await;
    let person = [
        ("label", "M05"),
        ("name", "Farrant"),
        ("sort", "member"),
        ("channel", "herdshare"),
        ("phone", "555-0155"),
        ("pickup_day", "Thursday"),
        ("since", "2026-01-02"),
    ];
    farm.keep("people", &person).await;
    farm.promise("M05", "2", "herdshare").await;
    farm.visit(Role::Owner, "/pickup/pack").await.says("M05 Farrant").says("a second way to reach them is missing");
    let planned = [("person", "M05"), ("lot", old.as_str()), ("half_gallons", "2"), ("evidence", "seen")];
    farm.submit(Role::Owner, "/pickup", &planned).await.came_with(422).says("a second way to reach them is missing");
}

#[tokio::test]
async fn a_pause_is_kept_to_and_whoever_comes_all_the_same_is_asked_about() {
    let (farm, old, _) = farm().await;
    farm.keep("pauses", &[("person", "M02"), ("since", "2026-05-10"), ("until", "2026-05-20")]).await;
    farm.visit(Role::Owner, "/pickup").await.says("3 households to come, 11 half-gallons promised.");
    let came = [("person", "M02"), ("lot", old.as_str()), ("half_gallons", "1"), ("evidence", "seen")];
    farm.submit(Role::Owner, "/pickup", &came).await.came_with(422).says("M02 Brindlecombe is paused until Wed 20 May 2026.");
    let mut sure = came.to_vec();
    sure.push(("sure", "person M02"));
    farm.submit(Role::Owner, "/pickup", &sure).await.came_with(303);
}

#[tokio::test]
async fn a_packing_is_taken_back_until_somebody_has_theirs() {
    let (farm, ..) = farm().await;
    packed(&farm).await.came_with(303);
    let day = [("day", "2026-05-14")];
    farm.submit(Role::Owner, "/pickup/unpack", &day).await.came_with(303);
    assert!(farm.list("packings").await.is_empty() && farm.list("crates").await.is_empty());
    packed(&farm).await.came_with(303);
    let form = with(&sent_back(&farm.visit(Role::Helper, "/pickup").await, "/pickup/everybody"), "evidence", "seen");
    submit(&farm, Role::Helper, "/pickup/everybody", &form).await.came_with(303);
    farm.submit(Role::Owner, "/pickup/unpack", &day).await.came_with(404).says("M01 has theirs already");
    assert_eq!(farm.list("packings").await.len(), 1);
}

#[tokio::test]
async fn a_day_too_far_off_gets_a_sentence() {
    let (farm, ..) = farm().await;
    farm.visit(Role::Owner, "/pickup/pack?day=2027-05-14").await.came_with(404).says("too far off to be packed");
    farm.visit(Role::Owner, "/pickup/pack?day=soon").await.came_with(404).says("soon");
    farm.visit(Role::Owner, "/pickup/list?day=2026-05-13").await.came_with(404).says("is not packed yet");
}
