//! What a household writes down at the fridge by itself: weighed as any hand-out is, and kept under its number.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::{
    farm::{Farm, Page, kind_of},
    mornings::fill,
    own::{come_in, give},
};
use axum::http::Method;
use tallypail::{
    trade::records::Record,
    web::{secret, visitor::Role},
};

/// The lots of the farm under test: two that can go and one whose chill nobody read.
struct Lots {
    old: String,
    new: String,
    unread: String,
}

/// Tansyditch Farm on a Thursday at noon: M01 comes today, M02 comes on Saturdays, M03 left in March.
async fn farm() -> (Farm, Lots) {
    let farm = Farm::new().await;
    let lots = Lots {
        old: fill(&farm, "2026-05-12", "7", true).await,
        new: fill(&farm, "2026-05-13", "9", true).await,
        unread: fill(&farm, "2026-05-14", "8", false).await,
    };
    for (label, name, jars, day, until) in [
        ("M01", "Ashgrove", "2", "Thursday", ""),
        ("M02", "Brindlecombe", "3", "Saturday", ""),
        ("M03", "Corrivane", "1", "Thursday", "2026-03-31"),
    ] {
        let person = [("label", label), ("name", name), ("sort", "member"), ("channel", "herdshare"), ("pickup_day", day)];
        farm.keep("people", &[&person[..], &[("since", "2026-01-02"), ("until", until)]].concat()).await;
        farm.promise(label, jars, "herdshare").await;
        give(&farm, label).await;
    }
    (farm, lots)
}

/// A phone of a household that came in.
pub struct Phone<'a> {
    farm: &'a Farm,
    cookie: String,
}

impl<'a> Phone<'a> {
    pub async fn of(farm: &'a Farm, label: &str) -> Phone<'a> {
        Phone { farm, cookie: come_in(farm, label).await }
    }

    pub async fn page(&self) -> Page {
        self.farm.ask(Method::GET, "/own/page", &self.cookie, None).await
    }

    /// Sends what was taken, sealed, with a mark of its own unless it brings one.
    pub async fn took(&self, fields: &[(&str, &str)]) -> Page {
        let (seal, entry) = (self.page().await.hidden("seal"), secret::entry());
        let mut all = fields.to_vec();
        for (name, value) in [("seal", seal.as_str()), ("entry", entry.as_str())] {
            if !fields.iter().any(|(own, _)| *own == name) {
                all.push((name, value));
            }
        }
        self.farm.ask(Method::POST, "/own/took", &self.cookie, Some(&all)).await
    }
}

fn cell(record: &Record, column: &str) -> String {
    record.cell(kind_of("pickups"), column).text().to_owned()
}

fn halves(record: &Record) -> i64 {
    kind_of("pickups").jars(&record.cells).half_gallons
}

fn person(record: &Record) -> Option<i64> {
    record.cell(kind_of("pickups"), "person").whole()
}

fn of(lot: &str) -> String {
    format!("jars.{lot}")
}

/// Packs today for M01: so many half-gallons of each lot.
async fn pack(farm: &Farm, figures: [&str; 4], lots: &[(&str, &str)]) {
    let [promised, fair, carried, jars] = figures;
    farm.keep("packings", &[("day", "2026-05-14"), ("at", "2026-05-14T07:30"), ("method", "pro rata"), ("ready", "5")]).await;
    let portion =
        [("packing", "2026-05-14"), ("person", "M01"), ("promised", promised), ("fair", fair), ("carried", carried), ("jars", jars)];
    farm.keep("portions", &portion).await;
    for (lot, jars) in lots {
        farm.keep("crates", &[("packing", "2026-05-14"), ("person", "M01"), ("lot", lot), ("half_gallons", jars)]).await;
    }
}

#[tokio::test]
async fn i_took_these_keeps_what_was_promised_under_their_number() {
    let (farm, lots) = farm().await;
    let phone = Phone::of(&farm, "m1").await;
    let page = phone.page().await;
    page.came_with(200).says("<h1>M01</h1>").says("I took these").says(&format!("name=\"{}\" value=\"2\"", of(&lots.old)));
    page.says("2 half-gallons promised. Nothing is packed yet").never_says("Ashgrove");
    let sent = phone.took(&[(&of(&lots.old), "2")]).await;
    assert_eq!((sent.status, sent.location.as_str()), (303, "/own/page"), "{}", sent.text);
    let kept = farm.list("pickups").await;
    assert_eq!(kept.len(), 1);
    let words = ["evidence", "taken_by", "verdict", "marked"].map(|column| cell(&kept[0], column));
    assert_eq!(words, ["signed", "their own page", "Can go", ""]);
    assert_eq!((kept[0].source.as_str(), kept[0].who.as_str(), halves(&kept[0]), person(&kept[0])), ("fridge page", "M01", 2, Some(1)));
    let page = phone.page().await;
    page.says("Written down for M01 today").says(&format!("2 half-gallons of {}, at 12:00", lots.old)).never_says("I took these");
    page.never_says("Undo").says("What you took last").says("Next pickup day").says("Thu 21 May 2026");
    farm.visit(Role::Owner, "/pickup").await.says("taken by their own page");
}

#[tokio::test]
async fn the_same_form_twice_keeps_one_and_another_is_asked_about() {
    let (farm, lots) = farm().await;
    let phone = Phone::of(&farm, "M01").await;
    let entry = ("entry", "5f0c3a53-0d0e-4a83-9d2c-6f0ce4a7c0a1");
    for _ in 0..2 {
        phone.took(&[(&of(&lots.old), "1"), (&of(&lots.new), "1"), entry]).await.came_with(303);
    }
    assert_eq!(farm.list("pickups").await.len(), 2, "two lots of one form, each once");
    let more = phone.took(&[(&of(&lots.old), "1")]).await;
    more.came_with(422).says("M01 already has 1 half-gallon of").says("Is this another?").never_says("Ashgrove");
    more.says("name=\"sure\" value=\"person M01\"").says(&format!("name=\"{}\" value=\"1\"", of(&lots.old)));
    phone.took(&[(&of(&lots.old), "1"), ("sure", "person M01")]).await.came_with(303);
    assert_eq!(farm.list("pickups").await.len(), 3);
}

#[tokio::test]
async fn a_crate_is_shown_with_its_lots_and_its_sum_and_taken_at_once() {
    let (farm, lots) = farm().await;
    pack(&farm, ["2", "1.7", "0.5", "2"], &[(&lots.old, "1"), (&lots.new, "1")]).await;
    let phone = Phone::of(&farm, "M01").await;
    let page = phone.page().await;
    page.says("Packed for you").says("Promised 2; of what there was, 1.7 is your part, and 0.5 was still owed to you");
    page.says(&format!("name=\"{}\" value=\"1\"", of(&lots.old))).says(&format!("name=\"{}\" value=\"1\"", of(&lots.new)));
    phone.took(&[(&of(&lots.old), "1"), (&of(&lots.new), "1")]).await.came_with(303);
    assert_eq!(farm.list("pickups").await.iter().map(halves).collect::<Vec<_>>(), [1, 1]);
}

#[tokio::test]
async fn a_held_lot_in_the_crate_is_refused_out_loud_and_the_right_one_named() {
    let (farm, lots) = farm().await;
    pack(&farm, ["2", "2", "0", "2"], &[(&lots.new, "2")]).await;
    let phone = Phone::of(&farm, "M01").await;
    let before = phone.page().await;
    before.says(&format!("name=\"{}\" value=\"2\"", of(&lots.new)));
    farm.keep("holds", &[("at", "2026-05-14T11:50"), ("scope", "lot"), ("lot", &lots.new), ("reason", "M02 says it smells")]).await;
    // The page that was open since before the hold.
    let sent = phone.took(&[(&of(&lots.new), "2")]).await;
    sent.came_with(422).says("<p class=\"word\">Keep back</p>").says(&format!("Take <span class=\"lot\">{}</span> instead.", lots.old));
    sent.never_says("M02").never_says("smells");
    assert!(farm.list("pickups").await.is_empty());
    // The page as it is now.
    let page = phone.page().await;
    page.says("<p class=\"word\">Keep back</p>").says(&format!("Take 2 half-gallons of {} instead.", lots.old)).says("555-0100");
    page.says(&format!("name=\"{}\" value=\"2\"", of(&lots.old)));
    let swapped = phone.took(&[(&of(&lots.new), "2"), ("swap", &format!("{}>{}", lots.new, lots.old))]).await;
    swapped.came_with(303);
    let kept = farm.list("pickups").await;
    assert_eq!((kept.len(), cell(&kept[0], "verdict").as_str(), halves(&kept[0])), (1, "Can go", 2));
    // What they have already is recorded, and they are told to call.
    let already = [(&*of(&lots.new), "1"), ("already", lots.new.as_str()), ("sure", "person M01")];
    phone.took(&already).await.came_with(303);
    let kept = farm.list("pickups").await;
    assert_eq!((cell(&kept[1], "verdict").as_str(), cell(&kept[1], "marked").as_str()), ("Keep back", "handed out while Keep back"));
    phone.page().await.says("If you still have some, leave it closed and call the farm.").says("href=\"tel:555-0100\"");
}

/// Source: the farm's own rule, missing is never “can go”.
#[tokio::test]
async fn what_nobody_can_tell_is_not_on_their_shelf() {
    let (farm, lots) = farm().await;
    let phone = Phone::of(&farm, "M01").await;
    phone.page().await.never_says(&lots.unread);
    let sent = phone.took(&[(&of(&lots.unread), "1")]).await;
    sent.came_with(422).says("<p class=\"word\">Can&#39;t tell</p>").says(&lots.old);
    assert!(farm.list("pickups").await.is_empty());
}

#[tokio::test]
async fn more_than_are_on_hand_is_refused_when_planned_and_marked_when_it_happened() {
    let (farm, lots) = farm().await;
    let phone = Phone::of(&farm, "M01").await;
    let sent = phone.took(&[(&of(&lots.old), "8")]).await;
    sent.came_with(422).says(&format!("By the book 7 half-gallons are left of {}, and this is 8 half-gallons.", lots.old));
    sent.says("I already took it").says(&format!("Take <span class=\"lot\">{}</span> instead.", lots.new));
    assert!(farm.list("pickups").await.is_empty());
    phone.took(&[(&of(&lots.old), "8"), ("already", &lots.old)]).await.came_with(303);
    assert_eq!(cell(&farm.list("pickups").await[0], "marked"), "more than were on hand");
}

#[tokio::test]
async fn nothing_is_half_kept_and_everything_wrong_is_told() {
    let (farm, lots) = farm().await;
    let phone = Phone::of(&farm, "M01").await;
    phone.took(&[]).await.came_with(422).says("Not one is written yet");
    phone.took(&[(&of(&lots.old), "2"), (&of(&lots.new), "many")]).await.came_with(422).says(&lots.new).says("value=\"many\"");
    phone.took(&[(&of(&lots.old), "2"), (&of(&lots.new), "99")]).await.came_with(422).says("are left of");
    phone.took(&[(&of(&lots.old), "1"), ("empties", "2")]).await.came_with(422).says("no more than 1 can be without an empty");
    phone.took(&[(&of(&lots.old), "1"), ("empties", "some")]).await.came_with(422).says("Write a number, like 2");
    phone.took(&[(&of("6999A-X"), "1")]).await.came_with(422);
    phone.took(&[(&of(&lots.old), "1"), ("at", "yesterday")]).await.came_with(422).says("yesterday");
    phone.took(&[(&of(&lots.old), "1"), ("entry", "no mark")]).await.came_with(422).says("lost its mark");
    assert!(farm.list("pickups").await.is_empty() && farm.list("empties").await.is_empty());
}

#[tokio::test]
async fn empties_that_were_not_left_are_owed() {
    let (farm, lots) = farm().await;
    let phone = Phone::of(&farm, "M01").await;
    phone.page().await.says("<dt>Empty jars you owe</dt><dd>none</dd>");
    let entry = ("entry", "5f0c3a53-0d0e-4a83-9d2c-6f0ce4a7c0a1");
    for _ in 0..2 {
        phone.took(&[(&of(&lots.old), "2"), ("empties", "2"), entry]).await.came_with(303);
    }
    let kind = kind_of("empties");
    let kept = farm.list("empties").await;
    assert_eq!(kept.len(), 1, "sent twice it is kept once");
    assert_eq!((kept[0].cell(kind, "sort").text(), kind.jars(&kept[0].cells).half_gallons), ("not brought back", 2));
    assert_eq!((kept[0].who.as_str(), kept[0].source.as_str()), ("M01", "fridge page"));
    phone.page().await.says("<dt>Empty jars you owe</dt><dd>2 half-gallons</dd>");
}

#[tokio::test]
async fn a_stand_in_is_ticked_and_nobody_else_is_named() {
    let (farm, lots) = farm().await;
    farm.keep("collectors", &[("person", "M01"), ("name", "Jory next door"), ("reach", "555-0185"), ("since", "2026-02-01")]).await;
    farm.keep("collectors", &[("person", "M01"), ("name", "Old Hand"), ("since", "2026-02-01"), ("until", "2026-04-01")]).await;
    farm.keep("collectors", &[("person", "M02"), ("name", "Grandmother"), ("since", "2026-02-01")]).await;
    let phone = Phone::of(&farm, "M01").await;
    phone.page().await.says("Jory next door").never_says("Old Hand").never_says("Grandmother").never_says("555-0185");
    phone.took(&[(&of(&lots.old), "1"), ("taken_by", "Grandmother")]).await.came_with(422).says("Nobody of that name fetches for you");
    phone.took(&[(&of(&lots.old), "1"), ("taken_by", "Jory next door")]).await.came_with(303);
    let kept = farm.list("pickups").await;
    assert_eq!((kept.len(), cell(&kept[0], "taken_by").as_str()), (1, "Jory next door"));
}

#[tokio::test]
async fn whoever_left_or_is_paused_is_told_and_writes_down_what_happened() {
    let (farm, lots) = farm().await;
    farm.keep("pauses", &[("person", "M01"), ("since", "2026-05-10"), ("until", "2026-05-20")]).await;
    let jars = of(&lots.old);
    for (label, told, asks, number) in [
        ("M01", "You are paused until Wed 20 May 2026.", "M01 is paused until Wed 20 May 2026. Is it so all the same?", 1),
        ("M03", "You left the farm&#39;s list on Tue 31 Mar 2026.", "M03 left on Tue 31 Mar 2026.", 3),
    ] {
        let phone = Phone::of(&farm, label).await;
        phone.page().await.came_with(200).says(told).never_says("I took these");
        let mut form = vec![(jars.as_str(), "1")];
        let mut asked = phone.took(&form).await;
        if label == "M03" {
            // Nothing is promised to whoever left; what their way asks of a household is asked of them too.
            if asked.text.contains("Not written down.") {
                form.push(("already", label));
                asked = phone.took(&form).await;
            }
        }
        asked.came_with(422).says(asks).never_says("Corrivane").never_says("Ashgrove");
        let sure = format!("person {label}");
        form.push(("sure", &sure));
        phone.took(&form).await.came_with(303);
        assert_eq!(person(farm.list("pickups").await.last().unwrap()), Some(number));
    }
    let phone = Phone::of(&farm, "M01").await;
    phone.page().await.says("<dt>Paused until</dt><dd>Wed 20 May 2026</dd>").says("<dt>Next pickup day</dt><dd>Thu 21 May 2026</dd>");
}

/// Source: the farm's own rule, a share is nobody's before it was bought and its boarding agreed.
#[tokio::test]
async fn who_lacks_a_paper_is_told_and_what_happened_is_marked() {
    let (farm, lots) = farm().await;
    let person = [
        ("label", "M04"),
        ("name", "Dunmore"),
        ("sort", "member"),
        ("channel", "herdshare"),
        ("pickup_day", "Thursday"),
        ("since", "2026-01-02"),
    ];
    farm.keep("people", &person).await;
    farm.keep("shares", &[("person", "M04"), ("part", "1"), ("half_gallons", "2"), ("channel", "herdshare"), ("since", "2026-01-02")])
        .await;
    give(&farm, "M04").await;
    let phone = Phone::of(&farm, "M04").await;
    phone.page().await.says("Before you can have milk:").says("boarding agreement").never_says("I took these");
    let form = [(&*of(&lots.old), "1")];
    phone.took(&form).await.came_with(422).says("Not written down.").says("I already took it").never_says("Dunmore");
    assert!(farm.list("pickups").await.is_empty());
    phone.took(&[&form[..], &[("already", "M04")]].concat()).await.came_with(303);
    assert!(cell(&farm.list("pickups").await[0], "marked").contains("boarding agreement"));
}

#[tokio::test]
async fn whose_day_it_is_not_may_write_down_what_they_took() {
    let (farm, lots) = farm().await;
    let phone = Phone::of(&farm, "M02").await;
    phone.page().await.says("Nothing is promised to you today.").says("Sat 16 May 2026").never_says("I took these");
    phone.took(&[(&of(&lots.old), "1")]).await.came_with(303);
    let past = phone.took(&[(&of(&lots.new), "1"), ("at", "2026-05-13T18:00")]).await;
    past.came_with(303);
    assert_eq!(farm.list("pickups").await.len(), 2);
}

#[tokio::test]
async fn two_phones_of_one_household_keep_one_crate() {
    let (farm, lots) = farm().await;
    let (one, other) = (Phone::of(&farm, "M01").await, Phone::of(&farm, "M01").await);
    let jars = of(&lots.old);
    let form = [(jars.as_str(), "2")];
    let (one, other) = tokio::join!(one.took(&form), other.took(&form));
    let mut statuses = [one.status, other.status];
    statuses.sort_unstable();
    assert_eq!(statuses, [303, 422], "the second is asked: {}", other.text);
    assert_eq!(farm.list("pickups").await.len(), 1);
}

#[tokio::test]
async fn the_last_jars_go_to_one_of_two_households() {
    let (farm, lots) = farm().await;
    let (one, other) = (Phone::of(&farm, "M01").await, Phone::of(&farm, "M02").await);
    let jars = of(&lots.old);
    let form = [(jars.as_str(), "5")];
    let (one, other) = tokio::join!(one.took(&form), other.took(&form));
    let mut statuses = [one.status, other.status];
    statuses.sort_unstable();
    assert_eq!((statuses, farm.list("pickups").await.len()), ([303, 422], 1));
}

/// Source: OWASP Authorization Cheat Sheet, insecure direct object references: whose record it is comes from the visit.
#[tokio::test]
async fn no_form_and_no_address_reaches_another_household() {
    let (farm, lots) = farm().await;
    let phone = Phone::of(&farm, "M01").await;
    let other = Phone::of(&farm, "M02").await.page().await.hidden("seal");
    for seal in ["", "guessed", other.as_str()] {
        phone.took(&[(&of(&lots.old), "1"), ("seal", seal)]).await.came_with(403).says("Come in again");
    }
    farm.ask(Method::POST, "/own/took", &phone.cookie, Some(&[(&of(&lots.old), "1")])).await.came_with(403);
    assert!(farm.list("pickups").await.is_empty());
    let names = ["person", "label", "member", "household", "number", "who"];
    for name in names {
        let page = farm.ask(Method::GET, &format!("/own/page?{name}=M02"), &phone.cookie, None).await;
        page.came_with(200).says("<h1>M01</h1>").never_says("M02");
    }
    let mut form: Vec<(&str, &str)> = names.iter().map(|name| (*name, "M02")).collect();
    let jars = of(&lots.old);
    form.extend([(jars.as_str(), "1"), ("empties", "1"), ("sure", "person M02"), ("instead", "person=M02")]);
    phone.took(&form).await.came_with(303);
    let (pickups, empties) = (farm.list("pickups").await, farm.list("empties").await);
    assert_eq!((pickups.len(), person(&pickups[0]), pickups[0].who.as_str()), (1, Some(1), "M01"));
    assert_eq!(empties[0].cell(kind_of("empties"), "person").whole(), Some(1));
    for path in ["/own/M02", "/own/page/M02", "/own/page/2"] {
        farm.ask(Method::GET, path, &phone.cookie, None).await.came_with(404);
    }
}

#[tokio::test]
async fn when_all_milk_is_stopped_nobody_is_told_to_take_any() {
    let (farm, lots) = farm().await;
    farm.keep("holds", &[("at", "2026-05-14T11:50"), ("scope", "everything"), ("reason", "Waiting for the lab")]).await;
    let phone = Phone::of(&farm, "M01").await;
    phone.page().await.says("All milk is stopped").says("555-0100").never_says("I took these").never_says("Waiting for the lab");
    phone.took(&[(&of(&lots.old), "1")]).await.came_with(422).says("Keep back");
    assert!(farm.list("pickups").await.is_empty());
}
