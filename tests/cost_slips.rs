//! Slips on the forms of a cost: what cannot be is refused beside its field, what looks odd is asked about and can be kept.

use crate::{
    costbooks::{day, june},
    farm::{Farm, Page},
};
use std::sync::Arc;
use tallypail::{store::costs, trade::when::Zone, web::visitor::Role::Owner};

async fn send(farm: &Farm, kind: &str, fields: &[(&str, &str)]) -> Page {
    farm.submit(Owner, &format!("/records/{kind}"), fields).await
}

/// These fields with some of them changed.
fn but<'a>(fields: &[(&'a str, &'a str)], changed: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    fields.iter().copied().filter(|(name, _)| !changed.iter().any(|(own, _)| own == name)).chain(changed.iter().copied()).collect()
}

/// What is refused says so beside its field and cannot be answered away.
#[track_caller]
fn refused(page: &Page, field: &str, sentence: &str) {
    page.came_with(422).says(sentence);
    let beside =
        page.text.split(&format!("id=\"f-{field}-remark\"")).nth(1).unwrap_or_else(|| panic!("nothing beside {field}:\n{}", page.text));
    assert!(beside.split("</div>").next().unwrap().contains(sentence), "{beside}");
    page.never_says(&format!("name=\"sure\" value=\"{field}\">It is right"));
}

/// What is asked about is kept as soon as it is answered.
async fn asked(farm: &Farm, kind: &str, fields: &[(&str, &str)], field: &str, sentence: &str) {
    let page = send(farm, kind, fields).await;
    page.came_with(422).says(sentence).says(&format!("name=\"sure\" value=\"{field}\">It is right"));
    let before = farm.list(kind).await.len();
    send(farm, kind, &but(fields, &[("sure", field)])).await.came_with(303);
    assert_eq!(farm.list(kind).await.len(), before + 1);
}

async fn with_hay() -> Farm {
    let farm = Farm::new().await;
    let store = [
        ("name", "Hay"),
        ("sort", "feed"),
        ("since", "2026-01-01"),
        ("counted_in", "lb"),
        ("packs", "bale = 45"),
        ("used_by", "as written"),
        ("milk_share", "100"),
    ];
    farm.keep("stores", &store).await;
    farm
}

/// Common practice: ten bales at 8.00 are 0.1778 a pound; a point one place off is ten times that, or a tenth.
#[tokio::test]
async fn a_point_in_the_wrong_place_is_asked_about() {
    let farm = with_hay().await;
    farm.keep("tickets", &TICKET).await;
    let says = "and the last ticket of Hay came to 0.1778. Is a point in the wrong place?";
    asked(&farm, "tickets", &but(&TICKET, &[("amount", "800.00"), ("paid", "2026-05-03")]), "amount", says).await;
    farm.keep("tickets", &but(&TICKET, &[("amount", "100.00"), ("paid", "2026-05-04"), ("sure", "amount")])).await;
    asked(&farm, "tickets", &but(&TICKET, &[("quantity", "100"), ("paid", "2026-05-05")]), "amount", "Is a point in the wrong place?")
        .await;
    let feeding = [
        ("store", "Hay"),
        ("since", "2026-05-06"),
        ("amount", "2"),
        ("unit", "bale"),
        ("each", "a day"),
        ("guess", "yes"),
        ("until", "2026-05-07"),
    ];
    farm.keep("feedings", &feeding).await;
    let more = but(&feeding, &[("amount", "20"), ("since", "2026-05-08"), ("until", "2026-05-08")]);
    asked(&farm, "feedings", &more, "amount", "Before it was 2 bale a day. Is this so much more or less, or a slip?").await;
}

const TICKET: [(&str, &str); 9] = [
    ("paid", "2026-05-02"),
    ("sort", "feed"),
    ("what", "Hay"),
    ("amount", "80.00"),
    ("quantity", "10"),
    ("unit", "bale"),
    ("store", "Hay"),
    ("milk_share", "100"),
    ("guess", "no"),
];

#[tokio::test]
async fn a_ticket_of_a_store_says_how_much_came() {
    let farm = with_hay().await;
    refused(&send(&farm, "tickets", &but(&TICKET, &[("quantity", "")])).await, "quantity", "Write how much came into the store of Hay");
    let round = send(&farm, "tickets", &but(&TICKET, &[("unit", "round bales")])).await;
    refused(&round, "unit", "A round bale has no weight yet. Name it on the store, like round bale = 45");
    refused(&send(&farm, "tickets", &but(&TICKET, &[("unit", "")])).await, "unit", "Write the unit: lb");
    refused(&send(&farm, "tickets", &but(&TICKET, &[("quantity", "-10")])).await, "quantity", "cannot be below nothing");
    // Money back without hay going back needs no quantity; that it is below nothing is asked about.
    asked(&farm, "tickets", &but(&TICKET, &[("amount", "-5"), ("quantity", ""), ("unit", "")]), "amount", "Money back?").await;
    asked(&farm, "tickets", &but(&TICKET, &[("sort", "bedding")]), "store", "The store of Hay is of feed, and this is bedding").await;
    asked(&farm, "tickets", &but(&TICKET, &[("paid", "2025-12-31")]), "paid", "first day, Thu 1 Jan 2026").await;
    send(&farm, "tickets", &TICKET).await.came_with(303);
    refused(
        &send(&farm, "tickets", &but(&TICKET, &[("covers_from", "2026-05-02"), ("covers_to", "2026-04-02")])).await,
        "covers_to",
        "This is before Sat 2 May 2026",
    );
    send(&farm, "tickets", &but(&TICKET, &[("store", ""), ("quantity", ""), ("covers_to", "2027-01-31")])).await.came_with(303);
}

/// Worked by hand: 10 bales of 45 lb are 450 lb; 30 lb a day from 1 to 14 May are 420, and 150 lb more are 120 too many.
#[tokio::test]
async fn feeding_more_than_there_is_is_asked_about() {
    let farm = with_hay().await;
    farm.keep("tickets", &but(&TICKET, &[("paid", "2026-05-01")])).await;
    let fed = [("store", "Hay"), ("since", "2026-05-01"), ("amount", "30"), ("unit", "lb"), ("each", "a day"), ("guess", "no")];
    send(&farm, "feedings", &fed).await.came_with(303);
    let more = but(&fed, &[("since", "2026-05-14"), ("amount", "150"), ("each", "in all"), ("cow", "Wren")]);
    asked(&farm, "feedings", &more, "amount", "120 lb more of Hay than the tickets brought in: is a ticket missing?").await;
    refused(&send(&farm, "feedings", &but(&fed, &[("unit", "flakes")])).await, "unit", "A flake has no weight yet");
    refused(&send(&farm, "feedings", &but(&fed, &[("amount", "-2")])).await, "amount", "cannot be below nothing");
    refused(&send(&farm, "feedings", &but(&fed, &[("until", "2026-04-30")])).await, "until", "This is before Fri 1 May 2026");
    let counted = [("store", "Hay"), ("day", "2026-05-13"), ("amount", "3"), ("unit", "wedges")];
    refused(&send(&farm, "store_counts", &counted).await, "unit", "A wedge has no weight yet");
}

#[tokio::test]
async fn a_day_has_twenty_four_hours() {
    let farm = Farm::new().await;
    let spent = [("day", "2026-05-13"), ("job", "milking"), ("person", "Mina"), ("minutes", "600"), ("guess", "no")];
    send(&farm, "minutes", &spent).await.came_with(303);
    asked(
        &farm,
        "minutes",
        &but(&spent, &[("job", "feeding"), ("minutes", "420")]),
        "minutes",
        "That makes 17 hours for Mina on Wed 13 May 2026",
    )
    .await;
    let over = but(&spent, &[("job", "records"), ("minutes", "421")]);
    refused(&send(&farm, "minutes", &over).await, "minutes", "That makes 24 hours for Mina");
    send(&farm, "minutes", &but(&over, &[("person", "Tobe")])).await.came_with(303);
    // Over the week, 17 hours are written already: 168 in all.
    let week = but(&spent, &[("over", "the week"), ("minutes", "9061")]);
    refused(&send(&farm, "minutes", &week).await, "minutes", "a week has 168");
    send(&farm, "minutes", &but(&week, &[("minutes", "9060")])).await.came_with(303);
    // Its own minutes are not counted twice when a record is corrected: with them the day would have more than 26 hours.
    let correct = but(&spent, &[("version", "1"), ("why", "looked at the clock"), ("minutes", "590"), ("sure", "minutes")]);
    farm.submit(Owner, "/records/minutes/1", &correct).await.came_with(303);
}

#[tokio::test]
async fn gear_that_left_says_when() {
    let farm = Farm::new().await;
    let churn = [
        ("name", "Churn"),
        ("sort", "gear"),
        ("bought", "2024-05-01"),
        ("price", "800"),
        ("salvage", "100"),
        ("life_years", "10"),
        ("milk_share", "100"),
    ];
    refused(&send(&farm, "gear", &but(&churn, &[("life_years", "0")])).await, "life_years", "A life of 0 years cannot be right");
    refused(&send(&farm, "gear", &but(&churn, &[("salvage", "900")])).await, "salvage", "cannot be worth more at the end");
    refused(&send(&farm, "gear", &but(&churn, &[("left_by", "sold")])).await, "gone", "Write the day it left");
    refused(&send(&farm, "gear", &but(&churn, &[("brought", "50")])).await, "gone", "Write the day it left");
    let gone = but(&churn, &[("left_by", "sold"), ("brought", "-50"), ("gone", "2026-05-01")]);
    refused(&send(&farm, "gear", &gone).await, "brought", "cannot be below nothing");
    send(&farm, "gear", &but(&gone, &[("brought", "50")])).await.came_with(303);
}

#[tokio::test]
async fn an_appliance_says_what_stands_on_its_plate() {
    let farm = Farm::new().await;
    for (sort, needed) in [
        ("motor", &["kilowatts", "minutes"][..]),
        ("heats water", &["gallons", "starts_at", "ends_at", "efficiency"]),
        ("chills milk", &["starts_at", "ends_at", "times"]),
        ("so much a year", &["kilowatt_hours"]),
    ] {
        let page = send(&farm, "appliances", &[("name", sort), ("since", "2026-01-01"), ("sort", sort)]).await;
        for field in needed {
            refused(&page, field, "Without this figure nothing can be reckoned");
        }
        assert_eq!(page.text.matches("class=\"remark\"").count(), needed.len(), "{sort}");
    }
    let motor = [("name", "Pump"), ("since", "2026-01-01"), ("sort", "motor"), ("kilowatts", "0.56"), ("minutes", "80")];
    send(&farm, "appliances", &motor).await.came_with(303);
}

#[tokio::test]
async fn a_meter_never_runs_backwards_unasked() {
    let farm = Farm::new().await;
    for (day, reading) in [("2026-03-01", "1200"), ("2026-05-01", "1500")] {
        send(&farm, "meter_readings", &[("day", day), ("reading", reading)]).await.came_with(303);
    }
    asked(
        &farm,
        "meter_readings",
        &[("day", "2026-05-10"), ("reading", "150")],
        "reading",
        "On Fri 1 May 2026 it showed 1500, so this one runs backwards",
    )
    .await;
    asked(&farm, "meter_readings", &[("day", "2026-04-01"), ("reading", "1600")], "reading", "runs backwards to it").await;
}

#[tokio::test]
async fn what_the_bank_says_is_counted_once() {
    let farm = Farm::new().await;
    let april = [("since", "2026-04-01"), ("until", "2026-04-30"), ("paid_out", "412.50")];
    send(&farm, "bank_totals", &april).await.came_with(303);
    send(&farm, "bank_totals", &but(&april, &[("since", "2026-05-01"), ("until", "2026-05-13")])).await.came_with(303);
    asked(
        &farm,
        "bank_totals",
        &but(&april, &[("since", "2026-04-30"), ("until", "2026-04-30")]),
        "since",
        "These days overlap the total of Wed 1 Apr 2026",
    )
    .await;
    refused(&send(&farm, "bank_totals", &but(&april, &[("since", "2026-05-01")])).await, "until", "This is before");
    refused(&send(&farm, "bank_totals", &but(&april, &[("until", "2026-12-31")])).await, "until", "has not come yet");
    let correct = but(&april, &[("version", "1"), ("why", "read again"), ("paid_out", "413.50"), ("sure", "since")]);
    farm.submit(Owner, "/records/bank_totals/1", &correct).await.came_with(303);
}

#[tokio::test]
async fn a_what_if_changes_what_is_there() {
    let farm = with_hay().await;
    let what_if = [
        ("name", "Dear hay"),
        ("made", "2026-05-14"),
        ("changes", "price of Hya +20 %; use of Jars = 0.06; worht of an hour = 18; Damzon dry from 2026-09-01"),
    ];
    let page = send(&farm, "what_ifs", &what_if).await;
    refused(&page, "changes", "There is no store or sort of ticket “Hya”. Did you mean Hay?");
    page.says("There is no store “Jars”").says("Did you mean worth of an hour?").says("There is no cow “Damzon”. Did you mean Damson?");
    let good = but(&what_if, &[("changes", "price of hay +20 %; price of power -5 %; milk -10 %; Damson dry from 2026-09-01")]);
    send(&farm, "what_ifs", &good).await.came_with(303);
}

/// The plan is filled in, never the observation.
#[tokio::test]
async fn a_new_ticket_is_all_for_milk_and_no_guess() {
    let farm = Farm::new().await;
    let form = farm.visit(Owner, "/records/tickets/new").await;
    form.says("name=\"guess\" value=\"no\" checked");
    for kind in ["tickets", "stores"] {
        let form = farm.visit(Owner, &format!("/records/{kind}/new")).await;
        let share = form.text.split("name=\"milk_share\"").nth(1).unwrap().split('>').next().unwrap().to_owned();
        assert!(share.contains("value=\"100\""), "{kind}: {share}");
    }
    farm.visit(Owner, "/records/minutes/new").await.says("name=\"guess\" value=\"no\" checked");
}

/// What a cost was reckoned from is not read again until somebody writes, and then nothing of it is old.
#[tokio::test]
async fn books_are_at_hand_until_something_is_written() {
    let farm = with_hay().await;
    let books = async || costs::at_hand(&farm.ledger, Zone::UTC, &[june()], &[], day("2026-06-30")).await.unwrap();
    let first = books().await;
    assert!(Arc::ptr_eq(&first, &books().await), "nothing was written between the two");
    let until = costs::at_hand(&farm.ledger, Zone::UTC, &[june()], &[], day("2026-06-29")).await.unwrap();
    assert!(!Arc::ptr_eq(&first, &until), "another last day is another question");
    farm.keep("tickets", &TICKET).await;
    let then = books().await;
    assert_eq!((first.tickets.len(), then.tickets.len()), (0, 1));
    assert_eq!(then.stocks[0].stock.left.to_string(), "450.0", "ten bales of 45 lb");
}
